"""How far apart neighbouring passes run: rays square to the path, to the next pass beside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.fitting.strokes import Floats, Ints, Strokes

#: Probes are made fewer the more pieces there are, so that the cost stays even.
PAIRS: Final = 700_000
MOST_PROBES: Final = 400
FEWEST_PROBES: Final = 40

#: Only passes that run this nearly parallel are neighbours, cosine.
PARALLEL: Final = np.cos(np.radians(25.0))

#: Nearer than this is the same pass again, mm.
SAME_PASS: Final = 0.02

#: Spacings that differ by less are one, part and mm.
SAME_SPACING: Final = (0.006, 0.004)


#: Passes of a finishing pattern over a relief are at most this far apart, mm.
FINE: Final = 6.0

#: Passes beside each other over a relief are so far from even at most, in the logarithm.
SWAY: Final = 0.35

#: The most of a path that may lie at a few heights, where it follows a relief, and the part of it
#: that must have passes on both sides.
MOST_LEVEL: Final = 0.35
CLOSE: Final = 0.4

#: The longest lines are looked at, and so many of them cross others at least twice each, as part
#: of their length, where they are a pattern of lines; they cross away from their ends, part.
MOST_LINES: Final = 300
CROSSED: Final = 0.6
FROM_ENDS: Final = 0.02


@dataclass(frozen=True, slots=True)
class Neighbours:
    """What rays from places on the path met, to the left and to the right.

    Attributes
    ----------
    piece : (m,) index of the piece each ray starts from
    at : (m, 3) where it starts, mm
    along : (m, 2) direction of the path there
    distance : (m, 2) to the next pass left and right, mm; inf without one
    hit : (m, 2) index of the piece met; -1 without one
    height : (m, 2) height of the path where it was met, mm; NaN without one
    """

    piece: Ints
    at: Floats
    along: Floats
    distance: Floats
    hit: Ints
    height: Floats


@dataclass(frozen=True, slots=True)
class Spacing:
    """The spacing most passes have.

    Attributes
    ----------
    distance : mm
    share : part of the probes with a neighbour at that distance on at least one side
    both : part of the probes with one on both sides: the middle of a cleared area
    linked : part of those neighbours that belong to the same chain, reached without leaving
        the blank
    in_turn : part of them between which the path was on a higher level: each was cut to its depth
        before the next was begun
    """

    distance: float
    share: float
    both: float
    linked: float
    in_turn: float = 0.0


def find_neighbours(strokes: Strokes) -> Neighbours | None:
    """Send rays from places spread evenly over the path; None without a path.

    Cost: probes times pieces, at most about `PAIRS`.
    """
    run = strokes.run
    total = float(run.sum())
    if total <= 0:
        return None
    pieces = len(strokes)
    count = int(np.clip(PAIRS // pieces, FEWEST_PROBES, MOST_PROBES))
    reach = np.cumsum(run)
    # An irrational part of a step keeps probes off the regular places of the path.
    wanted = (np.arange(count) + 0.618034) / count * total
    piece = np.minimum(np.searchsorted(reach, wanted), pieces - 1)
    piece = piece[run[piece] > 1e-6]
    part = np.resize(np.array([0.31, 0.5, 0.72]), len(piece))
    start, step = strokes.start, strokes.step
    at = start[piece] + part[:, None] * step[piece]
    along = step[piece, :2] / run[piece, None]
    blocks = [slice(i, i + 64) for i in range(0, len(piece), 64)]
    found = [_cast(at[b], along[b], piece[b], start, step, run) for b in blocks]
    if not found:
        return None
    distance, hit, height = (np.concatenate(column) for column in zip(*found, strict=True))
    return Neighbours(piece, at, along, distance, hit, height)


def _cast(
    at: Floats, along: Floats, own: Ints, start: Floats, step: Floats, run: Floats
) -> tuple[Floats, Ints, Floats]:
    """Return distance, piece and height of the first parallel pass on each side of each probe."""
    normal_x, normal_y = -along[:, 1:], along[:, :1]
    dx, dy = step[:, 0], step[:, 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        across = normal_x * dy - normal_y * dx
        rx, ry = start[:, 0] - at[:, :1], start[:, 1] - at[:, 1:2]
        ray = (rx * dy - ry * dx) / across
        part = (rx * normal_y - ry * normal_x) / across
        ok = (part >= -1e-9) & (part <= 1 + 1e-9) & (np.abs(ray) > SAME_PASS)
        ok &= np.abs(across) > PARALLEL * run
    ok[np.arange(len(own)), own] = False
    distance = np.full((len(at), 2), np.inf)
    hit = np.full((len(at), 2), -1, np.int64)
    height = np.full((len(at), 2), np.nan)
    index = np.arange(len(at))
    for side, sign in enumerate((1.0, -1.0)):
        away = np.where(ok & (ray * sign > 0), np.abs(ray), np.inf)
        nearest = away.argmin(axis=1)
        best = away[index, nearest]
        met = np.isfinite(best)
        distance[:, side] = best
        hit[met, side] = nearest[met]
        at_part = np.where(met, part[index, nearest], 0.0)
        z = start[nearest, 2] + at_part * step[nearest, 2]
        height[met, side] = z[met]
    return distance, hit, height


def main_spacing(strokes: Strokes, near: Neighbours | None, most: float = np.inf) -> Spacing | None:
    """Return the spacing that most neighbours have, none of them beyond `most` mm; None without."""
    if near is None or not len(near.piece):
        return None
    values = np.sort(near.distance[np.isfinite(near.distance) & (near.distance <= most)])
    if not len(values):
        return None
    wide = values * SAME_SPACING[0] + SAME_SPACING[1]
    first = np.searchsorted(values, values - wide)
    last = np.searchsorted(values, values + wide, side="right")
    best = int(np.argmax(last - first))
    distance = float(np.median(values[first[best] : last[best]]))
    alike = _so_far(near, distance)
    own, met = pairs_at(near, distance)
    linked = strokes.chain[met] == strokes.chain[own]
    return Spacing(
        distance,
        float(alike.any(axis=1).mean()),
        float(alike.all(axis=1).mean()),
        float(linked.mean()) if len(linked) else 0.0,
    )


def _so_far(near: Neighbours, distance: float) -> NDArray[np.bool_]:
    alike: NDArray[np.bool_] = (
        np.abs(near.distance - distance) <= 0.03 * distance + 2 * SAME_SPACING[1]
    )
    return alike


def pairs_at(near: Neighbours, distance: float) -> tuple[Ints, Ints]:
    """Return the pieces that have a neighbour at a distance, and those neighbours."""
    alike = _so_far(near, distance)
    return np.broadcast_to(near.piece[:, None], alike.shape)[alike], near.hit[alike]


def crossing(level: Strokes) -> bool:
    """Tell whether most of a level path is lines that cross others, as in a lattice.

    Nobody clears an area twice over at one depth, so these are cuts of their own.
    """
    run = level.run
    chosen = np.argsort(-run, kind="stable")[:MOST_LINES]
    if run[chosen].sum() < CROSSED * run.sum():
        return False
    a, step = level.start[chosen, :2], level.step[chosen, :2]
    across = step[:, None, 0] * step[None, :, 1] - step[:, None, 1] * step[None, :, 0]
    rel = a[None, :] - a[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        mine = (rel[..., 0] * step[None, :, 1] - rel[..., 1] * step[None, :, 0]) / across
        other = (rel[..., 0] * step[:, None, 1] - rel[..., 1] * step[:, None, 0]) / across
    inner = (mine > FROM_ENDS) & (mine < 1 - FROM_ENDS)
    inner &= (other > FROM_ENDS) & (other < 1 - FROM_ENDS)
    inner &= np.abs(level.end[chosen, 2][:, None] - level.end[chosen, 2][None, :]) < 1e-3
    crossed = inner.sum(axis=1) >= 2
    return bool(run[chosen][crossed].sum() > CROSSED * run.sum())
