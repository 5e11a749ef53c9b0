"""Jobs in wood and on the bench: trays, coasters, brackets, panels, reliefs, signs, templates."""

from __future__ import annotations

import math

import numpy as np

from tests.checks.heldout5.core import (
    GONE,
    Mistake,
    Shop,
    append,
    chop,
    declare,
    drop,
    every,
    insert,
    leave_out,
    plus,
    span,
    swap,
    text,
    times,
    word,
)
from tests.checks.heldout5.paths import (
    bore,
    cut_out,
    rect_outline,
    rect_pocket,
    relief,
    round_cut_out,
    round_pocket,
    stroke,
    tapered,
)
from tests.checks.heldout5.shopfloor import bench, clamp, inch, rack, small
from tests.checks.heldout5.tape import (
    DENSE,
    HAND,
    INCH,
    INCH_R,
    LONG,
    PLAIN,
    POST,
    SMALL,
    STEPS,
    Tape,
)


def tray() -> Shop:
    shop = Shop(
        "tray",
        {
            "title": "Key tray",
            "units": "mm",
            "stock": {
                "size": ["240 mm", "160 mm", "18 mm"],
                "zero": "centre-top",
                "material": "beech",
                "spoilboard": "12 mm",
                "allow_into_spoilboard": "0.3 mm",
            },
            "machine": bench(["310 mm", "210 mm", "-60 mm"]),
            "clamps": [
                clamp("left", (-150, -20), (-115, 20), 12),
                clamp("right", (115, -20), (150, 20), 12),
            ],
            "bits": rack("flat-8", "flat-6", "flat-3"),
        },
    )
    t = Tape(5, 2000, 500)
    rect_pocket(t, (30, 25), (210, 135), 8, 8, 2.7, "p")
    shop.stage(
        t, PLAIN, ["Key tray, part 1: hollow", "end mill 8 mm, 2 flutes"], 16000,
        name="hollow", bit="flat-8", depth="8 mm", max_plunge_rate="600 mm/min", max_pass="3 mm",
    )  # fmt: skip
    t = Tape(5, 1200, 300)
    for k, (x, y) in enumerate([(30, 25), (210, 25), (210, 135), (30, 135)]):
        sx, sy = (1 if x < 120 else -1), (1 if y < 80 else -1)
        a, b = (x + sx * 7, y + sy * 1.5), (x + sx * 1.5, y + sy * 7)
        corner = (x + sx * 1.5, y + sy * 1.5)
        for n in range(4):
            start = a if n % 2 == 0 else b
            t.to(start[0], start[1], f"k{k}/{n}")
            t.mark(f"k{k}/{n}/down").down(-2.0 * (n + 1))
            t.mark(f"k{k}/{n}/a").cut(*corner)
            t.mark(f"k{k}/{n}/b").cut(*(b if n % 2 == 0 else a))
            t.mark(f"k{k}/{n}/up").up()
    shop.stage(
        t, PLAIN, ["Key tray, part 2: corners", "end mill 3 mm, 2 flutes"], 18000,
        name="corners", bit="flat-3", depth="8 mm",
    )  # fmt: skip
    t = Tape(5, 1800, 450)
    path = rect_outline((16, 12), (224, 148), 6)
    cut_out(t, path, 18.2, 3.1, "c", (1, 2, 3, 4), -14, 12)
    shop.stage(
        t, PLAIN, ["Key tray, part 3: outline", "end mill 6 mm, 2 flutes"], 18000,
        name="outline", bit="flat-6", depth="through", tab_width="5 mm", tab_height="3 mm",
    )  # fmt: skip
    return shop


def coaster() -> Shop:
    i = 25.4
    shop = Shop(
        "coaster",
        {
            "title": "Coaster",
            "units": "in",
            "stock": {
                "size": ["4.5 in", "4.5 in", "0.375 in"],
                "nominal_thickness": "0.375 in",
                "zero": "centre-top",
                "material": "walnut",
                "spoilboard": "0.5 in",
                "allow_into_spoilboard": "0.015 in",
            },
            "machine": inch(["15 in", "8 in", "-2.2 in"]),
            "clamps": [],
            "bits": rack("quarter", "eighth"),
        },
    )
    c = (2.25 * i, 2.25 * i)
    t = Tape(0.25 * i, 60 * i, 18 * i, 0.05 * i)
    round_pocket(t, c, 1.65 * i, 0.125 * i, 0.25 * i, 0.0625 * i, "p")
    shop.stage(
        t, INCH, ["COASTER RECESS", "BIT 1/4 IN FLAT 2 FL"], 18000,
        name="recess", bit="quarter", depth="0.125 in",
    )  # fmt: skip
    t = Tape(0.25 * i, 60 * i, 15 * i, 0.05 * i)
    tabs = (150.0, 240.0, 330.0)
    round_cut_out(t, c, 2.05 * i, 0.385 * i, 0.1 * i, "c", tabs, -0.275 * i, 0.5 * i, True)
    shop.stage(
        t, INCH, ["COASTER OUTLINE", "BIT 1/4 IN FLAT 2 FL"], 18000, name="outline", bit="quarter",
        depth="through",
    )  # fmt: skip
    return shop


HOLES = [(22.0, 18.0), (98.0, 18.0), (98.0, 62.0), (22.0, 62.0)]


def bracket() -> Shop:
    shop = Shop(
        "bracket",
        {
            "title": "Sensor bracket",
            "units": "mm",
            "stock": {
                "size": ["120 mm", "80 mm", "6 mm"],
                "zero": "front-left-top",
                "material": "aluminium 5083",
                "spoilboard": "15 mm",
                "allow_into_spoilboard": "2 mm",
            },
            "machine": bench(["200 mm", "120 mm", "-55 mm"]),
            "clamps": [
                clamp("left", (-30, 32), (4, 48), 10),
                clamp("right", (116, 32), (150, 48), 10),
            ],
            "bits": rack("drill-4", "alu-6"),
        },
    )
    t = Tape(5, 250, 250)
    t.drill(83, HOLES, -7.6, 250, "h", R=1.5, Q=2.0, S=5)
    shop.stage(
        t, POST, ["SENSOR BRACKET", "T1 D=4.2 DRILL 118 DEG"], 8000, name="drill", bit="drill-4",
        depth="through",
    )  # fmt: skip
    t = Tape(5, 900, 250)
    for k, hole in enumerate(HOLES):
        bore(t, hole, 9, 3.2, 6, 0.4, f"b{k}")
    round_pocket(t, (60, 40), 14, 3, 6, 0.75, "p", 0.3)
    shop.stage(
        t, DENSE, ["SENSOR BRACKET OP 2", "6MM 3FL CARBIDE END MILL"], 12000, name="counterbores",
        bit="alu-6", depth="3.2 mm", max_ramp_angle="5 deg",
    )  # fmt: skip
    t = Tape(5, 900, 250)
    path = rect_outline((12, 8), (108, 72), 6)
    cut_out(t, path, 6.2, 0.62, "c", (1, 2, 3), -4.5, 11)
    shop.stage(
        t, DENSE, ["SENSOR BRACKET OP 3", "6MM 3FL CARBIDE END MILL"], 12000, name="outline",
        bit="alu-6", depth="through", max_pass="0.8 mm",
    )  # fmt: skip
    return shop


KNOBS = [(30.0 + 28 * k, 40.0) for k in range(6)]


def panel() -> Shop:
    shop = Shop(
        "panel",
        {
            "title": "Front panel",
            "units": "mm",
            "stock": {
                "size": ["200 mm", "120 mm", "3 mm"],
                "zero": "front-left-bed",
                "material": "cast acrylic",
                "spoilboard": "10 mm",
                "allow_into_spoilboard": "0.3 mm",
            },
            "machine": small(),
            "clamps": [],
            "bits": rack("vee-60", "one-3"),
        },
    )
    t = Tape(4, 700, 200)
    for k, (x, y) in enumerate(KNOBS):
        for n, degrees in enumerate((-120, 0, 120)):
            a = math.radians(degrees + 90)
            ends = [(x + r * math.cos(a), y + r * math.sin(a)) for r in (6.5, 10.5)]
            stroke(t, ends, -0.35, f"e{k}{n}")
    shop.stage(
        t, STEPS, ["panel scales", "60 degree V bit, 0.35 deep"], 15000, name="scales",
        bit="vee-60", depth="0.35 mm",
    )  # fmt: skip
    t = Tape(4, 800, 200)
    for k, at in enumerate(KNOBS):
        bore(t, at, 5.5, 3.15, 3, 0.5, f"b{k}")
    rect_pocket(t, (60, 70), (140, 95), 3.15, 3, 1.1, "w")
    shop.stage(
        t, HAND, ["panel holes and window", "3 mm single flute, flat"], 14000, name="holes",
        bit="one-3", depth="through",
    )  # fmt: skip
    t = Tape(4, 800, 200)
    cut_out(t, rect_outline((8, 8), (192, 112), 3), 3.2, 0.8, "c", (1, 2, 3), -1.8, 8)
    shop.stage(
        t, HAND, ["panel outline", "3 mm single flute, flat"], 14000, name="outline", bit="one-3",
        depth="through",
    )  # fmt: skip
    return shop


def hills(x: np.ndarray, y: float) -> np.ndarray:
    one = 7.5 * np.exp(-(((x - 24) / 15) ** 2) - ((y - 26) / 13) ** 2)
    two = 5.5 * np.exp(-(((x - 50) / 10) ** 2) - ((y - 22) / 14) ** 2)
    return -8 + np.minimum(7.8, one + two)


def dome() -> Shop:
    shop = Shop(
        "hills",
        {
            "title": "Two hills",
            "units": "mm",
            "stock": {
                "size": ["70 mm", "50 mm", "25 mm"],
                "zero": "centre-top",
                "material": "lime",
                "spoilboard": "12 mm",
            },
            "machine": bench(["300 mm", "200 mm", "-50 mm"]),
            "clamps": [],
            "bits": rack("flat-6", "ball-6"),
        },
    )
    t = Tape(5, 2200, 600)
    relief(t, hills, (70, 50), "flat", 3, 2.7, (-2.8, -5.2, -7.6), 0.4, "r")
    shop.stage(
        t, LONG, ["two hills, roughing", "tool: flat end mill, diameter 6 mm"], 18000,
        name="rough", bit="flat-6", depth="7.6 mm", max_pass="3 mm",
    )  # fmt: skip
    t = Tape(5, 2200, 600)
    relief(t, hills, (70, 50), "ball", 3, 0.7, (-99,), 0.0, "f")
    shop.stage(
        t, LONG, ["two hills, finishing", "tool: ball nose end mill, diameter 6 mm"], 20000,
        name="finish", bit="ball-6", depth="8 mm",
    )  # fmt: skip
    return shop


def sign() -> Shop:
    shop = Shop(
        "sign",
        {
            "title": "House sign",
            "units": "mm",
            "stock": {
                "size": ["300 mm", "120 mm", "20 mm"],
                "zero": "front-left-top",
                "material": "oak",
            },
            "machine": bench(["120 mm", "120 mm", "-55 mm"]),
            "clamps": [],
            "bits": rack("flat-6", "vee-90", "vee-60"),
        },
    )
    t = Tape(5, 2000, 500)
    t.to(23, 23, "g")
    t.mark("g/down").down(0.2)
    t.mark("g/ramp").cut(110, 23, -1.5, 1200)
    t.mark("g/ramp2").cut(23, 23, -3, 1200)
    for k in range(8):
        a = 23 + 18 * k / 7
        if k:
            t.mark(f"g/out{k}").cut(a, a)
        for n, (x, y) in enumerate(
            [(300 - a, a), (300 - a, 120 - a), (a, 120 - a), (a, a)],
        ):
            t.mark(f"g/ring{k}/{n}").cut(x, y)
    t.mark("g/up").up()
    shop.stage(
        t, SMALL, ["house sign, ground", "6 mm flat cutter"], 18000, name="ground", bit="flat-6",
        depth="3 mm",
    )  # fmt: skip
    t = Tape(5, 1600, 400)
    for name, a in (("o", 20), ("i", 44)):
        ring = [(a, a), (300 - a, a), (300 - a, 120 - a), (a, 120 - a), (a, a)]
        stroke(t, [(float(x), float(y)) for x, y in ring], -3, name)
    for k in range(9):
        x = 66.0 + 20 * k
        tapered(t, (x, 50), (x + (8 if k % 2 else 0), 70), -1.6, f"s{k}")
    shop.stage(
        t, SMALL, ["house sign, walls and letters", "V bit 90 degrees, 12 mm"], 14000,
        name="carve", bit="vee-90", depth="3 mm",
    )  # fmt: skip
    return shop


def template() -> Shop:
    shop = Shop(
        "template",
        {
            "title": "Hinge template",
            "units": "mm",
            "stock": {
                "size": ["300 mm", "200 mm", "12 mm"],
                "zero": "front-left-top",
                "material": "MDF",
                "spoilboard": "18 mm",
            },
            "machine": bench(["150 mm", "100 mm", "-50 mm"]),
            "clamps": [
                clamp("front left", (-20, -20), (15, 15), 14),
                clamp("front right", (285, -20), (320, 15), 14),
                clamp("back left", (-20, 185), (15, 220), 14),
                clamp("back right", (285, 185), (320, 220), 14),
            ],
            "bits": rack("flat-8", "drill-5"),
        },
    )
    t = Tape(18, 2400, 600)
    for k, y in enumerate((50, 100, 150)):
        rect_pocket(t, (60, y - 8), (240, y + 8), 6, 8, 3, f"p{k}")
    shop.stage(
        t, HAND, ["hinge template", "slots with the 8 mm router bit, straight, 2 flutes"], 16000,
        name="slots", bit="flat-8", depth="6 mm", max_pass="3.2 mm",
    )  # fmt: skip
    t = Tape(18, 700, 700)
    holes = [(x, y) for y in (25.0, 75.0, 125.0, 175.0) for x in (60.0, 150.0, 240.0)]
    t.drill(81, holes, -9, 700, "h", R=2.0, S=18)
    shop.stage(
        t, PLAIN, ["hinge template", "5 mm drill"], 9000, name="pilot holes", bit="drill-5",
        depth="9 mm",
    )  # fmt: skip
    return shop


def lid_inside() -> Shop:
    shop = Shop(
        "lid-inside",
        {
            "title": "Box lid, inside",
            "units": "mm",
            "stock": {
                "size": ["160 mm", "120 mm", "15 mm"],
                "zero": "back-left-top",
                "material": "pine",
                "spoilboard": "12 mm",
                "allow_into_spoilboard": "3 mm",
            },
            "machine": bench(["220 mm", "300 mm", "-55 mm"]),
            "clamps": [],
            "bits": rack("flat-12", "flat-6", "drill-5"),
        },
    )
    t = Tape(5, 2600, 600)
    for n in range(3):
        t.to(-8, 4, f"r/{n}")
        t.mark(f"r/{n}/down").down(-2.0 * (n + 1))
        for k, (x, y) in enumerate([(156, 4), (156, 116), (4, 116), (4, -8)]):
            t.mark(f"r/{n}/{k}").cut(x, y)
        t.mark(f"r/{n}/up").up()
    shop.stage(
        t, POST, ["LID INSIDE, REBATE", "T1 FLAT 12 MM 2 FLUTES"], 14000, name="rebate",
        bit="flat-12", depth="6 mm", max_pass="2.5 mm",
    )  # fmt: skip
    t = Tape(5, 2000, 500)
    rect_pocket(t, (25, 25), (135, 95), 5, 6, 2.5, "p")
    shop.stage(
        t, POST, ["LID INSIDE, POCKET", "T1 FLAT 6 MM 2 FLUTES"], 18000, name="pocket",
        bit="flat-6", depth="5 mm",
    )  # fmt: skip
    t = Tape(5, 700, 700)
    t.drill(83, [(17.5, 60), (142.5, 60)], -17.5, 700, "h", R=1.0, Q=5.0, S=5)
    shop.stage(
        t, POST, ["LID INSIDE, PIN HOLES", "T1 DRILL 5 MM"], 9000, name="pins", bit="drill-5",
        depth="through",
    )  # fmt: skip
    return shop


def lid_outside() -> Shop:
    shop = Shop(
        "lid-outside",
        {
            "title": "Box lid, outside, turned over on its pins",
            "units": "mm",
            "stock": {
                "size": ["160 mm", "120 mm", "15 mm"],
                "nominal_thickness": "15 mm",
                "zero": "centre-bed",
                "material": "pine",
                "spoilboard": "12 mm",
                "allow_into_spoilboard": "0.4 mm",
            },
            "machine": bench(["300 mm", "240 mm", "-70 mm"]),
            "clamps": [],
            "bits": rack("flat-6", "vee-90"),
        },
    )
    t = Tape(5, 2000, 500)
    round_pocket(t, (80, 60), 26, 4, 6, 2, "p")
    shop.stage(
        t, POST, ["LID OUTSIDE, RECESS", "T1 FLAT 6 MM 2 FLUTES"], 18000, high=35, name="recess",
        bit="flat-6", depth="4 mm",
    )  # fmt: skip
    t = Tape(5, 1600, 400)
    stroke(t, [(80, 10), (10, 10), (10, 110), (150, 110), (150, 10), (80, 10)], -2, "v")
    shop.stage(
        t, POST, ["LID OUTSIDE, BEVEL", "T1 VEE 90 DEG 12 MM"], 14000, high=35, name="bevel",
        bit="vee-90", depth="2 mm",
    )  # fmt: skip
    t = Tape(5, 2000, 500)
    cut_out(t, rect_outline((10, 10), (150, 110), 6), 15.2, 2.6, "c", (1, 2, 3), -11.5, 13)
    shop.stage(
        t, POST, ["LID OUTSIDE, OUTLINE", "T1 FLAT 6 MM 2 FLUTES"], 18000, high=35, name="outline",
        bit="flat-6", depth="through", tab_width="5 mm", tab_height="3 mm",
    )  # fmt: skip
    return shop


def comb() -> Shop:
    i = 25.4
    shop = Shop(
        "comb",
        {
            "title": "Cable comb",
            "units": "in",
            "stock": {
                "size": ["8 in", "4 in", "0.5 in"],
                "zero": "front-left-top",
                "material": "birch plywood",
                "spoilboard": "0.75 in",
                "allow_into_spoilboard": "0.02 in",
            },
            "machine": inch(["6 in", "4 in", "-2.2 in"]),
            "clamps": [],
            "bits": rack("quarter", "eighth"),
        },
    )
    t = Tape(0.2 * i, 50 * i, 15 * i, 0.04 * i)
    for k in range(6):
        bore(t, ((1.5 + k) * i, 2.6 * i), 0.24 * i, 0.3 * i, 0.125 * i, 0.03 * i, f"b{k}")
    shop.stage(
        t, INCH_R, ["CABLE COMB HOLES", "1/8 END MILL"], 20000, high=25.4, name="holes",
        bit="eighth", depth="0.3 in", max_ramp_angle="8 deg",
    )  # fmt: skip
    t = Tape(0.2 * i, 70 * i, 20 * i, 0.04 * i)
    cut_out(
        t, rect_outline((0.5 * i, 0.5 * i), (7.5 * i, 3.5 * i), 0.25 * i), 0.51 * i, 0.13 * i, "c",
        (1, 2, 3), -0.36 * i, 0.5 * i,
    )  # fmt: skip
    shop.stage(
        t, INCH_R, ["CABLE COMB OUTLINE", "1/4 END MILL"], 18000, high=25.4, name="outline",
        bit="quarter", depth="through",
    )  # fmt: skip
    return shop


JOBS = (tray, coaster, bracket, panel, dome, sign, template, lid_inside, lid_outside, comb)

M = Mistake


def _short(shop: Shop) -> None:
    shop.table["bits"]["flat-6"].update(flute_length="12 mm", stickout="14 mm")


MISTAKES = (
    M("tray", "a 9 typed for the 8 of the last level", 1, word(1, "p/2/ramp2", "Z", -9),
      ("too-deep",), ("p/2/ramp2..p/2/ring0/0",)),
    M("tray", "zero set at the corner, program made for the middle", None,
      declare("stock/zero", "front-left-top"), ("zero-suspect", "off-stock")),
    M("tray", "6 mm bit declared and fitted for the corners", 2,
      declare("stages/1/bit", "flat-6"), ("bit-mismatch",), ("note1",)),
    M("tray", "tabs 1.5 mm high where 4 were meant", 3, every(3, "c/5/tab-up.", "Z", -16.5),
      ("thin-tab",), ("c/5/to-tab1..c/5/tab-down4",)),
    M("tray", "corners run before the hollow", None, swap(1, 2),
      ("stage-order", "not-cleared", "missing-stage", "idle-stage")),
    M("tray", "second level of the hollow lost", 1, span(1, "p/1/over", "p/1/up"),
      ("deep-pass",), ("p/2/ramp..p/2/ring0/2",)),
    M("tray", "left clamp pushed 15 mm over the blank", 3,
      declare("clamps/0", clamp("left", (-135, -20), (-100, 20), 12)), ("clamp-hit",),
      ("c/0/side1",)),
    M("coaster", "inch numbers under a G21", 1, text(1, "unit", "G20", "G21"),
      ("units-suspect",), ("unit",)),
    M("coaster", "spindle start left out", 2, drop(2, "spin"), ("spindle-off",), ("c/0/ramp",)),
    M("coaster", "blank thicker than the programs were made for", None,
      declare("stock/size/2", "0.42 in"), ("thickness-differs", "shallow")),
    M("coaster", "file cut off in the recess", 1, chop(1, "p/1/out3"), ("truncated", "no-end"),
      ("p/1/ring2",)),
    M("coaster", "a point lost: 1/8 in becomes 1.25", 1, word(1, "p/1/helix2", "Z", -1.25),
      ("too-deep", "through-cut", "bed-hit", "beyond-flute", "steep-entry"),
      ("p/1/helix2..p/1/ring0",)),
    M("bracket", "one hole drilled 1.5 mm off its counterbore", 1, word(1, "h/3", "X", plus(1.5)),
      ("off-centre",), ("1:h/3", "2:b3/over..b3/up")),
    M("bracket", "17.6 typed for 7.6", 1, word(1, "h/0", "Z", -17.6), ("spoilboard-deep",),
      ("h/0..h/3",)),
    M("bracket", "a zero lost from S", 2, word(2, "spin", "S", 1200), ("spindle-out-of-range",),
      ("spin",)),
    M("bracket", "a zero too many in F", 2, word(2, "b1/turn3", "F", 9000),
      ("chip-thick", "rate-over-machine"), ("b1/turn3",)),
    M("bracket", "right clamp pushed 12 mm further in", 3,
      declare("clamps/1", clamp("right", (104, 32), (138, 48), 10)), ("clamp-hit",),
      ("c/0/side3",)),
    M("bracket", "a pass of the outline lost", 3,
      span(3, "c/4/ramp", "c/4/back"), ("deep-pass",), ("c/5/ramp..c/5/side0",)),
    M("bracket", "counterbores run with the drill still in", 2, declare("stages/1/bit", "drill-4"),
      ("bit-mismatch",), ("note1",)),
    M("panel", "Z zeroed on top, programs made for the bed", None,
      declare("stock/zero", "front-left-top"), ("zero-suspect", "idle-stage", "shallow")),
    M("panel", "I with the wrong sign", 2, word(2, "b3/level", "I", times(-1)),
      ("circle-flipped",), ("b3/level",)),
    M("panel", "a point slipped in a step down", 1, word(1, "e21/down", "Z", times(10)),
      ("too-deep", "through-cut"), ("e21/down..e21/0",)),
    M("panel", "a point lost in the last level", 3, word(3, "c/3/ramp", "Z", -2),
      ("spoilboard-deep",), ("c/3/ramp..c/3/side0",)),
    M("panel", "no feed in the first stroke", 1, word(1, "e00/down", "F", GONE), ("no-feed",),
      ("e00/down",)),
    M("hills", "roughing left out of the job", None, leave_out(1), ("missing-stage",)),
    M("hills", "ball zeroed 1.5 mm further right", None,
      lambda shop: shop.table["stages"][1].update(zero_shift=["1.5 mm", "0 mm", "0 mm"]),
      ("stage-shifted",)),
    M("hills", "a point lost in one point of the relief", 2, word(2, "f/0/20/10", "Z", times(10)),
      ("too-deep", "through-cut", "bed-hit", "beyond-flute", "deep-pass"),
      ("f/0/20/10..f/0/20/11",)),
    M("hills", "flat bit left in for the finish", 2, declare("stages/1/bit", "flat-6"),
      ("bit-mismatch",), ("note1",)),
    M("hills", "first layer of the roughing lost", 1, span(1, "r/0/over", "r/0/up"),
      ("deep-pass",), ("r/1/0/0..r/1/up",)),
    M("sign", "ground left 1.65 mm too high", 1, every(1, "g/ramp2?", "z", times(0.45)),
      ("shallow", "not-cleared")),
    M("sign", "60 degree bit declared and fitted", 2, declare("stages/1/bit", "vee-60"),
      ("bit-mismatch",), ("note1",)),
    M("sign", "two rings of the ground lost", 1, span(1, "g/out3", "g/ring4/3"),
      ("uncut-ridge",), ("g/out5..g/ring5/3", "g/ring2/0..g/ring2/3")),
    M("sign", "the vee bit's zero 2 mm to the right", None,
      lambda shop: shop.table["stages"][1].update(zero_shift=["2 mm", "0 mm", "0 mm"]),
      ("stage-shifted",)),
    M("sign", "a point lost in a letter", 2, word(2, "s4/in", "z", times(10)),
      ("too-deep", "beyond-flute", "deep-pass", "thin-floor"), ("s4/in..s4/out",)),
    M("sign", "retract left out between the island's wall and the letters", 2, drop(2, "i/up"),
      ("retract-lost",), ("s0/over",)),
    M("template", "blank clamped 400 mm further right", None,
      declare("machine/work_zero/0", "550 mm"), ("beyond-travel",)),
    M("template", "no S for the drill", 2, word(2, "spin", "S", GONE), ("spindle-off",),
      ("spin", "h/0")),
    M("template", "G99 keeps the drill 2 mm above the board", 2, text(2, "h/0", "G98", "G99"),
      ("rapid-low",), ("h/1..h/11",)),
    M("template", "13 typed for 9", 2, word(2, "h/0", "Z", -13), ("too-deep", "through-cut"),
      ("h/0..h/11",)),
    M("template", "dwell without its time", 1, word(1, "dwell", "P", GONE), ("missing-word",),
      ("dwell",)),
    M("template", "a 3 typed for a 2 in an X of the first slot", 1,
      word(1, "p0/0/ring0/0", "X", plus(100)), ("off-stock", "zero-suspect", "clamp-hit"),
      ("p0/0/ring0/0..p0/0/ring0/2",)),
    M("lid-inside", "zero set at the front corner", None,
      declare("stock/zero", "front-left-top"), ("zero-suspect", "off-stock")),
    M("lid-inside", "second pass of the rebate lost", 1, span(1, "r/1/over", "r/1/up"),
      ("deep-pass",), ("r/2/0",)),
    M("lid-inside", "a minus before the approach height", 2, word(2, "p/0/near", "Z", times(-1)),
      ("rapid-plunge", "rapid-in-stock"), ("p/0/near",)),
    M("lid-inside", "an allowance that meets nothing", 2,
      insert(2, "p/0/down", "(dryrun: allow rapid-low (tried on scrap))"), ("idle-allowance",),
      ("new",)),
    M("lid-inside", "the peck word lost", 3, text(3, "h/0", " Q5.000", ""),
      ("missing-word",), ("h/0",)),
    M("lid-outside", "no tabs", 3, every(3, "c/5/tab-up.", "Z", -0.2), ("loose-part",),
      ("c/5/side4..c/5/close",)),
    M("lid-outside", "blank 17 mm, programs made for 15", None,
      declare("stock/size/2", "17 mm"), ("thickness-differs", "too-deep", "rapid-in-stock")),
    M("lid-outside", "R of a quarter turn mistyped", 1, word(1, "p/1/ring2", "R", times(0.5)),
      ("bad-arc",), ("p/1/ring2",)),
    M("lid-outside", "the short bit fitted", 3,
      _short, ("holder-hit", "shank-rub"),
      ("c/4/ramp..c/5/close",)),
    M("comb", "a second Y on the line", 2, append(2, "c/1/side1", " Y1."),
      ("conflicting-words",), ("c/1/side1",)),
    M("comb", "1/4 in bit left in for the holes", 1, declare("stages/0/bit", "quarter"),
      ("bit-mismatch",), ("note1",)),
    M("comb", "letter O for a zero", 2, text(2, "c/2/ramp", "Z-.", "Z-O."),
      ("unreadable-line", "unknown-word", "bad-expression"), ("c/2/ramp",)),
    M("comb", "down beside a tab with the feed of the cut", 2,
      word(2, "c/3/tab-down1", "F", 70), ("fast-plunge",), ("c/3/tab-down1",)),
    M("comb", "a figure mistyped in a helix", 1, word(1, "b2/turn5", "Z", times(1.9)),
      ("steep-entry",), ("b2/turn5",)),
)  # fmt: skip
