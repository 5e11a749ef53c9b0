"""Calibration: a real machine's measured runs, made-up machines found again, the machine file."""

from __future__ import annotations

import math
import tomllib
from dataclasses import replace

import numpy as np
import pytest

from dryrun.job.model import Machine
from dryrun.timing.calibration import calibrate
from dryrun.timing.planner import plan_time
from tests.timing.reference import polyline

pytest.importorskip("scipy")

#: Measured seconds by feed in mm/s: University of Michigan SMART testbed milling set (2018, open
#: data), 18 runs of one S-shaped program in wax; the completed runs with less than 5 % idle
#: samples. The length is the mean integral of the commanded speeds of these runs.
WAX = {
    3: (196.5, 196.1, 196.1, 196.6, 196.8, 196.7),
    6: (99.1, 99.1, 99.6),
    12: (51.2,),
    15: (41.8,),
}
WAX_LENGTH = 584.5


def serpentine(feed, legs=10, length=WAX_LENGTH):
    """Return a path of equal legs with a full stop at each end; feed in mm/s."""
    leg = length / legs
    points = np.zeros((legs + 1, 3))
    for i in range(legs):
        step = [0.0, leg, 0.0] if i % 2 else [leg * (1 - i % 4), 0.0, 0.0]
        points[i + 1] = points[i] + step
    return polyline(points, 60 * feed, 0.0)


MACHINE = Machine(max_rate=(6000.0,) * 3, acceleration=(300.0,) * 3)


@pytest.mark.parametrize("fitted", [(3, 6), (3, 12), (3, 15), (6, 12), (6, 15)])
def test_measured_wax_runs(fitted):
    """Fitted on two feeds, the other feeds are predicted within 1 % of the clock."""
    runs = [(serpentine(feed), seconds) for feed in fitted for seconds in WAX[feed]]
    found = calibrate(runs, MACHINE, fit=("acceleration", "line_seconds"))
    plain = {}
    for feed, clock in WAX.items():
        predicted = plan_time(serpentine(feed), found.machine).seconds
        mean = np.mean(clock)
        plain[feed] = abs(WAX_LENGTH / feed - mean) / mean

        assert predicted == pytest.approx(mean, rel=0.01)
    assert plain[15] > 0.06  # distance over feed is 6.8 % short there


def made_up(random, machine, count):
    """Return runs of random zigzags, timed by a machine that the fit does not know."""
    runs = []
    for _ in range(count):
        legs = int(random.integers(5, 40))
        points = np.cumsum(random.normal(size=(legs, 3)) * [20, 20, 2], axis=0)
        motion = polyline(points, 10 ** random.uniform(3, 3.7))
        runs.append((motion, plan_time(motion, machine).seconds))
    return runs


@pytest.mark.jit_only
def test_finds_a_machine_again():
    """Acceleration, corner tolerance and seconds per line are found from exact times."""
    secret = replace(MACHINE, acceleration=(180.0,) * 3, corner_tolerance=0.08, line_seconds=0.015)
    found = calibrate(made_up(np.random.default_rng(3), secret, 8), MACHINE)
    values = {parameter.name: parameter for parameter in found.parameters}

    assert values["acceleration"].value == pytest.approx(180.0, rel=0.01)
    assert values["corner_tolerance"].value == pytest.approx(0.08, rel=0.1)
    assert values["line_seconds"].value == pytest.approx(0.015, rel=0.05)
    assert found.machine.acceleration == pytest.approx((180.0,) * 3, rel=0.01)
    assert np.abs(found.residuals).max() < 0.01
    assert [parameter.unit for parameter in found.parameters] == ["mm/s2", "mm", "s"]


@pytest.mark.jit_only
def test_uncertainty_covers_the_truth():
    """With noisy clocks the truth lies within two standard uncertainties nearly always."""
    secret = replace(MACHINE, acceleration=(180.0,) * 3)
    random = np.random.default_rng(4)
    runs = made_up(random, secret, 6)
    inside = 0
    for _ in range(12):
        noisy = [(motion, seconds + random.normal() * 0.3) for motion, seconds in runs]
        found = calibrate(noisy, MACHINE, fit=("acceleration",), uncertainty=0.3)
        (value,) = found.parameters
        inside += abs(value.value - 180.0) <= 2 * value.uncertainty

    assert inside >= 10


def test_axes_one_by_one():
    """Runs along X and along Z tell their accelerations; that of Y is not seen and kept."""
    secret = replace(MACHINE, acceleration=(150.0, 300.0, 60.0))
    runs = []
    for direction in ([1, 0, 0], [0, 0, 1]):
        points = np.outer(np.arange(30) % 2, direction) * 20.0
        motion = polyline(points, 3000.0)
        runs.append((motion, plan_time(motion, secret).seconds))
    names = ("acceleration-x", "acceleration-y", "acceleration-z")
    found = calibrate(runs, MACHINE, fit=names)

    assert found.machine.acceleration == pytest.approx((150.0, 300.0, 60.0), rel=1e-3)
    assert "acceleration-y: no run depends on it" in found.tell_apart
    assert all(math.isnan(parameter.uncertainty) for parameter in found.parameters)


def test_what_cannot_be_told_apart_is_said():
    """One program at one feed cannot tell stops from lines; the first wanted is fitted."""
    runs = [(serpentine(10), 70.0), (serpentine(10), 70.4), (serpentine(10), 69.8)]
    found = calibrate(runs, MACHINE, fit=("line_seconds", "run_seconds", "acceleration"))

    assert [parameter.name for parameter in found.parameters] == ["line_seconds"]
    assert "run_seconds: acts on these runs like line_seconds" in found.tell_apart
    assert "acceleration: acts on these runs like line_seconds" in found.tell_apart
    assert found.predicted == pytest.approx([70.067] * 3, rel=1e-3)


def test_seconds_per_run():
    """Time that every run takes besides its motion is fitted apart from the machine."""
    runs = [
        (serpentine(feed), plan_time(serpentine(feed), MACHINE).seconds + 2.5) for feed in (5, 40)
    ]
    found = calibrate(runs, MACHINE, fit=("run_seconds",))

    assert found.run_seconds == pytest.approx(2.5, rel=1e-4)
    assert found.machine == MACHINE


@pytest.mark.parametrize(
    ("runs", "fit", "word"),
    [
        ([], ("acceleration",), "no runs"),
        ([(serpentine(3), 0.0)], ("acceleration",), "above 0"),
        ([(serpentine(3), 9.0)], ("colour",), "cannot be fitted"),
        ([(serpentine(3), 9.0)], ("acceleration", "acceleration"), "twice"),
        ([(serpentine(3), 9.0)], ("acceleration", "acceleration-x"), "together"),
    ],
)
def test_wrong_input_is_refused(runs, fit, word):
    """Wrong names, no runs and times that cannot be are refused with the reason."""
    with pytest.raises(ValueError, match=word):
        calibrate(runs, MACHINE, fit=fit)


FILE = """\
# our router, measured in May
name = "the old one"   # bought used
acceleration = [
    "300 mm/s2", "300 mm/s2",  # X and Y
    "120 mm/s2",
]  # guessed
max_rate = ["6 m/min", "6 m/min", "2 m/min"]

[spindle]
max = 24000  # rpm
"""


@pytest.fixture
def found():
    """Return a calibration of acceleration and seconds per line."""
    runs = [(serpentine(feed), float(np.mean(WAX[feed]))) for feed in (3, 15)]
    return calibrate(runs, MACHINE, fit=("acceleration", "line_seconds"))


def test_machine_file_keeps_the_rest(found, tmp_path):
    """Fitted values are set in the machine's file; other keys and comments stay."""
    path = tmp_path / "machine.toml"
    path.write_text(FILE)
    path.chmod(0o640)
    found.write(path)
    text = path.read_text()
    table = tomllib.loads(text)

    assert table["acceleration"][0] == f"{found.machine.acceleration[0]:.6g} mm/s2"
    assert table["line_seconds"] == f"{found.machine.line_seconds:.6g} s"
    assert (table["spindle"], table["name"]) == ({"max": 24000}, "the old one")
    for comment in ("# our router, measured in May", "# bought used", "# guessed", "# rpm"):
        assert comment in text
    assert path.stat().st_mode & 0o777 == 0o640
    assert [entry.name for entry in tmp_path.iterdir()] == ["machine.toml"]
    found.write(path)

    assert path.read_text() == text


def test_machine_file_is_begun(found, tmp_path):
    """A machine file that does not exist is begun; one inside a job's table is changed there."""
    found.write(tmp_path / "new.toml")

    assert set(tomllib.loads((tmp_path / "new.toml").read_text())) == {
        "acceleration",
        "line_seconds",
    }
    job = tmp_path / "job.toml"
    job.write_text('title = "x"\n[machine]\nlook_ahead = 20\n[stock]\nmaterial = "beech"\n')
    found.write(job)
    table = tomllib.loads(job.read_text())

    assert table["machine"]["look_ahead"] == 20
    assert "acceleration" in table["machine"]
    assert table["stock"] == {"material": "beech"}


def test_broken_machine_file_is_left_alone(found, tmp_path):
    """A file that is no TOML is refused and stays as it was."""
    path = tmp_path / "machine.toml"
    path.write_text("acceleration = [1, 2\n")
    with pytest.raises(ValueError, match="machine file"):
        found.write(path)

    assert path.read_text() == "acceleration = [1, 2\n"
    assert len(list(tmp_path.iterdir())) == 1


@pytest.mark.jit_only
def test_what_a_coarse_clock_cannot_tell_is_kept():
    """A corner tolerance that a coarse clock does not tell is kept, and that is said."""
    secret = replace(MACHINE, corner_tolerance=0.08)
    zigzag = polyline([[i * 3.0, 8.0 * (i % 2), 0] for i in range(100)], 4000.0)
    long = polyline([[400.0 * (i % 2), 0, 0] for i in range(30)], 5500.0)
    angle = np.linspace(0, 10 * math.pi, 400)
    curve = polyline(np.column_stack([25 * np.cos(angle), 12 * np.sin(angle), 0 * angle]), 5000.0)
    runs = [(motion, plan_time(motion, secret).seconds) for motion in (long, zigzag, curve)]
    fine = calibrate(runs, MACHINE, uncertainty=0.05)
    coarse = calibrate(runs, MACHINE, uncertainty=0.2)

    assert fine.machine.corner_tolerance == pytest.approx(0.08, rel=1e-3)
    assert "corner_tolerance: determined" in fine.tell_apart
    assert coarse.machine.corner_tolerance == MACHINE.corner_tolerance
    assert "corner_tolerance: these runs do not determine it" in coarse.tell_apart
    assert coarse.machine.acceleration[0] == pytest.approx(300.0, rel=0.02)
