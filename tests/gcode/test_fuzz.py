"""Whatever bytes come in, the reader answers with a program and findings, and in time."""

from __future__ import annotations

import os
import resource
import sys
import time
from collections.abc import Callable

import numpy as np
import pytest

from dryrun.finding import LEVELS
from dryrun.gcode.program import read_program

from .mutator import mutated_program, random_program

LONG = os.environ.get("DRYRUN_LONG") == "1"
SEEDS = 100_000 if LONG else 300
#: Seconds of processor time a program may take: the promise of the long run, on a machine of its
#: own. The short one, which also runs without the compiler and under coverage, finds only hangs.
SECONDS = 1.0 if LONG else 60.0
#: MiB by which reading any of them may make the process larger.
MEMORY = 256.0


def peak() -> float:
    """Return the most memory this process has had, MiB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def check(make: Callable[[int], bytes], seed: int) -> float:
    """Read one program; return the seconds it took."""
    data = make(seed)
    begin = time.process_time()
    program = read_program(data)
    seconds = time.process_time() - begin
    motion = program.motion

    assert set(np.unique(motion.kind)) <= set(range(8))
    assert not np.isinf(motion.end).any()
    assert (motion.line >= 1).all()
    for finding in program.findings:
        assert finding.level in LEVELS
        assert finding.message
    return seconds


@pytest.mark.parametrize("make", [random_program, mutated_program])
def test_no_program_makes_the_reader_fail_or_dawdle(make: Callable[[int], bytes]) -> None:
    """No exception, no infinite coordinate, no hang."""
    slowest, before = (0.0, -1), peak()
    for seed in range(SEEDS):
        try:
            slowest = max(slowest, (check(make, seed), seed))
        except Exception as error:
            raise AssertionError(f"{make.__name__}({seed}): {error!r}") from error
        if LONG and seed % 10_000 == 0:
            print(f"{make.__name__} {seed}: slowest so far {slowest}", file=sys.stderr)

    assert peak() - before < MEMORY
    assert slowest[0] < SECONDS, f"{make.__name__}({slowest[1]}) took {slowest[0]:.2f} s"


def test_seeds_always_make_the_same_program() -> None:
    """A failing seed can be run again."""
    assert random_program(11) == random_program(11)
    assert mutated_program(11) == mutated_program(11)
