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


def sides_of(strokes: Strokes, rounds: list[Round], pitch: float | None) -> tuple[bool, bool]:
    """Tell whether material may stand at the centres of rounds, and beyond them.

    Parameters
    ----------
    strokes : Strokes
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
        deep = np.minimum(strokes.start[:, 2], strokes.end[:, 2]) < one.z + SAME_LEVEL
        slack = NEARER[0] + NEARER[1] * one.radius + 2 * one.spread
        within += _nearest(strokes, deep, centre, one.radius) > one.radius - slack
        if pitch is None:
            beyond += 1
            continue
        there = middle + (middle - centre) / one.radius * pitch
        beyond += _nearest(strokes, deep, there, pitch) > AS_FAR * pitch
    return 2 * within > len(looked), 2 * beyond > len(looked)


def _nearest(strokes: Strokes, deep: np.ndarray, place: Floats, reach: float) -> float:
    """Return how near the deep path comes to a place, if nearer than `reach`."""
    low = np.minimum(strokes.start[:, :2], strokes.end[:, :2]) - reach
    high = np.maximum(strokes.start[:, :2], strokes.end[:, :2]) + reach
    near = np.flatnonzero(deep & ((low < place) & (high > place)).all(axis=1))
    if not len(near):
        return np.inf
    start, step = strokes.start[near, :2], (strokes.end - strokes.start)[near, :2]
    square = np.maximum((step * step).sum(axis=1), 1e-12)
    part = np.clip(((place - start) * step).sum(axis=1) / square, 0.0, 1.0)
    off = place - start - part[:, None] * step
    return float(np.sqrt((off * off).sum(axis=1).min()))
