"""Imprints: whether a bit at places of a path touches anything that its other places leave.

Where a bit follows a surface, it touches something at every place, or it would have gone lower. A
point of the bit that touches has its normal square to the path, and is cut away by no other place
of the path. A bit that is too blunt for the path cuts away with its neighbouring places what it
touched at this one; one that is as blunt as it may be does so as soon as it is a little blunter
(elementary geometry of envelopes).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.fitting.strokes import Floats, Ints, Strokes
from dryrun.job.model import Bit

#: Bends looked at turn down by more than this, rad.
LEAST_BEND: Final = 0.03

#: Places looked at: of the sharpest bends a third, and no more than this.
PROBES: Final = 60
SHARPEST: Final = 1 / 3

#: Places of the path that cut are at least so near each other, mm, and no more than so many.
NEAREST: Final = 0.1
MOST_PLACES: Final = 40_000

#: Normals in which a bit touches, from straight down to each side of the path, rad.
TILTS: Final = np.radians(
    [0.0, *(sign * a for a in np.arange(7.5, 83.0, 7.5) for sign in (1.0, -1.0))]
)

#: On gentle slopes, where the rim of a flat end touches, also in directions so far from the path's
#: own, seen from above, rad.
TURNS: Final = np.radians([-75.0, -60.0, -45.0, -30.0, -15.0, 15.0, 30.0, 45.0, 60.0, 75.0])

#: Points of a flank that may touch, as parts of its width.
FLANK: Final = np.array([0.08, 0.3, 0.8])

#: So many of the closest places are asked first.
CLOSEST: Final = 48

#: How far path may be off what was meant: mm, and part of the bit's radius for the few normals.
OFF: Final = (0.02, 0.003)


@dataclass(frozen=True, slots=True)
class Imprint:
    """Places of a path that cut, and those at which it is asked what they touch.

    Attributes
    ----------
    tips, ways : (k, 3) places of the tip where the path bends down sharply, mm, and its way there
    places : (n, 3) places of the tip, rising in x, mm
    """

    tips: Floats
    ways: Floats
    places: Floats


def imprint_of(strokes: Strokes, apart: float) -> Imprint | None:
    """Return the places of a path over a surface; None without a path.

    Parameters
    ----------
    strokes : Strokes
        The path.
    apart : float
        Distance of its rows, mm.
    """
    length = strokes.length
    if len(strokes) < 10:
        return None
    step = max(apart / 2, NEAREST, float(length.sum()) / MOST_PLACES)
    count = np.maximum(np.ceil(length / step), 1).astype(np.int64)
    of = np.repeat(np.arange(len(strokes)), count)
    part = (np.arange(len(of)) - np.repeat(np.cumsum(count) - count, count)) / count[of]
    places = np.vstack([strokes.start[of] + part[:, None] * strokes.step[of], strokes.end])
    joints = _joints(strokes)
    if not len(joints):
        return None
    way = strokes.step / np.maximum(length, 1e-9)[:, None]
    tips, ways = strokes.end[joints], way[joints] + way[joints + 1]
    return Imprint(tips, ways, places[np.argsort(places[:, 0], kind="stable")])


def _joints(strokes: Strokes) -> Ints:
    """Return the pieces after which the path bends downward most sharply."""
    run, step, length = strokes.run, strokes.step, strokes.length
    angle = np.arctan2(step[:, 2], np.maximum(run, 1e-9))
    bend = angle[:-1] - angle[1:]
    joint = (np.diff(strokes.chain) == 0) & (run[1:] > 1e-3) & (run[:-1] > 1e-3)
    joint &= (step[1:, :2] * step[:-1, :2]).sum(axis=1) > 0.9 * run[1:] * run[:-1]
    joint &= bend > LEAST_BEND
    found = np.flatnonzero(joint)
    radius = np.minimum(length[1:], length[:-1])[found] / bend[found]
    count = max(PROBES, int(SHARPEST * len(found)))
    found = np.sort(found[np.argsort(radius, kind="stable")[:count]])
    if len(found) > PROBES:
        found = found[np.linspace(0, len(found) - 1, PROBES).astype(np.int64)]
    return found


def outline(bit: Bit, blunter: float = 1.0) -> tuple[float, float, float, float]:
    """Return radius of the flat end, of its corner, half angle of the cone, and largest radius.

    Parameters
    ----------
    bit : Bit
        The bit.
    blunter : float
        How many times its end is wider: the round or flat, and of a cone the tangent.
    """
    half = (bit.angle or 0.0) / (2 if bit.shape in ("vee", "drill") else 1)
    b = blunter
    if bit.shape == "ball":
        return 0.0, b * bit.radius, 0.0, b * bit.radius
    if bit.shape == "bull":
        corner = bit.corner_radius or 0.0
        return b * (bit.radius - corner), b * corner, 0.0, b * bit.radius
    if bit.shape == "taper-ball":
        return 0.0, b * (bit.tip_radius or 0.0), half, b * bit.radius
    if bit.shape == "taper-flat":
        return b * (bit.tip_diameter or 0.0) / 2, 0.0, half, b * bit.radius
    if bit.shape in ("vee", "drill") and half > 0:
        return bit.tip / 2, 0.0, math.atan(b * math.tan(half)), b * bit.radius
    return b * bit.radius, 0.0, 0.0, b * bit.radius


def touching(found: Imprint, shape: tuple[float, float, float, float]) -> NDArray[np.bool_]:
    """Tell for each place that is looked at whether the bit touches there what stays.

    found : the places; shape : of the bit, see `outline`.
    """
    flat, corner, half, radius = shape
    x, high = found.places[:, 0], float(np.ptp(found.places[:, 2]))
    if half > 0:  # what is higher than the path goes touches nothing
        radius = min(radius, flat + corner * math.cos(half) + high * math.tan(half))
    shape = (flat, corner, half, radius)
    reach, off = 2 * radius, OFF[0] + OFF[1] * max(flat, corner)
    first = np.searchsorted(x, found.tips[:, 0] - reach)
    last = np.searchsorted(x, found.tips[:, 0] + reach)
    stands = np.zeros(len(found.tips), bool)
    for k, (tip, way) in enumerate(zip(found.tips, found.ways, strict=True)):
        points = tip + _points(way, shape) - [0.0, 0.0, off]
        places = found.places[first[k] : last[k]]
        places = places[places[:, 2] < points[:, 2].max()]
        away = places[:, :2] - tip[:2]
        square = (away * away).sum(axis=1)
        inside = square < reach * reach
        stands[k] = _any_stands(points, places[inside], square[inside], shape)
    return stands


def _points(way: Floats, shape: tuple[float, float, float, float]) -> Floats:
    """Return (m, 3) points of a bit whose normals are square to a way, from its tip, mm."""
    flat, corner, half, radius = shape
    level = max(math.hypot(way[0], way[1]), 1e-9)
    along = math.hypot(level, way[2])
    tilts = np.concatenate([TILTS, np.arctan(way[2] / along * np.tan(TURNS))])
    c, s = np.cos(tilts), np.sin(tilts)
    # Leaning along the path, and to its side.
    ahead, lean_down = c * way[2] / along, c * level / along
    lean = np.hypot(ahead, s)
    theta = np.arctan2(lean, lean_down)
    turn = np.where(lean > 1e-9, np.arctan2(s, ahead), 0.0) + math.atan2(way[1], way[0])
    on_cone = (theta >= math.pi / 2 - half - 1e-9) & (half > 0)
    theta = np.minimum(theta, math.pi / 2 - half)
    r, z = flat * (lean > 1e-9) + corner * np.sin(theta), corner * (1 - np.cos(theta))
    if on_cone.any():
        wide = (FLANK[:, None] * (radius - r[on_cone])).ravel()
        r_cone, turn_cone = np.tile(r[on_cone], len(FLANK)), np.tile(turn[on_cone], len(FLANK))
        z = np.append(z, np.tile(z[on_cone], len(FLANK)) + wide / math.tan(half))
        r, turn = np.append(r, r_cone + wide), np.append(turn, turn_cone)
    return np.column_stack([r * np.cos(turn), r * np.sin(turn), z])


def _any_stands(
    points: Floats, near: Floats, square: Floats, shape: tuple[float, float, float, float]
) -> bool:
    """Whether any of some points is cut away by none of the places, `square` mm2 from the tip.

    The closest places cut most of the points that are cut at all, so they are asked first.
    """
    left = points
    if len(near) > CLOSEST:
        left = left[~_cut(left, near[np.argpartition(square, CLOSEST)[:CLOSEST]], shape)]
    return any(not _cut(left[k : k + 1], near, shape)[0] for k in range(len(left)))


def _cut(
    points: Floats, places: Floats, shape: tuple[float, float, float, float]
) -> NDArray[np.bool_]:
    """Tell which points the bit cuts away at any of the places."""
    away = np.hypot(places[:, 0] - points[:, :1], places[:, 1] - points[:, 1:2])
    cut = (away < shape[3]) & (places[:, 2] + rises(away, shape) < points[:, 2:])
    return np.asarray(cut.any(axis=1))


def rises(away: Floats, shape: tuple[float, float, float, float]) -> Floats:
    """Return how high a bit's surface is over its tip at distances from its axis, mm."""
    flat, corner, half, _ = shape
    across = np.maximum(away - flat, 0.0)
    tangent = corner * math.cos(half)
    inner = np.minimum(across, tangent)
    rise: Floats = corner - np.sqrt(np.maximum(corner * corner - inner * inner, 0.0))
    if half > 0:
        return rise + np.maximum(across - tangent, 0.0) / math.tan(half)
    return np.where(across > corner + 1e-9, np.inf, rise)
