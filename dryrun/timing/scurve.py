"""Moves with limited jerk: seven-phase profiles, and a pass that smooths a plan with them.

A change of speed by d with acceleration a and jerk j takes 2 sqrt(d/j) when d <= a2/j and d/a + a/j
otherwise, over the mean speed times that time (Erkorkmaz & Altintas 2001, Int. J. Machine Tools &
Manufacture 41, 1323-1345). Speeds in mm/s, lengths in mm, a in mm/s2, j in mm/s3.

The planner first plans with limited acceleration. Between two slow places its speed rises, stays
and falls once; each such span is then run with a seven-phase profile that has no acceleration at
both ends. A place that such a profile cannot reach in time is passed more slowly. The speed is
nowhere above that of the first plan, so what limits the first plan still holds.
"""

# mypy: allow-untyped-defs
# Kernels are typed by the compiler at run time; their docstrings say what they take.

from __future__ import annotations

import math
from typing import Final

from dryrun.timing.books import (
    ENTRY,
    EXIT,
    PEAK,
    RAMP,
    SECONDS,
    STEP_FALL,
    STEP_LENGTH,
    STEP_PEAK,
    STEP_RISE,
    add,
)
from dryrun.timing.causes import JERK
from dryrun.timing.corners import STEP
from dryrun.timing.limits import UNLIMITED, along
from dryrun.timing.path import ARC_ROW, NODE, PIECES, ROW
from dryrun.timing.twice import twice

# Columns of the table of spans.
SPAN_LENGTH: Final = 0
SPAN_RISE: Final = 1
SPAN_FALL: Final = 2
SPAN_PEAK: Final = 3  # speed, mm/s
SPAN_JERK: Final = 4
SPAN_START: Final = 5  # speed, mm/s
SPAN_END: Final = 6
SPAN_WIDTH: Final = 7


@twice
def ramp_seconds(change, a, j):
    """Return the time of a change of speed."""
    if change * j <= a * a:
        return 2.0 * math.sqrt(change / j)
    return change / a + a / j


@twice
def ramp_length(slow, fast, a, j):
    """Return the length of a change of speed."""
    return 0.5 * (slow + fast) * ramp_seconds(fast - slow, a, j)


@twice
def reach_speed(slow, length, a, j):
    """Return the highest speed that a ramp from `slow` reaches within a length."""
    whole = a * a / j
    if length >= (2.0 * slow + whole) * a / j:
        inner = whole * whole + 4.0 * (slow * slow - slow * whole + 2.0 * a * length)
        return 0.5 * (math.sqrt(inner) - whole)
    # z3 + 2 slow z = length sqrt(j) with z2 the change of speed: Newton's steps fall towards the
    # root.
    aim = length * math.sqrt(j)
    z = a / math.sqrt(j)
    for _ in range(100):
        slope = 3.0 * z * z + 2.0 * slow
        if slope <= 0.0:
            break
        new = z - (z * z * z + 2.0 * slow * z - aim) / slope
        if not new < z:
            break
        z = max(new, 0.0)
    return slow + z * z


@twice
def peak_speed(start, finish, length, cap, up, down, j):
    """Return the highest speed of a move that starts and ends at given speeds, at most `cap`."""
    low = max(start, finish)
    over = ramp_length(start, cap, up, j) + ramp_length(finish, cap, down, j) - length
    if cap <= low or over <= 0.0:
        return max(cap, low)
    under = ramp_length(start, low, up, j) + ramp_length(finish, low, down, j) - length
    if under >= 0.0:
        return low
    high = cap
    for _ in range(200):
        middle = 0.5 * (low + high)
        if middle <= low or middle >= high:
            break
        rest = ramp_length(start, middle, up, j) + ramp_length(finish, middle, down, j) - length
        if rest > 0.0:
            high = middle
        else:
            low = middle
    return low


@twice
def early(speed, j, length, most):
    """Return t <= most with speed t + j t3/6 = length."""
    t = most
    for _ in range(100):
        new = t - (speed * t + j * t * t * t / 6.0 - length) / (speed + 0.5 * j * t * t)
        if not new < t:
            break
        t = new
    return t


@twice
def late(speed, j, length):
    """Return the smallest t with speed t - j t3/6 = length, before the speed falls to half."""
    t = length / speed
    for _ in range(100):
        slope = speed - 0.5 * j * t * t
        if slope <= 0.0:
            break
        new = t + (length - speed * t + j * t * t * t / 6.0) / slope
        if not new > t:
            break
        t = new
    return t


@twice
def in_ramp(length, slow, fast, a, j):
    """Return time and speed at a length along a ramp from slow to fast."""
    change = fast - slow
    part = math.sqrt(change / j) if change * j <= a * a else a / j
    whole = ramp_seconds(change, a, j)
    top = j * part
    knee = slow * part + j * part * part * part / 6.0
    if length <= knee:
        t = early(slow, j, length, part) if length > 0.0 else 0.0
        return t, slow + 0.5 * j * t * t
    total = ramp_length(slow, fast, a, j)
    shoulder = total - (fast * part - j * part * part * part / 6.0)
    if length < shoulder:
        speed = slow + 0.5 * top * part
        square = speed * speed + 2.0 * top * (length - knee)
        new = math.sqrt(square)
        return part + (new - speed) / top, new
    t = late(fast, j, max(total - length, 0.0))
    return whole - t, fast - 0.5 * j * t * t


@twice
def span_forces(spans, i, weakest):
    """Return acceleration and braking of a span of the first plan."""
    peak = spans[i, SPAN_PEAK]
    start = spans[i, SPAN_START]
    finish = spans[i, SPAN_END]
    up = 0.0
    down = 0.0
    if spans[i, SPAN_RISE] > 0.0:
        up = (peak * peak - start * start) / (2.0 * spans[i, SPAN_RISE])
    if spans[i, SPAN_FALL] > 0.0:
        down = (peak * peak - finish * finish) / (2.0 * spans[i, SPAN_FALL])
    if up <= 0.0:
        up = down if down > 0.0 else weakest
    if down <= 0.0:
        down = up
    return up, down


@twice
def at_rise(steps, i):
    """Say how a step begins: 1 rising, 0 steady, -1 falling; rounding is not a rise."""
    length = steps[i, STEP_LENGTH]
    if steps[i, STEP_RISE] > 1e-9 * length:
        return 1
    return -1 if steps[i, STEP_FALL] >= length * (1.0 - 1e-9) else 0


@twice
def at_fall(steps, i):
    """Say how a step ends: 1 rising, 0 steady, -1 falling; rounding is not a fall."""
    length = steps[i, STEP_LENGTH]
    if steps[i, STEP_FALL] > 1e-9 * length:
        return -1
    return 1 if steps[i, STEP_RISE] >= length * (1.0 - 1e-9) else 0


@twice
def row_jerk(rows, codes, at, jerk):
    """Return the jerk that a row allows along the path, mm/s3."""
    if codes[at, ARC_ROW] >= 0:
        return min(jerk[0], jerk[1], jerk[2])
    parts = (1.0 / jerk[0], 1.0 / jerk[1], 1.0 / jerk[2])
    return along((rows[at, 0], rows[at, 1], rows[at, 2]), parts, UNLIMITED)


@twice
def find_spans(rows, codes, jerk, nodes, steps, spans, last_node, count):
    """Cut the plan into spans in which the speed rises, stays and falls once; count them."""
    found = 0
    node = 0
    rising = True
    for at in range(count):
        own = row_jerk(rows, codes, at, jerk)
        while node < codes[at + 1, NODE]:
            if node > 0:
                ending = at_fall(steps, node - 1)
                starting = at_rise(steps, node)
                valley = (ending <= 0 and starting > 0) or (ending < 0 and starting == 0)
                if valley or nodes[node] <= 0.0:
                    last_node[found] = node
                    spans[found, SPAN_END] = math.sqrt(nodes[node])
                    found += 1
                    rising = True
            if rising:
                for i in range(SPAN_WIDTH):
                    spans[found, i] = 0.0
                spans[found, SPAN_START] = math.sqrt(nodes[node])
                spans[found, SPAN_JERK] = own
                rising = False
            spans[found, SPAN_LENGTH] += steps[node, STEP_LENGTH]
            spans[found, SPAN_RISE] += steps[node, STEP_RISE]
            spans[found, SPAN_FALL] += steps[node, STEP_FALL]
            peak = math.sqrt(steps[node, STEP_PEAK])
            spans[found, SPAN_PEAK] = max(spans[found, SPAN_PEAK], peak)
            spans[found, SPAN_JERK] = min(spans[found, SPAN_JERK], own)
            node += 1
    last_node[found] = node
    spans[found, SPAN_END] = math.sqrt(nodes[node])
    return found + 1


@twice
def slow_down(spans, forces, speeds, count, weakest):
    """Lower the speeds between spans until profiles within the jerk connect them."""
    for i in range(count):
        up, down = span_forces(spans, i, weakest)
        forces[i, 0] = up
        forces[i, 1] = down
        speeds[i] = spans[i, SPAN_START]
    speeds[count] = spans[count - 1, SPAN_END]
    for i in range(count - 1, -1, -1):
        if speeds[i] > speeds[i + 1]:
            most = reach_speed(
                speeds[i + 1], spans[i, SPAN_LENGTH], forces[i, 1], spans[i, SPAN_JERK]
            )
            speeds[i] = min(speeds[i], most)
    for i in range(count):
        if speeds[i + 1] > speeds[i]:
            most = reach_speed(speeds[i], spans[i, SPAN_LENGTH], forces[i, 0], spans[i, SPAN_JERK])
            speeds[i + 1] = min(speeds[i + 1], most)


@twice
def at_length(length, total, start, finish, peak, up, down, j):
    """Return time and speed at a length along a seven-phase move."""
    rise = ramp_length(start, peak, up, j)
    fall = ramp_length(finish, peak, down, j)
    if length <= rise:
        return in_ramp(length, start, peak, up, j)
    climbing = ramp_seconds(peak - start, up, j)
    flat = max(total - rise - fall, 0.0)
    if length <= rise + flat:
        return climbing + (length - rise) / peak, peak
    falling = ramp_seconds(peak - finish, down, j)
    t, speed = in_ramp(max(total - length, 0.0), finish, peak, down, j)
    return climbing + flat / peak + (falling - t), speed


@twice
def smooth(codes, rows, steps, spans, forces, speeds, last_node, count, smoothed):
    """Fill seconds, entry, peak and exit of every row of the chain with the smoothed motion."""
    node = 0
    at = 0
    past = 0.0
    for i in range(count):
        total = spans[i, SPAN_LENGTH]
        j = spans[i, SPAN_JERK]
        start = speeds[i]
        finish = speeds[i + 1]
        up = forces[i, 0]
        down = forces[i, 1]
        peak = peak_speed(start, finish, total, spans[i, SPAN_PEAK], up, down, j)
        rise = ramp_length(start, peak, up, j)
        done = 0.0
        before = 0.0
        entry = start
        while node < last_node[i]:
            done += steps[node, STEP_LENGTH]
            node += 1
            if node < codes[at + 1, NODE] and node < last_node[i]:
                continue
            if node == last_node[i]:
                t, speed = at_length(total, total, start, finish, peak, up, down, j)
            else:
                t, speed = at_length(done, total, start, finish, peak, up, down, j)
            smoothed[at, 0] += t - before
            smoothed[at, 2] = max(smoothed[at, 2], entry, speed)
            if past <= rise <= done:
                smoothed[at, 2] = max(smoothed[at, 2], peak)
            before = t
            entry = speed
            past = done
            if node == codes[at + 1, NODE]:
                smoothed[at, 3] = speed
                at += 1
                if at < rows:
                    smoothed[at, 1] = speed
        past = 0.0


@twice
def enter_smoothed(rows, codes, smoothed, count, books):
    """Enter the smoothed motion in the results; what it takes longer is booked on the jerk."""
    result = books.result
    for at in range(count):
        row = codes[at, ROW]
        seconds = smoothed[at, 0]
        if codes[at, PIECES] == 0 and rows[at, STEP] > 0.0:
            seconds += rows[at, STEP] / smoothed[at, 1]
        if codes[at + 1, PIECES] == 0 and rows[at + 1, STEP] > 0.0:
            seconds += rows[at + 1, STEP] / smoothed[at, 3]
        more = max(seconds - result[SECONDS, row], 0.0)
        result[SECONDS, row] += more
        result[RAMP, row] += more
        result[ENTRY, row] = smoothed[at, 1]
        result[PEAK, row] = smoothed[at, 2]
        result[EXIT, row] = smoothed[at, 3]
        add(books.lost, JERK, more)
        if 2.0 * more > result[SECONDS, row]:
            books.cause[row] = JERK
