"""Where a bit that cuts under material meets any: not where it has been at a feed before.

No map of heights shows what stands over the head of a keyhole or T bit. But where the bit has been,
nothing is left of what it would touch: up through the hole it went down by, along a slot and back.
And where no part of it comes below what earlier stages left, it touches nothing.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import TOUCH, StageContext
from dryrun.checks.maps import along
from dryrun.checks.travel import row_boxes
from dryrun.motion import RAPID

#: Points are looked at so far apart along a move, and along the path before them, mm; ...
STEP: Final = 0.5
FINE: Final = 0.1
#: ... and the bit has been where its path comes so near, mm.
BEEN: Final = 0.06

Points = NDArray[np.float64]


def met_by_rapids(context: StageContext) -> NDArray[np.float64]:
    """Return how much material each rapid meets at most, mm; for other rows as the facts say."""
    if context.reach is None:
        return context.cut.axial
    met = context.cut.axial.copy()
    met[~_meets(context, context.motion.kind == RAPID) & (context.motion.kind == RAPID)] = 0.0
    return met


def entries(context: StageContext) -> NDArray[np.float64]:
    """Return the angle at which each row goes down into material, rad; NaN where it does not.

    Of a bit that cuts under material only the ways straight down are known.
    """
    if context.reach is None:
        return context.cut.entry
    motion = context.motion
    step = motion.end - motion.start
    down = motion.cutting & (np.hypot(step[:, 0], step[:, 1]) < 1e-6) & (step[:, 2] < 0)
    return np.where(_meets(context, down), np.pi / 2, np.nan)


def _meets(context: StageContext, rows: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Tell which of some rows may meet material."""
    motion, top = context.motion, context.stock.top
    meets = rows & (context.cut.axial > TOUCH)
    boxes = row_boxes(motion)
    for row in np.flatnonzero(meets):
        points, _ = along(motion, np.array([row]), STEP)
        points = points[points[:, 2] < top - TOUCH]
        points = points[~_above_what_stands(context, points)]
        meets[row] = len(points) > 0 and not _has_been(context, int(row), points, boxes)
    return meets


def _has_been(context: StageContext, row: int, points: Points, boxes: Points) -> bool:
    """Tell whether the feed moves before a row pass all of some points; `boxes` of all rows."""
    motion = context.motion
    low, high = points.min(axis=0) - FINE, points.max(axis=0) + FINE
    close = (boxes[:row, :3] <= high).all(axis=1) & (boxes[:row, 3:] >= low).all(axis=1)
    path, _ = along(motion, np.flatnonzero(motion.cutting[:row] & close), FINE)
    path = path[((path >= low) & (path <= high)).all(axis=1)]
    if not len(path):
        return False
    far = [float(np.linalg.norm(path - p, axis=1).min()) for p in points]
    return max(far) <= BEEN


def _above_what_stands(context: StageContext, points: Points) -> NDArray[np.bool_]:
    """Tell where even the widest disc of the bit lies above all that earlier stages have left."""
    free = np.zeros(len(points), np.bool_)
    before = context.before
    if before is None:
        return free
    radius = context.bit.radius / before.cell
    reach = math.ceil(radius)
    near = np.arange(-reach, reach + 1)
    disc = np.hypot(near[:, None], near) <= radius + 0.5  # a wall stands between two points
    rows, columns = np.nonzero(disc)
    ny, nx = before.shape
    iy, ix, inside = before.index(points)
    for k in np.flatnonzero(inside):
        y, x = iy[k] + rows - reach, ix[k] + columns - reach
        on = (y >= 0) & (y < ny) & (x >= 0) & (x < nx)
        free[k] = not (before.height[y[on], x[on]] > points[k, 2] + TOUCH).any()
    return free
