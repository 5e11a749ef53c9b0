"""That the sixth set can be read and its mistakes made; nothing is checked here."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

import dryrun
from tests.checks.heldout5 import score
from tests.checks.heldout5.core import Shop
from tests.checks.heldout6.pen import Hand, Pen
from tests.checks.heldout6.sets import JOBS, MISTAKES

SHOPS = {shop.key: shop for shop in (make() for make in JOBS)}


@pytest.mark.parametrize("key", SHOPS)
def test_clean_jobs_are_read_without_a_fault(key: str, tmp_path: Path) -> None:
    job = dryrun.read_job(SHOPS[key].write(tmp_path))
    for stage in job.stages:
        assert stage.program is not None
        program = dryrun.read_program(stage.program, unit=job.units)
        told = [f.message for f in program.findings if f.level != "note"]
        if not stage.offsets:  # without the job the reader cannot know where G55 lies
            assert told == []


def test_every_mistake_changes_its_job_and_names_lines_that_are_there(tmp_path: Path) -> None:
    assert len({(m.job, m.name) for m in MISTAKES}) == len(MISTAKES)
    for n, mistake in enumerate(MISTAKES):
        clean = SHOPS[mistake.job]
        made = mistake.made(clean)
        folders = [tmp_path / f"{n}-{x}" for x in "ab"]
        for folder, shop in zip(folders, (clean, made), strict=True):
            folder.mkdir()
            shop.write(folder)
        texts = [{p.name: p.read_text() for p in f.iterdir()} for f in folders]
        assert texts[0] != texts[1], mistake.name
        assert mistake.codes
        for stage, line in mistake.places(made):
            assert 1 <= line <= len(made.programs[stage - 1])
        dryrun.read_job(folders[1] / "job.toml")


def test_codes_are_in_the_catalogue() -> None:
    from dryrun.checks.catalogue import catalogue

    assert {code for m in MISTAKES for code in m.codes} <= set(catalogue())


def test_the_size_of_the_set() -> None:
    assert len(JOBS) == len(SHOPS) == 20
    assert len(MISTAKES) >= 100
    assert min(Counter(m.job for m in MISTAKES).values()) >= 5


def test_shops_are_not_changed_by_mistakes() -> None:
    fresh: dict[str, Shop] = {shop.key: shop for shop in (make() for make in JOBS[:3])}
    for key, shop in fresh.items():
        assert shop.table == SHOPS[key].table
        assert [[x.text for x in p] for p in shop.programs] == [
            [x.text for x in p] for p in SHOPS[key].programs
        ]


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
