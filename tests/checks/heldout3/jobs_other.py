"""Clean jobs in metal and plastic, in inches, from both sides; and a few hand-written ones."""

from __future__ import annotations

from .jobs_wood import PLAIN, ROUND, begin, begin_short, finish
from .shapes import around, bore, helix, levels, lines, rect_pocket, round_pocket, rounded_rect
from .shop import Job, job
from .tape import Style, Tape

INCH = Style(decimals=4, keep_zeros=True, bare_point=True)
INCH_TIGHT = Style(decimals=4, point=True, two_digits=True, numbers=5)


def alu_plate() -> Job:
    """Drilled in pecks, a shallow pocket and two bores, cut out with tabs in thin passes."""
    a = Tape(PLAIN, 8)
    begin_short(a, "plate, holes", "drill 3 mm HSS", 5000, "3")
    a.up()
    a.say("G98 G83 X16 Y16 Z-7.5 R1 Q1.5 F150")
    for x, y in ((60, 16), (104, 16), (104, 64), (60, 64), (16, 64)):
        a.say(f"X{x} Y{y}")
    a.say("G80")
    finish(a, 1)
    b = Tape(PLAIN, 8)
    begin_short(b, "plate, pocket and bores", "single flute 4 mm", 16000, "3")
    rect_pocket(b, (45, 30), (75, 50), 4, [-0.5, -1.0, -1.5, -2.0], 1.6, 700, 25, 0.5)
    bore(b, 25, 40, 7.5, 4, 0, -6.2, 0.4, 500, 0.5)
    bore(b, 95, 40, 7.5, 4, 0, -6.2, 0.4, 500, 0.5)
    finish(b, 1)
    c = Tape(PLAIN, 8)
    begin_short(c, "plate, outline, tabs", "single flute 4 mm", 16000, "3")
    around(
        c,
        (14, 4),
        rounded_rect(4, 4, 116, 76, 10),
        levels(0, -6.2, 0.5),
        700,
        200,
        0.5,
        tabs=(2, 4, 6),
        tab_long=9,
        tab_z=-4.5,
    )
    finish(c, 1)
    return job(
        "alu-plate",
        stock='size = ["120 mm", "80 mm", "6 mm"]\nzero = "front-left-top"\n'
        'material = "aluminium"\nspoilboard = "18 mm"\nallow_into_spoilboard = "2 mm"',
        machine="small",
        rack=["drill-3", "alu-4", "single-6", "flat-2"],
        programs={"holes.nc": a.text(), "bores.nc": b.text(), "outline.nc": c.text()},
        stages=[
            {"name": "holes", "program": "holes.nc", "bit": "drill-3", "depth": "through"},
            {
                "name": "bores",
                "program": "bores.nc",
                "bit": "alu-4",
                "depth": "through",
                "max_pass": "0.6 mm",
            },
            {
                "name": "outline",
                "program": "outline.nc",
                "bit": "alu-4",
                "depth": "through",
                "max_pass": "0.6 mm",
                "max_plunge_rate": "250 mm/min",
                "tab_width": "4 mm",
                "tab_height": "1.5 mm",
            },
        ],
    )


def begin_inch(t: Tape, name: str, bit: str, rpm: int) -> None:
    t.say("%")
    t.note(name)
    t.note(bit)
    t.say("G20 G90 G17 G94", f"S{rpm} M3", "G4 P4")


def alu_bracket() -> Job:
    """Inch: two slots, then the outline with tabs."""
    a = Tape(INCH, 0.5)
    begin_inch(a, "BRACKET SLOTS", "1/8 SINGLE FLUTE", 16000)
    for x in (1.0, 4.0):
        a.over(x, 1.0, 0.05)
        a.cut(z=0, f=10)
        for z in levels(0, -0.258, 0.02):
            a.cut(x, 2.0, z, 28)
            a.cut(x, 1.0, f=28)
    finish(a, 1)
    b = Tape(INCH, 0.5)
    begin_inch(b, "BRACKET OUTLINE", "1/8 SINGLE FLUTE", 16000)
    around(
        b,
        (0.5, 0.2),
        rounded_rect(0.2, 0.2, 4.8, 2.8, 0.3),
        levels(0, -0.258, 0.02),
        28,
        10,
        0.05,
        tabs=(2, 4, 6),
        tab_long=0.33,
        tab_z=-0.19,
    )
    finish(b, 1)
    return job(
        "alu-bracket",
        units="in",
        stock='size = [5, 3, "1/4 in"]\nzero = "front-left-top"\nmaterial = "aluminum"\n'
        'spoilboard = "3/4 in"\nallow_into_spoilboard = "0.012 in"',
        machine="inch",
        work_zero="6, 6, -2.5",
        rack=["eighth-single", "eighth", "quarter"],
        programs={"slots.nc": a.text(), "outline.nc": b.text()},
        stages=[
            {
                "name": "slots",
                "program": "slots.nc",
                "bit": "eighth-single",
                "depth": "through",
                "max_pass": "0.025 in",
            },
            {
                "name": "outline",
                "program": "outline.nc",
                "bit": "eighth-single",
                "depth": "through",
                "max_pass": "0.025 in",
                "tab_width": "0.2 in",
                "tab_height": "0.06 in",
            },
        ],
    )


def cutting_board() -> Job:
    """A juice groove, a handle and the outline of a plastic board."""
    a = Tape(ROUND, 8)
    begin(a, "BOARD GROOVE", "BALL 12 MM", 14000, tool=1)
    around(a, (-110, -80), rounded_rect(-130, -80, 130, 80, 20), [-2.5, -5.0], 2500, 800, 1.0)
    finish(a)
    b = Tape(ROUND, 8)
    begin(b, "BOARD HANDLE AND OUTLINE", "SINGLE FLUTE 6 MM", 16000, tool=2)
    rect_pocket(
        b, (140, -35), (158, 35), 6, levels(0, -12.9, 3.3), 2.5, 2000, 15, 1.0
    )  # fmt: skip
    around(
        b,
        (-138, -108),
        rounded_rect(-168, -108, 168, 108, 30),
        levels(0, -12.9, 3.3),
        2000,
        700,
        1.0,
        tabs=(2, 4, 6),
        tab_long=16,
        tab_z=-10.2,
    )
    finish(b)
    return job(
        "cutting-board",
        stock='size = ["350 mm", "230 mm", "12.7 mm"]\nzero = "centre-top"\nmaterial = "HDPE"\n'
        'spoilboard = "18 mm"\nallow_into_spoilboard = "0.3 mm"',
        work_zero='"300 mm", "200 mm", "-60 mm"',
        clamps=[],
        rack=["ball-12", "single-6", "single-3"],
        programs={"groove.nc": a.text(), "outline.nc": b.text()},
        stages=[
            {
                "name": "groove",
                "program": "groove.nc",
                "bit": "ball-12",
                "depth": "5 mm",
                "max_pass": "3 mm",
            },
            {
                "name": "outline",
                "program": "outline.nc",
                "bit": "single-6",
                "depth": "through",
                "max_pass": "3.5 mm",
                "tab_width": "9 mm",
                "tab_height": "2.4 mm",
            },
        ],
    )


def acrylic_sign() -> Job:
    """Engraved lines, four holes, a rounded outline in acrylic."""
    a = Tape(PLAIN, 6)
    begin_short(a, "acrylic sign, lettering", "60 degree engraver", 14000)
    for points in (
        ((40, 30), (40, 70), (60, 50), (80, 70), (80, 30)),
        ((100, 30), (115, 70), (130, 30)),
        ((106, 46), (124, 46)),
        ((150, 70), (150, 30), (170, 30)),
    ):
        a.over(*points[0], 1)
        a.cut(z=-0.6, f=300)
        for point in points[1:]:
            a.cut(*point, f=1000)
        a.up()
    finish(a, 1)
    b = Tape(PLAIN, 6)
    begin_short(b, "acrylic sign, holes and outline", "single flute 3 mm", 18000)
    for x, y in ((15, 15), (185, 15), (185, 85), (15, 85)):
        bore(b, x, y, 5, 3, 0, -5.15, 0.5, 700, 0.5)
    around(
        b,
        (13.5, 3.5),
        rounded_rect(3.5, 3.5, 196.5, 96.5, 10),
        levels(0, -5.15, 1.3),
        1000,
        300,
        0.5,
        tabs=(2, 4, 6),
        tab_long=8,
        tab_z=-3.7,
    )
    finish(b, 1)
    return job(
        "acrylic-sign",
        stock='size = ["200 mm", "100 mm", "5 mm"]\nzero = "front-left-top"\n'
        'material = "acrylic"\nspoilboard = "18 mm"\nallow_into_spoilboard = "0.3 mm"',
        work_zero='"200 mm", "120 mm", "-60 mm"',
        rack=["vee-60", "single-3", "vee-90", "single-6"],
        programs={"letters.nc": a.text(), "outline.nc": b.text()},
        stages=[
            {"name": "letters", "program": "letters.nc", "bit": "vee-60", "depth": "0.6 mm"},
            {
                "name": "outline",
                "program": "outline.nc",
                "bit": "single-3",
                "depth": "through",
                "max_pass": "1.5 mm",
                "max_plunge_rate": "400 mm/min",
                "tab_width": "5 mm",
                "tab_height": "1.2 mm",
            },
        ],
    )


def brass_tag() -> Job:
    """A tag of thin brass: engraving, a hole, thin passes with a small bit."""
    a = Tape(ROUND, 4)
    begin_short(a, "brass tag, engraving", "30 degree engraver 0.1 tip", 18000, "3")
    for points in (((20, 18), (20, 32), (30, 18), (30, 32)), ((38, 32), (38, 18), (46, 18))):
        a.over(*points[0], 0.5)
        a.cut(z=-0.2, f=80)
        for point in points[1:]:
            a.cut(*point, f=300)
        a.up()
    finish(a, 1)
    b = Tape(ROUND, 4)
    begin_short(b, "brass tag, hole and outline", "2 mm end mill", 18000, "3")
    bore(b, 12, 25, 3.6, 2, 0, -1.6, 0.15, 250, 0.3)
    around(
        b,
        (14, 9),
        rounded_rect(9, 9, 71, 41, 5),
        levels(0, -1.6, 0.2),
        350,
        100,
        0.3,
        tabs=(2, 4),
        tab_long=5,
        tab_z=-1.1,
    )
    finish(b, 1)
    return job(
        "brass-tag",
        stock='size = ["80 mm", "50 mm", "1.5 mm"]\nzero = "front-left-top"\n'
        'material = "brass"\nspoilboard = "10 mm"\nallow_into_spoilboard = "0.2 mm"',
        machine="small",
        rack=["vee-30", "flat-2", "flat-1"],
        programs={"engrave.nc": a.text(), "outline.nc": b.text()},
        stages=[
            {"name": "engrave", "program": "engrave.nc", "bit": "vee-30", "depth": "0.2 mm"},
            {
                "name": "outline",
                "program": "outline.nc",
                "bit": "flat-2",
                "depth": "through",
                "max_pass": "0.25 mm",
                "tab_width": "3 mm",
                "tab_height": "0.4 mm",
            },
        ],
    )


def foam_case() -> Job:
    """Deep pockets in foam with a long reach, fast."""
    t = Tape(PLAIN, 8)
    begin_short(t, "foam insert", "6 mm end mill", 16000)
    rect_pocket(t, (30, 30), (150, 110), 6, [-7.0, -14.0, -20.0], 3.0, 4000, 6, 1.0)
    round_pocket(t, 210, 70, 50, 6, [-7.0, -14.0], 3.0, 2.0, 4000, 1.0)
    finish(t, 1)
    return job(
        "foam-case",
        stock='size = ["300 mm", "140 mm", "40 mm"]\nzero = "front-left-top"\n'
        'material = "foam"\nspoilboard = "12 mm"',
        work_zero='"150 mm", "120 mm", "-50 mm"',
        clamps=[],
        rack=["flat-6", "flat-12"],
        programs={"insert.nc": t.text()},
        stages=[{"name": "insert", "program": "insert.nc", "bit": "flat-6", "depth": "20 mm"}],
    )


def name_plate() -> Job:
    """Inch, two-colour plastic: shallow lettering and an outline with line numbers."""
    a = Tape(INCH_TIGHT, 0.3)
    begin_inch(a, "NAME PLATE LETTERS", "60 DEG V-BIT", 12000)
    for points in (
        ((0.8, 0.5), (0.8, 1.1), (1.1, 0.5), (1.1, 1.1)),
        ((1.4, 0.5), (1.4, 1.1), (1.7, 1.1), (1.7, 0.8), (1.4, 0.8)),
        ((2.0, 0.5), (2.3, 1.1)),
        ((2.0, 1.1), (2.3, 0.5)),
        ((2.6, 0.5), (3.2, 0.5), (3.2, 1.1), (2.6, 1.1), (2.6, 0.5)),
    ):
        a.over(*points[0], 0.05)
        a.cut(z=-0.02, f=12)
        for point in points[1:]:
            a.cut(*point, f=40)
        a.up()
    finish(a)
    b = Tape(INCH_TIGHT, 0.3)
    begin_inch(b, "NAME PLATE OUTLINE", "1/8 SINGLE FLUTE", 16000)
    around(
        b,
        (0.45, 0.15),
        rounded_rect(0.15, 0.15, 3.85, 1.45, 0.25),
        levels(0, -0.13, 0.05),
        50,
        15,
        0.05,
        tabs=(2, 6),
        tab_long=0.3,
        tab_z=-0.08,
    )
    finish(b)
    return job(
        "name-plate",
        units="in",
        stock='size = [4, 1.6, "1/8 in"]\nzero = "front-left-top"\nmaterial = "plastic"\n'
        'spoilboard = "1/2 in"\nallow_into_spoilboard = "0.01 in"',
        machine="inch",
        work_zero="6, 6, -2.5",
        rack=["vee-60-inch", "eighth-single", "eighth"],
        programs={"letters.nc": a.text(), "outline.nc": b.text()},
        stages=[
            {"name": "letters", "program": "letters.nc", "bit": "vee-60-inch", "depth": "0.02 in"},
            {
                "name": "outline",
                "program": "outline.nc",
                "bit": "eighth-single",
                "depth": "through",
                "tab_width": "0.16 in",
                "tab_height": "0.04 in",
            },
        ],
    )


def tea_lights() -> Job:
    """Inch: three round recesses by helix and rounds, edges softened by a round nose."""
    t = Tape(INCH, 0.5)
    begin_inch(t, "TEA LIGHTS", "1/4 END MILL", 16000)
    for x in (1.5, 4.0, 6.5):
        round_pocket(t, x, 1.5, 1.6, 0.25, [-0.12, -0.24, -0.36, -0.48], 0.11, 0.04, 70, 0.05)
    finish(t, 1)
    b = Tape(INCH, 0.5)
    begin_inch(b, "TEA LIGHTS, GROOVE", "1/2 ROUND NOSE", 14000)
    around(b, (0.8, 0.4), rounded_rect(0.4, 0.4, 7.6, 2.6, 0.4), [-0.1], 110, 30, 0.05)
    finish(b, 1)
    return job(
        "tea-lights",
        units="in",
        stock='size = [8, 3, "1 1/4 in"]\nzero = "front-left-top"\nmaterial = "walnut"\n'
        'spoilboard = "3/4 in"',
        machine="inch",
        work_zero="6, 6, -3",
        clamps=[],
        rack=["quarter", "round-nose", "eighth"],
        programs={"recess.nc": t.text(), "groove.nc": b.text()},
        stages=[
            {
                "name": "recesses",
                "program": "recess.nc",
                "bit": "quarter",
                "depth": "0.48 in",
                "max_pass": "0.13 in",
            },
            {"name": "groove", "program": "groove.nc", "bit": "round-nose", "depth": "0.1 in"},
        ],
    )


def inch_dado() -> Job:
    """Inch, zero on the bed at the centre: two grooves by hand, in from the edge."""
    text = """(cabinet side, two dados)
(1/4 inch end mill)
G20 G90 G17
M3 S16000
G4 P4
G0 Z1.25
G0 X-4 Y-6.3
G0 Z0.8
G1 Z0.6 F40
G1 Y6.3 F80
G1 X-3.88
G1 Y-6.3
G1 X-4
G1 Z0.45 F40
G1 Y6.3 F80
G1 X-3.88
G1 Y-6.3
G0 Z1.25
G0 X4 Y-6.3
G0 Z0.8
G1 Z0.6 F40
G1 Y6.3 F80
G1 X4.12
G1 Y-6.3
G1 X4
G1 Z0.45 F40
G1 Y6.3 F80
G1 X4.12
G1 Y-6.3
G0 Z1.25
M5
M30
"""
    return job(
        "inch-dado",
        units="in",
        stock='size = [14, 12, 0.75]\nzero = "centre-bed"\nmaterial = "plywood"\n'
        'spoilboard = "3/4 in"',
        machine="inch",
        work_zero="16, 16, -3.5",
        clamps=[
            ("left", "-7.5, -1", "-6, 1", '"0.25 in"'),
            ("right", "6, -1", "7.5, 1", '"0.25 in"'),
        ],
        rack=["quarter", "eighth"],
        programs={"dado.nc": text},
        stages=[
            {
                "name": "dados",
                "program": "dado.nc",
                "bit": "quarter",
                "depth": "0.3 in",
                "max_pass": "0.16 in",
            }
        ],
    )


def front_side() -> Job:
    """First side of two: a recess, and two dowel holes into the board underneath."""
    a = Tape(PLAIN, 8)
    begin_short(a, "box part, front side", "6 mm end mill", 18000)
    rect_pocket(a, (60, 25), (160, 75), 6, [-2.5, -5.0], 2.6, 1800, 18, 1.0)
    finish(a, 1)
    b = Tape(PLAIN, 8)
    begin_short(b, "dowel holes", "8 mm drill", 8000)
    b.up()
    b.say("G98 G83 X20 Y50 Z-26 R1 Q6 F500", "X200", "G80")
    finish(b, 1)
    return job(
        "front-side",
        stock='size = ["220 mm", "100 mm", "18 mm"]\nzero = "front-left-top"\n'
        'material = "beech"\nspoilboard = "25 mm"\nallow_into_spoilboard = "10 mm"',
        work_zero='"200 mm", "120 mm", "-55 mm"',
        clamps=[],
        rack=["flat-6", "drill-8", "drill-5"],
        programs={"recess.nc": a.text(), "dowels.nc": b.text()},
        stages=[
            {"name": "recess", "program": "recess.nc", "bit": "flat-6", "depth": "5 mm"},
            {"name": "dowels", "program": "dowels.nc", "bit": "drill-8", "depth": "through"},
        ],
    )


def back_side() -> Job:
    """The second side, turned over: a round recess and the outline, zero at the right."""
    a = Tape(PLAIN, 8)
    begin_short(a, "box part, back side", "6 mm end mill", 18000)
    round_pocket(a, -110, 50, 40, 6, [-2.0, -4.0], 2.6, 1.0, 1800, 1.0)
    finish(a, 1)
    b = Tape(PLAIN, 8)
    begin_short(b, "box part, outline, 2 tabs", "6 mm end mill", 18000)
    around(
        b,
        (-187, 12),
        lines([(-187, 12), (-33, 12), (-33, 88), (-187, 88)]),
        levels(0, -18.2, 3.1),
        1800,
        700,
        1.0,
        tabs=(1, 3),
        tab_long=16,
        tab_z=-15,
    )
    finish(b, 1)
    return job(
        "back-side",
        stock='size = ["220 mm", "100 mm", "18 mm"]\nzero = "front-right-top"\n'
        'material = "beech"\nspoilboard = "25 mm"\nallow_into_spoilboard = "0.5 mm"',
        work_zero='"420 mm", "120 mm", "-55 mm"',
        rack=["flat-6", "drill-8", "flat-3"],
        programs={"recess.nc": a.text(), "outline.nc": b.text()},
        stages=[
            {"name": "recess", "program": "recess.nc", "bit": "flat-6", "depth": "4 mm"},
            {
                "name": "outline",
                "program": "outline.nc",
                "bit": "flat-6",
                "depth": "through",
                "max_pass": "3.2 mm",
                "tab_width": "10 mm",
                "tab_height": "2.9 mm",
            },
        ],
    )


def ring() -> Job:
    """A plate in acetal: a hole in rounds, a pause, a round groove; then the rim is chamfered."""
    a = Tape(ROUND, 9)
    begin(a, "RING, HOLE", "SINGLE FLUTE 6 MM", 14000, tool=1)
    round_pocket(a, 0, 0, 30, 6, levels(0, -8.2, 2.1), 2.5, 0.9, 1400, 0.5)
    a.say("M0")
    a.say("S14000 M3", "G4 P4")
    a.over(22.0, 0, 0.5)
    helix(a, 0, 0, 22.0, 0.5, -2.0, 1.0, 1400)
    finish(a)
    b = Tape(ROUND, 9)
    begin(b, "RING, CHAMFER", "VEE 90 DEG", 12000, tool=2)
    b.over(0, 0, 1)
    b.cut(z=-2, f=400)
    b.cut(14, 0, f=1000)
    b.arc("G3", 14, 0, (0, 0), f=1000)
    b.cut(0, 0, f=1000)
    finish(b)
    return job(
        "ring",
        stock='size = ["90 mm", "90 mm", "8 mm"]\nzero = "centre-top"\nmaterial = "acetal"\n'
        'spoilboard = "18 mm"\nallow_into_spoilboard = "0.3 mm"',
        work_zero='"300 mm", "200 mm", "-60 mm"',
        clamps=[
            ("left", '"-70 mm", "-20 mm"', '"-38 mm", "20 mm"', '"5 mm"'),
            ("right", '"38 mm", "-20 mm"', '"70 mm", "20 mm"', '"5 mm"'),
        ],
        rack=["single-6", "vee-90", "single-3"],
        programs={"hole.nc": a.text(), "chamfer.nc": b.text()},
        stages=[
            {"name": "hole", "program": "hole.nc", "bit": "single-6", "depth": "through"},
            {"name": "chamfer", "program": "chamfer.nc", "bit": "vee-90", "depth": "2 mm"},
        ],
    )


def jig() -> Job:
    """By hand, everything repeated on each line, arcs by R."""
    text = """; drilling jig, 12 mm beech
; flat 6 mm
G21 G90 G17 G40 G80
M3 S18000
G4 P4
G0 Z15
G0 X40 Y20
G0 Z2
G1 Z0 F600
G1 X120 Y20 Z-3 F1800
G1 X40 Y20 Z-3 F1800
G1 X120 Y20 Z-6 F1800
G3 X120 Y60 R20 F1800
G1 X40 Y60 F1800
G3 X40 Y20 R20 F1800
G1 X120 Y20 F1800
G0 Z15
G0 X80 Y40
G0 Z2
G1 Z-2 F600
G1 X80 Y45 F1500
G3 X80 Y35 R5 F1500
G3 X80 Y45 R5 F1500
G1 X80 Y40 F1500
G0 Z15
M5
G0 X0 Y0
M30
"""
    return job(
        "jig",
        stock='size = ["160 mm", "80 mm", "12 mm"]\nzero = "front-left-top"\n'
        'material = "beech"\nspoilboard = "12 mm"',
        work_zero='"200 mm", "120 mm", "-60 mm"',
        clamps=[("right", '"146 mm", "10 mm"', '"190 mm", "70 mm"', '"12 mm"')],
        rack=["flat-6", "flat-3"],
        programs={"jig.nc": text},
        stages=[{"name": "grooves", "program": "jig.nc", "bit": "flat-6", "depth": "6 mm"}],
    )


OTHER = (
    alu_plate, alu_bracket, cutting_board, acrylic_sign, brass_tag, foam_case, name_plate,
    tea_lights, inch_dado, front_side, back_side, ring, jig,
)  # fmt: skip
