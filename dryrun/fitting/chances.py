"""Small probability models that the evidence is weighed with.

Each returns a natural logarithm. They are densities over what was measured, so that what two bits
say about the same number can be compared; a constant that all bits share is left out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Final, Literal

INCH: Final = 25.4

#: Steps that people draw and write in, mm, and how often a measure is a whole number of them and
#: of no wider one (from memory of drawings, no source).
ROUND_MM: Final = ((10.0, 0.05), (5.0, 0.08), (1.0, 0.42), (0.5, 0.15), (0.1, 0.10))
ROUND_INCH: Final = (
    (INCH, 0.04), (INCH / 2, 0.06), (INCH / 4, 0.12), (INCH / 8, 0.22), (INCH / 10, 0.12),
    (INCH / 16, 0.16), (INCH / 20, 0.08),
)  # fmt: skip

#: Part of a program's measures that are round in the other unit.
OTHER_UNIT: Final = 0.12

#: A percentage that comes out round is at most so much likelier than one that does not.
MOST_CHOSEN: Final = 6.0

#: How often a measure that may be a percentage is a round length instead.
ROUND_LENGTH: Final = 0.15

#: How far a coordinate of a program may be from what was meant: its last digit, mm.
DIGIT: Final = {"mm": 0.003, "in": 0.004}


def mix(terms: Iterable[tuple[float, float]]) -> float:
    """Return log of a sum of weight * exp(log): a mixture."""
    pairs = [(w, v) for w, v in terms if w > 0 and v > -math.inf]
    if not pairs:
        return -math.inf
    most = max(v for _, v in pairs)
    return most + math.log(sum(w * math.exp(v - most) for w, v in pairs))


def log_normal(value: float, middle: float, spread: float, tail: float = 0.03) -> float:
    """Log density in ln(value), with a flat tail so that no single number decides."""
    z = math.log(value / middle) / spread
    return mix([(1 - tail, -0.5 * z * z - math.log(spread * 2.5066)), (tail, math.log(0.2))])


def roundness(value: float, unit: Literal["mm", "in"], slack: float = 0.0) -> float:
    """Log ratio: how much likelier a length is when lengths are chosen, than when they fall out.

    A mixture of combs, one for each step people use.
    """
    tolerance = DIGIT[unit] + slack
    return mix(
        [
            (0.2, 0.0),
            (0.8 * (1 - OTHER_UNIT), _comb(value, ROUND_MM if unit == "mm" else ROUND_INCH,
                                           tolerance)),
            (0.8 * OTHER_UNIT, _comb(value, ROUND_INCH if unit == "mm" else ROUND_MM, tolerance)),
        ]
    )  # fmt: skip


#: How often a place is the zero itself, over the range that places have, mm.
AT_ZERO: Final = 0.04
RANGE: Final = 100.0


def round_place(place: float, unit: Literal["mm", "in"], slack: float = 0.0) -> float:
    """Log ratio of `roundness` for a coordinate: the zero is the roundest of all places."""
    tolerance = DIGIT[unit] + slack
    if abs(place) <= tolerance:
        return math.log(AT_ZERO * RANGE / (2 * tolerance))
    return roundness(abs(place), unit, slack)


def _comb(value: float, steps: Sequence[tuple[float, float]], tolerance: float) -> float:
    density = 1e-9
    for step, weight in steps:
        miss = abs(value - step * round(value / step))
        if miss <= tolerance and value > tolerance:
            density += weight * max(1.0, step / (2 * tolerance))
    return math.log(density)


def chosen_part(
    value: float, diameter: float, unit: Literal["mm", "in"], trust: float = 1.0
) -> float:
    """Log ratio for a measure that may be a round percentage of the diameter: 40 %, 45 %.

    It may as well be a round length, or have fallen out of something else; `trust` below 1 says
    that the percentage is the less likely reason here.
    """
    part, tolerance = value / diameter, 1.2 * DIGIT[unit] / diameter
    hit = 0.0
    for step, weight in ((0.25, 0.08), (0.1, 0.22), (0.05, 0.14), (0.01, 0.06)):
        if abs(part - step * round(part / step)) <= tolerance and part > tolerance:
            hit += weight * max(1.0, step / (2 * tolerance))
    if min(abs(part - 1 / 3), abs(part - 2 / 3)) <= tolerance:
        hit += 0.01 / (2 * tolerance)
    return math.log(
        0.35 + trust * min(hit, MOST_CHOSEN) + ROUND_LENGTH * math.exp(roundness(value, unit))
    )


def together(alike: Sequence[Sequence[float]], weights: Sequence[float], rest: float) -> float:
    """Log of a mixture of ways the whole program may have been drawn, each a product of ratios."""
    terms = [(w, math.fsum(ratios)) for w, ratios in zip(weights, alike, strict=True)]
    return mix([*terms, (rest, 0.0)])
