"""What the cutting kernels work on: pieces of path, tools, the ground, and where numbers stand.

Numbers that change from piece to piece stand in two small arrays, one of real and one of whole
numbers; the arrays themselves are lent as addresses (module `lend`). So a function of the inner
kernels takes one `Lent` and little else.
"""

from __future__ import annotations

import math
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.removal import blocks
from dryrun.removal.blocks import (
    CELLS,
    DX,
    DY,
)
from dryrun.removal.commit import (
    EDGE_SHARES,
)
from dryrun.removal.profile import (
    NUMBERS,
)

#: Kinds of pieces. The vector code takes LINE and ARC; what has no vector form is STEEP
#: (a line) or HELIX (any arc about Z).
LINE: Final = 0
ARC: Final = 1
STEEP: Final = 2
HELIX: Final = 3

#: Which end of a line, its lower or its higher one, joins the piece before it.
AT_LOW: Final = 1
AT_HIGH: Final = 2

#: Columns of a piece's data for a line from its lower end; the last two tell how far the path goes on
#: beyond its lower and its higher end as it did before ...
X, Y, Z, UX, UY, LENGTH, RISE, BELOW, ABOVE = range(9)
#: ... and for an arc, counter-clockwise: centre, height of the start, radius, angle of the start,
#: sweep, rise per radian.
A_RADIUS, A_BEGIN, A_SWEEP, A_RISE = 3, 4, 5, 6
ARC_DATA: Final = 7
DATA: Final = 9

#: Numbers of the frame: the blank's corner, cell, top ...
LOW_X, LOW_Y, CELL, TOP = range(4)
#: ... and of the grid: pages and cells along Y and X, thickness in steps, tiles along X, pages
#: along the side of a tile.
PAGES_Y, PAGES_X, NY, NX, THICK, TILES_X, TILE_PAGES = range(7)
#: Whole numbers the kernels look up: the grid, then rings, blocks in a section, and what is cut.
RINGS, TILE, TOOL_INDEX, ENTRY, KIND, ROW = range(7, 13)
LEVEL_FLAT, RIM_DEPTH, BLOCKS, JOINED, BASE, SHORT_WAY, SHORT, TIP_DEPTH, GOES_ON = range(13, 22)
#: And how many steps deeper than its centre a cell may be at the edge of a cut.
OVERHANG: Final = 22
#: Whether a piece hardly moves sideways, so that its cut is round wherever it is.
PLUNGES: Final = 23
#: And whether the mean depths of all cells of a block count where the surface bends in it.
WHOLLY: Final = 24
#: And whether little but the edge of a cut is over the blank.
EDGE_ALONE: Final = 25
WHOLES: Final = 26
#: Real numbers the kernels look up: the tool, then the frame, then the piece.
FRAME, PIECE = NUMBERS, NUMBERS + 4
#: Ways through a block.
LONG_WAY, BALL_WAY, DISC_WAY = range(3)
#: And how far the tool may stand behind the point that it touches.
OFFSET: Final = PIECE + DATA
#: And how near a level disc's wall may pass by the middle of a block (`disc.look_along`).
HALF, NEAR_LINE, SPAN, CENTRAL = range(OFFSET + 1, OFFSET + 5)
#: And the radii at which the cutter leaves the top of the blank where the piece is least and most deep.
EDGE_FROM, EDGE_TO = OFFSET + 5, OFFSET + 6
#: And how far the blank goes along X and Y.
FAR_X, FAR_Y = OFFSET + 7, OFFSET + 8
REALS: Final = OFFSET + 9

STEPS_PER_MM: Final = 2.0**20
#: The share of a row or column of cells that lies wholly over the blank.
WHOLE_SHARE: Final = 65536
MOST_MM: Final = 1000.0
#: To this depth 64 columns make a sum of 31 bits.
SHALLOW: Final = 2**25 - 1
PAGE_CELLS: Final = 1024
PAGE_BLOCKS: Final = 16
#: Bytes that processors fetch at once, with a neighbour.
_LINES: Final = 256
#: Rows of the work space for the middles of a page's blocks.
MIDDLE_X, MIDDLE_Y = blocks.WORK_ROWS, blocks.WORK_ROWS + 1
#: And for a block's cells as a line sees them: how far along it and beside it from the middle.
ALONG, BESIDE = blocks.WORK_ROWS + 2, blocks.WORK_ROWS + 3
#: And for the middles of a page's blocks, from the place of the line nearest to the page's middle.
BLOCK_U, BLOCK_W = blocks.WORK_ROWS + 4, blocks.WORK_ROWS + 5
#: And for how a line lies as seen from the pages of a tile (as in `blocks.PLACE`), page by page.
VIEW_U, VIEW_W, VIEW_FROM, VIEW_TO = range(blocks.WORK_ROWS + 6, blocks.WORK_ROWS + 10)
#: And for a ball and its line in single precision: their numbers, as `ball` names them.
BALL_LINE: Final = blocks.WORK_ROWS + 10
#: And for how far beside its line a ball has taken columns, cell by cell of all blocks.
LEFTS, RIGHTS = blocks.WORK_ROWS + 11, blocks.WORK_ROWS + 12
#: So many pages the largest tile has.
_MOST_PAGES: Final = CELLS
#: The notes hold the bounds of a page's blocks, and the shares of the rows and columns of one block
#: at the blank's edge; whole numbers of a ball and its line; for each page of a tile the line's base
#: depth; of the pages within reach their numbers in the tile, the numbers of their first blocks in the
#: field, the ways found in them, and the way of each of their blocks; and two lists of blocks from
#: either end of a place that holds all of a tile (module `ball`).
BALL_LIMITS: Final = EDGE_SHARES + 16
VIEW_BASE: Final = BALL_LIMITS + 16
NEAR_PAGES: Final = VIEW_BASE + _MOST_PAGES
NEAR_FIRST: Final = NEAR_PAGES + _MOST_PAGES
NEAR_FOUND: Final = NEAR_FIRST + _MOST_PAGES
NEAR_WAYS: Final = NEAR_FOUND + _MOST_PAGES
LISTED: Final = NEAR_WAYS + _MOST_PAGES * PAGE_BLOCKS
LISTED_END: Final = LISTED + _MOST_PAGES * PAGE_BLOCKS
_NOTES: Final = LISTED_END + 1
#: From the middle of a block to its outermost cell centres, in cells (and a hair).
SPREAD: Final = 4.96
#: With larger cells than this, mm, blocks are too far from the middle of their page for float32.
COARSE: Final = 0.25


class Pieces(NamedTuple):
    """Parts of motions with one closed form each, in program order.

    kind : int32 (n,) LINE, ARC, STEEP or HELIX
    row : int32 (n,) motion row
    tool : int32 (n,) 0 the cutter; others are discs that must not touch
    joined : int32 (n,) AT_LOW or AT_HIGH for a line that begins there where the piece before it
        ended, else 0: what lies nearest to that end was cut by the piece before
    data : float64 (n, 9)
    """

    kind: NDArray[np.int32]
    row: NDArray[np.int32]
    tool: NDArray[np.int32]
    joined: NDArray[np.int32]
    data: NDArray[np.float64]


class Tools(NamedTuple):
    """Profiles: `numbers` float64 (t, 9), the cutter first; `rings` of the cutter's form."""

    numbers: NDArray[np.float64]
    rings: NDArray[np.float64]


class Ground(NamedTuple):
    """A surface flattened for the kernels: `surface.Field`, numbers of the frame and the grid."""

    cells: NDArray[np.int32]
    taken: NDArray[np.int32]
    levels: NDArray[np.int32]
    shares: NDArray[np.int32]
    frame: tuple[float, float, float, float]
    grid: tuple[int, int, int, int, int, int, int]


class Bins(NamedTuple):
    """Pieces by tile: those of tile t are piece[first[t] : first[t + 1]]."""

    first: NDArray[np.int64]
    piece: NDArray[np.int32]


class Space(NamedTuple):
    """Work space of one call of `cut_tiles`; what each array is for: `Lent`."""

    work: NDArray[np.float32]
    out: NDArray[np.int32]
    notes: NDArray[np.int32]
    real: NDArray[np.float64]
    whole: NDArray[np.int64]
    before: NDArray[np.int32]
    means: NDArray[np.int32]


def work_space(ground: Ground, rings: int) -> Space:
    """Return work space for a call of `cut_tiles`."""
    cell, side = ground.frame[CELL], ground.grid[TILE_PAGES]
    pages = side * side
    space = Space(
        *_apart(
            ((blocks.WORK_ROWS + 13, CELLS), np.float32),
            ((3, CELLS), np.int32),
            ((_NOTES,), np.int32),
            ((REALS,), np.float64),
            ((WHOLES,), np.int64),
            ((pages * PAGE_CELLS,), np.int32),
            ((pages * PAGE_CELLS,), np.int32),
        )
    )
    k, b = np.arange(CELLS), np.arange(PAGE_BLOCKS)
    space.work[DX], space.work[DY] = ((k & 7) - 3.5) * cell, ((k >> 3) - 3.5) * cell
    space.work[blocks.SIZE_X] = space.work[blocks.SIZE_Y] = cell
    space.work[MIDDLE_X, :PAGE_BLOCKS] = ((b & 3) - 1.5) * 8.0 * cell
    space.work[MIDDLE_Y, :PAGE_BLOCKS] = ((b >> 2) - 1.5) * 8.0 * cell
    space.work[blocks.TOOL, blocks.CELL] = cell
    space.real[FRAME : FRAME + 4] = ground.frame
    space.real[FAR_X], space.real[FAR_Y] = _far_corner(ground)
    space.whole[: len(ground.grid)] = ground.grid
    space.whole[BLOCKS] = ground.grid[PAGES_Y] * ground.grid[PAGES_X] * PAGE_BLOCKS
    space.whole[RINGS] = rings
    space.whole[TOOL_INDEX] = -1
    return space


def _far_corner(ground: Ground) -> tuple[float, float]:
    """Return where the blank ends along X and Y, mm; its last cells may lie partly over it."""
    nx, ny, rows = ground.grid[NX], ground.grid[NY], ground.grid[PAGES_X] * 32
    parts = ground.shares[nx - 1] / WHOLE_SHARE, ground.shares[rows + ny - 1] / WHOLE_SHARE
    x, y, cell = ground.frame[LOW_X], ground.frame[LOW_Y], ground.frame[CELL]
    return x + (nx - 1 + float(parts[0])) * cell, y + (ny - 1 + float(parts[1])) * cell


def _apart(*wanted: tuple[tuple[int, ...], type]) -> list[NDArray[Any]]:
    """Return zeros of these shapes and types, on memory that no other thread writes near to.

    Two threads that write to the same line of the cache wait for each other at every write; small
    arrays made one by one lie side by side.
    """
    sizes = [math.prod(shape) * np.dtype(dtype).itemsize for shape, dtype in wanted]
    padded = [-(-size // _LINES) * _LINES for size in sizes]
    memory = np.zeros(sum(padded) + 3 * _LINES, np.uint8)
    place = _LINES - memory.ctypes.data % _LINES + _LINES
    arrays = []
    for (shape, dtype), size, room in zip(wanted, sizes, padded, strict=True):
        arrays.append(memory[place : place + size].view(dtype).reshape(shape))
        place += room
    return arrays


class Lent(NamedTuple):
    """What the kernels of one thread work on, lent (module `lend`).

    cells, levels, shares, tallies : of the ground and the bins
    work, out, notes : work space for a block
    real, whole : numbers of the tool, the frame and the piece; of the grid and the entry
    before : depths of a tile before a row of several pieces
    taken : mean depths of the ground
    means : mean depths of a tile where its blocks are mixed (module `commit`), block by block
    rings : of the cutter's form
    """

    cells: Any
    levels: Any
    shares: Any
    tallies: Any
    work: Any
    out: Any
    notes: Any
    real: Any
    whole: Any
    before: Any
    taken: Any
    means: Any
    rings: Any


class Given(NamedTuple):
    """The pieces, the tools' numbers and the entries of the bins, lent."""

    kind: Any
    row: Any
    tool: Any
    joined: Any
    data: Any
    numbers: Any
    entries: Any
