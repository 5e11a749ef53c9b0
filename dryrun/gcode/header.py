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
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Final, Literal, NamedTuple

from dryrun.units import Units

Shape = Literal["flat", "ball", "bull", "vee", "taper-ball", "taper-flat", "drill", "form"]

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
        closing = _LINE_END if text[begin] == ";" else _CLOSING
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


# Every repetition below is bounded or cannot match in two ways, and comments are cut short, so
# that no text makes a search slow.

_CLOSING = re.compile(r"[)\r\n]")
_LINE_END = re.compile(r"[\r\n]")

_NUMBER = r"(?:\d{1,2}[ \-])?\d{1,3}/\d{1,3}|\d{1,5}\.\d{0,8}|\.\d{1,8}|\d{1,3},\d{1,4}|\d{1,5}"
_UNIT = r"mm|millimet(?:er|re)s?|inch(?:es)?|in(?![a-z])|\"|''|”|″"
_LENGTH = rf"(?<![0-9A-Za-z.,/])(?P<number>{_NUMBER})(?![\d.,/])[ \-]?(?P<unit>{_UNIT})?"


def _pattern(text: str) -> re.Pattern[str]:
    return re.compile(text.replace("LENGTH", _LENGTH), re.IGNORECASE)


_ADJECTIVE = (
    r"(?:(?:flat|square|straight|ball|bull|nose|nosed|solid|carbide|hss|cobalt|coated|spiral|"
    r"up[\- ]?cut|down[\- ]?cut|compression|long|short|stub|rough|roughing|finish|finishing|centre|"
    r"center|spot|twist|tapered|single|double|two|three|four|\d[\- ]?fl|\d[\- ]?flutes?|flutes?|"
    r"fluted|dia|diam|diameter|v|vee|engraving|chamfer|router|face|slot|jobber)\.?[ \-]){0,5}"
)
_NOUN = (
    r"(?:end[\- ]?mills?|mill(?:ing)?(?:[\- ]?(?:cutter|bit|tool))?|ball(?:[\- ]?nose)?|bull"
    r"(?:[\- ]?nose)?|drill(?:[\- ]?bit)?|bit|cutter|router(?:[\- ]?bit)?|v[\- ]?bit|endmill|"
    r"engraver|reamer|tool|carbide)\b(?![ ](?:offset|length|change|clearance|compensation|path|"
    r"height|holder|shank|pockets?|seats?|sockets?|bearings?)\b)"
)

#: Ways to say a diameter, surest first; True where the words mean nothing else.
_DIAMETERS: Final = (
    (_pattern(r"(?:\bd|\bdia(?:m(?:eter)?)?\.?|[Øø⌀])[ ]?[=:][ ]?LENGTH"), True),
    (_pattern(r"(?:\bdiam?(?:eter)?\.?|[Øø⌀])[ ]{0,2}(?:of |is )?LENGTH"), True),
    (_pattern(r"LENGTH[ ]?(?:dia(?:m(?:eter)?)?\b|[Øø⌀])"), True),
    (_pattern(r"\b(?:drill|bit|tool|cutter|mill)[ ](?:bit )?size:?[ ]?=?[ ]?LENGTH"), True),
    (_pattern(rf"LENGTH[ \-]?{_ADJECTIVE}{_NOUN}"), True),
    (
        _pattern(
            r"\b(?:end[\- ]?mill|drill|(?:ball|bull|round)(?:[\- ]?nosed?)?|bit|cutter|"
            r"(?:single|one|two|three|four|[1-4])[\- ]flute)[ :,\-]{1,3}(?>LENGTH)"
            r"(?![ ]?(?:deep|below|above|wide|long|high|left|offset|clearance|rad(?:ius)?)\b)"
        ),
        False,
    ),
)
#: Words that call something a bit, and those that only say which; a comment of nothing but these,
#: one size with its unit and what `_BESIDE_SIZE` finds is about a bit, in whatever order. `drill`
#: and `mill` are verbs as well, and floors are rough and finished.
_NAMES_A_BIT: Final = frozenset({
    "flat", "ball", "bull", "vee", "vbit", "bit", "bits", "cutter", "tool", "endmill",
    "routerbit", "ballnose", "bullnose",
})  # fmt: skip
_SAYS_WHICH: Final = frozenset({
    "nose", "nosed", "router", "v", "solid", "carbide", "hss", "cobalt", "coated", "spiral",
    "straight", "upcut", "downcut", "compression", "stub", "single", "double", "one", "two",
    "three", "four", "flute", "flutes", "fluted", "dia", "diam", "diameter", "tapered", "taper",
    "use", "with", "a", "the", "of", "no", "number",
})  # fmt: skip
_SAYS_WHICH_BIT: Final = frozenset({
    "rough", "roughing", "finish", "finishing", "slot", "face", "engraving", "chamfer", "centre",
    "center", "spot", "twist", "drill",
})  # fmt: skip
_SURELY_A_BIT: Final = frozenset({
    "bit", "bits", "cutter", "tool", "endmill", "nose", "vbit", "ballnose", "bullnose",
})  # fmt: skip
_SIZE_WITH_UNIT = re.compile(
    rf"(?<![0-9A-Za-z.,/])(?P<number>{_NUMBER})[ \-]?(?P<unit>{_UNIT})(?![A-Za-z\d])",
    re.IGNORECASE,
)
_SHORT_CORNER = re.compile(
    rf"\b(?:c?r|corner[ ]?rad(?:ius)?|radius)[ ]?[=:]?[ ]?(?P<number>{_NUMBER})(?![\d.,/])"
    rf"[ \-]?(?P<unit>{_UNIT})?(?![A-Za-z\d])",
    re.IGNORECASE,
)
_TWO_WORDS = re.compile(r"\b(up|down|end)[ \-](cut|mill)\b", re.IGNORECASE)
_BESIDE_SIZE = re.compile(
    r"\b[1-9][ \-]?(?:fl|flutes?)\b|\d{1,3}(?:\.\d{1,4})?[ \-]?(?:deg(?:rees?)?\b|°|º)|"
    r"\bT[ ]?#?\d{1,5}\b|\btool[ ]?#?\d{1,5}\b(?=[ ]?[:=,\-])",
    re.IGNORECASE,
)
_RECORD = re.compile(
    r"\b(?:TOOL/(?P<kind>[A-Z]{2,12}),|CUTTER/)[ ]?(?P<diameter>\d{1,4}\.?\d{0,8}|\.\d{1,8})"
    r"(?:,[ ]?(?P<radius>\d{1,4}\.?\d{0,8}|\.\d{1,8}))?",
    re.IGNORECASE,
)
_DRILL_LIST = re.compile(r"^T(?P<tool>\d{1,3})[ ]{0,4}[:=]?[ ]{0,4}(?P<number>\d?\.\d{2,8})$")
#: D and a number: a diameter, or the register of an offset, as the H beside it is one.
_D_WORD = re.compile(
    rf"\bd(?P<number>{_NUMBER})(?![\d./]|,\d)[ ]?(?P<unit>{_UNIT})?(?![A-Za-z\d])", re.IGNORECASE
)
_REGISTERS = re.compile(r"\bH[ ]?\d|\boffset|\bcomp(?:ensation)?\b|\bG4[0-3]", re.IGNORECASE)
_TIP_RADIUS = _pattern(r"\btip[ ]?(?:radius|rad|r)[ ]?[=:]?[ ]?(?:of )?LENGTH")
_CORNER = _pattern(r"\b(?:cr|corner[ ]?rad(?:ius)?)[ ]?[=: ][ ]?LENGTH")
_ANGLE = re.compile(
    r"(?<![\w.])(?P<number>\d{1,3}(?:\.\d{1,4})?)[ \-]?(?:deg(?:rees?)?\b|°|º)", re.IGNORECASE
)
_HALF = re.compile(r"\b(?:half|side|taper)\b|per side", re.IGNORECASE)
_TOOL = re.compile(
    r"(?:^|(?<=[\s(,;]))(?:T[ ]?#?|tool[ ]?(?:no\.?|number|num\.?|#)?[ ]?[:=#]?[ ]?)"
    r"(?P<tool>\d{1,5})(?![\w.\"/'”″]|[ ]?(?:mm|in(?:ch)?\b))",
    re.IGNORECASE,
)
_TOOL_WORD = re.compile(r"(?<![A-Z])T[ ]?(?P<tool>\d{1,5})(?!\d|\.[1-9])", re.IGNORECASE)
_PARAMETER = re.compile(
    r"#[\w<>]{1,40}[ ]{0,4}=[ ]{0,4}\[?[ ]?(?P<number>\d{1,4}\.?\d{0,8}|\.\d{1,8})\]?\s*$"
)
_ABOUT_DIAMETER = re.compile(
    r"\b(?:tool|bit|cutter|(?:end[ ]?)?mill)\b.{0,20}\b(?:dia(?:m(?:eter)?)?|radius)\b",
    re.IGNORECASE,
)

#: What a bit is called, first match wins.
_SHAPES: Final[tuple[tuple[re.Pattern[str], Shape], ...]] = tuple(
    (re.compile(words, re.IGNORECASE), shape)  # type: ignore[misc]
    for words, shape in (
        (r"\btaper(?:ed)?[ \-]ball|\bball[ \-]?nose(?:d)?[ ]taper", "taper-ball"),
        (r"\bbull(?:[ \-]?nosed?)?\b", "bull"),
        (r"\bball(?:[ \-]?(?:nosed?|end(?:ed)?|mill|cutter|endmill))?\b", "ball"),
        (r"\b(?:v|vee)[ \-]?(?:bit|cutter|tool|groove|carv)|\bvee\b|\bengrav(?:er|ing)[ \-]"
         r"(?:bit|tool|cutter)|\bchamfer[ \-](?:mill|tool|bit|cutter)|\bcountersink\b", "vee"),
        (r"\b(?:round[\- ]?over|rounding[\- ]?over|ogee)[ \-](?:bit|cutter)", "form"),
        (r"\bdrill\b(?![ ]?mill)|\bTOOL/DRILL\b", "drill"),
        (r"\b(?:flat|square)\b|\bend[ \-]?mill\b|\b(?:slot|face)[ \-]mill\b|\bstraight[ ](?:bit|"
         r"cutter)", "flat"),
    )
)  # fmt: skip
_SPEAKS_OF_A_BIT = re.compile(
    r"\b(?:tool|bit|cutter|t[ ]?\d|mill|end[ \-]?mill|drill|ball|bull|v[ \-]?bit|vee)",
    re.IGNORECASE,
)

_BY = r"[ ]?(?:x|×|\*|by)[ ]?"
_ONE_SIZE = rf"({_NUMBER})[ ]?({_UNIT})?"
_STOCK_WORD = r"\b(?:stock|blank|material|workpiece|block|board|billet)\b"
_STOCK = re.compile(
    rf"{_STOCK_WORD}[^\d.]{{0,30}}?(?<![\w.])"
    rf"(?:x[ ]?[=:]?[ ]?)?{_ONE_SIZE}(?:{_BY}|[ ,]{{1,3}}y[ ]?[=:]?[ ]?)"
    rf"{_ONE_SIZE}(?:{_BY}|[ ,]{{1,3}}z[ ]?[=:]?[ ]?){_ONE_SIZE}",
    re.IGNORECASE,
)
_THICKNESS = (
    _pattern(rf"{_STOCK_WORD}[ ](?:thickness|height)[ ]?[=:]?[ ]?(?:is )?LENGTH"),
    _pattern(rf"LENGTH[ ](?:thick[ ])?{_STOCK_WORD}(?=.{{0,10}}thick|)(?<=\w)"),
)

_UNITS_SAID: Final[tuple[tuple[re.Pattern[str], Units], ...]] = (
    (re.compile(r"\bunits?\b.{0,12}?\b(?:mm|millimet(?:er|re)s?|metric)\b|^metric$|"
                r"\b(?:dimensions|values|coordinates) (?:are )?in (?:mm|millimet)", re.IGNORECASE),
     "mm"),
    (re.compile(r"\bunits?\b.{0,12}?\b(?:in|inch(?:es)?|imperial)\b|^(?:inch|imperial)$|"
                r"\b(?:dimensions|values|coordinates) (?:are )?in inch", re.IGNORECASE), "in"),
)  # fmt: skip

_NAMED = re.compile(
    r"^(?:program(?:me)?(?:[ ]?name)?|part(?:[ ]?name)?|file(?:[ ]?name)?|job(?:[ ]?name)?|title)"
    r"[ ]?[:=\-]+[ ]?(?P<name>\S.*)$",
    re.IGNORECASE,
)
_LABEL = re.compile(r"^[ \t]*(?:O|:)[ \t]*(?P<number>\d{1,8})", re.IGNORECASE | re.MULTILINE)


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
    shape = next((shape for words, shape in _SHAPES if words.search(text)), None)
    diameter, radius, sure = _sizes(comment, reading)
    angle = _angle(text) if shape in ("vee", "drill") else None
    if shape == "flat" and radius:
        shape = "bull"
    tip = _TIP_RADIUS.search(text) if shape in ("ball", "taper-ball") else None
    if tip is not None and diameter is None:
        radius, sure = reading.length(tip["number"], tip["unit"])
    speaks = tool is not None or shape is not None or bool(_SPEAKS_OF_A_BIT.search(text))
    sized = diameter is not None or angle is not None or (tip is not None and radius is not None)
    sized = sized or shape == "form"  # nothing else is called that
    if not speaks or not (sized or (tool is not None and shape is not None)):
        return None
    certain = sure if diameter is not None or tip is not None else bool(angle) or shape == "form"
    return BitHint(comment.line, text, tool, shape, diameter, radius, angle, certain)


def _tool(comment: Comment) -> int | None:
    """Tool number named in a comment, or by a T word in front of it."""
    found = _TOOL.search(comment.text) or _DRILL_LIST.search(comment.text)
    found = found or _TOOL_WORD.search(comment.before.partition("(")[0])
    return int(found["tool"]) if found else None


def _sizes(comment: Comment, reading: _Reading) -> tuple[float | None, float | None, bool]:
    """Diameter and corner radius in mm, and whether the diameter is beyond doubt."""
    text = comment.text
    record = _RECORD.search(text)
    if record:
        diameter, sure = reading.length(record["diameter"], None)
        radius = reading.length(record["radius"], None)[0] if record["radius"] else None
        return _plausible(diameter), radius, sure
    plain = _plain_sizes(text, reading)
    if plain is not None:
        return *plain, True
    corner = _CORNER.search(text)
    radius = reading.length(corner["number"], corner["unit"])[0] if corner else None
    for words, means_diameter in _DIAMETERS:
        found = words.search(text)
        if not found or not _is_a_size(found["number"], found["unit"], means_diameter, words):
            continue
        diameter, sure = reading.length(found["number"], found["unit"])
        if _plausible(diameter) is not None:
            return diameter, radius, sure and means_diameter
    diameter, sure = _d_word(comment, reading)
    if diameter is not None:
        return diameter, radius, sure
    listed = _DRILL_LIST.search(text)
    if listed:
        return _plausible(reading.length(listed["number"], None)[0]), radius, False
    return _parameter(comment, reading), radius, False


def _d_word(comment: Comment, reading: _Reading) -> tuple[float | None, bool]:
    """Diameter after a D beside a word for a bit, in mm, and whether its unit is beyond doubt."""
    found = _D_WORD.search(comment.text)
    if not found or _REGISTERS.search(comment.text) or not _SPEAKS_OF_A_BIT.search(comment.text):
        return None, False
    if str(_tool(comment)) == found["number"].lstrip("0"):
        return None, False
    diameter, sure = reading.length(found["number"], found["unit"])
    return _plausible(diameter), sure


def _plain_sizes(text: str, reading: _Reading) -> tuple[float, float | None] | None:
    """Diameter and corner radius where a comment is nothing but words for a bit and its size."""
    corner = _SHORT_CORNER.search(text)
    rest = text if corner is None else text[: corner.start()] + " " + text[corner.end() :]
    sizes = list(_SIZE_WITH_UNIT.finditer(rest))
    if len(sizes) != 1:
        return None
    rest = rest[: sizes[0].start()] + " " + rest[sizes[0].end() :]
    rest = _TWO_WORDS.sub(r"\1\2", _BESIDE_SIZE.sub(" ", rest))
    words = {word.lower() for word in re.findall(r"\w+", rest)}
    surely = bool(words & _SURELY_A_BIT)
    known = _NAMES_A_BIT | _SAYS_WHICH | (_SAYS_WHICH_BIT if surely else frozenset())
    if not words & _NAMES_A_BIT or not words <= known:
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
    spelled_out = words in (_DIAMETERS[0][0], _DIAMETERS[1][0], _DIAMETERS[2][0], _DIAMETERS[3][0])
    return spelled_out or unit is not None or "/" in number or "." in number


def _parameter(comment: Comment, reading: _Reading) -> float | None:
    """Diameter given by a parameter that the comment explains."""
    explained = _ABOUT_DIAMETER.search(comment.text)
    setting = _PARAMETER.search(comment.before)
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
    found = _ANGLE.search(text)
    if not found or _HALF.search(text):
        return None
    degrees = float(found["number"])
    return math.radians(degrees) if 1.0 <= degrees < 180.0 else None


def _stock(comment: Comment, reading: _Reading) -> StockHint | None:
    """Return what a comment says of the blank, or None."""
    found = _STOCK.search(comment.text)
    if found:
        numbers, units = found.groups()[0::2], found.groups()[1::2]
        last = units[2] or units[1] or units[0]
        read = [reading.length(n, u or last) for n, u in zip(numbers, units, strict=True)]
        x, y, z = (length for length, _ in read)
        if x and y and z:
            sure = all(certain for _, certain in read)
            return StockHint(comment.line, comment.text, z, (x, y, z), sure)
    for words in _THICKNESS:
        thick = words.search(comment.text)
        if thick and (words is _THICKNESS[0] or "thick" in comment.text.lower()):
            length, sure = reading.length(thick["number"], thick["unit"])
            if length:
                return StockHint(comment.line, comment.text, length, None, sure)
    return None


def _find_unit(comments: list[Comment]) -> tuple[Units | None, int | None]:
    """Return the first unit named, with its line."""
    for comment in comments:
        for words, unit in _UNITS_SAID:
            if words.search(comment.text):
                return unit, comment.line
    return None, None


def _find_name(
    text: str, comments: list[Comment], taken: set[int | None]
) -> tuple[str | None, int | None]:
    """Return the name: said outright, beside the program number, or the first remark."""
    for comment in comments[:50]:
        said = _NAMED.search(comment.text)
        if said:
            return said["name"].strip(), comment.line
    label = _LABEL.search(text, 0, 4000)
    for comment in comments[:1]:
        labelled = label is not None and label[0].strip() in comment.before
        if labelled or (comment.line not in taken and comment.line <= 5 and comment.text):
            return comment.text, comment.line
    if label is not None:
        return label[0].strip(), text.count("\n", 0, label.start()) + 1
    return None, None
