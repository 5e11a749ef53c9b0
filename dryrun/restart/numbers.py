"""Numbers that a program is written with: as short as they can be, and read back as meant.

A reader makes a place of a number by `number * factor + origin` (see `gcode.state`). Of all
decimals that give exactly the place wanted the shortest is written; where none of so many
decimals does, the nearest.
"""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Final

#: From so many decimals on every double is written exactly.
EXACT: Final = 17


def written(number: float, *, point: bool = False) -> str:
    """Write a number without an exponent; `point`: with a decimal point in any case."""
    text = format(Decimal(repr(number + 0.0)), "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    if text in ("-0", ""):
        text = "0"
    return text + "." if point and "." not in text else text


def number_for(wanted: float, factor: float, origin: float, decimals: int) -> float:
    """Return the shortest number whose `number * factor + origin` is the place wanted.

    Parameters
    ----------
    wanted, origin : float
        mm.
    factor : float
        mm per unit of the program.
    decimals : int
        Most decimals; from `EXACT` on every neighbouring double is tried as well.
    """
    plain = (wanted - origin) / factor
    if not math.isfinite(plain):
        return plain
    for places in range(min(decimals, EXACT) + 1):
        number = round(plain, places)
        if number * factor + origin == wanted:
            return number
    if decimals < EXACT:
        return round(plain, decimals)
    return _neighbour(plain, wanted, factor, origin)


def _neighbour(plain: float, wanted: float, factor: float, origin: float) -> float:
    best = plain
    up = down = plain
    for _ in range(4):
        up, down = math.nextafter(up, math.inf), math.nextafter(down, -math.inf)
        for number in (up, down):
            if number * factor + origin == wanted:
                return number
            if abs(number * factor + origin - wanted) < abs(best * factor + origin - wanted):
                best = number
    return best
