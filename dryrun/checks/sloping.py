"""A ramp that nothing levels: the pass that should run at the depth it leads to was lost.

A bit goes down along its path, and then runs over the ramp once more at the depth reached. A
stretch whose lowest depth is only touched, at the end of a ramp, leaves a sloping floor.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import MOST_PLACES, StageContext
from dryrun.checks.maps import along
from dryrun.checks.ways import LEVEL
from dryrun.finding import Finding
from dryrun.motion import Motion

#: Bits that run on the level; strokes of a vee slope where they are to become wider.
LEVEL_BITS: Final = frozenset({"flat", "bull", "ball"})
#: A ramp takes the bit down by so much, mm, ...
DROP: Final = 0.2
#: ... and by less than this for each mm of its way: steeper, it is a plunge.
STEEPEST: Final = 1.0
#: What runs at the depth reached is less than this part of the ramp's length.
LEVELLED: Final = 0.5
#: A stretch with more sloping moves than this is a relief.
MOST: Final = 12
#: The floor is sloping where it lies this part of the drop above its end, or more.
STANDS: Final = 0.25


class Ramp(NamedTuple):
    """The last row of a ramp that nothing levels, how far it goes down and how long it is, mm."""

    row: int
    drop: float
    length: float


def ramps_left(context: StageContext) -> Iterator[Finding]:
    """Report ramps that leave a sloping floor; shorter than the bit is wide, they do not."""
    bit, motion = context.stage.bit, context.motion
    if bit is None or bit.shape not in LEVEL_BITS or context.final is None:
        return
    ramps = sloping(motion, context.stock.top)
    found = (r for r in ramps if r.length >= bit.diameter and _stands(context, r))
    for ramp in itertools.islice(found, MOST_PLACES):
        end = context.mm(round(float(motion.end[ramp.row, 2]), 3))
        yield context.finding(
            "odd-pass",
            f"a ramp goes down {context.mm(round(ramp.drop, 2))} to Z {end} here, and no pass "
            "runs over it at that depth: the floor stays sloping",
            row=ramp.row,
            letters="ZXY",
            at=motion.end[ramp.row],
            value=ramp.drop,
            limit=0.0,
            unit="mm",
            help="a line after this one, or a word of it, may be lost",
        )


def sloping(motion: Motion, top: float) -> Iterator[Ramp]:
    """Yield the ramps to the lowest depth of their stretch, where little or nothing runs there."""
    known = np.isfinite(motion.start).all(axis=1) & np.isfinite(motion.end).all(axis=1)
    rows = np.flatnonzero(motion.cutting & known)
    if not len(rows):
        return
    rise = motion.end[:, 2] - motion.start[:, 2]
    length = motion.lengths()
    aside = np.sqrt(np.maximum(length**2 - rise**2, 0.0))
    begins = np.append(0, np.flatnonzero(np.diff(rows) > 1) + 1)
    ends = np.append(begins[1:], len(rows))
    goes_down = (rise[rows] < -LEVEL) & (aside[rows] > LEVEL)
    for k in np.flatnonzero(np.add.reduceat(goes_down * 1, begins)):
        ramp = _last_ramp(motion, rows[begins[k] : ends[k]], rise, aside)
        if ramp is not None and motion.end[ramp.row, 2] < top - LEVEL:
            yield ramp


def _last_ramp(
    motion: Motion, rows: NDArray[np.intp], rise: NDArray[np.float64], aside: NDArray[np.float64]
) -> Ramp | None:
    low = np.minimum(motion.start[rows, 2], motion.end[rows, 2])
    lowest = float(low.min())
    slopes = (np.abs(rise[rows]) > LEVEL) & (aside[rows] > LEVEL)
    if not slopes.any() or int(slopes.sum()) > MOST:
        return None
    ends_low = motion.end[rows, 2] < lowest + LEVEL
    down = np.flatnonzero(slopes & ends_low & (rise[rows] < 0.0))
    if not len(down):
        return None
    last = int(down[-1])
    row = int(rows[last])
    drop, run = float(-rise[row]), float(aside[row])
    level = ends_low & (np.abs(rise[rows]) <= LEVEL)
    levelled = float(aside[rows[level]].sum())
    goes_up = last + 1 < len(rows) and slopes[last + 1]  # a dip, or the end of a stroke
    if drop < DROP or drop > STEEPEST * run or levelled >= LEVELLED * run or goes_up:
        return None
    return Ramp(row, drop, run)


def _stands(context: StageContext, ramp: Ramp) -> bool:
    """Tell whether the floor slopes along the first half of a ramp once the job is done."""
    surface = context.final
    assert surface is not None
    points, _ = along(context.motion, np.array([ramp.row]), surface.cell)
    first = points[: max(len(points) // 2, 1)]
    left = surface.at(first[:, 0], first[:, 1]) - float(context.motion.end[ramp.row, 2])
    left = left[np.isfinite(left)]
    return bool(len(left)) and float(np.median(left)) > STANDS * ramp.drop
