"""What stands under the sharp bends of a relief: the largest ball that leaves it standing.

Where a round end turns downward over something, it touches a point there that no other place of
the path may cut, or it would have no reason to turn. A ball of radius R with its tip at p, which
touches in the direction n, does not reach into that point from another place q of its path as long
as

    R <= |q - p|2 / (2 n . (q - p))      for all q with n . (q - p) > 0

(elementary geometry: the ball through p and q whose centre lies on the line through p along -n,
reckoned at the tips, since all centres lie R above them). So the path alone bounds the ball: the
largest radius over all directions square to the path, of the smallest over all other places. Over
an edge the bound is the ball's own radius, over what is round itself it is wider.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from dryrun.fitting.strokes import Floats, Ints, Strokes

#: Bends looked at turn down by more than this, rad, between pieces less steep than this on the
#: whole, rad: where a path drops down a wall, rounded places say little.
LEAST_BEND: Final = 0.03
STEEPEST: Final = 1.0

#: Of them the sharpest, and never fewer than a few.
FEWEST: Final = 10
PROBES: Final = 80
SHARPEST: Final = 1 / 3

#: Directions in which a ball touches, from straight down to each side, rad.
TILTS: Final = np.radians(np.arange(-75.0, 76.0, 15.0))

#: How far path may be off what was meant, mm, and how far away others are looked at, mm.
OFF: Final = 0.02
FAR: Final = 30.0


def standing_of(strokes: Strokes) -> Floats | None:
    """Return the largest radii that leave something standing at the sharpest bends, rising, mm.

    None where too few places bend downward.
    """
    joints = _joints(strokes)
    if len(joints) < FEWEST:
        return None
    ends = np.vstack([strokes.end, (strokes.start + strokes.end) / 2])
    way = strokes.step / np.maximum(strokes.length, 1e-9)[:, None]
    radii = [_largest(strokes.end[k], way[k] + way[k + 1], ends) for k in joints]
    return np.sort(np.array(radii))


def _joints(strokes: Strokes) -> Ints:
    """Return the pieces after which the path bends downward most sharply."""
    run, step, length = strokes.run, strokes.step, strokes.length
    angle = np.arctan2(step[:, 2], np.maximum(run, 1e-9))
    bend = angle[:-1] - angle[1:]
    joint = (np.diff(strokes.chain) == 0) & (run[1:] > 1e-3) & (run[:-1] > 1e-3)
    joint &= (step[1:, :2] * step[:-1, :2]).sum(axis=1) > 0.9 * run[1:] * run[:-1]
    joint &= (bend > LEAST_BEND) & (np.abs(angle[1:] + angle[:-1]) < 2 * STEEPEST)
    found = np.flatnonzero(joint)
    radius = np.minimum(length[1:], length[:-1])[found] / bend[found]
    count = max(PROBES, int(SHARPEST * len(found)))
    found = np.sort(found[np.argsort(radius, kind="stable")[:count]])
    if len(found) > PROBES:
        found = found[np.linspace(0, len(found) - 1, PROBES).astype(np.int64)]
    return found


def _largest(tip: Floats, way: Floats, ends: Floats) -> float:
    """Return the largest radius of a ball at a place that leaves some point standing under it."""
    way = way / max(float(np.linalg.norm(way)), 1e-9)
    flat = max(float(np.hypot(way[0], way[1])), 1e-9)
    side = np.array([-way[1], way[0], 0.0]) / flat
    down = np.cross(way, side)
    down = down if down[2] < 0 else -down
    touch = np.cos(TILTS)[:, None] * down + np.sin(TILTS)[:, None] * side
    touch = touch[touch[:, 2] < 0]
    off = ends - tip
    square = (off * off).sum(axis=1)
    near = (square > 1e-8) & (square < FAR * FAR)
    toward = touch @ off[near].T
    with np.errstate(divide="ignore", invalid="ignore"):
        radius = (square[near] - OFF * OFF) / (2 * (toward - OFF))
    return float(np.where(toward > OFF, radius, np.inf).min(axis=1, initial=FAR).max())
