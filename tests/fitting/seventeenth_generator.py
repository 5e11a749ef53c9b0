"""Seventeenth generator of programs for known bits: plain work as ordinary software writes it.

Written without a look at the fitting room or at what the older generators make. Every program is
fair: its numbers (offsets from whole outlines, arcs the bit rolls over edges, slopes of corners)
tell the bit from the seven others of its rack, none of which would leave the same path. Proportions
of steps, depths and feeds are common practice, no source; sizes of bits are those of trade lists,
from memory.

At first sight (seeds 0 to 299) the right bit came first in 0.727, in the first two in 0.880 (Brier
0.408); what was said with 0.938 was right in 0.756 (41 programs). Least well did bevels (0.45
first), bull noses over reliefs (0.50), rounded edges (0.57), helical holes and engraving with flat
bits (0.60).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from scipy.ndimage import gaussian_filter, grey_dilation, map_coordinates
from scipy.spatial import Voronoi
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import linemerge, polygonize, unary_union

from dryrun.job.model import Bit

Rng = np.random.Generator
LONGEST = 9000  # lines
# fmt: off
FLATS = (1.0, 2.0, 3.0, 3.175, 4.0, 6.0, 6.35, 8.0, 12.0, 22.0)
BALLS = (2.0, 3.0, 3.175, 4.0, 6.0, 6.35, 8.0, 12.0)
BULLS = ((4.0, 0.5), (6.0, 1.0), (6.35, 1.5), (8.0, 2.0), (10.0, 1.0), (12.0, 3.0))
VEES = ((30, 6.0), (45, 6.35), (60, 8.0), (60, 12.7), (90, 12.0), (90, 20.0))
TAPERS = ((0.5, 3.175, 6.2), (0.5, 6.0, 5.4), (1.0, 6.0, 4.0), (1.5, 6.35, 3.0), (0.75, 6.0, 5.0))
DRILLS = (2.0, 3.0, 4.0, 5.0, 6.0, 8.0)
GLYPHS = {
    "L": ("0006", "0040"), "T": ("2026", "0646"), "I": ("0006",), "H": ("0006", "4046", "0343"),
    "E": ("0006", "0040", "0343", "0646"), "N": ("00064046",), "V": ("062046",),
    "A": ("002640", "1333"), "Z": ("06460040",), "X": ("0046", "0640"), "K": ("0006", "460340"),
    "M": ("0006234640",),
}
# fmt: on


@dataclass(frozen=True, slots=True)
class Made:
    """A program and what it was made for."""

    text: bytes
    rack: tuple[Bit, ...]
    bit: Bit
    family: str


@dataclass
class Work:
    """A program in the making; `moves` are (letter of RLCA, x, y, z, centre x, centre y)."""

    rng: Rng
    bit: Bit
    safe: float
    moves: list[tuple[str, float, float, float, float, float]] = field(default_factory=list)
    cycles: list[tuple[float, float, float, float]] = field(default_factory=list)

    @property
    def d(self) -> float:
        return self.bit.diameter

    def some(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))

    def whole(self, low: float, high: float) -> float:
        """Draw a size as people choose it: whole, seldom a half."""
        return round(self.some(low, high)) + (0.5 if self.rng.random() < 0.15 else 0.0)

    def one(self, *of: str) -> str:
        return of[int(self.rng.integers(len(of)))]

    def go(self, x: float, y: float) -> None:
        """Retract and go above a place."""
        if self.moves:
            self.moves.append(("R", self.moves[-1][1], self.moves[-1][2], self.safe, 0, 0))
        self.moves.append(("R", x, y, self.safe, 0, 0))

    def path(self, points: np.ndarray, join: bool = False) -> None:
        """Cut along points; `join` comes from where the bit is, else over the first from above."""
        if not join:
            self.go(float(points[0, 0]), float(points[0, 1]))
        self.moves += [("L", float(x), float(y), float(z), 0, 0) for x, y, z in points]

    def turn(self, c: tuple[float, float], sweep: float, z: float, way: str = "A") -> None:
        """Turn about a centre from where the bit is, by an angle of at most a whole turn."""
        _, x, y, *_ = self.moves[-1]
        a = math.atan2(y - c[1], x - c[0]) + (sweep if way == "A" else -sweep)
        r = math.hypot(x - c[0], y - c[1])
        self.moves.append((way, c[0] + r * math.cos(a), c[1] + r * math.sin(a), z, *c))


def profile(bit: Bit, r: np.ndarray) -> np.ndarray:
    """Height of the bit's surface over its tip."""
    radius = bit.radius
    if bit.shape == "ball":
        z = radius - np.sqrt(np.maximum(radius**2 - r**2, 0))
    elif bit.shape == "bull":
        c = bit.corner_radius or 0.0
        z = c - np.sqrt(np.maximum(c**2 - np.maximum(r - radius + c, 0) ** 2, 0))
    elif bit.shape == "taper-ball":
        t, a = bit.tip_radius or 0.0, bit.angle or 0.0
        z = np.where(
            r <= t * math.cos(a),
            t - np.sqrt(np.maximum(t**2 - r**2, 0)),
            t - t * math.sin(a) + (r - t * math.cos(a)) / math.tan(a),
        )
    elif bit.shape == "vee":
        z = r / math.tan((bit.angle or 1.0) / 2)
    else:
        z = np.zeros_like(r)
    return np.where(r <= radius, z, np.inf)


def catalogue() -> list[Bit]:
    """All bits that a rack may hold."""
    bits = [Bit(f"flat {d:g}", "flat", d) for d in FLATS]
    bits += [Bit(f"ball {d:g}", "ball", d) for d in BALLS]
    bits += [Bit(f"bull {d:g} r{c:g}", "bull", d, corner_radius=c) for d, c in BULLS]
    bits += [Bit(f"vee {a} {d:g}", "vee", d, angle=math.radians(a)) for a, d in VEES]
    bits += [Bit(f"taper {t:g} {d:g} {a:g}", "taper-ball", d, math.radians(a), tip_radius=t)
             for t, d, a in TAPERS]  # fmt: skip
    return bits + [Bit(f"drill {d:g}", "drill", d, angle=math.radians(118)) for d in DRILLS]


def thin(p: np.ndarray, tolerance: float) -> np.ndarray:
    """Leave out points that lie on the chord of their neighbours."""
    keep, todo = np.zeros(len(p), bool), [(0, len(p) - 1)]
    keep[[0, -1]] = True
    while todo:
        i, k = todo.pop()
        if k - i < 2:
            continue
        chord, of = p[k] - p[i], p[i + 1 : k] - p[i]
        t = np.clip(of @ chord / max(float(chord @ chord), 1e-12), 0, 1)
        off = np.linalg.norm(of - t[:, None] * chord, axis=1)
        j = int(off.argmax())
        if off[j] > tolerance:
            keep[i + 1 + j] = True
            todo += [(i, i + 1 + j), (i + 1 + j, k)]
    return p[keep]


def polygons(shape: BaseGeometry) -> list[Polygon]:
    """List the polygons of a shape."""
    parts = shape.geoms if isinstance(shape, MultiPolygon) else [shape]
    return [p for p in parts if isinstance(p, Polygon) and not p.is_empty and p.area > 1e-3]


def ring(line: BaseGeometry, z: float, ccw: bool = True) -> np.ndarray:
    """Points of a closed line at a height."""
    xy = np.asarray(line.coords)[:, :2]
    turn = np.sum(xy[:-1, 0] * xy[1:, 1] - xy[1:, 0] * xy[:-1, 1])
    xy = xy if (turn > 0) == ccw else xy[::-1]
    return np.column_stack([xy, np.full(len(xy), z)])


def outline(w: Work, least: float, most: float) -> Polygon:
    """Draw an outline with whole dimensions, its corner at whole coordinates."""
    kind, a, b = (
        w.one("box", "round", "circle", "ell", "arc end", "poly"),
        w.whole(least, most),
        0.0,
    )
    b = w.whole(max(least, a / 2), max(least + 1, min(most, 2 * a)))
    x, y = w.whole(0, 20), w.whole(0, 20)
    if kind == "circle":
        shape: BaseGeometry = Point(x + a / 2, y + a / 2).buffer(a / 2, quad_segs=24)
    elif kind == "arc end":
        shape = LineString([(x, y), (x + a, y)]).buffer(b / 2, quad_segs=24)
    elif kind == "ell":
        u, v = round(0.55 * a), round(0.55 * b)
        shape = Polygon(
            [(x, y), (x + a, y), (x + a, y + v), (x + u, y + v), (x + u, y + b), (x, y + b)]
        )
    elif kind == "poly":
        t = np.arange(n := int(w.rng.integers(3, 9))) * 2 * math.pi / n
        shape = Polygon(np.column_stack([x + a / 2 * np.cos(t), y + a / 2 * np.sin(t)]))
    else:
        shape = box(x, y, x + a, y + b)
        if kind == "round":
            r = min(w.whole(2, 12), 0.4 * a, 0.4 * b)
            shape = shape.buffer(-r).buffer(r, quad_segs=24)
    return polygons(shape)[0]


def steps(w: Work, depth: float, low: float = 0.25, high: float = 0.9) -> list[float]:
    """Split a depth in equal or in full passes."""
    step = max(0.2, round(w.d * w.some(low, high), 1))
    n = math.ceil(depth / step - 1e-9)
    equal = w.rng.random() < 0.5
    return [-(depth * (k + 1) / n if equal else min(depth, (k + 1) * step)) for k in range(n)]


def enter(w: Work, p: np.ndarray, above: float, how: str) -> None:
    """Come down to the first point of a path: straight, or sloping along its start."""
    w.go(float(p[0, 0]), float(p[0, 1]))
    gaps = np.linalg.norm(np.diff(p[:, :2], axis=0), axis=1)
    along = np.concatenate([[0], np.cumsum(gaps)])
    run = min((above - p[0, 2]) / math.tan(math.radians(4)), 0.9 * along[-1])
    w.path(np.array([[p[0, 0], p[0, 1], above]]), True)
    if how == "ramp" and run > w.d / 2:
        there = p[along < run].copy()
        end = [np.interp(run, along, p[:, 0]), np.interp(run, along, p[:, 1]), p[0, 2]]
        there = np.vstack([there, end])
        half = np.concatenate(
            [[0], np.cumsum(np.linalg.norm(np.diff(there[:, :2], axis=0), axis=1))]
        )
        there[:, 2] = above + (p[0, 2] - above) * half / half[-1]
        w.path(np.vstack([there[1:], there[-2::-1]]), True)
        w.moves[-(len(there) - 1) :] = [
            (m[0], m[1], m[2], p[0, 2], 0, 0) for m in w.moves[-(len(there) - 1) :]
        ]
    w.path(p, True)


def clear(
    w: Work, area: BaseGeometry, z: float, above: float, way: str, step: float, how: str
) -> None:
    """Clear an area that the bit's centre may go to."""
    for part in polygons(area):
        if way == "zigzag":
            x0, y0, x1, y1 = part.bounds
            rows, n = [], max(1, math.ceil((y1 - y0) / step))
            for k in range(n + 1):
                cut = part.intersection(
                    LineString([(x0 - 1, y := y0 + (y1 - y0) * k / n), (x1 + 1, y)])
                )
                bits = [g for g in getattr(cut, "geoms", [cut]) if g.length > 0.05]
                rows += [np.array(g.coords)[:, :2][:: 1 if k % 2 == 0 else -1] for g in bits]
            for k, row in enumerate(rows):
                p = np.column_stack([row, [z, z]])
                if k and part.buffer(1e-3).contains(LineString([rows[k - 1][-1], row[0]])):
                    w.path(p, True)
                else:
                    enter(w, p, above, how)
            enter(w, ring(part.exterior, z), above, "plunge")
            continue
        layers, left = [], part
        while polygons(left):
            layers.append(left)
            left = left.buffer(-step, quad_segs=16)
        for k, layer in enumerate(layers[::-1]):
            for piece in polygons(layer):
                for line in (piece.exterior, *piece.interiors):
                    p = ring(line, z)
                    last = w.moves[-1][1:3] if w.moves else (1e9, 1e9)
                    near = int(np.hypot(p[:-1, 0] - last[0], p[:-1, 1] - last[1]).argmin())
                    p = np.vstack([p[near:-1], p[: near + 1]])
                    if (
                        k
                        and math.dist(last, p[0, :2]) < 1.6 * step
                        and abs(w.moves[-1][3] - z) < 1e-9
                    ):
                        w.path(p, True)
                    else:
                        enter(w, p, above, how)


def pocket(w: Work) -> None:
    """Pockets with or without an island, by rows or by rings, some with a wall pass at the end."""
    step, way, how = w.d * w.some(0.35, 0.6), w.one("zigzag", "rings"), w.one("ramp", "plunge")
    shape: BaseGeometry = outline(w, 3 * w.d + 4, 9 * w.d + 15)
    if w.rng.random() < 0.3 and min(np.ptp(np.reshape(shape.bounds, (2, 2)), axis=0)) > 6 * w.d + 6:
        c = shape.representative_point()
        shape = shape.difference(
            Point(round(c.x), round(c.y)).buffer(w.whole(2, w.d + 3), quad_segs=24)
        )
    above, spare = 0.0, w.rng.random() < 0.3
    for z in steps(w, w.whole(2, min(18, 2.5 * w.d + 2)), 0.25, 0.7):
        area = shape.buffer(-w.d / 2 - 0.3 * spare, join_style="mitre")
        clear(w, area, z, above, way, step, how)
        above = z
    if spare:
        for part in polygons(shape.buffer(-w.d / 2, join_style="mitre")):
            w.path(ring(part.exterior, above))


def spiral(w: Work) -> None:
    """Round pockets cleared by a spiral of half circles, or a trochoidal slot of whole width."""
    step, depth = w.d * w.some(0.12, 0.5), steps(w, w.whole(2, 2 * w.d + 3), 0.4, 1.2)
    if w.one("round", "slot") == "round":
        for _ in range(int(w.rng.integers(1, 4))):
            cx, cy, far = (
                w.whole(0, 200),
                w.whole(0, 120),
                w.whole(2 * w.d + 2, 6 * w.d + 8) / 2 - w.d / 2,
            )
            for z in depth:
                w.go(cx, cy)
                w.path(np.array([[cx, cy, z]]), True)
                r, side = 0.0, 1
                while r < far - 1e-9:
                    out = min(far, r + step / 2)
                    x = w.moves[-1][1]
                    w.turn(((x + cx + side * out) / 2, cy), math.pi, z)
                    r, side = out, -side
                w.turn((cx, cy), 2 * math.pi, z)
        return
    width, long = w.whole(1.4 * w.d + 1, 2.6 * w.d + 2), w.whole(4 * w.d + 10, 10 * w.d + 30)
    r, x0, y0 = (width - w.d) / 2, w.whole(0, 30), w.whole(0, 60)
    for z in depth:
        x, end = x0 + width / 2, x0 + long - width / 2
        w.go(x, y0 + r)
        w.path(np.array([[x, y0 + r, z]]), True)
        while True:
            w.turn((x, y0), 2 * math.pi, z)
            if x >= end - 1e-9:
                break
            x = min(end, x + step)
            w.path(np.array([[x, y0 + r, z]]), True)


def contour(w: Work) -> None:
    """Parts cut out and windows cut in, with tabs and ways in and out."""
    deep, count = w.whole(3, min(19, 4 * w.d + 1)), int(w.rng.integers(1, 4))
    depths, tabs, how = (
        steps(w, deep, 0.4, 1.1),
        w.rng.random() < 0.6,
        w.one("plunge", "ramp", "tangent"),
    )
    inside, x, wide, high = w.rng.random() < 0.3, 0.0, w.whole(4, 8), w.whole(1, 3)
    for _ in range(count):
        shape = outline(w, 3 * w.d + 12, 4 * w.d + 90)
        shape = affinity.translate(shape, x - math.floor(shape.bounds[0]))
        x = math.ceil(shape.bounds[2] + 2 * w.d + 2)
        style = {"quad_segs": 24} if w.rng.random() < 0.6 else {"join_style": "mitre"}
        way = shape.buffer(-w.d / 2 if inside else w.d / 2, **style)
        for part in polygons(way):
            for k, z in enumerate(depths):
                p = ring(part.exterior, z, ccw=inside)
                if tabs and z < high - deep:
                    p = tabbed(p, high - deep, wide + w.d, 3 if part.length < 250 else 5)
                if how == "tangent":
                    t = p[1, :2] - p[0, :2]
                    t = t / max(np.hypot(*t), 1e-9)
                    lead = p[0, :2] - w.d / 2 * t + w.d / 2 * np.array([-t[1], t[0]])
                    w.path(np.array([[*lead, z]]))
                    c = p[0, :2] + w.d / 2 * np.array([-t[1], t[0]])
                    w.turn((float(c[0]), float(c[1])), math.pi / 2, z, "A")
                    w.path(p, True)
                else:
                    enter(w, p, depths[k - 1] if k else 0.0, how if not tabs else "plunge")


def tabbed(p: np.ndarray, top: float, wide: float, count: int) -> np.ndarray:
    """Lift a closed path over tabs at equal distances."""
    line = LineString(p[:, :2])
    at = [(k + 0.5) * line.length / count for k in range(count)]
    along = [(line.project(Point(q)), float(p[0, 2])) for q in p[1:-1, :2]]
    along = [(s, z) for s, z in along if all(abs(s - a) > wide / 2 for a in at)]
    for a in at:
        along += [(a - wide / 2, float(p[0, 2])), (a - wide / 2 + 1e-6, top)]
        along += [(a + wide / 2 - 1e-6, top), (a + wide / 2, float(p[0, 2]))]
    body = [[*line.interpolate(s).coords[0], z] for s, z in sorted(along)]
    return np.array([p[0], *body, p[-1]])


def holes(w: Work) -> None:
    """Bores of whole diameter cut by a helix with a last turn, in rows."""
    wide, deep = w.whole(1.2 * w.d + 1, 2.2 * w.d + 3), w.whole(4, 3 * w.d + 4)
    pitch, r, gap = w.d * w.some(0.1, 0.45), 0.0, w.whole(wide + 6, wide + 40)
    r = (wide - w.d) / 2
    for k in range(int(w.rng.integers(2, 9))):
        x, y, z = gap * (k % 3), gap * (k // 3), 0.0
        w.go(x + r, y)
        w.path(np.array([[x + r, y, 0.3]]), True)
        while z > -deep + 1e-9:
            z = max(-deep, z - pitch)
            w.turn((x, y), 2 * math.pi, z)
        w.turn((x, y), 2 * math.pi, z)


def drilling(w: Work) -> None:
    """Holes drilled with or without pecks, through and one point's length beyond."""
    through = w.whole(3, 4 * w.d)
    deep = through + (0.3 * w.d if w.rng.random() < 0.6 else 0.0)
    peck = w.d * float(w.rng.choice([0, 0.5, 1.0, 1.0]))
    for k in range(int(w.rng.integers(3, 25))):
        w.cycles.append(
            (w.whole(0, 40) + 40 * (k % 5), w.whole(0, 40) + 40 * (k // 5), -deep, peck)
        )


def slots(w: Work) -> None:
    """Slots of the bit's width or little wider, from end to end, down by ramps or plunges."""
    depths, how = steps(w, w.whole(2, 2.5 * w.d), 0.3, 0.8), w.one("ramp", "plunge")
    wide = w.d if w.rng.random() < 0.5 else float(round(w.d * 1.4 + 0.5))
    for k in range(int(w.rng.integers(2, 6))):
        long, x, y = w.whole(4 * w.d + 5, 12 * w.d + 30), w.whole(0, 10), k * math.ceil(3 * w.d + 5)
        a, b, side = x + wide / 2, x + long - wide / 2, (wide - w.d) / 2
        for j, z in enumerate(depths):
            p = (
                np.array([[a, y, z], [b, y, z]])
                if j % 2 == 0 or how == "ramp"
                else np.array([[b, y, z], [a, y, z]])
            )
            if side > 0.01:
                p = ring(LineString([(a, y), (b, y)]).buffer(side, quad_segs=16).exterior, z)
            enter(w, p, depths[j - 1] if j else 0.0, how)


def facing(w: Work) -> None:
    """Facing a blank of whole size by rows that begin and end off it by about the radius."""
    x1, y1, step = (
        w.whole(4 * w.d, 12 * w.d + 60),
        w.whole(3 * w.d, 8 * w.d + 60),
        w.d * w.some(0.4, 0.8),
    )
    out, edge = (
        w.d * float(w.rng.choice([0.5, 0.6, 0.75])),
        w.d * float(w.rng.choice([0.0, 0.25, 0.5])),
    )
    rows = [
        -edge + (y1 + 2 * edge) * k / n
        for n in [math.ceil((y1 + 2 * edge) / step)]
        for k in range(n + 1)
    ]
    zig, count = w.rng.random() < 0.7, int(w.rng.integers(1, 4))
    for z in [-round(w.some(0.3, 1.0), 1) * (k + 1) for k in range(count)]:
        for k, y in enumerate(rows):
            p = np.array([[-out, y, z], [x1 + out, y, z]])
            w.path(p[::-1] if zig and k % 2 else p, join=bool(zig and k))


def letters(w: Work, high: float) -> list[list[np.ndarray]]:
    """Strokes of a word."""
    keys, found = list(GLYPHS), []
    for k in range(int(w.rng.integers(3, 7))):
        strokes = [np.array([[int(s[i]), int(s[i + 1])] for i in range(0, len(s) - 1, 2)], float)
                   for s in GLYPHS[keys[int(w.rng.integers(len(keys)))]]]  # fmt: skip
        found.append([(s + np.array([6 * k, 0])) * high / 6 for s in strokes if len(s) > 1])
    return found


def engraving(w: Work) -> None:
    """Letters of single lines at one depth, some with a frame."""
    vee = w.bit.shape == "vee"
    z, high = (
        -round(w.some(0.2, 1.2 if vee else min(1.0, 0.6 * w.d)), 1),
        w.whole(6 * min(w.d, 2), 25),
    )
    for glyph in letters(w, high):
        for s in glyph:
            w.path(np.column_stack([s, np.full(len(s), z)]))
    if w.rng.random() < 0.5:
        p = ring(box(-high / 2, -high / 2, 6 * high, 1.5 * high).exterior, z)
        w.path(p)


def middle(shape: Polygon, gap: float) -> list[np.ndarray]:
    """Lines in the middle of a shape with their distance from its edge, as (x, y, distance)."""
    at = [line.interpolate(s).coords[0] for line in (shape.exterior, *shape.interiors)
          for s in np.arange(0, line.length, gap)]  # fmt: skip
    v, edge = Voronoi(at), unary_union([shape.exterior, *shape.interiors])
    lines = []
    for (i, k), (a, b) in zip(v.ridge_points, v.ridge_vertices, strict=True):
        if a >= 0 and b >= 0 and 1 < abs(i - k) < len(at) - 1:
            line = LineString(v.vertices[[a, b]])
            if line.length > 1e-9 and shape.contains(line):
                lines.append(line)
    merged = linemerge(lines)
    found = [np.asarray(g.coords) for g in getattr(merged, "geoms", [merged])]
    return [np.array([[*p, edge.distance(Point(p))] for p in f]) for f in found]


def vcarve(w: Work) -> None:
    """Outlined letters or ornaments carved along their middle, down to where both edges are met."""
    tan, most = math.tan((w.bit.angle or 1) / 2), 0.45 * w.d
    stroke = w.some(0.8, min(2 * most, 12 * tan))
    square = {"cap_style": "square", "join_style": "mitre"}
    shapes = [
        unary_union([LineString(s).buffer(stroke / 2, **square) for s in glyph])
        for glyph in letters(w, stroke * w.some(5, 9))
    ]
    if w.rng.random() < 0.3:
        c = [
            affinity.scale(Point(0, 0).buffer(1.9 * stroke), 1, 0.4),
            box(-stroke, -stroke / 2, 2 * stroke, stroke / 3),
        ]
        shapes = [
            affinity.translate(affinity.rotate(s, w.some(0, 90)), 6 * stroke * k)
            for k, s in enumerate(c * 2)
        ]
    for shape in [p for s in shapes for p in polygons(s)]:
        for m in middle(shape, stroke / 14):
            p = thin(np.column_stack([m[:, :2], -np.minimum(m[:, 2], most) / tan]), 0.01)
            w.path(p if p[0, 2] > p[-1, 2] else p[::-1])


def chamfer(w: Work) -> None:
    """Edges of whole outlines bevelled by a vee in one to three passes; the tip stands off."""
    tan, size, over = (
        math.tan((w.bit.angle or 1) / 2),
        w.whole(1, 2) / 1.0,
        round(w.some(0.2, 1.0), 1),
    )
    size = min(size, 0.4 * w.d - over)
    passes = int(w.rng.integers(1, 4))
    for k in range(int(w.rng.integers(1, 4))):
        shape = affinity.translate(outline(w, 25, 90), 150 * k)
        for j in range(passes):
            share = (j + 1) / passes
            for part in polygons(shape.buffer(over, quad_segs=16)):
                w.path(ring(part.exterior, -(share * size + over) / tan, ccw=False))


def surface(w: Work, wide: float, high: float, cell: float, edges: bool) -> np.ndarray:
    """A relief on a grid, 0 at the top: waves and domes, and with edges plates and steps."""
    rng, (ny, nx) = w.rng, (int(high / cell) + 1, int(wide / cell) + 1)
    deep = min(w.some(0.5, 1.6) * effective(w.bit), 12.0, 0.35 * wide)
    smooth = gaussian_filter(rng.standard_normal((ny, nx)), wide / cell * w.some(0.06, 0.14))
    h = smooth / np.ptp(smooth)
    y, x = np.mgrid[:ny, :nx] * cell
    if edges:
        h *= w.some(0.0, 0.5)
        for _ in range(int(rng.integers(1, 4))):
            cx, cy, r = w.some(0.2, 0.8) * wide, w.some(0.2, 0.8) * high, w.some(0.08, 0.25) * wide
            flat = (
                np.maximum(abs(x - cx), abs(y - cy))
                if w.one("plate", "disc") == "plate"
                else np.hypot(x - cx, y - cy)
            )
            h = np.where(flat < r, h + w.some(0.4, 1.0), h)
    else:
        r = 0.35 * min(wide, high)
        dome = np.sqrt(np.maximum(1 - ((x - wide / 2) ** 2 + (y - high / 2) ** 2) / r**2, 0))
        h = h * w.some(0.3, 1.0) + dome * w.some(0.2, 1.0)
    return np.asarray((h - h.max()) * deep / np.ptp(h))


def effective(bit: Bit) -> float:
    """Diameter of what finishes a surface: the ball of a taper, twice the corner of a bull nose."""
    return {
        "taper-ball": 2 * (bit.tip_radius or 0),
        "bull": max(2 * (bit.corner_radius or 0), 0.3 * bit.diameter),
    }.get(bit.shape, bit.diameter)


def rolled(bit: Bit, h: np.ndarray, cell: float) -> np.ndarray:
    """Heights of the tip where the bit touches the heights and goes into none."""
    reach = np.arange(-int(bit.radius / cell), int(bit.radius / cell) + 1) * cell
    z = profile(bit, np.hypot(*np.meshgrid(reach, reach)))
    inside = z <= np.ptp(h) + 1e-9
    keep = np.ix_(inside.any(1), inside.any(0))
    fall = -np.where(inside, z, 0)[keep]
    return np.asarray(grey_dilation(h, footprint=inside[keep], structure=fall, mode="nearest"))


def sections(h: np.ndarray, cell: float, z: float) -> list[Polygon]:
    """Where heights lie under a level, as polygons (with marching triangles)."""
    low = np.pad(h, 1, constant_values=1e3) - z + 1e-7
    lines = []
    for t in ((0, 0), (0, 1), (1, 1)), ((0, 0), (1, 1), (1, 0)):
        v = np.stack([low[a : a + low.shape[0] - 1, b : b + low.shape[1] - 1] for a, b in t], -1)
        for i, k in np.argwhere((v.min(-1) < 0) & (v.max(-1) > 0)):
            cut = []
            for p, q in ((0, 1), (1, 2), (2, 0)):
                a, b = v[i, k, p], v[i, k, q]
                if a * b < 0:
                    s = min(a / (a - b), 1.0) if max(a, b) < 900 else (0.0 if a < 0 else 1.0)
                    cut.append(
                        (
                            (k - 1 + t[p][1] + s * (t[q][1] - t[p][1])) * cell,
                            (i - 1 + t[p][0] + s * (t[q][0] - t[p][0])) * cell,
                        )
                    )
            lines.append(LineString(np.round(cut, 6)))
    under: BaseGeometry = Polygon()
    for p in polygonize(unary_union(lines)) if lines else []:
        c = p.representative_point()
        if (
            p.area > 4 * cell**2
            and map_coordinates(h, [[c.y / cell], [c.x / cell]], order=1, mode="nearest")[0] < z
        ):
            under = under.union(p)
    return polygons(under)


def relief(w: Work) -> None:
    """Finishing a relief: parallel rows, rings with the outline, or levels around walls."""
    e, bit = effective(w.bit), w.bit
    edges = bit.shape == "bull" or w.rng.random() < 0.75
    step = max(e * w.some(0.08, 0.25), 0.1) if bit.shape != "bull" else w.d * w.some(0.1, 0.3)
    wide = step * w.some(35, 80)
    wide, high = (
        float(round(wide, 0 if wide > 30 else 1)),
        float(round(wide * w.some(0.6, 1), 0 if wide > 30 else 1)),
    )
    cell = max(e / 20, wide / 450)
    tip = rolled(bit, surface(w, wide, high, cell, edges), cell)
    way, tolerance = w.one("rows", "rows", "cross", "rings", "levels"), w.some(0.005, 0.02)

    def on(xy: np.ndarray) -> np.ndarray:
        z = map_coordinates(tip, [xy[:, 1] / cell, xy[:, 0] / cell], order=1, mode="nearest")
        return thin(np.column_stack([xy, z]), tolerance)

    if way == "levels":
        fall = max(0.12 * e, float(np.ptp(tip)) / 25)
        for z in np.arange(-fall / 2, tip.min() + 0.02 * e, -fall):
            for part in sections(tip, cell, float(z)):
                for line in (part.exterior, *part.interiors):
                    w.path(thin(ring(line, float(z)), tolerance))
        return
    if way == "rings":
        area: BaseGeometry = box(0, 0, wide, high)
        while polygons(area):
            lines = LineString(polygons(area)[0].exterior.coords).segmentize(cell)
            w.path(on(np.asarray(lines.coords)), join=bool(w.moves))
            area = area.buffer(-step, join_style="mitre")
        return
    turned = w.rng.random() < 0.4
    for turn in (turned, not turned) if way == "cross" else (turned,):
        long, across = (high, wide) if turn else (wide, high)
        for k, y in enumerate(np.linspace(0, across, math.ceil(across / step) + 1)):
            x = np.arange(0, long + cell / 2, cell)[:: -1 if k % 2 else 1]
            xy = np.column_stack([x, np.full(len(x), y)])
            w.path(on(xy[:, ::-1] if turn else xy), join=k > 0)


def roughing(w: Work) -> None:
    """Roughing a relief in levels with a wide step, some stock left."""
    wide, high, cell = w.whole(7 * w.d, 14 * w.d), w.whole(6 * w.d, 12 * w.d), w.d / 16
    h, spare = surface(w, wide, high, cell, True), round(w.some(0.3, 0.8), 1)
    h = h * (w.d * w.some(0.6, 1.5) / np.ptp(h))
    tip = rolled(w.bit, h, cell) + spare
    above, step, way = 0.0, w.d * w.some(0.35, 0.6), w.one("zigzag", "rings")
    for z in steps(w, float(-h.min()) - spare, 0.2, 0.5):
        for part in sections(tip, cell, z):
            clear(w, part.simplify(0.02), z, above, way, step, "ramp")
        above = z


def rounded(w: Work) -> None:
    """Outer edges of whole outlines rounded or bevelled by rings of a ball."""
    r, edge = w.d / 2, w.whole(2, max(3, min(8, w.d)))
    rings, bevel = (
        max(5, int(edge * math.pi / 2 / (w.d * w.some(0.08, 0.18)))),
        w.rng.random() < 0.4,
    )
    shape = polygons(outline(w, 30, 80).buffer(-edge).buffer(edge, quad_segs=16))[0]
    for k in range(rings + 1):
        if bevel:
            out, z = (
                edge * k / rings - edge + r * math.sqrt(0.5),
                -edge * k / rings + r * math.sqrt(0.5) - r,
            )
        else:
            a = math.pi / 2 * k / rings
            out, z = (edge + r) * math.sin(a) - edge, (edge + r) * math.cos(a) - edge - r
        for part in polygons(shape.buffer(out, quad_segs=16)):
            w.path(ring(part.exterior, z, ccw=False), join=False)


@dataclass(frozen=True)
class Kind:
    """What is made, for which shapes and sizes, and when a rival would leave the same path."""

    make: Callable[[Work], None]
    shapes: tuple[str, ...]
    sizes: tuple[float, float]
    weight: float
    apart: float  # least ratio of diameters to a rival that may lie in the rack
    without: tuple[str, ...] = ()  # shapes that could do just the same at any size


KINDS = {
    "pocket": Kind(pocket, ("flat", "flat", "flat", "bull"), (1, 22), 3.0, 1.03),
    "spiral": Kind(spiral, ("flat",), (2, 12), 1.2, 1.03),
    "contour": Kind(contour, ("flat",), (2, 12), 3.0, 1.03),
    "holes": Kind(holes, ("flat",), (2, 12), 1.0, 1.03),
    "drilling": Kind(drilling, ("drill",), (2, 8), 0.8, 1.4),
    "slots": Kind(slots, ("flat",), (2, 12), 1.2, 1.3),
    "facing": Kind(facing, ("flat",), (6, 22), 1.2, 1.5),
    "engraving": Kind(engraving, ("flat", "vee"), (1, 12), 1.0, 2.0, ("vee", "taper-ball")),
    "vcarve": Kind(vcarve, ("vee",), (1, 25), 2.0, 1.0),
    "chamfer": Kind(chamfer, ("vee",), (1, 25), 1.2, 1.0),
    "relief": Kind(relief, ("ball", "ball", "taper-ball", "taper-ball", "bull"), (1, 12), 4.0, 1.2),
    "roughing": Kind(roughing, ("flat", "bull"), (3, 12), 1.2, 1.3),
    "rounded": Kind(rounded, ("ball",), (2, 12), 1.0, 1.2),
}


def alike(kind: Kind, bit: Bit, other: Bit) -> bool:
    """Whether another bit of the rack could have been meant by the same path."""
    if bit.shape == other.shape == "vee":
        return kind.make is chamfer or kind.make is engraving or abs(bit.angle - other.angle) < 0.2  # type: ignore[operator]
    if other.shape in kind.without:
        return True
    if kind.make in (relief, rounded) and other.shape in ("ball", "taper-ball", "bull"):
        a, b = effective(bit), effective(other)
        return max(a, b) / min(a, b) < kind.apart and (bit.shape != "bull" or other.shape == "bull")
    if "vee" in (bit.shape, other.shape):
        return False
    if kind.make is drilling and other.shape != "drill":
        return other.diameter < 12
    a, b = (
        2 * (o.tip_radius or 0) if o.shape == "taper-ball" else o.diameter for o in (bit, other)
    )
    return max(a, b) / min(a, b) < kind.apart


def fill(rng: Rng, kind: Kind, bit: Bit) -> tuple[Bit, ...]:
    """Lay the bit among seven others that the path tells it from."""
    rack, pool = [bit], catalogue()
    for i in rng.permutation(len(pool)):
        if pool[i].name != bit.name and not alike(kind, bit, pool[i]) and len(rack) < 8:
            rack.append(pool[i])
    return tuple(rack[i] for i in rng.permutation(len(rack)))


Move = tuple[str, float, float, float, float, float]


def on_circle(p: np.ndarray, i: int, k: int, middle: complex, chord: float) -> bool:
    """Whether the chord that ends at k goes on with the circle begun at i - 1."""
    here, before = complex(*p[k, :2]), complex(*p[k - 1, :2])
    round_ = abs(abs(here - middle) - abs(complex(*p[i - 1, :2]) - middle)) < 1e-4
    return bool(
        round_ and abs(p[k, 2] - p[i - 1, 2]) < 1e-9 and abs(abs(here - before) - chord) < 2e-3
    )


def arcs(moves: list[Move]) -> list[Move]:
    """Write runs of equal short chords of one circle at one height as arcs."""
    found: list[Move] = []
    p, i = np.array([m[1:4] for m in moves]), 0
    while i < len(moves):
        k = i
        if moves[i][0] == "L" and 0 < i < len(moves) - 3:
            a, b, c = (complex(*p[j, :2]) for j in (i - 1, i, i + 1))
            area = ((b - a).conjugate() * (c - a)).imag
            if abs(area) > 1e-6:
                m = abs(a) ** 2 * (b - c) + abs(b) ** 2 * (c - a) + abs(c) ** 2 * (a - b)
                m /= -2j * area
                while abs(b - a) < abs(a - m) and k < len(moves) and k - i < 90:
                    if moves[k][0] != "L" or not on_circle(p, i, k, m, abs(b - a)):
                        break
                    k += 1
                if k - i > 3:
                    x, y, z = (float(v) for v in p[k - 1])
                    found.append(("A" if area > 0 else "C", x, y, z, m.real, m.imag))
        if k - i <= 3:
            found.append(moves[i])
            k = i + 1
        i = k
    return found


@dataclass
class Writer:
    """Writes numbers in one style, and words that stay the same only once."""

    unit: float
    digits: int
    pad: bool
    last: dict[str, str] = field(default_factory=dict)

    def __call__(self, key: str, v: float, always: bool = True) -> str:
        s = f"{key}{v / self.unit:.{self.digits}f}"
        s = s if self.pad else s.rstrip("0").rstrip(".")
        if not always and self.last.get(key) == s:
            return ""
        self.last[key] = s
        return s


def write(w: Work, inch: bool) -> bytes:
    """Write the moves out in one of several styles."""
    rng = w.rng
    digits = int(rng.integers(4, 6)) if inch else int(rng.integers(2, 5))
    say = Writer(25.4 if inch else 1.0, digits, bool(rng.random() < 0.5))
    rpm = float(rng.choice([10000, 12000, 16000, 18000, 20000, 24000]))
    each = rpm * 2 * w.d**0.7 * w.some(0.006, 0.016)
    feed = max(150.0, round(each, -1 if w.d < 3 else -2))
    plunge, modal = round(feed * w.some(0.2, 0.5), -1), rng.random() < 0.6
    zero = np.array([w.whole(-50, 50), w.whole(-50, 50)]) * (rng.random() < 0.5)
    lines = ["%"] * bool(rng.random() < 0.3)
    lines += [f"{'G20' if inch else 'G21'} G90 G17", f"S{rpm:.0f} M3", f"G0 {say('Z', w.safe)}"]
    code, at = "", (math.inf, math.inf, math.inf)
    for letter, x, y, z, cx, cy in arcs(w.moves) if rng.random() < 0.5 else w.moves:
        g, arc = {"R": "G0", "L": "G1", "A": "G3", "C": "G2"}[letter], letter in "AC"
        down = letter == "L" and z < at[2] - 1e-9 and math.dist(at[:2], (x, y)) < 1e-6
        words = [say("X", x + zero[0], arc), say("Y", y + zero[1], arc), say("Z", z, False)]
        words += [say("I", cx - at[0]), say("J", cy - at[1])] if arc else []
        if any(words):
            words = [g if not modal or code != g else "", *words]
            words.append(say("F", plunge if down else feed, False) if letter != "R" else "")
            lines.append((" " if say.pad else "").join(a for a in words if a))
            code = g
        at = (x, y, z)
    drill(w, say, plunge, lines, bool(rng.random() < 0.7))
    lines += [f"G0 {say('Z', w.safe)}", "M5", "M30"]
    return ("\n".join(lines) + "\n").encode()


def drill(w: Work, say: Writer, plunge: float, lines: list[str], canned: bool) -> None:
    """Write drilled holes as cycles or as moves."""
    for k, (x, y, z, peck) in enumerate(w.cycles):
        if canned:
            head = [] if k else ["G83" if peck else "G81"]
            rest = [] if k else [say("Z", z), say("R", 2.0), *([say("Q", peck)] if peck else [])]
            feed = [] if k else [say("F", plunge)]
            lines.append(" ".join([*head, say("X", x), say("Y", y), *rest, *feed]))
            continue
        lines.append(f"G0 {say('X', x)} {say('Y', y)}")
        for stop in np.arange(-peck, z, -peck) if peck else []:
            lines += [f"G1 {say('Z', stop)} {say('F', plunge)}", f"G0 {say('Z', 2.0)}"]
        lines += [f"G1 {say('Z', z)} {say('F', plunge)}", f"G0 {say('Z', w.safe)}"]
    lines += ["G80"] * bool(w.cycles and canned)


def make(seed: int) -> Made:
    """Make a program for a bit, and the rack it lies in; the same for the same seed."""
    weights = np.array([k.weight for k in KINDS.values()])
    name = list(KINDS)[
        np.random.default_rng((1700, seed)).choice(len(KINDS), p=weights / weights.sum())
    ]
    kind = KINDS[name]
    for attempt in range(60):
        rng = np.random.default_rng((1701, seed, attempt))
        shape = kind.shapes[int(rng.integers(len(kind.shapes)))]
        fit = [
            b
            for b in catalogue()
            if b.shape == shape and kind.sizes[0] <= b.diameter <= kind.sizes[1]
        ]
        if kind.make is engraving and shape == "flat":
            fit = [b for b in fit if b.diameter <= 3.2]
        if kind.make is chamfer:
            fit = [b for b in fit if (b.angle or 0) > 1]
        bit = fit[int(rng.integers(len(fit)))]
        w = Work(rng, bit, safe=float(rng.choice([3, 5, 10, 15])))
        kind.make(w)
        if not w.moves and not w.cycles:
            continue
        text = write(w, inch=bool(rng.random() < 0.25))
        if 12 <= text.count(b"\n") <= LONGEST:
            return Made(text, fill(rng, kind, bit), bit, name)
    raise RuntimeError(f"no {name} of the wanted length for seed {seed}")
