"""Five jobs: a tray, a sign, a bracket, an instrument panel, a bearing block of two sides."""

from __future__ import annotations

import functools
import math

from tests.checks.heldout5.core import Shop
from tests.checks.heldout8.scribe import Hand, Place, Scribe
from tests.checks.heldout8.shopfloor import clamps, shop
from tests.checks.heldout8.ways import (
    contour,
    levels,
    pocket,
    rectangle,
    round_pocket,
    rows,
    slot,
    stroke,
)


def inner_corners(s: Scribe, mark: str, low: Place, high: Place, bit: float, reach: float,
                  down: list[float]) -> None:  # fmt: skip
    """What a wider bit left in the corners of a rectangle: an L into each, level by level."""
    half = bit / 2
    for n, (x, y, right, away) in enumerate(
        ((low[0], low[1], 1, 1), (high[0], low[1], -1, 1),
         (high[0], high[1], -1, -1), (low[0], high[1], 1, -1)), 1,
    ):  # fmt: skip
        name = f"{mark}.c{n}"
        a, c = x + right * half, y + away * half
        s.over(name, x + right * reach, c)
        for k, z in enumerate(down, 1):
            s.cut(f"{name}.l{k}.down", z=z, feed=s.plunge)
            s.cut(f"{name}.l{k}", a, c)
            s.cut(f"{name}.l{k}", a, y + away * reach)
            if k < len(down):
                s.cut(f"{name}.l{k}.back", a, c)
                s.cut(f"{name}.l{k}.back", x + right * reach, c)
        s.up(name)


@functools.cache
def tray() -> Shop:
    """Walnut; two rectangular wells and a round one, their corners, the outline."""
    made = shop("tray", "serving tray", ("360 mm", "240 mm", "22 mm"), "front-left-top", "walnut",
                ["flat-8", "flat-6", "flat-3", "flat-2"], nominal_thickness="22 mm")  # fmt: skip
    clamps(made, (360, 240), 40, 50, 5, 11)
    hand = Hand(every_axis=True, step=10)
    wells = {"big": ((30.0, 30.0), (150.0, 210.0)), "small": ((164.0, 30.0), (240.0, 210.0))}
    s = Scribe(made, hand, 16, 2500, 900)
    s.head(["wells, flat 8 mm", "stock 360 x 240 x 22"], 18000, kind="percent")
    for name, (low, high) in wells.items():
        pocket(s, name, low, high, 8, 3.4, 0, levels(0, -10, 3.5))
    round_pocket(s, "glass", (294, 120), 37, 8, 3.4, 0, levels(0, -10, 3.5))
    s.tail((0, 240), kind="percent")
    s.done(name="wells", bit="flat-8", depth="10 mm")
    s = Scribe(made, hand, 16, 1200, 400)
    s.head(["corners, flat 3 mm"], 20000, kind="percent")
    for name, (low, high) in wells.items():
        inner_corners(s, name, low, high, 3, 6.5, levels(0, -10, 2.5))
    s.tail((0, 240), kind="percent")
    s.done(name="corners", bit="flat-3", depth="10 mm")
    s = Scribe(made, hand, 16, 1800, 600)
    s.head(["cut out, flat 6 mm"], 18000, kind="percent")
    path = rectangle((9, 9), (351, 231), 23, [(0, 0.75), (1, 0.5), (2, 0.5), (3, 0.5)], 14, 14)
    contour(s, "edge", path, 0, levels(0, -22.2, 4), -18)
    s.tail((0, 240), kind="percent")
    s.done(name="cut out", bit="flat-6", depth="through", tab_width="8 mm", tab_height="4 mm")
    return made


#: Strokes of letters in a box one wide and one high: L, I, N, D.
LETTERS: tuple[tuple[str, list[list[tuple[float, float]]]], ...] = (
    ("l", [[(0, 1), (0, 0), (0.6, 0)]]),
    ("i", [[(0.3, 1), (0.3, 0)]]),
    ("n", [[(0, 0), (0, 1), (0.7, 0), (0.7, 1)]]),
    ("d", [[(0, 0), (0, 1), (0.45, 0.85), (0.6, 0.5), (0.45, 0.15), (0, 0)]]),
)


@functools.cache
def sign() -> Shop:
    """Pine; faced, lettered, bevelled along the outline, cut out. Cuts are written in G91."""
    made = shop("sign", "door sign", ("400 mm", "150 mm", "19 mm"), "centre-top", "pine",
                ["surfacer-25", "flat-6", "vee-60", "vee-90"])  # fmt: skip
    hand = Hand(relative=True)
    s = Scribe(made, hand, 12, 2400, 600)
    s.head(["face the board"], 16000, kind="late")
    rows(s, "face", -16, 416, [3.0 + 18 * k for k in range(9)], -1)
    s.tail(last="M2")
    s.done(name="face", bit="surfacer-25", depth="1 mm")
    s = Scribe(made, hand, 12, 1400, 500)
    s.head(["letters, vee 60 deg"], 18000, kind="late")
    for k, (name, strokes) in enumerate(LETTERS):
        for points in strokes:
            at = [(90 + 62 * k + 60 * x, 45 + 60 * y) for x, y in points]
            (ax, ay), (bx, by) = at[0], at[1]
            far = math.dist(at[0], at[1])
            inner = (ax + (bx - ax) * 5 / far, ay + (by - ay) * 5 / far)
            way = [(*at[0], -1.0), (*inner, -4.0), *((*p, -4.0) for p in at[1:-1])]
            (cx, cy), (dx, dy) = at[-2], at[-1]
            far = math.dist(at[-2], at[-1])
            way += [(dx - (dx - cx) * 5 / far, dy - (dy - cy) * 5 / far, -4.0), (dx, dy, -1.0)]
            stroke(s, name, way)
    s.tail(last="M2")
    s.done(name="letters", bit="vee-60", depth="4 mm")
    s = Scribe(made, hand, 12, 1600, 500)
    s.head(["bevel, vee 90 deg"], 18000, kind="late")
    contour(s, "bevel", rectangle((15, 15), (385, 135), 15), -1, levels(-1, -5, 2))
    s.tail(last="M2")
    s.done(name="bevel", bit="vee-90", depth="5 mm")
    s = Scribe(made, hand, 12, 2000, 600)
    s.head(["cut out, end mill 6 mm"], 18000, kind="late")
    path = rectangle((12, 12), (388, 138), 18, [(1, 0.2), (1, 0.8), (3, 0.2), (3, 0.8)], 15, 15)
    contour(s, "edge", path, 0, levels(0, -19.2, 4), -16)
    s.tail(last="M2")
    s.done(name="cut out", bit="flat-6", depth="through")
    return made


@functools.cache
def bracket() -> Shop:
    """Aluminium; pecked holes, a shallow seat and slots, the outline. Arcs by R, zeros kept."""
    made = shop("bracket", "motor bracket", ("160 mm", "100 mm", "6 mm"), "back-left-top",
                "aluminium", ["drill-3", "alu-4", "flat-3"], into="1.5 mm")  # fmt: skip
    clamps(made, (160, 100), 30, 30, 5, 8)
    hand = Hand(padded=True, radius=True, trim=False, sticky=False)
    s = Scribe(made, hand, 12, 180, 120)
    s.head(["drill 3.0 mm"], 9000)
    holes = [(25.0, 25.0), (25.0, 75.0), (135.0, 25.0), (135.0, 75.0)]
    s.cycle("screw", 83, holes, -7.2, 1.5, 120, 98, Q=1.0)
    s.cycle("motor", 83, [(65.5, 35.5), (94.5, 35.5), (94.5, 64.5), (65.5, 64.5)], -7.2, 1.5, 120,
            98, Q=1.0)  # fmt: skip
    s.tail((0, 100))
    s.done(name="holes", bit="drill-3", depth="through")
    s = Scribe(made, hand, 12, 600, 200)
    s.head(["seat and slots, 4 mm single flute"], 16000)
    round_pocket(s, "seat", (80, 50), 15, 4, 1.6, 0, levels(0, -2, 0.5), 0.3)
    for name, y in (("low", 14.0), ("high", 86.0)):
        slot(s, name, (50, y), (110, y), 0, levels(0, -6.2, 0.5))
    s.tail((0, 100))
    s.done(name="seat and slots", bit="alu-4", depth="through")
    s = Scribe(made, hand, 12, 600, 200)
    s.head(["outline, 4 mm single flute"], 16000)
    path = rectangle((8, 4), (152, 96), 8, [(0, 0.5), (1, 0.5), (2, 0.5), (3, 0.5)], 10, 18)
    contour(s, "edge", path, 0, levels(0, -6.2, 0.5), -4.7)
    s.tail((0, 100))
    s.done(name="outline", bit="alu-4", depth="through", max_pass="0.6 mm")
    return made


@functools.cache
def panel() -> Shop:
    """Acrylic in inches; drilled, vent slots, a window, scale marks, the outline."""
    made = shop("panel", "amplifier panel", ("12 in", "5 in", "0.22 in"), "front-left-top",
                "acrylic", ["end-1/4", "end-1/8", "drill-3/16", "vee-90"], units="in",
                into="2 mm")  # fmt: skip
    clamps(made, (304.8, 127), 30, 30, 6, 8)
    hand = Hand(inch=True, places=4, tight=True)
    inch = 25.4
    s = Scribe(made, hand, 0.5 * inch, 10 * inch, 8 * inch, 0.06 * inch)
    s.head(["drill 3/16 in"], 6000, kind="split")
    holes = [(x * inch, y * inch) for x in (0.8, 11.2) for y in (0.7, 4.3)]
    s.cycle("rack", 81, holes, -0.29 * inch, 0.06 * inch, 8 * inch)
    s.cycle("pot", 73, [(x * inch, 1.2 * inch) for x in (7, 8, 9, 10)], -0.29 * inch, 0.14 * inch,
            8 * inch, 99, Q=0.08 * inch)  # fmt: skip
    s.tail((0, 5 * inch))
    s.done(name="holes", bit="drill-3-16", depth="through")
    s = Scribe(made, hand, 0.5 * inch, 40 * inch, 10 * inch, 0.06 * inch)
    s.head(["vents and window, end mill 1/8 in"], 14000, kind="split")
    for k in range(4):
        y = (1.2 + 0.3 * k) * inch
        slot(s, f"vent{k + 1}", (1.6 * inch, y), (3.4 * inch, y), 0, levels(0, -5.8, 1.5))
    low, high = (4.6 * inch, 2.0 * inch), (10.2 * inch, 4.0 * inch)
    path = rectangle(low, high, 4, [(1, 0.3), (1, 0.7), (3, 0.3), (3, 0.7)], 9, 22)
    contour(s, "window", path, 0, levels(0, -5.8, 1.5), -4.0)
    s.tail((0, 5 * inch))
    s.done(name="vents and window", bit="end-1-8", depth="through")
    s = Scribe(made, hand, 0.5 * inch, 30 * inch, 10 * inch, 0.06 * inch)
    s.head(["marks, vee 90 deg"], 12000, kind="split")
    for k in range(9):
        angle = math.radians(225 - 33.75 * k)
        x, y = 7 * inch, 1.2 * inch
        a, b = 0.32 * inch, (0.42 if k % 4 else 0.5) * inch
        way = [(x + r * math.cos(angle), y + r * math.sin(angle), -0.3) for r in (a, b)]
        stroke(s, f"mark{k + 1}", way)
    s.tail((0, 5 * inch))
    s.done(name="marks", bit="vee-90", depth="0.3 mm")
    s = Scribe(made, hand, 0.5 * inch, 40 * inch, 10 * inch, 0.06 * inch)
    s.head(["outline, end mill 1/8 in"], 14000, kind="split")
    path = rectangle((9, 6), (295.8, 121), 6, [(0, 0.5), (1, 0.5), (2, 0.5), (3, 0.5)], 9, 22)
    contour(s, "edge", path, 0, levels(0, -5.8, 1.5), -4.0)
    s.tail((0, 5 * inch))
    s.done(name="outline", bit="end-1-8", depth="through")
    return made


@functools.cache
def block() -> Shop:
    """Beech, first of two sides; dowel holes, a stepped seat, coves, half of the outline."""
    made = shop("block", "bearing block, side one", ("200 mm", "120 mm", "30 mm"), "centre-top",
                "beech", ["drill-5", "flat-6", "long-6", "ball-6", "flat-8"],
                into="8 mm")  # fmt: skip
    clamps(made, (200, 120), 35, 30, 6, 9)
    hand = Hand(places=3, step=5, semicolon=True)
    s = Scribe(made, hand, 14, 400, 300)
    s.head(["drill 5 mm, dowels on the centre line"], 8000, kind="tool")
    s.cycle("dowel", 83, [(17, 60), (183, 60)], -37, 1.5, 300, 98, Q=5)
    s.tail((0, 120))
    s.done(name="dowels", bit="drill-5", depth="through")
    s = Scribe(made, hand, 14, 2000, 600)
    s.head(["seats, flat 6 mm"], 18000, kind="tool")
    for name, x in (("left", 65.0), ("right", 135.0)):
        round_pocket(s, name, (x, 60), 21, 6, 2.6, 0, levels(0, -8, 3))
        round_pocket(s, name + "bore", (x, 60), 13, 6, 2.6, -8, levels(-8, -18, 3))
    s.tail((0, 120))
    s.done(name="seats", bit="flat-6", depth="18 mm")
    s = Scribe(made, hand, 14, 1600, 500)
    s.head(["coves, ball 6 mm"], 18000, kind="tool")
    contour(s, "cove", rectangle((34, 22), (166, 98), 8), 0, levels(0, -3, 1.5))
    s.tail((0, 120))
    s.done(name="coves", bit="ball-6", depth="3 mm")
    s = Scribe(made, hand, 14, 1800, 500)
    s.head(["half of the outline, long end mill 6 mm"], 18000, kind="tool")
    contour(s, "edge", rectangle((25, 13), (175, 107), 13), 0, levels(0, -16, 3))
    s.tail((0, 120))
    s.done(name="half outline", bit="long-6", depth="16 mm")
    return made


JOBS = (tray, sign, bracket, panel, block)
