"""Straight edges of level path: places, sizes, gaps, leads, and the unit they are round in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from dryrun.fitting.strokes import Floats, Strokes

#: Outlines with more slanted sides are curves.
MOST_SIDES: Final = 60

#: The next pass of an area is as far away as the others, to this part, mm and part.
NEXT_PASS: Final = 0.05

#: A chain with fewer pieces has no leads.
LEAST_PIECES: Final = 4

#: Cuts with a path nearer than this are one, mm.
NARROWEST_GAP: Final = 3.0

#: Edges looked at: the longest chains, and of those places that differ.
MOST_CHAINS: Final = 8
MOST_EDGES: Final = 12
SHORTEST_EDGE: Final = 1.5

#: Pieces gone to and fro up to this length are spurs, mm, and so many of them are no accident.
LONGEST_SPUR: Final = 8.0
FEWEST_SPURS: Final = 3

#: Steps that tell which unit a program was drawn in, mm, and how near places are to them.
DRAWN: Final[dict[Literal["mm", "in"], tuple[float, ...]]] = {
    "mm": (0.5,), "in": (25.4 / 16, 25.4 / 20),
}  # fmt: skip
DRAWN_NEAR: Final = 0.004

#: Places in whole hundredths, of which more than this part is no multiple of five of them, were
#: rounded to them: what that adds to the usual rounding, mm. So many places are looked at.
ODD: Final = 0.4
COARSE: Final = 0.004
FEWEST_PLACES: Final = 6
MOST_PLACES: Final = 4000


@dataclass(frozen=True, slots=True)
class Edge:
    """A straight outer edge of a chain's path along an axis: where, and which way is out."""

    axis: int
    place: float
    out: int


def edges_of(
    level: Strokes, pitch: float | None = None
) -> tuple[tuple[Edge, ...], tuple[float, ...]]:
    """Return outer edges along X and Y of the longest chains, and the sizes between them.

    Parameters
    ----------
    level : Strokes
        Level path.
    pitch : float, optional
        Distance of the passes that clear an area, mm: of them only the outermost has an edge.
    """
    if not len(level):
        return (), ()
    edges: dict[tuple[int, float, int], Edge] = {}
    sizes: dict[float, float] = {}
    key = level.chain * 4096 + np.round((level.top - level.end[:, 2]) * 20).astype(np.int64)
    _, index = np.unique(key, return_inverse=True)
    length = np.bincount(index.ravel(), level.run)
    step, run = np.abs(level.step), level.run
    for chain in np.argsort(length)[::-1][:MOST_CHAINS]:
        mine = index.ravel() == chain
        for axis in (0, 1):
            places = level.start[mine, axis], level.end[mine, axis]
            low, high = min(p.min() for p in places), max(p.max() for p in places)
            straight = mine & (step[:, axis] < 1e-6) & (run > SHORTEST_EDGE)
            here = level.start[straight, axis]
            ends = [(low, -1), (high, 1)]
            held = [bool((np.abs(here - place) < 1e-3).any()) for place, _ in ends]
            for (place, out), is_held in zip(ends, held, strict=True):
                if is_held:
                    edges.setdefault((axis, round(place, 3), out), Edge(axis, float(place), out))
            if all(held) and high - low > 0.1:
                sizes.setdefault(round(high - low, 3), float(high - low))
        for wide in _slanted_sizes(level.chosen(mine)):
            sizes.setdefault(round(wide, 3), wide)
    found = tuple(edges.values()), tuple(sizes.values())
    if pitch is not None:
        found = outermost(*found, pitch)
    return found[0][:MOST_EDGES], found[1][:4]


def outermost(
    edges: tuple[Edge, ...], sizes: tuple[float, ...], pitch: float
) -> tuple[tuple[Edge, ...], tuple[float, ...]]:
    """Leave out edges and sizes of passes beyond which the next pass of an area runs."""
    walls = tuple(
        e for e in edges
        if not any(
            f.axis == e.axis and f.out == e.out and NEXT_PASS < (f.place - e.place) * e.out
            < (1 + NEXT_PASS) * pitch
            for f in edges
        )
    )  # fmt: skip
    whole = tuple(
        s for s in sizes if not any(abs(t - s - 2 * pitch) < NEXT_PASS * pitch for t in sizes)
    )
    return walls, whole


def _slanted_sizes(chain: Strokes) -> list[float]:
    """Return the widths between opposite parallel sides of a chain that are along no axis."""
    run, step = chain.run, chain.step
    slanted = (np.abs(step[:, :2]).min(axis=1) > 1e-3) & (run > 2 * SHORTEST_EDGE)
    sides = np.flatnonzero(slanted & ~np.isfinite(chain.arc_radius))
    if not 2 <= len(sides) <= MOST_SIDES:
        return []
    normal = np.column_stack([-step[sides, 1], step[sides, 0]]) / run[sides, None]
    found: list[float] = []
    for n in normal:
        across = np.concatenate([chain.start[:, :2], chain.end[:, :2]]) @ n
        parallel = np.abs(normal @ n) > 1 - 1e-7
        places = chain.start[sides[parallel], :2] @ n
        wide = float(np.ptp(places))
        if wide > 0.1 and wide > np.ptp(across) - 0.002:
            found.append(wide)
    return [v for k, v in enumerate(found) if all(abs(v - f) > 2e-3 for f in found[:k])]


def gaps_of(edges: tuple[Edge, ...]) -> tuple[float, ...]:
    """Return the distances from the path of one cut to that of the next parallel one."""
    found = []
    for axis in (0, 1):
        places = [e.place for e in edges if e.axis == axis and e.out > 0]
        facing = [e.place for e in edges if e.axis == axis and e.out < 0]
        for place in places:
            after = [f - place for f in facing if f - place > NARROWEST_GAP]
            if after:
                found.append(min(after))
    return tuple(found[:4])


def leads_of(level: Strokes) -> tuple[float, ...]:
    """Return the lengths of the first and last piece of level chains, the most frequent first."""
    if not len(level):
        return ()
    first = np.flatnonzero(np.diff(level.chain, prepend=-1))
    last = np.append(first[1:] - 1, len(level) - 1)
    long = last - first >= LEAST_PIECES - 1
    ends = np.concatenate([first[long], last[long]])
    ends = ends[~np.isfinite(level.arc_radius[ends]) & (level.run[ends] > 0.2)]
    values, count = np.unique(np.round(level.run[ends], 3), return_counts=True)
    return tuple(float(v) for v in values[np.argsort(-count, kind="stable")][:4])


def overruns_of(level: Strokes) -> tuple[float, ...]:
    """Return how far ends of level lines along an axis lie below zero, the most frequent first."""
    found: list[Floats] = []
    for axis in (0, 1):
        along = (np.abs(level.step[:, 1 - axis]) < 1e-6) & (level.run > SHORTEST_EDGE)
        low = np.minimum(level.start[along, axis], level.end[along, axis])
        found.append(-low[low < -0.2])
    values, count = np.unique(np.round(np.concatenate(found), 3), return_counts=True)
    return tuple(float(v) for v in values[np.argsort(-count, kind="stable")][:2])


def spurs_of(level: Strokes) -> tuple[float, ...]:
    """Return the lengths of short pieces that are gone to and fro at least a few times."""
    if len(level) < 2:
        return ()
    back = np.abs(level.end[1:] - level.start[:-1]).max(axis=1) < 2e-3
    back &= np.abs(level.start[1:] - level.end[:-1]).max(axis=1) < 2e-3
    length = level.run[:-1][back & (level.run[:-1] < LONGEST_SPUR)]
    values, count = np.unique(np.round(length, 2), return_counts=True)
    often = count >= FEWEST_SPURS
    exact = [float(np.median(length[np.abs(length - v) < 0.011])) for v in values[often][:3]]
    return tuple(exact)


def drawn_in(strokes: Strokes, unit: Literal["mm", "in"]) -> Literal["mm", "in"]:
    """Return the unit in which places and depths are round; the written one when neither is."""
    line = ~np.isfinite(strokes.arc_radius)
    ends = strokes.end[line]
    ends[:, 2] -= strokes.top
    places = np.unique(np.round(np.abs(ends), 3))[:4000]
    places = places[places > 0.1]
    near: dict[str, NDArray[np.bool_]] = {}
    for name, steps in DRAWN.items():
        miss = [np.abs(places - step * np.round(places / step)) for step in steps]
        near[name] = np.min(miss, axis=0) < DRAWN_NEAR
    other: Literal["mm", "in"] = "in" if unit == "mm" else "mm"
    for_it = int((near[other] & ~near[unit]).sum())
    against = int((near[unit] & ~near[other]).sum())
    chance = 0.04 * len(places)
    return other if for_it > 2 * against + 1 + 2 * chance else unit


def coarseness(strokes: Strokes) -> float:
    """Return how much more than usual places were rounded, mm: 0, or `COARSE` with two decimals.

    Places that are round because they were drawn so need no more slack than others.
    """
    ends = strokes.end[~np.isfinite(strokes.arc_radius), :2]
    places = np.unique(np.round(np.abs(ends), 4))[:MOST_PLACES]
    if len(places) < FEWEST_PLACES or (np.abs(places * 100 - np.round(places * 100)) > 1e-6).any():
        return 0.0
    odd = np.abs(places * 20 - np.round(places * 20)) > 1e-6
    return COARSE if odd.mean() > ODD else 0.0
