"""Programs made for known bits: the second generator.

Written afresh in another manner: free shapes are distance fields on a grid, traced; medial axes
come from Voronoi diagrams; everything is chords, or arcs written with a radius; lines are numbered;
feeds come from a list rather than from a rule. Nothing was fitted to it, but its misses were looked
at (seeds below 300, some of 1000 to 2299), which led to new kinds of evidence.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import ndimage
from scipy.spatial import Voronoi

from dryrun.job.model import Bit

Rng = np.random.Generator


def bit(name: str, shape: str, diameter: float, **more) -> Bit:
    return Bit(name, shape, diameter, flutes=more.pop("flutes", 2), **more)


RACK = (
    bit("1/8 end", "flat", 3.175, flute_length=12),
    bit("6 end", "flat", 6.0, flute_length=22),
    bit("1/4 end", "flat", 6.35, flute_length=25.4),
    bit("12 end", "flat", 12.0, flute_length=32),
    bit("3 round", "ball", 3.0, flute_length=12),
    bit("6 round", "ball", 6.0, flute_length=20),
    bit("60 point", "vee", 12.7, angle=math.radians(60)),
    bit("90 point", "vee", 12.7, angle=math.radians(90)),
)
SECOND = (
    bit("2 end", "flat", 2.0, flute_length=8),
    bit("4 end", "flat", 4.0, flute_length=14, flutes=3),
    bit("8 end", "flat", 8.0, flute_length=25),
    bit("1/2 end", "flat", 12.7, flute_length=32),
    bit("1/8 round", "ball", 3.175, flute_length=12),
    bit("1/2 round", "ball", 12.7, flute_length=30),
    bit("taper round", "taper-ball", 6.0, angle=math.radians(5.4), tip_radius=0.5),
    bit("90 point", "vee", 12.7, angle=math.radians(90)),
)


class Sheet:
    """Numbered lines, modal words left out, in either unit."""

    def __init__(self, rng: Rng, cutter: Bit) -> None:
        quarter = abs(cutter.diameter * 8 / 25.4 - round(cutter.diameter * 8 / 25.4)) < 1e-6
        self.inch = rng.random() < (0.5 if quarter else 0.12)
        self.base = 0.0
        self.decimals = 4 if self.inch else int(rng.choice([2, 3, 3]))
        self.rows = ["%", "(job sheet)", "G90 G94", "G20" if self.inch else "G21"]
        self.feed = self.pick_feed(rng, cutter)
        self.speed = float(rng.choice([10000, 12000, 15000, 18000, 22000]))
        self.rows += [f"M3 S{self.speed:.0f}", f"G0 Z{self.n(8)}"]
        self.last = ""

    @staticmethod
    def pick_feed(rng: Rng, cutter: Bit) -> float:
        """What a person dials in: a feed by the size of the bit, whatever the speed."""
        size = 2 * cutter.tip_radius if cutter.tip_radius else cutter.diameter
        if cutter.shape == "vee":
            return float(rng.choice([800, 1000, 1500, 2000, 2500]))
        if size < 2.5:
            return float(rng.choice([600, 800, 1000, 1500]))
        if size < 5:
            return float(rng.choice([800, 1200, 1500, 2000, 2500]))
        if size < 10:
            return float(rng.choice([1500, 2000, 2500, 3000, 4000]))
        return float(rng.choice([2000, 3000, 4000, 5000, 6000]))

    def n(self, value: float) -> str:
        value = (value + 0.0) / (25.4 if self.inch else 1.0)
        return f"{value:.{self.decimals}f}".rstrip("0").rstrip(".") or "0"

    def add(self, text: str) -> None:
        self.rows.append(f"N{10 * len(self.rows)} {text}")

    def jump(self, x: float, y: float) -> None:
        self.add(f"G0 Z{self.n(8)}")
        self.add(f"X{self.n(x)} Y{self.n(y)}")
        self.last = "G0"

    def cut(self, x=None, y=None, z=None, feed: float | None = None) -> None:
        words = [] if self.last == "G1" else ["G1"]
        words += [f"{c}{self.n(v)}" for c, v in (("X", x), ("Y", y), ("Z", z)) if v is not None]
        if self.last != "G1" or feed:
            words.append(f"F{self.n(feed or self.feed)}")
        self.add(" ".join(words))
        self.last = "G1" if not feed else ""

    def follow(self, points: np.ndarray) -> None:
        for p in points:
            self.cut(*p)

    def bytes(self) -> bytes:
        return "\r\n".join([*self.rows, "M5", "M2", "%", ""]).encode()


def measure_of(rng: Rng, low: float, high: float, inch: bool) -> float:
    """A dimension: mostly whole, sometimes not."""
    value = rng.uniform(low, high)
    if rng.random() < 0.3:
        return float(value)
    step = 25.4 / 8 if inch else 1.0
    return float(max(1, round(value / step)) * step)


def steps_down(rng: Rng, cutter: Bit, total: float) -> list[float]:
    most = cutter.diameter * rng.uniform(0.3, 1.0)
    return list(np.linspace(0, total, max(1, math.ceil(total / most)) + 1)[1:])


# --------------------------------------------------------------- flat work


def spiral_box(rng: Rng, cutter: Bit) -> bytes:
    """A rectangle cleared by one square spiral from the middle out, then its wall."""
    s = Sheet(rng, cutter)
    w, h = (measure_of(rng, 3 * cutter.diameter, 60 + 4 * cutter.diameter, s.inch) for _ in "xy")
    x0, y0 = (measure_of(rng, 5, 40, s.inch) for _ in "xy")
    over = cutter.diameter * rng.uniform(0.3, 0.6)
    a, b = w / 2 - cutter.radius, h / 2 - cutter.radius
    count = max(1, math.ceil(min(a, b) / over))
    over = min(a, b) / count
    cx, cy = x0 + w / 2, y0 + h / 2
    for z in steps_down(rng, cutter, measure_of(rng, 2, 1.8 * cutter.diameter, s.inch)):
        for k in range(count + 1):
            dx, dy = a - (count - k) * over, b - (count - k) * over
            ring = [(cx - dx, cy - dy), (cx + dx, cy - dy), (cx + dx, cy + dy), (cx - dx, cy + dy)]
            if k == 0:
                s.jump(*ring[0])
                s.cut(z=0.2, feed=300)
                s.cut(*ring[1], z=-z)
            if min(dx, dy) < 1e-6:
                s.follow(np.array(ring[:2] if dx > dy else ring[1:3]))
                continue
            s.follow(np.array([*ring, ring[0]]))
    return s.bytes()


def field_pocket(rng: Rng, cutter: Bit) -> bytes:
    """A free shape cleared along the contours of its distance field."""
    s = Sheet(rng, cutter)
    cell = cutter.diameter / 24
    reach = rng.uniform(2.5, 5) * cutter.diameter
    n = int(2.6 * reach / cell)
    y, x = (np.mgrid[0:n, 0:n] - n / 2) * cell
    angle, r = np.arctan2(y, x), np.hypot(x, y)
    lobes = int(rng.integers(2, 6))
    inside = r < reach * (0.8 + 0.2 * np.cos(lobes * angle + rng.uniform(0, 6)))
    if rng.random() < 0.4:
        inside &= np.hypot(x - reach / 4, y) > cutter.diameter * 0.4
    depth_in = ndimage.distance_transform_edt(inside) * cell
    depth_in = ndimage.gaussian_filter(depth_in, 1.0)
    over = cutter.diameter * rng.uniform(0.3, 0.6)
    place = rng.uniform(20, 120, 2)
    for z in steps_down(rng, cutter, measure_of(rng, 2, 1.5 * cutter.diameter, s.inch)):
        level = cutter.radius
        while level < depth_in.max():
            for loop in contours(depth_in, level):
                points = (loop - n / 2) * cell + place
                if len(points) < 8:
                    continue
                points = thin(points, 0.01)
                s.jump(*points[0])
                s.cut(z=-z, feed=400)
                s.follow(points[1:])
            level += over
    return s.bytes()


def contours(field: np.ndarray, level: float) -> list[np.ndarray]:
    """Closed contour lines of a field by marching squares, as (x, y) in cells."""
    above = field > level
    segments: dict[tuple, list[tuple]] = {}
    ys, xs = np.nonzero(
        (above[:-1, :-1] != above[1:, 1:]) | (above[:-1, 1:] != above[1:, :-1])
        | (above[:-1, :-1] != above[:-1, 1:])
    )  # fmt: skip
    for y, x in zip(ys, xs, strict=True):
        corners = ((y, x), (y, x + 1), (y + 1, x + 1), (y + 1, x))
        cuts = []
        for p, q in zip(corners, corners[1:] + corners[:1], strict=True):
            if above[p] != above[q]:
                cuts.append((min(p, q), max(p, q)))
        for one, two in zip(cuts[::2], cuts[1::2], strict=True):
            segments.setdefault(one, []).append(two)
            segments.setdefault(two, []).append(one)

    def at(edge):
        p, q = edge
        part = (level - field[p]) / (field[q] - field[p])
        return p[1] + part * (q[1] - p[1]), p[0] + part * (q[0] - p[0])

    loops, free = [], set(segments)
    while free:
        here = free.pop()
        loop = [here]
        while True:
            onward = [e for e in segments[here] if e in free]
            if not onward:
                break
            here = onward[0]
            free.discard(here)
            loop.append(here)
        loops.append(np.array([at(e) for e in [*loop, loop[0]]]))
    return loops


def thin(points: np.ndarray, tolerance: float) -> np.ndarray:
    """Drop points nearer than a tolerance to the line between those kept (iterative halving)."""
    keep = np.zeros(len(points), bool)
    keep[[0, len(points) // 2, -1]] = True
    stack = [(0, len(points) // 2), (len(points) // 2, len(points) - 1)]
    while stack:
        a, b = stack.pop()
        if b - a < 2:
            continue
        d = points[b] - points[a]
        length = max(float(np.linalg.norm(d)), 1e-12)
        rel = points[a + 1 : b] - points[a]
        off = np.linalg.norm(rel - np.outer(rel @ d / length**2, d), axis=1)
        k = int(off.argmax())
        if off[k] > tolerance:
            keep[a + 1 + k] = True
            stack += [(a, a + 1 + k), (a + 1 + k, b)]
    return points[keep]


def slanted_raster(rng: Rng, cutter: Bit) -> bytes:
    """A rectangle cleared by lines at an angle, in one direction or both, wall last."""
    s = Sheet(rng, cutter)
    w, h = (measure_of(rng, 3 * cutter.diameter, 50 + 5 * cutter.diameter, s.inch) for _ in "xy")
    a, b = w / 2 - cutter.radius, h / 2 - cutter.radius
    way = math.radians(float(rng.choice([0, 0, 30, 45, 90])))
    over = cutter.diameter * float(rng.choice([0.35, 0.4, 0.45, 0.5, 0.6, rng.uniform(0.3, 0.6)]))
    u = np.array([math.cos(way), math.sin(way)])
    v = np.array([-u[1], u[0]])
    place = np.array([measure_of(rng, 0, 90, s.inch) + size / 2 for size in (w, h)])
    one_way = rng.random() < 0.3
    for z in steps_down(rng, cutter, measure_of(rng, 1, 1.5 * cutter.diameter, s.inch)):
        reach = abs(v[0]) * a + abs(v[1]) * b
        offset, flip, down = -reach + 0.3 * over, False, False
        while offset < reach:
            ends = clip_box(v * offset, u, a, b)
            if ends is not None:
                p, q = (v * offset + u * t + place for t in (ends if not flip else ends[::-1]))
                if not down or one_way:
                    s.jump(*p)
                    s.cut(z=-z, feed=350)
                    down = True
                else:
                    s.cut(*p)
                s.cut(*q)
                flip = not flip and not one_way
            offset += over
        ring = place + np.array([(-a, -b), (a, -b), (a, b), (-a, b), (-a, -b)])
        s.jump(*ring[0])
        s.cut(z=-z, feed=350)
        s.follow(ring[1:])
    return s.bytes()


def clip_box(p, u, a, b):
    low, high = -1e9, 1e9
    for k, half in ((0, a), (1, b)):
        if abs(u[k]) < 1e-9:
            if abs(p[k]) > half:
                return None
            continue
        t = sorted(((-half - p[k]) / u[k], (half - p[k]) / u[k]))
        low, high = max(low, t[0]), min(high, t[1])
    return (low, high) if high - low > 0.3 else None


def ramped_outline(rng: Rng, cutter: Bit) -> bytes:
    """Parts cut out along a path that sinks all the way round, corners rolled as chords."""
    s = Sheet(rng, cutter)
    for _ in range(int(rng.integers(1, 3))):
        w, h = (measure_of(rng, 20, 90, s.inch) for _ in "xy")
        x0, y0 = (measure_of(rng, 10, 150, s.inch) for _ in "xy")
        corner = float(rng.choice([0.0, 0.0, rng.uniform(2, 8)]))
        around = rolled_box(x0, y0, w, h, corner, cutter.radius)
        if rng.random() < 0.3:
            turns = np.linspace(0, 2 * np.pi, 73)
            r = w / 2 + cutter.radius
            around = np.column_stack([x0 + r * np.cos(turns), y0 + r * np.sin(turns)])
        total = measure_of(rng, 4, 16, s.inch)
        depths = steps_down(rng, cutter, min(total, 3 * cutter.diameter))
        s.jump(*around[0])
        s.cut(z=0.1, feed=400)
        before = 0.0
        lengths = np.r_[0, np.cumsum(np.hypot(*np.diff(around, axis=0).T))]
        sink = rng.random() < 0.5
        for z in depths:
            if sink:
                levels = -(before + (z - before) * lengths / lengths[-1])
                s.follow(np.column_stack([around, levels])[1:])
            else:
                s.cut(z=-z, feed=400)
                s.follow(around[1:])
            before = z
        if sink:
            s.follow(around[1:])
    return s.bytes()


def rolled_box(x0, y0, w, h, corner, radius) -> np.ndarray:
    r = corner + radius
    points = []
    for k, (cx, cy) in enumerate(
        (
            (x0 + w - corner, y0 + h - corner),
            (x0 + corner, y0 + h - corner),
            (x0 + corner, y0 + corner),
            (x0 + w - corner, y0 + corner),
        )
    ):
        t = np.linspace(k * np.pi / 2, (k + 1) * np.pi / 2, 13)
        points += [(cx + r * math.cos(q), cy + r * math.sin(q)) for q in t]
    return np.array([*points, points[0]])


def bores(rng: Rng, cutter: Bit) -> bytes:
    """Round holes: down a helix of half turns, then rings outward for the wide ones."""
    s = Sheet(rng, cutter)
    total = measure_of(rng, 3, 12, s.inch)
    wide = cutter.diameter * rng.uniform(1.3, 3.5)
    wide = measure_of(rng, wide, wide + 1e-6, s.inch) if rng.random() < 0.8 else wide
    wide = max(wide, 1.2 * cutter.diameter)
    last = wide / 2 - cutter.radius
    first = min(last, cutter.diameter * rng.uniform(0.2, 0.45))
    pitch = cutter.diameter * rng.uniform(0.1, 0.5)
    over = cutter.diameter * rng.uniform(0.3, 0.5)
    for _ in range(int(rng.integers(2, 6))):
        x, y = (measure_of(rng, 10, 140, s.inch) for _ in "xy")
        s.jump(x + first, y)
        s.cut(z=0.3, feed=300)
        z, right = 0.0, True
        while z > -total:
            z = max(-total, z - pitch / 2)
            right = not right
            ring(s, x, first, right, z)
        ring(s, x, first, not right, None)
        ring(s, x, first, right, None)
        r = first
        while r < last - 1e-6:
            r = min(last, r + over)
            s.cut(x + (r if right else -r), y)
            ring(s, x, r, not right, None)
            ring(s, x, r, right, None)
    return s.bytes()


def ring(s: Sheet, x: float, r: float, right: bool, z: float | None) -> None:
    """A half turn, written with its radius."""
    level = "" if z is None else f" Z{s.n(z)}"
    s.add(f"G3 X{s.n(x + (r if right else -r))}{level} R{s.n(r)}" + f" F{s.n(s.feed)}")
    s.last = "G3"


# --------------------------------------------------------------- relief


def smooth_relief(rng: Rng, cutter: Bit) -> bytes:
    """A smooth surface followed by contact: the ball's centre stands off along the normal."""
    s = Sheet(rng, cutter)
    r = cutter.tip_radius or cutter.radius
    over = 2 * r * rng.uniform(0.05, 0.15)
    if rng.random() < 0.4:
        over = 2 * r * float(rng.choice([0.05, 0.08, 0.1, 0.12, 0.15]))
    w = rng.uniform(20, 40)
    h = min(70 * over, 30.0)
    k1, k2, a1, a2 = rng.uniform(0.1, 0.6), rng.uniform(0.1, 0.6), *rng.uniform(0.3, 1.2, 2)
    least = 1.3 * r  # no hollow narrower than the ball
    a1, a2 = min(a1, 1 / (least * k1 * k1)), min(a2, 1 / (least * k2 * k2))
    along_y = rng.random() < 0.5
    xs = np.arange(0, w, rng.uniform(0.2, 0.5))
    flip = False
    for n, y in enumerate(np.arange(0, h, over)):
        z = np.array([tip_height(x, y, r, k1, k2, a1, a2) for x in xs]) - a1 - a2 - 0.3
        points = np.column_stack([xs, np.full(len(xs), y), z])[:: -1 if flip else 1]
        if along_y:
            points = points[:, [1, 0, 2]]
        if n == 0:
            s.jump(*points[0, :2])
        s.follow(points)
        flip = not flip
    return s.bytes()


def tip_height(x, y, r, k1, k2, a1, a2) -> float:
    """Tip over a place, found by walking the contact point until the centre is there."""
    u, v = x, y
    for _ in range(12):
        p, q = a1 * k1 * math.cos(k1 * u), -a2 * k2 * math.sin(k2 * v)
        size = math.sqrt(1 + p * p + q * q)
        u += 0.7 * (x - (u - r * p / size))
        v += 0.7 * (y - (v - r * q / size))
    p, q = a1 * k1 * math.cos(k1 * u), -a2 * k2 * math.sin(k2 * v)
    return a1 * math.sin(k1 * u) + a2 * math.cos(k2 * v) + r / math.sqrt(1 + p * p + q * q) - r


def letters_relief(rng: Rng, cutter: Bit) -> bytes:
    """Raised blocks with steep sides, from a picture of heights."""
    s = Sheet(rng, cutter)
    r = cutter.tip_radius or cutter.radius
    cell = min(0.15, r / 5)
    over = 2 * r * rng.uniform(0.06, 0.15)
    w, h = rng.uniform(18, 30), min(60 * over, 22.0)
    ny, nx = int(h / cell), int(w / cell)
    picture = np.zeros((ny, nx))
    for _ in range(int(rng.integers(3, 9))):
        y, x = rng.integers(0, ny), rng.integers(0, nx)
        b, c = (int(rng.uniform(2, 8) / cell) for _ in "xy")
        picture[y : y + b, x : x + c] = rng.uniform(0.5, 3)
    picture = ndimage.gaussian_filter(picture, rng.uniform(0.5, 3))
    n = int(r / cell)
    dy, dx = np.mgrid[-n : n + 1, -n : n + 1] * cell
    d2 = r * r - dx * dx - dy * dy
    hat = np.where(d2 >= 0, np.sqrt(np.maximum(d2, 0)) - r, -99.0)
    tip = ndimage.grey_dilation(picture, structure=hat) - picture.max() - 0.4
    for number, y in enumerate(np.arange(0, h - cell, over)):
        row = ndimage.map_coordinates(tip, [np.full(nx, y / cell), np.arange(nx)], order=1)
        points = np.column_stack([np.arange(nx) * cell, np.full(nx, y), row])
        points = thin(points[:: -1 if number % 2 else 1], 0.004)
        if number == 0:
            s.jump(*points[0, :2])
        s.follow(points)
    return s.bytes()


# --------------------------------------------------------------- vee


def medial_carving(rng: Rng, cutter: Bit) -> bytes:
    """A shape carved along the medial axis that a Voronoi diagram of its sampled edge gives."""
    s = Sheet(rng, cutter)
    t = math.tan(cutter.angle / 2)
    half = min(0.9 * cutter.radius, rng.uniform(1.5, 6))
    for _ in range(int(rng.integers(2, 5))):
        corners = letter(rng, half)
        edge = []
        for p, q in zip(corners, np.roll(corners, -1, axis=0), strict=True):
            n = max(4, int(np.hypot(*(q - p)) / (half * 0.08)))
            edge.append(p + (q - p) * (np.arange(n) / n)[:, None])
        edge = np.vstack(edge)
        place, turn = rng.uniform(15, 140, 2), rng.uniform(0, 6.28)
        spin = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
        for line in axis_lines(edge, corners):
            s.jump(*(spin @ line[0, :2] + place))
            for p in line:
                s.cut(*(spin @ p[:2] + place), z=-p[2] / t)
    return s.bytes()


def letter(rng: Rng, half: float) -> np.ndarray:
    kind = int(rng.integers(0, 4))
    w = half * 1.6
    if kind == 0:  # L
        a, b = rng.uniform(3, 6, 2) * w
        return np.array([(0, 0), (a, 0), (a, w), (w, w), (w, b), (0, b)])
    if kind == 1:  # T
        a, b = rng.uniform(2, 4, 2) * w
        return np.array([(-w / 2, 0), (w / 2, 0), (w / 2, b), (a, b), (a, b + w), (-a, b + w),
                         (-a, b), (-w / 2, b)])  # fmt: skip
    if kind == 2:  # star
        n = int(rng.integers(4, 8))
        angle = np.arange(2 * n) * np.pi / n
        r = np.where(np.arange(2 * n) % 2, 0.9, rng.uniform(1.8, 3.0)) * half
        return np.column_stack([r * np.cos(angle), r * np.sin(angle)])
    a = rng.uniform(3, 8) * w  # wedge
    return np.array([(0, 0), (a, w * 0.2), (a, w), (0, w * 1.1)])


def inside(points: np.ndarray, corners: np.ndarray) -> np.ndarray:
    odd = np.zeros(len(points), bool)
    for (ax, ay), (bx, by) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        crosses = (ay > points[:, 1]) != (by > points[:, 1])
        with np.errstate(divide="ignore", invalid="ignore"):
            odd ^= crosses & (points[:, 0] < ax + (points[:, 1] - ay) / (by - ay) * (bx - ax))
    return odd


def edge_distance(points: np.ndarray, corners: np.ndarray) -> np.ndarray:
    best = np.full(len(points), np.inf)
    for p, q in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        d = q - p
        t = np.clip((points - p) @ d / (d @ d), 0, 1)
        best = np.minimum(best, np.hypot(*(points - p - t[:, None] * d).T))
    return best


def axis_lines(edge: np.ndarray, corners: np.ndarray) -> list[np.ndarray]:
    """Branches of the medial axis, (x, y, distance to the edge) along each."""
    diagram = Voronoi(edge)
    v = diagram.vertices
    ok = inside(v, corners)
    links: dict[int, set[int]] = {}
    n = len(edge)
    for (a, b), (i, j) in zip(diagram.ridge_vertices, diagram.ridge_points, strict=True):
        apart = min(abs(i - j), n - abs(i - j))
        if a >= 0 and b >= 0 and ok[a] and ok[b] and apart > 2:
            links.setdefault(a, set()).add(b)
            links.setdefault(b, set()).add(a)
    radius = edge_distance(v, corners)
    used: set[frozenset] = set()
    lines = []
    for a in sorted(links, key=lambda k: (len(links[k]) == 2, k)):
        for b in sorted(links[a]):
            if frozenset((a, b)) in used:
                continue
            path = [a, b]
            used.add(frozenset((a, b)))
            while len(links[path[-1]]) == 2:
                onward = [c for c in links[path[-1]] if frozenset((path[-1], c)) not in used]
                if not onward:
                    break
                used.add(frozenset((path[-1], onward[0])))
                path.append(onward[0])
            points = np.column_stack([v[path], radius[path]])
            for end in (0, -1):  # run out into the corner, if one is near
                if len(links[path[end]]) == 1:
                    near = corners[np.argmin(np.hypot(*(corners - points[end, :2]).T))]
                    if np.hypot(*(near - points[end, :2])) < 4 * points[end, 2] + 0.05:
                        tip = np.array([[*near, 0.0]])
                        points = np.vstack([tip, points] if end == 0 else [points, tip])
            if np.hypot(*np.diff(points[:, :2], axis=0).T).sum() > 0.3:
                lines.append(thin(points, 0.01))
    return lines


def bevel(rng: Rng, cutter: Bit) -> bytes:
    """Edges of plates broken by the flank of a vee, its tip beside the edge."""
    s = Sheet(rng, cutter)
    for _ in range(int(rng.integers(1, 4))):
        w, h = (measure_of(rng, 30, 120, s.inch) for _ in "xy")
        x0, y0 = (measure_of(rng, 0, 80, s.inch) for _ in "xy")
        depth = float(rng.choice([0.5, 0.8, 1.0, 1.5, 2.0]))
        aside = float(rng.choice([0.0, 0.0, 0.2, 0.5]))
        around = rolled_box(x0, y0, w, h, float(rng.choice([0, 3, 6])), max(aside, 1e-3))
        s.jump(*around[0])
        s.cut(z=-depth, feed=300)
        s.follow(around[1:])
    return s.bytes()


def signature(rng: Rng, cutter: Bit) -> bytes:
    """A line of script: curves of even, small depth."""
    s = Sheet(rng, cutter)
    depth = float(rng.choice([0.2, 0.25, 0.4, 0.6]))
    x = 10.0
    for _ in range(int(rng.integers(4, 12))):
        t = np.linspace(0, rng.uniform(3, 9), 40)
        a, b = rng.uniform(1, 4), rng.uniform(2, 6)
        points = np.column_stack([x + t + a * np.sin(2 * t), 30 + b * np.cos(1.3 * t)])
        s.jump(*points[0])
        s.cut(z=-depth, feed=300)
        s.follow(points[1:])
        x += 12
    return s.bytes()


FAMILIES = {
    "flat": ((spiral_box, 3), (field_pocket, 2), (slanted_raster, 3), (ramped_outline, 3),
             (bores, 2)),
    "ball": ((smooth_relief, 5), (letters_relief, 5)),
    "taper-ball": ((smooth_relief, 5), (letters_relief, 5)),
    "vee": ((medial_carving, 7), (bevel, 1), (signature, 1)),
}  # fmt: skip


@dataclass(frozen=True)
class Made:
    family: str
    bit: Bit
    rack: tuple[Bit, ...]
    text: bytes


def make(seed: int) -> Made:
    """Make one program from a seed."""
    rng = np.random.default_rng([2027, seed])
    rack = RACK if rng.random() < 0.75 else SECOND
    cutter = rack[rng.integers(len(rack))]
    makers, weights = zip(*FAMILIES[cutter.shape], strict=True)
    maker = makers[rng.choice(len(makers), p=np.array(weights) / sum(weights))]
    return Made(maker.__name__, cutter, rack, maker(rng, cutter))
