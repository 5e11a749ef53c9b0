"""Holes around wider ones: one that lies elsewhere than its like around the others.

A hinge cup has its two holes for screws, a motor's opening its four. Where the wide holes are alike
and so are their companions but for one, that one's coordinate has slipped. Of two wide holes either
could be right; then the one whose companions are even about it counts.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from dryrun.checks.concentric import MOST_ROUND, ONE, TWO, Round, beside_centre, rounds_so_far
from dryrun.checks.context import StageContext
from dryrun.finding import Finding

#: A companion is at most half as wide as the hole it belongs to, and no further off than so many
#: radii of it.
NARROWER: Final = 0.5
NEAR: Final = 3.0
#: Companions of each wide hole, at least.
COMPANIONS: Final = 2

Offset = tuple[float, float]


def off_centre(context: StageContext) -> Iterator[Finding]:
    """Report holes beside the centre of their counterbore, and such as lie oddly beside theirs."""
    yield from beside_centre(context)
    yield from _astray(context)


def _astray(context: StageContext) -> Iterator[Finding]:
    """Report a hole that lies elsewhere beside its wide hole than the others do beside theirs."""
    found = rounds_so_far(context)
    if len(found) > MOST_ROUND:
        return
    wide = _widest(found)
    own = [r for r in found if r.stage == context.number]
    for radius in sorted({round(r.radius, 1) for r in own}):
        holes = [r for r in own if round(r.radius, 1) == radius]
        kinds = {round(w.radius, 1) for w in wide if radius <= NARROWER * w.radius}
        for kind in sorted(kinds):
            centres = [w for w in wide if round(w.radius, 1) == kind]
            slipped = _slipped(centres, holes, wide)
            if slipped is not None:
                yield _told(context, *slipped)


def _widest(found: list[Round]) -> list[Round]:
    """Return the widest round thing at each centre."""
    kept: list[Round] = []
    for one in sorted(found, key=lambda r: -r.radius):
        if all(np.hypot(one.x - r.x, one.y - r.y) > ONE for r in kept):
            kept.append(one)
    return kept


def _slipped(
    centres: list[Round], holes: list[Round], wide: list[Round]
) -> tuple[Round, Offset, int] | None:
    """Return the hole that lies elsewhere, how far off it is, and beside how many it is not."""
    belongs: list[list[Round]] = [[] for _ in centres]
    for hole in holes:
        others = [w for w in wide if w.radius * NARROWER >= hole.radius]
        if not others:
            continue
        nearest = min(others, key=lambda w: np.hypot(hole.x - w.x, hole.y - w.y))
        far = np.hypot(hole.x - nearest.x, hole.y - nearest.y)
        if nearest in centres and ONE < far <= NEAR * nearest.radius:
            belongs[centres.index(nearest)].append(hole)
    count = len(belongs[0]) if belongs else 0
    if len(centres) < 2 or count < COMPANIONS or any(len(b) != count for b in belongs):
        return None
    patterns = [[(h.x - c.x, h.y - c.y) for h in b] for c, b in zip(centres, belongs, strict=True)]
    for k, pattern in enumerate(patterns):
        rest = patterns[:k] + patterns[k + 1 :]
        if any(_without(rest[0], other) for other in rest[1:]):
            continue
        odd, missed = _without(pattern, rest[0]), _without(rest[0], pattern)
        if len(odd) != 1 or len(missed) != 1:
            continue
        off = odd[0][0] - missed[0][0], odd[0][1] - missed[0][1]
        sure = len(centres) > 2 or (_even(rest[0]) and not _even(pattern))
        if sure and TWO < np.hypot(*off) < centres[k].radius:
            return belongs[k][pattern.index(odd[0])], off, len(rest)
    return None


def _without(one: list[Offset], other: list[Offset]) -> list[Offset]:
    """Return the places of one pattern that another one has not."""
    return [a for a in one if all(np.hypot(a[0] - b[0], a[1] - b[1]) > ONE for b in other)]


def _even(pattern: list[Offset]) -> bool:
    """Tell whether a pattern is its own mirror image, along X, along Y or both ways."""
    return any(
        not _without([(x * i, y * j) for x, y in pattern], pattern)
        for i, j in ((-1, 1), (1, -1), (-1, -1))
    )


def _told(context: StageContext, hole: Round, off: Offset, others: int) -> Finding:
    dx, dy = (round(v, 2) for v in off)
    return context.finding(
        "off-centre",
        f"this hole lies X {context.mm(dx)} Y {context.mm(dy)} from where it would be if it lay "
        f"beside its wider hole as the others do beside {others} like it",
        row=hole.row,
        letters="XYIJ",
        at=(hole.x, hole.y, float(context.motion.end[hole.row, 2])),
        value=float(np.hypot(*off)),
        limit=0.0,
        unit="mm",
    )
