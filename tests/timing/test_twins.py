"""The passes against a slow obvious twin, and the compiled kernels against plain Python."""

from __future__ import annotations

import math
import os
import subprocess
import sys
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryrun.job.model import Machine, Spindle
from dryrun.motion import DWELL, RAPID, Motion
from dryrun.timing.planner import plan_time, plan_with
from dryrun.timing.twice import compiled, plain
from tests.timing.reference import arc_motion, polyline

EXAMPLES = 400 if os.environ.get("DRYRUN_LONG") else 60

MACHINE = Machine(
    max_rate=(4000.0, 3000.0, 1500.0), acceleration=(500.0, 300.0, 150.0), corner_tolerance=0.05
)


def mixed(seed, rows=60):
    """Return a program of lines, arcs, rapids and dwells that hang together."""
    random = np.random.default_rng(seed)
    parts = []
    here = np.zeros(3)
    for _ in range(rows):
        what = random.integers(5)
        feed = 10 ** random.uniform(2, 3.8)
        if what == 0:
            arc = arc_motion(
                10 ** random.uniform(-1, 1.5),
                random.uniform(0.1, 7) * random.choice([-1, 1]),
                random.uniform(0, 6),
                random.normal() * 3,
                feed,
                int(random.integers(3)),
            )
            move = here - arc.start[0]
            columns = {name: getattr(arc, name) for name in arc.__dataclass_fields__}
            columns.update(start=arc.start + move, end=arc.end + move, centre=arc.centre + move)
            part = Motion(**columns)
        else:
            kind = {1: RAPID, 2: DWELL}.get(int(random.integers(12)), 1)
            step = random.normal(size=3) * 10 ** random.uniform(-1, 1.5) * (kind != DWELL)
            tolerance = random.choice([math.nan, math.nan, math.nan, 0.0, 0.2])
            part = polyline(np.vstack([here, here + step]), feed, tolerance, kind)
        parts.append(part)
        here = part.end[-1]
    return Motion.concatenate(parts)


@pytest.mark.jit_only
@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(
    "change",
    [
        {},
        {"jerk": (5000.0, 4000.0, 2000.0)},
        {"look_ahead": 3},
        {"path_acceleration": 250.0},
        {"lines_per_second": 20.0, "rapids": "independent", "line_seconds": 0.01},
    ],
    ids=lambda change: "-".join(change) or "plain",
)
def test_compiled_gives_the_same_bits(seed, change):
    """Short programs, planned in plain Python, get the very digits of the compiled kernels."""
    machine = replace(MACHINE, spindle=Spindle(start_seconds=2.0), **change)
    motion = mixed(seed)
    slow = plan_with(plain(), motion, machine, None, True)
    fast = plan_with(compiled(), motion, machine, None, False)

    for name in slow.__dataclass_fields__:
        one, other = getattr(slow, name), getattr(fast, name)
        if isinstance(one, np.ndarray):
            assert np.array_equal(one, other), name
        elif name != "motion":
            assert one == other, name


def test_short_program_does_not_load_the_compiler():
    """Planning a short program leaves numba unloaded."""
    script = (
        "import sys, math\n"
        "from dryrun.job.model import Machine\n"
        "from dryrun.timing.planner import plan_time\n"
        "from tests.timing.reference import arc_motion\n"
        "assert plan_time(arc_motion(5.0, 2.0, feed=600.0), Machine()).seconds > 1.0\n"
        "print('numba' in sys.modules)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script],
        cwd=Path(__file__).resolve().parents[2],
        capture_output=True,
        text=True,
        check=True,
        timeout=600,
    )

    assert done.stdout.split() == ["False"]


def naive_seconds(lengths, speeds, force, gates):
    """Return the time of straight legs in line by brute force: speeds on a fine grid of places.

    The largest square of the speed everywhere is the least of all limits, each spread to both
    sides at 2 x acceleration: no passes, no cases.
    """
    ends = np.concatenate([[0.0], np.cumsum(lengths)])
    shape = (1 - np.cos(np.linspace(0, math.pi, 801))) / 2
    places = np.unique(np.concatenate([a + (b - a) * shape for a, b in pairwise(ends)]))
    limit = np.full(len(places), np.inf)
    for speed, low, high in zip(speeds, ends[:-1], ends[1:], strict=True):
        gap = np.maximum(np.maximum(low - places, places - high), 0.0)
        limit = np.minimum(limit, speed**2 + 2 * force * gap)
    for gate, place in zip(gates, ends, strict=True):
        limit = np.minimum(limit, gate**2 + 2 * force * np.abs(places - place))
    speed = np.sqrt(limit)
    return float((2 * np.diff(places) / (speed[1:] + speed[:-1])).sum())


@settings(max_examples=EXAMPLES, deadline=None)
@given(
    legs=st.lists(st.tuples(st.floats(0.05, 80), st.floats(1, 120)), min_size=1, max_size=8),
    force=st.floats(20, 3000),
)
def test_straight_passes_against_brute_force(legs, force):
    """Legs in line at several feeds take the time of the least of all their limits."""
    lengths, speeds = np.array(legs).T
    x = np.concatenate([[0.0], np.cumsum(lengths)])
    motion = polyline(np.column_stack([x, 0 * x, 0 * x]), 60 * speeds)
    machine = Machine(max_rate=(1e6,) * 3, acceleration=(force,) * 3)
    plan = plan_with(plain(), motion, machine, None, True)
    gates = [0.0, *[math.inf] * (len(lengths) - 1), 0.0]

    # the brute force runs linearly in speed squared between its places: it is late by a little
    wanted = naive_seconds(lengths, speeds, force, gates)
    assert plan.seconds == pytest.approx(wanted, rel=3e-3)
    assert plan.seconds <= wanted * (1 + 1e-9)


@settings(max_examples=EXAMPLES, deadline=None)
@given(
    lengths=st.lists(st.floats(0.05, 30), min_size=2, max_size=12),
    blocks=st.integers(0, 14),
    force=st.floats(20, 3000),
)
def test_look_ahead_against_its_rule(lengths, blocks, force):
    """At each corner v2 <= 2 a (length of the next blocks), the end of the program excepted."""
    lengths = np.array(lengths)
    x = np.concatenate([[0.0], np.cumsum(lengths)])
    motion = polyline(np.column_stack([x, 0 * x, 0 * x]), 6000.0)
    machine = Machine(max_rate=(1e6,) * 3, acceleration=(force,) * 3, look_ahead=blocks)
    plan = plan_with(plain(), motion, machine, None, True)
    gates = [0.0]
    for i in range(1, len(lengths)):
        held = lengths[i : i + blocks].sum()
        gates.append(math.sqrt(2 * force * held) if i + blocks < len(lengths) else math.inf)
    gates.append(0.0)
    wanted = naive_seconds(lengths, np.full(len(lengths), 100.0), force, gates)

    assert (plan.entry_speed <= np.array(gates)[:-1] * (1 + 1e-12)).all()
    assert plan.seconds == pytest.approx(wanted, rel=3e-3)


@settings(max_examples=EXAMPLES, deadline=None)
@given(seed=st.integers(0, 10**6), choice=st.integers(0, 4))
def test_every_second_is_accounted(seed, choice):
    """Parts, losses and rows add up to the total to 1e-6 s, and none is negative."""
    change = (
        {},
        {"jerk": (5000.0, 4000.0, 2000.0)},
        {"look_ahead": 2, "lines_per_second": 15.0},
        {"path_acceleration": 250.0, "rapids": "independent"},
        {"line_seconds": 0.02, "spindle": Spindle(start_seconds=3.0)},
    )[choice]
    plan = plan_with(plain(), mixed(seed, 12), replace(MACHINE, **change), None, True)
    parts = plan.where()
    saving = math.fsum(plan.lost) + math.fsum(plan.standing.values())

    assert math.fsum(parts.values()) == pytest.approx(plan.seconds, abs=1e-6)
    assert math.fsum(plan.row_seconds) == pytest.approx(plan.seconds, abs=1e-6)
    assert plan.cutting_seconds + plan.rapid_seconds + plan.other_seconds == pytest.approx(
        plan.seconds, abs=1e-6
    )
    assert plan.naive_seconds + saving == pytest.approx(plan.seconds, abs=1e-6)
    assert min(parts.values()) >= -1e-9
    assert np.isfinite(plan.row_seconds).all()
    assert (plan.moving_seconds[plan.motion.moving & (plan.motion.lengths() > 0)] > 0).all()


@settings(max_examples=EXAMPLES, deadline=None)
@given(seed=st.integers(0, 10**6))
@pytest.mark.jit_only
def test_more_limits_never_shorten(seed):
    """Lower limits, and a controller that sees less, never make a program shorter."""
    motion = mixed(seed, 10)
    base = plan_with(plain(), motion, MACHINE, None, True).seconds
    slack = 1 + 2e-3  # the steps of turns

    for change in (
        {"acceleration": tuple(a / 2 for a in MACHINE.acceleration)},
        {"look_ahead": 1},
        {"lines_per_second": 5.0},
        {"jerk": (8000.0, 8000.0, 8000.0)},
        {"path_acceleration": 200.0},
    ):
        less = plan_with(plain(), motion, replace(MACHINE, **change), None, True).seconds
        assert less * slack >= base, change


@pytest.mark.jit_only
def test_a_short_program_with_many_steps_gets_the_compiler():
    """A few hundred rows that need thousands of steps get the same digits from compiled kernels."""
    random = np.random.default_rng(6)
    motion = polyline(np.cumsum(random.normal(size=(400, 3)), axis=0), 1200.0)

    assert plan_time(motion, MACHINE).seconds == (
        plan_with(plain(), motion, MACHINE, None, True).seconds
    )


@pytest.mark.parametrize(
    "part", [pytest.param(part, marks=pytest.mark.jit_only) for part in (1, 2, 50)] + [7]
)
@pytest.mark.parametrize(
    "change",
    [
        {},
        pytest.param({"jerk": (5000.0, 4000.0, 2000.0)}, marks=pytest.mark.jit_only),
        pytest.param({"look_ahead": 3}, marks=pytest.mark.jit_only),
        pytest.param({"path_acceleration": 250.0}, marks=pytest.mark.jit_only),
        pytest.param(
            {"lines_per_second": 20.0, "rapids": "independent", "line_seconds": 0.01},
            marks=pytest.mark.jit_only,
        ),
    ],
    ids=lambda change: "-".join(change) or "plain",
)
def test_parts_make_no_difference(part, change, monkeypatch):
    """A program planned in many parts by several threads takes what it takes in one."""
    machine = replace(MACHINE, spindle=Spindle(start_seconds=2.0), **change)
    for seed in range(40 if os.environ.get("DRYRUN_LONG") else 2):
        motion = mixed(seed, 150)
        whole = plan_with(compiled(), motion, machine, None, False)
        with monkeypatch.context() as patch:
            patch.setattr("dryrun.timing.parts.PART", part)
            cut = [plan_with(compiled(), motion, machine, None, False, None, n) for n in (1, 3)]

        for name in whole.__dataclass_fields__:
            one, other, again = (getattr(table, name) for table in (whole, *cut))
            if isinstance(one, np.ndarray):
                assert np.array_equal(one, other), name
                assert np.array_equal(one, again), name
            elif name == "lost":
                assert other == again
                assert np.allclose(one, other, rtol=1e-12, atol=1e-9)
            elif name != "motion":
                assert one == other == again, name


@pytest.mark.jit_only
def test_cuts_through_a_smooth_relief_make_no_difference(monkeypatch):
    """Nor where the machine hardly ever slows down, or has long ramps."""
    x = np.arange(3001) * 0.2
    height = 3 * np.sin(x / 5) + 0.2 * np.sin(x / 1.7)
    points = np.column_stack([x % 50, np.floor(x / 50) * 0.5, height])
    for acceleration in (10.0, 400.0):
        machine = Machine(acceleration=(acceleration,) * 3)
        whole = plan_time(polyline(points, 3000.0), machine)
        with monkeypatch.context() as patch:
            patch.setattr("dryrun.timing.parts.PART", 100)
            cut = plan_with(compiled(), polyline(points, 3000.0), machine, None, False, None, 2)

        assert np.array_equal(whole.moving_seconds, cut.moving_seconds)
        assert np.array_equal(whole.cause, cut.cause)
