"""A target surface: how far each bit would gouge it and what it would leave.

The target comes as a mesh (STL and what trimesh reads) in the job frame, or as a picture of
heights laid over the blank, white at its top.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.files import read_grey
from dryrun.fitting.models import Evidence
from dryrun.job.model import Bit, Stock
from dryrun.motion import Motion
from dryrun.units import Units, format_length

#: Cells across the longer side.
CELLS: Final = 500
FINEST: Final = 0.05

#: How much the comparison counts, in readings that would be independent of each other.
READINGS: Final = 8.0

#: A height picture has no finer steps than this part of its range.
PICTURES: Final = (".png", ".tif", ".tiff", ".bmp", ".pgm", ".jpg", ".jpeg", ".webp")


class TargetError(ValueError):
    """A target that cannot be read, or lies nowhere near the path."""


@dataclass(frozen=True, slots=True)
class Target:
    """Heights that are wanted.

    Attributes
    ----------
    height : (ny, nx) float64, mm, job frame; NaN where nothing is wanted
    low : (x, y) of the front left corner of the first cell, mm
    cell : mm
    top : mm, height of the material before cutting
    """

    height: NDArray[np.float64]
    low: tuple[float, float]
    cell: float
    top: float


def read_target(
    path: str | Path, stock: Stock | None = None, depth: float | None = None, unit: Units = "mm"
) -> Target:
    """Read a target surface.

    Parameters
    ----------
    path : path
        A mesh in the job frame, or a picture.
    stock : Stock, optional
        The blank; a picture needs it, it covers the top.
    depth : float, optional
        How far below the top black lies in a picture, mm.
    unit : "mm" or "in"
        Of the mesh, which does not say.

    Raises
    ------
    TargetError
    OSError
    """
    if Path(path).suffix.lower() in PICTURES:
        return _from_picture(path, stock, depth)
    return _from_mesh(path, stock, 25.4 if unit == "in" else 1.0)


def _from_picture(path: str | Path, stock: Stock | None, depth: float | None) -> Target:
    from PIL import UnidentifiedImageError

    if stock is None or depth is None or not depth > 0:
        raise TargetError(
            "a picture of heights needs the blank it covers and how deep black is "
            "(--stock, --zero, --target-depth)"
        )
    try:
        grey = read_grey(path)
    except FileNotFoundError:
        raise
    except UnidentifiedImageError as error:
        raise TargetError(f"{path}: no picture that can be read") from error
    except Exception as error:  # pillow raises whatever its readers raise
        raise TargetError(f"{path}: no picture that can be read ({error})") from error
    most = 65535.0 if grey.max() > 255 else 255.0
    cell = _cell(stock.size[0], stock.size[1])
    ny, nx = max(1, math.ceil(stock.size[1] / cell)), max(1, math.ceil(stock.size[0] / cell))
    row = ((np.arange(ny) + 0.5) / ny * grey.shape[0]).astype(int)[::-1]
    column = ((np.arange(nx) + 0.5) / nx * grey.shape[1]).astype(int)
    height = stock.top - depth * (1 - grey[np.ix_(row, column)].astype(np.float64) / most)
    return Target(height, (stock.low[0], stock.low[1]), cell, stock.top)


def _from_mesh(path: str | Path, stock: Stock | None, scale: float) -> Target:
    import trimesh

    if not Path(path).is_file():
        raise TargetError(f"{path}: there is no such file")
    try:
        mesh = trimesh.load_mesh(str(path))
        corners = np.asarray(mesh.triangles, float) * scale
    except Exception as error:  # trimesh raises whatever its readers raise
        raise TargetError(f"{path}: no mesh that can be read ({error})") from error
    if not len(corners) or not np.isfinite(corners).all():
        raise TargetError(f"{path}: the mesh has no triangles")
    low, high = corners.min(axis=(0, 1)), corners.max(axis=(0, 1))
    cell = _cell(high[0] - low[0], high[1] - low[1])
    shape = (
        max(1, math.ceil((high[1] - low[1]) / cell)),
        max(1, math.ceil((high[0] - low[0]) / cell)),
    )
    height = np.full(shape, -np.inf)
    from dryrun.fitting.heights import lay_triangles

    lay_triangles(corners, float(low[0]), float(low[1]), cell, height)
    height[np.isinf(height)] = np.nan
    top = float(high[2]) if stock is None else stock.top
    return Target(height, (float(low[0]), float(low[1])), cell, top)


def _cell(x: float, y: float) -> float:
    return max(FINEST, max(x, y) / CELLS)


def compare_target(
    motion: Motion, bits: Sequence[Bit], target: Target, unit: Units = "mm"
) -> list[list[Evidence]]:
    """Cut the target's blank with each bit and compare: one list of evidence for each.

    Raises
    ------
    TargetError
        When no bit cuts anything where the target is.
    """
    return compare_cuts([cut_to_target(motion, bit, target) for bit in bits], target, unit)


def compare_cuts(
    cuts: Sequence[NDArray[np.float32] | None], target: Target, unit: Units = "mm"
) -> list[list[Evidence]]:
    """Compare what bits left with the target: one list of evidence for each.

    Parameters
    ----------
    cuts : sequence of (ny, nx) float32 or None
        The results of `cut_to_target`, one for each bit.
    target : Target
        What is wanted.
    unit : "mm" or "in"
        For people.

    Raises
    ------
    TargetError
        When no bit cuts anything where the target is.
    """
    wanted = np.isfinite(target.height)
    touched = np.zeros(target.height.shape, bool)
    for height in cuts:
        if height is not None:
            touched |= height.astype(np.float64) < target.top - 0.01
    touched &= wanted
    if not touched.any():
        raise TargetError("the program cuts nothing where the target is; is it in the job frame?")
    slack = 0.02 + 0.2 * target.cell
    return [
        [Evidence("target", -3.0, "cuts under material, which cannot be compared with the target")]
        if height is None
        else [_evidence(height[touched] - target.height[touched], slack, unit)]
        for height in cuts
    ]


def _evidence(off: NDArray[np.float64], slack: float, unit: Units) -> Evidence:
    gouge, left = np.maximum(-off, 0.0), np.maximum(off, 0.0)
    # Robust at walls, where one cell's width is a great height.
    square = np.minimum(gouge, 1.0) ** 2 * 2 + np.minimum(left, 1.0) ** 2
    error = math.sqrt(float(square.mean()) + slack * slack)
    deep = float(np.quantile(gouge, 0.98))
    text = (
        f"against the target it cuts {float((gouge > 2 * slack).mean()):.0%} too deep "
        f"(by up to {format_length(round(deep, 3), unit)}) and leaves "
        f"{format_length(round(float(left.mean()), 3), unit)} on average"
    )
    return Evidence("target", -READINGS * math.log(error), text)


def cut_to_target(
    motion: Motion, bit: Bit, target: Target, threads: int | None = None
) -> NDArray[np.float32] | None:
    """Return the heights a bit leaves where the target is, (ny, nx) mm; None when it undercuts."""
    from dryrun.removal.profile import UndercutBit
    from dryrun.removal.simulate import remove
    from dryrun.removal.surface import Surface

    ny, nx = target.height.shape
    deepest = float(np.nanmin(motion.end[:, 2], initial=target.top)) if len(motion) else target.top
    bed = min(deepest, float(np.nanmin(target.height))) - 1.0
    low = (target.low[0], target.low[1], max(bed, target.top - 900.0))
    high = (target.low[0] + nx * target.cell, target.low[1] + ny * target.cell, target.top)
    surface = Surface(low, high, target.cell)
    try:
        remove(surface, motion, bit, threads=threads)
    except UndercutBit:
        return None
    return surface.height[:ny, :nx].copy()
