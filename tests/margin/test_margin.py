"""Margins and chances against closed forms and against cutting every sample."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

import dryrun
from dryrun.margin import (
    BY_KEY,
    Trial,
    _about_the_cut,
    _chorded,
    _margin,
    _one_number,
    chances,
    wilson,
)
from dryrun.motion import ARC
from dryrun.outcome import dry_run_again

JOB = """
title = "margins"
units = "mm"
stock = { size = ["60 mm", "60 mm", "18 mm"], zero = "front-left-top", spoilboard = "12 mm" }
machine = { safe_height = "2 mm" }
[[clamps]]
name = "c"
box = { min = ["50 mm", "0 mm"], max = ["60 mm", "60 mm"], height = "10 mm" }
[bits.b]
shape = "flat"
diameter = "6 mm"
[[stages]]
name = "slot"
program = "slot.nc"
bit = "b"
depth = "4.2 mm"
"""

PROGRAM = """G21 G90 G17
S18000 M3
G0 X20 Y20 Z3
G1 Z-4 F300
G1 X40 F1200
G0 Z3
G0 X20 Y40
G0 Z20
M5
M30
"""


@pytest.fixture(scope="module")
def trial(tmp_path_factory: pytest.TempPathFactory) -> Trial:
    folder: Path = tmp_path_factory.mktemp("margin")
    (folder / "job.toml").write_text(JOB)
    (folder / "slot.nc").write_text(PROGRAM)
    return Trial(dryrun.dry_run(dryrun.read_job(folder / "job.toml"), cell=0.5), threads=1)


def bears(trial: Trial, key: str, sign: int, hurts: bool = False) -> tuple[float, str | None]:
    margin = _margin(trial, BY_KEY[key], sign, hurts)
    return margin.bears, margin.first.code if margin.first else None


def test_z_zero_too_low_cuts_too_deep(trial: Trial) -> None:
    """4.0 of 4.2 mm: 0.2 mm are left (and the check's own 5 um)."""
    value, code = bears(trial, "z-zero", -1)

    assert code == "too-deep"
    assert value == pytest.approx(0.205, abs=5.0 / 256)


def test_z_zero_before_it_can_hurt(trial: Trial) -> None:
    """The rapid at Z 3 meets the blank when zero is 3 mm too low."""
    value, code = bears(trial, "z-zero", -1, hurts=True)

    assert code == "rapid-in-stock"
    assert value == pytest.approx(3.0, abs=5.0 / 256 + 0.01)


def test_thickness_of_a_thin_blank(trial: Trial) -> None:
    """With zero at the top a blank may lose 3 mm and more before the slot comes through."""
    assert bears(trial, "thickness", -1, hurts=True) == (3.0, None)


def test_x_zero_before_the_clamp(trial: Trial) -> None:
    """The bit's edge reaches X 43 in the slot; the clamp begins at X 50: 7 mm."""
    value, code = bears(trial, "x-zero", 1, hurts=True)

    assert code == "clamp-hit"
    assert value == pytest.approx(7.0, abs=20.0 / 256 + 0.01)


def test_tilt(trial: Trial) -> None:
    """At X 43 a tilt of t mm/m cuts 0.040 t deeper at the axis, X 40: 0.205 mm / 0.040 = 5.1."""
    value, code = bears(trial, "tilt-x", 1)

    assert code == "too-deep"
    assert value == pytest.approx(0.205 / 0.040, abs=10.0 / 256 + 0.02)


def test_chance_of_one_error_is_its_length(trial: Trial) -> None:
    """Evenly within 0.5 mm: too deep below -0.205 mm, a part of (0.5 - 0.205) / 1."""
    made = chances(trial, {"z-zero": 0.5}, samples=4000, seed=3)
    cuts = trial.cuts
    deep = next(c for c in made.each if c.code == "too-deep")

    assert deep.low <= 0.295 <= deep.high
    assert chances(trial, {"z-zero": 0.5}, samples=4000, seed=3) == made
    assert trial.cuts == cuts  # everything was known


@pytest.mark.jit_only
def test_halving_equals_cutting_every_sample(trial: Trial) -> None:
    """The short cut for one error gives what brute force gives, sample by sample."""
    made = chances(trial, {"z-zero": 0.5}, samples=60, seed=5)
    draw = np.random.default_rng(5).uniform(-1.0, 1.0, (60, 1))[:, 0] * 0.5
    brute = [any(f.code == "too-deep" for f in trial.new({"z-zero": float(v)})) for v in draw]

    deep = next(c for c in made.each if c.code == "too-deep")
    assert deep.probability == pytest.approx(np.mean(brute))


def other_trial(folder: Path, program: str, job: str) -> Trial:
    (folder / "job.toml").write_text(job)
    (folder / "slot.nc").write_text(program)
    return Trial(dryrun.dry_run(dryrun.read_job(folder / "job.toml"), cell=0.5), threads=1)


def test_a_shallow_cut_that_ends_above_the_blank(tmp_path: Path) -> None:
    """With zero 5 mm too high nothing is cut at all; what comes first is a cut too shallow."""
    job = JOB.replace("4.2 mm", "4 mm")
    far, code = bears(other_trial(tmp_path, PROGRAM, job), "z-zero", 1)

    assert code == "shallow"
    assert far == pytest.approx(0.1, abs=5 / 256)


def test_a_clamp_the_bit_has_passed_further_on(tmp_path: Path) -> None:
    """A post 2 mm wide is hit from 7 mm on, and is passed before the end of the range."""
    job = JOB.replace('"50 mm", "0 mm"', '"50 mm", "25 mm"').replace(
        '"60 mm", "60 mm"]', '"52 mm", "30 mm"]'
    )
    program = PROGRAM.replace("G1 X40 F1200", "G0 Z20\nX40\nZ3\nG1 Z-4\nY40 F1200")
    program = program.replace("G0 Z3\nG0 X20 Y40\n", "")
    post = other_trial(
        tmp_path,
        program.replace("G0 X20 Y20 Z3\nG1 Z-4 F300\nG0 Z20\n", "G0 Z20 X20 Y20\nF300\n"),
        job,
    )
    far, code = bears(post, "x-zero", 1)

    assert code == "clamp-hit"
    assert far == pytest.approx(7.0, abs=20 / 256 + 1e-9)
    assert not post.new({"x-zero": 20.0})
    values = np.array([0.0, 4.0, 9.0, 12.0, 17.0, 19.5])
    found = [bool(s) for s in _one_number(post, "x-zero", values)]
    assert found == [False, False, True, True, False, False]


@pytest.mark.jit_only
def test_two_errors_together(trial: Trial) -> None:
    """Z zero within 0.3 mm and tilt within 3 mm/m, against the closed form of too-deep."""
    made = chances(trial, {"z-zero": 0.3, "tilt-x": 3.0}, samples=60, seed=2)
    rng = np.random.default_rng(2).uniform(-1.0, 1.0, (60, 2)) * (0.3, 3.0)
    depth = 4.0 - rng[:, 0] + np.maximum(rng[:, 1] * 0.040, rng[:, 1] * 0.020)
    wanted = np.mean(depth > 4.2 + 0.005)

    deep = next(c for c in made.each if c.code == "too-deep")
    assert deep.probability == pytest.approx(wanted, abs=2 / 60)


@pytest.mark.parametrize("errors", [{}, {"z-zero": -1.0}, {"z-zero": 3.0}, {"x-zero": 12.0}])
def test_asking_for_some_checks_leaves_out_none_that_count(
    trial: Trial, errors: dict[str, float]
) -> None:
    """What all checks say, as far as it is about the cut, is what a trial says."""
    job, motions, times = trial._moved(errors)
    every = dry_run_again(trial.outcome, job, motions, times, trial.cell, trial.threads)

    assert trial.findings(errors) == [f for f in every.findings if _about_the_cut(f)]


def test_wilson_interval() -> None:
    """10 of 100 gives 5.5 % to 17.4 % (Wilson 1927; the figures from memory of textbooks)."""
    low, high = wilson(10, 100)

    assert low == pytest.approx(0.0552, abs=5e-4)
    assert high == pytest.approx(0.1744, abs=5e-4)
    assert wilson(0, 0) == (0.0, 1.0)


def test_chords_stay_on_the_arc() -> None:
    """Arcs become chords whose ends lie on the arc, in order, with the same ends."""
    program = dryrun.read_program(b"G21 G90 G17\nF600\nG0 X10 Y0 Z0\nG3 X0 Y10 Z-2 I-10 J0\nM30\n")
    chords = _chorded(program.motion)
    arc = program.motion.kind == ARC
    rows = chords.line == program.motion.line[arc][0]

    assert rows.sum() == 30
    radius = np.hypot(chords.end[rows, 0], chords.end[rows, 1])
    np.testing.assert_allclose(radius, 10.0, atol=1e-9)
    np.testing.assert_array_equal(chords.end[rows][-1], program.motion.end[arc][0])
    assert math.isclose(chords.end[rows][14, 2], -1.0)
