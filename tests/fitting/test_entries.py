"""Ways down to a level, outlines with pointed tabs, and layers that rough a relief."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest

from dryrun.fitting.entries import entering_chains
from dryrun.fitting.layers import layers_of
from dryrun.fitting.measures import Measures, measure
from dryrun.fitting.ranking import fit_bits
from dryrun.fitting.spacing import find_neighbours
from dryrun.fitting.strokes import Strokes, strokes_of
from dryrun.gcode.program import read_program
from dryrun.job.model import Bit
from dryrun.motion import Motion

RACK = (
    Bit("flat 3", "flat", 3.0, flutes=2),
    Bit("flat 6", "flat", 6.0, flutes=2),
    Bit("ball 6", "ball", 6.0, flutes=2),
    Bit("vee 60", "vee", 12.0, angle=math.radians(60.0)),
    Bit("vee 90", "vee", 12.0, angle=math.radians(90.0)),
)


def motion_of(lines: Sequence[str]) -> Motion:
    head = ["G21 G90 G17", "M3 S16000", "G0 Z5"]
    return read_program("\n".join([*head, *lines, "G0 Z5", "M2"]).encode()).motion


def strokes(lines: Sequence[str]) -> Strokes:
    return strokes_of(motion_of(lines))


def measured(lines: Sequence[str]) -> Measures:
    return measure(motion_of(lines))


def entering(lines: Sequence[str]) -> np.ndarray:
    found = strokes(lines)
    return entering_chains(found, int(found.chain[-1]) + 1)


def ramped_triangle(again: bool) -> list[str]:
    """A small triangle that is entered steeply along its own sides, then cut once more, level."""
    corners = [(8.0, 0.0), (4.0, 6.0), (0.0, 0.0)]
    lines = []
    for left in (0.0, 40.0, 80.0, 120.0):
        lines += ["G0 Z5", f"G0 X{left} Y0", "Z0.2"]
        for turn in range(2):
            for n, (x, y) in enumerate(corners):
                z = -3.0 * (turn + (n + 1) / 3)
                lines.append(f"G1 X{left + x} Y{y} Z{z:.3f} F1000")
        lines += [f"X{left + x} Y{y}" for x, y in corners] if again else []
    return lines


def test_a_steep_way_down_along_the_contour_that_is_cut_next_is_an_entry() -> None:
    assert entering(ramped_triangle(again=True)).all()
    found = measured(ramped_triangle(again=True))
    assert found.modes["carve"] == 0.0
    assert found.modes["relief"] == 0.0
    assert found.modes["line"] > 0.9
    assert found.levels == pytest.approx((6.0,), abs=0.01)


def test_a_slope_over_ground_that_is_not_passed_again_is_no_entry() -> None:
    assert not entering(ramped_triangle(again=False)).any()
    once = ["G0 X0 Y0", "G1 Z-0.1 F400", "G1 X20 Z-3 F1000", "G1 Y20"]
    assert not entering(once).any()


def test_what_goes_up_as_well_is_no_entry() -> None:
    lines = ["G0 X0 Y0", "G1 X20 Z-3 F1000", "X0 Z-4", "X20 Z-2", "X0 Z-5"]
    assert not entering(lines).any()


def test_a_helix_passes_its_own_ground_again() -> None:
    angle = np.radians(np.arange(0, 4 * 360 + 1, 15))
    lines = ["G0 X5 Y0", "G1 Z0 F400"]
    lines += [f"G1 X{5 * math.cos(a):.4f} Y{5 * math.sin(a):.4f} Z{-a / 6:.4f}" for a in angle]
    assert entering(lines).all()


def pointed_tabs(lead: bool) -> list[str]:
    """A rectangle in two depths; in the second it rises to a point over two tabs."""
    lines: list[str] = []
    for z in (-3.0, -6.0):
        lines += ["G0 Z5", "G0 X-4 Y-4" if lead else "G0 X0 Y0", f"G1 Z{z} F300"]
        lines += ["G1 X0 Y0 F1500"] if lead else []
        for x, y, along in ((60, 0, 1), (60, 50, 0), (0, 50, -1), (0, 0, 0)):
            if along and z < -3.0:
                near, top, far = 30 - 9 * along, 30, 30 + 9 * along
                lines += [f"X{near}", f"X{top} Z-4.5", f"X{far} Z{z}"]
            lines.append(f"X{x} Y{y}")
        lines += ["G1 X4 Y-4"] if lead else []
    return lines


@pytest.mark.parametrize("lead", [False, True])
def test_an_outline_with_pointed_tabs_may_lead_in_and_out(lead: bool) -> None:
    found = measured(pointed_tabs(lead))
    assert found.modes["carve"] == 0.0
    assert found.modes["line"] > 0.8


def layered(floors: Sequence[float], step: float = 2.4) -> list[str]:
    """Rows in layers that stop short of a hill: level at each floor, up and down over the hill."""
    lines: list[str] = []
    for floor in floors:
        there = True
        lines += ["G0 Z5", "G0 X0 Y0", f"G1 Z{floor} F500"]
        for y in np.arange(0.0, 48.1, step):
            xs = np.arange(0.0, 60.1, 2.0)
            for x in xs if there else xs[::-1]:
                hill = -0.5 - ((x - 30) ** 2 + (y - 24) ** 2) / 60.0
                lines.append(f"G1 X{x:.2f} Y{y:.2f} Z{max(floor, min(hill, -0.5)):.3f} F2000")
            there = not there
    return lines


def test_layers_that_stop_short_of_a_hill_are_roughing_for_a_flat_bit() -> None:
    lines = layered((-2.5, -5.0, -7.5))
    found = measured(lines)
    assert found.modes["rough"] > 0.9
    assert found.levels == pytest.approx((2.5, 5.0, 7.5), abs=0.01)
    assert found.spacing is not None
    assert found.spacing.distance == pytest.approx(2.4, abs=0.01)
    assert found.fine_spacing is None
    best = fit_bits(motion_of(lines), RACK).candidates[0]
    assert best.bit.name == "flat 6"
    assert any("roughs a relief in layers" in s for s in best.sentences)


def test_one_floor_is_no_layers() -> None:
    path = strokes(layered((-5.0,), 0.6))
    assert layers_of(path, find_neighbours(path)) is None
    assert measured(layered((-5.0,), 0.6)).modes["relief"] > 0.9


def test_rows_that_are_level_all_through_are_no_layers_of_a_relief() -> None:
    lines: list[str] = []
    for floor in (-2.0, -4.0):
        lines += ["G0 Z5", "G0 X0 Y0", f"G1 Z{floor} F500"]
        for y in range(0, 40, 4):
            lines += [f"G1 Y{y} F2000", "X50", f"Y{y + 2}", "X0"]
    path = strokes(lines)
    assert layers_of(path, find_neighbours(path)) is None
