"""A ridge between a cleared floor and the vee bit that follows it at its depth.

The floor ends where the clearing bit's last ring ran, and the vee bit's point runs along it. Where
a ring is missing, or the clearing bit was thinner than the one the ring was made for, a ridge is
left between the two: no wall, as its top is below the blank's.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import TOUCH, StageContext
from dryrun.checks.maps import along

#: The point runs at the depth of the floor within this, mm; what is lower is no ridge, ...
SAME: Final = 0.05
#: ... one stands so much above the floor, mm and as a part of its depth, and so much below the top.
TALL: Final = 0.3
TALL_PART: Final = 0.15
BELOW_TOP: Final = 0.15
#: Part of the vee bit's level path that has one beside it, and its length at least, mm.
MOST: Final = 0.5
PATH: Final = 20.0
#: Places of the path that are looked at, directions from each.
_PLACES: Final = 600
_AROUND: Final = 16


class Ridge(NamedTuple):
    """Where the path has a ridge beside it first, its height, and along how much path, mm."""

    row: int
    at: tuple[float, float, float]
    height: float
    length: float


def ridge_beside_floor(context: StageContext, clearing: StageContext) -> Ridge | None:
    """Return the ridge that a vee bit leaves between its path and a floor cleared before."""
    motion, final, before = context.motion, context.final, context.before
    if context.bit.shape != "vee" or final is None or before is None:
        return None
    level = np.abs(motion.end[:, 2] - motion.start[:, 2]) < TOUCH
    rows = np.flatnonzero(motion.cutting & level & (context.cut.axial > 0))
    length = float(np.nansum(motion.lengths()[rows]))
    if length < PATH:
        return None
    points, row = along(motion, rows, max(length / _PLACES, final.cell))
    reach = np.arange(final.cell, clearing.bit.diameter + final.cell, final.cell)
    tall = np.zeros(len(points))
    for turn in np.linspace(0.0, 2 * np.pi, _AROUND, endpoint=False):
        x = points[:, :1] + reach * np.cos(turn)
        y = points[:, 1:2] + reach * np.sin(turn)
        tall = np.fmax(tall, _between(context, points[:, 2], x, y))
    has = tall > 0
    if has.mean() < MOST:
        return None
    first = int(np.argmax(has))
    x, y, z = (float(v) for v in points[first])
    return Ridge(
        int(row[first]), (x, y, z), float(np.median(tall[has])), float(has.mean()) * length
    )


def _between(
    context: StageContext,
    floor: NDArray[np.float64],
    x: NDArray[np.float64],
    y: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return how tall a ridge stands between each point and a floor on its way; 0 none."""
    assert context.final is not None
    assert context.before is not None
    top = context.stock.top
    over = context.final.at(x, y) - floor[:, None]
    places = np.column_stack([x.ravel(), y.ravel()])
    was = context.before.at(places).reshape(x.shape) - floor[:, None]
    cleared = (np.abs(over) <= SAME) & (np.abs(was) <= SAME)
    reached = cleared.any(axis=1)
    before_it = np.arange(x.shape[1]) < np.argmax(cleared, axis=1)[:, None]
    tall = np.where(before_it, over, 0.0).max(axis=1, initial=0.0)
    deep = top - floor
    stands = (tall > np.maximum(TALL, TALL_PART * deep)) & (tall < deep - BELOW_TOP)
    return np.where(reached & stands, tall, 0.0)
