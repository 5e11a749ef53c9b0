"""Holes inside wider holes: which share a centre, and which lie beside it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import StageContext
from dryrun.checks.rounds import SAME, Points, arcs, drilled_rows
from dryrun.finding import Finding
from dryrun.motion import Motion
from dryrun.removal.profile import Profile

#: Centres that lie no further apart are one, and from here on they are two, mm.
ONE: Final = 0.05
TWO: Final = 0.1

#: A hole is inside another that is this much wider, and its centre off by this part of it at most.
WIDER: Final = 1.15
INSIDE: Final = 0.5
#: What is so many times as wide is no counterbore: a ring or an outline around many holes.
WIDEST: Final = 10.0

#: Like pairs with one centre, at least, beside one that has two; and beside one that only overlaps.
CONCENTRIC: Final = 2
SURELY_CONCENTRIC: Final = 3

#: ... and beside a hole and a counterbore that are left over and share X or Y: of this many pairs
#: however far they lie from each other, of fewer with no more than a hole's radius between them.
LEFT_OVER: Final = 2

#: Two stages: so many pairs that are all off by the same, none by more than this part of the wider
#: hole; a narrower one than this part is a thing of its own in it.
PAIRS: Final = 2
OFF_MOST: Final = 0.35
NARROWEST: Final = 0.3

#: More round things are not compared each with each.
MOST_ROUND: Final = 1500


@dataclass(frozen=True, slots=True)
class Round:
    """Something round that a stage cuts: X, Y and radius (mm), its first row, whose stage."""

    x: float
    y: float
    radius: float
    row: int
    stage: int


@dataclass(frozen=True, slots=True)
class Pair:
    """A hole inside a wider one, and how far off its centre is, mm."""

    inner: Round
    outer: Round

    @property
    def off(self) -> tuple[float, float]:
        """X and Y from the centre of the outer one to that of the inner one."""
        return self.inner.x - self.outer.x, self.inner.y - self.outer.y

    @property
    def far(self) -> float:
        """Distance of the two centres."""
        return float(np.hypot(*self.off))

    @property
    def kind(self) -> tuple[float, float, int, int]:
        """What pairs of one kind have in common: radii and stages."""
        return (
            round(self.inner.radius, 1),
            round(self.outer.radius, 1),
            self.inner.stage,
            self.outer.stage,
        )


def beside_centre(context: StageContext) -> Iterator[Finding]:
    """Report holes beside the centre of their counterbore where others of the kind share theirs."""
    kinds: dict[tuple[float, float, int, int], list[Pair]] = {}
    for pair in pairs_of(context):
        kinds.setdefault(pair.kind, []).append(pair)
    told = set()
    for pairs in kinds.values():
        one = {(p.outer.x, p.outer.y) for p in pairs if p.far <= ONE}
        two = [p for p in pairs if p.far >= TWO and (p.outer.x, p.outer.y) not in one]
        left_over = bool(one) and not two
        if left_over:
            two = _without_partner(context, pairs, len(one))
        least = 1 if left_over else max(CONCENTRIC, len(two))
        if len(one) < least or not _one_slip(context, pairs, two):
            continue
        if _flipped(context, two[0]):
            continue
        pair = min(two, key=lambda p: _own_first(context, p)[0].row)
        own, other = _own_first(context, pair)
        if (other.x, other.y) in told:
            continue
        told.add((other.x, other.y))
        if left_over and _stands_out(context, other, own) and not _stands_out(context, own, other):
            own, other = other, own
        yield _told(context, pair, own, other, (len(two), len(one)))


def _without_partner(context: StageContext, pairs: list[Pair], alike: int) -> list[Pair]:
    """Return the one hole and the one counterbore of a kind that are left over, where one slipped.

    `alike`: how many others share their centre. One wrong coordinate leaves the other one shared.
    """
    inner_radius, outer_radius, inner_stage, outer_stage = pairs[0].kind
    found = rounds_so_far(context)
    holes = {r for r in found if (round(r.radius, 1), r.stage) == (inner_radius, inner_stage)}
    wide = {r for r in found if (round(r.radius, 1), r.stage) == (outer_radius, outer_stage)}
    holes -= {p.inner for p in pairs}
    wide -= {p.outer for p in pairs}
    if len(holes) != 1 or len(wide) != 1:
        return []
    pair = Pair(holes.pop(), wide.pop())
    between = pair.far - pair.inner.radius - pair.outer.radius
    shared = min(abs(v) for v in pair.off) <= ONE
    slipped = between < 0 and alike >= SURELY_CONCENTRIC
    slipped |= shared and (alike >= LEFT_OVER or between < pair.inner.radius)
    return [pair] if slipped else []


def _own_first(context: StageContext, pair: Pair) -> tuple[Round, Round]:
    """Return the two rounds of a pair, that of this stage first."""
    if pair.inner.stage == context.number:
        return pair.inner, pair.outer
    return pair.outer, pair.inner


def _stands_out(context: StageContext, one: Round, other: Round) -> bool:
    """Tell whether none of its like shares the coordinate in which a round thing misses another."""
    axis = int(abs(one.x - other.x) <= ONE)
    alike = [
        r
        for r in rounds_so_far(context)
        if r.stage == one.stage and round(r.radius, 1) == round(one.radius, 1) and r != one
    ]
    return all(abs((r.x, r.y)[axis] - (one.x, one.y)[axis]) > ONE for r in alike)


def _one_slip(context: StageContext, pairs: list[Pair], two: list[Pair]) -> bool:
    """Tell whether one wrong word explains all pairs that are off.

    One pair always; more where all are off by the same along X or along Y, in holes cut one after
    another that share this coordinate: it was written once and holds until the next.
    """
    if len(two) < 2:
        return bool(two)
    off = np.array([pair.off for pair in two])
    if np.ptp(off, axis=0).max() > ONE:
        return False
    aside = np.abs(off).max(axis=0) > ONE
    if aside.all():
        return False
    axis = int(np.argmax(aside))
    for of in (_inner, _outer):
        own = sorted({(r.row, r.x, r.y) for r in map(of, pairs) if r.stage == context.number})
        slipped = {(r.row, r.x, r.y) for r in map(of, two) if r.stage == context.number}
        places = [k for k, round_ in enumerate(own) if round_ in slipped]
        shared = [own[k][1 + axis] for k in places]
        if len(places) == len(two) == places[-1] - places[0] + 1 and np.ptp(shared) <= SAME:
            return True
    return False


def _inner(pair: Pair) -> Round:
    return pair.inner


def _outer(pair: Pair) -> Round:
    return pair.outer


def _told(
    context: StageContext, pair: Pair, own: Round, other: Round, number: tuple[int, int]
) -> Finding:
    """Make the finding; `number`: how many pairs are off, and how many share their centre."""
    slipped, alike = number
    more = f", as {'does' if slipped == 2 else 'do'} {slipped - 1} after it" if slipped > 1 else ""
    dx, dy = (round(v, 2) for v in (own.x - other.x, own.y - other.y))
    what, beside = ("hole", "counterbore") if own is pair.inner else ("counterbore", "hole")
    where = next((c for c in context.earlier if c.number == own.stage), context)
    return where.finding(
        "off-centre",
        f"this {what} lies X {context.mm(dx)} Y {context.mm(dy)} from the centre of its {beside}"
        f"{more}; "
        f"{_others(alike)} of the same sizes {'shares' if alike == 1 else 'share'} one centre with "
        f"{'its own' if alike == 1 else 'theirs'}",
        row=own.row,
        letters="XYIJ",
        at=(own.x, own.y, float(where.motion.end[own.row, 2])),
        value=pair.far,
        limit=0.0,
        unit="mm",
        count=slipped,
    )


def _others(count: int) -> str:
    return "the other one" if count == 1 else f"{count} others"


def beside_their_holes(context: StageContext) -> tuple[float, float, int] | None:
    """Return how far this stage's holes lie from those of earlier ones, mm, and of which stage.

    None unless all pairs across the two stages are off by the same.
    """
    pairs = [p for p in pairs_of(context) if p.inner.stage != p.outer.stage]
    pairs = [p for p in pairs if p.inner.radius >= NARROWEST * p.outer.radius]
    if not pairs or any(p.far < TWO or p.far > OFF_MOST * p.outer.radius for p in pairs):
        return None
    sign = np.array([1.0 if p.inner.stage == context.number else -1.0 for p in pairs])
    off = np.array([p.off for p in pairs]) * sign[:, None]
    places = {(round(p.outer.x, 1), round(p.outer.y, 1)) for p in pairs}
    if len(places) < PAIRS or np.ptp(off, axis=0).max() > ONE:
        return None
    dx, dy = (float(v) for v in off.mean(axis=0))
    return dx, dy, min(min(p.inner.stage, p.outer.stage) for p in pairs)


def pairs_of(context: StageContext) -> list[Pair]:
    """Return the holes that lie inside wider ones, where this stage cuts one of the two."""
    found = rounds_so_far(context)
    if not 1 < len(found) <= MOST_ROUND:
        return []
    table = np.array([(r.x, r.y, r.radius) for r in found])
    pairs = []
    for inner in found:
        far = np.hypot(table[:, 0] - inner.x, table[:, 1] - inner.y)
        around = (table[:, 2] > WIDER * inner.radius) & (table[:, 2] <= WIDEST * inner.radius)
        around &= far < np.minimum(INSIDE * table[:, 2], table[:, 2] - inner.radius / 2)
        if not around.any():
            continue
        outer = found[int(np.argmax(np.where(around, table[:, 2], 0.0)))]
        if context.number in (inner.stage, outer.stage):
            pairs.append(Pair(inner, outer))
    return pairs


def rounds_so_far(context: StageContext) -> list[Round]:
    """Return the round things that this stage and those before it cut."""
    return [r for c in (*context.earlier, context) for r in _rounds_of(c)]


def _rounds_of(context: StageContext) -> list[Round]:
    """Return the round things a stage cuts below the top: drilled, or by arcs that go all round."""
    if context.stage.bit is None or context.reach is not None:
        return []
    motion, top = context.motion, context.stock.top
    profile = Profile.from_bit(context.bit)
    rows = np.flatnonzero(arcs(motion) & (motion.end[:, 2] < top))
    radius = motion.radii()[rows]
    wide = radius + profile.radii_at(top - motion.end[rows, 2])
    table = np.column_stack([motion.centre[rows, :2], radius])
    holes = drilled_rows(motion)
    holes = holes[motion.end[holes, 2] < top]
    bore = np.column_stack([motion.end[holes, :2], np.zeros(len(holes))])
    wide = np.concatenate([wide, profile.radii_at(top - motion.end[holes, 2])])
    turns = np.concatenate([np.abs(motion.sweep[rows]), np.full(len(holes), 2 * np.pi)])
    return _grouped(
        np.concatenate([table, bore]), wide, turns, np.concatenate([rows, holes]), context.number
    )


def _grouped(
    table: Points, wide: Points, turns: Points, rows: NDArray[np.intp], stage: int
) -> list[Round]:
    """Put what has one centre and one radius together, and keep what goes all round."""
    if not len(table):
        return []
    which = _alike(table)
    whole = np.flatnonzero(np.bincount(which, weights=turns) > 2 * np.pi - 0.01)
    found = []
    for group in whole[: MOST_ROUND + 1]:
        own = np.flatnonzero(which == group)
        x, y = (float(v) for v in table[own[0], :2])
        found.append(Round(x, y, float(wide[own].max()), int(rows[own].min()), stage))
    return found


def _alike(table: Points) -> NDArray[np.intp]:
    """Return a number for each row of centre and radius, the same for those that are the same."""
    cell = np.rint(table / (2 * SAME)).astype(np.int64)
    order = np.lexsort(cell.T)
    new = np.any(np.diff(cell[order], axis=0) != 0, axis=1)
    which = np.empty(len(table), np.intp)
    which[order] = np.concatenate([[0], np.cumsum(new)])
    return which


def _flipped(context: StageContext, pair: Pair) -> bool:
    """Tell whether a sign of I or J explains it: then that is what is told."""
    for own, other in ((pair.inner, pair.outer), (pair.outer, pair.inner)):
        if own.stage == context.number and _mirrors(context.motion, own, other):
            return True
    return False


def _mirrors(motion: Motion, own: Round, other: Round) -> bool:
    start = motion.start[own.row, :2]
    for axis in (0, 1):
        centre = np.array([own.x, own.y])
        centre[axis] = 2 * start[axis] - centre[axis]
        if np.hypot(centre[0] - other.x, centre[1] - other.y) < ONE:
            return True
    return False
