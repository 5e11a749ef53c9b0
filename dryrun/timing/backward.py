"""The backward pass: the largest speed at each node from which everything ahead can be kept.

Nodes lie at the ends of steps: a straight row is one step, a turning piece several. `nodes` holds
the square of the speed at each, mm2/s2, and `why` the cause of the slow place ahead, so that the
time lost on a ramp is booked on what made the ramp necessary (Pham & Pham 2018, IEEE Trans.
Robotics 34(3), 645-659, with closed forms in place of linear programs).
"""

# mypy: allow-untyped-defs
# Kernels are typed by the compiler at run time; their docstrings say what they take.

from __future__ import annotations

from dryrun.timing.causes import ARC, AXIS_RATE, CORNER, FEED, LOOK_AHEAD
from dryrun.timing.corners import GATE, TRIM, TURNING, half_corner
from dryrun.timing.limits import UNLIMITED, before, calm, turning_limit, vector_reach
from dryrun.timing.path import (
    ARC_ROW,
    CAP,
    CAP_WHY,
    GATE_WHY,
    LENGTH,
    MIDDLE,
    NODE,
    PIECES,
    PUSH,
    TURN_CAP,
    arc_turn,
    first_of,
    last_of,
)
from dryrun.timing.turns import (
    bend_of,
    eased,
    edge_before,
    mid_tangent,
    pinch_before,
    rate_limit,
    tangent_of,
)
from dryrun.timing.twice import bare, twice


@twice
def settle(nodes, why, node, most, reason):
    """Lower a node to a limit, and note whose limit it was."""
    if most < nodes[node]:
        nodes[node] = most
        why[node] = reason


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
def at_cap(rows, codes, limits, at, nodes):
    """Say whether a straight row can keep the speed asked for up to its end, and so throughout."""
    cap = rows[at, CAP]
    if nodes[codes[at + 1, NODE]] < cap or codes[at, CAP_WHY] != FEED or codes[at, ARC_ROW] >= 0:
        return False
    return calm(cap, rows[at, TURNING], limits) and calm(cap, rows[at + 1, TURNING], limits)


@twice
def fill(rows, codes, at, nodes, why):
    """Fill the nodes of a row that keeps the speed asked for."""
    cap = rows[at, CAP]
    first = codes[at, NODE]
    last = codes[at + 1, NODE]
    settle(nodes, why, last, cap, FEED)
    for node in range(first, last):
        nodes[node] = cap
        why[node] = FEED
    settle(nodes, why, first, rows[at, GATE], codes[at, GATE_WHY])


@twice
def backward(rows, codes, arcs, limits, nodes, why, span, free):
    """Run the backward pass over the rows span[1]-1 .. span[0].

    Each row's nodes are filled from the middle of its last corner to that of its first. With
    `free`, as if the rows had no feed.
    """
    rows, codes, arcs, nodes, why = bare((rows, codes, arcs, nodes, why))
    for at in range(span[1] - 1, span[0] - 1, -1):
        if not free and at_cap(rows, codes, limits, at, nodes):
            fill(rows, codes, at, nodes, why)
            continue
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
