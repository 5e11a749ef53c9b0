"""Balls along lines and level discs on blocks away from the blank's edge (see `ball`, `disc`)."""

# mypy: ignore-errors
# kernels: numba types them when they run

from __future__ import annotations

import math
from typing import Final

import numpy as np

from dryrun.jit import inlined_kernel, inner_kernel
from dryrun.removal import blocks
from dryrun.removal.ball import (
    cut_along,
)
from dryrun.removal.ball import cut_at_end as cut_at_end_with_ball
from dryrun.removal.block import (
    at_edge,
    cut_block,
    fill_block,
    keep_tallest,
    measure,
)
from dryrun.removal.blocks import (
    CELLS,
    HALF_BLOCK,
)
from dryrun.removal.commit import (
    BOTH,
    DEEP,
    LEFT,
    MIXED,
    NOISE,
    RIGHT,
    SIDE_STEPS,
    TALLEST,
    TALLEST_AT,
    VOLUME,
    WHOLE,
)
from dryrun.removal.disc import (
    AT_SIDE,
    COVERED,
    LEFT_ALONE,
    cover_means,
    cut_at_end,
    cut_at_side,
    cut_covered,
    what_happens,
)
from dryrun.removal.ground import (
    BASE,
    BLOCKS,
    CELL,
    ENTRY,
    FRAME,
    GOES_ON,
    HALF,
    JOINED,
    LENGTH,
    LOW_X,
    LOW_Y,
    MIDDLE_X,
    MIDDLE_Y,
    NX,
    OFFSET,
    PAGE_BLOCKS,
    PAGES_X,
    PIECE,
    RIM_DEPTH,
    ROW,
    THICK,
    TILE_PAGES,
    TOP,
    UX,
    UY,
    X,
    Y,
    Z,
)
from dryrun.removal.lend import (
    float32_rows,
    float64s,
    int32_rows,
    int32s,
    int64s,
    tally_rows,
)
from dryrun.removal.profile import RADIUS
from dryrun.removal.view import (
    piece_of,
    place_line,
    steps_below,
)

_F32: Final = np.float32


@inner_kernel
def cut_page_with_ball(lent, page, ball, arcs, exact):
    """Run a ball along a line over the blocks of a page (module `ball`)."""
    grid, levels, notes = int64s(lent.whole), int32s(lent.levels), int32s(lent.notes)
    work, cells, out = float32_rows(lent.work), int32s(lent.cells), int32_rows(lent.out)
    tallies, entry = tally_rows(lent.tallies), grid[ENTRY]
    py, px, first, local = page
    mixed, deepest = MIXED * grid[BLOCKS] + first, DEEP * grid[BLOCKS] + first
    limits = (
        np.int32(grid[BASE]), np.int32(grid[ROW] + 1), np.int32(grid[THICK]),
        np.int32(-1 if grid[GOES_ON] else 0),
    )  # fmt: skip
    u0, w0 = work[blocks.PLACE, blocks.PAGE_U], work[blocks.PLACE, blocks.PAGE_W]
    ux, uy = work[blocks.PLACE, blocks.UX], work[blocks.PLACE, blocks.UY]
    low, high = work[blocks.PLACE, blocks.FROM], work[blocks.PLACE, blocks.TO]
    half = HALF_BLOCK * work[blocks.TOOL, blocks.CELL] * (abs(ux) + abs(uy))
    far = high + half + _F32(float64s(lent.real)[OFFSET])
    for b in range(PAGE_BLOCKS):
        if notes[b] <= levels[first + b]:
            continue
        iy, ix = py * 32 + (b >> 2) * 8, px * 32 + (b & 3) * 8
        wall = grid[RIM_DEPTH] > levels[first + b] or levels[mixed + b] != 0
        if wall or notes[b] > grid[THICK] or at_edge(lent, iy, ix):
            cut_block(lent, (first + b, local + b, iy, ix), ball, arcs, exact)
            continue
        x, y = work[MIDDLE_X, b], work[MIDDLE_Y, b]
        u = u0 + ux * x + uy * y
        work[blocks.PLACE, blocks.U] = u
        work[blocks.PLACE, blocks.W] = w0 + ux * y - uy * x
        fill_block(lent, first + b)
        base = np.uint64((first + b) * BOTH)
        if low < u + half and u < far:
            volume, tallest, least, most = cut_along(cells, base, work, out, limits)
        else:
            end = low if u + half <= low else high
            volume, tallest, least, most = cut_at_end_with_ball(
                cells, base, work, out, limits, end
            )
        if volume == 0:
            continue
        levels[first + b] = least
        levels[deepest + b] = most
        tallies[entry, VOLUME] += volume
        if tallest > NOISE:
            measure(lent)
            keep_tallest(lent, iy * grid[NX] + ix, tallest)


@inner_kernel
def cut_tile_with_disc(lent, box, ball, arcs, exact):
    """Run a level disc along a line over those blocks of the tile that it may lower (module `disc`).

    `box` is the first and last row, and the first and last column of pages that it may reach.
    """
    real, grid, levels = float64s(lent.real), int64s(lent.whole), int32s(lent.levels)
    low_y, high_y, low_x, high_x = box
    side, depth, pages_x = 8.0 * real[FRAME + CELL], grid[BASE], grid[PAGES_X]
    from_y, from_x = real[PIECE + Y] - real[FRAME + LOW_Y], real[PIECE + X] - real[FRAME + LOW_X]
    ux, uy = real[PIECE + UX], real[PIECE + UY]
    for by in range(low_y, high_y + 1):
        dy = (by + 0.5) * side - from_y
        row = (by >> 2) * pages_x * PAGE_BLOCKS + (by & 3) * 4
        for bx in range(low_x, high_x + 1):
            block = row + (bx >> 2) * PAGE_BLOCKS + (bx & 3)
            if levels[block] >= depth:
                continue
            dx = (bx + 0.5) * side - from_x
            u, w = dx * ux + dy * uy, dy * ux - dx * uy
            what = what_happens(real, grid[JOINED], u, w)
            if what == LEFT_ALONE:
                continue
            if at_edge(lent, 8 * by, 8 * bx):
                _cut_edge(lent, (block, by, bx), ball, arcs, exact)
            else:
                _cut_block_with_disc(lent, (block, by, bx), (what, u, w))


@inner_kernel
def _cut_edge(lent, at, ball, arcs, exact):
    """Run a level disc over a block that lies partly beyond the blank, step by step."""
    block, by, bx = at
    real, cell = float64s(lent.real), float64s(lent.real)[FRAME + CELL]
    x = real[FRAME + LOW_X] + ((bx >> 2) + 0.5) * 32.0 * cell
    y = real[FRAME + LOW_Y] + ((by >> 2) + 0.5) * 32.0 * cell
    place_line(float32_rows(lent.work), piece_of(real), (x, y, real[FRAME + TOP]))
    int64s(lent.whole)[BASE] = steps_below(real[FRAME + TOP], real[PIECE + Z])
    place = block, _local(lent, by, bx), by * 8, bx * 8
    cut_block(lent, place, ball, arcs, exact)


@inlined_kernel
def _cut_block_with_disc(lent, at, seen):
    """Run a level disc along a line over a block; `what` it does to it is known."""
    real, grid, levels = float64s(lent.real), int64s(lent.whole), int32s(lent.levels)
    block, by, bx = at
    what, u, w = seen
    depth = np.int32(grid[BASE])
    mixed_at, deepest = MIXED * grid[BLOCKS] + block, DEEP * grid[BLOCKS] + block
    mixed = levels[mixed_at] != 0
    if what == COVERED and not mixed and _take_whole(lent, at, u, w):
        return
    fill_block(lent, block)
    means = np.uint64(_local(lent, by, bx) * CELLS)
    places = (np.uint64(block * BOTH), means)
    limits = (depth, np.int32(grid[ROW] + 1), np.int32(-1 if mixed else 0))
    length = real[PIECE + LENGTH]
    near = min(max(u, 0.0), length)
    span = -np.inf if length == 0.0 else -near, max(length, real[RADIUS]) - near
    view = (_F32(u - near), _F32(w), _F32(-near), _F32(length - near), _F32(span[0]), _F32(span[1]))
    if what == COVERED:
        volume, tallest, least, left, right = cut_covered(
            lent.cells, lent.work, places, view, limits
        )
        if mixed:
            volume, shallowest, parted = cover_means(lent.means, means, depth)
            least = min(least, shallowest)
            levels[mixed_at] = parted != 0
    else:
        if what == AT_SIDE:
            volume, tallest, least, left, right, parted = cut_at_side(
                lent.cells, lent.means, lent.work, places, view, limits
            )
        else:
            volume, tallest, least, left, right, parted = cut_at_end(
                lent.cells, lent.means, lent.work, places, view, limits
            )
        levels[mixed_at] = parted != 0
    levels[block] = least
    column = tallest >> 6
    if column > 0:
        levels[deepest] = max(levels[deepest], depth)
    tallies, entry = tally_rows(lent.tallies), grid[ENTRY]
    tallies[entry, VOLUME] += volume
    if left <= right:
        tallies[entry, LEFT] = min(tallies[entry, LEFT], np.int64(left))
        tallies[entry, RIGHT] = max(tallies[entry, RIGHT], np.int64(right))
    if column > NOISE:
        k = 63 - (tallest & 63)
        _keep_column(lent, column, (8 * by + (k >> 3)) * grid[NX] + 8 * bx + (k & 7))


@inlined_kernel
def _local(lent, by, bx):
    """Return the number in the tile of a block of the field."""
    grid = int64s(lent.whole)
    side = grid[TILE_PAGES]  # a power of two
    page = ((by >> 2) & (side - 1)) * side + ((bx >> 2) & (side - 1))
    return page * PAGE_BLOCKS + (by & 3) * 4 + (bx & 3)


@inlined_kernel
def _keep_column(lent, column, cell):
    """Keep the tallest column; of equal ones the cell with the lowest number."""
    tallies, entry = tally_rows(lent.tallies), int64s(lent.whole)[ENTRY]
    known, known_at = tallies[entry, TALLEST], tallies[entry, TALLEST_AT]
    if column > known or (column == known and cell < known_at):
        tallies[entry, TALLEST] = column
        tallies[entry, TALLEST_AT] = cell


@inlined_kernel
def _take_whole(lent, at, u, w):
    """Lower a block of one depth to another one: known without looking at its cells."""
    real, grid, levels = float64s(lent.real), int64s(lent.whole), int32s(lent.levels)
    block, by, bx = at
    deepest, depth = DEEP * grid[BLOCKS] + block, np.int32(grid[BASE])
    old, half, length = levels[block], real[HALF], real[PIECE + LENGTH]
    column = np.int32(depth - old)
    beside = length == 0.0 or (u - half >= 0.0 and u + half <= max(length, real[RADIUS]))
    if not (beside and old == levels[deepest] and column > NOISE):
        return False
    levels[block] = depth
    levels[deepest] = depth
    levels[WHOLE * grid[BLOCKS] + block] = grid[ROW] + 1
    tallies, entry = tally_rows(lent.tallies), grid[ENTRY]
    tallies[entry, VOLUME] += CELLS * np.int64(column)
    left, right = math.floor((w - half) * SIDE_STEPS), math.floor((w + half) * SIDE_STEPS)
    tallies[entry, LEFT] = min(tallies[entry, LEFT], np.int64(left))
    tallies[entry, RIGHT] = max(tallies[entry, RIGHT], np.int64(right))
    _keep_column(lent, column, 8 * by * grid[NX] + 8 * bx)
    return True
