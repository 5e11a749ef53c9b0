"""That the eighth set can be read and its mistakes made; nothing is checked here."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.checks.heldout8.jobs_one import inlay
from tests.checks.heldout8.scribe import Hand, Scribe
from tests.checks.heldout8.sets import JOBS, MISTAKES
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


@pytest.mark.parametrize(
    ("hand", "lines"),
    [
        (Hand(), ["G0 X5 Y-15", "G1 X15 F600", "G3 X15 Y5 I0 J10"]),
        (Hand(relative=True, radius=True), ["G0 X5 Y-15", "G91 G1 X10 F600", "G3 X0 Y20 R10"]),
        (Hand(inch=True, tight=True, places=2, step=5),
         ["N5G0X.2Y-.59", "N10G1X.59F23.6", "N15G3X.59Y.2I0J.39"]),
    ],
)  # fmt: skip
def test_a_hand_writes_in_its_own_way(hand: Hand, lines: list[str]) -> None:
    scribe = Scribe(inlay(), hand, 10, 600, 300)
    scribe.go("a", 100, 50)
    scribe.cut("b", 110, 50)
    scribe.arc("c", (110, 70), (110, 60), True)
    assert [x.text.replace("0.", ".") for x in scribe.lines] == [
        x.replace("0.", ".") for x in lines
    ]
    assert scribe.lines[1].marks == {"b.1"}
