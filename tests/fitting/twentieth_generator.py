"""A twentieth generator: things people make with one bit, written by scripts of their own.

An acceptance test of "right bit first in >= 90 %, in the first two in >= 98 %, when the rack holds
8 bits", by someone who had read `job/bits.py`, `score.py` and the interface `make(seed)`, but
neither the fitting room nor the other generators. Boxes with dog bones, trays, bosses, lattices,
chip carving, ridges and domes; numbered blocks, arcs by their radius. Steps, passes, ramps and chip
loads are common practice, no source. 6 mm and 1/4", or 3 mm and 1/8", may lie in one rack.

First scored on seeds 0 to 119: first 0.883, first two 0.983, Brier 0.168. First by family:
bars, boss, box_side, chips, edge_break, pins, ridges and tray 1.000, flower 0.833,
dome 0.818, lattice 0.733, level_board 0.538.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from dryrun.job.bits import parse_bit
from dryrun.job.model import Bit

RACKS = (
    (
        "flat:1/8in",
        "flat:3mm",
        "flat:6mm",
        "flat:1/4in",
        "flat:12mm",
        "ball:6mm",
        "vee:90deg:12mm",
        "drill:118deg:5mm",
    ),
    (
        "flat:2mm",
        "flat:4mm",
        "flat:6mm",
        "flat:8mm",
        "ball:3mm",
        "ball:6mm",
        "vee:60deg:12mm",
        "drill:118deg:3mm",
    ),
    (
        "flat:3mm",
        "flat:6mm",
        "flat:10mm",
        "ball:3mm",
        "ball:6mm",
        "vee:60deg:10mm",
        "vee:90deg:16mm",
        "drill:118deg:5mm",
    ),
    (
        "flat:1.5mm",
        "flat:1/8in",
        "flat:1/4in",
        "flat:12mm",
        "ball:1/8in",
        "ball:1/4in",
        "vee:60deg:1/2in",
        "vee:90deg:1/2in",
    ),
    (
        "flat:3mm",
        "flat:5mm",
        "flat:8mm",
        "flat:16mm",
        "ball:8mm",
        "vee:90deg:12mm",
        "drill:118deg:3mm",
        "drill:118deg:5mm",
    ),
    (
        "flat:1/8in",
        "flat:6mm",
        "flat:1/4in",
        "flat:8mm",
        "ball:4mm",
        "vee:30deg:6mm",
        "vee:60deg:12mm",
        "drill:118deg:6mm",
    ),
)
XY = tuple[float, float]


@dataclass(frozen=True)
class Made:
    """A program, the bit it was made for, and the rack it is looked for in."""

    text: bytes
    bit: Bit
    rack: tuple[Bit, ...]
    family: str


class Job:
    """What a small script prints: numbered blocks, coordinates of those axes that are named."""

    def __init__(self, rng: np.random.Generator, bit: Bit) -> None:
        self.rng, self.d, self.r, self.bit = rng, bit.diameter, bit.diameter / 2, bit
        self.tan = math.tan((bit.angle or 1) / 2)
        load = {"vee": 0.04, "drill": 0.01 * self.d}.get(bit.shape, 0.0165 * self.d)
        self.speed = int(rng.choice([10000, 12000, 16000, 18000]))
        if bit.shape == "drill":
            self.speed //= 2
        self.feed = max(150, round(self.speed * 2 * load * rng.uniform(0.7, 1.25), -1))
        self.sink = max(60, round(self.feed * rng.uniform(0.2, 0.4), -1))
        self.up = float(rng.choice([2, 4, 5, 6]))
        self.blocks = ["G90 G21", f"M3 S{self.speed}", "G4 P2"]
        self.z = 99.0

    def put(self, code: str, **words: float) -> None:
        self.blocks.append(
            " ".join([code, *(f"{k}{v:.4f}".rstrip("0").rstrip(".") for k, v in words.items())])
        )
        self.z = words.get("Z", self.z)

    def hop(self, x: float, y: float, z: float = 0.0) -> None:
        """Go over to a place and down to z."""
        self.put("G0", Z=self.up)
        self.put("G0", X=x, Y=y)
        self.put("G0", Z=0.5)
        self.put("G1", Z=z, F=self.sink)

    def line(self, x: float, y: float, z: float | None = None) -> None:
        self.put("G1", X=x, Y=y, Z=self.z if z is None else z, F=self.feed)

    def circle(self, x: float, y: float, r: float, z: float) -> None:
        """Two half turns from the right, sinking evenly to z."""
        for side, deep in ((-1, (self.z + z) / 2), (1, z)):
            self.put("G3", X=x + side * r, Y=y, Z=deep, R=r, F=self.feed)

    def rounded(self, x0: float, y0: float, x1: float, y1: float, r: float) -> None:
        """From the left end of the lower side and round; sharp where r is 0."""
        at = (
            (x1 - r, y0),
            (x1, y0 + r),
            (x1, y1 - r),
            (x1 - r, y1),
            (x0 + r, y1),
            (x0, y1 - r),
            (x0, y0 + r),
            (x0 + r, y0),
        )
        for n, (x, y) in enumerate(at):
            if n % 2 and r > 1e-3:
                self.put("G3", X=x, Y=y, R=r, F=self.feed)
            elif r > 1e-3 or n % 2 == 0 or n == 7:
                self.line(x, y)

    def depths(self, depth: float) -> list[float]:
        count = math.ceil(depth / (self.d * self.rng.uniform(0.5, 1.0)) - 1e-9)
        return [-depth * (n + 1) / count for n in range(count)]

    def pick(self, *choices: float) -> float:
        return float(self.rng.choice(choices))

    def whole(self, low: float, high: float) -> float:
        return float(self.rng.integers(math.ceil(low), max(math.ceil(low) + 1, int(high))))

    def text(self) -> bytes:
        blocks = [*self.blocks, f"G0 Z{self.up:g}", "M5", "M2"]
        return "".join(f"N{10 * n + 10} {b}\r\n" for n, b in enumerate(blocks)).encode()


def tray(job: Job) -> None:
    """Compartments cleared from the middle outward, ring by ring, after a helix."""
    w, h = job.whole(4 * job.d, 7 * job.d + 25), job.whole(3.2 * job.d, 5 * job.d + 15)
    corner = max(job.r + 0.1, job.pick(3, 4, 5, 6, 8))
    step, depth = job.d * job.rng.uniform(0.36, 0.5), job.whole(2, min(12, 2.2 * job.d) + 1)
    for i, j in itertools.product(
        range(int(job.rng.integers(1, 4))), range(int(job.rng.integers(1, 3)))
    ):
        x, y = i * (w + 6), j * (h + 6)
        low = min(w, h) / 2 - job.r  # from the middle's ring to the wall
        insets = np.linspace(low - 0.3 * job.d, 0, math.ceil((low - 0.3 * job.d) / step) + 1)
        for top, z in itertools.pairwise([0.0, *job.depths(depth)]):
            for n, inset in enumerate(insets):
                a, r = job.r + inset, max(0.0, corner - job.r - inset)
                if n == 0:
                    job.hop(x + a + r, y + a, top)
                    job.line(x + w - a - r, y + a, (top + z) / 2)
                    job.line(x + a + r, y + a, z)
                job.line(x + a + r, y + a)
                job.rounded(x + a, y + a, x + w - a, y + h - a, r)


def box_side(job: Job) -> None:
    """A board with fingers on two sides, its inner corners reached by dog bones."""
    thick, fingers = (
        job.pick(*(t for t in (3, 4, 6, 9, 12) if t <= 4 * job.d)),
        int(job.rng.choice([3, 5])),
    )
    pitch = job.whole(max(1.3 * job.d, 6), 2.2 * job.d + 14)
    w, r = job.whole(50, 140), job.r
    right = [
        (w if k % 2 == 0 else w - thick, y)
        for k in range(fingers)
        for y in (k * pitch, (k + 1) * pitch)
    ]
    corners = right + [(w - x, y) for x, y in right[::-1]]  # counter-clockwise from bottom right
    path: list[XY] = []
    for n, (x, y) in enumerate(corners):
        before, after = corners[n - 1], corners[(n + 1) % len(corners)]
        a, b = unit(before, (x, y)), unit((x, y), after)
        out = (a[1] + b[1], -a[0] - b[0])  # both normals, outward
        path.append((x + r * out[0], y + r * out[1]))
        if a[0] * b[1] - a[1] * b[0] < 0:  # an inner corner
            back = 1 - math.sqrt(0.5)
            path += [(path[-1][0] - r * back * out[0], path[-1][1] - r * back * out[1]), path[-1]]
    tab = -thick + job.pick(1, 1.5, 2)
    for z in job.depths(thick + job.pick(0.2, 0.4)):
        job.hop(*path[-1], z)
        for n, (x, y) in enumerate(path):
            long = x - path[n - 1][0]
            if abs(long) > w / 2 and z < tab:  # a tab in the middle of a long side
                side, half = math.copysign(1, long), 3 + r
                for u, deep in ((-half, z), (-half, tab), (half, tab), (half, z)):
                    job.line(x - long / 2 + side * u, y, deep)
            job.line(x, y, z)


def unit(a: XY, b: XY) -> XY:
    long = math.dist(a, b)
    return (b[0] - a[0]) / long, (b[1] - a[1]) / long


def flower(job: Job) -> None:
    """A scalloped plate cut out along a parallel of its edge, sinking all the way round."""
    size, wave, lobes = (
        job.whole(25 + 2 * job.d, 80),
        job.rng.uniform(0.03, 0.08),
        int(job.rng.integers(3, 7)),
    )
    turn = np.linspace(0, 2 * math.pi, 181)
    edge = size * (1 + wave * np.cos(lobes * turn)) * np.exp(1j * turn)
    slope = (
        size
        * (-wave * lobes * np.sin(lobes * turn) + 1j * (1 + wave * np.cos(lobes * turn)))
        * np.exp(1j * turn)
    )
    path = edge - 1j * slope / np.abs(slope) * job.r
    thick = job.pick(*(t for t in (3, 5, 6, 9, 12, 18) if t <= 4 * job.d))
    levels = [0.0, *job.depths(thick + 0.3)]
    job.hop(path[0].real, path[0].imag)
    for top, z in itertools.pairwise([*levels, levels[-1]]):
        for k, p in enumerate(path[1:], 1):
            tab = k % 60 < 6 and z == levels[-1] == top
            job.line(p.real, p.imag, max(-thick + 2, z) if tab else top + (z - top) * k / 180)


def boss(job: Job) -> None:
    """A ring-shaped ground round a standing disc, cleared from outside in."""
    disc, ground = job.whole(10, 30), job.whole(1.5 * job.d, 3.5 * job.d + 4)
    inner, outer = disc / 2 + job.r, disc / 2 + ground - job.r
    rings = np.linspace(
        outer, inner, math.ceil((outer - inner) / (job.d * job.rng.uniform(0.36, 0.5))) + 1
    )
    for top, z in itertools.pairwise([0.0, *job.depths(job.whole(2, min(8, 2 * job.d) + 1))]):
        job.hop(outer, 0, top)
        job.circle(0, 0, outer, z)
        for ring in rings:
            job.line(ring, 0)
            job.circle(0, 0, ring, z)


def lattice(job: Job) -> None:
    """Openings with round ends in rows: as wide as the bit, or a little wider."""
    wide = job.d if job.rng.random() < 0.35 else job.whole(1.15 * job.d, 1.9 * job.d + 1)
    long, depth, side = job.whole(3 * wide, 6 * wide + 20), job.pick(3, 4, 6), (wide - job.d) / 2
    for i, j in itertools.product(
        range(int(job.rng.integers(2, 4))), range(int(job.rng.integers(2, 5)))
    ):
        x0, x1 = i * (long + 8) + wide / 2, i * (long + 8) + long - wide / 2
        y = j * math.ceil(wide + 6)
        for top, z in itertools.pairwise([0.0, *job.depths(min(depth, 3 * job.d))]):
            job.hop(x0, y - side, top)
            job.line(x1, y - side, z)
            if side < 0.01:
                job.line(x0, y)
                continue
            for _ in range(2):
                job.put("G3", X=x1, Y=y + side, R=side, F=job.feed)
                job.line(x0, y + side)
                job.put("G3", X=x0, Y=y - side, R=side, F=job.feed)
                job.line(x1, y - side)


def level_board(job: Job) -> None:
    """A board faced along rings from its edge inward."""
    w, h = 10 * job.whole(8, 20), 10 * job.whole(6, 14)
    step, depth = job.d * job.rng.uniform(0.38, 0.5), -job.pick(0.3, 0.5, 0.8)
    job.hop(0, 0, depth)
    for inset in np.arange(0, min(w, h) / 2, step):
        job.line(inset, inset)
        job.rounded(inset, inset, w - inset, h - inset, 0)


def chips(job: Job) -> None:
    """Chip carving: three-sided pits about a centre, cut from each corner down to the middle."""
    count, far = int(job.rng.choice([6, 8, 10, 12])), job.whole(12, 30)
    base, tall = (
        job.rng.uniform(0.5, 0.9) * far * math.tan(math.pi / count),
        far * job.rng.uniform(0.5, 0.8),
    )
    half = base + math.hypot(base, tall)
    shrink = min(1.0, 0.9 * job.r * half / (tall * base))  # no deeper than the bit's cone
    far, base, tall = far * shrink, base * shrink, tall * shrink
    for k in range(count):
        turn = np.exp(2j * math.pi * k / count)
        corners = [turn * (far - tall), turn * (far + 1j * base), turn * (far - 1j * base)]
        sides = [
            abs(corners[2] - corners[1]),
            abs(corners[0] - corners[2]),
            abs(corners[1] - corners[0]),
        ]
        middle = sum(s * c for s, c in zip(sides, corners, strict=True)) / sum(sides)
        deep = tall * base / (sum(sides) / 2)
        for c in corners:
            job.hop(c.real, c.imag)
            job.line(middle.real, middle.imag, -deep / job.tan)


def bars(job: Job) -> None:
    """Letters of bars, each bar carved along its middle line and up into its four corners."""
    wide, tall = job.whole(2, min(7, 1.8 * job.r)), job.whole(15, 40)
    for k in range(int(job.rng.integers(2, 7))):
        flat, x = job.rng.random() < 0.3, (tall / 2 + 8) * k
        a, b, deep = x + wide / 2, wide / 2, -wide / 2 / job.tan
        long = tall * (0.5 if flat else 1)
        ends = ((a, b), (x + long - wide / 2, b)) if flat else ((a, b), (a, long - wide / 2))
        job.hop(*ends[0], deep)
        for sign, (u, v) in zip((-1, 1), ends, strict=True):
            job.line(u, v, deep)
            for s in (-1, 1):
                along, across = sign * wide / 2, s * wide / 2
                job.line(*((u + along, v + across) if flat else (u + across, v + along)), 0)
                job.line(u, v, deep)


def edge_break(job: Job) -> None:
    """A chamfer on a disc and on a hole in it, the tip beside the edge and below the chamfer."""
    disc, hole, beside = job.whole(30, 90), job.whole(12, 24), job.pick(0.5, 1.0)
    z = -(min(job.pick(0.5, 1, 1.5), job.r - beside - 0.2) + beside) / job.tan
    for ring in (hole / 2 - beside, disc / 2 + beside):
        job.hop(ring, 0, z)
        job.circle(0, 0, ring, z)


def roll(job: Job, f: Callable, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Let the ball down on a surface: the height of its lowest point at each place."""
    tip = np.full_like(x, -99.0)
    for rho in job.r * np.sin(np.linspace(0, math.pi / 2, 14)):
        for t in np.arange(24) * math.pi / 12:
            tip = np.maximum(
                tip,
                f(x + rho * math.cos(t), y + rho * math.sin(t))
                + math.sqrt(max(0.0, job.r**2 - rho**2))
                - job.r,
            )
    return tip


def ridges(job: Job) -> None:
    """Ripples or pillows, finished along X, along Y or along a diagonal."""
    a, b, tall = job.rng.uniform(9, 18), job.rng.uniform(9, 18), job.rng.uniform(2, 5)
    power, w = job.pick(0.5, 1, 2), job.whole(22, 40)

    def height(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return tall * (np.abs(np.sin(math.pi * x / a) * np.sin(math.pi * y / b)) ** power - 1)

    turn = np.exp(1j * job.pick(0, math.pi / 2, math.pi / 4))
    u, rows = (
        np.arange(-w / 2, w / 2, 0.35),
        np.arange(-w / 2, w / 2, job.d * job.rng.uniform(0.10, 0.15)),
    )
    for n, v in enumerate(rows):
        p = (u[:: 1 if n % 2 == 0 else -1] + 1j * v) * turn
        for x, y, z in zip(p.real, p.imag, roll(job, height, p.real, p.imag), strict=True):
            job.line(x, y, z) if job.z < 1 else job.hop(x, y, z)


def dome(job: Job) -> None:
    """A dome or a dished seat with a rim, finished along a spiral."""
    size, tall, hollow = job.whole(14, 26), job.whole(4, 9), job.rng.random() < 0.5
    ball = (size**2 + tall**2) / (2 * tall)

    def height(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        rise = np.sqrt(np.maximum(0, ball**2 - x**2 - y**2)) - ball + tall
        return -np.maximum(0, rise) if hollow else np.maximum(0, rise) - tall

    step, reach = job.d * job.rng.uniform(0.10, 0.15), size + (1 if hollow else job.d)
    turn = np.arange(0, 2 * math.pi * reach / step, math.pi / 24)[::-1]
    x, y = step * turn / 2 / math.pi * np.cos(turn), step * turn / 2 / math.pi * np.sin(turn)
    for at in zip(x, y, roll(job, height, x, y), strict=True):
        job.line(*at) if job.z < 1 else job.hop(*at)


def pins(job: Job) -> None:
    """Rows of holes for pins, pecked."""
    depth = (
        job.pick(8, 10, 12)
        if job.rng.random() < 0.5
        else job.pick(6, 12, 18) + job.r / job.tan + 0.5
    )
    pitch, peck = job.pick(20, 25, 32), job.d * job.rng.uniform(0.5, 1.0)
    for i, j in itertools.product(
        range(int(job.rng.integers(1, 4))), range(int(job.rng.integers(4, 9)))
    ):
        job.hop(i * 64, j * pitch)
        for z in np.append(np.arange(peck, depth, peck), depth):
            job.put("G1", Z=-z, F=job.sink)
            job.put("G0", Z=0.5)


KINDS = {
    "flat": (tray, tray, box_side, flower, boss, lattice, level_board),
    "ball": (ridges, dome),
    "vee": (chips, bars, edge_break),
    "drill": (pins,),
}


def make(seed: int) -> Made:
    rng = np.random.default_rng(20_000_000 + seed)
    rack = tuple(replace(parse_bit(n), flutes=2) for n in RACKS[rng.integers(len(RACKS))])
    shapes = [s for s in KINDS if any(b.shape == s for b in rack)]
    weights = np.array([{"flat": 0.55, "ball": 0.15, "vee": 0.2, "drill": 0.1}[s] for s in shapes])
    shape = str(rng.choice(shapes, p=weights / weights.sum()))
    family = KINDS[shape][rng.integers(len(KINDS[shape]))]
    able = [b for b in rack if b.shape == shape]
    if family is edge_break:
        able = [b for b in able if b.angle > 1]
    bit = (
        max(able, key=lambda b: b.diameter)
        if family is level_board
        else able[rng.integers(len(able))]
    )
    job = Job(rng, bit)
    family(job)
    return Made(job.text(), bit, rack, family.__name__)
