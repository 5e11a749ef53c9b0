"""Grooves of varying depth give the angle of the vee away (elementary geometry of triangles)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import dryrun
from dryrun.fitting.groove import fork_error, groove_of
from dryrun.fitting.strokes import strokes_of

ANGLES = (30, 60, 90, 120)


def carved(corners: np.ndarray, degrees: float) -> bytes:
    """Carve a triangle along its bisectors to the incentre, as deep as the inscribed circle."""
    sides = np.hypot(*(np.roll(corners, 1, 0) - np.roll(corners, -1, 0)).T)
    centre = (sides[:, None] * corners).sum(axis=0) / sides.sum()
    (ax, ay), (bx, by), (cx, cy) = corners
    area = abs((bx - ax) * (cy - ay) - (by - ay) * (cx - ax)) / 2
    depth = 2 * area / sides.sum() / math.tan(math.radians(degrees) / 2)
    lines = ["G21 G90", "S10000 M3", "G0 Z5"]
    for x, y in corners:
        lines += [f"G0 X{x:.4f} Y{y:.4f}", "G1 Z0 F300",
                  f"G1 X{centre[0]:.4f} Y{centre[1]:.4f} Z{-depth:.4f} F1500", "G0 Z5"]  # fmt: skip
    return "\n".join([*lines, "M30", ""]).encode()


def triangle(turns: tuple[float, float, float], size: float) -> np.ndarray:
    angle = np.cumsum(turns)
    return size * np.column_stack([np.cos(angle), np.sin(angle)])


@settings(max_examples=30, deadline=None)
@given(
    st.tuples(st.floats(0, 6), st.floats(1.3, 2.6), st.floats(1.3, 2.6)),
    st.floats(3, 12),
    st.sampled_from(ANGLES),
)
def test_only_the_true_angle_closes_the_fork(
    turns: tuple[float, float, float], size: float, degrees: float
) -> None:
    """Where the bisectors of any triangle meet, the edges of the true vee meet, no other's."""
    motion = dryrun.read_program(carved(triangle(turns, size), degrees)).motion
    found = groove_of(strokes_of(motion))

    assert found is not None
    assert len(found.forks) == 1
    errors = {a: fork_error(found.forks[0], math.tan(math.radians(a) / 2)) for a in ANGLES}
    assert errors[degrees] < 0.01
    assert all(error > 0.05 for a, error in errors.items() if a != degrees)


def test_slope_into_a_corner_is_the_sine_of_its_half() -> None:
    """A right angle under a 90 degree vee: the path rises 0.7071 mm for each mm."""
    corners = np.array([(0.0, 0.0), (10.0, 0.0), (0.0, 10.0)])
    found = groove_of(strokes_of(dryrun.read_program(carved(corners, 90)).motion))

    assert found is not None
    assert found.ends.max() == pytest.approx(math.sin(math.radians(45)), abs=1e-3)
    assert found.ends.min() == pytest.approx(math.sin(math.radians(22.5)), abs=1e-3)


def test_limited_depth_still_tells() -> None:
    """Boxes carved no deeper than 1.5 mm: bisectors go on level where they would have sunk."""
    half, cap = 4.0, 1.5
    lines = ["G21 G90", "S10000 M3", "G0 Z5"]
    ends = [((0, 0), (4, 4)), ((0, 8), (4, 4)), ((20, 0), (16, 4)), ((20, 8), (16, 4))]
    run = cap * math.tan(math.radians(30)) / half
    for (x, y), (u, v) in ends:
        lines += [f"G0 X{x} Y{y}", "G1 Z0 F300",
                  f"G1 X{x + (u - x) * run:.4f} Y{y + (v - y) * run:.4f} Z-{cap} F900",
                  f"G1 X{u} Y{v}", "G0 Z5"]  # fmt: skip
    lines += ["G0 X4 Y4", f"G1 Z-{cap}", "G1 X16 Y4", "G0 Z5"]
    motion = dryrun.read_program("\n".join([*lines, "M30"]).encode()).motion
    found = groove_of(strokes_of(motion))

    assert found is not None
    assert len(found.forks) == 2
    right, wrong = (
        [fork_error(f, math.tan(math.radians(a) / 2)) for f in found.forks] for a in (60, 90)
    )
    assert max(right) < 0.02
    assert min(wrong) > 0.2
