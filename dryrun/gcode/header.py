"""What a program's comments say about it: its name, bits, blank and unit.

Comments bind nobody, so everything here is a hint with the line it stands in, never a
declaration; `certain` is True only where the words leave one reading. There is no standard for
such remarks. What is looked for is common practice, apart from the `TOOL/` and `CUTTER/` records
of part programming languages (ISO 4343: diameter first, then corner radius).

Lengths are converted to mm: by the unit written behind the number, otherwise by the program's own
units code, otherwise by a unit named in a comment. A length whose unit nobody says is left out.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from typing import Final, NamedTuple

from dryrun.gcode import header_patterns as patterns
from dryrun.gcode.header_patterns import Shape
from dryrun.units import Units

#: Comments looked at, of different wording, and characters of each. Hints stand at the top or
#: beside a tool change; a program that writes a remark on every line must not cost more.
MOST_COMMENTS: Final = 500
LONGEST_COMMENT: Final = 240
MOST_BITS: Final = 200

#: No bit is thinner or thicker than this (mm): such a number means something else.
BIT_RANGE: Final = (0.02, 160.0)
INCH: Final = 25.4


@dataclass(frozen=True, slots=True)
class BitHint:
    """One bit a comment speaks of.

    Attributes
    ----------
    line : 1-based line of the comment
    text : the comment
    tool : number of the tool, None not said
    shape : as in a job's bits, None not said
    diameter, corner_radius : mm, None not said; of a ball without a diameter the radius of its tip
    angle : included angle, rad, None not said
    certain : the words leave one reading, units included
    """

    line: int
    text: str
    tool: int | None = None
    shape: Shape | None = None
    diameter: float | None = None
    corner_radius: float | None = None
    angle: float | None = None
    certain: bool = False


@dataclass(frozen=True, slots=True)
class StockHint:
    """A blank a comment speaks of: size X, Y, Z in mm, or its thickness alone."""

    line: int
    text: str
    thickness: float
    size: tuple[float, float, float] | None = None
    certain: bool = False


@dataclass(frozen=True, slots=True)
class Header:
    """Everything the comments give away.

    Attributes
    ----------
    name, name_line : what the program calls itself, and where
    bits : in the order they are spoken of, each once
    stock : the first blank spoken of
    unit, unit_line : "mm" or "in" as named in a comment, and where
    """

    name: str | None = None
    name_line: int | None = None
    bits: tuple[BitHint, ...] = ()
    stock: StockHint | None = None
    unit: Units | None = None
    unit_line: int | None = None


class Comment(NamedTuple):
    """One comment: its line, the text inside, and the code before it on the line."""

    line: int
    text: str
    before: str


def read_header(text: str, unit: Units | None = None) -> Header:
    """Read the hints in the comments of a program.

    Parameters
    ----------
    text : str
        The program.
    unit : "mm", "in" or None
        What its units code says; None when it has none.
    """
    comments = list(_distinct(find_comments(text)))
    said, unit_line = _find_unit(comments)
    reading = _Reading(unit or said, unit is not None)
    bits: dict[tuple[object, ...], BitHint] = {}
    stock: StockHint | None = None
    for comment in comments:
        stock = stock or _stock(comment, reading)
        hint = _bit(comment, reading) if len(bits) < MOST_BITS else None
        if hint is None or not hint.certain:
            hint = _bit_of_clause(comment, reading) or hint
        if hint is not None:
            key = (hint.tool, hint.shape, hint.diameter, hint.corner_radius, hint.angle)
            bits.setdefault(key, hint)
    taken = {hint.line for hint in bits.values()} | {unit_line, stock.line if stock else None}
    name, name_line = _find_name(text, comments, taken)
    return Header(name, name_line, tuple(bits.values()), stock, said, unit_line)


def find_comments(text: str) -> Iterator[Comment]:
    """Find comments in parentheses and after `;`, with their lines; unclosed ones end the line."""
    counter = _LineCounter(text)
    for begin in _openings(text):
        if begin < counter.read:
            continue
        closing = patterns.LINE_END if text[begin] == ";" else patterns.CLOSING
        stop = closing.search(text, begin + 1)
        counter.read = stop.start() if stop else len(text)
        near = text[max(0, begin - LONGEST_COMMENT) : begin]
        before = near[max(near.rfind("\n"), near.rfind("\r")) + 1 :]
        inside = text[begin + 1 : min(counter.read, begin + 1 + LONGEST_COMMENT)]
        yield Comment(counter.line_of(begin), inside.strip(), before)


def _openings(text: str) -> Iterator[int]:
    """Places of `(` and `;`, in order; a program without comments costs two quick searches."""
    bracket, semicolon = text.find("("), text.find(";")
    while bracket >= 0 or semicolon >= 0:
        if semicolon < 0 or 0 <= bracket < semicolon:
            yield bracket
            bracket = text.find("(", bracket + 1)
        else:
            yield semicolon
            semicolon = text.find(";", semicolon + 1)


class _LineCounter:
    """Line numbers of growing positions; lines end with LF, CR LF or CR."""

    def __init__(self, text: str) -> None:
        #: Everything before this place has been read by the caller.
        self.read = 0
        self._text = text
        self._line = 1
        self._at = 0

    @cached_property
    def _lone(self) -> bool:
        return self._text.count("\r") != self._text.count("\r\n")

    def line_of(self, position: int) -> int:
        """Return the 1-based line a position stands in."""
        text = self._text
        self._line += text.count("\n", self._at, position)
        if self._lone:
            self._line += text.count("\r", self._at, position)
            self._line -= text.count("\r\n", self._at, position)
        self._at = position
        return self._line


def _distinct(comments: Iterable[Comment]) -> Iterator[Comment]:
    seen: set[tuple[str, str]] = set()
    for looked, comment in enumerate(comments):
        if looked >= 10 * MOST_COMMENTS or len(seen) >= MOST_COMMENTS:
            return
        key = (comment.text, comment.before)
        if comment.text and key not in seen:
            seen.add(key)
            yield comment


class _Reading:
    """How bare numbers are read: in which unit, and whether a units code says so."""

    def __init__(self, unit: Units | None, by_code: bool) -> None:
        self.unit = unit
        self.by_code = by_code

    def length(self, number: str, unit: str | None) -> tuple[float | None, bool]:
        """Return mm and whether the unit is beyond doubt; None where nobody says the unit."""
        fraction = "/" in number
        value = _value(number)
        if value is None or ("," in number and not unit):
            return None, False
        if unit:
            inches = not unit.lower().startswith("m")
            return float(value * (Fraction(254, 10) if inches else 1)), True
        if fraction:  # nobody writes fractions of a millimetre
            return float(value * Fraction(254, 10)), self.unit == "in" and self.by_code
        if self.unit is None:
            return None, False
        return float(value * (Fraction(254, 10) if self.unit == "in" else 1)), self.by_code


def _value(number: str) -> Fraction | None:
    """Value of a decimal, a fraction or a whole number with a fraction."""
    if "/" not in number:
        return Fraction(number.replace(",", "."))
    whole, _, rest = number.replace("-", " ").rpartition(" ")
    top, bottom = rest.split("/")
    if int(bottom) == 0:
        return None
    return Fraction(int(whole or 0)) + Fraction(int(top), int(bottom))


def _bit(comment: Comment, reading: _Reading) -> BitHint | None:
    """Return what a comment says of a bit, or None."""
    text = comment.text
    tool = _tool(comment)
    shape = next((shape for words, shape in patterns.SHAPES if words.search(text)), None)
    diameter, radius, sure = _sizes(comment, reading)
    angle = _angle(text) if shape in ("vee", "drill") else None
    if shape == "flat" and radius:
        shape = "bull"
    tip = patterns.TIP_RADIUS.search(text) if shape in ("ball", "taper-ball") else None
    if tip is not None and diameter is None:
        radius, sure = reading.length(tip["number"], tip["unit"])
    speaks = tool is not None or shape is not None or bool(patterns.SPEAKS_OF_A_BIT.search(text))
    sized = diameter is not None or angle is not None or (tip is not None and radius is not None)
    sized = sized or shape == "form"  # nothing else is called that
    if not speaks or not (sized or (tool is not None and shape is not None)):
        return None
    certain = sure if diameter is not None or tip is not None else bool(angle) or shape == "form"
    return BitHint(comment.line, text, tool, shape, diameter, radius, angle, certain)


def _bit_of_clause(comment: Comment, reading: _Reading) -> BitHint | None:
    """Return the bit of a comment's one clause that is nothing but a bit and its size.

    In "corners, flat 3 mm" what is cut stands before the bit.
    """
    clauses = patterns.BETWEEN_CLAUSES.split(comment.text)
    plain = [clause for clause in clauses if _plain_sizes(clause, reading) is not None]
    if len(clauses) < 2 or len(plain) != 1:
        return None
    hint = _bit(comment._replace(text=plain[0]), reading)
    return hint and replace(hint, tool=_tool(comment), text=comment.text)


def _tool(comment: Comment) -> int | None:
    """Tool number named in a comment, or by a T word in front of it."""
    found = patterns.TOOL.search(comment.text) or patterns.DRILL_LIST.search(comment.text)
    found = found or patterns.TOOL_WORD.search(comment.before.partition("(")[0])
    return int(found["tool"]) if found else None


def _sizes(comment: Comment, reading: _Reading) -> tuple[float | None, float | None, bool]:
    """Diameter and corner radius in mm, and whether the diameter is beyond doubt."""
    text = comment.text
    record = patterns.RECORD.search(text)
    if record:
        diameter, sure = reading.length(record["diameter"], None)
        radius = reading.length(record["radius"], None)[0] if record["radius"] else None
        return _plausible(diameter), radius, sure
    plain = _plain_sizes(text, reading)
    if plain is not None:
        return *plain, True
    corner = patterns.CORNER.search(text)
    radius = reading.length(corner["number"], corner["unit"])[0] if corner else None
    for words, means_diameter in patterns.DIAMETERS:
        found = words.search(text)
        if not found or not _is_a_size(found["number"], found["unit"], means_diameter, words):
            continue
        diameter, sure = reading.length(found["number"], found["unit"])
        if _plausible(diameter) is not None:
            return diameter, radius, sure and means_diameter
    diameter, sure = _d_word(comment, reading)
    if diameter is not None:
        return diameter, radius, sure
    listed = patterns.DRILL_LIST.search(text)
    if listed:
        return _plausible(reading.length(listed["number"], None)[0]), radius, False
    return _parameter(comment, reading), radius, False


def _d_word(comment: Comment, reading: _Reading) -> tuple[float | None, bool]:
    """Diameter after a D beside a word for a bit, in mm, and whether its unit is beyond doubt."""
    found = patterns.D_WORD.search(comment.text)
    if (
        not found
        or patterns.REGISTERS.search(comment.text)
        or not patterns.SPEAKS_OF_A_BIT.search(comment.text)
    ):
        return None, False
    if str(_tool(comment)) == found["number"].lstrip("0"):
        return None, False
    diameter, sure = reading.length(found["number"], found["unit"])
    return _plausible(diameter), sure


def _plain_sizes(text: str, reading: _Reading) -> tuple[float, float | None] | None:
    """Diameter and corner radius where a comment is nothing but words for a bit and its size."""
    corner = patterns.SHORT_CORNER.search(text)
    rest = text if corner is None else text[: corner.start()] + " " + text[corner.end() :]
    sizes = list(patterns.SIZE_WITH_UNIT.finditer(rest))
    if len(sizes) != 1:
        return None
    rest = rest[: sizes[0].start()] + " " + rest[sizes[0].end() :]
    rest = patterns.TWO_WORDS.sub(r"\1\2", patterns.BESIDE_SIZE.sub(" ", rest))
    words = {word.lower() for word in re.findall(r"\w+", rest)}
    surely = bool(words & patterns.SURELY_A_BIT)
    known = (
        patterns.NAMES_A_BIT
        | patterns.SAYS_WHICH
        | (patterns.SAYS_WHICH_BIT if surely else frozenset())
    )
    if not words & patterns.NAMES_A_BIT or not words <= known:
        return None
    diameter = _plausible(reading.length(sizes[0]["number"], sizes[0]["unit"])[0])
    if diameter is None:
        return None
    radius = None
    if corner is not None:
        unit = corner["unit"] or sizes[0]["unit"]
        radius = reading.length(corner["number"], unit)[0]
    return diameter, radius


def _is_a_size(number: str, unit: str | None, sure: bool, words: re.Pattern[str]) -> bool:
    """Whether a number before or after a noun is a size: "2 drills" and "tool 5" are none."""
    spelled_out = any(words is pattern for pattern, _ in patterns.DIAMETERS[:4])
    return spelled_out or unit is not None or "/" in number or "." in number


def _parameter(comment: Comment, reading: _Reading) -> float | None:
    """Diameter given by a parameter that the comment explains."""
    explained = patterns.ABOUT_DIAMETER.search(comment.text)
    setting = patterns.PARAMETER.search(comment.before)
    if not explained or not setting:
        return None
    size = reading.length(setting["number"], None)[0]
    if size is not None and "radius" in explained[0].lower():
        size *= 2.0
    return _plausible(size)


def _plausible(diameter: float | None) -> float | None:
    low, high = BIT_RANGE
    return diameter if diameter is not None and low <= diameter <= high else None


def _angle(text: str) -> float | None:
    """Included angle in rad; None where it may be meant from the axis."""
    found = patterns.ANGLE.search(text)
    if not found or patterns.HALF.search(text):
        return None
    degrees = float(found["number"])
    return math.radians(degrees) if 1.0 <= degrees < 180.0 else None


def _stock(comment: Comment, reading: _Reading) -> StockHint | None:
    """Return what a comment says of the blank, or None."""
    found = patterns.STOCK.search(comment.text)
    if found:
        numbers, units = found.groups()[0::2], found.groups()[1::2]
        last = units[2] or units[1] or units[0]
        read = [reading.length(n, u or last) for n, u in zip(numbers, units, strict=True)]
        x, y, z = (length for length, _ in read)
        if x and y and z:
            sure = all(certain for _, certain in read)
            return StockHint(comment.line, comment.text, z, (x, y, z), sure)
    for words in patterns.THICKNESS:
        thick = words.search(comment.text)
        if thick and (words is patterns.THICKNESS[0] or "thick" in comment.text.lower()):
            length, sure = reading.length(thick["number"], thick["unit"])
            if length:
                return StockHint(comment.line, comment.text, length, None, sure)
    return None


def _find_unit(comments: list[Comment]) -> tuple[Units | None, int | None]:
    """Return the first unit named, with its line."""
    for comment in comments:
        for words, unit in patterns.UNITS_SAID:
            if words.search(comment.text):
                return unit, comment.line
    return None, None


def _find_name(
    text: str, comments: list[Comment], taken: set[int | None]
) -> tuple[str | None, int | None]:
    """Return the name: said outright, beside the program number, or the first remark."""
    for comment in comments[:50]:
        said = patterns.NAMED.search(comment.text)
        if said:
            return said["name"].strip(), comment.line
    label = patterns.LABEL.search(text, 0, 4000)
    for comment in comments[:1]:
        labelled = label is not None and label[0].strip() in comment.before
        if labelled or (comment.line not in taken and comment.line <= 5 and comment.text):
            return comment.text, comment.line
    if label is not None:
        return label[0].strip(), text.count("\n", 0, label.start()) + 1
    return None, None
