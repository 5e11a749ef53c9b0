"""Seven jobs, and below each what goes wrong with it."""

from __future__ import annotations

import math

from tests.checks.heldout5.core import (
    GONE,
    Mistake,
    Shop,
    declare,
    drop,
    every,
    insert,
    leave_out,
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
    rough,
    rows,
    slot,
    stroke,
)
from tests.checks.heldout6.pen import Hand, Pen
from tests.checks.heldout6.shopfloor import (
    INCH,
    bit,
    both,
    cut_short,
    exchange,
    order,
    put,
)  # fmt: skip

FLAT_6 = bit("flat", "6 mm", 2, "22 mm", "38 mm", helix="up")
FLAT_3 = bit("flat", "3 mm", 2, "12 mm", "26 mm", helix="up")
FLAT_8 = bit("flat", "8 mm", 2, "32 mm", "50 mm", helix="compression")


def pencase() -> Shop:
    """Oak: three pockets and a round groove."""
    shop = order(
        "pencase", "Pen case, bottom half", ("280 mm", "120 mm", "22 mm"), "front-left-top", "oak",
        "bench", (60, 70, -50),
        {"flat-6": FLAT_6, "ball-10": bit("ball", "10 mm", 2, "25 mm", "40 mm", shank="8 mm"),
         "flat-3": FLAT_3},
        [("left clamp", -40, 40, 8, 80, 14), ("right clamp", 272, 40, 320, 80, 14)],
    )  # fmt: skip
    p = Pen(shop.zero(), Hand(), clear=20)
    p.head("Pen case, pockets", "Flat end mill 6 mm, 2 flutes", 18000)
    deep = (-4, -8, -12)
    pocket(p, "A", (25, 12, 255, 42), 3, 2.6, deep, 2200, 500)
    pocket(p, "B", (25, 74, 150, 108), 3, 2.6, deep, 2200, 500)
    pocket(p, "C", (160, 74, 255, 108), 3, 2.6, deep, 2200, 500)
    p.tail()
    shop.add(p.lines, name="pockets", bit="flat-6", depth="12 mm", max_pass="4.2 mm",
             max_plunge_rate="600 mm/min", max_ramp_angle="4 deg")  # fmt: skip
    p = Pen(shop.zero(), Hand(), clear=20)
    p.head("Pen case, groove", "Ball nose 10 mm, 2 flutes", 14000)
    slot(p, "g", [(30, 58), (250, 58)], (-2.5, -5), 2400, 500)
    p.tail()
    shop.add(p.lines, name="groove", bit="ball-10", depth="5 mm")
    return shop


PENCASE = (
    Mistake("pencase", "8 typed 18 in a ramp", 1, word(1, "A/2/ramp2", "Z", -18),
            ("too-deep", "deep-pass"), ("A/2/ramp2",)),
    Mistake("pencase", "retract after the first pocket lost", 1, drop(1, "A/up"),
            ("retract-lost", "deep-pass"), ("B/over", "B/near")),
    Mistake("pencase", "first F lost", 1, word(1, "A/down", "F", GONE), ("no-feed",), ("A/down",)),
    Mistake("pencase", "the flat bit still in the collet for the groove", 2,
            declare("stages/1/bit", "flat-6"), ("bit-mismatch", "bit-suspect"), ("bit",)),
    Mistake("pencase", "dwell after the start lost", 1, drop(1, "dwell"), ("no-spin-up",),
            ("spin", "A/down", "A/1/ramp1")),
    Mistake("pencase", "right clamp slid 27 mm inward", None,
            declare("clamps/1/box/min", ["245 mm", "40 mm"]), ("clamp-hit",)),
    Mistake("pencase", "ramp of the second pocket lost, straight down instead", 1,
            drop(1, "B/2/ramp1"), ("steep-entry",), ("B/2/ramp2",)),
)  # fmt: skip


def signboard() -> Shop:
    """MDF: carved letters and a cut-out with tabs."""
    shop = order(
        "signboard", "Name board", ("400 mm", "200 mm", "18 mm"), "centre-top", "MDF",
        "gantry", (250, 220, -80),
        {"vee-60": bit("vee", "12 mm", 2, "10 mm", "38 mm", angle="60 deg", shank="6 mm"),
         "vee-90": bit("vee", "12 mm", 2, "6 mm", "38 mm", angle="90 deg", shank="6 mm"),
         "flat-6": bit("flat", "6 mm", 2, "25 mm", "40 mm", helix="compression")},
        [("left strap", -30, 80, 8, 120, 12), ("right strap", 392, 80, 430, 120, 12)],
        into="0.5 mm",
    )  # fmt: skip
    p = Pen(shop.zero(), Hand(full=True, pad=True), clear=20)
    p.head("NAME BOARD, LETTERS", "V-BIT 60 DEG", 18000, 8)
    letters = {
        "H1": [(60, 60), (60, 140)], "H2": [(100, 60), (100, 140)], "H3": [(62, 100), (98, 100)],
        "V1": [(150, 140), (175, 60)], "V2": [(200, 140), (175, 60)],
        "N1": [(240, 60), (240, 140)], "N2": [(240, 140), (285, 60)], "N3": [(285, 60), (285, 140)],
        "L1": [(320, 140), (320, 60)], "L2": [(320, 60), (352, 60)],
    }  # fmt: skip
    for name, ((xa, ya), (xb, yb)) in letters.items():
        share = 9 / math.hypot(xb - xa, yb - ya)
        dx, dy = (xb - xa) * share, (yb - ya) * share
        path = [(xa, ya, 0.0), (xa + dx, ya + dy, -4.0), (xb - dx, yb - dy, -4.0), (xb, yb, 0.0)]
        stroke(p, name, path, 1800, 600)
    p.tail((20, 180))
    shop.add(p.lines, name="letters", bit="vee-60", depth="4 mm")
    p = Pen(shop.zero(), Hand(full=True, pad=True), clear=20)
    p.head("NAME BOARD, OUTLINE", "FLAT 6 MM COMPRESSION", 18000, 8)
    around = frame((20, 20, 380, 180), 20, 3)
    contour(p, "cut", around, (-5, -10, -15, -18.3), 4500, 1200,
            {2: (0.5,), 4: (0.3, 0.7), 6: (0.5,)}, -14, 14.5)  # fmt: skip
    p.tail((20, 180))
    shop.add(p.lines, name="outline", bit="flat-6", depth="through", max_pass="5.2 mm",
             tab_width="8 mm", tab_height="4 mm", max_plunge_rate="1500 mm/min")  # fmt: skip
    return shop


LAST_LAP = ("cut/4/ramp..cut/close",)
SIGNBOARD = (
    Mistake("signboard", "tabs 1 mm thick", 2, every(2, r"cut/4/\d/t\dup", "Z", -17),
            ("thin-tab", "loose-part"), LAST_LAP),
    Mistake("signboard", "tabs switched off", 2,
            both(every(2, r"cut/3/\d/t\dup", "Z", -15), every(2, r"cut/4/\d/t\dup", "Z", -18.3)),
            ("loose-part", "thin-tab"), LAST_LAP),
    Mistake("signboard", "a letter 14 deep", 1, word(1, "N2/1", "Z", -14),
            ("too-deep",), ("N2/1", "N2/2")),
    Mistake("signboard", "M4 for M3", 2, text(2, "spin", "M03", "M04"),
            ("spindle-backwards",), ("spin", "cut/1/ramp")),
    Mistake("signboard", "90 degree vee fitted", 1, declare("stages/0/bit", "vee-90"),
            ("bit-mismatch", "bit-suspect"), ("bit",)),
    Mistake("signboard", "a zero too many in the feed", 2, word(2, "cut/1/ramp", "F", 45000),
            ("chip-thick",), ("cut/1/ramp", "cut/1/1")),
    Mistake("signboard", "rapid before the retract", 1, exchange(1, "H2/up", "H3/over"),
            ("rapid-in-stock", "rapid-low"), ("H3/over",)),
)  # fmt: skip


def spacer() -> Shop:
    """Acrylic: bores, a recess and a cut-out, all with one small bit."""
    shop = order(
        "spacer", "Spacer plate", ("150 mm", "150 mm", "5 mm"), "front-left-top", "cast acrylic",
        "bench", (120, 90, -55),
        {"flat-3": bit("flat", "3 mm", 1, "12 mm", "24 mm", helix="up")},
        into="0.3 mm",
    )  # fmt: skip
    p = Pen(shop.zero(), Hand(semi=True), clear=10)
    p.head("spacer plate", "single flute flat 3 mm", 18000)
    for n, (x, y) in enumerate([(35, 35), (115, 35), (115, 115), (35, 115)], 1):
        bore(p, f"b{n}", (x, y), 5.2, 1.5, -5.2, 0.4, 1200, 200)
    pocket(p, "rec", (55, 60, 95, 90), 1.5, 1.3, (-1, -2), 1200, 200)
    contour(p, "cut", frame((25, 25, 125, 125), 8, 1.5), (-1.2, -2.4, -3.6, -4.8, -5.2), 1200, 200,
            {2: (0.5,), 4: (0.5,), 6: (0.5,)}, -3.6, 8.5)  # fmt: skip
    p.tail()
    shop.add(p.lines, name="all", bit="flat-3", depth="through", max_pass="1.3 mm",
             max_plunge_rate="250 mm/min", tab_width="5 mm", tab_height="1.4 mm")  # fmt: skip
    return shop


SPACER = (
    Mistake("spacer", "a turn of the third hole on the other side", 1,
            text(1, "b3/turn4", "I-1.1", "I1.1"), ("circle-flipped",), ("b3/turn4",)),
    Mistake("spacer", "a zero of S lost", 1, text(1, "spin", "S18000", "S1800"),
            ("spindle-out-of-range",), ("spin",)),
    Mistake("spacer", "decimal point lost in a ramp", 1, word(1, "cut/2/ramp", "Z", -24),
            ("spoilboard-deep", "bed-hit", "deep-pass"), ("cut/2/ramp",)),
    Mistake("spacer", "a 3 mm sheet on the bed", None,
            declare("stock/size", ["150 mm", "150 mm", "3 mm"]),
            ("thickness-differs", "spoilboard-deep")),
    Mistake("spacer", "retract after the second hole only to 1 mm", 1, word(1, "b2/up", "Z", 1),
            ("rapid-low",), ("b2/up", "b3/over")),
    Mistake("spacer", "a zero of F lost for the outline", 1, word(1, "cut/1/ramp", "F", 120),
            ("chip-thin",), ("cut/1/ramp", "cut/1/1")),
    Mistake("spacer", "copy ended in the fourth lap", 1, cut_short(1, "cut/4/3", 9),
            ("truncated", "unreadable-line", "bad-arc", "missing-word"), ("cut/4/3",)),
)  # fmt: skip


def plateau() -> Shop:
    """Aluminium, zero on the bed: holes, a pocket and a cut-out."""
    shop = order(
        "plateau", "Base plate", ("150 mm", "100 mm", "6 mm"), "front-left-bed", "aluminium 6082",
        "gantry", (300, 300, -90),
        {"drill-4.2": bit("drill", "4.2 mm", 2, "40 mm", "48 mm", angle="118 deg",
                          material="HSS", max_rpm="9000 rpm"),
         "flat-6": bit("flat", "6 mm", 1, "14 mm", "30 mm", helix="up")},
        [("left strap", -30, 30, 7, 70, 10), ("right strap", 143, 30, 180, 70, 10)],
        into="1.6 mm",
    )  # fmt: skip
    p = Pen(shop.zero(), Hand(percent=True), clear=16)
    p.head("BASE PLATE HOLES", "DRILL 4.2 MM", 6000, 7, name=1041)
    holes(p, "d", [(25, 20), (125, 20), (125, 80), (25, 80)], -7.5, 100, 1.5)
    p.tail()
    shop.add(p.lines, name="holes", bit="drill-4.2", depth="through")
    p = Pen(shop.zero(), Hand(percent=True), clear=16)
    p.head("BASE PLATE POCKET", "FLAT 6 MM 1 FLUTE", 16000, 7, name=1042)
    p.raw("M7", "mist")
    pocket(p, "p", (45, 30, 105, 70), 3, 2.4, (-0.5, -1, -1.5, -2, -2.5, -3), 900, 150, 2)
    p.raw("M9", "dry")
    p.tail()
    shop.add(p.lines, name="pocket", bit="flat-6", depth="3 mm", max_pass="0.6 mm",
             max_ramp_angle="3 deg")  # fmt: skip
    p = Pen(shop.zero(), Hand(percent=True), clear=16)
    p.head("BASE PLATE OUTLINE", "FLAT 6 MM 1 FLUTE", 16000, 7, name=1043)
    p.raw("M7", "mist")
    levels = [-0.62 * n for n in range(1, 11)]
    contour(p, "cut", frame((15, 10, 135, 90), 6, 3), levels, 900, 150,
            {2: (0.5,), 4: (0.3, 0.7), 6: (0.5,)}, -4, 12.5)  # fmt: skip
    p.raw("M9", "dry")
    p.tail()
    shop.add(p.lines, name="outline", bit="flat-6", depth="through", max_pass="0.7 mm",
             tab_width="6 mm", tab_height="2 mm")  # fmt: skip
    return shop


PLATEAU = (
    Mistake("plateau", "Z zeroed on the top, programs made for the bed", None,
            declare("stock/zero", "front-left-top"), ("zero-suspect", "shallow", "idle-stage")),
    Mistake("plateau", "Q left out of the peck cycle", 1, text(1, "d/h1", " Q1.5", ""),
            ("missing-word",), ("d/h1",)),
    Mistake("plateau", "outline 0.2 short of the underside", 3,
            every(3, r"cut/10/(ramp|\d/t\ddown)", "Z", 0.2), ("shallow",)),
    Mistake("plateau", "the mill's speed for the drill", 1, text(1, "spin", "S6000", "S16000"),
            ("spindle-out-of-range", "surface-speed"), ("spin",)),
    Mistake("plateau", "two levels of the pocket lost", 2, span(2, "p/3/ramp1", "p/4/back"),
            ("deep-pass", "steep-entry"), ("p/5/ramp1..p/5/back",)),
    Mistake("plateau", "bit pushed up into the collet", None,
            declare("bits/flat-6/stickout", "18 mm"), ("body-low", "clamp-hit", "holder-hit")),
    Mistake("plateau", "plate clamped at the far end of the bed", None,
            declare("machine/work_zero", ["300 mm", "1230 mm", "-96 mm"]), ("beyond-travel",)),
    Mistake("plateau", "feed of a two-flute bit for wood", 2, word(2, "p/1/r1/1", "F", 9000),
            ("chip-thick", "power-over"), ("p/1/r1/1",)),
)  # fmt: skip


def dish() -> Shop:
    """Walnut: a hollow of a sphere, rough and fine, and a round cut-out."""
    shop = order(
        "dish", "Shallow dish", ("220 mm", "220 mm", "30 mm"), "centre-top", "walnut",
        "gantry", (400, 300, -75),
        {"flat-8": FLAT_8, "ball-8": bit("ball", "8 mm", 2, "30 mm", "50 mm")},
        [("clamp front left", -20, -20, 12, 12, 10), ("clamp back right", 208, 208, 240, 240, 10)],
    )  # fmt: skip
    middle, big, up = (110.0, 110.0), 170.0, 150.0
    p = Pen(shop.zero(), Hand(), clear=18)
    p.head("dish, roughing", "8 mm flat", 18000, 7)
    above = 0.0
    for n, level in enumerate((-4, -8, -12, -16, -19), 1):
        widest = 2 * (math.sqrt(big**2 - (up - level) ** 2) - 0.6)
        wide = [14.0 + 8 * k for k in range(1, 40) if 14 + 8 * k < widest - 1] + [widest]
        bore(p, f"r{n}", middle, 14, 4, level, 1.0, 3600, 900, wide, above)
        above = level
    p.tail()
    shop.add(p.lines, name="rough", bit="flat-8", depth="19 mm", max_pass="4.2 mm",
             max_ramp_angle="5 deg")  # fmt: skip
    p = Pen(shop.zero(), Hand(), clear=18)
    p.head("dish, finishing", "8 mm ball", 18000, 7)
    p.rapid("f/over", *middle)
    p.rapid("f/near", z=2)
    p.line("f/in", z=-20, f=700)
    for n in range(1, 66):
        q = 1.2 * n
        z = up - math.sqrt((big - 4) ** 2 - q**2) - 4
        p.line(f"f{n}/out", middle[0] + q, middle[1], z, f=3000)
        p.arc(f"f{n}/turn", False, (middle[0] + q, middle[1]), middle)
    leave(p, "f")
    p.tail()
    shop.add(p.lines, name="fine", bit="ball-8", depth="20 mm")
    p = Pen(shop.zero(), Hand(), clear=18)
    p.head("dish, cut out", "8 mm flat", 18000, 7)
    levels = (-4, -8, -12, -16, -20, -24, -28, -30.3)
    contour(p, "cut", ring(middle, 94), levels, 3600, 900,
            {1: (0.5,), 3: (0.5,), 5: (0.5,)}, -25, 16.5)  # fmt: skip
    p.tail()
    shop.add(p.lines, name="cut out", bit="flat-8", depth="through", max_pass="4.2 mm",
             tab_width="8 mm", tab_height="5 mm")  # fmt: skip
    return shop


DISH = (
    Mistake("dish", "ball's zero 3 mm to the right", None,
            put("stages/1/zero_shift", ["3 mm", "0 mm", "0 mm"]), ("stage-shifted",)),
    Mistake("dish", "finishing run first", None, swap(1, 2), ("stage-order",)),
    Mistake("dish", "roughing forgotten", None, leave_out(1), ("missing-stage", "deep-pass")),
    Mistake("dish", "third level of the roughing lost", 1, span(1, "r3/over", "r3/up"),
            ("deep-pass", "fast-plunge", "steep-entry"), ("r4/floor..r4/up",)),
    Mistake("dish", "a ring of the finishing on the other side", 2,
            text(2, "f20/turn", "I-24", "I24"), ("circle-flipped",), ("f20/turn",)),
    Mistake("dish", "tabs half as wide as wanted", 3, declare("stages/2/tab_width", "16 mm"),
            ("thin-tab",)),
    Mistake("dish", "a bit with a short edge", None,
            declare("bits/flat-8/flute_length", "18 mm"), ("shank-rub", "beyond-flute")),
)  # fmt: skip


def coasters() -> Shop:
    """Plywood in inches: recesses by a subprogram, engraved rings, round cut-outs."""
    i = INCH
    shop = order(
        "coasters", "Four coasters", ("12 in", "10 in", "0.5 in"), "front-left-top",
        "birch plywood", "garage", (100, 90, -55),
        {"flat-quarter": bit("flat", "0.25 in", 2, "0.9 in", "1.5 in", helix="compression"),
         "vee-60": bit("vee", "0.25 in", 2, "0.2 in", "1.2 in", angle="60 deg")},
        [("left", -25, 4.5 * i, 0.35 * i, 5.5 * i, 0.5 * i),
         ("right", 11.65 * i, 4.5 * i, 13 * i, 5.5 * i, 0.5 * i)],
        units="in", board="0.75 in", into="0.015 in",
    )  # fmt: skip
    centres = [(3.0, 2.6), (8.5, 2.6), (8.5, 7.2), (3.0, 7.2)]
    p = Pen(shop.zero(), Hand(inch=True), clear=0.75 * i)
    p.head("COASTERS - RECESSES", "1/4 IN FLAT", 16000, 4)
    for n, (x, y) in enumerate(centres, 1):
        p.raw(f"G0 X{x:g} Y{y:g}", f"at{n}")
        p.raw("Z0.1", f"low{n}")
        p.raw("M98 P2001", f"call{n}")
    p.raw("G0 Z1", "last")
    p.raw("M5", "off")
    p.raw("M30", "end")
    p.raw("O2001", "sub")
    p.note("ONE RECESS, FROM 0.1 OVER ITS CENTRE")
    p.raw("G91 G1 X0.1 F60", "sub/in")
    p.raw("Z-0.1 F20", "sub/down")
    for n in range(1, 5):
        p.raw(f"G3 X0 Y0 Z-0.03 I-0.1 J0{' F60' if n == 1 else ''}", f"sub/turn{n}")
    p.raw("G3 X0 Y0 I-0.1 J0 F80", "sub/flat")
    r = 0.1
    for n, wide in enumerate([0.1 * k for k in range(2, 15)] + [1.475], 1):
        p.raw(f"G1 X{wide - r:.4g}", f"sub/out{n}")
        p.raw(f"G3 X0 Y0 I-{wide:.4g} J0", f"sub/ring{n}")
        r = wide
    p.raw("G1 X-0.5 Z0.05", "sub/off")
    p.raw("G90", "sub/absolute")
    p.raw("G0 Z0.75", "sub/up")
    p.raw("M99", "sub/end")
    shop.add(p.lines, name="recesses", bit="flat-quarter", depth="0.12 in", max_pass="0.13 in",
             max_ramp_angle="4 deg")  # fmt: skip
    p = Pen(shop.zero(), Hand(inch=True), clear=0.75 * i, near=0.1 * i)
    p.head("COASTERS - RINGS", "60 DEG V", 18000, 4)
    for n, (x, y) in enumerate(centres, 1):
        p.rapid(f"v{n}/over", (x + 1.75) * i, y * i)
        p.rapid(f"v{n}/near", z=p.near)
        p.line(f"v{n}/in", z=-0.05 * i, f=20 * i)
        p.arc(f"v{n}/turn", False, ((x + 1.75) * i, y * i), (x * i, y * i), f=60 * i)
        leave(p, f"v{n}")
    p.tail()
    shop.add(p.lines, name="rings", bit="vee-60", depth="0.05 in")
    p = Pen(shop.zero(), Hand(inch=True, full=True), clear=0.75 * i, near=0.1 * i)
    p.head("COASTERS - CUT OUT", "1/4 IN FLAT", 16000, 4)
    for n, (x, y) in enumerate(centres, 1):
        levels = [-0.125 * i, -0.25 * i, -0.375 * i, -0.51 * i]
        contour(p, f"c{n}", ring((x * i, y * i), 2.025 * i), levels, 80 * i, 20 * i,
                {1: (0.5,), 3: (0.5,), 5: (0.5,)}, -0.38 * i, 0.52 * i)  # fmt: skip
    p.tail()
    shop.add(p.lines, name="cut out", bit="flat-quarter", depth="through", max_pass="0.14 in",
             tab_width="0.25 in", tab_height="0.12 in")  # fmt: skip
    return shop


COASTERS = (
    Mistake("coasters", "G21 for G20", 3, text(3, "setup", "G20", "G21"),
            ("units-suspect",), ("setup",)),
    Mistake("coasters", "G90 lost at the end of the subprogram", 1, drop(1, "sub/absolute"),
            ("off-stock", "beyond-travel", "zero-suspect", "clamp-hit"), ("at2..sub/end",)),
    Mistake("coasters", "call of a subprogram that is not there", 1,
            text(1, "call3", "P2001", "P2010"),
            ("not-accepted", "unreadable-line", "missing-word"), ("call3",)),
    Mistake("coasters", "decimal point of I slipped", 2, text(2, "v3/turn", "I-1.75", "I-17.5"),
            ("beyond-travel", "off-stock", "bad-arc"), ("v3/turn",)),
    Mistake("coasters", "thinner sheet than the programs were made for", None,
            declare("stock/size", ["12 in", "10 in", "0.45 in"]),
            ("thickness-differs", "spoilboard-deep")),
    Mistake("coasters", "retract between two coasters lost", 3, drop(3, "c2/up"),
            ("rapid-in-stock",), ("c3/over",)),
    Mistake("coasters", "a zero too many in the feed", 3, word(3, "c1/1/ramp", "F", 800),
            ("chip-thick",), ("c1/1/ramp", "c1/1/1")),
    Mistake("coasters", "a pass left out in the subprogram's helix", 1,
            both(drop(1, "sub/turn2", "sub/turn3"), word(1, "sub/turn1", "Z", -0.09)),
            ("steep-entry",), ("sub/turn1",)),
)  # fmt: skip


def rackplate() -> Shop:
    """Polyethylene: slots, pecked holes, a cut-out; zero at the front right corner."""
    shop = order(
        "rackplate", "Holder plate", ("220 mm", "140 mm", "10 mm"), "front-right-top", "HDPE",
        "bench", (100, 80, -50),
        {"flat-6": bit("flat", "6 mm", 2, "20 mm", "36 mm", helix="up"),
         "drill-5": bit("drill", "5 mm", 2, "45 mm", "55 mm", angle="118 deg"),
         "drill-8": bit("drill", "8 mm", 2, "60 mm", "70 mm", angle="118 deg")},
        [("left", -30, 50, 6, 90, 10), ("right", 214, 50, 250, 90, 10)],
        into="2 mm",
    )  # fmt: skip
    hand = Hand(number=10, percent=True, pad=True)
    p = Pen(shop.zero(), hand, clear=14)
    p.head("HOLDER PLATE SLOTS", "END MILL 6 MM 2 FLUTES", 12000)
    for n, x in enumerate((50, 90, 130, 170), 1):
        slot(p, f"s{n}", [(x, 40), (x, 100)], (-2.5, -5, -7.5, -10.2), 2400, 500)
    p.tail()
    shop.add(p.lines, name="slots", bit="flat-6", depth="through", max_pass="2.8 mm",
             max_ramp_angle="4 deg")  # fmt: skip
    p = Pen(shop.zero(), hand, clear=14)
    p.head("HOLDER PLATE HOLES", "DRILL 5 MM", 8000)
    holes(
        p, "d", [(30, 30), (110, 25), (190, 30), (190, 110), (110, 115), (30, 110)], -11.7, 400, 3
    )
    p.tail()
    shop.add(p.lines, name="holes", bit="drill-5", depth="through")
    p = Pen(shop.zero(), hand, clear=14)
    p.head("HOLDER PLATE OUTLINE", "END MILL 6 MM 2 FLUTES", 12000)
    contour(p, "cut", frame((15, 15, 205, 125), 10, 3), (-2.5, -5, -7.5, -10.2), 2400, 500,
            {2: (0.5,), 4: (0.3, 0.7), 6: (0.5,)}, -7.5, 12.5)  # fmt: skip
    p.tail()
    shop.add(p.lines, name="outline", bit="flat-6", depth="through", max_pass="2.8 mm",
             tab_width="6 mm", tab_height="2.5 mm")  # fmt: skip
    return shop


RACKPLATE = (
    Mistake("rackplate", "R of the cycle below the top", 2, text(2, "d/h1", "R1", "R-6"),
            ("rapid-plunge", "rapid-in-stock"), ("d/h1",)),
    Mistake("rackplate", "minus lost in front of X", 2, text(2, "d/h4", "X-", "X"),
            ("off-stock", "beyond-travel", "zero-suspect"), ("d/h4",)),
    Mistake("rackplate", "zero set at the left corner", None,
            declare("stock/zero", "front-left-top"), ("zero-suspect", "off-stock")),
    Mistake("rackplate", "S lost", 1, text(1, "spin", "S12000 ", ""),
            ("spindle-off",), ("spin", "s1/1/go1", "s1/down")),
    Mistake("rackplate", "M05 left in the middle", 1, insert(1, "s3/over", "N625 M05"),
            ("spindle-off",), ("s3/down", "s3/1/go1", "new")),
    Mistake("rackplate", "8 mm drill in the chuck", 2, declare("stages/1/bit", "drill-8"),
            ("bit-mismatch",), ("bit",)),
    Mistake("rackplate", "plunge at the cutting feed", 3,
            every(3, r"cut/4/\d/t\ddown", "F", times(6)), ("fast-plunge", "chip-thick"),
            ("cut/4/2/t1down..cut/4/6/t1down",)),
)  # fmt: skip


def leaf() -> Shop:
    """Lime: a hollow with veins, terraced by a flat bit, finished by a tapered ball."""
    shop = order(
        "leaf", "Leaf", ("160 mm", "120 mm", "25 mm"), "centre-top", "lime wood",
        "bench", (150, 100, -45),
        {"flat-6": FLAT_6, "ball-6": bit("ball", "6 mm", 2, "22 mm", "38 mm"),
         "taper-1": bit("taper-ball", "6 mm", 2, "28 mm", "40 mm", angle="5 deg",
                        tip_radius="1 mm")},
        [("left", -40, 45, 10, 75, 12), ("right", 150, 45, 200, 75, 12)],
    )  # fmt: skip

    def height(x: float, y: float) -> float:
        u, v = (x - 80) / 50, (y - 60) / 35
        inside = max(0.0, 1 - u * u - v * v)
        return -7.4 * inside - 0.6 * inside * math.cos(9 * (u + 0.5 * abs(v)))

    p = Pen(shop.zero(), Hand(tight=True), clear=18)
    p.head("leaf roughing", "6mm flat", 18000)
    rough(p, "r", (30, 25, 130, 95), 2.6, 3, (-2, -4, -6), height, 0.5, 2400, 600)
    p.tail()
    shop.add(p.lines, name="terraces", bit="flat-6", depth="6 mm", max_pass="2.1 mm")
    p = Pen(shop.zero(), Hand(tight=True), clear=18)
    p.head("leaf finishing", "tapered ball nose, tip radius 1mm", 18000)
    rows(p, "f", (30, 25, 130, 95), 0.8, 2, height, 2000, 600)
    p.tail()
    shop.add(p.lines, name="relief", bit="taper-1", depth="8 mm")
    return shop


LEAF = (
    Mistake("leaf", "roughing forgotten", None, leave_out(1), ("missing-stage", "deep-pass")),
    Mistake("leaf", "point of a depth one place to the right", 2,
            word(2, "f/40/20", "Z", times(10)),
            ("too-deep", "through-cut", "bed-hit"), ("f/40/20",)),
    Mistake("leaf", "Z zero 1.5 mm low after the change of bits", None,
            put("stages/1/zero_shift", ["0 mm", "0 mm", "-1.5 mm"]),
            ("too-deep", "stage-shifted")),
    Mistake("leaf", "round ball fitted for the tapered one", 2, declare("stages/1/bit", "ball-6"),
            ("bit-mismatch", "bit-suspect"), ("bit",)),
    Mistake("leaf", "terrace cut 2.5 mm too low", 1, word(1, "r/1/10/b", "Z", -4.5),
            ("deep-pass",), ("r/1/10/b", "r/1/10/c")),
    Mistake("leaf", "letter O for a zero", 2, text(2, "f/30/5", "X-40", "X-4O"),
            ("unreadable-line", "unknown-word", "bad-expression"), ("f/30/5",)),
)  # fmt: skip

JOBS = (pencase, signboard, spacer, plateau, dish, coasters, rackplate, leaf)
MISTAKES = (*PENCASE, *SIGNBOARD, *SPACER, *PLATEAU, *DISH, *COASTERS, *RACKPLATE, *LEAF)
