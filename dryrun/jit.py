"""The decorators for compiled kernels, and the rule that keeps their cache honest.

numba's on-disk cache looks only at the file a kernel stands in: when a helper in another file
changes, it goes on returning the old answer. So the cache lives in a folder whose name holds a
hash of every source file of the package; one changed byte anywhere gives a fresh folder.

`DRYRUN_CACHE_DIR` moves the cache; without a writable folder kernels compile in each process.
`NUMBA_DISABLE_JIT=1` runs the same kernels as plain Python.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, TypeVar, cast

import numba

Function = TypeVar("Function", bound=Callable[..., Any])

#: Contracting a*b+c and dividing by reciprocal keep NaN and infinity honest and give the same
#: digits on every run. `fastmath=True` would not: isnan(nan) becomes False under it.
FAST_MATH = frozenset({"contract", "arcp"})

#: Settings that change the machine code, but that numba leaves out of its own cache key.
_SETTINGS = ("NUMBA_BOUNDSCHECK", "NUMBA_OPT", "NUMBA_CPU_NAME", "NUMBA_CPU_FEATURES")

_KEEP_SECONDS = 14 * 24 * 3600.0


def kernel(function: Function) -> Function:
    """Compile a function with numba: no GIL, cached on disk under the package's own hash."""
    return _compile(function, FAST_MATH)


def exact_kernel(function: Function) -> Function:
    """Compile like `kernel`, but every operation rounded as plain Python rounds it.

    For kernels that must give the digits of their interpreted twin: no fused a*b+c, no
    reciprocals.
    """
    return _compile(function, frozenset())


def _compile(function: Function, fast_math: frozenset[str]) -> Function:
    compiled: Any = numba.njit(nogil=True, cache=False, fastmath=set(fast_math))(function)
    folder = cache_folder()
    if folder is not None and hasattr(compiled, "enable_caching"):
        config: Any = numba.config
        saved = config.CACHE_DIR
        config.CACHE_DIR = str(folder)
        try:
            compiled.enable_caching()
        finally:
            config.CACHE_DIR = saved
    return cast(Function, compiled)


@cache
def source_hash() -> str:
    """Hash of every Python source of the package, and of what compiles it."""
    root = Path(__file__).resolve().parent
    digest = hashlib.sha256()
    settings = [os.environ.get(name, "") for name in _SETTINGS]
    digest.update(repr([sys.version, numba.__version__, *settings]).encode())
    for path in sorted(root.rglob("*.py")):
        digest.update(str(path.relative_to(root)).encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


@cache
def cache_folder() -> Path | None:
    """Return the folder for compiled kernels, or None when nowhere can be written."""
    for base in _candidate_bases():
        folder = base / source_hash()
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=folder):
                pass
            os.utime(folder)
        except OSError:
            continue
        _forget_old(base, folder)
        return folder
    return None


def _candidate_bases() -> list[Path]:
    named = os.environ.get("DRYRUN_CACHE_DIR")
    if named:
        return [Path(named)]
    home = os.environ.get("XDG_CACHE_HOME")
    bases = [Path(home) if home else Path("~/.cache").expanduser()]
    return [base / "dryrun" for base in bases]


def _forget_old(base: Path, current: Path) -> None:
    """Remove caches of other versions that nobody used for two weeks."""
    now = time.time()
    for other in base.iterdir():
        if other == current or len(other.name) != 16:
            continue
        try:
            if now - other.stat().st_mtime > _KEEP_SECONDS:
                shutil.rmtree(other, ignore_errors=True)
        except OSError:
            continue
