"""The backward and the forward pass over a chain of rows, and the bookkeeping of every second.

Nodes lie at the ends of steps: a straight row is one step, a turning piece several. `nodes` holds the
square of the speed at each, mm2/s2. The backward pass finds the largest speed from which everything
ahead can still be kept; the forward pass accelerates as hard as the axes allow below that (Pham & Pham
2018, IEEE Trans. Robotics 34(3), 645-659, with closed forms in place of linear programs).

Both passes also carry along the cause of the slow place ahead or behind, so that the time lost on a
ramp is booked on what made the ramp necessary.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.timing.causes import (
    ACCELERATION,
    ARC,
    AXIS_RATE,
    CORNER,
    COUNT,
    FEED,
    LINES_PER_SECOND,
    LOOK_AHEAD,
)
from dryrun.timing.corners import GATE, TRIM, half_corner
from dryrun.timing.limits import (
    FASTEST,
    UNLIMITED,
    along,
    before,
    crossing,
    push,
    turning_limit,
    vector_reach,
)
from dryrun.timing.path import CAP, FEED_RATE, LENGTH, PUSH, arc_turn
from dryrun.timing.twice import twice

# Columns of the table of results, one row per motion row; speeds in mm/s, times in s.
SECONDS: Final = 0
ENTRY: Final = 1
PEAK: Final = 2
EXIT: Final = 3
AT_FEED: Final = 4  # moving at the speed asked for
SLOWED: Final = 5  # moving steadily below it
RAMP: Final = 6  # accelerating and braking
WAIT: Final = 7  # lost because the controller cannot take blocks fast enough
RESULT_WIDTH: Final = 8

# The tally of one row: seconds by cause, then seconds lost by cause, then these.
LOST: Final = COUNT
RAMPING: Final = 2 * COUNT
TRAVELLED: Final = RAMPING + 1
HIGHEST: Final = RAMPING + 2
TALLY: Final = RAMPING + 3

# Columns of the table of steps that the jerk pass reads.
STEP_LENGTH: Final = 0
STEP_RISE: Final = 1  # length on which the step accelerates, mm
STEP_FALL: Final = 2
STEP_PEAK: Final = 3  # square of its highest speed
STEP_WIDTH: Final = 4


class Books(NamedTuple):
    """Where the forward pass writes.

    Attributes
    ----------
    tally : (TALLY,) of the row at hand
    result : (n, RESULT_WIDTH) and cause : (n,), one row per motion row
    lost : (2, COUNT) seconds lost by cause, and the rounding of those sums
    steps : (nodes, STEP_WIDTH), or without rows when no jerk is declared
    """

    tally: NDArray[np.float64]
    result: NDArray[np.float64]
    cause: NDArray[np.int8]
    lost: NDArray[np.float64]
    steps: NDArray[np.float64]


@twice
def tangent_of(turn, cosine, sine):  # type: ignore[no-untyped-def]
    """Return the unit tangent at an angle of a turn."""
    return (
        turn.out[0] * cosine + turn.inward[0] * sine + turn.drift[0],
        turn.out[1] * cosine + turn.inward[1] * sine + turn.drift[1],
        turn.out[2] * cosine + turn.inward[2] * sine + turn.drift[2],
    )


@twice
def bend_of(turn, cosine, sine):  # type: ignore[no-untyped-def]
    """Return the second derivative of the path at an angle of a turn, 1/mm."""
    along_path = turn.turning * cosine
    across = -turn.turning * sine
    return (
        turn.out[0] * across + turn.inward[0] * along_path,
        turn.out[1] * across + turn.inward[1] * along_path,
        turn.out[2] * across + turn.inward[2] * along_path,
    )


@twice
def eased(turn, limits):  # type: ignore[no-untyped-def]
    """Return the accelerations that a turn uses."""
    return (
        limits.acceleration[0] * turn.ease,
        limits.acceleration[1] * turn.ease,
        limits.acceleration[2] * turn.ease,
    )


@twice
def settle(nodes, why, node, most, reason):  # type: ignore[no-untyped-def]
    """Lower a node to a limit, and note whose limit it was."""
    if most < nodes[node]:
        nodes[node] = most
        why[node] = reason


@twice
def settle_rate(nodes, why, node, tangent, limits):  # type: ignore[no-untyped-def]
    """Lower a node to what the rates of the axes allow in its direction."""
    if nodes[node] > limits.slowest * limits.slowest:
        most = along(tangent, limits.rate, FASTEST)
        settle(nodes, why, node, most * most, AXIS_RATE)


@twice
def mid_tangent(p, k, step):  # type: ignore[no-untyped-def]
    """Return the factors of u in the axes' accelerations at the middle of a step."""
    return (p[0] + step * k[0], p[1] + step * k[1], p[2] + step * k[2])


@twice
def pinch_before(x, reach, left, right, p, k, a):  # type: ignore[no-untyped-def]
    """Return the largest x before a step in which an axis comes to rest and turns back.

    There that axis has no part in u, and x may not exceed a/|k|.
    """
    most = UNLIMITED
    for axis in range(3):
        fraction = crossing(left[axis], right[axis])
        if fraction < 1.0 and abs(k[axis]) > 1e-12:
            pinch = a[axis] / abs(k[axis])
            most = min(most, before(pinch, reach * fraction, p, k, a))
    return most


@twice
def pinch_push(x, reach, left, right, k, a):  # type: ignore[no-untyped-def]
    """Return the largest u on such a step."""
    most = UNLIMITED
    for axis in range(3):
        fraction = crossing(left[axis], right[axis])
        if fraction < 1.0 and abs(k[axis]) > 1e-12:
            most = min(most, (a[axis] / abs(k[axis]) - x) / (reach * fraction))
    return most


@twice
def turn_back(turn, limits, cap, cap_why, turn_why, nodes, why, last):  # type: ignore[no-untyped-def]
    """Fill the nodes of a turn from its last to its first."""
    a = eased(turn, limits)
    reach = 2.0 * turn.step
    cosine = turn.cos_last
    sine = turn.sin_last
    right = tangent_of(turn, cosine, sine)
    most = turning_limit(right, bend_of(turn, cosine, sine), a, limits.path, turn.bend)
    settle(nodes, why, last, most, turn_why)
    settle_rate(nodes, why, last, right, limits)
    for node in range(last - 1, last - 1 - turn.count, -1):
        middle_cos = cosine * turn.cos_half + sine * turn.sin_half
        middle_sin = sine * turn.cos_half - cosine * turn.sin_half
        cosine = middle_cos * turn.cos_half + middle_sin * turn.sin_half
        sine = middle_sin * turn.cos_half - middle_cos * turn.sin_half
        k = bend_of(turn, middle_cos, middle_sin)
        p = mid_tangent(tangent_of(turn, middle_cos, middle_sin), k, turn.step)
        left = tangent_of(turn, cosine, sine)
        target = nodes[node + 1]
        nodes[node] = before(target, reach, p, k, a)
        why[node] = why[node + 1]
        if limits.path < UNLIMITED:
            most = vector_reach(target, turn.step, limits.path * turn.ease, turn.bend)
            nodes[node] = min(nodes[node], most)
        most = min(
            turning_limit(p, k, a, limits.path, turn.bend),
            turning_limit(left, bend_of(turn, cosine, sine), a, limits.path, turn.bend),
            pinch_before(target, reach, left, right, p, k, a),
        )
        settle(nodes, why, node, most, turn_why)
        settle(nodes, why, node, cap, cap_why)
        settle_rate(nodes, why, node, left, limits)
        right = left


@twice
def straight_rest(path, at):  # type: ignore[no-untyped-def]
    """Return the length of a straight row without what its corners take from it, mm."""
    return path.rows[at, LENGTH] - path.corners[at, TRIM] - path.corners[at + 1, TRIM]


@twice
def row_back(path, limits, at, cap, nodes, why):  # type: ignore[no-untyped-def]
    """Fill the nodes of one row from the middle of its last corner to that of its first."""
    rows = path.rows
    first = (rows[at, 0], rows[at, 1], rows[at, 2])
    last = (rows[at, 3], rows[at, 4], rows[at, 5])
    cap_why = path.cap_why[at]
    node = path.offset[at + 1]
    settle(nodes, why, node, cap, cap_why)
    pieces = path.pieces[at + 1]
    if pieces > 0:
        after = at + 1
        ahead = (rows[after, 0], rows[after, 1], rows[after, 2])
        turn = half_corner(path.corners, at + 1, last, ahead, pieces, False)
        turn_back(turn, limits, cap, cap_why, CORNER, nodes, why, node)
        node -= pieces
    if path.middle[at] > 0:
        if path.arc[at] >= 0:
            turn_back(arc_turn(path, at), limits, cap, cap_why, ARC, nodes, why, node)
            node -= path.middle[at]
        else:
            node -= 1
            rest = straight_rest(path, at)
            nodes[node] = nodes[node + 1] + 2.0 * rows[at, PUSH] * rest
            why[node] = why[node + 1]
            settle(nodes, why, node, cap, cap_why)
    pieces = path.pieces[at]
    if pieces > 0:
        behind = at - 1
        past = (rows[behind, 3], rows[behind, 4], rows[behind, 5])
        turn = half_corner(path.corners, at, past, first, pieces, True)
        turn_back(turn, limits, cap, cap_why, CORNER, nodes, why, node)
        node -= pieces
    settle(nodes, why, node, path.corners[at, GATE], path.gate_why[at])


@twice
def backward(path, limits, nodes, why, begin, end):  # type: ignore[no-untyped-def]
    """Run the backward pass over the rows end-1 .. begin."""
    for at in range(end - 1, begin - 1, -1):
        row_back(path, limits, at, path.rows[at, CAP], nodes, why)


@twice
def stopping(path, limits, nodes, why, power, begin, end):  # type: ignore[no-untyped-def]
    """Find for each row the square of the speed from which it can stop at its own end."""
    for at in range(begin, end):
        last = path.offset[at + 1]
        nodes[last] = 0.0
        row_back(path, limits, at, UNLIMITED, nodes, why)
        power[at] = nodes[path.offset[at]] if path.offset[at] < last else 0.0


@twice
def narrow_gate(path, at, most):  # type: ignore[no-untyped-def]
    """Lower a gate to what the buffer allows."""
    if most < path.corners[at, GATE]:
        path.corners[at, GATE] = most
        path.gate_why[at] = LOOK_AHEAD


@twice
def buffer_gates(path, power, blocks, count):  # type: ignore[no-untyped-def]
    """Hold every corner to the speed from which the blocks in the buffer are enough to stop.

    Sums over windows of `blocks` rows: the rest of a group of rows, kept in `power`, and the start of
    the next one. Nothing is subtracted, so nothing is lost to rounding.
    """
    if blocks == 0:
        for at in range(count):
            narrow_gate(path, at, 0.0)
        return
    for group in range(0, count, blocks):
        end = min(group + blocks, count)
        for at in range(end - 2, group - 1, -1):
            power[at] += power[at + 1]
        begun = 0.0
        for at in range(group, end):
            if at > group and at + blocks <= count:
                begun += power[at + blocks - 1]
            if at + blocks < count:
                narrow_gate(path, at, power[at] + begun)


@twice
def book(tally, cause, seconds, length, feed):  # type: ignore[no-untyped-def]
    """Book time on a cause, and what of it a move at the speed asked for would not have taken."""
    tally[cause] += seconds
    tally[LOST + cause] += seconds - length / feed


@twice
def ramp_cause(cause):  # type: ignore[no-untyped-def]
    """Return what a ramp is booked on, given what made its slow end slow."""
    return ACCELERATION if cause == FEED or cause == AXIS_RATE else cause


@twice
def book_ramp(tally, cause, seconds, length, feed):  # type: ignore[no-untyped-def]
    """Book a ramp."""
    cause = ramp_cause(cause)
    book(tally, cause, seconds, length, feed)
    if cause != LOOK_AHEAD and cause != LINES_PER_SECOND:
        tally[RAMPING] += seconds


@twice
def run_step(ends, length, cap, forces, reasons, feed, tally, steps, node):  # type: ignore[no-untyped-def]
    """Book one step: accelerate, move steadily, brake.

    Parameters
    ----------
    ends : square of the speed at both ends, mm2/s2
    length : mm; cap : largest square of the speed inside
    forces : acceleration and braking, mm/s2
    reasons : cause of the slow place behind, of the cap, of the slow place ahead
    feed : speed asked for, mm/s
    """
    start, finish = ends
    up, down = forces
    peak = max(start, finish)
    if peak < cap and up > 0.0 and down > 0.0:
        high = (2.0 * length * up * down + start * down + finish * up) / (up + down)
        peak = max(peak, min(high, cap))
    speed = math.sqrt(peak)
    rise = 0.0
    fall = 0.0
    if peak > start and up > 0.0:
        rise = (peak - start) / (2.0 * up)
        book_ramp(tally, reasons[0], (speed - math.sqrt(start)) / up, rise, feed)
    if peak > finish and down > 0.0:
        fall = (peak - finish) / (2.0 * down)
        book_ramp(tally, reasons[2], (speed - math.sqrt(finish)) / down, fall, feed)
    rest = length - rise - fall
    if speed > 0.0 and rest > 1e-13 * length:
        cause = reasons[1]
        if peak < cap * (1.0 - 1e-12):
            cause = ramp_cause(reasons[2])
        book(tally, cause, rest / speed, rest, feed)
    tally[TRAVELLED] += length
    tally[HIGHEST] = max(tally[HIGHEST], speed)
    if len(steps) > 0:
        steps[node, STEP_LENGTH] = length
        steps[node, STEP_RISE] = rise
        steps[node, STEP_FALL] = fall
        steps[node, STEP_PEAK] = peak


@twice
def turn_forces(turn, limits, cap, p, k, a, lean):  # type: ignore[no-untyped-def]
    """Return acceleration and braking that a step of a turn always bears, up to speed cap.

    `lean` is the steady u between the ends of the step, which it bears in any case.
    """
    up = min(push(0.0, p, k, a), push(cap, p, k, a))
    opposite = (-p[0], -p[1], -p[2])
    down = min(push(0.0, opposite, k, a), push(cap, opposite, k, a))
    if limits.path < UNLIMITED:
        across = turn.bend * cap
        left = limits.path * limits.path * turn.ease * turn.ease - across * across
        room = math.sqrt(max(left, 0.0))
        up = min(up, room)
        down = min(down, room)
    return max(up, lean, 0.0), max(down, -lean, 0.0)


@twice
def turn_on(turn, limits, cap, cap_why, turn_why, nodes, why, node, origin, feed, tally, steps):  # type: ignore[no-untyped-def]
    """Run the nodes of a turn forward and book its steps; return the cause of the slow place."""
    a = eased(turn, limits)
    reach = 2.0 * turn.step
    cosine = turn.cos_first
    sine = turn.sin_first
    left = tangent_of(turn, cosine, sine)
    for here in range(node, node + turn.count):
        middle_cos = cosine * turn.cos_half - sine * turn.sin_half
        middle_sin = sine * turn.cos_half + cosine * turn.sin_half
        cosine = middle_cos * turn.cos_half - middle_sin * turn.sin_half
        sine = middle_sin * turn.cos_half + middle_cos * turn.sin_half
        start = nodes[here]
        finish = nodes[here + 1]
        if start >= cap and finish >= cap:
            left = tangent_of(turn, cosine, sine)
            origin = why[here + 1]
            run_step(
                (start, finish), turn.step, cap, (0.0, 0.0), (origin, cap_why, origin), feed,
                tally, steps, here,
            )  # fmt: skip
            continue
        k = bend_of(turn, middle_cos, middle_sin)
        middle = tangent_of(turn, middle_cos, middle_sin)
        p = mid_tangent(middle, k, turn.step)
        right = tangent_of(turn, cosine, sine)
        most = min(push(start, p, k, a), pinch_push(start, reach, left, right, k, a))
        high = start + reach * most
        if limits.path < UNLIMITED:
            high = min(high, vector_reach(start, turn.step, limits.path * turn.ease, turn.bend))
        behind = origin
        if high < finish:
            finish = max(high, 0.0)
            nodes[here + 1] = finish
        else:
            origin = why[here + 1]
        lean = (finish - start) / reach
        inside = turning_limit(middle, k, a, limits.path, turn.bend)
        inside_why = turn_why
        if cap <= inside:
            inside = cap
            inside_why = cap_why
        if inside > limits.slowest * limits.slowest:
            rate = along(middle, limits.rate, FASTEST)
            if rate * rate < inside:
                inside = rate * rate
                inside_why = AXIS_RATE
        forces = turn_forces(turn, limits, max(inside, start, finish), middle, k, a, lean)
        reasons = (behind, inside_why, why[here + 1])
        run_step((start, finish), turn.step, inside, forces, reasons, feed, tally, steps, here)
        left = right
    return origin


@twice
def row_on(path, limits, at, nodes, why, origin, tally, steps):  # type: ignore[no-untyped-def]
    """Run one row forward; return the cause of the last slow place."""
    rows = path.rows
    cap = rows[at, CAP]
    cap_why = path.cap_why[at]
    feed = rows[at, FEED_RATE]
    first = (rows[at, 0], rows[at, 1], rows[at, 2])
    last = (rows[at, 3], rows[at, 4], rows[at, 5])
    node = path.offset[at]
    pieces = path.pieces[at]
    if pieces > 0:
        behind = at - 1
        past = (rows[behind, 3], rows[behind, 4], rows[behind, 5])
        turn = half_corner(path.corners, at, past, first, pieces, True)
        origin = turn_on(
            turn, limits, cap, cap_why, CORNER, nodes, why, node, origin, feed, tally, steps
        )
        node += pieces
    if path.middle[at] > 0:
        if path.arc[at] >= 0:
            turn = arc_turn(path, at)
            origin = turn_on(
                turn, limits, cap, cap_why, ARC, nodes, why, node, origin, feed, tally, steps
            )
            node += path.middle[at]
        else:
            force = rows[at, PUSH]
            rest = straight_rest(path, at)
            start = nodes[node]
            high = start + 2.0 * force * rest
            reasons = (origin, cap_why, why[node + 1])
            if high < nodes[node + 1]:
                nodes[node + 1] = high
            else:
                origin = why[node + 1]
            ends = (start, nodes[node + 1])
            run_step(ends, rest, cap, (force, force), reasons, feed, tally, steps, node)
            node += 1
    pieces = path.pieces[at + 1]
    if pieces > 0:
        after = at + 1
        ahead = (rows[after, 0], rows[after, 1], rows[after, 2])
        turn = half_corner(path.corners, at + 1, last, ahead, pieces, False)
        origin = turn_on(
            turn, limits, cap, cap_why, CORNER, nodes, why, node, origin, feed, tally, steps
        )
    return origin


@twice
def add(lost, cause, seconds):  # type: ignore[no-untyped-def]
    """Add to a sum with its rounding carried along (Neumaier 1974, ZAMM 54)."""
    total = lost[0, cause]
    new = total + seconds
    if abs(total) >= abs(seconds):
        lost[1, cause] += (total - new) + seconds
    else:
        lost[1, cause] += (seconds - new) + total
    lost[0, cause] = new


@twice
def close_row(tally, result, row, lost):  # type: ignore[no-untyped-def]
    """Enter a row's tally in the results and in the losses; return the cause of most of its time."""
    seconds = 0.0
    most = 0.0
    top = FEED
    for cause in range(COUNT):
        part = tally[cause]
        seconds += part
        if part > most:
            most = part
            top = cause
        add(lost, cause, tally[LOST + cause])
    wait = 0.0
    kept = tally[FEED]
    for cause in (LOOK_AHEAD, LINES_PER_SECOND):
        share = max(min(tally[LOST + cause], tally[cause]), 0.0)
        wait += share
        kept += tally[cause] - share
    result[row, SECONDS] = seconds
    result[row, PEAK] = tally[HIGHEST]
    result[row, AT_FEED] = kept
    result[row, RAMP] = tally[RAMPING]
    result[row, WAIT] = wait
    result[row, SLOWED] = max(seconds - kept - tally[RAMPING] - wait, 0.0)
    return top


@twice
def forward(path, limits, nodes, why, books, begin, end, origin):  # type: ignore[no-untyped-def]
    """Run the forward pass over the rows begin..end-1; return the cause of the last slow place."""
    tally = books.tally
    for at in range(begin, end):
        for i in range(TALLY):
            tally[i] = 0.0
        origin = row_on(path, limits, at, nodes, why, origin, tally, books.steps)
        row = path.row[at]
        short = (tally[TRAVELLED] - path.rows[at, LENGTH]) / path.rows[at, FEED_RATE]
        tally[LOST + CORNER] += short
        books.cause[row] = close_row(tally, books.result, row, books.lost)
        books.result[row, ENTRY] = math.sqrt(nodes[path.offset[at]])
        books.result[row, EXIT] = math.sqrt(nodes[path.offset[at + 1]])
    return origin
