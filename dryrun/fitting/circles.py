"""Circles that widen and narrow along a groove: between arcs and points they give a vee away.

The tip of a vee that carves a shape is in the middle of the widest circle inside it, of the radius
t d at the depth d, where t is the tangent of its half angle. While that circle touches an arc of
radius R around a point c from inside or outside, or passes through a point (R = 0),

    |p - c| = R - t d      or      |p - c| = R + t d,

and squared, with p = (x, y),

    x2 + y2 = 2 c.p - |c|2 + R2 -/+ 2 R t d + t2 d2,

which is linear in everything unknown, and the factor of d2 is t2 (elementary geometry; least
squares). Straight outlines with even falls say nothing: for them the circle touches lines only.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from dryrun.fitting.strokes import Floats, Strokes

#: Places looked at together, at least and at most, and how many such groups.
FEWEST: Final = 8
MOST: Final = 24
MOST_GROUPS: Final = 80

#: A group ends where the path turns by more than this, cosine.
TURNS: Final = np.cos(np.radians(20.0))

#: Rounding of a place, mm (a thousandth, or a ten thousandth of an inch), as a standard deviation.
ROUNDING: Final = 0.0006

#: A group tells something when it fits as well as rounding allows, times this, and gives t2 to
#: this part of it.
FITS: Final = 3.0
SURE: Final = 0.15

#: Depths less curved than this along a straight path, and paths less curved, are straight, mm.
STRAIGHT: Final = 0.01

#: Squares of tangents of half angles from 8 to 75 degrees.
RANGE: Final = (0.02, 14.0)


@dataclass(frozen=True, slots=True)
class Widening:
    """The square of the tangent that makes circles along a groove touch one arc or point."""

    square: float
    part: float


def widenings_of(strokes: Strokes) -> tuple[Widening, ...]:
    """Return what groups of neighbouring places say about the tangent; `part` is its spread."""
    found = []
    for first, last in _groups(strokes)[:MOST_GROUPS]:
        places = np.vstack([strokes.start[first : last + 1], strokes.end[last : last + 1]])
        widening = _fit(places[:, :2], strokes.top - places[:, 2])
        if widening is not None:
            found.append(widening)
    return tuple(found)


def _groups(strokes: Strokes) -> list[tuple[int, int]]:
    """Return first and last pieces of groups that go on without a sharp turn, overlapping half."""
    run, step = strokes.run, strokes.step[:, :2]
    sideways = run > 1e-3
    on = (step[1:] * step[:-1]).sum(axis=1) > TURNS * run[1:] * run[:-1]
    on &= sideways[1:] & sideways[:-1] & (np.diff(strokes.chain) == 0)
    edge = np.diff(np.concatenate([[0], on.astype(np.int8), [0]]))
    groups = []
    for b, e in zip(np.flatnonzero(edge == 1), np.flatnonzero(edge == -1), strict=True):
        for first in range(int(b), int(e) - FEWEST + 3, MOST // 2):
            groups.append((first, min(int(e), first + MOST - 1)))
            if first + MOST - 1 >= e:
                break
    return groups


def _fit(place: Floats, depth: Floats) -> Widening | None:
    """Solve for t2; None where the places say nothing."""
    if len(place) < FEWEST or np.ptp(depth) < 20 * ROUNDING:
        return None
    middle = place.mean(axis=0)
    _, _, axes = np.linalg.svd(place - middle, full_matrices=False)
    u, v = ((place - middle) @ axes.T).T
    columns = [np.ones(len(u)), u, depth, depth * depth]
    if np.abs(v).max() > STRAIGHT:
        columns.append(v)
    else:
        linear = np.polyfit(u, depth, 1)
        if np.abs(depth - np.polyval(linear, u)).max() < STRAIGHT:
            return None
    if len(u) < len(columns) + 3:
        return None
    system = np.column_stack(columns)
    scale = np.maximum(np.abs(system).max(axis=0), 1e-9)
    inverse = np.linalg.pinv(system / scale, rcond=1e-7)
    target = u * u + v * v
    solution = (inverse @ target) / scale
    # Rounding of the places moves both sides: to first order by these.
    slope = np.abs(solution[2] + 2 * solution[3] * depth)
    noise = ROUNDING * np.sqrt(4 * target + solution[1] ** 2 + slope**2) + 1e-6
    left = target - system @ solution
    free = len(u) - len(columns)
    if float(np.sqrt((left * left / noise**2).sum() / free)) > FITS:
        return None
    row = inverse[3] / scale[3]
    spread = float(np.sqrt((row * row * noise**2).sum()))
    square = float(solution[3])
    if not RANGE[0] < square < RANGE[1] or spread > SURE * square:
        return None
    return Widening(square, spread / square)
