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

#: Sections of the array of cells.
DEPTH, TAKEN, CUT = range(3)
#: Numbers of a block: least and greatest depth, and whether TAKEN counts in it.
HIGH, DEEP, MIXED = range(3)
LEVELS: Final = 3
#: Where the shares of a block's 8 rows and 8 columns over the blank stand in the notes.
EDGE_SHARES: Final = 16

_OUTSIDE: Final = np.int32(2**30)
_SIDE: Final = np.float32(SIDE_STEPS)
_ZERO: Final = np.int32(0)
_NOISE: Final = np.int32(NOISE)
_FAR: Final = np.int32(NOWHERE)
_ONE: Final = np.float32(1.0)


@kernel
def lowers(cells, base, out):
    """Whether any cell of the block would be lowered."""
    found = False
    for k in range(CELLS):
        found |= out[INSIDE, k] > cells[base + np.uint64(k)]
    return found


@kernel
def take_plain(cells, at, out, work, mark, tallies):
    """Lower a block without walls.

    `at` holds the places of its depths and of its rows in `cells`; `mark` is (1 + row, thickness,
    number of the first cell, cells along X, entry of the tallies).
    Returns the least and the greatest depth in the block.
    """
    volume, tallest, least, most = _lower(cells, at[0], out, np.int32(mark[1]))
    tallies[mark[4], VOLUME] += volume
    _sign(cells, at[1], out, np.int32(mark[0]))
    if tallest > NOISE:
        _measure(out, work, mark[4], tallies)
        _tallest_of(out, mark, tallest, tallies)
    return least, most


# Each loop below touches few arrays: the compiler must prove for each pair that they do not
# overlap, and gives up whole vectors where there are many.


@kernel
def _lower(cells, base, out, thick):
    """Lower the cells; out becomes how far each fell, and the column of the blank it lost."""
    volume = 0
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
        volume += column
        tallest = max(tallest, column)
        least = min(least, new)
        most = max(most, new if new < _OUTSIDE else _ZERO)
    return volume, tallest, least, most


@kernel
def _sign(cells, base, out, row):
    """Note the row in the cells that fell."""
    for k in range(CELLS):
        i = base + np.uint64(k)
        by, fell = cells[i], out[INSIDE, k]
        cells[i] = row if (fell > _NOISE) | ((fell > _ZERO) & (by == _ZERO)) else by


@kernel
def _measure(out, work, entry, tallies):
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
    tallies[entry, LEFT] = min(tallies[entry, LEFT], left)
    tallies[entry, RIGHT] = max(tallies[entry, RIGHT], right)


@kernel
def _tallest_of(out, mark, tallest, tallies):
    """Keep the tallest column, of equal ones the cell with the lowest number."""
    first, entry = mark[2], mark[4]
    known, known_at = tallies[entry, TALLEST], tallies[entry, TALLEST_AT]
    if tallest < known or (tallest == known and first >= known_at):
        return
    k = 0
    while out[UNDER, k] != tallest:
        k += 1
    at = first + (k >> 3) * mark[3] + (k & 7)
    if tallest > known or at < known_at:
        tallies[entry, TALLEST_AT] = at
    tallies[entry, TALLEST] = tallest


@kernel
def take_mixed(cells, at, out, work, mark, notes, tallies):
    """Lower a block through which a wall passes, or did before, or at the blank's edge.

    `at` holds the places of its depths, rows and mean depths; `mark` as above, then whether the
    mean depths count already, whether SHARE does, and whether the block is at the edge: then
    the `notes` hold the shares of its rows and columns over the blank.
    Returns the least and greatest depth, and whether mean depths still differ from depths.
    """
    thick = np.int32(mark[1])
    if mark[5] == 0:
        for k in range(CELLS):
            cells[at[2] + np.uint64(k)] = min(cells[at[0] + np.uint64(k)], thick)
    if mark[6] == 0:
        for k in range(CELLS):
            work[SHARE, k] = _ONE
        for k in range(CELLS):
            out[UNDER, k] = out[INSIDE, k]
    volume = _cover(cells, at, out, work, thick)
    if mark[7] != 0:
        volume = _weighed(out, notes)
    tallies[mark[4], VOLUME] += volume
    _, tallest, least, most = _lower(cells, at[0], out, thick)
    _sign(cells, at[1], out, np.int32(mark[0]))
    if tallest > NOISE:
        _measure(out, work, mark[4], tallies)
        _tallest_of(out, mark, tallest, tallies)
    differs = _ZERO
    for k in range(CELLS):
        differs |= np.int32(cells[at[2] + np.uint64(k)] ^ min(cells[at[0] + np.uint64(k)], thick))
    return least, most, differs != _ZERO


@kernel
def _cover(cells, at, out, work, thick):
    """Raise the mean depth of the cells; out[UNDER] becomes by how much."""
    depths, means = at[0], at[2]
    for k in range(CELLS):
        under = max(min(out[UNDER, k], thick), _ZERO)
        share = work[SHARE, k]
        out[UNDER, k] = np.int32(np.float32(under) * share) if share < _ONE else under
    volume = 0
    for k in range(CELLS):
        mean = cells[means + np.uint64(k)]
        outside = cells[depths + np.uint64(k)] >= _OUTSIDE
        after = mean if outside else max(mean, out[UNDER, k])
        cells[means + np.uint64(k)] = after
        out[UNDER, k] = np.int32(after - mean)
        volume += np.int32(after - mean)
    return volume


@kernel
def _weighed(out, notes):
    """Volume of a block by the area of each cell over the blank."""
    volume = 0
    for k in range(CELLS):
        row, column = notes[EDGE_SHARES + (k >> 3)], notes[EDGE_SHARES + 8 + (k & 7)]
        share = (np.int64(row) * np.int64(column)) >> 16
        volume += (np.int64(out[UNDER, k]) * share) >> 16
    return volume


@kernel
def touch(cells, base, out, mark, tallies):
    """How far a disc that does not cut stands in material; counts into TALLEST and its place."""
    thick = np.int32(mark[1])
    tallest = _ZERO
    for k in range(CELLS):
        old = cells[base + np.uint64(k)]
        column = np.int32(min(out[INSIDE, k], thick) - min(old, thick))
        out[UNDER, k] = column
        tallest = max(tallest, column)
    if tallest > NOISE:
        _tallest_of(out, mark, tallest, tallies)
