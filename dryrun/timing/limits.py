"""What the axes of a machine allow at one place of a path.

At arc length s of a path q(s), with x the square of the speed (mm2/s2) and u the acceleration along
the path (mm/s2), the acceleration of axis i is p_i u + k_i x, where p = dq/ds is the tangent and
k = d2q/ds2 the bend. Every axis holds |p_i u + k_i x| <= a_i (Bobrow, Dubowsky & Gibson 1985, Int.
J. Robotics Research 4(3)). Over a short step of length h, u is constant and x runs linearly, so
x_next = x + 2 h u. The limits are held at the middle of the step.

All functions here are kernels: numbers in, numbers out.
"""

# mypy: allow-untyped-defs
# Kernels are typed by the compiler at run time; their docstrings say what they take.

from __future__ import annotations

import math
from typing import Final, NamedTuple

from dryrun.job.model import Machine
from dryrun.timing.twice import twice

#: Stands for "no limit" where a finite number is easier to reckon with: (1e9 mm/s) squared.
UNLIMITED: Final = 1e18
FASTEST: Final = 1e9

#: Parts of unit vectors below this are rounding.
TINY: Final = 1e-12

#: Part of the accelerations up to which a turn is called calm.
CALM: Final = 0.98

Vector = tuple[float, float, float]


class Limits(NamedTuple):
    """What a machine's axes can do: mm/s, mm/s2 and mm/s3 per axis.

    Attributes
    ----------
    rate, acceleration, jerk : X, Y, Z; jerk 0 means that no limit was declared
    slowness, ease : 1/rate and 1/acceleration, for `along`
    slowest : the smallest rate; below it no direction is limited by the rates
    weakest : the smallest acceleration
    path : longest acceleration vector, mm/s2; UNLIMITED when each axis is limited alone
    """

    rate: Vector
    acceleration: Vector
    jerk: Vector
    slowness: Vector
    ease: Vector
    slowest: float
    weakest: float
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
    jerk = machine.jerk or (0.0, 0.0, 0.0)
    most = UNLIMITED if path is None else float(path)
    return Limits(
        rate=rate,
        acceleration=_floats(machine.acceleration),
        jerk=_floats(jerk),
        slowness=reciprocals(rate),
        ease=reciprocals(_floats(machine.acceleration)),
        slowest=min(rate),
        weakest=min(most, *_floats(machine.acceleration)),
        path=most,
    )


def _floats(values: Vector) -> Vector:
    return (float(values[0]), float(values[1]), float(values[2]))


def reciprocals(values: Vector) -> Vector:
    """Return 1 over each of three numbers."""
    return (1.0 / values[0], 1.0 / values[1], 1.0 / values[2])


@twice
def along(direction, parts, most):
    """Return the largest length of a vector in a direction whose parts stay within bounds.

    `parts` are 1 over the bounds.
    """
    share = max(
        abs(direction[0]) * parts[0], abs(direction[1]) * parts[1], abs(direction[2]) * parts[2]
    )
    if share * most > 1.0:
        most = 1.0 / share
    return most


@twice
def share_two(p, k, a, p_other, k_other, a_other):
    """Return the largest x at which two axes still have a common u."""
    cross = abs(k * p_other - k_other * p)
    if cross < TINY:
        return UNLIMITED
    return (a * abs(p_other) + a_other * abs(p)) / cross


@twice
def turning_limit(p, k, a, path, bend):
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
def axis_before(target, reach, p, k, a):
    """Return the largest x from which one axis can brake to `target` within reach = 2 h.

    Largest x with x + reach u <= target for some u that the axis allows.
    """
    size = abs(p)
    share = size - reach * math.copysign(1.0, p) * k
    if share < TINY:
        return UNLIMITED
    return (target * size + reach * a) / share


@twice
def before(target, reach, p, k, a):
    """Return the largest x from which all axes can brake to `target` within reach, mm2/s2."""
    return min(
        axis_before(target, reach, p[0], k[0], a[0]),
        axis_before(target, reach, p[1], k[1], a[1]),
        axis_before(target, reach, p[2], k[2], a[2]),
    )


@twice
def axis_push(x, p, k, a):
    """Return the largest u that one axis allows at x, mm/s2."""
    size = abs(p)
    if size < TINY:
        return UNLIMITED
    return (a - math.copysign(1.0, p) * k * x) / size


@twice
def push(x, p, k, a):
    """Return the largest acceleration along the path that all axes allow at x, mm/s2."""
    return min(
        axis_push(x, p[0], k[0], a[0]),
        axis_push(x, p[1], k[1], a[1]),
        axis_push(x, p[2], k[2], a[2]),
    )


@twice
def calm(cap, bend, limits):
    """Say whether a turn can be run at speed cap in any direction, and with something to spare."""
    return cap * bend <= CALM * limits.weakest and cap <= limits.slowest * limits.slowest


@twice
def vector_reach(x, step, path, bend):
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
