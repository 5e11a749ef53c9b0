"""Does a restart program do what the original does from there on? Row by row, and cell by cell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.gcode.program import Program
from dryrun.motion import Motion
from dryrun.removal.surface import Surface

#: How far a place written with few decimals may be from the original's, mm.
PLACE: Final = 2e-5
#: The same for an angle (times its radius it is a length), rad; and for feeds, as a part.
ANGLE: Final = 1e-3
FEED: Final = 1e-6

_EVENTS: Final = ("kind", "axis", "spindle", "tool", "tolerance")
_PLACES: Final = ("start", "end", "centre")


def rest_of(written: Motion, wanted: Motion) -> Motion | None:
    """Return the rows of a restart program that stand for the original's; None too few."""
    first = len(written) - len(wanted)
    return written.rows(slice(first, None)) if first >= 0 else None


def same_rows(written: Motion, wanted: Motion) -> bool:
    """Tell whether rows are the same to the last bit (lines aside)."""
    if len(written) != len(wanted):
        return False
    names = (*_EVENTS, *_PLACES, "sweep", "feed", "seconds")
    return all(_equal(getattr(written, name), getattr(wanted, name)) for name in names)


def alike_rows(written: Motion, wanted: Motion) -> bool:
    """Tell whether rows are the same but for the rounding of what was written."""
    if len(written) != len(wanted):
        return False
    names = [name for name in _EVENTS if name != "tolerance"]
    if not all(_equal(getattr(written, name), getattr(wanted, name)) for name in names):
        return False
    close = all(_near(getattr(written, n), getattr(wanted, n), PLACE) for n in _PLACES)
    close = close and _near(written.tolerance, wanted.tolerance, PLACE)
    close = close and _near(written.seconds, wanted.seconds, 1e-3)
    close = close and _near(written.sweep, wanted.sweep, ANGLE)
    with np.errstate(invalid="ignore"):
        part = np.abs(written.feed - wanted.feed) <= FEED * np.abs(wanted.feed)
    unknown = np.isnan(written.feed) & np.isnan(wanted.feed)
    return bool(close and (part | unknown).all())


def _equal(a: NDArray, b: NDArray) -> bool:
    return bool(np.array_equal(a, b, equal_nan=a.dtype.kind == "f"))


def _near(a: NDArray[np.float64], b: NDArray[np.float64], most: float) -> bool:
    with np.errstate(invalid="ignore"):
        near = np.abs(a - b) <= most
    return bool((near | (np.isnan(a) & np.isnan(b))).all())


def new_faults(written: Program, original: Program) -> list[str]:
    """Return messages of the reader's errors and warnings that the original does not have."""
    known = {(f.code, f.level) for f in original.findings}
    return [
        f.message for f in written.findings if f.level != "note" and (f.code, f.level) not in known
    ]


@dataclass(frozen=True, slots=True)
class Difference:
    """How two surfaces differ: cells, and the widest of them with its place, mm."""

    cells: int
    most: float = 0.0
    at: tuple[float, float] | None = None


def difference(one: Surface, other: Surface) -> Difference:
    """Compare two surfaces of the same blank cell by cell."""
    cells, most = 0, 0.0
    at: tuple[float, float] | None = None
    for (first, a), (_, b) in zip(one.strips(), other.strips(), strict=True):
        unlike = a != b
        if not unlike.any():
            continue
        cells += int(unlike.sum())
        gap = np.abs(a.astype(np.float64) - b)
        iy, ix = np.unravel_index(int(gap.argmax()), gap.shape)
        if gap[iy, ix] > most:
            most = float(gap[iy, ix])
            x, y = one.origin
            at = (x + float(ix) * one.cell, y + (first + float(iy)) * one.cell)
    return Difference(cells, most, at)
