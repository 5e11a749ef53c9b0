"""The planner against the general-purpose libraries toppra and ruckig.

toppra (Pham & Pham 2018, IEEE Trans. Robotics 34(3)) finds the minimum time of a path under limits
of velocity and acceleration. Its limits are held at the grid points here: where the curvature
jumps, at the ends of corner arcs, its other scheme asks for one acceleration on both sides of the
jump, which is more than the limits say. ruckig (Berscheid & Kroeger 2021, RSS) finds minimum times
with limited jerk.
"""

from __future__ import annotations

import math
import os

import numpy as np
import pytest

from dryrun.job.model import Machine
from dryrun.timing.planner import plan_time
from dryrun.timing.twice import plain
from tests.timing.reference import (
    arc_motion,
    blended,
    circular,
    least_seconds,
    polyline,
    straight,
)

LONG = bool(os.environ.get("DRYRUN_LONG"))


def random_case(random):
    """Return a random polyline, its tolerance and a machine."""
    rows = int(random.integers(2, 8))
    scale = 10 ** random.uniform(-0.5, 1.5)
    points = np.zeros((rows + 1, 3))
    axes = int(random.integers(2, 4))
    points[:, :axes] = np.cumsum(random.normal(size=(rows + 1, axes)) * scale, axis=0)
    force = (500.0,) * 3 if random.integers(2) else tuple(10 ** random.uniform(2, 3.3, 3))
    rate = tuple(10 ** random.uniform(1.3, 2.5, 3))
    return (
        points,
        scale * 10 ** random.uniform(-3.5, -0.7),
        rate,
        force,
        10 ** random.uniform(1, 2.7),
    )


@pytest.mark.parametrize("seed", range(60 if LONG else 12))
def test_blended_polyline(seed):
    """A polyline takes the minimum time of its rounded path, or up to 3 % more."""
    points, tolerance, rate, force, feed = random_case(np.random.default_rng(seed))
    machine = Machine(
        max_rate=tuple(60 * r for r in rate), acceleration=force, corner_tolerance=tolerance
    )
    plan = plan_time(polyline(points, 60 * feed), machine)
    pieces = blended(points, tolerance)
    coarse, fine = (least_seconds(pieces, rate, force, feed, n, 0) for n in (80, 160))

    # the grid's error halves with the grid: what is left of it is about the difference of the two
    assert plan.seconds >= fine - abs(fine - coarse) - 1e-4 * fine
    assert plan.seconds <= 1.03 * fine


@pytest.mark.parametrize("seed", range(40 if LONG else 10))
def test_arc(seed):
    """A single arc from rest to rest takes the minimum time, or up to 1 % more."""
    random = np.random.default_rng(100 + seed)
    radius, sweep = 10 ** random.uniform(-0.3, 1.7), random.uniform(0.4, 7) * random.choice([-1, 1])
    begin = random.uniform(0, 2 * math.pi)
    force = (500.0,) * 3 if seed % 2 else tuple(10 ** random.uniform(2, 3.3, 3))
    feed = 10 ** random.uniform(1, 3)
    plan = plan_time(
        arc_motion(radius, sweep, begin, feed=60 * feed),
        Machine(max_rate=(1e8,) * 3, acceleration=force),
    )
    outward = np.array([math.cos(begin), math.sin(begin), 0.0])
    tangent = np.array([-math.sin(begin), math.cos(begin), 0.0]) * np.sign(sweep)
    pieces = [circular(np.zeros(3), outward, tangent, radius, abs(sweep))]
    coarse, fine = (least_seconds(pieces, (1e6,) * 3, force, feed, n, 0) for n in (400, 800))

    assert plan.seconds >= fine - abs(fine - coarse) - 1e-4 * fine
    assert plan.seconds <= 1.01 * fine


def test_smooth_chain_of_lines_and_arcs():
    """Line, half circle and line, joined smoothly, take the minimum time within 1 %."""
    from dryrun.motion import Motion

    rate, force, feed = (200.0,) * 3, (500.0, 400.0, 200.0), 150.0
    arc = arc_motion(8.0, math.pi, -math.pi / 2, feed=60 * feed)
    before = polyline([[-30, -8, 0], [0, -8, 0]], 60 * feed)
    after = polyline([[0, 8, 0], [-30, 8, 0]], 60 * feed)
    motion = Motion.concatenate([before, arc, after])
    machine = Machine(max_rate=tuple(60 * r for r in rate), acceleration=force)
    east = np.array([1.0, 0.0, 0.0])
    north = np.array([0.0, 1.0, 0.0])
    pieces = [
        straight(np.array([-30.0, -8.0, 0.0]), east, 30.0),
        circular(np.zeros(3), -north, east, 8.0, math.pi),
        straight(np.array([0.0, 8.0, 0.0]), -east, 30.0),
    ]
    least = least_seconds(pieces, rate, force, feed, 600, 0)
    seconds = plan_time(motion, machine).seconds

    assert least <= seconds <= 1.01 * least


def test_two_legs_at_a_right_angle():
    """A right angle rounded within 0.05 mm costs what toppra says, within 0.2 %."""
    points = [[0, 0, 0], [50, 0, 0], [50, 50, 0]]
    machine = Machine(max_rate=(60000.0,) * 3, acceleration=(500.0,) * 3, corner_tolerance=0.05)
    seconds = plan_time(polyline(points, 6000.0), machine).seconds
    least = least_seconds(blended(points, 0.05), (1000.0,) * 3, (500.0,) * 3, 100.0, 240, 0)

    assert least <= seconds <= 1.002 * least
    # two trapezoids that meet at the corner speed of the tolerance arc: 1.3701 s (kinematics)
    assert seconds == pytest.approx(1.3701316, rel=0.03)


def ruckig_seconds(length, speed, force, jerk, start=0.0, finish=0.0):
    """Return ruckig's minimum time of one axis, without acceleration at both ends."""
    ruckig = pytest.importorskip("ruckig")
    given = ruckig.InputParameter(1)
    given.current_position, given.target_position = [0.0], [length]
    given.current_velocity, given.target_velocity = [start], [finish]
    given.current_acceleration, given.target_acceleration = [0.0], [0.0]
    given.max_velocity, given.max_acceleration, given.max_jerk = [speed], [force], [jerk]
    trajectory = ruckig.Trajectory(1)
    ruckig.Ruckig(1).calculate(given, trajectory)
    return trajectory.duration


def test_jerk_from_rest_to_rest():
    """200 random moves with limited jerk take ruckig's time."""
    random = np.random.default_rng(7)
    for _ in range(200):
        length, speed = 10 ** random.uniform(-2, 2.5), 10 ** random.uniform(0.5, 2.5)
        force, jerk = 10 ** random.uniform(1.5, 3.5), 10 ** random.uniform(2.5, 5)
        machine = Machine(max_rate=(1e6,) * 3, acceleration=(force,) * 3, jerk=(jerk,) * 3)
        plan = plan_time(polyline([[0, 0, 0], [length, 0, 0]], 60 * speed), machine)

        assert plan.seconds == pytest.approx(
            ruckig_seconds(length, speed, force, jerk), rel=1e-8, abs=1e-9
        )


def test_jerk_between_speeds():
    """Seven-phase moves between given speeds take ruckig's time."""
    kernels = plain()
    random = np.random.default_rng(8)
    for _ in range(200):
        force, jerk = 10 ** random.uniform(1.5, 3.5), 10 ** random.uniform(2.5, 5)
        cap = 10 ** random.uniform(0.5, 2.5)
        start, finish = random.uniform(0, cap, 2)
        room = kernels["ramp_length"](min(start, finish), max(start, finish), force, jerk)
        length = room * (1 + random.exponential())
        peak = kernels["peak_speed"](start, finish, length, cap, force, force, jerk)
        seconds, speed = kernels["at_length"](
            length, length, start, finish, peak, force, force, jerk
        )

        assert seconds == pytest.approx(
            ruckig_seconds(length, cap, force, jerk, start, finish), rel=1e-7, abs=1e-9
        )
        assert speed == pytest.approx(finish, rel=1e-6, abs=1e-6)


def test_reach_with_jerk():
    """The speed that a ramp reaches within a length needs just that length."""
    kernels = plain()
    random = np.random.default_rng(9)
    for _ in range(200):
        slow, length = random.uniform(0, 100), 10 ** random.uniform(-3, 2)
        force, jerk = 10 ** random.uniform(1.5, 3.5), 10 ** random.uniform(2.5, 5)
        fast = kernels["reach_speed"](slow, length, force, jerk)

        assert kernels["ramp_length"](slow, fast, force, jerk) == pytest.approx(length, rel=1e-6)
