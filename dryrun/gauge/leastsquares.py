"""Linear least squares with weights, covariance and a robust twin, for small problems.

The solver orthogonalises the columns twice (modified Gram-Schmidt) in the longest floating-point
type of the machine, so that even the nearly dependent columns of a tenth-degree polynomial keep
their digits. It is exact first and fast second: the many small fits of a diagnosis go through
`evidence`, whose columns are scaled and few.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

#: Tuning constants for 95 % efficiency at the normal distribution (Huber 1981; Hampel et al. 1986).
HUBER: Final = 1.345
TUKEY: Final = 4.685

#: A column whose length shrinks below this share when the others are taken out says nothing new.
_DEPENDENT: Final = 64.0


@dataclass(frozen=True, slots=True)
class Fit:
    """Result of a linear fit y = X b.

    Attributes
    ----------
    value : (k,) float64
        The coefficients.
    covariance : (k, k) float64
        Of the coefficients; from the known uncertainties when they were given, else from the
        residuals.
    residual : (n,) float64
        y - X b, in the unit of y.
    sum_of_squares : float
        Of the (weighted) residuals.
    freedom : int
        n - k.
    weight : (n,) float64
        Robust weights, ones for an ordinary fit.
    """

    value: NDArray[np.float64]
    covariance: NDArray[np.float64]
    residual: NDArray[np.float64]
    sum_of_squares: float
    freedom: int
    weight: NDArray[np.float64]

    @property
    def uncertainty(self) -> NDArray[np.float64]:
        """Standard uncertainty of each coefficient, (k,)."""
        uncertainty: NDArray[np.float64] = np.sqrt(np.diag(self.covariance))
        return uncertainty

    @property
    def scatter(self) -> float:
        """Residual standard deviation; with known uncertainties the Birge ratio. NaN if n = k."""
        if self.freedom == 0:
            return float("nan")
        return float(np.sqrt(self.sum_of_squares / self.freedom))


def least_squares(
    columns: ArrayLike,
    y: ArrayLike,
    uncertainty: ArrayLike | None = None,
    weight: NDArray[np.float64] | None = None,
) -> Fit:
    """Fit y = X b by weighted least squares.

    Parameters
    ----------
    columns : (n, k) array_like
        The design X; extended precision is used when given.
    y : (n,) array_like
        The values.
    uncertainty : (n,) array_like or None
        Known standard uncertainties of y. None: all alike and unknown, estimated from the
        residuals (NIST StRD and JCGM 100:2008 H.3 do the same).
    weight : (n,) or None
        Extra weights, for the robust fit.

    Raises
    ------
    ValueError
        When there are fewer values than coefficients or the columns depend on each other.
    """
    design = np.array(columns, dtype=np.longdouble, ndmin=2)
    values = np.array(y, dtype=np.longdouble)
    rows, count = design.shape
    if rows < count:
        raise ValueError(f"{rows} values cannot give {count} coefficients")
    extra = np.ones(rows) if weight is None else weight
    root = np.sqrt(extra.astype(np.longdouble))
    if uncertainty is not None:
        root = root / np.asarray(uncertainty, dtype=np.longdouble)
    basis, triangle = _orthogonal(design * root[:, None])
    projected = np.zeros(count, np.longdouble)
    rest = values * root
    for _ in range(2):  # the second pass takes out what rounding left of the first
        for k in range(count):
            part = basis[:, k] @ rest
            projected[k] += part
            rest = rest - part * basis[:, k]
    inverse = _triangle_inverse(triangle)
    value = inverse @ projected
    residual = values - design @ value
    squares = float(rest @ rest)
    freedom = rows - count
    covariance = (inverse @ inverse.T).astype(float)
    if uncertainty is None:
        covariance *= squares / freedom if freedom else float("nan")
    return Fit(
        value.astype(float), covariance, residual.astype(float), squares, freedom, extra.copy()
    )


def _orthogonal(
    design: NDArray[np.longdouble],
) -> tuple[NDArray[np.longdouble], NDArray[np.longdouble]]:
    """Split into orthonormal columns and an upper triangle, orthogonalising twice."""
    basis = design.copy()
    count = basis.shape[1]
    triangle = np.zeros((count, count), np.longdouble)
    least = _DEPENDENT * np.finfo(np.longdouble).eps
    for k in range(count):
        before = np.sqrt(basis[:, k] @ basis[:, k])
        for _ in range(2):
            for j in range(k):
                part = basis[:, j] @ basis[:, k]
                triangle[j, k] += part
                basis[:, k] -= part * basis[:, j]
        length = np.sqrt(basis[:, k] @ basis[:, k])
        if not length > least * before:
            raise ValueError(f"column {k + 1} depends on the ones before it")
        triangle[k, k] = length
        basis[:, k] /= length
    return basis, triangle


def _triangle_inverse(triangle: NDArray[np.longdouble]) -> NDArray[np.longdouble]:
    count = len(triangle)
    inverse = np.zeros_like(triangle)
    for k in range(count):
        inverse[k, k] = 1 / triangle[k, k]
        for j in range(k - 1, -1, -1):
            inverse[j, k] = -(triangle[j, j + 1 : k + 1] @ inverse[j + 1 : k + 1, k])
            inverse[j, k] /= triangle[j, j]
    return inverse


def robust_least_squares(
    columns: ArrayLike,
    y: ArrayLike,
    uncertainty: ArrayLike | None = None,
    steps: int = 50,
) -> Fit:
    """Fit with readings that disagree wildly weighted down (Huber's start, Tukey's finish).

    The scale is 1.4826 times the median absolute residual, or the known uncertainties if that is
    less. The covariance is that of the weighted fit, an approximation.
    """
    design = np.asarray(columns, dtype=float)
    values = np.asarray(y, dtype=float)
    sigma = np.ones(len(values)) if uncertainty is None else np.asarray(uncertainty, dtype=float)
    known = 1.0 if uncertainty is not None else 0.0
    weight = np.ones(len(values))
    fit = least_squares(design, values, uncertainty, weight)
    for step in range(steps):
        relative = fit.residual / sigma
        scale = max(known, 1.4826 * float(np.median(np.abs(relative))), 1e-12)
        size = np.abs(relative) / scale
        if step < steps // 2:
            new = np.minimum(1.0, HUBER / np.maximum(size, 1e-12))
        else:
            new = np.where(size < TUKEY, (1 - (size / TUKEY) ** 2) ** 2, 0.0)
        if (new > 0).sum() < design.shape[1]:
            break
        settled = step >= steps // 2 and float(np.abs(new - weight).max()) < 1e-9
        weight = new
        try:
            fit = least_squares(design, values, uncertainty, weight)
        except ValueError:  # what is left of the readings does not carry the model
            break
        if settled:
            break
    return fit


def fit_plane(points: ArrayLike) -> Fit:
    """Fit z = a + b x + c y to points (n, 3), distances taken along z; values are (a, b, c)."""
    p = np.asarray(points, dtype=float)
    return least_squares(np.column_stack([np.ones(len(p)), p[:, 0], p[:, 1]]), p[:, 2])


def fit_plane_normal(points: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64], float]:
    """Fit a plane with distances taken square to it.

    Returns the centre (3,), the unit normal (3,) with z not negative, and the sum of squared
    distances. Singular values of the centred points, after Shakarji 1998, J. Res. NIST 103(6).
    """
    p = np.asarray(points, dtype=float)
    centre = p.mean(axis=0)
    _, singular, rows = np.linalg.svd(p - centre, full_matrices=False)
    normal = rows[2] if rows[2, 2] >= 0 else -rows[2]
    return centre, normal, float(singular[2] ** 2)
