"""Six jobs: a drilling jig, hangers, a drawer front, a bowl, a clock face, a case of foam."""

from __future__ import annotations

import functools
import math

from tests.checks.heldout5.core import Shop
from tests.checks.heldout8.scribe import Hand, Scribe
from tests.checks.heldout8.shopfloor import clamp, clamps, shop
from tests.checks.heldout8.ways import (
    bore,
    circle,
    contour,
    levels,
    pocket,
    rectangle,
    round_pocket,
    slot,
)  # fmt: skip

INCH = 25.4


def jig() -> Shop:
    """A jig in inches, Z from the bed: a slot, bores by a subprogram, two rows of pin holes."""
    made = shop("jig", "Shelf pin jig", ("12 in", "6 in", "0.75 in"), "front-left-bed", "mdf",
                ["end-1/2", "end-1/4", "end-1/8", "drill-5"], units="in",
                into="0.02 in")  # fmt: skip
    clamps(made, (304.8, 152.4), 30, 40, 12, 10)
    hand = Hand(inch=True, places=4)

    s = Scribe(made, hand, 15.24, 100 * INCH, 30 * INCH)
    s.head(["fence slot", "1/2 in end mill"], 14000)
    pocket(s, "fence", (60, 66), (245, 86), 12.7, 5, 0, levels(0, -9.525, 3.2), 1.2)
    s.tail()
    s.done(name="fence slot", bit="end-1-2", depth="0.375 in", max_pass="0.15 in")

    s = Scribe(made, hand, 15.24, 60 * INCH, 30 * INCH)
    s.head(["four bolt seats, 0.4 in wide", "1/4 in end mill"], 16000)
    for k, (x, y) in enumerate(((2.0, 1.6), (10.0, 1.6), (10.0, 4.4), (2.0, 4.4)), 1):
        s.put([*s.code(0), f"X{s.shown(x)}", f"Y{s.shown(y)}"], "seat")
        s.put(["M98", "P200"], f"call{k}")
    s.put(["M5"], "stop")
    s.put(["M30"], "end")
    for text, mark in (
        ("O200", "sub"), ("G0 Z0.8", "sub.near"), ("G91", "sub.step"),
        ("G1 X0.075 F60", "sub.out"), *[("G3 X0 Y0 Z-0.05 I-0.075 J0 F30", "sub.turn")] * 8,
        ("G3 X0 Y0 I-0.075 J0", "sub.flat"), ("G1 X-0.075 F60", "sub.middle"),
        ("G90", "sub.whole"), ("G0 Z1.35", "sub.up"), ("M99", "sub.back"),
    ):  # fmt: skip
        s.text(text, mark)
    s.done(name="bolt seats", bit="end-1-4", depth="0.35 in")

    s = Scribe(made, hand, 15.24, 30 * INCH, 30 * INCH)
    s.head(["shelf pins 32 mm apart", "drill 5 mm"], 5000)
    s.put(["G0", "X0.8002", "Y0.7"], "start")
    s.put(["G98", "G91", "G81", "X1.2598", "Y0", "Z-0.52", "R-0.55", "L8", "F30"], "row")
    s.put(["G80", "G90"], "row.off")
    s.said.pop("code")
    back = [((0.8002 + 1.2598 * k) * INCH, 5.3 * INCH) for k in range(8, 0, -1)]
    s.cycle("back", 81, back, -0.47 * INCH, 0.05 * INCH, 30 * INCH)
    s.tail()
    s.done(name="pin holes", bit="drill-5", depth="0.47 in")
    return made


def hangers() -> Shop:
    """Two coat hangers from one board, one zero each: keyhole slots, recesses, outlines."""
    made = shop("hangers", "Two coat hangers", ("320 mm", "130 mm", "18 mm"), "front-left-top",
                "beech", ["keyhole-9", "flat-6", "flat-8", "flat-3"])  # fmt: skip
    clamps(made, (320, 130), 25, 40, 6, 10)
    hand = Hand(places=3, every_axis=True)
    second = {"G55": ["150 mm", "0 mm", "0 mm"]}

    def twice(s: Scribe, part: str) -> None:
        for number in (1, 2):
            if number == 2:
                s.put(["G55"], "second")
                s.at.pop("X")
                s.at.pop("Y")
            name = f"{part}{number}"
            if part == "key":
                for k, x in enumerate((50.0, 110.0), 1):
                    s.over(f"{name}{k}", x, 78)
                    s.cut(f"{name}{k}.down", z=-8, feed=s.plunge)
                    s.cut(f"{name}{k}.along", x, 92)
                    s.cut(f"{name}{k}.back", x, 78)
                    s.up(f"{name}{k}")
            elif part == "recess":
                round_pocket(s, name, (80, 48), 14, 6, 2.5, 0, [-2.5, -5])
            else:
                path = rectangle((15, 15), (145, 115), 9, [(1, 0.5), (3, 0.5)], 14.5)
                contour(s, name, path, 0, levels(0, -18.2, 4), tab_top=-14)

    s = Scribe(made, hand, 18, 700, 200)
    s.head(["hangers: keyholes", "keyhole bit 9.2 mm"], 16000)
    twice(s, "key")
    s.tail()
    s.done(name="keyholes", bit="keyhole-9", depth="8 mm", offsets=dict(second))

    s = Scribe(made, hand, 18, 2000, 600)
    s.head(["hangers: recesses", "flat 6 mm"], 18000)
    twice(s, "recess")
    s.tail()
    s.done(name="recesses", bit="flat-6", depth="5 mm", max_pass="3 mm", offsets=dict(second))

    s = Scribe(made, hand, 18, 2000, 600)
    s.head(["hangers: outlines", "flat 6 mm"], 18000)
    twice(s, "edge")
    s.tail()
    s.done(name="outlines", bit="flat-6", depth="through", max_pass="4 mm", tab_width="8 mm",
           tab_height="4 mm", offsets=dict(second))  # fmt: skip
    return made


def drawer() -> Shop:
    """A drawer front in inches: a groove in two ways, a hand hole, knob holes, the outline."""
    made = shop("drawer", "Drawer front", ("16 in", "7 in", "0.75 in"), "front-centre-top",
                "birch plywood", ["end-1/4", "end-1/8", "end-1/2", "drill-3/16"], units="in",
                into="0.02 in", shoe=True)  # fmt: skip
    clamps(made, (406.4, 177.8), 25, 50, 6, 8)
    hand = Hand(inch=True, places=4, lower=True, semicolon=True, trim=False)

    s = Scribe(made, hand, 17.78, 90 * INCH, 25 * INCH)
    s.head(["groove for the bottom", '1/4" end mill'], 18000)
    slot(s, "groove1", (22, 26), (384, 26), 0, [-1.6, -3.2, -4.8, -6.35])
    slot(s, "groove2", (22, 29.175), (384, 29.175), 0, [-1.6, -3.2, -4.8, -6.35])
    s.tail(last="M2")
    s.done(name="groove", bit="end-1-4", depth="0.25 in", max_pass="0.15 in")

    s = Scribe(made, hand, 17.78, 90 * INCH, 25 * INCH)
    s.head(["hand hole", '1/4" end mill'], 18000)
    path = rectangle((156, 84), (250, 112), 3, [(1, 0.5), (3, 0.5)], 13)
    contour(s, "hand", path, 0, levels(0, -19.25, 3.9), tab_top=-14.5)
    s.tail(last="M2")
    s.done(name="hand hole", bit="end-1-4", depth="through", max_pass="0.16 in",
           tab_width="0.25 in", tab_height="0.17 in")  # fmt: skip

    s = Scribe(made, hand, 17.78, 20 * INCH, 20 * INCH)
    s.head(["pilot holes", "3/16 drill"], 5000)
    s.cycle("pilot", 83, [(70, 98), (336.4, 98)], -12.7, 1.27, 20 * INCH, Q=5.08)
    s.tail(last="M2")
    s.done(name="pilot holes", bit="drill-3-16", depth="0.5 in")

    s = Scribe(made, hand, 17.78, 90 * INCH, 25 * INCH)
    s.head(["outline", '1/4" end mill'], 18000)
    path = rectangle((11, 8), (395.4, 169.8), 6, [(1, 0.3), (1, 0.7), (3, 0.3), (3, 0.7)], 15)
    contour(s, "edge", path, 0, levels(0, -19.25, 3.9), tab_top=-14.5)
    s.tail(last="M2")
    s.done(name="outline", bit="end-1-4", depth="through", max_pass="0.16 in",
           tab_width="0.3 in", tab_height="0.17 in")  # fmt: skip
    return made


@functools.cache
def _dish(r: float) -> float:
    """How low a ball of 12 mm may go in the bowl's hollow."""

    def face(x: float) -> float:
        return -22 * (1 - (x / 55) ** 2) if abs(x) < 55 else 0.0

    steps = [0.25 * k for k in range(-23, 24)]
    return max(face(r + d) - (6 - math.sqrt(36 - d * d)) for d in steps)


def bowl() -> Shop:
    """A bowl, Z from the bed: cleared in levels, finished by rings of a ball, cut free."""
    made = shop("bowl", "Key bowl", ("180 mm", "180 mm", "32 mm"), "centre-bed", "cherry",
                ["flat-8", "flat-6", "ball-12", "ball-6"])  # fmt: skip
    clamps(made, (180, 180), 25, 30, 5, 9)
    hand = Hand(places=3, relative=True)
    centre = (90.0, 90.0)

    s = Scribe(made, hand, 18, 2600, 700)
    s.head(["bowl, clearing", "8 mm flat"], 16000, kind="late")
    top = 0.0
    for n, z in enumerate((-4.0, -8.0, -12.0, -16.0, -20.0), 1):
        size = 55 * math.sqrt(1 + z / 22) - 0.5
        round_pocket(s, f"clear{n}", centre, size, 8, 3.4, top, [z], 1.2)
        top = z
    s.tail()
    s.done(name="clear", bit="flat-8", depth="20 mm", max_pass="4.2 mm")

    s = Scribe(made, hand, 18, 2200, 600)
    s.head(["bowl, finish", "12 mm ball"], 16000, kind="late")
    s.over("ring", centre[0] + 54, centre[1])
    for k in range(68):
        r = 54 - 0.8 * k
        feed = s.feed if k else s.plunge
        s.cut(f"ring{k}.in", centre[0] + r, centre[1], _dish(round(r, 3)), feed)
        s.arc(f"ring{k}", (centre[0] + r, centre[1]), centre, True)
    s.cut("last", *centre, _dish(0.0))
    s.up("ring")
    s.tail()
    s.done(name="finish", bit="ball-12", depth="22 mm")

    s = Scribe(made, hand, 18, 2200, 700)
    s.head(["bowl, cut free", "8 mm flat"], 16000, kind="late")
    contour(s, "rim", circle(centre, 76, 3, 17), 0, levels(0, -32.2, 4.1), tab_top=-26)
    s.tail()
    s.done(name="cut free", bit="flat-8", depth="through", max_pass="4.2 mm", tab_width="8 mm",
           tab_height="6 mm")  # fmt: skip
    return made


def clock() -> Shop:
    """A clock face: hour holes by a loop, a seat for the works, a ring, the rim."""
    made = shop("clock", "Clock face", ("250 mm", "250 mm", "12 mm"), "centre-top",
                "birch plywood", ["drill-3", "flat-6", "flat-3", "ball-4"])  # fmt: skip
    for k, (x, y) in enumerate(((0, 0), (225, 0), (225, 225), (0, 225)), 1):
        clamp(made, f"corner {k}", (x, y), (x + 25, y + 25), 8)
    hand = Hand(places=3, sticky=False)
    centre = (125.0, 125.0)

    s = Scribe(made, hand, 16, 400, 400)
    s.head(["twelve hours", "3mm drill"], 9000)
    for text, mark in (
        ("#1=0", "first"), ("WHILE [#1 LT 12] DO1", "while"), ("#2=[100*COS[#1*30]]", "x"),
        ("#3=[100*SIN[#1*30]]", "y"), ("G98 G81 X#2 Y#3 Z-6 R1.5 F600", "hour"),
        ("#1=[#1+1]", "next"), ("END1", "loop"), ("G80", "hour.off"),
    ):  # fmt: skip
        s.text(text, mark)
    s.tail()
    s.done(name="hours", bit="drill-3", depth="6 mm")

    s = Scribe(made, hand, 16, 2000, 600)
    s.head(["seat and shaft", "6mm flat endmill"], 18000)
    round_pocket(s, "seat", centre, 28, 6, 2.6, 0, [-3.5, -7])
    bore(s, "shaft", centre, 5, 6, -7, -12.2, 1)
    s.tail()
    s.done(name="seat and shaft", bit="flat-6", depth="through", max_pass="4 mm")

    s = Scribe(made, hand, 16, 1500, 400)
    s.head(["ring", "4mm ball"], 18000)
    contour(s, "ring", circle(centre, 85), 0, [-1.5])
    s.tail()
    s.done(name="ring", bit="ball-4", depth="1.5 mm")

    s = Scribe(made, hand, 16, 2000, 600)
    s.head(["rim", "6mm flat endmill"], 18000)
    contour(s, "rim", circle(centre, 119, 4, 13), 0, levels(0, -12.2, 4.1), tab_top=-8.5)
    s.tail()
    s.done(name="rim", bit="flat-6", depth="through", max_pass="4.2 mm", tab_width="6 mm",
           tab_height="3.5 mm")  # fmt: skip
    return made


def case() -> Shop:
    """Foam for a case: three deep seats, marks, trimmed to size under a dust shoe."""
    made = shop("case", "Foam for a tool case", ("320 mm", "220 mm", "40 mm"), "front-right-top",
                "foam", ["long-6", "flat-3", "ball-10"], shoe=True)  # fmt: skip
    hand = Hand(places=1, padded=True, semicolon=True)

    s = Scribe(made, hand, 8, 4000, 1500)
    s.head(["seats", "long 6 mm flat"], 16000)
    pocket(s, "plane", (30, 30), (150, 110), 6, 3, 0, [-8, -16, -24, -30], 3)
    pocket(s, "saw", (180, 30), (290, 190), 6, 3, 0, [-8, -16, -22], 3)
    round_pocket(s, "tin", (90, 165), 35, 6, 3, 0, [-8, -16, -24, -30], 3)
    s.tail()
    s.done(name="seats", bit="long-6", depth="30 mm", max_pass="9 mm", max_plunge_rate=
           "2000 mm/min")  # fmt: skip

    s = Scribe(made, hand, 8, 3000, 1000)
    s.head(["marks", "3 mm flat"], 16000)
    for k, (x, y) in enumerate(((60.0, 120.0), (210.0, 20.0), (60.0, 20.0)), 1):
        slot(s, f"mark{k}", (x, y), (x + 40, y), 0, [-1, -2])
    s.tail()
    s.done(name="marks", bit="flat-3", depth="2 mm")

    s = Scribe(made, hand, 8, 4000, 1500)
    s.head(["trim", "long 6 mm flat"], 16000)
    path = rectangle((9, 9), (311, 211), 0, [(1, 0.3), (1, 0.7), (3, 0.3), (3, 0.7)], 18)
    contour(s, "edge", path, 0, levels(0, -40.2, 10), tab_top=-32)
    s.tail()
    s.done(name="trim", bit="long-6", depth="through", max_pass="11 mm", tab_width="10 mm",
           tab_height="8 mm")  # fmt: skip
    return made


JOBS = (jig, hangers, drawer, bowl, clock, case)
