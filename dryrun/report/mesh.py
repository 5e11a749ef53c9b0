"""The predicted blank as a solid: triangles of a closed surface, and files of them.

Corners stand at the centres of the map's cells; the outermost are moved out to the blank's edge, so
that the solid has the blank's length and width. Where the bit came through there is a hole.

trimesh is needed for writing files only, and is imported there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Protocol

import numpy as np
from numpy.typing import NDArray

from dryrun.removal.surface import Surface

#: Files the solid can be written to.
MESH_KINDS: Final = ("stl", "glb", "ply")

#: Most triangles unless another number is asked for.
MOST_TRIANGLES: Final = 1_000_000

#: A floor no thicker than this is a hole, mm. A cell beside a hole keeps a skin of it.
SKIN: Final = 0.002


class Measures(Protocol):
    """The measures of a blank: corners (mm), side of a cell, height of the bed."""

    @property
    def low(self) -> tuple[float, float, float]: ...  # noqa: D102
    @property
    def high(self) -> tuple[float, float, float]: ...  # noqa: D102
    @property
    def cell(self) -> float: ...  # noqa: D102
    @property
    def bed(self) -> float: ...  # noqa: D102


@dataclass(frozen=True, slots=True)
class Solid:
    """A closed surface.

    Attributes
    ----------
    vertices : (n, 3) float64, job frame, mm
    faces : (m, 3) int64, counter-clockwise seen from outside
    step : cells of the map along the side of one of the solid's
    cell : side of the solid's cells, mm
    """

    vertices: NDArray[np.float64]
    faces: NDArray[np.int64]
    step: int
    cell: float


def solid(surface: Surface, most: int = MOST_TRIANGLES) -> Solid:
    """Return the blank as a closed solid of at most about `most` triangles.

    Where the map is finer than that, several cells become one that has the lowest of them.

    Raises
    ------
    ValueError
        When `most` is too few for any solid.
    """
    if most < 64:
        raise ValueError(f"{most} triangles are too few for a solid")
    cells = surface.shape[0] * surface.shape[1]
    step = max(1, math.ceil(math.sqrt(2.0 * cells / most)))
    while True:
        heights = np.asarray(surface.reduced(step), np.float64)
        made = solid_of(heights, surface, step)
        if len(made.faces) <= most or min(heights.shape) <= 4:
            return made
        step = max(step + 1, math.ceil(step * math.sqrt(len(made.faces) / most)))


def solid_of(
    heights: NDArray[np.float64], surface: Measures, step: int, *, holes: bool = True
) -> Solid:
    """Return the solid under a map of heights (ny, nx) in cells of `step` of the surface's.

    Without `holes` the faces are the same whatever the heights, a thin skin where there is none.
    """
    if min(heights.shape) < 2:
        heights = np.repeat(np.repeat(heights, 2, axis=0), 2, axis=1)
    ny, nx = heights.shape
    x = _corners(surface.low[0], surface.high[0], nx, surface.cell * step)
    y = _corners(surface.low[1], surface.high[1], ny, surface.cell * step)
    bed = surface.bed
    through = heights <= bed + SKIN
    top = np.where(through, bed + SKIN, heights)
    kept = ~(through[:-1, :-1] & through[1:, :-1] & through[:-1, 1:] & through[1:, 1:])
    kept = _without_pinches(kept) if holes else np.ones_like(kept)
    gx, gy = np.meshgrid(x, y)
    vertices = np.concatenate([
        np.stack([gx, gy, top], axis=-1).reshape(-1, 3),
        np.stack([gx, gy, np.full_like(top, bed)], axis=-1).reshape(-1, 3),
    ])  # fmt: skip
    faces = _faces(kept)
    used, index = np.unique(faces, return_inverse=True)
    return Solid(vertices[used], index.reshape(-1, 3), step, surface.cell * step)


def _corners(low: float, high: float, count: int, cell: float) -> NDArray[np.float64]:
    """Return the places of corners: cell centres, the first and last at the blank's edges."""
    places = np.asarray(low + (np.arange(count) + 0.5) * cell, np.float64)
    places[0], places[-1] = low, high
    if count > 2:
        places[-2] = min(places[-2], (places[-3] + high) / 2)
    return places


def _without_pinches(kept: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Fill holes that touch at one corner only, where the surface would not be one."""
    kept = kept.copy()
    while True:
        a, b = kept[:-1, :-1], kept[:-1, 1:]
        c, d = kept[1:, :-1], kept[1:, 1:]
        pinch = (a & d & ~b & ~c) | (b & c & ~a & ~d)
        if not pinch.any():
            return kept
        for part in (a, b, c, d):
            part |= pinch


def _faces(kept: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Return the faces of top, bottom and all walls; bottom corners come after those of the top."""
    ny, nx = kept.shape[0] + 1, kept.shape[1] + 1
    below = ny * nx
    number = np.arange(below).reshape(ny, nx)
    a, b = number[:-1, :-1][kept], number[:-1, 1:][kept]
    d, c = number[1:, :-1][kept], number[1:, 1:][kept]
    parts = [_quads(a, b, c, d), _quads(a + below, d + below, c + below, b + below)]
    outside = np.pad(kept, 1)
    inner = outside[1:-1, 1:-1]
    for gone, first, last in (
        (~outside[:-2, 1:-1], np.s_[:-1, :-1], np.s_[:-1, 1:]),  # the side towards the front
        (~outside[1:-1, 2:], np.s_[:-1, 1:], np.s_[1:, 1:]),  # right
        (~outside[2:, 1:-1], np.s_[1:, 1:], np.s_[1:, :-1]),  # back
        (~outside[1:-1, :-2], np.s_[1:, :-1], np.s_[:-1, :-1]),  # left
    ):
        edge = inner & gone
        p, q = number[first][edge], number[last][edge]
        parts.append(_quads(p + below, q + below, q, p))
    return np.concatenate(parts)


def _quads(
    a: NDArray[np.int64], b: NDArray[np.int64], c: NDArray[np.int64], d: NDArray[np.int64]
) -> NDArray[np.int64]:
    return np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d])])


def write_solid(made: Solid, path: Path, kind: str) -> str:
    """Write a solid to a file and say in words what the file holds.

    Raises
    ------
    ImportError
        When trimesh is not installed.
    """
    import trimesh

    vertices = made.vertices
    words = "millimetres, Z up, zero at the work zero"
    if kind == "glb":
        # glTF 2.0, 3.3 "Coordinate System and Units": metres, +Y up, right-handed.
        vertices = np.column_stack([vertices[:, 0], vertices[:, 2], -vertices[:, 1]]) / 1000.0
        words = "metres, Y up (as glTF wants it), zero at the work zero"
    mesh: Any = trimesh.Trimesh(vertices, made.faces, process=False)
    # Normals of corners are left out: readers make their own, and without SciPy they take minutes.
    more = {"include_normals": False} if kind == "glb" else {}
    path.write_bytes(mesh.export(file_type=kind, **more))
    triangles = f"{len(made.faces):,} triangles"
    return f"{triangles} in cells of {made.cell:g} mm; {words}"
