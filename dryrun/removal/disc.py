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

from dryrun.jit import inner_kernel
from dryrun.removal import blocks
from dryrun.removal.blocks import CELLS, PLACE, TOOL
from dryrun.removal.commit import NOISE, NOWHERE, SIDE_STEPS, SIGNS
from dryrun.removal.ground import (
    ALONG,
    AT_HIGH,
    AT_LOW,
    BESIDE,
    BLOCK_U,
    BLOCK_W,
    CELL,
    CENTRAL,
    FRAME,
    HALF,
    MIDDLE_X,
    MIDDLE_Y,
    NEAR_LINE,
    PAGE_BLOCKS,
    PIECE,
    SPAN,
    UX,
    UY,
)
from dryrun.removal.lend import float32_rows, float64s, int32s
from dryrun.removal.profile import RADIUS

#: What a disc does to a block: nothing; cover all of its cells wholly; pass through it with its
#: wall, beside the line or near an end of it.
LEFT_ALONE, COVERED, AT_SIDE, AT_END = range(4)
_LEFT_ALONE, _COVERED, _AT_SIDE, _AT_END = (np.int32(what) for what in range(4))

_F32: Final = np.float32
_ZERO: Final = np.float32(0.0)
_EIGHTH: Final = np.float32(0.125)
_QUARTER: Final = np.float32(0.25)
_HALF: Final = np.float32(0.5)
_ONE: Final = np.float32(1.0)
_TINY: Final = np.float32(1e-9)
_ON_RIM: Final = np.float32(1e-6)
_SIDE: Final = np.float32(SIDE_STEPS)
_SIX: Final = np.int32(6)
_LAST: Final = np.int32(63)
_STEP: Final = np.int32(1)
_NONE: Final = np.int32(0)
_NOISE: Final = np.int32(NOISE)
_NOWHERE: Final = np.int32(NOWHERE)


@inner_kernel
def see_cells(work: Any, ux: Any, uy: Any, dx: Any, dy: Any) -> None:
    """Note a line's direction, and where the cells of any block lie as seen along it.

    `dx` and `dy` are the rows with their offsets in X and Y from the block's middle.
    """
    work[PLACE, blocks.UX], work[PLACE, blocks.UY] = ux, uy
    for k in range(CELLS):
        work[ALONG, k] = ux * work[dx, k] + uy * work[dy, k]
        work[BESIDE, k] = ux * work[dy, k] - uy * work[dx, k]


@inner_kernel
def look_along(real: Any) -> None:
    """Note how near a disc's wall may pass by the middle of a block, for this line and cells.

    A wall makes itself felt as far as half a cell from the centres it passes, and a hair.
    """
    cell, slant = real[FRAME + CELL], abs(real[PIECE + UX]) + abs(real[PIECE + UY])
    real[HALF] = 3.501 * slant * cell
    real[NEAR_LINE] = 4.001 * slant * cell
    real[SPAN] = 4.002 * cell
    real[CENTRAL] = (5.7 * cell) ** 2  # square of the way from the middle to a corner


@inner_kernel
def look_at_page(addresses: Any, joined: Any, depth: Any, first: Any, view: Any) -> Any:
    """Note what the disc does to each block of a page, and whether it does anything.

    `addresses` are those of real numbers, levels, work space and notes; `first` is the number of
    the page's first block (unsigned); `view` is where the page's middle lies along and beside the
    line from its nearest place, and where the line begins and ends from there.

    Blocks wholly behind the end that joins the piece before are left to that piece, and those that
    are as deep already are left alone. One loop without branches, so that it is vector code: most
    blocks near a disc are left alone.
    """
    real, levels = float64s(addresses[0]), int32s(addresses[1])
    work, notes = float32_rows(addresses[2]), int32s(addresses[3])
    u0, w0, low, high = view
    half, radius, near = np.float32(real[HALF]), np.float32(real[RADIUS]), np.float32(real[NEAR_LINE])
    span, central, inner = np.float32(real[SPAN]), np.float32(real[CENTRAL]), radius * radius
    ux, uy = work[PLACE, blocks.UX], work[PLACE, blocks.UY]
    from_low = low if joined == AT_LOW else _F32(-np.inf)
    to_high = high if joined == AT_HIGH else _F32(np.inf)
    too_near = _COVERED if _F32(4.0) * central < inner else _AT_END  # for a direction
    found = _NONE
    for b in range(PAGE_BLOCKS):
        x, y = work[MIDDLE_X, b], work[MIDDLE_Y, b]
        u, w = u0 + ux * x + uy * y, w0 + ux * y - uy * x
        work[BLOCK_U, b], work[BLOCK_W, b] = u, w
        over = max(u - high, _ZERO) + min(u - low, _ZERO)
        off = abs(w) - radius
        along = _LEFT_ALONE if off > near else (_AT_SIDE if off >= -near else _COVERED)
        # With d from the nearest place of the path to the block's middle, the block reaches h
        # nearer and h further along that direction, and h to either side: untouched where
        # d - h > r, and covered where (d + h)^2 + h^2 < r^2; here without roots, for q = h d.
        square = w * w + over * over
        q = span * (abs(over * ux - w * uy) + abs(over * uy + w * ux))
        beyond = square - q
        covered = square * square + (q + q) * (square + q) < inner * square
        touched = (_COVERED if covered else _AT_END) if square > central else too_near
        end = _LEFT_ALONE if (beyond > _ZERO) & (beyond * beyond > inner * square) else touched
        what = along if (u - half >= low) & (u + half <= high) else end
        alone = (levels[first + np.uint64(b)] >= depth) | (u + half < from_low) | (u - half > to_high)
        what = _LEFT_ALONE if alone else what
        notes[b] = what
        found = np.int32(found | what)
    return found != _NONE


# What one loop below finds out about a block comes back as: the sum of what was taken (modulo
# 2^32); the tallest column with the first cell that has it, as 64 * column + 63 - cell; the least
# depth, as the level of the block says it; how far to the right of the line columns were taken, negative
# left and right; and where there are mean depths, bits that are all 0 when each is the disc's.


@inner_kernel
def cut_at_side(
    cell_list: Any, mean_list: Any, work_rows: Any, places: Any, seen: Any, limits: Any
) -> Any:
    """Cut a block that lies beside a line and through which the wall of its disc passes.

    `places` are those of the block's depths and of its mean depths; `seen` is where its middle lies
    along and beside the line, and between which places along the line the line and its width of
    cut extend; `limits` is (depth, 1 + row, bits that are all 1 where mean depths are known, else 0).
    """
    cells, taken, work = int32s(cell_list), int32s(mean_list), float32_rows(work_rows)
    base, means = places
    depth, row, kept = limits
    begun = np.int32(~kept)
    radius, w0, slant = work[TOOL, blocks.RADIUS], seen[1], abs(work[PLACE, blocks.UX]) + abs(work[PLACE, blocks.UY])
    beside = _ONE / (work[TOOL, blocks.CELL] * slant)
    from_rim, rim, whole = _HALF + radius * beside, radius + _ON_RIM, np.float32(depth)
    rise, tallest, least, parted = _NONE, _NONE, _NOWHERE, _NONE
    left, right, cell = _NOWHERE, np.int32(-_NOWHERE), _LAST
    for k in range(CELLS):
        w = w0 + work[BESIDE, k]
        away = abs(w)
        share = from_rim - away * beside
        covered = np.int32(whole * max(share, _ZERO)) if share < _ONE else depth
        i, j, n = base + np.uint64(k), base + np.uint64(SIGNS + k), means + np.uint64(k)
        old, mean = cells[i], taken[n]
        mean = np.int32((mean & kept) | (old & begun))
        new = max(old, depth) if away <= rim else old
        after = max(mean, covered)
        fell = np.int32(new - old)
        felt = fell > _NOISE
        cells[i] = new
        if felt:
            cells[j] = row
        taken[n] = after
        rise = np.int32(rise + np.int32(after - mean))
        tallest = max(tallest, np.int32((fell << _SIX) | cell))
        cell = np.int32(cell - _STEP)
        least = min(least, min(new, after))
        side = np.int32(w * _SIDE)
        left = min(left, side if felt else _NOWHERE)
        right = max(right, side if felt else np.int32(-_NOWHERE))
        parted = np.int32(parted | np.int32(after ^ depth))
    return rise, tallest, least, left, right, parted


@inner_kernel
def cut_at_end(
    cell_list: Any, mean_list: Any, work_rows: Any, places: Any, seen: Any, limits: Any
) -> Any:
    """Cut a block near an end of a line through which the wall of its disc passes.

    Arguments as for `cut_at_side`. The share of a cell is that of a straight border at the same
    distance, less what the curve of the disc leaves of it: with t from the rim inwards, d from the
    end and n = r^2 - d^2, that is 1/2 + (t - t^2 / 2r) d / (width d), and (t - t^2 / 2r) d is
    n/2 - (n/2r)^2 but for terms of t^3 / r. Beside the line the border is straight: t d is
    n/2 - (n/2r)^2 / 2.
    """
    cells, taken, work = int32s(cell_list), int32s(mean_list), float32_rows(work_rows)
    base, means = places
    depth, row, kept = limits
    begun = np.int32(~kept)
    radius = work[TOOL, blocks.RADIUS]
    inner = radius * radius
    limit = inner + (radius + radius) * _ON_RIM
    curved, straight = _QUARTER / inner, _EIGHTH / inner
    u0, w0, low, high, span_from, span_to = seen
    ux, uy, cell_size = work[PLACE, blocks.UX], work[PLACE, blocks.UY], work[TOOL, blocks.CELL]
    whole = np.float32(depth)
    rise, tallest, least, parted = _NONE, _NONE, _NOWHERE, _NONE
    left, right, cell = _NOWHERE, np.int32(-_NOWHERE), _LAST
    for k in range(CELLS):
        u, w = u0 + work[ALONG, k], w0 + work[BESIDE, k]
        over = max(u - high, _ZERO) + min(u - low, _ZERO)
        square = w * w + over * over
        # a cell's width across the wall, which stands across the way to the nearest place
        wide = cell_size * (abs(over * ux - w * uy) + abs(over * uy + w * ux))
        within = inner - square
        bend = straight if over == _ZERO else curved
        share = _HALF + within * (_HALF - bend * within) / max(wide, _TINY)
        covered = np.int32(whole * max(share, _ZERO)) if share < _ONE else depth
        i, j, n = base + np.uint64(k), base + np.uint64(SIGNS + k), means + np.uint64(k)
        old, mean = cells[i], taken[n]
        mean = np.int32((mean & kept) | (old & begun))
        new = max(old, depth) if square <= limit else old
        after = max(mean, covered)
        fell = np.int32(new - old)
        felt = fell > _NOISE
        cells[i] = new
        if felt:
            cells[j] = row
        taken[n] = after
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


@inner_kernel
def cut_covered(cell_list: Any, work_rows: Any, places: Any, seen: Any, limits: Any) -> Any:
    """Cut a block that a level disc covers wholly, but for its mean depths.

    Arguments as for `cut_at_side`.
    """
    cells, work = int32s(cell_list), float32_rows(work_rows)
    base, _ = places
    depth, row, _ = limits
    u0, w0, _, _, span_from, span_to = seen
    volume, tallest, least = _NONE, _NONE, _NOWHERE
    left, right, cell = _NOWHERE, np.int32(-_NOWHERE), _LAST
    for k in range(CELLS):
        u, w = u0 + work[ALONG, k], w0 + work[BESIDE, k]
        i, j = base + np.uint64(k), base + np.uint64(SIGNS + k)
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


@inner_kernel
def cover_means(mean_list: Any, means: Any, depth: Any) -> Any:
    """Raise the mean depths of a block that a level disc covers wholly.

    Returns by how much (modulo 2^32), the least of them, and bits that are all 0 when each is the
    disc's depth.
    """
    taken = int32s(mean_list)
    rise, least, parted = _NONE, _NOWHERE, _NONE
    for k in range(CELLS):
        i = means + np.uint64(k)
        mean = taken[i]
        after = max(mean, depth)
        taken[i] = after
        rise = np.int32(rise + np.int32(after - mean))
        least = min(least, after)
        parted = np.int32(parted | np.int32(after ^ depth))
    return rise, least, parted
