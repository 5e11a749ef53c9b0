"""A fifteenth generator: what a hobby workshop runs, one bit a program, a rack of eight.

Written as an acceptance test of one sentence, "on held-out programs made for known bits (other
generator, other geometry): right bit first in >= 90 %, in the first two in >= 98 %, when the rack
holds 8 bits", by someone who had read `job/model.py` and the way another generator is called, but
neither the fitting room nor its tests.

Outlines are offset with shapely, reliefs are height fields over which the cutter is rolled, vee
lettering follows the middle lines of a Voronoi diagram. The rules by which paths are made are
common practice, no source: walls at the radius from the line, steps and passes as shares of the
diameter, entries by plunge, ramp or helix, chip loads that grow with the diameter.

An expert with the program and the rack should be able to tell the bit, so flats and bull noses of
a rack differ by a fifth in diameter at least, balls and round tips by a quarter, vees by a quarter
in angle, drills by three tenths in diameter; a flat, a ball and a drill may well have one diameter.
Programs of single lines at one depth, which say nothing of a width, are left out. Form bits lie in
the racks but no program is for one. Nothing in the text names the bit.

First score (seeds 0 to 199, before the fitting room was read): right bit first 0.870, in the first
two 0.950, Brier 0.188; on seeds 1000 to 1199, scored then by the same code, 0.815 and 0.945. So the
sentence did not hold. After the mends that its misses and those of the fourteenth generator led to
(flanks in steps, faces, loops in quarters, what bounds a ball, shading rows, rows in hollows,
flutes of drills):

    seeds                                before          after
    0 to 199 (all misses looked at)      0.870, 0.950    0.915, 0.975
    1000 to 1199 (to confirm)            0.815, 0.945    0.895, 0.995
    8000 to 8199 (never looked at)       0.815, 0.915    0.890, 0.980
    fourteenth, 5000 to 5199 (the same)  0.880, 0.975    0.900, 0.985

Three names of misses of the latter were printed by accident at 0.890, 0.995; what was changed after
that (how far apart the rows of faces may be) was for the seventh generator.

What is wrong or unfair here, left as it was scored: chamfers may be cut deeper than the cone of
their vee; petals are told by no width; radii of coves are not round; a bull nose finishes bowls in
rows nearly half as far apart as it is wide.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import numpy as np
from scipy.ndimage import grey_dilation, map_coordinates
from scipy.spatial import Voronoi
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box
from shapely.ops import linemerge, unary_union

from dryrun.job.model import Bit, Shape

INCH = 25.4
Rng = np.random.Generator
Points = np.ndarray


@dataclass(frozen=True, slots=True)
class Made:
    """A program and what it was made for."""

    text: bytes
    rack: tuple[Bit, ...]
    bit: Bit
    family: str


# ---------------------------------------------------------------- bits

SIZES: dict[Shape, dict[str, tuple[float, ...]]] = {
    "flat": {
        "mm": (1.0, 1.5, 2.0, 2.5, 3.0, 3.175, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 18.0, 22.0, 30.0),
        "in": tuple(INCH * s for s in (1 / 16, 1 / 8, 3 / 16, 1 / 4, 3 / 8, 1 / 2, 3 / 4, 1.0)),
    },
    "ball": {
        "mm": (1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 12.0),
        "in": tuple(INCH * s for s in (1 / 16, 1 / 8, 3 / 16, 1 / 4, 3 / 8, 1 / 2)),
    },
    "bull": {
        "mm": (4.0, 6.0, 8.0, 10.0, 12.0, 19.0, 25.0),
        "in": tuple(INCH * s for s in (1 / 4, 3 / 8, 1 / 2, 3 / 4, 1.0)),
    },
    "drill": {
        "mm": (1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 8.0, 10.0),
        "in": tuple(INCH * s for s in (1 / 16, 3 / 32, 1 / 8, 3 / 16, 1 / 4, 5 / 16)),
    },
}
WEIGHTS: dict[Shape, float] = {
    "flat": 0.36,
    "ball": 0.17,
    "vee": 0.15,
    "bull": 0.08,
    "taper-ball": 0.08,
    "taper-flat": 0.04,
    "drill": 0.08,
    "form": 0.04,
}
MOST: dict[Shape, int] = {
    "flat": 5,
    "ball": 3,
    "vee": 3,
    "bull": 2,
    "taper-ball": 2,
    "taper-flat": 1,
    "drill": 3,
    "form": 1,
}


def draw_bit(rng: Rng, shape: Shape, unit: str) -> Bit:
    """Draw a bit of a shape from what shops sell."""
    if shape in SIZES:
        d = float(rng.choice(SIZES[shape][unit]))
    else:
        d = float(
            rng.choice([3.175, 6.0, 6.35] if shape.startswith("taper") else [6.0, 12.0, 12.7])
        )
    flutes = int(rng.choice([1, 2, 2, 2, 3] if d < 12 else [2, 2, 3]))
    length = d * float(rng.uniform(2.4, 4.0)) if d < 16 else float(rng.uniform(8, 22))
    angle: float | None = None
    corner: float | None = None
    tip_radius: float | None = None
    tip_diameter: float | None = None
    profile: tuple[tuple[float, float, float], ...] = ()
    name = f"{shape} {d:.3f}"
    if shape == "vee":
        degrees = float(rng.choice([30, 45, 60, 60, 90, 90, 120]))
        angle, flutes = math.radians(degrees), 2
        length = d / 2 / math.tan(angle / 2)
        name = f"vee {degrees:.0f} {d:.3f}"
    elif shape == "drill":
        angle, flutes, length = math.radians(118), 2, d * float(rng.uniform(6, 10))
    elif shape == "bull":
        corner = float(rng.choice([0.5, 1.0, 1.5, 2.0, 3.0, 6.0]))
        corner = corner if corner <= 0.35 * d else 0.125 * d
        name += f" r{corner:.2f}"
    elif shape == "taper-ball":
        tip_radius = float(rng.choice([0.25, 0.5, 0.75, 1.0]))
        angle = math.radians(float(rng.choice([3.0, 4.5, 5.5, 7.0])))
        length = (d / 2 - tip_radius) / math.tan(angle)
        name += f" r{tip_radius:.2f}"
    elif shape == "taper-flat":
        tip_diameter = float(rng.choice([0.2, 0.3, 0.5, 0.8]))
        angle = math.radians(float(rng.choice([7.5, 10.0, 15.0])))
        length = (d / 2 - tip_diameter / 2) / math.tan(angle)
        name += f" t{tip_diameter:.2f}"
    elif shape == "form":
        r = d / 4
        profile = ((0.0, 0.0, 0.0), (r, 0.0, 0.0), (d / 2, d / 4, -d / 4))
        length = d / 4
    return Bit(
        name=name,
        shape=shape,
        diameter=d,
        angle=angle,
        corner_radius=corner,
        tip_radius=tip_radius,
        tip_diameter=tip_diameter,
        profile=profile,
        flutes=flutes,
        flute_length=length,
        shank=float(min((3.175, 6.0, 6.35, 8.0, 12.0), key=lambda s: abs(s - min(d, 12)))),
    )


def between(a: float, b: float) -> float:
    """How many times the larger is the smaller."""
    return max(a, b) / max(1e-9, min(a, b))


def told_apart(a: Bit, b: Bit) -> bool:
    """Whether an expert could tell work of one from work of the other."""
    square, pointed = ("flat", "bull"), ("vee", "taper-flat")
    if a.shape in square and b.shape in square:
        return between(a.diameter, b.diameter) >= 1.19
    if a.shape in ("ball", "taper-ball") and b.shape in ("ball", "taper-ball"):
        return between(2 * (a.tip_radius or a.radius), 2 * (b.tip_radius or b.radius)) >= 1.24
    if a.shape in pointed and b.shape in pointed:
        return between(included(a), included(b)) >= 1.24
    if a.shape == b.shape == "drill":
        return between(a.diameter, b.diameter) >= 1.29
    return True


def included(bit: Bit) -> float:
    """Included angle of a pointed bit, rad."""
    assert bit.angle is not None
    return bit.angle if bit.shape == "vee" else 2 * bit.angle


def fill_rack(rng: Rng, bit: Bit, unit: str) -> tuple[Bit, ...]:
    """Put seven others beside the bit, in any order."""
    rack = [bit]
    shapes = list(WEIGHTS)
    weights = np.array(list(WEIGHTS.values()))
    for _ in range(500):
        if len(rack) == 8:
            break
        shape = shapes[rng.choice(len(shapes), p=weights / weights.sum())]
        other = draw_bit(rng, shape, unit if rng.random() < 0.8 else str(rng.choice(["mm", "in"])))
        if sum(b.shape == shape for b in rack) < MOST[shape] and all(
            told_apart(other, b) and other.name != b.name for b in rack
        ):
            rack.append(other)
    order = rng.permutation(len(rack))
    return tuple(rack[i] for i in order)


# ---------------------------------------------------------------- a shop and its habits


@dataclass(frozen=True, slots=True)
class Shop:
    """Habits that hold for a whole program."""

    unit: str
    arcs: bool
    entry: str  # plunge, ramp, helix
    stepover: float  # share of the diameter
    bite: float  # depth of a pass as a share of the diameter
    climb: bool
    leads: bool
    allowance: float  # mm left for a wall pass; 0 none
    boldness: float  # factor on feeds
    safe: float
    near: float
    outward: bool  # rings of a pocket from the middle
    finish_at_bottom: bool


def draw_shop(rng: Rng) -> Shop:
    """Draw the habits of a shop."""
    unit = "in" if rng.random() < 0.3 else "mm"
    return Shop(
        unit=unit,
        arcs=bool(rng.random() < 0.6),
        entry=str(rng.choice(["plunge", "ramp", "helix"])),
        stepover=float(rng.choice([0.35, 0.4, 0.45, 0.5, 0.6, 0.7])),
        bite=float(rng.choice([0.25, 0.33, 0.4, 0.5, 0.5, 0.75, 1.0])),
        climb=bool(rng.random() < 0.7),
        leads=bool(rng.random() < 0.6),
        allowance=float(rng.choice([0, 0, 0.1, 0.2, 0.3, 0.5])),
        boldness=float(rng.uniform(0.6, 1.5)),
        safe=float(rng.choice([5, 8, 10, 12, 20]))
        if unit == "mm"
        else INCH * float(rng.choice([0.2, 0.25, 0.5])),
        near=float(rng.choice([0.5, 1.0, 2.0]))
        if unit == "mm"
        else INCH * float(rng.choice([0.02, 0.05, 0.1])),
        outward=bool(rng.random() < 0.6),
        finish_at_bottom=bool(rng.random() < 0.4),
    )


@dataclass(slots=True)
class Work:
    """The path as it grows: moves in mm from the front left corner of the board's top."""

    rng: Rng
    shop: Shop
    bit: Bit
    feed: float
    plunge: float
    speed: float
    moves: list[tuple[str, tuple[float, ...], float]] = field(default_factory=list)
    at: tuple[float, float, float] = (0.0, 0.0, 1e9)
    thickness: float = 18.0

    @property
    def d(self) -> float:
        """Diameter of the bit, mm."""
        return self.bit.diameter

    @property
    def r(self) -> float:
        """Radius of the bit, mm."""
        return self.bit.radius

    def lift(self, z: float | None = None) -> None:
        """Retract where it stands."""
        z = self.shop.safe if z is None else z
        if self.at[2] < z - 1e-9:
            self.rapid(self.at[0], self.at[1], z)

    def rapid(self, x: float, y: float, z: float) -> None:
        """Go fast."""
        self.at = (float(x), float(y), float(z))
        self.moves.append(("rapid", self.at, 0.0))

    def over(self, x: float, y: float, z: float | None = None) -> None:
        """Lift, go above a point and come down near the work (or near a height)."""
        self.lift()
        self.rapid(x, y, max(self.shop.safe, min(self.at[2], self.shop.safe)))
        self.rapid(x, y, self.shop.near if z is None else z + self.shop.near)

    def line(self, x: float, y: float, z: float, feed: float | None = None) -> None:
        """Cut straight."""
        if math.dist((x, y, z), self.at) < 1e-6:
            return
        steep = abs(z - self.at[2]) > 2 * math.dist((x, y), self.at[:2]) and z < self.at[2]
        feed = feed or (self.plunge if steep else self.feed)
        self.at = (float(x), float(y), float(z))
        self.moves.append(("line", self.at, feed))

    def arc(self, x: float, y: float, z: float, cx: float, cy: float, left: bool) -> None:
        """Cut along an arc, left (anticlockwise) or right."""
        self.at = (float(x), float(y), float(z))
        self.moves.append(("left" if left else "right", (*self.at, cx, cy), self.feed))

    def follow(self, points: Points, z: float) -> None:
        """Cut along points at a height, with arcs where the shop writes arcs."""
        if not self.shop.arcs:
            for x, y in points[1:]:
                self.line(x, y, z)
            return
        i = 0
        while i < len(points) - 1:
            j, circle = arc_from(points, i)
            if circle is None:
                self.line(*points[i + 1], z)
                i += 1
            else:
                self.arc(*points[j], z, circle[0], circle[1], circle[2])
                i = j

    def turn(self, cx: float, cy: float, radius: float, z0: float, z1: float, pitch: float) -> None:
        """Go down along a helix from where it stands on the circle's right, then once round."""
        turns = max(1, math.ceil((z0 - z1) / pitch - 1e-9))
        left = self.shop.climb
        for k in range(turns + 1):
            z = z0 + (z1 - z0) * min(1.0, (k + 1) / turns)
            self.circle(cx, cy, radius, z, left)

    def circle(self, cx: float, cy: float, radius: float, z: float, left: bool) -> None:
        """Go once round from the right of a circle, reaching a height at the end."""
        start = self.at[2]
        if self.shop.arcs:
            self.arc(cx - radius, cy, (start + z) / 2, cx, cy, left)
            self.arc(cx + radius, cy, z, cx, cy, left)
            return
        n = max(12, min(48, int(radius * 6)))
        for k in range(1, n + 1):
            a = 2 * math.pi * k / n * (1 if left else -1)
            self.line(
                cx + radius * math.cos(a),
                cy + radius * math.sin(a),
                start + (z - start) * k / n,
                self.feed,
            )


def arc_from(p: Points, i: int) -> tuple[int, tuple[float, float, bool] | None]:
    """Find how far points lie on one arc of equal chords, less than half a turn."""
    best, found = i + 1, None
    chord = math.dist(p[i], p[i + 1])
    equal = abs(np.hypot(*np.diff(p, axis=0).T) - chord) < 0.15 * chord + 1e-4
    j = i + 3
    while j < len(p) and equal[i:j].all():
        circle = circle_through(p[i], p[(i + j) // 2], p[j])
        if circle is None or circle[3] > 400:
            break
        away = np.hypot(p[i : j + 1, 0] - circle[0], p[i : j + 1, 1] - circle[1]) - circle[3]
        if abs(away).max() > 2e-3 or chord > 0.5 * circle[3] or (j - i) * chord > 3.0 * circle[3]:
            break
        best, found = j, circle[:3]
        j += 1
    return best, found


def circle_through(a: Points, b: Points, c: Points) -> tuple[float, float, bool, float] | None:
    """Give centre, way and radius of the circle through three points."""
    (ax, ay), (bx, by), (cx, cy) = a, b, c
    area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
    if abs(area) < 1e-7:
        return None
    b2, c2 = (bx - ax) ** 2 + (by - ay) ** 2, (cx - ax) ** 2 + (cy - ay) ** 2
    ux = ((cy - ay) * b2 - (by - ay) * c2) / (2 * area)
    uy = ((bx - ax) * c2 - (cx - ax) * b2) / (2 * area)
    return ax + ux, ay + uy, bool(area > 0), math.hypot(ux, uy)


# ---------------------------------------------------------------- shapes


def neat(work: Work, size: float) -> float:
    """Round a size as a drawing would have it."""
    if work.shop.unit == "in":
        return max(1, round(size / INCH * 16)) * INCH / 16
    return max(0.5, round(size * 2) / 2)


def bites(depth: float, most: float) -> list[float]:
    """Heights of the passes to a depth, equal bites."""
    n = max(1, math.ceil(depth / most - 1e-6))
    return [-depth * (k + 1) / n for k in range(n)]


def pieces(shape: Polygon | MultiPolygon) -> list[Polygon]:
    """Polygons of some size."""
    every = getattr(shape, "geoms", [shape])
    return [g for g in every if isinstance(g, Polygon) and g.area > 1e-3]


def wobble(rng: Rng, size: float) -> Polygon:
    """A free curve like a puddle."""
    a = np.linspace(0, 2 * math.pi, 72, endpoint=False)
    r = 1 + sum(rng.uniform(0.03, 0.22) / k * np.cos(k * a + rng.uniform(0, 7)) for k in (2, 3, 4))
    return Polygon(np.c_[size / 2 * r * np.cos(a), size / 2 * r * np.sin(a)])


def blocks(rng: Rng, size: float) -> Polygon:
    """A bracket: L, T, U or cross of rectangles."""
    w = size * rng.uniform(0.28, 0.42)
    h = size / 2
    arms = [
        box(-h, -h, -h + w, h),
        box(-h, -h, h, -h + w),
        box(h - w, -h, h, h * rng.uniform(0.2, 1)),
    ]
    arms.append(box(-w / 2, -h, w / 2, h))
    take = rng.choice(4, size=2, replace=False)
    return max(pieces(unary_union([arms[i] for i in take] + [arms[1]])), key=lambda p: p.area)


def gear(rng: Rng, size: float) -> Polygon:
    """A cog with few wide teeth."""
    n = int(rng.integers(5, 11))
    shape = Point(0, 0).buffer(size * 0.36, quad_segs=24)
    tooth = box(size * 0.25, -size * 0.6 / n, size * 0.5, size * 0.6 / n)
    return unary_union([shape] + [affinity.rotate(tooth, 360 * k / n, (0, 0)) for k in range(n)])


def heart(size: float) -> Polygon:
    """A heart."""
    t = np.linspace(0, 2 * math.pi, 80, endpoint=False)
    x, y = (
        16 * np.sin(t) ** 3,
        13 * np.cos(t) - 5 * np.cos(2 * t) - 2 * np.cos(3 * t) - np.cos(4 * t),
    )
    return Polygon(np.c_[x, y] * size / 34)


def star(rng: Rng, size: float) -> Polygon:
    """A star."""
    n = int(rng.integers(4, 9))
    a = np.arange(2 * n) * math.pi / n
    r = np.where(np.arange(2 * n) % 2, size * rng.uniform(0.25, 0.36), size / 2)
    return Polygon(np.c_[r * np.cos(a), r * np.sin(a)])


def shape_of(rng: Rng, size: float) -> Polygon:
    """Any outline about as large as asked, around the origin."""
    kind = rng.integers(9)
    if kind == 0:
        return wobble(rng, size)
    if kind == 1:
        return blocks(rng, size)
    if kind == 2:
        return gear(rng, size)
    if kind == 3:
        return heart(size)
    if kind == 4:
        return star(rng, size)
    if kind == 5:
        return Point(0, 0).buffer(size / 2, quad_segs=24)
    w, h = size / 2, size / 2 * rng.uniform(0.5, 1)
    if kind == 6:
        return box(-w, -h, w, h)
    if kind == 7:
        k = int(rng.integers(5, 9))
        a = np.arange(k) * 2 * math.pi / k
        return Polygon(np.c_[w * np.cos(a), w * np.sin(a)])
    c = min(w, h) * rng.uniform(0.15, 0.6)
    return box(-w + c, -h + c, w - c, h - c).buffer(c, quad_segs=16)


def softened(shape: Polygon, r: float) -> Polygon:
    """Give the inner corners of a pocket a round of a radius."""
    return max(
        pieces(shape.buffer(-r, quad_segs=12).buffer(r, quad_segs=12)),
        key=lambda p: p.area,
        default=shape,
    )


GLYPHS = {
    "A": [[(0, 0), (3, 8), (6, 0)], [(1.1, 3), (4.9, 3)]],
    "C": [[(6, 7), (4, 8), (2, 8), (0, 6), (0, 2), (2, 0), (4, 0), (6, 1)]],
    "E": [[(5, 8), (0, 8), (0, 0), (5, 0)], [(0, 4), (4, 4)]],
    "H": [[(0, 0), (0, 8)], [(6, 0), (6, 8)], [(0, 4), (6, 4)]],
    "I": [[(0, 0), (0, 8)]],
    "K": [[(0, 0), (0, 8)], [(5, 8), (0, 3.5)], [(1.6, 4.9), (5.5, 0)]],
    "L": [[(0, 8), (0, 0), (5, 0)]],
    "M": [[(0, 0), (0, 8), (3.5, 2), (7, 8), (7, 0)]],
    "N": [[(0, 0), (0, 8), (6, 0), (6, 8)]],
    "O": [[(3 + 3 * math.cos(a), 4 + 4 * math.sin(a)) for a in np.linspace(0, 2 * math.pi, 29)]],
    "R": [[(0, 0), (0, 8), (3.5, 8), (5, 7), (5, 5), (3.5, 4), (0, 4)], [(2.5, 4), (5.5, 0)]],
    "S": [
        [
            (5.5, 7),
            (4, 8),
            (1.5, 8),
            (0, 6.6),
            (0.6, 4.8),
            (5, 3.2),
            (5.5, 1.5),
            (4, 0),
            (1.5, 0),
            (0, 1),
        ]
    ],
    "T": [[(0, 8), (6, 8)], [(3, 8), (3, 0)]],
    "V": [[(0, 8), (3, 0), (6, 8)]],
    "Z": [[(0, 8), (6, 8), (0, 0), (6, 0)]],
}


def letters(rng: Rng, height: float, pen: float, count: int) -> list[Polygon]:
    """Letters in a row, drawn with a pen of a width, ends round, square or swelling."""
    style = rng.integers(3)
    x, made = 0.0, []
    for _ in range(count):
        strokes = GLYPHS[str(rng.choice(list(GLYPHS)))]
        ink = []
        for stroke in strokes:
            p = np.array(stroke) * height / 8 + [x, 0]
            if style == 2:
                ink.append(swelling(p, pen))
            else:
                ink.append(
                    LineString(p).buffer(
                        pen / 2,
                        cap_style="round" if style else "square",
                        join_style="round" if style else "mitre",
                        quad_segs=10,
                    )
                )
        letter = unary_union(ink)
        made += pieces(letter)
        x = letter.bounds[2] + pen * 0.8 + height * 0.12
    return made


def swelling(p: Points, pen: float) -> Polygon:
    """A stroke that swells from one end of each piece to the other."""
    parts = []
    for a, b in itertools.pairwise(p):
        parts.append(
            unary_union(
                [
                    Point(a).buffer(pen * 0.32, quad_segs=10),
                    Point(b).buffer(pen * 0.55, quad_segs=10),
                ]
            ).convex_hull
        )
    return unary_union(parts)


def spread(rng: Rng, shapes: list[Polygon], gap: float) -> list[Polygon]:
    """Lay shapes in a grid with gaps, the first corner near the origin."""
    across = max(1, math.ceil(math.sqrt(len(shapes))))
    cell = max(max(s.bounds[2] - s.bounds[0], s.bounds[3] - s.bounds[1]) for s in shapes) + gap
    laid = []
    for k, s in enumerate(shapes):
        s = affinity.rotate(s, float(rng.choice([0, 0, 0, 90, 30])), (0, 0))
        x, y = cell * (k % across + 0.6), cell * (k // across + 0.6)
        laid.append(affinity.translate(s, x, y))
    return laid


# ---------------------------------------------------------------- clearing


def outline(ring: LineString, climb: bool, rng: Rng | None = None) -> Points:
    """Points of a ring in the way of climb cutting for an inner wall, from a drawn start."""
    p = np.array(ring.coords)[:-1, :2]
    area = np.sum(p[:, 0] * np.roll(p[:, 1], -1) - np.roll(p[:, 0], -1) * p[:, 1])
    if (area > 0) != climb:
        p = p[::-1]
    start = int(rng.integers(len(p))) if rng is not None else 0
    long = np.argmax(np.hypot(*(np.roll(p, -1, 0) - p).T))
    p = np.roll(p, -(start if rng is not None and rng.random() < 0.3 else long), axis=0)
    return np.vstack([p, p[:1]])


def enter(work: Work, p: Points, z: float, top: float, room: Polygon) -> None:
    """Come down to a height at the start of a ring, as the shop does."""
    shop, r = work.shop, 0.4 * work.d
    x, y = p[0]
    if shop.entry == "helix" and room.buffer(-r * 0.98).contains(Point(x - r, y)):
        work.over(x, y, top)
        work.line(x, y, top + 0.2)
        work.turn(x - r, y, r, top + 0.2, z, 0.12 * work.d)
    elif shop.entry == "ramp" and len(p) > 2:
        work.over(x, y, top)
        work.line(x, y, top + 0.1)
        slope = math.tan(math.radians(4))
        q = ramp_points(p, (top + 0.1 - z) / slope)
        steps = np.r_[0, np.cumsum(np.hypot(*np.diff(q, axis=0).T))]
        for (a, b), s in zip(q[1:], steps[1:], strict=True):
            work.line(a, b, max(z, top + 0.1 - s * (top + 0.1 - z) / steps[-1]), 0.6 * work.feed)
        if math.dist(q[-1], p[0]) > 1e-6:
            for a, b in q[-2::-1]:
                work.line(a, b, z)
    else:
        work.over(x, y, top)
        work.line(x, y, z)


def ramp_points(p: Points, length: float) -> Points:
    """Points along a ring up to a length, to be gone there and back."""
    total = np.r_[0, np.cumsum(np.hypot(*np.diff(p, axis=0).T))]
    if total[-1] <= length:
        return np.vstack([p, p[-2::-1]]) if total[-1] < length / 2 else p
    k = int(np.searchsorted(total, length))
    t = (length - total[k - 1]) / (total[k] - total[k - 1])
    return np.vstack([p[:k], p[k - 1] + t * (p[k] - p[k - 1])])


def rings_in(work: Work, room: Polygon, step: float, z: float, top: float) -> None:
    """Clear a room for the bit's centre with rings."""
    shop = work.shop
    nest: list[Polygon] = []
    layer = pieces(room)
    while layer and len(nest) < 400:
        nest += layer
        layer = [q for one in layer for q in pieces(one.buffer(-step, quad_segs=8))]
    if shop.outward:
        nest = nest[::-1]
    down = False
    inner = room.buffer(1e-3)
    for one in nest:
        for ring in (one.exterior, *one.interiors):
            hole = ring is not one.exterior
            p = outline(ring, shop.climb != hole)
            if down:
                p = np.roll(p[:-1], -int(np.argmin(np.hypot(*(p[:-1] - work.at[:2]).T))), axis=0)
                p = np.vstack([p, p[:1]])
            link = LineString([work.at[:2], p[0]])
            if down and link.length < 2.5 * step and inner.contains(link):
                work.line(*p[0], z)
            else:
                enter(work, p, z, top, room)
            work.follow(p, z)
            down = True
    work.lift()


def rows_in(work: Work, room: Polygon, step: float, z: float, top: float, angle: float) -> None:
    """Clear a room for the bit's centre with rows there and back."""
    turned = affinity.rotate(room, -angle, (0, 0))
    x0, y0, x1, y1 = turned.bounds
    n = max(1, math.ceil((y1 - y0) / step))
    forward, down = True, False
    inner = room.buffer(1e-3)
    back = lambda q: np.array(affinity.rotate(LineString(q), angle, (0, 0)).coords)  # noqa: E731
    for k in range(n + 1):
        y = y0 + 1e-4 + (y1 - y0 - 2e-4) * k / n
        cut = turned.intersection(LineString([(x0 - 1, y), (x1 + 1, y)]))
        spans = [g for g in getattr(cut, "geoms", [cut]) if g.length > 1e-3]
        for span in spans if forward else spans[::-1]:
            q = back(sorted(span.coords, reverse=not forward))
            link = LineString([work.at[:2], q[0]])
            if down and link.length < 3 * step and inner.contains(link):
                work.line(*q[0], z)
            else:
                enter(work, q, z, top, room)
            work.line(*q[-1], z)
            down = True
        forward = not forward
    work.lift()


def wall(
    work: Work, ring: LineString, inside: bool, z: float, room: Polygon | None, top: float
) -> None:
    """Go once round a wall, with an arc to it and from it when there is room."""
    p = outline(ring, work.shop.climb if inside else not work.shop.climb, work.rng)
    a = (p[0] + p[1]) / 2
    way = (p[1] - p[0]) / max(1e-9, math.dist(p[0], p[1]))
    area = np.sum(p[:-1, 0] * p[1:, 1] - p[1:, 0] * p[:-1, 1])
    side = np.array([-way[1], way[0]]) * (1 if (area > 0) == inside else -1)
    lead = min(0.5 * work.d, 4.0)
    centre = a + side * lead
    start = centre - way * lead
    loop = np.vstack([[a], p[1:], [a]])
    fits = room is None or room.buffer(1e-3).contains(LineString([start, a, centre + way * lead]))
    if not (work.shop.leads and fits):
        work.over(*p[0], top)
        work.line(*p[0], z)
        work.follow(p, z)
        work.lift()
        return
    left = bool(way[0] * side[1] - way[1] * side[0] > 0)
    work.over(*start, top)
    work.line(*start, z)
    work.arc(*a, z, *centre, left)
    work.follow(loop, z)
    work.arc(*(centre + way * lead), z, *centre, left)
    work.lift()


def clear(
    work: Work, region: Polygon, depth: float, top: float = 0.0, rows: bool | None = None
) -> None:
    """Clear a pocket to a depth: rings or rows, pass by pass, and its walls."""
    shop, r = work.shop, work.r
    step = shop.stepover * work.d
    if work.bit.shape == "bull":
        step = min(step, 0.9 * (work.d - 2 * (work.bit.corner_radius or 0)))
    rows = bool(work.rng.random() < 0.35) if rows is None else rows
    left = shop.allowance if shop.allowance or not rows else 0.2
    angle = float(work.rng.choice([0, 0, 90, 45]))
    heights = bites(depth, shop.bite * work.d)
    for room in pieces(region.buffer(-r, quad_segs=16)):
        rough = pieces(room.buffer(-left)) if left else [room]
        for k, z in enumerate(heights):
            above = top + (heights[k - 1] if k else 0.0)
            for one in rough:
                if rows:
                    rows_in(work, one, step, top + z, above, angle)
                else:
                    rings_in(work, one, step, top + z, above)
            if left and (not shop.finish_at_bottom or k == len(heights) - 1):
                for ring in (room.exterior, *room.interiors):
                    wall(work, ring, ring is room.exterior, top + z, room, above)


def limit(work: Work, depth: float) -> float:
    """A depth the bit can reach, nice."""
    most = 0.95 * (work.bit.flute_length or 3 * work.d)
    return min(neat(work, depth), most)


# ---------------------------------------------------------------- jobs of flat bits


def pockets(work: Work) -> None:
    """Pockets of any outline, some with an island, corners sharp or round."""
    rng, d = work.rng, work.d
    count = int(rng.integers(1, 5))
    shapes = []
    for _ in range(count):
        shape = shape_of(rng, d * rng.uniform(4, 12))
        if rng.random() < 0.4:
            shape = softened(shape, work.r * rng.uniform(1.05, 1.6))
        if rng.random() < 0.3 and shape.area > 60 * d * d:
            shape = shape.difference(shape_of(rng, math.sqrt(shape.area) * 0.25))
        shapes += pieces(shape)[:1]
    depth = limit(work, rng.uniform(0.3, 1.8) * d)
    for shape in spread(rng, shapes, 2 * d):
        clear(work, shape, depth)


def raised(work: Work) -> None:
    """Letters that stand in a sunk ground."""
    rng, d = work.rng, work.d
    height = d * rng.uniform(6, 12)
    word = letters(rng, height, height * rng.uniform(0.12, 0.2), int(rng.integers(2, 6)))
    ground = unary_union(word).envelope.buffer(
        1.6 * d, join_style="mitre" if rng.random() < 0.5 else "round"
    )
    clear(work, ground.difference(unary_union(word)), limit(work, rng.uniform(0.3, 0.9) * d))


def sunk_word(work: Work) -> None:
    """Letters sunk with a small flat bit, their strokes somewhat wider than it."""
    rng, d = work.rng, work.d
    pen = d * rng.uniform(1.25, 2.6)
    for letter in letters(rng, pen * rng.uniform(4, 7), pen, int(rng.integers(4, 9))):
        clear(work, letter, limit(work, rng.uniform(0.3, 1.0) * d))


def tab_heights(p: Points, z: float, tab: float, length: float, count: int) -> Points:
    """Lift the path over tabs set evenly along it."""
    total = np.r_[0, np.cumsum(np.hypot(*np.diff(p, axis=0).T))]
    starts = total[-1] * (np.arange(count) + 0.3) / count
    cuts = np.sort(np.r_[total, starts, starts + 1e-3, starts + length, starts + length + 1e-3])
    xy = np.c_[np.interp(cuts, total, p[:, 0]), np.interp(cuts, total, p[:, 1])]
    on = [any(s < c - 5e-4 < s + length for s in starts) for c in cuts]
    return np.c_[xy, np.where(on, np.maximum(z, tab), z)]


def cut_outs(work: Work) -> None:
    """Parts cut out of a board, holes first, tabs over the last passes."""
    rng, d, shop = work.rng, work.d, work.shop
    thick = limit(work, rng.uniform(0.8, 2.6) * d)
    work.thickness = thick
    parts = [shape_of(rng, d * rng.uniform(8, 22)) for _ in range(int(rng.integers(1, 6)))]
    through = thick + float(rng.choice([0.0, 0.2, 0.5]))
    tabs = bool(rng.random() < 0.6)
    for part in spread(rng, parts, d + float(rng.uniform(2, 8))):
        if rng.random() < 0.6:
            hole = Point(part.representative_point()).buffer(
                d * rng.uniform(0.8, 1.6), quad_segs=24
            )
            if part.buffer(-d).contains(hole):
                bore(
                    work,
                    hole.centroid.x,
                    hole.centroid.y,
                    math.sqrt(hole.area / math.pi) * 2,
                    through,
                )
        inner = part.buffer(-d * 3)
        if not inner.is_empty and rng.random() < 0.25:
            for room in pieces(inner.buffer(-work.r)):
                for z in bites(through, shop.bite * d):
                    wall(work, room.exterior, True, z, room, 0.0)
        ring = part.buffer(work.r, quad_segs=16).exterior
        heights = bites(through, shop.bite * d)
        for k, z in enumerate(heights):
            if tabs and z < -thick + min(0.35 * thick, 3.0):
                p = outline(ring, not shop.climb, rng)
                q = tab_heights(p, z, -thick + min(0.35 * thick, 3.0), d + 4.0, 4)
                work.over(*q[0, :2], heights[k - 1] if k else 0.0)
                for x, y, h in q:
                    work.line(x, y, h)
                work.lift()
            else:
                wall(work, ring, False, z, None, heights[k - 1] if k else 0.0)


def bore(work: Work, x: float, y: float, size: float, depth: float) -> None:
    """A round hole by a helix, wider ones cleared ring by ring at each bite."""
    r = size / 2 - work.r
    if r < 0.05 * work.d:
        return
    first = min(r, 0.45 * work.d)
    pitch = min(work.shop.bite, 0.5) * work.d
    if r <= 0.5 * work.d:
        work.over(x + r, y)
        work.line(x + r, y, 0.2)
        work.turn(x, y, r, 0.2, -depth, pitch)
        work.line(x, y, -depth)
        work.lift()
        return
    radii = np.linspace(
        first, r, max(2, math.ceil((r - first) / (work.shop.stepover * work.d)) + 1)
    )
    top = 0.2
    for z in bites(depth, work.shop.bite * work.d):
        work.over(x + first, y, top)
        work.line(x + first, y, top)
        work.turn(x, y, first, top, z, pitch)
        for radius in radii[1:]:
            work.line(x + radius, y, z)
            work.circle(x, y, radius, z, work.shop.climb)
        work.line(x + first, y, z)
        work.lift()
        top = z


def bores(work: Work) -> None:
    """A plate of bored and counterbored holes."""
    rng, d = work.rng, work.d
    sizes = [
        neat(work, d * s)
        for s in rng.choice([1.25, 1.4, 1.6, 2.0, 2.4, 3.0, 4.0], size=int(rng.integers(1, 4)))
    ]
    depth = limit(work, rng.uniform(0.8, 2.4) * d)
    nx, ny = int(rng.integers(1, 5)), int(rng.integers(2, 5))
    for i in range(nx):
        for j in range(ny):
            x, y = (i + 1) * 6 * d, (j + 1) * 6 * d
            bore(work, x, y, max(1.2 * d, sizes[(i + j) % len(sizes)]), depth)
            if len(sizes) > 1 and sizes[0] > 1.5 * sizes[-1]:
                bore(work, x, y, sizes[0], depth * 0.4)


def mortises(work: Work) -> None:
    """Slots a bit wider than the bit, round ended or with corners relieved."""
    rng, d = work.rng, work.d
    w = neat(work, d * rng.uniform(1.2, 2.2))
    w = max(w, 1.15 * d)
    depth = limit(work, rng.uniform(0.8, 2.2) * d)
    for k in range(int(rng.integers(2, 7))):
        length = w * rng.uniform(2, 5)
        shape = box(-length / 2, -w / 2, length / 2, w / 2)
        if rng.random() < 0.5:
            shape = LineString([(-length / 2, 0), (length / 2, 0)]).buffer(w / 2, quad_segs=16)
        shape = affinity.rotate(shape, float(rng.choice([0, 0, 90, 45])), (0, 0))
        clear(
            work,
            affinity.translate(shape, 5 * w * (k % 3 + 1), 6 * w * (k // 3 + 1)),
            depth,
            rows=False,
        )


def finger_joint(work: Work) -> None:
    """Fingers along a board's edge, gaps wider than the bit, corners relieved by a dab."""
    rng, d = work.rng, work.d
    gap = neat(work, d * rng.uniform(1.3, 2.6))
    gap = max(gap, 1.2 * d)
    thick = limit(work, rng.uniform(0.8, 2.0) * d)
    work.thickness = thick
    reach = thick
    bone = bool(rng.random() < 0.7)
    slack = float(rng.choice([0.0, 0.1, 0.2]))
    count = int(rng.integers(3, 8))
    r = work.r
    for k in range(count):
        x0, x1 = gap * (2 * k + 1) - slack / 2 + r, gap * (2 * k + 2) + slack / 2 - r
        y1 = reach - r
        dab = r * (1 - 1 / math.sqrt(2)) * math.sqrt(2)
        for n, z in enumerate(bites(thick, work.shop.bite * d)):
            if n == 0:
                work.over(x0, -d, 0.0)
            else:
                work.lift(work.shop.near)
                work.rapid(x0, -d, work.shop.near)
            work.line(x0, -d, z)
            work.line(x0, y1, z)
            if bone:
                work.line(x0 - dab / math.sqrt(2), y1 + dab / math.sqrt(2), z)
                work.line(x0, y1, z)
            inner = np.linspace(x0, x1, max(2, math.ceil((x1 - x0) / (0.6 * d)) + 1))
            up = True
            for x in inner[1:]:
                end = y1 if up else -d
                work.line(x, work.at[1], z)
                if x < x1 - 1e-6:
                    end = -d if up else y1
                    work.line(x, end, z)
                    up = not up
            if work.at[1] < 0:
                work.line(x1, y1, z)
            if bone:
                work.line(x1 + dab / math.sqrt(2), y1 + dab / math.sqrt(2), z)
                work.line(x1, y1, z)
            work.line(x1, -d, z)
        work.lift()


def facing(work: Work) -> None:
    """Skim a board: rows with the bit over the edges, or rings from outside."""
    rng, d = work.rng, work.d
    w, h = d * rng.uniform(7, 20), d * rng.uniform(6, 16)
    step = float(rng.choice([0.4, 0.5, 0.6, 0.7, 0.8])) * d
    over = float(rng.choice([0.0, 0.25, 0.5, 0.6])) * d
    depth = float(rng.choice([0.3, 0.5, 0.8, 1.0]))
    passes = int(rng.integers(1, 4))
    room = box(-over, -over, w + over, h + over)
    one_way = bool(rng.random() < 0.25)
    for k in range(passes):
        z = -depth * (k + 1)
        if rng.random() < 0.25:
            work.over(-over - d, -over)
            rings_in(work, room, step, z, 0.0)
            continue
        rows = np.arange(-over, h + over + step * 0.4, step)
        for i, y in enumerate(rows):
            a, b = (-over, w + over) if one_way or i % 2 == 0 else (w + over, -over)
            if i == 0 or one_way:
                work.over(a - d * 0.6, y)
                work.line(a - d * 0.6, y, z)
            work.line(a, y, z)
            work.line(b, y, z)
        work.lift()


def trochoid(work: Work) -> None:
    """Slots and outlines cleared with small loops, deep and with a thin bite."""
    rng, d = work.rng, work.d
    width = d * rng.uniform(1.3, 1.9)
    r = (width - d) / 2
    pitch = d * float(rng.choice([0.06, 0.08, 0.1, 0.15, 0.2]))
    depth = limit(work, d * rng.uniform(0.8, 2.0))
    heights = bites(depth, d * rng.uniform(0.8, 2.2))
    for k in range(int(rng.integers(1, 4))):
        length = d * rng.uniform(4, 10)
        angle = float(rng.choice([0, 90, 30]))
        line = affinity.rotate(LineString([(0, 0), (length, 0)]), angle, (0, 0))
        line = affinity.translate(line, d * 3 * (k + 1), d * 2 + k * d * 4)
        if rng.random() < 0.3:
            line = affinity.translate(wobble(rng, d * 6), d * 6 + k * 9 * d, d * 6).exterior
        for n, z in enumerate(heights):
            x, y = line.coords[0]
            work.over(x + r, y, heights[n - 1] if n else 0.0)
            top = (heights[n - 1] if n else 0.0) + 0.2
            work.line(x + r, y, top)
            work.turn(x, y, r, top, z, 0.15 * d)
            for s in np.arange(pitch, line.length, pitch):
                p = line.interpolate(s)
                work.line(p.x + r, p.y, z)
                work.circle(p.x, p.y, r, z, work.shop.climb)
            work.lift()


def peeled(work: Work) -> None:
    """A pocket peeled: a deep helix in the middle, then thin crescents outward, a wall pass."""
    rng, d = work.rng, work.d
    shape = softened(shape_of(rng, d * rng.uniform(4, 7)), work.r * rng.uniform(1.1, 1.5))
    bite = d * float(rng.choice([0.08, 0.1, 0.12, 0.18, 0.25]))
    depth = limit(work, d * rng.uniform(0.7, 1.6))
    shape = affinity.translate(shape, d * 5, d * 5)
    for room in pieces(shape.buffer(-work.r)):
        inside = room.buffer(-0.2)
        nest = []
        while pieces(inside):
            inside = max(pieces(inside), key=lambda p: p.area)
            nest.append(inside)
            inside = inside.buffer(-bite)
        p = outline(nest[-1].exterior, work.shop.climb)
        x, y = nest[-1].representative_point().coords[0]
        r = min(0.4 * d, 0.9 * room.exterior.distance(Point(x, y)))
        work.over(x + r, y)
        work.line(x + r, y, 0.2)
        work.turn(x, y, r, 0.2, -depth, 0.1 * d)
        for one in nest[::-1]:
            p = outline(one.exterior, work.shop.climb)
            p = np.roll(p[:-1], -int(np.argmin(np.hypot(*(p[:-1] - work.at[:2]).T))), axis=0)
            work.line(*p[0], -depth)
            work.follow(np.vstack([p, p[:1]]), -depth)
        work.lift()
        wall(work, room.exterior, True, -depth, room, 0.0)


def inlay(work: Work) -> None:
    """A pocket and the plug that fits it, every corner round enough for the bit."""
    rng, d = work.rng, work.d
    r = work.r * rng.uniform(1.02, 1.15)
    shape = shape_of(rng, d * rng.uniform(6, 14))
    shape = softened(shape, r).buffer(r, quad_segs=12).buffer(-r, quad_segs=12)
    depth = limit(work, d * rng.uniform(0.4, 1.2))
    shapes = spread(rng, [shape, affinity.scale(shape, -1, 1, origin=(0, 0))], 5 * d)
    for one in pieces(shapes[0])[:1]:
        clear(work, one, depth, rows=bool(rng.random() < 0.3))
    for one in pieces(shapes[1])[:1]:
        plug = one.buffer(-float(rng.choice([0.05, 0.1, 0.15])))
        if rng.random() < 0.5:
            clear(work, plug.buffer(2.6 * d).difference(plug), depth * 0.9, rows=False)
        else:
            for z in bites(depth * 1.1, work.shop.bite * d):
                wall(work, plug.buffer(work.r, quad_segs=12).exterior, False, z, None, 0.0)


def terraces(work: Work) -> None:
    """A hill in steps, each level cleared around the next."""
    rng, d = work.rng, work.d
    hill = wobble(rng, d * rng.uniform(4, 6))
    rise = d * rng.uniform(0.15, 0.4)
    count = int(rng.integers(2, 5))
    outer = hill.buffer(d * rng.uniform(1.1, 1.6) * count)
    frame = outer.envelope
    keep = [hill.buffer(d * rng.uniform(1.1, 1.5) * k) for k in range(count)]
    for k in range(count):
        clear(
            work, affinity.translate(frame.difference(keep[k]), 60, 60), rise, -rise * k, rows=False
        )


def rough_relief(work: Work) -> None:
    """Roughing of a carving, level by level around it."""
    rng, d = work.rng, work.d
    tall = limit(work, d * rng.uniform(0.8, 1.8))
    size = d * rng.uniform(5, 8)
    hills = [
        (wobble(rng, size * rng.uniform(0.4, 0.8)), rng.uniform(-0.2, 0.2, 2) * size)
        for _ in range(2)
    ]
    frame = box(-0.8 * size, -0.8 * size, 0.8 * size, 0.8 * size)
    for z in bites(tall, work.shop.bite * d):
        grown = [
            affinity.translate(h, *at).buffer(-z * rng.uniform(0.2, 0.6) + 0.4) for h, at in hills
        ]
        region = affinity.translate(frame.difference(unary_union(grown)), size, size)
        heights = work.shop.bite * d
        for one in pieces(region.buffer(-work.r)):
            rings_in(work, one, work.shop.stepover * d, z, min(0.0, z + heights))


# ---------------------------------------------------------------- reliefs


def edge_of(bit: Bit, r: Points) -> Points:
    """Height of a bit's outside above its tip at a distance from its axis; huge beyond it."""
    high = np.full_like(r, 1e6)
    ball = bit.tip_radius or (bit.radius if bit.shape == "ball" else 0.0)
    if bit.shape == "taper-ball":
        assert bit.angle is not None
        touch = ball * math.cos(bit.angle)
        low = ball - np.sqrt(np.maximum(0, ball**2 - r**2))
        cone = ball - ball * math.sin(bit.angle) + (r - touch) / math.tan(bit.angle)
        return np.where(r <= touch, low, np.where(r <= bit.radius, cone, high))
    if bit.shape == "bull":
        c = bit.corner_radius or 0.0
        beyond = np.maximum(0, r - (bit.radius - c))
        return np.where(r <= bit.radius, c - np.sqrt(np.maximum(0, c**2 - beyond**2)), high)
    if bit.shape == "ball":
        return np.where(r <= ball, ball - np.sqrt(np.maximum(0, ball**2 - r**2)), high)
    return np.where(r <= bit.radius, 0.0, high)


def motif(rng: Rng, x: Points, y: Points, deep: float) -> Points:
    """Heights between 0 and -deep over the unit square: shells, waves, domes, leaves."""
    kind = rng.integers(5)
    r, a = np.hypot(x, y), np.arctan2(y, x)
    if kind == 0:
        h = np.cos(rng.integers(5, 12) * a) * r * (1 - r) * 2
    elif kind == 1:
        h = np.sin(x * rng.uniform(5, 12) + 2 * np.sin(y * 3)) * 0.5
    elif kind == 2:
        h = sum(
            np.exp(-((x - u) ** 2 + (y - v) ** 2) * rng.uniform(8, 40))
            for u, v in rng.uniform(-0.7, 0.7, (5, 2))
        )
    elif kind == 3:
        h = np.maximum(0, 1 - r) ** 0.5 + 0.15 * np.cos(r * rng.uniform(12, 24))
    else:
        h = -np.abs(y - 0.3 * np.sin(3 * x)) + 0.2 * np.abs(np.sin(8 * (x + np.abs(y))))
    h = (h - h.min()) / (np.ptp(h) + 1e-9)
    return (h - 1) * deep


def rdp(p: Points, off: float) -> Points:
    """Leave out points that lie within a distance of the line between those kept."""
    keep = np.zeros(len(p), bool)
    keep[[0, -1]] = True
    todo = [(0, len(p) - 1)]
    while todo:
        i, j = todo.pop()
        if j - i < 2:
            continue
        way = p[j] - p[i]
        rel = p[i + 1 : j] - p[i]
        t = np.clip(rel @ way / max(1e-12, way @ way), 0, 1)
        away = np.linalg.norm(rel - t[:, None] * way, axis=1)
        k = int(np.argmax(away))
        if away[k] > off:
            keep[i + 1 + k] = True
            todo += [(i, i + 1 + k), (i + 1 + k, j)]
    return p[keep]


def rolled(
    work: Work, size: float, cell: float, height: Callable[[Points, Points], Points]
) -> Points:
    """Where the tip may go above a field of heights, in a square grid."""
    n = int(size / cell) + 1
    c = np.linspace(-1.25, 1.25, int(n * 1.25))
    x, y = np.meshgrid(c, c, indexing="ij")
    field_ = height(x, y)
    cell = size / 2 * (c[1] - c[0])
    reach = math.ceil(work.r / cell)
    if work.bit.shape == "taper-ball":
        assert work.bit.angle is not None
        reach = math.ceil(
            ((work.bit.tip_radius or 0) + np.ptp(field_) * math.tan(work.bit.angle)) / cell
        )
    k = np.arange(-reach, reach + 1) * cell
    shape = -edge_of(work.bit, np.hypot(*np.meshgrid(k, k)))
    return grey_dilation(field_, structure=shape, mode="nearest")


def tip_of(bit: Bit) -> float:
    """Diameter that leaves the scallops, mm."""
    return 2 * (bit.tip_radius or bit.radius)


def relief(work: Work) -> None:
    """A carving in a sunk square or round, finished row by row."""
    rng, bit = work.rng, work.bit
    tip = tip_of(bit)
    size = tip * rng.uniform(9, 18)
    deep = min(size * rng.uniform(0.08, 0.2), 0.9 * (bit.flute_length or 10))
    round_rim = rng.random() < 0.4
    seed = int(rng.integers(2**31))

    def height(x: Points, y: Points) -> Points:
        h = motif(np.random.default_rng(seed), x, y, deep)
        out = np.hypot(x, y) > 1 if round_rim else np.maximum(abs(x), abs(y)) > 1
        return np.where(out, 0.0, h)

    cell = tip / (18 if bit.shape == "taper-ball" else 14)
    z = rolled(work, size, cell, height)
    step = scallop_step(work)
    edge = 1.0 + (0.4 * tip / size if rng.random() < 0.5 else -0.3 * tip / size)
    rows = np.arange(-edge, edge, 2 * step / size)
    along = np.arange(-edge, edge, 1.2 * cell / size)
    swap = rng.random() < 0.5
    scale = (len(z) - 1) / 2.5
    for k, v in enumerate(rows):
        u = along if k % 2 == 0 else along[::-1]
        v = np.full_like(u, v)
        x, y = (v, u) if swap else (u, v)
        inside = np.hypot(x, y) < edge if round_rim else np.ones_like(x, bool)
        x, y = x[inside], y[inside]
        if len(x) < 2:
            continue
        h = map_coordinates(z, [(x + 1.25) * scale, (y + 1.25) * scale], order=1)
        p = rdp(np.c_[(x + 1.2) * size / 2, (y + 1.2) * size / 2, h], 0.01)
        if work.moves and math.dist(work.at[:2], p[0, :2]) < 4 * step:
            work.line(*p[0])
        else:
            work.over(*p[0, :2])
            work.line(*p[0])
        for q in p[1:]:
            work.line(*q, work.feed)
    work.lift()


def scallop_step(work: Work) -> float:
    """The step between finishing rows."""
    rng, tip = work.rng, tip_of(work.bit)
    if work.bit.shape == "bull":
        return float(rng.choice([0.12, 0.2, 0.3])) * work.d
    if rng.random() < 0.6:
        return float(rng.choice([0.08, 0.1, 0.12, 0.15, 0.2])) * tip
    return math.sqrt(4 * tip * float(rng.choice([0.01, 0.02, 0.03, 0.05])))


def bowl(work: Work) -> None:
    """A bowl with a flat or round bottom, finished along rings or one spiral."""
    rng, bit = work.rng, work.bit
    tip = tip_of(bit)
    radius = tip * rng.uniform(3, 7)
    deep = min(radius * rng.uniform(0.25, 0.6), 0.9 * (bit.flute_length or 10))
    lip = rng.uniform(1.5, 4)

    def height(s: Points) -> Points:
        return np.where(s < radius, -deep * (1 - (np.minimum(s, radius) / radius) ** lip), 0.0)

    s = np.arange(0, radius * 1.15, radius / 400)
    off = np.arange(-work.r, work.r, work.r / 60)
    rise = edge_of(bit, abs(off))
    tipz = np.array([np.max(height(abs(v + off)) - rise) for v in s])
    step = scallop_step(work) * (1.5 if bit.shape == "bull" else 1.0)
    inset = work.r if rng.random() < 0.7 else 0.0
    x0 = y0 = radius + 10
    out = radius - inset + step
    if rng.random() < 0.5:
        turns = out / step
        a = np.arange(0, turns * 2 * math.pi, math.radians(9))
        rr = out * (1 - a / a[-1])
        p = np.c_[x0 + rr * np.cos(a), y0 + rr * np.sin(a), np.interp(rr, s, tipz)]
        work.over(*p[0, :2])
        for q in p:
            work.line(*q, work.feed)
    else:
        for k, rr in enumerate(np.arange(out, step / 2, -step)):
            z = float(np.interp(rr, s, tipz))
            if k == 0:
                work.over(x0 + rr, y0)
            work.line(x0 + rr, y0, z)
            work.circle(x0, y0, rr, z, work.shop.climb)
    work.lift()


def waterline(work: Work) -> None:
    """The steep side of a boss gone round level by level with a ball."""
    rng, r = work.rng, tip_of(work.bit) / 2
    base = wobble(rng, r * rng.uniform(10, 20))
    tall = min(r * rng.uniform(2.0, 4.0), 0.9 * (work.bit.flute_length or 10))
    step = r * float(rng.choice([0.08, 0.12, 0.16, 0.25]))
    top_width = r * rng.uniform(0.5, 2.0)
    first = True
    for depth in np.arange(step, tall, step):
        t = depth / tall  # a side like a quarter of an ellipse
        inward = top_width * (1 - math.sqrt(1 - t * t))
        across = top_width * t / max(0.05, math.sqrt(1 - t * t)) / tall
        n = np.array([1.0, across]) / math.hypot(1.0, across)
        ring = base.buffer(-top_width + inward + r * n[0], quad_segs=8)
        p = outline(max(pieces(ring), key=lambda q: q.area).exterior, not work.shop.climb)
        z = -depth + r * n[1] - r
        p = p + base.bounds[2] + 15
        p = np.vstack([rdp(p, 0.01)])
        if first:
            work.over(*p[0])
        work.line(*p[0], z)
        for q in p[1:]:
            work.line(*q, z)
        first = False
    work.lift()


def coves(work: Work) -> None:
    """Wide coves in a board, rows across each round hollow."""
    rng, r = work.rng, work.r
    hollow = r * rng.uniform(1.3, 3.0)
    deep = hollow * rng.uniform(0.4, 0.9)
    length = r * rng.uniform(10, 24)
    count = int(rng.integers(2, 5))
    step = scallop_step(work) / hollow
    half = math.acos(1 - deep / hollow)
    wide = 2 * hollow * math.sin(half) + r * rng.uniform(0.5, 2)
    for c in range(count):
        x0 = wide * (c + 1)
        angles = np.arange(-half, half + step / 2, step)
        for k, a in enumerate(angles):
            x = x0 + (hollow - r) * math.sin(a)
            z = hollow - deep - (hollow - r) * math.cos(a) - r
            ends = (5.0, 5.0 + length) if k % 2 == 0 else (5.0 + length, 5.0)
            if k == 0:
                work.over(x, ends[0])
            work.line(x, ends[0], z)
            work.line(x, ends[1], z)
        work.lift()


# ---------------------------------------------------------------- vees


def middle(shape: Polygon, gap: float) -> list[Points]:
    """Middle lines of a shape with the distance to its edge as third column."""
    p = np.vstack([densed(r, gap) for r in (shape.exterior, *shape.interiors)])
    vor = Voronoi(p)
    inner = shape.buffer(-1e-6)
    v = vor.vertices
    near = np.hypot(*(v - p.mean(0)).T) < 1e4
    inside = np.array([bool(n) and inner.contains(Point(q)) for q, n in zip(v, near, strict=True)])
    kept = []
    for (a, b), (i, j) in zip(vor.ridge_points, vor.ridge_vertices, strict=True):
        if i < 0 or not (inside[i] and inside[j]):
            continue
        far = np.hypot(*(p[a] - (v[i] + v[j]) / 2))
        if np.hypot(*(p[a] - p[b])) > 0.8 * far and math.dist(v[i], v[j]) > 1e-7:
            kept.append(LineString([v[i], v[j]]))
    lines = linemerge(kept)
    made = []
    for line in getattr(lines, "geoms", [lines]):
        q = np.array(line.coords)
        away = np.array([shape.exterior.distance(Point(c)) for c in q])
        for hole in shape.interiors:
            away = np.minimum(away, [hole.distance(Point(c)) for c in q])
        if line.length > 1.5 * gap:
            made.append(np.c_[q, away])
    return made


def densed(ring: LineString, gap: float) -> Points:
    """Points along a ring, corners kept."""
    p = np.array(ring.coords)[:, :2]
    out = []
    for a, b in itertools.pairwise(p):
        n = max(1, round(math.dist(a, b) / gap))
        out.append(a + (b - a) * np.arange(n)[:, None] / n)
    return np.vstack(out)


def vee_cut(work: Work, shapes: Iterable[Polygon], bites_: int) -> None:
    """Carve shapes with a vee whose flanks run to their edges."""
    assert work.bit.angle is not None
    slope = math.tan(work.bit.angle / 2)
    most = 0.95 * work.r
    for shape in shapes:
        size = math.sqrt(shape.area)
        lines = middle(shape, max(0.15, size / 50))
        full = max((line[:, 2].max() for line in lines), default=0.0)
        for k in range(bites_):
            floor = -min(full, most) / slope * (k + 1) / bites_
            for line in sorted(lines, key=lambda q: tuple(q[0])):
                z = np.maximum(-np.minimum(line[:, 2], most) / slope, floor)
                p = rdp(np.c_[line[:, :2], z], 0.01)
                if math.dist(work.at[:2], p[-1, :2]) < math.dist(work.at[:2], p[0, :2]):
                    p = p[::-1]
                if math.dist(work.at, p[0]) > 0.3:
                    work.over(*p[0, :2])
                for q in p:
                    work.line(*q)
            work.lift()


def vee_word(work: Work) -> None:
    """A word carved with a vee."""
    rng = work.rng
    height = work.d * rng.uniform(1.5, 4)
    pen = min(height * rng.uniform(0.1, 0.2), 0.85 * work.d)
    vee_cut(work, letters(rng, height, pen, int(rng.integers(3, 9))), int(rng.choice([1, 1, 2])))


def ornament(work: Work) -> None:
    """Leaves, stars and hearts carved with a vee, as a chip carver would."""
    rng, d = work.rng, work.d
    petals = int(rng.integers(5, 12))
    length, bulge = d * rng.uniform(1.5, 3.0), d * rng.uniform(0.2, 0.4)
    t = np.linspace(0, 1, 20)
    side = bulge * np.sin(math.pi * t) ** 0.9
    leaf = Polygon(
        np.vstack([np.c_[t * length, side], np.c_[t[::-1] * length, -side[::-1]]])
    ).buffer(0)
    away = affinity.translate(leaf, length * 0.3 + d * 0.2, 0)
    shapes = [affinity.rotate(away, 360 * k / petals, (0, 0)) for k in range(petals)]
    if rng.random() < 0.5:
        small = star(rng, min(1.2 * d, 0.5 * length))
        shapes += [
            affinity.rotate(affinity.translate(small, 2.2 * length + d, 0), 45 * k, (0, 0))
            for k in range(8)
        ]
    shapes = [affinity.translate(s, 3 * length + 2 * d, 3 * length + 2 * d) for s in shapes]
    vee_cut(work, [q for s in shapes for q in pieces(s)], 1)


def plaque(work: Work) -> None:
    """A word in vee lettering and a chamfer around it."""
    vee_word(work)
    rng = work.rng
    assert work.bit.angle is not None
    slope = math.tan(work.bit.angle / 2)
    x0, y0, x1, y1 = (
        -work.d,
        -work.d,
        max(m[1][0] for m in work.moves) + work.d,
        max(m[1][1] for m in work.moves) + work.d,
    )
    w = min(0.4 * work.d, neat(work, 0.25 * work.d))
    frame = box(x0, y0, x1, y1)
    for k in range(int(rng.integers(1, 3))):
        wall(work, frame.exterior, False, -(w * (k + 1) / 2 + 0.1 * work.d) / slope, None, 0.0)


def flanks(work: Work) -> None:
    """Wide chamfers around parts and holes, cut in steps down along the slope."""
    rng, d = work.rng, work.d
    assert work.bit.angle is not None
    slope = math.tan(work.bit.angle / 2)
    wide = d * rng.uniform(0.3, 0.9)
    steps = int(rng.integers(3, 7))
    shapes = spread(
        rng, [shape_of(rng, d * rng.uniform(3, 7)) for _ in range(int(rng.integers(1, 4)))], 3 * d
    )
    for shape in shapes:
        inside = bool(rng.random() < 0.4)
        for k in range(1, steps + 1):
            w = wide * k / steps
            ring = shape.buffer(wide - w if inside else -wide + w, quad_segs=12)
            for one in pieces(ring)[:1]:
                wall(work, one.exterior, inside, -w / slope, None, 0.0)


# ---------------------------------------------------------------- engraving, drilling


def hatched(work: Work) -> None:
    """A plate engraved with a small pointed tip: letters filled with lines and gone round."""
    rng, bit = work.rng, work.bit
    assert bit.angle is not None
    tip = bit.tip_diameter or 0.2
    depth = float(rng.choice([0.15, 0.2, 0.3, 0.4]))
    wide = tip / 2 + depth * math.tan(bit.angle)
    pen = wide * rng.uniform(4, 8)
    step = tip * float(rng.choice([0.4, 0.5, 0.6, 0.8]))
    for letter in letters(rng, pen * rng.uniform(4, 6), pen, int(rng.integers(2, 6))):
        for room in pieces(letter.buffer(-wide)):
            if rng.random() < 0.6:
                rows_in(work, room, step, -depth, 0.0, 0.0)
                for ring in (room.exterior, *room.interiors):
                    wall(work, ring, ring is room.exterior, -depth, room, 0.0)
            else:
                rings_in(work, room, step, -depth, 0.0)


def drilling(work: Work) -> None:
    """Holes in rows, in circles and at corners, pecked."""
    rng, d = work.rng, work.d
    point = d / 2 / math.tan(math.radians(59))
    deep = neat(work, d * rng.uniform(1.5, 5)) + (point if rng.random() < 0.6 else 0.0)
    peck = d * float(rng.choice([0.5, 0.75, 1.0, 1.5]))
    kind = rng.integers(3)
    pitch = d * rng.uniform(2.5, 8)
    if kind == 0:
        at = [
            (pitch * (i + 1), pitch * (j + 1))
            for j in range(int(rng.integers(3, 9)))
            for i in range(int(rng.integers(3, 9)))
        ]
    elif kind == 1:
        n = int(rng.integers(8, 25))
        ring = pitch * n / 6
        at = [
            (ring * (1.2 + math.cos(6.2832 * k / n)), ring * (1.2 + math.sin(6.2832 * k / n)))
            for k in range(n)
        ]
    else:
        at = [
            (32.0 + side, 32.0 * (k + 1))
            for side in (0.0, 37.0, 200.0)
            for k in range(int(rng.integers(4, 14)))
        ]
    for x, y in at:
        work.over(x, y)
        z = 0.0
        while z > -deep + 1e-6:
            if z < 0:
                work.rapid(x, y, z + 0.3)
            z = max(-deep, z - peck)
            work.line(x, y, z, work.plunge)
            work.rapid(x, y, work.shop.near if rng.random() < 0.9 else z + 0.5)
        work.lift()


# ---------------------------------------------------------------- the text

JOBS: tuple[tuple[str, Callable[[Work], None], Shape, tuple[float, float], float], ...] = (
    ("pockets", pockets, "flat", (1.5, 13), 10),
    ("pockets", pockets, "bull", (3.5, 20), 2),
    ("raised", raised, "flat", (1.4, 7), 4),
    ("sunk word", sunk_word, "flat", (0.9, 5), 4),
    ("cut-outs", cut_outs, "flat", (1.4, 10), 8),
    ("bores", bores, "flat", (1.9, 13), 5),
    ("mortises", mortises, "flat", (2.9, 13), 4),
    ("fingers", finger_joint, "flat", (1.9, 10), 4),
    ("facing", facing, "flat", (11, 31), 5),
    ("loops", trochoid, "flat", (1.9, 10), 4),
    ("peeled", peeled, "flat", (2.9, 13), 3),
    ("inlay", inlay, "flat", (0.9, 7), 5),
    ("terraces", terraces, "flat", (2.9, 13), 2),
    ("terraces", terraces, "bull", (3.5, 20), 1),
    ("roughing", rough_relief, "flat", (3.0, 13), 3),
    ("roughing", rough_relief, "bull", (3.5, 20), 1),
    ("relief", relief, "ball", (0.9, 13), 6),
    ("relief", relief, "taper-ball", (3, 7), 5),
    ("relief", relief, "bull", (3.5, 13), 2),
    ("bowl", bowl, "ball", (2.9, 13), 3),
    ("bowl", bowl, "bull", (5, 26), 2),
    ("waterline", waterline, "ball", (1.9, 13), 2),
    ("coves", coves, "ball", (1.9, 13), 3),
    ("vee word", vee_word, "vee", (5, 13), 7),
    ("ornament", ornament, "vee", (5, 13), 4),
    ("plaque", plaque, "vee", (5, 13), 2),
    ("flanks", flanks, "vee", (5, 13), 3),
    ("hatched", hatched, "taper-flat", (3, 7), 3),
    ("drilling", drilling, "drill", (1, 11), 6),
)


def write(work: Work) -> bytes:
    """Write the program in the shop's unit, zero and manner."""
    rng, shop = work.rng, work.shop
    unit = INCH if shop.unit == "in" else 1.0
    places = int(rng.choice([3, 4]) if unit == 1.0 else rng.choice([4, 5]))
    raise_ = work.thickness if rng.random() < 0.2 else 0.0
    ends = np.array([m[1][:2] for m in work.moves])
    shift = -(ends.min(0) + ends.max(0)) / 2 if rng.random() < 0.4 else np.zeros(2)
    shift = np.round(shift)
    modal = bool(rng.random() < 0.7)
    numbered = bool(rng.random() < 0.2)
    text = [
        "G20" if unit == INCH else "G21",
        "G90 G17 G94",
        f"({rng.choice(['job', 'part', 'op'])} {int(rng.integers(1, 99))})",
    ]
    if rng.random() < 0.5:
        text.append(f"T{int(rng.integers(1, 20))} M6")
    text += [f"S{work.speed:.0f} M3", f"G0 Z{num((shop.safe + raise_) / unit, places)}"]
    last: dict[str, str] = {}
    for kind, at, feed in work.moves:
        words = {
            "G": {"rapid": "0", "line": "1", "left": "3", "right": "2"}[kind],
            "X": num((at[0] + shift[0]) / unit, places),
            "Y": num((at[1] + shift[1]) / unit, places),
            "Z": num((at[2] + raise_) / unit, places),
        }
        if kind != "rapid":
            words["F"] = num(feed / unit, 1)
        fixed = ""
        if kind in ("left", "right"):
            x, y = float(last["X"]) * unit - shift[0], float(last["Y"]) * unit - shift[1]
            fixed = f" I{num((at[3] - x) / unit, places)} J{num((at[4] - y) / unit, places)}"
        keep = [k for k, v in words.items() if last.get(k) != v or (k == "G" and not modal)]
        if not fixed and not set(keep) & set("XYZ"):
            continue
        if fixed and not set(keep) & set("XY"):
            keep += ["X", "Y"]
        line = " ".join(f"{k}{words[k]}" for k in words if k in keep) + fixed
        text.append(line)
        last |= words
    text += [f"G0 Z{num((shop.safe + raise_) / unit, places)}", "M5", "M30"]
    if numbered:
        text = [f"N{10 * (k + 1)} {t}" if not t.startswith("(") else t for k, t in enumerate(text)]
    return ("\n".join(text) + "\n").encode()


def num(value: float, places: int) -> str:
    """Write a number with no more places than needed."""
    text = f"{value:.{places}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def start(rng: Rng, shop: Shop, bit: Bit) -> Work:
    """Begin a program with feeds and speeds for the bit."""
    small = tip_of(bit) if bit.shape == "taper-ball" else bit.diameter
    speed = float(np.clip(round(150000 / (bit.diameter + 3) / 1000), 8, 24) * 1000)
    chip = 0.012 + 0.0075 * small
    feed = chip * (bit.flutes or 2) * speed * shop.boldness
    if bit.shape == "vee":
        feed = 0.05 * 2 * speed * shop.boldness
    if bit.shape == "taper-flat":
        feed = 0.02 * 2 * speed * shop.boldness
    if bit.shape == "drill":
        speed = float(rng.choice([2000, 3000, 5000, 8000]))
        feed = 0.02 * bit.diameter * speed * shop.boldness
    unit = 10 if shop.unit == "mm" else INCH
    feed = float(np.clip(round(min(feed, 6000) / unit) * unit, 60, None))
    plunge = round(feed * float(rng.choice([0.25, 0.33, 0.5])) / unit) * unit
    if bit.shape == "drill":
        plunge = feed
    return Work(rng, shop, bit, feed, max(plunge, unit), speed)


def make(seed: int) -> Made:
    """Make a program for a bit, and the rack it lies in; the same for the same seed."""
    weights = np.array([j[4] for j in JOBS], float)
    family, job, shape, (least, most), _ = JOBS[
        np.random.default_rng((1515, seed)).choice(len(JOBS), p=weights / weights.sum())
    ]
    for attempt in range(80):
        rng = np.random.default_rng((1516, seed, attempt))
        shop = draw_shop(rng)
        bit = draw_bit(rng, shape, shop.unit)
        if not least <= bit.diameter <= most:
            continue
        work = start(rng, shop, bit)
        job(work)
        if not work.moves:
            continue
        text = write(work)
        if 90 <= text.count(b"\n") <= 5000:
            return Made(text, fill_rack(rng, bit, shop.unit), bit, family)
    raise RuntimeError(f"no program of {family} in the wanted length for seed {seed}")
