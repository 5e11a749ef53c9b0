"""Dry-run a job: every stage read, timed, cut from the blank and checked.

This is where the rooms meet, left to right: bytes become words and motion (`gcode`), motion
becomes a surface and facts (`removal`) and seconds (`timing`), and all of it findings (`checks`).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from dryrun.checks.context import StageContext, Texts
from dryrun.checks.run import Accepted, NotRun, run_checks
from dryrun.cutting import Cutter, Progress, blank_of, cut_stages
from dryrun.files import read_steady
from dryrun.finding import Finding
from dryrun.gcode.controller import from_accepts
from dryrun.gcode.program import Program, read_program
from dryrun.job.model import Job, Machine, Stage, Vector
from dryrun.motion import Motion
from dryrun.timing.planner import plan_time
from dryrun.timing.table import TimeTable

if TYPE_CHECKING:
    from dryrun.checks.maps import HeightMap
    from dryrun.gcode.watch import Watch
    from dryrun.removal.facts import CutFacts
    from dryrun.removal.pieces import Piece
    from dryrun.removal.surface import Surface

#: Programs above this size are refused, bytes.
LARGEST_PROGRAM: Final = 1 << 30

#: From this part of control characters on a file is not text.
STRANGE_PART: Final = 0.05

_TEXT_CONTROLS: Final = frozenset(b"\t\n\r\f\v\x03\x04\x11\x12\x13\x14\x1a")


class ProgramError(ValueError):
    """A program that cannot be used at all: empty, not text, too large."""


@dataclass(frozen=True, slots=True)
class StageOutcome:
    """What one stage does.

    Attributes
    ----------
    number : 1-based
    stage, program, motion : what was declared and read; `motion` has the zero shift applied
    time : seconds and speeds per motion row
    facts : what each row did to the blank; None without blank or bit
    removed_mm3 : volume the stage takes off the blank; 0 without blank or bit
    surface_after : the blank after the stage; None without blank or bit, or when not kept
    first_row : what `cut_by` of the surface calls this stage's row 0
    between_cells : how much deeper than the field this bit can be between cell centres, mm
    pieces : loose pieces the blank has fallen into once the stage is done
    swapped_mm3 : what it would take off if the next stage's larger bit went first; None not asked
    note : why the stage could not be cut from the field, or ""
    map_after : a small map of the blank after the stage; None without blank or bit
    reach : for a bit that cuts under material, which the field cannot show: how low it comes, what
        it meets of the clamps, and as its axial depth what it would take of an uncut blank
    """

    number: int
    stage: Stage
    program: Program
    motion: Motion
    time: TimeTable
    facts: CutFacts | None = None
    removed_mm3: float = 0.0
    surface_after: Surface | None = None
    first_row: int = 0
    between_cells: float = 0.0
    pieces: tuple[Piece, ...] = ()
    swapped_mm3: float | None = None
    note: str = ""
    map_after: HeightMap | None = None
    reach: CutFacts | None = None

    @property
    def seconds(self) -> float:
        """Predicted seconds at the machine."""
        return self.time.seconds

    @property
    def path_mm(self) -> float:
        """Length of all moves whose ends are known, mm."""
        return float(np.nansum(self.motion.lengths()))

    @property
    def bounds(self) -> tuple[Vector, Vector] | None:
        """Low and high corner of the places the bit's tip goes to at a feed, mm; None nowhere."""
        return motion_bounds(self.motion)

    @property
    def lowest(self) -> float | None:
        """Lowest point: over the blank when one is declared, else of the feed moves, mm."""
        facts = self.facts if self.reach is None else self.reach
        if facts is not None:
            lowest = facts.lowest[np.isfinite(facts.lowest)]
            return float(lowest.min()) if len(lowest) else None
        bounds = self.bounds
        return None if bounds is None else bounds[0][2]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a job does.

    Attributes
    ----------
    job, stages : what was declared, and what each stage does
    findings : sorted by level, stage, line
    accepted : findings the person accepts, with the reason
    not_run : checks that lack a declaration
    surface : the blank after the last stage; None without blank or bit
    cell_why : why the cells have the size they have
    left_out : findings not reported because other codes were asked for
    """

    job: Job
    stages: tuple[StageOutcome, ...]
    findings: list[Finding]
    accepted: tuple[Accepted, ...] = ()
    not_run: tuple[NotRun, ...] = ()
    surface: Surface | None = None
    cell_why: str = ""
    left_out: tuple[Finding, ...] = ()

    @property
    def worst(self) -> str:
        """The most urgent level among the findings: "error", "warning", "note" or "none"."""
        return self.findings[0].level if self.findings else "none"

    @property
    def seconds(self) -> float:
        """Predicted seconds of all stages."""
        return sum(stage.seconds for stage in self.stages)

    @property
    def removed_mm3(self) -> float:
        """Volume of all that is taken off the blank."""
        return sum(stage.removed_mm3 for stage in self.stages)

    @property
    def between_cells(self) -> float:
        """How much deeper than the field a bit can be between cell centres, mm."""
        return max((s.between_cells for s in self.stages), default=0.0)

    @property
    def chord(self) -> float:
        """How far a chord may lie off an arc whose cut has no closed form, mm.

        Heights at cell centres may be off by that, times the slope of the bit where it touches.
        """
        from dryrun.removal.facts import CHORD_SAGITTA

        return CHORD_SAGITTA

    def stage_of_row(self, row: int) -> tuple[StageOutcome, int] | None:
        """Return the stage and its motion row that a value of `cut_by` means; None for -1."""
        if row < 0:
            return None
        for stage in reversed(self.stages):
            if row >= stage.first_row:
                return stage, row - stage.first_row
        return None


def motion_bounds(motion: Motion) -> tuple[Vector, Vector] | None:
    """Return the box around all feed moves, arcs included; None when there are none."""
    from dryrun.checks.travel import row_boxes

    keep = motion.cutting
    if not keep.any():
        return None
    boxes = row_boxes(motion.rows(keep))
    with np.errstate(invalid="ignore"):
        low = np.nanmin(np.where(np.isnan(boxes[:, :3]), np.inf, boxes[:, :3]), axis=0)
        high = np.nanmax(np.where(np.isnan(boxes[:, 3:]), -np.inf, boxes[:, 3:]), axis=0)
    if not (np.isfinite(low).all() and np.isfinite(high).all()):
        return None
    return (_vector(low), _vector(high))


def _vector(values: np.ndarray) -> Vector:
    x, y, z = (float(v) for v in values)
    return (x, y, z)


def dry_run(
    job: Job,
    cell: float | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
    *,
    keep_stages: bool = True,
    memory: float | None = None,
) -> Outcome:
    """Dry-run a job.

    Parameters
    ----------
    job : Job
        What `read_job` or `quick_job` gave.
    cell : float, optional
        Size of the field's cells, mm; None chooses one from bits, blank and memory.
    threads : int, optional
        How many threads cut; None one for each core. The result does not depend on it.
    progress : callable, optional
        Called now and then with what is being done, done so far, and total (0 when nothing is
        counted, as before compiling).
    keep_stages : bool
        Keep the blank as it is after each stage, not only after the last.
    memory : float, optional
        Bytes the field may take; None a documented default.

    Raises
    ------
    OSError
        When a program cannot be read.
    ProgramError
        When a program is empty, not text, or too large.
    dryrun.removal.cells.FieldTooLarge
        When the field would not fit the memory.
    """
    stages = [_read_stage(job, n, stage) for n, stage in enumerate(job.stages, start=1)]
    return _cut_and_check(job, stages, cell, memory, Cutter(job, threads, progress), keep_stages)


def dry_run_again(
    outcome: Outcome,
    job: Job,
    motions: Sequence[Motion],
    times: Sequence[TimeTable],
    cell: float,
    threads: int | None = None,
    only: Collection[str] | None = None,
) -> Outcome:
    """Dry-run programs already read under another declaration, or moved.

    Parameters
    ----------
    outcome : Outcome
        Where the programs come from.
    job : Job
        The other declaration, with as many stages.
    motions : sequence of Motion
        One for each stage.
    times : sequence of TimeTable
        Of these motions.
    cell : float
        Size of the field's cells, mm.
    threads : int, optional
        As in `dry_run`.
    only : collection of str, optional
        Codes whose checks are run; all by default.
    """
    stages = [
        StageOutcome(old.number, stage, old.program, motion, time)
        for old, stage, motion, time in zip(outcome.stages, job.stages, motions, times, strict=True)
    ]
    return _cut_and_check(job, stages, cell, None, Cutter(job, threads, None), False, only)


def dry_run_on(
    outcome: Outcome,
    number: int,
    stage: Stage,
    surface: Surface,
    threads: int | None = None,
    progress: Progress | None = None,
    *,
    job: Job | None = None,
) -> Outcome:
    """Dry-run another program in place of a stage, on the blank as it stands.

    Parameters
    ----------
    outcome : Outcome
        The job with its stages before this one.
    number : int
        Which stage the program takes the place of, 1-based.
    stage : Stage
        The other program, with its bit.
    surface : Surface
        The blank as it stands; it is cut in place.
    threads, progress : optional
        As in `dry_run`.
    job : Job, optional
        Another declaration of what is accepted; the outcome's by default.

    Returns
    -------
    Outcome
        The stages before, and this one; findings are those of all of them.
    """
    job = job or outcome.job
    before = list(outcome.stages[: number - 1])
    first_row = outcome.stages[number - 1].first_row
    cutter = Cutter(job, threads, progress)
    cut = list(cut_stages(cutter, [_read_stage(job, number, stage)], surface, False, first_row))
    stages = [*before, *cut]
    verdict = run_checks(_contexts(job, stages, surface))
    return Outcome(
        job=job,
        stages=tuple(stages),
        findings=list(verdict.findings),
        accepted=verdict.accepted,
        not_run=verdict.not_run,
        surface=surface,
        cell_why=outcome.cell_why,
    )


def _cut_and_check(
    job: Job,
    stages: list[StageOutcome],
    cell: float | None,
    memory: float | None,
    cutter: Cutter,
    keep_stages: bool,
    only: Collection[str] | None = None,
) -> Outcome:
    surface, why = None, ""
    if job.stock is not None and any(s.stage.bit for s in stages):
        surface, why = blank_of(job, cell, memory)
        stages = list(cut_stages(cutter, stages, surface, keep_stages))
    verdict = run_checks(_contexts(job, stages, surface), only)
    return Outcome(
        job=job,
        stages=tuple(stages),
        findings=list(verdict.findings),
        accepted=verdict.accepted,
        not_run=verdict.not_run,
        surface=surface,
        cell_why=why,
    )


def _read_stage(job: Job, number: int, stage: Stage) -> StageOutcome:
    machine = job.machine or Machine()
    program = read_stage_program(job, stage)
    motion = _shifted(program.motion, stage.zero_shift)
    return StageOutcome(number, stage, program, motion, plan_time(motion, machine))


def read_stage_program(job: Job, stage: Stage, watch: Watch | None = None) -> Program:
    """Read a stage's program under what the job declares, with somebody looking on or not.

    A stage that has both a path and a text is read from the text, under the path's name and with
    the subprograms of its folder.
    """
    machine = job.machine or Machine()
    name = stage.name if stage.program is None else stage.program.name
    return read_program(
        _load(stage),
        controller=from_accepts(machine.accepts) if machine.accepts else None,
        unit=machine.unit or job.units,
        name=name,
        folder=None if stage.program is None else stage.program.parent,
        work_zero=_stage_zero(machine, stage),
        offsets=dict(stage.offsets),
        bit_radius=stage.bit.radius if stage.bit else None,
        start=_parked(machine, stage),
        _watch=watch,
    )


def _stage_zero(machine: Machine, stage: Stage) -> Vector | None:
    """Return the stage's own zero in machine coordinates; None when not declared."""
    if machine.work_zero is None:
        return None
    x, y, z = (a + b for a, b in zip(machine.work_zero, stage.zero_shift, strict=True))
    return (x, y, z)


def _parked(machine: Machine, stage: Stage) -> Vector | None:
    """Return where the machine stands before a program, from the stage's zero; None not known."""
    zero = _stage_zero(machine, stage)
    if machine.park is None or zero is None:
        return None
    x, y, z = (a - b for a, b in zip(machine.park, zero, strict=True))
    return (x, y, z)


def _load(stage: Stage) -> bytes:
    """Read a stage's program; refuse what cannot be one before anything is made of it."""
    data = stage.text
    if data is None:
        if stage.program is None:
            raise ProgramError(f"{stage.name}: there is neither a program nor a text")
        data = read_steady(stage.program, LARGEST_PROGRAM)
    name = stage.program or stage.name
    if len(data) > LARGEST_PROGRAM:
        size = LARGEST_PROGRAM // 2**20
        raise ProgramError(f"{name}: the program is larger than {size} MiB")
    if not data.strip():
        raise ProgramError(f"{name}: the program is empty")
    head = data[:65536]
    strange = sum(head.count(bytes([c])) for c in range(32) if c not in _TEXT_CONTROLS)
    if strange > max(16, len(head) * STRANGE_PART):
        raise ProgramError(f"{name}: this is not a text file, so it cannot be a G-code program")
    return data


def _shifted(motion: Motion, shift: Vector) -> Motion:
    if not any(shift):
        return motion
    offset = np.array(shift)
    return replace(
        motion,
        start=motion.start + offset,
        end=motion.end + offset,
        centre=motion.centre + offset,
    )


def _contexts(job: Job, stages: list[StageOutcome], final: Surface | None) -> list[StageContext]:
    contexts: list[StageContext] = []
    for stage in stages:
        contexts.append(
            StageContext(
                job=job,
                number=stage.number,
                stage=stage.stage,
                program=stage.program,
                motion=stage.motion,
                times=stage.time,
                texts=Texts(stage.program),
                facts=stage.facts,
                reach=stage.reach,
                removed_mm3=stage.removed_mm3,
                pieces=stage.pieces,
                first_row=stage.first_row,
                swapped_mm3=stage.swapped_mm3,
                earlier=tuple(contexts),
                after=stage.map_after,
                final=final,
                job_mm3=math.fsum(s.removed_mm3 for s in stages),
            )
        )
    return contexts
