"""Rounds in the path: arcs, and chains of chords that stand for arcs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.fitting.strokes import Floats, Strokes

#: Radii looked for, mm. Less sweep than this is a wave, rad.
RANGE: Final = (0.05, 100.0)

#: Rounds wider than this are the shape's own, unless they are circles or halves of them, rad.
WIDE: Final = 32.0
WHOLE: Final = 2.9
LEAST_SWEEP: Final = 0.4

#: An arc of less than this angle at either end of a chain of at least so many rows leads in, rad.
LEAD_SWEEP: Final = 2.5
LEAD_ROWS: Final = 3

#: A chain of chords is a round from so many turns of like curvature on.
FEWEST_TURNS: Final = 4
LIKE: Final = 0.12
SHARPEST: Final = np.radians(40.0)
MOST_RUNS: Final = 60
MOST_CURVES: Final = 6


@dataclass(frozen=True, slots=True)
class Curve:
    """Rounds of one radius.

    Attributes
    ----------
    radius : mm
    count : how many
    sweep : usual angle, rad
    spread : how well the radius is known, mm
    """

    radius: float
    count: int
    sweep: float
    spread: float


def curves_of(strokes: Strokes) -> tuple[Curve, ...]:
    """Return the radii of the rounds in a path, the most frequent first."""
    if not len(strokes):
        return ()
    found = _arcs(strokes) + _chorded(strokes)
    found = [f for f in found if RANGE[0] <= f[0] <= RANGE[1]]
    merged: list[list[tuple[float, float, float]]] = []
    for item in sorted(found):
        if merged and item[0] - merged[-1][-1][0] <= max(0.004, item[2], 0.002 * item[0]):
            merged[-1].append(item)
        else:
            merged.append([item])
    curves = [
        Curve(
            float(np.median([m[0] for m in group])), len(group),
            float(np.median([m[1] for m in group])), float(np.median([m[2] for m in group])),
        )
        for group in merged
    ]  # fmt: skip
    curves = [c for c in curves if c.sweep > (LEAST_SWEEP if c.radius <= WIDE else WHOLE)]
    # The widest may follow a wall, so it is kept in any case.
    curves.sort(key=lambda c: (-c.count, c.radius))
    widest = max(curves, key=lambda c: c.radius, default=None)
    return tuple(c for n, c in enumerate(curves) if n < MOST_CURVES or c is widest)


def _arcs(strokes: Strokes) -> list[tuple[float, float, float]]:
    """Return (radius, sweep, spread) of each row that is an arc, but for leads in and out."""
    arc = np.isfinite(strokes.arc_radius) & ~_leads(strokes)
    if not arc.any():
        return []
    rows, first = np.unique(strokes.row[arc], return_index=True)
    radius = strokes.arc_radius[arc][first]
    length = np.bincount(np.searchsorted(rows, strokes.row[arc]), strokes.run[arc])
    sweep = length / np.maximum(radius, 1e-9)
    return [(float(r), float(s), 0.004) for r, s in zip(radius, sweep, strict=True)]


def _leads(strokes: Strokes) -> NDArray[np.bool_]:
    """Tell the pieces of short arcs that chains begin or end with: they only lead to the work.

    A chain that ends where it began is a ring, which may begin with a corner.
    """
    last = np.append(np.flatnonzero(np.diff(strokes.chain)), len(strokes) - 1)
    first = np.append(0, last[:-1] + 1)
    new_row = (np.diff(strokes.row, prepend=-1) != 0).astype(np.int64)
    many = np.add.reduceat(new_row, first) >= LEAD_ROWS
    ring = np.abs(strokes.start[first, :2] - strokes.end[last, :2]).max(axis=1) < 2e-3
    ends = np.concatenate([first[many & ~ring], last[many & ~ring]])
    mine = np.isin(strokes.row, strokes.row[ends]) & np.isfinite(strokes.arc_radius)
    if not mine.any():
        return mine
    found, begin = np.unique(strokes.row[mine], return_index=True)
    length = np.bincount(np.searchsorted(found, strokes.row[mine]), strokes.run[mine])
    short = found[length < LEAD_SWEEP * strokes.arc_radius[mine][begin]]
    return np.isin(strokes.row, short)


def _chorded(strokes: Strokes) -> list[tuple[float, float, float]]:
    """Return (radius, sweep, spread) of runs of short lines that turn evenly."""
    run, step = strokes.run, strokes.step
    line = ~np.isfinite(strokes.arc_radius) & (run > 1e-4)
    if len(strokes) < FEWEST_TURNS + 1:
        return []
    heading = np.arctan2(step[:, 1], step[:, 0])
    turn = np.diff(heading)
    turn = (turn + np.pi) % (2 * np.pi) - np.pi
    joined = line[1:] & line[:-1] & (np.diff(strokes.chain) == 0)
    joined &= np.abs(strokes.start[1:] - strokes.end[:-1]).max(axis=1) < 1e-6
    bend = 2 * turn / np.maximum(run[1:] + run[:-1], 1e-9)
    round_ = joined & (np.abs(turn) < SHARPEST) & (np.abs(bend) > 1 / RANGE[1])
    alike = (
        round_[1:] & round_[:-1]
        & (np.abs(bend[1:] - bend[:-1]) <= LIKE * np.abs(bend[1:] + bend[:-1]) / 2)
    )  # fmt: skip
    edge = np.diff(np.concatenate([[0], alike.astype(np.int8), [0]]))
    begins, ends = np.flatnonzero(edge == 1), np.flatnonzero(edge == -1)
    long = np.flatnonzero(ends - begins >= FEWEST_TURNS - 1)
    long = long[np.argsort(begins[long] - ends[long], kind="stable")][:MOST_RUNS]
    found = []
    for b, e in zip(begins[long], ends[long], strict=True):
        points = np.vstack([strokes.start[b : e + 2, :2], strokes.end[e + 1 : e + 2, :2]])
        radius, spread = _circle(points)
        if np.isfinite(radius) and spread < 0.02 * radius + 0.01:
            found.append((radius, float(np.abs(turn[b : e + 1]).sum()), max(0.004, spread)))
    return found


def _circle(points: Floats) -> tuple[float, float]:
    """Fit a circle (least squares on x2 + y2, Kasa 1976, from memory); radius and its spread."""
    x, y = (points - points.mean(axis=0)).T
    system = np.column_stack([x, y, np.ones_like(x)])
    solution, _, rank, _ = np.linalg.lstsq(system, x * x + y * y, rcond=None)
    if rank < 3:
        return np.inf, np.inf
    cx, cy = solution[0] / 2, solution[1] / 2
    radius = float(np.sqrt(max(solution[2] + cx * cx + cy * cy, 0.0)))
    off = np.hypot(x - cx, y - cy) - radius
    return radius, float(np.sqrt((off * off).mean()))
