"""Level lines down a slope, and outlines that rise over tabs."""

from __future__ import annotations

import math

import numpy as np
import pytest

import dryrun
from dryrun.fitting.measures import Measures, measure
from dryrun.fitting.ranking import fit_bits
from dryrun.fitting.strokes import strokes_of
from dryrun.fitting.tabs import tabbed_chains
from dryrun.job.model import Bit

RACK = (
    Bit("ball 6", "ball", 6.0, flutes=2),
    Bit("flat 6", "flat", 6.0, flutes=2),
    Bit("flat 12", "flat", 12.0, flutes=2),
    Bit("vee 60", "vee", 12.0, angle=math.radians(60.0), flutes=2),
)


def motion_of(lines: list[str]) -> dryrun.Motion:
    text = "\n".join(["G21 G90 G0 Z5", "M3 S18000", *lines, "G0 Z5", "M2", ""])
    return dryrun.read_program(text.encode()).motion


def measured(lines: list[str]) -> Measures:
    return measure(motion_of(lines))


def cove(rows: int, radius: float) -> list[str]:
    """Rows along X whose heights lie on a circle across."""
    lines = []
    for k, angle in enumerate(np.radians(np.linspace(-70.0, 70.0, rows))):
        y = radius * math.sin(angle)
        z = -1.0 - radius * (math.cos(angle) - math.cos(math.radians(70.0)))
        x = (0.0, 80.0) if k % 2 == 0 else (80.0, 0.0)
        lines.append(f"{'G0' if k == 0 else 'G1'} X{x[0]} Y{y:.4f}")
        lines += [f"G1 Z{z:.4f} F800", f"G1 X{x[1]} F1600"]
    return lines


def leaning(step: float, beside: float, rings: int = 12) -> list[str]:
    """Square rings down a leaning wall."""
    lines = ["G0 X0 Y0"]
    for k in range(1, rings + 1):
        a, b = k * beside, 60.0 - k * beside
        lines += [f"G1 X{a:.3f} Y{a:.3f} F1600", f"G1 Z{-k * step:.3f}", f"G1 X{b:.3f}"]
        lines += [f"Y{b:.3f}", f"X{a:.3f}", f"Y{a:.3f}"]
    return lines


def tabbed(roof: float, closed: bool = True) -> list[str]:
    """An outline in three passes that rises over two tabs in the last, by slopes."""
    lines = ["G0 X0 Y0"]
    for z in (-2.0, -4.0):
        lines += [f"G1 Z{z} F800", "X50 F1600", "Y40", "X0", "Y0"]
    for x in (0.0, 50.0):
        lines += ["G1 Z-6 F800"] if x == 0 else []
        far, way = (50.0, 1) if x == 0 else (0.0, -1)
        lines += [f"G1 X{x + 20 * way} F1600", f"X{x + 25 * way} Z{roof}"]
        lines += [f"X{x + 30 * way} Z-6"]
        if closed or x == 0:
            lines += [f"X{far}", "Y40" if x == 0 else "Y0"]
    return lines


def test_a_hollow_of_round_section_is_for_a_ball() -> None:
    found = measured(cove(15, 9.0)).descent
    assert found is not None
    assert found.section == pytest.approx(9.0, abs=0.01)
    assert found.step == pytest.approx(9.0 * math.radians(10.0), rel=0.02)
    assert fit_bits(motion_of(cove(15, 9.0)), RACK).candidates[0].bit.name == "ball 6"


def test_a_dome_has_its_section_below_zero() -> None:
    rows = [
        line if "Z" not in line else line.replace(line.split()[1], f"Z{z:.4f}")
        for line, z in zip(cove(15, 9.0), np.repeat(dome(15, 9.0), 3), strict=True)
    ]
    found = measured(rows).descent
    assert found is not None
    assert found.section == pytest.approx(-9.0, abs=0.01)


def dome(rows: int, radius: float) -> np.ndarray:
    angle = np.radians(np.linspace(-70.0, 70.0, rows))
    return radius * np.cos(angle) - radius - 1.0


def test_the_step_down_a_leaning_wall_is_measured_along_it() -> None:
    found = measured(leaning(0.4, 0.3))
    assert found.descent is not None or found.modes["rings"] > 0.5
    if found.descent is not None:
        assert found.descent.step == pytest.approx(0.5, rel=0.02)


def test_passes_right_above_each_other_are_no_slope() -> None:
    assert measured(leaning(0.4, 0.0)).descent is None


def test_an_outline_with_tabs_is_no_groove() -> None:
    found = measured(tabbed(-4.5))
    assert found.modes["line"] > 0.8
    assert found.passes == 3
    best = fit_bits(motion_of(tabbed(-4.5)), RACK).candidates[0].bit
    assert best.shape == "flat"


def test_what_comes_up_to_the_top_or_does_not_close_is_no_outline_with_tabs() -> None:
    assert is_tabbed(tabbed(-4.5))
    assert not is_tabbed(tabbed(-0.02))
    assert not is_tabbed(tabbed(-4.5, closed=False))


def is_tabbed(lines: list[str]) -> bool:
    strokes = strokes_of(motion_of(lines))
    return bool(tabbed_chains(strokes, int(strokes.chain[-1]) + 1).any())
