"""That the seventh set can be read and its mistakes made; nothing is checked here."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.checks.heldout7.jobs_two import soap
from tests.checks.heldout7.pen import Habit, Pen
from tests.checks.heldout7.sets import JOBS, MISTAKES
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
    check_mistakes_are_made(SHOPS, MISTAKES, tmp_path)
    check_shops_unchanged(JOBS, SHOPS)


def test_a_pen_writes_what_its_habit_says() -> None:
    for habit, text in (
        (Habit(), "G1 X-50 Y-30 Z0 F600"),
        (Habit(padded=True, modal=False, step=10), "N10 G01 X-50.000 Y-30.000 Z0 F600.0"),
        (Habit(inch=True, tight=True), "G1X-1.969Y-1.181Z0F23.6"),
    ):
        pen = Pen(soap(), habit)
        pen.cut("a", 20, 20, 0, feed=600)
        assert pen.lines[-1].text == text
        assert pen.lines[-1].marks == {"a.1"}


def test_a_pen_writes_arcs_by_centre_or_radius() -> None:
    for habit, words in ((Habit(), "I10 J0"), (Habit(radius=True), "R10")):
        pen = Pen(soap(), habit)
        pen.over(70, 50, "a")
        pen.arc("b", -1, (80, 60), (80, 50))
        assert pen.lines[-1].text == f"G2 X10 Y10 {words}"
