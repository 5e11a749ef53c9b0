"""The backward and the forward pass over a chain of rows, and the bookkeeping of every second.

Nodes lie at the ends of steps: a straight row is one step, a turning piece several. `nodes` holds
the square of the speed at each, mm2/s2. The backward pass finds the largest speed from which
everything ahead can still be kept; the forward pass accelerates as hard as the axes allow below
that (Pham & Pham 2018, IEEE Trans. Robotics 34(3), 645-659, with closed forms in place of linear
programs).

Both passes also carry along the cause of the slow place ahead or behind, so that the time lost on a
ramp is booked on what made the ramp necessary.
"""

# mypy: allow-untyped-defs
# Kernels are typed by the compiler at run time; their docstrings say what they take.

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
from dryrun.timing.corners import GATE, STEP, TRIM, TURNING, half_corner
from dryrun.timing.limits import (
    FASTEST,
    UNLIMITED,
    along,
    axis_before,
    axis_push,
    before,
    calm,
    push,
    turning_limit,
    vector_reach,
)
from dryrun.timing.path import (
    ARC_ROW,
    CAP,
    CAP_WHY,
    FEED_RATE,
    GATE_WHY,
    LENGTH,
    MIDDLE,
    NODE,
    PIECES,
    PUSH,
    ROW,
    TURN_CAP,
    arc_turn,
    first_of,
    last_of,
)
from dryrun.timing.twice import bare, twice

#: Part of the speed along the path below which an axis counts as hardly moving.
STIFF: Final = 0.3

# Rows of the table of results, one column per motion row; speeds in mm/s, times in s.
SECONDS: Final = 0
ENTRY: Final = 1
PEAK: Final = 2
EXIT: Final = 3
AT_FEED: Final = 4  # moving at the speed asked for
RAMP: Final = 5  # accelerating and braking
WAIT: Final = 6  # lost because the controller cannot take blocks fast enough
PLAIN: Final = 7  # length over the speed asked for
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
    result : (RESULT_WIDTH, n) and cause : (n,) of each motion row
    lost : (2, COUNT) seconds lost by cause, and the rounding of those sums
    steps : (nodes, STEP_WIDTH), or without rows when no jerk is declared
    """

    tally: NDArray[np.float64]
    result: NDArray[np.float64]
    cause: NDArray[np.int8]
    lost: NDArray[np.float64]
    steps: NDArray[np.float64]


@twice
def tangent_of(turn, cosine, sine):
    """Return the unit tangent at an angle of a turn."""
    return (
        turn.out[0] * cosine + turn.inward[0] * sine + turn.drift[0],
        turn.out[1] * cosine + turn.inward[1] * sine + turn.drift[1],
        turn.out[2] * cosine + turn.inward[2] * sine + turn.drift[2],
    )


@twice
def bend_of(turn, cosine, sine):
    """Return the second derivative of the path at an angle of a turn, 1/mm."""
    along_path = turn.turning * cosine
    across = -turn.turning * sine
    return (
        turn.out[0] * across + turn.inward[0] * along_path,
        turn.out[1] * across + turn.inward[1] * along_path,
        turn.out[2] * across + turn.inward[2] * along_path,
    )


@twice
def eased(turn, limits):
    """Return the accelerations that a turn uses."""
    return (
        limits.acceleration[0] * turn.ease,
        limits.acceleration[1] * turn.ease,
        limits.acceleration[2] * turn.ease,
    )


@twice
def settle(nodes, why, node, most, reason):
    """Lower a node to a limit, and note whose limit it was."""
    if most < nodes[node]:
        nodes[node] = most
        why[node] = reason


@twice
def rate_limit(tangent, limits):
    """Return the largest x at which the axes keep their rates in a direction."""
    most = along(tangent, limits.rate, FASTEST)
    return most * most


@twice
def mid_tangent(p, k, step):
    """Return the factors of u in the axes' accelerations at the middle of a step."""
    return (p[0] + step * k[0], p[1] + step * k[1], p[2] + step * k[2])


@twice
def edge_before(target, reach, edge, edge_k, shift, a):
    """Return the largest x from which a step's edge can be kept by axes that hardly move there.

    Where an axis turns back, its share of u changes so fast that the middle of the step is not
    enough. `shift` is 0 for the left edge and reach for the right one.
    """
    most = UNLIMITED
    for axis in range(3):
        p = edge[axis]
        if abs(p) < STIFF:
            k = edge_k[axis]
            most = min(most, axis_before(target, reach, p + shift * k, k, a[axis]))
    return most


@twice
def edge_push(x, edge, edge_k, shift, a):
    """Return the largest u that the same axes allow at an edge of the step."""
    most = UNLIMITED
    for axis in range(3):
        p = edge[axis]
        if abs(p) < STIFF:
            k = edge_k[axis]
            most = min(most, axis_push(x, p + shift * k, k, a[axis]))
    return most


@twice
def pinch_before(reach, left, right, p, k, a):
    """Return the largest x before a step in which an axis comes to rest and turns back.

    There that axis has no part in u, and x may not exceed a/|k|.
    """
    most = UNLIMITED
    for axis in range(3):
        if left[axis] * right[axis] < 0.0 and abs(k[axis]) > 1e-12:
            fraction = left[axis] / (left[axis] - right[axis])
            pinch = a[axis] / abs(k[axis])
            most = min(most, before(pinch, reach * fraction, p, k, a))
    return most


@twice
def pinch_push(x, reach, left, right, k, a):
    """Return the largest u on such a step."""
    most = UNLIMITED
    for axis in range(3):
        if left[axis] * right[axis] < 0.0 and abs(k[axis]) > 1e-12:
            fraction = left[axis] / (left[axis] - right[axis])
            most = min(most, (a[axis] / abs(k[axis]) - x) / (reach * fraction))
    return most


@twice
def turn_back(turn, limits, cap, cap_why, turn_why, nodes, why, last):
    """Fill the nodes of a turn from its last to its first."""
    a = eased(turn, limits)
    easy = calm(cap, turn.bend, limits)
    reach = 2.0 * turn.step
    cosine = turn.cos_last
    sine = turn.sin_last
    right = tangent_of(turn, cosine, sine)
    right_k = bend_of(turn, cosine, sine)
    if not easy:
        most = turning_limit(right, right_k, a, limits.path, turn.bend)
        settle(nodes, why, last, most, turn_why)
        settle(nodes, why, last, rate_limit(right, limits), AXIS_RATE)
    target = nodes[last]
    reason = why[last]
    for node in range(last - 1, last - 1 - turn.pieces, -1):
        middle_cos = cosine * turn.cos_half + sine * turn.sin_half
        middle_sin = sine * turn.cos_half - cosine * turn.sin_half
        cosine = middle_cos * turn.cos_half + middle_sin * turn.sin_half
        sine = middle_sin * turn.cos_half - middle_cos * turn.sin_half
        k = bend_of(turn, middle_cos, middle_sin)
        p = mid_tangent(tangent_of(turn, middle_cos, middle_sin), k, turn.step)
        reached = before(target, reach, p, k, a)
        if limits.path < UNLIMITED:
            force = limits.path * turn.ease
            reached = min(reached, vector_reach(target, turn.step, force, turn.bend))
        if not easy:
            left = tangent_of(turn, cosine, sine)
            left_k = bend_of(turn, cosine, sine)
            reached = min(
                reached,
                edge_before(target, reach, left, left_k, 0.0, a),
                edge_before(target, reach, right, right_k, reach, a),
                pinch_before(reach, left, right, p, k, a),
            )
            most = min(
                turning_limit(p, k, a, limits.path, turn.bend),
                turning_limit(left, left_k, a, limits.path, turn.bend),
            )
            if most < reached:
                reached = most
                reason = turn_why
            right = left
            right_k = left_k
        if cap <= reached:
            reached = cap
            reason = cap_why
        if not easy:
            most = rate_limit(left, limits)
            if most < reached:
                reached = most
                reason = AXIS_RATE
        nodes[node] = reached
        why[node] = reason
        target = reached


@twice
def corner_cap_why(codes, at):
    """Return the cause of a row's cap in its corners, which look at the rates step by step."""
    return FEED if codes[at, CAP_WHY] == AXIS_RATE else codes[at, CAP_WHY]


@twice
def corner_back(rows, codes, arcs, limits, at, own, cap, nodes, why, node):
    """Fill the nodes of row `own`'s half of the corner before row `at`; return its first node."""
    pieces = codes[at, PIECES]
    cap_why = corner_cap_why(codes, own)
    if nodes[node] >= cap and calm(cap, rows[at, TURNING], limits):
        for other in range(node - pieces, node):
            nodes[other] = cap
            why[other] = cap_why
        return node - pieces
    past = last_of(rows, codes, arcs, at - 1)
    turn = half_corner(rows, at, past, first_of(rows, at), pieces, own == at)
    turn_back(turn, limits, cap, cap_why, CORNER, nodes, why, node)
    return node - pieces


@twice
def straight_rest(rows, at):
    """Return the length of a straight row without what its corners take from it, mm."""
    return rows[at, LENGTH] - rows[at, TRIM] - rows[at + 1, TRIM]


@twice
def backward(rows, codes, arcs, limits, nodes, why, span, free):
    """Run the backward pass over the rows span[1]-1 .. span[0].

    Each row's nodes are filled from the middle of its last corner to that of its first. With
    `free`, as if the rows had no feed.
    """
    rows, codes, arcs, nodes, why = bare((rows, codes, arcs, nodes, why))
    for at in range(span[1] - 1, span[0] - 1, -1):
        cap = UNLIMITED if free else rows[at, CAP]
        turn_cap = UNLIMITED if free else rows[at, TURN_CAP]
        node = codes[at + 1, NODE]
        settle(nodes, why, node, turn_cap, corner_cap_why(codes, at))
        if codes[at + 1, PIECES] > 0:
            node = corner_back(rows, codes, arcs, limits, at + 1, at, turn_cap, nodes, why, node)
        if codes[at, MIDDLE] > 0:
            cap_why = codes[at, CAP_WHY]
            settle(nodes, why, node, cap, cap_why)
            if codes[at, ARC_ROW] >= 0:
                turn = arc_turn(rows, codes, arcs, at)
                turn_back(turn, limits, cap, cap_why, ARC, nodes, why, node)
                node -= codes[at, MIDDLE]
            else:
                x = nodes[node] + 2.0 * rows[at, PUSH] * straight_rest(rows, at)
                reason = why[node]
                node -= 1
                if cap < x:
                    x = cap
                    reason = cap_why
                nodes[node] = x
                why[node] = reason
        if codes[at, PIECES] > 0:
            settle(nodes, why, node, turn_cap, corner_cap_why(codes, at))
            node = corner_back(rows, codes, arcs, limits, at, at, turn_cap, nodes, why, node)
        settle(nodes, why, node, rows[at, GATE], codes[at, GATE_WHY])


@twice
def mend(rows, codes, arcs, limits, nodes, why, begin, end):
    """Run the backward pass again from the last row on, until it finds what is there already."""
    rows, codes, arcs, nodes, why = bare((rows, codes, arcs, nodes, why))
    for at in range(end - 1, begin - 1, -1):
        node = codes[at, NODE]
        before = nodes[node]
        before_why = why[node]
        backward(rows, codes, arcs, limits, nodes, why, (at, at + 1), False)
        if at < end - 1 and nodes[node] == before and why[node] == before_why:
            return


@twice
def stopping(chain, limits, nodes, why, power, begin, end):
    """Find for each row the square of the speed from which it can stop at its own end."""
    rows, codes, arcs = bare(chain)
    nodes, why, power = bare((nodes, why, power))
    for at in range(begin, end):
        nodes[codes[at + 1, NODE]] = 0.0
        backward(rows, codes, arcs, limits, nodes, why, (at, at + 1), True)
        power[at] = nodes[codes[at, NODE]]


@twice
def narrow_gate(rows, codes, at, most):
    """Lower a gate to what the buffer allows."""
    if most < rows[at, GATE]:
        rows[at, GATE] = most
        codes[at, GATE_WHY] = LOOK_AHEAD


@twice
def buffer_gates(rows, codes, power, blocks, count):
    """Hold every corner to the speed from which the blocks in the buffer are enough to stop.

    Sums over windows of `blocks` rows: the rest of a group of rows, kept in `power`, and the start
    of the next one. Nothing is subtracted, so nothing is lost to rounding.
    """
    rows, codes, power = bare((rows, codes, power))
    if blocks == 0:
        for at in range(count):
            narrow_gate(rows, codes, at, 0.0)
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
                narrow_gate(rows, codes, at, power[at] + begun)


@twice
def book(tally, cause, seconds, length, feed):
    """Book time on a cause, and what of it a move at the speed asked for would not have taken."""
    tally[cause] += seconds
    tally[LOST + cause] += seconds - length / feed


@twice
def ramp_cause(cause):
    """Return what a ramp is booked on, given what made its slow end slow."""
    return ACCELERATION if cause in (FEED, AXIS_RATE) else cause


@twice
def book_ramp(tally, cause, seconds, length, feed):
    """Book a ramp."""
    cause = ramp_cause(cause)
    book(tally, cause, seconds, length, feed)
    if cause not in (LOOK_AHEAD, LINES_PER_SECOND):
        tally[RAMPING] += seconds


@twice
def run_step(ends, length, cap, forces, reasons, feed, tally, steps, node):
    """Book one step: accelerate, move steadily, brake; return its seconds.

    `ends` are the squares of the speed at both ends and `cap` the largest inside, mm2/s2; `forces`
    acceleration and braking, mm/s2; `reasons` the causes of the slow place behind, of the cap, and
    of the slow place ahead; `feed` the speed asked for, mm/s.
    """
    start, finish = ends
    up, down = forces
    spent = 0.0
    peak = max(start, finish)
    if peak < cap and up > 0.0 and down > 0.0:
        high = (2.0 * length * up * down + start * down + finish * up) / (up + down)
        peak = max(peak, min(high, cap))
    speed = math.sqrt(peak)
    rise = 0.0
    fall = 0.0
    if peak > start and up > 0.0:
        rise = (peak - start) / (2.0 * up)
        spent = (speed - math.sqrt(start)) / up
        book_ramp(tally, reasons[0], spent, rise, feed)
    if peak > finish and down > 0.0:
        fall = (peak - finish) / (2.0 * down)
        braking = (speed - math.sqrt(finish)) / down
        book_ramp(tally, reasons[2], braking, fall, feed)
        spent += braking
    rest = length - rise - fall
    if speed > 0.0 and rest > 1e-13 * length:
        cause = reasons[1]
        if peak < cap * (1.0 - 1e-12):
            cause = ramp_cause(reasons[2])
        book(tally, cause, rest / speed, rest, feed)
        spent += rest / speed
    tally[TRAVELLED] += length
    tally[HIGHEST] = max(tally[HIGHEST], speed)
    if len(steps) > 0:
        steps[node, STEP_LENGTH] = length
        steps[node, STEP_RISE] = rise
        steps[node, STEP_FALL] = fall
        steps[node, STEP_PEAK] = peak
    return spent


@twice
def turn_forces(turn, limits, cap, p, k, a, lean):
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
def inside_cap(turn, limits, caps, easy, tangent, k, a):
    """Return the largest x inside a step of a turn, and its cause."""
    cap, why, turn_why = caps
    if easy:
        return cap, why
    most = turning_limit(tangent, k, a, limits.path, turn.bend)
    if most < cap:
        cap = most
        why = turn_why
    rate = rate_limit(tangent, limits)
    if rate < cap:
        cap = rate
        why = AXIS_RATE
    return cap, why


@twice
def turn_on(turn, limits, caps, nodes, why, node, origin, feed, tally, steps):
    """Run the nodes of a turn forward and book its steps; return the cause of the slow place.

    `caps` are the cap, its cause, and the cause to name when the turn itself is the limit.
    """
    cap, cap_why, turn_why = caps
    a = eased(turn, limits)
    easy = calm(cap, turn.bend, limits)
    reach = 2.0 * turn.step
    cosine = turn.cos_first
    sine = turn.sin_first
    left = tangent_of(turn, cosine, sine)
    left_k = bend_of(turn, cosine, sine)
    for here in range(node, node + turn.pieces):
        middle_cos = cosine * turn.cos_half - sine * turn.sin_half
        middle_sin = sine * turn.cos_half + cosine * turn.sin_half
        cosine = middle_cos * turn.cos_half - middle_sin * turn.sin_half
        sine = middle_sin * turn.cos_half + middle_cos * turn.sin_half
        right = tangent_of(turn, cosine, sine)
        right_k = bend_of(turn, cosine, sine)
        start = nodes[here]
        finish = nodes[here + 1]
        if easy and start >= cap and finish >= cap:
            left = right
            left_k = right_k
            origin = why[here + 1]
            ends = (start, finish)
            reasons = (origin, cap_why, origin)
            run_step(ends, turn.step, cap, (0.0, 0.0), reasons, feed, tally, steps, here)
            continue
        k = bend_of(turn, middle_cos, middle_sin)
        middle = tangent_of(turn, middle_cos, middle_sin)
        p = mid_tangent(middle, k, turn.step)
        most = push(start, p, k, a)
        if not easy:
            most = min(
                most,
                pinch_push(start, reach, left, right, k, a),
                edge_push(start, left, left_k, 0.0, a),
                edge_push(start, right, right_k, reach, a),
            )
        high = start + reach * most
        if limits.path < UNLIMITED:
            high = min(high, vector_reach(start, turn.step, limits.path * turn.ease, turn.bend))
        behind = origin
        if high < finish:
            finish = max(high, 0.0)
            nodes[here + 1] = finish
            lean = (finish - start) / reach
            inside = max(start, finish)
            inside_why = turn_why
            forces = (max(lean, 0.0), max(-lean, 0.0))
        else:
            origin = why[here + 1]
            lean = (finish - start) / reach
            inside, inside_why = inside_cap(turn, limits, caps, easy, middle, k, a)
            forces = turn_forces(turn, limits, max(inside, start, finish), middle, k, a, lean)
        reasons = (behind, inside_why, why[here + 1])
        ends = (start, finish)
        spent = run_step(ends, turn.step, inside, forces, reasons, feed, tally, steps, here)
        if not easy:
            # the fastest way of the axis that is at its rate: speed is not linear in between
            least = turn.step / along(middle, limits.rate, FASTEST)
            if least > spent:
                book(tally, AXIS_RATE, least - spent, 0.0, feed)
        left = right
        left_k = right_k
    return origin


@twice
def corner_on(rows, codes, arcs, limits, at, own, nodes, why, origin, tally, steps):
    """Run row `own`'s half of the corner before row `at`; return the last slow place's cause."""
    pieces = codes[at, PIECES]
    node = codes[at, NODE] if own == at else codes[at, NODE] - pieces
    feed = rows[own, FEED_RATE]
    past = last_of(rows, codes, arcs, at - 1)
    turn = half_corner(rows, at, past, first_of(rows, at), pieces, own == at)
    caps = (rows[own, TURN_CAP], corner_cap_why(codes, own), CORNER)
    return turn_on(turn, limits, caps, nodes, why, node, origin, feed, tally, steps)


@twice
def corner_by(rows, at, x, feed, tally):
    """Book half of a short corner, which is run at a steady speed."""
    length = rows[at, STEP]
    speed = math.sqrt(x)
    book(tally, CORNER, length / speed, length, feed)
    tally[TRAVELLED] += length
    tally[HIGHEST] = max(tally[HIGHEST], speed)


@twice
def straight_on(rows, codes, at, nodes, why, node, origin, tally, steps):
    """Run the straight part of a row forward; return the cause of the last slow place."""
    force = rows[at, PUSH]
    rest = straight_rest(rows, at)
    high = nodes[node] + 2.0 * force * rest
    reasons = (origin, codes[at, CAP_WHY], why[node + 1])
    if high < nodes[node + 1]:
        nodes[node + 1] = high
    else:
        origin = why[node + 1]
    ends = (nodes[node], nodes[node + 1])
    forces = (force, force)
    feed = rows[at, FEED_RATE]
    run_step(ends, rest, rows[at, CAP], forces, reasons, feed, tally, steps, node)
    return origin


@twice
def row_on(rows, codes, arcs, limits, at, nodes, why, origin, tally, steps):
    """Run one row forward; return the cause of the last slow place."""
    feed = rows[at, FEED_RATE]
    node = codes[at, NODE]
    if codes[at, PIECES] > 0:
        origin = corner_on(rows, codes, arcs, limits, at, at, nodes, why, origin, tally, steps)
    elif rows[at, STEP] > 0.0:
        corner_by(rows, at, nodes[node], feed, tally)
    if codes[at, MIDDLE] > 0:
        node += codes[at, PIECES]
        if codes[at, ARC_ROW] >= 0:
            turn = arc_turn(rows, codes, arcs, at)
            caps = (rows[at, CAP], codes[at, CAP_WHY], ARC)
            origin = turn_on(turn, limits, caps, nodes, why, node, origin, feed, tally, steps)
        else:
            origin = straight_on(rows, codes, at, nodes, why, node, origin, tally, steps)
    node = codes[at + 1, NODE]
    if codes[at + 1, PIECES] > 0:
        origin = corner_on(rows, codes, arcs, limits, at + 1, at, nodes, why, origin, tally, steps)
    elif rows[at + 1, STEP] > 0.0:
        corner_by(rows, at + 1, nodes[node], feed, tally)
    return origin


@twice
def add(lost, cause, seconds):
    """Add to a sum with its rounding carried along (Neumaier 1974, ZAMM 54)."""
    total = lost[0, cause]
    new = total + seconds
    if abs(total) >= abs(seconds):
        lost[1, cause] += (total - new) + seconds
    else:
        lost[1, cause] += (seconds - new) + total
    lost[0, cause] = new


@twice
def close_row(tally, result, row, lost):
    """Enter a row's tally in results and losses, and clear it; return the cause of most time."""
    seconds = 0.0
    most = 0.0
    wait = 0.0
    kept = 0.0
    top = FEED
    for cause in range(COUNT):
        part = tally[cause]
        gone = tally[LOST + cause]
        if part == 0.0 and gone == 0.0:
            continue
        tally[cause] = 0.0
        tally[LOST + cause] = 0.0
        seconds += part
        add(lost, cause, gone)
        if part > most:
            most = part
            top = cause
        if cause == FEED:
            kept += part
        elif cause in (LOOK_AHEAD, LINES_PER_SECOND):
            share = max(min(gone, part), 0.0)
            wait += share
            kept += part - share
    ramp = tally[RAMPING]
    tally[RAMPING] = 0.0
    result[SECONDS, row] = seconds
    result[PEAK, row] = tally[HIGHEST]
    result[AT_FEED, row] = kept
    result[RAMP, row] = ramp
    result[WAIT, row] = wait
    return top


@twice
def simple(rows, codes, at, why, origin):
    """Say whether a row is one straight step on which nothing waits for the controller."""
    node = codes[at, NODE]
    if node + 1 != codes[at + 1, NODE] or codes[at, ARC_ROW] >= 0:
        return False
    late = origin in (LOOK_AHEAD, LINES_PER_SECOND)
    late = late or why[node + 1] in (LOOK_AHEAD, LINES_PER_SECOND)
    return not (late or codes[at, CAP_WHY] == LINES_PER_SECOND)


@twice
def simple_on(rows, codes, at, nodes, why, origin, result, lost):
    """Run a simple row forward; return the causes of the last slow place and of most time."""
    node = codes[at, NODE]
    row = codes[at, ROW]
    slowness = 1.0 / rows[at, FEED_RATE]
    force = rows[at, PUSH]
    ease = 1.0 / force
    cap = rows[at, CAP]
    rest = straight_rest(rows, at)
    start = nodes[node]
    finish = nodes[node + 1]
    behind = ramp_cause(origin)
    ahead = ramp_cause(why[node + 1])
    high = start + 2.0 * force * rest
    if high < finish:
        finish = high
        nodes[node + 1] = high
    else:
        origin = why[node + 1]
    peak = max(min(force * rest + 0.5 * (start + finish), cap), start, finish)
    entry = math.sqrt(start)
    leave = math.sqrt(finish)
    speed = math.sqrt(peak)
    rise = 0.5 * (peak - start) * ease
    fall = 0.5 * (peak - finish) * ease
    flat = max(rest - rise - fall, 0.0)
    climb = (speed - entry) * ease
    brake = (speed - leave) * ease
    cruise = flat / speed
    cruise_why = codes[at, CAP_WHY] if peak >= cap * (1.0 - 1e-12) else ahead
    turn = 0.0
    arc = rows[at, STEP] + rows[at + 1, STEP]
    if rows[at, STEP] > 0.0:
        turn += rows[at, STEP] / entry
    if rows[at + 1, STEP] > 0.0:
        turn += rows[at + 1, STEP] / leave
    add(lost, behind, climb - rise * slowness)
    add(lost, ahead, brake - fall * slowness)
    if cruise_why != FEED:
        add(lost, cruise_why, cruise - flat * slowness)
    if turn > 0.0:
        add(lost, CORNER, turn - arc * slowness)
    result[SECONDS, row] = climb + cruise + brake + turn
    result[PEAK, row] = speed
    result[RAMP, row] = climb + brake
    result[AT_FEED, row] = cruise if cruise_why == FEED else 0.0
    result[ENTRY, row] = entry
    result[EXIT, row] = leave
    top = cruise_why
    most = cruise
    if climb > most:
        top = behind
        most = climb
    if brake > most:
        top = ahead
        most = brake
    if turn > most:
        top = CORNER
    return origin, top, rest + arc


@twice
def steady(rows, codes, limits, at, nodes):
    """Say whether a straight row is run at the speed asked for from end to end."""
    cap = rows[at, CAP]
    if nodes[codes[at, NODE]] < cap or codes[at, CAP_WHY] != FEED or codes[at, ARC_ROW] >= 0:
        return False
    slow = 0
    for node in range(codes[at, NODE], codes[at + 1, NODE] + 1):
        slow += nodes[node] < cap
    return (
        slow == 0
        and calm(cap, rows[at, TURNING], limits)
        and calm(cap, rows[at + 1, TURNING], limits)
    )


@twice
def travelled(rows, codes, at):
    """Return the length of the path of a straight row, from corner middle to corner middle, mm."""
    return (
        straight_rest(rows, at)
        + max(codes[at, PIECES], 1) * rows[at, STEP]
        + max(codes[at + 1, PIECES], 1) * rows[at + 1, STEP]
    )


@twice
def forward(chain, limits, nodes, why, books, begin, end, origin):
    """Run the forward pass over the rows begin..end-1; return the cause of the last slow place."""
    rows, codes, arcs = bare(chain)
    tally, result, causes, lost, steps = bare(books)
    nodes, why = bare((nodes, why))
    quick = len(steps) == 0
    for at in range(begin, end):
        row = codes[at, ROW]
        feed = rows[at, FEED_RATE]
        length = rows[at, LENGTH]
        if quick and steady(rows, codes, limits, at, nodes):
            way = travelled(rows, codes, at)
            seconds = way / feed
            result[SECONDS, row] = seconds
            result[AT_FEED, row] = seconds
            result[PEAK, row] = feed
            result[ENTRY, row] = feed
            result[EXIT, row] = feed
            causes[row] = FEED
            origin = FEED
        elif quick and simple(rows, codes, at, why, origin):
            origin, cause, way = simple_on(rows, codes, at, nodes, why, origin, result, lost)
            causes[row] = cause
        else:
            tally[TRAVELLED] = 0.0
            tally[HIGHEST] = 0.0
            origin = row_on(rows, codes, arcs, limits, at, nodes, why, origin, tally, steps)
            way = tally[TRAVELLED]
            causes[row] = close_row(tally, result, row, lost)
            result[ENTRY, row] = math.sqrt(nodes[codes[at, NODE]])
            result[EXIT, row] = math.sqrt(nodes[codes[at + 1, NODE]])
        if way != length:
            add(lost, CORNER, (way - length) / feed)
        result[PLAIN, row] = length / feed
    return origin
