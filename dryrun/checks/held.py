"""Strokes that a pocket holds: the one place where hardly anything of them lies outside it.

Edges of a few strokes meet those of a pocket at many places, but together the strokes of all
corners reach its walls on all sides. The area of one footprint outside the other is found for all
shifts at once by FFT, as a correlation is; where it has one deep and narrow minimum away from where
the stages lie, that is where they belong.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from dryrun.checks.maps import Mask
from dryrun.checks.slide import LEAST, OVERLAP, even, refined

#: A footprint that another one holds: where it belongs this part of it lies outside at most, and
#: this part at least, or it would do nothing there; ...
HELD: Final = 0.4
HELD_REST: Final = 0.02
#: ... where it lies so much more does, as a part of it and of what lies outside there, ...
HELD_GAIN: Final = 0.08
HELD_TIMES: Final = 0.5
#: ... and where hardly more does (this part of the difference) is no further off than this part of
#: the shift.
HELD_LOOSE: Final = 0.25
HELD_NEAR: Final = 0.4
#: What then lies outside is in corners, not beyond the pieces of the other one, for this part.
HELD_INSIDE: Final = 0.8
#: A skin left on walls is at most so thick, mm (common practice, no source).
HELD_SKIN: Final = 1.0
_MOST_PIECES: Final = 40
#: Such a shift is at most this part of the larger footprint's length.
HELD_MOST: Final = 0.15


def moved_out(masks: list[Mask], cell: float) -> tuple[float, float] | None:
    """Return how far the second footprint is from where the first one would hold it, mm.

    There hardly anything of it lies outside the first, and wherever it goes from there much more
    does: the strokes in the corners of a pocket reach its walls on all sides. For bits that make
    upright walls only: over a relief, levels have no corners.
    """
    first, second = masks
    area = int(second.sum())
    shape = (even(first.shape[0] * 3 // 2 + 8), even(first.shape[1] * 3 // 2 + 8))
    if not area or int((first & second).sum()) < OVERLAP * area:
        return None
    spectrum = np.conj(np.fft.rfft2(first, shape)) * np.fft.rfft2(second, shape)
    outside = area - np.fft.irfft2(spectrum, shape)
    size = max(int(np.ptp(k)) + 1 for mask in masks for k in np.nonzero(mask))
    there = np.hypot(*np.meshgrid(*(np.fft.fftfreq(n, 1 / n) for n in shape), indexing="ij"))
    outside[there > HELD_MOST * size] = area
    iy, ix = (int(k) for k in np.unravel_index(int(np.argmin(outside)), outside.shape))
    least, far = float(outside[iy, ix]), float(there[iy, ix])
    here = min(float(outside[j, i]) for j in (-1, 0, 1) for i in (-1, 0, 1))
    gain = here - least
    if not HELD_REST * area < least < HELD * area or far < max(LEAST[0], LEAST[1] / cell):
        return None
    if gain < max(HELD_GAIN * area, HELD_TIMES * least):
        return None
    loose = _farthest(outside < least + HELD_LOOSE * gain, iy, ix)
    if loose > max(LEAST[0], HELD_NEAR * far) or not _in_corners(
        first, second, iy, ix, shape, cell
    ):
        return None
    fine_y, fine_x = refined(-outside, iy, ix)
    return fine_x * cell, fine_y * cell


def _farthest(mask: Mask, iy: int, ix: int) -> float:
    """Return how far the points of a mask reach from one of them, round the edges, points."""
    apart = [
        np.minimum((k - m) % n, (m - k) % n)
        for k, m, n in zip(np.nonzero(mask), (iy, ix), mask.shape, strict=True)
    ]
    return float(np.hypot(*apart).max())


def _in_corners(
    first: Mask, second: Mask, iy: int, ix: int, shape: tuple[int, int], cell: float
) -> bool:
    """Tell whether what lies outside, once moved back, is in corners and not beyond the walls."""
    wide = np.zeros(shape, np.bool_)
    wide[: second.shape[0], : second.shape[1]] = second
    rest = np.roll(wide, (-iy, -ix), (0, 1))[: first.shape[0], : first.shape[1]] & ~first
    within = int((rest & _boxes(first, HELD_SKIN / cell)).sum())
    return within >= HELD_INSIDE * int(rest.sum())


def _boxes(mask: Mask, wider: float) -> Mask:
    """Return the boxes around the pieces of a mask, so many points wider."""
    from dryrun.removal.pieces import label

    labels, number = label(mask)
    boxes = np.zeros_like(mask)
    size = np.bincount(labels.ravel(), minlength=number + 1)
    size[0] = 0
    more = int(np.ceil(wider))
    for k in np.argsort(-size, kind="stable")[: min(number, _MOST_PIECES)]:
        iy, ix = np.nonzero(labels == k)
        low = max(0, int(iy.min()) - more), max(0, int(ix.min()) - more)
        boxes[low[0] : int(iy.max()) + more + 1, low[1] : int(ix.max()) + more + 1] = True
    return boxes
