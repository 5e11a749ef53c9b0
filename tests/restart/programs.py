"""Small programs, each with something that makes going on in the middle hard."""

from __future__ import annotations

import math
from collections.abc import Iterator


def _pockets(places: list[tuple[float, float]], unit: float = 1.0) -> Iterator[str]:
    for n, (x, y) in enumerate(places):
        a, b, r = x / unit, y / unit, 7.3 / unit
        yield f"G0 X{a:.4f} Y{b:.4f}"
        yield f"Z{2.0 / unit:.4f}"
        yield f"G1 Z{-(1.0 + 0.37 * n) / unit:.5f} F{400 / unit:.3f}"
        yield f"X{a + r:.4f} F{1200 / unit:.3f}"
        yield f"G3 X{a - r:.4f} Y{b:.4f} I{-r:.4f} J0"
        yield f"G3 X{a + r:.4f} Y{b:.4f} I{r:.4f} J0"
        yield f"G1 X{a:.4f} Y{b + 3.1 / unit:.4f}"
        yield f"G0 Z{6.0 / unit:.4f}"


_FIVE = [(-61.07, -55.5), (40.013, -62.25), (55.7, 44.4), (-50.05, 61.3), (3.3, -2.7)]

PLAIN = "\n".join([
    "(plain)", "G21 G17 G90 G94", "G0 Z15", "S12000 M3", "G4 P3", "M8", *_pockets(_FIVE),
    "M9", "G0 Z15", "M5", "M30",
])  # fmt: skip

INCH = "\n".join([
    "%", "G20 G17 G90 G94 G40", "G64 P0.001", "G0 Z0.6", "S12000 M3", "G4 P2",
    *_pockets(_FIVE, 25.4), "G0 Z0.6", "M5", "M2", "%",
])  # fmt: skip

CYCLES = """\
G21 G17 G90 G40 G80
G0 Z15
S9000 M3
G4 P2
G0 X-70.1 Y-70.3
Z5
G99 G81 X-70.1 Y-70.3 Z-3.1 R2 F200
X-50.2
X-30.7 Y-66.6
G98 G82 X-10.9 Y-70 Z-2.2 R2 P0.5
X10.4
G83 X30.03 Y-70 Z-7.7 R2.5 Q1.9
Y-50
Y-30.5 Z-9
G80
G0 X-60 Y20
G73 X-60 Y20 Z-6 R3 Q1.5 F150
X-40 Y22.2
G91 G81 X15 Y3 Z-6 R-2 L3
G90 G80
G0 Z15
M5
M30
"""

SUBPROGRAMS = """\
O1000
G21 G90 G17
G0 Z15
S11000 M3
G4 P2
G0 X-60 Y-60
Z5
M98 P200 L3
G90 G0 X-55.5 Y40
M98 P200
G90 G0 X50.3 Y-40.1 Z5
M98 P300
G0 Z15
M5
M30
O200
(a slot, then a step to the right)
G91 G1 Z-7.05 F300
G1 Y13.3 F900
X4.04
Y-13.3
G0 Z7.05
X21.7
M99
O300
G90 G1 Z-2.5 F300
G2 X50.3 Y-40.1 I-11 J2.2 F800
G0 Z5
X60 Y10
G1 Z-1.5 F300
G91 X-6 Y6
G90 G0 Z5
M99
"""

LOOPS = """\
G21 G90 G17
G0 Z15
S10000 M3
G4 P2
#1=0
#2=7.7
WHILE [#1 LT 4] DO1
G0 X[-70+#1*31.3] Y[-60+#1*#2]
Z4
G1 Z[-0.9-#1*0.4] F250
X[-60.03+#1*31.3] F900
G3 X[-60.03+#1*31.3] I-3.3 J0
G0 Z6
#1=[#1+1]
END1
O101 repeat [3]
G0 X[10+#2] Y40
G1 Z-2 F250
Y[50+#2] F700
G0 Z6
#2=[#2+9.1]
O101 endrepeat
G0 Z15
M5
M30
"""

COMPENSATED = """\
G21 G90 G17 G40
G0 Z15
S16000 M3
G4 P2
G0 X-70 Y-70
Z5
G1 Z-2.2 F300
G41 G1 X-60 Y-60 F900
Y-20.4
G2 X-50 Y-10.4 I10 J0
G1 X-20.7
Y-60
X-60
G40 G1 X-70 Y-70
G0 Z5
X70 Y70
G1 Z-3.3 F300
G42 G1 X60 Y60 F900
Y20
G3 X40 Y20 I-10 J0
G1 X22.2 Y41
X60 Y60
G40 G0 Z6
G0 X0 Y30
G41 G0 X5 Y40
G1 Z-1 F300
X30 Y45 F700
G0 Z6
X20 Y55
G40 X0 Y70
G1 Z-2 F300
X-13 Y71.3
G0 Z15
M5
M30
"""

PLANES = """\
G21 G90 G17 G94
G0 Z15
S12000 M3
G4 P2
G0 X-70 Y-60
Z5
G1 Z0 F300
G18 G2 X-50 Z0 I10 K0 F700
G3 X-30 Z0 R10
G0 Z7
X-10.3 Y-60
G19 G1 Z0.5 F300
G3 Y-40 Z0.5 J10 K0 F700
G2 Y-25 Z0.5 R9
G0 Z7
G17 G0 X30 Y-40
G1 Z0 F300
G3 X30 Y-40 Z-4.4 I-8 J1.1 P4 F800
G2 X44 Y-40 R9
G0 Z7
X-40 Y40
G18 G1 Z0 F200
G2 X-20 Y52 Z0 I10 K3
G17 G0 Z7
X40 Y40
G1 Z-1.5 F300
G3 X40 Y40 I-12.3 J0 F900
G0 Z15
M5
M30
"""

INCREMENTAL = """\
G21 G90 G17
G0 X0 Y0 Z15
S12000 M3
G4 P2
G91
G0 X-60.1 Y-60.2
Z-10
G1 Z-6.3 F300
X10.7 Y0.3 F900
G2 X6.6 Y6.6 I6.6 J0
G0 Z6.3
X15.5 Y3.1
G1 Z-7.7 F300
Y21.1 F800
G0 Z7.7
G90.1
X5 Y5
G90 G1 Z-1 F300
G2 X-5.7 Y-27.9 I-14 J-26
G91.1
G0 Z5
G91 X40 Y40
G1 Z-6.6
X-3.3 Y8
G0 Z6.6
X20
G1 Z-5.5
Y-9.9
G90 G0 Z15
M5
M30
"""

OFFSETS = """\
G21 G90 G17 G54
G0 Z15
S12000 M3
G4 P2
G0 X-60 Y-60
Z5
G1 Z-1.5 F300
X-40.4 F900
G0 Z5
G55
G0 X0 Y0
G1 Z-2 F300
X13.3 Y7.7 F900
G0 Z5
G92 X100 Y100
G0 X110.7 Y104
G1 Z-2.5 F300
Y122 F900
G0 Z5
X80
G1 Z-1 F300
Y110.1
G0 Z5
G92.1
G52 X-30 Y12.3
G0 X0 Y0
G1 Z-3
X9
G0 Z5
X12 Y20
G1 Z-1
Y29
G0 Z5
G52 X0 Y0
G54
G0 X40 Y40
G1 Z-2.2
X51.1
G0 Z15
M5
M30
"""

CHANGES = """\
G21 G90 G17 G94
T1 M6
G43 H1 G0 Z15
S12000 M3
G4 P2
G61
G0 X-60 Y-60
Z5
M8
G1 Z-1.5 F300
X-40.4 F900
G0 Z5
S9000
X-30 Y-50
G1 Z-2 F200
G93 X-20 Y-40 F6
X-10 Y-47 F4
G94 F500
G0 Z5
M9
G64 P0.02
G0 X20 Y-50
G4 P0.5
M7
G1 Z-1.2 F300
G95 F0.1 X30
G94 F700
Y-30
G0 Z5
M5
M0
T2 M6
G43 H2
S15000 M3
G4 P1
X-50 Y20
G61.1
G1 Z-1.1 F400
G3 X-50 Y20 I6 J0
G0 Z5
M49
X0 Y30
G1 Z-2.1
X8
G64
G0 Z5
M48
X40 Y40
G1 Z-1
G9 X44 Y49
X50
G0 Z15
M5
M30
"""


def spiral(turns: int = 6) -> str:
    """Return a long line of tiny moves between two plain cuts, retracting now and then."""
    lines = ["G21 G90 G17", "G0 Z15", "S12000 M3", "G4 P2"]
    for part in range(4):
        middle = (-45.0 + 90.0 * (part % 2), -45.0 + 90.0 * (part // 2))
        lines += [f"G0 X{middle[0]} Y{middle[1]}", "Z4", f"G1 Z-{1 + 0.3 * part:.1f} F300 "]
        for step in range(24 * turns):
            angle, radius = step * math.pi / 12, 1.0 + 0.2 * step
            x, y = middle[0] + radius * math.cos(angle), middle[1] + radius * math.sin(angle)
            lines.append(f"G1 X{x:.3f} Y{y:.3f} F1000")
        lines.append("G0 Z5")
    return "\n".join([*lines, "G0 Z15", "M5", "M30"])


PROGRAMS = {
    "plain": PLAIN,
    "inch": INCH,
    "cycles": CYCLES,
    "subprograms": SUBPROGRAMS,
    "loops": LOOPS,
    "compensated": COMPENSATED,
    "planes": PLANES,
    "incremental": INCREMENTAL,
    "offsets": OFFSETS,
    "changes": CHANGES,
    "spiral": spiral(),
}
