"""Travel and zero: is the program at the right place on this blank and this machine."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import TOUCH, StageContext
from dryrun.finding import Finding, Level
from dryrun.motion import ARC, Motion

#: Part of the cutting path outside the blank from which on the zero itself is doubted.
MUCH_OUTSIDE: Final = 0.2

#: From here on the doubt is an error.
MOST_OUTSIDE: Final = 0.5

#: How deep a cut-out usually goes into the spoilboard, mm (common practice, no source).
INTO_BED: Final = 1.0

#: Part of the cutting path above the top from which on the Z zero is doubted.
MOST_ABOVE: Final = 0.6

#: What a person calls the ends of the axes.
_ENDS: Final = (("left", "right"), ("front", "back"), ("lower", "upper"))

_WORDS_X = ("left", "centre", "right")
_WORDS_Y = ("front", "centre", "back")


def beyond_travel(context: StageContext) -> Iterator[Finding]:
    """Check every position in machine coordinates against the travel."""
    machine, motion = context.machine, context.motion
    assert machine.travel is not None
    assert machine.work_zero is not None
    limits = np.array(machine.travel)
    place = np.where(motion.moving[:, None], row_boxes(motion), 0.0)
    low, high = place[:, :3] + machine.work_zero, place[:, 3:] + machine.work_zero
    under, above = limits[:, 0] - low, high - limits[:, 1]
    over = np.maximum(under, above)
    over = np.where(motion.moving[:, None] & np.isfinite(over), over, -np.inf)
    worst_axis = over.argmax(axis=1)
    amount = over.max(axis=1)
    for rows in context.places(amount > 1e-6, amount):
        worst = rows[np.argmax(amount[rows])]
        axis = int(worst_axis[worst])
        up = int(above[worst, axis] >= under[worst, axis])
        reached = (low, high)[up][worst, axis]
        first, last = limits[axis]
        yield context.finding(
            "beyond-travel",
            f"the machine would go {context.mm(float(amount[worst]))} beyond the "
            f"{_ENDS[axis][up]} end of its {'XYZ'[axis]} travel: to {context.mm(float(reached))} "
            f"in machine coordinates, where it has {context.mm(first)} to {context.mm(last)}",
            row=int(rows[0]),
            letters="XYZ"[axis],
            value=float(amount[worst]),
            limit=0.0,
            unit="mm",
            count=len(rows),
        )


def row_boxes(motion: Motion) -> NDArray[np.float64]:
    """Return low and high corner of each row's path (n, 6), arcs exactly; NaN not known."""
    low = np.fmin(motion.start, motion.end)
    high = np.fmax(motion.start, motion.end)
    arcs = motion.kind == ARC
    for axis in range(3):
        rows = np.flatnonzero(arcs & (motion.axis == axis))
        if len(rows):
            _stretch_to_quarters(motion, rows, axis, low, high)
    return np.hstack([low, high])


def _stretch_to_quarters(
    motion: Motion,
    rows: NDArray[np.intp],
    axis: int,
    low: NDArray[np.float64],
    high: NDArray[np.float64],
) -> None:
    """Widen the boxes of arcs by the points where they run parallel to an axis."""
    u, v = (axis + 1) % 3, (axis + 2) % 3
    centre = motion.centre[rows]
    spoke = motion.start[rows] - centre
    radius = np.hypot(spoke[:, u], spoke[:, v])
    first = np.arctan2(spoke[:, v], spoke[:, u])
    last = first + motion.sweep[rows]
    begin, stop = np.minimum(first, last), np.maximum(first, last)
    quarter = np.ceil(begin / (np.pi / 2))
    for step in range(4):
        angle = (quarter + step) * (np.pi / 2)
        on = angle <= stop
        for axis_of, part in ((u, np.cos(angle)), (v, np.sin(angle))):
            place = centre[:, axis_of] + radius * part
            low[rows[on], axis_of] = np.minimum(low[rows[on], axis_of], place[on])
            high[rows[on], axis_of] = np.maximum(high[rows[on], axis_of], place[on])


def off_stock(context: StageContext) -> Iterator[Finding]:
    """Report feed moves below the top with the bit wholly beside the blank."""
    motion = context.motion
    gap = np.maximum(_beside(context, motion.end), _arc_beside(context))
    below = np.minimum(motion.start[:, 2], motion.end[:, 2]) < context.stock.top - TOUCH
    # A drill goes straight down and has no lead-in.
    limit = context.bit.radius if context.bit.shape == "drill" else _lead_in(context)
    beside = motion.cutting & below & (gap > limit + TOUCH)
    for rows in context.places(beside, gap):
        worst = rows[np.argmax(gap[rows])]
        yield context.finding(
            "off-stock",
            f"the bit's centre is {context.mm(float(gap[worst]))} outside the blank "
            "while below its top",
            row=int(rows[0]),
            letters="XY",
            value=float(gap[worst]),
            limit=limit,
            unit="mm",
            count=len(rows),
        )


def _arc_beside(context: StageContext) -> NDArray[np.float64]:
    """Return how far outside the blank's outline the farthest point of each arc is, mm.

    Where an arc runs parallel to a side; 0 for rows that are no arcs: those end where they are
    farthest.
    """
    boxes = row_boxes(context.motion)
    low, high = np.array(context.stock.low[:2]), np.array(context.stock.high[:2])
    over = np.maximum(low - boxes[:, :2], boxes[:, 3:5] - high).max(axis=1)
    known = (context.motion.kind == ARC) & np.isfinite(over)
    gap: NDArray[np.float64] = np.where(known, np.maximum(over, 0.0), 0.0)
    return gap


def _lead_in(context: StageContext) -> float:
    """Return how far outside the bit's centre may be for a lead-in: its side a diameter off, mm."""
    return context.bit.radius + context.bit.diameter


def _beside(context: StageContext, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how far outside the blank's outline each point is, mm; 0 inside."""
    low, high = np.array(context.stock.low[:2]), np.array(context.stock.high[:2])
    gap = np.maximum(np.maximum(low - points[:, :2], points[:, :2] - high), 0.0)
    distance: NDArray[np.float64] = np.hypot(gap[:, 0], gap[:, 1])
    return distance


def zero_suspect(context: StageContext) -> Iterator[Finding]:
    """Compare the extents with the blank for this zero and for the other usual ones."""
    yield from _zero_xy(context)
    yield from _zero_z(context)


def _cutting_path(context: StageContext) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return points (n, 3) along the feed moves, and the length each one stands for."""
    motion, keep = context.motion, _cutting_rows(context)
    return (motion.start[keep] + motion.end[keep]) / 2, motion.lengths()[keep]


def _cutting_rows(context: StageContext) -> NDArray[np.bool_]:
    motion = context.motion
    kept: NDArray[np.bool_] = (
        motion.cutting & np.isfinite(motion.lengths()) & np.isfinite(motion.end).all(axis=1)
    )
    return kept


def _straight_down(context: StageContext) -> NDArray[np.bool_]:
    """Tell of each row of the cutting path whether it only goes up or down."""
    motion, keep = context.motion, _cutting_rows(context)
    flat = np.abs(motion.end[keep] - motion.start[keep])[:, :2].max(axis=1) < TOUCH
    upright: NDArray[np.bool_] = flat & (motion.kind[keep] != ARC)
    return upright


def _zero_xy(context: StageContext) -> Iterator[Finding]:
    points, weight = _cutting_path(context)
    total = float(weight.sum())
    if total <= 0:
        return
    gap = _beside(context, points)
    # To go down beside the blank and come in from its edge is a habit, and says nothing of zero.
    meant = _straight_down(context) & (gap <= _lead_in(context))
    outside = float(weight[(gap > context.bit.radius) & ~meant].sum()) / total
    if outside < MUCH_OUTSIDE:
        return
    level: Level = "error" if outside > MOST_OUTSIDE else "warning"
    fitting = _fitting_zero(context, points)
    hint = f"; it would lie on the blank with the zero at the {fitting}" if fitting else ""
    row = int(np.flatnonzero(context.motion.cutting)[0])
    yield context.finding(
        "zero-suspect",
        f"{outside:.0%} of the cutting path is beside the blank with the zero "
        f"{_at(context.stock.zero)}{hint}",
        row=row,
        level=level,
        value=outside,
        limit=MUCH_OUTSIDE,
        unit="part",
    )


def _fitting_zero(context: StageContext, points: NDArray[np.float64]) -> str | None:
    size = np.array(context.stock.size[:2])
    radius = context.bit.radius
    low, high = points[:, :2].min(axis=0), points[:, :2].max(axis=0)
    best: tuple[int, float, str] | None = None
    declared = _words_of(context.stock.zero)
    for i, y in enumerate(_WORDS_Y):
        for j, x in enumerate(_WORDS_X):
            corner = -size * (j / 2, i / 2)
            slack = np.minimum(low - corner, corner + size - high).min() + radius
            # One word of the zero is mistaken sooner than both.
            alike = int(y == declared[0]) + int(x == declared[1]) if slack >= radius else 0
            if slack >= 0 and (best is None or (alike, slack) > best[:2]):
                best = (alike, float(slack), "centre" if x == y else f"{y} {x}")
    return best[2] if best else None


def _at(zero: str) -> str:
    """Return how a declared zero reads in a sentence; one given by numbers says "at" itself."""
    return zero if zero.startswith("at ") else f"at {zero}"


def _words_of(zero: str) -> tuple[str, str]:
    """Return how a declared zero lies along Y and X; nothing where it is given as a place."""
    words = zero.split("-")
    if words[0] == "centre" and len(words) == 2:
        return "centre", "centre"
    return (words[0], words[1]) if words[0] in _WORDS_Y and words[1] in _WORDS_X else ("", "")


def _zero_z(context: StageContext) -> Iterator[Finding]:
    """Tell a program written for the top that is run from the bed, and the other way round."""
    motion, stock = context.motion, context.stock
    points, weight = _cutting_path(context)
    if not len(points) or weight.sum() <= 0:
        return
    row = int(np.flatnonzero(context.motion.cutting)[0])
    z = points[:, 2]
    thickness = stock.size[2]
    at_bed = abs(stock.bed) < 1e-6
    if at_bed and weight[z < TOUCH].sum() > 0.5 * weight.sum():
        yield context.finding(
            "zero-suspect",
            "Z zero is declared at the bed, but most of the cutting is at or below Z 0: "
            "the program looks written for a zero at the top",
            row=row,
            level="error",
            letters="Z",
        )
    highest = float(np.nanmax(motion.end[:, 2])) if len(motion) else 0.0
    low = np.fmin(motion.start[:, 2], motion.end[:, 2])[motion.cutting]
    # A cut-out goes a little below the bed, so a little of the path may be below the top.
    above = low > stock.top - TOUCH
    barely = bool((low > stock.top - INTO_BED).all())
    mostly = bool(above.all()) or (
        barely and float(weight[z > stock.top - TOUCH].sum()) > MOST_ABOVE * float(weight.sum())
    )
    reach = float(low.min()) - stock.top
    fits = _as_deep_from_the_bed(context, reach)
    # The way down begins at the retract height: how low each move comes is what counts.
    inside = thickness > float(low.max()) - stock.top
    if not at_bed and mostly and fits and highest > thickness and inside:
        yield context.finding(
            "zero-suspect",
            "Z zero is declared at the top, but all cutting is above it: "
            "the program looks written for a zero at the bed",
            row=row,
            letters="Z",
        )


def _as_deep_from_the_bed(context: StageContext, lowest: float) -> bool:
    """Tell whether a lowest point above the top would be the stage's depth, counted from the bed.

    Without a declared depth anything would do.
    """
    depth, thickness = context.stage.depth, context.stock.size[2]
    if depth is None:
        return True
    wanted = 0.0 if math.isinf(depth) else thickness - depth
    return abs(lowest - wanted) <= max(INTO_BED, 0.25 * min(depth, thickness))
