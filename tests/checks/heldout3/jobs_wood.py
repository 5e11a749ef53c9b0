"""Clean jobs in wood: signs, trays, boxes, reliefs, templates."""

from __future__ import annotations

import math

from .shapes import (
    around,
    bore,
    carve,
    carve_stroke,
    helix,
    inset_polygon,
    levels,
    lines,
    rect_pocket,
    round_pocket,
    rounded_rect,
)
from .shop import Job, job
from .tape import Style, Tape

PLAIN = Style()
WIDE = Style(decimals=3, keep_zeros=True, two_digits=True, numbers=10, modal=False)
TIGHT = Style(decimals=3, point=True, gap="", bare_point=True)
LOWER = Style(decimals=2, lower=True, semicolons=True, modal=False)
ROUND = Style(decimals=4, two_digits=True)


def begin(t: Tape, name: str, bit: str, rpm: int, dwell: str = "4", tool: int = 1) -> None:
    """A head with a per-cent sign, a program name and a tool change."""
    t.say("%")
    t.say(f"O{1000 + tool}")
    t.note(name)
    t.note(f"TOOL {tool}: {bit}")
    t.say("G21 G17 G90 G94", "G40 G49 G80", f"T{tool} M6", f"S{rpm} M3", f"G4 P{dwell}")


def begin_short(t: Tape, name: str, bit: str, rpm: int, dwell: str = "4") -> None:
    """A head of a few lines, no tool change."""
    t.note(name)
    t.note(bit)
    t.say("G90", "G21", f"M3 S{rpm}", f"G4 P{dwell}")


def finish(t: Tape, way: int = 0) -> None:
    """Three habits of ending."""
    if way == 0:
        t.up()
        t.say("M5", "G0 X0 Y0", "M30", "%")
    elif way == 1:
        t.up()
        t.say("M9", "M5", "M2")
    else:
        t.say("M5", "G91 G28 Z0", "G90", "M30", "%")


def house_sign() -> Job:
    """A border in one pass round with a ball, three letters along their middle lines."""
    a = Tape(WIDE, 10)
    begin(a, "HOUSE SIGN - BORDER", "BALL NOSE 6MM", 16000)
    around(a, (22, 12), rounded_rect(12, 12, 308, 128, 10), [-2.0], 1800, 600, 1.0)
    finish(a)
    b = Tape(WIDE, 10)
    begin(b, "HOUSE SIGN - LETTERS", "V BIT 60 DEG 12MM", 16000, tool=2)
    for stroke in (
        ((60, 35), (60, 105)),
        ((110, 35), (110, 105)),
        ((57, 70), (113, 70)),
        ((160, 35), (160, 105)),
        ((210, 35), (210, 105)),
        ((190, 105), (230, 105)),
    ):
        carve_stroke(b, *stroke, 6.0, math.radians(30), 1500, 1.0)
    finish(b)
    return job(
        "house-sign",
        stock='size = ["320 mm", "140 mm", "18 mm"]\nzero = "front-left-top"\nmaterial = "oak"\n'
        'spoilboard = "18 mm"\nallow_into_spoilboard = "0.3 mm"\nnominal_thickness = "18 mm"',
        work_zero='"120 mm", "90 mm", "-60 mm"',
        clamps=[
            ("left", '"-40 mm", "50 mm"', '"6 mm", "90 mm"', '"6 mm"'),
            ("right", '"314 mm", "50 mm"', '"360 mm", "90 mm"', '"6 mm"'),
        ],
        rack=["ball-6", "vee-60", "flat-6", "vee-90"],
        programs={"border.nc": a.text(), "letters.nc": b.text()},
        stages=[
            {"name": "border", "program": "border.nc", "bit": "ball-6", "depth": "2 mm"},
            {"name": "letters", "program": "letters.nc", "bit": "vee-60", "depth": "5.2 mm"},
        ],
    )


def hexagon(r: float) -> list[tuple[float, float]]:
    return [
        (r * math.cos(math.radians(60 * k)), r * math.sin(math.radians(60 * k))) for k in range(6)
    ]


def plaque() -> Job:
    """The ground of a hexagon cleared by a flat bit, its walls carved by a vee bit."""
    outline = hexagon(60.0)
    a = Tape(PLAIN, 6)
    begin_short(a, "plaque, clear", "6 mm flat", 18000)
    insets = [7.0 + 2.5 * k for k in range(18)]
    rings = [inset_polygon(outline, inset) for inset in insets if inset < 49]
    rings.reverse()
    a.over(0, 0, 1)
    for depth in (-2.0, -4.0):
        a.cut(0, 0, f=1800)
        helix(a, 0, 0, 2.4, 1.0 if depth == -2 else -1.8, depth, 1.0, 1500)
        for ring in rings:
            a.cut(*ring[0], f=1800)
            for point in [*ring[1:], ring[0]]:
                a.cut(*point, f=1800)
        if depth == -2:
            a.cut(z=-1.8, f=1800)
    finish(a, 1)
    b = Tape(PLAIN, 6)
    begin_short(b, "plaque, walls", "90 degree vee", 18000)
    carve(b, outline, 4.0, math.radians(45), 1500, 1.0)
    finish(b, 1)
    return job(
        "plaque",
        stock='size = ["160 mm", "160 mm", "20 mm"]\nzero = "centre-top"\nmaterial = "maple"\n'
        'spoilboard = "15 mm"',
        work_zero='"300 mm", "200 mm", "-55 mm"',
        clamps=[],
        rack=["flat-6", "vee-90", "vee-60", "flat-3"],
        programs={"clear.nc": a.text(), "walls.nc": b.text()},
        stages=[
            {"name": "clear", "program": "clear.nc", "bit": "flat-6", "depth": "4 mm"},
            {"name": "walls", "program": "walls.nc", "bit": "vee-90", "depth": "4 mm"},
        ],
    )


def walnut_tray() -> Job:
    """A deep tray roughed with a wide bit that cannot plunge, walls finished with a finer one."""
    a = Tape(TIGHT, 10)
    begin(a, "TRAY ROUGH", "12MM END MILL, LEAVES 0.3 ON WALLS", 14000, tool=3)
    rect_pocket(a, (20.3, 20.3), (239.7, 159.7), 12, [-4.0, -8.0, -12.0], 5.0, 3000, 18, 1.0)
    finish(a, 2)
    b = Tape(TIGHT, 10)
    begin(b, "TRAY WALLS", "6MM END MILL", 18000, tool=4)
    b.over(130, 60, 2)
    for z in (-4.0, -8.0, -12.0):
        b.cut(130, 60, f=1800)
        b.cut(z=z, f=600)
        b.cut(130, 23, f=1800)
        for x, y in ((237, 23), (237, 157), (23, 157), (23, 23), (130, 23)):
            b.cut(x, y, f=1800)
    b.cut(130, 60, f=1800)
    finish(b, 2)
    return job(
        "walnut-tray",
        stock='size = ["260 mm", "180 mm", "22 mm"]\nzero = "front-left-top"\n'
        'material = "walnut"\nspoilboard = "18 mm"\nallow_into_spoilboard = "0.5 mm"',
        work_zero='"150 mm", "110 mm", "-62 mm"',
        clamps=[
            ("front", '"110 mm", "-40 mm"', '"150 mm", "8 mm"', '"5 mm"'),
            ("back", '"110 mm", "172 mm"', '"150 mm", "220 mm"', '"5 mm"'),
        ],
        rack=["flat-12", "flat-6", "flat-3", "bull-12"],
        programs={"rough.tap": a.text(), "walls.tap": b.text()},
        stages=[
            {
                "name": "rough",
                "program": "rough.tap",
                "bit": "flat-12",
                "depth": "12 mm",
                "max_pass": "5 mm",
                "max_ramp_angle": "5 deg",
            },
            {"name": "walls", "program": "walls.tap", "bit": "flat-6", "depth": "12 mm"},
        ],
    )


def box_lid() -> Job:
    """Zero on the bed: a step round the edge, then cut out with three tabs."""
    a = Tape(PLAIN, 18)
    begin_short(a, "lid, step", "6 mm end mill", 18000)
    around(
        a, (11, 11), lines([(11, 11), (189, 11), (189, 129), (11, 129)]), [6.7, 4.5], 1800, 700,
        1.0, top=9.0,
    )  # fmt: skip
    finish(a, 1)
    b = Tape(PLAIN, 18)
    begin_short(b, "lid, cut out, 3 tabs of 8 mm", "6 mm end mill", 18000)
    around(
        b,
        (7, 7),
        lines([(7, 7), (193, 7), (193, 133), (7, 133)]),
        levels(9.0, -0.2, 3.1),
        1800,
        700,
        1.0,
        top=9.0,
        tabs=(1, 2, 3),
        tab_long=14.0,
        tab_z=2.0,
    )
    finish(b, 1)
    return job(
        "box-lid",
        stock='size = ["200 mm", "140 mm", "9 mm"]\nzero = "front-left-bed"\n'
        'material = "birch plywood"\nspoilboard = "18 mm"\nallow_into_spoilboard = "0.5 mm"\n'
        'nominal_thickness = "9 mm"',
        work_zero='"150 mm", "110 mm", "-70 mm"',
        rack=["flat-6", "flat-3"],
        programs={"step.nc": a.text(), "outline.nc": b.text()},
        stages=[
            {"name": "step", "program": "step.nc", "bit": "flat-6", "depth": "4.5 mm"},
            {
                "name": "cut out",
                "program": "outline.nc",
                "bit": "flat-6",
                "depth": "through",
                "max_pass": "3.5 mm",
                "tab_width": "8 mm",
                "tab_height": "2 mm",
            },
        ],
    )


DOME = (45.0**2 + 12.0**2) / 24.0  # radius of a cap of 12 mm over a foot of 45 mm


def dome() -> Job:
    """A cap of a sphere on a round floor: terraces with a flat bit, then a ball."""
    a = Tape(ROUND, 5)
    begin_short(a, "dome rough, 0.5 left", "end mill 6 mm", 18000)
    a.over(53, 0, 1)
    z = 0.0
    for level in (-3.0, -6.0, -9.0, -11.5):
        high = level - 0.5  # what is left stands half a millimetre over the cap
        keep = math.sqrt(max(0.0, DOME**2 - (DOME + high) ** 2))
        inner = keep + 3.0
        count = math.ceil((53 - inner) / 2.6)
        radii = [53 - (53 - inner) * k / count for k in range(count + 1)]
        a.cut(53, 0, z + (1.0 if z == 0 else 0.2), 1800)
        a.arc("G3", 53, 0, (0, 0), level, 1800)
        for r in radii:
            a.cut(r, 0, f=1800)
            a.arc("G3", r, 0, (0, 0), f=1800)
        a.cut(z=level + 0.2, f=1800)
        z = level
    a.cut(53, 0, f=1800)
    finish(a, 1)
    b = Tape(ROUND, 5)
    begin_short(b, "dome finish", "ball nose 6 mm", 18000)

    def tip(x: float, y: float) -> float:
        square = x * x + y * y
        return max(-12.0, -DOME + math.sqrt((DOME + 3) ** 2 - square) - 3)

    rows = [-52.8 + 0.8 * k for k in range(133)]
    b.over(0, -53, 1)
    b.cut(z=-10.5, f=1800)
    b.cut(z=-12, f=500)
    for k, y in enumerate(rows):
        half = math.sqrt(53.0**2 - y * y)
        count = max(2, math.ceil(half))
        xs = [-half + 2 * half * j / count for j in range(count + 1)]
        for x in xs if k % 2 == 0 else reversed(xs):
            b.cut(x, y, tip(x, y), 2000)
    finish(b, 1)
    return job(
        "dome",
        stock='size = ["125 mm", "125 mm", "30 mm"]\nzero = "centre-top"\nmaterial = "lime"\n'
        'spoilboard = "18 mm"',
        work_zero='"300 mm", "200 mm", "-60 mm"',
        clamps=[],
        rack=["flat-6", "ball-6", "ball-3", "taper-5"],
        programs={"rough.nc": a.text(), "finish.nc": b.text()},
        stages=[
            {"name": "rough", "program": "rough.nc", "bit": "flat-6", "depth": "11.5 mm"},
            {"name": "finish", "program": "finish.nc", "bit": "ball-6", "depth": "12 mm"},
        ],
    )


def wave(x: float, y: float) -> float:
    return -4 + 3 * math.sin(x / 12) * math.cos(y / 15)


def waves() -> Job:
    """A wavy relief: two roughing layers with a ball, a tapered ball over them."""
    xs = [10 + 2.0 * k for k in range(61)]
    a = Tape(PLAIN, 6)
    begin_short(a, "waves rough", "ball nose 6 mm", 18000)
    ys = [10 + 2.0 * k for k in range(41)]
    a.over(10, 10, 0.5)
    a.cut(z=max(wave(10, 10) + 0.6, -3.0), f=500)
    raster_lines(a, xs, ys, lambda x, y: max(wave(x, y) + 0.6, -3.0), 2200)
    a.over(10, 10, 0.5)
    a.cut(z=wave(10, 10) + 0.6, f=500)
    raster_lines(a, xs, ys, lambda x, y: wave(x, y) + 0.6, 2200)
    finish(a, 1)
    b = Tape(PLAIN, 6)
    begin_short(b, "waves finish", "tapered ball, tip radius 0.5 mm, 5 degrees a side", 20000)
    fine = [10 + 0.4 * k for k in range(201)]
    b.over(10, 10, 0.5)
    b.cut(z=wave(10, 10), f=500)
    raster_lines(b, xs, fine, wave, 2200)
    finish(b, 1)
    return job(
        "waves",
        stock='size = ["140 mm", "100 mm", "25 mm"]\nzero = "front-left-top"\n'
        'material = "cherry"\nspoilboard = "18 mm"',
        machine="small",
        rack=["ball-6", "taper-5", "ball-3", "flat-6"],
        programs={"rough.nc": a.text(), "finish.nc": b.text()},
        stages=[
            {"name": "rough", "program": "rough.nc", "bit": "ball-6", "depth": "6.5 mm"},
            {"name": "finish", "program": "finish.nc", "bit": "taper-5", "depth": "7 mm"},
        ],
    )


def raster_lines(t: Tape, xs, ys, height, f: float) -> None:  # type: ignore[no-untyped-def]
    """Lines to and fro without the way there."""
    back = False
    for y in ys:
        for x in reversed(xs) if back else xs:
            t.cut(x, y, height(x, y), f)
        back = not back
    t.up()


def inlay_pocket() -> Job:
    """A square pocket; its corners by a finer bit that goes round the wall."""
    a = Tape(PLAIN, 5)
    begin_short(a, "inlay pocket", "D6 flat", 18000)
    rect_pocket(a, (-30, -30), (30, 30), 6, [-1.5, -3.0], 2.5, 1700, 18, 1.0)
    finish(a, 1)
    b = Tape(PLAIN, 5)
    begin_short(b, "inlay pocket, corners", "D3 flat", 20000)
    b.up()
    for sx, sy in ((1, -1), (1, 1), (-1, 1), (-1, -1)):
        b.rapid(22 * sx, 22 * sy)
        b.rapid(z=1)
        for z in (-1.5, -3.0):
            b.cut(z=z, f=400)
            b.cut(28.5 * sx, 22 * sy, f=1200)
            b.cut(28.5 * sx, 28.5 * sy, f=1200)
            b.cut(22 * sx, 28.5 * sy, f=1200)
            b.cut(22 * sx, 22 * sy, f=1200)
        b.up()
    finish(b, 1)
    return job(
        "inlay-pocket",
        stock='size = ["100 mm", "100 mm", "15 mm"]\nzero = "centre-top"\nmaterial = "walnut"',
        work_zero='"300 mm", "200 mm", "-60 mm"',
        clamps=[],
        rack=["flat-6", "flat-3"],
        programs={"pocket.nc": a.text(), "corners.nc": b.text()},
        stages=[
            {"name": "pocket", "program": "pocket.nc", "bit": "flat-6", "depth": "3 mm"},
            {"name": "corners", "program": "corners.nc", "bit": "flat-3", "depth": "3 mm"},
        ],
    )


def inlay_plug() -> Job:
    """The counterpart: a square left standing, from outside inward, then its walls."""
    a = Tape(ROUND, 5)
    begin(a, "INLAY PLUG", "END MILL 6MM", 18000, tool=1)
    for z in (-1.4, -2.8):
        for k, r in enumerate((38.1, 35.6, 33.1)):
            if k == 0:
                a.over(-r, -r, 1)
                a.cut(z=(0.0 if z == -1.4 else -1.4), f=600)
                a.cut(r, -r, z, 1700)
            else:
                a.cut(-r, -r, f=1700)
                a.cut(r, -r, f=1700)
            for point in ((r, r), (-r, r), (-r, -r), (r, -r)):
                a.cut(*point, f=1700)
    finish(a)
    b = Tape(ROUND, 5)
    begin(b, "INLAY PLUG WALLS", "END MILL 3MM", 20000, tool=2)
    b.over(-36, -36, 1)
    for z in (-1.4, -2.8):
        b.cut(z=z, f=400)
        b.cut(-31.4, -31.4, f=1200)
        for point in ((31.4, -31.4), (31.4, 31.4), (-31.4, 31.4), (-31.4, -31.4), (-36, -36)):
            b.cut(*point, f=1200)
    finish(b)
    return job(
        "inlay-plug",
        stock='size = ["80 mm", "80 mm", "12 mm"]\nzero = "centre-top"\nmaterial = "maple"\n'
        'spoilboard = "12 mm"',
        work_zero='"300 mm", "200 mm", "-60 mm"',
        clamps=[],
        rack=["flat-6", "flat-3"],
        programs={"clear.nc": a.text(), "walls.nc": b.text()},
        stages=[
            {"name": "clear", "program": "clear.nc", "bit": "flat-6", "depth": "2.8 mm"},
            {"name": "walls", "program": "walls.nc", "bit": "flat-3", "depth": "2.8 mm"},
        ],
    )


def peg_board() -> Job:
    """Rows of holes by a subprogram in increments."""
    text = """%
O0210 (PEG BOARD)
(DRILL 8 MM)
G21 G90 G17 G40
T5 M6
S9000 M3
G4 P4
G0 Z10
G0 X30 Y30
Z5
M98 P2101 L8
G0 X30 Y100
M98 P2101 L8
G0 X30 Y170
M98 P2101 L8
G0 Z20
M5
M30
O2101 (ONE HOLE AND ON TO THE NEXT)
G0 Z2
G1 Z-12 F500
G0 Z5
G91 X30
G90
M99
%
"""
    return job(
        "peg-board",
        stock='size = ["300 mm", "200 mm", "20 mm"]\nzero = "front-left-top"\n'
        'material = "pine"\nspoilboard = "18 mm"',
        work_zero='"120 mm", "90 mm", "-45 mm"',
        clamps=[],
        rack=["drill-8", "drill-5"],
        programs={"holes.nc": text},
        stages=[{"name": "holes", "program": "holes.nc", "bit": "drill-8", "depth": "12 mm"}],
    )


def vents() -> Job:
    """Slots through a panel by two nested loops."""
    text = """(vent slots, 10 of 100 mm)
(end mill 6 mm)
G21 G90 G17
S18000 M3
G4 P6
#1=0
WHILE [#1 LT 10] DO1
#2=[30+#1*25]
G0 Z8
G0 X#2 Y25
G0 Z1
G1 Z0 F800
#3=3.05
WHILE [#3 LT 12.3] DO2
G1 Y125 Z[-#3] F2200
G1 Y25
#3=[#3+3.05]
END2
#1=[#1+1]
END1
G0 Z20
M5
M30
"""
    return job(
        "vents",
        stock='size = ["300 mm", "150 mm", "12 mm"]\nzero = "front-left-top"\nmaterial = "MDF"\n'
        'spoilboard = "18 mm"\nallow_into_spoilboard = "0.3 mm"\nnominal_thickness = "12 mm"',
        machine="large",
        work_zero='"-900 mm", "-600 mm", "-110 mm"',
        rack=["flat-6", "flat-3"],
        programs={"slots.nc": text},
        stages=[
            {
                "name": "slots",
                "program": "slots.nc",
                "bit": "flat-6",
                "depth": "through",
                "max_pass": "3.2 mm",
            }
        ],
    )


def template() -> Job:
    """A template cut out with cutter compensation, two tabs."""
    text = """%
O0042 (ROUTER TEMPLATE)
(T1 END MILL D6)
G21 G17 G90 G40 G49
T1 M6
S18000 M3
G4 P4
G0 Z10
G0 X18 Y10
Z2
G1 Z-3 F600
G41 D1 G1 X30 Y22 F2000
Y120
X170
Y30
X22
G40 X18 Y10
G1 Z-6 F600
G41 D1 X30 Y22 F2000
Y120
X170
Y30
X22
G40 X18 Y10
G1 Z-9.2 F600
G41 D1 X30 Y22 F2000
Y68
Z-7 F600
Y82 F2000
Z-9.2 F600
Y120 F2000
X170
Y82
Z-7 F600
Y68 F2000
Z-9.2 F600
Y30 F2000
X22
G40 X18 Y10
G0 Z10
M5
G0 X0 Y0
M30
%
"""
    return job(
        "template",
        stock='size = ["200 mm", "150 mm", "9 mm"]\nzero = "front-left-top"\nmaterial = "mdf"\n'
        'spoilboard = "18 mm"\nallow_into_spoilboard = "0.4 mm"',
        work_zero='"200 mm", "100 mm", "-60 mm"',
        rack=["flat-6", "flat-12"],
        programs={"template.nc": text},
        stages=[
            {
                "name": "outline",
                "program": "template.nc",
                "bit": "flat-6",
                "depth": "through",
                "max_pass": "3.5 mm",
                "tab_width": "7 mm",
                "tab_height": "1.8 mm",
            }
        ],
    )


def shelf_side() -> Job:
    """Zero on the bed, negative travel: two grooves across, two rows of shelf pins."""
    a = Tape(ROUND, 30)
    begin(a, "SHELF SIDE GROOVES", "12MM COMPRESSION", 14000, dwell="6", tool=1)
    for x in (120.0, 300.0):
        a.over(x, -10)
        for z in (15.0, 12.0):
            a.rapid(x, -10)
            a.rapid(z=20)
            a.cut(z=z, f=1200)
            a.cut(y=210, f=3500)
            a.up()
    finish(a)
    b = Tape(ROUND, 30)
    begin(b, "SHELF SIDE PINS", "DRILL 5MM", 8000, dwell="6", tool=2)
    b.up()
    b.say("G99 G81 X40 Y35 Z7 R23 F500")
    holes = [(40 + 32 * k, 35) for k in range(1, 11)] + [(40 + 32 * k, 165) for k in range(11)]
    for x, y in holes:
        if abs(x - 120) > 9 and abs(x - 300) > 9:
            b.say(f"X{x} Y{y}")
    b.say("G80")
    finish(b)
    return job(
        "shelf-side",
        stock='size = ["420 mm", "200 mm", "18 mm"]\nzero = "front-left-bed"\n'
        'material = "birch plywood"\nspoilboard = "18 mm"\nnominal_thickness = "18 mm"',
        machine="large",
        work_zero='"-900 mm", "-600 mm", "-120 mm"',
        clamps=[],
        rack=["flat-12", "drill-5", "drill-8", "flat-6"],
        programs={"grooves.cnc": a.text(), "pins.cnc": b.text()},
        stages=[
            {"name": "grooves", "program": "grooves.cnc", "bit": "flat-12", "depth": "6 mm"},
            {"name": "pins", "program": "pins.cnc", "bit": "drill-5", "depth": "11 mm"},
        ],
    )


def clock() -> Job:
    """Hour marks at angles, a hole for the works, a round outline with tabs on its arcs."""
    a = Tape(PLAIN, 8)
    begin_short(a, "clock, hour marks", "3 mm end mill", 20000, "6")
    for hour in range(12):
        angle = math.radians(30 * hour)
        ux, uy = math.sin(angle), math.cos(angle)
        inner = 70 if hour % 3 == 0 else 82
        a.over(95 * ux, 95 * uy, 1)
        a.cut(z=-1.5, f=400)
        a.cut(inner * ux, inner * uy, f=1200)
        a.up()
    finish(a, 1)
    b = Tape(PLAIN, 8)
    begin_short(b, "clock, hole and outline", "6 mm end mill", 18000, "6")
    bore(b, 0, 0, 10.5, 6, 0, -15.2, 1.2, 1200, 1.0)
    r = 113.0
    b.over(r, 0, 1)
    b.cut(z=0, f=700)
    quarters = [(0, r), (-r, 0), (0, -r), (r, 0)]
    for z in levels(0, -15.2, 3.1)[:-1]:
        b.arc("G3", 0, r, (0, 0), z, 1800)
        for x, y in [*quarters[1:], quarters[0]]:
            b.arc("G3", x, y, (0, 0), f=1800)
        b.cut(z=z + 0.2, f=700)
        b.arc("G2", r, 0, (0, 0), f=1800)
        b.cut(z=z, f=700)
    last = -15.2
    b.arc("G3", 0, r, (0, 0), last, 1800)
    for at in (135, 225, 315):
        for degree, z in ((at - 3.8, None), (at - 3.8, -12.5), (at + 3.8, None), (at + 3.8, last)):
            x, y = r * math.cos(math.radians(degree)), r * math.sin(math.radians(degree))
            if z is None:
                b.arc("G3", x, y, (0, 0), f=1800)
            else:
                b.cut(z=z, f=700)
    b.arc("G3", r, 0, (0, 0), f=1800)
    b.arc("G3", 0, r, (0, 0), f=1800)
    finish(b, 1)
    return job(
        "clock",
        stock='size = ["250 mm", "250 mm", "15 mm"]\nzero = "centre-top"\nmaterial = "cherry"\n'
        'spoilboard = "18 mm"\nallow_into_spoilboard = "0.3 mm"',
        machine="large",
        work_zero='"-650 mm", "-450 mm", "-110 mm"',
        rack=["flat-3", "flat-6", "vee-60"],
        programs={"marks.nc": a.text(), "outline.nc": b.text()},
        stages=[
            {"name": "marks", "program": "marks.nc", "bit": "flat-3", "depth": "1.5 mm"},
            {
                "name": "outline",
                "program": "outline.nc",
                "bit": "flat-6",
                "depth": "through",
                "max_pass": "3.2 mm",
                "tab_width": "7 mm",
                "tab_height": "2.5 mm",
            },
        ],
    )


def comb() -> Job:
    """The fingers of a box joint in increments, in from the edge."""
    t = Tape(PLAIN, 5)
    begin_short(t, "comb, fingers of 6 mm", "6 mm flat", 18000)
    t.say("G0 Z25", "G0 X13 Y-8", "G91")
    for finger in range(15):
        t.say("G0 Z-24" if finger == 0 else "G0 X12")
        for k in range(4):
            t.say("G1 Z-4.05 F900" if k == 0 else "G1 Z-3.05 F900")
            t.say("G1 Y20 F1800", "G1 Y-20")
        t.say("G0 Z13.2")
    t.say("G90", "G0 Z25", "M5", "M30")
    return job(
        "comb",
        stock='size = ["200 mm", "80 mm", "12 mm"]\nzero = "front-left-top"\nmaterial = "oak"\n'
        'spoilboard = "18 mm"\nallow_into_spoilboard = "0.3 mm"',
        work_zero='"200 mm", "100 mm", "-60 mm"',
        clamps=[("back", '"60 mm", "50 mm"', '"140 mm", "110 mm"', '"20 mm"')],
        rack=["flat-6", "flat-3"],
        programs={"fingers.nc": t.text()},
        stages=[
            {
                "name": "fingers",
                "program": "fingers.nc",
                "bit": "flat-6",
                "depth": "through",
                "max_pass": "3.2 mm",
            }
        ],
    )


def flutes() -> Job:
    """Flutes along X that swoop in and out on arcs in the XZ plane, two passes each."""
    t = Tape(PLAIN, 8)
    begin_short(t, "five flutes", "ball nose 12 mm", 14000)
    t.say("G18")
    r = 42.5
    for y in (10, 20, 30, 40, 50):
        for depth in (2.5, 5.0):
            dx = math.sqrt(2 * r * depth - depth * depth)
            x0, x1 = 45 - dx, 195 + dx
            t.over(x0, y, 1)
            t.cut(z=0, f=1500)
            t.move("G2", 3000, X=45, Z=-depth, I=45 - t.rounded(x0), K=r - depth)
            t.cut(195, f=3000)
            t.move("G2", 3000, X=x1, Z=0, I=0, K=r)
            t.up()
    t.say("G17")
    finish(t, 1)
    return job(
        "flutes",
        stock='size = ["240 mm", "60 mm", "25 mm"]\nzero = "front-left-top"\n'
        'material = "poplar"\nspoilboard = "18 mm"',
        work_zero='"200 mm", "100 mm", "-60 mm"',
        clamps=[],
        rack=["ball-12", "ball-6"],
        programs={"flutes.nc": t.text()},
        stages=[
            {
                "name": "flutes",
                "program": "flutes.nc",
                "bit": "ball-12",
                "depth": "5 mm",
                "max_pass": "3 mm",
            }
        ],
    )


def chess() -> Job:
    """Lines of a chess board and its border, a single program."""
    t = Tape(WIDE, 6)
    begin(t, "CHESS BOARD LINES", "V-BIT 90 DEG D12", 18000)
    for k in range(9):
        at = -100 + 25.0 * k
        first, second = ((-100, at), (100, at)) if k % 2 == 0 else ((100, at), (-100, at))
        t.over(*first, 1)
        t.cut(z=-1, f=500)
        t.cut(*second, f=1600)
        t.up()
    for k in range(9):
        at = -100 + 25.0 * k
        first, second = ((at, -100), (at, 100)) if k % 2 == 0 else ((at, 100), (at, -100))
        t.over(*first, 1)
        t.cut(z=-1, f=500)
        t.cut(*second, f=1600)
        t.up()
    t.over(-108, -108, 1)
    t.cut(z=-2, f=500)
    for point in ((108, -108), (108, 108), (-108, 108), (-108, -108)):
        t.cut(*point, f=1600)
    finish(t)
    return job(
        "chess",
        stock='size = ["240 mm", "240 mm", "18 mm"]\nzero = "centre-top"\nmaterial = "maple"\n'
        'spoilboard = "18 mm"',
        work_zero='"300 mm", "200 mm", "-60 mm"',
        clamps=[],
        rack=["vee-90", "vee-60", "flat-6"],
        programs={"lines.ngc": t.text()},
        stages=[{"name": "lines", "program": "lines.ngc", "bit": "vee-90", "depth": "2 mm"}],
    )


def body_template() -> Job:
    """A rounded template with a finger hole, in the lower-case hand."""
    t = Tape(LOWER, 8)
    t.note("guitar body template")
    t.note("flat end mill 6mm")
    t.say("G21", "G90", "G17", "M3 S18000", "G4 P5")
    bore(t, 80, 110, 11, 6, 0, -6.2, 1.0, 1200, 1)
    around(
        t,
        (75, 15),
        rounded_rect(15, 15, 285, 205, 60),
        levels(0, -6.2, 3.1),
        2000,
        700,
        1.0,
        tabs=(2, 4, 6),
        tab_long=14,
        tab_z=-4.2,
    )
    finish(t, 1)
    return job(
        "body-template",
        stock='size = ["300 mm", "220 mm", "6 mm"]\nzero = "front-left-top"\nmaterial = "MDF"\n'
        'spoilboard = "12 mm"\nallow_into_spoilboard = "0.3 mm"\nnominal_thickness = "6 mm"',
        work_zero='"150 mm", "100 mm", "-60 mm"',
        clamps=[
            ("left", '"-40 mm", "90 mm"', '"8 mm", "130 mm"', '"5 mm"'),
            ("right", '"292 mm", "90 mm"', '"340 mm", "130 mm"', '"5 mm"'),
        ],
        rack=["flat-6", "flat-3"],
        programs={"body.gcode": t.text()},
        stages=[
            {
                "name": "body",
                "program": "body.gcode",
                "bit": "flat-6",
                "depth": "through",
                "max_pass": "3.2 mm",
                "tab_width": "8 mm",
                "tab_height": "1.8 mm",
            }
        ],
    )


def coasters() -> Job:
    """Two round recesses on one blank, the second through G55."""
    t = Tape(PLAIN, 6)
    begin_short(t, "two coasters", "6 mm end mill", 18000)
    t.say("G54")
    round_pocket(t, 60, 60, 80, 6, [-2.0, -4.0], 2.6, 1.0, 1800, 1.0)
    t.say("G55")
    t.forget()
    round_pocket(t, 60, 60, 80, 6, [-2.0, -4.0], 2.6, 1.0, 1800, 1.0)
    t.say("G54")
    finish(t, 1)
    return job(
        "coasters",
        stock='size = ["240 mm", "120 mm", "12 mm"]\nzero = "front-left-top"\nmaterial = "beech"\n'
        'spoilboard = "12 mm"',
        work_zero='"200 mm", "100 mm", "-60 mm"',
        clamps=[],
        rack=["flat-6", "flat-3"],
        programs={"recess.nc": t.text()},
        stages=[
            {
                "name": "recesses",
                "program": "recess.nc",
                "bit": "flat-6",
                "depth": "4 mm",
                "offsets": '{ G54 = ["0 mm", "0 mm", "0 mm"], G55 = ["120 mm", "0 mm", "0 mm"] }',
            }
        ],
    )


def hinges() -> Job:
    """Two hinge seats and their pilot holes in pecks."""
    a = Tape(PLAIN, 14)
    begin_short(a, "hinge seats", "6 mm end mill", 18000)
    for x in (40.0, 180.0):
        rect_pocket(a, (x, 15), (x + 80, 45), 6, [-3.0], 2.6, 1700, 18, 1.0)
    finish(a, 1)
    b = Tape(PLAIN, 14)
    begin_short(b, "pilot holes", "drill 3 mm", 8000)
    b.up()
    b.say("G98 G83 X52 Y30 Z-16 R1 Q4 F350")
    for x in (80, 108, 192, 220, 248):
        b.say(f"X{x}")
    b.say("G80")
    finish(b, 1)
    return job(
        "hinges",
        stock='size = ["300 mm", "60 mm", "35 mm"]\nzero = "front-left-top"\nmaterial = "oak"\n'
        'spoilboard = "12 mm"',
        work_zero='"150 mm", "150 mm", "-50 mm"',
        clamps=[
            ("left", '"-30 mm", "10 mm"', '"12 mm", "50 mm"', '"10 mm"'),
            ("right", '"288 mm", "10 mm"', '"330 mm", "50 mm"', '"10 mm"'),
        ],
        rack=["flat-6", "drill-3", "drill-5"],
        programs={"seats.nc": a.text(), "pilots.nc": b.text()},
        stages=[
            {"name": "seats", "program": "seats.nc", "bit": "flat-6", "depth": "3 mm"},
            {"name": "pilots", "program": "pilots.nc", "bit": "drill-3", "depth": "16 mm"},
        ],
    )


def insert_nuts() -> Job:
    """Counterbores by helix, then holes for insert nuts."""
    places = [(25, 25), (125, 25), (125, 125), (25, 125)]
    a = Tape(TIGHT, 8)
    begin(a, "COUNTERBORES", "END MILL D=6", 18000, tool=2)
    for x, y in places:
        round_pocket(a, x, y, 18, 6, [-3.0], 2.5, 1.0, 1700, 1.0)
    finish(a)
    b = Tape(TIGHT, 8)
    begin(b, "HOLES", "DRILL D=8", 8000, tool=6)
    b.up()
    b.say("G98G82X25.Y25.Z-13.R1.P.3F400")
    for x, y in places[1:]:
        b.say(f"X{x}.Y{y}.")
    b.say("G80")
    finish(b)
    return job(
        "insert-nuts",
        stock='size = ["150 mm", "150 mm", "18 mm"]\nzero = "front-left-top"\n'
        'material = "multiplex"\nspoilboard = "18 mm"',
        work_zero='"200 mm", "120 mm", "-60 mm"',
        clamps=[],
        rack=["flat-6", "drill-8", "drill-5"],
        programs={"counterbore.nc": a.text(), "holes.nc": b.text()},
        stages=[
            {"name": "counterbores", "program": "counterbore.nc", "bit": "flat-6", "depth": "3 mm"},
            {"name": "holes", "program": "holes.nc", "bit": "drill-8", "depth": "13 mm"},
        ],
    )


def baffle() -> Job:
    """A ring-shaped step with a wide bit, the opening with tabs, screw holes."""
    a = Tape(PLAIN, 10)
    begin_short(a, "speaker step", "12 mm end mill", 14000, "6")
    a.over(249, 190, 1)
    a.cut(z=0, f=1500)
    for r in (64.0, 58.0):
        if r == 64.0:
            a.arc("G3", 185 + r, 190, (185, 190), -2.5, 3800)
            a.arc("G3", 185 + r, 190, (185, 190), -5.0, 3800)
        else:
            a.cut(185 + r, 190, f=3800)
        a.arc("G3", 185 + r, 190, (185, 190), f=3800)
    finish(a, 1)
    b = Tape(PLAIN, 10)
    begin_short(b, "speaker opening, 4 tabs", "6 mm end mill", 18000, "6")
    r = 57.0
    b.over(185 + r, 190, 1)
    b.cut(z=-5, f=700)
    for z in levels(-5, -18.2, 3.3)[:-1]:
        b.arc("G3", 185 + r, 190, (185, 190), z, 2200)
        b.arc("G3", 185 + r, 190, (185, 190), f=2200)
    z = -18.2

    def on(degree: float) -> tuple[float, float]:
        angle = math.radians(degree)
        return 185 + r * math.cos(angle), 190 + r * math.sin(angle)

    b.arc("G3", *on(30), (185, 190), z, 2200)  # down before the first tab
    for at in (45, 135, 225, 315):
        b.arc("G3", *on(at - 7.5), (185, 190), f=2200)
        b.cut(z=-15.5, f=700)
        b.arc("G3", *on(at + 7.5), (185, 190), f=2200)
        b.cut(z=z, f=700)
    b.arc("G3", *on(30), (185, 190), f=2200)
    finish(b, 1)
    c = Tape(PLAIN, 10)
    begin_short(c, "screw holes", "5 mm drill", 8000, "6")
    c.up()
    for k in range(4):
        angle = math.radians(90 * k)
        x, y = c.number(185 + 65 * math.cos(angle)), c.number(190 + 65 * math.sin(angle))
        c.say(("G99 G81 " if k == 0 else "") + f"X{x} Y{y}" + (" Z-15 R5 F500" if k == 0 else ""))
    c.say("G80")
    finish(c, 1)
    return job(
        "baffle",
        stock='size = ["370 mm", "380 mm", "18 mm"]\nzero = "front-left-top"\n'
        'material = "mdf"\nspoilboard = "18 mm"\nallow_into_spoilboard = "0.3 mm"',
        machine="large",
        work_zero='"-900 mm", "-700 mm", "-110 mm"',
        clamps=[
            ("front left", '"-20 mm", "-20 mm"', '"30 mm", "30 mm"', '"6 mm"'),
            ("back right", '"340 mm", "350 mm"', '"390 mm", "400 mm"', '"6 mm"'),
        ],
        rack=["flat-12", "flat-6", "drill-5", "drill-8"],
        programs={"step.nc": a.text(), "opening.nc": b.text(), "screws.nc": c.text()},
        stages=[
            {"name": "step", "program": "step.nc", "bit": "flat-12", "depth": "5 mm"},
            {
                "name": "opening",
                "program": "opening.nc",
                "bit": "flat-6",
                "depth": "through",
                "max_pass": "3.5 mm",
                "tab_width": "8 mm",
                "tab_height": "2.5 mm",
            },
            {"name": "screws", "program": "screws.nc", "bit": "drill-5", "depth": "15 mm"},
        ],
    )


def chamfered_pocket() -> Job:
    """A pocket and a chamfer round its rim."""
    a = Tape(PLAIN, 6)
    begin_short(a, "pocket", "6 mm flat", 18000)
    rect_pocket(a, (-50, -30), (50, 30), 6, [-3.0, -6.0], 2.6, 1800, 18, 1.0)
    finish(a, 1)
    b = Tape(PLAIN, 6)
    begin_short(b, "chamfer 1.5", "90 degree vee bit", 18000)
    b.over(0, -25, 1)
    b.cut(z=-2.5, f=600)
    b.cut(0, -29, f=1600)
    for kind, x, y, cx, cy in rounded_rect(-49, -29, 49, 29, 2):
        if kind == "L":
            b.cut(x, y, f=1600)
        else:
            b.arc(kind, x, y, (cx, cy), f=1600)
    b.cut(0, -29, f=1600)
    b.cut(0, -25, f=1600)
    finish(b, 1)
    return job(
        "chamfered-pocket",
        stock='size = ["140 mm", "100 mm", "20 mm"]\nzero = "centre-top"\nmaterial = "oak"\n'
        'spoilboard = "12 mm"',
        work_zero='"300 mm", "200 mm", "-60 mm"',
        clamps=[],
        rack=["flat-6", "vee-90", "vee-60"],
        programs={"pocket.nc": a.text(), "chamfer.nc": b.text()},
        stages=[
            {"name": "pocket", "program": "pocket.nc", "bit": "flat-6", "depth": "6 mm"},
            {"name": "chamfer", "program": "chamfer.nc", "bit": "vee-90", "depth": "2.5 mm"},
        ],
    )


def bowl() -> Job:
    """A bowl as part of a sphere: levels with a flat bit, circles with a ball."""
    a = Tape(ROUND, 6)
    begin(a, "BOWL ROUGH", "6 MM END MILL", 18000, tool=1)
    a.over(2.4, 0, 1)
    high = 1.0
    for z in (-3.0, -6.0, -9.0, -11.0):
        wall = math.sqrt(1600 - (28 - z) ** 2) - 3.6
        a.cut(2.4, 0, f=1700)
        helix(a, 0, 0, 2.4, high, z, 1.0, 1700)
        count = math.ceil((wall - 2.4) / 2.6)
        for k in range(1, count + 1):
            r = 2.4 + (wall - 2.4) * k / count
            a.cut(r, 0, f=1700)
            a.arc("G3", r, 0, (0, 0), f=1700)
        a.cut(2.4, 0, f=1700)
        high = z + 0.2
        a.cut(z=high, f=1700)
    finish(a)
    b = Tape(ROUND, 6)
    begin(b, "BOWL FINISH", "BALL 12 MM", 14000, tool=2)
    b.over(25.9, 0, 1)
    b.cut(z=0.2, f=800)
    for k in range(37):
        r = 25.9 * (1 - k / 37)
        z = 28 - math.sqrt(34.0**2 - r * r) - 6
        b.cut(r, 0, z, 2800 if k else 800)
        b.arc("G3", r, 0, (0, 0), f=2800)
    b.cut(0, 0, -12, 2800)
    finish(b)
    return job(
        "bowl",
        stock='size = ["100 mm", "100 mm", "30 mm"]\nzero = "centre-top"\nmaterial = "cherry"\n'
        'spoilboard = "12 mm"',
        work_zero='"300 mm", "200 mm", "-60 mm"',
        clamps=[],
        rack=["flat-6", "ball-12", "ball-6"],
        programs={"rough.nc": a.text(), "finish.nc": b.text()},
        stages=[
            {"name": "rough", "program": "rough.nc", "bit": "flat-6", "depth": "11 mm"},
            {"name": "finish", "program": "finish.nc", "bit": "ball-12", "depth": "12 mm"},
        ],
    )


def stencil() -> Job:
    """Four windows cut right out in rounds, nothing loose."""
    t = Tape(PLAIN, 5)
    begin_short(t, "stencil", "3 mm end mill", 20000)
    for x, wide in ((20.0, 30.0), (60.0, 12.0), (84.0, 30.0), (124.0, 45.0)):
        rect_pocket(t, (x, 20), (x + wide, 80), 3, [-1.1, -2.1, -3.15], 1.3, 1300, 18, 1.0)
    finish(t, 1)
    return job(
        "stencil",
        stock='size = ["190 mm", "100 mm", "3 mm"]\nzero = "front-left-top"\n'
        'material = "birch plywood"\nspoilboard = "12 mm"\nallow_into_spoilboard = "0.3 mm"',
        work_zero='"200 mm", "100 mm", "-60 mm"',
        rack=["flat-3", "flat-6", "flat-2"],
        programs={"windows.nc": t.text()},
        stages=[{"name": "windows", "program": "windows.nc", "bit": "flat-3", "depth": "through"}],
    )


def cribbage() -> Job:
    """Many peg holes in cycles, clamped at the ends; a finger recess by a ball."""
    a = Tape(WIDE, 12)
    begin(a, "CRIBBAGE RECESS", "BALL NOSE 12MM", 14000, tool=1)
    for z in (-3, -6):
        a.over(40, 45, 1)
        a.cut(40, 45, 0.0 if z == -3 else -3.0, 900)
        a.cut(70, 45, z, 2800)
        a.cut(40, 45, f=2800)
        a.up()
    finish(a)
    b = Tape(WIDE, 12)
    begin(b, "CRIBBAGE HOLES", "DRILL 3MM", 8000, tool=2)
    b.up()
    for k in range(30):
        for row, y in enumerate((20, 30, 60, 70)):
            x = 90 + 6 * k
            first = k == 0 and row == 0
            words = f"X{x}.000 Y{y}.000"
            b.say(f"G99 G81 {words} Z-9.000 R3.500 F350" if first else words)
    b.say("G80")
    finish(b)
    return job(
        "cribbage",
        stock='size = ["300 mm", "90 mm", "20 mm"]\nzero = "front-left-top"\n'
        'material = "walnut"\nspoilboard = "12 mm"',
        work_zero='"150 mm", "150 mm", "-60 mm"',
        clamps=[
            ("left", '"-30 mm", "20 mm"', '"15 mm", "70 mm"', '"8 mm"'),
            ("right", '"285 mm", "20 mm"', '"330 mm", "70 mm"', '"8 mm"'),
        ],
        rack=["ball-12", "drill-3", "drill-5"],
        programs={"recess.nc": a.text(), "holes.nc": b.text()},
        stages=[
            {"name": "recess", "program": "recess.nc", "bit": "ball-12", "depth": "6 mm"},
            {"name": "holes", "program": "holes.nc", "bit": "drill-3", "depth": "9 mm"},
        ],
    )


def surfacing() -> Job:
    """Planing a board with a wide cutter, in from the edge."""
    t = Tape(PLAIN, 10)
    begin_short(t, "surface the board 0.8 mm", "surfacing bit 25 mm", 12000)
    t.over(-20, 5, 2)
    t.cut(z=-0.8, f=1500)
    for k in range(10):
        y = 5 + 16.7 * k
        t.cut(y=y, f=4000)
        t.cut(260 if k % 2 == 0 else -20, f=4000)
    finish(t, 1)
    return job(
        "surfacing",
        stock='size = ["240 mm", "160 mm", "28 mm"]\nzero = "front-left-top"\nmaterial = "pine"\n'
        'spoilboard = "18 mm"',
        work_zero='"200 mm", "120 mm", "-60 mm"',
        clamps=[],
        rack=["surfacer-25", "flat-12"],
        programs={"surface.nc": t.text()},
        stages=[
            {"name": "surface", "program": "surface.nc", "bit": "surfacer-25", "depth": "0.8 mm"}
        ],
    )


def moulding() -> Job:
    """A profiled groove with a form bit, in from the edge, two passes."""
    t = Tape(PLAIN, 6)
    begin_short(t, "moulding groove", "profile bit 12 mm", 16000)
    for z in (-3.0, -6.0):
        t.over(-9, 40, 2)
        t.cut(z=z, f=800)
        t.cut(309, f=2000)
        t.up()
    finish(t, 1)
    return job(
        "moulding",
        stock='size = ["300 mm", "80 mm", "20 mm"]\nzero = "front-left-top"\nmaterial = "beech"\n'
        'spoilboard = "12 mm"',
        work_zero='"150 mm", "120 mm", "-60 mm"',
        clamps=[],
        rack=["cove-6", "flat-6"],
        programs={"groove.nc": t.text()},
        stages=[{"name": "groove", "program": "groove.nc", "bit": "cove-6", "depth": "6 mm"}],
    )


def pen_tray() -> Job:
    """A tray with a bull-nose bit, in one run, zero at the back right corner."""
    t = Tape(TIGHT, 8)
    begin(t, "PEN TRAY", "BULL NOSE 12MM R3", 14000, tool=7)
    rect_pocket(t, (-180, -90), (-20, -20), 12, [-3.0, -6.0, -9.0], 4.0, 3000, 18, 1.0)
    finish(t)
    return job(
        "pen-tray",
        stock='size = ["200 mm", "110 mm", "18 mm"]\nzero = "back-right-top"\nmaterial = "ash"\n'
        'spoilboard = "12 mm"',
        work_zero='"400 mm", "300 mm", "-60 mm"',
        clamps=[],
        rack=["bull-12", "flat-12", "ball-12"],
        programs={"tray.nc": t.text()},
        stages=[{"name": "tray", "program": "tray.nc", "bit": "bull-12", "depth": "9 mm"}],
    )


def long_panel() -> Job:
    """Clamps in the middle: pockets left and right, high rapids between."""
    t = Tape(PLAIN, 26)
    begin_short(t, "two pockets, clamps in the middle", "6 mm end mill", 18000)
    rect_pocket(t, (30, 30), (180, 90), 6, [-3.0, -6.0], 2.6, 2200, 18, 1.0)
    rect_pocket(t, (320, 30), (470, 90), 6, [-3.0, -6.0], 2.6, 2200, 18, 1.0)
    t.over(20, 60, 1)
    t.cut(z=-2, f=700)
    t.up()
    t.over(480, 60, 1)
    t.cut(z=-2, f=700)
    finish(t, 1)
    return job(
        "long-panel",
        stock='size = ["500 mm", "120 mm", "18 mm"]\nzero = "front-left-top"\nmaterial = "mdf"\n'
        'spoilboard = "12 mm"',
        work_zero='"50 mm", "140 mm", "-60 mm"',
        clamps=[
            ("front", '"235 mm", "-30 mm"', '"265 mm", "70 mm"', '"20 mm"'),
            ("back", '"235 mm", "100 mm"', '"265 mm", "150 mm"', '"20 mm"'),
        ],
        rack=["flat-6", "flat-12"],
        programs={"pockets.nc": t.text()},
        stages=[{"name": "pockets", "program": "pockets.nc", "bit": "flat-6", "depth": "6 mm"}],
    )


def key_holder() -> Job:
    """Three stages: pocket, finer slots in it, a cut-out by arcs in R."""
    a = Tape(PLAIN, 8)
    begin_short(a, "key holder, pocket", "12 mm end mill", 14000)
    rect_pocket(a, (40, 30), (160, 70), 12, [-2.5, -5.0], 5.0, 3000, 18, 1.0)
    finish(a, 1)
    b = Tape(PLAIN, 8)
    begin_short(b, "key holder, hook slots", "3 mm end mill", 20000)
    for x in (60, 80, 100, 120, 140):
        b.over(x, 40, 1)
        b.cut(z=-5, f=1200)
        b.cut(x, 60, -6.5, 1200)
        b.cut(x, 40, f=1200)
        b.cut(x, 60, -8, 1200)
        b.cut(x, 40, f=1200)
        b.up()
    finish(b, 1)
    c = Tape(PLAIN, 8)
    begin_short(c, "key holder, outline", "6 mm end mill", 18000)
    c.over(33, 13, 1)
    c.cut(z=0, f=700)
    for z in levels(0, -16.2, 3.3):
        c.cut(167, 13, z, 1800)
        c.arc_r("G3", 187, 33, 20, 1800)
        sides = (((187, 43), (187, 57), (187, 67)), ((13, 57), (13, 43), (13, 33)))
        for side, (tab_on, tab_off, end) in enumerate(sides):
            if z < -13:
                c.cut(*tab_on, f=1800)
                c.cut(z=-13, f=700)
                c.cut(*tab_off, f=1800)
                c.cut(z=z, f=700)
            c.cut(*end, f=1800)
            if side == 0:
                c.arc_r("G3", 167, 87, 20, 1800)
                c.cut(33, 87, f=1800)
                c.arc_r("G3", 13, 67, 20, 1800)
            else:
                c.arc_r("G3", 33, 13, 20, 1800)
    c.cut(167, 13, f=1800)
    finish(c, 1)
    return job(
        "key-holder",
        stock='size = ["200 mm", "100 mm", "16 mm"]\nzero = "front-left-top"\nmaterial = "oak"\n'
        'spoilboard = "12 mm"\nallow_into_spoilboard = "0.3 mm"',
        work_zero='"200 mm", "120 mm", "-60 mm"',
        rack=["flat-12", "flat-3", "flat-6"],
        programs={"pocket.nc": a.text(), "slots.nc": b.text(), "outline.nc": c.text()},
        stages=[
            {"name": "pocket", "program": "pocket.nc", "bit": "flat-12", "depth": "5 mm"},
            {"name": "slots", "program": "slots.nc", "bit": "flat-3", "depth": "8 mm"},
            {
                "name": "outline",
                "program": "outline.nc",
                "bit": "flat-6",
                "depth": "through",
                "max_pass": "3.5 mm",
                "tab_width": "8 mm",
                "tab_height": "3 mm",
            },
        ],
    )


WOOD = (
    house_sign, plaque, walnut_tray, box_lid, dome, waves, inlay_pocket, inlay_plug, peg_board,
    vents, template, shelf_side, clock, comb, flutes, chess, body_template, coasters, hinges,
    insert_nuts, baffle, chamfered_pocket, bowl, stencil, cribbage, surfacing, moulding, pen_tray,
    long_panel, key_holder,
)  # fmt: skip
