"""A hole beside the pattern that all the others make: a slip in the coordinate of one hole.

Holes stand in rows and columns, or evenly on a circle. Where one hole has a coordinate of its own,
and the pattern lacks just the hole that would be there with another number, that number was
mistyped. Holes are drilled, or bored in rings about one centre.

Where the pattern lacks one hole and no other stands beside it, a line was lost.

Of two rows that differ in one hole either could be right. There the one is odd without which both
rows stand evenly, or about the middle of the blank; where that does not tell, nothing is said.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import MOST_PLACES, StageContext
from dryrun.checks.rounds import full_circles
from dryrun.finding import Finding
from dryrun.gcode.state import INCH
from dryrun.motion import ARC, Motion

#: Places that are one, mm.
SAME: Final = 0.02
#: Holes that make a pattern, at least; on a circle one more.
LEAST: Final = 4
#: With more holes the search takes long, and a pattern is hard to tell; on a circle sooner.
MOST: Final = 2000
MOST_ROUND: Final = 120
#: A pattern without a hole that was lost has so many others, in rows and columns or on a circle.
WHOLE: Final = 7
WHOLE_ROUND: Final = 5
#: A hole is at least so deep, mm.
DEEP: Final = 0.1

Places = NDArray[np.float64]


class Hole(NamedTuple):
    """The row that goes to a hole, and its middle, mm."""

    row: int
    place: tuple[float, float]


class Odd(NamedTuple):
    """The row that goes to the odd hole, which coordinate is off, what it is and what fits, mm."""

    row: int
    axis: int
    own: float
    fits: float
    others: int
    round: bool


def holes_off(context: StageContext) -> Iterator[Finding]:
    """Report holes beside the rows and columns, or the circle, of all the others."""
    stock, motion = context.job.stock, context.motion
    middle = None
    if stock is not None:
        middle = np.array([(a + b) / 2 for a, b in zip(stock.low, stock.high, strict=True)])[:2]
    for found in itertools.islice(odd_holes(motion, middle), MOST_PLACES):
        letter = "XY"[found.axis]
        where = "on the circle" if found.round else "in the rows and columns"
        yield context.finding(
            "odd-pass",
            f"this hole is at {letter} {context.mm(round(found.own, 3))}; {where} of the "
            f"{found.others} others just the one at {letter} {context.mm(round(found.fits, 3))} is "
            "missing",
            row=found.row,
            letters=letter,
            at=motion.end[found.row],
            value=found.own,
            limit=found.fits,
            unit="mm",
            help=f"compare this {letter} with those of the other holes",
        )


def hole_lost(context: StageContext) -> Iterator[Finding]:
    """Report the one hole that a pattern of holes lacks."""
    holes = holes_of(context.motion)
    found = lost_hole(holes)
    if found is None:
        return
    after, place = found
    x, y = (context.mm(round(float(v), 3)) for v in place)
    yield context.finding(
        "odd-pass",
        f"the {len(holes)} holes of this stage lack one at X {x} Y {y} to stand evenly",
        row=holes[after].row,
        letters="XY",
        at=(float(place[0]), float(place[1]), context.stock.top),
        help="a line before this one, or a word of it, may be lost",
    )


def lost_hole(holes: list[Hole]) -> tuple[int, Places] | None:
    """Return the hole before which one is lost in the program, and the place that is empty."""
    if len(holes) < WHOLE_ROUND:
        return None
    places = np.array([hole.place for hole in holes])
    place = _empty(places) if len(holes) >= WHOLE else None
    if place is None and len(holes) <= MOST_ROUND:
        vacant = _vacant(places)
        place = None if vacant is None else vacant[0]
    if place is None:
        return None
    return min(_where(places, place), len(holes) - 1), place


def _where(places: Places, place: Places) -> int:
    """Return which hole would come after a lost one, by the way from hole to hole."""
    step = np.diff(places, axis=0)
    along = int((np.abs(step[:, 0]) <= SAME).sum() > (np.abs(step[:, 1]) <= SAME).sum())
    row = np.flatnonzero(np.abs(places[:, 1 - along] - place[1 - along]) <= SAME)
    if len(row) > 1 and row[-1] - row[0] == len(row) - 1:  # rows one after another
        value = places[row, along]
        rises = value[-1] > value[0]
        before = value < place[along] if rises else value > place[along]
        return int(row[0] + before.sum())
    way = np.hypot(*step.T)
    off = np.hypot(*(places - place).T)
    detour = np.append(off[:-1] + off[1:] - way, off[-1] - np.median(way))
    return int(np.argmin(detour)) + 1


def _empty(places: Places) -> Places | None:
    """Return the one place at which rows and columns of holes lack one."""
    keys = np.rint(places / SAME).astype(np.int64)
    across, up = np.unique(keys[:, 0]), np.unique(keys[:, 1])
    if len(across) * len(up) != len(keys) + 1 or min(len(across), len(up)) < 2:
        return None
    there = {tuple(key) for key in keys.tolist()}
    empty = [key for key in itertools.product(across.tolist(), up.tolist()) if key not in there]
    return np.array(empty[0]) * SAME if len(empty) == 1 else None


def odd_holes(motion: Motion, middle: Places | None = None) -> Iterator[Odd]:
    """Yield the holes beside their pattern; `middle` is that of the blank, mm."""
    holes = holes_of(motion)
    if len(holes) < LEAST:
        return
    places = np.array([hole.place for hole in holes])
    on_circle = _beside_circle(places) if LEAST < len(holes) <= MOST_ROUND else None
    if on_circle is not None:
        found = [on_circle]
    else:
        found = [f for axis in (0, 1) for f in _beside_rows(places, axis, middle)]
    if len(found) != 1:
        return
    k, axis, fits = found[0]
    own = float(places[k, axis])
    yield Odd(holes[k].row, axis, own, fits, len(holes) - 1, on_circle is not None)


def holes_of(motion: Motion) -> list[Hole]:
    """Return the holes that are drilled or bored, once for each place; none of too many."""
    step = motion.end - motion.start
    # the first move comes from nobody knows where
    still = np.hypot(step[:, 0], step[:, 1]) <= 1e-6
    circle = full_circles(motion)
    aside = np.isfinite(motion.end[:, :2]).all(axis=1) & motion.moving & ~still | circle
    down = np.where(motion.cutting & (step[:, 2] < -1e-6), -step[:, 2], 0.0)
    moves = np.flatnonzero(aside & ~motion.cutting)
    if not len(moves):
        return []
    # what lies between one move over the work and the next
    deep, sideways, circles = (np.add.reduceat(v, moves) for v in (down, aside * 1, circle * 1))
    able = np.flatnonzero((deep >= DEEP) & ((sideways == 1) | (circles > 0)))
    found: dict[tuple[int, int], Hole] = {}
    for k in able if len(able) <= MOST else []:
        first, last = int(moves[k]), int(moves[k + 1]) if k + 1 < len(moves) else len(motion)
        place = motion.end[first, :2]
        if sideways[k] > 1:
            bored = _bored(motion, np.flatnonzero(aside[first + 1 : last]) + first + 1)
            if bored is None:
                continue
            place = bored
        key = (round(float(place[0]) / SAME), round(float(place[1]) / SAME))
        found.setdefault(key, Hole(first, (float(place[0]), float(place[1]))))
    return list(found.values())


def _bored(motion: Motion, rows: NDArray[np.intp]) -> Places | None:
    """Return the centre that all circles of a stretch go round, if they go round one."""
    arcs = rows[motion.kind[rows] == ARC]
    centre = motion.centre[arcs[0], :2]
    radius = float(np.hypot(*(motion.start[arcs, :2] - centre).T).max())
    within = np.hypot(*(motion.end[rows, :2] - centre).T) <= radius + SAME
    one = np.abs(motion.centre[arcs, :2] - centre) < SAME
    return centre if bool(within.all() and one.all()) else None


def _beside_rows(
    places: Places, axis: int, middle: Places | None
) -> Iterator[tuple[int, int, float]]:
    """Yield holes whose coordinate is off: which, the axis, and the coordinate that fits.

    Rows are holes that share the other coordinate.
    """
    values = np.rint(places[:, axis] / SAME).astype(np.int64)
    line = np.rint(places[:, 1 - axis] / SAME).astype(np.int64)
    rows = {int(v): frozenset(values[line == v].tolist()) for v in np.unique(line)}
    count = dict(zip(*np.unique(values, return_counts=True), strict=True))
    for k in np.flatnonzero([count[v] == 1 for v in values]):
        own, mine = int(values[k]), rows[int(line[k])]
        rest = mine - {own}
        like = [
            row for v, row in rows.items() if v != line[k] and rest < row and len(row) == len(mine)
        ]
        missing = {v for row in like for v in row - rest}
        if not rest or len(missing) != 1:
            continue
        fits = missing.pop()
        centre = None if middle is None else float(middle[axis]) / SAME
        if len(like) == 1 and not _more_even(rest | {fits}, mine, centre):
            continue
        if len(rest) == 1 and not mistyped(own * SAME, fits * SAME):
            continue
        yield int(k), axis, fits * SAME


def mistyped(own: float, fits: float) -> bool:
    """Tell whether one slip of the fingers makes one number of the other, in mm or in inches.

    A sign, the point, a digit left out, put in twice or changed, or two digits swapped.
    """
    return any(_one_slip(own / unit, fits / unit) for unit in (1.0, INCH))


def _one_slip(own: float, fits: float) -> bool:
    if (own < 0) != (fits < 0) and abs(own + fits) > SAME:
        return False
    one, other = (f"{abs(v):.2f}".rstrip("0").rstrip(".") for v in (own, fits))
    if one.replace(".", "").strip("0") == other.replace(".", "").strip("0"):
        return True
    if len(one) == len(other):
        differs = [k for k in range(len(one)) if one[k] != other[k]]
        swapped = len(differs) == 2 and sorted(one) == sorted(other)
        return len(differs) == 1 or (swapped and differs[1] - differs[0] == 1)
    long, short = (one, other) if len(one) > len(other) else (other, one)
    return any(long[:k] + long[k + 1 :] == short for k in range(len(long)))


def _more_even(one: frozenset[int], other: frozenset[int], middle: float | None) -> bool:
    """Tell whether one row stands evenly or about the middle, and the other does neither."""
    return _even(one, middle) and not _even(other, middle)


def _even(row: frozenset[int], middle: float | None) -> bool:
    values = np.array(sorted(row))
    gaps = np.diff(values)
    if len(gaps) > 1 and gaps.max() - gaps.min() <= 1:
        return True
    return middle is not None and bool((np.abs(values + values[::-1] - 2 * middle) <= 1).all())


def _beside_circle(places: Places) -> tuple[int, int, float] | None:
    """Return the one hole without which all others stand evenly on a circle that lacks one.

    Besides them there may be one in the middle.
    """
    central = int(np.argmin(np.hypot(*(places - places.mean(axis=0)).T)))
    for others in (np.arange(len(places)), np.delete(np.arange(len(places)), central)):
        found = list(_off_circle(places, others))
        if len(found) == 1:
            return found[0]
    return None


def _off_circle(places: Places, others: NDArray[np.intp]) -> Iterator[tuple[int, int, float]]:
    for k in others:
        rest = others[others != k]
        vacant = _vacant(places[rest]) if len(rest) >= LEAST else None
        if vacant is None:
            continue
        off = np.abs(places[k] - vacant[0]) > SAME
        at_centre = bool((np.abs(places[k] - vacant[1]) <= SAME).all())
        if int(off.sum()) == 1 and not at_centre:
            axis = int(np.argmax(off))
            yield int(k), axis, float(vacant[0][axis])


def _vacant(places: Places) -> tuple[Places, Places] | None:
    """Return the place that holes, even on a circle else, leave free there, and their centre."""
    system = np.column_stack([2.0 * places, np.ones(len(places))])
    solved, _, rank, _ = np.linalg.lstsq(system, (places**2).sum(axis=1), rcond=None)
    if rank < 3:
        return None
    centre = solved[:2]
    off = places - centre
    radius = float(np.hypot(*off.T).mean())
    if radius > 1e5 or np.abs(np.hypot(*off.T) - radius).max() > SAME:
        return None
    angle = np.sort(np.arctan2(off[:, 1], off[:, 0]))
    gaps = np.diff(angle, append=angle[0] + 2.0 * math.pi)
    part = 2.0 * math.pi / (len(places) + 1)
    wide = np.abs(gaps - 2.0 * part) * radius < 2.0 * SAME
    if int(wide.sum()) != 1 or (np.abs(gaps[~wide] - part) * radius > 2.0 * SAME).any():
        return None
    at = float(angle[int(np.argmax(wide))]) + part
    return centre + radius * np.array([math.cos(at), math.sin(at)]), centre
