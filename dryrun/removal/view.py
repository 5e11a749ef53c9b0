"""A piece of path as seen from a page or a block: distance, box, and its numbers for vector code."""

# mypy: ignore-errors
# kernels: numba types them when they run

from __future__ import annotations

import math

import numpy as np

from dryrun.jit import inner_kernel
from dryrun.removal import blocks
from dryrun.removal.blocks import CELLS
from dryrun.removal.exact import (
    arc_distances,
)
from dryrun.removal.ground import (
    A_BEGIN,
    A_RADIUS,
    A_RISE,
    A_SWEEP,
    ARC,
    AT_HIGH,
    AT_LOW,
    CELL,
    FRAME,
    HELIX,
    JOINED,
    LENGTH,
    MIDDLE_X,
    MIDDLE_Y,
    MOST_MM,
    OFFSET,
    PIECE,
    RINGS,
    RISE,
    STEPS_PER_MM,
    UX,
    UY,
    X,
    Y,
    Z,
)
from dryrun.removal.lend import (
    float64s,
    int64s,
    ring_rows,
)
from dryrun.removal.profile import (
    BALL,
)


@inner_kernel
def piece_of(real):
    """Return the piece's numbers."""
    return (
        real[PIECE], real[PIECE + 1], real[PIECE + 2], real[PIECE + 3],
        real[PIECE + 4], real[PIECE + 5], real[PIECE + 6],
    )  # fmt: skip


@inner_kernel
def tool_of(real):
    """Return the tool's numbers."""
    return (
        real[0], real[1], real[2], real[3], real[4], real[5], real[6], real[7], real[8],
    )  # fmt: skip


@inner_kernel
def rings_of(lent):
    """Return the rings of the cutter's form."""
    return ring_rows(lent.rings)[: int64s(lent.whole)[RINGS]]


@inner_kernel
def box_of(kind, data):
    """Bounding box of a piece's path in X and Y."""
    if kind == ARC or kind == HELIX:
        return arc_box(data)
    x, y = data[X], data[Y]
    end_x, end_y = x + data[UX] * data[LENGTH], y + data[UY] * data[LENGTH]
    return min(x, end_x), min(y, end_y), max(x, end_x), max(y, end_y)


@inner_kernel
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


@inner_kernel
def nearest(kind, data, x, y, reach):
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


@inner_kernel
def steps_below(top, z):
    """Whole steps of depth of a height."""
    return np.int32(math.floor(min(max(top - z, -MOST_MM), MOST_MM) * STEPS_PER_MM + 0.5))


@inner_kernel
def place_line(work, data, middle):
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
    work[blocks.PLACE, blocks.SPAN_FROM] = -nearest if data[LENGTH] > 0.0 else -np.inf
    # ahead of a short move lies what it cuts with its front
    work[blocks.PLACE, blocks.SPAN_TO] = (
        max(data[LENGTH], work[blocks.TOOL, blocks.RADIUS]) - nearest
    )
    return steps_below(top, data[Z] + data[RISE] * nearest)


@inner_kernel
def open_part(work, joined, offset):
    """Between which places along a line blocks are not left to the piece before it."""
    low, high = np.float32(-np.inf), np.float32(np.inf)
    if joined == AT_LOW:
        low = work[blocks.PLACE, blocks.FROM]
    elif joined == AT_HIGH:
        high = work[blocks.PLACE, blocks.TO] + offset
    return low, high


@inner_kernel
def place_block(work, b):
    """Move the view of a line from the middle of the page to that of its block b."""
    ux, uy = work[blocks.PLACE, blocks.UX], work[blocks.PLACE, blocks.UY]
    x, y = work[MIDDLE_X, b], work[MIDDLE_Y, b]
    work[blocks.PLACE, blocks.U] = work[blocks.PLACE, blocks.PAGE_U] + ux * x + uy * y
    work[blocks.PLACE, blocks.W] = work[blocks.PLACE, blocks.PAGE_W] + ux * y - uy * x


@inner_kernel
def see_whole_cells(work, cell):
    """Note where the centres of a block's cells lie from its middle, and that the cells are whole."""
    for k in range(CELLS):
        work[blocks.DX, k], work[blocks.DY, k] = ((k & 7) - 3.5) * cell, ((k >> 3) - 3.5) * cell
        work[blocks.SIZE_X, k], work[blocks.SIZE_Y, k] = cell, cell


@inner_kernel
def place_arc(work, data, middle):
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
    return steps_below(top, data[Z])


@inner_kernel
def level_sides(work, data, middle):
    """Put the distance from an arc, straightened at the block, where lines have their w."""
    dx, dy = middle[0] - data[X], middle[1] - data[Y]
    from_centre = max(math.hypot(dx, dy), 1e-9)
    work[blocks.PLACE, blocks.U] = 0.0
    work[blocks.PLACE, blocks.W] = from_centre - data[A_RADIUS]
    work[blocks.PLACE, blocks.UX] = dy / from_centre
    work[blocks.PLACE, blocks.UY] = -dx / from_centre
    work[blocks.PLACE, blocks.SPAN_FROM] = -np.inf
    work[blocks.PLACE, blocks.SPAN_TO] = np.inf


@inner_kernel
def furthest_offset(family, radius, m):
    """How far behind the point on the surface the tool may stand on a slope m, at most."""
    if m == 0.0:
        return 0.0
    return radius * m / math.sqrt(1.0 + m * m) if family == BALL else radius


@inner_kernel
def joined_beyond(lent, x, y):
    """Whether a whole page lies beyond the end that joins the piece before."""
    real, joined = float64s(lent.real), int64s(lent.whole)[JOINED]
    ux, uy = real[PIECE + UX], real[PIECE + UY]
    u = (x - real[PIECE + X]) * ux + (y - real[PIECE + Y]) * uy
    half = 16.0 * real[FRAME + CELL] * (abs(ux) + abs(uy))
    beyond = u - half - real[PIECE + LENGTH] > real[OFFSET]
    return (joined == AT_LOW and u + half < 0.0) or (joined == AT_HIGH and beyond)
