"""The table of times: events, unknown rows, causes, sums and the picture."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from dryrun.job.model import Machine, Spindle
from dryrun.motion import DWELL, LINE, PROBE, RAPID, STOP, TOOL, Motion
from dryrun.timing import causes
from dryrun.timing.causes import CAUSE_NAMES
from dryrun.timing.planner import plan_time
from tests.timing.reference import polyline

MACHINE = Machine(
    acceleration=(400.0,) * 3,
    spindle=Spindle(start_seconds=4.0),
    tool_change_seconds=30.0,
    pause_seconds=7.0,
    probe_seconds=1.5,
)


def changed(motion, **columns):
    """Return a motion with columns replaced."""
    old = {name: getattr(motion, name) for name in motion.__dataclass_fields__}
    return Motion(**{**old, **columns})


def still(kinds, seconds=0.0, spindle=0.0):
    """Return events at the origin."""
    rows = len(kinds)
    motion = polyline(np.zeros((rows + 1, 3)))
    return changed(
        motion,
        kind=np.array(kinds, np.int8),
        seconds=np.full(rows, seconds),
        spindle=np.broadcast_to(np.asarray(spindle, float), (rows,)).copy(),
    )


def test_empty_program():
    """A program without rows takes no time, and every question has an answer."""
    plan = plan_time(Motion.empty(), MACHINE)

    assert (plan.seconds, plan.naive_seconds, plan.unknown_rows, len(plan)) == (0.0, 0.0, 0, 0)
    assert math.fsum(plan.where().values()) == 0.0
    assert plan.by_feed() == ()
    assert plan.what_would_shorten() == ()
    assert plan.lines_never_reaching_feed().shape == (0, 2)
    assert [len(column) for column in plan.speed_against_time(10)] == [10, 10]


def test_declared_allowances():
    """Dwell, tool change, pause and spindle start take what was declared."""
    plan = plan_time(still([DWELL, TOOL, STOP], 2.5), MACHINE)

    assert plan.row_seconds.tolist() == [2.5, 30.0, 7.0]
    assert [CAUSE_NAMES[c] for c in plan.cause] == ["dwell", "tool-change", "pause"]
    assert plan.other_seconds == plan.seconds == 39.5
    assert plan.where()["tool changes"] == 30.0


def test_spindle_starts():
    """The spindle comes up to speed after a stop, a change of direction and a tool change."""
    spindle = [0.0, 9000.0, 12000.0, -9000.0, 0.0, math.nan, math.nan, math.nan]
    kinds = [DWELL, DWELL, DWELL, DWELL, DWELL, DWELL, TOOL, DWELL]
    plan = plan_time(still(kinds, 0.0, spindle), MACHINE)

    assert (plan.standing_seconds == 4.0).tolist() == [0, 1, 0, 1, 0, 1, 0, 1]
    assert plan.where()["spindle start"] == 16.0


def test_spindle_start_stops_the_axes():
    """Axes stand still while the spindle comes up to speed."""
    motion = polyline([[0, 0, 0], [40, 0, 0], [80, 0, 0]], 1200.0)
    motion = changed(motion, spindle=np.array([0.0, 9000.0]))
    plan = plan_time(motion, MACHINE)

    assert plan.seconds == pytest.approx(2 * (40 / 20 + 20 / 400) + 4.0, rel=1e-12)


def test_probe_stands_before_and_after():
    """A probing move starts and ends at rest, and has its own part and allowance."""
    motion = polyline([[0, 0, 0], [0, 0, -5], [0, 0, -10], [0, 0, -15]], 600.0)
    motion = changed(motion, kind=np.array([LINE, PROBE, LINE], np.int8))
    plan = plan_time(motion, MACHINE)

    assert plan.seconds == pytest.approx(3 * (5 / 10 + 10 / 400) + 1.5, rel=1e-12)
    assert plan.where()["probing"] == pytest.approx(5 / 10 + 10 / 400 + 1.5)
    assert plan.other_seconds == pytest.approx(5 / 10 + 10 / 400 + 1.5)


def test_unknown_rows_are_counted():
    """Rows whose place, speed or dwell is not known take no time, and the rest stops at them."""
    motion = polyline([[0, 0, 0], [30, 0, 0], [60, 0, 0], [90, 0, 0]], 1200.0)
    lost = motion.end.copy()
    lost[1] = math.nan
    start = motion.start.copy()
    start[2] = math.nan
    plan = plan_time(changed(motion, end=lost, start=start), MACHINE)

    assert plan.unknown_rows == 2
    assert plan.row_seconds.tolist() == pytest.approx([30 / 20 + 20 / 400, 0, 0])
    assert [CAUSE_NAMES[c] for c in plan.cause][1:] == ["unknown", "unknown"]
    for feed in (math.nan, 0.0, -5.0):
        assert plan_time(polyline([[0, 0, 0], [9, 0, 0]], feed), MACHINE).unknown_rows == 1
    assert plan_time(still([DWELL], math.nan), MACHINE).unknown_rows == 1


def test_jump_is_a_stop():
    """Where a row does not start at the end of the row before, the machine has stopped."""
    motion = polyline([[0, 0, 0], [30, 0, 0], [60, 0, 0]], 1200.0)
    start = motion.start.copy()
    start[1] += 5.0
    plan = plan_time(changed(motion, start=start), MACHINE)

    assert plan.exit_speed.tolist() == [0.0, 0.0]


def test_rows_without_length_are_passed_through():
    """A row that does not move costs nothing and does not stop the machine."""
    points = [[0, 0, 0], [30, 0, 0], [30, 0, 0], [60, 0, 0]]
    plan = plan_time(polyline(points, 1200.0), MACHINE)

    assert plan.seconds == pytest.approx(60 / 20 + 20 / 400, rel=1e-12)
    assert plan.moving_seconds[1] == 0.0


def test_reversal_stops():
    """Straight back is a corner that no tolerance lets pass."""
    plan = plan_time(polyline([[0, 0, 0], [30, 0, 0], [0, 0, 0]], 1200.0), MACHINE)

    assert plan.seconds == pytest.approx(2 * (30 / 20 + 20 / 400), rel=1e-12)


def test_line_overhead_counts_lines():
    """Seconds per line are added once per line, not per row."""
    motion = polyline([[0, 0, 0], [30, 0, 0], [60, 0, 0]], 1200.0)
    motion = changed(motion, line=np.array([5, 5], np.int32))
    plan = plan_time(motion, replace(MACHINE, line_seconds=0.25))

    assert plan.standing[causes.LINE_OVERHEAD] == 0.25
    assert plan.where()["waiting for the controller"] == 0.25


def test_lines_per_second_hold_short_rows():
    """A row is at most its length times the lines per second fast."""
    x = np.arange(200) * 0.1
    machine = replace(MACHINE, lines_per_second=50.0)
    plan = plan_time(polyline(np.column_stack([x, 0 * x, 0 * x]), 1200.0), machine)

    assert plan.cruise_speed.max() == pytest.approx(5.0)
    assert CAUSE_NAMES[plan.cause[100]] == "lines-per-second"
    assert plan.where()["waiting for the controller"] == pytest.approx(
        plan.seconds - 19.9 / 20, abs=0.05
    )
    assert len(plan.lines_never_reaching_feed()) == 199
    assert plan.what_would_shorten()[0].cause == "lines-per-second"


def test_look_ahead_is_named():
    """Time lost because the buffer holds too little is booked on it."""
    x = np.arange(400) * 0.05
    machine = replace(MACHINE, look_ahead=4)
    plan = plan_time(polyline(np.column_stack([x, 0 * x, 0 * x]), 3000.0), machine)
    free = plan_time(plan.motion, MACHINE)

    assert plan.what_would_shorten()[0].cause == "look-ahead"
    assert plan.lost[causes.LOOK_AHEAD] == pytest.approx(plan.seconds - free.seconds, rel=0.1)
    assert plan.where()["waiting for the controller"] > 0.5 * plan.lost[causes.LOOK_AHEAD]


def test_corner_loss_is_what_opening_the_corner_saves():
    """A slowed corner costs (v - vc)2/(a v) (kinematics), booked on the corner."""
    motion = polyline([[0, 0, 0], [50, 0, 0], [50, 50, 0]], 1800.0)
    plan = plan_time(motion, replace(MACHINE, corner_tolerance=1e-4))

    assert plan.lost[causes.CORNER] == pytest.approx(30 / 400, rel=0.05)
    assert plan.what_would_shorten()[0].cause in ("corner", "acceleration")
    stopped = plan_time(polyline([[0, 0, 0], [50, 0, 0], [50, 50, 0]], 1800.0, 0.0), MACHINE)
    assert stopped.lost[causes.EXACT_STOP] == pytest.approx(30 / 400, rel=1e-9)


def test_by_feed():
    """Rows are summed by the feed they ask for, rapids last."""
    motion = polyline([[0, 0, 0], [30, 0, 0], [60, 0, 0], [90, 0, 0]], [600.0, 1200.0, math.nan])
    motion = changed(motion, kind=np.array([LINE, LINE, RAPID], np.int8))
    plan = plan_time(motion, MACHINE)
    classes = plan.by_feed()

    assert [c.feed for c in classes[:2]] == [600.0, 1200.0]
    assert math.isnan(classes[2].feed)
    assert sum(c.seconds for c in classes) == pytest.approx(plan.seconds)
    assert [c.path_mm for c in classes] == [30.0, 30.0, 30.0]
    assert classes[0].naive_seconds == pytest.approx(3.0)


def test_speed_over_time_covers_the_path():
    """The sampled speed has the path's length below it, and stands while standing."""
    motion = polyline([[0, 0, 0], [50, 0, 0], [50, 50, 0], [90, 50, 0]], 1800.0, 0.0)
    motion = Motion.concatenate([motion, still([DWELL], 2.0)])
    plan = plan_time(motion, MACHINE)
    times, speeds = plan.speed_against_time(20001)

    assert times[-1] == pytest.approx(plan.seconds)
    assert np.trapezoid(speeds, times) == pytest.approx(140.0, rel=1e-3)
    assert speeds[-100:].max() == 0.0


@pytest.mark.parametrize(
    "wrong",
    [
        {"acceleration": (0.0, 1.0, 1.0)},
        {"max_rate": (1.0, -1.0, 1.0)},
        {"jerk": (1.0, math.nan, 1.0)},
        {"path_acceleration": 0.0},
    ],
)
def test_limits_must_be_above_nothing(wrong):
    """A limit of 0, below 0 or not a number is refused by name."""
    with pytest.raises(ValueError, match=next(iter(wrong))):
        plan_time(Motion.empty(), replace(MACHINE, **wrong))


def test_progress_reaches_the_end():
    """Progress counts up to the number of rows."""
    seen = []
    plan_time(polyline(np.eye(3)), MACHINE, progress=lambda done, total: seen.append((done, total)))

    assert seen[-1] == (2, 2)
    assert seen == sorted(seen)


def test_results_cannot_be_changed():
    """The table's arrays are read-only."""
    plan = plan_time(polyline(np.eye(3)), MACHINE)

    with pytest.raises(ValueError, match="read-only"):
        plan.moving_seconds[0] = 0.0
