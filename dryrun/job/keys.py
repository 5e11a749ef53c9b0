"""The keys of the job, machine and bits files: one table that reading and the schema share.

Ranges are in inside units (mm, mm/min, rad, s, rpm, W). They are wide on purpose: they catch slips
of the pen and mistaken units, not taste.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from dryrun.job.model import SHAPES
from dryrun.units import Kind

LONGEST_TEXT: Final = 200


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with a unit; `above` makes the low end exclusive; `words` are allowed instead."""

    kind: Kind
    low: float
    high: float
    above: bool = False
    words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Integer:
    """A whole number."""

    low: int
    high: int


@dataclass(frozen=True, slots=True)
class Number:
    """A plain number without a unit."""

    low: float
    high: float
    above: bool = False


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; `choices` when only some words are allowed."""

    choices: tuple[str, ...] = ()
    pattern: str | None = None
    pattern_says: str = ""


@dataclass(frozen=True, slots=True)
class Flag:
    """True or false."""


@dataclass(frozen=True, slots=True)
class Several:
    """An array with `least` to `most` items."""

    item: Value
    least: int
    most: int


@dataclass(frozen=True, slots=True)
class Either:
    """One of several ways to write a value, told apart by their TOML types."""

    ways: tuple[Value, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table with fixed keys; `rest` when free names are allowed besides."""

    says: str
    keys: Mapping[str, Key]
    rest: Value | None = None
    rest_pattern: str = ""
    rest_says: str = ""


Value = Quantity | Integer | Number | Text | Flag | Several | Either | Table


@dataclass(frozen=True, slots=True)
class Key:
    """One key: what may stand there, what it means, and whether it must be there."""

    value: Value
    says: str
    required: bool = False
    examples: tuple[object, ...] = field(default=())


_PLACE: Final = Quantity("length", -20_000.0, 20_000.0)
_SIZE: Final = Quantity("length", 0.0, 20_000.0, above=True)
_HEIGHT: Final = Quantity("length", 0.0, 2_000.0)
_CUTTER: Final = Quantity("length", 0.0, 500.0, above=True)
_SMALL: Final = Quantity("length", 0.0, 500.0)
_FEED: Final = Quantity("feed", 0.0, 200_000.0, above=True)
_TIME: Final = Quantity("time", 0.0, 3600.0)
_SPEED: Final = Quantity("speed", 0.0, 200_000.0)
_ANGLE: Final = Quantity("angle", 0.0, math.pi, above=True)
_WORD: Final = r"^[A-Za-z0-9][A-Za-z0-9._ +-]*$"


def _vector(item: Value) -> Several:
    return Several(item, 3, 3)


UNITS_KEY: Final = Key(
    Text(("mm", "in")), "What bare numbers are in, and what lengths are shown in.", examples=("mm",)
)

STOCK: Final = Table(
    "The blank, a box on the bed.",
    {
        "size": Key(
            _vector(_SIZE),
            "X, Y and the measured thickness.",
            required=True,
            examples=(["200 mm", "200 mm", "17.8 mm"],),
        ),
        "zero": Key(
            Text(),
            "Where the work zero is: front, centre or back; left, centre or right; top or bed.",
            examples=("centre-top", "front-left-top"),
        ),
        "zero_at": Key(
            _vector(_PLACE),
            "The same in numbers: from the front left corner of the top face, Z up.",
            examples=(["10 mm", "10 mm", "0 mm"],),
        ),
        "nominal_thickness": Key(_SIZE, "The thickness the programs were made for."),
        "material": Key(Text(), "What the blank is made of.", examples=("beech",)),
        "spoilboard": Key(_HEIGHT, "Thickness of the spoilboard under the blank."),
        "allow_into_spoilboard": Key(_HEIGHT, "How deep a cut may go into the spoilboard."),
    },
)

_SPINDLE: Final = Table(
    "The spindle.",
    {
        "min": Key(_SPEED, "Slowest speed it can hold."),
        "max": Key(Quantity("speed", 0.0, 200_000.0, above=True), "Highest speed."),
        "power": Key(Quantity("power", 0.0, 200_000.0, above=True), "Power at the cutter."),
        "start_seconds": Key(_TIME, "Time it takes to come up to speed."),
    },
)

_DISC: Final = Table(
    "One disc of the holder.",
    {
        "diameter": Key(_CUTTER, "Diameter.", required=True),
        "height": Key(_CUTTER, "Height.", required=True),
    },
)

_MACHINE_KEYS: Final[dict[str, Key]] = {
    "name": Key(Text(), "What you call the machine."),
    "travel": Key(
        _vector(Either((_PLACE, Several(_PLACE, 2, 2)))),
        "Reach of each axis in machine coordinates: [low, high], or one number from 0.",
        examples=(["600 mm", "400 mm", ["-80 mm", "0 mm"]],),
    ),
    "work_zero": Key(_vector(_PLACE), "The job's zero in machine coordinates."),
    "park": Key(_vector(_PLACE), "Where the machine stands before and after, machine coordinates."),
    "max_rate": Key(
        _vector(_FEED),
        "Highest rate of X, Y and Z.",
        examples=(["5000 mm/min", "5000 mm/min", "2000 mm/min"],),
    ),
    "acceleration": Key(
        _vector(Quantity("acceleration", 0.0, 100_000.0, above=True)),
        "Acceleration of X, Y and Z.",
        examples=(["400 mm/s2", "400 mm/s2", "200 mm/s2"],),
    ),
    "jerk": Key(
        _vector(Quantity("jerk", 0.0, 1e8, above=True)),
        "Jerk of X, Y and Z, where the controller limits it.",
    ),
    "corner_tolerance": Key(
        Quantity("length", 0.0, 10.0),
        "How far the path may leave a corner; 0 stops at every corner.",
        examples=("0.02 mm",),
    ),
    "rapids": Key(
        Text(("straight", "independent")),
        "Whether a rapid is one straight line or each axis runs at its own rate.",
    ),
    "look_ahead": Key(Integer(1, 1_000_000), "How many blocks the controller plans ahead."),
    "lines_per_second": Key(
        Number(0.0, 1e7, above=True), "How many blocks a second the controller can take."
    ),
    "spindle": Key(_SPINDLE, "Speed range, power and start-up of the spindle."),
    "tool_change_seconds": Key(_TIME, "Time one tool change takes."),
    "path_acceleration": Key(
        Quantity("acceleration", 0.0, 100_000.0, above=True),
        "Acceleration along the path that is never exceeded, besides the axes' own.",
    ),
    "line_seconds": Key(Quantity("time", 0.0, 60.0), "Time added to every line."),
    "probe_seconds": Key(_TIME, "Time added to every probing move."),
    "pause_seconds": Key(_TIME, "Time added to every programmed stop."),
    "safe_height": Key(
        _HEIGHT, "Height above the highest of blank and clamps that rapids should keep."
    ),
    "holder": Key(
        Several(_DISC, 0, 20),
        "Discs from the underside of the collet nut upward.",
        examples=([{"diameter": "20 mm", "height": "18 mm"}],),
    ),
    "dust_shoe": Key(
        Table(
            "A disc around the spindle.",
            {
                "diameter": Key(_CUTTER, "Diameter.", required=True),
                "drop": Key(
                    Quantity("length", -500.0, 500.0),
                    "How far it hangs below the underside of the collet nut.",
                    required=True,
                ),
            },
        ),
        "The dust shoe.",
    ),
    "accepts": Key(
        Several(Text(pattern=_WORD, pattern_says="a plain word"), 0, 100),
        "What the controller understands, by capability.",
    ),
    "unit": Key(Text(("mm", "in")), "What the controller assumes when a program does not say."),
}

#: A machine file of its own.
MACHINE_FILE: Final = Table("The router.", {"units": UNITS_KEY, **_MACHINE_KEYS})
#: The same keys in a job file, with the file they may come from.
MACHINE: Final = Table(
    "The router.",
    {"file": Key(Text(), "A machine file beside the job file."), **_MACHINE_KEYS},
)

BIT: Final = Table(
    "A cutter of revolution.",
    {
        "shape": Key(Text(tuple(SHAPES)), "Shape of the cutting part.", required=True),
        "diameter": Key(_CUTTER, "Largest cutting diameter.", examples=("6 mm", "1/4 in")),
        "angle": Key(
            _ANGLE,
            "Included angle of a vee or drill; half angle from the axis of a taper.",
            examples=("90 deg",),
        ),
        "tip": Key(_SMALL, "Diameter of a vee's flat tip."),
        "corner_radius": Key(_CUTTER, "Corner radius of a bull-nose bit."),
        "tip_radius": Key(_CUTTER, "Tip radius of a tapered ball bit."),
        "tip_diameter": Key(_CUTTER, "Tip diameter of a tapered flat bit."),
        "profile": Key(
            Several(Several(Quantity("length", -10_000.0, 10_000.0), 2, 3), 2, 200),
            "Points [r, z] or [r, z, bulge_radius] of a form bit from the tip outward.",
            examples=([["0 mm", "0 mm"], ["3 mm", "2 mm"]],),
        ),
        "flutes": Key(Integer(1, 24), "Number of cutting edges."),
        "flute_length": Key(_CUTTER, "Length that cuts, from the tip."),
        "shank": Key(_CUTTER, "Diameter of the shank."),
        "stickout": Key(_CUTTER, "Length from the tip to the underside of the collet nut."),
        "centre_cutting": Key(Flag(), "Whether it cuts at the centre and may plunge."),
        "max_rpm": Key(Quantity("speed", 0.0, 200_000.0, above=True), "Speed printed on the bit."),
        "helix": Key(
            Text(("up", "down", "straight", "compression")), "Which way the flutes push the chips."
        ),
        "material": Key(Text(), "What the bit is made of."),
    },
)

_BIT_NAME: Final = r"^[A-Za-z0-9][A-Za-z0-9._ +-]*$"
_BIT_NAME_SAYS: Final = "letters, digits, spaces and . _ + -, beginning with a letter or digit"

#: A bits file of its own: one table for each bit.
BITS_FILE: Final = Table("The rack of bits.", {"units": UNITS_KEY}, BIT, _BIT_NAME, _BIT_NAME_SAYS)
BITS: Final = Table(
    "The rack of bits.",
    {"file": Key(Text(), "A bits file beside the job file.")},
    BIT,
    _BIT_NAME,
    _BIT_NAME_SAYS,
)

CLAMP: Final = Table(
    "A box to keep clear of.",
    {
        "name": Key(Text(), "What you call it.", examples=("left cam clamp",)),
        "box": Key(
            Table(
                "Corners in the job frame and height above the top of the blank.",
                {
                    "min": Key(Several(_PLACE, 2, 2), "X and Y of one corner.", required=True),
                    "max": Key(
                        Several(_PLACE, 2, 2), "X and Y of the opposite corner.", required=True
                    ),
                    "height": Key(_HEIGHT, "Height above the blank's top.", required=True),
                },
            ),
            "Where it is.",
            required=True,
        ),
    },
)

_LINES: Final = Either((Integer(1, 2**31 - 1), Several(Integer(1, 2**31 - 1), 2, 2)))
_ALLOW_KEYS: Final[dict[str, Key]] = {
    "code": Key(
        Text(pattern=r"^[a-z]+(-[a-z]+)*$", pattern_says="plain words joined by hyphens"),
        "The code of the finding you accept.",
        required=True,
        examples=("rapid-low",),
    ),
    "reason": Key(Text(), "Why it is all right.", required=True),
    "lines": Key(_LINES, "One line of the program, or [first, last]."),
}
_STAGE_ALLOW: Final = Table("A finding you accept in this stage.", _ALLOW_KEYS)
ALLOW: Final = Table(
    "A finding you accept.",
    {
        **_ALLOW_KEYS,
        "stage": Key(Either((Integer(1, 1000), Text())), "Name or number of the stage."),
    },
)

_OFFSET_NAME: Final = r"^(G5[4-9]|G59\.[123])$"

STAGE: Final = Table(
    "One program with one bit.",
    {
        "name": Key(Text(), "What it does.", examples=("clear the ground",)),
        "program": Key(
            Text(), "The program, inside the job's folder.", required=True, examples=("ground.nc",)
        ),
        "bit": Key(Text(), "Name of a bit, or a compact one.", examples=("flat-6", "flat:6mm")),
        "depth": Key(
            Quantity("length", 0.0, 2_000.0, above=True, words=("through",)),
            'The deepest intended cut below the top, or "through" for a cut-out.',
            examples=("4 mm", "through"),
        ),
        "max_pass": Key(_SIZE, "Deepest cut in one pass."),
        "max_plunge_rate": Key(_FEED, "Highest feed straight down."),
        "max_ramp_angle": Key(
            Quantity("angle", 0.0, math.pi / 2, above=True), "Steepest ramp into material."
        ),
        "tab_width": Key(_SIZE, "Width of the tabs that hold the part, along the cut."),
        "tab_height": Key(_SIZE, "Height of the tabs that hold the part, above the bed."),
        "zero_shift": Key(_vector(_PLACE), "How far this stage's zero lies from the job's."),
        "offsets": Key(
            Table(
                "Work offsets relative to the job's zero.",
                {},
                _vector(_PLACE),
                _OFFSET_NAME,
                "G54 to G59, or G59.1 to G59.3",
            ),
            "Work offsets relative to the job's zero.",
            examples=({"G55": ["100 mm", "0 mm", "0 mm"]},),
        ),
        "allow": Key(Several(_STAGE_ALLOW, 0, 1000), "Findings you accept in this stage."),
    },
)

JOB: Final = Table(
    "One blank and the programs run on it, in order.",
    {
        "title": Key(Text(), "What is being made.", examples=("Compass-rose trivet",)),
        "units": UNITS_KEY,
        "stock": Key(STOCK, "The blank, a box on the bed."),
        "machine": Key(MACHINE, "The router."),
        "clamps": Key(
            Several(CLAMP, 0, 200), "What stands on the bed; an empty list says there are none."
        ),
        "bits": Key(BITS, "The rack of bits."),
        "stages": Key(Several(STAGE, 1, 200), "The programs, in order.", required=True),
        "allow": Key(Several(ALLOW, 0, 1000), "Findings you accept."),
    },
)
