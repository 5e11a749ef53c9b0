"""What programs contain beyond NISTIR 6556: common practice, no source.

Run with the permissive controller. Expected values were worked out by hand.
"""

from __future__ import annotations

from typing import Any

import pytest

from .test_reference_cases import check_case


def at(line: int) -> dict[str, Any]:
    return {"error": {"line": line}}


# fmt: off
#: What it shows, program, expectation, start state.
PRACTICE: list[tuple[str, str, dict[str, Any], dict[str, Any]]] = [
    ("abs ijk", "G90.1\nG2 X10 Y0 I5 J0 F100", {"arc": {"centre": {"x": 5, "y": 0}}}, {}),
    ("M98", "M98 P100 L2\nG0 Y5\nM30\nO100\nG91 G0 X1\nG90\nM99", {"end": [2, 5, 0]}, {}),
    ("M98 nested", "M98 P1\nM30\nO1\nM98 P2 L3\nM99\nO2\nG91 G0 X1\nM99", {"end": [3, 0, 0]}, {}),
    ("M98 packed", "M98 P30100\nM30\nO0100\nG91 G0 X1\nM99", {"end": [3, 0, 0]}, {}),
    ("M97", "M97 P50 L2\nM30\nN50 G91 G0 X1\nM99", {"end": [2, 0, 0]}, {}),
    ("L", "L10 P2\nM30\nL10\nG91 G0 X1\nM17", {"end": [2, 0, 0]}, {}),
    ("G65", "G65 P9 A3 B4\nM30\nO9\nG0 X[#1+#2]\nM99", {"end": [7, 0, 0]}, {}),
    ("oword",
     "o100 sub\nG0 X[#1*2] Y#2\no100 endsub\no100 call [3] [4]\nM2",
     {"end": [6, 4, 0]}, {}),
    ("oname",
     "o<foo> sub\nG0 X[#1*2]\no<foo> endsub [#1+1]\no<foo> call [3]\nG0 Y#<_value>\nM2",
     {"end": [6, 4, 0]}, {}),
    ("oif",
     "#1=2\no1 if [#1 EQ 1]\nG0 X1\no1 elseif [#1 EQ 2]\nG0 X2\no1 else\nG0 X3\no1 endif\nM2",
     {"end": [2, 0, 0]}, {}),
    ("owhile",
     "#1=0\no1 while [#1 LT 5]\n#1=[#1+1]\no2 if [#1 EQ 3]\no1 break\no2 endif\n"
      "o1 endwhile\nG0 X#1\nM2",
     {"end": [3, 0, 0]}, {}),
    ("odo", "#1=0\no1 do\n#1=[#1+1]\no1 while [#1 LT 5]\nG0 X#1\nM2", {"end": [5, 0, 0]}, {}),
    ("orepeat", "o1 repeat [4]\nG91 G0 X1\no1 endrepeat\nM2", {"end": [4, 0, 0]}, {}),
    ("ocont",
     "#1=0 #2=0\no1 while [#1 LT 5]\n#1=[#1+1]\no2 if [#1 EQ 3]\no1 continue\no2 endif\n"
      "#2=[#2+1]\no1 endwhile\nG0 X#2\nM2",
     {"end": [4, 0, 0]}, {}),
    ("ifthen",
     "#1=1\nIF [#1 EQ 1] THEN #2=5\nIF[#1 EQ 2]THEN #2=6\nG0 X#2",
     {"end": [5, 0, 0]}, {}),
    ("if block", "#1=1\nIF [#1 EQ 1] THEN\nG0 X1\nELSE\nG0 X2\nENDIF\nM30", {"end": [1, 0, 0]}, {}),
    ("nested while",
     "#1=0 #3=0\nWHILE[#1 LT 3]DO1\n#2=0\nWHILE[#2 LT 4]DO2\n#3=#3+1\n#2=#2+1\nEND2\n"
      "#1=#1+1\nEND1\nG0X#3",
     {"end": [12, 0, 0]}, {}),
    ("vacant", "IF [#5 EQ #0] THEN #5=3\nG0 X#5", {"end": [3, 0, 0]}, {}),
    ("named", "#<a b>=4\nG0 X#<ab>", {"end": [4, 0, 0]}, {}),
    ("and", "#1=1 #2=2\nIF [#1 EQ 1 AND #2 GT 1] THEN #3=9\nG0 X#3", {"end": [9, 0, 0]}, {}),
    ("g43.1", "G43.1 Z2\nG0 Z5", {"end": [0, 0, 5], "machine_end": [0, 0, 7]}, {}),
    ("g52", "G52 X5\nG0 X1", {"end": [1, 0, 0], "machine_end": [6, 0, 0]}, {}),
    ("g73", "G99 G73 X1 Y1 Z-1 R1 Q1 F100", {"depths": [0, -1]}, {"position": [0, 0, 5]}),
    ("nested comment", "G0 (a (b) c) X1", {"end": [1, 0, 0]}, {}),
    ("unclosed", "G0 X1 (abc", {"end": [1, 0, 0]}, {}),
    ("percent", "text\n%\nO1000\nG0 X1\nM30\n%", {"end": [1, 0, 0]}, {}),
    ("G95", "M3 S1000 G95 G1 X100 F0.1", {"minutes": 1.0}, {}),
    ("g71", "G71 G0 X1\nG70", {"end": [0.03937007874015748, 0, 0]}, {}),
    ("M99 main", "G0 X1\nM99", {"end": [1, 0, 0]}, {}),
    ("goto fwd", "GOTO 20\nG0 X1\nN20 G0 Y1", {"end": [0, 1, 0]}, {}),
    ("endless", "#1=0\nN1 G0 X1\nGOTO 1", at(3), {}),
    ("endless2", "WHILE [1] DO1\n#1=#1+1\nEND1", at(3), {}),
    ("recursion", "O1\nM98 P1\nM99", at(2), {}),
    ("missing sub", "M98 P77", at(1), {}),
    ("missing n", "GOTO 5", at(1), {}),
    ("unmatched", "WHILE [1 EQ 0] DO1\nG0 X1", at(1), {}),
    ("g28.1", "G0 X5 Y6\nG28.1\nG0 X0\nG28 X0", {"end": [5, 6, 0]}, {}),
    ("turns", "G2 X0 I5 P2 F100", {"arc": {"sweep": -720}}, {}),
    ("bare", "G2 I5 F100", {"arc": {"sweep": -360}}, {}),
    ("comp trim",
     "G41 D1 G1 X5 F100\nY5\nX0",
     {"moves": [{"t": "feed", "to": [4.5, 0.452267, 0]},
                {"t": "feed", "to": [4.5, 4.5, 0]},
                {"t": "feed", "to": [0, 4.5, 0]}]}, {}),
    ("-#1", "#1=3\nG0 X-#1", {"end": [-3, 0, 0]}, {}),
    ("1e-3", "G0 X1.5E-03", {"end": [0.0015, 0, 0]}, {}),
    ("G04 X", "G04 X2.5", {"moves": [{"t": "dwell", "s": 2.5}]}, {}),
    ("block /2", "/2 G0 X1", {"end": [1, 0, 0]}, {}),
    ("M98 mid", "G0 X1 M98 P5\nM30\nO5\nG0 Y1\nM99", {"end": [1, 1, 0]}, {}),
    ("M99 P", "M98 P5\nG0 X1\nN20 G0 Z1\nM30\nO5\nG0 Y1\nM99 P20", {"end": [0, 1, 1]}, {}),
    ("colon", "M98 P5\nM30\n:5\nG0 Y1\nM99", {"end": [0, 1, 0]}, {}),
    ("L20 P0", "G0 X10\nG10 L20 P0 X0", {"end": [0, 0, 0]}, {}),
    ("G9", "G9 G1 X5 F100", {"end": [5, 0, 0]}, {}),
]
# fmt: on


@pytest.mark.parametrize(
    ("name", "program", "expect", "initial"), PRACTICE, ids=[p[0] for p in PRACTICE]
)
def test_practice(name: str, program: str, expect: dict[str, Any], initial: dict[str, Any]) -> None:
    """A habit of common practice is read as people mean it."""
    case = {"id": name, "basis": "practice", "program": program, "expect": expect}

    assert check_case(case | {"initial": initial}) == []
