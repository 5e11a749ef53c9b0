"""Level lines and rings that go down or up a slope, each a small step beside and below the last.

A flat bit leaves stairs on a slope, a round one low scallops: close level lines, each at a height
of its own, are the finishing of a hollow, a dome or a leaning wall. If the lines lie on a circle in
section, the surface they finish is parallel to it, farther out by the radius of a ball (elementary
geometry): R + r in a hollow, R - r on a dome.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from dryrun.fitting.strokes import Floats, Ints, Strokes

#: Lines on a slope that follow each other, at least, and at most so many that are looked at.
FEWEST: Final = 5
MOST: Final = 1500

#: How far one lies beside the last, and below or above it, mm.
BESIDE: Final = (0.015, 3.0)
BELOW: Final = (0.003, 1.6)

#: Lines of one slope are so many times longer or shorter than each other, at most.
ALIKE: Final = 2.5
SHORTEST: Final = 2.0

#: A single line, or ring that is not too wavy, is at most so many times as long as the width and
#: the height of the box around it together; a nest of rings or rows that clear a level are longer.
ROUND_BOX: Final = 2.6

#: How far steps are from even, in the middle, as a part.
EVEN: Final = 0.12

#: Places at which the distance to the last line is taken.
PROBES: Final = 7

#: How far the lines may be off a circle, mm, and how many it needs.
OFF_CIRCLE: Final = 0.004
ON_CIRCLE: Final = 6


@dataclass(frozen=True, slots=True)
class Descent:
    """Lines on a slope.

    Attributes
    ----------
    step : from one to the next along the slope, mm
    share : part of the level path that they are
    section : radius of the circle they lie on, mm; above zero in a hollow, below on a dome;
        None when they lie on none
    straight : whether they are evenly far below each other, as on a leaning wall
    """

    step: float
    share: float
    section: float | None
    straight: bool


def descent_of(level: Strokes) -> Descent | None:
    """Return the longest slope that level lines go down or up; None without one."""
    if len(level) < FEWEST + 1:
        return None
    height = level.end[:, 2]
    first = np.flatnonzero(np.concatenate([[True], np.abs(np.diff(height)) > 1e-3]))
    if not FEWEST < len(first) <= MOST:
        return None
    length = np.add.reduceat(level.run, first)
    single = length < ROUND_BOX * _half_girth(level, first)
    below = np.diff(height[first])
    beside = _beside(level, first, below)
    alike = np.maximum(length[1:] / length[:-1], length[:-1] / length[1:]) < ALIKE
    alike &= single[1:] & single[:-1]
    good = alike & (beside > BESIDE[0]) & (beside < BESIDE[1]) & (length[1:] > SHORTEST)
    edge = np.diff(np.concatenate([[0], good.astype(np.int8), [0]]))
    found: list[tuple[float, Descent]] = []
    for b, e in zip(np.flatnonzero(edge == 1), np.flatnonzero(edge == -1), strict=True):
        if e - b < FEWEST:
            continue
        step = np.hypot(below[b:e], beside[b:e])
        straight = _uneven(np.abs(below[b:e])) <= EVEN
        if not straight and _uneven(step) > EVEN:
            continue
        section = _section(beside[b:e], below[b:e])
        one = Descent(float(np.median(step)), 0.0, section, straight)
        found.append((float(length[b : e + 1].sum()), one))
    if not found:
        return None
    share = sum(long for long, _ in found) / float(length.sum())
    return replace(max(found, key=lambda f: f[0])[1], share=share)


def _half_girth(level: Strokes, first: Ints) -> Floats:
    """Return width and height together of the box around each line."""
    low = np.minimum.reduceat(np.minimum(level.start, level.end)[:, :2], first)
    high = np.maximum.reduceat(np.maximum(level.start, level.end)[:, :2], first)
    girth: Floats = (high - low).sum(axis=1)
    return girth


def _uneven(step: Floats) -> float:
    middle = float(np.median(step))
    return float(np.median(np.abs(step / middle - 1)))


def _beside(level: Strokes, first: Ints, below: Floats) -> Floats:
    """Return how far each line lies beside the last; 0 where the heights are no small step."""
    found = np.zeros(len(below))
    last = np.append(first[1:], len(level))
    small = (np.abs(below) > BELOW[0]) & (np.abs(below) < BELOW[1])
    for k in np.flatnonzero(small):
        own = slice(first[k + 1], last[k + 1])
        reach = np.cumsum(level.run[own])
        wanted = (np.arange(PROBES) + 0.5) / PROBES * reach[-1]
        piece = np.minimum(np.searchsorted(reach, wanted), len(reach) - 1)
        part = 1 - (reach[piece] - wanted) / np.maximum(level.run[own][piece], 1e-9)
        at = (level.start[own][piece] + part[:, None] * level.step[own][piece])[:, None, :2]
        start = level.start[first[k] : last[k], :2]
        step = level.end[first[k] : last[k], :2] - start
        square = np.maximum((step * step).sum(axis=1), 1e-12)
        part = np.clip(((at - start) * step).sum(axis=2) / square, 0.0, 1.0)
        off = at - start - part[:, :, None] * step
        found[k] = np.median(np.hypot(off[:, :, 0], off[:, :, 1]).min(axis=1))
    return found


def _section(beside: Floats, below: Floats) -> float | None:
    """Return the radius of the circle that lines lie on, seen along them."""
    x = np.concatenate([[0.0], np.cumsum(beside)])
    z = np.concatenate([[0.0], np.cumsum(below)])
    if len(x) < ON_CIRCLE:
        return None
    x, z = x - x.mean(), z - z.mean()
    system = np.column_stack([x, z, np.ones_like(x)])
    solution, _, rank, _ = np.linalg.lstsq(system, x * x + z * z, rcond=None)
    if rank < 3:
        return None
    cx, cz = solution[0] / 2, solution[1] / 2
    radius = float(np.sqrt(max(solution[2] + cx * cx + cz * cz, 0.0)))
    off = np.hypot(x - cx, z - cz) - radius
    # A slope that is nearly straight lies on many circles.
    bow = float(np.abs(z - np.polyval(np.polyfit(x, z, 1), x)).max())
    if float(np.abs(off).max()) > OFF_CIRCLE or bow < 30 * OFF_CIRCLE:
        return None
    return radius if cz > 0 else -radius
