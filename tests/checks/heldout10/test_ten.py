"""That the tenth set can be read and its mistakes made; nothing is checked here."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.checks.heldout10.sets import JOBS, MISTAKES
from tests.checks.sample import some
from tests.checks.told import (
    check_mistakes_are_made,
    check_read_without_a_fault,
    check_shops_unchanged,
)

SHOPS = {shop.key: shop for shop in (make() for make in JOBS)}


@pytest.mark.parametrize("key", SHOPS)
def test_clean_jobs_are_read_without_a_fault(key: str, tmp_path: Path) -> None:
    check_read_without_a_fault(SHOPS[key], tmp_path)


@pytest.mark.jit_only
def test_every_mistake_changes_its_job_and_names_lines_that_are_there(tmp_path: Path) -> None:
    check_mistakes_are_made(SHOPS, some(MISTAKES, 0, every=16), tmp_path)
    check_shops_unchanged(JOBS, SHOPS)
