"""The blank's top, when nobody says: zero on the top, on the table, below a through cut."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from dryrun.fitting.measures import measure
from dryrun.fitting.strokes import strokes_of
from dryrun.gcode.program import read_program
from dryrun.motion import Motion


def outline(depths: Sequence[float], top: float, clear: float = 2.0) -> Motion:
    """A square cut in passes of these depths below a top at this height."""
    lines = ["G21 G90 G17", "M3 S16000", f"G0 Z{top + 10}", "G0 X0 Y0", f"Z{top + clear}"]
    for depth in depths:
        lines += [f"G1 Z{top - depth:.3f} F400", "X40 F1500", "Y40", "X0", "Y0"]
    return read_program("\n".join([*lines, f"G0 Z{top + 10}", "M2"]).encode()).motion


@pytest.mark.parametrize("top", [0.0, 12.0, 11.8, 18.0])
def test_passes_tell_the_top_wherever_the_zero_is(top: float) -> None:
    motion = outline((3.0, 6.0, 9.0, 12.0), top)
    assert strokes_of(motion).top == pytest.approx(top, abs=1e-6)
    found = measure(motion)
    assert found.passes == 4
    assert found.pass_depth == pytest.approx(3.0)
    assert found.deepest == pytest.approx(12.0)


def test_two_passes_of_which_one_goes_through_into_the_table() -> None:
    assert strokes_of(outline((3.0, 6.0), 5.8)).top == pytest.approx(5.8, abs=1e-6)


def test_one_pass_tells_no_more_than_where_feeding_begins() -> None:
    assert strokes_of(outline((3.0,), 12.0)).top == pytest.approx(14.0)


def test_the_top_is_not_above_where_feeding_begins() -> None:
    assert strokes_of(outline((1.0, 6.0), 12.0)).top == pytest.approx(14.0)


def test_a_declared_top_is_believed() -> None:
    assert strokes_of(outline((3.0, 6.0), 5.8), top=0.0).top == 0.0


def test_links_above_the_top_do_not_make_a_zero_on_the_table() -> None:
    lines = ["G21 G90 G17", "G0 Z5", "G0 X0 Y0"]
    for x in range(0, 80, 10):
        lines += ["G1 Z-2 F400", "Y40 F1500", "Z1", f"X{x + 10}", "Z-2", "Y0", "Z1"]
    motion = read_program("\n".join([*lines, "M2"]).encode()).motion
    assert strokes_of(motion).top == 0.0
