"""Taking material: the computed depths of a block are written to the field and counted.

The field only ever goes down. What one motion takes is counted in whole steps, so that the sums
are the same in whatever order blocks are worked on. Columns lowered by less than NOISE are
rounding (neighbouring motions compute the same place from different ends): they lower the field,
but are no fact about a motion.

Where an upright wall passes through a block, a cell whose centre stands is cut in part, and one
whose centre is cut stands in part. There the mean depth over the cell's area is kept as well
(`taken`), so that the volume of a slot does not depend on how its walls lie on the grid.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from dryrun.jit import kernel
from dryrun.removal.blocks import (
    CELLS,
    DX,
    DY,
    INSIDE,
    PLACE,
    SHARE,
    SPAN_FROM,
    SPAN_TO,
    UNDER,
    UX,
    UY,
    U,
    W,
)

#: Steps; about 0.5 µm.
NOISE: Final = 512

#: Columns of a tally: what one motion did in one tile.
VOLUME, TALLEST, TALLEST_AT, LEFT, RIGHT = range(5)
TALLY: Final = 5
#: Steps of width in a millimetre (LEFT and RIGHT).
SIDE_STEPS: Final = 2**11
NOWHERE: Final = 2**31 - 1

_OUTSIDE: Final = 2**30
_SIDE: Final = np.float32(SIDE_STEPS)
_ZERO: Final = np.int32(0)
_NOISE: Final = np.int32(NOISE)
_FAR: Final = np.int32(NOWHERE)
_ONE: Final = np.float32(1.0)


@kernel
def lowers(depth, base, out):
    """Whether any cell of the block would be lowered."""
    found = False
    for k in range(CELLS):
        found |= out[INSIDE, k] > depth[base + np.uint64(k)]
    return found


@kernel
def take_plain(depth, cut, base, out, work, mark, tally):
    """Lower a block without walls. `mark` is (1 + row, thickness, first cell's number, nx).

    Returns the least and the greatest depth in the block.
    """
    row, thick = np.int32(mark[0]), np.int32(mark[1])
    u0, w0, ux, uy = work[PLACE, U], work[PLACE, W], work[PLACE, UX], work[PLACE, UY]
    span_from, span_to = work[PLACE, SPAN_FROM], work[PLACE, SPAN_TO]
    volume = 0
    tallest = _ZERO
    left, right = _FAR, np.int32(-_FAR)
    least, most = _FAR, _ZERO
    for k in range(CELLS):
        i = base + np.uint64(k)
        old = depth[i]
        new = max(old, out[INSIDE, k])
        depth[i] = new
        column = np.int32(min(new, thick) - min(old, thick))
        volume += column
        tallest = max(tallest, column)
        by = cut[i]
        cut[i] = row if (np.int32(new - old) > _NOISE) | ((new > old) & (by == _ZERO)) else by
        side = np.int32((w0 + ux * work[DY, k] - uy * work[DX, k]) * _SIDE)
        u = u0 + ux * work[DX, k] + uy * work[DY, k]
        felt = (column > _NOISE) & (u >= span_from) & (u <= span_to)
        left = min(left, side if felt else _FAR)
        right = max(right, side if felt else np.int32(-_FAR))
        least = min(least, new)
        most = max(most, new)
        out[UNDER, k] = column
    _count(out, mark, tally, (volume, tallest, left, right))
    return least, most


@kernel
def take_mixed(field_rows, base, out, work, mark, tally):
    """Lower a block through which a wall passes, or did before.

    `field_rows` is (depth, taken, cut); `mark` as above, then whether `taken` counts already and
    whether SHARE does, and shares of the cells over the blank for an edge of it.
    Returns the least and greatest depth, and whether `taken` still differs from the depth.
    """
    depth, taken, cut = field_rows
    row, thick = np.int32(mark[0]), np.int32(mark[1])
    was_mixed, at_wall = mark[4] != 0, mark[5] != 0
    u0, w0, ux, uy = work[PLACE, U], work[PLACE, W], work[PLACE, UX], work[PLACE, UY]
    span_from, span_to = work[PLACE, SPAN_FROM], work[PLACE, SPAN_TO]
    volume = 0
    tallest = _ZERO
    left, right = _FAR, np.int32(-_FAR)
    least, most = _FAR, _ZERO
    mixed = False
    for k in range(CELLS):
        i = base + np.uint64(k)
        old = depth[i]
        new = max(old, out[INSIDE, k])
        depth[i] = new
        before, now = min(old, thick), min(new, thick)
        column = np.int32(now - before)
        under = max(min(out[UNDER if at_wall else INSIDE, k], thick), _ZERO)
        share = work[SHARE, k] if at_wall else _ONE
        covered = np.int32(np.float32(under) * share) if share < _ONE else under
        mean = taken[i] if was_mixed else before
        after = max(mean, thick if old >= _OUTSIDE else covered)
        taken[i] = after
        mixed |= after != now
        out[INSIDE, k] = np.int32(after - mean)
        volume += np.int32(after - mean)
        tallest = max(tallest, column)
        by = cut[i]
        cut[i] = row if (np.int32(new - old) > _NOISE) | ((new > old) & (by == _ZERO)) else by
        side = np.int32((w0 + ux * work[DY, k] - uy * work[DX, k]) * _SIDE)
        u = u0 + ux * work[DX, k] + uy * work[DY, k]
        felt = (column > _NOISE) & (u >= span_from) & (u <= span_to)
        left = min(left, side if felt else _FAR)
        right = max(right, side if felt else np.int32(-_FAR))
        least = min(least, new)
        most = max(most, new if new < np.int32(_OUTSIDE) else _ZERO)
        out[UNDER, k] = column
    _count(out, mark, tally, (volume, tallest, left, right))
    return least, most, mixed


@kernel
def _count(out, mark, tally, found):
    """Add what a block gave to the tally of its motion; the columns stand in out[UNDER]."""
    volume, tallest, left, right = found
    tally[VOLUME] += volume
    tally[LEFT] = min(tally[LEFT], left)
    tally[RIGHT] = max(tally[RIGHT], right)
    if tallest > NOISE and tallest >= tally[TALLEST]:
        first = mark[2]
        if tallest > tally[TALLEST] or first < tally[TALLEST_AT]:
            k = 0
            while out[UNDER, k] != tallest:
                k += 1
            at = first + (k >> 3) * mark[3] + (k & 7)
            if tallest > tally[TALLEST] or at < tally[TALLEST_AT]:
                tally[TALLEST_AT] = at
            tally[TALLEST] = tallest


@kernel
def weigh_edge(out, before, shares, tally):
    """Count again the volume of a block at the blank's edge, by the area over the blank."""
    tally[VOLUME] = before
    volume = 0
    for k in range(CELLS):
        share = (np.int64(shares[0, k >> 3]) * np.int64(shares[1, k & 7])) >> 16
        volume += (np.int64(out[INSIDE, k]) * share) >> 16
    tally[VOLUME] += volume


@kernel
def touch(depth, base, out, mark, tally):
    """How far a disc that does not cut stands in material; counts into TALLEST and its place."""
    thick = np.int32(mark[1])
    tallest = _ZERO
    for k in range(CELLS):
        old = depth[base + np.uint64(k)]
        column = np.int32(min(out[INSIDE, k], thick) - min(old, thick))
        out[UNDER, k] = column
        tallest = max(tallest, column)
    _count(out, mark, tally, (0, tallest, NOWHERE, -NOWHERE))
