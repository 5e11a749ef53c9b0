"""The decorators for compiled kernels, and the rule that keeps their cache honest.

numba's on-disk cache looks only at the file a kernel stands in: when a helper or a constant in
another file changes, it goes on returning the old answer. So the kernels of each file are cached
in a folder whose name is a hash of that file and of every file of the package it imports, directly
or through others; one changed byte in any of them gives a fresh folder.

`DRYRUN_CACHE_DIR` moves the cache; without a writable folder kernels compile in each process.
`NUMBA_DISABLE_JIT=1` runs the same kernels as plain Python.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, TypeVar, cast

import llvmlite.binding  # type: ignore[import-untyped]
import numba

Function = TypeVar("Function", bound=Callable[..., Any])

#: Contracting a*b+c and dividing by reciprocal keep NaN and infinity honest and give the same
#: digits on every run. `fastmath=True` would not: isnan(nan) becomes False under it.
FAST_MATH = frozenset({"contract", "arcp"})

#: Settings that change the machine code, but that numba leaves out of its own cache key.
_SETTINGS = ("NUMBA_BOUNDSCHECK", "NUMBA_OPT", "NUMBA_CPU_NAME", "NUMBA_CPU_FEATURES")

_JIT_ON = not numba.config.DISABLE_JIT  # type: ignore[attr-defined]
_ROOT = Path(__file__).resolve().parent
_IMPORT = re.compile(
    r"^[ \t]*(?:from[ \t]+(dryrun[\w.]*)[ \t]+import[ \t]+(\([^)]*\)|[^\n]*)"
    r"|import[ \t]+(dryrun[\w.]*))",
    re.MULTILINE,
)
_NAME = re.compile(r"\b[a-z_]\w*")
_KEEP_SECONDS = 14 * 24 * 3600.0

#: Processors with this slow their clock down little or not at all for vectors of 64 bytes.
_WIDE_AT_FULL_SPEED = "avx512vbmi2"


def _allow_wide_vectors() -> None:
    """Let kernels use vectors of 64 bytes where the processor has them at full speed.

    The compiler keeps to 32 bytes on all of them, for the sake of those that do not. Elementwise
    work has the same digits at any width, and sums in kernels are whole numbers or in order.
    """
    config: Any = numba.config
    if config.CPU_FEATURES is not None or config.CPU_NAME is not None:
        return
    try:
        features: Any = llvmlite.binding.get_host_cpu_features()
    except RuntimeError:  # the compiler does not know this processor
        return
    if features.get(_WIDE_AT_FULL_SPEED, False):
        config.CPU_FEATURES = features.flatten() + ",-prefer-256-bit"


if _JIT_ON:
    _allow_wide_vectors()


def kernel(function: Function) -> Function:
    """Compile a function with numba: no GIL, cached on disk under the package's own hash."""
    return _compile(function, FAST_MATH)


def exact_kernel(function: Function) -> Function:
    """Compile like `kernel`, but every operation rounded as plain Python rounds it.

    For kernels that must give the digits of their interpreted twin: no fused a*b+c, no
    reciprocals.
    """
    return _compile(function, frozenset())


def inner_kernel(function: Function) -> Function:
    """Compile like `kernel` what only other kernels call: there is no way in from Python.

    That way takes about as long to compile as a small function itself.
    """
    return _compile(function, FAST_MATH, no_cpython_wrapper=True)


def inlined_kernel(function: Function) -> Function:
    """Compile like `inner_kernel` what becomes part of each of its callers, for tight loops."""
    return _compile(function, FAST_MATH, no_cpython_wrapper=True, forceinline=True)


def _compile(
    function: Function,
    fast_math: frozenset[str],
    no_cpython_wrapper: bool = False,
    forceinline: bool = False,
) -> Function:
    # The numpy error model lets loops with a division become vector code. Kernels must not divide
    # by zero in any case: as plain Python they would raise.
    # What is not said here is taken over from the kernel for whose sake another is compiled.
    decorate: Any = cast(Any, numba.njit)(
        nogil=True, cache=False, fastmath=set(fast_math), error_model="numpy",
        no_cpython_wrapper=no_cpython_wrapper, forceinline=forceinline,
    )  # fmt: skip
    compiled: Any = decorate(function)
    folder = cache_folder(Path(function.__code__.co_filename)) if _JIT_ON else None
    if folder is not None:
        config: Any = numba.config
        saved = config.CACHE_DIR
        config.CACHE_DIR = str(folder)
        try:
            compiled.enable_caching()
        finally:
            config.CACHE_DIR = saved
        _keep_if_possible(compiled)
    return cast(Function, compiled)


def _keep_if_possible(compiled: Any) -> None:
    """Let a full or closed disk cost the cache only, not the work: the kernel is compiled."""
    cached = getattr(compiled, "_cache", None)
    save = getattr(cached, "save_overload", None)
    if cached is None or save is None:
        return

    def save_or_not(*given: Any) -> None:
        with contextlib.suppress(OSError):
            save(*given)

    cached.save_overload = save_or_not


def sources_of(path: Path) -> list[Path]:
    """Return a file and every file of the package that it imports, however indirectly, sorted."""
    seen: set[Path] = set()
    todo = [path.resolve()]
    while todo:
        current = todo.pop()
        if current in seen:
            continue
        seen.add(current)
        for found in _IMPORT.finditer(current.read_text("utf-8")):
            package, names = found.group(1) or found.group(3), found.group(2) or ""
            modules = [package, *(f"{package}.{name}" for name in _NAME.findall(names))]
            todo.extend(file for module in modules if (file := _file_of(module)) is not None)
    return sorted(seen)


def _file_of(module: str) -> Path | None:
    place = _ROOT.parent.joinpath(*module.split("."))
    for file in (place.with_suffix(".py"), place / "__init__.py"):
        if file.is_file():
            return file
    return None


@cache
def cache_folder(path: Path) -> Path | None:
    """Return the folder for the kernels of a file, or None when nowhere can be written."""
    digest = hashlib.sha256()
    settings = [os.environ.get(name, "") for name in _SETTINGS]
    digest.update(repr([sys.version, numba.__version__, *settings]).encode())
    for file in sources_of(path):
        digest.update(file.name.encode())
        digest.update(file.read_bytes())
    for base in _candidate_bases():
        folder = base / digest.hexdigest()[:16]
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=folder):
                pass
            os.utime(folder)
        except OSError:
            continue
        _forget_old(base)
        return folder
    return None


def _candidate_bases() -> list[Path]:
    named = os.environ.get("DRYRUN_CACHE_DIR")
    if named:
        return [Path(named)]
    home = os.environ.get("XDG_CACHE_HOME")
    bases = [Path(home) if home else Path("~/.cache").expanduser()]
    return [base / "dryrun" for base in bases]


@cache
def _forget_old(base: Path) -> None:
    """Remove caches that nobody used for two weeks."""
    now = time.time()
    for other in base.iterdir():
        try:
            if len(other.name) == 16 and now - other.stat().st_mtime > _KEEP_SECONDS:
                shutil.rmtree(other, ignore_errors=True)
        except OSError:
            continue
