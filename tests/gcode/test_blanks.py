"""Blanks inside numbers: legal, told as a warning, by both ways of reading, at their place."""

from __future__ import annotations

import sys

import pytest

from dryrun.gcode import program
from dryrun.gcode.program import read_program

LINES = [
    "(1 2)",
    "G21 G90 F200",
    "G0 60 Y3",
    "",
    "G 1 X - 3 (4 5)",
    "N10 G1 X1 .5 Y2",
    "G1 X3 ; 1 2",
    "#<pass 1 2>=1",
    "#3=1 2",
    "G1 X[1 2+#3]\tY-\t1\t.5",
    "M30",
    "G1 X1 2",
]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("long", [0, sys.maxsize])
def test_a_blank_inside_a_number(end: str, long: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Comments, names, blanks beside a letter or sign, and what follows the end do not count."""
    monkeypatch.setattr(program, "LONG", long)

    told = [
        (f.line, f.column, f.end_column, f.message.split(": ")[1])
        for f in read_program(end.join(LINES).encode()).findings
        if f.code == "unreadable-line" and f.level == "warning"
    ]

    assert told == [
        (3, 1, 6, "'G0 60' is read as 'G060'"),
        (6, 8, 13, "'X1 .5' is read as 'X1.5'"),
        (9, 4, 7, "'1 2' is read as '12'"),
        (10, 6, 9, "'1 2' is read as '12'"),
        (10, 14, 21, r"'Y-\t1\t.5' is read as 'Y-1.5'"),
    ]


def test_what_cannot_be_read_has_its_own_fault() -> None:
    """Prose is told once, as what it is."""
    found = read_program(b"G21\nPART 12 34 OF 5 6\nM30\n").findings

    assert [(f.line, f.level) for f in found] == [(2, "error")]
