"""What comes from strangers stays data: no code, no network, no way out of a folder or a report."""

from __future__ import annotations

import ast
import csv
import datetime
import io
import json
import os
import re
import socket
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import numpy as np
import pytest

import dryrun
from dryrun.cli.exits import Exit
from tests.cli.test_check import PROGRAM, QUICK, shell

SOURCES = sorted(Path(dryrun.__file__).parent.rglob("*.py"))

#: A title for a terminal's window, colours by both kinds of introducer, a change of direction,
#: going back over what stands there (ECMA-48, 5.3 and 8.3; Unicode UAX #9, 2.1 to 2.5).
ACTIVE = "\x1b]0;x\x07\x1b[31m\x9b32mA\u202eB\u2066C\u200f\x08\x7fD"

_STEERS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")

#: What runs code or opens a connection, and the only files where it may stand.
FORBIDDEN_MODULES = {
    "pickle", "cPickle", "dill", "cloudpickle", "joblib", "marshal", "shelve", "code", "codeop",
    "yaml", "socket", "ssl", "http", "urllib.request", "ftplib", "smtplib", "requests", "aiohttp",
    "xmlrpc", "multiprocessing",
}  # fmt: skip
ALLOWED_MODULES = {
    "subprocess": {"work.py", "report/scene.py"},
    "distributed": {"work.py"},
}
FORBIDDEN_CALLS = {"eval", "exec", "compile", "__import__", "execfile"}


def names_of(tree: ast.AST) -> set[str]:
    """Return the modules a file imports, wherever in it."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        if isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return found


@pytest.mark.parametrize("file", SOURCES, ids=lambda f: str(f.relative_to(SOURCES[0].parent)))
def test_sources_neither_run_what_they_read_nor_call_home(file: Path) -> None:
    """No file unpickles, evaluates or connects; processes are started in two known places."""
    tree = ast.parse(file.read_text("utf-8"))
    place = file.relative_to(SOURCES[0].parent).as_posix()
    for name in names_of(tree):
        for bad in FORBIDDEN_MODULES:
            assert f"{name}.".startswith(f"{bad}.") is False, f"{place} imports {name}"
        for module, where in ALLOWED_MODULES.items():
            assert name.split(".")[0] != module or place in where, f"{place} imports {name}"
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        if isinstance(node.func, ast.Name):
            assert node.func.id not in FORBIDDEN_CALLS, f"{place}:{node.lineno}"
        if isinstance(node.func, ast.Attribute) and node.func.attr == "load":
            told = {k.arg: ast.unparse(k.value) for k in node.keywords}
            if ast.unparse(node.func) in ("np.load", "numpy.load"):
                assert told.get("allow_pickle") == "False", f"{place}:{node.lineno}"
        assert not any(
            k.arg == "shell" and ast.unparse(k.value) != "False" for k in node.keywords
        ), f"{place}:{node.lineno}"


def test_nothing_connects(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Check, report and sheet work where no socket can be made."""

    def refuse(*_: Any, **__: Any) -> None:
        raise AssertionError("a socket was asked for")

    monkeypatch.setattr(socket, "socket", refuse)
    monkeypatch.setattr(socket, "create_connection", refuse)
    part = tmp_path / "part.nc"
    part.write_text(PROGRAM)

    assert shell("check", str(part), *QUICK).returncode == Exit.OK
    assert shell("report", str(part), *QUICK, "-o", str(tmp_path / "r.html")).returncode == Exit.OK
    short = [o for o in QUICK if o not in ("--cell", "0.5mm")]
    assert shell("sheet", str(part), *short, "-o", str(tmp_path / "s.html")).returncode == Exit.OK


# ---------------------------------------------------------------- terminal, JSON, SARIF


def escaped(text: str) -> str:
    """Write a text inside a TOML string."""
    return "".join(f"\\u{ord(c):04x}" if not c.isprintable() or c in '"\\' else c for c in text)


ACTIVE_PROGRAM = (
    f"G21 G90 G17 ({ACTIVE})\nS18000 M3 ; {ACTIVE}\nG0 X8 Y10 Z5\nG1 Z-2 F300\n"
    f"G1 X30 F1200 {ACTIVE}\nG1 Z-9 (MSG,{ACTIVE})\nG0 Z5\nM98 P7\n(dryrun: allow {ACTIVE})\n"
    f"#<{ACTIVE}> = 1\n" + "X20\nX30\n" * 200 + "M30\n"
)

ACTIVE_JOB = """\
title = "{text}"
units = "mm"
[stock]
size = ["40 mm", "30 mm", "8 mm"]
zero = "front-left-top"
material = "oak"
[[clamps]]
name = "{text}"
box = {{ min = ["-6 mm", "5 mm"], max = ["12 mm", "20 mm"], height = "6 mm" }}
[bits.b]
shape = "flat"
diameter = "4 mm"
flutes = 2
[[stages]]
name = "{text}"
program = "part.nc"
bit = "b"
depth = "4 mm"
[[allow]]
code = "no-spin-up"
reason = "{text}"
"""


@pytest.fixture
def active_job(tmp_path: Path) -> Path:
    """A job whose program says things to the terminal, and one that tries it itself."""
    (tmp_path / "part.nc").write_text(ACTIVE_PROGRAM)
    (tmp_path / f"{ACTIVE}.nc").write_text(ACTIVE_PROGRAM)
    (tmp_path / "active.toml").write_text(ACTIVE_JOB.format(text=escaped(ACTIVE)))
    (tmp_path / "job.toml").write_text(ACTIVE_JOB.format(text="plain"))
    return tmp_path / "job.toml"


COMMANDS: dict[str, tuple[str, ...]] = {
    "check": ("check", "{job}", "--cell", "1mm", "--all"),
    "concise": ("check", "{job}", "--cell", "1mm", "--format", "concise"),
    "json": ("check", "{job}", "--cell", "1mm", "--format", "json"),
    "sarif": ("check", "{job}", "--cell", "1mm", "--format", "sarif"),
    "program": ("check", "{program}"),
    "time": ("time", "{job}"),
    "time json": ("time", "{job}", "--format", "json"),
    "margin": ("margin", "{job}", "-q"),
    "compare": ("compare", "{job}", "{job}", "--cell", "1mm"),
    "bits fit": ("bits", "fit", "{program}", "--bits", "{bits}"),
    "gauge plan": ("gauge", "plan", "{job}", "--cell", "1mm"),
    "init": ("init", "{program}", "-o", "-"),
    "restart": ("restart", "{job}", "--stage", "1", "--line", "30", "--cell", "1mm"),
    "restart refused": ("restart", "{program}", "--stage", "{missing}", "--line", "{missing}"),
    "refused job": ("check", "{active}"),
    "missing": ("check", "{missing}"),
    "missing job": ("check", "{missing}.toml"),
    "batch": ("batch", "{folder}", "--jobs", "1", "--all", "--cell", "1mm"),
    "sheet": ("sheet", "{job}", "-o", "-"),
    "no command": ("{missing}",),
    "no code": ("explain", "{missing}"),
    "no option": ("check", "{program}", "--bit", "{missing}", "--stock", "{missing}"),
    "unwritable": ("check", "{program}", "-o", "{folder}/{nowhere}/x"),
}


#: Those of them that end with one message.
REFUSED = {
    "refused job", "restart refused", "missing", "missing job", "no command", "no code",
    "no option", "unwritable",
}  # fmt: skip


@pytest.mark.jit_only
@pytest.mark.parametrize("what", COMMANDS)
def test_no_text_steers_the_terminal(active_job: Path, what: str) -> None:
    """Nothing that a program, a job or a file's name says reaches the terminal as a command."""
    program = active_job.parent / f"{ACTIVE}.nc"
    bits = active_job.parent / "bits.toml"
    bits.write_text('[b]\nshape = "flat"\ndiameter = "4 mm"\n')
    words = {
        "job": active_job, "active": active_job.with_name("active.toml"),
        "program": program, "bits": bits, "folder": active_job.parent,
        "missing": f"no{ACTIVE}", "nowhere": ACTIVE,
    }  # fmt: skip

    done = shell(*(part.format(**words) for part in COMMANDS[what]))

    assert (done.returncode == Exit.UNUSABLE) == (what in REFUSED), done.stderr
    assert done.returncode != Exit.FAULT
    for text in (done.stdout, done.stderr):
        assert not _STEERS.search(text), ascii(_STEERS.search(text)) + ascii(text)


@pytest.mark.parametrize("form", ["json", "sarif"])
def test_json_says_what_was_said(form: str) -> None:
    """Made harmless, the JSON still means the same text."""
    done = shell("check", "-", "--stdin-filename", ACTIVE, "--format", form, input="G21\nX1 Q\n")

    assert not _STEERS.search(done.stdout)
    data = json.loads(done.stdout)
    if form == "json":
        assert data["job"] == data["findings"][0]["file"] == ACTIVE
    else:
        place = data["runs"][0]["results"][0]["locations"][0]["physicalLocation"]
        assert unquote(place["artifactLocation"]["uri"]) == ACTIVE


# ---------------------------------------------------------------- tables


@pytest.mark.parametrize("sign", list("=+-@\t\r|%"))
def test_no_cell_of_a_table_is_a_formula(tmp_path: Path, sign: str) -> None:
    """A title that a spreadsheet would run stands as text in the log, and is read back as it was.

    Which first signs count: CWE-1236, and common practice, no source, for | and %.
    """
    from dryrun.gauge.history import Entry, append, read_history

    title = f"{sign}HYPERLINK(\"x\",'y')"
    day = datetime.date(2026, 5, 31)
    entry = Entry(day, title, "d" * 16, f"{sign}cause", 0.5, f"{sign}name", -1.5, -2.0, 1.0, "mm")
    append(tmp_path, [entry])
    (file,) = tmp_path.iterdir()

    rows = list(csv.reader(io.StringIO(file.read_text("utf-8"))))
    for cell in rows[1]:
        assert not cell.startswith(sign) or re.fullmatch(r"-[0-9.]+", cell)
    clean = replace(
        entry, job=title.strip(), cause=entry.cause.strip(), parameter=entry.parameter.strip()
    )
    assert read_history(tmp_path) == [clean]


# ---------------------------------------------------------------- what is read


@pytest.fixture
def two_folders(tmp_path: Path) -> tuple[Path, Path]:
    """A job's folder, and one beside it with files it has no business with."""
    inside, outside = tmp_path / "inside", tmp_path / "outside"
    inside.mkdir()
    outside.mkdir()
    (outside / "secret.nc").write_text("(SECRET)\nG21 G1 X1 F100\nM30\n")
    (outside / "bits.toml").write_text('[b]\nshape = "flat"\ndiameter = "4 mm"\n')
    (outside / "machine.toml").write_text('safe_height = "3 mm"\n')
    return inside, outside


def link(place: Path, to: Path) -> None:
    try:
        place.symlink_to(to)
    except (OSError, NotImplementedError):
        pytest.skip("no symbolic links here")


@pytest.mark.parametrize("how", ["..", "absolute", "link", "linked folder"])
@pytest.mark.parametrize("what", ["program", "bits", "machine"])
def test_a_job_reads_nothing_outside_its_folder(
    two_folders: tuple[Path, Path], how: str, what: str
) -> None:
    """Neither by .., nor by a whole path, nor through links does a job open other files."""
    inside, outside = two_folders
    name = {"program": "secret.nc", "bits": "bits.toml", "machine": "machine.toml"}[what]
    if how == "link":
        link(inside / name, outside / name)
    if how == "linked folder":
        link(inside / "away", outside)
    place = {"..": f"../outside/{name}", "absolute": (outside / name).as_posix(), "link": name,
             "linked folder": f"away/{name}"}[how]  # fmt: skip
    (inside / "own.nc").write_text("G21 G1 X1 F100\nM30\n")
    job = "[[stages]]\nprogram = " + (f'"{place}"' if what == "program" else '"own.nc"') + "\n"
    if what != "program":
        job = f'[{what}]\nfile = "{place}"\n{job}'
    (inside / "job.toml").write_text(f'units = "mm"\n{job}')

    for command in (("check", "job.toml"), ("batch", ".", "--jobs", "1")):
        done = shell(command[0], str(inside / command[1]), *command[2:])
        assert done.returncode == Exit.UNUSABLE
        assert "outside the job's folder" in " ".join((done.stdout + done.stderr).split())
        assert "SECRET" not in done.stdout + done.stderr


def test_what_the_command_line_names_is_read(two_folders: tuple[Path, Path]) -> None:
    """A program and a machine that the person names may lie anywhere, also behind a link."""
    inside, outside = two_folders
    link(inside / "named.nc", outside / "secret.nc")

    done = shell(
        "check", str(inside / "named.nc"), "--machine", str(outside / "machine.toml"),
        "--units", "mm",
    )  # fmt: skip
    assert done.returncode == Exit.OK


def test_a_call_does_not_follow_a_link(two_folders: tuple[Path, Path]) -> None:
    """A subprogram beside the program that is a link is not read."""
    inside, outside = two_folders
    link(inside / "O100.nc", outside / "secret.nc")
    (inside / "calls.nc").write_text("G21 G90 F100\nM98 P100\nM30\n")

    data = json.loads(shell("check", str(inside / "calls.nc"), "--format", "json").stdout)

    assert data["worst"] == "error"
    assert [i["role"] for i in data["replay"]["inputs"]] == ["program"]


def test_a_record_names_no_file_elsewhere(two_folders: tuple[Path, Path]) -> None:
    """A record from a stranger opens neither a path nor a link; the person can name the file."""
    inside, outside = two_folders
    text = shell("check", str(outside / "secret.nc"), "--format", "json").stdout
    link(inside / "link.nc", outside / "secret.nc")
    for name in ("../outside/secret.nc", str(outside / "secret.nc"), "link.nc", ".."):
        data = json.loads(text)
        data["replay"]["inputs"][0]["name"] = name
        (inside / "record.json").write_text(json.dumps(data))
        done = shell("check", "--replay", str(inside / "record.json"))
        assert done.returncode == Exit.UNUSABLE, done.stdout
    done = shell("check", "--replay", str(inside / "record.json"), str(outside / "secret.nc"))
    assert done.stdout.startswith("the same bytes")


@pytest.mark.skipif(not os.path.exists("/dev/zero"), reason="no such device")
def test_an_endless_file_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """A device that never ends is read up to the limit, then refused."""
    monkeypatch.setattr("dryrun.outcome.LARGEST_PROGRAM", 1 << 20)

    assert shell("check", "/dev/zero").returncode == Exit.UNUSABLE


# ---------------------------------------------------------------- our own processes


def test_a_picture_runs_no_file_of_the_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The process that renders takes numpy from where it is installed, not from the folder."""
    from dryrun.child import child_command

    (tmp_path / "numpy.py").write_text("open('ran', 'w')\n")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "path", [p or str(Path(dryrun.__file__).parents[1]) for p in sys.path])
    import subprocess

    subprocess.run(child_command("dryrun.report.shot:main", "x.png"), stdin=subprocess.DEVNULL,
                   capture_output=True, check=False, timeout=120)  # fmt: skip

    assert not (tmp_path / "ran").exists()


def test_a_scene_goes_to_its_process_as_data(tmp_path: Path) -> None:
    """What is written for the renderer is read back the same, and holds no objects."""
    from dryrun.report.scene import scene_data
    from dryrun.report.scene_pack import packed, unpacked
    from tests.report.jobs import outcome_of, small_job

    data = scene_data(outcome_of(small_job(tmp_path), cell=1.0), live=False)
    again = unpacked(packed(data))

    for name in ("title", "units", "cell", "low", "high", "deepest", "clamps", "flags", "moments"):
        assert getattr(again, name) == getattr(data, name)
    np.testing.assert_array_equal(again.heights, data.heights)
    np.testing.assert_array_equal(again.rows.seconds, data.rows.seconds)
    assert again.rows.sources == data.rows.sources
    for one, two in zip(again.paths, data.paths, strict=True):
        assert one[0] == two[0]
        for a, b in zip(one[1:], two[1:], strict=True):
            np.testing.assert_array_equal(a, b)
