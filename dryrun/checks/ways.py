"""Ways through places: what the checks on passes that differ at one place share."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.rounds import Points
from dryrun.motion import Motion

#: Places that are one, and a coordinate that is another one, mm.
SAME: Final = 0.01
OTHER: Final = 0.2
#: A move is level when its ends differ by less, mm.
LEVEL: Final = 0.02

#: Moves of a program that are compared, at most: a second for each 200,000, and their memory.
MOST_MOVES: Final = 1_000_000

Rows = NDArray[np.intp]


def sideways(motion: Motion) -> Rows:
    """Return the rows that are known and go sideways at a feed."""
    known = np.isfinite(motion.start).all(axis=1) & np.isfinite(motion.end).all(axis=1)
    step = (motion.end - motion.start)[:, :2]
    return np.flatnonzero(motion.cutting & known & (np.hypot(step[:, 0], step[:, 1]) > 1e-6))


def keys_of(places: NDArray[np.float64]) -> NDArray[np.uint64]:
    """Return a number for each row of coordinates, alike for places that are one."""
    key = np.zeros(len(places), np.uint64)
    for column in np.rint(places / SAME).astype(np.int64).astype(np.uint64).T:
        key = (key ^ column) * np.uint64(0x9E3779B97F4A7C15)
        key ^= key >> np.uint64(29)
    return key


def in_line(one: Points, place: Points, other: Points) -> bool:
    """Tell whether a way goes on straight, or straight back, at a place."""
    first, second = place - one, other - place
    across = abs(float(first[0] * second[1] - first[1] * second[0]))
    return across < SAME * max(float(np.hypot(*first)), float(np.hypot(*second)))


def between(place: Points, one: Points, other: Points) -> bool:
    """Tell whether a place lies on the straight line between two others."""
    whole, first = other - one, place - one
    length = float(np.hypot(*whole))
    if length < SAME:
        return False
    off = abs(float(whole[0] * first[1] - whole[1] * first[0])) / length
    return off < SAME and -SAME < float(whole @ first) / length < length + SAME
