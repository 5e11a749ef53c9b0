"""A second held-out set: nothing against clean jobs, planted mistakes told on their line."""

from pathlib import Path

import pytest

import dryrun

from .heldout2 import jobs_flat, jobs_shaped
from .heldout2.mistakes import SLIPS
from .heldout2.tape import Made, Slip, planted

pytestmark = pytest.mark.jit_only

#: The set is of fine cells by itself where a vee cuts a large blank; these do for what is asked.
CELLS = {"clock": 0.4}

#: Mistakes that are not told yet: heldout2/README.md says why.
NOT_TOLD = {"the corners 2 mm to the right"}

JOBS = {make.__name__: make for make in jobs_flat.JOBS + jobs_shaped.JOBS}


def found(made: Made, folder: Path) -> list[dryrun.Finding]:
    """Return what is found in a job written to a folder."""
    job = dryrun.read_job(made.write(folder))
    return dryrun.dry_run(job, cell=CELLS.get(made.name), threads=1).findings


@pytest.mark.parametrize("name", JOBS)
def test_nothing_is_said_against_a_clean_job(name: str, tmp_path: Path) -> None:
    """A clean job of the second set has neither errors nor warnings; notes are allowed."""
    said = [f for f in found(JOBS[name](), tmp_path) if f.level != "note"]
    assert not said, [(f.code, f.stage, f.line, f.message) for f in said]


def marked(slip: Slip) -> object:
    """Return the mistake as a test case, expected to fail while it is not told."""
    marks = [pytest.mark.xfail(reason="not told yet", strict=True)] if slip.what in NOT_TOLD else []
    return pytest.param(slip, id=f"{slip.job}:_{slip.what}".replace(" ", "_"), marks=marks)


@pytest.mark.parametrize("slip", [marked(slip) for slip in SLIPS])
def test_a_planted_mistake_is_told(slip: Slip, tmp_path: Path) -> None:
    """A planted mistake is told by its code, on its line."""
    made = planted(JOBS[slip.job](), slip)
    stage, name = slip.at
    line = made.tapes[stage - 1].line_of(name) if name else None
    told = [
        (f.code, f.stage, f.line)
        for f in found(made, tmp_path)
        if f.code in slip.codes and (f.stage == stage or not stage)
    ]
    assert told, "not told"
    assert line is None or line in [at for _, _, at in told], (line, told)
