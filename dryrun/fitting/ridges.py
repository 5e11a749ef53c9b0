"""Ridges: level passes too far apart for a flat bit, so that thin walls stay between them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from dryrun.fitting.spacing import find_neighbours, main_spacing
from dryrun.fitting.strokes import Floats, Ints, Strokes, strokes_of
from dryrun.motion import Motion

#: Wider than the bit by more than this, or it is rounding, mm.
ROUNDING: Final = 0.02

#: Passes farther apart than this many widths are separate cuts.
SEPARATE: Final = 1.8

#: Part of the passes with a neighbour on both sides, and of those reached without leaving the
#: blank: from there on it is one area being cleared, not grooves side by side.
CLEARED: Final = 0.2
LINKED: Final = 0.5

#: Grooves side by side whose walls are thinner than this part of the bit are no design; of two of
#: them, this part of the level's path has the other beside it.
SLIVER: Final = 0.15
TWO: Final = 0.8

#: Passes cut one by one clear one area where so many of their ends lie on a pass that runs across
#: them, and are so near each other, times the width; and few of them are crossed on their way, as
#: in a lattice.
FRAMED: Final = 0.75
FRAMED_NEAR: Final = 1.5
CROSSED: Final = 0.1
SQUARE: Final = np.cos(np.radians(60.0))
MOST_FRAMED: Final = 100

#: Levels looked at, those with the most path.
LEVELS: Final = 2


@dataclass(frozen=True, slots=True)
class Ridges:
    """Ridges left on one level.

    Attributes
    ----------
    spacing : distance of the neighbouring passes, mm
    depth : of the level below the top, mm
    rows : (n,) motion rows beside which a ridge stays, rising
    at : (x, y, z) on the first ridge, mm
    """

    spacing: float
    depth: float
    rows: Ints
    at: tuple[float, float, float]


def ridges_of(motion: Motion, width: float, top: float | None = None) -> Ridges | None:
    """Return the ridges a flat bit leaves between neighbouring level passes, or None.

    Parameters
    ----------
    motion : Motion
        The program.
    width : float
        Of the cut, mm.
    top : float, optional
        Height of the blank's top, mm.
    """
    strokes = strokes_of(motion, top, ROUNDING)
    flat = (np.abs(strokes.step[:, 2]) < 1e-3) & (strokes.run > 1e-3)
    level = strokes.chosen(flat)
    if not len(level):
        return None
    depth = np.round(level.top - level.end[:, 2], 2)
    _, index = np.unique(depth, return_inverse=True)
    length = np.bincount(index.ravel(), level.run)
    chosen = np.sort(np.argsort(length)[::-1][:LEVELS])[::-1]
    for number in chosen:
        found = _on_level(level.chosen(index.ravel() == number), level, width)
        if found is not None:
            return found
    return None


def _on_level(here: Strokes, all_levels: Strokes, width: float) -> Ridges | None:
    near = find_neighbours(here)
    spacing = main_spacing(here, near, SEPARATE * width)
    if near is None or spacing is None or spacing.distance <= width + ROUNDING:
        return None
    one_area = spacing.both >= CLEARED and spacing.linked >= LINKED
    side = np.abs(near.distance - spacing.distance) <= 0.03 * spacing.distance
    if not one_area and spacing.both >= CLEARED and spacing.distance < FRAMED_NEAR * width:
        one_area = _framed(here, np.unique(near.piece[side.any(axis=1)]), width)
    slivers = spacing.both >= CLEARED or spacing.share >= TWO
    slivers = slivers and spacing.distance - width < SLIVER * width
    if not (one_area or slivers):
        return None
    probe, which = np.nonzero(side)
    sign = np.where(which == 0, 1.0, -1.0)
    normal = np.column_stack([-near.along[probe, 1], near.along[probe, 0]]) * sign[:, None]
    middle = near.at[probe, :2] + normal * spacing.distance / 2
    z = float(here.end[0, 2])
    as_deep = np.minimum(all_levels.start[:, 2], all_levels.end[:, 2]) <= z + 1e-3
    stands = distance_from(middle, all_levels.chosen(as_deep)) > width / 2 + ROUNDING / 4
    if stands.mean() < 0.5:
        return None
    rows = np.unique(here.row[near.piece[probe[stands]]])
    x, y = middle[stands][0]
    return Ridges(spacing.distance, here.top - z, rows, (float(x), float(y), here.top))


def _framed(here: Strokes, passes: Ints, width: float) -> bool:
    """Tell whether passes end on others that run across them, and are not crossed on their way."""
    heading = here.step[:, :2] / np.maximum(here.run, 1e-9)[:, None]
    chosen = passes[np.argsort(here.run[passes])[::-1][:MOST_FRAMED]]
    across = np.abs(heading[chosen] @ heading.T) < SQUARE
    ends, crossed = 0, 0
    for k, square in zip(chosen, across, strict=True):
        others = here.chosen(square)
        if not len(others):
            continue
        way = here.step[k, :2]
        places = here.start[k, :2] + way * np.array([0.0, 1.0, 0.25, 0.5, 0.75])[:, None]
        near = distance_from(places, others) < width / 2 + ROUNDING
        ends += int(near[:2].sum())
        crossed += int(near[2:].sum())
    return ends >= FRAMED * 2 * len(chosen) and crossed <= CROSSED * 3 * len(chosen)


def distance_from(points: Floats, strokes: Strokes) -> Floats:
    """Distance of each point from the nearest piece of path, seen from above, mm."""
    start, step = strokes.start[:, :2], strokes.step[:, :2]
    square = np.maximum((step * step).sum(axis=1), 1e-12)
    found = np.empty(len(points))
    for first in range(0, len(points), 64):
        rel = points[first : first + 64, None, :] - start
        part = np.clip((rel * step).sum(axis=2) / square, 0.0, 1.0)
        off = rel - part[:, :, None] * step
        found[first : first + 64] = np.sqrt((off * off).sum(axis=2).min(axis=1))
    return found
