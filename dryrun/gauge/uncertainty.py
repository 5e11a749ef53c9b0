"""Standard uncertainties after JCGM 100:2008, and Student's t without scipy.

scipy would do all of this, but its import alone costs more than a whole comparison may take.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import Final

#: Above so many degrees of freedom the normal distribution with Cornish and Fisher's first terms
#: is closer to Student's than any reading can tell.
_MANY: Final = 200


def from_limits(half_width: float) -> float:
    """Return the standard uncertainty of "within ± half_width", all values alike.

    JCGM 100:2008 4.3.7.

    Examples
    --------
    >>> round(from_limits(0.03), 5)
    0.01732
    """
    return half_width / math.sqrt(3)


def from_step(step: float) -> float:
    """Return the standard uncertainty of a display that counts in `step`; JCGM 100:2008 F.2.2.1."""
    return step / math.sqrt(12)


def combined(components: Sequence[float]) -> float:
    """Return the combined standard uncertainty of independent parts; JCGM 100:2008 5.1.2."""
    return math.sqrt(math.fsum(u * u for u in components))


def effective_freedom(components: Sequence[float], freedom: Sequence[float]) -> float:
    """Return the effective degrees of freedom, Welch-Satterthwaite; JCGM 100:2008 G.4.1.

    Components known exactly have infinite `freedom`.
    """
    total = combined(components) ** 4
    parts = math.fsum(u**4 / v for u, v in zip(components, freedom, strict=True) if u > 0)
    return math.inf if parts == 0 else total / parts


def normal_cdf(z: float) -> float:
    """Return the probability that a standard normal value is below z."""
    return 0.5 * math.erfc(-z / math.sqrt(2))


def student_cdf(t: float, freedom: int) -> float:
    """Return the probability that Student's t with `freedom` degrees of freedom is below t.

    The finite sums for whole degrees of freedom, Abramowitz and Stegun 26.7.3 and 26.7.4; above
    200 degrees 26.7.8.
    """
    if freedom < 1:
        raise ValueError("Student's t needs at least one degree of freedom")
    if math.isinf(t):
        return 0.0 if t < 0 else 1.0
    if freedom > _MANY:
        return normal_cdf(t * (1 - 0.25 / freedom) / math.sqrt(1 + 0.5 * t * t / freedom))
    angle = math.atan(t / math.sqrt(freedom))
    cosine = math.cos(angle)
    square = cosine * cosine
    odd = freedom % 2
    term = cosine if odd else 1.0
    total = 0.0 if freedom == 1 else term
    for k in range(2 + odd, freedom - 1, 2):
        term *= square * (k - 1) / k
        total += term
    inside = math.sin(angle) * total
    if odd:
        inside = 2 / math.pi * (angle + inside)
    return 0.5 * (1 + inside)


@lru_cache(maxsize=512)
def student_quantile(probability: float, freedom: int) -> float:
    """Return the t that a share `probability` of Student's distribution lies below.

    Examples
    --------
    >>> round(student_quantile(0.975, 10), 4)
    2.2281
    """
    if not 0 < probability < 1:
        raise ValueError("a quantile needs a probability between 0 and 1")
    if probability < 0.5:
        return -student_quantile(1 - probability, freedom)
    low, high = 0.0, 2.0
    while student_cdf(high, freedom) < probability:
        low, high = high, 2 * high
    for _ in range(80):
        middle = 0.5 * (low + high)
        if student_cdf(middle, freedom) < probability:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def mixture_quantile(
    probability: float, parts: Sequence[tuple[float, float, float, int]], steps: int = 40
) -> float:
    """Return the quantile of a mixture of scaled Student distributions.

    Parameters
    ----------
    probability : float
        Between 0 and 1.
    parts : sequence of (weight, centre, scale, freedom)
        Weights need not sum to one.
    steps : int
        Most halvings of the bracket.
    """
    quantiles = [c + s * student_quantile(probability, v) for _, c, s, v in parts]
    low, high = min(quantiles), max(quantiles)
    close = 1e-4 * min(s for _, _, s, _ in parts)
    total = math.fsum(w for w, *_ in parts)
    for _ in range(steps):
        if high - low <= close:
            break
        middle = 0.5 * (low + high)
        below = math.fsum(w * student_cdf((middle - c) / s, v) for w, c, s, v in parts)
        low, high = (middle, high) if below < probability * total else (low, middle)
    return 0.5 * (low + high)
