"""How near the bit comes to the clamps, and how far it must stick out: for the set-up sheet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dryrun.job.model import Clamp, Job
from dryrun.outcome import StageOutcome
from dryrun.report.html_path import GAP_POINT, stage_route

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class StickOut:
    """Least stick-out of a bit, mm, and what asks for it: "" the depth, or a clamp's name."""

    least: float
    clearance: float
    clamp: str = ""


@dataclass(frozen=True, slots=True)
class Room:
    """How far the cutter stays from the nearest clamp while it is lower than that clamp, mm."""

    distance: float
    clamp: str


def least_stickout(job: Job, stage: StageOutcome) -> StickOut | None:
    """Return how far the bit must stick out of the collet nut; None without blank or cuts.

    At its lowest the nut must stay the safe height above the blank, and above a clamp wherever it
    passes over one. The nut is taken as the widest disc of the declared holder.
    """
    if job.stock is None or stage.lowest is None:
        return None
    clearance = job.machine.safe_height if job.machine is not None else 2.0
    best = StickOut(max(0.0, job.stock.top - stage.lowest) + clearance, clearance)
    holder = job.machine.holder if job.machine is not None else ()
    radius = max((disc.diameter / 2 for disc in holder), default=0.0)
    starts, ends = _segments(stage)
    if not radius or not len(starts):
        return best
    low = np.minimum(starts[:, 2], ends[:, 2])
    for clamp in job.clamps or ():
        over = distance_to_box(starts, ends, clamp) < radius
        if over.any():
            least = job.stock.top + clamp.height + clearance - float(low[over].min())
            if least > best.least:
                best = StickOut(least, clearance, clamp.name)
    return best


def room_to_clamps(job: Job, stage: StageOutcome) -> Room | None:
    """Return the least distance between the cutting edge and a clamp's side; None nothing to meet.

    Negative when they meet. Moves above a clamp's top do not count.
    """
    bit = stage.stage.bit
    if job.stock is None or bit is None:
        return None
    starts, ends = _segments(stage)
    low = np.minimum(starts[:, 2], ends[:, 2])
    found = []
    for clamp in job.clamps or ():
        below = low < job.stock.top + clamp.height
        if below.any():
            distance = distance_to_box(starts[below], ends[below], clamp).min() - bit.radius
            found.append(Room(float(distance), clamp.name))
    return min(found, key=lambda room: room.distance, default=None)


def _segments(stage: StageOutcome) -> tuple[Floats, Floats]:
    """Return the known straight pieces of a stage's path, arcs as chords, (n, 3) each."""
    way = stage_route(stage.motion, stage.time.row_seconds)
    joined = np.flatnonzero(way.kind[1:] != GAP_POINT) + 1
    return way.place[joined - 1], way.place[joined]


def distance_to_box(starts: Floats, ends: Floats, clamp: Clamp) -> Floats:
    """Return the distance from above between segments (n, 3) and a clamp's outline, mm, (n,)."""
    low, high = np.array(clamp.low), np.array(clamp.high)
    a, b = starts[:, :2], ends[:, :2]
    distance = np.minimum(_point_to_box(a, low, high), _point_to_box(b, low, high))
    for corner in ((low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1])):
        distance = np.minimum(distance, _point_to_segment(np.array(corner), a, b))
    distance[_crosses(a, b, low, high)] = 0.0
    return distance


def _point_to_box(place: Floats, low: Floats, high: Floats) -> Floats:
    beyond = np.maximum(np.maximum(low - place, place - high), 0.0)
    distance: Floats = np.hypot(beyond[:, 0], beyond[:, 1])
    return distance


def _point_to_segment(place: Floats, a: Floats, b: Floats) -> Floats:
    step = b - a
    square = (step * step).sum(axis=1)
    part = ((place - a) * step).sum(axis=1) / np.where(square > 0.0, square, 1.0)
    nearest = a + np.clip(part, 0.0, 1.0)[:, None] * step
    distance: Floats = np.hypot(*(place - nearest).T)
    return distance


def _crosses(a: Floats, b: Floats, low: Floats, high: Floats) -> NDArray[np.bool_]:
    """Say which segments have a point inside the box: the slab test, axis by axis."""
    enter, leave = np.zeros(len(a)), np.ones(len(a))
    outside = np.zeros(len(a), bool)
    for axis in range(2):
        step = b[:, axis] - a[:, axis]
        still = step == 0.0
        outside |= still & ((a[:, axis] < low[axis]) | (a[:, axis] > high[axis]))
        safe = np.where(still, 1.0, step)
        first, last = (low[axis] - a[:, axis]) / safe, (high[axis] - a[:, axis]) / safe
        enter = np.where(still, enter, np.maximum(enter, np.minimum(first, last)))
        leave = np.where(still, leave, np.minimum(leave, np.maximum(first, last)))
    inside: NDArray[np.bool_] = ~outside & (enter <= leave)
    return inside
