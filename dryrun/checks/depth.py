"""Depth: how deep, how steep, how fast downward, and what is left underneath."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.bridge import bridge_left
from dryrun.checks.columns import columns
from dryrun.checks.context import TOUCH, StageContext
from dryrun.checks.tabs import web_left
from dryrun.checks.undercut import entries
from dryrun.finding import Finding, Level
from dryrun.job.materials import find_material

#: Floors thinner than this are told, mm (common practice, no source).
THIN_FLOOR: Final = 1.0

#: Deepest pass in diameters while no `max_pass` is declared (common practice, no source).
PASS_DIAMETERS: Final = 2.0

#: The same for a drill: deeper holes are drilled in pecks (common practice, no source).
DRILL_DIAMETERS: Final = 5.0

#: A drill dragged sideways further than this, through more than this, is told, mm.
DRILL_ASIDE: Final = 0.2

#: A pass of a flat or bull-nosed bit as deep as this many diameters, as wide as this part of one,
#: and so many times as deep as half of the stage's passes of that width, is no pass that was meant.
UNLIKE_DIAMETERS: Final = 1.0
UNLIKE_WIDTH: Final = 0.4
UNLIKE_TIMES: Final = 3.0

#: Ramp limit of a bit without cutting edges at its centre, rad (common practice, no source).
RAMP_LIMIT: Final = math.radians(20.0)

#: From this angle on an entry is a straight plunge, rad.
PLUNGE_ANGLE: Final = math.radians(60.0)

#: A stage may miss its depth by so much, mm, or by this part of it, before it is called shallow:
#: a declared depth is often a rounded one, and the pass that was lost is a larger part.
SHALLOW_SLACK: Final = 0.1
SHALLOW_PART: Final = 0.025

#: What a clearing stage may leave for a later one that goes deeper there, mm (common practice).
SHALLOW_ALLOWANCE: Final = 1.0

#: Feeds of which this part of the longest path is cut are used about as much.
ABOUT_AS_MUCH: Final = 0.8

#: Cosine of the turn up to which a path goes straight on.
STRAIGHT_ON: Final = 0.9

#: A straight plunge faster than this part of the stage's usual feed is told (common practice).
PLUNGE_PART: Final = 0.5


def _at_lowest(
    context: StageContext,
    code: str,
    message: str,
    rows: NDArray[np.intp],
    value_and_limit: tuple[float, float],
    level: Level | None = None,
) -> Finding:
    """Make a finding at the first of some rows, placed where they are lowest; mm."""
    worst = rows[np.argmin(context.cut.lowest[rows])]
    return context.finding(
        code,
        message,
        row=int(rows[0]),
        level=level,
        letters="ZKR",
        at=(*context.cut.lowest_at[worst], context.cut.lowest[worst]),
        value=value_and_limit[0],
        limit=value_and_limit[1],
        unit="mm",
        count=len(rows),
    )


def too_deep(context: StageContext) -> Iterator[Finding]:
    """Check each move's lowest point against the stage's depth."""
    depth = context.stage.depth
    if depth is None or math.isinf(depth):
        return
    floor = context.stock.top - depth
    lowest = context.cut.lowest
    for rows in context.places(lowest < floor - TOUCH, -lowest):
        worst = rows[np.argmin(lowest[rows])]
        reached = context.stock.top - float(lowest[worst])
        yield _at_lowest(
            context,
            "too-deep",
            f"the bit reaches {context.mm(reached)} below the top, "
            f"{context.mm(reached - depth)} more than the stage's depth of {context.mm(depth)}",
            rows,
            (reached, depth),
        )


def through_cut(context: StageContext) -> Iterator[Finding]:
    """Report cuts through the blank that the stage does not ask for."""
    if context.stage.through:
        return
    bed = context.stock.bed
    lowest = context.cut.lowest
    for rows in context.places(lowest < bed - TOUCH, -lowest):
        worst = rows[np.argmin(lowest[rows])]
        below = bed - float(lowest[worst])
        yield _at_lowest(
            context,
            "through-cut",
            f"the bit comes out {context.mm(below)} below the blank, "
            f"which is {context.mm(context.stock.size[2])} thick",
            rows,
            (context.stock.top - float(lowest[worst]), context.stock.size[2]),
        )


def spoilboard_deep(context: StageContext) -> Iterator[Finding]:
    """Check how far a wanted cut-out goes into the board underneath."""
    if not context.stage.through:
        return
    allowed = context.stock.allow_into_spoilboard
    level: Level = "error" if allowed else "warning"
    floor = context.stock.bed - allowed
    lowest = context.cut.lowest
    path = _path_below_bed(context)
    for rows in context.places(lowest < floor - TOUCH, -lowest):
        worst = rows[np.argmin(lowest[rows])]
        below = context.stock.bed - float(lowest[worst])
        yield _at_lowest(
            context,
            "spoilboard-deep",
            f"the cut-out goes {context.mm(below)} into the board under the blank; "
            f"{context.mm(allowed) + ' is' if allowed else 'nothing is declared as'} allowed "
            f"({context.mm(float(np.nansum(path[rows])))} of path below the blank)",
            rows,
            (below, allowed),
            level,
        )


def _path_below_bed(context: StageContext) -> NDArray[np.float64]:
    """Return how much of each row's path has its tip below the blank, mm."""
    motion = context.motion
    low = np.minimum(motion.start[:, 2], motion.end[:, 2])
    high = np.maximum(motion.start[:, 2], motion.end[:, 2])
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.where(
            high > low, (context.stock.bed - low) / (high - low), low < context.stock.bed
        )
    below: NDArray[np.float64] = motion.lengths() * np.clip(part, 0.0, 1.0)
    return below


def shallow(context: StageContext) -> Iterator[Finding]:
    """Check that the stage reaches its depth, and that a cut-out leaves no web behind a tab."""
    yield from _never_deep(context)
    yield from list(web_left(context)) or bridge_left(context)


def _never_deep(context: StageContext) -> Iterator[Finding]:
    """Check that the stage reaches its depth at all."""
    depth = context.stage.depth
    lowest = context.cut.lowest
    # Lines finer than the field's cells take nothing of it, and have a lowest point all the same.
    taking = (context.cut.axial > 0).any() or (lowest < context.stock.top - TOUCH).any()
    if depth is None or not taking:
        return
    wanted = context.stock.size[2] if math.isinf(depth) else depth
    slack = TOUCH if math.isinf(depth) else max(SHALLOW_SLACK, SHALLOW_PART * depth)
    row = int(np.nanargmin(lowest))
    reached = context.stock.top - float(lowest[row])
    if reached >= wanted - slack:
        return
    short = wanted - reached
    if not math.isinf(depth) and short <= SHALLOW_ALLOWANCE and _deeper_later(context, row):
        return
    meant = "go through the blank" if math.isinf(depth) else f"reach {context.mm(depth)}"
    yield context.finding(
        "shallow",
        f"the deepest cut is {context.mm(reached)} below the top, "
        f"{context.mm(wanted - reached)} short: the stage should {meant}",
        row=row,
        letters="ZKR",
        at=(*context.cut.lowest_at[row], lowest[row]),
        value=reached,
        limit=wanted,
        unit="mm",
    )


def _deeper_later(context: StageContext, row: int) -> bool:
    """Tell whether a later stage goes deeper where a row is lowest: then this one left a skin."""
    if context.final is None or not np.isfinite(context.cut.lowest_at[row]).all():
        return False
    x, y = context.cut.lowest_at[row]
    deeper = float(context.cut.lowest[row]) - 2 * TOUCH
    if context.before is not None and context.before.at(np.array([[x, y]]))[0] < deeper:
        return False  # an earlier stage has been there: this one does nothing
    return float(context.final.at(np.array([x]), np.array([y]))[0]) < deeper


def thin_floor(context: StageContext) -> Iterator[Finding]:
    """Report what is left under a stage that is not meant to go through."""
    if context.stage.through:
        return
    floor = context.cut.lowest - context.stock.bed
    limit = min(THIN_FLOOR, context.stock.size[2] / 4)
    thin = (floor >= -TOUCH) & (floor < limit) & (context.cut.axial > 0)
    for rows in context.places(thin, -floor):
        worst = rows[np.argmin(floor[rows])]
        left = max(0.0, float(floor[worst]))
        yield _at_lowest(
            context,
            "thin-floor",
            f"only {context.mm(left)} of the blank is left underneath",
            rows,
            (left, limit),
        )


def deep_pass(context: StageContext) -> Iterator[Finding]:
    """Check the tallest column of material taken by each move."""
    declared = context.stage.max_pass
    times = DRILL_DIAMETERS if context.bit.shape == "drill" else PASS_DIAMETERS
    limit = declared if declared is not None else times * context.bit.diameter
    level: Level = "warning" if declared is None else "error"
    often = "five times" if context.bit.shape == "drill" else "twice"
    said = (
        "the declared limit" if declared is not None else f"the limit, {often} the bit's diameter,"
    )
    axial = columns(context, limit + 2 * TOUCH)
    if context.bit.shape == "drill":
        yield from _sideways(context)
    if declared is None and context.bit.shape in ("flat", "bull"):
        yield from _unlike_the_others(context, limit)
    # The column is read off the field, so it can be off by the storage rounding.
    for rows in context.places(axial > limit + 2 * TOUCH, axial):
        worst = rows[np.argmax(axial[rows])]
        yield context.finding(
            "deep-pass",
            f"{context.mm(float(axial[worst]))} of material is taken in one pass; "
            f"{said} is {context.mm(limit)}",
            row=int(rows[0]),
            level=level,
            letters="Z",
            at=(*context.cut.axial_at[worst], context.motion.end[worst, 2]),
            value=float(axial[worst]),
            limit=limit,
            unit="mm",
            count=len(rows),
        )


def _unlike_the_others(context: StageContext, limit: float) -> Iterator[Finding]:
    """Report passes within the limit that are far deeper than the stage's others, and as wide."""
    motion, axial = context.motion, context.cut.axial
    step = motion.end - motion.start
    across = np.hypot(step[:, 0], step[:, 1]) + np.abs(np.nan_to_num(motion.sweep))
    wide = motion.cutting & (axial > TOUCH) & np.isfinite(across) & (across > TOUCH)
    wide &= context.cut.width >= UNLIKE_WIDTH * context.bit.diameter
    if not wide.any():
        return
    order = np.flatnonzero(wide)[np.argsort(axial[wide], kind="stable")]
    so_far = np.cumsum(motion.lengths()[order])
    usual = float(axial[order[np.searchsorted(so_far, so_far[-1] / 2)]])
    least = max(UNLIKE_DIAMETERS * context.bit.diameter, UNLIKE_TIMES * usual)
    axial = columns(context, least + 2 * TOUCH)
    deep = wide & (axial > least + 2 * TOUCH) & (axial <= limit + 2 * TOUCH)
    for rows in context.places(deep, axial):
        worst = rows[np.argmax(axial[rows])]
        yield context.finding(
            "deep-pass",
            f"{context.mm(float(axial[worst]))} of material is taken in one pass, more than "
            f"{context.bit.name} is wide; half of the stage's passes take {context.mm(usual)} or "
            "less",
            row=int(rows[0]),
            letters="Z",
            at=(*context.cut.axial_at[worst], motion.end[worst, 2]),
            value=float(axial[worst]),
            limit=least,
            unit="mm",
            count=len(rows),
        )


def _sideways(context: StageContext) -> Iterator[Finding]:
    """Report feed moves that drag a drill sideways: it cuts at its point alone."""
    motion, axial = context.motion, context.cut.axial
    step = motion.end - motion.start
    across = np.hypot(step[:, 0], step[:, 1])
    aside = motion.cutting & (across > DRILL_ASIDE) & (across > np.abs(step[:, 2]))
    for rows in context.places(aside & (axial > DRILL_ASIDE), axial):
        worst = rows[np.argmax(axial[rows])]
        yield context.finding(
            "deep-pass",
            f"a drill is moved sideways through {context.mm(float(axial[worst]))} of material; "
            "it cuts downward only",
            row=int(rows[0]),
            level="error",
            letters="XYZ",
            at=(*context.cut.axial_at[worst], context.motion.end[worst, 2]),
            value=float(axial[worst]),
            limit=0.0,
            unit="mm",
            count=len(rows),
        )


def beyond_flute(context: StageContext) -> Iterator[Finding]:
    """Check the tallest column of material against the length of the cutting edge."""
    limit = context.bit.flute_length
    assert limit is not None
    motion, facts = context.motion, context.cut
    axial = np.where(motion.cutting, columns(context, limit + 2 * TOUCH), facts.axial)
    for rows in context.places(axial > limit + 2 * TOUCH, axial):
        worst = rows[np.argmax(axial[rows])]
        yield context.finding(
            "beyond-flute",
            f"{context.mm(float(axial[worst]))} of material is taken in one pass; "
            f"the cutting edge of {context.bit.name} is {context.mm(limit)} long",
            row=int(rows[0]),
            letters="Z",
            at=(*context.cut.axial_at[worst], context.motion.end[worst, 2]),
            value=float(axial[worst]),
            limit=limit,
            unit="mm",
            count=len(rows),
        )


def may_plunge(context: StageContext) -> bool:
    """Tell whether the bit's shape cuts at its centre whatever the maker says."""
    bit = context.bit
    return bit.shape == "drill" or (bit.shape == "vee" and bit.tip == 0.0)


def _usual_ramp(context: StageContext) -> float:
    """Return the steepest usual ramp of a bit that cuts not at its centre, rad: by the material."""
    material = find_material(context.stock.material or "")
    if material is None or material.ramp_angle is None:
        return RAMP_LIMIT
    return min(RAMP_LIMIT, material.ramp_angle.high)


def steep_entry(context: StageContext) -> Iterator[Finding]:
    """Check the angle at which each move goes down into material."""
    declared = context.stage.max_ramp_angle
    if declared is None and (may_plunge(context) or context.bit.centre_cutting is not False):
        return
    usual = _usual_ramp(context)
    limit = usual if declared is None else declared
    entry = np.where(context.motion.cutting, entries(context), np.nan)
    why = (
        "the declared limit"
        if declared is not None
        else f"{context.bit.name} has no cutting edge at its centre, and the limit"
        + (f" in {context.stock.material}" if usual < RAMP_LIMIT else "")
    )
    for rows in context.places(entry > limit + 1e-6, entry):
        worst = rows[np.argmax(entry[rows])]
        yield context.finding(
            "steep-entry",
            f"the bit goes down into material at {context.angle(float(entry[worst]))}; "
            f"{why} is {context.angle(limit)}",
            row=int(rows[0]),
            level=None if declared is not None or entry[worst] > RAMP_LIMIT else "warning",
            letters="Z",
            value=math.degrees(float(entry[worst])),
            limit=math.degrees(limit),
            unit="deg",
            count=len(rows),
        )


def fast_plunge(context: StageContext) -> Iterator[Finding]:
    """Check the downward part of the feed where the bit goes into material."""
    motion, facts = context.motion, context.cut
    entry = entries(context)
    down = motion.feed * np.sin(np.nan_to_num(entry))
    into = motion.cutting & (facts.axial > TOUCH) & ~np.isnan(entry)
    declared = context.stage.max_plunge_rate
    if declared is not None:
        limit, mask = declared, into & (down > declared * 1.001)
        said, level = "the declared limit", "error"
    else:
        usual = usual_feed(context)
        if usual is None or context.bit.shape == "drill":
            return
        limit = PLUNGE_PART * usual
        mask = into & (entry > PLUNGE_ANGLE) & (down > limit * 1.001)
        said, level = "half of the stage's usual feed", "warning"
    for rows in context.places(mask, down):
        worst = rows[np.argmax(down[rows])]
        yield context.finding(
            "fast-plunge",
            f"the bit goes down into material at {context.rate(float(down[worst]))}; "
            f"{said} is {context.rate(limit)}",
            row=int(rows[0]),
            level="error" if level == "error" else "warning",
            letters="FZ",
            value=float(down[worst]),
            limit=limit,
            unit="mm/min",
            count=len(rows),
        )


def usual_feed(context: StageContext) -> float | None:
    """Return the feed of most of the level cutting path, mm/min."""
    motion = context.motion
    level = motion.cutting & (np.abs(motion.end[:, 2] - motion.start[:, 2]) < 1e-6)
    level &= context.cut.axial > TOUCH
    lengths = np.where(level, motion.lengths(), 0.0)
    feeds = motion.feed
    keep = level & np.isfinite(feeds) & np.isfinite(lengths)
    if not keep.any():
        return None
    values, inverse = np.unique(feeds[keep], return_inverse=True)
    totals = np.bincount(inverse, weights=lengths[keep])
    # Of feeds used about as much the highest: one that has lost a zero lasts until the next F.
    return float(values[totals >= ABOUT_AS_MUCH * totals.max()].max())
