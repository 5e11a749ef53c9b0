"""Passes missing from a cleared floor, or one beside its place: a ridge between neighbours.

The spacing of a floor's passes is even. Where two of them are two, three or four steps apart, with
nothing between, those between are lost, and a ridge is left when the bit is narrower than that.
Where a pass is nearer to one neighbour than a step and so much farther from the other, its place
was mistyped.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from dryrun.fitting.ridges import CLEARED, LEVELS, LINKED, ROUNDING, distance_from
from dryrun.fitting.spacing import find_neighbours, main_spacing
from dryrun.fitting.strokes import Strokes, strokes_of
from dryrun.motion import Motion

#: So many steps apart, to this part of a step.
STEPS: Final = (2, 4)
_EVEN: Final = 0.05
#: A wider ridge than this part of the bit may be wanted, ...
THICKEST: Final = 0.5
#: ... and so may one that is shorter than so many times the bit's width.
LONG: Final = 8.0
#: Places looked at that lie beside a ridge, at least.
PLACES: Final = 5


class Lost(NamedTuple):
    """A ridge: the row of the first pass beside it, a place on it, the gap and the usual step, mm.

    And the ridge's length, and how far the pass lies beside its place where none is lost, else 0.
    """

    row: int
    at: tuple[float, float, float]
    gap: float
    step: float
    length: float
    beside: float


def lost_passes(motion: Motion, width: float, top: float | None) -> Lost | None:
    """Return the ridge where passes of a floor are lost; None where none is."""
    strokes = strokes_of(motion, top, ROUNDING)
    level = strokes.chosen((np.abs(strokes.step[:, 2]) < 1e-3) & (strokes.run > 1e-3))
    if not len(level):
        return None
    _, index = np.unique(np.round(level.top - level.end[:, 2], 2), return_inverse=True)
    length = np.bincount(index.ravel(), level.run)
    for number in np.sort(np.argsort(length)[::-1][:LEVELS])[::-1]:
        found = _on_level(level.chosen(index.ravel() == number), level, width)
        if found is not None:
            return found
    return None


def _on_level(here: Strokes, all_levels: Strokes, width: float) -> Lost | None:
    near = find_neighbours(here)
    spacing = main_spacing(here, near, width)
    if near is None or spacing is None:
        return None
    if spacing.both < CLEARED or spacing.linked < LINKED:
        return None
    with np.errstate(invalid="ignore"):
        steps = near.distance / spacing.distance
        wide = np.abs(steps - np.rint(steps)) < _EVEN
        wide &= (np.rint(steps) >= STEPS[0]) & (np.rint(steps) <= STEPS[1])
        astray = (np.abs(steps.sum(axis=1) - 2.0) < _EVEN)[:, None] & (steps > 1.0 + 2.0 * _EVEN)
        wide |= astray
        wide &= (near.distance > width + ROUNDING) & (near.distance < (1 + THICKEST) * width)
    wide &= here.chain[near.hit] == here.chain[near.piece][:, None]
    probe, which = np.nonzero(wide)
    if len(probe) < PLACES:
        return None
    normal = np.column_stack([-near.along[probe, 1], near.along[probe, 0]])
    normal *= np.where(which == 0, 1.0, -1.0)[:, None]
    gap = near.distance[probe, which]
    middle = near.at[probe, :2] + normal * gap[:, None] / 2
    z = float(here.end[0, 2])
    as_deep = np.minimum(all_levels.start[:, 2], all_levels.end[:, 2]) <= z + 1e-3
    stands = distance_from(middle, all_levels.chosen(as_deep)) > width / 2 + ROUNDING / 4
    # Each ridge is seen from both of its sides, but from a pass beside its place alone.
    seen = np.where(astray[probe, which], 1.0, 0.5)
    length = float(seen[stands].sum()) * float(here.run.sum()) / len(near.piece)
    if stands.sum() < PLACES or length < LONG * width:
        return None
    first = int(np.argmin(here.row[near.piece[probe[stands]]]))
    x, y = middle[stands][first]
    row = int(here.row[near.piece[probe[stands]]][first])
    apart = float(np.median(gap[stands]))
    beside = apart - spacing.distance if astray[probe, which][stands].all() else 0.0
    return Lost(row, (float(x), float(y), here.top), apart, spacing.distance, length, beside)
