"""Paths as people let them be made: pockets, cut-outs with tabs, bores, reliefs, strokes."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from tests.checks.heldout5.tape import Point, Tape

Height = Callable[[np.ndarray, float], np.ndarray]


def levels(depth: float, most: float) -> list[float]:
    count = math.ceil(depth / most - 1e-9)
    return [-depth * k / count for k in range(1, count + 1)]


def rect_pocket(
    t: Tape,
    low: Point,
    high: Point,
    depth: float,
    d: float,
    most: float,
    name: str,
    share: float = 0.45,
    top: float = 0.0,
) -> None:
    """Rings from the middle outward; every level is entered on a ramp along the inmost ring."""
    step = share * d
    half = ((high[0] - low[0] - d) / 2, (high[1] - low[1] - d) / 2)
    cx, cy = (low[0] + high[0]) / 2, (low[1] + high[1]) / 2
    count = int(min(half) / step)
    rings = [(half[0] - step * k, half[1] - step * k) for k in range(count, -1, -1)]
    before = top
    for n, z in enumerate([top + level for level in levels(depth, most)]):
        a, b = rings[0]
        t.to(cx - a, cy - b, f"{name}/{n}")
        t.mark(f"{name}/{n}/down").down(before + 0.2)
        along = a >= b
        far = (cx + a, cy - b) if along else (cx - a, cy + b)
        t.mark(f"{name}/{n}/ramp").cut(*far, z=(before + z) / 2, f=t.feed * 0.6)
        t.mark(f"{name}/{n}/ramp2").cut(cx - a, cy - b, z=z, f=t.feed * 0.6)
        for k, (a, b) in enumerate(rings):
            if k:
                t.mark(f"{name}/{n}/out{k}").cut(cx - a, cy - b)
            corners = [(cx + a, cy - b), (cx + a, cy + b), (cx - a, cy + b), (cx - a, cy - b)]
            for c, corner in enumerate(corners):
                t.mark(f"{name}/{n}/ring{k}/{c}").cut(*corner)
        t.mark(f"{name}/{n}/up").up()
        before = z


def round_pocket(
    t: Tape,
    centre: Point,
    radius: float,
    depth: float,
    d: float,
    most: float,
    name: str,
    share: float = 0.4,
    top: float = 0.0,
    inner: float = 0.0,
) -> None:
    """A helix down in the middle, rings outward. With `inner`, a ring-shaped pocket."""
    cx, cy = centre
    step = share * d
    outmost = radius - d / 2
    first = inner + d / 2 if inner else min(step, outmost)
    count = max(0, math.ceil((outmost - first) / step - 1e-9))
    radii = [first + (outmost - first) * k / count for k in range(count + 1)] if count else [first]
    before = top
    for n, z in enumerate([top + level for level in levels(depth, most)]):
        t.to(cx + radii[0], cy, f"{name}/{n}")
        t.mark(f"{name}/{n}/down").down(before + 0.2)
        turns = 1 if radii[0] > d else max(1, math.ceil((before + 0.2 - z) / (0.25 * d)))
        start = before + 0.2
        for k in range(1, turns + 1):
            t.mark(f"{name}/{n}/helix{k}").turn(centre, z=start + (z - start) * k / turns)
        for k, r in enumerate(radii):
            if k:
                t.mark(f"{name}/{n}/out{k}").cut(cx + r, cy)
            t.mark(f"{name}/{n}/ring{k}").turn(centre)
        t.mark(f"{name}/{n}/up").up()
        before = z


def bore(
    t: Tape, centre: Point, dia: float, depth: float, d: float, pitch: float, name: str
) -> None:
    """A helix at the hole's wall and a level turn at its bottom."""
    r = (dia - d) / 2
    t.to(centre[0] + r, centre[1], name)
    start = 0.3
    t.mark(f"{name}/down").down(start)
    turns = math.ceil((depth + start) / pitch)
    for k in range(1, turns + 1):
        t.mark(f"{name}/turn{k}").turn(centre, z=start - (depth + start) * k / turns)
    t.mark(f"{name}/level").turn(centre)
    t.mark(f"{name}/back").cut(centre[0], centre[1])
    t.mark(f"{name}/up").up()


def rect_outline(low: Point, high: Point, d: float) -> list[Point]:
    """Outside of a rectangle for a bit, clockwise (climb) from the middle of the front."""
    r = d / 2
    x0, y0, x1, y1 = low[0] - r, low[1] - r, high[0] + r, high[1] + r
    return [((x0 + x1) / 2, y0), (x0, y0), (x0, y1), (x1, y1), (x1, y0), ((x0 + x1) / 2, y0)]


def cut_out(
    t: Tape,
    path: Sequence[Point],
    depth: float,
    most: float,
    name: str,
    tabs: Sequence[int],
    tab_top: float,
    tab_long: float,
    ramp: float = 20.0,
    tab_at: float = 0.5,
) -> None:
    """A closed way in passes; `tabs` are the pieces of the way that carry one in their middle."""
    t.to(*path[0], name)
    (ax, ay), (bx, by) = path[0], path[1]
    share = ramp / math.dist(path[0], path[1])
    on = (ax + (bx - ax) * share, ay + (by - ay) * share)
    t.mark(f"{name}/down").down(0.2)
    for n, z in enumerate(levels(depth, most)):
        t.mark(f"{name}/{n}/ramp").cut(*on, z=z, f=t.feed * 0.6)
        here = on
        for k, end in enumerate(path[1:]):
            if k in tabs and z < tab_top - 1e-9:
                long = math.dist(here, end)
                ux, uy = (end[0] - here[0]) / long, (end[1] - here[1]) / long
                a = long * tab_at - tab_long / 2
                t.mark(f"{name}/{n}/to-tab{k}").cut(here[0] + ux * a, here[1] + uy * a)
                t.mark(f"{name}/{n}/tab-up{k}").cut(z=tab_top)
                a += tab_long
                t.mark(f"{name}/{n}/tab{k}").cut(here[0] + ux * a, here[1] + uy * a)
                t.mark(f"{name}/{n}/tab-down{k}").down(z)
            t.mark(f"{name}/{n}/side{k}").cut(*end)
            here = end
        t.mark(f"{name}/{n}/close").cut(*on)
        if z > -depth + 1e-9:
            t.mark(f"{name}/{n}/back").cut(*path[0])
    t.mark(f"{name}/up").up()


def round_cut_out(
    t: Tape,
    centre: Point,
    r: float,
    depth: float,
    most: float,
    name: str,
    tabs: Sequence[float],
    tab_top: float,
    tab_long: float,
    ccw: bool = False,
) -> None:
    """A circle in passes, each entered on an arc of 25 degrees; tabs at angles in degrees."""
    way = 1 if ccw else -1

    def at(degrees: float) -> Point:
        a = math.radians(degrees)
        return (centre[0] + r * math.cos(a), centre[1] + r * math.sin(a))

    angle = 0.0
    half = math.degrees(tab_long / 2 / r)
    t.to(*at(0), name)
    t.mark(f"{name}/down").down(0.2)
    for n, z in enumerate(levels(depth, most)):
        angle += 25 * way
        t.mark(f"{name}/{n}/ramp").arc(*at(angle), centre, ccw, z=z, f=t.feed * 0.6)
        if z < tab_top - 1e-9:
            for k, tab in enumerate(sorted(tabs, key=lambda x: ((x - angle) * way) % 360)):
                t.mark(f"{name}/{n}/to-tab{k}").arc(*at(tab - half * way), centre, ccw)
                t.mark(f"{name}/{n}/tab-up{k}").cut(z=tab_top)
                t.mark(f"{name}/{n}/tab{k}").arc(*at(tab + half * way), centre, ccw)
                t.mark(f"{name}/{n}/tab-down{k}").down(z)
            t.mark(f"{name}/{n}/close").arc(*at(angle), centre, ccw)
        else:
            t.mark(f"{name}/{n}/turn").turn(centre, ccw=ccw)
    t.mark(f"{name}/up").up()


def stroke(t: Tape, points: Sequence[Point], z: float, name: str) -> None:
    """A line of even depth."""
    t.to(*points[0], name)
    t.mark(f"{name}/down").down(z)
    for k, p in enumerate(points[1:]):
        t.mark(f"{name}/{k}").cut(*p)
    t.mark(f"{name}/up").up()


def tapered(t: Tape, a: Point, b: Point, z: float, name: str) -> None:
    """A stroke of a vee bit that swells to its middle and ends in points at the top."""
    t.to(*a, name)
    t.mark(f"{name}/down").down(0.0)
    t.mark(f"{name}/in").cut((a[0] + b[0]) / 2, (a[1] + b[1]) / 2, z)
    t.mark(f"{name}/out").cut(b[0], b[1], 0.0)
    t.mark(f"{name}/up").up()


def dropped(height: Height, xs: np.ndarray, y: float, shape: str, r: float) -> np.ndarray:
    """How low the tip may go over a surface: the highest place under a flat or ball bit."""
    best = height(xs, y)
    for ring in range(1, 5):
        q = r * ring / 4
        lift = math.sqrt(r * r - q * q) - r if shape == "ball" else 0.0
        for k in range(16):
            a = math.tau * k / 16
            best = np.maximum(best, height(xs + q * math.cos(a), y + q * math.sin(a)) + lift)
    return best


def thinned(points: list[tuple[float, float]], tolerance: float) -> list[tuple[float, float]]:
    """Points of a line in a plane, without those that a straight line nearly meets."""
    if len(points) < 3:
        return points
    (x0, z0), (x1, z1) = points[0], points[-1]
    off = [abs(z0 + (z1 - z0) * (x - x0) / (x1 - x0) - z) for x, z in points]
    worst = max(range(len(points)), key=lambda k: off[k])
    if off[worst] <= tolerance:
        return [points[0], points[-1]]
    return thinned(points[: worst + 1], tolerance)[:-1] + thinned(points[worst:], tolerance)


def relief(
    t: Tape,
    height: Height,
    size: Point,
    shape: str,
    r: float,
    step: float,
    floors: Sequence[float],
    leave: float,
    name: str,
    grain: float = 1.0,
) -> None:
    """Rows along X over the whole blank and a little beyond, in layers down to `floors`."""
    over = r + 1.0
    rows = math.ceil(size[1] / step)
    for n, floor in enumerate(floors):
        here = -over
        for k in range(rows + 1):
            y = size[1] * k / rows
            count = round((size[0] + 2 * over) / grain)
            xs = np.linspace(-over, size[0] + over, count + 1)
            if here > 0:
                xs = xs[::-1]
            zs = np.maximum(floor, dropped(height, xs, y, shape, r) + leave)
            line = thinned([(float(x), float(z)) for x, z in zip(xs, zs, strict=True)], 0.01)
            if k == 0:
                t.to(line[0][0], y, f"{name}/{n}")
                t.mark(f"{name}/{n}/down").down(line[0][1])
            else:
                t.mark(f"{name}/{n}/{k}/next").cut(line[0][0], y, line[0][1])
            for i, (x, z) in enumerate(line[1:]):
                t.mark(f"{name}/{n}/{k}/{i}").cut(x, y, z)
            here = line[-1][0]
        t.mark(f"{name}/{n}/up").up()
