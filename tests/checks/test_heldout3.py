"""A third held-out set: nothing against clean jobs, planted mistakes told on their line."""

import math
from functools import cache

import pytest

from dryrun.finding import Finding

from .heldout3 import JOBS, MISTAKES
from .heldout3.edits import Mistake, stage
from .heldout3.later import LATER
from .heldout3.mistakes import NOT_TOLD
from .heldout3.score import findings, judge, words
from .sample import some

pytestmark = pytest.mark.jit_only


@cache
def found_in_clean(name: str) -> tuple[Finding, ...]:
    """Return what is found in a clean job."""
    return tuple(findings(JOBS[name].files) or ())


@pytest.mark.parametrize("name", some(list(JOBS), 2, every=4))
def test_nothing_is_said_against_a_clean_job(name: str) -> None:
    """A clean job of the third set has neither errors nor warnings; notes are allowed."""
    said = [f for f in found_in_clean(name) if f.level != "note"]
    assert not said, [(words(f), f.message) for f in said]


@pytest.mark.parametrize(
    "mistake",
    some([m for m in (*MISTAKES, *LATER) if m.name not in NOT_TOLD], 2, every=24),
    ids=lambda m: f"{m.job}:_{m.name}".replace(" ", "_"),
)
def test_a_planted_mistake_is_told(mistake: Mistake) -> None:
    """A planted mistake is told by its code, on its line."""
    result = judge(mistake, list(found_in_clean(mistake.job)))
    assert result.told, ("not told", result.found)
    assert result.line, ("another line", sorted(mistake.lines), result.found)


@pytest.mark.parametrize("shift", [(2, 0), (0, -2), (1.5, 2.5)])
@pytest.mark.parametrize("name", ["plaque", "inlay-plug", "walnut-tray"])
def test_shifts_of_walls_are_told_with_their_size(name: str, shift: tuple[float, float]) -> None:
    """Walls carved by a vee bit, walls of an island, walls of a large tray."""
    files = dict(JOBS[name].files)
    stage(2, "zero_shift", str([f"{v} mm" for v in (*shift, 0)]))(files)

    (told,) = [f for f in findings(files) or () if f.code == "stage-shifted"]

    assert told.value == pytest.approx(math.hypot(*shift), abs=0.5)
