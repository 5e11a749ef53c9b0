"""Paths of common shop work, drawn on a `Tape`: pockets, cut-outs, bores, grooves, reliefs."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from tests.checks.heldout4.tape import Tape

Point = tuple[float, float]


@dataclass(frozen=True)
class Cut:
    """How one bit is used: radius, step down and over, feeds, and the heights."""

    r: float
    down: float
    over: float
    f: float
    plunge: float
    clear: float  # where rapids go
    top: float = 0.0  # the blank's top in the program's zero
    near: float = 1.5  # approach above the top

    def levels(self, bottom: float, down: float | None = None) -> list[float]:
        total = self.top - bottom
        count = math.ceil(total / (down or self.down) - 1e-6)
        return [self.top - total * k / count for k in range(1, count + 1)]

    def come(self, t: Tape, x: float, y: float, name: str, z: float | None = None) -> None:
        """Over the place by rapid, down to just above, marked `name`.over and `name`.down."""
        t.mark(f"{name}.over")
        t.rapid(x, y)
        t.mark(f"{name}.down")
        t.rapid(z=(self.top if z is None else z) + self.near)

    def leave(self, t: Tape, name: str) -> None:
        t.mark(f"{name}.up")
        t.rapid(z=self.clear)


def ring(x0: float, y0: float, x1: float, y1: float) -> list[Point]:
    """Corners of a rectangle, counter-clockwise from the front left one, closed."""
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)]


def pocket(
    t: Tape, c: Cut, box: tuple[float, float, float, float], bottom: float, name: str
) -> None:
    """Clear a rectangle from the middle outward; each level is entered on a ramp there and back."""
    x0, y0, x1, y1 = box
    cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
    half = min(x1 - x0, y1 - y0) / 2
    inset, insets = c.r, []
    while inset < half - 0.05:
        insets.append(inset)
        inset += c.over
    spine = max(x1 - x0, y1 - y0) / 2 - half
    along = (spine, 0.0) if x1 - x0 >= y1 - y0 else (0.0, spine)
    if spine < 3 * c.r:
        along = (max(spine, min(2.5 * c.r, half - c.r)), 0.0)
    before = c.top
    for number, z in enumerate(c.levels(bottom)):
        tag = f"{name}{number}"
        c.come(t, cx - along[0], cy - along[1], tag)
        t.mark(f"{tag}.feed")
        t.line(z=before, f=c.plunge)
        t.mark(f"{tag}.ramp")
        t.line(cx + along[0], cy + along[1], (before + z) / 2, f=c.f)
        t.line(cx - along[0], cy - along[1], z)
        t.mark(f"{tag}.spine")
        t.line(cx + along[0], cy + along[1])
        t.line(cx - along[0], cy - along[1])
        for k, i in enumerate(reversed(insets)):
            t.mark(f"{tag}.ring{k}")
            for n, (x, y) in enumerate(ring(x0 + i, y0 + i, x1 - i, y1 - i)):
                t.mark(f"{tag}.ring{k}.{n}")
                t.line(x, y)
        c.leave(t, tag)
        before = z


def zigzag(
    t: Tape,
    c: Cut,
    box: tuple[float, float, float, float],
    bottom: float,
    name: str,
    wall: bool = True,
) -> None:
    """Clear a rectangle in lines along X, then once round along the wall."""
    x0, y0, x1, y1 = box[0] + c.r, box[1] + c.r, box[2] - c.r, box[3] - c.r
    rows = max(1, math.ceil((y1 - y0) / c.over - 1e-6))
    before = c.top
    for number, z in enumerate(c.levels(bottom)):
        tag = f"{name}{number}"
        c.come(t, x0, y0, tag)
        t.mark(f"{tag}.feed")
        t.line(z=before, f=c.plunge)
        t.mark(f"{tag}.ramp")
        t.line(x1, y0, (before + z) / 2, f=c.f)
        t.line(x0, y0, z)
        for k in range(rows + 1):
            y = y0 + (y1 - y0) * k / rows
            t.mark(f"{tag}.link{k}")
            t.line(t.at[0], y)
            t.mark(f"{tag}.row{k}")
            t.line(x1 if k % 2 == 0 else x0, y)
        if wall:
            t.mark(f"{tag}.wall")
            t.line(t.at[0], y1)
            for x, y in [(x1, y1), (x0, y1), (x0, y0), (x1, y0), (x1, y1)]:
                t.line(x, y)
        c.leave(t, tag)
        before = z


def disc(
    t: Tape, c: Cut, centre: Point, radius: float, bottom: float, name: str, pitch: float = 1.0
) -> None:
    """Clear a round pocket: a helix down in the middle, then circles outward; one mark each."""
    cx, cy = centre
    reach = radius - c.r
    small = min(0.8 * c.r, reach)
    before = c.top
    for number, z in enumerate(c.levels(bottom)):
        tag = f"{name}{number}"
        c.come(t, cx + small, cy, tag)
        t.mark(f"{tag}.feed")
        t.line(z=before + 0.2, f=c.plunge)
        turns = max(1, math.ceil((before + 0.2 - z) / pitch - 1e-6))
        for k in range(1, turns + 1):
            t.mark(f"{tag}.turn{k}")
            deep = before + 0.2 + (z - before - 0.2) * k / turns
            t.arc(cx + small, cy, centre, False, deep, c.f * 0.6)
        t.mark(f"{tag}.flat")
        t.arc(cx + small, cy, centre, False, f=c.f)
        rings = max(0, math.ceil((reach - small) / c.over - 1e-6))
        for k in range(1, rings + 1):
            out = small + (reach - small) * k / rings
            t.mark(f"{tag}.out{k}")
            t.line(cx + out, cy)
            t.mark(f"{tag}.circle{k}")
            t.arc(cx + out, cy, centre, False)
        c.leave(t, tag)
        before = z


def bore(
    t: Tape, c: Cut, centre: Point, radius: float, bottom: float, name: str, pitch: float
) -> None:
    """A hole by a helix and one level turn."""
    cx, cy = centre
    reach = radius - c.r
    c.come(t, cx + reach, cy, name)
    t.mark(f"{name}.feed")
    t.line(z=c.top + 0.2, f=c.plunge)
    turns = math.ceil((c.top + 0.2 - bottom) / pitch - 1e-6)
    for k in range(1, turns + 1):
        t.mark(f"{name}.turn{k}")
        deep = c.top + 0.2 + (bottom - c.top - 0.2) * k / turns
        t.arc(cx + reach, cy, centre, False, deep, c.f)
    t.mark(f"{name}.flat")
    t.arc(cx + reach, cy, centre, False)
    t.mark(f"{name}.in")
    t.line(cx, cy)
    c.leave(t, name)


def outline(
    t: Tape,
    c: Cut,
    box: tuple[float, float, float, float],
    corner: float,
    bottom: float,
    name: str,
    *,
    inside: bool = False,
    tabs: float = 0.0,
    tab: float = 8.0,
    ramp: float = 40.0,
    slope: float = 10.0,
    sides: str = "fbrl",
    down: float | None = None,
) -> None:
    """Cut round a rectangle with round corners: outside clockwise, inside counter-clockwise.

    `tabs` is their height above the bottom of the cut, `tab` the length of the raised move; the
    path rises and falls along `slope` mm, in the middle of every side named in `sides`.
    """
    grow = -c.r if inside else c.r
    x0, y0, x1, y1 = box[0] - grow, box[1] - grow, box[2] + grow, box[3] + grow
    k = max(corner + grow, 0.0)
    cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
    # straight sides as (from, to, centre of the corner after it), clockwise from the front one
    walk: list[tuple[str, Point, Point, Point]] = [
        ("f", (x1 - k, y0), (x0 + k, y0), (x0 + k, y0 + k)),
        ("l", (x0, y0 + k), (x0, y1 - k), (x0 + k, y1 - k)),
        ("b", (x0 + k, y1), (x1 - k, y1), (x1 - k, y1 - k)),
        ("r", (x1, y1 - k), (x1, y0 + k), (x1 - k, y0 + k)),
    ]
    if inside:
        walk = [
            ("f", (x0 + k, y0), (x1 - k, y0), (x1 - k, y0 + k)),
            ("r", (x1, y0 + k), (x1, y1 - k), (x1 - k, y1 - k)),
            ("b", (x1 - k, y1), (x0 + k, y1), (x0 + k, y1 - k)),
            ("l", (x0, y1 - k), (x0, y0 + k), (x0 + k, y0 + k)),
        ]
    sign = 1.0 if inside else -1.0
    length = min(ramp, (x1 - x0) / 2 - k - tab)
    start = (cx + sign * tab / 2, y0)  # the first ramp begins beside the tab of the front side
    c.come(t, *start, name)
    t.mark(f"{name}.feed")
    t.line(z=c.top, f=c.plunge)
    levels = c.levels(bottom, down)
    for number, z in enumerate(levels):
        tag = f"{name}{number}"
        high = bottom + tabs if tabs and z < bottom + tabs - 1e-6 else None
        t.mark(f"{tag}.ramp")
        t.line(start[0] + sign * length, y0, z, f=c.f)
        t.mark(f"{tag}.side")
        for turn in range(5):
            side, a, b, centre = walk[turn % 4]
            if high is not None and side in sides and turn:
                _over_tab(t, a, b, high, z, tab, slope, (cx, cy), f"{tag}.{side}")
            t.mark(f"{tag}.{side}" if turn else f"{tag}.first")
            if turn == 4:
                t.line(start[0] + sign * length, y0)
                break
            t.line(*b)
            if k > 0:
                t.mark(f"{tag}.{side}arc")
                t.arc(*walk[(turn + 1) % 4][1], centre, not inside)
        if number + 1 < len(levels):
            # back to the start of the ramp, at this level, over the tab if there is one
            t.mark(f"{tag}.back")
            if high is None:
                t.line(*start)
            else:
                t.rapid(z=c.clear)
                t.rapid(*start)
                t.rapid(z=c.top + c.near)
                t.line(z=max(z, high), f=c.plunge)
    c.leave(t, name)


def _over_tab(
    t: Tape,
    a: Point,
    b: Point,
    high: float,
    z: float,
    tab: float,
    slope: float,
    middle: Point,
    name: str,
) -> None:
    """Rise over a tab in the middle of the side."""
    long = math.hypot(b[0] - a[0], b[1] - a[1])
    ux, uy = (b[0] - a[0]) / long, (b[1] - a[1]) / long
    assert long > tab + 2 * slope, (name, long)
    half = (middle[0] - a[0]) * ux + (middle[1] - a[1]) * uy
    for step, (where, height) in enumerate(
        [
            (half - tab / 2 - slope, z),
            (half - tab / 2, high),
            (half + tab / 2, high),
            (half + tab / 2 + slope, z),
        ]
    ):
        t.mark(f"{name}tab{step}")
        t.line(a[0] + ux * where, a[1] + uy * where, height)


def loop(
    t: Tape, c: Cut, points: Sequence[tuple[float, float, float]], name: str, lead: bool = False
) -> None:
    """Follow points (x, y, z) by feed; straight down at the first one, or on a ramp (`lead`)."""
    x, y, z = points[0]
    c.come(t, x, y, name)
    t.mark(f"{name}.feed")
    if lead:
        t.line(z=c.top + 0.1, f=c.plunge)
    else:
        t.line(z=z, f=c.plunge)
    for k, (px, py, pz) in enumerate(points[1:]):
        t.mark(f"{name}.{k}")
        t.line(px, py, pz, f=c.f)
    if lead:
        t.mark(f"{name}.close")
        t.line(*points[1])
    c.leave(t, name)


def polygon(centre: Point, radius: float, count: int, turn: float = 0.0) -> list[Point]:
    """Corners counter-clockwise, not closed."""
    return [
        (
            centre[0] + radius * math.cos(turn + math.tau * k / count),
            centre[1] + radius * math.sin(turn + math.tau * k / count),
        )
        for k in range(count)
    ]


def clear_polygon(
    t: Tape, c: Cut, centre: Point, radius: float, count: int, bottom: float, name: str, turn: float
) -> None:
    """Clear a regular polygon (radius to the corners) from the middle outward."""
    apothem = (radius * math.cos(math.pi / count)) - c.r
    scale = math.cos(math.pi / count)
    before = c.top
    for number, z in enumerate(c.levels(bottom)):
        tag = f"{name}{number}"
        small = 0.8 * c.r
        c.come(t, centre[0] + small, centre[1], tag)
        t.mark(f"{tag}.feed")
        t.line(z=before + 0.2, f=c.plunge)
        for k in range(1, 4):
            t.mark(f"{tag}.turn{k}")
            deep = before + 0.2 + (z - before - 0.2) * k / 3
            t.arc(centre[0] + small, centre[1], centre, False, deep, c.f * 0.6)
        t.arc(centre[0] + small, centre[1], centre, False)
        rings = math.ceil((apothem - small) / c.over)
        for k in range(1, rings + 1):
            out = (small + (apothem - small) * k / rings) / scale
            corners = polygon(centre, out, count, turn)
            for n, (x, y) in enumerate([*corners, corners[0]]):
                t.mark(f"{tag}.ring{k}.{n}")
                t.line(x, y, f=c.f)
        c.leave(t, tag)
        before = z


def carve_polygon(
    t: Tape, c: Cut, centre: Point, radius: float, count: int, deep: float, name: str, turn: float
) -> None:
    """Walls of 45 degrees with a 90 degree vee: along the foot, and up into every corner."""
    foot = radius - deep / math.cos(math.pi / count)
    inner = polygon(centre, foot, count, turn)
    outer = polygon(centre, radius, count, turn)
    path = []
    for k in range(count):
        path += [(*inner[k], c.top - deep), (*outer[k], c.top), (*inner[k], c.top - deep)]
    path.append((*inner[0], c.top - deep))
    loop(t, c, path, name)


def surface(width: float, height: float, h: Callable[[np.ndarray, np.ndarray], np.ndarray],
            cell: float = 0.5) -> np.ndarray:  # fmt: skip
    """Heights of a relief on a grid from (0, 0), one row for each y."""
    x = np.arange(0, width + cell / 2, cell)
    y = np.arange(0, height + cell / 2, cell)
    return h(x[None, :], y[:, None])


def tip_heights(field: np.ndarray, r: float, ball: bool, cell: float = 0.5) -> np.ndarray:
    """How low the tip may go over each point without cutting into the relief."""
    n = int(r / cell + 1e-9)
    ny, nx = field.shape
    padded = np.full((ny + 2 * n, nx + 2 * n), -1e9)
    padded[n : n + ny, n : n + nx] = field
    best = np.full_like(field, -1e9)
    for j in range(-n, n + 1):
        for i in range(-n, n + 1):
            d2 = (i * i + j * j) * cell * cell
            if d2 > r * r + 1e-9:
                continue
            lift = math.sqrt(max(r * r - d2, 0.0)) - r if ball else 0.0
            part = padded[n + j : n + j + ny, n + i : n + i + nx] + lift
            np.maximum(best, part, out=best)
    return best


def raster(
    t: Tape,
    c: Cut,
    tips: np.ndarray,
    corner: Point,
    level: float,
    name: str,
    cell: float = 0.5,
    turned: bool = False,
    every: int = 2,
) -> None:
    """Lines over a relief, no lower than `level`, linked at their ends; along X, or Y if turned."""
    field = tips.T if turned else tips
    rows = field.shape[0]
    step = max(1, round(c.over / cell))
    lines = sorted({*range(0, rows, step), rows - 1})
    first = True
    for k, j in enumerate(lines):
        z = np.maximum(field[j], level)
        index = list(range(0, len(z), every))
        if index[-1] != len(z) - 1:
            index.append(len(z) - 1)
        if k % 2:
            index.reverse()
        keep = [
            n
            for n, i in enumerate(index)
            if n in (0, len(index) - 1) or abs(2 * z[i] - z[index[n - 1]] - z[index[n + 1]]) > 1e-6
        ]
        for n in keep:
            a, b = index[n] * cell, j * cell
            x, y = (corner[0] + b, corner[1] + a) if turned else (corner[0] + a, corner[1] + b)
            if first:
                c.come(t, x, y, name)
                t.mark(f"{name}.feed")
                t.line(z=float(z[index[n]]), f=c.plunge)
                first = False
                continue
            t.mark(f"{name}.{k}.{n}")
            t.line(x, y, float(z[index[n]]), f=c.f)
    c.leave(t, name)
