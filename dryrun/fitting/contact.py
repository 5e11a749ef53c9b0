"""Where a ball touches a relief: points laid evenly on a surface give the ball away.

A ball of radius R that touches a surface with the unit normal n at the point c has its centre at
c + R n and its tip R below that. The surface of all tips is parallel to the relief, so its slope at
the tip is the slope at the point of contact. Programs that step evenly over the relief therefore
step unevenly with the tip: with an even step s along a row, and rows that are straight on the
relief,

    tip along the row  = first + i s - R p / sqrt(1 + p2 + q2)
    tip beside the row =          b  - R q / sqrt(1 + p2 + q2)

where p and q are the slopes along and across (elementary geometry of parallel surfaces). Both are
linear in R. A path that is even in the tip itself fits R = 0 and says nothing about the ball.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from dryrun.fitting.strokes import Floats, Ints, Strokes

#: Rows are looked at up to this many, and each needs so many pieces.
MOST_ROWS: Final = 60
FEWEST: Final = 10

#: A row ends where the path turns by more than this, cosine.
TURNS: Final = np.cos(np.radians(50.0))

#: Unevenness that is only rounding, mm; and what an even contact must leave of the rest.
ROUNDING: Final = 0.004
LEFT: Final = 0.12


@dataclass(frozen=True, slots=True)
class Contact:
    """A ball that makes the points of contact even.

    Attributes
    ----------
    radius : mm
    spread : standard error of it, with a floor for the slopes, mm
    """

    radius: float
    spread: float


def contact_of(strokes: Strokes) -> Contact | None:
    """Find the radius that makes points of contact even; None when none does."""
    rows = _rows(strokes)
    if len(rows) < 3:
        return None
    found = [f for f in (_solve(*_along(rows)), _solve(*_beside(rows))) if f is not None]
    return min(found, key=lambda c: c.spread, default=None)


def _rows(strokes: Strokes) -> list[Floats]:
    """Return (m, 3) places along each row in its own frame: along, beside, height."""
    run, step = strokes.run, strokes.step
    with np.errstate(divide="ignore", invalid="ignore"):
        unit = step[:, :2] / run[:, None]
        dot = (unit[1:] * unit[:-1]).sum(axis=1)
    joined = (dot > TURNS) & (np.diff(strokes.chain) == 0)
    joined &= np.abs(strokes.start[1:] - strokes.end[:-1]).max(axis=1) < 1e-6
    first = np.flatnonzero(np.concatenate([[True], ~joined]))
    last = np.append(first[1:] - 1, len(strokes) - 1)
    long = np.flatnonzero(last - first + 1 >= FEWEST)
    if len(long) > MOST_ROWS:
        middle = (len(long) - MOST_ROWS) // 2
        long = long[middle : middle + MOST_ROWS]
    if not len(long):
        return []
    span = strokes.end[last[long], :2] - strokes.start[first[long], :2]
    # Rows go to and fro: the angle is doubled so that both ways are one.
    angle = np.arctan2(span[:, 1], span[:, 0])
    main = np.angle((np.exp(2j * angle) * np.hypot(*span.T)).sum()) / 2
    c, s = np.cos(main), np.sin(main)
    turn = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    found = []
    for b, e in zip(first[long], last[long], strict=True):
        places = np.vstack([strokes.start[b : e + 1], strokes.end[e : e + 1]]) @ turn
        places = places if places[-1, 0] > places[0, 0] else places[::-1]
        if np.all(np.diff(places[:, 0]) > 1e-4):
            found.append(places)
    return found


def _slopes(rows: list[Floats], k: int) -> tuple[Floats, Floats]:
    """Return slopes along and across at the places of row k; NaN where there is no neighbour."""
    u, _, z = rows[k].T
    along = np.gradient(z, u)
    across = np.full(len(u), np.nan)
    if 0 < k < len(rows) - 1:
        sides = []
        for other in (rows[k - 1], rows[k + 1]):
            inside = (u >= other[0, 0]) & (u <= other[-1, 0])
            sides.append(
                [np.where(inside, np.interp(u, other[:, 0], other[:, j]), np.nan) for j in (1, 2)]
            )
        wide = sides[1][0] - sides[0][0]
        with np.errstate(divide="ignore", invalid="ignore"):
            across = (sides[1][1] - sides[0][1]) / np.where(np.abs(wide) > 1e-3, wide, np.nan)
    return along, across


def _along(rows: list[Floats]) -> tuple[Floats, Floats]:
    """Return (unevenness of the tip along the rows, what it would be for a radius of one)."""
    off: list[Floats] = []
    lean: list[Floats] = []
    for k in range(1, len(rows) - 1):
        p, q = _slopes(rows, k)
        sine = p / np.sqrt(1 + p * p + np.nan_to_num(q) ** 2)
        inner = slice(1, -1)
        number: Ints = np.arange(len(p))[inner]
        _detrend(rows[k][inner, 0], sine[inner], number, off, lean)
    return _joined(off), _joined(lean)


def _beside(rows: list[Floats]) -> tuple[Floats, Floats]:
    """Return (how far the tip is beside its row, what it would be for a radius of one)."""
    off: list[Floats] = []
    lean: list[Floats] = []
    for k in range(1, len(rows) - 1):
        p, q = _slopes(rows, k)
        known = np.isfinite(q)
        known[[0, -1]] = False
        if known.sum() >= FEWEST - 2:
            sine = (q / np.sqrt(1 + p * p + q * q))[known]
            _detrend(rows[k][known, 1], sine, None, off, lean)
    return _joined(off), _joined(lean)


def _detrend(
    place: Floats, sine: Floats, number: Ints | None, off: list[Floats], lean: list[Floats]
) -> None:
    """Take a row's own offset (and even step) out of both columns, so that all rows add up."""
    columns = [np.ones(len(place))] + ([] if number is None else [number.astype(np.float64)])
    system = np.column_stack(columns)
    both = np.column_stack([place, -sine])
    solution, *_ = np.linalg.lstsq(system, both, rcond=None)
    left = both - system @ solution
    off.append(left[:, 0])
    lean.append(left[:, 1])


def _joined(parts: list[Floats]) -> Floats:
    return np.concatenate(parts) if parts else np.zeros(0)


def _solve(off: Floats, lean: Floats) -> Contact | None:
    """Least squares for the radius; None unless it explains the unevenness."""
    if len(off) < 4 * FEWEST:
        return None
    square = float(lean @ lean)
    before = float(np.sqrt((off * off).mean()))
    if before < 2 * ROUNDING or square <= 0:
        return None
    radius = float(off @ lean) / square
    left = off - radius * lean
    after = float(np.sqrt((left * left).mean()))
    if radius <= 0 or after**2 > LEFT * before**2:
        return None
    spread = float(np.hypot(after / np.sqrt(square), 0.02 * radius + 0.1 * after))
    return Contact(radius, spread)
