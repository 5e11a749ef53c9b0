"""Arcs: from the words of a G2 or G3 line to centre, radius and signed sweep.

All functions work in the plane of the arc on two in-plane coordinates (u, v) that form a right
hand with the plane's normal (NISTIR 6556 3.5.3): G17 (X, Y, Z), G18 (Z, X, Y), G19 (Y, Z, X).
Lengths mm, angles rad; a sweep is positive counter-clockwise seen from the positive end of the
normal. NaN in, NaN out: callers test for positions that are not known.

The compiled fast path repeats these formulas in the same order of operations: `sqrt(a*a + b*b)`
rather than `hypot`, `atan2` of differences, no other functions.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

#: plane code -> (index of u, index of v, index of the normal), 0 X, 1 Y, 2 Z
PLANE_AXES: Final[dict[int, tuple[int, int, int]]] = {
    17: (0, 1, 2),
    18: (2, 0, 1),
    19: (1, 2, 0),
}

TURN: Final = 2.0 * math.pi

#: End and start nearer than this (mm, in the plane) are one place: a full turn. Far below the
#: last decimal any program writes, far above the rounding of its arithmetic.
SAME_PLACE: Final = 1e-6


class CentreArc(NamedTuple):
    """Radius at the start and at the end (mm), and the signed sweep (rad)."""

    start_radius: float
    end_radius: float
    sweep: float


class RadiusArc(NamedTuple):
    """Centre (mm), signed sweep (rad), and how far half the chord exceeds the radius (mm)."""

    centre_u: float
    centre_v: float
    sweep: float
    excess: float


def centre_arc(
    start_u: float,
    start_v: float,
    end_u: float,
    end_v: float,
    centre_u: float,
    centre_v: float,
    clockwise: bool,
) -> CentreArc:
    """Arc by its centre (NISTIR 6556 3.5.3.2): end equal to start is one full turn."""
    a = start_u - centre_u
    b = start_v - centre_v
    c = end_u - centre_u
    d = end_v - centre_v
    start_radius = math.sqrt(a * a + b * b)
    end_radius = math.sqrt(c * c + d * d)
    chord_u = end_u - start_u
    chord_v = end_v - start_v
    if math.sqrt(chord_u * chord_u + chord_v * chord_v) <= SAME_PLACE:
        sweep = -TURN if clockwise else TURN
    else:
        sweep = math.atan2(d, c) - math.atan2(b, a)
        if clockwise:
            if sweep >= 0.0:
                sweep -= TURN
        elif sweep <= 0.0:
            sweep += TURN
    return CentreArc(start_radius, end_radius, sweep)


def radius_arc(
    start_u: float,
    start_v: float,
    end_u: float,
    end_v: float,
    radius: float,
    clockwise: bool,
) -> RadiusArc:
    """Arc by its radius (NISTIR 6556 3.5.3.1): positive at most half a turn, negative more.

    The centre lies on the perpendicular bisector of the chord, to the left of the direction
    start-end for a counter-clockwise arc with positive radius. When half the chord is longer than
    the radius, `excess` is positive and the half circle over the chord is returned: the caller
    decides whether that is within tolerance. End must differ from start.
    """
    chord_u = end_u - start_u
    chord_v = end_v - start_v
    chord = math.sqrt(chord_u * chord_u + chord_v * chord_v)
    half = 0.5 * chord
    size = abs(radius)
    excess = half - size
    height = math.sqrt(size * size - half * half) if excess < 0.0 else 0.0
    if clockwise != (radius < 0.0):
        height = -height
    centre_u = 0.5 * (start_u + end_u) - height * chord_v / chord
    centre_v = 0.5 * (start_v + end_v) + height * chord_u / chord
    turned = 2.0 * math.asin(half / size) if excess < 0.0 else math.pi
    if radius < 0.0:
        turned = TURN - turned
    return RadiusArc(centre_u, centre_v, -turned if clockwise else turned, excess)


def helix_length(radius: float, sweep: float, rise: float) -> float:
    """Return the true length of a helix, mm (NISTIR 6556 2.1.2.6)."""
    along = radius * sweep
    return math.sqrt(along * along + rise * rise)


def point_on_arc(
    start_u: float, start_v: float, centre_u: float, centre_v: float, angle: float
) -> tuple[float, float]:
    """Return the place reached from the start after turning by `angle` (rad, signed)."""
    a = start_u - centre_u
    b = start_v - centre_v
    cosine = math.cos(angle)
    sine = math.sin(angle)
    return centre_u + a * cosine - b * sine, centre_v + a * sine + b * cosine
