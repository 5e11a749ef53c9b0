"""The forward pass: accelerate as hard as the axes allow below the speeds of the backward pass.

It carries along the cause of the slow place behind, and keeps the books row by row. Rows that are
run at the speed asked for, and straight ones on which nothing waits, take short ways.
"""

# mypy: allow-untyped-defs
# Kernels are typed by the compiler at run time; their docstrings say what they take.

from __future__ import annotations

import math

from dryrun.timing.backward import corner_cap_why, straight_rest
from dryrun.timing.books import (
    AT_FEED,
    ENTRY,
    EXIT,
    HIGHEST,
    PEAK,
    PLAIN,
    RAMP,
    SECONDS,
    TRAVELLED,
    add,
    book,
    close_row,
    corner_by,
    ramp_cause,
    run_step,
)
from dryrun.timing.causes import ARC, AXIS_RATE, CORNER, FEED, LINES_PER_SECOND, LOOK_AHEAD
from dryrun.timing.corners import STEP, TURNING, half_corner
from dryrun.timing.limits import FASTEST, UNLIMITED, along, calm, push, turning_limit, vector_reach
from dryrun.timing.path import (
    ARC_ROW,
    CAP,
    CAP_WHY,
    FEED_RATE,
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
from dryrun.timing.turns import (
    bend_of,
    eased,
    edge_push,
    mid_tangent,
    pinch_push,
    rate_limit,
    tangent_of,
)
from dryrun.timing.twice import bare, twice


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
            least = turn.step / along(middle, limits.slowness, FASTEST)
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
    if rows[at, STEP] > 0.0:
        turn += rows[at, STEP] / entry
    if rows[at + 1, STEP] > 0.0:
        turn += rows[at + 1, STEP] / leave
    if cruise_why != FEED:
        add(lost, cruise_why, cruise - flat * slowness)
    # what goes to one cause is added once: sums that wait for each other cost more than the rest
    gone = brake - fall * slowness
    if behind == ahead:
        gone += climb - rise * slowness
    else:
        add(lost, behind, climb - rise * slowness)
    cut_off = turn + (rest - rows[at, LENGTH]) * slowness
    if ahead == CORNER:
        gone += cut_off
    else:
        add(lost, CORNER, cut_off)
    add(lost, ahead, gone)
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
    return origin, top


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
def cut_short(lost, way, length, feed):
    """Book on the corners what a row's path is shorter than the row, at the speed asked for."""
    if way != length:
        add(lost, CORNER, (way - length) / feed)


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
            cut_short(lost, way, length, feed)
        elif quick and simple(rows, codes, at, why, origin):
            origin, causes[row] = simple_on(rows, codes, at, nodes, why, origin, result, lost)
        else:
            tally[TRAVELLED] = 0.0
            tally[HIGHEST] = 0.0
            origin = row_on(rows, codes, arcs, limits, at, nodes, why, origin, tally, steps)
            cut_short(lost, tally[TRAVELLED], length, feed)
            causes[row] = close_row(tally, result, row, lost)
            result[ENTRY, row] = math.sqrt(nodes[codes[at, NODE]])
            result[EXIT, row] = math.sqrt(nodes[codes[at + 1, NODE]])
        result[PLAIN, row] = length / feed
    return origin
