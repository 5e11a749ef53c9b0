"""The report's parts without a browser: packing, escaping, moments, path, and odd jobs."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

import dryrun
from dryrun.motion import ARC
from dryrun.outcome import Outcome
from dryrun.removal.surface import Surface
from dryrun.report.html import report_page
from dryrun.report.html_data import job_row, map_step
from dryrun.report.html_markup import Html, data_block, escape, filled, tag
from dryrun.report.html_pack import levels, pack, unpack
from dryrun.report.html_path import route, rows_of
from dryrun.report.moments import job_rows, lowest_of, make_moments
from tests.report.jobs import FIXTURES, HOSTILE, SMALL, hostile_job, outcome_of, small_job


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    return outcome_of(small_job(tmp_path_factory.mktemp("small")), cell=0.5)


@settings(max_examples=60, deadline=None)
@given(
    arrays(np.int64, st.tuples(st.integers(1, 3), st.integers(1, 6), st.integers(1, 6)),
           elements=st.integers(0, 65535)),
    st.integers(2, 5), st.integers(0, 2),
)  # fmt: skip
def test_what_is_packed_comes_out_again(values: np.ndarray, width: int, differences: int) -> None:
    """Packing loses nothing, whatever the shape, width and kind of differences."""
    assert (unpack(pack(values, width, differences)) == values).all()


def test_levels_are_sixteen_bits_over_the_blank() -> None:
    """Heights are kept to half a step of a 65535th of the blank's range."""
    z = np.linspace(-17.8, 0.0, 1001)
    back = -17.8 + levels(z, -17.8, 0.0) * (17.8 / 65535)

    assert np.abs(back - z).max() <= 17.8 / 65535 / 2 * 1.0001


def test_foreign_text_is_escaped_and_markup_is_not() -> None:
    """Only text marked as HTML passes as it is; control characters become visible."""
    assert escape(HOSTILE) == (
        "&lt;/script&gt;&lt;script&gt;window.broken=1&lt;/script&gt;"
        "&lt;img src=x onerror=window.broken=2&gt;&#x27;&quot;&lt;!--&amp;lt;"
    )
    assert tag("p", "a<b", Html("<b>c</b>"), title='"') == ('<p title="&quot;">a&lt;b<b>c</b></p>')
    assert escape("a\x1b\u202eb") == "a\\x1b\\u202eb"


def test_data_block_cannot_be_ended_from_inside() -> None:
    """No < , > or & is left in an embedded block, so no text can close it."""
    block = data_block("data", {"text": HOSTILE + "\u2028"})
    inner = block.removeprefix('<script type="application/json" id="data">').removesuffix(
        "</script>"
    )

    assert not set(inner) & set("<>&\u2028")


def test_slots_are_filled_once() -> None:
    """A slot's content that looks like a slot stays as it is."""
    assert filled("{{a}}-{{b}}", a="{{b}}", b="x") == "{{b}}-x"


def test_hostile_texts_are_only_text_in_the_page(tmp_path: Path) -> None:
    """Nothing of a hostile title, stage, clamp or comment stands in the page as markup."""
    page = report_page(outcome_of(hostile_job(tmp_path), cell=0.5))

    assert "<img src=x" not in page
    assert "<script>window" not in page
    assert page.count("<script") == 3  # data, record, script
    assert escape(HOSTILE) in page


@pytest.mark.parametrize("programs", [SMALL, SMALL.replace("M30", "M30\n")])
def test_page_for_a_program_alone(programs: str, tmp_path: Path) -> None:
    """Without a blank there are no views, and the page says what is missing."""
    from dryrun.job.quick import quick_job

    page = report_page(dryrun.dry_run(quick_job([programs.encode()])))

    assert "need a declared blank" in page
    assert "<canvas" not in page


def test_page_is_the_same_each_time(small: Outcome) -> None:
    """The same job gives the same bytes, whatever the number of threads."""
    assert report_page(small, 1) == report_page(small, 2)


@pytest.mark.jit_only
def test_page_of_the_demonstration_is_small_enough() -> None:
    """The demonstration's report stays within two million bytes."""
    assert len(report_page(outcome_of(FIXTURES / "trivet" / "job.toml")).encode()) <= 2_000_000


# ---------------------------------------------------------------- moments


def test_moments_are_true(small: Outcome) -> None:
    """Each marked moment equals the blank cut from the start up to that row, and no other way."""
    found = make_moments(small)
    stage = small.stages[0]
    assert len(found.moments) >= 3
    assert found.moments[0].heights.max() == small.job.stock.top  # type: ignore[union-attr]
    for moment in found.moments:
        surface = Surface.blank(small.job.stock, found.cell / found.step)  # type: ignore[arg-type]
        dryrun.remove(surface, stage.motion.rows(slice(0, moment.row)), stage.stage.bit)
        heights, cut_by = lowest_of(surface, found.step)
        assert (heights == moment.heights).all()
        assert (cut_by == moment.cut_by).all()


def test_last_moment_is_the_end(small: Outcome) -> None:
    """The last moment has every row, and the seconds of the whole job."""
    last = make_moments(small).moments[-1]

    assert last.row == len(small.stages[0].motion)
    assert last.seconds == pytest.approx(small.seconds)


@pytest.mark.parametrize("step", [1, 2, 3, 7])
def test_lowest_of_names_the_row_of_the_lowest_cell(small: Outcome, step: int) -> None:
    """Cells made one have the lowest height among them, and a row that made that height."""
    surface = small.surface
    assert surface is not None
    heights, cut_by = lowest_of(surface, step)
    for iy in range(heights.shape[0]):
        for ix in range(heights.shape[1]):
            block = np.s_[iy * step : (iy + 1) * step, ix * step : (ix + 1) * step]
            cells, rows = surface.height[block], surface.cut_by[block]
            assert heights[iy, ix] == cells.min()
            assert cut_by[iy, ix] == rows[cells == cells.min()].max()


def test_map_is_made_coarser_only_when_it_must() -> None:
    """A map of four million cells is sent whole; a larger one in cells made one."""
    assert map_step((2000, 2000)) == 1
    assert map_step((24400, 12200)) == math.ceil(math.sqrt(24400 * 12200 / 2048**2))


def test_rows_are_counted_through_stages_that_cut_nothing(small: Outcome) -> None:
    """A stage without a bit has rows of its own, so rows of later stages are moved past them."""
    from dataclasses import replace

    one = small.stages[0]
    idle = replace(one, number=1, facts=None, first_row=0)
    later = replace(one, number=2, first_row=0)
    outcome = replace(small, stages=(idle, later))
    n = len(one.motion)

    assert job_rows(outcome) == [0, n]
    assert job_row(outcome, np.array([-1, 0, 3], np.int32)).tolist() == [-1, n, n + 3]


# ---------------------------------------------------------------- path


ARCS = """\
G21 G90 G17
F600 S9000 M3
G0 X20 Y10 Z1
G2 X20 Y10 Z-2 I-5 J0
G3 X10 Y20 I-10 J0
G18 G2 X20 Z-2 I5 K0
M30
"""


@pytest.mark.jit_only
def test_chords_lie_on_their_arcs(tmp_path: Path) -> None:
    """Every corner of the drawn path lies on its arc, and each row ends where the motion ends."""
    outcome = outcome_of(small_job(tmp_path, ARCS), cell=0.5)
    motion = outcome.stages[0].motion
    way = route(outcome)
    radius = motion.radii()
    for place, row in zip(way.place, way.row, strict=True):
        if motion.kind[row] == ARC:
            offset = place - motion.centre[row]
            offset[motion.axis[row]] = 0.0
            assert np.hypot(*np.delete(offset, motion.axis[row])) == pytest.approx(
                radius[row], abs=0.01
            )
    last = np.flatnonzero(np.diff(way.row, append=-1))
    assert np.allclose(way.place[last], motion.end[way.row[last]])
    assert (np.diff(way.seconds) >= 0).all()
    assert way.seconds[-1] <= outcome.seconds + 1e-9


def test_rows_say_line_and_end_of_each(small: Outcome) -> None:
    """The page's rows are those of the motion, with the seconds at which they end."""
    rows = rows_of(small)
    stage = small.stages[0]

    assert rows.group == 1
    assert rows.line.tolist() == stage.motion.line.tolist()
    assert rows.seconds[-1] == pytest.approx(small.seconds)
    assert rows.sources == ((1, "part.nc"),)
