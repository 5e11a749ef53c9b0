"""Vee bits on a ground that was not cleared, or in part; and those that are right as they are."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

import dryrun

from .heldout.shop import Lines, g, head, job, levels, pocket, strokes, tail

pytestmark = pytest.mark.jit_only

Path_ = list[tuple[float, float]]


def sunk(x0: float, y0: float, x1: float, y1: float) -> Lines:
    """Clear a rectangle 3 mm deep with a 6 mm bit."""
    middle = (x0 + x1) / 2, (y0 + y1) / 2
    return pocket(*middle, x1 - x0, y1 - y0, 6, 2.6, levels(3, 1.5), 1800, 400)


def star(points: int = 5, radius: float = 15.0) -> Path_:
    """Return a closed star."""
    turns = [math.pi * k / points for k in range(2 * points + 1)]
    far = [radius if k % 2 == 0 else radius / 2 for k in range(2 * points + 1)]
    return [(r * math.sin(a), r * math.cos(a)) for r, a in zip(far, turns, strict=True)]


def frame(half: bool) -> Lines:
    """Clear a ground of 80 x 60 mm around a block of 40 x 40; or only its left."""
    left, right = sunk(-40, -30, -20, 30), sunk(20, -30, 40, 30)
    ends = sunk(-23, -30, 23, -20), sunk(-23, 20, 23, 30)
    return left if half else [*left, *right, *ends[0], *ends[1]]


def leaves(level: float) -> Lines:
    """Four strokes that go down from a level to 1 mm below it, and out again."""
    out: Lines = []
    for x, y in ((-25, -15), (25, -15), (25, 15), (-25, 15)):
        out += [f"G0 X{g(x - 8)} Y{y}", "Z1", f"G1 Z{g(level)} F300"]
        out += [f"X{x} Z{g(level - 1)} F1200", f"X{g(x + 8)} Z{g(level)}", "G0 Z4"]
    return out


def told(folder: Path, *stages: tuple[Lines, str]) -> list[tuple[str, int | None, int | None]]:
    """Dry-run programs with their bits; return what is told of clearing, with stage and line."""
    made = []
    for k, (lines, bit) in enumerate(stages):
        made.append({"name": f"{k}", "program": f"{k}.nc", "bit": bit, "depth": "6 mm"})
        (folder / f"{k}.nc").write_text("\n".join([*head("x"), *lines, *tail()]) + "\n", "utf-8")
    stock = {"size": ["120 mm", "90 mm", "18 mm"], "zero": "centre-top", "material": "lime"}
    (folder / "job.toml").write_text(job("x", stock, made, ["end-6", "vee-90"]), "utf-8")
    outcome = dryrun.dry_run(dryrun.read_job(folder / "job.toml"), cell=0.25, keep_stages=False)
    codes = ("not-cleared", "missing-stage")
    return [(f.code, f.stage, f.line) for f in outcome.findings if f.code in codes]


def test_an_outline_whose_ground_is_cleared_in_part(tmp_path: Path) -> None:
    """The walls of a block, with the ground on its left side only: told where it ends."""
    block = [(-20.0, -20.0), (-20.0, 20.0), (20.0, 20.0), (20.0, -20.0), (-20.0, -20.0)]
    walls = strokes([block], -3, 1500, 300)

    assert told(tmp_path, (frame(half=True), "end-6"), (walls, "vee-90")) == [
        ("not-cleared", 2, 11)
    ]
    assert told(tmp_path, (frame(half=False), "end-6"), (walls, "vee-90")) == []


def test_an_outline_that_rises_into_its_corners(tmp_path: Path) -> None:
    """The bit rises to the top at each corner and comes back: the outline is closed."""
    corners = [(-20.0, -20.0), (-20.0, 20.0), (20.0, 20.0), (20.0, -20.0)]
    walls = ["G0 X-20 Y-20", "Z1", "G1 Z-3 F300"]
    for x, y in [*corners, corners[0]]:
        out = f"X{g(x * 0.85)} Y{g(y * 0.85)} Z0"
        walls += [f"G1 X{g(x)} Y{g(y)} F1500", out, f"X{g(x)} Y{g(y)} Z-3"]
    walls.append("G0 Z4")

    (found,) = told(tmp_path, (frame(half=True), "end-6"), (walls, "vee-90"))
    assert found[:2] == ("not-cleared", 2)
    assert told(tmp_path, (frame(half=False), "end-6"), (walls, "vee-90")) == []


def test_a_star_cut_across_the_edge_of_a_floor(tmp_path: Path) -> None:
    """Its path has the floor on both sides or none, so it is a groove that is wanted there."""
    lines = strokes([star()], -3.5, 1500, 300)

    assert told(tmp_path, (sunk(-40, -30, 0, 30), "end-6"), (lines, "vee-90")) == []


def test_tapers_that_end_below_an_uncut_top(tmp_path: Path) -> None:
    """Leaves carved into a floor 3 mm down, which nobody has cleared; and where it is cleared."""
    assert told(tmp_path, (leaves(-3.0), "vee-90")) == [("missing-stage", 1, 10)]
    assert told(tmp_path, (sunk(-50, -35, 50, 35), "end-6"), (leaves(-3.0), "vee-90")) == []


def test_strokes_that_begin_and_end_a_little_below_the_top(tmp_path: Path) -> None:
    """Blunt ends less deep than the stroke, and strokes that taper out at the top."""
    assert told(tmp_path, (leaves(-0.6), "vee-90")) == []
    assert told(tmp_path, (leaves(0.0), "vee-90")) == []


def test_a_second_pass_begins_below_the_top(tmp_path: Path) -> None:
    """Leaves carved in two passes, the second only where the first was not deep enough."""
    passes = [*leaves(0.0), *leaves(-1.6)]
    first = [line.replace("Z-1 F1200", "Z-1.6 F1200") for line in passes]

    assert told(tmp_path, (first, "vee-90")) == []


def test_a_chamfer_beside_a_rebate_before_the_cut_out(tmp_path: Path) -> None:
    """An outline with a rebate along one of its sides; the others are uncut until the cut-out."""
    block = [(-20.0, -20.0), (-20.0, 20.0), (20.0, 20.0), (20.0, -20.0), (-20.0, -20.0)]
    chamfer = strokes([block], -1, 1500, 300)
    deep = strokes([block], -3, 1500, 300)
    out = strokes([[(x * 1.2, y * 1.2) for x, y in block]], -5, 1500, 300)
    wide = [
        line
        for k in (1.35, 1.5)
        for line in strokes([[(x * k, y * k) for x, y in block]], -5, 1500, 300)
    ]
    rebate = sunk(-40, -30, -20, 30), "end-6"

    assert told(tmp_path, rebate, (chamfer, "vee-90"), (out, "end-6")) == []
    assert told(tmp_path, rebate, (deep, "vee-90"), ([*out, *wide], "end-6")) == []
