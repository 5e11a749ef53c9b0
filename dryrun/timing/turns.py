"""What the axes bear at the places of a turn: tangent, bend, and the limits between its steps."""

# mypy: allow-untyped-defs
# Kernels are typed by the compiler at run time; their docstrings say what they take.

from __future__ import annotations

from typing import Final

from dryrun.timing.limits import FASTEST, UNLIMITED, along, axis_before, axis_push, before
from dryrun.timing.twice import twice

#: Part of the speed along the path below which an axis counts as hardly moving.
STIFF: Final = 0.3


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
def rate_limit(tangent, limits):
    """Return the largest x at which the axes keep their rates in a direction."""
    most = along(tangent, limits.slowness, FASTEST)
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
