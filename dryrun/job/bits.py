"""Bits: what each shape needs, what is possible, the compact spelling, and words for people."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Mapping
from typing import Any, Final

from dryrun.job.faults import printable, suggest
from dryrun.job.model import SHAPES, Bit, Shape
from dryrun.units import UnitError, Units, format_angle, format_length, parse

#: Which of the keys of form each shape needs, and which it may have besides.
SHAPE_KEYS: Final[dict[Shape, tuple[frozenset[str], frozenset[str]]]] = {
    "flat": (frozenset({"diameter"}), frozenset()),
    "ball": (frozenset({"diameter"}), frozenset()),
    "bull": (frozenset({"diameter", "corner_radius"}), frozenset()),
    "vee": (frozenset({"diameter", "angle"}), frozenset({"tip"})),
    "taper-ball": (frozenset({"diameter", "angle", "tip_radius"}), frozenset()),
    "taper-flat": (frozenset({"diameter", "angle", "tip_diameter"}), frozenset()),
    "drill": (frozenset({"diameter", "angle"}), frozenset()),
    "form": (frozenset({"profile"}), frozenset({"diameter"})),
}
FORM_KEYS: Final = frozenset(
    {"diameter", "angle", "tip", "corner_radius", "tip_radius", "tip_diameter", "profile"}
)

#: How each shape is spelled on the command line.
COMPACT: Final[dict[str, str]] = {
    "flat": "flat:6mm",
    "ball": "ball:1/4in",
    "bull": "bull:6mm:r1mm",
    "vee": "vee:90deg:12mm, or vee:90deg:12mm:tip0.2mm",
    "taper-ball": "taper-ball:5deg:r0.5mm:6mm",
    "taper-flat": "taper-flat:5deg:tip1mm:6mm",
    "drill": "drill:118deg:3mm",
}
_RADIUS_KEY: Final[dict[str, str]] = {"bull": "corner_radius", "taper-ball": "tip_radius"}
_TIP_KEY: Final[dict[str, str]] = {"vee": "tip", "taper-flat": "tip_diameter"}
_MARKED = re.compile(r"(tip|r)\s*([0-9.].*)")
_SLACK: Final = 1e-9  # mm, the same place
_ROUNDED: Final = 1e-3  # mm; a number rounded in a file must not be refused for its last digit


class BitError(ValueError):
    """A bit that cannot be, or cannot be read.

    Attributes
    ----------
    message : str
    key : str or None
        The key to blame, when it is one.
    help : str or None
    missing : str or None
        The key that is not there, when that is what is wrong.
    """

    def __init__(
        self,
        message: str,
        key: str | None = None,
        help: str | None = None,
        missing: str | None = None,
    ) -> None:
        self.message = message
        self.key = key
        self.help = help
        self.missing = missing
        super().__init__(f"{message} ({help})" if help else message)


def make_bit(name: str, values: Mapping[str, Any]) -> Bit:
    """Make a bit of values in inside units (mm, rad, rpm).

    Raises
    ------
    BitError
        When a key is missing, does not belong to the shape, or the geometry is impossible.
    """
    problems = bit_problems(values)
    if problems:
        raise problems[0]
    values = dict(values)
    if values["shape"] == "form":
        values["profile"] = _profile(values)
        # The profile is the exact one of the two. One that cuts under material ends at its neck.
        values["diameter"] = 2 * max(point[0] for point in values["profile"])
    return Bit(name=name, **values)


def bit_problems(values: Mapping[str, Any]) -> list[BitError]:
    """Return everything wrong with a bit's values; empty when it can be made."""
    shape: Shape = values["shape"]
    needed, optional = SHAPE_KEYS[shape]
    problems = [
        BitError(f'a {shape} bit needs "{key}"', missing=key)
        for key in sorted(needed - values.keys(), key=_key_order)
    ]
    problems += [
        BitError(f'"{key}" does not belong to a {shape} bit', key)
        for key in values
        if key in FORM_KEYS - needed - optional
    ]
    if needed <= values.keys():
        problems += _GEOMETRY[shape](values) if shape in _GEOMETRY else []
    return problems + _lengths(values)


def _lengths(values: Mapping[str, Any]) -> list[BitError]:
    """Check that the cutting part is not longer than what sticks out of the collet."""
    flutes, out = values.get("flute_length"), values.get("stickout")
    if flutes is None or out is None or flutes <= out + _ROUNDED:
        return []
    return [
        BitError(
            f"flutes of {format_length(flutes)} do not fit on a stick-out of {format_length(out)}",
            "stickout",
            "measure from the tip to the underside of the collet nut",
        )
    ]


def _key_order(key: str) -> int:
    order = ("diameter", "angle", "tip_radius", "tip_diameter", "corner_radius", "profile")
    return order.index(key)


def _bull(values: Mapping[str, Any]) -> list[BitError]:
    if values["corner_radius"] > values["diameter"] / 2 + _SLACK:
        return [
            BitError(
                f"a corner radius of {format_length(values['corner_radius'])} does not fit a "
                f"diameter of {format_length(values['diameter'])}",
                "corner_radius",
            )
        ]
    return []


def _vee(values: Mapping[str, Any]) -> list[BitError]:
    problems = _below_straight(values, "vee")
    if values.get("tip", 0.0) >= values["diameter"]:
        problems.append(
            BitError(
                f"a tip of {format_length(values['tip'])} is not smaller than the diameter of "
                f"{format_length(values['diameter'])}",
                "tip",
            )
        )
    return problems


def _below_straight(values: Mapping[str, Any], shape: str) -> list[BitError]:
    if math.radians(5) <= values["angle"] <= math.radians(179):
        return []
    found = format_angle(values["angle"])
    return [BitError(f"the included angle of a {shape} is 5° to 179°, not {found}", "angle")]


def _taper_angle(values: Mapping[str, Any]) -> list[BitError]:
    if values["angle"] < math.radians(60):
        return []
    found = format_angle(values["angle"])
    return [
        BitError(
            f"the angle of a taper is measured from its axis and below 60°, not {found}",
            "angle",
            "halve it when it is the included angle",
        )
    ]


def _taper_ball(values: Mapping[str, Any]) -> list[BitError]:
    problems = _taper_angle(values)
    # The cone touches the ball where the ball is this wide; it can only widen from there.
    widest = 2 * values["tip_radius"] * math.cos(values["angle"])
    if not problems and widest >= values["diameter"]:
        problems.append(
            BitError(
                f"a tip radius of {format_length(values['tip_radius'])} leaves no taper below a "
                f"diameter of {format_length(values['diameter'])}",
                "tip_radius",
            )
        )
    return problems


def _taper_flat(values: Mapping[str, Any]) -> list[BitError]:
    problems = _taper_angle(values)
    if values["tip_diameter"] >= values["diameter"]:
        problems.append(
            BitError(
                f"a tip of {format_length(values['tip_diameter'])} is not smaller than the "
                f"diameter of {format_length(values['diameter'])}",
                "tip_diameter",
            )
        )
    return problems


def _form(values: Mapping[str, Any]) -> list[BitError]:
    """Check a chain of points; one that cuts under material is possible and left as it is."""
    points = _profile(values)
    if points[0][0] < 0:
        return [BitError("a profile begins at the tip, with r from 0", "profile")]
    for number, (first, second) in enumerate(itertools.pairwise(points), start=2):
        problem = _piece_problem(first, second)
        if problem:
            return [BitError(f"point {number} of the profile {problem}", "profile")]
    widest = max(point[0] for point in points)
    if widest <= 0:
        return [BitError("the profile has no width", "profile")]
    stated = values.get("diameter", 2 * widest)
    if abs(stated - 2 * widest) > _ROUNDED:
        return [
            BitError(
                f"the profile is {format_length(2 * widest)} wide, the diameter says "
                f"{format_length(stated)}",
                "diameter",
            )
        ]
    return []


def _profile(values: Mapping[str, Any]) -> tuple[tuple[float, float, float], ...]:
    return tuple((p[0], p[1], p[2] if len(p) == 3 else 0.0) for p in values["profile"])


def _piece_problem(
    first: tuple[float, float, float], second: tuple[float, float, float]
) -> str | None:
    """Say what is wrong with one piece of a profile, from point to point."""
    if second[0] < 0:
        return "has a negative radius"
    chord = math.hypot(second[0] - first[0], second[1] - first[1])
    if chord <= _SLACK:
        return "is the same as the one before"
    bulge = second[2]
    if bulge and chord > 2 * abs(bulge) + _SLACK:
        return (
            f"is {format_length(chord)} away, too far for an arc of radius "
            f"{format_length(abs(bulge))}"
        )
    return None


_GEOMETRY: Final = {
    "bull": _bull,
    "vee": _vee,
    "taper-ball": _taper_ball,
    "taper-flat": _taper_flat,
    "drill": lambda values: _below_straight(values, "drill"),
    "form": _form,
}


def parse_bit(text: str, units: Units | None = None) -> Bit:
    """Read a compact bit such as "flat:6mm" or "vee:90deg:12mm:tip0.2mm".

    Raises
    ------
    BitError
        With what was found and how it is written.

    Examples
    --------
    >>> parse_bit("ball:1/4in").diameter
    6.35
    """
    shape, *fields = [part.strip() for part in text.split(":")]
    if shape not in SHAPES:
        raise BitError(f'no shape "{printable(shape)}"', "shape", suggest(shape, SHAPES))
    if shape == "form":
        raise BitError("a form bit needs its profile, in a bits file", "shape")
    values: dict[str, Any] = {"shape": shape}
    for part in fields:
        key, number = _compact_field(shape, part, units)
        if key in values:
            raise BitError(f'"{printable(text)}" gives the {key.replace("_", " ")} twice', key)
        values[key] = number
    try:
        return make_bit(text.strip(), values)
    except BitError as error:
        help = error.help or _spelling(shape)
        raise BitError(error.message, error.key, help, error.missing) from None


def _compact_field(shape: str, part: str, units: Units | None) -> tuple[str, float]:
    try:
        if re.search(r"(deg|degrees|°)$", part):
            return "angle", _positive(shape, part, parse(part, "angle"))
        marked = _MARKED.fullmatch(part)
        if marked is None:
            return "diameter", _positive(shape, part, parse(part, "length", units))
        mark, size = marked.groups()
        known = _TIP_KEY if mark == "tip" else _RADIUS_KEY
        if shape not in known:
            raise BitError(
                f'"{printable(part)}" does not belong to a {shape} bit', None, _spelling(shape)
            )
        return known[shape], _positive(shape, part, parse(size, "length", units))
    except UnitError as error:
        raise BitError(str(error), None, _spelling(shape)) from None


def _spelling(shape: str) -> str:
    return f"write it like {COMPACT[shape]}"


def _positive(shape: str, part: str, number: float) -> float:
    if not 0 < number <= 500:
        raise BitError(
            f'"{printable(part)}" is not above 0 and at most 500 mm', None, _spelling(shape)
        )
    return number


def cone_height(bit: Bit) -> float | None:
    """Height from the tip to where the cone of a bit reaches its diameter, mm; None without one."""
    if bit.angle is None:
        return None
    if bit.shape == "vee":
        return (bit.diameter - bit.tip) / 2 / math.tan(bit.angle / 2)
    if bit.shape == "drill":
        return bit.diameter / 2 / math.tan(bit.angle / 2)
    if bit.shape == "taper-flat" and bit.tip_diameter is not None:
        return (bit.diameter - bit.tip_diameter) / 2 / math.tan(bit.angle)
    if bit.shape == "taper-ball" and bit.tip_radius is not None:
        touch = bit.tip_radius * math.cos(bit.angle)
        rise = bit.tip_radius * (1 - math.sin(bit.angle))
        return rise + (bit.radius - touch) / math.tan(bit.angle)
    return None


def cutting_length(bit: Bit) -> float | None:
    """Length that cuts, from the tip, mm.

    What was declared; else, for a vee or a taper, the height of its cone, and for a form bit the
    height of its profile. None when neither is known.
    """
    if bit.flute_length is not None:
        return bit.flute_length
    if bit.shape in ("vee", "taper-ball", "taper-flat"):
        return cone_height(bit)
    if bit.shape == "form" and bit.profile:
        return bit.profile[-1][1]
    return None


def describe_bit(bit: Bit, units: Units = "mm") -> str:
    """Describe a bit in one line for people: "6 mm flat bit, 2 flutes"."""
    size = format_length(bit.diameter, units)
    angle = format_angle(bit.angle) if bit.angle is not None else ""
    match bit.shape:
        case "flat" | "ball" | "form":
            text = f"{size} {bit.shape} bit"
        case "bull":
            corner = format_length(bit.corner_radius or 0.0, units)
            text = f"{size} bull-nose bit, corner radius {corner}"
        case "vee":
            text = f"{angle} vee bit, {size}"
            if bit.tip:
                text += f", flat tip {format_length(bit.tip, units)}"
        case "taper-ball":
            tip = format_length(bit.tip_radius or 0.0, units)
            text = f"tapered ball bit, {angle} a side, tip radius {tip}, up to {size}"
        case "taper-flat":
            tip = format_length(bit.tip_diameter or 0.0, units)
            text = f"tapered flat bit, {angle} a side, tip {tip}, up to {size}"
        case "drill":
            text = f"{size} drill, point {angle}"
    if bit.flutes is not None:
        text += f", {bit.flutes} {'flute' if bit.flutes == 1 else 'flutes'}"
    return text
