"""Cutting tiles of the field: pieces in program order, page by page.

Motions come as pieces (module `paths`), sorted into tiles (module `tiles`). Inside a tile they run
in program order; tiles share nothing, so threads take whole tiles.
"""

from __future__ import annotations

import math

import numpy as np

from dryrun.jit import inner_kernel, kernel
from dryrun.removal.block import (
    cut_block,
    fill_block,
)
from dryrun.removal.blocks import CELLS
from dryrun.removal.bounds import (
    any_below,
    bound_page,
)
from dryrun.removal.commit import (
    BOTH,
    LEFT,
    MIXED,
    NOISE,
    RIGHT,
    SIGNS,
    TALLEST,
    TALLEST_AT,
    VOLUME,
    WHOLE,
)
from dryrun.removal.ground import (
    BALL_WAY,
    BLOCKS,
    CELL,
    DISC_WAY,
    FRAME,
    JOINED,
    KIND,
    LOW_X,
    LOW_Y,
    NX,
    OVERHANG,
    PAGE_BLOCKS,
    PAGE_CELLS,
    PAGES_X,
    PAGES_Y,
    ROW,
    SHORT,
    SHORT_WAY,
    THICK,
    TILE,
    TILE_PAGES,
    TILES_X,
    TOP,
    Given,
    Lent,
)
from dryrun.removal.lend import (
    float64s,
    int32s,
    int64s,
    lend,
    tally_rows,
)
from dryrun.removal.load import load
from dryrun.removal.profile import (
    RADIUS,
)
from dryrun.removal.shortcuts import (
    cut_tile_with_ball,
    cut_tile_with_disc,
)
from dryrun.removal.view import (
    box_of,
    joined_beyond,
    nearest,
    piece_of,
)


@kernel
def cut_tiles(ground, pieces, tools, bins, todo, tallies, space, ball, disc, arcs, exact):
    """Run the pieces of some tiles. `tallies` has a row for each entry of the bins.

    The caller holds every array until this returns, so all of them can be lent.

    `ball`, `disc`, `arcs` and `exact` are True or None, None where there is no such thing among
    the pieces: a cutter that is a ball, one that is a flat disc, level arcs, steep lines or
    helices. What they would need is then not even compiled, for `None` is a type, and a branch that
    cannot be taken for it is dropped.
    """
    lent = Lent(
        lend(ground.cells), lend(ground.levels), lend(ground.shares), lend(tallies),
        lend(space.work), lend(space.out), lend(space.notes), lend(space.real), lend(space.whole),
        lend(space.before), lend(ground.taken), lend(space.means), lend(tools.rings),
    )  # fmt: skip
    given = Given(
        lend(pieces.kind), lend(pieces.row), lend(pieces.tool), lend(pieces.joined),
        lend(pieces.data), lend(tools.numbers), lend(bins.piece),
    )  # fmt: skip
    for tile in todo:
        space.whole[TILE] = tile
        entries = bins.first[tile], bins.first[tile + 1]
        _cut_tile(lent, given, entries, ball, disc, arcs, exact)


@inner_kernel
def _cut_tile(lent, given, entries, ball, disc, arcs, exact):
    """Run the pieces of one tile, one row after another."""
    entry, end = entries
    _bring_means(lent)
    while entry < end:
        after = _end_of_row(given, entry, end)
        if after - entry > 1:
            _fill_blocks(lent)
            _remember(lent)
        for one in range(entry, after):
            load(lent, given, one)
            _visit(lent, ball, disc, arcs, exact)
        if after - entry > 1:
            _fill_blocks(lent)
            _columns_of_row(lent, entry, after)
        entry = after
    _put_means(lent)


@inner_kernel
def _bring_means(lent):
    """Copy the mean depths of the mixed blocks of a tile to the work space.

    Few blocks are mixed when a tile begins and when it ends, and many in between: so most of the
    field has no need of memory for them.
    """
    grid, levels = int64s(lent.whole), int32s(lent.levels)
    taken, means = int32s(lent.taken), int32s(lent.means)
    for i in range(grid[TILE_PAGES] * grid[TILE_PAGES] * PAGE_BLOCKS):
        block = _block_number(grid, i)
        if block >= 0 and levels[MIXED * grid[BLOCKS] + block]:
            for k in range(CELLS):
                means[i * CELLS + k] = taken[block * CELLS + k]


@inner_kernel
def _put_means(lent):
    """Copy them back."""
    grid, levels = int64s(lent.whole), int32s(lent.levels)
    taken, means = int32s(lent.taken), int32s(lent.means)
    for i in range(grid[TILE_PAGES] * grid[TILE_PAGES] * PAGE_BLOCKS):
        block = _block_number(grid, i)
        if block >= 0 and levels[MIXED * grid[BLOCKS] + block]:
            for k in range(CELLS):
                taken[block * CELLS + k] = means[i * CELLS + k]


@inner_kernel
def _visit(lent, ball, disc, arcs, exact):
    """Run the piece over that part of the tile that it may reach."""
    grid = int64s(lent.whole)
    y0, y1, x0, x1 = _reach(lent)
    if disc is not None and grid[SHORT_WAY] == DISC_WAY:
        cut_tile_with_disc(lent, (y0, y1, x0, x1), ball, arcs, exact)
        return
    if ball is not None and grid[SHORT_WAY] == BALL_WAY:
        cut_tile_with_ball(lent, (y0, y1, x0, x1), ball, arcs, exact)
        return
    side = grid[TILE_PAGES]
    for py in range(y0, y1 + 1):
        for px in range(x0, x1 + 1):
            local = (py & (side - 1)) * side + (px & (side - 1))  # sides are powers of two
            _cut_page(lent, (py, px, local * PAGE_BLOCKS), ball, arcs, exact)


@inner_kernel
def _reach(lent):
    """First and last row, first and last column of those pages of the tile that the piece may reach."""
    real, grid = float64s(lent.real), int64s(lent.whole)
    low_x, low_y, high_x, high_y = box_of(grid[KIND], piece_of(real))
    reach, size = real[RADIUS] + real[FRAME + CELL], 32.0 * real[FRAME + CELL]
    side = grid[TILE_PAGES]
    first_y, first_x = (grid[TILE] // grid[TILES_X]) * side, (grid[TILE] % grid[TILES_X]) * side
    last_y, last_x = min(first_y + side, grid[PAGES_Y]) - 1, min(first_x + side, grid[PAGES_X]) - 1
    y0 = max(first_y, int(math.floor((low_y - reach - real[FRAME + LOW_Y]) / size)))
    x0 = max(first_x, int(math.floor((low_x - reach - real[FRAME + LOW_X]) / size)))
    y1 = min(last_y, int(math.floor((high_y + reach - real[FRAME + LOW_Y]) / size)))
    x1 = min(last_x, int(math.floor((high_x + reach - real[FRAME + LOW_X]) / size)))
    return y0, y1, x0, x1


@inner_kernel
def _cut_page(lent, page, ball, arcs, exact):
    """Run the piece over those blocks of a page that it may lower."""
    py, px, local = page
    real, grid = float64s(lent.real), int64s(lent.whole)
    levels, notes = int32s(lent.levels), int32s(lent.notes)
    size = 32.0 * real[FRAME + CELL]
    x = real[FRAME + LOW_X] + (px + 0.5) * size
    y = real[FRAME + LOW_Y] + (py + 0.5) * size
    if grid[JOINED] and joined_beyond(lent, x, y):
        return
    first = (py * grid[PAGES_X] + px) * PAGE_BLOCKS
    if not grid[SHORT]:
        reach = real[RADIUS] + 24.0 * real[FRAME + CELL]
        away, _ = nearest(grid[KIND], piece_of(real), x, y, reach)
        if away > reach:
            return
    bound_page(lent, (x, y, real[FRAME + TOP]), arcs, exact)
    overhang = np.int32(grid[OVERHANG])
    if not any_below(notes, levels, np.uint64(first)):
        return
    for b in range(PAGE_BLOCKS):
        level = levels[first + b]
        if notes[b] > (level if level == 0 else level + overhang):
            at = (first + b, local + b, py * 32 + (b >> 2) * 8, px * 32 + (b & 3) * 8)
            cut_block(lent, at, ball, arcs, exact)


@inner_kernel
def _fill_blocks(lent):
    """Write out all blocks of the tile that were lowered as a whole."""
    grid, levels = int64s(lent.whole), int32s(lent.levels)
    for i in range(grid[TILE_PAGES] * grid[TILE_PAGES] * PAGE_BLOCKS):
        block = _block_number(grid, i)
        if block >= 0 and levels[WHOLE * grid[BLOCKS] + block]:
            fill_block(lent, block)


@inner_kernel
def _end_of_row(given, entry, end):
    """First entry after those of the cutter in the same row (one, for a disc that only touches)."""
    rows, tools, pieces = int32s(given.row), int32s(given.tool), int32s(given.entries)
    index = pieces[entry]
    entry += 1
    while (
        entry < end
        and tools[index] == 0
        and tools[pieces[entry]] == 0
        and rows[pieces[entry]] == rows[index]
    ):
        entry += 1
    return entry


@inner_kernel
def _page_number(grid, page):
    """Return the number of a page of the tile in the field; -1 beyond it."""
    tile, side = grid[TILE], grid[TILE_PAGES]
    py = (tile // grid[TILES_X]) * side + page // side
    px = (tile % grid[TILES_X]) * side + page % side
    if py >= grid[PAGES_Y] or px >= grid[PAGES_X]:
        return -1
    return py * grid[PAGES_X] + px


@inner_kernel
def _block_number(grid, block):
    """Return the number in the field of a block of the tile; -1 beyond it."""
    page = _page_number(grid, block >> 4)
    return page * PAGE_BLOCKS + (block & 15) if page >= 0 else -1


@inner_kernel
def _remember(lent):
    """Copy the depths of a tile as they are before a row of several pieces."""
    grid, cells, before = int64s(lent.whole), int32s(lent.cells), int32s(lent.before)
    for page in range(grid[TILE_PAGES] * grid[TILE_PAGES]):
        number = _page_number(grid, page)
        if number >= 0:
            for b in range(PAGE_BLOCKS):
                block = (number * PAGE_BLOCKS + b) * BOTH
                for k in range(CELLS):
                    before[page * PAGE_CELLS + b * CELLS + k] = cells[block + k]


@inner_kernel
def _columns_of_row(lent, first, after):
    """Find the tallest column that all pieces of a row took together; it may be the first's."""
    grid, cells, before = int64s(lent.whole), int32s(lent.cells), int32s(lent.before)
    tallies = tally_rows(lent.tallies)
    row, thick = grid[ROW], grid[THICK]
    best, best_at = np.int64(NOISE), np.int64(-1)
    for page in range(grid[TILE_PAGES] * grid[TILE_PAGES]):
        number = _page_number(grid, page)
        if number < 0:
            continue
        for i in range(PAGE_CELLS):
            old = np.int64(before[page * PAGE_CELLS + i])
            place = (number * PAGE_BLOCKS + (i >> 6)) * BOTH + (i & 63)
            new = np.int64(cells[place])
            if new - old <= NOISE:
                continue
            cells[place + SIGNS] = row + 1
            column = min(new, thick) - min(old, thick)
            iy = (number // grid[PAGES_X]) * 32 + (i >> 8) * 8 + ((i >> 3) & 7)
            ix = (number % grid[PAGES_X]) * 32 + ((i >> 6) & 3) * 8 + (i & 7)
            at = iy * grid[NX] + ix
            if column > best or (column == best and at < best_at):
                best, best_at = column, at
    if best_at >= 0 and best > tallies[first, TALLEST]:
        tallies[first, TALLEST] = best
        tallies[first, TALLEST_AT] = best_at


@kernel
def gather(pieces, bins, tallies, first_row, totals):
    """Sum the tallies of all tiles into one row for each motion row of the cutter.

    Nothing here depends on the order. `first_row` is the number of the first row in `totals`.
    """
    for entry in range(len(bins.piece)):
        index = bins.piece[entry]
        if pieces.tool[index] == 0:
            row = pieces.row[index] - first_row
            totals[row, VOLUME] += tallies[entry, VOLUME]
            totals[row, LEFT] = min(totals[row, LEFT], tallies[entry, LEFT])
            totals[row, RIGHT] = max(totals[row, RIGHT], tallies[entry, RIGHT])
            found, at = tallies[entry, TALLEST], tallies[entry, TALLEST_AT]
            known, known_at = totals[row, TALLEST], totals[row, TALLEST_AT]
            if found > known or (found == known and found > 0 and at < known_at):
                totals[row, TALLEST] = found
                totals[row, TALLEST_AT] = at
