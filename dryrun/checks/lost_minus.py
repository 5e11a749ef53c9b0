"""A pass above the blank, or above the level before it: a minus of its Z was lost, or a digit.

Passes go down level by level: Z-1, Z-2, Z-3. Where a pass runs by feed at Z2 through the places of
the others, between one at Z-1 and one at Z-3 or lower, the next takes twice the depth, and is told
of; but the slip is here. A lift by feed goes to a height that comes again and again, and on to
places of its own. And where a pass goes up within the blank, to a height that is nowhere else, and
runs there through places of others, it takes nothing, or leaves what it should take.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import MOST_PLACES, StageContext
from dryrun.checks.ways import LEVEL, SAME, keys_of
from dryrun.finding import Finding
from dryrun.motion import Motion

#: Z of the blank's top where it is the work zero; elsewhere no sign tells above from below, mm.
AT_ZERO: Final = 0.02
#: Steps that are one differ by less than this part of them.
EQUAL: Final = 0.1
#: Places of the other passes that the pass in the air goes through, at least.
PLACES: Final = 2


class Lifted(NamedTuple):
    """The row that goes up, its height, and those of the passes before and after it, mm.

    Before the first pass it is the top; after the last one NaN, or the first level elsewhere.
    """

    row: int
    height: float
    before: float
    after: float


def minus_lost(context: StageContext) -> Iterator[Finding]:
    """Report passes above the blank that would fit among the others with a minus."""
    stock = context.job.stock
    if stock is None or abs(stock.top) > AT_ZERO:
        return
    depth = context.stage.depth
    for found in itertools.islice(lifted(context.motion, depth), MOST_PLACES):
        before, after = (context.mm(round(z, 3)) for z in (found.before, found.after))
        where = f"between Z {before} and Z {after}, the levels before and after it"
        if not found.after <= LEVEL - found.height:
            where = f"below Z {before}, the level before it, at the depth of the stage"
        yield context.finding(
            "odd-pass",
            f"this pass runs {context.mm(round(found.height, 3))} above the blank, through places "
            f"of others; with Z {context.mm(round(-found.height, 3))} it would lie {where}",
            row=found.row,
            letters="Z",
            value=found.height,
            limit=-found.height,
            unit="mm",
            help="compare this Z with those of the passes before and after: its minus may be lost",
        )


def pass_raised(context: StageContext) -> Iterator[Finding]:
    """Report passes that go up within the blank, through places of others."""
    stock, motion = context.job.stock, context.motion
    if stock is None:
        return
    for row in itertools.islice(raised(motion, stock.top), MOST_PLACES):
        before, height = float(motion.start[row, 2]), float(motion.end[row, 2])
        yield context.finding(
            "odd-pass",
            f"this pass goes up from Z {context.mm(round(before, 3))} to Z "
            f"{context.mm(round(height, 3))}, a height that is nowhere else, and on through places "
            "of other passes",
            row=row,
            letters="Z",
            value=height,
            limit=before,
            unit="mm",
            help="compare this Z with those of the passes before and after: a digit may be lost",
        )


def raised(motion: Motion, top: float) -> Iterator[int]:
    """Yield the rows that go up by feed to a height of their own below the top of the blank, mm."""
    known = np.isfinite(motion.start).all(axis=1) & np.isfinite(motion.end).all(axis=1)
    start, end = motion.start[:, 2] - top, motion.end[:, 2] - top
    turns = known & (np.abs(end - start) > LEVEL)
    levels = np.flatnonzero(turns & motion.cutting)
    heights = np.sort(end[levels])
    cut = known & motion.cutting & (end < -LEVEL)
    places = np.sort(keys_of(motion.end[cut, :2]))
    stops = np.append(np.flatnonzero(turns | ~motion.cutting), len(motion))
    first, last = (np.searchsorted(heights, end[levels] + d) for d in (-LEVEL, LEVEL))
    able = (last - first <= 1) & (end[levels] < -LEVEL) & (end[levels] > start[levels])
    for row in levels[able]:
        stop = int(stops[np.searchsorted(stops, row, side="right")])
        if _through(motion, int(row), stop, places, others=True):
            yield int(row)


def lifted(motion: Motion, depth: float | None = None) -> Iterator[Lifted]:
    """Yield the rows that go up by feed to a height of their own, where a level is missing.

    `depth` is the stage's, mm: without a deeper pass after it, one is only taken for one that
    should go there.
    """
    known = np.isfinite(motion.start).all(axis=1) & np.isfinite(motion.end).all(axis=1)
    end = motion.end[:, 2]
    turns = known & (np.abs(end - motion.start[:, 2]) > LEVEL)
    levels = np.flatnonzero(turns & motion.cutting)
    heights = np.sort(end[levels])
    cut = known & motion.cutting & (end < -LEVEL)
    places = np.sort(keys_of(motion.end[cut, :2]))
    stops = np.append(np.flatnonzero(turns | ~motion.cutting), len(motion))
    for k, row in enumerate(levels):
        height = float(end[row])
        if height < LEVEL or _between(heights, height) > 1 or not len(places):
            continue
        before = float(end[levels[k - 1]]) if k else 0.0
        after = float(end[levels[k + 1]]) if k + 1 < len(levels) else float("nan")
        stop = int(stops[np.searchsorted(stops, row, side="right")])
        if _fits(height, before, after, depth) and _through(motion, int(row), stop, places):
            yield Lifted(int(row), height, before, after)


def _fits(height: float, before: float, after: float, depth: float | None) -> bool:
    """Tell whether a level is missing where the height would lie with a minus."""
    if before == 0.0:  # the first of equal steps
        return abs(after + 2.0 * height) < EQUAL * height
    deeper = before < 0.0 and -height < before - LEVEL
    last = depth is not None and abs(height - depth) < LEVEL
    return deeper and (last or after <= LEVEL - height)


def _between(values: NDArray[np.float64], value: float) -> int:
    """Return how many sorted values are the same as one."""
    first, last = np.searchsorted(values, [value - LEVEL, value + LEVEL])
    return int(last - first)


def _through(
    motion: Motion, row: int, stop: int, places: NDArray[np.uint64], others: bool = False
) -> bool:
    """Tell whether a pass from a row to before another goes through places of others only.

    With `others` its own are among the places.
    """
    rows = np.arange(row, stop)
    step = np.hypot(*(motion.end[rows, :2] - motion.start[rows, :2]).T)
    keys = keys_of(motion.end[rows, :2])
    aside, own = np.unique(keys[step > SAME]), np.sort(keys)
    there, mine = (
        np.searchsorted(v, aside, "right") - np.searchsorted(v, aside) for v in (places, own)
    )
    return len(aside) >= PLACES and bool((there > mine * others).all())
