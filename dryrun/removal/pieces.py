"""Pieces: what the blank falls into once it is cut through, and which row sets each one free.

Material that is left is grouped into connected pieces (four neighbours, cell by cell). The piece
that reaches the most of the blank's outline is the frame; a piece under a clamp is held; the rest
are loose, unless a bridge of cells (a tab) ties them to the frame, which makes them one piece.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from dryrun.job.model import Clamp

if TYPE_CHECKING:
    from dryrun.removal.surface import Surface

#: Thinner skins than this hold nothing, mm.
SKIN: Final = 0.02

#: Smaller pieces are chips or the edge of a cell, mm2.
SMALLEST: Final = 15.0

#: Fields with more cells are looked at in blocks.
MOST_CELLS: Final = 16_000_000


@dataclass(frozen=True, slots=True)
class Piece:
    """A loose piece: area (mm2), a place inside (mm), and the row that freed it (-1 unknown)."""

    area_mm2: float
    at: tuple[float, float]
    freed_by: int


def loose_pieces(surface: Surface, bed: float, clamps: Sequence[Clamp]) -> list[Piece]:
    """Return the pieces of the blank that nothing holds, largest first."""
    rows, columns = surface.shape
    step = 1
    while (rows // step) * (columns // step) > MOST_CELLS:
        step += 1
    left = surface.reduced(step) > bed + SKIN
    if left.all():
        return []
    labels, number = label(left)
    if number < 2:
        return []
    cell = surface.cell * step
    x = surface.origin[0] + (np.arange(left.shape[1]) + 0.5) * cell - surface.cell / 2
    y = surface.origin[1] + (np.arange(left.shape[0]) + 0.5) * cell - surface.cell / 2
    held = _held(labels, number, x, y, clamps)
    area = np.bincount(labels.ravel(), minlength=number + 1) * cell * cell
    loose = [k for k in range(1, number + 1) if not held[k] and area[k] >= SMALLEST]
    loose.sort(key=lambda k: (-area[k], k))
    return [_piece(surface, labels, k, float(area[k]), x, y) for k in loose]


def _held(
    labels: NDArray[np.int32],
    number: int,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    clamps: Sequence[Clamp],
) -> NDArray[np.bool_]:
    """Tell which pieces are the frame or lie under a clamp."""
    held = np.zeros(number + 1, np.bool_)
    edge = np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])
    on_edge = np.bincount(edge, minlength=number + 1)
    on_edge[0] = 0
    if on_edge.any():
        held[int(on_edge.argmax())] = True
    else:
        held[1 + int(np.bincount(labels.ravel(), minlength=number + 1)[1:].argmax())] = True
    for clamp in clamps:
        i = np.flatnonzero((y >= clamp.low[1]) & (y <= clamp.high[1]))
        j = np.flatnonzero((x >= clamp.low[0]) & (x <= clamp.high[0]))
        if len(i) and len(j):
            held[np.unique(labels[i[0] : i[-1] + 1, j[0] : j[-1] + 1])] = True
    return held


def _piece(
    surface: Surface,
    labels: NDArray[np.int32],
    which: int,
    area: float,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
) -> Piece:
    inside = labels == which
    i, j = np.nonzero(inside)
    # The cell nearest the middle, so that the place lies in the piece even when it is a ring.
    middle = int(np.argmin((i - i.mean()) ** 2 + (j - j.mean()) ** 2))
    low = max(0, int(i.min()) - 1), max(0, int(j.min()) - 1)
    window = inside[low[0] : i.max() + 2, low[1] : j.max() + 2]
    ring_i, ring_j = np.nonzero(_grown(window) & ~window)
    rows = surface.row_at(x[ring_j + low[1]], y[ring_i + low[0]])
    freed = int(rows.max()) if len(rows) else -1
    return Piece(area, (float(x[j[middle]]), float(y[i[middle]])), freed)


def _grown(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    grown = mask.copy()
    grown[1:] |= mask[:-1]
    grown[:-1] |= mask[1:]
    grown[:, 1:] |= mask[:, :-1]
    grown[:, :-1] |= mask[:, 1:]
    return grown


def label(mask: NDArray[np.bool_]) -> tuple[NDArray[np.int32], int]:
    """Return the connected regions of a mask numbered from 1 in reading order, and how many."""
    rows, columns = mask.shape
    padded = np.zeros((rows, columns + 2), np.int8)
    padded[:, 1:-1] = mask
    change = np.diff(padded, axis=1)
    row, start = np.nonzero(change == 1)
    _, stop = np.nonzero(change == -1)
    parent = np.arange(len(row))
    first = np.searchsorted(row, np.arange(rows + 1))
    for i in range(1, rows):
        _join(parent, start, stop, (first[i - 1], first[i]), (first[i], first[i + 1]))
    root = np.array([_find(parent, k) for k in range(len(row))], dtype=np.int64)
    _, number = np.unique(root, return_inverse=True)
    labels = np.zeros((rows, columns), np.int32)
    for k in range(len(row)):
        labels[row[k], start[k] : stop[k]] = number[k] + 1
    return labels, int(number.max()) + 1 if len(number) else 0


def _join(
    parent: NDArray[np.int64],
    start: NDArray[np.int64],
    stop: NDArray[np.int64],
    above: tuple[int, int],
    below: tuple[int, int],
) -> None:
    """Unite overlapping runs of two neighbouring rows."""
    a, b = above[0], below[0]
    while a < above[1] and b < below[1]:
        if start[a] < stop[b] and start[b] < stop[a]:
            x, y = _find(parent, a), _find(parent, b)
            parent[max(x, y)] = min(x, y)
        if stop[a] < stop[b]:
            a += 1
        else:
            b += 1


def _find(parent: NDArray[np.int64], k: int) -> int:
    while parent[k] != k:
        parent[k] = parent[parent[k]]
        k = int(parent[k])
    return k
