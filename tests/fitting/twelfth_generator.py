"""A twelfth set of programs made for known bits, by one who has not read the models.

How it was written: from the sentence that says what `bits fit` must do, from the harness `score.py`
and from the record `Bit` alone. Neither `dryrun/fitting` nor another generator was read. It does
what a router shop does: draw a part, choose a bit for it, let plain toolpath rules (offset by the
radius, stepover as a share of the diameter, depth of pass, scallop height, depth of a vee from the
width of the stroke) make the path, and write it in the words of an ordinary program.

Shares of cutting, chip loads and shop variation are common practice, no source. One program is for
one bit; neither comments nor T numbers depend on the bit.

First score, with the models frozen (seeds 0 to 299): first 0.780, first two 0.893. With models that
were worked on meanwhile by somebody who had not seen this file: 0.793 and 0.893 on the same seeds,
0.827 and 0.953 on 300 to 599. After that its reliefs were looked at.

`make(seed)` gives the program, the rack of eight, the true bit, and the family of the work.
Lengths are mm, feeds mm/min, angles rad; the top of the blank is Z 0 until the words are written.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter
from scipy.spatial import Voronoi
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from dryrun.job.model import Bit

Array = NDArray[np.float64]
Rng = np.random.Generator
INCH = 25.4


@dataclass(frozen=True)
class Made:
    """A program and what it was made for."""

    text: bytes
    rack: tuple[Bit, ...]
    bit: Bit
    family: str


# ---------------------------------------------------------------- racks


def flat(name: str, diameter: float, flutes: int = 2) -> Bit:
    return Bit(name, "flat", diameter, flutes=flutes, flute_length=min(4 * diameter, 32.0))


def ball(name: str, diameter: float) -> Bit:
    return Bit(name, "ball", diameter, flutes=2, flute_length=4 * diameter)


def vee(name: str, degrees: float, diameter: float, tip: float = 0.0, flutes: int = 2) -> Bit:
    return Bit(name, "vee", diameter, angle=math.radians(degrees), tip=tip, flutes=flutes)


def taper(name: str, degrees: float, tip_radius: float, diameter: float) -> Bit:
    return Bit(
        name, "taper-ball", diameter, angle=math.radians(degrees), tip_radius=tip_radius, flutes=2
    )


METRIC = (
    flat("flat-3", 3.0),
    flat("flat-6", 6.0),
    flat("flat-12", 12.0),
    flat("facer-25", 25.0, 3),
    ball("ball-3", 3.0),
    ball("ball-6", 6.0),
    vee("vee-60", 60, 12.0),
    vee("vee-90", 90, 16.0),
)
SIGNS = (
    flat("flat-1/8", INCH / 8),
    flat("flat-1/4", INCH / 4),
    flat("flat-1/2", INCH / 2),
    ball("ball-1/8", INCH / 8),
    ball("ball-1/4", INCH / 4),
    taper("taper-1/32", 5.0, INCH / 32, INCH / 4),
    vee("vee-60-1/2", 60, INCH / 2),
    vee("vee-90-3/4", 90, 0.75 * INCH),
)
SMALL = (
    flat("flat-2", 2.0),
    flat("flat-4", 4.0, 3),
    flat("flat-8", 8.0),
    ball("ball-4", 4.0),
    taper("taper-0.5", 6.0, 0.5, 6.0),
    vee("vee-30", 30, 6.0, 0.2, 1),
    vee("vee-90-10", 90, 10.0),
    Bit("drill-5", "drill", 5.0, angle=math.radians(118), flutes=2),
)
RACKS = (METRIC, SIGNS, SMALL)


# ---------------------------------------------------------------- what the shop decides


@dataclass(frozen=True)
class Material:
    """Chip load of a 6 mm bit (mm), depth of pass and speed, as ranges; common practice."""

    chip: float
    pass_share: tuple[float, float]
    rpm: tuple[float, float]


WOODS = (
    Material(0.14, (0.5, 1.0), (16000, 20000)),
    Material(0.16, (0.45, 1.0), (15000, 22000)),
    Material(0.10, (0.33, 0.7), (14000, 18000)),
)
PLASTICS = (
    Material(0.08, (0.3, 0.6), (12000, 18000)),
    Material(0.12, (0.4, 0.8), (14000, 18000)),
)
METALS = (Material(0.03, (0.1, 0.3), (10000, 18000)),)


def working_diameter(bit: Bit) -> float:
    """Say what diameter a person looks up in a table of chip loads."""
    if bit.shape == "taper-ball":
        return 3 * (bit.tip_radius or 0.0)
    return min(4.0, bit.diameter / 2) if bit.shape == "vee" else bit.diameter


def nice(value: float, inch: bool, coarse: bool = True) -> float:
    """Round to what a person types: 0.5 or 0.1 mm, 1/32 or 0.01 in."""
    grain = (INCH / 32 if coarse else 0.01 * INCH) if inch else (0.5 if coarse else 0.1)
    return max(round(value / grain), 1) * grain


class Shop:
    """The settings of one program, drawn once."""

    def __init__(self, rng: Rng, bit: Bit, inch: bool, family: str) -> None:
        self.rng, self.bit, self.inch = rng, bit, inch
        self.radius = bit.radius
        kinds = (WOODS, PLASTICS, METALS)
        choice = rng.choice(3, p=(0.62, 0.26, 0.12))
        self.metal = choice == 2 and bit.diameter <= 8.5 and not family.startswith("relief")
        kind = kinds[choice] if choice < 2 or self.metal else WOODS
        material = kind[rng.integers(len(kind))]
        self._speeds(material)
        share = rng.uniform(*material.pass_share)
        deepest = share * min(bit.diameter, 9.0)
        self.pass_depth = max(nice(deepest, inch, deepest > 1.5), 0.1)
        self.arcs = rng.random() < 0.6
        self.segments = int(rng.choice((11, 16, 24)))
        self.join = "round" if rng.random() < 0.8 else "mitre"
        self.entry = str(rng.choice(("plunge", "ramp", "helix"), p=(0.35, 0.4, 0.25)))
        if self.metal and self.entry == "plunge":
            self.entry = "ramp"
        self.ramp = math.radians(rng.choice((2, 3, 5, 8, 10)))
        self.climb = rng.random() < 0.7
        self.safe = float(rng.choice((3, 5, 10, 15)))
        self.clear = float(rng.choice((0.5, 1.0, 2.0)))

    def _speeds(self, material: Material) -> None:
        rng, bit = self.rng, self.bit
        rpm = rng.uniform(*material.rpm)
        if bit.diameter > 20:
            rpm *= 0.7
        if bit.shape == "drill":
            rpm *= 0.35
        self.rpm = round(rpm / 500) * 500.0
        chip = material.chip * (working_diameter(bit) / 6) ** 0.8
        chip *= rng.choice((0.4, 0.7, 1.0)) * math.exp(rng.normal(0, 0.2))
        fastest = float(rng.choice((2500, 4000, 6000, 9000)))  # what the machine does
        feed = float(np.clip(chip * (bit.flutes or 2) * self.rpm, 100, fastest))
        if rng.random() < 0.1:  # a shop where all programs have the same feed
            feed = float(rng.choice((1000, 1500, 2000)))
        grain = 5 * INCH if self.inch else (50 if feed > 500 else 10)
        self.feed = max(round(feed / grain), 1) * grain
        plunge = self.feed * rng.choice((0.2, 0.3, 0.4, 0.5))
        self.plunge = max(round(plunge / grain), 1) * grain

    def offset(self, shape: BaseGeometry, distance: float) -> BaseGeometry:
        """Offset a shape as this shop's software does: round outside corners, or sharp ones."""
        join = self.join if distance > 0 else "round"
        return shape.buffer(distance, quad_segs=self.segments, join_style=join, mitre_limit=3)

    def levels(self, depth: float, top: float = 0.0) -> list[float]:
        """Divide a depth into passes, evenly or with a remainder at the end."""
        step = self.pass_depth
        count = math.ceil((depth + top) / step - 0.05)
        if self.rng.random() < 0.5:
            return list(top - np.arange(1, count + 1) * (depth + top) / count)
        return [max(top - step * k, -depth) for k in range(1, count)] + [-depth]


# ---------------------------------------------------------------- the path


@dataclass(frozen=True)
class Step:
    """One move: where to, how fast (None: rapid), and for an arc its centre and sense."""

    to: tuple[float, float, float]
    feed: float | None = None
    centre: tuple[float, float] | None = None
    ccw: bool = False


class Cam:
    """Collects the moves of a program."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.steps: list[Step] = []
        self.at = np.array([0.0, 0.0, shop.safe])

    def _add(self, x: float, y: float, z: float, feed: float | None) -> None:
        self.steps.append(Step((float(x), float(y), float(z)), feed))
        self.at = np.array([x, y, z])

    def jump(self, point: Array, above: float | None = None) -> None:
        """Retract, go over a point, and down to just above what is there."""
        safe = self.shop.safe
        if self.at[2] < safe:
            self._add(self.at[0], self.at[1], safe, None)
        self._add(point[0], point[1], safe, None)
        if above is not None and above + self.shop.clear < safe:
            self._add(point[0], point[1], above + self.shop.clear, None)

    def down(self, z: float) -> None:
        """Plunge."""
        self._add(self.at[0], self.at[1], z, self.shop.plunge)

    def cut(self, points: Array, z: float | None = None, feed: float | None = None) -> None:
        """Follow points (N x 2 with a height, or N x 3) from where the bit is."""
        if z is not None:
            points = np.column_stack((points[:, :2], np.full(len(points), z)))
        feed = feed or self.shop.feed
        path = np.vstack((self.at, points))
        keep = np.r_[True, np.abs(np.diff(path, axis=0)).max(axis=1) > 1e-4]
        for step in moves(path[keep], feed, self.shop.arcs):
            self.steps.append(step)
        self.at = path[-1].copy()

    def circle(self, centre: Array, z: float, feed: float | None = None) -> None:
        """Go once round a centre from where the bit is, down to z: two arcs, or chords."""
        feed = feed or self.shop.feed
        start = self.at.copy()
        arm = start[:2] - centre
        ccw = self.shop.climb
        if not self.shop.arcs:
            angle = np.linspace(0, 2 * math.pi, 4 * self.shop.segments + 1)[1:]
            angle = angle if ccw else -angle
            turned = np.column_stack(
                (
                    arm[0] * np.cos(angle) - arm[1] * np.sin(angle),
                    arm[0] * np.sin(angle) + arm[1] * np.cos(angle),
                )
            )
            height = start[2] + (z - start[2]) * np.abs(angle) / (2 * math.pi)
            self.cut(np.column_stack((centre + turned, height)), feed=feed)
            return
        half, middle = (start[2] + z) / 2, (float(centre[0]), float(centre[1]))
        for end, height in ((centre - arm, half), (start[:2], z)):
            to = (float(end[0]), float(end[1]), float(height))
            self.steps.append(Step(to, feed, middle, ccw))
        self.at = np.array([start[0], start[1], z])


def moves(path: Array, feed: float, arcs: bool) -> Iterator[Step]:
    """Turn a polyline into lines, and arcs where its points lie on one."""
    index, last = 0, len(path) - 1
    while index < last:
        found = arc_run(path, index) if arcs and index + 3 <= last else None
        if found is None:
            index += 1
            yield Step(tuple(path[index].tolist()), feed)
            continue
        end, centre, ccw = found
        index = end
        yield Step(tuple(path[end].tolist()), feed, centre, ccw)


def arc_run(path: Array, first: int) -> tuple[int, tuple[float, float], bool] | None:
    """Find how far the points from `first` on lie on one level arc of at least three chords."""
    (ax, ay, az), b, c = path[first : first + 3].tolist()
    found = circle_through((ax, ay), b, c)  # cross of its first two chords: its sense
    if found is None or max(az, b[2], c[2]) - min(az, b[2], c[2]) > 1e-6:
        return None
    ux, uy, cross = found
    radius = math.hypot(ax - ux, ay - uy)
    if not 0.05 < radius < 400:
        return None
    end, swept, before = first, 0.0, math.atan2(ay - uy, ax - ux)
    turns: list[float] = []
    for k in range(first + 1, len(path)):
        x, y, z = path[k].tolist()
        angle = math.atan2(y - uy, x - ux)
        turn = (angle - before + math.pi) % (2 * math.pi) - math.pi
        off = abs(math.hypot(x - ux, y - uy) - radius)
        bulge = radius * (1 - math.cos(turn / 2))
        loose = off > 0.003 or bulge > 0.02
        drawn = off < 0.0005 and abs(turn) < math.radians(9)  # surely the chords of an arc
        wrong = (loose and not drawn) or turn * cross <= 0 or abs(z - az) > 1e-6
        if wrong or swept + abs(turn) > math.radians(190):
            break
        end, swept, before = k, swept + abs(turn), angle
        turns.append(abs(turn))
    if end < first + 3:
        return None
    longest = max(turns)
    alike = sum(t > 0.97 * longest for t in turns)
    if alike < 2 and radius * (1 - math.cos(longest / 2)) > 0.02:
        return None  # a straight side between two small ones
    return end, midway((ux, uy), path[first], path[end]), cross > 0


def midway(centre: tuple[float, float], start: Array, end: Array) -> tuple[float, float]:
    """Move a centre the little way to where start and end are equally far from it."""
    chord = end[:2] - start[:2]
    off = (np.array(centre) - (start[:2] + end[:2]) / 2) @ chord / (chord @ chord)
    x, y = (np.array(centre) - off * chord).tolist()
    return x, y


def circle_through(
    a: Sequence[float], b: Sequence[float], c: Sequence[float]
) -> tuple[float, float, float] | None:
    """Centre of the circle through three points, and a number whose sign says the sense."""
    bx, by, cx, cy = b[0] - a[0], b[1] - a[1], c[0] - a[0], c[1] - a[1]
    cross = bx * cy - by * cx
    if abs(cross) < 1e-7:
        return None
    b2, c2 = bx * bx + by * by, cx * cx + cy * cy
    x, y = (cy * b2 - by * c2) / (2 * cross), (bx * c2 - cx * b2) / (2 * cross)
    return a[0] + x, a[1] + y, cross


# ---------------------------------------------------------------- the words


def choose_dialect(rng: Rng, inch: bool) -> dict[str, object]:
    """Draw the habits of writing."""
    return {
        "number": rng.random() < 0.2,
        "percent": rng.random() < 0.4,
        "pad": rng.random() < 0.35,
        "tight": rng.random() < 0.2,
        "decimals": (4 if rng.random() < 0.8 else 5) if inch else (3 if rng.random() < 0.85 else 4),
        "inch": inch,
        "crlf": rng.random() < 0.3,
        "repeat": rng.random() < 0.2,
        "change": rng.random() < 0.6,
        "tool": int(rng.integers(1, 20)),
    }


class Words:
    """Writes moves as a program."""

    def __init__(self, habits: dict[str, object]) -> None:
        self.habits = habits
        self.scale = 1 / INCH if habits["inch"] else 1.0
        self.decimals = int(str(habits["decimals"]))
        self.lines: list[str] = []
        self.known: dict[str, str] = {}
        self.point = (math.nan, math.nan, math.nan)

    def number(self, letter: str, value: float) -> str:
        text = f"{value * self.scale:.{self.decimals}f}".rstrip("0")
        return letter + ("0." if text in ("-0.", "0.") else text)

    def put(self, *words: str) -> None:
        gap = "" if self.habits["tight"] else " "
        line = gap.join(w for w in words if w)
        if self.habits["number"]:
            line = f"N{10 * (len(self.lines) + 1) % 100000}{gap}{line}"
        self.lines.append(line)

    def modal(self, letter: str, word: str, always: bool = False) -> str:
        if self.known.get(letter) == word and not always and not self.habits["repeat"]:
            return ""
        self.known[letter] = word
        return word

    def step(self, step: Step) -> None:
        code = 0 if step.feed is None else 1
        if step.centre is not None:
            code = 3 if step.ccw else 2
        before = {a: self.known.get(a, "") for a in "XYZ"}
        places = [self.number(a, v) for a, v in zip("XYZ", step.to, strict=True)]
        if [before[a] for a in "XYZ"] == places and step.centre is None:
            return
        start = self.point
        words = [self.modal("G", f"G{code:02d}" if self.habits["pad"] else f"G{code}")]
        arc = step.centre is not None
        words += [self.modal(a, w, arc and a != "Z") for a, w in zip("XYZ", places, strict=True)]
        if step.centre is not None:
            words += [
                self.number("I", step.centre[0] - start[0]),
                self.number("J", step.centre[1] - start[1]),
            ]
        if step.feed is not None:
            words.append(self.modal("F", f"F{step.feed * self.scale:.1f}".removesuffix(".0")))
        self.put(*words)
        self.point = step.to

    def program(self, cam: Cam, rng: Rng, shift: Array) -> bytes:
        """Write the whole program, its zero moved by `shift`."""
        if self.habits["percent"]:
            self.lines.append("%")
        title = ("(PART {})", "(JOB {})", "(PROGRAM {})", "")[rng.integers(4)]
        if title:
            self.put(title.format(int(rng.integers(1, 9000))))
        self.put(
            "G90",
            "G20" if self.habits["inch"] else "G21",
            "G17",
            *("G94", "G40")[: rng.integers(3)],
        )
        if self.habits["change"]:
            self.put(f"T{self.habits['tool']}", "M6")
        if rng.random() < 0.4:
            self.put("G54")
        self.put(f"S{cam.shop.rpm:.0f}", "M3")
        dx, dy, dz = shift
        for step in cam.steps:
            x, y, z = step.to
            centre = step.centre and (step.centre[0] + dx, step.centre[1] + dy)
            self.step(Step((x + dx, y + dy, z + dz), step.feed, centre, step.ccw))
        self.known.clear()
        self.step(Step((cam.at[0] + dx, cam.at[1] + dy, cam.shop.safe + dz)))
        self.put("M5")
        self.put("M30" if rng.random() < 0.7 else "M2")
        if self.habits["percent"]:
            self.lines.append("%")
        return ("\r\n" if self.habits["crlf"] else "\n").join([*self.lines, ""]).encode()


# ---------------------------------------------------------------- shapes to cut


def polygons(shape: BaseGeometry) -> list[Polygon]:
    """List the polygons of a shape, the largest first."""
    parts = getattr(shape, "geoms", [shape])
    found = [p for p in parts if isinstance(p, Polygon) and p.area > 1e-3]
    return sorted(found, key=lambda p: -p.area)


def blob(rng: Rng, size: float) -> Polygon:
    """A smooth closed outline: a circle with waves."""
    angle = np.linspace(0, 2 * math.pi, 97)[:-1]
    radius = np.ones_like(angle)
    for wave in range(2, 6):
        radius += rng.normal(0, 0.22 / wave) * np.cos(wave * angle + rng.uniform(0, 6.3))
    radius = np.clip(radius, 0.45, 2) * size / 2
    return Polygon(np.column_stack((radius * np.cos(angle), radius * np.sin(angle)))).buffer(0)


def star(rng: Rng, size: float) -> Polygon:
    """A star with four to nine points."""
    points = int(rng.integers(4, 10))
    angle = np.arange(2 * points) * math.pi / points
    radius = np.where(np.arange(2 * points) % 2, rng.uniform(0.4, 0.75), 1.0) * size / 2
    return Polygon(np.column_stack((radius * np.cos(angle), radius * np.sin(angle))))


def regular(rng: Rng, size: float) -> Polygon:
    """A regular polygon with three to eight corners."""
    count = int(rng.integers(3, 9))
    angle = np.arange(count) * 2 * math.pi / count + rng.uniform(0, 1)
    return Polygon(size / 2 * np.column_stack((np.cos(angle), np.sin(angle))))


def ragged(rng: Rng, size: float) -> Polygon:
    """An irregular polygon."""
    count = int(rng.integers(5, 11))
    angle = (np.arange(count) + rng.uniform(-0.3, 0.3, count)) * 2 * math.pi / count
    radius = size / 2 * rng.uniform(0.6, 1.0, count)
    return Polygon(np.column_stack((radius * np.cos(angle), radius * np.sin(angle))))


def bracket(rng: Rng, size: float) -> Polygon:
    """An L, T or U of plates."""
    a, b = size, size * rng.uniform(0.6, 1.0)
    arm = size * rng.uniform(0.28, 0.42)
    kind = rng.integers(3)
    foot = box(0, 0, a, arm)
    if kind == 0:
        return foot.union(box(0, 0, arm, b))
    if kind == 1:
        return foot.union(box((a - arm) / 2, 0, (a + arm) / 2, b))
    return unary_union([foot, box(0, 0, arm, b), box(a - arm, 0, a, b)])


def plate(rng: Rng, size: float) -> Polygon:
    """A rectangle."""
    return box(0, 0, size, size * rng.uniform(0.35, 1.0))


def disc(rng: Rng, size: float) -> Polygon:
    """A circle or an ellipse."""
    stretch = 1.0 if rng.random() < 0.5 else rng.uniform(0.5, 0.9)
    return affinity.scale(Point(0, 0).buffer(size / 2, quad_segs=24), 1, stretch)


def stadium(rng: Rng, size: float) -> Polygon:
    """A slot with round ends."""
    wide = size * rng.uniform(0.25, 0.5)
    return LineString([(0, 0), (size - wide, 0)]).buffer(wide / 2, quad_segs=16)


SHAPES_OF: tuple[Callable[[Rng, float], Polygon], ...] = (
    plate, plate, bracket, disc, stadium, blob, blob, star, regular, ragged,
)  # fmt: skip


def draw(rng: Rng, size: float, fillet: float) -> Polygon:
    """Draw a shape; its corners are rounded where `fillet` is above nothing."""
    shape = SHAPES_OF[rng.integers(len(SHAPES_OF))](rng, size)
    if fillet > 0:
        inner = polygons(shape.buffer(-fillet))
        if inner:
            shape = inner[0].buffer(2 * fillet, quad_segs=16).buffer(-fillet, quad_segs=16)
    if rng.random() < 0.3:
        shape = affinity.rotate(shape, rng.choice((15, 30, 45, 90, rng.uniform(0, 360))))
    return polygons(shape.simplify(0.003))[0]


def lay_out(rng: Rng, shapes: Iterable[BaseGeometry], gap: float) -> list[BaseGeometry]:
    """Put shapes beside each other in rows."""
    placed, x, y, tall = [], 0.0, 0.0, 0.0
    row = rng.integers(2, 5)
    for k, shape in enumerate(shapes):
        if k and k % row == 0:
            x, y, tall = 0.0, y + tall + gap, 0.0
        low_x, low_y, high_x, high_y = shape.bounds
        placed.append(affinity.translate(shape, x - low_x, y - low_y))
        x, tall = x + high_x - low_x + gap, max(tall, high_y - low_y)
    return placed


def bow(
    x: float, y: float, wide: float, tall: float, start: float, end: float
) -> tuple[tuple[float, float], ...]:
    """Points of a piece of an ellipse."""
    angle = np.linspace(start, end, 25)
    return tuple((x + wide * math.cos(a), y + tall * math.sin(a)) for a in angle.tolist())


STROKES: tuple[tuple[tuple[tuple[float, float], ...], ...], ...] = (
    (((0, 0), (0.4, 1), (0.8, 0)), ((0.16, 0.4), (0.64, 0.4))),
    (((0.6, 0), (0, 0), (0, 1), (0.6, 1)), ((0, 0.52), (0.5, 0.52))),
    (((0, 0), (0, 1), (0.6, 1)), ((0, 0.52), (0.45, 0.52))),
    (((0, 0), (0, 1)), ((0.65, 0), (0.65, 1)), ((0, 0.5), (0.65, 0.5))),
    (((0, 0), (0, 1)),),
    (((0, 0), (0, 1)), ((0.6, 1), (0, 0.45), (0.65, 0))),
    (((0, 1), (0, 0), (0.55, 0)),),
    (((0, 0), (0, 1), (0.45, 0.3), (0.9, 1), (0.9, 0)),),
    (((0, 0), (0, 1), (0.65, 0), (0.65, 1)),),
    (((0, 1), (0.7, 1)), ((0.35, 1), (0.35, 0))),
    (((0, 1), (0.4, 0), (0.8, 1)),),
    (((0, 1), (0.25, 0), (0.5, 0.7), (0.75, 0), (1, 1)),),
    (((0, 0), (0.7, 1)), ((0, 1), (0.7, 0))),
    (((0, 1), (0.65, 1), (0, 0), (0.65, 0)),),
    (((0, 1), (0.35, 0.5), (0.7, 1)), ((0.35, 0.5), (0.35, 0))),
    (bow(0.4, 0.5, 0.4, 0.5, 0, 2 * math.pi),),
    (bow(0.4, 0.5, 0.4, 0.5, 0.9, 5.4),),
    (bow(0.3, 0.75, 0.26, 0.25, 0.5, 4.7) + bow(0.3, 0.25, 0.28, 0.25, 1.5, -2.6),),
    (
        ((0, 0), (0, 1), (0.4, 1), (0.58, 0.88), (0.58, 0.6), (0.4, 0.48), (0, 0.48)),
        ((0.35, 0.48), (0.65, 0)),
    ),
)  # fmt: skip


def text_lines(rng: Rng, height: float, count: int) -> list[LineString]:
    """Write random letters as lines."""
    lines, x, slant = [], 0.0, rng.choice((0.0, 0.0, 0.2))
    for _ in range(count):
        strokes = STROKES[rng.integers(len(STROKES))]
        wide = max(p[0] for s in strokes for p in s)
        for stroke in strokes:
            lines.append(
                LineString([(x + (px + slant * py) * height, py * height) for px, py in stroke])
            )
        x += (wide + rng.uniform(0.28, 0.4)) * height
    return lines


def text_shape(rng: Rng, height: float, stroke: float, count: int) -> BaseGeometry:
    """Write random letters with strokes of a width, some with feet."""
    cap = "square" if rng.random() < 0.2 else ("round" if rng.random() < 0.3 else "flat")
    lines = text_lines(rng, height, count)
    join = "round" if cap == "round" else "mitre"
    parts: list[BaseGeometry] = [
        line.buffer(stroke / 2, cap_style=cap, join_style=join, mitre_limit=2.5) for line in lines
    ]
    if cap == "flat" and rng.random() < 0.5:  # feet, as letters of books have them
        for line in lines:
            for x, y in (line.coords[0], line.coords[-1]):
                foot = [(-1.3, 0), (1.3, 0), (0.45, 0.55), (-0.45, 0.55)]
                sign = 1 if y < height / 2 else -1
                parts.append(Polygon([(x + a * stroke, y + sign * b * stroke) for a, b in foot]))
    return unary_union(parts).buffer(0).simplify(0.005)


# ---------------------------------------------------------------- strategies in the plane


def ring(line: BaseGeometry, ccw: bool) -> Array:
    """Give the points of a closed line, first point again at the end, in a sense."""
    points: Array = shapely.get_coordinates(line)
    turns = bool(shapely.is_ccw(line))
    return points if turns == ccw else points[::-1]


def started_near(points: Array, at: Array) -> Array:
    """Begin a closed ring at its point nearest to a place."""
    k = int(((points[:-1] - at[:2]) ** 2).sum(axis=1).argmin())
    return np.vstack((points[k:-1], points[: k + 1]))


def along(points: Array, length: float) -> tuple[Array, Array]:
    """Cut a polyline at a length: what is before and what is after (both with the cut point)."""
    lengths = np.r_[0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))]
    k = int(np.searchsorted(lengths, length, side="right"))
    if k >= len(points):
        return points, points[-1:]
    share = (length - lengths[k - 1]) / max(lengths[k] - lengths[k - 1], 1e-9)
    middle = points[k - 1] + share * (points[k] - points[k - 1])
    return np.vstack((points[:k], middle)), np.vstack((middle, points[k:]))


def sloped(points: Array, start: float, end: float) -> Array:
    """Give a polyline a height that goes evenly from start to end."""
    lengths = np.r_[0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))]
    return np.column_stack((points, start + (end - start) * lengths / max(lengths[-1], 1e-9)))


def enter_ring(cam: Cam, points: Array, top: float, z: float, region: BaseGeometry | None) -> Array:
    """Go down onto a closed ring from `top` to `z`; give the ring from where the bit now is."""
    shop = cam.shop
    length = float(np.hypot(*np.diff(points, axis=0).T).sum())
    if shop.entry == "helix" and region is not None:
        radius = shop.radius * float(shop.rng.choice((0.5, 0.7, 0.9)))
        if region.buffer(1e-3).contains(Point(points[0]).buffer(radius)):
            helix(cam, points[0], radius, top, z)
            cam.cut(points[:1], z)
            return points
    cam.jump(points[0], top)
    if shop.entry == "plunge":
        cam.down(z)
        return points
    start = top + min(shop.clear, 0.5)
    cam.down(start)
    run = (start - z) / math.tan(shop.ramp)
    if run > 1.5 * length:
        run = 1.5 * length
    laps, rest = divmod(run, length)
    before, after = along(points, rest)
    path = np.vstack([points[:-1]] * int(laps) + [before])
    cam.cut(sloped(path, start, z)[1:], feed=max(shop.plunge, shop.feed * 0.5))
    return np.vstack((after, before[1:])) if len(after) > 1 else points


def helix(cam: Cam, centre: Array, radius: float, top: float, z: float) -> None:
    """Wind down round a centre, and once round on the floor."""
    cam.jump(centre + np.array([radius, 0.0]), top)
    cam.down(top + min(cam.shop.clear, 0.5))
    drop = cam.at[2] - z
    pitch = 2 * math.pi * radius * math.tan(max(cam.shop.ramp, math.radians(3)))
    count = max(math.ceil(drop / pitch), 1)
    start = float(cam.at[2])
    for k in range(1, count + 1):
        cam.circle(centre, start - drop * k / count, max(cam.shop.plunge, cam.shop.feed * 0.5))
    cam.circle(centre, z)


def nested(shop: Shop, region: Polygon, step: float) -> list[tuple[Array, Polygon]]:
    """List the rings of a region from outside to inside; each with the region it bounds."""
    rings = [(ring(region.exterior, shop.climb), region)]
    rings += [(ring(hole, not shop.climb), region) for hole in region.interiors]
    inside = polygons(shop.offset(region, -step).simplify(0.002))
    if not inside and step > 0.9 * shop.radius and polygons(region.buffer(-0.9 * shop.radius)):
        inside = polygons(shop.offset(region, -step / 2))  # a middle the last ring would leave
    for inner in inside:
        rings += nested(shop, inner, step)
    return rings


def clear_offset(
    cam: Cam, region: BaseGeometry, step: float, top: float, z: float, inward: bool
) -> None:
    """Clear a region (of places for the bit's centre) with rings at one level."""
    for part in polygons(region):
        rings = nested(cam.shop, part, step)
        fits = part.buffer(0.01)
        shapely.prepare(fits)
        for k, (points, _) in enumerate(rings if inward else rings[::-1]):
            points = started_near(points, cam.at)
            if k:
                link = LineString([cam.at[:2], points[0]])
                if link.length < 4 * step and fits.covers(link):
                    cam.cut(points, z)
                    continue
            cam.cut(enter_ring(cam, points, top, z, part)[1:], z)


def scan(region: BaseGeometry, step: float, angle: float, even: bool) -> list[list[Array]]:
    """Cut a region into parallel lines; per line its pieces, all in one sense."""
    turned = affinity.rotate(region, -angle, origin=(0, 0))
    low_x, low_y, high_x, high_y = turned.bounds
    count = max(math.ceil((high_y - low_y) / step - 1e-6), 1)
    if even:
        step = (high_y - low_y) / count
    heights = low_y + 0.0005 + np.arange(count + 1) * step * 0.9999
    heights = heights[heights < high_y]
    ends = np.array([[(low_x - 1, y), (high_x + 1, y)] for y in heights])
    found = shapely.intersection(shapely.linestrings(ends), turned)
    rows = []
    for line in found:
        pieces = [p for p in getattr(line, "geoms", [line]) if p.length > 1e-3]
        pieces = [shapely.get_coordinates(affinity.rotate(p, angle, origin=(0, 0))) for p in pieces]
        if pieces:
            rows.append(pieces)
    return rows


def clear_zigzag(
    cam: Cam, region: BaseGeometry, step: float, angle: float, top: float, z: float
) -> None:
    """Clear a region with parallel lines to and fro at one level."""
    for part in polygons(region):
        rows = scan(part, step, angle, cam.shop.join == "round")
        fits = part.buffer(0.02)
        shapely.prepare(fits)
        heading, first, number = False, True, 0
        while any(rows):
            at = cam.at[:2]
            around = range(max(number - 3, 0), min(number + 4, len(rows)))
            close = [k for k in around if rows[k] and nearest(rows[k], at)[1] < 3 * step]
            number = (
                next(k for k, row in enumerate(rows) if row) if first or not close else close[0]
            )
            piece = rows[number].pop(nearest(rows[number], at)[0])
            piece = piece[::-1] if heading else piece
            link = LineString([at, piece[0]])
            if first or link.length > 3 * step or not fits.covers(link):
                enter_line(cam, piece, top, z)
            else:
                cam.cut(piece[:1], z)
            cam.cut(piece[1:], z)
            heading, first = not heading, False


def nearest(pieces: list[Array], at: Array) -> tuple[int, float]:
    """Which piece has an end nearest to a place, and how far it is."""
    away = np.hypot(*(np.array(pieces)[:, [0, -1]] - at).reshape(-1, 2).T)
    k = int(away.argmin())
    return k // 2, float(away[k])


def enter_line(cam: Cam, piece: Array, top: float, z: float) -> None:
    """Go down at the start of an open line, to and fro along it where the shop ramps."""
    shop = cam.shop
    cam.jump(piece[0], top)
    length = float(np.hypot(*(piece[-1] - piece[0])))
    if shop.entry == "plunge" or length < shop.radius:
        cam.down(z)
        return
    start = top + min(shop.clear, 0.5)
    cam.down(start)
    run = (start - z) / math.tan(max(shop.ramp, math.radians(3)))
    laps = 2 * max(math.ceil(run / (2 * min(length, 5 * shop.radius))), 1)
    away = along(piece, min(run / laps, length))[0][-1]
    for k in range(1, laps + 1):
        place = away if k % 2 else piece[0]
        cam.cut(np.array([[*place, start + (z - start) * k / laps]]), feed=shop.plunge)


# ---------------------------------------------------------------- families in the plane


def typical_size(rng: Rng, diameter: float, low: float, high: float) -> float:
    """How large a part a person gives to a bit of this diameter: shares of it, and of habit."""
    size = diameter * math.exp(rng.uniform(math.log(low), math.log(high)))
    return float(np.clip(size, 8, 320))


def pocket_design(shop: Shop, low: float = 4.0, high: float = 16.0) -> list[BaseGeometry]:
    """Draw one to four pockets that the bit gets into, some with islands."""
    rng, d = shop.rng, shop.bit.diameter
    count = int(rng.choice((1, 2, 3, 4), p=(0.45, 0.25, 0.15, 0.15)))
    fillet = float(rng.choice((0.0, 0.0, 0.55, 0.75, 1.0, 1.5))) * d
    shapes: list[BaseGeometry] = []
    size = typical_size(rng, d, low, high)
    while len(shapes) < count:
        if shapes and rng.random() < 0.3:
            shapes.append(shapes[-1])
            continue
        shape: BaseGeometry = draw(rng, nice(size * rng.uniform(0.7, 1.1), shop.inch), fillet)
        if rng.random() < 0.25 and size > 8 * d:
            middle = shape.representative_point()
            island = draw(rng, size * rng.uniform(0.2, 0.35), 0.0)
            at = island.centroid
            shape = shape.difference(affinity.translate(island, middle.x - at.x, middle.y - at.y))
        if shop.offset(shape, -0.55 * d).area > 0.3 * d * d:
            shapes.append(shape)
        size = max(size * 1.02, 4 * d)
    return lay_out(rng, shapes, nice(rng.uniform(5, 15), shop.inch))


def total_depth(shop: Shop, low: float = 0.4, high: float = 2.0) -> float:
    """Draw how deep the work is."""
    deepest = min(high * shop.bit.diameter, 18.0, 8 * shop.pass_depth)
    return nice(shop.rng.uniform(min(low * shop.bit.diameter, deepest / 2), deepest), shop.inch)


def pocket_offset(shop: Shop) -> Cam:
    """Pockets cleared with rings."""
    rng, cam, d = shop.rng, Cam(shop), shop.bit.diameter
    share = float(rng.choice((0.3, 0.35, 0.4, 0.45, 0.5, 0.6), p=(0.1, 0.1, 0.35, 0.2, 0.2, 0.05)))
    allowance = 0.0 if rng.random() < 0.6 else nice(rng.uniform(0.1, 0.5), shop.inch, False)
    inward = rng.random() < 0.3
    heights = shop.levels(total_depth(shop))
    for shape in pocket_design(shop):
        region = shop.offset(shape, -(d / 2 + allowance)).simplify(0.002)
        for top, z in zip([0.0, *heights], heights, strict=False):
            clear_offset(cam, region, share * d, top, z, inward)
        if allowance:
            finish_walls(cam, shop.offset(shape, -d / 2), heights)
    return cam


def finish_walls(cam: Cam, region: BaseGeometry, heights: list[float]) -> None:
    """Go round the walls of a pocket once at the floor, or at each level."""
    finals = heights if cam.shop.rng.random() < 0.4 else heights[-1:]
    for part in polygons(region.simplify(0.002)):
        for line in (part.exterior, *part.interiors):
            outer = line is part.exterior
            points = started_near(ring(line, cam.shop.climb == outer), cam.at)
            cam.jump(points[0], 0.0)
            for z in finals:
                cam.down(z)
                cam.cut(points[1:], z)


def pocket_zigzag(shop: Shop) -> Cam:
    """Pockets cleared with parallel lines, their walls followed at the end."""
    rng, cam, d = shop.rng, Cam(shop), shop.bit.diameter
    share = float(rng.choice((0.35, 0.4, 0.45, 0.5, 0.6, 0.7), p=(0.1, 0.3, 0.15, 0.25, 0.1, 0.1)))
    angle = float(rng.choice((0, 0, 90, 45, 30)))
    allowance = nice(rng.uniform(0.1, 0.5), shop.inch, False) if rng.random() < 0.7 else 0.0
    heights = shop.levels(total_depth(shop))
    for shape in pocket_design(shop):
        region = shop.offset(shape, -(d / 2 + allowance)).simplify(0.002)
        for top, z in zip([0.0, *heights], heights, strict=False):
            clear_zigzag(cam, region, share * d, angle, top, z)
        finish_walls(cam, shop.offset(shape, -d / 2), heights)
    return cam


def rest_corners(shop: Shop) -> Cam:
    """Corners of pockets that a bit of twice to thrice the size has left."""
    rng, cam, d = shop.rng, Cam(shop), shop.bit.diameter
    before = d * float(rng.choice((2.0, 3.0, 4.0)))
    heights = shop.levels(total_depth(shop))
    shapes = [star(rng, 9 * before), bracket(rng, 7 * before), plate(rng, 5 * before)]
    chosen = [shapes[i] for i in rng.permutation(3)[: rng.integers(1, 4)]]
    for shape in lay_out(rng, chosen, 10):
        done = shape.buffer(-before / 2).buffer(before / 2 - 0.05)
        region = shop.offset(shape, -d / 2)
        places = region.intersection(shape.difference(done).buffer(0.35 * d))
        for part in polygons(places.simplify(0.01)):
            for top, z in zip([0.0, *heights], heights, strict=False):
                clear_offset(cam, part, 0.35 * d, top, z, False)
    return cam


def contour(shop: Shop) -> Cam:
    """Parts cut out of a sheet: their holes first, then round the outside, often with tabs."""
    rng, cam, d = shop.rng, Cam(shop), shop.bit.diameter
    thick = total_depth(shop, 0.8, 2.2)
    heights = shop.levels(thick + (nice(0.3, shop.inch, False) if rng.random() < 0.5 else 0))
    size = typical_size(rng, d, 6, 28)
    fillet = float(rng.choice((0.0, 0.0, 0.1, 0.3))) * size / 2
    count = int(rng.choice((1, 2, 4, 6), p=(0.45, 0.25, 0.2, 0.1)))
    parts: list[BaseGeometry] = []
    for k in range(count):
        if k and rng.random() < 0.5:
            parts.append(parts[-1])
            continue
        part = draw(rng, nice(size * rng.uniform(0.7, 1.2), shop.inch), fillet)
        parts.append(with_openings(shop, part) if rng.random() < 0.6 else part)
    finish = nice(rng.uniform(0.15, 0.5), shop.inch, False) if rng.random() < 0.25 else 0.0
    tabs = int(rng.integers(2, 6)) if rng.random() < 0.55 else 0
    tab = (
        tabs,
        nice(rng.uniform(3, 8), shop.inch),
        min(thick * 0.5, nice(rng.uniform(1, 3), shop.inch)),
    )
    dogbone = rng.random() < 0.25
    for part in lay_out(rng, parts, nice(2 * d + rng.uniform(1, 8), shop.inch)):
        solid = polygons(part)[0]
        for hole in solid.interiors:
            inside = shop.offset(Polygon(hole), -d / 2).simplify(0.002)
            for area in polygons(inside):
                follow(cam, area, heights, (0, 0.0, 0.0), inner=True, dogbone=dogbone)
        outside = polygons(shop.offset(Polygon(solid.exterior), d / 2 + finish).simplify(0.002))[0]
        follow(cam, outside, heights, tab, inner=False)
        if finish:
            outside = polygons(shop.offset(Polygon(solid.exterior), d / 2).simplify(0.002))[0]
            follow(cam, outside, heights[-1:], tab, inner=False)
    return cam


def with_openings(shop: Shop, part: Polygon) -> BaseGeometry:
    """Put one to four openings in a part, each wide enough for the bit."""
    rng, d = shop.rng, shop.bit.diameter
    size = math.sqrt(part.area)
    holes: list[BaseGeometry] = []
    for _ in range(rng.integers(1, 5)):
        wide = max(1.6 * d, size * rng.uniform(0.12, 0.35))
        hole = draw(rng, wide, 0.0) if rng.random() < 0.6 else Point(0, 0).buffer(wide / 2, 24)
        low_x, low_y, high_x, high_y = part.bounds
        at = hole.centroid
        x, y = rng.uniform(low_x, high_x), rng.uniform(low_y, high_y)
        hole = affinity.translate(hole, x - at.x, y - at.y)
        clear = hole.buffer(0.6 * d)
        fits = polygons(hole.buffer(-0.52 * d))
        if fits and part.contains(clear) and not any(clear.intersects(h) for h in holes):
            holes.append(hole)
    return part.difference(unary_union(holes)) if holes else part


def follow(
    cam: Cam,
    area: Polygon,
    heights: list[float],
    tab: tuple[int, float, float],
    *,
    inner: bool,
    dogbone: bool = False,
) -> None:
    """Follow the outline of an area level by level, leaving tabs in the lowest."""
    shop = cam.shop
    points = ring(area.exterior, shop.climb == inner)
    if inner and dogbone:
        points = with_dogbones(shop, points)
    else:
        points = started_near(points, cam.at) if shop.rng.random() < 0.5 else points
    lead = lead_arc(shop, points) if not inner and shop.rng.random() < 0.5 else None
    if lead is not None:  # not where it would cut into the part itself
        both = np.vstack((lead, lead_out(lead, points)))
        lead = None if LineString(both).intersection(area).length > 0.05 else lead
    tab_top = heights[-1] + tab[2]
    ramps = bool(shop.rng.random() < 0.4)
    for top, z in zip([0.0, *heights], heights, strict=False):
        if lead is not None:
            cam.jump(lead[0], top)
            cam.down(z)
            cam.cut(lead[1:], z)
            path = points
        else:
            path = enter_ring(cam, points, top, z, None)
        if tab[0] and z < tab_top - 1e-6:
            solid = with_tabs(path, z, tab_top, tab[0], tab[1] + shop.bit.diameter, ramps)
            cam.cut(solid[1:])
        else:
            cam.cut(path[1:], z)
        if lead is not None:
            cam.cut(lead_out(lead, points), z)


def lead_arc(shop: Shop, points: Array) -> Array:
    """A quarter circle that comes to a contour from outside, tangent to it."""
    radius = shop.bit.diameter * float(shop.rng.choice((0.5, 0.75, 1.0)))
    ahead = points[1] - points[0]
    ahead /= np.hypot(*ahead)
    left = np.array([-ahead[1], ahead[0]])
    side = left if shop.climb else -left  # the outside: left of a contour that runs clockwise
    centre = points[0] + radius * side
    angle = np.linspace(math.pi / 2, 0, 9)[:, None]
    arc: Array = centre - radius * (np.sin(angle) * ahead + np.cos(angle) * side)
    return arc


def lead_out(lead: Array, points: Array) -> Array:
    """The lead-in's mirror image: away from the contour."""
    ahead = points[1] - points[0]
    ahead /= np.hypot(*ahead)
    arm = lead[::-1] - points[0]
    away: Array = points[0] + arm - 2 * (arm @ ahead)[:, None] * ahead
    return away


def with_tabs(path: Array, z: float, top: float, count: int, wide: float, ramps: bool) -> Array:
    """Lift a closed path over tabs, evenly spaced along it."""
    length = float(np.hypot(*np.diff(path, axis=0).T).sum())
    count = min(count, int(length / (2.5 * wide)))
    pieces, rest, done = [], path, 0.0
    for k in range(count):
        begin = (k + 0.5) * length / count - wide / 2
        before, rest = along(rest, begin - done)
        over, rest = along(rest, wide)
        done = begin + wide
        pieces.append(np.column_stack((before, np.full(len(before), z))))
        if ramps:
            up, down = along(over, wide / 2)
            pieces += [sloped(up, z, top), sloped(down, top, z)]
        else:
            pieces.append(np.column_stack((over, np.full(len(over), top))))
    pieces.append(np.column_stack((rest, np.full(len(rest), z))))
    return np.vstack(pieces)


def with_dogbones(shop: Shop, points: Array) -> Array:
    """At sharp corners of an opening go on into the corner, so that a square part fits."""
    out, count = [], len(points) - 1
    for k in range(count):
        here = points[k]
        a, b = here - points[k - 1 if k else count - 1], points[k + 1] - here
        a, b = a / np.hypot(*a), b / np.hypot(*b)
        turn = math.atan2(a[0] * b[1] - a[1] * b[0], float(a @ b)) * (1 if shop.climb else -1)
        out.append(here)
        if turn > math.radians(50):
            outward = (a - b) / np.hypot(*(a - b))
            reach = shop.radius * (1 / math.cos(turn / 2) - 1)
            out += [here + reach * outward, here]
    return np.array([*out, out[0]])


def facing(shop: Shop) -> Cam:
    """A board faced with wide lines, to and fro or round and round."""
    rng, cam, d = shop.rng, Cam(shop), shop.bit.diameter
    share = float(rng.choice((0.4, 0.5, 0.6, 0.7, 0.75, 0.8, 0.9)))
    wide = nice(min(rng.uniform(8, 30) * d, rng.uniform(300, 800)), shop.inch)
    tall = nice(wide * rng.uniform(0.4, 1.0), shop.inch)
    board = box(0, 0, wide, tall)
    over = float(rng.choice((0.0, 0.25, 0.5, 0.6))) * d
    region = (
        shop.offset(board, over) if rng.random() < 0.2 else board.buffer(over, join_style="mitre")
    )
    shop.entry = "plunge"
    depth = nice(rng.uniform(0.3, 1.5), shop.inch, False)
    around, angle = rng.random() < 0.25 and share < 0.8, float(rng.choice((0, 90)))
    for k in range(1, int(rng.choice((1, 1, 2, 3))) + 1):
        if around:
            clear_offset(cam, region, share * d, -depth * (k - 1), -depth * k, True)
        else:
            clear_zigzag(cam, region, share * d, angle, -depth * (k - 1), -depth * k)
    return cam


def bore(shop: Shop) -> Cam:
    """Holes wider than the bit, wound down and, where wide, cleared with circles."""
    rng, cam, d = shop.rng, Cam(shop), shop.bit.diameter
    depth = total_depth(shop, 0.8, 2.2)
    sizes = sorted({nice(d * rng.uniform(1.2, 4.5), shop.inch) for _ in range(rng.integers(1, 4))})
    sizes = [s for s in sizes if s > 1.1 * d] or [2 * d]
    pitch = min(shop.pass_depth, d * float(rng.choice((0.15, 0.25, 0.4, 0.5))))
    step = d * float(rng.choice((0.35, 0.4, 0.45, 0.5)))
    rows, cols = int(rng.integers(1, 4)), int(rng.integers(2, 6))
    gap = nice(max(sizes) * rng.uniform(1.3, 3), shop.inch)
    for k in range(rows * cols):
        centre = gap * np.array([k % cols, k // cols])
        reach = (sizes[k % len(sizes)] - d) / 2
        first = min(reach, 0.45 * d)
        cam.jump(centre + np.array([first, 0.0]), 0.0)
        cam.down(min(shop.clear, 0.5))
        start, turns = float(cam.at[2]), max(math.ceil((depth + cam.at[2]) / pitch), 1)
        for turn in range(1, turns + 1):
            cam.circle(centre, start - (depth + start) * turn / turns)
        cam.circle(centre, -depth)
        for radius in widening(first, reach, step):
            cam.cut(centre + np.array([[radius, 0.0]]), -depth)
            cam.circle(centre, -depth)
    return cam


def widening(first: float, last: float, step: float) -> list[float]:
    """Radii from above the first to the last, no further apart than a step."""
    count = math.ceil((last - first) / step - 1e-6)
    return [first + (last - first) * k / count for k in range(1, count + 1)]


def drilling(shop: Shop) -> Cam:
    """Holes drilled with pecks."""
    rng, cam, d = shop.rng, Cam(shop), shop.bit.diameter
    depth = nice(rng.uniform(1.5, 4) * d, shop.inch)
    peck = nice(d * rng.uniform(0.4, 1.0), shop.inch)
    full = rng.random() < 0.6
    pitch = nice(rng.uniform(3, 10) * d, shop.inch)
    for k in range(rng.integers(8, 40)):
        place = pitch * np.array([k % 8, k // 8])
        cam.jump(place, 0.0)
        z, count = 0.0, math.ceil(depth / peck - 1e-6)
        for hole in range(1, count + 1):
            z = max(-peck * hole, -depth)
            cam.down(z)
            back = shop.clear if full else z + 0.5
            if hole < count:
                cam.steps.append(Step((float(place[0]), float(place[1]), back)))
                if full:
                    cam.steps.append(Step((float(place[0]), float(place[1]), z + 0.3)))
    return cam


def slots(shop: Shop) -> Cam:
    """Dados and slots: as wide as the bit or wider, some cut with loops."""
    rng, cam, d = shop.rng, Cam(shop), shop.bit.diameter
    heights = shop.levels(total_depth(shop, 0.5, 1.5))
    kind = str(rng.choice(("wide", "single", "loops"), p=(0.6, 0.2, 0.2)))
    ratio = {"wide": rng.uniform(1.3, 3.2), "single": 1.0, "loops": rng.uniform(1.4, 2.2)}[kind]
    wide = nice(ratio * d, shop.inch) if kind == "wide" else ratio * d
    wide = max(wide, 1.15 * d) if kind == "wide" else wide
    long, gap = (
        nice(rng.uniform(8, 30) * d, shop.inch),
        nice(wide + rng.uniform(2, 8) * d, shop.inch),
    )
    for k in range(rng.integers(2, 7)):
        y = k * gap
        for top, z in zip([0.0, *heights], heights, strict=False):
            if kind == "loops":
                trochoid(cam, y, long, wide, top, z)
                continue
            offsets = np.array([0.0]) if kind == "single" else dado_lines(wide - d, d)
            for row, off in enumerate(offsets):
                line = np.array([(0.0, y + off), (long, y + off)])
                line = line[::-1] if row % 2 else line
                if row == 0:
                    enter_line(cam, line, top, z)
                cam.cut(line, z)
    return cam


def dado_lines(room: float, diameter: float) -> Array:
    """Places of the passes across a dado: evenly, no further apart than 0.6 of the diameter."""
    count = math.ceil(room / (0.6 * diameter)) + 1
    return np.linspace(-room / 2, room / 2, max(count, 2))


def trochoid(cam: Cam, y: float, long: float, wide: float, top: float, z: float) -> None:
    """Cut a slot with loops that go on by a small share of the diameter."""
    d = cam.shop.bit.diameter
    reach, step = (wide - d) / 2, d * float(cam.shop.rng.choice((0.1, 0.15, 0.2)))
    turn = np.linspace(0, 2 * math.pi, 17)[1:]
    helix(cam, np.array([0.0, y]), reach, top, z)
    for k in range(1, min(int(long / step), 60) + 1):
        cam.cut(np.array([[k * step + reach, y]]), z)
        cam.cut(np.column_stack((k * step + reach * np.cos(turn), y + reach * np.sin(turn))), z)


# ---------------------------------------------------------------- reliefs


@dataclass(frozen=True)
class Field:
    """Heights at the nodes of a grid that begins at 0, 0; [row of y, column of x], mm."""

    heights: Array
    cell: float

    @property
    def size(self) -> tuple[float, float]:
        return (self.heights.shape[1] - 1) * self.cell, (self.heights.shape[0] - 1) * self.cell

    def at(self, points: Array) -> Array:
        """Interpolate between the nodes."""
        rows, cols = self.heights.shape
        x = np.clip(points[:, 0] / self.cell, 0, cols - 1.0001)
        y = np.clip(points[:, 1] / self.cell, 0, rows - 1.0001)
        i, j = y.astype(int), x.astype(int)
        v, u = y - i, x - j
        h = self.heights
        low = h[i, j] * (1 - u) + h[i, j + 1] * u
        high = h[i + 1, j] * (1 - u) + h[i + 1, j + 1] * u
        between: Array = low * (1 - v) + high * v
        return between


def relief(rng: Rng, wide: float, tall: float, cell: float, detail: float) -> Field:
    """Draw a relief: swellings, hollows, waves, and raised or sunk figures with steep sides.

    `detail` is the size of the smallest things a person puts there.
    """
    x, y = np.meshgrid(np.arange(0, wide + cell, cell), np.arange(0, tall + cell, cell))
    depth = float(np.clip(0.09 * wide * rng.uniform(0.6, 1.6), 1.5, 14))
    h = np.zeros_like(x)
    for _ in range(rng.integers(5, 16)):
        spread = math.exp(rng.uniform(math.log(detail), math.log(max(0.3 * wide, 2 * detail))))
        at = rng.uniform(0, wide), rng.uniform(0, tall)
        stretch = rng.uniform(0.6, 1.5)
        far = ((x - at[0]) / spread) ** 2 + ((y - at[1]) / (spread * stretch)) ** 2
        high = rng.normal(0.3, 0.6) * min(1.0, spread / (0.1 * wide))
        h += high * (np.exp(-far) if rng.random() < 0.6 else np.sqrt(np.clip(1 - far, 0, 1)))
    if rng.random() < 0.35:
        wave = 2 * math.pi / (detail * rng.uniform(2.5, 6))
        turn = rng.uniform(0, math.pi)
        h += 0.12 * np.sin(wave * (x * math.cos(turn) + y * math.sin(turn)))
    if rng.random() < 0.55:
        for _ in range(rng.integers(1, 4)):
            figure = draw(rng, wide * rng.uniform(0.2, 0.45), 0.0)
            figure = affinity.translate(figure, rng.uniform(0, wide), rng.uniform(0, tall))
            inside = shapely.contains_xy(figure, x, y).astype(float)
            h += rng.choice((-0.35, 0.4, 0.6)) * gaussian_filter(inside, 0.7)
    if rng.random() < 0.3:  # on a flat ground
        h = np.maximum(h, np.quantile(h, rng.uniform(0.2, 0.5)))
    h = (h - h.max()) / max(float(np.ptp(h)), 1e-9) * depth
    return Field(h, cell)


def tip_field(model: Field, bit: Bit, allowance: float = 0.0) -> Field:
    """Give the lowest height of the bit's tip over each node that spares the model."""
    reach = bit.radius + allowance
    if bit.shape == "taper-ball":
        rho, tan = bit.tip_radius or 0.0, math.tan(bit.angle or 0.1)
        reach = min(rho + float(np.ptp(model.heights)) * tan, reach)
    n = int(reach / model.cell)
    rows, cols = model.heights.shape
    padded = np.full((rows + 2 * n, cols + 2 * n), -np.inf)
    padded[n : n + rows, n : n + cols] = model.heights
    best = np.full((rows, cols), -np.inf)
    for i in range(-n, n + 1):
        for j in range(-n, n + 1):
            r = model.cell * math.hypot(i, j)
            if r <= reach:
                moved = padded[n + i : n + i + rows, n + j : n + j + cols]
                np.maximum(best, moved - rise(bit, r, allowance), out=best)
    return Field(best + allowance, model.cell)


def rise(bit: Bit, r: float, allowance: float) -> float:
    """Height of the bit's profile above its tip at a radius."""
    if bit.shape == "flat":
        return 0.0
    rho = (bit.tip_radius or 0.0) if bit.shape == "taper-ball" else bit.radius
    rho += allowance
    half = bit.angle or 0.0
    edge = rho * math.cos(half) if bit.shape == "taper-ball" else rho
    if r <= edge:
        return rho - math.sqrt(max(rho * rho - r * r, 0))
    return r / math.tan(half) + rho * (1 - 1 / math.sin(half))


def thinned(path: Array, tolerance: float) -> Array:
    """Leave out points of a path that lie on the chords of the others (N x 3)."""
    keep = np.zeros(len(path), dtype=bool)
    keep[[0, -1]] = True
    stack = [(0, len(path) - 1)]
    while stack:
        a, b = stack.pop()
        if b - a < 2:
            continue
        chord = path[b] - path[a]
        arm = path[a + 1 : b] - path[a]
        share = np.clip(arm @ chord / max(float(chord @ chord), 1e-12), 0, 1)
        off = ((arm - share[:, None] * chord) ** 2).sum(axis=1)
        k = int(off.argmax())
        if off[k] > tolerance**2:
            keep[a + 1 + k] = True
            stack += [(a, a + 1 + k), (a + 1 + k, b)]
    return path[keep]


def straight_thinned(path: Array, tolerance: float) -> Array:
    """The same for a path that is straight in the plane: quick, by its length and height."""
    u = np.hypot(*(path[:, :2] - path[0, :2]).T)
    line = LineString(np.column_stack((u, path[:, 2]))).simplify(tolerance)
    kept = shapely.get_coordinates(line)
    share = (kept[:, 0] / max(u[-1], 1e-9))[:, None]
    flat_part = path[0, :2] + share * (path[-1, :2] - path[0, :2])
    return np.column_stack((flat_part, kept[:, 1]))


def finish_step(shop: Shop) -> float:
    """Stepover of finishing: by the height of the ridges, or as a share of the ball."""
    rng, bit = shop.rng, shop.bit
    radius = (bit.tip_radius or 0.0) if bit.shape == "taper-ball" else bit.radius
    if rng.random() < 0.45:
        ridge = float(rng.choice((0.005, 0.01, 0.02, 0.03))) * (1 if radius > 0.8 else 0.8)
        return 2 * math.sqrt(2 * radius * ridge - ridge**2)
    return 2 * radius * float(rng.choice((0.08, 0.1, 0.12, 0.15, 0.2)))


def relief_model(shop: Shop, step: float, cell: float, lines: float) -> Field:
    """Draw a relief whose size suits the bit, and that a person would wait for."""
    rng, bit = shop.rng, shop.bit
    tip = 2 * bit.tip_radius if bit.tip_radius else bit.diameter
    wide = tip * math.exp(rng.uniform(math.log(10), math.log(35)))
    wide = float(np.clip(wide, 15, min(lines * step, 290 * cell, 300)))
    return relief(rng, wide, wide * rng.uniform(0.55, 1.0), cell, tip * rng.uniform(0.6, 1.5))


def relief_finish(shop: Shop) -> Cam:
    """A relief finished with a ball: to and fro, one way, slanting, or round a middle."""
    rng, cam, bit = shop.rng, Cam(shop), shop.bit
    radius = bit.tip_radius or bit.radius
    step, cell = finish_step(shop), radius / (5 if bit.tip_radius else 7)
    model = relief_model(shop, step, cell, 220)
    tips = tip_field(model, bit)
    tolerance = float(rng.choice((0.005, 0.01, 0.02)))
    wide, tall = model.size
    ways = ("lines", "one-way", "spiral", "rounds", "levels")
    way = str(rng.choice(ways, p=(0.66, 0.12, 0.09, 0.09, 0.04)))
    if way == "levels":
        return water_lines(cam, tips, step * float(rng.choice((1.0, 1.5))), tolerance)
    shop.arcs = False
    if way in ("spiral", "rounds"):
        middle, far = np.array([wide / 2, tall / 2]), min(wide, tall) / 2
        for path in round_paths(way, middle, far, step, cell):
            solid = thinned(np.column_stack((path, tips.at(path))), tolerance)
            if not cam.steps:
                cam.jump(solid[0])
                cam.down(solid[0, 2])
            cam.cut(solid)
        return cam
    angle = float(rng.choice((0, 0, 90, 90, 45, -45, 30)))
    area: BaseGeometry = box(0, 0, wide, tall)
    if rng.random() < 0.25:
        area = affinity.scale(Point(wide / 2, tall / 2).buffer(0.5, 32), wide, tall)
    for k, row in enumerate(scan(area, step, angle, rng.random() < 0.5)):
        piece = row[0][::-1] if k % 2 and way == "lines" else row[0]
        length = float(np.hypot(*(piece[-1] - piece[0])))
        share = np.linspace(0, 1, max(int(length / (0.8 * cell)), 2))[:, None]
        path = piece[0] + share * (piece[-1] - piece[0])
        solid = straight_thinned(np.column_stack((path, tips.at(path))), tolerance)
        if k == 0 or way == "one-way":
            cam.jump(solid[0])
            cam.down(solid[0, 2])
        cam.cut(solid)
    return cam


def water_lines(cam: Cam, tips: Field, drop: float, tolerance: float) -> Cam:
    """Finish steep sides with lines of equal height, from above down."""
    frame = box(0, 0, *tips.size).exterior.buffer(1e-6)
    for z in np.arange(-drop, float(tips.heights.min()), -drop).tolist():
        lines = shapely.line_merge(level_region(tips, z).boundary.difference(frame))
        for line in getattr(lines, "geoms", [lines]):
            path = thinned(shapely.get_coordinates(line), tolerance)
            if line.length < 1.0:
                continue
            cam.jump(path[0], z)
            cam.down(z)
            cam.cut(path[1:], z)
    return cam


def level_region(field: Field, z: float) -> BaseGeometry:
    """The places where a field is below a height, bounded by its line of that height."""
    h = np.pad(field.heights, 1, constant_values=z + 1.0) - z
    h[h == 0] = 1e-9
    rows, cols = h.shape
    node = np.arange(rows * cols).reshape(rows, cols)
    a, b, c, d = node[:-1, :-1], node[:-1, 1:], node[1:, :-1], node[1:, 1:]
    corners = np.vstack([np.stack(k, axis=-1).reshape(-1, 3) for k in ((a, b, d), (a, c, d))])
    flat_h = h.ravel()
    high = flat_h[corners] > 0
    corners = corners[(high.any(axis=1)) & ~high.all(axis=1)]
    ends = []
    for i, j in ((0, 1), (1, 2), (0, 2)):  # numbers of nodes rise, so both sides agree on a place
        p, q = corners[:, i], corners[:, j]
        cut = (flat_h[p] > 0) != (flat_h[q] > 0)
        share = np.where(cut, flat_h[p] / np.where(cut, flat_h[p] - flat_h[q], 1.0), np.nan)
        x = p % cols + share * (q % cols - p % cols)
        y = p // cols + share * (q // cols - p // cols)
        ends.append(np.column_stack((x - 1, y - 1)) * field.cell)
    three = np.stack(ends, axis=1)
    segments = three[~np.isnan(three[:, :, 0])].reshape(-1, 2, 2)
    if len(segments) == 0:
        return Polygon()
    faces = shapely.polygonize(shapely.linestrings(segments)).geoms
    places = np.array([f.representative_point().coords[0] for f in faces]).reshape(-1, 2)
    below_z = field.at(places) < z
    area = unary_union([f for f, low in zip(faces, below_z, strict=True) if low])
    return area.intersection(box(0, 0, *field.size))


def round_paths(way: str, middle: Array, far: float, step: float, cell: float) -> list[Array]:
    """A spiral, or circles, about a middle."""
    count = max(int(far / step), 2)
    if way == "spiral":
        share = np.sqrt(np.linspace(0, 1, int(math.pi * far * far / step / cell)))
        turn, radius = share * count * 2 * math.pi, share * far
        return [middle + np.column_stack((radius * np.cos(turn), radius * np.sin(turn)))]
    paths = []
    for k in range(1, count + 1):
        reach = far * k / count
        turn = np.linspace(0, 2 * math.pi, max(int(2 * math.pi * reach / cell), 12))
        paths.append(middle + reach * np.column_stack((np.cos(turn), np.sin(turn))))
    return paths


def relief_rough(shop: Shop) -> Cam:
    """A relief roughed with a flat bit, level by level or with lines that follow it from above."""
    rng, d = shop.rng, shop.bit.diameter
    if rng.random() < 0.3:
        return plateaus(shop)
    cam, cell = Cam(shop), d / 14
    step = d * float(rng.choice((0.35, 0.4, 0.45, 0.5, 0.6)))
    model = relief_model(shop, step, cell, 60)
    deep = float(np.clip(np.ptp(model.heights), 0.6 * d, 3 * d))
    model = Field(model.heights * deep / max(float(np.ptp(model.heights)), 1e-9), cell)
    allowance = float(rng.choice((0.3, 0.5, 0.5, 0.8, 1.0)))
    tips = tip_field(model, shop.bit, allowance)
    heights = shop.levels(-float(tips.heights.min()))
    along_y, follows = bool(rng.random() < 0.4), bool(rng.random() < 0.4)
    if rng.random() < 0.45:
        for top, z in zip([0.0, *heights], heights, strict=False):
            region = level_region(tips, z).buffer(0.0).simplify(0.03)
            clear_offset(cam, region, step, top, z, True)
        return cam
    for top, z in zip([0.0, *heights], heights, strict=False):
        for k, line in enumerate(rough_lines(model, step, along_y, cell)):
            tip = tips.at(line)
            pieces = below(line, tip, z, top, follows)
            for piece in pieces[::-1] if k % 2 else pieces:
                rough_piece(cam, tips, piece[::-1] if k % 2 else piece, top, step)
    return cam


def rough_lines(model: Field, step: float, along_y: bool, cell: float) -> list[Array]:
    """Parallel lines over the whole of a model, as points."""
    wide, tall = model.size
    long, across = (tall, wide) if along_y else (wide, tall)
    u = np.linspace(0, long, 4 * int(long / cell) + 1)
    lines = []
    for v in np.arange(0, across + 0.2 * step, step):
        line = np.column_stack((u, np.full(len(u), min(v, across))))
        lines.append(line[:, ::-1] if along_y else line)
    return lines


def below(line: Array, tip: Array, z: float, top: float, follows: bool) -> list[Array]:
    """The pieces of a line where a level is to be cut: flat, or following the model above it."""
    wanted = tip < (top - 0.05 if follows else z + 1e-9)
    edges = np.flatnonzero(np.diff(np.r_[0, wanted.astype(int), 0]))
    pieces = []
    for a, b in zip(edges[::2], edges[1::2], strict=True):
        if b - a > 8:
            height = np.maximum(tip[a:b], z)
            solid = np.column_stack((line[a:b], height))
            pieces.append(straight_thinned(solid, 0.02))
    return pieces


def rough_piece(cam: Cam, tips: Field, piece: Array, top: float, step: float) -> None:
    """Go to a piece straight where nothing is in the way, else from above; and cut it."""
    away = float(np.hypot(*(piece[0, :2] - cam.at[:2])))
    high = max(float(cam.at[2]), float(piece[0, 2]))
    share = np.linspace(0, 1, 12)[:, None]
    between = tips.at(cam.at[:2] + share * (piece[0, :2] - cam.at[:2])).max()
    if cam.steps and away < 2 * step and between <= high + 1e-6 and cam.at[2] <= 0:
        cam.cut(piece[:1])
    elif cam.shop.entry == "plunge" or np.ptp(piece[:, 2]) > 1e-6:
        cam.jump(piece[0], top)
        cam.down(float(piece[0, 2]))
    else:
        enter_line(cam, piece[:, :2], top, float(piece[0, 2]))
    cam.cut(piece[1:])


def plateaus(shop: Shop) -> Cam:
    """Raised figures on a sunk ground: the ground roughed with rings, with steps of height."""
    rng, cam, d = shop.rng, Cam(shop), shop.bit.diameter
    size = nice(typical_size(rng, d, 8, 20), shop.inch)
    frame = box(0, 0, size, size * rng.uniform(0.6, 1.0))
    allowance = float(rng.choice((0.0, 0.3, 0.5)))
    depth = nice(rng.uniform(0.6, 2.2) * d, shop.inch)
    figures = []
    for _ in range(rng.integers(1, 5)):
        figure = draw(rng, size * rng.uniform(0.2, 0.45), 0.0)
        spot = rng.uniform(0.15, 0.85, 2) * frame.bounds[2:]
        at = figure.centroid
        figure = affinity.translate(figure, spot[0] - at.x, spot[1] - at.y)
        figures.append((figure, -depth * float(rng.choice((0.0, 0.0, 0.33, 0.6)))))
    heights, share = shop.levels(depth), float(rng.choice((0.4, 0.45, 0.5)))
    for top, z in zip([0.0, *heights], heights, strict=False):
        above = unary_union([f for f, level in figures if level > z + 1e-6])
        region = shop.offset(frame, -(d / 2 + allowance)).difference(
            shop.offset(above, d / 2 + allowance)
        )
        clear_offset(cam, region.simplify(0.003), share * d, top, z, False)
    return cam


# ---------------------------------------------------------------- vees


def medial_lines(shape: Polygon, spacing: float) -> list[Array]:
    """Lines in the middle of a shape, with the distance to its edge as third coordinate."""
    outline = shapely.segmentize(shape, spacing)
    samples = np.unique(np.round(shapely.get_coordinates(outline), 7), axis=0)
    found = Voronoi(samples)
    ridges = np.array(found.ridge_vertices)
    ridges, pairs = ridges[(ridges >= 0).all(axis=1)], found.ridge_points[(ridges >= 0).all(axis=1)]
    inside = shapely.contains_xy(shape, found.vertices[:, 0], found.vertices[:, 1])
    both = inside[ridges].all(axis=1)
    ridges, pairs = ridges[both], pairs[both]
    a, b = samples[pairs[:, 0]], samples[pairs[:, 1]]
    for side in (0, 1):
        place = found.vertices[ridges[:, side]]
        arms = a - place, b - place
        cosine = (arms[0] * arms[1]).sum(axis=1) / np.hypot(*arms[0].T) / np.hypot(*arms[1].T)
        wide = cosine < math.cos(math.radians(42))
        ridges, pairs, a, b = ridges[wide], pairs[wide], a[wide], b[wide]
    used = np.unique(ridges)
    edge = shapely.distance(shape.boundary, shapely.points(found.vertices[used]))
    far = dict(zip(used.tolist(), edge.tolist(), strict=True))
    corners = sharp_corners(shape)
    chains = []
    for chain in chained(ridges):
        path = np.array([(*found.vertices[k], far[k]) for k in chain])
        chains.append(to_corners(path, corners, spacing))
    return chains


def sharp_corners(shape: Polygon) -> Array:
    """Corners of a shape that point outward by 40 degrees and more."""
    corners = []
    for line in (shape.exterior, *shape.interiors):
        points = ring(line, line is shape.exterior)[:-1]
        a, b = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
        turn = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1))
        corners.append(points[turn > math.radians(40)])
    return np.vstack(corners)


def to_corners(path: Array, corners: Array, spacing: float) -> Array:
    """Lead the ends of a middle line into the corners they stop short of."""
    for end in (0, -1):
        if len(corners) == 0:
            break
        away = np.hypot(*(corners - path[end, :2]).T)
        if away.min() < max(2.2 * spacing, 1.6 * path[end, 2]) and path[end, 2] < 1.5 * spacing:
            tip = np.array([*corners[away.argmin()], 0.0])
            path = np.vstack((tip, path)) if end == 0 else np.vstack((path, tip))
    return path


def chained(ridges: Array) -> list[list[int]]:
    """Join edges to chains that run from one end or fork to the next."""
    near: dict[int, list[int]] = {}
    for a, b in ridges.tolist():
        near.setdefault(a, []).append(b)
        near.setdefault(b, []).append(a)
    seen: set[tuple[int, int]] = set()
    chains = []
    starts = [k for k in near if len(near[k]) != 2] + list(near)
    for start in starts:
        for step in near[start]:
            if (start, step) in seen:
                continue
            chain = [start, step]
            seen |= {(start, step), (step, start)}
            while len(near[chain[-1]]) == 2:
                on = [k for k in near[chain[-1]] if (chain[-1], k) not in seen]
                if not on:
                    break
                seen |= {(chain[-1], on[0]), (on[0], chain[-1])}
                chain.append(on[0])
            chains.append(chain)
    return chains


def ornament(rng: Rng, size: float, wide: float) -> BaseGeometry:
    """Leaves, stars, zigzags and frames."""
    kind = rng.integers(5)
    if kind == 0:  # leaves about a middle
        reach = size / 2
        bulge = (reach**2 / 4 + wide**2 / 4) / wide
        leaf = Point(0, bulge - wide / 2).buffer(bulge, 48)
        leaf = leaf.intersection(Point(0, wide / 2 - bulge).buffer(bulge, 48))
        leaf = affinity.translate(leaf, reach * 0.65, 0)
        count = int(rng.integers(4, 9))
        turned = [affinity.rotate(leaf, 360 * k / count, origin=(0, 0)) for k in range(count)]
        return MultiPolygon([p for t in turned for p in polygons(t)])
    if kind == 1:
        ray = star(rng, size)
        inner = ray.buffer(-wide, join_style="mitre")
        return ray.difference(inner)
    if kind == 2:
        points = [(k * size / 8, (k % 2) * size / 5) for k in range(9)]
        return LineString(points).buffer(wide / 2, cap_style="flat", join_style="mitre")
    if kind == 3:
        outer = box(0, 0, size, size * rng.uniform(0.5, 1))
        return outer.difference(outer.buffer(-wide, join_style="mitre"))
    wave = np.linspace(0, 4 * math.pi, 81)
    line = np.column_stack((wave * size / 12.5, np.sin(wave) * size / 7))
    swell = wide / 2 * (0.15 + np.abs(np.sin(wave / 4)))
    side = np.gradient(line, axis=0)
    side = np.column_stack((-side[:, 1], side[:, 0])) / np.hypot(*side.T)[:, None]
    return Polygon(
        np.vstack((line + side * swell[:, None], (line - side * swell[:, None])[::-1]))
    ).buffer(0)


def carving_design(shop: Shop) -> BaseGeometry:
    """Letters or ornaments whose strokes the vee can carve."""
    rng, bit = shop.rng, shop.bit
    tan = math.tan((bit.angle or 1.0) / 2)
    widest = min(0.7 * bit.diameter, 2 * 7.0 * tan, 9.0)
    stroke = widest * math.exp(rng.uniform(math.log(0.3), 0))
    if rng.random() < 0.65:
        height = stroke * rng.uniform(4.0, 8.0)
        return text_shape(rng, height, stroke, int(rng.integers(2, 9)))
    count = int(rng.integers(1, 4))
    size = stroke * rng.uniform(7, 14)
    shapes = [ornament(rng, size, stroke * rng.uniform(0.7, 1.0)) for _ in range(count)]
    return MultiPolygon([p for s in lay_out(rng, shapes, stroke) for p in polygons(s)])


def vee_carve(shop: Shop) -> Cam:
    """Letters and ornaments carved along their middle lines, deeper where they are wider."""
    rng, cam, bit = shop.rng, Cam(shop), shop.bit
    tan = math.tan((bit.angle or 1.0) / 2)
    design = carving_design(shop)
    widest = 0.95 * bit.radius
    flat_depth = math.inf
    if rng.random() < 0.2:  # wide places stop at a floor, which another bit clears
        flat_depth = nice(rng.uniform(0.35, 0.8) * widest * 0.5 / tan, shop.inch, False)
    spacing = float(np.clip(math.sqrt(design.area) / 60, 0.25, 1.0)) * float(rng.choice((0.6, 1.0)))
    todo: list[Array] = []
    floors: list[Array] = []
    for part in polygons(design):
        limit = min(flat_depth * tan + bit.tip / 2, widest)
        for path in medial_lines(part, spacing):
            solid = path.copy()
            solid[:, 2] = -np.maximum((path[:, 2] - bit.tip / 2) / tan, 0)
            todo += [thinned(p, 0.01) for p in shallower(solid, path[:, 2], limit)]
        for inner in polygons(part.buffer(-limit, quad_segs=8).simplify(0.003)):
            for line in (inner.exterior, *inner.interiors):
                points = ring(line, shop.climb)
                depth = (limit - bit.tip / 2) / tan
                floors.append(np.column_stack((points, np.full(len(points), -depth))))
    deepest = -min([0.0, *(float(p[:, 2].min()) for p in todo + floors)])
    passes = [-deepest]
    if deepest > 3 and rng.random() < 0.5:
        step = float(rng.choice((2.0, 2.5, 3.0)))
        passes = [max(-step * k, -deepest) for k in range(1, math.ceil(deepest / step) + 1)]
    for z in passes:
        carve(cam, [np.column_stack((p[:, :2], np.maximum(p[:, 2], z))) for p in todo + floors])
    return cam


def shallower(solid: Array, far: Array, limit: float) -> list[Array]:
    """The pieces of a middle line that are no further from the edge than a limit."""
    good = far <= limit + 1e-6
    edges = np.flatnonzero(np.diff(np.r_[0, good.astype(int), 0]))
    return [solid[a:b] for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > 1]


def carve(cam: Cam, paths: list[Array]) -> None:
    """Follow middle lines, the nearest end next; go on without lifting where lines meet."""
    left = list(paths)
    while left:
        at = cam.at[:2]
        ends = np.array([(*p[0, :2], *p[-1, :2]) for p in left])
        away = np.hypot(ends[:, [0, 2]] - at[0], ends[:, [1, 3]] - at[1])
        k, side = divmod(int(away.argmin()), 2)
        path = left.pop(k)
        path = path[::-1] if side else path
        if away[k, side] > 0.05 or not cam.steps or cam.at[2] > 0:
            cam.jump(path[0], 0.0)
            cam.down(float(path[0, 2]))
        cam.cut(path)


def chamfer(shop: Shop) -> Cam:
    """The upper edges of parts and openings broken with a vee, wide ones in several passes."""
    rng, cam, bit = shop.rng, Cam(shop), shop.bit
    tan = math.tan((bit.angle or 1.0) / 2)
    wide = nice(rng.uniform(0.5, 3.0), shop.inch, False)
    below_edge = float(rng.choice((0.0, 0.2, 0.5, 0.8)))
    wide = min(wide, bit.radius * 0.9 - below_edge * tan)
    count = max(1, math.ceil(wide / rng.uniform(0.8, 1.5)))
    shapes = [
        draw(rng, nice(rng.uniform(25, 120), shop.inch), 0.0) for _ in range(rng.integers(1, 5))
    ]
    for shape in lay_out(rng, shapes, 20):
        for k in range(1, count + 1):
            out = below_edge * tan
            z = -(wide * k / count / tan + below_edge)
            for part in polygons(shop.offset(shape, out).simplify(0.002)):
                points = ring(part.exterior, not shop.climb)
                cam.jump(points[0], 0.0)
                cam.down(z)
                cam.cut(points[1:], z)
    return cam


def engrave(shop: Shop) -> Cam:
    """Thin lettering along its lines at one depth, or figures filled with hatching."""
    rng, cam, bit = shop.rng, Cam(shop), shop.bit
    if bit.shape == "vee":
        depth = float(rng.choice((0.15, 0.2, 0.3, 0.4)))
        wide = 2 * depth * math.tan((bit.angle or 1.0) / 2) + bit.tip
    else:
        radius = bit.tip_radius or bit.radius
        depth = float(rng.choice((0.2, 0.3, 0.5)))
        wide = 2 * math.sqrt(2 * radius * depth - depth**2)
    if rng.random() < 0.4:
        height = wide * rng.uniform(20, 50)
        for line in text_lines(rng, height, int(rng.integers(4, 14))):
            points = shapely.get_coordinates(line)
            cam.jump(points[0], 0.0)
            cam.down(-depth)
            cam.cut(points[1:], -depth)
        return cam
    shop.entry = "plunge"
    shape = text_shape(
        rng, wide * rng.uniform(25, 50), wide * rng.uniform(4, 9), int(rng.integers(2, 6))
    )
    region = shape.buffer(-wide / 2)
    clear_zigzag(cam, region, wide * float(rng.choice((0.4, 0.5, 0.6))), 45.0, 0.0, -depth)
    finish_walls(cam, region, [-depth])
    return cam


# ---------------------------------------------------------------- one program

# Family, its share, its strategy.
FAMILIES: tuple[tuple[str, float, Callable[[Shop], Cam]], ...] = (
    ("pocket-offset", 0.13, pocket_offset),
    ("pocket-zigzag", 0.09, pocket_zigzag),
    ("contour", 0.16, contour),
    ("relief-finish", 0.17, relief_finish),
    ("relief-rough", 0.09, relief_rough),
    ("vee-carve", 0.15, vee_carve),
    ("facing", 0.05, facing),
    ("bore", 0.05, bore),
    ("drilling", 0.02, drilling),
    ("slots", 0.04, slots),
    ("chamfer", 0.025, chamfer),
    ("engrave", 0.015, engrave),
    ("rest", 0.01, rest_corners),
)


def liking(family: str, bit: Bit) -> float:
    """How likely a person takes a bit for a family of work; 0 never."""
    if family == "drilling":
        return float(bit.shape == "drill")
    if family == "relief-finish":
        return {"ball": 1.0, "taper-ball": 1.2}.get(bit.shape, 0.0)
    if family == "vee-carve":
        return float(bit.shape == "vee")
    if family == "chamfer":
        return 3.0 * (math.degrees(bit.angle or 0) == 90) if bit.shape == "vee" else 0.0
    if family == "engrave":
        return {"vee": 1.0, "taper-ball": 0.7, "ball": 0.2}.get(bit.shape, 0.0)
    if bit.shape != "flat":
        return 0.0
    if family == "facing":
        return 6.0 if bit.diameter > 20 else (1.0 if bit.diameter > 7.5 else 0.0)
    if bit.diameter > 20:
        return 0.0
    return 0.7 if family == "relief-rough" and bit.diameter < 2.5 else 1.0


def make(seed: int) -> Made:
    """Make the program of a seed."""
    rng = np.random.default_rng([20121212, seed])
    shares = np.array([f[1] for f in FAMILIES])
    family, _, strategy = FAMILIES[rng.choice(len(FAMILIES), p=shares / shares.sum())]
    rack = SMALL if family == "drilling" else RACKS[rng.integers(len(RACKS))]
    likes = np.array([liking(family, b) for b in rack])
    bit = rack[rng.choice(len(rack), p=likes / likes.sum())]
    inch = bool(rng.random() < (0.8 if rack is SIGNS else 0.08))
    for attempt in range(1, 50):
        rng = np.random.default_rng([20121212, seed, attempt])
        cam = strategy(Shop(rng, bit, inch, family))
        if 45 <= len(cam.steps) <= 20000:  # else drawn again: too little or too much work
            break
    words = Words(choose_dialect(rng, inch))
    order = rng.permutation(len(rack))
    text = words.program(cam, rng, choose_zero(cam, rng))
    return Made(text, tuple(rack[i] for i in order), bit, family)


def choose_zero(cam: Cam, rng: Rng) -> Array:
    """Say where the program's zero lies: how far all the work is moved."""
    points = np.array([s.to for s in cam.steps])
    shift = np.zeros(3)
    if rng.random() < 0.4:  # in the middle of the work
        shift[:2] = -(points.min(axis=0) + points.max(axis=0))[:2] / 2
    elif rng.random() < 0.7:  # at a corner of the blank
        shift[:2] = np.round(rng.uniform(5, 40, 2) - points.min(axis=0)[:2])
    if rng.random() < 0.1:  # on the bed
        shift[2] = math.ceil(max(-float(points[:, 2].min()), 3) / 3) * 3
    return shift
