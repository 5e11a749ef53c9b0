"""The same kernels twice: as plain Python for short programs, compiled for long ones.

Loading the compiler takes longer than planning a short program, so the planner runs the
undecorated functions on those. Both forms are one text and round every operation alike, so they
give the same bits: kernels of this room use only + - * /, sqrt and comparisons, and never divide
by zero.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from types import FunctionType
from typing import Any, cast

_registered: list[FunctionType] = []


def twice(function: Callable[..., Any]) -> Callable[..., Any]:
    """Register a kernel that can also be had compiled; the function itself stays as it is.

    Kernels that it calls must be registered before it.
    """
    _registered.append(cast(FunctionType, function))
    return function


def bare(value: Any) -> Any:
    """Return the arguments of an outermost kernel as they are; compiled, see `dryrun.bare`."""
    return value


@cache
def compiled() -> dict[str, Callable[..., Any]]:
    """Return the compiled twin of every registered kernel, by name; loads numba."""
    from dryrun.bare import bare as owned_by_nobody
    from dryrun.jit import exact_kernel

    twins: dict[str, Callable[..., Any]] = {"bare": owned_by_nobody}
    for function in _registered:
        scope = {**function.__globals__, **twins}
        twin = FunctionType(function.__code__, scope, function.__name__, function.__defaults__)
        twin.__qualname__ = function.__qualname__
        twin.__module__ = function.__module__
        twins[function.__name__] = exact_kernel(twin)
    return twins


def plain() -> dict[str, Callable[..., Any]]:
    """Return every registered kernel as plain Python, by name."""
    return {function.__name__: function for function in _registered}
