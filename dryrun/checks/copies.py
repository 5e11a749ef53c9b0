"""One copy of a shape that differs from the others at one place: a slip in one of its lines.

A job cuts the same slot, pocket or outline at several places. Where two stretches of the path or
more are alike, seen from where each begins, and another one is like them but for one coordinate,
or but for one move that is left out, that line was mistyped or lost. A shape that is meant to be
longer or wider differs at several places, for the path comes by there again and again. One that is
deeper may be meant, so that a depth counts for one move alone.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import MOST_PLACES, StageContext
from dryrun.finding import Finding
from dryrun.motion import ARC, Motion

#: Coordinates that are one, mm.
SAME: Final = 0.02
#: A coordinate that is another one differs by more, mm.
OTHER: Final = 0.1
#: Moves of a shape, at least, at most.
LEAST: Final = 4
MOST: Final = 2000
#: Copies of a shape besides the odd one, at least.
COPIES: Final = 2
#: Shapes that are compared with each other, at most, and stretches in all: more make a texture.
SHAPES: Final = 300
STRETCHES: Final = 3000

Keys = NDArray[np.int64]


class Differs(NamedTuple):
    """The row that goes elsewhere, or before which one is lost; which coordinate is off, if one is.

    `own` and `usual` are seen from where the copies begin, mm, but for Z; `copies` are the others.
    """

    row: int
    axis: int | None
    own: float
    usual: float
    copies: int


class _Shape(NamedTuple):
    """Rows of a stretch, and of each its kind, where it ends and its centre, in SAMEs."""

    rows: NDArray[np.intp]
    keys: Keys


def copies_differ(context: StageContext) -> Iterator[Finding]:
    """Report the places at which one copy of a shape differs from all others."""
    motion = context.motion
    stock = context.job.stock
    top = None if stock is None else stock.top
    for found in itertools.islice(differing(motion, top), MOST_PLACES):
        shape = f"a shape that is cut {found.copies + 1} times"
        if found.axis is None:
            letters = "XYZ"
            text = f"{shape} lacks a move here, before this one, which the other copies have"
        else:
            letters = "XYZ"[found.axis]
            off = context.mm(round(abs(found.own - found.usual), 3))
            does = "goes" if motion.cutting[found.row] else "begins"
            text = f"{shape} {does} {off} elsewhere in {letters} here than in all other copies"
        yield context.finding(
            "odd-pass",
            text,
            row=found.row,
            letters=letters,
            at=motion.end[found.row],
            value=found.own,
            limit=found.usual,
            unit="mm",
            help="compare this line with the like one of another copy",
        )


def differing(motion: Motion, top: float | None = None) -> Iterator[Differs]:
    """Yield the copy that differs from the others at one place; more than one are no slip.

    `top` is that of the blank, mm: a copy that runs above it takes nothing.
    """
    groups: defaultdict[bytes, list[_Shape]] = defaultdict(list)
    for shape in _shapes(motion):
        groups[shape.keys.tobytes()].append(shape)
    if len(groups) > SHAPES:
        return
    usual = [group for group in groups.values() if len(group) >= COPIES]
    single = [group[0] for group in groups.values() if len(group) == 1]
    found = []
    for shape in single:
        near = [d for group in usual if (d := _compare(shape, group, top)) is not None]
        if len(near) == 1:
            found.append(_begun(motion, shape, near[0]) if near[0].row < 0 else near[0])
    if len(found) == 1:
        yield found[0]


def _begun(motion: Motion, shape: _Shape, found: Differs) -> Differs:
    """Return the row that goes to where a shape begins, in place of none."""
    rows = np.arange(max(int(shape.rows[0]) - 6, 0), int(shape.rows[0]))
    aside = np.abs(motion.end[rows, :2] - motion.start[rows, :2]).max(axis=1, initial=0.0) > SAME
    row = int(rows[aside][-1]) if aside.any() else int(shape.rows[0])
    return found._replace(row=row, own=found.usual - found.own, usual=0.0)


def _shapes(motion: Motion) -> Iterator[_Shape]:
    """Yield the stretches between lifts, as seen from where each begins; Z as it is."""
    known = np.isfinite(motion.start).all(axis=1) & np.isfinite(motion.end).all(axis=1)
    rows = np.flatnonzero(motion.cutting & known)
    if not len(rows):
        return
    centre = np.where((motion.kind == ARC)[:, None], motion.centre[:, :2], np.nan)
    breaks = np.flatnonzero(np.diff(rows) > 1) + 1
    for stretch in np.split(rows, breaks) if len(breaks) < STRETCHES else []:
        if not LEAST <= len(stretch) <= MOST:
            continue
        begin = np.append(motion.start[stretch[0], :2], 0.0)
        places = np.column_stack([motion.end[stretch] - begin, centre[stretch] - begin[:2]])
        keys = np.rint(np.nan_to_num(places, nan=1e6) / SAME).astype(np.int64)
        yield _Shape(stretch, np.column_stack([motion.kind[stretch].astype(np.int64), keys]))


def _compare(shape: _Shape, group: list[_Shape], top: float | None) -> Differs | None:
    """Return the one place at which a shape differs from the copies of another, if it is one."""
    one, other = shape.keys, group[0].keys
    if len(one) == len(other):
        return _moved(shape, other, len(group), top)
    if len(one) + 1 != len(other):
        return None
    differs = (one != other[:-1]).any(axis=1)
    first = int(np.argmax(differs)) if differs.any() else len(one)
    if first == len(one) or (one[first:] != other[first + 1 :]).any():
        return None
    return Differs(int(shape.rows[first]), None, 0.0, 0.0, len(group))


def _moved(shape: _Shape, other: Keys, copies: int, top: float | None) -> Differs | None:
    """Return the row at which one coordinate is another one, there alone or from there on."""
    off = shape.keys - other
    rows, columns = np.nonzero(np.abs(off) > 1)
    if not len(rows):
        return None
    column, first = int(columns[0]), int(rows[0])
    alone = len(rows) == 1
    goes_on = len(rows) == len(off) - first and column != 3 and first > 0
    if column == 3 and first == 0 and top is not None:
        cuts = np.flatnonzero(other[:, 3] * SAME < top - SAME)
        in_air = bool((shape.keys[:, 3] * SAME > top - SAME).all())
        goes_on = in_air and len(cuts) > 0 and bool(np.isin(cuts, rows).all())
    if column not in (1, 2, 3) or (columns != column).any() or not (alone or goes_on):
        return None
    shift = off[rows, column]
    if shift.max() - shift.min() > 1 or abs(int(shift[0])) * SAME <= OTHER:
        return None
    own = float(shape.keys[first, column] * SAME)
    usual = float(other[first, column] * SAME)
    row = int(shape.rows[first])
    if goes_on and column != 3 and not shape.keys[:first, 1:3].any():
        row = -1  # all of it: it begins elsewhere
    return Differs(row, column - 1, own, usual, copies)
