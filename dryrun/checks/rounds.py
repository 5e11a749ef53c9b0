"""What goes round a centre: arcs, full circles and drilled holes, and places that coincide."""

from __future__ import annotations

import itertools
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.maps import Mask
from dryrun.motion import ARC, LINE, Motion

#: Centres nearer than this are one, mm: programs in inches are rounded to 0.0025 mm.
SAME: Final = 0.02

_FULL: Final = 2 * np.pi - 1e-6

Points = NDArray[np.float64]


def full_circles(motion: Motion) -> Mask:
    """Return the rows that are full turns in the XY plane, helices too."""
    full = arcs(motion) & (np.abs(motion.sweep) >= _FULL)
    return full


def arcs(motion: Motion) -> Mask:
    """Return the rows that are arcs in the XY plane and known."""
    known = np.isfinite(motion.start).all(axis=1) & np.isfinite(motion.end).all(axis=1)
    known &= np.isfinite(motion.centre[:, :2]).all(axis=1)
    round_: Mask = known & (motion.kind == ARC) & (motion.axis == 2)
    return round_


def beside(motion: Motion, rows: NDArray[np.intp], before: bool) -> tuple[Points, Mask, Mask]:
    """Return heading, whether arc, and whether full circle, of the feed moves beside some circles.

    The heading is that where the two meet, as a unit vector; 0 where there is none, where the move
    is upright, and where it goes round the circle's own centre, to and fro.
    """
    next_to = np.clip(rows - 1 if before else rows + 1, 0, len(motion) - 1)
    round_ = arcs(motion)[next_to]
    line = (motion.kind[next_to] == LINE) & np.isfinite(motion.end[next_to]).all(axis=1)
    meets = motion.end[next_to] if before else motion.start[next_to]
    spoke = (meets - motion.centre[next_to])[:, :2]
    turned = np.column_stack([-spoke[:, 1], spoke[:, 0]]) * np.sign(motion.sweep[next_to])[:, None]
    step = (motion.end[next_to] - motion.start[next_to])[:, :2]
    heading = np.where(round_[:, None], turned, np.where(line[:, None], step, 0.0))
    own = round_ & (np.abs(motion.centre[next_to] - motion.centre[rows])[:, :2] < SAME).all(axis=1)
    length = np.hypot(heading[:, 0], heading[:, 1])
    none = own | ~(length > 1e-6) | (next_to == rows)
    heading = np.where(none[:, None], 0.0, heading / np.maximum(length, 1e-9)[:, None])
    return heading, round_ & ~none, full_circles(motion)[next_to] & ~none


def drilled_rows(motion: Motion) -> NDArray[np.intp]:
    """Return the rows that drill: straight down at a feed, and up again at the same place."""
    # A dwell at the bottom of a hole is no move.
    rows = np.flatnonzero(motion.moving)
    step = (motion.end - motion.start)[rows]
    upright = np.hypot(step[:, 0], step[:, 1]) < 1e-6
    down = upright & motion.cutting[rows] & (step[:, 2] < 0)
    up = upright & (step[:, 2] > 0)
    return rows[:-1][down[:-1] & up[1:]]


def drilled(motion: Motion) -> Points:
    """Return X and Y of each drilled hole, mm."""
    return motion.end[drilled_rows(motion), :2]


class Places:
    """Points of the plane, to be counted where they coincide."""

    def __init__(self, points: Points) -> None:
        self._keys = np.sort(self._key(np.rint(points / SAME).astype(np.int64)))

    @staticmethod
    def _key(cell: NDArray[np.int64]) -> NDArray[np.int64]:
        key: NDArray[np.int64] = cell[:, 0] * np.int64(1 << 31) + cell[:, 1]
        return key

    def count(self, points: Points) -> NDArray[np.intp]:
        """Return how many of the points lie at each of some others."""
        cell = np.rint(points / SAME).astype(np.int64)
        total = np.zeros(len(points), np.intp)
        for dx, dy in itertools.product((-1, 0, 1), repeat=2):
            key = self._key(cell + np.array([dx, dy]))
            ends = [np.searchsorted(self._keys, key, side) for side in ("left", "right")]
            total += ends[1] - ends[0]
        return total
