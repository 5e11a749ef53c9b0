"""Which side of a round the wall is on: where other path has cut, no material stands.

A bit that rolls around a sharp corner of the material keeps to an arc of its own radius around it,
and no other path may come nearer to that corner than this radius, or the corner would be gone. A
bit that runs along the inside of a rounded wall has the wall beyond the round, so no pass follows
on that side. Rounds in the middle of an area that is cleared have path on both sides.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from dryrun.fitting.strokes import Floats, Strokes

#: So many rounds of one radius are looked at.
LOOKED_AT: Final = 3

#: Nearer to the centre than the round itself by more than this, mm and part, is cut away.
NEARER: Final = (0.02, 0.01)

#: Heights that differ by less are one level, mm.
SAME_LEVEL: Final = 0.01

#: A pass beyond the round is as far away as the others are from each other, to this part.
AS_FAR: Final = 0.2


@dataclass(frozen=True, slots=True)
class Round:
    """One round of the path.

    Attributes
    ----------
    radius, spread : mm; sweep : rad
    centre, middle : (x, y) of the circle's centre, and of a place half way along the round
    z : its height, mm
    """

    radius: float
    sweep: float
    spread: float
    centre: tuple[float, float]
    middle: tuple[float, float]
    z: float


@dataclass(frozen=True, slots=True)
class Ground:
    """Where path is: corners (n, 2) of the box around each piece, its lower height, start, step."""

    low: Floats
    high: Floats
    bottom: Floats
    start: Floats
    step: Floats


def ground_of(strokes: Strokes) -> Ground:
    """Lay out the pieces of a path to be looked up by place."""
    low, high = np.minimum(strokes.start, strokes.end), np.maximum(strokes.start, strokes.end)
    return Ground(low[:, :2], high[:, :2], low[:, 2], strokes.start[:, :2], strokes.step[:, :2])


def sides_of(ground: Ground, rounds: list[Round], pitch: float | None) -> tuple[bool, bool]:
    """Tell whether material may stand at the centres of rounds, and beyond them.

    Parameters
    ----------
    ground : Ground
        All level path.
    rounds : list of Round
        Of one radius.
    pitch : float, optional
        Distance of the passes that clear an area; without it all may stand beyond.
    """
    within, beyond = 0, 0
    step = max(1, len(rounds) // LOOKED_AT)
    looked = rounds[::step][:LOOKED_AT]
    for one in looked:
        centre, middle = np.array(one.centre), np.array(one.middle)
        slack = NEARER[0] + NEARER[1] * one.radius + 2 * one.spread
        within += _nearest(ground, one.z, centre, one.radius) > one.radius - slack
        if pitch is None:
            beyond += 1
            continue
        there = middle + (middle - centre) / one.radius * pitch
        beyond += _nearest(ground, one.z, there, pitch) > AS_FAR * pitch
    return 2 * within > len(looked), 2 * beyond > len(looked)


def _nearest(ground: Ground, z: float, place: Floats, reach: float) -> float:
    """Return how near path as deep as `z` comes to a place, if nearer than `reach`."""
    x, y = place
    inside = (ground.low[:, 0] < x + reach) & (ground.high[:, 0] > x - reach)
    inside &= (ground.low[:, 1] < y + reach) & (ground.high[:, 1] > y - reach)
    near = np.flatnonzero(inside & (ground.bottom < z + SAME_LEVEL))
    if not len(near):
        return np.inf
    start, step = ground.start[near], ground.step[near]
    square = np.maximum((step * step).sum(axis=1), 1e-12)
    part = np.clip(((place - start) * step).sum(axis=1) / square, 0.0, 1.0)
    off = place - start - part[:, None] * step
    return float(np.sqrt((off * off).sum(axis=1).min()))
