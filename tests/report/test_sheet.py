"""The set-up sheet: its figures, its words, its drawing, and that each stage fits a page."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryrun.job.model import Clamp
from dryrun.outcome import Outcome
from dryrun.report.clearance import distance_to_box, least_stickout, room_to_clamps
from dryrun.report.sheet import bears, before, facts, setup_sheet, spindle, z_face
from dryrun.report.sheet_drawing import first_place
from tests.report.browser import Page, opened
from tests.report.jobs import FIXTURES, HOSTILE, hostile_job, outcome_of, small_job


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    return outcome_of(small_job(tmp_path_factory.mktemp("small")), cell=0.5)


@pytest.fixture(scope="module")
def trivet() -> Outcome:
    return outcome_of(FIXTURES / "trivet" / "job.toml", cell=0.25)


COORDINATE = st.floats(-20, 20).map(lambda v: round(v, 3))


@settings(max_examples=120, deadline=None)
@given(st.lists(COORDINATE, min_size=4, max_size=4), st.tuples(COORDINATE, COORDINATE),
       st.tuples(st.floats(0.1, 15), st.floats(0.1, 15)))  # fmt: skip
def test_distance_to_a_clamp_is_shapelys(
    ends: list[float], low: tuple[float, float], size: tuple[float, float]
) -> None:
    """The distance between a move and a clamp's outline is the one of shapely (GEOS)."""
    shapely = pytest.importorskip("shapely")
    high = (low[0] + size[0], low[1] + size[1])
    a, b = np.array([[*ends[:2], 0.0]]), np.array([[*ends[2:], 0.0]])
    found = distance_to_box(a, b, Clamp("c", low, high, 5.0))[0]
    line = shapely.LineString([ends[:2], ends[2:]])

    assert found == pytest.approx(shapely.distance(line, shapely.box(*low, *high)), abs=1e-9)


def test_least_stickout_comes_from_depth_or_clamp(small: Outcome) -> None:
    """Without a holder it is the depth and the safe height; over a clamp the clamp's height too."""
    stage, job = small.stages[0], small.job
    plain = least_stickout(job, stage)
    assert plain is not None
    assert job.machine is not None
    assert plain.least == pytest.approx(5.0 + job.machine.safe_height)

    from dryrun.job.model import Disc

    wide = replace(job, machine=replace(job.machine, holder=(Disc(20.0, 30.0),)))
    over = least_stickout(wide, stage)
    assert over is not None
    # The groove at X 8 to 10 passes within the nut's radius of the clamp, at 5 mm deep.
    assert over.least == pytest.approx(5.0 + 6.0 + job.machine.safe_height)
    assert over.clamp == "left"


def test_room_to_clamps_is_the_gap_beside_the_bit(small: Outcome) -> None:
    """The nearest the axis comes to the clamp at X 2 is X 8; less the radius of 2 leaves 4 mm."""
    room = room_to_clamps(small.job, small.stages[0])

    assert room is not None
    assert room.distance == pytest.approx(4.0)


def test_figures_of_a_stage(small: Outcome) -> None:
    """Spindle, first place, face of Z, deepest cut and floor are those of program and blank."""
    stage = small.stages[0]
    told = {name: value for name, value, _ in facts(small, stage)}

    assert spindle(stage) == ("18000 rpm", "clockwise")
    assert first_place(stage) == (8.0, 10.0)
    assert z_face(small.job) == "the blank's top"
    assert told["deepest cut"] == "5 mm"
    assert told["floor left"] == "3 mm"
    assert bears(small, stage)[0] == "Z 3 mm too low before it comes through"
    assert "0 mm before it is deeper than meant" in bears(small, stage)[1]


@pytest.mark.jit_only
def test_later_stages_keep_x_and_y_and_probe_z(trivet: Outcome) -> None:
    """Between stages X and Y stay and Z is probed again; another day begins with homing."""
    first, second = (list(before(trivet, s)) for s in trivet.stages)

    assert any("X and Y zeroed: centre-top" in line for line in first)
    assert any(line.startswith("X and Y stay as they are; Z probed again") for line in second)
    assert any("homed first" in line for line in second)


@pytest.mark.jit_only
def test_sheet_is_reproducible_and_holds_no_script(trivet: Outcome) -> None:
    """The same job gives the same sheet; it has no script, and its policy allows none."""
    sheet = setup_sheet(trivet)

    assert sheet == setup_sheet(trivet)
    assert "<script" not in sheet
    assert "script-src &#x27;none&#x27;" in sheet or "script-src 'none'" in sheet
    assert sheet.count('class="page"') == 2
    assert len(re.findall(r'type="checkbox"', sheet)) > 14


def test_hostile_words_stay_words_on_the_sheet(tmp_path: Path) -> None:
    """Title, stage and clamp of a hostile job are only text."""
    sheet = setup_sheet(outcome_of(hostile_job(tmp_path), cell=0.5))

    assert "<img src" not in sheet
    assert "<script" not in sheet
    assert HOSTILE not in sheet


def test_sheet_without_a_blank_has_no_drawing() -> None:
    """For a program alone the sheet says what is not declared and draws nothing."""
    import dryrun
    from dryrun.job.quick import quick_job

    sheet = setup_sheet(dryrun.dry_run(quick_job([b"G21 G90\nG0 X1 Y1 Z1\nG1 X5 F100\nM30\n"])))

    assert "<svg" not in sheet
    assert "not declared" in sheet


# ---------------------------------------------------------------- on paper


@pytest.fixture(scope="module")
def window() -> Iterator[Page]:
    yield from opened()


@pytest.mark.browser
@pytest.mark.jit_only
@pytest.mark.parametrize(("wide", "high"), [(8.27, 11.69), (8.5, 11.0)], ids=["A4", "Letter"])
@pytest.mark.parametrize("job", ["trivet", "coaster-inch"])
def test_a_stage_takes_one_page(
    window: Page, job: str, wide: float, high: float, tmp_path: Path
) -> None:
    """The demonstration's two stages are two pages on A4 and on Letter."""
    path = tmp_path / "sheet.html"
    path.write_text(
        setup_sheet(outcome_of(FIXTURES / job / "job.toml", cell=0.5)), encoding="utf-8"
    )
    window.complaints()
    window.requests()
    window.open(path, wait=False)

    assert len(re.findall(rb"/Type\s*/Page\b", window.pdf(wide, high))) == 2
    assert window.complaints() == []
    assert window.requests() == [path.as_uri()]
    window.size(390, 844, mobile=True)
    assert window.run("return document.documentElement.scrollWidth") <= 390


@pytest.mark.browser
@pytest.mark.jit_only
def test_no_words_of_the_drawing_overlap(window: Page, trivet: Outcome, tmp_path: Path) -> None:
    """The words of the drawing stand clear of each other and inside it."""
    path = tmp_path / "sheet.html"
    path.write_text(setup_sheet(trivet), encoding="utf-8")
    window.size(1000, 900)
    window.open(path, wait=False)
    boxes = window.run(
        """
        return [...document.querySelectorAll('svg.drawing')].map((svg) => {
          const frame = svg.getBoundingClientRect();
          return [[frame.left, frame.top, frame.right, frame.bottom],
            [...svg.querySelectorAll('text')].map((t) => {
              const b = t.getBoundingClientRect();
              return [b.left, b.top, b.right, b.bottom, t.textContent];
            })];
        });
        """
    )
    for frame, words in boxes:
        for i, one in enumerate(words):
            assert frame[0] <= one[0]
            assert one[2] <= frame[2]
            assert frame[1] <= one[1]
            assert one[3] <= frame[3]
            for other in words[i + 1 :]:
                apart = (
                    one[2] <= other[0] + 1 or other[2] <= one[0] + 1
                    or one[3] <= other[1] + 4 or other[3] <= one[1] + 4
                )  # fmt: skip
                assert apart, (one[4], other[4])
    assert math.isfinite(boxes[0][0][0])
