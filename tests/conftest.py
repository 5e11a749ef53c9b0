"""Shared by all tests: a header that says what is being tested, and the JIT-only mark."""

import os
from collections import Counter

import pytest
from hypothesis import settings

JIT_OFF = os.environ.get("NUMBA_DISABLE_JIT") == "1"
CHECKED = os.environ.get("NUMBA_BOUNDSCHECK") == "1"
LONG = os.environ.get("DRYRUN_LONG") == "1"


#: Counting the lines of plain kernels takes as long again as running them, so here every fourth
#: case of a test is counted. What is covered is this or more.
COUNTED = 4
COUNTED_IN_PART = ("tests/checks/", "tests/removal/", "tests/gcode/test_hostile.py")
#: And of these, which ask the same of many cases, every second one runs: all of them run compiled.
HALVED = ("tests/checks/test_cases.py", "tests/removal/test_outside.py")

# The same examples on every run, so that a change is judged by what it changes. The long run draws
# new ones, and more of them.
settings.register_profile("same", derandomize=True)
settings.register_profile("long", derandomize=False)
settings.load_profile("long" if LONG else "same")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--cases",
        action="append",
        default=[],
        metavar="FILE",
        help="run tests/gcode/test_reference_cases.py over this file of cases instead of its own",
    )


def pytest_configure() -> None:
    """All ways of cutting are compiled at once, and with bounds checks nothing is left out.

    One by one, as they come to be needed, they take three times as long. The long run does that,
    and so do the processes that tests start.
    """
    if not JIT_OFF and (CHECKED or not LONG):
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
    cases: Counter[str] = Counter()
    for item in items:
        if "jit_only" in item.keywords:
            item.add_marker(skip)
            continue
        name = item.nodeid.partition("[")[0]
        if cases[name] % 2 and name.startswith(HALVED) and not LONG:
            item.add_marker(skip)
        elif cases[name] % COUNTED and name.startswith(COUNTED_IN_PART):
            item.add_marker(pytest.mark.no_cover)
        cases[name] += 1
