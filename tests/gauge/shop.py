"""A small workshop for the tests: jobs, a machine that cuts them wrongly, and someone measuring.

Independent of the code under test: the truth is found by placing the whole cutter at many points
of the whole path, one reading at a time, with the outline written out again here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from types import SimpleNamespace

import numpy as np

from dryrun.gauge.measurements import LIMITS, USUAL, Measurements, Reading
from dryrun.job.model import Bit, Job, Stage, Stock
from dryrun.motion import ARC, LINE, Motion

STEP = 0.05  # mm between places of the cutter along the path

FLAT6 = Bit("flat-6", "flat", 6.0)
FLAT635 = Bit("flat-quarter", "flat", 6.35)
FLAT3 = Bit("flat-3", "flat", 3.0)
BALL6 = Bit("ball-6", "ball", 6.0)
VEE90 = Bit("vee-90", "vee", 12.0, angle=math.radians(90))
VEE60 = Bit("vee-60", "vee", 10.0, angle=math.radians(60), tip=0.2)


@dataclass
class Site:
    """Where someone may measure: kind, place, direction in degrees."""

    kind: str
    x: float
    y: float
    direction: float = math.nan
    bit: str = ""
    depth: float = 0.0


@dataclass
class Shop:
    """One job and the places to measure it."""

    name: str
    stock: Stock
    bits: tuple[Bit, ...]
    stages: list[tuple[Bit, list[tuple]]] = field(default_factory=list)
    sites: list[Site] = field(default_factory=list)

    def cut(self, bit: Bit) -> list[tuple]:
        """Begin a stage; returns its list of lines."""
        self.stages.append((bit, []))
        return self.stages[-1][1]

    def z(self, depth: float) -> float:
        return self.stock.top - depth

    def pocket(self, lines, x0, y0, x1, y1, depth, over=2.0):
        """Clear a box measured over its walls, line by line; four places on its floor."""
        r = self.stages[-1][0].diameter / 2
        z, y, flip = self.z(depth), y0 + r, False
        while True:
            a, b = (x1 - r, x0 + r) if flip else (x0 + r, x1 - r)
            lines.append(((a, y, z), (b, y, z)))
            if y >= y1 - r - 1e-9:
                break
            nxt = min(y + over, y1 - r)
            lines.append(((b, y, z), (b, nxt, z)))
            y, flip = nxt, not flip
        lines.append(((x0 + r, y0 + r, z), (x0 + r, y1 - r, z)))
        lines.append(((x1 - r, y0 + r, z), (x1 - r, y1 - r, z)))
        for u, v in ((0.3, 0.3), (0.7, 0.3), (0.3, 0.7), (0.7, 0.7)):
            x, y = x0 + u * (x1 - x0), y0 + v * (y1 - y0)
            self.sites.append(Site("depth", x, y, bit=self.stages[-1][0].name, depth=depth))

    def groove(self, lines, x0, y0, x1, y1, depth):
        """Cut one straight groove; its width and the depth of its middle can be measured."""
        z = self.z(depth)
        lines.append(((x0, y0, z), (x1, y1, z)))
        across = math.degrees(math.atan2(y1 - y0, x1 - x0)) + 90
        bit = self.stages[-1][0]
        for u in (0.3, 0.7):
            x, y = x0 + u * (x1 - x0), y0 + u * (y1 - y0)
            self.sites.append(Site("width", x, y, across, bit.name, depth))
            if bit.shape != "vee":
                self.sites.append(Site("depth", x, y, bit=bit.name, depth=depth))

    def motion(self, lines) -> Motion:
        n = len(lines)
        start = np.array([a for a, *_ in lines], float)
        end = np.array([b for _, b, *_ in lines], float)
        centre = np.full((n, 3), np.nan)
        axis, sweep = np.full(n, -1), np.zeros(n)
        kind = np.full(n, LINE)
        for k, (_, _, *arc) in enumerate(lines):
            if arc:
                kind[k], centre[k], axis[k], sweep[k] = ARC, arc[0], 2, arc[1]
        one = np.ones(n)
        return Motion(kind, start, end, centre, axis, sweep, one * 1000, one * 18000, one * 1,
                      one * 0, one * np.nan, np.arange(1, n + 1), one * 0)  # fmt: skip

    def outcome(self, cell=0.25):
        """Return what a dry run of the job as declared would give."""
        stages, row = [], 0
        for k, (bit, lines) in enumerate(self.stages):
            motion = self.motion(lines)
            stages.append(
                SimpleNamespace(stage=Stage(f"stage {k + 1}", None, bit), motion=motion,
                                surface_after=None, facts=None)
            )  # fmt: skip
            row += len(motion)
        job = Job(self.name, "mm", tuple(s.stage for s in stages), self.stock, bits=self.bits)
        surface = raster(self, cell)
        return SimpleNamespace(job=job, surface=surface, stages=stages)


def outline(bit: Bit, r):
    """Height of the cutter's underside at radius r, straight from its drawing."""
    inside = r <= bit.diameter / 2
    if bit.shape == "flat":
        h = np.zeros_like(r)
    elif bit.shape == "ball":
        big = bit.diameter / 2
        h = big - np.sqrt(np.maximum(big * big - r * r, 0))
    elif bit.shape == "vee":
        h = np.maximum(r - bit.tip / 2, 0) / math.tan(bit.angle / 2)
    else:
        raise NotImplementedError(bit.shape)
    return np.where(inside, h, np.inf)


def places(line, step=STEP):
    """Points of the tip along one line or arc, (m, 3)."""
    a, b, *arc = line
    a, b = np.array(a, float), np.array(b, float)
    if arc:
        centre, sweep = np.array(arc[0]), arc[1]
        r = math.hypot(*(a - centre)[:2])
        turn = math.atan2(*(a - centre)[1::-1])
        t = np.linspace(0, 1, 2 + int(abs(r * sweep) / step))
        angle = turn + t * sweep
        z = a[2] + t * (b[2] - a[2])
        return np.column_stack([centre[0] + r * np.cos(angle), centre[1] + r * np.sin(angle), z])
    m = 2 + int(np.linalg.norm(b - a) / step)
    return a + np.linspace(0, 1, m)[:, None] * (b - a)


def raster(shop: Shop, cell: float):
    """Cut a height field cell by cell."""
    low, high = shop.stock.low, shop.stock.high
    nx = round((high[0] - low[0]) / cell)
    ny = round((high[1] - low[1]) / cell)
    x = low[0] + (np.arange(nx) + 0.5) * cell
    y = low[1] + (np.arange(ny) + 0.5) * cell
    height = np.full((ny, nx), shop.stock.top, float)
    cut_by = np.full((ny, nx), -1, np.int32)
    row = 0
    for bit, lines in shop.stages:
        r = bit.diameter / 2
        for line in lines:
            a, b, *arc = line
            pts = places(line, 0.5)
            i0, i1 = np.searchsorted(x, [pts[:, 0].min() - r, pts[:, 0].max() + r])
            j0, j1 = np.searchsorted(y, [pts[:, 1].min() - r, pts[:, 1].max() + r])
            gx, gy = x[None, i0:i1], y[j0:j1, None]
            if arc or a[2] != b[2]:
                fine = places(line, 0.25)
                new = np.full((j1 - j0, i1 - i0), np.inf)
                for p in fine:
                    new = np.minimum(new, p[2] + outline(bit, np.hypot(gx - p[0], gy - p[1])))
            else:
                d = np.array(b[:2]) - np.array(a[:2])
                length = max(float(d @ d), 1e-12)
                t = np.clip(((gx - a[0]) * d[0] + (gy - a[1]) * d[1]) / length, 0, 1)
                new = a[2] + outline(bit, np.hypot(gx - a[0] - t * d[0], gy - a[1] - t * d[1]))
            part = height[j0:j1, i0:i1]
            lower = new < part - 1e-9
            part[lower] = new[lower]
            cut_by[j0:j1, i0:i1][lower] = row
            row += 1
    return SimpleNamespace(height=height.astype(np.float32), cell=cell,
                           origin=(float(x[0]), float(y[0])), cut_by=cut_by)  # fmt: skip


@dataclass
class Fault:
    """What is wrong at the machine."""

    cause: str = "none"
    z_zero: float = 0.0
    tilt: tuple[float, float] = (0.0, 0.0)  # mm per m
    pivot: tuple[float, float] = (0.0, 0.0)
    bow: tuple[float, float] = (0.0, 0.0)
    #: Whether the bow lifts the cutter where its axis is (so that the downhill side of a wide bit
    #: cuts a little deeper), or the place measured.
    bow_at_tip: bool = False
    scale: float = 1.0
    diameter: dict[str, float] = field(default_factory=dict)
    angle: dict[str, float] = field(default_factory=dict)
    thickness: float = 0.0
    after: tuple[int, float, float, float] | None = None
    swap: dict[str, Bit] = field(default_factory=dict)
    truth: dict[str, float] = field(default_factory=dict)


class Machine:
    """Cuts a shop's job with a fault and answers what a perfect gauge would read."""

    def __init__(self, shop: Shop, fault: Fault) -> None:
        self.shop, self.fault = shop, fault
        stock = shop.stock
        self.on_bed = abs(stock.zero_at[2] + stock.size[2]) < 1e-9
        self.top = stock.top + (fault.thickness if self.on_bed else 0)
        self.bottom = stock.bed - (0 if self.on_bed else fault.thickness)
        self.cuts = []
        row = 0
        for bit, lines in shop.stages:
            used = fault.swap.get(bit.name, bit)
            used = Bit(used.name, used.shape, used.diameter + fault.diameter.get(bit.name, 0),
                       None if used.angle is None
                       else used.angle + math.radians(fault.angle.get(bit.name, 0)),
                       used.tip)  # fmt: skip
            pts = []
            for line in lines:
                p = places(line)
                if fault.after and row >= fault.after[0]:
                    p = p + np.array(fault.after[1:])
                pts.append(p)
                row += 1
            p = np.concatenate(pts)
            p[:, 2] = p[:, 2] * fault.scale + fault.z_zero - self.deeper(p[:, 0], p[:, 1])
            self.cuts.append((used, p))

    def deeper(self, x, y):
        f = self.fault
        tilt = (f.tilt[0] * (x - f.pivot[0]) + f.tilt[1] * (y - f.pivot[1])) / 1000
        return tilt + (self.bowed(x, y) if f.bow_at_tip else 0.0)

    def bowed(self, x, y):
        f, s = self.fault, self.shop.stock
        cx, cy = (s.low[0] + s.high[0]) / 2, (s.low[1] + s.high[1]) / 2
        u, v = (x - cx) / (s.size[0] / 2), (y - cy) / (s.size[1] / 2)
        return f.bow[0] * (1 - u * u) + f.bow[1] * (1 - v * v)

    def height(self, x, y, local=None):
        """Height of the cut at places (m,), by trying every place of the cutter."""
        best = np.full(len(x), self.top)
        for bit, p in local or self.cuts:
            r = bit.diameter / 2
            near = (
                (p[:, 0] > x.min() - r) & (p[:, 0] < x.max() + r)
                & (p[:, 1] > y.min() - r) & (p[:, 1] < y.max() + r)
            )  # fmt: skip
            q = p[near]
            if len(q):
                d = np.hypot(x[:, None] - q[:, 0], y[:, None] - q[:, 1])
                best = np.minimum(best, (q[:, 2] + outline(bit, d)).min(axis=1))
        return best

    def read(self, site: Site) -> float:
        """What a perfect gauge reads."""
        if not self.fault.bow_at_tip and any(self.fault.bow):
            deeper = self.bowed(site.x, site.y)
            level = self.cuts
            self.cuts = [(bit, p - np.array([0.0, 0.0, deeper])) for bit, p in level]
            try:
                return self._read(site)
            finally:
                self.cuts = level
        return self._read(site)

    def _read(self, site: Site) -> float:
        x, y = np.array([site.x]), np.array([site.y])
        if site.kind == "width":
            return self.edge(site, 1) + self.edge(site, -1)
        h = float(self.height(x, y)[0])
        return self.top - h if site.kind == "depth" else max(h - self.bottom, 0.0)

    def edge(self, site: Site, sign: int) -> float:
        c = sign * math.cos(math.radians(site.direction))
        s = sign * math.sin(math.radians(site.direction))
        local = []
        for bit, p in self.cuts:
            near = np.hypot(p[:, 0] - site.x, p[:, 1] - site.y) < 16 + bit.diameter / 2
            local.append((bit, p[near]))
        low, high, coarse = 0.0, 15.0, 0.5
        for _ in range(4):  # look ever closer for the first uncut place
            out = np.arange(low, high + coarse, coarse)
            h = self.height(site.x + out * c, site.y + out * s, local)
            uncut = h >= self.top - 1e-9
            if not uncut.any():
                return high
            k = int(np.argmax(uncut))
            if k == 0:
                return out[0]
            low, high, coarse = out[k - 1], out[k], coarse / 20
        return (low + high) / 2


def small_trivet() -> Shop:
    """A square blank, zero at the middle of its top; pockets, slots and vee grooves."""
    shop = Shop("trivet", Stock((200, 200, 18), (100, 100, 0), "centre-top"),
                (FLAT6, FLAT635, VEE90, VEE60, BALL6))  # fmt: skip
    lines = shop.cut(FLAT6)
    shop.pocket(lines, -90, -90, -60, -65, 3)
    shop.pocket(lines, 55, -85, 85, -60, 4.5)
    shop.pocket(lines, -15, -12, 15, 12, 6)
    shop.pocket(lines, -85, 60, -60, 85, 6)
    shop.pocket(lines, 60, 60, 90, 85, 3)
    shop.groove(lines, -40, -80, 30, -80, 5)
    shop.groove(lines, -40, 85, 30, 85, 3)
    lines = shop.cut(VEE90)
    shop.groove(lines, -80, -30, -30, -30, 2)
    shop.groove(lines, 30, 30, 80, 35, 3.5)
    shop.groove(lines, -70, 40, -30, 10, 3)
    shop.groove(lines, 40, -40, 75, -20, 1.5)
    shop.sites += [Site("thickness", x, y) for x in (-96, 96) for y in (-40, 40)]
    return shop


def long_sign() -> Shop:
    """A long blank, zero at its front left corner; narrow slots and a sharp vee."""
    shop = Shop("sign", Stock((320, 150, 12), (0, 0, 0), "front-left-top"),
                (FLAT3, FLAT6, VEE60, VEE90))  # fmt: skip
    lines = shop.cut(FLAT6)
    shop.pocket(lines, 15, 15, 50, 40, 2)
    shop.pocket(lines, 270, 15, 305, 40, 5)
    shop.pocket(lines, 140, 60, 180, 90, 7)
    shop.pocket(lines, 270, 110, 305, 135, 2)
    shop.pocket(lines, 15, 110, 50, 135, 4)
    lines = shop.cut(FLAT3)
    shop.groove(lines, 70, 20, 250, 20, 3)
    shop.groove(lines, 70, 130, 250, 130, 6)
    lines = shop.cut(VEE60)
    shop.groove(lines, 60, 60, 120, 60, 4)
    shop.groove(lines, 200, 60, 250, 90, 2)
    shop.groove(lines, 60, 90, 120, 90, 3)
    shop.sites += [Site("thickness", x, y) for x in (5, 315) for y in (50, 100)]
    return shop


def box_lid() -> Shop:
    """A small blank, zero on the bed; ball grooves beside pockets."""
    shop = Shop("lid", Stock((140, 120, 15), (0, 0, -15), "front-left-bed"),
                (FLAT6, BALL6, VEE90, FLAT635))  # fmt: skip
    lines = shop.cut(FLAT6)
    shop.pocket(lines, 8, 8, 35, 30, 3)
    shop.pocket(lines, 105, 8, 132, 30, 8)
    shop.pocket(lines, 8, 90, 35, 112, 8)
    shop.pocket(lines, 105, 90, 132, 112, 5)
    shop.groove(lines, 45, 15, 95, 15, 6)
    lines = shop.cut(BALL6)
    shop.groove(lines, 45, 50, 95, 50, 1.2)
    shop.groove(lines, 45, 70, 95, 70, 2.2)
    lines = shop.cut(VEE90)
    shop.groove(lines, 45, 90, 95, 90, 3)
    shop.groove(lines, 45, 105, 95, 105, 1.5)
    shop.sites += [Site("thickness", x, y) for x in (3, 137) for y in (50, 70)]
    return shop


SHOPS = (small_trivet, long_sign, box_lid)
CAUSES = ("none", "z-zero", "tilt", "bow", "z-scale", "bit-diameter", "vee-angle", "thickness",
          "step-loss", "wrong-bit")  # fmt: skip


def draw_fault(shop: Shop, cause: str, rng: np.random.Generator) -> Fault:
    """Draw a fault of a size a person would want to know about."""
    s = shop.stock
    f = Fault(cause)

    def either(a, b):
        return float(rng.choice([-1, 1]) * rng.uniform(a, b))

    if cause == "z-zero":
        f.z_zero = either(0.1, 0.6)
        f.truth = {"z_zero_mm": f.z_zero}
    elif cause == "tilt":
        turn, size = rng.uniform(0, 2 * math.pi), rng.uniform(0.3, 1.0)
        f.tilt = (
            1000 * size * math.cos(turn) / s.size[0],
            1000 * size * math.sin(turn) / s.size[1],
        )
        if rng.random() < 0.5:
            f.pivot = ((s.low[0] + s.high[0]) / 2, (s.low[1] + s.high[1]) / 2)
        f.truth = {"tilt_x_mm_per_m": f.tilt[0], "tilt_y_mm_per_m": f.tilt[1]}
    elif cause == "bow":
        size = either(0.3, 0.9)
        f.bow = [(size, 0.0), (0.0, size), (size, 0.7 * size)][int(rng.integers(3))]
        names = ("bow_x_mm", "bow_y_mm")
        f.truth = {n: b for n, b in zip(names, f.bow, strict=True) if b}
    elif cause == "z-scale":
        f.scale = 1 + either(0.015, 0.05)
        f.truth = {"z_scale": f.scale}
    elif cause == "bit-diameter":
        bit = shop.stages[0][0] if rng.random() < 0.6 else shop.stages[1][0]
        bit = bit if bit.shape != "vee" else shop.stages[0][0]
        change = either(0.1, 0.3)
        f.diameter = {bit.name: change}
        f.truth = {"diameter_mm": bit.diameter + change}
    elif cause == "vee-angle":
        bit = next(b for b, _ in shop.stages if b.shape == "vee")
        change = either(2, 6)
        f.angle = {bit.name: change}
        f.truth = {"angle_deg": math.degrees(bit.angle) + change}
    elif cause == "thickness":
        f.thickness = either(0.15, 0.8)
        f.truth = {"thickness_mm": s.size[2] + f.thickness}
    elif cause == "step-loss":
        total = sum(len(lines) for _, lines in shop.stages)
        f.after = (int(total * rng.uniform(0.3, 0.7)), 0.0, 0.0, either(0.3, 1.0))
        f.truth = {"shift_z_mm": f.after[3]}
    elif cause == "wrong-bit":
        own = [b for b, _ in shop.stages]
        bit = own[0] if rng.random() < 0.5 else next(b for b in own if b.shape == "vee")
        used = {o.name for o in own}
        others = [b for b in shop.bits if b.name not in used]
        others = others or [b for b in shop.bits if b.name != bit.name]
        f.swap = {bit.name: others[int(rng.integers(len(others)))]}
    return f


def choose_sites(shop: Shop, count: int, rng: np.random.Generator) -> list[Site]:
    """Choose places as a sensible person would: some of each kind, spread, no two alike."""
    order = [shop.sites[i] for i in rng.permutation(len(shop.sites))]
    floors = [s for s in order if s.kind == "depth"]
    widths = [s for s in order if s.kind == "width"]
    by_groove: dict[tuple, list[Site]] = {}
    for s in widths:
        by_groove.setdefault((s.bit, s.depth), []).append(s)
    spread = [g.pop() for g in by_groove.values()] + [s for g in by_groove.values() for s in g]
    vee = [s for s in spread if s.bit.startswith("vee")][:2]
    spread = vee + [s for s in spread if s not in vee]
    thick = [s for s in order if s.kind == "thickness"]
    third = max(3, count - 2 - count // 3)
    chosen = floors[:third] + thick[:1] + spread[: max(2, count - third - 2)]
    rest = [s for s in order if s not in chosen]
    return (chosen + rest)[:count]


def measure(
    shop: Shop,
    machine: Machine,
    sites: list[Site],
    rng: np.random.Generator,
    *,
    noise: float | None = 0.02,
    declared: bool = True,
    misread: bool = False,
) -> Measurements:
    """Read every site once, with noise (None: the usual instruments' limits).

    One reading may be grossly wrong.
    """
    rows = []
    bad = int(rng.integers(len(sites))) if misread else -1
    for i, s in enumerate(sites):
        if noise is None:  # anywhere within the usual limits of the instrument
            limit = LIMITS[USUAL[s.kind]]
            value = machine.read(s) + rng.uniform(-limit, limit)
        else:
            value = machine.read(s) + rng.normal(0, noise)
        if i == bad:
            value += float(rng.choice([-1, 1]) * rng.uniform(0.5, 3.0))
        rows.append(Reading(s.x, s.y, s.kind, value, noise if declared else math.nan,
                            direction=s.direction))  # fmt: skip
    return Measurements.from_rows(rows)
