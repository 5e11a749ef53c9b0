"""Motion: the one table that removal, timing and checks read.

One row per motion or event, in program order. Cycles, subprograms, compensation, expressions and
offsets are already resolved by the reader; arcs stay arcs. Lengths are millimetres in the job
frame (X right, Y away from the operator, Z up, origin at the work zero the person set).

A coordinate that cannot be known is NaN. That happens when a program goes to a place given in
machine coordinates (home, for example) and the job does not declare where its zero lies there.
Readers of the table must treat NaN as "not known", never as zero.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

RAPID: Final = 0
LINE: Final = 1
ARC: Final = 2
PROBE: Final = 3
DWELL: Final = 4
STOP: Final = 5
TOOL: Final = 6
END: Final = 7

KIND_NAMES: Final = ("rapid", "line", "arc", "probe", "dwell", "stop", "tool", "end")

#: Kinds that move the machine (the others are events at a standstill).
MOVING: Final = (RAPID, LINE, ARC, PROBE)


@dataclass(frozen=True, slots=True)
class Motion:
    """The motion of one program, as equal-length read-only arrays.

    Attributes
    ----------
    kind : (n,) int8
        RAPID, LINE, ARC, PROBE, DWELL, STOP, TOOL or END.
    start, end : (n, 3) float64
        Ends of the row, job frame, mm; NaN where not known. Events repeat the position.
    centre : (n, 3) float64
        Centre of an ARC at the height of its start, mm; NaN elsewhere.
    axis : (n,) int8
        Axis normal to an ARC's plane: 0 X, 1 Y, 2 Z; -1 elsewhere.
    sweep : (n,) float64
        Signed angle of an ARC in rad, counter-clockwise seen from the positive axis positive, full
        turns included; a helix moves along the axis meanwhile. 0 elsewhere.
    feed : (n,) float64
        mm/min along the path; NaN for a rapid or where no feed was ever given.
    spindle : (n,) float64
        rpm; positive clockwise (M3), negative counter-clockwise (M4), 0 stopped; NaN when it turns
        at a speed the program never said.
    tool : (n,) int32
        Number of the tool in the spindle; -1 not said.
    seconds : (n,) float64
        Length of a DWELL, s; 0 elsewhere.
    tolerance : (n,) float64
        Allowed deviation at corners, mm; 0 exact stop; NaN not said.
    line : (n,) int32
        1-based line in the text that made the row.
    source : (n,) int32
        Index of that text (0 the program itself, others are subprogram files).
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

    def __post_init__(self) -> None:
        rows = len(self.kind)
        for name, (dtype, width) in _COLUMNS.items():
            array: NDArray[Any] = np.ascontiguousarray(getattr(self, name), dtype=dtype)
            wanted = (rows, width) if width else (rows,)
            if array.shape != wanted:
                raise ValueError(f"Motion.{name} has shape {array.shape}, expected {wanted}")
            if array.flags.writeable:
                if array is getattr(self, name):
                    array = array.view()
                array.flags.writeable = False
            object.__setattr__(self, name, array)

    def __len__(self) -> int:
        return len(self.kind)

    def __iter__(self) -> Iterator[int]:
        return iter(range(len(self.kind)))

    def rows(self, index: slice | NDArray) -> Motion:
        """Return the table of the chosen rows."""
        return Motion(*(getattr(self, f.name)[index] for f in fields(self)))

    @property
    def moving(self) -> NDArray[np.bool_]:
        """Rows that move the machine, (n,) bool."""
        return self.kind <= PROBE

    @property
    def cutting(self) -> NDArray[np.bool_]:
        """Rows that move at a feed (line or arc), (n,) bool."""
        cutting: NDArray[np.bool_] = (self.kind == LINE) | (self.kind == ARC)
        return cutting

    def lengths(self) -> NDArray[np.float64]:
        """Length of the path of each row, mm; helices true length, events 0, NaN not known."""
        step = self.end - self.start
        straight: NDArray[np.float64] = np.sqrt((step * step).sum(axis=1))
        arc = self.kind == ARC
        if arc.any():
            radius = self.radii()[arc]
            along = step[arc, self.axis[arc]]
            straight[arc] = np.hypot(radius * self.sweep[arc], along)
        straight[~self.moving] = 0.0
        return straight

    def radii(self) -> NDArray[np.float64]:
        """Radius of each ARC (from its start), mm; NaN elsewhere."""
        offset = self.start - self.centre
        arc = np.flatnonzero(self.kind == ARC)
        offset[arc, self.axis[arc]] = 0.0
        radius: NDArray[np.float64] = np.sqrt((offset * offset).sum(axis=1))
        return radius

    @classmethod
    def empty(cls) -> Motion:
        """Return a table without rows."""
        return cls(
            *(np.zeros((0, width) if width else 0, dtype) for dtype, width in _COLUMNS.values())
        )

    @classmethod
    def concatenate(cls, parts: list[Motion]) -> Motion:
        """Join tables in order."""
        if not parts:
            return cls.empty()
        return cls(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(cls)))


_COLUMNS: Final[dict[str, tuple[type, int]]] = {
    "kind": (np.int8, 0),
    "start": (np.float64, 3),
    "end": (np.float64, 3),
    "centre": (np.float64, 3),
    "axis": (np.int8, 0),
    "sweep": (np.float64, 0),
    "feed": (np.float64, 0),
    "spindle": (np.float64, 0),
    "tool": (np.int32, 0),
    "seconds": (np.float64, 0),
    "tolerance": (np.float64, 0),
    "line": (np.int32, 0),
    "source": (np.int32, 0),
}
