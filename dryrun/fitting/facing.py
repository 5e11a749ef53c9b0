"""Faces: even rows over a whole rectangle, with no ring around it.

Who skims a board runs rows that all begin and end at the same two lines, one as far from the next
as from the last, and no path goes round them, as nothing stands beside. A pocket cleared with rows
has a ring along its walls.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from dryrun.fitting.strokes import Floats, Strokes

#: Rows of a face at least, the shortest and the narrowest face, mm.
FEWEST_ROWS: Final = 4
SMALLEST: Final = 40.0

#: A face is skimmed no deeper than this in one pass, and in all, mm (common practice, no source).
DEEPEST_PASS: Final = 3.2
DEEPEST: Final = 8.0

#: Rows are parallel, cosine, and at least this part of the longest; they and what links them are so
#: much of the path.
PARALLEL: Final = 0.9999
LONG: Final = 0.6
MOST_OF_PATH: Final = 0.85

#: Ends lie on a line, as a part of the length, and rows are even, as a part of their distance, but
#: for the last.
ALIGNED: Final = 0.01
EVEN: Final = 0.03

#: Path across the rows is at most so many times as long as the face is wide: links, but no ring.
ACROSS: Final = 1.5


@dataclass(frozen=True, slots=True)
class Face:
    """Rows over a face.

    Attributes
    ----------
    distance : of the rows, mm
    rows : how many
    linked : whether the bit stays down from row to row
    """

    distance: float
    rows: int
    linked: bool


def face_of(level: Strokes, depths: tuple[float, ...]) -> Face | None:
    """Return the face that a level path skims; None where it does anything else."""
    if not depths or depths[-1] > DEEPEST or max(np.diff([0.0, *depths])) > DEEPEST_PASS:
        return None
    faces = [_rows(level.chosen(np.abs(level.top - level.end[:, 2] - d) < 0.006)) for d in depths]
    first = faces[0]
    if first is None or any(f is None or abs(f.rows - first.rows) > 1 for f in faces):
        return None
    return first


def _rows(here: Strokes) -> Face | None:
    """Return the face that the path at one depth skims."""
    run, step = here.run, here.step[:, :2]
    if len(here) < FEWEST_ROWS:
        return None
    longest = int(np.argmax(run))
    along = step[longest] / run[longest]
    across = np.array([-along[1], along[0]])
    row = (np.abs(step @ along) > PARALLEL * run) & (run > LONG * run[longest])
    links = float(np.abs(step[~row] @ across).sum())
    places = here.start[row, :2]
    beside, begin, end = places @ across, places @ along, here.end[row, :2] @ along
    low, high = np.minimum(begin, end), np.maximum(begin, end)
    lines = np.unique(np.round(beside, 2))
    wide, long = float(np.ptp(lines)), float(np.median(high - low))
    if len(lines) < FEWEST_ROWS or min(wide, long) < SMALLEST or links > ACROSS * wide:
        return None
    if run[row].sum() + links < MOST_OF_PATH * run.sum() or not _aligned(low, high, long):
        return None
    apart = np.diff(lines)
    usual = float(np.median(apart))
    if (np.abs(apart - usual) > EVEN * usual).sum() > 1:
        return None
    return Face(usual, len(lines), len(np.unique(here.chain[row])) <= max(1, len(lines) // 4))


def _aligned(low: Floats, high: Floats, long: float) -> bool:
    """Tell whether most rows begin and end at the same two lines; one may lead in."""
    off = [np.abs(ends - np.median(ends)) > ALIGNED * long for ends in (low, high)]
    return bool((off[0] | off[1]).sum() <= max(1, len(low) // 10))
