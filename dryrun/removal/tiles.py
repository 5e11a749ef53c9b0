"""Sorting pieces into tiles, once, in program order inside each tile."""

from __future__ import annotations

import math
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dryrun.jit import inner_kernel, kernel
from dryrun.removal.exact import arc_distances
from dryrun.removal.ground import (
    A_BEGIN,
    A_RADIUS,
    A_RISE,
    A_SWEEP,
    ARC,
    CELL,
    HELIX,
    LENGTH,
    LINE,
    LOW_X,
    LOW_Y,
    PAGES_X,
    PAGES_Y,
    STEEP,
    TILE_PAGES,
    TILES_X,
    UX,
    UY,
    Bins,
    Ground,
    Pieces,
    Tools,
    X,
    Y,
)
from dryrun.removal.parts import IN_ORDER, Parts
from dryrun.removal.profile import RADIUS
from dryrun.removal.surface import PAGE
from dryrun.removal.view import (
    box_of,
)


def sort_into_tiles(
    ground: Ground, pieces: Pieces, tools: Tools, parts: Parts = IN_ORDER
) -> Bins:
    """Return which pieces may reach which tiles."""
    pages_y, pages_x, tiles_x = (ground.grid[i] for i in (PAGES_Y, PAGES_X, TILES_X))
    side = ground.grid[TILE_PAGES]
    tiles_y = -(-pages_y // side)
    size = side * PAGE * ground.frame[CELL]
    grid = np.array([tiles_y, tiles_x], np.int64)
    place = np.array([ground.frame[LOW_X], ground.frame[LOW_Y], size, ground.frame[CELL]])
    radius = np.ascontiguousarray(tools.numbers[:, RADIUS])
    assert -(-pages_x // side) == tiles_x
    first = np.zeros(tiles_y * tiles_x + 1, np.int64)
    ranges = np.empty((len(pieces.kind), 4), np.int32)
    kind, _, tool, _, data = pieces
    parts.run(
        len(kind), partial(find_ranges, kind, tool, data, radius, place, grid, ranges)
    )
    count_pieces(kind, tool, data, radius, place, grid, ranges, first)
    np.cumsum(first, out=first)
    entries = np.empty(int(first[-1]), np.int32)
    put_pieces(kind, tool, data, radius, place, grid, ranges, first[:-1].copy(), entries)
    return Bins(first, entries)


def busy_tiles(bins: Bins, ends: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    """Split the tiles that have work into lists: each ends near to so many entries of the bins."""
    counts = np.diff(bins.first)
    busy = np.flatnonzero(counts)
    if len(busy) == 0:
        return []
    edges = np.searchsorted(np.cumsum(counts[busy]), ends[:-1])
    return [part for part in np.split(busy, edges) if len(part)]


@kernel
def find_ranges(
    kind: Any, tool: Any, data: Any, radius: Any, place: Any, grid: Any, ranges: Any, begin: Any,
    after: Any,
) -> None:  # fmt: skip
    """Find the tiles that boxes of pieces reach: first and last row, first and last column."""
    low_x, low_y, size = place[0], place[1], place[2]
    for i in range(begin, after):
        reach = radius[tool[i]] + place[3]
        numbers = (data[i, 0], data[i, 1], data[i, 2], data[i, 3], data[i, 4], data[i, 5], data[i, 6])
        x0, y0, x1, y1 = box_of(kind[i], numbers)
        ranges[i, 0] = max(math.floor((y0 - reach - low_y) / size), 0.0)
        ranges[i, 1] = min(math.floor((y1 + reach - low_y) / size), grid[0] - 1.0)
        ranges[i, 2] = max(math.floor((x0 - reach - low_x) / size), 0.0)
        ranges[i, 3] = min(math.floor((x1 + reach - low_x) / size), grid[1] - 1.0)


@kernel
def count_pieces(
    kind: Any, tool: Any, data: Any, radius: Any, place: Any, grid: Any, ranges: Any, first: Any
) -> None:
    """Count the pieces of each tile into first[tile + 1]."""
    for i in range(len(kind)):
        y0, y1, x0, x1 = ranges[i, 0], ranges[i, 1], ranges[i, 2], ranges[i, 3]
        whole = _fills_its_box(kind[i], data[i, UX], data[i, UY], (y1 - y0 + 1) * (x1 - x0 + 1))
        for ty in range(y0, y1 + 1):
            for tx in range(x0, x1 + 1):
                if whole or _reaches(kind, data, i, radius[tool[i]], place, (ty, tx)):
                    first[ty * grid[1] + tx + 1] += 1


@kernel
def put_pieces(
    kind: Any, tool: Any, data: Any, radius: Any, place: Any, grid: Any, ranges: Any, free: Any,
    entries: Any,
) -> None:  # fmt: skip
    """Write each piece into the lists of its tiles; `free` is where each list goes on."""
    for i in range(len(kind)):
        y0, y1, x0, x1 = ranges[i, 0], ranges[i, 1], ranges[i, 2], ranges[i, 3]
        whole = _fills_its_box(kind[i], data[i, UX], data[i, UY], (y1 - y0 + 1) * (x1 - x0 + 1))
        for ty in range(y0, y1 + 1):
            for tx in range(x0, x1 + 1):
                if whole or _reaches(kind, data, i, radius[tool[i]], place, (ty, tx)):
                    tile = ty * grid[1] + tx
                    entries[free[tile]] = i
                    free[tile] += 1


@inner_kernel
def _fills_its_box(kind: Any, ux: Any, uy: Any, tiles: Any) -> Any:
    """Whether a piece is taken to reach all tiles of its box: it lies along X or Y, or they are few."""
    return tiles <= 4 or (
        (kind == LINE or kind == STEEP) and (ux == 0.0 or uy == 0.0)
    )


@inner_kernel
def _reaches(kind: Any, data: Any, i: Any, radius: Any, place: Any, at: Any) -> Any:
    """Whether the path comes near enough to the middle of a tile."""
    size = place[2]
    dx = place[0] + (at[1] + 0.5) * size - data[i, X]
    dy = place[1] + (at[0] + 0.5) * size - data[i, Y]
    if kind[i] == ARC or kind[i] == HELIX:
        arc = (data[i, A_RADIUS], data[i, A_BEGIN], data[i, A_SWEEP], data[i, A_RISE])
        away, _ = arc_distances(dx, dy, arc)
    else:
        u = dx * data[i, UX] + dy * data[i, UY]
        over = u - min(max(u, 0.0), data[i, LENGTH])
        w = dy * data[i, UX] - dx * data[i, UY]
        away = math.sqrt(over * over + w * w)
    return away <= radius + place[3] + 0.7072 * size
