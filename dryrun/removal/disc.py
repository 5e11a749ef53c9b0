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
    SPAN_FROM,
    SPAN_TO,
    TO,
    TOOL,
    UX,
    UY,
)
from dryrun.removal.commit import NOISE, NOWHERE, SIDE_STEPS
from dryrun.removal.ground import ALONG, BESIDE, MIDDLE_X, MIDDLE_Y, PAGE_BLOCKS, SPREAD
from dryrun.removal.lend import float32_rows, int32s

#: What a disc does to a block: nothing; cover all of its cells wholly; pass through it with its
#: wall, beside the line or near an end of it.
LEFT_ALONE, COVERED, AT_SIDE, AT_END = range(4)

_ZERO: Final = np.float32(0.0)
_HALF: Final = np.float32(0.5)
_ONE: Final = np.float32(1.0)
_TINY: Final = np.float32(1e-9)
_ON_RIM: Final = np.float32(1e-6)
_SIDE: Final = np.float32(SIDE_STEPS)
_SIX: Final = np.int32(6)
_LAST: Final = np.int32(63)
_STEP: Final = np.int32(1)
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
    near_line, near_end = half + _HALF * slant, (_SPREAD + _ONE) * cell
    any_met = False
    for b in range(PAGE_BLOCKS):
        u = u0 + ux * work[MIDDLE_X, b] + uy * work[MIDDLE_Y, b]
        w = w0 + ux * work[MIDDLE_Y, b] - uy * work[MIDDLE_X, b]
        over = max(u - high, _ZERO) + min(u - low, _ZERO)
        off = np.sqrt(w * w + over * over) - radius
        beside = (u - half >= low) & (u + half <= high)
        near = near_line if beside else near_end
        met = (off <= near) & (u + half >= open_from) & (u - half <= open_to)
        met &= levels[first + np.uint64(b)] < depth
        wall = AT_SIDE if beside else AT_END
        notes[b] = np.int32((wall if off >= -near else COVERED) if met else LEFT_ALONE)
        any_met |= met
    return any_met


# What one loop below finds out about a block comes back as: the sum of what was taken (modulo
# 2^32); the tallest column with the first cell that has it, as 64 * column + 63 - cell; the least
# depth, as `any_higher` takes it; how far to the right of the line columns were taken, negative
# left and right; and where there are mean depths, bits that are all 0 when each is the disc's.


@kernel
def cut_at_side(cell_list: Any, work_rows: Any, places: Any, middle: Any, limits: Any) -> Any:
    """Cut a block that lies beside a line and through which the wall of its disc passes.

    `places` are those of the block's depths, rows and mean depths; `middle` is along and beside
    the line; `limits` is (depth, 1 + row, bits that are all 1 where mean depths are known, else 0).
    """
    cells, work = int32s(cell_list), float32_rows(work_rows)
    base, signs, means = places
    depth, row, kept = limits
    begun = np.int32(~kept)
    radius, w0, slant = work[TOOL, RADIUS], middle[1], abs(work[PLACE, UX]) + abs(work[PLACE, UY])
    beside = _ONE / (work[TOOL, CELL] * slant)
    from_rim, rim, whole = _HALF + radius * beside, radius + _ON_RIM, np.float32(depth)
    rise, tallest, least, parted = _NONE, _NONE, _NOWHERE, _NONE
    left, right, cell = _NOWHERE, np.int32(-_NOWHERE), _LAST
    for k in range(CELLS):
        w = w0 + work[BESIDE, k]
        away = abs(w)
        share = from_rim - away * beside
        covered = np.int32(whole * max(share, _ZERO)) if share < _ONE else depth
        i, j, n = base + np.uint64(k), signs + np.uint64(k), means + np.uint64(k)
        old, mean = cells[i], cells[n]
        mean = np.int32((mean & kept) | (old & begun))
        new = max(old, depth) if away <= rim else old
        after = max(mean, covered)
        fell = np.int32(new - old)
        felt = fell > _NOISE
        cells[i] = new
        if felt:
            cells[j] = row
        cells[n] = after
        rise = np.int32(rise + np.int32(after - mean))
        tallest = max(tallest, np.int32((fell << _SIX) | cell))
        cell = np.int32(cell - _STEP)
        least = min(least, min(new, after))
        side = np.int32(w * _SIDE)
        left = min(left, side if felt else _NOWHERE)
        right = max(right, side if felt else np.int32(-_NOWHERE))
        parted = np.int32(parted | np.int32(after ^ depth))
    return rise, tallest, least, left, right, parted


@kernel
def cut_at_end(cell_list: Any, work_rows: Any, places: Any, middle: Any, limits: Any) -> Any:
    """Cut a block near an end of a line through which the wall of its disc passes.

    Arguments as for `cut_at_side`.
    """
    cells, work = int32s(cell_list), float32_rows(work_rows)
    base, signs, means = places
    depth, row, kept = limits
    begun = np.int32(~kept)
    radius, u0, w0 = work[TOOL, RADIUS], middle[0], middle[1]
    limit = radius * radius + (radius + radius) * _ON_RIM
    low, high = work[PLACE, FROM], work[PLACE, TO]
    span_from, span_to = work[PLACE, SPAN_FROM], work[PLACE, SPAN_TO]
    ux, uy, cell_size = work[PLACE, UX], work[PLACE, UY], work[TOOL, CELL]
    whole = np.float32(depth)
    rise, tallest, least, parted = _NONE, _NONE, _NOWHERE, _NONE
    left, right, cell = _NOWHERE, np.int32(-_NOWHERE), _LAST
    for k in range(CELLS):
        u, w = u0 + work[ALONG, k], w0 + work[BESIDE, k]
        over = max(u - high, _ZERO) + min(u - low, _ZERO)
        square = w * w + over * over
        away = np.sqrt(square)
        # a cell's width across the wall, which stands across the way to the nearest place
        wide = cell_size * (abs(over * ux - w * uy) + abs(over * uy + w * ux))
        share = _HALF + (radius - away) * away / max(wide, _TINY)
        covered = np.int32(whole * max(share, _ZERO)) if share < _ONE else depth
        i, j, n = base + np.uint64(k), signs + np.uint64(k), means + np.uint64(k)
        old, mean = cells[i], cells[n]
        mean = np.int32((mean & kept) | (old & begun))
        new = max(old, depth) if square <= limit else old
        after = max(mean, covered)
        fell = np.int32(new - old)
        felt = fell > _NOISE
        cells[i] = new
        if felt:
            cells[j] = row
        cells[n] = after
        rise = np.int32(rise + np.int32(after - mean))
        tallest = max(tallest, np.int32((fell << _SIX) | cell))
        cell = np.int32(cell - _STEP)
        least = min(least, min(new, after))
        felt &= (u >= span_from) & (u <= span_to)
        side = np.int32(w * _SIDE)
        left = min(left, side if felt else _NOWHERE)
        right = max(right, side if felt else np.int32(-_NOWHERE))
        parted = np.int32(parted | np.int32(after ^ depth))
    return rise, tallest, least, left, right, parted


@kernel
def cut_covered(cell_list: Any, work_rows: Any, places: Any, middle: Any, limits: Any) -> Any:
    """Cut a block that a level disc covers wholly, but for its mean depths.

    Arguments as for `cut_at_side`.
    """
    cells, work = int32s(cell_list), float32_rows(work_rows)
    base, signs, _ = places
    depth, row, _ = limits
    u0, w0 = middle
    span_from, span_to = work[PLACE, SPAN_FROM], work[PLACE, SPAN_TO]
    volume, tallest, least = _NONE, _NONE, _NOWHERE
    left, right, cell = _NOWHERE, np.int32(-_NOWHERE), _LAST
    for k in range(CELLS):
        u, w = u0 + work[ALONG, k], w0 + work[BESIDE, k]
        i, j = base + np.uint64(k), signs + np.uint64(k)
        old = cells[i]
        new = max(old, depth)
        fell = np.int32(new - old)
        felt = fell > _NOISE
        cells[i] = new
        if felt:
            cells[j] = row
        volume = np.int32(volume + fell)
        tallest = max(tallest, np.int32((fell << _SIX) | cell))
        cell = np.int32(cell - _STEP)
        least = min(least, new)
        felt &= (u >= span_from) & (u <= span_to)
        side = np.int32(w * _SIDE)
        left = min(left, side if felt else _NOWHERE)
        right = max(right, side if felt else np.int32(-_NOWHERE))
    return volume, tallest, least, left, right


@kernel
def cover_means(cell_list: Any, means: Any, depth: Any) -> Any:
    """Raise the mean depths of a block that a level disc covers wholly.

    Returns by how much (modulo 2^32), the least of them, and bits that are all 0 when each is the
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
