"""Six jobs: a tray, a house number, a medallion, a plate, a panel, an inlay."""

from __future__ import annotations

import functools
import itertools
import math

from tests.checks.heldout5.core import Shop
from tests.checks.heldout8.scribe import Hand, Scribe
from tests.checks.heldout8.shopfloor import clamps, shop
from tests.checks.heldout8.ways import (
    bore,
    circle,
    contour,
    levels,
    pocket,
    rectangle,
    relief,
    round_pocket,
    rows,
    slot,
    stroke,
)  # fmt: skip


def tray() -> Shop:
    """A valet tray: planed, two hollows, a groove for pens in the rim, cut free."""
    made = shop("tray", "Valet tray", ("280 mm", "200 mm", "22 mm"), "centre-top", "walnut",
                ["surfacer-25", "flat-8", "flat-6", "ball-10", "flat-3"])  # fmt: skip
    hand = Hand(places=3)

    s = Scribe(made, hand, 12, 4000, 800)
    s.head(["Job: tray 1 of 4", "Tool: 25 mm surfacing bit"], 16000)
    rows(s, "row", -16, 296, [8 + 18.0 * k for k in range(11)], -0.6)
    s.tail((140, 190))
    s.done(name="plane the top", bit="surfacer-25", depth="0.6 mm", max_pass="1 mm")

    s = Scribe(made, hand, 12, 2200, 700)
    s.head(["Job: tray 2 of 4", "Tool: 6 mm flat end mill"], 18000)
    down = levels(-0.6, -14.6, 3.6)
    pocket(s, "large", (30, 30), (160, 170), 6, 2.6, -0.6, down)
    pocket(s, "small", (174, 30), (250, 170), 6, 2.6, -0.6, down)
    s.tail((140, 190))
    s.done(name="hollows", bit="flat-6", depth="14.6 mm", max_pass="4 mm", max_ramp_angle="8 deg",
           max_plunge_rate="800 mm/min")  # fmt: skip

    s = Scribe(made, hand, 12, 1800, 500)
    s.head(["Job: tray 3 of 4", "Tool: 10 mm ball nose"], 16000)
    slot(s, "pens", (50, 21), (230, 21), -0.6, [-2.2, -3.6])
    s.tail((140, 190))
    s.done(name="pen groove", bit="ball-10", depth="3.6 mm")

    s = Scribe(made, hand, 12, 2200, 700)
    s.head(["Job: tray 4 of 4", "Tool: 6 mm flat end mill"], 18000)
    path = rectangle((9, 9), (271, 191), 15, [(1, 0.25), (1, 0.75), (3, 0.25), (3, 0.75)], 14.5)
    contour(s, "edge", path, -0.6, levels(-0.6, -22.2, 4.4), tab_top=-18)
    s.tail((140, 190))
    s.done(name="cut free", bit="flat-6", depth="through", max_pass="4.6 mm", tab_width="8 mm",
           tab_height="4 mm")  # fmt: skip
    return made


SEVEN = [[(0, 60), (36, 60), (14, 0)]]
FOUR = [[(30, 0), (30, 60), (0, 18), (42, 18)]]
DIGITS = {"seven": (SEVEN, 70.0), "four": (FOUR, 140.0), "one": ([[(0, 46), (16, 60), (16, 0)]],
          215.0)}  # fmt: skip


def number_sign() -> Shop:
    """A house number: a sunk panel, carved digits, screw holes, a bevel, the outline."""
    made = shop("sign", "House number 741", ("320 mm", "170 mm", "19 mm"), "front-left-top", "oak",
                ["flat-8", "flat-6", "vee-60", "vee-90", "drill-5"], into="2.2 mm")  # fmt: skip
    clamps(made, (320, 170), 30, 50, 5, 12)
    hand = Hand(places=2, trim=False, radius=True, step=5, padded=True)

    s = Scribe(made, hand, 20, 2400, 800)
    s.head(["HOUSE NUMBER PANEL", "END MILL D8 Z2"], 16000, kind="tool")
    pocket(s, "panel", (30, 40), (290, 130), 8, 3.6, 0, [-1.5, -3])
    s.tail()
    s.done(name="panel", bit="flat-8", depth="3 mm", max_pass="2 mm")

    s = Scribe(made, hand, 20, 1400, 500)
    s.head(["HOUSE NUMBER DIGITS", "V-BIT 60 DEG"], 18000, kind="tool")
    for name, (lines, x) in DIGITS.items():
        for k, points in enumerate(lines):
            carved = []
            for (ax, ay), (bx, by) in itertools.pairwise(points):
                length = math.hypot(bx - ax, by - ay)
                ends = [(0.0, -3.0), (4.0 / length, -5.8), (1 - 4.0 / length, -5.8), (1.0, -3.0)]
                carved += [(x + ax + (bx - ax) * t, 55 + ay + (by - ay) * t, z) for t, z in ends]
            stroke(s, f"{name}{k}", carved)
    s.tail()
    s.done(name="digits", bit="vee-60", depth="5.8 mm")

    s = Scribe(made, hand, 20, 2000, 600)
    s.head(["HOUSE NUMBER COUNTERBORES", "END MILL D6 Z2"], 18000, kind="tool")
    for k, y in enumerate((27.0, 143.0), 1):
        bore(s, f"bore{k}", (160, y), 5, 6, 0, -4, 1)
    s.tail()
    s.done(name="counterbores", bit="flat-6", depth="4 mm")

    s = Scribe(made, hand, 20, 400, 400)
    s.head(["HOUSE NUMBER SCREW HOLES", "DRILL D5"], 6000, kind="tool")
    s.cycle("hole", 83, [(160, 27), (160, 143)], -20.9, 1.5, 400, Q=4)
    s.tail()
    s.done(name="screw holes", bit="drill-5", depth="through")

    s = Scribe(made, hand, 20, 1800, 600)
    s.head(["HOUSE NUMBER BEVEL", "V-BIT 90 DEG"], 16000, kind="tool")
    contour(s, "bevel", rectangle((14, 15), (306, 155), 12), 0, [-1.5])
    s.tail()
    s.done(name="bevel", bit="vee-90", depth="1.5 mm")

    s = Scribe(made, hand, 20, 2200, 700)
    s.head(["HOUSE NUMBER OUTLINE", "END MILL D6 Z2"], 18000, kind="tool")
    path = rectangle((11, 12), (309, 158), 15, [(1, 0.3), (1, 0.7), (3, 0.3), (3, 0.7)], 14.5)
    contour(s, "edge", path, 0, levels(0, -19.2, 4), tab_top=-15)
    s.tail()
    s.done(name="outline", bit="flat-6", depth="through", max_pass="4 mm", tab_width="8 mm",
           tab_height="4 mm")  # fmt: skip
    return made


def _petals(x: float, y: float) -> float:
    """The medallion's face, mm below the top."""
    r = math.hypot(x, y) / 44
    return -1.0 - 5.5 * r * r - 1.3 * r * r * math.cos(6 * math.atan2(y, x))


@functools.cache
def _over(x: float, y: float, radius: float, ball: bool) -> float:
    """How low a bit's tip may go there without cutting into the face."""
    best = -1e9
    for k in range(4):
        d = radius * k / 3
        lift = radius - math.sqrt(max(radius * radius - d * d, 0.0)) if ball else 0.0
        for n in range(12 if k else 1):
            at = 2 * math.pi * n / 12
            best = max(best, _petals(x + d * math.cos(at), y + d * math.sin(at)) - lift)
    return best


def medallion() -> Shop:
    """A relief: roughed in three levels, finished by rows of a ball, cut free."""
    made = shop("medal", "Petal medallion", ("140 mm", "140 mm", "24 mm"), "centre-top", "maple",
                ["flat-6", "ball-6", "ball-4", "flat-3"])  # fmt: skip
    clamps(made, (140, 140), 25, 30, 5, 10)
    hand = Hand(places=3, semicolon=True, every_axis=False)
    centre = (70.0, 70.0)

    s = Scribe(made, hand, 18, 2200, 600)
    s.head(["relief rough", "flat 6mm, leaves 0.4 mm"], 18000, kind="split")
    for n, level in enumerate((-2.4, -4.6, -6.6), 1):

        def height(x: float, y: float, low: float = level) -> float:
            return max(low, _over(x, y, 3.0, False) + 0.4)

        relief(s, f"rough{n}", height, centre, 47, 2.6, 2.5)
    s.tail()
    s.done(name="rough", bit="flat-6", depth="6.6 mm", max_pass="3 mm")

    s = Scribe(made, hand, 18, 2000, 600)
    s.head(["relief finish", "ball 6mm"], 18000, kind="split")
    relief(s, "fine", lambda x, y: _over(x, y, 3.0, True), centre, 44, 0.9, 2.0)
    s.tail()
    s.done(name="finish", bit="ball-6", depth="7.7 mm")

    s = Scribe(made, hand, 18, 2000, 600)
    s.head(["cut free", "flat 6mm"], 18000, kind="split")
    contour(s, "rim", circle(centre, 54, 3, 13.5), 0, levels(0, -24.2, 4.1), tab_top=-19.5)
    s.tail()
    s.done(name="cut free", bit="flat-6", depth="through", max_pass="4.2 mm", tab_width="7 mm",
           tab_height="4.5 mm")  # fmt: skip
    return made


def plate() -> Shop:
    """An aluminium plate: pecked holes, counterbores, two slots, the outline."""
    made = shop("plate", "Motor plate", ("140 mm", "90 mm", "6 mm"), "front-left-top", "aluminium",
                ["drill-5", "drill-3", "alu-4", "flat-6"], into="2.4 mm")  # fmt: skip
    clamps(made, (140, 90), 25, 30, 8, 9)
    hand = Hand(places=3, trim=False, step=10, padded=True)
    corners = [(27.0, 17.0), (113.0, 17.0), (113.0, 73.0), (27.0, 73.0)]

    s = Scribe(made, hand, 16, 240, 240)
    s.head(["PLATE HOLES", "DRILL 5.0 MM"], 6000, kind="percent")
    s.cycle("hole", 83, corners, -8.2, 1.5, 240, Q=1.2)
    s.tail(kind="percent")
    s.done(name="holes", bit="drill-5", depth="through")

    s = Scribe(made, hand, 16, 520, 200)
    s.head(["PLATE COUNTERBORES AND SLOTS", "4 MM SINGLE FLUTE ALU"], 16000, kind="percent")
    for k, centre in enumerate(corners, 1):
        round_pocket(s, f"bore{k}", centre, 4.5, 4, 1.2, 0, [-1.2, -2.4], 0.3)
    slot(s, "slot1", (45, 33), (95, 33), 0, levels(0, -3, 0.5))
    slot(s, "slot2", (45, 57), (95, 57), 0, levels(0, -3, 0.5))
    s.tail(kind="percent")
    s.done(name="counterbores and slots", bit="alu-4", depth="3 mm", max_pass="1.4 mm",
           max_ramp_angle="3 deg", max_plunge_rate="300 mm/min")  # fmt: skip

    s = Scribe(made, hand, 16, 520, 200)
    s.head(["PLATE OUTLINE", "4 MM SINGLE FLUTE ALU"], 16000, kind="percent")
    path = rectangle((15, 5), (125, 85), 8, [(1, 0.5), (3, 0.5)], 9.5, 27)
    contour(s, "edge", path, 0, levels(0, -6.15, 0.55), tab_top=-4.8)
    s.tail(kind="percent")
    s.done(name="outline", bit="alu-4", depth="through", max_pass="0.6 mm", max_ramp_angle="3 deg",
           max_plunge_rate="300 mm/min", tab_width="5 mm", tab_height="1.2 mm")  # fmt: skip
    return made


def panel() -> Shop:
    """A front panel of acrylic: engraved lines, a round recess, two windows, the outline."""
    made = shop("panel", "Front panel", ("220 mm", "130 mm", "4.9 mm"), "back-left-top", "acrylic",
                ["single-4", "vee-60", "flat-3", "flat-6"],
                nominal_thickness="5 mm")  # fmt: skip
    clamps(made, (220, 130), 25, 40, 5, 8)
    hand = Hand(places=3, tight=True, radius=True)

    s = Scribe(made, hand, 14, 900, 300)
    s.head(["engraving", "60 degree v bit"], 18000)
    for k in range(11):
        x = 40.0 + 6 * k
        stroke(s, f"tick{k}", [(x, 100, -0.4), (x, 106 if k % 5 else 110, -0.4)])
    stroke(s, "line", [(40, 98, -0.4), (100, 98, -0.4)])
    s.tail()
    s.done(name="engraving", bit="vee-60", depth="0.4 mm")

    s = Scribe(made, hand, 14, 1600, 300)
    s.head(["knob recess and windows", "4 mm single flute"], 16000)
    round_pocket(s, "knob", (160, 95), 12, 4, 1.6, 0, [-1.2, -2.4], 0.4)
    for k, x in enumerate((30.0, 110.0), 1):
        path = rectangle((x + 2, 27), (x + 58, 73), 0, [(1, 0.5), (3, 0.5)], 8.2, 21)
        contour(s, f"window{k}", path, 0, levels(0, -5.1, 1.3), tab_top=-3.7)
    s.tail()
    s.done(name="recess and windows", bit="single-4", depth="through", max_pass="1.5 mm",
           max_ramp_angle="4 deg", tab_width="4 mm", tab_height="1.2 mm")  # fmt: skip

    s = Scribe(made, hand, 14, 1600, 300)
    s.head(["outline", "4 mm single flute"], 16000)
    path = rectangle((10, 10), (210, 120), 8, [(1, 0.5), (3, 0.5)], 8.2, 21)
    contour(s, "edge", path, 0, levels(0, -5.1, 1.3), tab_top=-3.7)
    s.tail()
    s.done(name="outline", bit="single-4", depth="through", max_pass="1.5 mm",
           max_ramp_angle="4 deg", tab_width="4 mm", tab_height="1.2 mm")  # fmt: skip
    return made


def inlay() -> Shop:
    """Seats for an inlay: roughed, walls and corners with a fine bit, a line around."""
    made = shop("inlay", "Box lid with inlay", ("190 mm", "130 mm", "16 mm"), "centre-top",
                "walnut", ["flat-6", "flat-2", "vee-90", "flat-3"])  # fmt: skip
    clamps(made, (190, 130), 25, 30, 5, 10)
    hand = Hand(places=3, lower=True, semicolon=True)

    s = Scribe(made, hand, 18, 2000, 600)
    s.head(["inlay seats, rough", "6 mm flat, 0.3 mm left on the walls"], 18000, kind="late")
    pocket(s, "field", (30.3, 30.3), (94.7, 99.7), 6, 2.6, 0, [-2, -4])
    round_pocket(s, "disc", (138, 65), 24.7, 6, 2.6, 0, [-2, -4])
    s.tail()
    s.done(name="rough", bit="flat-6", depth="4 mm", max_pass="2.5 mm")

    s = Scribe(made, hand, 18, 900, 300)
    s.head(["inlay seats, walls and corners", "2 mm flat"], 20000, kind="late")
    for k, z in enumerate((-1.4, -2.8, -4.0), 1):
        contour(s, f"wall{k}", rectangle((31, 31), (94, 99)), 0 if k == 1 else z + 1.4, [z])
        contour(s, f"round{k}", circle((138, 65), 24), 0 if k == 1 else z + 1.4, [z])
    s.tail()
    s.done(name="walls", bit="flat-2", depth="4 mm", max_pass="1.5 mm")

    s = Scribe(made, hand, 18, 1500, 400)
    s.head(["border", "90 deg vee"], 18000, kind="late")
    contour(s, "border", rectangle((18, 16), (172, 114)), 0, [-1])
    s.tail()
    s.done(name="border", bit="vee-90", depth="1 mm")
    return made


JOBS = (tray, number_sign, medallion, plate, panel, inlay)
