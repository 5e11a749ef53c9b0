"""Moves with known times: uniform acceleration, limited jerk, junction speeds, full circles.

The closed forms of uniform acceleration are those of any kinematics text (optimal in the phase
plane: Bobrow, Dubowsky & Gibson 1985, Int. J. Robotics Research 4(3)); those of limited jerk are
in Erkorkmaz & Altintas 2001, Int. J. Machine Tools & Manufacture 41, 1323-1345.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from dryrun.job.model import Machine
from dryrun.motion import RAPID
from dryrun.timing import path
from dryrun.timing.corners import GATE, blend_radius, corner_speed
from dryrun.timing.limits import limits_of
from dryrun.timing.planner import plan_time, rest_to_rest, run_passes, survey_rows
from dryrun.timing.twice import plain
from tests.timing.reference import arc_motion, polyline

QUICK = Machine(max_rate=(60000.0,) * 3, acceleration=(500.0,) * 3, corner_tolerance=0.05)


def line(length, speed, machine=QUICK, cuts=1):
    """Return the plan of a straight line from rest to rest, written as one row or several."""
    x = np.linspace(0.0, length, cuts + 1)
    return plan_time(polyline(np.column_stack([x, 0 * x, 0 * x]), speed * 60), machine)


@pytest.mark.parametrize("cuts", [1, 2, 7])
@pytest.mark.parametrize(
    ("length", "speed", "seconds"),
    [(100.0, 50.0, 2.1), (2.0, 50.0, 2 * math.sqrt(2 / 500)), (5.0, 50.0, 0.2)],
)
def test_trapezoid_and_triangle(length, speed, seconds, cuts):
    """A straight move takes d/v + v/a, or 2 sqrt(d/a) when too short, in one row or in several."""
    assert line(length, speed, cuts=cuts).seconds == pytest.approx(seconds, rel=1e-9)


@pytest.mark.parametrize("cuts", [1, 3, 11])
@pytest.mark.parametrize(
    ("length", "speed", "jerk", "seconds"),
    [
        (100.0, 50.0, 10000.0, 100 / 50 + 50 / 500 + 500 / 10000),
        (3.0, 50.0, 10000.0, 0.21278820596099707),
        (0.5, 50.0, 10000.0, 4 * (0.5 / 20000) ** (1 / 3)),
        (10.0, 20.0, 5000.0, 10 / 20 + 2 * math.sqrt(20 / 5000)),
    ],
)
def test_s_curve(length, speed, jerk, seconds, cuts):
    """The four kinds of rest-to-rest move with limited jerk (Erkorkmaz & Altintas 2001)."""
    machine = replace(QUICK, jerk=(jerk,) * 3)

    assert line(length, speed, machine, cuts).seconds == pytest.approx(seconds, rel=1e-9)


def test_slanted_line_is_limited_by_its_axes():
    """Along a slanted line rate and acceleration are the least of limit over direction cosine."""
    machine = Machine(max_rate=(3000.0, 3000.0, 600.0), acceleration=(400.0, 300.0, 100.0))
    plan = plan_time(polyline([[0, 0, 0], [30, 20, 60]], 6000.0), machine)
    cosine = np.array([3, 2, 6]) / 7
    speed = min(np.array([50, 50, 10]) / cosine)
    force = min(np.array([400, 300, 100]) / cosine)

    assert plan.seconds == pytest.approx(70 / speed + speed / force, rel=1e-12)
    assert plan.cruise_speed[0] == pytest.approx(speed)


def exact_stops(points, feed, machine):
    """Return the sum of the closed forms of every leg of a polyline."""
    total = 0.0
    for step in np.diff(points, axis=0):
        length = math.sqrt(float(step @ step))
        share = np.abs(step) / length
        with np.errstate(divide="ignore"):
            speed = min(feed / 60, *(np.array(machine.max_rate) / 60 / share))
            force = min(np.array(machine.acceleration) / share)
        if length >= speed**2 / force:
            total += length / speed + speed / force
        else:
            total += 2 * math.sqrt(length / force)
    return total


def test_random_polylines_with_exact_stop():
    """200 random polylines with exact stop take the sum of the closed forms of their legs."""
    random = np.random.default_rng(20)
    for _ in range(200):
        scale = 10 ** random.uniform(-1, 2)
        points = np.cumsum(random.normal(size=(random.integers(2, 9), 3)) * scale, axis=0)
        feed = 10 ** random.uniform(2, 4)
        machine = Machine(
            max_rate=tuple(10 ** random.uniform(2.5, 4, 3)),
            acceleration=tuple(10 ** random.uniform(1.5, 3, 3)),
        )
        plan = plan_time(polyline(points, feed, 0.0), machine)

        assert plan.seconds == pytest.approx(exact_stops(points, feed, machine), rel=1e-9)


def test_given_junction_speeds():
    """Five legs with given junction speeds: backward, forward, and the sum of their profiles.

    0.343851 s is checked by a continuous minimum of phase-plane curves (uniform acceleration).
    """
    x = np.concatenate([[0.0], np.cumsum([2.0, 1.0, 0.5, 1.0, 2.0])])
    motion = polyline(np.column_stack([x, 0 * x, 0 * x]), 3600.0)
    limits = limits_of(QUICK)
    rules = path.Rules(limits, 0.05, 0.0, independent=False, blind=False)
    chain, _ = survey_rows(plain(), motion, np.zeros(5, bool), rules, True)
    chain.rows[1:5, GATE] = np.array([20.0, 5.0, 30.0, 12.0]) ** 2
    books = run_passes(plain(), chain, limits, QUICK, 5, lambda done, total: None, True)

    assert books.result[0].sum() == pytest.approx(0.3438513460810168, rel=1e-9)


def test_corner_formulas():
    """Radius and speed of the arc within a tolerance, from the tangent-arc geometry."""
    assert blend_radius(math.pi / 2, 0.05) == pytest.approx(0.1207106781186548, rel=1e-12)
    assert corner_speed(math.radians(20), 0.05, 500.0) == pytest.approx(40.25638080538592, rel=1e-9)
    # the same with the interior angle: v2 = a d sin(i/2) / (1 - sin(i/2))
    for interior in (0.3, 1.0, 2.0, 3.0):
        half = math.sin(interior / 2)
        wanted = math.sqrt(400 * 0.02 * half / (1 - half))

        assert corner_speed(math.pi - interior, 0.02, 400.0) == pytest.approx(wanted, rel=1e-12)
    assert blend_radius(0.0, 0.05) == math.inf


def test_full_circle_with_limited_vector():
    """A full circle from rest to rest with |acceleration| <= a takes 7.33445 sqrt(R/a).

    (3 pi/2 + B(1/4, 1/2)/2) sqrt(R/a), from v dv/ds = sqrt(a2 - (v2/R)2).
    """
    beta = math.gamma(0.25) * math.gamma(0.5) / math.gamma(0.75)
    machine = Machine(max_rate=(1e8,) * 3, acceleration=(1e6,) * 3, path_acceleration=500.0)
    for radius in (2.0, 10.0):
        wanted = (1.5 * math.pi + beta / 2) * math.sqrt(radius / 500)
        plan = plan_time(arc_motion(radius, 2 * math.pi), machine)

        assert plan.seconds == pytest.approx(wanted, rel=1e-3)
        assert plan.seconds >= wanted
        assert plan.cruise_speed[0] <= math.sqrt(500 * radius) * 1.0001


def test_full_circle_with_limited_axes():
    """The same circle with each axis limited alone: 1.01024 s for R = 10, a = 500 (toppra 0.6)."""
    machine = Machine(max_rate=(1e8,) * 3, acceleration=(500.0,) * 3)
    for axis in (0, 1, 2):
        plan = plan_time(arc_motion(10.0, -2 * math.pi, axis=axis), machine)

        assert plan.seconds == pytest.approx(1.01024, rel=1e-3)


def test_arc_at_a_feed_that_it_bears():
    """A slow arc takes its length over the feed, and v/a for starting and stopping."""
    plan = plan_time(arc_motion(50.0, 3.0, feed=600.0, rise=20.0), QUICK)
    length = math.hypot(150.0, 20.0)

    assert plan.seconds == pytest.approx(length / 10 + 10 / 500, rel=2e-4)
    assert plan.seconds >= length / 10 + 10 / 500 / math.sqrt(2)


@pytest.mark.parametrize("jerk", [None, (4000.0, 4000.0, 2000.0)])
def test_independent_rapids(jerk):
    """With independent axes a rapid takes as long as its slowest axis from rest to rest."""
    machine = Machine(rapids="independent", jerk=jerk)
    plan = plan_time(polyline([[0, 0, 0], [100, 30, 0], [100, 30, 50]], kind=RAPID), machine)
    wanted = []
    for length, axis in ((100.0, 0), (50.0, 2)):
        rate, force = machine.max_rate[axis] / 60, machine.acceleration[axis]
        seconds = length / rate + rate / force
        if jerk:
            seconds += force / jerk[axis]
        wanted.append(seconds)

    assert plan.moving_seconds == pytest.approx(wanted, rel=1e-12)
    assert plan.rapid_seconds == plan.seconds
    assert plan.naive_seconds == pytest.approx(100 / (5000 / 60) + 50 / (2000 / 60))


def test_rest_to_rest_of_one_axis():
    """One axis from rest to rest: time and the part of it at full rate."""
    assert rest_to_rest(100.0, 50.0, 500.0, 0.0) == pytest.approx((2.1, 1.9))
    assert rest_to_rest(2.0, 50.0, 500.0, 0.0) == pytest.approx((2 * math.sqrt(2 / 500), 0.0))


def test_straight_rapids_keep_proportion():
    """A straight rapid runs at the rate that the first of its axes reaches."""
    plan = plan_time(polyline([[0, 0, 0], [300, 0, 300]], kind=RAPID), Machine())
    speed, force = 2000 / 60 * math.sqrt(2), 200 * math.sqrt(2)

    assert plan.seconds == pytest.approx(300 * math.sqrt(2) / speed + speed / force, rel=1e-12)


def test_collinear_rows_lose_nothing():
    """A line cut into rows, with a smooth joint into an arc and out of it, is not slowed."""
    machine = replace(QUICK, corner_tolerance=0.0)
    x = np.cumsum([0.0, 3.0, 0.01, 40.0, 7.0])
    whole = plan_time(polyline([[0, 0, 0], [x[-1], 2 * x[-1], 0]], 3000.0), machine)
    cut = plan_time(polyline(np.column_stack([x, 2 * x, 0 * x]), 3000.0), machine)

    assert cut.seconds == pytest.approx(whole.seconds, rel=1e-9)


def test_exact_stop_stops_between_collinear_rows():
    """In exact stop mode the machine stops at the end of every row, in line or not."""
    plan = plan_time(polyline([[0, 0, 0], [50, 0, 0], [100, 0, 0]], 3000.0, 0.0), QUICK)

    assert plan.seconds == pytest.approx(2 * (50 / 50 + 50 / 500), rel=1e-12)
    assert plan.exit_speed.tolist() == [0.0, 0.0]
