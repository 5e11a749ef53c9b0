"""The program as a whole: spindle, units, and whether it ends in the work."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import TOUCH, StageContext
from dryrun.finding import Finding, Level
from dryrun.motion import END

INCH: Final = 25.4

#: Feeds above this are beyond benchtop and gantry routers, mm/min (common practice, no source).
FASTEST_FEED: Final = 40_000.0

#: Cutting slower than this all through is hardly ever meant, mm/min (common practice, no source).
SLOWEST_FEED: Final = 25.0

#: A program this much smaller than the blank (in both directions) may be in the other unit.
SMALL_PART: Final = 0.06

_UNIT_WORD: Final = re.compile(r"(?<![A-Z])G\s*0*2[01](?:\.0*)?(?![0-9.])", re.IGNORECASE)
_COMMENT: Final = re.compile(r"\([^)]*\)?|;.*")


def takes_material(context: StageContext) -> NDArray[np.bool_]:
    """Return the rows that cut: by the field when it is known, else every move at a feed.

    Of a bit that cuts under material, every move that would take something of an uncut blank.
    """
    facts = context.facts if context.reach is None else context.reach
    if facts is None:
        return context.motion.cutting
    return context.motion.cutting & (facts.axial > TOUCH)


def spindle_off(context: StageContext) -> Iterator[Finding]:
    """Report cutting with the spindle at rest, or at a speed that nobody has said."""
    yield from _without_speed(context)
    motion = context.motion
    stopped = takes_material(context) & (motion.spindle == 0.0)
    if not stopped.any():
        return
    ever = bool((motion.spindle != 0.0).any())
    by_hand = not ever and "spindle" not in context.machine.declared
    level: Level = "warning" if by_hand else "error"
    what = (
        "the spindle was stopped or had not been started"
        if ever
        else "the program never starts the spindle"
    )
    help_text = (
        "switch the spindle on by hand before you start, or add S and M3 to the program"
        if by_hand
        else None
    )
    for rows in context.places(stopped):
        yield context.finding(
            "spindle-off",
            f"a move takes material while the spindle stands still: {what}",
            row=int(rows[0]),
            level=level,
            value=0.0,
            unit="rpm",
            count=len(rows),
            help=help_text,
        )
        if not ever:
            return


def _without_speed(context: StageContext) -> Iterator[Finding]:
    """Report M3 or M4 without any S where the machine's spindle is set by the program."""
    spindle = context.machine.spindle
    if spindle.min is None and spindle.max is None:
        return
    unsaid = np.flatnonzero(takes_material(context) & np.isnan(context.motion.spindle))
    if not len(unsaid):
        return
    yield context.finding(
        "spindle-off",
        "a move takes material at a speed that the program never says: the spindle was started "
        "without S",
        row=int(unsaid[0]),
        level="warning",
        count=len(unsaid),
        help="add S to the line that starts the spindle, or set the speed by hand before you start",
    )


def spindle_backwards(context: StageContext) -> Iterator[Finding]:
    """Report cutting while the spindle turns the way that ordinary bits do not cut."""
    backwards = takes_material(context) & (context.motion.spindle < 0.0)
    if not backwards.any():
        return
    first = int(np.flatnonzero(backwards)[0])
    yield context.finding(
        "spindle-backwards",
        "a move takes material while the spindle turns counter-clockwise (M4)",
        row=first,
        value=float(abs(context.motion.spindle[first])),
        unit="rpm",
        count=int(np.count_nonzero(backwards)),
        help="start the spindle with M3, unless the bit is made to cut counter-clockwise",
    )


def no_spin_up(context: StageContext) -> Iterator[Finding]:
    """Check the time from the spindle's start to the first material."""
    needed = context.machine.spindle.start_seconds
    motion = context.motion
    # Only what passes by itself counts: moves and programmed dwells, not the allowance for the
    # start that the predicted time contains.
    passing = context.times.moving_seconds + motion.seconds
    clock = np.cumsum(passing) - passing
    turning = np.nan_to_num(motion.spindle, nan=1.0) != 0.0
    starts = np.flatnonzero(turning & ~np.concatenate([[False], turning[:-1]]))
    cuts = np.flatnonzero(takes_material(context) & turning)
    for start in starts:
        later = cuts[cuts >= start]
        if not len(later):
            return
        first = int(later[0])
        waited = float(clock[first] - clock[start])
        if waited < needed - 1e-9:
            yield context.finding(
                "no-spin-up",
                f"the bit meets material {waited:.1f} s after the spindle starts; "
                f"it needs {needed:.1f} s to come up to speed",
                row=first,
                value=waited,
                limit=needed,
                unit="s",
            )


def ends_in_work(context: StageContext) -> Iterator[Finding]:
    """Report a program that stops while the bit is below the top of the blank."""
    motion, stock = context.motion, context.stock
    moves = np.flatnonzero(motion.moving)
    if not len(moves):
        return
    # One that has its end is whole; but the bit stays in the work, and the next move is a rapid.
    ended = bool((motion.kind == END).any())
    last = int(moves[-1])
    x, y, z = motion.end[last]
    radius = context.bit.radius
    inside = stock.low[0] - radius < x < stock.high[0] + radius
    inside &= stock.low[1] - radius < y < stock.high[1] + radius
    if inside and z < stock.top - TOUCH:
        yield context.finding(
            "truncated",
            f"the program {'ends' if ended else 'stops'} with the bit "
            f"{context.mm(stock.top - z)} below the top",
            row=last,
            level="warning" if ended else None,
            help="lift the bit before the end of the program" if ended else None,
            letters="Z",
            value=stock.top - z,
            limit=0.0,
            unit="mm",
        )


def units_suspect(context: StageContext) -> Iterator[Finding]:
    """Compare extents and feeds with what the other unit would give."""
    motion = context.motion
    cutting = motion.cutting & np.isfinite(motion.end).all(axis=1)
    if not cutting.any():
        return
    from dryrun.checks.travel import row_boxes

    boxes = row_boxes(motion.rows(cutting))
    size = np.nanmax(boxes[:, 3:], axis=0) - np.nanmin(boxes[:, :3], axis=0)
    feeds = motion.feed[cutting & (motion.feed > 0)]
    row = int(np.flatnonzero(cutting)[0])
    reasons = list(_feed_reasons(context, feeds))
    if context.job.stock is not None:
        reasons += _extent_reasons(context, size[:2], float(np.nanmin(boxes[:, 2])))
    if reasons:
        made = context.finding(
            "units-suspect",
            "; ".join(reasons),
            row=row,
            value=float(size[:2].max()),
            unit="mm",
        )
        yield _at_unit_word(context, made, row)


def _at_unit_word(context: StageContext, finding: Finding, row: int) -> Finding:
    """Place a finding at the last G20 or G21 before a row, which is what to put right.

    Where no such word is found, as in a program that never says its unit, it stays at the row.
    """
    motion = context.motion
    inside = int(motion.source[row]) == 0
    lines = context.texts.lines()[: int(motion.line[row]) if inside else None]
    for number in range(len(lines), 0, -1):
        text = lines[number - 1]
        code = _COMMENT.sub(lambda found: " " * len(found.group()), text)
        words = list(_UNIT_WORD.finditer(code))
        if words:
            first = f"; the first cut is line {finding.line}" if inside else ""
            return replace(
                finding,
                message=finding.message + first,
                file=context.program.source_names[0] or finding.file,
                line=number,
                column=words[-1].start() + 1,
                end_column=words[-1].end() + 1,
                excerpt=text,
            )
    return finding


def _extent_reasons(
    context: StageContext, size: NDArray[np.float64], lowest: float
) -> Iterator[str]:
    """Compare the cuts with the blank; `lowest` is their lowest point, mm."""
    blank = np.array(context.stock.size[:2])
    covers = f"the cuts cover {context.mm(size[0])} by {context.mm(size[1])}"
    times = size * INCH
    # A small part is as deep as others; one in the other unit is shallow as well.
    spare = 0.2 * context.stock.size[2]
    fits = (times < 1.1 * blank).all()
    fits &= context.stock.bed - spare < lowest * INCH < context.stock.top + spare
    if (size < SMALL_PART * blank).all() and fits and size.max() > 0.5:
        yield f"{covers}: read as inches instead they would fit the blank"
    if (size > 4.0 * blank).any() and (size / INCH < 1.1 * blank).all():
        yield f"{covers}, far beyond the blank: read as millimetres instead they would fit it"


def _feed_reasons(context: StageContext, feeds: NDArray[np.float64]) -> Iterator[str]:
    if not len(feeds):
        return
    low, high = float(feeds.min()), float(feeds.max())
    if low > FASTEST_FEED:
        yield f"every feed is {context.rate(low)} or more, which looks like mm/min read as in/min"
    if high < SLOWEST_FEED:
        yield f"no feed is above {context.rate(high)}, which looks like in/min read as mm/min"
