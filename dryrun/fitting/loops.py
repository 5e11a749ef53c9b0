"""Loops that creep along a slot: how large they are, and how far each goes on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from dryrun.fitting.strokes import Floats, Strokes

#: Fewer loops of one radius are holes or rounded ends.
FEWEST: Final = 12

#: Arcs of one loop differ by less, part and mm; each turns at least so much, rad.
SAME: Final = (0.01, 0.004)
LEAST_SWEEP: Final = 2.5

#: Loops that go on by more than this part of their own width do not overlap.
WIDEST_BITE: Final = 1.0


@dataclass(frozen=True, slots=True)
class Loops:
    """Loops of one size along a slot.

    Attributes
    ----------
    radius : of the path, mm
    bite : how far each loop goes on, mm
    count : how many
    """

    radius: float
    bite: float
    count: int


def loops_of(level: Strokes) -> Loops | None:
    """Return the loops of a level path; None without."""
    arc = np.isfinite(level.arc_radius)
    if arc.sum() < FEWEST:
        return None
    arcs = level.chosen(arc)
    rows, first, count = np.unique(arcs.row, return_index=True, return_counts=True)
    radius = arcs.arc_radius[first]
    sweep = np.bincount(np.searchsorted(rows, arcs.row), arcs.run) / radius
    usual = float(np.median(radius))
    mine = (np.abs(radius - usual) < SAME[0] * usual + SAME[1]) & (sweep > LEAST_SWEEP)
    mine &= count >= 3
    if mine.sum() < FEWEST:
        return None
    middle = np.array([_middle(arcs, b, n) for b, n in zip(first[mine], count[mine], strict=True)])
    deep = arcs.end[first[mine], 2]
    apart = np.hypot(*np.diff(middle, axis=0).T)
    apart = apart[(np.abs(np.diff(deep)) < 0.01) & (apart > 0.02)]
    if len(apart) < FEWEST // 2:
        return None
    bite = float(np.median(apart))
    even = np.abs(apart - bite) < 0.05 * bite + 0.004
    if bite > WIDEST_BITE * 2 * usual or even.mean() < 0.6:
        return None
    return Loops(usual, bite, int(mine.sum()))


def _middle(arcs: Strokes, first: int, count: int) -> Floats:
    """Return the centre of an arc from three of its places."""
    a = arcs.start[first, :2]
    b, c = arcs.end[first + count // 3, :2] - a, arcs.end[first + 2 * count // 3, :2] - a
    d = 2 * (b[0] * c[1] - b[1] * c[0])
    if abs(d) < 1e-12:
        return a
    b2, c2 = float(b @ b), float(c @ c)
    centre: Floats = a + np.array([c[1] * b2 - b[1] * c2, b[0] * c2 - c[0] * b2]) / d
    return centre
