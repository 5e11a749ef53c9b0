"""Path: the moving rows of a program as a chain of straight and turning pieces with limits.

The chain holds only rows that move the machine and whose place and speed are known. Rows without
length are left out, and a standstill between two rows is a gate of speed 0 at their corner.
"""

from __future__ import annotations

import math
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.motion import ARC, PROBE, RAPID, Motion
from dryrun.timing.causes import (
    ACCELERATION,
    AXIS_RATE,
    CORNER,
    EXACT_STOP,
    FEED,
    LINES_PER_SECOND,
    NONE,
)
from dryrun.timing.corners import EASE, GATE, TRIM, WIDTH, Turn, shape_corner
from dryrun.timing.limits import FASTEST, UNLIMITED, Limits, along
from dryrun.timing.twice import twice

# Columns of the table of rows; 0-2 tangent at the start, 3-5 at the end.
LENGTH: Final = 6
CAP: Final = 7  # largest speed squared, mm2/s2
FEED_RATE: Final = 8  # speed that the program asks for, mm/s
PUSH: Final = 9  # acceleration along a straight row, mm/s2
ROW_WIDTH: Final = 10

# Columns of the table of arcs; 0-2 out, 3-5 inward, 6-8 drift, 9-11 tangent at the end.
ARC_TURNING: Final = 12
ARC_BEND: Final = 13
ARC_ANGLE: Final = 14
ARC_COS: Final = 15  # of the whole angle
ARC_SIN: Final = 16
ARC_COUNT: Final = 17
ARC_LENGTH: Final = 18
ARC_ROOM: Final = 19  # longest tangent length that a corner may take from it, mm
ARC_WIDTH: Final = 20

#: What becomes of each motion row.
EVENT, ON_PATH, NO_LENGTH, SEPARATE, UNKNOWN = 0, 1, 2, 3, 4

#: Steps of an arc turn by at most this, rad.
ARC_STEP: Final = math.pi / 64


class Path(NamedTuple):
    """The chain of m rows and m + 1 corners.

    Attributes
    ----------
    row : (m,) index of the motion row
    rows : (m, ROW_WIDTH) lengths, tangents and limits
    arc : (m,) row in `arcs`, -1 straight
    middle : (m,) steps between the two corner halves of a row
    cap_why : (m,) cause of the cap
    arcs : (k, ARC_WIDTH)
    corners : (m + 1, corners.WIDTH), corner j lies between row j - 1 and row j
    pieces : (m + 1,) steps in each half of a corner's arc
    gate_why : (m + 1,) cause of the gate
    offset : (m + 1,) number of the node in the middle of each corner
    """

    row: NDArray[np.int64]
    rows: NDArray[np.float64]
    arc: NDArray[np.int32]
    middle: NDArray[np.int32]
    cap_why: NDArray[np.int8]
    arcs: NDArray[np.float64]
    corners: NDArray[np.float64]
    pieces: NDArray[np.int32]
    gate_why: NDArray[np.int8]
    offset: NDArray[np.int64]


class Columns(NamedTuple):
    """The columns of Motion that the survey reads, and what was found about them before."""

    kind: NDArray[np.int8]
    start: NDArray[np.float64]
    end: NDArray[np.float64]
    feed: NDArray[np.float64]
    tolerance: NDArray[np.float64]
    arc: NDArray[np.int32]
    stop_before: NDArray[np.bool_]


class Rules(NamedTuple):
    """The machine's rules that the survey applies."""

    limits: Limits
    tolerance: float
    lines_per_second: float
    independent: bool


def arc_table(motion: Motion) -> tuple[NDArray[np.int32], NDArray[np.float64]]:
    """Return each row's place in the table of arcs (-1 none), and the table.

    A row whose radius is next to nothing counts as straight.
    """
    index = np.full(len(motion), -1, np.int32)
    found = np.flatnonzero(motion.kind == ARC)
    if not len(found):
        return index, np.zeros((0, ARC_WIDTH))
    axis = motion.axis[found].astype(np.intp)
    order = np.arange(len(found))
    radial = motion.start[found] - motion.centre[found]
    radial[order, axis] = 0.0
    radius = np.sqrt((radial * radial).sum(axis=1))
    angle = np.abs(motion.sweep[found])
    rise = (motion.end[found] - motion.start[found])[order, axis]
    good = ~((radius < 1e-9) | (angle < 1e-12))  # NaN stays, and makes the row unknown
    found, axis, radial, radius, angle, rise = (
        column[good] for column in (found, axis, radial, radius, angle, rise)
    )
    order = np.arange(len(found))
    index[found] = order
    length = np.hypot(radius * angle, rise)
    turning = angle / length
    flat = radius * turning
    normal = np.zeros((len(found), 3))
    normal[order, axis] = 1.0
    outward = radial / radius[:, None]
    table = np.zeros((len(found), ARC_WIDTH))
    table[:, 0:3] = np.cross(normal, outward) * (np.sign(motion.sweep[found]) * flat)[:, None]
    table[:, 3:6] = -outward * flat[:, None]
    table[:, 6:9] = normal * (rise / length)[:, None]
    table[:, ARC_COS] = np.cos(angle)
    table[:, ARC_SIN] = np.sin(angle)
    table[:, 9:12] = (
        table[:, 0:3] * table[:, ARC_COS, None]
        + table[:, 3:6] * table[:, ARC_SIN, None]
        + table[:, 6:9]
    )
    table[:, ARC_TURNING] = turning
    table[:, ARC_BEND] = flat * turning
    table[:, ARC_ANGLE] = angle
    table[:, ARC_COUNT] = np.maximum(2, np.ceil(angle / ARC_STEP - 1e-9))
    table[:, ARC_LENGTH] = length
    table[:, ARC_ROOM] = np.minimum(length / 2, radius / 4)
    return index, table


@twice
def row_ahead(columns, arcs, i):  # type: ignore[no-untyped-def]
    """Return length, unit tangents at both ends, and the row of the arc table, of one row."""
    arc = columns.arc[i]
    if arc >= 0:
        first = (
            arcs[arc, 0] + arcs[arc, 6], arcs[arc, 1] + arcs[arc, 7], arcs[arc, 2] + arcs[arc, 8],
        )  # fmt: skip
        last = (arcs[arc, 9], arcs[arc, 10], arcs[arc, 11])
        return arcs[arc, ARC_LENGTH], first, last
    x = columns.end[i, 0] - columns.start[i, 0]
    y = columns.end[i, 1] - columns.start[i, 1]
    z = columns.end[i, 2] - columns.start[i, 2]
    length = math.sqrt(x * x + y * y + z * z)
    if length > 1e-12:
        x /= length
        y /= length
        z /= length
    return length, (x, y, z), (x, y, z)


@twice
def apart(columns, before, i):  # type: ignore[no-untyped-def]
    """Say whether a row starts elsewhere than the row before it ended."""
    return (
        abs(columns.start[i, 0] - columns.end[before, 0]) > 1e-6
        or abs(columns.start[i, 1] - columns.end[before, 1]) > 1e-6
        or abs(columns.start[i, 2] - columns.end[before, 2]) > 1e-6
    )


@twice
def limit_row(path, at, kind, feed, length, tangent, rules):  # type: ignore[no-untyped-def]
    """Fill the limits of one row: speed asked for, cap and its cause, acceleration."""
    rows = path.rows
    straight = path.arc[at] < 0
    limits = rules.limits
    speed = feed / 60.0
    why = FEED
    if kind == RAPID or (straight and speed > limits.slowest):
        most = along(tangent, limits.rate, FASTEST)
        if kind == RAPID:
            speed = most
        if most <= speed:
            why = AXIS_RATE
    else:
        most = speed
    rows[at, FEED_RATE] = speed
    most = min(most, speed)
    if rules.lines_per_second > 0.0 and length * rules.lines_per_second < most:
        most = length * rules.lines_per_second
        why = LINES_PER_SECOND
    rows[at, CAP] = most * most
    path.cap_why[at] = why
    if straight:
        rows[at, PUSH] = along(tangent, limits.acceleration, limits.path)


@twice
def join(path, at, before, tangent, tolerance, room):  # type: ignore[no-untyped-def]
    """Shape the corner between the row before and the row `at`."""
    rows = path.rows
    last = (rows[before, 3], rows[before, 4], rows[before, 5])
    path.pieces[at] = shape_corner(path.corners, at, last, tangent, tolerance, room)
    path.gate_why[at] = CORNER


@twice
def gate(path, at, why):  # type: ignore[no-untyped-def]
    """Make the machine stand still at a corner."""
    path.corners[at, GATE] = 0.0
    path.gate_why[at] = why
    path.pieces[at] = 0


@twice
def room_of(path, at):  # type: ignore[no-untyped-def]
    """Return the longest tangent length that one row can give to a corner, mm."""
    arc = path.arc[at]
    if arc >= 0:
        return path.arcs[arc, ARC_ROOM]
    return 0.5 * path.rows[at, LENGTH]


@twice
def survey(columns, rules, path, state, begin, end, found, stopped):  # type: ignore[no-untyped-def]
    """Chain the rows begin..end; return the number of rows in the chain and whether it stands.

    `found` rows are in the chain already; `stopped` is the cause of a standstill before `begin`, 0
    when the machine moves on.
    """
    arcs = path.arcs
    for i in range(begin, end):
        kind = columns.kind[i]
        if columns.stop_before[i]:
            stopped = ACCELERATION
        if kind > PROBE:
            stopped = ACCELERATION
            continue
        length, first, last = row_ahead(columns, arcs, i)
        feed = columns.feed[i]
        if not length < 1e12 or (kind != RAPID and not feed > 0.0):
            state[i] = UNKNOWN
            stopped = ACCELERATION
            continue
        if length <= 1e-12:
            state[i] = NO_LENGTH
            continue
        if kind == RAPID and rules.independent:
            state[i] = SEPARATE
            stopped = ACCELERATION
            continue
        state[i] = ON_PATH
        at = found
        path.row[at] = i
        path.arc[at] = columns.arc[i]
        for axis in range(3):
            path.rows[at, axis] = first[axis]
            path.rows[at, 3 + axis] = last[axis]
        path.rows[at, LENGTH] = length
        limit_row(path, at, kind, feed, length, first, rules)
        path.corners[at, GATE] = UNLIMITED
        if at == 0 or kind == PROBE or (stopped == NONE and apart(columns, path.row[at - 1], i)):
            stopped = ACCELERATION
        if stopped != NONE:
            gate(path, at, stopped)
        else:
            tolerance = columns.tolerance[path.row[at - 1]]
            if tolerance == 0.0:
                gate(path, at, EXACT_STOP)
            else:
                if not tolerance > 0.0:
                    tolerance = rules.tolerance
                join(
                    path,
                    at,
                    at - 1,
                    first,
                    tolerance,
                    min(room_of(path, at - 1), room_of(path, at)),
                )
        stopped = ACCELERATION if kind == PROBE else NONE
        found += 1
    return found, stopped


@twice
def lay_out(path, count):  # type: ignore[no-untyped-def]
    """Count the steps of every row and number the nodes."""
    node = 0
    for at in range(count):
        path.offset[at] = node
        trimmed = path.corners[at, TRIM] + path.corners[at + 1, TRIM]
        rest = path.rows[at, LENGTH] - trimmed
        if rest <= 1e-12 + 1e-12 * path.rows[at, LENGTH]:
            path.middle[at] = 0
        elif path.arc[at] >= 0:
            path.middle[at] = int(path.arcs[path.arc[at], ARC_COUNT])
        else:
            path.middle[at] = 1
        node += path.pieces[at] + path.middle[at] + path.pieces[at + 1]
    path.offset[count] = node


@twice
def circle_of(angle):  # type: ignore[no-untyped-def]
    """Return cosine and sine of an angle up to 0.6 rad to 1e-16, by their series."""
    square = angle * angle
    cosine = 1.0
    sine = 1.0
    for order in range(9, 0, -1):
        cosine = 1.0 - square / ((2 * order - 1) * (2 * order)) * cosine
        sine = 1.0 - square / ((2 * order) * (2 * order + 1)) * sine
    return cosine, sine * angle


@twice
def arc_turn(path, at):  # type: ignore[no-untyped-def]
    """Return an arc row, without what its corners take from it, as a Turn."""
    arcs = path.arcs
    arc = path.arc[at]
    turning = arcs[arc, ARC_TURNING]
    first = path.corners[at, TRIM] * turning
    last = path.corners[at + 1, TRIM] * turning
    count = path.middle[at]
    cos_first, sin_first = circle_of(first)
    cos_trim, sin_trim = circle_of(last)
    angle = (arcs[arc, ARC_ANGLE] - first - last) / count
    cos_half, sin_half = circle_of(0.5 * angle)
    return Turn(
        (arcs[arc, 0], arcs[arc, 1], arcs[arc, 2]),
        (arcs[arc, 3], arcs[arc, 4], arcs[arc, 5]),
        (arcs[arc, 6], arcs[arc, 7], arcs[arc, 8]),
        turning,
        arcs[arc, ARC_BEND],
        angle / turning,
        cos_first,
        sin_first,
        arcs[arc, ARC_COS] * cos_trim + arcs[arc, ARC_SIN] * sin_trim,
        arcs[arc, ARC_SIN] * cos_trim - arcs[arc, ARC_COS] * sin_trim,
        cos_half,
        sin_half,
        count,
        1.0 - EASE * sin_half * sin_half,
    )


def empty_path(rows: int, arcs: NDArray[np.float64]) -> Path:
    """Return room for a chain of up to `rows` rows."""
    return Path(
        row=np.zeros(rows, np.int64),
        rows=np.zeros((rows, ROW_WIDTH)),
        arc=np.full(rows, -1, np.int32),
        middle=np.zeros(rows, np.int32),
        cap_why=np.zeros(rows, np.int8),
        arcs=arcs,
        corners=np.zeros((rows + 1, WIDTH)),
        pieces=np.zeros(rows + 1, np.int32),
        gate_why=np.full(rows + 1, ACCELERATION, np.int8),
        offset=np.zeros(rows + 1, np.int64),
    )


def views(table: Any) -> Any:
    """Return a named tuple of arrays as memory views: plain Python reads those faster."""
    return type(table)(
        *(memoryview(value) if isinstance(value, np.ndarray) else value for value in table)
    )
