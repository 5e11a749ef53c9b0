"""Evidence of holes that are drilled: bites, depth and distance beside the bit's diameter."""

from __future__ import annotations

import math
from typing import Final

from dryrun.fitting.chances import chosen_part, log_normal, mix, roundness
from dryrun.fitting.measures import Measures
from dryrun.fitting.models import DRILLED, Evidence, Model
from dryrun.job.materials import Material
from dryrun.job.model import Bit
from dryrun.units import format_length

#: Parts of the diameter (common practice, no source), middle and spread of the logarithm: a bite
#: before the drill is lifted, the depth of a hole at once and in bites, the distance of holes.
BITE: Final = (0.9, 0.6)
AT_ONCE: Final = (1.8, 0.7)
IN_BITES: Final = (3.5, 0.7)
APART: Final = (5.0, 0.9)

#: Nearer than this part of the diameter holes run into each other, and what that says.
WEB: Final = 1.1
NO_WEB: Final = -3.0


def holes(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Weigh bites, depth and distance of holes against the bit's diameter."""
    h = m.holes
    if h is None or m.modes.get("plunge", 0.0) < DRILLED:
        return None
    d = bit.diameter
    log = log_normal(h.depth / d, *(IN_BITES if h.bite else AT_ONCE), 0.08)
    text = f"{h.count} holes {h.depth / d:.1f} times as deep as it is wide"
    if h.bite:
        log += log_normal(h.bite / d, *BITE, 0.08) + chosen_part(h.bite, d, m.drawn)
        text += f", in bites of {format_length(h.bite, m.unit)}, {h.bite / d:.0%} of its diameter"
    if math.isfinite(h.apart):
        log += NO_WEB if h.apart < WEB * d else log_normal(h.apart / d, *APART, 0.08)
    return Evidence("holes", log + _through(h.depth, bit, m), text)


def _through(depth: float, bit: Bit, m: Measures) -> float:
    """Log ratio of the depth: as it is, or less the point, where a hole goes through a board."""
    ways = [(0.3, roundness(depth, m.drawn)), (0.4, 0.0)]
    if bit.shape == "drill" and bit.angle:
        point = bit.radius / math.tan(bit.angle / 2)
        ways.append((0.3, roundness(abs(depth - point), m.drawn)))
    else:
        ways.append((0.3, 0.0))
    return mix(ways)


#: The models of holes.
HOLE_MODELS: Final[tuple[Model, ...]] = (holes,)
