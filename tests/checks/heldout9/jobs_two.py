"""Five jobs: a bowl, a plaque for an inlay, two shelf sides, threaded knobs, a dial."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence

from tests.checks.heldout5.core import Shop, Table
from tests.checks.heldout8.scribe import Hand, Place, Scribe
from tests.checks.heldout8.shopfloor import clamps, shop
from tests.checks.heldout8.ways import (
    Piece,
    bore,
    circle,
    contour,
    levels,
    pocket,
    rectangle,
    relief,
    round_pocket,
    slot,
    stroke,
)


@functools.cache
def bowl() -> Shop:
    """Lime; a dish of a sphere: terraces, rows with a ball, a groove on the rim, cut out."""
    made = shop("bowl", "dish", ("160 mm", "160 mm", "34 mm"), "centre-top", "lime",
                ["flat-8", "ball-12", "ball-4", "long-6", "ball-10"])  # fmt: skip
    clamps(made, (160, 160), 40, 30, 4, 6)
    middle, sphere = (80.0, 80.0), 84.5
    top = sphere - 25
    s = Scribe(made, Hand(), 11, 2800, 900)
    s.head(["roughing, flat 8 mm"], 18000)
    before = 0.0
    for n, z in enumerate(levels(0, -24, 4), 1):
        reach = math.sqrt(sphere**2 - (top - z + 0.6) ** 2)
        round_pocket(s, f"step{n}", middle, reach, 8, 3.5, before, [z])
        before = z
    s.tail((0, 160))
    s.done(name="roughing", bit="flat-8", depth="24 mm")
    s = Scribe(made, Hand(places=2), 11, 2200, 700)
    s.head(["finishing, ball 12 mm"], 18000)

    def height(x: float, y: float) -> float:
        return top - math.sqrt((sphere - 6) ** 2 - x * x - y * y) - 6

    relief(s, "dish", height, middle, 55.7, 2.0, 3.0)
    s.tail((0, 160))
    s.done(name="finishing", bit="ball-12", depth="25 mm")
    s = Scribe(made, Hand(), 11, 1200, 400)
    s.head(["rim, ball 4 mm"], 18000)
    contour(s, "rim", circle(middle, 64), 0, [-1.2])
    s.tail((0, 160))
    s.done(name="rim", bit="ball-4", depth="1.2 mm")
    s = Scribe(made, Hand(), 11, 1800, 500)
    s.head(["cut out, end mill 6 mm"], 18000)
    contour(s, "edge", circle(middle, 71, 3, 16), 0, levels(0, -34.2, 4), -28)
    s.tail((0, 160))
    s.done(name="cut out", bit="long-6", depth="through", tab_height="6 mm")
    return made


def grown(corners: Sequence[Place], by: float) -> list[Place]:
    """A convex outline, counter-clockwise, its edges moved outward (inward below zero)."""
    out = []
    for k, (x, y) in enumerate(corners):
        (ax, ay), (bx, by_) = corners[k - 1], corners[(k + 1) % len(corners)]
        u, v = math.atan2(y - ay, x - ax), math.atan2(by_ - y, bx - x)
        half = (v - u) / 2 % math.pi
        turn = u + half - math.pi / 2
        far = by / math.cos(half)
        out.append((x + far * math.cos(turn), y + far * math.sin(turn)))
    return out


def ngon(centre: Place, radius: float, count: int, first: float) -> list[Place]:
    return [
        (centre[0] + radius * math.cos(math.radians(first + 360 * k / count)),
         centre[1] + radius * math.sin(math.radians(first + 360 * k / count)))
        for k in range(count)
    ]  # fmt: skip


#: What the inlay lies in, by name: outlines, counter-clockwise.
FIELDS = {
    "hexagon": ngon((60, 60), 30, 6, 0),
    "east": ngon((100, 60), 12, 3, 0),
    "west": ngon((20, 60), 12, 3, 180),
}


@functools.cache
def plaque() -> Shop:
    """Maple; fields for an inlay: grounds by flat, walls and points by vee, a string groove."""
    made = shop("plaque", "plaque for an inlay", ("120 mm", "120 mm", "12 mm"), "front-left-top",
                "maple", ["flat-3", "flat-2", "vee-60", "vee-90"])  # fmt: skip
    hand = Hand(padded=True, sticky=False, places=3)
    deep, flank = 3.0, 3.0 * math.tan(math.radians(30))
    s = Scribe(made, hand, 8, 1100, 350)
    s.head(["grounds, flat 3 mm"], 20000)
    for name, field in FIELDS.items():
        inside = math.dist(field[0], field[1]) / 2 / math.tan(math.pi / len(field))
        count = math.ceil((inside - flank - 1.6) / 1.4)
        steps = [flank + 1.6 + (inside - flank - 1.7) * k / count for k in range(count, -1, -1)]
        rings = [grown(field, -off) for off in steps]
        s.over(name, *rings[0][0])
        s.cut(name + ".touch", z=0, feed=s.plunge)
        for n, z in enumerate(levels(0, -deep, 1.5), 1):
            s.cut(f"{name}.l{n}.down", *rings[0][0], z, feed=s.plunge)
            for r, ring in enumerate(rings, 1):
                for at in (*ring, ring[0]):
                    s.cut(f"{name}.l{n}.r{r}", *at)
            if n == 1:
                s.cut(f"{name}.l{n}.back", *rings[0][0])
        s.up(name)
    s.tail((0, 120))
    s.done(name="grounds", bit="flat-3", depth="3 mm")
    s = Scribe(made, hand, 8, 900, 350)
    s.head(["walls and points, vee 60 deg"], 18000)
    for name, field in FIELDS.items():
        foot = grown(field, -flank)
        way = [(*foot[0], -deep)]
        for k in range(1, len(field) + 1):
            k %= len(field)
            way += [(*foot[k], -deep), (*field[k], 0.0), (*foot[k], -deep)]
        stroke(s, name, way)
    s.tail((0, 120))
    s.done(name="walls", bit="vee-60", depth="3 mm")
    s = Scribe(made, hand, 8, 700, 250)
    s.head(["string, flat 2 mm"], 20000)
    contour(s, "string", rectangle((4, 20), (116, 100), 6), 0, levels(0, -1.6, 0.8))
    s.tail((0, 120))
    s.done(name="string", bit="flat-2", depth="1.6 mm")
    return made


def second() -> Table:
    """Where the second shelf side lies."""
    return {"offsets": {"G55": ["240 mm", "0 mm", "0 mm"]}}


def other_side(s: Scribe) -> None:
    """Go on in the second work offset, high above."""
    s.go("across", z=s.clear)
    s.put(["G55"], "second")
    s.origin = (s.origin[0] + 240, *s.origin[1:])
    for axis in "XY":
        s.at.pop(axis, None)


@functools.cache
def shelf() -> Shop:
    """Birch plywood, zero on the bed; two equal sides in G54 and G55, pin holes by M98."""
    made = shop("shelf", "shelf sides", ("480 mm", "300 mm", "18 mm"), "front-left-bed",
                "birch plywood", ["drill-5", "flat-6", "flat-8", "drill-3"],
                shoe=True, nominal_thickness="18 mm")  # fmt: skip
    clamps(made, (480, 300), 40, 40, 5, 10)
    s = Scribe(made, Hand(), 15, 800, 600)
    s.head(["pin holes, drill 5 mm"], 6000)
    for side in (1, 2):
        for n, x in enumerate((37.0, 203.0), 1):
            s.go(f"row{side}{n}.over", x + 240 * (side - 1), 60.0)
            s.text("M98 P100 L6", f"row{side}{n}")
            s.at.pop("Y")
            s.said.pop("code", None)
        if side == 1:
            other_side(s)
    s.tail()
    for mark, text in (("sub", "O100"), ("hole", "G98 G81 Z6 R19.5 F600"), ("hole.off", "G80"),
                       ("step", "G91 G0 Y32"), ("back", "G90"), ("sub.end", "M99")):  # fmt: skip
        s.text(text, mark)
    s.done(name="pin holes", bit="drill-5", depth="12 mm", **second())
    s = Scribe(made, Hand(), 15, 2400, 700)
    s.head(["housings, flat 6 mm"], 18000)
    for side in "ab":
        east = 0.0 if side == "a" else 240.0
        for name, y in (("foot", 24.0), ("head", 262.0)):
            low, high = (24 + east, y), (216 + east, y + 18.2)
            pocket(s, name + side, low, high, 6, 2.6, 0, levels(0, -6, 3))
        if side == "a":
            other_side(s)
    s.tail()
    s.done(name="housings", bit="flat-6", depth="6 mm", **second())
    s = Scribe(made, Hand(), 15, 2200, 700)
    s.head(["cut out, flat 6 mm"], 18000)
    for side in "ab":
        east = 0.0 if side == "a" else 240.0
        path = rectangle((9 + east, 9), (231 + east, 291), 6,
                         [(0, 0.8), (1, 0.5), (2, 0.3), (2, 0.7), (3, 0.5)], 14, 14)  # fmt: skip
        contour(s, "edge" + side, path, 0, levels(0, -18.2, 4.6), -14)
        if side == "a":
            other_side(s)
    s.tail()
    s.done(name="cut out", bit="flat-6", depth="through", **second())
    return made


#: One tooth of 60 degrees on a neck, for internal threads.
THREAD_MILL: Table = {
    "shape": "form", "profile": [[0, 0], [3.4, 0], [5, 0.92], [3.4, 1.84], [3.4, 22]], "flutes": 3,
    "flute_length": "22 mm", "shank": "8 mm", "stickout": "34 mm", "centre_cutting": False,
    "max_rpm": "20000 rpm", "material": "carbide",
}  # fmt: skip


def round_path(centre: Place, radius: float) -> list[Piece]:
    """Clockwise from the right with two tabs, and ramps behind them that polyethylene bears."""
    stops = [(60, ""), (88, "tab"), (146, "ramp"), (210, ""), (238, "tab"), (296, "ramp"),
             (330, ""), (360, "")]  # fmt: skip
    return [
        Piece(centre[0] + radius * math.cos(math.radians(a)),
              centre[1] - radius * math.sin(math.radians(a)), centre, False,
              tab=kind == "tab", ramp=kind == "ramp")
        for a, kind in stops
    ]  # fmt: skip


KNOBS = ((38.0, 38.0), (112.0, 38.0), (75.0, 102.0))


@functools.cache
def knobs() -> Shop:
    """Polyethylene; blind bores, threads by a helix upward, pointer grooves, three rounds."""
    made = shop("knobs", "clamp knobs", ("150 mm", "140 mm", "25 mm"), "back-right-top", "HDPE",
                ["flat-8", "flat-6", "ball-4"])  # fmt: skip
    made.table["bits"]["thread-mill"] = dict(THREAD_MILL)
    hand = Hand(every_axis=True, trim=False, step=1, tight=True)
    s = Scribe(made, hand, 10, 1500, 500)
    s.head(["bores, flat 8 mm"], 16000, kind="tool")
    for n, at in enumerate(KNOBS, 1):
        bore(s, f"bore{n}", at, 7, 8, 0, -18, 1.2)
    s.tail((150, 140))
    s.done(name="bores", bit="flat-8", depth="18 mm")
    s = Scribe(made, hand, 10, 500, 300)
    s.head(["threads, pitch 2 mm"], 10000, kind="tool")
    for n, (x, y) in enumerate(KNOBS, 1):
        name = f"thread{n}"
        s.over(name, x, y)
        s.cut(name + ".down", z=-16, feed=s.plunge)
        s.arc(name + ".in", (x + 3.2, y), (x + 1.6, y), True, -15.5)
        for k in range(7):
            s.arc(name, (x + 3.2, y), (x, y), True, -13.5 + 2 * k)
        s.arc(name + ".out", (x, y), (x + 1.6, y), True)
        s.up(name)
    s.tail((150, 140))
    s.done(name="threads", bit="thread-mill", depth="16 mm")
    s = Scribe(made, hand, 10, 1200, 400)
    s.head(["pointers, ball 4 mm"], 16000, kind="tool")
    for n, (x, y) in enumerate(KNOBS, 1):
        slot(s, f"pointer{n}", (x, y + 11), (x, y + 21), 0, levels(0, -0.9, 0.45))
    s.tail((150, 140))
    s.done(name="pointers", bit="ball-4", depth="0.9 mm")
    s = Scribe(made, hand, 10, 1600, 500)
    s.head(["rounds, flat 6 mm"], 16000, kind="tool")
    for n, at in enumerate(KNOBS, 1):
        contour(s, f"round{n}", round_path(at, 28), 0, levels(0, -25.2, 2.4), -23)
    s.tail((150, 140))
    s.done(name="rounds", bit="flat-6", depth="through")
    return made


@functools.cache
def dial() -> Shop:
    """MDF; marks by a loop with parameters, a counterbored middle, a ring, cut out."""
    made = shop("dial", "dial", ("300 mm", "300 mm", "9 mm"), "centre-top", "MDF",
                ["flat-3", "drill-3", "flat-6", "flat-8"],
                shoe=True, into="1.5 mm")  # fmt: skip
    clamps(made, (300, 300), 40, 30, 4, 8)
    hand = Hand(lower=True, semicolon=True, every_axis=True)
    s = Scribe(made, hand, 12, 1500, 400)
    s.head(["hour marks, flat 3 mm"], 18000)
    s.go("first", 150, 150)
    for mark, text in (
        ("count", "#1=0"), ("loop", "while [#1 lt 12] do1"), ("angle", "#2=[#1*30]"),
        ("inner", "#3=105"), ("outer", "#4=122"),
        ("mark.over", "g0 x[#3*cos[#2]] y[#3*sin[#2]]"), ("mark.near", "g0 z1.5"),
        ("mark.down", "g1 z-2 f400"), ("mark", "g1 x[#4*cos[#2]] y[#4*sin[#2]] f1500"),
        ("mark.up", "g0 z12"), ("next", "#1=[#1+1]"), ("loop.end", "end1"),
    ):  # fmt: skip
        s.text(text, mark)
    s.said.clear()
    s.said["mode"] = "G90"
    s.go("home", 150, 150)
    s.tail()
    s.done(name="marks", bit="flat-3", depth="2 mm")
    screws = [(150.0 + x, 150.0 + y) for x in (-30, 30) for y in (-30, 30)]
    s = Scribe(made, hand, 12, 500, 400)
    s.head(["holes, drill 3 mm"], 8000)
    s.cycle("screw", 81, screws, -10.2, 1.5, 400)
    s.tail()
    s.done(name="holes", bit="drill-3", depth="through")
    s = Scribe(made, hand, 12, 2400, 800)
    s.head(["counterbores, ring, shaft; flat 6 mm"], 18000)
    for n, at in enumerate(screws, 1):
        bore(s, f"sink{n}", at, 4.5, 6, 0, -3, 1)
    bore(s, "shaft", (150, 150), 5, 6, 0, -9.2, 1.2)
    for n, radius in enumerate((90.0, 130.0), 1):
        contour(s, f"ring{n}", circle((150, 150), radius), 0, levels(0, -2, 1))
    s.tail()
    s.done(name="counterbores", bit="flat-6", depth="through")
    s = Scribe(made, hand, 12, 2400, 800)
    s.head(["cut out, flat 6 mm"], 18000)
    contour(s, "edge", circle((150, 150), 141, 4, 18), 0, levels(0, -9.2, 3.2), -6)
    s.tail()
    s.done(name="cut out", bit="flat-6", depth="through")
    return made


JOBS = (bowl, plaque, shelf, knobs, dial)
