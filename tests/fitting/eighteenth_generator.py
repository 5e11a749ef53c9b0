"""An eighteenth generator: single jobs of a metric hobby router, every path a chain of lines.

An acceptance test of "right bit first in >= 90 %, in the first two in >= 98 %, when the rack holds
8 bits", by someone who had read `job/bits.py`, `score.py` and the interface `make(seed)`, but
neither the fitting room nor the other generators. Parts have whole millimetres; rings are offset
with shapely. Steps, passes, ramps and chip loads are common practice, no source. 3 mm and 1/8", and
6 mm and 1/4", may lie in one rack.

First scored on seeds 0 to 119: first 0.792, first two 0.967, Brier 0.252. First by family:
carve 1.000, drill 0.917, profile 0.857, pocket 0.833, chamfer 0.833 (n = 6), relief 0.733,
face 0.500 (n = 6), slot 0.438.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from shapely import affinity
from shapely.geometry import LineString, MultiPoint, Point, Polygon, box
from shapely.ops import linemerge, unary_union, voronoi_diagram

from dryrun.job.bits import parse_bit
from dryrun.job.model import Bit

FLATS = ("2mm", "3mm", "1/8in", "4mm", "6mm", "1/4in", "8mm", "10mm", "12mm")
BALLS = ("3mm", "1/8in", "4mm", "6mm", "1/4in", "8mm")
VEES = ("60deg:12mm", "90deg:12mm", "90deg:1/2in", "60deg:6mm", "30deg:1/8in")
DRILLS = ("3mm", "4mm", "5mm", "8mm")
SHARES = ((4, 1, 2, 1), (3, 2, 2, 1), (4, 2, 1, 1), (4, 1, 1, 2), (3, 2, 1, 2))
CHIP_LOADS = ((1, 0.02), (3, 0.05), (6, 0.10), (12, 0.22))  # mm a tooth, small machine, hardwood


@dataclass(frozen=True)
class Made:
    """A program, the bit it was made for, and the rack it is looked for in."""

    text: bytes
    bit: Bit
    rack: tuple[Bit, ...]
    family: str


class Tape:
    """The program as it grows: modal codes, only words that change."""

    def __init__(self, rng: np.random.Generator, bit: Bit) -> None:
        teeth, load = (
            int(rng.integers(1, 3)),
            np.interp(bit.diameter, *zip(*CHIP_LOADS, strict=True)),
        )
        if bit.shape == "vee":
            teeth, load = 2, 0.04
        self.rpm = round(rng.uniform(12000, 20000), -3)
        self.feed = max(200, round(self.rpm * teeth * load * rng.uniform(0.7, 1.2), -2))
        self.plunge = max(100, round(self.feed * rng.uniform(0.25, 0.5), -1))
        self.safe = float(rng.choice([3, 5, 8, 10]))
        self.lines = ["G21 G90 G17", f"M3 S{self.rpm:.0f}", f"G0 Z{self.safe:.3f}"]
        self.last: dict[str, str] = {"Z": f"{self.safe:.3f}"}

    def go(self, code: str, feed: float | None = None, **axes: float) -> None:
        words = [(k, f"{v:.3f}".replace("-0.000", "0.000")) for k, v in axes.items()]
        new = [k + v for k, v in words if self.last.get(k) != v]
        if not new:
            return
        self.last.update(words)
        if feed is not None and self.last.get("F") != f"{feed:.0f}":
            self.last["F"] = f"{feed:.0f}"
            new.append(f"F{feed:.0f}")
        self.lines.append(" ".join([code, *new]))

    def to(self, x: float, y: float) -> None:
        self.go("G0", Z=self.safe)
        self.go("G0", X=x, Y=y)

    def chain(self, points: Iterable[tuple[float, ...]], plunge: bool = True) -> None:
        for i, (x, y, z) in enumerate(points):
            if i == 0 and plunge:
                self.to(x, y)
                self.go("G0", Z=1.0)
                self.go("G1", self.plunge, Z=z)
            self.go("G1", self.feed, X=x, Y=y, Z=z)

    def text(self) -> bytes:
        return "\n".join([*self.lines, f"G0 Z{self.safe:.3f}", "M5", "M30", ""]).encode()


def rings(shape: object) -> list[list[tuple[float, float]]]:
    """The outlines of a shape that may be empty or of several pieces, without fine wobble."""
    parts = [g for g in getattr(shape, "geoms", [shape]) if not g.is_empty]
    return [list(r.simplify(0.01).coords)[:-1] for g in parts for r in (g.exterior, *g.interiors)]


def levels(rng: np.random.Generator, bit: Bit, depth: float) -> list[float]:
    count = max(1, math.ceil(depth / (bit.diameter * rng.uniform(0.5, 1.0)) - 1e-9))
    return [-depth * (i + 1) / count for i in range(count)]


def around(ring: list, top: float, z: float, slope: float) -> list[tuple[float, float, float]]:
    """Descend along a ring at a slope, then go round once at depth."""
    out, here, i = [(*ring[0], top)], top, 0
    while here > z + 1e-9:
        a, b = np.array(out[-1][:2]), np.array(ring[(i + 1) % len(ring)])
        long = float(np.hypot(*(b - a)))
        if here - slope * long > z:
            here, i = here - slope * long, i + 1
            out.append((*b, here))
        else:
            out.append((*(a + (b - a) * (here - z) / slope / long), z))
            here = z
    start = out[-1][:2]
    order = [ring[(i + 1 + k) % len(ring)] for k in range(len(ring))]
    return [*out, *((*p, z) for p in order), (*start, z)]


def outline(rng: np.random.Generator, least: float, most: float) -> Polygon:
    """A part as people draw them, in whole millimetres."""
    w, h = (float(rng.integers(int(least), int(most))) for _ in range(2))
    kind = rng.integers(6)
    if kind == 0:
        return box(0, 0, w, h)
    if kind == 1:
        r = float(rng.integers(2, max(3, int(min(w, h) / 4))))
        return box(r, r, w - r, h - r).buffer(r, quad_segs=24)
    if kind == 2:
        return Point(w / 2, w / 2).buffer(w / 2, quad_segs=32)
    if kind == 3:
        return box(0, 0, w, h).difference(box(round(w * 0.55), round(h * 0.55), w, h))
    if kind == 4:
        return Polygon(
            [(w / 2 * math.cos(t), w / 2 * math.sin(t)) for t in np.arange(6) * math.pi / 3]
        )
    return box(0, 0, w, h).union(Point(w, h / 2).buffer(h / 2, quad_segs=32))


def pocket(tape: Tape, rng: np.random.Generator, bit: Bit) -> None:
    part = outline(rng, 5 * bit.diameter + 8, 9 * bit.diameter + 30)
    if rng.random() < 0.3:
        part = part.difference(part.centroid.buffer(round(bit.diameter + 2), quad_segs=24))
    step, left = rng.uniform(0.35, 0.5) * bit.diameter, rng.choice([0.0, 0.2, 0.3])
    deep = levels(rng, bit, float(rng.integers(2, min(10, 1 + 3 * int(bit.diameter)))))
    nested, inset = [], bit.radius + left
    while got := rings(part.buffer(-inset, quad_segs=12)):
        nested.append(got)
        inset += step
    for top, z in zip([0.0, *deep], deep, strict=False):
        for ring in (r for level in reversed(nested) for r in level):
            tape.chain(around(ring, top, z, math.tan(math.radians(3))))
    if left:
        for ring in rings(part.buffer(-bit.radius, quad_segs=12)):
            tape.chain([(*p, deep[-1]) for p in (*ring, ring[0])])


def profile(tape: Tape, rng: np.random.Generator, bit: Bit) -> None:
    inside = rng.random() < 0.3
    part = outline(rng, 6 * bit.diameter + 20, 160)
    ring = rings(part.buffer(-bit.radius if inside else bit.radius, quad_segs=16))[0]
    thick = float(rng.choice([t for t in (3, 4, 6, 9, 10, 12, 15, 18) if t <= 4 * bit.diameter]))
    tab_top, tab = -thick + rng.choice([1.5, 2, 3]), rng.choice([4, 5, 6, 8]) + bit.diameter
    deep = levels(rng, bit, thick + rng.choice([0.2, 0.3, 0.5]))
    line = LineString([*ring, ring[0]])
    middles = (np.arange(4) + 0.5) * line.length / 4
    edges = [(m - tab / 2, m + tab / 2) for m in middles]
    stops = sorted({*(line.project(Point(p)) for p in ring), *np.ravel(edges), line.length})
    for top, z in zip([0.0, *deep], deep, strict=False):
        if z > tab_top:
            tape.chain(around(ring, top, z, math.tan(math.radians(4))))
            continue
        path = []
        for a, b in itertools.pairwise(stops):
            high = any(low < (a + b) / 2 < up for low, up in edges)
            for s in (a, b):
                p = line.interpolate(s)
                path.append((p.x, p.y, max(z, tab_top) if high else z))
        tape.chain(path)


def face(tape: Tape, rng: np.random.Generator, bit: Bit) -> None:
    w, h = (10.0 * rng.integers(6, 16) for _ in range(2))
    rows = math.ceil(h / (rng.uniform(0.4, 0.5) * bit.diameter))
    for z in -np.arange(1, rng.integers(2, 4)) * rng.choice([0.3, 0.5, 1.0]):
        ends = [
            (-bit.radius - 1, w + bit.radius + 1)[:: 1 if i % 2 == 0 else -1]
            for i in range(rows + 1)
        ]
        tape.chain((x, h * i / rows, z) for i, pair in enumerate(ends) for x in pair)


def slot(tape: Tape, rng: np.random.Generator, bit: Bit) -> None:
    deep = levels(rng, bit, float(rng.integers(2, min(13, 3 * int(bit.diameter)))))
    long = float(rng.integers(int(3 * bit.diameter) + 5, 120))
    wide = bit.diameter if rng.random() < 0.5 else math.ceil(bit.diameter * rng.uniform(1.2, 1.8))
    for k in range(int(rng.integers(2, 7))):
        y = k * math.ceil(2 * wide + 5)
        a, b = (wide / 2, y), (long - wide / 2, y)
        ring = (
            [a, b]
            if wide - bit.diameter < 0.2
            else rings(LineString([a, b]).buffer((wide - bit.diameter) / 2))[0]
        )
        for top, z in zip([0.0, *deep], deep, strict=False):
            tape.chain(around(ring, top, z, math.tan(math.radians(5))))


def glyph(rng: np.random.Generator, size: float) -> Polygon:
    """A star, a leaf, an arrow, or a block letter with strokes that widen."""
    kind, t = rng.integers(4), size * rng.uniform(0.16, 0.26)
    if kind == 0:
        turn = np.arange(10) * math.pi / 5
        return Polygon(
            [
                (
                    size / 2 * math.cos(a) * (1, 0.42)[i % 2],
                    size / 2 * math.sin(a) * (1, 0.42)[i % 2],
                )
                for i, a in enumerate(turn)
            ]
        )
    if kind == 1:
        return (
            Point(-size * 0.4, 0)
            .buffer(size * 0.6, quad_segs=48)
            .intersection(Point(size * 0.4, 0).buffer(size * 0.6, quad_segs=48))
        )
    if kind == 2:
        return Polygon(
            [
                (0, -t / 2),
                (size * 0.6, -t / 2),
                (size * 0.6, -t),
                (size, 0),
                (size * 0.6, t),
                (size * 0.6, t / 2),
                (0, t / 2),
            ]
        )
    bars = {
        "L": [(0, 0, t, size), (0, 0, size * 0.6, t)],
        "T": [(0, size - t, size * 0.7, size), (size * 0.35 - t / 2, 0, size * 0.35 + t / 2, size)],
        "H": [
            (0, 0, t, size),
            (size * 0.6, 0, size * 0.6 + t, size),
            (0, size / 2 - t / 2, size * 0.6, size / 2 + t / 2),
        ],
    }
    return unary_union([box(*b) for b in bars[str(rng.choice(list(bars)))]])


def carve(tape: Tape, rng: np.random.Generator, bit: Bit) -> None:
    steep = math.tan(bit.angle / 2)
    for k in range(int(rng.integers(2, 5))):
        size = float(rng.integers(12, 26))
        part = affinity.translate(glyph(rng, size), k * 32.0, 0)
        edge = part.exterior
        spots = [edge.interpolate(s) for s in np.arange(0, edge.length, 0.25)]
        cells = voronoi_diagram(MultiPoint(spots), edges=True)
        inner = part.buffer(-0.15)
        kept = [
            g
            for net in cells.geoms
            for g in getattr(net, "geoms", [net])
            for g in pairs(g)
            if inner.contains(g)
        ]
        merged = linemerge(unary_union(kept))
        for line in getattr(merged, "geoms", [merged]):
            dense = line.simplify(0.02).segmentize(1.0)
            if dense.length > 0.4:
                tape.chain(
                    (x, y, -min(edge.distance(Point(x, y)), bit.radius) / steep)
                    for x, y in dense.coords
                )


def pairs(line: LineString) -> list[LineString]:
    at = list(line.coords)
    return [LineString(p) for p in itertools.pairwise(at)]


def chamfer(tape: Tape, rng: np.random.Generator, bit: Bit) -> None:
    part = outline(rng, 30, 150)
    wide, out = float(rng.choice([0.5, 1.0, 1.5, 2.0])), float(rng.choice([0.0, 0.5, 1.0]))
    out = out if wide + out < bit.radius else 0.0
    wide = min(wide, math.floor(bit.radius * 1.6) / 2)
    z = -(wide + out) / math.tan(bit.angle / 2)
    for ring in rings(part.buffer(out, quad_segs=16)):
        tape.chain([(*p, z) for p in (*ring, ring[0])])


def relief(tape: Tape, rng: np.random.Generator, bit: Bit) -> None:
    w, h, cell = float(rng.integers(25, 55)), float(rng.integers(20, 45)), 0.2
    x, y = np.meshgrid(np.arange(-8, w + 8, cell), np.arange(-8, h + 8, cell))
    kind, high = rng.integers(3), rng.uniform(3, 8)
    if kind == 0:  # a cushion on a flat ground
        z = (
            high
            * np.sqrt(
                np.maximum(0, 1 - ((x - w / 2) / (w * 0.4)) ** 2 - ((y - h / 2) / (h * 0.4)) ** 2)
            )
            - high
        )
    elif kind == 1:  # waves
        z = high / 2 * (np.sin(x * rng.uniform(0.15, 0.4)) * np.cos(y * rng.uniform(0.1, 0.4)) - 1)
    else:  # hills
        z = sum(
            rng.uniform(0.4, 1)
            * np.exp(
                -((x - rng.uniform(0, w)) ** 2 + (y - rng.uniform(0, h)) ** 2) / rng.uniform(20, 90)
            )
            for _ in range(6)
        )
        z = (z / z.max() - 1) * high
    reach = int(bit.radius / cell)
    tip = np.full_like(z, -99.0)
    for i in range(-reach, reach + 1):
        for j in range(-reach, reach + 1):
            if (left := bit.radius**2 - (i * i + j * j) * cell**2) >= 0:
                tip = np.maximum(tip, np.roll(z, (i, j), (0, 1)) + math.sqrt(left) - bit.radius)
    rows = np.arange(0, h + 1e-6, rng.uniform(0.10, 0.15) * bit.diameter)
    across = np.arange(0, w + 1e-6, 2 * cell)
    path = []
    for n, v in enumerate(rows):
        i, part = int((v + 8) / cell), (v + 8) / cell % 1
        row = tip[i] * (1 - part) + tip[i + 1] * part
        line = LineString([(u, row[round((u + 8) / cell)]) for u in across]).simplify(0.01)
        path += [(u, v, deep) for u, deep in list(line.coords)[:: 1 if n % 2 == 0 else -1]]
    tape.chain(path)


def drill(tape: Tape, rng: np.random.Generator, bit: Bit) -> None:
    deep = float(rng.choice([6, 9, 12, 15, 18])) + bit.radius / math.tan(bit.angle / 2) + 0.5
    peck, rpm = bit.diameter * rng.uniform(0.5, 1.0), round(rng.uniform(5000, 9000), -2)
    tape.lines[1], tape.plunge = f"M3 S{rpm:.0f}", round(rpm * 0.018 * bit.diameter, -1)
    pitch = float(rng.choice([10, 16, 20, 25, 32]))
    for k in range(int(rng.integers(4, 16))):
        tape.to(pitch * (k % 5), pitch * (k // 5))
        for z in [*np.arange(peck, deep, peck), deep]:
            tape.go("G0", Z=min(1.0, 0.5 - z + peck))
            tape.go("G1", tape.plunge, Z=-z)
            tape.go("G0", Z=1.0)


KINDS = {
    "flat": (pocket, profile, pocket, profile, slot, face),
    "ball": (relief,),
    "vee": (carve, carve, chamfer),
    "drill": (drill,),
}


def make(seed: int) -> Made:
    rng = np.random.default_rng(18_000_000 + seed)
    names = []
    for shape, pool, many in zip(
        ("flat", "ball", "vee", "drill"),
        (FLATS, BALLS, VEES, DRILLS),
        SHARES[rng.integers(5)],
        strict=True,
    ):
        names += [
            f"{shape}:{'118deg:' if shape == 'drill' else ''}{n}"
            for n in rng.choice(pool, many, replace=False)
        ]
    rack = tuple(parse_bit(n) for n in names)
    shape = str(rng.choice(["flat", "ball", "vee", "drill"], p=[0.55, 0.15, 0.2, 0.1]))
    family = KINDS[shape][rng.integers(len(KINDS[shape]))]
    able = [b for b in rack if b.shape == shape]
    if family is chamfer:  # an engraving point of 30 degrees is none for edges
        able = [b for b in able if b.angle > 1] or able
    bit = max(able, key=lambda b: b.diameter) if family is face else able[rng.integers(len(able))]
    tape = Tape(rng, bit)
    family(tape, rng, bit)
    return Made(tape.text(), bit, rack, family.__name__)
