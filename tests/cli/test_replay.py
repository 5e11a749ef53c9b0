"""The record in a report, and checking again from it."""

from __future__ import annotations

import hashlib
import json
import platform
import re
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pytest

import dryrun
from dryrun.cli.exits import Exit
from tests.cli.test_check import FIXTURES, PROGRAM, QUICK, shell

SUB = "O100\nG1 X30 F400\nM99\n"


def record(*arguments: str) -> dict[str, Any]:
    """Check, and return the record in the JSON."""
    done = shell("check", *arguments, "--format", "json")
    assert done.returncode in (0, 1), done.stderr
    found: dict[str, Any] = json.loads(done.stdout)["replay"]
    return found


def sha(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "part.nc").write_text(PROGRAM.replace("M5", "M98 P100\nM5"))
    (tmp_path / "100.nc").write_text(SUB)
    (tmp_path / "m.toml").write_text('safe_height = "3 mm"\n')
    return tmp_path


def test_a_record_names_versions_settings_and_inputs(folder: Path) -> None:
    """All that was read stands there with its SHA-256, what was asked for, and what it ran on."""
    found = record(
        str(folder / "part.nc"), *QUICK, "--machine", str(folder / "m.toml"), "--ignore",
        "no-end,Too-deep", "--memory", "1G",
    )  # fmt: skip

    assert found["versions"] == {
        "dryrun": dryrun.__version__, "python": platform.python_version(),
        "numpy": version("numpy"), "numba": version("numba"),
    }  # fmt: skip
    assert found["settings"] == {
        "bit": "flat:6mm", "stock": "100x100x18mm", "zero": "front-left-top", "cell": "0.5mm",
        "machine": "m.toml", "memory": "1G", "ignore": ["no-end", "too-deep"],
    }  # fmt: skip
    assert [(i["role"], i["name"], i["sha256"]) for i in found["inputs"]] == [
        ("machine", "m.toml", sha(folder / "m.toml")),
        ("program", "part.nc", sha(folder / "part.nc")),
        ("subprogram", "100.nc", sha(folder / "100.nc")),
    ]


@pytest.mark.jit_only
def test_a_job_names_all_its_files() -> None:
    """Job, bits, machine and programs stand there as the job names them."""
    trivet = FIXTURES / "trivet"
    found = record(str(trivet / "job.toml"), "--cell", "2mm")

    names = ["job.toml", "bits.toml", "machine.toml", "ground.nc", "points.nc"]
    assert [(i["name"], i["sha256"]) for i in found["inputs"]] == [
        (name, sha(trivet / name)) for name in names
    ]


def test_a_record_is_the_same_from_anywhere(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither the folder it is called from, nor threads, nor the day change a byte."""
    one = shell("check", str(folder / "part.nc"), *QUICK, "--format", "json", "--threads", "1")
    monkeypatch.chdir(folder)
    two = shell("check", "part.nc", *QUICK, "--format", "json", "--threads", "3")

    assert one.stdout == two.stdout
    assert str(folder) not in one.stdout
    assert not re.search(r"\b20\d\d-\d\d-\d\d\b", one.stdout)


@pytest.mark.parametrize("form", ["json", "sarif", "html"])
def test_nothing_changed_gives_the_same_bytes(folder: Path, form: str) -> None:
    """A record of any form, beside its files, is replayed to the same bytes."""
    out = folder / f"r.{form}"
    given = (str(folder / "part.nc"), *QUICK, "-o", str(out))
    if form == "html":
        assert shell("report", *given, "-q").returncode == Exit.OK
    else:
        assert shell("check", *given, "--format", form, "--select", "shallow").returncode == 0

    done = shell("check", "--replay", str(out))

    assert done.returncode == Exit.OK, done.stderr
    assert done.stdout.splitlines()[0] == "the same bytes"


def test_what_changed_is_said(folder: Path) -> None:
    """A changed program, another version and another result are named; exit code 1."""
    out = folder / "r.json"
    shell("check", str(folder / "part.nc"), *QUICK, "--format", "json", "-o", str(out))
    data = json.loads(out.read_text())
    data["replay"]["versions"]["numpy"] = "1.0"
    out.write_text(json.dumps(data))
    (folder / "100.nc").write_text(SUB.replace("X30", "X31"))

    done = shell("check", "--replay", str(out))
    assert done.returncode == Exit.FINDINGS
    assert "the result is another one" in done.stdout
    assert "subprogram 100.nc" in done.stdout
    assert "numpy: 1.0 then" in done.stdout
    assert "differs: stages[1].path_mm" in done.stdout
    assert "changed after it was written" not in done.stdout

    said = json.loads(shell("check", "--replay", str(out), "--format", "json").stdout)
    assert said["same"] is False
    assert [c["name"] for c in said["inputs"]] == ["2 subprogram 100.nc"]


def test_a_report_changed_by_hand_is_noticed(folder: Path) -> None:
    """Figures that do not fit the record's own hash are said to be altered."""
    out = folder / "r.json"
    shell("check", str(folder / "part.nc"), *QUICK, "--format", "json", "-o", str(out))
    data = json.loads(out.read_text())
    data["stages"][0]["seconds"] = 1.0
    out.write_text(json.dumps(data))

    done = shell("check", "--replay", str(out))
    assert "changed after it was written" in done.stdout
    assert "differs: stages[1].seconds" in done.stdout


def test_files_elsewhere_can_be_named(folder: Path, tmp_path: Path) -> None:
    """Where the files are not beside the record the person says where they are."""
    away = tmp_path / "away"
    away.mkdir()
    out = away / "r.json"
    shell(
        "check", str(folder / "part.nc"), "--machine", str(folder / "m.toml"), "--units", "mm",
        "--format", "json", "-o", str(out),
    )  # fmt: skip

    assert "name it on the command line" in shell("check", "--replay", str(out)).stderr
    done = shell(
        "check", "--replay", str(out), str(folder / "part.nc"), "--machine", str(folder / "m.toml")
    )
    assert done.stdout.startswith("the same bytes"), done.stderr


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "not JSON"),
        ("[1", "not JSON"),
        ("[" * 100_000, "not JSON"),
        ("{}", "no record"),
        ("[]", "no record"),
        ("<html></html>", "no record"),
        ('{"replay": {"command": "check"}}', "not whole"),
        ('{"replay": {"command": "check", "settings": {"bit": 3}, "inputs": [], "versions": {}}}',
         "not known: bit"),
        ('{"replay": {"command": "check", "settings": {"threads": "9"}, "inputs": [],'
         ' "versions": {}, "result": ""}}', "not known: threads"),
        ('{"replay": {"command": "check", "settings": {}, "inputs": [{}], "versions": {}}}',
         "inputs is not whole"),
        ('{"replay": {"command": "check", "settings": {}, "inputs": [], "versions": {}}}',
         "no hash"),
        ('{"replay": {"command": "check", "settings": {}, "inputs": [], "versions": {},'
         ' "result": ""}}', "no program"),
        ('{"replay": {"command": "check", "settings": {"cell": "x"}, "inputs": [{"role":'
         ' "program", "name": "part.nc"}], "versions": {}, "result": ""}}', "--cell"),
    ],
)  # fmt: skip
def test_what_is_no_record_is_refused(folder: Path, text: str, message: str) -> None:
    """A broken or foreign record is one message and exit code 2."""
    (folder / "r.json").write_text(text)

    done = shell("check", "--replay", str(folder / "r.json"))

    assert done.returncode == Exit.UNUSABLE
    assert message in done.stderr
    assert "Traceback" not in done.stderr


def test_options_that_the_record_says_are_refused(folder: Path) -> None:
    """What changes the result comes from the record alone."""
    out = folder / "r.json"
    shell("check", str(folder / "part.nc"), "--format", "json", "-o", str(out))

    for more in (("--cell", "1mm"), ("--bit", "flat:6mm"), ("--select", "no-end"), ("--watch",)):
        done = shell("check", "--replay", str(out), *more)
        assert done.returncode == Exit.UNUSABLE
        assert "the record says this" in done.stderr
    assert shell("check", "--replay", str(folder / "none")).returncode == Exit.UNUSABLE
    assert shell("check", "--replay", str(folder)).returncode == Exit.UNUSABLE
    assert shell("check", "--replay", str(out), "--format", "sarif").returncode == Exit.UNUSABLE


@pytest.mark.jit_only
@pytest.mark.parametrize(
    ("arguments", "settings"),
    [
        (("time",), {}),
        (("margin", "--tolerance", "z-zero=0.1mm", "--samples", "20"),
         {"samples": 20, "seed": 1, "tolerance": ["z-zero=0.1mm"]}),
        (("compare", "part.nc", "--cell", "1mm"), {"cell": "1mm"}),
        (("restart", "--line", "6", "--cell", "1mm"), {"cell": "1mm", "line": "6", "stage": 1}),
    ],
)  # fmt: skip
def test_other_commands_say_what_they_were_made_from(
    folder: Path, arguments: tuple[str, ...], settings: dict[str, Any]
) -> None:
    """Their JSON has the record too; only that of a check can be checked again."""
    part, out = folder / "part.nc", folder / "r.json"
    command, *more = [str(part) if a == "part.nc" else a for a in arguments]
    declared = ["--bit", "flat:6mm", "--stock", "100x100x18mm", "--zero", "front-left-top"]
    done = shell(command, str(part), *more, *declared, "--format", "json")
    assert done.returncode in (0, 1), done.stderr
    out.write_text(done.stdout)
    found = json.loads(done.stdout)["replay"]

    assert found["command"] == command
    wanted = {"bit": "flat:6mm", "stock": "100x100x18mm", "zero": "front-left-top", **settings}
    assert found["settings"] == wanted
    names = {(i["name"], i["sha256"]) for i in found["inputs"]}
    assert names == {("part.nc", sha(part)), ("100.nc", sha(folder / "100.nc"))}
    refused = shell("check", "--replay", str(out))
    assert refused.returncode == Exit.UNUSABLE
    assert "no record of `dryrun check`" in refused.stderr
