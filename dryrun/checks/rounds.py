"""What goes round a centre: arcs, full circles and drilled holes, and places that coincide."""

from __future__ import annotations

import itertools
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.maps import Mask
from dryrun.motion import ARC, Motion

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
