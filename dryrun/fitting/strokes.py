"""Strokes: the part of a program's path that is in the blank, as straight pieces.

Arcs become chords; pieces that follow each other without leaving the blank are one chain. All
measures of this room are taken from these arrays, so that each is one pass of numpy.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.motion import ARC, Motion

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Rows looked at. Of longer programs, so many windows of neighbouring rows, evenly spread.
MOST_ROWS: Final = 24_000
WINDOWS: Final = 4

#: Shallower than this is not in the blank, mm.
TOUCH: Final = 0.005

#: Pieces less steep than this are level.
LEVEL_SLOPE: Final = 2e-3

#: Of the way, more than this part runs above the zero where the zero is not the blank's top;
#: a height that holds this part of it is one of passes, and so many tell how far they are apart.
MOST_ABOVE: Final = 0.4
PASS: Final = 0.03
FEWEST_PASSES: Final = 2

#: Holes begin so many times higher above a zero that is on the table than they end below it.
FAR_ABOVE: Final = 2.0

#: Less than this part of the way is level where a path goes up and down.
UNEVEN: Final = 0.3

#: Most of an arc that one chord stands for, rad, and how far it may be off, mm; of many arcs more.
CHORD: Final = np.radians(10.0)
SAG: Final = 0.002
MOST_CHORDS: Final = 12_000


@dataclass(frozen=True, slots=True)
class Strokes:
    """Straight pieces of path in the blank, in program order.

    Attributes
    ----------
    start, end : (n, 3) mm
    row : (n,) row of the motion each comes from
    chain : (n,) number of the run of rows, without a gap, that it belongs to
    arc_radius : (n,) radius of the arc it is a chord of, mm; NaN for a line
    top : height of the blank's top, mm
    top_known : whether the top was declared
    whole : whether all rows were looked at
    """

    start: Floats
    end: Floats
    row: Ints
    chain: Ints
    arc_radius: Floats
    top: float
    top_known: bool
    whole: bool

    def __len__(self) -> int:
        return len(self.row)

    @property
    def step(self) -> Floats:
        """(n, 3) from start to end, mm."""
        return self.end - self.start

    @property
    def run(self) -> Floats:
        """Horizontal length of each piece, mm."""
        step = self.step
        return np.hypot(step[:, 0], step[:, 1])

    @property
    def length(self) -> Floats:
        """Length of each piece, mm."""
        step = self.step
        found: Floats = np.sqrt((step * step).sum(axis=1))
        return found

    def chosen(self, keep: NDArray[np.bool_] | Ints) -> Strokes:
        """Return the pieces chosen by a mask or by their numbers."""
        return Strokes(
            self.start[keep], self.end[keep], self.row[keep], self.chain[keep],
            self.arc_radius[keep], self.top, self.top_known, self.whole,
        )  # fmt: skip


def strokes_of(motion: Motion, top: float | None = None, sag: float = SAG) -> Strokes:
    """Return the strokes of a program.

    Parameters
    ----------
    motion : Motion
        The program.
    top : float, optional
        Height of the blank's top, mm. Without it: zero when the program cuts below zero, else
        a guess from its passes and from where feeding begins.
    sag : float
        How far a chord may be off its arc, mm.
    """
    known = np.isfinite(motion.start).all(axis=1) & np.isfinite(motion.end).all(axis=1)
    cutting = np.flatnonzero(motion.cutting & known)
    level = _top(motion, cutting) if top is None else top
    low = np.minimum(motion.start[cutting, 2], motion.end[cutting, 2])
    rows = cutting[low < level - TOUCH]
    picked = _windows(rows)
    parts = motion.rows(picked)
    is_arc = parts.kind == ARC
    flat = is_arc & (parts.axis == 2)
    count = np.ones(len(picked), np.int64)
    count[is_arc] = _chords(np.abs(parts.sweep[is_arc]), parts.radii()[is_arc], sag)
    of = np.repeat(np.arange(len(picked)), count)
    number = np.arange(len(of)) - np.repeat(np.cumsum(count) - count, count)
    start = _along(parts, of, number / count[of])
    end = _along(parts, of, (number + 1) / count[of])
    gap = np.diff(picked, prepend=picked[:1]) > 1
    found = Strokes(
        start, end, picked[of].astype(np.int64), np.cumsum(gap).astype(np.int64)[of],
        np.where(flat, parts.radii(), np.nan)[of], level, top is not None,
        len(picked) == len(rows),
    )  # fmt: skip
    # Of an upright arc a part may lie above the blank.
    above = (is_arc & ~flat)[of] & (np.minimum(start[:, 2], end[:, 2]) >= level - TOUCH)
    return found.chosen(~above) if above.any() else found


def _chords(sweep: Floats, radius: Floats, sag: float) -> Ints:
    """How many chords each arc becomes."""
    while True:
        angle = 2 * np.arccos(np.clip(1 - sag / np.maximum(radius, 1e-9), -1.0, 1.0))
        chords = np.maximum(2, np.ceil(sweep / np.minimum(angle, CHORD) - 1e-9))
        count: Ints = chords.astype(np.int64)
        if count.sum() <= MOST_CHORDS or sag > 1.0:
            return count
        sag *= 4.0


def _top(motion: Motion, cutting: NDArray[np.intp]) -> float:
    """Guess the height of the blank's top, mm.

    It is the zero where that lies above what is cut. A zero on the table lies below it, though the
    last pass may go through into the table: then the top is as far above the highest pass as that
    is above the next, and no higher than where feeding begins. A path that goes up and down as a
    carving does comes up to the top itself.
    """
    if not len(cutting):
        return 0.0
    start, end = motion.start[cutting], motion.end[cutting]
    run = np.hypot(*(end - start)[:, :2].T)
    level = (run > 1e-6) & (np.abs(end[:, 2] - start[:, 2]) < 1e-6)
    begins = float(start[:, 2].max())
    if not run.any() and _holes_above(motion, begins, float(end[:, 2].min())):
        return begins
    above = run[np.minimum(start[:, 2], end[:, 2]) > TOUCH].sum()
    if float(end[:, 2].min()) < -TOUCH and above <= MOST_ABOVE * run.sum():
        return 0.0
    heights, index = np.unique(np.round(end[level, 2], 3), return_inverse=True)
    held = np.bincount(index.ravel(), run[level], len(heights)) > PASS * run.sum()
    passes = heights[held][::-1]
    least = float(end[run > 1e-6, 2].max(initial=-np.inf))  # the path does not run above the top
    if run[level].sum() < UNEVEN * run.sum():
        return min(begins, least)
    if len(passes) < FEWEST_PASSES:
        return begins
    return min(begins, max(least, float(2 * passes[0] - passes[1])))


def _holes_above(motion: Motion, begins: float, lowest: float) -> bool:
    """Tell whether holes lie mostly above the zero, so that it is on the table.

    Only where feeding begins lower than the bit is lifted to is that just above the blank.
    """
    lifted = float(np.nanmax(motion.end[:, 2]))
    return lifted > begins + TOUCH and begins > -FAR_ABOVE * lowest


def _windows(rows: NDArray[np.intp]) -> NDArray[np.intp]:
    if len(rows) <= MOST_ROWS:
        return rows
    each = MOST_ROWS // WINDOWS
    first = np.linspace(0, len(rows) - each, WINDOWS).astype(np.intp)
    return np.concatenate([rows[f : f + each] for f in first])


def _along(parts: Motion, of: Ints, part: Floats) -> Floats:
    """Return the places a part of the way along each row."""
    place: Floats = parts.start[of] + part[:, None] * (parts.end - parts.start)[of]
    for axis in range(3):
        arc = (parts.kind[of] == ARC) & (parts.axis[of] == axis)
        if not arc.any():
            continue
        o, u, v = of[arc], (axis + 1) % 3, (axis + 2) % 3
        offset = parts.start[o] - parts.centre[o]
        angle = part[arc] * parts.sweep[o]
        c, s = np.cos(angle), np.sin(angle)
        place[arc, u] = parts.centre[o, u] + c * offset[:, u] - s * offset[:, v]
        place[arc, v] = parts.centre[o, v] + s * offset[:, u] + c * offset[:, v]
        last = arc & (part >= 1.0)
        place[last] = parts.end[of[last]]
    return place


def usual(values: Floats, weight: Floats) -> float:
    """Return the weighted median of what is above zero; 0 without."""
    said = values > 0
    if not said.any():
        return 0.0
    values, weight = values[said], weight[said]
    order = np.argsort(values, kind="stable")
    reach = np.cumsum(weight[order])
    return float(values[order][np.searchsorted(reach, reach[-1] / 2)])
