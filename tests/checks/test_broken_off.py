"""A fault of ours in one check: the others go on, and nobody takes the job for checked."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

import dryrun
from dryrun.checks import run
from dryrun.checks.context import StageContext
from dryrun.cli.main import run as dryrun_command
from dryrun.finding import Finding

PROGRAM = "G21 G90\nS12000 M3\nG4 P4\nG0 X20 Y20 Z5\nG1 Z-9 F300\nX60 F900\nG0 Z5\nM30\n"
JOB = """
title = "one slot"
units = "mm"
stock = { size = ["100 mm", "60 mm", "12 mm"], zero = "front-left-top" }
[bits.mill]
shape = "flat"
diameter = "6 mm"
[[stages]]
name = "slot"
program = "slot.nc"
bit = "mill"
depth = "5 mm"
"""


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A job with a slot too deep, and a check of rapids that breaks off after its first finding."""

    def broken(context: StageContext) -> Iterator[Finding]:
        yield context.finding("rapid-low", "found before", row=0)
        raise IndexError("nothing there")

    checks = tuple(replace(c, function=broken) if "rapid-low" in c.codes else c for c in run.CHECKS)
    assert checks != run.CHECKS
    monkeypatch.setattr(run, "CHECKS", checks)
    (tmp_path / "slot.nc").write_text(PROGRAM)
    (tmp_path / "job.toml").write_text(JOB)
    return tmp_path / "job.toml"


def test_the_other_checks_go_on(job: Path) -> None:
    """What was found before is kept, what others find too, and the fault is an error."""
    with pytest.warns(UserWarning, match="rapid-low.* broke off: IndexError at test_broken_off.py"):
        outcome = dryrun.dry_run(dryrun.read_job(job), cell=1.0)

    found = {f.code: f for f in outcome.findings}
    assert {"too-deep", "rapid-low", "broken-off"} <= set(found)
    assert (found["broken-off"].level, found["broken-off"].stage) == ("error", 1)
    assert "rapid-low" in found["broken-off"].message


@pytest.mark.filterwarnings("ignore:a check for")
@pytest.mark.parametrize("choice", [[], ["--ignore", "broken-off"], ["--select", "rapid-low"]])
def test_the_command_ends_as_with_any_fault_of_ours(
    job: Path, choice: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 3, with all findings; no choice of codes hides it, nor does --fail-on."""
    with pytest.raises(SystemExit) as end:
        dryrun_command(["check", str(job), "--format", "json", "--fail-on", "never", *choice])

    assert end.value.code == 3
    assert "broken-off" in [f["code"] for f in json.loads(capsys.readouterr().out)["findings"]]


@pytest.mark.filterwarnings("ignore:a check for")
def test_nobody_can_allow_it(job: Path) -> None:
    """An allowance for it stays without effect."""
    allow = '[[allow]]\nstage = 1\ncode = "broken-off"\nreason = "seen"\n'
    job.write_text(job.read_text() + allow)
    outcome = dryrun.dry_run(dryrun.read_job(job), cell=1.0)

    assert {"broken-off", "idle-allowance"} <= {f.code for f in outcome.findings}
