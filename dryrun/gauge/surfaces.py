"""A predicted surface against a scanned or wanted one: a signed map of deviations.

The other surface may be a `Surface`, a mesh or point cloud (STL, PLY and what else trimesh
reads), or a height picture whose grey values mean heights. Meshes are drawn onto the cells of the
predicted surface from above: the highest triangle over each centre counts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from dryrun.files import read_grey
from dryrun.gauge.leastsquares import robust_least_squares
from dryrun.gauge.pieces import GaugeError

Register = Literal["none", "offset", "tilt"]

PICTURES: Final = (".png", ".tif", ".tiff", ".pgm", ".bmp")
#: Within this of the wall of a pocket (cells) a deviation says more of the wall than of the floor.
_WALL_CELLS: Final = 1
_WALL_STEP: Final = 0.3
_MOST_FITTED: Final = 4000
_PAIRS: Final = 2_000_000


@dataclass(frozen=True, slots=True)
class SurfaceDeviation:
    """Other surface minus predicted, cell by cell; positive where more material is left.

    Attributes
    ----------
    deviation : (ny, nx) float32
        mm, after registration; NaN where the other surface says nothing.
    wall : (ny, nx) bool
        Cells beside a wall, where a sideways shift shows as depth; left out of the statistics.
    cell : float
    origin : (x, y)
    statistics : dict
        mean, rms, least, greatest, and the 2.5, 50 and 97.5 % points, mm; `covered` and `beyond`
        as shares of the cells.
    tolerance : float
    offset_mm, tilt_x_mm_per_m, tilt_y_mm_per_m : float
        What registration took out: the other surface lay this much higher.
    """

    deviation: NDArray[np.float32]
    wall: NDArray[np.bool_]
    cell: float
    origin: tuple[float, float]
    statistics: dict[str, float]
    tolerance: float
    offset_mm: float = 0.0
    tilt_x_mm_per_m: float = 0.0
    tilt_y_mm_per_m: float = 0.0

    def picture(self, path: str | Path) -> None:
        """Draw the map; deviations within the tolerance stay pale."""
        from dryrun.gauge.pictures import draw_deviation

        ny, nx = self.deviation.shape
        half = self.cell / 2
        low = (self.origin[0] - half, self.origin[1] - half)
        high = (low[0] + nx * self.cell, low[1] + ny * self.cell)
        draw_deviation(self.deviation, low, high, self.tolerance).save(path)


def compare_surfaces(
    predicted: Any,
    other: Any,
    *,
    register: Register = "none",
    tolerance: float = 0.1,
    unit: Literal["mm", "in"] = "mm",
    at: tuple[float, float, float] = (0.0, 0.0, 0.0),
    picture_heights: tuple[float, float] | None = None,
) -> SurfaceDeviation:
    """Compare a predicted surface with another one.

    Parameters
    ----------
    predicted : Surface
        Of a dry run.
    other : Surface, path, trimesh mesh or (ny, nx) array
        A file's kind follows from its name. An array or picture covers the same rectangle as
        `predicted`, first row of an array nearest the operator, first row of a picture farthest.
    register : "none", "offset" or "tilt"
        What may be taken out before comparing, by a fit that wild cells cannot spoil.
    tolerance : float
        mm; for the share beyond and the pale band of the picture.
    unit : "mm" or "in"
        Of a mesh file (STL does not say).
    at : (x, y, z)
        Where the mesh's zero lies in the job frame, mm.
    picture_heights : (black, white) or None
        Heights of a picture's darkest and brightest value, job frame, mm.

    Raises
    ------
    GaugeError
        When the file cannot be used, or nothing of it lies over the blank.
    """
    if register not in ("none", "offset", "tilt"):
        raise GaugeError(f"register: found {register!r}, expected none, offset or tilt")
    base = np.asarray(predicted.height, dtype=np.float64)
    cell = float(predicted.cell)
    origin = (float(predicted.origin[0]), float(predicted.origin[1]))
    heights = _heights_of(other, base.shape, cell, origin, unit, at, picture_heights)
    raw = heights - base
    known = np.isfinite(raw)
    if not known.any():
        raise GaugeError(
            "nothing of the other surface lies over the blank; check its zero and unit"
        )
    wall = _walls(base)
    plane = _register(raw, known & ~wall, register, cell, origin)
    ny, nx = base.shape
    x = origin[0] + cell * np.arange(nx)
    y = origin[1] + cell * np.arange(ny)
    left = raw - (plane[0] + plane[1] * x[None, :] + plane[2] * y[:, None])
    return SurfaceDeviation(
        left.astype(np.float32),
        wall,
        cell,
        origin,
        _statistics(left, known, wall, tolerance),
        tolerance,
        plane[0],
        1000 * plane[1],
        1000 * plane[2],
    )


def _heights_of(
    other: Any,
    shape: tuple[int, ...],
    cell: float,
    origin: tuple[float, float],
    unit: str,
    at: tuple[float, float, float],
    picture_heights: tuple[float, float] | None,
) -> NDArray[np.float64]:
    if isinstance(other, (str, Path)):
        path = Path(other)
        if not path.is_file():
            raise GaugeError(f"{path}: no such file")
        if path.suffix.lower() in PICTURES:
            return _picture(path, shape, picture_heights)
        other = _load(path)
    if hasattr(other, "vertices"):
        factor = 25.4 if unit == "in" else 1.0
        vertices = np.asarray(other.vertices, dtype=float) * factor + np.array(at)
        faces = getattr(other, "faces", None)
        if faces is None or len(faces) == 0:
            return _cloud(vertices, shape, cell, origin)
        return _mesh(vertices, np.asarray(faces), shape, cell, origin)
    if hasattr(other, "height") and hasattr(other, "origin"):
        return _resampled(other, shape, cell, origin)
    array = np.asarray(other, dtype=float)
    if array.shape != shape:
        raise GaugeError(f"an array of heights must have the shape {shape}, not {array.shape}")
    return array


def _load(path: Path) -> Any:
    try:
        import trimesh
    except ImportError:
        raise GaugeError("meshes need trimesh: pip install 'dryrun[view]'") from None
    try:
        loaded = trimesh.load(str(path))
    except Exception as error:  # trimesh raises whatever its readers do
        raise GaugeError(f"{path}: cannot be read as a mesh ({error})") from None
    if hasattr(loaded, "to_geometry"):
        loaded = loaded.to_geometry()
    if not len(getattr(loaded, "vertices", ())):
        raise GaugeError(f"{path}: holds no points")
    return loaded


def _picture(
    path: Path, shape: tuple[int, ...], heights: tuple[float, float] | None
) -> NDArray[np.float64]:
    if heights is None:
        raise GaugeError(f"{path}: say which heights black and white mean (picture_heights)")
    try:
        grey = read_grey(path)
    except Exception as error:  # pillow raises whatever its readers raise
        raise GaugeError(f"{path}: cannot be read as a picture ({error})") from None
    full = 255.0 if grey.dtype == np.uint8 else 65535.0
    j = ((np.arange(shape[0]) + 0.5) * grey.shape[0] / shape[0]).astype(int)
    i = ((np.arange(shape[1]) + 0.5) * grey.shape[1] / shape[1]).astype(int)
    share = grey[::-1][np.ix_(j, i)].astype(float) / full
    out: NDArray[np.float64] = heights[0] + share * (heights[1] - heights[0])
    return out


def _resampled(
    other: Any, shape: tuple[int, ...], cell: float, origin: tuple[float, float]
) -> NDArray[np.float64]:
    """Heights of the nearest cells of another field; NaN off it."""
    source = np.asarray(other.height)
    i = np.rint(
        (origin[0] + cell * np.arange(shape[1]) - float(other.origin[0])) / float(other.cell)
    ).astype(int)
    j = np.rint(
        (origin[1] + cell * np.arange(shape[0]) - float(other.origin[1])) / float(other.cell)
    ).astype(int)
    out = np.full(shape, np.nan)
    inside_i = np.flatnonzero((i >= 0) & (i < source.shape[1]))
    inside_j = np.flatnonzero((j >= 0) & (j < source.shape[0]))
    out[np.ix_(inside_j, inside_i)] = source[np.ix_(j[inside_j], i[inside_i])]
    return out


def _cloud(
    points: NDArray[np.float64], shape: tuple[int, ...], cell: float, origin: tuple[float, float]
) -> NDArray[np.float64]:
    """Mean height of the points in each cell."""
    i = np.rint((points[:, 0] - origin[0]) / cell).astype(np.int64)
    j = np.rint((points[:, 1] - origin[1]) / cell).astype(np.int64)
    inside = (i >= 0) & (i < shape[1]) & (j >= 0) & (j < shape[0])
    flat = j[inside] * shape[1] + i[inside]
    size = shape[0] * shape[1]
    count = np.bincount(flat, minlength=size)
    total = np.bincount(flat, weights=points[inside, 2], minlength=size)
    with np.errstate(invalid="ignore", divide="ignore"):
        out: NDArray[np.float64] = np.where(count > 0, total / count, np.nan).reshape(shape)
    return out


def _mesh(
    vertices: NDArray[np.float64],
    faces: NDArray[Any],
    shape: tuple[int, ...],
    cell: float,
    origin: tuple[float, float],
) -> NDArray[np.float64]:
    """Highest triangle over each cell centre."""
    corner = vertices[faces]
    low = np.ceil((corner[:, :, :2].min(axis=1) - np.array(origin)) / cell - 1e-9)
    high = np.floor((corner[:, :, :2].max(axis=1) - np.array(origin)) / cell + 1e-9)
    low = np.clip(low, 0, None)
    high = np.minimum(high, np.array([shape[1] - 1, shape[0] - 1]))
    across = np.maximum(high - low + 1, 0).astype(np.int64)
    pairs = across[:, 0] * across[:, 1]
    out = np.full(shape[0] * shape[1], -np.inf)
    hit = np.flatnonzero(pairs > 0)
    ends = np.cumsum(pairs[hit])
    first = 0
    while first < len(hit):
        start = int(ends[first - 1]) if first else 0
        last = max(first + 1, int(np.searchsorted(ends, start + _PAIRS, side="right")))
        _raster(corner, low, across, hit[first:last], pairs, shape[1], cell, origin, out)
        first = last
    return np.where(np.isfinite(out), out, np.nan).reshape(shape)


def _raster(
    corner: NDArray[np.float64],
    low: NDArray[np.float64],
    across: NDArray[np.int64],
    chosen: NDArray[np.int64],
    pairs: NDArray[np.int64],
    nx: int,
    cell: float,
    origin: tuple[float, float],
    out: NDArray[np.float64],
) -> None:
    """Draw some triangles onto the cells by their barycentric coordinates."""
    triangle = np.repeat(chosen, pairs[chosen])
    begin = np.cumsum(pairs[chosen]) - pairs[chosen]
    k = np.arange(len(triangle)) - np.repeat(begin, pairs[chosen])
    i = low[triangle, 0].astype(np.int64) + k % across[triangle, 0]
    j = low[triangle, 1].astype(np.int64) + k // across[triangle, 0]
    x, y = origin[0] + cell * i, origin[1] + cell * j
    a, b, c = (corner[triangle, n] for n in range(3))
    area = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (c[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1])
    with np.errstate(invalid="ignore", divide="ignore"):
        u = ((b[:, 0] - x) * (c[:, 1] - y) - (c[:, 0] - x) * (b[:, 1] - y)) / area
        v = ((c[:, 0] - x) * (a[:, 1] - y) - (a[:, 0] - x) * (c[:, 1] - y)) / area
        w = 1 - u - v
        inside = (area != 0) & (np.minimum(np.minimum(u, v), w) >= -1e-9)
        z = u * a[:, 2] + v * b[:, 2] + w * c[:, 2]
    np.maximum.at(out, j[inside] * nx + i[inside], z[inside])


def _walls(height: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Cells with a step to a neighbour that no floor has."""
    wall = np.zeros(height.shape, dtype=bool)
    for axis in (0, 1):
        step = np.abs(np.diff(height, axis=axis)) > _WALL_STEP
        pad = [(0, 0), (0, 0)]
        for side in ((1, 0), (0, 1)):
            pad[axis] = side
            wall |= np.pad(step, pad)
    for _ in range(_WALL_CELLS):
        grown = wall.copy()
        grown[1:] |= wall[:-1]
        grown[:-1] |= wall[1:]
        grown[:, 1:] |= wall[:, :-1]
        grown[:, :-1] |= wall[:, 1:]
        wall = grown
    return wall


def _register(
    raw: NDArray[np.float64],
    usable: NDArray[np.bool_],
    register: Register,
    cell: float,
    origin: tuple[float, float],
) -> tuple[float, float, float]:
    if register == "none" or not usable.any():
        return (0.0, 0.0, 0.0)
    j, i = np.nonzero(usable)
    pick = np.unique(np.linspace(0, len(j) - 1, min(len(j), _MOST_FITTED)).astype(int))
    x, y = origin[0] + cell * i[pick], origin[1] + cell * j[pick]
    d = raw[j[pick], i[pick]]
    columns = np.ones((len(d), 1))
    if register == "tilt":
        if len(d) < 3 or np.ptp(x) == 0 or np.ptp(y) == 0:
            raise GaugeError("a tilt cannot be fitted: the surfaces share too little")
        columns = np.column_stack([np.ones(len(d)), x - x.mean(), y - y.mean()])
    fit = robust_least_squares(columns, d)
    if register == "offset":
        return (float(fit.value[0]), 0.0, 0.0)
    a, b, c = (float(v) for v in fit.value)
    return (a - b * float(x.mean()) - c * float(y.mean()), b, c)


def _statistics(
    left: NDArray[np.float64],
    known: NDArray[np.bool_],
    wall: NDArray[np.bool_],
    tolerance: float,
) -> dict[str, float]:
    used = left[known & ~wall]
    if not len(used):
        used = left[known]
    low, middle, high = np.percentile(used, [2.5, 50, 97.5])
    return {
        "mean": float(used.mean()),
        "rms": math.sqrt(float((used * used).mean())),
        "least": float(used.min()),
        "greatest": float(used.max()),
        "p2.5": float(low),
        "median": float(middle),
        "p97.5": float(high),
        "beyond": float((np.abs(used) > tolerance).mean()),
        "covered": float(known.mean()),
    }
