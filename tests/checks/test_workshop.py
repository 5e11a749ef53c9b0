"""Every planted mistake of the workshop's jobs is found, and its clean jobs have no finding."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

import dryrun

sys.path.insert(0, str(Path(__file__).parent))
from workshop import Case
from workshop_jobs import cases

CASES = cases()


@pytest.mark.jit_only
@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_workshop(case: Case, tmp_path: Path) -> None:
    """A planted mistake is told at its line; a clean job gives notes at most."""
    outcome = dryrun.dry_run(dryrun.read_job(case.write(tmp_path)), cell=0.25, keep_stages=False)

    got = [(f.code, f.stage, f.line) for f in outcome.findings if f.level != "note"]
    if case.planted is None:
        assert got == []
        return
    code, stage, line = case.planted
    found = {f.line for f in outcome.findings if (f.code, f.stage) == (code, stage)}
    assert (line in found) if line else found
