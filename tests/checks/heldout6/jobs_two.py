"""Six more jobs, and below each what goes wrong with it."""

from __future__ import annotations

import math

from tests.checks.heldout5.core import (
    Mistake,
    Shop,
    declare,
    drop,
    leave_out,
    plus,
    span,
    swap,
    text,
    times,
    word,
)
from tests.checks.heldout6.paths import (
    bore,
    contour,
    frame,
    holes,
    leave,
    pocket,
    ring,
    slot,
    stroke,
)
from tests.checks.heldout6.pen import Hand, Pen
from tests.checks.heldout6.shopfloor import (
    INCH,
    bit,
    both,
    joined,
    order,
    rub_out,
)  # fmt: skip


def hinges() -> Shop:
    """Birch plywood, zero on the bed: mortises, grooves, a cut-out, all with one bit."""
    flat_8 = bit("flat", "8 mm", 2, "25 mm", "42 mm", helix="compression")
    shop = order(
        "hinges", "Cupboard side", ("640 mm", "340 mm", "12 mm"), "front-left-bed",
        "birch plywood", "gantry", (300, 400, -85),
        {"flat-8": flat_8, "flat-6": bit("flat", "6 mm", 2, "22 mm", "40 mm", helix="compression"),
         "flat-12": bit("flat", "12 mm", 2, "30 mm", "48 mm")},
        [("front 1", 150, -30, 200, 8, 15), ("front 2", 440, -30, 490, 8, 15),
         ("back 1", 150, 332, 200, 370, 15), ("back 2", 440, 332, 490, 370, 15)],
    )  # fmt: skip
    hand = Hand(full=True)
    p = Pen(shop.zero(), hand, clear=25)
    p.head("Cupboard side: hinge mortises", "end mill D8, 2 flutes", 16000, 8)
    for n, x in enumerate((60, 290, 520), 1):
        pocket(p, f"m{n}", (x, 40, x + 64, 68), 4, 3.5, (-2.5,), 5000, 1200, 3)
    p.tail((30, 320))
    shop.add(p.lines, name="mortises", bit="flat-8", depth="2.5 mm", max_ramp_angle="4 deg")
    p = Pen(shop.zero(), hand, clear=25)
    p.head("Cupboard side: grooves for the shelves", "end mill D8, 2 flutes", 16000, 8)
    for n, x in enumerate((200, 420), 1):
        pocket(p, f"d{n}", (x, 90, x + 12.4, 280), 4, 3, (-3, -6), 5000, 1200, 3)
    p.tail((30, 320))
    shop.add(p.lines, name="grooves", bit="flat-8", depth="6 mm")
    p = Pen(shop.zero(), hand, clear=25)
    p.head("Cupboard side: outline", "end mill D8, 2 flutes", 16000, 8)
    contour(p, "cut", frame((20, 20, 620, 320), 15, 4), (-4, -8, -12.3), 5000, 1200,
            {2: (0.5,), 4: (0.2, 0.8), 6: (0.5,)}, -8, 16.5)  # fmt: skip
    p.tail((30, 320))
    shop.add(p.lines, name="outline", bit="flat-8", depth="through", max_pass="4.4 mm",
             tab_width="8 mm", tab_height="4 mm")  # fmt: skip
    return shop


HINGES = (
    Mistake("hinges", "grooves drawn for a thicker board, 11.4 deep in 12", 2,
            both(word(2, "d1/2/ramp2", "Z", 0.6), word(2, "d2/2/ramp2", "Z", 0.6),
                 declare("stages/1/depth", "11.4 mm")),
            ("thin-floor",), ("d1/2/ramp2..d2/up",)),
    Mistake("hinges", "a clamp stands 40 high", None, declare("clamps/1/box/height", "40 mm"),
            ("clamp-hit", "body-low", "holder-hit")),
    Mistake("hinges", "6 mm bit fitted for the mortises", 1, declare("stages/0/bit", "flat-6"),
            ("bit-mismatch", "bit-suspect", "uncut-ridge"), ("bit",)),
    Mistake("hinges", "a digit too many in X", 1, text(1, "m3/over", "X531", "X5310"),
            ("beyond-travel",), ("m3/over",)),
    Mistake("hinges", "the outline declared as 11 deep", None,
            declare("stages/2/depth", "11 mm"), ("through-cut", "too-deep")),
    Mistake("hinges", "G0 for G1 in a ramp", 2, text(2, "d1/1/ramp1", "G1", "G0"),
            ("rapid-in-stock",), ("d1/1/ramp1",)),
)  # fmt: skip


def tray() -> Shop:
    """Maple in inches: a bull-nosed recess, a groove, a rounded edge, a cut-out in the groove."""
    i = INCH
    quarter = bit("flat", "0.25 in", 2, "0.9 in", "1.5 in", helix="up")
    shop = order(
        "tray", "Small tray", ("7.5 in", "7.5 in", "0.75 in"), "centre-top", "hard maple",
        "garage", (120, 100, -55),
        {"bull-half": bit("bull", "0.5 in", 2, "1 in", "1.6 in", corner_radius="0.125 in"),
         "flat-quarter": quarter,
         "round-over": {
             "shape": "form", "diameter": "0.45 in", "flutes": 2, "flute_length": "0.4 in",
             "shank": "0.25 in", "stickout": "1.4 in", "material": "carbide",
             "max_rpm": "24000 rpm",
             "profile": [["0 in", "0 in"], ["0.1 in", "0 in"],
                         ["0.225 in", "0.125 in", "-0.125 in"]],
         }},
        [("left", -30, 85, 5, 105, 12), ("right", 7.5 * i - 5, 85, 7.5 * i + 30, 105, 12)],
        units="in", board="0.75 in", into="0.012 in",
    )  # fmt: skip
    box = (1 * i, 1 * i, 6.5 * i, 6.5 * i)
    hand = Hand(inch=True)
    p = Pen(shop.zero(), hand, clear=0.7 * i, near=0.05 * i)
    p.head("Tray: recess", "1/2 in bull nose, 1/8 corner radius", 14000, 4)
    pocket(p, "t", (1.75 * i, 1.75 * i, 5.75 * i, 5.75 * i), 0.25 * i, 0.2 * i,
           (-0.1 * i, -0.2 * i, -0.3 * i), 110 * i, 25 * i)  # fmt: skip
    p.tail()
    shop.add(p.lines, name="recess", bit="bull-half", depth="0.3 in", max_ramp_angle="4 deg",
             max_pass="0.12 in")  # fmt: skip
    p = Pen(shop.zero(), hand, clear=0.7 * i, near=0.05 * i)
    p.head("Tray: groove around", "1/4 in flat", 16000, 4)
    levels = (-0.12 * i, -0.24 * i, -0.35 * i)
    contour(p, "in", frame(box, 0.5 * i, 0.125 * i), levels, 80 * i, 20 * i)
    contour(p, "out", frame(box, 0.5 * i, 0.3 * i), levels, 80 * i, 20 * i)
    p.tail()
    shop.add(p.lines, name="groove", bit="flat-quarter", depth="0.35 in", max_pass="0.13 in")
    p = Pen(shop.zero(), hand, clear=0.7 * i, near=0.05 * i)
    p.head("Tray: edge", "round-over bit, 1/8 radius", 18000, 4)
    contour(p, "e", frame(box, 0.5 * i, 0.1 * i), (-0.125 * i,), 70 * i, 20 * i)
    p.tail()
    shop.add(p.lines, name="rounded edge", bit="round-over", depth="0.125 in")
    p = Pen(shop.zero(), hand, clear=0.7 * i, near=0.05 * i)
    p.head("Tray: cut out", "1/4 in flat", 16000, 4)
    contour(p, "cut", frame(box, 0.5 * i, 0.125 * i), [-0.47 * i, -0.59 * i, -0.71 * i, -0.76 * i],
            80 * i, 20 * i, {2: (0.5,), 4: (0.5,), 6: (0.5,)}, -0.63 * i, 0.52 * i,
            -0.35 * i)  # fmt: skip
    p.tail()
    shop.add(p.lines, name="cut out", bit="flat-quarter", depth="through", max_pass="0.13 in",
             tab_width="0.25 in", tab_height="0.12 in")  # fmt: skip
    return shop


TRAY = (
    Mistake("tray", "edge bit twice as deep", 3, word(3, "e/1/ramp", "Z", -0.25),
            ("too-deep",), ("e/1/ramp", "e/1/1")),
    Mistake("tray", "flat bit fitted for the edge", 3, declare("stages/2/bit", "flat-quarter"),
            ("bit-mismatch", "bit-suspect"), ("bit",)),
    Mistake("tray", "groove forgotten before the edge and the cut-out", None, leave_out(2),
            ("missing-stage", "deep-pass")),
    Mistake("tray", "G20 lost", 1, text(1, "setup", "G20 ", ""), ("units-not-set",),
            ("title", "setup", "safe")),
    Mistake("tray", "a decimal point one place to the right", 1,
            word(1, "t/2/ramp2", "Z", times(10)),
            ("too-deep", "through-cut", "bed-hit", "deep-pass"), ("t/2/ramp2",)),
    Mistake("tray", "G3 for G2 on a corner", 4, text(4, "cut/1/1", "G2", "G3"),
            ("deep-pass",), ("cut/1/1",)),
)  # fmt: skip


def ruler() -> Shop:
    """Aluminium: an engraved scale, two slots, a cut-out."""
    shop = order(
        "ruler", "Setting gauge", ("230 mm", "60 mm", "4 mm"), "front-left-top", "aluminium",
        "bench", (100, 150, -60),
        {"engraver-30": bit("vee", "6 mm", 1, "8 mm", "30 mm", angle="30 deg", tip="0.1 mm"),
         "flat-3": bit("flat", "3 mm", 1, "8 mm", "20 mm", helix="up"),
         "flat-6": bit("flat", "6 mm", 1, "14 mm", "28 mm", helix="up")},
        [("left", -30, 15, 6, 45, 8), ("right", 224, 15, 260, 45, 8)],
        into="0.3 mm",
    )  # fmt: skip
    hand = Hand()
    p = Pen(shop.zero(), hand, clear=12)
    p.head("gauge, scale", "engraver 30 deg tip 0.1 mm", 18000, 7)
    for n in range(19):
        x, long = 25 + 10 * n, 10 if n % 5 == 0 else 6
        p.rapid(f"e{n}/over", x, 12)
        p.rapid(f"e{n}/near", z=1)
        p.line(f"e{n}/in", z=-0.2, f=100)
        p.line(f"e{n}/line", x, 12 + long, f=400)
        leave(p, f"e{n}")
    p.tail()
    shop.add(p.lines, name="scale", bit="engraver-30", depth="0.2 mm")
    levels = [-0.42 * n for n in range(1, 11)]
    p = Pen(shop.zero(), hand, clear=12)
    p.head("gauge, slots", "flat 3 mm, 1 flute", 18000, 7)
    slot(p, "s1", [(40, 30), (190, 30)], levels, 600, 100)
    slot(p, "s2", [(40, 42), (190, 42)], levels, 600, 100)
    p.tail()
    shop.add(p.lines, name="slots", bit="flat-3", depth="through", max_pass="0.45 mm",
             max_ramp_angle="2 deg")  # fmt: skip
    p = Pen(shop.zero(), hand, clear=12)
    p.head("gauge, outline", "flat 3 mm, 1 flute", 18000, 7)
    contour(p, "cut", frame((12, 6, 218, 54), 4, 1.5), levels, 600, 100,
            {2: (0.5,), 4: (0.3, 0.7), 6: (0.5,)}, -2.8, 7.5)  # fmt: skip
    p.tail()
    shop.add(p.lines, name="outline", bit="flat-3", depth="through", max_pass="0.45 mm",
             tab_width="4 mm", tab_height="1.2 mm")  # fmt: skip
    return shop


RULER = (
    Mistake("ruler", "a mark ten times as deep", 1, word(1, "e7/in", "Z", -2),
            ("too-deep",), ("e7/in", "e7/line")),
    Mistake("ruler", "M3 lost", 2, text(2, "spin", " M3", ""), ("spindle-off",),
            ("spin", "s1/down", "s1/1/go1")),
    Mistake("ruler", "feed for wood", 2, word(2, "s1/1/go1", "F", 2400), ("chip-thick",),
            ("s1/1/go1", "s1/1/back1")),
    Mistake("ruler", "rapid to below the top", 3, word(3, "cut/near", "Z", -1),
            ("rapid-plunge", "rapid-in-stock"), ("cut/near",)),
    Mistake("ruler", "retract after a mark lost", 1, drop(1, "e9/up"),
            ("retract-lost",), ("e10/over", "e10/near")),
    Mistake("ruler", "digits of S exchanged", 3, text(3, "spin", "S18000", "S81000"),
            ("spindle-out-of-range",), ("spin",)),
    Mistake("ruler", "blank clamped too far to the right", None,
            declare("machine/work_zero", ["450 mm", "150 mm", "-60 mm"]), ("beyond-travel",)),
)  # fmt: skip


def board() -> Shop:
    """Beech: faced, a juice groove, a handle, rounded all round."""
    shop = order(
        "board", "Cutting board", ("420 mm", "240 mm", "22 mm"), "centre-top", "beech",
        "gantry", (350, 350, -80),
        {"facer-25": bit("flat", "25 mm", 2, "12 mm", "45 mm", shank="12 mm",
                         max_rpm="18000 rpm"),
         "ball-10": bit("ball", "10 mm", 2, "25 mm", "45 mm", shank="8 mm"),
         "flat-8": bit("flat", "8 mm", 2, "32 mm", "50 mm"),
         "round-3": {
             "shape": "form", "diameter": "10 mm", "flutes": 2, "flute_length": "12 mm",
             "shank": "8 mm", "stickout": "45 mm", "material": "carbide", "max_rpm": "24000 rpm",
             "profile": [["0 mm", "0 mm"], ["2 mm", "0 mm"], ["5 mm", "3 mm", "-3 mm"]],
         }},
    )  # fmt: skip
    hand = Hand(tight=True, percent=True)
    p = Pen(shop.zero(), hand, clear=15)
    p.head("BOARD FACING", "FACING CUTTER 25 MM", 14000, 8)
    p.rapid("face/over", -18, 0)
    p.rapid("face/near", z=2)
    p.line("face/in", z=-0.5, f=1000)
    for n in range(15):
        y = min(240, 18 * n)
        p.line(f"face/{n}/to", y=y, f=4000)
        p.line(f"face/{n}", 438 if n % 2 == 0 else -18, y)
    leave(p, "face")
    p.tail()
    shop.add(p.lines, name="facing", bit="facer-25", depth="0.5 mm")
    p = Pen(shop.zero(), hand, clear=15)
    p.head("BOARD JUICE GROOVE", "BALL 10 MM", 14000, 8)
    contour(p, "g", frame((30, 30, 340, 210), 25, 0), (-2.5, -5), 2600, 600)
    p.tail()
    shop.add(p.lines, name="juice groove", bit="ball-10", depth="5 mm", max_pass="3 mm")
    p = Pen(shop.zero(), hand, clear=15)
    p.head("BOARD HANDLE", "FLAT 8 MM", 18000, 8)
    pocket(p, "h", (362, 70, 390, 170), 4, 3.6, (-4.5, -9, -13.5, -18, -22.3), 3600, 900)
    p.tail()
    shop.add(p.lines, name="handle", bit="flat-8", depth="through", max_pass="4.6 mm",
             max_ramp_angle="4 deg")  # fmt: skip
    p = Pen(shop.zero(), hand, clear=15)
    p.head("BOARD EDGE", "ROUND-OVER R3", 18000, 8)
    contour(p, "e", frame((0, 0, 420, 240), 0, 2), (-3.5,), 2000, 600)
    p.tail()
    shop.add(p.lines, name="edge", bit="round-3", depth="3.5 mm")
    return shop


WIDE = both(
    *(word(1, f"face/{n}/to", "Y", min(28 * n, 240) - 120) for n in range(1, 10)),
    rub_out(1, r"face/1[0-4](/to)?"),
)
BOARD = (
    Mistake("board", "a level of the handle lost", 3, span(3, "h/3/ramp1", "h/3/back"),
            ("deep-pass", "steep-entry"), ("h/4/ramp1..h/4/back",)),
    Mistake("board", "facing ten times as deep", 1, text(1, "face/in", "Z-0.5", "Z-5"),
            ("too-deep",), ("face/in", "face/0")),
    Mistake("board", "a small bit's speed for the facing cutter", 1,
            text(1, "spin", "S14000", "S22000"), ("spindle-out-of-range",), ("spin",)),
    Mistake("board", "digits of a depth exchanged", 4, text(4, "e/1/ramp", "Z-3.5", "Z-5.3"),
            ("too-deep",), ("e/1/ramp", "e/1/1")),
    Mistake("board", "handle declared 20 deep", None, declare("stages/2/depth", "20 mm"),
            ("through-cut", "too-deep")),
    Mistake("board", "22.3 typed 23.2", 3, text(3, "h/5/ramp2", "Z-22.3", "Z-23.2"),
            ("spoilboard-deep",), ("h/5/ramp2", "h/5/r1/1")),
    Mistake("board", "strips of the facing 28 mm apart", 1, WIDE, ("uncut-ridge", "bit-suspect"),
            ("face/0..face/9",)),
)  # fmt: skip


def nameplate() -> Shop:
    """MDF in inches: a sunk field and letters in it; zero at the back left corner."""
    i = INCH
    shop = order(
        "nameplate", "Door sign", ("10 in", "4 in", "0.5 in"), "back-left-top", "MDF",
        "garage", (90, 150, -50),
        {"flat-eighth": bit("flat", "0.125 in", 2, "0.5 in", "1 in", helix="up"),
         "flat-sixteenth": bit("flat", "0.0625 in", 2, "0.25 in", "0.8 in", shank="0.125 in"),
         "vee-90": bit("vee", "0.5 in", 2, "0.25 in", "1.2 in", angle="90 deg", shank="0.25 in")},
        [("left", -25, 1.5 * i, 0.5 * i, 2.5 * i, 0.5 * i),
         ("right", 9.5 * i, 1.5 * i, 11 * i, 2.5 * i, 0.5 * i)],
        units="in", board="0.75 in", into="0.01 in",
    )  # fmt: skip
    hand = Hand(inch=True, number=5, full=True)
    p = Pen(shop.zero(), hand, clear=0.7 * i, near=0.05 * i)
    p.head("DOOR SIGN FIELD", "1/8 FLAT", 18000, 4)
    pocket(p, "f", (1.5 * i, 0.8 * i, 8.5 * i, 3.2 * i), 0.0625 * i, 0.08 * i,
           (-0.06 * i, -0.12 * i), 90 * i, 20 * i, 2)  # fmt: skip
    p.tail((0.3 * i, 3.7 * i))
    shop.add(p.lines, name="field", bit="flat-eighth", depth="0.12 in", max_pass="0.07 in",
             max_ramp_angle="3 deg")  # fmt: skip
    p = Pen(shop.zero(), hand, clear=0.7 * i, near=0.05 * i)
    p.head("DOOR SIGN LETTERS", "90 DEG V", 18000, 4)
    letters = {
        "T1": [(2.2, 2.6), (3.4, 2.6)], "T2": [(2.8, 2.6), (2.8, 1.3)],
        "O1": [(4.2, 2.6), (5.0, 2.6), (5.0, 1.3), (4.2, 1.3), (4.2, 2.6)],
        "M1": [(5.8, 1.3), (5.8, 2.6), (6.4, 1.8), (7.0, 2.6), (7.0, 1.3)],
    }  # fmt: skip
    for name, path in letters.items():
        stroke(p, name, [(x * i, y * i, -0.2 * i) for x, y in path], 60 * i, 20 * i)
    p.tail((0.3 * i, 3.7 * i))
    shop.add(p.lines, name="letters", bit="vee-90", depth="0.2 in")
    return shop


NAMEPLATE = (
    Mistake("nameplate", "letters before the field", None, swap(1, 2), ("stage-order",)),
    Mistake("nameplate", "1/16 bit fitted, comment lost", None,
            both(drop(1, "bit"), declare("stages/0/bit", "flat-sixteenth")),
            ("uncut-ridge", "bit-suspect")),
    Mistake("nameplate", "a line end lost", 1, joined(1, "f/1/r3/2"),
            ("conflicting-words", "unreadable-line"), ("f/1/r3/2",)),
    Mistake("nameplate", "a second decimal point", 1, text(1, "f/2/r4/1", "X", "X."),
            ("unreadable-line",), ("f/2/r4/1",)),
    Mistake("nameplate", "a code that is none", 2, text(2, "M1/2", "G1", "G111"),
            ("unknown-word", "not-accepted"), ("M1/2",)),
    Mistake("nameplate", "no feed in the first plunge: F0", 2, word(2, "T1/down", "F", 0),
            ("no-feed",), ("T1/down", "T1/in")),
    Mistake("nameplate", "sign of Y lost", 2, text(2, "O1/2", "Y-", "Y"),
            ("off-stock", "beyond-travel", "zero-suspect"), ("O1/2",)),
)  # fmt: skip


def blankwheel() -> Shop:
    """Acetal, zero at the centre of the bed: holes, counterbores, a bore, a round cut-out."""
    shop = order(
        "blankwheel", "Wheel blank", ("120 mm", "120 mm", "12 mm"), "centre-bed", "POM",
        "bench", (200, 150, -60),
        {"drill-4": bit("drill", "4 mm", 2, "40 mm", "50 mm", angle="118 deg"),
         "flat-6": bit("flat", "6 mm", 2, "20 mm", "36 mm", helix="up")},
        [("front left", -30, -30, 6, 6, 10), ("back right", 114, 114, 150, 150, 10)],
        into="1.6 mm",
    )  # fmt: skip
    places = [
        (60 + 32 * math.cos(math.radians(60 * n)), 60 + 32 * math.sin(math.radians(60 * n)))
        for n in range(6)
    ]
    hand = Hand(percent=True)
    p = Pen(shop.zero(), hand, clear=14)
    p.head("wheel holes", "drill 4mm", 8000, 7)
    holes(p, "d", places, -13.3, 400, 3)
    p.tail()
    shop.add(p.lines, name="holes", bit="drill-4", depth="through")
    p = Pen(shop.zero(), hand, clear=14)
    p.head("wheel counterbores and bore", "flat 6mm", 12000, 7)
    for n, place in enumerate(places, 1):
        bore(p, f"cb{n}", place, 9, 3, -4, 0.8, 1500, 400)
    bore(p, "c1", (60, 60), 11, 3, -6, 0.8, 1800, 400, (20,))
    bore(p, "c2", (60, 60), 11, 3, -12.3, 0.8, 1800, 400, (20,), -6)
    p.tail()
    shop.add(p.lines, name="counterbores", bit="flat-6", depth="through", max_pass="6.4 mm",
             max_ramp_angle="6 deg", max_plunge_rate="600 mm/min")  # fmt: skip
    p = Pen(shop.zero(), hand, clear=14)
    p.head("wheel cut out", "flat 6mm", 12000, 7)
    contour(p, "cut", ring((60, 60), 51), (-2.5, -5, -7.5, -10, -12.3), 1800, 400,
            {1: (0.5,), 3: (0.5,), 5: (0.5,)}, -10, 13.5)  # fmt: skip
    p.tail()
    shop.add(p.lines, name="cut out", bit="flat-6", depth="through", max_pass="2.6 mm",
             tab_width="7 mm", tab_height="2 mm")  # fmt: skip
    return shop


BLANKWHEEL = (
    Mistake("blankwheel", "a hole 2 mm beside its counterbore", 1,
            word(1, "d/h4", "X", plus(2)), ("off-centre",),
            ("d/h4", "2:cb4/over..cb4/flat")),
    Mistake("blankwheel", "a turn of a counterbore on the other side", 2,
            text(2, "cb2/turn3", "I-1.5", "I1.5"), ("circle-flipped",), ("cb2/turn3",)),
    Mistake("blankwheel", "first half of the bore lost", 2, span(2, "c1/over", "c1/up"),
            ("deep-pass", "steep-entry", "fast-plunge"), ("c2/floor..c2/w1/turn",)),
    Mistake("blankwheel", "minus of the drilling depth lost", 1, text(1, "d/h1", "Z-1.3", "Z1.3"),
            ("shallow",), ("d/h1",)),
    Mistake("blankwheel", "no board under the blank but a thin sheet", None,
            both(declare("stock/spoilboard", "1 mm"),
                 declare("stock/allow_into_spoilboard", "1 mm")), ("bed-hit", "spoilboard-deep")),
    Mistake("blankwheel", "a stub bit fitted", None,
            both(declare("bits/flat-6/stickout", "11 mm"),
                 declare("bits/flat-6/flute_length", "10 mm")),
            ("holder-hit", "shank-rub", "beyond-flute")),
    Mistake("blankwheel", "plane word gone wrong: G18", 3, text(3, "setup", "G17", "G18"),
            ("bad-arc", "missing-word"), ("cut/1/ramp", "setup")),
)  # fmt: skip

JOBS = (hinges, tray, ruler, board, nameplate, blankwheel)
MISTAKES = (*HINGES, *TRAY, *RULER, *BOARD, *NAMEPLATE, *BLANKWHEEL)
