"""A restart, planned and proved: the blank as it stands, a clean place, a program that goes on.

The stage is cut up to the line, the last clean place at or before it is looked for, a program is
written that goes on from there, read back, checked as the job's programs are, and cut from the
blank as it stands. Only when the blank is then the same in every cell as after the whole program
is it handed out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np

from dryrun.finding import Finding
from dryrun.gcode.program import Program
from dryrun.gcode.text import split_lines
from dryrun.gcode.watch import Standing
from dryrun.job.model import Allow, Bit, Job, Stage
from dryrun.motion import DWELL, PROBE, TOOL, Motion
from dryrun.outcome import Outcome, Progress, StageOutcome, dry_run, dry_run_on, read_stage_program
from dryrun.removal.surface import Surface
from dryrun.restart import reading_back
from dryrun.restart.notes import notes_on
from dryrun.restart.places import Heights, Reasons, clean_rows, heights, mark_at
from dryrun.restart.reading_back import Difference
from dryrun.restart.stop import RestartError, Stop, find_stop, standing_before
from dryrun.restart.writing import (
    Start,
    Writer,
    beginning,
    one_turn_at_most,
    rest_of_state,
    rows_as_text,
)

#: Decimals tried for rows written out, fewest first; with the last every double is exact.
DECIMALS: Final = (6, 9, 17)

#: Lines whose text is tried as the rest of a program, at most.
MOST_TRIALS: Final = 40


@dataclass(frozen=True, slots=True)
class Place:
    """Where going on is clean.

    Attributes
    ----------
    row : row of the stage's motion that comes next
    line, source : where it stands
    standing : what is in force there
    """

    row: int
    line: int
    source: int
    standing: Standing


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
        """What the checks say about the restart program."""
        if self.checked is None:
            return []
        number = self.stage.number
        return [
            f for f in self.checked.findings if f.stage == number and f.code != "idle-allowance"
        ]


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
    planner = _Planner(outcome, stop, surface, bound, threads, progress, name)
    return planner.plan()


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


@dataclass(frozen=True, slots=True)
class _Written:
    """A restart program as written: its bytes, its reading, and the line its rest begins at."""

    data: bytes
    program: Program
    from_text: bool
    decimals: int
    first_line: int


@dataclass(slots=True)
class _Planner:
    outcome: Outcome
    stop: Stop
    surface: Surface
    bound: Heights
    threads: int | None
    progress: Progress | None
    name: str | None

    @property
    def stage(self) -> Stage:
        return self.outcome.stages[-1].stage

    @property
    def original(self) -> Program:
        return self.outcome.stages[-1].program

    def plan(self) -> Restart:
        motion = self.original.motion
        last = min(self.stop.row, len(motion) - 1)
        bit = self.stage.bit
        assert bit is not None
        rows, reasons = clean_rows(motion, self.stop.marks, self.bound, self.outcome.job, bit, last)
        base = Restart(self.outcome, self.stop, self.surface, self.bound)
        found = self._last_that_reads(rows)
        if found is None:
            why = _why_none(reasons, bool(rows), self.bound, self.outcome.job.units)
            return replace(base, why_not=why)
        place, write = found
        base = replace(
            base,
            place=place,
            seconds_again=self._seconds(place.row, self.stop.row),
            seconds_waited=self._wait(place.row, place.standing),
        )
        return self._proved(base, write)

    # ---- looking for a place

    def _last_that_reads(
        self, rows: list[int]
    ) -> tuple[Place, Callable[[int], _Written | None]] | None:
        """Return the last clean place from which a program can be written that reads the same."""
        motion = self.original.motion
        writable = _first_writable(motion)
        tried: set[tuple[int, int]] = set()
        for row in reversed(rows):
            line, source = int(motion.line[row]), int(motion.source[row])
            mark = mark_at(self.stop.marks, row)
            text = source == 0 and mark.depth == 0 and not mark.shifted
            text = text and (line, source) not in tried and len(tried) < MOST_TRIALS
            if not text and row < writable:
                continue
            standing = standing_before(self.outcome.job, self.stage, motion, row)
            if standing is None:
                continue
            place = Place(row, line, source, standing)
            if text:
                tried.add((line, source))
                if self._text(place) is not None:
                    return place, lambda _, place=place: self._text(place)
            if row >= writable and self._rows(place, DECIMALS[0]) is not None:
                return place, lambda n, place=place: self._rows(place, n)
        return None

    # ---- writing and reading back

    def _start(self, place: Place) -> Start:
        motion, stage = self.original.motion, self.stage
        number = self.outcome.stages[-1].number
        name = self.original.name or stage.name
        where = "" if place.source == 0 else f" of {self.original.source_names[place.source]}"
        bit = stage.bit.name if stage.bit else "not declared"
        return Start(
            self.original,
            place.standing,
            (
                f"restart of {name} from line {place.line}{where}",
                f"stopped at line {self.stop.line}, stage {number} {stage.name}, bit {bit}",
                "written by dryrun. First home the machine, prove X and Y zero,",
                "touch off Z anew, look at the bit. The manual of the machine says more.",
            ),
            self.bound.high,
            self._wait(place.row, place.standing),
            bool((motion.kind[: place.row] == TOOL).any()),
        )

    def _text(self, place: Place) -> _Written | None:
        start = self._start(place)
        writer = beginning(start, mark_at(self.stop.marks, place.row), DECIMALS[-1])
        rest_of_state(writer, start)
        first = len(writer.lines) + 1
        writer.lines += split_lines(self.original.text)[place.line - 1 :]
        made = self._read(writer, True, DECIMALS[-1], first)
        wanted = self.original.motion.rows(slice(place.row, None))
        rest = reading_back.rest_of(made.program.motion, wanted)
        if rest is None or not reading_back.same_rows(rest, wanted):
            return None
        return None if reading_back.new_faults(made.program, self.original) else made

    def _rows(self, place: Place, decimals: int) -> _Written | None:
        start = self._start(place)
        writer = beginning(start, mark_at(self.stop.marks, place.row), decimals)
        first = len(writer.lines) + 1
        motion = self.original.motion
        before = motion.rows(slice(0, place.row))
        wanted = one_turn_at_most(motion.rows(slice(place.row, None)))
        marks = self.stop.marks
        if len(wanted) != len(motion) - place.row:
            marks = tuple(m for m in marks if m.row <= place.row) + tuple(
                _renumbered(marks, motion, place.row)
            )
        rows_as_text(writer, Motion.concatenate([before, wanted]), marks, place.row, start)
        made = self._read(writer, False, decimals, first)
        rest = reading_back.rest_of(made.program.motion, wanted)
        if rest is None or not reading_back.alike_rows(rest, wanted):
            return None
        return None if reading_back.new_faults(made.program, self.original) else made

    def _read(self, writer: Writer, from_text: bool, decimals: int, first: int) -> _Written:
        text = self.original.text
        end = "\r\n" if "\r\n" in text else "\n"
        data = (end.join(writer.lines) + end).encode(self.original.encoding)
        program = read_stage_program(self.outcome.job, self._as_stage(data))
        return _Written(data, program, from_text, decimals, first)

    def _as_stage(self, data: bytes) -> Stage:
        stage = self.stage
        name = self.name or restart_name(self.original.name)
        folder = Path() if stage.program is None else stage.program.parent
        program = None if stage.program is None else folder / name
        return replace(stage, text=data, program=program)

    # ---- proving

    def _proved(self, base: Restart, write: Callable[[int], _Written | None]) -> Restart:
        assert base.place is not None
        wanted = self.outcome.surface
        assert wanted is not None
        for decimals in DECIMALS:
            made = write(decimals)
            if made is None:
                continue
            surface = self.surface.copy()
            checked = dry_run_on(
                self.outcome,
                self.outcome.stages[-1].number,
                self._as_stage(made.data),
                surface,
                self.threads,
                self.progress,
                job=self._accepting(base.place, made),
            )
            base = replace(
                base,
                checked=checked,
                difference=reading_back.difference(surface, wanted),
                from_text=made.from_text,
                decimals=made.decimals,
            )
            assert base.difference is not None
            if not base.difference.cells:
                return replace(base, program=made.data, notes=notes_on(base, made.program))
            if made.from_text:
                break
        return replace(
            base,
            why_not="the blank after it would not be the one the whole program leaves, so it is "
            "not handed out",
            checked=None,
        )

    def _accepting(self, place: Place, made: _Written) -> Job:
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

    # ---- figures

    def _seconds(self, first: int, after: int) -> float:
        time = self.outcome.stages[-1].time
        part = slice(first, after)
        return float(time.moving_seconds[part].sum() + time.standing_seconds[part].sum())

    def _wait(self, row: int, standing: Standing) -> float:
        """Seconds to wait for the spindle: as declared, or as the original does, the longer."""
        if not standing.state.turning:
            return 0.0
        machine = self.outcome.job.machine
        declared = machine.spindle.start_seconds if machine is not None else 0.0
        return max(declared, _waited(self.original.motion, row))


def _waited(motion: Motion, row: int) -> float:
    """Return how long the program stands after it last turned the spindle on, before it moves."""
    spindle = motion.spindle[:row]
    changed = np.flatnonzero(spindle[1:] != spindle[:-1]) + 1
    at = int(changed[-1]) if len(changed) else 0
    seconds = 0.0
    while at < row and motion.kind[at] == DWELL:
        seconds += float(motion.seconds[at])
        at += 1
    return seconds


def _first_writable(motion: Motion) -> int:
    """Return the row from which on all places are known and nothing is probed."""
    bad = np.isnan(motion.end).any(axis=1) & motion.moving
    bad |= motion.kind == PROBE
    bad |= np.isnan(motion.spindle)
    rows = np.flatnonzero(bad)
    return int(rows[-1]) + 1 if len(rows) else 0


def _renumbered(marks: tuple, motion: Motion, first: int) -> list:
    """Return marks after a row, counted in rows of which long arcs have become several."""
    from dryrun.gcode.arcs import TURN
    from dryrun.motion import ARC

    turns = np.where(motion.kind == ARC, np.ceil(np.abs(motion.sweep) / TURN - 1e-9), 1)
    pieces = np.maximum(turns, 1).astype(int)
    pieces[:first] = 1
    number = np.concatenate([[0], np.cumsum(pieces)])
    return [
        m._replace(row=int(number[m.row]), early=int(number[m.early]))
        for m in marks
        if m.row > first
    ]


def restart_name(name: str | None) -> str:
    """Return a name for the restart program of a program."""
    path = Path(name or "program.nc")
    return f"{path.stem}-restart{path.suffix or '.nc'}"


def _why_none(reasons: Reasons, any_clean: bool, bound: Heights, units: str) -> str:
    from dryrun.units import format_length

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
