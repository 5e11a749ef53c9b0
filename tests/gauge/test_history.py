"""The log of results, and drift over jobs."""

import datetime

import numpy as np
import pytest

from dryrun.gauge import compare_depths
from dryrun.gauge.history import Entry, append, entries_of, find_drift, log_path, read_history
from dryrun.gauge.pieces import GaugeError
from tests.gauge.shop import Fault, Machine, choose_sites, measure, small_trivet

DAY = datetime.date(2026, 5, 31)


def entry(k, value, spread=0.02, name="depth_error_mm"):
    day = DAY + datetime.timedelta(days=k)
    return Entry(day, f"job {k}", f"{k:012x}", "z-zero", 0.99, name, value,
                 value - spread, value + spread, "mm")  # fmt: skip


def test_results_are_kept_once(tmp_path):
    """A result is appended, read back, and not written twice."""
    shop = small_trivet()
    rng = np.random.default_rng(0)
    m = measure(shop, Machine(shop, Fault(z_zero=0.3)), choose_sites(shop, 12, rng), rng)
    entries = entries_of(compare_depths(shop.outcome(), m), "trivet, first", DAY)

    assert append(tmp_path, entries) is True
    assert append(tmp_path, entries) is False
    again = read_history(tmp_path)
    assert [e.parameter for e in again] == ["depth_error_mm", "z_zero_mm"]
    assert again[0].value == pytest.approx(0.3, abs=0.03)
    assert again[1].job == "trivet, first"
    assert log_path(tmp_path).name == "gauge_history.csv"


def test_drift_is_found_and_sized():
    """Ten jobs, each 0.02 mm shallower: the slope and its interval say so."""
    rng = np.random.default_rng(1)
    found = find_drift([entry(k, 0.02 * k + rng.normal(0, 0.01)) for k in range(10)])

    assert len(found) == 1
    assert found[0].real
    assert abs(found[0].per_job - 0.02) < found[0].uncertainty
    assert found[0].text.startswith("over 10 jobs depth_error_mm 0.02")
    assert "drifts" in found[0].text


def test_no_drift_is_not_claimed():
    """Of two hundred steady series at most one in ten is called a drift."""
    rng = np.random.default_rng(2)
    real = [
        find_drift([entry(k, rng.normal(0, 0.01)) for k in range(8)])[0].real for _ in range(200)
    ]

    assert sum(real) <= 20


def test_two_jobs_show_nothing():
    """A line needs three jobs."""
    assert find_drift([entry(0, 0.1), entry(1, 0.2)]) == []


def test_dates_not_the_order_of_lines_count():
    """Entries are put in the order of their dates."""
    rows = [entry(k, 0.1 * k) for k in (4, 1, 3, 0, 2)]

    assert find_drift(rows)[0].per_job == pytest.approx(0.1)


def test_a_spoilt_log_is_named(tmp_path):
    """A line that is none is refused with its number."""
    append(tmp_path / "log.csv", [entry(0, 0.1)])
    with (tmp_path / "log.csv").open("a") as file:
        file.write("what is this\n")
    with pytest.raises(GaugeError, match=r"log\.csv, line 3"):
        read_history(tmp_path / "log.csv")
    with pytest.raises(GaugeError, match="cannot be read"):
        read_history(tmp_path / "none.csv")
