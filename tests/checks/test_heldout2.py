"""A second held-out set: clean jobs stay without errors, planted mistakes are told on their line."""

from pathlib import Path

import pytest

import dryrun

from .heldout2 import jobs_flat, jobs_shaped
from .heldout2.mistakes import SLIPS
from .heldout2.tape import Made, Slip, planted

pytestmark = pytest.mark.jit_only

JOBS = {make.__name__: make for make in jobs_flat.JOBS + jobs_shaped.JOBS}


def found(made: Made, folder: Path) -> list[dryrun.Finding]:
    """Return what is found in a job written to a folder."""
    return dryrun.dry_run(dryrun.read_job(made.write(folder)), threads=1).findings


@pytest.mark.parametrize("name", JOBS)
def test_a_clean_job_has_no_error(name: str, tmp_path: Path) -> None:
    """A clean job of the second set has no finding that is an error."""
    errors = [f for f in found(JOBS[name](), tmp_path) if f.level == "error"]
    assert not errors, [(f.code, f.stage, f.line, f.message) for f in errors]


@pytest.mark.parametrize("slip", SLIPS, ids=lambda s: f"{s.job}: {s.what}".replace(" ", "_"))
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
