"""Stages that are called finishing, and clearing ones beside what finer bits take elsewhere."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

import dryrun

pytestmark = pytest.mark.jit_only

JOB = """
title = "a hollow"
units = "mm"
[stock]
size = ["60 mm", "50 mm", "20 mm"]
zero = "front-left-top"
[bits]
ball-6 = { shape = "ball", diameter = "6 mm", flutes = 2 }
flat-6 = { shape = "flat", diameter = "6 mm", flutes = 2 }
drill-5 = { shape = "drill", diameter = "5 mm", angle = "118 deg", flutes = 2 }
"""
START, END = "G21 G90\nS18000 M3\nG0 Z5\n", "G0 Z5\nM5\nM30\n"


def stage(folder: Path, name: str, bit: str, depth: str, *lines: str) -> str:
    """Write a program; return its stage of the job file."""
    program = f"{name.replace(' ', '-')}.nc"
    (folder / program).write_text(START + "".join(f"{x}\n" for x in lines) + END)
    return f'[[stages]]\nname = "{name}"\nprogram = "{program}"\nbit = "{bit}"\ndepth = "{depth}"\n'


def codes(folder: Path, *stages: str) -> set[str]:
    (folder / "job.toml").write_text(JOB + "".join(stages))
    outcome = dryrun.dry_run(dryrun.read_job(folder / "job.toml"), cell=0.25)
    return {f.code for f in outcome.findings if f.level != "note"}


def hollow(deepest: float) -> list[str]:
    """Rows 0.9 mm apart through a hollow of 40 by 30 mm."""
    lines = ["G0 X10 Y10", "G1 Z-0.5 F400"]
    for n in range(33):
        y = 10 + 0.9 * n
        xs = [10 + 2.0 * k for k in range(21)]
        for x in xs[::-1] if n % 2 else xs:
            deep = math.sin(math.pi * (x - 10) / 40) * math.sin(math.pi * (y - 10) / 30)
            lines.append(f"G1 X{x:g} Y{y:.1f} Z{-0.5 - (deepest - 0.5) * deep:.3f} F2000")
    return lines


@pytest.mark.parametrize(
    ("name", "deepest", "told"),
    [("finish the hollow", 6.5, True), ("hollow", 6.5, False), ("finish the hollow", 3.2, False)],
)
def test_what_is_called_finishing_does_not_take_the_full_blank(
    tmp_path: Path, name: str, deepest: float, told: bool
) -> None:
    """Up to 6.5 mm with a ball of 6 mm: in one go it may be wanted, but not as finishing."""
    found = codes(tmp_path, stage(tmp_path, name, "ball-6", f"{deepest} mm", *hollow(deepest)))
    assert ("missing-stage" in found) == told


def counterbore(x: float) -> list[str]:
    """Two turns down to 1 mm, and up again."""
    return [f"G0 X{x + 2:g} Y25", "G0 Z1", "G1 Z0 F600", "G3 I-2 Z-0.5", "G3 I-2 Z-1", "G3 I-2",
            f"G1 X{x:g}", "G0 Z5"]  # fmt: skip


def test_counterbores_are_not_idle_beside_holes_and_a_cut_out_elsewhere(tmp_path: Path) -> None:
    """The outline is fifty times as much, and none of it where the counterbores are."""
    cuts = [x for k in range(1, 6) for z in (-4.04 * k,)
            for x in (f"G1 Z{z:.2f} F400", "G1 X56 F1800", "G1 Y46", "G1 X4", "G1 Y4")]  # fmt: skip
    small = stage(tmp_path, "seats", "flat-6", "1 mm", *counterbore(20), *counterbore(40))
    holes = stage(tmp_path, "holes", "drill-5", "8 mm", "G83 X20 Y25 Z-8 R1 Q3 F300", "X40", "G80")
    outline = stage(tmp_path, "outline", "flat-6", "through", "G0 X4 Y4", "G0 Z1", *cuts)
    assert "idle-stage" not in codes(tmp_path, small, holes, outline)


def test_clearing_is_idle_where_finer_bits_take_nearly_all_of_it(tmp_path: Path) -> None:
    """Two tenths of a millimetre of a hollow, and a ball takes the rest."""
    ring = ["G0 X28 Y25", "G0 Z1", "G1 Z-0.02 F600", "G1 X32 F1800"]
    clearing = stage(tmp_path, "clear", "flat-6", "0.02 mm", *ring)
    finish = stage(tmp_path, "carve", "ball-6", "5 mm", *hollow(5.0))
    job = (clearing, finish.replace("ball-6", "ball-3"))
    (tmp_path / "job.toml").write_text("")
    found = codes(tmp_path, 'ball-3 = { shape = "ball", diameter = "3 mm", flutes = 2 }\n', *job)
    assert "idle-stage" in found


def test_the_way_in_is_said_not_to_be_looked_at_until_park_is_declared(tmp_path: Path) -> None:
    line = stage(tmp_path, "line", "flat-6", "1 mm", "G0 X20 Y20", "G1 Z-1 F300", "G1 X40 F900")
    known = '[machine]\nwork_zero = ["0 mm", "0 mm", "-60 mm"]\npark = ["9 mm", "9 mm", "-1 mm"]\n'
    for more, said in (("", True), (known, False)):
        (tmp_path / "job.toml").write_text(JOB + more + line)
        outcome = dryrun.dry_run(dryrun.read_job(tmp_path / "job.toml"), cell=0.5)
        needs = [n.needs for n in outcome.not_run if n.code == "rapid-low"]
        assert bool(needs) == said
        assert all("machine.park" in n for n in needs)
