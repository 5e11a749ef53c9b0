"""Volume where the cut bends within a cell: grooves along the lines of the field.

Along them every cell of a row has the same error, and nothing evens out. The reference is the
groove's section, integrated from the cutter's drawing (`reference.underside`), times the way, with
both ends turned about the axis.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from dryrun.job.model import Bit
from dryrun.motion import Motion
from dryrun.removal.cells import EDGELESS, MISSED, fine_between
from dryrun.removal.profile import NEVER_FINE, Profile
from dryrun.removal.simulate import remove
from dryrun.removal.surface import Surface
from tests.removal.reference import (
    BITS,
    arc,
    blank,
    line,
    motion_table,
    polyline,
    surface_after,
    underside,
)

#: Where a groove lies between the lines of the field, in cells: on centres, on borders, between.
PHASES = (0.0, 0.31, 0.5, 0.83)
LENGTH = 30.0


def groove_volume(bit: Bit, depth: float, length: float) -> float:
    """Volume of a level groove from the drawing; what lies inside a ring is passed by the ring."""
    r = (np.arange(200_000) + 0.5) / 200_000 * bit.radius
    taken = np.maximum(depth - underside(bit)(r), 0.0)
    taken = np.maximum.accumulate(taken[::-1])[::-1]
    return 2 * bit.radius * float((taken * (length + math.pi * r)).mean())


def groove(bit: Bit, depth: float, phase: float, along: str, cell: float = 0.1) -> float:
    """Volume that the room says a groove takes, cut along X, along Y or slantwise."""
    heading = {"x": 0.0, "y": math.pi / 2, "slantwise": 0.4}[along]
    step = np.array([math.cos(heading), math.sin(heading)]) * LENGTH / 2
    middle = np.array([phase, phase]) * cell
    ends = [(*(middle - step), -depth), (*(middle + step), -depth)]
    surface = Surface.blank(blank(46.0, 46.0, 10.0), cell=cell)
    return float(remove(surface, polyline(ends), bit, threads=1).removed_mm3.sum())


@pytest.mark.jit_only
@pytest.mark.parametrize("along", ["x", "y", "slantwise"])
@pytest.mark.parametrize("name", sorted(BITS))
def test_a_groove_has_the_volume_of_its_section(name: str, along: str) -> None:
    """Within 0.2 % with 0.1 mm cells, however the groove lies on the field."""
    bit = BITS[name]
    for depth in (0.6, 1.5, 2.4):
        expected = groove_volume(bit, depth, LENGTH)
        for phase in PHASES if along != "slantwise" else PHASES[1:2]:
            assert groove(bit, depth, phase, along) == pytest.approx(expected, rel=0.002)


@pytest.mark.jit_only
@pytest.mark.parametrize("name", sorted(BITS))
def test_a_ring_has_the_volume_of_its_section(name: str) -> None:
    """A level arc all around: the section times the way of its middle (Pappus), within 0.2 %."""
    bit, depth, radius = BITS[name], 1.5, 9.03
    motion = motion_table([arc((0.02, 0.0, -depth), radius, 0.0, 2 * math.pi, axis=2)])
    surface = Surface.blank(blank(30.0, 30.0, 10.0), cell=0.1)
    section = groove_volume(bit, depth, 1.0) - groove_volume(bit, depth, 0.0)

    assert remove(surface, motion, bit, threads=1).removed_mm3.sum() == pytest.approx(
        section * 2 * math.pi * radius, rel=0.002
    )


def turned_volume(bit: Bit, depth: float) -> float:
    """Volume of a plunge from the drawing: what lies inside a ring is passed by the ring."""
    r = (np.arange(200_000) + 0.5) / 200_000 * bit.radius
    taken = np.maximum(depth - underside(bit)(r), 0.0)
    if (
        bit.name != "form-crowned"
    ):  # which leaves standing what lies inside, when it goes straight down
        taken = np.maximum.accumulate(taken[::-1])[::-1]
    return 2 * math.pi * bit.radius * float((taken * r).mean())


@pytest.mark.jit_only
@pytest.mark.parametrize("name", sorted(BITS))
def test_a_plunge_has_the_volume_of_the_turned_drawing(name: str) -> None:
    """Within 0.2 %, for shallow plunges as well, wherever the axis lies in a cell."""
    bit = BITS[name]
    for depth, x, y in ((0.9, 0.0, 0.0), (1.7, 0.05, 0.021), (2.6, 0.013, -0.037)):
        surface = Surface.blank(blank(20.0, 20.0, 10.0), cell=0.1)
        down = polyline([(x, y, 1.0), (x, y, -depth)])

        assert remove(surface, down, bit, threads=1).removed_mm3.sum() == pytest.approx(
            turned_volume(bit, depth), rel=0.002
        )


@pytest.mark.jit_only
@pytest.mark.parametrize("name", sorted(BITS))
def test_a_groove_along_the_edge_of_the_blank_has_the_volume_of_its_part(name: str) -> None:
    """Cells that lie partly beyond the blank count by what is cut of their part over it."""
    bit, depth = BITS[name], 1.5
    for side in ("x", "y"):
        size = (30.0, 20.07) if side == "x" else (20.07, 30.0)
        edge = 20.07 / 2
        for off in (0.31, -0.62, 0.9):  # of the axis beyond the edge, in radii
            beyond = edge + off * bit.radius
            ends = [(-20.0, beyond, -depth), (20.0, beyond, -depth)]
            ends = ends if side == "x" else [(y, x, z) for x, y, z in ends]
            surface = Surface.blank(blank(*size, 10.0), cell=0.1)
            taken = remove(surface, polyline(ends), bit, threads=1).removed_mm3.sum()
            w = -bit.radius + (np.arange(400_000) + 0.5) / 200_000 * bit.radius
            depths = np.maximum(depth - underside(bit)(np.abs(w)), 0.0)
            half = len(w) // 2
            depths[:half] = np.maximum.accumulate(depths[:half])
            depths[half:] = np.maximum.accumulate(depths[half:][::-1])[::-1]
            section = float(depths[w + beyond < edge].sum()) * bit.radius / 200_000

            assert taken == pytest.approx(section * 30.0, rel=0.002, abs=0.002)


SMALL_BALL = Bit("ball", "ball", 3.0)


@pytest.mark.jit_only
@pytest.mark.parametrize("along", ["x", "y", "slantwise"])
def test_a_shallow_groove_of_a_ball_has_the_volume_of_its_section(along: str) -> None:
    """Centres alone would give 0.15 % too much: all over it the section bends the same way."""
    expected = groove_volume(SMALL_BALL, 0.35, LENGTH)
    taken = [groove(SMALL_BALL, 0.35, phase, along) for phase in PHASES]

    assert np.mean(taken) == pytest.approx(expected, rel=0.0008)


@pytest.mark.jit_only
@pytest.mark.parametrize("rows", [1, 2])
def test_a_short_move_of_a_ball_alone_has_its_volume(rows: int) -> None:
    """A dab counts by mean depths all over; where another follows on it, by centres."""
    half = 0.2
    ends = [(-half + k * 2 * half / rows, 0.03, -0.48) for k in range(rows + 1)]
    surface = Surface.blank(blank(10.0, 10.0, 5.0), cell=0.1)
    taken = remove(surface, polyline(ends), SMALL_BALL, threads=1).removed_mm3.sum()
    near = 0.0015 if rows == 1 else 0.005

    assert taken == pytest.approx(groove_volume(SMALL_BALL, 0.48, 2 * half), rel=near)


@pytest.mark.jit_only
@pytest.mark.parametrize("side", [-1.0, 1.0])
@pytest.mark.parametrize("along", ["x", "y"])
def test_of_a_ball_beside_the_blank_its_edge_counts(along: str, side: float) -> None:
    """A path beyond the edge leaves the blank the least and steepest part of the section."""
    depth, beyond, radius = 1.0947, 1.0427, 1.5
    for size in (24.0, 24.06, 24.09):
        at = side * (size / 2 + beyond)
        ends = [(-20.0, at, -depth), (20.0, at, -depth)]
        ends = ends if along == "x" else [(y, x, z) for x, y, z in ends]
        surface = Surface.blank(blank(size, size, 5.0), cell=0.1)
        taken = remove(surface, polyline(ends), SMALL_BALL, threads=1).removed_mm3.sum()
        w = beyond + (np.arange(200_000) + 0.5) / 200_000 * (radius - beyond)
        section = np.maximum(np.sqrt(radius**2 - w**2) - (radius - depth), 0.0).mean()

        assert taken == pytest.approx(section * (radius - beyond) * size, rel=0.001)


def swept_volume(motion: Motion, bit: Bit, box: tuple[float, float, float, float]) -> float:
    """Volume under the slow twin's surface, on a lattice that follows no line of the field."""
    # the root of r^3 = r + 1 makes a lattice of low discrepancy (Kronecker's)
    ratio = 1.324717957244746
    k = np.arange(60_000)
    x = box[0] + (k / ratio) % 1.0 * (box[2] - box[0])
    y = box[1] + (k / ratio**2) % 1.0 * (box[3] - box[1])
    taken = -np.minimum(surface_after(motion, bit, x, y, 0.0), 0.0)
    return float(taken.mean()) * (box[2] - box[0]) * (box[3] - box[1])


@pytest.mark.jit_only
@pytest.mark.parametrize(
    ("name", "row"),
    [
        ("form-hollow", arc((0.0, 0.0, 0.2), 4.0, 2.9, -2.5, axis=2, rise=-0.9)),
        ("form-stepped", arc((0.0, 0.0, 3.5), 5.0, 3.14 - 0.8, 1.7, axis=1)),
        ("taper-flat", arc((0.0, 0.0, 4.0), 5.5, -1.57 - 0.6, 1.4, axis=0)),
        ("drill", arc((0.0, 0.0, 0.2), 2.0, 0.4, 5.0, axis=2, rise=-1.6)),
        ("flat", line((-4.0, 0.04, -0.3), (4.0, 0.04, -2.2))),
        ("vee-tip", line((-1.0, -0.7, 0.4), (0.4, 0.9, -2.9))),
        ("form-round", line((-2.0, -1.1, 0.6), (3.4, 1.2, -1.9))),
    ],
    ids=lambda given: given if isinstance(given, str) else "",
)
def test_slopes_and_curves_have_the_volume_that_is_swept(name: str, row: dict) -> None:
    """A chorded helix, arcs in both upright planes, a helix, ramps: within 0.25 %."""
    bit, motion = BITS[name], motion_table([row])
    surface = Surface.blank(blank(24.0, 24.0, 10.0), cell=0.1)
    taken = remove(surface, motion, bit, threads=1).removed_mm3.sum()

    assert taken == pytest.approx(swept_volume(motion, bit, (-10.0, -10.0, 10.0, 10.0)), rel=0.0025)


#: Paths of which a second cut was once said to take more: on the way the first one finds blocks
#: whose top stands, and the second none.
BALL_PATH = [(2.608, -3.645, -0.496), (-0.414, -1.962, -0.496), (-2.266, -5.35, -0.496),
             (1.868, -4.591, 0.0), (1.48, 0.697, 0.0)]  # fmt: skip
BULL_PATH = [(-0.966, 2.375, -2.369), (1.356, -0.442, -2.369), (-0.927, -3.157, -2.354)]


@pytest.mark.parametrize(
    ("bit", "path", "cell"),
    [
        (Bit("ball", "ball", 3.577), BALL_PATH, 0.25),
        (Bit("bull", "bull", 4.638, corner_radius=1.901), BULL_PATH, 0.5),
        (BITS["vee"], [(-4.0, 0.03, -0.4), (4.0, 0.03, -1.0)], 0.4),
        (BITS["form-stepped"], [(-4.0, 0.03, -0.4), (4.0, 0.03, -1.0)], 0.4),
    ],
    ids=["ball", "bull", "vee", "form-stepped"],
)
def test_a_path_cut_twice_takes_nothing_the_second_time(
    bit: Bit, path: list[tuple[float, float, float]], cell: float
) -> None:
    """But for 0.15 %, where a cell had counted by the lesser of two pieces."""
    surface = Surface.blank(blank(20.0, 20.0, 10.0), cell=cell)
    first = remove(surface, polyline(path), bit, threads=1).removed_mm3.sum()
    second = remove(surface, polyline(path), bit, threads=1).removed_mm3.sum()

    assert first > 0.0
    assert second <= 0.0015 * first


def test_a_ball_is_told_by_centres_from_where_its_edges_hardly_count() -> None:
    """The depth found is where both edges miss the stated part of the section, and none is flat."""
    profile = Profile.from_bit(BITS["ball"])
    depth, steep = fine_between(profile, 0.1)
    for edge in (depth, steep):
        half = math.sqrt(edge * (2 * profile.radius - edge))  # half the width of the groove
        slope = half / (profile.radius - edge)
        section = groove_volume(BITS["ball"], edge, 1.0) - groove_volume(BITS["ball"], edge, 0.0)
        assert 2 * slope * 0.1**2 / 8 == pytest.approx(MISSED * section, rel=0.02)

    assert fine_between(Profile.from_bit(BITS["flat"]), 0.1) == EDGELESS
    assert fine_between(Profile.from_bit(BITS["vee"]), 0.1) == NEVER_FINE
    assert fine_between(profile, 0.05)[0] < depth < steep < fine_between(profile, 0.05)[1]
