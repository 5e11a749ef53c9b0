"""The removal room against things outside it.

The slow reference beside this file, closed forms and worked examples of published handbooks, solids
swept and subtracted by manifold3d, and areas from shapely.
"""

from __future__ import annotations

import math
import os
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from dryrun.job.model import Bit
from dryrun.motion import Motion
from dryrun.removal.simulate import remove
from dryrun.removal.surface import Surface
from tests.removal.reference import (
    BITS,
    Fine,
    arc,
    blank,
    facts_by_row,
    line,
    motion_table,
    place_on_row,
    polyline,
    row_length,
    surface_after,
    surface_near,
)

JIT_OFF = os.environ.get("NUMBA_DISABLE_JIT") == "1"
LONG = os.environ.get("DRYRUN_LONG") == "1"
TOLERANCE = 0.002  # mm
HAIR = 1e-4  # mm; a place is not told from one so near (it matters at upright walls)
TURN = 2 * math.pi


def centres(surface: Surface) -> tuple[np.ndarray, np.ndarray]:
    ny, nx = surface.height.shape
    x = surface.origin[0] + surface.cell * np.arange(nx)
    y = surface.origin[1] + surface.cell * np.arange(ny)
    grid_x, grid_y = np.meshgrid(x, y)
    return grid_x, grid_y


def assert_heights(surface: Surface, motion: Motion, bit: Bit, cuts: bool = True) -> None:
    """Compare every cell with the reference; a failure tells the worst cell."""
    x, y = centres(surface)
    expected = surface_after(motion, bit, x, y, 0.0)
    off = np.abs(surface.height - expected)
    wrong = off > TOLERANCE
    if wrong.any():
        low, high = surface_near(motion, bit, x[wrong], y[wrong], 0.0, HAIR)
        found = surface.height[wrong]
        off[wrong] = np.maximum(np.maximum(low - found, found - high), 0.0)
    if (off > TOLERANCE).any():
        j, i = np.unravel_index(off.argmax(), off.shape)
        pytest.fail(
            f"{(off > TOLERANCE).sum()} cells off; worst at ({x[j, i]:.4f}, {y[j, i]:.4f}): "
            f"{surface.height[j, i]:.6f} mm, reference {expected[j, i]:.6f} mm"
        )
    assert not cuts or expected.min() < -0.5, "the case must cut something"
    assert wrong.mean() < 0.02, "only walls may need a second look"


# --------------------------------------------------------------------------------------------
# Heights, every shape along every kind of path
# --------------------------------------------------------------------------------------------

PATHS = {
    "level": polyline([(-8.03, 1.21, -2.0), (9.11, -2.37, -2.0)]),
    "along x": polyline([(-8.03, 1.21, -2.0), (9.11, 1.21, -1.0)]),
    "along y": polyline([(1.21, 8.03, -2.0), (1.21, -9.11, -2.2)]),
    "shallow ramp": polyline([(-8.03, 1.21, 0.5), (9.11, -2.37, -2.0)]),
    "rising": polyline([(-4.03, -3.21, -6.0), (5.11, 2.37, 1.0)]),
    "as steep as a cone": polyline([(-1.03, 0.21, 1.0), (2.11, -1.37, -5.5)]),
    "nearly upright": polyline([(0.513, 0.421, 1.0), (0.613, 0.381, -5.5)]),
    "nearly level": polyline([(-6.03, 1.21, -2.0), (6.11, -2.37, -2.0001)]),
    "plunge": polyline([(0.513, 0.421, 1.0), (0.513, 0.421, -5.5)]),
    "retract": polyline([(0.513, 0.421, -4.5), (0.513, 0.421, 1.0)]),
    "hair's breadth": polyline([(0.513, 0.421, -4.5), (0.51301, 0.42101, -4.50001)]),
    "zigzag": polyline(
        [(-9, -5, 0.2), (8, -4, -1.5), (8.3, -1.5, -3), (-7, 1.5, -0.5), (-7, 4, -3.3), (9, 6, -1)]
    ),
    "level arc": motion_table([arc((0.3, -0.2, -2.0), 7.3, 0.4, 2.9, 2)]),
    "level arc, clockwise": motion_table([arc((0.3, -0.2, -2.0), 7.3, 0.4, -4.4, 2)]),
    "level full circle": motion_table([arc((0.3, -0.2, -2.0), 6.1, 1.4, TURN, 2)]),
    "level tight arc": motion_table([arc((0.3, -0.2, -2.0), 1.1, 0.4, 4.0, 2)]),
    "helix": motion_table([arc((0.3, -0.2, 0.5), 7.3, 0.4, 3.9, 2, rise=-4.0)]),
    "rising helix": motion_table([arc((0.3, -0.2, -4.5), 5.3, 2.4, -2.9, 2, rise=4.0)]),
    "tight helix": motion_table([arc((0.3, -0.2, 0.5), 1.7, 0.4, 5.9, 2, rise=-4.0)]),
    "steep tight helix": motion_table([arc((0.3, -0.2, 0.5), 0.6, 0.4, -1.9, 2, rise=-5.0)]),
    "helix of three turns": motion_table(
        [arc((0.3, -0.2, 0.5), 2.6, 0.4, 3.2 * TURN, 2, rise=-4.0)]
    ),
    "dip in YZ": motion_table([arc((0.35, 0.11, 2.0), 5.5, 3.6, 2.2, 0)]),
    "hump in YZ": motion_table([arc((0.35, 0.11, -7.0), 6.0, 0.5, 2.0, 0)]),
    "screw along X": motion_table([arc((-6.35, 0.11, 2.0), 5.5, 3.6, 2.2, 0, rise=11.0)]),
    "full circle in YZ": motion_table([arc((0.35, 0.11, -1.0), 3.0, 0.3, TURN, 0)]),
    "dip in XZ": motion_table([arc((0.35, 0.11, 2.0), 5.5, 0.5, 2.2, 1)]),
    "hump in XZ": motion_table([arc((0.35, 0.11, -7.0), 6.0, -0.6, -1.9, 1)]),
    "screw along Y": motion_table([arc((0.35, 6.11, 2.0), 5.5, 3.2, -3.2, 1, rise=-12.0)]),
    "small bend in XZ": motion_table([arc((0.35, 0.11, -2.0), 0.4, 0.7, 1.8, 1)]),
}


#: Along these there is no closed form for some shapes, and a search in double precision takes long.
SLOW_PATHS = ("helix of three turns", "rising helix", "screw along X", "hump in XZ")


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("bit", BITS)
def test_heights_are_the_lowest_underside_over_the_cell_centre(bit: str, path: str) -> None:
    """Every shape along every path leaves the reference's surface within 2 µm."""
    if JIT_OFF and (sorted(BITS).index(bit) + list(PATHS).index(path)) % 6:
        pytest.skip("one case in six without the compiler")
    if JIT_OFF and path in SLOW_PATHS and bit.startswith(("form", "bull")):
        pytest.skip("up to two minutes without the compiler")
    surface = Surface.blank(blank(28.3, 26.1, 20.0), cell=1.3 if JIT_OFF else 0.7)
    remove(surface, PATHS[path], BITS[bit])

    assert_heights(surface, PATHS[path], BITS[bit])


@pytest.mark.parametrize(
    "drop", [0.4, *(pytest.param(drop, marks=pytest.mark.jit_only) for drop in (0.0, -0.4))]
)
def test_a_cutter_lowest_on_a_circle_cuts_behind_where_it_sets_out(drop: float) -> None:
    """Its tooth passes over what lay nearer to the axis when the plunge before ended.

    The blocks behind that place must not be left to the plunge, so they are small here.
    """
    motion = polyline([(0.013, 0.021, 1), (0.013, 0.021, -2), (3.1, 0.3, -2 - drop)])
    surface = Surface.blank(blank(11.0, 8.0, 9.0), cell=0.13)
    remove(surface, motion, BITS["form-crowned"])

    assert_heights(surface, motion, BITS["form-crowned"])


@pytest.mark.parametrize("name", BITS)
def test_a_cut_off_the_edge_of_the_blank_cuts_what_lies_over_it(name: str) -> None:
    """Paths that come from outside, leave, or pass beside the blank cut what lies over it."""
    if JIT_OFF and name in ("bull", "form-crowned", "form-hollow", "form-stepped"):
        pytest.skip("a quarter of a minute without the compiler")
    motion = motion_table(
        [
            line((-30.0, -7.0, -1.0), (3.0, 2.0, -2.0)),
            line((3.0, 2.0, -2.0), (3.0, 40.0, -2.0)),
            line((-30.0, 9.5, -3.0), (30.0, 9.5, -3.0)),
            arc((14.0, -9.0, -2.5), 4.0, 0.0, TURN, 2, rise=-0.5),
        ]
    )
    surface = Surface.blank(blank(20.0, 16.0, 20.0), cell=1.1 if JIT_OFF else 0.4)
    remove(surface, motion, BITS[name])

    assert_heights(surface, motion, BITS[name])


# --------------------------------------------------------------------------------------------
# Random jobs of several rows
# --------------------------------------------------------------------------------------------


def random_job(random: np.random.Generator) -> Motion:
    """Some rows, mostly each from where the last one ended: lines of all kinds, plunges, arcs."""
    rows = []
    at = np.array([*random.uniform(-7, 7, 2), random.uniform(-4, 1)])
    for _ in range(random.integers(3, 9)):
        kind = random.choice(["any", "level", "upright", "along", "level arc", "helix", "arc"])
        if kind in ("any", "level", "upright", "along"):
            step = random.normal(size=3) * (4.0, 4.0, 1.0) * random.choice([0.02, 0.2, 1.0])
            if kind == "level":
                step[2] = 0.0
            elif kind == "upright":
                step[:2] = 0.0
            elif kind == "along":
                step[random.integers(2)] = 0.0
            to = at + step
            to[2] = np.clip(to[2], -7.0, 2.0)
            rows.append(line(at, to))
        else:
            axis = int(random.integers(3)) if kind == "arc" else 2
            radius, begin = float(random.choice([0.4, 1.5, 4.0])), random.uniform(0, TURN)
            sweep = random.uniform(-7, 7) if axis == 2 else random.uniform(-2, 2)
            centre = at.copy()
            centre[(axis + 1) % 3] -= radius * math.cos(begin)
            centre[(axis + 2) % 3] -= radius * math.sin(begin)
            rise = 0.0 if kind == "level arc" else random.normal() * 1.5
            rows.append(arc(centre, radius, begin, sweep, axis, rise) | {"start": tuple(at)})
            to = np.array(rows[-1]["end"])
        at = to
        if random.random() < 0.15:
            at = np.array([*random.uniform(-7, 7, 2), random.uniform(-4, 1)])
    return motion_table(rows)


@pytest.mark.parametrize("name", BITS)
def test_random_jobs_leave_the_surface_of_the_reference(name: str) -> None:
    """Joined lines, plunges and arcs in any order, any cell, tile and number of threads."""
    if JIT_OFF and name in ("bull", "form-hollow"):
        pytest.skip("ten seconds without the compiler")
    random = np.random.default_rng(sorted(BITS).index(name))
    jobs = 400 if LONG else 1 if JIT_OFF else 25
    for _ in range(jobs):
        motion = random_job(random)
        cell = 2.3 if JIT_OFF else float(random.choice([0.5, 0.8, 1.27]))
        surface = Surface.blank(blank(*random.uniform(14, 26, 2), 40.0), cell=cell)
        threads, tile = int(random.integers(1, 3)), int(random.choice([32, 64, 128, 256]))
        remove(surface, motion, BITS[name], threads=threads, tile=tile)
        assert_heights(surface, motion, BITS[name], cuts=False)


# --------------------------------------------------------------------------------------------
# Single heights of the swept surface
# --------------------------------------------------------------------------------------------

# Heights in mm of surfaces swept along an inclined line of slope m that starts at the origin, at
# a point u along it and w beside it. The geometry is that of Chung, Park, Shin and Choi 1998,
# "Modeling the surface swept by a generalized cutter for NC verification", Computer-Aided Design
# 30(8) (title from memory); the numbers were worked out from the envelope formulas for this test
# and agree with a search over the path to 1e-9 mm.
INCLINED = [
    (Bit("flat", "flat", 6.0), -0.2, 8.0, 1.5, -2.119615242270663),
    (Bit("ball", "ball", 6.0), -0.3, 10.0, 1.2, -2.8706096913373647),
    (Bit("vee", "vee", 12.0, angle=math.radians(60), tip=1.0), 0.5, 9.0, 0.3, 4.3),
    (Bit("vee", "vee", 12.0, angle=math.radians(60), tip=1.0), 0.5, 9.0, 0.9, 5.126455751875492),
    (Bit("bull", "bull", 6.0, corner_radius=1.0), 0.4, 10.0, 2.2, 3.6457436840596267),
    (
        Bit("taper", "taper-ball", 3.0, angle=math.radians(5), tip_radius=0.5),
        -0.25, 9.0, 0.2, -2.2223610906922797,
    ),
    (
        Bit("taper", "taper-ball", 3.0, angle=math.radians(5), tip_radius=0.5),
        -0.25, 9.0, 0.8, 1.6549977411368761,
    ),
]  # fmt: skip


@pytest.mark.parametrize(("bit", "slope", "u", "w", "expected"), INCLINED)
@pytest.mark.parametrize("heading", [0.0, 1.1, 2.6, math.pi, -1.9])
def test_published_geometry_of_an_inclined_sweep(
    bit: Bit, slope: float, u: float, w: float, expected: float, heading: float
) -> None:
    """A cell centre at (u, w) from an inclined line has the height of the envelope formula."""
    surface = Surface.blank(blank(9.0, 9.0, 30.0), cell=1.0)
    x, y = centres(surface)
    j, i = 4, 4
    c, s = math.cos(heading), math.sin(heading)
    low = -12.0
    start = (x[j, i] - u * c + w * s, y[j, i] - u * s - w * c, low)
    end = (start[0] + 20 * c, start[1] + 20 * s, low + 20 * slope)
    remove(surface, polyline([start, end]), bit)

    assert surface.height[j, i] == pytest.approx(low + expected, abs=2e-5)


@pytest.mark.parametrize(("bit", "slope", "u", "w", "expected"), INCLINED)
def test_the_reference_itself_meets_the_published_geometry(
    bit: Bit, slope: float, u: float, w: float, expected: float
) -> None:
    """The slow reference gives the same heights, to a nanometre."""
    motion = polyline([(0, 0, 0), (20, 0, 20 * slope)])

    assert surface_after(motion, bit, u, w, 99.0) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("bit", "expected"),
    [
        (Bit("ball", "ball", 6.0), 0.1683605335310543),
        (Bit("vee", "vee", 12.0, angle=math.radians(90)), 0.99886298800448),
    ],
)
@pytest.mark.parametrize("sweep", [2.4, -2.4])
def test_height_beside_a_helix(bit: Bit, expected: float, sweep: float) -> None:
    """Eleven mm from the axis of a helix of radius 10, 0.5 mm/rad, the formula's height is met.

    Envelope geometry as for the inclined lines, minimum over the helix found in closed form.
    """
    surface = Surface.blank(blank(9.0, 9.0, 30.0), cell=1.0)
    x, y = centres(surface)
    rise = 0.5 * abs(sweep)
    at_own_angle = -4.0
    centre = (x[4, 4] - 11.0, y[4, 4], at_own_angle - rise / 2)
    remove(surface, motion_table([arc(centre, 10.0, -sweep / 2, sweep, 2, rise=rise)]), bit)

    assert surface.height[4, 4] == pytest.approx(at_own_angle + expected, abs=2e-5)


def test_sag_between_the_cells_of_a_ball_groove() -> None:
    """Half a cell beside the bottom of a level groove the field is c²/8R higher, as a circle is.

    Circular segment of Machinery's Handbook, 31st ed., Industrial Press 2020, p. 79: height
    R - sqrt(R² - (c/2)²).
    """
    surface = Surface.blank(blank(8.0, 8.0, 10.0), cell=0.1)
    _, y = centres(surface)
    between = (y[40, 0] + y[41, 0]) / 2
    remove(surface, polyline([(-2, between, -1), (2, between, -1)]), Bit("ball", "ball", 6.0))

    assert surface.height.min() + 1.0 == pytest.approx(0.000416695605871098, abs=2e-6)


# --------------------------------------------------------------------------------------------
# Volumes
# --------------------------------------------------------------------------------------------


def removed(surface: Surface, motion: Motion, bit: Bit) -> float:
    """Volume of all rows by the facts, held equal to what the surface lost."""
    before = surface.removed_mm3
    volume = float(remove(surface, motion, bit).removed_mm3.sum())
    assert volume == pytest.approx(surface.removed_mm3 - before, rel=1e-9)
    return volume


R, L, HEADING = 3.0, 20.0, 0.3


def sloping_row(z0: float, z1: float, length: float = L, heading: float = HEADING) -> Motion:
    along = np.array([math.cos(heading), math.sin(heading)]) * length / 2
    shift = np.array([0.0137, 0.0211])
    return polyline([(*(shift - along), z0), (*(shift + along), z1)])


CLOSED_FORMS = {
    # prism and half discs at both ends
    "flat slot": (BITS["flat"], sloping_row(-2, -2), (2 * R * L + math.pi * R**2) * 2),
    # the swept height is linear along each chord of the disc
    "flat ramp": (BITS["flat"], sloping_row(0, -2), 2 * (R * L + math.pi * R**2)),
    # circular segment times length, and a spherical cap: Machinery's Handbook, 31st ed., 2020,
    # pp. 50 and 91
    "ball groove": (
        BITS["ball"],
        sloping_row(-1, -1),
        L * (R**2 * math.acos(1 - 1 / R) - (R - 1) * math.sqrt(2 * R - 1))
        + math.pi * (3 * R - 1) / 3,
    ),
    # triangle times length, and a cone: Machinery's Handbook, 31st ed., 2020, p. 90
    "vee groove": (
        BITS["vee"],
        sloping_row(-3, -3),
        9 * math.tan(math.pi / 6) * L + math.pi * 27 * math.tan(math.pi / 6) ** 2 / 3,
    ),
    # a disc and a quarter of a torus: Pappus-Guldin, Machinery's Handbook, 31st ed., 2020 (from
    # memory that it is there)
    "bull plunge": (
        BITS["bull"],
        polyline([(0.013, 0.021, 1), (0.013, 0.021, -1)]),
        math.pi * 2**2 + (math.pi / 4) * 2 * math.pi * (2 + 4 / (3 * math.pi)),
    ),
}


@pytest.mark.jit_only
@pytest.mark.parametrize("case", CLOSED_FORMS)
def test_volume_of_a_closed_form(case: str) -> None:
    """Volumes at 0.1 mm cells are within 0.2 % of their closed forms."""
    bit, motion, expected = CLOSED_FORMS[case]
    surface = Surface.blank(blank(34.0, 20.0, 12.0), cell=0.1)

    assert removed(surface, motion, bit) == pytest.approx(expected, rel=0.002)


# Worked examples of Machinery's Handbook, 31st ed., Industrial Press 2020; its inches and
# centimetres are taken as mm here, which changes no digit.
HANDBOOK = {
    "p. 89, cylinder of diameter 2.5 and height 20": (
        Bit("flat", "flat", 2.5), polyline([(0.013, 0.021, 0), (0.013, 0.021, -20)]), 98.17, 0.02,
    ),
    "p. 90, cone of diameter 6 and height 4": (
        Bit("vee", "vee", 6.0, angle=2 * math.atan(3 / 4)),
        polyline([(0.013, 0.021, 0), (0.013, 0.021, -4)]), 37.7, 0.05,
    ),
    "p. 91, spherical segment of height 50 and chord 125": (
        Bit("ball", "ball", 128.125),
        polyline([(0.013, 0.021, 0), (0.013, 0.021, -50)]), 372247.0, 0.4,
    ),
    "p. 90, hollow cylinder of 36 outside, wall 4, height 28": (
        Bit("flat", "flat", 4.0),
        motion_table([arc((0.013, 0.021, -28), 16.0, 0.4, TURN, 2)]), 11259.5, 0.05,
    ),
    "p. 79, ring of 12 outside and 8 inside": (
        Bit("flat", "flat", 2.0),
        motion_table([arc((0.013, 0.021, -1), 5.0, 0.4, -TURN, 2)]), 62.83, 0.03,
    ),
}  # fmt: skip


@pytest.mark.jit_only
@pytest.mark.parametrize("example", HANDBOOK)
def test_volume_of_a_worked_example(example: str) -> None:
    """Volumes of the handbook's worked examples come out within 0.2 %."""
    bit, motion, expected, cell = HANDBOOK[example]
    reach = math.hypot(*motion.start[0, :2]) + bit.radius + 1
    surface = Surface.blank(blank(2 * reach, 2 * reach, 60.0), cell=cell)

    assert removed(surface, motion, bit) == pytest.approx(expected, rel=0.002)


def test_chord_of_a_circular_segment() -> None:
    """A ball of radius 60 sunk 8 deep leaves a crater 59.86 across, within a cell.

    Machinery's Handbook, 31st ed., Industrial Press 2020, p. 79 (radius 60, height 8).
    """
    surface = Surface.blank(blank(80.0, 6.0, 20.0), cell=0.25)
    remove(surface, polyline([(0, 0.125, 0), (0, 0.125, -8)]), Bit("ball", "ball", 120.0))
    across = (surface.height < 0).sum(axis=1).max() * 0.25

    assert across == pytest.approx(59.86, abs=0.25)


@pytest.mark.jit_only
@pytest.mark.parametrize("diameter", [6.0, 6.35, 3.175, 3.0])
@pytest.mark.parametrize("phase", [0.0, 0.05, 0.0213])
@pytest.mark.parametrize("along", ["x", "y", "slantwise"])
def test_a_slot_of_a_hundred_millimetres(diameter: float, phase: float, along: str) -> None:
    """A straight slot 100 mm long and 2 mm deep at 0.1 mm cells has its volume within 0.5 %.

    However the slot lies on the grid: on the cells' centres, on their borders and between.
    Prism and two half cylinders.
    """
    heading = {"x": 0.0, "y": math.pi / 2, "slantwise": 0.3}[along]
    c, s = 50 * math.cos(heading), 50 * math.sin(heading)
    motion = polyline([(phase - c, phase - s, -2), (phase + c, phase + s, -2)])
    surface = Surface.blank(blank(112.0, 112.0, 10.0), cell=0.1)
    bit = Bit("flat", "flat", diameter)
    exact = (diameter * 100 + math.pi * diameter**2 / 4) * 2

    assert remove(surface, motion, bit).removed_mm3.sum() == pytest.approx(exact, rel=0.005)


QUADRATURE = [("drill", "helix")]
QUADRATURE += [(name, "screw along X") for name in ("flat", "taper-ball", "form-hollow")]
if LONG:
    QUADRATURE += [(name, "helix") for name in ("flat", "taper-ball", "form-hollow")]
    QUADRATURE += [("form-stepped", path) for path in ("helix", "screw along X")]
    QUADRATURE += [("drill", "screw along X")]


@pytest.mark.jit_only
@pytest.mark.parametrize(("name", "path"), QUADRATURE)
def test_volume_against_quadrature(name: str, path: str) -> None:
    """Volumes at 0.1 mm cells agree with the reference's own, finer grid within 0.2 %."""
    surface = Surface.blank(blank(28.3, 26.1, 20.0), cell=0.1)
    fine = Fine.over((-14.15, -13.05), (14.15, 13.05), 0.07)
    after = surface_after(PATHS[path], BITS[name], fine.x, fine.y, 0.0)

    assert removed(surface, PATHS[path], BITS[name]) == pytest.approx(
        -after.sum() * fine.area(), rel=0.002
    )


# --------------------------------------------------------------------------------------------
# Facts of a row
# --------------------------------------------------------------------------------------------

CELL = 0.8 if JIT_OFF else 0.2

PASSES = {
    "slot and three steps over": polyline(
        [(-8, -4.03, -2), (8, -4, -2), (8, -1.61, -2), (-8, -1.6, -2), (-8, 0.8, -3), (8, 0.83, -3)]
    ),
    "down a ramp and back": polyline([(-8, 1.03, 0), (8, -2.01, -2), (-8.02, 1, -4)]),
    "helix and its floor": motion_table(
        [arc((0.3, -0.2, 0), 5.0, 0.4, TURN, 2, rise=-2.0), arc((0.3, -0.2, -2), 5.0, 0.4, TURN, 2)]
    ),
}


def steepest_of(bit: Bit) -> float:
    """How much a flank rises in a cell's length, at least 1."""
    return max(1.0, 1 / math.tan(bit.angle / 2)) if bit.angle else 1.0


@pytest.mark.parametrize("case", PASSES)
@pytest.mark.parametrize("name", ["flat", "ball", "bull", "vee", "form-stepped"])
def test_facts_of_each_row(name: str, case: str) -> None:
    """Volume, axial depth and lowest point of each row follow the reference within a cell."""
    if JIT_OFF and case == "helix and its floor" and name.startswith(("form", "bull")):
        pytest.skip("minutes without the compiler")
    motion, bit = PASSES[case], BITS[name]
    surface = Surface.blank(blank(28.0, 24.0, 20.0), cell=CELL)
    facts = remove(surface, motion, bit)
    fine = Fine.over((-14, -12), (14, 12), CELL)
    expected = facts_by_row(motion, bit, fine, 0.0)

    for row, want in enumerate(expected):
        # cells on upright walls, about 40 mm of them: the reference takes all or nothing of each
        slack = 0.003 * want.removed_mm3 + 2 * CELL**2 * math.sqrt(40 / CELL) * want.axial + 1e-3
        assert facts.removed_mm3[row] == pytest.approx(want.removed_mm3, abs=slack)
        # at the end of a row the column counts that it would take if it went on
        over = facts.axial[row] - want.axial
        assert -max(0.003, CELL * 0.02) <= over <= CELL * steepest_of(bit)
        assert facts.lowest[row] == pytest.approx(want.lowest, abs=1e-9)


def in_short_moves(motion: Motion, length: float) -> tuple[Motion, np.ndarray]:
    """Rows cut into moves of about this length, and which row each is of."""
    rows, of = [], []
    for row in range(len(motion)):
        count = max(1, math.ceil(row_length(motion, row) / length))
        at = place_on_row(motion, row)(np.linspace(0.0, 1.0, count + 1))
        for a, b in pairwise(at):
            rows.append(line(a, b))
            of.append(row)
    return motion_table(rows), np.array(of)


STEPS_DOWN = {
    "slot in two passes": polyline(
        [(-25, 0.03, -2), (25, 0, -2), (25, 0, -3.5), (-25, 0.03, -3.5)]
    ),
    "step over beside a slot": polyline([(-25, 0.03, -3), (25, 0, -3), (25, 2, -3), (-25, 2, -3)]),
    "up and down a wave": polyline([(-25, 0, -1), (0, 0.5, -3), (25, 1, -1.5)]),
    "ring": motion_table([arc((0.3, -0.2, -2), 6.0, 0.4, TURN, 2)]),
}


@pytest.mark.parametrize("case", STEPS_DOWN)
@pytest.mark.parametrize("name", ["flat", "ball", "bull", "vee", "form-round"])
def test_axial_depth_is_that_of_the_pass_however_short_its_moves(name: str, case: str) -> None:
    """A pass in moves of 0.7 mm has the axial depth that it has in one move, which is the twin's.

    The twin: tallest column of each long row. No short move in full material shows less than its
    own way would have cut in one go.
    """
    motion, bit = STEPS_DOWN[case], BITS[name]
    long = remove(Surface.blank(blank(28.0, 24.0, 20.0), cell=CELL), motion, bit)
    pieces, of = in_short_moves(motion, 2.4 if JIT_OFF else 0.7)
    short = remove(Surface.blank(blank(28.0, 24.0, 20.0), cell=CELL), pieces, bit)
    want = facts_by_row(motion, bit, Fine.over((-14, -12), (14, 12), CELL), 0.0)

    for row in range(len(motion)):
        deepest = short.axial[of == row].max()
        slack = CELL * steepest_of(bit)
        assert long.axial[row] == pytest.approx(want[row].axial, abs=slack)
        assert deepest == pytest.approx(want[row].axial, abs=slack)


@pytest.mark.parametrize("name", ["flat", "ball", "bull", "vee", "form-round"])
def test_axial_depth_of_a_plunge_does_not_depend_on_how_it_is_cut_into_moves(name: str) -> None:
    """A plunge of 5 in one move and in four; a retract between two makes each count by itself."""

    def plunge(*heights: float) -> np.ndarray:
        motion = polyline([(0.0137, 0.0137, height) for height in heights])
        return remove(Surface.blank(blank(28.0, 24.0, 20.0), cell=CELL), motion, BITS[name]).axial

    slack = CELL * steepest_of(BITS[name])
    assert plunge(1.0, -5.0)[0] == pytest.approx(5.0, abs=slack)
    assert plunge(1.0, -0.5, -2.0, -3.5, -5.0) == pytest.approx([0.5, 2.0, 3.5, 5.0], abs=slack)
    assert plunge(1.0, -2.0, -1.0, -5.0) == pytest.approx([2.0, 0.0, 3.0], abs=slack)


@pytest.mark.parametrize("name", ["flat", "ball", "bull", "vee", "form-round"])
@pytest.mark.parametrize("slope", [1.2, 3.0])
def test_axial_depth_of_a_steep_move_cut_into_moves_has_a_bound(name: str, slope: float) -> None:
    """The depths of its parts add up to that of the whole; the largest is the n-th part or more."""
    points = np.linspace((-2.0, 0.0137, 0.5), (-2.0 + 5.5 / slope, 0.0137, -5.0), 6)

    def ramp(places: np.ndarray) -> np.ndarray:
        motion = polyline([tuple(float(v) for v in place) for place in places])
        return remove(Surface.blank(blank(28.0, 24.0, 20.0), cell=CELL), motion, BITS[name]).axial

    whole, parts = ramp(points[[0, -1]])[0], ramp(points)
    slack = CELL * steepest_of(BITS[name])
    assert 4.0 < whole <= 5.0 + 1e-6
    assert parts.sum() >= whole - slack
    assert parts.max() >= (whole - slack) / len(parts)


@pytest.mark.parametrize("name", ["ball", "bull", "vee"])
def test_axial_depth_of_the_shortest_arc(name: str) -> None:
    """An arc that hardly moves, as a program's first row, is as deep as its tip is."""
    motion = motion_table([arc((0.0137, 0.0137, -0.5), 0.31, 0.05, 0.05, 2)])
    facts = remove(Surface.blank(blank(28.0, 24.0, 20.0), cell=CELL), motion, BITS[name])

    assert facts.axial[0] == pytest.approx(0.5, abs=CELL * steepest_of(BITS[name]))
    assert facts.axial[0] <= 0.5 + 1e-6


@pytest.mark.jit_only
@pytest.mark.parametrize("heading", [0.0, 0.4, 1.3, 2.5, 4.0])
@pytest.mark.parametrize("step", [0.6, 2.4, 4.5])
def test_width_and_engagement_of_a_step_over(heading: float, step: float) -> None:
    """A first pass cuts the full diameter, the next its step over, within a cell of the field.

    Engagement is acos(1 - ae/R) for a width ae below the diameter (the central angle of a
    circular segment halved: Machinery's Handbook, 31st ed., Industrial Press 2020, p. 79).
    """
    c, s = math.cos(heading), math.sin(heading)

    def place(u: float, w: float) -> tuple[float, float, float]:
        return (u * c - w * s, u * s + w * c, -2.0)

    motion = polyline([place(-30, 0), place(30, 0), place(30, step), place(-30, step)])
    surface = Surface.blank(blank(20.0, 20.0, 10.0), cell=0.1)  # ends far outside
    facts = remove(surface, motion, BITS["flat"])
    slack = 0.1 * (abs(c) + abs(s)) + 1e-6  # a cell's extent across the feed

    assert facts.width[0] == pytest.approx(6.0, abs=slack)
    assert facts.width[2] == pytest.approx(step, abs=slack)
    assert facts.engagement[0] == pytest.approx(math.pi, abs=2 * math.acos(1 - slack / 3))
    low, high = (math.acos(1 - min(max(step + d, 0), 6) / 3) for d in (-slack, slack))
    assert low - 1e-3 <= facts.engagement[2] <= high + 1e-3


def test_central_angle_of_a_side_cut() -> None:
    """A side cut 2 wide by a cutter of radius 12 engages half of 67.13°.

    Machinery's Handbook, 31st ed., Industrial Press 2020, p. 50 (radius 12, distance 2).
    """
    surface = Surface.blank(blank(60.0, 60.0, 10.0), cell=0.25)
    motion = polyline([(-60, -40, -2), (60, -40, -2)])
    facts = remove(surface, motion, Bit("flat", "flat", 24.0))  # axis 10 outside the front edge

    assert facts.width[0] == pytest.approx(2.0, abs=0.25)
    spread = math.acos(1 - 2.25 / 12) - math.acos(1 - 2.0 / 12)
    assert facts.engagement[0] == pytest.approx(math.radians(67.13) / 2, abs=spread)


def test_entry_is_the_angle_of_descent_into_material() -> None:
    """Plunge 90°, ramp its slope, level and rising rows none, and none above the blank."""
    motion = polyline(
        [(-8, 0, 5), (-8, 0, 1), (-8, 0, -2), (8, 0, -2), (8, 0, -1), (8, 6, -3), (-8, 6, -3)]
    )
    surface = Surface.blank(blank(28.0, 24.0, 20.0), cell=CELL)
    entry = remove(surface, motion, BITS["flat"]).entry

    assert np.isnan(entry[[0, 2, 3, 5]]).all()
    assert entry[1] == pytest.approx(math.pi / 2)
    assert entry[4] == pytest.approx(math.atan2(2, 6))


# --------------------------------------------------------------------------------------------
# Memory
# --------------------------------------------------------------------------------------------

FINGERPRINT = """
import hashlib, sys
from dryrun.removal import share
from dryrun.removal.simulate import remove
from dryrun.removal.surface import Surface
from tests.removal.reference import BITS, blank
from tests.removal.test_outside import MANY_ROWS
share.loaded.append((True, True, True, True))  # which the tests have compiled
for name in ("flat", "ball", "bull", "form-stepped"):
    surface = Surface.blank(blank(28.3, 26.1, 20.0), cell=0.1)
    facts = remove(surface, MANY_ROWS, BITS[name], threads=2)
    made = surface.height.tobytes() + surface.cut_by.tobytes() + facts.removed_mm3.tobytes()
    print(hashlib.sha256(made).hexdigest())
"""

MANY_ROWS = motion_table(
    [
        line((-9, -5, 0.2), (8, -4, -1.5)),
        line((8, -4, -1.5), (5, 5, -4.0)),
        arc((0.0, 5.0, -4.0), 5.0, 0.0, 4.0, 2, rise=2.5),
        arc((0.3, -1.2, 1.5), 5.0, 3.6, 2.0, 0),
        arc((0.3, -1.2, -2.5), 4.0, 3.6, 5.0, 2),
        line((0.5, 0.7, 1.0), (0.5, 0.7, -5.0)),
    ]
)


@pytest.mark.jit_only
def test_no_kernel_works_on_memory_that_was_given_back() -> None:
    """Filling freed memory with rubbish (glibc's MALLOC_PERTURB_) does not change a byte."""
    root = Path(__file__).resolve().parents[2]
    made = []
    for fill in ("0", "165"):
        environment = {**os.environ, "MALLOC_PERTURB_": fill, "PYTHONPATH": str(root)}
        done = subprocess.run(
            [sys.executable, "-c", FINGERPRINT],
            cwd=root,
            env=environment,
            capture_output=True,
            text=True,
            check=True,
        )
        made.append(done.stdout)

    assert len(made[0].split()) == 4
    assert made[0] == made[1]


# --------------------------------------------------------------------------------------------
# Solids swept and subtracted by manifold3d
# --------------------------------------------------------------------------------------------

SIDES = 120  # facets around the cutter


def faceted(bit: Bit, outside: bool, top: float = 30.0) -> np.ndarray:
    """Points whose hull lies just inside, or just outside, the (convex) cutter standing on zero.

    Rounds become chords inside and tangents outside, so the true solid is between the two.
    """
    outline = [(0.0, 0.0)]
    for (r0, z0), (r1, z1), ball, centre in _pieces(bit):
        if not ball:
            outline += [(r0, z0), (r1, z1)]
            continue
        a0 = math.atan2(z0 - centre[1], r0 - centre[0])
        a1 = math.atan2(z1 - centre[1], r1 - centre[0])
        n = 24
        angles = np.linspace(a0, a1, n + 1)
        if outside:
            step = (a1 - a0) / n
            angles = np.concatenate([[a0], angles[:-1] + step / 2, [a1]])
        reach = np.full(len(angles), ball)
        if outside:
            reach[1:-1] /= math.cos(step / 2)
        outline += [
            (centre[0] + q * math.cos(a), centre[1] + q * math.sin(a))
            for q, a in zip(reach, angles, strict=True)
        ]
    outline.append((bit.radius, top))
    around = np.arange(SIDES) * TURN / SIDES
    stretch = 1 / math.cos(math.pi / SIDES) if outside else 1.0
    return np.array(
        [
            (r * stretch * math.cos(a), r * stretch * math.sin(a), z)
            for r, z in outline
            for a in around
        ]
    )


def _pieces(bit: Bit) -> list:
    """Outline of the convex shapes: (from, to, radius of a round or 0, its centre)."""
    big = bit.radius
    if bit.shape == "flat":
        return [((0, 0), (big, 0), 0, None)]
    if bit.shape == "ball":
        return [((0, 0), (big, big), big, (0, big))]
    if bit.shape == "bull":
        c = bit.corner_radius
        return [((0, 0), (big - c, 0), 0, None), ((big - c, 0), (big, c), c, (big - c, c))]
    if bit.shape == "taper-ball":
        q, a = bit.tip_radius, bit.angle
        touch = (q * math.cos(a), q - q * math.sin(a))
        edge = (big, touch[1] + (big - touch[0]) / math.tan(a))
        return [((0, 0), touch, q, (0, q)), (touch, edge, 0, None)]
    flat = (bit.tip_diameter if bit.shape == "taper-flat" else bit.tip) / 2
    half = bit.angle if bit.shape == "taper-flat" else bit.angle / 2
    return [
        ((0, 0), (flat, 0), 0, None),
        ((flat, 0), (big, (big - flat) / math.tan(half)), 0, None),
    ]


def swept_solid(points: np.ndarray, places: list[tuple[float, float, float]]):
    """Union of the hulls of the cutter at both ends of each straight move."""
    manifold3d = pytest.importorskip("manifold3d")
    hulls = [
        manifold3d.Manifold.hull_points(np.concatenate([points + a, points + b]))
        for a, b in pairwise(places)
    ]
    return manifold3d.Manifold.batch_boolean(hulls, manifold3d.OpType.Add)


CONVEX = ["flat", "ball", "bull", "vee", "vee-tip", "drill", "taper-ball", "taper-flat"]
ZIGZAG = [
    (-9, -5, 0.2),
    (8, -4, -1.5),
    (8.3, -1.5, -3),
    (-7, 1.5, -0.5),
    (-7, 4, -3.3),
    (9, 11, -1),
]


@pytest.mark.jit_only
@pytest.mark.parametrize("name", CONVEX)
def test_the_cut_lies_between_two_faceted_solids(name: str) -> None:
    """Volume and level sections lie between those of a slightly smaller and a larger solid.

    Sweep of a convex solid along a line: the hull of its two ends. manifold3d takes them from a
    box, partly over its edge.
    """
    manifold3d = pytest.importorskip("manifold3d")
    bit = BITS[name]
    surface = Surface.blank(blank(24.0, 22.0, 12.0), cell=0.06)
    volume = removed(surface, polyline(ZIGZAG), bit)
    box = manifold3d.Manifold.cube((24.0, 22.0, 12.0)).translate((-12.0, -11.0, -12.0))
    inner, outer = (box ^ swept_solid(faceted(bit, outside), ZIGZAG) for outside in (False, True))

    assert outer.volume() / inner.volume() < 1.006, "the two must enclose the truth tightly"
    assert inner.volume() * 0.999 <= volume <= outer.volume() * 1.001
    for level in (-0.3, -1.1, -2.2):
        area = float((surface.height < level).sum()) * surface.cell**2
        low, high = inner.slice(level).area(), outer.slice(level).area()
        assert low * 0.998 - 0.1 <= area <= high * 1.002 + 0.1


# --------------------------------------------------------------------------------------------
# Areas from shapely
# --------------------------------------------------------------------------------------------


@pytest.mark.jit_only
def test_flat_pocket_has_the_area_of_its_widened_path() -> None:
    """A level pass by a flat bit removes the widened path, within the blank, times the depth."""
    shapely = pytest.importorskip("shapely")
    random = np.random.default_rng(7)
    points = random.uniform(-34, 34, (25, 2))
    motion = polyline([(*p, -1.5) for p in points])
    surface = Surface.blank(blank(60.0, 64.0, 10.0), cell=0.1)
    widened = shapely.LineString(points).buffer(1.5875, quad_segs=256)
    area = widened.intersection(shapely.box(-30, -32, 30, 32)).area

    assert removed(surface, motion, Bit("flat", "flat", 3.175)) == pytest.approx(
        1.5 * area, rel=0.002
    )


@pytest.mark.jit_only
def test_level_arcs_have_the_area_of_their_widened_path() -> None:
    """The same for arcs, drawn for shapely with chords within 1 µm."""
    shapely = pytest.importorskip("shapely")
    rows = [arc((2 * k - 5, k, -2.5), 3 + 2.5 * k, 1.3 * k, 1 + 1.2 * k, 2) for k in range(4)]
    surface = Surface.blank(blank(40.0, 40.0, 10.0), cell=0.1)
    shapes = []
    for k in range(4):
        angle = 1.3 * k + np.linspace(0, 1 + 1.2 * k, 2000)
        radius = 3 + 2.5 * k
        chords = np.column_stack([2 * k - 5 + radius * np.cos(angle), k + radius * np.sin(angle)])
        shapes.append(shapely.LineString(chords).buffer(2.0, quad_segs=256))
    area = shapely.union_all(shapes).intersection(shapely.box(-20, -20, 20, 20)).area

    assert removed(surface, motion_table(rows), Bit("flat", "flat", 4.0)) == pytest.approx(
        2.5 * area, rel=0.002
    )
