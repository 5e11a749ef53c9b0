"""From motion rows to pieces: parts of a path whose swept height has a closed form.

A straight row is one piece, taken from its lower end so that the way back gives the same digits.
Arcs about Z are one piece where a closed form exists: level ones of every shape, helices of every
shape but bull noses and forms. What is left (arcs about X or Y, those helices) becomes chords.

A chord lies off its arc by at most CHORD_SAGITTA: the height of the surface differs by that, times
the slope of the cutter where it touches.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from dryrun.motion import ARC as ARC_ROW
from dryrun.motion import RAPID, Motion
from dryrun.removal.facts import CHORD_SAGITTA
from dryrun.removal.ground import (
    ARC,
    ARC_DATA,
    DATA,
    HELIX,
    Pieces,
)
from dryrun.removal.lines import describe_lines, mark_joined, mark_onward
from dryrun.removal.parts import IN_ORDER, Parts
from dryrun.removal.profile import BALL, BULL, FORM, Profile
from dryrun.removal.rows import mark_known

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Path:
    """Straight parts and arcs about Z of some rows.

    lines : row numbers, starts and ends, (n,) (n, 3) (n, 3)
    arcs : row numbers, and centre x, y, start z, radius, start angle, sweep >= 0, rise per radian
    """

    line_row: Ints
    start: Floats
    end: Floats
    arc_row: Ints
    arc: Floats


def known(motion: Motion) -> NDArray[np.bool_]:
    """Rows that move between known places."""
    ends = np.empty(len(motion), np.bool_)
    mark_known(motion.start, motion.end, ends)
    arcs = motion.kind == ARC_ROW
    if arcs.any():
        ends &= ~arcs | np.isfinite(motion.centre.sum(axis=1) + motion.sweep)
    return motion.moving & ends


def path_of(motion: Motion, rates: Sequence[float] | None = None) -> Path:
    """Return the path of all rows whose places are known.

    `rates` are the greatest speeds of X, Y and Z where a rapid moves each axis at its own.
    """
    rows = known(motion)
    if rates is None and rows.all() and not (motion.kind == ARC_ROW).any():
        nothing = np.zeros(0, np.int64)
        return Path(np.arange(len(motion)), motion.start, motion.end, nothing, np.zeros((0, ARC_DATA)))
    bent = rows & (motion.kind == RAPID) & (rates is not None)
    about_z = rows & (motion.kind == ARC_ROW) & (motion.axis == 2)
    others = rows & (motion.kind == ARC_ROW) & (motion.axis != 2)
    plain = np.flatnonzero(rows & ~bent & ~about_z & ~others)
    parts = [(plain, motion.start[plain], motion.end[plain])]
    if rates is not None:
        parts.append(_bent(np.flatnonzero(bent), motion, rates))
    parts.append(_chords_of_rows(motion, np.flatnonzero(others)))
    row, start, end = (np.concatenate([part[i] for part in parts]) for i in range(3))
    order = np.argsort(row, kind="stable")
    arc_row = np.flatnonzero(about_z)
    return Path(row[order], start[order], end[order], arc_row, _arcs_about_z(motion, arc_row))


def pieces_of(
    path: Path, profile: Profile, top: float, tool: int = 0, parts: Parts = IN_ORDER
) -> Pieces:
    """Return the pieces of a path that bring a profile's tip below `top`."""
    level = path.arc[:, 6] == 0.0
    chorded = ~level & (profile.family in (BULL, FORM))
    row, start, end = path.line_row, path.start, path.end
    if chorded.any():
        more = chords_about_z(path.arc_row[chorded], path.arc[chorded])
        row = np.concatenate([row, more[0]])
        start, end = np.concatenate([start, more[1]]), np.concatenate([end, more[2]])
    arcs = path.arc[~chorded]
    lines = len(start)
    kind, data = np.empty(lines + len(arcs), np.int32), np.empty((lines + len(arcs), DATA))
    flip = np.empty(lines, np.bool_)

    def describe(first: int, after: int) -> None:
        part = slice(first, after)
        exact = profile.family == FORM
        describe_lines(start[part], end[part], exact, kind[part], flip[part], data[part])

    parts.run(lines, describe)
    lowest = data[:, 2]
    if len(arcs):
        kind[lines:] = np.where(level[~chorded] & (profile.family != FORM), ARC, HELIX)
        data[lines:, :ARC_DATA], data[lines:, ARC_DATA:] = arcs, 0.0
        row = np.concatenate([row, path.arc_row[~chorded]])
        lowest = lowest.copy()
        lowest[lines:] += np.minimum(arcs[:, 5] * arcs[:, 6], 0.0)
    in_order = not (row[1:] < row[:-1]).any()
    below = lowest < top
    order = np.flatnonzero(below) if in_order else np.argsort(row, kind="stable")
    if not in_order:
        order = order[below[order]]
    joined = np.zeros(len(order), np.int32)
    # what a disc touches is a fact of each row; and where a cutter is lower away from its axis, what
    # lies behind the place that joins two pieces may be cut by the second
    if tool == 0 and profile.rises:
        parts.run(len(order), partial(mark_joined, start, end, flip, order, joined))
    if tool == 0 and profile.family != BALL:
        mark_onward(start, end, flip, order, data)
    tools = np.full(len(order), tool, np.int32)
    if not in_order or len(order) < len(row):
        kind, row, data = kind[order], row[order], data[order]
    return Pieces(kind, row.astype(np.int32), tools, joined, data)


def join(parts: Sequence[Pieces]) -> Pieces:
    """Merge pieces in the order of their rows; of one row, those of earlier parts come first."""
    if len(parts) == 1:
        return parts[0]
    joined = [np.concatenate([part[i] for part in parts]) for i in range(5)]
    order = np.argsort(joined[1], kind="stable")
    return Pieces(*(np.ascontiguousarray(column[order]) for column in joined))


def keep(pieces: Pieces, chosen: NDArray[Any] | slice) -> Pieces:
    """Return the chosen pieces."""
    return Pieces(*(np.ascontiguousarray(column[chosen]) for column in pieces))


def _arcs_about_z(motion: Motion, rows: Ints) -> Floats:
    """Return the data of arcs about Z, all turned to run counter-clockwise."""
    start, end, centre = motion.start[rows], motion.end[rows], motion.centre[rows]
    sweep = motion.sweep[rows]
    radius = np.hypot(start[:, 0] - centre[:, 0], start[:, 1] - centre[:, 1])
    begin = np.arctan2(start[:, 1] - centre[:, 1], start[:, 0] - centre[:, 0])
    back = sweep < 0.0
    turn = np.abs(sweep)
    rise = (end[:, 2] - start[:, 2]) / np.where(turn > 0.0, turn, 1.0)
    data = np.zeros((len(rows), ARC_DATA))
    data[:, :2] = centre[:, :2]
    data[:, 2] = np.where(back, end[:, 2], start[:, 2])
    data[:, 3] = radius
    data[:, 4] = np.where(back, begin + sweep, begin)
    data[:, 5] = turn
    data[:, 6] = np.where(back, -rise, rise)
    return data


def chord_count(radius: Floats, sweep: Floats) -> Ints:
    """Chords for arcs so that none is off by more than CHORD_SAGITTA."""
    ratio = np.clip(1.0 - CHORD_SAGITTA / np.maximum(radius, CHORD_SAGITTA), -1.0, 1.0)
    return np.maximum(np.ceil(np.abs(sweep) / (2.0 * np.arccos(ratio))), 1).astype(np.int64)


def _spread(count: Ints) -> tuple[Ints, Floats, Floats]:
    """For parts 0..count-1 of each item: the item, and where its part begins and ends (0..1)."""
    item = np.repeat(np.arange(len(count)), count)
    part = np.arange(len(item)) - np.repeat(np.cumsum(count) - count, count)
    return item, part / count[item], (part + 1) / count[item]


def chords_about_z(row: Ints, arc: Floats) -> tuple[Ints, Floats, Floats]:
    """Chords of arcs about Z: rows, starts and ends."""
    item, begin, end = _spread(chord_count(arc[:, 3], arc[:, 5]))
    x, y, z, radius, first, sweep, rise = arc[item].T

    def at(share: Floats) -> Floats:
        angle = share * sweep
        return np.column_stack(
            [
                x + radius * np.cos(first + angle),
                y + radius * np.sin(first + angle),
                z + rise * angle,
            ]
        )

    return row[item], at(begin), at(end)


def _chords_of_rows(motion: Motion, rows: Ints) -> tuple[Ints, Floats, Floats]:
    """Chords of arcs about X and Y: rows, starts and ends."""
    if len(rows) == 0:
        return rows, np.zeros((0, 3)), np.zeros((0, 3))
    radius = motion.rows(rows).radii()
    item, begin, end = _spread(chord_count(radius, motion.sweep[rows]))
    return rows[item], *(arc_places(motion, rows[item], share) for share in (begin, end))


def arc_places(motion: Motion, rows: Ints, share: Floats) -> Floats:
    """Places of the tip on arcs about any axis, `share` (0..1) of the way along each row."""
    axis = motion.axis[rows].astype(np.int64)
    first, second = (axis + 1) % 3, (axis + 2) % 3
    n = np.arange(len(rows))
    start, end, centre = motion.start[rows], motion.end[rows], motion.centre[rows]
    across, up = start[n, first] - centre[n, first], start[n, second] - centre[n, second]
    angle = np.arctan2(up, across) + share * motion.sweep[rows]
    radius = np.hypot(across, up)
    places = np.empty((len(rows), 3))
    places[n, first] = centre[n, first] + radius * np.cos(angle)
    places[n, second] = centre[n, second] + radius * np.sin(angle)
    places[n, axis] = start[n, axis] + share * (end[n, axis] - start[n, axis])
    return places


def _bent(rows: Ints, motion: Motion, rates: Sequence[float]) -> tuple[Ints, Floats, Floats]:
    """Straight parts of rapids whose axes each run at their own rate until they are there."""
    start, end = motion.start[rows], motion.end[rows]
    step = end - start
    seconds = np.abs(step) / np.asarray(rates, np.float64)
    times = np.sort(np.concatenate([np.zeros((len(rows), 1)), seconds], axis=1), axis=1)
    parts = []
    for i in range(3):
        ends = []
        for t in (times[:, i : i + 1], times[:, i + 1 : i + 2]):
            share = np.minimum(t / np.where(seconds > 0.0, seconds, math.inf), 1.0)
            share = np.where((t >= seconds) & (t > 0.0), 1.0, share)
            ends.append(np.where(share >= 1.0, end, start + share * step))
        moves = (times[:, i + 1] > times[:, i]) | ((i == 2) & (times[:, 3] == 0.0))
        parts.append((rows[moves], ends[0][moves], ends[1][moves]))
    row, begin, stop = (np.concatenate([part[i] for part in parts]) for i in range(3))
    order = np.argsort(row, kind="stable")
    return cast(Ints, row[order]), begin[order], stop[order]
