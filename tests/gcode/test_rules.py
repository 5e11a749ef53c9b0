"""Every rule of NISTIR 6556 once more, broken or kept, beside the reference cases.

Each program is run to the letter of the report. `line` is where the report makes it an error; an
expectation without `error` has to come true without one. "From memory" rules are those the report
describes without spelling them out in its text.
"""

from __future__ import annotations

from typing import Any

import pytest

import dryrun

from .test_reference_cases import check_case


def at(line: int) -> dict[str, Any]:
    return {"error": {"line": line}}


# fmt: off
#: What it shows, program, expectation, start state.
RULES: list[tuple[str, str, dict[str, Any], dict[str, Any]]] = [
    ("tabs are blanks", "g0\tx1", {"end": [1, 0, 0]}, {}),
    ("a sign alone", "G0 X-", at(1), {}),
    ("a point alone", "G0 X.", at(1), {}),
    ("nested comment", "G0 (a (b) c)", at(1), {}),
    ("closing parenthesis alone", "G0 X1 )", at(1), {}),
    ("six digits in a line number", "N000009 G0 X1", at(1), {}),
    ("signed line number", "N-1 G0 X1", at(1), {}),
    ("line number with a point", "N1.5 G0 X1", at(1), {}),
    ("block delete on",
     "/G0 X1\n/#1=5\nG0 Y1",
     {"end": [0, 1, 0], "params": {"1": 0}}, {"block_delete": True}),
    ("deleted line is still read", "/G0 X1 X2\nG0 Y1", at(1), {"block_delete": True}),
    ("block delete off", "/G0 X1", {"end": [1, 0, 0]}, {}),
    ("256 characters", "G0 X1 (" + "a" * 248 + ")", {"end": [1, 0, 0]}, {}),
    ("five M words", "M3 M8 M48 M0 M6", at(1), {}),
    ("same M twice", "M3 M3", at(1), {}),
    ("idx tol", "#1.00005=3\nG0 X#1", {"end": [3, 0, 0]}, {}),
    ("G tol", "G1.00001 X1 F100", {"end": [1, 0, 0]}, {}),
    ("E neg", "G0 X[-2 ** 2]", {"end": [4, 0, 0]}, {}),
    ("E empty", "G0 X[]", at(1), {}),
    ("swap", "#1=3 #2=4\n#1=#2 #2=#1", {"params": {"1": 4, "2": 3}}, {}),
    ("indirect", "#1=2 #2=7\nG0 X##1", {"end": [7, 0, 0]}, {}),
    ("unset", "G0 X#77", {"end": [0, 0, 0]}, {}),
    ("G80 G92", "G80 G92 X5", {"end": [5, 0, 0]}, {}),
    ("M7M8", "M7 M8", at(1), {}),
    ("T-", "T-1", at(1), {}),
    ("F-", "F-1", at(1), {}),
    ("strayP", "G1 X1 P1 F1", at(1), {}),
    ("strayQ", "G81 X1 Y1 Z-1 R1 Q1 F1", at(1), {}),
    ("strayL", "G1 X1 L1 F1", at(1), {}),
    ("strayI", "G1 X1 I1 F1", at(1), {}),
    ("strayR", "G0 X1 R2", at(1), {}),
    ("strayD", "G0 X1 D1", at(1), {}),
    ("G93 noF", "G93 G1 X1 F1\nX2", at(2), {}),
    ("G93 noF modal no axes", "G93 G1 X1 F1\nM8", {}, {}),
    ("G92.2", "G0 X4\nG92 X7\nG92.2", {"end": [4, 0, 0], "params": {"5211": -3}}, {}),
    ("G92.3", "G0 X4\nG92 X7\nG92.2\nG92.3", {"end": [7, 0, 0]}, {}),
    ("P10", "G10 L2 P10 X1", at(1), {}),
    ("P0", "G10 L2 P0 X1", at(1), {}),
    ("H69", "G43 H69", at(1), {}),
    ("H none", "G43", at(1), {}),
    ("H0", "G43 H1\nG43 H0", {"end": [0, 0, 0]}, {}),
    ("Rneg", "G2 X10 R-10 F100", {"arc": {"sweep": -300, "radius": 10}}, {}),
    ("Rsame", "G2 X0 R5 F100", at(1), {}),
    ("Rsmall", "G2 X10 R4 F100", at(1), {}),
    ("no ijk", "G2 X10 F100", at(1), {}),
    ("full", "G2 X0 I5 F100", {"arc": {"sweep": -360}}, {}),
    ("noend", "G2 I5 F100", at(1), {}),
    ("G18 R", "G18 G3 X10 R5 F100", {"arc": {"sweep": 180, "mid": [5, 0, 5]}}, {}),
    ("G84 nospin", "G84 X1 Y1 Z-1 R1 F100", at(1), {}),
    ("G84 ccw", "M4 S100\nG84 X1 Y1 Z-1 R1 F100", at(2), {}),
    ("G86 nospin", "G86 X1 Y1 Z-1 R1 P1 F100", at(1), {}),
    ("G87 no", "G87 X1 Y1 Z-1 R1 I1 J1 K0 F100", at(1), {}),
    ("G82 noP", "G82 X1 Y1 Z-1 R1 F100", at(1), {}),
    ("G83 noQ", "G83 X1 Y1 Z-1 R1 F100", at(1), {}),
    ("cyc noaxes", "G81 R1 F100", at(1), {}),
    ("cyc noZ", "G81 X1 R1 F100", at(1), {}),
    ("R<Z", "G81 X1 Z1 R0 F100", at(1), {}),
    ("rot", "G81 X1 Y1 Z-1 R1 A5 F100", at(1), {}),
    ("sticky", "G81 X1 Y1 Z-1 R1 F100\nX2", {"end": [2, 1, 1]}, {}),
    ("change cyc", "G81 X1 Y1 Z-1 R1 F100\nG82 X2 P1", at(2), {}),
    ("change cyc2", "G81 X1 Y1 Z-1 R1 F100\nG85 X2 R1", at(2), {}),
    ("cyc feed0", "G81 X1 Y1 Z-1 R1", at(1), {}),
    ("modal cycle no axes", "G81 X1 Y1 Z-1 R1 F100\nF50\nM8", {"end": [1, 1, 1]}, {}),
    ("modal cycle missing", "G81 X1 Y1 Z-1 R1 F100\nG0 X5\nG81 X3", at(3), {}),
    ("D69", "G41 D69", at(1), {}),
    ("D no", "G0 X1 D1", at(1), {}),
    ("G28 comp", "G41 D1\nG28 X0", at(2), {}),
    ("G92 comp", "G41 D1\nG92 X0", at(2), {}),
    ("G20 comp", "G41 D1\nG20", at(2), {}),
    ("probe comp", "G41 D1\nG38.2 X5 F10", at(2), {}),
    ("G92.1 comp", "G41 D1\nG92.1", at(2), {}),
    ("G41 in G18", "G18 G41 D1", at(1), {}),
    ("G41 tool", "T1 M6\nG41 G1 X5 F100\n", {}, {}),
    ("probe G93", "G93 G38.2 X5 F10", at(1), {}),
    ("probe rot", "G38.2 X5 A1 F10", at(1), {}),
    ("probe", "G38.2 Z-5 F10", {"params": {"5063": -5}, "end": [0, 0, -5]}, {}),
    ("two D", "G41 D1 D2", at(1), {}),
    ("G40 G41", "G40 G41 D1", at(1), {}),
    ("%junk", "%\n%\nG0 X1", {"end": [0, 0, 0]}, {"whole_file": True}),
    ("nothing", "G0 X1", at(1), {"whole_file": True}),
    ("G4 G1", "G4 P1 G1 X1 F100", {"end": [1, 0, 0]}, {}),
    ("G4 G92", "G4 P1 G92 X1", at(1), {}),
    ("G53 G91", "G91 G53 G0 X5", {"end": [5, 0, 0]}, {}),
    ("G53 no axis", "G53 G0", at(1), {}),
    ("G53 comp", "G41 D1\nG0 G53 X1", at(2), {}),
    ("G61", "G61\nG64", {"modal": {"path": "G64"}}, {}),
    ("M2 resets",
     "G18 G91 G20 M3 S100 G93\nM7\nM49\nG55\nM2",
     {"modal": {"plane": "G17", "distance": "G90", "feed_mode": "G94",
      "compensation": "G40",
      "spindle": "stop", "motion": "G1", "overrides": True, "coolant": [], "units": "G20"},
      "params": {"5220": 1}}, {}),
    ("G10 in G91", "G91 G10 L2 P1 X5", {"end": [-5, 0, 0]}, {}),
    ("G10 with G0", "G0 G10 L2 P1 X5", at(1), {}),
    ("G28 G1", "G1 G28 X0 F1", at(1), {}),
    ("M6 T", "T5 M6", {"modal": {"tool": 5}}, {}),
    ("T68", "T68", {}, {}),
    ("S0", "M3 S0", {"modal": {"spindle": "cw", "speed": 0}}, {}),
    ("arc mm tol", "G2 X10 Y0 I5.0011 F100", at(1), {}),
    ("arc noends z", "G3 Z5 I5 F100", at(1), {}),
    ("A rot", "G1 A90 F100", {"minutes": 0.9}, {}),
    ("A rot and x", "G1 X10 A90 F100", {"minutes": 0.1, "end": [10, 0, 0]}, {}),
    ("G0 a", "G0 A5", {}, {}),
    ("param set expr idx", "#[1+1]=5", {"params": {"2": 5}}, {}),
    ("neg index", "#-1=5", at(1), {}),
    ("read 5400", "G0 X#5400", at(1), {}),
    ("zero ** neg", "G0 X[0**-1]", at(1), {}),
    ("neg**frac", "G0 X[-1**0.5]", at(1), {}),
    ("M dec", "M3.5", at(1), {}),
    ("M98", "M98 P1", at(1), {}),
    ("G95", "G95", at(1), {}),
    ("unknown M", "M77", at(1), {}),
    ("M60", "M60", {"moves": [{"t": "stop", "v": "M60"}]}, {}),
    ("M1", "M1", {"moves": []}, {}),
    ("dup G", "G1 G1 X1 F1", at(1), {}),
    ("G90 G91", "G90 G91", at(1), {}),
    ("G17 G18", "G17 G18", at(1), {}),
    ("G4 G10", "G4 G10 P1 L2", at(1), {}),
    ("G54 G55", "G54 G55", at(1), {}),
    ("slash space", "  /G0 X1", {}, {}),
    ("O", "O100", at(1), {}),
    (";", "G0 X1 ; x", at(1), {}),
    ("U", "G0 U1", at(1), {}),
    ("exp ovf", "G0 X EXP[1000]", at(1), {}),
    ("cyc G91 R", "G91 G99 G81 X1 Y1 Z-1 R-1 F100 L2", {"end": [2, 2, 4]}, {"position": [0, 0, 5]}),
    ("cycle G18 G91",
     "G18 G91 G99 G81 X1 Z1 Y-1 R-1 F100",
     {"end": [1, 4, 1]}, {"position": [0, 5, 0]}),
    ("K zero", "G41 D0 G1 X5 F100\nY5\nX0", {}, {}),
    ("comment in num", "G0 X1(c)2", at(1), {}),
    ("G43 H1 z", "G43 H1\nG0 Z0", {"end": [0, 0, 0], "machine_end": [0, 0, 2]}, {}),
    ("G43 replaces", "G43 H1\nG43 H2\nG0 Z0", {"machine_end": [0, 0, 1]}, {}),
    ("G20 H", "G20\nG43 H1\nG0 Z0", {"machine_end": [0, 0, 2]}, {}),
    ("M49 M48", "M48 M49", at(1), {}),
    ("G81 Lneg", "G81 X1 Y1 Z-1 R1 L-1 F100", at(1), {}),
    ("G10 noL", "G10 P1 X1", at(1), {}),
    ("M0 M1", "M0 M1", at(1), {}),
    ("msg", "(MSG, hello there)", {"messages": ["hello there"]}, {}),
    ("G1 F0", "G1 X1 F0", at(1), {}),
    ("K arc later", "G1 X1 Y5 F100\nG42 D1 G1 Y4\nG3 X2 Y3 I1", {}, {}),
    ("R05 G99", "G99 G81 X1 Y1 Z0 R2 F100\nG98 X2", {"end": [2, 1, 2]}, {"position": [0, 0, 5]}),
    ("G59.3", "G59.3", {"modal": {"system": "9"}}, {}),
    ("G41 inc", "G91 G41 D1 G1 X5 F100\nX5", {"end": [10, 0.5, 0]}, {}),
]
# fmt: on


@pytest.mark.parametrize(("name", "program", "expect", "initial"), RULES, ids=[r[0] for r in RULES])
def test_rule(name: str, program: str, expect: dict[str, Any], initial: dict[str, Any]) -> None:
    """A rule of the report holds, and its breach is told at its line."""
    case = {"id": name, "basis": "report", "program": program, "expect": expect}
    case |= {"initial": initial, "whole_file": bool(initial.get("whole_file"))}

    assert check_case(case) == []


@pytest.mark.parametrize(
    ("controller", "words", "lacks"),
    [
        ("rs274", "G81 Z-5", "R is missing"),
        ("rs274", "G83 R2 Z-5", "Q is missing"),
        ("permissive", "G83 R2 Z-5", "Q is missing"),
        ("permissive", "G81 R2", "Z is missing"),
    ],
)
def test_what_a_cycle_lacks_is_told_once(controller: str, words: str, lacks: str) -> None:
    """One slip on its first line, four holes; a second cycle with the same slip is told again."""
    holes = f"G98 {words} X0 Y0 F100\nX10\nX20\nX30\n"
    text = f"G21 G90\nM3 S1000\nG0 Z9\n{holes}G80\nG0 X50\n{holes}G80\nM2\n"

    program = dryrun.read_program(text.encode(), controller=controller)

    found = [(f.line, f.count) for f in program.findings if lacks in f.message]
    assert found == [(4, 4), (10, 4)]


def test_lines_of_a_cycle_that_lack_a_place_are_told_each() -> None:
    """Two holes without X, Y and Z are two slips."""
    text = "G21 G90\nM3 S1000\nG0 Z9\nG81 X0 Y0 Z-5 R2 F100\nR3\nX9\nR2\nG80\nM2\n"

    program = dryrun.read_program(text.encode(), controller="rs274")

    assert all(f.count == 1 for f in program.findings)
