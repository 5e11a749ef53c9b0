"""Programs made for known bits, by an eighth writer: a maker of instruments and signs, in inches.

Written without knowledge of the models: neither `dryrun/fitting`, nor the other generators, nor
their tests had been read. The rules of use (stepover, depth of a pass, chip per
tooth, cusp heights, tooth proportions of wheels) are common practice, no source.

First score, with the models frozen before it was written and before any miss was looked at (seeds
0 to 299): first 0.830, first two 0.883, Brier 0.253. Its misses of seeds below 5000 were looked at
afterwards; three of them (139, 187, 248) are reliefs so flat that the program cuts nothing.

Its habits: inches (now and then millimetres), a fixed number of decimals, every word of a move
written again in some jobs, chords in place of arcs, zero in the middle or at a corner, outlines
drawn freely rather than on a grid.
"""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import splev, splprep
from scipy.ndimage import gaussian_filter, grey_dilation, map_coordinates
from shapely.affinity import rotate, scale, translate
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from dryrun.job.model import Bit

INCH = 25.4
Points = np.ndarray


@dataclass(frozen=True)
class Made:
    """A program, the rack it could have been made for, and the bit it was made for."""

    text: bytes
    rack: tuple[Bit, ...]
    bit: Bit
    family: str


def draw_rack(rng: random.Random) -> tuple[Bit, ...]:
    """A drawer of inch bits: flats, balls, a tapered ball, two vees."""

    def flat(inches: float, flutes: int) -> Bit:
        return Bit(f"flat {inches:g} in", "flat", inches * INCH, flutes=flutes)

    def ball(inches: float) -> Bit:
        return Bit(f"ball {inches:g} in", "ball", inches * INCH, flutes=2)

    def vee(degrees: float, inches: float) -> Bit:
        return Bit(f"vee {degrees:g}", "vee", inches * INCH, angle=math.radians(degrees), flutes=2)

    def taper(tip: float, degrees: float) -> Bit:
        a = math.radians(degrees)
        return Bit(f"taper {tip:g}", "taper-ball", INCH / 4, angle=a, tip_radius=tip, flutes=2)

    rack = [
        flat(rng.choice((1 / 16, 1 / 8, 1 / 8)), 2),
        flat(rng.choice((3 / 16, 1 / 4, 1 / 4)), rng.choice((1, 2))),
        flat(rng.choice((3 / 8, 1 / 2)), rng.choice((2, 3))),
        ball(rng.choice((1 / 8, 3 / 16, 1 / 4))),
        taper(rng.choice((0.25, 0.5, INCH / 32, 1.0)), rng.choice((3.0, 4.5, 5.4, 6.2))),
        vee(60, 1 / 2),
        rng.choice((vee(90, 1 / 2), vee(90, 1.0), vee(30, 1 / 4), vee(120, 1.0))),
        rng.choice((ball(3 / 8), ball(1 / 2), ball(1 / 2), flat(1.0, 2))),
    ]
    return tuple(sorted(rack, key=lambda b: b.name))


# --- writing --------------------------------------------------------------------------------


class Writer:
    """Turns moves in mm into lines of the job's style."""

    def __init__(self, rng: random.Random, feed: float, plunge: float, rpm: float) -> None:
        self.inch = rng.random() < 0.8
        self.number = rng.choice((0, 0, 1, 5, 10))
        self.again = rng.random() < 0.4
        self.gap = rng.choice((" ", " ", ""))
        self.two = rng.random() < 0.5
        self.digits = 4 if self.inch else 3
        self.safe = rng.choice((0.1, 0.2, 0.25, 0.5)) * INCH
        self.tol = rng.choice((0.0005, 0.001, 0.002)) * INCH
        self.feed, self.plunge, self.rpm = feed, plunge, rpm
        self.at = np.array([0.0, 0.0, self.safe])
        self.fed = 0.0
        self.code = -1
        self.lines: list[str] = []

    def raw(self, text: str) -> None:
        if self.number and not text.startswith("("):
            text = f"N{self.number * (len(self.lines) + 1)}{self.gap}{text}"
        self.lines.append(text)

    def move(self, code: int, x: float, y: float, z: float, feed: float = 0.0) -> None:
        unit = INCH if self.inch else 1.0
        new = np.array([x, y, z])
        words = [
            f"{letter}{round(float(v) / unit, self.digits) + 0.0:.{self.digits}f}"
            for letter, v, old in zip("XYZ", new, self.at, strict=True)
            if self.again or abs(v - old) > 1e-6
        ]
        if not np.abs(new - self.at).max() > 1e-6:
            return
        head = [f"G0{code}" if self.two else f"G{code}"] if self.again or code != self.code else []
        if code and feed != self.fed:
            words.append(f"F{feed / unit:.1f}")
            self.fed = feed
        self.raw(self.gap.join(head + words))
        self.at, self.code = new, code

    def over(self, place: Points) -> None:
        """Lift and go above a place."""
        self.move(0, *self.at[:2], self.safe)
        self.move(0, place[0], place[1], self.safe)

    def dive(self, z: float) -> None:
        self.move(1, *self.at[:2], z, self.plunge)

    def along(self, points: Points, z: float | None = None) -> None:
        """Cut along points, at a height or each at its own."""
        for p in points:
            self.move(
                1,
                p[0],
                p[1],
                self.at[2] if z is None and len(p) < 3 else p[2] if z is None else z,
                self.feed,
            )


# --- geometry -------------------------------------------------------------------------------


def rings_of(shape: BaseGeometry, tol: float) -> list[Points]:
    """Rings of all polygons of a shape, as chords within a tolerance."""
    rings = []
    for part in getattr(shape, "geoms", [shape]):
        if isinstance(part, Polygon) and part.area > 1e-4:
            for ring in (part.exterior, *part.interiors):
                rings.append(np.array(ring.simplify(tol).coords))
    return rings


def facing_way(ring: Points, left: bool) -> Points:
    """The ring, going anticlockwise (`left`) or clockwise."""
    x, y = ring[:-1].T
    return ring if (np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) > 0) == left else ring[::-1]


def from_nearest(ring: Points, place: Points) -> Points:
    k = int(np.argmin(((ring[:-1] - place[:2]) ** 2).sum(axis=1)))
    return np.vstack([ring[k:-1], ring[: k + 1]])


def blob(rng: random.Random, size: float, rough: float = 0.12) -> Polygon:
    """A free outline around the origin, about so wide."""
    t = np.linspace(0, 2 * math.pi, 181)[:-1]
    r = np.ones_like(t)
    for k in range(2, 6):
        r += rough * rng.uniform(0.3, 1.0) / (k - 1) * np.cos(k * t + rng.uniform(0, 6.3))
    return Polygon(np.column_stack([r * np.cos(t), r * np.sin(t)]) * size / 2)


def spline(places: list[tuple[float, float]], size: float) -> Polygon:
    """A smooth closed outline through places."""
    p = np.array([*places, places[0]]) * size
    tck, _ = splprep(p.T, s=0, per=True)
    return Polygon(np.column_stack(splev(np.linspace(0, 1, 361)[:-1], tck)))


def body(rng: random.Random, length: float) -> Polygon:
    """The outline of an instrument's body, its length along Y."""
    j = lambda v: v * rng.uniform(0.94, 1.06)  # noqa: E731
    low, waist, high = j(0.40), j(0.27), j(0.31)
    half = [(low * 0.75, 0.05), (low, 0.25), (waist, 0.56), (high, 0.82)]
    if rng.random() < 0.5:  # two horns beside the neck
        half += [(high * 0.75, 0.97), (high * 0.45, 0.9)]
        neck = [(0.08, 0.82)]
    else:
        half += [(high * 0.7, 0.96)]
        neck = [(0.08, 1.0)]
    right = half + neck
    return spline([(0, 0), *right, *((-x, y) for x, y in reversed(right))], length)


def wheel(teeth: int, module: float) -> Polygon:
    """A toothed wheel with straight flanks."""
    out, root, pitch = module * (teeth / 2 + 1), module * (teeth / 2 - 1.25), module * teeth / 2
    lean = math.tan(math.radians(20))
    points = []
    for k in range(teeth):
        middle = 2 * math.pi * k / teeth
        for r, side in ((root, -1), (out, -1), (out, 1), (root, 1)):
            half = (math.pi * module / 4 - (r - pitch) * lean) / r
            points.append((r * math.cos(middle + side * half), r * math.sin(middle + side * half)))
    return Polygon(points)


def smoothed(shape: Polygon, radius: float) -> Polygon:
    """A recess as a bit of that radius leaves it."""
    return shape.buffer(-radius).buffer(radius, quad_segs=24)


def eighths(rng: random.Random, low: float, high: float) -> float:
    """A length in mm that is a whole number of eighths of an inch."""
    unit = INCH / 8
    return max(1, round(rng.uniform(low, high) / unit)) * unit


def passes(depth: float, most: float, even: bool) -> list[float]:
    """Heights of the passes: all alike, or the last one thinner."""
    n = math.ceil(depth / most - 1e-6)
    return [-depth * k / n if even else -min(depth, k * most) for k in range(1, n + 1)]


# --- moves several families make ------------------------------------------------------------


@dataclass(frozen=True)
class Habit:
    """How one job is cut: shares of the diameter, and customs."""

    over: float
    most: float
    even: bool
    outward: bool
    climb: bool
    allow: float
    ramp: bool

    @staticmethod
    def draw(rng: random.Random, bit: Bit) -> Habit:
        d = bit.diameter
        most = d * rng.choice((0.25, 0.4, 0.5, 0.5, 0.6, 0.8))
        if rng.random() < 0.4:  # to a fraction of an inch
            most = max(1, round(most / (INCH / 32))) * INCH / 32
        return Habit(
            over=d * rng.choice((0.4, 0.4, 0.42, 0.45, 0.5)),
            most=most,
            even=rng.random() < 0.5,
            outward=rng.random() < 0.7,
            climb=rng.random() < 0.7,
            allow=rng.choice((0.0, 0.0, 0.01, 0.02)) * INCH if d > 3 else 0.0,
            ramp=rng.random() < 0.5,
        )


def enter(w: Writer, habit: Habit, ring: Points, top: float, z: float) -> None:
    """Come down at the start of a ring: straight, or to and fro along its first stretch."""
    w.over(ring[0])
    line = LineString(ring)
    far = min(line.length / 3, 3 * (top - z) + 2)
    w.move(0, *ring[0], min(top + 1.0, w.safe))
    if not habit.ramp:
        w.dive(z)
        return
    there = [ring[0], *(p for p in ring[1:-1] if line.project(Point(p)) < far - 1e-3)]
    there.append(np.array(line.interpolate(far).coords[0]))
    way = np.array(there)
    run = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(way, axis=0).T))]) / far
    middle = (top + z) / 2
    feed, w.feed = w.feed, w.plunge * 2
    w.along(np.column_stack([way, top + (middle - top) * run])[1:])
    w.along(np.column_stack([way, z + (middle - z) * run])[-2::-1])
    w.feed = feed


def clear(w: Writer, habit: Habit, region: BaseGeometry, depth: float, top: float = 0.0) -> None:
    """Clear a region (of the bit's centre) by offsets of its outline."""
    nest, k = [], 0
    while not (inner := region.buffer(-k * habit.over, quad_segs=16)).is_empty:
        nest.append(rings_of(inner, w.tol))
        k += 1
    order = nest[::-1] if habit.outward else nest
    bounds = region.buffer(w.tol * 2)
    above = top
    for z in passes(depth, habit.most, habit.even):
        started = False
        for ring in itertools.chain(*order):
            ring = from_nearest(facing_way(ring, habit.climb), w.at)
            if started and bounds.covers(LineString([w.at[:2], ring[0]])):
                w.along(ring[:1])
            else:
                enter(w, habit, ring, above, top + z)
            started = True
            w.along(ring[1:])
        above = top + z


def round_off(
    w: Writer, ring: Points, depth: float, habit: Habit, tabs: int, tab: tuple[float, float]
) -> None:
    """Cut along a ring, pass by pass, with peaked or level tabs near the floor."""
    line = LineString(ring)
    above = 0.0
    for z in passes(depth, habit.most, habit.even):
        if above == 0 or habit.ramp:
            enter(w, habit, ring, above, z)
        else:
            w.dive(z)
        roof = -depth + tab[1]
        if not tabs or z >= roof - 1e-6:
            w.along(ring[1:])
        else:
            where = [(0.0, z)]
            for k in range(tabs):
                m = line.length * (k + 0.5) / tabs
                where += [(m - tab[0] / 2, z), (m, roof), (m + tab[0] / 2, z)]
            where.append((line.length, z))
            s, h = np.array(where).T
            stops = np.array([line.project(Point(p)) for p in ring[1:-1]])
            every = np.unique(np.round(np.concatenate([stops, s]), 5))[1:]
            xy = np.array([line.interpolate(v).coords[0] for v in every])
            w.along(np.column_stack([xy, np.interp(every, s, h)]))
        above = z


def outline(
    w: Writer, habit: Habit, shape: Polygon, r: float, depth: float, tabs: int, inside: bool
) -> None:
    """Cut round a shape, outside or inside it, now and then a first time with something left on."""
    side = -1 if inside else 1
    for extra in (habit.allow, 0.0) if habit.allow else (0.0,):
        path = shape.buffer(side * (r + extra), quad_segs=24)
        for ring in rings_of(Polygon(path.exterior) if isinstance(path, Polygon) else path, w.tol):
            ring = facing_way(ring, inside == habit.climb)
            width = 2 * r + INCH / 4
            round_off(w, ring, depth, habit, tabs, (width, min(INCH / 8, depth / 2)))


def bore(
    w: Writer,
    c: tuple[float, float],
    size: float,
    d: float,
    depth: float,
    pitch: float,
    over: float,
) -> None:
    """Bore a hole by turns, from the middle outwards."""
    reach = (size - d) / 2
    n = max(1, math.ceil(reach / over))
    for k in range(1, n + 1):
        r = reach * k / n
        turn = np.linspace(
            0,
            2 * math.pi,
            max(12, math.ceil(2 * math.pi / (2 * math.acos(1 - min(w.tol / r, 0.5))))) + 1,
        )
        if k == 1:
            w.over(np.array([c[0] + r, c[1]]))
            w.move(0, *w.at[:2], 0.5)
            turns = math.ceil((depth + 0.5) / pitch)
            a = np.concatenate(
                [turn[:-1] + 2 * math.pi * m for m in range(turns)] + [[2 * math.pi * turns]]
            )
            z = 0.5 - (depth + 0.5) * a / a[-1]
            w.along(np.column_stack([c[0] + r * np.cos(a), c[1] + r * np.sin(a), z]))
        w.along(np.column_stack([c[0] + r * np.cos(turn), c[1] + r * np.sin(turn)]), -depth)


# --- families: flats ------------------------------------------------------------------------


def instrument(rng: random.Random, w: Writer, bit: Bit) -> None:
    """Cavities of an instrument's body and its outline."""
    d, habit = bit.diameter, Habit.draw(rng, bit)
    length = rng.uniform(24, 34) * max(d, 5)
    shape = body(rng, length)
    thick = (
        rng.choice((1.0, 1.25, 1.5, 1.75)) * INCH
        if d > 5
        else rng.choice((0.25, 0.375, 0.5)) * INCH
    )
    neck = box(-0.07 * length, 0.66 * length, 0.07 * length, 0.9 * length)
    cavities = [(neck, 0.35 * thick)]
    for k in range(rng.choice((1, 2))):
        wide, tall = eighths(rng, 0.19 * length, 0.26 * length), eighths(rng, 2.2 * d, 4 * d)
        y = (0.33 + 0.18 * k) * length
        cavities.append((box(-wide / 2, y - tall / 2, wide / 2, y + tall / 2), 0.4 * thick))
    odd = translate(scale(blob(rng, 0.2 * length), 0.8, 1.0), 0.22 * length, 0.2 * length)
    cavities.append((odd, 0.5 * thick))
    for cavity, depth in rng.sample(cavities, rng.randrange(2, len(cavities) + 1)):
        recess = smoothed(cavity, bit.radius * rng.choice((1.0, 1.0, 1.25)))
        clear(w, habit, recess.buffer(-bit.radius - habit.allow, quad_segs=24), round(depth, 2))
        if habit.allow:
            for ring in rings_of(recess.buffer(-bit.radius, quad_segs=24), w.tol):
                w.over(ring[0])
                w.dive(-round(depth, 2))
                w.along(facing_way(ring, habit.climb)[1:])
    if rng.random() < 0.6:
        outline(w, habit, shape, bit.radius, thick + 0.3, rng.choice((4, 5, 6)), False)


def wheels(rng: random.Random, w: Writer, bit: Bit) -> None:
    """Toothed wheels of a wooden clock: windows, the bore, then the teeth."""
    d, habit = bit.diameter, Habit.draw(rng, bit)
    thick = rng.choice((0.125, 0.25, 0.25, 0.375)) * INCH * (2 if d > 5 else 1)
    x = 0.0
    module = d * rng.uniform(1.75, 2.6)
    for _ in range(rng.choice((1, 1, 2))):
        teeth = rng.randrange(10, max(12, min(31, int(300 / module))))
        gear = wheel(teeth, module)
        reach = module * (teeth / 2 + 1)
        hub, rim = max(0.25 * reach, 2 * d), module * (teeth / 2 - 1.25) - max(1.5 * module, 4)
        parts = []
        if rim - hub > 3 * d:
            ring = (
                Point(0, 0)
                .buffer(rim, quad_segs=40)
                .difference(Point(0, 0).buffer(hub, quad_segs=40))
            )
            arms = rng.choice((3, 4, 5, 6))
            for k in range(arms):
                arm = LineString([(0, 0), (reach, 0)]).buffer(0.06 * reach + 2, cap_style="flat")
                ring = ring.difference(rotate(arm, 360 * k / arms, origin=(0, 0)))
            parts = [smoothed(p, bit.radius) for p in getattr(ring, "geoms", [ring])]
        x += reach + d
        for window in parts:
            if isinstance(window, Polygon) and not window.buffer(-bit.radius).is_empty:
                outline(w, habit, translate(window, x, 0), bit.radius, thick + 0.2, 0, True)
        size = max(INCH / 4, math.ceil(1.4 * d / (INCH / 16)) * INCH / 16)
        bore(w, (x, 0.0), size, d, thick + 0.2, 0.3 * d, 0.45 * d)
        outline(
            w, habit, translate(gear, x, 0), bit.radius, thick + 0.2, rng.choice((0, 3, 4)), False
        )
        x += reach + d


def terraces(rng: random.Random, w: Writer, bit: Bit) -> None:
    """A hill in steps, as on a map: around each step the ground is cleared to its height."""
    d, habit = bit.diameter, Habit.draw(rng, bit)
    size = rng.uniform(11, 20) * d
    hill = blob(rng, size, 0.2)
    count = rng.randrange(2, 5)
    rise = rng.choice((0.0625, 0.125, 0.125, 0.1875)) * INCH
    plate = box(-size * 0.75, -size * 0.7, size * 0.75, size * 0.7)
    for k in range(count):
        step = translate(
            scale(hill, 1 - 0.75 * (count - 1 - k) / count, 1 - 0.75 * (count - 1 - k) / count),
            k,
            0,
        )
        ground = plate.buffer(bit.radius * 0.5).difference(step.buffer(bit.radius, quad_segs=24))
        clear(w, habit, ground, rise, -k * rise)


def marquetry(rng: random.Random, w: Writer, bit: Bit) -> None:
    """Recesses for inlay and the pieces that go into them, inner corners as the bit leaves them."""
    d, habit = bit.diameter, Habit.draw(rng, bit)
    deep = rng.choice((0.06, 0.08, 0.1, 0.125)) * INCH
    x = 0.0
    for _ in range(rng.choice((1, 2, 3))):
        size = rng.uniform(9, 20) * d
        n = rng.choice((3, 4, 5, 6))
        t = np.arange(2 * n) * math.pi / n
        star = (
            np.column_stack([np.cos(t), np.sin(t)])
            * np.where(np.arange(2 * n) % 2, 0.55, 1.0)[:, None]
        )
        shape = rng.choice(
            (
                blob(rng, size, 0.25),
                Polygon(star * size / 2),
                rotate(box(-size / 2, -size / 3, size / 2, size / 3), 20),
            )
        )
        shape = translate(
            shape.buffer(-bit.radius).buffer(2 * bit.radius).buffer(-bit.radius, quad_segs=24), x, 0
        )
        clear(w, habit, shape.buffer(-bit.radius, quad_segs=24), deep)
        if rng.random() < 0.6:
            piece = translate(scale(shape, -1, 1), 0, -1.4 * size).buffer(-rng.choice((0.05, 0.1)))
            outline(w, habit, piece, bit.radius, deep + 0.5, rng.choice((0, 3)), False)
        x += size + 4 * d


def laps(rng: random.Random, w: Writer, bit: Bit) -> None:
    """Half laps and mortises of a frame: rows that run out over open edges."""
    d, habit = bit.diameter, Habit.draw(rng, bit)
    rail = eighths(rng, 5 * d, 12 * d)
    deep = rng.choice((0.25, 0.375, 0.5)) * INCH if d > 4 else 0.125 * INCH
    past = bit.radius + rng.choice((0.0, 0.05, 0.125)) * INCH
    for k in range(rng.choice((1, 2, 3))):
        x0, wide = k * 2.5 * rail, eighths(rng, 3 * d, 9 * d)
        n = math.ceil((wide - d) / habit.over)
        xs = np.linspace(x0 + bit.radius, x0 + wide - bit.radius, n + 1)
        for z in passes(deep, habit.most, habit.even):
            w.over(np.array([xs[0], -past]))
            w.dive(z)
            for m, x in enumerate(xs):
                ends = (-past, rail + past) if m % 2 == 0 else (rail + past, -past)
                w.along(np.array([[x, ends[0]], [x, ends[1]]]))
    for k in range(rng.randrange(1, 3)):
        long, wide = eighths(rng, 5 * d, 9 * d), eighths(rng, 1.3 * d, 2.6 * d)
        wide = max(wide, math.ceil(1.1 * d / (INCH / 16)) * INCH / 16)
        slot = box(0, 0, long, wide).buffer(-wide / 2 + 0.01).buffer(wide / 2 - 0.01, quad_segs=24)
        slot = translate(slot, k * 2 * long, 1.6 * rail)
        clear(w, habit, slot.buffer(-bit.radius, quad_segs=24), 2 * deep)


def bench_holes(rng: random.Random, w: Writer, bit: Bit) -> None:
    """A grid of round holes, bored."""
    d = bit.diameter
    size = math.ceil(d * rng.uniform(1.25, 3.2) / (INCH / 16)) * INCH / 16
    depth = rng.choice((0.5, 0.75, 0.75)) * INCH if d > 4 else rng.choice((0.125, 0.25)) * INCH
    gap = math.ceil(size * rng.uniform(1.8, 4) / (INCH / 2)) * INCH / 2
    pitch, over = d * rng.choice((0.15, 0.25, 0.33, 0.5)), d * rng.choice((0.35, 0.4, 0.5))
    for j in range(rng.randrange(1, 4)):
        for i in range(rng.randrange(2, 5)):
            bore(w, (gap * (i + 1), gap * (j + 1)), size, d, depth + 0.25, pitch, over)


def surfacing(rng: random.Random, w: Writer, bit: Bit) -> None:
    """The bed or a slab made flat, from the outside round and round inwards."""
    d = bit.diameter
    wide, high, over = (
        rng.uniform(14, 24) * d,
        rng.uniform(10, 18) * d,
        d * rng.choice((0.4, 0.5, 0.6, 0.7)),
    )
    area = box(-wide / 2, -high / 2, wide / 2, high / 2)
    for z in passes(rng.choice((0.02, 0.03, 0.06)) * INCH, rng.choice((0.02, 0.03)) * INCH, True):
        w.over(np.array(area.exterior.coords[0]))
        w.dive(z)
        for k in range(math.ceil(high / 2 / over)):
            inner = area.buffer(-k * over, join_style="mitre")
            if not inner.is_empty:
                w.along(np.array(inner.exterior.coords))


# --- families: reliefs ----------------------------------------------------------------------


def landscape(rng: random.Random, wide: float, high: float, deep: float, grid: float) -> Points:
    """Heights from -deep to 0: hills, a leaf, reeds, a coin, or blades around a hub."""
    y, x = np.mgrid[0 : high + grid / 2 : grid, 0 : wide + grid / 2 : grid]
    u, v = x - wide / 2, y - high / 2
    kind = rng.choice(("hills", "leaf", "reeds", "coin", "blades"))
    if kind == "hills":
        noise = np.random.default_rng(rng.randrange(1 << 30)).normal(size=x.shape)
        z = (
            gaussian_filter(noise, 0.05 * wide / grid) * 3
            + gaussian_filter(noise, 0.12 * wide / grid) * 9
        )
        z = np.maximum(z, np.quantile(z, rng.choice((0.05, 0.3))))
    elif kind == "leaf":
        edge = 0.4 * high * np.sqrt(np.maximum(1 - (2.1 * u / wide) ** 2, 0))
        inside = np.abs(v) < edge
        veins = np.minimum(
            np.abs(v) / (0.03 * wide), np.abs(np.sin((u - np.abs(v)) * 18 / wide)) * 2.2 + 0.2
        )
        z = np.where(inside, 0.6 + 0.4 * np.minimum(veins, 1) + 0.3 * np.cos(v / high * 3), 0)
    elif kind == "reeds":
        t = rng.choice((0, 0.5, math.pi / 2))
        p = wide / rng.randrange(4, 9)
        s = (u * math.cos(t) + v * math.sin(t)) % p - p / 2
        z = np.sqrt(np.maximum((p / 2) ** 2 - s**2, 0))
    elif kind == "coin":
        r = np.hypot(u, v) / (high / 2)
        z = np.where((r > 0.82) & (r < 0.95), 1.0, 0.0)
        for k in range(n := rng.choice((5, 6, 8, 12))):
            a = 2 * math.pi * k / n
            far = np.hypot(u - 0.5 * high / 2 * math.cos(a), v - 0.5 * high / 2 * math.sin(a))
            z = np.maximum(z, np.sqrt(np.maximum(1 - (far / (0.13 * high)) ** 2, 0)))
    else:
        a, r = np.arctan2(v, u), np.hypot(u, v) / (high / 2)
        turn = ((a + 0.9 * r) * rng.choice((5, 6, 8)) / (2 * math.pi)) % 1
        z = np.where(r < 0.9, np.where(r < 0.2, 1.1, 0.2 + 0.8 * turn), 0)
    z = z - z.min()
    return deep * (z / z.max() - 1)


def underside(bit: Bit, far: Points) -> Points:
    """Height of the underside above the tip, at distances from the axis (mm), to the full width."""
    if bit.shape == "flat":
        return np.zeros_like(far)
    tip = bit.tip_radius or bit.radius
    sphere = tip - np.sqrt(np.maximum(tip**2 - far**2, 0))
    if bit.shape == "ball" or bit.angle is None:
        return sphere
    a = bit.angle
    cone = tip * (1 - math.sin(a)) + (far - tip * math.cos(a)) / math.tan(a)
    return np.where(far < tip * math.cos(a), sphere, cone)


def above_ground(bit: Bit, ground: Points, grid: float) -> Points:
    """Lowest the tip may go over each place of the grid."""
    n = math.floor(bit.radius / grid)
    y, x = np.mgrid[-n : n + 1, -n : n + 1] * grid
    far = np.hypot(x, y)
    under = underside(bit, far)
    inside = (far <= bit.radius + 1e-9) & (under <= np.ptp(ground) + grid)
    keep = int(np.abs(x[inside] / grid).max() + 0.5)
    cut = slice(n - keep, n + keep + 1)
    return grey_dilation(
        ground,
        footprint=inside[cut, cut],
        structure=np.where(inside, -under, 0)[cut, cut],
        mode="nearest",
    )


def fewer(points: Points, tol: float) -> Points:
    """Points of a row without those that lie on chords (length along against height)."""
    run = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(points[:, :2], axis=0).T))])
    kept = np.array(LineString(np.column_stack([run, points[:, 2]])).simplify(tol).coords)[:, 0]
    return points[np.isin(run, kept)]


def row_lines(wide: float, high: float, step: float, degrees: float) -> list[Points]:
    """Parallel lines over a rectangle, to and fro."""
    area = box(0, 0, wide, high)
    reach = math.hypot(wide, high)
    lines = []
    for k, off in enumerate(np.arange(-reach / 2 + step / 2, reach / 2, step)):
        line = LineString([(wide / 2 - reach, high / 2 + off), (wide / 2 + reach, high / 2 + off)])
        got = rotate(line, degrees, origin=(wide / 2, high / 2)).intersection(area)
        if isinstance(got, LineString) and got.length > step:
            lines.append(np.array(got.coords)[:: -1 if k % 2 else 1])
    return lines


def carved(rng: random.Random, w: Writer, bit: Bit) -> None:
    """A relief finished by rows."""
    tip = bit.tip_radius or bit.radius
    if rng.random() < 0.5:
        cusp = rng.choice((0.0004, 0.0008, 0.001, 0.0015)) * INCH
        step = 2 * math.sqrt(2 * tip * cusp - cusp**2)
    else:
        step = 2 * tip * rng.choice((0.08, 0.1, 0.12, 0.15, 0.2))
    wide = max(step * rng.uniform(60, 110), 4 * tip + 15)
    high = wide * rng.uniform(0.6, 1.0)
    grid = max(min(tip / 5, wide / 150), wide / 350)
    deep = min(rng.uniform(0.08, 0.16) * wide, 0.5 * INCH)
    tips = above_ground(bit, landscape(rng, wide, high, deep, grid), grid)
    first = True
    for ends in row_lines(wide, high, step, rng.choice((0, 0, 90, 45))):
        n = max(2, math.ceil(math.hypot(*(ends[1] - ends[0])) / (grid * 0.6)))
        flat = ends[0] + (ends[1] - ends[0]) * np.linspace(0, 1, n)[:, None]
        z = map_coordinates(tips, flat[:, ::-1].T / grid, order=1, mode="nearest")
        row = fewer(np.column_stack([flat, z]), w.tol / 2)
        if first:
            w.over(row[0])
            w.dive(row[0, 2])
            first = False
        w.along(row)


def hewn(rng: random.Random, w: Writer, bit: Bit) -> None:
    """A relief roughed out at levels, by rows wherever the bit has room at that height."""
    d, habit = bit.diameter, Habit.draw(rng, bit)
    wide = rng.uniform(18, 34) * d
    high = wide * rng.uniform(0.6, 0.9)
    grid = max(d / 12, wide / 320)
    deep = rng.uniform(0.8, 2.2) * d
    left = rng.choice((0.01, 0.02, 0.03)) * INCH
    tips = above_ground(bit, landscape(rng, wide, high, deep, grid), grid) + left
    degrees = rng.choice((0, 90))
    for z in passes(deep - left, habit.most, habit.even):
        for ends in row_lines(wide, high, habit.over, degrees):
            n = math.ceil(math.hypot(*(ends[1] - ends[0])) / (grid / 3))
            flat = ends[0] + (ends[1] - ends[0]) * np.linspace(0, 1, n)[:, None]
            free = map_coordinates(tips, flat[:, ::-1].T / grid, order=1, mode="nearest") <= z
            edges = np.flatnonzero(np.diff(np.concatenate([[0], free.astype(int), [0]])))
            for a, b in edges.reshape(-1, 2):
                if b - a < 5:
                    continue
                near = (
                    abs(w.at[2] - z) < 1e-6 and math.hypot(*(flat[a] - w.at[:2])) < 1.1 * habit.over
                )
                if not near:
                    w.over(flat[a])
                    w.dive(z)
                w.along(np.array([flat[a], flat[b - 1]]))


def bowl(rng: random.Random, w: Writer, bit: Bit) -> None:
    """A round or oval bowl: roughed by level rings, finished by rings down its side and floor."""
    r, habit = bit.radius, Habit.draw(rng, bit)
    deep = rng.uniform(1.2, 2.4) * bit.diameter
    side = deep * rng.uniform(0.9, 1.3)
    long = 2 * side + rng.uniform(2, 5) * bit.diameter
    plan = scale(Point(0, 0).buffer(long / 2, quad_segs=60), 1.0, rng.choice((1.0, 1.0, 0.8, 0.7)))
    t = np.linspace(0.0, math.pi / 2, 400)
    s, z = side * (1 - np.cos(t)), -deep * np.sin(t)
    ds, dz = side * np.sin(t), deep * np.cos(t)
    norm = np.hypot(ds, dz)
    inset, tip = s + r * dz / norm, z + r * ds / norm - r
    if rng.random() < 0.7:
        left = rng.choice((0.02, 0.03, 0.04)) * INCH
        above = 0.0
        for level in passes(deep - left, bit.diameter * rng.choice((0.25, 0.3, 0.4)), True):
            floor = plan.buffer(-np.interp(-level, -tip, inset) - left, quad_segs=32)
            one = Habit(habit.over * 0.8, deep, True, habit.outward, habit.climb, 0.0, habit.ramp)
            clear(w, one, floor, above - level, above)
            above = level
    cusp = rng.choice((0.001, 0.002, 0.003)) * INCH
    step = 2 * math.sqrt(2 * r * cusp)
    run = np.concatenate([[0], np.cumsum(np.hypot(np.diff(s), np.diff(z)))])
    ways = [
        (np.interp(q, run, inset), np.interp(q, run, tip)) for q in np.arange(step, run[-1], step)
    ]
    ways += [(q, -deep) for q in np.arange(side, long, step)]
    first = True
    for off, height in ways:
        for ring in rings_of(plan.buffer(-off, quad_segs=60), w.tol):
            ring = from_nearest(facing_way(ring, habit.climb), w.at)
            if first:
                w.over(ring[0])
                w.dive(height)
                first = False
            w.along(ring, height)


# --- families: vees -------------------------------------------------------------------------


def in_goes(w: Writer, line: Points, most: float) -> None:
    """Cut a line in space, in several goes where it is deep."""
    for z in passes(-line[:, 2].min(), most, False):
        way = np.column_stack([line[:, :2], np.maximum(line[:, 2], z)])
        if np.abs(w.at - way[0]).max() > 0.01:
            w.over(way[0])
            w.dive(way[0, 2])
        w.along(way[1:])


def chip_carving(rng: random.Random, w: Writer, bit: Bit) -> None:
    """Rosettes of petals, and borders of three-cornered chips, as with a knife."""
    assert bit.angle is not None
    tangent = math.tan(bit.angle / 2)
    most = rng.choice((0.0625, 0.125, 0.25, 0.5)) * INCH
    half = min(0.7 * bit.radius, rng.uniform(0.04, 0.16) * INCH * max(tangent, 0.4) * 1.7)
    long = half * rng.uniform(5, 10)
    arc = (long**2 / 4 + half**2) / (2 * half)
    petals = rng.choice((4, 6, 6, 8, 12))
    hub = half * petals / 3
    for c in range(rng.choice((1, 1, 2))):
        x0 = c * 2.6 * (hub + long)
        for k in range(petals):
            a = 2 * math.pi * k / petals
            s = np.linspace(-long / 2, long / 2, 25)
            deep = np.maximum(arc - np.hypot(s, arc - half), 0) / tangent
            far = hub + long / 2 + s
            in_goes(w, np.column_stack([x0 + far * math.cos(a), far * math.sin(a), -deep]), most)
    n = rng.randrange(3, 8)
    base = half * rng.uniform(2.5, 4)
    for k in range(n):
        p = np.array([[0, 0], [base, 0], [base / 2, base * rng.choice((0.7, 0.87))]])
        p += np.array([k * base * 1.05, -hub - long - 2 * base])
        sides = np.hypot(*(np.roll(p, -1, axis=0) - np.roll(p, 1, axis=0)).T)
        heart = (p * sides[:, None]).sum(axis=0) / sides.sum()
        u, v = p[1] - p[0], p[2] - p[0]
        deep = abs(u[0] * v[1] - u[1] * v[0]) / sides.sum() / tangent
        for corner in p:
            in_goes(w, np.array([[*corner, 0.0], [*heart, -deep]]), most)


#: Skeletons of figures, on a grid 4 wide and 6 high.
FIGURES: dict[str, list[list[tuple[float, float]]]] = {
    "1": [[(1, 4.8), (2.2, 6), (2.2, 0)]],
    "2": [[(0, 4.5), (0.6, 5.6), (2, 6), (3.4, 5.6), (4, 4.4), (3.4, 3), (0, 0), (4, 0)]],
    "3": [[(0, 6), (4, 6), (1.8, 3.6), (3.4, 3.2), (4, 1.8), (3.2, 0.4), (1.6, 0), (0, 0.8)]],
    "4": [[(3, 0), (3, 6), (0, 2), (4, 2)]],
    "5": [
        [(4, 6), (0.6, 6), (0.2, 3.2), (2, 3.6), (3.6, 3), (4, 1.8), (3.2, 0.4), (1.6, 0), (0, 0.6)]
    ],
    "7": [[(0, 6), (4, 6), (1.4, 0)]],
    "L": [[(0, 6), (0, 0), (3.6, 0)]],
    "N": [[(0, 0), (0, 6), (4, 0), (4, 6)]],
    "W": [[(0, 6), (1, 0), (2, 4.4), (3, 0), (4, 6)]],
    "E": [[(3.6, 6), (0, 6), (0, 0), (3.6, 0)], [(0, 3), (3, 3)]],
}


def number_sign(rng: random.Random, w: Writer, bit: Bit) -> None:
    """Figures of even stroke; where a stroke ends the vee climbs into its two corners."""
    assert bit.angle is not None
    tangent = math.tan(bit.angle / 2)
    most = rng.choice((0.0625, 0.125, 0.25, 0.5)) * INCH
    half = min(0.75 * bit.radius, rng.uniform(0.05, 0.2) * INCH * max(tangent, 0.4) * 1.7)
    unit = half * rng.uniform(2.2, 3.6)
    lean = rng.choice((0.0, 0.0, 0.2))
    for k, name in enumerate(rng.sample(sorted(FIGURES), rng.randrange(2, 5))):
        for bones in FIGURES[name]:
            p = np.array(bones) * unit
            p = np.column_stack([p[:, 0] + lean * p[:, 1] + k * 5.6 * unit, p[:, 1]])
            out = [(a - b) / math.hypot(*(a - b)) for a, b in ((p[0], p[1]), (p[-1], p[-2]))]
            tips = []
            for end, way in zip((p[0], p[-1]), out, strict=True):
                side = np.array([-way[1], way[0]])
                tips.append([end + (way + side) * half, end + (way - side) * half])
            z = -half / tangent
            core = np.column_stack([p, np.full(len(p), z)])
            line = [[*tips[0][0], 0.0], *core, [*tips[1][0], 0.0]]
            in_goes(w, np.array(line), most)
            for end, tip in ((core[0], tips[0][1]), (core[-1], tips[1][1])):
                in_goes(w, np.array([end, [*tip, 0.0]]), most)


def vee_inlay(rng: random.Random, w: Writer, bit: Bit) -> None:
    """Leaning walls of recesses for inlay, down in steps, each further in as it is deeper."""
    assert bit.angle is not None
    tangent = math.tan(bit.angle / 2)
    deep = min(rng.choice((0.1, 0.125, 0.15, 0.2)) * INCH, 0.8 * bit.radius / tangent)
    steps = passes(deep, rng.choice((0.04, 0.0625, 0.1)) * INCH, rng.random() < 0.5)
    for k in range(rng.choice((1, 2, 3))):
        size = deep * tangent * rng.uniform(7, 14) + 12
        n = rng.choice((3, 4, 5, 6))
        t = np.arange(2 * n) * math.pi / n + rng.uniform(0, 1)
        star = (
            np.column_stack([np.cos(t), np.sin(t)])
            * np.where(np.arange(2 * n) % 2, 0.6, 1.0)[:, None]
        )
        kite = np.array([(0, -1), (0.7, 0.1), (0, 1), (-0.7, 0.1)])
        shape = rng.choice(
            (
                Polygon(star * size),
                Polygon(star[::2] * size),
                Polygon(kite * size),
                blob(rng, 2 * size, 0.2),
            )
        )
        shape = translate(shape, k * 2.4 * size, 0)
        outer = np.array(shape.exterior.coords)[:-1]
        for z in steps:
            path = shape.buffer(z * tangent, join_style="mitre", mitre_limit=20)
            for ring in rings_of(path, w.tol / 2):
                ring = facing_way(ring, True)
                w.over(ring[0])
                w.dive(z)
                w.along(ring[1:], z)
                if z > -deep + 1e-6 or len(outer) > 50:
                    continue
                for corner in ring[:-1]:
                    goal = outer[np.argmin(((outer - corner) ** 2).sum(axis=1))]
                    if shape.buffer(-1e-3).exterior.distance(Point(goal)) > 1.05e-3:
                        in_goes(w, np.array([[*corner, z], [*goal, 0.0]]), deep)


# --- the job --------------------------------------------------------------------------------

Family = Callable[[random.Random, Writer, Bit], None]


def fits(family: str, bit: Bit, rack: tuple[Bit, ...]) -> bool:
    """Whether the maker would take that bit for that kind of work."""
    flat, d = bit.shape == "flat", bit.diameter / INCH
    if family == "surfacing":
        return flat and bit.diameter == max(b.diameter for b in rack if b.shape == "flat")
    if family == "carved":
        return bit.shape in ("ball", "taper-ball")
    if family == "bowl":
        return bit.shape == "ball" and d > 0.15
    if family == "hewn":
        return (flat and 0.1 < d < 0.9) or (bit.shape == "ball" and d > 0.2)
    if family in ("chip carving", "number sign", "vee inlay"):
        return bit.shape == "vee"
    low, high = {"instrument": (0.1, 0.6), "wheels": (0, 0.3), "marquetry": (0, 0.3)}.get(
        family, (0, 0.6)
    )
    return flat and low < d < high


FAMILIES: dict[str, Family] = {
    "instrument": instrument, "wheels": wheels, "terraces": terraces, "marquetry": marquetry,
    "laps": laps, "bench holes": bench_holes, "surfacing": surfacing, "carved": carved,
    "hewn": hewn, "bowl": bowl, "chip carving": chip_carving, "number sign": number_sign,
    "vee inlay": vee_inlay,
}  # fmt: skip


def speeds(rng: random.Random, bit: Bit) -> tuple[float, float, float]:
    """Feed and plunge (mm/min) and rpm, from the chip each tooth takes."""
    rpm = rng.choice((16000, 18000, 18000, 20000, 22000))
    if bit.diameter > 9:
        rpm = rng.choice((10000, 12000, 14000, 16000))
    if bit.shape == "vee":
        chip = rng.uniform(0.0012, 0.003) * INCH
    elif bit.shape == "taper-ball":
        chip = rng.uniform(0.001, 0.0022) * INCH
    else:
        chip = min(bit.diameter * rng.uniform(0.01, 0.02), 0.007 * INCH)
    feed = min(chip * (bit.flutes or 2) * rpm / INCH, 220.0)
    feed = max(round(feed / 5) * 5, 10)
    return feed * INCH, max(round(feed * rng.choice((0.2, 0.3, 0.4, 0.5)) / 5) * 5, 5) * INCH, rpm


def make(seed: int) -> Made:
    """Make a job; the same seed makes the same job."""
    rng = random.Random(f"eighth {seed}")
    rack = draw_rack(rng)
    suited = {f: [b for b in rack if fits(f, b, rack)] for f in FAMILIES}
    family = rng.choice([f for f, bits in suited.items() if bits])
    bit = rng.choice(suited[family])
    w = Writer(rng, *speeds(rng, bit))
    w.raw(rng.choice(("(side A)", "(walnut)", "(cut 2)", "(top first)")))
    w.raw("G20" if w.inch else "G21")
    w.raw(w.gap.join(("G90", "G17", "G40")))
    w.raw(w.gap.join((f"S{w.rpm:g}", "M3")))
    start = w.safe / (INCH if w.inch else 1)
    w.raw(w.gap.join(("G00" if w.two else "G0", f"Z{start:.{w.digits}f}")))
    FAMILIES[family](rng, w, bit)
    w.move(0, *w.at[:2], w.safe)
    w.raw("M5")
    w.raw("M30")
    end = rng.choice(("\n", "\r\n"))
    return Made((end.join(w.lines) + end).encode(), rack, bit, family)
