"""Clean jobs: lettering, relief, grooves, chamfers, form bits."""

import math

from .kit import HALL, SMALL, TABLE, bit, clamp, flat, levels, made, ring, tabbed_box
from .tape import Made, Tape


def lettering() -> Made:
    """Return a house number by a vee: single strokes that swell and fade."""
    m = made(
        "lettering",
        (260, 110, 20),
        "front-left-top",
        "oak",
        TABLE,
        {"v60": bit("vee", 12, 10, 30, shank=6, angle="60 deg")},
    )
    t = Tape("packed")
    t("(HOUSE NUMBER)", "(V-BIT 60 DEG)", "G90 G21 G17", "M3 S18000", "G4 P4", "G0 Z12", name="up")
    strokes = [
        [(40, 85), (55, 95), (55, 20)],
        [(40, 20), (70, 20)],
        [(110, 85), (125, 95), (140, 85), (140, 75), (108, 22), (142, 22)],
        [(180, 60), (220, 60)],
        [(210, 95), (210, 20)],
        [(210, 95), (180, 62)],
    ]
    for k, stroke in enumerate(strokes):
        t.to("G0", x=stroke[0][0], y=stroke[0][1], name=f"stroke-{k}")
        t("G0 Z2", "G1 Z0 F600")
        for j, (x, y) in enumerate(stroke[1:]):
            x0, y0 = stroke[j]
            t.to(x=(x + x0) / 2, y=(y + y0) / 2, z=-2.6, f=1500, name=f"swell-{k}-{j}")
            t.to(x=x, y=y, z=-1.0, name=f"fade-{k}-{j}")
        t("G0 Z12", name=f"lift-{k}")
    return m.stage(t("G91 G28 Z0", "G90", "M5", "M30", name="end"), "v60", "2.6 mm")


def _hill(x: float, y: float) -> float:
    return -3.5 + 2.5 * math.cos(math.pi * x / 50) * math.cos(math.pi * y / 36)


def relief() -> Made:
    """Return a lime relief: rough in two layers along X, finish by a ball across."""
    m = made(
        "relief",
        (120, 90, 22),
        "centre-top",
        "lime",
        TABLE,
        {"f6": flat(6, 22, 34), "b3": bit("ball", 3, 15, 28, shank=6)},
    )
    m.head["machine"]["work_zero"] = ["400 mm", "300 mm", "-90 mm"]
    a = Tape("dots")
    a("(RELIEF ROUGH, 6 MM FLAT, 0.5 LEFT)", "G21 G90", "S18000 M3", "G4 P4.", "G0 Z15.")
    for low in (-3.0, -6.0):
        row = 0
        y = -33.0
        while y <= 33:
            xs = [(-50 + 2.5 * i) for i in range(41)]
            xs = xs if row % 2 == 0 else xs[::-1]
            for i, x in enumerate(xs):
                over = max(
                    _hill(x + 3 * math.cos(t), y + 3 * math.sin(t)) for t in (0, 1, 2, 3, 4, 5)
                )
                z = max(low, over + 0.5)
                if i == 0 and row == 0:
                    a.to("G0", x=x, y=y)
                    a("G0 Z2.")
                    a.to(z=z, f=500, name=f"rough-in{low:g}")
                else:
                    a.to(x=x, y=y, z=z, f=2200, name=f"rough{low:g}-{row}-{i}")
            row += 1
            y += 2.5
        a("G0 Z15.", name=f"rough-up{low:g}")
    m.stage(a("M5", "M30", name="end"), "f6", "5.4 mm", max_pass="4 mm")
    b = Tape("fixed")
    b("(RELIEF FINISH, 3 MM BALL)", "G21 G90", "S20000 M3", "G4 P4", "G0 Z15")
    for row in range(121):
        x = -48 + 0.8 * row
        for i in range(33):
            y = (-32 + 2 * i) * (1 if row % 2 == 0 else -1)
            z = max(
                _hill(x + 1.5 * c, y + 1.5 * s) - 1.5 * (1 - math.sqrt(1 - 0.9 * (c * c + s * s)))
                for c, s in ((0, 0), (0.5, 0), (-0.5, 0), (0, 0.5), (0, -0.5))
            )
            if row == 0 and i == 0:
                b.to("G0", x=x, y=y)
                b("G0 Z1").to(z=z, f=500, name="finish-in")
            else:
                b.to(x=x, y=y, z=z, f=1800, name=f"finish-{row}-{i}")
    return m.stage(b("G0 Z15", "M5", "M30", name="end"), "b3", "6 mm")


def shallow_relief() -> Made:
    """Return a gentle relief straight from the blank by a tapered ball."""
    m = made(
        "shallow_relief",
        (80, 80, 15),
        "centre-top",
        "cherry",
        SMALL,
        {"tb": bit("taper-ball", 6, 20, 30, shank=6, angle="5 deg", tip_radius="0.75 mm")},
    )
    m.head["machine"]["work_zero"] = ["-150 mm", "-100 mm", "-45 mm"]
    t = Tape("packed")
    t("(LEAF, TAPER BALL R0.75)", "G21G90", "M3S20000", "G4P3", "G0Z6")
    for row in range(100):
        y = -25 + 0.5 * row
        for i in range(26):
            x = (-25 + 2 * i) * (1 if row % 2 == 0 else -1)
            r = math.hypot(x, y) / 25
            z = -1.2 * max(0.0, 1 - r * r) * (0.7 + 0.3 * math.cos(6 * math.atan2(y, x)))
            if row == 0 and i == 0:
                t.to("G0", x=x, y=y)
                t("G0 Z1").to(z=z, f=400, name="in")
            else:
                t.to(x=x, y=y, z=z, f=1400, name=f"leaf-{row}-{i}")
    return m.stage(t("G0Z6", "X-35Y-35", "M5", "M2", name="end"), "tb", "1.2 mm")


def dovetail() -> Made:
    """Return a sliding dovetail: rough with a flat bit, then the form bit, edge to edge."""
    m = made(
        "dovetail",
        (140, 100, 20),
        "front-left-top",
        "maple",
        TABLE,
        {
            "f8": flat(8, 25, 36),
            "dove": {
                "shape": "form",
                "profile": [["0 mm", "0 mm"], ["7 mm", "0 mm"], ["5 mm", "12 mm"]],
                "flutes": 2,
                "flute_length": "12 mm",
                "shank": "8 mm",
                "stickout": "36 mm",
                "material": "carbide",
            },
        },
    )
    a = Tape()
    a("(slot first, 8 mm flat)", "G21 G90", "M3 S18000", "G4 P4", "G0 Z20", "G0 X70 Y-10", "Z2")
    for k, z in enumerate((-4.0, -8.0, -10.0)):
        a.to(z=z, f=800)
        a.to(y=110 if k % 2 == 0 else -10, f=3000, name=f"slot-{k}")
    m.stage(a("G0 Z20", "M5", "M30", name="end"), "f8", "10 mm")
    b = Tape()
    b("(dovetail 14 mm)", "G21 G90", "M3 S16000", "G4 P4", "G0 Z20", "G0 X70 Y-14", "Z2")
    b("G1 Z-10 F800", name="dove-down")("Y114 F1600", name="dove")("Y-14 F2000", name="dove-back")
    return m.stage(b("G0 Z20", "M5", "M30", name="end"), "dove", "10 mm")


def t_slot() -> Made:
    """Return a slot for T-bolts in a jig, two tools."""
    m = made(
        "t_slot",
        (200, 120, 24),
        "front-left-top",
        "birch plywood",
        TABLE,
        {
            "f8": flat(8, 25, 36),
            "tee": {
                "shape": "form",
                "profile": [
                    ["0 mm", "0 mm"],
                    ["9 mm", "0 mm"],
                    ["9 mm", "5 mm"],
                    ["3.5 mm", "5 mm"],
                    ["3.5 mm", "20 mm"],
                ],
                "flutes": 2,
                "flute_length": "20 mm",
                "shank": "7 mm",
                "stickout": "36 mm",
                "material": "carbide",
            },
        },
    )
    a = Tape("numbered")
    a("(NECK 8 FLAT)", "G21 G90", "M3 S18000", "G4 P4", "G0 Z20", "G0 X-10 Y60", "G0 Z2")
    for k, z in enumerate((-4.0, -8.0, -12.0)):
        a.to(z=z, f=800)
        a.to(x=210 if k % 2 == 0 else -10, f=3200)
    m.stage(a("G0 Z20", "M5", "M30", name="end"), "f8", "12 mm")
    b = Tape("numbered")
    b(
        "(T BIT 18)",
        "G21 G90",
        "M3 S12000",
        "G4 P4",
        "G0 Z20",
        "G0 X-16 Y60",
        "G0 Z2",
        "G1 Z-12 F800",
    )
    b("X216 F1500", name="tee")("G0 Z20", name="tee-up")
    return m.stage(b("M5", "M30", name="end"), "tee", "12 mm")


def chamfer() -> Made:
    """Return the chamfered edge of a blank, by the flank of a vee, one turn."""
    m = made(
        "chamfer",
        (150, 90, 18),
        "front-right-top",
        "walnut",
        TABLE,
        {"v90": bit("vee", 16, 9, 30, shank=8, angle="90 deg")},
    )
    m.head["machine"]["work_zero"] = ["500 mm", "200 mm", "-90 mm"]
    t = Tape("dots")
    t(
        "(EDGE 1.5 MM, VEE 90 DEG)",
        "G21 G90 G17",
        "S16000 M3",
        "G4 P4.",
        "G0 Z10.",
        "X-75. Y-14.",
        "G0 Z2.",
        "G1 Z-4. F800.",
    )
    t("G1 Y-2.5 F2400.", name="lead")("X-150.", name="front")
    t("G2 X-152.5 Y0. I0. J2.5")("G1 Y90.", name="left")("G2 X-150. Y92.5 I2.5 J0.")(
        "G1 X0.", name="back"
    )
    t("G2 X2.5 Y90. I0. J-2.5")("G1 Y0.")("G2 X0. Y-2.5 I-2.5 J0.")("G1 X-80.")(
        "Y-14.", "G0 Z10.", "M5", "M30", name="end"
    )
    return m.stage(
        t, "v90", "1.5 mm", allow=[{"code": "too-deep", "reason": "the tip runs beside the edge"}]
    )


def frets() -> Made:
    """Return fret slots in a long neck, a 0.6 mm bit, many shallow passes."""
    m = made(
        "frets",
        (480, 60, 8),
        "centre-left-top",
        "ebony",
        TABLE,
        {"f06": flat(0.6, 3, 18, shank=3.175)},
    )
    m.head["machine"]["spindle"] = {**m.head["machine"]["spindle"]}
    t = Tape("packed")
    t("(FRET SLOTS, 0.6 FLAT)", "G21 G90", "M3 S24000", "G4 P4", "G0 Z8")
    x = 0.0
    for n in range(1, 13):
        x = 650 * (1 - 2 ** (-n / 12))
        t.to("G0", x=x, y=-24, name=f"fret-{n}")
        t("G0 Z1")
        for k, z in enumerate(levels(0, -1.8, 0.2)):
            t.to(z=z, f=120, name=f"fret-in-{n}-{k}")
            t.to(y=24 if k % 2 == 0 else -24, f=500, name=f"fret-{n}-{k}")
        t("G0 Z8")
    return m.stage(t("M5", "G0 X0 Y0", "M30", name="end"), "f06", "1.8 mm")


def clock() -> Made:
    """Return a clock face: vee rings and hour marks, bored centre, cut-out held by tabs."""
    m = made(
        "clock",
        (300, 300, 12),
        "centre-top",
        "birch plywood",
        TABLE,
        {"v90": bit("vee", 10, 5, 26, shank=6, angle="90 deg"), "f6": flat(6, 25, 36)},
    )
    m.head["machine"]["work_zero"] = ["450 mm", "400 mm", "-100 mm"]
    a = Tape()
    a("; clock face, vee 90 deg", "G21 G90 G17", "M3 S18000", "G4 P4", "G0 Z10")
    for k, r in enumerate((130, 100)):
        a.to("G0", x=r, y=0)
        a("G0 Z1", "G1 Z-1 F500", name=f"ring-in-{k}").to(
            "G2", x=r, y=0, i=-r, j=0, f=1800, name=f"face-{k}"
        )
        a("G0 Z10")
    for h in range(12):
        c, s = math.cos(math.radians(30 * h)), math.sin(math.radians(30 * h))
        a.to("G0", x=105 * c, y=105 * s, name=f"hour-{h}")
        a("G0 Z1", "G1 Z0 F500").to(x=115 * c, y=115 * s, z=-2, f=1500, name=f"mark-{h}")
        a.to(x=125 * c, y=125 * s, z=0)
        a("G0 Z10")
    m.stage(a("M5", "M30", name="end"), "v90", "2 mm")
    b = Tape()
    b("; cut out, flat 6 mm", "G21 G90 G17", "M3 S18000", "G4 P4", "G0 Z10")
    ring(b, 0, 0, 2, levels(0, -12.2, 1), 900, 10, tag="centre")
    b.to("G0", x=143, y=0)
    b("G0 Z1.5", "G1 Z0 F900")
    zs = levels(0, -12.2, 4)
    for k, z in enumerate(zs):
        b.to("G3", x=143, y=0, z=z, i=-143, j=0, f=3600, name=f"out-{k}")
    b.to("G3", x=143, y=0, i=-143, j=0, name="out-last")
    b("G0 Z10", "M5", "M30", name="end")
    return m.stage(
        b, "f6", "through", allow=[{"code": "loose-part", "reason": "screwed from below"}]
    )


def spoon() -> Made:
    """Return a curved outline in many short lines, tabs by hand."""
    m = made("spoon", (280, 90, 10), "centre-left-top", "cherry", TABLE, {"f5": flat(5, 22, 34)})
    m.head["machine"]["work_zero"] = ["150 mm", "300 mm", "-90 mm"]
    t = Tape("fixed")
    t("(OUTLINE 5MM FLAT)", "G90 G21", "M3 S18000", "G4 P4", "G0 Z20")
    pts = []
    for k in range(120):
        a = 2 * math.pi * k / 120
        x = 140 + 115 * math.cos(a)
        y = 30 * math.sin(a) * (1 + 0.35 * math.cos(a)) * 0.8
        pts.append((x, y))
    t.to("G0", x=pts[0][0], y=pts[0][1])
    t("G0 Z2", "G1 Z0 F600")
    zs = levels(0, -10.2, 2.6)
    last = 0.0
    for lap, z in enumerate(zs):
        for k in range(1, 121):
            x, y = pts[k % 120]
            zz = last + (z - last) * min(1, k / 12)
            if z < -7 and k % 60 in (28, 29, 30, 31, 32):
                zz = -7.0
            t.to(x=x, y=y, z=zz, f=2400, name=f"lap-{lap}-{k}")
        last = z
    for k in range(1, 13):
        t.to(x=pts[k][0], y=pts[k][1], z=zs[-1])
    return m.stage(t("G0 Z20", "M5", "G0 X0 Y0", "M30", name="end"), "f5", "through")


def ruler() -> Made:
    """Return the scale of a long rule: ticks by a fine vee."""
    m = made(
        "ruler",
        (330, 35, 6),
        "front-left-top",
        "pear",
        TABLE,
        {"v30": bit("vee", 6, 10, 24, shank=6, angle="30 deg", tip="0.1 mm")},
    )
    t = Tape("packed")
    t("(SCALE 300)", "(ENGRAVER 30 DEG)", "G21 G90", "M3 S22000", "G4 P4", "G0 Z5")
    for k in range(0, 301, 2):
        t.to("G0", x=15 + k, y=33, name=f"tick-{k}")
        t("G0 Z2", "G1 Z-0.3 F300", name=f"tick-in-{k}")
        t.to(y=33 - (14 if k % 10 == 0 else 8), f=800, name=f"tick-cut-{k}")
        t("G0 Z2.5", name=f"tick-up-{k}")
    return m.stage(t("G0 Z30", "M5", "X0 Y0", "M30", name="end"), "v30", "0.3 mm")


def brass_plate() -> Made:
    """Return an engraved brass plate on a small mill."""
    m = made(
        "brass_plate",
        (70, 40, 3),
        "centre-top",
        "brass",
        SMALL,
        {"eng": bit("vee", 3, 6, 20, shank=3, angle="40 deg", tip="0.2 mm")},
    )
    m.head["machine"]["work_zero"] = ["-150 mm", "-100 mm", "-45 mm"]
    t = Tape("fixed")
    t("(PLATE, ENGRAVER 40 DEG)", "G21 G90 G17", "M3 S15000", "G4 P3", "G0 Z5")
    for k in range(6):
        x = -25 + 10 * k
        t.to("G0", x=x + 3, y=0)
        t("G0 Z1", "G1 Z-0.15 F60", name=f"in-{k}").to(
            "G2", x=x + 3, y=0, i=-3, j=0, f=240, name=f"o-{k}"
        )
        t("G0 Z2", name=f"up-{k}")
    t("G0 X-32 Y-16", "G1 Z-0.15 F60", "X32 F240", name="frame")("Y16", "X-32", "Y-16", "G0 Z5")
    return m.stage(t("M5", "G28", "M30", name="end"), "eng", "0.15 mm")


def flutes() -> Made:
    """Return flutes of a pilaster: a ball dips in and out by arcs in the XZ plane."""
    m = made(
        "flutes",
        (500, 110, 22),
        "front-left-top",
        "poplar",
        TABLE,
        {"b10": bit("ball", 10, 22, 38, shank=8)},
        clamps=[clamp(-40, 40, 12, 70, 18), clamp(488, 40, 540, 70, 18)],
    )
    t = Tape("dots")
    t("(FLUTES 10 MM BALL)", "G21 G90", "S16000 M3", "G4 P4.", "G0 Z45.")
    for k in range(5):
        y = 15 + 20 * k
        t.to("G0", x=40, y=y, name=f"flute-{k}")
        t("G0 Z2.", "G1 Z0. F800.")
        t("G18 G2 X70. Z-4. I30. K110.5 F2000.", name=f"dip-{k}")
        t("G17 G1 X430.", name=f"along-{k}")
        t("G18 G2 X460. Z0. I0. K114.5", name=f"rise-{k}")
        t("G17", "G0 Z45.", name=f"flute-up-{k}")
    return m.stage(t("M5", "G0 X0. Y100.", "M30", name="end"), "b10", "4 mm")


def butterfly() -> Made:
    """Return butterfly keys let into a slab: sloping outlines, two depths, zero_at."""
    m = made("butterfly", (400, 200, 40), "front-left-top", "elm", HALL, {"f6": flat(6, 25, 38)})
    del m.head["stock"]["zero"]
    m.head["stock"]["zero_at"] = ["100 mm", "100 mm", "0 mm"]
    t = Tape("numbered")
    t("(KEYS 6 FLAT)", "G21 G90 G17", "T4 M6", "M3 S18000", "G4 P5", "G0 Z50")
    for k in range(2):
        cx = 150 * k
        t.to("G0", x=cx - 27, y=0, name=f"key-{k}")
        t("G0 Z2", "G1 Z0 F700")
        for j, z in enumerate((-2.5, -5.0, -7.5, -10.0)):
            t.to(x=cx + 27, y=0, z=z, f=1200, name=f"key-ramp-{k}-{j}")
            for s in (0.25, 0.5, 0.75, 1.0):
                t.to(x=cx + 30 * s, y=-16 * s, f=2600)
                t.to(x=cx + 30 * s, y=16 * s)
                t.to(x=cx, y=5 * s)
                t.to(x=cx - 30 * s, y=16 * s)
                t.to(x=cx - 30 * s, y=-16 * s)
                t.to(x=cx, y=-5 * s)
                t.to(x=cx + 30 * s, y=-16 * s)
            t.to(x=cx - 27, y=0)
        t("G0 Z50", name=f"key-up-{k}")
    return m.stage(t("M5", "G53 G0 Z0", "M30", name="end"), "f6", "10 mm")


def coaster_inch() -> Made:
    """Return four inch coasters from one board: recess, then outline with tabs, no spaces."""
    m = made(
        "coaster_inch",
        (254, 254, 9.525),
        "centre-top",
        "cherry",
        TABLE,
        {"e8": flat(3.175, 15, 26)},
    )
    m.head["machine"]["work_zero"] = ["450 mm", "400 mm", "-100 mm"]
    m.head["units"] = "in"
    t = Tape("packed dots")
    t("(1/8 FLAT)", "G20", "G90G17G94", "M3S20000", "G4P4", "G0Z0.5")
    for n, (cx, cy) in enumerate(((-2.4, -2.4), (2.4, -2.4), (2.4, 2.4), (-2.4, 2.4))):
        for r in (0.3, 0.36, 0.42, 0.48, 0.54, 0.6, 0.66, 0.72, 0.78, 0.84, 0.9):
            if r == 0.3:
                t.to("G0", x=cx + r, y=cy, name=f"recess-{n}")
                t("G0Z0.1", "G1Z0.F30")
                t.to("G3", x=cx + r, y=cy, z=-0.08, i=-r, j=0, f=60, name=f"recess-down-{n}")
            else:
                t.to(x=cx + r, y=cy, f=75)
            t.to("G3", x=cx + r, y=cy, i=-r, j=0, f=75, name=f"recess-{n}-{r}")
        t("G0Z0.5", name=f"recess-up-{n}")
    u = Tape("packed dots")
    u("(1/8 FLAT)", "G20", "G90G17G94", "M3S20000", "G4P4", "G0Z0.5")
    for n, (cx, cy) in enumerate(((-2.4, -2.4), (2.4, -2.4), (2.4, 2.4), (-2.4, 2.4))):
        tag = [len(u.lines)]
        tabbed_box(u, cx - 2, cy - 2, cx + 2, cy + 2, levels(0, -0.38, 0.1), -0.25, 0.35, 75, 0.5)
        for line in u.lines[tag[0] :]:
            line.name = f"c{n}-{line.name}" if line.name else ""
    m.stage(t("M5", "G0X0.Y0.", "M30", name="end"), "e8", "0.08 in")
    return m.stage(
        u("M5", "G0X0.Y0.", "M30", name="end"),
        "e8",
        "through",
        tab_width="0.2 in",
        tab_height="0.11 in",
    )


def finger_joint() -> Made:
    """Return box joints on the edge of a board: slots in from the edge."""
    m = made(
        "finger_joint", (160, 120, 10), "front-left-top", "ash", TABLE, {"f6": flat(6, 22, 34)}
    )
    t = Tape("lower")
    t("(fingers, 6 mm flat)", "g21 g90", "m3 s18000", "g4 p4", "g0 z25")
    for k in range(6):
        x = 18 + 25 * k
        for z in (-3.4, -6.8, -10.2):
            t.to("g0", x=x, y=-6)
            t("g0 z2", f"g1 z{z} f800", name=f"edge-{k}-{z}")
            t.to("g1", y=7, f=2600, name=f"finger-{k}-{z}")
            t.to("g1", x=x + 4)
            t.to("g1", y=-6)
            t("g0 z25")
    return m.stage(t("m5", "g0 x0 y110", "m30", name="end"), "f6", "through")


JOBS = [
    lettering,
    relief,
    shallow_relief,
    dovetail,
    t_slot,
    chamfer,
    frets,
    clock,
    spoon,
    ruler,
    brass_plate,
    flutes,
    butterfly,
    coaster_inch,
    finger_joint,
]
