"""Pockets, bores, contours with tabs, slots, holes, strokes and reliefs, written with a pen.

Marks: TAG/over (rapid above), TAG/down (feed to the top), TAG/up (retract), and those each names.
Levels are heights, negative downward; feeds are mm/min.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise

from tests.checks.heldout6.pen import Pen, Point

Box = tuple[float, float, float, float]
#: A piece of a contour: its end, and for an arc its centre (clockwise then).
Piece = tuple[Point, Point | None]


def come(p: Pen, tag: str, x: float, y: float, plunge: float) -> None:
    """Over the place at the clear height, down to near the top, to the top by feed."""
    p.rapid(f"{tag}/over", x, y)
    p.rapid(f"{tag}/near", z=p.near)
    p.line(f"{tag}/down", z=0.0, f=plunge)


def leave(p: Pen, tag: str) -> None:
    p.rapid(f"{tag}/up", z=p.clear)


def pocket(
    p: Pen,
    tag: str,
    box: Box,
    radius: float,
    step: float,
    levels: Sequence[float],
    feed: float,
    plunge: float,
    angle: float = 3.0,
    top: float = 0.0,
) -> None:
    """Rings from inside out; marks TAG/level/ramp1.., TAG/level/ring/side, TAG/level/back."""
    x0, y0, x1, y1 = box
    short = min(x1 - x0, y1 - y0) / 2
    insets = [radius]
    while insets[-1] + step < short:
        insets.append(insets[-1] + step)
    rings = [(x0 + i, y0 + i, x1 - i, y1 - i) for i in reversed(insets)]
    xa, ya, xb, yb = rings[0]
    far = (xb, ya) if xb - xa >= yb - ya else (xa, yb)
    length = max(xb - xa, yb - ya)
    come(p, tag, xa, ya, plunge)
    z = top
    for k, level in enumerate(levels, 1):
        legs = 2 * max(1, math.ceil((z - level) / (2 * length * math.tan(math.radians(angle)))))
        for n in range(1, legs + 1):
            x, y = far if n % 2 else (xa, ya)
            p.line(f"{tag}/{k}/ramp{n}", x, y, z + (level - z) * n / legs, f=feed / 2)
        for m, (a, b, c, d) in enumerate(rings, 1):
            p.line(f"{tag}/{k}/r{m}/in", a, b, f=feed)
            for side, (x, y) in enumerate(((c, b), (c, d), (a, d), (a, b)), 1):
                p.line(f"{tag}/{k}/r{m}/{side}", x, y, f=feed)
        if k < len(levels):
            p.line(f"{tag}/{k}/back", xa, ya)
        z = level
    leave(p, tag)


def bore(
    p: Pen,
    tag: str,
    centre: Point,
    diameter: float,
    radius: float,
    level: float,
    pitch: float,
    feed: float,
    plunge: float,
    wider: Sequence[float] = (),
    top: float = 0.0,
) -> None:
    """A helix down and a level turn, then wider rings; TAG/turn1.., TAG/flat, TAG/w1/out, /turn."""
    cx, cy = centre
    r = diameter / 2 - radius
    come(p, tag, cx + r, cy, plunge)
    if top < 0:
        p.line(f"{tag}/floor", z=top)
    turns = math.ceil((top - level) / pitch)
    for n in range(1, turns + 1):
        z = top + (level - top) * n / turns
        p.arc(f"{tag}/turn{n}", False, (cx + r, cy), centre, z, feed)
    p.arc(f"{tag}/flat", False, (cx + r, cy), centre, f=feed)
    for m, wide in enumerate(wider, 1):
        w = wide / 2 - radius
        p.line(f"{tag}/w{m}/out", cx + w, cy)
        p.arc(f"{tag}/w{m}/turn", False, (cx + w, cy), centre)
    p.line(f"{tag}/centre", cx, cy)
    leave(p, tag)


def frame(box: Box, corner: float, grow: float) -> tuple[Point, list[Piece]]:
    """Start and pieces of a clockwise rounded rectangle, grown by `grow`, from its front right."""
    x0, y0, x1, y1 = box[0] - grow, box[1] - grow, box[2] + grow, box[3] + grow
    c = corner + grow
    pieces: list[Piece] = [
        ((x0 + c, y0), None),
        ((x0, y0 + c), (x0 + c, y0 + c)),
        ((x0, y1 - c), None),
        ((x0 + c, y1), (x0 + c, y1 - c)),
        ((x1 - c, y1), None),
        ((x1, y1 - c), (x1 - c, y1 - c)),
        ((x1, y0 + c), None),
        ((x1 - c, y0), (x1 - c, y0 + c)),
    ]
    return (x1 - c, y0), pieces


def ring(centre: Point, r: float, parts: int = 6) -> tuple[Point, list[Piece]]:
    """Start and pieces of a clockwise circle."""
    cx, cy = centre

    def on(n: int) -> Point:
        a = -math.pi / 2 - 2 * math.pi * n / parts
        return (cx + r * math.cos(a), cy + r * math.sin(a))

    return on(0), [(on(n), centre) for n in range(1, parts + 1)]


def contour(
    p: Pen,
    tag: str,
    path: tuple[Point, list[Piece]],
    levels: Sequence[float],
    feed: float,
    plunge: float,
    tabs: Mapping[int, Sequence[float]] | None = None,
    tab_top: float = 0.0,
    tab_move: float = 0.0,
    top: float = 0.0,
) -> None:
    """Laps down; each ramps along piece 0. TAG/level/ramp, TAG/level/PIECE, with tabs
    TAG/level/PIECE/t1up, t1over, t1down; at the end TAG/close.
    """
    start, pieces = path
    come(p, tag, *start, plunge)
    if top < 0:
        p.line(f"{tag}/floor", z=top)
    for k, level in enumerate(levels, 1):
        at = start
        for n, piece in enumerate(pieces):
            if n == 0:
                _piece(p, f"{tag}/{k}/ramp", at, piece, 1.0, level, feed)
            else:
                length = _length(at, piece)
                for m, middle in enumerate((tabs or {}).get(n, ()), 1):
                    if level >= tab_top - 1e-9:
                        continue
                    half = tab_move / 2 / length
                    name = f"{tag}/{k}/{n}"
                    _piece(p, f"{name}/t{m}to", at, piece, middle - half, None, feed)
                    p.line(f"{name}/t{m}up", z=tab_top, f=plunge)
                    _piece(p, f"{name}/t{m}over", at, piece, middle + half, None, feed)
                    p.line(f"{name}/t{m}down", z=level, f=plunge)
                _piece(p, f"{tag}/{k}/{n}", at, piece, 1.0, None, feed)
            at = piece[0]
    _piece(p, f"{tag}/close", start, pieces[0], 1.0, None, feed)
    leave(p, tag)


def _length(at: Point, piece: Piece) -> float:
    end, centre = piece
    if centre is None:
        return math.dist(at, end)
    return math.dist(at, centre) * _turn(at, end, centre)


def _turn(at: Point, end: Point, centre: Point) -> float:
    a = math.atan2(at[1] - centre[1], at[0] - centre[0])
    b = math.atan2(end[1] - centre[1], end[0] - centre[0])
    return (a - b) % (2 * math.pi)


def _piece(
    p: Pen,
    mark: str,
    at: Point,
    piece: Piece,
    share: float,
    z: float | None,
    feed: float,
) -> None:
    """On to a share of a piece of a contour."""
    end, centre = piece
    if centre is None:
        x = at[0] + (end[0] - at[0]) * share
        y = at[1] + (end[1] - at[1]) * share
        p.line(mark, x, y, z, feed)
        return
    r = math.dist(at, centre)
    a = math.atan2(at[1] - centre[1], at[0] - centre[0]) - _turn(at, end, centre) * share
    p.arc(mark, True, (centre[0] + r * math.cos(a), centre[1] + r * math.sin(a)), centre, z, feed)


def slot(
    p: Pen,
    tag: str,
    points: Sequence[Point],
    levels: Sequence[float],
    feed: float,
    plunge: float,
    top: float = 0.0,
) -> None:
    """Down along the whole path, back level; TAG/level/go1.., TAG/level/back1.."""
    lengths = [math.dist(a, b) for a, b in pairwise(points)]
    come(p, tag, *points[0], plunge)
    if top < 0:
        p.line(f"{tag}/floor", z=top)
    z = top
    for k, level in enumerate(levels, 1):
        gone = 0.0
        for n, (x, y) in enumerate(points[1:], 1):
            gone += lengths[n - 1]
            p.line(f"{tag}/{k}/go{n}", x, y, z + (level - z) * gone / sum(lengths), f=feed)
        for n, (x, y) in enumerate(reversed(points[:-1]), 1):
            p.line(f"{tag}/{k}/back{n}", x, y)
        z = level
    leave(p, tag)


def stroke(
    p: Pen, tag: str, points: Sequence[tuple[float, float, float]], feed: float, plunge: float
) -> None:
    """A carved line of varying depth; TAG/1.., the first point at the top."""
    x, y, z = points[0]
    come(p, tag, x, y, plunge)
    if z < 0:
        p.line(f"{tag}/in", z=z, f=plunge)
    for n, (x, y, z) in enumerate(points[1:], 1):
        p.line(f"{tag}/{n}", x, y, z, f=feed)
    leave(p, tag)


def holes(
    p: Pen,
    tag: str,
    places: Sequence[Point],
    level: float,
    feed: float,
    peck: float | None = None,
    cycle: bool = True,
    back: str = "G98",
) -> None:
    """Holes by a cycle (TAG/h1.., TAG/cancel) or by plain moves (TAG/h1, near1, in1, up1)."""
    z = p.round(level - p.zero[2])
    r = p.round(p.near - p.zero[2])
    for n, (x, y) in enumerate(places, 1):
        if not cycle:
            p.rapid(f"{tag}/h{n}", x, y)
            p.rapid(f"{tag}/near{n}", z=p.near)
            p.line(f"{tag}/in{n}", z=level, f=feed)
            p.rapid(f"{tag}/up{n}", z=p.clear)
            continue
        px, py = p.round(x - p.zero[0]), p.round(y - p.zero[1])
        here = f"X{p.shown(px)} Y{p.shown(py)}"
        if n == 1:
            name = "G81" if peck is None else "G83"
            step = "" if peck is None else f" Q{p.shown(p.round(peck))}"
            f = p.shown(round(feed / (25.4 if p.hand.inch else 1.0), 1))
            p.raw(f"{back} {name} {here} Z{p.shown(z)} R{p.shown(r)}{step} F{f}", f"{tag}/h1")
        else:
            p.raw(here, f"{tag}/h{n}")
    if cycle:
        p.raw("G80", f"{tag}/cancel")
        p.forget()
        p.feed = None
        p.rapid(f"{tag}/up", z=p.clear)


Height = Callable[[float, float], float]


def rows(
    p: Pen,
    tag: str,
    box: Box,
    step: float,
    along: float,
    height: Height,
    feed: float,
    plunge: float,
) -> None:
    """A ball or tapered ball to and fro over a relief; TAG/row/point."""
    x0, y0, x1, y1 = box
    count = round((y1 - y0) / step)
    points = round((x1 - x0) / along)
    come(p, tag, x0, y0, plunge)
    if height(x0, y0) < 0:
        p.line(f"{tag}/in", z=height(x0, y0), f=plunge)
    for n in range(count + 1):
        y = y0 + (y1 - y0) * n / count
        for m in range(points + 1):
            x = x0 + (x1 - x0) * (m if n % 2 == 0 else points - m) / points
            p.line(f"{tag}/{n}/{m}", x, y, height(x, y), f=feed)
    leave(p, tag)


def rough(
    p: Pen,
    tag: str,
    box: Box,
    step: float,
    radius: float,
    levels: Sequence[float],
    height: Height,
    left: float,
    feed: float,
    plunge: float,
) -> None:
    """Terraces over a relief, row by row; TAG/level/row/a, /b (ramp and back), /c (across)."""
    x0, y0, x1, y1 = box

    def free(x: float, y: float) -> float:
        """Lowest a flat bit may stand here."""
        ring = [(0.0, 0.0)]
        ring += [
            (s * radius * math.cos(a), s * radius * math.sin(a))
            for s in (0.5, 1.0)
            for a in (k * math.pi / 8 for k in range(16))
        ]
        return max(height(x + dx, y + dy) for dx, dy in ring) + left

    grid = [x0 + (x1 - x0) * m / 100 for m in range(101)]
    count = round((y1 - y0) / step)
    above = 0.0
    for k, level in enumerate(levels, 1):
        for n in range(count + 1):
            y = y0 + (y1 - y0) * n / count
            room = [x for x in grid if free(x, y) <= level]
            if not room or room[-1] - room[0] < 4 * radius:
                continue
            a, b = room[0], room[-1]
            assert len(room) == round((b - a) / (x1 - x0) * 100) + 1, "one hollow a row"
            middle = (a + b) / 2
            name = f"{tag}/{k}/{n}"
            come(p, name, a, y, plunge)
            if above < 0:
                p.line(f"{name}/to", z=above)
            p.line(f"{name}/a", middle, y, (above + level) / 2, f=feed)
            p.line(f"{name}/b", a, y, level)
            p.line(f"{name}/c", b, y)
            leave(p, name)
        above = level
