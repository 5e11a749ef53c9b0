"""Full circles on the other side of their start: told by their company, silent where meant."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path

import pytest

import dryrun

HEAD = "G21 G90 G17\nS18000 M3\nG4 P4\n"
TAIL = "G0 Z20\nM5\nM30\n"
JOB = """
title = "rounds"
units = "mm"
stock = { size = ["160 mm", "120 mm", "18 mm"], zero = "centre-top" }
clamps = []
[bits.b]
shape = "flat"
diameter = "4 mm"
"""

Lines = list[str]


def g(value: float) -> str:
    return f"{value:.4f}"


def circle(
    cx: float, cy: float, radius: float, zs: list[float], at: tuple[float, float] = (1, 0)
) -> Lines:
    """Go round a circle at each depth, from the side `at` of it."""
    x, y = radius * at[0], radius * at[1]
    out = ["G0 Z5", f"G0 X{g(cx + x)} Y{g(cy + y)}"]
    for z in zs:
        out += [f"G1 Z{g(z)} F300", f"G3 X{g(cx + x)} Y{g(cy + y)} I{g(-x)} J{g(-y)} F900"]
    return [*out, "G0 Z5"]


def rings() -> Lines:
    """Clear a round pocket by rings at one depth."""
    out = ["G0 X3 Y0", "G1 Z-2 F300"]
    for r in (3, 6, 9, 12):
        out += [f"G1 X{r} F900", f"G3 X{r} Y0 I-{r} J0"]
    return [*out, "G0 Z5"]


def depths() -> Lines:
    """Go round one circle at four depths, with a lift between them."""
    return [line for z in (-1, -2, -3, -4) for line in circle(0, 0, 20, [z], (0.6, 0.8))]


def holes() -> Lines:
    """Bore four holes, each by one line."""
    places = [(-40, -20), (40, -20), (40, 20), (-40, 20)]
    return [line for x, y in places for line in circle(x, y, 3, [-4])]


def bolts() -> Lines:
    """Bore five holes round a centre, each from its front."""
    turns = [2 * math.pi * k / 5 for k in range(5)]
    places = [(30 * math.cos(a), 30 * math.sin(a)) for a in turns]
    return [line for x, y in places for line in circle(x, y, 3, [-4], (0, -1))]


def led() -> Lines:
    """Go round once, in and out on quarter circles."""
    return [
        "G0 X15 Y-5",
        "G1 Z-1 F300",
        "G3 X20 Y0 I0 J5 F900",
        "G3 X20 Y0 I-20 J0",
        "G3 X15 Y5 I-5 J0",
        "G0 Z5",
    ]


def figure_eight() -> Lines:
    return ["G0 X0 Y0", "G1 Z-1 F300", "G3 I-10 J0 F900", "G2 I10 J0", "G0 Z5"]


def touching() -> Lines:
    return [line for x in (-40, -20, 0, 20, 40) for line in circle(x, 0, 10, [-1, -2])]


def petals() -> Lines:
    turns = [math.pi * k / 3 for k in range(6)]
    return [
        line
        for a in turns
        for line in circle(
            20 * math.cos(a), 20 * math.sin(a), 20, [-1], (-math.cos(a), -math.sin(a))
        )
    ]


def mirrored() -> Lines:
    """Bore four holes, each from the side that faces out."""
    places = [(-40, -20), (40, -20), (40, 20), (-40, 20)]
    return [s for x, y in places for s in circle(x, y, 3, [-2, -4], (math.copysign(1, x), 0))]


def trochoid() -> Lines:
    """Go along a slot in circles whose steps all turn back."""
    out = ["G0 X0 Y2", "G1 Z-3 F300"]
    for k in range(12):
        out += [f"G1 X{g(k * 0.8)} F900", f"G3 X{g(k * 0.8)} Y2 I0 J-2"]
    return [*out, "G0 Z5"]


def zigzag() -> Lines:
    """Ramp down to and fro along the tangent, then go round the other way."""
    out = ["G0 X20 Y8"]
    for z in (-1, -2, -3):
        out += [f"G1 X20 Y0 Z{z + 0.5} F600", f"G1 Y8 Z{z}", "G1 Y0", "G3 X20 Y0 I-20 J0", "G1 Y8"]
    return [*out, "G0 Z5"]


def told(folder: Path, *programs: Lines, cell: float = 2.0) -> list[tuple[int | None, int | None]]:
    """Dry-run the programs as stages of one job; return stage and line of what is told.

    Cells are coarse: but for a floor that was cleared before, the paths alone count.
    """
    text = JOB
    for k, lines in enumerate(programs):
        (folder / f"{k}.nc").write_text(HEAD + "\n".join(lines) + "\n" + TAIL)
        text += f'[[stages]]\nname = "{k}"\nprogram = "{k}.nc"\nbit = "b"\ndepth = "8 mm"\n'
    (folder / "job.toml").write_text(text)
    outcome = dryrun.dry_run(dryrun.read_job(folder / "job.toml"), cell=cell, keep_stages=False)
    return [(f.stage, f.line) for f in outcome.findings if f.code == "circle-flipped"]


def flipped(lines: Lines, nth: int, letter: str) -> tuple[Lines, int]:
    """Change the sign of a letter of the nth full circle; return the lines, and which it is."""
    full = [k for k, line in enumerate(lines) if line[:2] in ("G2", "G3")]
    k = full[nth]
    new = re.sub(rf"{letter}(-?)(?=[\d.])", lambda m: letter + ("" if m[1] else "-"), lines[k])
    return [*lines[:k], new, *lines[k + 1 :]], k + 4


@pytest.mark.parametrize(
    ("make", "nth", "letter"),
    [
        (rings, 2, "I"),
        (rings, 3, "I"),
        (depths, 1, "I"),
        (depths, 2, "J"),
        (holes, 0, "I"),
        (holes, 3, "I"),
        (bolts, 2, "J"),
        (led, 1, "I"),
    ],
)
def test_a_lost_sign_is_told_at_its_line(
    make: Callable[[], Lines], nth: int, letter: str, tmp_path: Path
) -> None:
    """One finding, at the line whose sign was changed."""
    lines, line = flipped(make(), nth, letter)

    assert told(tmp_path, lines) == [(1, line)]


@pytest.mark.parametrize(
    "make",
    [
        rings,
        depths,
        holes,
        bolts,
        led,
        figure_eight,
        touching,
        petals,
        mirrored,
        trochoid,
        zigzag,
    ],
)
def test_circles_that_are_meant(make: Callable[[], Lines], tmp_path: Path) -> None:
    """Figures that touch, mirror and turn back on purpose."""
    assert told(tmp_path, make()) == []


def test_a_ring_beside_the_rings_of_the_stage_before(tmp_path: Path) -> None:
    """The wall of a pocket is finished on the other side of its start."""
    assert told(tmp_path, rings(), ["G0 X12.5 Y0", "G1 Z-2 F300", "G3 I12.5 J0", "G0 Z5"]) == [
        (2, 6)
    ]
    assert told(tmp_path, rings(), ["G0 X12.5 Y0", "G1 Z-2 F300", "G3 I-12.5 J0", "G0 Z5"]) == []


@pytest.mark.jit_only
def test_a_ring_beside_a_round_floor_cleared_by_lines(tmp_path: Path) -> None:
    """The same, where no arc has cleared the pocket; a ring of another size is its own affair."""
    rows: Lines = []
    for k, y in enumerate(range(-16, 17, 2)):
        x = math.sqrt(16.5**2 - y * y) * (1 if k % 2 else -1)
        rows += [f"G0 X{g(x)} Y{y}", "G1 Z-3 F300"] if k == 0 else [f"G1 X{g(x)} Y{y} F900"]
        rows += [f"G1 X{g(-x)}"]
    rows += ["G0 Z5"]

    def ring(radius: float, sign: str) -> Lines:
        return ["G0 Y0", f"G0 X{radius}", "G1 Z-3 F300", f"G3 I{sign}{radius} J0", "G0 Z5"]

    assert told(tmp_path, rows, ring(16.8, ""), cell=0.5) == [(2, 7)]
    assert told(tmp_path, rows, ring(16.8, "-"), cell=0.5) == []
    assert told(tmp_path, rows, ring(8, ""), cell=0.5) == []


def test_a_circle_beside_its_drilled_hole(tmp_path: Path) -> None:
    """Of three counterbores over drilled holes one is round another place."""
    drill = ["G0 Z5"]
    places = [(-40, 0), (0, 0), (33, 7)]
    for x, y in places:
        drill += [f"G0 X{x} Y{y}", "G1 Z-6 F200", "G0 Z5"]
    bores = [line for k, (x, y) in enumerate(places) for line in circle(x, y, 4, [-2 - k])]
    lines, line = flipped(bores, 2, "I")

    assert told(tmp_path, drill, lines) == [(2, line)]
    assert told(tmp_path, drill, bores) == []
