"""Ways down to a level: slopes over ground that is passed again, lower, and upright arcs.

A bit that enters along the contour it is about to cut, or by a helix, goes down over ground that
it passes again one turn later. Who carves a groove or goes over a relief passes any ground once:
what was cut to its depth needs no other cut. Nor does a carver come down by an arc that ends level,
stay on that level, and leave it by such an arc or straight up: strokes taper by straight lines.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.fitting.strokes import LEVEL_SLOPE, Floats, Ints, Strokes

#: Places on its way down that are looked at of each chain, and the part of them that it must pass
#: again this near, mm, and lower by more than this, mm.
PLACES: Final = 12
RETRACED: Final = 0.6
NEAR: Final = 0.03
LOWER: Final = 0.02

#: Chords of an upright arc, at least, and what is left of their slope where it meets the level.
CHORDS: Final = 3
FLATTENED: Final = 0.4


def entering_chains(strokes: Strokes, count: int) -> NDArray[np.bool_]:
    """Tell which of `count` chains never go up, and go down only over ground they pass again."""
    run, rise = strokes.run, strokes.step[:, 2]
    down = (rise < -LEVEL_SLOPE * run) & (run > 1e-6)
    up = (rise > LEVEL_SLOPE * run + 1e-6).astype(np.float64)
    sinking = np.bincount(strokes.chain, down, count) > 0
    sinking &= np.bincount(strokes.chain, up, count) == 0
    first = np.searchsorted(strokes.chain, np.arange(count + 1))
    found: NDArray[np.bool_] = np.zeros(count, bool)
    for number in np.flatnonzero(sinking):
        rows = np.arange(first[number], first[number + 1])
        found[number] = _passed_again(strokes, rows, rows[down[rows]]) >= RETRACED
    return found


def _passed_again(strokes: Strokes, rows: Ints, down: Ints) -> float:
    """Return the part of the places on rows that go down which the chain passes again, lower."""
    reach = np.cumsum(strokes.run[down])
    wanted = (np.arange(PLACES) + 0.5) / PLACES * reach[-1]
    piece = np.minimum(np.searchsorted(reach, wanted), len(down) - 1)
    row = down[piece]
    part = 1.0 - (reach[piece] - wanted) / strokes.run[row]
    at: Floats = strokes.start[row] + part[:, None] * strokes.step[row]
    start, step, run = strokes.start[rows], strokes.step[rows], strokes.run[rows]
    off = at[:, None, :2] - start[None, :, :2]
    along = (off * step[None, :, :2]).sum(axis=2) / np.maximum(run, 1e-9) ** 2
    along = np.clip(along, 0.0, 1.0)
    away = off - along[..., None] * step[None, :, :2]
    height = start[:, 2] + along * step[:, 2]
    again = (np.hypot(away[..., 0], away[..., 1]) < NEAR) & (height < at[:, None, 2] - LOWER)
    return float(again.any(axis=1).mean())


def arched_chains(strokes: Strokes, count: int) -> NDArray[np.bool_]:
    """Tell which of `count` chains come down to one level by an upright arc, and stay on it.

    At their end they may leave it by an arc, too. Arcs are what the program writes as such: carved
    lines that bend in depth, such as leaves, are written in short pieces.
    """
    run = strokes.run
    # Only upright arcs come in several pieces without a radius.
    chord = np.isnan(strokes.arc_radius) & (np.bincount(strokes.row)[strokes.row] > 1)
    slope = np.where(run > 1e-6, strokes.step[:, 2] / np.maximum(run, 1e-6), 0.0)
    first = np.searchsorted(strokes.chain, np.arange(count + 1))
    found: NDArray[np.bool_] = np.zeros(count, bool)
    for number in np.unique(strokes.chain[slope < -LEVEL_SLOPE]):
        rows = np.arange(first[number], first[number + 1])
        rows = rows[run[rows] > 1e-6]
        sloping = np.abs(slope[rows]) > LEVEL_SLOPE
        found[number] = bool(chord[rows[sloping]].all()) and _arched(slope[rows])
    return found


def _arched(slope: Floats) -> bool:
    """Tell whether slopes flatten out downward, stay level, and at most steepen again upward."""
    level = np.abs(slope) <= LEVEL_SLOPE
    if not level.any():
        return False
    begin, end = int(np.argmax(level)), len(level) - int(np.argmax(level[::-1]))
    down, up = -slope[:begin], slope[end:][::-1]
    if not level[begin:end].all() or not begin:
        return False
    return all(_flattens(part) for part in (down, up) if len(part))


def _flattens(slope: Floats) -> bool:
    if len(slope) < CHORDS or slope.min() <= 0:
        return False
    falling = bool((np.diff(slope) < 1e-3 * slope[:-1]).all())
    return falling and float(slope[-1]) < FLATTENED * float(slope[0])
