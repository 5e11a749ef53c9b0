"""Cutting tiles of the field: which blocks a motion can reach, and what it does to each.

Motions come as pieces (module `paths`), sorted into tiles (module `tiles`). Inside a tile they run
in program order; tiles share nothing, so threads take whole tiles. Most of a cutter's footprint
lies over what was cut before: a block is only computed when the lowest the cutter could come over
it is below the highest of its cells.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.jit import kernel
from dryrun.removal import blocks
from dryrun.removal.blocks import CELLS, DX, DY, INSIDE, NEVER, SHARE, UNDER
from dryrun.removal.commit import (
    LEFT,
    NOISE,
    RIGHT,
    SIDE_STEPS,
    TALLEST,
    TALLEST_AT,
    TALLY,
    VOLUME,
    lowers,
    take_mixed,
    take_plain,
    touch,
    weigh_edge,
)
from dryrun.removal.exact import (
    arc_distances,
    helix_height,
    line_height,
    lowest_between,
)
from dryrun.removal.profile import (
    BALL,
    BLEND,
    BULL,
    CORNER,
    FAMILY,
    FORM,
    RADIUS,
    RING,
    SLOPE,
)

#: Kinds of pieces. The vector code takes LINE and ARC; what has no vector form is STEEP
#: (a line) or HELIX (any arc about Z).
LINE: Final = 0
ARC: Final = 1
STEEP: Final = 2
HELIX: Final = 3

#: Columns of a piece's data for a line from its lower end ...
X, Y, Z, UX, UY, LENGTH, RISE = range(7)
#: ... and for an arc, counter-clockwise: centre, height of the start, radius, angle of the start,
#: sweep, rise per radian.
A_RADIUS, A_BEGIN, A_SWEEP, A_RISE = 3, 4, 5, 6
DATA: Final = 7

_STEPS: Final = 2.0**20
_MOST: Final = 1000.0
_SLACK: Final = 2100
_PAGE_CELLS: Final = 1024
_PAGE_BLOCKS: Final = 16
_F32: Final = np.float32
_ZERO: Final = np.float32(0.0)


class Pieces(NamedTuple):
    """Parts of motions with one closed form each, in program order.

    kind : int32 (n,) LINE, ARC, STEEP or HELIX
    row : int32 (n,) motion row
    tool : int32 (n,) 0 the cutter; others are discs that must not touch
    data : float64 (n, 7)
    """

    kind: NDArray[np.int32]
    row: NDArray[np.int32]
    tool: NDArray[np.int32]
    data: NDArray[np.float64]


class Tools(NamedTuple):
    """Profiles: `numbers` float64 (t, 8), the cutter first; `rings` of the cutter's form."""

    numbers: NDArray[np.float64]
    rings: NDArray[np.float64]


class Flat(NamedTuple):
    """The arrays of a `surface.Field`, flattened, and (pages_y, pages_x, ny, nx)."""

    depth: NDArray[np.int32]
    taken: NDArray[np.int32]
    cut: NDArray[np.int32]
    high: NDArray[np.int32]
    deep: NDArray[np.int32]
    mixed: NDArray[np.uint8]
    frame: NDArray[np.float64]
    share_x: NDArray[np.int32]
    share_y: NDArray[np.int32]
    grid: NDArray[np.int64]


class Bins(NamedTuple):
    """Pieces by tile: those of tile t are piece[first[t] : first[t + 1]].

    shape : int64 (tiles_x, pages along a tile's side)
    """

    first: NDArray[np.int64]
    piece: NDArray[np.int32]
    shape: NDArray[np.int64]


class Space(NamedTuple):
    """Work space of one thread."""

    work: NDArray[np.float32]
    out: NDArray[np.int32]
    coarse: NDArray[np.float32]
    bound: NDArray[np.int32]
    lazy: NDArray[np.uint8]
    before: NDArray[np.int32]


@kernel
def cut_tiles(field, pieces, tools, bins, todo, tallies):
    """Run the pieces of some tiles. `tallies` has a row for each entry of the bins."""
    space = _work_space(field.frame[2], bins.shape[1])
    for tile in todo:
        entry, end = bins.first[tile], bins.first[tile + 1]
        while entry < end:
            after = _end_of_row(pieces, bins, entry, end)
            many = after - entry > 1
            if many:
                _fill_lazy(field, bins, tile, space.lazy)
                _remember(field, bins, tile, space.before)
            for one in range(entry, after):
                tally = tallies[one]
                tally[VOLUME] = 0
                tally[TALLEST] = 0
                tally[TALLEST_AT] = -1
                tally[LEFT] = 2**31 - 1
                tally[RIGHT] = -(2**31 - 1)
                _visit(field, pieces, tools, bins, (tile, bins.piece[one]), space, tally)
            if many:
                _fill_lazy(field, bins, tile, space.lazy)
                row = pieces.row[bins.piece[entry]]
                _columns_of_row(field, bins, (tile, row), space, tallies[entry:after])
            entry = after
        _fill_lazy(field, bins, tile, space.lazy)


@kernel
def _end_of_row(pieces, bins, entry, end):
    """First entry after those of the cutter in the same row (one, for a disc that only touches)."""
    index = bins.piece[entry]
    entry += 1
    while (
        entry < end
        and pieces.tool[index] == 0
        and pieces.tool[bins.piece[entry]] == 0
        and pieces.row[bins.piece[entry]] == pieces.row[index]
    ):
        entry += 1
    return entry


@kernel
def _remember(field, bins, tile, before):
    """Copy the depths of a tile as they are before a row of several pieces."""
    side = bins.shape[1]
    for page in range(side * side):
        number = _page_number(field, bins, tile, page)
        if number >= 0:
            for i in range(_PAGE_CELLS):
                before[page * _PAGE_CELLS + i] = field.depth[number * _PAGE_CELLS + i]


@kernel
def _page_number(field, bins, tile, page):
    """Number of a page of a tile in the field; -1 beyond it."""
    side = bins.shape[1]
    py = (tile // bins.shape[0]) * side + page // side
    px = (tile % bins.shape[0]) * side + page % side
    if py >= field.grid[0] or px >= field.grid[1]:
        return -1
    return py * field.grid[1] + px


@kernel
def _columns_of_row(field, bins, where, space, tallies):
    """Find the tallest column that all pieces of a row took together; counts for the first."""
    tile, row = where
    thick = np.int64(field.frame[4])
    best, best_at = np.int64(NOISE), np.int64(-1)
    for page in range(bins.shape[1] * bins.shape[1]):
        number = _page_number(field, bins, tile, page)
        if number < 0:
            continue
        first_y = (number // field.grid[1]) * 32
        first_x = (number % field.grid[1]) * 32
        for i in range(_PAGE_CELLS):
            old, new = space.before[page * _PAGE_CELLS + i], field.depth[number * _PAGE_CELLS + i]
            if new - old <= NOISE:
                continue
            field.cut[number * _PAGE_CELLS + i] = row + 1
            column = min(np.int64(new), thick) - min(np.int64(old), thick)
            iy = first_y + (i >> 8) * 8 + ((i >> 3) & 7)
            ix = first_x + ((i >> 6) & 3) * 8 + (i & 7)
            at = iy * field.grid[3] + ix
            if column > best or (column == best and at < best_at):
                best, best_at = column, at
    for one in range(len(tallies)):
        tallies[one, TALLEST] = 0
    if best_at >= 0:
        tallies[0, TALLEST] = best
        tallies[0, TALLEST_AT] = best_at


@kernel
def _work_space(cell, side):
    work = np.zeros((blocks.WORK_ROWS, CELLS), np.float32)
    for k in range(CELLS):
        work[DX, k] = ((k & 7) - 3.5) * cell
        work[DY, k] = ((k >> 3) - 3.5) * cell
    work[blocks.TOOL, blocks.CELL] = cell
    coarse = np.zeros((2, _PAGE_BLOCKS), np.float32)
    for b in range(_PAGE_BLOCKS):
        coarse[0, b] = ((b & 3) - 1.5) * 8.0 * cell
        coarse[1, b] = ((b >> 2) - 1.5) * 8.0 * cell
    out = np.zeros((2, CELLS), np.int32)
    bound = np.zeros(_PAGE_BLOCKS, np.int32)
    lazy = np.zeros(side * side * _PAGE_BLOCKS, np.uint8)
    before = np.zeros(side * side * _PAGE_CELLS, np.int32)
    return Space(work, out, coarse, bound, lazy, before)


@kernel
def _visit(field, pieces, tools, bins, where, space, tally):
    """Run one piece over those pages of one tile that it may reach."""
    tile, index = where
    tool = tools.numbers[pieces.tool[index]]
    for i in range(blocks.CELL):
        space.work[blocks.TOOL, i] = tool[i]
    low_x, low_y, high_x, high_y = box_of(pieces.kind[index], pieces.data[index])
    reach = tool[RADIUS] + field.frame[2]
    side = bins.shape[1]
    first_y = (tile // bins.shape[0]) * side
    first_x = (tile % bins.shape[0]) * side
    page_size = 32.0 * field.frame[2]
    y0 = max(first_y, int(math.floor((low_y - reach - field.frame[1]) / page_size)))
    x0 = max(first_x, int(math.floor((low_x - reach - field.frame[0]) / page_size)))
    y1 = min(min(first_y + side, field.grid[0]) - 1,
             int(math.floor((high_y + reach - field.frame[1]) / page_size)))  # fmt: skip
    x1 = min(min(first_x + side, field.grid[1]) - 1,
             int(math.floor((high_x + reach - field.frame[0]) / page_size)))  # fmt: skip
    for py in range(y0, y1 + 1):
        for px in range(x0, x1 + 1):
            local = ((py - first_y) * side + px - first_x) * _PAGE_BLOCKS
            _cut_page(field, pieces, tools, index, (py, px, local), space, tally)


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
    for quarter in range(math.ceil(begin / (0.5 * math.pi)),
                         math.floor((begin + sweep) / (0.5 * math.pi)) + 1):  # fmt: skip
        corner = quarter % 4
        high_x = 1.0 if corner == 0 else high_x
        high_y = 1.0 if corner == 1 else high_y
        low_x = -1.0 if corner == 2 else low_x
        low_y = -1.0 if corner == 3 else low_y
    return (data[X] + radius * low_x, data[Y] + radius * low_y,
            data[X] + radius * high_x, data[Y] + radius * high_y)  # fmt: skip


@kernel
def _cut_page(field, pieces, tools, index, page, space, tally):
    """Run one piece over the blocks of a page."""
    py, px, local = page
    kind, data = pieces.kind[index], pieces.data[index]
    tool_index = pieces.tool[index]
    tool = tools.numbers[tool_index]
    cell = field.frame[2]
    x = field.frame[0] + (px * 32 + 16) * cell
    y = field.frame[1] + (py * 32 + 16) * cell
    away, _ = _nearest(kind, data, x, y, 0.0)
    if away > tool[RADIUS] + 24.0 * cell:
        return
    if kind == LINE:
        base = _place_line(space.work, data, (x, y, field.frame[3]))
        _bound_line(space.work, space.coarse, base, tool[FAMILY], space.bound)
    else:
        _bound_exact(tools, tool_index, (kind, data), (x, y, field.frame[3]), space)
    number = py * field.grid[1] + px
    for b in range(_PAGE_BLOCKS):
        if space.bound[b] > field.high[number * _PAGE_BLOCKS + b]:
            at = (
                number * _PAGE_BLOCKS + b,
                local + b,
                py * 32 + (b >> 2) * 8,
                px * 32 + (b & 3) * 8,
            )
            _cut_block(field, pieces, tools, index, at, space, tally)


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
    return np.int32(round(min(max(top - z, -_MOST), _MOST) * _STEPS))


@kernel
def _place_line(work, data, middle):
    """Describe a line as seen from the middle of a block or page; returns its base depth."""
    x, y, top = middle
    dx, dy = x - data[X], y - data[Y]
    u = dx * data[UX] + dy * data[UY]
    nearest = min(max(u, 0.0), data[LENGTH])
    place = work[blocks.PLACE]
    place[blocks.U] = u - nearest
    place[blocks.W] = dy * data[UX] - dx * data[UY]
    place[blocks.FROM] = -nearest
    place[blocks.TO] = data[LENGTH] - nearest
    place[blocks.UX] = data[UX]
    place[blocks.UY] = data[UY]
    place[blocks.SLOPE_M] = data[RISE]
    place[blocks.SPAN_FROM] = -nearest
    # ahead of a short move lies what it cuts with its front
    place[blocks.SPAN_TO] = max(data[LENGTH], work[blocks.TOOL, RADIUS]) - nearest
    return _steps_below(top, data[Z] + data[RISE] * nearest)


@kernel
def _bound_line(work, coarse, base, family, bound):
    """Greatest depth to which a line could lower any cell of each block of a page.

    Two bounds hold: the deepest tip within reach with the profile at the least distance; and the
    surface swept by the line without ends. Both taken as seen from the nearest corner of the block.
    """
    radius, ring, corner = (
        work[blocks.TOOL, RADIUS],
        work[blocks.TOOL, RING],
        work[blocks.TOOL, CORNER],
    )
    blend, steep, cell = (
        work[blocks.TOOL, BLEND],
        work[blocks.TOOL, SLOPE],
        work[blocks.TOOL, blocks.CELL],
    )
    u0, w0 = work[blocks.PLACE, blocks.U], work[blocks.PLACE, blocks.W]
    low, high = work[blocks.PLACE, blocks.FROM], work[blocks.PLACE, blocks.TO]
    ux, uy, m = (
        work[blocks.PLACE, blocks.UX],
        work[blocks.PLACE, blocks.UY],
        work[blocks.PLACE, blocks.SLOPE_M],
    )
    spread = _F32(4.96) * cell
    outer = radius + cell
    square, most = corner * corner, blend - ring
    rise = np.sqrt(_F32(1.0) + m * m)
    conical = steep > m
    cone_rise = np.sqrt(max(steep * steep - m * m, _ZERO))
    intercept = corner - np.sqrt(max(square - most * most, _ZERO)) - steep * blend
    open_line = (m > _ZERO) & ((steep <= _ZERO) | conical)
    for b in range(_PAGE_BLOCKS):
        u = u0 + ux * coarse[0, b] + uy * coarse[1, b]
        w = w0 + ux * coarse[1, b] - uy * coarse[0, b]
        over = max(u - high, _ZERO) + min(u - low, _ZERO)
        away = max(np.sqrt(w * w + over * over) - spread, _ZERO)
        r = min(away, radius)
        t = min(max(r - ring, _ZERO), most)
        first = min(max(u - radius - spread, low), high)
        z = m * first + corner - np.sqrt(max(square - t * t, _ZERO)) + steep * max(r - blend, _ZERO)
        beside = abs(w) - spread
        past = min(max(beside - ring, _ZERO), corner)
        bowl = m * (u - spread - ring) + corner - rise * np.sqrt(max(square - past * past, _ZERO))
        cone = m * (u - spread) + cone_rise * max(beside, _ZERO) + intercept
        endless = cone if conical else bowl
        z = max(z, endless) if open_line else z
        deep = np.int32(base - np.int32(min(z, _F32(_MOST)) * _F32(_STEPS)))
        bound[b] = np.int32(deep + _SLACK) if away <= outer else NEVER


@kernel
def _bound_exact(tools, tool_index, piece, middle, space):
    """Greatest depth to which an arc, helix or steep line could lower each block of a page."""
    kind, data = piece
    x, y, top = middle
    tool = tools.numbers[tool_index]
    cell = space.work[blocks.TOOL, blocks.CELL]
    spread = 4.96 * cell
    for b in range(_PAGE_BLOCKS):
        away, low = _nearest(
            kind, data, x + space.coarse[0, b], y + space.coarse[1, b], tool[RADIUS] + spread
        )
        away = max(away - spread, 0.0)
        if away > tool[RADIUS] + cell:
            space.bound[b] = NEVER
        else:
            low += lowest_between(tool, tools.rings, away, np.inf)
            space.bound[b] = _steps_below(top, low) + _SLACK


@kernel
def _cut_block(field, pieces, tools, index, at, space, tally):
    """Run one piece over one block that it may lower."""
    block, lazy, iy, ix = at
    kind, data = pieces.kind[index], pieces.data[index]
    tool_index = pieces.tool[index]
    tool = tools.numbers[tool_index]
    cell = field.frame[2]
    x = field.frame[0] + (ix + 4) * cell
    y = field.frame[1] + (iy + 4) * cell
    spread = 4.96 * cell
    away, low = _nearest(kind, data, x, y, tool[RADIUS] + spread)
    rim = _steps_below(
        field.frame[3], low + lowest_between(tool, tools.rings, tool[RADIUS], np.inf)
    )
    wall = abs(away - tool[RADIUS]) <= spread + cell and rim > field.high[block]
    base = np.uint64(block * CELLS)
    # (1 + row, thickness, first cell's number, cells along X, taken counts, a wall is here)
    mark = (
        np.int64(pieces.row[index]) + 1, np.int64(field.frame[4]), iy * field.grid[3] + ix,
        field.grid[3], np.int64(field.mixed[block]), np.int64(wall),
    )  # fmt: skip
    edge = _at_edge(field, iy, ix)
    level = kind == LINE and data[RISE] == 0.0 and tool[RING] >= tool[RADIUS]
    if level and tool_index == 0 and away + spread <= tool[RADIUS] and not edge:
        if _take_whole(
            field,
            (block, lazy),
            _steps_below(field.frame[3], data[Z]),
            mark,
            space,
            tally,
            data,
            (x, y),
        ):
            return
    if space.lazy[lazy]:
        _fill_block(field, block)
        space.lazy[lazy] = 0
    _compute(field, tools, (kind, data, tool_index, wall), (x, y, field.frame[3]), level, space)
    if tool_index > 0:
        touch(field.depth, base, space.out, mark, tally)
    elif wall or lowers(field.depth, base, space.out):
        _take(field, (block, iy, ix, edge), base, mark, space, tally)


@kernel
def _at_edge(field, iy, ix):
    """Whether some cell of the block lies partly or wholly beyond the blank."""
    return field.share_x[ix + 7] != 65536 or field.share_y[iy + 7] != 65536


@kernel
def _take_whole(field, at, depth, mark, space, tally, data, middle):
    """Lower a block of one depth to another one: known without looking at its cells."""
    block, lazy = at
    old = field.high[block]
    if old != field.deep[block] or field.mixed[block] or np.int32(depth - old) <= NOISE:
        return False
    x, y = middle
    w = (y - data[Y]) * data[UX] - (x - data[X]) * data[UY]
    u = (x - data[X]) * data[UX] + (y - data[Y]) * data[UY]
    half = 3.5 * field.frame[2] * (abs(data[UX]) + abs(data[UY]))
    if u < half or u + half > data[LENGTH]:
        return False
    thick = mark[1]
    column = min(np.int64(depth), thick) - min(np.int64(old), thick)
    field.high[block] = depth
    field.deep[block] = depth
    field.cut[block * CELLS] = mark[0]
    space.lazy[lazy] = 1
    if column <= NOISE:
        tally[VOLUME] += CELLS * column
        return True
    tally[VOLUME] += CELLS * column
    tally[LEFT] = min(tally[LEFT], int(math.floor((w - half) * SIDE_STEPS)))
    tally[RIGHT] = max(tally[RIGHT], int(math.floor((w + half) * SIDE_STEPS)))
    if column > tally[TALLEST] or (column == tally[TALLEST] and mark[2] < tally[TALLEST_AT]):
        tally[TALLEST] = column
        tally[TALLEST_AT] = mark[2]
    return True


@kernel
def _compute(field, tools, piece, middle, level, space):
    """Depths over a block, and the shares of its cells where a wall is near."""
    kind, data, tool_index, wall = piece
    family = tools.numbers[tool_index, FAMILY]
    work, out = space.work, space.out
    if kind == LINE:
        base = _place_line(work, data, middle)
        if level:
            blocks.flat_level(work, base, out)
        elif family == BALL:
            blocks.ball_line(work, base, out)
        else:
            if family == BULL and data[RISE] > 0.0:
                blocks.bull_offsets(work)
            else:
                blocks.tapered_offsets(work)
            blocks.line_at_offsets(work, base, out)
        if wall:
            blocks.line_shares(work)
    elif kind == ARC:
        base = _place_arc(work, data, middle)
        blocks.arc_level(work, base, out)
        _level_sides(work, data, middle)
    else:
        _exact_block(tools, tool_index, (kind, data), middle, space)


@kernel
def _place_arc(work, data, middle):
    """Describe an arc as seen from the middle of a block; returns its base depth."""
    x, y, top = middle
    place = work[blocks.PLACE]
    radius, sweep = data[A_RADIUS], data[A_SWEEP]
    cx, cy = x - data[X], y - data[Y]
    fx, fy = math.cos(data[A_BEGIN]), math.sin(data[A_BEGIN])
    lx, ly = math.cos(data[A_BEGIN] + sweep), math.sin(data[A_BEGIN] + sweep)
    place[blocks.POWER] = cx * cx + cy * cy - radius * radius
    place[blocks.CX], place[blocks.CY], place[blocks.ARC] = cx, cy, radius
    place[blocks.FIRST], place[blocks.FX], place[blocks.FY] = fx * cy - fy * cx, fx, fy
    place[blocks.LAST], place[blocks.LX], place[blocks.LY] = cx * ly - cy * lx, lx, ly
    place[blocks.AX], place[blocks.AY] = radius * fx - cx, radius * fy - cy
    place[blocks.BX], place[blocks.BY] = radius * lx - cx, radius * ly - cy
    wide = blocks.WIDE if sweep >= math.pi else blocks.NARROW
    place[blocks.SECTOR] = blocks.ROUND if sweep >= 2.0 * math.pi - 1e-12 else wide
    return _steps_below(top, data[Z])


@kernel
def _level_sides(work, data, middle):
    """Put the distance from an arc, straightened at the block, where lines have their w."""
    dx, dy = middle[0] - data[X], middle[1] - data[Y]
    from_centre = max(math.hypot(dx, dy), 1e-9)
    work[blocks.PLACE, blocks.W] = from_centre - data[A_RADIUS]
    work[blocks.PLACE, blocks.UX] = dy / from_centre
    work[blocks.PLACE, blocks.UY] = -dx / from_centre
    work[blocks.PLACE, blocks.SPAN_FROM] = -np.inf
    work[blocks.PLACE, blocks.SPAN_TO] = np.inf


@kernel
def _exact_block(tools, tool_index, piece, middle, space):
    """Depths over a block cell by cell in double precision."""
    kind, data = piece
    x, y, top = middle
    tool = tools.numbers[tool_index]
    work, out = space.work, space.out
    cell = work[blocks.TOOL, blocks.CELL]
    for k in range(CELLS):
        dx, dy = x + work[DX, k] - data[X], y + work[DY, k] - data[Y]
        z, away = _exact_height(tool, tools.rings, kind, data, dx, dy)
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
def _take(field, at, base, mark, space, tally):
    """Write a block's depths to the field and count what that takes."""
    block, iy, ix, edge = at
    if mark[4] == 0 and mark[5] == 0 and not edge:
        least, most = take_plain(field.depth, field.cut, base, space.out, space.work, mark, tally)
        field.high[block] = least
        field.deep[block] = most
        return
    before = tally[VOLUME]
    rows = (field.depth, field.taken, field.cut)
    least, most, mixed = take_mixed(rows, base, space.out, space.work, mark, tally)
    field.high[block] = least
    field.deep[block] = most
    field.mixed[block] = mixed
    if edge:
        shares = np.empty((2, 8), np.int32)
        for k in range(8):
            shares[0, k] = field.share_y[iy + k]
            shares[1, k] = field.share_x[ix + k]
        weigh_edge(space.out, before, shares, tally)


@kernel
def _fill_block(field, block):
    """Write out the cells of a block that was lowered as a whole."""
    base = np.uint64(block * CELLS)
    depth, by = field.high[block], field.cut[block * CELLS]
    for k in range(CELLS):
        field.depth[base + np.uint64(k)] = depth
        field.cut[base + np.uint64(k)] = by


@kernel
def _fill_lazy(field, bins, tile, lazy):
    for i in range(len(lazy)):
        if lazy[i]:
            number = _page_number(field, bins, tile, i // _PAGE_BLOCKS)
            _fill_block(field, number * _PAGE_BLOCKS + i % _PAGE_BLOCKS)
            lazy[i] = 0


@kernel
def gather(pieces, bins, tallies, cells, rows):
    """Sum the tallies of all tiles into one row for each motion row of the cutter.

    `cells` is the number of the first row in `rows`.
    """
    for entry in range(len(bins.piece)):
        index = bins.piece[entry]
        if pieces.tool[index] == 0:
            merge(tallies[entry], rows[pieces.row[index] - cells])


@kernel
def merge(tally, total):
    """Add one tally to another; nothing here depends on the order."""
    total[VOLUME] += tally[VOLUME]
    total[LEFT] = min(total[LEFT], tally[LEFT])
    total[RIGHT] = max(total[RIGHT], tally[RIGHT])
    higher = tally[TALLEST] > total[TALLEST]
    same = tally[TALLEST] == total[TALLEST] and tally[TALLEST] > 0
    if higher or (same and tally[TALLEST_AT] < total[TALLEST_AT]):
        total[TALLEST] = tally[TALLEST]
        total[TALLEST_AT] = tally[TALLEST_AT]


assert TALLY == 5 and FORM == 3
