"""`dryrun bits fit` as a person drives it, wrong input included."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from .test_check import FIXTURES, shell

BITS = """
[flat-3]
shape = "flat"
diameter = "1/8 in"
[flat-6]
shape = "flat"
diameter = "6 mm"
[flat-12]
shape = "flat"
diameter = "12 mm"
[ball-6]
shape = "ball"
diameter = "6 mm"
[vee-60]
shape = "vee"
diameter = "12 mm"
angle = "60 deg"
[vee-90]
shape = "vee"
diameter = "12 mm"
angle = "90 deg"
"""
GROUND = str(FIXTURES / "trivet" / "ground.nc")
POINTS = str(FIXTURES / "trivet" / "points.nc")


@pytest.fixture
def rack(tmp_path: Path) -> str:
    (tmp_path / "bits.toml").write_text(BITS)
    return str(tmp_path / "bits.toml")


@pytest.mark.parametrize(("program", "bit"), [(GROUND, "flat-6"), (POINTS, "vee-90")])
def test_demonstration_programs(program: str, bit: str, rack: str) -> None:
    """Both programs of the trivet are given to the bit they were written for."""
    done = shell("bits", "fit", program, "--bits", rack, "--format", "json")
    data = json.loads(done.stdout)

    assert done.returncode == 0
    assert data["schema"] == 1
    assert data["candidates"][0]["bit"] == bit
    assert data["candidates"][0]["probability"] > 0.8
    assert sum(c["probability"] for c in data["candidates"]) == pytest.approx(1, abs=1e-3)
    assert all(isinstance(t, str) for c in data["candidates"] for t in c["evidence"])


def test_text_shows_comments_apart(rack: str) -> None:
    """The text ranks by the path and repeats comments as something it did not use."""
    done = shell("bits", "fit", POINTS, "--bits", rack, "--stock", "200x200x17.8mm",
                 "--zero", "centre-top", "--material", "beech")  # fmt: skip

    assert done.returncode == 0
    assert done.stdout.splitlines()[0].startswith("points: made for vee-90")
    assert "not used here" in done.stdout
    assert "12 mm vee bit" in done.stdout


def test_all_prints_more_evidence(rack: str) -> None:
    """With --all every bit has all of its sentences."""
    few = shell("bits", "fit", GROUND, "--bits", rack).stdout
    all_ = shell("bits", "fit", GROUND, "--bits", rack, "--all").stdout

    assert len(all_.splitlines()) > len(few.splitlines())


def test_output_file_and_standard_input(rack: str, tmp_path: Path) -> None:
    """A program from standard input, the ranking into a file."""
    target = tmp_path / "out.json"
    done = shell("bits", "fit", "-", "--bits", rack, "--format", "json", "-o", str(target),
                 input=Path(POINTS).read_text())  # fmt: skip

    assert done.returncode == 0
    assert json.loads(target.read_text())["candidates"][0]["bit"] == "vee-90"


def test_the_earlier_program_counts(rack: str, tmp_path: Path) -> None:
    """A path that runs 4 mm inside what a 12 mm bit has cleared is not for a 3 mm bit."""
    slot = "G21 G90\nS9000 M3\nG0 X0 Y{y} Z5\nG1 Z-2 F300\nG1 X60\nG0 Z5\nM30\n"
    (tmp_path / "first.nc").write_text(slot.format(y=0))
    (tmp_path / "then.nc").write_text(slot.format(y=2.2))
    command = ["bits", "fit", str(tmp_path / "then.nc"), "--bits", rack, "--format", "json"]
    alone = json.loads(shell(*command).stdout)
    after = json.loads(
        shell(
            *command, "--earlier", str(tmp_path / "first.nc"), "--earlier-bit", "flat:12mm"
        ).stdout
    )

    def of(data: dict, name: str) -> float:
        return next(c["probability"] for c in data["candidates"] if c["bit"] == name)

    assert of(after, "flat-3") < 0.1 * of(alone, "flat-3")
    assert of(after, "flat-12") > of(alone, "flat-12")
    assert shell(*command, "--earlier", "first.nc").returncode == 2


def test_wrong_input(rack: str, tmp_path: Path) -> None:
    """Each fault is one message and exit code 2."""
    (tmp_path / "none.toml").write_text("# no bits\n")
    faults = [
        (["none.nc", "--bits", rack], "none.nc"),
        ([GROUND, "--bits", str(tmp_path / "missing.toml")], "no such file"),
        ([GROUND, "--bits", str(tmp_path / "none.toml")], "no bit"),
        ([str(FIXTURES / "trivet" / "job.toml"), "--bits", rack], "one program"),
        ([GROUND, "--bits", rack, "--target", "none.stl"], "no such file"),
        ([GROUND, "--bits", rack, "--target-depth", "3 mm"], "--target"),
        ([GROUND, "--bits", rack, "--stock", "nonsense", "--zero", "centre-top"], "stock"),
    ]
    for arguments, word in faults:
        done = shell("bits", "fit", *arguments)

        assert done.returncode == 2, (arguments, done)
        assert word in done.stderr
        assert "Traceback" not in done.stderr


def test_unreadable_parts_are_said(rack: str, tmp_path: Path) -> None:
    """What could not be interpreted makes exit code 1, the ranking is still given."""
    program = tmp_path / "odd.nc"
    program.write_text(
        "G21 G90\nS9000 M3\nG0 Z5\nG0 X0 Y0\nG1 Z-2 F300\nG1 X50\nG1 X=7\nG0 Z5\nM30\n"
    )
    done = shell("bits", "fit", str(program), "--bits", rack)

    assert done.returncode == 1
    assert "could not be interpreted" in done.stderr
    assert "flat-6" in done.stdout


def _target(folder: Path) -> str:
    """A picture of heights: darker, so deeper, towards the middle."""
    from PIL import Image

    depth = [[min(x, y, 63 - x, 63 - y) * 4 for x in range(64)] for y in range(64)]
    image = Image.new("L", (64, 64))
    image.putdata([255 - d for row in depth for d in row])
    image.save(folder / "wanted.png")
    return str(folder / "wanted.png")


@pytest.mark.jit_only
def test_other_processes_rank_alike(rack: str, tmp_path: Path) -> None:
    """Bits weighed in two processes of their own, cuts against a target too: the same bytes."""
    asked = ["bits", "fit", GROUND, "--bits", rack, "--format", "json", "--all", "--stock",
             "200x200x17.8mm", "--zero", "centre-top", "--target", _target(tmp_path),
             "--target-depth", "6mm"]  # fmt: skip
    here, there = shell(*asked), shell(*asked, "--jobs", "2")

    assert here.returncode == there.returncode == 0, here.stderr + there.stderr
    assert "against the target" in here.stdout
    assert there.stdout == here.stdout


def test_files_that_changed_meanwhile_are_not_weighed(rack: str, tmp_path: Path) -> None:
    """A process that reads another program than we did says so instead of answering."""
    from dryrun.cli.exits import Unusable
    from dryrun.cli.fit_work import Question, prepare, weigh_one, weigh_over
    from dryrun.cli.jobs import Declared

    part = tmp_path / "part.nc"
    part.write_bytes(Path(POINTS).read_bytes())
    question = Question(str(part), rack, None, None, Declared())
    prepared = prepare(question)
    given = {"question": {**_plain(question), "inputs": list(prepared.inputs)}, "bit": 1}
    answer = weigh_one(given)
    assert answer is not None
    assert answer["cut"] is None
    assert answer["evidence"]

    part.write_bytes(part.read_bytes().replace(b"G1", b"G01"))
    with pytest.raises(Unusable, match="changed meanwhile"):
        weigh_over(question, prepared, 1, None)


def _plain(question: object) -> dict[str, object]:
    from dataclasses import asdict

    return asdict(question)  # type: ignore[call-overload, no-any-return]


def test_who_weighs_is_said_once(rack: str) -> None:
    """A cluster and a number of processes exclude each other, and neither reads standard input."""
    done = shell("bits", "fit", POINTS, "--bits", rack, "--jobs", "2",
                 "--scheduler", "tcp://127.0.0.1:1")  # fmt: skip
    assert done.returncode == 2
    assert "--jobs" in done.stderr
    done = shell("bits", "fit", "-", "--bits", rack, "--jobs", "2", input="G1 X1\n")
    assert done.returncode == 2
    assert "standard input" in done.stderr
