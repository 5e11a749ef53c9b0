"""Path: the moving rows of a program as a chain of straight and turning pieces with limits.

The chain holds only rows that move the machine and whose place and speed are known. Rows without
length are left out, and a standstill between two rows is a gate of speed 0 at their corner.
"""

# mypy: allow-untyped-defs
# Kernels are typed by the compiler at run time; their docstrings say what they take.

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
    LOOK_AHEAD,
    NONE,
)
from dryrun.timing.corners import EASE, GATE, TRIM, Turn, shape_corner
from dryrun.timing.limits import FASTEST, UNLIMITED, Limits, along
from dryrun.timing.twice import bare, twice

# Columns of the table of rows; 0-2 tangent at the start, 8-11 see corners.
LENGTH: Final = 3
CAP: Final = 4  # largest speed squared, mm2/s2
TURN_CAP: Final = 5  # the same in its corners, without the rates of the axes
FEED_RATE: Final = 6  # speed that the program asks for, mm/s
PUSH: Final = 7  # acceleration along a straight row, mm/s2
ROW_WIDTH: Final = 12

# Columns of the table of codes.
ROW: Final = 0  # motion row
ARC_ROW: Final = 1  # row in the table of arcs, -1 straight
MIDDLE: Final = 2  # steps between the corner halves of a row
CAP_WHY: Final = 3  # cause of the cap
PIECES: Final = 4  # steps in each half of the arc of the corner before a row
GATE_WHY: Final = 5  # cause of the gate at that corner
NODE: Final = 6  # node in the middle of that corner
CODE_WIDTH: Final = 7

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

#: Rows up to this length do not move the machine, mm.
SHORTEST: Final = 1e-12

#: Steps of an arc turn by at most this, rad.
ARC_STEP: Final = math.pi / 384


class Path(NamedTuple):
    """The chain of m rows. Row j describes also the corner before it; row m is the end.

    Attributes
    ----------
    rows : (m + 1, ROW_WIDTH) lengths, tangents, limits and corners
    codes : (m + 1, CODE_WIDTH) int32 indices, counts and causes
    arcs : (k, ARC_WIDTH)
    """

    rows: NDArray[np.float64]
    codes: NDArray[np.int32]
    arcs: NDArray[np.float64]


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
    blind: bool


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
def apart(start, end, before, i):
    """Say whether a row starts elsewhere than the row before it ended."""
    return (
        abs(start[i, 0] - end[before, 0]) > 1e-6
        or abs(start[i, 1] - end[before, 1]) > 1e-6
        or abs(start[i, 2] - end[before, 2]) > 1e-6
    )


@twice
def limit_row(rows, codes, at, kind, speed, length, tangent, rules):
    """Fill the limits of one row: speed asked for, cap and its cause, acceleration."""
    straight = codes[at, ARC_ROW] < 0
    limits = rules.limits
    why = FEED
    most = FASTEST if kind == RAPID else speed
    if rules.lines_per_second > 0.0 and length * rules.lines_per_second < most:
        most = length * rules.lines_per_second
        why = LINES_PER_SECOND
    rows[at, TURN_CAP] = most * most
    rows[at, FEED_RATE] = speed
    if straight and (kind == RAPID or speed > limits.slowest):
        rate = along(tangent, limits.slowness, FASTEST)
        if kind == RAPID:
            rows[at, FEED_RATE] = rate
        if rate < most:
            most = rate
            why = AXIS_RATE
    rows[at, CAP] = most * most
    codes[at, CAP_WHY] = why
    if straight:
        rows[at, PUSH] = along(tangent, limits.ease, limits.path)


@twice
def room_of(rows, codes, arcs, at):
    """Return the longest tangent length that one row can give to a corner, mm."""
    arc = codes[at, ARC_ROW]
    if arc >= 0:
        return arcs[arc, ARC_ROOM]
    return 0.5 * rows[at, LENGTH]


@twice
def measure(rows, at, start, end, i):
    """Fill length and tangent of a straight row; return both."""
    x = end[i, 0] - start[i, 0]
    y = end[i, 1] - start[i, 1]
    z = end[i, 2] - start[i, 2]
    length = math.sqrt(x * x + y * y + z * z)
    if length > SHORTEST:
        share = 1.0 / length  # one division: divisions are what a row costs
        x *= share
        y *= share
        z *= share
    rows[at, 0] = x
    rows[at, 1] = y
    rows[at, 2] = z
    rows[at, LENGTH] = length
    return length, (x, y, z)


@twice
def measure_arc(rows, at, arcs, arc):
    """Fill length and first tangent of an arc; return both."""
    for axis in range(3):
        rows[at, axis] = arcs[arc, axis] + arcs[arc, 6 + axis]
    rows[at, LENGTH] = arcs[arc, ARC_LENGTH]
    return arcs[arc, ARC_LENGTH], (rows[at, 0], rows[at, 1], rows[at, 2])


@twice
def first_of(rows, at):
    """Return the unit tangent at the start of a row."""
    return rows[at, 0], rows[at, 1], rows[at, 2]


@twice
def last_of(rows, codes, arcs, at):
    """Return the unit tangent at the end of a row."""
    arc = codes[at, ARC_ROW]
    if arc >= 0:
        return arcs[arc, 9], arcs[arc, 10], arcs[arc, 11]
    return rows[at, 0], rows[at, 1], rows[at, 2]


@twice
def join(rows, codes, arcs, at, tangent, tolerance, limits):
    """Shape the corner between two rows that follow each other; tolerance 0 stops."""
    rows[at, GATE] = UNLIMITED
    codes[at, GATE_WHY] = CORNER
    last = last_of(rows, codes, arcs, at - 1)
    room = min(room_of(rows, codes, arcs, at - 1), room_of(rows, codes, arcs, at))
    codes[at, PIECES] = shape_corner(rows, at, last, tangent, tolerance, room, limits)


@twice
def number(rows, codes, arcs, at):
    """Count the steps of a row whose two corners are known, and number the node after it."""
    length = rows[at, LENGTH]
    rest = length - rows[at, TRIM] - rows[at + 1, TRIM]
    middle = 1
    if rest <= 1e-12 + 1e-12 * length:
        middle = 0
    elif codes[at, ARC_ROW] >= 0:
        middle = int(arcs[codes[at, ARC_ROW], ARC_COUNT])
    codes[at, MIDDLE] = middle
    codes[at + 1, NODE] = codes[at, NODE] + codes[at, PIECES] + middle + codes[at + 1, PIECES]


@twice
def close(rows, codes, arcs, count):
    """Close a chain of `count` rows with a standstill."""
    for column in range(TRIM, ROW_WIDTH):
        rows[count, column] = 0.0
    codes[count, PIECES] = 0
    codes[count, GATE_WHY] = ACCELERATION
    codes[count, NODE] = 0
    if count > 0:
        number(rows, codes, arcs, count - 1)


@twice
def survey(columns, rules, chain, state, begin, end, origin, found, stopped):
    """Chain the rows begin..end; return where the chain ends then, and whether the machine stands.

    The chain begins at its row `origin` and ends before `found` so far; `stopped` is the cause of a
    standstill before `begin`, NONE when the machine moves on.
    """
    kinds, starts, ends, feeds, tolerances, arc_of, stop_before = bare(columns)
    rows, codes, arcs = bare(chain)
    state = bare(state)
    for i in range(begin, end):
        kind = kinds[i]
        if stop_before[i]:
            stopped = ACCELERATION
        if kind > PROBE:
            stopped = ACCELERATION
            continue
        if arc_of[i] >= 0:
            length, first = measure_arc(rows, found, arcs, arc_of[i])
        else:
            length, first = measure(rows, found, starts, ends, i)
        feed = feeds[i]
        if not length < 1e12 or (kind != RAPID and not feed > 0.0):
            state[i] = UNKNOWN
            stopped = ACCELERATION
            continue
        if length <= SHORTEST:
            state[i] = NO_LENGTH
            continue
        if kind == RAPID and rules.independent:
            state[i] = SEPARATE
            stopped = ACCELERATION
            continue
        state[i] = ON_PATH
        codes[found, ROW] = i
        codes[found, ARC_ROW] = arc_of[i]
        limit_row(rows, codes, found, kind, feed / 60.0, length, first, rules)
        before = codes[found - 1, ROW] if found > origin else 0
        if found == origin or kind == PROBE or (stopped == NONE and apart(starts, ends, before, i)):
            stopped = ACCELERATION
        if stopped == NONE and tolerances[before] == 0.0:
            stopped = EXACT_STOP
        if stopped == NONE and rules.blind:
            stopped = LOOK_AHEAD
        if stopped == NONE:
            own = tolerances[before] if tolerances[before] > 0.0 else rules.tolerance
            join(rows, codes, arcs, found, first, own, rules.limits)
        else:
            rows[found, GATE] = 0.0
            codes[found, GATE_WHY] = stopped
        if found > origin:
            number(rows, codes, arcs, found - 1)
        else:
            codes[found, NODE] = 0
        stopped = ACCELERATION if kind == PROBE else NONE
        found += 1
    return found, stopped


@twice
def circle_of(angle):
    """Return cosine and sine of an angle up to 0.6 rad to 1e-16, by their series."""
    square = angle * angle
    cosine = 1.0
    sine = 1.0
    for order in range(9, 0, -1):
        cosine = 1.0 - square / ((2 * order - 1) * (2 * order)) * cosine
        sine = 1.0 - square / ((2 * order) * (2 * order + 1)) * sine
    return cosine, sine * angle


@twice
def arc_turn(rows, codes, arcs, at):
    """Return an arc row, without what its corners take from it, as a Turn."""
    arc = codes[at, ARC_ROW]
    turning = arcs[arc, ARC_TURNING]
    first = rows[at, TRIM] * turning
    last = rows[at + 1, TRIM] * turning
    count = codes[at, MIDDLE]
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
        EASE,
    )


def empty_path(rows: int, arcs: NDArray[np.float64]) -> Path:
    """Return room for a chain of up to `rows` rows."""
    return Path(
        rows=np.zeros((rows + 1, ROW_WIDTH)),
        codes=np.zeros((rows + 1, CODE_WIDTH), np.int32),
        arcs=arcs,
    )


def view(array: NDArray[Any]) -> Any:
    """Return a memory view of an array."""
    return memoryview(array)  # type: ignore[arg-type]


def views(table: Any) -> Any:
    """Return a named tuple of arrays as memory views: plain Python reads those faster."""
    return type(table)(
        *(view(value) if isinstance(value, np.ndarray) else value for value in table)
    )
