"""The mean depth over the area of a cell in double precision: helices, steep lines, forms.

As module `strips`, cell by cell. A form may have steps, so its strips end where one of its rings
does.
"""

# mypy: ignore-errors
# kernels: numba types them when they run

from __future__ import annotations

import math
from typing import Final

import numpy as np

from dryrun.jit import inner_kernel
from dryrun.removal.blocks import CELLS, DX, DY, INSIDE, UNDER
from dryrun.removal.exact import height_over, turned
from dryrun.removal.ground import (
    A_BEGIN,
    A_RADIUS,
    A_SWEEP,
    HELIX,
    LENGTH,
    RISE,
    UX,
    UY,
    X,
    Y,
    Z,
)
from dryrun.removal.profile import BLEND, R0, RADIUS, RING, SLOPE
from dryrun.removal.strips import SAME, STRIPS
from dryrun.removal.view import steps_below

_TINY: Final = 1e-9
#: A cell filled to this part is whole.
_WHOLE: Final = 0.9999
#: A place no farther outside the rim counts as cut, mm.
_ON_RIM: Final = 1e-6


@inner_kernel
def mean_depths(work, out, shape, data, limits):
    """Put the mean depths of a block's cells in out[UNDER].

    `shape` is (kind, tool, rings); `limits` is ((x, y of the middle, top, cell), thick).
    """
    frame, thick = limits
    for k in range(CELLS):
        at = frame[0] + work[DX, k] - data[X], frame[1] + work[DY, k] - data[Y]
        mean, bent = _mean_depth(shape, data, at, (frame[2], frame[3], thick))
        centre = max(min(out[INSIDE, k], thick), np.int32(0))
        more = np.int32(mean) - centre
        out[UNDER, k] = np.int32(mean) if more > SAME or (bent and more < -SAME) else centre


@inner_kernel
def _mean_depth(shape, data, at, limits):
    """Mean depth of one cell, in steps, and whether a wall or a bend of the profile passes through it.

    `at` is its middle from the start or centre of the path.
    """
    kind, tool, rings = shape
    cell = limits[1]
    to_x, to_y, off, open_end = _way(kind, data, at, cell)
    width = max(abs(to_x) + abs(to_y), 0.5) * cell
    begin, end = max(off - 0.5 * width, -tool[RADIUS]), min(off + 0.5 * width, tool[RADIUS])
    at_tip = tool[RING] - 0.5 * width <= off <= tool[BLEND] + 0.5 * width and tool[SLOPE] > 0.0
    bent = at_tip or len(rings) > 0 or end - begin < _WHOLE * width
    if open_end:
        return _depth_at(shape, data, at, limits) * max(end - begin, 0.0) / width, bent
    total = 0.0
    while begin < end:
        after = _end_of_ring(rings, begin, end)
        for strip in range(STRIPS):
            step = begin + (strip + 0.5) / STRIPS * (after - begin) - off
            place = at[0] + step * to_x, at[1] + step * to_y
            total += _depth_at(shape, data, place, limits) * (after - begin) / (STRIPS * width)
        begin = after
    return total, bent


@inner_kernel
def _depth_at(shape, data, place, limits):
    """Depth at a place in the blank, in steps; 0 where the cutter never comes."""
    kind, tool, rings = shape
    top, _, thick = limits
    z, away = height_over(tool, rings, kind, data, place[0], place[1])
    if away > tool[RADIUS] + _ON_RIM:
        return 0
    return min(max(steps_below(top, data[Z] + z), 0), thick)


@inner_kernel
def _end_of_ring(rings, begin, end):
    """Where the ring ends in which a strip begins, going outward from the path or in to it."""
    for i in range(len(rings)):
        edge = rings[i, R0]
        if begin + _TINY < edge < end:
            end = edge
        if begin + _TINY < -edge < end:
            end = -edge
    return end


@inner_kernel
def _way(kind, data, at, cell):
    """Direction away from the path (X, Y), distance from it, and whether the end near by is no wall.

    It is none if the line slopes by no more than 45 degrees: then the direction is that to its side.
    """
    dx, dy = at
    if kind == HELIX:
        to_x, to_y, off = _way_from_arc(data, dx, dy)
        return to_x, to_y, off, False
    ux, uy = data[UX], data[UY]
    u, w = dx * ux + dy * uy, dy * ux - dx * uy
    over = u - min(max(u, 0.0), data[LENGTH])
    away = math.hypot(over, w)
    open_end = 0.0 < data[RISE] <= 1.0 and abs(over) > cell
    if open_end or away < _TINY:
        side = 1.0 if w >= 0.0 else -1.0
        return -side * uy, side * ux, abs(w), open_end
    along, beside = over / away, w / away
    return along * ux - beside * uy, along * uy + beside * ux, away, False


@inner_kernel
def _way_from_arc(data, dx, dy):
    """Direction away from an arc (X, Y), and distance from it."""
    radius, begin, sweep = data[A_RADIUS], data[A_BEGIN], data[A_SWEEP]
    from_centre = math.hypot(dx, dy)
    if from_centre > _TINY and turned(math.atan2(dy, dx) - begin) <= sweep:
        side = 1.0 if from_centre >= radius else -1.0
        return side * dx / from_centre, side * dy / from_centre, abs(from_centre - radius)
    ax, ay = dx - radius * math.cos(begin), dy - radius * math.sin(begin)
    bx, by = dx - radius * math.cos(begin + sweep), dy - radius * math.sin(begin + sweep)
    to_a, to_b = math.hypot(ax, ay), math.hypot(bx, by)
    px, py, away = (ax, ay, to_a) if to_a <= to_b else (bx, by, to_b)
    if away < _TINY:
        return 0.0, 1.0, 0.0
    return px / away, py / away, away
