"""`dryrun restart` as a person drives it, wrong input included."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from dryrun.cli.exits import Exit
from tests.cli.test_check import Done, shell, unusable
from tests.restart.programs import PROGRAMS

pytestmark = pytest.mark.jit_only

DECLARED = ("--bit", "flat:6mm", "--stock", "180x180x18mm", "--zero", "centre-top")
FAST = ("--cell", "1mm", "--threads", "1")


@pytest.fixture
def part(tmp_path: Path) -> Path:
    path = tmp_path / "part.nc"
    path.write_text(PROGRAMS["plain"])
    return path


def restart(*arguments: str | Path) -> Done:
    return shell("restart", *map(str, arguments), *DECLARED, *FAST)


def test_says_how_things_stand_and_writes_a_way_back(part: Path, tmp_path: Path) -> None:
    """The blank, what is in force, the place, cautions; a program and a picture in files."""
    target, picture = tmp_path / "back.nc", tmp_path / "stands.png"
    done = restart(part, "--line", "25", "-o", target, "--picture", picture)

    assert done.returncode == Exit.OK, done.stderr
    for words in (
        "stopped at part.nc:25", "the blank as it stands there", "millimetres (G21)",
        "12000 rpm clockwise (M3)", "flood (M8)", "last clean place", "run again",
        "in all 32400 cells", "safe_height is not declared", "home it", "manual comes first",
        "prove X and Y zero", str(target),
    ):  # fmt: skip
        assert words in " ".join(done.stdout.split()), words
    assert " safe:" not in done.stdout
    assert "it is safe" not in done.stdout
    assert target.read_text().startswith("(restart of part.nc from line ")
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["back.nc", "part.nc", "stands.png"]
    checked = shell("check", str(target), *DECLARED, *FAST)
    assert checked.returncode == Exit.OK, checked.stdout


def test_json(part: Path, tmp_path: Path) -> None:
    """The same as data, with lengths in mm."""
    target = tmp_path / "back.nc"
    done = restart(part, "--line", "25", "--format", "json", "-o", target)
    data: dict[str, Any] = json.loads(done.stdout)

    assert data["schema"] == 1
    assert data["stop"]["line"] == 25
    assert data["stop"]["state"]["spindle"] == "M3"
    assert data["stop"]["state"]["coolant"] == ["M8"]
    assert data["place"]["line"] < 25
    assert data["cells_differing"] == 0
    assert data["program"]["written"] == str(target)
    assert data["program"]["bytes"] == target.stat().st_size
    assert 0 < data["blank"]["removed_mm3"] < data["blank"]["removed_in_the_end_mm3"]
    assert any("home it" in words for words in data["cautions"])


def test_quiet_is_short(part: Path) -> None:
    """-q leaves the place, findings, verdict and cautions."""
    done = restart(part, "--line", "25", "-q")
    assert "in force where" not in done.stdout
    assert "where to go on" in done.stdout
    assert "home it" in done.stdout


def test_without_a_clean_place(part: Path, tmp_path: Path) -> None:
    """Start from the beginning is said, the exit code is 1, and no file is made."""
    target = tmp_path / "back.nc"
    done = restart(part, "--line", "4", "-o", target)
    assert done.returncode == Exit.FINDINGS
    assert "from the beginning of the stage" in done.stdout
    assert not target.exists()
    data = json.loads(restart(part, "--line", "4", "--format", "json").stdout)
    assert data["program"] is None
    assert data["why_not"]


def test_passes(tmp_path: Path) -> None:
    """A line of a subprogram is carried out several times: that is said; a pass can be named."""
    path = tmp_path / "calls.nc"
    path.write_text(PROGRAMS["subprograms"])
    line = str(PROGRAMS["subprograms"].splitlines().index("G1 Y13.3 F900") + 1)
    usual, third = restart(path, "--line", line), restart(path, "--line", line, "--pass", "3")
    assert "carried out 4 times; pass 1 is taken, the earliest" in " ".join(usual.stdout.split())
    assert "pass 3 is taken" in third.stdout
    unusable(restart(path, "--line", line, "--pass", "5"), "no pass 5")


def test_a_line_that_moves_nothing(tmp_path: Path) -> None:
    """A comment, an M code, and a move to where the bit is stand for what comes after them."""
    path = tmp_path / "part.nc"
    lines = PROGRAMS["plain"].splitlines()
    lines[20:20] = ["(here)", lines[19], ""]
    path.write_text("\n".join(lines))
    for line in (21, 22, 23):
        done = restart(path, "--line", str(line))
        assert done.returncode == Exit.OK, done.stderr


def test_wrong_lines_and_stages(part: Path) -> None:
    """Each says what is there."""
    unusable(restart(part), "--line")
    unusable(restart(part, "--line", "9999"), "there is no line 9999")
    unusable(restart(part, "--line", "0"), "there is no line 0")
    unusable(restart(part, "--line", "-3"), "--line")
    unusable(restart(part, "--line", "soon"), "is no line")
    unusable(restart(part, "--line", "9" * 30), "is no line")
    unusable(restart(part, "--line", "other.nc:3"), "runs no file 'other.nc'")
    unusable(restart(part, "--line", "3", "--stage", "2"), "no stage '2'")
    unusable(restart(part, "--line", "3", "--pass", "2"), "carried out once")
    unusable(restart(part, "--line", "3", "--picture", "x.jpg"), ".png")
    unusable(shell("restart", str(part), "--line", "3"), "needs to know the blank")
    after = part.with_name("after.nc")
    after.write_text(PROGRAMS["plain"] + "\nG0 X1\n")
    unusable(restart(after, "--line", str(len(PROGRAMS["plain"].splitlines()) + 1)), "never")


def test_stage_by_number_or_name(part: Path) -> None:
    """Both name a stage; of two stages one must be named."""
    other = part.with_name("other.nc")
    other.write_text(PROGRAMS["spiral"])
    unusable(restart(part, other, "--line", "30"), "say which stage stopped")
    for stage in ("2", "other"):
        done = restart(part, other, "--line", "200", "--stage", stage)
        assert done.returncode == Exit.OK, done.stderr
        assert "stage 2, other" in done.stdout
        assert "earlier stages complete" in done.stdout


def test_files_are_never_written_over(part: Path, tmp_path: Path) -> None:
    """Not the program itself, not another, not through a link."""
    link = tmp_path / "link.nc"
    link.symlink_to(tmp_path / "nowhere.nc")
    for target in (part, link):
        unusable(restart(part, "--line", "25", "-o", target), "is there already")
    unusable(restart(part, "--line", "25", "-o", "-"), "needs a file")
    assert part.read_text() == PROGRAMS["plain"]
    unusable(restart(part, "--line", "25", "-o", tmp_path / "no" / "x.nc"), "cannot write")


def test_never_half_written(part: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that is full in the middle leaves neither the file nor a part of it."""
    usual = Path.write_bytes

    def half(self: Path, data: bytes) -> int:
        usual(self, data[: len(data) // 2])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", half)
    unusable(restart(part, "--line", "25", "-o", tmp_path / "back.nc"), "No space left")
    assert [p.name for p in tmp_path.iterdir()] == ["part.nc"]


def test_escapes_in_a_program_reach_no_terminal(part: Path) -> None:
    """Control characters of the program are shown, not sent."""
    text = PROGRAMS["plain"].splitlines()
    text[24] += " (\x1b[31m\x07 red)"
    part.write_text("\n".join(text))
    done = restart(part, "--line", "25")
    assert done.returncode == Exit.OK
    assert "\x1b" not in done.stdout
    assert "\\x1b" in done.stdout
