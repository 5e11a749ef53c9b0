"""Is a relief finished where it was roughed: what a ball takes from slopes that face each other.

What a roughing leaves lies evenly over a relief, thicker on steeper places but the same whichever
way they face. Finished d beside it, slopes that face one way leave more and the others less: what
is taken is even + d . slope, to first order. The direction of d is the least-squares fit to that;
its size comes from slopes that are equally steep and face along it and against it, so that a relief
with steep fronts and gentle backs says nothing. How sure that is, is told by leaving out one part
of the relief after another (the jackknife: Efron and Tibshirani, An Introduction to the Bootstrap,
1993, chapter 11).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import TOUCH, StageContext
from dryrun.checks.maps import HeightMap, Mask, along, near
from dryrun.finding import Finding

#: Shifts from here on are told, mm, ...
RELIEF_LEAST: Final = 0.3
#: ... when they are so many standard errors from none, ...
SURE: Final = 4.0
#: ... this part of the relief has slopes of equal steepness facing both ways, ...
MATCHED: Final = 0.5
#: ... they make what is taken differ by this, mm (root mean square), which is more than scallops
#: and chords do, ...
UNEVEN: Final = 0.025
#: ... and the roughed heights follow the finished ones so well (correlation).
ROUGHED: Final = 0.7

#: Steeper places are walls; a relief has heights that spread by more than this, mm.
STEEPEST: Final = 1.5
STEEP_LEAST: Final = 0.3

#: Ground less steep than this is level.
LEVEL_SLOPE: Final = 0.02

#: A direction along which slopes vary by less than this part of the other one shows no shift.
_FLAT: Final = 0.1

#: Points a relief must have; parts along X and Y; classes of steepness, and points in each.
_POINTS: Final = 500
_PARTS: Final = 5
_CLASSES: Final = 12
_MEMBERS: Final = 20

#: Times the finished heights are averaged with their neighbours before slopes are taken of them.
_SMOOTHED: Final = 4

Numbers = NDArray[np.float64]


class Sample(NamedTuple):
    """Points of a relief: what is taken, mm; the slopes along X and Y; in which part they are."""

    taken: Numbers
    slopes: Numbers
    part: NDArray[np.intp]


def over_a_relief(context: StageContext, sample: Sample) -> Iterator[Finding]:
    """Report a ball that finishes a relief beside where it was roughed."""
    found = shift_of(sample)
    if found is None:
        return
    dx, dy = found
    yield context.finding(
        "stage-shifted",
        f"this stage lies about X {context.mm(round(dx, 1))} Y {context.mm(round(dy, 1))} from "
        "where the relief was roughed: it takes more from the slopes that face one way",
        row=int(np.flatnonzero(context.motion.cutting)[0]),
        letters="XY",
        value=float(np.hypot(dx, dy)),
        limit=0.0,
        unit="mm",
    )


def relief_of(context: StageContext) -> Sample | None:
    """Return points of the relief that a ball finishes; None where it finishes none."""
    before, after = context.before, context.after
    if before is None or after is None or context.bit.shape not in ("ball", "taper-ball"):
        return None
    if not context.motion.cutting.any():
        return None
    covered = _covered(context, before)
    return sample_of(before.height, after.height, covered, context.stock.top, before.cell)


def _covered(context: StageContext, before: HeightMap) -> Mask:
    """Return the points of the map the passes go over, but for a rim of them."""
    motion = context.motion
    low = np.minimum(motion.start[:, 2], motion.end[:, 2]) < context.stock.top - TOUCH
    rows = np.flatnonzero(motion.cutting & low)
    far = motion.lengths()[rows] > before.cell
    points, _ = along(motion, rows[far], before.cell)
    passed = np.zeros(before.shape, np.bool_)
    for places in (motion.end[rows], points):
        iy, ix, inside = before.index(places)
        passed[iy[inside], ix[inside]] = True
    wide = context.bit.radius / 2 / before.cell
    return ~near(~near(passed, wide), wide + 1.5)


def shift_of(sample: Sample) -> tuple[float, float] | None:
    """Return the shift (dx, dy), mm, that explains what was taken from a relief; None none."""
    shift = _fitted(sample)
    size = float(np.hypot(*shift))
    if size < RELIEF_LEAST / 2:
        return None
    far, error, matched = _matched(sample, shift / size)
    if far < max(RELIEF_LEAST, SURE * error) or matched < MATCHED:
        return None
    if far * float(np.sqrt(np.mean((sample.slopes @ shift / size) ** 2))) < UNEVEN:
        return None
    dx, dy = (float(v) for v in shift / size * far)
    return dx, dy


def sample_of(
    rough: NDArray[np.float32], fine: NDArray[np.float32], covered: Mask, top: float, cell: float
) -> Sample | None:
    """Return the points that were roughed and are finished, walls left out.

    None where they are too few, are level for the most part, or do not follow each other.
    """
    taken = np.asarray(rough, np.float64) - fine
    smooth = _smoothed(np.asarray(fine, np.float64))
    slope_y, slope_x = (np.gradient(smooth, cell, axis=k) for k in (0, 1))
    with np.errstate(invalid="ignore"):
        both = covered & (rough < top - TOUCH) & (np.hypot(slope_x, slope_y) < STEEPEST)
    both &= np.isfinite(taken)
    if both.sum() < _POINTS:
        return None
    one, other = rough[both].astype(np.float64), fine[both].astype(np.float64)
    if one.std() < STEEP_LEAST or np.corrcoef(one, other)[0, 1] < ROUGHED:
        return None
    places = [k - k.min() for k in np.nonzero(both)]
    rows, columns = (np.minimum(k * _PARTS // (k.max() + 1), _PARTS - 1) for k in places)
    slopes = np.column_stack([slope_x[both], slope_y[both]])
    if float(np.median(np.hypot(*slopes.T))) < LEVEL_SLOPE:
        return None
    return Sample(taken[both], slopes, rows * _PARTS + columns)


def _smoothed(heights: Numbers) -> Numbers:
    """Return heights averaged with their neighbours: scallops between passes are no slopes."""
    for axis in (0, 1):
        for _ in range(_SMOOTHED):
            width = [(1, 1) if k == axis else (0, 0) for k in (0, 1)]
            wide = np.moveaxis(np.pad(heights, width, mode="edge"), axis, 0)
            heights = np.moveaxis((wide[:-2] + 2 * wide[1:-1] + wide[2:]) / 4, 0, axis)
    return heights


def _fitted(sample: Sample) -> Numbers:
    """Return the shift by least squares, beside a thickness that goes with steepness alone, mm."""
    steep = np.hypot(sample.slopes[:, 0], sample.slopes[:, 1])
    even = np.column_stack([np.ones(len(steep)), steep, steep**2])
    all_ = np.column_stack([sample.slopes, sample.taken])
    rest = all_ - even @ np.linalg.lstsq(even, all_, rcond=None)[0]
    values, ways = np.linalg.eigh(rest[:, :2].T @ rest[:, :2])
    pull = rest[:, :2].T @ rest[:, 2]
    shift = np.zeros(2)
    for value, way in zip(values, ways.T, strict=True):
        if value > _FLAT * values.max():
            shift += way * (way @ pull) / value
    return shift


def _matched(sample: Sample, way: Numbers) -> tuple[float, float, float]:
    """Return the shift along a direction by slopes of equal steepness, its error, and their part.

    In each class of steepness the slopes that face along the direction are set against those that
    face the other way; a class counts by the lesser number of the two.
    """
    facing = sample.slopes @ way
    steep = np.abs(facing)
    edges = np.linspace(0.0, float(np.quantile(steep, 0.98)), _CLASSES + 1)
    which = np.clip(np.searchsorted(edges, steep, side="right") - 1, 0, _CLASSES - 1)
    cell = (sample.part * _CLASSES + which) * 2 + (facing > 0)
    parts = _PARTS * _PARTS
    sums = [
        np.bincount(cell, weights, parts * _CLASSES * 2).reshape(parts, _CLASSES, 2)
        for weights in (np.ones(len(cell)), steep, sample.taken)
    ]
    whole = [table.sum(axis=0) for table in sums]
    far, part = _difference(*whole)
    without = [
        _difference(*(w - table[k] for w, table in zip(whole, sums, strict=True)))[0]
        for k in range(parts)
    ]
    spread = np.array(without) - np.mean(without)
    return far, float(np.sqrt((parts - 1) / parts * (spread**2).sum())), part


def _difference(number: Numbers, steep: Numbers, taken: Numbers) -> tuple[float, float]:
    """Return the shift, mm, that tables (class, way faced) of sums show, and the part used."""
    enough = (number >= _MEMBERS).all(axis=1)
    if not enough.any():
        return 0.0, 0.0
    number, each = number[enough], number.sum()
    apart = (steep[enough] / number).sum(axis=1)
    more = np.diff(taken[enough] / number, axis=1)[:, 0]
    weight = number.min(axis=1)
    return float((weight * apart * more).sum() / (weight * apart**2).sum()), float(
        2 * weight.sum() / each
    )
