"""Clean jobs in wood and boards."""

from __future__ import annotations

import math

import numpy as np

from tests.checks.heldout4 import paths as p
from tests.checks.heldout4.paths import Cut
from tests.checks.heldout4.shop import GANTRY, INCHER, MILL, SMALL, Work, job, rack
from tests.checks.heldout4.styles import DENSE, INCH, LETTER, PLATE, STEPS, TERSE, WORDY, program
from tests.checks.heldout4.tape import Tape, Text


def walnut_tray() -> Work:
    """Two compartments, then cut out with four tabs; vacuum table."""
    rough = Cut(r=4, down=2.5, over=4.5, f=4000, plunge=900, clear=15)
    out = Cut(r=3, down=3.5, over=3, f=3000, plunge=700, clear=15)

    def pockets(t: Tape) -> None:
        p.pocket(t, rough, (-100, -60, -5, 60), -10, "left")
        p.pocket(t, rough, (5, -60, 100, 60), -10, "right")

    def cut(t: Tape) -> None:
        p.outline(t, out, (-110, -70, 110, 70), 12, -20.2, "out", tabs=3, tab=14, ramp=70)

    return job(
        "walnut-tray", size=[240, 160, 20], nominal_thickness=20, zero="centre-top",
        material="walnut", machine=GANTRY, work_zero=[400, 300, -90], clamps=[],
        bits=rack("flat-6", "flat-8", "ball-6"),
        stages=[
            ({"name": "compartments", "bit": "flat-8", "depth": 10, "max_pass": 3},
             program(LETTER, "tray, compartments", "8 mm flat", pockets,
                     rpm=18000, wait=6, clear=15)),
            ({"name": "cut out", "bit": "flat-6", "depth": "through", "max_pass": 4,
              "tab_width": 6, "tab_height": 2, "max_ramp_angle": "20 deg"},
             program(LETTER, "tray, cut out", "6 mm flat", cut, rpm=18000, wait=6, clear=15)),
        ],
    )  # fmt: skip


def oak_coasters() -> Work:
    """Inch work: round recesses and outlines of two coasters."""
    i = 25.4
    c = Cut(r=i / 8, down=0.09 * i, over=0.11 * i, f=75 * i, plunge=25 * i, clear=0.7 * i,
            near=0.06 * i)  # fmt: skip
    middles = [(3 * i, 2.6 * i), (8 * i, 2.6 * i)]

    def recess(t: Tape) -> None:
        for n, m in enumerate(middles):
            p.disc(t, c, m, 1.4 * i, -0.16 * i, f"recess{n}.", pitch=0.05 * i)

    def cut(t: Tape) -> None:
        for n, (x, y) in enumerate(middles):
            box = (x - 1.9 * i, y - 1.9 * i, x + 1.9 * i, y + 1.9 * i)
            p.outline(t, c, box, 0.5 * i, -0.51 * i, f"out{n}.", tabs=0.12 * i, tab=0.5 * i,
                      ramp=1.0 * i, slope=0.5 * i, down=0.13 * i)  # fmt: skip

    quarter = {
        "shape": "flat", "diameter": "1/4 in", "flutes": 2, "flute_length": "3/4 in",
        "shank": "1/4 in", "stickout": "1.3 in", "centre_cutting": True, "material": "carbide",
    }  # fmt: skip
    eighth = {**quarter, "diameter": "1/8 in", "flute_length": "1/2 in", "shank": "1/8 in"}
    return job(
        "oak-coasters", size=[11, 5.2, 0.5], zero="front-left-top", material="oak", units="in",
        machine=INCHER, work_zero=["3 in", "3 in", "-2 in"],
        clamps=[(-0.8, 2.2, 0.3, 3.0, 0.5), (10.7, 2.2, 11.8, 3.0, 0.5)],
        bits={"quarter": quarter, "eighth": eighth},
        stages=[
            ({"name": "recesses", "bit": "quarter", "depth": 0.16},
             program(INCH, "coasters recess", "1/4 in flat", recess, rpm=16000, wait=4,
                     clear=0.7 * i)),
            ({"name": "cut out", "bit": "quarter", "depth": "through", "max_pass": 0.15},
             program(INCH, "coasters outline", "1/4 in flat", cut, rpm=16000, wait=4,
                     clear=0.7 * i)),
        ],
    )  # fmt: skip


def beech_hexagon() -> Work:
    """A hexagon cleared with a flat bit, its walls carved with a vee."""
    flat = Cut(r=3, down=2, over=3, f=2400, plunge=600, clear=12)
    vee = Cut(r=6, down=4, over=3, f=1800, plunge=500, clear=12)
    turn = math.radians(30)

    def clear(t: Tape) -> None:
        # the floor ends 4 mm inside the outline, where the 45 degree wall meets it
        p.clear_polygon(t, flat, (0, 0), 55 - 4 / math.cos(math.pi / 6), 6, -4, "hex", turn)

    def carve(t: Tape) -> None:
        p.carve_polygon(t, vee, (0, 0), 55, 6, 4, "wall", turn)
        for n in range(3):
            corners = p.polygon((0, 0), 62 + 3 * n, 6, turn)
            path = [(x, y, -0.8) for x, y in [*corners, corners[0]]]
            p.loop(t, vee, path, f"line{n}")

    return job(
        "beech-hexagon", size=[160, 160, 18], zero="centre-top", material="beech",
        machine=SMALL, work_zero=[190, 145, -40], bits=rack("flat-6", "flat-3", "vee-90", "vee-60"),
        clamps=[(-95, -20, -72, 20, 8), (72, -20, 95, 20, 8)],
        stages=[
            ({"name": "clear", "bit": "flat-6", "depth": 4, "max_pass": 2.2},
             program(TERSE, "hexagon, clear", "flat bit 6 mm", clear, rpm=18000, wait=4,
                     clear=12)),
            ({"name": "carve", "bit": "vee-90", "depth": 4},
             program(TERSE, "hexagon, carve", "90 deg vee", carve, rpm=16000, wait=4, clear=12)),
        ],
    )  # fmt: skip


def pine_sign() -> Work:
    """A framed field cleared in lines, a vee-carved border round it, cut out; Z zero on the bed."""
    top = 19.0
    flat = Cut(r=4, down=3, over=5, f=3600, plunge=900, clear=top + 18, top=top)
    vee = Cut(r=6, down=3, over=3, f=2400, plunge=600, clear=top + 18, top=top)
    out = Cut(r=3, down=4, over=3, f=2700, plunge=700, clear=top + 18, top=top)

    def field(t: Tape) -> None:
        p.zigzag(t, flat, (30, 30, 270, 120), top - 3, "field")

    def border(t: Tape) -> None:
        foot = [(30, 30), (270, 30), (270, 120), (30, 120)]
        path = []
        for x, y in foot:
            ox, oy = (27 if x < 99 else 273), (27 if y < 99 else 123)
            path += [(x, y, top - 3), (ox, oy, top), (x, y, top - 3)]
        path.append((30, 30, top - 3))
        p.loop(t, vee, path, "border")

    def cut(t: Tape) -> None:
        p.outline(t, out, (15, 15, 285, 135), 10, -0.2, "out", tabs=4, tab=16, ramp=90)

    return job(
        "pine-sign", size=[300, 150, 19], zero="front-left-bed", material="pine",
        machine=SMALL, work_zero=[40, 60, -65], bits=rack("flat-8", "vee-90", "flat-6"),
        clamps=[(-20, 60, 7, 90, 10), (293, 60, 320, 90, 10)],
        stages=[
            ({"name": "field", "bit": "flat-8", "depth": 3},
             program(WORDY, "SIGN FIELD", "TOOL FLAT 8 MM", field, rpm=18000, wait=4,
                     clear=top + 18)),
            ({"name": "border", "bit": "vee-90", "depth": 3},
             program(WORDY, "SIGN BORDER", "TOOL VEE 90 DEG", border, rpm=18000, wait=4,
                     clear=top + 18)),
            ({"name": "cut out", "bit": "flat-6", "depth": "through", "max_pass": 4,
              "tab_width": 8, "tab_height": 3},
             program(WORDY, "SIGN OUTLINE", "TOOL FLAT 6 MM", cut, rpm=18000, wait=4,
                     clear=top + 18)),
        ],
    )  # fmt: skip


def _waves(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """A flower: three waves round a dome, at most 8 mm deep."""
    dx, dy = x - 40, y - 40
    d = np.hypot(dx, dy)
    a = np.arctan2(dy, dx)
    dome = -6 + 5 * np.exp(-((d / 18) ** 2))
    return np.minimum(0, dome + 1.2 * np.sin(6 * a) * np.exp(-(((d - 22) / 9) ** 2)))


def lime_flower() -> Work:
    """A relief: roughed flat in two levels, finished with a ball."""
    flat = Cut(r=3, down=3, over=3, f=2400, plunge=500, clear=10)
    ball = Cut(r=3, down=3, over=1, f=2400, plunge=500, clear=10)
    field = p.surface(80, 80, _waves)
    rough = p.tip_heights(field, 3, False) + 0.4
    fine = p.tip_heights(field, 3, True)

    def roughing(t: Tape) -> None:
        p.raster(t, flat, rough, (20, 20), -3, "level1.")
        p.raster(t, flat, rough, (20, 20), -6, "level2.")

    def finishing(t: Tape) -> None:
        p.raster(t, ball, fine, (20, 20), -50, "fine")

    return job(
        "lime-flower", size=[120, 120, 22], zero="front-left-top", material="lime",
        machine=SMALL, work_zero=[100, 80, -40], bits=rack("flat-6", "ball-6", "ball-3"),
        clamps=[(50, -20, 70, 8, 5), (50, 112, 70, 140, 5)],
        stages=[
            ({"name": "rough", "bit": "flat-6", "depth": 5.8, "max_pass": 4},
             program(DENSE, "flower rough", "flat 6", roughing, rpm=18000, wait=4, clear=10)),
            ({"name": "finish", "bit": "ball-6", "depth": 6.4},
             program(DENSE, "flower finish", "ball 6", finishing, rpm=18000, wait=4, clear=10)),
        ],
    )  # fmt: skip


def _dish(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """A soap dish: a shallow bowl with a drain ridge."""
    u, v = (x - 50) / 44, (y - 30) / 24
    bowl = -9 * np.clip(1 - u * u - v * v, 0, 1) ** 0.7
    return bowl + 1.5 * np.exp(-((v / 0.15) ** 2)) * np.clip(1 - u * u - v * v, 0, 1)


def maple_dish() -> Work:
    """A bowl roughed with a bull nose across, finished with a ball along; zero at the bed."""
    top = 25.0
    bull = Cut(r=4, down=3, over=3.5, f=3000, plunge=500, clear=top + 12, top=top)
    ball = Cut(r=3, down=3, over=1, f=2800, plunge=500, clear=top + 12, top=top)
    field = p.surface(100, 60, _dish) + top
    rough = p.tip_heights(field, 4, False) + 0.5
    fine = p.tip_heights(field, 3, True)

    def roughing(t: Tape) -> None:
        for n, z in enumerate((-3, -6, -9)):
            p.raster(t, bull, rough, (-50, -30), top + z, f"level{n}.", turned=True)

    def finishing(t: Tape) -> None:
        p.raster(t, ball, fine, (-50, -30), -50, "fine")

    return job(
        "maple-dish", size=[140, 90, 25], zero="centre-bed", material="maple",
        machine=GANTRY, work_zero=[500, 400, -110], clamps=[],
        bits=rack("bull-8", "ball-6", "flat-8"),
        stages=[
            ({"name": "rough", "bit": "bull-8", "depth": 7.4, "max_pass": 4},
             program(LETTER, "dish rough", "bull nose 8 mm r2", roughing, rpm=16000, wait=6,
                     clear=top + 12)),
            ({"name": "finish", "bit": "ball-6", "depth": 8.55},
             program(LETTER, "dish finish", "ball nose 6 mm", finishing, rpm=18000, wait=6,
                     clear=top + 12)),
        ],
    )  # fmt: skip


PLATE_HOLES = [(x, y) for x in (20.0, 80.0, 140.0, 200.0) for y in (20.0, 80.0)]


def birch_plate() -> Work:
    """Through holes by peck cycle, counterbores for the screw heads by a flat bit."""
    flat = Cut(r=3, down=2.5, over=2.5, f=2800, plunge=700, clear=12)

    def drill(t: Tape) -> None:
        t.rapid(z=12)
        t.mark("hole")
        t.holes(PLATE_HOLES, z=-16.5, r=2, f=500, clear=12, q=5, top=0)

    def sinks(t: Tape) -> None:
        for n, m in enumerate(PLATE_HOLES):
            p.disc(t, flat, m, 5.5, -5, f"sink{n}.")

    return job(
        "birch-plate", size=[220, 100, 15], zero="front-left-top", material="birch plywood",
        machine=MILL, work_zero=[150, 120, -60], bits=rack("drill-5", "flat-6", "drill-8"),
        clamps=[(-25, 35, 8, 65, 8), (212, 35, 245, 65, 8)], allow_into_spoilboard=2,
        stages=[
            ({"name": "holes", "bit": "drill-5", "depth": "through"},
             program(PLATE, "PLATE HOLES", "DRILL 5", drill, rpm=5000, wait=2.5, clear=12,
                     coolant=("", ""))),
            ({"name": "counterbores", "bit": "flat-6", "depth": 5},
             program(PLATE, "PLATE COUNTERBORES", "FLAT 6", sinks, rpm=16000, wait=2.5, clear=12,
                     coolant=("", ""), tool="T2 M6")),
        ],
    )  # fmt: skip


def shelf_side() -> Work:
    """Shelf pins and two dadoes; Z zero on the bed, corner at the back left."""
    top = 18.0
    flat = Cut(r=4, down=3, over=5, f=4500, plunge=1000, clear=top + 15, top=top)
    pins = [(x, -y) for y in (37.0, 263.0) for x in np.arange(64, 540, 32.0).tolist()]

    def dado(t: Tape) -> None:
        for n, x in enumerate((30.0, 560.0)):
            for k, z in enumerate(flat.levels(top - 6)):
                for side, off in enumerate((-5.0, 0.0, 5.0)):
                    tag = f"dado{n}.{k}.{side}"
                    flat.come(t, x + off, 8, tag)
                    t.mark(f"{tag}.feed")
                    t.line(z=z, f=flat.plunge)
                    t.mark(f"{tag}.cut")
                    t.line(x + off, -308, f=flat.f)
                    flat.leave(t, tag)

    def pinning(t: Tape) -> None:
        t.rapid(z=top + 15)
        t.mark("pin")
        t.holes(pins, z=top - 11, r=top + 2, f=900, clear=top + 15, top=top, p=0.3)

    return job(
        "shelf-side", size=[600, 300, 18], nominal_thickness=18, zero="back-left-bed",
        material="birch plywood", machine=GANTRY, work_zero=[200, 600, -115], clamps=[],
        bits=rack("flat-8", "drill-5", "flat-6", "drill-3"),
        stages=[
            ({"name": "dadoes", "bit": "flat-8", "depth": 6, "max_pass": 3.2},
             program(LETTER, "side dadoes", "8 mm flat", dado, rpm=18000, wait=6,
                     clear=top + 15)),
            ({"name": "shelf pins", "bit": "drill-5", "depth": 11},
             program(LETTER, "side shelf pins", "5 mm drill", pinning, rpm=8000, wait=6,
                     clear=top + 15)),
        ],
    )  # fmt: skip


def ash_frame() -> Work:
    """Front of a frame: rebate, opening cut out, outline cut out, with tabs."""
    flat = Cut(r=4, down=3, over=4, f=3600, plunge=800, clear=16)
    out = Cut(r=3, down=3.2, over=3, f=2800, plunge=700, clear=16)

    def rebate(t: Tape) -> None:
        for n, i in enumerate((4.0, 8.0)):
            box = (40 + i - 4, 40 + i - 4, 200 - i + 4, 160 - i + 4)
            p.outline(t, flat, box, 4, -6, f"rebate{n}.", inside=True, ramp=50)

    def cut(t: Tape) -> None:
        p.outline(t, out, (50, 50, 190, 150), 6, -16.2, "in", inside=True, tabs=3, tab=14,
                  ramp=40, sides="fb")  # fmt: skip
        p.outline(t, out, (15, 15, 225, 185), 5, -16.2, "out", tabs=3, tab=14, ramp=60)

    return job(
        "ash-frame", size=[240, 200, 16], zero="front-left-top", material="ash",
        machine=SMALL, work_zero=[70, 45, -45], bits=rack("flat-8", "flat-6", "flat-4"),
        clamps=[(-15, 90, 6, 110, 8), (234, 90, 255, 110, 8)],
        stages=[
            ({"name": "rebate", "bit": "flat-8", "depth": 6},
             program(STEPS, "frame rebate", "8 mm flat bit", rebate, rpm=18000, wait=4, clear=16)),
            ({"name": "cut out", "bit": "flat-6", "depth": "through", "max_pass": 3.5,
              "tab_width": 7, "tab_height": 2.5},
             program(STEPS, "frame cut out", "6 mm flat bit", cut, rpm=18000, wait=4, clear=16)),
        ],
    )  # fmt: skip


def frame_back() -> Work:
    """The other side of a frame blank: hanging slots and dowel holes, zero at the back right."""
    flat = Cut(r=3, down=2.5, over=3, f=2600, plunge=650, clear=14)

    def slots(t: Tape) -> None:
        for n, x in enumerate((-60.0, -180.0)):
            p.pocket(t, flat, (x - 18, -26, x + 18, -14), -7, f"slot{n}.")

    def dowels(t: Tape) -> None:
        t.rapid(z=14)
        t.mark("dowel")
        t.holes([(-20, -100), (-120, -185), (-220, -100)], z=-9, r=2, f=600, clear=14, top=0)

    return job(
        "frame-back", size=[240, 200, 16], zero="back-right-top", material="ash",
        machine=SMALL, work_zero=[310, 240, -45], bits=rack("flat-6", "drill-8", "flat-3"),
        clamps=[(-130, -210, -110, -194, 8), (-130, -6, -110, 10, 8)],
        stages=[
            ({"name": "hanging slots", "bit": "flat-6", "depth": 7},
             program(DENSE, "back slots", "flat 6mm", slots, rpm=18000, wait=4, clear=14)),
            ({"name": "dowels", "bit": "drill-8", "depth": 9},
             program(DENSE, "back dowels", "drill 8mm", dowels, rpm=8000, wait=4, clear=14)),
        ],
    )  # fmt: skip


PEG_HOLES = """\
%
(peg board, by hand)
(3 mm drill)
G21 G90 G94 G17
T1 M6
S9000 M3
G4 P3
G0 Z10
#1 = 0 (column)
WHILE [#1 LT 12] DO1
#2 = 0 (row)
WHILE [#2 LT 4] DO2
G0 X[20+10*#1] Y[20+10*#2]
G0 Z2
G1 Z-12 F700
G0 Z10
#2 = [#2 + 1]
END2
#1 = [#1 + 1]
END1
M5
G53 G0 Z-1
M30
%
"""


def peg_board() -> Work:
    """By hand, with a loop: a grid of peg holes; then engraved lines."""
    holes = Text(
        PEG_HOLES.splitlines(), {"units": 3, "hole": 12, "holedown": 14, "count": 16, "column": 18}
    )
    vee = Cut(r=3, down=1, over=1, f=1500, plunge=400, clear=10)

    def lines(t: Tape) -> None:
        for n in range(5):
            x = 15 + 30.0 * n
            p.loop(t, vee, [(x, 14, -0.6), (x, 56, -0.6)], f"line{n}")
        p.loop(t, vee, [(8, 8, -0.6), (142, 8, -0.6), (142, 62, -0.6), (8, 62, -0.6), (8, 8, -0.6)],
               "edge")  # fmt: skip

    return job(
        "peg-board", size=[150, 70, 20], zero="front-left-top", material="maple",
        machine=MILL, work_zero=[200, 150, -60], bits=rack("drill-3", "vee-60", "vee-90"),
        clamps=[(-30, 25, 4, 45, 6), (146, 25, 180, 45, 6)],
        stages=[
            ({"name": "peg holes", "bit": "drill-3", "depth": 12}, holes),
            ({"name": "lines", "bit": "vee-60", "depth": 0.6},
             program(PLATE, "LINES", "VEE 60 DEG", lines, rpm=18000, wait=2.5, clear=10,
                     coolant=("", ""), tool="T2 M6")),
        ],
    )  # fmt: skip


def cutting_board() -> Work:
    """A juice groove by a ball, then the outline with a big bit that cannot plunge."""
    ball = Cut(r=3, down=2, over=1, f=2400, plunge=600, clear=15)
    big = Cut(r=6, down=4, over=6, f=4200, plunge=800, clear=15)

    def groove(t: Tape) -> None:
        for n, z in enumerate((-2.0, -4.0)):
            x, y = 130.0, 80.0
            path = [(-x, -y, 0.0), (0.0, -y, z), (x, -y, z), (x, y, z), (-x, y, z), (-x, -y, z),
                    (0.0, -y, z)]  # fmt: skip
            path[0] = (-x, -y, 0.0 if n == 0 else -2.0)
            p.loop(t, ball, path, f"groove{n}")

    def cut(t: Tape) -> None:
        p.outline(t, big, (-150, -100, 150, 100), 20, -24.2, "out", tabs=4, tab=24, ramp=100,
                  slope=20)  # fmt: skip

    return job(
        "cutting-board", size=[340, 240, 24], zero="centre-top", material="maple",
        machine=GANTRY, work_zero=[600, 400, -95], clamps=[],
        bits=rack("ball-6", "flat-12", "flat-6"),
        stages=[
            ({"name": "groove", "bit": "ball-6", "depth": 4},
             program(LETTER, "board groove", "6 mm ball", groove, rpm=18000, wait=6, clear=15)),
            ({"name": "cut out", "bit": "flat-12", "depth": "through", "tab_height": 3},
             program(LETTER, "board cut out", "12 mm flat", cut, rpm=14000, wait=6, clear=15)),
        ],
    )  # fmt: skip


def faced_slab() -> Work:
    """A slab faced with a wide bit that runs over its ends, then a tray pocket."""
    face = Cut(r=12.5, down=1, over=20, f=2800, plunge=600, clear=20)

    def facing(t: Tape) -> None:
        face.come(t, -16, 5, "face")
        t.mark("face.feed")
        t.line(z=-1, f=600)
        for k in range(7):
            y = 5 + 20.0 * k
            t.mark(f"face.link{k}")
            t.line(t.at[0], y)
            t.mark(f"face.row{k}")
            t.line(216 if k % 2 == 0 else -16, y, f=face.f)
        face.leave(t, "face")

    def pocketing(t: Tape) -> None:
        low = Cut(r=4, down=2.5, over=4.5, f=3200, plunge=800, clear=20, top=-1)
        p.pocket(t, low, (40, 30, 160, 100), -7, "tray")

    return job(
        "faced-slab", size=[200, 130, 30], zero="front-left-top", material="cherry",
        machine=SMALL, work_zero=[90, 70, -35], bits=rack("facer-25", "flat-8", "flat-6"),
        clamps=[],
        stages=[
            ({"name": "face", "bit": "facer-25", "depth": 1},
             program(TERSE, "face the slab", "25 mm facing bit", facing, rpm=12000, wait=4,
                     clear=20)),
            ({"name": "tray", "bit": "flat-8", "depth": 7},
             program(TERSE, "tray pocket", "8 mm flat bit", pocketing, rpm=18000, wait=4,
                     clear=20)),
        ],
    )  # fmt: skip


def thin_puzzle() -> Work:
    """Thin plywood: lines engraved, then pieces cut with a 2 mm bit and tabs."""
    vee = Cut(r=3, down=1, over=1, f=1200, plunge=300, clear=8)
    fine = Cut(r=1, down=1.2, over=1, f=1000, plunge=300, clear=8, near=1)

    def lines(t: Tape) -> None:
        for n in range(3):
            y = 25 + 20.0 * n
            p.loop(t, vee, [(20, y, -0.5), (50, y + 6, -0.5), (90, y - 4, -0.5), (120, y, -0.5)],
                   f"line{n}")  # fmt: skip

    def cut(t: Tape) -> None:
        for n, x in enumerate((15.0, 78.0)):
            p.outline(t, fine, (x, 12, x + 50, 78), 5, -4.1, f"piece{n}.", tabs=1.2, tab=5,
                      ramp=15, slope=5)  # fmt: skip

    return job(
        "thin-puzzle", size=[145, 90, 4], zero="front-left-top", material="birch plywood",
        machine=SMALL, work_zero=[120, 90, -35], bits=rack("vee-60", "flat-2", "flat-3"),
        clamps=[(-20, 30, 6, 60, 4), (139, 30, 165, 60, 4)],
        stages=[
            ({"name": "lines", "bit": "vee-60", "depth": 0.5},
             program(WORDY, "PUZZLE LINES", "60 DEG VEE", lines, rpm=18000, wait=4, clear=8)),
            ({"name": "pieces", "bit": "flat-2", "depth": "through", "max_pass": 1.5,
              "tab_width": 2.5, "tab_height": 0.9},
             program(WORDY, "PUZZLE PIECES", "2 MM FLAT", cut, rpm=20000, wait=4, clear=8)),
        ],
    )  # fmt: skip


def mdf_jig() -> Work:
    """A deep pocket roughed with 8 mm, its corners taken by 3 mm, then holes."""
    rough = Cut(r=4, down=3, over=4.5, f=4500, plunge=900, clear=12)
    fine = Cut(r=1.5, down=1.5, over=1, f=1500, plunge=400, clear=12)
    box = (-50.0, -30.0, 50.0, 30.0)

    def roughing(t: Tape) -> None:
        p.pocket(t, rough, box, -9, "pocket")

    def corners(t: Tape) -> None:
        for n, (sx, sy) in enumerate(((-1, -1), (1, -1), (1, 1), (-1, 1))):
            x, y = sx * 48.5, sy * 28.5
            for k, z in enumerate(fine.levels(-9)):
                # from cleared ground along one wall into the corner and out along the other
                path = [(x - sx * 4.5, y, z), (x, y, z), (x, y - sy * 4.5, z)]
                p.loop(t, fine, path, f"corner{n}.{k}")

    def holes(t: Tape) -> None:
        t.rapid(z=12)
        t.mark("hole")
        t.holes([(-65, -40), (65, -40), (65, 40), (-65, 40)], z=-19.5, r=2, f=600, clear=12, q=6,
                top=0)  # fmt: skip

    return job(
        "mdf-jig", size=[160, 110, 18], zero="centre-top", material="MDF", machine=MILL,
        work_zero=[300, 200, -60], bits=rack("flat-8", "flat-3", "drill-5"), clamps=[],
        allow_into_spoilboard=2,
        stages=[
            ({"name": "pocket", "bit": "flat-8", "depth": 9},
             program(PLATE, "JIG POCKET", "FLAT 8", roughing, rpm=18000, wait=2.5, clear=12,
                     coolant=("", ""))),
            ({"name": "corners", "bit": "flat-3", "depth": 9},
             program(PLATE, "JIG CORNERS", "FLAT 3", corners, rpm=18000, wait=2.5, clear=12,
                     coolant=("", ""), tool="T2 M6")),
            ({"name": "holes", "bit": "drill-5", "depth": "through"},
             program(PLATE, "JIG HOLES", "DRILL 5", holes, rpm=5000, wait=2.5, clear=12,
                     coolant=("", ""), tool="T3 M6")),
        ],
    )  # fmt: skip


def comb_joint() -> Work:
    """Fingers cut from the front edge of a board, from beside it, in steps."""
    flat = Cut(r=3, down=3, over=4, f=2600, plunge=900, clear=12)

    def fingers(t: Tape) -> None:
        for n in range(5):
            x0 = 20.0 + 24 * n
            for k, z in enumerate(flat.levels(-12.2)):
                for side, x in enumerate((x0 + 3, x0 + 6, x0 + 9)):
                    tag = f"slot{n}.{k}.{side}"
                    flat.come(t, x, -5, tag)
                    t.mark(f"{tag}.feed")
                    t.line(z=z, f=900)
                    t.mark(f"{tag}.cut")
                    t.line(x, 9, f=flat.f)
                    flat.leave(t, tag)

    def groove(t: Tape) -> None:
        for k, z in enumerate((-2.0, -4.0)):
            flat.come(t, -5, 30, f"groove{k}")
            t.mark(f"groove{k}.feed")
            t.line(z=z, f=900)
            t.mark(f"groove{k}.cut")
            t.line(165, 30, f=flat.f)
            flat.leave(t, f"groove{k}")

    return job(
        "comb-joint", size=[160, 100, 12], zero="front-left-top", material="poplar",
        machine=SMALL, work_zero=[110, 90, -40], bits=rack("flat-6", "flat-4"),
        clamps=[(60, 80, 100, 120, 8)],
        stages=[
            ({"name": "groove", "bit": "flat-6", "depth": 4},
             program(STEPS, "groove", "6 mm flat", groove, rpm=18000, wait=4, clear=12)),
            ({"name": "fingers", "bit": "flat-6", "depth": "through"},
             program(STEPS, "fingers", "6 mm flat", fingers, rpm=18000, wait=4, clear=12)),
        ],
    )  # fmt: skip


WOOD = (
    walnut_tray, oak_coasters, beech_hexagon, pine_sign, lime_flower, maple_dish, birch_plate,
    shelf_side, ash_frame, frame_back, peg_board, cutting_board, faced_slab, thin_puzzle, mdf_jig,
    comb_joint,
)  # fmt: skip
