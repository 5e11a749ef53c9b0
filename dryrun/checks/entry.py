"""Which bit would enter: what an idle clearing stage leaves to the finer bits after it."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import TOUCH, StageContext
from dryrun.checks.maps import HeightMap, Mask, along, distance, near, opened, part_of
from dryrun.job.model import Bit

#: A bit enters usefully when it would take this part of what the later stages take.
USEFUL: Final = 0.25

#: Levels at which a bit is let into the pockets, and points along their window.
_LEVELS: Final = 4
_POINTS: Final = 400

#: A clearing stage is idle when the finer bits after it take so many times as much, in its place.
_REST: Final = 50.0
_SAME_PLACE: Final = 0.6


def detail_width(bit: Bit) -> float:
    """Return the width of the finest thing a bit makes, mm: its diameter, or that of its tip."""
    if bit.shape in ("vee", "drill"):
        return bit.tip
    if bit.shape == "taper-ball":
        return 2 * (bit.tip_radius or 0.0)
    return (bit.tip_diameter or 0.0) if bit.shape == "taper-flat" else bit.diameter


def finer_bits_after(context: StageContext) -> list[Bit]:
    """Return the bits of later stages that make finer things than this stage's bit."""
    later = (stage.bit for stage in context.job.stages[context.number :])
    width = detail_width(context.bit)
    return [bit for bit in later if bit is not None and detail_width(bit) < 0.95 * width]


def _taken_later(context: StageContext) -> tuple[Mask, NDArray[np.float32]] | None:
    """Return where later stages take material, and how tall the columns are, mm."""
    if context.after is None or context.final is None:
        return None
    after = context.after
    bed = np.float32(context.stock.bed)
    end = np.maximum(after.of(context.final).height, bed)
    tall = np.nan_to_num(np.maximum(after.height, bed) - end)
    return tall > TOUCH, tall


def idle_beside_finer(context: StageContext) -> float:
    """Return what a clearing stage may remove and still be idle, mm3; 0 where it clears nothing."""
    if context.bit.shape not in ("flat", "bull", "ball") or not finer_bits_after(context):
        return 0.0
    if context.removed_mm3 > context.job_mm3 / _REST:
        return 0.0
    later = _taken_later(context)
    if later is None or not later[0].any() or context.after is None:
        return 0.0
    mask, tall = later
    points, _ = along(context.motion, np.flatnonzero(context.motion.cutting), context.after.cell)
    iy, ix, inside = context.after.index(points)
    radius = context.bit.radius / context.after.cell
    if not len(points) or (near(mask, radius)[iy, ix] & inside).mean() < _SAME_PLACE:
        return 0.0
    swept = np.zeros(mask.shape, np.bool_)
    swept[iy[inside], ix[inside]] = True
    here = _meeting(mask, near(swept, radius))
    return float(tall[here].sum()) * context.after.cell**2 / _REST


def _meeting(mask: Mask, other: Mask) -> Mask:
    """Return the connected parts of a mask that meet another one."""
    from dryrun.removal.pieces import label

    labels, number = label(mask)
    met = np.zeros(number + 1, np.bool_)
    met[labels[mask & other]] = True
    met[0] = False
    found: Mask = met[labels]
    return found


class _Level(NamedTuple):
    """One level of the pockets: the distance to their walls, and what later stages take there."""

    room: NDArray[np.float32]
    taken: Mask


class Entry:
    """The pockets as the job leaves them: how much of what later stages take a disc would take."""

    def __init__(self, end: HeightMap, before: NDArray[np.float32], bed: float) -> None:
        self.cell = end.cell
        free = np.isnan(end.height)
        taken = ~free & (np.maximum(before, bed) - np.maximum(end.height, bed) > TOUCH)
        high, low = float(before[taken].max()), max(bed, float(end.height[taken].min()))
        self.levels: list[_Level] = []
        self._most = max(2, min(end.shape) // 2)
        for k in range(_LEVELS):
            z = high - (high - low) * (k + 0.5) / _LEVELS
            here = taken & (end.height <= z) & (before > z)
            if here.any():
                room = distance((end.height <= z) | free, self._most)
                self.levels.append(_Level(room, here))
        self._all = sum(int(level.taken.sum()) for level in self.levels)

    def share(self, diameter: float) -> float:
        """Return the part of what later stages take that a flat bit would take."""
        # The wall runs between the last free point and the next: half a point on average, and
        # the middle of a pocket is off the grid by a quarter.
        radius = diameter / 2 / self.cell + 0.25
        if radius > self._most or not self._all:
            return 0.0
        swept = sum(int((opened(v.room, radius) & v.taken).sum()) for v in self.levels)
        return swept / self._all

    def widest(self, low: float, high: float) -> float:
        """Return the largest diameter that takes a useful part, mm; 0 where `low` does not."""
        if self.share(low) < USEFUL:
            return 0.0
        while high - low > max(0.02 * low, self.cell / 2):
            middle = (low + high) / 2
            low, high = (middle, high) if self.share(middle) >= USEFUL else (low, middle)
        return low


def _entry(context: StageContext) -> Entry | None:
    later = _taken_later(context)
    if later is None or not later[0].any():
        return None
    assert context.after is not None
    assert context.final is not None
    rows, columns = np.nonzero(later[0])
    edge = context.bit.diameter
    low = context.after.place(int(rows.min()), int(columns.min()))
    high = context.after.place(int(rows.max()), int(columns.max()))
    end = part_of(
        context.final, (low[0] - edge, low[1] - edge), (high[0] + edge, high[1] + edge), _POINTS
    )
    places = np.stack(np.broadcast_arrays(*end.axes()), axis=-1).reshape(-1, 2)
    before = context.after.at(places).reshape(end.shape)
    return Entry(end, np.nan_to_num(before, nan=context.stock.top), context.stock.bed)


def what_would_enter(context: StageContext) -> str:
    """Say which widest bit of its kind, flat or ball, would take what later stages take.

    Of the rack, too. A pointed bit's tip enters anywhere: its width is not at fault.
    """
    if context.bit.shape not in ("flat", "bull", "ball"):
        return ""
    kind = "ball" if context.bit.shape == "ball" else "flat bit"
    entry = _entry(context)
    if entry is None:
        return ""
    own = context.bit.diameter
    if entry.share(own) >= USEFUL:
        return (
            f"; {context.bit.name} would enter what the stages after it cut, "
            "but its path does not go there"
        )
    widest = entry.widest(max(2.5 * entry.cell, 0.02 * own), own)
    if not widest:
        return f"; no {kind} would take much of what the stages after it cut"
    said = f"; a {kind} of up to {context.mm(round(widest, 1))} would enter"
    alike = [bit for bit in context.job.bits if _clears(bit, context.bit)]
    shares = [(bit, entry.share(bit.diameter)) for bit in alike]
    fitting = [(b, s) for b, s in shares if s >= USEFUL and b.diameter < own]
    if fitting:
        bit, share = max(fitting, key=lambda pair: (pair[0].diameter, pair[1]))
        said += (
            f", of the rack {bit.name} ({context.mm(bit.diameter)}), which would take "
            f"{share:.0%} of what the stages after it cut"
        )
    elif context.job.bits:
        said += ", none of the rack"
    return said


def _clears(bit: Bit, idle: Bit) -> bool:
    """Tell whether a bit of the rack is of the idle one's kind."""
    return bit.shape == "ball" if idle.shape == "ball" else bit.shape in ("flat", "bull")
