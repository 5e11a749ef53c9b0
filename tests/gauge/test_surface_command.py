"""The command that compares a scanned surface, driven on a job of files."""

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from dryrun.cli.exits import Unusable
from dryrun.cli.gauge_surface import command

JOB = """
title = "one slot"
[stock]
size = ["40 mm", "30 mm", "10 mm"]
zero = "front-left-top"
[[stages]]
program = "slot.nc"
bit = "flat6"
[bits.flat6]
shape = "flat"
diameter = "6 mm"
flute_length = "20 mm"
flutes = 2
"""
SLOT = "G21 G90 G17\nM3 S12000\nG0 X5 Y15 Z5\nG1 Z-2 F200\nG1 X35 F800\nG0 Z5\nM5\nM30\n"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    (tmp_path / "slot.nc").write_text(SLOT)
    path = tmp_path / "job.toml"
    path.write_text(JOB)
    return path


def call(*arguments):
    return CliRunner().invoke(
        command, [str(a) for a in arguments], standalone_mode=False, catch_exceptions=True
    )


def grey(path: Path, lift: float) -> Path:
    """A picture of the slot as it should be, `lift` mm higher: black -5 mm, white 0."""
    y, x = np.mgrid[0:300, 0:400] * 0.1 + 0.05
    across = np.hypot(x - np.clip(x, 5, 35), y[::-1] - 15)
    z = np.where(across < 3, -2.0, 0.0) + lift
    Image.fromarray(np.clip(np.round((z + 5) / 5 * 65535), 0, 65535).astype(np.uint16)).save(path)
    return path


def test_a_slot_cut_too_shallow_shows_as_left_too_high(job, tmp_path):
    """A picture 0.3 mm above the slot's floor, and 0.3 below the top, gives these numbers."""
    picture = grey(tmp_path / "scan.png", -0.3)
    result = call(job, picture, "--black", "-5 mm", "--white", "0 mm", "--cell", "0.1 mm",
                  "--format", "json", "--picture", tmp_path / "map.png")  # fmt: skip
    assert result.exception is None, result.exception
    found = json.loads(result.stdout)

    assert found["schema"] == 1
    assert found["statistics_mm"]["median"] == pytest.approx(-0.3, abs=2e-3)
    assert found["statistics_mm"]["beyond"] == 1.0
    assert found["statistics_mm"]["covered"] == 1.0
    assert (tmp_path / "map.png").read_bytes()[:4] == b"\x89PNG"


def test_an_offset_can_be_taken_out(job, tmp_path):
    """What was taken out is said, in words too, and hardly anything is left."""
    picture = grey(tmp_path / "scan.png", -0.3)
    result = call(job, picture, "--black", "-5 mm", "--white", "0 mm", "--take-out", "offset")
    assert result.exception is None, result.exception

    assert "taken out before: -0.3 mm" in result.stdout
    assert "0 % of it is off" in result.stdout.replace("0.0 %", "0 %")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["nothing.stl"], "no such file"),
        (["scan.png"], "--black and --white"),
        (["scan.png", "--black", "deep", "--white", "0 mm"], "--black"),
        (["job.toml"], "cannot be read as a mesh"),
    ],
)
def test_what_cannot_be_used_is_said(job, tmp_path, monkeypatch, arguments, said):
    """One message, no traceback."""
    pytest.importorskip("trimesh")
    grey(tmp_path / "scan.png", 0.0)
    monkeypatch.chdir(tmp_path)
    result = call("job.toml", *arguments)

    assert isinstance(result.exception, Unusable)
    assert said in str(result.exception)
