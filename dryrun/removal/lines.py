"""Straight parts of a path as pieces: from the lower end, and which of them go on from another."""

# mypy: ignore-errors
# kernels: numba types them when they run

from __future__ import annotations

import math
from typing import Final

from dryrun.jit import kernel
from dryrun.removal.ground import AT_HIGH, AT_LOW, LINE, STEEP

#: A line steeper than this is computed in double precision.
STEEPEST: Final = 64.0
#: A row that moves less than this sideways is a plunge, mm.
UPRIGHT: Final = 1e-9
#: Ends nearer than this are the same place, mm.
SAME_PLACE: Final = 1e-9


@kernel
def describe_lines(start, end, exact, kind, flip, data):
    """Fill kind and data of straight parts, and whether they run from their higher end.

    Of two level ends the one with the lower x (then y) counts as lower, so that the way back
    gives the same numbers.
    """
    for i in range(len(start)):
        back = start[i, 2] > end[i, 2] or (
            start[i, 2] == end[i, 2]
            and (
                start[i, 0] > end[i, 0] or (start[i, 0] == end[i, 0] and start[i, 1] > end[i, 1])
            )
        )
        sign = -1.0 if back else 1.0
        for axis in range(3):
            data[i, axis] = end[i, axis] if back else start[i, axis]
        dx = sign * (end[i, 0] - start[i, 0])
        dy = sign * (end[i, 1] - start[i, 1])
        dz = sign * (end[i, 2] - start[i, 2])
        length = math.hypot(dx, dy)
        upright = length <= UPRIGHT
        data[i, 3] = 1.0 if upright else dx / length
        data[i, 4] = 0.0 if upright else dy / length
        data[i, 5] = 0.0 if upright else length
        data[i, 6] = 0.0 if upright else dz / length
        kind[i] = STEEP if exact or data[i, 6] > STEEPEST else LINE
        flip[i] = back


@kernel
def mark_joined(start, end, flip, order, joined, first, after):
    """Fill in which end of each straight piece is the place where the piece before it ended.

    For the pieces from `first` to before `after`. `order` numbers the pieces; numbers beyond the
    straight parts are arcs. A plunge cuts as deep
    as it goes right where it begins, so nothing of it is cut already.
    """
    lines = len(start)
    for k in range(max(first, 1), after):
        i, before = order[k], order[k - 1]
        joined[k] = 0
        if i >= lines or before >= lines:
            continue
        gap = 0.0
        for axis in range(3):
            gap = max(gap, abs(start[i, axis] - end[before, axis]))
        run = math.hypot(end[i, 0] - start[i, 0], end[i, 1] - start[i, 1])
        fall = abs(end[i, 2] - start[i, 2])
        if gap <= SAME_PLACE and run * STEEPEST > max(fall, UPRIGHT):
            joined[k] = AT_HIGH if flip[i] else AT_LOW
