"""Kinds of evidence, each on a program that has it and on one that lacks it."""

from __future__ import annotations

import math

import numpy as np
import pytest

import dryrun
from dryrun.fitting.chances import round_place, roundness
from dryrun.fitting.contact import contact_of
from dryrun.fitting.curves import curves_of
from dryrun.fitting.measures import Measures, measure
from dryrun.fitting.ranking import Candidate, fit_bits
from dryrun.fitting.strokes import strokes_of
from dryrun.job.model import Bit

from . import generator

RACK = generator.TYPICAL


def motion_of(lines: list[str], unit: str = "G21") -> dryrun.Motion:
    head = [f"{unit} G90 G17", "M3 S18000 F2000", "G0 X0 Y0 Z5"]
    return dryrun.read_program("\n".join([*head, *lines, "G0 Z5", "M30"]).encode()).motion


def measured(lines: list[str]) -> Measures:
    return measure(motion_of(lines))


def evidence(candidate: Candidate | None, kind: str) -> float:
    assert candidate is not None
    return math.fsum(e.log for e in candidate.evidence if e.kind == kind)


# ------------------------------------------------------------------------- contact


def wavy(x: float, y: float) -> tuple[float, float, float]:
    """A surface with its slopes; no hollow is sharper than 8 mm."""
    z = 1.5 * math.sin(0.28 * x) * math.cos(0.22 * y) - 2.0
    p = 1.5 * 0.28 * math.cos(0.28 * x) * math.cos(0.22 * y)
    q = -1.5 * 0.22 * math.sin(0.28 * x) * math.sin(0.22 * y)
    return z, p, q


def relief(radius: float, over: float, by_contact: bool) -> list[str]:
    """Rows over the surface: even in the points of contact, or even in the tip."""
    lines, there = [], True
    for y in np.arange(0, 24, over):
        xs = np.arange(0, 30, 0.5)
        for x in xs if there else xs[::-1]:
            z, p, q = wavy(x, y)
            s = math.sqrt(1 + p * p + q * q)
            # The tip of a ball that touches at (x, y): elementary geometry of parallel surfaces.
            to = (x - radius * p / s, y - radius * q / s, z + radius / s - radius)
            to = to if by_contact else (x, y, z)
            lines.append("G1 X{:.3f} Y{:.3f} Z{:.3f}".format(*to))
        there = not there
    return lines


@pytest.mark.parametrize("radius", [1.5, 3.0])
def test_even_contact_gives_the_radius(radius: float) -> None:
    """Points of contact laid evenly give the ball's radius within 3 %, and decide the ranking."""
    motion = motion_of(relief(radius, 0.4, by_contact=True))
    found = contact_of(strokes_of(motion))

    assert found is not None
    assert found.radius == pytest.approx(radius, rel=0.03)
    best = fit_bits(motion, RACK).candidates[0]
    assert best.bit.name == f"ball-{2 * radius:g}"
    assert any("steps evenly over the relief" in s for s in best.sentences)


def test_an_even_tip_says_nothing_about_the_ball() -> None:
    """A path that is even in the tip itself has no contact to measure."""
    motion = motion_of(relief(3.0, 0.4, by_contact=False))

    assert contact_of(strokes_of(motion)) is None
    assert all(e.kind != "contact" for c in fit_bits(motion, RACK).candidates for e in c.evidence)


# ------------------------------------------------------------------------- rings and ramps


def rings(radius: float, step: float, boss: float = 20.0) -> list[str]:
    """A ball around half a sphere of 20 mm at even heights, each ring on the sphere's offset."""
    lines = []
    for z in np.arange(2 * step, 9.0, step):
        ring = math.sqrt((boss + radius) ** 2 - (boss + radius - z) ** 2)
        lines += [f"G1 X{50 + ring:.3f} Y50", f"G1 Z{-z:.3f} F500"]
        lines += [f"G3 X{50 - ring:.3f} Y50 I{-ring:.3f} J0 F2000"]
        lines += [f"G3 X{50 + ring:.3f} Y50 I{ring:.3f} J0"]
    return lines


def test_rings_around_a_relief_are_for_a_ball() -> None:
    """Rings at even, small heights, each beside the last, are no outline of a flat bit."""
    motion = motion_of(rings(3.0, 0.5))
    ranking = fit_bits(motion, RACK)

    assert ranking.measures.modes["rings"] > 0.9
    assert ranking.measures.pass_depth == pytest.approx(0.5)
    assert ranking.candidates[0].bit.shape == "ball"


def test_an_outline_in_thin_passes_is_no_relief() -> None:
    """The same ring over and over, each pass a little deeper, stays an outline."""
    lines = []
    for z in np.arange(0.5, 6.1, 0.5):
        lines += ["G1 X70 Y50", f"G1 Z{-z:.3f}", "G3 X30 Y50 I-20 J0", "G3 X70 Y50 I20 J0"]

    assert measured(lines).modes["rings"] == 0.0


def test_a_steep_ramp_to_and_fro_is_no_carving() -> None:
    """A slot entered by steep ramps along itself is a level line, not a groove of a vee."""
    lines = ["G0 X10 Y10", "G1 Z0", "G1 X30 Z-4", "G1 X10 Z-8", "G1 X30", "G1 X10"]
    found = measured(lines)

    assert found.modes["carve"] == 0.0
    assert found.modes["line"] > 0.9


# ------------------------------------------------------------------------- places


def test_the_zero_is_the_roundest_place() -> None:
    """A wall at zero says more than one at a whole number, or one at an odd place."""
    assert round_place(0.0, "mm") > round_place(10.0, "mm") > round_place(3.137, "mm")
    assert round_place(-10.0, "mm") == pytest.approx(roundness(10.0, "mm"))


def outline(off: float) -> list[str]:
    """Around 83 by 58 mm whose corner is the zero, the path `off` outside it, in two passes."""
    lines = [f"G0 X{-off} Y{-off}"]
    for z in (3.1, 6.2):
        lines += [f"G1 Z{-z}", f"G1 Y{58 + off}", f"G1 X{83 + off}", f"G1 Y{-off}", f"G1 X{-off}"]
    return lines


@pytest.mark.parametrize(("diameter", "other"), [(6.0, "flat-6.35"), (12.0, "flat-6")])
def test_an_outline_from_the_zero_shows_the_radius(diameter: float, other: str) -> None:
    """With the right bit the walls are at zero and at whole sizes."""
    ranking = fit_bits(motion_of(outline(diameter / 2)), RACK)
    right = ranking.of(f"flat-{diameter:g}")

    assert evidence(right, "edges") > evidence(ranking.of(other), "edges") + 1.0
    assert right is not None
    assert any("round places, such as 0 mm" in s for s in right.sentences)


def face(past: float) -> list[str]:
    """Facing that runs past the zero on both sides."""
    lines, there = [f"G0 X{-past} Y0", "G1 Z-0.5"], True
    for n in range(14):
        lines += [f"G1 X{81.3 + past if there else -past}", f"G1 Y{(n + 1) * 2.9:.3f}"]
        there = not there
    return lines


def test_an_overrun_as_long_as_the_bit_is_wide_is_noticed() -> None:
    """Facing past the zero by 6.35 mm: the quarter-inch bit has its own width there."""
    ranking = fit_bits(motion_of(face(6.35)), RACK)
    own = {b.name: evidence(ranking.of(b.name), "own lengths") for b in RACK[:4]}

    assert own["flat-6.35"] > 2.0
    assert max(own["flat-6"], own["flat-12"]) < 0.5
    assert ranking.candidates[0].bit.name == "flat-6.35"
    plain = fit_bits(motion_of(face(7.21)), RACK)
    assert evidence(plain.of("flat-6.35"), "own lengths") < 0.5


def slots(apart: float, length: float = 47.3) -> list[str]:
    """Three parallel slots in two passes each."""
    lines = []
    for k in range(3):
        lines += [
            f"G0 X10.2 Y{10.4 + k * apart:.3f}",
            "G1 Z-2.1",
            f"G1 X{10.2 + length}",
            "G1 Z-4.2",
        ]
        lines += ["G1 X10.2", "G0 Z5"]
    return lines


def test_what_stays_between_slots_is_round_for_the_right_bit() -> None:
    """Webs of 15 mm between slots of 6.35 mm."""
    ranking = fit_bits(motion_of(slots(15 + 6.35)), RACK)
    right, other = ranking.of("flat-6.35"), ranking.of("flat-6")

    assert ranking.measures.gaps == pytest.approx((21.35, 21.35))
    assert evidence(right, "edges") > evidence(other, "edges") + 1.0


def test_the_widest_round_is_kept_among_many() -> None:
    """Ten rings one inside the other: the outermost follows the wall and is not dropped."""
    lines = ["G0 X50 Y50", "G1 Z-2"]
    for r in (*np.arange(2.2, 20, 2.2), 21.5):
        lines += [f"G1 X{50 + r:.3f}", f"G3 X{50 + r:.3f} Y50 I{-r:.3f} J0"]

    assert max(c.radius for c in curves_of(strokes_of(motion_of(lines)))) == pytest.approx(21.5)


# ------------------------------------------------------------------------- unit and depth


def test_millimetres_in_a_program_in_inches_are_noticed() -> None:
    """Walls at whole millimetres, written in inches, count as round in millimetres."""
    inch = [
        f"G1 X{x / 25.4:.4f} Y{y / 25.4:.4f} Z{z / 25.4:.4f}"
        for x, y, z in ((10, 10, -3), (47, 10, -3), (47, 33, -3), (10, 33, -6), (10, 71, -6))
    ]

    assert measure(motion_of(inch, "G20"), unit="in").drawn == "mm"
    own = [f"G1 X{x} Y{y} Z-.25" for x, y in ((0.5, 0.5), (2.25, 0.5), (2.25, 1.75), (0.5, 1.75))]
    assert measure(motion_of(own, "G20"), unit="in").drawn == "in"


def test_of_two_passes_the_first_is_the_whole_one() -> None:
    """A pass of 3.9 mm and a rest of 1.1 mm: the passes are 3.9 mm."""
    lines = ["G0 X0 Y0"]
    for z in (3.9, 5.0):
        lines += [f"G1 Z-{z}", "G1 X40", "G1 Y30", "G1 X0", "G1 Y0"]

    assert measured(lines).pass_depth == pytest.approx(3.9)


def test_a_deep_chamfer_is_for_a_point() -> None:
    """One pass around a plate, as deep as a 60 degree point needs for a chamfer of 2 mm."""
    depth = 2.0 / math.tan(math.radians(30))
    lines = ["G0 X5.3 Y5.3", f"G1 Z-{depth:.3f}", "G1 X85.3", "G1 Y65.3", "G1 X5.3", "G1 Y5.3"]
    ranking = fit_bits(motion_of(lines), RACK)

    assert ranking.candidates[0].bit.name == "vee-60"


def test_peck_drilling_does_not_name_the_thinnest_bit() -> None:
    """Straight down is slower than along: the feed of drilling speaks for no thinner bit."""
    lines = []
    for x in (10, 30, 50):
        lines += [f"G0 X{x} Y10", "G1 Z-3 F500", "G0 Z1", "G1 Z-6 F500", "G0 Z5"]
    ranking = fit_bits(motion_of(lines), RACK)

    assert ranking.verdict.startswith("cannot tell")
    assert evidence(ranking.of("flat-6"), "chip") > evidence(ranking.of("flat-3.175"), "chip") - 1.0


def test_bits_differ_in_shape_only_where_it_shows() -> None:
    """A pocket that a flat and a bull-nose bit of one diameter would cut alike stays open."""
    bull = Bit("bull", "bull", 6, corner_radius=1, flutes=2, flute_length=21)
    lines = ["G0 X3 Y3", "G1 Z-2.9"]
    for n in range(12):
        lines += [f"G1 X{57 if n % 2 == 0 else 3}", f"G1 Y{3 + (n + 1) * 2.6:.3f}"]
    ranking = fit_bits(motion_of(lines), (RACK[1], bull))

    assert ranking.of("bull").probability > 0.15


# ------------------------------------------------------------------------- shapes that speak


def test_corners_cleared_by_a_step_show_the_radius() -> None:
    """A step of (sqrt(2) - 1) R along the diagonal clears a square corner for a bit of 6.35 mm."""
    radius, step = 3.175, 3.175 * (1 - math.sqrt(0.5))
    a, b, c, d = 13.3 + radius, 11.7 + radius, 55.1 - radius, 38.9 - radius
    lines = []
    for z in (2.3, 4.6):
        lines += [f"G1 X{a} Y{b}", f"G1 Z-{z}"]
        for x, y, sx, sy in ((c, b, 1, -1), (c, d, 1, 1), (a, d, -1, 1), (a, b, -1, -1)):
            lines += [f"G1 X{x} Y{y}", f"G1 X{x + sx * step:.4f} Y{y + sy * step:.4f}"]
            lines += [f"G1 X{x} Y{y}"]
    ranking = fit_bits(motion_of(lines), RACK)

    assert ranking.measures.spurs == pytest.approx((radius * (math.sqrt(2) - 1),), abs=0.002)
    assert ranking.candidates[0].bit.name == "flat-6.35"
    assert any("clears square corners" in s for s in ranking.candidates[0].sentences)


def test_a_hexagon_is_measured_across_its_flats() -> None:
    """The path is 6.35 mm wider than a hexagon of 50 mm, in all three directions."""
    out = (50.0 + 6.35) / 2 / math.cos(math.pi / 6)
    angles = math.pi / 7 + np.arange(7) * math.pi / 3
    lines = []
    for z in (2.3, 4.6):
        ring = [f"G1 X{60 + out * math.cos(t):.4f} Y{60 + out * math.sin(t):.4f}" for t in angles]
        lines += [ring[0], f"G1 Z-{z}", *ring[1:]]
    ranking = fit_bits(motion_of(lines), RACK)

    assert ranking.measures.sizes[0] == pytest.approx(56.35, abs=0.002)
    right, other = ranking.of("flat-6.35"), ranking.of("flat-6")
    assert evidence(right, "edges") > evidence(other, "edges") + 0.7


def spiral(drop: float) -> list[str]:
    """A spiral of 0.5 mm over a dome, or on a level floor."""
    lines = []
    for t in np.arange(0, 2 * math.pi * 24, math.radians(9)):
        r = 0.5 * t / (2 * math.pi)
        z = -0.3 - drop * (40 - math.sqrt(40 * 40 - r * r))
        lines.append(f"G1 X{50 + r * math.cos(t):.3f} Y{50 + r * math.sin(t):.3f} Z{z:.3f}")
    return lines


def test_a_spiral_over_a_dome_is_a_relief() -> None:
    """It only falls, but its passes lie close beside each other: work for a ball."""
    dome = fit_bits(motion_of(spiral(1.0)), RACK)

    assert dome.measures.modes["relief"] > 0.9
    assert dome.candidates[0].bit.shape == "ball"
    assert measured(spiral(0.0)).modes["relief"] == 0.0


def test_ticks_of_a_scale_are_no_cleared_area() -> None:
    """Sixty short strokes, as far apart as passes would be, but each a cut of its own."""
    lines = []
    for t in np.arange(60) * math.pi / 30:
        x, y = math.cos(t), math.sin(t)
        lines += ["G0 Z5", f"G0 X{80 + 35 * x:.3f} Y{80 + 35 * y:.3f}", "G1 Z-0.3"]
        lines += [f"G1 X{80 + 32 * x:.3f} Y{80 + 32 * y:.3f}"]
    ranking = fit_bits(motion_of(lines), RACK)

    assert ranking.measures.modes["area"] < 0.1
    chances = {s: sum(c.probability for c in ranking.candidates if c.bit.shape == s)
               for s in ("vee", "flat")}  # fmt: skip
    assert chances["vee"] > 0.5 > 0.1 > chances["flat"]
