"""Taking material: the computed depths of a block are written to the field and counted.

The field only ever goes down. What one motion takes is counted in whole steps, so that the sums
are the same in whatever order blocks are worked on. Columns lowered by less than NOISE are
rounding (neighbouring motions compute the same place from different ends): they lower the field,
but are no fact about a motion.

Where a wall passes through a block, or its surface bends otherwise within a cell (`means.bends`), a
cell whose centre stands may be cut in part, and one whose centre is cut stands in part. There the
mean depth over the cell's area is kept as well (`taken`; how it is found: `strips`), so that the volume
of a slot does not depend on how it lies on the grid. It only ever grows to the largest that any
motion gives it, so the order of motions does not show in the volume. Where a motion goes on from the
one before, though, the round end between them is left to one of the two, and what both leave of a cell
there counts by the one that takes more.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from dryrun.jit import inner_kernel
from dryrun.removal.blocks import (
    BLEND,
    CELL,
    CELLS,
    CORNER,
    DX,
    DY,
    FROM,
    HALF_BLOCK,
    INSIDE,
    ONWARD,
    PLACE,
    RADIUS,
    RING,
    SLOPE_M,
    SPAN_FROM,
    SPAN_TO,
    STEEP,
    TO,
    TOOL,
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

#: Numbers of a block in the array of cells: the depths of its cells, then the signs of the rows
#: that cut them. They stand together, so that a loop over both knows that they do not overlap.
SIGNS: Final = CELLS
BOTH: Final = 2 * CELLS
#: Sections of the array of levels: a block's least depth, one that none of its cells is below, whether
#: its mean depths count, and the sign of the row that lowered it as a whole. Where mean depths count, the least
#: of them is looked at too: a cell whose centre is cut but that stands in part still has something
#: to lose, and must not be skipped. A block lowered as a whole has one depth and one sign, and
#: nothing is written to its cells until some motion cuts only part of it.
HIGH, DEEP, MIXED, WHOLE = range(4)
#: Where the shares of a block's 8 rows and 8 columns over the blank stand in the notes.
EDGE_SHARES: Final = 16

_OUTSIDE: Final = np.int32(2**30)
_SIDE: Final = np.float32(SIDE_STEPS)
_ZERO: Final = np.int32(0)
_NOISE: Final = np.int32(NOISE)
_FAR: Final = np.int32(NOWHERE)
_NOTHING: Final = np.float32(0.0)
_STEPS: Final = np.float32(2**20)
_HIGHEST: Final = np.float32(1000.0)
#: Allowance for the rounding of a bound, in steps.
SLACK: Final = np.int32(2100)
_LOW_HALF: Final = np.int32(65535)
_HALF_BITS: Final = np.int32(16)


@inner_kernel
def lowers(cells, base, out):
    """Whether any cell of the block would be lowered."""
    found = False
    for k in range(CELLS):
        found |= out[INSIDE, k] > cells[base + np.uint64(k)]
    return found


# Each loop below touches few arrays: the compiler must prove for each pair that they do not
# overlap, and gives up whole vectors where there are many.


@inner_kernel
def lower(cells, base, out, thick):
    """Lower the cells; out becomes how far each fell, and the column of the blank it lost.

    Returns the sum of the columns, the tallest one, and the least and the greatest depth.
    """
    low_half, high_half = _ZERO, _ZERO
    tallest = _ZERO
    least, most = _FAR, _ZERO
    for k in range(CELLS):
        i = base + np.uint64(k)
        old = cells[i]
        new = max(old, out[INSIDE, k])
        cells[i] = new
        column = np.int32(min(new, thick) - min(old, thick))
        out[INSIDE, k] = np.int32(new - old)
        out[UNDER, k] = column
        low_half = np.int32(low_half + (column & _LOW_HALF))
        high_half = np.int32(high_half + (column >> _HALF_BITS))
        tallest = max(tallest, column)
        least = min(least, new)
        most = max(most, new if new < _OUTSIDE else _ZERO)
    return _joined_halves(low_half, high_half), tallest, least, most


@inner_kernel
def _joined_halves(low, high):
    """Sum of 64 columns from the sums of their halves: 32-bit sums keep vectors whole."""
    return np.int64(high) * 65536 + np.int64(low)


@inner_kernel
def sign(cells, base, out, row):
    """Note the row in the cells that fell."""
    for k in range(CELLS):
        i = base + np.uint64(SIGNS + k)
        by, fell = cells[i], out[INSIDE, k]
        cells[i] = row if (fell > _NOISE) | ((fell > _ZERO) & (by == _ZERO)) else by


@inner_kernel
def sides(out, work):
    """How far to the left and right of the path columns were taken, beside the path."""
    u0, w0, ux, uy = work[PLACE, U], work[PLACE, W], work[PLACE, UX], work[PLACE, UY]
    span_from, span_to = work[PLACE, SPAN_FROM], work[PLACE, SPAN_TO]
    left, right = _FAR, np.int32(-_FAR)
    for k in range(CELLS):
        u = u0 + ux * work[DX, k] + uy * work[DY, k]
        side = np.int32((w0 + ux * work[DY, k] - uy * work[DX, k]) * _SIDE)
        felt = (out[UNDER, k] > _NOISE) & (u >= span_from) & (u <= span_to)
        left = min(left, side if felt else _FAR)
        right = max(right, side if felt else np.int32(-_FAR))
    return left, right


@inner_kernel
def axial_depths(cells, base, out, thick):
    """Turn the columns in out[UNDER] into axial depths, and return the largest.

    That is the column, or what it will have become where the path goes straight on (out[ONWARD]).
    """
    largest = _ZERO
    for k in range(CELLS):
        column = out[UNDER, k]
        old = np.int32(min(cells[base + np.uint64(k)], thick) - column)
        onward = np.int32(min(out[ONWARD, k], thick) - old)
        depth = max(column, onward) if column > _NOISE else _ZERO
        out[UNDER, k] = depth
        largest = max(largest, depth)
    return largest


@inner_kernel
def axial_depths_along(cells, base, out, work, limits):
    """Turn columns into axial depths as above, for a line; `limits` is (base depth, thick).

    The path goes straight on from the place of it that is nearest to a cell, at the height there.
    """
    deepest, thick = limits
    radius, ring, corner = work[TOOL, RADIUS], work[TOOL, RING], work[TOOL, CORNER]
    blend, steep, rise = work[TOOL, BLEND], work[TOOL, STEEP], work[PLACE, SLOPE_M]
    u0, w0, low, high = work[PLACE, U], work[PLACE, W], work[PLACE, FROM], work[PLACE, TO]
    ux, uy = work[PLACE, UX], work[PLACE, UY]
    square, most = corner * corner, blend - ring
    largest = _ZERO
    for k in range(CELLS):
        u = u0 + ux * work[DX, k] + uy * work[DY, k]
        r = min(abs(w0 + ux * work[DY, k] - uy * work[DX, k]), radius)
        t = min(max(r - ring, _NOTHING), most)
        z = rise * min(max(u, low), high) + corner - np.sqrt(max(square - t * t, _NOTHING))
        z += steep * max(r - blend, _NOTHING)
        column = out[UNDER, k]
        old = np.int32(min(cells[base + np.uint64(k)], thick) - column)
        onward = np.int32(deepest - np.int32(min(z, _HIGHEST) * _STEPS))
        depth = max(column, np.int32(min(onward, thick) - old)) if column > _NOISE else _ZERO
        out[UNDER, k] = depth
        largest = max(largest, depth)
    return largest


@inner_kernel
def may_be_deeper(work, tip, depth):
    """Whether a convex profile going straight on may come as deep as `depth` in a block.

    `tip` is the greatest depth of its tip, both in steps.
    """
    half = HALF_BLOCK * work[TOOL, CELL] * (abs(work[PLACE, UX]) + abs(work[PLACE, UY]))
    ring, corner, blend = work[TOOL, RING], work[TOOL, CORNER], work[TOOL, BLEND]
    r = min(max(abs(work[PLACE, W]) - half, _NOTHING), work[TOOL, RADIUS])
    t = min(max(r - ring, _NOTHING), blend - ring)
    low = corner - np.sqrt(max(corner * corner - t * t, _NOTHING))
    low += work[TOOL, STEEP] * max(r - blend, _NOTHING)
    return np.int32(tip - np.int32(low * _STEPS) + SLACK) >= depth


@inner_kernel
def place_of(out, tallest):
    """First cell of the block with this number in out[UNDER]."""
    place = np.int32(CELLS)
    for i in range(CELLS):
        place = min(place, np.int32(i) if out[UNDER, i] == tallest else np.int32(CELLS))
    return place


@inner_kernel
def begin_means(cells, depths, taken, means, thick):
    """Until a wall comes the mean depth of a cell is its depth."""
    for k in range(CELLS):
        taken[means + np.uint64(k)] = min(cells[depths + np.uint64(k)], thick)


@inner_kernel
def centre_means(out, thick):
    """Take the depth of each cell's centre for its mean depth, where the surface does not bend."""
    for k in range(CELLS):
        out[UNDER, k] = max(min(out[INSIDE, k], thick), _ZERO)


@inner_kernel
def cover(cells, taken, at, out):
    """Raise the mean depths of the cells to out[UNDER], which becomes by how much. Returns the sum."""
    depths, means = at
    low_half, high_half = _ZERO, _ZERO
    for k in range(CELLS):
        mean = taken[means + np.uint64(k)]
        outside = cells[depths + np.uint64(k)] >= _OUTSIDE
        after = mean if outside else max(mean, out[UNDER, k])
        taken[means + np.uint64(k)] = after
        more = np.int32(after - mean)
        out[UNDER, k] = more
        low_half = np.int32(low_half + (more & _LOW_HALF))
        high_half = np.int32(high_half + (more >> _HALF_BITS))
    return _joined_halves(low_half, high_half)


@inner_kernel
def still_mixed(cells, depths, taken, means, thick):
    """Whether some mean depth differs from the depth; and the least mean depth."""
    differs, least = _ZERO, _FAR
    for k in range(CELLS):
        mean = taken[means + np.uint64(k)]
        differs = np.int32(differs | (mean ^ min(cells[depths + np.uint64(k)], thick)))
        least = min(least, mean)
    return differs != _ZERO, least


@inner_kernel
def weighed(out, notes):
    """Volume of a block by the area of each cell over the blank."""
    volume = 0
    for k in range(CELLS):
        row, column = notes[EDGE_SHARES + (k >> 3)], notes[EDGE_SHARES + 8 + (k & 7)]
        share = (np.int64(row) * np.int64(column)) >> 16
        volume += (np.int64(out[UNDER, k]) * share) >> 16
    return volume


@inner_kernel
def touch(cells, base, out, thick):
    """How far a disc that does not cut stands in the material of each cell; the most of it."""
    tallest = _ZERO
    for k in range(CELLS):
        old = cells[base + np.uint64(k)]
        column = np.int32(min(out[INSIDE, k], thick) - min(old, thick))
        out[UNDER, k] = column
        tallest = max(tallest, column)
    return tallest
