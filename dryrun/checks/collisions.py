"""Collisions: anything but the cutting edge that touches something."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import TOUCH, StageContext
from dryrun.checks.maps import along
from dryrun.finding import Finding
from dryrun.job.model import Clamp

#: So many clamps of one place are named.
_MOST_NAMES: Final = 3

#: A shank is as thick as the bit within this, mm; a wall may stand so far above the edge, mm; and
#: it is looked for in so many directions.
_CLOSE: Final = 0.1
_BESIDE: Final = 0.5
_AROUND: Final = 16

_PART_NAMES = {
    "cutter": "the bit",
    "shank": "the shank",
    "holder": "the collet nut or holder",
    "body": "the dust shoe or body",
}


def _contact(context: StageContext, code: str, pair: str, other: str) -> Iterator[Finding]:
    contact = context.cut.contacts.get(pair)
    if contact is None:
        return
    part = _PART_NAMES[pair.split("-")[0]]
    depth = contact.depth
    clamps = context.job.clamps or () if pair.endswith("clamp") else ()
    for rows in context.places(depth > TOUCH, depth):
        worst = rows[np.argmax(depth[rows])]
        yield context.finding(
            code,
            f"{part} touches {_named(clamps, contact.place[rows]) or other}, "
            f"{context.mm(float(depth[worst]))} deep",
            row=int(rows[0]),
            letters="ZXY",
            at=contact.place[worst],
            value=float(depth[worst]),
            limit=0.0,
            unit="mm",
            count=len(rows),
        )


def _named(clamps: Sequence[Clamp], places: NDArray[np.float64]) -> str:
    """Return the names of the clamps that places of contact lie on, in the order of the moves."""
    if not clamps:
        return ""
    gaps = []
    for clamp in clamps:
        low, high = np.array(clamp.low), np.array(clamp.high)
        gap = np.maximum(np.maximum(low - places[:, :2], places[:, :2] - high), 0.0)
        gaps.append(np.nan_to_num(np.hypot(gap[:, 0], gap[:, 1])))
    names = list(dict.fromkeys(clamps[k].name for k in np.argmin(gaps, axis=0)))
    more = f" and {len(names) - _MOST_NAMES} more" if len(names) > _MOST_NAMES else ""
    return ", ".join(names[:_MOST_NAMES]) + more


def clamp_hit(context: StageContext) -> Iterator[Finding]:
    """Report whatever touches a declared clamp."""
    for pair in ("cutter-clamp", "shank-clamp", "holder-clamp"):
        yield from _contact(context, "clamp-hit", pair, "a clamp")


def shank_rub(context: StageContext) -> Iterator[Finding]:
    """Report a shank against a wall, and one no thinner than the bit along a wall it has cut."""
    told = list(_contact(context, "shank-rub", "shank-material", "a wall of the blank"))
    yield from told or _close_shank(context)


def _close_shank(context: StageContext) -> Iterator[Finding]:
    """Report a shank as thick as the bit that stands against walls taller than the edge is long.

    The wall is looked at as the job leaves it: what is widened later is not told.
    """
    bit, surface, motion = context.bit, context.final, context.motion
    assert bit.flute_length is not None
    assert bit.shank is not None
    thin = bit.shape not in ("flat", "bull", "ball") or bit.shank < bit.diameter - _CLOSE
    if thin or surface is None:
        return
    low = np.minimum(motion.start[:, 2], motion.end[:, 2]) + bit.flute_length
    rows = np.flatnonzero(motion.cutting & (low < context.stock.top - _BESIDE))
    points, row = along(motion, rows, max(bit.radius, surface.cell))
    rub = np.zeros(len(points))
    for turn in np.linspace(0.0, 2 * np.pi, _AROUND, endpoint=False):
        far = bit.radius + surface.cell
        x, y = points[:, 0] + far * np.cos(turn), points[:, 1] + far * np.sin(turn)
        wall = np.nan_to_num(surface.at(x, y), nan=-np.inf)
        rub = np.fmax(rub, wall - points[:, 2] - bit.flute_length)
    most = np.zeros(len(motion))
    np.maximum.at(most, row, rub)
    for place in context.places(most > _BESIDE, most):
        worst = place[np.argmax(most[place])]
        yield context.finding(
            "shank-rub",
            f"the wall stands {context.mm(round(float(most[worst]), 2))} above the cutting edge "
            f"of {bit.name}, and its shank is no thinner than the bit",
            row=int(place[0]),
            level="warning",
            letters="ZXY",
            value=float(most[worst]),
            limit=0.0,
            unit="mm",
            count=len(place),
        )


def holder_hit(context: StageContext) -> Iterator[Finding]:
    """Report a collet nut or holder in the work."""
    yield from _contact(context, "holder-hit", "holder-material", "the blank")


def body_low(context: StageContext) -> Iterator[Finding]:
    """Report a dust shoe or body on blank or clamps."""
    yield from _contact(context, "body-low", "body-material", "the blank")
    yield from _contact(context, "body-low", "body-clamp", "a clamp")


def bed_hit(context: StageContext) -> Iterator[Finding]:
    """Check every move, over the blank and beside it, against the underside of the spoilboard."""
    board = context.stock.spoilboard
    assert board is not None
    bottom = context.stock.bed - board
    motion = context.motion
    low = np.minimum(motion.start[:, 2], motion.end[:, 2])
    low = np.where(motion.moving, np.fmin(low, context.cut.lowest), np.nan)
    for rows in context.places(low < bottom - TOUCH, -low):
        worst = rows[np.nanargmin(low[rows])]
        yield context.finding(
            "bed-hit",
            f"the bit reaches {context.mm(bottom - float(low[worst]))} below the spoilboard, "
            "into the machine's bed",
            row=int(rows[0]),
            letters="Z",
            value=bottom - float(low[worst]),
            limit=0.0,
            unit="mm",
            count=len(rows),
        )
