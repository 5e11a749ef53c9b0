"""Runs the set and says what was told: `python -m tests.checks.heldout3.score`."""

from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import dryrun
from dryrun.finding import Finding

from . import JOBS, MISTAKES
from .edits import Files, Mistake
from .mistakes import JOB


def findings(files: Files) -> list[Finding] | None:
    """What dryrun finds; None where it refuses the job file."""
    with tempfile.TemporaryDirectory() as folder:
        for name, text in files.items():
            Path(folder, name).write_text(text, newline="")
        try:
            job = dryrun.read_job(Path(folder, "job.toml"))
        except dryrun.JobError:
            return None
        return list(dryrun.dry_run(job).findings)


@dataclass(frozen=True)
class Result:
    """Whether a mistake was told, and at the right line; and what else was found."""

    told: bool
    line: bool
    found: tuple[str, ...]


def words(finding: Finding) -> str:
    return f"{finding.level} {finding.code} {Path(finding.file or '').name}:{finding.line}"


def judge(mistake: Mistake, clean: list[Finding]) -> Result:
    """Told is a code that would do and that the clean job does not have there by that much."""
    found = findings(mistake.apply(JOBS[mistake.job].files))
    if found is None:
        return Result(JOB in mistake.codes, JOB in mistake.codes, ("refused",))
    before = {(words(f), f.stage, f.value) for f in clean}
    new = [f for f in found if (words(f), f.stage, f.value) not in before]
    hits = [f for f in new if f.code in mistake.codes]
    right = not mistake.lines or any(
        Path(f.file or "").name == mistake.program and f.line in mistake.lines for f in hits
    )
    return Result(bool(hits), bool(hits) and right, tuple(words(f) for f in new))


def main() -> None:
    clean = {}
    for name, made in JOBS.items():
        clean[name] = findings(made.files) or []
        for finding in clean[name]:
            if finding.level != "note":
                print(f"CLEAN {name}: {words(finding)}: {finding.message}")
    told = right = 0
    for mistake in MISTAKES:
        result = judge(mistake, clean[mistake.job])
        told += result.told
        right += result.line
        if not result.line:
            what = "LINE" if result.told else "MISS"
            want = f"{sorted(mistake.codes)} at {mistake.program}:{sorted(mistake.lines)}"
            print(f"{what} {mistake.job}: {mistake.name}: want {want}; got {result.found[:8]}")
    levels = [f.level for found in clean.values() for f in found]
    print(f"told {told} of {len(MISTAKES)}, right line {right} of {len(MISTAKES)}")
    print(f"clean jobs {len(JOBS)}: {levels.count('error')} errors, {levels.count('warning')} "
          f"warnings, {levels.count('note')} notes")  # fmt: skip


if __name__ == "__main__":
    sys.exit(main())
