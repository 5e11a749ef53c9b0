"""Arcs that turn the wrong way round, G2 for G3, or lie in another plane than was meant.

Start, end and centre agree with either, so the reader cannot tell. What tells is the path beside
it: an arc turned the wrong way begins against the way the path came, and ends against the way it
goes on, where the other one would run on smoothly at both ends.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Final

import numpy as np

from dryrun.checks.context import MOST_PLACES, StageContext
from dryrun.checks.rounds import SAME, Points, arcs, beside, full_circles
from dryrun.finding import Finding
from dryrun.motion import ARC

#: Cosine of a path that turns straight back.
BACK: Final = -0.98


def arcs_turned(context: StageContext) -> Iterator[Finding]:
    """Report arcs that would run on smoothly at both ends if they turned the other way."""
    motion = context.motion
    rows = np.flatnonzero(arcs(motion) & ~full_circles(motion) & motion.cutting)
    if not len(rows):
        return
    came, *_ = beside(motion, rows, True)
    goes, *_ = beside(motion, rows, False)
    turn = np.sign(motion.sweep[rows])
    centre = motion.centre[rows, :2]
    begins = _tangent(motion.start[rows, :2] - centre, turn)
    ends = _tangent(motion.end[rows, :2] - centre, turn)
    back = ((came * begins).sum(axis=1) < BACK) & ((goes * ends).sum(axis=1) < BACK)
    for row in itertools.islice(rows[back], MOST_PLACES):
        written, meant = ("G3", "G2") if motion.sweep[row] > 0 else ("G2", "G3")
        yield context.finding(
            "circle-flipped",
            f"this arc turns back on the path before it and on the path after it; turned the other "
            f"way round, as {meant} in place of {written}, it would run on smoothly at both ends",
            row=int(row),
            letters="G",
            at=motion.centre[row],
            value=abs(float(np.degrees(motion.sweep[row]))),
            unit="deg",
        )


def arcs_across(context: StageContext) -> Iterator[Finding]:
    """Report arcs in an upright plane that move across it as well: helices on their side.

    They are legal, and no router program makes them: G18 or G19 stands where G17 was meant.
    """
    motion = context.motion
    normal = np.clip(motion.axis, 0, 2)
    number = np.arange(len(motion))
    across = np.abs(motion.end[number, normal] - motion.start[number, normal])
    rows = np.flatnonzero((motion.kind == ARC) & (normal != 2) & (across > SAME))
    if not len(rows):
        return
    row = int(rows[0])
    code, plane, axis = (("G19", "YZ", "X"), ("G18", "XZ", "Y"))[int(normal[row])]
    yield context.finding(
        "bad-arc",
        f"with {code} in force this arc turns in the {plane} plane and moves along {axis} by "
        f"{context.mm(round(float(across[row]), 3))} meanwhile; an arc in the XY plane needs G17",
        row=row,
        letters="G" + axis,
        level="warning",
        value=float(across[row]),
        limit=0.0,
        unit="mm",
        help="put G17 before that line",
        count=len(rows),
    )


def _tangent(spoke: Points, turn: Points) -> Points:
    """Return the heading of arcs at the end of a spoke, as unit vectors."""
    length = np.maximum(np.hypot(spoke[:, 0], spoke[:, 1]), 1e-9)
    along: Points = np.column_stack([-spoke[:, 1], spoke[:, 0]]) * (turn / length)[:, None]
    return along
