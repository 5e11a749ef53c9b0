"""Cutting tiles of the field: which blocks a motion can reach, and what it does to each.

Motions come as pieces (module `paths`), sorted into tiles (module `tiles`). Inside a tile they run
in program order; tiles share nothing, so threads take whole tiles. Most of a cutter's footprint
lies over what was cut before: a block is only computed when the lowest the cutter could come over
it is below the highest of its cells.

Numbers travel between the functions in tuples and only few arrays do: each array handed on in a
tuple or as a slice would cost counting its users, and threads would wait for each other there.
"""

from __future__ import annotations

import math
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.jit import kernel
from dryrun.removal import blocks
from dryrun.removal.ball import HIGHEST, cut_along, cut_at_end, sum_of_columns
from dryrun.removal.blocks import CELLS, DX, DY, HALF_BLOCK, INSIDE, NEVER, SHARE, UNDER
from dryrun.removal.commit import (
    CUT,
    DEEP,
    DEPTH,
    EDGE_SHARES,
    HIGH,
    LEFT,
    MIXED,
    NOISE,
    NOWHERE,
    RIGHT,
    SIDE_STEPS,
    TAKEN,
    TALLEST,
    TALLEST_AT,
    VOLUME,
    begin_means,
    cover,
    lower,
    lowers,
    place_of,
    sides,
    sign,
    still_mixed,
    touch,
    weighed,
    whole_shares,
)
from dryrun.removal.disc import cover_whole, cut_level, cut_level_at_wall
from dryrun.removal.exact import arc_distances, helix_height, line_height, lowest_between
from dryrun.removal.lend import (
    float32_rows,
    float64s,
    int32_rows,
    int32s,
    int64s,
    lend,
    number_rows,
    piece_rows,
    ring_rows,
    tally_rows,
)
from dryrun.removal.profile import BALL, BULL, FAMILY, FORM, NUMBERS, RADIUS, RIM, RING

#: Kinds of pieces. The vector code takes LINE and ARC; what has no vector form is STEEP
#: (a line) or HELIX (any arc about Z).
LINE: Final = 0
ARC: Final = 1
STEEP: Final = 2
HELIX: Final = 3

#: Which end of a line, its lower or its higher one, joins the piece before it.
AT_LOW: Final = 1
AT_HIGH: Final = 2

#: Columns of a piece's data for a line from its lower end ...
X, Y, Z, UX, UY, LENGTH, RISE = range(7)
#: ... and for an arc, counter-clockwise: centre, height of the start, radius, angle of the start,
#: sweep, rise per radian.
A_RADIUS, A_BEGIN, A_SWEEP, A_RISE = 3, 4, 5, 6
DATA: Final = 7

#: Numbers of the frame: the blank's corner, cell, top ...
LOW_X, LOW_Y, CELL, TOP = range(4)
#: ... and of the grid: pages and cells along Y and X, thickness in steps, tiles along X, pages
#: along the side of a tile.
PAGES_Y, PAGES_X, NY, NX, THICK, TILES_X, TILE_PAGES = range(7)
#: Whole numbers the kernels look up: the grid, then cells in a section, rings, and what is cut.
SECTION, RINGS, TILE, TOOL_INDEX, ENTRY, KIND, ROW, LEVEL_FLAT, RIM_DEPTH, BLOCKS, JOINED, BASE, SHORT_WAY, SHORT = range(
    7, 21
)
WHOLES: Final = 21
#: Real numbers the kernels look up: the tool, then the frame, then the piece.
FRAME, PIECE = NUMBERS, NUMBERS + 4
#: Ways through a block.
LONG_WAY, BALL_WAY, DISC_WAY = range(3)
#: And how far the tool may stand behind the point that it touches.
OFFSET: Final = PIECE + DATA
REALS: Final = OFFSET + 1

_STEPS: Final = 2.0**20
_MOST: Final = 1000.0
_SLACK: Final = 2100
#: To this depth 64 columns make a sum of 31 bits.
SHALLOW: Final = 2**25 - 1
_PAGE_CELLS: Final = 1024
_PAGE_BLOCKS: Final = 16
#: Rows of the work space for the middles of a page's blocks.
_MIDDLE_X, _MIDDLE_Y = blocks.WORK_ROWS, blocks.WORK_ROWS + 1
#: The notes hold the bounds of a page's blocks, the shares of the rows and columns of one block
#: at the blank's edge, and the marks of whole blocks of a tile.
_LAZY: Final = EDGE_SHARES + 16
#: From the middle of a block to its outermost cell centres, in cells (and a hair).
_SPREAD: Final = 4.96
#: With larger cells than this, mm, blocks are too far from the middle of their page for float32.
_COARSE: Final = 0.25
_F32: Final = np.float32
_ZERO: Final = np.float32(0.0)


class Pieces(NamedTuple):
    """Parts of motions with one closed form each, in program order.

    kind : int32 (n,) LINE, ARC, STEEP or HELIX
    row : int32 (n,) motion row
    tool : int32 (n,) 0 the cutter; others are discs that must not touch
    joined : int32 (n,) AT_LOW or AT_HIGH for a line that begins there where the piece before it
        ended, else 0: what lies nearest to that end was cut by the piece before
    data : float64 (n, 7)
    """

    kind: NDArray[np.int32]
    row: NDArray[np.int32]
    tool: NDArray[np.int32]
    joined: NDArray[np.int32]
    data: NDArray[np.float64]


class Tools(NamedTuple):
    """Profiles: `numbers` float64 (t, 8), the cutter first; `rings` of the cutter's form."""

    numbers: NDArray[np.float64]
    rings: NDArray[np.float64]


class Ground(NamedTuple):
    """A surface flattened for the kernels: `surface.Field`, numbers of the frame and the grid."""

    cells: NDArray[np.int32]
    levels: NDArray[np.int32]
    shares: NDArray[np.int32]
    frame: tuple[float, float, float, float]
    grid: tuple[int, int, int, int, int, int, int]


class Bins(NamedTuple):
    """Pieces by tile: those of tile t are piece[first[t] : first[t + 1]]."""

    first: NDArray[np.int64]
    piece: NDArray[np.int32]


class Space(NamedTuple):
    """Work space of one call of `cut_tiles`; what each array is for: `Lent`."""

    work: NDArray[np.float32]
    out: NDArray[np.int32]
    notes: NDArray[np.int32]
    real: NDArray[np.float64]
    whole: NDArray[np.int64]
    before: NDArray[np.int32]


def work_space(ground: Ground, rings: int) -> Space:
    """Return work space for a call of `cut_tiles`."""
    cell, side = ground.frame[CELL], ground.grid[TILE_PAGES]
    work = np.zeros((blocks.WORK_ROWS + 2, CELLS), np.float32)
    k, b = np.arange(CELLS), np.arange(_PAGE_BLOCKS)
    work[DX], work[DY] = ((k & 7) - 3.5) * cell, ((k >> 3) - 3.5) * cell
    work[_MIDDLE_X, :_PAGE_BLOCKS] = ((b & 3) - 1.5) * 8.0 * cell
    work[_MIDDLE_Y, :_PAGE_BLOCKS] = ((b >> 2) - 1.5) * 8.0 * cell
    work[blocks.TOOL, blocks.CELL] = cell
    notes = np.zeros(_LAZY + side * side * _PAGE_BLOCKS, np.int32)
    real, whole = np.zeros(REALS), np.zeros(WHOLES, np.int64)
    real[FRAME : FRAME + 4] = ground.frame
    whole[: len(ground.grid)] = ground.grid
    whole[SECTION] = ground.grid[PAGES_Y] * ground.grid[PAGES_X] * _PAGE_CELLS
    whole[BLOCKS] = ground.grid[PAGES_Y] * ground.grid[PAGES_X] * _PAGE_BLOCKS
    whole[RINGS] = rings
    whole[TOOL_INDEX] = -1
    before = np.zeros(side * side * _PAGE_CELLS, np.int32)
    return Space(work, np.zeros((2, CELLS), np.int32), notes, real, whole, before)


class Lent(NamedTuple):
    """What the kernels of one thread work on, lent (module `lend`).

    cells, levels, shares, tallies : of the ground and the bins
    work, out, notes : work space for a block
    real, whole : numbers of the tool, the frame and the piece; of the grid and the entry
    before : depths of a tile before a row of several pieces
    rings : of the cutter's form
    """

    cells: Any
    levels: Any
    shares: Any
    tallies: Any
    work: Any
    out: Any
    notes: Any
    real: Any
    whole: Any
    before: Any
    rings: Any


class Given(NamedTuple):
    """The pieces, the tools' numbers and the entries of the bins, lent."""

    kind: Any
    row: Any
    tool: Any
    joined: Any
    data: Any
    numbers: Any
    entries: Any


@kernel
def cut_tiles(ground, pieces, tools, bins, todo, tallies, space):
    """Run the pieces of some tiles. `tallies` has a row for each entry of the bins.

    The caller holds every array until this returns, so all of them can be lent.
    """
    lent = Lent(
        lend(ground.cells), lend(ground.levels), lend(ground.shares), lend(tallies),
        lend(space.work), lend(space.out), lend(space.notes), lend(space.real), lend(space.whole),
        lend(space.before), lend(tools.rings),
    )  # fmt: skip
    given = Given(
        lend(pieces.kind), lend(pieces.row), lend(pieces.tool), lend(pieces.joined),
        lend(pieces.data), lend(tools.numbers), lend(bins.piece),
    )  # fmt: skip
    for tile in todo:
        space.whole[TILE] = tile
        _cut_tile(lent, given, bins.first[tile], bins.first[tile + 1])


@kernel
def _cut_tile(lent, given, entry, end):
    """Run the pieces of one tile, one row after another."""
    while entry < end:
        after = _end_of_row(given, entry, end)
        if after - entry > 1:
            _fill_lazy(lent)
            _remember(lent)
        for one in range(entry, after):
            _load(lent, given, one)
            _visit(lent)
        if after - entry > 1:
            _fill_lazy(lent)
            _columns_of_row(lent, entry, after)
        entry = after
    _fill_lazy(lent)


@kernel
def _load(lent, given, entry):
    """Put the numbers of an entry's piece and its tool where the inner kernels find them."""
    real, whole, work = float64s(lent.real), int64s(lent.whole), float32_rows(lent.work)
    data, numbers = piece_rows(given.data), number_rows(given.numbers)
    index = int32s(given.entries)[entry]
    tool = int32s(given.tool)[index]
    if tool != whole[TOOL_INDEX]:
        whole[TOOL_INDEX] = tool
        for i in range(NUMBERS):
            real[i] = numbers[tool, i]
        for i in range(blocks.CELL):
            work[blocks.TOOL, i] = real[i]
    for i in range(DATA):
        real[PIECE + i] = data[index, i]
    kind = int32s(given.kind)[index]
    whole[KIND] = kind
    whole[ROW] = int32s(given.row)[index]
    whole[JOINED] = int32s(given.joined)[index]
    whole[ENTRY] = entry
    disc = real[PIECE + RISE] == 0.0 and real[RING] >= real[RADIUS] and real[FAMILY] != FORM
    flat = kind == LINE and disc
    whole[LEVEL_FLAT] = flat
    whole[SHORT] = kind == LINE and real[PIECE + LENGTH] < 16.0 * real[FRAME + CELL]
    real[OFFSET] = _furthest_offset(real[FAMILY], real[RADIUS], real[PIECE + RISE])
    height = real[PIECE + RISE] * real[PIECE + LENGTH] + 2.0 * real[RADIUS]
    fits = real[FRAME + CELL] <= _COARSE and height < HIGHEST
    depth = _steps_below(real[FRAME + TOP], real[PIECE + Z])
    whole[SHORT_WAY] = LONG_WAY
    if tool == 0 and flat and depth <= min(whole[THICK], SHALLOW) and fits:
        whole[SHORT_WAY] = DISC_WAY
    elif tool == 0 and kind == LINE and real[FAMILY] == BALL and fits:
        whole[SHORT_WAY] = BALL_WAY
    lowest = real[PIECE + Z]
    if kind == ARC or kind == HELIX:
        lowest += min(0.0, real[PIECE + A_RISE] * real[PIECE + A_SWEEP])
    whole[RIM_DEPTH] = _steps_below(real[FRAME + TOP], lowest + real[RIM])
    tallies = tally_rows(lent.tallies)
    tallies[entry, VOLUME] = 0
    tallies[entry, TALLEST] = 0
    tallies[entry, TALLEST_AT] = -1
    tallies[entry, LEFT] = NOWHERE
    tallies[entry, RIGHT] = -NOWHERE


# --------------------------------------------------------------------------------------------
# Rows of several pieces: a column counts as all of them took it together
# --------------------------------------------------------------------------------------------


@kernel
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


@kernel
def _page_number(grid, page):
    """Number of a page of the tile in the field; -1 beyond it."""
    tile, side = grid[TILE], grid[TILE_PAGES]
    py = (tile // grid[TILES_X]) * side + page // side
    px = (tile % grid[TILES_X]) * side + page % side
    if py >= grid[PAGES_Y] or px >= grid[PAGES_X]:
        return -1
    return py * grid[PAGES_X] + px


@kernel
def _remember(lent):
    """Copy the depths of a tile as they are before a row of several pieces."""
    grid, cells, before = int64s(lent.whole), int32s(lent.cells), int32s(lent.before)
    for page in range(grid[TILE_PAGES] * grid[TILE_PAGES]):
        number = _page_number(grid, page)
        if number >= 0:
            for i in range(_PAGE_CELLS):
                before[page * _PAGE_CELLS + i] = cells[number * _PAGE_CELLS + i]


@kernel
def _columns_of_row(lent, first, after):
    """Find the tallest column that all pieces of a row took together; counts for the first."""
    grid, cells, before = int64s(lent.whole), int32s(lent.cells), int32s(lent.before)
    tallies = tally_rows(lent.tallies)
    row, thick = grid[ROW], grid[THICK]
    signs = CUT * grid[SECTION]
    best, best_at = np.int64(NOISE), np.int64(-1)
    for page in range(grid[TILE_PAGES] * grid[TILE_PAGES]):
        number = _page_number(grid, page)
        if number < 0:
            continue
        for i in range(_PAGE_CELLS):
            old = np.int64(before[page * _PAGE_CELLS + i])
            new = np.int64(cells[number * _PAGE_CELLS + i])
            if new - old <= NOISE:
                continue
            cells[signs + number * _PAGE_CELLS + i] = row + 1
            column = min(new, thick) - min(old, thick)
            iy = (number // grid[PAGES_X]) * 32 + (i >> 8) * 8 + ((i >> 3) & 7)
            ix = (number % grid[PAGES_X]) * 32 + ((i >> 6) & 3) * 8 + (i & 7)
            at = iy * grid[NX] + ix
            if column > best or (column == best and at < best_at):
                best, best_at = column, at
    for one in range(first, after):
        tallies[one, TALLEST] = 0
    if best_at >= 0:
        tallies[first, TALLEST] = best
        tallies[first, TALLEST_AT] = best_at


# --------------------------------------------------------------------------------------------
# One piece on one tile
# --------------------------------------------------------------------------------------------


@kernel
def _visit(lent):
    """Run the piece over those pages of the tile that it may reach."""
    real, grid = float64s(lent.real), int64s(lent.whole)
    low_x, low_y, high_x, high_y = box_of(grid[KIND], _data(real))
    reach = real[RADIUS] + real[FRAME + CELL]
    side = grid[TILE_PAGES]
    first_y = (grid[TILE] // grid[TILES_X]) * side
    first_x = (grid[TILE] % grid[TILES_X]) * side
    low, size = (real[FRAME + LOW_X], real[FRAME + LOW_Y]), 32.0 * real[FRAME + CELL]
    y0 = max(first_y, int(math.floor((low_y - reach - low[1]) / size)))
    x0 = max(first_x, int(math.floor((low_x - reach - low[0]) / size)))
    y1 = min(first_y + side - 1, int(math.floor((high_y + reach - low[1]) / size)))
    x1 = min(first_x + side - 1, int(math.floor((high_x + reach - low[0]) / size)))
    for py in range(y0, min(y1, grid[PAGES_Y] - 1) + 1):
        for px in range(x0, min(x1, grid[PAGES_X] - 1) + 1):
            _cut_page(lent, py, px, ((py - first_y) * side + px - first_x) * _PAGE_BLOCKS)


@kernel
def _cut_page(lent, py, px, local):
    """Run the piece over those blocks of a page that it may lower."""
    real, grid = float64s(lent.real), int64s(lent.whole)
    levels, notes = int32s(lent.levels), int32s(lent.notes)
    size = 32.0 * real[FRAME + CELL]
    x = real[FRAME + LOW_X] + (px + 0.5) * size
    y = real[FRAME + LOW_Y] + (py + 0.5) * size
    if grid[JOINED] and _joined_beyond(lent, x, y):
        return
    if not grid[SHORT]:
        reach = real[RADIUS] + 24.0 * real[FRAME + CELL]
        away, _ = _nearest(grid[KIND], _data(real), x, y, reach)
        if away > reach:
            return
    _bound_page(lent, (x, y, real[FRAME + TOP]))
    first = (py * grid[PAGES_X] + px) * _PAGE_BLOCKS
    if not _any_below(notes, levels, np.uint64(first)):
        return
    way = grid[SHORT_WAY]
    if py * 32 + 40 >= grid[NY] or px * 32 + 40 >= grid[NX]:
        way = LONG_WAY
    if way == BALL_WAY:
        _page_with_ball(lent, (py, px, first, local))
        return
    for b in range(_PAGE_BLOCKS):
        if notes[b] > levels[first + b]:
            at = (first + b, _LAZY + local + b, py * 32 + (b >> 2) * 8, px * 32 + (b & 3) * 8)
            if way == DISC_WAY:
                _cut_block_with_disc(lent, at)
            else:
                _cut_block(lent, at)


@kernel
def _page_with_ball(lent, page):
    """Run a ball along a line over the blocks of a page (module `ball`)."""
    grid, levels, notes = int64s(lent.whole), int32s(lent.levels), int32s(lent.notes)
    work, cells, out = float32_rows(lent.work), int32s(lent.cells), int32_rows(lent.out)
    tallies, entry = tally_rows(lent.tallies), grid[ENTRY]
    py, px, first, local = page
    mixed, deepest = MIXED * grid[BLOCKS] + first, DEEP * grid[BLOCKS] + first
    signs = CUT * grid[SECTION]
    limits = (np.int32(grid[BASE]), np.int32(grid[ROW] + 1))
    u0, w0 = work[blocks.PLACE, blocks.PAGE_U], work[blocks.PLACE, blocks.PAGE_W]
    ux, uy = work[blocks.PLACE, blocks.UX], work[blocks.PLACE, blocks.UY]
    low, high = work[blocks.PLACE, blocks.FROM], work[blocks.PLACE, blocks.TO]
    half = HALF_BLOCK * work[blocks.TOOL, blocks.CELL] * (abs(ux) + abs(uy))
    far = high + half + _F32(float64s(lent.real)[OFFSET])
    for b in range(_PAGE_BLOCKS):
        if notes[b] <= levels[first + b]:
            continue
        iy, ix = py * 32 + (b >> 2) * 8, px * 32 + (b & 3) * 8
        wall = grid[RIM_DEPTH] > levels[first + b] or levels[mixed + b] != 0
        if wall or notes[b] > grid[THICK]:
            _cut_block(lent, (first + b, _LAZY + local + b, iy, ix))
            continue
        x, y = work[_MIDDLE_X, b], work[_MIDDLE_Y, b]
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
            volume, tallest, least, most = cut_at_end(
                cells, np.uint64(base), np.uint64(signs + base), work, out, limits, end
            )
        if tallest == 0:
            continue
        levels[first + b] = least
        levels[deepest + b] = most
        tallies[entry, VOLUME] += sum_of_columns(volume, tallest, out)
        if tallest > NOISE:
            _measure(lent)
            _keep_tallest(lent, iy * grid[NX] + ix, tallest)


@kernel
def _cut_block_with_disc(lent, at):
    """Run a level disc along a line over a block (module `disc`)."""
    grid, levels, cells = int64s(lent.whole), int32s(lent.levels), int32s(lent.cells)
    work, out, notes = float32_rows(lent.work), int32_rows(lent.out), int32s(lent.notes)
    block, depth = at[0], np.int32(grid[BASE])
    _place_block(work, block & 15)
    u, w = work[blocks.PLACE, blocks.U], work[blocks.PLACE, blocks.W]
    past = max(u - work[blocks.PLACE, blocks.TO], _ZERO)
    past += min(u - work[blocks.PLACE, blocks.FROM], _ZERO)
    away, radius = np.sqrt(w * w + past * past), work[blocks.TOOL, blocks.RADIUS]
    spread = _F32(_SPREAD + 1.0) * work[blocks.TOOL, blocks.CELL]
    wall = abs(away - radius) <= spread
    mixed_at = MIXED * grid[BLOCKS] + block
    mixed = wall or levels[mixed_at] != 0
    if away < radius and not mixed and _take_whole(lent, at, depth):
        return
    if notes[at[1]]:
        _fill_block(lent, block)
        notes[at[1]] = 0
    base = np.uint64(block * CELLS)
    means = np.uint64(TAKEN * grid[SECTION]) + base
    signs = np.uint64(CUT * grid[SECTION]) + base
    limits = (depth, np.int32(grid[ROW] + 1))
    if mixed and levels[mixed_at] == 0:
        begin_means(cells, base, means, np.int32(grid[THICK]))
    if wall:
        volume, tallest, least, most, parted = cut_level_at_wall(
            cells, (base, signs, means), work, out, limits
        )
        levels[mixed_at] = parted != 0
    else:
        volume, tallest, least, most = cut_level(cells, base, signs, work, out, limits)
        if mixed:
            volume, parted = cover_whole(cells, means, depth)
            levels[mixed_at] = parted != 0
    tally_rows(lent.tallies)[grid[ENTRY], VOLUME] += volume
    levels[block] = least
    levels[DEEP * grid[BLOCKS] + block] = most
    if tallest > NOISE:
        _measure(lent)
        _keep_tallest(lent, at[2] * grid[NX] + at[3], tallest)


@kernel
def _joined_beyond(lent, x, y):
    """Whether a whole page lies beyond the end that joins the piece before."""
    real, joined = float64s(lent.real), int64s(lent.whole)[JOINED]
    ux, uy = real[PIECE + UX], real[PIECE + UY]
    u = (x - real[PIECE + X]) * ux + (y - real[PIECE + Y]) * uy
    half = 16.0 * real[FRAME + CELL] * (abs(ux) + abs(uy))
    beyond = u - half - real[PIECE + LENGTH] > real[OFFSET]
    return (joined == AT_LOW and u + half < 0.0) or (joined == AT_HIGH and beyond)


@kernel
def _furthest_offset(family, radius, m):
    """How far behind the point on the surface the tool may stand on a slope m, at most."""
    if m == 0.0:
        return 0.0
    return radius * m / math.sqrt(1.0 + m * m) if family == BALL else radius


@kernel
def _any_below(notes, levels, first):
    """Whether the piece could come below the highest cell of any block of a page."""
    found = False
    for b in range(_PAGE_BLOCKS):
        found |= notes[b] > levels[first + np.uint64(b)]
    return found


@kernel
def _data(real):
    """Return the piece's numbers."""
    return (
        real[PIECE], real[PIECE + 1], real[PIECE + 2], real[PIECE + 3],
        real[PIECE + 4], real[PIECE + 5], real[PIECE + 6],
    )  # fmt: skip


@kernel
def _tool(real):
    """Return the tool's numbers."""
    return (real[0], real[1], real[2], real[3], real[4], real[5], real[6], real[7])


@kernel
def box_of(kind, data):
    """Bounding box of a piece's path in X and Y."""
    if kind == ARC or kind == HELIX:
        return arc_box(data)
    x, y = data[X], data[Y]
    end_x, end_y = x + data[UX] * data[LENGTH], y + data[UY] * data[LENGTH]
    return min(x, end_x), min(y, end_y), max(x, end_x), max(y, end_y)


@kernel
def arc_box(data):
    """Bounding box of an arc about Z."""
    radius, begin, sweep = data[A_RADIUS], data[A_BEGIN], data[A_SWEEP]
    if sweep >= 2.0 * math.pi:
        return data[X] - radius, data[Y] - radius, data[X] + radius, data[Y] + radius
    ax, ay = math.cos(begin), math.sin(begin)
    bx, by = math.cos(begin + sweep), math.sin(begin + sweep)
    low_x, low_y, high_x, high_y = min(ax, bx), min(ay, by), max(ax, bx), max(ay, by)
    first = int(math.ceil(begin / (0.5 * math.pi)))
    last = int(math.floor((begin + sweep) / (0.5 * math.pi)))
    for quarter in range(first, last + 1):
        corner = quarter % 4
        high_x = 1.0 if corner == 0 else high_x
        high_y = 1.0 if corner == 1 else high_y
        low_x = -1.0 if corner == 2 else low_x
        low_y = -1.0 if corner == 3 else low_y
    return (
        data[X] + radius * low_x, data[Y] + radius * low_y,
        data[X] + radius * high_x, data[Y] + radius * high_y,
    )  # fmt: skip


@kernel
def _nearest(kind, data, x, y, reach):
    """Distance of a point from a piece's path, and the least height of the tip within reach."""
    if kind == ARC or kind == HELIX:
        arc = (data[A_RADIUS], data[A_BEGIN], data[A_SWEEP], data[A_RISE])
        near, _ = arc_distances(x - data[X], y - data[Y], arc)
        return near, data[Z] + min(0.0, data[A_RISE] * data[A_SWEEP])
    dx, dy = x - data[X], y - data[Y]
    u, w = dx * data[UX] + dy * data[UY], dy * data[UX] - dx * data[UY]
    over = u - min(max(u, 0.0), data[LENGTH])
    first = min(max(u - reach, 0.0), data[LENGTH])
    return math.sqrt(over * over + w * w), data[Z] + data[RISE] * first


@kernel
def _steps_below(top, z):
    """Whole steps of depth of a height."""
    return np.int32(math.floor(min(max(top - z, -_MOST), _MOST) * _STEPS + 0.5))


# --------------------------------------------------------------------------------------------
# How deep a piece could come over each block of a page
# --------------------------------------------------------------------------------------------


@kernel
def _bound_page(lent, middle):
    """Greatest depth to which the piece could lower any cell of each block of a page."""
    real, grid = float64s(lent.real), int64s(lent.whole)
    work, notes = float32_rows(lent.work), int32s(lent.notes)
    kind, data = grid[KIND], _data(real)
    if kind == LINE:
        grid[BASE] = _place_line(work, data, middle)
        low, high = np.float32(-np.inf), np.float32(np.inf)
        if grid[JOINED] == AT_LOW:
            low = work[blocks.PLACE, blocks.FROM]
        elif grid[JOINED] == AT_HIGH:
            high = np.float32(work[blocks.PLACE, blocks.TO] + real[OFFSET])
        # a level disc gives its own depth and nothing else: no allowance for rounding
        slack = np.int32(0 if grid[LEVEL_FLAT] else _SLACK)
        _bound_line(work, (np.int32(grid[BASE]), slack), notes, (low, high))
        return
    rings = _rings(lent)
    tool = _tool(real)
    slack = 0 if kind == ARC and tool[RING] >= tool[RADIUS] else _SLACK
    x, y, top = middle
    spread = _SPREAD * work[blocks.TOOL, blocks.CELL]
    for b in range(_PAGE_BLOCKS):
        bx, by = x + work[_MIDDLE_X, b], y + work[_MIDDLE_Y, b]
        away, low = _nearest(kind, data, bx, by, tool[RADIUS] + spread)
        away = max(away - spread, 0.0)
        if away > tool[RADIUS] + work[blocks.TOOL, blocks.CELL]:
            notes[b] = NEVER
        else:
            low += lowest_between(tool, rings, away, np.inf)
            notes[b] = _steps_below(top, low) + slack


@kernel
def _rings(lent):
    return ring_rows(lent.rings)[: int64s(lent.whole)[RINGS]]


@kernel
def _place_line(work, data, middle):
    """Describe a line as seen from the middle of a block or page; returns its base depth."""
    x, y, top = middle
    dx, dy = x - data[X], y - data[Y]
    u = dx * data[UX] + dy * data[UY]
    nearest = min(max(u, 0.0), data[LENGTH])
    work[blocks.PLACE, blocks.U] = u - nearest
    work[blocks.PLACE, blocks.W] = dy * data[UX] - dx * data[UY]
    work[blocks.PLACE, blocks.PAGE_U] = work[blocks.PLACE, blocks.U]
    work[blocks.PLACE, blocks.PAGE_W] = work[blocks.PLACE, blocks.W]
    work[blocks.PLACE, blocks.FROM] = -nearest
    work[blocks.PLACE, blocks.TO] = data[LENGTH] - nearest
    work[blocks.PLACE, blocks.UX] = data[UX]
    work[blocks.PLACE, blocks.UY] = data[UY]
    work[blocks.PLACE, blocks.SLOPE_M] = data[RISE]
    work[blocks.PLACE, blocks.SPAN_FROM] = -nearest
    # ahead of a short move lies what it cuts with its front
    work[blocks.PLACE, blocks.SPAN_TO] = (
        max(data[LENGTH], work[blocks.TOOL, blocks.RADIUS]) - nearest
    )
    return _steps_below(top, data[Z] + data[RISE] * nearest)


@kernel
def _bound_line(work, depths, notes, open_between):
    """Greatest depth to which a line could lower any cell of each block of a page.

    Two bounds hold: the deepest tip within reach with the profile at the least distance; and the
    surface swept by the line without ends. Both taken as seen from the nearest corner of the block.
    Blocks that lie wholly beyond `open_between` along the line are left to the piece before.
    """
    base, slack = depths
    open_from, open_to = open_between
    radius, ring = work[blocks.TOOL, blocks.RADIUS], work[blocks.TOOL, blocks.RING]
    corner, blend = work[blocks.TOOL, blocks.CORNER], work[blocks.TOOL, blocks.BLEND]
    steep, cell = work[blocks.TOOL, blocks.STEEP], work[blocks.TOOL, blocks.CELL]
    u0, w0 = work[blocks.PLACE, blocks.U], work[blocks.PLACE, blocks.W]
    low, high = work[blocks.PLACE, blocks.FROM], work[blocks.PLACE, blocks.TO]
    ux, uy = work[blocks.PLACE, blocks.UX], work[blocks.PLACE, blocks.UY]
    m = work[blocks.PLACE, blocks.SLOPE_M]
    spread = _F32(_SPREAD) * cell
    half = HALF_BLOCK * cell * (abs(ux) + abs(uy))
    outer = radius + cell
    square, most = corner * corner, blend - ring
    rise = np.sqrt(_F32(1.0) + m * m)
    conical = steep > m
    cone_rise = np.sqrt(max(steep * steep - m * m, _ZERO))
    intercept = corner - np.sqrt(max(square - most * most, _ZERO)) - steep * blend
    open_line = (m > _ZERO) & ((steep <= _ZERO) | conical)
    for b in range(_PAGE_BLOCKS):
        u = u0 + ux * work[_MIDDLE_X, b] + uy * work[_MIDDLE_Y, b]
        w = w0 + ux * work[_MIDDLE_Y, b] - uy * work[_MIDDLE_X, b]
        over = max(u - high, _ZERO) + min(u - low, _ZERO)
        beside, past = max(abs(w) - half, _ZERO), max(abs(over) - half, _ZERO)
        away = max(np.sqrt(w * w + over * over) - spread, np.sqrt(beside * beside + past * past))
        r = min(away, radius)
        t = min(max(r - ring, _ZERO), most)
        first = min(max(u - radius - half, low), high)
        z = m * first + corner - np.sqrt(max(square - t * t, _ZERO)) + steep * max(r - blend, _ZERO)
        bent = min(max(beside - ring, _ZERO), corner)
        bowl = m * (u - half - ring) + corner - rise * np.sqrt(max(square - bent * bent, _ZERO))
        cone = m * (u - half) + cone_rise * beside + intercept
        endless = cone if conical else bowl
        z = max(z, endless) if open_line else z
        deep = np.int32(base - np.int32(min(z, _F32(_MOST)) * _F32(_STEPS)))
        near = (away <= outer) & (u + half >= open_from) & (u - half <= open_to)
        notes[b] = np.int32(deep + slack) if near else NEVER


# --------------------------------------------------------------------------------------------
# One piece on one block
# --------------------------------------------------------------------------------------------


@kernel
def _cut_block(lent, at):
    """Run the piece over one block that it may lower."""
    real, grid = float64s(lent.real), int64s(lent.whole)
    levels, notes = int32s(lent.levels), int32s(lent.notes)
    block, lazy, iy, ix = at
    cell = real[FRAME + CELL]
    middle = (
        real[FRAME + LOW_X] + (ix + 4) * cell,
        real[FRAME + LOW_Y] + (iy + 4) * cell,
        real[FRAME + TOP],
    )
    edge = _at_edge(lent, iy, ix)
    wall = False
    if grid[RIM_DEPTH] > levels[block]:
        radius, spread = real[RADIUS], _SPREAD * cell
        away, low = _nearest(grid[KIND], _data(real), middle[0], middle[1], radius + spread)
        if abs(away - radius) <= spread + cell:
            wall = _steps_below(middle[2], low + real[RIM]) > levels[block]
    if notes[lazy]:
        _fill_block(lent, block)
        notes[lazy] = 0
    _compute(lent, at, middle, wall)
    _take(lent, at, wall, edge)


@kernel
def _at_edge(lent, iy, ix):
    """Whether some cell of the block lies partly or wholly beyond the blank."""
    grid = int64s(lent.whole)
    if iy + 40 < grid[NY] and ix + 40 < grid[NX]:
        return False
    shares = int32s(lent.shares)
    return shares[ix + 7] != 65536 or shares[grid[PAGES_X] * 32 + iy + 7] != 65536


@kernel
def _edge_shares(lent, iy, ix):
    """Note the shares of a block's rows and columns that lie over the blank."""
    shares, notes = int32s(lent.shares), int32s(lent.notes)
    rows = int64s(lent.whole)[PAGES_X] * 32
    for k in range(8):
        notes[EDGE_SHARES + k] = shares[rows + iy + k]
        notes[EDGE_SHARES + 8 + k] = shares[ix + k]


@kernel
def _take(lent, at, wall, edge):
    """Write a block's depths to the field and count what that takes."""
    grid, cells, levels = int64s(lent.whole), int32s(lent.cells), int32s(lent.levels)
    out = int32_rows(lent.out)
    block, _, iy, ix = at
    base = np.uint64(block * CELLS)
    thick = np.int32(grid[THICK])
    if grid[TOOL_INDEX] > 0:
        tallest = touch(cells, base, out, thick)
        if tallest > NOISE:
            _keep_tallest(lent, iy * grid[NX] + ix, tallest)
        return
    if not wall and not lowers(cells, base, out):
        return
    mixed_at = MIXED * grid[BLOCKS] + block
    mixed = wall or edge or levels[mixed_at] != 0
    if mixed:
        _cover_block(lent, at, wall, edge)
    volume, tallest, least, most = lower(cells, base, out, thick)
    sign(cells, np.uint64(CUT * grid[SECTION]) + base, out, np.int32(grid[ROW] + 1))
    if mixed:
        means = np.uint64(TAKEN * grid[SECTION]) + base
        levels[mixed_at] = still_mixed(cells, base, means, thick)
    else:
        tally_rows(lent.tallies)[grid[ENTRY], VOLUME] += volume
    levels[block] = least
    levels[DEEP * grid[BLOCKS] + block] = most
    if tallest > NOISE:
        _measure(lent)
        _keep_tallest(lent, iy * grid[NX] + ix, tallest)


@kernel
def _cover_block(lent, at, wall, edge):
    """Raise the mean depths of a block through which a wall passes, and count their volume."""
    grid, cells, levels = int64s(lent.whole), int32s(lent.cells), int32s(lent.levels)
    work, out = float32_rows(lent.work), int32_rows(lent.out)
    block, _, iy, ix = at
    base, thick = np.uint64(block * CELLS), np.int32(grid[THICK])
    means = np.uint64(TAKEN * grid[SECTION]) + base
    if levels[MIXED * grid[BLOCKS] + block] == 0:
        begin_means(cells, base, means, thick)
    if not wall:
        whole_shares(work, out)
    volume = cover(cells, (base, means), out, work, thick)
    if edge:
        _edge_shares(lent, iy, ix)
        volume = weighed(out, int32s(lent.notes))
    tally_rows(lent.tallies)[grid[ENTRY], VOLUME] += volume


@kernel
def _measure(lent):
    """Widen the known width of cut by that of a block, unless it lies within."""
    work, tallies = float32_rows(lent.work), tally_rows(lent.tallies)
    entry = int64s(lent.whole)[ENTRY]
    w = work[blocks.PLACE, blocks.W]
    ux, uy = work[blocks.PLACE, blocks.UX], work[blocks.PLACE, blocks.UY]
    half = HALF_BLOCK * work[blocks.TOOL, blocks.CELL] * (abs(ux) + abs(uy))
    known = tallies[entry, LEFT], tallies[entry, RIGHT]
    if (w - half) * SIDE_STEPS > known[0] and (w + half) * SIDE_STEPS < known[1]:
        return
    left, right = sides(int32_rows(lent.out), work)
    tallies[entry, LEFT] = min(known[0], np.int64(left))
    tallies[entry, RIGHT] = max(known[1], np.int64(right))


@kernel
def _keep_tallest(lent, first, tallest):
    """Keep the tallest column; of equal ones the cell with the lowest number."""
    grid, tallies = int64s(lent.whole), tally_rows(lent.tallies)
    entry = grid[ENTRY]
    known, known_at = tallies[entry, TALLEST], tallies[entry, TALLEST_AT]
    if tallest < known or (tallest == known and first >= known_at):
        return
    k = np.int64(place_of(int32_rows(lent.out), tallest))
    at = first + (k >> 3) * grid[NX] + (k & 7)
    if tallest > known or at < known_at:
        tallies[entry, TALLEST_AT] = at
    tallies[entry, TALLEST] = tallest


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
    first, known, known_at = at[2] * grid[NX] + at[3], tallies[entry, TALLEST], tallies[entry, TALLEST_AT]
    if column > known or (column == known and first < known_at):
        tallies[entry, TALLEST] = column
        tallies[entry, TALLEST_AT] = first
    return True


@kernel
def _compute(lent, at, middle, wall):
    """Depths over a block, and the shares of its cells where a wall is near."""
    real, grid = float64s(lent.real), int64s(lent.whole)
    work, out = float32_rows(lent.work), int32_rows(lent.out)
    kind = grid[KIND]
    if kind == LINE:
        if real[FRAME + CELL] > _COARSE:
            grid[BASE] = _place_line(work, _data(real), middle)
        else:
            _place_block(work, at[0] & 15)
        if grid[LEVEL_FLAT]:
            blocks.flat_level(work, np.int32(grid[BASE]), out)
        elif real[FAMILY] == BALL:
            _ball(lent)
        else:
            if real[FAMILY] == BULL and real[PIECE + RISE] > 0.0:
                blocks.bull_offsets(work)
            else:
                blocks.tapered_offsets(work)
            blocks.line_at_offsets(work, np.int32(grid[BASE]), out)
        if wall:
            blocks.line_shares(work)
    elif kind == ARC:
        data = _data(real)
        blocks.arc_level(work, _place_arc(work, data, middle), out)
        _level_sides(work, data, middle)
    else:
        _compute_exact(work, out, _rings(lent), (kind, _tool(real)), _data(real), middle)


@kernel
def _place_block(work, b):
    """Move the view of a line from the middle of the page to that of its block b."""
    ux, uy = work[blocks.PLACE, blocks.UX], work[blocks.PLACE, blocks.UY]
    x, y = work[_MIDDLE_X, b], work[_MIDDLE_Y, b]
    work[blocks.PLACE, blocks.U] = work[blocks.PLACE, blocks.PAGE_U] + ux * x + uy * y
    work[blocks.PLACE, blocks.W] = work[blocks.PLACE, blocks.PAGE_W] + ux * y - uy * x


@kernel
def _ball(lent):
    """Depths under a ball along a line, the short way where the block allows it."""
    work, out = float32_rows(lent.work), int32_rows(lent.out)
    base = np.int32(int64s(lent.whole)[BASE])
    end = _end_of_ball(lent)
    if end == 0:
        blocks.ball_line(work, base, out)
    else:
        nearest = work[blocks.PLACE, blocks.FROM if end < 0 else blocks.TO]
        blocks.ball_line_end(work, base, out, nearest)


@kernel
def _end_of_ball(lent):
    """Which end of the line all cells of a block are nearest to: -1 lower, 1 higher, 0 neither."""
    work = float32_rows(lent.work)
    u = work[blocks.PLACE, blocks.U]
    ux, uy = work[blocks.PLACE, blocks.UX], work[blocks.PLACE, blocks.UY]
    half = HALF_BLOCK * work[blocks.TOOL, blocks.CELL] * (abs(ux) + abs(uy))
    far = work[blocks.PLACE, blocks.TO] + half + _F32(float64s(lent.real)[OFFSET])
    behind = u + half <= work[blocks.PLACE, blocks.FROM]
    return -1 if behind else (1 if u >= far else 0)


@kernel
def _place_arc(work, data, middle):
    """Describe an arc as seen from the middle of a block; returns its base depth."""
    x, y, top = middle
    radius, sweep = data[A_RADIUS], data[A_SWEEP]
    cx, cy = x - data[X], y - data[Y]
    fx, fy = math.cos(data[A_BEGIN]), math.sin(data[A_BEGIN])
    lx, ly = math.cos(data[A_BEGIN] + sweep), math.sin(data[A_BEGIN] + sweep)
    at = blocks.PLACE
    work[at, blocks.POWER] = cx * cx + cy * cy - radius * radius
    work[at, blocks.CX], work[at, blocks.CY], work[at, blocks.ARC] = cx, cy, radius
    work[at, blocks.FIRST], work[at, blocks.FX], work[at, blocks.FY] = fx * cy - fy * cx, fx, fy
    work[at, blocks.LAST], work[at, blocks.LX], work[at, blocks.LY] = cx * ly - cy * lx, lx, ly
    work[at, blocks.AX], work[at, blocks.AY] = radius * fx - cx, radius * fy - cy
    work[at, blocks.BX], work[at, blocks.BY] = radius * lx - cx, radius * ly - cy
    wide = blocks.WIDE if sweep >= math.pi else blocks.NARROW
    work[at, blocks.SECTOR] = blocks.ROUND if sweep >= 2.0 * math.pi - 1e-12 else wide
    return _steps_below(top, data[Z])


@kernel
def _level_sides(work, data, middle):
    """Put the distance from an arc, straightened at the block, where lines have their w."""
    dx, dy = middle[0] - data[X], middle[1] - data[Y]
    from_centre = max(math.hypot(dx, dy), 1e-9)
    work[blocks.PLACE, blocks.U] = 0.0
    work[blocks.PLACE, blocks.W] = from_centre - data[A_RADIUS]
    work[blocks.PLACE, blocks.UX] = dy / from_centre
    work[blocks.PLACE, blocks.UY] = -dx / from_centre
    work[blocks.PLACE, blocks.SPAN_FROM] = -np.inf
    work[blocks.PLACE, blocks.SPAN_TO] = np.inf


@kernel
def _compute_exact(work, out, rings, shape, data, middle):
    """Depths over a block cell by cell in double precision."""
    kind, tool = shape
    x, y, top = middle
    cell = work[blocks.TOOL, blocks.CELL]
    for k in range(CELLS):
        dx, dy = x + work[DX, k] - data[X], y + work[DY, k] - data[Y]
        z, away = _exact_height(tool, rings, kind, data, dx, dy)
        depth = _steps_below(top, data[Z] + z)
        out[UNDER, k] = depth
        out[INSIDE, k] = depth if away <= tool[RADIUS] + 1e-6 else NEVER
        width = (abs(dx) + abs(dy)) / max(math.hypot(dx, dy), 1e-9) * cell
        work[SHARE, k] = min(max(0.5 + (tool[RADIUS] - away) / max(width, 0.5 * cell), 0.0), 1.0)
    if kind == HELIX:
        _level_sides(work, data, middle)
    else:
        _place_line(work, data, middle)
        blocks.line_shares(work)


@kernel
def _exact_height(tool, rings, kind, data, dx, dy):
    """Height over a point above the start of a helix or steep line, and its distance."""
    if kind == HELIX:
        arc = (data[A_RADIUS], data[A_BEGIN], data[A_SWEEP], data[A_RISE])
        near, far = arc_distances(dx, dy, arc)
        if data[A_RISE] == 0.0:
            return lowest_between(tool, rings, near, far), near
        return helix_height(tool, dx, dy, arc), near
    u, w = dx * data[UX] + dy * data[UY], dy * data[UX] - dx * data[UY]
    over = u - min(max(u, 0.0), data[LENGTH])
    z = line_height(tool, rings, u, w, (data[RISE], data[LENGTH]))
    return z, math.sqrt(over * over + w * w)


@kernel
def _fill_block(lent, block):
    """Write out the cells of a block that was lowered as a whole."""
    cells, levels = int32s(lent.cells), int32s(lent.levels)
    base = np.uint64(block * CELLS)
    signs = np.uint64(CUT * int64s(lent.whole)[SECTION]) + base
    depth, by = levels[block], cells[signs]
    for k in range(CELLS):
        cells[base + np.uint64(k)] = depth
    for k in range(CELLS):
        cells[signs + np.uint64(k)] = by


@kernel
def _fill_lazy(lent):
    """Write out all blocks of the tile that were lowered as a whole."""
    grid, notes = int64s(lent.whole), int32s(lent.notes)
    for i in range(grid[TILE_PAGES] * grid[TILE_PAGES] * _PAGE_BLOCKS):
        if notes[_LAZY + i]:
            number = _page_number(grid, i // _PAGE_BLOCKS)
            _fill_block(lent, number * _PAGE_BLOCKS + i % _PAGE_BLOCKS)
            notes[_LAZY + i] = 0


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


assert DEPTH == 0 and HIGH == 0
