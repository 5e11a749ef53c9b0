"""The last six jobs, and below each what goes wrong with it."""

from __future__ import annotations

import math

from tests.checks.heldout5.core import (
    GONE,
    Mistake,
    Shop,
    chop,
    declare,
    drop,
    every,
    insert,
    leave_out,
    span,
    text,
    times,
    word,
)
from tests.checks.heldout6.paths import contour, frame, holes, leave, pocket, ring, slot, stroke
from tests.checks.heldout6.pen import Hand, Pen
from tests.checks.heldout6.shopfloor import INCH, bit, both, moved, order, put, rub_out


def nested() -> Shop:
    """Plywood on a gantry: holes for shelf pins, four parts, the fourth at a second zero."""
    shop = order(
        "nested", "Cupboard parts", ("1200 mm", "600 mm", "18 mm"), "front-left-top",
        "birch plywood", "gantry", (60, 500, -90),
        {"drill-5": bit("drill", "5 mm", 2, "35 mm", "50 mm", angle="118 deg"),
         "flat-8": bit("flat", "8 mm", 2, "32 mm", "50 mm", helix="compression"),
         "flat-6": bit("flat", "6 mm", 2, "25 mm", "45 mm", helix="compression")},
        [("screw 1", 0, 0, 14, 14, 6), ("screw 2", 1186, 0, 1200, 14, 6),
         ("screw 3", 0, 586, 14, 600, 6), ("screw 4", 1186, 586, 1200, 600, 6)],
        into="0.5 mm",
    )  # fmt: skip
    hand = Hand(percent=True, pad=True, full=True)
    p = Pen(shop.zero(), hand, clear=15, near=2)
    p.head("SHELF PINS", "DRILL 5 MM", 8000, 7, name=500)
    columns = [(70, 60), (360, 60), (470, 60), (760, 60)]
    places = [(x, y + 32 * n) for x, y in columns for n in range(6)]
    holes(p, "d", places, -12, 1200)
    p.tail()
    shop.add(p.lines, name="pins", bit="drill-5", depth="12 mm")
    levels = (-6, -12, -18.3)
    tabs = {2: (0.5,), 4: (0.3, 0.7), 6: (0.5,)}
    p = Pen(shop.zero(), hand, clear=15, near=2)
    p.head("PARTS A B C", "COMPRESSION BIT 8 MM 2 FLUTES", 18000, 7, name=501)
    for name, box in {
        "A": (30, 30, 400, 300), "B": (430, 30, 800, 300), "C": (30, 330, 800, 570),
    }.items():  # fmt: skip
        contour(p, name, frame(box, 3, 4), levels, 6000, 1500, tabs, -14, 18.5)
    p.tail()
    shop.add(p.lines, name="parts A to C", bit="flat-8", depth="through", max_pass="6.5 mm",
             tab_width="10 mm", tab_height="4 mm")  # fmt: skip
    p = Pen((830, 30, 0), hand, clear=15, near=2)
    p.head("PART D", "COMPRESSION BIT 8 MM 2 FLUTES", 18000, 7, offset="G55", name=502)
    contour(p, "D", frame((830, 30, 1170, 570), 3, 4), levels, 6000, 1500, tabs, -14, 18.5)
    p.tail()
    shop.add(p.lines, name="part D", bit="flat-8", depth="through", max_pass="6.5 mm",
             tab_width="10 mm", tab_height="4 mm",
             offsets={"G55": ["830 mm", "30 mm", "0 mm"]})  # fmt: skip
    return shop


NESTED = (
    Mistake("nested", "G54 for G55", 3, text(3, "offset", "G55", "G54"),
            ("clamp-hit", "zero-suspect", "off-stock", "idle-stage"), ("offset..D/up",)),
    Mistake("nested", "12 typed 21", 1, text(1, "d/h1", "Z-12", "Z-21"),
            ("through-cut", "too-deep"), ("d/h1",)),
    Mistake("nested", "a digit twice", 1, text(1, "d/h21", "X760", "X7760"),
            ("beyond-travel", "off-stock"), ("d/h21",)),
    Mistake("nested", "no tabs on the second part", 2,
            every(2, r"B/3/\d/t\dup", "Z", -18.3), ("loose-part", "thin-tab"),
            ("B/3/ramp..B/close",)),
    Mistake("nested", "retract to 2 for 15 before the way to the next part", 2,
            word(2, "B/up", "Z", 2), ("rapid-low",), ("B/up", "C/over")),
    Mistake("nested", "swollen sheet of 19.2", None,
            declare("stock/size", ["1200 mm", "600 mm", "19.2 mm"]),
            ("thickness-differs", "shallow")),
    Mistake("nested", "P of the dwell lost", 2, text(2, "dwell", " P7", ""),
            ("missing-word",), ("dwell",)),
)  # fmt: skip


def lid() -> Shop:
    """Cherry: a rebate, fine grooves, a round cut-out."""
    shop = order(
        "lid", "Lid of a tin", ("140 mm", "140 mm", "12 mm"), "centre-top", "cherry",
        "bench", (220, 120, -50),
        {"flat-6": bit("flat", "6 mm", 2, "22 mm", "38 mm", helix="down"),
         "ball-3": bit("ball", "3 mm", 2, "10 mm", "26 mm")},
        [("left", -30, 60, 5, 80, 12), ("right", 135, 60, 170, 80, 12)],
    )  # fmt: skip
    hand = Hand(semi=True)
    p = Pen(shop.zero(), hand, clear=18)
    p.head("lid, rebate", "flat endmill 6 mm", 18000)
    for n, r in enumerate((49.0, 51.5, 54.0, 56.5), 1):
        contour(p, f"r{n}", ring((70, 70), r), (-1.5, -3), 2200, 500)
    p.tail()
    shop.add(p.lines, name="rebate", bit="flat-6", depth="3 mm", max_pass="1.6 mm")
    p = Pen(shop.zero(), hand, clear=18)
    p.head("lid, grooves", "ball 3 mm", 18000)
    for n, r in enumerate((15, 25, 35), 1):
        contour(p, f"g{n}", ring((70, 70), r), (-1,), 1200, 300)
    p.tail()
    shop.add(p.lines, name="grooves", bit="ball-3", depth="1 mm")
    p = Pen(shop.zero(), hand, clear=18)
    p.head("lid, cut out", "flat endmill 6 mm", 18000)
    contour(p, "cut", ring((70, 70), 59), (-3, -6, -9, -12.3), 2200, 500,
            {1: (0.5,), 3: (0.5,), 5: (0.5,)}, -9, 13.5)  # fmt: skip
    p.tail()
    shop.add(p.lines, name="cut out", bit="flat-6", depth="through", max_pass="3.4 mm",
             tab_width="7 mm", tab_height="3 mm")  # fmt: skip
    return shop


LID = (
    Mistake("lid", "a digit of I lost", 1, text(1, "r2/1/2", "I44.6", "I4.6"),
            ("bad-arc",), ("r2/1/2",)),
    Mistake("lid", "spindle started after the first groove", 2,
            both(drop(2, "spin"), insert(2, "g2/over", "S18000 M3", "late")),
            ("spindle-off",), ("g1/down", "g1/1/ramp")),
    Mistake("lid", "end of program lost", 3, drop(3, "end"), ("no-end",), ("last", "off")),
    Mistake("lid", "a lap of the cut-out lost", 3, span(3, "cut/2/ramp", "cut/2/5"),
            ("deep-pass",), ("cut/3/ramp..cut/3/5",)),
    Mistake("lid", "ball's zero 1.2 mm high", None,
            put("stages/1/zero_shift", ["0 mm", "0 mm", "1.2 mm"]),
            ("idle-stage", "shallow", "stage-shifted")),
    Mistake("lid", "a decimal point in S", 1, text(1, "spin", "S18000", "S18.000"),
            ("spindle-out-of-range",), ("spin",)),
)  # fmt: skip


def window() -> Shop:
    """Acrylic: engraved lines, two windows and the outline with tabs; arcs by R."""
    shop = order(
        "window", "Instrument window", ("180 mm", "120 mm", "3 mm"), "front-left-top",
        "clear acrylic", "bench", (150, 130, -60),
        {"vee-60": bit("vee", "6 mm", 2, "5 mm", "30 mm", angle="60 deg"),
         "flat-2": bit("flat", "2 mm", 1, "8 mm", "18 mm", helix="up", shank="3 mm")},
        into="0.3 mm",
    )  # fmt: skip
    hand = Hand(radius=True)
    p = Pen(shop.zero(), hand, clear=8)
    p.head("window, lines", "vee 60 deg", 16000)
    for n in range(6):
        x = 30 + 24 * n
        p.rapid(f"l{n}/over", x, 94)
        p.rapid(f"l{n}/near", z=1)
        p.line(f"l{n}/in", z=-0.3, f=150)
        p.line(f"l{n}/line", x, 102, f=800)
        leave(p, f"l{n}")
    p.tail()
    shop.add(p.lines, name="lines", bit="vee-60", depth="0.3 mm")
    p = Pen(shop.zero(), hand, clear=8)
    p.head("window, cutting", "flat 2 mm, single flute", 18000)
    levels = (-0.6, -1.2, -1.8, -2.4, -3, -3.15)
    tabs = {2: (0.5,), 6: (0.5,)}
    contour(p, "w1", frame((25, 25, 80, 80), 4, -1), levels, 900, 150, tabs, -2, 5.5)
    contour(p, "w2", frame((100, 25, 155, 80), 4, -1), levels, 900, 150, tabs, -2, 5.5)
    contour(p, "cut", frame((10, 10, 170, 110), 6, 1), levels, 900, 150,
            {2: (0.5,), 4: (0.3, 0.7), 6: (0.5,)}, -2, 5.5)  # fmt: skip
    p.tail()
    shop.add(p.lines, name="cutting", bit="flat-2", depth="through", max_pass="0.7 mm",
             tab_width="3 mm", tab_height="1 mm")  # fmt: skip
    return shop


WINDOW = (
    Mistake("window", "R ten times too small", 2, text(2, "w1/2/1", "R3", "R0.3"),
            ("bad-arc",), ("w1/2/1",)),
    Mistake("window", "R with a minus: the long way round", 2, text(2, "w1/4/1", "R3", "R-3"),
            ("deep-pass",), ("w1/4/1",)),
    Mistake("window", "all feeds ten times too low", 2,
            moved(2, "w1/over", "cut/up", "F", lambda f: f / 10), ("chip-thin",),
            ("w1/1/ramp", "w1/1/1", "w1/down")),
    Mistake("window", "a line ten times as deep", 1, word(1, "l2/in", "Z", times(10)),
            ("through-cut", "too-deep"), ("l2/in", "l2/line")),
    Mistake("window", "the tail of the file lost", 2, chop(2, "cut/up"),
            ("truncated", "no-end"), ("cut/close",)),
    Mistake("window", "tabs of the first window lost", 2,
            both(every(2, r"w1/4/\d/t\dup", "Z", -2.4), every(2, r"w1/5/\d/t\dup", "Z", -3),
                 every(2, r"w1/6/\d/t\dup", "Z", -3.15)),
            ("loose-part", "thin-tab"), ("w1/5/ramp..w1/close",)),
)  # fmt: skip


def pegrail() -> Shop:
    """Pine, zero on the bed: long grooves, deep holes, countersinks."""
    shop = order(
        "pegrail", "Coat rail", ("480 mm", "80 mm", "25 mm"), "front-left-bed", "pine",
        "bench", (60, 150, -60),
        {"flat-12": bit("flat", "12 mm", 2, "30 mm", "45 mm", shank="8 mm"),
         "drill-10": bit("drill", "10 mm", 2, "60 mm", "75 mm", angle="118 deg",
                         shank="8 mm"),
         "vee-90": bit("vee", "16 mm", 2, "8 mm", "40 mm", angle="90 deg", shank="8 mm")},
        [("left", -30, 25, 8, 55, 10), ("right", 472, 25, 510, 55, 10)],
        board="18 mm",
    )  # fmt: skip
    hand = Hand(number=10, pad=True)
    places = [(60 + 72 * n, 40) for n in range(6)]
    p = Pen(shop.zero(), hand, clear=16)
    p.head("COAT RAIL GROOVES", "FLAT 12 MM", 16000)
    slot(p, "s1", [(30, 14), (450, 14)], (-5, -10), 4000, 800)
    slot(p, "s2", [(30, 66), (450, 66)], (-5, -10), 4000, 800)
    p.tail()
    shop.add(p.lines, name="grooves", bit="flat-12", depth="10 mm", max_pass="5.5 mm")
    p = Pen(shop.zero(), hand, clear=16)
    p.head("COAT RAIL HOLES", "DRILL 10 MM", 8000)
    holes(p, "d", places, -18, 600, 6)
    p.tail()
    shop.add(p.lines, name="holes", bit="drill-10", depth="18 mm")
    p = Pen(shop.zero(), hand, clear=16)
    p.head("COAT RAIL COUNTERSINKS", "V-BIT 90 DEG", 12000)
    holes(p, "c", places, -6.5, 500)
    p.tail()
    shop.add(p.lines, name="countersinks", bit="vee-90", depth="6.5 mm")
    return shop


PEGRAIL = (
    Mistake("pegrail", "a countersink 5 mm beside its hole", 3, text(3, "c/h3", "X204", "X209"),
            ("off-centre",), ("c/h3",)),
    Mistake("pegrail", "a minus before the depth of the holes", 2, text(2, "d/h1", "Z7", "Z-7"),
            ("through-cut", "too-deep"), ("d/h1",)),
    Mistake("pegrail", "a second tool in the middle", 1,
            insert(1, "s2/over", "N115 T2 M06 S16000 M03"), ("bit-mismatch", "spindle-off"),
            ("new", "s2/down", "s2/1/go1")),
    Mistake("pegrail", "countersinks set off 2 mm away", None,
            put("stages/2/zero_shift", ["0 mm", "2 mm", "0 mm"]), ("stage-shifted", "off-centre")),
    Mistake("pegrail", "G00 for G01", 1, text(1, "s1/1/go1", "X450", "G00 X450"),
            ("rapid-in-stock",), ("s1/1/go1",)),
    Mistake("pegrail", "a groove with its first level lost", 1,
            span(1, "s2/1/go1", "s2/1/back1"), ("deep-pass",), ("s2/2/go1", "s2/2/back1")),
)  # fmt: skip


def jig() -> Shop:
    """MDF by hand: loops and parameters, and a controller that is declared."""
    shop = order(
        "jig", "Drilling jig", ("300 mm", "200 mm", "12 mm"), "centre-top", "MDF",
        "gantry", (350, 300, -80),
        {"drill-6": bit("drill", "6 mm", 2, "40 mm", "52 mm", angle="118 deg"),
         "flat-6": bit("flat", "6 mm", 2, "22 mm", "40 mm", helix="up")},
        [("left", -40, 85, 8, 115, 10), ("right", 292, 85, 340, 115, 10)],
    )  # fmt: skip
    shop.table["machine"]["accepts"] = [
        "arcs", "helical-arcs", "drill-cycles", "parameters", "expressions", "comparisons",
        "loops", "signed-values", "coolant", "path-modes", "subprograms",
    ]  # fmt: skip
    p = Pen(shop.zero(), Hand(), clear=18)
    p.head("jig, holes: 4 columns of 3", "drill 6 mm", 8000, 7)
    for mark, words in [
        ("one", "#1=0"), ("while1", "WHILE [#1 LT 4] DO1"), ("two", "#2=0"),
        ("while2", "WHILE [#2 LT 3] DO2"), ("over", "G0 X[-90+#1*60] Y[-60+#2*60]"),
        ("near", "Z2"), ("in", "G1 Z-8 F500"), ("up", "G0 Z18"), ("count2", "#2=[#2+1]"),
        ("end2", "END2"), ("count1", "#1=[#1+1]"), ("end1", "END1"),
    ]:  # fmt: skip
        p.raw(words, mark)
    p.tail()
    shop.add(p.lines, name="holes", bit="drill-6", depth="8 mm")
    p = Pen(shop.zero(), Hand(), clear=18)
    p.head("jig, two grooves", "flat 6 mm", 18000, 7)
    for n, y in enumerate((-30, 30), 1):
        for mark, words in [
            ("over", f"G0 X-100 Y{y}"), ("near", "Z1"), ("down", "G1 Z0 F800"), ("start", "#3=0"),
            ("while", "WHILE [#3 GT -6] DO1"), ("deeper", "#3=[#3-2]"), ("go", "G1 X100 Z#3 F3600"),
            ("back", "X-100"), ("end", "END1"), ("up", "G0 Z18"),
        ]:  # fmt: skip
            p.raw(words, f"{n}/{mark}")
    p.tail()
    shop.add(p.lines, name="grooves", bit="flat-6", depth="6 mm", max_pass="2.2 mm")
    return shop


JIG = (
    Mistake("jig", "the count is never raised", 1, drop(1, "count2"), ("endless-program",),
            ("while2..end2",)),
    Mistake("jig", "a parameter that was never set", 1, text(1, "over", "#2*60", "#22*60"),
            ("bad-expression",), ("over",)),
    Mistake("jig", "a bracket lost", 1, text(1, "count1", "+1]", "+1"),
            ("unreadable-line", "bad-expression"), ("count1",)),
    Mistake("jig", "loop runs to 16 instead of 6", 2, text(2, "1/while", "-6", "-16"),
            ("too-deep", "through-cut"), ("1/go", "1/back")),
    Mistake("jig", "steps of 3 for 2", 2, text(2, "2/deeper", "-2", "-3"),
            ("deep-pass",), ("2/go", "2/back", "2/deeper")),
    Mistake("jig", "radius compensation the controller does not have", 2,
            insert(2, "1/down", "G41 D1"), ("not-accepted",), ("new",)),
    Mistake("jig", "retract of the loop lost", 1, drop(1, "up"),
            ("rapid-in-stock",), ("over",)),
)  # fmt: skip


def inlay() -> Shop:
    """Walnut in inches: a cleared field, its walls by a vee bit, a cut-out."""
    i = INCH
    shop = order(
        "inlay", "Field for an inlay", ("8 in", "5 in", "0.75 in"), "centre-top", "walnut",
        "garage", (110, 130, -55),
        {"flat-eighth": bit("flat", "0.125 in", 2, "0.5 in", "1.1 in", helix="down"),
         "vee-60": bit("vee", "0.5 in", 2, "0.4 in", "1.4 in", angle="60 deg", shank="0.25 in"),
         "flat-quarter": bit("flat", "0.25 in", 2, "0.9 in", "1.5 in", helix="compression")},
        [("left", -25, 2.2 * i, 0.2 * i, 2.8 * i, 0.5 * i),
         ("right", 7.8 * i, 2.2 * i, 9 * i, 2.8 * i, 0.5 * i)],
        units="in", board="0.75 in", into="0.012 in",
    )  # fmt: skip
    hand = Hand(inch=True, percent=True)
    p = Pen(shop.zero(), hand, clear=0.7 * i, near=0.05 * i)
    p.head("INLAY FIELD", "T1 1/8 IN FLAT", 18000, 4)
    pocket(p, "f", (1.25 * i, 1.25 * i, 6.75 * i, 3.75 * i), 0.0625 * i, 0.055 * i,
           (-0.05 * i, -0.1 * i), 70 * i, 20 * i, 2)  # fmt: skip
    p.tail()
    shop.add(p.lines, name="field", bit="flat-eighth", depth="0.1 in", max_pass="0.06 in")
    p = Pen(shop.zero(), hand, clear=0.7 * i, near=0.05 * i)
    p.head("INLAY WALLS", "T2 60 DEG V-BIT", 18000, 4)
    up = 0.1 * math.tan(math.radians(30))
    path = [(1.25 - up, 1.25 - up, 0.0)]
    for x, y in ((1.25, 1.25), (6.75, 1.25), (6.75, 3.75), (1.25, 3.75), (1.25, 1.25)):
        dx, dy = math.copysign(up, x - 4), math.copysign(up, y - 2.5)
        path += [(x, y, -0.1), (x + dx, y + dy, 0.0), (x, y, -0.1)]
    stroke(p, "w", [(x * i, y * i, z * i) for x, y, z in path], 50 * i, 20 * i)
    p.tail()
    shop.add(p.lines, name="walls", bit="vee-60", depth="0.1 in")
    p = Pen(shop.zero(), hand, clear=0.7 * i, near=0.05 * i)
    p.head("INLAY CUT OUT", "T3 1/4 IN COMPRESSION", 16000, 4)
    levels = [-0.15 * i, -0.3 * i, -0.45 * i, -0.6 * i, -0.76 * i]
    contour(p, "cut", frame((0.6 * i, 0.6 * i, 7.4 * i, 4.4 * i), 0.4 * i, 0.125 * i), levels,
            80 * i, 20 * i, {2: (0.5,), 4: (0.3, 0.7), 6: (0.5,)}, -0.6 * i, 0.55 * i)  # fmt: skip
    p.tail()
    shop.add(p.lines, name="cut out", bit="flat-quarter", depth="through", max_pass="0.165 in",
             tab_width="0.28 in", tab_height="0.14 in")  # fmt: skip
    return shop


OUTER_RING = r"f/\d/r22/(in|\d)"
INLAY = (
    Mistake("inlay", "vee bit's zero 0.1 to the right", None,
            put("stages/1/zero_shift", ["0.1 in", "0 in", "0 in"]),
            ("stage-shifted", "not-cleared")),
    Mistake("inlay", "outermost ring of the field lost", None, rub_out(1, OUTER_RING),
            ("not-cleared",)),
    Mistake("inlay", "a wall 0.2 deep", 2, word(2, "w/3", "Z", -0.2), ("too-deep",),
            ("w/3", "w/4")),
    Mistake("inlay", "1/4 bit fitted for the field", 1, declare("stages/0/bit", "flat-quarter"),
            ("bit-mismatch", "bit-suspect"), ("bit",)),
    Mistake("inlay", "sign of I wrong", 3, text(3, "cut/2/3", "I0", "I-0"), ("bad-arc",),
            ("cut/2/3",)),
    Mistake("inlay", "field forgotten, tool list of the letters says T2", None, leave_out(1),
            ("missing-stage", "stage-order"), ()),
    Mistake("inlay", "first F of the cut-out lost with the plunge", 3,
            word(3, "cut/down", "F", GONE),
            ("no-feed",), ("cut/down",)),
)  # fmt: skip

JOBS = (nested, lid, window, pegrail, jig, inlay)
MISTAKES = (*NESTED, *LID, *WINDOW, *PEGRAIL, *JIG, *INLAY)
