"""The tenth held-out set: told at the right line, and nothing wrong said of the clean jobs."""

from __future__ import annotations

import pytest

from tests.checks.heldout5.core import Mistake
from tests.checks.heldout10.sets import JOBS, MISTAKES

from .sample import LONG, some
from .told import HeldOut, named

pytestmark = pytest.mark.jit_only

#: Job and name of those that are not told (see the README).
NOT_TOLD = {
    ("sign", "8 mm bit, no comment"),
    ("bowl", "X and Y swapped in a hole"),
}
SET = HeldOut(JOBS, MISTAKES, NOT_TOLD)

#: Of these, which take little time, the usual tests look at some; the long run at all.
QUICK = ("number", "sign")


@pytest.mark.parametrize("key", SET.shops if LONG else QUICK)
def test_nothing_is_said_against_a_clean_job(key: str) -> None:
    SET.check_clean(key)


@pytest.mark.parametrize(
    "mistake", some([m for m in MISTAKES if LONG or m.job in QUICK], 1, every=14), ids=named
)
def test_a_planted_mistake_is_told(mistake: Mistake) -> None:
    SET.check_told(mistake)


def test_what_is_not_told_is_in_the_set() -> None:
    SET.check_not_told_are_there()
