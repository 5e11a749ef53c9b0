"""Processes of our own: the same Python and packages, and nothing taken from the current folder."""

from __future__ import annotations

import json
import os
import sys
from typing import Final

#: Run first in the child: the parent's places to import from, and no others.
_START: Final = (
    "import json, sys; sys.path[:] = json.loads(sys.argv.pop(1)); "
    "from importlib import import_module; "
    "module, name = sys.argv.pop(1).split(':'); getattr(import_module(module), name)()"
)


def child_command(function: str, *arguments: str) -> list[str]:
    """Return the command that calls a function without arguments in a process of its own.

    Parameters
    ----------
    function : str
        "package.module:name".
    *arguments : str
        What the child finds in `sys.argv[1:]`.

    Notes
    -----
    `python -m` and `python -c` look for modules in the current folder first, so a file
    `numpy.py` beside a program from elsewhere would be run. `-P` forbids that.
    """
    places = [place for place in sys.path if place or not _safe_path()]
    return [sys.executable, "-P", "-c", _START, json.dumps(places), function, *arguments]


def _safe_path() -> bool:
    return bool(getattr(sys.flags, "safe_path", False))


def child_environment() -> dict[str, str]:
    """Return an environment in which numeric libraries start no threads of their own."""
    one = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "NUMBA_NUM_THREADS": "1"}
    return {**os.environ, **one}
