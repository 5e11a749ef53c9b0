"""Holes that are only gone straight down into: how deep, in what bites, how far apart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from dryrun.fitting.strokes import Floats, Strokes

#: Holes nearer than this are one, mm.
SAME_HOLE: Final = 0.01

#: So many holes are looked at.
MOST_HOLES: Final = 400


@dataclass(frozen=True, slots=True)
class Holes:
    """Holes of one program.

    Attributes
    ----------
    count : how many
    depth : of most of them, below the top, mm
    bite : how far the bit goes down before it is lifted to clear the chips, mm; None at once
    apart : usual distance from one to the nearest other, mm; inf for one
    """

    count: int
    depth: float
    bite: float | None
    apart: float


def holes_of(strokes: Strokes) -> Holes | None:
    """Return the holes; None where nothing goes straight down."""
    down = strokes.chosen((strokes.run < 1e-6) & (strokes.step[:, 2] < 0))
    if not len(down):
        return None
    places = np.round(down.end[:, :2] / SAME_HOLE).astype(np.int64)
    middles, index = np.unique(places, axis=0, return_inverse=True)
    depth = np.round(down.top - down.end[:, 2], 3)
    ends = [np.unique(depth[index.ravel() == k]) for k in range(min(len(middles), MOST_HOLES))]
    deepest = float(np.median([d[-1] for d in ends]))
    above = max(float(down.start[:, 2].max()) - down.top, 0.0)
    bites = [_bite(d, above) for d in ends if len(d) > 1]
    bite = float(np.median(bites)) if 2 * len(bites) > len(ends) else None
    return Holes(
        len(middles), deepest, bite, _apart(SAME_HOLE * middles[:MOST_HOLES].astype(float))
    )


def _bite(depths: Floats, above: float) -> float:
    """Return the whole bite of a hole.

    A cycle begins its first bite `above` the top, and the last one is what is left: it is never
    the longest.
    """
    if len(depths) > 2:
        return float(np.diff(depths).max())
    whole = depths[0] >= depths[1] - depths[0]
    return float(depths[0] if whole else depths[0] + above)


def _apart(middles: Floats) -> float:
    between = np.hypot(*(middles[:, None] - middles[None]).transpose(2, 0, 1))
    between[np.arange(len(middles)), np.arange(len(middles))] = np.inf
    return float(np.median(between.min(axis=1)))
