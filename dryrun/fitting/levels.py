"""Levels: the depths at which level path runs, and how passes lie above and beside each other."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.fitting.spacing import (
    CLOSE,
    FINE,
    MOST_LEVEL,
    SWAY,
    Neighbours,
    Spacing,
    find_neighbours,
    main_spacing,
    pairs_at,
)
from dryrun.fitting.strokes import Floats, Strokes, usual

#: Of two passes the first is the whole one, unless it is this many times the second.
MOST_REST: Final = 8.0

#: Part of the path that must lie above other path, for passes on top of each other.
STACKED: Final = 0.25

#: Middles of pieces that differ by less are the same path on another level, mm.
SAME_PATH: Final = 0.2

#: Rings around a relief: at least so many, no farther apart in height than this, mm, and at most
#: this part of them right above each other.
FEWEST_RINGS: Final = 8
MOST_RING_STEP: Final = 1.6
RING_STACKED: Final = 0.7

#: Of fewer rings, at least so many, whose steps are even to this part, so much may lie right above
#: each other: along a wall that is nearly upright a round end shifts them only beside its edge.
FEW_RINGS: Final = 5
EVEN_STEPS: Final = 0.02
FEW_STACKED: Final = 0.86

#: More such places side by side than any program reaches across.
CELLS_ACROSS: Final = 1 << 24

#: Part of the longest level a height needs to count as a level of its own.
LEVEL_SHARE: Final = 0.25

#: Depths at which cuts end, at most, and the part of the level path that each needs.
MOST_FLOORS: Final = 5
FLOOR_SHARE: Final = 0.03

#: More levels than this are lines of a slope rather than passes.
MANY_LEVELS: Final = 12

#: So much less deep is another level, mm.
HIGHER: Final = 0.05

#: What is left on walls for a last pass, mm at most (common practice, no source): passes so near,
#: of which fewer than this part lie between two others, are left out where others are this many
#: times as far apart, between two others or with this part of them beside another.
ALLOWANCE: Final = 0.6
BETWEEN: Final = 0.1
FARTHER: Final = 1.8
SOME: Final = 0.3

#: Steps are even to this part.
SAME_STEP: Final = 0.02

#: Wider than this neighbours say nothing about a bit, mm.
WIDEST: Final = 40.0


def levels_of(level: Strokes) -> tuple[tuple[float, ...], Floats]:
    """Return the depths at which much level path runs, falling, and how much."""
    if not len(level):
        return (), np.zeros(0)
    depth = np.round(level.top - level.end[:, 2], 2)
    depths, index = np.unique(depth, return_inverse=True)
    length = np.bincount(index.ravel(), level.run)
    keep = (length > LEVEL_SHARE * length.max()) & (depths > 0)
    exact = tuple(float(np.median((level.top - level.end[:, 2])[depth == d])) for d in depths[keep])
    return exact, length[keep]


def floors_of(level: Strokes) -> tuple[float, ...]:
    """Return the depths at which level cuts end, those with the most path first."""
    if not len(level):
        return ()
    middle = ((level.start + level.end) / 2)[:, :2]
    cells = np.round(middle / SAME_PATH).astype(np.int64)
    _, place = np.unique(cells[:, 0] * CELLS_ACROSS + cells[:, 1], return_inverse=True)
    depth = level.top - level.end[:, 2]
    last = np.zeros(int(place.max()) + 1)
    np.maximum.at(last, place.ravel(), depth)
    ends = depth > last[place.ravel()] - 0.006
    values, index = np.unique(np.round(depth[ends], 3), return_inverse=True)
    length = np.bincount(index.ravel(), level.run[ends])
    order = np.argsort(-length, kind="stable")[:MOST_FLOORS]
    return tuple(float(values[k]) for k in order if length[k] > FLOOR_SHARE * length.sum())


def step_of(depths: tuple[float, ...]) -> float | None:
    """Return the usual step between levels of which there are a few; None without."""
    return float(np.median(np.diff([0.0, *depths]))) if 1 < len(depths) < MANY_LEVELS else None


def level_spacing(level: Strokes, depths: tuple[float, ...], length: Floats) -> Spacing | None:
    """Spacing on the two levels with the most path, whichever clears more."""
    found: list[Spacing] = []
    for number in np.argsort(length)[::-1][:2]:
        depth = level.top - level.end[:, 2]
        mine = np.abs(depth - depths[number]) < 0.006
        here = level.chosen(mine)
        near, spacing = _without_allowance(here, find_neighbours(here))
        if spacing is not None and near is not None:
            higher = np.cumsum(depth < depths[number] - HIGHER)[mine]
            own, met = pairs_at(near, spacing.distance)
            found.append(replace(spacing, in_turn=float((higher[own] != higher[met]).mean())))
    return max(found, key=lambda s: (s.both, s.share), default=None)


def _without_allowance(
    here: Strokes, near: Neighbours | None
) -> tuple[Neighbours | None, Spacing | None]:
    """Return the spacing of passes, but for that of last ones beside others along the walls."""
    spacing = main_spacing(here, near, WIDEST)
    if near is None or spacing is None:
        return near, spacing
    if spacing.distance > ALLOWANCE or spacing.both > BETWEEN:
        return near, spacing
    far = np.where(near.distance < FARTHER * spacing.distance, np.inf, near.distance)
    others = replace(near, distance=far)
    wider = main_spacing(here, others, WIDEST)
    if wider is None or (wider.both <= spacing.both and wider.share < SOME):
        return near, spacing
    return others, wider


def rings_of(level: Strokes, few: bool = False) -> tuple[int, float] | None:
    """Return how many single lines run around a relief at even heights, and their step; or None.

    Each lies a little beside the one above it, as on a slope, and the steps are small. Of a few
    rings the steps must be very even, but more of them may lie right above each other.
    """
    if not len(level):
        return None
    depth = np.round(level.top - level.end[:, 2], 2)
    heights, index = np.unique(depth, return_inverse=True)
    if len(heights) < (FEW_RINGS if few else FEWEST_RINGS):
        return None
    step = float(np.median(np.diff(heights)))
    uneven = float(np.abs(np.diff(heights) - step).mean())
    if step > MOST_RING_STEP or uneven > (EVEN_STEPS if few else 0.2) * step:
        return None
    stacked = _stacked(level, index, len(heights))
    return (len(heights), step) if stacked < (FEW_STACKED if few else RING_STACKED) else None


def _stacked(level: Strokes, index: NDArray[np.intp], heights: int) -> float:
    """Return which part of a level path has path of another height right above or below."""
    middle = np.round(((level.start + level.end) / 2)[:, :2] / SAME_PATH)
    cells, number = np.unique(middle, axis=0, return_inverse=True)
    pairs = np.unique(number.ravel() * heights + index.ravel())
    often = np.bincount(pairs // heights, minlength=len(cells))
    return float(level.run[often[number.ravel()] > 1].sum() / level.run.sum())


def even_rings(level: Strokes) -> Spacing | None:
    """Return the spacing of rings that lie evenly beside each other, each at its own height."""
    if not len(level):
        return None
    depth = np.round(level.top - level.end[:, 2], 2)
    heights, index = np.unique(depth, return_inverse=True)
    longest = np.bincount(index.ravel(), level.run).max()
    if len(heights) < FEWEST_RINGS or longest > MOST_LEVEL * level.run.sum():
        return None
    if _stacked(level, index, len(heights)) >= RING_STACKED:
        return None
    near = find_neighbours(level)
    fine = main_spacing(level, near, FINE)
    if near is None or fine is None:
        return None
    beside = np.abs(np.log(near.distance / fine.distance)) < SWAY
    apart = np.abs(near.height - near.at[:, 2:]) > 2e-3
    return fine if (beside & apart).all(axis=1).mean() > CLOSE else None


def passes_of(level: Strokes, depths: tuple[float, ...]) -> tuple[int, float | None]:
    """How many levels lie above each other where most of the path is, and how far apart."""
    if not depths:
        return 0, None
    middle = (level.start + level.end) / 2
    number = np.abs((level.top - middle[:, 2:]) - np.array(depths)).argmin(axis=1)
    cells = np.round(middle[:, :2] / SAME_PATH).astype(np.int64)
    _, place = np.unique(cells, axis=0, return_inverse=True)
    place = place.ravel()
    pairs = np.unique(place * len(depths) + number)
    count = np.bincount(pairs // len(depths))
    depth = np.array(depths)[pairs % len(depths)]
    first = np.full(len(count), np.inf)
    last = np.zeros(len(count))
    np.minimum.at(first, pairs // len(depths), depth)
    np.maximum.at(last, pairs // len(depths), depth)
    weight = np.bincount(place, level.run).astype(np.float64)
    many = count > 1
    if weight[many].sum() < STACKED * weight.sum():
        return 1, usual(first, weight)
    step = usual((last - first)[many] / (count[many] - 1), weight[many])
    begin = usual(first[many], weight[many])
    # The first pass is a whole one, the last takes what is left; but a stage may begin lower.
    whole = begin if 0.7 * step <= begin <= 1.8 * step else step
    number_of = int(usual(count[many].astype(np.float64), weight[many]))
    if number_of == 2 and step < begin < MOST_REST * step:
        whole = begin
    even = _even_but_last(depths)
    return number_of, whole if even is None else max(whole, even)


def _even_but_last(depths: tuple[float, ...]) -> float | None:
    """Return the step of levels that lie even, but for a thinner last one on the floor."""
    if not 1 < len(depths) < MANY_LEVELS:
        return None
    steps = np.diff([0.0, *depths])
    thin = ALLOWANCE if len(steps) == 2 else float(steps[0])
    if np.abs(steps[:-1] - steps[0]).max() > SAME_STEP * steps[0] or steps[-1] > thin:
        return None
    return float(steps[0])
