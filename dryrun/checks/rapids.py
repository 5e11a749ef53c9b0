"""Rapids: moves that must not cut, and how close they come."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import MOST_PLACES, TOUCH, StageContext
from dryrun.checks.undercut import met_by_rapids
from dryrun.finding import Finding
from dryrun.motion import RAPID

#: Height above blank and clamps asked of a rapid while `safe_height` is not declared, mm.
DEFAULT_CLEARANCE: Final = 1.0

#: A way that cuts nothing, over a floor that is cleared, is looked at where there are so many times
#: as many lifts by rapids as by feed.
FEED_LIFTS: Final = 2

#: A shorter way from one cut to the next is not looked at, mm.
LEAST_WAY: Final = 0.2


def _goes_down(context: StageContext) -> NDArray[np.bool_]:
    motion = context.motion
    step = motion.end - motion.start
    down: NDArray[np.bool_] = (motion.kind == RAPID) & (step[:, 2] < -1e-9)
    return down


def rapid_in_stock(context: StageContext) -> Iterator[Finding]:
    """Report rapid moves that touch material."""
    axial = met_by_rapids(context)
    for rows in context.places((context.motion.kind == RAPID) & (axial > TOUCH), axial):
        worst = rows[np.argmax(axial[rows])]
        x, y = context.cut.axial_at[worst]
        low = float(min(context.motion.start[worst, 2], context.motion.end[worst, 2]))
        yield context.finding(
            "rapid-in-stock",
            f"a rapid move goes through {context.mm(float(axial[worst]))} of material "
            f"at X {context.mm(x)} Y {context.mm(y)}",
            row=int(rows[0]),
            letters="ZXYG",
            at=(x, y, low),
            value=float(axial[worst]),
            limit=0.0,
            unit="mm",
            count=len(rows),
        )


def rapid_plunge(context: StageContext) -> Iterator[Finding]:
    """Report rapid moves that go down to below the top over the blank."""
    motion, top = context.motion, context.stock.top
    below = _goes_down(context) & (motion.end[:, 2] < top - TOUCH)
    below &= _over_box(motion.end, context, context.bit.radius)
    axial = met_by_rapids(context)
    if context.bit.shape == "drill":
        # Between pecks a cycle goes back down the hole it has made.
        below &= axial > TOUCH
    for rows in context.places(below, top - motion.end[:, 2]):
        cuts = rows[axial[rows] > TOUCH]
        first = int(cuts[0]) if len(cuts) else int(rows[0])
        under = top - float(motion.end[first, 2])
        into = (
            f"and meets {context.mm(float(axial[first]))} of material"
            if len(cuts)
            else "into a part that is already cleared"
        )
        yield context.finding(
            "rapid-plunge",
            f"a rapid move goes down to {context.mm(under)} below the top {into}",
            row=first,
            level="error" if len(cuts) else "note",
            letters="Z",
            value=under,
            limit=0.0,
            unit="mm",
            count=len(rows),
        )


def rapid_low(context: StageContext) -> Iterator[Finding]:
    """Check the height of sideways rapid moves over the blank and the clamps."""
    motion = context.motion
    step = motion.end - motion.start
    sideways = (motion.kind == RAPID) & (np.hypot(step[:, 0], step[:, 1]) > 1e-6)
    sideways &= np.isfinite(step).all(axis=1) & (context.cut.axial <= TOUCH)
    asked = _asked_clearance(context)
    low = np.minimum(motion.start[:, 2], motion.end[:, 2])
    need, name = _highest_below(context, sideways)
    short = need + asked - low
    for rows in context.places(sideways & (short > TOUCH), short):
        # A move inside a cleared part is usual, one just above the top is what gets people.
        over = rows[low[rows] >= context.stock.top - TOUCH]
        worst = int((over if len(over) else rows)[np.argmax(short[over if len(over) else rows])])
        height = float(low[worst] - need[worst])
        where = f"{context.mm(height)} above" if height >= 0 else f"{context.mm(-height)} below"
        yield context.finding(
            "rapid-low",
            f"a rapid move passes {where} the top of {name[worst]}; "
            f"{context.mm(asked)} above is the safe height",
            row=worst,
            level="warning" if len(over) else "note",
            letters="ZXY",
            value=height,
            limit=asked,
            unit="mm",
            count=len(rows),
        )


def way_in_unknown(context: StageContext) -> bool:
    """Tell whether moves begin at a place nobody has said: the first ones, until all axes moved."""
    moving = context.motion.moving
    return bool(moving.any() and not np.isfinite(context.motion.start[moving]).all())


def _asked_clearance(context: StageContext) -> float:
    if "safe_height" in context.machine.declared:
        return context.machine.safe_height
    return DEFAULT_CLEARANCE


def _highest_below(
    context: StageContext, rows: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], list[str]]:
    """Return the highest thing under each sideways move (-inf none), and its name."""
    motion, radius, stock = context.motion, context.bit.radius, context.stock
    boxes = [("the blank", stock.low[:2], stock.high[:2], stock.top)]
    boxes += [(c.name, c.low, c.high, stock.top + c.height) for c in context.job.clamps or ()]
    need = np.full(len(motion), -np.inf)
    name = [""] * len(motion)
    index = np.flatnonzero(rows)
    start, end = motion.start[index], motion.end[index]
    corner = _corners(context, start, end)
    for title, low, high, top in boxes:
        hit = segments_near_box(start, corner, low, high, radius)
        hit |= segments_near_box(corner, end, low, high, radius)
        for row in index[hit]:
            if top > need[row]:
                need[row] = top
                name[row] = title
    return need, name


def _corners(
    context: StageContext, start: NDArray[np.float64], end: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return where rapids turn when each axis runs at its own rate: where X or Y is done first."""
    if context.machine.rapids != "independent":
        return end
    step = end[:, :2] - start[:, :2]
    seconds = np.abs(step) / np.array(context.machine.max_rate[:2])
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.where(seconds > 0, seconds.min(axis=1)[:, None] / seconds, 1.0)
    corner = end.copy()
    corner[:, :2] = start[:, :2] + part * step
    return corner


def segments_near_box(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    low: tuple[float, ...],
    high: tuple[float, ...],
    radius: float,
) -> NDArray[np.bool_]:
    """Tell which XY segments (n, 3) pass a box closer than a radius (exact, Euclidean)."""
    lo, hi = np.array(low[:2]), np.array(high[:2])
    a, b = start[:, :2], end[:, :2]
    near = _crosses(a, b, lo, hi)
    corners = np.array([[lo[0], lo[1]], [hi[0], lo[1]], [hi[0], hi[1]], [lo[0], hi[1]]])
    for corner in corners:
        near |= _point_to_segment(corner, a, b) < radius
    for point in (a, b):
        gap = np.maximum(np.maximum(lo - point, point - hi), 0.0)
        near |= np.hypot(gap[:, 0], gap[:, 1]) < radius
    return near


def _crosses(
    a: NDArray[np.float64],
    b: NDArray[np.float64],
    lo: NDArray[np.float64],
    hi: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Clip each segment to the box (the slab method); tell where something is left."""
    step = b - a
    with np.errstate(divide="ignore", invalid="ignore"):
        first, second = (lo - a) / step, (hi - a) / step
    still = step == 0.0
    inside = (a >= lo) & (a <= hi)
    enter = np.where(still, np.where(inside, -np.inf, np.inf), np.minimum(first, second))
    leave = np.where(still, np.where(inside, np.inf, -np.inf), np.maximum(first, second))
    crossed: NDArray[np.bool_] = np.maximum(enter.max(axis=1), 0.0) <= np.minimum(
        leave.min(axis=1), 1.0
    )
    return crossed


def _point_to_segment(
    point: NDArray[np.float64], a: NDArray[np.float64], b: NDArray[np.float64]
) -> NDArray[np.float64]:
    step = b - a
    square = np.maximum((step * step).sum(axis=1), 1e-300)
    along = np.clip(((point - a) * step).sum(axis=1) / square, 0.0, 1.0)
    gap = a + along[:, None] * step - point
    distance: NDArray[np.float64] = np.hypot(gap[:, 0], gap[:, 1])
    return distance


def _over_box(
    points: NDArray[np.float64], context: StageContext, margin: float
) -> NDArray[np.bool_]:
    low, high = context.stock.low, context.stock.high
    x, y = points[:, 0], points[:, 1]
    over: NDArray[np.bool_] = (
        (x > low[0] - margin)
        & (x < high[0] + margin)
        & (y > low[1] - margin)
        & (y < high[1] + margin)
    )
    return over


def retract_lost(context: StageContext) -> Iterator[Finding]:
    """Report a cut that ends with the bit lifted by feed and let down again on the spot.

    Where a line with a retract is lost, the way to the next cut is cut itself: what was the way
    down there is left, a lift to the height of approach and a way down that goes no deeper.
    """
    motion, top = context.motion, context.stock.top
    rows = np.flatnonzero(motion.moving)
    step = (motion.end - motion.start)[rows]
    feed = motion.cutting[rows]
    across = np.hypot(step[:, 0], step[:, 1])
    plumb = across < 1e-6
    low = motion.start[rows, 2] < top - TOUCH
    lifts = plumb & (step[:, 2] > 0) & low & (motion.end[rows, 2] > top + TOUCH)
    if not (lifts & ~feed).any():
        return  # a program without any rapid lift has other habits
    back = (step[:, 2] < 0) & feed
    ways = feed & (across > LEAST_WAY)
    if FEED_LIFTS * (lifts & feed).sum() > (lifts & ~feed).sum():
        # Who often lifts by feed may do so where nothing is cut, too.
        ways &= context.cut.axial[rows] > TOUCH
    k = np.arange(1, len(rows) - 1)
    # No deeper than where it came from: otherwise it is the next level.
    idle = motion.end[rows[2:], 2] >= motion.start[rows[1:-1], 2] - TOUCH
    found = k[ways[:-2] & (lifts & feed)[1:-1] & back[2:] & idle]
    for one in found[:MOST_PLACES]:
        row = int(rows[one - 1])
        yield context.finding(
            "retract-lost",
            f"this cut of {context.mm(float(across[one - 1]))} ends where the bit is lifted and "
            "let down again on the spot: it looks like the way to the next cut, with the retract "
            "before it lost",
            row=row,
            letters="XYZ",
            at=(*motion.end[row, :2], float(motion.end[row, 2])),
            value=float(across[one - 1]),
            limit=0.0,
            unit="mm",
        )
