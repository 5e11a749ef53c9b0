"""The solver against certified and published results."""

import json
import math
from pathlib import Path

import numpy as np
import pytest
import scipy.linalg
from hypothesis import given, settings
from hypothesis import strategies as st

from dryrun.gauge.leastsquares import (
    HUBER,
    fit_plane,
    fit_plane_normal,
    least_squares,
    robust_least_squares,
)

STRD = json.loads((Path(__file__).parent / "data" / "nist_strd.json").read_text())
LONG = np.finfo(np.longdouble).eps < 1e-18  # 80-bit numbers or better


def design(data):
    x = np.array(
        [
            [np.longdouble(repr(v)) for v in (row if isinstance(row, list) else [row])]
            for row in data["x"]
        ]
    )
    model = data["model"]
    if model == "multiple":
        return np.column_stack([np.ones(len(x), np.longdouble), x])
    if model == "slope":
        return x
    degree = 1 if model == "line" else int(model.split()[1])
    return np.column_stack([x[:, 0] ** k for k in range(degree + 1)])


@pytest.mark.parametrize("name", [n for n in STRD if n != "source"])
def test_certified_values_of_nist(name):
    """Coefficients and deviations agree with NIST StRD to nine digits or more."""
    data = STRD[name]
    y = np.array([np.longdouble(repr(v)) for v in data["y"]])
    digits = 9 if LONG else data["digits"] - 2

    fit = least_squares(design(data), y)

    for k, certified in data["coefficients"].items():
        assert fit.value[int(k)] == pytest.approx(certified, rel=10.0**-digits)
    for k, certified in data.get("deviations", {}).items():
        assert fit.uncertainty[int(k)] == pytest.approx(certified, rel=10.0**-digits)
    if "residual_deviation" in data:
        assert fit.scatter == pytest.approx(data["residual_deviation"], rel=10.0**-digits)


def test_plain_doubles_would_not_do_for_filip():
    """The Filip set needs the orthogonal solver: normal equations in doubles lose every digit."""
    data = STRD["Filip"]
    x = design(data).astype(float)
    y = np.array(data["y"])
    naive = scipy.linalg.pinv(x.T @ x) @ (x.T @ y)

    assert abs(naive[10] / data["coefficients"]["10"] - 1) > 1e-3


def test_thermometer_calibration_line():
    """JCGM 100:2008 H.3: intercept -0.1712(29) °C, slope 0.00218(67), correlation -0.930."""
    reading = [
        21.521,
        22.012,
        22.512,
        23.003,
        23.507,
        23.999,
        24.513,
        25.002,
        25.503,
        26.010,
        26.511,
    ]
    correction = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161,
                  -0.160]  # fmt: skip
    t = np.array(reading) - 20.0
    fit = least_squares(np.column_stack([np.ones(11), t]), correction)
    correlation = fit.covariance[0, 1] / math.prod(fit.uncertainty)

    assert round(fit.value[0], 4) == -0.1712
    assert round(fit.value[1], 5) == 0.00218
    assert round(fit.uncertainty[0], 4) == 0.0029
    assert round(fit.uncertainty[1], 5) == 0.00067
    assert round(correlation, 3) == -0.930
    assert round(fit.scatter, 4) == 0.0035
    # The same example predicts the correction at 30 °C: -0.1494(41).
    at = np.array([1.0, 10.0])
    assert round(float(at @ fit.value), 4) == -0.1494
    assert round(math.sqrt(at @ fit.covariance @ at), 4) == 0.0041


def test_plane_through_five_points():
    """Offset 0.107 mm and tilt 0.0011 mm/mm, worked in exact fractions."""
    points = [(0, 0, 0.1), (100, 0, 0.22), (0, 100, 0.05), (100, 100, 0.15), (50, 50, 0.14)]
    fit = fit_plane(points)

    assert fit.value == pytest.approx([0.107, 0.0011, -0.0006], abs=1e-12)


def test_plane_by_singular_values():
    """Steep plane of Shakarji's method (J. Res. NIST 103(6), 1998) against scipy's eigenvalues."""
    points = np.array([(0, 0, 0), (10, 0, 10.5), (0, 10, 0.3), (10, 10, 9.8), (5, 5, 5.2)])
    _, normal, squares = fit_plane_normal(points)
    centred = points - points.mean(axis=0)
    values, vectors = scipy.linalg.eigh(centred.T @ centred)

    assert squares == pytest.approx(values[0], rel=1e-10)
    assert abs(normal @ vectors[:, 0]) == pytest.approx(1.0, abs=1e-12)
    assert math.degrees(math.acos(normal[2])) == pytest.approx(45.0418175, abs=1e-6)


def test_tilt_from_a_five_by_five_grid():
    """Standard uncertainty of a tilt is s / sqrt(sum of squares): 5.657e-5 for 50 mm and 0.02."""
    at = np.arange(5) * 50.0
    x, y = (a.ravel() for a in np.meshgrid(at, at))
    fit = least_squares(np.column_stack([np.ones(25), x - 100, y - 100]), 0 * x, np.full(25, 0.02))

    assert fit.uncertainty == pytest.approx([0.004, 5.65685424949238e-5, 5.65685424949238e-5])


@given(st.integers(0, 10**6), st.integers(1, 5), st.integers(0, 15))
@settings(max_examples=30, deadline=None)
def test_agrees_with_scipy(seed, count, more):
    """Weighted fits agree with scipy.linalg.lstsq on the whitened problem."""
    rng = np.random.default_rng(seed)
    n = count + more
    x, y, u = rng.normal(size=(n, count)), rng.normal(size=n), rng.uniform(0.1, 2, n)
    fit = least_squares(x, y, u)
    second, *_ = scipy.linalg.lstsq(x / u[:, None], y / u)

    condition = np.linalg.cond(x / u[:, None])
    assert fit.value == pytest.approx(second, rel=1e-11 * condition, abs=1e-11 * condition)
    expected = np.linalg.inv((x / u[:, None]).T @ (x / u[:, None]))
    assert fit.covariance == pytest.approx(expected, rel=1e-10 * condition**2)


def test_dependent_columns_are_refused():
    """Two columns that say the same are an error that names the column."""
    with pytest.raises(ValueError, match="column 2 depends"):
        least_squares([[1, 2], [2, 4], [3, 6]], [1, 2, 3])


def test_too_few_values_are_refused():
    """Fewer values than coefficients are an error."""
    with pytest.raises(ValueError, match="1 values cannot give 2"):
        least_squares([[1, 2]], [1])


def test_one_wild_value_does_not_spoil_the_robust_line():
    """A line with one value off by fifty sigmas is found within its uncertainty."""
    rng = np.random.default_rng(7)
    x = np.linspace(0, 10, 15)
    y = 1.0 + 0.5 * x + rng.normal(0, 0.02, 15)
    y[4] += 1.0
    columns = np.column_stack([np.ones(15), x])
    robust = robust_least_squares(columns, y, np.full(15, 0.02))
    plain = least_squares(columns, y, np.full(15, 0.02))

    assert np.abs(robust.value - [1.0, 0.5]).max() < 0.03
    assert np.abs(plain.value - [1.0, 0.5]).max() > 0.05
    assert robust.weight[4] == 0


def test_huber_constant_gives_95_percent():
    """k = 1.345 has 95 % efficiency at the normal distribution (Huber 1981), by quadrature."""
    z = np.linspace(-12, 12, 200001)
    density = np.exp(-z * z / 2) / math.sqrt(2 * math.pi)
    psi = np.clip(z, -HUBER, HUBER)
    slope = np.trapezoid(density * (np.abs(z) < HUBER), z)
    efficiency = slope**2 / np.trapezoid(density * psi**2, z)

    assert efficiency == pytest.approx(0.95, abs=1e-4)
