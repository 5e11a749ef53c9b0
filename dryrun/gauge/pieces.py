"""The few pieces of the cutter's path that shaped the surface near a place.

The surface knows for every cell which row of motion lowered it last. The rows named around a
place are all that is needed to say how that place changes when the cutter or the zero does.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dryrun.gauge.cutter import Cutter
from dryrun.motion import ARC, PROBE, RAPID

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Chords of helices and upright arcs stay within this of the arc, mm.
_SAG: Final = 0.001
_MOST_CHORDS: Final = 400
#: Windows are read with at most about so many cells a side.
_WINDOW: Final = 44


class GaugeError(ValueError):
    """A job or measurement that cannot be compared; the message says why."""


class Field:
    """A surface as the gauge reads it: heights at cell centres, mm in the job frame.

    A `Surface` is asked place by place (`at`, `row_at`): its dense views take longer to make than
    a whole comparison may. Anything else gives its arrays `height` and `cut_by`.
    """

    def __init__(self, surface: Any, top: float) -> None:
        self.cell = float(surface.cell)
        self.origin = (float(surface.origin[0]), float(surface.origin[1]))
        self.top = top
        self._surface = surface
        self._sparse = all(hasattr(surface, name) for name in ("at", "row_at", "patches"))
        if self._sparse:
            self.shape = (int(surface.shape[0]), int(surface.shape[1]))
            self.knows_rows = True
            return
        self._height = np.asarray(surface.height)
        self._cut_by = getattr(surface, "cut_by", None)
        self.shape = (int(self._height.shape[0]), int(self._height.shape[1]))
        self.knows_rows = self._cut_by is not None

    def heights(self, j: IntArray, i: IntArray) -> Array:
        """Heights of cells by row and column."""
        if self._sparse:
            height: Array = self._surface.at(*self._centres(j, i)).astype(np.float64)
        else:
            height = self._height[j, i].astype(np.float64)
        return height

    def rows(self, j: IntArray, i: IntArray) -> IntArray:
        """Rows of motion that shaped cells, -1 none."""
        if self._sparse:
            row: IntArray = self._surface.row_at(*self._centres(j, i)).astype(np.int64)
        elif self._cut_by is None:
            row = np.full(np.broadcast(j, i).shape, -1, np.int64)
        else:
            row = np.asarray(self._cut_by)[j, i].astype(np.int64)
        return row

    def _centres(self, j: IntArray, i: IntArray) -> tuple[Array, Array]:
        x: Array = self.origin[0] + self.cell * np.asarray(i, dtype=np.float64)
        y: Array = self.origin[1] + self.cell * np.asarray(j, dtype=np.float64)
        return x, y

    def all_rows(self) -> IntArray:
        """Every row of motion that shaped a cell, sorted."""
        if self._sparse:
            parts = [np.unique(patch.cut_by) for patch in self._surface.patches()]
        else:
            parts = [np.unique(np.asarray(self._cut_by))] if self.knows_rows else []
        if not parts:
            return np.zeros(0, np.int64)
        found = np.unique(np.concatenate(parts)).astype(np.int64)
        return found[found >= 0]

    def inside(self, x: Array, y: Array) -> NDArray[np.bool_]:
        """Whether places lie on the field, half a cell of rim included."""
        ny, nx = self.shape
        i = (x - self.origin[0]) / self.cell
        j = (y - self.origin[1]) / self.cell
        within: NDArray[np.bool_] = (
            (i >= -0.51) & (i <= nx - 0.49) & (j >= -0.51) & (j <= ny - 0.49)
        )
        return within

    def sample(self, x: Array, y: Array) -> Array:
        """Height between cell centres, linear both ways; the nearest cell's at the rim."""
        ny, nx = self.shape
        i = np.clip((x - self.origin[0]) / self.cell, 0, nx - 1)
        j = np.clip((y - self.origin[1]) / self.cell, 0, ny - 1)
        i0 = np.minimum(i.astype(np.int64), max(nx - 2, 0))
        j0 = np.minimum(j.astype(np.int64), max(ny - 2, 0))
        i1, j1 = np.minimum(i0 + 1, nx - 1), np.minimum(j0 + 1, ny - 1)
        a, b = i - i0, j - j0
        low = self.heights(j0, i0) * (1 - a) + self.heights(j0, i1) * a
        high = self.heights(j1, i0) * (1 - a) + self.heights(j1, i1) * a
        return low * (1 - b) + high * b

    def nearest(self, x: Array, y: Array) -> Array:
        """Height of the nearest cell, mm."""
        ny, nx = self.shape
        i = np.clip(np.rint((x - self.origin[0]) / self.cell).astype(np.int64), 0, nx - 1)
        j = np.clip(np.rint((y - self.origin[1]) / self.cell).astype(np.int64), 0, ny - 1)
        return self.heights(j, i)

    def rows_near(self, x: float, y: float, reach: float) -> IntArray:
        """Rows of motion that shaped the square of half width `reach` about a place."""
        if not self.knows_rows:
            return np.zeros(0, np.int64)
        ny, nx = self.shape
        i = (x - self.origin[0]) / self.cell
        j = (y - self.origin[1]) / self.cell
        k = reach / self.cell
        step = max(1, int(2 * k / _WINDOW))
        i0, i1 = max(0, math.ceil(i - k)), min(nx, math.floor(i + k) + 1)
        j0, j1 = max(0, math.ceil(j - k)), min(ny, math.floor(j + k) + 1)
        if i0 >= i1 or j0 >= j1:
            return np.zeros(0, np.int64)
        found = self.rows(np.arange(j0, j1, step)[:, None], np.arange(i0, i1, step)[None, :])
        rows = np.unique(found)
        return rows[rows >= 0]


@dataclass(frozen=True, slots=True)
class Path:
    """All motion of a job, stages end to end, and the cutter of each stage.

    `first` holds the row each stage begins with, as `cut_by` counts; `zero` how high each stage's
    zero lies above the job's, mm.
    """

    motions: tuple[Any, ...]
    first: NDArray[np.int64]
    cutters: tuple[Cutter | None, ...]
    zero: Array

    @classmethod
    def of(cls, outcome: Any) -> Path:
        """Take the motion of an outcome's stages."""
        stages = list(outcome.stages)
        motions = tuple(s.motion for s in stages)
        lengths = [len(m) for m in motions]
        first = np.concatenate([[0], np.cumsum(lengths)[:-1]]) if stages else np.zeros(0)
        given = [getattr(s, "first_row", None) for s in stages]
        if given and all(g is not None for g in given):
            first = np.array(given)
        bits = [getattr(s.stage, "bit", None) for s in stages]
        shifts = [getattr(s.stage, "zero_shift", (0.0, 0.0, 0.0)) for s in stages]
        return cls(
            motions,
            first.astype(np.int64),
            tuple(None if b is None else Cutter.from_bit(b) for b in bits),
            np.array([s[2] for s in shifts], dtype=float),
        )

    def stage_of(self, rows: NDArray[np.int64]) -> NDArray[np.int64]:
        """Index of the stage each row belongs to."""
        return np.searchsorted(self.first, rows, side="right") - 1

    def rows_near(self, x: float, y: float, reach: float, stages: int) -> NDArray[np.int64]:
        """Cutting rows of the first `stages` stages that pass within about `reach` of a place.

        For a measurement between stages, where no surface says who cut last.
        """
        found = []
        for k in range(stages):
            if self.cutters[k] is None:
                continue
            m = self.motions[k]
            grow = reach + np.where(m.kind == ARC, 2 * np.nan_to_num(m.radii()), 0.0)
            low = np.minimum(m.start, m.end)
            high = np.maximum(m.start, m.end)
            near = m.cutting.copy()
            for axis, place in ((0, x), (1, y)):
                near &= (low[:, axis] - grow <= place) & (high[:, axis] + grow >= place)
            found.append(np.flatnonzero(near) + self.first[k])
        return np.concatenate(found) if found else np.zeros(0, np.int64)

    def line(self, row: int) -> int:
        """Line of the program that made a row."""
        k = int(self.stage_of(np.array([row]))[0])
        return int(self.motions[k].line[row - int(self.first[k])])


@dataclass(frozen=True, slots=True)
class Pieces:
    """Straight pieces and level arcs of the tip's path, (p,) arrays; mm in the job frame.

    `radius` is 0 for a straight piece; an arc has its centre in (cx, cy), starts at `angle` and
    turns by `sweep` rad at the height z0 = z1. `stage` is -1 for a stand-in: a level floor of no
    known cutter.
    """

    x0: Array
    y0: Array
    z0: Array
    x1: Array
    y1: Array
    z1: Array
    cx: Array
    cy: Array
    radius: Array
    angle: Array
    sweep: Array
    row: NDArray[np.int64]
    stage: NDArray[np.int64]


class PieceList:
    """Collects pieces; a row wanted twice is kept once."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._pieces: list[tuple[float, ...]] = []
        self._known: dict[int, list[int]] = {}

    def of_row(self, row: int) -> list[int]:
        """Return the indices of a row's pieces."""
        known = self._known.get(row)
        if known is None:
            start = len(self._pieces)
            self._pieces += self._cut(row)
            known = list(range(start, len(self._pieces)))
            self._known[row] = known
        return known

    def floor(self, x: float, y: float, z: float) -> int:
        """Add a stand-in floor and return its index."""
        self._pieces.append((x, y, z, x, y, z, 0.0, 0.0, 0.0, 0.0, 0.0, -1.0, -1.0))
        return len(self._pieces) - 1

    def table(self) -> Pieces:
        """Return the pieces as arrays."""
        table = np.array(self._pieces, dtype=float).reshape(-1, 13)
        columns: list[Any] = [np.ascontiguousarray(table[:, k]) for k in range(11)]
        columns += [table[:, k].astype(np.int64) for k in (11, 12)]
        return Pieces(*columns)

    def _cut(self, row: int) -> list[tuple[float, ...]]:
        stage = int(self.path.stage_of(np.array([row]))[0])
        if stage < 0 or self.path.cutters[stage] is None:
            return []
        motion, k = self.path.motions[stage], row - int(self.path.first[stage])
        start, end = motion.start[k].tolist(), motion.end[k].tolist()
        kind = int(motion.kind[k])
        if not RAPID <= kind <= PROBE or not all(map(math.isfinite, (*start, *end))):
            return []
        tail = (float(row), float(stage))
        if kind != ARC:
            return [(*start, *end, 0.0, 0.0, 0.0, 0.0, 0.0, *tail)]
        centre, sweep = motion.centre[k].tolist(), float(motion.sweep[k])
        axis = int(motion.axis[k])
        if axis == 2 and start[2] == end[2]:
            radius = math.hypot(start[0] - centre[0], start[1] - centre[1])
            angle = math.atan2(start[1] - centre[1], start[0] - centre[0])
            return [(*start, *end, centre[0], centre[1], radius, angle, sweep, *tail)]
        points = _arc_points(np.array(start), np.array(end), np.array(centre), axis, sweep)
        return [
            (*a, *b, 0.0, 0.0, 0.0, 0.0, 0.0, *tail)
            for a, b in zip(points[:-1].tolist(), points[1:].tolist(), strict=True)
        ]


def _arc_points(start: Array, end: Array, centre: Array, axis: int, sweep: float) -> Array:
    """Points along a helix or an upright arc, ends included, (m, 3)."""
    first, second = (axis + 1) % 3, (axis + 2) % 3
    offset = start - centre
    radius = math.hypot(offset[first], offset[second])
    step = 2 * math.acos(max(0.0, 1 - _SAG / radius)) if radius > _SAG else math.pi
    count = min(_MOST_CHORDS, max(2, math.ceil(abs(sweep) / step)))
    share = np.linspace(0.0, 1.0, count + 1)
    angle = math.atan2(offset[second], offset[first]) + share * sweep
    points = np.empty((count + 1, 3))
    points[:, first] = centre[first] + radius * np.cos(angle)
    points[:, second] = centre[second] + radius * np.sin(angle)
    points[:, axis] = start[axis] + share * (end[axis] - start[axis])
    points[-1] = end
    return points
