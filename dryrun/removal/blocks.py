"""The swept height over the 64 cells of a block, in single precision and whole vectors.

For a straight segment of horizontal length L and slope m >= 0 (taken from its lower end) the
height over a point at u along it and w beside it is

    Z(u, w) = z0 + min over s in [0, L] of  m s + h(sqrt((u - s)^2 + w^2))

For a convex profile h the function of s is convex, so its free minimum at s = u - q, clamped to
the segment, is the answer (cf. Chung, Park, Shin and Choi 1998, Computer-Aided Design 30(8)):

    ball of radius c   q = m sqrt((c^2 - w^2) / (1 + m^2))
    cone of slope k    q = m |w| / sqrt(k^2 - m^2), none when m >= k (then out to the rim)
    edge at radius r1  q = sqrt(r1^2 - w^2), where the cone's q falls inside r1 and the ball's
                       outside
    corner c at ring a q^2 = r^2 - w^2 with r = a + c S, where S is the root in (0, 1) of
                       S^2 (r^2 - w^2) = m^2 r^2 (1 - S^2)

A level arc has Z = z + h(distance from the arc) because h nowhere falls (module `exact` has what
is left: helices, steep lines and forms).

Coordinates are taken from the middle of the block and from the nearest point of the path, so that
single precision keeps them to better than 0.1 µm anywhere on a large sheet, and so that a cell's
height does not depend on which other cells are computed with it.

All functions read and write one work space of rows of 64 float32 (names below) and give depths in
steps of 2^-20 mm below the blank's top: `out[INSIDE]` where the cutter comes over the cell's
centre, NEVER elsewhere, and `out[UNDER]` as if the cutter's rim went on level beyond its radius.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from dryrun.jit import inner_kernel

CELLS: Final = 64

#: Rows of the work space.
DX, DY, OFFSET, LOW, HIGH, PLACE, TOOL = range(7)
#: Half the width of a ball's trough at a cell (module `ball`), where others have the offset.
ROOT: Final = OFFSET
#: Where the cells, or strips of them, lie along a line and beside it; how far from an arc.
AT_U, AT_W, AWAY = range(7, 10)
#: How wide a cell is across the way to the nearest place of the path.
WIDTH: Final = 10
#: What strips of the cells need (module `strips`); along an arc ROUND_END tells how far beside the way
#: to its end they are seen.
TO_U, TO_W, FROM_HERE, FILLED, MEAN = range(11, 16)
ROUND_END: Final = TO_U
#: How much of the cells lies over the blank along X and Y, mm.
SIZE_X, SIZE_Y = 16, 17
WORK_ROWS: Final = 18
#: Numbers in its row PLACE for a line, relative to the middle of the block ...
U, W, FROM, TO, UX, UY, SLOPE_M = range(7)
#: ... with the part of the line beside which what is taken counts as the width of cut ...
SPAN_FROM, SPAN_TO = 16, 17
#: ... and U and W as seen from the middle of the page.
PAGE_U, PAGE_W = 18, 19
#: ... and for an arc.
POWER, CX, CY, ARC, FIRST, FX, FY, LAST, LX, LY, AX, AY, BX, BY, SECTOR = range(15)
#: Values of SECTOR.
NARROW, WIDE, ROUND = 0.0, 1.0, 2.0
#: Numbers in its row TOOL.
RADIUS, RING, CORNER, BLEND, STEEP, CELL = range(6)
#: Rows of the result: depths (below), and depths if the path went straight on.
INSIDE, UNDER, ONWARD = 0, 1, 2

NEVER: Final = -(2**30)
#: Of a cell beyond the blank nothing lies over it; so wide it is taken all the same, mm.
NARROWEST: Final = np.float32(1e-6)

_ZERO: Final = np.float32(0.0)
_HALF: Final = np.float32(0.5)
_ONE: Final = np.float32(1.0)
_STEPS: Final = np.float32(2**20)
_FAR: Final = np.float32(1000.0)
_TINY: Final = np.float32(1e-9)
#: A cell's centre on the rim itself counts as cut; the rim is this much wider, mm.
_ON_RIM: Final = np.float32(1e-6)
_HALVINGS: Final = 20
#: From the middle of a strip of a cell to the two places that stand for it, in lengths of the strip: of
#: what bends evenly the mean of both is that of the strip (Gauss and Legendre's rule).
BESIDE: Final = 1.0 / math.sqrt(12.0)
_BESIDE: Final = np.float32(BESIDE)
#: From the middle of a block to its outermost rows of cells, in cells (and a hair).
HALF_BLOCK: Final = np.float32(3.501)


@inner_kernel
def flat_level(work, base, out):
    """Depths under a flat disc that moves level."""
    radius = work[TOOL, RADIUS]
    limit = radius * radius + (radius + radius) * _ON_RIM
    u0, w0, low, high = work[PLACE, U], work[PLACE, W], work[PLACE, FROM], work[PLACE, TO]
    ux, uy = work[PLACE, UX], work[PLACE, UY]
    for k in range(CELLS):
        u = u0 + ux * work[DX, k] + uy * work[DY, k]
        w = w0 + ux * work[DY, k] - uy * work[DX, k]
        over = max(u - high, _ZERO) + min(u - low, _ZERO)
        out[UNDER, k] = base
        out[INSIDE, k] = base if w * w + over * over <= limit else NEVER


@inner_kernel
def ball_line(work, base, out):
    """Depths under a ball along a line, with the one root that its height needs."""
    radius = work[TOOL, RADIUS]
    square = radius * radius
    limit = square + (radius + radius) * _ON_RIM
    u0, w0, low, high = work[PLACE, U], work[PLACE, W], work[PLACE, FROM], work[PLACE, TO]
    ux, uy, m = work[PLACE, UX], work[PLACE, UY], work[PLACE, SLOPE_M]
    mm = m * m
    stretch = _ONE + mm
    for k in range(CELLS):
        u = u0 + ux * work[DX, k] + uy * work[DY, k]
        w = w0 + ux * work[DY, k] - uy * work[DX, k]
        rest = square - w * w
        behind, ahead = u - low, u - high
        free = mm * rest
        at_high = (ahead > _ZERO) & (ahead * ahead * stretch > free)
        at_low = (behind <= _ZERO) | (behind * behind * stretch < free)
        end = high if at_high else low
        off = ahead if at_high else behind
        at_end = at_high | at_low
        under = rest - off * off if at_end else stretch * rest
        z = (m * end if at_end else m * u) + radius - np.sqrt(max(under, _ZERO))
        over = max(ahead, _ZERO) + min(behind, _ZERO)
        depth = np.int32(base - np.int32(min(z, _FAR) * _STEPS))
        out[UNDER, k] = depth
        out[INSIDE, k] = depth if w * w + over * over <= limit else NEVER


@inner_kernel
def ball_line_end(work, base, out, end):
    """Depths under a ball where all cells are nearest to the same end of its line."""
    radius = work[TOOL, RADIUS]
    square = radius * radius
    limit = square + (radius + radius) * _ON_RIM
    u0, w0 = work[PLACE, U] - end, work[PLACE, W]
    ux, uy = work[PLACE, UX], work[PLACE, UY]
    low = work[PLACE, SLOPE_M] * end + radius
    for k in range(CELLS):
        u = u0 + ux * work[DX, k] + uy * work[DY, k]
        w = w0 + ux * work[DY, k] - uy * work[DX, k]
        away = u * u + w * w
        z = low - np.sqrt(max(square - away, _ZERO))
        depth = np.int32(base - np.int32(min(z, _FAR) * _STEPS))
        out[UNDER, k] = depth
        out[INSIDE, k] = depth if away <= limit else NEVER


@inner_kernel
def see_line(work):
    """Note where the centres of the cells lie along a line and beside it."""
    u0, w0, ux, uy = work[PLACE, U], work[PLACE, W], work[PLACE, UX], work[PLACE, UY]
    for k in range(CELLS):
        work[AT_U, k] = u0 + ux * work[DX, k] + uy * work[DY, k]
        work[AT_W, k] = w0 + ux * work[DY, k] - uy * work[DX, k]


@inner_kernel
def tapered_offsets(work):
    """Free stationary offsets q of any convex profile but a sloping bull nose."""
    radius, corner = work[TOOL, RADIUS], work[TOOL, CORNER]
    blend, k, m = work[TOOL, BLEND], work[TOOL, STEEP], work[PLACE, SLOPE_M]
    mm, kk, edge = m * m, k * k, blend * blend
    level = m <= _ZERO
    steep = (not level) and k <= m
    gap = _ONE if steep or level else kk - mm
    cone_offset = mm / gap
    cone_radius = _ONE if level else kk / gap
    ball_part = mm / (_ONE + mm)
    ball = corner > _ZERO
    ball_square = corner * corner
    square = radius * radius
    for i in range(CELLS):
        ww = work[AT_W, i] * work[AT_W, i]
        cap = max(square - ww, _ZERO)
        on_ball = ball_part * (ball_square - ww)
        inner = on_ball if ball & (ww + on_ball <= edge) else edge - ww
        q = ww * cone_offset if ww * cone_radius >= edge else inner
        q = cap if steep else min(q, cap)
        work[OFFSET, i] = np.sqrt(max(q, _ZERO))


@inner_kernel
def bull_offsets(work):
    """Free stationary offsets q of a bull nose on a slope, by halving the interval of S."""
    radius, ring, corner = work[TOOL, RADIUS], work[TOOL, RING], work[TOOL, CORNER]
    m = work[PLACE, SLOPE_M]
    mm, square = m * m, radius * radius
    for i in range(CELLS):
        w = abs(work[AT_W, i])
        work[LOW, i] = min(max((w - ring) / corner, _ZERO), _ONE)
        work[HIGH, i] = _ONE
        work[OFFSET, i] = w * w
    for _ in range(_HALVINGS):
        for i in range(CELLS):
            low, high = work[LOW, i], work[HIGH, i]
            s = (low + high) * _HALF
            ss = s * s
            r = ring + corner * s
            rr = r * r
            less = ss * (rr - work[OFFSET, i]) < mm * rr * (_ONE - ss)
            work[LOW, i] = s if less else low
            work[HIGH, i] = high if less else s
    for i in range(CELLS):
        ww = work[OFFSET, i]
        r = ring + corner * (work[LOW, i] + work[HIGH, i]) * _HALF
        q = min(r * r - ww, square - ww)
        work[OFFSET, i] = np.sqrt(max(q, _ZERO))


@inner_kernel
def line_at_offsets(work, base, out):
    """Depths of a convex profile along a line, at noted places whose free offsets are known."""
    radius, ring, corner = work[TOOL, RADIUS], work[TOOL, RING], work[TOOL, CORNER]
    blend, steep = work[TOOL, BLEND], work[TOOL, STEEP]
    low, high, m = work[PLACE, FROM], work[PLACE, TO], work[PLACE, SLOPE_M]
    limit = radius * radius + (radius + radius) * _ON_RIM
    round_square, most = corner * corner, blend - ring
    for k in range(CELLS):
        u, w = work[AT_U, k], work[AT_W, k]
        s = min(max(u - work[OFFSET, k], low), high)
        away = u - s
        r = min(np.sqrt(w * w + away * away), radius)
        t = min(max(r - ring, _ZERO), most)
        z = m * s + corner - np.sqrt(max(round_square - t * t, _ZERO))
        z += steep * max(r - blend, _ZERO)
        over = max(u - high, _ZERO) + min(u - low, _ZERO)
        depth = np.int32(base - np.int32(min(z, _FAR) * _STEPS))
        out[UNDER, k] = depth
        out[INSIDE, k] = depth if w * w + over * over <= limit else NEVER


@inner_kernel
def line_depths(work, base, out, nosed):
    """Depths of a convex profile along a line at noted places; `nosed`: a sloping bull nose."""
    if nosed:
        bull_offsets(work)
    else:
        tapered_offsets(work)
    line_at_offsets(work, base, out)


@inner_kernel
def arc_going_on(work, base, out):
    """Depths that a convex profile would reach if it went on along its level arc.

    By the distance from the whole circle: what lies ahead of a short move counts as what it will
    become, not as the first slice of it.
    """
    radius, ring, corner = work[TOOL, RADIUS], work[TOOL, RING], work[TOOL, CORNER]
    blend, steep = work[TOOL, BLEND], work[TOOL, STEEP]
    power, cx, cy, arc = work[PLACE, POWER], work[PLACE, CX], work[PLACE, CY], work[PLACE, ARC]
    round_square, most = corner * corner, blend - ring
    for k in range(CELLS):
        dx, dy = work[DX, k], work[DY, k]
        vx, vy = cx + dx, cy + dy
        off = (power + (cx + vx) * dx + (cy + vy) * dy) / (np.sqrt(vx * vx + vy * vy) + arc)
        r = min(abs(off), radius)
        t = min(max(r - ring, _ZERO), most)
        z = corner - np.sqrt(max(round_square - t * t, _ZERO)) + steep * max(r - blend, _ZERO)
        out[ONWARD, k] = np.int32(base - np.int32(min(z, _FAR) * _STEPS))


@inner_kernel
def arc_level(work, base, out):
    """Depths of a convex profile along a level arc, and how far and how wide the cells are from it."""
    radius, ring, corner = work[TOOL, RADIUS], work[TOOL, RING], work[TOOL, CORNER]
    blend, steep = work[TOOL, BLEND], work[TOOL, STEEP]
    power, cx, cy, arc = work[PLACE, POWER], work[PLACE, CX], work[PLACE, CY], work[PLACE, ARC]
    first, fx, fy = work[PLACE, FIRST], work[PLACE, FX], work[PLACE, FY]
    last, lx, ly = work[PLACE, LAST], work[PLACE, LX], work[PLACE, LY]
    ax, ay, bx, by = work[PLACE, AX], work[PLACE, AY], work[PLACE, BX], work[PLACE, BY]
    wide, whole = work[PLACE, SECTOR] >= np.float32(WIDE), work[PLACE, SECTOR] >= np.float32(ROUND)
    limit = radius * radius + (radius + radius) * _ON_RIM
    round_square, most = corner * corner, blend - ring
    for k in range(CELLS):
        dx, dy = work[DX, k], work[DY, k]
        vx, vy = cx + dx, cy + dy
        from_centre = np.sqrt(vx * vx + vy * vy)
        gain = power + (cx + vx) * dx + (cy + vy) * dy
        off = gain / (from_centre + arc)
        after = first + fx * dy - fy * dx >= _ZERO
        before = last + dx * ly - dy * lx >= _ZERO
        inside = whole | ((after | before) if wide else (after & before))
        px, py, qx, qy = dx - ax, dy - ay, dx - bx, dy - by
        pp, qq = px * px + py * py, qx * qx + qy * qy
        near_a = pp <= qq
        square = off * off if inside else min(pp, qq)
        away = np.sqrt(square)
        r = min(away, radius)
        t = min(max(r - ring, _ZERO), most)
        z = corner - np.sqrt(max(round_square - t * t, _ZERO)) + steep * max(r - blend, _ZERO)
        depth = np.int32(base - np.int32(min(z, _FAR) * _STEPS))
        out[UNDER, k] = depth
        out[INSIDE, k] = depth if square <= limit else NEVER
        nx = vx if inside else (px if near_a else qx)
        ny = vy if inside else (py if near_a else qy)
        long = from_centre if inside else away
        across = (abs(nx) * work[SIZE_X, k] + abs(ny) * work[SIZE_Y, k]) / max(long, _TINY)
        across = across if long > _TINY else work[SIZE_X, k]
        work[AWAY, k] = away
        work[ROUND_END, k] = _ZERO if inside else _BESIDE * work[SIZE_X, k]
        work[WIDTH, k] = max(across, NARROWEST)
