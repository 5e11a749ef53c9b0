"""What a workshop repeats: pockets, bores, cut-outs with tabs, drilled holes, carved corners."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from .tape import Tape

Point = tuple[float, float]


def levels(top: float, bottom: float, step: float) -> list[float]:
    """Even passes from below `top` to `bottom`, none more than `step`."""
    count = max(1, math.ceil((top - bottom) / step - 1e-9))
    return [top - (top - bottom) * (k + 1) / count for k in range(count)]


def helix(
    t: Tape, x: float, y: float, r: float, top: float, bottom: float, pitch: float, f: float
) -> None:
    """From `top` to `bottom` on full turns about x, y, and once round at the bottom."""
    t.cut(x + r, y, top, f)
    for z in levels(top, bottom, pitch):
        t.arc("G3", x + r, y, (x, y), z, f)
    t.arc("G3", x + r, y, (x, y), f=f)


def bore(
    t: Tape,
    x: float,
    y: float,
    hole: float,
    bit: float,
    top: float,
    bottom: float,
    pitch: float,
    f: float,
    above: float,
) -> None:
    """A hole no wider than two bits, by a helix, and out by its middle."""
    r = (hole - bit) / 2
    t.over(x + r, y, top + above)
    helix(t, x, y, r, top, bottom, pitch, f)
    t.cut(x, y, f=f)
    t.up()


def round_pocket(
    t: Tape,
    x: float,
    y: float,
    hole: float,
    bit: float,
    depths: Sequence[float],
    step: float,
    pitch: float,
    f: float,
    above: float,
    top: float = 0.0,
) -> None:
    """A round pocket: down on a helix, rounds outward, for each depth."""
    last = (hole - bit) / 2
    first = min(bit * 0.4, last)
    count = max(1, math.ceil((last - first) / step - 1e-9))
    radii = [first + (last - first) * k / count for k in range(count + 1)]
    t.over(x + first, y, top + above)
    high = top
    for z in depths:
        t.cut(x + first, y, f=f)
        helix(t, x, y, first, high + (above if high == top else 0.2), z, pitch, f)
        for r in radii[1:]:
            t.cut(x + r, y, f=f)
            t.arc("G3", x + r, y, (x, y), f=f)
        high = z
        if z != depths[-1]:
            t.cut(x + first, y, f=f)
            t.cut(z=z + 0.2, f=f)
    t.cut(x, y, f=f)
    t.up()


def rect_pocket(
    t: Tape,
    low: Point,
    high: Point,
    bit: float,
    depths: Sequence[float],
    step: float,
    f: float,
    ramp: float,
    above: float,
    top: float = 0.0,
) -> None:
    """A rectangular pocket: a ramp along the middle, rounds outward, for each depth.

    `ramp` is how far the ramp goes along for each unit down.
    """
    hx, hy = (high[0] - low[0] - bit) / 2, (high[1] - low[1] - bit) / 2
    mx, my = (low[0] + high[0]) / 2, (low[1] + high[1]) / 2
    small = min(hx, hy)
    count = max(1, math.ceil(small / step - 1e-9))
    ax, ay = mx - (hx - small), my - (hy - small)
    bx, by = mx + (hx - small), my + (hy - small)
    line = math.hypot(bx - ax, by - ay)
    z = top
    t.over(ax, ay, top + above)
    for depth in depths:
        t.cut(ax, ay, z + (above if z == top else 0.0), f)
        if line > 2 * bit:
            there = True
            while z > depth + 1e-9:
                z = max(depth, z - line / ramp)
                t.cut(bx if there else ax, by if there else ay, z, f)
                there = not there
            t.cut(ax if not there else bx, ay if not there else by, z, f)
        else:
            helix(t, ax, ay, bit * 0.35, z + (above if z == top else 0.0), depth, bit / 6, f)
            z = depth
        for k in range(1, count + 1):
            inset = small * (1 - k / count)
            x0, x1 = mx - hx + inset, mx + hx - inset
            y0, y1 = my - hy + inset, my + hy - inset
            t.cut(x0, y0, f=f)
            for corner in ((x1, y0), (x1, y1), (x0, y1), (x0, y0)):
                t.cut(*corner, f=f)
        if depth != depths[-1]:
            t.cut(z=z + 0.5, f=f)
            t.cut(ax, ay, f=f)
            t.cut(z=z, f=f)
    t.up()


Segment = tuple[str, float, float, float, float]  # "L" x y 0 0, or "G2"/"G3" x y cx cy


def lines(points: Sequence[Point]) -> list[Segment]:
    """A closed polygon as segments, beginning at its first point."""
    ends = [*points[1:], points[0]]
    return [("L", x, y, 0.0, 0.0) for x, y in ends]


def rounded_rect(x0: float, y0: float, x1: float, y1: float, r: float) -> list[Segment]:
    """Counter-clockwise from x0 + r, y0."""
    return [
        ("L", x1 - r, y0, 0.0, 0.0),
        ("G3", x1, y0 + r, x1 - r, y0 + r),
        ("L", x1, y1 - r, 0.0, 0.0),
        ("G3", x1 - r, y1, x1 - r, y1 - r),
        ("L", x0 + r, y1, 0.0, 0.0),
        ("G3", x0, y1 - r, x0 + r, y1 - r),
        ("L", x0, y0 + r, 0.0, 0.0),
        ("G3", x0 + r, y0, x0 + r, y0 + r),
    ]


def around(
    t: Tape,
    start: Point,
    path: Sequence[Segment],
    depths: Sequence[float],
    f: float,
    down: float,
    above: float,
    top: float = 0.0,
    tabs: Sequence[int] = (),
    tab_long: float = 0.0,
    tab_z: float = 0.0,
) -> None:
    """A closed path at several depths; down on a ramp along its first piece, a straight one.

    `tabs` are the pieces that get a tab in their middle, `tab_long` the length of the move over
    it, `tab_z` its top.
    """
    t.over(*start, top + above)
    z = top
    t.cut(*start, top + (0.0 if depths[0] < top else above), down)
    for depth in depths:
        first = path[0]
        t.cut(first[1], first[2], depth, f)
        place = (first[1], first[2])
        for k, piece in enumerate([*path[1:], path[0]], start=1):
            kind, x, y, cx, cy = piece
            number = k % len(path)
            if kind != "L":
                t.arc(kind, x, y, (cx, cy), f=f)
            elif number in tabs and depth < tab_z - 1e-9:
                long = math.hypot(x - place[0], y - place[1])
                ux, uy = (x - place[0]) / long, (y - place[1]) / long
                a, b = (long - tab_long) / 2, (long + tab_long) / 2
                t.cut(place[0] + ux * a, place[1] + uy * a, f=f)
                t.cut(z=tab_z, f=down)
                t.cut(place[0] + ux * b, place[1] + uy * b, f=f)
                t.cut(z=depth, f=down)
                t.cut(x, y, f=f)
            else:
                t.cut(x, y, f=f)
            place = (x, y)
        z = depth
        if depth != depths[-1]:
            # back along the first piece, which is cut already, to where the ramp begins
            t.cut(z=z + 0.3, f=f)
            t.cut(*start, f=f)
            t.cut(z=z, f=f)
    t.up()


def inset_polygon(points: Sequence[Point], by: float) -> list[Point]:
    """A convex polygon, counter-clockwise, moved inward by `by`."""
    out = []
    n = len(points)
    for k in range(n):
        (ax, ay), (bx, by_), (cx, cy) = points[k - 1], points[k], points[(k + 1) % n]
        d1 = math.hypot(bx - ax, by_ - ay)
        d2 = math.hypot(cx - bx, cy - by_)
        n1 = (-(by_ - ay) / d1, (bx - ax) / d1)
        n2 = (-(cy - by_) / d2, (cx - bx) / d2)
        scale = by / (1 + n1[0] * n2[0] + n1[1] * n2[1])
        out.append((bx + (n1[0] + n2[0]) * scale, by_ + (n1[1] + n2[1]) * scale))
    return out


def carve(
    t: Tape, points: Sequence[Point], depth: float, half_angle: float, f: float, above: float
) -> None:
    """Walls of a convex polygon by a vee bit at one depth, with its corners drawn up to the top."""
    inner = inset_polygon(points, depth * math.tan(half_angle))
    t.over(*points[0], above)
    t.cut(*points[0], 0.0, f)
    for k in range(len(points)):
        t.cut(*inner[k], -depth, f)
        nxt = (k + 1) % len(points)
        t.cut(*inner[nxt], f=f)
        t.cut(*points[nxt], 0.0, f)
    t.up()


def carve_stroke(
    t: Tape, a: Point, b: Point, wide: float, half_angle: float, f: float, above: float
) -> None:
    """A straight stroke with square ends, cut by a vee bit along its medial axis."""
    long = math.hypot(b[0] - a[0], b[1] - a[1])
    ux, uy = (b[0] - a[0]) / long, (b[1] - a[1]) / long
    h = wide / 2
    depth = h / math.tan(half_angle)

    def at(along: float, across: float) -> Point:
        return (a[0] + ux * along - uy * across, a[1] + uy * along + ux * across)

    t.over(*at(0, h), above)
    t.cut(*at(0, h), 0.0, f)
    t.cut(*at(h, 0), -depth, f)
    t.cut(*at(0, -h), 0.0, f)
    t.cut(*at(h, 0), -depth, f)
    t.cut(*at(long - h, 0), f=f)
    t.cut(*at(long, h), 0.0, f)
    t.cut(*at(long - h, 0), -depth, f)
    t.cut(*at(long, -h), 0.0, f)
    t.up()


def stroke(
    t: Tape, points: Sequence[Point], z: float, f: float, down: float, above: float, top: float = 0
) -> None:
    """An open line at one depth."""
    t.over(*points[0], top + above)
    t.cut(z=z, f=down)
    for point in points[1:]:
        t.cut(*point, f=f)
    t.up()


def raster(
    t: Tape,
    xs: Sequence[float],
    ys: Sequence[float],
    height: Callable[[float, float], float],
    f: float,
    above: float,
) -> None:
    """Lines along X to and fro over a relief, the bit's tip at `height`."""
    t.over(xs[0], ys[0], above)
    back = False
    for y in ys:
        for x in reversed(xs) if back else xs:
            t.cut(x, y, height(x, y), f)
        back = not back
    t.up()
