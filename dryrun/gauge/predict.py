"""What each reading should have been, as a function of what may have been set wrong.

Each reading keeps the few pieces of path that shaped its place (`pieces`). From them the depth
under the rod's end or the width between the groove's edges follows exactly, for the job as
declared and for any small change: a lifted zero, a thicker bit, a blunter vee, another bit of the
rack. Where surface and path disagree (a surface scanned or loaded without its motion) the
surface is right, and the path only says how the reading would move.

A rod with a foot rests on the highest spot under it: with the foot's diameter given, the depth is
that of the highest surface under the foot.
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

#: Samples along a sloping piece; the lowest is then refined by a parabola.
_ALONG: Final = 17
#: Places across which an edge of a groove is looked for.
_ACROSS: Final = 31
_EDGE_MOVES: Final = 1.5  # mm an edge may move by a small change
#: Surface and path agree within this on a level floor, mm; on a slope within a cell's worth more.
_AGREE: Final = 0.01
_WIDEST: Final = 300.0
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


@dataclass(frozen=True, slots=True)
class _Piece:
    """Pieces of the path under one change: see `Pieces` for the columns."""

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
    cutter: IntArray


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
        self._moves = _EDGE_MOVES + (max(radii) - min(radii) if radii else 0.0)
        count = len(readings)
        self.direction = np.radians(readings.direction)
        self._edges = np.zeros((count, 2))
        self._pieces = PieceList(self.path)
        self._lists: list[list[int]] = []
        for i in range(count):
            self._gather(i)
        self._table = self._pieces.table()
        self._index_pieces()
        self._place_samples()
        self.row = np.full(count, -1, np.int64)
        self._offset = np.zeros(count)
        modelled = self.predict(Change(), note_rows=True)
        surface = self._from_surface()
        slack = self._slack()
        disagree = ~(np.abs(modelled - surface) <= slack)
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
            z = float(self._foot_rest(i, surface))
            if z < self.top - _CUT:
                pieces = [self._pieces.floor(x, y, z)]
        self._lists.append(pieces)

    def _find_edges(self, i: int, surface: Field) -> None:
        """Find where the groove's edges are along the direction, from the surface."""
        x, y = float(self.readings.x[i]), float(self.readings.y[i])
        if math.isnan(self.direction[i]):
            turns = np.radians(np.arange(0, 180, 3.0))
            widths = [b - a for a, b in (self._edges_along(x, y, t, surface) for t in turns)]
            self.direction[i] = turns[int(np.argmin(widths))]
        self._edges[i] = self._edges_along(x, y, float(self.direction[i]), surface)

    def _edges_along(self, x: float, y: float, turn: float, surface: Field) -> tuple[float, float]:
        ends = []
        ny, nx = surface.shape
        longest = min(_WIDEST, surface.cell * math.hypot(nx, ny))
        s = np.arange(0.0, longest, surface.cell / 2)
        for sign in (-1.0, 1.0):
            px, py = x + sign * s * math.cos(turn), y + sign * s * math.sin(turn)
            cut = (surface.nearest(px, py) < self.top - _CUT) & surface.inside(px, py)
            ends.append(sign * float(s[-1] if cut.all() else s[int(np.argmin(cut))]))
        return ends[0], ends[1]

    def _index_pieces(self) -> None:
        counts = np.array([len(p) for p in self._lists], dtype=np.int64)
        self._count = counts
        self._start = np.concatenate([[0], np.cumsum(counts)])[:-1]
        self._flat = np.array([p for pieces in self._lists for p in pieces], dtype=np.int64)

    def _place_samples(self) -> None:
        """Lay out the places under each foot, and the places across each edge."""
        r = self.readings
        owner, xs, ys = [], [], []
        for i in np.flatnonzero(~self._is_width & (self._count > 0)).tolist():
            px, py = _foot_places(float(r.x[i]), float(r.y[i]), float(r.foot[i]))
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

    def _vary(self, change: Change) -> tuple[_Piece, list[Cutter]]:
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

        piece = _Piece(
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

    def _heights(self, varied: _Piece, cutters: list[Cutter], top: float, note_rows: bool) -> Array:
        """Height the rod rests at, per reading with pieces."""
        sample, pair, starts = self._pairs(self._foot_owner)
        h = _swept(varied, cutters, pair, self._foot_x[sample], self._foot_y[sample])
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
        self, varied: _Piece, cutters: list[Cutter], top: float, note_rows: bool
    ) -> Array:
        i = np.repeat(self._widths, 2)
        side = np.tile([-1.0, 1.0], len(self._widths))
        base = np.abs(self._edges[self._widths]).reshape(-1)
        x, y = self.readings.x[i], self.readings.y[i]
        c, s = side * np.cos(self.direction[i]), side * np.sin(self.direction[i])

        def clearance(out: Array) -> Array:
            """Distance from what is cut at the top, negative inside; out is (edges, m)."""
            m = out.shape[1]
            owner = np.repeat(i, m)
            sample, pair, starts = self._pairs(owner)
            px = (x[:, None] + out * c[:, None]).reshape(-1)[sample]
            py = (y[:, None] + out * s[:, None]).reshape(-1)[sample]
            g = _clearance(varied, cutters, pair, px, py, top)
            return np.minimum.reduceat(g, starts).reshape(len(i), m)

        low = np.maximum(base - self._moves, 0.0)
        grid = low[:, None] + np.linspace(0, 1, _ACROSS) * (base + self._moves - low)[:, None]
        edge = _edge(clearance, grid)
        if note_rows:
            self._note_width_rows(varied, cutters, top)
        both: Array = edge.reshape(-1, 2).sum(axis=1)
        return both

    def _note_width_rows(self, varied: _Piece, cutters: list[Cutter], top: float) -> None:
        owner = self._widths
        sample, pair, starts = self._pairs(owner)
        turn = self.direction[owner]
        out = self._edges[owner, 1]
        px = (self.readings.x[owner] + 0.98 * out * np.cos(turn))[sample]
        py = (self.readings.y[owner] + 0.98 * out * np.sin(turn))[sample]
        g = _clearance(varied, cutters, pair, px, py, top)
        for k, i in enumerate(owner.tolist()):
            part = slice(starts[k], starts[k] + self._count[i])
            best = int(np.argmin(g[part]))
            if g[part][best] <= self._last.cell:
                self.row[i] = self._table.row[self._flat[pair[part][best]]]

    # ------------------------------------------------------------ the surface's own word

    def _foot_rest(self, i: int, surface: Field) -> float:
        px, py = _foot_places(
            float(self.readings.x[i]), float(self.readings.y[i]), float(self.readings.foot[i])
        )
        return float(surface.sample(px, py).max())

    def _from_surface(self) -> Array:
        """Return readings as the sampled surface has them, NaN where no surface was kept."""
        r = self.readings
        out = np.full(len(r), np.nan)
        for i in range(len(r)):
            surface = self._field_of(i)
            if not bool(self._last.inside(r.x[i : i + 1], r.y[i : i + 1])[0]):
                raise GaugeError(
                    f"line {r.line[i]}: the place {r.x[i]:.2f}, {r.y[i]:.2f} mm is not on the "
                    "blank; x and y are job-frame millimetres unless the cell names a unit"
                )
            if self._is_width[i]:
                out[i] = self._edges[i, 1] - self._edges[i, 0]
            elif surface is not None:
                depth = self.top - self._foot_rest(i, surface)
                out[i] = max(self.thickness - depth, 0.0) if self._is_thick[i] else depth
        return out

    def _slack(self) -> Array:
        """How far surface and path may differ before the surface is believed, (n,)."""
        slack = np.full(len(self.readings), _AGREE)
        for i in range(len(self.readings)):
            surface = self._field_of(i)
            if surface is None:
                slack[i] = np.inf
            elif self._is_width[i]:
                slack[i] = 4 * surface.cell
            else:
                x, y = float(self.readings.x[i]), float(self.readings.y[i])
                reach = float(self.readings.foot[i]) / 2 + 1.5 * surface.cell
                around = np.array([-1.0, 0.0, 1.0]) * reach
                gx, gy = np.meshgrid(x + around, y + around)
                slack[i] += float(np.ptp(surface.nearest(gx.ravel(), gy.ravel())))
        return slack


def _foot_places(x: float, y: float, diameter: float) -> tuple[Array, Array]:
    """Places under a round foot: the centre first, then rings."""
    if diameter <= 0:
        return np.array([x]), np.array([y])
    px, py = [x], [y]
    for share, count in ((0.35, 6), (0.7, 12), (1.0, 24)):
        turn = np.arange(count) * (2 * math.pi / count)
        px += (x + share * diameter / 2 * np.cos(turn)).tolist()
        py += (y + share * diameter / 2 * np.sin(turn)).tolist()
    return np.array(px), np.array(py)


def _edge(clearance: Any, grid: Array) -> Array:
    """Find the first place from inside where the clearance turns positive, by false position."""
    g = clearance(grid)
    out = g > 0
    none = ~out.any(axis=1)
    first = np.where(none, grid.shape[1] - 1, out.argmax(axis=1))
    at = np.arange(len(grid))
    before = np.maximum(first - 1, 0)
    a, b = grid[at, before], grid[at, first]
    ga, gb = g[at, before], g[at, first]
    for _ in range(4):
        with np.errstate(invalid="ignore", divide="ignore"):
            middle = np.where(np.isfinite(gb - ga) & (gb > ga), a - ga * (b - a) / (gb - ga), a)
        middle = np.clip(middle, np.minimum(a, b), np.maximum(a, b))
        gm = clearance(middle[:, None])[:, 0]
        inside = gm <= 0
        a, ga = np.where(inside, middle, a), np.where(inside, gm, ga)
        b, gb = np.where(inside, b, middle), np.where(inside, gb, gm)
    edge = np.where(np.abs(ga) < np.abs(gb), a, b)
    return np.where(none, grid[:, -1], np.where(first == 0, 0.0, edge))


def _swept(p: _Piece, cutters: list[Cutter], k: IntArray, x: Array, y: Array) -> Array:
    """Height to which piece k cuts at (x, y); infinite where it does not reach."""
    out = np.full(len(k), np.inf)
    level, slope = _level(p, k)
    distance = _level_distance(p, k[level], x[level], y[level])
    height = np.minimum(p.z0, p.z1)[k[level]]
    out[level] = height + _by_cutter(cutters, p.cutter[k[level]], distance, "height")
    if len(slope):
        ks = k[slope]
        reach = np.array([c.radius for c in cutters])[p.cutter[ks]]

        def low(t: Array) -> Array:
            z, d = _along(p, ks, x[slope], y[slope], t)
            return z + _by_cutter(cutters, p.cutter[ks], d, "height")

        out[slope] = _lowest(low, p, ks, x[slope], y[slope], reach)
    return out


def _clearance(
    p: _Piece, cutters: list[Cutter], k: IntArray, x: Array, y: Array, top: float
) -> Array:
    """Distance of (x, y) from what piece k cuts at the height `top`; negative inside it."""
    out = np.full(len(k), np.inf)
    level, slope = _level(p, k)
    kl = k[level]
    height = top - np.minimum(p.z0, p.z1)[kl]
    reach = _by_cutter(cutters, p.cutter[kl], height, "reach")
    out[level] = _level_distance(p, kl, x[level], y[level]) - reach
    if len(slope):
        ks = k[slope]
        widest = np.array([c.radius for c in cutters])[p.cutter[ks]] + 2 * _EDGE_MOVES

        def low(t: Array) -> Array:
            z, d = _along(p, ks, x[slope], y[slope], t)
            return d - _by_cutter(cutters, p.cutter[ks], top - z, "reach")

        out[slope] = _lowest(low, p, ks, x[slope], y[slope], widest)
    return out


def _level(p: _Piece, k: IntArray) -> tuple[IntArray, IntArray]:
    """Split pairs into level pieces (or plunges, whose lowest point counts) and sloping ones."""
    same = (p.x0[k] == p.x1[k]) & (p.y0[k] == p.y1[k])
    level = (p.z0[k] == p.z1[k]) | same
    return np.flatnonzero(level), np.flatnonzero(~level)


def _level_distance(p: _Piece, k: IntArray, x: Array, y: Array) -> Array:
    dx, dy = p.x1[k] - p.x0[k], p.y1[k] - p.y0[k]
    square = dx * dx + dy * dy
    t = ((x - p.x0[k]) * dx + (y - p.y0[k]) * dy) / np.where(square > 0, square, 1.0)
    t = np.clip(t, 0.0, 1.0)
    out = np.hypot(x - p.x0[k] - t * dx, y - p.y0[k] - t * dy)
    arc = np.flatnonzero(p.radius[k] > 0)
    if len(arc):
        a = k[arc]
        rx, ry = x[arc] - p.cx[a], y[arc] - p.cy[a]
        turn = np.sign(p.sweep[a]) * (np.arctan2(ry, rx) - p.angle[a])
        within = np.mod(turn, 2 * math.pi) <= np.abs(p.sweep[a])
        ends = np.minimum(
            np.hypot(x[arc] - p.x0[a], y[arc] - p.y0[a]),
            np.hypot(x[arc] - p.x1[a], y[arc] - p.y1[a]),
        )
        out[arc] = np.where(within, np.abs(np.hypot(rx, ry) - p.radius[a]), ends)
    return out


def _along(p: _Piece, k: IntArray, x: Array, y: Array, t: Array) -> tuple[Array, Array]:
    """Height of the tip and distance from (x, y) at shares t (pairs, m) of sloping pieces."""
    px = p.x0[k][:, None] + t * (p.x1[k] - p.x0[k])[:, None]
    py = p.y0[k][:, None] + t * (p.y1[k] - p.y0[k])[:, None]
    z = p.z0[k][:, None] + t * (p.z1[k] - p.z0[k])[:, None]
    return z, np.hypot(x[:, None] - px, y[:, None] - py)


def _lowest(low: Any, p: _Piece, k: IntArray, x: Array, y: Array, reach: Array) -> Array:
    """Least value of a convex function along sloping pieces, where they pass within reach."""
    dx, dy = p.x1[k] - p.x0[k], p.y1[k] - p.y0[k]
    length = np.hypot(dx, dy)
    nearest = ((x - p.x0[k]) * dx + (y - p.y0[k]) * dy) / length**2
    off = np.abs((x - p.x0[k]) * dy - (y - p.y0[k]) * dx) / length
    # A touch inside the rim, so that rounding does not put the ends outside the cutter.
    half = np.sqrt(np.maximum(np.minimum(reach, 1e6) ** 2 - off**2, 0.0)) / length * (1 - 1e-9)
    t0, t1 = np.clip(nearest - half, 0, 1), np.clip(nearest + half, 0, 1)
    t = t0[:, None] + np.linspace(0, 1, _ALONG) * (t1 - t0)[:, None]
    values = np.concatenate([low(t), low(np.clip(nearest, 0, 1)[:, None])], axis=1)
    best = values.min(axis=1)
    k0 = np.clip(values[:, :_ALONG].argmin(axis=1), 1, _ALONG - 2)
    at = np.arange(len(t))
    a, b, c = values[at, k0 - 1], values[at, k0], values[at, k0 + 1]
    with np.errstate(invalid="ignore", divide="ignore"):
        bend = a - 2 * b + c
        step = np.where(np.isfinite(bend) & (bend > 0), 0.5 * (a - c) / bend, 0.0)
    refined = np.clip(t[at, k0] + step * (t1 - t0) / (_ALONG - 1), t0, t1)
    least: Array = np.minimum(best, low(refined[:, None])[:, 0])
    return least


def _by_cutter(cutters: list[Cutter], which: IntArray, values: Array, what: str) -> Array:
    """Apply each pair's own cutter: `what` is "height" or "reach"."""
    out = np.empty_like(values)
    for number in np.unique(which).tolist():
        mine = which == number
        function = cutters[number].height if what == "height" else cutters[number].reach
        out[mine] = function(values[mine])
    return out
