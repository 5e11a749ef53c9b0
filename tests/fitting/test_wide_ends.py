"""Short chords, last passes along walls, wide bull noses and fine points: each both ways."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

import dryrun
from dryrun.fitting.curves import curves_of
from dryrun.fitting.measures import Measures, measure
from dryrun.fitting.models import work
from dryrun.fitting.models_passes import fine_spacing, pass_depth
from dryrun.fitting.models_rates import chip
from dryrun.fitting.models_uneven import summits
from dryrun.fitting.ranking import fit_bits
from dryrun.fitting.strokes import strokes_of
from dryrun.job.model import Bit


def motion_of(lines: list[str], unit: str = "G21") -> dryrun.Motion:
    text = "\n".join([f"{unit} G90 G17", "S18000 M3 F1200", "G0 Z5", *lines, "G0 Z5", "M30", ""])
    return dryrun.read_program(text.encode()).motion


def measured(lines: list[str]) -> Measures:
    return measure(motion_of(lines))


# ------------------------------------------------------------------------- short chords


def rounded(radius: float, chords: int, digits: int, unit: float = 1.0) -> list[str]:
    """A square with rounded corners, these in chords, places rounded to some digits."""
    lines = []
    for corner, (x, y) in enumerate(((40, 30), (10, 30), (10, 10), (40, 10))):
        for a in math.pi / 2 * (corner + np.linspace(0, 1, chords + 1)):
            at = x + radius * math.cos(a), y + radius * math.sin(a)
            lines.append("G1 X{:.{d}f} Y{:.{d}f}".format(*(v / unit for v in at), d=digits))
    start = lines[0].replace("G1", "G0")
    return [start, f"G1 Z{-2 / unit:.{digits}f}", *lines[1:], lines[0]]


@pytest.mark.parametrize(("unit", "digits", "length"), [("G21", 3, 1.0), ("G20", 4, 25.4)])
def test_rounds_in_short_chords_are_told(unit: str, digits: int, length: float) -> None:
    """Corners of 1.5 mm in chords of 0.1 mm, whose last digits turn them as much as the round."""
    rounds = curves_of(strokes_of(motion_of(rounded(1.5, 24, digits, length), unit)))

    assert sum(c.count for c in rounds) in (3, 4)
    assert [c.radius for c in rounds] == pytest.approx([1.5] * len(rounds), abs=0.015)


def test_sharp_corners_in_short_pieces_are_no_rounds() -> None:
    """The same square with sharp corners, gone around in pieces of 0.1 mm."""
    corners = np.array([(10, 10), (40, 10), (40, 30), (10, 30), (10, 10)], float)
    lines = ["G0 X10 Y10", "G1 Z-2"]
    for a, b in itertools.pairwise(corners):
        for part in np.linspace(0, 1, int(np.hypot(*(b - a)) / 0.1) + 1)[1:]:
            lines.append("G1 X{:.3f} Y{:.3f}".format(*(a + part * (b - a))))

    assert curves_of(strokes_of(motion_of(lines))) == ()


def test_a_ramp_around_a_slot_is_no_helix() -> None:
    """Two half turns between straights go down; of a hole they go on from each other."""
    hole = ["G0 X0 Y2", "G1 Z0"]
    slot = [*hole]
    for n in range(1, 5):
        z = -0.5 * n
        hole += [f"G3 X0 Y-2 Z{z + 0.25} I0 J-2", f"G3 X0 Y2 Z{z} I0 J2"]
        slot += [f"G3 X0 Y-2 Z{z + 0.3} I0 J-2", f"G1 X20 Z{z + 0.25}"]
        slot += [f"G3 X20 Y2 Z{z + 0.05} I0 J2", f"G1 X0 Z{z}"]

    assert [h.radius for h in measured(hole).helices] == [pytest.approx(2.0)]
    assert measured(slot).helices == ()


def test_a_hole_bored_in_short_chords_is_a_helix() -> None:
    """Turns of 2 mm radius in chords of 0.13 mm, rounded to a ten-thousandth of an inch."""
    turns = np.linspace(0, 8 * math.pi, 4 * 96 + 1)
    lines = ["G0 X0.0787 Y0", "G1 Z0"]
    for a in turns:
        x, y, z = 2 * math.cos(a) / 25.4, 2 * math.sin(a) / 25.4, -3 * a / turns[-1] / 25.4
        lines.append(f"G1 X{x:.4f} Y{y:.4f} Z{z:.4f}")
    found = measure(motion_of(lines, "G20"), unit="in")

    assert [h.radius for h in found.helices] == [pytest.approx(2.0, abs=0.01)]


# ------------------------------------------------------------------------- last passes


def nest(*insets: float) -> list[str]:
    """Rings of a pocket of 60 by 40 mm, the path so far inside the first."""
    lines = []
    for k in insets:
        x0, y0, x1, y1 = k, k, 60 - k, 40 - k
        lines += [f"G0 X{x0} Y{y0}", "G1 Z-2"]
        lines += [f"G1 X{x} Y{y}" for x, y in ((x1, y0), (x1, y1), (x0, y1), (x0, y0))]
        lines += ["G0 Z5"]
    return lines


def test_a_last_pass_along_the_walls_is_no_spacing() -> None:
    """Rings 2.4 mm apart and a last one 0.2 mm beside the outermost."""
    found = measured(nest(0.0, 0.2, 2.6, 5.0)).spacing
    assert found is not None
    assert found.distance == pytest.approx(2.4)


def test_close_rings_all_over_are_a_spacing() -> None:
    """Rings of a fine bit, all 0.4 mm apart."""
    found = measured(nest(*np.arange(0, 8, 0.4).round(1))).spacing
    assert found is not None
    assert found.distance == pytest.approx(0.4)


def test_a_last_pass_clears_nothing_inside_a_round() -> None:
    """Two circles 0.3 mm apart only smooth a hole, three clear it, two far apart as well."""

    def circles(*radii: float) -> list[str]:
        return [
            line
            for r in radii
            for line in (f"G0 X{r} Y0", "G1 Z-2", f"G3 X{r} Y0 I{-r} J0", "G0 Z5")
        ]

    assert measured(circles(4.0, 3.7)).nested is None
    assert measured(circles(4.0, 3.6, 3.2)).nested == pytest.approx(4.0)
    assert measured(circles(4.0, 2.8)).nested == pytest.approx(4.0)


# ------------------------------------------------------------------------- wide ends


def hills(flat: float, over: float = 1.0) -> list[str]:
    """Rows over hills whose tops are level for some length, and so are the crests between."""
    lines = ["G0 X0 Y0"]
    for n, y in enumerate(np.arange(0, 40, over)):
        xs = np.arange(0, 60.01, 0.5)
        for x in xs if n % 2 == 0 else xs[::-1]:
            off = max(0.0, abs((x % 20) - 10) - flat / 2)
            lines.append(f"G1 X{x:.3f} Y{y:.3f} Z{-1 - 3 * math.sin(min(off, 10) / 10) ** 2:.3f}")
    return lines


def test_level_summits_are_for_flat_ends() -> None:
    """As long as the flat of a bull nose they speak for it, and not at all for a ball."""
    bull = Bit("b", "bull", 12.0, corner_radius=2.0)
    ball = Bit("r", "ball", 12.0)
    level, sharp = measured(hills(7.0)), measured(hills(0.0))
    assert level.summits == pytest.approx(7.0, abs=1.1)
    assert sharp.summits is not None
    assert sharp.summits < 1.1

    def odds(m: Measures) -> float:
        told = [summits(m, bit, None) for bit in (bull, ball)]
        assert told[0] is not None
        assert told[1] is not None
        return told[0].log - told[1].log

    assert odds(level) > 1.0
    assert odds(sharp) < -0.5


def test_rows_of_a_wide_bull_nose_are_rows_of_a_relief() -> None:
    """Rows 4.5 mm apart; single grooves 15 mm apart are none."""
    assert measured(hills(10.0, 4.5)).modes["relief"] > 0.9
    assert measured(hills(10.0, 15.0)).modes["relief"] < 0.1


def test_a_bull_nose_goes_down_a_hollow_by_its_diameter() -> None:
    """Level rings of a bowl, 2.5 mm apart: for a wide bull nose, for no fine one."""
    lines = []
    for r in np.arange(2.5, 42, 2.5):
        z = -25 + 60 - math.sqrt(60**2 - r**2)
        lines += [f"G0 X{r:.3f} Y0", f"G1 Z{z:.3f}", f"G3 X{r:.3f} Y0 I{-r:.3f} J0", "G0 Z5"]
    found = measured(lines)
    assert found.descent is not None or found.fine_spacing is not None
    wide, small = (
        fine_spacing(found, Bit("b", "bull", d, corner_radius=1.0), None) for d in (22.0, 4.0)
    )
    assert wide is not None
    assert small is not None
    assert wide.log > small.log + 1.0


# ------------------------------------------------------------------------- fine points


def hatch(apart: float, depth: float) -> list[str]:
    lines = ["G0 X0 Y0", f"G1 Z-{depth}"]
    for n in range(40):
        lines += [f"G1 X{20 if n % 2 == 0 else 0}", f"G1 Y{(n + 1) * apart:.3f}"]
    return lines


def test_close_shallow_rows_are_engraved_with_a_point() -> None:
    """Rows 0.25 mm apart, 0.2 mm deep; rows 1 mm apart and 1 mm deep clear a ground."""
    point = Bit("p", "taper-flat", 3.175, angle=math.radians(15), tip_diameter=0.3)
    flat = Bit("f", "flat", 2.0)
    fine, coarse = measured(hatch(0.25, 0.2)), measured(hatch(1.0, 1.0))

    for found, least, most in ((fine, -1.5, 0.0), (coarse, -9.0, -2.5)):
        told, other = work(found, point, None), work(found, flat, None)
        assert told is not None
        assert other is not None
        assert least < told.log - other.log < most
    assert fit_bits(motion_of(hatch(0.25, 0.2)), (point, flat)).candidates[0].bit is point
    assert fit_bits(motion_of(hatch(1.0, 1.0)), (point, flat)).candidates[0].bit is flat


def test_fine_flat_points_are_fed_and_sunk_as_such() -> None:
    """The feed goes by the tip as well as by the shank, the depth of engraving by neither."""
    fine, coarse = (
        Bit("p", "taper-flat", 6.0, angle=math.radians(15), tip_diameter=d) for d in (0.2, 4.0)
    )
    slow = measure(motion_of(["F250", *hatch(0.25, 0.2)]))
    told = [chip(slow, bit, None) for bit in (fine, coarse)]
    assert told[0] is not None
    assert told[1] is not None
    assert told[0].log > told[1].log + 0.5
    depths = [pass_depth(measured(hatch(0.25, d)), fine, None) for d in (0.2, 3.0)]
    assert depths[0] is not None
    assert depths[1] is not None
    assert depths[0].log > depths[1].log + 1.0


def test_a_thin_last_pass_is_not_how_deep_each_goes() -> None:
    """Passes of 5.8 mm and one of 0.3 mm on the floor; even ones are as deep as they are."""

    def passes(*depths: float) -> float | None:
        lines = ["G0 X0 Y0"]
        for z in depths:
            lines += [f"G1 Z-{z}", "G1 X40", "G1 Y30", "G1 X0", "G1 Y0"]
        return measured(lines).pass_depth

    assert passes(5.8, 6.1) == pytest.approx(5.8)
    assert passes(2.9, 5.8, 6.1) == pytest.approx(2.9)
    assert passes(5.8, 6.1, 6.4) == pytest.approx(0.3)
