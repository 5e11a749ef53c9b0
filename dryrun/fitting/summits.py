"""Summits: how long a path over a relief runs level where it turns from rising to falling.

A bit with a flat end rests with all of its flat on what stands up, so that its path is level over
every summit and level crest for as long as the flat is wide. A round end turns there at once.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from dryrun.fitting.strokes import Strokes

#: Heights that differ by less are level, mm.
SAME_HEIGHT: Final = 0.004

#: Turns from rising to falling that are looked at, at least, and which of their lengths is taken:
#: most rows cross a summit beside its middle, or a crest that leans.
FEWEST: Final = 20
LONGEST: Final = 0.97


def summits_of(strokes: Strokes) -> float | None:
    """Return how long the path runs level over summits, mm; None where there are too few."""
    if len(strokes) < FEWEST:
        return None
    step, run = strokes.step[:, 2], strokes.run
    leans = np.flatnonzero((np.abs(step) > SAME_HEIGHT) & (run > 1e-6))
    before, after = leans[:-1], leans[1:]
    turns = (step[before] > 0) & (step[after] < 0)
    turns &= strokes.chain[before] == strokes.chain[after]
    # Between the two all is level, to as much in all as one piece may lean.
    turns &= np.abs(strokes.end[before, 2] - strokes.start[after, 2]) <= 2 * SAME_HEIGHT
    if turns.sum() < FEWEST:
        return None
    way = np.cumsum(run)
    level = way[after - 1] - way[before]
    return float(np.quantile(level[turns], LONGEST))
