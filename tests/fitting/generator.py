"""Programs made for known bits: the first generator, on which the models were set.

Shapes are offset with shapely; arcs stay arcs where a shape has them. Everything a shop varies is
varied: stepover, passes, entries, unit, decimals, round or odd sizes, zero, feed and speed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from shapely import LineString, Point, Polygon, affinity, box

from dryrun.job.model import Bit

Rng = np.random.Generator


def flat(d: float, flutes: int = 2, name: str = "") -> Bit:
    return Bit(name or f"flat-{d:g}", "flat", d, flutes=flutes, flute_length=3.5 * d)


def ball(d: float, flutes: int = 2) -> Bit:
    return Bit(f"ball-{d:g}", "ball", d, flutes=flutes, flute_length=4 * d)


def vee(degrees: float, d: float, flutes: int = 2) -> Bit:
    return Bit(f"vee-{degrees:g}", "vee", d, angle=math.radians(degrees), flutes=flutes)


def taper_ball(half: float, tip: float, d: float) -> Bit:
    return Bit(
        f"taper-{tip:g}", "taper-ball", d, angle=math.radians(half), tip_radius=tip, flutes=2
    )


TYPICAL = (
    flat(3.175), flat(6), flat(6.35), flat(12), ball(3), ball(6), vee(60, 12), vee(90, 12),
)  # fmt: skip
OTHERS = (
    flat(3.175), flat(4), flat(6), flat(6.35, 1), flat(8), flat(12), flat(12.7), flat(3), ball(3),
    ball(3.175), ball(6), ball(6.35), ball(12), vee(30, 6), vee(60, 6), vee(60, 12), vee(90, 12.7),
    vee(90, 6), vee(120, 20), taper_ball(5, 0.5, 6), taper_ball(4, 1.0, 6), taper_ball(7, 0.25, 6),
    Bit("bull-6", "bull", 6, corner_radius=1, flutes=2), Bit("drill-3", "drill", 3, angle=2.06),
)  # fmt: skip


def rack_of(rng: Rng, typical: float = 0.6) -> tuple[Bit, ...]:
    """Return eight bits: the usual ones, or a mixture of shapes."""
    if rng.random() < typical:
        return TYPICAL
    kinds: dict[str, list[Bit]] = {}
    for bit in OTHERS:
        kinds.setdefault(bit.shape, []).append(bit)
    chosen: dict[str, Bit] = {}
    plan = ["flat"] * 3 + ["ball"] * 2 + ["vee"] * 2 + [str(rng.choice(["taper-ball", "bull"]))]
    for kind in plan:
        free = [b for b in kinds[kind] if b.name not in chosen]
        bit = free[rng.integers(len(free))]
        chosen[bit.name] = bit
    return tuple(chosen.values())


@dataclass
class Writer:
    """Lines of a program in mm or inch."""

    unit: str
    decimals: int
    feed: float
    plunge: float
    safe: float = 5.0

    def __post_init__(self) -> None:
        self.scale = 1.0 if self.unit == "mm" else 25.4
        self.lines = ["G21 G90 G17" if self.unit == "mm" else "G20 G90 G17"]
        self.at = np.array([math.nan] * 3)

    def num(self, v: float) -> str:
        return f"{v / self.scale:.{self.decimals}f}"

    def go(self, code: int, x=None, y=None, z=None, extra="", feed=None) -> None:
        words = [f"G{code}"]
        for i, (letter, v) in enumerate((("X", x), ("Y", y), ("Z", z))):
            if v is not None:
                words.append(f"{letter}{self.num(v)}")
                self.at[i] = round(float(self.num(v)) * self.scale, 9)
        if feed is not None:
            words.append(f"F{feed / self.scale:.1f}")
        self.lines.append(" ".join(words) + extra)

    def rapid(self, x=None, y=None, z=None) -> None:
        self.go(0, x, y, z)

    def line(self, x=None, y=None, z=None, feed=None) -> None:
        self.go(1, x, y, z, feed=feed or self.feed)

    def arc(self, x, y, cx, cy, clockwise, z=None) -> None:
        i, j = cx - self.at[0], cy - self.at[1]
        self.go(2 if clockwise else 3, x, y, z, f" I{self.num(i)} J{self.num(j)}", feed=self.feed)

    def up(self) -> None:
        self.rapid(z=self.safe)

    def text(self, speed: float) -> bytes:
        head = [self.lines[0], "(a part)", f"G0 Z{self.num(self.safe)}", f"S{speed:.0f} M3"]
        return "\n".join([*head, *self.lines[1:], "M5", "M30", ""]).encode()


CHIPS = ((1.0, 0.02), (3.0, 0.075), (6.0, 0.15), (12.0, 0.30), (20.0, 0.4))


def rates(rng: Rng, bit: Bit) -> tuple[float, float]:
    """Speed and feed: a usual chip load, well scattered, rounded as people write it."""
    size = 2 * (bit.tip_radius or bit.radius)
    if bit.shape == "vee":
        size = min(size, 6.0)
    load = np.exp(np.interp(np.log(size), *np.log(np.array(CHIPS)).T)) * rng.lognormal(0, 0.4)
    speed = float(rng.choice([8000, 10000, 12000, 14000, 16000, 18000, 20000, 24000]))
    feed = float(load * speed * (bit.flutes or 2))
    return speed, float(np.clip(round(feed / 50) * 50, 150, 6000))


def size_of(rng: Rng, low: float, high: float, unit: str, odd: float) -> float:
    """A size somebody drew: round in the unit, or as it fell out."""
    if rng.random() < odd:
        return float(rng.uniform(low, high))
    steps = [1.0, 1.0, 5.0, 0.5] if high > 15 else [1.0, 0.5, 0.5, 0.25]
    step = rng.choice(steps) if unit == "mm" else 25.4 / rng.choice([2, 4, 8, 16])
    return float(max(1, round(rng.uniform(low, high) / step)) * step)


def writer_of(rng: Rng, bit: Bit) -> tuple[Writer, float]:
    inch = 0.65 if abs(bit.diameter / 25.4 * 64 % 1) < 1e-6 else 0.15
    unit = "in" if rng.random() < inch else "mm"
    speed, feed = rates(rng, bit)
    decimals = int(rng.choice([3, 3, 4])) if unit == "mm" else int(rng.choice([4, 4, 5]))
    return Writer(unit, decimals, feed, max(100.0, round(feed * rng.uniform(0.25, 0.5)))), speed


def depths_of(rng: Rng, bit: Bit, total: float, part: tuple[float, float]) -> list[float]:
    step = bit.diameter * rng.uniform(*part)
    if rng.random() < 0.5:
        step = bit.diameter * rng.choice([0.25, 0.3, 0.4, 0.5, 0.5, 0.5, 0.75, 1.0])
    if rng.random() < 0.25:
        step = max(0.5, round(step * 2) / 2)
    count = max(1, math.ceil(total / step - 1e-6))
    if rng.random() < 0.5:
        return [total * (i + 1) / count for i in range(count)]
    return [min(step * (i + 1), total) for i in range(count)]


def stepover(rng: Rng, bit: Bit, low: float = 0.3, high: float = 0.6) -> float:
    if rng.random() < 0.65:
        return bit.diameter * float(rng.choice(np.arange(low, high + 0.01, 0.05)))
    return bit.diameter * float(rng.uniform(low, high))


# --------------------------------------------------------------------- flat work


def shape_of(rng: Rng, bit: Bit, unit: str, odd: float, least: float) -> Polygon:
    """A shape to pocket or to cut around."""
    low, high = max(least, 2.5 * bit.diameter), max(60.0, 7 * bit.diameter)
    w, h = size_of(rng, low, high, unit, odd), size_of(rng, low, high, unit, odd)
    kind = rng.choice(["box", "box", "circle", "round", "blob", "ell", "polygon"])
    if kind == "box":
        shape = box(0, 0, w, h)
    elif kind == "circle":
        shape = Point(w / 2, w / 2).buffer(w / 2, 48)
    elif kind == "round":
        r = min(w, h) * rng.uniform(0.12, 0.3)
        shape = box(r, r, w - r, h - r).buffer(r, 16)
    elif kind == "blob":
        angle = np.linspace(0, 2 * np.pi, 90, endpoint=False)
        r = w / 2 * (1 + 0.2 * np.sin(3 * angle + rng.uniform(0, 6)) * rng.random())
        shape = Polygon(np.column_stack([r * np.cos(angle), r * np.sin(angle)]))
    elif kind == "ell":
        shape = box(0, 0, w, h).difference(box(w * 0.55, h * 0.5, w + 1, h + 1))
    else:
        n = int(rng.integers(3, 8))
        angle = np.sort(rng.uniform(0, 0.5, n) + np.arange(n)) * 2 * np.pi / n
        shape = Polygon(np.column_stack([w * np.cos(angle), w * np.sin(angle)]) * 0.8)
    if kind in ("blob", "polygon", "ell") and rng.random() < 0.5:
        shape = affinity.rotate(shape, rng.uniform(0, 90))
    place = size_of(rng, 5, 60, unit, odd), size_of(rng, 5, 60, unit, odd)
    if rng.random() < 0.35:
        place = (-w / 2, -h / 2)
    return affinity.translate(shape, *place)


def rings(shape, by: float, step: float) -> list[np.ndarray]:
    """Offsets of a shape inward, the outermost first."""
    found = []
    while True:
        inner = shape.buffer(-by, 8, join_style="mitre", mitre_limit=4)
        if inner.is_empty:
            return found
        for part in getattr(inner, "geoms", [inner]):
            found += [np.array(r.coords) for r in [part.exterior, *part.interiors]]
        by += step
        if len(found) > 120:
            return found


def enter(w: Writer, rng: Rng, path: np.ndarray, z0: float, z: float, bit: Bit) -> None:
    """Go down to a depth at the start of a path: plunge, ramp or helix."""
    kind = rng.choice(["plunge", "ramp", "ramp"])
    if kind == "plunge" or len(path) < 2:
        w.line(z=z, feed=w.plunge)
        return
    a, b = path[0], path[1]
    length = float(np.hypot(*(b - a)))
    if length < 1:
        w.line(z=z, feed=w.plunge)
        return
    run = min(length, (z0 - z) / math.tan(math.radians(3)))
    to = a + (b - a) / length * run
    level = z0
    for _ in range(40):
        level = max(z, level - run * math.tan(math.radians(rng.uniform(2, 5))))
        w.line(*to, z=level)
        w.line(*a, z=level)
        if level <= z:
            break


def pocket(rng: Rng, bit: Bit) -> bytes:
    w, speed = writer_of(rng, bit)
    odd = float(rng.choice([0.0, 0.0, 1.0]))
    shape = shape_of(rng, bit, w.unit, odd, 12)
    s = stepover(rng, bit)
    depths = depths_of(rng, bit, size_of(rng, 2, 2.5 * bit.diameter, w.unit, 0.3), (0.25, 0.8))
    raster = rng.random() < 0.5
    allowance = float(rng.choice([0, 0, 0.2, 0.5])) if raster else 0.0
    z0 = 0.0
    for depth in depths:
        (raster_pocket if raster else offset_pocket)(w, rng, shape, bit, s, z0, -depth, allowance)
        z0 = -depth
    if rng.random() < 0.3:
        outline_passes(w, rng, shape.buffer(3 * bit.diameter), bit, depths)
    return w.text(speed)


def offset_pocket(w, rng, shape, bit, s, z0, z, allowance) -> None:
    loops = rings(shape, bit.radius, s)
    inside_out = rng.random() < 0.6
    if inside_out:
        loops = loops[::-1]
    w.up()
    for number, loop in enumerate(loops):
        near = number and np.hypot(*(loop[0] - w.at[:2])) < 3 * s
        if near:
            w.line(*loop[0])
        else:
            w.up()
            w.rapid(*loop[0])
            w.rapid(z=1.0)
            enter(w, rng, loop, max(z0, z), z, bit)
        for p in loop[1:]:
            w.line(*p)
    w.up()


def raster_pocket(w, rng, shape, bit, s, z0, z, allowance) -> None:
    inner = shape.buffer(-bit.radius - allowance, 16)
    if inner.is_empty:
        return
    x0, y0, x1, y1 = inner.bounds
    if rng.random() < 0.4:
        s = (y1 - y0) / max(1, math.ceil((y1 - y0) / s))
    rows, y, flip, first = [], y0 + 1e-4, False, True
    while y <= y1:
        cut = inner.intersection(LineString([(x0 - 1, y), (x1 + 1, y)]))
        parts = [np.array(g.coords) for g in getattr(cut, "geoms", [cut]) if g.length > 0.2]
        rows += [(p if not flip else p[::-1]) for p in (parts if not flip else parts[::-1])]
        flip, y = not flip, y + s
    w.up()
    for row in rows:
        a, b = row[0], row[-1]
        if not first and np.hypot(*(a - w.at[:2])) < 2.5 * s:
            w.line(*a)
        else:
            w.up()
            w.rapid(*a)
            w.rapid(z=1.0)
            enter(w, rng, np.array([a, b]), max(z0, z), z, bit)
        first = False
        w.line(*b)
    w.up()
    if rng.random() < 0.8:
        wall = shape.buffer(-bit.radius, 16)
        for part in getattr(wall, "geoms", [wall]):
            ring = np.array(part.exterior.coords)
            w.rapid(*ring[0])
            w.line(z=z, feed=w.plunge)
            for p in ring[1:]:
                w.line(*p)
            w.up()


def outline(rng: Rng, bit: Bit) -> bytes:
    w, speed = writer_of(rng, bit)
    odd = float(rng.choice([0.0, 0.0, 1.0]))
    total = size_of(rng, 3, min(20.0, 3.2 * bit.diameter), w.unit, 0.4)
    depths = depths_of(rng, bit, total, (0.25, 0.9))
    for _ in range(int(rng.integers(1, 4))):
        shape = shape_of(rng, bit, w.unit, odd, 15)
        outline_passes(w, rng, shape, bit, depths)
    return w.text(speed)


def outline_passes(w, rng, shape, bit, depths) -> None:
    style = "round" if rng.random() < 0.7 else "mitre"
    around = shape.buffer(bit.radius, 16, join_style=style)
    if rng.random() < 0.2:
        around = shape.buffer(-bit.radius, 16)
        if around.is_empty or around.geom_type != "Polygon":
            around = shape.buffer(bit.radius, 16, join_style=style)
    ring = np.array(around.exterior.coords)
    corners = np.array(shape.exterior.coords)
    arcs = style == "round" and len(corners) <= 9
    w.up()
    w.rapid(*ring[0])
    z0 = 0.0
    for depth in depths:
        enter(w, rng, ring, z0, -depth, bit)
        if arcs:
            box_arcs(w, ring, corners, bit.radius)
        else:
            for p in ring[1:]:
                w.line(*p)
        z0 = -depth
    w.up()


def cross(a: np.ndarray, b: np.ndarray) -> float:
    return float(a[0] * b[1] - a[1] * b[0])


def box_arcs(w: Writer, ring: np.ndarray, corners: np.ndarray, radius: float) -> None:
    """Write a ring with its chords around corners as arcs."""
    i = 0
    while i < len(ring) - 1:
        here = ring[i]
        centre = corners[np.argmin(np.abs(np.hypot(*(corners - here).T) - radius))]
        j = i
        while j + 1 < len(ring) and abs(np.hypot(*(ring[j + 1] - centre)) - radius) < 1e-6:
            j += 1
        if j > i + 1:
            turn = cross(ring[i + 1] - ring[i], ring[i + 2] - ring[i + 1])
            w.arc(*ring[j], *centre, clockwise=turn < 0)
            i = j
        else:
            w.line(*ring[i + 1])
            i += 1


def slots(rng: Rng, bit: Bit) -> bytes:
    w, speed = writer_of(rng, bit)
    odd = float(rng.choice([0.0, 1.0]))
    total = size_of(rng, 0.5 * bit.diameter, 2 * bit.diameter, w.unit, 0.4)
    depths = depths_of(rng, bit, total, (0.25, 0.7))
    for _ in range(int(rng.integers(1, 6))):
        a = np.array([size_of(rng, 5, 150, w.unit, odd), size_of(rng, 5, 150, w.unit, odd)])
        length = size_of(rng, 15, 90, w.unit, odd)
        b = a + (np.array([length, 0]) if rng.random() < 0.5 else np.array([0, length]))
        w.up()
        w.rapid(*a)
        w.rapid(z=1)
        for depth in depths:
            w.line(z=-depth, feed=w.plunge)
            w.line(*b)
            a, b = b, a
    w.up()
    return w.text(speed)


def holes(rng: Rng, bit: Bit) -> bytes:
    """Holes bored along helices, in a pattern."""
    w, speed = writer_of(rng, bit)
    total = size_of(rng, 3, 15, w.unit, 0.3)
    for _ in range(int(rng.integers(1, 3))):
        if rng.random() < 0.8:
            hole = size_of(rng, 1.15 * bit.diameter, 2 * bit.diameter, w.unit, 0.15)
        else:
            hole = bit.diameter * rng.uniform(1.15, 1.9)
        r = (hole - bit.diameter) / 2
        if r < 0.05:
            r = 0.25 * bit.diameter
        pitch = bit.diameter * rng.uniform(0.1, 0.4)
        for _ in range(int(rng.integers(2, 6))):
            x, y = (size_of(rng, 10, 150, w.unit, 0.2) for _ in range(2))
            w.up()
            w.rapid(x + r, y)
            w.rapid(z=0.5)
            w.line(z=0.0, feed=w.plunge)
            z = 0.0
            while z > -total:
                z = max(-total, z - pitch)
                w.arc(x + r, y, x, y, False, z)
            w.arc(x + r, y, x, y, False)
            w.line(x, y)
            w.up()
    return w.text(speed)


# --------------------------------------------------------------------- relief


def relief(rng: Rng, bit: Bit) -> bytes:
    """Close parallel passes of a round bit over a surface, its tip on the true offset."""
    w, speed = writer_of(rng, bit)
    radius = bit.tip_radius or bit.radius
    s = 2 * radius * float(rng.choice(np.arange(0.05, 0.151, 0.01)))
    if rng.random() < 0.35:
        s = 2 * radius * rng.uniform(0.05, 0.15)
    if rng.random() < 0.2:
        s = max(0.05, round(s, 1))
    wide, deep = rng.uniform(25, 45), min(60 * s, rng.uniform(18, 35))
    cell = min(0.2, radius / 6)
    surface = height_map(rng, wide, deep, cell)
    tip = offset_surface(surface, cell, radius)
    y, flip, started = 0.0, False, False
    turn = rng.random() < 0.3
    pitch = max(cell, rng.uniform(0.15, 0.4))
    while y <= deep:
        xs = np.arange(0, wide + 1e-9, pitch)
        zs = np.array([lookup(tip, cell, x, y) for x in xs])
        points = np.column_stack([xs, np.full(len(xs), y), zs])[:: -1 if flip else 1]
        if turn:
            points = points[:, [1, 0, 2]]
        points = simplified(points, 0.002)
        if not started:
            w.rapid(points[0][0], points[0][1])
            w.rapid(z=1.0)
            started = True
        for p in points:
            w.line(*p)
        flip, y = not flip, y + s
    w.up()
    return w.text(speed)


def height_map(rng: Rng, wide: float, deep: float, cell: float) -> np.ndarray:
    x = np.arange(-8, wide + 8, cell)
    y = np.arange(-8, deep + 8, cell)[:, None]
    z = np.full((len(y), len(x)), -4.0)
    kind = rng.choice(["waves", "domes", "steps", "mixed"])
    if kind in ("waves", "mixed"):
        for _ in range(3):
            k = rng.uniform(0.1, 0.5)
            a = rng.uniform(0, np.pi)
            z = z + 0.5 / k * 0.6 * np.sin(k * (x * np.cos(a) + y * np.sin(a)) + rng.uniform(0, 6))
    if kind in ("domes", "mixed"):
        for _ in range(6):
            cx, cy, r = rng.uniform(0, wide), rng.uniform(0, deep), rng.uniform(2, 9)
            d2 = r * r - (x - cx) ** 2 - (y - cy) ** 2
            z = np.maximum(z, np.where(d2 > 0, -5 + np.sqrt(np.maximum(d2, 0)), -99))
    if kind == "steps":
        for _ in range(6):
            cx, cy = rng.uniform(0, wide), rng.uniform(0, deep)
            size = rng.uniform(3, 10)
            inside = (np.abs(x - cx) < size) & (np.abs(y - cy) < size)
            z = np.where(inside, np.maximum(z, rng.uniform(-3, -0.5)), z)
    return np.minimum(z, -0.3)


def offset_surface(z: np.ndarray, cell: float, radius: float) -> np.ndarray:
    """Lowest place of a ball's tip over each cell: the highest of all that it touches."""
    n = int(radius / cell)
    best = np.full_like(z, -np.inf)
    for i in range(-n, n + 1):
        for j in range(-n, n + 1):
            d2 = (i * i + j * j) * cell * cell
            if d2 <= radius * radius:
                lift = math.sqrt(radius * radius - d2) - radius
                best = np.maximum(best, np.roll(z, (i, j), (0, 1)) + lift)
    return best


def lookup(z: np.ndarray, cell: float, x: float, y: float) -> float:
    i, j = (y + 8) / cell, (x + 8) / cell
    a, b = int(i), int(j)
    fi, fj = i - a, j - b
    return float(
        z[a, b] * (1 - fi) * (1 - fj) + z[a + 1, b] * fi * (1 - fj)
        + z[a, b + 1] * (1 - fi) * fj + z[a + 1, b + 1] * fi * fj
    )  # fmt: skip


def simplified(points: np.ndarray, tolerance: float) -> np.ndarray:
    """Drop points that straight lines make superfluous."""
    line = LineString(points[:, [0, 2]] if np.ptp(points[:, 0]) > 0 else points[:, [1, 2]])
    kept = np.array(line.simplify(tolerance).coords)[:, 0]
    axis = 0 if np.ptp(points[:, 0]) > 0 else 1
    return points[np.isin(points[:, axis], kept)]


# --------------------------------------------------------------------- vee


def carving(rng: Rng, bit: Bit) -> bytes:
    """Shapes carved by a vee: the tip on the skeleton of a convex polygon, as deep as wide."""
    w, speed = writer_of(rng, bit)
    tangent = math.tan(bit.angle / 2)
    most = 0.95 * bit.radius / tangent
    cap = float(rng.choice([1e9, 1e9, 1.5, 2.0])) if rng.random() < 0.5 else 1e9
    odd = float(rng.choice([0.0, 1.0]))
    for _ in range(int(rng.integers(2, 7))):
        outline_ = carved_outline(rng, w.unit, odd, most * tangent)
        centre = size_of(rng, 10, 120, w.unit, odd), size_of(rng, 10, 120, w.unit, odd)
        outline_ = affinity.translate(affinity.rotate(outline_, rng.uniform(0, 360)), *centre)
        for a, b in skeleton(np.array(outline_.exterior.coords)[:-1]):
            strokes(w, a, b, tangent, min(cap, most))
    return w.text(speed)


def carved_outline(rng, unit, odd, half) -> Polygon:
    kind = rng.choice(["triangle", "box", "star", "polygon", "regular", "stroke"])
    if kind == "box":
        a = size_of(rng, 2, 1.9 * half, unit, odd)
        return box(-a / 2, -a, a / 2, a * rng.uniform(0.3, 3))
    if kind == "stroke":
        a = size_of(rng, 1, 1.5 * half, unit, odd)
        return box(0, 0, size_of(rng, 10, 40, unit, odd), a)
    if kind == "regular":
        n = int(rng.integers(3, 9))
        r = rng.uniform(0.6, 0.98) * half / math.cos(math.pi / n)
        return Polygon([(r * math.cos(2 * math.pi * i / n), r * math.sin(2 * math.pi * i / n))
                        for i in range(n)])  # fmt: skip
    n = 3 if kind == "triangle" else int(rng.integers(4, 7))
    angle = (np.arange(n) + rng.uniform(-0.25, 0.25, n)) * 2 * np.pi / n
    r = half * rng.uniform(1.0, 1.5 if n > 3 else 2.0, n)
    shape = Polygon(np.column_stack([r * np.cos(angle), r * np.sin(angle)])).convex_hull
    return shape


def skeleton(corners: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
    """Medial axis of a convex polygon as pieces (x, y, inset): edges shrink until they vanish."""
    n = len(corners)
    area = sum(cross(corners[i], corners[(i + 1) % n]) for i in range(n))
    if area < 0:
        corners = corners[::-1]
    normals, offsets = [], []
    for i in range(n):
        d = corners[(i + 1) % n] - corners[i]
        normal = np.array([-d[1], d[0]]) / np.hypot(*d)
        normals.append(normal)
        offsets.append(float(normal @ corners[i]))
    active = list(range(n))
    nodes = {i: np.array([*corners[i], 0.0]) for i in range(n)}  # node before edge i
    pieces = []
    while len(active) > 2:
        m = len(active)
        best = None
        for k in range(m):
            a, b, c = active[k - 1], active[k], active[(k + 1) % m]
            system = np.array([[*normals[e], -1.0] for e in (a, b, c)])
            if abs(np.linalg.det(system)) < 1e-12:
                continue
            place = np.linalg.solve(system, [offsets[e] for e in (a, b, c)])
            if place[2] > 1e-9 and (best is None or place[2] < best[0][2] - 1e-9):
                best = place, k
        if best is None:
            break
        place, k = best
        gone, after = active[k], active[(k + 1) % m]
        pieces += [(nodes[gone], place), (nodes[after], place)]
        nodes[after] = place
        active.pop(k)
        if len(active) == 2:
            break
    if len(active) == 2:
        a, b = active
        pieces.append((nodes[a], nodes[b]))
    return [(p, q) for p, q in pieces if np.hypot(*(p - q)[:2]) > 1e-6]


def strokes(w: Writer, a: np.ndarray, b: np.ndarray, tangent: float, cap: float) -> None:
    """Carve along one piece, no deeper than the cap."""
    da, db = a[2] / tangent, b[2] / tangent
    points = [(0.0, min(da, cap)), (1.0, min(db, cap))]
    if (da - cap) * (db - cap) < 0:
        points.insert(1, ((cap - da) / (db - da), cap))
    w.up()
    w.rapid(*a[:2])
    w.rapid(z=0.5)
    for part, depth in points:
        at = a[:2] + part * (b[:2] - a[:2])
        w.line(*at, z=-depth)
    w.up()


def leaves(rng: Rng, bit: Bit) -> bytes:
    """Leaves: lines that swell and fade, wide in the middle."""
    w, speed = writer_of(rng, bit)
    tangent = math.tan(bit.angle / 2)
    half = min(0.9 * bit.radius, size_of(rng, 1, 8, w.unit, 0.3) / 2)
    for _ in range(int(rng.integers(3, 12))):
        a = rng.uniform(0, 100, 2)
        way = rng.uniform(0, 6.28)
        length = rng.uniform(6, 14) * half
        t = np.linspace(0, 1, 25)
        wide = half * np.sin(np.pi * t)
        at = a + (t * length)[:, None] * np.array([math.cos(way), math.sin(way)])
        w.up()
        w.rapid(*at[0])
        w.rapid(z=0.5)
        for p, r in zip(at, wide, strict=True):
            w.line(*p, z=-r / tangent)
    w.up()
    return w.text(speed)


def chamfer(rng: Rng, bit: Bit) -> bytes:
    w, speed = writer_of(rng, bit)
    shape = shape_of(rng, bit, w.unit, float(rng.choice([0.0, 1.0])), 30)
    depth = size_of(rng, 0.5, 2.5, w.unit, 0.3)
    ring = np.array(shape.buffer(rng.choice([0.0, 0.3])).exterior.coords)
    w.rapid(*ring[0])
    w.line(z=-depth, feed=w.plunge)
    for p in ring[1:]:
        w.line(*p)
    w.up()
    return w.text(speed)


def engraving(rng: Rng, bit: Bit) -> bytes:
    w, speed = writer_of(rng, bit)
    depth = float(rng.choice([0.2, 0.3, 0.4, 0.5, 0.8, 1.0]))
    for _ in range(int(rng.integers(5, 25))):
        a = rng.uniform(0, 120, 2)
        w.up()
        w.rapid(*a)
        w.line(z=-depth, feed=w.plunge)
        for _ in range(int(rng.integers(1, 8))):
            a = a + rng.normal(0, 4, 2)
            w.line(*a)
    w.up()
    return w.text(speed)


FAMILIES = {
    "flat": ((pocket, 0.5), (outline, 0.25), (slots, 0.1), (holes, 0.15)),
    "bull": ((pocket, 0.7), (relief, 0.3)),
    "ball": ((relief, 0.9), (engraving, 0.05), (slots, 0.05)),
    "taper-ball": ((relief, 0.85), (engraving, 0.15)),
    "vee": ((carving, 0.65), (leaves, 0.12), (chamfer, 0.13), (engraving, 0.1)),
}


@dataclass(frozen=True)
class Made:
    """A program, the rack it was made from, and the bit it was made for."""

    family: str
    bit: Bit
    rack: tuple[Bit, ...]
    text: bytes


def make(seed: int) -> Made:
    """Make one program from a seed."""
    rng = np.random.default_rng([7, seed])
    while True:
        rack = rack_of(rng)
        usable = [b for b in rack if b.shape in FAMILIES]
        bit = usable[rng.integers(len(usable))]
        makers, weights = zip(*FAMILIES[bit.shape], strict=True)
        maker = makers[rng.choice(len(makers), p=np.array(weights) / sum(weights))]
        if bit.shape == "bull" and maker is relief:
            continue
        text = maker(rng, bit)
        if text.count(b"\nG1") >= 3 or text.count(b"\nG3") >= 3:
            return Made(maker.__name__, bit, rack, text)
