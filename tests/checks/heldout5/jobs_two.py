"""More jobs: plastic wheels, nameplates, inlays, bowls, clocks, fences, organisers, rings."""

from __future__ import annotations

import math
import re

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
    line,
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
    dropped,
    rect_outline,
    rect_pocket,
    relief,
    round_cut_out,
    round_pocket,
    stroke,
    tapered,
)
from tests.checks.heldout5.shopfloor import bench, clamp, rack, small
from tests.checks.heldout5.tape import (
    DENSE,
    HAND,
    LONG,
    PLAIN,
    POST,
    SMALL,
    STEPS,
    Line,
    Tape,
    write,
)


def wheel() -> Shop:
    shop = Shop(
        "wheel",
        {
            "title": "Jig wheel",
            "units": "mm",
            "stock": {
                "size": ["160 mm", "160 mm", "10 mm"],
                "zero": "centre-top",
                "material": "HDPE sheet",
                "spoilboard": "12 mm",
                "allow_into_spoilboard": "0.3 mm",
            },
            "machine": small(),
            "clamps": [],
            "bits": rack("one-6"),
        },
    )
    t = Tape(5, 1500, 400)
    round_pocket(t, (80, 80), 20, 5, 6, 2.5, "p")
    for k in range(6):
        a = math.radians(60 * k + 30)
        bore(t, (80 + 45 * math.cos(a), 80 + 45 * math.sin(a)), 10, 6, 6, 0.9, f"b{k}")
    shop.stage(
        t, STEPS, ["jig wheel, hub and holes", "single flute upcut flat 6mm"], 14000,
        name="hub", bit="one-6", depth="6 mm",
    )  # fmt: skip
    t = Tape(5, 1500, 400)
    tabs = (-90.0, -180.0, -270.0, -315.0)
    round_cut_out(t, (80, 80), 73, 10.2, 2.1, "c", tabs, -7.5, 12)
    shop.stage(
        t, STEPS, ["jig wheel, rim", "single flute upcut flat 6mm"], 14000, name="rim",
        bit="one-6", depth="through",
    )  # fmt: skip
    return shop


def nameplate() -> Shop:
    shop = Shop(
        "nameplate",
        {
            "title": "Nameplate",
            "units": "mm",
            "stock": {
                "size": ["100 mm", "50 mm", "2 mm"],
                "zero": "front-left-top",
                "material": "aluminium",
                "spoilboard": "10 mm",
                "allow_into_spoilboard": "0.3 mm",
            },
            "machine": bench(["200 mm", "150 mm", "-50 mm"]),
            "clamps": [],
            "bits": rack("vee-60", "alu-2"),
        },
    )
    t = Tape(4, 400, 120)
    letters = [
        [(25, 18), (25, 32), (33, 18), (33, 32)],
        [(40, 32), (40, 22), (44, 18), (48, 22), (48, 32)],
        [(55, 18), (55, 32), (62, 25), (55, 25)],
        [(70, 32), (70, 18), (78, 18)],
    ]
    for k, points in enumerate(letters):
        stroke(t, [(float(x), float(y)) for x, y in points], -0.2, f"e{k}")
    shop.stage(
        t, POST, ["NAMEPLATE LETTERS", "T1 V-BIT 60 DEG"], 18000, name="letters", bit="vee-60",
        depth="0.2 mm",
    )  # fmt: skip
    t = Tape(4, 400, 120)
    for k, x in enumerate((14.0, 86.0)):
        bore(t, (x, 25), 3.2, 2.15, 2, 0.2, f"b{k}")
    cut_out(t, rect_outline((6, 6), (94, 44), 2), 2.15, 0.2, "c", (1, 2, 3), -1.4, 6)
    shop.stage(
        t, POST, ["NAMEPLATE HOLES AND OUTLINE", "T2 ENDMILL D2 CARBIDE 2 FLUTES"], 18000,
        name="outline", bit="alu-2", depth="through", max_pass="0.3 mm",
    )  # fmt: skip
    return shop


DOTS = [(30.0 + 40 * k, y) for y in (40.0, 80.0) for k in range(4)]


def inlay() -> Shop:
    shop = Shop(
        "inlay",
        {
            "title": "Counter board",
            "units": "mm",
            "stock": {
                "size": ["180 mm", "120 mm", "12 mm"],
                "zero": "front-left-bed",
                "material": "birch plywood",
                "spoilboard": "10 mm",
                "allow_into_spoilboard": "0.3 mm",
            },
            "machine": bench(["100 mm", "100 mm", "-70 mm"]),
            "clamps": [
                clamp("left", (-30, 50), (4, 70), 8),
                clamp("right", (176, 50), (210, 70), 8),
            ],
            "bits": rack("flat-4", "flat-6"),
        },
    )
    t = Tape(5, 1500, 400)
    for k, at in enumerate(DOTS):
        round_pocket(t, at, 12, 3, 4, 1.5, f"p{k}")
    shop.stage(
        t, HAND, ["counter board", "4 mm end mill, flat"], 18000, high=35, name="pockets",
        bit="flat-4", depth="3 mm",
    )  # fmt: skip
    t = Tape(5, 2000, 500)
    cut_out(t, rect_outline((12, 12), (168, 108), 6), 12.2, 2.5, "c", (0, 2, 4), -9, 12)
    shop.stage(
        t, PLAIN, ["counter board", "6 mm end mill, flat"], 18000, high=35, name="outline",
        bit="flat-6", depth="through", tab_width="5 mm", tab_height="2.5 mm",
    )  # fmt: skip
    return shop


def dish(x: np.ndarray, y: float) -> np.ndarray:
    return np.minimum(0.0, -18 * (1 - ((x - 70) ** 2 + (y - 70) ** 2) / 55**2))


def bowl() -> Shop:
    shop = Shop(
        "bowl",
        {
            "title": "Small bowl",
            "units": "mm",
            "stock": {
                "size": ["140 mm", "140 mm", "30 mm"],
                "zero": "centre-top",
                "material": "cherry",
                "spoilboard": "12 mm",
            },
            "machine": bench(["310 mm", "210 mm", "-50 mm"]),
            "clamps": [],
            "bits": rack("flat-8", "ball-8"),
        },
    )
    t = Tape(5, 2200, 600)
    top = 0.0
    for n in range(7):
        z = -17.5 * (n + 1) / 7
        radius = 55 * math.sqrt(1 + (z - 0.5) / 18) if z - 0.5 > -18 else 6.5
        round_pocket(t, (70, 70), max(radius, 6.5), top - z, 8, 3, f"p{n}", top=top)
        top = z
    shop.stage(
        t, PLAIN, ["small bowl, roughing", "flat end mill 8 mm"], 16000, name="rough",
        bit="flat-8", depth="17.5 mm", max_pass="3 mm",
    )  # fmt: skip
    t = Tape(5, 2200, 600)
    radii = np.arange(0.8, 54.0, 0.8)
    zs = dropped(dish, 70 + radii, 70, "ball", 4)
    t.to(70, 70, "f")
    t.mark("f/down").down(float(dropped(dish, np.array([70.0]), 70, "ball", 4)[0]))
    for k, (r, z) in enumerate(zip(radii, zs, strict=True)):
        if z > -0.2:
            break
        t.mark(f"f/{k}/out").cut(70 + float(r), 70, float(z))
        t.mark(f"f/{k}").turn((70, 70))
    t.mark("f/up").up()
    shop.stage(
        t, PLAIN, ["small bowl, finishing", "ball nose 8 mm"], 18000, name="finish",
        bit="ball-8", depth="18 mm",
    )  # fmt: skip
    return shop


def clock() -> Shop:
    shop = Shop(
        "clock",
        {
            "title": "Clock face",
            "units": "mm",
            "stock": {
                "size": ["200 mm", "200 mm", "12 mm"],
                "nominal_thickness": "12 mm",
                "zero": "centre-top",
                "material": "maple",
                "spoilboard": "12 mm",
                "allow_into_spoilboard": "0.3 mm",
            },
            "machine": bench(["310 mm", "210 mm", "-60 mm"]),
            "clamps": [],
            "bits": rack("flat-6", "vee-60", "vee-90"),
        },
    )
    t = Tape(5, 2000, 500)
    round_pocket(t, (100, 100), 28, 12.2, 6, 2.5, "p")
    shop.stage(
        t, SMALL, ["clock face, opening for the movement", "flat, 6 mm, two flutes"], 18000,
        name="opening", bit="flat-6", depth="through",
    )  # fmt: skip
    t = Tape(5, 1500, 400)
    for k in range(12):
        a = math.radians(30 * k)
        ends = [(100 + r * math.cos(a), 100 + r * math.sin(a)) for r in (62.0, 82.0)]
        tapered(t, ends[0], ends[1], -2.4, f"m{k}")
    ring = 45.0
    t.to(100 + ring, 100, "q")
    t.mark("q/down").down(-0.8)
    t.mark("q/turn").turn((100, 100))
    t.mark("q/up").up()
    t.to(100 + ring + 4, 100, "w")
    t.mark("w/down").down(-0.8)
    t.mark("w/turn").turn((100, 100))
    t.mark("w/up").up()
    shop.stage(
        t, SMALL, ["clock face, hours", "vee, 60 degrees"], 15000, name="hours", bit="vee-60",
        depth="2.4 mm",
    )  # fmt: skip
    t = Tape(5, 2000, 500)
    tabs = (-160.0, -230.0, -300.0)
    round_cut_out(t, (100, 100), 93, 12.2, 2.5, "c", tabs, -9, 12)
    shop.stage(
        t, SMALL, ["clock face, rim", "flat, 6 mm, two flutes"], 18000, name="rim", bit="flat-6",
        depth="through",
    )  # fmt: skip
    return shop


def fence() -> Shop:
    shop = Shop(
        "fence",
        {
            "title": "Router fence",
            "units": "mm",
            "stock": {
                "size": ["280 mm", "90 mm", "19 mm"],
                "zero": "back-right-top",
                "material": "MDF",
                "spoilboard": "12 mm",
            },
            "machine": bench(["500 mm", "300 mm", "-50 mm"]),
            "clamps": [],
            "bits": rack("flat-12", "flat-6", "flat-8"),
        },
    )
    t = Tape(5, 3000, 700)
    rows = [2 + 8.6 * k for k in range(11)]
    here = -8.0
    for k, y in enumerate(rows):
        if k == 0:
            t.to(here, y, "f")
            t.mark("f/down").down(-0.6)
        else:
            t.mark(f"f/{k}/next").cut(here, y)
        here = 280 - here
        t.mark(f"f/{k}").cut(here, y)
    t.mark("f/up").up()
    shop.stage(
        t, DENSE, ["ROUTER FENCE, FACE", "12MM FLAT, 2 FLUTES"], 14000, name="face",
        bit="flat-12", depth="0.6 mm",
    )  # fmt: skip
    t = Tape(5, 2200, 600)
    for k, y in enumerate((22.0, 45.0, 68.0)):
        rect_pocket(t, (20, y - 4.5), (260, y + 4.5), 6, 6, 2, f"p{k}")
    shop.stage(
        t, DENSE, ["ROUTER FENCE, GROOVES", "6MM FLAT, 2 FLUTES"], 18000, name="grooves",
        bit="flat-6", depth="6 mm",
    )  # fmt: skip
    return shop


CELLS = [((x, y), (x + 100.0, y + 65.0)) for y in (20.0, 95.0) for x in (25.0, 135.0)]


def organiser() -> Shop:
    spindle = {"min": "8000 rpm", "max": "24000 rpm", "power": "900 W", "start_seconds": "8 s"}
    shop = Shop(
        "organiser",
        {
            "title": "Drawer organiser",
            "units": "mm",
            "stock": {
                "size": ["260 mm", "180 mm", "12 mm"],
                "zero": "front-right-top",
                "material": "poplar plywood",
                "spoilboard": "12 mm",
                "allow_into_spoilboard": "0.3 mm",
            },
            "machine": bench(
                ["400 mm", "120 mm", "-50 mm"], spindle=spindle,
                dust_shoe={"diameter": "80 mm", "drop": "8 mm"},
            ),
            "clamps": [],
            "bits": rack("flat-8", "flat-6", "flat-3"),
        },
    )  # fmt: skip
    t = Tape(5, 2400, 600)
    for k, (low, high) in enumerate(CELLS):
        rect_pocket(t, low, high, 7.5, 8, 2.5, f"p{k}")
    shop.stage(
        t, PLAIN, ["drawer organiser, cells"], 16000, dwell=9, name="cells", bit="flat-8",
        depth="7.5 mm", max_pass="3 mm",
    )  # fmt: skip
    t = Tape(5, 2000, 500)
    cut_out(t, rect_outline((10, 8), (250, 172), 6), 12.2, 2.5, "c", (1, 2, 3, 4), -9, 12)
    shop.stage(
        t, PLAIN, ["drawer organiser, outline"], 18000, dwell=9, name="outline", bit="flat-6",
        depth="through", tab_width="5 mm", tab_height="2.5 mm",
    )  # fmt: skip
    return shop


def _twice(lines: list[Line]) -> list[Line]:
    """The moves as a subprogram, called under two work offsets."""
    at = {mark: k for k, row in enumerate(lines) for mark in row.marks}
    head, body = lines[: at["dwell"] + 1], lines[at["dwell"] + 1 : at["last-up"]]
    calls = [Line(x, {x}) for x in ("M98 P100", "G55", "M98 P100")]
    calls[2].marks = {"second"}
    tail = [*lines[at["last-up"] :], Line("O100", {"O"}), *body, Line("M99", {"M99"})]
    return [*head, *calls, *tail]


def keyrings() -> Shop:
    offsets = {"G55": ["60 mm", "0 mm", "0 mm"]}
    shop = Shop(
        "keyrings",
        {
            "title": "Two key fobs",
            "units": "mm",
            "stock": {
                "size": ["130 mm", "60 mm", "5 mm"],
                "zero": "front-left-top",
                "material": "oak",
                "spoilboard": "10 mm",
                "allow_into_spoilboard": "0.3 mm",
            },
            "machine": bench(["100 mm", "100 mm", "-50 mm"]),
            "clamps": [],
            "bits": rack("flat-3", "vee-90"),
        },
    )
    t = Tape(5, 1200, 300)
    stroke(t, [(20, 20), (20, 40), (30, 30), (40, 40), (40, 20)], -0.6, "e")
    lines = write(
        t, LONG, ["TWO FOBS: LETTER M", "90 DEGREE VEE"], 14000, shop.zero()
    )  # fmt: skip
    shop.add(_twice(lines), name="letter", bit="vee-90", depth="0.6 mm", offsets=offsets)
    t = Tape(5, 1200, 300)
    bore(t, (32, 47), 5, 5.15, 3, 0.6, "b")
    cut_out(t, rect_outline((10, 10), (54, 54), 3), 5.2, 1.3, "c", (1, 2, 3), -3.5, 8, ramp=15)
    lines = write(t, LONG, ["TWO FOBS: HOLE, OUTLINE", "FLAT 3 MM"], 18000, shop.zero())
    shop.add(_twice(lines), name="outline", bit="flat-3", depth="through", offsets=offsets)
    return shop


def bump(x: np.ndarray, y: float) -> np.ndarray:
    one = np.exp(-(((x - 18) / 9) ** 2) - ((y - 15) / 9) ** 2)
    two = np.exp(-(((x - 34) / 7) ** 2) - ((y - 17) / 8) ** 2)
    return -3.4 + 3.3 * np.minimum(1.0, np.maximum(one, two))


def pendant() -> Shop:
    shop = Shop(
        "pendant",
        {
            "title": "Pendant",
            "units": "mm",
            "stock": {
                "size": ["50 mm", "32 mm", "9 mm"],
                "zero": "centre-top",
                "material": "pear",
                "spoilboard": "10 mm",
            },
            "machine": small(),
            "clamps": [],
            "bits": rack("flat-3", "tapered", "ball-6"),
        },
    )
    t = Tape(5, 1400, 400)
    relief(t, bump, (50, 32), "flat", 1.5, 1.3, (-1.6, -3.1), 0.3, "r")
    shop.stage(
        t, SMALL, ["pendant, rough", "3 mm flat"], 20000, name="rough", bit="flat-3",
        depth="3.1 mm", max_pass="2 mm",
    )  # fmt: skip
    t = Tape(5, 1600, 400)
    relief(t, bump, (50, 32), "ball", 0.75, 0.3, (-99,), 0.0, "f", 0.5)
    shop.stage(
        t, SMALL, ["pendant, fine", "tapered ball, tip radius 0.75 mm"], 22000, name="fine",
        bit="tapered", depth="3.4 mm",
    )  # fmt: skip
    return shop


def speaker() -> Shop:
    shop = Shop(
        "speaker",
        {
            "title": "Speaker ring",
            "units": "mm",
            "stock": {
                "size": ["220 mm", "220 mm", "15 mm"],
                "zero": "centre-top",
                "material": "MDF board",
                "spoilboard": "12 mm",
                "allow_into_spoilboard": "0.3 mm",
            },
            "machine": bench(["310 mm", "210 mm", "-60 mm"]),
            "clamps": [],
            "bits": rack("flat-12", "flat-6"),
        },
    )
    t = Tape(5, 3000, 800)
    round_pocket(t, (110, 110), 80, 5, 12, 2.5, "p", inner=55)
    shop.stage(
        t, PLAIN, ["speaker ring, rebate", "2 flute straight bit, 12 mm"], 14000, name="rebate",
        bit="flat-12", depth="5 mm",
    )  # fmt: skip
    t = Tape(5, 2200, 600)
    c = (110.0, 110.0)
    tabs = [200.0, 260.0, 320.0]
    round_cut_out(t, c, 62, 15.2, 2.6, "i", tabs, -12, 12, True)
    round_cut_out(t, c, 103, 15.2, 2.6, "o", [-x for x in tabs], -12, 12)
    shop.stage(
        t, PLAIN, ["speaker ring, cut out", "2 flute upcut bit, 6 mm"], 18000, name="cut out",
        bit="flat-6", depth="through", tab_height="2 mm",
    )  # fmt: skip
    return shop


JOBS = (wheel, nameplate, inlay, bowl, clock, fence, organiser, keyrings, pendant, speaker)


def _fat_shank(shop: Shop) -> None:
    shop.table["bits"]["flat-6"].update(flute_length="9 mm", shank="8 mm")


def _exchanged(shop: Shop) -> None:
    first, second = shop.table["stages"]
    first["bit"], second["bit"] = second["bit"], first["bit"]


def _far(shop: Shop) -> None:
    for stage in shop.table["stages"]:
        stage["offsets"] = {"G55": ["600 mm", "0 mm", "0 mm"]}


def _bare(shop: Shop) -> None:
    at = line(shop, 2, "p1/0/ring0/1")
    at.text = re.sub("Y-?[0-9.]+", "Y", at.text)


M = Mistake
MISTAKES = (
    M("wheel", "a point slipped in a step down", 1, word(1, "b2/turn4", "Z", times(10)),
      ("too-deep", "through-cut"), ("b2/turn4..b2/level",)),
    M("wheel", "I with the wrong sign in a helix", 1, word(1, "b4/turn3", "I", times(-1)),
      ("circle-flipped",), ("b4/turn3",)),
    M("wheel", "S typed for another spindle", 2, word(2, "spin", "S", 40000),
      ("spindle-out-of-range", "surface-speed"), ("spin",)),
    M("wheel", "no end of program", 2, drop(2, "off", "end"), ("no-end",)),
    M("wheel", "a G2 and a G3 on one line", 1,
      text(1, "p/0/helix1", "G3", "G2 G3"), ("conflicting-words",),
      ("p/0/helix1",)),
    M("wheel", "U typed for X", 1, text(1, "p/1/out2", "X", "U"),
      ("unknown-word", "not-accepted", "ignored-word", "missing-word"), ("p/1/out2",)),
    M("nameplate", "retract left out between two letters", 1, drop(1, "e1/up"),
      ("rapid-in-stock",), ("e2/over",)),
    M("nameplate", "a zero too many in the feed", 2, word(2, "b0/turn1", "F", 4000),
      ("chip-thick",), ("b0/turn1..b0/up",)),
    M("nameplate", "the bit at hand bears 16000 rpm only", 2,
      lambda shop: shop.table["bits"]["alu-2"].update(max_rpm="16000 rpm"),
      ("spindle-out-of-range",), ("spin",)),
    M("nameplate", "bracket of the comment not closed", 2,
      text(2, "note1", ")", ""), ("unreadable-line",), ("note1",)),
    M("nameplate", "three passes of the outline lost", 2, span(2, "c/3/ramp", "c/5/back"),
      ("deep-pass",), ("c/6/ramp..c/6/side0",)),
    M("nameplate", "letters cut with the 2 mm end mill", 1,
      declare("stages/0/bit", "alu-2"), ("bit-mismatch",), ("note1",)),
    M("inlay", "Z typed 6 for 9: three mm lower", 1, word(1, "p5/1/helix1", "Z", plus(-3)),
      ("too-deep",), ("p5/1/helix1..p5/1/helix2",)),
    M("inlay", "Z zeroed on the top, programs made for the bed", None,
      declare("stock/zero", "front-left-top"), ("zero-suspect", "idle-stage", "shallow")),
    M("inlay", "bits of the two stages exchanged", 1,
      _exchanged,
      ("bit-mismatch",), ("note1", "2:note1")),
    M("inlay", "one I of a ring with the wrong sign", 1, word(1, "p2/1/ring3", "I", times(-1)),
      ("circle-flipped",), ("p2/1/ring3",)),
    M("inlay", "tabs lower than asked for", 2, every(2, "c/4/tab-up.", "Z", 1), ("thin-tab",),
      ("c/4/to-tab0..c/4/tab-down4",)),
    M("bowl", "roughing left out of the job", None, leave_out(1), ("missing-stage",)),
    M("bowl", "ball zeroed 1 mm too low", None,
      lambda shop: shop.table["stages"][1].update(zero_shift=["0 mm", "0 mm", "-1 mm"]),
      ("stage-shifted", "too-deep")),
    M("bowl", "a level of the roughing lost", 1, span(1, "p2/0/over", "p2/0/up"),
      ("deep-pass",), ("p3/0/helix1..p3/0/up",)),
    M("bowl", "a zero lost from the feed of a level", 1, word(1, "p1/0/helix1", "F", 220),
      ("chip-thin",), ("p1/0/helix1..p1/0/up",)),
    M("bowl", "the bowl finished before it is roughed", None, swap(1, 2),
      ("missing-stage", "idle-stage", "stage-order")),
    M("bowl", "18.6 mm board for the 30 mm blank", None,
      declare("stock/size/2", "18.6 mm"), ("thin-floor",)),
    M("clock", "blank planed to 11.4 mm", None, declare("stock/size/2", "11.4 mm"),
      ("spoilboard-deep", "thickness-differs")),
    M("clock", "a point lost in an hour", 2, word(2, "m7/in", "z", times(10)),
      ("too-deep", "through-cut", "beyond-flute", "deep-pass"), ("m7/in..m7/out",)),
    M("clock", "retract left out between the two rings", 2, drop(2, "q/up"),
      ("bad-arc", "retract-lost"), ("w/over",)),
    M("clock", "90 degree bit in the collet", 2, declare("stages/1/bit", "vee-90"),
      ("bit-mismatch",), ("note1",)),
    M("clock", "the end of the rim is missing", 3, chop(3, "c/4/tab1"),
      ("truncated", "no-end"), ("c/4/tab-up1",)),
    M("clock", "no tab at the end of the rim", 3, every(3, "c/4/tab-up.", "z", -12.2),
      ("loose-part",), ("c/4/close",)),
    M("fence", "6 for 0.6", 1, word(1, "f/down", "Z", -6), ("too-deep",),
      ("f/down..f/0",)),
    M("fence", "retract half a millimetre high", 2, word(2, "p0/2/up", "Z", 0.5),
      ("rapid-low",), ("p1/0/over",)),
    M("fence", "retract left out between two grooves", 2, drop(2, "p1/2/up"),
      ("retract-lost",), ("p2/0/over",)),
    M("fence", "no unit", 2, text(2, "unit", "G21", ""), ("units-not-set",)),
    M("fence", "8 mm bit for the grooves", 2, declare("stages/1/bit", "flat-8"),
      ("bit-mismatch",), ("note1",)),
    M("fence", "back and front taken for one another", None,
      declare("stock/zero", "front-right-top"), ("zero-suspect", "off-stock")),
    M("fence", "a number lost behind Y", 2, _bare,
      ("unreadable-line", "missing-word"), ("p1/0/ring0/1",)),
    M("organiser", "3 mm bit in the collet, nothing in the program names one", 1,
      declare("stages/0/bit", "flat-3"), ("uncut-ridge", "bit-suspect")),
    M("organiser", "no wait for the spindle", 1, drop(1, "dwell"), ("no-spin-up",),
      ("spin", "p0/0/ramp")),
    M("organiser", "a minus lost", 1, word(1, "p2/0/over", "X", times(-1)),
      ("off-stock", "zero-suspect", "odd-pass"), ("p2/0/ramp",)),
    M("organiser", "dust shoe 24 mm lower", None,
      declare("machine/dust_shoe/drop", "32 mm"), ("body-low",)),
    M("organiser", "two levels of a cell in one", 1, span(1, "p3/1/over", "p3/1/up"),
      ("deep-pass",), ("p3/2/ramp..p3/2/ring0/3",)),
    M("organiser", "a 6 mm bit that does not cut at its centre", 2,
      declare("bits/flat-6/centre_cutting", False), ("steep-entry",),
      ("c/3/tab-down1..c/4/tab-down4",)),
    M("organiser", "the blank lies too near the machine's right end", None,
      declare("machine/work_zero/0", "640 mm"), ("beyond-travel",)),
    M("keyrings", "a point lost in the hole", 2, word(2, "b/turn4", "Z", times(10)),
      ("spoilboard-deep", "bed-hit", "beyond-flute", "deep-pass", "steep-entry"),
      ("b/turn4..b/turn5",)),
    M("keyrings", "second offset typed 600 for 60", None,
      _far,
      ("off-stock", "beyond-travel", "zero-suspect")),
    M("keyrings", "feed of the first cut left out", 2,
      word(2, "b/down", "F", GONE), ("no-feed",), ("b/down",)),
    M("keyrings", "I typed without its minus in the hole", 2, word(2, "b/turn5", "I", times(-1)),
      ("circle-flipped",), ("b/turn5",)),
    M("pendant", "rough stage left out", None, leave_out(1), ("missing-stage",)),
    M("pendant", "6 mm ball in the collet", 2, declare("stages/1/bit", "ball-6"),
      ("bit-mismatch",), ("note1",)),
    M("pendant", "first layer of the rough stage lost", 1, span(1, "r/0/over", "r/0/up"),
      ("deep-pass",), ("r/1/0/0..r/1/up",)),
    M("pendant", "the fine bit zeroed 0.8 mm too low", None,
      lambda shop: shop.table["stages"][1].update(zero_shift=["0 mm", "0 mm", "-0.8 mm"]),
      ("too-deep", "stage-shifted")),
    M("speaker", "retract left out between the two cut-outs", 2, drop(2, "i/up"),
      ("bad-arc", "retract-lost"), ("o/over",)),
    M("speaker", "a stub bit with a thick shank", 2, _fat_shank, ("shank-rub",)),
    M("speaker", "two feeds on one line", 1, append(1, "p/1/ring2", " F500 F800"),
      ("conflicting-words",), ("p/1/ring2",)),
    M("speaker", "approach height with a minus", 2, word(2, "o/near", "Z", -1),
      ("rapid-plunge", "rapid-in-stock"), ("o/near",)),
    M("speaker", "an allowance for a code that is not one", 1,
      insert(1, "p/0/down", "(dryrun: allow deep-cut (tried))"), ("idle-allowance",), ("new",)),
    M("speaker", "programs read in inches", 2, text(2, "unit", "G21", "G20"),
      ("units-suspect",), ("unit",)),
)  # fmt: skip
