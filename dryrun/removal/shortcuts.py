"""Balls along lines and level discs on blocks away from the blank's edge (see `ball`, `disc`)."""

# mypy: ignore-errors
# kernels: numba types them when they run

from __future__ import annotations

from typing import Final

import numpy as np

from dryrun.jit import kernel
from dryrun.removal import blocks
from dryrun.removal.ball import (
    cut_along,
)
from dryrun.removal.ball import cut_at_end as cut_at_end_with_ball
from dryrun.removal.block import (
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
    CUT,
    DEEP,
    LEFT,
    MIXED,
    NOISE,
    RIGHT,
    SIDE_STEPS,
    TAKEN,
    TALLEST,
    TALLEST_AT,
    VOLUME,
)
from dryrun.removal.disc import (
    AT_SIDE,
    COVERED,
    LEFT_ALONE,
    cover_means,
    cut_at_end,
    cut_at_side,
    cut_covered,
    sort_blocks,
)
from dryrun.removal.ground import (
    BASE,
    BLOCKS,
    ENTRY,
    GOES_ON,
    JOINED,
    LAZY,
    MIDDLE_X,
    MIDDLE_Y,
    NX,
    OFFSET,
    PAGE_BLOCKS,
    RIM_DEPTH,
    ROW,
    SECTION,
    THICK,
)
from dryrun.removal.lend import (
    float32_rows,
    float64s,
    int32_rows,
    int32s,
    int64s,
    tally_rows,
)
from dryrun.removal.view import (
    open_part,
    piece_of,
    place_block,
    place_line,
)

_F32: Final = np.float32
_ZERO: Final = np.float32(0.0)


@kernel
def cut_page_with_ball(lent, page):
    """Run a ball along a line over the blocks of a page (module `ball`)."""
    grid, levels, notes = int64s(lent.whole), int32s(lent.levels), int32s(lent.notes)
    work, cells, out = float32_rows(lent.work), int32s(lent.cells), int32_rows(lent.out)
    tallies, entry = tally_rows(lent.tallies), grid[ENTRY]
    py, px, first, local = page
    mixed, deepest = MIXED * grid[BLOCKS] + first, DEEP * grid[BLOCKS] + first
    signs = CUT * grid[SECTION]
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
        if wall or notes[b] > grid[THICK]:
            cut_block(lent, (first + b, LAZY + local + b, iy, ix))
            continue
        x, y = work[MIDDLE_X, b], work[MIDDLE_Y, b]
        u = u0 + ux * x + uy * y
        work[blocks.PLACE, blocks.U] = u
        work[blocks.PLACE, blocks.W] = w0 + ux * y - uy * x
        base = (first + b) * CELLS
        if low < u + half and u < far:
            volume, tallest, least, most = cut_along(
                cells, np.uint64(base), np.uint64(signs + base), work, out, limits
            )
        else:
            end = low if u + half <= low else high
            volume, tallest, least, most = cut_at_end_with_ball(
                cells, np.uint64(base), np.uint64(signs + base), work, out, limits, end
            )
        if volume == 0:
            continue
        levels[first + b] = least
        levels[deepest + b] = most
        tallies[entry, VOLUME] += volume
        if tallest > NOISE:
            measure(lent)
            keep_tallest(lent, iy * grid[NX] + ix, tallest)


@kernel
def cut_page_with_disc(lent, page, middle):
    """Run a level disc along a line over the blocks of a page (module `disc`)."""
    real, grid, levels = float64s(lent.real), int64s(lent.whole), int32s(lent.levels)
    work, notes = float32_rows(lent.work), int32s(lent.notes)
    py, px, first, local = page
    depth = place_line(work, piece_of(real), middle)
    open_between = open_part(work, grid[JOINED], _ZERO)
    if not sort_blocks(work, notes, levels, np.uint64(first), depth, open_between):
        return
    for b in range(PAGE_BLOCKS):
        if notes[b] != LEFT_ALONE:
            place_block(work, b)
            at = (first + b, LAZY + local + b, py * 32 + (b >> 2) * 8, px * 32 + (b & 3) * 8)
            _cut_block_with_disc(lent, at, notes[b])


@kernel
def _cut_block_with_disc(lent, at, what):
    """Run a level disc along a line over a block; `what` it does to it is known."""
    grid, levels, work = int64s(lent.whole), int32s(lent.levels), float32_rows(lent.work)
    block, depth = at[0], np.int32(grid[BASE])
    mixed_at, deepest = MIXED * grid[BLOCKS] + block, DEEP * grid[BLOCKS] + block
    mixed = levels[mixed_at] != 0
    if what == COVERED and not mixed and _take_whole(lent, at, depth):
        return
    if int32s(lent.notes)[at[1]]:
        fill_block(lent, block)
        int32s(lent.notes)[at[1]] = 0
    base = np.uint64(block * CELLS)
    means = np.uint64(TAKEN * grid[SECTION]) + base
    places = (base, np.uint64(CUT * grid[SECTION]) + base, means)
    limits = (depth, np.int32(grid[ROW] + 1), np.int32(-1 if mixed else 0))
    middle = work[blocks.PLACE, blocks.U], work[blocks.PLACE, blocks.W]
    if what == COVERED:
        volume, tallest, least, left, right = cut_covered(
            lent.cells, lent.work, places, middle, limits
        )
        if mixed:
            volume, shallowest, parted = cover_means(lent.cells, means, depth)
            least = min(least, shallowest)
            levels[mixed_at] = parted != 0
    else:
        if what == AT_SIDE:
            volume, tallest, least, left, right, parted = cut_at_side(
                lent.cells, lent.work, places, middle, limits
            )
        else:
            volume, tallest, least, left, right, parted = cut_at_end(
                lent.cells, lent.work, places, middle, limits
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
        _keep_column(lent, column, (at[2] + (k >> 3)) * grid[NX] + at[3] + (k & 7))


@kernel
def _keep_column(lent, column, cell):
    """Keep the tallest column; of equal ones the cell with the lowest number."""
    tallies, entry = tally_rows(lent.tallies), int64s(lent.whole)[ENTRY]
    known, known_at = tallies[entry, TALLEST], tallies[entry, TALLEST_AT]
    if column > known or (column == known and cell < known_at):
        tallies[entry, TALLEST] = column
        tallies[entry, TALLEST_AT] = cell


@kernel
def _take_whole(lent, at, depth):
    """Lower a block of one depth to another one: known without looking at its cells."""
    grid, levels, work = int64s(lent.whole), int32s(lent.levels), float32_rows(lent.work)
    tallies, entry, block = tally_rows(lent.tallies), grid[ENTRY], at[0]
    old, deepest = levels[block], DEEP * grid[BLOCKS] + block
    column = np.int32(depth - old)
    u, w = work[blocks.PLACE, blocks.U], work[blocks.PLACE, blocks.W]
    ux, uy = work[blocks.PLACE, blocks.UX], work[blocks.PLACE, blocks.UY]
    half = HALF_BLOCK * work[blocks.TOOL, blocks.CELL] * (abs(ux) + abs(uy))
    beside = u - half >= work[blocks.PLACE, blocks.SPAN_FROM]
    beside &= u + half <= work[blocks.PLACE, blocks.SPAN_TO]
    if not (beside and old == levels[deepest] and column > NOISE):
        return False
    levels[block] = depth
    levels[deepest] = depth
    int32s(lent.cells)[CUT * grid[SECTION] + block * CELLS] = grid[ROW] + 1
    int32s(lent.notes)[at[1]] = 1
    tallies[entry, VOLUME] += CELLS * np.int64(column)
    tallies[entry, LEFT] = min(tallies[entry, LEFT], np.int64(np.floor((w - half) * SIDE_STEPS)))
    tallies[entry, RIGHT] = max(tallies[entry, RIGHT], np.int64(np.floor((w + half) * SIDE_STEPS)))
    _keep_column(lent, column, at[2] * grid[NX] + at[3])
    return True
