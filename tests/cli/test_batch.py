"""`dryrun batch` as a person drives it, and as power cuts and bad inputs do."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from dryrun.cli.batch_inputs import find_inputs
from dryrun.cli.batch_store import Store
from dryrun.cli.exits import Exit, Unusable
from tests.cli.test_check import shell

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
ROOT = Path(__file__).resolve().parents[2]

PROGRAM = "G21 G90 G17\nS18000 M3\nG0 X20 Y20 Z5\nG1 Z-{depth} F300\nG1 X60 F1200\nG0 Z5\nM5\nM30\n"

JOB = """\
title = "one"
units = "mm"
[machine]
file = "machine.toml"
[bits]
file = "bits.toml"
[[stages]]
program = "p0000.nc"
bit = "cutter"
"""

#: Longer runs of the tests with chance in them.
LONG = os.environ.get("DRYRUN_LONG") == "1"


def parts(folder: Path, count: int = 4, start: int = 0) -> Path:
    """Write programs that differ."""
    folder.mkdir(exist_ok=True)
    for n in range(start, start + count):
        (folder / f"p{n:04d}.nc").write_text(PROGRAM.format(depth=1 + n / 1000))
    return folder


def records(folder: Path) -> list[dict[str, Any]]:
    """Read the results of a batch."""
    return [json.loads(line) for line in (folder / "results.jsonl").read_bytes().splitlines()]


def told(record: dict[str, Any]) -> dict[str, Any]:
    """Return a record without the time it took."""
    return {key: value for key, value in record.items() if key != "seconds"}


# ---------------------------------------------------------------- what a batch is of


def test_a_job_takes_its_programs(tmp_path: Path) -> None:
    """In a folder a job.toml stands for its programs; other programs are taken alone."""
    folder = parts(tmp_path / "parts", 2)
    (folder / "job.toml").write_text('[[stages]]\nname = "a"\nprogram = "p0001.nc"\n')
    (folder / "readme.txt").write_text("no program")
    (folder / ".hidden.nc").write_text(PROGRAM.format(depth=1))
    (folder / "more").mkdir()
    (folder / "more" / "B.NC").write_text(PROGRAM.format(depth=1))

    found = find_inputs([str(folder)]).paths

    names = [Path(path).relative_to(folder).as_posix() for path in found]
    assert names == ["job.toml", "more/B.NC", "p0000.nc"]
    assert len(find_inputs([str(folder)], ["txt"]).paths) == 4


def test_a_list_names_one_path_a_line(tmp_path: Path) -> None:
    """Lines are relative to the list; blanks and remarks are skipped, each path counts once."""
    folder = parts(tmp_path / "parts", 2)
    listed = tmp_path / "which.txt"
    listed.write_text("# ours\nparts/p0001.nc\n\n  parts/p0000.nc  \nparts/../parts/p0001.nc\n")

    found = find_inputs([str(listed), str(folder)]).paths

    assert [Path(path).name for path in found] == ["p0001.nc", "p0000.nc"]


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_links_in_a_folder_are_not_followed(tmp_path: Path) -> None:
    """A link to a file or a folder outside is left out and counted, so is one that goes round."""
    outside = parts(tmp_path / "outside", 1)
    folder = parts(tmp_path / "parts", 1)
    (folder / "link.nc").symlink_to(outside / "p0000.nc")
    (folder / "away").symlink_to(outside)
    (folder / "round").symlink_to(folder)

    found = find_inputs([str(folder)])

    assert [Path(path).name for path in found.paths] == ["p0000.nc"]
    assert found.links == 3


def test_what_is_not_there_is_said(tmp_path: Path) -> None:
    """A missing folder, an empty one, and a binary file for a list end with exit code 2."""
    (tmp_path / "empty").mkdir()
    (tmp_path / "list").write_bytes(b"\0\1\2")

    assert "no such file" in shell("batch", str(tmp_path / "nowhere")).stderr
    done = shell("batch", str(tmp_path / "empty"))
    assert done.returncode == Exit.UNUSABLE
    assert "no programs and no job.toml" in done.stderr
    assert "not a list" in shell("batch", str(tmp_path / "list")).stderr
    assert shell("batch").returncode == Exit.UNUSABLE
    assert "no code 'nonsense'" in shell("batch", str(tmp_path), "--select", "nonsense").stderr


@pytest.mark.parametrize(
    "wrong",
    [
        ("--bit", "nonsense"), ("--stock", "1x2"), ("--stock", "100x100x18mm"), ("--cell", "1 kg"),
        ("--memory", "much"), ("--machine", "nowhere.toml"), ("--process-memory", "-1"),
        ("--depth", "?"), ("--timeout", "-1"),
    ],
)  # fmt: skip
def test_a_wrong_declaration_is_said_once(tmp_path: Path, wrong: tuple[str, str]) -> None:
    """What would be wrong for every program is one message, before any is checked."""
    folder = parts(tmp_path / "parts", 2)

    done = shell("batch", str(folder), "-o", str(tmp_path / "out"), *wrong)

    assert done.returncode == Exit.UNUSABLE
    assert done.stderr.count("Error: ") == 1
    assert not (tmp_path / "out").exists()


# ---------------------------------------------------------------- one summary


def test_one_summary_of_good_and_bad(tmp_path: Path) -> None:
    """Every input has its record; what cannot be used does not stop the rest; the page is text."""
    folder = parts(tmp_path / "parts", 2)
    (folder / "empty.nc").write_text("")
    (folder / "binary.nc").write_bytes(bytes(range(256)) * 64)
    (folder / "<img src=x>\x1b[31m.nc").write_text("G21 G1 X1\n(\x1b[2J<script>)\n")
    (folder / "job.toml").write_text("nonsense = 1\n")
    out = tmp_path / "out"

    done = shell("batch", str(folder), "-o", str(out), "--jobs", "2")

    assert done.returncode == Exit.UNUSABLE
    found = {Path(r["path"]).name: r for r in records(out)}
    assert len(found) == 6
    assert [found[n]["exit"] for n in ("p0000.nc", "empty.nc", "binary.nc", "job.toml")] == [
        0, 2, 2, 2,
    ]  # fmt: skip
    assert "is empty" in found["empty.nc"]["error"]
    hostile = found["<img src=x>\x1b[31m.nc"]
    assert hostile["exit"] == 1
    assert hostile["findings"]["error"] == {"no-feed": 1}
    assert hostile["levels"]["error"] == 1
    for record in found.values():
        assert record["schema"] == 1
        assert len(record["input"]) == len(record["settings"]) == 64
        assert record["seconds"] >= 0
    page = (out / "index.html").read_text("utf-8")
    assert "default-src 'none'" in page
    assert "script-src 'none'" in page
    assert "<img" not in page
    assert "<script" not in page
    assert "&lt;img src=x&gt;\\x1b[31m.nc" in page
    for text in (page, done.stdout, done.stderr, (out / "summary.txt").read_text("utf-8")):
        assert "\x1b" not in text
    assert "6 inputs" in done.stdout


@pytest.mark.jit_only
def test_jobs_and_programs_under_one_declaration(tmp_path: Path) -> None:
    """What is declared on the command line holds for programs; a job has its own."""
    folder = parts(tmp_path / "parts", 1)
    (folder / "trivet").mkdir()
    for file in (FIXTURES / "trivet").iterdir():
        (folder / "trivet" / file.name).write_bytes(file.read_bytes())

    done = shell(
        "batch", str(folder), "--bit", "flat:6mm", "--stock", "100x100x18mm", "--zero",
        "front-left-top", "--cell", "2mm", "--depth", "0.5mm", "--format", "jsonl", "--jobs", "1",
    )  # fmt: skip

    program, job = (json.loads(line) for line in done.stdout.splitlines())
    assert (program["kind"], program["exit"]) == ("program", 1)
    assert "too-deep" in program["findings"]["error"]
    assert (job["kind"], job["stages"], job["exit"]) == ("job", 2, 0)
    assert done.returncode == Exit.FINDINGS


@pytest.mark.parametrize(("bar", "code"), [("error", 0), ("warning", 0), ("note", 1), ("never", 0)])
def test_exit_code_follows_fail_on(tmp_path: Path, bar: str, code: int) -> None:
    """--fail-on decides from which level on findings count, also for results already there."""
    folder = tmp_path / "parts"
    folder.mkdir()
    text = PROGRAM.format(depth=1).replace("S18000 M3\n", "S18000 M3\nG4 P0.1\n")
    (folder / "a.nc").write_text(text)
    out = tmp_path / "out"
    first = shell("batch", str(folder), "-o", str(out), "--jobs", "1", "--fail-on", "never")
    worst = records(out)[0]["worst"]

    done = shell("batch", str(folder), "-o", str(out), "--jobs", "1", "--fail-on", bar)

    assert first.returncode == 0
    assert "1 of 1 are done already" in done.stderr
    assert done.returncode == (code if worst == "note" else 0)


def test_limits_are_results(tmp_path: Path) -> None:
    """A time limit that is met is that input's result, kept until the limit changes."""
    folder = parts(tmp_path / "parts", 1)
    out = tmp_path / "out"
    command = ("batch", str(folder), "-o", str(out), "--jobs", "1", "--timeout")

    done = shell(*command, "0.001")
    assert done.returncode == Exit.UNUSABLE
    assert records(out)[0]["problem"] == "timeout"
    assert "not done after 0.001 s" in done.stdout
    assert "1 of 1 are done already" in shell(*command, "0.001").stderr
    assert shell(*command, "300").returncode == Exit.OK
    assert records(out)[0]["problem"] is None


# ---------------------------------------------------------------- going on


def test_only_what_is_new_or_changed_is_checked(tmp_path: Path) -> None:
    """A second run checks nothing; a new, a changed and a differently asked input are checked."""
    folder = parts(tmp_path / "parts", 3)
    (folder / "sub.nc").write_text("O100\nG1 X1 F100\nM99\n")
    (folder / "calls.nc").write_text("G21\nM98 P100\nM30\n")
    out = tmp_path / "out"
    command = ("batch", str(folder), "-o", str(out), "--jobs", "2")

    shell(*command)
    before = (out / "results.jsonl").read_bytes()
    assert "5 of 5 are done already" in shell(*command).stderr
    assert (out / "results.jsonl").read_bytes() == before

    (folder / "p0001.nc").write_text(PROGRAM.format(depth=9))
    os.utime(folder / "p0002.nc")
    again = shell(*command).stderr
    # The changed one, and the one whose calls might now mean another file beside it.
    assert "3 of 5 are done already" in again

    parts(folder, 1, start=7)
    assert "4 of 6 are done already" in shell(*command).stderr
    assert "done already" not in shell(*command, "--ignore", "no-end").stderr
    assert "done already" not in shell(*command, "--ignore", "no-end", "--again", "all").stderr


def test_a_job_changes_with_any_file_it_is_made_of(tmp_path: Path) -> None:
    """A job is checked again when its bits or its program change, not when a stranger does."""
    folder = parts(tmp_path / "job", 1)
    (folder / "job.toml").write_text(JOB)
    (folder / "bits.toml").write_text('[cutter]\nshape = "flat"\ndiameter = "4 mm"\n')
    (folder / "machine.toml").write_text('safe_height = "3 mm"\n')
    out = tmp_path / "out"
    command = ("batch", str(folder), "-o", str(out), "--jobs", "1")
    assert shell(*command).returncode == Exit.OK

    (folder / "other.txt").write_text("nothing")
    assert "1 of 1 are done" in shell(*command).stderr
    for name in ("bits.toml", "machine.toml", "p0000.nc"):
        with (folder / name).open("a") as file:
            file.write("\n")
        assert "done already" not in shell(*command).stderr


def test_what_could_not_be_checked_can_be_done_again(tmp_path: Path) -> None:
    """Unchanged, an unusable input is left alone, but for --again failed."""
    folder = parts(tmp_path / "parts", 1)
    (folder / "empty.nc").write_text("")
    out = tmp_path / "out"
    command = ("batch", str(folder), "-o", str(out), "--jobs", "1")

    shell(*command)
    assert "2 of 2 are done already" in shell(*command).stderr
    assert "1 of 2 are done already" in shell(*command, "--again", "failed").stderr


def test_half_a_line_is_cut_off_and_broken_lines_are_skipped(tmp_path: Path) -> None:
    """What a power cut leaves at the end is mended; the rest is kept."""
    folder = parts(tmp_path / "parts", 3)
    out = tmp_path / "out"
    command = ("batch", str(folder), "-o", str(out), "--jobs", "1")
    shell(*command)
    lines = (out / "results.jsonl").read_bytes().splitlines(keepends=True)

    (out / "results.jsonl").write_bytes(lines[0] + b'{"schema":9}\nnot json\n' + lines[1][:50])
    done = shell(*command)

    assert "2 broken lines are skipped" in done.stderr
    assert "1 of 3 are done already" in done.stderr
    assert [Path(r["path"]).name for r in records(out)] == ["p0000.nc", "p0001.nc", "p0002.nc"]
    (out / "results.jsonl").write_bytes(lines[0][:30])
    assert shell(*command).returncode == 0
    assert len(records(out)) == 3


def test_a_file_of_somebody_else_is_not_written_over(tmp_path: Path) -> None:
    """A results.jsonl that is no result of a batch, and a file for the folder, are left alone."""
    folder = parts(tmp_path / "parts", 1)
    out = tmp_path / "out"
    out.mkdir()
    (out / "results.jsonl").write_text('{"mine": 1}\n')

    done = shell("batch", str(folder), "-o", str(out))

    assert done.returncode == Exit.UNUSABLE
    assert "no result of a batch" in done.stderr
    assert (out / "results.jsonl").read_text() == '{"mine": 1}\n'
    done = shell("batch", str(folder), "-o", str(folder / "p0000.nc"))
    assert done.returncode == Exit.UNUSABLE
    assert "this is a file" in done.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="no flock")
def test_two_batches_keep_out_of_each_others_way(tmp_path: Path) -> None:
    """While one batch writes to a folder another one is refused."""
    with Store(tmp_path), pytest.raises(Unusable, match="another batch"), Store(tmp_path):
        pass
    with Store(tmp_path):
        pass


# ---------------------------------------------------------------- ended in the middle


def started(folder: Path, out: Path, *more: str) -> subprocess.Popen[str]:
    """Start a batch in a process of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "dryrun", "batch", str(folder), "-o", str(out), "-q", *more],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        preexec_fn=_hear_ctrl_c,
    )  # fmt: skip


def _hear_ctrl_c() -> None:
    # Where the tests run in the background of a shell, Ctrl-C is turned off for all below it.
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def wait_for_lines(out: Path, count: int, run: subprocess.Popen[str]) -> None:
    """Wait until so many results are there."""
    for _ in range(6000):
        results = out / "results.jsonl"
        if results.exists() and results.read_bytes().count(b"\n") >= count:
            return
        if run.poll() is not None:
            pytest.fail(f"it ended by itself: {run.communicate()[1]}")
        time.sleep(0.05)
    pytest.fail("no results came")


def test_killed_at_any_moment_it_goes_on(tmp_path: Path) -> None:
    """SIGKILL at random moments breaks no file; in the end every input has one result, the same."""
    folder = parts(tmp_path / "parts", 30)
    out = tmp_path / "out"
    chance = random.Random(9)
    for _ in range(200 if LONG else 3):
        run = started(folder, out, "--jobs", "2")
        time.sleep(chance.uniform(0.1, 1.8))
        run.kill()
        run.communicate()
        if (out / "results.jsonl").exists():
            for line in (out / "results.jsonl").read_bytes().splitlines(keepends=True)[:-1]:
                assert json.loads(line)["schema"] == 1
        if (out / "index.html").exists():
            assert (out / "index.html").read_text("utf-8").rstrip().endswith("</html>")

    assert shell("batch", str(folder), "-o", str(out), "--jobs", "2").returncode == Exit.OK
    shell("batch", str(folder), "-o", str(tmp_path / "whole"), "--jobs", "2")

    assert [told(r) for r in records(out)] == [told(r) for r in records(tmp_path / "whole")]
    assert len(records(out)) == 30
    assert sorted(p.name for p in out.iterdir()) == [
        ".lock", "index.html", "results.jsonl", "summary.txt",
    ]  # fmt: skip


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGINT to a process")
def test_ctrl_c_keeps_what_is_done(tmp_path: Path) -> None:
    """Ctrl-C ends with 130 and says how to go on; results stay."""
    folder = parts(tmp_path / "parts", 400)
    out = tmp_path / "out"
    run = started(folder, out, "--jobs", "1")
    wait_for_lines(out, 3, run)
    run.send_signal(signal.SIGINT)
    _, errors = run.communicate(timeout=60)

    assert run.returncode == Exit.INTERRUPTED
    assert "the same command again goes on" in errors
    assert 3 <= len(records(out)) < 400
