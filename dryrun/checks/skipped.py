"""A place that one pass leaves out where all the others go by: a line that was lost.

The path comes from one place over a second one, goes on to a third and a fourth again and again,
and between the second and the third it goes by one more, but for once. That once it cuts the
corner, at the right depth.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import MOST_PLACES, StageContext
from dryrun.checks.rounds import Points
from dryrun.checks.ways import LEVEL, OTHER, SAME, Rows, between, keys_of, sideways
from dryrun.finding import Finding
from dryrun.motion import Motion

#: Passes that go by the place, at least.
OTHERS: Final = 2


class Skipped(NamedTuple):
    """The row that goes straight on, the first place that it leaves out, and how many go by it."""

    row: int
    x: float
    y: float
    passes: int


def places_skipped(context: StageContext) -> Iterator[Finding]:
    """Report moves of one pass that leave out a place which the others go by."""
    motion = context.motion
    for found in itertools.islice(skipped(motion), MOST_PLACES):
        yield context.finding(
            "odd-pass",
            f"this pass goes straight on here; {found.passes} other passes that are else the same "
            f"go by X {context.mm(round(found.x, 3))} Y {context.mm(round(found.y, 3))} first",
            row=found.row,
            letters="XY",
            at=motion.start[found.row],
            value=float(np.hypot(*(motion.start[found.row, :2] - (found.x, found.y)))),
            limit=0.0,
            unit="mm",
            help="a line before this one, or a word of it, may be lost",
        )


def skipped(motion: Motion) -> Iterator[Skipped]:
    """Yield the moves that leave out a place, in program order."""
    rows = sideways(motion)
    if len(rows) <= OTHERS * 4:
        return
    straight, direct, there, _ = _windows(motion, rows, 0)
    step = (motion.end - motion.start)[straight[:, 1]]
    able = (np.hypot(step[:, 0], step[:, 1]) > OTHER) & (np.abs(step[:, 2]) < LEVEL)
    straight, direct, there = straight[able], direct[able], there[able]
    _, key, _, by = _windows(motion, rows, 1)
    order = np.argsort(key, kind="stable")
    ranked = key[order]
    _, once, times = np.unique(direct, return_index=True, return_counts=True)
    once = np.sort(once[times == 1])
    for k in once[np.isin(direct[once], key)]:
        first, last = (np.searchsorted(ranked, direct[k], side) for side in ("left", "right"))
        others = by[order[first:last]]
        if len(others) < OTHERS or not (np.abs(others - others[0]) < SAME).all():
            continue
        place = others[0]
        before, one, other, after = there[k].reshape(4, 2)
        to_and_fro = any(_same(*two) for two in ((before, other), (one, after)))
        to_and_fro |= _same(place, before) or _same(place, after)
        if not to_and_fro and not between(place, one, other):
            yield Skipped(int(straight[k, 1]), float(place[0]), float(place[1]), len(others))


def _same(one: Points, other: Points) -> bool:
    return bool(np.abs(one - other).max() < SAME)


def _windows(
    motion: Motion, rows: Rows, more: int
) -> tuple[Rows, NDArray[np.uint64], NDArray[np.float64], Points]:
    """Return stretches of three moves, or four: rows, key of their ends, ends, the place between.

    The ends are the first two places and the last two.
    """
    run = np.cumsum(~motion.cutting)[rows]
    length = 3 + more
    count = len(rows) - length + 1
    chosen = np.stack([rows[k : k + count] for k in range(length)], axis=1)
    chosen = chosen[run[:count] == run[length - 1 :]]
    end = motion.end[:, :2]
    places = [motion.start[chosen[:, 0], :2], end[chosen[:, 0]], end[chosen[:, -2]]]
    ends = np.column_stack([*places, end[chosen[:, -1]]])
    return chosen, keys_of(ends), ends, end[chosen[:, 1]]
