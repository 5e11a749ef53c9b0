"""How well each hypothesis explains the readings, all of them weighed at once.

Every hypothesis is linear in few parameters with known standard uncertainties, so the
probability of the readings under it has a closed form: the exact counterpart of BIC with known
sigma, with the cost of each parameter taken from its usual size instead of ln n. Three prior
widths (1, 5 and 25 times the usual size) are averaged, so that a large error is not held against
its cause. Any one reading may be a gross misreading: the fit without it follows from its leverage
(no refit), and all such sets are weighed too. How far the stated uncertainties can be trusted is
part of the model: they hold to within a factor that the residuals may correct, tightly where the
file declared them and loosely where a usual value was taken. Intervals are then Student's.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.gauge.cutter import Array

#: Prior widths as multiples of the usual size, and their weights.
WIDTHS: Final = (1.0, 5.0, 25.0)
_WIDTH_WEIGHTS: Final = (0.6, 0.3, 0.1)

#: One reading in so many is a gross misreading; then it is anywhere within ± 3 mm.
MISREAD: Final = 0.02
_MISREAD_DENSITY: Final = 1 / 6.0

#: Degrees of freedom by which uncertainties are trusted: declared, and taken from a usual value.
TRUST_DECLARED: Final = 20
TRUST_USUAL: Final = 2


@dataclass(frozen=True, slots=True)
class Problem:
    """Readings made unitless.

    Attributes
    ----------
    y : (v, n) float64
        Measured minus predicted over uncertainty, one row for each variant (another bit).
    columns : (v, n, k) float64
        Slopes over uncertainty times the usual size of each parameter.
    log_uncertainty : (n,) float64
    trust : int
    """

    y: Array
    columns: Array
    log_uncertainty: Array
    trust: int


@dataclass(frozen=True, slots=True)
class Scores:
    """Log weights of hypotheses (m) with no misreading (column 0) or one (columns 1..n)."""

    log_weight: Array

    @property
    def of_hypothesis(self) -> Array:
        """Log weight of each hypothesis, misreadings summed over, (m,)."""
        return log_sum(self.log_weight, axis=1)

    def misread(self) -> Array:
        """Probability of each reading being the misread one, (n,)."""
        share = np.exp(self.log_weight - log_sum(self.log_weight.ravel()[None], axis=1)[0])
        out: Array = share[:, 1:].sum(axis=0)
        return out


def score(
    problem: Problem,
    index: NDArray[np.int64],
    variant: NDArray[np.int64],
    log_prior: Array,
    misreads: bool = True,
) -> Scores:
    """Weigh hypotheses.

    Parameters
    ----------
    problem : Problem
        The readings.
    index : (m, k) int64
        Parameters of each hypothesis; -1 fills up.
    variant : (m,) int64
        Which row of y and columns each uses.
    log_prior : (m,) float64
        Natural log of each prior weight.
    misreads : bool
        Whether a reading may be a gross misreading (not with fewer than four).
    """
    n = problem.y.shape[1]
    y = problem.y[variant]
    padded = np.concatenate([problem.columns, np.zeros((*problem.columns.shape[:2], 1))], axis=2)
    z = padded[variant[:, None], :, index].transpose(0, 2, 1)  # (m, n, k)
    gram = z.transpose(0, 2, 1) @ z
    dot = (z * y[:, :, None]).sum(axis=1)
    square = (y * y).sum(axis=1)
    drop = math.log(MISREAD / (1 - MISREAD)) + math.log(_MISREAD_DENSITY) + problem.log_uncertainty
    parts = []
    for width, weight in zip(WIDTHS, _WIDTH_WEIGHTS, strict=True):
        a = gram * width**2 + np.eye(gram.shape[1])
        inverse = np.linalg.inv(a) * width**2
        half_log_det = 0.5 * np.linalg.slogdet(a)[1]
        value = (inverse @ dot[:, :, None])[:, :, 0]
        left = square - (value * dot).sum(axis=1)
        base = _log_student(left, n, problem.trust) - half_log_det
        columns = [base[:, None]]
        if misreads and n >= 4:
            residual = y - (z @ value[:, :, None])[:, :, 0]
            hat = ((z @ inverse) * z).sum(axis=2)
            free = np.maximum(1 - hat, 1e-12)
            less = np.maximum(left[:, None] - residual**2 / free, 0.0)
            without = _log_student(less, n - 1, problem.trust)
            columns.append(without - half_log_det[:, None] - 0.5 * np.log(free) + drop)
        parts.append(np.concatenate(columns, axis=1) + math.log(weight))
    total = log_sum(np.stack(parts), axis=0) + log_prior[:, None]
    return Scores(total - float(problem.log_uncertainty.sum()))


def _log_student(square: Array, n: int, trust: int) -> Array:
    """Log density of n unitless readings whose residuals square up to `square`."""
    constant = (
        math.lgamma((trust + n) / 2) - math.lgamma(trust / 2) - n / 2 * math.log(trust * math.pi)
    )
    out: Array = constant - (trust + n) / 2 * np.log1p(square / trust)
    return out


def log_sum(values: Array, axis: int) -> Array:
    """Log of the sum of exponentials along an axis."""
    top = values.max(axis=axis, keepdims=True)
    out: Array = np.log(np.exp(values - top).sum(axis=axis)) + np.squeeze(top, axis=axis)
    return out


@dataclass(frozen=True, slots=True)
class Estimate:
    """Parameters of one hypothesis without the misread readings.

    Attributes
    ----------
    value, uncertainty : (k,) float64
        In units of each parameter's usual size.
    freedom : int
    residual : (n,) float64
        Of all readings, over uncertainty.
    birge : float
        Root of the residual square over degrees of freedom; NaN without any.
    """

    value: Array
    uncertainty: Array
    freedom: int
    residual: Array
    birge: float


def estimate(
    problem: Problem, index: Sequence[int], variant: int, keep: NDArray[np.bool_]
) -> Estimate:
    """Fit one hypothesis to the readings kept, with next to no prior."""
    chosen = list(index)
    y, z = problem.y[variant], problem.columns[variant][:, chosen]
    k, n = len(chosen), int(keep.sum())
    inverse = np.linalg.inv(z[keep].T @ z[keep] + np.eye(k) / WIDTHS[-1] ** 2)
    value = inverse @ (z[keep].T @ y[keep])
    residual = y - z @ value
    square = float((residual[keep] ** 2).sum())
    freedom = problem.trust + n - k
    scale = (problem.trust + square) / max(freedom, 1)
    birge = math.sqrt(square / (n - k)) if n > k else math.nan
    return Estimate(value, np.sqrt(np.diag(inverse) * scale), max(freedom, 1), residual, birge)
