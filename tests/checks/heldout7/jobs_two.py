"""Six jobs: a clock wheel, a sign, two jigs on one sheet, a stand, a soap dish, its underside."""

from __future__ import annotations

import math

from tests.checks.heldout5.core import Shop
from tests.checks.heldout7.paths import (
    bore,
    drill,
    levels,
    outline,
    pocket,
    ring,
    rounded,
    settle,
    slot,
    stepped_bore,
    stroke,
)  # fmt: skip
from tests.checks.heldout7.pen import Habit, Pen
from tests.checks.heldout7.shopfloor import INCH_BITS, clamp, polygon, shop

PLAIN = Habit()


def wheel() -> Shop:
    """A wheel of a wooden clock: bore, screw holes, five windows, teeth in short lines."""
    made = shop("wheel", "Clock wheel", ("200 mm", "200 mm", "9 mm"), "centre-bed",
                "birch plywood", nominal="9 mm")  # fmt: skip
    for k, (x, y) in enumerate(((-20, -20), (185, -20), (185, 185), (-20, 185)), 1):
        clamp(made, f"corner {k}", (x, y), (x + 35, y + 35), 10)
    habit = Habit(tight=True, places=3)
    centre = (100.0, 100.0)

    pen = Pen(made, habit, safe=15)
    pen.begin(["bore and holes, 3 mm end mill"], 18000)
    stepped_bore(pen, "bore", centre, 5, 3, levels(0, -9.2, 1.6), 1.2, 1500, 400, 0.8)
    for k, hole in enumerate(polygon(centre, 14, 5, math.pi / 10), 1):
        bore(pen, f"pin{k}", hole, 2, 3, -9.2, 0.8, 1.2, 1500, 400)
    pen.end()
    pen.done(name="bore", bit="flat-3", depth="through", max_pass="1.6 mm")

    pen = Pen(made, habit, safe=15)
    pen.begin(["windows, 3 mm end mill"], 18000)
    for k, middle in enumerate(polygon(centre, 42, 5, math.pi / 2), 1):
        a = math.pi / 2 + 2 * math.pi * (k - 1) / 5
        corners = [
            (middle[0] + u * math.cos(a) - v * math.sin(a),
             middle[1] + u * math.sin(a) + v * math.cos(a))
            for u, v in ((-17, 6), (-17, -6), (15, -18), (15, 18))
        ]  # fmt: skip
        pieces = [(c, None) for c in (corners[1], corners[2], corners[3], corners[0])]
        outline(pen, f"win{k}", pieces, levels(0, -9.2, 1.5), 1500, 400, [(1, 0.5), (3, 0.5)],
                (8, -6.5))  # fmt: skip
    pen.end()
    pen.done(name="windows", bit="flat-3", depth="through", max_pass="1.6 mm", tab_width="4 mm",
             tab_height="2 mm")  # fmt: skip

    pen = Pen(made, habit, safe=15)
    pen.begin(["teeth, 3 mm end mill"], 18000)
    start = _tooth(0)
    settle(pen, "teeth", start, 0, 400)
    for k, z in enumerate(levels(0, -9.2, 1.5), 1):
        for j in range(1, 241):
            x, y = _tooth(j)
            # the ramp takes the first tooth; tabs of six lines on every sixtieth
            down = z if j >= 6 else z + levels(0, -9.2, 1.5)[0] * (j / 6 - 1)
            if z < -6.6 and j % 60 in range(27, 34):
                down = -6.5
            mark = f"teeth.l{k}.tab" if z < -6.6 and j % 60 in range(27, 34) else f"teeth.l{k}"
            pen.cut(mark, x, y, down, feed=1400 if j >= 6 else 700)
    for j in range(1, 7):
        pen.cut("teeth.last", *_tooth(j), -9.2, feed=1400)
    pen.up("teeth")
    pen.end()
    pen.done(name="teeth", bit="flat-3", depth="through", max_pass="1.6 mm", tab_width="4 mm",
             tab_height="2 mm")  # fmt: skip
    return made


def _tooth(j: int) -> tuple[float, float]:
    """The path round the wheel: 40 waves of six points each."""
    a = 2 * math.pi * j / 240
    r = 78 + 3 * math.cos(40 * a)
    return (100 + r * math.cos(a), 100 + r * math.sin(a))


#: Letters as strokes on a grid 4 wide and 6 high, each stroke from corner to corner.
LETTERS = {
    "L": [[(0, 6), (0, 0), (3, 0)]],
    "I": [[(1, 0), (1, 6)]],
    "N": [[(0, 0), (0, 6), (3, 0), (3, 6)]],
    "D": [[(0, 0), (0, 6), (2, 6), (3, 4), (3, 2), (2, 0), (0, 0)]],
    "E": [[(3, 0), (0, 0), (0, 6), (3, 6)], [(0, 3), (2, 3)]],
}


def sign() -> Shop:
    """A sign: a sunk panel cleared, its edge bevelled, letters in it, two holes for screws."""
    made = shop("sign", "House sign", ("360 mm", "130 mm", "20 mm"), "front-left-top", "oak")
    clamp(made, "left", (-30, 45), (8, 85), 10)
    clamp(made, "right", (352, 45), (390, 85), 10)
    habit = Habit(semicolon=True, places=3)

    pen = Pen(made, habit, safe=15)
    pen.begin(["tool 6 mm flat end mill", "sunk panel 2 mm"], 16000)
    pocket(pen, "panel", (25, 20), (335, 110), [-2.0], 6, 2.7, 2600, 500)
    pen.end((0.0, 120.0))
    pen.done(name="sunk panel", bit="flat-6", depth="2 mm", max_pass="2.5 mm")

    pen = Pen(made, habit, safe=15)
    pen.begin(["tool 90 degree vee 12 mm", "bevel of the panel"], 16000)
    pieces = rounded((25, 20), (335, 110), 0)
    settle(pen, "bevel", pieces[-1][0], -2.0, 400)
    for end, _ in pieces:
        pen.cut("bevel", *end, feed=1800)
    pen.up("bevel")
    pen.end((0.0, 120.0))
    pen.done(name="bevel", bit="vee-90", depth="2 mm")

    pen = Pen(made, habit, safe=15)
    pen.begin(["tool 60 degree vee 10 mm", "letters"], 18000)
    for k, letter in enumerate("LINDE", 1):
        x0, y0 = 65 + 48.0 * (k - 1), 43.0
        for j, points in enumerate(LETTERS[letter], 1):
            line = [(x0 + 10 * u, y0 + 7.3 * v, -4.5) for u, v in points]
            stroke(pen, f"{letter.lower()}{j}", line, 1600, 400)
    pen.end((0.0, 120.0))
    pen.done(name="letters", bit="vee-60", depth="4.5 mm")

    pen = Pen(made, habit, safe=15)
    pen.begin(["tool drill 5 mm", "screw holes"], 8000)
    drill(pen, "screw", [(14.0, 20.0), (346.0, 20.0), (346.0, 110.0), (14.0, 110.0)], -21.8, 300, 5)
    pen.end((0.0, 120.0))
    pen.done(name="screw holes", bit="drill-5", depth="through")
    made.table["stock"]["allow_into_spoilboard"] = "2 mm"
    return made


def jigs() -> Shop:
    """Two equal jigs from one sheet of HDPE: the second at G55, 150 mm to the right."""
    made = shop(
        "jigs", "Two drilling jigs", ("310 mm", "130 mm", "12 mm"), "front-left-top", "HDPE"
    )
    clamp(made, "front", (140, -30), (170, 6), 12)
    clamp(made, "back", (140, 124), (170, 160), 12)
    offsets = {"G55": ["150 mm", "0 mm", "0 mm"]}
    habit = Habit(places=3)

    def twice(pen: Pen, name: str, work: str) -> None:
        for k, word in enumerate(("G54", "G55"), 1):
            pen.block(word, f"{name}{k}.offset")
            pen.at[0] = pen.at[1] = None
            _jig(pen, f"{name}{k}", work)

    pen = Pen(made, habit, safe=18)
    pen.begin(["guide holes, drill 5 mm"], 7000)
    twice(pen, "d", "drill")
    pen.block("G54", "back")
    pen.end((0.0, 125.0))
    pen.done(name="guide holes", bit="drill-5", depth="10 mm", offsets=offsets)

    pen = Pen(made, habit, safe=18)
    pen.begin(["slots, 6 mm"], 12000)
    twice(pen, "s", "slots")
    pen.block("G54", "back")
    pen.end((0.0, 125.0))
    pen.done(name="slots", bit="flat-6", depth="7 mm", max_pass="3 mm", offsets=offsets)

    pen = Pen(made, habit, safe=18)
    pen.begin(["outlines, 6 mm"], 12000)
    twice(pen, "o", "outline")
    pen.block("G54", "back")
    pen.end((0.0, 125.0))
    pen.done(name="outlines", bit="flat-6", depth="through", max_pass="2.5 mm", offsets=offsets,
             tab_width="4 mm", tab_height="2 mm")  # fmt: skip
    return made


def _jig(pen: Pen, name: str, work: str) -> None:
    if work == "drill":
        holes = [(30.0 + 32 * k, y) for k in range(3) for y in (25.0, 105.0)]
        drill(pen, name, holes, -10, 350, 4)
    elif work == "slots":
        slot(pen, name + "a", (30, 50), (94, 50), levels(0, -7, 1.4), 1800, 400)
        slot(pen, name + "b", (30, 80), (94, 80), levels(0, -7, 1.4), 1800, 400)
    else:
        pieces = rounded((9, 12), (131, 118), 8)
        outline(pen, name, pieces, levels(0, -12.2, 2.1), 1800, 400, [(2, 0.3), (6, 0.7)],
                (11, -9.5))  # fmt: skip


def stand() -> Shop:
    """A stand of plywood in inches, zero on the bed: joint slots with the small bit, then parts."""
    made = shop("stand", "Tablet stand", ("12 in", "8 in", "0.46 in"), "front-left-bed",
                "plywood", units="in", rack=INCH_BITS, board="0.5 in", into="0.02 in",
                nominal="0.46 in")  # fmt: skip
    inch = 25.4
    clamp(made, "left", (-30, 80), (7, 120), 14)
    clamp(made, "right", (297.8, 80), (334, 120), 14)
    habit = Habit(inch=True, places=4)
    thick = -0.46 * inch

    pen = Pen(made, habit, safe=0.8 * inch)
    pen.begin(["Joint slots", "End mill 1/8 in"], 18000)
    for k, (x, y) in enumerate(((1.6, 2.0), (1.6, 5.0), (7.6, 2.0), (7.6, 5.0)), 1):
        low, high = (x * inch, y * inch), ((x + 1.5) * inch, (y + 0.46) * inch)
        pocket(pen, f"joint{k}", low, high, levels(0, -0.23 * inch, 0.08 * inch), 0.125 * inch,
               0.055 * inch, 60 * inch, 15 * inch)  # fmt: skip
        (x0, y0), (x1, y1) = low, high
        for j, (u, v) in enumerate(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), 1):
            # a relief in each corner, so that the square tongue goes in
            r = 0.0625 * inch
            inner = (u + math.copysign(r, high[0] + low[0] - 2 * u),
                     v + math.copysign(r, high[1] + low[1] - 2 * v))  # fmt: skip
            outer = (inner[0] + (u - inner[0]) * 0.3, inner[1] + (v - inner[1]) * 0.3)
            settle(pen, f"joint{k}.c{j}", inner, 0.0, 15 * inch)
            for z in levels(0, -0.23 * inch, 0.08 * inch):
                pen.cut(f"joint{k}.c{j}.in", z=z, feed=15 * inch)
                pen.cut(f"joint{k}.c{j}.out", *outer, feed=30 * inch)
                pen.cut(f"joint{k}.c{j}.in", *inner)
            pen.up(f"joint{k}.c{j}")
    pen.end()
    pen.done(name="joint slots", bit="end-1-8", depth="0.23 in", max_pass="0.09 in")

    pen = Pen(made, habit, safe=0.8 * inch)
    pen.begin(["Parts", "End mill 1/4 in"], 16000)
    for k, x in enumerate((0.5, 6.5), 1):
        low, high = (x * inch, 0.6 * inch), ((x + 5.0) * inch, 7.4 * inch)
        outline(pen, f"part{k}", rounded(low, high, 0.5 * inch), levels(0, thick - 0.01 * inch,
                0.12 * inch), 90 * inch, 20 * inch, [(2, 0.5), (4, 0.5), (6, 0.5)],
                (0.5 * inch, thick + 0.1 * inch))  # fmt: skip
    pen.end()
    pen.done(name="parts", bit="end-1-4", depth="through", max_pass="0.13 in", tab_width="0.2 in",
             tab_height="0.08 in")  # fmt: skip
    return made


def soap() -> Shop:
    """A soap dish, top side: a hollow, drain grooves by a ball, drain holes, a bevelled edge."""
    made = shop("soap", "Soap dish, top", ("140 mm", "100 mm", "22 mm"), "centre-top", "cedar")
    clamp(made, "left stop", (-30, 20), (0, 80), 0.0)
    clamp(made, "right cam", (140, 20), (170, 80), 0.0)
    habit = Habit(modal=False, places=3)

    pen = Pen(made, habit, safe=8)
    pen.begin(["6mm upcut end mill", "hollow"], 15000)
    pocket(pen, "hollow", (18, 18), (122, 82), levels(0, -9, 3), 6, 2.6, 2400, 600)
    pen.end()
    pen.done(name="hollow", bit="flat-6", depth="9 mm", max_pass="3.2 mm")

    pen = Pen(made, habit, safe=8)
    pen.begin(["8mm ball nose", "drain grooves"], 15000)
    for k in range(5):
        y = 30.0 + 10 * k
        stroke(pen, f"drain{k + 1}", [(30, y, -9), (70, y, -11.5), (110, y, -9)], 1800, 500)
    pen.end()
    pen.done(name="drain grooves", bit="ball-8", depth="11.5 mm")

    pen = Pen(made, habit, safe=8)
    pen.begin(["5mm drill", "drain holes"], 8000)
    drill(pen, "hole", [(70.0, 30.0 + 10 * k) for k in range(5)], -22.3, 300, 6)
    pen.end()
    pen.done(name="drain holes", bit="drill-5", depth="through")

    pen = Pen(made, habit, safe=8)
    pen.begin(["90deg v bit 12mm", "edge of the hollow"], 15000)
    edge = rounded((17, 17), (123, 83), 4)
    settle(pen, "edge", edge[-1][0], -2.0, 400)
    for end, centre in edge:
        if centre is None:
            pen.cut("edge", *end, feed=1500)
        else:
            pen.arc("edge", 1, end, centre, feed=1500)
    pen.up("edge")
    pen.end()
    pen.done(name="edge", bit="vee-90", depth="2 mm")
    return made


def under() -> Shop:
    """The same dish's other side, turned over: faced, four feet left standing, a mark."""
    made = shop("under", "Soap dish, underside", ("140 mm", "100 mm", "22 mm"), "centre-top",
                "cedar", clamps=[])  # fmt: skip
    habit = Habit(modal=False, places=2, step=5)

    pen = Pen(made, habit, safe=8)
    pen.begin(["22mm facing bit", "facing 0.8 mm"], 12000)
    pen.over(-14, 4, "face")
    pen.down(2.0, "face")
    pen.cut("face.down", z=-0.8, feed=500)
    for k in range(8):
        y = 4.0 + 13.5 * k
        ends = (-14.0, 154.0) if k % 2 == 0 else (154.0, -14.0)
        pen.cut("face.row", ends[0], y, feed=2500)
        pen.cut("face.row", ends[1], y, feed=2500)
    pen.up("face")
    pen.end()
    pen.done(name="facing", bit="facer-22", depth="0.8 mm", max_pass="1 mm")

    pen = Pen(made, habit, safe=8)
    pen.begin(["6mm end mill", "ground between the feet"], 15000)
    levels_ = levels(-0.8, -4.8, 2)
    pocket(pen, "long", (-8, 30), (148, 70), levels_, 6, 2.6, 2400, 600, -0.8)
    pocket(pen, "front", (30, -8), (110, 34), levels_, 6, 2.6, 2400, 600, -0.8)
    pocket(pen, "rear", (30, 66), (110, 108), levels_, 6, 2.6, 2400, 600, -0.8)
    pen.end()
    pen.done(name="ground", bit="flat-6", depth="4.8 mm", max_pass="2.2 mm")

    pen = Pen(made, habit, safe=8)
    pen.begin(["60deg v bit 10mm", "year"], 16000)
    for k, x in enumerate((60.0, 70.0, 80.0), 1):
        stroke(pen, f"year{k}", [(x, 44, -5.6), (x + 3, 56, -5.6)], 1500, 400)
    ring(pen, "sun", (70.0, 50.0), 18.0, (-5.6,), 1500, 400)
    pen.end()
    pen.done(name="year", bit="vee-60", depth="5.6 mm")
    return made


JOBS = (wheel, sign, jigs, stand, soap, under)
