"""The store that rows of motion are written into, from the interpreter and from the fast path.

Columns are allocated once for all rows expected (memory that is never written is never used), so
that a long program is held only once.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Iterator
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.motion import Motion

NAN: Final = math.nan

#: Number of values in one row of `RowBuffer.values`.
ROW_WIDTH: Final = 19


class Columns(NamedTuple):
    """The columns of `motion.Motion`, in its order, with room to spare.

    `start` and `end` may be the same memory, one row apart (see `RowBuffer`). Rows not written
    yet are 0 in `sweep`, `seconds` and `source`.
    """

    kind: NDArray[np.int8]
    start: NDArray[np.float64]
    end: NDArray[np.float64]
    centre: NDArray[np.float64]
    axis: NDArray[np.int8]
    sweep: NDArray[np.float64]
    feed: NDArray[np.float64]
    spindle: NDArray[np.float64]
    tool: NDArray[np.int32]
    seconds: NDArray[np.float64]
    tolerance: NDArray[np.float64]
    line: NDArray[np.int32]
    source: NDArray[np.int32]


def make_columns(rows: int, *, joined: bool = True) -> Columns:
    """Make columns for so many rows, not yet filled; joined: a row starts where the last ended."""
    number = np.float64
    places = np.empty((rows + 1 if joined else 2 * rows, 3), number)
    return Columns(
        kind=np.empty(rows, np.int8),
        start=places[:rows],
        end=places[1:] if joined else places[rows:],
        centre=np.empty((rows, 3), number),
        axis=np.empty(rows, np.int8),
        sweep=np.zeros(rows, number),
        feed=np.empty(rows, number),
        spindle=np.empty(rows, number),
        tool=np.empty(rows, np.int32),
        seconds=np.zeros(rows, number),
        tolerance=np.empty(rows, number),
        line=np.empty(rows, np.int32),
        source=np.zeros(rows, np.int32),
    )


class RowBuffer:
    """Rows of motion as they are made, in the order of the program.

    Single rows are appended as numbers; the fast path writes into the columns that `reserve`
    gives it and tells by `commit` how many rows it wrote.

    Nearly always a row starts where the one before ended, and each place is then kept once. The
    first row that does not (a tool of another length, say) makes `start` a column of its own.
    """

    __slots__ = ("_columns", "_filled", "_joined", "values")

    def __init__(self) -> None:
        #: Flat store of rows not yet in the columns, ROW_WIDTH values a row, in the order of
        #: `append`'s parameters. Hot loops may `extend` it directly with one tuple a row.
        self.values = array("d")
        self._columns = make_columns(0)
        self._filled = 0
        self._joined = True

    def __len__(self) -> int:
        return self._filled + len(self.values) // ROW_WIDTH

    def append(
        self,
        kind: int,
        start: tuple[float, float, float],
        end: tuple[float, float, float],
        line: int,
        source: int = 0,
        *,
        centre: tuple[float, float, float] = (NAN, NAN, NAN),
        axis: int = -1,
        sweep: float = 0.0,
        feed: float = NAN,
        spindle: float = 0.0,
        tool: int = -1,
        seconds: float = 0.0,
        tolerance: float = NAN,
    ) -> None:
        """Append one row; see `motion.Motion` for the meaning and units of each column."""
        self.values.extend(
            (kind, *start, *end, *centre, axis, sweep, feed, spindle, tool, seconds, tolerance)
        )
        self.values.extend((line, source))

    def reserve(self, rows: int, place: tuple[float, float, float]) -> Columns:
        """Return the columns with room for so many more rows, to be written from `len(self)` on.

        The first of them starts at `place`, each other where the one before it ended.
        """
        self.settle()
        self._make_room(rows)
        self._check_joint(np.array([place]))
        return self._columns

    def commit(self, rows: int) -> None:
        """Take over rows written into the columns after `reserve`."""
        self._filled += rows

    def settle(self) -> None:
        """Move the rows appended one by one into the columns."""
        if not self.values:
            return
        table = np.frombuffer(self.values, dtype=np.float64).reshape(-1, ROW_WIDTH)
        self._make_room(len(table))
        self._check_joint(table[:, 1:4], table[:, 4:7])
        rows = slice(self._filled, self._filled + len(table))
        at = 0
        for column in self._columns:
            if column.ndim == 2:
                column[rows] = table[:, at : at + 3]
                at += 3
            else:
                column[rows] = table[:, at]
                at += 1
        self._filled += len(table)
        del table
        self.values = array("d")

    def motion(self) -> Motion:
        """Return everything appended so far as one table, sharing the memory of this buffer."""
        self.settle()
        filled: list[Any] = [column[: self._filled] for column in self._columns]
        return Motion(*filled)

    def _check_joint(
        self, starts: NDArray[np.float64], ends: NDArray[np.float64] | None = None
    ) -> None:
        """Give `start` memory of its own when a row to come begins elsewhere than one ended."""
        if not self._joined:
            return
        last = self._columns.end[max(self._filled - 1, 0)] if self._filled else starts[0]
        same = _same(starts[0], last)
        if same and ends is not None:
            same = _same(starts[1:], ends[:-1])
        if not same:
            self._joined = False
            self._grow(len(self._columns.kind))

    def _make_room(self, rows: int) -> None:
        wanted = self._filled + rows
        if wanted > len(self._columns.kind):
            self._grow(max(wanted, 2 * self._filled, 256))

    def _grow(self, rows: int) -> None:
        grown = make_columns(rows, joined=self._joined)
        pairs: Iterator[tuple[NDArray[Any], NDArray[Any]]] = zip(self._columns, grown, strict=True)
        for old, new in pairs:
            new[: self._filled] = old[: self._filled]
        self._columns = grown


def _same(one: NDArray[np.float64], other: NDArray[np.float64]) -> bool:
    """Whether two arrays are the same bit by bit, NaN and the sign of 0 included."""
    a, b = np.ascontiguousarray(one), np.ascontiguousarray(other)
    return bool((a.view(np.int64) == b.view(np.int64)).all())
