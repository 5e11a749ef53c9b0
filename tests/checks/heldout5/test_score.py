"""The makers and the scorer, with stand-ins for dryrun's checks: nothing is checked here."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.checks.heldout5 import score
from tests.checks.heldout5.core import Mistake, Shop, word
from tests.checks.heldout5.sets import JOBS, MISTAKES
from tests.checks.told import check_mistakes_are_made, check_read_without_a_fault

SHOPS = {shop.key: shop for shop in (make() for make in JOBS)}


@pytest.mark.parametrize("key", SHOPS)
def test_clean_jobs_are_read_without_a_fault(key: str, tmp_path: Path) -> None:
    check_read_without_a_fault(SHOPS[key], tmp_path)


@pytest.mark.jit_only
def test_every_mistake_changes_its_job_and_names_lines_that_are_there(tmp_path: Path) -> None:
    check_mistakes_are_made(SHOPS, MISTAKES, tmp_path)


TRAY = SHOPS["tray"]
DEEP = Mistake("tray", "deeper", 1, word(1, "p/2/ramp2", "Z", -9), ("too-deep",), ("p/2/ramp2",))
AT = next(iter(DEEP.places(DEEP.made(TRAY))))[1]


@pytest.mark.parametrize(
    ("said", "verdict"),
    [
        ([("error", "too-deep", 1, AT)], "right line"),
        ([("error", "too-deep", 1, AT + 1)], "told"),
        ([("error", "too-deep", 2, AT)], "told"),
        ([("error", "through-cut", 1, AT)], "not told"),
        ([("error", "too-deep", 1, 3)], "not told"),  # the clean job has it, too
        ([], "not told"),
    ],
)
def test_a_mistake_is_judged(said: list[score.Said], verdict: str) -> None:
    before = [("error", "too-deep", 1, 3)]
    assert score.judge(DEEP, TRAY, before, lambda path: said).word == verdict


def test_without_lines_any_line_will_do() -> None:
    mistake = Mistake("tray", "deeper", 1, DEEP.edit, ("too-deep",))
    said: list[score.Said] = [("error", "too-deep", None, None)]
    assert score.judge(mistake, TRAY, [], lambda path: said).word == "right line"


def test_totals(capsys: pytest.CaptureFixture[str]) -> None:
    def run(path: Path) -> list[score.Said]:
        deep = "Z-9\n" in (path.parent / "p1.nc").read_text()
        said: list[score.Said] = [("warning", "rapid-low", 1, 9), ("note", "ignored-word", 1, 5)]
        return [*said, ("error", "too-deep", 1, AT)] if deep else said

    totals = score.main(["tray"], run)
    out = capsys.readouterr().out
    assert totals["clean jobs"] == 1
    assert (totals["with errors"], totals["with warnings"]) == (0, 1)
    assert totals["right line"] == 1
    assert totals["mistakes"] == sum(m.job == "tray" for m in MISTAKES)
    assert totals["not told"] == totals["mistakes"] - 1
    assert f"new: error too-deep 1:{AT}" in out
    assert "clean job: warning rapid-low 1:9" in out


def test_a_job_that_is_not_there_is_refused() -> None:
    with pytest.raises(AssertionError, match="no such job"):
        score.main(["teapot"], lambda path: [])


def test_shops_are_not_changed_by_mistakes() -> None:
    fresh: dict[str, Shop] = {shop.key: shop for shop in (make() for make in JOBS[:3])}
    for key, shop in fresh.items():
        assert shop.table == SHOPS[key].table
        assert [[x.text for x in p] for p in shop.programs] == [
            [x.text for x in p] for p in SHOPS[key].programs
        ]
