"""The sixth held-out set: told at the right line, and nothing wrong said of the clean jobs."""

from __future__ import annotations

import pytest

from tests.checks.heldout5.core import Mistake
from tests.checks.heldout6.sets import JOBS, MISTAKES

from .sample import some
from .told import HeldOut, named

pytestmark = pytest.mark.jit_only

#: Job and name of those that are not told (see the README).
NOT_TOLD = {
    ("inlay", "field forgotten, tool list of the letters says T2"),
}
SET = HeldOut(JOBS, MISTAKES, NOT_TOLD)
CLEAN = some(list(SET.shops), 1, every=3)


@pytest.mark.parametrize("key", CLEAN)
def test_nothing_is_said_against_a_clean_job(key: str) -> None:
    SET.check_clean(key)


@pytest.mark.parametrize(
    "mistake", some([m for m in MISTAKES if m.job in CLEAN], 2, every=12), ids=named
)
def test_a_planted_mistake_is_told(mistake: Mistake) -> None:
    SET.check_told(mistake)


def test_what_is_not_told_is_in_the_set() -> None:
    SET.check_not_told_are_there()
