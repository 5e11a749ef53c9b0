"""One piece on one block, step by step: depths, then cutting, then counting.

This way holds for every shape, path and place. Balls and level discs have shorter ones (module
`shortcuts`).
"""

# mypy: ignore-errors
# kernels: numba types them when they run

from __future__ import annotations

import math
from typing import Final

import numpy as np

from dryrun.jit import inlined_kernel, inner_kernel
from dryrun.removal import blocks, strips
from dryrun.removal.blocks import (
    CELLS,
    DX,
    DY,
    HALF_BLOCK,
    INSIDE,
    NEVER,
    ONWARD,
)
from dryrun.removal.commit import (
    BOTH,
    DEEP,
    EDGE_SHARES,
    LEFT,
    MIXED,
    NOISE,
    RIGHT,
    SIDE_STEPS,
    SIGNS,
    TALLEST,
    TALLEST_AT,
    VOLUME,
    WHOLE,
    axial_depths,
    axial_depths_along,
    begin_means,
    centre_means,
    cover,
    lower,
    lowers,
    may_be_deeper,
    place_of,
    sides,
    sign,
    still_mixed,
    touch,
    weighed,
)
from dryrun.removal.exact import (
    height_over,
    lowest_between,
    turned,
)
from dryrun.removal.ground import (
    A_BEGIN,
    A_RADIUS,
    A_RISE,
    A_SWEEP,
    ARC,
    BASE,
    BLOCKS,
    CELL,
    COARSE,
    ENTRY,
    FRAME,
    GOES_ON,
    HELIX,
    KIND,
    LENGTH,
    LEVEL_FLAT,
    LINE,
    LOW_X,
    LOW_Y,
    NX,
    NY,
    OFFSET,
    PAGES_X,
    PIECE,
    RISE,
    ROW,
    THICK,
    TIP_DEPTH,
    TOOL_INDEX,
    TOP,
    UX,
    UY,
    WHOLE_SHARE,
    WHOLLY,
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
from dryrun.removal.means import bends, means_along_line, means_exact, see_parts, settle_line
from dryrun.removal.profile import (
    BALL,
    BULL,
    FAMILY,
    RADIUS,
)
from dryrun.removal.view import (
    level_sides,
    piece_of,
    place_arc,
    place_block,
    place_line,
    rings_of,
    see_whole_cells,
    steps_below,
    tool_of,
)

_F32: Final = np.float32


@inner_kernel
def cut_block(lent, at, ball, arcs, exact):
    """Run the piece over one block that it may lower."""
    real, grid = float64s(lent.real), int64s(lent.whole)
    levels = int32s(lent.levels)
    block, _, iy, ix = at
    cell = real[FRAME + CELL]
    middle = (
        real[FRAME + LOW_X] + (ix + 4) * cell,
        real[FRAME + LOW_Y] + (iy + 4) * cell,
        real[FRAME + TOP],
    )
    edge = at_edge(lent, iy, ix)
    bent = bends(lent, block, middle) or (edge and grid[TOOL_INDEX] == 0)
    if levels[WHOLE * grid[BLOCKS] + block]:
        fill_block(lent, block)
    _compute(lent, at, (middle, bent, edge), ball, arcs, exact)
    _take(lent, at, (bent, edge), arcs, exact)


@inner_kernel
def at_edge(lent, iy, ix):
    """Whether some cell of the block lies partly or wholly beyond the blank."""
    grid = int64s(lent.whole)
    if iy + 40 < grid[NY] and ix + 40 < grid[NX]:
        return False
    shares = int32s(lent.shares)
    in_part = shares[grid[PAGES_X] * 32 + iy + 7] != WHOLE_SHARE
    return shares[ix + 7] != WHOLE_SHARE or in_part


@inner_kernel
def _compute(lent, at, seen, ball, arcs, exact):
    """Depths over a block, and mean depths of its cells where the surface bends.

    `seen` is its middle, whether the surface bends, and whether it lies partly beyond the blank.
    """
    middle, bent, edge = seen
    real, grid = float64s(lent.real), int64s(lent.whole)
    work, kind = float32_rows(lent.work), grid[KIND]
    if kind == LINE:
        if real[FRAME + CELL] > COARSE:
            grid[BASE] = place_line(work, piece_of(real), middle)
        else:
            place_block(work, at[0] & 15)
        blocks.see_line(work)
        if bent:
            means_along_line(lent, at, edge, ball)
        _compute_line(lent, ball)
        if bent:
            settle_line(lent, edge, ball)
    elif kind == ARC:
        if arcs is not None:
            _compute_arc(lent, at, seen)
    elif exact is not None:
        _compute_exact(lent, middle)
        if bent:
            means_exact(lent, at, middle, edge)


@inner_kernel
def _compute_arc(lent, at, seen):
    """Depths over a block along a level arc, and mean depths of its cells where the surface bends."""
    middle, bent, edge = seen
    real, grid = float64s(lent.real), int64s(lent.whole)
    work, out, data = float32_rows(lent.work), int32_rows(lent.out), piece_of(real)
    thick = np.int32(grid[THICK])
    base = place_arc(work, data, middle)
    if edge and bent:
        see_parts(lent, at)
    blocks.arc_level(work, base, out)
    if bent:
        strips.mean_along_arc(work, (base, thick), out)
        if edge:
            see_whole_cells(work, real[FRAME + CELL])
            blocks.arc_level(work, base, out)
        strips.settle(work, out, thick, edge or grid[WHOLLY] != 0)
    level_sides(work, data, middle)


@inner_kernel
def _compute_line(lent, ball):
    """Depths over a block along a line."""
    real, grid = float64s(lent.real), int64s(lent.whole)
    work, out = float32_rows(lent.work), int32_rows(lent.out)
    base = np.int32(grid[BASE])
    if grid[LEVEL_FLAT]:
        blocks.flat_level(work, base, out)
    elif real[FAMILY] == BALL:
        if ball is not None:
            _ball(lent)
    else:
        blocks.line_depths(work, base, out, real[FAMILY] == BULL and real[PIECE + RISE] > 0.0)


@inner_kernel
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


@inner_kernel
def _end_of_ball(lent):
    """Which end of the line all cells of a block are nearest to: -1 lower, 1 higher, 0 neither."""
    work = float32_rows(lent.work)
    u = work[blocks.PLACE, blocks.U]
    ux, uy = work[blocks.PLACE, blocks.UX], work[blocks.PLACE, blocks.UY]
    half = HALF_BLOCK * work[blocks.TOOL, blocks.CELL] * (abs(ux) + abs(uy))
    far = work[blocks.PLACE, blocks.TO] + half + _F32(float64s(lent.real)[OFFSET])
    behind = u + half <= work[blocks.PLACE, blocks.FROM]
    return -1 if behind else (1 if u >= far else 0)


@inner_kernel
def _compute_exact(lent, middle):
    """Depths over a block cell by cell in double precision."""
    real, kind = float64s(lent.real), int64s(lent.whole)[KIND]
    work, out = float32_rows(lent.work), int32_rows(lent.out)
    data, tool, rings = piece_of(real), tool_of(real), rings_of(lent)
    x, y, top = middle
    for k in range(CELLS):
        dx, dy = x + work[DX, k] - data[X], y + work[DY, k] - data[Y]
        z, away = height_over(tool, rings, kind, data, dx, dy)
        out[INSIDE, k] = steps_below(top, data[Z] + z) if away <= tool[RADIUS] + 1e-6 else NEVER
    if kind == HELIX:
        level_sides(work, data, middle)
    else:
        place_line(work, data, middle)


@inner_kernel
def _take(lent, at, seen, arcs, exact):
    """Write a block's depths to the field and count what that takes.

    `seen` is whether the surface bends, and whether the block lies partly beyond the blank.
    """
    bent, edge = seen
    grid, cells, levels = int64s(lent.whole), int32s(lent.cells), int32s(lent.levels)
    out = int32_rows(lent.out)
    block, local, iy, ix = at
    base = np.uint64(block * BOTH)
    thick = np.int32(grid[THICK])
    if grid[TOOL_INDEX] > 0:
        tallest = touch(cells, base, out, thick)
        if tallest > NOISE:
            keep_tallest(lent, iy * grid[NX] + ix, tallest)
        return
    mixed_at = MIXED * grid[BLOCKS] + block
    mixed = bent or levels[mixed_at] != 0
    if not mixed and not lowers(cells, base, out):
        return
    mixed |= edge
    if mixed:
        _cover_block(lent, at, bent, edge)
    volume, tallest, least, most = lower(cells, base, out, thick)
    sign(cells, base, out, np.int32(grid[ROW] + 1))
    if mixed:
        means, taken = np.uint64(local * CELLS), int32s(lent.means)
        levels[mixed_at], shallowest = still_mixed(cells, base, taken, means, thick)
        if shallowest < thick:
            least = min(least, shallowest)
    else:
        tally_rows(lent.tallies)[grid[ENTRY], VOLUME] += volume
    before = levels[block]
    levels[block] = least
    levels[DEEP * grid[BLOCKS] + block] = most
    if tallest > NOISE:
        if may_widen(lent):
            measure(lent)
        keep_axial(lent, at, (tallest, before), arcs, exact)


@inner_kernel
def _cover_block(lent, at, bent, edge):
    """Raise the mean depths of a block through which a wall passes, and count their volume."""
    grid, cells, levels = int64s(lent.whole), int32s(lent.cells), int32s(lent.levels)
    out = int32_rows(lent.out)
    block, local, iy, ix = at
    base, thick = np.uint64(block * BOTH), np.int32(grid[THICK])
    means, taken = np.uint64(local * CELLS), int32s(lent.means)
    if levels[MIXED * grid[BLOCKS] + block] == 0:
        begin_means(cells, base, taken, means, thick)
    if not bent:
        centre_means(out, thick)
    volume = cover(cells, taken, (base, means), out)
    if edge:
        _edge_shares(lent, iy, ix)
        volume = weighed(out, int32s(lent.notes))
    tally_rows(lent.tallies)[grid[ENTRY], VOLUME] += volume


@inner_kernel
def _edge_shares(lent, iy, ix):
    """Note the shares of a block's rows and columns that lie over the blank."""
    shares, notes = int32s(lent.shares), int32s(lent.notes)
    rows = int64s(lent.whole)[PAGES_X] * 32
    for k in range(8):
        notes[EDGE_SHARES + k] = shares[rows + iy + k]
        notes[EDGE_SHARES + 8 + k] = shares[ix + k]


@inlined_kernel
def may_widen(lent):
    """Whether what is taken in a block may count for the width of cut and be outside what is known."""
    work, tallies = float32_rows(lent.work), tally_rows(lent.tallies)
    entry = int64s(lent.whole)[ENTRY]
    u, w = work[blocks.PLACE, blocks.U], work[blocks.PLACE, blocks.W]
    ux, uy = work[blocks.PLACE, blocks.UX], work[blocks.PLACE, blocks.UY]
    half = HALF_BLOCK * work[blocks.TOOL, blocks.CELL] * (abs(ux) + abs(uy))
    if u + half < work[blocks.PLACE, blocks.SPAN_FROM] or u - half > work[blocks.PLACE, blocks.SPAN_TO]:
        return False
    known = tallies[entry, LEFT], tallies[entry, RIGHT]
    return (w - half) * SIDE_STEPS <= known[0] or (w + half) * SIDE_STEPS >= known[1]


@inner_kernel
def measure(lent):
    """Widen the known width of cut by that of a block."""
    tallies, entry = tally_rows(lent.tallies), int64s(lent.whole)[ENTRY]
    left, right = sides(int32_rows(lent.out), float32_rows(lent.work))
    tallies[entry, LEFT] = min(tallies[entry, LEFT], np.int64(left))
    tallies[entry, RIGHT] = max(tallies[entry, RIGHT], np.int64(right))


@inner_kernel
def keep_axial(lent, at, taken, arcs, exact):
    """Keep the largest axial depth that is taken in a block.

    `taken` is the tallest of its columns (out[UNDER]) and the least depth it had before.
    """
    tallest, before = taken
    grid, work, out = int64s(lent.whole), float32_rows(lent.work), int32_rows(lent.out)
    first, kind = at[2] * grid[NX] + at[3], grid[KIND]
    known = tally_rows(lent.tallies)[grid[ENTRY], TALLEST]
    tip, thick = np.int32(grid[TIP_DEPTH]), np.int32(grid[THICK])
    # an equal depth counts too: of equal ones the cell with the lowest number is kept
    if grid[GOES_ON] and min(tip, thick) - before >= known:
        cells, base, place = int32s(lent.cells), np.int32(grid[BASE]), np.uint64(at[0] * BOTH)
        if kind == LINE:
            if may_be_deeper(work, tip, before + known):
                tallest = axial_depths_along(cells, place, out, work, (base, thick))
        elif kind == ARC:
            if arcs is not None:
                _going_on_arc(lent, at)
                tallest = axial_depths(cells, place, out, thick)
        elif exact is not None:
            _going_on_exact(lent, at)
            tallest = axial_depths(cells, place, out, thick)
    keep_tallest(lent, first, tallest)


@inner_kernel
def _going_on_arc(lent, at):
    """Depths over a block if a level arc went on as a circle."""
    real, work = float64s(lent.real), float32_rows(lent.work)
    # the view of the arc was put aside for that of its sides (`level_sides`)
    x = real[FRAME + LOW_X] + (at[3] + 4) * real[FRAME + CELL]
    y = real[FRAME + LOW_Y] + (at[2] + 4) * real[FRAME + CELL]
    base = place_arc(work, piece_of(real), (x, y, real[FRAME + TOP]))
    blocks.arc_going_on(work, base, int32_rows(lent.out))


@inner_kernel
def _going_on_exact(lent, at):
    """Depths over a block if a steep line or a helix went on from its nearest place."""
    real, grid = float64s(lent.real), int64s(lent.whole)
    work, out = float32_rows(lent.work), int32_rows(lent.out)
    data, tool, rings = piece_of(real), tool_of(real), rings_of(lent)
    cell, top = real[FRAME + CELL], real[FRAME + TOP]
    for k in range(CELLS):
        dx = real[FRAME + LOW_X] + (at[3] + 4) * cell + work[DX, k] - data[X]
        dy = real[FRAME + LOW_Y] + (at[2] + 4) * cell + work[DY, k] - data[Y]
        if grid[KIND] == HELIX:
            beside = abs(math.hypot(dx, dy) - data[A_RADIUS])
            angle = turned(math.atan2(dy, dx) - data[A_BEGIN])
            angle = angle if angle <= data[A_SWEEP] else 0.0
            tip = data[Z] + data[A_RISE] * angle
        else:
            beside = abs(dy * data[UX] - dx * data[UY])
            tip = data[Z] + data[RISE] * min(max(dx * data[UX] + dy * data[UY], 0.0), data[LENGTH])
        low = tip + lowest_between(tool, rings, min(beside, tool[RADIUS]), np.inf)
        out[ONWARD, k] = steps_below(top, low)


@inner_kernel
def keep_tallest(lent, first, tallest):
    """Keep the largest depth in out[UNDER]; of equal ones the cell with the lowest number."""
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


@inner_kernel
def fill_block(lent, block):
    """Write out the cells of a block that was lowered as a whole."""
    cells, levels = int32s(lent.cells), int32s(lent.levels)
    whole = WHOLE * int64s(lent.whole)[BLOCKS] + block
    depth, by, base = levels[block], levels[whole], np.uint64(block * BOTH)
    levels[whole] = 0
    for k in range(CELLS):
        cells[base + np.uint64(k)] = depth
        cells[base + np.uint64(SIGNS + k)] = by
