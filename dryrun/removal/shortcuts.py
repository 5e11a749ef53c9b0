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
    NOWHERE,
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
    look_at_page,
)
from dryrun.removal.ground import (
    BASE,
    BLOCK_U,
    BLOCK_W,
    BLOCKS,
    CELL,
    EDGE_FROM,
    EDGE_TO,
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
    OVERHANG,
    PAGE_BLOCKS,
    PAGES_X,
    PIECE,
    PLUNGES,
    RIM_DEPTH,
    ROW,
    SPREAD,
    THICK,
    TILE_PAGES,
    TOP,
    UX,
    UY,
    WHOLLY,
    X,
    Y,
    Z,
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
    steps_below,
)

_F32: Final = np.float32
_SIDE: Final = np.float32(SIDE_STEPS)
_ZERO: Final = np.float32(0.0)


@inner_kernel
def cut_page_with_ball(lent, page, ball, arcs, exact):
    """Run a ball along a line over the blocks of a page (module `ball`)."""
    grid, levels, notes = int64s(lent.whole), int32s(lent.levels), int32s(lent.notes)
    real = float64s(lent.real)
    work, addresses = float32_rows(lent.work), (lent.cells, lent.work)
    py, px, first, local = page
    mixed, deepest = MIXED * grid[BLOCKS] + first, DEEP * grid[BLOCKS] + first
    whole, overhang = WHOLE * grid[BLOCKS] + first, np.int32(grid[OVERHANG])
    limits = (
        np.int32(grid[BASE]), np.int32(grid[ROW] + 1), np.int32(grid[THICK]),
        np.int32(-1 if grid[GOES_ON] else 0),
    )  # fmt: skip
    u0, w0 = work[blocks.PLACE, blocks.PAGE_U], work[blocks.PLACE, blocks.PAGE_W]
    ux, uy = work[blocks.PLACE, blocks.UX], work[blocks.PLACE, blocks.UY]
    low, high = work[blocks.PLACE, blocks.FROM], work[blocks.PLACE, blocks.TO]
    half = HALF_BLOCK * work[blocks.TOOL, blocks.CELL] * (abs(ux) + abs(uy))
    far = high + half + _F32(real[OFFSET])
    # where the surface bends within a cell (`block._bends`): at the rim, and where the top stands
    # at the edge of the cut
    radius = work[blocks.TOOL, blocks.RADIUS]
    near = _F32(SPREAD + 1.01) * work[blocks.TOOL, blocks.CELL]
    edge_from, edge_to = _F32(real[EDGE_FROM]) - near, _F32(real[EDGE_TO]) + near
    rim, edge = grid[RIM_DEPTH], 1 if overhang > 0 else 0
    plunges, wholly = grid[PLUNGES] != 0, grid[WHOLLY] != 0
    volume, best, left, right = 0, (np.int64(NOISE), np.int64(-1)), NOWHERE, -NOWHERE
    for b in range(PAGE_BLOCKS):
        level = levels[first + b]
        if notes[b] <= (level if level == 0 else level + overhang):
            continue
        iy, ix = py * 32 + (b >> 2) * 8, px * 32 + (b & 3) * 8
        x, y = work[MIDDLE_X, b], work[MIDDLE_Y, b]
        u, w = u0 + ux * x + uy * y, w0 + ux * y - uy * x
        bent = (levels[mixed + b] != 0) | plunges
        if level < rim or level < edge or wholly:
            over = max(u - high, _ZERO) + min(u - low, _ZERO)
            away = np.sqrt(w * w + over * over)
            bent |= (level < rim or wholly) and abs(away - radius) <= near
            bent |= level < edge and edge_from <= away <= edge_to
        if bent or notes[b] > grid[THICK] or at_edge(lent, iy, ix):
            cut_block(lent, (first + b, local + b, iy, ix), ball, arcs, exact)
            continue
        work[blocks.PLACE, blocks.U] = u
        work[blocks.PLACE, blocks.W] = w
        if levels[whole + b]:
            fill_block(lent, first + b)
        base = np.uint64((first + b) * BOTH)
        if low < u + half and u < far:
            taken, tallest, least, most, from_left, to_right = cut_along(addresses, base, limits)
        else:
            end = low if u + half <= low else high
            taken, tallest, least, most, from_left, to_right = cut_at_end_with_ball(
                addresses, base, limits, end
            )
        # also where nothing was taken: a question would cost more
        levels[first + b] = least
        levels[deepest + b] = most
        volume += np.int64(taken)
        left, right = min(left, np.int64(from_left)), max(right, np.int64(to_right))
        best = _taller(best, np.int64(tallest), iy * grid[NX] + ix, grid[NX])
    _keep(lent, volume, best, (left, right))


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
                    _cut_edge(lent, (first + b, local + b, iy, ix), ball, arcs, exact)
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


@inner_kernel
def _cut_edge(lent, at, ball, arcs, exact):
    """Run a level disc over a block that lies partly beyond the blank, step by step."""
    real, cell = float64s(lent.real), float64s(lent.real)[FRAME + CELL]
    x = real[FRAME + LOW_X] + ((at[3] >> 5) + 0.5) * 32.0 * cell
    y = real[FRAME + LOW_Y] + ((at[2] >> 5) + 0.5) * 32.0 * cell
    place_line(float32_rows(lent.work), piece_of(real), (x, y, real[FRAME + TOP]))
    int64s(lent.whole)[BASE] = steps_below(real[FRAME + TOP], real[PIECE + Z])
    cut_block(lent, at, ball, arcs, exact)


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
