"""Circles that lie on the other side of their start: a sign of I or J that was lost.

A full circle closes round any centre, so the reader cannot tell. What tells is the company: turns
of a bore, rings of a pocket and the same circle at other depths share one centre; leads run into a
circle without turning back; a wall is finished where a round floor was cleared; holes of a pattern
start alike and stand at distances that come again. Each full circle is compared with those its
start would have with I, or J, of the other sign.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.astray import rings_astray
from dryrun.checks.bulged import arcs_bulged
from dryrun.checks.context import MOST_PLACES, TOUCH, StageContext
from dryrun.checks.maps import Mask
from dryrun.checks.rounds import SAME, Places, Points, arcs, beside, drilled, full_circles
from dryrun.checks.turned import arcs_turned
from dryrun.finding import Finding
from dryrun.motion import Motion

#: Arcs that go round the other centre, at least, ...
COMPANY: Final = 2
#: ... and so many for each that goes round this one.
COMPANY_TIMES: Final = 3
#: Rings of two stages belong together when their radii differ by less than this part.
ABOUT_AS_WIDE: Final = 0.25

#: Cosines of a path that goes on along a circle, and of one that turns off it.
ALONG: Final = 0.98
TURNS: Final = 0.9

#: Circles that are run into smoothly, for each that is not; else it is how the program is made.
SMOOTH_TIMES: Final = 3

#: Holes that start alike, at least, and distances between them that the other centre repeats.
ALIKE: Final = 2
REPEATED: Final = 2
#: ... for each that this centre repeats.
PATTERN_TIMES: Final = 3

#: A floor that was cleared before a wall is finished: at most so much higher, and its wall so far
#: out, mm, ...
FLOOR_ALLOWANCE: Final = 1.0
#: ... uncut on this part of the way round, which is looked at in so many places.
FLOOR_AROUND: Final = 0.8
_SPOKES: Final = 32

_RUNS_ON: Final = "the path before and after it runs on without turning back"

#: Patterns of more holes are not looked at, for each is compared with each; nor more suspects.
MOST_HOLES: Final = 400
MOST_SUSPECTS: Final = 500


@dataclass(frozen=True, slots=True)
class Suspect:
    """A full circle, the letter whose sign is in doubt, its two centres, what speaks for that."""

    row: int
    letter: str
    own: tuple[float, float]
    other: tuple[float, float]
    why: str
    turns_back: bool


def circle_flipped(context: StageContext) -> Iterator[Finding]:
    """Report full circles whose company goes round the centre on the other side of their start.

    And arcs that turn the wrong way, G2 for G3, or are unlike their company.
    """
    yield from arcs_turned(context)
    yield from arcs_bulged(context)
    yield from rings_astray(context)
    motion = context.motion
    told: dict[tuple[int, int], list[Suspect]] = {}
    for suspect in _one_of_two(_suspects(context)):
        place = int(motion.source[suspect.row]), int(motion.line[suspect.row])
        told.setdefault(place, []).append(suspect)
    for suspects in itertools.islice(told.values(), MOST_PLACES):
        first = suspects[0]
        (x, y), (ox, oy) = first.own, first.other
        yield context.finding(
            "circle-flipped",
            f"this circle goes round X {context.mm(round(x, 3))} Y {context.mm(round(y, 3))}; with "
            f"the other sign of {first.letter} it would go round X {context.mm(round(ox, 3))} "
            f"Y {context.mm(round(oy, 3))}, where {first.why}",
            row=first.row,
            letters=first.letter,
            at=motion.centre[first.row],
            value=float(np.hypot(x - ox, y - oy)),
            limit=0.0,
            unit="mm",
            count=len(suspects),
        )


def _one_of_two(suspects: Iterator[Suspect]) -> Iterator[Suspect]:
    """Of two circles in a row that suspect each other keep the one that turns back, or the later.

    One of them must be wrong, and nothing but its leads can say which.
    """
    held: Suspect | None = None
    for suspect in suspects:
        if held is None or not _same(held.other, suspect.own) or not _same(suspect.other, held.own):
            if held is not None:
                yield held
            held = suspect
        elif suspect.turns_back or not held.turns_back:
            held = suspect
    if held is not None:
        yield held


def _same(one: tuple[float, float], other: tuple[float, float]) -> bool:
    return max(abs(one[0] - other[0]), abs(one[1] - other[1])) < SAME


class _Mirrored(NamedTuple):
    """All circles with the sign of one letter changed: their centres, and what speaks for each."""

    other: Points
    company: Mask
    leads: Mask
    floor: Mask


def _suspects(context: StageContext) -> Iterator[Suspect]:
    """Yield the suspects in program order."""
    motion = context.motion
    rows = np.flatnonzero(full_circles(motion))
    if not len(rows):
        return
    company = _Company(context, rows)
    leads, pattern = _Leads(motion, rows), _Pattern(motion, rows)
    spoke = motion.centre[rows, :2] - motion.start[rows, :2]
    mirrored = []
    likely: list[tuple[int, int]] = []
    for axis in (0, 1):
        other = motion.centre[rows, :2].copy()
        other[:, axis] -= 2 * spoke[:, axis]
        floor = _round_floor(context, rows, other)
        there = _Mirrored(other, company.more(other), leads.run_on(other), floor)
        mirrored.append(there)
        able = there.company | there.leads | there.floor | pattern.likely(axis)
        able &= (np.abs(spoke[:, axis]) > SAME) & ~leads.smooth
        likely += [(int(k), axis) for k in np.flatnonzero(able)]
    seen = -1
    for k, axis in sorted(likely)[:MOST_SUSPECTS]:
        there = mirrored[axis]
        other = there.other[k]
        alone = leads.beside_circle(k) and not there.company[k]
        back = bool(there.leads[k]) and (not alone or company.vacant(k, other))
        why = _why(there, k, company) if not back else _RUNS_ON
        why = why or pattern.why(k, axis, company)
        if why and k != seen:
            seen = k
            own = motion.centre[rows[k]]
            two = (float(own[0]), float(own[1])), (float(other[0]), float(other[1]))
            yield Suspect(int(rows[k]), "IJ"[axis], *two, why, back)


def _why(there: _Mirrored, k: int, company: _Company) -> str:
    """Say what is round the other centre of a circle; "" for nothing that speaks for it."""
    other = there.other[k]
    if there.company[k] and company.vacant(k, other) and company.related(k, other):
        return company.said(other)
    return "a round floor of its size was cleared before" if there.floor[k] else ""


def _round_floor(context: StageContext, rows: NDArray[np.intp], other: Points) -> Mask:
    """Tell for each circle whether it would follow the wall of a round floor, and cuts beside it.

    All of the other circle lies on ground that was cleared so deep, all around it stands uncut, and
    of the circle itself half or more is uncut.
    """
    before, motion = context.before, context.motion
    if before is None or context.stage.bit is None or len(rows) > MOST_SUSPECTS:
        return np.zeros(len(rows), np.bool_)
    angle = np.linspace(0, 2 * np.pi, _SPOKES, endpoint=False)
    spokes = np.column_stack([np.cos(angle), np.sin(angle)])
    radius, low = motion.radii()[rows], motion.end[rows, 2]

    def heights(centre: Points, wider: float) -> NDArray[np.float32]:
        points = centre[:, None] + spokes[None] * (radius + wider)[:, None, None]
        return before.at(points.reshape(-1, 2)).reshape(len(rows), _SPOKES)

    wall = context.bit.radius + FLOOR_ALLOWANCE + 2 * before.cell
    uncut = context.stock.top - TOUCH
    deep = (heights(other, 0.0) < low[:, None] + FLOOR_ALLOWANCE).all(axis=1)
    round_: Mask = deep & (low < uncut - FLOOR_ALLOWANCE)
    round_ &= (heights(other, wall) > uncut).mean(axis=1) > FLOOR_AROUND
    round_ &= (heights(motion.centre[rows, :2], 0.0) > uncut).mean(axis=1) >= 0.5
    return round_


class _Company:
    """What goes round which centre: arcs of this stage and those before it, and drilled holes."""

    def __init__(self, context: StageContext, rows: NDArray[np.intp]) -> None:
        motion = context.motion
        every = [c.motion for c in (*context.earlier, context)]
        tables = [m.rows(arcs(m)) for m in every]
        self._centre = np.concatenate([t.centre[:, :2] for t in tables])
        self._circle = np.concatenate(
            [np.column_stack([t.radii(), t.start[:, 2], t.end[:, 2]]) for t in tables]
        )
        #: Stretch without a lift in this stage, for each arc; -1 in an earlier stage.
        self._run = np.concatenate(
            [np.full(len(t), -1) for t in tables[:-1]]
            + [np.cumsum(~motion.cutting)[arcs(motion)].astype(np.intp)]
        )
        self._own_run = np.cumsum(~motion.cutting)[rows]
        self._own = motion.centre[rows, :2]
        self._places = Places(self._centre)
        self._holes = Places(np.concatenate([drilled(m) for m in every]))
        own = motion.centre[rows, :2]
        self._holes_tell = self._one_beside_holes(own)
        self._circles = self._circle_of(motion, rows)
        self._with = self._places.count(own) - _same_line(motion, rows)
        self._with += self._holes.count(own)
        self._beside = _beside_in_time(motion, rows)

    def _one_beside_holes(self, own: Points) -> bool:
        """Tell whether all circles but one go round drilled holes."""
        centres = np.unique(np.rint(own / SAME), axis=0) * SAME
        beside = int((self._holes.count(centres) == 0).sum())
        return beside == 1 and len(centres) > ALIKE

    @staticmethod
    def _circle_of(motion: Motion, rows: NDArray[np.intp]) -> Points:
        return np.column_stack([motion.radii()[rows], motion.start[rows, 2], motion.end[rows, 2]])

    def more(self, other: Points) -> Mask:
        """Tell for each circle whether there is more company at its other centre."""
        arcs_there = self._places.count(other)
        enough = (arcs_there >= COMPANY) & (arcs_there >= COMPANY_TIMES * self._with)
        hole: Mask = (self._holes.count(other) > 0) & self._holes_tell
        for next_to in self._beside:
            hole = hole | (np.abs(next_to - other).max(axis=1) < SAME)
        return np.where(self._with == 0, enough | hole, enough)

    def said(self, other: Points) -> str:
        """Say what goes round the other centre of a circle."""
        number = int(self._places.count(other[None])[0])
        arcs_there = f"{number} other arc{'s have' if number > 1 else ' has'}"
        return f"{arcs_there} the centre" if number else "a hole is drilled"

    def vacant(self, k: int, other: Points) -> bool:
        """Tell whether no such circle, of this radius at these heights, is cut there already."""
        there = np.abs(self._centre - other).max(axis=1) < 2 * SAME
        return not (np.abs(self._circle[there] - self._circles[k]).max(axis=1) < 2 * SAME).any()

    def related(self, k: int, other: Points) -> bool:
        """Tell whether what goes round the other centre belongs with a circle; two may coincide.

        It does with its radius, in one stretch without a lift, just before or after it, or about as
        wide in an earlier stage. A drilled hole always does.
        """
        there = np.abs(self._centre - other).max(axis=1) < 2 * SAME
        wide, own = self._circle[there, 0], float(self._circles[k, 0])
        run = self._run[there]
        kin = (np.abs(wide - own) < 2 * SAME) | (run == self._own_run[k])
        kin |= (run < 0) & (np.abs(wide - own) < ABOUT_AS_WIDE * own)
        beside = self._own[max(0, k - 1) : k + 2]
        next_to = (np.abs(beside - other).max(axis=1) < 2 * SAME).any()
        return bool(kin.any() or next_to or not there.any())

    def empty(self, other: Points) -> bool:
        """Tell whether nothing goes round a place."""
        return not self._places.count(other[None])[0]


def _beside_in_time(motion: Motion, rows: NDArray[np.intp]) -> list[Points]:
    """Return the centres of the full circles before and after each, that belong together with it.

    They turn the same way, and start at the same place or are joined by moves at a feed; NaN else.
    """
    lifts = np.cumsum(~motion.cutting)
    centre, start = motion.centre[rows, :2], motion.start[rows, :2]
    joined = np.diff(lifts[rows]) == 0
    joined |= np.abs(np.diff(start, axis=0)).max(axis=1) < SAME
    joined &= np.diff(np.sign(motion.sweep[rows])) == 0
    before, after = np.full_like(centre, np.nan), np.full_like(centre, np.nan)
    before[1:][joined] = centre[:-1][joined]
    after[:-1][joined] = centre[1:][joined]
    return [before, after]


def _same_line(motion: Motion, rows: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return how many arcs the line of each row makes round the same centre, itself included."""
    cell = np.rint(motion.centre[rows, :2] / SAME).astype(np.int64)
    place = np.column_stack([motion.source[rows], motion.line[rows], cell])
    _, which, count = np.unique(place, axis=0, return_inverse=True, return_counts=True)
    same: NDArray[np.intp] = count[which.ravel()]
    return same


class _Leads:
    """How the rows before and after run into each circle, and would into the other one."""

    def __init__(self, motion: Motion, rows: NDArray[np.intp]) -> None:
        self._turn = np.sign(motion.sweep[rows])
        self._start, centre = motion.start[rows, :2], motion.centre[rows, :2]
        own = self._tangent(centre)
        self._side = []
        for before in (True, False):
            heading, arc, full = beside(motion, rows, before)
            self._side.append((heading, arc, full, (heading * own).sum(axis=1)))
        meets = np.column_stack([cosine for *_, cosine in self._side])
        by_arc = np.column_stack([arc for _, arc, *_ in self._side])
        on = meets > ALONG
        never_back: Mask = ~np.any(meets < -ALONG, axis=1)
        #: Circles that an arc runs into, or out of, and that nothing turns back from: as meant.
        self.smooth: Mask = np.any(on & by_arc, axis=1) & never_back
        self._smooth = int((np.any(on, axis=1) & never_back).sum())
        self._back = int((meets < -ALONG).any(axis=1).sum())

    def _tangent(self, centre: Points) -> Points:
        spoke = self._start - centre
        length = np.maximum(np.hypot(spoke[:, 0], spoke[:, 1]), 1e-9)
        along: Points = np.column_stack([-spoke[:, 1], spoke[:, 0]])
        return along * (self._turn / length)[:, None]

    def run_on(self, other: Points) -> Mask:
        """Tell for each circle whether its leads run into the other one instead."""
        there = self._tangent(other)
        off, back, on, arc = [], [], [], []
        for heading, is_arc, _, cosine in self._side:
            on.append((heading * there).sum(axis=1) > ALONG)
            off.append(cosine < TURNS)
            back.append(cosine < -ALONG)
            arc.append(is_arc)
        usual = self._back <= 1 or SMOOTH_TIMES * self._back <= self._smooth
        both = on[0] & on[1] & off[0] & off[1]
        lines = both & back[0] & back[1] & (self._smooth >= SMOOTH_TIMES)
        both &= arc[0] | arc[1]
        one = [on[k] & back[k] & arc[k] & ~(self._side[1 - k][3] > ALONG) for k in (0, 1)]
        run: Mask = (both | lines | one[0] | one[1]) & usual
        return run

    def beside_circle(self, k: int) -> bool:
        """Tell whether a full circle comes before or after a circle."""
        return any(bool(full[k]) for _, _, full, _ in self._side)


class _Pattern:
    """Holes that start alike, and the distances between them."""

    def __init__(self, motion: Motion, rows: NDArray[np.intp]) -> None:
        self._centre = motion.centre[rows, :2]
        self._offset = self._centre - motion.start[rows, :2]
        self._turn = np.sign(motion.sweep[rows])

    @cached_property
    def _holes(self) -> tuple[Points, Points]:
        """Centre, and offset with turn, of each circle that is another one's like in no way."""
        table = np.column_stack([self._centre, self._offset, self._turn])
        _, first = np.unique(np.rint(table / (2 * SAME)), axis=0, return_index=True)
        return self._centre[first], np.column_stack([self._offset, self._turn])[first]

    def _alike(self, k: int, axis: int) -> Points | None:
        """Return the centres of holes that start as this one would; None where it is not alone."""
        centre, start = self._holes
        wanted = np.array([*self._offset[k], self._turn[k]])
        apart = np.abs(centre - self._centre[k]).max(axis=1) > SAME
        if (apart & (np.abs(start - wanted).max(axis=1) < 2 * SAME)).any():
            return None
        wanted[axis] *= -1
        alike: Points = centre[apart & (np.abs(start - wanted).max(axis=1) < 2 * SAME)]
        return alike

    def likely(self, axis: int) -> Mask:
        """Tell for each circle whether holes start as it would, and none as it does."""
        likely = np.zeros(len(self._centre), np.bool_)
        centre, start = self._holes
        if ALIKE < len(centre) <= MOST_HOLES:
            _, which = np.unique(np.rint(start / (2 * SAME)), axis=0, return_inverse=True)
            rare = np.bincount(which.ravel())[which.ravel()] == 1
            for hole in np.flatnonzero(rare):
                same = np.abs(self._centre - centre[hole]).max(axis=1) < SAME
                likely |= same & (np.abs(self._offset - start[hole, :2]).max(axis=1) < SAME)
        return likely

    def why(self, k: int, axis: int, company: _Company) -> str:
        """Say that the other centre is that of a hole of the pattern; "" where it is not."""
        other = self._centre[k].copy()
        other[axis] -= 2 * self._offset[k, axis]
        if not (ALIKE < len(self._holes[0]) <= MOST_HOLES) or not company.empty(other):
            return ""
        alike = self._alike(k, axis)
        if alike is None or len(alike) < ALIKE:
            return ""
        pairs = np.hypot(*(alike[:, None] - alike[None])[np.triu_indices(len(alike), 1)].T)
        there, here = (_repeated(place, alike, pairs) for place in (other, self._centre[k]))
        if there < min(REPEATED, len(alike) - 1) or there < PATTERN_TIMES * here:
            return ""
        return f"it would stand in a pattern with {len(alike)} holes that start alike"


def _repeated(place: Points, holes: Points, pairs: Points) -> int:
    """Return how many distances from a place to holes are distances between holes as well."""
    far = np.hypot(*(holes - place).T)
    return int((np.abs(far[:, None] - pairs[None]) < SAME / 2).any(axis=1).sum())
