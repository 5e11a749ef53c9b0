"""The kernel decorator: one everywhere, and a cache that cannot go stale."""

from __future__ import annotations

import ast
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parent.parent / "dryrun"


@pytest.mark.jit_only
def test_cache_sees_a_change_in_another_file(tmp_path: Path) -> None:
    """A helper in another file is edited, and the next run gives the new result."""
    package = tmp_path / "dryrun"
    package.mkdir()
    (package / "__init__.py").write_text("")
    shutil.copy(PACKAGE / "jit.py", package / "jit.py")
    (package / "kernels.py").write_text(
        "from dryrun.helper import better\n"
        "from dryrun.jit import kernel\n\n"
        "@kernel\ndef best(a, b):\n    return better(a, b)\n"
    )

    def answer(function: str) -> tuple[str, int]:
        (package / "helper.py").write_text(
            "from dryrun.jit import kernel\n\n"
            f"@kernel\ndef better(a, b):\n    return {function}(a, b)\n"
        )
        environment = {
            **os.environ,
            "PYTHONPATH": str(tmp_path),
            "DRYRUN_CACHE_DIR": str(tmp_path / "cache"),
            "PYTHONDONTWRITEBYTECODE": "1",
        }
        script = (
            "from dryrun.kernels import best; print(best(1.0, 2.0));"
            "print(sum(best.stats.cache_hits.values()))"
        )
        done = subprocess.run(
            [sys.executable, "-c", script],
            env=environment, cwd=tmp_path, capture_output=True, text=True, check=True, timeout=600,
        )  # fmt: skip
        value, hits = done.stdout.split()
        return value, int(hits)

    assert answer("min") == ("1.0", 0)
    assert answer("min") == ("1.0", 1)  # the cache does work
    assert answer("max") == ("2.0", 0)


@pytest.mark.jit_only
@pytest.mark.parametrize("name", ["NUMBA_CPU_NAME", "NUMBA_CPU_FEATURES"])
def test_what_is_set_for_the_processor_is_kept(name: str) -> None:
    """Wide vectors are allowed only where nobody chose a processor or its features."""
    script = (
        "import numba; before = numba.config.CPU_NAME, numba.config.CPU_FEATURES;"
        "import dryrun.jit; print(before == (numba.config.CPU_NAME, numba.config.CPU_FEATURES))"
    )
    done = subprocess.run(
        [sys.executable, "-c", script],
        env={**os.environ, name: "generic" if name.endswith("NAME") else "+sse2"},
        cwd=PACKAGE.parent, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert done.stdout.split() == ["True"]


def test_no_other_decorator() -> None:
    """Kernels use the project's decorators; numba's own appear in jit.py only."""
    for path in PACKAGE.rglob("*.py"):
        if path.name == "jit.py":
            continue
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.FunctionDef):
                names = [ast.unparse(d) for d in node.decorator_list]
                assert not [n for n in names if "njit" in n or "numba" in n], (path, node.name)
