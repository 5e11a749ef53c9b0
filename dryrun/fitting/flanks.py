"""Level lines that go down along a slope in a few steps: the flank of a pointed bit.

A chamfer wider than one bite is cut in passes, each of which moves the tip down and sideways so
that its flank stays in the face that is wanted (elementary geometry): the tangent of the flank's
angle from the axis is how far each pass lies beside the last over how far it lies below it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from dryrun.fitting.strokes import Floats, Strokes

#: More steps than this down a slope finish it, whatever the bit; less below the last than this is
#: no bite, mm.
MOST_STEPS: Final = 8
LEAST_BITE: Final = 0.3

#: Nearer beside the last than this is right below it, and slopes flatter or steeper are no flanks
#: (tangents of 11 and 75 degrees from the axis).
BESIDE: Final = 0.05
TANGENTS: Final = (0.2, 3.8)

#: Places looked at for each step, and pieces of path that they are compared with.
PROBES: Final = 120
MOST_PIECES: Final = 20_000

#: Tangents that differ by less are one, as a part; how far places are rounded, mm; and the part of
#: the places that must have it. Around corners the next line is farther away.
SAME: Final = 0.01
ROUNDED: Final = 0.003
MOST_ALIKE: Final = 0.5


@dataclass(frozen=True, slots=True)
class Flank:
    """Steps along a slope.

    Attributes
    ----------
    tangent : of its angle from the axis
    spread : how well it is known, as a part
    share : part of the places that have it
    """

    tangent: float
    spread: float
    share: float


def flank_of(level: Strokes, depths: tuple[float, ...]) -> Flank | None:
    """Return the slope along which level lines go down in a few steps; None without one."""
    steps = np.diff(depths)
    if not 2 <= len(depths) <= MOST_STEPS or steps.min() < LEAST_BITE or len(level) > MOST_PIECES:
        return None
    found, sure = [], []
    for high, below in zip(depths[:-1], steps, strict=True):
        away = _beside(level, high, high + below)
        found.append(away / below)
        sure.append(np.hypot(SAME, ROUNDED * np.hypot(1 / np.maximum(away, BESIDE), 1 / below)))
    tangents, slack = np.concatenate(found), np.concatenate(sure)
    order = np.argsort(tangents)
    tangents, slack = tangents[order], slack[order]
    first = np.searchsorted(tangents, tangents * (1 - slack))
    last = np.searchsorted(tangents, tangents * (1 + slack), side="right")
    best = int(np.argmax(last - first))
    alike = slice(first[best], last[best])
    share = float(last[best] - first[best]) / len(tangents)
    tangent = float(np.median(tangents[alike]))
    if share < MOST_ALIKE or not TANGENTS[0] < tangent < TANGENTS[1]:
        return None
    return Flank(tangent, float(np.median(slack[alike])), share)


def _beside(level: Strokes, high: float, low: float) -> Floats:
    """Return how far places on the lines at one depth are from those at the next, seen from above.

    Places from which none is met are infinitely far away.
    """
    depth = level.top - level.end[:, 2]
    above, under = (
        level.chosen(np.abs(depth - high) < 0.006),
        level.chosen(np.abs(depth - low) < 0.006),
    )
    if not len(above) or not len(under):
        return np.full(PROBES, np.inf)
    reach = np.cumsum(above.run)
    wanted = (np.arange(PROBES) + 0.5) / PROBES * reach[-1]
    piece = np.minimum(np.searchsorted(reach, wanted), len(reach) - 1)
    part = 1 - (reach[piece] - wanted) / np.maximum(above.run[piece], 1e-9)
    at = (above.start[piece] + part[:, None] * above.step[piece])[:, None, :2]
    start, step = under.start[:, :2], under.step[:, :2]
    square = np.maximum((step * step).sum(axis=1), 1e-12)
    along = np.clip(((at - start) * step).sum(axis=2) / square, 0.0, 1.0)
    off = at - start - along[:, :, None] * step
    nearest: Floats = np.hypot(off[:, :, 0], off[:, :, 1]).min(axis=1)
    return nearest
