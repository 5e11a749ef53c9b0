"""Which side the wall is on, corners that rise, lines that cross, and depths that give a width."""

from __future__ import annotations

import math

import pytest

import dryrun
from dryrun.fitting.groove import corner_forks, fork_error
from dryrun.fitting.measures import Measures, measure
from dryrun.fitting.ranking import Candidate, fit_bits
from dryrun.fitting.strokes import strokes_of
from dryrun.job.model import Bit

RACK = (
    Bit("flat 4", "flat", 4.0, flutes=2),
    Bit("flat 6", "flat", 6.0, flutes=2),
    Bit("flat 12", "flat", 12.0, flutes=2),
    Bit("ball 3", "ball", 3.0, flutes=2),
    Bit("ball 6", "ball", 6.0, flutes=2),
    Bit("vee 60", "vee", 12.0, angle=math.radians(60.0), flutes=2),
    Bit("vee 90", "vee", 12.0, angle=math.radians(90.0), flutes=2),
)


def motion_of(lines: list[str]) -> dryrun.Motion:
    text = "\n".join(["G21 G90 G17 G0 Z5", "M3 S18000 F1500", *lines, "G0 Z5", "M2", ""])
    return dryrun.read_program(text.encode()).motion


def measured(lines: list[str]) -> Measures:
    return measure(motion_of(lines))


def evidence(candidate: Candidate | None, kind: str) -> float:
    assert candidate is not None
    return math.fsum(e.log for e in candidate.evidence if e.kind == kind)


def rounded(low: float, high: float, radius: float) -> list[str]:
    """A square with rounded corners, from its front edge around."""
    a, b, r = low, high, radius
    return [
        f"G1 X{b - r} Y{a}", f"G3 X{b} Y{a + r} I0 J{r}", f"G1 Y{b - r}",
        f"G3 X{b - r} Y{b} I{-r} J0", f"G1 X{a + r}", f"G3 X{a} Y{b - r} I0 J{-r}",
        f"G1 Y{a + r}", f"G3 X{a + r} Y{a} I{r} J0",
    ]  # fmt: skip


def pocket(step: float, rings: int) -> list[str]:
    """Rings one inside the other; only the outermost has round corners, of 6 mm."""
    lines = ["G0 X26 Y20", "G1 Z-2", *rounded(20.0, 80.0, 6.0)]
    for k in range(1, rings):
        a, b = 20.0 + k * step, 80.0 - k * step
        lines += [f"G1 X{a} Y{a}", f"X{b}", f"Y{b}", f"X{a}", f"Y{a}"]
    return lines


def test_within_an_area_no_bit_rolls_around_a_corner() -> None:
    """The corners of a pocket's outermost ring have cut ground at their centres."""
    alone = measured(["G0 X26 Y20", "G1 Z-2", *rounded(20.0, 80.0, 6.0)]).curves[0]
    assert (alone.within, alone.beyond) == (True, True)
    inside = measured(pocket(3.0, 9)).curves[0]
    assert inside.radius == pytest.approx(6.0, abs=0.01)
    assert (inside.within, inside.beyond) == (False, True)


def test_own_radius_counts_only_around_standing_corners() -> None:
    """Alone the round of 6 mm is a roll of the 12 mm bit; in a pocket it is not."""
    lines = ["G0 X26 Y20", "G1 Z-2", *rounded(20.0, 80.0, 6.0)]
    alone = fit_bits(motion_of(lines), RACK)
    inside = fit_bits(motion_of(pocket(3.0, 9)), RACK)

    def gain(r: object) -> float:
        return evidence(r.of("flat 12"), "curves") - evidence(r.of("flat 4"), "curves")  # type: ignore[attr-defined]

    assert gain(alone) > gain(inside) + 1.0


def limited(tangent: float, deep: float, short: float) -> list[str]:
    """A square carved by a vee to a limited depth: its level outline, and lines into corners.

    The lines begin `short` mm beside the corners of the outline.
    """
    side = 40.0
    inset = deep * tangent
    a, b = inset, side - inset
    lines = [f"G0 X{a} Y{a}", f"G1 Z{-deep}", f"X{b}", f"Y{b}", f"X{a}", f"Y{a}"]
    part = 1.0 - short / inset
    for x, y in ((0.0, 0.0), (side, 0.0), (side, side), (0.0, side)):
        u, v = (a if x == 0.0 else b), (a if y == 0.0 else b)
        p, q = x + (u - x) * part, y + (v - y) * part
        lines += ["G0 Z2", f"X{p:.4f} Y{q:.4f}", f"G1 Z{-deep * part:.4f}", f"X{x} Y{y} Z0"]
    return lines


@pytest.mark.parametrize(("degrees", "short"), [(60.0, 0.0), (90.0, 0.0), (90.0, 0.3)])
def test_lines_that_rise_from_corners_tell_the_angle(degrees: float, short: float) -> None:
    """The slope into a corner of known angle is that of one vee only (elementary geometry)."""
    t = math.tan(math.radians(degrees / 2))
    strokes = strokes_of(motion_of(limited(t, 3.0, short)))
    forks = corner_forks(strokes)
    assert len(forks) == 4
    assert max(fork_error(f, t) for f in forks) < 0.01
    other = math.tan(math.radians((150.0 - degrees) / 2))
    assert min(fork_error(f, other) for f in forks) > 0.1
    ranking = fit_bits(motion_of(limited(t, 3.0, short)), RACK)
    assert ranking.candidates[0].bit.name == f"vee {degrees:g}"
    assert ranking.candidates[0].probability > 0.9


def test_lines_that_rise_from_the_middle_of_an_edge_are_no_corners() -> None:
    lines = ["G0 X10 Y10", "G1 Z-3", "X50", "Y50", "X10", "Y10"]
    for x in (20.0, 30.0, 40.0):
        lines += ["G0 Z2", f"X{x} Y10", "G1 Z-3", f"X{x} Y4 Z0"]
    assert corner_forks(strokes_of(motion_of(lines))) == ()


def hatch(both: bool) -> list[str]:
    """Even lines along X, and along Y as well."""
    lines = []
    for k in range(9):
        lines += ["G0 Z2", f"X0 Y{8 * k}", "G1 Z-0.5", "X64"]
    for k in range(9 if both else 0):
        lines += ["G0 Z2", f"X{8 * k} Y0", "G1 Z-0.5", "Y64"]
    return lines


def test_lines_that_cross_clear_no_area() -> None:
    assert measured(hatch(False)).modes["area"] > 0.5
    assert measured(hatch(True)).modes["area"] == 0.0


def scored(depths: tuple[float, ...]) -> list[str]:
    """Slanted lines at single depths."""
    lines = []
    for k in range(12):
        y = 7.3 * k + 2.9 * (k % 3) + 0.31 * k * k
        lines += ["G0 Z2", f"X3.21 Y{y}", f"G1 Z{-depths[k % len(depths)]:.3f}", f"X60 Y{y + 3.7}"]
    return lines


def test_depths_of_lines_tell_whose_widths_they_give() -> None:
    """Widths of 1.2, 1.8 and 2.6 mm: depths by the cone or the circle (elementary geometry)."""
    widths = (1.2, 1.8, 2.6)
    for name, depths in (
        ("vee 60", tuple(w / 2 / math.tan(math.radians(30.0)) for w in widths)),
        ("vee 90", tuple(w / 2 for w in widths)),
        ("ball 3", tuple(1.5 - math.sqrt(1.5**2 - w * w / 4) for w in widths)),
        ("ball 6", tuple(3.0 - math.sqrt(3.0**2 - w * w / 4) for w in widths)),
    ):
        ranking = fit_bits(motion_of(scored(depths)), RACK)
        best = max(ranking.candidates, key=lambda c: evidence(c, "lines"))
        assert best.bit.name == name, depths


def test_slots_along_drawn_lines_do_not_speak_for_pointed_bits_alone() -> None:
    """Middles of slots are drawn at round places too."""
    lines = []
    for k in range(4):
        for z in (-2.5, -5.0):
            lines += ["G0 Z2", f"X-5 Y{30 + 50 * k}", f"G1 Z{z}", "X205"]
    ranking = fit_bits(motion_of(lines), RACK)
    assert ranking.candidates[0].bit.shape == "flat"
    assert evidence(ranking.of("vee 90"), "edges") < evidence(ranking.of("flat 6"), "edges") + 2.0


def test_only_the_outermost_pass_of_an_area_has_edges() -> None:
    """Sizes of the inner rings of a pocket are no sizes of a wall."""
    found = measured(pocket(3.0, 9))
    assert found.sizes == pytest.approx((60.0,), abs=1e-3)
    assert {round(e.place, 3) for e in found.edges} == {20.0, 80.0}
