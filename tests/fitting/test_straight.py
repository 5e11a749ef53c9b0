"""Lines in many pieces are one line, arcs in chords stay arcs, and places may be coarse."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
import pytest

from dryrun.fitting.chances import DIGIT
from dryrun.fitting.measures import Measures, measure
from dryrun.fitting.outlines import COARSE, coarseness
from dryrun.fitting.ranking import rank
from dryrun.fitting.straight import straightened
from dryrun.fitting.strokes import Strokes, strokes_of
from dryrun.gcode.program import read_program
from dryrun.job.model import Bit

RACK = tuple(Bit(f"flat {d}", "flat", d, flutes=2) for d in (3.0, 6.0, 8.0, 12.0))


def program(points: Sequence[tuple[float, float]], z: float = -3.0) -> bytes:
    x, y = points[0]
    lines = ["G21 G90 G17", "M3 S16000", "G0 Z5", f"G0 X{x:.4f} Y{y:.4f}", f"G1 Z{z} F400"]
    lines += [f"G1 X{x:.4f} Y{y:.4f} F1500" for x, y in points[1:]]
    return "\n".join([*lines, "G0 Z5", "M2"]).encode()


def strokes(points: Sequence[tuple[float, float]]) -> Strokes:
    return strokes_of(read_program(program(points)).motion)


def measured(points: Sequence[tuple[float, float]]) -> Measures:
    return measure(read_program(program(points)).motion)


def split(points: Sequence[tuple[float, float]], step: float) -> list[tuple[float, float]]:
    found = [points[0]]
    for (ax, ay), (bx, by) in itertools.pairwise(points):
        count = max(1, math.ceil(math.hypot(bx - ax, by - ay) / step))
        found += [(ax + (bx - ax) * k / count, ay + (by - ay) * k / count)
                  for k in range(1, count + 1)]  # fmt: skip
    return found


OUTLINE = [(-4.0, -4.0), (64.0, -4.0), (64.0, 30.0), (30.0, 44.0), (-4.0, 44.0), (-4.0, -4.0)]


@pytest.mark.parametrize("step", [0.7, 1.0, 5.0])
def test_a_line_in_many_pieces_is_one(step: float) -> None:
    found = straightened(strokes(split(OUTLINE, step)))
    whole = straightened(strokes(OUTLINE))
    assert len(found) == len(whole) == len(OUTLINE)  # the way down is one more
    assert found.start == pytest.approx(whole.start, abs=1e-9)
    assert found.end == pytest.approx(whole.end, abs=1e-9)


def test_edges_and_the_ranking_are_the_same_however_lines_are_written() -> None:
    one, many = measured(OUTLINE), measured(split(OUTLINE, 1.0))
    assert many.edges == one.edges
    assert many.sizes == pytest.approx(one.sizes)
    chances = [[c.probability for c in rank(m, RACK).candidates] for m in (one, many)]
    assert chances[1] == pytest.approx(chances[0], abs=1e-9)


@pytest.mark.parametrize(("radius", "chord"), [(5.0, 0.3), (40.0, 0.5), (60.0, 0.3)])
def test_an_arc_in_chords_is_no_line(radius: float, chord: float) -> None:
    angle = np.arange(0.0, math.pi, chord / radius)
    points = [(radius * math.cos(a), radius * math.sin(a)) for a in angle]
    path = strokes(points)
    assert len(straightened(path)) == len(path)


def test_corners_gaps_and_true_arcs_stay() -> None:
    text = b"""G21 G90 G17
G0 Z5
G0 X0 Y0
G1 Z-1 F400
X10 F1000
X20
G2 X30 Y-10 I0 J-10
G1 Y-20
G0 Z5
G0 X30 Y-20
G1 Z-1
Y-30
M2
"""
    path = strokes_of(read_program(text).motion)
    found = straightened(path)
    assert len(path) - len(found) == 1
    assert np.isfinite(found.arc_radius).sum() == np.isfinite(path.arc_radius).sum()


def turned(decimals: int, left: float = 0.0) -> bytes:
    """A pocket with slanted sides for a bit of 6.35 mm, its places written with some decimals."""
    r = 3.175
    points = [(left + r, r), (left + 50 - r, r), (left + 50 - r, 30.0 - r), (left + 20.4, 40 - r),
              (left + 11.3, 40 - r), (left + r, 23.6), (left + r, r)]  # fmt: skip
    lines = ["G21 G90 G17", "M3 S16000", "G0 Z5", "G0 X5 Y5", "G1 Z-3 F400"]
    lines += [f"G1 X{x:.{decimals}f} Y{y:.{decimals}f} F1500" for x, y in points]
    return "\n".join([*lines, "G0 Z5", "M2"]).encode()


def test_places_written_with_two_decimals_get_more_slack() -> None:
    path = strokes_of(read_program(turned(2)).motion)
    assert coarseness(path) == COARSE
    assert COARSE + DIGIT["mm"] > 0.005  # half of the last digit
    assert coarseness(strokes_of(read_program(turned(3)).motion)) == 0.0
    # Whole millimetres were drawn so, not rounded.
    assert coarseness(strokes(OUTLINE)) == 0.0


@pytest.mark.parametrize("decimals", [2, 3])
def test_two_decimals_still_tell_the_bit(decimals: int) -> None:
    rack = tuple(Bit(f"flat {d}", "flat", d, flutes=2) for d in (5.0, 6.0, 6.35, 8.0))
    found = measure(read_program(turned(decimals, 7.0)).motion)
    assert rank(found, rack).candidates[0].bit.name == "flat 6.35"
