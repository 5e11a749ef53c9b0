"""Clean jobs in wood and panels: nothing here should stop a maker."""

from __future__ import annotations

import math

import numpy as np

from .shop import (
    Lines,
    Work,
    facing,
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


def tray() -> Work:
    """Pocket and cut-out with tabs, two clamps, zero at the centre of the top."""
    stock = dict(size=["170 mm", "120 mm", "18.1 mm"], nominal_thickness="18 mm",
                 zero="centre-top", material="beech", spoilboard="12 mm",
                 allow_into_spoilboard="0.4 mm")  # fmt: skip
    stages = [
        dict(name="hollow", program="hollow.nc", bit="end-6", depth="8 mm", max_pass="2.5 mm",
             max_plunge_rate="800 mm/min", max_ramp_angle="10 deg"),
        dict(name="cut out", program="cutout.nc", bit="end-6", depth="through", max_pass="3.2 mm",
             tab_width="6 mm", tab_height="3 mm"),
    ]  # fmt: skip
    clamps = [("left toggle", [-105, -14], [-76, 14], "10 mm"),
              ("right toggle", [76, -14], [105, 14], "10 mm")]  # fmt: skip
    hollow = [*head("tray", "hollow, end mill 6 mm, 2 flutes"),
              *pocket(0, 0, 116, 66, 6, 2.6, levels(8, 2), 2000, 500), *tail()]  # fmt: skip
    cutout = [*head("tray", "cut out, end mill 6 mm, tabs"),
              *outline(-65, -42, 65, 42, 6, levels(18.3, 3.05), 1800, 500, tabs=(-30, 30),
                       tab_z=-15), *tail()]  # fmt: skip
    return work("tray", job("tray", stock, stages, ["end-6", "end-3"], clamps=clamps),
                hollow=hollow, cutout=cutout)  # fmt: skip


def star_points(n: int, outer: float, inner: float) -> list[tuple[float, float]]:
    return [(r * math.cos(a), r * math.sin(a)) for k in range(2 * n)
            for r, a in [((outer, inner)[k % 2], math.pi * k / n + math.pi / 2)]]  # fmt: skip


def star_sign() -> Work:
    """A star in a ring: the ring channel by a flat bit, the star drawn with a vee."""
    stock = dict(size=["130 mm", "130 mm", "19 mm"], zero="centre-top", material="maple",
                 spoilboard="10 mm", allow_into_spoilboard="0.3 mm")  # fmt: skip
    stages = [dict(name="ground", program="ground.nc", bit="end-6", depth="3 mm"),
              dict(name="star", program="star.nc", bit="vee-90", depth="3.5 mm", max_pass="3.6 mm")]  # fmt: skip
    ground = head("star sign: ground", "6 mm flat")
    for z in (-1.5, -3):
        for ring, r in enumerate((36.0, 40.0, 44.0, 48.0)):
            if ring == 0:
                ground += [f"G0 {xy(r, 0)}", "Z1", f"G1 Z{g(z + 1.5)} F500"]
                ground += [f"G3 {xy(-r, 0)} Z{g(z)} I{g(-r)} J0 F1800", f"{xy(r, 0)} I{g(r)} J0",
                           f"{xy(-r, 0)} I{g(-r)} J0"]  # fmt: skip
                ground += [f"{xy(r, 0)} I{g(r)} J0"]
            else:
                ground += [f"G1 X{g(r)}", f"G3 {xy(-r, 0)} I{g(-r)} J0", f"{xy(r, 0)} I{g(r)} J0"]
        ground += ["G0 Z5"]
    points = star_points(5, 31, 13)
    star = head("star sign: outline", "vee 90 deg, 12 mm", s=16000)
    closed = [*points, points[0]]
    star += strokes([closed], -1.5, 1500, 500)
    star += strokes([closed], -2.5, 1500, 500)
    star += strokes([[p, (p[0] * 1.06, p[1] * 1.06)] for p in points[::2]], -3.5, 1500, 500)
    clamps = [("left", [-95, -15], [-58, 15], "12 mm"), ("right", [58, -15], [95, 15], "12 mm")]
    return work("star-sign", job("star sign", stock, stages, ["end-6", "end-8", "vee-90"], clamps=clamps),
                ground=[*ground, *tail()], star=[*star, *tail()])  # fmt: skip


def hill(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """A gentle hill and a hollow, 0 to 9 mm deep."""
    return -4.5 - 4.5 * np.cos(x / 13) * np.cos(y / 11 + 0.4)


def relief() -> Work:
    """Relief in lime: roughed by a flat bit in levels, finished by a ball."""
    stock = dict(size=["80 mm", "60 mm", "22 mm"], zero="front-left-top", material="lime",
                 spoilboard="18 mm")  # fmt: skip
    stages = [dict(name="rough", program="rough.nc", bit="end-8", depth="9 mm", max_pass="3.2 mm"),
              dict(name="finish", program="finish.nc", bit="ball-6", depth="9.2 mm")]  # fmt: skip
    box = (-6.0, -5.0, 86.0, 65.0)
    rough = head("relief: rough, 8 mm flat", s=16000)
    for z in (-3.0, -6.0, -9.0):
        rough += scan(hill, box, 5.0, 4.0, 4.0, "flat", 2400, 800, floor=z, skin=0.5)
    finish = [*head("relief: finish, 6 mm ball"),
              *scan(hill, (1.0, 1.0, 79.0, 59.0), 0.9, 2.0, 3.0, "ball", 2400, 800), *tail()]  # fmt: skip
    return work("relief", job("relief", stock, stages, ["end-8", "ball-6", "end-6"],
                              change=dict(work_zero=[100, 80, -60])),
                rough=[*rough, *tail()], finish=finish)  # fmt: skip


def medallion() -> Work:
    """Small relief in walnut with a tapered ball after a 3 mm flat bit; zero at the bed."""
    stock = dict(size=["46 mm", "46 mm", "14 mm"], zero="centre-bed", material="walnut",
                 spoilboard="12 mm")  # fmt: skip
    stages = [dict(name="rough", program="rough.nc", bit="end-3", depth="4 mm", max_pass="1.6 mm"),
              dict(name="detail", program="detail.nc", bit="cone-ball-1", depth="4.1 mm")]  # fmt: skip

    def shell(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        r = np.hypot(x, y)
        return 14 - 2 - 1.6 * np.cos(r / 2.8) * np.exp(-r / 30) - 0.4

    def lifted(lines: Lines) -> Lines:
        swaps = {"Z2": "Z16", "Z5": "Z19"}
        return [swaps.get(x, "G0 Z19" if x == "G0 Z5" else x) for x in lines]

    box = (-18.0, -18.0, 18.0, 18.0)
    rough = head("medallion rough 3 mm", z=40)
    for z in (12.5, 11.0, 10.0):
        rough += lifted(scan(shell, box, 2.0, 2.0, 1.5, "flat", 1200, 400, floor=z, skin=0.3))
    detail = [*head("medallion detail, tapered ball R1", z=40),
              *lifted(scan(shell, box, 0.6, 1.0, 1.0, "ball", 1500, 400)), *tail(40)]  # fmt: skip
    return work("medallion", job("medallion", stock, stages, ["end-3", "cone-ball-1"],
                                 change=dict(work_zero=[200, 200, -80])),
                rough=[*rough, *tail(40)], detail=detail)  # fmt: skip


def board() -> Work:
    """Facing a pine board with a 25 mm surfacing bit, turning beside the blank."""
    stock = dict(size=["220 mm", "120 mm", "24.5 mm"], zero="front-left-top", material="pine",
                 spoilboard="18 mm")  # fmt: skip
    stages = [dict(name="face", program="face.nc", bit="face-25", depth="0.6 mm")]
    face = [*head("face the board", "surfacing bit 25 mm, 3 flutes", s=14000),
            *facing(-16, 0, 236, 120, 17.2, -0.6, 3000), *tail()]  # fmt: skip
    return work("board", job("board", stock, stages, ["face-25", "end-12"],
                             change=dict(work_zero=[150, 130, -60])), face=face)  # fmt: skip


def pegs() -> Work:
    """Peg holes in plywood: three drilling cycles, G98 and G99, repeats under G91."""
    stock = dict(size=["180 mm", "90 mm", "15 mm"], zero="front-left-top", material="birch plywood",
                 spoilboard="12 mm", allow_into_spoilboard="2 mm")  # fmt: skip
    stages = [dict(name="blind holes", program="blind.nc", bit="drill-5", depth="10 mm"),
              dict(name="through holes", program="through.nc", bit="drill-3", depth="through")]  # fmt: skip
    clamps = [("back bar", [60, 78], [120, 120], "15 mm")]
    blind = [
        "%",
        "O0101 (PEG HOLES BLIND)",
        "(DRILL 5 MM)",
        "G21 G90 G17 G94 G40 G49 G80",
        "G54",
        "G0 Z30",
        "S8000 M3",
        "G4 P4",
        "G0 X20 Y20",
        "G0 Z3",
        "G99 G83 X20 Y20 Z-10 R2 Q3 F300",
    ]
    blind += [f"X{x} Y20" for x in range(40, 180, 20)]
    blind += [f"X{x} Y65" for x in (160, 140)]
    blind += ["G98 X40 Y65", "G99 X20 Y65", "G80", "G0 Z30", "M5", "M30", "%"]
    through = ["(peg board, through holes, drill 3 mm)", "G21 G90 G94", "G54", "G0 Z30",
               "S9000 M3", "G4 P4", "G0 X10 Y42.5", "Z5", "G81 X10 Y42.5 Z-16.2 R2 F250",
               "G91 G81 X16 Z-18.2 R-3 L9", "G90 G80", "G0 X170 Y30",
               "G82 X170 Y30 Z-16.2 R2 P0.5", "G80", "G0 Z30",
               "M5", "M30"]  # fmt: skip
    return work("pegs", job("peg board", stock, stages, ["drill-5", "drill-3"], clamps=clamps,
                            change=dict(work_zero=[200, 150, -60])), blind=blind, through=through)  # fmt: skip


def dados() -> Work:
    """Housings in MDF across a shelf side; Z zero at the bed, 12 mm bit, both ends open."""
    stock = dict(size=["300 mm", "100 mm", "19 mm"], nominal_thickness="19 mm",
                 zero="front-left-bed", material="mdf", spoilboard="15 mm")  # fmt: skip
    stages = [dict(name="housings", program="housings.nc", bit="end-12", depth="6 mm",
                   max_pass="3 mm")]  # fmt: skip
    clamps = [
        ("left dog", [-40, 30], [14, 70], "12 mm"),
        ("right dog", [286, 30], [340, 70], "12 mm"),
    ]
    lines = ["G21", "G90", "G17", "(shelf side, Z0 at the bed)", "(12 mm straight bit)", "G0 Z45",
             "S16000 M3", "G4 P4"]  # fmt: skip
    for x in (60, 120, 180, 240):
        for z, sense in ((16, 1), (13, -1)):
            start, end = (-9, 109) if sense > 0 else (109, -9)
            lines += [f"G0 X{x} Y{start}", "G0 Z21", f"G1 Z{z} F800", f"G1 Y{end} F4200"]
        lines += ["G0 Z24"]
    lines += ["G0 Z45", "M5", "M30"]
    return work("dados", job("shelf side", stock, stages, ["end-12", "end-8"], clamps=clamps,
                             change=dict(work_zero=[150, 150, -80])), housings=lines)  # fmt: skip


def slots_sub() -> Work:
    """A row of slots by a subprogram in incremental words; O number, M98, M99."""
    stock = dict(size=["200 mm", "70 mm", "12 mm"], zero="front-left-top", material="oak",
                 spoilboard="12 mm")  # fmt: skip
    stages = [dict(name="slots", program="slots.nc", bit="end-6", depth="5 mm")]
    text = """%
O1000 (ROW OF SLOTS)
(TOOL 1: END MILL D6)
N10 G21 G90 G17 G94
N20 G54
N30 G0 Z25
N40 S18000 M3
N50 G4 P4
N60 G0 X20 Y20
N70 Z2
N80 M98 P2000 L6
N90 G90 G0 Z25
N100 M5
N110 M30
O2000
G91
G1 Z-2 F500
Y15 Z-1.25 F1500
Y15 Z-1.25
Y-30
Y15 Z-1.25
Y15 Z-1.25
Y-30
G0 Z7
X30
G90
M99
%
"""
    return work("slots-sub", job("row of slots", stock, stages, ["end-6"],
                                 change=dict(work_zero=[200, 150, -60])), slots=text)  # fmt: skip


def four_up() -> Work:
    """Four tokens on one blank by G54 to G57: the same program text four times."""
    stock = dict(size=["150 mm", "150 mm", "9 mm"], zero="front-left-top", material="plywood",
                 spoilboard="12 mm", allow_into_spoilboard="0.4 mm")  # fmt: skip
    offsets = {"G54": ["0 mm", "0 mm", "0 mm"], "G55": ["70 mm", "0 mm", "0 mm"],
               "G56": ["0 mm", "70 mm", "0 mm"], "G57": ["70 mm", "70 mm", "0 mm"]}  # fmt: skip
    stages = [dict(name="recess", program="recess.nc", bit="end-3", depth="2.4 mm", offsets=offsets),
              dict(name="free", program="free.nc", bit="end-3", depth="through", offsets=offsets,
                   tab_width="5 mm", tab_height="2 mm")]  # fmt: skip
    recess, free = head("tokens: recess, 3 mm"), head("tokens: cut out, 3 mm")
    for system in ("G54", "G55", "G56", "G57"):
        recess += [
            system,
            *round_pocket(40, 40, 14, 3, 1.3, levels(2.4, 1.2), 1200, 300, pitch=0.4),
        ]
        free += [system, *outline(20, 20, 60, 60, 3, levels(9.2, 1.55), 1200, 300, tabs=(40,),
                                  tab_z=-6.6, tab=5)]  # fmt: skip
    return work("four-up", job("four tokens", stock, stages, ["end-3"],
                               change=dict(work_zero=[200, 150, -60])),
                recess=[*recess, "G54", *tail()], free=[*free, "G54", *tail()])  # fmt: skip


def bores() -> Work:
    """Through bores by helix in MDF, no core left; then a counterbore."""
    stock = dict(size=["120 mm", "80 mm", "12 mm"], zero="centre-top", material="mdf",
                 spoilboard="12 mm", allow_into_spoilboard="0.5 mm")  # fmt: skip
    stages = [dict(name="counterbore", program="counter.nc", bit="end-6", depth="4 mm"),
              dict(name="bores", program="bores.nc", bit="end-6", depth="through")]  # fmt: skip
    bore, counter = head("bores 11 mm, end mill 6 mm"), head("counterbores 20 mm, 6 mm end mill")
    for x, y in ((-40, -22), (40, -22), (40, 22), (-40, 22)):
        counter += round_pocket(x, y, 10, 6, 2.4, levels(4, 2), 2200, 500)
        bore += [f"G0 {xy(x + 2.5, y)}", "Z1", "G1 Z-3.5 F500"]
        bore += [f"G3 {xy(x + 2.5, y)} Z{g(z)} I-2.5 J0" + (" F900" if z == -4.5 else "")
                 for z in [-4.5 - k for k in range(8)] + [-12.2]]  # fmt: skip
        bore += [f"G3 {xy(x + 2.5, y)} I-2.5 J0", f"G1 X{g(x)}", "G0 Z5"]
    return work("bores", job("fixture plate", stock, stages, ["end-6"]),
                counter=[*counter, *tail()], bores=[*bore, *tail()])  # fmt: skip


def inlay() -> Work:
    """Pocket roughed by 6 mm, its corners taken by 3 mm."""
    stock = dict(size=["100 mm", "80 mm", "16 mm"], zero="back-right-top", material="cherry",
                 spoilboard="12 mm")  # fmt: skip
    stages = [dict(name="pocket", program="pocket.nc", bit="end-6", depth="4 mm"),
              dict(name="corners", program="corners.nc", bit="end-3", depth="4 mm", max_pass="4.1 mm")]  # fmt: skip
    lines = [*head("inlay pocket", "6 mm flat"),
             *pocket(-50, -40, 50, 36, 6, 2.7, levels(4, 2), 1800, 500), *tail()]  # fmt: skip
    corners = head("inlay corners", "3 mm flat")
    for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
        cx, cy = -50 + sx * 23.5, -40 + sy * 16.5
        for z in (-1.5, -3, -4):
            corners += [f"G0 {xy(cx - sx * 6, cy)}", "Z1", f"G1 Z{g(z)} F300",
                        f"G1 {xy(cx, cy)} F900", xy(cx, cy - sy * 6), "G0 Z4"]  # fmt: skip
    return work("inlay", job("inlay", stock, stages, ["end-6", "end-3"]),
                pocket=lines, corners=[*corners, *tail()])  # fmt: skip


def edge_box() -> Work:
    """Box side in 6 mm MDF: finger slots open at the edge, a handle slot, then the outline."""
    stock = dict(size=["160 mm", "90 mm", "6 mm"], zero="front-left-top", material="mdf",
                 spoilboard="12 mm", allow_into_spoilboard="0.3 mm")  # fmt: skip
    stages = [
        dict(name="fingers", program="fingers.nc", bit="end-6", depth="through", max_pass="3.2 mm")
    ]
    clamps = [
        ("front clamp", [60, -30], [100, 12], "10 mm"),
        ("back clamp", [60, 78], [100, 120], "10 mm"),
    ]
    lines = head("box side, fingers, 6 mm flat")
    for x in (0, 160):
        inside = 7 if x == 0 else 153
        for y in (18, 42, 66):
            for z in (-3.1, -6.2):
                out_x = -5 if x == 0 else 165
                lines += [f"G0 {xy(out_x, y - 2)}", "Z2", f"G1 Z{g(z)} F500", f"G1 X{g(inside)} F1800",
                          f"Y{g(y + 2)}", f"X{g(out_x)}", "G0 Z5"]  # fmt: skip
    return work("edge-box", job("box side", stock, stages, ["end-6", "end-3"], clamps=clamps,
                                change=dict(work_zero=[200, 150, -60])), fingers=[*lines, *tail()])  # fmt: skip


def lap() -> Work:
    """Half-lap joint: the end of a rail lowered by half, clearing beyond the end."""
    stock = dict(size=["180 mm", "44 mm", "20 mm"], zero="centre-left-top", material="ash",
                 spoilboard="18 mm")  # fmt: skip
    stages = [dict(name="lap", program="lap.nc", bit="end-12", depth="10 mm", max_pass="2.5 mm")]
    clamps = [("rail clamp", [110, -60], [150, 60], "18 mm")]
    lines = head("half lap, 12 mm cutter", s=15000, z=40)
    for z in levels(10, 2.5):
        lines += ["G0 X-8 Y-30", "Z3", f"G1 Z{g(z)} F900"]
        for k in range(7):
            x = -4 + 7.333 * k
            lines += [f"G1 X{g(x)} F2200", f"Y{30 if k % 2 == 0 else -30}"]
        lines += ["G0 Z3"]
    return work("lap", job("half lap", stock, stages, ["end-12"], clamps=clamps,
                           change=dict(work_zero=[150, 150, -70])), lap=[*lines, *tail(40)])  # fmt: skip


def flutes() -> Work:
    """Pilaster flutes: ball bit along X, ends rising by arcs in the XZ plane (G18)."""
    stock = dict(size=["240 mm", "60 mm", "20 mm"], zero="front-left-top", material="poplar",
                 spoilboard="12 mm")  # fmt: skip
    stages = [dict(name="flutes", program="flutes.nc", bit="ball-10", depth="4 mm")]
    clamps = [("left", [-40, 20], [10, 40], "12 mm"), ("right", [230, 20], [280, 40], "12 mm")]
    lines = head("pilaster flutes, ball 10 mm", s=16000)
    for y in (15, 30, 45):
        lines += [f"G0 X30 Y{y}", "Z2", "G1 Z0 F600"]
        # from (30, 0) down to (60, -4): centre above (60, z): r - 4 above, r = (30^2 + 4^2) / 8
        r = (30**2 + 4**2) / 8
        lines += ["G18", f"G2 X60 Z-4 I30 K{g(r - 4)} F1500", "G1 X180",
                  f"G2 X210 Z0 I0 K{g(r)}", "G17", "G0 Z6"]  # fmt: skip
    return work("flutes", job("pilaster", stock, stages, ["ball-10", "ball-6"], clamps=clamps,
                              change=dict(work_zero=[150, 150, -62])), flutes=[*lines, *tail()])  # fmt: skip


def moulding() -> Work:
    """A plunge ogee (form bit) round a panel, in two passes, after its channel was cut flat."""
    stock = dict(size=["160 mm", "120 mm", "18 mm"], zero="centre-top", material="oak",
                 spoilboard="12 mm")  # fmt: skip
    stages = [dict(name="channel", program="channel.nc", bit="end-6", depth="4.8 mm"),
              dict(name="profile", program="profile.nc", bit="ogee", depth="5 mm")]  # fmt: skip
    path = [(-50, -30), (50, -30), (50, 30), (-50, 30), (-50, -30)]
    channel = [*head("panel channel, 6 mm flat"), *strokes([path], -2.4, 1600, 400),
               *strokes([path], -4.8, 1600, 400), *tail()]  # fmt: skip
    profile = [*head("panel profile", "form bit", s=16000), *strokes([path], -3, 1200, 400),
               *strokes([path], -5, 1200, 400), *tail()]  # fmt: skip
    return work("moulding", job("panel moulding", stock, stages, ["end-6", "ogee"]),
                channel=channel, profile=profile)  # fmt: skip


def loop_grooves() -> Work:
    """Hand-written: parameters, WHILE, an expression for every groove."""
    stock = dict(size=["150 mm", "90 mm", "15 mm"], zero="front-left-top", material="plywood",
                 spoilboard="12 mm")  # fmt: skip
    stages = [dict(name="grooves", program="grooves.nc", bit="end-6", depth="4 mm")]
    text = """(letter rack: grooves, end mill 6 mm)
G21 G90 G17
G54
#1=15 (first groove)
#2=12 (pitch)
#3=11 (how many)
#4=0
G0 Z20
M3 S18000
G4 P4
WHILE [#4 LT #3] DO1
G0 X[#1+#4*#2] Y15
Z1
G1 Z0 F400
Y75 Z-2 F1500
Y15
Y75 Z-4
Y15
G0 Z5
#4=[#4+1]
END1
G0 Z20
M5
M2
"""
    return work("loop-grooves", job("letter rack", stock, stages, ["end-6", "end-3"],
                                    change=dict(work_zero=[150, 150, -62])), grooves=text)  # fmt: skip


def shifted_second() -> Work:
    """Second stage set at a dowel 30 mm in from the corner (`zero_shift`)."""
    stock = dict(size=["140 mm", "80 mm", "16 mm"], zero="front-left-top", material="sapele",
                 spoilboard="12 mm")  # fmt: skip
    stages = [dict(name="pocket", program="pocket.nc", bit="end-8", depth="5 mm"),
              dict(name="slots", program="slots.nc", bit="end-3", depth="7 mm", max_pass="2.2 mm",
                   zero_shift=["30 mm", "20 mm", "0 mm"])]  # fmt: skip
    pocket_lines = [*head("keeper: pocket, 8 mm", s=16000),
                    *pocket(70, 40, 60, 30, 8, 3.4, levels(5, 2.5), 2200, 600), *tail()]  # fmt: skip
    slots = [*head("keeper: slots, 3 mm, zero at the dowel"),
             *[line for z in (-6.0, -7.0) for line in strokes([[(28, 12), (28, 28)], [(52, 12), (52, 28)]], z, 900, 300)],
             *tail()]  # fmt: skip
    return work("shifted-second", job("keeper", stock, stages, ["end-8", "end-3"],
                                      change=dict(work_zero=[150, 150, -62])),
                pocket=pocket_lines, slots=slots)  # fmt: skip


def curved_edge() -> Work:
    """A cheese board's round ends by R arcs, cut out with tabs, finish pass at full depth."""
    stock = dict(size=["200 mm", "110 mm", "12 mm"], zero="centre-top", material="walnut",
                 spoilboard="12 mm", allow_into_spoilboard="0.4 mm")  # fmt: skip
    stages = [dict(name="outline", program="outline.nc", bit="end-6", depth="through",
                   max_pass="3.1 mm", tab_height="2 mm")]  # fmt: skip
    lines = head("cheese board outline", "6 mm end mill", "straight sides with R43 round ends")
    lines += ["G0 X-40 Y43", "Z1", "G1 Z0 F500"]
    previous = 0.0
    for z in levels(12.2, 3.05):
        lines += [f"G1 X40 Z{g(z)} F1800", "G2 X40 Y-43 R43", "G1 X20", *(
                  ["Z-9.5", "X8", f"Z{g(z)} F500"] if z < -9.5 else []),
                  "G1 X-40 F1800", "G2 X-40 Y43 R43"]  # fmt: skip
        previous = z
    lines += ["G1 X-36", "Z-9.5", "X-24", f"Z{g(previous)} F500", "G1 X40 F1800", "G0 Z5"]
    clamps = [("left", [-130, -10], [-92, 10], "9 mm"), ("right", [92, -10], [130, 10], "9 mm")]
    return work("curved-edge", job("cheese board", stock, stages, ["end-6", "end-8"], clamps=clamps),
                outline=[*lines, *tail()])  # fmt: skip


WOOD = (tray, star_sign, relief, medallion, board, pegs, dados, slots_sub, four_up, bores, inlay,
        edge_box, lap, flutes, moulding, loop_grooves, shifted_second, curved_edge)  # fmt: skip
