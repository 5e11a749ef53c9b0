"""Where to measure: reachable, few, and enough to tell the causes apart."""

import re
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image

from dryrun.gauge import compare_depths, plan_measurements, read_measurements
from dryrun.gauge.pieces import GaugeError
from dryrun.gauge.plan import _deviations
from dryrun.job.model import Stock
from tests.gauge.shop import (
    FLAT6,
    SHOPS,
    VEE90,
    Fault,
    Machine,
    Shop,
    Site,
    draw_fault,
    measure,
    small_trivet,
)


@pytest.fixture(scope="module", params=SHOPS, ids=[s.__name__ for s in SHOPS])
def planned(request):
    shop = request.param()
    outcome = shop.outcome()
    return shop, outcome, plan_measurements(outcome)


def test_places_can_be_measured(planned):
    """Floors are level under the foot and its margin, grooves have both edges, rims are uncut."""
    shop, _, plan = planned
    machine = Machine(shop, Fault())
    turn = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    for p in plan.points:
        if p.kind == "depth":
            h = machine.height(p.x + 1.2 * np.cos(turn), p.y + 1.2 * np.sin(turn))
            assert np.ptp(h) < 0.02
            assert h[0] < shop.stock.top
        elif p.kind == "width":
            assert machine.read(Site("width", p.x, p.y, p.direction)) > 0.9
        else:
            h = machine.height(p.x + 1.5 * np.cos(turn), p.y + 1.5 * np.sin(turn))
            assert h.min() == shop.stock.top


def test_predictions_are_what_the_machine_cuts(planned):
    """The value printed on the sheet is what a perfect gauge reads."""
    shop, _, plan = planned
    machine = Machine(shop, Fault())
    for p in plan.points:
        assert machine.read(Site(p.kind, p.x, p.y, p.direction)) == pytest.approx(
            p.predicted, abs=0.003
        )


def test_sensitivities_are_differences_of_the_machine(planned):
    """Per unit of Z zero the reading moves as the simulated machine's does."""
    shop, _, plan = planned
    up = Machine(shop, Fault(z_zero=0.05))
    for p in plan.points:
        moved = (up.read(Site(p.kind, p.x, p.y, p.direction)) - p.predicted) / 0.05
        assert p.sensitivity.get("z_zero_mm", 0.0) == pytest.approx(moved, abs=0.08)


def test_few_places_and_no_two_alike(planned):
    """At most twenty, at least six, spread over the blank."""
    shop, _, plan = planned
    x = np.array([p.x for p in plan.points])
    y = np.array([p.y for p in plan.points])

    assert 6 <= len(plan.points) <= 20
    assert np.ptp(x) > 0.6 * shop.stock.size[0]
    assert np.ptp(y) > 0.6 * shop.stock.size[1]
    assert len({(p.kind, p.x, p.y) for p in plan.points}) == len(plan.points)


def test_better_than_a_random_choice():
    """A D-optimal set beats a hundred random sets of the same size (determinant)."""
    from dryrun.gauge import plan as module

    outcome = small_trivet().outcome()
    seen = {}
    original = module._choose

    def spy(design, parameters, readings, count, most):
        seen["design"] = design
        seen["chosen"] = original(design, parameters, readings, count, most)
        return seen["chosen"]

    module._choose = spy
    try:
        plan_measurements(outcome, count=10)
    finally:
        module._choose = original
    design, chosen = seen["design"], seen["chosen"]

    def gain(rows):
        return np.linalg.slogdet(design[rows].T @ design[rows] + np.eye(design.shape[1]))[1]

    rng = np.random.default_rng(0)
    best = max(gain(rng.choice(len(design), 10, replace=False)) for _ in range(100))
    assert gain(chosen) > best
    assert len(_deviations(design)) == design.shape[1]


def test_the_sheet_comes_back_as_measurements(planned, tmp_path):
    """The sheet, filled in, is a measurement file; unfilled places are skipped."""
    shop, outcome, plan = planned
    path = tmp_path / "sheet.csv"
    text = plan.to_csv(path)
    assert path.read_text() == text
    machine = Machine(shop, Fault(z_zero=0.25))
    lines = text.splitlines()
    at = lines[0].split(",").index("value")
    for k, p in enumerate(plan.points, start=1):
        if k == 2:
            continue
        cells = lines[k].split(",")
        cells[at] = f"{machine.read(Site(p.kind, p.x, p.y, p.direction)):.3f}"
        lines[k] = ",".join(cells)
    readings = read_measurements("\n".join(lines).encode())
    found = compare_depths(outcome, readings)

    assert len(readings) == len(plan.points) - 1
    assert found.causes[0].cause == "z-zero"
    assert found.causes[0].parameters["z_zero_mm"]["value"] == pytest.approx(0.25, abs=0.02)


def test_planned_places_tell_the_causes_apart():
    """With the planned places each fault on the trivet is found."""
    shop = small_trivet()
    outcome = shop.outcome()
    plan = plan_measurements(outcome)
    sites = [Site(p.kind, p.x, p.y, p.direction) for p in plan.points]
    rng = np.random.default_rng(6)
    for cause in ("z-zero", "tilt", "bow", "z-scale", "bit-diameter", "vee-angle", "thickness"):
        fault = draw_fault(shop, cause, rng)
        found = compare_depths(outcome, measure(shop, Machine(shop, fault), sites, rng))
        assert found.causes[0].cause == cause


def test_what_cannot_be_told_is_said():
    """One depth and no groove: Z scale and diameter are named with the reason."""
    shop = Shop("flat", Stock((120, 120, 12), (60, 60, 0), "centre-top"), (FLAT6,))
    lines = shop.cut(FLAT6)
    shop.pocket(lines, -50, -50, -20, -20, 4)
    shop.pocket(lines, 20, 20, 50, 50, 4)
    plan = plan_measurements(shop.outcome())
    said = " ".join(plan.untold)

    assert "z_scale: no place on this job tells it; all depths are nearly alike" in said
    assert "diameter_mm flat-6: no groove of this bit has a width to measure" in said


def test_count_and_picture_and_page(tmp_path):
    """The number asked for is given; picture and page show every place and stand alone."""
    plan = plan_measurements(small_trivet().outcome(), count=7)
    plan.picture(tmp_path / "plan.png")
    page = plan.to_html()

    assert len(plan.points) == 7
    with Image.open(tmp_path / "plan.png") as picture:
        assert picture.size[0] > 500
    assert len(re.findall(r'<th scope="row">', page)) == 7
    assert not re.findall(r'(?:src|href)="(?!data:)', page)
    assert "://" not in page


def test_nowhere_to_measure():
    """An uncut block too thick for calipers to reach nothing, and no blank, are clear errors."""
    with pytest.raises(GaugeError, match="declares no blank"):
        plan_measurements(SimpleNamespace(job=SimpleNamespace(stock=None)))
    outcome = small_trivet().outcome()
    with pytest.raises(GaugeError, match="at least one"):
        plan_measurements(outcome, count=0)
    with pytest.raises(GaugeError, match="foot and base"):
        plan_measurements(outcome, foot=0)
    outcome.surface.height = np.full_like(outcome.surface.height, -5.0)
    outcome.surface.cut_by = np.full_like(outcome.surface.cut_by, -1)
    with pytest.raises(GaugeError, match="no place on this job"):
        plan_measurements(outcome)


def test_a_base_must_rest_on_both_sides():
    """A pocket wider than the base offers no depth; a narrow one does."""
    shop = Shop("wide", Stock((200, 100, 12), (100, 50, 0), "centre-top"), (FLAT6, VEE90))
    shop.pocket(shop.cut(FLAT6), -90, -45, 30, 45, 3)
    lines = shop.cut(FLAT6)
    shop.pocket(lines, 50, -10, 80, 10, 3)
    plan = plan_measurements(shop.outcome(0.5), base=60.0)

    depths = [p for p in plan.points if p.kind == "depth"]
    assert depths
    assert all(p.x > 40 or p.x < -60 or p.x > 0 for p in depths)
    assert any(p.x > 40 for p in depths)
