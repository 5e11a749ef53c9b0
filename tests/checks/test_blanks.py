"""Blanks inside numbers: which lines, whatever ends them."""

from __future__ import annotations

import pytest

from dryrun.checks.program import _lines_with_blanks


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_lines_are_numbered_as_the_reader_does(end: str) -> None:
    """Comments, blanks between letter and number, and text that is no code do not count."""
    lines = [
        "(1 2)",
        "PART 12 34",
        "G0 60 Y3",
        "",
        "G 1 X - 3 (4 5)",
        "N10 G1 X1 .5 Y2",
        "G1 X3 ; 1 2",
    ]

    found = list(_lines_with_blanks(end.join(lines)))

    assert found == [(3, "G0 60 Y3"), (6, "N10 G1 X1 .5 Y2")]
