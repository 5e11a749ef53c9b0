"""Maps of the blank between stages, and distances on masks: what stages are compared with.

A map has a few hundred points along the blank, each with the exact height there, so that one costs
milliseconds whatever the size of the field. Everything here is plain numpy.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from dryrun.motion import ARC, Motion

if TYPE_CHECKING:
    from dryrun.removal.surface import Surface

Mask = NDArray[np.bool_]

#: Points along the longer side of the blank.
MOST_POINTS: Final = 300


@dataclass(frozen=True, slots=True)
class HeightMap:
    """Heights (ny, nx) at points `cell` apart, mm; the first point is at `origin`; NaN no blank."""

    height: NDArray[np.float32]
    cell: float
    origin: tuple[float, float]

    @property
    def shape(self) -> tuple[int, int]:
        """Number of points along Y and X."""
        ny, nx = self.height.shape
        return ny, nx

    def at(self, points: NDArray[np.float64]) -> NDArray[np.float32]:
        """Return the heights of the points of the map nearest to places (n, 2+); NaN off it."""
        iy, ix, inside = self.index(points)
        return np.where(inside, self.height[iy, ix], np.float32(np.nan))

    def index(self, points: NDArray[np.float64]) -> tuple[NDArray[np.intp], NDArray[np.intp], Mask]:
        """Return row and column of the nearest points of the map, and whether they are on it."""
        place = np.nan_to_num((points[:, :2] - self.origin) / self.cell, nan=-9.0)
        place = np.clip(np.rint(place), -9, 1e6).astype(np.intp)
        ny, nx = self.shape
        ix, iy = place[:, 0], place[:, 1]
        inside = (ix >= 0) & (ix < nx) & (iy >= 0) & (iy < ny)
        return np.where(inside, iy, 0), np.where(inside, ix, 0), inside

    def axes(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the X (1, nx) and the Y (ny, 1) of the points of the map, mm."""
        ny, nx = self.shape
        x = self.origin[0] + np.arange(nx, dtype=np.float64) * self.cell
        y = self.origin[1] + np.arange(ny, dtype=np.float64) * self.cell
        return x[None, :], y[:, None]

    def of(self, surface: Surface) -> HeightMap:
        """Return the map of a surface at the very points of this one."""
        return HeightMap(surface.at(*self.axes()), self.cell, self.origin)

    def place(self, iy: int, ix: int) -> tuple[float, float]:
        """Return X and Y of a point of the map, mm."""
        return self.origin[0] + ix * self.cell, self.origin[1] + iy * self.cell


def height_map(surface: Surface) -> HeightMap:
    """Return the map of a surface as it is now."""
    low, high = surface.low, surface.high
    return part_of(surface, (low[0], low[1]), (high[0], high[1]), MOST_POINTS)


def part_of(
    surface: Surface, low: tuple[float, float], high: tuple[float, float], most: int
) -> HeightMap:
    """Return the map of a window of a surface, `most` points along its longer side."""
    size = high[0] - low[0], high[1] - low[1]
    cell = max(surface.cell, max(size) / most)
    count = [max(1, math.ceil(s / cell - 1e-6)) for s in size]
    empty = np.broadcast_to(np.float32(np.nan), (count[1], count[0]))
    return HeightMap(empty, cell, (low[0] + cell / 2, low[1] + cell / 2)).of(surface)


def distance(mask: Mask, most: int) -> NDArray[np.float32]:
    """Return for each point the distance to the nearest one that is not in the mask, in points.

    Exact up to `most`, and `most` beyond; points outside the array are not in the mask. By rows
    first, then the lower envelope of the rows' parabolas within reach, which is where the square of
    the distance separates (Felzenszwalb and Huttenlocher, Theory of Computing 8 (2012), 415-428).
    """
    rows, columns = mask.shape
    along = np.zeros((rows + 2, columns + 2), np.int32)
    inner = np.zeros((rows + 2, columns + 2), np.bool_)
    inner[1:-1, 1:-1] = mask
    place = np.arange(columns + 2)
    last = np.maximum.accumulate(np.where(inner, 0, place), axis=1)
    after = columns + 1 - place
    next_ = np.maximum.accumulate(np.where(inner, 0, after)[:, ::-1], axis=1)[:, ::-1]
    along = np.minimum(place - last, after - next_)
    along[~inner] = 0
    square = np.minimum(along, most).astype(np.float32) ** 2
    best = square.copy()
    for step in range(1, min(most, rows + 1) + 1):
        more = np.float32(step * step)
        np.minimum(best[step:], square[:-step] + more, out=best[step:])
        np.minimum(best[:-step], square[step:] + more, out=best[:-step])
    found: NDArray[np.float32] = np.sqrt(np.minimum(best, np.float32(most) ** 2))[1:-1, 1:-1]
    return found


def near(mask: Mask, reach: float) -> Mask:
    """Return the points within a distance (in points) of the mask."""
    if reach <= 0 or not mask.any():
        return mask.copy()
    if reach < 2:
        return _grown(mask, reach)
    most = math.ceil(reach) + 1
    padded = np.pad(~mask, most, constant_values=True)
    close: Mask = distance(padded, most)[most:-most, most:-most] <= reach
    return close


def _grown(mask: Mask, reach: float) -> Mask:
    """Do what `near` does for a reach below 2, by moving the mask about."""
    grown = np.pad(mask, 1)
    wide, ny, nx = grown.copy(), *mask.shape
    for dy in (-1, 0, 1):
        for dx in (-1, 0, 1):
            if 0 < dy * dy + dx * dx <= reach * reach:
                wide[1:-1, 1:-1] |= grown[1 + dy : 1 + dy + ny, 1 + dx : 1 + dx + nx]
    return wide[1:-1, 1:-1]


def opened(inside: NDArray[np.float32], radius: float) -> Mask:
    """Return what a disc can sweep within a mask, of which `distance` is given; in points."""
    return near(inside >= radius, radius)


def filled(mask: Mask) -> Mask:
    """Return a mask with its holes: what is not connected to the edge of the array."""
    from dryrun.removal.pieces import label

    labels, _ = label(~np.pad(mask, 1))
    outside = labels == labels[0, 0]
    whole: Mask = ~outside[1:-1, 1:-1]
    return whole


def along(
    motion: Motion, rows: NDArray[np.intp], step: float
) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Return points (n, 3) along rows, at most `step` mm apart, and the row of each."""
    length = motion.rows(rows).lengths()
    rows = rows[np.isfinite(length)]
    count = np.ceil(length[np.isfinite(length)] / step).astype(np.intp) + 1
    row = np.repeat(rows, count)
    first = np.repeat(np.cumsum(count) - count, count)
    part = (np.arange(len(row)) - first) / np.repeat(np.maximum(count - 1, 1), count)
    points = motion.start[row] + part[:, None] * (motion.end[row] - motion.start[row])
    for axis in range(3):
        arc = (motion.kind[row] == ARC) & (motion.axis[row] == axis)
        if arc.any():
            _bend(motion, row[arc], part[arc], axis, points, np.flatnonzero(arc))
    return points, row


def _bend(
    motion: Motion,
    row: NDArray[np.intp],
    part: NDArray[np.float64],
    axis: int,
    points: NDArray[np.float64],
    at: NDArray[np.intp],
) -> None:
    """Put points of arcs about one axis where they belong."""
    u, v = (axis + 1) % 3, (axis + 2) % 3
    centre = motion.centre[row]
    spoke = motion.start[row] - centre
    angle = np.arctan2(spoke[:, v], spoke[:, u]) + part * motion.sweep[row]
    radius = np.hypot(spoke[:, u], spoke[:, v])
    points[at, u] = centre[:, u] + radius * np.cos(angle)
    points[at, v] = centre[:, v] + radius * np.sin(angle)
