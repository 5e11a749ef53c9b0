"""`dryrun time`, `compare` and `margin` as a person drives them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.test_check import PROGRAM, QUICK, Exit, shell, unusable

PLAIN = QUICK[:6]


@pytest.fixture
def part(tmp_path: Path) -> Path:
    path = tmp_path / "part.nc"
    path.write_text(PROGRAM)
    return path


def test_where_the_time_goes(part: Path, tmp_path: Path) -> None:
    """The table names the parts; the JSON's parts add up; a picture is drawn."""
    text = shell("time", str(part))
    data = json.loads(shell("time", str(part), "--format", "json").stdout)
    drawn = shell("time", str(part), "--picture", str(tmp_path / "speed.png"))

    assert text.returncode == drawn.returncode == Exit.OK
    assert "cutting at feed" in text.stdout
    assert "what would shorten it" in text.stdout
    stage = data["stages"][0]
    assert sum(stage["where"].values()) == pytest.approx(stage["seconds"], abs=1e-5)
    assert (tmp_path / "speed.png").read_bytes().startswith(b"\x89PNG")


def test_fit_to_the_clock(part: Path, tmp_path: Path) -> None:
    """Measured runs make a machine file."""
    machine = tmp_path / "mine.toml"
    measured = ("--measured", "1=5.2s", "--measured", "part=0:05.3")
    done = shell("time", str(part), *measured, "--fit-to", str(machine))

    assert done.returncode == Exit.OK, done.stderr
    assert "run by run" in done.stdout
    assert machine.exists()


def test_wrong_measured_times(part: Path) -> None:
    """Wrong stages and clocks say what would be right."""
    unusable(shell("time", str(part), "--measured", "7=1:00"), "no stage '7'")
    unusable(shell("time", str(part), "--measured", "1=soon"), "11:20")
    unusable(shell("time", str(part), "--fit-to", "x.toml"), "--measured")


def test_two_versions_side_by_side(part: Path, tmp_path: Path) -> None:
    """A deeper version removes more; the difference is drawn and counted."""
    other = tmp_path / "deeper.nc"
    other.write_text(PROGRAM.replace("Z-4", "Z-5"))
    picture = tmp_path / "difference.png"
    arguments = ("compare", str(part), str(other), *PLAIN, "--cell", "0.5mm")
    text = shell(*arguments, "--picture", str(picture))
    data = json.loads(shell(*arguments, "--format", "json").stdout)

    assert text.returncode == Exit.OK, text.stderr
    assert "B − A" in text.stdout
    # 1 mm more along a slot of a flat bit: 2 R L + pi R^2 (elementary geometry).
    assert data["surface"]["less_mm3"] == pytest.approx(6 * 40 + 28.27, rel=0.03)
    assert data["surface"]["more_mm3"] == 0.0
    assert picture.read_bytes().startswith(b"\x89PNG")


@pytest.mark.jit_only
def test_margins_of_a_quick_look(part: Path, tmp_path: Path) -> None:
    """Margins, chances and the picture of bars."""
    picture = tmp_path / "margin.png"
    asked = ("--depth", "4.2mm", "--tolerance", "z-zero=0.4mm", "--samples", "200", "-q")
    done = shell("margin", str(part), *PLAIN, *asked, "--picture", str(picture))

    assert done.returncode == Exit.OK, done.stderr
    assert "too-deep" in done.stdout
    assert "95 % interval" in done.stdout
    assert picture.read_bytes().startswith(b"\x89PNG")
    unusable(shell("margin", str(part), *PLAIN, "--tolerance", "zzero=1mm"), "z-zero")
    tilted = shell("margin", str(part), *PLAIN, "--tolerance", "tilt-x=1mm")
    unusable(tilted, 'found "1mm"', '"0.5 mm/m"')
