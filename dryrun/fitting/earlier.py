"""What an earlier stage left: a bit that would run through air most of the way does not fit."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from dryrun.fitting.models import Evidence
from dryrun.fitting.ridges import distance_from
from dryrun.fitting.strokes import strokes_of
from dryrun.job.model import Bit
from dryrun.motion import Motion

PROBES: Final = 96

#: Arcs need not be followed more closely than this, mm.
SAG: Final = 0.05

#: Part of a stage that may run through air without a word: links and overlaps.
USUAL_AIR: Final = 0.5

#: Logarithm of how unlikely a stage is that cuts nothing at all.
NOTHING: Final = -5.0


def earlier_evidence(
    motion: Motion,
    bits: Sequence[Bit],
    earlier: Sequence[tuple[Motion, Bit]],
    top: float | None = None,
) -> list[list[Evidence]]:
    """Weigh how much of a program's level path each bit would run through cleared ground.

    Of earlier stages with flat or bull-nose bits: their cut reaches a radius to both sides of
    their path. One list of evidence for each bit; empty lists when nothing can be said.
    """
    strokes = strokes_of(motion, top, SAG)
    level = (np.abs(strokes.step[:, 2]) < 1e-3) & (strokes.run > 1e-3)
    here = strokes.chosen(level)
    if not len(here) or here.run.sum() < 0.3 * strokes.run.sum():
        return [[] for _ in bits]
    reach = np.cumsum(here.run)
    at = np.searchsorted(reach, (np.arange(PROBES) + 0.5) / PROBES * reach[-1])
    places = (here.start[at] + here.end[at]) / 2
    inside = np.full(PROBES, -np.inf)
    for other, bit in earlier:
        if bit.shape in ("flat", "bull"):
            inside = np.maximum(inside, _inside(places, other, bit.radius, top))
    if not np.isfinite(inside).any():
        return [[] for _ in bits]
    return [_evidence(bit, inside) for bit in bits]


def _inside(places: np.ndarray, motion: Motion, radius: float, top: float | None) -> np.ndarray:
    """How far each place lies inside what a stage has cut at least as deep, mm."""
    strokes = strokes_of(motion, top, SAG)
    found = np.full(len(places), -np.inf)
    for z in np.unique(np.round(places[:, 2], 2)):
        mine = np.abs(places[:, 2] - z) < 0.006
        deep = np.maximum(strokes.start[:, 2], strokes.end[:, 2]) <= z + 0.01
        if deep.any():
            found[mine] = radius - distance_from(places[mine, :2], strokes.chosen(deep))
    return found


def _evidence(bit: Bit, inside: np.ndarray) -> list[Evidence]:
    if bit.shape not in ("flat", "bull", "ball"):
        return [Evidence("earlier", 0.0, "")]
    air = float((inside >= bit.radius - 0.005).mean())
    over = max(0.0, air - USUAL_AIR) / (1 - USUAL_AIR)
    text = f"{air:.0%} of its level path would lie in what earlier stages have cleared"
    return [Evidence("earlier", NOTHING * over, text)]
