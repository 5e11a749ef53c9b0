"""The level flat bit's own way through a page: cutting and counting in one loop.

Pockets are cleared with flat bits on the level. Depths are then one number, and what is left to
find is which cells are covered and, along walls, how much of each. So the blocks of a page are
sorted first: those out of reach or deep enough already, those that lie wholly under the disc and
need no distances, and those through which its wall passes. As with the ball (`ball`), what
`block` does in steps for other shapes is one loop here for each kind, for blocks away from the
blank's edge and depths within it.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from dryrun.jit import kernel
from dryrun.removal.blocks import (
    CELL,
    CELLS,
    FROM,
    HALF_BLOCK,
    PAGE_U,
    PAGE_W,
    PLACE,
    RADIUS,
    TO,
    TOOL,
    UNDER,
    UX,
    UY,
)
from dryrun.removal.commit import NOISE, NOWHERE
from dryrun.removal.ground import ALONG, BESIDE, MIDDLE_X, MIDDLE_Y, PAGE_BLOCKS, SPREAD
from dryrun.removal.lend import float32_rows, int32_rows, int32s

#: What a disc does to a block: nothing; cover all of its cells wholly; end within it.
LEFT_ALONE, COVERED, AT_WALL = 0, 1, 2

#: Mean of |cos| + |sin| over all directions: width of a cell across a round end.
_ROUND: Final = np.float32(1.2732395)
_ZERO: Final = np.float32(0.0)
_HALF: Final = np.float32(0.5)
_ONE: Final = np.float32(1.0)
_ON_RIM: Final = np.float32(1e-6)
_SPREAD: Final = np.float32(SPREAD)
_NONE: Final = np.int32(0)
_NOISE: Final = np.int32(NOISE)
_NOWHERE: Final = np.int32(NOWHERE)


@kernel
def see_cells(work: Any, ux: Any, uy: Any, dx: Any, dy: Any) -> None:
    """Note where the cells of any block lie as seen along a line from the block's middle.

    `dx` and `dy` are the rows with their offsets in X and Y.
    """
    for k in range(CELLS):
        work[ALONG, k] = ux * work[dx, k] + uy * work[dy, k]
        work[BESIDE, k] = ux * work[dy, k] - uy * work[dx, k]


@kernel
def any_higher(levels: Any, first: Any, depth: Any) -> Any:
    """Whether any block of a page has a cell that is not as deep."""
    found = False
    for b in range(PAGE_BLOCKS):
        found |= levels[first + np.uint64(b)] < depth
    return found


@kernel
def sort_blocks(work: Any, notes: Any, levels: Any, first: Any, depth: Any, open_between: Any) -> Any:
    """Note for each block of a page what the disc does to it; returns whether it does anything.

    Blocks wholly beyond `open_between` along the line are left to the piece before.
    """
    open_from, open_to = open_between
    radius, cell = work[TOOL, RADIUS], work[TOOL, CELL]
    u0, w0 = work[PLACE, PAGE_U], work[PLACE, PAGE_W]
    low, high = work[PLACE, FROM], work[PLACE, TO]
    ux, uy = work[PLACE, UX], work[PLACE, UY]
    slant = cell * (abs(ux) + abs(uy))
    half = HALF_BLOCK * slant
    # a wall makes itself felt as far as half a cell from the centres it passes
    wall_beside, wall_around = half + _HALF * slant, (_SPREAD + _ONE) * cell
    any_met = False
    for b in range(PAGE_BLOCKS):
        u = u0 + ux * work[MIDDLE_X, b] + uy * work[MIDDLE_Y, b]
        w = w0 + ux * work[MIDDLE_Y, b] - uy * work[MIDDLE_X, b]
        over = max(u - high, _ZERO) + min(u - low, _ZERO)
        off = np.sqrt(w * w + over * over) - radius
        beside = (u - half >= low) & (u + half <= high)
        near = wall_beside if beside else wall_around
        met = (off <= near) & (u + half >= open_from) & (u - half <= open_to)
        met &= levels[first + np.uint64(b)] < depth
        at_wall = off >= -near
        notes[b] = np.int32((AT_WALL if at_wall else COVERED) if met else LEFT_ALONE)
        any_met |= met
    return any_met


@kernel
def cut_covered(cell_list: Any, out_rows: Any, base: Any, signs: Any, limits: Any) -> Any:
    """Cut a block that a level disc covers wholly; `limits` is (depth, 1 + row), int32.

    Returns the sum of the columns taken (modulo 2^32), the tallest, and the least depth; the
    columns stand in out[UNDER].
    """
    cells, out = int32s(cell_list), int32_rows(out_rows)
    depth, row = limits
    volume, tallest, least = _NONE, _NONE, _NOWHERE
    for k in range(CELLS):
        i, j = base + np.uint64(k), signs + np.uint64(k)
        old, by = cells[i], cells[j]
        new = max(old, depth)
        fell = np.int32(new - old)
        cells[i] = new
        cells[j] = row if (fell > _NOISE) | ((fell > _NONE) & (by == _NONE)) else by
        out[UNDER, k] = fell
        volume = np.int32(volume + fell)
        tallest = max(tallest, fell)
        least = min(least, new)
    return volume, tallest, least


@kernel
def cover_means(cell_list: Any, means: Any, depth: Any) -> Any:
    """Raise the mean depths of a block that a level disc covers wholly.

    Returns by how much (modulo 2^32), the least of them, and bits that are all 0 when all are the
    disc's depth.
    """
    cells = int32s(cell_list)
    rise, least, parted = _NONE, _NOWHERE, _NONE
    for k in range(CELLS):
        i = means + np.uint64(k)
        mean = cells[i]
        after = max(mean, depth)
        cells[i] = after
        rise = np.int32(rise + np.int32(after - mean))
        least = min(least, after)
        parted = np.int32(parted | np.int32(after ^ depth))
    return rise, least, parted


@kernel
def cut_at_wall(cell_list: Any, work_rows: Any, out_rows: Any, places: Any, limits: Any) -> Any:
    """Cut a block through which the wall of a level disc passes.

    `places` are those of the block's depths, rows and mean depths, and of its middle along and
    beside the line. Returns the rise of the mean depths (modulo 2^32), the tallest column, the
    least of all depths and mean depths, and bits that are all 0 when every mean depth is the
    disc's; the columns stand in out[UNDER].
    """
    cells, work, out = int32s(cell_list), float32_rows(work_rows), int32_rows(out_rows)
    base, signs, means, u0, w0 = places
    depth, row = limits
    radius, cell = work[TOOL, RADIUS], work[TOOL, CELL]
    limit = radius * radius + (radius + radius) * _ON_RIM
    beyond_high, beyond_low = u0 - work[PLACE, TO], u0 - work[PLACE, FROM]
    slant = abs(work[PLACE, UX]) + abs(work[PLACE, UY])
    beside, around = _ONE / (cell * slant), _ONE / (cell * _ROUND)
    from_rim, from_end = _HALF + radius * beside, _HALF + radius * around
    whole = np.float32(depth)
    rise, tallest, least, parted = _NONE, _NONE, _NOWHERE, _NONE
    for k in range(CELLS):
        w = w0 + work[BESIDE, k]
        over = max(beyond_high + work[ALONG, k], _ZERO) + min(beyond_low + work[ALONG, k], _ZERO)
        square = w * w + over * over
        away = np.sqrt(square)
        share = from_rim - away * beside if over == _ZERO else from_end - away * around
        covered = np.int32(whole * max(share, _ZERO)) if share < _ONE else depth
        i, j, n = base + np.uint64(k), signs + np.uint64(k), means + np.uint64(k)
        old, by, mean = cells[i], cells[j], cells[n]
        new = max(old, depth) if square <= limit else old
        after = max(mean, covered)
        fell = np.int32(new - old)
        cells[i] = new
        cells[j] = row if (fell > _NOISE) | ((fell > _NONE) & (by == _NONE)) else by
        cells[n] = after
        out[UNDER, k] = fell
        rise = np.int32(rise + np.int32(after - mean))
        tallest = max(tallest, fell)
        least = min(least, min(new, after))
        parted = np.int32(parted | np.int32(after ^ depth))
    return rise, tallest, least, parted
