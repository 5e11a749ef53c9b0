"""Clean jobs: panels, pockets, holes and cut-outs."""

import math

from .kit import HALL, SMALL, TABLE, bit, clamp, flat, levels, made, pocket, ring, tabbed_box
from .tape import Made, Tape


def tray() -> Made:
    """Return a walnut tray: bull-nosed bit, five passes, zero at the centre."""
    m = made(
        "tray",
        (320, 180, 25),
        "centre-top",
        "walnut",
        {**TABLE, "work_zero": ["400 mm", "300 mm", "-80 mm"]},
        {"bull12": bit("bull", 12, 32, 42, corner_radius="3 mm", centre_cutting=True)},
        clamps=[clamp(-175, -20, -150, 20, 12), clamp(150, -20, 175, 20, 12)],
    )
    t = Tape("dots")
    t("%", "O1001 (TRAY)", "(T7 D=12. CR=3. - BULLNOSE)", "G90 G94 G17", "G21", "G53 G0 Z0.")
    t("T7 M6", name="change")("S16000 M3", name="spin")("G4 P4.", name="dwell")(
        "G54", "G0 X0. Y0.", "G43 Z20. H7"
    )
    pocket(t, -135, -70, 135, 70, levels(0, -15, 3), 12, 5, 3600, 20)
    return m.stage(
        t("M9", "M5", "G53 G0 Z0.", "G53 G0 X10. Y700.", "M30", "%", name="end"), "bull12", "15 mm"
    )


def shelf() -> Made:
    """Return a birch shelf side cut out with tabs, zero on the bed."""
    m = made(
        "shelf",
        (600, 400, 18),
        "front-left-bed",
        "birch plywood",
        TABLE,
        {"c6": flat(6, 25, 36, helix="compression")},
    )
    t = Tape("numbered fixed")
    t("(SHELF SIDE)", "(6 MM COMPRESSION, 2 FLUTES)", "G17 G21 G40 G49 G80 G90", "G54")
    t("M3 S18000", name="spin")("G4 P5")("G0 Z38", name="up")
    for i, y in enumerate((120, 260)):
        t.to("G0", x=20, y=y)
        t.to("G0", z=20, name=f"dado-near-{i}")
        for z in (15.0, 12.0):
            t.to(z=z, f=500, name=f"dado-plunge-{i}-{z:g}")
            t.to(x=580 if z == 15 else 20, f=3200, name=f"dado-{i}-{z:g}")
        t.to("G0", z=38)
    tabbed_box(t, 12, 12, 588, 388, levels(18, -0.3, 5), 4, 14, 3200, 38, 18)
    t("M5", "G0 X0 Y390", "M30", name="end")
    return m.stage(t, "c6", "through", tab_width="7 mm", tab_height="3.5 mm")


def surfacing() -> Made:
    """Return a spoilboard planed by a wide cutter, over all edges."""
    m = made(
        "surfacing",
        (500, 400, 19),
        "front-left-top",
        "mdf",
        TABLE,
        {"planer": flat(25, 12, 40, n=3, shank=8)},
    )
    t = Tape()
    t(
        "(plane the board, 25 mm cutter)",
        "G21 G90",
        "M3 S14000",
        "G4 P6",
        "G0 Z10",
        "G0 X-14 Y0",
        "G0 Z2",
    )
    t("G1 Z-0.6 F800", name="down")
    y, right = 0, True
    while y <= 400:
        t.to(x=514 if right else -14, f=5000, name=f"row-{y}")
        y += 20
        right = not right
        if y <= 400:
            t.to(y=y)
    return m.stage(t("G0 Z30", "M5", "G0 X0 Y0", "M2", name="end"), "planer", "0.6 mm")


def pegs() -> Made:
    """Return a peg rail: G81 and G83, then a groove for hanging, two programs."""
    m = made(
        "pegs",
        (420, 80, 22),
        "front-left-top",
        "pine",
        TABLE,
        {"d8": bit("drill", 8, 45, 55, angle="118 deg"), "f4": flat(4, 16, 26)},
        clamps=[clamp(-30, 20, 8, 60, 15), clamp(412, 20, 450, 60, 15)],
    )
    a = Tape("numbered")
    a("(PEG RAIL 8MM DRILL)", "G21 G90 G17 G80", "T3 M6", "M3 S6500", name="spin")
    a("G4 P4", "G0 Z40", "G0 X50 Y40")("G98 G81 X50 Y40 Z-6 R3 F400", name="first-hole")
    a("X130")("X210", name="third-hole")("X290", "G80", "G0 Z40")
    a("G99 G83 X370 Y40 Z-14 R3 Q4 F400", name="peck")("G80", name="off")("G0 Z40", "M5", "M30")
    m.stage(a, "d8", "14 mm")
    b = Tape("packed")
    b("(HANGING GROOVE, 4MM FLAT)", "G21 G90", "M3 S18000", "G4 P4")(
        "G0 Z40", "G0 X60 Y15", "G0 Z2"
    )
    for k, z in enumerate(levels(0, -6, 2)):
        b.to(z=z, f=300, name=f"groove-plunge-{k}")
        b.to(x=360 if k % 2 == 0 else 60, f=1800, name=f"groove-{k}")
    return m.stage(b("G0 Z40", "M5", "M30", name="end"), "f4", "6 mm")


def through_holes() -> Made:
    """Return a drilling template in acrylic: peck drilling through."""
    m = made(
        "through_holes",
        (200, 120, 6),
        "back-left-top",
        "acrylic",
        SMALL,
        {"d3": bit("drill", 3, 30, 36, angle="90 deg")},
        stock={"allow_into_spoilboard": "2.5 mm"},
    )
    m.head["machine"]["work_zero"] = ["-250 mm", "-20 mm", "-40 mm"]
    t = Tape("dots numbered")
    t("(TEMPLATE, DRILL 3MM)", "G21", "G90 G98", "S5000 M3", "G4 P3", "G0 Z12.", "X15. Y-15.")
    t("G83 X15. Y-15. Z-7.8 R2. Q1.5 F150.", name="hole-0")
    for k, (x, y) in enumerate(((60, -15), (120, -15), (185, -15), (185, -105), (15, -105)), 1):
        t(f"X{x}. Y{y}.", name=f"hole-{k}")
    return m.stage(
        t("G80", "G0 Z12.", "M5", "G28 G91 Z0.", "G90", "M30", name="end"), "d3", "through"
    )


def alu_plate() -> Made:
    """Return an aluminium plate: small steps, bores by helix, contour on ramps with tabs."""
    m = made(
        "alu_plate",
        (110, 90, 5),
        "front-left-top",
        "aluminium",
        SMALL,
        {"e4": flat(4, 11, 18, n=1, helix="up")},
        stock={"allow_into_spoilboard": "0.3 mm"},
    )
    t = Tape("packed")
    t("(MOTOR PLATE)", "(4 mm end mill, 1 flute)", "G21 G90 G17 G94", "M3 S16000", name="spin")
    t("G4 P3", "M8", "G0 Z10")
    ring(t, 55, 45, 1.8, levels(0, -5.1, 0.5), 500, 10, tag="bore")
    for k, (x, y) in enumerate(((25, 25), (85, 25), (85, 65), (25, 65))):
        ring(t, x, y, 0.9, levels(0, -5.1, 0.3), 250, 10, tag=f"hole{k}")
    tabbed_box(t, 8, 8, 102, 82, levels(0, -5.1, 0.6), -3.6, 8, 500, 10, slope=18)
    return m.stage(
        t("M9", "M5", "G0 X0 Y85", "M2", name="end"),
        "e4",
        "through",
        max_ramp_angle="5 deg",
        max_pass="0.7 mm",
    )


def acrylic_badge() -> Made:
    """Return round acrylic badges, cut by helix around, tabs left by a skin that is kept."""
    m = made(
        "acrylic_badge",
        (180, 100, 4),
        "front-left-top",
        "acrylic",
        TABLE,
        {"o3": flat(3, 12, 20, n=1, helix="up")},
    )
    t = Tape("lower")
    t(
        "(badges; skin of 0.3 mm stays, break out by hand)",
        "G21 G90 G91.1",
        "m3 s12000",
        "g4 p3",
        "g0 z15",
    )
    for k in range(3):
        ring(t, 35 + 55 * k, 50, 21.5, levels(0, -3.7, 0.8), 1200, 5, tag=f"badge{k}")
    return m.stage(
        t("g0 z15", "m5", "g0 x0 y0", "m30", name="end"),
        "o3",
        "3.7 mm",
        allow=[{"code": "thin-floor", "reason": "the skin is meant"}],
    )


def inch_lid() -> Made:
    """Return a maple lid in inches: rabbet round the edge and a recess, tool-changer style."""
    m = made(
        "inch_lid",
        (152.4, 101.6, 12.7),
        "front-left-top",
        "maple",
        TABLE,
        {"quarter": flat(6.35, 22, 32, helix="up")},
    )
    m.head["units"] = "in"
    t = Tape("numbered dots")
    t(
        "%",
        "O0042",
        "(LID RABBET 1/4 FLAT)",
        "G20 G90 G80 G40 G17",
        "T2 M6",
        "S16000 M3",
        "G4 P4.",
        "G54",
    )
    t("G0 X-0.3 Y0.0625", "G43 H2 Z1.")("G0 Z0.1")
    for k, z in enumerate((-0.09, -0.18)):
        t.to(z=z, f=40, name=f"rabbet-down-{k}")
        t.to(x=5.9375, y=0.0625, f=120, name=f"rabbet-front-{k}")
        t.to(y=3.9375)
        t.to(x=0.0625)
        t.to(y=0.0625)
        t.to(x=-0.3)
    t("G0 Z1.", "M5", "G53 G0 Z0.", "M30", "%", name="end")
    u = Tape("dots")
    u(
        "%",
        "O0043",
        "(LID RECESS 1/4 FLAT)",
        "G20 G90 G17",
        "T2 M6",
        "S16000 M3",
        "G4 P4.",
        "G54",
        "G0 Z1.",
    )
    pocket(u, 1.5, 1.0, 4.5, 3.0, levels(0, -0.25, 0.125), 0.25, 0.11, 120, 1)
    m.stage(t, "quarter", "0.18 in")
    return m.stage(
        u("M5", "G53 G0 Z0.", "G53 G0 X1. Y25.", "M30", "%", name="end"), "quarter", "0.25 in"
    )


def inlay() -> Made:
    """Return a rounded inlay pocket: 3 mm bit, then 1.5 mm for the corners."""
    m = made(
        "inlay",
        (150, 100, 15),
        "centre-top",
        "cherry",
        SMALL,
        {"f3": flat(3, 12, 20), "f1.5": flat(1.5, 6, 16, shank=3)},
    )
    m.head["machine"]["work_zero"] = ["-150 mm", "-100 mm", "-45 mm"]
    a = Tape()
    a("(inlay, clear, flat 3 mm)", "G21 G90 G17", "M3 S20000", "G4 P3", "G0 Z25")
    pocket(a, -40, -25, 40, 25, [-1.25, -2.5], 3, 1.3, 1800, 25)
    m.stage(a("M5", "G0 X-70 Y-45", "M30", name="end"), "f3", "2.5 mm")
    b = Tape()
    b("(inlay, corners, flat 1.5 mm)", "G21 G90 G17", "M3 S22000", "G4 P3", "G0 Z25")
    for k, (sx, sy) in enumerate(((-1, -1), (1, -1), (1, 1), (-1, 1))):
        b.to("G0", x=sx * 37, y=sy * 24.25)
        b.to("G0", z=1)
        b.to(z=-2.5, f=300)
        b.to(x=sx * 39.25, f=900, name=f"corner-{k}")
        b.to(y=sy * 22)
        b.to("G0", z=5)
    return m.stage(b("G0 Z25", "M5", "G0 X-70 Y-45", "M30", name="end"), "f1.5", "2.5 mm")


def slab() -> Made:
    """Return a thick oak slab with a deep pocket, eleven passes."""
    m = made(
        "slab", (240, 180, 60), "back-right-top", "oak", HALL, {"f12": flat(12, 50, 62, helix="up")}
    )
    m.head["machine"]["work_zero"] = ["900 mm", "700 mm", "-120 mm"]
    t = Tape("fixed")
    t("(DEEP POCKET 12MM FLAT)", "G21 G90", "S16000 M3", "G4 P5", "G0 Z50")
    pocket(t, -190, -140, -50, -40, levels(0, -42, 4), 12, 5, 4000, 50)
    return m.stage(t("M5", "G53 G0 Z-5", "M30", name="end"), "f12", "42 mm")


def flip_side() -> Made:
    """Return the first half of a double-sided part: dowel holes, then a trench around."""
    m = made(
        "flip_side",
        (180, 120, 30),
        "centre-bed",
        "pine",
        TABLE,
        {"d6": bit("drill", 6, 50, 60, angle="118 deg"), "f8": flat(8, 32, 42)},
        stock={"allow_into_spoilboard": "8 mm"},
    )
    m.head["machine"]["work_zero"] = ["400 mm", "300 mm", "-120 mm"]
    a = Tape()
    a("(dowel holes into the board, drill 6 mm)", "G21 G90 G94", "M3 S6000", "G4 P4", "G0 Z60")
    for k, x in enumerate((-80, 80)):
        a.to("G0", x=x, y=0)
        a.to("G0", z=32)
        z = 30
        while z > -6:
            z = max(z - 6, -6)
            a.to(z=z, f=400, name=f"dowel-{k}-{z}")
            a("G0 Z32")
            if z > -6:
                a.to("G0", z=z + 0.5)
        a("G0 Z60")
    m.stage(a("M5", "M30", name="end"), "d6", "through")
    b = Tape("packed")
    b("(outline, half of the thickness, flat 8 mm)", "G21 G90 G94", "M3 S17000", "G4 P4", "G0 Z60")
    tabbed_box(b, -66, -46, 66, 46, levels(30, 14, 4), 0, 10, 3600, 60, 30)
    return m.stage(b("M5", "M30", name="end"), "f8", "16 mm")


def two_offsets() -> Made:
    """Return two equal plates, the second by G55."""
    m = made(
        "two_offsets", (400, 180, 12), "front-left-top", "plywood", TABLE, {"f5": flat(5, 20, 30)}
    )
    t = Tape("dos")
    t("(twin plates, 5 mm flat)", "G21 G90 G17", "M3 S18000", "G4 P4")
    for offset in ("G54", "G55"):
        t(offset, "G0 Z25", name=offset)
        pocket(t, 30, 30, 150, 150, levels(0, -7, 3.5), 5, 2.2, 2600, 25)
    t("G54", "G0 X0 Y0", "M5", "M30", name="end")
    return m.stage(t, "f5", "7 mm", offsets={"G55": ["200 mm", "0 mm", "0 mm"]})


def onion() -> Made:
    """Return a disc: rough to a skin, then the skin, in two programs, tape underneath."""
    m = made(
        "onion",
        (160, 160, 9),
        "centre-top",
        "mdf",
        TABLE,
        {"f6": flat(6, 25, 35)},
        clamps=[clamp(-78, -78, -62, -62, 20), clamp(62, 62, 78, 78, 20)],
    )
    m.head["machine"]["work_zero"] = ["400 mm", "300 mm", "-100 mm"]
    a = Tape("dots")
    a("(disc, down to a skin of 0.4)", "(flat 6 mm)", "G21 G90", "S18000 M3", "G4 P4.", "G0 Z45.")
    ring(a, 0, 0, 58, levels(0, -8.6, 3), 4500, 45)
    m.stage(
        a("M5", "G0 X0. Y70.", "M30", name="end"),
        "f6",
        "8.6 mm",
        allow=[{"code": "thin-floor", "reason": "the skin of an onion cut"}],
    )
    b = Tape("dots")
    b(
        "(disc, the skin)",
        "(flat 6 mm)",
        "G21 G90",
        "S18000 M3",
        "G4 P4.",
        "G0 Z45.",
        "X58. Y0.",
        "Z2.",
    )
    b("G1 Z-8.5 F600.")("G1 Z-9.2 F400.", name="in")("G3 X58. Y0. I-58. J0. F3500.", name="skin")
    return m.stage(
        b("G0 Z45.", "M5", "M30", name="end"),
        "f6",
        "through",
        allow=[{"code": "loose-part", "reason": "double-sided tape"}],
    )


def rosette_sub() -> Made:
    """Return holes bored by a subprogram called at nine places."""
    m = made("rosette_sub", (260, 260, 14), "centre-top", "beech", TABLE, {"f4": flat(4, 18, 28)})
    m.head["machine"]["work_zero"] = ["400 mm", "300 mm", "-90 mm"]
    t = Tape()
    t("%", "O0001 (NINE BORES, 4 MM FLAT)", "G21 G90 G17", "M3 S18000", "G4 P4", "G0 Z20")
    for k in range(9):
        a = math.radians(40 * k)
        t.to("G0", x=90 * math.cos(a), y=90 * math.sin(a), name=f"place-{k}")
        t("M98 P200", name=f"call-{k}")
    t("G0 X0 Y0", "M5", "M30", name="end")
    t("O0200", "G0 Z2", "G91", "G0 X5", "G1 Z-2 F300", name="sub-touch")
    for k in range(4):
        t("G3 X0 Y0 Z-2 I-5 J0 F900", name=f"sub-turn-{k}")
    t("G3 X0 Y0 I-5 J0", "G1 X-1", "G0 Z10", "G90", "G0 Z20", "M99", "%")
    return m.stage(t, "f4", "8 mm")


def bore_loop() -> Made:
    """Return a bore by a loop of parameters."""
    m = made("bore_loop", (120, 120, 30), "front-left-top", "ash", TABLE, {"f8": flat(8, 32, 42)})
    t = Tape()
    t(
        "(bore 40 mm, 22 deep)",
        "(flat 8 mm)",
        "G21 G90 G17",
        "M3 S16000",
        "G4 P4",
        "G0 Z20",
        "#1=0 (depth)",
        "#2=16 (radius)",
    )
    t("#3=-22", name="depth")
    t("G0 X[60+#2] Y60", "G0 Z1", "G1 Z0 F600", "O100 WHILE [#1 GT #3]", "#1=[#1-2]", name="step")
    t("G3 X[60+#2] Y60 Z#1 I[-#2] J0 F2400", name="turn")
    t(
        "G3 X[60+#2] Y60 I[-#2] J0",
        "G1 X[60+#2/2] F2400",
        "G3 X[60+#2/2] Y60 I[-#2/2] J0",
        "G1 X60 Y60",
    )
    t("G1 X[60+#2]", "O100 ENDWHILE", name="loop-end")
    t("G0 Z20", "M5", "G0 X0 Y110", "M2", name="end")
    return m.stage(t, "f8", "22 mm")


def dados_incremental() -> Made:
    """Return dados by a hand that writes in G91, over both edges."""
    m = made(
        "dados_incremental",
        (300, 150, 18),
        "front-left-top",
        "spruce",
        None,
        {"f10": flat(10, 30, 40)},
    )
    t = Tape("packed")
    t("(THREE DADOS 10 MM WIDE)", "G21 G90", "M3 S18000", "G4 P4", "G0 Z15", "G0 X60 Y-8")
    for k in range(3):
        t("G91", "G0 Z-13", "G1 Z-5 F600", name=f"down-{k}")
        t("Y166 F4000", name=f"dado-{k}")("Z-3 F600", name=f"second-{k}")("Y-166 F4000")
        t("G0 Z21", name=f"up-{k}")("G90")
        if k < 2:
            t(f"G0 X{150 + 90 * k}", name=f"next-{k}")
    return m.stage(t("M5", "G0 X0 Y0", "M30", name="end"), "f10", "6 mm")


def hdpe_board() -> Made:
    """Return a cutting board in HDPE: juice groove by a ball, handle cleared right through."""
    m = made(
        "hdpe_board",
        (380, 240, 13),
        "front-left-top",
        "HDPE",
        TABLE,
        {"core": bit("ball", 12, 20, 36), "f6": flat(6, 25, 36, n=1)},
    )
    a = Tape("dots")
    a(
        "(JUICE GROOVE, 12 MM BALL)",
        "G21 G90 G17",
        "S9000 M3",
        "G4 P4.",
        "G0 Z25.",
        "X40. Y20.",
        "Z2.",
        "G1 Z0. F700.",
    )
    for k, z in enumerate((-2.0, -4.0)):
        a.to(x=340, y=20, z=z, f=1800, name=f"groove-ramp-{k}")
        a.to("G3", x=360, y=40, i=0, j=20, f=2800)
        a.to(y=200, name=f"groove-right-{k}")
        a.to("G3", x=340, y=220, i=-20, j=0)
        a.to(x=40)
        a.to("G3", x=20, y=200, i=0, j=-20)
        a.to(y=40)
        a.to("G3", x=40, y=20, i=20, j=0)
    a.to(x=340, y=20)
    m.stage(a("G0 Z25.", "M5", "X0. Y0.", "M30", name="end"), "core", "4 mm")
    b = Tape("dots")
    b("(HANDLE, 6 MM FLAT)", "G21 G90 G17", "S12000 M3", "G4 P4.", "G0 Z25.")
    pocket(b, 150, 160, 230, 190, levels(0, -13.2, 3.5), 6, 2.4, 2600, 25)
    return m.stage(b("M5", "X0. Y0.", "M30", name="end"), "f6", "through")


def door() -> Made:
    """Return an MDF cabinet door on a large table: panel groove, hinge cups, zero on the bed."""
    m = made(
        "door",
        (716, 396, 19),
        "front-left-bed",
        "mdf",
        HALL,
        {"nose": bit("ball", 16, 24, 45, shank=12), "cup": flat(10, 32, 45)},
    )
    a = Tape("fixed")
    a(
        "(DOOR PANEL 16MM BALL NOSE)",
        "G90 G21 G17",
        "G0 Z60",
        "M3 S15000",
        "G4 P5",
        "G0 X70 Y100",
        "Z22",
        "G1 Z19 F2000",
    )
    a.to(x=70, y=326, z=13, f=2500, name="panel-ramp")
    for x, y in ((646, 326), (646, 70), (70, 70), (70, 326)):
        a.to(x=x, y=y, f=6000)
    m.stage(a("G0 Z60", "M5", "G0 X0 Y0", "M30", name="end"), "nose", "6 mm")
    b = Tape("fixed")
    b("(HINGE CUPS 10MM FLAT)", "G90 G21 G17", "G0 Z60", "M3 S18000", "G4 P5")
    for k, x in enumerate((100, 616)):
        for r in (4.5, 12.5):
            ring(b, x, 22.5, r, [16.0, 13.0, 10.0, 8.0, 6.0], 4000, 60, 19, tag=f"cup-{k}-{r:g}")
    return m.stage(b("M5", "G0 X0 Y0", "M30", name="end"), "cup", "13 mm")


def pegboard() -> Made:
    """Return a counting board: incremental cycles repeated by L."""
    m = made(
        "pegboard",
        (380, 90, 20),
        "centre-left-top",
        "maple",
        SMALL,
        {"d3": bit("drill", 3.2, 30, 36, angle="118 deg")},
    )
    m.head["machine"]["travel"] = [["-420 mm", "0 mm"], ["-200 mm", "0 mm"], ["-70 mm", "0 mm"]]
    m.head["machine"]["work_zero"] = ["-400 mm", "-100 mm", "-45 mm"]
    t = Tape("numbered")
    t("(3.2 MM DRILL)", "G21 G90 G17", "M3 S8000", "G4 P3", "G0 Z15")
    for k, y in enumerate((-30, -10, 10, 30)):
        t(f"G90 G0 X10 Y{y}", name=f"row-{k}")(
            "G0 Z3", "G91", "G99 G81 X12 Y0 Z-11 R0 L29 F250", name=f"cycle-{k}"
        )
        t("G80", "G90", "G0 Z15")
    return m.stage(t("M5", "G28", "M30", name="end"), "d3", "8 mm")


def foam() -> Made:
    """Return a tool insert of foam: deep passes are usual there."""
    m = made("foam", (300, 200, 40), "front-right-top", "foam", TABLE, {"f10": flat(10, 45, 60)})
    m.head["machine"]["work_zero"] = ["700 mm", "200 mm", "-80 mm"]
    t = Tape()
    t("(insert, 10 mm flat)", "G21 G90", "M3 S12000", "G4 P4", "G0 Z30")
    pocket(t, -260, 40, -150, 160, [-15, -30], 10, 4.5, 4000, 30)
    pocket_two = Tape()
    pocket(pocket_two, -120, 60, -30, 140, [-12, -24], 10, 4.5, 4000, 30)
    t.lines += [type(line)(line.text) for line in pocket_two.lines]
    return m.stage(t("M5", "G0 X0 Y0", "M30", name="end"), "f10", "30 mm")


def no_machine() -> Made:
    """Return a job that declares little: blank, bit, one pocket."""
    m = made("no_machine", (90, 60, 12), "front-left-top", "alder", None, {"f3": flat(3, 12, 20)})
    t = Tape("packed lower")
    t("g21", "g90", "m3 s18000", "g4 p3", "g0 z5")
    pocket(t, 15, 15, 75, 45, [-1.5, -3.0], 3, 1.4, 1500, 5)
    return m.stage(t("g0 x0 y0", "m5", "m30", name="end"), "f3", "3 mm")


JOBS = [
    tray,
    shelf,
    surfacing,
    pegs,
    through_holes,
    alu_plate,
    acrylic_badge,
    inch_lid,
    inlay,
    slab,
    flip_side,
    two_offsets,
    onion,
    rosette_sub,
    bore_loop,
    dados_incremental,
    hdpe_board,
    door,
    pegboard,
    foam,
    no_machine,
]
