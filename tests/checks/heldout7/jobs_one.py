"""Six jobs: a peg board, an aluminium plate, a cutting board, coasters, a dish, a cabinet door."""

from __future__ import annotations

import math

from tests.checks.heldout5.core import Shop
from tests.checks.heldout7.paths import (
    drill,
    levels,
    outline,
    pecked,
    pocket,
    ring,
    rounded,
    settle,
    slot,
    stepped_bore,
    stroke,
)  # fmt: skip
from tests.checks.heldout7.pen import Habit, Pen
from tests.checks.heldout7.shopfloor import INCH_BITS, clamp, shop

PLAIN = Habit()


def pegs() -> Shop:
    """A board for a counting game: rows of blind holes, a box for the pegs, a line, the outline."""
    made = shop("pegs", "Peg board", ("330 mm", "95 mm", "19 mm"), "front-left-top", "maple")
    clamp(made, "left", (-30, 30), (6, 65), 15)
    clamp(made, "right", (324, 30), (360, 65), 15)
    habit = Habit(padded=True, modal=False, places=3)

    pen = Pen(made, habit, safe=20)
    pen.begin(["peg holes", "drill 3 mm"], 9000)
    holes = [(30.0 + 9 * k, y) for y in (26.0, 34.0, 61.0, 69.0) for k in range(30)]
    drill(pen, "hole", holes, -10, 300, peck=3)
    pen.end((0.0, 90.0))
    pen.done(name="peg holes", bit="drill-3", depth="10 mm")

    pen = Pen(made, habit, safe=20)
    pen.begin(["peg box", "end mill 6 mm 2 flutes"], 16000)
    pocket(pen, "box", (230, 42), (300, 54), levels(0, -12, 3), 6, 2.5, 2200, 500)
    pen.end((0.0, 90.0))
    pen.done(name="peg box", bit="flat-6", depth="12 mm", max_pass="3 mm", max_plunge_rate=
             "600 mm/min")  # fmt: skip

    pen = Pen(made, habit, safe=20)
    pen.begin(["lines between the rows", "vee bit 60 deg"], 18000)
    for k, y in enumerate((20.0, 75.0), 1):
        stroke(pen, f"line{k}", [(25, y, -1.2), (296, y, -1.2)], 1800, 400)
    for k in range(5):
        x = 34.5 + 45 * (k + 1)
        for j, y in enumerate((30.0, 65.0)):
            stroke(pen, f"tick{k}{j}", [(x, y - 7, -0.8), (x, y + 7, -0.8)], 1800, 400)
    pen.end((0.0, 90.0))
    pen.done(name="lines", bit="vee-60", depth="1.2 mm")

    pen = Pen(made, habit, safe=20)
    pen.begin(["outline", "end mill 6 mm 2 flutes"], 16000)
    pieces = rounded((12, 9), (318, 86), 12)
    tabs = [(2, 0.5), (4, 0.2), (4, 0.8), (6, 0.5)]
    outline(pen, "out", pieces, levels(0, -19.3, 3.3), 2000, 500, tabs, (12, -15.5))
    pen.end((0.0, 90.0))
    pen.done(name="outline", bit="flat-6", depth="through", max_pass="3.5 mm", tab_width="5 mm",
             tab_height="3 mm", max_plunge_rate="600 mm/min")  # fmt: skip
    return made


def plate() -> Shop:
    """A plate of soft aluminium held by a washer in its middle: holes, a recess, the outline."""
    made = shop("plate", "Sensor plate", ("160 mm", "100 mm", "4 mm"), "centre-top", "aluminium")
    clamp(made, "washer", (70, 42), (90, 58), 6)
    made.table["stock"]["allow_into_spoilboard"] = "1.5 mm"
    habit = Habit(places=4)

    pen = Pen(made, habit, safe=12)
    pen.begin(["HOLES M3 CLEARANCE", "T3 DRILL D3"], 8000)
    pecked(pen, "hole", [(20, 15), (140, 15), (140, 85), (20, 85)], (-1.5, -3, -5.2), 120)
    pen.end()
    pen.done(name="holes", bit="drill-3", depth="through")

    pen = Pen(made, habit, safe=12)
    pen.begin(["RECESS", "T4 FLAT D4 1 FLUTE"], 16000)
    pocket(pen, "recess", (30, 25), (60, 75), levels(0, -1.6, 0.4), 4, 1.6, 900, 150)
    stepped_bore(pen, "eye", (115, 50), 9, 4, levels(0, -1.2, 0.4), 1.6, 900, 150, 0.2)
    pen.end()
    pen.done(name="recess", bit="single-4", depth="1.6 mm", max_pass="0.5 mm",
             max_ramp_angle="4 deg")  # fmt: skip

    pen = Pen(made, habit, safe=12)
    pen.begin(["OUTLINE", "T4 FLAT D4 1 FLUTE"], 16000)
    pieces = rounded((8, 4), (152, 96), 8)
    outline(pen, "out", pieces, levels(0, -4.2, 0.42), 900, 150)
    pen.end()
    pen.done(name="outline", bit="single-4", depth="through", max_pass="0.5 mm",
             max_ramp_angle="4 deg")  # fmt: skip
    return made


def board() -> Shop:
    """A cutting board in inches: juice groove, finger hollows, bevelled edge."""
    made = shop("board", "Cutting board", ("16 in", "10 in", "1.25 in"), "front-left-top", "oak",
                units="in", rack=INCH_BITS, board="0.5 in", into="0.02 in")  # fmt: skip
    clamp(made, "left", (-30, 100), (4, 150), 0)
    clamp(made, "right", (402.4, 100), (440, 150), 0)
    inch = 25.4
    habit = Habit(inch=True, places=4, radius=True)

    def rim(x: float) -> list[tuple[tuple[float, float], tuple[float, float] | None]]:
        return rounded((x, x), (16 * inch - x, 10 * inch - x), 0.75 * inch)

    pen = Pen(made, habit, safe=0.5 * inch)
    pen.begin(["JUICE GROOVE - BALL NOSE 1/2 IN"], 14000)
    groove = rim(0.8 * inch)
    outline(pen, "groove", groove, levels(0, -0.25 * inch, 0.125 * inch), 90 * inch, 20 * inch)
    pen.end()
    pen.done(name="juice groove", bit="ball-1-2", depth="0.25 in", max_pass="0.15 in")

    pen = Pen(made, habit, safe=0.5 * inch)
    pen.begin(["FINGER HOLLOWS - END MILL 1/2 IN"], 14000)
    for k, x in enumerate((1.2, 14.1), 1):
        low, high = (x * inch, 3.5 * inch), ((x + 0.7) * inch, 6.5 * inch)
        pocket(pen, f"finger{k}", low, high, levels(0, -0.6 * inch, 0.15 * inch), 0.5 * inch,
               0.2 * inch, 100 * inch, 20 * inch)  # fmt: skip
    pen.end()
    pen.done(name="finger hollows", bit="end-1-2", depth="0.6 in", max_pass="0.2 in")

    pen = Pen(made, habit, safe=0.5 * inch)
    pen.begin(["MAKER'S MARK - VEE 90 DEG"], 16000)
    x, y = 7.5 * inch, 4.7 * inch
    for k, (dx, way) in enumerate(((0.0, 1), (0.4, -1), (0.8, 1)), 1):
        a = (x + dx * inch, y, 0.0)
        b = (x + (dx + 0.15) * inch, y + way * 0.35 * inch, -0.08 * inch)
        c = (x + (dx + 0.3) * inch, y, 0.0)
        stroke(pen, f"mark{k}", [a, b, c], 60 * inch, 20 * inch)
    pen.end()
    pen.done(name="mark", bit="vee-90-in", depth="0.08 in")
    return made


def coasters() -> Shop:
    """Four coasters of acrylic on a vacuum bed, each by one subprogram at a shifted zero."""
    made = shop("coasters", "Coasters", ("220 mm", "220 mm", "6 mm"), "front-left-bed", "acrylic",
                clamps=[], into="0.3 mm")  # fmt: skip

    def four(pen: Pen, number: int) -> None:
        for k, (x, y) in enumerate(((55, 55), (165, 55), (165, 165), (55, 165)), 1):
            pen.raw(f"G52 X{x} Y{y}", f"shift{k}")
            pen.raw(f"M98 P{number}", f"call{k}")
        pen.raw("G52 X0 Y0", "unshift")
        pen.code = ""

    pen = Pen(made, PLAIN, safe=10)
    pen.begin(["rings 4 mm ball"], 16000)
    four(pen, 100)
    pen.end()
    pen.raw("O100", "sub")
    for k, radius in enumerate((38.0, 30.0), 1):
        pen.at = [None, None, 10.0]
        pen.code = ""
        ring(pen, f"ring{k}", (0.0, 0.0), radius, (-1.0,), 1100, 200)
    pen.raw("M99", "return")
    pen.done(name="rings", bit="ball-4", depth="1 mm", max_pass="1.2 mm")

    pen = Pen(made, PLAIN, safe=10)
    pen.begin(["cut free, 4 mm single flute"], 16000)
    four(pen, 200)
    pen.end()
    pen.raw("O200", "sub")
    pen.at = [None, None, 10.0]
    pen.code = ""
    ring(pen, "free", (0.0, 0.0), 47.0, levels(0, -6.2, 1.1), 1400, 200)
    pen.raw("M99", "return")
    allow = [{"code": "loose-part", "reason": "vacuum bed under every coaster"}]
    pen.done(name="cut free", bit="single-4", depth="through", max_pass="1.2 mm", allow=allow)
    return made


def hollow(x: float, y: float) -> float:
    """The dish: height of its face at a place, mm."""
    r = math.hypot(x - 90, y - 90)
    return -16.0 * (0.5 + 0.5 * math.cos(math.pi * r / 68)) if r < 68 else 0.0


def beneath(x: float, y: float, radius: float) -> float:
    """How low a flat bit may go there."""
    around = [hollow(x, y)]
    for k in range(16):
        a = 2 * math.pi * k / 16
        for part in (0.5, 1.0):
            around.append(hollow(x + radius * part * math.cos(a), y + radius * part * math.sin(a)))
    return max(around)


def ball_centre(x: float, y: float, radius: float) -> float:
    """How low the tip of a ball may go there."""
    best = -99.0
    for i in range(-4, 5):
        for j in range(-4, 5):
            dx, dy = i * radius / 4, j * radius / 4
            rest = radius * radius - dx * dx - dy * dy
            if rest >= 0:
                best = max(best, hollow(x + dx, y + dy) + math.sqrt(rest) - radius)
    return best


def dish() -> Shop:
    """A dish in walnut: cleared in layers, finished by a ball, cut out with tabs."""
    made = shop("dish", "Dish", ("180 mm", "180 mm", "30 mm"), "centre-top", "walnut", into=
                "0.3 mm")  # fmt: skip
    for name, x in (("left cam", -40.5), ("right cam", 180.5)):
        clamp(made, name, (x, 70), (x + 40, 110), 8)

    pen = Pen(made, PLAIN, safe=18)
    pen.begin(["dish roughing", "flat 8 mm"], 14000)
    for k, z in enumerate((-3.0, -6.0, -9.0, -12.0), 1):
        rows = [30.0 + 4.0 * j for j in range(31)]
        spans = [(y, *span) for y in rows if (span := _span(y, z)) is not None]
        pen.over(spans[0][1], spans[0][0], f"l{k}")
        pen.down(z + 4.0 if k > 1 else 1.0, f"l{k}")
        for j, (y, a, b) in enumerate(spans):
            if j % 2:
                a, b = b, a
            if j == 0:
                pen.cut(f"l{k}.in", b, y, z + 1.5, feed=700)
                pen.cut(f"l{k}.in", a, y, z)
                pen.cut(f"l{k}.row", b, y, feed=2400)
                continue
            pen.cut(f"l{k}.row", a, y, feed=2400)
            pen.cut(f"l{k}.row", b, y)
        pen.up(f"l{k}")
    pen.end()
    pen.done(name="roughing", bit="flat-8", depth="12 mm", max_pass="3.5 mm")

    pen = Pen(made, PLAIN, safe=18)
    pen.begin(["dish finishing", "ball 8 mm"], 16000)
    count = 0
    y = 22.0
    while y <= 158.0 + 1e-9:
        half = math.sqrt(max(0.0, 68.0**2 - (y - 90) ** 2))
        xs = [90 - half + 2 * half * j / 40 for j in range(41)] if half > 1 else [90.0]
        if count % 2:
            xs.reverse()
        if count == 0:
            settle(pen, "fin", (xs[0], y), ball_centre(xs[0], y, 4), 400)
        for x in xs:
            pen.cut("fin.row", x, y, ball_centre(x, y, 4), feed=2400)
        y += 1.0
        count += 1
    pen.up("fin")
    pen.end()
    pen.done(name="finishing", bit="ball-8", depth="16 mm")

    pen = Pen(made, PLAIN, safe=18)
    pen.begin(["cut out", "flat 8 mm"], 14000)
    pieces = rounded((6, 6), (174, 174), 20)
    tabs = [(2, 0.2), (4, 0.5), (6, 0.8)]
    outline(pen, "out", pieces, levels(0, -30.2, 3), 2200, 500, tabs, (16, -26))
    pen.end()
    pen.done(name="cut out", bit="flat-8", depth="through", max_pass="3.5 mm", tab_width="6 mm",
             tab_height="3.5 mm")  # fmt: skip
    return made


def _span(y: float, z: float) -> tuple[float, float] | None:
    """From where to where a flat bit of 8 mm may clear a row at a height, 0.5 mm left on."""
    inside = [x for x in (18 + 0.5 * k for k in range(289)) if beneath(x, y, 4.0) + 0.5 <= z]
    return (inside[0], inside[-1]) if len(inside) > 1 and inside[-1] - inside[0] > 6 else None


def door() -> Shop:
    """The back of a cabinet door: two hinge cups with pilot holes, two grooves, a handle slot."""
    made = shop("door", "Cabinet door", ("400 mm", "300 mm", "18 mm"), "back-left-top", "MDF",
                nominal="18 mm")  # fmt: skip
    for k, (x, y) in enumerate(((150, -25), (250, -25), (150, 275), (250, 275)), 1):
        clamp(made, f"toggle {k}", (x, y), (x + 30, y + 50), 20)
    habit = Habit(step=10, places=2)

    pen = Pen(made, habit, safe=26)
    pen.begin(["HINGE CUPS D35", "T1 FLAT 8 MM"], 15000)
    for k, y in enumerate((80.0, 220.0), 1):
        stepped_bore(pen, f"cup{k}", (23.5, y), 17.5, 8, (-4.2, -8.4, -12.6), 3.5, 3000, 700, 1.4)
    pen.end()
    pen.done(name="hinge cups", bit="flat-8", depth="12.6 mm", max_pass="4.5 mm")

    pen = Pen(made, habit, safe=26)
    pen.begin(["PILOT HOLES", "T5 DRILL 3 MM"], 9000)
    drill(pen, "pilot", [(33.0, y + s * 22.5) for y in (80.0, 220.0) for s in (-1, 1)], -8, 300)
    pen.end()
    pen.done(name="pilot holes", bit="drill-3", depth="8 mm")

    pen = Pen(made, habit, safe=26)
    pen.begin(["GROOVE FOR THE PANEL, HANDLE SLOT", "T2 FLAT 6 MM"], 16000)
    pocket(pen, "panel", (90, 50), (100, 250), levels(0, -6, 3), 6, 2, 3000, 700)
    pocket(pen, "panel2", (310, 50), (320, 250), levels(0, -6, 3), 6, 2, 3000, 700)
    slot(pen, "grip", (370.0, 110.0), (370.0, 190.0), levels(0, -9, 1.5), 2500, 600)
    pen.end()
    pen.done(name="grooves", bit="flat-6", depth="9 mm", max_pass="3 mm")
    return made


JOBS = (pegs, plate, board, coasters, dish, door)
