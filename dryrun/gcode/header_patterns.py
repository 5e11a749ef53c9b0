"""The words by which comments speak of bits, blanks, units and names, as patterns.

Every repetition below is bounded or cannot match in two ways, and comments are cut short, so that
no text makes a search slow.
"""

from __future__ import annotations

import re
from typing import Final, Literal

from dryrun.units import Units

Shape = Literal["flat", "ball", "bull", "vee", "taper-ball", "taper-flat", "drill", "form"]

CLOSING = re.compile(r"[)\r\n]")
LINE_END = re.compile(r"[\r\n]")

NUMBER = r"(?:\d{1,2}[ \-])?\d{1,3}/\d{1,3}|\d{1,5}\.\d{0,8}|\.\d{1,8}|\d{1,3},\d{1,4}|\d{1,5}"
UNIT = r"mm|millimet(?:er|re)s?|inch(?:es)?|in(?![a-z])|\"|''|”|″"
LENGTH = rf"(?<![0-9A-Za-z.,/])(?P<number>{NUMBER})(?![\d.,/])[ \-]?(?P<unit>{UNIT})?"


def _pattern(text: str) -> re.Pattern[str]:
    return re.compile(text.replace("LENGTH", LENGTH), re.IGNORECASE)


ADJECTIVE = (
    r"(?:(?:flat|square|straight|ball|bull|nose|nosed|solid|carbide|hss|cobalt|coated|spiral|"
    r"up[\- ]?cut|down[\- ]?cut|compression|long|short|stub|rough|roughing|finish|finishing|centre|"
    r"center|spot|twist|tapered|single|double|two|three|four|\d[\- ]?fl|\d[\- ]?flutes?|flutes?|"
    r"fluted|dia|diam|diameter|v|vee|engraving|chamfer|router|face|slot|jobber)\.?[ \-]){0,5}"
)
NOUN = (
    r"(?:end[\- ]?mills?|mill(?:ing)?(?:[\- ]?(?:cutter|bit|tool))?|ball(?:[\- ]?nose)?|bull"
    r"(?:[\- ]?nose)?|drill(?:[\- ]?bit)?|bit|cutter|router(?:[\- ]?bit)?|v[\- ]?bit|endmill|"
    r"engraver|reamer|tool|carbide)\b(?![ ](?:offset|length|change|clearance|compensation|path|"
    r"height|holder|shank|pockets?|seats?|sockets?|bearings?)\b)"
)

#: Ways to say a diameter, surest first; True where the words mean nothing else.
DIAMETERS: Final = (
    (_pattern(r"(?:\bd|\bdia(?:m(?:eter)?)?\.?|[Øø⌀])[ ]?[=:][ ]?LENGTH"), True),
    (_pattern(r"(?:\bdiam?(?:eter)?\.?|[Øø⌀])[ ]{0,2}(?:of |is )?LENGTH"), True),
    (_pattern(r"LENGTH[ ]?(?:dia(?:m(?:eter)?)?\b|[Øø⌀])"), True),
    (_pattern(r"\b(?:drill|bit|tool|cutter|mill)[ ](?:bit )?size:?[ ]?=?[ ]?LENGTH"), True),
    (_pattern(rf"LENGTH[ \-]?{ADJECTIVE}{NOUN}"), True),
    (
        _pattern(
            r"LENGTH[ \-](?:single|one|two|three|four|double|[1-4])[ \-]flutes?\b"
            r"(?![ ]?(?:length|long|deep))"
        ),
        True,
    ),
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
#: one size with its unit and what `BESIDE_SIZE` finds is about a bit, in whatever order. `drill`
#: and `mill` are verbs as well, and floors are rough and finished.
NAMES_A_BIT: Final = frozenset({
    "flat", "ball", "bull", "vee", "vbit", "bit", "bits", "cutter", "tool", "endmill",
    "routerbit", "ballnose", "bullnose",
})  # fmt: skip
SAYS_WHICH: Final = frozenset({
    "nose", "nosed", "router", "v", "solid", "carbide", "hss", "cobalt", "coated", "spiral",
    "straight", "upcut", "downcut", "compression", "stub", "single", "double", "one", "two",
    "three", "four", "flute", "flutes", "fluted", "dia", "diam", "diameter", "tapered", "taper",
    "use", "with", "a", "the", "of", "no", "number",
})  # fmt: skip
SAYS_WHICH_BIT: Final = frozenset({
    "rough", "roughing", "finish", "finishing", "slot", "face", "engraving", "chamfer", "centre",
    "center", "spot", "twist", "drill",
})  # fmt: skip
SURELY_A_BIT: Final = frozenset({
    "bit", "bits", "cutter", "tool", "endmill", "nose", "vbit", "ballnose", "bullnose",
})  # fmt: skip
SIZE_WITH_UNIT = re.compile(
    rf"(?<![0-9A-Za-z.,/])(?P<number>{NUMBER})[ \-]?(?P<unit>{UNIT})(?![A-Za-z\d])",
    re.IGNORECASE,
)
SHORT_CORNER = re.compile(
    rf"\b(?:c?r|corner[ ]?rad(?:ius)?|radius)[ ]?[=:]?[ ]?(?P<number>{NUMBER})(?![\d.,/])"
    rf"[ \-]?(?P<unit>{UNIT})?(?![A-Za-z\d])",
    re.IGNORECASE,
)
#: Between what is cut and the bit it is cut with; a comma between digits is a decimal one.
BETWEEN_CLAUSES = re.compile(r",[ ]+|;[ ]*|:[ ]+|[ ]+[-–—/|][ ]+")
TWO_WORDS = re.compile(r"\b(up|down|end)[ \-](cut|mill)\b", re.IGNORECASE)
BESIDE_SIZE = re.compile(
    r"\b[1-9][ \-]?(?:fl|flutes?)\b|\d{1,3}(?:\.\d{1,4})?[ \-]?(?:deg(?:rees?)?\b|°|º)|"
    r"\bT[ ]?#?\d{1,5}\b|\btool[ ]?#?\d{1,5}\b(?=[ ]?[:=,\-])",
    re.IGNORECASE,
)
RECORD = re.compile(
    r"\b(?:TOOL/(?P<kind>[A-Z]{2,12}),|CUTTER/)[ ]?(?P<diameter>\d{1,4}\.?\d{0,8}|\.\d{1,8})"
    r"(?:,[ ]?(?P<radius>\d{1,4}\.?\d{0,8}|\.\d{1,8}))?",
    re.IGNORECASE,
)
DRILL_LIST = re.compile(r"^T(?P<tool>\d{1,3})[ ]{0,4}[:=]?[ ]{0,4}(?P<number>\d?\.\d{2,8})$")
#: D and a number: a diameter, or the register of an offset, as the H beside it is one.
D_WORD = re.compile(
    rf"\bd(?P<number>{NUMBER})(?![\d./]|,\d)[ ]?(?P<unit>{UNIT})?(?![A-Za-z\d])", re.IGNORECASE
)
REGISTERS = re.compile(r"\bH[ ]?\d|\boffset|\bcomp(?:ensation)?\b|\bG4[0-3]", re.IGNORECASE)
TIP_RADIUS = _pattern(r"\btip[ ]?(?:radius|rad|r)[ ]?[=:]?[ ]?(?:of )?LENGTH")
CORNER = _pattern(r"\b(?:cr|corner[ ]?rad(?:ius)?)[ ]?[=: ][ ]?LENGTH")
ANGLE = re.compile(
    r"(?<![\w.])(?P<number>\d{1,3}(?:\.\d{1,4})?)[ \-]?(?:deg(?:rees?)?\b|°|º)", re.IGNORECASE
)
HALF = re.compile(r"\b(?:half|side|taper)\b|per side", re.IGNORECASE)
TOOL = re.compile(
    r"(?:^|(?<=[\s(,;]))(?:T[ ]?#?|tool[ ]?(?:no\.?|number|num\.?|#)?[ ]?[:=#]?[ ]?)"
    r"(?P<tool>\d{1,5})(?![\w.\"/'”″]|[ ]?(?:mm|in(?:ch)?\b))",
    re.IGNORECASE,
)
TOOL_WORD = re.compile(r"(?<![A-Z])T[ ]?(?P<tool>\d{1,5})(?!\d|\.[1-9])", re.IGNORECASE)
PARAMETER = re.compile(
    r"#[\w<>]{1,40}[ ]{0,4}=[ ]{0,4}\[?[ ]?(?P<number>\d{1,4}\.?\d{0,8}|\.\d{1,8})\]?\s*$"
)
ABOUT_DIAMETER = re.compile(
    r"\b(?:tool|bit|cutter|(?:end[ ]?)?mill)\b.{0,20}\b(?:dia(?:m(?:eter)?)?|radius)\b",
    re.IGNORECASE,
)

#: What a bit is called, first match wins.
SHAPES: Final[tuple[tuple[re.Pattern[str], Shape], ...]] = tuple(
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
SPEAKS_OF_A_BIT = re.compile(
    r"\b(?:tool|bit|cutter|t[ ]?\d|mill|end[ \-]?mill|drill|ball|bull|v[ \-]?bit|vee|"
    r"(?:single|one|two|three|four|double|[1-4])[ \-]flutes?\b)",
    re.IGNORECASE,
)

BY = r"[ ]?(?:x|×|\*|by)[ ]?"
ONE_SIZE = rf"({NUMBER})[ ]?({UNIT})?"
STOCK_WORD = r"\b(?:stock|blank|material|workpiece|block|board|billet)\b"
STOCK = re.compile(
    rf"{STOCK_WORD}[^\d.]{{0,30}}?(?<![\w.])"
    rf"(?:x[ ]?[=:]?[ ]?)?{ONE_SIZE}(?:{BY}|[ ,]{{1,3}}y[ ]?[=:]?[ ]?)"
    rf"{ONE_SIZE}(?:{BY}|[ ,]{{1,3}}z[ ]?[=:]?[ ]?){ONE_SIZE}",
    re.IGNORECASE,
)
THICKNESS = (
    _pattern(rf"{STOCK_WORD}[ ](?:thickness|height)[ ]?[=:]?[ ]?(?:is )?LENGTH"),
    _pattern(rf"LENGTH[ ](?:thick[ ])?{STOCK_WORD}(?=.{{0,10}}thick|)(?<=\w)"),
)

UNITS_SAID: Final[tuple[tuple[re.Pattern[str], Units], ...]] = (
    (re.compile(r"\bunits?\b.{0,12}?\b(?:mm|millimet(?:er|re)s?|metric)\b|^metric$|"
                r"\b(?:dimensions|values|coordinates) (?:are )?in (?:mm|millimet)", re.IGNORECASE),
     "mm"),
    (re.compile(r"\bunits?\b.{0,12}?\b(?:in|inch(?:es)?|imperial)\b|^(?:inch|imperial)$|"
                r"\b(?:dimensions|values|coordinates) (?:are )?in inch", re.IGNORECASE), "in"),
)  # fmt: skip

NAMED = re.compile(
    r"^(?:program(?:me)?(?:[ ]?name)?|part(?:[ ]?name)?|file(?:[ ]?name)?|job(?:[ ]?name)?|title)"
    r"[ ]?[:=\-]+[ ]?(?P<name>\S.*)$",
    re.IGNORECASE,
)
LABEL = re.compile(r"^[ \t]*(?:O|:)[ \t]*(?P<number>\d{1,8})", re.IGNORECASE | re.MULTILINE)
