"""What the axes of a machine allow at one place of a path.

At arc length s of a path q(s), with x the square of the speed (mm2/s2) and u the acceleration along
the path (mm/s2), the acceleration of axis i is p_i u + k_i x, where p = dq/ds is the tangent and
k = d2q/ds2 the bend. Every axis holds |p_i u + k_i x| <= a_i (Bobrow, Dubowsky & Gibson 1985, Int. J.
Robotics Research 4(3)). Over a short step of length h, u is constant and x runs linearly, so
x_next = x + 2 h u. The limits are held at the middle of the step.

All functions here are kernels: numbers in, numbers out.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from dryrun.job.model import Machine
from dryrun.timing.twice import twice

#: Stands for "no limit" where a finite number is easier to reckon with: (1e9 mm/s) squared.
UNLIMITED: Final = 1e18
FASTEST: Final = 1e9

Vector = tuple[float, float, float]


class Limits(NamedTuple):
    """What a machine's axes can do: mm/s, mm/s2 and mm/s3 per axis.

    Attributes
    ----------
    rate, acceleration, jerk : X, Y, Z; jerk 0 means that no limit was declared
    slowest : the smallest rate; below it no direction is limited by the rates
    path : longest acceleration vector, mm/s2; UNLIMITED when each axis is limited alone
    """

    rate: Vector
    acceleration: Vector
    jerk: Vector
    slowest: float
    path: float


def limits_of(machine: Machine) -> Limits:
    """Return the limits that a machine declares, in mm and seconds.

    Raises
    ------
    ValueError
        When a rate, an acceleration or a jerk is not a positive number.
    """
    path = machine.path_acceleration
    for name in ("max_rate", "acceleration", "jerk"):
        values = getattr(machine, name)
        if values is not None and not all(value > 0 for value in values):
            raise ValueError(f"{name} {values}: every axis needs a number above 0")
    if path is not None and not path > 0:
        raise ValueError(f"path_acceleration {path}: needs a number above 0")
    rate = (machine.max_rate[0] / 60, machine.max_rate[1] / 60, machine.max_rate[2] / 60)
    acceleration = machine.acceleration
    return Limits(
        rate=rate,
        acceleration=(float(acceleration[0]), float(acceleration[1]), float(acceleration[2])),
        jerk=(0.0, 0.0, 0.0) if machine.jerk is None else machine.jerk,
        slowest=min(rate),
        path=UNLIMITED if path is None else float(path),
    )


@twice
def along(direction, bounds, most):  # type: ignore[no-untyped-def]
    """Return the largest length of a vector in a direction whose parts stay within bounds."""
    for part, bound in zip(direction, bounds):  # noqa: B905 - numba knows no strict
        size = abs(part)
        if size > 1e-12 and bound < most * size:
            most = bound / size
    return most


@twice
def share_two(p, k, a, p_other, k_other, a_other):  # type: ignore[no-untyped-def]
    """Return the largest x at which two axes still have a common u."""
    cross = abs(k * p_other - k_other * p)
    if cross < 1e-12:
        return UNLIMITED
    return (a * abs(p_other) + a_other * abs(p)) / cross


@twice
def turning_limit(p, k, a, path, bend):  # type: ignore[no-untyped-def]
    """Return the largest x at which the axes can follow the bend at all, mm2/s2.

    Three intervals of u meet when every two of them do, hence pairs of axes suffice.
    """
    most = min(
        share_two(p[0], k[0], a[0], p[1], k[1], a[1]),
        share_two(p[0], k[0], a[0], p[2], k[2], a[2]),
        share_two(p[1], k[1], a[1], p[2], k[2], a[2]),
    )
    if path < UNLIMITED:
        most = min(most, path / bend)
    return most


@twice
def axis_before(target, reach, p, k, a):  # type: ignore[no-untyped-def]
    """Return the largest x from which one axis can brake to `target` within reach = 2 h.

    Largest x with x + reach u <= target for some u that the axis allows.
    """
    if p < 0.0:
        p = -p
        k = -k
    share = p - reach * k
    if share < 1e-12:
        return UNLIMITED
    return (target * p + reach * a) / share


@twice
def axis_push(x, p, k, a):  # type: ignore[no-untyped-def]
    """Return the largest u that one axis allows at x."""
    if p < 0.0:
        p = -p
        k = -k
    if p < 1e-12:
        return UNLIMITED
    return (a - k * x) / p


@twice
def before(target, reach, p, k, a):  # type: ignore[no-untyped-def]
    """Return the largest x from which all axes can brake to `target` within reach, mm2/s2."""
    return min(
        axis_before(target, reach, p[0], k[0], a[0]),
        axis_before(target, reach, p[1], k[1], a[1]),
        axis_before(target, reach, p[2], k[2], a[2]),
    )


@twice
def push(x, p, k, a):  # type: ignore[no-untyped-def]
    """Return the largest acceleration along the path that all axes allow at x, mm/s2."""
    return min(
        axis_push(x, p[0], k[0], a[0]),
        axis_push(x, p[1], k[1], a[1]),
        axis_push(x, p[2], k[2], a[2]),
    )


@twice
def vector_reach(x, step, path, bend):  # type: ignore[no-untyped-def]
    """Return the largest x at the other end of a step with the acceleration vector <= path.

    At the middle of the step, u2 + (bend x)2 = path2: an ellipse in the two ends' x.
    """
    turn = step * bend
    whole = 1.0 + turn * turn
    part = 1.0 - turn * turn
    force = 2.0 * step * path
    widest = force * math.sqrt(whole) / (2.0 * turn)
    if x * whole >= part * widest:
        return widest
    inner = whole * force * force - 4.0 * turn * turn * x * x
    return (part * x + math.sqrt(max(inner, 0.0))) / whole


@twice
def crossing(left, right):  # type: ignore[no-untyped-def]
    """Return the fraction of a step at which an axis comes to rest and turns back; 2 if none."""
    if left * right < 0.0:
        return left / (left - right)
    return 2.0
