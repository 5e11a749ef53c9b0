"""A ring beside the centre that all others of its stretch share: a digit of I or J that slipped.

A full circle closes round any centre, so the reader cannot tell. In a stretch without a lift, rings
of a pocket and turns of a bore go round one centre; where a single one goes round another, with one
of I and J as the common centre would have it, the other letter is wrong. A sign that was lost is
told by `flipped`.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import MOST_PLACES, StageContext
from dryrun.checks.rounds import SAME, full_circles
from dryrun.finding import Finding
from dryrun.motion import Motion

#: Circles of the stretch that share a centre, at least.
SHARED: Final = 4


class Astray(NamedTuple):
    """A row, the letter that is wrong, its value and the one that fits, mm; how many others."""

    row: int
    letter: str
    own: float
    fits: float
    others: int


def rings_astray(context: StageContext) -> Iterator[Finding]:
    """Report rings beside the one centre of their stretch."""
    motion = context.motion
    for found in itertools.islice(astray(motion), MOST_PLACES):
        yield context.finding(
            "circle-flipped",
            f"the {found.others} other circles of this stretch share one centre; with "
            f"{found.letter} {context.mm(round(found.fits, 3))} in place of "
            f"{context.mm(round(found.own, 3))} this one would have it, too",
            row=found.row,
            letters=found.letter,
            at=motion.centre[found.row],
            value=abs(found.own - found.fits),
            limit=0.0,
            unit="mm",
        )


def astray(motion: Motion) -> Iterator[Astray]:
    """Yield the single ring of each stretch that has another centre than all the others."""
    rows = np.flatnonzero(full_circles(motion) & motion.cutting)
    if len(rows) <= SHARED:
        return
    run = np.cumsum(~motion.cutting)[rows]
    for stretch in np.split(rows, np.flatnonzero(np.diff(run)) + 1):
        if len(stretch) > SHARED:
            yield from _single(motion, stretch)


def _single(motion: Motion, rows: NDArray[np.intp]) -> Iterator[Astray]:
    centre = motion.centre[rows, :2]
    common = np.median(centre, axis=0)
    off = (np.abs(centre - common) > SAME).any(axis=1)
    others = len(rows) - int(off.sum())
    # the turns of a helix on which the bit comes down share a centre of their own
    alone = [k for k in np.flatnonzero(off) if _count(centre, centre[k]) == 1]
    if len(alone) != 1 or others < SHARED or int(off.sum()) > others:
        return
    k = int(alone[0])
    row, start = int(rows[k]), motion.start[rows[k], :2]
    own, fits = centre[k] - start, common - start
    slipped = np.abs(own - fits) > SAME
    axis = int(np.flatnonzero(slipped)[0])
    if slipped.all() or abs(own[axis] + fits[axis]) < SAME:
        return
    radius = motion.radii()[rows]
    there = np.abs(radius - np.hypot(*fits)) < SAME
    there &= np.abs(motion.end[rows, 2] - motion.end[row, 2]) < SAME
    there &= np.abs(motion.start[rows, 2] - motion.start[row, 2]) < SAME
    if not there.any():
        yield Astray(row, "IJ"[axis], float(own[axis]), float(fits[axis]), others)


def _count(centres: NDArray[np.float64], place: NDArray[np.float64]) -> int:
    """Return how many circles go round a place."""
    return int((np.abs(centres - place) <= SAME).all(axis=1).sum())
