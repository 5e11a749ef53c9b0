"""The held-out set: every planted mistake told at its line, nothing said against the clean jobs.

Jobs, mistakes and lines were written by someone who had not read the checks (`heldout/README.md`).
"""

from __future__ import annotations

from pathlib import Path

import pytest

import dryrun
from dryrun.checks.catalogue import catalogue
from dryrun.finding import Finding

from .heldout.jobs_other import OTHER
from .heldout.jobs_wood import WOOD
from .heldout.mistakes import ANY, MISTAKES
from .heldout.shop import Files, Planted
from .heldout3.later import LATER
from .sample import some

JOBS = {work.name: work for work in (make() for make in (*WOOD, *OTHER))}

pytestmark = pytest.mark.jit_only


def dry_run(folder: Path, files: Files) -> list[Finding]:
    for name, text in files.items():
        (folder / name).write_text(text, "utf-8", newline="")
    return dryrun.dry_run(dryrun.read_job(folder / "job.toml")).findings


@pytest.mark.parametrize("name", some(list(JOBS), 0, every=4))
def test_nothing_is_said_against_a_clean_job(name: str, tmp_path: Path) -> None:
    """A clean job has neither errors nor warnings; notes are allowed."""
    findings = dry_run(tmp_path, JOBS[name].files)

    assert [(f.code, f.line) for f in findings if f.level != "note"] == []


@pytest.mark.parametrize("planted", some(MISTAKES, every=12), ids=lambda planted: planted.name)
def test_a_planted_mistake_is_told_at_its_line(planted: Planted, tmp_path: Path) -> None:
    """One of the codes, in the stage, on one of the lines written down beforehand."""
    clean = JOBS[planted.base].files
    lines = planted.lines(clean)

    findings = dry_run(tmp_path, planted.files(clean))

    told = [
        f
        for f in findings
        if (f.code in planted.codes or (planted.codes == ANY and f.level != "note"))
        and (planted.stage is None or f.stage in (planted.stage, None))
    ]
    assert any(lines is None or f.line in lines for f in told), (lines, findings)


def test_every_code_is_planted() -> None:
    """No code of the catalogue is without a mistake that must bring it up."""
    planted = {code for mistake in MISTAKES for code in mistake.codes if code != "*"}
    # Codes made later are planted in the third set, alone.
    later = {code for mistake in LATER if len(mistake.codes) == 1 for code in mistake.codes}

    # no file can bring up a fault of ours: test_broken_off.py
    assert planted | (later & set(catalogue())) | {"broken-off"} == set(catalogue())
