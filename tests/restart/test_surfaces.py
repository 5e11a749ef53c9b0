"""Stage up to a line, then the restart program: the surface of the whole program, cell by cell.

That is the promise, and the reference is the program itself: what a rigid bit leaves is the
lowest it reached over each place, whatever the order (removal is a minimum, so cutting air again
changes nothing).
"""

from __future__ import annotations

import os
import random
from pathlib import Path

import pytest

import dryrun
from dryrun.job.model import Job
from dryrun.restart.plan import Restart, plan_restart
from dryrun.restart.stop import RestartError
from dryrun.restart.trial import Trials
from tests.restart.programs import PROGRAMS
from tests.restart.shop import CELL, ROOT, check_surface, job_of

pytestmark = pytest.mark.jit_only

LONG = os.environ.get("DRYRUN_LONG") == "1"

#: Random lines for each demo stage and for each program: over 200 of either in the long run.
OF_STAGE, OF_PROGRAM = (50, 20) if LONG else (2, 2)

STAGES = [
    ("trivet", 1), ("trivet", 2), ("coaster-inch", 1), ("coaster-inch", 2),
]  # fmt: skip


def restart_at(job: Job, number: int, line: int, cell: float) -> Restart | None:
    """Plan a restart; None for a line that is never carried out."""
    try:
        return plan_restart(job, number, line, cell=cell, threads=1)
    except RestartError as error:
        if "never carried out" not in str(error):
            raise
        return None


def lines_of(name: str, count: int, program: str | bytes) -> list[int]:
    """Random lines, the same each time."""
    return random.Random(f"restart {name}").sample(
        range(1, len(program.splitlines()) + 1), min(count, len(program.splitlines()))
    )


@pytest.mark.parametrize(("folder", "number"), STAGES)
def test_demo_after_restart(folder: str, number: int) -> None:
    """At random lines of the demo the restart leaves the whole stage's surface."""
    job = dryrun.read_job(ROOT / "fixtures" / folder / "job.toml")
    program = job.stages[number - 1].program
    assert program is not None
    cell = 0.25 if LONG else 1.0
    planned = 0
    lines = lines_of(f"{folder} {number}", OF_STAGE, program.read_bytes())
    for line in lines:
        found = restart_at(job, number, line, cell)
        if found is None or found.program is None:
            # Only among the lines that set things up, before anything is cut.
            assert found is None or found.stop.row < 5, f"{folder} {number} line {line}"
            continue
        assert found.from_text
        check_surface(job, number, found, cell)
        assert not [f for f in found.findings if f.level == "error"]
        planned += 1
    assert planned >= (0.8 if LONG else 0.5) * len(lines)


@pytest.mark.parametrize("form", ["text", "rows"])
@pytest.mark.parametrize("name", PROGRAMS)
def test_programs_after_restart(name: str, form: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Cycles, calls, loops, compensation, planes, G91, offsets: as text, and written out."""
    if form == "rows":
        monkeypatch.setattr(Trials, "text", lambda self, place: None)
    job = job_of(PROGRAMS[name])
    first_cut = next(
        n for n, line in enumerate(PROGRAMS[name].splitlines(), 1) if "G1" in line.split("(")[0]
    )
    for line in lines_of(name, OF_PROGRAM, PROGRAMS[name]):
        found = restart_at(job, 1, line, CELL)
        if found is None:
            continue
        if found.program is None:
            assert found.place is None, f"{name} line {line}: {found.why_not}"
            assert line <= first_cut + 1 or found.stop.row <= 3, f"{name} line {line}"
            continue
        check_surface(job, 1, found, CELL)
        assert found.difference is not None
        assert found.difference.cells == 0
        if form == "rows":
            assert not found.from_text


@pytest.mark.parametrize("name", ["subprograms", "loops"])
def test_every_pass(name: str) -> None:
    """Each pass over a line of a loop or subprogram has its own restart; the earliest is usual."""
    line = next(
        n for n, text in enumerate(PROGRAMS[name].splitlines(), 1)
        if text in ("G1 Y13.3 F900", "G3 X[-60.03+#1*31.3] I-3.3 J0")
    )  # fmt: skip
    job = job_of(PROGRAMS[name])
    first = plan_restart(job, 1, line, cell=CELL, threads=1)
    assert first.stop.passes == 4
    assert first.stop.pass_ == 1
    rows = []
    for number in range(1, first.stop.passes + 1):
        found = plan_restart(job, 1, line, pass_=number, cell=CELL, threads=1)
        rows.append(found.stop.row)
        check_surface(job, 1, found, CELL)
    assert rows[0] == first.stop.row
    assert rows == sorted(set(rows))


def test_earlier_stages_and_shifted_zero() -> None:
    """The blank has the earlier stages in it, and a stage's own zero is followed."""
    from dataclasses import replace

    one = job_of(PROGRAMS["plain"])
    stages = (
        replace(one.stages[0], name="first"),
        replace(one.stages[0], name="second", zero_shift=(7.7, -3.3, -1.1)),
        replace(one.stages[0], name="third", zero_shift=(-20.0, 0.0, 0.0)),
    )
    job = replace(one, stages=stages)
    found = plan_restart(job, 2, 25, cell=CELL, threads=1)
    assert found.place is not None
    assert len(found.outcome.stages) == 2
    check_surface(job, 2, found, CELL)
    # Over the blank, whose top lies at 1.1 mm in this stage's own numbers.
    assert found.heights.safe == pytest.approx(2.1)
    assert found.place.standing.state.z >= 2.1


def test_subprogram_files(tmp_path: Path) -> None:
    """A line in a subprogram's file is found by its name; the rest may call the file again."""
    (tmp_path / "O77.nc").write_text("O77\nG91 G1 Z-7 F300\nX9.3 F800\nG0 Z7\nX11.1\nG90\nM99\n")
    main = (
        "G21 G90\nG0 Z15\nS9000 M3\nG4 P2\nG0 X-50 Y3\nZ5\nM98 P77 L2\nG0 X-50 Y30\nM98 P77\nM30\n"
    )
    path = tmp_path / "main.nc"
    path.write_text(main)
    from dryrun.job.quick import quick_job

    job = quick_job([path], bit="flat:6mm", stock="180x180x18mm", zero="centre-top")
    inside = plan_restart(job, 1, 3, source="O77.nc", pass_=2, cell=CELL, threads=1)
    assert inside.stop.passes == 3
    assert not inside.from_text
    check_surface(job, 1, inside, CELL)
    beside = plan_restart(job, 1, 9, cell=CELL, threads=1)
    assert beside.from_text
    assert any("O77.nc" in note for note in beside.notes)
    check_surface(job, 1, beside, CELL)
    with pytest.raises(RestartError, match=r"O78\.nc"):
        plan_restart(job, 1, 3, source="O78.nc", cell=CELL)
