"""Loops, lines that come up, circles along grooves, leads and rings of many heights."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

import dryrun
from dryrun.fitting.circles import Widening, widenings_of
from dryrun.fitting.loops import loops_of
from dryrun.fitting.measures import measure
from dryrun.fitting.models_uneven import widening
from dryrun.fitting.rises import rises_of, rising_lines
from dryrun.fitting.strokes import Strokes, strokes_of
from dryrun.job.model import Bit


def motion(lines: list[str]) -> dryrun.Motion:
    text = "\n".join(["G21 G90 G17", "S18000 M3", "G0 Z5", *lines, "G0 Z5", "M30", ""])
    return dryrun.read_program(text.encode()).motion


def strokes(lines: list[str]) -> Strokes:
    return strokes_of(motion(lines))


@pytest.mark.parametrize("degrees", [30.0, 60.0, 90.0, 120.0])
def test_circles_between_two_arcs_give_the_angle(degrees: float) -> None:
    """The circle at u along a leaf between arcs of radius R is R - hypot(u, R - half) wide."""
    t, big, half = math.tan(math.radians(degrees) / 2), 20.0, 3.0
    long = math.sqrt(big**2 - (big - half) ** 2)
    lines = []
    for n, u in enumerate(np.linspace(-long, long, 31)):
        depth = max(0.0, big - math.hypot(u, big - half)) / t
        lines.append(f"G{1 if n else 0} X{u:.3f} Y7" + (f" Z{-depth:.3f} F500" if n else ""))
        lines += [] if n else ["G1 Z0 F200"]
    found = widenings_of(strokes(lines))
    assert found
    assert all(abs(w.square / t**2 - 1) < 0.05 for w in found)


def test_stretches_that_fit_no_vee_do_not_speak_for_other_shapes() -> None:
    """They may lie between other curves; those that fit speak for their vee."""
    plain = measure(motion(["G0 X0 Y0", "G1 Z-1 F200", "G1 X20 F500"]))
    sixty = Bit("sixty", "vee", 12.0, angle=math.radians(60))
    ninety = Bit("ninety", "vee", 12.0, angle=math.radians(90))
    ball = Bit("ball", "ball", 6.0)

    def logs(square: float) -> list[float]:
        found = replace(plain, widenings=(Widening(square, 0.01),) * 4)
        told = [widening(found, bit, None) for bit in (sixty, ninety, ball)]
        return [evidence.log for evidence in told if evidence is not None]

    assert np.ptp(logs(6.0)) < 1e-9
    for square, best in ((1 / 3, 0), (1.0, 1)):
        of_each = logs(square)
        assert int(np.argmax(of_each)) == best
        assert of_each[best] > of_each[2] + 1


def test_even_falls_say_nothing_about_the_angle() -> None:
    """Between straight sides the circle widens evenly, for any angle."""
    lines = ["G0 X0 Y0", "G1 Z0 F200"]
    lines += [f"G1 X{k} Y{0.5 * k} Z{-0.2 * k:.3f}" for k in range(1, 20)]
    assert widenings_of(strokes(lines)) == ()


def test_loops_along_a_slot() -> None:
    lines = ["G0 X0 Y2", "G1 Z-3 F300"]
    for k in range(20):
        lines += [f"G2 X{0.5 * k:g} Y2 I0 J-2", f"G1 X{0.5 * (k + 1):g} Y2"]
    found = loops_of(strokes(lines))
    assert found is not None
    assert found.radius == pytest.approx(2.0, abs=0.005)
    assert found.bite == pytest.approx(0.5, abs=0.01)
    holes = [s for k in range(20) for s in
             ("G0 Z5", f"G0 X{20 * k} Y2", "G1 Z-3", f"G2 X{20 * k} Y2 I0 J-2")]  # fmt: skip
    assert loops_of(strokes(holes)) is None


def test_lines_that_come_up_at_their_end() -> None:
    flute = ["G0 X0 Y0", "G1 Z0 F300", "G1 X10 Z-2", "G1 X60", "G1 X70 Z0"]
    found = strokes(flute)
    assert rising_lines(found).all()
    assert rises_of(found) == 1
    ramped = ["G0 X0 Y0", "G1 Z0 F300", "G1 X10 Z-2", "G1 X60", "G0 Z5"]
    assert not rising_lines(strokes(ramped)).any()
    bisector = ["G0 X0 Y0", "G1 Z-2 F300", "G1 X60", "G1 X62 Y2 Z0"]
    assert not rising_lines(strokes(bisector)).any()


def test_arcs_that_lead_in_are_no_corners() -> None:
    lines = ["G0 X-3 Y-3", "G1 Z-2 F300", "G3 X0 Y0 I0 J3", "G1 X40", "G3 X45 Y5 I0 J5",
             "G1 Y40", "G2 X48 Y43 I3 J0"]  # fmt: skip
    assert [round(c.radius, 2) for c in measure(motion(lines)).curves] == [5.0]


def test_rings_each_at_its_own_height_follow_a_relief() -> None:
    lines = []
    for k in range(20):
        r = 15 - 0.6 * k
        z = -0.2 - 0.02 * k * k - 0.3 * k
        lines += ["G0 Z5", f"G0 X{r:.3f} Y0", f"G1 Z{z:.3f} F300", f"G2 X{r:.3f} Y0 I{-r:.3f} J0"]
    found = measure(motion(lines))
    assert found.modes["relief"] > 0.6
    assert found.fine_spacing is not None
    assert found.fine_spacing.distance == pytest.approx(0.6, abs=0.01)
