"""Ways of cutting ordinary features. All in mm from the blank's front-left top corner; Z down."""

from __future__ import annotations

import math
from collections.abc import Sequence

from tests.checks.heldout7.pen import Pen

Point = tuple[float, float]


def levels(top: float, bottom: float, most: float) -> list[float]:
    """Heights of equal passes from `top` (left out) to `bottom`."""
    count = max(1, math.ceil((top - bottom) / most - 1e-9))
    return [top + (bottom - top) * k / count for k in range(1, count + 1)]


def settle(pen: Pen, name: str, at: Point, z: float, plunge: float) -> None:
    """Over a place, down by rapid to 1 mm above the blank, by feed to the last floor."""
    pen.over(at[0], at[1], name)
    pen.down(1.0, name)
    pen.cut(name + ".down", z=z, feed=plunge)


def pocket(
    pen: Pen, name: str, low: Point, high: Point, zs: Sequence[float], bit: float, step: float,
    feed: float, plunge: float, top: float = 0.0,
) -> None:  # fmt: skip
    """A rectangular pocket by rings from the middle line outward; enters on a ramp along it."""
    x0, y0, x1, y1 = low[0] + bit / 2, low[1] + bit / 2, high[0] - bit / 2, high[1] - bit / 2
    half = min(x1 - x0, y1 - y0) / 2
    count = max(1, math.ceil(half / step))
    floor = top
    for k, z in enumerate(zs, 1):
        a, b = (x0 + half, y0 + half), (x1 - half, y1 - half)
        settle(pen, f"{name}.l{k}", a, floor, plunge)
        pen.cut(f"{name}.l{k}.ramp", b[0], b[1], (floor + z) / 2, feed=plunge * 2)
        pen.cut(f"{name}.l{k}.ramp", a[0], a[1], z)
        pen.cut(f"{name}.l{k}.mid", b[0], b[1], feed=feed)
        for ring in range(count - 1, -1, -1):
            inset = half * ring / count
            u0, v0, u1, v1 = x0 + inset, y0 + inset, x1 - inset, y1 - inset
            for u, v in ((u1, v1), (u0, v1), (u0, v0), (u1, v0), (u1, v1)):
                pen.cut(f"{name}.l{k}.r{ring}", u, v, feed=feed)
        pen.up(f"{name}.l{k}")
        floor = z


def bore(
    pen: Pen, name: str, centre: Point, radius: float, bit: float, bottom: float, pitch: float,
    step: float, feed: float, plunge: float, top: float = 0.0,
) -> None:  # fmt: skip
    """A round pocket: a screw down the middle, then rings outward (all at the full depth)."""
    reach = radius - bit / 2
    first = min(reach, bit * 0.4)
    start = (centre[0] + first, centre[1])
    settle(pen, name, start, top, plunge)
    for z in levels(top, bottom, pitch):
        pen.arc(f"{name}.screw", 1, start, centre, z, feed=plunge * 2)
    pen.arc(f"{name}.ring", 1, start, centre, feed=feed)
    count = math.ceil((reach - first) / step - 1e-9)
    for k in range(1, count + 1):
        at = (centre[0] + first + (reach - first) * k / count, centre[1])
        pen.cut(f"{name}.out", *at)
        pen.arc(f"{name}.ring", 1, at, centre)
    pen.cut(f"{name}.back", *centre)
    pen.up(name)


def stepped_bore(
    pen: Pen, name: str, centre: Point, radius: float, bit: float, zs: Sequence[float],
    step: float, feed: float, plunge: float, pitch: float,
) -> None:  # fmt: skip
    """A round pocket too deep for one pass."""
    floor = 0.0
    for k, z in enumerate(zs, 1):
        bore(pen, f"{name}.l{k}", centre, radius, bit, z, pitch, step, feed, plunge, floor)
        floor = z


def drill(
    pen: Pen, name: str, holes: Sequence[Point], bottom: float, feed: float, peck: float = 0.0
) -> None:
    """Holes by a cycle, one a line."""
    for k, (x, y) in enumerate(holes, 1):
        words = [f"X{pen.length(x - pen.zero[0])}", f"Y{pen.length(y - pen.zero[1])}"]
        if k == 1:
            head = ["G98", "G83" if peck else "G81", *words]
            head.append(f"Z{pen.length(bottom - pen.zero[2])}")
            head.append(f"R{pen.length(1.0 - pen.zero[2])}")
            if peck:
                head.append(f"Q{pen.length(peck)}")
            words = head + pen.feed_word(feed)
        pen.words(words, f"{name}.{k}")
    pen.words(["G80"], f"{name}.off")
    pen.code = ""
    pen.at[0], pen.at[1] = holes[-1]


def pecked(pen: Pen, name: str, holes: Sequence[Point], zs: Sequence[float], feed: float) -> None:
    """Holes by plain moves, drawn out after each peck."""
    for k, (x, y) in enumerate(holes, 1):
        pen.over(x, y, f"{name}.h{k}")
        for z in zs:
            pen.down(1.0, f"{name}.h{k}")
            pen.cut(f"{name}.h{k}.peck", z=z, feed=feed)
            pen.move("G0", [None, None, 1.0], pen.counted(f"{name}.h{k}.out"))
        pen.up(f"{name}.h{k}")


def rounded(low: Point, high: Point, radius: float) -> list[tuple[Point, Point | None]]:
    """A rectangle with round corners, from its front side on, counter-clockwise.

    Each piece is where it ends and, for an arc, its centre. It begins at the front-left corner's
    right end.
    """
    (x0, y0), (x1, y1), r = low, high, radius
    if r == 0:
        return [((x1, y0), None), ((x1, y1), None), ((x0, y1), None), ((x0, y0), None)]
    return [
        ((x1 - r, y0), None), ((x1, y0 + r), (x1 - r, y0 + r)),
        ((x1, y1 - r), None), ((x1 - r, y1), (x1 - r, y1 - r)),
        ((x0 + r, y1), None), ((x0, y1 - r), (x0 + r, y1 - r)),
        ((x0, y0 + r), None), ((x0 + r, y0), (x0 + r, y0 + r)),
    ]  # fmt: skip


def outline(
    pen: Pen, name: str, pieces: Sequence[tuple[Point, Point | None]], zs: Sequence[float],
    feed: float, plunge: float, tabs: Sequence[tuple[int, float]] = (), tab: tuple[float, float] =
    (0.0, 0.0), top: float = 0.0,
) -> None:  # fmt: skip
    """A closed path in passes, each entered by a ramp along its first piece.

    `tabs` names straight pieces and the share of their length where a tab's middle is; `tab` is the
    length of the lifted move and its height in the frame of the tape. Marks: name.l2.p3 is piece
    3 of pass 2, name.l2.tab the moves over tabs, name.l2.ramp the ramp, name.last the last way
    along the first piece.
    """
    start = pieces[-1][0]
    settle(pen, name, start, top, plunge)
    for k, z in enumerate(zs, 1):
        first = pieces[0][0]
        pen.cut(f"{name}.l{k}.ramp", first[0], first[1], z, feed=plunge * 2)
        at = first
        for j, (end, centre) in enumerate(pieces[1:], 1):
            mark = f"{name}.l{k}.p{j}"
            if centre is not None:
                pen.arc(mark, 1, end, centre, feed=feed)
            else:
                share = [s for piece, s in tabs if piece == j and z < tab[1] - 1e-9]
                _over_tabs(pen, f"{name}.l{k}", mark, (at, end), z, share, tab, feed, plunge)
            at = end
    pen.cut(f"{name}.last", *pieces[0][0], feed=feed)
    pen.up(name)


def _over_tabs(
    pen: Pen, name: str, mark: str, ends: tuple[Point, Point], z: float, shares: Sequence[float],
    tab: tuple[float, float], feed: float, plunge: float,
) -> None:  # fmt: skip
    (xa, ya), (xb, yb) = ends
    size = math.hypot(xb - xa, yb - ya)
    u, v = (xb - xa) / size, (yb - ya) / size
    for share in shares:
        a, b = share * size - tab[0] / 2, share * size + tab[0] / 2
        pen.cut(mark, xa + u * a, ya + v * a, feed=feed)
        pen.cut(f"{name}.tab.up", z=tab[1])
        pen.cut(f"{name}.tab.over", xa + u * b, ya + v * b)
        pen.cut(f"{name}.tab.down", z=z, feed=plunge)
    pen.cut(mark, xb, yb, feed=feed)


def stroke(
    pen: Pen, name: str, points: Sequence[tuple[float, float, float]], feed: float, plunge: float
) -> None:
    """An open line of points with depths, lifted before and after."""
    x, y, z = points[0]
    pen.over(x, y, name)
    pen.down(1.0, name)
    pen.cut(name + ".down", z=z, feed=plunge)
    for x, y, z in points[1:]:
        pen.cut(name, x, y, z, feed=feed)
    pen.up(name)


def slot(
    pen: Pen, name: str, a: Point, b: Point, zs: Sequence[float], feed: float, plunge: float
) -> None:
    """A slot as wide as the bit: ramps to and fro along it, then once along the floor."""
    settle(pen, name, a, 0.0, plunge)
    ends = (b, a)
    for k, z in enumerate(zs):
        pen.cut(name + ".pass", *ends[k % 2], z, feed=feed)
    pen.cut(name + ".floor", *ends[len(zs) % 2])
    pen.cut(name + ".floor", *ends[(len(zs) + 1) % 2])
    pen.up(name)


def ring(
    pen: Pen, name: str, centre: Point, radius: float, zs: Sequence[float], feed: float,
    plunge: float, way: int = 1,
) -> None:  # fmt: skip
    """A circle cut along its line: a screw down, then a turn at the last height."""
    start = (centre[0] + radius, centre[1])
    settle(pen, name, start, 0.0, plunge)
    for z in zs:
        pen.arc(name + ".turn", way, start, centre, z, feed=feed)
    pen.arc(name + ".floor", way, start, centre)
    pen.up(name)
