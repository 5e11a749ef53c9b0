"""Seven authors: how each writes a program."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from tests.checks.heldout4.tape import Style, Tape, Text, write

#: Terse: nothing said twice.
TERSE = Style()
#: Every word on every line, numbered, percent marks, arcs by radius.
WORDY = Style(
    modal=False, pad=True, arcs="r", trim=False, number=10, percent=True,
    safety="G90 G94 G17 G40", end=("M05", "M30"),
)  # fmt: skip
#: Plate shop: points everywhere, cycles, a tool change and coolant.
PLATE = Style(
    point=True, number=5, cycles=True, tool="T1 M6", units_line=False,
    safety="G90 G94 G17 G40 G80", coolant=("M8", "M9"), end=("M5", "G53 G0 Z-1.", "M30"),
)  # fmt: skip
#: No blanks between words, semicolons, the feed on every line.
DENSE = Style(blank="", comment=";", feed_always=True, units_line=False, safety="G90G17", zero="")
#: Inches with four places.
INCH = Style(units="in", places=4, trim=False, cycles=True, end=("M5", "M2"))
#: Increments.
STEPS = Style(incremental=True, places=3, safety="G17 G90")
#: To the letter of the published language, four places.
LETTER = Style(places=4, cycles=True, percent=True, safety="G17 G40 G49 G80 G90 G94 G61")


def program(
    style: Style,
    title: str,
    bit: str,
    draw: Callable[[Tape], None],
    *,
    rpm: int,
    wait: float,
    clear: float,
    **changes: object,
) -> Text:
    tape = Tape()
    draw(tape)
    style = replace(style, **changes)  # type: ignore[arg-type]
    return write(tape, style, title, bit, rpm, wait, clear)
