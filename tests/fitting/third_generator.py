"""Programs made for known bits: the third generator, written last.

Plain programs as a short script writes them: boxes and discs, whole and odd sizes, straight
entries, a stepover drawn evenly from 30 to 60 % (5 to 15 % for a ball), a pass of a drawn part of
the diameter, one chip load for all bits times the diameter. First score, before any miss was
looked at (seeds 0 to 399): first 0.890, first two 0.975.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from dryrun.job.model import Bit

Rng = np.random.Generator


def _flat(d: float) -> Bit:
    return Bit(f"F{d:g}", "flat", d, flutes=2)


RACK = (
    _flat(3.175), _flat(6.0), _flat(6.35), _flat(12.0),
    Bit("B3", "ball", 3.0, flutes=2), Bit("B6", "ball", 6.0, flutes=2),
    Bit("V60", "vee", 12.0, angle=math.pi / 3, flutes=2),
    Bit("V90", "vee", 12.0, angle=math.pi / 2, flutes=2),
)  # fmt: skip


@dataclass
class Tape:
    """Lines in mm or inch."""

    inch: bool
    feed: float
    out: list[str]

    def v(self, x: float) -> str:
        return f"{x / 25.4:.4f}" if self.inch else f"{x:.3f}"

    def over(self, x: float, y: float) -> None:
        self.out += [f"G0 Z{self.v(6)}", f"G0 X{self.v(x)} Y{self.v(y)}", f"G0 Z{self.v(1)}"]

    def down(self, z: float) -> None:
        self.out.append(f"G1 Z{self.v(z)} F{self.v(self.feed / 3)}")

    def to(self, x: float, y: float, z: float | None = None) -> None:
        last = "" if z is None else f" Z{self.v(z)}"
        self.out.append(f"G1 X{self.v(x)} Y{self.v(y)}{last} F{self.v(self.feed)}")

    def turn(self, x, y, i, j, z=None) -> None:
        last = "" if z is None else f" Z{self.v(z)}"
        self.out.append(f"G3 X{self.v(x)} Y{self.v(y)}{last} I{self.v(i)} J{self.v(j)}")


def levels(rng: Rng, d: float) -> list[float]:
    total = round(float(rng.uniform(0.5, 2.5)) * d, 1)
    step = d * float(rng.uniform(0.3, 1.0))
    n = math.ceil(total / step)
    return [total * (k + 1) / n for k in range(n)]


def whole(rng: Rng, low: float, high: float) -> float:
    x = float(rng.uniform(low, high))
    return x if rng.random() < 0.25 else float(round(x))


def zigzag(t: Tape, rng: Rng, d: float) -> None:
    w, h = whole(rng, 3 * d, 60 + 3 * d), whole(rng, 3 * d, 60 + 3 * d)
    x0, y0 = whole(rng, 0, 80), whole(rng, 0, 80)
    step, r = d * float(rng.uniform(0.3, 0.6)), d / 2
    for z in levels(rng, d):
        y, side = y0 + r, False
        t.over(x0 + r, y)
        t.down(-z)
        while True:
            t.to(x0 + (r if side else w - r), y)
            if y >= y0 + h - r - 1e-9:
                break
            y = min(y + step, y0 + h - r)
            side = not side
            t.to(x0 + (w - r if side else r), y)


def boxes_inward(t: Tape, rng: Rng, d: float) -> None:
    w, h = whole(rng, 3 * d, 60 + 3 * d), whole(rng, 3 * d, 60 + 3 * d)
    x0, y0 = whole(rng, 0, 80), whole(rng, 0, 80)
    step = d * float(rng.uniform(0.3, 0.6))
    for z in levels(rng, d):
        t.over(x0 + d / 2, y0 + d / 2)
        t.down(-z)
        k = d / 2
        while k <= min(w, h) / 2:
            for x, y in ((k, k), (w - k, k), (w - k, h - k), (k, h - k), (k, k)):
                t.to(x0 + x, y0 + y)
            k += step


def discs(t: Tape, rng: Rng, d: float) -> None:
    wide = whole(rng, 2.2 * d, 50 + 2 * d)
    cx, cy = whole(rng, 30, 90), whole(rng, 30, 90)
    step = d * float(rng.uniform(0.3, 0.6))
    for z in levels(rng, d):
        t.over(cx, cy)
        t.down(-z)
        r = 0.0
        while r < wide / 2 - d / 2 - 1e-9:
            r = min(r + step, wide / 2 - d / 2)
            t.to(cx + r, cy)
            t.turn(cx + r, cy, -r, 0)


def around(t: Tape, rng: Rng, d: float) -> None:
    w, h, r = whole(rng, 20, 120), whole(rng, 20, 120), d / 2
    x0, y0 = whole(rng, 10, 60), whole(rng, 10, 60)
    arcs = rng.random() < 0.6
    for z in levels(rng, d):
        t.over(x0, y0 - r)
        t.down(-z)
        if arcs:
            t.to(x0 + w, y0 - r)
            t.turn(x0 + w + r, y0, 0, r)
            t.to(x0 + w + r, y0 + h)
            t.turn(x0 + w, y0 + h + r, -r, 0)
            t.to(x0, y0 + h + r)
            t.turn(x0 - r, y0 + h, 0, -r)
            t.to(x0 - r, y0)
            t.turn(x0, y0 - r, r, 0)
        else:
            for x, y in ((w + r, -r), (w + r, h + r), (-r, h + r), (-r, -r), (0, -r)):
                t.to(x0 + x, y0 + y)


def bores(t: Tape, rng: Rng, d: float) -> None:
    hole = whole(rng, 1.3 * d, 2 * d)
    r = max(0.1 * d, (hole - d) / 2)
    deep, pitch = whole(rng, 4, 15), d * float(rng.uniform(0.15, 0.4))
    for _ in range(int(rng.integers(2, 7))):
        x, y, z = whole(rng, 10, 120), whole(rng, 10, 120), 0.0
        t.over(x + r, y)
        t.down(0)
        while z > -deep:
            z = max(z - pitch, -deep)
            t.turn(x + r, y, -r, 0, z)
        t.turn(x + r, y, -r, 0)


def waves(t: Tape, rng: Rng, d: float) -> None:
    """A ball's tip straight on a smooth surface, as a careless script would put it."""
    step = d * float(rng.uniform(0.05, 0.15))
    a, k = float(rng.uniform(0.5, 2)), float(rng.uniform(0.08, 0.3))
    back = False
    t.over(0, 0)
    for y in np.arange(0, min(40, 80 * step), step):
        xs = np.arange(0, 40.1, 0.5)
        for x in xs[::-1] if back else xs:
            t.to(x, y, -a - 0.2 + a * math.sin(k * x) * math.cos(k * y))
        back = not back


def domes(t: Tape, rng: Rng, d: float) -> None:
    """Domes on a plane under a ball: its tip on the exact offset of sphere and plane."""
    r, step = d / 2, d * float(rng.uniform(0.05, 0.15))
    spots = [(*rng.uniform(8, 32, 2), rng.uniform(1.5, 6)) for _ in range(4)]
    back = False
    t.over(0, 0)
    for y in np.arange(0, min(40, 80 * step), step):
        xs = np.arange(0, 40.1, 0.3)
        for x in xs[::-1] if back else xs:
            z = -3.0
            for cx, cy, big in spots:
                gap = (big + r) ** 2 - (x - cx) ** 2 - (y - cy) ** 2
                if gap > 0:
                    z = max(z, math.sqrt(gap) - r - 3.0 - 0.4 * big)
            t.to(x, y, min(z, -0.05))
        back = not back


def triangles(t: Tape, rng: Rng, half: float) -> None:
    g = 1 / math.tan(half)
    for _ in range(int(rng.integers(2, 8))):
        turn = np.cumsum([rng.uniform(0, 6), rng.uniform(1.5, 2.5), rng.uniform(1.5, 2.5)])
        p = np.column_stack([np.cos(turn), np.sin(turn)]) * rng.uniform(3, 8)
        side = np.hypot(*(np.roll(p, 1, 0) - np.roll(p, -1, 0)).T)
        mid = (side[:, None] * p).sum(axis=0) / side.sum()
        q = p - mid
        area = abs((p[1] - p[0])[0] * (p[2] - p[0])[1] - (p[1] - p[0])[1] * (p[2] - p[0])[0]) / 2
        deep = 2 * area / side.sum() * g
        at = rng.uniform(15, 100, 2)
        t.over(*(q[0] + at))
        t.to(*(q[0] + at), 0.0)
        t.to(*at, -deep)
        for k in (1, 2):
            t.to(*(q[k] + at), 0.0)
            t.to(*at, -deep)


def bars(t: Tape, rng: Rng, half: float) -> None:
    """Rectangles: a ridge along the middle, bisectors into the four corners."""
    g = 1 / math.tan(half)
    for _ in range(int(rng.integers(2, 8))):
        w = float(rng.uniform(2, 9))
        long = w * float(rng.uniform(1.5, 6))
        x, y = rng.uniform(10, 100, 2)
        a, b = (x + w / 2, y + w / 2), (x + long - w / 2, y + w / 2)
        z = -w / 2 * g
        t.over(x, y)
        t.to(x, y, 0.0)
        t.to(*a, z)
        t.to(x, y + w, 0.0)
        t.to(*a, z)
        t.to(*b, z)
        t.to(x + long, y, 0.0)
        t.to(*b, z)
        t.to(x + long, y + w, 0.0)


FLAT = (zigzag, boxes_inward, discs, around, bores)
BALL = (waves, domes)
VEE = (triangles, bars)


@dataclass(frozen=True)
class Made:
    family: str
    bit: Bit
    rack: tuple[Bit, ...]
    text: bytes


def make(seed: int) -> Made:
    """Make one program from a seed."""
    rng = np.random.default_rng([99, seed])
    bit = RACK[rng.integers(len(RACK))]
    speed = float(rng.choice([10000, 14000, 18000, 24000]))
    load = float(rng.uniform(0.015, 0.03)) * min(bit.diameter, 6.0)
    t = Tape(bool(rng.random() < 0.3), round(load * 2 * speed, -1), [])
    kinds = {"flat": FLAT, "ball": BALL, "vee": VEE}[bit.shape]
    kind = kinds[rng.integers(len(kinds))]
    kind(t, rng, bit.angle / 2 if bit.shape == "vee" else bit.diameter)
    head = ["G20" if t.inch else "G21", "G90 G17", f"M3 S{speed:.0f}", f"G0 Z{t.v(6)}"]
    text = "\n".join([*head, *t.out, f"G0 Z{t.v(6)}", "M5", "M30", ""])
    return Made(kind.__name__, bit, RACK, text.encode())
