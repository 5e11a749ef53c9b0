"""A fourteenth generator: whole programs as a workshop runs them, one bit each, a rack of eight.

Written as an acceptance test of one sentence, "on held-out programs made for known bits (other
generator, other geometry): right bit first in >= 90 %, in the first two in >= 98 %, when the rack
holds 8 bits", by someone who had read README, DEVELOPERS, the design and `job/model.py`, but
neither the fitting room nor its tests nor the bodies of other generators.

What is made: outlines are polygons, offset with shapely; reliefs are height fields over which a
cutter's own profile is rolled; lettering is made with a broad nib, with flared or with plain
strokes, and its middle lines come from a Voronoi diagram. The rules by which paths are made are
common practice, no source: walls at the radius from the line, a stepover that is a share of the
diameter, passes that are a share of it, ramps and helices, rows of a relief from the wanted
scallop or as a share of the tip, a vee's depth from the width it opens, a drill's peck and
overshoot from its diameter, feeds from a chip load that grows with the diameter, by shops that
run fast and shops that run slow.

The rule of fairness: an expert with the program and the rack before them should be able to tell
the bit from the path, the depths, the feeds and speeds. So

* flats (and bulls beside flats) of a rack differ by a fifth in diameter at least, balls and the
  tips of tapered balls by a quarter, vees by a quarter in angle, drills by 1.4 in diameter;
* no job is one line, or lines at one depth that say nothing of a width: slots alone, letters
  engraved with one line, planks marked with a vee are left out; a chamfer is cut in steps along
  its flank;
* a relief has an edge or a border that stands up, over which the cutter's own shape is drawn;
* a program has 100 to 5000 lines.

Neither comments nor T numbers tell the bit: there is one comment with a number of a job, and T is
drawn without looking.

First score (seeds 0 to 299, read once, before the fitting room was read): right bit first 0.873, in
the first two 0.957, Brier 0.199; so the sentence did not hold. (A run before it stopped at seed 142
with an arc of no radius among the bores; what it printed until there had been seen, and only that
arc was mended.)

After the mends that its misses led to (grooves each cut to their depth are no area, flutes cut
again from the top, hollows that meet, bites of drills, passes and rows of bull noses, rounds within
rounds, arcs of one circle in quarters, the top of carvings and holes with the zero on the table):

    seeds                              before           after
    0 to 299 (all misses looked at)    0.873, 0.957     0.910, 0.983
    300 to 599, odd (tuned on)         0.840, 0.927     0.913, 0.973
    300 to 599, even (to confirm)      0.827, 0.940     0.907, 0.967

So the first half of the sentence holds on the seeds kept to confirm, 150 of them, and the second
does not. After later mends (see the fifteenth generator; of this one seeds 2000 to 2149 were looked
at then) seeds 4000 to 4299, kept to confirm, went from 0.897, 0.980 to 0.920, 0.993.
One print of names of some even misses was seen by accident, and one of three of the seeds from 4000
on; nothing was changed for them.

What is wrong or unfair here, left as it was scored: a program's zero lies where its path begins,
rounded to whole mm, not at the corner of the board, so that a face tells no overrun and inches do
not come out round; corners of inlays are rounded by 2 % more than the bit; circles of holes may
overlap by chance; when a program of holes or of one pass has its zero on the table, nothing says
where the top is but the height at which feeding begins. What an expert could still tell: trays of
a bull nose taken for a smaller flat bit, pockets whose rounds fit a smaller bit by chance, chamfers
in steps, petals carved at one greatest depth with the zero on the table.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np
import shapely
from scipy.ndimage import grey_dilation, map_coordinates
from scipy.spatial import Voronoi
from shapely import affinity
from shapely.geometry import LineString, MultiPoint, Point, Polygon, box
from shapely.ops import linemerge, substring, unary_union

from dryrun.job.model import Bit

INCH = 25.4
Rng = np.random.Generator


@dataclass(frozen=True, slots=True)
class Made:
    """A program and what it was made for."""

    text: bytes
    rack: tuple[Bit, ...]
    bit: Bit
    family: str


# ---------------------------------------------------------------- bits and racks

FLATS = {
    "mm": (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 32.0),
    "in": tuple(
        INCH * x for x in (1 / 16, 3 / 32, 1 / 8, 3 / 16, 1 / 4, 3 / 8, 1 / 2, 3 / 4, 1.0, 1.5)
    ),
}
BALLS = {
    "mm": (1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0),
    "in": tuple(INCH * x for x in (1 / 16, 1 / 8, 1 / 4, 3 / 8, 1 / 2, 3 / 4)),
}
BULLS = {
    "mm": ((6.0, 1.0), (10.0, 2.0), (12.0, 3.0), (16.0, 4.0), (20.0, 5.0), (28.0, 6.0)),
    "in": tuple((INCH * d, INCH * r) for d, r in ((1 / 2, 1 / 8), (3 / 4, 1 / 4), (1.25, 1 / 4))),
}
TAPERS = ((0.25, 6.0, 3.175), (0.5, 5.0, 6.0), (0.75, 5.0, 6.0), (1.0, 4.5, 6.0), (1.5, 3.5, 6.35))
DRILLS = {
    "mm": (2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 12.0),
    "in": tuple(INCH * x for x in (5 / 64, 1 / 8, 3 / 16, 1 / 4, 5 / 16, 3 / 8)),
}
VEES = (30.0, 45.0, 60.0, 90.0, 120.0)


def draw_bit(rng: Rng, shape: str, unit: str) -> Bit:
    """Draw a bit of a shape as the drawer of a shop in this unit holds them."""
    flutes = int(rng.choice((1, 2, 2, 2, 3)))
    if shape == "flat":
        d = float(rng.choice(FLATS[unit]))
        return Bit(f"flat {d:.3g}", "flat", d, flutes=flutes, flute_length=flute(d))
    if shape == "ball":
        d = float(rng.choice(BALLS[unit]))
        return Bit(f"ball {d:.3g}", "ball", d, flutes=2, flute_length=flute(d))
    if shape == "bull":
        d, r = BULLS[unit][rng.integers(len(BULLS[unit]))]
        return Bit(f"bull {d:.3g}", "bull", d, corner_radius=r, flutes=2, flute_length=flute(d))
    if shape == "taper-ball":
        r, angle, d = TAPERS[rng.integers(len(TAPERS))]
        return Bit(f"taper {r}", "taper-ball", d, angle=math.radians(angle), tip_radius=r, flutes=2)
    if shape == "drill":
        d = float(rng.choice(DRILLS[unit]))
        point = math.radians(float(rng.choice((118.0, 118.0, 135.0))))
        return Bit(f"drill {d:.3g}", "drill", d, angle=point, flutes=2)
    angle = float(rng.choice(VEES))
    d = float(rng.choice((6.0, 12.0, 12.7, 20.0) if unit == "mm" else (6.35, 12.7, 19.05, 31.75)))
    tip = float(rng.choice((0.0, 0.0, 0.0, 0.1, 0.2)))
    return Bit(f"vee {angle:g}", "vee", d, angle=math.radians(angle), tip=tip, flutes=2)


def flute(diameter: float) -> float:
    """Length of the cutting edges: some three to five diameters, and less for wide bits."""
    return max(min(4 * diameter, 12 + 1.6 * diameter), 5.0)


def told_apart(a: Bit, b: Bit) -> bool:
    """Whether an expert could tell the two from what a program shows (the rule of fairness)."""
    kinds = {a.shape, b.shape}
    if kinds <= {"flat", "bull"}:
        return ratio(a.diameter, b.diameter) >= 1.19
    if kinds <= {"ball", "taper-ball"}:
        return ratio(tip_size(a), tip_size(b)) >= 1.25
    if kinds == {"vee"}:
        return ratio(a.angle or 0.0, b.angle or 0.0) >= 1.25
    return kinds != {"drill"} or ratio(a.diameter, b.diameter) >= 1.39


def ratio(a: float, b: float) -> float:
    """How many times the larger one is the smaller."""
    return max(a, b) / min(a, b)


def tip_size(bit: Bit) -> float:
    """Diameter of the round tip, mm."""
    return 2 * bit.tip_radius if bit.tip_radius else bit.diameter


def fill_rack(rng: Rng, bit: Bit, units: tuple[str, ...]) -> tuple[Bit, ...]:
    """Seven more bits beside the right one, as a workshop owns them."""
    usual = ["flat", "flat", "flat", "ball", "vee"]
    more = ("flat", "flat", "ball", "vee", "bull", "taper-ball", "drill", "drill")
    if bit.shape in usual:
        usual.remove(bit.shape)
    rack = [bit]
    while len(rack) < 8:
        shape = usual.pop() if usual else str(rng.choice(more))
        for _ in range(30):
            other = draw_bit(rng, shape, str(rng.choice(units)))
            if all(told_apart(other, b) for b in rack):
                rack.append(other)
                break
    return tuple(rack[i] for i in rng.permutation(8))


# ---------------------------------------------------------------- the shop: feeds, speeds, posting


@dataclass(slots=True)
class Shop:
    """How one workshop runs its machine and writes its programs."""

    unit: str
    load: float
    fastest: float
    fixed_speed: float | None
    hard: float
    decimals: int
    arcs: str
    spaced: bool
    numbered: int
    modal: bool
    padded: bool
    stripped: bool
    bed_zero: bool
    cycles: bool
    corner: tuple[float, float]
    climb: bool


def draw_shop(rng: Rng) -> Shop:
    """Draw a workshop."""
    unit = "mm" if rng.random() < 0.62 else "in"
    fast = rng.random() < 0.45
    decimals = int(rng.choice((3, 3, 3, 4, 2)) if unit == "mm" else rng.choice((4, 4, 5)))
    return Shop(
        unit=unit,
        load=rng.uniform(0.8, 1.3) if fast else rng.uniform(0.3, 0.6),
        fastest=12000.0 if fast else float(rng.choice((2500.0, 4000.0))),
        fixed_speed=None if rng.random() < 0.7 else float(rng.choice((12000, 16000, 18000))),
        hard=rng.uniform(0.4, 1.0),
        decimals=decimals,
        # arcs of two decimals are refused by many a controller
        arcs="none" if decimals == 2 else str(rng.choice(("ij", "ij", "ij", "r", "none"))),
        spaced=bool(rng.random() < 0.65),
        numbered=int(rng.choice((0, 0, 1, 5, 10))),
        modal=bool(rng.random() < 0.6),
        padded=bool(rng.random() < 0.4),
        stripped=bool(rng.random() < 0.5),
        bed_zero=bool(rng.random() < 0.2),
        cycles=bool(rng.random() < 0.6),
        corner=(float(rng.choice((0.0, 0.0, 0.5))), float(rng.choice((0.0, 0.0, 0.5)))),
        climb=bool(rng.random() < 0.6),
    )


def speeds(rng: Rng, shop: Shop, bit: Bit) -> tuple[float, float, float]:
    """Spindle speed (rpm), feed and plunge feed (mm/min) for a bit: chip load grows with the
    diameter.
    """
    size = {"vee": 5.0, "taper-ball": 2.5 * tip_size(bit)}.get(bit.shape, bit.diameter)
    if bit.shape == "drill":
        speed = float(rng.choice((3000, 4000, 5000, 6000)))
        feed = neat(shop, rng.uniform(0.015, 0.03) * size * speed)
        return speed, feed, feed
    speed = shop.fixed_speed or (
        24000 if size < 2.5 else 18000 if size < 13 else 14000 if size < 22 else 10000
    )
    load = shop.load * (0.02 + 0.018 * size) * rng.uniform(0.85, 1.15)
    feed = neat(shop, min(load * (bit.flutes or 2) * speed, shop.fastest))
    return speed, feed, neat(shop, feed * rng.choice((0.25, 1 / 3, 0.4, 0.5)))


def neat(shop: Shop, feed: float) -> float:
    """Round a feed as people write them."""
    unit, least = (1.0, 10.0) if shop.unit == "mm" else (INCH, 1.0)
    step = least * (5 if feed / unit > 40 * least else 1)
    return max(round(feed / unit / step), 1) * step * unit


def share(rng: Rng, *choices: float) -> float:
    """One of the shares people use."""
    return float(rng.choice(choices))


def nice(shop: Shop, size: float) -> float:
    """Round a size of the drawing as drawings have them: whole mm (fives above 40), or eighths of
    an inch.
    """
    if shop.unit == "in":
        step = INCH / (16 if size < 40 else 8)
    else:
        step = 0.5 if size < 10 else 1.0 if size < 40 else 5.0
    return max(round(size / step), 1) * step


# ---------------------------------------------------------------- the path, and what cuts it


@dataclass(slots=True)
class Cam:
    """Collects moves: (kind, x, y, z, feed, cx, cy), z 0 at the top of the blank."""

    rng: Rng
    shop: Shop
    bit: Bit
    speed: float
    feed: float
    plunge: float
    thick: float
    safe: float
    near: float
    entry: str
    slope: float
    moves: list[tuple[str, float, float, float, float, float, float]] = field(default_factory=list)

    @property
    def at(self) -> tuple[float, float, float]:
        """Where the tip is."""
        return self.moves[-1][1:4] if self.moves else (0.0, 0.0, self.safe)

    def go(self, x: float, y: float) -> None:
        """Lift, go to a place, and down to just above the top."""
        px, py, pz = self.at
        if pz < self.safe:
            self.moves.append(("G0", px, py, self.safe, 0.0, 0.0, 0.0))
        self.moves.append(("G0", x, y, self.safe, 0.0, 0.0, 0.0))
        if self.near < self.safe:
            self.moves.append(("G0", x, y, self.near, 0.0, 0.0, 0.0))

    def cut(self, x: float, y: float, z: float, feed: float | None = None) -> None:
        """Cut along a straight line."""
        if math.dist((x, y, z), self.at) > 1e-6:
            self.moves.append(("G1", x, y, z, feed or self.feed, 0.0, 0.0))

    def arc(
        self,
        ccw: bool,
        x: float,
        y: float,
        z: float,
        cx: float,
        cy: float,
        feed: float | None = None,
    ) -> None:
        """Cut along an arc around (cx, cy), as a helix where z changes."""
        self.moves.append(("G3" if ccw else "G2", x, y, z, feed or self.feed, cx, cy))

    def follow(self, points: np.ndarray, z: float) -> None:
        """Cut along points at one height, as arcs where they lie on circles."""
        for end, circle in (
            as_arcs(points) if self.shop.arcs != "none" else ((p, None) for p in points[1:])
        ):
            if circle is None:
                self.cut(end[0], end[1], z)
            else:
                self.arc(circle[2] > 0, end[0], end[1], z, circle[0], circle[1])

    def sink(self, points: np.ndarray, z: float, top: float) -> np.ndarray:
        """Get down to z where a closed path begins; returns it as it is to be followed then."""
        x, y = points[0]
        length = LineString(points).length
        if self.entry == "plunge" or length < 0.5 * self.bit.diameter:
            self.cut(x, y, top, self.plunge)
            self.cut(x, y, z, self.plunge)
            return points
        self.cut(x, y, top, self.plunge)
        way = min((top - z) / math.tan(self.slope), 0.95 * length)
        down = np.array(substring(LineString(points), 0, way).coords)
        run = np.append(0.0, np.cumsum(np.hypot(*np.diff(down, axis=0).T)))
        for p, s in zip(down[1:], run[1:], strict=True):
            self.cut(
                p[0], p[1], top + (z - top) * s / way, self.plunge if self.slope > 0.12 else None
            )
        return np.vstack([down[-1:], *closed_from(points, way)])


def closed_from(points: np.ndarray, way: float) -> tuple[np.ndarray, np.ndarray]:
    """Go on around a closed path from a place on it, to that place again."""
    line = LineString(points)
    rest, again = substring(line, way, line.length), substring(line, 0, way)
    return np.array(rest.coords)[1:], np.array(again.coords)[1:]


def as_arcs(points: np.ndarray) -> Iterator[tuple[np.ndarray, tuple[float, float, int] | None]]:
    """Write points as lines and arcs: yields (end, None) or (end, (centre x, centre y, turn))."""
    i, last = 0, len(points) - 1
    while i < last:
        best, circle = i + 1, None
        j = min(i + 3, last)
        while j <= last and (found := circle_of(points[i : j + 1])) is not None:
            best, circle = j, found
            j += 1
        yield points[best], circle if best - i >= 3 else None
        i = best if best - i >= 3 else i + 1


def circle_of(p: np.ndarray) -> tuple[float, float, int] | None:
    """Centre and turn of the circle through points, or None if they lie on none of less than 300
    degrees.
    """
    a, b, c = p[0], p[len(p) // 2], p[-1]
    cross = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    if len(p) < 4 or abs(cross) < 1e-6:
        return None
    d, e = b - a, c - a
    dd, ee = d @ d, e @ e
    centre = a + np.array([e[1] * dd - d[1] * ee, d[0] * ee - e[0] * dd]) / (2 * cross)
    r = np.hypot(*(p - centre).T)
    steps = np.diff(np.unwrap(np.arctan2(*(p - centre).T[::-1])))
    if np.ptp(r) > 0.004 or r[0] > 1500 or np.abs(steps).max() > 0.3 or abs(steps.sum()) > 5.2:
        return None
    if (steps > 0).any() and (steps < 0).any():
        return None
    return float(centre[0]), float(centre[1]), 1 if steps[0] > 0 else -1


def thin_out(p: np.ndarray, off: float) -> np.ndarray:
    """Leave out points of a path in space that lie within `off` of the line without them."""
    keep = np.zeros(len(p), bool)
    keep[[0, -1]] = True
    todo = [(0, len(p) - 1)]
    while todo:
        i, j = todo.pop()
        if j - i < 2:
            continue
        along = p[j] - p[i]
        t = np.clip((p[i + 1 : j] - p[i]) @ along / max(along @ along, 1e-12), 0, 1)
        far = np.linalg.norm(p[i + 1 : j] - p[i] - t[:, None] * along, axis=1)
        k = int(far.argmax())
        if far[k] > off:
            keep[i + 1 + k] = True
            todo += [(i, i + 1 + k), (i + 1 + k, j)]
    return p[keep]


def levels(depth: float, most: float, even: bool) -> list[float]:
    """Heights of the passes down to a depth."""
    n = max(math.ceil(depth / most - 1e-6), 1)
    step = depth / n if even else most
    return [-min((k + 1) * step, depth) for k in range(n)]


# ---------------------------------------------------------------- shapes of the drawing


def disc(r: float) -> Polygon:
    """A circle, with chords that leave it by less than 0.003 mm."""
    n = math.ceil(math.pi / 4 / math.acos(1 - min(0.003 / r, 0.5)))
    return Point(0, 0).buffer(r, quad_segs=max(n, 6))


def grow(shape: Polygon, by: float) -> Polygon:
    """Offset with round joins."""
    return (
        shape.buffer(
            by, quad_segs=max(12, math.ceil(0.8 / math.acos(1 - min(0.003 / abs(by), 0.5))))
        )
        if by
        else shape
    )


def parts(shape: Polygon) -> list[Polygon]:
    """The polygons of a result of shapely, slivers left out."""
    found = getattr(shape, "geoms", [shape])
    return [p for p in found if isinstance(p, Polygon) and p.area > 0.05]


def rounded(w: float, h: float, r: float) -> Polygon:
    """A rectangle with rounded corners around 0."""
    if r <= 0:
        return box(-w / 2, -h / 2, w / 2, h / 2)
    return grow(box(-w / 2 + r, -h / 2 + r, w / 2 - r, h / 2 - r), r)


def polar(radius: np.ndarray, turn: float = 0.0) -> Polygon:
    """A closed curve from its radii at even angles."""
    a = np.linspace(0, 2 * np.pi, len(radius), endpoint=False) + turn
    return Polygon(np.c_[radius * np.cos(a), radius * np.sin(a)])


def draw_shape(rng: Rng, shop: Shop, size: float) -> Polygon:
    """Draw an outline of about a size: what is cut out of boards and pocketed in them."""
    s = nice(shop, size)
    h = nice(shop, s * rng.uniform(0.45, 1.0))
    kind = rng.choice(
        (
            "round rect",
            "rect",
            "disc",
            "ellipse",
            "polygon",
            "L",
            "T",
            "blob",
            "star",
            "gear",
            "shield",
            "pear",
            "slot",
        )
    )
    r = nice(shop, rng.uniform(0.06, 0.2) * min(s, h))
    if kind == "round rect":
        return rounded(s, h, min(r, 0.45 * h))
    if kind == "rect":
        return rounded(s, h, 0)
    if kind == "disc":
        return disc(s / 2)
    if kind == "ellipse":
        a = np.linspace(0, 2 * np.pi, 240, endpoint=False)
        return Polygon(np.c_[s / 2 * np.cos(a), h / 2 * np.sin(a)])
    if kind == "polygon":
        n = int(rng.choice((5, 6, 8)))
        return polar(np.full(n, s / 2), np.pi / n)
    if kind in ("L", "T"):
        t = nice(shop, s * rng.uniform(0.35, 0.5))
        stem = (
            box(-t / 2, -h / 2, t / 2, h / 2)
            if kind == "T"
            else box(-s / 2, -h / 2, -s / 2 + t, h / 2)
        )
        whole = unary_union([box(-s / 2, h / 2 - min(t, 0.6 * h), s / 2, h / 2), stem])
        return whole if rng.random() < 0.5 else grow(grow(grow(whole, r / 2), -r), r / 2)
    if kind == "blob":
        a = np.linspace(0, 2 * np.pi, 180, endpoint=False)
        waves = sum(
            rng.uniform(0.02, 0.16) / k * np.cos(k * a + rng.uniform(0, 6.3)) for k in (2, 3, 4, 5)
        )
        return polar(s / 2 / 1.15 * (1 + waves))
    if kind == "star":
        n = int(rng.choice((5, 6, 8)))
        return polar(np.tile([s / 2, s * rng.uniform(0.26, 0.36)], n), np.pi / 2)
    if kind == "gear":
        n = int(rng.choice((8, 10, 12)))
        return polar(np.tile([s / 2, s / 2, s * 0.4, s * 0.4], n), 0.1)
    if kind == "shield":
        low = disc(0.8 * s).intersection(affinity.translate(disc(0.8 * s), 0.6 * s, 0))
        low = affinity.translate(low, -0.3 * s, 0)
        return parts(low.intersection(box(-s, -s, s, 0.28 * s)))[0]
    if kind == "pear":
        return unary_union([disc(s / 3.2), affinity.translate(disc(s / 5), 0, s / 2.4)]).convex_hull
    return rounded(s, max(h / 2, 0.3 * s), 0.49 * max(h / 2, 0.3 * s))


def sheet_of(rng: Rng, shapes: list[Polygon], gap: float) -> list[Polygon]:
    """Lay shapes out on a sheet in rows, a gap apart."""
    out, x, y, row = [], 0.0, 0.0, 0.0
    wide = max(
        1.0,
        math.sqrt(sum((s.bounds[2] - s.bounds[0]) * (s.bounds[3] - s.bounds[1]) for s in shapes))
        * 1.3,
    )
    for s in shapes:
        w, h = s.bounds[2] - s.bounds[0], s.bounds[3] - s.bounds[1]
        if x and x + w > wide:
            x, y, row = 0.0, y + row + gap, 0.0
        out.append(affinity.translate(s, x - s.bounds[0], y - s.bounds[1]))
        x, row = x + w + gap, max(row, h)
    return out


# ---------------------------------------------------------------- strokes and letters

LETTERS: dict[str, list[tuple[bool, list[tuple[float, float]]]]] = {
    "A": [(False, [(0, 0), (2, 6)]), (False, [(2, 6), (4, 0)]), (False, [(0.8, 2), (3.2, 2)])],
    "E": [(False, [(0, 0), (0, 6)]), (False, [(0, 6), (3, 6)]),
          (False, [(0, 3), (2.5, 3)]), (False, [(0, 0), (3, 0)])],
    "H": [(False, [(0, 0), (0, 6)]), (False, [(3.5, 0), (3.5, 6)]), (False, [(0, 3), (3.5, 3)])],
    "K": [(False, [(0, 0), (0, 6)]), (False, [(0, 2.4), (3.4, 6)]),
          (False, [(1.1, 3.5), (3.6, 0)])],
    "L": [(False, [(0, 6), (0, 0)]), (False, [(0, 0), (3, 0)])],
    "M": [(False, [(0, 0), (0.4, 6)]), (False, [(0.4, 6), (2.3, 1)]),
          (False, [(2.3, 1), (4.2, 6)]), (False, [(4.2, 6), (4.6, 0)])],
    "N": [(False, [(0, 0), (0, 6)]), (False, [(0, 6), (3.6, 0)]), (False, [(3.6, 0), (3.6, 6)])],
    "T": [(False, [(0, 6), (4, 6)]), (False, [(2, 6), (2, 0)])],
    "V": [(False, [(0, 6), (2, 0)]), (False, [(2, 0), (4, 6)])],
    "Z": [(False, [(0, 6), (3.6, 6)]), (False, [(3.6, 6), (0, 0)]), (False, [(0, 0), (3.6, 0)])],
    "O": [(True, [(2, 6), (-0.4, 6), (-0.4, 0), (4.4, 0), (4.4, 6), (2, 6)])],
    "S": [(True, [(3.4, 5.2), (2.6, 6.6), (-0.6, 6), (0.4, 3.4), (3.4, 3), (4.2, -0.2),
          (0.8, -0.6), (0, 1)])],
    "U": [(True, [(0, 6), (0, 3), (0, -0.6), (3.6, -0.6), (3.6, 3), (3.6, 6)])],
    "C": [(True, [(3.6, 5), (2.6, 6.4), (-0.6, 6.4), (-0.6, -0.4), (2.6, -0.4), (3.6, 1)])],
    "R": [(False, [(0, 0), (0, 6)]), (True, [(0, 6), (2, 6), (4, 6), (4, 3), (2, 3), (0, 3)]),
          (False, [(1.6, 3), (3.6, 0)])],
    "D": [(False, [(0, 0), (0, 6)]), (True, [(0, 6), (1.6, 6), (4.4, 6), (4.4, 0), (1.6, 0),
          (0, 0)])],
}  # fmt: skip


def stroke(points: list[tuple[float, float]], curved: bool) -> np.ndarray:
    """Points of a stroke: corners cut four times where it is curved."""
    p = np.array(points, float)
    for _ in range(4 if curved else 0):
        q = np.vstack([0.75 * p[:-1] + 0.25 * p[1:], 0.25 * p[:-1] + 0.75 * p[1:]])
        q = q.reshape(2, -1, 2).transpose(1, 0, 2).reshape(-1, 2)
        p = np.vstack([p[:1], q, p[-1:]])
    return p


def inked(p: np.ndarray, style: str, width: float) -> Polygon:
    """What a pen leaves along a stroke: a broad nib, a flared stroke, or an even one."""
    if style == "nib":
        nib = width / 2 * np.array([math.cos(0.6), math.sin(0.6)])
        dabs = [
            MultiPoint([a - nib, a + nib, b - nib, b + nib]).convex_hull
            for a, b in itertools.pairwise(p)
        ]
        return unary_union([d.buffer(0.09 * width, quad_segs=1, join_style="mitre") for d in dabs])
    if style == "flared" and len(p) == 2:
        along = p[1] - p[0]
        across = np.array([-along[1], along[0]]) / np.hypot(*along)
        half = width * np.array([0.75, 0.42, 0.42, 0.75])[:, None]
        at = p[0] + np.array([-0.02, 0.3, 0.7, 1.02])[:, None] * along
        return Polygon(np.vstack([at + half * across, (at - half * across)[::-1]]))
    return LineString(p).buffer(width / 2, cap_style="flat", join_style="mitre", quad_segs=24)


def lettering(rng: Rng, height: float, count: int) -> list[Polygon]:
    """A word of letters of a height, on one line or on a bow."""
    style = str(rng.choice(("nib", "flared", "plain")))
    width = rng.uniform(0.7, 1.3)
    out: list[Polygon] = []
    x = 0.0
    for c in rng.choice(sorted(LETTERS), count):
        ink = unary_union([inked(stroke(p, curved), style, width) for curved, p in LETTERS[c]])
        ink = affinity.translate(ink, x - ink.bounds[0], 0)
        x = ink.bounds[2] + 0.9
        out += parts(affinity.scale(ink, height / 6, height / 6, origin=(0, 0)))
    return [p.simplify(0.004 * height / 6) for p in out]


def petals(rng: Rng, size: float) -> list[Polygon]:
    """A rosette of lens-shaped petals in a ring of leaves, none touching another."""
    n = int(rng.choice((6, 8, 12)))
    long = size * 0.24
    bow = long * (rng.uniform(0.62, 0.8) if n < 12 else rng.uniform(0.8, 0.86))
    lens = affinity.translate(disc(long), 0, bow).intersection(
        affinity.translate(disc(long), 0, -bow)
    )
    lens = affinity.scale(lens, 0.85 * long / (lens.bounds[2]), 1.0, origin=(0, 0))
    inner = [
        affinity.rotate(affinity.translate(lens, 0.3 * size, 0), 360 * k / n, origin=(0, 0))
        for k in range(n)
    ]
    drop = parts(lens.intersection(box(-long, 0, long, long)))[0]
    outer = [
        affinity.rotate(
            affinity.translate(drop, 0.66 * size, 0), 360 * (k + 0.5) / n, origin=(0, 0)
        )
        for k in range(n)
    ]
    return inner + outer if rng.random() < 0.6 else inner


# ---------------------------------------------------------------- milling: pockets and profiles


def ring_points(
    cam: Cam, ring: LineString, inside: bool, start: tuple[float, float] | None = None
) -> np.ndarray:
    """Points of a closed path, in the shop's direction, beginning nearest to `start`."""
    ring = LineString(ring.coords).simplify(0.002 if cam.shop.arcs != "none" else 0.008)
    p = np.array(ring.coords)
    if shapely.LinearRing(p).is_ccw != (cam.shop.climb == inside):
        p = p[::-1]
    if start is not None:
        line = LineString(p)
        way = line.project(Point(start))
        if 1e-3 < way < line.length - 1e-3:
            p = np.vstack([np.array(line.interpolate(way).coords), *closed_from(p, way)])
    return p


def nest(region: Polygon, step: float) -> Iterator[Polygon]:
    """Regions of a pocket from the innermost to the one at the wall, each a step from the next."""
    for inner in parts(grow(region, -step)):
        yield from nest(inner, step)
    yield region


def rings(cam: Cam, walls: Polygon, step: float, z: float, top: float) -> None:
    """Clear what the tool centre may cover, ring by ring from inside, at one height."""
    low = False
    done: list[LineString] = []
    for region in nest(walls, step):
        for k, ring in enumerate((region.exterior, *region.interiors)):
            p = ring_points(cam, ring, k == 0, cam.at[:2] if low else None)
            link = LineString([cam.at[:2], p[0]]) if low else None
            if link is not None and link.length < 1.6 * step and walls.buffer(0.01).contains(link):
                cam.cut(p[0][0], p[0][1], z)
            else:
                cam.go(*p[0])
                p = (
                    cam.sink(p, z, min(top + 0.5, cam.near))
                    if not touched(done, p[0], cam.bit)
                    else dropped(cam, p, z)
                )
            cam.follow(p, z)
            done.append(ring)
            low = True


def touched(done: list[LineString], p: np.ndarray, bit: Bit) -> bool:
    """Whether a place lies well inside what has been cleared."""
    return any(ring.distance(Point(p)) < 0.02 * bit.diameter for ring in done)


def dropped(cam: Cam, p: np.ndarray, z: float) -> np.ndarray:
    """Go down where nothing is left to cut."""
    cam.cut(p[0][0], p[0][1], z, cam.plunge)
    return p


def rows_in(region: Polygon, pitch: float, angle: float) -> list[list[np.ndarray]]:
    """Rows over a region, a pitch apart: for each row its pieces."""
    turned = affinity.rotate(region, -angle, origin=(0, 0))
    x0, y0, x1, y1 = turned.bounds
    n = max(math.ceil((y1 - y0) / pitch - 1e-6), 1)
    out = []
    for k in range(n + 1):
        y = min(max(y0 + k * (y1 - y0) / n, y0 + 1e-3), y1 - 1e-3)
        got = turned.intersection(LineString([(x0 - 1, y), (x1 + 1, y)]))
        lines = [
            g for g in getattr(got, "geoms", [got]) if isinstance(g, LineString) and g.length > 0.3
        ]
        lines.sort(key=lambda g: g.bounds[0])
        out.append(
            [np.array(affinity.rotate(g, angle, origin=(0, 0)).coords)[[0, -1]] for g in lines]
        )
    return out


def zigzag(cam: Cam, walls: Polygon, pitch: float, angle: float, z: float, top: float) -> None:
    """Clear by rows to and fro, then go around the wall once."""
    allowance = share(cam.rng, 0.0, 0.1, 0.05) * cam.bit.diameter
    for region in parts(grow(walls, -allowance)):
        low, forth = False, True
        for row in rows_in(region, pitch, angle):
            for piece in row if forth else row[::-1]:
                p = piece if forth else piece[::-1]
                if low and region.buffer(0.02).contains(LineString([cam.at[:2], p[0]])):
                    cam.cut(p[0][0], p[0][1], z)
                else:
                    cam.go(*p[0])
                    back = np.vstack([p, p[:1]])
                    if cam.entry == "plunge" or low:
                        cam.cut(p[0][0], p[0][1], z, cam.plunge)
                    else:
                        cam.sink(back, z, min(top + 0.5, cam.near))
                        cam.cut(p[0][0], p[0][1], z)
                cam.cut(p[1][0], p[1][1], z)
                low = True
            forth = not forth
    for region in parts(walls):
        for k, ring in enumerate((region.exterior, *region.interiors)):
            p = ring_points(cam, ring, k == 0)
            cam.go(*p[0])
            cam.follow(dropped(cam, p, z), z)


def spiral(
    cam: Cam, centre: tuple[float, float], r: float, step: float, z: float, top: float
) -> None:
    """Clear a round pocket from the middle by half circles that grow, then a full circle; down by a
    helix.
    """
    cx, cy = centre
    ccw = cam.shop.climb
    h = min(share(cam.rng, 0.3, 0.4, 0.45) * cam.bit.diameter, r)
    cam.go(cx + h, cy)
    start = min(top + 0.5, cam.near)
    cam.cut(cx + h, cy, start, cam.plunge)
    turns = max(math.ceil((start - z) / (2 * math.pi * h * math.tan(cam.slope))), 1)
    for k in range(2 * turns):
        side = -1 if k % 2 == 0 else 1
        cam.arc(
            ccw, cx + side * h, cy, start + (z - start) * (k + 1) / (2 * turns), cx, cy, cam.plunge
        )
    loop_at(cam, centre, h, z, 1)
    at, side = h, 1
    while at < r - 1e-6:
        grown = min(at + step / 2, r)
        cam.arc(ccw, cx - side * grown, cy, z, cx + side * (at - grown) / 2, cy)
        at, side = grown, -side
    loop_at(cam, centre, r, z, side)


def loop_at(cam: Cam, centre: tuple[float, float], r: float, z: float, side: int) -> None:
    """Go around a full circle from where it is touched, in two halves."""
    cam.arc(cam.shop.climb, centre[0] - side * r, centre[1], z, *centre)
    cam.arc(cam.shop.climb, centre[0] + side * r, centre[1], z, *centre)


@dataclass(slots=True)
class Clearing:
    """How pockets are cleared in this job."""

    way: str
    step: float
    angle: float
    passes: float
    even: bool


def draw_clearing(
    cam: Cam, depth_share: tuple[float, ...] = (0.25, 0.3, 0.4, 0.5, 0.5, 0.75, 1.0)
) -> Clearing:
    """Draw how a job clears: the stepover and the depth of a pass as shares of the diameter."""
    rng, d = cam.rng, cam.bit.diameter
    step = share(rng, 0.35, 0.4, 0.4, 0.45, 0.5, 0.5, 0.6) * d
    passes = round(share(rng, *depth_share) * cam.shop.hard * d, 1)
    way = str(rng.choice(("rings", "rings", "zigzag")))
    return Clearing(way, step, share(rng, 0, 0, 90, 45), max(passes, 0.2), bool(rng.random() < 0.5))


def clear(cam: Cam, how: Clearing, region: Polygon, depth: float) -> None:
    """Clear a region of the drawing to a depth."""
    r = cam.bit.diameter / 2
    for walls in parts(grow(region, -r)):
        top = 0.0
        round_ = (
            abs(walls.area / (math.pi * (walls.bounds[2] - walls.bounds[0]) ** 2 / 4) - 1) < 0.003
        )
        for z in levels(depth, how.passes, how.even):
            if round_ and not walls.interiors and cam.shop.arcs != "none":
                c = walls.centroid
                spiral(cam, (c.x, c.y), (walls.bounds[2] - walls.bounds[0]) / 2, how.step, z, top)
            elif how.way == "rings":
                rings(cam, walls, how.step, z, top)
            else:
                zigzag(cam, walls, how.step, how.angle, z, top)
            top = z


@dataclass(slots=True)
class Tabs:
    """Tabs of a cut-out: how many, how long, how far above the bottom they stand, mm."""

    count: int
    long: float
    high: float


def profile(cam: Cam, ring: LineString, inside: bool, zs: list[float], tabs: Tabs | None) -> None:
    """Cut along a closed path in passes, over tabs in the deep ones."""
    p = ring_points(cam, ring, inside)
    if len(p) > 3:
        k = int(np.argmax(np.hypot(*np.diff(p, axis=0).T)))
        middle = (p[k] + p[k + 1]) / 2
        p = ring_points(cam, ring, inside, tuple(middle))
    cam.go(*p[0])
    top = 0.0
    for z in zs:
        lift = zs[-1] + tabs.high if tabs else -1e9
        if tabs and lift > z + 1e-6:
            cam.cut(p[0][0], p[0][1], max(z, lift), cam.plunge)
            over_tabs(cam, p, z, lift, tabs)
        else:
            cam.follow(
                cam.sink(p, z, min(top + 0.3, cam.near))
                if top == 0 or cam.entry != "plunge"
                else dropped(cam, p, z),
                z,
            )
            start = cam.at
            cam.cut(start[0], start[1], z)
            if math.dist(start[:2], p[0]) > 1e-3:
                cam.go(*p[0])
        top = z


def over_tabs(cam: Cam, p: np.ndarray, z: float, lift: float, tabs: Tabs) -> None:
    """Go around at z, up over each tab; a tab is as long as wanted between two cuts of the bit's
    width.
    """
    line = LineString(p)
    half = (tabs.long + cam.bit.diameter) / 2
    s = 0.0
    for k in range(tabs.count):
        at = line.length * (k + 0.5) / tabs.count
        before, after = at - half, at + half
        cut_piece(cam, line, s, before, z)
        here = cam.at
        cam.cut(here[0], here[1], lift)
        cut_piece(cam, line, before, after, lift)
        here = cam.at
        cam.cut(here[0], here[1], z, cam.plunge)
        s = after
    cut_piece(cam, line, s, line.length, z)


def cut_piece(cam: Cam, line: LineString, a: float, b: float, z: float) -> None:
    """Follow a piece of a path between two ways along it."""
    if b - a > 1e-6:
        p = np.array(substring(line, a, b).coords)
        if abs(cam.at[2] - z) > 1e-9:
            cam.cut(p[0][0], p[0][1], z, cam.plunge)
        cam.follow(p, z)


# ---------------------------------------------------------------- jobs of flat bits


def pockets(cam: Cam) -> None:
    """One to six pockets, some with islands."""
    rng, d = cam.rng, cam.bit.diameter
    how = draw_clearing(cam)
    n = int(rng.integers(1, 7))
    size = min(max(d * rng.uniform(7, 18) / math.sqrt(n) + d, 8), 220)
    shapes = [draw_shape(rng, cam.shop, size * rng.uniform(0.7, 1.3)) for _ in range(n)]
    depth = nice_depth(cam, rng.uniform(0.6, 2.0) * d)
    for s in sheet_of(rng, shapes, nice(cam.shop, 2 * d)):
        if rng.random() < 0.35 and size > 6 * d:
            c = s.representative_point()
            island = affinity.translate(draw_shape(rng, cam.shop, size * 0.25), c.x, c.y)
            s = s.difference(island) if s.contains(grow(island, 1.1 * d)) else s
        for region in parts(s):
            clear(cam, how, region, depth)


def nice_depth(cam: Cam, depth: float) -> float:
    """Round a depth as drawings have it, not deeper than the bit or most of the board."""
    most = min(cam.bit.flute_length or 99.0, 0.75 * cam.thick)
    step = 0.5 if cam.shop.unit == "mm" else INCH / 32
    return max(math.floor(min(depth, most) / step), 1) * step


def raised_word(cam: Cam) -> None:
    """The ground around letters is cleared, within a border."""
    rng, d = cam.rng, cam.bit.diameter
    how = draw_clearing(cam)
    height = max(d * rng.uniform(7, 11), 12)
    word = [grow(p, 0.02) for p in lettering(rng, height, int(rng.integers(3, 6)))]
    whole = unary_union(word)
    x0, y0, x1, y1 = whole.bounds
    gap = nice(cam.shop, max(1.5 * d, 0.2 * height))
    plate = affinity.translate(
        rounded(x1 - x0 + 2 * gap, y1 - y0 + 2 * gap, share(rng, 0, 0.9) * gap),
        (x0 + x1) / 2,
        (y0 + y1) / 2,
    )
    depth = nice_depth(cam, rng.uniform(1.0, 3.0))
    for region in parts(plate.difference(whole)):
        if region.area > 4 * d * d:
            clear(cam, how, region, depth)


def cut_outs(cam: Cam) -> None:
    """Parts with holes are cut out of a board with tabs: holes first."""
    rng, d = cam.rng, cam.bit.diameter
    n = int(rng.integers(2, 7))
    shapes = []
    for _ in range(n):
        outer = draw_shape(rng, cam.shop, min(max(d * rng.uniform(12, 30), 40), 400))
        if rng.random() < 0.6:
            hole = affinity.translate(
                draw_shape(rng, cam.shop, max(2.2 * d, 0.25 * outer.bounds[2])),
                *outer.representative_point().coords[0],
            )
            outer = outer.difference(hole) if outer.contains(grow(hole, 1.5 * d)) else outer
        shapes.append(outer)
    through = cam.thick + share(rng, 0.0, 0.1, 0.2, 0.3, 0.5)
    zs = levels(
        through,
        max(round(share(rng, 0.4, 0.5, 0.75, 1.0) * cam.shop.hard * d, 1), 0.5),
        bool(rng.random() < 0.6),
    )
    tabs = (
        Tabs(int(rng.choice((2, 3, 4))), share(rng, 4, 5, 6, 8, 10), share(rng, 1.5, 2, 3))
        if rng.random() < 0.8
        else None
    )
    for s in sheet_of(rng, shapes, nice(cam.shop, 2.5 * d + 2)):
        for part in parts(s):
            for hole in part.interiors:
                for way in parts(grow(Polygon(hole), -d / 2)):
                    profile(cam, way.exterior, True, zs, None)
            way = (
                part.buffer(d / 2, join_style="mitre", mitre_limit=4)
                if cam.slope < 0.06
                else grow(part, d / 2)
            )
            fits = tabs and tabs.count * (tabs.long + 2.5 * d) < way.exterior.length
            profile(cam, way.exterior, False, zs, tabs if fits else None)


def fingers(cam: Cam) -> None:
    """Sides of a box with finger joints; the bit goes into inner corners so that they fit."""
    rng, d = cam.rng, cam.bit.diameter
    thick = cam.thick
    zs = levels(
        thick + 0.2, max(round(share(rng, 0.4, 0.5, 0.75) * cam.shop.hard * d, 1), 0.5), True
    )
    tabs = Tabs(4, share(rng, 5, 6, 8), 2.0)
    n = int(rng.choice((3, 5, 7)))
    finger = nice(cam.shop, max(2.2 * d, rng.uniform(10, 25)))
    wide = nice(cam.shop, rng.uniform(6, 12) * finger)
    shapes = []
    for side in range(int(rng.integers(2, 5))):
        body = box(0, 0, wide, n * finger)
        for k in range(side % 2, n, 2):
            cut = box(0, k * finger, thick, (k + 1) * finger)
            body = body.difference(cut).difference(affinity.translate(cut, wide - thick, 0))
        shapes.append(body)
    for s in sheet_of(rng, shapes, nice(cam.shop, 2.5 * d)):
        way = grow(s, d / 2).simplify(0.002)
        profile(cam, with_bones(way.exterior, s, d), False, zs, tabs)


def with_bones(way: LineString, part: Polygon, d: float) -> LineString:
    """Let the path reach into each inner corner of a part until the bit's edge meets the corner."""
    p = list(shapely.geometry.polygon.orient(part, 1.0).exterior.coords)[:-1]
    out = list(way.coords)
    for a, b, c in zip(p[-1:] + p[:-1], p, p[1:] + p[:1], strict=True):
        if (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]) < -1e-9:
            k = min(range(len(out)), key=lambda i: math.dist(out[i], b))
            far = math.dist(out[k], b)
            into = tuple(out[k][i] + (b[i] - out[k][i]) * (far - d / 2) / far for i in (0, 1))
            out[k : k + 1] = [out[k], into, out[k]]
    return LineString(out)


def facing(cam: Cam) -> None:
    """A board is made flat: rows over all of it, out over its edges, or around it from outside."""
    rng, d = cam.rng, cam.bit.diameter
    w, h = nice(cam.shop, rng.uniform(10, 28) * d), nice(cam.shop, rng.uniform(10, 22) * d)
    step = share(rng, 0.4, 0.5, 0.6, 0.7, 0.75, 0.8) * d
    zs = levels(share(rng, 0.5, 1.0, 1.5, 2.0), share(rng, 0.5, 1.0), True)
    over = share(rng, 0.5, 0.5, 0.6, 0.75) * d
    way = str(rng.choice(("to and fro", "one way", "around")))
    angle = share(rng, 0, 90)
    for z in zs * 2 if len(zs) == 1 and rng.random() < 0.3 else zs:
        if way == "around":
            for region in reversed(
                list(nest(box(-0.1 * d, -0.1 * d, w + 0.1 * d, h + 0.1 * d), step))
            ):
                p = np.array(region.exterior.coords)
                cam.go(*p[0]) if cam.at[2] > z else cam.cut(p[0][0], p[0][1], z)
                cam.cut(p[0][0], p[0][1], z, cam.plunge)
                cam.follow(p, z)
            continue
        wide, deep = (over, 0.0) if angle == 0 else (0.0, over)
        area = box(-wide, -deep, w + wide, h + deep)
        for k, row in enumerate(rows_in(area, step, angle)):
            for p in row:
                q = p[::-1] if way != "one way" and k % 2 else p
                if way == "one way" or k == 0:
                    cam.go(*q[0])
                cam.cut(q[0][0], q[0][1], z, cam.plunge if way == "one way" or k == 0 else None)
                cam.cut(q[1][0], q[1][1], z)


def dadoes(cam: Cam) -> None:
    """Sides of a cabinet: dadoes wider than the bit, a rabbet for the back, and stopped ones."""
    rng, d, shop = cam.rng, cam.bit.diameter, cam.shop
    w = nice(shop, rng.uniform(250, 600))
    wide = float(
        rng.choice(
            [t for t in (6.5, 9.0, 12.0, 15.0, 18.0, 19.0, 22.0, 25.0) if t > 1.15 * d] or [1.5 * d]
        )
    )
    step = share(rng, 0.4, 0.5, 0.6, 0.7, 0.8) * d
    depth = nice_depth(cam, 0.45 * cam.thick)
    zs = levels(
        depth,
        max(round(share(rng, 0.4, 0.5, 0.75) * shop.hard * d, 1), 0.5),
        bool(rng.random() < 0.6),
    )
    over = share(rng, 0.6, 0.75, 1.0) * d
    shelf = nice(shop, rng.uniform(150, 280))
    for k in range(int(rng.integers(2, 6))):
        stopped = rng.random() < 0.3
        y = nice(shop, 80) + k * shelf
        ends = (
            (nice(shop, 20) + d / 2, w - nice(shop, 20) - d / 2) if stopped else (-over, w + over)
        )
        groove(cam, ends, (y + d / 2, y + wide - d / 2), step, zs)
    back = float(rng.choice((6.0, 9.0, 10.0)))
    groove(cam, (-over, w + over), (min(back - d / 2, 0.0), back - d / 2), step, zs)


def groove(
    cam: Cam, xs: tuple[float, float], ys: tuple[float, float], step: float, zs: list[float]
) -> None:
    """A straight groove: in each pass lines to and fro between its two sides."""
    lanes = [
        ys[0] + (ys[1] - ys[0]) * k / n
        for n in [max(math.ceil(abs(ys[1] - ys[0]) / step - 1e-6), 1)]
        for k in range(n + 1)
    ]
    cam.go(xs[0], lanes[0])
    forth = True
    for z in zs:
        for k, y in enumerate(lanes):
            x, other = xs if forth else xs[::-1]
            if k == 0 and math.dist(cam.at[:2], (x, y)) > 1e-6:
                cam.go(x, y)
            cam.cut(x, y, z, cam.plunge if k == 0 else None)
            cam.cut(other, y, z)
            forth = not forth


def inlay(cam: Cam) -> None:
    """A recess and the piece that goes into it, by one bit: their corners are of its radius."""
    rng, d = cam.rng, cam.bit.diameter
    how = draw_clearing(cam)
    depth = nice_depth(cam, rng.uniform(2, 4))
    sized = [
        draw_shape(rng, cam.shop, max(d * rng.uniform(10, 18), 15))
        for _ in range(int(rng.integers(1, 4)))
    ]
    shapes = [grow(grow(grow(s, -0.51 * d), 1.02 * d), -0.51 * d) for s in sized]
    shapes = [p for s in shapes for p in parts(s)]
    laid = sheet_of(rng, shapes, nice(cam.shop, 3 * d + 4))
    for s in laid:
        clear(cam, how, s, depth)
    right = max(s.bounds[2] for s in laid) + 4 * d + 10
    play = share(rng, 0.0, 0.05, 0.1)
    for s in laid:
        for plug in parts(grow(affinity.translate(s, right, 0), -play)):
            for way in parts(grow(plug, d / 2)):
                profile(cam, way.exterior, False, levels(depth + 0.5, how.passes, how.even), None)


def bores(cam: Cam) -> None:
    """Holes and counterbores larger than the bit, each by a helix and a circle on its floor."""
    rng, d, shop = cam.rng, cam.bit.diameter, cam.shop
    small = nice(shop, d * rng.uniform(1.3, 1.9))
    large = nice(shop, small + d * rng.uniform(0.8, 1.8)) if rng.random() < 0.7 else None
    pitch = round(share(rng, 0.1, 0.15, 0.2, 0.25) * d, 2)
    nx, ny = int(rng.integers(3, 7)), int(rng.integers(2, 5))
    gap = nice(shop, max(4 * small, 25))
    step = share(rng, 0.4, 0.45, 0.5) * d
    for j in range(ny):
        for i in range(nx):
            x, y = i * gap, j * gap
            if large:
                helix(
                    cam,
                    (x, y),
                    (large - d) / 2,
                    0.0,
                    -nice_depth(cam, 0.35 * cam.thick),
                    pitch,
                    step,
                )
            floor = -nice_depth(cam, 0.35 * cam.thick) if large else 0.0
            helix(
                cam,
                (x, y),
                (small - d) / 2,
                floor,
                -min(cam.thick + 0.3, cam.bit.flute_length or 99),
                pitch,
                step,
            )


def helix(
    cam: Cam, centre: tuple[float, float], r: float, top: float, z: float, pitch: float, step: float
) -> None:
    """Bore down around a circle; where a core would stand, inner circles first."""
    cx, cy = centre
    inner = 0.4 * cam.bit.diameter
    circles = max(math.ceil((r - inner) / step), 0)
    ccw = cam.shop.climb
    for k in range(circles, -1, -1):
        at = r - k * (r - inner) / max(circles, 1)
        cam.go(cx + at, cy)
        cam.cut(cx + at, cy, top + 0.2, cam.plunge)
        n = max(math.ceil((top + 0.2 - z) / pitch), 1)
        for i in range(2 * n):
            side = -1 if i % 2 == 0 else 1
            cam.arc(
                ccw, cx + side * at, cy, top + 0.2 + (z - top - 0.2) * (i + 1) / (2 * n), cx, cy
            )
        loop_at(cam, centre, at, z, 1)


def loops(cam: Cam) -> None:
    """Deep slots somewhat wider than the bit, by loops that go forward a little each time."""
    rng, d = cam.rng, cam.bit.diameter
    wide = nice(cam.shop, d * rng.uniform(1.4, 1.9))
    r = (wide - d) / 2
    forward = share(rng, 0.08, 0.1, 0.12, 0.15) * d
    depth = nice_depth(cam, rng.uniform(1, 2) * d)
    long = nice(cam.shop, rng.uniform(8, 14) * d)
    zs = levels(depth, max(round(share(rng, 0.75, 1.0, 1.5) * d, 1), 1.0), True)
    for k in range(int(rng.integers(2, 6))):
        y = k * nice(cam.shop, 3 * wide)
        for z in zs:
            cam.go(0.0, y - r)
            cam.cut(0.0, y - r, z, cam.plunge)
            x = 0.0
            while x < long:
                loop = min(forward, long - x)
                cam.arc(True, x, y + r, z, x, y)
                cam.arc(True, x, y - r, z, x, y)
                cam.cut(x + loop, y - r, z)
                x += loop
            cam.arc(True, x, y + r, z, x, y)
            cam.arc(True, x, y - r, z, x, y)


def terraces(cam: Cam) -> None:
    """A bowl is roughed: the region of each layer is smaller than the one above, all by rings or
    rows.
    """
    rng, d = cam.rng, cam.bit.diameter
    how = draw_clearing(cam, (0.25, 0.3, 0.4, 0.5))
    shape = draw_shape(rng, cam.shop, min(d * rng.uniform(11, 18), 260))
    depth = nice_depth(cam, rng.uniform(1.5, 3) * d)
    bowl = rng.random() < 0.6
    inset = rng.uniform(0.6, 1.2) * depth
    rest = share(rng, 0.3, 0.5, 1.0)
    frame = box(*grow(shape, 2 * d).bounds)
    zs = levels(depth, how.passes, True)
    for z in zs:
        t = -z / depth
        if bowl:
            region = grow(shape, -rest - inset * (1 - math.sqrt(1 - 0.97 * t * t)))
        else:
            region = frame.difference(grow(shape, rest - inset * (1 - t)))
        for walls in parts(grow(region, -d / 2)):
            if how.way == "rings":
                rings(cam, walls, how.step, z, z + how.passes)
            else:
                zigzag(cam, walls, how.step, how.angle, z, z + how.passes)


# ---------------------------------- jobs of balls, tapered balls and bulls


def tray(cam: Cam) -> None:
    """Compartments of a tray with a fillet around the floor, by a bull nose."""
    rng, d = cam.rng, cam.bit.diameter
    how = draw_clearing(cam, (0.15, 0.2, 0.25, 0.3, 0.4))
    # rows further apart than the flat of the tip is wide would leave ridges on the floor
    how.step = min(how.step, 0.9 * (d - 2 * (cam.bit.corner_radius or 0)))
    n = int(rng.integers(1, 5))
    size = min(d * rng.uniform(8, 14) / math.sqrt(n) + d, 320)
    kinds = [draw_shape(rng, cam.shop, size * rng.uniform(0.8, 1.2)) for _ in range(n)]
    kinds = [p for s in kinds for p in parts(grow(grow(s, -0.55 * d), 0.55 * d))]
    depth = max(nice_depth(cam, rng.uniform(0.5, 1.2) * d), 1.1 * (cam.bit.corner_radius or 0))
    for s in sheet_of(rng, kinds, nice(cam.shop, 0.6 * d)):
        clear(cam, how, s, depth)


def profile_of(bit: Bit, r: np.ndarray) -> np.ndarray:
    """Height of the cutter's edge above its tip at a radius, mm."""
    ball = bit.tip_radius or bit.diameter / 2
    if bit.shape == "ball":
        return np.where(r <= ball, ball - np.sqrt(np.maximum(ball**2 - r**2, 0)), np.inf)
    half = bit.angle or 0.0
    meet = ball * math.cos(half)
    cone = ball - ball * math.sin(half) + (r - meet) / math.tan(half)
    return np.where(r <= meet, ball - np.sqrt(np.maximum(ball**2 - r**2, 0)), cone)


def heights(rng: Rng, x: np.ndarray, y: np.ndarray, size: float, deep: float) -> np.ndarray:
    """A height field between -deep and 0: a picture in low relief, with an edge that stands up."""
    r, a = np.hypot(x, y) / (size / 2), np.arctan2(y, x)
    kind = rng.choice(("shell", "hills", "flower", "waves", "badge"))
    if kind == "shell":
        k = int(rng.choice((7, 9, 11)))
        z = 0.55 * np.clip(1 - r**2, 0, 1) + 0.25 * np.abs(np.cos(k * (a + 0.4 * r)))
    elif kind == "hills":
        z = sum(
            rng.uniform(0.3, 0.8)
            * np.exp(
                -(
                    (x - rng.uniform(-0.4, 0.4) * size) ** 2
                    + (y - rng.uniform(-0.4, 0.4) * size) ** 2
                )
                / (rng.uniform(0.1, 0.25) * size) ** 2
            )
            for _ in range(6)
        )
    elif kind == "flower":
        k = int(rng.choice((5, 6, 8)))
        edge = 0.55 + 0.3 * np.abs(np.cos(k * a / 2))
        z = np.where(
            r < edge, 0.3 + 0.5 * np.sqrt(np.clip(r / edge, 0, 1)) + 0.1 * np.cos(3 * k * a), 0.05
        )
        z = np.where(r < 0.18, 0.95 - 3 * r**2, z)
    elif kind == "waves":
        f = rng.uniform(4, 8)
        z = (
            0.4
            + 0.3 * np.sin(f * r * 3 + rng.uniform(0, 6)) * np.exp(-r)
            + 0.15 * np.cos(f * x / size)
        )
    else:
        t = np.abs((a * 5 / (2 * np.pi)) % 1 - 0.5) * 2
        star = r < 0.42 + 0.33 * (1 - t)
        z = np.where(star, 0.5 + 0.4 * t * (1 - r), 0.12 + 0.06 * np.cos(18 * r))
    z = z / max(z.max(), 1.0)
    round_ = rng.random() < 0.5
    border = r > 0.9 if round_ else np.maximum(np.abs(x), np.abs(y)) > 0.45 * size
    return deep * (np.where(border, 1.0, z) - 1.0) - share(rng, 0.0, 0.0, 0.5)


def relief(cam: Cam) -> None:
    """The last pass over a relief: rows close enough for the wanted scallop, over the cutter's own
    offset.
    """
    rng, bit = cam.rng, cam.bit
    tip = tip_size(bit)
    if rng.random() < 0.5:
        scallop = share(rng, 0.004, 0.006, 0.01) * tip
        pitch = 2 * math.sqrt(tip * scallop - scallop**2)
    else:
        pitch = share(rng, 0.08, 0.1, 0.1, 0.12, 0.15) * tip
    pitch = round(pitch, 3)
    size = nice(cam.shop, min(max(pitch * rng.uniform(70, 120), 6 * tip, 15), 200))
    grid = max(size / 300, tip / 20)
    deep = min(share(rng, 0.05, 0.08, 0.1) * size + 1, 0.6 * cam.thick)
    reach = math.ceil(min(bit.diameter / 2, tip / 2 + deep * math.tan(bit.angle or 0)) / grid) + 1
    n = math.ceil(size / 2 / grid) + reach
    c = np.arange(-n, n + 1) * grid
    x, y = np.meshgrid(c, c)
    z = heights(rng, x, y, size, deep)
    k = np.arange(-reach, reach + 1) * grid
    edge = profile_of(bit, np.hypot(*np.meshgrid(k, k)))
    over = grey_dilation(
        z, footprint=np.isfinite(edge), structure=-np.where(np.isfinite(edge), edge, 0.0)
    )
    angle = share(rng, 0, 0, 90, 45)
    area = disc(size / 2) if rng.random() < 0.4 else box(-size / 2, -size / 2, size / 2, size / 2)
    one_way = rng.random() < 0.25
    low = False
    for i, row in enumerate(rows_in(area, pitch, angle)):
        for p in row:
            q = p if one_way or i % 2 == 0 else p[::-1]
            t = np.linspace(0, 1, max(int(math.dist(*q) / grid), 2))[:, None]
            xy = q[0] + t * (q[1] - q[0])
            at = map_coordinates(over, [xy[:, 1] / grid + n, xy[:, 0] / grid + n], order=1)
            path = thin_out(np.c_[xy, at], share(rng, 0.01, 0.02) if tip > 1 else 0.01)
            if not low or one_way:
                cam.go(*path[0][:2])
                cam.cut(*path[0], cam.plunge)
                low = True
            for point in path:
                cam.cut(*point)


def dish(cam: Cam) -> None:
    """The last pass in round dishes: circles from the rim to the middle, at even ways along the
    surface.
    """
    rng, d = cam.rng, cam.bit.diameter
    r = d / 2
    pitch = share(rng, 0.05, 0.08, 0.1, 0.12) * d
    for k in range(int(rng.integers(1, 3))):
        half = nice(cam.shop, rng.uniform(3.5, 8) * d) / 2
        deep = min(nice_depth(cam, rng.uniform(0.2, 0.5) * half), 0.8 * half)
        ball = (half**2 + deep**2) / (2 * deep)
        if ball <= 1.1 * r:
            continue
        cx = k * nice(cam.shop, 20 * d)
        inner = ball - r
        steep = math.asin(half / ball)
        n = max(math.ceil(ball * steep / pitch), 3)
        cam.go(cx + inner * math.sin(steep), 0.0)
        for i in range(n + 1):
            a = steep * (1 - i / n)
            at, z = inner * math.sin(a), ball - deep - inner * math.cos(a) - r
            cam.cut(cx + at, 0.0, z, cam.plunge if i == 0 else None)
            if at > 0.01:
                cam.arc(cam.shop.climb, cx - at, 0.0, z, cx, 0.0)
                cam.arc(cam.shop.climb, cx + at, 0.0, z, cx, 0.0)


def coves(cam: Cam) -> None:
    """A panel of hollow flutes side by side that meet in a ridge, in passes; their width gives the
    depth.
    """
    rng, d = cam.rng, cam.bit.diameter
    r = d / 2
    wide = nice(cam.shop, d * rng.uniform(0.7, 0.97))
    wide = wide if wide < d else 0.9 * d
    deep = r - math.sqrt(r * r - wide * wide / 4)
    n = int(rng.integers(8, 20))
    long = nice(cam.shop, rng.uniform(12, 40) * d)
    zs = levels(deep, max(round(share(rng, 0.15, 0.25, 0.3) * d, 1), 0.3), True)
    fade = share(rng, 0.0, 1.0, 2.0) * d
    for k in range(n):
        forth = k % 2 == 0
        y = k * wide
        for z in zs:
            xs = (0.0, long) if forth else (long, 0.0)
            way = 1 if forth else -1
            if math.dist(cam.at[:2], (xs[0], y)) > 1e-6:
                cam.go(xs[0], y)
            cam.cut(xs[0], y, 0.0 if fade else z, cam.plunge)
            if fade:
                cam.cut(xs[0] + way * fade, y, z)
                cam.cut(xs[1] - way * fade, y, z)
            cam.cut(xs[1], y, 0.0 if fade else z)
            forth = not forth


# ---------------------------------------------------------------- jobs of vees


def middle_lines(shape: Polygon, spacing: float) -> list[np.ndarray]:
    """Middle lines of an outline into its corners: points with their distance from the outline."""
    fine = shapely.segmentize(shape, spacing)
    ringed = [np.array(r.coords)[:-1] for r in (fine.exterior, *fine.interiors)]
    points = np.vstack(ringed)
    ring = np.concatenate([np.full(len(r), i) for i, r in enumerate(ringed)])
    count = np.array([len(r) for r in ringed])[ring]
    place = np.concatenate([np.arange(len(r)) for r in ringed])
    v = Voronoi(points)
    ends = np.array(v.ridge_vertices)
    p, q = v.ridge_points.T
    gap = np.abs(place[p] - place[q])
    beside = (ring[p] == ring[q]) & (np.minimum(gap, count[p] - gap) <= 1)
    good = (ends >= 0).all(axis=1) & ~beside
    ends, p, q = ends[good], p[good], q[good]
    inside = shapely.contains_xy(shape, v.vertices)
    m = v.vertices[ends].mean(axis=1)
    u, w = points[p] - m, points[q] - m
    opened = np.arccos(np.clip((u * w).sum(1) / np.hypot(*u.T) / np.hypot(*w.T), -1, 1))
    good = inside[ends].all(axis=1) & (opened > 0.75)
    lines = [LineString(v.vertices[e]) for e in ends[good] if math.dist(*v.vertices[e]) > 1e-9]
    used = v.vertices[np.unique(ends[good])]
    for corner in corners_of(shape):
        near = used[np.hypot(*(used - corner).T).argmin()]
        if math.dist(near, corner) < 5 * spacing:
            lines.append(LineString([near, corner]))
    merged = linemerge(unary_union(lines))
    out = []
    for g in getattr(merged, "geoms", [merged]):
        xy = np.array(g.coords)
        if g.length > 3 * spacing:
            out.append(np.c_[xy, shapely.distance(shape.boundary, shapely.points(xy))])
    return out


def corners_of(shape: Polygon) -> list[np.ndarray]:
    """Corners of an outline that point out of it."""
    out = []
    whole = shapely.geometry.polygon.orient(shape, 1.0)
    for r in (whole.exterior, *whole.interiors):
        p = np.array(r.coords)[:-1]
        a, b = p - np.roll(p, 1, axis=0), np.roll(p, -1, axis=0) - p
        turn = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(1))
        out += list(p[turn > 0.75])
    return out


def vee_carve(cam: Cam, shapes: list[Polygon], most: float, spacing: float) -> None:
    """Carve outlines along their middle lines; where they are too wide, along lines at the greatest
    depth.
    """
    bit = cam.bit
    slope = 1 / math.tan((bit.angle or 1.0) / 2)
    widest = most / slope + bit.tip / 2
    step = max(round(share(cam.rng, 0.2, 0.3, 0.5) * bit.diameter, 1), 0.5)
    for shape in shapes:
        wide = grow(shape, -widest)
        todo = [
            thin_out(np.c_[q[:, :2], -np.maximum(q[:, 2] - bit.tip / 2, 0) * slope], 0.01)
            for q in kept(middle_lines(shape, spacing), widest)
        ]
        if not todo and not parts(wide):
            continue
        deepest = min([float(q[:, 2].min()) for q in todo] + ([-most] if parts(wide) else []))
        for z in levels(-deepest, step, True) if cam.slope > 0.06 else [deepest]:
            along(cam, [np.c_[q[:, :2], np.maximum(q[:, 2], z)] for q in todo])
            if z == deepest:
                for region in parts(wide):
                    for k, r in enumerate((region.exterior, *region.interiors)):
                        p = ring_points(cam, r, k == 0)
                        cam.go(*p[0])
                        cam.cut(p[0][0], p[0][1], -most, cam.plunge)
                        cam.follow(p, -most)


def kept(lines: list[np.ndarray], widest: float) -> list[np.ndarray]:
    """Pieces of middle lines that are no further from the outline than `widest`."""
    out = []
    for q in lines:
        ok = q[:, 2] <= widest + 1e-6
        cuts = np.flatnonzero(np.diff(ok.astype(int))) + 1
        out += [
            piece
            for piece, good in zip(np.split(q, cuts), np.split(ok, cuts), strict=True)
            if good[0] and len(piece) > 2
        ]
    return out


def along(cam: Cam, lines: list[np.ndarray]) -> None:
    """Cut lines in space, each time the nearest; the bit stays down where one ends and another
    begins.
    """
    rest = list(lines)
    low = False
    while rest:
        here = np.array(cam.at)
        far = [
            (np.hypot(*(q[e][:2] - here[:2])), i, e) for i, q in enumerate(rest) for e in (0, -1)
        ]
        gap, i, e = min(far)
        q = rest.pop(i)
        q = q if e == 0 else q[::-1]
        if gap > 0.01 or not low:
            cam.go(*q[0][:2])
        cam.cut(*q[0], cam.plunge)
        for point in q[1:]:
            cam.cut(*point)
        low = True


def carved_word(cam: Cam) -> None:
    """A word carved with a vee, on its own or with a frame of narrow leaves."""
    rng = cam.rng
    height = rng.uniform(12, 45)
    word = lettering(rng, height, int(rng.integers(4, 9)))
    vee_carve(cam, word, vee_depth(cam), max(height / 180, 0.12))


def vee_depth(cam: Cam) -> float:
    """How deep a carving may go: no wider than the bit, and not through the board."""
    full = (cam.bit.diameter - cam.bit.tip) / 2 / math.tan((cam.bit.angle or 1.0) / 2)
    return min(0.95 * full, share(cam.rng, 2.0, 3.0, 4.0, 6.0, 8.0), 0.6 * cam.thick)


def rosette(cam: Cam) -> None:
    """Petals and leaves carved with a vee."""
    size = cam.rng.uniform(25, 80)
    shapes = petals(cam.rng, size)
    vee_carve(cam, shapes, vee_depth(cam), max(size / 300, 0.12))


def line_weights(cam: Cam) -> None:
    """A drawing in lines of three weights: the width of a line gives the depth."""
    rng, shop, bit = cam.rng, cam.shop, cam.bit
    slope = 1 / math.tan((bit.angle or 1.0) / 2)
    unit = 0.5 if shop.unit == "mm" else INCH / 64
    widths = unit * np.array(rng.choice(((1, 2, 4), (1, 2, 3), (2, 3, 4), (2, 4, 6))))
    size = nice(shop, rng.uniform(60, 160))
    laid = sheet_of(rng, [draw_shape(rng, shop, size / 4) for _ in range(6)], 5)
    x0, y0, x1, y1 = unary_union(laid).bounds
    frame = rounded(nice(shop, x1 - x0 + 16), nice(shop, y1 - y0 + 16), share(rng, 0, 8))
    frame = affinity.translate(frame, (x0 + x1) / 2, (y0 + y1) / 2)
    drawn: list[tuple[Polygon, float]] = [(frame, widths[2]), (grow(frame, 4), widths[0])]
    for s in laid:
        drawn += [(s, widths[1])] + [(p, widths[0]) for p in parts(grow(s, -2.5))]
    for s, wide in drawn:
        z = -(wide - bit.tip) / 2 * slope
        p = ring_points(cam, s.exterior, True)
        cam.go(*p[0])
        cam.cut(p[0][0], p[0][1], z, cam.plunge)
        cam.follow(p, z)


def chamfers(cam: Cam) -> None:
    """Edges of parts and holes are broken in steps, each further along the vee's own flank."""
    rng, d, bit = cam.rng, 8.0, cam.bit
    if (bit.angle or 0.0) < 1.0:
        return
    spread = math.tan((bit.angle or 1.0) / 2)
    wide = nice_depth(cam, rng.uniform(1.5, 4.0))
    wide = min(wide, 0.3 * bit.diameter)
    below = share(rng, 0.2, 0.5, 1.0)
    shapes = []
    for _ in range(int(rng.integers(2, 6))):
        outer = draw_shape(rng, cam.shop, rng.uniform(40, 150))
        hole = affinity.translate(
            disc(rng.choice((6.0, 8.0, 10.0))), *outer.representative_point().coords[0]
        )
        shapes.append(outer.difference(hole) if outer.contains(grow(hole, d)) else outer)
    steps = int(rng.choice((2, 3, 4)))
    for s in sheet_of(rng, shapes, 25):
        for part in parts(s):
            for k in range(1, steps + 1):
                # the flank stands in the chamfer's face all along, so a deeper step is further out
                deep = (wide / spread + below) * k / steps
                z, out = -deep, deep * spread + bit.tip / 2 - wide
                for j, r in enumerate((part.exterior, *part.interiors)):
                    side = grow(Polygon(r), out if j == 0 else -out)
                    for way in parts(side):
                        p = ring_points(cam, way.exterior, j > 0)
                        cam.go(*p[0])
                        cam.cut(p[0][0], p[0][1], z, cam.plunge)
                        cam.follow(p, z)


# ---------------------------------------------------------------- jobs of drills


def drilling(cam: Cam) -> None:
    """Holes in patterns, blind or through: pecks and the way beyond the far face go with the
    diameter.
    """
    rng, d, shop = cam.rng, cam.bit.diameter, cam.shop
    point = d / 2 / math.tan((cam.bit.angle or 2.0) / 2)
    through = rng.random() < 0.55
    depth = (
        cam.thick + point + share(rng, 0.3, 0.5, 1.0)
        if through
        else nice_depth(cam, rng.uniform(1.5, 3.0) * d)
    )
    peck = (
        round(share(rng, 0.5, 1.0, 1.0, 1.5) * d, 2)
        if depth > 2 * d or rng.random() < 0.5
        else None
    )
    spots: list[tuple[float, float]] = []
    if rng.random() < 0.5:
        gap = nice(shop, max(3 * d, rng.choice((16, 25, 32))))
        spots = [
            (i * gap, j * nice(shop, 8 * gap))
            for j in range(int(rng.integers(2, 5)))
            for i in range(int(rng.integers(12, 30)))
        ]
    else:
        for _ in range(int(rng.integers(2, 6))):
            n, r = int(rng.choice((6, 8, 12, 16, 24))), nice(shop, rng.uniform(8, 20) * d)
            cx, cy = rng.uniform(0, 300, 2)
            spots += [
                (cx + r * math.cos(2 * math.pi * k / n), cy + r * math.sin(2 * math.pi * k / n))
                for k in range(n)
            ]
    for x, y in spots:
        if shop.cycles:
            cam.moves.append(("HOLE", x, y, -depth, cam.plunge, peck or 0.0, cam.near))
            continue
        cam.go(x, y)
        for z in levels(depth, peck or depth, False):
            if z > -depth + 1e-9 and peck:
                cam.cut(x, y, z, cam.plunge)
                cam.moves.append(("G0", x, y, cam.near, 0.0, 0.0, 0.0))
                cam.moves.append(("G0", x, y, z + 0.3, 0.0, 0.0, 0.0))
            else:
                cam.cut(x, y, z, cam.plunge)


# ---------------------------------------------------------------- writing programs


@dataclass(slots=True)
class Writer:
    """Writes moves as text the way one shop's programs look."""

    shop: Shop
    shift: tuple[float, float, float]
    lines: list[str] = field(default_factory=list)
    last: dict[str, str] = field(default_factory=dict)

    def number(self, mm: float) -> str:
        """Write a length."""
        text = f"{mm / (INCH if self.shop.unit == 'in' else 1):.{self.shop.decimals}f}"
        if float(text) == 0:
            text = text.lstrip("-")
        if self.shop.stripped:
            text = text.rstrip("0")
        return text

    def code(self, word: str) -> str:
        """Write a G word with one digit or with two."""
        return f"{word[0]}0{word[1:]}" if self.shop.padded and len(word) == 2 else word

    def put(self, *words: str) -> None:
        """Write a line."""
        text = (" " if self.shop.spaced else "").join(w for w in words if w)
        if text:
            number = f"N{(len(self.lines) + 1) * self.shop.numbered}" if self.shop.numbered else ""
            self.lines.append(f"{number}{' ' if self.shop.spaced and number else ''}{text}")

    def word(self, letter: str, value: str) -> str:
        """Write a modal word, or nothing where it is as it was."""
        if self.shop.modal and self.last.get(letter) == value:
            return ""
        self.last[letter] = value
        return letter + value

    def place(self, x: float, y: float, z: float, axes: str) -> list[str]:
        """Write the end of a move, axes that do not move left out."""
        at = {"X": x + self.shift[0], "Y": y + self.shift[1], "Z": z + self.shift[2]}
        out = []
        for a in "XYZ":
            text = self.number(at[a])
            if self.last.get(a) != text or (a in axes and not self.shop.modal):
                out.append(a + text)
            self.last[a] = text
        return out

    def motion(self, code: str) -> str:
        """Write the motion word where it is needed."""
        if self.shop.modal and self.last.get("G") == code:
            return ""
        self.last["G"] = code
        return self.code(code)


def write(cam: Cam, rng: Rng) -> bytes:
    """Write the program of a job."""
    shop = cam.shop
    xy = np.array([m[1:3] for m in cam.moves])
    low, high = xy.min(axis=0), xy.max(axis=0)
    origin = [
        -(low[i] + shop.corner[i] * (high[i] - low[i])) if shop.corner[i] else -math.floor(low[i])
        for i in (0, 1)
    ]
    w = Writer(shop, (origin[0], origin[1], cam.thick if shop.bed_zero else 0.0))
    begin(w, cam, rng)
    kept_at = (0.0, 0.0, cam.safe)
    in_cycle = False
    for kind, x, y, z, feed, a, b in cam.moves:
        if kind == "HOLE":
            in_cycle = hole(w, in_cycle, (x, y, z), feed, a, b)
        elif kind in ("G0", "G1"):
            f = w.word("F", feed_text(shop, feed)) if kind == "G1" else ""
            axes = "XY" if (x, y) != kept_at[:2] else "Z"
            got = w.place(x, y, z, axes)
            if got:
                w.put(w.motion(kind), *got, f)
            elif f:
                w.last.pop("F", None)
        else:
            bow(w, kind, kept_at, (x, y, z), (a, b), feed)
        kept_at = (x, y, z)
    if in_cycle:
        w.put("G80")
        w.last.pop("G", None)
    finish(w, cam, rng)
    end = "\r\n" if rng.random() < 0.2 else "\n"
    return (end.join(w.lines) + end).encode()


def feed_text(shop: Shop, feed: float) -> str:
    """Write a feed."""
    return f"{feed / (INCH if shop.unit == 'in' else 1):.0f}" + (
        "." if shop.stripped and not shop.modal else ""
    )


def hole(
    w: Writer, going: bool, at: tuple[float, float, float], feed: float, peck: float, near: float
) -> bool:
    """Write a hole in a drilling cycle."""
    x, y = w.number(at[0] + w.shift[0]), w.number(at[1] + w.shift[1])
    w.last["X"], w.last["Y"] = x, y
    if going:
        w.put("X" + x, "Y" + y)
        return True
    z, r = w.number(at[2] + w.shift[2]), w.number(near + w.shift[2])
    w.put(
        "G99",
        "G83" if peck else "G81",
        "X" + x,
        "Y" + y,
        "Z" + z,
        "R" + r,
        "Q" + w.number(peck) if peck else "",
        "F" + feed_text(w.shop, feed),
    )
    w.last.pop("Z", None)
    return True


def bow(
    w: Writer,
    kind: str,
    start: tuple[float, float, float],
    end: tuple[float, float, float],
    centre: tuple[float, float],
    feed: float,
) -> None:
    """Write an arc with its centre or its radius, or as short lines."""
    cx, cy = centre
    r = math.hypot(start[0] - cx, start[1] - cy)
    a0, a1 = math.atan2(start[1] - cy, start[0] - cx), math.atan2(end[1] - cy, end[0] - cx)
    sweep = (a1 - a0) % (2 * math.pi) if kind == "G3" else -((a0 - a1) % (2 * math.pi))
    most = {"none": 2 * math.acos(1 - min(0.008 / r, 0.5)), "r": 3.0, "ij": 4.0}[w.shop.arcs]
    n = max(math.ceil(abs(sweep) / most), 1)
    for k in range(1, n + 1):
        a = a0 + sweep * k / n
        x, y = (cx + r * math.cos(a), cy + r * math.sin(a)) if k < n else end[:2]
        z = start[2] + (end[2] - start[2]) * k / n
        f = w.word("F", feed_text(w.shop, feed))
        before = a0 + sweep * (k - 1) / n
        if w.shop.arcs == "none":
            w.put(w.motion("G1"), *w.place(x, y, z, "XY"), f)
            continue
        got = w.place(x, y, z, "XY")
        how = (
            ["R" + w.number(r)]
            if w.shop.arcs == "r"
            else ["I" + w.number(-r * math.cos(before)), "J" + w.number(-r * math.sin(before))]
        )
        if got:
            w.put(w.motion(kind), *got, *how, f)


def begin(w: Writer, cam: Cam, rng: Rng) -> None:
    """Write how a program begins."""
    number = int(rng.integers(1, 9000))
    style = rng.integers(4)
    if style == 0:
        w.lines += ["%", f"O{number:04d}"]
    elif style == 1:
        w.lines.append(f"(JOB {number})")
    elif style == 2:
        w.lines.append(f"; job {number}")
    unit = "G20" if w.shop.unit == "in" else "G21"
    if rng.random() < 0.5:
        w.put("G90")
        w.put(unit)
    else:
        w.put("G17", unit, "G90", "G40", "G80")
    if rng.random() < 0.5:
        w.put(f"T{int(rng.integers(1, 13))}", "M6" if not w.shop.padded else "M06")
    w.put(f"S{cam.speed:.0f}", "M3" if not w.shop.padded else "M03")
    if rng.random() < 0.4:
        w.put("G54")
    if rng.random() < 0.2:
        w.put("G4", "P2")
    w.put(w.motion("G0"), "Z" + w.number(cam.safe + w.shift[2]))
    w.last["Z"] = w.number(cam.safe + w.shift[2])


def finish(w: Writer, cam: Cam, rng: Rng) -> None:
    """Write how a program ends."""
    w.put(w.motion("G0"), "Z" + w.number(cam.safe + w.shift[2]))
    if rng.random() < 0.5:
        w.put("G0" if not w.shop.padded else "G00", "X0.", "Y0.")
    w.put("M5" if not w.shop.padded else "M05")
    w.put("M30" if rng.random() < 0.7 else "M2")


# ---------------------------------------------------------------- the whole

Job = Callable[[Cam], None]
JOBS: tuple[tuple[str, Job, str, tuple[float, float], int], ...] = (
    ("pockets", pockets, "flat", (1.5, 13), 11),
    ("raised word", raised_word, "flat", (0.9, 4.1), 4),
    ("cut-outs", cut_outs, "flat", (1.9, 13), 9),
    ("fingers", fingers, "flat", (2.9, 6.5), 4),
    ("facing", facing, "flat", (12, 39), 5),
    ("dadoes", dadoes, "flat", (3, 13), 4),
    ("inlay", inlay, "flat", (0.9, 4.1), 4),
    ("bores", bores, "flat", (2.9, 10), 4),
    ("loops", loops, "flat", (3, 10), 3),
    ("terraces", terraces, "flat", (3, 20), 5),
    ("tray", tray, "bull", (9, 40), 7),
    ("relief", relief, "ball", (1.9, 8), 8),
    ("dish", dish, "ball", (3, 20), 4),
    ("coves", coves, "ball", (3, 20), 4),
    ("relief", relief, "taper-ball", (3, 7), 7),
    ("carved word", carved_word, "vee", (5, 32), 9),
    ("rosette", rosette, "vee", (5, 32), 4),
    ("line weights", line_weights, "vee", (5, 32), 3),
    ("chamfers", chamfers, "vee", (5, 32), 2),
    ("drilling", drilling, "drill", (1.9, 11), 7),
)


def start_job(rng: Rng, shop: Shop, bit: Bit) -> Cam:
    """Set up a job: board, heights, feeds, how the bit goes in."""
    speed, feed, plunge = speeds(rng, shop, bit)
    boards = (
        (6.0, 9.0, 12.0, 15.0, 18.0, 25.0, 32.0)
        if shop.unit == "mm"
        else tuple(INCH * x for x in (0.25, 0.375, 0.5, 0.75, 1.0, 1.25))
    )
    fit = [t for t in boards if t <= (bit.flute_length or 99.0)] or [boards[0]]
    thick = float(rng.choice(fit))
    safe = share(rng, 5, 10, 15, 20) if shop.unit == "mm" else INCH * share(rng, 0.25, 0.5, 0.75)
    near = share(rng, 0.5, 1, 2) if rng.random() < 0.6 else safe
    entry = str(rng.choice(("plunge", "ramp", "ramp")))
    return Cam(
        rng,
        shop,
        bit,
        speed,
        feed,
        plunge,
        thick,
        safe,
        near,
        entry,
        math.radians(share(rng, 2, 3, 5, 10)),
    )


def make(seed: int) -> Made:
    """Make a program for a bit, and the rack it lies in; the same for the same seed."""
    weights = np.array([j[4] for j in JOBS], float)
    for attempt in range(60):
        rng = np.random.default_rng((1414, seed, attempt))
        choice = np.random.default_rng((1415, seed)).choice(len(JOBS), p=weights / weights.sum())
        family, job, shape, (least, most), _ = JOBS[choice]
        shop = draw_shop(rng)
        units = (shop.unit,) if rng.random() < 0.7 else ("mm", "in")
        bit = draw_bit(rng, shape, str(rng.choice(units)))
        if not least <= bit.diameter <= most:
            continue
        cam = start_job(rng, shop, bit)
        job(cam)
        if not cam.moves:
            continue
        text = write(cam, rng)
        if 100 <= text.count(b"\n") <= 5000:
            return Made(text, fill_rack(rng, bit, units), bit, family)
    raise RuntimeError(f"no program of {family} in the wanted length for seed {seed}")
