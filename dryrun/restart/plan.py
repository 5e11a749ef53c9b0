"""A restart, planned and proved: the blank as it stands, a clean place, a program that goes on.

The stage is cut up to the line, the last clean place at or before it is looked for, a program is
written that goes on from there, read back, checked as the job's programs are, and cut from the
blank as it stands. Only when the blank is then the same in every cell as after the whole program
is it handed out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from dryrun.cutting import Progress
from dryrun.finding import Finding
from dryrun.gcode.program import Program
from dryrun.job.model import Allow, Bit, Job
from dryrun.motion import Motion
from dryrun.outcome import Outcome, StageOutcome, dry_run, dry_run_on
from dryrun.removal.surface import Surface
from dryrun.restart import reading_back
from dryrun.restart.notes import notes_on
from dryrun.restart.places import Heights, Reasons, clean_rows, heights, mark_at
from dryrun.restart.reading_back import Difference
from dryrun.restart.stop import RestartError, Stop, find_stop, standing_before
from dryrun.restart.trial import Place, Trials, Written, first_writable
from dryrun.units import format_length

#: Decimals tried for rows written out, fewest first; with the last every double is exact.
DECIMALS: Final = (6, 9, 17)

#: What is asked of a whole stage, not of its rest; `dryrun check` tells it of the original.
ABOUT_WHOLE_STAGES: Final = frozenset(
    {"shallow", "idle-stage", "stage-order", "uncut-ridge", "bit-suspect", "zero-suspect"}
    | {"idle-allowance", "circle-flipped", "odd-pass", "off-centre"}
)

#: Lines whose text is tried as the rest of a program, at most; and places that are proved.
MOST_TRIALS: Final = 40
MOST_PROOFS: Final = 4

NOT_THE_SAME: Final = (
    "the blank after it would not be the one the whole stage leaves, so it is not handed out"
)


@dataclass(frozen=True, slots=True)
class Restart:
    """A way back into a stage.

    Attributes
    ----------
    outcome : the job up to and with the stage, as if nothing had happened
    stop : where it stopped
    surface : the blank as it stands there, earlier stages complete
    heights : what counts as clean
    place : where to go on; None there is no clean place
    why_not : why there is no restart program, in plain words; "" there is one
    program : the restart program's bytes; None there is none
    from_text : whether its rest is the original's text (else it was written from the rows)
    decimals : most decimals in its rows, when written from those
    checked : the restart program dry-run on the blank as it stands; None there is none
    difference : of the blank after it from the blank after the whole stage
    seconds_again : predicted seconds of what is run a second time
    seconds_waited : written for the spindle to come up to speed
    notes : what cannot be guaranteed, or was assumed, in plain words
    """

    outcome: Outcome
    stop: Stop
    surface: Surface
    heights: Heights
    place: Place | None = None
    why_not: str = ""
    program: bytes | None = None
    from_text: bool = True
    decimals: int = 0
    checked: Outcome | None = None
    difference: Difference | None = None
    seconds_again: float = 0.0
    seconds_waited: float = 0.0
    notes: tuple[str, ...] = ()

    @property
    def stage(self) -> StageOutcome:
        """The stage that stopped, whole."""
        return self.outcome.stages[-1]

    @property
    def findings(self) -> list[Finding]:
        """What the checks say about the restart program, as far as a rest can be judged."""
        if self.checked is None:
            return []
        number, left = self.stage.number, set(ABOUT_WHOLE_STAGES)
        known = {f.code for f in self.outcome.findings if f.stage == number}
        if self.stage.stage.max_plunge_rate is None and "fast-plunge" not in known:
            left.add("fast-plunge")  # judged by the feeds of what is left
        return [f for f in self.checked.findings if f.stage == number and f.code not in left]


def plan_restart(
    job: Job,
    number: int,
    line: int,
    *,
    source: str | None = None,
    pass_: int | None = None,
    name: str | None = None,
    cell: float | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
    memory: float | None = None,
) -> Restart:
    """Plan a restart of a stage at a line.

    Parameters
    ----------
    job : Job
        What is declared.
    number : int
        Stage, 1-based.
    line : int
        The line it stopped at, 1-based; it and all after it are taken as not done.
    source : str, optional
        Name of the subprogram file the line stands in.
    pass_ : int, optional
        Which time the line is carried out; None the earliest.
    name : str, optional
        What findings call the restart program.
    cell, threads, progress, memory : optional
        As in `dryrun.dry_run`.

    Raises
    ------
    RestartError
        When the line is not there or never run, or blank or bit are not declared.
    OSError, dryrun.outcome.ProgramError, dryrun.removal.cells.FieldTooLarge
        As in `dryrun.dry_run`.
    """
    _check_declared(job, number)
    allow = tuple(a for a in job.allow if a.stage is None or a.stage <= number)
    job = replace(job, stages=job.stages[:number], allow=allow)
    outcome = dry_run(job, cell, threads, progress, memory=memory)
    whole = outcome.stages[-1]
    if whole.facts is None or outcome.surface is None:
        raise RestartError(f"stage {number} cannot be cut: {whole.note}")
    stop = find_stop(
        job, whole.stage, whole.program, line, _source_of(whole.program, source), pass_
    )
    surface = _blank_before(outcome)
    cutter = _Cut(job, threads)
    cutter.cut(surface, whole.motion.rows(slice(0, stop.row)), whole.stage.bit)
    bound = heights(job, whole.stage, whole.program.motion)
    trials = Trials(job, whole, stop, bound, name)
    return _Planner(outcome, stop, surface, trials, threads, progress).plan()


def _check_declared(job: Job, number: int) -> None:
    if not 1 <= number <= len(job.stages):
        raise RestartError(f"there is no stage {number}; the job has {len(job.stages)}")
    missing = []
    if job.stock is None:
        missing.append("the blank (stock, or --stock and --zero)")
    if job.stages[number - 1].bit is None:
        missing.append(f"the bit of stage {number} (bit, or --bit)")
    if missing:
        raise RestartError(f"a restart needs to know {' and '.join(missing)}")


def _source_of(program: Program, name: str | None) -> int:
    if name is None:
        return 0
    for number, known in enumerate(program.source_names):
        if known is not None and known.lower() == name.lower():
            return number
    listed = ", ".join(known or "the program" for known in program.source_names)
    raise RestartError(f"the stage runs no file {name!r}; it runs {listed}")


def _blank_before(outcome: Outcome) -> Surface:
    """Return a copy of the blank before the last stage."""
    for stage in reversed(outcome.stages[:-1]):
        if stage.surface_after is not None:
            return stage.surface_after.copy()
    assert outcome.job.stock is not None
    assert outcome.surface is not None
    return Surface.blank(outcome.job.stock, outcome.surface.cell)


@dataclass(frozen=True, slots=True)
class _Cut:
    job: Job
    threads: int | None

    def cut(self, surface: Surface, motion: Motion, bit: Bit | None) -> None:
        from dryrun.removal.simulate import remove

        assert bit is not None
        remove(
            surface, motion, bit, self.threads, machine=self.job.machine, stock=self.job.stock
        )  # fmt: skip


@dataclass(slots=True)
class _Planner:
    outcome: Outcome
    stop: Stop
    surface: Surface
    trials: Trials
    threads: int | None
    progress: Progress | None

    def plan(self) -> Restart:
        trials = self.trials
        motion, bit = trials.original.motion, trials.stage.bit
        assert bit is not None
        last = min(self.stop.row, len(motion) - 1)
        job = self.outcome.job
        rows, reasons = clean_rows(motion, self.stop.marks, trials.bound, job, bit, last)
        best = Restart(self.outcome, self.stop, self.surface, trials.bound)
        failed: set[int] = set()
        for place, made in self._ways(rows):
            if place.row not in failed and len(failed) == MOST_PROOFS:
                break
            found = self._proved(best, place, made)
            if found.program is not None:
                return found
            failed.add(place.row)
            best = best if best.place is not None else found
        if best.place is not None:
            return best
        return replace(best, why_not=_why_none(reasons, bool(rows), trials.bound, job.units))

    def _ways(self, rows: list[int]) -> Iterator[tuple[Place, Written]]:
        """Yield programs that read back as the original does, from the last clean place back."""
        trials, motion = self.trials, self.trials.original.motion
        writable = first_writable(motion)
        tried: set[int] = set()
        for row in reversed(rows):
            line, source = int(motion.line[row]), int(motion.source[row])
            mark = mark_at(self.stop.marks, row)
            alone = source == 0 and mark.depth == 0 and not mark.shifted
            alone = alone and line not in tried and len(tried) < MOST_TRIALS
            if not alone and row < writable:
                continue
            standing = standing_before(self.outcome.job, trials.stage, motion, row)
            if standing is None:
                continue
            place = Place(row, line, source, standing)
            if alone:
                tried.add(line)
                text = trials.text(place)
                if text is not None:
                    yield place, text
                    continue
            for decimals in DECIMALS if row >= writable else ():
                made = trials.rows(place, decimals)
                if made is not None:
                    yield place, made

    def _proved(self, base: Restart, place: Place, made: Written) -> Restart:
        """Check a program on the blank as it stands; it is handed out only when the blank is."""
        surface, wanted = self.surface.copy(), self.outcome.surface
        assert wanted is not None
        checked = dry_run_on(
            self.outcome,
            self.outcome.stages[-1].number,
            self.trials.as_stage(made.data),
            surface,
            self.threads,
            self.progress,
            job=self._accepting(place, made),
        )
        found = replace(
            base,
            place=place,
            difference=reading_back.difference(surface, wanted),
            from_text=made.from_text,
            decimals=made.decimals,
            seconds_again=self._seconds(place.row, self.stop.row),
            seconds_waited=self.trials.wait(place.row, place.standing),
        )
        assert found.difference is not None
        if found.difference.cells:
            return replace(found, why_not=NOT_THE_SAME)
        found = replace(found, program=made.data, checked=checked, why_not="")
        return replace(found, notes=notes_on(found, made.program))

    def _accepting(self, place: Place, made: Written) -> Job:
        """Return the job with what is accepted by line moved along, or left out."""
        number = self.outcome.stages[-1].number
        allow: list[Allow] = []
        for one in self.outcome.job.allow:
            if one.lines is None or one.stage not in (None, number):
                allow.append(one)
            elif made.from_text:
                by = made.first_line - place.line
                lines = (one.lines[0] + by, one.lines[1] + by)
                allow.append(replace(one, stage=number, lines=lines))
        return replace(self.outcome.job, allow=tuple(allow))

    def _seconds(self, first: int, after: int) -> float:
        time = self.outcome.stages[-1].time
        part = slice(first, after)
        return float(time.moving_seconds[part].sum() + time.standing_seconds[part].sum())


def _why_none(reasons: Reasons, any_clean: bool, bound: Heights, units: str) -> str:
    if any_clean:
        return (
            "from none of the clean places could a program be written that reads back as the "
            "original (probing or unknown places come after it, or its text does not stand alone)"
        )
    height = format_length(bound.clearance, units)  # type: ignore[arg-type]
    parts = []
    if reasons.low:
        parts.append(f"rapids before it begin lower than {height} above blank or clamps")
    if reasons.compensated:
        parts.append("radius compensation is on")
    if reasons.moved:
        parts.append("the program has moved its own zero (G10), which the controller may not keep")
    if reasons.rotary:
        parts.append("a rotary axis has turned")
    if reasons.inside:
        parts.append("what is high enough is inside a canned cycle")
    if reasons.unknown and not parts:
        parts.append("before it the bit comes from a place that is not known")
    said = "; ".join(parts) or "no rapid comes before it"
    return f"there is no clean place at or before the line: {said}"
