"""One point thrown off a fine pass: a coordinate mistyped among hundreds of short moves.

Relief is finished in short moves whose points follow each other evenly. Where a single point lies
far off, and without it those before and after it run on smoothly, one of its coordinates was
mistyped, or lost its minus. Nothing else tells: the bit goes there and back at a feed, at about the
right depth.

The place that fits is the one on the cubic through the two points before and the two after. How
evenly the path runs is how much its direction changes from point to point; a corner, an edge of
the relief or the end of a row changes it at one place for good, and no point taken out mends that.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import MOST_PLACES, StageContext
from dryrun.checks.maps import Mask
from dryrun.finding import Finding
from dryrun.motion import LINE, Motion

#: Points before and after the one that is looked at.
ROUND: Final = 3
#: The way over the point is longer than that without it by more than this part, ...
DETOUR: Final = 0.5
#: ... which is not back to the same place, mm: so the bit goes into a corner and out again.
APART: Final = 0.05
#: Where heights count, points lie about as far from each other: the longest step is less than so
#: many times the shortest. A path that was thinned has single points where the relief bends.
STEADY: Final = 1.5
#: A point is off by more than this, mm, ...
LEAST: Final = 0.1
#: ... and by more than so many times what the direction changes at the points around it.
FAR: Final = 6.0
#: The other two coordinates may be off by this part of it.
ALONE: Final = 0.02
#: A height that does not change is a level, and a point above it a tab, mm.
EVEN: Final = 1e-4
#: More points off than that are no slip: the path is made like that.
MOST: Final = 1


class Thrown(NamedTuple):
    """The row that goes to the point, which coordinate is off, what it is and what fits, mm."""

    row: int
    axis: int
    own: float
    fits: float


def points_thrown(context: StageContext) -> Iterator[Finding]:
    """Report single points that lie off the pass through those before and after them."""
    motion = context.motion
    for found in itertools.islice(thrown(motion), MOST_PLACES):
        letter = "XYZ"[found.axis]
        yield context.finding(
            "odd-pass",
            f"this point lies {context.mm(round(abs(found.own - found.fits), 2))} off the pass of "
            f"the points before and after it: {letter} is {context.mm(round(found.own, 3))}, and "
            f"about {context.mm(round(found.fits, 2))} would be in line",
            row=found.row,
            letters=letter,
            at=motion.end[found.row],
            value=found.own,
            limit=found.fits,
            unit="mm",
        )


def thrown(motion: Motion) -> Iterator[Thrown]:
    """Yield the points thrown off; none where there are more than a slip makes."""
    able = motion.cutting & (motion.kind == LINE)
    able &= np.isfinite(motion.start).all(axis=1) & np.isfinite(motion.end).all(axis=1)
    rows = np.flatnonzero(able)
    span = 2 * ROUND
    if len(rows) < span:
        return
    # the point and those around it: ends of rows on end, of a stretch without a lift
    first = rows[: len(rows) - span + 1]
    whole = rows[span - 1 :] - first == span - 1
    middle = first[whole] + ROUND - 1
    off = np.empty((len(middle), 3))
    around = np.empty((len(middle), 3))
    for axis in range(3):
        off[:, axis], around[:, axis] = _off(motion, middle, axis)
    size = np.abs(off)
    most = size.max(axis=1, keepdims=True)
    far = (size > LEAST) & (size > FAR * around) & (size == most)
    far &= ((size <= ALONE * most) | (size <= around) | (size == most)).all(axis=1, keepdims=True)
    far &= (around[:, 2] > EVEN)[:, None]
    able = np.flatnonzero(far.any(axis=1))
    middle, off, far = middle[able], off[able], far[able]
    far[:, :2] &= _detours(motion, middle)[:, None]
    far[:, 2] &= _steady(motion, middle)
    found = np.argwhere(far)
    if len(found) > MOST:
        return
    for k, axis in found:
        row = int(middle[k])
        own = float(motion.end[row, axis])
        yield Thrown(row, int(axis), own, own - float(off[k, axis]))


def _detours(motion: Motion, middle: NDArray[np.intp]) -> Mask:
    """Tell whether the path goes back, or aside and back, over a point."""
    before, at, after = (motion.end[middle + k, :2] for k in (-1, 0, 1))
    first, second, straight = (np.hypot(*d.T) for d in (at - before, after - at, after - before))
    goes_on: Mask = straight > APART
    goes_on &= first + second > (1.0 + DETOUR) * straight
    return goes_on


def _steady(motion: Motion, middle: NDArray[np.intp]) -> Mask:
    """Tell whether the points around one lie about as far from each other."""
    rows = middle[:, None] + np.arange(1 - ROUND, ROUND + 1)
    step = np.hypot(*np.moveaxis(motion.end[rows, :2] - motion.start[rows, :2], -1, 0))
    steady: Mask = step.max(axis=1) < STEADY * step.min(axis=1)
    return steady


def _off(
    motion: Motion, middle: NDArray[np.intp], axis: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return how far off each point is along an axis, and how uneven the path is without it, mm."""
    places = [motion.start[middle - ROUND + 1, axis]]
    places += [motion.end[middle + k, axis] for k in range(-ROUND + 1, ROUND + 1)]
    point = places[ROUND]
    near, next_but_one = (places[ROUND - k] + places[ROUND + k] for k in (1, 2))
    fits = (4.0 * near - next_but_one) / 6.0
    places[ROUND] = fits
    bends = [a - 2.0 * b + c for a, b, c in zip(places, places[1:], places[2:], strict=False)]
    return point - fits, np.abs(bends).max(axis=0)
