"""A hinged door, a house number in inches, a relief, an aluminium jig."""

from __future__ import annotations

import math

from tests.checks.heldout5.core import Shop
from tests.checks.heldout10.paths import bore, canned, cut_out, rounded
from tests.checks.heldout10.pen import Hand, Pen
from tests.checks.heldout10.shop import ball, bench, clamp, drill, flat, router, vee


def door() -> Shop:
    """The back of a cupboard door in MDF, zero on the bed: hinge cups, pilot holes, outline."""
    shop = Shop(
        "door",
        {
            "title": "Cupboard door, back",
            "units": "mm",
            "stock": {
                "size": ["420 mm", "260 mm", "19 mm"],
                "nominal_thickness": "19 mm",
                "zero": "front-left-bed",
                "material": "MDF",
                "spoilboard": "18 mm",
                "allow_into_spoilboard": "0.5 mm",
            },
            "machine": router(["120 mm", "90 mm", "-118 mm"]),
            "clamps": [
                clamp("left clamp", -50, 110, 6, 150, 16),
                clamp("right clamp", 414, 110, 470, 150, 16),
            ],
            "bits": {
                "flat-8": flat(8, 28, 42),
                "flat-6": flat(6, 22, 36),
                "drill-2.5": drill(2.5, 22, 36),
                "drill-5": drill(5, 40, 50),
            },
        },
    )
    hand = Hand(step=10, padded=True)
    pen = Pen(hand, shop.zero())
    pen.say("CUPBOARD DOOR - BACK")
    pen.head(["TOOL 8 MM FLAT END MILL", "HINGE CUPS 35 X 12.5 DEEP"], rpm=18000, high=24)
    levels = [-2.5, -5.0, -7.5, -10.0, -12.5]
    for k, y in enumerate((70.0, 190.0)):
        bore(pen, (42.5, y), [2.0, 7.5, 13.5], levels, 3000, 2, 24, f"cup{k}")
    pen.tail(24)
    shop.add(pen.lines, name="hinge cups", bit="flat-8", depth="12.5 mm", max_pass="3 mm")

    pen = Pen(hand, shop.zero())
    pen.head(["DRILL 2.5 MM", "PILOT HOLES"], rpm=12000, high=24)
    points = [(52.0, y + s) for y in (70.0, 190.0) for s in (-22.5, 22.5)]
    canned(pen, ["G98", "G83", "Q3.000"], points, -10, 2, 400, "pilot")
    pen.tail(24)
    shop.add(pen.lines, name="pilot holes", bit="drill-2.5", depth="10 mm")

    pen = Pen(Hand(step=10, padded=True, radius=True), shop.zero())
    pen.head(["TOOL 8 MM FLAT END MILL", "OUTLINE WITH 4 TABS"], rpm=18000, high=24)
    cut_out(pen, (16, 16, 404, 244), 12, [-5, -10, -15, -19.2], -15, 18, 4200, 2, 24)
    pen.tail(24)
    shop.add(
        pen.lines,
        name="outline",
        bit="flat-8",
        depth="through",
        max_pass="6 mm",
        tab_width="9 mm",
        tab_height="3.5 mm",
    )
    return shop


#: Strokes of a 4 and a 7 in inches from the plate's centre.
FOUR = [[(-1.0, 1.2), (-2.2, -0.4), (-0.6, -0.4)], [(-1.0, 0.3), (-1.0, -1.2)]]
SEVEN = [[(0.6, 1.2), (2.2, 1.2), (1.2, -1.2)], [(0.8, 0.0), (2.0, 0.0)]]


def number_plate() -> Shop:
    """A house number in oak, in inches, zero in the centre: vee strokes, a cove, holes, outline."""
    inch = 25.4
    shop = Shop(
        "number",
        {
            "title": "House number",
            "units": "in",
            "stock": {
                "size": ["10 in", "6 in", "0.75 in"],
                "nominal_thickness": "0.75 in",
                "zero": "centre-top",
                "material": "oak",
                "spoilboard": "0.75 in",
                "allow_into_spoilboard": "0.09 in",
            },
            "machine": bench(["8 in", "7 in", "-2.4 in"]),
            "clamps": [
                clamp("left clamp", -6.5 * inch, -0.6 * inch, -4.7 * inch, 0.6 * inch, 12),
                clamp("right clamp", 4.7 * inch, -0.6 * inch, 6.5 * inch, 0.6 * inch, 12),
            ],
            "bits": {
                "vee-60": vee(60, 12.7, 11, 30),
                "vee-90": vee(90, 12.7, 6.35, 30),
                "ball-quarter": ball(6.35, 20, 32),
                "ball-eighth": ball(3.175, 12, 32),
                "drill-three-sixteenths": drill(4.7625, 35, 45),
                "flat-quarter": flat(6.35, 22.2, 35),
                "flat-eighth": flat(3.175, 12.7, 30, 6.35),
            },
        },
    )
    hand = Hand(inch=True, places=4, semicolon=True)
    zero = shop.zero()
    cx, cy = zero[0], zero[1]
    pen = Pen(hand, zero)
    pen.head(["house number 47", "tool: 60 deg vee bit, 1/2 in"], rpm=18000, high=20)
    for n, stroke in enumerate(FOUR + SEVEN):
        x, y = stroke[0]
        pen.rapid(cx + x * inch, cy + y * inch, m=f"stroke{n} over")
        pen.rapid(z=2.54, m=f"stroke{n} near")
        pen.cut(z=-0.13 * inch, f=500, m=f"stroke{n} down")
        for k, (x, y) in enumerate(stroke[1:]):
            pen.cut(cx + x * inch, cy + y * inch, f=1500, m=f"stroke{n} to{k}")
        pen.rapid(z=6.35, m=f"stroke{n} up")
    pen.tail(20, "M2")
    shop.add(pen.lines, name="numerals", bit="vee-60", depth="0.13 in", max_plunge_rate="25 in/min")

    pen = Pen(hand, zero)
    pen.head(["cove round the edge", "tool: 1/4 in ball nose"], rpm=16000, high=20)
    box = (cx - 3.8 * inch, cy - 1.8 * inch, cx + 3.8 * inch, cy + 1.8 * inch)
    pen.rapid(box[0], box[1] + 0.5 * inch, m="cove over")
    pen.rapid(z=2.54, m="cove near")
    for k, z in enumerate((-0.05, -0.1)):
        pen.cut(z=z * inch, f=400, m=f"cove{k} down")
        rounded(pen, box, 0.5 * inch, 1800, f"cove{k}")
    pen.rapid(z=6.35, m="cove up")
    pen.tail(20, "M2")
    shop.add(
        pen.lines, name="cove", bit="ball-quarter", depth="0.1 in", max_plunge_rate="25 in/min"
    )

    pen = Pen(hand, zero)
    pen.head(["screw holes", "tool: 3/16 in drill"], rpm=10000, high=20)
    points = [(cx + x * inch, cy + y * inch) for x in (-3.3, 3.3) for y in (-1.2, 1.2)]
    canned(pen, ["G99", "G83", "Q0.2"], points, -0.82 * inch, 0.1 * inch, 380, "screw")
    pen.tail(20, "M2")
    shop.add(pen.lines, name="screw holes", bit="drill-three-sixteenths", depth="through")

    pen = Pen(hand, zero)
    pen.head(["cut out", "tool: 1/4 in flat end mill, 2 flutes"], rpm=18000, high=20)
    box = (cx - 4.225 * inch, cy - 2.225 * inch, cx + 4.225 * inch, cy + 2.225 * inch)
    levels = [z * inch for z in (-0.16, -0.32, -0.48, -0.64, -0.76)]
    cut_out(pen, box, 0.6 * inch, levels, -0.64 * inch, 0.6 * inch, 2000, 2.54, 20)
    pen.tail(20, "M2")
    shop.add(pen.lines, name="cut out", bit="flat-quarter", depth="through", max_pass="0.2 in")
    return shop


def height(x: float, y: float) -> float:
    """The relief: a shell with ribs, mm below the top, from its centre."""
    r = math.hypot(x / 38, y / 28)
    rib = 0.5 * math.cos(9 * math.atan2(y + 26, x)) * max(0.0, 1 - r)
    return -8.0 + 6.0 * max(0.0, 1 - r * r) ** 0.8 + rib - 0.5 * max(0.0, 1 - r)


def lowest(x: float, y: float, radius: float, is_ball: bool, spare: float) -> float:
    """How low the tip may go at a place without cutting into the relief."""
    best = -1e9
    count = 4
    for i in range(-count, count + 1):
        for j in range(-count, count + 1):
            dx, dy = radius * i / count, radius * j / count
            away = math.hypot(dx, dy)
            if away <= radius + 1e-9:
                up = math.sqrt(max(0.0, radius * radius - away * away)) - radius if is_ball else 0.0
                best = max(best, height(x + dx, y + dy) + up)
    return best + spare


def shell() -> Shop:
    """A relief in maple, roughed in levels and finished with a ball."""
    shop = Shop(
        "shell",
        {
            "title": "Shell",
            "units": "mm",
            "stock": {
                "size": ["140 mm", "110 mm", "24 mm"],
                "zero": "centre-top",
                "material": "maple",
                "spoilboard": "12 mm",
                "allow_into_spoilboard": "0.5 mm",
            },
            "machine": router(["300 mm", "250 mm", "-95 mm"]),
            "clamps": [
                clamp("left clamp", -110, -15, -62, 15, 12),
                clamp("right clamp", 62, -15, 110, 15, 12),
            ],
            "bits": {
                "flat-6": flat(6, 28, 40),
                "flat-10": flat(10, 32, 42),
                "ball-6": ball(6, 22, 40),
                "ball-3": ball(3, 12, 40),
            },
        },
    )
    zero = shop.zero()
    cx, cy = zero[0], zero[1]
    dense = Hand(spaced=False, bare=True)
    pen = Pen(dense, zero)
    pen.raw("%", "percent")
    pen.head(["SHELL ROUGH", "T1 FLAT 6MM", "LEAVE 0.5MM"], rpm=18000, high=20)
    ys = [-30 + 3.0 * k for k in range(21)]
    for level, z in enumerate((-2.5, -5.0, -7.5)):
        for n, y in enumerate(ys):
            free = []
            x = -40.0
            while x <= 40.0 + 1e-9:
                if lowest(x, y, 3.0, False, 0.5) <= z:
                    if free and abs(free[-1][1] - (x - 0.5)) < 1e-9:
                        free[-1][1] = x
                    else:
                        free.append([x, x])
                x += 0.5
            for k, (a, b) in enumerate(free):
                if b - a < 2:
                    continue
                name = f"rough{level}-{n}-{k}"
                pen.rapid(cx + a, cy + y, m=f"{name} over")
                pen.rapid(z=1, m=f"{name} near")
                pen.cut(z=z, f=700, m=f"{name} down")
                pen.cut(cx + b, f=2600, m=f"{name} row")
                pen.rapid(z=5, m=f"{name} up")
    pen.tail(20)
    pen.raw("%", "percent end")
    shop.add(pen.lines, name="rough", bit="flat-6", depth="7.5 mm", max_pass="3 mm")

    pen = Pen(dense, zero)
    pen.raw("%", "percent")
    pen.head(["SHELL FINISH", "T2 BALL 6MM"], rpm=20000, high=20)
    count = 72
    for n in range(count + 1):
        y = -28.8 + 0.8 * n
        xs = [-38.4 + 1.2 * k for k in range(65)]
        if n % 2:
            xs.reverse()
        for k, x in enumerate(xs):
            z = lowest(x, y, 3.0, True, 0.0)
            if n == 0 and k == 0:
                pen.rapid(cx + x, cy + y, m="finish over")
                pen.rapid(z=2, m="finish near")
                pen.cut(z=z, f=600, m="finish down")
            else:
                pen.cut(cx + x, cy + y, z, f=3000, m=f"finish{n}-{k}")
    pen.rapid(z=20, m="finish up")
    pen.tail(20)
    pen.raw("%", "percent end")
    shop.add(pen.lines, name="finish", bit="ball-6", depth="8 mm")

    pen = Pen(dense, zero)
    pen.raw("%", "percent")
    pen.head(["SHELL CUT OUT", "T1 FLAT 6MM"], rpm=18000, high=20)
    box = (cx - 48.0, cy - 40.0, cx + 48.0, cy + 40.0)
    levels = [-4.0, -8.0, -12.0, -16.0, -20.0, -24.2]
    cut_out(pen, box, 15, levels, -20, 16, 2400, 2, 20)
    pen.tail(20)
    pen.raw("%", "percent end")
    shop.add(pen.lines, name="cut out", bit="flat-6", depth="through", max_pass="4.5 mm")
    return shop


def jig() -> Shop:
    """A drilling jig in aluminium: spotted, drilled, counterbored by a subprogram, slotted."""
    shop = Shop(
        "jig",
        {
            "title": "Drilling jig",
            "units": "mm",
            "stock": {
                "size": ["160 mm", "100 mm", "8 mm"],
                "zero": "front-left-top",
                "material": "aluminium",
                "spoilboard": "12 mm",
                "allow_into_spoilboard": "2 mm",
            },
            "machine": router(["200 mm", "150 mm", "-90 mm"]),
            "clamps": [
                clamp("left vise", -30, 30, 6, 70, 10),
                clamp("right vise", 154, 30, 190, 70, 10),
            ],
            "bits": {
                "spot": drill(6, 12, 35, 90),
                "drill-5": drill(5, 35, 45),
                "drill-6": drill(6, 40, 50),
                "flat-6": flat(6, 16, 32, flutes=1),
                "flat-4": flat(4, 12, 30, 6, flutes=1),
            },
        },
    )
    zero = shop.zero()
    hand = Hand(places=2, repeat=True)
    holes = [(20.0 + 40 * k, y) for y in (20.0, 80.0) for k in range(4)]
    pen = Pen(hand, zero)
    pen.head(["drilling jig, spot all holes", "90 deg spot drill 6 mm"], rpm=8000, high=25)
    canned(pen, ["G98", "G82", "P0.3"], holes, -1.5, 3, 200, "spot")
    pen.tail(25)
    shop.add(pen.lines, name="spot", bit="spot", depth="1.5 mm")

    pen = Pen(hand, zero)
    pen.head(["drill through, 5 mm drill"], rpm=8000, high=25)
    canned(pen, ["G98", "G83", "Q2"], holes, -9.7, 3, 240, "hole")
    pen.tail(25)
    shop.add(pen.lines, name="drill", bit="drill-5", depth="through")

    pen = Pen(hand, zero)
    pen.head(["counterbores 10 mm, 4 deep", "end mill 6 mm, one flute"], rpm=16000, high=25)
    for k, (x, y) in enumerate(holes):
        pen.rapid(x + 2, y, m=f"sink{k} over")
        pen.rapid(z=1, m=f"sink{k} near")
        pen.cut(z=0, f=150, m=f"sink{k} touch")
        pen.words("M98", "P50", "L8", m=f"sink{k} call")
        pen.words("G3", "I-2", "J0", m=f"sink{k} floor")
        pen.words("G1", pen_x(x), m=f"sink{k} in")
        pen.code, pen.feed_word = "", ""
        pen.at["X"], pen.at["Z"] = pen.length(x), -4.0
        pen.rapid(z=5, m=f"sink{k} up")
    pen.tail(25)
    pen.raw("O50", "sub")
    pen.words("G91", m="sub relative")
    pen.words("G3", "I-2", "J0", "Z-0.5", "F500", m="sub turn")
    pen.words("G90", m="sub absolute")
    pen.words("M99", m="sub end")
    shop.add(pen.lines, name="counterbores", bit="flat-6", depth="4 mm", max_pass="0.6 mm")

    pen = Pen(hand, zero)
    pen.head(["two slots 6 wide, through", "end mill 6 mm, one flute"], rpm=16000, high=25)
    for k, y in enumerate((42.0, 58.0)):
        pen.rapid(40, y, m=f"slot{k} over")
        pen.rapid(z=1, m=f"slot{k} near")
        pen.cut(z=0, f=150, m=f"slot{k} touch")
        for n in range(12):
            z = -min(8.3, 0.7 * (n + 1))
            pen.cut(120 if n % 2 == 0 else 40, z=z, f=600, m=f"slot{k} pass{n}")
        pen.cut(120, m=f"slot{k} last")
        pen.rapid(z=5, m=f"slot{k} up")
    pen.tail(25)
    shop.add(pen.lines, name="slots", bit="flat-6", depth="through", max_pass="1.6 mm")
    return shop


def pen_x(x: float) -> str:
    return f"X{x:g}"


JOBS = (door, number_plate, shell, jig)
