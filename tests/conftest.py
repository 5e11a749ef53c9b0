"""Shared by all tests: a header that says what is being tested, and the JIT-only mark."""

import os

import pytest
from hypothesis import settings

JIT_OFF = os.environ.get("NUMBA_DISABLE_JIT") == "1"
CHECKED = os.environ.get("NUMBA_BOUNDSCHECK") == "1"


# The same examples on every run, so that a change is judged by what it changes. The long run draws
# new ones, and more of them.
settings.register_profile("same", derandomize=True)
settings.register_profile("long", derandomize=False)
settings.load_profile("long" if os.environ.get("DRYRUN_LONG") == "1" else "same")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--cases",
        action="append",
        default=[],
        metavar="FILE",
        help="run tests/gcode/test_reference_cases.py over this file of cases instead of its own",
    )


def pytest_configure() -> None:
    """With bounds checks all ways of cutting are compiled at once, and nothing is left out."""
    if CHECKED and not JIT_OFF:
        from dryrun.removal import share

        share.loaded.append((True, True, True, True))


def pytest_report_header() -> str:
    import llvmlite
    import numba
    import numpy

    jit = "off" if JIT_OFF else "on"
    bounds = "on" if CHECKED else "off"
    return (
        f"numpy {numpy.__version__}, numba {numba.__version__}, llvmlite {llvmlite.__version__}, "
        f"JIT {jit}, bounds check {bounds}"
    )


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    if not JIT_OFF:
        return
    skip = pytest.mark.skip(reason="too slow without the compiler")
    for item in items:
        if "jit_only" in item.keywords:
            item.add_marker(skip)
