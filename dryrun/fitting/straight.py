"""Level lines that a program writes in many short pieces, as the one line that they are."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.fitting.strokes import Strokes

#: Pieces of one line differ in heading by less than this, rad, all the way: more than rounded
#: places make of it, less than the chords of an arc that is followed for a while.
SAME_HEADING: Final = 0.004

#: Pieces follow each other where one begins this near to the end of the last, mm.
JOINED: Final = 1e-6


def straightened(strokes: Strokes) -> Strokes:
    """Return the strokes with level pieces that go straight on joined to one.

    Of a joined line the row is that of its first piece.
    """
    if len(strokes) < 2:
        return strokes
    follows = _follows_straight(strokes)
    first = np.flatnonzero(~follows)
    last = np.append(first[1:] - 1, len(strokes) - 1)
    # A slow bend passes from piece to piece: it is no line, though each two of its pieces are.
    off = _wrapped(_heading(strokes) - np.repeat(_heading(strokes)[first], last - first + 1))
    bent = np.maximum.reduceat(np.abs(off), first) > SAME_HEADING
    single = np.repeat(bent, last - first + 1) | ~follows
    first = np.flatnonzero(single)
    last = np.append(first[1:] - 1, len(strokes) - 1)
    return Strokes(
        strokes.start[first], strokes.end[last], strokes.row[first], strokes.chain[first],
        strokes.arc_radius[first], strokes.top, strokes.top_known, strokes.whole,
    )  # fmt: skip


def _follows_straight(strokes: Strokes) -> NDArray[np.bool_]:
    """Tell which pieces go on in the direction of the one before, level as that is."""
    line = ~np.isfinite(strokes.arc_radius) & (strokes.run > JOINED)
    line &= np.abs(strokes.step[:, 2]) < JOINED
    on = line[1:] & line[:-1] & (np.diff(strokes.chain) == 0)
    on &= np.abs(strokes.start[1:] - strokes.end[:-1]).max(axis=1) < JOINED
    on &= np.abs(_wrapped(np.diff(_heading(strokes)))) < SAME_HEADING
    follows: NDArray[np.bool_] = np.append(False, on)
    return follows


def _heading(strokes: Strokes) -> NDArray[np.float64]:
    heading: NDArray[np.float64] = np.arctan2(strokes.step[:, 1], strokes.step[:, 0])
    return heading


def _wrapped(angle: NDArray[np.float64]) -> NDArray[np.float64]:
    wrapped: NDArray[np.float64] = (angle + np.pi) % (2 * np.pi) - np.pi
    return wrapped
