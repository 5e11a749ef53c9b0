"""Corners: the arc that rounds a corner within the allowed deviation, and the speed it bears.

A corner turns by the angle t (0 straight on, pi straight back). An arc tangent to both legs that
stays within the deviation e of the corner has the radius r = e cos(t/2) / (1 - cos(t/2)); with the
interior angle theta = pi - t that is e sin(theta/2) / (1 - sin(theta/2)). It starts r tan(t/2)
before the corner; that length may take at most half of the shorter leg, so that the next corner
finds the other half.
"""

# mypy: allow-untyped-defs
# Kernels are typed by the compiler at run time; their docstrings say what they take.

from __future__ import annotations

import math
from typing import Final, NamedTuple

from dryrun.timing.twice import twice

# Columns of the table of rows that describe the corner before a row.
TRIM: Final = 8  # tangent length, mm
STEP: Final = 9  # length of one step along the arc, mm
GATE: Final = 10  # largest speed squared at the middle of the corner, mm2/s2
TURNING: Final = 11  # 1/radius, rad/mm

#: Sine of half the turn below which two rows are one line.
COLLINEAR: Final = 1e-7

#: The same where the deviation is 0: what coordinates rounded to 1 um make of a smooth joint.
ROUNDED: Final = 5e-4

#: Largest sine of half a step's angle in a corner (a step turns by at most twice that).
FINEST: Final = 0.05

#: Tangent length of a corner beside the room for it, below which it is run at a steady speed.
SHORT: Final = 0.004

#: The same below which its steps may be twice as long.
MODEST: Final = 0.1

#: Part of the accelerations that turns use. The limits are held at the middles and, where it
#: matters, at the edges of steps; the rest keeps the time from falling below the true minimum in
#: between.
EASE: Final = 0.9985


def blend_radius(turn: float, tolerance: float) -> float:
    """Return the radius of the arc that rounds a corner within a tolerance, mm.

    Parameters
    ----------
    turn : float
        Change of direction, rad; 0 is straight on and gives infinity.
    tolerance : float
        Allowed distance between corner and path, mm.

    Examples
    --------
    >>> round(blend_radius(math.pi / 2, 0.05), 6)
    0.120711
    """
    sine = math.sin(turn / 2)
    cosine = math.cos(turn / 2)
    if sine == 0.0:
        return math.inf
    return tolerance * cosine * (1.0 + cosine) / (sine * sine)


def corner_speed(turn: float, tolerance: float, acceleration: float) -> float:
    """Return the speed that the rounded corner bears, sqrt(acceleration * radius), mm/s.

    `acceleration` (mm/s2) limits the length of the acceleration vector. The planner holds the
    limits of each axis along the arc instead, which bears at least this speed.
    """
    return math.sqrt(acceleration * blend_radius(turn, tolerance))


class Turn(NamedTuple):
    """A turning piece of a path: tangent = out cos f + inward sin f + drift, f from first to last.

    `turning` is df/ds in rad/mm, `bend` the length of d2q/ds2 in 1/mm, `step` the length of each of
    the `pieces` steps in mm, and `ease` the part of the accelerations that is used, so that no
    limit is passed between the middles of steps.
    """

    out: tuple[float, float, float]
    inward: tuple[float, float, float]
    drift: tuple[float, float, float]
    turning: float
    bend: float
    step: float
    cos_first: float
    sin_first: float
    cos_last: float
    sin_last: float
    cos_half: float
    sin_half: float
    pieces: int
    ease: float


@twice
def angle_of(sine):
    """Return the angle of a small sine (|sine| <= 0.1) to 1e-16, rad."""
    square = sine * sine
    tail = 1.0 / 6.0 + square * (
        3.0 / 40.0 + square * (15.0 / 336.0 + square * (105.0 / 3456.0 + square * 945.0 / 42240.0))
    )
    return sine * (1.0 + square * tail)


@twice
def most_square(a, b, sine, cosine):
    """Return the largest (a cos f + b sin f)**2 for f up to an angle to either side."""
    a = abs(a)
    b = abs(b)
    inside = a * a + b * b
    edge = a * cosine + b * sine
    return inside if b * cosine <= a * sine else edge * edge


@twice
def steady_limit(before, after, sine, cosine, radius, limits):
    """Return the largest x at which a corner's arc can be run at a steady speed, mm2/s2.

    The axis that bears least decides; squares are compared, so that there is one root in the end.
    """
    half_sum = 0.5 / cosine
    half_gap = 0.5 / sine
    bend = 0.0
    move = 0.0
    for axis in range(3):
        out = (after[axis] + before[axis]) * half_sum
        inward = (after[axis] - before[axis]) * half_gap
        ease = limits.ease[axis]
        slowness = limits.slowness[axis]
        bend = max(bend, most_square(inward, out, sine, cosine) * (ease * ease))
        move = max(move, most_square(out, inward, sine, cosine) * (slowness * slowness))
    return min(limits.path * radius, radius / math.sqrt(bend), 1.0 / move)


@twice
def shape_corner(rows, at, before, after, tolerance, room, limits):
    """Fill the corner before one row; return the steps in each half of its arc.

    `before` and `after` are the unit tangents; `room` is the longest tangent length, mm. The gate
    is left as it is where the corner can be passed, and set to 0 where the machine must stop. A
    corner that is short beside its legs is run at a steady speed: it has no steps then, and STEP is
    the length of half its arc.
    """
    sum_0 = after[0] + before[0]
    sum_1 = after[1] + before[1]
    sum_2 = after[2] + before[2]
    gap_0 = after[0] - before[0]
    gap_1 = after[1] - before[1]
    gap_2 = after[2] - before[2]
    cosine = 0.5 * math.sqrt(sum_0 * sum_0 + sum_1 * sum_1 + sum_2 * sum_2)
    sine = 0.5 * math.sqrt(gap_0 * gap_0 + gap_1 * gap_1 + gap_2 * gap_2)
    if sine < COLLINEAR or (tolerance <= 0.0 and sine < ROUNDED):
        return 0
    radius = tolerance * cosine * (1.0 + cosine) / (sine * sine)
    if radius * sine > room * cosine:
        radius = room * cosine / sine
    if radius < 1e-9 or cosine < 1e-9:
        rows[at, GATE] = 0.0
        return 0
    trim = radius * sine / cosine
    cos_half = math.sqrt(0.5 * (1.0 + cosine))
    sin_half = 0.5 * sine / cos_half
    finest = 2.0 * FINEST if trim < MODEST * room else FINEST
    count = 1
    while sin_half > finest:
        wider = sin_half
        cos_half = math.sqrt(0.5 * (1.0 + cos_half))
        sin_half = 0.5 * wider / cos_half
        count *= 2
    rows[at, TRIM] = trim
    rows[at, TURNING] = 1.0 / radius
    rows[at, STEP] = 2.0 * radius * angle_of(sin_half)
    if trim < SHORT * room:
        rows[at, STEP] *= count
        rows[at, GATE] = steady_limit(before, after, sine, cosine, radius, limits)
        return 0
    return count


@twice
def half_corner(rows, at, before, after, pieces, second):
    """Return the first or the second half of a corner's arc as a Turn."""
    sum_0 = after[0] + before[0]
    sum_1 = after[1] + before[1]
    sum_2 = after[2] + before[2]
    gap_0 = after[0] - before[0]
    gap_1 = after[1] - before[1]
    gap_2 = after[2] - before[2]
    cosine = 0.5 * math.sqrt(sum_0 * sum_0 + sum_1 * sum_1 + sum_2 * sum_2)
    sine = 0.5 * math.sqrt(gap_0 * gap_0 + gap_1 * gap_1 + gap_2 * gap_2)
    half_sum = 0.5 / cosine
    half_gap = 0.5 / sine
    out = (sum_0 * half_sum, sum_1 * half_sum, sum_2 * half_sum)
    inward = (gap_0 * half_gap, gap_1 * half_gap, gap_2 * half_gap)
    turning = rows[at, TURNING]
    cos_half = cosine
    sin_half = sine
    count = 1
    while count <= pieces:
        wider = sin_half
        cos_half = math.sqrt(0.5 * (1.0 + cos_half))
        sin_half = 0.5 * wider / cos_half
        count *= 2
    first = (1.0, 0.0) if second else (cosine, -sine)
    last = (cosine, sine) if second else (1.0, 0.0)
    return Turn(
        out,
        inward,
        (0.0, 0.0, 0.0),
        turning,
        turning,
        rows[at, STEP],
        first[0],
        first[1],
        last[0],
        last[1],
        cos_half,
        sin_half,
        pieces,
        EASE,
    )
