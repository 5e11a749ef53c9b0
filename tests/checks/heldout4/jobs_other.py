"""Clean jobs in plastics, aluminium and foam."""

from __future__ import annotations

import math

from tests.checks.heldout4 import paths as p
from tests.checks.heldout4.paths import Cut
from tests.checks.heldout4.shop import GANTRY, MILL, SMALL, Work, job, rack
from tests.checks.heldout4.styles import DENSE, INCH, LETTER, PLATE, STEPS, TERSE, WORDY, program
from tests.checks.heldout4.tape import Tape, Text


def acrylic_panel() -> Work:
    """Lines engraved, holes bored, outline cut with one edge."""
    vee = Cut(r=3, down=1, over=1, f=900, plunge=300, clear=10)
    one = Cut(r=1.5, down=1.2, over=1, f=1100, plunge=250, clear=10)
    holes = [(12.0, 12.0), (108.0, 12.0), (108.0, 68.0), (12.0, 68.0)]

    def lines(t: Tape) -> None:
        for n in range(4):
            y = 25 + 10.0 * n
            p.loop(t, vee, [(30, y, -0.4), (90, y, -0.4)], f"line{n}")

    def cut(t: Tape) -> None:
        for n, m in enumerate(holes):
            p.bore(t, one, m, 2.25, -5.2, f"bore{n}", pitch=0.7)
        p.outline(t, one, (0, 0, 120, 80), 6, -5.2, "out", tabs=1.5, tab=7, ramp=30, slope=5,
                  sides="rl")  # fmt: skip

    return job(
        "acrylic-panel", size=[150, 110, 5], zero=[15, 15, 0],
        material="cast acrylic", machine=SMALL, work_zero=[120, 90, -40],
        bits=rack("vee-60", "one-edge-3", "flat-2"),
        clamps=[(50, -35, 70, -8, 5), (50, 88, 70, 115, 5)],
        stages=[
            ({"name": "lines", "bit": "vee-60", "depth": 0.4},
             program(TERSE, "panel lines", "60 deg vee", lines, rpm=16000, wait=4, clear=10)),
            ({"name": "cut out", "bit": "one-edge-3", "depth": "through", "max_pass": 1.5,
              "tab_width": 3, "tab_height": 1},
             program(TERSE, "panel cut out", "3 mm flat, 1 flute", cut, rpm=16000, wait=4,
                     clear=10)),
        ],
    )  # fmt: skip


def hdpe_jig() -> Work:
    """Slots and stepped holes in a thick board, with cycles; zero at the centre."""
    flat = Cut(r=3, down=3, over=3, f=3200, plunge=700, clear=15)
    step = [(-60.0, -35.0), (60.0, -35.0), (60.0, 35.0), (-60.0, 35.0)]

    def slots(t: Tape) -> None:
        for n, y in enumerate((-15.0, 15.0)):
            p.pocket(t, flat, (-40, y - 5, 40, y + 5), -8, f"slot{n}.")
        for n, m in enumerate(step):
            p.disc(t, flat, m, 7, -6, f"sink{n}.")

    def drill(t: Tape) -> None:
        t.rapid(z=15)
        t.mark("hole")
        t.holes(step, z=-22, r=2, f=500, clear=15, q=6, top=0)

    return job(
        "hdpe-jig", size=[160, 110, 20], zero="centre-top", material="HDPE", machine=MILL,
        work_zero=[250, 200, -60], bits=rack("flat-6", "drill-8", "drill-5"),
        clamps=[(-100, -10, -73, 10, 8), (73, -10, 100, 10, 8)], allow_into_spoilboard=3,
        stages=[
            ({"name": "slots and sinks", "bit": "flat-6", "depth": 8},
             program(PLATE, "JIG SLOTS", "FLAT 6", slots, rpm=14000, wait=2.5, clear=15)),
            ({"name": "holes", "bit": "drill-8", "depth": "through"},
             program(PLATE, "JIG HOLES", "DRILL 8", drill, rpm=3500, wait=2.5, clear=15,
                     tool="T2 M6")),
        ],
    )  # fmt: skip


def pom_rings() -> Work:
    """Two rings: a recess, the bore through, the outside with tabs; inch program, mm job."""
    flat = Cut(r=3, down=2.5, over=2.5, f=2400, plunge=500, clear=15)
    middles = [(50.0, 45.0), (130.0, 45.0)]

    def recess(t: Tape) -> None:
        for n, m in enumerate(middles):
            p.disc(t, flat, m, 20, -5, f"recess{n}.", pitch=0.9)

    def cut(t: Tape) -> None:
        for n, (x, y) in enumerate(middles):
            p.bore(t, Cut(r=3, down=2, over=2, f=1500, plunge=500, clear=15), (x, y), 6, -10.2,
                   f"bore{n}", pitch=1.2)  # fmt: skip
            box = (x - 28, y - 28, x + 28, y + 28)
            p.outline(t, flat, box, 14, -10.2, f"out{n}.", tabs=2.5, tab=11, ramp=15, slope=6,
                      sides="rl")  # fmt: skip

    return job(
        "pom-rings", size=[180, 90, 10], zero="front-left-top", material="POM", machine=MILL,
        work_zero=[200, 150, -50], bits=rack("flat-6", "flat-8"),
        clamps=[(80, -20, 100, 6, 6), (80, 84, 100, 110, 6)],
        stages=[
            ({"name": "recesses", "bit": "flat-6", "depth": 5},
             program(INCH, "rings recess", "6 mm flat", recess, rpm=14000, wait=2.5, clear=15)),
            ({"name": "cut out", "bit": "flat-6", "depth": "through", "max_pass": 3},
             program(INCH, "rings cut out", "6 mm flat", cut, rpm=14000, wait=2.5, clear=15)),
        ],
    )  # fmt: skip


def foam_inlay() -> Work:
    """Deep tool pockets in foam with a long bit."""
    flat = Cut(r=4, down=10, over=6, f=6000, plunge=1500, clear=20)

    def pockets(t: Tape) -> None:
        p.zigzag(t, flat, (20, 20, 120, 60), -20, "long")
        p.disc(t, flat, (160, 40), 18, -20, "round", pitch=5)

    def finger(t: Tape) -> None:
        p.zigzag(t, flat, (50, 65, 90, 85), -10, "finger")

    bits = rack("flat-8", "flat-6")
    bits["flat-8"] |= {"flute_length": 40, "stickout": 55}
    return job(
        "foam-inlay", size=[200, 100, 30], zero="front-left-top", material="foam",
        machine=GANTRY, work_zero=[300, 200, -90], clamps=[], bits=bits,
        stages=[
            ({"name": "tool pockets", "bit": "flat-8", "depth": 20},
             program(LETTER, "inlay pockets", "8 mm flat long", pockets, rpm=15000, wait=6,
                     clear=20)),
            ({"name": "finger holes", "bit": "flat-8", "depth": 10},
             program(LETTER, "inlay fingers", "8 mm flat long", finger, rpm=15000, wait=6,
                     clear=20)),
        ],
    )  # fmt: skip


def alu_bracket() -> Work:
    """3 mm sheet: bored holes, a slot, the outline, thin passes with one edge."""
    one = Cut(r=1.5, down=0.4, over=1, f=600, plunge=120, clear=10, near=1)
    holes = [(10.0, 10.0), (50.0, 10.0), (50.0, 40.0), (10.0, 40.0)]

    def inside(t: Tape) -> None:
        for n, m in enumerate(holes):
            p.bore(t, one, m, 2.6, -3.2, f"bore{n}", pitch=0.3)

    def cut(t: Tape) -> None:
        p.pocket(t, one, (22, 20, 38, 30), -3.2, "slot")
        p.outline(t, one, (0, 0, 60, 50), 5, -3.2, "out", tabs=1, tab=7, ramp=15, slope=5,
                  sides="rlb")  # fmt: skip

    return job(
        "alu-bracket", size=[90, 80, 3], zero=[15, 15, 0],
        material="aluminium", machine=SMALL, work_zero=[150, 120, -40],
        bits=rack("one-edge-3", "flat-2", "one-edge-6"),
        clamps=[(-30, 15, -8, 35, 6), (68, 15, 90, 35, 6)],
        stages=[
            ({"name": "holes", "bit": "one-edge-3", "depth": "through", "max_ramp_angle": "10 deg"},
             program(WORDY, "BRACKET HOLES", "FLAT 3 MM 1 FLUTE", inside, rpm=16000, wait=4,
                     clear=10)),
            ({"name": "cut out", "bit": "one-edge-3", "depth": "through", "max_pass": 0.5,
              "tab_width": 3, "tab_height": 0.6, "max_plunge_rate": 200},
             program(WORDY, "BRACKET OUTLINE", "FLAT 3 MM 1 FLUTE", cut, rpm=16000, wait=4,
                     clear=10)),
        ],
    )  # fmt: skip


def alu_fins() -> Work:
    """Slots of a heat sink, and two tapped-hole blanks drilled."""
    one = Cut(r=1.5, down=0.5, over=1, f=700, plunge=150, clear=8, near=1)
    drills = [(8.0, 30.0), (92.0, 30.0)]

    def fins(t: Tape) -> None:
        for n in range(6):
            y = 10 + 8.0 * n
            one.come(t, 18, y, f"fin{n}")
            t.mark(f"fin{n}.feed")
            t.line(z=0, f=150)
            for k, z in enumerate(one.levels(-4)):
                t.mark(f"fin{n}.cut{k}")
                t.line(82 if k % 2 == 0 else 18, y, z, f=700)
            t.mark(f"fin{n}.last")
            t.line(18 if t.at[0] == 82 else 82, y)
            one.leave(t, f"fin{n}")

    def drill(t: Tape) -> None:
        t.rapid(z=8)
        t.mark("hole")
        t.holes(drills, z=-9, r=1.5, f=240, clear=8, q=2, top=0)

    return job(
        "alu-fins", size=[100, 60, 10], zero="front-left-top", material="aluminium",
        machine=MILL, work_zero=[250, 150, -60], bits=rack("one-edge-3", "drill-3", "flat-4"),
        clamps=[(-25, 5, 3, 20, 6), (97, 5, 125, 20, 6)],
        stages=[
            ({"name": "fins", "bit": "one-edge-3", "depth": 4},
             program(PLATE, "FINS", "FLAT 3 ONE FLUTE", fins, rpm=18000, wait=2.5, clear=8)),
            ({"name": "holes", "bit": "drill-3", "depth": 9},
             program(PLATE, "HOLES", "DRILL 3", drill, rpm=4000, wait=2.5, clear=8,
                     tool="T2 M6")),
        ],
    )  # fmt: skip


BOLTS = p.polygon((0, 0), 32, 6)


def alu_flange() -> Work:
    """Bolt circle drilled, heads counterbored, the middle recessed; centre zero."""
    one = Cut(r=3, down=0.8, over=2, f=1000, plunge=200, clear=12)

    def drill(t: Tape) -> None:
        t.rapid(z=12)
        t.mark("hole")
        t.holes(BOLTS, z=-14, r=2, f=250, clear=12, q=3, top=0)

    def sinks(t: Tape) -> None:
        for n, m in enumerate(BOLTS):
            p.disc(t, one, m, 4.75, -3.2, f"sink{n}.", pitch=0.5)

    def recess(t: Tape) -> None:
        p.disc(t, one, (0, 0), 20, -2.4, "middle", pitch=0.5)

    return job(
        "alu-flange", size=[100, 100, 12], zero="centre-top", material="aluminium",
        machine=MILL, work_zero=[300, 200, -60], bits=rack("drill-5", "one-edge-6", "one-edge-3"),
        clamps=[(-75, -50, -42, -38, 8), (42, 38, 75, 50, 8)], allow_into_spoilboard=3,
        stages=[
            ({"name": "bolt holes", "bit": "drill-5", "depth": "through"},
             program(PLATE, "BOLT HOLES", "DRILL 5", drill, rpm=3500, wait=2.5, clear=12)),
            ({"name": "counterbores", "bit": "one-edge-6", "depth": 3.2},
             program(PLATE, "COUNTERBORES", "FLAT 6 ONE FLUTE", sinks, rpm=14000, wait=2.5,
                     clear=12, tool="T2 M6")),
            ({"name": "recess", "bit": "one-edge-6", "depth": 2.4},
             program(PLATE, "RECESS", "FLAT 6 ONE FLUTE", recess, rpm=14000, wait=2.5, clear=12,
                     tool="T2 M6")),
        ],
    )  # fmt: skip


def alu_nameplate() -> Work:
    """Two millimetre sheet: letters in straight strokes, then the outline."""
    vee = Cut(r=3, down=1, over=1, f=500, plunge=100, clear=6, near=1)
    one = Cut(r=1.5, down=0.4, over=1, f=600, plunge=120, clear=6, near=1)

    def letters(t: Tape) -> None:
        for n in range(6):
            x = 12.0 + 11 * n
            strokes = [(x, 10, -0.2), (x + 4, 25, -0.2), (x + 8, 10, -0.2)]
            p.loop(t, vee, strokes, f"letter{n}")
            p.loop(t, vee, [(x + 2, 16, -0.2), (x + 6, 16, -0.2)], f"bar{n}")

    def cut(t: Tape) -> None:
        p.outline(t, one, (0, 0, 90, 35), 4, -2.15, "out", tabs=0.8, tab=7, ramp=20, slope=5)

    return job(
        "alu-nameplate", size=[120, 65, 2], zero=[15, 15, 0],
        material="aluminium", machine=SMALL, work_zero=[120, 120, -40],
        bits=rack("vee-60", "one-edge-3", "vee-90"),
        clamps=[(-35, 5, -8, 30, 2), (98, 5, 125, 30, 2)],
        stages=[
            ({"name": "letters", "bit": "vee-60", "depth": 0.2},
             program(DENSE, "nameplate letters", "vee 60deg", letters, rpm=20000, wait=4, clear=6)),
            ({"name": "cut out", "bit": "one-edge-3", "depth": "through", "max_pass": 0.5,
              "tab_width": 3, "tab_height": 0.5},
             program(DENSE, "nameplate outline", "flat 3mm 1 flute", cut, rpm=16000, wait=4,
                     clear=6)),
        ],
    )  # fmt: skip


def alu_pocket() -> Work:
    """A pocket roughed with an allowance, its walls finished by another program."""
    rough = Cut(r=3, down=0.9, over=2.4, f=1100, plunge=200, clear=10)
    fine = Cut(r=2, down=6, over=1, f=500, plunge=100, clear=10)

    def roughing(t: Tape) -> None:
        t.note("leaves 0.3 mm on the walls")
        p.pocket(t, rough, (-29.7, -19.7, 29.7, 19.7), -4.5, "pocket")

    def walls(t: Tape) -> None:
        for n, z in enumerate((-2.25, -4.5)):
            path = [(0, -16, z), (0, -18, z), (28, -18, z), (28, 18, z), (-28, 18, z),
                    (-28, -18, z), (0, -18, z), (0, -16, z)]  # fmt: skip
            p.loop(t, fine, [(float(x), float(y), w) for x, y, w in path], f"wall{n}")

    bits = rack("one-edge-6", "flat-4", "one-edge-3")
    return job(
        "alu-pocket", size=[80, 60, 8], zero="centre-top", material="aluminium", machine=MILL,
        work_zero=[300, 200, -60], bits=bits,
        clamps=[(-65, -10, -37, 10, 6), (37, -10, 65, 10, 6)],
        stages=[
            ({"name": "rough", "bit": "one-edge-6", "depth": 4.5, "max_pass": 1},
             program(PLATE, "POCKET ROUGH", "FLAT 6 ONE FLUTE", roughing, rpm=14000, wait=2.5,
                     clear=10)),
            ({"name": "walls", "bit": "flat-4", "depth": 4.5},
             program(PLATE, "POCKET WALLS", "FLAT 4 TWO FLUTES", walls, rpm=12000, wait=2.5,
                     clear=10, tool="T2 M6")),
        ],
    )  # fmt: skip


def motor_plate() -> Work:
    """A big bore and four holes by helix, then the outline; increments, in aluminium."""
    one = Cut(r=1.5, down=0.5, over=1, f=650, plunge=130, clear=9, near=1)
    holes = [(-15.5, -15.5), (15.5, -15.5), (15.5, 15.5), (-15.5, 15.5)]

    def bores(t: Tape) -> None:
        for n, m in enumerate(holes):
            p.bore(t, one, m, 2.2, -4.2, f"bore{n}", pitch=0.3)

    def cut(t: Tape) -> None:
        p.outline(t, one, (-26, -26, 26, 26), 4, -4.2, "out", tabs=1.2, tab=7, ramp=10, slope=5)

    return job(
        "motor-plate", size=[80, 80, 4], zero="centre-top", material="aluminium",
        machine=SMALL, work_zero=[180, 150, -40], bits=rack("one-edge-3", "flat-3"),
        clamps=[(-60, -10, -33, 10, 5), (33, -10, 60, 10, 5)],
        stages=[
            ({"name": "holes", "bit": "one-edge-3", "depth": "through"},
             program(STEPS, "plate holes", "3 mm flat 1 flute", bores, rpm=16000, wait=4,
                     clear=9)),
            ({"name": "outline", "bit": "one-edge-3", "depth": "through", "max_pass": 0.6,
              "tab_width": 3, "tab_height": 0.8},
             program(STEPS, "plate outline", "3 mm flat 1 flute", cut, rpm=16000, wait=4,
                     clear=9)),
        ],
    )  # fmt: skip


TEMPLATE = """\
(router template, outside, by hand)
(6 mm flat)
G21 G90 G94 G17 G40
T1 M6
S16000 M3
G4 P3
G0 Z12
G0 X70 Y-70
G0 Z2
G1 Z-4 F700
G42 G1 X50 Y-60 F2400
G1 X50 Y40
G3 X40 Y50 R10
G1 X-40 Y50
G3 X-50 Y40 R10
G1 X-50 Y-40
G3 X-40 Y-50 R10
G1 X40 Y-50
G3 X50 Y-40 R10
G1 X50 Y-30
G40 G1 X70 Y-30
G0 Z12
M5
M30
"""


def template_ring() -> Work:
    """A template cut counter-clockwise, the bit on its right by compensation; drilled marks."""
    ring = Text(
        TEMPLATE.splitlines(), {"units": 2, "spindle": 4, "down": 9, "comp": 10, "arc2": 14}
    )

    def marks(t: Tape) -> None:
        t.rapid(z=12)
        t.mark("hole")
        t.holes([(-30, 0), (0, 0), (30, 0)], z=-3, r=2, f=400, clear=12, top=0)

    return job(
        "template-ring", size=[160, 160, 9], zero="centre-top", material="MDF",
        machine=MILL, work_zero=[300, 200, -50], bits=rack("flat-6", "drill-5", "flat-8"),
        clamps=[],
        stages=[
            ({"name": "outside", "bit": "flat-6", "depth": 4}, ring),
            ({"name": "marks", "bit": "drill-5", "depth": 3},
             program(PLATE, "MARKS", "DRILL 5", marks, rpm=5000, wait=2.5, clear=12,
                     coolant=("", ""), tool="T2 M6")),
        ],
    )  # fmt: skip


RECESSES = """\
(row of finger recesses)
(ball 6 mm)
G21 G90 G94 G17
T1 M6
S16000 M3
G4 P3
G0 Z15
G0 X25 Y30
M98 P100 L4
G90 G0 Z15
M5
G53 G0 Z-1
M30
O100
G90 G0 Z2
G1 Z0 F500
G91
G3 X0 Y0 Z-1 I-2 J0 F1800
G3 X0 Y0 Z-1 I-2 J0
G3 X0 Y0 I-2 J0
G1 X3
G3 X0 Y0 I-5 J0
G1 X-3
G90 G0 Z15
G91 G0 X30
G90
M99
"""


def knob_row() -> Work:
    """A row of knobs by a local subprogram called with a shift of the zero in increments."""
    knobs = Text(RECESSES.splitlines(), {"units": 2, "spindle": 4, "subdown": 15, "wide": 21})
    out = Cut(r=3, down=3, over=3, f=2600, plunge=600, clear=15)

    def cut(t: Tape) -> None:
        p.outline(t, out, (8, 10, 142, 50), 8, -12.2, "out", tabs=3, tab=14, ramp=30, sides="fb")

    return job(
        "knob-row", size=[150, 60, 12], zero="front-left-top", material="sapele",
        machine=MILL, work_zero=[200, 150, -55], bits=rack("ball-6", "flat-6", "flat-4"),
        clamps=[],
        stages=[
            ({"name": "recesses", "bit": "ball-6", "depth": 2}, knobs),
            ({"name": "cut out", "bit": "flat-6", "depth": "through", "max_pass": 3.5},
             program(PLATE, "KNOBS OUTLINE", "FLAT 6", cut, rpm=16000, wait=2.5, clear=15,
                     coolant=("", ""), tool="T2 M6")),
        ],
    )  # fmt: skip


def pvc_letters() -> Work:
    """Raised field with chamfered border in plastic sheet; zero at the right front corner."""
    flat = Cut(r=3, down=1.5, over=3.5, f=2600, plunge=600, clear=12)
    out = Cut(r=3, down=2, over=3, f=2200, plunge=600, clear=12)

    def field(t: Tape) -> None:
        p.zigzag(t, flat, (-170, 20, -20, 80), -3, "field")

    def cut(t: Tape) -> None:
        p.outline(t, out, (-180, 10, -10, 90), 15, -6.2, "out", tabs=2, tab=14, ramp=40)

    return job(
        "pvc-letters", size=[190, 100, 6], zero="front-right-top", material="plastic",
        machine=GANTRY, work_zero=[700, 300, -80], clamps=[], bits=rack("flat-6", "flat-3"),
        stages=[
            ({"name": "field", "bit": "flat-6", "depth": 3},
             program(TERSE, "field", "6 mm flat", field, rpm=14000, wait=6, clear=12)),
            ({"name": "cut out", "bit": "flat-6", "depth": "through", "max_pass": 2.5,
              "max_plunge_rate": 900, "tab_height": 1.5},
             program(TERSE, "outline", "6 mm flat", cut, rpm=14000, wait=6, clear=12)),
        ],
    )  # fmt: skip


def dial_plate() -> Work:
    """A dial: a round recess, ticks by a vee round its edge, the outline round by bores."""
    flat = Cut(r=2, down=1.5, over=2, f=1600, plunge=400, clear=10)
    vee = Cut(r=3, down=1, over=1, f=1200, plunge=300, clear=10)
    turn = [math.tau * k / 12 for k in range(12)]

    def recess(t: Tape) -> None:
        p.disc(t, flat, (0, 0), 22, -3, "recess", pitch=0.6)
        for n, a in enumerate(turn[::3]):
            p.disc(t, flat, (38 * math.cos(a), 38 * math.sin(a)), 4, -3, f"dot{n}.", pitch=0.6)

    def ticks(t: Tape) -> None:
        for n, a in enumerate(turn):
            x, y = math.cos(a), math.sin(a)
            p.loop(t, vee, [(24 * x, 24 * y, -0.7), (31 * x, 31 * y, -0.7)], f"tick{n}")

    return job(
        "dial-plate", size=[100, 100, 9], zero="centre-top", material="hornbeam",
        machine=SMALL, work_zero=[190, 140, -45], bits=rack("flat-4", "vee-60", "flat-3"),
        clamps=[(-70, -50, -42, -36, 5), (42, 36, 70, 50, 5)],
        stages=[
            ({"name": "recess", "bit": "flat-4", "depth": 3},
             program(DENSE, "dial recess", "flat 4mm", recess, rpm=18000, wait=4, clear=10)),
            ({"name": "ticks", "bit": "vee-60", "depth": 0.7},
             program(DENSE, "dial ticks", "vee 60deg", ticks, rpm=18000, wait=4, clear=10)),
        ],
    )  # fmt: skip


OTHER = (
    acrylic_panel, hdpe_jig, pom_rings, foam_inlay, alu_bracket, alu_fins, alu_flange,
    alu_nameplate, alu_pocket, motor_plate, template_ring, knob_row, pvc_letters, dial_plate,
)  # fmt: skip
