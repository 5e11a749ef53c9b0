"""The removal room's slow twin: swept surfaces from their definition, in double precision.

Nothing here knows a closed form of a swept surface. The tool is put at many places along its path,
the underside of the cutter is a table of the shape's drawing, and the lowest underside seen over a
point is the surface there. Around every local minimum the steps are made finer and finer, down to
far less than a nanometre, so the result can be compared to a micrometre. Nothing from
`dryrun.removal` is imported.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from dryrun.job.model import Bit, Stock
from dryrun.motion import ARC, LINE, RAPID, Motion

Array = NDArray[np.float64]
Height = Callable[[Array], Array]
Place = Callable[[Array], Array]

# --------------------------------------------------------------------------------------------
# The cutter: height of its underside above the tip, at distance r from the axis; inf outside.
# --------------------------------------------------------------------------------------------


def underside(bit: Bit) -> Height:
    """Height of the cutter's underside over its tip at each radius, from the drawing."""
    drawn = {
        "flat": _flat,
        "ball": _ball,
        "bull": _bull,
        "vee": _vee,
        "drill": _vee,
        "taper-ball": _taper_ball,
        "taper-flat": _taper_flat,
        "form": _form,
    }[bit.shape](bit)
    outer = bit.radius

    def height(r: Array) -> Array:
        r = np.asarray(r, dtype=float)
        return np.where(r <= outer, drawn(np.minimum(r, outer)), np.inf)

    return height


def _flat(bit: Bit) -> Height:
    return lambda r: np.zeros_like(r)


def _ball(bit: Bit) -> Height:
    """A ball standing on the tip: its centre is one radius up."""
    return lambda r: bit.radius - np.sqrt(np.maximum(bit.radius**2 - r**2, 0.0))


def _bull(bit: Bit) -> Height:
    """A flat disc with a quarter circle around it."""
    corner = bit.corner_radius
    disc = bit.radius - corner

    def height(r: Array) -> Array:
        beyond = np.maximum(r - disc, 0.0)
        return corner - np.sqrt(np.maximum(corner**2 - beyond**2, 0.0))

    return height


def _vee(bit: Bit) -> Height:
    """A flat tip (perhaps of no size) and a cone of the included angle."""
    flat = bit.tip / 2
    return lambda r: np.maximum(r - flat, 0.0) / math.tan(bit.angle / 2)


def _taper_ball(bit: Bit) -> Height:
    """A ball and the cone that touches it, half angle from the axis."""
    ball = bit.tip_radius
    touch_r = ball * math.cos(bit.angle)
    touch_z = ball - ball * math.sin(bit.angle)

    def height(r: Array) -> Array:
        round_part = ball - np.sqrt(np.maximum(ball**2 - r**2, 0.0))
        cone = touch_z + (r - touch_r) / math.tan(bit.angle)
        return np.where(r <= touch_r, round_part, cone)

    return height


def _taper_flat(bit: Bit) -> Height:
    """A flat tip and a cone, half angle from the axis."""
    flat = bit.tip_diameter / 2
    return lambda r: np.maximum(r - flat, 0.0) / math.tan(bit.angle)


def _form(bit: Bit) -> Height:
    """The lowest point of the drawn outline at each radius; level inside the first point."""
    pieces = list(pairwise(bit.profile))

    def height(r: Array) -> Array:
        lowest = np.where(r <= bit.profile[0][0], bit.profile[0][1], np.inf)
        for (r0, z0, _), (r1, z1, bulge) in pieces:
            if r1 == r0:
                inside, z = r == r0, np.full_like(r, min(z0, z1))
            else:
                inside = (r >= min(r0, r1)) & (r <= max(r0, r1))
                z = _piece_height(r, (r0, z0), (r1, z1), bulge)
            lowest = np.where(inside, np.minimum(lowest, z), lowest)
        return lowest

    return height


def _piece_height(r: Array, a: tuple[float, float], b: tuple[float, float], bulge: float) -> Array:
    """Height on one piece of outline: a straight line, or the shorter arc of radius |bulge|.

    Going outward along the outline the cutter lies to the left, so a convex piece has its centre
    on the left of the chord and a hollow one on the right.
    """
    (r0, z0), (r1, z1) = a, b
    if bulge == 0.0:
        return z0 + (r - r0) * (z1 - z0) / (r1 - r0)
    chord = math.hypot(r1 - r0, z1 - z0)
    left = (-(z1 - z0) / chord, (r1 - r0) / chord)
    back = math.sqrt(bulge**2 - (chord / 2) ** 2) * math.copysign(1.0, bulge)
    centre_r = (r0 + r1) / 2 + back * left[0]
    centre_z = (z0 + z1) / 2 + back * left[1]
    reach = np.sqrt(np.maximum(bulge**2 - (r - centre_r) ** 2, 0.0))
    return centre_z - reach if bulge > 0 else centre_z + reach


# --------------------------------------------------------------------------------------------
# The path: where the tip is, as a function of the share t of the row done (0 to 1).
# --------------------------------------------------------------------------------------------


def place_on_row(motion: Motion, row: int) -> Place:
    """Where the tip is in this row: share of the row done (n,) -> places (n, 3)."""
    start, end = motion.start[row], motion.end[row]
    if motion.kind[row] != ARC:
        return lambda t: start + np.asarray(t)[..., None] * (end - start)
    normal = int(motion.axis[row])
    # seen from the positive normal, the first of these turns counter-clockwise into the second
    first, second = (normal + 1) % 3, (normal + 2) % 3
    centre, sweep = motion.centre[row], motion.sweep[row]
    radius = math.hypot(start[first] - centre[first], start[second] - centre[second])
    begin = math.atan2(start[second] - centre[second], start[first] - centre[first])

    def place(t: Array) -> Array:
        t = np.asarray(t, dtype=float)
        at = np.empty((*t.shape, 3))
        at[..., first] = centre[first] + radius * np.cos(begin + sweep * t)
        at[..., second] = centre[second] + radius * np.sin(begin + sweep * t)
        at[..., normal] = start[normal] + t * (end[normal] - start[normal])
        return at

    return place


def row_length(motion: Motion, row: int) -> float:
    """Length of the row's path, by adding many short chords."""
    at = place_on_row(motion, row)(np.linspace(0.0, 1.0, 2001))
    return float(np.linalg.norm(np.diff(at, axis=0), axis=1).sum())


# --------------------------------------------------------------------------------------------
# The surface: the lowest underside seen over a point while the tool goes along its path.
# --------------------------------------------------------------------------------------------

COARSE_STEP = 0.04
FINE_STEPS = 33
ROUNDS = 7  # each round makes the steps 16 times finer: 40 µm become 0.15 pm


def lowest_over(place: Place, length: float, height: Height, x: Array, y: Array) -> Array:
    """Lowest underside over each point while the tool goes along the path; inf never over it."""
    steps = max(math.ceil(length / COARSE_STEP), 8)
    t = np.linspace(0.0, 1.0, steps + 1)
    coarse = place(t)
    lowest = np.full(len(x), np.inf)
    for few in np.array_split(np.arange(len(x)), max(1, len(x) * len(t) // 2_000_000)):
        seen = _seen_from(coarse[None, :], height, x[few, None], y[few, None])
        lowest[few] = seen.min(axis=1)
        point, step = np.nonzero(_local_minima(seen))
        found = _finer(place, height, x[few][point], y[few][point], t[step], t[1])
        np.minimum.at(lowest, few[point], found)
    return lowest


def _seen_from(at: Array, height: Height, x: Array, y: Array) -> Array:
    return at[..., 2] + height(np.hypot(x - at[..., 0], y - at[..., 1]))


def _local_minima(seen: Array) -> NDArray[np.bool_]:
    padded = np.pad(seen, ((0, 0), (1, 1)), constant_values=np.inf)
    return (seen < padded[:, :-2]) & (seen <= padded[:, 2:])


def _finer(place: Place, height: Height, x: Array, y: Array, t: Array, width: float) -> Array:
    """Step ever finer around a local minimum of each point."""
    best = np.full(len(x), np.inf)
    around = np.linspace(-1.0, 1.0, FINE_STEPS)
    for _ in range(ROUNDS):
        tried = np.clip(t[:, None] + width * around, 0.0, 1.0)
        seen = _seen_from(place(tried), height, x[:, None], y[:, None])
        index = seen.argmin(axis=1)
        t = tried[np.arange(len(t)), index]
        best = np.minimum(best, seen.min(axis=1))
        width *= 2.0 / (FINE_STEPS - 1)
    return best


def surface_after(motion: Motion, bit: Bit, x: Array, y: Array, before: Array | float) -> Array:
    """Surface over the points (any equal shape) after all moving rows of the motion."""
    x, y = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
    flat_x, flat_y = x.ravel(), y.ravel()
    lowest = np.broadcast_to(before, x.shape).astype(float).ravel()
    height = underside(bit)
    for row in np.flatnonzero(motion.moving):
        place = place_on_row(motion, int(row))
        at = place(np.linspace(0.0, 1.0, 201))
        reach = bit.radius + row_length(motion, int(row)) / 200
        near = (
            (flat_x >= at[:, 0].min() - reach)
            & (flat_x <= at[:, 0].max() + reach)
            & (flat_y >= at[:, 1].min() - reach)
            & (flat_y <= at[:, 1].max() + reach)
        )
        if near.any():
            length = row_length(motion, int(row))
            swept = lowest_over(place, length, height, flat_x[near], flat_y[near])
            lowest[near] = np.minimum(lowest[near], swept)
    return lowest.reshape(x.shape)


def surface_near(
    motion: Motion, bit: Bit, x: Array, y: Array, before: float, shift: float
) -> tuple[Array, Array]:
    """Lowest and highest of the surface at each point and at eight places `shift` beside it.

    On an upright wall the last digit of the numbers decides whether a point is cut, and where a
    round turns upright a nanometre sideways is a micrometre in height.
    """
    angles = np.arange(8) * math.pi / 4
    at_x = x[:, None] + np.concatenate([[0.0], shift * np.cos(angles)])
    at_y = y[:, None] + np.concatenate([[0.0], shift * np.sin(angles)])
    seen = surface_after(motion, bit, at_x, at_y, before)
    return seen.min(axis=1), seen.max(axis=1)


# --------------------------------------------------------------------------------------------
# Facts of a row
# --------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Fine:
    """A fine grid of points over a box, for volumes and widths."""

    x: Array
    y: Array
    step: float

    @classmethod
    def over(cls, low: Sequence[float], high: Sequence[float], step: float) -> Fine:
        """Grid of cell centres that fills the box (x and y only)."""
        nx = max(round((high[0] - low[0]) / step), 1)
        ny = max(round((high[1] - low[1]) / step), 1)
        x = low[0] + (np.arange(nx) + 0.5) * (high[0] - low[0]) / nx
        y = low[1] + (np.arange(ny) + 0.5) * (high[1] - low[1]) / ny
        grid_x, grid_y = np.meshgrid(x, y)
        return cls(grid_x, grid_y, step)

    def area(self) -> float:
        """Area of one point's cell, mm²."""
        return float((self.x[0, 1] - self.x[0, 0]) * (self.y[1, 0] - self.y[0, 0]))


@dataclass(frozen=True, slots=True)
class RowFacts:
    """What one row does, by quadrature over a fine grid."""

    removed_mm3: float
    axial: float
    width: float
    lowest: float


def facts_by_row(motion: Motion, bit: Bit, fine: Fine, top: float) -> list[RowFacts]:
    """Facts of each row, cutting one after another from a level blank that fills the grid."""
    before = np.full(fine.x.shape, top)
    facts = []
    for row in range(len(motion)):
        after = surface_after(motion.rows(slice(row, row + 1)), bit, fine.x, fine.y, before)
        taken = before - after
        place = place_on_row(motion, row)(np.linspace(0, 1, 2001))
        facts.append(
            RowFacts(
                removed_mm3=float(taken.sum()) * fine.area(),
                axial=float(taken.max()),
                width=_width_across(motion, row, fine, taken),
                lowest=float(place[:, 2].min()),
            )
        )
        before = after
    return facts


def _width_across(motion: Motion, row: int, fine: Fine, taken: Array) -> float:
    """Extent of what was taken, across the feed: off a line, or off the centre of a level arc."""
    cut = taken > 1e-6
    if not cut.any():
        return 0.0
    x, y = fine.x[cut], fine.y[cut]
    if motion.kind[row] == ARC:
        across = np.hypot(x - motion.centre[row, 0], y - motion.centre[row, 1])
    else:
        along = motion.end[row] - motion.start[row]
        flat = math.hypot(along[0], along[1])
        across = (
            (x - motion.start[row, 0]) * -along[1] + (y - motion.start[row, 1]) * along[0]
        ) / flat
    return float(across.max() - across.min()) + fine.step


# --------------------------------------------------------------------------------------------
# Small builders
# --------------------------------------------------------------------------------------------


def motion_table(rows: Sequence[dict]) -> Motion:
    """Motion from dicts with start, end and, for arcs, centre, axis and sweep."""
    n = len(rows)
    centre = np.full((n, 3), np.nan)
    axis, sweep = np.full(n, -1), np.zeros(n)
    kind = np.zeros(n)
    for i, row in enumerate(rows):
        kind[i] = ARC if "sweep" in row else (RAPID if row.get("rapid") else LINE)
        if "sweep" in row:
            centre[i], axis[i], sweep[i] = row["centre"], row["axis"], row["sweep"]
    return Motion(
        kind=kind,
        start=np.array([row["start"] for row in rows], float).reshape(n, 3),
        end=np.array([row["end"] for row in rows], float).reshape(n, 3),
        centre=centre,
        axis=axis,
        sweep=sweep,
        feed=np.where(kind == RAPID, np.nan, 1000.0),
        spindle=np.full(n, 18000.0),
        tool=np.full(n, 1),
        seconds=np.zeros(n),
        tolerance=np.full(n, np.nan),
        line=np.arange(1, n + 1),
        source=np.zeros(n),
    )


def line(start: Sequence[float], end: Sequence[float]) -> dict:
    """One straight row."""
    return {"start": tuple(start), "end": tuple(end)}


def polyline(points: Sequence[Sequence[float]]) -> Motion:
    """Straight cuts from point to point."""
    return motion_table([line(a, b) for a, b in pairwise(points)])


def arc(
    centre: Sequence[float], radius: float, begin: float, sweep: float, axis: int, rise: float = 0.0
) -> dict:
    """One arc about an axis through `centre`, from angle `begin`; `rise` makes it a helix."""
    first, second = (axis + 1) % 3, (axis + 2) % 3

    def at(angle: float, along: float) -> list[float]:
        point = [0.0, 0.0, 0.0]
        point[first] = centre[first] + radius * math.cos(angle)
        point[second] = centre[second] + radius * math.sin(angle)
        point[axis] = centre[axis] + along
        return point

    return {
        "start": at(begin, 0.0),
        "end": at(begin + sweep, rise),
        "centre": tuple(centre),
        "axis": axis,
        "sweep": sweep,
    }


def blank(x: float, y: float, z: float) -> Stock:
    """A blank with the work zero in the middle of its top."""
    return Stock(size=(x, y, z), zero_at=(x / 2, y / 2, 0.0), zero="centre-top")


BITS = {
    "flat": Bit("flat", "flat", 6.0),
    "ball": Bit("ball", "ball", 6.0),
    "bull": Bit("bull", "bull", 6.0, corner_radius=1.0),
    "vee": Bit("vee", "vee", 8.0, angle=math.radians(60)),
    "vee-tip": Bit("vee-tip", "vee", 8.0, angle=math.radians(90), tip=1.0),
    "drill": Bit("drill", "drill", 4.0, angle=math.radians(118)),
    "taper-ball": Bit("taper-ball", "taper-ball", 4.0, angle=math.radians(15), tip_radius=0.5),
    "taper-flat": Bit("taper-flat", "taper-flat", 5.0, angle=math.radians(10), tip_diameter=2.0),
    # level tip, hollow round-over of 2 mm, a level shoulder: not convex
    "form-hollow": Bit(
        "form-hollow",
        "form",
        7.0,
        profile=((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (3.0, 2.0, -2.0), (3.5, 2.0, 0.0)),
    ),
    # round nose, a 45° cone, an upright step, a level shoulder
    "form-stepped": Bit(
        "form-stepped",
        "form",
        7.0,
        profile=(
            (0.0, 0.0, 0.0),
            (1.0, 1.0, 1.0),
            (2.0, 2.0, 0.0),
            (2.0, 3.0, 0.0),
            (3.5, 3.0, 0.0),
        ),
    ),
    # lowest on a circle, not on its axis: hollow inside, a bulge, a tooth at 2.6, a hollow flank
    "form-crowned": Bit(
        "form-crowned",
        "form",
        7.0,
        profile=(
            (0.0, 1.2, 0.0),
            (0.8, 0.4, 0.0),
            (1.6, 1.2, 2.0),
            (2.6, 0.0, 0.0),
            (3.5, 1.5, -4.0),
        ),
    ),
    # a bowl bit with a convex corner: bulges as a core-box does
    "form-round": Bit(
        "form-round", "form", 6.0, profile=((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (3.0, 2.0, 2.0))
    ),
}
