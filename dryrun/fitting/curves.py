"""Rounds in the path: arcs, and chains of chords that stand for arcs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.fitting.strokes import Floats, Ints, Strokes
from dryrun.fitting.walls import Round, ground_of, sides_of

#: Radii looked for, mm. Less sweep than this is a wave, rad.
RANGE: Final = (0.05, 100.0)

#: Rounds wider than this are the shape's own, unless they are circles or halves of them, rad.
WIDE: Final = 32.0
WHOLE: Final = 2.9
LEAST_SWEEP: Final = 0.4

#: An arc of less than this angle at either end of a chain of at least so many rows leads in, rad.
LEAD_SWEEP: Final = 2.5
LEAD_ROWS: Final = 3

#: Arcs whose centres and radii differ by less are of one circle, mm; a whole turn, rad.
SAME_CIRCLE: Final = 0.006
WHOLE_TURN: Final = 2 * np.pi + 0.05

#: A chain of chords is a round from so many turns of like curvature on.
FEWEST_TURNS: Final = 4
LIKE: Final = 0.12
SHARPEST: Final = np.radians(40.0)
MOST_RUNS: Final = 60
MOST_CURVES: Final = 6

#: Chords shorter than this, mm, are taken together up to it or to a turn of this much, rad: the
#: last digit of their ends would turn them more than the round does.
SHORTEST_CHORD: Final = 0.6
LEAST_TURN: Final = 0.2


@dataclass(frozen=True, slots=True)
class Curve:
    """Rounds of one radius.

    Attributes
    ----------
    radius : mm
    count : how many
    sweep, most : usual and widest angle, rad
    spread : how well the radius is known, mm
    within, beyond : whether material may stand at the centre, and beyond the round, see `sides_of`
    """

    radius: float
    count: int
    sweep: float
    spread: float
    within: bool = True
    beyond: bool = True
    most: float = 0.0


def curves_of(strokes: Strokes, pitch: float | None = None) -> tuple[Curve, ...]:
    """Return the radii of the rounds in a path, the most frequent first.

    Parameters
    ----------
    strokes : Strokes
        Level path.
    pitch : float, optional
        Distance of the passes that clear an area, mm.
    """
    if not len(strokes):
        return ()
    found = [f for f in rounds_of(strokes) if RANGE[0] <= f.radius <= RANGE[1]]
    merged: list[list[Round]] = []
    for item in sorted(found, key=lambda f: f.radius):
        slack = max(0.004, item.spread, 0.002 * item.radius)
        if merged and item.radius - merged[-1][-1].radius <= slack:
            merged[-1].append(item)
        else:
            merged.append([item])
    groups = [(_curve(group), group) for group in merged]
    groups = [(c, g) for c, g in groups if c.sweep > (LEAST_SWEEP if c.radius <= WIDE else WHOLE)]
    # The widest may follow a wall, so it is kept in any case.
    groups.sort(key=lambda g: (-g[0].count, g[0].radius))
    widest = max((c for c, _ in groups), key=lambda c: c.radius, default=None)
    kept = [(c, g) for n, (c, g) in enumerate(groups) if n < MOST_CURVES or c is widest]
    ground = ground_of(strokes)
    sides = [sides_of(ground, g, pitch) for _, g in kept]
    return tuple(
        replace(c, within=within, beyond=beyond)
        for (c, _), (within, beyond) in zip(kept, sides, strict=True)
    )


def rounds_of(strokes: Strokes) -> list[Round]:
    """Return the rounds of a path: arcs, and chains of chords that stand for arcs."""
    return _arcs(strokes) + _chorded(strokes) if len(strokes) else []


def _curve(group: list[Round]) -> Curve:
    radius = float(np.median([m.radius for m in group]))
    sweep = float(np.median([m.sweep for m in group]))
    spread = float(np.median([m.spread for m in group]))
    return Curve(radius, len(group), sweep, spread, most=max(m.sweep for m in group))


def _arcs(strokes: Strokes) -> list[Round]:
    """Return each row that is an arc, but for leads in and out."""
    arc = np.isfinite(strokes.arc_radius) & ~_leads(strokes)
    if not arc.any():
        return []
    arcs = strokes.chosen(arc)
    rows, first, count = np.unique(arcs.row, return_index=True, return_counts=True)
    radius = arcs.arc_radius[first]
    length = np.bincount(np.searchsorted(rows, arcs.row), arcs.run)
    sweep = length / np.maximum(radius, 1e-9)
    # The chord at the middle of an arc: its centre lies square to it, on the side it turns to.
    at = first + count // 2
    a, b, c = arcs.start[first, :2], arcs.start[at, :2], arcs.end[at, :2]
    way = c - b
    left = np.column_stack([-way[:, 1], way[:, 0]]) / np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    turn = np.sign(_cross(b - a, way))
    middle = (b + c) / 2
    away = np.sqrt(np.maximum(radius**2 - (way * way).sum(axis=1) / 4, 0.0))
    centre = middle + left * (turn * away)[:, None]
    circle = np.column_stack([centre, radius, turn, arcs.chain[first]])
    rounds = [
        Round(float(r), float(s), 0.004, (float(o[0]), float(o[1])), (float(p[0]), float(p[1])), z)
        for r, s, o, p, z in zip(radius, sweep, centre, middle, arcs.end[first, 2], strict=True)
    ]
    return _joined(rounds, rows, circle)


def _joined(rounds: list[Round], rows: Ints, circle: Floats) -> list[Round]:
    """Take arcs of one circle that go on from each other for one round, up to a whole turn."""
    found: list[Round] = []
    for n, one in enumerate(rounds):
        goes_on = n > 0 and rows[n] == rows[n - 1] + 1
        goes_on = goes_on and float(np.abs(circle[n] - circle[n - 1]).max()) < SAME_CIRCLE
        if goes_on and found[-1].sweep + one.sweep < WHOLE_TURN:
            found[-1] = replace(found[-1], sweep=found[-1].sweep + one.sweep, z=one.z)
        else:
            found.append(one)
    return found


def _cross(a: Floats, b: Floats) -> Floats:
    found: Floats = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return found


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


def _chorded(strokes: Strokes) -> list[Round]:
    """Return runs of short lines that turn evenly."""
    strokes = _lengthened(strokes)
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
        radius, spread, centre = _circle(points)
        if np.isfinite(radius) and spread < 0.02 * radius + 0.01:
            # The first and the last chord turn by half from and to what they touch.
            joints, (x, y) = e - b + 1, points[len(points) // 2]
            sweep = float(np.abs(turn[b : e + 1]).sum()) * (joints + 1) / joints
            z = float(strokes.end[b, 2])
            found.append(Round(radius, sweep, max(0.004, spread), centre, (float(x), float(y)), z))
    return found


def _lengthened(strokes: Strokes) -> Strokes:
    """Take short chords that go on from each other together, so that their turns can be told."""
    if len(strokes) < 2:
        return strokes
    run, heading = strokes.run, np.arctan2(strokes.step[:, 1], strokes.step[:, 0])
    short = ~np.isfinite(strokes.arc_radius) & (run < SHORTEST_CHORD)
    on = short[1:] & short[:-1] & (np.diff(strokes.chain) == 0)
    on &= np.abs(strokes.start[1:] - strokes.end[:-1]).max(axis=1) < 1e-6
    first = np.concatenate([[True], ~on])
    turn = np.abs((np.diff(heading, prepend=heading[0]) + np.pi) % (2 * np.pi) - np.pi)
    number = np.cumsum(first) - 1
    # One measure of both, so that no short rests come about between two marks.
    share = np.maximum(run / SHORTEST_CHORD, np.where(first, 0.0, turn) / LEAST_TURN)
    gone = np.cumsum(share) - share
    marks = np.stack([number, gone - gone[np.flatnonzero(first)[number]]]) // 1.0
    begin = np.flatnonzero(np.append(True, (np.diff(marks, axis=1) != 0).any(axis=0)))
    last = np.append(begin[1:], len(strokes)) - 1
    taken = strokes.chosen(begin)
    return replace(taken, end=strokes.end[last])


def _circle(points: Floats) -> tuple[float, float, tuple[float, float]]:
    """Fit a circle (least squares on x2 + y2, Kasa 1976, from memory): radius, spread, centre."""
    middle = points.mean(axis=0)
    x, y = (points - middle).T
    system = np.column_stack([x, y, np.ones_like(x)])
    solution, _, rank, _ = np.linalg.lstsq(system, x * x + y * y, rcond=None)
    if rank < 3:
        return np.inf, np.inf, (np.inf, np.inf)
    cx, cy = solution[0] / 2, solution[1] / 2
    radius = float(np.sqrt(max(solution[2] + cx * cx + cy * cy, 0.0)))
    off = np.hypot(x - cx, y - cy) - radius
    centre = float(middle[0] + cx), float(middle[1] + cy)
    return radius, float(np.sqrt((off * off).mean())), centre
