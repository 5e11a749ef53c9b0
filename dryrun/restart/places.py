"""Places in a program where going on is clean: a rapid at safe height that nothing hangs on.

A clean place is where a rapid begins (or a straight move after one that does not begin clean
itself), with the bit above the blank, and above any clamp it would come down beside, by the safe
height. It is the first row of its line (not the middle of a canned cycle), radius compensation is
off, and the zero is the one the person set (the program has not moved it by G10, which a
controller may or may not remember). Nothing here looks at the text.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.rapids import DEFAULT_CLEARANCE
from dryrun.gcode.watch import Mark
from dryrun.job.model import Bit, Job, Stage, Vector
from dryrun.motion import LINE, RAPID, Motion

#: Heights that differ by less are one, mm.
_CLOSE: Final = 1e-6


@dataclass(frozen=True, slots=True)
class Heights:
    """Heights that matter to coming back, mm.

    Attributes
    ----------
    clearance : how far above blank and clamps a rapid must pass
    declared : whether the machine says so (`safe_height`), or it is the default
    safe : lowest clean height over the blank
    high : height to cross blank and clamps at
    shift : of the stage's zero from the job's; a program's place plus it is the job's
    """

    clearance: float
    declared: bool
    safe: float
    high: float
    shift: Vector


def heights(job: Job, stage: Stage, motion: Motion) -> Heights:
    """Return the heights for a stage, in the frame of its motion as read (without its shift)."""
    assert job.stock is not None
    machine = job.machine
    declared = machine is not None and "safe_height" in machine.declared
    clearance = machine.safe_height if machine is not None and declared else DEFAULT_CLEARANCE
    top = job.stock.top - stage.zero_shift[2]
    tallest = max((clamp.height for clamp in job.clamps or ()), default=0.0)
    high = top + max(tallest, 0.0) + clearance
    levels = motion.end[motion.kind == RAPID, 2]
    levels = levels[np.isfinite(levels)]
    if len(levels):
        high = max(high, float(levels.max()))
    if machine is not None and machine.travel is not None and machine.work_zero is not None:
        limit = machine.travel[2][1] - machine.work_zero[2] - stage.zero_shift[2]
        high = min(high, limit)
    return Heights(clearance, declared, top + clearance, high, stage.zero_shift)


@dataclass(frozen=True, slots=True)
class Reasons:
    """Why rapids before a line are no clean places: how many for each reason."""

    low: int = 0
    unknown: int = 0
    compensated: int = 0
    moved: int = 0
    rotary: int = 0
    inside: int = 0


def clean_rows(
    motion: Motion, marks: Sequence[Mark], bound: Heights, job: Job, bit: Bit, last: int
) -> tuple[list[int], Reasons]:
    """Return the rows up to `last` at whose start going on is clean, and why others are not.

    Parameters
    ----------
    motion : Motion
        As read, without the stage's shift.
    marks : sequence of Mark
        What is in force, in order.
    bound : Heights
        What counts as high enough.
    job : Job
        Its clamps must be cleared.
    bit : Bit
        What must clear them.
    last : int
        Row that the stopped line would have begun with.
    """
    kind = motion.kind[: last + 1]
    after = np.zeros(len(kind), bool)
    after[1:] = (kind[1:] == LINE) & (kind[:-1] == RAPID)
    rows = np.flatnonzero((kind == RAPID) | after)
    rows = rows[rows > 0]  # before the first move is the beginning itself
    start = motion.start[rows]
    need = _needed(start, bound, job, bit)
    known = np.isfinite(start).all(axis=1)
    with np.errstate(invalid="ignore"):
        high = known & (start[:, 2] >= need - _CLOSE)
    own = _begins_line(motion)[rows]
    found: list[int] = []
    counts = {
        "low": int((known & ~high & (kind[rows] == RAPID)).sum()),
        "unknown": int((~known).sum()),
        "inside": int((high & ~own).sum()),
    }
    for row in rows[high & own].tolist():
        mark = mark_at(marks, row)
        reason = _unfit(mark)
        if reason:
            counts[reason] = counts.get(reason, 0) + 1
        elif kind[row] == RAPID or not found or found[-1] != row - 1:
            found.append(row)
    return found, Reasons(**counts)


def mark_at(marks: Sequence[Mark], row: int) -> Mark:
    """Return what was in force when a row was to be made."""
    at = bisect_right(marks, row, key=lambda mark: mark.row)
    return marks[max(at - 1, 0)]


def marks_from(marks: Sequence[Mark], row: int) -> Iterator[Mark]:
    """Yield what comes into force after a row's start, in order."""
    at = bisect_right(marks, row, key=lambda mark: mark.row)
    yield from marks[at:]


def _unfit(mark: Mark) -> str:
    if mark.compensated:
        return "compensated"
    if mark.moved:
        return "moved"
    return "rotary" if mark.rotary else ""


def _begins_line(motion: Motion) -> NDArray[np.bool_]:
    """Rows that are the first of their line, or come from another than the row before."""
    first = np.ones(len(motion), bool)
    first[1:] = (motion.line[1:] != motion.line[:-1]) | (motion.source[1:] != motion.source[:-1])
    return first


def _needed(places: NDArray[np.float64], bound: Heights, job: Job, bit: Bit) -> NDArray[np.float64]:
    """Return the lowest clean height at each place: over the blank, or beside a clamp over it."""
    need = np.full(len(places), bound.safe)
    x, y = places[:, 0] + bound.shift[0], places[:, 1] + bound.shift[1]
    for clamp in job.clamps or ():
        gap_x = np.maximum(np.maximum(clamp.low[0] - x, x - clamp.high[0]), 0.0)
        gap_y = np.maximum(np.maximum(clamp.low[1] - y, y - clamp.high[1]), 0.0)
        near = np.hypot(gap_x, gap_y) < bit.radius + bound.clearance
        need[near] = np.maximum(need[near], bound.safe + clamp.height)
    return need
