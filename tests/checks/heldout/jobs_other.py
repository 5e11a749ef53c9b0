"""Clean jobs in plastic and metal, in inches, on other machines, and in other people's G-code."""

from __future__ import annotations

import math

import numpy as np

from .shop import (
    Lines,
    Work,
    g,
    head,
    job,
    levels,
    outline,
    pocket,
    round_pocket,
    scan,
    strokes,
    tail,
    work,
    xy,
)


def g4(value: float) -> str:
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def inch_bit(name: str) -> dict[str, object]:
    return {
        "quarter": dict(shape="flat", diameter="1/4 in", flutes=2, flute_length="1 in",
                        shank="1/4 in", stickout="1 3/8 in", centre_cutting=True),
        "eighth": dict(shape="flat", diameter="1/8 in", flutes=2, flute_length="1/2 in",
                       shank="1/4 in", stickout="1 in", centre_cutting=True),
        "veebit": dict(shape="vee", diameter="1/2 in", angle="60 deg", flutes=2,
                       flute_length="0.43 in", shank="1/4 in", stickout="1.2 in"),
        "cove": dict(shape="ball", diameter="1/2 in", flutes=2, flute_length="1 in",
                     shank="1/4 in", stickout="1.5 in", centre_cutting=True),
    }[name]  # fmt: skip


def bit_tables(*names: str) -> str:
    from .shop import toml

    out: Lines = []
    for name in names:
        out += ["", f"[bits.{name}]", *(f"{k} = {toml(v)}" for k, v in inch_bit(name).items())]
    return "\n".join(out) + "\n"


def house_number() -> Work:
    """Inch job: a shallow round recess, then figures by a 60 degree vee."""
    stock = dict(size=[8, 5, "3/4 in"], zero="centre-top", material="cedar", spoilboard="1/2 in")
    stages = [dict(name="recess", program="recess.nc", bit="quarter", depth="0.1 in"),
              dict(name="figures", program="figures.nc", bit="veebit", depth="0.25 in",
                   max_pass="0.2 in")]  # fmt: skip
    recess = [*head("HOUSE NUMBER RECESS", "1/4 IN END MILL", unit="G20", s=16000, z=1),
              *round_pocket(0, 0, 1.9, 0.25, 0.1, [-0.1], 90, 25, pitch=0.04, clear=0.2,
                            digits=g4, near=0.04), *tail(1)]  # fmt: skip
    seven = [[(-0.9, 0.6), (-0.2, 0.6), (-0.6, -0.6)]]
    four = [[(0.75, -0.6), (0.75, 0.6), (0.2, -0.2), (0.95, -0.2)]]
    figures = head("HOUSE NUMBER FIGURES", "60 DEG VEE", unit="G20", s=16000, z=1)
    for z in (-0.18, -0.25):
        figures += strokes(seven + four, z, 60, 20, clear=0.2, near=0.04)
    text = job("house number", stock, stages, [], machine="inch", units="in", extra=bit_tables("quarter", "veebit"),
               change=dict(work_zero=[10, 8, -2.4]))  # fmt: skip
    return work("house-number", text, recess=recess, figures=[*figures, *tail(1)])


def inch_shelf() -> Work:
    """Inch job: shelf-pin holes by G83, G98, and two long slots that leave the ends whole."""
    stock = dict(size=[12, 4, "1/2 in"], zero="front-left-top", material="plywood",
                 spoilboard="3/4 in", allow_into_spoilboard="0.02 in")  # fmt: skip
    stages = [dict(name="pins", program="pins.nc", bit="drill:118deg:1/4in", depth="0.38 in"),
              dict(name="width", program="width.nc", bit="quarter", depth="through", max_pass="0.13 in")]  # fmt: skip
    clamps = [
        ("left", [-2, 1.5], [0.5, 2.5], "0.5 in"),
        ("right", [11.5, 1.5], [14, 2.5], "0.5 in"),
    ]
    pins = ["%", "O0007", "(SHELF SIDE - PIN HOLES - 1/4 DRILL)", "N10 G20 G90 G17 G80 G40",
            "N20 G54 G0 Z1.", "N30 S10000 M3", "N35 G4 P4.", "N40 G0 X2. Y.75", "N50 Z.2",
            "N60 G98 G83 X2. Y.75 Z-.375 R.1 Q.1 F20."]  # fmt: skip
    pins += [f"N{70 + 10 * k} X{g4(2 + 1.25 * (k + 1))}" for k in range(6)]
    pins += ["N200 Y3.25"] + [f"N{210 + 10 * k} X{g4(9.5 - 1.25 * (k + 1))}" for k in range(6)]
    pins += ["N300 G80", "N310 G0 Z1.", "N320 M5", "N330 M30", "%"]
    width = head("SHELF SIDE - TO WIDTH", "1/4 END MILL", unit="G20", s=16000, z=1)
    for y, x0, x1 in ((0.375, 1, 11), (3.625, 11, 1)):
        last = 0.0
        for z in (-0.125, -0.25, -0.375, -0.5, -0.51):
            near = 3 if x1 > x0 else 9
            width += [f"G0 X{x0} Y{g4(y)}", "Z0.08", f"G1 Z{g4(last)} F25", f"G1 X{near} Z{g4(z)} F90",
                      f"X{x0}", f"X{x1}", "G0 Z0.2"]  # fmt: skip
            last = z
    text = job(
        "shelf side",
        stock,
        stages,
        [],
        machine="inch",
        units="in",
        clamps=clamps,
        extra=bit_tables("quarter"),
    )
    return work("inch-shelf", text, pins=pins, width=[*width, *tail(1)])


def inch_in_mm_shop() -> Work:
    """A bought inch program on a job declared in mm."""
    stock = dict(size=["150 mm", "100 mm", "19 mm"], zero="front-left-top", material="oak",
                 spoilboard="12 mm")  # fmt: skip
    stages = [
        dict(name="dish", program="dish.nc", bit="flat:1/4in", depth="10.2 mm", max_pass="2.6 mm")
    ]
    dish = head("DISH FOR KEYS", "TOOL 1/4 INCH END MILL", unit="G20", s=17000, z=1)
    dish += round_pocket(2.95, 1.97, 1.4, 0.25, 0.1, levels(0.4, 0.1), 75, 20, pitch=0.04, clear=0.2,
                         digits=g4, near=0.05)  # fmt: skip
    return work("inch-in-mm-shop", job("dish", stock, stages, ["end-6"], change=dict(work_zero=[150, 150, -62])),
                dish=[*dish, *tail(1)])  # fmt: skip


def drill_plate() -> Work:
    """Aluminium plate: spotted by a 90 degree vee, drilled 3 mm, outlined in thin passes with tabs."""
    stock = dict(size=["90 mm", "70 mm", "5 mm"], zero="centre-top", material="aluminium",
                 spoilboard="12 mm", allow_into_spoilboard="1.5 mm")  # fmt: skip
    stages = [dict(name="spot", program="spot.nc", bit="vee-90", depth="0.8 mm"),
              dict(name="drill", program="drill.nc", bit="drill-3", depth="through"),
              dict(name="outline", program="outline.nc", bit="end-4-alu", depth="through", max_pass="0.5 mm",
                   tab_height="1 mm", tab_width="4 mm")]  # fmt: skip
    holes = [(x, y) for y in (-20, 20) for x in (-30, -10, 10, 30)]
    spot = [*head("plate: spot", "vee 90", s=8000), "G0 X-30 Y-20", "Z5", "G81 X-30 Y-20 Z-0.8 R2 F150",
            *(xy(x, y) for x, y in holes[1:]), "G80", *tail()]  # fmt: skip
    drill = [*head("plate: drill 3 mm", s=7000), "G0 X-30 Y-20", "Z5", "M8", "G73 X-30 Y-20 Z-6.2 R2 Q1 F180",
             *(xy(x, y) for x, y in holes[1:]), "G80", "M9", *tail()]  # fmt: skip
    cut = [*head("plate: outline, 4 mm single flute", s=16000), "M8",
           *outline(-38, -28, 38, 28, 4, levels(5.2, 0.47), 900, 200, tabs=(0,), tab_z=-3.9, tab=5), "M9", *tail()]  # fmt: skip
    clamps = [("left", [-80, -15], [-43, 15], "8 mm"), ("right", [43, -15], [80, 15], "8 mm")]
    return work("drill-plate", job("plate", stock, stages, ["vee-90", "drill-3", "end-4-alu"], clamps=clamps),
                spot=spot, drill=drill, outline=cut)  # fmt: skip


def alu_pocket() -> Work:
    """Aluminium block: shallow pocket with a 4 mm single flute, G43, coolant, helical entry."""
    stock = dict(size=["60 mm", "50 mm", "10 mm"], zero="centre-top", material="aluminium",
                 spoilboard="12 mm")  # fmt: skip
    stages = [dict(name="pocket", program="pocket.nc", bit="end-4-alu", depth="3 mm", max_pass="0.6 mm",
                   max_ramp_angle="5 deg")]  # fmt: skip
    lines = ["%", "O0042 (HOUSING)", "(T2 END MILL 4 MM 1 FLUTE)", "G21 G17 G90 G94 G40 G49 G80", "G54",
             "T2 M6", "G0 G43 H2 Z25", "S16000 M3", "G4 P4", "M8"]  # fmt: skip
    lines += round_pocket(0, 0, 14, 4, 1.5, levels(3, 0.5), 900, 200, pitch=0.5)
    lines += ["M9", "G0 Z25", "G49", "M5", "M30", "%"]
    return work("alu-pocket", job("housing", stock, stages, ["end-4-alu", "end-3"]), pocket=lines)


def name_plate() -> Work:
    """Acrylic name plate on the small engraver: thin engraving, then cut out with tabs, 1 flute."""
    stock = dict(size=["120 mm", "50 mm", "3 mm"], zero="front-left-top", material="cast acrylic",
                 spoilboard="6 mm", allow_into_spoilboard="0.3 mm")  # fmt: skip
    stages = [dict(name="letters", program="letters.nc", bit="graver-30", depth="0.4 mm"),
              dict(name="free", program="free.nc", bit="end-3-single", depth="through", max_pass="0.9 mm",
                   tab_height="0.9 mm")]  # fmt: skip
    clamps = [
        ("tape block left", [-20, 18], [5, 32], "4 mm"),
        ("tape block right", [115, 18], [140, 32], "4 mm"),
    ]
    font = {"A": [[(0, 0), (4, 12), (8, 0)], [(1.5, 4.5), (6.5, 4.5)]],
            "N": [[(0, 0), (0, 12), (8, 0), (8, 12)]], "T": [[(4, 0), (4, 12)], [(0, 12), (8, 12)]],
            "E": [[(7, 0), (0, 0), (0, 12), (7, 12)], [(0, 6), (6, 6)]]}  # fmt: skip
    letters = head("name plate: letters", "engraver 30 deg tip 0.2", s=18000, dwell=3)
    for k, letter in enumerate("ANTENAT"):
        letters += strokes(
            [[(26 + 11 * k + x, 19 + y) for x, y in path] for path in font[letter]],
            -0.4,
            600,
            150,
            clear=3,
        )
    free = [*head("name plate: cut out", "single flute 3 mm", s=16000, dwell=3),
            *outline(14, 10, 106, 40, 3, levels(3.2, 0.8), 1000, 200, tabs=(40, 80), tab_z=-2), *tail()]  # fmt: skip
    return work("name-plate", job("name plate", stock, stages, ["graver-30", "end-3-single"], machine="small", clamps=clamps),
                letters=[*letters, *tail()], free=free)  # fmt: skip


def cutting_board() -> Work:
    """HDPE board: juice groove by a ball bit, a handle slot, edges outlined; three programs."""
    stock = dict(size=["240 mm", "180 mm", "12 mm"], zero="centre-top", material="HDPE",
                 spoilboard="12 mm", allow_into_spoilboard="0.5 mm")  # fmt: skip
    stages = [dict(name="groove", program="groove.nc", bit="ball-10", depth="4 mm"),
              dict(name="handle", program="handle.nc", bit="end-6", depth="through", max_pass="3.1 mm"),
              dict(name="outline", program="outline.nc", bit="end-6", depth="through", max_pass="3.1 mm",
                   tab_height="3 mm")]  # fmt: skip
    clamps = [("left", [-150, -20], [-108, 20], "10 mm"), ("right", [108, -20], [150, 20], "10 mm")]
    groove = head("board: juice groove, ball 10 mm", s=14000)
    for k, z in enumerate((-2, -4)):
        groove += ["G0 X-70 Y-42", "Z1", f"G1 Z{[0, -2][k]} F500", f"G1 X70 Z{z} F2200", "G3 X80 Y-32 I0 J10",
                   "G1 Y32", "G3 X70 Y42 I-10 J0", "G1 X-70", "G3 X-80 Y32 I0 J-10", "G1 Y-32",
                   "G3 X-70 Y-42 I10 J0", "G1 X70", "G0 Z5"]  # fmt: skip
    handle = head("board: handle, 6 mm end mill")
    # a slot 16 wide: the core strip of 4 mm is milled away first
    for k, z in enumerate(levels(12.2, 3.05)):
        last = ([0.0, *levels(12.2, 3.05)])[k]
        handle += ["G0 X-20 Y60", "Z1", f"G1 Z{g(last)} F400", f"G1 X20 Z{g(z)} F1800", "X-20", "Y55", "X20",
                   "G3 X20 Y65 I0 J5", "G1 X-20", "G3 X-20 Y55 I0 J-5", "G0 Z5"]  # fmt: skip
    cut = [*head("board: outline, 6 mm end mill"),
           *outline(-100, -76, 100, 76, 6, levels(12.2, 3.05), 2000, 400, tabs=(-60, 60), tab_z=-8.9, tab=8), *tail()]  # fmt: skip
    return work("cutting-board", job("cutting board", stock, stages, ["ball-10", "end-6", "end-8"], clamps=clamps),
                groove=[*groove, *tail()], handle=[*handle, *tail()], outline=cut)  # fmt: skip


def mould() -> Work:
    """Soap mould in POM: pocket by a flat bit, its draft walls by a tapered flat bit."""
    stock = dict(size=["100 mm", "80 mm", "25 mm"], zero="centre-top", material="POM",
                 spoilboard="12 mm")  # fmt: skip
    stages = [dict(name="rough", program="rough.nc", bit="end-8", depth="12 mm", max_pass="2.1 mm"),
              dict(name="draft", program="draft.nc", bit="cone-flat-2", depth="12 mm", max_pass="12.5 mm")]  # fmt: skip
    rough = [
        *head("mould rough, 8 mm", s=14000),
        *pocket(0, 0, 56, 36, 8, 3.4, levels(12, 2), 2200, 600),
        *tail(),
    ]
    draft = head("mould draft walls, taper 7 deg tip 2", s=16000)
    # the wall at the floor stands where the straight one was: the tip runs 1 mm inside it
    for z in (-4, -8, -12):
        w, h = 27, 17
        draft += [f"G0 {xy(0, 0)}", "Z2", f"G1 Z{z} F500", f"G1 X{-w} F1400", f"Y{-h}", f"X{w}", f"Y{h}", f"X{-w}", "Y0",
                  "X0", "G0 Z5"]  # fmt: skip
    return work("mould", job("soap mould", stock, stages, ["end-8", "cone-flat-2", "end-6"]),
                rough=rough, draft=[*draft, *tail()])  # fmt: skip


def bull_tray() -> Work:
    """Bull-nose bit: pocket with a rounded foot, in one program of an old control (no spaces)."""
    stock = dict(size=["130 mm", "90 mm", "20 mm"], zero="back-left-top", material="cherry",
                 spoilboard="12 mm")  # fmt: skip
    stages = [dict(name="tray", program="tray.nc", bit="bull-8", depth="7.5 mm", max_pass="2.6 mm")]
    lines = [
        *head("CATCH ALL", "BULL NOSE 8 MM R1.5", s=16000),
        *pocket(65, -45, 90, 56, 8, 3, levels(7.5, 2.5), 2200, 600),
        *tail(),
    ]
    tight = "".join(
        (line if line.startswith("(") else line.replace(" ", "")) + "\r\n" for line in lines
    )
    return work(
        "bull-tray",
        job(
            "catch-all", stock, stages, ["bull-8", "end-8"], change=dict(work_zero=[150, 300, -62])
        ),
        tray=tight,
    )


def by_hand() -> Work:
    """Written by hand in small letters, with N numbers, G91 steps and block comments; bare machine."""
    stock = dict(size=["100 mm", "60 mm", "18 mm"], zero="front-left-top", material="beech")
    stages = [dict(name="rebate", program="rebate.nc", bit="flat:10mm", depth="6 mm")]
    text = """n10 g21 g90 g17 ; rebate along the front edge
n20 g0 z10
n30 m3 s15000
n40 g4 p5
n50 g0 x-8 y3
n60 g0 z1
n70 g91 (steps)
n80 g1 z-3 f600
n90 x116 f1500
n100 z-2
n110 x-116
n120 z-2
n130 x116
n140 g90
n150 g0 z10
n160 m5
n170 m30
"""
    return work(
        "by-hand", job("rebate", stock, stages, [], machine="bare", clamps=None), rebate=text
    )


def compensated() -> Work:
    """Outline with cutter compensation (G41), lead-in and lead-out, in an offcut held by tape."""
    stock = dict(
        size=["120 mm", "90 mm", "9 mm"], zero="front-left-top", material="mdf", spoilboard="12 mm"
    )
    stages = [dict(name="step", program="step.nc", bit="end-6", depth="4 mm", max_pass="2.1 mm")]
    lines = ["(raised panel field, compensated, T1 = 6 mm end mill)", "G21 G17 G90 G94 G40 G49", "G54",
             "G10 L1 P1 R3", "T1 M6", "G0 Z25", "S18000 M3", "G4 P4"]  # fmt: skip
    for z in (-2, -4):
        lines += ["G0 X35 Y8", "Z2", f"G1 Z{z} F500", "G41 D1 G1 X25 Y20 F1500", "Y70", "X95", "Y20", "X20",
                  "G40 G1 X10 Y10", "G0 Z5"]  # fmt: skip
    return work(
        "compensated",
        job("panel field", stock, stages, ["end-6"], change=dict(work_zero=[150, 150, -62])),
        step=[*lines, *tail()],
    )


def foam_hills() -> Work:
    """Landscape in foam, big steps, ball 10 over levels of a 12 mm bit."""
    stock = dict(
        size=["160 mm", "100 mm", "40 mm"],
        zero="front-left-top",
        material="foam",
        spoilboard="18 mm",
    )
    stages = [dict(name="rough", program="rough.nc", bit="end-12", depth="17 mm", max_pass="10 mm"),
              dict(name="finish", program="finish.nc", bit="ball-10", depth="18 mm")]  # fmt: skip

    def land(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return -9 + 6 * np.sin(x / 24) + 3 * np.cos(y / 17 + x / 50)

    rough = head("landscape rough 12 mm", s=14000, z=40)
    for z in (-9.0, -18.0):
        rough += scan(
            land, (-8, -7, 168, 107), 8, 5, 6, "flat", 4000, 1200, floor=z, skin=0.8, clear=6
        )
    finish = [
        *head("landscape ball 10 mm", s=14000, z=40),
        *scan(land, (2, 2, 158, 98), 2.5, 3, 5, "ball", 4500, 1200, clear=6),
        *tail(40),
    ]
    return work("foam-hills", job("landscape", stock, stages, ["end-12", "ball-10"], change=dict(work_zero=[150, 150, -62])),
                rough=[*rough, *tail(40)], finish=finish)  # fmt: skip


def brass_tag() -> Work:
    """Brass tag on the small engraver: border and a line, 0.15 mm deep."""
    stock = dict(
        size=["50 mm", "25 mm", "1.5 mm"], zero="centre-top", material="brass", spoilboard="6 mm"
    )
    stages = [dict(name="tag", program="tag.nc", bit="graver-30", depth="0.15 mm")]
    lines = head("brass tag", "graver 30 deg", s=20000, dwell=3)
    lines += strokes(
        [[(-20, -8), (20, -8), (20, 8), (-20, 8), (-20, -8)], [(-12, 0), (12, 0)]],
        -0.15,
        300,
        80,
        clear=3,
    )
    return work("brass-tag", job("brass tag", stock, stages, ["graver-30"], machine="small", change=dict(work_zero=[120, 80, -30])),
                tag=[*lines, *tail()])  # fmt: skip


def radius_gauge() -> Work:
    """Gauges cut from acrylic: quarter rounds by I J arcs, two parts, tabs by hand."""
    stock = dict(size=["140 mm", "80 mm", "4 mm"], zero="front-left-top", material="acrylic",
                 spoilboard="12 mm", allow_into_spoilboard="0.3 mm")  # fmt: skip
    stages = [dict(name="gauges", program="gauges.nc", bit="end-3-single", depth="through", max_pass="1.1 mm",
                   tab_height="0.9 mm")]  # fmt: skip
    lines = head("radius gauges", "3 mm single flute", s=17000)
    for x in (15, 80):
        for z in levels(4.2, 1.05):
            last = round(z + 1.05, 3)
            lines += [f"G0 X{g(x - 1.5)} Y15", "Z1", f"G1 Z{g(last)} F200", f"G1 Y40 Z{g(z)} F900",
                      f"G2 {xy(x + 20, 61.5)} I21.5 J0", f"G2 {xy(x + 41.5, 40)} I0 J-21.5", "G1 Y15",
                      f"G2 {xy(x + 40, 13.5)} I-1.5 J0"]  # fmt: skip
            if z < -3:
                lines += [
                    f"G1 X{g(x + 24.5)}",
                    "Z-3",
                    f"X{g(x + 15.5)}",
                    f"Z{g(z)} F200",
                    f"G1 X{g(x)} F900",
                ]
            else:
                lines += [f"G1 X{g(x)}"]
            lines += [f"G2 {xy(x - 1.5, 15)} I0 J1.5", "G1 Y40", "G0 Z5"]
    clamps = [("left", [-30, 30], [8, 50], "6 mm"), ("right", [132, 30], [170, 50], "6 mm")]
    return work("radius-gauge", job("radius gauges", stock, stages, ["end-3-single", "end-6"], clamps=clamps,
                                    change=dict(work_zero=[200, 200, -62])), gauges=[*lines, *tail()])  # fmt: skip


def deep_well() -> Work:
    """A 24 mm deep well, long bit: shank and collet nut stay clear."""
    stock = dict(
        size=["110 mm", "90 mm", "40 mm"], zero="centre-top", material="beech", spoilboard="18 mm"
    )
    stages = [dict(name="well", program="well.nc", bit="end-8", depth="24 mm", max_pass="3.1 mm")]
    lines = [
        *head("pencil well", "8 mm end mill", s=16000, z=40),
        *pocket(0, 0, 60, 40, 8, 3.5, levels(24, 3), 2400, 700),
        *tail(40),
    ]
    clamps = [("left", [-90, -12], [-45, 12], "9 mm"), ("right", [45, -12], [90, 12], "9 mm")]
    return work(
        "deep-well",
        job("pencil well", stock, stages, ["end-8", "end-6"], clamps=clamps),
        well=lines,
    )


def rough_ramp() -> Work:
    """A roughing bit that is not centre-cutting: every entry a shallow ramp."""
    stock = dict(
        size=["140 mm", "100 mm", "20 mm"], zero="centre-top", material="oak", spoilboard="12 mm"
    )
    stages = [
        dict(
            name="rough",
            program="rough.nc",
            bit="end-6-rough",
            depth="6 mm",
            max_ramp_angle="8 deg",
        )
    ]
    lines = [*head("rough, 6 mm 3 flutes, not centre cutting"), *pocket(-30, 0, 50, 40, 6, 2.8, levels(6, 2), 2400, 600),
             *pocket(32, 0, 50, 40, 6, 2.8, levels(6, 2), 2400, 600), *tail()]  # fmt: skip
    return work(
        "rough-ramp", job("two pockets", stock, stages, ["end-6-rough", "end-6"]), rough=lines
    )


def shoe_job() -> Work:
    """With a dust shoe declared: pockets near a low clamp."""
    stock = dict(
        size=["160 mm", "120 mm", "18 mm"],
        zero="centre-top",
        material="plywood",
        spoilboard="12 mm",
    )
    stages = [dict(name="pocket", program="pocket.nc", bit="end-6", depth="5 mm")]
    lines = [
        *head("pocket", "6 mm end mill"),
        *pocket(0, 0, 70, 50, 6, 2.8, levels(5, 2.5), 2200, 600),
        *tail(),
    ]
    clamps = [("left", [-110, -12], [-70, 12], "12 mm")]
    return work("shoe-job", job("pocket under a shoe", stock, stages, ["end-6"], clamps=clamps,
                                change=dict(dust_shoe=dict(diameter="70 mm", drop="8 mm"))), pocket=lines)  # fmt: skip


def three_holes() -> Work:
    """Two hole circles, the second piece by G55."""
    stock = dict(size=["200 mm", "100 mm", "10 mm"], zero="front-left-top", material="birch plywood",
                 spoilboard="12 mm", allow_into_spoilboard="2 mm")  # fmt: skip
    stages = [dict(name="holes", program="holes.nc", bit="drill-5", depth="through",
                   offsets={"G55": ["100 mm", "0 mm", "0 mm"]})]  # fmt: skip
    lines = [
        "(bracket holes, two pieces, drill 5 mm)",
        "G21 G17 G90 G94",
        "G54",
        "G0 Z30",
        "S7000 M3",
        "G4 P4",
    ]
    for system in ("G54", "G55"):
        lines += [system, "G0 X20 Y20", "Z5"]
        lines += [f"G98 G81 {xy(50 + 30 * math.cos(a), 50 + 30 * math.sin(a))} Z-11.6 R2 F400" if k == 0 else
                  xy(50 + 30 * math.cos(a), 50 + 30 * math.sin(a)) for k, a in enumerate(np.arange(0, 2 * math.pi - 0.1, math.pi / 3))]  # fmt: skip
        lines += ["G80", "G0 Z30"]
    lines += ["G54", "M5", "M30"]
    return work(
        "three-holes",
        job(
            "bracket", stock, stages, ["drill-5", "drill-3"], change=dict(work_zero=[200, 200, -62])
        ),
        holes=lines,
    )


OTHER = (house_number, inch_shelf, inch_in_mm_shop, drill_plate, alu_pocket, name_plate, cutting_board,
         mould, bull_tray, by_hand, compensated, foam_hills, brass_tag, radius_gauge, deep_well, rough_ramp,
         shoe_job, three_holes)  # fmt: skip
