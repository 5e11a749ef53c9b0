"""The sixth held-out set: told at the right line, and nothing wrong said of the clean jobs."""

from __future__ import annotations

from functools import cache

import pytest

from tests.checks.heldout5.core import Mistake, Shop
from tests.checks.heldout5.score import Said, dryrun_run, judge, said_of
from tests.checks.heldout6.sets import JOBS, MISTAKES

from .sample import some

pytestmark = pytest.mark.jit_only

#: Job and name of those that are not told (see the README).
NOT_TOLD = {
    ("inlay", "outermost ring of the field lost"),
    ("inlay", "field forgotten, tool list of the letters says T2"),
}
SHOPS = {shop.key: shop for shop in (make() for make in JOBS)}


@cache
def said(key: str) -> list[Said]:
    """Return what is said of a clean job."""
    return said_of(SHOPS[key], dryrun_run)


@pytest.mark.parametrize("key", SHOPS)
def test_nothing_is_said_against_a_clean_job(key: str) -> None:
    """A clean job has neither errors nor warnings; notes are allowed."""
    assert [x for x in said(key) if x[0] != "note"] == []


@pytest.mark.parametrize(
    "mistake", some(MISTAKES, 2), ids=lambda m: f"{m.job}:_{m.name}".replace(" ", "_")
)
def test_a_planted_mistake_is_told(mistake: Mistake) -> None:
    """A planted mistake is told by its code, on its line; one that is known not to be, is not."""
    shop: Shop = SHOPS[mistake.job]
    verdict = judge(mistake, shop, said(mistake.job), dryrun_run)
    assert (verdict.word == "right line") == ((mistake.job, mistake.name) not in NOT_TOLD), verdict


def test_what_is_not_told_is_in_the_set() -> None:
    assert {(m.job, m.name) for m in MISTAKES} >= NOT_TOLD
