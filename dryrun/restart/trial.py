"""One way of going on, tried: written, read back, and held against the original row by row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from dryrun.gcode.arcs import TURN
from dryrun.gcode.program import Program
from dryrun.gcode.text import split_lines
from dryrun.gcode.watch import Mark, Standing
from dryrun.job.model import Job, Stage
from dryrun.motion import ARC, DWELL, PROBE, TOOL, Motion
from dryrun.outcome import StageOutcome, read_stage_program
from dryrun.restart import reading_back
from dryrun.restart.numbers import EXACT
from dryrun.restart.places import Heights, mark_at
from dryrun.restart.stop import Stop
from dryrun.restart.writing import (
    Start,
    Writer,
    beginning,
    one_turn_at_most,
    rest_of_state,
    rows_as_text,
)


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
class Written:
    """A restart program as written: its bytes, its reading, and the line its rest begins at."""

    data: bytes
    program: Program
    from_text: bool
    decimals: int
    first_line: int


@dataclass(frozen=True, slots=True)
class Trials:
    """Writes restart programs of one stage; what does not read back as the original is None.

    Attributes
    ----------
    job, whole : the job, and the stage as if nothing had happened
    stop : where it stopped
    bound : what counts as high enough
    name : what findings call the restart program; None made from the original's
    """

    job: Job
    whole: StageOutcome
    stop: Stop
    bound: Heights
    name: str | None

    @property
    def stage(self) -> Stage:
        """The stage as declared."""
        return self.whole.stage

    @property
    def original(self) -> Program:
        """Its program as read."""
        return self.whole.program

    def _start(self, place: Place) -> Start:
        motion, stage = self.original.motion, self.stage
        number = self.whole.number
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
            self.wait(place.row, place.standing),
            bool((motion.kind[: place.row] == TOOL).any()),
        )

    def text(self, place: Place) -> Written | None:
        """Write the original's own text from a place on."""
        start = self._start(place)
        writer = beginning(start, mark_at(self.stop.marks, place.row), EXACT)
        rest_of_state(writer, start)
        first = len(writer.lines) + 1
        writer.lines += split_lines(self.original.text)[place.line - 1 :]
        made = self._read(writer, True, EXACT, first)
        wanted = self.original.motion.rows(slice(place.row, None))
        rest = reading_back.rest_of(made.program.motion, wanted)
        if rest is None or not reading_back.same_rows(rest, wanted):
            return None
        return None if reading_back.new_faults(made.program, self.original) else made

    def rows(self, place: Place, decimals: int) -> Written | None:
        """Write the moves from a place on, without cycles, calls, compensation and shifts."""
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

    def _read(self, writer: Writer, from_text: bool, decimals: int, first: int) -> Written:
        text = self.original.text
        end = "\r\n" if "\r\n" in text else "\n"
        data = (end.join(writer.lines) + end).encode(self.original.encoding)
        program = read_stage_program(self.job, self.as_stage(data))
        return Written(data, program, from_text, decimals, first)

    def as_stage(self, data: bytes) -> Stage:
        """Return the stage with a restart program in place of its own."""
        stage = self.stage
        name = self.name or restart_name(self.original.name)
        folder = Path() if stage.program is None else stage.program.parent
        program = None if stage.program is None else folder / name
        return replace(stage, text=data, program=program)

    def wait(self, row: int, standing: Standing) -> float:
        """Seconds to wait for the spindle: as declared, or as the original does, the longer."""
        if not standing.state.turning:
            return 0.0
        machine = self.job.machine
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


def first_writable(motion: Motion) -> int:
    """Return the row from which on all places are known and nothing is probed."""
    bad = np.isnan(motion.end).any(axis=1) & motion.moving
    bad |= motion.kind == PROBE
    bad |= np.isnan(motion.spindle)
    rows = np.flatnonzero(bad)
    return int(rows[-1]) + 1 if len(rows) else 0


def _renumbered(marks: Sequence[Mark], motion: Motion, first: int) -> list[Mark]:
    """Return marks after a row, counted in rows of which long arcs have become several."""
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
