"""Uncertainties and Student's distribution against published values and scipy."""

import math

import pytest
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st

from dryrun.gauge.uncertainty import (
    combined,
    effective_freedom,
    from_limits,
    from_step,
    mixture_quantile,
    normal_cdf,
    student_cdf,
    student_quantile,
)


def test_rectangular_limits():
    """± 0.03 mm, all alike, is 0.0173 mm (JCGM 100:2008 4.3.7); a 0.01 step 0.0029 (F.2.2.1)."""
    assert from_limits(0.03) == pytest.approx(0.0173205, abs=1e-7)
    assert from_step(0.01) == pytest.approx(0.0028868, abs=1e-7)


def test_end_gauge_example():
    """NIST TN 1297 appendix D: the nine components combine to 34 nm."""
    parts = [25, 5.8, 3.9, 6.7, 1.7, 5.8, 10.2, 2.9, 16.6]

    assert round(combined(parts)) == 34


def test_welch_satterthwaite():
    """Calipers read five times (JCGM 100:2008 G.4.1): about 1078 effective degrees of freedom."""
    parts = [from_limits(0.03), from_step(0.01), 0.01 / math.sqrt(5)]

    assert 2 * combined(parts) == pytest.approx(0.0362399, abs=1e-7)
    assert effective_freedom(parts, [math.inf, math.inf, 4]) == pytest.approx(1078.03, abs=0.01)
    assert effective_freedom([1.0], [math.inf]) == math.inf


@given(st.floats(-30, 30), st.integers(1, 200))
@settings(max_examples=200, deadline=None)
def test_student_agrees_with_scipy(t, freedom):
    """The finite sums give scipy's distribution."""
    assert student_cdf(t, freedom) == pytest.approx(scipy.stats.t.cdf(t, freedom), abs=1e-12)


@pytest.mark.parametrize("freedom", [201, 500, 10**6])
def test_student_with_many_degrees(freedom):
    """The approximation above 200 degrees is good to 3e-6."""
    for t in (-3.0, -1.0, 0.0, 0.5, 2.0, 4.0):
        assert student_cdf(t, freedom) == pytest.approx(scipy.stats.t.cdf(t, freedom), abs=3e-6)


def test_quantiles_of_the_guide():
    """JCGM 100:2008 table G.2, 95 %: 12.71, 4.30, 2.57, 2.23, 2.09 for 1, 2, 5, 10, 20."""
    for freedom, published in ((1, 12.71), (2, 4.30), (5, 2.57), (10, 2.23), (20, 2.09)):
        assert round(student_quantile(0.975, freedom), 2) == published
        assert student_quantile(0.025, freedom) == -student_quantile(0.975, freedom)


def test_limits_of_the_distribution():
    """Infinite t has probability one; nonsense is refused."""
    assert student_cdf(math.inf, 3) == 1
    assert student_cdf(-math.inf, 3) == 0
    assert normal_cdf(1.959964) == pytest.approx(0.975, abs=1e-7)
    with pytest.raises(ValueError, match="degree"):
        student_cdf(1.0, 0)
    with pytest.raises(ValueError, match="between"):
        student_quantile(1.0, 3)


def test_mixture_of_two():
    """A half-and-half mixture has its quantile where the mean of both distributions is it."""
    parts = [(1.0, 0.0, 1.0, 8), (1.0, 3.0, 0.5, 20)]
    at = mixture_quantile(0.9, parts)
    both = [scipy.stats.t.cdf((at - c) / s, v) for _, c, s, v in parts]

    assert sum(both) / 2 == pytest.approx(0.9, abs=1e-4)
