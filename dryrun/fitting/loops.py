"""Loops that creep along a slot: how large they are, and how far each goes on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from dryrun.fitting.curves import rounds_of
from dryrun.fitting.strokes import Strokes

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
    rounds = rounds_of(level.chosen(arc))
    turned = [r for r in rounds if r.sweep > LEAST_SWEEP]
    if len(turned) < FEWEST:
        return None
    usual = float(np.median([r.radius for r in turned]))
    mine = [r for r in turned if abs(r.radius - usual) < SAME[0] * usual + SAME[1]]
    if len(mine) < max(FEWEST, len(rounds) // 2):
        return None
    middle, deep = np.array([r.centre for r in mine]), np.array([r.z for r in mine])
    apart = np.hypot(*np.diff(middle, axis=0).T)
    apart = apart[(np.abs(np.diff(deep)) < 0.01) & (apart > 0.02)]
    if len(apart) < FEWEST // 2:
        return None
    bite = float(np.median(apart))
    even = np.abs(apart - bite) < 0.05 * bite + 0.004
    if bite > WIDEST_BITE * 2 * usual or even.mean() < 0.6:
        return None
    return Loops(usual, bite, len(mine))
