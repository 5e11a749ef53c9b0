"""A second held-out set: nothing against clean jobs, planted mistakes told on their line."""

import math
from pathlib import Path

import pytest

import dryrun

from .heldout2 import jobs_flat, jobs_shaped
from .heldout2.mistakes import SLIPS
from .heldout2.tape import Made, Slip, planted
from .sample import some

pytestmark = pytest.mark.jit_only

#: The set is of fine cells by itself where a vee cuts a large blank; these do for what is asked.
CELLS = {"clock": 0.4}

JOBS = {make.__name__: make for make in jobs_flat.JOBS + jobs_shaped.JOBS}


def found(made: Made, folder: Path) -> list[dryrun.Finding]:
    """Return what is found in a job written to a folder."""
    job = dryrun.read_job(made.write(folder))
    return dryrun.dry_run(job, cell=CELLS.get(made.name), threads=1).findings


@pytest.mark.parametrize("name", some(list(JOBS), 1, every=4))
def test_nothing_is_said_against_a_clean_job(name: str, tmp_path: Path) -> None:
    """A clean job of the second set has neither errors nor warnings; notes are allowed."""
    said = [f for f in found(JOBS[name](), tmp_path) if f.level != "note"]
    assert not said, [(f.code, f.stage, f.line, f.message) for f in said]


@pytest.mark.parametrize(
    "slip", some(SLIPS, 1, every=12), ids=lambda s: f"{s.job}:_{s.what}".replace(" ", "_")
)
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


@pytest.mark.parametrize("shift", [(1, 0), (4, 0), (0, 2), (3, -1)])
def test_corners_shifted_along_a_wall_are_told(shift: tuple[int, int], tmp_path: Path) -> None:
    """Strokes in four corners slide along two walls and still are at no other place."""
    made = jobs_flat.inlay()
    made.head["stages"][1]["zero_shift"] = [f"{v} mm" for v in (*shift, 0)]

    told = [f for f in found(made, tmp_path) if f.code == "stage-shifted"]

    assert told
    assert told[0].value == pytest.approx(math.hypot(*shift), abs=0.5)
