"""Sorting pieces into tiles, once, in program order inside each tile."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dryrun.jit import kernel
from dryrun.removal.drive import (
    A_BEGIN,
    A_RADIUS,
    A_RISE,
    A_SWEEP,
    ARC,
    CELL,
    HELIX,
    LENGTH,
    LOW_X,
    LOW_Y,
    PAGES_X,
    PAGES_Y,
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
    box_of,
)
from dryrun.removal.exact import arc_distances
from dryrun.removal.profile import RADIUS
from dryrun.removal.surface import PAGE


def sort_into_tiles(ground: Ground, pieces: Pieces, tools: Tools) -> Bins:
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
    count_pieces(pieces, radius, place, grid, first)
    np.cumsum(first, out=first)
    entries = np.empty(int(first[-1]), np.int32)
    put_pieces(pieces, radius, place, grid, first[:-1].copy(), entries)
    return Bins(first, entries)


def busy_tiles(bins: Bins, parts: int) -> list[NDArray[np.int64]]:
    """Split the tiles that have work into at least `parts` lists of about equal work."""
    counts = np.diff(bins.first)
    busy = np.flatnonzero(counts)
    if len(busy) == 0:
        return []
    done = np.cumsum(counts[busy])
    edges = np.searchsorted(done, np.arange(1, parts) * (done[-1] / parts))
    return [part for part in np.split(busy, edges) if len(part)]


@kernel
def count_pieces(pieces: Any, radius: Any, place: Any, grid: Any, first: Any) -> None:
    """Count the pieces of each tile into first[tile + 1]."""
    for i in range(len(pieces.kind)):
        reach = radius[pieces.tool[i]] + place[3]
        y0, x0, y1, x1 = _tile_range(pieces, i, reach, place, grid)
        small = (y1 - y0 + 1) * (x1 - x0 + 1) <= 4
        for ty in range(y0, y1 + 1):
            for tx in range(x0, x1 + 1):
                if small or _reaches(pieces, i, reach, place, (ty, tx)):
                    first[ty * grid[1] + tx + 1] += 1


@kernel
def put_pieces(pieces: Any, radius: Any, place: Any, grid: Any, free: Any, entries: Any) -> None:
    """Write each piece into the lists of its tiles; `free` is where each list goes on."""
    for i in range(len(pieces.kind)):
        reach = radius[pieces.tool[i]] + place[3]
        y0, x0, y1, x1 = _tile_range(pieces, i, reach, place, grid)
        small = (y1 - y0 + 1) * (x1 - x0 + 1) <= 4
        for ty in range(y0, y1 + 1):
            for tx in range(x0, x1 + 1):
                if small or _reaches(pieces, i, reach, place, (ty, tx)):
                    tile = ty * grid[1] + tx
                    entries[free[tile]] = i
                    free[tile] += 1


@kernel
def _tile_range(pieces: Any, i: Any, reach: Any, place: Any, grid: Any) -> Any:
    low_x, low_y, high_x, high_y = box_of(pieces.kind[i], pieces.data[i])
    size = place[2]
    y0 = max(0.0, math.floor((low_y - reach - place[1]) / size))
    x0 = max(0.0, math.floor((low_x - reach - place[0]) / size))
    y1 = min(grid[0] - 1.0, math.floor((high_y + reach - place[1]) / size))
    x1 = min(grid[1] - 1.0, math.floor((high_x + reach - place[0]) / size))
    return int(y0), int(x0), int(y1), int(x1)


@kernel
def _reaches(pieces: Any, i: Any, reach: Any, place: Any, at: Any) -> Any:
    """Whether the path comes near enough to the middle of a tile."""
    size = place[2]
    dx = place[0] + (at[1] + 0.5) * size - pieces.data[i, X]
    dy = place[1] + (at[0] + 0.5) * size - pieces.data[i, Y]
    data = pieces.data[i]
    if pieces.kind[i] == ARC or pieces.kind[i] == HELIX:
        arc = (data[A_RADIUS], data[A_BEGIN], data[A_SWEEP], data[A_RISE])
        away, _ = arc_distances(dx, dy, arc)
    else:
        u = dx * data[UX] + dy * data[UY]
        over = u - min(max(u, 0.0), data[LENGTH])
        w = dy * data[UX] - dx * data[UY]
        away = math.sqrt(over * over + w * w)
    return away <= reach + 0.7072 * size
