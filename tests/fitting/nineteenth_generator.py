"""A nineteenth generator: an inch shop's conversational programs, with arcs, helices and cycles.

An acceptance test of "right bit first in >= 90 %, in the first two in >= 98 %, when the rack holds
8 bits", by someone who had read `job/bits.py`, `score.py` and the interface `make(seed)`, but
neither the fitting room nor the other generators. Everything is worked out by plain trigonometry:
parts lie on sixteenths of an inch, walls at the radius from the line. Steps, passes, ramps and chip
loads are common practice, no source. No two bits of one shape in a rack are nearly alike.

First scored on seeds 0 to 119: first 0.825, first two 0.950, Brier 0.259. First by family:
cove, cutout, facing, round_pocket, zigzag, leaves and sunburst 1.000, bores 0.727,
holes 0.684, grooves 0.222 (n = 9), bevel 0.167 (n = 6).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from dryrun.job.bits import parse_bit
from dryrun.job.model import Bit

INCH = 25.4
POOL = {
    "flat": ("1/16in", "1/8in", "3/16in", "1/4in", "3/8in", "1/2in"),
    "ball": ("1/8in", "1/4in", "3/8in", "1/2in"),
    "vee": ("60deg:1/2in", "90deg:1/2in", "30deg:1/4in"),
    "drill": ("118deg:1/8in", "118deg:3/16in", "118deg:1/4in"),
}
LOAD = {"flat": 0.017, "ball": 0.015, "vee": 0.004, "drill": 0.016}  # chip load, share of diameter


@dataclass(frozen=True)
class Made:
    """A program, the bit it was made for, and the rack it is looked for in."""

    text: bytes
    bit: Bit
    rack: tuple[Bit, ...]
    family: str


class Sheet:
    """Blocks as a conversational panel writes them: every word of the move, four decimals."""

    def __init__(self, rng: np.random.Generator, bit: Bit) -> None:
        self.rng, self.d, self.r = rng, bit.diameter / INCH, bit.diameter / 2 / INCH
        self.half = math.tan((bit.angle or 1) / 2)
        speed = (6000, 9000) if bit.shape == "drill" else (10000, 18000)
        self.rpm = round(rng.uniform(*speed), -2)
        per_turn = (bit.flutes or 2) * LOAD[bit.shape] * self.d * rng.uniform(0.7, 1.2)
        self.feed = max(8.0, round(self.rpm * per_turn))
        self.down = max(4.0, round(self.feed * rng.uniform(0.25, 0.45)))
        self.clear = float(rng.choice([0.1, 0.2, 0.25, 0.5]))
        self.lines = [
            "%",
            "O0100",
            "G20 G17 G90 G40 G80 G94",
            f"S{self.rpm:.0f} M03",
            f"G00 Z{self.clear:.4f}",
        ]
        self.at = (0.0, 0.0, self.clear)

    def rapid(self, x: float, y: float) -> None:
        self.lines += [f"G00 Z{self.clear:.4f}", f"G00 X{x:.4f} Y{y:.4f}"]
        self.at = (x, y, self.clear)

    def plunge(self, z: float) -> None:
        self.lines += ["G00 Z0.0400"] if self.at[2] > 0.04 else []
        self.lines.append(f"G01 Z{z:.4f} F{self.down:.1f}")
        self.at = (*self.at[:2], z)

    def cut(self, x: float, y: float, z: float | None = None) -> None:
        z = self.at[2] if z is None else z
        self.lines.append(f"G01 X{x:.4f} Y{y:.4f} Z{z:.4f} F{self.feed:.1f}")
        self.at = (x, y, z)

    def arc(
        self, x: float, y: float, i: float, j: float, z: float | None = None, left: bool = True
    ) -> None:
        z = self.at[2] if z is None else z
        code = "G03" if left else "G02"
        self.lines.append(f"{code} X{x:.4f} Y{y:.4f} Z{z:.4f} I{i:.4f} J{j:.4f} F{self.feed:.1f}")
        self.at = (x, y, z)

    def helix(self, x: float, y: float, r: float, z: float, pitch: float) -> None:
        """Sink along a circle about x, y and clean its bottom; begins and ends at its right."""
        self.rapid(x + r, y)
        self.lines += ["G00 Z0.0400", f"G01 Z0.0000 F{self.down:.1f}"]
        turns = max(1, math.ceil(-z / pitch))
        for n in range(1, turns + 2):
            self.arc(x + r, y, -r, 0, min(n, turns) * z / turns)

    def rounded(
        self, x: float, y: float, w: float, h: float, r: float, down: float | None = None
    ) -> None:
        """Cut a rectangle of rounded corners, from its lower side and back to its middle."""
        self.cut(x + w - r, y, down)
        for cx, cy, ex, ey, i, j in (
            (x + w, y + r, x + w, y + h - r, 0, r),
            (x + w - r, y + h, x + r, y + h, -r, 0),
            (x, y + h - r, x, y + r, 0, -r),
            (x + r, y, x + w / 2, y, r, 0),
        ):
            if r > 0.0005:
                self.arc(cx, cy, i, j)
            self.cut(ex, ey)

    def text(self) -> bytes:
        return "\n".join([*self.lines, f"G00 Z{self.clear:.4f}", "M05", "M30", "%", ""]).encode()


def size(rng: np.random.Generator, least: float, most: float, parts: int = 8) -> float:
    """A length people draw: on eighths of an inch, or finer."""
    low = math.ceil(least * parts - 1e-9)
    return float(rng.integers(low, max(low + 1, int(most * parts)))) / parts


def passes(s: Sheet, depth: float) -> list[float]:
    count = math.ceil(depth / (s.d * s.rng.uniform(0.5, 1.0)) - 1e-9)
    return [-depth * (n + 1) / count for n in range(count)]


def round_pocket(s: Sheet) -> None:
    """Rings from a helix outward, each entered along its radius."""
    rng = s.rng
    for k in range(int(rng.integers(1, 4))):
        across = size(rng, 2.2 * s.d, 5 * s.d + 1)
        wall, depth = across / 2 - s.r, size(rng, 1 / 16, min(0.6, 2 * s.d), 16)
        inner, cx = s.r * rng.uniform(0.6, 0.9), 4.0 * k
        count = max(1, math.ceil((wall - inner) / (s.d * rng.uniform(0.38, 0.5))))
        s.helix(cx, 0, inner, -depth, s.d * rng.uniform(0.1, 0.25))
        for radius in np.linspace(inner, wall, count + 1)[1:]:
            s.cut(cx + radius, 0)
            s.arc(cx + radius, 0, -radius, 0)


def zigzag(s: Sheet) -> None:
    """Rows along X, then once round the wall; each level entered by a ramp on the first row."""
    rng = s.rng
    w, h = size(rng, 4 * s.d, 8 * s.d + 2), size(rng, 3 * s.d, 5 * s.d + 1.5)
    left, r = float(rng.choice([0.0, 0.01, 0.02])), s.r
    x0, x1, y0, y1 = r + left, w - r - left, r + left, h - r - left
    rows = math.ceil((y1 - y0) / (s.d * rng.uniform(0.37, 0.5)))
    corner = float(rng.choice([0.0, 0.5 * s.d]))  # the wall's corners a little wider than the bit
    for z in passes(s, size(rng, 1 / 8, min(0.75, 2.5 * s.d) + 0.07, 16)):
        s.rapid(x0, y0)
        s.plunge(0)
        s.cut(min(x1, x0 + abs(z) * 12), y0, z)
        s.cut(x0, y0)
        for n in range(rows + 1):
            y = y0 + (y1 - y0) * n / rows
            s.cut(s.at[0], y)
            s.cut(x0 if n % 2 else x1, y)
        s.rapid(w / 2, r)
        s.plunge(z)
        s.rounded(r, r, w - 2 * r, h - 2 * r, corner)


def cutout(s: Sheet) -> None:
    """A plate or a disc cut out at half a diameter, rolled round its corners, with tabs."""
    rng, thick = (
        s.rng,
        float(s.rng.choice([t for t in (0.125, 0.25, 0.375, 0.5, 0.75) if t <= 3.2 * s.d])),
    )
    tab = -thick + float(rng.choice([0.06, 0.08]))
    w, h, r = size(rng, 2, 6), size(rng, 2, 5), s.r + float(rng.choice([0.0, 0.25, 0.5]))
    disc, wide = rng.random() < 0.35, float(rng.choice([0.25, 0.375])) + s.d
    for z in passes(s, thick + float(rng.choice([0.01, 0.02]))):
        if disc:
            ring = w / 2 + s.r
            s.rapid(ring, 0)
            s.plunge(z)
            for n in range(3):
                for end, deep in (
                    (120 * (n + 1) - math.degrees(wide / ring), z),
                    (120 * (n + 1), max(z, tab)),
                ):
                    x, y = ring * math.cos(math.radians(end)), ring * math.sin(math.radians(end))
                    if s.at[2] != deep:
                        s.lines.append(f"G01 Z{deep:.4f} F{s.down:.1f}")
                    s.arc(x, y, -s.at[0], -s.at[1], deep, left=True)
            continue
        s.rapid(w / 2 + (wide / 2 if z < tab else 0), -s.r)
        s.plunge(z)
        s.rounded(-s.r, -s.r, w + s.d, h + s.d, r) if z >= tab else tabbed(s, w, h, r, z, tab, wide)


def tabbed(s: Sheet, w: float, h: float, r: float, z: float, tab: float, wide: float) -> None:
    """Go round with a tab in the middle of the upper side and one in that of the lower."""
    x, y, up = -s.r, -s.r, h + s.r
    s.cut(w + s.r - r, y)
    s.arc(w + s.r, y + r, 0, r)
    s.cut(w + s.r, up - r)
    s.arc(w + s.r - r, up, -r, 0)
    for mid, level, end in ((w / 2 + wide / 2, up, x + r), (None, y, None)):
        if mid is None:
            s.arc(x, up - r, 0, -r)
            s.cut(x, y + r)
            s.arc(x + r, y, r, 0)
            mid, end = w / 2 - wide / 2, w / 2 + wide / 2
        s.cut(mid, level)
        s.lines.append(f"G01 Z{tab:.4f} F{s.down:.1f}")
        s.at = (*s.at[:2], tab)
        s.cut(mid + math.copysign(wide, end - mid), level)
        s.lines.append(f"G01 Z{z:.4f} F{s.down:.1f}")
        s.at = (*s.at[:2], z)
        s.cut(end, level)


def grooves(s: Sheet) -> None:
    """Dadoes as wide as the bit, or wider by two lanes, run out over both edges of the board."""
    rng, board = s.rng, size(s.rng, 3, 9)
    wide = s.d if rng.random() < 0.4 else size(rng, s.d * 1.2, s.d * 1.9 + 0.07, 16)
    depth, out = size(rng, 1 / 8, 0.4, 16), s.r + 0.1
    for k in range(int(rng.integers(2, 6))):
        middle, side = 1.5 * k + 1, (wide - s.d) / 2
        for z in passes(s, min(depth, 2 * s.d)):
            s.rapid(-out, middle - side)
            s.plunge(z)
            s.cut(board + out, middle - side)
            if side > 0.005:
                s.cut(board + out, middle + side)
                s.cut(-out, middle + side)


def bores(s: Sheet) -> None:
    """Holes wider than the bit, sunk in one helix each."""
    hole, depth = (
        size(s.rng, 1.25 * s.d, 1.9 * s.d + 0.07, 16),
        min(size(s.rng, 0.25, 0.8), 3 * s.d),
    )
    pitch = s.d * s.rng.uniform(0.1, 0.3)
    for k in range(int(s.rng.integers(2, 9))):
        s.helix(1.25 * (k % 3), 1.25 * (k // 3), hole / 2 - s.r, -depth, pitch)


def facing(s: Sheet) -> None:
    w, h = size(s.rng, 4, 9, 2), size(s.rng, 3, 7, 2)
    rows, over = math.ceil(h / (s.d * s.rng.uniform(0.4, 0.5))), s.r + 0.05
    s.rapid(-over, 0)
    s.plunge(-float(s.rng.choice([0.01, 0.02, 0.03])))
    for n in range(rows + 1):
        s.cut(s.at[0], h * n / rows)
        s.cut(-over if n % 2 else w + over, h * n / rows)


def sunburst(s: Sheet) -> None:
    """Rays that widen outward, carved along their middle lines as deep as they are wide."""
    count, near, far = int(s.rng.integers(6, 17)), size(s.rng, 0.25, 0.75), size(s.rng, 1.25, 3)
    wide = min(float(s.rng.choice([0.125, 0.1875, 0.25, 0.3125])), 1.9 * s.r)
    t, long = wide / 2, far - near
    deep = t * long / (t + math.hypot(t, long))  # half width where the three middle lines meet
    for k in range(count):
        c, n = math.cos(2 * math.pi * k / count), math.sin(2 * math.pi * k / count)
        s.rapid(near * c, near * n)
        s.plunge(0)
        s.cut((far - deep) * c, (far - deep) * n, -deep / s.half)
        for side in (1, -1):  # up into both corners of the blunt end
            s.cut(far * c - side * t * n, far * n + side * t * c, 0)
            s.cut((far - deep) * c, (far - deep) * n, -deep / s.half)


def leaves(s: Sheet) -> None:
    """Leaves between two arcs, a rosette of them, each carved along its middle line."""
    count, long = int(s.rng.choice([4, 6, 8, 12])), size(s.rng, 0.75, 2)
    wide = min(long * s.rng.uniform(0.2, 0.35), 1.9 * s.r)
    radius = (long**2 / 4 + wide**2 / 4) / wide
    for k in range(count):
        c, n = math.cos(2 * math.pi * k / count), math.sin(2 * math.pi * k / count)
        for m, u in enumerate(np.linspace(-long / 2, long / 2, 25)):
            far, at = long / 2 + 0.1 + u, radius - math.hypot(u, radius - wide / 2)
            s.cut(far * c, far * n, -max(0.0, at) / s.half) if m else (
                s.rapid(far * c, far * n),
                s.plunge(0),
            )


def bevel(s: Sheet) -> None:
    """An edge broken by the side of the vee: its tip runs a little outside and below."""
    w, h, wide = (
        size(s.rng, 1.5, 5),
        size(s.rng, 1.5, 4),
        float(s.rng.choice([0.03125, 0.0625, 0.09375])),
    )
    out = float(s.rng.choice([0.02, 0.03, 0.04]))
    corner = out + float(s.rng.choice([0, 0.25, 0.5]))
    s.rapid(w / 2, -out)
    s.plunge(-(wide + out) / s.half)
    s.rounded(-out, -out, w + 2 * out, h + 2 * out, corner)


def cove(s: Sheet) -> None:
    """A bowl or a moulding finished by a ball: its centre follows the hollow's own parallel."""
    step, rng = s.d * s.rng.uniform(0.10, 0.15), s.rng
    hollow = size(rng, 1.3 * s.d, 3 * s.d + 0.75)  # radius of the hollow
    half, long = hollow * rng.uniform(0.75, 0.95), size(rng, 1.5, 3)
    deep, top = hollow - s.r, math.acos(math.sqrt(max(0.0, 1 - (half / hollow) ** 2)))
    drop = hollow * math.cos(top)  # the hollow's centre stands so high above the face
    turns = np.linspace(-top, top, math.ceil(2 * top * deep / step) + 1)
    if rng.random() < 0.5:
        for n, t in enumerate(turns):
            y, z = deep * math.sin(t), drop - deep * math.cos(t) - s.r
            s.cut(s.at[0], y, z) if n else (s.rapid(0, y), s.plunge(z))
            s.cut(0 if n % 2 else long, y, z)
        return
    for n, t in enumerate(turns[turns > 1e-6][::-1]):
        r, z = deep * math.sin(t), drop - deep * math.cos(t) - s.r
        s.cut(r, 0, z) if n else (s.rapid(r, 0), s.plunge(z))
        s.arc(r, 0, -r, 0, z)


def holes(s: Sheet) -> None:
    """Through holes by a pecking cycle, on a circle or a grid."""
    rng, count = s.rng, int(s.rng.integers(4, 13))
    depth = float(rng.choice([0.25, 0.5, 0.75])) + s.r / s.half + 0.02
    ring, peck = size(rng, 0.75, 2), s.d * rng.uniform(0.5, 1.0)
    spots: Iterable = (
        (ring * math.cos(2 * math.pi * k / count), ring * math.sin(2 * math.pi * k / count))
        for k in range(count)
    )
    if rng.random() < 0.5:
        spots = ((k % 4 * ring, k // 4 * ring) for k in range(count))
    for n, (x, y) in enumerate(spots):
        cycle = f"G98 G83 Z{-depth:.4f} R0.0500 Q{peck:.4f} F{self_feed(s):.1f} " if n == 0 else ""
        s.lines.append(f"{cycle}X{x:.4f} Y{y:.4f}")
    s.lines.append("G80")


def self_feed(s: Sheet) -> float:
    return max(4.0, round(s.feed * 0.6))


KINDS = {
    "flat": (round_pocket, zigzag, cutout, cutout, grooves, bores, facing),
    "ball": (cove,),
    "vee": (sunburst, leaves, bevel),
    "drill": (holes,),
}


def make(seed: int) -> Made:
    rng = np.random.default_rng(19_000_000 + seed)
    counts = dict(
        zip(
            POOL,
            ((4, 1, 2, 1), (3, 2, 2, 1), (4, 1, 1, 2), (3, 2, 1, 2))[rng.integers(4)],
            strict=True,
        )
    )
    names = [
        f"{shape}:{n}"
        for shape, many in counts.items()
        for n in rng.choice(POOL[shape], many, replace=False)
    ]
    rack = tuple(replace(parse_bit(n), flutes=2) for n in names)
    shape = str(rng.choice(list(POOL), p=[0.6, 0.12, 0.18, 0.1]))
    family = KINDS[shape][rng.integers(len(KINDS[shape]))]
    able = [b for b in rack if b.shape == shape]
    if family is bevel:  # an engraving point of 30 degrees is none for edges
        able = [b for b in able if b.angle > 1] or able
    bit = max(able, key=lambda b: b.diameter) if family is facing else able[rng.integers(len(able))]
    sheet = Sheet(rng, bit)
    family(sheet)
    return Made(sheet.text(), bit, rack, family.__name__)
