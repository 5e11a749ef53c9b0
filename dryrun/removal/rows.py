"""Facts of motion rows that take a loop over all of them: from geometry alone, and from tallies."""

# mypy: ignore-errors
# kernels: numba types them when they run

from __future__ import annotations

import math

import numpy as np

from dryrun.jit import kernel
from dryrun.motion import ARC
from dryrun.removal.commit import LEFT, RIGHT, SIDE_STEPS, TALLEST, TALLEST_AT, VOLUME
from dryrun.removal.surface import STEPS


@kernel
def mark_known(start, end, known):
    """Mark the rows both of whose ends are known places."""
    for i in range(len(start)):
        places = start[i, 0] + start[i, 1] + start[i, 2] + end[i, 0] + end[i, 1] + end[i, 2]
        known[i] = math.isfinite(places)


@kernel
def lowest_ends(row, start, end, box, lowest, lowest_at, beyond):
    """Lowest place of straight parts that lie wholly over a rectangle; of equal ones the first.

    `box` is (low x, low y, high x, high y). Marks parts that leave it in `beyond`, and returns how
    many they are.
    """
    left = 0
    for i in range(len(row)):
        x0, y0, z0 = start[i, 0], start[i, 1], start[i, 2]
        x1, y1, z1 = end[i, 0], end[i, 1], end[i, 2]
        inside = min(x0, x1) >= box[0] and max(x0, x1) <= box[2]
        inside = inside and min(y0, y1) >= box[1] and max(y0, y1) <= box[3]
        beyond[i] = not inside
        if not inside:
            left += 1
            continue
        k, low = row[i], min(z0, z1)
        if not low >= lowest[k]:  # nor where it is NaN, not known so far
            lowest[k] = low
            lowest_at[k, 0] = x0 if z0 <= z1 else x1
            lowest_at[k, 1] = y0 if z0 <= z1 else y1
    return left


@kernel
def steepest_descents(row, start, end, fall, run):
    """Keep fall and run of the steepest straight part of each row that goes down."""
    for i in range(len(row)):
        k = row[i]
        down = start[i, 2] - end[i, 2]
        if down <= 0.0:
            continue
        x, y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
        along = math.sqrt(x * x + y * y)
        if not down * run[k] <= fall[k] * along:
            fall[k] = down
            run[k] = along


@kernel
def add_up_plunges(kind, start, end, axial):
    """Let the axial depth of a plunge that goes on from another count from where that one began.

    A plunge goes straight down; it goes on from the row before it if that is one too, of the same
    kind, and ended where this one begins.
    """
    for i in range(1, len(kind)):
        x, y, z = start[i, 0], start[i, 1], start[i, 2]
        if x != end[i, 0] or y != end[i, 1] or not end[i, 2] < z < start[i - 1, 2]:
            continue
        below = x == start[i - 1, 0] == end[i - 1, 0] and y == start[i - 1, 1] == end[i - 1, 1]
        if below and z == end[i - 1, 2] and kind[i] == kind[i - 1] != ARC and axial[i] > 0.0:
            axial[i] += axial[i - 1]


@kernel
def measure_rows(motion, totals, edges, frame, found):
    """Turn the totals of each row into facts; those of plunges are still each row's own.

    `motion` is kind, axis, start and end of the rows, `edges` the radius of the cutter at each axial
    depth, `frame` the cell, the first cell's centre (x, y), the cutter's radius (mm) and the cells
    along X. Fills in `found`: volume, axial depth, its place, width of cut, and the sines of the
    angles, seen from the feed, between which the edge cuts; the last number is how often their
    difference counts: twice for a plunge.
    """
    kind, axis, start, end = motion
    cell, first_x, first_y, radius, across = frame
    removed, axial, axial_at, wide, low_sine, high_sine, turns = found
    half, per_cell = 0.5 * cell, cell * cell / STEPS
    for i in range(len(totals)):
        removed[i] = totals[i, VOLUME] * per_cell
        axial[i] = totals[i, TALLEST] / STEPS
        at = totals[i, TALLEST_AT]
        iy = at // across
        axial_at[i, 0] = (at - iy * across) * cell + first_x if at >= 0 else np.nan
        axial_at[i, 1] = iy * cell + first_y if at >= 0 else np.nan
        left, right = totals[i, LEFT] / SIDE_STEPS, totals[i, RIGHT] / SIDE_STEPS
        wide[i], low_sine[i], high_sine[i], turns[i] = 0.0, 0.0, 0.0, 1.0
        if left > right:  # nothing was taken beside or ahead of the path
            continue
        edge = min(max(edges[i], max(abs(left), abs(right))), radius)
        low = min(max(left - half, -edge), edge)
        high = min(max(right + half, -edge), edge)
        bent = kind[i] == ARC and axis[i] == 2
        wide[i] = min(right - left + cell if bent else high - low, 2.0 * radius)
        if edge > 0.0:
            low_sine[i], high_sine[i] = low / edge, high / edge
        if start[i, 0] == end[i, 0] and start[i, 1] == end[i, 1] and kind[i] != ARC:
            turns[i] = 2.0
