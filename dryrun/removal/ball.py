"""The ball's own way through a block: heights, cutting and counting in one loop.

Relief is finished with balls, in hundreds of thousands of short moves. For them the steps that
`drive` takes one after another for other shapes (`blocks`, then `commit`) are one loop here, over
blocks without walls, away from the blank's edge and above its underside. The formulas are those
of `blocks`, written so that a cell takes few operations; all of them fill whole vectors.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from dryrun.jit import inner_kernel
from dryrun.removal.blocks import (
    CELLS,
    DX,
    DY,
    FROM,
    PLACE,
    RADIUS,
    SLOPE_M,
    SPAN_FROM,
    SPAN_TO,
    TO,
    TOOL,
    UX,
    UY,
    U,
    W,
)
from dryrun.removal.commit import NOISE, NOWHERE, SIDE_STEPS, SIGNS
from dryrun.removal.ground import ALONG, BESIDE
from dryrun.removal.lend import float32_rows, int32s

#: Height over the tip and above, mm, to which the loops below hold.
HIGHEST: Final = 1000.0

_ZERO: Final = np.float32(0.0)
_ONE: Final = np.float32(1.0)
_STEPS: Final = np.float32(2**20)
_ON_RIM: Final = np.float32(-2e-6)
_SIDE: Final = np.float32(SIDE_STEPS)
_SIX: Final = np.int32(6)
_LAST: Final = np.int32(63)
_STEP: Final = np.int32(1)
_NONE: Final = np.int32(0)
_NOISE: Final = np.int32(NOISE)
_NOWHERE: Final = np.int32(NOWHERE)


# What a loop below finds out about a block comes back as: the sum of the columns taken; the largest
# axial depth with the first cell that has it, as 64 * depth + 63 - cell (what that depth is:
# `commit.axial_depths`); the least and the greatest depth; and how far to the right of the line
# columns were taken, negative left and right.


@inner_kernel
def cut_along(addresses, base, limits):
    """Cut a block with a ball along a line.

    `addresses` are those of the cells and the work space. `limits` is (base depth, 1 + row,
    thickness, bits all 1 where the path goes straight on, else 0), int32.
    """
    cells, work = int32s(addresses[0]), float32_rows(addresses[1])
    deepest, row, thick, goes_on = limits
    radius = work[TOOL, RADIUS]
    square, least_under = radius * radius, radius * _ON_RIM
    u0, w0, low, high = work[PLACE, U], work[PLACE, W], work[PLACE, FROM], work[PLACE, TO]
    span_from, span_to = work[PLACE, SPAN_FROM], work[PLACE, SPAN_TO]
    m = work[PLACE, SLOPE_M]
    mm = m * m
    stretch = _ONE + mm
    rise, middle = m * _STEPS, radius * _STEPS
    z_low, z_high = middle + rise * low, middle + rise * high
    volume, tallest, least, most = _NONE, _NONE, _NOWHERE, _NONE
    left, right, cell = _NOWHERE, np.int32(-_NOWHERE), _LAST
    for k in range(CELLS):
        u, w = u0 + work[ALONG, k], w0 + work[BESIDE, k]
        rest = square - w * w
        behind, ahead = u - low, u - high
        free = max(mm * rest, _ZERO)
        at_high = ahead * abs(ahead) * stretch > free
        at_low = behind * abs(behind) * stretch < free
        off = ahead if at_high else behind
        at_end = at_high | at_low
        under = rest - off * off if at_end else stretch * rest
        over = (z_high if at_high else z_low) if at_end else middle + rise * u
        z = over - _STEPS * np.sqrt(max(under, _ZERO))
        ahead_z = middle + rise * min(max(u, low), high) - _STEPS * np.sqrt(max(rest, _ZERO))
        depth = np.int32(deepest - np.int32(z))
        i, j = base + np.uint64(k), base + np.uint64(SIGNS + k)
        old = cells[i]
        new = max(old, depth) if under >= least_under else old
        fell = np.int32(new - old)
        onward = np.int32(min(np.int32(deepest - np.int32(ahead_z)), thick) - old)
        felt = fell > _NOISE
        axial = max(fell, np.int32(onward & goes_on)) if felt else _NONE
        cells[i] = new
        if felt | ((fell > _NONE) & (old == _NONE)):  # the top is signed at any fall
            cells[j] = row
        volume = np.int32(volume + fell)
        tallest = max(tallest, np.int32((axial << _SIX) | cell))
        cell = np.int32(cell - _STEP)
        least, most = min(least, new), max(most, new)
        felt &= (u >= span_from) & (u <= span_to)
        side = np.int32(w * _SIDE)
        left = min(left, side if felt else _NOWHERE)
        right = max(right, side if felt else np.int32(-_NOWHERE))
    return volume, tallest, least, most, left, right


@inner_kernel
def cut_at_end(addresses, base, limits, end):
    """Cut a block all of whose cells are nearest to one end of the line; else as `cut_along`."""
    cells, work = int32s(addresses[0]), float32_rows(addresses[1])
    deepest, row, thick, goes_on = limits
    radius = work[TOOL, RADIUS]
    square, least_under = radius * radius, radius * _ON_RIM
    u0, w0, ux, uy = work[PLACE, U] - end, work[PLACE, W], work[PLACE, UX], work[PLACE, UY]
    x, y = u0 * ux - w0 * uy, u0 * uy + w0 * ux
    span_from, span_to = work[PLACE, SPAN_FROM] - end, work[PLACE, SPAN_TO] - end
    lowest = (work[PLACE, SLOPE_M] * end + radius) * _STEPS
    volume, tallest, least, most = _NONE, _NONE, _NOWHERE, _NONE
    left, right, cell = _NOWHERE, np.int32(-_NOWHERE), _LAST
    for k in range(CELLS):
        dx, dy = x + work[DX, k], y + work[DY, k]
        under = square - dx * dx - dy * dy
        z = lowest - _STEPS * np.sqrt(max(under, _ZERO))
        u, w = u0 + work[ALONG, k], w0 + work[BESIDE, k]
        ahead_z = lowest - _STEPS * np.sqrt(max(square - w * w, _ZERO))
        depth = np.int32(deepest - np.int32(z))
        i, j = base + np.uint64(k), base + np.uint64(SIGNS + k)
        old = cells[i]
        new = max(old, depth) if under >= least_under else old
        fell = np.int32(new - old)
        onward = np.int32(min(np.int32(deepest - np.int32(ahead_z)), thick) - old)
        felt = fell > _NOISE
        axial = max(fell, np.int32(onward & goes_on)) if felt else _NONE
        cells[i] = new
        if felt | ((fell > _NONE) & (old == _NONE)):  # the top is signed at any fall
            cells[j] = row
        volume = np.int32(volume + fell)
        tallest = max(tallest, np.int32((axial << _SIX) | cell))
        cell = np.int32(cell - _STEP)
        least, most = min(least, new), max(most, new)
        felt &= (u >= span_from) & (u <= span_to)
        side = np.int32(w * _SIDE)
        left = min(left, side if felt else _NOWHERE)
        right = max(right, side if felt else np.int32(-_NOWHERE))
    return volume, tallest, least, most, left, right
