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
from dryrun.removal.blocks import BESIDE, CELLS, DX, DY, INSIDE, NARROWEST, SIZE_X, SIZE_Y, UNDER
from dryrun.removal.exact import height_over, turned
from dryrun.removal.ground import (
    A_BEGIN,
    A_RADIUS,
    A_SWEEP,
    HELIX,
    LENGTH,
    UX,
    UY,
    X,
    Y,
    Z,
)
from dryrun.removal.profile import R0, RADIUS, RING
from dryrun.removal.strips import SAME, STRIPS
from dryrun.removal.view import steps_below

_TINY: Final = 1e-9
#: A place no farther outside the rim counts as cut, mm.
_ON_RIM: Final = 1e-6


@inner_kernel
def mean_depths(work, out, shape, data, limits):
    """Put the mean depths of a block's cells in out[UNDER], as far as they are not those of the centres.

    `shape` is (kind, tool, rings); `limits` is ((x, y of the middle, top), thick).
    """
    frame, thick = limits
    for k in range(CELLS):
        at = frame[0] + work[DX, k] - data[X], frame[1] + work[DY, k] - data[Y]
        size = work[SIZE_X, k], work[SIZE_Y, k]
        mean = np.int32(_mean_depth(shape, data, (at, size), (frame[2], thick)))
        centre = max(min(out[INSIDE, k], thick), np.int32(0))
        out[UNDER, k] = mean if abs(np.int32(mean - centre)) > SAME else centre


@inner_kernel
def _mean_depth(shape, data, part, limits):
    """Mean depth of one cell, in steps.

    `part` is the middle of what lies over the blank of it, from the start or centre of the path, and
    its size.
    """
    kind, tool, rings = shape
    at, size = part
    side = max(size[0], size[1])
    to_x, to_y, off = _way(kind, data, at, side if tool[RING] < side else _TINY)
    sides = abs(to_x) * size[0], abs(to_y) * size[1]
    beside = BESIDE * math.hypot(to_y * size[0], to_x * size[1])
    half = 0.5 * max(sides[0] + sides[1], NARROWEST)
    begin, end = max(off - half, -tool[RADIUS]), min(off + half, tool[RADIUS])
    total = 0.0
    before = _share_before(begin - off, sides)
    while begin < end:
        after = _end_of_ring(rings, begin, end)
        for strip in range(STRIPS):
            step = begin + (strip + 0.5) / STRIPS * (after - begin) - off
            x, y = at[0] + step * to_x, at[1] + step * to_y
            depth = _depth_at(shape, data, (x - beside * to_y, y + beside * to_x), limits)
            depth += _depth_at(shape, data, (x + beside * to_y, y - beside * to_x), limits)
            until = _share_before(step + 0.5 / STRIPS * (after - begin), sides)
            total += 0.5 * depth * (until - before)
            before = until
        begin = after
    return total


@inner_kernel
def _share_before(t, sides):
    """Share of a rectangle that lies before a line across it, t from its middle.

    `sides` are its sides as seen along the way to the line. (The integral of a trapezium.)
    """
    one, other = sides
    sum_, gap = 0.5 * (one + other), 0.5 * abs(one - other)
    if one * other <= 1e-6 * sum_ * sum_:
        return min(max(t / max(2.0 * sum_, NARROWEST) + 0.5, 0.0), 1.0)
    area = max(t + sum_, 0.0) ** 2 - max(t + gap, 0.0) ** 2
    area += max(t - sum_, 0.0) ** 2 - max(t - gap, 0.0) ** 2
    return area / (2.0 * one * other)


@inner_kernel
def _depth_at(shape, data, place, limits):
    """Depth at a place in the blank, in steps; 0 where the cutter never comes."""
    kind, tool, rings = shape
    top, thick = limits
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
def _way(kind, data, at, at_tip):
    """Direction away from the path (X, Y), and distance from it; across it as near as `at_tip`."""
    dx, dy = at
    if kind == HELIX:
        return _way_from_arc(data, dx, dy)
    ux, uy = data[UX], data[UY]
    u, w = dx * ux + dy * uy, dy * ux - dx * uy
    over = u - min(max(u, 0.0), data[LENGTH])
    away = math.hypot(over, w)
    if away <= at_tip:
        side = 1.0 if w >= 0.0 else -1.0
        return -side * uy, side * ux, abs(w)
    along, beside = over / away, w / away
    return along * ux - beside * uy, along * uy + beside * ux, away


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
