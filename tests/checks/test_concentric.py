"""Holes inside counterbores: one beside its centre, all beside theirs, and those that are meant."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

import dryrun

HEAD = "G21 G90 G17\nS12000 M3\nG4 P4\n"
TAIL = "G0 Z20\nM5\nM30\n"
JOB = """
title = "counterbores"
units = "mm"
stock = { size = ["160 mm", "120 mm", "18 mm"], zero = "centre-top" }
clamps = []
[bits.mill]
shape = "flat"
diameter = "4 mm"
[bits.drill]
shape = "drill"
diameter = "5 mm"
angle = "118 deg"
"""

Lines = list[str]
Places = list[tuple[float, float]]
CORNERS: Places = [(-50, -30), (50, -30), (50, 30), (-50, 30)]


def counterbores(places: Places, radius: float = 5.0) -> Lines:
    """Go down a helix and once round the floor at each place, in half circles."""
    out: Lines = []
    r = radius - 2
    for x, y in places:
        out += ["G0 Z5", f"G0 X{x + r} Y{y}", "G1 Z0 F300"]
        for z in (-1.5, -3, -3):
            out += [f"G3 X{x - r} Y{y} I{-r} J0 F900", f"G3 X{x + r} Y{y} Z{z} I{r} J0"]
    return [*out, "G0 Z5"]


def drilled(places: Places) -> Lines:
    out: Lines = []
    for x, y in places:
        out += ["G0 Z5", f"G0 X{x} Y{y}", "G1 Z-9 F200"]
    return [*out, "G0 Z5"]


def moved(places: Places, dx: float, dy: float) -> Places:
    return [(x + dx, y + dy) for x, y in places]


def told(folder: Path, *stages: tuple[Lines, str]) -> list[dryrun.Finding]:
    """Dry-run programs with their bits; return what is told of shifts and centres."""
    text = JOB
    for k, (lines, bit) in enumerate(stages):
        (folder / f"{k}.nc").write_text(HEAD + "\n".join(lines) + "\n" + TAIL)
        text += f'[[stages]]\nname = "{k}"\nprogram = "{k}.nc"\nbit = "{bit}"\n'
    (folder / "job.toml").write_text(text)
    outcome = dryrun.dry_run(dryrun.read_job(folder / "job.toml"), cell=2.0, keep_stages=False)
    return [f for f in outcome.findings if f.code in ("off-centre", "stage-shifted")]


def test_one_hole_beside_the_centre(tmp_path: Path) -> None:
    """The third of four is drilled half a millimetre to the right."""
    holes = [*CORNERS[:2], (50.5, 30.0), CORNERS[3]]

    (found,) = told(tmp_path, (counterbores(CORNERS), "mill"), (drilled(holes), "drill"))

    assert (found.code, found.stage, found.line) == ("off-centre", 2, 12)
    assert found.value == pytest.approx(0.5, abs=1e-6)


@pytest.mark.parametrize(
    ("off", "said"),
    [((6.0, 0.0), True), ((5.0, 3.0), True), ((8.0, 0.0), True), ((8.0, 3.0), False)],
)
def test_a_hole_that_has_left_its_counterbore(
    off: tuple[float, float], said: bool, tmp_path: Path
) -> None:
    """The third of four overlaps its counterbore or shares Y with it; else it is one of its own."""
    holes = [*CORNERS[:2], (50.0 - off[0], 30.0 + off[1]), CORNERS[3]]

    found = told(tmp_path, (counterbores(CORNERS), "mill"), (drilled(holes), "drill"))

    assert [(f.code, f.stage, f.line) for f in found] == [("off-centre", 2, 12)] * said


def test_two_holes_that_have_half_left_their_counterbores(tmp_path: Path) -> None:
    """Two of five without a partner may be meant."""
    five = [*CORNERS, (0.0, 0.0)]
    holes = [*CORNERS[:3], (-44.0, 30.0), (6.0, 0.0)]

    assert told(tmp_path, (counterbores(five), "mill"), (drilled(holes), "drill")) == []


def test_one_counterbore_beside_its_hole(tmp_path: Path) -> None:
    """The holes come first; the counterbore that is off is told, in its own stage."""
    wide = [*CORNERS[:3], (-50.0, 29.0)]

    (found,) = told(tmp_path, (drilled(CORNERS), "drill"), (counterbores(wide), "mill"))

    assert (found.code, found.stage) == ("off-centre", 2)
    assert "counterbore lies" in found.message


def test_a_word_that_holds_for_two_holes(tmp_path: Path) -> None:
    """X is written once for the second and third of four holes: the second is told, for both."""
    holes = [CORNERS[0], (51.0, -30.0), (51.0, 30.0), CORNERS[3]]

    (found,) = told(tmp_path, (counterbores(CORNERS), "mill"), (drilled(holes), "drill"))

    assert (found.code, found.stage, found.line, found.count) == ("off-centre", 2, 9, 2)
    assert "as does 1 after it" in found.message


@pytest.mark.jit_only
@pytest.mark.parametrize(
    "holes",
    [
        [CORNERS[0], (51.0, -30.0), (49.0, 30.0), CORNERS[3]],  # not by the same
        [CORNERS[0], (51.0, -29.0), (51.0, 31.0), CORNERS[3]],  # along both axes
        [CORNERS[0], (51.0, -30.0), CORNERS[3], (51.0, 30.0)],  # not one after the other
        [CORNERS[0], (50.0, -29.0), (50.0, 31.0), CORNERS[3]],  # the coordinate is written twice
    ],
)
def test_two_holes_that_no_one_word_explains(holes: Places, tmp_path: Path) -> None:
    """Two eccentric holes of four may be meant."""
    assert told(tmp_path, (counterbores(CORNERS), "mill"), (drilled(holes), "drill")) == []


@pytest.mark.parametrize("off", [(1.0, 0.0), (0.0, -0.4), (0.3, 0.9)])
def test_all_holes_beside_their_counterbores(off: tuple[float, float], tmp_path: Path) -> None:
    """All off by the same: the two stages do not share a zero, and the shift is told."""
    (found,) = told(
        tmp_path, (counterbores(CORNERS), "mill"), (drilled(moved(CORNERS, *off)), "drill")
    )

    assert (found.code, found.stage) == ("stage-shifted", 2)
    assert found.value == pytest.approx(math.hypot(*off), abs=0.01)


def pilots(places: Places, slip: float, at: int = 3) -> Lines:
    """Two holes beside each place, even about it; one of them `slip` mm further."""
    holes = [(x + 16, y + side) for x, y in places for side in (-18, 18)]
    holes[at] = (holes[at][0], holes[at][1] + slip)
    return drilled(holes)


@pytest.mark.parametrize("cups", [CORNERS[:2], CORNERS])
def test_a_hole_that_lies_elsewhere_than_its_like(cups: Places, tmp_path: Path) -> None:
    """Beside the second of two hinge cups, or of four; its line is that of the hole."""
    (found,) = told(tmp_path, (counterbores(cups, 12), "mill"), (pilots(cups, 2.7), "drill"))

    assert found.code == "off-centre"
    assert found.line == 3 + 3 * 3 + 3
    assert found.value == pytest.approx(2.7, abs=0.01)


@pytest.mark.jit_only
def test_holes_that_are_alike_beside_theirs_or_follow_no_pattern(tmp_path: Path) -> None:
    """All where they belong; two of two cups elsewhere; and one that is elsewhere by far."""
    two = CORNERS[:2]
    cups = counterbores(two, 12), "mill"
    both = drilled([(x + 16, y + s * k) for (x, y), k in zip(two, (18, 15), strict=True)
                    for s in (-1, 1)])  # fmt: skip

    assert told(tmp_path, cups, (pilots(two, 0.0), "drill")) == []
    assert told(tmp_path, cups, (both, "drill")) == []
    assert told(tmp_path, cups, (pilots(two, 14.0), "drill")) == []


@pytest.mark.jit_only
def test_holes_that_are_meant_where_they_are(tmp_path: Path) -> None:
    """Concentric ones; holes at the edge of discs; a ring of holes round the one in the middle."""
    ring = [(14 * math.cos(k), 14 * math.sin(k)) for k in range(6)]

    assert told(tmp_path, (counterbores(CORNERS), "mill"), (drilled(CORNERS), "drill")) == []
    hung = drilled(moved(CORNERS, 0, 12))
    assert told(tmp_path, (counterbores(CORNERS, 20), "mill"), (hung, "drill")) == []
    flange = counterbores([(0, 0)], 20), "mill"
    assert told(tmp_path, flange, (drilled([(0, 0), *ring]), "drill")) == []
    assert (
        told(tmp_path, (counterbores(CORNERS[:1]), "mill"), (drilled([(-49, -30)]), "drill")) == []
    )


def test_a_ring_just_over_half_as_wide_as_the_one_around_it(tmp_path: Path) -> None:
    """Rings of a pocket are no companions of its wall, however near to half of it they come."""
    rings = ["G0 Z5"]
    for r in (3.00007, 8.0001):  # of the centre of a 4 mm bit
        rings += [f"G0 X{r} Y0", "G1 Z-1 F300", f"G3 X{r} Y0 I{-r} J0 F900", "G0 Z5"]

    assert told(tmp_path, (rings, "mill")) == []
