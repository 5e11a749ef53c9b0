"""Surface: the blank as a map of heights, stored so that only what was cut costs memory.

The blank is tiled by square cells from its front-left corner. Where its size is no multiple of
the cell, the last column and row stick out over the edge: their height is that of their centre
like any other, and only the part over the blank counts in a volume.

Inside, the map is kept as depth below the blank's top in whole steps of 2^-20 mm (about 1 nm),
so that every sum and every comparison has the same result in any order. Cells are grouped in
blocks of 8 x 8 and pages of 4 x 4 blocks; memory for a page is taken by the operating system when
it is first written to. A block that one motion lowered as a whole has only its depth and the row
noted (most of a pocket's floor does), not each cell.
"""

from __future__ import annotations

import contextlib
import math
import mmap
import os
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal, NamedTuple, cast
from zipfile import BadZipFile

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dryrun.job.model import Stock, Vector

#: Steps of depth in a millimetre.
STEPS: Final = 2**20
#: Cells along the side of a block, blocks along the side of a page, cells along that.
BLOCK: Final = 8
BLOCKS: Final = 4
PAGE: Final = BLOCK * BLOCKS
_CELLS: Final = BLOCK * BLOCK
#: What stands in a field's cells.
_DEPTH, _SIGN = range(2)
#: The whole of a cell's area, for the share of it that lies over the blank.
WHOLE: Final = 2**16

#: Depth that marks a cell beyond the blank.
OUTSIDE: Final = 2**30

_FORMAT: Final = 2
_SPARSE: Final = 2**29  # bytes; larger arrays take memory 4 KiB at a time
_AT_ONCE: Final = 2**27  # bytes; smaller arrays take all their memory at once
_LINE: Final = 64  # bytes that a processor fetches at once
_KEEP_DENSE: Final = 2**25  # cells; a larger dense view is made anew at each access


class Field(NamedTuple):
    """The arrays of a surface as the kernels see them.

    cells : int32 [page row, page column, 16, 2, 64] of each block: steps of depth at each cell's
        centre; 1 + row that last lowered it
    taken : int32 [page row, page column, 1024], block by block: mean depth over the area of each
        cell where its block is mixed
    levels : int32 [4, page row, page column, 16] of each block: least depth (and mean depth, where
        it is mixed); greatest depth; 1 where a wall passes through it (mixed); where it was lowered
        as a whole and its cells are not written, 1 + row, else 0
    shares : int32, share of each column, then of each row of cells over the blank, in 1/65536
    """

    cells: NDArray[np.int32]
    taken: NDArray[np.int32]
    levels: NDArray[np.int32]
    shares: NDArray[np.int32]


class SurfaceError(ValueError):
    """A surface that cannot be made or read."""


@dataclass(frozen=True, slots=True)
class Patch:
    """One page of a surface that was cut: place of its first cell, heights and rows."""

    iy: int
    ix: int
    height: NDArray[np.float32]
    cut_by: NDArray[np.int32]


class Surface:
    """The top of the blank, cut or not.

    Attributes
    ----------
    cell : float
        Side of a cell, mm.
    shape : (ny, nx)
        Number of cells along Y and X.
    origin : (x, y)
        Centre of the cell [0, 0] in the job frame, mm.
    low, high : (x, y, z)
        Corners of the blank in the job frame, mm.
    """

    def __init__(self, low: Vector, high: Vector, cell: float) -> None:
        size = (high[0] - low[0], high[1] - low[1], high[2] - low[2])
        if not all(math.isfinite(s) and s > 0 for s in size):
            raise SurfaceError(f"a blank of {size[0]:g} x {size[1]:g} x {size[2]:g} mm is no blank")
        if not (math.isfinite(cell) and cell > 0):
            raise SurfaceError(f"the cell must be more than 0 mm, not {cell:g}")
        if size[2] > 1000.0:
            raise SurfaceError(f"a blank {size[2]:g} mm thick is more than the map holds, 1000 mm")
        self.cell = float(cell)
        self.low, self.high = low, high
        nx, ny = (max(1, math.ceil(s / cell - 1e-6)) for s in size[:2])
        self.shape = (ny, nx)
        self.origin = (low[0] + cell / 2, low[1] + cell / 2)
        pages = (-(-ny // PAGE), -(-nx // PAGE))
        self._field = Field(
            cells=_lazy_zeros((*pages, BLOCKS * BLOCKS, 2, BLOCK * BLOCK), np.int32),
            taken=_lazy_zeros((*pages, PAGE * PAGE), np.int32),
            levels=_lazy_zeros((4, *pages, BLOCKS * BLOCKS), np.int32),
            shares=np.concatenate(
                [_shares(size[0], cell, nx, pages[1]), _shares(size[1], cell, ny, pages[0])]
            ),
        )
        self._dense: dict[str, NDArray[Any]] = {}
        if self._field.cells.nbytes <= _AT_ONCE:
            # threads that ask the system for memory at the same time wait for each other
            self._field.cells[:, :, ::8, 0, 0] = 0
        self._mark_outside()

    @classmethod
    def blank(cls, stock: Stock, cell: float = 0.1) -> Surface:
        """Return the uncut top of a blank, in cells of `cell` mm.

        Raises
        ------
        SurfaceError
            When the size or the cell is not a positive number.
        """
        return cls(stock.low, stock.high, cell)

    def __repr__(self) -> str:
        ny, nx = self.shape
        return f"Surface({nx} x {ny} cells of {self.cell:g} mm, lowest {self.lowest:g} mm)"

    @property
    def thickness(self) -> int:
        """Thickness of the blank in steps."""
        return round((self.high[2] - self.low[2]) * STEPS)

    # --- what a person asks ---

    @property
    def top(self) -> float:
        """Height of the blank's top, mm."""
        return self.high[2]

    @property
    def bed(self) -> float:
        """Height of the blank's underside, mm."""
        return self.low[2]

    @property
    def height(self) -> NDArray[np.float32]:
        """Heights at cell centres, float32 [ny, nx], job-frame mm, read-only.

        Made on demand from the stored pages. It may lie below the bed where the cutter went
        through. A large blank needs 4 bytes a cell for it: `patches`, `strips` and `reduced` do
        with less.
        """
        return cast(NDArray[np.float32], self._dense_view("height", np.float32))

    @property
    def cut_by(self) -> NDArray[np.int32]:
        """Row of the last motion that lowered each cell, int32 [ny, nx], -1 none, read-only."""
        return cast(NDArray[np.int32], self._dense_view("cut_by", np.int32))

    @property
    def lowest(self) -> float:
        """Lowest height of any cell centre, mm."""
        rows = (int(row.max()) for row in self._field.levels[1])
        return self.top - max(rows) / STEPS

    @property
    def removed_mm3(self) -> float:
        """Volume cut from the blank so far, mm³; walls count by the share of their cells."""
        total = 0
        for py, px in self._touched():
            total += self._taken_of_page(py, px)
        return total * self.cell**2 / STEPS

    def at(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.float32]:
        """Heights at the centres of the cells in which (x, y) lie, mm; NaN off the blank."""
        x, y = np.broadcast_arrays(np.asarray(x, np.float64), np.asarray(y, np.float64))
        ix, iy = self._column(x, 0), self._column(y, 1)
        ny, nx = self.shape
        inside = (ix >= 0) & (ix < nx) & (iy >= 0) & (iy < ny)
        ix, iy = np.where(inside, ix, 0), np.where(inside, iy, 0)
        found = self._found(iy, ix, _DEPTH)
        low = np.where(inside, self.top - found / STEPS, np.nan)
        return cast(NDArray[np.float32], low.astype(np.float32))

    def row_at(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.int32]:
        """Return what `cut_by` says at places (x, y): -1 for uncut cells and off the blank."""
        x, y = np.broadcast_arrays(np.asarray(x, np.float64), np.asarray(y, np.float64))
        ix, iy = self._column(x, 0), self._column(y, 1)
        ny, nx = self.shape
        inside = (ix >= 0) & (ix < nx) & (iy >= 0) & (iy < ny)
        ix, iy = np.where(inside, ix, 0), np.where(inside, iy, 0)
        found = self._found(iy, ix, _SIGN)
        return np.where(inside, found - 1, -1).astype(np.int32)

    # --- what pictures and large blanks use ---

    def patches(self) -> Iterator[Patch]:
        """Yield each page that was cut, row by row of pages."""
        ny, nx = self.shape
        for py, px in self._touched():
            iy, ix = py * PAGE, px * PAGE
            rows, columns = min(PAGE, ny - iy), min(PAGE, nx - ix)
            here = slice(px, px + 1)
            depth = _unfold(self._pages(py, here, _DEPTH))[:rows, :columns]
            cut = _unfold(self._pages(py, here, _SIGN))[:rows, :columns]
            yield Patch(iy, ix, self._heights(depth), cut - np.int32(1))

    def strips(self) -> Iterator[tuple[int, NDArray[np.float32]]]:
        """Yield (first row, heights [up to 32, nx]) from the front to the back of the blank."""
        ny, nx = self.shape
        for py in range(self._field.levels.shape[1]):
            rows = min(PAGE, ny - py * PAGE)
            yield py * PAGE, self._strip(py, "height")[:rows, :nx]

    def reduced(
        self, step: int, keep: Literal["lowest", "highest"] = "lowest"
    ) -> NDArray[np.float32]:
        """Return the map with step x step cells made one, which has the lowest (highest) of them.

        A narrow groove is thus never lost in a small picture. Shape [ceil(ny/step),
        ceil(nx/step)], float32 mm.
        """
        if step < 1:
            raise SurfaceError(f"cannot make {step} cells one")
        ny, nx = self.shape
        pick = np.minimum if keep == "lowest" else np.maximum
        start = np.float32(np.inf if keep == "lowest" else -np.inf)
        out = np.full((-(-ny // step), -(-nx // step)), start, np.float32)
        columns = np.arange(0, nx, step)
        for first, heights in self.strips():
            across = pick.reduceat(heights, columns, axis=1)
            pick.at(out, np.arange(first, first + len(heights)) // step, across)
        return out

    def copy(self) -> Surface:
        """Return an independent copy; untouched parts cost nothing."""
        other = Surface(self.low, self.high, self.cell)
        for py, px in self._touched():
            other._field.cells[py, px] = self._field.cells[py, px]
            if self._field.levels[2, py, px].any():
                other._field.taken[py, px] = self._field.taken[py, px]
            other._field.levels[:, py, px] = self._field.levels[:, py, px]
        return other

    def save(self, path: str | os.PathLike[str]) -> None:
        """Write the surface to a .npz file; the old file stays whole until the new one is."""
        target = Path(path)
        pages = np.array(list(self._touched()), dtype=np.int32).reshape(-1, 2)
        py, px = pages.T
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=target.name, suffix=".part")
        try:
            with os.fdopen(handle, "wb") as file:
                np.savez_compressed(
                    file, format=_FORMAT, low=self.low, high=self.high, cell=self.cell,
                    pages=pages, cells=self._field.cells[py, px], taken=self._field.taken[py, px],
                    levels=self._field.levels[:, py, px],
                )  # fmt: skip
            Path(name).replace(target)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise

    @classmethod
    def load(cls, path: str | os.PathLike[str]) -> Surface:
        """Read a surface that `save` wrote.

        Raises
        ------
        SurfaceError
            When the file is no such surface. OSError when it cannot be read.
        """
        try:
            with Path(path).open("rb") as file, np.load(file, allow_pickle=False) as data:
                if int(data["format"]) != _FORMAT:
                    raise SurfaceError(f"{os.fspath(path)} was written by another version")
                low, high = ([float(v) for v in data[key]] for key in ("low", "high"))
                surface = cls(
                    (low[0], low[1], low[2]), (high[0], high[1], high[2]), float(data["cell"])
                )
                py, px = data["pages"].reshape(-1, 2).T
                surface._field.cells[py, px] = data["cells"]
                surface._field.taken[py, px] = data["taken"]
                surface._field.levels[:, py, px] = data["levels"]
        except (KeyError, IndexError, TypeError, EOFError, ValueError, BadZipFile) as error:
            if isinstance(error, SurfaceError):
                raise
            raise SurfaceError(f"{os.fspath(path)} is no surface that dryrun wrote") from error
        return surface

    # --- inside the room ---

    def field(self) -> Field:
        """Return the arrays that kernels read and write; drops the dense views."""
        self._dense.clear()
        return self._field

    def _mark_outside(self) -> None:
        """Give the cells beyond the blank a depth that nothing reaches."""
        ny, nx = self.shape
        depth = self._field.cells[:, :, :, _DEPTH]
        side = np.arange(PAGE)
        iy, ix = np.meshgrid(side, side, indexing="ij")
        place = _place_in_page(iy, ix)
        if nx % PAGE:
            beyond = place[ix >= nx % PAGE]
            depth[:, -1, beyond // _CELLS, beyond % _CELLS] = OUTSIDE
        if ny % PAGE:
            beyond = place[iy >= ny % PAGE]
            depth[-1][:, beyond // _CELLS, beyond % _CELLS] = OUTSIDE

    def _found(
        self, iy: NDArray[np.int64], ix: NDArray[np.int64], what: int
    ) -> NDArray[np.int32]:
        """Depths (_DEPTH) or signs of rows (_SIGN) of single cells."""
        block, cell = np.divmod(_place_in_page(iy, ix), _CELLS)
        at = iy // PAGE, ix // PAGE, block
        least, _, _, whole = (level[at] for level in self._field.levels)
        alike = least if what == _DEPTH else whole
        return np.where(whole != 0, alike, self._field.cells[(*at, what, cell)])

    def _pages(self, py: int, px: slice, what: int) -> NDArray[np.int32]:
        """Depths or signs of some pages of a row of pages, [n, 1024]."""
        least, _, _, whole = (level[py, px] for level in self._field.levels)
        cells = self._field.cells[py, px, :, what]
        if whole.any():
            alike = least if what == _DEPTH else whole
            cells = np.where(whole[:, :, None] != 0, alike[:, :, None], cells)
        return cells.reshape(len(cells), PAGE * PAGE)

    def _column(self, value: NDArray[np.float64], axis: int) -> NDArray[np.int64]:
        scaled = np.floor((value - self.low[axis]) / self.cell)
        return np.where(np.isfinite(scaled), scaled, -1).astype(np.int64)

    def _touched(self) -> Iterator[tuple[int, int]]:
        _, deep, mixed, _ = self._field.levels
        for py in range(len(deep)):
            touched = deep[py].any(axis=1) | mixed[py].any(axis=1)
            for px in np.flatnonzero(touched):
                yield py, int(px)

    def _taken_of_page(self, py: int, px: int) -> int:
        thick = self.thickness
        mixed = np.repeat(self._field.levels[2, py, px], _CELLS) != 0
        whole = self._pages(py, slice(px, px + 1), _DEPTH)[0]
        depth = np.where(mixed, self._field.taken[py, px], whole)
        depth = np.minimum(depth.astype(np.int64), thick)
        columns = self._field.levels.shape[2] * PAGE
        share_x = self._field.shares[px * PAGE : (px + 1) * PAGE].astype(np.int64)
        share_y = self._field.shares[columns + py * PAGE :][:PAGE].astype(np.int64)
        share = (share_y[:, None] * share_x[None, :]) >> 16
        return int(((_unfold(depth[None, :]) * share) >> 16).sum())

    def _heights(self, depth: NDArray[np.int32]) -> NDArray[np.float32]:
        return cast(NDArray[np.float32], (self.top - depth / STEPS).astype(np.float32))

    def _strip(self, py: int, what: str) -> NDArray[Any]:
        columns = self._field.levels.shape[2] * PAGE
        if not self._field.levels[1, py].any():
            blank = np.float32(self.top) if what == "height" else np.int32(-1)
            return np.full((PAGE, columns), blank)
        if what == "height":
            return self._heights(_unfold(self._pages(py, slice(None), _DEPTH)))
        return cast(NDArray[Any], _unfold(self._pages(py, slice(None), _SIGN)) - np.int32(1))

    def _dense_view(self, what: str, dtype: type) -> NDArray[Any]:
        if what in self._dense:
            return self._dense[what]
        ny, nx = self.shape
        out = np.empty((ny, nx), dtype)
        for py in range(self._field.levels.shape[1]):
            rows = min(PAGE, ny - py * PAGE)
            out[py * PAGE : py * PAGE + rows] = self._strip(py, what)[:rows, :nx]
        out.flags.writeable = False
        if ny * nx <= _KEEP_DENSE:
            self._dense[what] = out
        return out


def _place_in_page(iy: NDArray[np.int64], ix: NDArray[np.int64]) -> NDArray[np.int64]:
    block = (iy % PAGE // BLOCK) * BLOCKS + ix % PAGE // BLOCK
    return block * BLOCK * BLOCK + (iy % BLOCK) * BLOCK + ix % BLOCK


def _unfold(pages: NDArray[Any]) -> NDArray[Any]:
    """Pages [n, 1024] of one row of pages as rows of cells, [32, 32 n]."""
    n = len(pages)
    folded = pages.reshape(n, BLOCKS, BLOCKS, BLOCK, BLOCK)
    return folded.transpose(1, 3, 0, 2, 4).reshape(PAGE, n * PAGE)


def _shares(size: float, cell: float, count: int, pages: int) -> NDArray[np.int32]:
    share = np.zeros(pages * PAGE, np.int32)
    share[:count] = WHOLE
    share[count - 1] = max(1, min(WHOLE, round((size / cell - (count - 1)) * WHOLE)))
    return share


def _lazy_zeros(shape: tuple[int, ...], dtype: type) -> NDArray[Any]:
    """Return zeros that take memory only where they are written.

    numpy asks for huge pages for large arrays: few faults, but each touched corner costs 2 MiB,
    which is right for a part and too much for a sheet. They begin on a line of the cache, else
    each vector of 64 bytes would lie on two of them.
    """
    size = math.prod(shape) * np.dtype(dtype).itemsize
    if size < _SPARSE or sys.platform == "win32":
        memory = np.zeros(size + _LINE, np.uint8)
        first = -memory.ctypes.data % _LINE
        return memory[first : first + size].view(dtype).reshape(shape)
    unreserved = getattr(mmap, "MAP_NORESERVE", 0x4000 if sys.platform == "linux" else 0)
    flags = mmap.MAP_PRIVATE | mmap.MAP_ANONYMOUS | unreserved
    mapped = mmap.mmap(-1, size, flags=flags)
    if hasattr(mmap, "MADV_NOHUGEPAGE"):
        with contextlib.suppress(OSError):  # a kernel without huge pages
            mapped.madvise(mmap.MADV_NOHUGEPAGE)
    return np.frombuffer(mapped, dtype).reshape(shape)
