"""Paths that several of the jobs are made of."""

from __future__ import annotations

from tests.checks.heldout10.pen import Pen, Point


def rounded(
    pen: Pen, box: tuple[float, float, float, float], r: float, f: float, name: str = ""
) -> None:
    """Round a box with the bit on its left side's middle already, clockwise."""
    x0, y0, x1, y1 = box
    pen.cut(y=y1 - r, f=f, m=name and name + " left")
    pen.arc(2, x0 + r, y1, (x0 + r, y1 - r), f=f, m=name and name + " arc1")
    pen.cut(x=x1 - r, m=name and name + " back")
    pen.arc(2, x1, y1 - r, (x1 - r, y1 - r), m=name and name + " arc2")
    pen.cut(y=y0 + r, m=name and name + " right")
    pen.arc(2, x1 - r, y0, (x1 - r, y0 + r), m=name and name + " arc3")
    pen.cut(x=x0 + r, m=name and name + " front")
    pen.arc(2, x0, y0 + r, (x0 + r, y0 + r), m=name and name + " arc4")


def along(
    pen: Pen,
    axis: str,
    start: float,
    end: float,
    tabs: list[tuple[float, float]],
    low: float,
    high: float,
    f: float,
    name: str,
) -> None:
    """A straight side that rises straight up and down over tabs (their middles and lengths)."""
    sign = 1 if end > start else -1
    for k, (middle, length) in enumerate(sorted(tabs, key=lambda t: sign * t[0])):
        a, b = middle - sign * length / 2, middle + sign * length / 2
        pen.cut(**{axis: a}, f=f)
        pen.cut(z=high, f=f, m=f"{name} tab{k} up")
        pen.cut(**{axis: b}, f=f, m=f"{name} tab{k}")
        pen.cut(z=low, f=f / 3, m=f"{name} tab{k} down")
    pen.cut(**{axis: end}, f=f, m=f"{name} end")


def cut_out(
    pen: Pen,
    box: tuple[float, float, float, float],
    r: float,
    levels: list[float],
    tab_top: float,
    tab: float,
    f: float,
    near: float,
    high: float,
) -> None:
    """A rounded box with four tabs on its front and back, entered by a ramp along the left."""
    x0, y0, x1, y1 = box
    ramp = 0.4 * (y1 - y0 - 2 * r)
    start = y0 + r
    pen.rapid(x0, start, m="out over")
    pen.rapid(z=near, m="out near")
    pen.cut(z=0.0, f=f / 3, m="out touch")
    above = 0.0
    thirds = [x0 + (x1 - x0) * k for k in (0.35, 0.65)]
    for k, z in enumerate(levels):
        pen.say(f"pass {k + 1}")
        pen.cut(y=start + ramp, z=z, f=f / 2, m=f"pass{k} ramp")
        if z >= tab_top - 1e-9:
            rounded(pen, box, r, f, f"pass{k}")
        else:
            name = f"pass{k}"
            tabs = [(x, tab) for x in thirds]
            pen.cut(y=y1 - r, f=f, m=f"{name} left")
            pen.arc(2, x0 + r, y1, (x0 + r, y1 - r), m=f"{name} arc1")
            along(pen, "x", x0 + r, x1 - r, tabs, z, tab_top, f, f"{name} back")
            pen.arc(2, x1, y1 - r, (x1 - r, y1 - r), m=f"{name} arc2")
            pen.cut(y=y0 + r, m=f"{name} right")
            pen.arc(2, x1 - r, y0, (x1 - r, y0 + r), m=f"{name} arc3")
            along(pen, "x", x1 - r, x0 + r, tabs, z, tab_top, f, f"{name} front")
            pen.arc(2, x0, y0 + r, (x0 + r, y0 + r), m=f"{name} arc4")
        above = z
    pen.cut(y=start + ramp, f=f, m="level off")
    assert above == levels[-1]
    pen.rapid(z=high, m="out up")


def bore(
    pen: Pen,
    centre: Point,
    radii: list[float],
    levels: list[float],
    f: float,
    near: float,
    high: float,
    name: str,
) -> None:
    """A round pocket: a helix down at the first radius, then rings outward, level by level."""
    cx, cy = centre
    pen.rapid(cx + radii[0], cy, m=f"{name} over")
    pen.rapid(z=near, m=f"{name} near")
    pen.cut(z=0.0, f=f / 3, m=f"{name} touch")
    for k, z in enumerate(levels):
        pen.cut(x=cx + radii[0], f=f)
        pen.ring(3, centre, z, f / 2, m=f"{name} helix{k}")
        for n, r in enumerate(radii):
            pen.cut(x=cx + r, f=f, m=f"{name} out{k}-{n}")
            pen.ring(3, centre, f=f, m=f"{name} ring{k}-{n}")
    pen.rapid(z=high, m=f"{name} up")


def canned(
    pen: Pen, first: list[str], points: list[Point], z: float, r: float, f: float, name: str
) -> None:
    """Holes by a cycle; `first` holds its codes and its Q or P."""
    for k, (x, y) in enumerate(points):
        place = [
            a + pen.number(pen.length(v - pen.zero["XY".index(a)])) for a, v in (("X", x), ("Y", y))
        ]
        if k == 0:
            codes = [w for w in first if w[0] == "G"]
            more = [w for w in first if w[0] != "G"]
            deep = [a + pen.number(pen.length(v - pen.zero[2])) for a, v in (("Z", z), ("R", r))]
            rate = f / (25.4 if pen.hand.inch else 1.0)
            pen.words(*codes, *place, *deep, *more, f"F{rate:.1f}".replace(".0", ""), m=f"{name}0")
        else:
            pen.words(*place, m=f"{name}{k}")
    pen.words("G80", m=f"{name} off")
    pen.code, pen.at, pen.feed_word = "", {}, ""
