"""What a given controller accepts, as data.

A `Controller` is described by what it takes, never by a name from a shop. `REPORT` is NISTIR 6556
to the letter; `PERMISSIVE` takes everything the reader knows and says what it assumed. A job lists
capabilities by name (`accepts = [...]`); `from_accepts` turns the list into a `Controller`.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, Final, Literal, NamedTuple

from dryrun.gcode.state import INCH

#: Name -> what it means, for `accepts = [...]` and for people.
CAPABILITIES: Final[dict[str, str]] = {
    "arcs": "G2 G3",
    "radius-arcs": "arcs given by R",
    "helical-arcs": "arcs that also move along the axis of the plane",
    "many-turns": "arcs of several turns by P",
    "other-planes": "G18 G19",
    "centre-modes": "G90.1 G91.1",
    "splines": "G5 and its kin",
    "probing": "G38.2",
    "probing-variants": "G31, G38.3 to G38.5",
    "drill-cycles": "G81 to G89, G98 G99",
    "chip-break-cycle": "G73",
    "more-cycles": "G74 G76",
    "pocket-cycles": "G12 G13 G150",
    "pattern-cycles": "hole patterns",
    "threads": "G33 and its kin",
    "transforms": "scaling, rotation, mirror, polar coordinates",
    "modal-calls": "G66",
    "older-units": "G70 G71 for inch and mm",
    "inverse-time": "G93",
    "feed-per-revolution": "G95",
    "surface-speed": "G96 G97",
    "radius-compensation": "G41 G42",
    "direct-compensation": "G41.1 G42.1",
    "compensation-variants": "other forms of radius compensation",
    "length-offsets": "G43 H",
    "direct-length-offset": "G43.1",
    "negative-length-offset": "G44",
    "work-offsets": "G55 to G59",
    "nine-work-offsets": "G59.1 G59.2 G59.3",
    "extra-work-offsets": "G54.1 P",
    "set-offsets": "G10 L2",
    "set-offsets-here": "G10 L20",
    "set-tools": "G10 L1 L10 L11 L12",
    "axis-offsets": "G92 and its kin",
    "local-offset": "G52",
    "machine-moves": "G53",
    "home-moves": "G28 G30",
    "store-home": "G28.1 G30.1",
    "path-modes": "G61 G61.1 G64",
    "path-tolerance": "G64 P",
    "dwell-by-other-words": "G4 with X, U, S or F for P",
    "exact-stop-line": "G9",
    "more-modes": "codes that switch off what was never on, or tune the motion",
    "tool-change": "M6",
    "spindle-reverse": "M4",
    "spindle-and-coolant": "M13 M14",
    "oriented-stop": "M19",
    "coolant": "M7 M8",
    "overrides": "M48 M49",
    "pallets": "M60",
    "clamp-codes": "M10 M11",
    "chip-conveyor": "M31 M33",
    "unknown-m-codes": "M codes not known here are passed over",
    "rotary-axes": "A B C words",
    "parameters": "# parameters",
    "named-parameters": "#<name>",
    "expressions": "[ ] expressions and functions",
    "signed-values": "a sign before [ # or a function",
    "comparisons": "EQ NE GT GE LT LE",
    "jumps": "IF [ ] GOTO, IF [ ] THEN, GOTO",
    "loops": "WHILE [ ] DO1 ... END1",
    "labelled-flow": "O-word sub, if, while, repeat and their kin",
    "subprograms": "M98 M99",
    "local-subprograms": "M97",
    "letter-subprograms": "L words as calls, M17",
    "macro-calls": "G65",
    "block-delete": "/ at the start of a line",
    "semicolon-comments": "; to the end of the line",
    "slash-comments": "// to the end of the line",
    "loose-comments": "nested or unclosed parentheses",
    "program-names": "O and : names",
    "loose-percent": "% lines anywhere",
    "checksums": "*nn at the end of a line",
    "long-lines": "lines over 256 characters",
    "long-line-numbers": "line numbers over five digits, or not first",
    "many-m-codes": "more than four M codes on a line",
    "control-characters": "byte marks and control characters are passed over",
    "bare-arcs": "an arc without end words as a full turn",
    "stray-words": "words no code on the line uses are passed over",
    "heaters": "heater codes",
    "beams": "beam or fan codes",
}

#: The language of NISTIR 6556.
REPORT_ACCEPTS: Final = frozenset({
    "arcs", "radius-arcs", "helical-arcs", "other-planes", "probing", "drill-cycles",
    "inverse-time", "radius-compensation", "length-offsets", "work-offsets", "nine-work-offsets",
    "set-offsets", "axis-offsets", "machine-moves", "home-moves", "path-modes", "tool-change",
    "spindle-reverse", "coolant", "overrides", "pallets", "parameters", "expressions",
    "block-delete", "rotary-axes",
})  # fmt: skip

#: What every controller takes in one way or another; never asked for in `accepts`.
TOLERANT: Final = frozenset({
    "block-delete", "semicolon-comments", "loose-comments", "program-names", "loose-percent",
    "control-characters", "stray-words", "many-m-codes", "long-lines", "long-line-numbers",
    "unknown-m-codes", "slash-comments", "older-units", "more-modes", "signed-values", "bare-arcs",
})  # fmt: skip


class Tool(NamedTuple):
    """One slot of the tool table: length offset and diameter, mm; None not declared."""

    length: float | None = None
    diameter: float | None = None


@dataclass(frozen=True, slots=True)
class Controller:
    """What a controller accepts and how it reads what more than one way is in use for.

    Attributes
    ----------
    name : str
    accepts : frozenset of str
        Keys of `CAPABILITIES`.
    to_the_letter : bool
        Take nothing the report does not have, and make every one of its error rules an error.
    default_unit : "mm", "in" or None
        What a program without a units code is read in; None leaves it to the caller.
    line_length : int or None
        Most characters on a line.
    line_number_digits, m_words, tool_slots : int or None
        Limits; None no limit.
    dwell_unit : "s" or "ms"
        What P of G4 and of the cycles counts.
    home_axes : "named" or "all"
        Which axes G28 and G30 send home when some are named.
    centre_mode : "incremental" or "absolute"
        Arc centre words at the start of a program.
    arc_tolerance : float
        Allowed difference of an arc's radii at start and end, mm.
    arc_tolerance_inch : float
        The same while inches are active, mm.
    arc_tolerance_share : float
        The same as a share of the radius; the larger counts.
    start_motion : 0, 1 or None
        Motion code in force at the start; None: axis words alone are a fault.
    decimal_point : "free", "increments" or "required"
        What a distance or feed without a point means: as it stands; in units of `increment`; or a
        fault.
    increment : float
        Least input step in mm for "increments".
    concave : "refuse" or "trim"
        What radius compensation does at an inside corner.
    peck_return : "clear" or "R"
        Where G83 goes between pecks: out to the clear level, or to R.
    peck_back_off : float
        How far short of the last depth a peck returns at rapid, mm.
    chip_break : float
        How far G73 backs off, mm.
    tool_by_t : bool
        T changes the tool at once (machines without M6).
    parameters_as_written : bool
        Offsets in parameters are bare numbers, read in the unit active when used.
    nesting_limit : int
        Deepest nesting of calls.
    max_blocks, max_idle_blocks, max_repeated_rows : int
        When a program that repeats itself is called endless: blocks run, blocks run without a new
        row of motion, and rows made while repeating, 30 more for each line of the program.
    """

    name: str = "permissive"
    accepts: frozenset[str] = frozenset(CAPABILITIES)
    to_the_letter: bool = False
    default_unit: Literal["mm", "in"] | None = None
    line_length: int | None = None
    line_number_digits: int | None = None
    m_words: int | None = None
    tool_slots: int | None = None
    dwell_unit: Literal["s", "ms"] = "s"
    home_axes: Literal["named", "all"] = "named"
    centre_mode: Literal["incremental", "absolute"] = "incremental"
    arc_tolerance: float = 0.01
    arc_tolerance_inch: float = 0.0005 * INCH
    arc_tolerance_share: float = 0.001
    start_motion: int | None = None
    decimal_point: Literal["free", "increments", "required"] = "free"
    increment: float = 0.001
    concave: Literal["refuse", "trim"] = "trim"
    peck_return: Literal["clear", "R"] = "R"
    peck_back_off: float = 0.254
    chip_break: float = 0.254
    tool_by_t: bool = False
    parameters_as_written: bool = False
    nesting_limit: int = 20
    max_blocks: int = 10_000_000
    max_idle_blocks: int = 100_000
    max_repeated_rows: int = 30_000

    def takes(self, capability: str) -> bool:
        """Whether the controller accepts the capability ("" always)."""
        return not capability or capability in self.accepts


#: NISTIR 6556 to the letter. Arc tolerance: 3.5.3.2; line length 3.3; digits 3.3.1; four M words
#: 3.3.5; 68 tool slots B.5.4; back-off of G83 0.010 in from memory of the report's interpreter.
REPORT: Final = Controller(
    name="rs274",
    accepts=REPORT_ACCEPTS,
    to_the_letter=True,
    default_unit="mm",
    line_length=256,
    line_number_digits=5,
    m_words=4,
    tool_slots=68,
    home_axes="all",
    arc_tolerance=0.002,
    arc_tolerance_inch=0.0002 * INCH,
    arc_tolerance_share=0.0,
    concave="refuse",
    peck_return="clear",
    parameters_as_written=True,
)

#: Everything the reader knows, with the commonest reading where more than one is in use.
PERMISSIVE: Final = Controller()

NAMED: Final[dict[str, Controller]] = {"rs274": REPORT, "permissive": PERMISSIVE}

#: Names in `accepts` that choose between readings rather than add one.
SETTINGS: Final[dict[str, dict[str, Any]]] = {
    "dwell-in-milliseconds": {"dwell_unit": "ms"},
    "dwell-in-seconds": {"dwell_unit": "s"},
    "all-axes-go-home": {"home_axes": "all"},
    "named-axes-go-home": {"home_axes": "named"},
    "absolute-centres": {"centre_mode": "absolute"},
    "inch-by-default": {"default_unit": "in"},
    "mm-by-default": {"default_unit": "mm"},
    "starts-in-rapid": {"start_motion": 0},
    "starts-in-feed": {"start_motion": 1},
    "numbers-without-point-in-increments": {"decimal_point": "increments"},
    "decimal-point-required": {"decimal_point": "required"},
    "inside-corners-refused": {"concave": "refuse"},
    "inside-corners-trimmed": {"concave": "trim"},
    "pecks-to-clear-level": {"peck_return": "clear"},
    "pecks-to-r-level": {"peck_return": "R"},
    "tool-by-t-word": {"tool_by_t": True},
    "report-arc-tolerance": {
        "arc_tolerance": 0.002, "arc_tolerance_inch": 0.0002 * INCH, "arc_tolerance_share": 0.0,
    },
}  # fmt: skip


def known_names() -> tuple[str, ...]:
    """Names that may stand in `accepts = [...]`, sorted."""
    return tuple(sorted({*CAPABILITIES, *SETTINGS, *NAMED}))


def from_accepts(names: Iterable[str], *, name: str = "declared") -> Controller:
    """Make a controller from a job's list of capabilities.

    "rs274" stands for the language of NISTIR 6556, "permissive" for everything; other names add
    a capability or choose a reading. A list that only chooses readings, without a single
    capability, leaves everything accepted. What every controller takes (comments, program names,
    stray characters) need not be named.

    Raises
    ------
    ValueError
        For a name that is not known, with the list of those that are.
    """
    wanted = list(names)
    for one in wanted:
        if one not in CAPABILITIES and one not in SETTINGS and one not in NAMED:
            near = difflib.get_close_matches(one, known_names(), 1)
            hint = f"; did you mean {near[0]!r}?" if near else ""
            listed = ", ".join(known_names())
            raise ValueError(f"{one!r} is no capability of a controller{hint} known: {listed}")
    if wanted == ["rs274"]:
        return REPORT
    accepts: set[str] = set(TOLERANT)
    named = [one for one in wanted if one in CAPABILITIES]
    if "permissive" in wanted or not ({*wanted} & {*CAPABILITIES, "rs274"}):
        accepts |= set(CAPABILITIES)
    if "rs274" in wanted:
        accepts |= REPORT_ACCEPTS
    accepts |= set(named)
    changes: dict[str, Any] = {}
    for one in wanted:
        changes |= SETTINGS.get(one, {})
    return replace(PERMISSIVE, name=name, accepts=frozenset(accepts), **changes)


def find_controller(controller: Controller | str | None) -> Controller:
    """Return the controller meant: itself, by name, or the permissive default for None.

    Raises
    ------
    ValueError
        For a name that is not known.
    """
    if controller is None:
        return PERMISSIVE
    if isinstance(controller, Controller):
        return controller
    if controller not in NAMED:
        raise ValueError(f"no controller {controller!r}; known: {', '.join(NAMED)}")
    return NAMED[controller]
