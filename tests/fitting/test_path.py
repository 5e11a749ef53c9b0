"""Strokes, neighbouring passes and rounds: what is measured on the path."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString

import dryrun
from dryrun.fitting import strokes as strokes_module
from dryrun.fitting.curves import curves_of
from dryrun.fitting.measures import measure
from dryrun.fitting.ridges import ridges_of
from dryrun.fitting.spacing import PARALLEL, SAME_PASS, find_neighbours, main_spacing
from dryrun.fitting.strokes import strokes_of

HEAD = "G21 G90 G17\nS18000 M3\nG0 Z5\n"


def motion(lines: str) -> dryrun.Motion:
    return dryrun.read_program((HEAD + lines + "\nM30\n").encode()).motion


def raster(step: float, count: int, long: float = 50.0, z: float = -2.0) -> str:
    """Lines along X, linked at depth."""
    text, x = [f"G0 X0 Y0\nG1 Z{z} F500"], 0.0
    for n in range(count):
        x = long - x
        text += [f"G1 X{x} Y{n * step:.4f}", f"G1 Y{(n + 1) * step:.4f}"]
    return "\n".join(text[:-1]) + "\nG0 Z5"


def test_strokes_are_what_lies_in_the_blank() -> None:
    """Rapids and moves above the top are no strokes; a retract begins a new chain."""
    found = strokes_of(motion("G0 X0 Y0\nG1 Z1 F100\nG1 X5\nG1 Z-1\nG1 X9\nG0 Z2\nG0 X20\n"
                              "G1 Z-1\nG1 X30"))  # fmt: skip

    assert len(found) == 4
    assert found.chain.tolist() == [0, 0, 1, 1]
    assert found.top == 0.0


def test_arcs_become_chords_that_keep_their_length() -> None:
    """A full turn of radius 10 mm: chords within 2 micrometres of it, ends exact."""
    found = strokes_of(motion("G0 X10 Y0\nG1 Z-1 F100\nG3 X10 Y0 I-10 J0"))
    ring = found.arc_radius == pytest.approx(10.0)
    ring = np.isfinite(found.arc_radius)

    assert found.run[ring].sum() == pytest.approx(20 * math.pi, rel=1e-3)
    middle = (found.start + found.end)[ring, :2] / 2
    assert np.hypot(*middle.T).min() > 10.0 - 0.0021
    np.testing.assert_allclose(found.end[-1], [10, 0, -1], atol=1e-9)


def test_long_programs_are_looked_at_in_windows(monkeypatch: pytest.MonkeyPatch) -> None:
    """No more rows than the cap, from all over the program, neighbours kept together."""
    monkeypatch.setattr(strokes_module, "MOST_ROWS", 40)
    found = strokes_of(motion(raster(2.0, 200)))

    assert len(np.unique(found.row)) == 40
    assert not found.whole
    assert found.row.min() < 10
    assert found.row.max() > 380


@settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.tuples(*[st.floats(-20, 20).map(lambda v: round(v, 2))] * 2), min_size=3, max_size=14
    )
)
def test_neighbours_are_those_that_shapely_finds(places: list[tuple[float, float]]) -> None:
    """The nearest crossing of a long ray with a nearly parallel piece, found by shapely."""
    lines = "G0 X0 Y0\nG1 Z-1 F100\n" + "\n".join(f"G1 X{x} Y{y}" for x, y in places)
    found = strokes_of(motion(lines))
    near = find_neighbours(found)
    if near is None:
        return
    pieces = [LineString([a[:2], b[:2]]) for a, b in zip(found.start, found.end, strict=True)]
    for k in range(0, len(near.piece), 37):
        p, way = near.at[k, :2], near.along[k]
        for side, sign in enumerate((1.0, -1.0)):
            far = p + 500 * sign * np.array([-way[1], way[0]])
            ray = LineString([p, far])
            hits = [
                ray.intersection(piece).distance(LineString([p, p]))
                for n, (piece, step) in enumerate(zip(pieces, found.step[:, :2], strict=True))
                if n != near.piece[k]
                and piece.length > 0
                and abs(step @ way) > (PARALLEL + 1e-6) * piece.length
                and ray.intersects(piece)
            ]
            hits = [h for h in hits if h > SAME_PASS + 1e-6]
            if hits and min(hits) < 200:
                assert near.distance[k, side] <= min(hits) + 1e-6


@pytest.mark.parametrize("step", [0.3, 2.4, 5.0])
def test_spacing_of_a_raster(step: float) -> None:
    """The stepover of a raster, met on both sides in its middle, linked at depth."""
    found = strokes_of(motion(raster(step, 20)))
    spacing = main_spacing(found, find_neighbours(found))

    assert spacing is not None
    assert spacing.distance == pytest.approx(step, abs=1e-3)
    assert spacing.both > 0.7
    assert spacing.linked == 1.0


def test_a_lone_line_has_no_neighbour() -> None:
    """One slot says nothing about spacing."""
    found = strokes_of(motion("G0 X0 Y0\nG1 Z-1 F100\nG1 X50"))

    assert main_spacing(found, find_neighbours(found)) is None
    assert find_neighbours(strokes_of(motion("G0 X1"))) is None


@pytest.mark.parametrize("chords", [False, True])
def test_rounds_are_found_as_arcs_and_as_chords(chords: bool) -> None:
    """Four corners of 3.175 mm, written as arcs or as short lines of three decimals."""
    lines = ["G0 X3.175 Y0", "G1 Z-2 F500"]
    corners = [(40, 3.175, -90), (40, 40, 0), (3.175, 40, 90), (3.175, 3.175, 180)]
    for cx, cy, begin in corners:
        t = np.radians(begin + np.linspace(0, 90, 10))
        x, y = cx + 3.175 * np.cos(t), cy + 3.175 * np.sin(t)
        lines.append(f"G1 X{x[0]:.3f} Y{y[0]:.3f}")
        if chords:
            lines += [f"G1 X{a:.3f} Y{b:.3f}" for a, b in zip(x[1:], y[1:], strict=True)]
        else:
            lines.append(f"G3 X{x[-1]:.3f} Y{y[-1]:.3f} R3.175")
    found = curves_of(strokes_of(motion("\n".join(lines))))

    assert found[0].count == 4
    assert found[0].radius == pytest.approx(3.175, abs=0.01)
    assert found[0].sweep == pytest.approx(math.pi / 2, rel=0.15)


def test_helix_and_its_pitch() -> None:
    """Turns of 2 mm radius that fall 0.8 mm each are a helix, not an area or a line."""
    turns = "\n".join(f"G3 X2 Y0 Z{-0.8 * (n + 1):.1f} I-2 J0" for n in range(5))
    found = measure(motion(f"G0 X2 Y0\nG1 Z0 F100\n{turns}\nG0 Z5"))

    assert found.helices[0].radius == pytest.approx(2.0, abs=1e-6)
    assert found.pitch == pytest.approx(0.8, rel=0.02)
    assert found.modes["helix"] > 0.99


def test_pass_depth_is_that_of_each_place() -> None:
    """Two slots in passes of 2 mm and 3 mm are not one slot of five levels."""
    one = "\n".join(f"G1 Z{-2.0 * n} F200\nG1 X{50 * (n % 2)}" for n in (1, 2, 3))
    two = "\n".join(f"G1 Z{-3.0 * n} F200\nG1 X{90 * (n % 2)}" for n in (1, 2))
    found = measure(motion(f"G0 X0 Y0\n{one}\nG0 Z5\nG0 X0 Y30\n{two}\nG0 Z5"))

    assert found.levels == pytest.approx((2.0, 3.0, 4.0, 6.0))
    assert found.passes in (2, 3)
    assert found.pass_depth in (pytest.approx(2.0), pytest.approx(3.0))


def test_a_groove_is_no_ramp() -> None:
    """Going down gently onto a level is an entry; going up as well is carving."""
    entry = measure(motion("G0 X0 Y0\nG1 Z0 F100\nG1 X40 Z-2\nG1 X0\nG1 X40\nG0 Z5"))
    carved = measure(motion("G0 X0 Y0\nG1 Z0 F100\nG1 X20 Z-2\nG1 X40 Z0\nG0 Z5"))

    assert entry.modes["carve"] == 0.0
    assert carved.modes["carve"] == pytest.approx(1.0)


def test_nothing_cut_is_measured_as_nothing() -> None:
    """A program that stays above the blank has no length."""
    assert measure(motion("G1 X50 F500")).length == 0.0


@pytest.mark.parametrize(
    ("step", "width", "told"), [(6.5, 6.0, True), (6.0, 6.0, False), (9.0, 6.0, True)]
)
def test_ridges_between_passes(step: float, width: float, told: bool) -> None:
    """Walls stay where linked passes are farther apart than the bit is wide."""
    found = ridges_of(motion(raster(step, 8)), width)

    assert (found is not None) == told
    if found is not None:
        assert found.spacing == pytest.approx(step, abs=1e-3)
        assert found.depth == pytest.approx(2.0)
        assert found.at[1] % step == pytest.approx(step / 2, abs=1e-6)
