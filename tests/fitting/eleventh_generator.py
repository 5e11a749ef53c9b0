"""Eleventh generator: ordinary jobs of ordinary toolpath software, each made for a known bit.

Written without knowledge of the models and of the other generators. First score, with the models
frozen (seeds 0 to 299): first 0.773, first two 0.840, where it says 0.95 or more right in 0.98. Its
carvings with a vee were looked at then: evidence that circles widen along a groove spoke for other
shapes where it fitted no vee. Chamfers, balls on lines and limited depths were looked at later.

`make(seed)` gives a program, a rack of eight bits and the bit of the rack the program was made
for. That bit decides how far a path keeps from its wall, the arcs around corners, the distance of
neighbouring passes, the depth of a pass, the depth of a carving of a given width, feed and rpm.
Work zero is the blank's top in every program. Shares, chips per tooth and habits are common
practice, no source.

Nothing in a program's words tells the bit. Dimensions of designs are mostly round numbers in the
program's unit, as people draw them; some designs are free curves.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np
import shapely
from manifold3d import CrossSection, FillRule, JoinType
from scipy import ndimage
from scipy.spatial import Voronoi
from shapely import LineString, MultiPolygon, Point, Polygon, affinity, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from dryrun.job.model import Bit

Array = np.ndarray
INCH = 25.4


@dataclass(frozen=True)
class Made:
    """A program, the rack, the true bit and the kind of program."""

    text: bytes
    rack: tuple[Bit, ...]
    bit: Bit
    family: str


# ---------------------------------------------------------------------------------------------
# Racks
# ---------------------------------------------------------------------------------------------


def flat(d: float) -> Bit:
    return Bit(f"flat {d:g}", "flat", d, flutes=2, flute_length=round(min(4 * d, 20 + d), 1))


def ball(d: float) -> Bit:
    return Bit(f"ball {d:g}", "ball", d, flutes=2, flute_length=round(min(4 * d, 20 + d), 1))


def vee(degrees: float, d: float, tip: float = 0.0) -> Bit:
    name = f"vee {degrees:g}" + (f" tip {tip:g}" if tip else "")
    return Bit(name, "vee", d, angle=math.radians(degrees), tip=tip, flutes=2)


def draw_rack(rng: np.random.Generator, inch: bool) -> tuple[Bit, ...]:
    """Draw one of the racks a small shop owns; eight bits, in any order."""
    pick = rng.choice
    if inch:
        vees = [vee(60, float(pick([6.35, 12.7]))), vee(90, float(pick([12.7, 19.05])))]
        bits = [flat(3.175), flat(6.35), flat(12.7), ball(3.175), ball(6.35), *vees]
        bits.append([flat(9.525), flat(1.5875), ball(12.7)][int(rng.integers(3))])
    else:
        small = float(pick([3.0, 3.175]))
        vees = [vee(60, float(pick([6.0, 12.0, 12.7]))), vee(90, float(pick([10.0, 12.0, 12.7])))]
        bits = [flat(small), flat(6.0), flat(12.0), ball(float(pick([3.0, 3.175]))), *vees]
        if rng.random() < 0.8:
            bits += [ball(6.0), flat(float(pick([8.0, 8.0, 8.0, 6.35, 10.0])))]
        else:  # a carver's rack
            taper = Bit(
                "taper ball", "taper-ball", 6.0, angle=math.radians(5.0), tip_radius=0.5, flutes=2
            )
            bits += [taper, vee(30, 3.175, tip=0.1)] if rng.random() < 0.5 else [taper, ball(6.0)]
    order = rng.permutation(len(bits))
    return tuple(bits[i] for i in order)


# ---------------------------------------------------------------------------------------------
# Writing
# ---------------------------------------------------------------------------------------------


class Writer:
    """Writes moves in mm as words of a program, in one of the usual styles."""

    def __init__(self, rng: np.random.Generator, inch: bool) -> None:
        self.inch = inch
        self.unit = INCH if inch else 1.0
        self.decimals = int(rng.choice([4, 4, 5])) if inch else int(rng.choice([3, 3, 3, 4]))
        self.strip = bool(rng.random() < 0.5)
        self.modal = bool(rng.random() < 0.6)
        self.gap = " " if rng.random() < 0.75 else ""
        self.padded = bool(rng.random() < 0.4)
        self.numbered = bool(rng.random() < 0.2)
        self.arcs = bool(rng.random() < 0.65)
        self.comments = bool(rng.random() < 0.5)
        self.lines: list[str] = []
        self.at: list[float] = [math.nan, math.nan, math.nan]
        self.said: dict[str, str] = {}

    def number(self, value: float) -> str:
        text = f"{value:.{self.decimals}f}"
        if float(text) == 0:
            text = text.lstrip("-")
        if self.strip:
            text = text.rstrip("0").rstrip(".")
        return text

    def put(self, *words: str) -> None:
        number = [f"N{10 * (len(self.lines) + 1)}"] if self.numbered else []
        self.lines.append(self.gap.join([*number, *words]))

    def comment(self, text: str) -> None:
        if self.comments:
            self.lines.append(f"({text})")

    def move(
        self,
        code: int,
        target: tuple[float | None, float | None, float | None],
        feed: float | None = None,
        centre: tuple[float, float] | None = None,
    ) -> None:
        words = []
        for axis, (letter, value) in enumerate(zip("XYZ", target, strict=True)):
            if value is None:
                continue
            text = letter + self.number(value / self.unit)
            if self.said.get(letter) != text or (centre is not None and axis < 2):
                words.append(text)
            self.said[letter] = text
            self.at[axis] = float(text[1:]) * self.unit
        if not words:
            return
        if centre is not None:
            words += [a + self.number(c / self.unit) for a, c in zip("IJ", centre, strict=True)]
        if feed is not None:
            text = "F" + (f"{feed / self.unit:.1f}" if self.inch else f"{feed:.0f}")
            if self.said.get("F") != text:
                words.append(text)
                self.said["F"] = text
        name = f"G{code:02d}" if self.padded else f"G{code}"
        if not self.modal or self.said.get("G") != name:
            words.insert(0, name)
        self.said["G"] = name
        self.put(*words)

    def rapid(self, x: float | None = None, y: float | None = None, z: float | None = None) -> None:
        self.move(0, (x, y, z))

    def line(self, x: float | None, y: float | None, z: float | None, feed: float) -> None:
        self.move(1, (x, y, z), feed)

    def arc(self, end: Array, centre: Array, ccw: bool, feed: float, z: float | None) -> None:
        """Write an arc; the centre is moved so that both ends are equally far from it."""
        start, end = np.array(self.at[:2]), np.asarray(end, float)
        chord = end - start
        length = float(np.hypot(*chord))
        if length > 1e-6:
            normal = np.array([-chord[1], chord[0]]) / length
            middle = (start + end) / 2
            centre = middle + normal * float(np.dot(centre - middle, normal))
        i, j = centre - start
        self.move(3 if ccw else 2, (float(end[0]), float(end[1]), z), feed, (float(i), float(j)))


def circle_through(a: Array, b: Array, c: Array) -> tuple[Array, float] | None:
    """Return centre and radius of the circle through three points, None for a straight line."""
    u, v = b - a, c - a
    d = 2 * (u[0] * v[1] - u[1] * v[0])
    if abs(d) < 1e-9:
        return None
    uu, vv = float(u @ u), float(v @ v)
    offset = np.array([v[1] * uu - u[1] * vv, u[0] * vv - v[0] * uu]) / d
    return a + offset, float(np.hypot(*offset))


def on_arc(p: Array) -> tuple[Array, bool] | None:
    """Return centre and sense of the arc some points lie on; None where they don't."""
    found = circle_through(p[0], p[len(p) // 2], p[-1])
    if found is None or not 0.02 < found[1] < 400:
        return None
    centre, radius = found
    arm = p - centre
    a, b = arm[:-1], arm[1:]
    turns = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(1))
    ccw = bool(turns[0] > 0)
    away = np.abs(np.hypot(arm[:, 0], arm[:, 1]) - radius).max()
    sagitta = radius * (1 - np.cos(np.abs(turns).max() / 2))
    good = away < 0.003 and sagitta < 0.03 and np.abs(turns).max() < 0.3
    if not good or not np.all((turns > 0) == ccw) or np.abs(turns).sum() > 3.15:
        return None
    return centre, ccw


def arc_end(p: Array, i: int) -> tuple[int, Array, bool] | None:
    """Find the last point of an arc that begins at point i: at least four points."""
    best, j = None, i + 3
    while j < len(p):
        found = on_arc(p[i : j + 1])
        if found is None:
            break
        best = (j, *found)
        j += 1
    return best


# ---------------------------------------------------------------------------------------------
# The shop: what is decided once per program
# ---------------------------------------------------------------------------------------------


@dataclass
class Shop:
    """The maker's choices for one program, and the moves every family uses."""

    rng: np.random.Generator
    bit: Bit
    inch: bool
    w: Writer = field(init=False)
    feed: float = field(init=False)
    plunge: float = field(init=False)
    rpm: float = field(init=False)
    safe: float = field(init=False)
    entry: str = field(init=False)

    def __post_init__(self) -> None:
        rng, d = self.rng, self.bit.diameter
        self.w = Writer(rng, self.inch)
        self.unit = self.w.unit
        self.r = d / 2
        fixed = rng.random() < 0.4
        speeds = [18000, 24000, 16000] if fixed else [12000, 14000, 16000, 18000]
        if not fixed and d < 7:
            speeds = [16000, 18000, 20000, 24000]
        self.rpm = float(rng.choice(speeds))
        chip = 0.02 * min(d, 6.5 if self.bit.shape == "vee" else 99) ** 0.75
        chip *= float(rng.lognormal(0.0, 0.35)) * float(rng.choice([0.6, 0.8, 1.0]))
        fastest = 4000 if self.bit.shape == "vee" else float(rng.choice([3000, 6000]))
        self.feed = self.round_feed(float(np.clip(2 * chip * self.rpm, 250, fastest)))
        self.plunge = self.round_feed(self.feed * float(rng.choice([0.25, 0.33, 0.4, 0.5])))
        self.safe = (
            float(rng.choice([0.1, 0.2, 0.25])) * INCH
            if self.inch
            else float(rng.choice([3, 5, 5, 6, 10]))
        )
        self.entry = str(rng.choice(["plunge", "ramp", "ramp", "helix"]))
        self.slope = math.tan(math.radians(float(rng.choice([2, 3, 5, 8, 10]))))

    def round_feed(self, feed: float) -> float:
        step = 5 * INCH if self.inch else float(self.rng.choice([10, 50, 50, 100]))
        return max(step, round(feed / step) * step)

    def nice(self, low: float, high: float) -> float:
        """Draw a length between low and high mm, mostly a round number of the program's unit."""
        value = float(self.rng.uniform(low, high))
        if self.rng.random() < 0.1:
            return value
        steps = [0.5, 0.25, 0.125, 0.0625] if self.inch else [10, 5, 2, 1, 0.5, 0.25]
        fitting = [s * self.unit for s in steps if s * self.unit <= (high - low) * 0.6]
        if not fitting:
            return value
        step = fitting[min(int(self.rng.integers(3)), len(fitting) - 1)]
        return float(np.clip(round(value / step) * step, math.ceil(low / step) * step, high))

    def share(self, low: float, high: float) -> float:
        """Draw a share of the bit's diameter as people type it, mostly in steps of 5 %."""
        value = float(self.rng.uniform(low, high))
        return value if self.rng.random() < 0.15 else round(value * 20) / 20

    def stepover(self, low: float = 0.35, high: float = 0.5) -> float:
        value = self.share(low, high) * self.bit.diameter
        if self.rng.random() < 0.25:  # typed as a length
            step = 0.01 * INCH if self.inch else 0.1
            value = round(value / step) * step
        return value

    def levels(self, depth: float, low: float = 0.3, high: float = 1.0) -> list[float]:
        """Return the heights of the passes down to `depth`."""
        per = float(self.rng.uniform(low, high)) * self.bit.diameter
        step = INCH / 32 if self.inch else 0.5
        per = max(step, round(per / step) * step)
        count = max(1, math.ceil(depth / per - 1e-6))
        if self.rng.random() < 0.5:
            per = depth / count
        return [-min(depth, per * (k + 1)) for k in range(count)]

    def depth(self, low: float, high: float) -> float:
        """Draw a total depth the bit's flutes reach."""
        reach = 0.9 * (self.bit.flute_length or 3 * self.bit.diameter)
        return self.nice(min(low, reach * 0.5), min(high, reach))

    # Moves -----------------------------------------------------------------------------------

    def up(self) -> None:
        self.w.rapid(z=self.safe)

    def over(self, p: Array) -> None:
        """Go to a place at the safe height."""
        if not (self.w.at[2] >= self.safe - 1e-6):
            self.up()
        self.w.rapid(float(p[0]), float(p[1]))

    def path(self, points: Array, feed: float | None = None) -> None:
        """Cut along points at the height the bit is at."""
        p = np.asarray(points, float)[:, :2]
        if not self.w.arcs:
            p = thin(p, 0.004)
        i, feed = 0, feed or self.feed
        while i < len(p) - 1:
            arc = arc_end(p, i) if self.w.arcs else None
            if arc is None:
                i += 1
                self.w.line(float(p[i][0]), float(p[i][1]), None, feed)
            else:
                i, centre, ccw = arc
                self.w.arc(p[i], centre, ccw, feed, None)

    def path3(self, points: Array, feed: float | None = None) -> None:
        for x, y, z in points[1:]:
            self.w.line(float(x), float(y), float(z), feed or self.feed)

    def down(self, points: Array, z: float, top: float, room: BaseGeometry | None = None) -> None:
        """Enter the material at the first of `points`, from `top` down to z."""
        self.over(points[0])
        start = min(top + 1.0, self.safe)
        if start < self.safe:
            self.w.rapid(z=start)
        if self.entry == "helix" and room is not None and self.helix(points[0], z, top, room):
            return
        if self.entry != "plunge":
            self.ramp(points, z, top)
        self.w.line(None, None, z, self.plunge)

    def ramp(self, points: Array, z: float, top: float) -> None:
        """Go down along the path, to and fro."""
        course = LineString(points)
        leg = min(course.length * 0.45, max(1.5 * self.bit.diameter, 8.0))
        if leg < 1.0:
            return
        self.w.line(None, None, top, self.plunge)
        there = np.array(substring(course, 0, leg).simplify(0.005).coords)
        there = np.array(
            [q for k, q in enumerate(there) if k == 0 or math.dist(q, there[k - 1]) > 1e-6]
        )
        count = max(1, math.ceil((top - z) / (2 * leg * self.slope)))
        along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(there, axis=0).T))])
        height, drop = top, (top - z) / (2 * count)
        for k in range(2 * count):
            ordered = there if k % 2 == 0 else there[::-1]
            part = along / along[-1] if k % 2 == 0 else 1 - along[::-1] / along[-1]
            heights = height - drop * part
            self.path3(np.column_stack([ordered, heights]), self.plunge)
            height -= drop

    def helix(self, p: Array, z: float, top: float, room: BaseGeometry) -> bool:
        """Go down on a helix that ends at p; False where there is no room for it."""
        radius = 0.4 * self.bit.diameter
        for turn in np.arange(12) * math.pi / 6:
            centre = np.asarray(p[:2]) + radius * np.array([math.cos(turn), math.sin(turn)])
            if Point(centre).buffer(radius).within(room.buffer(1e-3)):
                self.w.line(None, None, top, self.plunge)
                count = max(1, math.ceil((top - z) / (2 * math.pi * radius * self.slope)))
                self.coil(centre, np.asarray(p[:2], float), top, z, count)
                return True
        return False

    def coil(self, centre: Array, start: Array, top: float, z: float, turns: int) -> None:
        """Cut whole turns about a centre while going down from top to z, from where the bit is."""
        arm = start - centre
        if self.w.arcs:
            for k in range(2 * turns):
                end = centre - arm if k % 2 == 0 else centre + arm
                height = top + (z - top) * (k + 1) / (2 * turns)
                self.w.arc(end, centre, True, self.feed, height)
            return
        count = max(16, int(8 * float(np.hypot(*arm))))
        for k in range(1, count * turns + 1):
            a = 2 * math.pi * k / count
            c, s = math.cos(a), math.sin(a)
            x, y = centre + np.array([c * arm[0] - s * arm[1], s * arm[0] + c * arm[1]])
            self.w.line(float(x), float(y), top + (z - top) * k / (count * turns), self.feed)

    def ring(self, centre: Array, radius: float) -> None:
        """Cut a full circle at the height the bit is at, from the circle's point at +X."""
        start = centre + np.array([radius, 0.0])
        self.w.line(float(start[0]), float(start[1]), None, self.feed)
        self.coil(centre, start, self.w.at[2], self.w.at[2], 1)

    # Header and end --------------------------------------------------------------------------

    def begin(self, title: str) -> None:
        rng, w = self.rng, self.w
        if rng.random() < 0.3:
            w.lines.append("%")
        w.comment(f"{title} {int(rng.integers(1, 60))}")
        w.comment("Zero: top of stock, corner")
        unit = "G20" if self.inch else "G21"
        if rng.random() < 0.5:
            w.put("G90", unit, "G17")
        else:
            w.put("G90")
            w.put(unit)
        if rng.random() < 0.4:
            w.put("G40", "G49", "G80")
        if rng.random() < 0.4:
            w.put("G54")
        w.put(f"S{self.rpm:.0f}", "M3") if rng.random() < 0.5 else w.put("M3", f"S{self.rpm:.0f}")
        if rng.random() < 0.2:
            w.put("G4", "P2")
        w.rapid(z=self.safe)

    def finish(self) -> bytes:
        rng, w = self.rng, self.w
        self.up()
        w.put("M5")
        if rng.random() < 0.6:
            w.said.clear()
            w.rapid(0.0, 0.0)
        w.put("M30" if rng.random() < 0.7 else "M2")
        if w.lines[0] == "%":
            w.lines.append("%")
        return ("\n".join(w.lines) + "\n").encode()


# ---------------------------------------------------------------------------------------------
# Designs
# ---------------------------------------------------------------------------------------------


def bow(
    cx: float, cy: float, rx: float, ry: float, a: float, b: float
) -> list[tuple[float, float]]:
    turns = np.radians(np.linspace(a, b, 25))
    return [(cx + rx * math.cos(t), cy + ry * math.sin(t)) for t in turns]


#: Letters as strokes in a box 1 wide and 1.4 high.
GLYPHS: dict[str, list[list[tuple[float, float]]]] = {
    "A": [[(0, 0), (0.5, 1.4), (1, 0)], [(0.18, 0.5), (0.82, 0.5)]],
    "C": [bow(0.5, 0.7, 0.5, 0.7, 50, 310)],
    "D": [[(0, 0), (0, 1.4), *bow(0.3, 0.7, 0.65, 0.7, 90, -90), (0, 0)]],
    "E": [[(0.85, 1.4), (0, 1.4), (0, 0), (0.85, 0)], [(0, 0.72), (0.7, 0.72)]],
    "H": [[(0, 0), (0, 1.4)], [(1, 0), (1, 1.4)], [(0, 0.7), (1, 0.7)]],
    "I": [[(0.3, 0), (0.3, 1.4)]],
    "K": [[(0, 0), (0, 1.4)], [(0.9, 1.4), (0.0, 0.6)], [(0.3, 0.85), (0.95, 0)]],
    "L": [[(0, 1.4), (0, 0), (0.85, 0)]],
    "M": [[(0, 0), (0, 1.4), (0.5, 0.5), (1, 1.4), (1, 0)]],
    "N": [[(0, 0), (0, 1.4), (0.95, 0), (0.95, 1.4)]],
    "O": [bow(0.5, 0.7, 0.5, 0.7, 0, 360)],
    "R": [
        [(0, 0), (0, 1.4), *bow(0.5, 1.05, 0.35, 0.35, 90, -90), (0, 0.7)],
        [(0.4, 0.7), (0.9, 0)],
    ],
    "S": [[*bow(0.45, 1.05, 0.42, 0.35, 40, 270), *bow(0.45, 0.35, 0.42, 0.35, 90, -140)]],
    "T": [[(0, 1.4), (1, 1.4)], [(0.5, 1.4), (0.5, 0)]],
    "U": [[(0, 1.4), *bow(0.45, 0.45, 0.45, 0.45, 180, 360), (0.9, 1.4)]],
    "V": [[(0, 1.4), (0.5, 0), (1, 1.4)]],
    "X": [[(0, 0), (1, 1.4)], [(0, 1.4), (1, 0)]],
    "Z": [[(0, 1.4), (1, 1.4), (0, 0), (1, 0)]],
}  # fmt: skip


def word(rng: np.random.Generator, height: float, count: int) -> list[list[Array]]:
    """Return the strokes of each of some letters side by side, in mm."""
    scale, x, out = height / 1.4, 0.0, []
    for letter in rng.choice(list(GLYPHS), count):
        out.append([(np.array(s) + np.array([x, 0])) * scale for s in GLYPHS[str(letter)]])
        x += 1.45 if letter != "I" else 1.0
    return out


def polygons(shape: BaseGeometry) -> list[Polygon]:
    """Return the polygons of a geometry, slivers left out."""
    if isinstance(shape, Polygon):
        return [shape] if shape.area > 1e-3 else []
    return [p for g in getattr(shape, "geoms", []) for p in polygons(g)]


def grow(shape: BaseGeometry, by: float, join: str = "round") -> BaseGeometry:
    """Offset areas outward; exact to about 0.001 mm (shapely's buffer is to 1 % of the offset)."""
    rings = [np.array(r.coords)[:-1] for p in polygons(shape) for r in (p.exterior, *p.interiors)]
    if not rings:
        return Polygon()
    corner = JoinType.Round if join == "round" else JoinType.Miter
    grown = CrossSection(rings, FillRule.EvenOdd).offset(by, corner, 4.0, 160)
    out = []
    for part in grown.decompose():
        loops = [Polygon(loop) for loop in part.to_polygons() if len(loop) > 2]
        loops.sort(key=lambda loop: -loop.area)
        if loops:
            area = Polygon(loops[0].exterior, [loop.exterior for loop in loops[1:]])
            out += polygons(area.simplify(1e-5))
    return out[0] if len(out) == 1 else MultiPolygon(out)


def fillet(shape: BaseGeometry, inner: float, outer: float) -> BaseGeometry:
    """Round concave corners by radius `inner` and convex ones by `outer`."""
    if outer > 0:
        shape = grow(grow(shape, -outer, "mitre"), outer)
    if inner > 0:
        shape = grow(grow(shape, inner, "mitre"), -inner)
    return shape


def blob(rng: np.random.Generator, size: float) -> Polygon:
    """Draw a free closed curve."""
    t = np.linspace(0, 2 * math.pi, 240, endpoint=False)
    radius = np.ones_like(t)
    for k in range(2, 6):
        radius += rng.normal(0, 0.25 / k) * np.cos(k * t + rng.uniform(0, 7))
    radius = np.clip(radius, 0.45, 1.6) * size / 2
    return Polygon(np.column_stack([radius * np.cos(t), radius * np.sin(t)]))


def star(points: int, outer: float, inner: float) -> Polygon:
    turns = np.arange(2 * points) * math.pi / points + math.pi / 2
    radii = np.where(np.arange(2 * points) % 2 == 0, outer, inner)
    return Polygon(np.column_stack([radii * np.cos(turns), radii * np.sin(turns)]))


def outline(shop: Shop, low: float, high: float) -> BaseGeometry:
    """Draw the outline of a part or pocket between low and high mm wide, about the origin."""
    rng = shop.rng
    a, b = shop.nice(low, high), shop.nice(low, high)
    kind = rng.choice(
        ["rect", "rect", "rect", "L", "cross", "disc", "slot", "hexagon", "blob", "tee"]
    )
    if kind == "disc":
        return Point(0, 0).buffer(a / 2, quad_segs=64)
    if kind == "slot":
        return fillet(box(-a / 2, -b / 2, a / 2, b / 2), 0, min(a, b) / 2 - 0.01)
    if kind == "hexagon":
        shape: BaseGeometry = star(3, a / 2, a / 2)
    elif kind == "blob":
        return blob(rng, a)
    else:
        shape = box(-a / 2, -b / 2, a / 2, b / 2)
        u, v = shop.nice(0.3 * a, 0.5 * a), shop.nice(0.3 * b, 0.5 * b)
        if kind == "L":
            shape = shape.difference(box(a / 2 - u, b / 2 - v, a, b))
        elif kind == "cross":
            shape = shape.intersection(
                box(-u / 1.4, -b, u / 1.4, b).union(box(-a, -v / 1.4, a, v / 1.4))
            )
        elif kind == "tee":
            shape = shape.difference(box(u / 1.4, -b, a, 0)).difference(box(-a, -b, -u / 1.4, 0))
    if rng.random() < 0.5:
        radius = shop.nice(2, max(3, 0.15 * min(a, b)))
        shape = fillet(shape, radius if rng.random() < 0.6 else 0, radius)
    return shape


def place(shop: Shop, shapes: Iterable[BaseGeometry], gap: float) -> list[BaseGeometry]:
    """Put shapes side by side into the quadrant right of and behind the zero."""
    out, x = [], shop.nice(10, 25)
    for shape in shapes:
        if shape.is_empty:  # rounding has eaten it
            continue
        left, bottom, right, _ = shape.bounds
        out.append(affinity.translate(shape, x - left, gap - bottom))
        x += right - left + gap
    return out


# ---------------------------------------------------------------------------------------------
# Pockets, roughing
# ---------------------------------------------------------------------------------------------


def ring_points(line: BaseGeometry, ccw: bool) -> Array:
    """Return a closed line's points in the wanted sense; those of a circle begin at +X."""
    p = np.array(line.coords)
    area = float(np.sum(p[:-1, 0] * p[1:, 1] - p[1:, 0] * p[:-1, 1]))
    if len(p) > 40:
        centre = (p.min(axis=0) + p.max(axis=0)) / 2
        arm = np.hypot(*(p - centre).T)
        if np.ptp(arm) < 0.015:
            t = np.linspace(0, 2 * math.pi, 257)
            p, area = centre + arm.max() * np.column_stack([np.cos(t), np.sin(t)]), 1.0
    return p if (area > 0) == ccw else p[::-1]


def offset_rings(centres: BaseGeometry, step: float, climb: bool) -> list[Array]:
    """Return rings of the region the bit's centre may be in, the outermost first."""
    out: list[Array] = []
    k = 0
    while k < 400:
        parts = polygons(grow(centres, -k * step) if k else centres)
        if not parts:
            return out
        for part in parts:
            out += [ring_points(part.exterior, climb)]
            out += [ring_points(hole, not climb) for hole in part.interiors]
        k += 1
    return out


def start_near(ring: Array, p: Array) -> Array:
    """Turn a closed ring so that it begins at its vertex nearest to p."""
    k = int(np.argmin(np.hypot(*(ring[:-1] - p[:2]).T)))
    return np.vstack([ring[k:-1], ring[: k + 1]])


def run_rings(
    shop: Shop, rings: list[Array], centres: BaseGeometry, z: float, top: float, reach: float
) -> None:
    """Cut rings, each from where the last one ended; go up where the way is long or blocked."""
    room = centres.buffer(0.01)
    left, here = list(rings), None
    while left:
        if here is None:
            ring, left = left[0], left[1:]
        else:
            away = [float(np.min(np.hypot(*(r - here).T))) for r in left]
            best = int(np.argmin(away)) if min(away) < reach else 0
            ring = start_near(left.pop(best), here)
        link = None if here is None else LineString([here, ring[0]])
        if link is not None and link.length < reach and link.within(room):
            shop.w.line(float(ring[0][0]), float(ring[0][1]), None, shop.feed)
        else:
            shop.up()
            shop.down(ring, z, top, centres)
            if math.dist(shop.w.at[:2], ring[0]) > 1e-2:
                shop.w.line(float(ring[0][0]), float(ring[0][1]), None, shop.feed)
        shop.path(ring)
        here = ring[-1]


def zigzag_lines(centres: BaseGeometry, step: float, angle: float) -> list[list[Array]]:
    """Return the parallel lines that fill a region, row by row."""
    turned = affinity.rotate(centres, -angle, origin=(0, 0))
    left, bottom, right, top = turned.bounds
    count = max(1, math.ceil((top - bottom) / step - 1e-6))
    rows = []
    for k in range(count + 1):
        y = min(bottom + k * step, top) if k else bottom
        y = min(max(y, bottom + 1e-3), top - 1e-3)
        cut = turned.intersection(LineString([(left - 1, y), (right + 1, y)]))
        pieces = [
            g
            for g in getattr(cut, "geoms", [cut])
            if g.geom_type == "LineString" and g.length > 0.05
        ]
        pieces = [affinity.rotate(g, angle, origin=(0, 0)) for g in pieces]
        rows.append([np.array(g.coords) for g in pieces])
    return rows


def run_zigzag(
    shop: Shop, rows: list[list[Array]], centres: BaseGeometry, z: float, top: float, step: float
) -> None:
    """Cut the lines to and fro, following each strip as far as the region lets it."""
    room, left = centres.buffer(0.02), [list(r) for r in rows]
    while any(left):
        row = next(i for i, r in enumerate(left) if r)
        line, here = left[row].pop(0), None
        while True:
            if here is None:
                shop.up()
                shop.down(line, z, top, centres)
                if math.dist(shop.w.at[:2], line[0]) > 1e-2:
                    shop.w.line(float(line[0][0]), float(line[0][1]), None, shop.feed)
            else:
                shop.w.line(float(line[0][0]), float(line[0][1]), None, shop.feed)
            shop.path(line)
            here, row = line[-1], row + 1
            found = None
            for k, other in enumerate(left[row] if row < len(left) else []):
                for way in (other, other[::-1]):
                    link = LineString([here, way[0]])
                    if link.length < 3 * step and link.within(room):
                        found = (k, way)
            if found is None:
                break
            left[row].pop(found[0])
            line = found[1]


def pocket_shapes(shop: Shop) -> list[BaseGeometry]:
    """Draw pockets the bit gets into, some with islands."""
    rng, d = shop.rng, shop.bit.diameter
    low, high = max(4.5 * d, 22), max(11 * d, 70)
    shapes: list[BaseGeometry] = []
    for _ in range(int(rng.choice([1, 1, 2, 3]))):
        if rng.random() < 0.12:
            strokes = word(rng, max(9 * d, 40), 1)[0]
            shape = shapely.union_all(
                [LineString(s).buffer(shop.nice(0.8 * d, 1.4 * d)) for s in strokes]
            )
        else:
            shape = outline(shop, low, high)
        inside = grow(shape, -2.2 * d)
        if polygons(inside) and rng.random() < 0.45:
            at = polygons(inside)[0].representative_point()
            size = shop.nice(0.8 * d, 3 * d)
            island = (
                at.buffer(size / 2, quad_segs=32)
                if rng.random() < 0.5
                else at.buffer(size / 2, cap_style="square")
            )
            shape = shape.difference(island)
        shapes.append(shape)
    return place(shop, shapes, shop.nice(10, 30))


def pocket(shop: Shop, zigzag: bool) -> None:
    rng, d = shop.rng, shop.bit.diameter
    step = shop.stepover()
    levels = shop.levels(shop.depth(2, max(6, 1.8 * d)))
    allowance = float(rng.choice([0, 0.1, 0.2, 0.3, 0.5]))
    last_only, climb, outward = rng.random() < 0.4, rng.random() < 0.6, rng.random() < 0.6
    angle = float(rng.choice([0, 0, 90, 45]))
    for shape in pocket_shapes(shop):
        wall = grow(shape, -shop.r)
        centres = grow(shape, -shop.r - allowance) if allowance else wall
        top = 0.0
        for z in levels:
            if zigzag:
                run_zigzag(shop, zigzag_lines(centres, step, angle), centres, z, top, step)
            else:
                rings = offset_rings(centres, step, climb)
                run_rings(shop, rings[::-1] if outward else rings, centres, z, top, 3 * step)
            if (zigzag or allowance) and (z == levels[-1] or not last_only):
                for part in polygons(wall):
                    rims = [ring_points(part.exterior, climb)]
                    rims += [ring_points(h, not climb) for h in part.interiors]
                    for rim in rims:
                        lead(shop, rim, z)
            top = z
        shop.up()


def lead(shop: Shop, rim: Array, z: float) -> None:
    """Cut along a wall; the ground beside it is open, so the bit comes down there."""
    k = int(shop.rng.integers(len(rim) - 1))
    if math.dist(rim[k], rim[k + 1]) > 5:  # begin in the middle of a side, not in a corner
        side = rim[k : k + 2].mean(axis=0)
        rim = np.vstack([[side], rim[k + 1 : -1], rim[: k + 1], [side]])
    shop.up()
    shop.over(rim[0])
    shop.w.line(None, None, z, shop.plunge)
    shop.path(rim)


def pocket_offset(shop: Shop) -> None:
    pocket(shop, zigzag=False)


def pocket_zigzag(shop: Shop) -> None:
    pocket(shop, zigzag=True)


def rough(shop: Shop) -> None:
    """Rough a solid in levels: bosses with drafted or round sides in a tray, or a bowl."""
    rng, d = shop.rng, shop.bit.diameter
    step, allowance = shop.stepover(), float(rng.choice([0.2, 0.3, 0.5, 0.5, 1.0]))
    depth = shop.depth(max(4, d), max(10, 2.2 * d))
    levels = shop.levels(depth, 0.25, 0.7)
    size = float(rng.uniform(max(8 * d, 50), max(12 * d, 90)))
    slope = math.tan(math.radians(float(rng.uniform(8, 55))))
    slope = min(slope, 0.15 * size / depth)  # the solid must not fill the frame
    bowl = rng.random() < 0.4
    if bowl:
        shapes = place(shop, [outline(shop, 0.6 * size, size)], shop.nice(10, 30))
        frame = shapes[0]
    else:
        frame = box(0, 0, shop.nice(0.8 * size, size), shop.nice(0.6 * size, size))
        spots = rng.uniform(0.2, 0.8, (int(rng.integers(1, 4)), 2)) * frame.bounds[2:]
        shapes = [affinity.translate(outline(shop, 0.15 * size, 0.35 * size), *s) for s in spots]
    climb, top = rng.random() < 0.6, 0.0
    inset = float(rng.choice([0.0, 0.0, 1.0]))  # the bit's centre on the frame, or outside it
    for z in levels:
        if bowl:
            centres = grow(frame, z * slope - allowance - shop.r)
        else:
            solid = shapely.union_all([grow(s, -z * slope - depth * slope / 2) for s in shapes])
            centres = grow(frame, inset * shop.r).difference(grow(solid, allowance + shop.r))
        rings = offset_rings(centres, step, climb)
        if rings:
            run_rings(
                shop,
                rings if not bowl else rings[::-1],
                centres,
                z + allowance * 0.5,
                top,
                3 * step,
            )
        top = z + allowance * 0.5
        shop.up()


# ---------------------------------------------------------------------------------------------
# Profiles, grooves, bores, surfacing
# ---------------------------------------------------------------------------------------------


def profile(shop: Shop) -> None:
    """Cut parts out: holes inside first, the outside last, with tabs and ramps as usual."""
    rng, d = shop.rng, shop.bit.diameter
    thickness = shop.depth(4, max(9, 2.5 * d))
    levels = shop.levels(thickness + float(rng.choice([0, 0, 0.2, 0.5])))
    tab_width, tab_height = shop.nice(3, 8), min(thickness / 2, shop.nice(1, 3))
    tabs = int(rng.choice([0, 2, 3, 4]))
    join = "round" if rng.random() < 0.75 else "mitre"
    climb = rng.random() < 0.6
    parts = [outline(shop, max(25, 4 * d), max(110, 9 * d)) for _ in range(int(rng.integers(1, 4)))]
    for part in place(shop, parts, shop.nice(2.5 * d + 5, 2.5 * d + 20)):
        inside = polygons(grow(part, -1.5 * d - 3))
        if inside and rng.random() < 0.6:
            at = inside[0].representative_point()
            room = at.distance(inside[0].boundary) + 0.5 * d
            if room > 0.8 * d:
                hole = affinity.translate(
                    outline(shop, min(1.3 * d, 1.8 * room), 1.9 * room), at.x, at.y
                ).intersection(at.buffer(room))
                for area in polygons(grow(hole, -shop.r)):
                    contour(shop, ring_points(area.exterior, climb), levels, 0, 0, 0)
        for area in polygons(grow(part, shop.r, join)):
            contour(
                shop, ring_points(area.exterior, not climb), levels, tabs, tab_width, tab_height
            )


def contour(
    shop: Shop, ring: Array, levels: list[float], tabs: int, width: float, height: float
) -> None:
    """Cut a closed contour level by level; leave tabs in the levels that would cut them."""
    course, top = LineString(ring), 0.0
    if course.length < 2 * tabs * (width + shop.bit.diameter):
        tabs = 0
    crest = levels[-1] + height
    k = int(np.argmax(np.hypot(*np.diff(ring, axis=0).T)))
    if math.dist(ring[k], ring[k + 1]) > 5 and shop.rng.random() < 0.6:  # the longest side's middle
        side = ring[k : k + 2].mean(axis=0)
        ring = np.vstack([[side], ring[k + 1 : -1], ring[: k + 1], [side]])
        course = LineString(ring)
    for z in levels:
        if top == 0.0 or shop.entry != "ramp":
            shop.up() if top == 0.0 else None
            if top == 0.0:
                shop.down(ring, z, top)
            else:
                shop.w.line(None, None, z, shop.plunge)
        else:
            shop.ramp(ring, z, top)
        if tabs and z < crest - 1e-6:
            with_tabs(shop, course, z, crest, tabs, width + shop.bit.diameter)
        else:
            shop.path(ring)
        top = z
    shop.up()


def with_tabs(
    shop: Shop, course: LineString, z: float, crest: float, tabs: int, long: float
) -> None:
    """Follow a contour and lift the bit over tabs; their length counts the bit's width in."""
    p = np.array(course.coords)
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(p, axis=0).T))])
    at = 0.0
    for k in range(tabs):
        middle = course.length * (k + 0.5) / tabs
        for end, height in ((middle - long / 2, z), (middle + long / 2, crest)):
            # On an arc a tab ends at one of its points, not on a chord between them.
            vertex = float(along[np.argmin(np.abs(along - end))])
            stop = vertex if abs(vertex - end) < 1.0 else end
            shop.w.line(None, None, height, shop.plunge if height == z else shop.feed)
            shop.path(np.array(substring(course, at, stop).coords))
            at = stop
    shop.w.line(None, None, z, shop.plunge)
    shop.path(np.array(substring(course, at, course.length).coords))


def dado(shop: Shop) -> None:
    """Cut straight grooves wider than the bit: a pass along each wall, one between if needed."""
    rng, d = shop.rng, shop.bit.diameter
    levels = shop.levels(shop.depth(2, max(6, 1.5 * d)))
    board, pitch = shop.nice(80, 250), shop.nice(3 * d + 10, 3 * d + 60)
    over = float(rng.choice([0.0, 1.0, 2.0])) + shop.r
    stopped, along_y = rng.random() < 0.35, rng.random() < 0.5
    width = shop.nice(1.15 * d, 2.4 * d)
    side = max(width / 2 - shop.r, 0.0)
    lanes = [-side, side] if width <= 2 * d else [0.0, -side, side]
    for k in range(int(rng.integers(2, 5))):
        middle = shop.unit * round((20 + k * pitch) / shop.unit * 2) / 2
        low, high = (shop.r, board - shop.r) if stopped or over <= 0 else (-over, board + over)
        stop = shop.r + shop.nice(10, 25) if stopped else 0.0
        for z in levels:
            for j, lane in enumerate(lanes):
                p = np.array([[low + stop, middle + lane], [high - stop, middle + lane]])
                p = p[::-1] if j % 2 else p
                p = p[:, ::-1] if along_y else p
                if j == 0:
                    shop.over(p[0])
                    if stopped:
                        shop.w.rapid(z=1.0)
                    shop.w.line(None, None, z, shop.plunge)
                else:
                    shop.w.line(float(p[0][0]), float(p[0][1]), None, shop.feed)
                shop.path(p)
            shop.up()


def bores(shop: Shop) -> None:
    """Bore holes on helices, wide ones with rings after; sometimes counterbored."""
    rng, d = shop.rng, shop.bit.diameter
    depth = shop.depth(4, max(10, 2.2 * d))
    pitch = depth / max(2, round(depth / (d * float(rng.uniform(0.1, 0.4)))))
    sizes = [max(shop.nice(1.2 * d, 2.0 * d), 1.1 * d) for _ in range(int(rng.integers(1, 3)))]
    if rng.random() < 0.5:
        sizes.append(shop.nice(2.5 * d, 5 * d))
    step = shop.stepover()
    counter = rng.random() < 0.3
    for size in sizes:
        spots = hole_pattern(shop, max(3 * size, 20))
        for centre in spots:
            jobs = [(size, 0.0, depth)]
            if counter and size == sizes[0]:
                jobs.insert(0, (shop.unit * round(2 * size / shop.unit * 4) / 4, 0.0, depth / 3))
            for wide, top, deep in jobs:
                bore(shop, centre, wide / 2 - shop.r, top, -deep, pitch, step)


def bore(
    shop: Shop, centre: Array, radius: float, top: float, z: float, pitch: float, step: float
) -> None:
    first = radius if radius <= 0.55 * shop.bit.diameter else 0.4 * shop.bit.diameter
    start = centre + np.array([first, 0.0])
    shop.over(start)
    shop.w.rapid(z=top + 1.0)
    shop.w.line(None, None, top, shop.plunge)
    shop.coil(centre, start, top, z, max(1, round((top - z) / pitch)))
    shop.ring(centre, first)
    while first < radius - 1e-6:
        first = min(radius, first + step)
        shop.ring(centre, first)
    shop.w.line(float(centre[0]), float(centre[1]), None, shop.feed)
    shop.up()


def hole_pattern(shop: Shop, apart: float) -> list[Array]:
    rng = shop.rng
    count, gap = int(rng.integers(2, 6)), shop.nice(apart, 2 * apart)
    kind = rng.choice(["line", "grid", "circle"])
    zero = np.array([shop.nice(20, 60), shop.nice(20, 60)])
    if kind == "line":
        return [zero + np.array([k * gap, 0]) for k in range(count)]
    if kind == "grid":
        return [zero + np.array([i, j]) * gap for j in range(2) for i in range(count // 2 + 1)]
    turns = 2 * math.pi * np.arange(count) / count
    radius = max(gap, gap * count / 6)
    return [zero + radius * np.array([1 + math.cos(t), 1 + math.sin(t)]) for t in turns]


def surfacing(shop: Shop) -> None:
    """Plane a board's face in parallel passes or one spiral inward."""
    rng, d = shop.rng, shop.bit.diameter
    a, b = shop.nice(max(80, 10 * d), 300), shop.nice(max(60, 8 * d), 220)
    step = shop.stepover(0.4, 0.75)
    cut = float(rng.choice([0.3, 0.5, 0.5, 0.8, 1.0]))
    if shop.inch:
        cut = float(rng.choice([0.01, 0.02, 0.03])) * INCH
    over = shop.r * float(rng.choice([0.0, 1.0, 1.0, 1.2]))  # how far the centre leaves the board
    area, along = box(-over, -over, a + over, b + over), float(rng.choice([0, 90]))
    spiral = rng.random() < 0.3
    shop.entry = "plunge"
    for k in range(int(rng.choice([1, 1, 2]))):
        z, top = -cut * (k + 1), -cut * k
        if spiral:
            run_rings(shop, offset_rings(area, step, rng.random() < 0.5), area, z, top, 3 * step)
        else:
            run_zigzag(shop, zigzag_lines(area, step, along), area, z, top, step)
        shop.up()


# ---------------------------------------------------------------------------------------------
# Vee work
# ---------------------------------------------------------------------------------------------


def thin(points: Array, tolerance: float) -> Array:
    """Leave out points that lie within a tolerance of the polyline, in space."""
    keep = np.zeros(len(points), bool)
    keep[[0, -1]] = True
    todo = [(0, len(points) - 1)]
    while todo:
        a, b = todo.pop()
        if b - a < 2:
            continue
        chord = points[b] - points[a]
        inner = points[a + 1 : b] - points[a]
        squared = float(chord @ chord)
        part = np.clip(inner @ chord / squared, 0, 1) if squared > 0 else np.zeros(len(inner))
        away = np.linalg.norm(inner - part[:, None] * chord, axis=1)
        worst = int(np.argmax(away))
        if away[worst] > tolerance:
            k = a + 1 + worst
            keep[k] = True
            todo += [(a, k), (k, b)]
    return points[keep]


def boundary_sites(shape: Polygon, gap: float) -> tuple[Array, dict[tuple[int, int], Array]]:
    """Return points along a polygon's boundary, and the sharp corner between pairs of them."""
    sites: list[Array] = []
    corners: dict[tuple[int, int], Array] = {}
    for index, ring in enumerate([shape.exterior, *shape.interiors]):
        p = np.array(ring.coords)  # as drawn: a disc's points are not moved
        area = float(np.sum(p[:-1, 0] * p[1:, 1] - p[1:, 0] * p[:-1, 1]))
        p = (p if (area > 0) == (index == 0) else p[::-1])[:-1]
        d = np.roll(p, -1, 0) - p
        before = np.roll(d, 1, 0)
        turn = np.arctan2(before[:, 0] * d[:, 1] - before[:, 1] * d[:, 0], (before * d).sum(1))
        sharp = [int(k) for k in np.nonzero(np.abs(turn) > 0.6)[0]] or [0]
        first = sum(len(s) for s in sites)
        for n, k in enumerate(sharp):
            end = sharp[(n + 1) % len(sharp)]
            count = (end - k) % len(p) or len(p)
            side = LineString(np.take(p, range(k, k + count + 1), axis=0, mode="wrap"))
            steps = max(3, math.ceil(side.length / gap))
            at = (np.arange(steps) + 0.5) * side.length / steps
            sites.append(shapely.get_coordinates(shapely.line_interpolate_point(side, at)))
            last = sum(len(s) for s in sites) - 1
            if turn[end] > 0.6:
                follower = first if n + 1 == len(sharp) else last + 1
                corners[min(last, follower), max(last, follower)] = p[end]
    return np.vstack(sites), corners


def medial_chains(shape: Polygon, gap: float) -> list[Array]:
    """Return the medial lines of a polygon as chains of (x, y, distance to the boundary)."""
    sites, corners = boundary_sites(shape, gap)
    diagram = Voronoi(sites)
    inside = shapely.contains_xy(shape, *diagram.vertices.T)
    away = shapely.distance(shapely.points(diagram.vertices), shape.boundary)
    nodes = [(x, y, r) for (x, y), r in zip(diagram.vertices, away, strict=True)]
    links: dict[int, set[int]] = defaultdict(set)
    for (i, j), (a, b) in zip(diagram.ridge_points, diagram.ridge_vertices, strict=True):
        corner = corners.get((min(i, j), max(i, j)))
        if corner is not None:
            ends = [k for k in (a, b) if k >= 0 and inside[k]]
            if len(ends) == 1:
                nodes.append((corner[0], corner[1], 0.0))
                links[ends[0]].add(len(nodes) - 1)
                links[len(nodes) - 1].add(ends[0])
            continue
        if min(a, b) < 0 or not (inside[a] and inside[b]):
            continue
        if math.dist(sites[i], sites[j]) > 0.55 * max(away[a], away[b]):
            links[a].add(b)
            links[b].add(a)
    return [np.array([nodes[k] for k in chain]) for chain in chains_of(links)]


def chains_of(links: dict[int, set[int]]) -> Iterator[list[int]]:
    """Follow a graph's edges from end to end, each once."""
    ends = [k for k in links if len(links[k]) != 2]
    for start in [*ends, *list(links)]:
        while links[start]:
            chain = [start]
            while links[chain[-1]]:
                here = chain[-1]
                if len(chain) > 1 and here in ends:
                    break
                following = min(links[here])
                links[here].discard(following)
                links[following].discard(here)
                chain.append(following)
            yield chain


def letter_area(shop: Shop, strokes: list[Array], width: float, contrast: float) -> BaseGeometry:
    """Give the strokes of a letter width: upright strokes thick, level ones thin, some serifs."""
    parts: list[BaseGeometry] = []
    for s in strokes:
        if contrast == 1 or len(s) > 8:
            parts.append(LineString(s).buffer(width / 2, cap_style="flat", join_style="mitre"))
            continue
        for a, b in itertools.pairwise(s):
            steep = abs(b[1] - a[1]) / math.dist(a, b)
            half = width / 2 * (contrast + (1 - contrast) * steep)
            parts.append(LineString([a, b]).buffer(half, cap_style="square"))
            if steep > 0.95:
                foot = a if a[1] < b[1] else b
                x, y = foot[0], foot[1] - half
                parts.append(
                    Polygon([(x - 2.2 * half, y), (x + 2.2 * half, y), (x, y + 2.5 * half)])
                )
    return shapely.union_all(parts)


def leaf(length: float, width: float) -> Polygon:
    t = np.linspace(-1, 1, 60)
    upper = np.column_stack([t * length / 2, (1 - t**2) * width / 2])
    return Polygon(np.vstack([upper[:-1], upper[::-1][:-1] * (1, -1)]))


def motifs(shop: Shop) -> list[BaseGeometry]:
    """Draw areas to carve: letters, stars, leaves, rosettes, frames of diamonds."""
    rng = shop.rng
    kind = rng.choice(["letters", "letters", "letters", "stars", "leaves", "rosette", "diamonds"])
    size = shop.nice(15, 60)
    if kind == "letters":
        width, contrast = size * float(rng.uniform(0.1, 0.19)), float(rng.choice([1, 1, 0.4, 0.6]))
        letters = word(rng, size, int(rng.integers(2, 6)))
        return [letter_area(shop, strokes, width, contrast) for strokes in letters]
    if kind == "stars":
        points = int(rng.choice([4, 5, 6, 8]))
        inner = float(rng.uniform(0.12, 0.3))
        one = star(points, size / 2, inner * size)
        return [affinity.translate(one, k * size * 1.2, 0) for k in range(int(rng.integers(1, 4)))]
    if kind == "diamonds":
        a, b = size * 0.3, size * float(rng.uniform(0.12, 0.3))
        one = Polygon([(-a, 0), (0, -b), (a, 0), (0, b)])
        return [affinity.translate(one, k * 2.3 * a, 0) for k in range(int(rng.integers(3, 9)))]
    one = leaf(size * 0.6, size * float(rng.uniform(0.1, 0.25)))
    if kind == "leaves":
        spots = [
            (k * size * 0.5, (k % 2) * size * 0.3, 40 * (-1) ** k)
            for k in range(int(rng.integers(3, 7)))
        ]
        return [affinity.translate(affinity.rotate(one, t), x, y) for x, y, t in spots]
    count = int(rng.choice([5, 6, 8]))
    out = affinity.translate(one, size * 0.42 + 1, 0)
    return [affinity.rotate(out, 360 * k / count, origin=(0, 0)) for k in range(count)]


def vcarve(shop: Shop) -> None:
    """Carve areas with the vee's flanks on both outlines: deep where wide, zero in corners."""
    rng = shop.rng
    slope = math.tan((shop.bit.angle or 1.0) / 2)
    deepest = 0.98 * shop.r / slope
    if rng.random() < 0.25:
        deepest = min(deepest, shop.nice(1.5, 5))
    per_pass = float(rng.choice([99, 99, 1.5, 2, 3, 4]))
    zero = rng.uniform(5, 80, 2)
    tolerance = float(rng.choice([0.005, 0.01, 0.02]))
    for area in motifs(shop):
        for shape in polygons(affinity.translate(area, *zero)):
            carve(shop, shape, slope, deepest, per_pass, tolerance)


def carve(
    shop: Shop, shape: Polygon, slope: float, deepest: float, per_pass: float, tolerance: float
) -> None:
    chains = medial_chains(shape, max(0.15, min(0.5, shape.length / 600)))
    paths = []
    for chain in chains:
        z = np.maximum(-chain[:, 2] / slope, -deepest)
        flat_bottom = chain[:, 2] / slope > deepest + 1e-6
        if flat_bottom.all():
            continue
        start, stop = int(np.argmin(flat_bottom)), len(z) - int(np.argmin(flat_bottom[::-1]))
        path = np.column_stack([chain[:, :2], z])[start:stop]
        if len(path) > 1:
            paths.append(thin(path, tolerance))
    for part in polygons(grow(shape, -deepest * slope)):
        for ring in [part.exterior, *part.interiors]:
            p = ring_points(ring, True)
            paths.append(np.column_stack([p, np.full(len(p), -deepest)]))
    low = max((float(-p[:, 2].min()) for p in paths), default=0.0)
    for k in range(max(1, math.ceil(low / per_pass - 1e-6))):
        floor = -per_pass * (k + 1)
        run_chains(shop, [np.column_stack([p[:, :2], np.maximum(p[:, 2], floor)]) for p in paths
                          if k == 0 or p[:, 2].min() < floor + per_pass])  # fmt: skip
    shop.up()


def run_chains(shop: Shop, paths: list[Array]) -> None:
    """Cut paths in space, always the one that begins or ends nearest."""
    left, here = list(paths), None
    while left:
        ways = [p if e == 0 else p[::-1] for p in left for e in (0, 1)]
        best = 0 if here is None else int(np.argmin([math.dist(p[0], here) for p in ways]))
        path = ways[best]
        left.pop(best // 2)
        if here is None or math.dist(path[0], here) > 0.02:
            shop.up()
            shop.over(path[0])
            shop.w.rapid(z=min(1.0, shop.safe))
            shop.w.line(None, None, float(path[0][2]), shop.plunge)
        shop.path3(path)
        here = path[-1]


def width_depth(bit: Bit, width: float) -> float:
    """Return how deep the bit must go for a groove of a width."""
    if bit.shape == "vee":
        return max(0.05, (width - bit.tip) / 2 / math.tan((bit.angle or 1.0) / 2))
    half = min(width / 2, 0.98 * bit.radius)
    return bit.radius - math.sqrt(bit.radius**2 - half**2)


def engrave(shop: Shop) -> None:
    """Engrave lines of two or three declared widths: lettering, frames, scales, rosettes."""
    rng = shop.rng
    step = 0.01 * INCH if shop.inch else 0.1
    narrow = 0.4 if shop.bit.shape == "vee" else 0.45 * shop.bit.diameter
    wide = min(0.9 * shop.bit.diameter, 3.0)
    widths = [max(3, round(float(rng.uniform(narrow, wide)) / step)) * step for _ in range(3)]
    zero, size = rng.uniform(5, 60, 2), shop.nice(10, 40)
    lines: list[tuple[Array, float]] = []
    for strokes in word(rng, size, int(rng.integers(3, 7))):
        lines += [(s, widths[0]) for s in strokes]
    long = max(float(s[:, 0].max()) for s, _ in lines)
    margin = shop.nice(5, 10)
    frame = box(-margin, -margin, long + margin, size + margin)
    lines.append((np.array(fillet(frame, 0, float(rng.choice([0, 3]))).exterior.coords), widths[1]))
    if rng.random() < 0.5:
        count, pitch = int(rng.integers(10, 30)), shop.nice(2, 6)
        for k in range(count):
            high = 4.0 if k % 5 else 7.0
            tick = np.array([[k * pitch, -margin - 12], [k * pitch, -margin - 12 + high]])
            lines.append((tick, widths[2] if k % 5 == 0 else widths[0]))
    else:
        t = np.linspace(0, 2 * math.pi, 181)
        wave = size / 2 * (1 + 0.25 * np.cos(int(rng.integers(4, 10)) * t))
        lines.append(
            (
                np.column_stack(
                    [wave * np.cos(t) + long + margin + size, wave * np.sin(t) + size / 2]
                ),
                widths[2],
            )
        )
    for line, width in lines:
        deep = width_depth(shop.bit, width)
        p = thin(line + zero, 0.01)
        shop.over(p[0])
        shop.w.rapid(z=min(1.0, shop.safe))
        shop.w.line(None, None, -deep, shop.plunge)
        shop.path(line + zero if shop.w.arcs else p)
        shop.up()


def chamfer(shop: Shop) -> None:
    """Break the edges of parts and holes; the tip runs clear of the edge or on it."""
    rng = shop.rng
    slope = math.tan((shop.bit.angle or 1.0) / 2)
    step = INCH / 64 if shop.inch else 0.25
    clear = float(rng.choice([0, 0.5, 1.0, 1.0, 2.0])) * (INCH / 32 if shop.inch else 1.0)
    most = max(3 * step, min(4.0, 0.9 * shop.r - clear))
    widths = [max(2, round(float(rng.uniform(0.5, most)) / step)) * step for _ in range(2)]
    parts = [outline(shop, 30, 120) for _ in range(int(rng.integers(1, 4)))]
    for part in place(shop, parts, shop.nice(15, 40)):
        rims = [(a.exterior, widths[0]) for a in polygons(grow(part, clear) if clear else part)]
        inside = polygons(grow(part, -12))
        if inside:
            at = inside[0].representative_point()
            hole = at.buffer(shop.nice(8, 20) / 2 - clear, quad_segs=32)
            rims.append((hole.exterior, widths[1]))
        for ring, width in rims:
            deep = (width + clear) / slope
            p = ring_points(ring, True)
            for z in [-deep] if width < 2 else [-deep / 2, -deep]:
                shop.over(p[0])
                shop.w.line(None, None, z, shop.plunge)
                shop.path(p)
                shop.up()


# ---------------------------------------------------------------------------------------------
# Reliefs
# ---------------------------------------------------------------------------------------------


def field_of(shop: Shop, width: float, depth: float, pitch: float) -> Array:
    """Draw a height field, at most 0 and at least -depth: bosses, hollows, waves, letters."""
    rng = shop.rng
    n = round(width / pitch) + 1
    x, y = np.meshgrid(np.arange(n) * pitch, np.arange(n) * pitch)
    z = np.full((n, n), float(rng.uniform(0.3, 0.8)))
    if rng.random() < 0.5:
        z += (
            0.12
            * np.sin(x / width * rng.uniform(4, 25) + 1)
            * np.cos(y / width * rng.uniform(4, 25))
        )
    for _ in range(int(rng.integers(2, 6))):
        cx, cy, r = *rng.uniform(0.15, 0.85, 2) * width, float(rng.uniform(0.1, 0.35)) * width
        away = np.hypot(x - cx, y - cy)
        kind = rng.choice(["dome", "cone", "disc", "hollow", "ridge", "letter"])
        high = float(rng.uniform(0.2, 0.7))
        if kind == "dome":
            z = np.maximum(
                z, 0.4 + high * np.sqrt(np.clip(1 - (away / r) ** 2, 0, None)) - (away > r)
            )
        elif kind == "cone":
            z = np.maximum(z, 0.3 + high * (1 - away / r))
        elif kind == "disc":
            z = np.maximum(
                z, np.where(away < r, 0.4 + high * 0.6, 0.4 + high * 0.6 - (away - r) * 3 / depth)
            )
        elif kind == "hollow":
            z -= high * 0.8 * np.clip(1 - (away / r) ** 2, 0, None)
        elif kind == "ridge":
            turn = float(rng.uniform(0, math.pi))
            across = np.abs((x - cx) * math.cos(turn) + (y - cy) * math.sin(turn))
            z = np.maximum(z, 0.4 + high - across / r * 1.5)
        else:
            strokes = word(rng, 1.6 * r, 1)[0]
            shape = shapely.union_all([LineString(s).buffer(0.15 * r) for s in strokes])
            mask = shapely.contains_xy(affinity.translate(shape, cx - 0.5 * r, cy - 0.7 * r), x, y)
            rise = ndimage.distance_transform_edt(mask) * pitch / (0.15 * r)
            z += 0.35 * high * np.minimum(rise, 1.0)
    z = (z - z.min()) / max(1e-9, float(np.ptp(z)))
    return (z - 1) * depth


def tip_heights(bit: Bit, z: Array, pitch: float) -> Array:
    """Return how high the tip stands when the bit touches the field."""
    n = int(bit.radius / pitch)
    u = np.arange(-n, n + 1) * pitch
    r = np.hypot(*np.meshgrid(u, u))
    tip = bit.radius if bit.shape == "ball" else float(bit.tip_radius or 0.5)
    rise = tip - np.sqrt(np.clip(tip**2 - r**2, 0, None))
    if bit.shape != "ball":
        angle = bit.angle or 0.1
        touch = tip * math.cos(angle)
        cone = tip - tip * math.sin(angle) + (r - touch) / math.tan(angle)
        rise = np.where(r > touch, cone, rise)
    footprint = (r <= bit.radius) & (rise <= float(np.ptp(z)) + pitch)
    return ndimage.grey_dilation(z, footprint=footprint, structure=-rise, mode="nearest")


def relief(shop: Shop, spiral: bool) -> None:
    """Finish a relief: the bit's tip follows the field it can touch."""
    rng, bit = shop.rng, shop.bit
    wide = bit.diameter if bit.shape == "ball" else 4 * float(bit.tip_radius or 0.5)
    small = bit.diameter if bit.shape == "ball" else 2 * float(bit.tip_radius or 0.5)
    step = (
        float(
            rng.uniform(0.08, 0.15)
            if rng.random() < 0.4
            else rng.choice([0.08, 0.1, 0.1, 0.12, 0.15])
        )
        * small
    )
    if rng.random() < 0.3:
        step = max(0.1, round(step * 20) / 20)
    pitch = max(0.08, small * 0.04)
    width = float(rng.uniform(max(9 * wide, 25), max(14 * wide, 40)))
    depth = float(rng.uniform(0.8, 2.2)) * min(wide, 5)
    z = tip_heights(bit, field_of(shop, width, depth, pitch), pitch)
    tolerance = float(rng.choice([0.005, 0.01, 0.02]))
    zero = np.array([0.0, 0.0]) if rng.random() < 0.5 else rng.uniform(5, 40, 2)

    def lifted(xy: Array) -> Array:
        heights = ndimage.map_coordinates(z, (xy / pitch).T[::-1], order=1, mode="nearest")
        return thin(np.column_stack([xy + zero, heights]), tolerance)

    paths = (
        spiral_path(width, step, pitch, rng.random() < 0.5)
        if spiral
        else raster_paths(shop, width, step, pitch)
    )
    first = True
    for xy in paths:
        path = lifted(xy)
        if first or len(paths) > 1:
            shop.up()
            shop.over(path[0])
            shop.w.rapid(z=1.0)
            shop.w.line(None, None, float(path[0][2]), shop.plunge)
        first = False
        shop.path3(path)


def spiral_path(width: float, step: float, pitch: float, outward: bool) -> list[Array]:
    """Return one spiral that fills the circle in a square."""
    radius = width / 2 - 0.5
    turns = radius / step
    # Points about a pitch apart: the way along a spiral grows with the square of the turn.
    count = int(math.pi * radius * turns / pitch)
    t = 2 * math.pi * turns * np.sqrt(np.linspace(0, 1, count))
    r = t * step / (2 * math.pi)
    p = np.column_stack([r * np.cos(t), r * np.sin(t)]) + width / 2
    return [p if outward else p[::-1]]


def raster_paths(shop: Shop, width: float, step: float, pitch: float) -> list[Array]:
    """Return parallel lines: one path to and fro, or one path a line, all in one direction."""
    rng = shop.rng
    angle = float(rng.choice([0, 0, 90, 45]))
    area = box(0, 0, width, width * float(rng.uniform(0.6, 1.0)))
    lines = [row[0] for row in zigzag_lines(area, step, angle) if row]
    one_way = rng.random() < 0.15
    out = []
    for k, line in enumerate(lines):
        count = max(2, int(math.dist(line[0], line[-1]) / pitch))
        p = line[0] + (line[-1] - line[0]) * np.linspace(0, 1, count)[:, None]
        out.append(p[::-1] if k % 2 and not one_way else p)
    return out if one_way else [np.vstack(out)]


def relief_raster(shop: Shop) -> None:
    relief(shop, spiral=False)


def relief_spiral(shop: Shop) -> None:
    relief(shop, spiral=True)


# ---------------------------------------------------------------------------------------------
# Which bits suit what
# ---------------------------------------------------------------------------------------------


def is_flat(bit: Bit) -> bool:
    return bit.shape == "flat" and bit.diameter > 2.5


FAMILIES: tuple[tuple[str, int, Callable[[Shop], None], Callable[[Bit], bool]], ...] = (
    ("pocket-offset", 2, pocket_offset, is_flat),
    ("pocket-zigzag", 2, pocket_zigzag, is_flat),
    ("profile", 2, profile, lambda b: b.shape == "flat"),
    ("vcarve", 3, vcarve, lambda b: b.shape == "vee" and b.tip == 0),
    ("relief-raster", 2, relief_raster, lambda b: b.shape in ("ball", "taper-ball")),
    ("relief-spiral", 1, relief_spiral, lambda b: b.shape in ("ball", "taper-ball")),
    ("rough", 2, rough, is_flat),
    ("engrave", 1, engrave, lambda b: b.shape == "vee" or (b.shape == "ball" and b.diameter < 4)),
    ("chamfer", 1, chamfer, lambda b: b.shape == "vee" and b.tip == 0),
    ("bores", 1, bores, lambda b: b.shape == "flat"),
    ("surfacing", 1, surfacing, lambda b: b.shape == "flat" and b.diameter >= 6),
    ("dado", 1, dado, is_flat),
)
TITLES = ("Job", "Panel", "Sign", "Part", "Setup", "Operation", "Board", "Toolpath")


def make(seed: int) -> Made:
    """Make the program of a seed."""
    rng = np.random.default_rng([1107, seed])
    inch = bool(rng.random() < 0.25)
    rack = draw_rack(rng, inch)
    weights = np.array([f[1] for f in FAMILIES], float)
    name, _, cut, suits = FAMILIES[int(rng.choice(len(FAMILIES), p=weights / weights.sum()))]
    fitting = sorted((b for b in rack if suits(b)), key=lambda b: b.name)
    bit = fitting[int(rng.integers(len(fitting)))]
    shop = Shop(rng, bit, inch)
    shop.begin(str(rng.choice(TITLES)))
    cut(shop)
    return Made(shop.finish(), rack, bit, name)
