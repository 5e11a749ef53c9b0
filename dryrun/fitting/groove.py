"""Grooves of varying depth: what slopes and forks of the path say about the angle of a vee bit.

A vee bit that carves a shape keeps its tip where the widest circle inside the shape has its
centre, as deep as the cone needs to be that wide: depth = radius / tan(half angle). Where
branches of such a path fork, the circle touches the outline once between each two neighbours, so
the angles between neighbouring branches are sums of half-angles that each branch's slope gives:

    cos(theta_i) = -tan(half angle) * (depth gained per mm along branch i)
    angle between neighbours i and i+1 = theta_i + theta_(i+1)

(elementary geometry of the medial axis; where an inner corner is touched, a triangle takes the
place of the cosine). Only the true angle makes all of them close.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from dryrun.fitting.strokes import Floats, Strokes

MOST_FORKS: Final = 60

#: Places closer than this are one, mm.
SAME_PLACE: Final = 0.02

#: Branches whose directions differ by less are one, rad.
SAME_WAY: Final = np.radians(3.0)


#: Level at the deepest for this part of the path: there is a limit to the depth.
LIMITED: Final = 0.1

#: Cosine from which on one piece goes straight on from another.
STRAIGHT_ON: Final = np.cos(np.radians(1.5))


#: Strokes begin or end at the top that come as near to it as this, mm, or this part of the deepest
#: place: the last piece into a sharp corner is often left out.
UP: Final = 0.05
UP_PART: Final = 0.03

#: A line that rises from a corner ends this near to the top and begins at least so deep, mm; so
#: many are looked at. Sides of the outline are longer than this, mm, and bend by more than 10
#: degrees (cosine).
AT_TOP: Final = 0.02
FEWEST_DEEP: Final = 0.2
MOST_RISING: Final = 80
SHORTEST_SIDE: Final = 0.02
BENT: Final = np.cos(np.radians(10.0))

#: The corner lies on the line and at its depth to this, mm, at most so far beyond its end, mm, and
#: the line divides it evenly to this (difference of cosines).
ON_LINE: Final = 0.02
MOST_GAP: Final = 1.5
EVENLY: Final = 0.03


@dataclass(frozen=True, slots=True)
class Fork:
    """Branches that leave one place.

    Attributes
    ----------
    heading : direction of each, rad, rising
    gain : depth gained per mm along its first piece; NaN where the depth was limited
    run : length of that piece, mm
    depth : of the place, mm
    """

    heading: Floats
    gain: Floats
    run: Floats
    depth: float


@dataclass(frozen=True, slots=True)
class Groove:
    """What a path of varying depth shows.

    Attributes
    ----------
    forks : places where at least three branches meet, one of them sloping
    ends : depth gained per mm from each place where the path comes up to the top
    steepest : slope that 99 % of the path stays below
    crests : depths at which the path turns from falling to rising or runs level, mm
    deepest : mm below the top
    share_up : part of the strokes that begin or end at the top
    """

    forks: tuple[Fork, ...]
    ends: Floats = field(default_factory=lambda: np.zeros(0))
    steepest: float = 0.0
    crests: Floats = field(default_factory=lambda: np.zeros(0))
    deepest: float = 0.0
    share_up: float = 0.0


def groove_of(strokes: Strokes) -> Groove | None:
    """Measure the strokes of a program that carves; None without any."""
    run, step = strokes.run, strokes.step
    keep = run > 5e-3
    if not keep.any():
        return None
    strokes = strokes.chosen(keep)
    run, step = run[keep], step[keep]
    slope = -step[:, 2] / run
    order = np.argsort(np.abs(slope))
    reach = np.cumsum(run[order])
    steepest = float(np.abs(slope[order])[np.searchsorted(reach, 0.99 * reach[-1])])
    depth = strokes.top - strokes.end[:, 2]
    begin = strokes.top - strokes.start[:, 2]
    ends = np.concatenate(
        [slope[(begin < 0.02) & (slope > 0.02)], -slope[(depth < 0.02) & (slope < -0.02)]]
    )
    first = np.flatnonzero(np.diff(strokes.chain, prepend=-1))
    last = np.append(first[1:] - 1, len(strokes) - 1)
    deepest = float(max(depth.max(), begin.max()))
    at_top = max(UP, UP_PART * deepest)
    up = (begin[first] < at_top) | (depth[last] < at_top)
    falls = slope[:-1] > 0.02
    turns = falls & (slope[1:] < 0.02) & (np.diff(strokes.chain) == 0)
    crests = depth[:-1][turns]
    forks = _forks(strokes, slope) or _forks(strokes, _whole_slope(strokes, slope))
    forks += corner_forks(strokes)
    return Groove(forks, ends, steepest, crests[:200], deepest, float(up.mean()))


def corner_forks(strokes: Strokes) -> tuple[Fork, ...]:
    """Return the corners of level lines from which a straight line rises to the top outward.

    Where the depth of a carving is limited, its walls end at a level outline, and from the corners
    of that a line rises into the corners of the shape. It need not begin at the corner itself: it
    is enough that it would go on to it.
    """
    run, step = strokes.run, strokes.step
    z = strokes.top - strokes.start[:, 2], strokes.top - strokes.end[:, 2]
    deep, high = np.maximum(*z), np.minimum(*z)
    rising = np.flatnonzero((high < AT_TOP) & (deep > FEWEST_DEEP) & (run > 5e-3))[:MOST_RISING]
    if not len(rising):
        return ()
    level = (np.abs(step[:, 2]) < 1e-3) & (run > SHORTEST_SIDE)
    if not level.any():
        return ()
    joint = level[1:] & level[:-1] & (np.diff(strokes.chain) == 0)
    joint &= np.abs(strokes.start[1:] - strokes.end[:-1]).max(axis=1) < 1e-6
    after = np.flatnonzero(joint) + 1
    # A closed outline has a corner where it begins as well.
    on_level = np.flatnonzero(level)
    new = np.flatnonzero(np.diff(strokes.chain[on_level], prepend=-1))
    first, last = on_level[new], on_level[np.append(new[1:], len(on_level)) - 1]
    closed = np.abs(strokes.end[last] - strokes.start[first]).max(axis=1) < 1e-3
    before = np.concatenate([after - 1, last[closed]])
    after = np.concatenate([after, first[closed]])
    if not len(after):
        return ()
    corner = strokes.start[after]
    ways = np.stack([step[after, :2], -step[before, :2]], axis=1)
    ways /= np.linalg.norm(ways, axis=2, keepdims=True)
    turns = (ways[:, 0] * ways[:, 1]).sum(axis=1) > -BENT
    corner, ways = corner[turns], ways[turns]
    found = [_corner_fork(strokes, int(k), corner, ways) for k in rising]
    return tuple(f for f in found if f is not None)[:MOST_FORKS]


def _corner_fork(strokes: Strokes, k: int, corner: Floats, ways: Floats) -> Fork | None:
    """Return the fork of a rising line with the corner that it would go on to; None without."""
    begin, end = strokes.start[k], strokes.end[k]
    low, high = (begin, end) if begin[2] < end[2] else (end, begin)
    run = float(np.hypot(*(high - low)[:2]))
    out = (high - low)[:2] / run
    slope = float(high[2] - low[2]) / run
    # Places of the corners along the line from its upper end, and beside it.
    rel = corner[:, :2] - high[:2]
    along = -(rel @ out)
    beside = np.abs(rel[:, 0] * out[1] - rel[:, 1] * out[0])
    below = np.abs(high[2] - slope * along - corner[:, 2])
    fits = (beside < ON_LINE) & (below < ON_LINE) & (along > run - ON_LINE)
    fits &= along < run + MOST_GAP
    for n in np.flatnonzero(fits):
        cosines = ways[n] @ out
        # It divides the corner evenly, and goes out of it.
        if abs(cosines[0] - cosines[1]) < EVENLY and cosines.max() < 0:
            heading = np.arctan2(*np.vstack([ways[n], out]).T[::-1]) % (2 * np.pi)
            order = np.argsort(heading)
            gain = np.array([0.0, 0.0, -slope])[order]
            depth = float(strokes.top - corner[n, 2])
            return Fork(heading[order], gain, np.full(3, float(along[n])), depth)
    return None


def _whole_slope(strokes: Strokes, slope: Floats) -> Floats:
    """Return the slopes that the groove would have without a limit to its depth; NaN not known.

    At the limit the path runs level; where it goes straight on from a sloping piece, the groove
    would have gone on as steeply.
    """
    whole = slope.copy()
    deep = strokes.top - np.minimum(strokes.start[:, 2], strokes.end[:, 2])
    level = np.abs(slope) < 0.02
    limited = level & (deep > deep.max() - 0.01)
    if strokes.run[limited].sum() < LIMITED * strokes.run.sum():
        return whole
    whole[limited] = np.nan
    unit = strokes.step[:, :2] / strokes.run[:, None]
    for mine, other in ((slice(1, None), slice(None, -1)), (slice(None, -1), slice(1, None))):
        straight = (unit[mine] * unit[other]).sum(axis=1) > STRAIGHT_ON
        joined = straight & (strokes.chain[mine] == strokes.chain[other])
        onward = joined & limited[mine] & ~level[other]
        whole[mine] = np.where(onward, slope[other], whole[mine])
    return whole


def _forks(strokes: Strokes, slope: Floats) -> tuple[Fork, ...]:
    heading = np.arctan2(strokes.step[:, 1], strokes.step[:, 0])
    place = np.concatenate([strokes.start, strokes.end])
    way = np.concatenate([heading, heading + np.pi]) % (2 * np.pi)
    gain = np.concatenate([slope, -slope])
    run = np.tile(strokes.run, 2)
    cells = np.floor(place / SAME_PLACE + 0.37).astype(np.int64)
    _, index, count = np.unique(cells, axis=0, return_inverse=True, return_counts=True)
    index = index.ravel()
    order = np.argsort(index, kind="stable")
    begin = np.cumsum(count) - count
    found: list[Fork] = []
    for group in np.flatnonzero(count >= 3):
        members = order[begin[group] : begin[group] + count[group]]
        depth = strokes.top - float(place[members[0], 2])
        fork = _fork(way[members], gain[members], run[members], depth)
        if fork is not None:
            found.append(fork)
            if len(found) >= MOST_FORKS:
                break
    return tuple(found)


def _fork(way: Floats, gain: Floats, run: Floats, depth: float) -> Fork | None:
    """Return the distinct branches, or None when there are fewer than three or none slopes."""
    order = np.argsort(way)
    way, gain, run = way[order], gain[order], run[order]
    apart = np.diff(way, prepend=way[-1] - 2 * np.pi) > SAME_WAY
    way, gain, run = way[apart], gain[apart], run[apart]
    if not 3 <= len(way) <= 8 or not (np.abs(gain) >= 0.02).any():
        return None
    known = np.isfinite(gain)
    if not (known & np.roll(known, -1)).any():
        return None
    return Fork(way, gain, run, depth)


def fork_error(fork: Fork, tangent: float) -> float:
    """How badly a fork closes for a vee with this tangent of the half angle, rad.

    Of the gaps between neighbouring branches the worst may be open: beyond it the floor is flat
    and there is no edge to touch. Gaps beside a branch of unknown gain say nothing.
    """
    cosine = -fork.gain * tangent
    if np.nanmax(np.abs(cosine)) > 1.02:
        return float(np.pi)
    between = np.diff(fork.heading, append=fork.heading[0] + 2 * np.pi)
    edge = np.arccos(np.clip(cosine, -1.0, 1.0))
    miss = np.abs(between - edge - np.roll(edge, -1))
    # An inner corner of the outline is a point: the law of cosines gives its direction.
    here = max(fork.depth * tangent, 1e-9)
    there = here + fork.gain * tangent * fork.run
    corner = (fork.run**2 + here**2 - there**2) / (2 * fork.run * here)
    point = np.where(np.abs(corner) <= 1.0, np.arccos(np.clip(corner, -1.0, 1.0)), np.inf)
    with np.errstate(invalid="ignore"):
        miss = np.fmin(miss, np.abs(between - point - np.roll(point, -1)))
    miss = np.sort(miss[np.isfinite(miss)])
    if not len(miss):
        return 0.0
    return float(np.sqrt((miss[: max(1, len(miss) - 1)] ** 2).mean()))
