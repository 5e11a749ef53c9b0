"""Predictions against a machine that is simulated place by place."""

import math
import os
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryrun.gauge.causes import Parameter, Slopes
from dryrun.gauge.cutter import Cutter
from dryrun.gauge.measurements import Measurements, Reading
from dryrun.gauge.pieces import GaugeError
from dryrun.gauge.predict import Change, Predictor
from dryrun.job.model import Stock
from tests.gauge.shop import (
    BALL6,
    FLAT3,
    FLAT6,
    SHOPS,
    VEE60,
    VEE90,
    Fault,
    Machine,
    Shop,
    Site,
    small_trivet,
)

CLOSE = 0.002  # the simulated machine steps along its path, mm
MORE = 60 if os.environ.get("DRYRUN_LONG") else 8


def readings(sites):
    return Measurements.from_rows(
        [Reading(s.x, s.y, s.kind, 0.0, 0.02, direction=s.direction) for s in sites]
    )


@pytest.fixture(scope="module")
def jobs():
    made = [make() for make in SHOPS]
    return [(s, s.outcome(), Predictor(s.outcome(), readings(s.sites), ())) for s in made]


def assert_as_cut(jobs, fault, change, rng=None):
    for shop, _, predictor in jobs:
        machine = Machine(shop, fault)
        true = np.array([machine.read(s) for s in shop.sites])
        found = predictor.predict(change(predictor))
        assert found == pytest.approx(true, abs=CLOSE), shop.name


def test_every_site_as_declared(jobs):
    """Depths, widths and thicknesses agree with the simulated machine at every site."""
    assert_as_cut(jobs, Fault(), lambda p: Change())


@given(lift=st.floats(-0.6, 0.6))
@settings(max_examples=MORE, deadline=None)
def test_lifted_zero(jobs, lift):
    """A zero set wrongly moves floors, flanks and edges as the machine does."""
    assert_as_cut(jobs, Fault(z_zero=lift), lambda p: Change(lift=lift))


@given(scale=st.floats(0.95, 1.05))
@settings(max_examples=MORE, deadline=None)
def test_scaled_travel(jobs, scale):
    """A wrong number of steps per mm moves each depth from the zero, on top or bed."""
    assert_as_cut(jobs, Fault(scale=scale), lambda p: Change(scale=scale))


@given(change=st.floats(-0.4, 0.4), degrees=st.floats(-6, 6))
@settings(max_examples=MORE, deadline=None)
def test_other_cutters(jobs, change, degrees):
    """A thicker bit widens slots, another angle widens vees."""
    names = [b.name for b in (FLAT6, FLAT3, BALL6)]
    vees = [b.name for b in (VEE90, VEE60)]
    fault = Fault(diameter=dict.fromkeys(names, change), angle=dict.fromkeys(vees, degrees))
    assert_as_cut(
        jobs,
        fault,
        lambda p: Change(
            diameter=dict.fromkeys(names, change),
            angle=dict.fromkeys(vees, math.radians(degrees)),
        ),
    )


@pytest.mark.parametrize("thicker", [-0.5, 0.4])
def test_other_thickness(jobs, thicker):
    """A thicker blank shows in thickness, and in depth where the zero is on the bed."""
    assert_as_cut(jobs, Fault(thickness=thicker), lambda p: Change(thickness=thicker))


def test_another_bit(jobs):
    """Another bit of the rack cuts other widths, to the depth the program says."""
    for shop, outcome, _ in jobs:
        k = next(i for i, (b, _) in enumerate(shop.stages) if b.shape == "vee")
        other = Cutter.from_bit(BALL6)
        predictor = Predictor(outcome, readings(shop.sites), (other,))
        machine = Machine(shop, Fault(swap={shop.stages[k][0].name: BALL6}))
        true = [machine.read(s) for s in shop.sites]

        assert predictor.predict(Change(swap={k: other})) == pytest.approx(true, abs=CLOSE)


def test_step_lost_half_way(jobs):
    """Everything cut after a row is displaced, the rest is not."""
    for shop, _, predictor in jobs:
        row = sum(len(lines) for _, lines in shop.stages) // 2
        machine = Machine(shop, Fault(after=(row, 0.0, 0.0, 0.4)))
        true = [machine.read(s) for s in shop.sites]

        assert predictor.predict(Change(after=(row, 0, 0, 0.4))) == pytest.approx(true, abs=CLOSE)


def carved():
    """Slopes and arcs: a ramp, a carved line that dives, a helix, a level circle."""
    shop = Shop("carved", Stock((100, 100, 12), (50, 50, 0), "centre-top"), (VEE90, BALL6, FLAT6))
    lines = shop.cut(VEE90)
    lines.append(((-40, -30, -0.5), (20, -30, -4.0)))
    lines.append(((-40, -20, -1.0), (40, -15, -3.0)))
    lines = shop.cut(BALL6)
    lines.append(((-40, 0, -0.4), (40, 5, -2.4)))
    lines.append(((30, 30, -2), (30, 30, -2), (20, 30, -2), 2 * math.pi))
    lines = shop.cut(FLAT6)
    lines.append(((-20, 30, -1), (-20, 30, -3), (-30, 30, -1), 4 * math.pi))
    lines.append(((-40, 12, -0.5), (40, 12, -3.5)))
    rng = np.random.default_rng(3)
    for x in rng.uniform(-35, 18, 12):
        shop.sites.append(Site("depth", x, -30 + rng.uniform(-0.3, 0.3)))
        shop.sites.append(Site("depth", x, 2.5 + 0.0625 * x + rng.uniform(-1, 1)))
        shop.sites.append(Site("width", x, -30, 90.0))
        shop.sites.append(Site("width", x, 12, 90.0))
    for turn in np.radians([10, 100, 190, 280]):
        shop.sites.append(
            Site("width", 20 + 10 * math.cos(turn), 30 + 10 * math.sin(turn), math.degrees(turn))
        )
        shop.sites.append(Site("depth", -30 + 10 * math.cos(turn), 30 + 10 * math.sin(turn)))
    return shop


@pytest.mark.parametrize(
    "fault", [Fault(), Fault(z_zero=0.2), Fault(scale=1.04)], ids=["right", "lifted", "scaled"]
)
def test_slopes_helices_and_arcs(fault):
    """Ramps, dives, helices and circles agree with the simulated machine."""
    shop = carved()
    predictor = Predictor(shop.outcome(0.2), readings(shop.sites), ())
    machine = Machine(shop, fault)
    true = np.array([machine.read(s) for s in shop.sites])
    found = predictor.predict(Change(lift=fault.z_zero, scale=fault.scale))

    assert found == pytest.approx(true, abs=0.004)


def test_slope_of_width_with_angle():
    """dw/dangle = d sec^2(angle / 2): 0.0698 mm per degree at 60 degrees and 3 mm (calculus)."""
    shop = Shop("v", Stock((60, 40, 12), (30, 20, 0), "centre-top"), (VEE60,))
    shop.groove(shop.cut(VEE60), -20, 0, 20, 0, 3.0)
    width = [s for s in shop.sites if s.kind == "width"]
    slopes = Slopes(Predictor(shop.outcome(0.1), readings(width), ()))
    p = Parameter("angle_deg", "vee-angle", 2.0, "deg", cutter="vee-60")
    _, found = slopes.columns([p], [0.0])

    assert found[:, 0] == pytest.approx(0.0698131701, rel=1e-3)


def test_a_62_degree_bit_looks_like_a_lower_zero():
    """At one depth of 3 mm, 62 degrees for 60 widens as 0.122 mm of depth would (geometry)."""
    shop = Shop("v", Stock((60, 40, 12), (30, 20, 0), "centre-top"), (VEE60,))
    shop.groove(shop.cut(VEE60), -20, 0, 20, 0, 3.0)
    width = [s for s in shop.sites if s.kind == "width"]
    predictor = Predictor(shop.outcome(0.1), readings(width), ())
    lower = 3.0 * (math.tan(math.radians(31)) / math.tan(math.radians(30)) - 1)

    wide = predictor.predict(Change(angle={"vee-60": math.radians(2)}))
    assert lower == pytest.approx(0.12216336, abs=1e-7)
    assert predictor.predict(Change(lift=-lower)) == pytest.approx(wide, abs=1e-6)


def test_a_foot_rests_on_the_highest_spot():
    """A 4 mm foot over a 90 degree vee of 1 mm depth stays on its edges; 1 mm goes 0.5 mm in."""
    shop = Shop("v", Stock((60, 40, 12), (30, 20, 0), "centre-top"), (VEE90,))
    shop.groove(shop.cut(VEE90), -20, 0, 20, 0, 1.0)
    rows = [Reading(0, 0, "depth", 0, 0.02, foot=f) for f in (0.0, 1.0, 4.0)]
    predictor = Predictor(shop.outcome(0.05), Measurements.from_rows(rows), ())

    assert predictor.base == pytest.approx([1.0, 0.5, 0.0], abs=0.01)


def test_direction_is_found_when_not_said():
    """Without a direction the width is taken across the groove."""
    shop = small_trivet()
    site = next(s for s in shop.sites if s.kind == "width" and s.bit == "vee-90" and s.depth == 3)
    rows = [Reading(site.x, site.y, "width", 6.0, 0.02)]
    predictor = Predictor(shop.outcome(0.1), Measurements.from_rows(rows), ())

    assert predictor.base[0] == pytest.approx(6.0, abs=0.01)


def test_surface_without_motion_is_believed():
    """With heights alone, depths come from them and still follow the zero."""
    job = SimpleNamespace(stock=Stock((20, 20, 10), (10, 10, 0), "centre-top"), bits=())
    height = np.zeros((40, 40), np.float32)
    height[10:30, 10:30] = -3.0
    surface = SimpleNamespace(height=height, cell=0.5, origin=(-9.75, -9.75))
    outcome = SimpleNamespace(job=job, surface=surface, stages=())
    rows = [Reading(0, 0, "depth", 3.1), Reading(8, 8, "depth", 0.0)]
    predictor = Predictor(outcome, Measurements.from_rows(rows), ())

    assert predictor.base.tolist() == [3.0, 0.0]
    assert predictor.predict(Change(lift=0.2)) == pytest.approx([2.8, 0.0])
    assert predictor.predict(Change(scale=1.1)) == pytest.approx([3.3, 0.0])


def test_scanned_surface_beats_the_path():
    """Where heights and path disagree, the heights are right and the path gives the slope."""
    shop = small_trivet()
    outcome = shop.outcome(0.25)
    outcome.surface.height = outcome.surface.height - np.float32(0.5)
    site = next(s for s in shop.sites if s.kind == "depth")
    predictor = Predictor(outcome, readings([site]), ())

    assert predictor.base[0] == pytest.approx(site.depth + 0.5, abs=1e-5)
    moved = predictor.predict(Change(lift=0.1))
    assert moved[0] - predictor.base[0] == pytest.approx(-0.1, abs=1e-6)


def test_reading_between_stages():
    """After the first stage the later grooves are not there yet."""
    shop = small_trivet()
    vee = next(s for s in shop.sites if s.bit == "vee-90")
    floor = next(s for s in shop.sites if s.bit == "flat-6" and s.kind == "depth")
    rows = [Reading(s.x, s.y, "depth", 0.0, 0.02, stage=1) for s in (vee, floor)]
    predictor = Predictor(shop.outcome(), Measurements.from_rows(rows), ())

    assert predictor.base == pytest.approx([0.0, floor.depth], abs=1e-6)


def test_faults_are_named():
    """Places off the blank, stages that are not there and jobs without a blank are refused."""
    shop = small_trivet()
    outcome = shop.outcome()
    with pytest.raises(GaugeError, match=r"150\.00, 0\.00 mm is not on the blank"):
        Predictor(outcome, Measurements.from_rows([Reading(150, 0, "depth", 1)]), ())
    with pytest.raises(GaugeError, match="stage 7, the job has 2 stages"):
        Predictor(outcome, Measurements.from_rows([Reading(0, 0, "depth", 1, stage=7)]), ())
    outcome.job = SimpleNamespace(stock=None)
    with pytest.raises(GaugeError, match="declares no blank"):
        Predictor(outcome, Measurements.from_rows([Reading(0, 0, "depth", 1)]), ())
