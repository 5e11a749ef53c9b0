"""Feeds: what the cutting edge, the bit and the spindle have to bear."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import TOUCH, StageContext
from dryrun.finding import Finding, Level

#: The lost-zero test: a speed this far below the range's lower end, times ten inside it.
LOST_ZERO: Final = 10.0


def rate_over_machine(context: StageContext) -> Iterator[Finding]:
    """Compare the feed along each move with what the axes can do."""
    motion = context.motion
    step = np.abs(motion.end - motion.start)
    length = np.sqrt((step * step).sum(axis=1))
    straight = motion.cutting & (motion.kind != 2) & (length > 1e-9)
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = np.min(np.array(context.machine.max_rate) * length[:, None] / step, axis=1)
    reach = np.where(straight, reach, np.inf)
    for rows in context.places(motion.feed > reach * 1.001):
        worst = rows[np.argmax(motion.feed[rows] / reach[rows])]
        yield context.finding(
            "rate-over-machine",
            f"F asks for {context.rate(float(motion.feed[worst]))}; "
            f"the machine can do {context.rate(float(reach[worst]))} in that direction",
            row=int(rows[0]),
            letters="F",
            value=float(motion.feed[worst]),
            limit=float(reach[worst]),
            unit="mm/min",
            count=len(rows),
        )


def spindle_out_of_range(context: StageContext) -> Iterator[Finding]:
    """Compare S with the ranges of spindle and bit."""
    motion, spindle = context.motion, context.machine.spindle
    speed = np.abs(motion.spindle)
    turning = motion.cutting & np.isfinite(speed) & (speed > 0)
    most = context.stage.bit.max_rpm if context.stage.bit else None
    cases: list[tuple[NDArray[np.bool_], float, Level, str]] = []
    if most is not None:
        cases.append((turning & (speed > most), most, "error", "the bit's maximum is"))
    if spindle.max is not None and not (most is not None and most < spindle.max):
        cases.append((turning & (speed > spindle.max), spindle.max, "warning", "its most is"))
    if spindle.min is not None:
        cases.append((turning & (speed < spindle.min), spindle.min, "warning", "its least is"))
    for mask, limit, level, said in cases:
        for rows in context.places(mask):
            value = float(speed[rows[0]])
            lost = value < limit and spindle.min is not None and value * LOST_ZERO >= limit
            zero = f"; {value * LOST_ZERO:.0f} may have lost a zero" if lost else ""
            yield context.finding(
                "spindle-out-of-range",
                f"the spindle is told to turn at {value:.0f} rpm; {said} {limit:.0f} rpm{zero}",
                row=int(rows[0]),
                level=level,
                letters="S",
                value=value,
                limit=limit,
                unit="rpm",
                count=len(rows),
            )


def taking(context: StageContext) -> NDArray[np.bool_]:
    """Return the rows that cut material at a known feed and speed."""
    motion = context.motion
    speed = np.abs(motion.spindle)
    good: NDArray[np.bool_] = (
        motion.cutting
        & (context.cut.axial > TOUCH)
        & (motion.feed > 0)
        & np.isfinite(speed)
        & (speed > 0)
    )
    return good
