"""A line written in many pieces is one line; an arc written in chords stays an arc."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest

from dryrun.fitting.measures import Measures, measure
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
    for (ax, ay), (bx, by) in zip(points, points[1:], strict=False):
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
