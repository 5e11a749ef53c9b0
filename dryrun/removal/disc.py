"""The level flat bit's own way through a block: cutting and counting in one loop.

Pockets are cleared with flat bits on the level. Depths are then one number, and what is left to
find is which cells are covered and, along walls, how much of each. As with the ball (`ball`), what
`drive` does in steps for other shapes is one loop here, for blocks away from the blank's edge and
depths within it.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from dryrun.jit import kernel
from dryrun.removal.blocks import (
    CELL,
    CELLS,
    DX,
    DY,
    FROM,
    PLACE,
    RADIUS,
    TO,
    TOOL,
    UNDER,
    UX,
    UY,
    U,
    W,
)
from dryrun.removal.commit import NOISE, NOWHERE

#: Mean of |cos| + |sin| over all directions: width of a cell across a round end.
_ROUND: Final = np.float32(1.2732395)
_ZERO: Final = np.float32(0.0)
_HALF: Final = np.float32(0.5)
_ONE: Final = np.float32(1.0)
_ON_RIM: Final = np.float32(1e-6)
_NONE: Final = np.int32(0)
_NOISE: Final = np.int32(NOISE)
_NOWHERE: Final = np.int32(NOWHERE)


@kernel
def cover_whole(cells, means, depth):
    """Raise the mean depths of a block that a level disc covers wholly; returns the sum."""
    volume, parted = _NONE, _NONE
    for k in range(CELLS):
        i = means + np.uint64(k)
        mean = cells[i]
        after = max(mean, depth)
        cells[i] = after
        volume = np.int32(volume + np.int32(after - mean))
        parted |= np.int32(after ^ depth)
    return volume, parted


@kernel
def cut_level(cells, base, signs, work, out, limits):
    """Cut a block with a level disc; `limits` is (depth, 1 + row), int32.

    Returns the sum of the columns taken (modulo 2^32), the tallest, and the least and greatest
    depth; the columns stand in out[UNDER].
    """
    depth, row = limits
    radius = work[TOOL, RADIUS]
    limit = radius * radius + (radius + radius) * _ON_RIM
    u0, w0, low, high = work[PLACE, U], work[PLACE, W], work[PLACE, FROM], work[PLACE, TO]
    ux, uy = work[PLACE, UX], work[PLACE, UY]
    volume, tallest, least, most = _NONE, _NONE, _NOWHERE, _NONE
    for k in range(CELLS):
        u = u0 + ux * work[DX, k] + uy * work[DY, k]
        w = w0 + ux * work[DY, k] - uy * work[DX, k]
        over = max(u - high, _ZERO) + min(u - low, _ZERO)
        i, j = base + np.uint64(k), signs + np.uint64(k)
        old, by = cells[i], cells[j]
        new = max(old, depth) if w * w + over * over <= limit else old
        fell = np.int32(new - old)
        cells[i] = new
        cells[j] = row if (fell > _NOISE) | ((fell > _NONE) & (by == _NONE)) else by
        out[UNDER, k] = fell
        volume = np.int32(volume + fell)
        tallest = max(tallest, fell)
        least, most = min(least, new), max(most, new)
    return volume, tallest, least, most


@kernel
def cut_level_at_wall(cells, places, work, out, limits):
    """Cut a block through which the wall of a level disc passes.

    `places` are those of the block's depths, rows and mean depths. Returns the rise of the mean
    depths (modulo 2^32), the tallest column, the least and greatest depth, and bits that are all
    0 when every mean depth is the disc's.
    """
    base, signs, means = places
    depth, row = limits
    radius, cell = work[TOOL, RADIUS], work[TOOL, CELL]
    limit = radius * radius + (radius + radius) * _ON_RIM
    u0, w0, low, high = work[PLACE, U], work[PLACE, W], work[PLACE, FROM], work[PLACE, TO]
    ux, uy = work[PLACE, UX], work[PLACE, UY]
    beside, around = _ONE / (cell * (abs(ux) + abs(uy))), _ONE / (cell * _ROUND)
    from_rim, from_end = _HALF + radius * beside, _HALF + radius * around
    whole = np.float32(depth)
    rise, tallest, least, most, parted = _NONE, _NONE, _NOWHERE, _NONE, _NONE
    for k in range(CELLS):
        u = u0 + ux * work[DX, k] + uy * work[DY, k]
        w = w0 + ux * work[DY, k] - uy * work[DX, k]
        over = max(u - high, _ZERO) + min(u - low, _ZERO)
        square = w * w + over * over
        away = np.sqrt(square)
        share = from_rim - away * beside if over == _ZERO else from_end - away * around
        covered = np.int32(whole * max(share, _ZERO)) if share < _ONE else depth
        i, j, n = base + np.uint64(k), signs + np.uint64(k), means + np.uint64(k)
        old, by, mean = cells[i], cells[j], cells[n]
        new = max(old, depth) if square <= limit else old
        after = max(mean, covered)
        fell = np.int32(new - old)
        cells[i] = new
        cells[j] = row if (fell > _NOISE) | ((fell > _NONE) & (by == _NONE)) else by
        cells[n] = after
        out[UNDER, k] = fell
        rise = np.int32(rise + np.int32(after - mean))
        tallest = max(tallest, fell)
        least, most = min(least, new), max(most, new)
        parted |= np.int32(after ^ depth)
    return rise, tallest, least, most, parted
