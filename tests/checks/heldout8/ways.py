"""Paths over the blank: pockets, bores, outlines with tabs, slots, strokes, rows over a relief."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from tests.checks.heldout8.scribe import Place, Scribe


def levels(top: float, floor: float, most: float) -> list[float]:
    """Even levels from below a top down to a floor, none thicker than `most`."""
    count = math.ceil((top - floor) / most - 1e-9)
    return [round(top - (top - floor) * k / count, 3) for k in range(1, count + 1)]


def wind(s: Scribe, mark: str, centre: Place, radius: float, top: float, floor: float,
         pitch: float) -> None:  # fmt: skip
    """A helix from the bit's place at +radius, and one level turn at its floor."""
    for z in levels(top, floor, pitch):
        s.arc(mark, (centre[0] + radius, centre[1]), centre, True, z, s.plunge)
    s.arc(mark + ".flat", (centre[0] + radius, centre[1]), centre, True)


def pocket(s: Scribe, mark: str, low: Place, high: Place, bit: float, step: float,
           top: float, down: Sequence[float], pitch: float = 0.8) -> None:  # fmt: skip
    """A rectangle cleared by rings from within; every level begins with a helix in the middle."""
    inset = bit / 2
    half = min(high[0] - low[0], high[1] - low[1]) / 2 - inset
    rings = [inset + half - step * k for k in range(1, 400) if half - step * k > 1e-6] + [inset]
    middle = ((low[0] + high[0]) / 2, (low[1] + high[1]) / 2)
    turn = min(bit * 0.35, half * 0.8)
    s.over(mark, middle[0] + turn, middle[1])
    s.cut(mark + ".touch", z=top, feed=s.plunge)
    for n, z in enumerate(down, 1):
        name = f"{mark}.l{n}"
        if n > 1:
            s.cut(name + ".back", middle[0] + turn, middle[1])
        wind(s, name + ".in", middle, turn, s.place("Z"), z, pitch)
        for off in rings:
            x0, y0, x1, y1 = low[0] + off, low[1] + off, high[0] - off, high[1] - off
            for x, y in ((x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)):
                s.cut(name, x, y)
    s.up(mark)


def round_pocket(s: Scribe, mark: str, centre: Place, radius: float, bit: float, step: float,
                 top: float, down: Sequence[float], pitch: float = 0.8) -> None:  # fmt: skip
    """A round floor: a helix in the middle, then circles outward."""
    last = radius - bit / 2
    first = min(bit * 0.4, last)
    count = max(1, math.ceil((last - first) / step - 1e-9)) if last > first else 0
    sizes = [first + (last - first) * k / count for k in range(1, count + 1)]
    s.over(mark, centre[0] + first, centre[1])
    s.cut(mark + ".touch", z=top, feed=s.plunge)
    for n, z in enumerate(down, 1):
        name = f"{mark}.l{n}"
        if n > 1:
            s.cut(name + ".back", centre[0] + first, centre[1])
        wind(s, name + ".in", centre, first, s.place("Z"), z, pitch)
        for size in sizes:
            s.cut(name + ".out", centre[0] + size, centre[1])
            s.arc(name, (centre[0] + size, centre[1]), centre, True)
    s.up(mark)


def bore(s: Scribe, mark: str, centre: Place, radius: float, bit: float, top: float,
         floor: float, pitch: float) -> None:  # fmt: skip
    """A hole at most twice as wide as the bit, by a helix."""
    size = radius - bit / 2
    s.over(mark, centre[0] + size, centre[1])
    s.cut(mark + ".touch", z=top, feed=s.plunge)
    wind(s, mark, centre, size, top, floor, pitch)
    s.cut(mark + ".middle", *centre)
    s.up(mark)


@dataclass(frozen=True)
class Piece:
    """A piece of a closed path, to (x, y): a line, or an arc about a centre.

    It may lie over a tab, or be the ramp down behind one.
    """

    x: float
    y: float
    centre: Place | None = None
    ccw: bool = False
    tab: bool = False
    ramp: bool = False


def rectangle(low: Place, high: Place, corner: float = 0.0, tabs: Sequence[tuple[int, float]] = (),
              width: float = 0.0, ramp: float = 0.0) -> list[Piece]:  # fmt: skip
    """Clockwise from the front end of the left side: left, back, right, front.

    Tabs are (side 0 to 3, place along it from 0 to 1); `width` is how long the bit stays up,
    `ramp` how long it then takes to go down again; 0 straight.
    """
    (x0, y0), (x1, y1) = low, high
    c = corner
    sides = [((x0, y0 + c), (x0, y1 - c)), ((x0 + c, y1), (x1 - c, y1)),
             ((x1, y1 - c), (x1, y0 + c)), ((x1 - c, y0), (x0 + c, y0))]  # fmt: skip
    middles = [(x0 + c, y1 - c), (x1 - c, y1 - c), (x1 - c, y0 + c), (x0 + c, y0 + c)]
    path = []
    for k, (a, b) in enumerate(sides):
        length = math.dist(a, b)
        unit = ((b[0] - a[0]) / length, (b[1] - a[1]) / length)
        for where in sorted(t for side, t in tabs if side == k):
            for along, up in ((where * length - width / 2, False),
                              (where * length + width / 2, True)):  # fmt: skip
                path.append(Piece(a[0] + unit[0] * along, a[1] + unit[1] * along, tab=up))
            if ramp:
                along = where * length + width / 2 + ramp
                path.append(Piece(a[0] + unit[0] * along, a[1] + unit[1] * along, ramp=True))
        path.append(Piece(*b))
        if c:
            after = sides[(k + 1) % 4][0]
            path.append(Piece(*after, centre=middles[k]))
    return path


def circle(centre: Place, radius: float, tabs: int = 0, width: float = 0.0,
           first: float = 60.0) -> list[Piece]:  # fmt: skip
    """Clockwise from the right; tabs evenly spread, the first one after so many degrees."""
    turn = math.degrees(width / radius)
    stops = [(first, False)]
    for k in range(tabs):
        at = first + k * (360 - first) / tabs + 10
        stops += [(at, False), (at + turn, True)]
    stops += [(stops[-1][0] + (360 - stops[-1][0]) / 2, False), (360, False)]
    return [
        Piece(centre[0] + radius * math.cos(math.radians(a)),
              centre[1] - radius * math.sin(math.radians(a)), centre, False, up)
        for a, up in stops
    ]  # fmt: skip


def contour(s: Scribe, mark: str, path: Sequence[Piece], top: float, down: Sequence[float],
            tab_top: float | None = None) -> None:  # fmt: skip
    """A closed path level by level; each goes down along its first piece, the last is flat."""
    s.over(mark, path[-1].x, path[-1].y)
    s.cut(mark + ".touch", z=top, feed=s.plunge)
    for n, z in enumerate(down, 1):
        name = f"{mark}.l{n}"
        for k, piece in enumerate(path):
            raised = piece.tab and tab_top is not None and z < tab_top
            if raised:
                s.cut(name + ".rise", z=tab_top, feed=s.plunge)
            follow(s, name + (".ramp" if k == 0 else ".tab" if raised else ""), piece,
                   z if k == 0 or piece.ramp else None)  # fmt: skip
            if raised and not path[k + 1].ramp:
                s.cut(name + ".drop", z=z, feed=s.plunge)
    follow(s, mark + ".flat", path[0])
    s.up(mark)


def follow(s: Scribe, mark: str, piece: Piece, z: float | None = None) -> None:
    if piece.centre is None:
        s.cut(mark, piece.x, piece.y, z)
    else:
        s.arc(mark, (piece.x, piece.y), piece.centre, piece.ccw, z)


def slot(s: Scribe, mark: str, a: Place, b: Place, top: float, down: Sequence[float]) -> None:
    """A groove as wide as the bit: a ramp on every way, and a flat way at the end."""
    s.over(mark, *a)
    s.cut(mark + ".touch", z=top, feed=s.plunge)
    at = [a, b]
    for n, z in enumerate(down, 1):
        s.cut(f"{mark}.l{n}", *at[n % 2], z)
    s.cut(mark + ".flat", *at[(len(down) + 1) % 2])
    s.up(mark)


def stroke(s: Scribe, mark: str, points: Sequence[tuple[float, float, float]]) -> None:
    """Down by feed at the first point, and through all others."""
    s.over(mark, points[0][0], points[0][1])
    s.cut(mark + ".down", z=points[0][2], feed=s.plunge)
    for x, y, z in points[1:]:
        s.cut(mark, x, y, z)
    s.up(mark)


def rows(s: Scribe, mark: str, x0: float, x1: float, ys: Sequence[float], z: float) -> None:
    """Facing to and fro, from beside the blank to beside it."""
    s.over(mark, x0, ys[0])
    s.cut(mark + ".down", z=z, feed=s.plunge)
    ends = [x0, x1]
    for k, y in enumerate(ys, 1):
        if k > 1:
            s.cut(f"{mark}.next", ends[(k + 1) % 2], y)
        s.cut(mark, ends[k % 2], y)
    s.up(mark)


def relief(s: Scribe, mark: str, height: Callable[[float, float], float], centre: Place,
           radius: float, step: float, grain: float) -> None:  # fmt: skip
    """Rows to and fro over a round field; `height` is that of the bit's tip."""
    count = int(radius / step)
    started = False
    for n in range(-count, count + 1):
        y = n * step
        reach = math.sqrt(max(radius * radius - y * y, 0.0))
        points = max(2, math.ceil(2 * reach / grain))
        xs = [-reach + 2 * reach * k / points for k in range(points + 1)]
        if n % 2:
            xs.reverse()
        for x in xs:
            at = (centre[0] + x, centre[1] + y)
            z = height(x, y)
            if not started:
                s.over(mark, *at)
                s.cut(mark + ".down", z=z, feed=s.plunge)
                started = True
            s.cut(f"{mark}.r{n + count}", *at, z)
    s.up(mark)
