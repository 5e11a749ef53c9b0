"""Where pieces of the cutter's path cut: heights, distances and edges, on plain arrays."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.gauge.cutter import Array, Cutter

#: Shares along a sloping piece at which its lowest point is looked for, first and then closer.
_COARSE: Final = np.linspace(0.0, 1.0, 9)
_FINE: Final = np.linspace(0.0, 1.0, 7)
#: Places across which a missed edge of a groove is looked for.
_ACROSS: Final = 31
#: How far an edge may move by a small change, mm.
EDGE_MOVES: Final = 1.5

IntArray = NDArray[np.int64]
Function = Callable[[Array], Array]


@dataclass(frozen=True, slots=True)
class Moved:
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


def foot_places(x: float, y: float, diameter: float) -> tuple[Array, Array]:
    """Places under a round foot: the centre first, then rings."""
    if diameter <= 0:
        return np.array([x]), np.array([y])
    px, py = [x], [y]
    for share, count in ((0.35, 6), (0.7, 12), (1.0, 24)):
        turn = np.arange(count) * (2 * math.pi / count)
        px += (x + share * diameter / 2 * np.cos(turn)).tolist()
        py += (y + share * diameter / 2 * np.sin(turn)).tolist()
    return np.array(px), np.array(py)


def edge(clearance: Function, base: Array, moves: float) -> Array:
    """Find where the clearance turns positive near `base`, going outward from the groove.

    The clearance grows about as fast as the distance, so a few secant steps do; the rare edge
    they miss is looked for on a grid.
    """
    a = base
    ga = clearance(a[:, None])[:, 0]
    gone = np.isinf(ga)
    ga = np.where(gone, 0.0, ga)
    slope = np.ones_like(a)
    for _ in range(5):
        b = np.clip(a - ga / slope, np.maximum(base - moves, 0.0), base + moves)
        gb = np.where(gone, 0.0, clearance(b[:, None])[:, 0])
        step = b - a
        moved = np.abs(step) > 1e-12
        slope = np.where(moved, (gb - ga) / np.where(moved, step, 1.0), slope)
        slope = np.clip(np.where(np.isfinite(slope), slope, 1.0), 0.3, 3.0)
        a, ga = b, np.where(np.isfinite(gb), gb, 0.0)
        if bool((np.abs(ga) < 1e-7).all()):
            break
    out = np.where(gone, 0.0, a)
    missed = (np.abs(ga) > 1e-5) & ~gone
    if missed.any():
        out[missed] = _edge_on_grid(clearance, base, moves)[missed]
    return out


def _edge_on_grid(clearance: Function, base: Array, moves: float) -> Array:
    """Find the first place from inside where the clearance turns positive, by false position."""
    low = np.maximum(base - moves, 0.0)
    grid = low[:, None] + np.linspace(0, 1, _ACROSS) * (base + moves - low)[:, None]
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


def swept(p: Moved, cutters: list[Cutter], k: IntArray, x: Array, y: Array) -> Array:
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


def clearance(
    p: Moved, cutters: list[Cutter], k: IntArray, x: Array, y: Array, top: float
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
        widest = np.array([c.radius for c in cutters])[p.cutter[ks]] + 2 * EDGE_MOVES

        def low(t: Array) -> Array:
            z, d = _along(p, ks, x[slope], y[slope], t)
            return d - _by_cutter(cutters, p.cutter[ks], top - z, "reach")

        out[slope] = _lowest(low, p, ks, x[slope], y[slope], widest)
    return out


def _level(p: Moved, k: IntArray) -> tuple[IntArray, IntArray]:
    """Split pairs into level pieces (or plunges, whose lowest point counts) and sloping ones."""
    same = (p.x0[k] == p.x1[k]) & (p.y0[k] == p.y1[k])
    level = (p.z0[k] == p.z1[k]) | same
    return np.flatnonzero(level), np.flatnonzero(~level)


def _level_distance(p: Moved, k: IntArray, x: Array, y: Array) -> Array:
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


def _along(p: Moved, k: IntArray, x: Array, y: Array, t: Array) -> tuple[Array, Array]:
    """Height of the tip and distance from (x, y) at shares t (pairs, m) of sloping pieces."""
    px = p.x0[k][:, None] + t * (p.x1[k] - p.x0[k])[:, None]
    py = p.y0[k][:, None] + t * (p.y1[k] - p.y0[k])[:, None]
    z = p.z0[k][:, None] + t * (p.z1[k] - p.z0[k])[:, None]
    return z, np.hypot(x[:, None] - px, y[:, None] - py)


def _lowest(low: Function, p: Moved, k: IntArray, x: Array, y: Array, reach: Array) -> Array:
    """Least value of a convex function along sloping pieces, where they pass within reach."""
    dx, dy = p.x1[k] - p.x0[k], p.y1[k] - p.y0[k]
    length = np.hypot(dx, dy)
    nearest = ((x - p.x0[k]) * dx + (y - p.y0[k]) * dy) / length**2
    off = np.abs((x - p.x0[k]) * dy - (y - p.y0[k]) * dx) / length
    # A touch inside the rim, so that rounding does not put the ends outside the cutter.
    half = np.sqrt(np.maximum(np.minimum(reach, 1e6) ** 2 - off**2, 0.0)) / length * (1 - 1e-9)
    t0, t1 = np.clip(nearest - half, 0, 1), np.clip(nearest + half, 0, 1)
    t = t0[:, None] + _COARSE * (t1 - t0)[:, None]
    values = low(np.concatenate([t, np.clip(nearest, 0, 1)[:, None]], axis=1))
    best = values.min(axis=1)
    at = np.arange(len(t))
    k0 = values[:, :-1].argmin(axis=1)
    t0, t1 = t[at, np.maximum(k0 - 1, 0)], t[at, np.minimum(k0 + 1, len(_COARSE) - 1)]
    t = t0[:, None] + _FINE * (t1 - t0)[:, None]
    values = low(t)
    best = np.minimum(best, values.min(axis=1))
    k0 = np.clip(values.argmin(axis=1), 1, len(_FINE) - 2)
    a, b, c = values[at, k0 - 1], values[at, k0], values[at, k0 + 1]
    with np.errstate(invalid="ignore", divide="ignore"):
        bend = a - 2 * b + c
        step = np.where(np.isfinite(bend) & (bend > 0), 0.5 * (a - c) / bend, 0.0)
    refined = np.clip(t[at, k0] + step * (t1 - t0) / (len(_FINE) - 1), t0, t1)
    least: Array = np.minimum(best, low(refined[:, None])[:, 0])
    return least


def _by_cutter(cutters: list[Cutter], which: IntArray, values: Array, what: str) -> Array:
    """Apply each pair's own cutter: `what` is "height" or "reach"."""
    out = np.empty_like(values)
    for number in range(len(cutters)):
        mine = which == number
        if not mine.any():
            continue
        function = cutters[number].height if what == "height" else cutters[number].reach
        if mine.all():
            return function(values)
        out[mine] = function(values[mine])
    return out
