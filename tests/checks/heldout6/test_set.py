"""That the sixth set can be read and its mistakes made; nothing is checked here."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from tests.checks.heldout5 import score
from tests.checks.heldout6.pen import Hand, Pen
from tests.checks.heldout6.sets import JOBS, MISTAKES
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


def test_the_size_of_the_set() -> None:
    assert len(JOBS) == len(SHOPS) == 20
    assert len(MISTAKES) >= 100
    assert min(Counter(m.job for m in MISTAKES).values()) >= 5


def test_shops_are_not_changed_by_mistakes() -> None:
    check_shops_unchanged(JOBS[:3], SHOPS)


def test_the_score_takes_this_set(capsys: pytest.CaptureFixture[str]) -> None:
    totals = score.main(["lid"], lambda path: [], JOBS, MISTAKES)
    assert totals["not told"] == totals["mistakes"] == sum(m.job == "lid" for m in MISTAKES)
    assert "lid: clean job: nothing above a note" in capsys.readouterr().out


def test_a_pen_writes_what_has_changed_only() -> None:
    pen = Pen((10.0, 0.0, -5.0), Hand(pad=True))
    pen.rapid("a", 20, 0, 15)
    pen.line("b", 20, 5, 0, f=600)
    pen.line("c", 30, 5, 0, f=600)
    assert [x.text for x in pen.lines] == ["G00 X10 Y0 Z20", "G01 Y5 Z5 F600", "X20"]
    assert [x.marks for x in pen.lines] == [{"a"}, {"b"}, {"c"}]


def test_a_pen_writes_arcs_by_centre_or_radius() -> None:
    for hand, words in ((Hand(), "I10 J0"), (Hand(radius=True), "R10")):
        pen = Pen((0.0, 0.0, 0.0), hand)
        pen.rapid("a", 0, 0)
        pen.arc("b", True, (10, 10), (10, 0))
        assert pen.lines[-1].text == f"G2 X10 Y10 {words}"


def test_a_pen_in_inches() -> None:
    pen = Pen((0.0, 0.0, 0.0), Hand(inch=True, tight=True))
    pen.line("a", 25.4, 12.7, -2.54, 2540)
    assert pen.lines[-1].text == "G1X1Y0.5Z-0.1F100"
