"""Balls along lines and level discs on blocks away from the blank's edge (see `ball`, `disc`)."""

# mypy: ignore-errors
# kernels: numba types them when they run

from __future__ import annotations

import math
from typing import Final

import numpy as np

from dryrun.jit import inlined_kernel, inner_kernel
from dryrun.removal.ball import (
    L_UX,
    L_UY,
    begin_sides,
    cut_at_wall,
    cut_with_ball,
    end_sides,
    list_blocks,
)
from dryrun.removal.block import (
    at_edge,
    cut_block,
    fill_block,
)
from dryrun.removal.blocks import CELLS
from dryrun.removal.commit import (
    BOTH,
    DEEP,
    LEFT,
    MIXED,
    NOISE,
    NOWHERE,
    RIGHT,
    SIDE_STEPS,
    TALLEST,
    TALLEST_AT,
    VOLUME,
    WHOLE,
    begin_means,
)
from dryrun.removal.disc import (
    AT_SIDE,
    COVERED,
    LEFT_ALONE,
    cover_means,
    cut_at_end,
    cut_at_side,
    cut_covered,
    look_at_page,
)
from dryrun.removal.ground import (
    BALL_LINE,
    BASE,
    BLOCK_U,
    BLOCK_W,
    BLOCKS,
    CELL,
    ENTRY,
    FRAME,
    HALF,
    JOINED,
    LENGTH,
    LISTED,
    LISTED_END,
    LOW_X,
    LOW_Y,
    MIDDLE_X,
    MIDDLE_Y,
    NX,
    OVERHANG,
    PAGE_BLOCKS,
    PAGES_X,
    PIECE,
    RIM_DEPTH,
    ROW,
    THICK,
    TILE,
    TILE_PAGES,
    TILES_X,
    TIP_DEPTH,
    TOP,
    UX,
    UY,
    VIEW_BASE,
    VIEW_FROM,
    VIEW_TO,
    VIEW_U,
    VIEW_W,
    WHOLLY,
    X,
    Y,
)
from dryrun.removal.lend import (
    float32_rows,
    float64s,
    int32s,
    int64s,
    tally_rows,
)
from dryrun.removal.profile import RADIUS
from dryrun.removal.view import (
    piece_of,
    place_line,
)

_F32: Final = np.float32
_SIDE: Final = np.float32(SIDE_STEPS)
_ZERO: Final = np.float32(0.0)
_ONE: Final = np.float32(1.0)


@inner_kernel
def cut_tile_with_ball(lent, box, ball, arcs, exact):
    """Run a ball along a line over those blocks of the tile that it may lower (module `ball`).

    `box` is the first and last row, and the first and last column of pages that it may reach.
    """
    real, grid, levels = float64s(lent.real), int64s(lent.whole), int32s(lent.levels)
    notes, work, corner = int32s(lent.notes), float32_rows(lent.work), _corner(grid)
    at_once, in_steps = list_blocks(lent, box)
    ahead = real[PIECE + LENGTH] == 0.0, _F32(max(real[RADIUS] - real[PIECE + LENGTH], 0.0))
    # of a line that does not go through the blank, and whose edge in the top is fine enough
    wall_alone = grid[OVERHANG] == 0 and grid[WHOLLY] == 0 and grid[TIP_DEPTH] <= grid[THICK]
    volume, best, across = 0, (np.int64(NOISE), np.int64(-1)), grid[NX]
    begin_sides(work)
    for i in range(in_steps + 1, LISTED_END + 1):
        at = _find_block(corner, np.int64(notes[i]))
        if not wall_alone or at_edge(lent, at[2], at[3]):
            _cut_in_steps(lent, at, ball, arcs, exact)
            continue
        taken, tallest = _cut_at_wall(lent, at, _view_of(lent, at, ahead))
        volume += taken
        best = _taller(best, tallest, at[2] * across + at[3], across)
    deepest, whole = DEEP * grid[BLOCKS], WHOLE * grid[BLOCKS]
    lists, tip = (lent.cells, lent.work, lent.out, lent.notes), np.int32(grid[TIP_DEPTH])
    for i in range(LISTED, at_once):
        at = _find_block(corner, np.int64(notes[i]))
        block, local, iy, ix = at
        if levels[whole + block]:
            fill_block(lent, block)
        view, base = _view_of(lent, at, ahead), notes[VIEW_BASE + (local >> 4)]
        taken, tallest, least = cut_with_ball(lists, np.uint64(block * BOTH), view, base)
        # also where nothing was taken: a question would cost more
        levels[block], levels[deepest + block] = least, max(levels[deepest + block], tip)
        volume += np.int64(taken)
        best = _taller(best, np.int64(tallest), iy * across + ix, across)
    _keep(lent, volume, best, end_sides(work))


@inlined_kernel
def _view_of(lent, at, ahead):
    """Return the view of a block as `cut_with_ball` takes it; `ahead` is of a piece.

    `ahead` tells whether it has no length, and how far ahead of it what is taken counts for the width
    of cut: ahead of a short move lies what it cuts with its front.
    """
    work = float32_rows(lent.work)
    dot, front = ahead
    page, b = at[1] >> 4, at[1] & 15
    ux, uy = work[BALL_LINE, L_UX], work[BALL_LINE, L_UY]
    u = work[VIEW_U, page] + ux * work[MIDDLE_X, b] + uy * work[MIDDLE_Y, b]
    w = work[VIEW_W, page] + ux * work[MIDDLE_Y, b] - uy * work[MIDDLE_X, b]
    low, high = work[VIEW_FROM, page], work[VIEW_TO, page]
    return u, w, low, high, _F32(-np.inf) if dot else low, high + front


@inner_kernel
def _cut_at_wall(lent, at, view):
    """Run a ball along a line over a block whose mean depths count; return the volume and tallest column."""
    grid, levels, notes = int64s(lent.whole), int32s(lent.levels), int32s(lent.notes)
    block, local = at[0], at[1]
    mixed_at, deepest = MIXED * grid[BLOCKS] + block, DEEP * grid[BLOCKS] + block
    places, thick = (np.uint64(block * BOTH), np.uint64(local * CELLS)), np.int32(grid[THICK])
    if levels[WHOLE * grid[BLOCKS] + block]:
        fill_block(lent, block)
    if levels[mixed_at] == 0:
        begin_means(int32s(lent.cells), places[0], int32s(lent.means), places[1], thick)
    lists = lent.cells, lent.work, lent.out, lent.notes, lent.means
    limits = notes[VIEW_BASE + (local >> 4)], levels[block] < grid[RIM_DEPTH]
    volume, tallest, least, mixed = cut_at_wall(lists, places, view, limits)
    levels[block], levels[mixed_at] = least, mixed
    levels[deepest] = max(levels[deepest], np.int32(grid[TIP_DEPTH]))
    return volume, np.int64(tallest)


@inlined_kernel
def _corner(grid):
    """Return what `_find_block` needs of a tile: its first page, its side in pages, pages along X."""
    tile, side = grid[TILE], grid[TILE_PAGES]
    shift = int(side >= 2) + int(side >= 4) + int(side >= 8)  # sides are powers of two
    return (tile // grid[TILES_X]) << shift, (tile % grid[TILES_X]) << shift, shift, grid[PAGES_X]


@inlined_kernel
def _find_block(corner, local):
    """Return a block's numbers in the field and in the tile, and its first row and column."""
    first_y, first_x, shift, across = corner
    page, b = local >> 4, local & 15
    py, px = first_y + (page >> shift), first_x + (page & ((1 << shift) - 1))
    return (py * across + px) * PAGE_BLOCKS + b, local, py * 32 + (b >> 2) * 8, px * 32 + (b & 3) * 8


@inner_kernel
def _cut_in_steps(lent, at, ball, arcs, exact):
    """Run a ball, or a level disc, along a line over a block step by step (module `block`)."""
    real, cell = float64s(lent.real), float64s(lent.real)[FRAME + CELL]
    x = real[FRAME + LOW_X] + ((at[3] >> 5) + 0.5) * 32.0 * cell
    y = real[FRAME + LOW_Y] + ((at[2] >> 5) + 0.5) * 32.0 * cell
    middle = x, y, real[FRAME + TOP]
    int64s(lent.whole)[BASE] = place_line(float32_rows(lent.work), piece_of(real), middle)
    cut_block(lent, at, ball, arcs, exact)


@inlined_kernel
def _taller(best, found, first, across):
    """Return the tallest column and its cell: what is known, or what a block has (`ball`, `disc`)."""
    column, k = found >> 6, 63 - (found & 63)
    at = first + (k >> 3) * across + (k & 7)
    taller = column > best[0]
    nearer = (column == best[0]) & (column > NOISE) & (at < best[1])
    return (column if taller else best[0]), (at if taller | nearer else best[1])


@inner_kernel
def cut_tile_with_disc(lent, box, ball, arcs, exact):
    """Run a level disc along a line over those blocks of the tile that it may lower (module `disc`).

    `box` is the first and last row, and the first and last column of pages that it may reach.
    """
    real, grid, notes = float64s(lent.real), int64s(lent.whole), int32s(lent.notes)
    low_y, high_y, low_x, high_x = box
    joined, depth, length = grid[JOINED], np.int32(grid[BASE]), real[PIECE + LENGTH]
    size, side = 32.0 * real[FRAME + CELL], grid[TILE_PAGES]
    from_y, from_x = real[PIECE + Y] - real[FRAME + LOW_Y], real[PIECE + X] - real[FRAME + LOW_X]
    addresses = lent.real, lent.levels, lent.work, lent.notes
    volume, best, left, right = 0, (np.int64(NOISE), np.int64(-1)), NOWHERE, -NOWHERE
    for py in range(low_y, high_y + 1):
        for px in range(low_x, high_x + 1):
            x, y = (px + 0.5) * size - from_x, (py + 0.5) * size - from_y
            u = x * real[PIECE + UX] + y * real[PIECE + UY]
            w = y * real[PIECE + UX] - x * real[PIECE + UY]
            near = min(max(u, 0.0), length)
            view = _F32(u - near), _F32(w), _F32(-near), _F32(length - near)
            first = (py * grid[PAGES_X] + px) * PAGE_BLOCKS
            if not look_at_page(addresses, joined, depth, np.uint64(first), view):
                continue
            local = ((py & (side - 1)) * side + (px & (side - 1))) * PAGE_BLOCKS
            for b in range(PAGE_BLOCKS):
                what = notes[b]
                if what == LEFT_ALONE:
                    continue
                iy, ix = 32 * py + 8 * (b >> 2), 32 * px + 8 * (b & 3)
                if at_edge(lent, iy, ix):
                    _cut_in_steps(lent, (first + b, local + b, iy, ix), ball, arcs, exact)
                    continue
                more, tallest, most_left, most_right = _cut_block_with_disc(
                    lent, (what, b, first + b, local + b), view
                )
                volume += more
                left, right = min(left, most_left), max(right, most_right)
                best = _taller(best, tallest, iy * grid[NX] + ix, grid[NX])
    _keep(lent, volume, best, (left, right))


@inlined_kernel
def _keep(lent, volume, column, sides):
    """Add to the tally what a piece took: of equal columns the cell with the lowest number is kept."""
    tallies, entry = tally_rows(lent.tallies), int64s(lent.whole)[ENTRY]
    tallies[entry, VOLUME] += volume
    tallies[entry, LEFT] = min(tallies[entry, LEFT], sides[0])
    tallies[entry, RIGHT] = max(tallies[entry, RIGHT], sides[1])
    tallest, at = column
    known, known_at = tallies[entry, TALLEST], tallies[entry, TALLEST_AT]
    if at >= 0 and (tallest > known or (tallest == known and at < known_at)):
        tallies[entry, TALLEST] = tallest
        tallies[entry, TALLEST_AT] = at


@inlined_kernel
def _cut_block_with_disc(lent, at, view):
    """Run a level disc along a line over a block.

    `at` is what it does to it, and the block's number in its page, in the field and in the tile;
    `view` is that of the page (`disc.look_at_page`). Returns the volume, the tallest column with the
    first cell that has it (as the loops of `disc`), and how far to the left and right of the line
    columns were taken.
    """
    real, grid, levels = float64s(lent.real), int64s(lent.whole), int32s(lent.levels)
    work = float32_rows(lent.work)
    what, b, block, local = at
    u, w, low, high = work[BLOCK_U, b], work[BLOCK_W, b], view[2], view[3]
    depth = np.int32(grid[BASE])
    mixed_at, deepest = MIXED * grid[BLOCKS] + block, DEEP * grid[BLOCKS] + block
    whole = WHOLE * grid[BLOCKS] + block
    mixed, dot = levels[mixed_at] != 0, low == high
    # what lies beside the line counts for the width of cut, and of a short one what is ahead
    span_from = _F32(-np.inf) if dot else low
    span_to = max(high, low + _F32(real[RADIUS]))
    if what == COVERED and not mixed:
        old, half = levels[block], _F32(real[HALF])
        column = np.int32(depth - old)
        beside = dot | ((u - half >= span_from) & (u + half <= span_to))
        if beside and old == levels[deepest] and column > NOISE:
            # a block of one depth becomes one of another, and need not be written
            levels[block], levels[deepest], levels[whole] = depth, depth, grid[ROW] + 1
            left, right = math.floor((w - half) * _SIDE), math.floor((w + half) * _SIDE)
            return CELLS * np.int64(column), np.int64(column) << 6 | 63, np.int64(left), np.int64(right)
    if levels[whole]:
        fill_block(lent, block)
    means = np.uint64(local * CELLS)
    places = (np.uint64(block * BOTH), means)
    limits = (depth, np.int32(grid[ROW] + 1), np.int32(-1 if mixed else 0))
    seen = u, w, low, high, span_from, span_to
    if what == COVERED:
        volume, tallest, least, left, right = cut_covered(
            lent.cells, lent.work, places, seen, limits
        )
        if mixed:
            volume, shallowest, parted = cover_means(lent.means, means, depth)
            least = min(least, shallowest)
            levels[mixed_at] = parted != 0
    else:
        if what == AT_SIDE:
            volume, tallest, least, left, right, parted = cut_at_side(
                lent.cells, lent.means, lent.work, places, seen, limits
            )
        else:
            volume, tallest, least, left, right, parted = cut_at_end(
                lent.cells, lent.means, lent.work, places, seen, limits
            )
        levels[mixed_at] = parted != 0
    levels[block] = least
    if tallest >> 6 > 0:
        levels[deepest] = max(levels[deepest], depth)
    return np.int64(volume), np.int64(tallest), np.int64(left), np.int64(right)
