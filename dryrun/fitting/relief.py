"""Rolling over a relief: how sharply the path of a round bit can turn over what stands up.

The tip of a ball that touches a surface from above runs on the surface's offset by the ball's
radius R. Over a sharp edge it rolls on an arc of radius R, and it never bends downward more
sharply than that: the normal curvature of the offset is at most 1 / R on its upper side.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from dryrun.fitting.spacing import Neighbours
from dryrun.fitting.strokes import Floats, Strokes

#: Bends that turn less than this in all are flat, rad per mm.
FLATTEST: Final = 1 / 60.0
FEWEST: Final = 5


@dataclass(frozen=True, slots=True)
class Rolling:
    """Radii at which the path bends over what stands up, mm, rising."""

    radii: Floats


def rolling_of(strokes: Strokes, near: Neighbours) -> Rolling | None:
    """Measure the radii of downward bends at the probes; None when there are too few."""
    piece = near.piece
    inner = (piece > 1) & (piece < len(strokes) - 2)
    piece, height, distance = piece[inner], near.height[inner], near.distance[inner]
    at = near.at[inner]
    chain = strokes.chain
    same = (chain[piece - 1] == chain[piece]) & (chain[piece + 1] == chain[piece])
    run, step = strokes.run, strokes.step
    straight = np.ones(len(piece), bool)
    for other in (piece - 1, piece + 1):
        dot = (step[other, :2] * step[piece, :2]).sum(axis=1)
        straight &= dot > 0.995 * run[other] * run[piece]
    ok = same & straight & (run[piece] > 1e-3)
    if ok.sum() < FEWEST:
        return None
    piece, height, distance, at = piece[ok], height[ok], distance[ok], at[ok]
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = step[:, 2] / run
        p = slope[piece]
        span = (run[piece - 1] + run[piece + 1]) / 2 + run[piece]
        bend = (slope[piece + 1] - slope[piece - 1]) / span
        cross = np.nanmax(np.abs(height - at[:, 2:]) / distance, axis=1, initial=0.0)
        radius = (1 + p * p) * np.sqrt(1 + p * p + cross * cross) / -bend
    sharp = (bend < -FLATTEST) & np.isfinite(radius) & (span < 1.2 * radius)
    return Rolling(np.sort(radius[sharp])) if sharp.sum() >= FEWEST else None
