"""One place of a pass that lies elsewhere than in all the other passes: a slip in a coordinate.

Passes of an outline, a pocket or a slot go through the same places level by level. Where the path
comes from one place and goes on to another again and again, and between them it is at one and the
same third place each time but once, and that once one coordinate differs, it was mistyped: a minus
lost, digits swapped, a point moved. The depth is right there, so that nothing else may tell.

Of two passes alone either could be right. There the two numbers must be alike as a slip makes them,
and the odd one must be nowhere else in the stage, where the other one comes again.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import MOST_PLACES, StageContext
from dryrun.checks.rounds import Points
from dryrun.checks.ways import LEVEL, OTHER, SAME, Rows, between, in_line, keys_of, sideways
from dryrun.finding import Finding
from dryrun.gcode.state import INCH
from dryrun.motion import Motion

#: Passes that are compared, at least; of two alone the numbers must be alike, too.
TWO: Final = 2
#: Times that a number comes again for each time that one like it is found, where two passes differ.
COMES_AGAIN: Final = 2
#: Groups of ways that are looked at, at most.
MOST_GROUPS: Final = 5000


class Unlike(NamedTuple):
    """The row that goes to the odd place or starts there, whether it starts, which axis, where."""

    row: int
    starts: bool
    axis: int
    own: float
    usual: float
    passes: int


class _Ways(NamedTuple):
    """Stretches of the path: the row, the places at its ends, those between, whether level."""

    row: Rows
    ends: NDArray[np.float64]
    places: NDArray[np.float64]
    level: NDArray[np.bool_]


class _Numbers:
    """The coordinates of a stage as they are written, and how often each comes."""

    def __init__(self, places: Points, grain: float) -> None:
        self._grain = grain
        self._sorted = np.sort(places, axis=0)

    def odd_of_two(self, places: NDArray[np.float64]) -> int | None:
        """Tell which of two passes has the number that is nowhere else, if they are alike."""
        away = np.abs(places[0] - places[1]).max(axis=0)
        axis = int(np.argmax(away))
        if away[axis] <= OTHER:
            return None
        values = [float(v) for v in places[:, 0, axis]]
        own = places.shape[1]
        for rare in range(TWO):
            if self.is_slip(axis, values[rare], values[1 - rare], own, COMES_AGAIN * own):
                return rare
        return None

    def is_slip(self, axis: int, value: float, usual: float, own: int, others: int) -> bool:
        """Tell whether a coordinate that comes `own` times looks like another one mistyped.

        The two differ as a slip makes them; that one is nowhere else, and the other comes more
        often than `others`.
        """
        if not _slip(value / self._grain, usual / self._grain):
            return False
        either = abs(value + usual) > SAME
        found = self._count(axis, value, either)
        return found <= own and self._count(axis, usual, either) > others

    def _count(self, axis: int, value: float, either_sign: bool) -> int:
        """Return how often a coordinate comes, on either side of zero if asked."""
        column = self._sorted[:, axis]
        sides = {value, -value} if either_sign else {value}
        return sum(
            int(np.searchsorted(column, v + SAME) - np.searchsorted(column, v - SAME))
            for v in sides
        )


def _slip(one: float, other: float) -> bool:
    """Tell whether two numbers differ by a sign, a place of the point, or two digits swapped."""
    small, large = sorted((abs(one), abs(other)))
    if small < SAME:
        return False
    if large - small < 1e-4:
        return one * other < 0
    if one * other < 0:
        return False
    if abs(large - 10 * small) < 1e-3:
        return True
    written = [f"{v:.4f}".rstrip("0").replace(".", "") for v in (small, large)]
    return len(written[0]) == len(written[1]) and sorted(written[0]) == sorted(written[1])


def passes_unlike(context: StageContext) -> Iterator[Finding]:
    """Report places that lie elsewhere in one pass than in all others."""
    motion = context.motion
    grain = INCH if context.program.state.modal.get("units") == "G20" else 1.0
    for found in itertools.islice(unlike(motion, grain), MOST_PLACES):
        letter = "XY"[found.axis]
        verb = "starts at" if found.starts else "goes to"
        one = found.passes == 1
        others = "1 other pass that is" if one else f"{found.passes} other passes that are"
        yield context.finding(
            "odd-pass",
            f"this pass {verb} {letter} {context.mm(round(found.own, 3))}; {others} else the same "
            f"here {'has' if one else 'have'} {letter} {context.mm(round(found.usual, 3))}",
            row=found.row,
            letters=letter,
            at=motion.start[found.row] if found.starts else motion.end[found.row],
            value=found.own,
            limit=found.usual,
            unit="mm",
        )


def unlike(motion: Motion, grain: float = 1.0) -> Iterator[Unlike]:
    """Yield the odd places, first those on the way, then those where a pass starts.

    `grain` is the program's unit, mm, in which numbers are compared as they are written.
    """
    rows = sideways(motion)
    if len(rows) <= 2 * TWO:
        return
    numbers = _Numbers(motion.end[rows, :2], grain)
    level = np.abs(motion.end[:, 2] - motion.start[:, 2]) < LEVEL
    start, end = motion.start[:, :2], motion.end[:, :2]
    run = np.cumsum(~motion.cutting)[rows]
    begins = np.append(True, run[1:] != run[:-1])
    for more in (1, 2):  # a word that is not written again holds for the next place, too
        one = rows[:-more][run[:-more] == run[more:]]
        first = begins[:-more][run[:-more] == run[more:]]
        way = [rows[k : len(rows) - more + k][run[:-more] == run[more:]] for k in range(more + 1)]
        places = np.stack([end[k] for k in way[:-1]], axis=1)
        ends = np.column_stack([start[one], end[way[-1]]])
        yield from _odd(_Ways(one, ends, places, level[one]), False, numbers)
        way = [k[first] for k in way]
        places = np.stack([start[k] for k in way[:more]], axis=1)
        ends = np.column_stack([end[way[more - 1]], end[way[more]]])
        yield from _odd(_Ways(way[0], ends, places, level[way[0]]), True, numbers)


def _odd(way: _Ways, starts: bool, numbers: _Numbers) -> Iterator[Unlike]:
    found = []
    for alike in _unlike_groups(way):
        found += list(_one_odd(way, alike, starts, numbers))
    yield from sorted(found)


def _unlike_groups(way: _Ways) -> Iterator[Rows]:
    """Yield which ways have the same ends and not all the same places, in program order each."""
    key = keys_of(way.ends)
    order = np.argsort(key, kind="stable")
    same = key[order][1:] == key[order][:-1]
    moved = (np.abs(np.diff(way.places[order], axis=0)) > SAME).any(axis=(1, 2))
    group = np.append(0, np.cumsum(~same))
    wanted = np.unique(group[1:][same & moved])[:MOST_GROUPS]
    first, last = (np.searchsorted(group, wanted, side) for side in ("left", "right"))
    for a, b in zip(first, last, strict=True):
        yield order[a:b]


def _one_odd(way: _Ways, alike: Rows, starts: bool, numbers: _Numbers) -> Iterator[Unlike]:
    """Yield the single way among those with the same ends whose places are not the others'."""
    places = way.places[alike]
    if len(alike) == TWO:
        at = numbers.odd_of_two(places)
    else:
        off = (np.abs(places - np.median(places, axis=0)) > SAME).any(axis=(1, 2))
        at = int(np.flatnonzero(off)[0]) if off.sum() == 1 else None
    if at is None:
        return
    k = int(alike[at])
    usual = np.median(np.delete(places, at, axis=0), axis=0)
    own = way.places[k]
    away = np.abs(own - usual)
    axis = int(np.argmax(away.max(axis=0)))
    one_word = (away[:, axis] > OTHER).all() and (away[:, 1 - axis] <= SAME).all()
    one_word &= np.ptp(own[:, axis]) <= SAME and np.ptp(usual[:, axis]) <= SAME
    value = float(own[0, axis]), float(usual[0, axis])
    sure = len(alike) == TWO or 0 < at < len(alike) - 1
    sure = sure or numbers.is_slip(axis, *value, len(own), len(own))
    if not one_word or _meant(way, k, own, usual, starts, sure):
        return
    yield Unlike(int(way.row[k]), starts, axis, *value, len(alike) - 1)


def _meant(way: _Ways, k: int, own: Points, usual: Points, starts: bool, sure: bool) -> bool:
    """Tell whether a way may be meant: short on a straight way, a longer ramp, or a step.

    A first or last pass of several whose whole side lies elsewhere makes a step in the wall, unless
    it lies as far on the other side of zero or its number looks mistyped.
    """
    if len(own) > 1:
        mirrored = bool(np.abs(np.abs(own) - np.abs(usual)).max() <= SAME)
        return not sure and not mirrored
    one, other = way.ends[k, :2], way.ends[k, 2:]
    ends = (one,) if starts else (one, other)
    straight = starts or in_line(one, usual[0], other)
    if straight and any(between(own[0], usual[0], end) for end in ends):
        return True
    return straight and not way.level[k] and any(between(usual[0], own[0], end) for end in ends)
