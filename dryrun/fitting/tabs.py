"""Level outlines that rise over tabs: flat bits' work, however often the path goes up and down.

An outline that leaves bridges of material keeps to its level for most of its way, goes up to one
height and straight back down to the level it came from. A groove of varying depth does neither:
it turns at as many heights as the shape has widths, or comes up to the top at its corners.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.fitting.strokes import LEVEL_SLOPE, Strokes

#: Part of the way of such an outline that is level, at least.
LEVEL_PART: Final = 0.5

#: Heights at which it turns from up to down, at most, and how far below the top, mm.
MOST_ROOFS: Final = 2
BELOW_TOP: Final = 0.15

#: An outline comes back this near to where it was, mm, after this part of its way; it has at most
#: so many pieces before and after.
CLOSED: Final = 0.02
WAY_ROUND: Final = 0.8
LEADS: Final = 60

#: Heights that differ by less are one, mm.
SAME_HEIGHT: Final = 0.02


def tabbed_chains(strokes: Strokes, count: int) -> NDArray[np.bool_]:
    """Tell which of `count` chains are level outlines that rise over tabs."""
    run, rise = strokes.run, strokes.step[:, 2]
    level = (np.abs(rise) <= LEVEL_SLOPE * run) & (run > 1e-6)
    whole = np.bincount(strokes.chain, run, count)
    flat = np.bincount(strokes.chain, np.where(level, run, 0.0), count)
    way = np.where(rise > LEVEL_SLOPE * run, 1, np.where(rise < -LEVEL_SLOPE * run, -1, 0))
    moved = np.flatnonzero(way)
    chain, sign = strokes.chain[moved], way[moved]
    roof = np.flatnonzero((sign[:-1] > 0) & (sign[1:] < 0) & (chain[1:] == chain[:-1]))
    floor = np.flatnonzero((sign[:-1] < 0) & (sign[1:] > 0) & (chain[1:] == chain[:-1]))
    height = strokes.end[moved, 2]
    found = (np.bincount(chain[roof], minlength=count) > 0) & (flat > LEVEL_PART * whole)
    at_top = strokes.top - height[roof] < BELOW_TOP
    found &= np.bincount(chain[roof], at_top, count) == 0
    found &= _heights(chain[roof], height[roof], count) <= MOST_ROOFS
    # It goes on at its floor, level, before it rises again.
    gone = moved[floor + 1] - moved[floor] > 1
    found &= np.bincount(chain[floor], ~gone, count) <= np.bincount(chain[floor], gone, count)
    tabs: NDArray[np.bool_] = found
    for number in np.flatnonzero(found):
        tabs[number] = _closed(strokes, np.flatnonzero(strokes.chain == number))
    return tabs


def _closed(strokes: Strokes, mine: NDArray[np.intp]) -> bool:
    """Tell whether a chain comes back to where it was, as an outline does and rows do not.

    Before and after that it may lead in and out.
    """
    reach = np.cumsum(strokes.run[mine])
    first, last = mine[:LEADS], mine[-LEADS:]
    away = np.abs(strokes.start[first, None, :2] - strokes.end[None, last, :2]).max(axis=2)
    between = reach[-LEADS:][None, :] - (reach[:LEADS] - strokes.run[first])[:, None]
    return bool(((away < CLOSED) & (between > WAY_ROUND * reach[-1])).any())


def _heights(chain: NDArray[np.int64], height: NDArray[np.float64], count: int) -> NDArray[np.int_]:
    """Return how many different heights each chain has."""
    rounded = np.round(height / SAME_HEIGHT).astype(np.int64)
    pairs = np.unique(np.column_stack([chain, rounded]), axis=0)
    return np.bincount(pairs[:, 0], minlength=count)
