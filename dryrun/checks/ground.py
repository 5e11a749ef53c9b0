"""Vee bits on a ground that should have been cleared before: outlines half bare, tapers that hang.

A vee bit makes a wall where ground and standing wood meet, so that one side of its path is cleared
and the other stands. Where ground lies along a part of a closed path only, and on the rest both
sides stand, the clearing was not finished. And strokes that taper out rise to the face they are cut
into: where many end at one level well below an uncut top, a floor is missing there.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import TOUCH, StageContext
from dryrun.checks.entry import detail_width
from dryrun.checks.maps import HeightMap, Mask, along, distance
from dryrun.motion import Motion

#: A path runs along a floor when its depth is no further from it than this below and above, mm; ...
BELOW: Final = 0.6
ABOVE: Final = 0.15
#: ... heights this close to the floor's belong to it, mm; clearing keeps so far off, mm.
LEVEL: Final = 0.3
KEPT_OFF: Final = 1.0

#: Parts of a closed path that must have the floor beside them, and that must not, ...
BESIDE_FLOOR: Final = 0.2
BARE: Final = 0.12
#: ... and in diameters of the clearing bit how long the bare part is at least.
BARE_LENGTH: Final = 1.5

#: A path that comes back to within this is closed, mm.
CLOSED: Final = 2.0
#: ... and an excursion into a corner comes back to within this, mm.
_BACK: Final = 0.05

#: Tapered ends at one level, at least; how far below the top they must be, mm, and how many times
#: as far as their strokes go on down: shallower ones are drawn with blunt ends.
TAPERS: Final = 6
TAPERS_BELOW: Final = 1.0
TAPERS_TIMES: Final = 1.5
#: Corners of letters rise to the face they are cut into, blunt ends do not: where strokes rise to
#: the level of their ends at so many places on their way, it is the face, and this is enough.
CORNERS: Final = 3
CORNERS_TIMES: Final = 0.5
#: Their strokes take this part of their depth at once, or another pass was there before.
FULL_DEPTH: Final = 0.6
#: A taper rises by this, mm, and no steeper than one to one.
_RISE: Final = 0.2
_ALIKE: Final = 0.02

Points = NDArray[np.float64]


def bare_outline(
    context: StageContext, clearing: StageContext, floor: Mask
) -> tuple[int, Points, float] | None:
    """Return where a closed path leaves the floor beside it, though the wider bit would fit there.

    The first row there, the place, and the length of all such parts, mm; None where there is none.
    """
    before, bit = context.before, context.bit
    if bit.shape != "vee" or before is None:
        return None
    level = float(np.median(before.height[floor]))
    points, row = _along_floor(context, level, before.cell)
    if not len(points):
        return None
    passed = np.ones(before.shape, np.bool_)
    iy, ix, inside = before.index(points)
    passed[iy[inside], ix[inside]] = False
    end = before if context.final is None else before.of(context.final)
    radius = clearing.bit.radius
    room = distance(passed, math.ceil(radius / before.cell) + 2) * before.cell
    for begin, stop in _runs(context.motion, points, row):
        run = slice(begin, stop)
        if np.hypot(*(points[begin, :2] - points[stop - 1, :2])) > CLOSED or stop - begin < 8:
            continue
        bare = _bare_side((before, end), points[run], level, context.stock.top, radius, room)
        if bare is None:
            continue
        length = float(bare.sum()) * _spacing(points[run])
        if length >= BARE_LENGTH * clearing.bit.diameter:
            first = begin + int(np.flatnonzero(bare)[0])
            return int(row[first]), points[first], length
    return None


def _along_floor(
    context: StageContext, level: float, step: float
) -> tuple[Points, NDArray[np.intp]]:
    """Return points along the level moves at about a floor's depth, and the row of each."""
    motion = context.motion
    flat = np.abs(motion.end[:, 2] - motion.start[:, 2]) < TOUCH
    deep = (motion.end[:, 2] > level - BELOW) & (motion.end[:, 2] < level + ABOVE)
    rows = np.flatnonzero(motion.cutting & flat & deep & (motion.lengths() > 1e-6))
    points, row = along(motion, rows, step)
    return points, row


def _runs(motion: Motion, points: Points, row: NDArray[np.intp]) -> list[tuple[int, int]]:
    """Return where the points of each stretch without a lift begin and end.

    A rise that comes back to where it began, which is how corners are carved, is none.
    """
    if not len(row):
        return []
    slanted = motion.cutting & (np.abs(motion.end[:, 2] - motion.start[:, 2]) > TOUCH)
    off, slants = np.cumsum(~motion.cutting), np.cumsum(slanted)
    elsewhere = np.linalg.norm(np.diff(points, axis=0), axis=1) > _BACK
    lift = (np.diff(off[row]) > 0) | ((np.diff(slants[row]) > 0) & elsewhere)
    cuts = np.flatnonzero(lift) + 1
    return [(int(a), int(b)) for a, b in zip([0, *cuts], [*cuts, len(row)], strict=True)]


def _spacing(points: Points) -> float:
    step = np.diff(points[:, :2], axis=0)
    return float(np.hypot(step[:, 0], step[:, 1]).mean())


def _bare_side(
    maps: tuple[HeightMap, HeightMap],
    points: Points,
    level: float,
    top: float,
    radius: float,
    room: NDArray[np.float32],
) -> Mask | None:
    """Return which points of a closed path have no floor on the side where others have it.

    None unless enough have it, and enough have not where a disc of the clearing bit would fit, and
    where it still stands uncut at the end of the job. `maps`: before the stage, and at the end.
    """
    before, end = maps
    heading = np.roll(points[:, :2], -1, axis=0) - np.roll(points[:, :2], 1, axis=0)
    length = np.maximum(np.hypot(heading[:, 0], heading[:, 1]), 1e-9)
    left = np.column_stack([-heading[:, 1], heading[:, 0]]) / length[:, None]
    off = KEPT_OFF + 1.5 * before.cell
    for side in (left, -left):
        close, far = (before.at(points[:, :2] + side * k) for k in (off, off + radius))
        wall = before.at(points[:, :2] - side * off) > level + 1.0
        floor = wall & (np.abs(close - level) < LEVEL)
        bare = wall & (close > top - TOUCH) & (far > top - TOUCH)
        bare &= end.at(points[:, :2] + side * (off + radius)) > top - TOUCH
        iy, ix, inside = before.index(points[:, :2] + side * (radius + KEPT_OFF))
        bare &= inside & (room[iy, ix] > radius)
        if floor.mean() >= BESIDE_FLOOR and bare.mean() >= BARE:
            return bare
    return None


# ---------------------------------------------------------------- tapers


def hanging_tapers(context: StageContext) -> tuple[int, int, float] | None:
    """Return the first row, the number and the depth (mm) of tapers that end below an uncut top."""
    # A ball draws grooves with blunt ends too; but not from deeper than it is wide.
    least = TAPERS_BELOW if context.bit.shape == "vee" else detail_width(context.bit)
    if context.bit.shape not in ("vee", "ball", "taper-ball"):
        return None
    motion, top = context.motion, context.stock.top
    rows, ends, deepest = _tapered_ends(motion)
    if len(rows) < TAPERS:
        return None
    before = context.before
    uncut = np.ones(len(rows), np.bool_)
    if before is not None:
        uncut = ~(before.at(ends) < top - TOUCH)
    low = uncut & (ends[:, 2] < top - least)
    rises = np.sort(_rises_between(motion))
    alike = [np.searchsorted(rises, ends[:, 2] + s * _ALIKE) for s in (-1, 1)]
    times = np.where(alike[1] - alike[0] >= CORNERS, CORNERS_TIMES, TAPERS_TIMES)
    low &= top - ends[:, 2] > times * (ends[:, 2] - deepest)
    if low.sum() < TAPERS:
        return None
    level = np.rint(ends[low, 2] / _ALIKE)
    values, count = np.unique(level, return_counts=True)
    most = values[np.argmax(count)]
    chosen = np.flatnonzero(low)[np.abs(level - most) <= 1]
    # A second pass over what the first has cut begins below the top, too.
    taken = _with_neighbours(context.cut.axial)[rows[chosen]]
    chosen = chosen[taken > FULL_DEPTH * (top - deepest[chosen])]
    places = np.unique(np.rint(ends[chosen, :2] * 10), axis=0)
    below = ends[:, 2] < top - least
    if len(places) < TAPERS or len(chosen) < 0.8 * below.sum():
        return None
    return int(rows[chosen].min()), len(places), top - float(most * _ALIKE)


def _with_neighbours(axial: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return for each row the most that it or one beside it takes at once, mm.

    A short taper out of a stroke goes where the stroke's own end has been.
    """
    wide = np.nan_to_num(np.pad(axial, 1))
    most: NDArray[np.float64] = np.maximum(np.maximum(wide[:-2], wide[2:]), wide[1:-1])
    return most


def _rises_between(motion: Motion) -> NDArray[np.float64]:
    """Return the height of each place to which a stroke rises on its way, and goes down again."""
    step = motion.end - motion.start
    slant = motion.cutting & (np.abs(step[:, 2]) > _RISE)
    slant &= np.hypot(step[:, 0], step[:, 1]) > np.abs(step[:, 2])
    up, down = slant & (step[:, 2] > 0), slant & (step[:, 2] < 0)
    heights: NDArray[np.float64] = motion.end[:-1, 2][up[:-1] & down[1:]]
    return heights


def _tapered_ends(motion: Motion) -> tuple[NDArray[np.intp], Points, NDArray[np.float64]]:
    """Return row, place and the stroke's other depth of each end that a stroke tapers out to."""
    step = motion.end - motion.start
    level = np.hypot(step[:, 0], step[:, 1])
    slant = motion.cutting & (np.abs(step[:, 2]) > _RISE) & (level > np.abs(step[:, 2]))
    goes_on = motion.cutting & (level > 1e-6)
    after = np.append(goes_on[1:], False)
    first = np.append(False, goes_on[:-1])
    out = np.flatnonzero(slant & (step[:, 2] > 0) & ~after)
    into = np.flatnonzero(slant & (step[:, 2] < 0) & ~first)
    rows = np.concatenate([out, into])
    ends = np.concatenate([motion.end[out], motion.start[into]])
    deepest = np.concatenate([motion.start[out, 2], motion.end[into, 2]])
    known = np.isfinite(ends).all(axis=1) & np.isfinite(deepest)
    return rows[known], ends[known], deepest[known]
