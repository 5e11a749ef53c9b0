"""Radius compensation against the offset curve of a general-purpose geometry library (shapely)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon

from dryrun.gcode.controller import Tool
from dryrun.gcode.program import Program, read_program
from dryrun.motion import ARC, LINE


def read(text: str, radius: float, controller: str | None = None) -> Program:
    return read_program(
        text.encode(),
        controller,
        tools={1: Tool(None, 2 * radius)},
        start=(0.0, 0.0, 0.0),
        work_zero=(0.0, 0.0, 0.0),
    )


def points_of(program: Program, skip: int = 0) -> np.ndarray:
    """Points along the rows, arcs in small steps."""
    motion = program.motion
    points = []
    for row in range(skip, len(motion)):
        if motion.kind[row] == LINE:
            points += list(np.linspace(motion.start[row], motion.end[row], 20)[:, :2])
        elif motion.kind[row] == ARC:
            offset = complex(*(motion.start[row] - motion.centre[row])[:2])
            for share in np.linspace(0, 1, 40):
                turned = offset * np.exp(1j * share * motion.sweep[row])
                points.append(motion.centre[row][:2] + np.array([turned.real, turned.imag]))
    return np.array(points)


def star(radii: list[float]) -> list[tuple[float, float]]:
    """A ring of points about (0, 0), counter-clockwise."""
    step = 2 * math.pi / len(radii)
    return [
        (round(r * math.cos(k * step), 3), round(r * math.sin(k * step), 3))
        for k, r in enumerate(radii)
    ]


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(20, 34), min_size=5, max_size=12), st.floats(0.3, 3.0), st.booleans())
def test_round_a_star_the_path_keeps_one_radius_off(
    radii: list[float], radius: float, outside: bool
) -> None:
    """Once round a star, convex and concave corners: every point one tool radius off the contour.

    Counter-clockwise with the tool on the right it runs outside, on the left inside.
    """
    ring = star(radii)
    path = Polygon(ring).buffer(radius if outside else -radius, quad_segs=400)
    assume(path.geom_type == "Polygon" and not path.interiors)
    (ax, ay), (bx, by) = ring[0], ring[1]
    middle = ((ax + bx) / 2, (ay + by) / 2)
    away = 3 * radius / math.hypot(bx - ax, by - ay) * (1 if outside else -1)
    start = (middle[0] + (by - ay) * away, middle[1] - (bx - ax) * away)
    lines = [f"X{x:.4f} Y{y:.4f}" for x, y in [*ring[1:], ring[0], middle]]
    text = (
        f"G21 G90 G0 X{start[0]:.4f} Y{start[1]:.4f}\nF100 {'G42' if outside else 'G41'} D1\n"
        f"G1 X{middle[0]:.4f} Y{middle[1]:.4f}\n" + "\n".join(lines) + "\nG40\nM30\n"
    )

    program = read(text, radius)

    if any(f.level == "error" for f in program.findings):
        return  # told, not cut
    contour = LineString([*ring, ring[0]])
    far = [contour.distance(Point(p)) for p in points_of(program, skip=1)]
    after_lead_in = [contour.distance(Point(p)) for p in points_of(program, skip=2)]
    assert min(far) > radius - 2e-3
    assert max(after_lead_in) < radius + 2e-3


def test_inside_corner_is_refused_by_the_report() -> None:
    """An inside corner is an error (NISTIR 6556 B.5.1)."""
    program = read("G21 G41 D1 G1 X10 F100\nY10\nG40\nM2\n", 0.5, "rs274")

    assert [(f.line, f.level) for f in program.findings if f.level == "error"] == [(2, "error")]


def test_inside_corner_is_trimmed_where_both_sides_are_touched() -> None:
    """A square corner leaves the tool one radius from both sides (plane geometry)."""
    program = read("G21 G0 X-5\nG41 D1 G1 X0 F100\nX10\nY10\nG40\nM2\n", 0.5)

    assert program.motion.end[-3, :2] == pytest.approx([9.5, 0.5])
    assert program.motion.end[-2, :2] == pytest.approx([9.5, 10.0])


def test_a_slot_narrower_than_the_tool_is_refused() -> None:
    """Where no place touches both sides the gouge is told, not cut in silence."""
    program = read("G21 G0 X-5\nG41 D1 G1 X0 F100\nX10\nY0.4\nX0\nG40\nM2\n", 1.0)

    assert any("cut into the contour" in f.message for f in program.findings if f.level == "error")


def test_a_z_move_at_a_corner_happens_where_the_corner_is_trimmed() -> None:
    """Z may move freely; in XY it stays on the offset path (NISTIR 6556 B.2)."""
    program = read("G21 G0 X-5 Z0\nG41 D1 G1 X0 F100\nX10\nZ-1\nY10\nG40\nM2\n", 0.5)
    motion = program.motion
    plunge = int(np.flatnonzero(motion.end[:, 2] == -1.0)[0])

    assert motion.start[plunge, :2] == pytest.approx(motion.end[plunge, :2])
    assert motion.start[plunge, :2] == pytest.approx([9.5, 0.5])


def test_the_radius_of_the_bit_stands_in_for_a_missing_table() -> None:
    """Without a tool table the declared bit's radius is used, and the assumption is told."""
    program = read_program(
        b"G21 G0 X-5 Y0 Z0\nG41 D7 G1 X0 F100\nX10\nG40\nM2\n", bit_radius=2.0, start=(0, 0, 0)
    )

    assert program.motion.end[-2, :2] == pytest.approx([10.0, 2.0])
    assert any("2 mm" in text for text in program.assumptions)
