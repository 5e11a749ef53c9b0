"""`report`, `view`, `sheet`, `init`, `demo`, `schema`, `check --watch` as a person drives them."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from click.testing import CliRunner, Result

import dryrun
from dryrun.cli.exits import Exit, Unusable
from dryrun.cli.main import group
from dryrun.cli.main import run as shell_run
from dryrun.cli.watch import stamps, watch

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"

PROGRAM = "G21 G90\nS9000 M3\nG0 X8 Y8 Z5\nG1 Z-2 F300\nG1 X20 F900\nG0 Z5\nM5\nM30\n"
QUICK = (
    "--bit",
    "flat:4mm",
    "--stock",
    "30x20x8mm",
    "--zero",
    "front-left-top",
    "--cell",
    "0.5 mm",
)


def run(*arguments: str) -> Result:
    return CliRunner().invoke(group, list(arguments), standalone_mode=True)


@pytest.fixture
def part(tmp_path: Path) -> Path:
    path = tmp_path / "part.nc"
    path.write_text(PROGRAM)
    return path


def test_report_is_written_whole(part: Path, tmp_path: Path) -> None:
    """The report of a quick look is one HTML file with nothing left beside it."""
    target = tmp_path / "out.html"
    done = run("report", str(part), *QUICK, "-o", str(target))

    assert done.exit_code == Exit.OK
    assert target.read_text("utf-8").startswith("<!doctype html>")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out.html", "part.nc"]


@pytest.mark.parametrize("name", ["report", "sheet"])
def test_pages_want_to_know_where_to(name: str, part: Path) -> None:
    """Without -o nothing is poured over the terminal; the message says what to do."""
    done = run(name, str(part), *QUICK[:-2])

    assert done.exit_code == Exit.UNUSABLE
    assert "-o" in done.stderr


@pytest.mark.parametrize("name", ["report", "sheet", "view", "init"])
def test_commands_without_a_file_print_help(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Called alone, a command explains itself and ends with 2."""
    with pytest.raises(SystemExit) as stop:
        shell_run([name])

    assert stop.value.code == Exit.UNUSABLE
    assert "Usage" in capsys.readouterr().out


def test_report_of_a_folder_that_is_not_there(part: Path, tmp_path: Path) -> None:
    """A missing folder is said in one line, exit code 2."""
    done = run("report", str(part), *QUICK, "-o", str(tmp_path / "no" / "out.html"))

    assert done.exit_code == Exit.UNUSABLE
    assert "No such file" in done.stderr


def test_sheet_is_written(part: Path, tmp_path: Path) -> None:
    """The sheet of a quick look has a drawing and boxes to tick."""
    target = tmp_path / "sheet.html"
    done = run("sheet", str(part), *QUICK[:-2], "-o", str(target))

    assert done.exit_code == Exit.OK
    assert 'type="checkbox"' in target.read_text("utf-8")


def test_view_writes_solid_and_heights(part: Path, tmp_path: Path) -> None:
    """Solids and maps are written in one run, and what they hold is said."""
    pytest.importorskip("trimesh")
    stl, npz = tmp_path / "a.stl", tmp_path / "h.npz"
    done = run("view", str(part), *QUICK, "--stl", str(stl), "--heights", str(npz))

    assert done.exit_code == Exit.OK
    assert "triangles" in done.stderr
    with np.load(npz) as data:
        assert data["height"].shape == (40, 60)
    assert stl.stat().st_size == 84 + 50 * int.from_bytes(stl.read_bytes()[80:84], "little")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--heights", "h.tif"), "must end in .npz, .png, .csv"),
        (("--shot", "a.jpg"), "must end in .png"),
    ],
)
def test_view_names_the_kinds_it_writes(
    options: tuple[str, str], words: str, part: Path, tmp_path: Path
) -> None:
    """An ending that is not known is refused with those that are."""
    done = run("view", str(part), *QUICK, options[0], str(tmp_path / options[1]))

    assert done.exit_code == Exit.UNUSABLE
    assert words in done.stderr


def test_view_needs_a_blank(part: Path, tmp_path: Path) -> None:
    """With nothing declared there is nothing to look at, and the message says what is missing."""
    done = run("view", str(part), "--heights", str(tmp_path / "h.npz"))

    assert done.exit_code == Exit.UNUSABLE
    assert "--stock" in done.stderr


@pytest.mark.parametrize(("option", "package"), [(("--stl", "a.stl"), "trimesh"), ((), "pyvista")])
def test_missing_extra_is_named(
    option: tuple[str, ...], package: str, part: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without the extra the message names the package and how to get it, exit code 2."""
    hide(monkeypatch, package)
    done = run("view", str(part), *QUICK, *option)

    assert done.exit_code == Exit.UNUSABLE
    assert package in done.stderr
    assert "pip install 'dryrun[view]'" in done.stderr


def test_shot_without_the_extra_is_drawn_and_says_so(
    part: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A picture needs no extra: it is drawn plainly, and the reason is told."""
    hide(monkeypatch, "pyvista")
    target = tmp_path / "shot.png"
    done = run("view", str(part), *QUICK, "--shot", str(target))

    assert done.exit_code == Exit.OK
    assert "drawn without OpenGL" in done.stderr
    assert target.read_bytes().startswith(b"\x89PNG")


def hide(monkeypatch: pytest.MonkeyPatch, package: str) -> None:
    real = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name, *a: None if name == package else real(name, *a)
    )


# ---------------------------------------------------------------- init, demo, schema


def test_init_drafts_a_job_that_is_read(part: Path) -> None:
    """The draft beside the program is a job file that can be read and checked."""
    done = run("init", str(part))
    job = dryrun.read_job(part.parent / "job.toml")

    assert done.exit_code == Exit.OK
    assert [s.program.name for s in job.stages if s.program] == ["part.nc"]


def test_init_never_writes_over_a_file(part: Path) -> None:
    """A job file that is there stays as it is, exit code 2."""
    old = part.parent / "job.toml"
    old.write_text("mine")
    done = run("init", str(part))

    assert done.exit_code == Exit.UNUSABLE
    assert old.read_text() == "mine"


def test_init_of_a_missing_or_empty_program(tmp_path: Path) -> None:
    """A program that is not there, or has nothing in it, is said by name; nothing is written."""
    empty = tmp_path / "empty.nc"
    empty.write_text("\n")
    for name in ("none.nc", "empty.nc"):
        done = run("init", str(tmp_path / name))
        assert done.exit_code == Exit.UNUSABLE
        assert name in done.stderr
    assert not (tmp_path / "job.toml").exists()


@pytest.mark.parametrize("kind", ["trivet", "trivet-mistakes"])
def test_demo_is_the_fixture(kind: str, tmp_path: Path) -> None:
    """What the wheel brings is the demonstration job of the repository, file by file."""
    target = tmp_path / "new" / "demo"
    done = run("demo", str(target), *(["--mistakes"] if "mistakes" in kind else []))

    assert done.exit_code == Exit.OK
    assert len(list(target.iterdir())) == 5
    for path in target.iterdir():
        assert path.read_bytes() == (FIXTURES / kind / path.name).read_bytes()


def test_demo_leaves_an_old_folder_alone(tmp_path: Path) -> None:
    """A folder that is there is never written into."""
    done = run("demo", str(tmp_path))

    assert done.exit_code == Exit.UNUSABLE
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("which", ["job", "machine", "bits"])
def test_schema_is_a_json_schema(which: str) -> None:
    """What is printed is a schema of draft 2020-12 (checked by jsonschema)."""
    done = run("schema", which)

    assert done.exit_code == Exit.OK
    jsonschema.Draft202012Validator.check_schema(json.loads(done.stdout))


# ---------------------------------------------------------------- watch


def test_watch_goes_again_when_a_file_changed(part: Path) -> None:
    """One change makes one more run; quiet looks make none."""
    runs: list[str] = []
    looks = iter(range(100))

    def pause() -> None:
        if next(looks) == 2:
            part.write_text(PROGRAM + "(more)\n")

    watch([str(part)], lambda: runs.append(part.read_text()), pause=pause, rounds=8)

    assert len(runs) == 2
    assert runs[1].endswith("(more)\n")


def test_watch_waits_until_writing_has_ended(part: Path) -> None:
    """A file that grows from look to look is read once, when it stands still."""
    runs: list[str] = []
    looks = iter(range(100))

    def pause() -> None:
        if next(looks) in (1, 2, 3):
            part.write_text(part.read_text() + "(more)\n")

    watch([str(part)], lambda: runs.append(part.read_text()), pause=pause, rounds=12)

    assert len(runs) == 2
    assert runs[1].count("(more)") == 3


def test_watch_goes_on_after_a_file_that_cannot_be_used(
    part: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Unusable input is told, and the next change is waited for."""
    looks = iter(range(100))
    runs: list[int] = []

    def again() -> None:
        runs.append(1)
        if len(runs) == 1:
            raise Unusable("the program is empty")

    def pause() -> None:
        if next(looks) == 1:
            part.write_text(PROGRAM + "\n")

    watch([str(part)], again, pause=pause, rounds=6)

    assert len(runs) == 2
    assert "the program is empty" in capsys.readouterr().err


def test_files_beside_a_job_are_watched() -> None:
    """For a job file the programs, bits and machine beside it are watched too."""
    names = {path.name for path in stamps([str(FIXTURES / "trivet" / "job.toml")])}

    assert names >= {"job.toml", "ground.nc", "points.nc", "bits.toml", "machine.toml"}
