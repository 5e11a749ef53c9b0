"""Where a program stopped: the line, which pass over it, the row it begins with, what was in force.

A line in a loop or a subprogram is carried out more than once, and the person at the machine
sees its number only. Unless a pass is named the earliest is taken: cutting air again costs time,
leaving wood uncut costs the piece.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dryrun.gcode.program import Program
from dryrun.gcode.watch import Mark, Standing, Watch
from dryrun.job.model import Job, Stage
from dryrun.motion import Motion
from dryrun.outcome import read_stage_program


class RestartError(ValueError):
    """A restart that cannot be asked for: no such line, no blank, a line that is never run."""


@dataclass(frozen=True, slots=True)
class Stop:
    """Where a program stopped.

    Attributes
    ----------
    line, source : 1-based line, and in which text (0 the program itself)
    run_line : the line carried out that stands for it (the next one that moves, if it does nothing)
    pass_, passes : which time the line is carried out, 1-based, and how often it is in all
    row : row of the motion the line begins with; rows before it are taken as done
    standing : what was in force where the line begins
    marks : what is in force beside the rows, for the whole program
    """

    line: int
    source: int
    run_line: int
    pass_: int
    passes: int
    row: int
    standing: Standing
    marks: tuple[Mark, ...]


def find_stop(
    job: Job, stage: Stage, program: Program, line: int, source: int = 0, pass_: int | None = None
) -> Stop:
    """Find where a line begins in the run of a program.

    Parameters
    ----------
    job : Job
        What is declared.
    stage : Stage
        The stage of it that stopped.
    program : Program
        The stage's program, read.
    line : int
        1-based line of a text.
    source : int
        Which text: 0 the program itself, others subprogram files.
    pass_ : int, optional
        Which time the line is carried out; None the first.

    Raises
    ------
    RestartError
        When there is no such line, or it is never carried out so often.
    """
    name = program.source_names[source] or stage.name
    lines = program.lines if source == 0 else len(program.subprograms[source - 1].splitlines())
    if not 1 <= line <= lines:
        raise RestartError(f"{name} has {lines} lines; there is no line {line}")
    watch = Watch(line, source)
    read_stage_program(job, stage, watch)
    run_line, visits = line, watch.visits
    if not visits:
        run_line = _next_that_moves(program.motion, line, source, name)
        watch = Watch(run_line, source)
        read_stage_program(job, stage, watch)
        visits = watch.visits
    wanted = 1 if pass_ is None else pass_
    if not 1 <= wanted <= len(visits):
        times = "once" if len(visits) == 1 else f"{len(visits)} times"
        raise RestartError(
            f"line {line} of {name} is carried out {times}; there is no pass {wanted}"
        )
    halted = Watch(run_line, source, visit=wanted)
    read_stage_program(job, stage, halted)
    assert halted.standing is not None
    after = visits[wanted] if wanted < len(visits) else len(program.motion)
    return Stop(
        line, source, run_line, wanted, len(visits),
        _first_row(program.motion, run_line, source, visits[wanted - 1], after),
        halted.standing, tuple(watch.marks),
    )  # fmt: skip


def standing_before(job: Job, stage: Stage, motion: Motion, row: int) -> Standing | None:
    """Return what is in force where the line of a row begins, which must be its first row."""
    watch = Watch(int(motion.line[row]), int(motion.source[row]), row=row)
    read_stage_program(job, stage, watch)
    return watch.standing


def _first_row(motion: Motion, line: int, source: int, begin: int, after: int) -> int:
    """Row a line begins with; along a compensated path rows of the line before come later."""
    part = slice(begin, max(after, begin + 1))
    own = np.flatnonzero((motion.line[part] == line) & (motion.source[part] == source))
    return begin + int(own[0]) if len(own) else min(begin, len(motion))


def _next_that_moves(motion: Motion, line: int, source: int, name: str) -> int:
    """Return the next line with rows after one that does nothing (a move to where it is)."""
    own = np.unique(motion.line[motion.source == source])
    before, after = own[own < line], own[own > line]
    if not len(before) or not len(after):
        raise RestartError(f"line {line} of {name} is never carried out")
    return int(after[0])
