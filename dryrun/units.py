"""Quantities as people write them: "3/4 in", "100 in/min", "20 deg", and back for display.

Inside the package everything is mm, mm/min, rad, mm/s2, mm/s3, s, rpm and W. Decimal text is
converted exactly and rounded once, so "3/4 in" is the same number as 19.05 mm.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction
from typing import Final, Literal

Kind = Literal["length", "feed", "angle", "acceleration", "jerk", "time", "speed", "power"]
Units = Literal["mm", "in"]

#: Nothing at a router is larger than this in inside units; a larger number is a slip of the pen.
LARGEST: Final = 1e9

_INCH: Final = Fraction(254, 10)  # exact by definition (international inch, 1959)
_FOOT: Final = 12 * _INCH
_STANDARD_GRAVITY: Final = Fraction(980665, 100)  # mm/s2, 3rd CGPM 1901
_DEGREE: Final = Fraction(math.pi) / 180
_HORSEPOWER: Final = Fraction(74569987158227022, 10**14)  # 550 ft lbf/s in W

_LENGTHS: Final = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "um": Fraction(1, 1000),
    "in": _INCH,
    "inch": _INCH,
    "inches": _INCH,
    '"': _INCH,
    "thou": _INCH / 1000,
    "ft": _FOOT,
}
_PER: Final = ("mm", "cm", "m", "in", "inch")

#: Unit words of each kind and what one of it is in inside units.
FACTORS: Final[dict[Kind, dict[str, Fraction]]] = {
    "length": _LENGTHS,
    "feed": {
        **{f"{name}/min": _LENGTHS[name] for name in _PER},
        **{f"{name}/s": _LENGTHS[name] * 60 for name in _PER},
        "ipm": _INCH,
    },
    "angle": {
        "deg": _DEGREE,
        "degree": _DEGREE,
        "degrees": _DEGREE,
        "°": _DEGREE,
        "rad": Fraction(1),
    },
    "acceleration": {**{f"{name}/s2": _LENGTHS[name] for name in _PER}, "g": _STANDARD_GRAVITY},
    "jerk": {f"{name}/s3": _LENGTHS[name] for name in _PER},
    "time": {
        "s": Fraction(1),
        "sec": Fraction(1),
        "ms": Fraction(1, 1000),
        "min": Fraction(60),
        "h": Fraction(3600),
    },
    "speed": {"rpm": Fraction(1), "1/min": Fraction(1), "rev/min": Fraction(1)},
    "power": {"w": Fraction(1), "kw": Fraction(1000), "hp": _HORSEPOWER},
}

#: What a bare number means. Kinds with a length in them depend on the units declared.
BARE: Final[dict[Kind, dict[Units, str]]] = {
    "length": {"mm": "mm", "in": "in"},
    "feed": {"mm": "mm/min", "in": "in/min"},
    "acceleration": {"mm": "mm/s2", "in": "in/s2"},
    "jerk": {"mm": "mm/s3", "in": "in/s3"},
    "angle": {"mm": "deg", "in": "deg"},
    "time": {"mm": "s", "in": "s"},
    "speed": {"mm": "rpm", "in": "rpm"},
    "power": {"mm": "W", "in": "W"},
}

#: How one is written, for messages.
EXAMPLES: Final[dict[Kind, str]] = {
    "length": 'a length such as "18 mm" or "3/4 in"',
    "feed": 'a feed such as "2400 mm/min" or "100 in/min"',
    "angle": 'an angle such as "20 deg"',
    "acceleration": 'an acceleration such as "400 mm/s2"',
    "jerk": 'a jerk such as "8000 mm/s3"',
    "time": 'a time such as "5 s" or "2 min 30 s"',
    "speed": 'a spindle speed such as "18000 rpm"',
    "power": 'a power such as "1.5 kW"',
}

_LONGEST_TEXT: Final = 80
_SIGN = re.compile(r"\s*([+\-−]?)\s*")
_TERM = re.compile(
    r"(?:(?:(?P<whole>[0-9]+)[\s\-]+)?(?P<top>[0-9]+)\s*/\s*(?P<bottom>[0-9]+)"
    r"|(?P<decimal>[0-9]+\.?[0-9]*|\.[0-9]+))"
    r"\s*(?P<unit>1/min|[^0-9\s.+\-][^\s.+\-]*)?\s*"
)
_COMMA = re.compile(r"[0-9],[0-9]")


class UnitError(ValueError):
    """A quantity that cannot be read.

    Attributes
    ----------
    found : str
        What was written, shortened.
    expected : str
        What was looked for, with an example.
    reason : str
        Why it does not do, or "" when that says nothing more.
    """

    def __init__(self, found: object, expected: str, reason: str = "") -> None:
        self.found = _shorten(found)
        self.expected = expected
        self.reason = reason
        detail = f": {reason}" if reason else ""
        super().__init__(f"found {self.found}, expected {expected}{detail}")


def parse(value: str | int | float, kind: Kind, units: Units | None = None) -> float:
    """Read a quantity into inside units.

    Parameters
    ----------
    value : str, int or float
        Text such as "3/4 in", "1 1/2 in", '0.25"', "11 min 20 s"; or a bare number.
    kind : str
        One of the keys of `FACTORS`.
    units : "mm", "in" or None
        What a bare number is in; None refuses bare lengths, feeds, accelerations and jerks.

    Returns
    -------
    float
        mm, mm/min, rad, mm/s2, mm/s3, s, rpm or W.

    Raises
    ------
    UnitError
        With what was found and what was expected.

    Examples
    --------
    >>> parse("3/4 in", "length")
    19.05
    >>> parse(100, "feed", "in")
    2540.0
    """
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        raise UnitError(value, EXAMPLES[kind])
    if isinstance(value, str):
        exact = _read_text(value, kind, units)
    else:
        exact = _exact(value, kind) * _bare_factor(value, kind, units)
    if abs(exact) > LARGEST:
        raise UnitError(value, EXAMPLES[kind], "the number is too large")
    return float(exact)


def parse_length(value: str | int | float, units: Units | None = None) -> float:
    """Read a length, mm."""
    return parse(value, "length", units)


def _exact(number: float, kind: Kind) -> Fraction:
    if isinstance(number, float) and not math.isfinite(number):
        raise UnitError(number, EXAMPLES[kind], "the number must be finite")
    if isinstance(number, int):
        return Fraction(number)
    return Fraction(repr(number))  # the decimal as written, not its binary neighbour


def _read_text(text: str, kind: Kind, units: Units | None) -> Fraction:
    if len(text) > _LONGEST_TEXT:
        raise UnitError(text, EXAMPLES[kind], "the text is too long")
    if _COMMA.search(text):
        raise UnitError(text, EXAMPLES[kind], "write decimals with a point, without thousands")
    clean = _normalise(text)
    sign = _SIGN.match(clean)
    assert sign is not None  # every part of the pattern is optional
    terms = list(_terms(clean, sign.end()))
    # Only times are said in several units ("11 min 20 s"), each smaller than the one before it.
    if not terms or (len(terms) > 1 and kind != "time"):
        raise UnitError(text, EXAMPLES[kind])
    total = Fraction(0)
    smallest: Fraction | None = None
    for number, word in terms:
        factor = _factor(text, word, kind, units) if word else _bare_factor(text, kind, units)
        if len(terms) > 1 and (not word or (smallest is not None and factor >= smallest)):
            raise UnitError(text, EXAMPLES[kind])
        smallest = factor
        total += number * factor
    return -total if sign.group(1) in ("-", "−") else total


def _terms(text: str, start: int) -> list[tuple[Fraction, str]]:
    """Split into (number, unit word); empty when some of the text is neither."""
    terms: list[tuple[Fraction, str]] = []
    place = start
    while place < len(text):
        match = _TERM.match(text, place)
        if match is None:
            return []
        number = _number(match)
        if number is None:
            return []
        terms.append((number, match.group("unit") or ""))
        place = match.end()
    return terms


def _number(match: re.Match[str]) -> Fraction | None:
    if match.group("decimal") is not None:
        return Fraction(match.group("decimal"))
    top, bottom = int(match.group("top")), int(match.group("bottom"))
    whole = match.group("whole")
    if bottom == 0 or (whole is not None and top >= bottom):
        return None
    return int(whole or 0) + Fraction(top, bottom)


def _normalise(text: str) -> str:
    for old, new in (("″", '"'), ("”", '"'), ("''", '"'), ("µ", "u"), ("μ", "u")):
        text = text.replace(old, new)
    text = text.replace("²", "2").replace("³", "3").replace("^", "")
    text = re.sub(r"(?<=[A-Za-z])\s*/\s*(?=[A-Za-z])", "/", text)
    return text.strip()


def _factor(text: str, word: str, kind: Kind, units: Units | None) -> Fraction:
    factors = FACTORS[kind]
    if word in factors:
        return factors[word]
    if word.lower() in factors:
        return factors[word.lower()]
    other = next((k for k, names in FACTORS.items() if word.lower() in names), None)
    if other is not None:
        reason = f'"{word}" is a unit of {other}'
    else:
        reason = f"known units are {', '.join(factors)}"
    raise UnitError(text, EXAMPLES[kind], reason)


def _bare_factor(value: object, kind: Kind, units: Units | None) -> Fraction:
    if units is None and BARE[kind]["mm"] != BARE[kind]["in"]:
        raise UnitError(value, EXAMPLES[kind], "a number without a unit")
    return FACTORS[kind][BARE[kind][units or "mm"].lower()]


def _shorten(found: object) -> str:
    shown = f'"{found}"' if isinstance(found, str) else str(found)
    shown = "".join(c if c.isprintable() else "?" for c in shown)
    return shown if len(shown) <= 40 else shown[:37] + "..."


# --- back for display ------------------------------------------------------------------------


def format_length(mm: float, units: Units = "mm") -> str:
    """Write a length: "17.8 mm", "0.701 in"; "not known" for NaN.

    Examples
    --------
    >>> format_length(17.8), format_length(17.8, "in"), format_length(float("nan"))
    ('17.8 mm', '0.7008 in', 'not known')
    """
    return _write(mm, 1.0 if units == "mm" else 25.4, units, 2 if units == "mm" else 4)


def format_feed(mm_min: float, units: Units = "mm") -> str:
    """Write a feed: "2400 mm/min", "94.5 in/min"."""
    if units == "mm":
        return _write(mm_min, 1.0, "mm/min", 0)
    return _write(mm_min, 25.4, "in/min", 1)


def format_angle(rad: float) -> str:
    """Write an angle: "20°"."""
    return _write(rad, math.pi / 180, "°", 1, gap="")


def format_acceleration(mm_s2: float, units: Units = "mm") -> str:
    """Write an acceleration: "400 mm/s²", "15.7 in/s²"."""
    if units == "mm":
        return _write(mm_s2, 1.0, "mm/s²", 0)
    return _write(mm_s2, 25.4, "in/s²", 1)


def format_speed(rpm: float) -> str:
    """Write a spindle speed: "18000 rpm"."""
    return _write(rpm, 1.0, "rpm", 0)


def format_power(watt: float) -> str:
    """Write a power: "350 W", "1.5 kW"."""
    if abs(watt) >= 1000:
        return _write(watt, 1000.0, "kW", 2)
    return _write(watt, 1.0, "W", 0)


def format_volume(mm3: float, units: Units = "mm") -> str:
    """Write a volume: "18.2 cm³", "1.11 in³"."""
    if units == "mm":
        return _write(mm3, 1000.0, "cm³", 1)
    return _write(mm3, 25.4**3, "in³", 2)


def format_time(seconds: float) -> str:
    """Write a time as people say it: "3.5 s", "45 s", "11 min 20 s", "1 h 5 min".

    Examples
    --------
    >>> format_time(680), format_time(3899.9), format_time(0.04)
    ('11 min 20 s', '1 h 5 min', '0.04 s')
    """
    if not math.isfinite(seconds):
        return _write(seconds, 1.0, "s", 0)
    if abs(seconds) < 9.95:
        return _write(seconds, 1.0, "s", 1)
    sign = "-" if seconds < 0 else ""
    whole = math.floor(abs(seconds) + 0.5)
    if whole < 3600:
        minutes, rest = divmod(whole, 60)
        parts = [(minutes, "min"), (rest, "s")]
    else:
        parts = [(q, u) for q, u in zip(divmod((whole + 30) // 60, 60), ("h", "min"), strict=True)]
    return sign + " ".join(f"{number} {unit}" for number, unit in parts if number)


def _write(value: float, factor: float, unit: str, decimals: int, gap: str = " ") -> str:
    """Write a number with at most `decimals`, more where it would round to nothing."""
    if math.isnan(value):
        return "not known"
    if math.isinf(value):
        return "no limit" if value > 0 else "-no limit"
    number = value / factor
    size = abs(number)
    if 0 < size < 10.0 ** (1 - decimals):
        # Two significant digits: a depth of 0.004 mm must not read as 0.
        decimals = min(12, 1 - math.floor(math.log10(size)))
    text = f"{number:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    if text in ("-0", ""):
        text = "0"
    return f"{text}{gap}{unit}"
