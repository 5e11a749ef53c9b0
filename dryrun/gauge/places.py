"""Places on a cut blank where an instrument can be set down."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dryrun.gauge.cutter import Array
from dryrun.gauge.measurements import Reading
from dryrun.gauge.pieces import Field, Path
from dryrun.motion import ARC

#: A floor is level when it varies by less than this under the foot and its margin, mm.
LEVEL: Final = 0.02
#: Free ring around the foot, mm.
MARGIN: Final = 0.6
#: Shallower than this is not worth a depth reading; less left than this is a hole, mm.
SHALLOW: Final = 0.2
THIN: Final = 0.3
#: Jaws of calipers: narrowest groove, and how far from the rim they reach, mm.
NARROWEST: Final = 1.0
JAW_REACH: Final = 35.0
JAW_HALF: Final = 2.0

_LATTICE: Final = 90
_FLOORS_PER_DEPTH: Final = 16
_GROOVES_PER_KIND: Final = 6
_RIMS: Final = 12


def find_places(outcome: Any, foot: float, base: float) -> list[Reading]:
    """List candidate places: depths of floors, widths of grooves, thickness at the rim.

    Parameters
    ----------
    outcome : Outcome
        A dry run with a surface.
    foot, base : float
        Diameter of the rod's end and length of the gauge's base, mm.
    """
    stock = outcome.job.stock
    field = Field(outcome.surface, float(stock.top))
    path = Path.of(outcome)
    return [
        *_floors(field, stock, foot, base),
        *_grooves(field, path),
        *_rims(field, stock),
    ]


def _lattice(stock: Any) -> tuple[Array, Array]:
    low, high = stock.low, stock.high
    step = max(1.0, max(high[0] - low[0], high[1] - low[1]) / _LATTICE)
    x = np.arange(low[0] + step / 2, high[0], step)
    y = np.arange(low[1] + step / 2, high[1], step)
    gx, gy = np.meshgrid(x, y)
    return gx.ravel(), gy.ravel()


def _disc(radius: float) -> tuple[Array, Array]:
    px, py = [0.0], [0.0]
    for share, count in ((0.5, 8), (1.0, 16)):
        turn = np.arange(count) * 2 * math.pi / count
        px += (share * radius * np.cos(turn)).tolist()
        py += (share * radius * np.sin(turn)).tolist()
    return np.array(px), np.array(py)


def _patch(field: Field, x: Array, y: Array, radius: float) -> Array:
    """Heights under a disc about each place, (places, samples)."""
    dx, dy = _disc(radius)
    return field.nearest(x[:, None] + dx, y[:, None] + dy)


def _floors(field: Field, stock: Any, foot: float, base: float) -> list[Reading]:
    x, y = _lattice(stock)
    h = _patch(field, x, y, foot / 2 + MARGIN)
    depth = field.top - h[:, 0]
    level = np.ptp(h, axis=1) < LEVEL
    level &= (depth > SHALLOW) & (h[:, 0] > stock.bed + THIN)
    x, y, depth = x[level], y[level], depth[level]
    reached = _bridged(field, x, y, base)
    x, y, depth = x[reached], y[reached], depth[reached]
    out: list[Reading] = []
    for value in np.unique(np.round(depth, 1)).tolist():
        same = np.flatnonzero(np.round(depth, 1) == value)
        for i in _spread(x[same], y[same], _FLOORS_PER_DEPTH):
            k = int(same[i])
            out.append(Reading(_round(x[k]), _round(y[k]), "depth", 0.0, foot=foot))
    return out


def _bridged(field: Field, x: Array, y: Array, base: float) -> NDArray[np.bool_]:
    """Whether a straight base of this length can rest on uncut wood on both sides."""
    step = np.arange(2.0, base / 2 + 1e-9, max(1.0, base / 60))
    out = np.zeros(len(x), dtype=bool)
    for c, s in ((1.0, 0.0), (0.0, 1.0)):
        sides = []
        for sign in (-1.0, 1.0):
            px = x[:, None] + sign * c * step
            py = y[:, None] + sign * s * step
            uncut = field.inside(px, py) & (field.nearest(px, py) > field.top - 0.002)
            sides.append(uncut.any(axis=1))
        out |= sides[0] & sides[1]
    return out


def _spread(x: Array, y: Array, count: int) -> list[int]:
    """Pick places far from each other, the first farthest from the middle."""
    if len(x) <= count:
        return list(range(len(x)))
    start = int(np.argmax(np.hypot(x - x.mean(), y - y.mean())))
    chosen = [start]
    distance = np.hypot(x - x[start], y - y[start])
    while len(chosen) < count:
        k = int(np.argmax(distance))
        chosen.append(k)
        distance = np.minimum(distance, np.hypot(x - x[k], y - y[k]))
    return chosen


def _rims(field: Field, stock: Any) -> list[Reading]:
    x, y = _lattice(stock)
    low, high = stock.low, stock.high
    edge = np.minimum(np.minimum(x - low[0], high[0] - x), np.minimum(y - low[1], high[1] - y))
    near = (edge < JAW_REACH) & (edge > JAW_HALF)
    x, y = x[near], y[near]
    if not len(x):
        return []
    uncut = _patch(field, x, y, JAW_HALF).min(axis=1) > field.top - 0.002
    x, y = x[uncut], y[uncut]
    return [Reading(_round(x[k]), _round(y[k]), "thickness", 0.0) for k in _spread(x, y, _RIMS)]


def _grooves(field: Field, path: Path) -> list[Reading]:
    """Middles of level lines and arcs that left a groove with both edges at the blank's top."""
    found: dict[tuple[str, float], list[tuple[float, float, float]]] = {}
    for row in field.all_rows().tolist():
        stage = int(path.stage_of(np.array([row]))[0])
        cutter = path.cutters[stage]
        if cutter is None:
            continue
        motion, k = path.motions[stage], row - int(path.first[stage])
        for x, y, z, turn in _middles(motion, k):
            depth = field.top - z
            if depth < SHALLOW:
                continue
            half = float(cutter.reach(np.array([depth]))[0])
            if 2 * half >= NARROWEST and _clean(field, x, y, turn, half, z):
                found.setdefault((cutter.name, round(depth, 2)), []).append((x, y, turn))
    out: list[Reading] = []
    for places in found.values():
        px, py = np.array([p[0] for p in places]), np.array([p[1] for p in places])
        for k in _spread(px, py, _GROOVES_PER_KIND):
            x, y, turn = places[k]
            degrees = round(math.degrees(turn) % 180, 1)
            out.append(Reading(_round(x), _round(y), "width", 0.0, direction=degrees))
    return out


def _middles(motion: Any, k: int) -> Iterable[tuple[float, float, float, float]]:
    """Middles of a level row and the direction across it, rad."""
    a, b = motion.start[k], motion.end[k]
    if not (np.isfinite(a).all() and np.isfinite(b).all()) or abs(a[2] - b[2]) > 1e-6:
        return
    if int(motion.kind[k]) == ARC:
        if int(motion.axis[k]) != 2:
            return
        c = motion.centre[k]
        radius = math.hypot(a[0] - c[0], a[1] - c[1])
        if radius < 15 or abs(motion.sweep[k]) * radius < 3 * JAW_HALF:
            return
        start = math.atan2(a[1] - c[1], a[0] - c[0])
        for share in (0.25, 0.5, 0.75):
            turn = start + share * float(motion.sweep[k])
            yield (
                float(c[0] + radius * math.cos(turn)),
                float(c[1] + radius * math.sin(turn)),
                float(a[2]),
                turn,
            )
        return
    dx, dy = float(b[0] - a[0]), float(b[1] - a[1])
    if math.hypot(dx, dy) < 3 * JAW_HALF:
        return
    across = math.atan2(dy, dx) + math.pi / 2
    shares: Sequence[float] = (0.2, 0.5, 0.8) if math.hypot(dx, dy) > 30 else (0.5,)
    for share in shares:
        yield float(a[0] + share * dx), float(a[1] + share * dy), float(a[2]), across


def _clean(field: Field, x: float, y: float, turn: float, half: float, z: float) -> bool:
    """Whether the groove is cut in its middle and untouched beside, along the jaws' width."""
    c, s = math.cos(turn), math.sin(turn)
    along = np.array([-JAW_HALF, 0.0, JAW_HALF])
    middle_x, middle_y = x - along * s, y + along * c
    if not bool(field.inside(middle_x, middle_y).all()):
        return False
    if float(np.abs(field.nearest(middle_x, middle_y) - z).max()) > 0.05 + field.cell:
        return False
    out = half + 1.5 * field.cell + np.array([0.0, 0.4])
    for sign in (-1.0, 1.0):
        px = middle_x[:, None] + sign * out * c
        py = middle_y[:, None] + sign * out * s
        if not bool(field.inside(px, py).all()):
            return False
        if float(field.nearest(px, py).min()) < field.top - 0.002:
            return False
    return True


def _round(value: float) -> float:
    """Places a person can find with a rule: tenths of a millimetre."""
    return round(float(value), 1)
