"""Sliding one footprint over another: what both ways of finding a shift have in common."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

#: Part of the smaller footprint that must lie on the larger one, moved or not.
OVERLAP: Final = 0.3

#: Smaller shifts are not told from the grid, points and mm.
LEAST: Final = (1.5, 0.4)


def refined(whole: NDArray[np.float64], iy: int, ix: int) -> tuple[float, float]:
    """Return the place of a peak by the parabola through its neighbours, points, signed."""
    ny, nx = whole.shape
    placed = []
    for k, n, line in ((iy, ny, whole[:, ix]), (ix, nx, whole[iy])):
        left, middle, right = line[k - 1], line[k], line[(k + 1) % n]
        bend = left - 2 * middle + right
        off = 0.5 * (left - right) / bend if bend else 0.0
        placed.append((k if k < n / 2 else k - n) + float(off))
    return placed[0], placed[1]


def even(number: int) -> int:
    """Return the next number that is a small factor times a power of two."""
    best = 1 << (number - 1).bit_length()
    for factor in (3, 5, 9):
        power = factor
        while power < number:
            power *= 2
        best = min(best, power)
    return best
