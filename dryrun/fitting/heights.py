"""Laying triangles into a map of heights."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from dryrun.jit import kernel


@kernel
def lay_triangles(
    corners: NDArray[np.float64],
    low_x: float,
    low_y: float,
    cell: float,
    height: NDArray[np.float64],
) -> None:
    """Raise each cell to the highest triangle over its centre.

    corners : (n, 3, 3) mm; height : (ny, nx) mm, changed in place.
    """
    ny, nx = height.shape
    for t in range(corners.shape[0]):
        ax, ay, az = corners[t, 0, 0], corners[t, 0, 1], corners[t, 0, 2]
        bx, by, bz = corners[t, 1, 0], corners[t, 1, 1], corners[t, 1, 2]
        cx, cy, cz = corners[t, 2, 0], corners[t, 2, 1], corners[t, 2, 2]
        area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        if abs(area) < 1e-12:
            continue
        i0 = max(0, math.ceil((min(ax, bx, cx) - low_x) / cell - 0.5))
        i1 = min(nx - 1, math.floor((max(ax, bx, cx) - low_x) / cell - 0.5))
        j0 = max(0, math.ceil((min(ay, by, cy) - low_y) / cell - 0.5))
        j1 = min(ny - 1, math.floor((max(ay, by, cy) - low_y) / cell - 0.5))
        for j in range(j0, j1 + 1):
            y = low_y + (j + 0.5) * cell
            for i in range(i0, i1 + 1):
                x = low_x + (i + 0.5) * cell
                v = ((x - ax) * (cy - ay) - (y - ay) * (cx - ax)) / area
                w = ((bx - ax) * (y - ay) - (by - ay) * (x - ax)) / area
                if v >= -1e-9 and w >= -1e-9 and v + w <= 1.0 + 1e-9:
                    z = az + v * (bz - az) + w * (cz - az)
                    if z > height[j, i]:
                        height[j, i] = z
