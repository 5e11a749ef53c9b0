"""The mean depth over the area of each cell, where the cut's surface bends within it.

A cell counts by the depth at its centre as long as the surface runs straight through it. At an
upright wall, at the edge of a flat tip or under a pointed one, and where the cut ends in a top that
stands, it does not: a groove along the lines of the field would then be given too much or too
little along its whole length. So there a cell is cut into strips that run along the path: across
them the depth changes most, and along them hardly at all. The border of a wall is taken as
straight, and what lies beyond it is no part of a strip, so a wall counts by area.

Where the path goes on beyond an end of the line as it did before, the line is taken to be longer by
part of a cell (`means.ONWARD_CELLS`): of what two pieces cut in one cell only the larger counts, and
neither may stop in it.

Strips show how the surface bends away from the path. Where it bends along the path as well, as in
plunges and around the ends of arcs, each is seen at two places.

Same conventions as `blocks`: rows of 64 float32, depths in steps.
"""

# mypy: ignore-errors
# kernels: numba types them when they run

from __future__ import annotations

import math
from typing import Final

import numpy as np

from dryrun.jit import inlined_kernel, inner_kernel
from dryrun.removal import blocks
from dryrun.removal.blocks import (
    AT_U,
    AT_W,
    AWAY,
    BESIDE,
    BLEND,
    CELL,
    CELLS,
    CORNER,
    DX,
    DY,
    FILLED,
    FROM,
    FROM_HERE,
    INSIDE,
    MEAN,
    PLACE,
    RADIUS,
    RING,
    ROUND_END,
    SIZE_X,
    SIZE_Y,
    SLOPE_M,
    STEEP,
    TO,
    TO_U,
    TO_W,
    TOOL,
    UNDER,
    UX,
    UY,
    WIDTH,
    U,
    W,
)

#: Strips of a cell. A bend of the slope by k is then missed by k w / 512 in the mean depth of a cell
#: of width w, at most, where its centre alone would miss it by k w / 8.
STRIPS: Final = 4
#: A mean depth that differs by less than this from that of the centre is the same, steps; as
#: `commit.NOISE`.
SAME: Final = 512

_ZERO: Final = np.float32(0.0)
#: From the ends of what is cut of a cell to the two places that stand for it under a ball, in parts of it.
#: Of what bends evenly, and on average of an edge anywhere in it, the mean of both is that of all (Gauss
#: and Legendre's rule); at the rim the flank is a root, of which it is where sqrt(a) + sqrt(1 - a) = 4/3.
_IN_ALL: Final = np.float32(0.5 - BESIDE)
_AT_RIM: Final = np.float32(0.5 - math.sqrt(0.25 - (7.0 / 18.0) ** 2))
_HALF: Final = np.float32(0.5)
_ONE: Final = np.float32(1.0)
_STEPS: Final = np.float32(2**20)
_FAR: Final = np.float32(1000.0)
_TINY: Final = np.float32(1e-6)
#: A cell filled to this part is whole.
WHOLE_PART: Final = np.float32(0.9999)
_PART: Final = np.float32(1.0 / STRIPS)
_BESIDE: Final = np.float32(BESIDE)
_SAME: Final = np.int32(SAME)
_NONE: Final = np.int32(0)


@inner_kernel
def mean_along_line(work, limits, out, shape):
    """Find the mean depths under a convex profile along a line; `limits` is (base depth, thick).

    `shape` is whether the profile is a bull nose and the line slopes, and whether it is so steep that
    the cut is round. Uses out and the noted places.
    """
    base, thick = limits
    nosed, plunges = shape
    _lay_across_line(work)
    places = 2 if plunges else 1
    across, share = (_BESIDE, _HALF * _PART) if plunges else (_ZERO, _PART)
    for place in range(places * STRIPS):
        strip, side = place % STRIPS, across if place < STRIPS else -across
        _step_to_strip(work, (np.float32(strip) + _HALF) * _PART, side)
        blocks.line_depths(work, base, out, nosed)
        _add_strip(work, out, thick, share)


@inner_kernel
def mean_under_ball(work, limits, shape):
    """Find the mean depths under a ball along a line; `limits` is (base depth, thick).

    `shape` is whether the line is a plunge, and whether little but the edge of the cut counts. A ball
    bends least, and is at work most: two strips do, two places of each in a plunge, and four strips
    where the edge is all.
    """
    plunges, edge_alone = shape
    parts, sides = (2 if edge_alone else 1), (2 if plunges else 1)
    for k in range(CELLS):
        work[MEAN, k] = _ZERO
    for i in range(parts * sides):
        across = (_BESIDE if i < parts else -_BESIDE) if plunges else _ZERO
        length, counts = _ONE / np.float32(parts), _ONE / np.float32(sides)
        _add_ball_strips(work, limits, across, (np.float32(i % parts) * length, length, counts))


@inner_kernel
def _add_ball_strips(work, limits, across, part):
    """Add two strips of each cell to its mean depth, at places so many lengths from their middles.

    `part` is where the part of a cell's cut begins in which they are, how long it is, and what it counts.
    """
    base, thick = limits
    radius = work[TOOL, RADIUS]
    low, high, m = work[PLACE, FROM], work[PLACE, TO], work[PLACE, SLOPE_M]
    ux, uy = work[PLACE, UX], work[PLACE, UY]
    line = low, high, m, radius
    begin, length, counts = part
    counts = _HALF * length * counts
    for k in range(CELLS):
        u, w = work[AT_U, k], work[AT_W, k]
        size = work[SIZE_X, k], work[SIZE_Y, k]
        along, beside, off, width = _across(u, w, (low, high, _TINY), (ux, uy), size)
        first, filled, width = _cut_between(off, width, radius, size)
        place = _IN_ALL if filled >= WHOLE_PART * width else _AT_RIM
        near, far = begin + length * place, begin + length * (_ONE - place)
        near, far = first + near * filled, first + far * filled
        u, w = u - across * size[0] * beside, w + across * size[0] * along
        depth = _under_ball(u + near * along, w + near * beside, line, base, thick)
        depth += _under_ball(u + far * along, w + far * beside, line, base, thick)
        work[MEAN, k] += counts * depth * filled / width
        work[FILLED, k], work[WIDTH, k] = filled, width


@inlined_kernel
def _under_ball(u, w, line, base, thick):
    """Depth under a ball at a place (as `blocks.ball_line`), in steps, not past the underside."""
    low, high, m, radius = line
    rest = radius * radius - w * w
    behind, ahead = u - low, u - high
    stretch, free = _ONE + m * m, m * m * rest
    at_high = (ahead > _ZERO) & (ahead * ahead * stretch > free)
    at_low = (behind <= _ZERO) | (behind * behind * stretch < free)
    end = high if at_high else low
    off = ahead if at_high else behind
    at_end = at_high | at_low
    under = rest - off * off if at_end else stretch * rest
    z = (m * end if at_end else m * u) + radius - np.sqrt(max(under, _ZERO))
    depth = np.int32(base - np.int32(min(z, _FAR) * _STEPS))
    return np.float32(max(min(depth, thick), _NONE))


@inner_kernel
def mean_of_disc(work, limits):
    """Find the mean depths under a flat disc that moves level; `limits` is (base depth, thick)."""
    base, thick = limits
    _lay_across_line(work)
    _fill(work, max(min(base, thick), _NONE))


@inner_kernel
def mean_at_wall(work, out, thick):
    """Find the mean depths at an upright wall along a line from the depths in out[UNDER].

    For a ball, whose flank is so steep there that little but the wall's place counts, and in blocks of
    whole cells.
    """
    radius, cell = work[TOOL, RADIUS], work[TOOL, CELL]
    line = work[PLACE, FROM], work[PLACE, TO], _TINY
    heading, size = (work[PLACE, UX], work[PLACE, UY]), (cell, cell)
    for k in range(CELLS):
        _, _, off, width = _across(work[AT_U, k], work[AT_W, k], line, heading, size)
        filled = max(min(_HALF * width, radius - off) + _HALF * width, _ZERO)
        depth = np.float32(max(min(out[UNDER, k], thick), _NONE))
        work[FILLED, k], work[WIDTH, k] = filled, width
        work[MEAN, k] = depth * (filled / width)


@inner_kernel
def mean_along_arc(work, limits, out):
    """Find the mean depths under a convex profile along a level arc.

    `limits` is (base depth, thick). Follows on `blocks.arc_level`.
    """
    base, thick = limits
    _lay_across_arc(work)
    radius, ring, corner = work[TOOL, RADIUS], work[TOOL, RING], work[TOOL, CORNER]
    blend, steep = work[TOOL, BLEND], work[TOOL, STEEP]
    round_square, most = corner * corner, blend - ring
    if ring >= radius:
        _fill(work, max(min(base, thick), _NONE))
    else:
        for strip in range(STRIPS):
            part = (np.float32(strip) + _HALF) * _PART
            for k in range(CELLS):
                off = work[AWAY, k] + work[FROM_HERE, k] + part * work[FILLED, k]
                beside = work[ROUND_END, k]
                r = min(np.sqrt(off * off + beside * beside), radius)
                t = min(max(r - ring, _ZERO), most)
                z = corner - np.sqrt(max(round_square - t * t, _ZERO))
                z += steep * max(r - blend, _ZERO)
                out[UNDER, k] = np.int32(base - np.int32(min(z, _FAR) * _STEPS))
            _add_strip(work, out, thick, _PART)


@inner_kernel
def settle(work, out, thick, everywhere):
    """Put the mean depths in out[UNDER], as far as they are not those of the centres.

    They are lower where a wall or the tip of a cone passes through a cell, and higher where the top
    ends in it. What the flank of a ball or bull nose makes of them is left out (unless `everywhere`),
    so that a block has the same mean depths whether its surface bends somewhere or not.
    """
    ring, blend, steep = work[TOOL, RING], work[TOOL, BLEND], work[TOOL, STEEP]
    same = _SAME >> 4 if everywhere else _SAME
    for k in range(CELLS):
        mean, width = np.int32(work[MEAN, k]), work[WIDTH, k]
        centre = max(min(out[INSIDE, k], thick), _NONE)
        at_wall = work[FILLED, k] < WHOLE_PART * width
        off, half = work[AWAY, k], _HALF * width
        at_bend = (steep > _ZERO) & (off >= ring - half) & (off <= blend + half)
        more = np.int32(mean - centre)
        bent = (at_wall | at_bend | everywhere) & (abs(more) > same)
        out[UNDER, k] = mean if bent | (more > same) else centre


@inner_kernel
def _lay_across_line(work):
    """Note in which direction the strips of each cell follow each other, and what they fill."""
    radius = work[TOOL, RADIUS]
    ux, uy = work[PLACE, UX], work[PLACE, UY]
    line = work[PLACE, FROM], work[PLACE, TO], _near_tip(work)
    for k in range(CELLS):
        u, w = work[AT_U, k], work[AT_W, k]
        size = work[SIZE_X, k], work[SIZE_Y, k]
        along, beside, off, width = _across(u, w, line, (ux, uy), size)
        _fill_between(work, k, (off, width, radius), size)
        work[TO_U, k], work[TO_W, k] = along, beside


@inlined_kernel
def _near_tip(work):
    """How far from the end of a line the way across it still counts and not that away from the end, mm.

    Around the tip of a cone, across which the surface bends most. Along it a short line may lie anywhere
    in a cell.
    """
    cell = work[TOOL, CELL]
    return cell if work[TOOL, RING] < cell else _TINY


@inlined_kernel
def _across(u, w, line, heading, size):
    """Direction away from a line (along it, beside it), how far a cell is, and how wide that way.

    `line` is where it begins and ends, and how near to it cells are seen across it.
    """
    low, high, at_tip = line
    ux, uy = heading
    over = max(u - high, _ZERO) + min(u - low, _ZERO)
    away = np.sqrt(w * w + over * over)
    on_it = away <= at_tip
    long = max(away, _TINY)
    along = _ZERO if on_it else over / long
    beside = (_ONE if w >= _ZERO else -_ONE) if on_it else w / long
    away = abs(w) if on_it else away
    wide = abs(along * ux - beside * uy) * size[0] + abs(along * uy + beside * ux) * size[1]
    return along, beside, away, max(wide, blocks.NARROWEST)


@inner_kernel
def _lay_across_arc(work):
    """Note what the strips of each cell fill."""
    radius = work[TOOL, RADIUS]
    for k in range(CELLS):
        size = work[SIZE_X, k], work[SIZE_Y, k]
        _fill_between(work, k, (work[AWAY, k], work[WIDTH, k], radius), size)


@inner_kernel
def _fill_between(work, k, seen, size):
    """Note from where to where a cell is cut, and of what width."""
    off, width, radius = seen
    first, filled, width = _cut_between(off, width, radius, size)
    work[AWAY, k] = off
    work[FROM_HERE, k] = first
    work[FILLED, k] = filled
    work[WIDTH, k] = width
    work[MEAN, k] = _ZERO


@inlined_kernel
def _cut_between(off, width, radius, size):
    """From where a cell is cut, over what length, and of what width: from border to border or to the rim.

    Slantwise a cell is wider from corner to corner than it is on average. What is cut of it goes by its
    corners; but where the cutter covers it all, its surface bends over no more than one side.
    """
    first, last = max(-_HALF * width, -(radius + off)), min(_HALF * width, radius - off)
    side = max(min(width, max(size[0], size[1])), blocks.NARROWEST)
    whole = last - first >= WHOLE_PART * width
    filled = side if whole else max(last - first, _ZERO)
    return (-_HALF * side if whole else first), filled, (side if whole else width)


@inner_kernel
def _step_to_strip(work, part, across):
    """Note where the strip at this part of each cell lies along the line and beside it.

    And there the place so many lengths of the strip from its middle.
    """
    u0, w0, ux, uy = work[PLACE, U], work[PLACE, W], work[PLACE, UX], work[PLACE, UY]
    for k in range(CELLS):
        step, side = work[FROM_HERE, k] + part * work[FILLED, k], across * work[SIZE_X, k]
        to_u, to_w = work[TO_U, k], work[TO_W, k]
        work[AT_U, k] = u0 + ux * work[DX, k] + uy * work[DY, k] + step * to_u - side * to_w
        work[AT_W, k] = w0 + ux * work[DY, k] - uy * work[DX, k] + step * to_w + side * to_u


@inner_kernel
def _add_strip(work, out, thick, share):
    """Add a strip's part to the mean depth of each cell."""
    for k in range(CELLS):
        depth = np.float32(max(min(out[UNDER, k], thick), _NONE))
        work[MEAN, k] += depth * (share * work[FILLED, k] / work[WIDTH, k])


@inner_kernel
def _fill(work, depth):
    """Take one depth for all that is cut of each cell."""
    for k in range(CELLS):
        work[MEAN, k] = np.float32(depth) * (work[FILLED, k] / work[WIDTH, k])
