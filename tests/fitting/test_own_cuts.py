"""Cuts of their own, holes, rounds within rounds, and where the top is: one program for each."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

import dryrun
from dryrun.fitting.measures import Measures, measure
from dryrun.fitting.models import inch_size
from dryrun.fitting.models_passes import pass_depth, spacing
from dryrun.fitting.models_places import nested
from dryrun.fitting.ranking import fit_bits
from dryrun.fitting.rises import rising_lines
from dryrun.fitting.strokes import strokes_of
from dryrun.job.model import Bit


def motion_of(lines: list[str]) -> dryrun.Motion:
    text = "\n".join(["G21 G90 G17", "S18000 M3", "G0 Z5", *lines, "G0 Z5", "M30", ""])
    return dryrun.read_program(text.encode()).motion


def measured(lines: list[str]) -> Measures:
    return measure(motion_of(lines))


def first(lines: list[str], *rack: Bit) -> str:
    return fit_bits(motion_of(lines), rack).candidates[0].bit.name


def test_a_line_that_comes_up_to_the_top_may_be_cut_again_from_there() -> None:
    down = ["G0 X0 Y0", "G1 Z0 F300", "G1 X10 Z-1", "G1 X60", "G1 X70 Z0"]
    again = [*down, "G1 X60 Z-2", "G1 X10", "G1 X0 Z0"]
    assert rising_lines(strokes_of(motion_of(again))).all()


def rows(order: list[tuple[int, float]], apart: float) -> list[str]:
    """Rows of 60 mm, lifted between: the number and the height of each."""
    lines = []
    for k, z in order:
        lines += [f"G0 X0 Y{apart * k:.3f}", f"G1 Z{z:.3f} F500", "G1 X60 F2000", "G0 Z5"]
    return lines


def test_who_goes_deep_before_the_next_row_clears_no_area() -> None:
    each = [(k, z) for k in range(12) for z in (-1.0, -2.0)]
    layers = [(k, z) for z in (-1.0, -2.0) for k in range(12)]
    assert measured(rows(each, 4.0)).modes["area"] == 0.0
    assert measured(rows(layers, 4.0)).modes["area"] > 0.5


@pytest.mark.parametrize("diameter", [8.0, 12.0])
def test_hollows_that_meet_in_a_ridge_tell_the_ball(diameter: float) -> None:
    """A ball of radius r is 2 sqrt(d (2 r - d)) wide at the depth d."""
    depth = 0.3 * diameter
    apart = 2 * math.sqrt(depth * (diameter - depth))
    cut = rows([(k, z) for k in range(12) for z in (-depth / 2, -depth)], apart)
    rack = [Bit(f"ball-{d:g}", "ball", d) for d in (6.0, 8.0, 10.0, 12.0)]
    assert first(cut, *rack, Bit("flat", "flat", 2.0)) == f"ball-{diameter:g}"


@pytest.mark.parametrize("diameter", [6.0, 9.0])
def test_bites_and_depths_of_holes_tell_the_drill(diameter: float) -> None:
    lines = []
    for k in range(10):
        lines.append(f"G0 X{5 * diameter * k:g} Y0")
        for bite in range(1, 3):
            lines += ["G0 Z0.5", f"G1 Z{-bite * diameter:g} F900", "G0 Z2"]
    rack = [Bit(f"drill-{d:g}", "drill", d, angle=math.radians(118)) for d in (4.0, 6.0, 9.0)]
    assert first(lines, *rack, Bit("flat", "flat", 6.0)) == f"drill-{diameter:g}"


def test_holes_do_not_run_into_each_other() -> None:
    lines = [s for k in range(10) for s in (f"G0 X{6 * k} Y0", "G1 Z-8 F3000", "G0 Z2")]
    rack = [Bit(f"drill-{d:g}", "drill", d, angle=math.radians(118)) for d in (4.0, 7.0)]
    assert first(lines, *rack) == "drill-4"


def test_small_bits_go_by_small_parts_of_an_inch() -> None:
    assert inch_size(Bit("d", "drill", 25.4 * 5 / 64))
    assert inch_size(Bit("f", "flat", 25.4 * 3 / 32))
    assert not inch_size(Bit("f", "flat", 25.4 * 5 / 64))
    assert not inch_size(Bit("d", "drill", 2.0))


def test_rows_of_a_bull_nose_go_by_the_flat_of_its_end() -> None:
    """Of 19 mm with corners of 6 mm only 7 mm are flat: rows 6 mm apart leave the floor level."""
    lines = ["G0 X0 Y0", "G1 Z-2 F500"]
    for k in range(12):
        lines += [f"G1 Y{6 * k} F2000", f"G1 X{0 if k % 2 else 80}"]
    found = measured(lines)
    nose, square = Bit("n", "bull", 19.0, corner_radius=6.0), Bit("s", "bull", 19.0)
    of_nose, of_square = spacing(found, nose, None), spacing(found, square, None)
    assert of_nose is not None
    assert of_square is not None
    assert of_nose.log > of_square.log + 0.3


def test_a_bull_nose_goes_down_by_less_than_a_flat_bit() -> None:
    lines = ["G0 X0 Y0"]
    for z in (-3.0, -6.0, -9.0):
        lines += ["G0 X0 Y0", f"G1 Z{z:g} F500", "G1 X90 F2000", "G0 Z5"]
    found = measured(lines)
    nose, square = Bit("n", "bull", 19.0, corner_radius=6.0), Bit("f", "flat", 19.0)
    of_nose, of_square = pass_depth(found, nose, None), pass_depth(found, square, None)
    assert of_nose is not None
    assert of_square is not None
    assert of_nose.log > of_square.log + 0.3


def circle(radius: float, quarters: bool, z: float, falls: float = 0.0) -> list[str]:
    """A circle around (20, 20) from its right side, in halves or quarters."""
    turns = np.linspace(0, 2 * math.pi, 5 if quarters else 3)
    lines = []
    for n, (a, b) in enumerate(itertools.pairwise(turns)):
        x, y = 20 + radius * math.cos(b), 20 + radius * math.sin(b)
        i, j = -radius * math.cos(a), -radius * math.sin(a)
        down = z - falls * (n + 1) / (len(turns) - 1)
        lines.append(f"G3 X{x:.4f} Y{y:.4f} Z{down:.4f} I{i:.4f} J{j:.4f} F900")
    return lines


@pytest.mark.parametrize("quarters", [False, True])
def test_a_helix_in_quarters_is_one(quarters: bool) -> None:
    lines = ["G0 X22 Y20", "G1 Z0 F300"]
    for k in range(8):
        lines += circle(2.0, quarters, -0.5 * k, 0.5)
    found = measured([*lines, *circle(2.0, quarters, -4.0)])
    assert [round(h.radius, 2) for h in found.helices] == [2.0]
    assert found.modes["helix"] > 0.7


def test_rounds_within_rounds_are_for_bits_that_leave_something_between() -> None:
    lines = []
    for radius in (2.0, 4.0, 6.0):
        lines += [f"G0 X{20 + radius} Y20", "G1 Z-2 F300", *circle(radius, False, -2.0), "G0 Z5"]
    found = measured(lines)
    assert found.nested == pytest.approx(6.0, abs=0.01)
    small, wide = (nested(found, Bit("f", "flat", d), None) for d in (5.0, 16.0))
    assert small is not None
    assert wide is not None
    assert small.log > wide.log + 1
    alone = ["G0 X26 Y20", "G1 Z-2 F300", *circle(6.0, False, -2.0)]
    assert measured(alone).nested is None


def test_a_carving_comes_up_to_the_top_wherever_the_zero_is() -> None:
    lines = []
    for k in range(6):
        x = 12 * k
        lines += [f"G0 X{x} Y0", "G0 Z14", "G1 Z12 F300"]
        lines += [f"G1 X{x + 5} Y2 Z10.5", f"G1 X{x + 10} Y0 Z12", "G0 Z20"]
    found = strokes_of(motion_of(lines))
    assert found.top == pytest.approx(12.0)


@pytest.mark.parametrize(("lifted", "top"), [(20.0, 10.5), (10.5, 0.0)])
def test_holes_from_just_above_the_blank_tell_a_zero_on_the_table(
    lifted: float, top: float
) -> None:
    """Where the bit is lifted no higher than feeding begins, that place tells nothing."""
    lines = [f"G0 Z{lifted:g}"]
    for k in range(6):
        lines += [f"G0 X{20 * k} Y0", "G0 Z10.5", "G1 Z-1 F300", f"G0 Z{lifted:g}"]
    text = "\n".join(["G21 G90", "S6000 M3", *lines, "M30", ""])
    found = strokes_of(dryrun.read_program(text.encode()).motion)
    assert found.top == pytest.approx(top)
