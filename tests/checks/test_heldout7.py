"""The seventh held-out set: told at the right line, and nothing wrong said of the clean jobs."""

from __future__ import annotations

import pytest

from tests.checks.heldout5.core import Mistake
from tests.checks.heldout7.sets import JOBS, MISTAKES

from .sample import some
from .told import HeldOut, named

pytestmark = pytest.mark.jit_only

SET = HeldOut(JOBS, MISTAKES, not_told=())
CLEAN = some(list(SET.shops), 0, every=3)


@pytest.mark.parametrize("key", CLEAN)
def test_nothing_is_said_against_a_clean_job(key: str) -> None:
    SET.check_clean(key)


@pytest.mark.parametrize(
    "mistake", some([m for m in MISTAKES if m.job in CLEAN], 3, every=12), ids=named
)
def test_a_planted_mistake_is_told(mistake: Mistake) -> None:
    SET.check_told(mistake)
