"""The column of material a move takes, measured again where the facts may overstate it.

The facts read columns off the field, cell by cell, and count what lies ahead of a move as it will
become if the path goes straight on. So a cell that rounded coordinates left standing by less than
a thousandth of a millimetre counts like a slot of that depth, and a bit that rises or turns away
counts as if it went on. Here the columns of such moves are measured at points, from the path
itself: what earlier moves have left there less what this one and the next ones come down to.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import StageContext
from dryrun.checks.maps import along
from dryrun.motion import ARC
from dryrun.removal.profile import Profile

#: So many moves of a stage are measured again at most.
MOST_ROWS: Final = 100

#: Strips of material narrower than this are rounding of coordinates, mm.
SLIVER: Final = 0.02

#: Places along a move, and across it as parts of the radius, at which its column is measured.
_ALONG: Final = 9
_ACROSS: Final = (0.0, 0.5, 0.9)
_AROUND: Final = 12

#: The path goes on for so many diameters.
_AHEAD: Final = 2.0

#: Points along a path, mm and as a part of the radius: what lies between them is off by less than
#: a thousandth of a millimetre.
_STEP: Final = (0.1, 1 / 20)


def columns(context: StageContext, limit: float) -> NDArray[np.float64]:
    """Return the tallest column of material of each feed move, mm.

    Those above `limit` are measured again when the move removes less than that on average.
    """
    motion, cut = context.motion, context.cut
    axial = np.where(motion.cutting, cut.axial, 0.0)
    if context.reach is not None:
        return axial
    step = (motion.end - motion.start)[:, :2]
    length = np.hypot(step[:, 0], step[:, 1])
    length = np.where(motion.kind == ARC, np.nan_to_num(motion.lengths()), length)
    area = length * cut.width + np.where(length < SLIVER, np.pi * context.bit.radius**2, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = np.nan_to_num(cut.removed_mm3 / area)
    doubtful = np.flatnonzero((axial > limit) & (mean <= limit))
    if not 0 < len(doubtful) <= MOST_ROWS:
        return axial
    glass = _Glass(context, doubtful)
    for row in doubtful:
        axial[row] = min(axial[row], glass.column(int(row), limit))
    return axial


class _Glass:
    """Measures columns of some moves, one after another."""

    def __init__(self, context: StageContext, rows: NDArray[np.intp]) -> None:
        self.context = context
        self.profile = Profile.from_bit(context.bit)
        self.radius = context.bit.radius
        self.step = min(_STEP[0], _STEP[1] * self.radius)
        motion = context.motion
        low = np.minimum(motion.start, motion.end)[:, :2]
        high = np.maximum(motion.start, motion.end)[:, :2]
        arcs = motion.kind == ARC
        spoke = np.linalg.norm(motion.start[arcs] - motion.centre[arcs], axis=1)[:, None]
        low[arcs] = np.minimum(low[arcs], motion.centre[arcs, :2] - spoke)
        high[arcs] = np.maximum(high[arcs], motion.centre[arcs, :2] + spoke)
        self.low, self.high = low, high
        self.moving = np.flatnonzero(motion.moving)
        self.lengths = np.nan_to_num(motion.lengths())
        close = np.unique(np.concatenate([self._within(*self._around(row)) for row in rows]))
        self.all_points, self.of_all = along(motion, close, self.step)
        self.points, self.of = self.all_points, self.of_all
        step = motion.end - motion.start
        self.plunges = motion.cutting & (np.hypot(step[:, 0], step[:, 1]) < SLIVER)
        self.plunges &= (step[:, 2] < 0) & ~arcs

    def column(self, row: int, limit: float) -> float:
        """Return the tallest column of one move at some places along it, mm; inf above a limit."""
        motion = self.context.motion
        low, high = self._around(row)
        x, y, _ = self.all_points.T
        inside = (x >= low[0]) & (x <= high[0]) & (y >= low[1]) & (y <= high[1])
        self.points, self.of = self.all_points[inside], self.of_all[inside]
        each = max(self.step, float(self.lengths[row]) / _ALONG)
        points, _ = along(motion, np.array([row]), each)
        places = [self._places(point[:2]) for point in points[::-1]]
        special = self.context.cut.axial_at[row]
        if np.isfinite(special).all() and places:
            places.insert(0, self._inward(special, row))
        tallest = 0.0 if places else np.inf
        for some in places:
            tallest = max(tallest, self._tallest(row, some))
            if tallest > limit:
                return np.inf
        return tallest

    def _places(self, centre: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return points over the face of the bit, none within a sliver of its rim."""
        angle = np.arange(_AROUND) * (2 * np.pi / _AROUND)
        spokes = np.column_stack([np.cos(angle), np.sin(angle)])
        rings = [*_ACROSS, max(0.0, 1.0 - SLIVER / self.radius)]
        return np.vstack([centre + part * self.radius * spokes for part in rings])

    def _inward(self, place: NDArray[np.float64], row: int) -> NDArray[np.float64]:
        """Return a place moved by a sliver toward the path of a move."""
        points = self.points[self.of == row]
        away = place - points[:, :2]
        nearest = away[np.argmin(np.hypot(away[:, 0], away[:, 1]))]
        far = float(np.hypot(*nearest))
        return (place - nearest * min(1.0, SLIVER / far) if far > 0 else place)[None, :]

    def _tallest(self, row: int, places: NDArray[np.float64]) -> float:
        stock, before = self.context.stock, self.context.before
        start = np.full(len(places), stock.top)
        if before is not None:
            start = np.fmax(before.at(places).astype(np.float64), stock.bed)
        touched = np.isfinite(self._lowest(places, row, row + 1)) & self._over_blank(places)
        was = np.minimum(start, self._lowest(places, 0, self._first(row)))
        now = np.maximum(self._lowest(places, row, self._last(row)), stock.bed)
        taken = np.where(touched, np.maximum(was, stock.bed) - now, 0.0)
        return float(np.max(taken, initial=0.0))

    def _over_blank(self, places: NDArray[np.float64]) -> NDArray[np.bool_]:
        low, high = np.array(self.context.stock.low[:2]), np.array(self.context.stock.high[:2])
        inside: NDArray[np.bool_] = np.logical_and.reduce(
            (places >= low) & (places <= high), axis=1
        )
        return inside

    def _first(self, row: int) -> int:
        """Return the first move of a plunge that goes on from another: it is all one go."""
        while row > 0 and self.plunges[row] and self.plunges[row - 1]:
            row -= 1
        return row

    def _last(self, row: int) -> int:
        """Return the row after the last one that belongs to what lies ahead of a move."""
        motion = self.context.motion
        left, last = 2 * _AHEAD * self.radius, row + 1
        while last < len(motion) and motion.cutting[last] and left > 0:
            left -= float(self.lengths[last])
            last += 1
        return last

    def _around(self, row: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the corners of the box around a move and all that the bit touches beside it."""
        return self.low[row] - 2 * self.radius, self.high[row] + 2 * self.radius

    def _within(self, low: NDArray[np.float64], high: NDArray[np.float64]) -> NDArray[np.intp]:
        """Return the moves whose path may come into a box."""
        rows = self.moving
        inside = (self.low[rows] <= high).all(axis=1) & (self.high[rows] >= low).all(axis=1)
        return rows[inside]

    def _lowest(self, places: NDArray[np.float64], first: int, after: int) -> NDArray[np.float64]:
        """Return how low the moves of a range of rows come at places, mm; inf where none does."""
        lowest = np.full(len(places), np.inf)
        begin, end = np.searchsorted(self.of, (first, after))
        points = self.points[begin:end]
        low, high = places.min(axis=0) - self.radius, places.max(axis=0) + self.radius
        points = points[((points[:, :2] >= low) & (points[:, :2] <= high)).all(axis=1)]
        for part in np.array_split(points, max(1, len(points) // 4096)):
            away = places[:, None, :] - part[None, :, :2]
            height = self.profile.height(np.hypot(away[..., 0], away[..., 1]))
            lowest = np.fmin(lowest, np.min(part[None, :, 2] + height, axis=1, initial=np.inf))
        return lowest
