"""`dryrun check` as a person drives it, wrong input included."""

from __future__ import annotations

import contextlib
import io
import json
import os
import signal
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest import mock

import pytest

from dryrun.cli.exits import Exit
from dryrun.cli.main import run

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"

PROGRAM = """\
G21 G90 G17
S18000 M3
G0 X20 Y20 Z5
G1 Z-4 F300
G1 X60 F1200
G0 Z5
M5
M30
"""


@dataclass
class Done:
    """What a command said, and its exit code."""

    returncode: int
    stdout: str
    stderr: str


def shell(*arguments: str, input: str = "") -> Done:
    """Run the command line in this process, with its exit code as a shell would see it."""
    out, err = io.StringIO(), io.StringIO()
    keyboard = io.TextIOWrapper(io.BytesIO(input.encode()))
    with (
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        mock.patch.object(sys, "stdin", keyboard),
        pytest.raises(SystemExit) as stopped,
    ):
        run(list(arguments))
    assert isinstance(stopped.value.code, int)
    return Done(stopped.value.code, out.getvalue(), err.getvalue())


def process(*arguments: str, **options: Any) -> subprocess.CompletedProcess[str]:
    """Run the command line in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "dryrun", *arguments],
        capture_output=True, text=True, timeout=300, check=False, **options,
    )  # fmt: skip


@pytest.fixture
def part(tmp_path: Path) -> Path:
    path = tmp_path / "part.nc"
    path.write_text(PROGRAM)
    return path


QUICK = (
    "--bit", "flat:6mm", "--stock", "100x100x18mm", "--zero", "front-left-top", "--cell", "0.5mm",
)  # fmt: skip


def test_program_alone_says_what_it_can(part: Path) -> None:
    """With nothing declared: extents, words, units, time, and what could be checked."""
    done = shell("check", str(part))

    assert done.returncode == Exit.OK
    for words in (
        "X 20 mm to 60 mm",
        "Z -4 mm",
        "G1",
        "not checked",
        "declare stock, bit",
    ):
        assert words in done.stdout, done.stdout
    assert "safe" not in done.stdout.lower().replace("safe_height", "")
    assert done.stderr == ""


def test_quick_look(part: Path) -> None:
    """A compact declaration is enough for a first check."""
    done = shell("check", str(part), *QUICK, "--depth", "3 mm")

    assert done.returncode == Exit.FINDINGS
    assert "too-deep" in done.stdout
    assert "part.nc:4:4" in done.stdout
    assert "do not start" in done.stdout


def test_standard_input(part: Path) -> None:
    """A program can come through a pipe, under a name."""
    done = shell("check", "-", "--stdin-filename", "pipe.nc", *QUICK, input=PROGRAM)

    assert done.returncode == Exit.OK
    assert "pipe.nc" in done.stdout


def test_json_is_the_documented_one(part: Path) -> None:
    """Keys, units and rounding of schema 1."""
    done = shell("check", str(part), *QUICK, "--depth", "3 mm", "--format", "json")
    data = json.loads(done.stdout)

    assert list(data)[:5] == ["schema", "dryrun", "job", "units", "worst"]
    assert data["worst"] == "error"
    finding = data["findings"][0]
    assert (finding["code"], finding["line"], finding["stage"]) == ("too-deep", 4, 1)
    assert finding["value"] == pytest.approx(4.0)
    assert finding["limit"] == pytest.approx(3.0)
    stage = data["stages"][0]
    assert stage["lowest"] == pytest.approx(-4.0)
    assert stage["seconds"] == pytest.approx(
        stage["cutting_seconds"] + stage["rapid_seconds"] + stage["other_seconds"], abs=2e-6
    )
    # Slot of a flat bit: (2 R L + pi R^2) d; elementary geometry.
    assert stage["removed_mm3"] == pytest.approx((6 * 40 + 28.2743) * 4, rel=0.02)
    assert data["surface"]["lowest"] == pytest.approx(-4.0)
    assert {"code", "needs"} <= set(data["not_run"][0])


def test_same_bytes_for_any_number_of_threads(part: Path) -> None:
    """The JSON does not depend on threads."""
    made = [
        shell("check", str(part), *QUICK, "--format", "json", "--threads", n).stdout
        for n in ("1", "3")
    ]

    assert made[0] == made[1]


def test_sarif_points_at_the_word(part: Path) -> None:
    """SARIF 2.1.0: columns count code points from 1, rules come from the catalogue."""
    done = shell("check", str(part), *QUICK, "--depth", "3 mm", "--format", "sarif")
    run = json.loads(done.stdout)["runs"][0]

    region = run["results"][0]["locations"][0]["physicalLocation"]["region"]
    assert region == {"startLine": 4, "startColumn": 4, "endColumn": 7}
    rule = run["tool"]["driver"]["rules"][run["results"][0]["ruleIndex"]]
    assert rule["id"] == "too-deep"
    assert run["columnKind"] == "unicodeCodePoints"


def test_sarif_says_where_a_finding_is_accepted(tmp_path: Path) -> None:
    """A comment is in the source, the job file is not (SARIF 2.1.0, 3.35.2)."""
    text = PROGRAM.replace("G1 Z-4 F300", "G1 Z-4 F1000 (dryrun: allow fast-plunge: cork)")
    (tmp_path / "part.nc").write_text(text)
    job = """
stock = { size = ["100 mm", "100 mm", "18 mm"], zero = "front-left-top" }
stages = [{ program = "part.nc", bit = "flat:6mm", depth = "3 mm" }]
allow = [{ code = "too-deep", reason = "a groove" }]
"""
    (tmp_path / "job.toml").write_text(job)
    done = shell("check", str(tmp_path / "job.toml"), "--cell", "0.5mm", "--format", "sarif")
    results = json.loads(done.stdout)["runs"][0]["results"]

    kinds = {r["ruleId"]: r["suppressions"][0] for r in results if "suppressions" in r}
    assert kinds["too-deep"] == {"kind": "external", "justification": "a groove"}
    assert kinds["fast-plunge"] == {"kind": "inSource", "justification": "cork"}


def test_concise_is_one_line_a_finding(part: Path) -> None:
    """file:line:column: level code message, for editors."""
    done = shell("check", str(part), *QUICK, "--depth", "3 mm", "--format", "concise")

    first = done.stdout.splitlines()[0]
    assert first.startswith("part.nc:4:4: error too-deep ")


def test_fail_on_and_choice_of_codes(part: Path) -> None:
    """The exit code follows --fail-on; --ignore and --select choose what is reported."""
    arguments = (str(part), *QUICK, "--depth", "3 mm", "-q")
    assert shell("check", *arguments, "--fail-on", "never").returncode == Exit.OK
    assert shell("check", *arguments, "--ignore", "too-deep").returncode == Exit.OK
    hidden = shell("check", *arguments, "--ignore", "too-deep").stdout
    assert "not reported, as asked: 1 error" in hidden
    assert "(too-deep)" in hidden
    assert shell("check", *arguments, "--select", "bad-arc").returncode == Exit.OK
    assert shell("check", *arguments, "--ignore", "to-deep").returncode == Exit.UNUSABLE


def unusable(done: Done, *words: str) -> None:
    """One clear message, exit code 2, no traceback."""
    text = done.stderr
    assert done.returncode == Exit.UNUSABLE, text
    assert "Traceback" not in text
    for word in words:
        assert word in text, text


def test_missing_file(tmp_path: Path) -> None:
    """A file that is not there is named."""
    unusable(shell("check", str(tmp_path / "gone.nc")), "gone.nc")
    unusable(shell("check", str(tmp_path / "gone.toml")), "gone.toml")


def test_directory(tmp_path: Path) -> None:
    """A folder is not a program."""
    unusable(shell("check", str(tmp_path)), str(tmp_path))


def test_binary_file(tmp_path: Path) -> None:
    """Something that is not text is refused."""
    path = tmp_path / "picture.nc"
    path.write_bytes(bytes(range(256)) * 40)
    unusable(shell("check", str(path)), "not a text file")


def test_empty_program(tmp_path: Path) -> None:
    """A program without anything in it is refused."""
    path = tmp_path / "empty.nc"
    path.write_bytes(b"\r\n \n")
    unusable(shell("check", str(path)), "empty")


def test_job_with_three_mistakes(tmp_path: Path) -> None:
    """All mistakes of a job are listed at once, with their lines."""
    (tmp_path / "job.toml").write_text(
        'units = "mm"\n'
        '[stock]\nsize = ["200 mm", "-5 mm", "18 mm"]\nzero = "middle"\n'
        '[[stages]]\nname = "a"\nprogram = "none.nc"\nbitt = "flat-6"\n'
    )
    done = shell("check", str(tmp_path / "job.toml"))
    unusable(done, "job.toml:3", "job.toml:4", "job.toml:7", "job.toml:8", "bit")


def test_wrong_arguments(part: Path) -> None:
    """Wrong options and values say what would be right."""
    unusable(shell("chek", str(part)), "check")
    unusable(shell(str(part)), "dryrun check")
    unusable(shell("check", str(part), "--bit", "flat:6parsec"), "6parsec")
    unusable(shell("check", str(part), "--stock", "12x12"), "200x200x18mm")
    unusable(shell("check", str(part), *QUICK, "--cell", "0"), "--cell")
    unusable(shell("check", str(part), "--picture", "x.png"), "--stock")
    unusable(shell("check", str(part), *QUICK, "-o", "/nonexistent/x.txt"), "cannot write")


def test_nothing_is_left_half_written(part: Path, tmp_path: Path) -> None:
    """A failing output leaves the old file and no temporary one."""
    target = tmp_path / "out.json"
    target.write_text("old")
    shell("check", str(part), "--format", "json", "-o", str(target))

    assert json.loads(target.read_text())["schema"] == 1
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out.json", "part.nc"]


def test_closed_pipe(part: Path) -> None:
    """A reader that goes away gives 141 and no complaint."""
    child = subprocess.Popen(
        [sys.executable, "-m", "dryrun", "check", str(part)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip
    assert child.stdout is not None
    child.stdout.close()
    assert child.stderr is not None
    stderr = child.stderr.read().decode()
    child.stderr.close()

    assert child.wait(timeout=600) == Exit.CLOSED_PIPE
    assert "Traceback" not in stderr


def _heard() -> None:
    """Hear Ctrl-C, also where the tests were started in the background, which ignores it."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def test_interrupt(part: Path) -> None:
    """Ctrl-C gives 130 and one line."""
    child = subprocess.Popen(
        [sys.executable, "-m", "dryrun", "check", "-"],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        preexec_fn=_heard,
    )  # fmt: skip
    assert child.stdin is not None
    child.stdin.write("G21\n" * 50_000)  # more than a pipe holds: written once it is being read
    child.stdin.flush()
    child.send_signal(signal.SIGINT)
    _, stderr = child.communicate(timeout=600)

    assert child.returncode == Exit.INTERRUPTED
    assert "Traceback" not in stderr


def test_a_fault_of_ours_is_3(part: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An exception nobody expected says so and exits with 3."""
    from dryrun.cli import exits

    def broken() -> int:
        raise RuntimeError("a fault")

    assert exits.guarded(broken) == Exit.FAULT


def test_terminal_escapes_stay_text(tmp_path: Path) -> None:
    """A program cannot send control sequences to the terminal."""
    path = tmp_path / "evil\x1b[31m.nc"
    path.write_text("G21 G90\nG0 Z5\nG99999 (\x1b[2J\x1b]0;gotcha\x07)\nM30\n")
    done = shell("check", str(path))

    assert "\x1b" not in done.stdout + done.stderr
    assert "\\x1b" in done.stdout


def test_no_colour_without_a_terminal(part: Path) -> None:
    """Pipes get plain text; FORCE_COLOR asks for colour, NO_COLOR wins over it."""
    plain = process("check", str(part))
    forced = process("check", str(part), env={**os.environ, "FORCE_COLOR": "1", "NO_COLOR": ""})
    refused = process("check", str(part), env={**os.environ, "FORCE_COLOR": "1", "NO_COLOR": "1"})

    assert "\x1b[" not in plain.stdout
    assert "\x1b[" in forced.stdout
    assert "\x1b[" not in refused.stdout


def test_explain() -> None:
    """Every code is explained; a misspelt one gets a suggestion."""
    done = shell("explain", "too-deep")
    assert done.returncode == Exit.OK
    assert "what it rests on" in done.stdout
    unusable(shell("explain", "to-deep"), "too-deep")
    assert "rapid-in-stock" in shell("explain").stdout


@pytest.mark.jit_only
def test_trivet_is_clean(tmp_path: Path) -> None:
    """The demo has no error and no warning, and its picture is drawn."""
    picture = tmp_path / "trivet.png"
    done = shell(
        "check", str(FIXTURES / "trivet/job.toml"), "--picture", str(picture), "--cell", "0.3"
    )

    assert done.returncode == Exit.OK, done.stdout
    assert "0 errors, 0 warnings" in done.stdout
    assert picture.read_bytes().startswith(b"\x89PNG")


@pytest.mark.jit_only
def test_planted_mistakes_are_found() -> None:
    """The mistaken copy: every planted mistake by name and line, and no other error."""
    import tomllib

    folder = FIXTURES / "trivet-mistakes"
    planted = tomllib.loads((folder / "PLANTED.toml").read_text("utf-8"))["planted"]
    done = shell("check", str(folder / "job.toml"), "--format", "json", "--cell", "0.3")
    found = json.loads(done.stdout)["findings"]

    assert done.returncode == Exit.FINDINGS
    assert len(planted) == 6
    for mistake in planted:
        where = (mistake["code"], mistake["stage"], mistake["line"])
        assert where in [(f["code"], f["stage"], f["line"]) for f in found], where
    wanted = {m["code"] for m in planted}
    side = {c for m in planted for c in m.get("also", [])}
    assert {f["code"] for f in found if f["level"] == "error"} <= wanted | side
