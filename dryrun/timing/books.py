"""The bookkeeping of every second: what a step takes, and on which cause it is booked."""

# mypy: allow-untyped-defs
# Kernels are typed by the compiler at run time; their docstrings say what they take.

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.timing.causes import (
    ACCELERATION,
    AXIS_RATE,
    CORNER,
    COUNT,
    FEED,
    LINES_PER_SECOND,
    LOOK_AHEAD,
)
from dryrun.timing.corners import STEP
from dryrun.timing.twice import twice

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
def corner_by(rows, at, x, feed, tally):
    """Book half of a short corner, which is run at a steady speed."""
    length = rows[at, STEP]
    speed = math.sqrt(x)
    book(tally, CORNER, length / speed, length, feed)
    tally[TRAVELLED] += length
    tally[HIGHEST] = max(tally[HIGHEST], speed)


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
