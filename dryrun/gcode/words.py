"""The language as data: letters, codes, modal groups, and what each code needs.

The one source of truth for everything that can be said about a word without running it. Sections
are those of NISTIR 6556 (Kramer, Proctor, Messina, *The NIST RS274NGC Interpreter - Version 3*,
2000); "practice" marks widespread habit with no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

#: What each letter stands for (NISTIR 6556 Table 3; the last row is practice).
LETTERS: Final[dict[str, str]] = {
    "A": "rotary axis A", "B": "rotary axis B", "C": "rotary axis C",
    "D": "radius compensation slot", "F": "feed", "G": "general function",
    "H": "length offset slot", "I": "X offset of an arc centre", "J": "Y offset of an arc centre",
    "K": "Z offset of an arc centre", "L": "repeats", "M": "miscellaneous function",
    "N": "line number", "P": "dwell time or selector", "Q": "peck step", "R": "radius or level",
    "S": "spindle speed", "T": "tool", "X": "X axis", "Y": "Y axis", "Z": "Z axis",
    "E": "extruder or old work offset", "O": "program name", "U": "second X axis",
    "V": "second Y axis", "W": "second Z axis",
}  # fmt: skip

#: Letters the report allows (NISTIR 6556 E.3); N only at the start of a line.
REPORT_LETTERS: Final = frozenset("ABCDFGHIJKLMPQRSTXYZ")
ROTARY: Final = ("A", "B", "C")
LINEAR: Final = ("X", "Y", "Z")
SECOND_AXES: Final = ("U", "V", "W")

#: Modal groups (NISTIR 6556 Table 4), by name.
GROUP_TITLES: Final[dict[str, str]] = {
    "motion": "motion", "plane": "plane", "distance": "distance mode", "centre": "arc centre mode",
    "feed": "feed mode", "units": "units", "compensation": "radius compensation",
    "length": "tool length offset", "return": "return level of cycles",
    "system": "coordinate system", "path": "path control", "speed": "spindle speed mode",
    "once": "one-line codes", "stop": "stopping", "tool": "tool change", "spindle": "spindle",
    "coolant": "coolant", "overrides": "overrides", "call": "calls", "other": "other",
}  # fmt: skip

Effect = Literal["does", "inert", "blind", "elsewhere"]


@dataclass(frozen=True, slots=True)
class Code:
    """One G or M code.

    Attributes
    ----------
    key : int
        Ten times its number.
    name : str
        As people write it, e.g. "G38.2".
    title : str
    group : str
        Key of `GROUP_TITLES`; two codes of one group never share a line (3.3.5).
    axes : bool
        Whether it lays claim to the axis words of its line (3.4).
    needs : str
        Letters that must stand on the line.
    takes : str
        Letters it may use, beyond the axis words; any other is a stray word.
    capability : str
        What a controller must accept; "" for what every controller does.
    effect : str
        "does": carried out here. "inert": no effect on the path. "blind": changes the path in a
        way that is not worked out here. "elsewhere": a code of another kind of machine.
    source : str
        Section of NISTIR 6556, or "practice".
    """

    key: int
    name: str
    title: str
    group: str
    axes: bool = False
    needs: str = ""
    takes: str = ""
    capability: str = ""
    effect: Effect = "does"
    source: str = "practice"

    @property
    def letter(self) -> str:
        """G or M."""
        return self.name[0]


def _code(
    name: str, title: str, group: str, capability: str = "", source: str = "practice",
    *, axes: bool = False, needs: str = "", takes: str = "", effect: Effect = "does",
) -> Code:  # fmt: skip
    key = round(float(name[1:]) * 10)
    return Code(key, name, title, group, axes, needs, needs + takes, capability, effect, source)


_CENTRE = "IJKR"

_G: Final = (
    # motion, NISTIR 6556 3.5.1 - 3.5.3, 3.5.9, 3.5.15, 3.5.16
    _code("G0", "rapid move", "motion", "", "3.5.1", axes=True),
    _code("G1", "straight move at feed", "motion", "", "3.5.2", axes=True),
    _code("G2", "arc clockwise", "motion", "arcs", "3.5.3", axes=True, takes=_CENTRE),
    _code("G3", "arc counter-clockwise", "motion", "arcs", "3.5.3", axes=True, takes=_CENTRE),
    _code("G38.2", "probe toward the work", "motion", "probing", "3.5.9", axes=True),
    _code("G38.3", "probe toward, no fault", "motion", "probing-variants", axes=True),
    _code("G38.4", "probe away", "motion", "probing-variants", axes=True),
    _code("G38.5", "probe away, no fault", "motion", "probing-variants", axes=True),
    _code("G80", "no motion", "motion", "", "3.5.15"),
    _code("G81", "drill", "motion", "drill-cycles", "3.5.16.2", axes=True, takes="RL"),
    _code("G82", "drill with dwell", "motion", "drill-cycles", "3.5.16.3", axes=True, takes="RLP"),
    _code("G83", "peck drill", "motion", "drill-cycles", "3.5.16.4", axes=True, takes="RLQ"),
    _code("G84", "tap right-hand", "motion", "drill-cycles", "3.5.16.5", axes=True, takes="RL"),
    _code("G85", "bore, feed out", "motion", "drill-cycles", "3.5.16.6", axes=True, takes="RL"),
    _code("G86", "bore, stop, rapid out", "motion", "drill-cycles", "3.5.16.7", axes=True,
          takes="RLP"),
    _code("G87", "back bore", "motion", "drill-cycles", "3.5.16.8", axes=True, takes="RLIJK"),
    _code("G88", "bore, stop, out by hand", "motion", "drill-cycles", "3.5.16.9", axes=True,
          takes="RLP"),
    _code("G89", "bore, dwell, feed out", "motion", "drill-cycles", "3.5.16.10", axes=True,
          takes="RLP"),
    _code("G73", "peck drill, chip break", "motion", "chip-break-cycle", axes=True, takes="RLQP"),
    _code("G74", "tap left-hand", "motion", "more-cycles", axes=True, takes="RLPQ"),
    _code("G76", "fine bore", "motion", "more-cycles", axes=True, takes="RLPQIJ"),
    # planes, units, modes, 3.5.6 - 3.5.20
    _code("G17", "XY plane", "plane", "", "3.5.6"),
    _code("G18", "XZ plane", "plane", "other-planes", "3.5.6"),
    _code("G19", "YZ plane", "plane", "other-planes", "3.5.6"),
    _code("G20", "inch", "units", "", "3.5.7"),
    _code("G21", "millimetre", "units", "", "3.5.7"),
    _code("G70", "inch, older pair", "units", "older-units", takes=""),
    _code("G71", "millimetre, older pair", "units", "older-units", takes=""),
    _code("G90", "absolute distances", "distance", "", "3.5.17"),
    _code("G91", "incremental distances", "distance", "", "3.5.17"),
    _code("G90.1", "absolute arc centres", "centre", "centre-modes"),
    _code("G91.1", "incremental arc centres", "centre", "centre-modes"),
    _code("G93", "inverse time feed", "feed", "inverse-time", "3.5.19"),
    _code("G94", "feed per minute", "feed", "", "3.5.19"),
    _code("G95", "feed per revolution", "feed", "feed-per-revolution"),
    _code("G96", "constant surface speed", "speed", "surface-speed", takes="D", effect="blind"),
    _code("G97", "speed in rpm", "speed", "surface-speed", effect="inert"),
    _code("G40", "radius compensation off", "compensation", "", "3.5.10"),
    _code("G41", "radius compensation left", "compensation", "radius-compensation", "3.5.10",
          takes="D"),
    _code("G42", "radius compensation right", "compensation", "radius-compensation", "3.5.10",
          takes="D"),
    _code("G41.1", "radius compensation left, diameter given", "compensation",
          "direct-compensation", needs="D", takes="L"),
    _code("G42.1", "radius compensation right, diameter given", "compensation",
          "direct-compensation", needs="D", takes="L"),
    _code("G43", "tool length offset", "length", "length-offsets", "3.5.11", takes="H"),
    _code("G43.1", "tool length offset given on the line", "length", "direct-length-offset",
          axes=True),
    _code("G44", "negative tool length offset", "length", "negative-length-offset", takes="H"),
    _code("G49", "tool length offset off", "length", "", "3.5.11"),
    _code("G98", "cycles return to the old level", "return", "drill-cycles", "3.5.20"),
    _code("G99", "cycles return to R", "return", "drill-cycles", "3.5.20"),
    _code("G54", "coordinate system 1", "system", "", "3.5.13"),
    *(_code(f"G{53 + n}", f"coordinate system {n}", "system", "work-offsets", "3.5.13")
      for n in range(2, 7)),
    *(_code(f"G59.{n}", f"coordinate system {6 + n}", "system", "nine-work-offsets", "3.5.13")
      for n in range(1, 4)),
    _code("G54.1", "extra coordinate system", "system", "extra-work-offsets", needs="P"),
    _code("G61", "exact path", "path", "path-modes", "3.5.14"),
    _code("G61.1", "exact stop", "path", "path-modes", "3.5.14"),
    _code("G64", "continuous path", "path", "path-modes", "3.5.14", takes="PQ"),
    _code("G60", "one-way positioning", "other", "path-modes", effect="inert"),
    _code("G62", "corner override", "path", "path-modes", effect="inert"),
    _code("G63", "tapping mode", "path", "path-modes", effect="inert"),
    # one-line codes, 3.5.4, 3.5.5, 3.5.8, 3.5.12, 3.5.18
    _code("G4", "dwell", "once", "", "3.5.4", takes="P"),
    _code("G10", "set offsets", "once", "set-offsets", "3.5.5", axes=True, takes="LPR"),
    _code("G28", "go home", "once", "home-moves", "3.5.8", axes=True),
    _code("G30", "go to second home", "once", "home-moves", "3.5.8", axes=True, takes="P"),
    _code("G28.1", "store home here", "once", "store-home", axes=True),
    _code("G30.1", "store second home here", "once", "store-home", axes=True),
    _code("G52", "local offset", "once", "local-offset", axes=True),
    _code("G53", "machine coordinates, this line only", "once", "machine-moves", "3.5.12"),
    _code("G92", "axis offsets", "once", "axis-offsets", "3.5.18", axes=True),
    _code("G92.1", "axis offsets off and forgotten", "once", "axis-offsets", "3.5.18"),
    _code("G92.2", "axis offsets off", "once", "axis-offsets", "3.5.18"),
    _code("G92.3", "axis offsets restored", "once", "axis-offsets", "3.5.18"),
    _code("G9", "exact stop, this line only", "other", "exact-stop-line"),
    _code("G31", "move until the probe trips", "once", "probing-variants", axes=True, takes="P"),
    _code("G65", "call with arguments", "once", "macro-calls", takes="ABCDEFHIJKLMPQRSTUVWXYZ"),
    # no effect on the path of three axes
    _code("G8", "acceleration mode", "other", "more-modes", takes="P", effect="inert"),
    _code("G15", "polar coordinates off", "other", "more-modes", effect="inert"),
    _code("G50", "scaling off", "other", "more-modes", effect="inert"),
    _code("G50.1", "mirror off", "other", "more-modes", takes="", effect="inert"),
    _code("G69", "rotation off", "other", "more-modes", effect="inert"),
    _code("G67", "modal call off", "other", "more-modes", effect="inert"),
    _code("G100", "mirror off", "other", "more-modes", effect="inert"),
    _code("G187", "smoothness", "other", "more-modes", takes="PE", effect="inert"),
    _code("G103", "look-ahead limit", "other", "more-modes", takes="P", effect="inert"),
    # changes the path in a way that is not worked out here
    _code("G5", "spline", "motion", "splines", axes=True, takes="IJPQKR", effect="blind"),
    _code("G5.1", "quadratic spline or smoothing", "motion", "splines", axes=True, takes="IJPQKR",
          effect="blind"),
    _code("G5.2", "spline block", "motion", "splines", axes=True, takes="PLIJKR", effect="blind"),
    _code("G5.3", "end of spline block", "motion", "splines", effect="blind"),
    _code("G6", "parabola", "motion", "splines", axes=True, takes="IJPQKR", effect="blind"),
    _code("G6.2", "spline", "motion", "splines", axes=True, takes="PKRIJQ", effect="blind"),
    _code("G12", "circular pocket clockwise", "once", "pocket-cycles", axes=True,
          takes="IKQLDFP", effect="blind"),
    _code("G13", "circular pocket counter-clockwise", "once", "pocket-cycles", axes=True,
          takes="IKQLDFP", effect="blind"),
    _code("G72", "holes along an angle or on a bolt circle", "once", "pattern-cycles", axes=True,
          takes="IJLPQRDK", effect="blind"),
    _code("G16", "polar coordinates", "other", "transforms", axes=False, takes="", effect="blind"),
    _code("G33", "thread", "motion", "threads", axes=True, takes="KQPI", effect="blind"),
    _code("G33.1", "rigid tap", "motion", "threads", axes=True, takes="KQPI", effect="blind"),
    _code("G34", "thread", "motion", "threads", axes=True, takes="KQPI", effect="blind"),
    _code("G35", "thread", "motion", "threads", axes=True, takes="KQPI", effect="blind"),
    _code("G41.2", "compensation in another form", "compensation", "compensation-variants",
          takes="DIJKPQR", effect="blind"),
    _code("G42.2", "compensation in another form", "compensation", "compensation-variants",
          takes="DIJKPQR", effect="blind"),
    _code("G51", "scaling", "other", "transforms", axes=True, takes="PIJK", effect="blind"),
    _code("G51.1", "mirror", "other", "transforms", axes=True, effect="blind"),
    _code("G66", "modal call", "other", "modal-calls", takes="ABCDEFHIJKLMPQRSTUVWXYZ",
          effect="blind"),
    _code("G68", "rotation", "other", "transforms", axes=True, takes="RIJK", effect="blind"),
    _code("G101", "mirror", "other", "transforms", axes=True, effect="blind"),
    _code("G150", "pocket", "once", "pocket-cycles", axes=True, takes="PRFIJKQDSL",
          effect="blind"),
)  # fmt: skip

_M: Final = (
    _code("M0", "stop", "stop", "", "3.6.1"),
    _code("M1", "optional stop", "stop", "", "3.6.1"),
    _code("M2", "end", "stop", "", "3.6.1"),
    _code("M30", "end", "stop", "", "3.6.1"),
    _code("M60", "pallet exchange and stop", "stop", "pallets", "3.6.1"),
    _code("M3", "spindle clockwise", "spindle", "", "3.6.2"),
    _code("M4", "spindle counter-clockwise", "spindle", "spindle-reverse", "3.6.2"),
    _code("M5", "spindle stop", "spindle", "", "3.6.2"),
    _code("M6", "tool change", "tool", "tool-change", "3.6.3"),
    _code("M7", "mist", "coolant", "coolant", "3.6.4"),
    _code("M8", "flood", "coolant", "coolant", "3.6.4"),
    _code("M9", "coolant off", "coolant", "", "3.6.4"),
    _code("M48", "overrides on", "overrides", "overrides", "3.6.5"),
    _code("M49", "overrides off", "overrides", "overrides", "3.6.5"),
    _code("M10", "clamp", "other", "clamp-codes", effect="inert"),
    _code("M11", "unclamp", "other", "clamp-codes", effect="inert"),
    _code("M13", "spindle clockwise and coolant", "spindle", "spindle-and-coolant"),
    _code("M14", "spindle counter-clockwise and coolant", "spindle", "spindle-and-coolant"),
    _code("M17", "return", "call", "letter-subprograms"),
    _code("M19", "spindle stop, oriented", "spindle", "oriented-stop", takes="RPS"),
    _code("M31", "chip conveyor", "other", "chip-conveyor", effect="inert"),
    _code("M33", "chip conveyor off", "other", "chip-conveyor", effect="inert"),
    _code("M97", "call by line number", "call", "local-subprograms", needs="P", takes="L"),
    _code("M98", "call", "call", "subprograms", takes="PLHQ"),
    _code("M99", "return", "call", "subprograms", takes="P"),
    _code("M104", "heater", "other", "heaters", effect="elsewhere", takes="ST"),
    _code("M109", "heater, and wait", "other", "heaters", effect="elsewhere", takes="STR"),
    _code("M140", "heated bed", "other", "heaters", effect="elsewhere", takes="ST"),
    _code("M190", "heated bed, and wait", "other", "heaters", effect="elsewhere", takes="STR"),
    _code("M82", "absolute extrusion", "other", "heaters", effect="elsewhere"),
    _code("M83", "relative extrusion", "other", "heaters", effect="elsewhere"),
    _code("M106", "fan or beam on", "other", "beams", effect="elsewhere", takes="SP"),
    _code("M107", "fan or beam off", "other", "beams", effect="elsewhere"),
)

#: Every known code: ten times its number -> Code.
G_CODES: Final[dict[int, Code]] = {code.key: code for code in _G}
M_CODES: Final[dict[int, Code]] = {code.key: code for code in _M}

#: Codes whose axis words stand in the way of modal motion (NISTIR 6556 3.4), as keys.
AXIS_USERS_ONCE: Final = frozenset(c.key for c in _G if c.group == "once" and c.axes)

#: Drilling and boring cycles, as keys.
CYCLES: Final = frozenset({730, 740, 760, *range(810, 900, 10)})
PROBES: Final = frozenset({382, 383, 384, 385})

#: Order of execution on one line (NISTIR 6556 3.8, Table 8), for people.
EXECUTION_ORDER: Final = (
    "comment", "feed mode", "F", "S", "T", "M6", "spindle", "coolant", "overrides", "dwell",
    "plane", "units", "radius compensation", "length offset", "coordinate system", "path control",
    "distance mode", "return level", "home or offsets", "motion", "stop",
)  # fmt: skip
