"""Where a finding points: line, column and end are those of the word, as written."""

from __future__ import annotations

import pytest

from dryrun.finding import Finding
from dryrun.gcode.notes import SHOWN
from dryrun.gcode.program import read_program

START = "G21 G90 F100 M3 S1000 G0 X0 Y0 Z5\n"


def findings(line: str, controller: str | None = None) -> list[Finding]:
    program = read_program((START + line + "\nM30\n").encode(), controller, name="part.nc")
    return [f for f in program.findings if f.line == 2]


#: A line, the code of its finding, and the marked text.
MARKED = [
    ("G1 X1 X2", "conflicting-words", "X2"),
    ("\tG1\tX1\tX 2", "conflicting-words", "X 2"),
    ("G1 (naïve – comment) X1 Q.", "unreadable-line", "."),
    ("G2 X10 I1 J0", "bad-arc", "I1"),
    ("(ä) G2 X10 (ö) I 1", "bad-arc", "I 1"),
    ("G2 X50 R 3", "bad-arc", "R 3"),
    ("G1 X[1 + 2 / 0]", "bad-expression", "/"),
    ("g1 x asim[0.5]", "bad-expression", "asim"),
    ("G1 X1 G0", "conflicting-words", "G0"),
    ("G1 X1 P7", "ignored-word", "P7"),
    ("N10 G771 X1", "unknown-word", "G771"),
    ("G81 X1 Y1 Z-1", "missing-word", "G81"),
    ("G1 X1,5", "unreadable-line", ","),
    ("G1 X1 (open", "unreadable-line", "(open"),
    ("G1 X1 ) Y1", "unreadable-line", ")"),
    ("M98 P77", "missing-word", "P77"),
    ("G1 X#55 Y1", "bad-expression", "#55"),
    ("GOTO 99", "missing-word", "GOTO 99"),
    ("G55 G0 X1", "not-accepted", "G55"),
    ("G1 X1 (a (b) c)", "unreadable-line", "(a (b)"),
]


@pytest.mark.parametrize(("line", "code", "marked"), MARKED, ids=[m[0] for m in MARKED])
def test_a_finding_marks_its_word(line: str, code: str, marked: str) -> None:
    """Columns count code points from 1, a tab is one, the end is exclusive."""
    found = next(f for f in findings(line) if f.code == code)

    assert found.excerpt == line
    assert found.column is not None
    assert found.end_column is not None
    assert line[found.column - 1 : found.end_column - 1] == marked
    assert found.file == "part.nc"


def test_the_report_marks_the_line_that_is_too_long() -> None:
    """What stands beyond 256 characters is marked (NISTIR 6556 3.3)."""
    line = "G1 X1 (" + "a" * 260 + ")"
    found = next(f for f in findings(line, "rs274") if f.code == "unreadable-line")

    assert (found.column, found.end_column) == (257, len(line) + 1)


def test_columns_lie_within_the_line_for_every_fault() -> None:
    """Nothing points outside its excerpt."""
    for line, _, _ in MARKED:
        for found in findings(line):
            assert found.excerpt is not None
            assert 1 <= (found.column or 0) < (found.end_column or 0) <= len(line) + 2


def test_of_many_alike_the_first_are_shown_and_the_rest_counted() -> None:
    """Beyond the first of a kind one finding stands for all others, with their number."""
    program = read_program((START + "G1 X1 X2\n" * 100 + "M30\n").encode())
    alike = [f for f in program.findings if f.code == "conflicting-words"]

    assert len(alike) == SHOWN + 1
    assert sum(f.count for f in alike) == 100
    assert [f.line for f in alike] == list(range(2, SHOWN + 3))


def test_a_loop_tells_a_fault_once_with_its_count() -> None:
    """The same place is told once, however often it runs."""
    text = START + "#1=0\nWHILE [#1 LT 9] DO1\nG1 X#1 P2\n#1=[#1+1]\nEND1\nM30\n"
    alike = [f for f in read_program(text.encode()).findings if f.code == "ignored-word"]

    assert [(f.line, f.count) for f in alike] == [(4, 9)]
