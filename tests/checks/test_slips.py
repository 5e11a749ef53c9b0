"""Slips that only the company of a point, a hole or a ramp tells; silent where it is meant.

What counts as a pattern, an even pass or a ramp that is levelled is common practice, no source.
"""

from __future__ import annotations

import itertools
import math
from pathlib import Path

import numpy as np
import pytest

import dryrun
from dryrun.checks.copies import differing
from dryrun.checks.lost_minus import raised
from dryrun.checks.pattern import holes_of, lost_hole, mistyped, odd_holes
from dryrun.checks.sloping import sloping
from dryrun.checks.thrown import thrown
from dryrun.gcode.program import read_program
from dryrun.motion import Motion

pytestmark = pytest.mark.jit_only
HEAD = "G21 G90 G17\nS18000 M3\nG4 P4\nG0 Z5\n"
TAIL = "G0 Z20\nM5\nM30\n"
JOB = """
title = "slips"
units = "mm"
stock = { size = ["160 mm", "120 mm", "18 mm"], zero = "centre-top" }
clamps = []
bits = { b = { shape = "SHAPE", diameter = "6 mm" } }
stages = [{ program = "p.nc", bit = "b", depth = "6 mm" }]
"""


def motion(lines: list[str], head: str = HEAD) -> Motion:
    return read_program((head + "\n".join(lines) + "\n" + TAIL).encode()).motion


def told(folder: Path, lines: list[str], shape: str = "flat") -> list[tuple[int | None, str]]:
    (folder / "p.nc").write_text(HEAD + "\n".join(lines) + "\n" + TAIL)
    (folder / "job.toml").write_text(JOB.replace("SHAPE", shape))
    outcome = dryrun.dry_run(dryrun.read_job(folder / "job.toml"), cell=0.5, keep_stages=False)
    return [(f.line, f.message) for f in outcome.findings if f.code == "odd-pass"]


def relief(rows: int = 4) -> list[str]:
    """Go to and fro over a wave in short moves."""
    out = ["G0 X-40 Y0", "G1 Z-2 F400"]
    for y in range(rows):
        way = range(-40, 41, 2) if y % 2 == 0 else range(40, -41, -2)
        for x in way:
            z = -2.0 - math.sin((x + 40) / 16.0) - 0.1 * y
            out.append(f"G1 X{x} Y{y}.5 Z{z:.3f}" + (" F1500" if x == way[0] else ""))
    return [*out, "G0 Z5"]


@pytest.mark.parametrize(
    ("old", "new", "axis"),
    [("X20 Y0", "X-20 Y0", 0), ("X20 Y0.5", "X20 Y5", 1), ("X-6 Y1.5 Z-", "X-6 Y1.5 Z", 2)],
    ids=["minus put in", "point lost", "minus of Z lost"],
)
def test_a_point_thrown_off(tmp_path: Path, old: str, new: str, axis: int) -> None:
    lines = relief()
    k = next(k for k, line in enumerate(lines) if old in line)
    lines[k] = lines[k].replace(old, new)
    (found,) = thrown(motion(lines))
    assert found.axis == axis
    assert found.fits == pytest.approx({0: 20.0, 1: 0.5, 2: -2.95}[axis], abs=0.1)
    ((line, message),) = told(tmp_path, lines, "ball")
    assert line == len(HEAD.splitlines()) + k + 1
    assert "off the pass of the points before and after it" in message


def spike(y: float, tip: float) -> list[str]:
    """Follow a shallow curve, into a corner and out again the same way, as strokes of a vee do."""
    there = [(x, y + 0.002 * x * x) for x in range(-12, 1, 2)]
    way = [*there, (0.0, y + tip), *there[::-1]]
    lines = [f"G1 X{x:.3f} Y{v:.3f} Z{-2 + 0.01 * x:.3f} F900" for x, v in way]
    return [f"G0 X-14 Y{y}", "G1 Z-2 F300", *lines, "G0 Z5"]


def test_points_that_are_meant() -> None:
    """Nothing in an even pass, in a corner gone into and out of, and where many points are off."""
    assert not list(thrown(motion(relief())))
    assert not list(thrown(motion(spike(10.0, -8.0))))
    lines = relief(6)
    for old, new in (("X20 Y0.5", "X20 Y5"), ("X20 Y2.5", "X20 Y7")):
        k = next(k for k, line in enumerate(lines) if old in line)
        lines[k] = lines[k].replace(old, new)
    assert not list(thrown(motion(lines)))


def test_a_thinned_pass_has_single_points_where_the_relief_bends() -> None:
    """A valley between two even slopes is no slip where the points are not evenly spaced."""
    slope = [(-9, -1.0), (-8, -1.1), (-7, -1.2), (-6, -1.3), (-3, -2.6), (0, -1.3), (1, -1.2)]
    way = [*slope, (2, -1.1), (3, -1.0), (4, -0.9)]
    lines = [f"G1 X{x} Y0 Z{z} F900" for x, z in way]
    assert not list(thrown(motion(["G0 X-10 Y0", "G1 Z-1 F300", *lines, "G0 Z5"])))


def grid(places: list[tuple[float, float]]) -> list[str]:
    first, *others = [f"X{x:g} Y{y:g}" for x, y in places]
    return [f"G98 G81 {first} Z-6 R2 F300", *others, "G80"]


ROWS = [(x, y) for y in (-40.0, 0.0, 40.0) for x in (-60.0, -20.0, 20.0, 60.0)]


@pytest.mark.parametrize(
    ("nth", "place", "fits"),
    [(5, (-20.0, 4.0), 0.0), (6, (26.0, 0.0), 20.0), (11, (6.0, 40.0), 60.0)],
)
def test_a_hole_beside_its_row(
    tmp_path: Path, nth: int, place: tuple[float, float], fits: float
) -> None:
    places = list(ROWS)
    places[nth] = place
    (found,) = odd_holes(motion(grid(places)))
    assert [found.own, found.fits] == pytest.approx([place[found.axis], fits])
    ((line, message),) = told(tmp_path, grid(places))
    assert line == len(HEAD.splitlines()) + nth + 1
    assert "in the rows and columns of the 11 others" in message


def ring(middle: bool, nth: int | None = None) -> list[str]:
    """Bore six holes round a centre, and one in it if asked; one has the X of another number."""
    turns = [math.pi * k / 3 for k in range(6)]
    places = [(30 * math.cos(a), 30 * math.sin(a)) for a in turns] + [(0.0, 0.0)] * middle
    out = []
    for k, (x, y) in enumerate(places):
        x = x + 4.0 if k == nth else x
        out += [f"G0 X{x + 2:.3f} Y{y:.3f}", "G1 Z-2 F300", "G3 I-2 F900", "G1 Z-4", "G3 I-2"]
        out += ["G0 Z5"]
    return out


@pytest.mark.parametrize("middle", [False, True], ids=["ring", "ring and middle"])
def test_a_hole_beside_its_circle(middle: bool) -> None:
    (found,) = odd_holes(motion(ring(middle, 2)))
    assert found.round
    assert found.axis == 0
    assert found.own == pytest.approx(-11.0, abs=0.01)
    assert found.fits == pytest.approx(-15.0, abs=0.02)
    assert not list(odd_holes(motion(ring(middle))))


def test_four_holes_are_told_by_the_middle_of_the_blank() -> None:
    """Of two holes either could be wrong: the one without which both rows are even is."""
    places = [(25.0, 20.0), (125.0, 24.0), (125.0, 80.0), (25.0, 80.0)]
    (found,) = odd_holes(motion(grid(places)), np.array([75.0, 50.0]))
    assert (found.own, found.fits) == (24.0, 20.0)
    assert not list(odd_holes(motion(grid(places))))
    assert not list(odd_holes(motion(grid(places)), np.array([75.0, 53.0])))


def test_holes_that_are_meant() -> None:
    """Staggered rows, a hole more, and a hole far from what a slip makes."""
    staggered = [(x + 20.0 * (y == 0.0), y) for x, y in ROWS]
    assert not list(odd_holes(motion(grid(staggered))))
    assert not list(odd_holes(motion(grid([*ROWS, (37.0, 13.0)]))))
    l_shape = [(-2, 1), (31, 1), (-35, 34), (-2, 34), (31, 34), (-35, 67)]
    assert not list(odd_holes(motion(grid([(float(x), float(y)) for x, y in l_shape]))))


def test_holes_are_found_once_for_each_place() -> None:
    assert len(holes_of(motion(grid(ROWS)))) == len(ROWS)
    assert len(holes_of(motion(ring(True)))) == 7
    assert holes_of(motion(relief())) == []


@pytest.mark.parametrize(
    ("own", "fits", "slip"),
    [
        (52.0, 25.0, True), (-60.0, 60.0, True), (240.0, 241.0, True), (2.0, 20.0, True),
        (65.0, 165.0, True), (1.5, 15.0, True), (67.0, 1.0, False), (31.0, 48.0, False),
        (25.4 * 52, 25.4 * 25, True),
    ],
)  # fmt: skip
def test_one_slip_makes_one_number_of_the_other(own: float, fits: float, slip: bool) -> None:
    assert mistyped(own, fits) == slip
    assert mistyped(fits, own) == slip


def slot(*last: str) -> list[str]:
    down = ["G1 Z0 F300", "G1 X40 Z-2 F900", "G1 X-40", "G1 X40 Z-4", *last]
    return ["G0 X-40 Y0", "G0 Z1", *down, "G0 Z5"]


def test_a_ramp_that_nothing_levels(tmp_path: Path) -> None:
    (found,) = sloping(motion(slot()), 0.0)
    assert [found.drop, found.length] == pytest.approx([2.0, 80.0])
    for shape in ("flat", "ball"):
        ((line, message),) = told(tmp_path, slot(), shape)
        assert line == len(HEAD.splitlines()) + 6
        assert "a ramp goes down 2 mm to Z -4 mm here" in message


def test_ramps_that_are_meant(tmp_path: Path) -> None:
    """One that is levelled, at once or later, one with a way out, and a dip."""
    assert not list(sloping(motion(slot("G1 X-40")), 0.0))
    assert not list(sloping(motion(slot("G1 X-10 Z-4", "G1 X-40 Z-2")), 0.0))
    later = [*slot(), "G0 X-40 Y0", "G1 Z-4 F300", "G1 X40 F900", "G0 Z5"]
    assert told(tmp_path, later) == []
    assert told(tmp_path, slot("G1 X-40"), "flat") == []
    dip = ["G0 X-40 Y0", "G1 Z0 F300", "G1 X0 Z-3 F900", "G1 X40 Z0", "G0 Z5"]
    assert not list(sloping(motion(dip), 0.0))


PLACES = [(-50.0, -30.0), (0.0, -30.0), (50.0, -30.0), (0.0, 30.0)]


def notches(*edits: tuple[int, str, str], size: float = 10.0, relative: bool = False) -> list[str]:
    """Cut one shape at four places; an edit changes a word of all lines after it that are alike."""
    out: list[str] = []
    for k, (x, y) in enumerate(PLACES):
        way = ["G1 Z-1 F300", f"G1 X{size:g} Y0 Z-2 F900", f"X{size:g} Y8", "X0 Y8", "X0 Y0"]
        if relative:
            way = ["G91 G1 Z-2 F300", f"X{size:g} F900", "Y8", f"X{-size:g}", "Y-8", "G90"]
        else:
            way = [_moved(line, x, y) for line in way]
        for nth, old, new in edits:
            way = [line.replace(old, new) if k == nth else line for line in way]
        out += [f"G0 X{x:g} Y{y:g}", "Z1" if not relative else "Z0", *filter(None, way), "G0 Z5"]
    return out


def _moved(line: str, x: float, y: float) -> str:
    words = line.split()
    to = {"X": x, "Y": y}
    return " ".join(f"{w[0]}{float(w[1:]) + to[w[0]]:g}" if w[0] in to else w for w in words)


@pytest.mark.parametrize(
    ("edit", "axis", "own", "usual"),
    [
        ((1, "X10 Y-22", "X1 Y-22"), 0, 1.0, 10.0),
        ((1, "X0 Y-22", "X0 Y-2"), 1, 28.0, 8.0),
        ((3, "X0 Y38", ""), None, 0.0, 0.0),
    ],
    ids=["digit lost", "digit lost in Y", "line lost"],
)
def test_a_copy_that_differs(
    tmp_path: Path, edit: tuple[int, str, str], axis: int | None, own: float, usual: float
) -> None:
    lines = notches(edit)
    (found,) = differing(motion(lines))
    assert found.axis == axis
    assert [found.own, found.usual, found.copies] == pytest.approx([own, usual, 3])
    said = [message for _, message in told(tmp_path, lines)]
    assert any("a shape that is cut 4 times" in message for message in said)


def test_a_copy_that_begins_elsewhere_is_told_where_it_begins(tmp_path: Path) -> None:
    lines = notches()
    begin = lines.index("G0 X50 Y-30")
    lines[begin] = "G0 X5 Y-30"
    (found,) = differing(motion(lines))
    assert found.axis == 0
    assert abs(found.own - found.usual) == pytest.approx(45.0)
    said = [message for line, message in told(tmp_path, lines) if line == _line(begin)]
    assert said == [
        "a shape that is cut 4 times begins 45 mm elsewhere in X here than in all other copies"
    ]


def _line(index: int) -> int:
    return len(HEAD.splitlines()) + index + 1


def test_a_copy_whose_step_is_wrong_is_told_where_it_is() -> None:
    (found,) = differing(motion(notches((2, "Y8", "Y18"), relative=True)))
    assert [found.own, found.usual] == pytest.approx([18.0, 8.0])


def test_copies_that_are_meant() -> None:
    """All alike; one that is longer as a whole; two of four that differ; only two of a kind."""
    assert not list(differing(motion(notches())))
    longer = notches()
    third = longer.index("G0 X50 Y-30")
    longer[third : third + 8] = notches(size=14.0)[third : third + 8]
    assert not list(differing(motion(longer)))
    two = notches((1, "X10 Y-22", "X1 Y-22"), (2, "X60 Y-22", "X56 Y-22"))
    assert not list(differing(motion(two)))
    assert not list(differing(motion(notches((1, "X10 Y-22", "X1 Y-22"))[:16])))


def outline(*edits: tuple[str, str]) -> list[str]:
    """Cut out a square with a tab 12 mm long in the middle of each side."""
    corners = [(-30.0, -30.0), (30.0, -30.0), (30.0, 30.0), (-30.0, 30.0), (-30.0, -30.0)]
    out = ["G0 X-30 Y-30", "G1 Z-18.2 F300"]
    for (x0, y0), (x1, y1) in itertools.pairwise(corners):
        ux, uy = (x1 - x0) / 60, (y1 - y0) / 60
        a, b = (x0 + 24 * ux, y0 + 24 * uy), (x0 + 36 * ux, y0 + 36 * uy)
        out += [f"G1 X{a[0]:g} Y{a[1]:g} F900", "G1 Z-15", f"G1 X{b[0]:g} Y{b[1]:g}"]
        out += ["G1 Z-18.2 F300", f"G1 X{x1:g} Y{y1:g} F900"]
    for old, new in edits:
        k = out.index(old)
        out[k : k + 5] = [line for line in (new, *out[k + 1 : k + 5]) if line]
    return [*out, "G0 Z5"]


def webs(folder: Path, lines: list[str]) -> list[tuple[int | None, str]]:
    (folder / "p.nc").write_text(HEAD + "\n".join(lines) + "\n" + TAIL)
    job = JOB.replace("SHAPE", "flat").replace('depth = "6 mm"', 'depth = "through"')
    (folder / "job.toml").write_text(job)
    outcome = dryrun.dry_run(dryrun.read_job(folder / "job.toml"), cell=0.5, keep_stages=False)
    return [(f.line, f.message) for f in outcome.findings if f.code == "shallow"]


def test_a_bridge_longer_than_the_tabs(tmp_path: Path) -> None:
    """The bit comes down 16 mm behind the third tab; the other three are as they should be."""
    assert webs(tmp_path, outline()) == []
    lines = outline()
    third = lines.index("G1 X-6 Y30")
    lines[third], lines[third + 1] = "G1 X-22 Y30", "G1 Z-18.2 F300"
    ((line, message),) = webs(tmp_path, lines)
    assert line is not None
    assert abs(line - (len(HEAD.splitlines()) + third + 1)) <= 1
    assert "a bridge 22.2 mm long stays standing here" in message


def test_tabs_that_are_not_alike_are_meant(tmp_path: Path) -> None:
    """Where the others differ, too, none of them is the odd one."""
    lines = outline()
    for old, new in (("G1 X-6 Y30", "G1 X-22 Y30"), ("G1 X6 Y-30", "G1 X9 Y-30")):
        lines[lines.index(old)] = new
    assert webs(tmp_path, lines) == []


def test_a_bridge_to_the_end_of_the_outline(tmp_path: Path) -> None:
    """The minus of the last Z is lost: from the fourth tab on the bit runs in the air."""
    lines = outline()
    last = len(lines) - 1 - lines[::-1].index("G1 Z-18.2 F300")
    lines[last] = "G1 Z18.2 F300"
    told_lines = [line for line, message in webs(tmp_path, lines) if "stays standing" in message]
    assert len(HEAD.splitlines()) + last + 1 in told_lines


def test_a_copy_in_the_air_is_told(tmp_path: Path) -> None:
    """One of four shapes runs above the blank: nothing is cut there."""
    lines = [line.replace("Z-1", "Z-2") for line in notches()]
    begin = lines.index("G0 X50 Y-30")
    for k in range(begin, begin + 8):
        lines[k] = lines[k].replace("Z-2", "Z2")
    assert not list(differing(motion(lines)))
    ((line, message),) = told(tmp_path, lines)
    assert line == len(HEAD.splitlines()) + begin + 3
    assert "4 mm elsewhere in Z" in message


def pocket(*levels: str) -> list[str]:
    out = ["G0 Z25", "G0 X-20 Y0"]
    for z in levels:
        out += [f"G1 Z{z} F300", "G1 X20 F900", "G1 Y8", "G1 X-20", "G1 Y0"]
    return [*out, "G0 Z5"]


@pytest.mark.parametrize("top", [0.0, 18.0], ids=["zero on top", "zero on the bed"])
def test_a_pass_that_goes_up_within_the_blank(top: float) -> None:
    def lines(*levels: float) -> list[str]:
        return pocket(*(f"{z + top:g}" for z in levels))

    (row,) = raised(motion(lines(-2.5, -5, -0.75)), top)
    assert motion(lines(-2.5, -5, -0.75)).end[row, 2] == top - 0.75
    assert not list(raised(motion(lines(-2.5, -5, -7.5)), top))
    # back to a level that was there, and over a single tab
    assert not list(raised(motion(lines(-2.5, -5, -2.5)), top))
    tab = pocket(f"{top - 5:g}")
    tab[4:4] = [f"G1 Z{top - 3:g}", "G1 X24 F900", f"G1 Z{top - 5:g}"]
    assert not list(raised(motion(tab), top))


@pytest.mark.parametrize("lost", [1, 4, 7, 11], ids=["in a row", "first", "last", "the very last"])
def test_a_hole_that_a_pattern_lacks(tmp_path: Path, lost: int) -> None:
    lines = grid([place for k, place in enumerate(ROWS) if k != lost])
    found = lost_hole(holes_of(motion(lines)))
    assert found is not None
    assert found[1] == pytest.approx(ROWS[lost])
    ((line, message),) = told(tmp_path, lines)
    assert line == len(HEAD.splitlines()) + min(lost, 10) + 1
    assert "the 11 holes of this stage lack one at X" in message


def test_patterns_that_are_whole() -> None:
    """Whole rows, two holes less, a whole circle, and a circle of few."""
    assert lost_hole(holes_of(motion(grid(ROWS)))) is None
    assert lost_hole(holes_of(motion(grid(ROWS[1:-1])))) is None
    assert lost_hole(holes_of(motion(ring(False)))) is None
    five = ring(False)[6:]
    found = lost_hole(holes_of(motion(five)))
    assert found is not None
    assert found[1] == pytest.approx([30.0, 0.0], abs=0.02)
    assert lost_hole(holes_of(motion(five[6:]))) is None
