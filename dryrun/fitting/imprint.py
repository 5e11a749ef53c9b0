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
from dryrun.jit import kernel
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
TILTS: Final = np.radians(np.arange(-82.5, 83.0, 7.5))

#: On gentle slopes, where the rim of a flat end touches, also in directions so far from the path's
#: own, seen from above, rad.
TURNS: Final = np.radians([-75.0, -60.0, -45.0, -30.0, -15.0, 15.0, 30.0, 45.0, 60.0, 75.0])

#: Points of a flank that may touch, as parts of its width.
FLANK: Final = np.array([0.08, 0.3, 0.8])

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
    """Tell for each place that is looked at whether the bit touches there what stays."""
    flat, corner, half, radius = shape
    x, high = found.places[:, 0], float(np.ptp(found.places[:, 2]))
    if half > 0:  # what is higher than the path goes touches nothing
        radius = min(radius, flat + corner * math.cos(half) + high * math.tan(half))
    reach = 2 * radius
    first = np.searchsorted(x, found.tips[:, 0] - reach)
    last = np.searchsorted(x, found.tips[:, 0] + reach)
    off = OFF[0] + OFF[1] * max(shape[0], shape[1])
    near = np.zeros((int((last - first).max(initial=1)), 3))
    return touches(
        found.tips, found.ways, found.places, first, last, near,
        flat, corner, half, radius, TILTS, TURNS, FLANK, off,
    )  # fmt: skip


@kernel
def rises(r: float, flat: float, corner: float, half: float) -> float:
    """Height of a bit's surface over its tip at a distance from its axis, mm."""
    if r <= flat:
        return 0.0
    across = r - flat
    tangent = corner * math.cos(half)
    if across <= tangent:
        return corner - math.sqrt(max(corner * corner - across * across, 0.0))
    if half <= 0.0:
        return 1e9 if across > corner + 1e-9 else corner
    return corner * (1 - math.sin(half)) + (across - tangent) / math.tan(half)


@kernel
def touches(
    tips: NDArray[np.float64],
    ways: NDArray[np.float64],
    places: NDArray[np.float64],
    first: NDArray[np.int64],
    last: NDArray[np.int64],
    near: NDArray[np.float64],
    flat: float,
    corner: float,
    half: float,
    radius: float,
    tilts: NDArray[np.float64],
    turns: NDArray[np.float64],
    flank: NDArray[np.float64],
    off: float,
) -> NDArray[np.bool_]:
    """Tell for each tip whether a point of the bit there is cut away by no other place.

    tips, ways : (k, 3); places : (n, 3) rising in x, of which first to last (k,) are near; near :
    room for them; flat, corner, half, radius : of the bit, see `outline`; tilts, turns : rad;
    flank : (f,) parts of the cone's width; off : mm.
    """
    stands = np.zeros(tips.shape[0], np.bool_)
    steepest = math.pi / 2 - half
    for k in range(tips.shape[0]):
        wx, wy, wz = ways[k, 0], ways[k, 1], ways[k, 2]
        level = max(math.hypot(wx, wy), 1e-9)
        along = math.hypot(level, wz)
        # Straight down, square to the path, and to its side.
        dx, dy, dz = wx * wz / (level * along), wy * wz / (level * along), -level / along
        sx, sy = -wy / level, wx / level
        count = _gather(tips[k], places, first[k], last[k], 2 * radius, near)
        for m in range(tilts.shape[0] + turns.shape[0]):
            if m < tilts.shape[0]:
                tilt = tilts[m]
            else:
                tilt = math.atan(wz / along * math.tan(turns[m - tilts.shape[0]]))
            c, s = math.cos(tilt), math.sin(tilt)
            nx, ny, nz = c * dx + s * sx, c * dy + s * sy, c * dz
            if nz > -1e-3:
                continue
            lean = math.hypot(nx, ny)
            theta = math.atan2(lean, -nz)
            ux, uy = (nx / lean, ny / lean) if lean > 1e-9 else (1.0, 0.0)
            on_cone = theta >= steepest - 1e-9 and half > 0.0
            if on_cone:
                theta = steepest
            r = flat * (1.0 if lean > 1e-9 else 0.0) + corner * math.sin(theta)
            z = corner * (1 - math.cos(theta))
            for f in range(flank.shape[0] + 1 if on_cone else 1):
                rf, zf = r, z
                if f > 0:
                    rf = r + flank[f - 1] * (radius - r)
                    zf = z + (rf - r) / math.tan(half)
                px, py = tips[k, 0] + rf * ux, tips[k, 1] + rf * uy
                pz = tips[k, 2] + zf - off
                if not _cut(px, py, pz, near, count, flat, corner, half, radius):
                    stands[k] = True
                    break
            if stands[k]:
                break
    return stands


@kernel
def _gather(
    tip: NDArray[np.float64],
    places: NDArray[np.float64],
    first: int,
    last: int,
    reach: float,
    near: NDArray[np.float64],
) -> int:
    """Lay the places within a distance into `near`, and return how many they are."""
    count = 0
    for j in range(first, last):
        x, y = places[j, 0] - tip[0], places[j, 1] - tip[1]
        if x * x + y * y < reach * reach:
            near[count] = places[j]
            count += 1
    return count


@kernel
def _cut(
    x: float,
    y: float,
    z: float,
    near: NDArray[np.float64],
    count: int,
    flat: float,
    corner: float,
    half: float,
    radius: float,
) -> bool:
    """Whether one of the places cuts below a point."""
    for j in range(count):
        if near[j, 2] >= z:
            continue
        across, along = near[j, 0] - x, near[j, 1] - y
        square = across * across + along * along
        if square >= radius * radius:
            continue
        if near[j, 2] + rises(math.sqrt(square), flat, corner, half) < z:
            return True
    return False
