"""Straight parts of a path as pieces: from the lower end, and which of them go on from another."""

# mypy: ignore-errors
# kernels: numba types them when they run

from __future__ import annotations

import math
from typing import Final

from dryrun.jit import inner_kernel, kernel
from dryrun.removal.ground import ABOVE, AT_HIGH, AT_LOW, BELOW, LENGTH, LINE, STEEP

#: A line steeper than this is computed in double precision.
STEEPEST: Final = 64.0
#: A row that moves less than this sideways is a plunge, mm.
UPRIGHT: Final = 1e-9
#: Ends nearer than this are the same place, mm.
SAME_PLACE: Final = 1e-9
#: Cosine of the angle up to which a path goes on as it did before.
_STRAIGHT_ON: Final = 0.98
#: And how far it does at most, in lengths of a piece: from the chord of a curve it bends away.
_ONWARD_LENGTHS: Final = 2.0


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
        data[i, 7] = data[i, 8] = 0.0
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


@kernel
def mark_onward(start, end, flip, order, data):
    """Fill in how far the path goes on beyond both ends of sloping straight pieces, mm, seen from above.

    It goes on as long as pieces join each other and turn little. `order` numbers the pieces; numbers
    beyond the straight parts are arcs.
    """
    n = len(order)
    for way in range(2):
        gone = 0.0
        for k in range(1, n):
            i, before = (order[k], order[k - 1]) if way == 0 else (order[n - 1 - k], order[n - k])
            first, second = (before, i) if way == 0 else (i, before)
            if max(i, before) < len(start) and _straight_on(start, end, first, second):
                gone += math.hypot(end[before, 0] - start[before, 0], end[before, 1] - start[before, 1])
            else:
                gone = 0.0
            if i < len(start) and start[i, 2] != end[i, 2]:
                most = _ONWARD_LENGTHS * data[i, LENGTH]
                data[i, ABOVE if flip[i] == (way == 0) else BELOW] = min(gone, most)


@inner_kernel
def _straight_on(start, end, first, second):
    """Whether a straight piece begins where another ended, and in nearly the same direction."""
    gap, product, one, other = 0.0, 0.0, 0.0, 0.0
    for axis in range(3):
        gap = max(gap, abs(start[second, axis] - end[first, axis]))
        a, b = end[first, axis] - start[first, axis], end[second, axis] - start[second, axis]
        product += a * b
        one += a * a
        other += b * b
    return gap <= SAME_PLACE and product > _STRAIGHT_ON * math.sqrt(one * other)
