"""What each reading should have been, as a function of what may have been set wrong.

Each reading keeps the few pieces of path that shaped its place (`pieces`). From them the depth
under the rod's end or the width between the groove's edges follows exactly, for the job as
declared and for any small change: a lifted zero, a thicker bit, a blunter vee, another bit of the
rack. Where surface and path disagree (a surface scanned or loaded without its motion) the
surface is right, and the path only says how the reading would move.

A rod with a foot rests on the highest spot under it: with the foot's diameter given, the depth is
that of the highest surface under the foot.

Limits. A tilt or bow lifts the cutter by what it is at the reading, not under the cutter's axis: a
wide flat bit on a sloping blank cuts deeper by its radius times the slope (3 mm at 4 mm/m is
0.012 mm). Under a tilt that is the same everywhere and goes into the Z zero; under a strong bow it
makes the bow's interval too narrow. A bit that bends, a spindle out of square and wood that
swells are not modelled.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dryrun.gauge.cutter import Array, Cutter
from dryrun.gauge.measurements import Measurements
from dryrun.gauge.pieces import Field, GaugeError, Path, PieceList
from dryrun.gauge.sweep import EDGE_MOVES, Moved, clearance, edge, foot_places, swept

#: Surface and path agree within this on a level floor, mm; on a slope within a cell's worth more.
_AGREE: Final = 0.01
_WIDEST: Final = 300.0
#: Pieces that cut or pass farther than this from what shaped a place do not matter there, mm.
_NEAR: Final = 2.5
#: Pieces kept for each place of a reading.
_MOST_PIECES: Final = 10
#: Below this a cell counts as cut, mm.
_CUT: Final = 0.002

IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Change:
    """What is different from the job as declared; the default is nothing.

    Attributes
    ----------
    lift : (n,) or float
        How much higher the cutter ran at each reading, mm.
    scale : float
        True travel along Z over programmed, from each stage's zero.
    diameter, angle : dict
        Added to the diameter (mm) and the angle as declared (rad), by the cutter's name.
    swap : dict
        Another cutter, by stage index.
    after : (row, dx, dy, dz) or None
        All rows from `row` on were displaced by so much, mm.
    thickness : float
        Added to the blank's thickness, mm.
    """

    lift: Array | float = 0.0
    scale: float = 1.0
    diameter: dict[str, float] = field(default_factory=dict)
    angle: dict[str, float] = field(default_factory=dict)
    swap: dict[int, Cutter] = field(default_factory=dict)
    after: tuple[int, float, float, float] | None = None
    thickness: float = 0.0


class Predictor:
    """Predicts readings of one outcome.

    Parameters
    ----------
    outcome : Outcome, or anything with `job`, `surface` and `stages`
    readings : Measurements
    rack : tuple of Cutter
        Other bits that may have been in the spindle; the reach of the largest is kept in view.

    Attributes
    ----------
    base : (n,) float64
        Readings expected from the job as declared, mm; NaN where there is nothing to measure.
    row : (n,) int64
        Row of motion that shaped each reading, -1 none.
    stage : (n,) int64
        Its stage index, -1 none.
    direction : (n,) float64
        Direction widths are taken in, rad.
    foot_rests : (n,) bool
        Whether the foot of a rod rests above the place itself.
    """

    def __init__(self, outcome: Any, readings: Measurements, rack: tuple[Cutter, ...] = ()) -> None:
        stock = getattr(outcome.job, "stock", None)
        if stock is None or getattr(outcome, "surface", None) is None:
            raise GaugeError("the job declares no blank, so nothing can be predicted; needs stock")
        self.stock = stock
        self.top = float(stock.top)
        self.thickness = float(stock.size[2])
        self.on_bed = abs(float(stock.zero_at[2]) + self.thickness) < 1e-9
        self.path = Path.of(outcome)
        self.readings = readings
        self._last = Field(outcome.surface, self.top)
        self._stages = outcome.stages
        self._fields: dict[int, Field | None] = {0: self._last, len(outcome.stages): self._last}
        self._is_width = np.array([k == "width" for k in readings.kind], dtype=bool)
        self._is_thick = np.array([k == "thickness" for k in readings.kind], dtype=bool)
        radii = [c.radius for c in (*self.path.cutters, *rack) if c is not None]
        self._reach = max(radii, default=3.0)
        self._moves = EDGE_MOVES + (max(radii) - min(radii) if radii else 0.0)
        count = len(readings)
        self.direction = np.radians(readings.direction)
        self._edges = np.zeros((count, 2))
        self._pieces = PieceList(self.path)
        self._lists: list[list[int]] = []
        self._look_at_surface()
        for i in range(count):
            self._gather(i)
        self._table = self._pieces.table()
        self._index_pieces()
        self._keep_nearest()
        self._place_samples()
        self.row = np.full(count, -1, np.int64)
        self._offset = np.zeros(count)
        modelled = self.predict(Change(), note_rows=True)
        surface = self._from_surface()
        disagree = ~((np.abs(modelled - surface) <= self._slack) | np.isnan(surface))
        self.base = np.where(disagree, surface, modelled)
        self._offset = np.where(np.isfinite(modelled), self.base - modelled, 0.0)
        self.stage = np.where(self.row >= 0, self.path.stage_of(self.row), -1)

    # ------------------------------------------------------------ gathering, once

    @property
    def surface(self) -> Field:
        """The surface after the last stage."""
        return self._last

    def _field_of(self, i: int) -> Field | None:
        stage = int(self.readings.stage[i])
        if stage > len(self.path.motions):
            raise GaugeError(
                f"line {self.readings.line[i]}: stage {stage}, the job has "
                f"{len(self.path.motions)} stages"
            )
        if stage not in self._fields:
            after = getattr(self._stages[stage - 1], "surface_after", None)
            self._fields[stage] = None if after is None else Field(after, self.top)
        return self._fields[stage]

    def _gather(self, i: int) -> None:
        """Note the pieces that shaped the place of one reading."""
        r = self.readings
        x, y = float(r.x[i]), float(r.y[i])
        surface = self._field_of(i)
        places = [(x, y)]
        if self._is_width[i]:
            self._find_edges(i, surface or self._last)
            c, s = math.cos(self.direction[i]), math.sin(self.direction[i])
            places += [(x + e * c, y + e * s) for e in self._edges[i].tolist()]
        reach = self._reach + float(r.foot[i]) / 2 + 0.5
        rows: set[int] = set()
        for px, py in places:
            if surface is not None:
                rows.update(surface.rows_near(px, py, reach).tolist())
            else:
                rows.update(self.path.rows_near(px, py, reach, int(r.stage[i])).tolist())
        pieces = [p for row in sorted(rows) for p in self._pieces.of_row(row)]
        if not pieces and surface is not None and not self._is_width[i]:
            z = float(self._rest[i])
            if z < self.top - _CUT:
                pieces = [self._pieces.floor(x, y, z)]
        self._lists.append(pieces)

    def _find_edges(self, i: int, surface: Field) -> None:
        """Find where the groove's edges are along the direction, from the surface."""
        x, y = float(self.readings.x[i]), float(self.readings.y[i])
        if math.isnan(self.direction[i]):
            turns = np.radians(np.arange(0, 180, 3.0))
            ends = [self._edges_along(x, y, t, surface) for t in turns.tolist()]
            width = np.array([b - a for a, b in ends])
            # Near the narrowest the width hardly changes: take the middle of those directions.
            near = turns[width <= width.min() + 1.5 * surface.cell]
            mean = np.exp(2j * near).mean()
            self.direction[i] = float(np.angle(mean)) / 2 % math.pi
        self._edges[i] = self._edges_along(x, y, float(self.direction[i]), surface)

    def _edges_along(self, x: float, y: float, turn: float, surface: Field) -> tuple[float, float]:
        ends = []
        ny, nx = surface.shape
        longest = min(_WIDEST, surface.cell * math.hypot(nx, ny))
        for sign in (-1.0, 1.0):
            end, chunk = 0.0, 20.0
            while end < longest:
                s = end + np.arange(0.0, chunk, surface.cell / 2)
                px, py = x + sign * s * math.cos(turn), y + sign * s * math.sin(turn)
                cut = (surface.nearest(px, py) < self.top - _CUT) & surface.inside(px, py)
                if not cut.all():
                    end = float(s[int(np.argmin(cut))])
                    break
                end, chunk = float(s[-1]), 100.0
            ends.append(sign * end)
        return ends[0], ends[1]

    def _index_pieces(self) -> None:
        counts = np.array([len(p) for p in self._lists], dtype=np.int64)
        self._count = counts
        self._start = np.concatenate([[0], np.cumsum(counts)])[:-1]
        self._flat = np.array([p for pieces in self._lists for p in pieces], dtype=np.int64)

    def _keep_nearest(self) -> None:
        """Keep for each reading the pieces that cut deepest there, and near ones that might.

        A ramp or a carved line is made of hundreds of pieces, and all but a few lie above the
        floor that a later pass left.
        """
        r, width = self.readings, self._is_width
        both = np.flatnonzero(width & (self._count > 0))
        owner = np.concatenate([np.flatnonzero(self._count > 0), both, both])
        if not len(owner):
            return
        turn = np.where(width, np.nan_to_num(self.direction), 0.0)
        out = np.concatenate([np.zeros(len(owner) - 2 * len(both)), *self._edges[both].T])
        x = r.x[owner] + out * np.cos(turn[owner])
        y = r.y[owner] + out * np.sin(turn[owner])
        varied, cutters = self._vary(Change())
        sample, pair, starts = self._pairs(owner)
        apart = clearance(varied, cutters, pair, x[sample], y[sample], self.top)
        height = swept(varied, cutters, pair, x[sample], y[sample])
        lowest = np.minimum.reduceat(height, starts)[sample]
        nearest = np.minimum.reduceat(apart, starts)[sample]
        above = height - np.where(np.isfinite(lowest), lowest, 0.0)
        deep = np.where(np.isfinite(height), above, np.maximum(apart, 0.0) + 0.5)
        beside = apart - np.where(np.isfinite(nearest), nearest, 0.0)
        worth = np.where(width[owner][sample], beside, deep)
        near = worth <= _NEAR
        kept: dict[int, set[int]] = {}
        for k, i in enumerate(owner.tolist()):
            part = np.flatnonzero(near[starts[k] : starts[k] + self._count[i]])
            if len(part) > _MOST_PIECES:
                order = np.argsort(worth[starts[k] + part], kind="stable")
                part = part[order[:_MOST_PIECES]]
            kept.setdefault(i, set()).update(part.tolist())
        for i, some in kept.items():
            self._lists[i] = [self._lists[i][k] for k in sorted(some)]
        self._index_pieces()

    def _place_samples(self) -> None:
        """Lay out the places under each foot, and the places across each edge."""
        r = self.readings
        owner, xs, ys = [], [], []
        for i in np.flatnonzero(~self._is_width & (self._count > 0)).tolist():
            px, py = foot_places(float(r.x[i]), float(r.y[i]), float(r.foot[i]))
            owner.append(np.full(len(px), i))
            xs.append(px)
            ys.append(py)
        self._foot_owner = np.concatenate(owner) if owner else np.zeros(0, np.int64)
        self._foot_x = np.concatenate(xs) if xs else np.zeros(0)
        self._foot_y = np.concatenate(ys) if ys else np.zeros(0)
        self._widths = np.flatnonzero(self._is_width & (self._count > 0))

    # ------------------------------------------------------------ predicting, many times

    def predict(self, change: Change, note_rows: bool = False) -> Array:
        """Return the readings expected under a change, (n,) mm."""
        varied, cutters = self._vary(change)
        grow = change.thickness
        top = self.top + (grow if self.on_bed else 0.0)
        bottom = self.top - self.thickness - (0.0 if self.on_bed else grow)
        out = np.where(self._is_width, 0.0, np.where(self._is_thick, top - bottom, 0.0))
        if len(self._foot_owner):
            rest = self._heights(varied, cutters, top, note_rows)
            at = np.unique(self._foot_owner)
            out[at] = np.where(self._is_thick[at], np.maximum(rest - bottom, 0.0), top - rest)
        if len(self._widths):
            out[self._widths] = self._groove_widths(varied, cutters, top, note_rows)
        return out + self._offset

    def _vary(self, change: Change) -> tuple[Moved, list[Cutter]]:
        """Apply a change to the pieces; each pair of reading and piece gets its own heights."""
        t = self._table
        flat, owner = self._flat, np.repeat(np.arange(len(self._count)), self._count)
        cutters: list[Cutter] = [Cutter("floor", "flat", math.inf)]
        number: dict[int, int] = {-1: 0}
        for k, cutter in enumerate(self.path.cutters):
            if cutter is not None:
                own = change.swap.get(k, cutter)
                cutters.append(
                    own.varied(change.diameter.get(own.name, 0.0), change.angle.get(own.name, 0.0))
                )
                number[k] = len(cutters) - 1
        table = np.array([number.get(k, 0) for k in range(-1, len(self.path.cutters))])
        stage, row = t.stage[flat], t.row[flat]
        zero = np.append(self.path.zero, 0.0)[stage]
        lift = np.broadcast_to(np.asarray(change.lift, dtype=float), len(self._count))[owner]
        shift = np.zeros((3, len(flat)))
        if change.after is not None:
            shift[:, row >= change.after[0]] = np.array(change.after[1:])[:, None]
        dx, dy = shift[0], shift[1]
        raised = lift + shift[2]

        def z(heights: Array) -> Array:
            moved: Array = zero + (heights[flat] - zero) * change.scale + raised
            return moved

        piece = Moved(
            t.x0[flat] + dx, t.y0[flat] + dy, z(t.z0),
            t.x1[flat] + dx, t.y1[flat] + dy, z(t.z1),
            t.cx[flat] + dx, t.cy[flat] + dy,
            t.radius[flat], t.angle[flat], t.sweep[flat], table[stage + 1],
        )  # fmt: skip
        return piece, cutters

    def _pairs(self, owner: IntArray) -> tuple[IntArray, IntArray, IntArray]:
        """Pair every sample with its reading's pieces: sample, piece, first pair of each sample."""
        counts = self._count[owner]
        starts = np.concatenate([[0], np.cumsum(counts)])[:-1]
        sample = np.repeat(np.arange(len(owner)), counts)
        piece = np.arange(int(counts.sum())) - starts[sample] + self._start[owner][sample]
        return sample, piece, starts

    def _heights(self, varied: Moved, cutters: list[Cutter], top: float, note_rows: bool) -> Array:
        """Height the rod rests at, per reading with pieces."""
        sample, pair, starts = self._pairs(self._foot_owner)
        h = swept(varied, cutters, pair, self._foot_x[sample], self._foot_y[sample])
        lowest = np.minimum(np.minimum.reduceat(h, starts), top)
        owners, first = np.unique(self._foot_owner, return_index=True)
        if note_rows:
            for i, k in zip(owners.tolist(), first.tolist(), strict=True):
                part = slice(starts[k], starts[k] + self._count[i])
                best = int(np.argmin(h[part]))
                if h[part][best] < top:
                    self.row[i] = self._table.row[self._flat[pair[part][best]]]
        rest: Array = np.maximum.reduceat(lowest, first)
        return rest

    def _groove_widths(
        self, varied: Moved, cutters: list[Cutter], top: float, note_rows: bool
    ) -> Array:
        i = np.repeat(self._widths, 2)
        side = np.tile([-1.0, 1.0], len(self._widths))
        base = np.abs(self._edges[self._widths]).reshape(-1)
        x, y = self.readings.x[i], self.readings.y[i]
        c, s = side * np.cos(self.direction[i]), side * np.sin(self.direction[i])

        def apart(out: Array) -> Array:
            """Distance from what is cut at the top, negative inside; out is (edges, m)."""
            m = out.shape[1]
            owner = np.repeat(i, m)
            sample, pair, starts = self._pairs(owner)
            px = (x[:, None] + out * c[:, None]).reshape(-1)[sample]
            py = (y[:, None] + out * s[:, None]).reshape(-1)[sample]
            g = clearance(varied, cutters, pair, px, py, top)
            return np.minimum.reduceat(g, starts).reshape(len(i), m)

        edges = edge(apart, base, self._moves)
        if note_rows:
            self._note_width_rows(varied, cutters, top)
        both: Array = edges.reshape(-1, 2).sum(axis=1)
        return both

    def _note_width_rows(self, varied: Moved, cutters: list[Cutter], top: float) -> None:
        owner = self._widths
        sample, pair, starts = self._pairs(owner)
        turn = self.direction[owner]
        out = self._edges[owner, 1]
        px = (self.readings.x[owner] + 0.98 * out * np.cos(turn))[sample]
        py = (self.readings.y[owner] + 0.98 * out * np.sin(turn))[sample]
        g = clearance(varied, cutters, pair, px, py, top)
        for k, i in enumerate(owner.tolist()):
            part = slice(starts[k], starts[k] + self._count[i])
            best = int(np.argmin(g[part]))
            if g[part][best] <= self._last.cell:
                self.row[i] = self._table.row[self._flat[pair[part][best]]]

    # ------------------------------------------------------------ the surface's own word

    def _look_at_surface(self) -> None:
        """Note what the sampled surface says of each place, and how far it may be trusted."""
        r = self.readings
        outside = np.flatnonzero(~self._last.inside(r.x, r.y))
        if len(outside):
            i = int(outside[0])
            raise GaugeError(
                f"line {r.line[i]}: the place {r.x[i]:.2f}, {r.y[i]:.2f} mm is not on the "
                "blank; x and y are job-frame millimetres unless the cell names a unit"
            )
        count = len(r)
        self._rest = np.full(count, np.nan)
        self._slack = np.full(count, np.inf)
        around = np.array([(a, b) for a in (-1.0, 0.0, 1.0) for b in (-1.0, 0.0, 1.0)])
        for stage in np.unique(r.stage).tolist():
            mine = np.flatnonzero(r.stage == stage)
            surface = self._field_of(int(mine[0]))
            if surface is None:
                continue
            places = [foot_places(float(r.x[i]), float(r.y[i]), float(r.foot[i])) for i in mine]
            first = np.cumsum([0, *(len(px) for px, _ in places)])[:-1]
            px, py = (np.concatenate([p[k] for p in places]) for k in (0, 1))
            self._rest[mine] = np.maximum.reduceat(surface.sample(px, py), first)
            reach = (r.foot[mine] / 2 + 1.5 * surface.cell)[:, None]
            near = surface.nearest(
                r.x[mine, None] + reach * around[:, 0], r.y[mine, None] + reach * around[:, 1]
            )
            level = _AGREE + np.ptp(near, axis=1)
            self._slack[mine] = np.where(self._is_width[mine], 4 * surface.cell, level)

    def _from_surface(self) -> Array:
        """Return readings as the sampled surface has them, NaN where no surface was kept."""
        thick = np.maximum(self.thickness - (self.top - self._rest), 0.0)
        depth = np.where(self._is_thick, thick, self.top - self._rest)
        return np.where(self._is_width, self._edges[:, 1] - self._edges[:, 0], depth)
