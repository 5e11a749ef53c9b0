"""What the diagnosis says of known faults."""

import json
from types import SimpleNamespace

import numpy as np
import pytest

from dryrun.gauge import Measurements, compare_depths
from dryrun.gauge.measurements import MeasurementError, Reading
from dryrun.gauge.pieces import GaugeError
from dryrun.job.model import Stock
from tests.gauge.shop import (
    BALL6,
    CAUSES,
    FLAT6,
    Fault,
    Machine,
    Shop,
    Site,
    choose_sites,
    draw_fault,
    measure,
    small_trivet,
)


@pytest.fixture(scope="module")
def trivet():
    shop = small_trivet()
    return shop, shop.outcome()


def diagnose(trivet, fault, count=16, seed=0, **options):
    shop, outcome = trivet
    rng = np.random.default_rng(seed)
    sites = choose_sites(shop, count, rng)
    return compare_depths(outcome, measure(shop, Machine(shop, fault), sites, rng, **options))


def test_a_wrong_zero_is_named_with_its_size(trivet):
    """0.18 mm too low is said with its interval, and that nothing else is needed."""
    found = diagnose(trivet, Fault(z_zero=-0.18))
    p = found.causes[0].parameters["z_zero_mm"]

    assert found.causes[0].cause == "z-zero"
    assert p["low"] < -0.18 < p["high"]
    assert p["high"] - p["low"] < 0.04
    assert found.verdict.startswith("Z zero was set 0.1")
    assert "too low; nothing else is needed to explain the readings" in found.verdict
    assert "measure again before changing anything" in found.advice


@pytest.mark.parametrize("cause", CAUSES)
def test_every_cause_is_found(trivet, cause):
    """Each kind of fault, of a size that matters, comes first on the trivet."""
    shop, _ = trivet
    rng = np.random.default_rng(11)
    fault = draw_fault(shop, cause, rng)
    found = diagnose(trivet, fault, 18, seed=5)

    assert found.causes[0].cause == cause


def test_json_carries_what_was_agreed(trivet):
    """Schema 1: points, causes with intervals and units, verdict; probabilities sum to one."""
    found = diagnose(trivet, Fault(z_zero=0.2))
    data = json.loads(found.to_json())

    assert data["schema"] == 1
    assert {"x", "y", "kind", "measured", "predicted", "difference", "beyond"} <= set(
        data["points"][0]
    )
    assert {c["cause"] for c in data["causes"]} <= set(CAUSES)
    assert sum(c["probability"] for c in data["causes"]) == pytest.approx(1.0)
    assert [c["probability"] for c in data["causes"]] == sorted(
        (c["probability"] for c in data["causes"]), reverse=True
    )
    assert set(data["causes"][0]["parameters"]["z_zero_mm"]) == {"value", "low", "high", "unit"}
    for c in data["causes"]:
        for p in c["parameters"].values():
            assert p["low"] <= p["value"] <= p["high"]


def test_beyond_means_twice_the_uncertainty(trivet):
    """A point is beyond when it differs by more than twice its standard uncertainty."""
    found = diagnose(trivet, Fault(z_zero=0.1), noise=0.02)

    for p in found.points:
        assert p.beyond == (abs(p.difference) > 2 * p.uncertainty)
        assert p.difference == pytest.approx(p.measured - p.predicted)


def test_one_gross_misreading_is_set_aside(trivet):
    """A reading 2 mm off changes neither cause nor value, and is named."""
    shop, outcome = trivet
    rng = np.random.default_rng(4)
    sites = choose_sites(shop, 12, rng)
    good = measure(shop, Machine(shop, Fault(z_zero=0.3)), sites, rng)
    value = good.value.copy()
    value[3] += 2.0
    bad = Measurements(**{f: getattr(good, f) for f in good.__slots__} | {"value": value})
    first = compare_depths(outcome, good).causes[0]
    found = compare_depths(outcome, bad)

    assert found.causes[0].cause == first.cause == "z-zero"
    assert found.causes[0].parameters["z_zero_mm"]["value"] == pytest.approx(
        first.parameters["z_zero_mm"]["value"], abs=0.01
    )
    assert found.points[3].misread > 0.99
    assert "Taken for misread and left out: 4" in found.verdict


def test_two_gross_misreadings_among_many(trivet):
    """Two wild readings among twenty are both set aside."""
    shop, outcome = trivet
    rng = np.random.default_rng(8)
    sites = choose_sites(shop, 20, rng)
    m = measure(shop, Machine(shop, Fault(z_zero=0.3)), sites, rng)
    value = m.value.copy()
    value[2] += 1.5
    value[9] -= 1.0
    m = Measurements(**{f: getattr(m, f) for f in m.__slots__} | {"value": value})
    found = compare_depths(outcome, m)

    assert found.causes[0].cause == "z-zero"
    assert [p.misread > 0.9 for p in found.points].count(True) == 2


def test_equal_depths_cannot_tell_scale_from_zero():
    """With one depth only, the likelier zero comes first and the scale is named as possible."""
    shop = Shop("flat", Stock((200, 200, 12), (100, 100, 0), "centre-top"), (FLAT6,))
    lines = shop.cut(FLAT6)
    for x in (-80, 50):
        for y in (-80, 50):
            shop.pocket(lines, x, y, x + 25, y + 25, 4)
    rng = np.random.default_rng(1)
    sites = [s for s in shop.sites if s.kind == "depth"][::2]
    m = measure(shop, Machine(shop, Fault(scale=1.05)), sites, rng)
    found = compare_depths(shop.outcome(), m)
    order = [c.cause for c in found.causes]

    assert order[:2] == ["z-zero", "z-scale"]
    assert found.causes[1].probability > 0.1
    assert "annot tell a wrong Z zero from a wrong Z scale" in found.verdict


def test_where_to_measure_next_is_said():
    """Four readings in a corner cannot tell tilt from zero; the verdict names a place."""
    shop = small_trivet()
    corner = [s for s in shop.sites if s.kind == "depth" and s.x < -50 and s.y < -50]
    outcome = shop.outcome()
    rng = np.random.default_rng(3)
    for size in np.arange(1.0, 6.0, 0.25):
        fault = Fault(tilt=(size, size))
        found = compare_depths(outcome, measure(shop, Machine(shop, fault), corner, rng))
        if "measure the depth near X" in found.verdict:
            break
    assert "annot tell" in found.verdict
    assert "measure the depth near X" in found.verdict


def test_repeated_readings_are_averaged(trivet):
    """Four readings of a place make one point with half the uncertainty."""
    _, outcome = trivet
    rows = [Reading(0, 0, "depth", 6 + d, 0.02) for d in (0.01, -0.01, 0.03, 0.01)]
    rows += [Reading(-75, -75, "depth", 3.0, 0.02)]
    found = compare_depths(outcome, Measurements.from_rows(rows))

    assert len(found.points) == 2
    assert found.points[0].measured == pytest.approx(6.01)
    assert found.points[0].uncertainty == pytest.approx(0.01)
    assert found.points[0].readings == 4


def test_probed_grid_shows_tilt(trivet):
    """A grid of probed heights finds a tilt, thousands of points included."""
    _shop, outcome = trivet
    rng = np.random.default_rng(2)
    x, y = rng.uniform(-99, 99, (2, 3000))
    surface = outcome.surface
    i = np.rint((x - surface.origin[0]) / surface.cell).astype(int)
    j = np.rint((y - surface.origin[1]) / surface.cell).astype(int)
    h = surface.height[j, i]
    flat = np.isin(np.round(h, 3), [-3.0, -4.5, -6.0, -5.0])
    h = h - flat * 2.0 * x / 1000 + rng.normal(0, 0.006, len(x))
    keep = flat
    rows = [Reading(a, b, "height", c) for a, b, c in zip(x[keep], y[keep], h[keep], strict=True)]
    found = compare_depths(outcome, Measurements.from_rows(rows))
    p = found.causes[0].parameters

    assert len(found.points) == keep.sum()
    assert found.causes[0].cause == "tilt"
    assert p["tilt_x_mm_per_m"]["value"] == pytest.approx(2.0, abs=0.1)


def test_two_causes_at_once(trivet):
    """A wrong zero beside a thin bit: one leads, the other is named beside it."""
    found = diagnose(trivet, Fault(z_zero=0.3, diameter={"flat-6": -0.3}), 20)
    first = found.causes[0]

    assert {first.cause, *first.beside} == {"z-zero", "bit-diameter"}
    assert first.parameters["diameter_mm"]["value"] == pytest.approx(5.7, abs=0.05)
    assert first.parameters["z_zero_mm"]["value"] == pytest.approx(0.3, abs=0.03)
    assert "is needed beside it" in found.verdict


def test_scatter_beyond_the_stated_uncertainty_is_said(trivet):
    """Readings that scatter five times as much as declared are called out."""
    shop, outcome = trivet
    rng = np.random.default_rng(12)
    sites = choose_sites(shop, 18, rng)
    m = measure(shop, Machine(shop, Fault()), sites, rng, noise=0.1)
    small = Measurements(
        **{f: getattr(m, f) for f in m.__slots__} | {"uncertainty": m.uncertainty / 5}
    )
    found = compare_depths(outcome, small)

    assert "as much as their uncertainties say" in found.verdict


def test_a_job_without_fault_is_not_called_safe(trivet):
    """Agreement is said, and that it does not make the next cut safe."""
    found = diagnose(trivet, Fault(), seed=1)

    assert found.causes[0].cause == "none"
    assert "does not make the next cut safe" in found.advice
    assert "safe" not in found.verdict


def test_few_readings_still_give_an_answer(trivet):
    """One, two or three readings give finite numbers and no warning."""
    shop, outcome = trivet
    for count in (1, 2, 3):
        rows = [Reading(s.x, s.y, s.kind, s.depth + 0.3) for s in shop.sites[:count]]
        found = compare_depths(outcome, Measurements.from_rows(rows))
        json.dumps(found.to_dict(), allow_nan=False)
        assert len(found.points) == count


def test_step_loss_names_the_line(trivet):
    """The line named is the first that cut a displaced reading."""
    shop, _outcome = trivet
    row = len(shop.stages[0][1]) // 2
    found = diagnose(trivet, Fault(after=(row, 0, 0, 0.6)), 20, seed=2)
    first = found.causes[0]

    assert first.cause == "step-loss"
    assert first.parameters["shift_z_mm"]["value"] == pytest.approx(0.6, abs=0.05)
    assert row + 1 <= first.line <= row + 25
    assert f"from about line {first.line} on" in found.verdict


def test_sideways_loss_shows_on_flanks():
    """Steps lost in Y show where a ball groove was probed across its flank."""
    shop = Shop("ball", Stock((100, 60, 12), (50, 30, 0), "centre-top"), (BALL6,))
    lines = shop.cut(BALL6)
    shop.groove(lines, -40, -15, 40, -15, 2.0)
    shop.groove(lines, -40, 15, 40, 15, 2.0)
    sites = [Site("depth", x, y + d) for y in (-15, 15) for x in (-20, 20) for d in (-1.2, 0, 1.2)]
    rng = np.random.default_rng(5)
    machine = Machine(shop, Fault(after=(1, 0.0, 0.4, 0.0)))
    found = compare_depths(shop.outcome(0.1), measure(shop, machine, sites, rng, noise=0.01))

    assert found.causes[0].cause == "step-loss"
    assert found.causes[0].parameters["shift_y_mm"]["value"] == pytest.approx(0.4, abs=0.05)


def test_picture_of_residuals(trivet, tmp_path):
    """The picture has the readings before and after, and is no blank sheet."""
    from PIL import Image

    found = diagnose(trivet, Fault(z_zero=0.3))
    found.picture(tmp_path / "left.png")
    with Image.open(tmp_path / "left.png") as image:
        picture = np.asarray(image.convert("L"))

    assert picture.shape[1] > 1.5 * picture.shape[0]
    assert len(np.unique(picture)) > 20


def test_nothing_to_compare(trivet):
    """No readings, or a job without a blank, is a clear error."""
    _, outcome = trivet
    one = Measurements.from_rows([Reading(0, 0, "depth", 6.0)])
    with pytest.raises(MeasurementError, match="no readings"):
        compare_depths(outcome, Measurements.from_rows([]))
    with pytest.raises(GaugeError, match="declares no blank"):
        compare_depths(SimpleNamespace(job=SimpleNamespace(stock=None)), one)
