"""Lines that come up at their ends: strokes of a pointed or round bit, never of a flat one.

A pointed or round bit that comes up while it runs makes its groove narrower and shallower until it
is gone; a flat bit leaves a ramp as wide as itself, which nobody draws.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.fitting.strokes import LEVEL_SLOPE, TOUCH, Strokes

#: At least this part of a line that comes up at its ends runs level.
LEVEL_PART: Final = 0.3

#: It comes up straight on, cosine, and to the top, mm.
STRAIGHT_ON: Final = np.cos(np.radians(10.0))
AT_TOP: Final = 0.05


def rising_lines(strokes: Strokes) -> NDArray[np.bool_]:
    """Tell the pieces of level lines that come up to the top at their end, straight on.

    Such a line goes down in any way, then runs at one depth, then comes up, and that once. At the
    top it is out of the blank: what goes back from there, as a deeper pass, is another line.
    """
    run, step = strokes.run, strokes.step
    slope = np.where(run > 1e-6, step[:, 2] / np.maximum(run, 1e-9), 0.0)
    sideways = run > 1e-6
    up = sideways & (slope > LEVEL_SLOPE)
    level = sideways & (np.abs(slope) <= LEVEL_SLOPE)
    from_top = strokes.top - strokes.start[:, 2] < TOUCH
    from_top[1:] &= (step[1:, :2] * step[:-1, :2]).sum(axis=1) < 0.0
    first = np.flatnonzero((np.diff(strokes.chain, prepend=-1) != 0) | from_top)
    last = np.append(first[1:], len(strokes))
    found = np.zeros(len(strokes), bool)
    for b, e in zip(first, last, strict=True):
        found[b:e] = _rises(strokes, up[b:e], level[b:e], slice(b, e))
    return found


def _rises(strokes: Strokes, up: NDArray[np.bool_], level: NDArray[np.bool_], part: slice) -> bool:
    if not up[-1] or not level.any():
        return False
    begins = int(np.argmax(up))
    run = strokes.run[part]
    if not up[begins:].all() or run[level].sum() < LEVEL_PART * run.sum():
        return False
    if begins == 0 or not level[begins - 1]:
        return False
    heights = strokes.end[part, 2]
    if np.ptp(heights[level]) > AT_TOP or strokes.top - heights[-1] > AT_TOP:
        return False
    before, after = strokes.step[part][begins - 1, :2], strokes.step[part][begins, :2]
    straight = float(before @ after) > STRAIGHT_ON * run[begins - 1] * run[begins]
    return bool(straight)


def rises_of(strokes: Strokes) -> int:
    """Count the chains that come up to the top by a slope."""
    run, rise = strokes.run, strokes.step[:, 2]
    last = np.append(np.flatnonzero(np.diff(strokes.chain)), len(strokes) - 1)
    sloped = (run[last] > 1e-6) & (rise[last] > 0.02 * run[last])
    return int((sloped & (strokes.top - strokes.end[last, 2] < AT_TOP)).sum())
