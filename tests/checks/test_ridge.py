"""A ridge between a floor and the vee bit that follows its walls."""

from __future__ import annotations

from pathlib import Path

import pytest

import dryrun

JOB = """
title = "field for an inlay"
[stock]
size = ["60 mm", "60 mm", "10 mm"]
zero = "centre-top"
material = "maple"
[bits.flat-4]
shape = "flat"
diameter = "4 mm"
[bits.vee-60]
shape = "vee"
angle = "60 deg"
diameter = "10 mm"
[[stages]]
name = "ground"
program = "ground.nc"
bit = "flat-4"
depth = "3 mm"
[[stages]]
name = "walls"
program = "walls.nc"
bit = "vee-60"
depth = "3 mm"
"""
HEAD, TAIL = "G21 G90 G54\nS18000 M3\nG0 Z5\n", "G0 Z5\nM5\nM30\n"


def ring(half: float) -> str:
    corners = ((-half, half), (half, half), (half, -half), (-half, -half))
    return "".join(f"G1 X{x:g} Y{y:g} F1000\n" for x, y in corners)


def codes(folder: Path, last: float) -> set[str]:
    """Return what is said where the floor's last ring runs so far from the middle, mm."""
    ground = "G0 X0 Y0\nG1 Z-3 F300\n" + "".join(ring(h) for h in (2, 5, 8, 11, 13.5, last))
    (folder / "ground.nc").write_text(HEAD + ground + TAIL)
    walls = "G0 X-18 Y-18\nG1 Z-3 F300\n" + ring(18)
    (folder / "walls.nc").write_text(HEAD + walls + TAIL)
    (folder / "job.toml").write_text(JOB)
    outcome = dryrun.dry_run(dryrun.read_job(folder / "job.toml"), cell=0.1)
    return {f.code for f in outcome.findings if f.stage == 2}


@pytest.mark.jit_only
@pytest.mark.parametrize(
    ("last", "told"),
    [
        (15.0, True),  # 1 mm between floor and point: the flank leaves 1.7 mm
        (15.9, False),  # a tenth is left for the vee bit, as is usual
        (16.0, False),
        (13.8, False),  # 2.2 mm between them: a wall as high as the blank, which may be wanted
    ],
)
def test_a_ridge_is_told_and_a_wall_is_not(tmp_path: Path, last: float, told: bool) -> None:
    assert ("not-cleared" in codes(tmp_path, last)) is told
