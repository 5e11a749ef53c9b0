"""Evidence of holes that are drilled: bites, depth and distance beside the bit's diameter."""

from __future__ import annotations

import math
from typing import Final

from dryrun.fitting.chances import chosen_part, log_normal, mix, roundness
from dryrun.fitting.holes import Holes
from dryrun.fitting.measures import Measures
from dryrun.fitting.models import Evidence, Model
from dryrun.fitting.models_rates import DRILLED
from dryrun.job.materials import Material
from dryrun.job.model import Bit
from dryrun.units import format_length

#: Bite before a drill is lifted, depth of a hole at once and in bites, distance of holes, as parts
#: of its diameter (common practice, no source): middle and spread of the logarithm.
BITE: Final = (0.9, 0.6)
AT_ONCE: Final = (1.8, 0.7)
IN_BITES: Final = (3.5, 0.7)
APART: Final = (5.0, 0.9)

#: The same for bits that are no drills, mm: by the machine and the work, not the bit, so wide.
ANY_BITE: Final = (3.0, 1.2)
ANY_DEPTH: Final = (10.0, 1.2)
ANY_APART: Final = (30.0, 1.3)

#: Nearer than this part of the diameter holes run into each other, and what that says.
WEB: Final = 1.1
NO_WEB: Final = -3.0

#: How far the full width of a drill goes beyond the underside of a board, mm (common practice, no
#: source), and how often the depth is a round one and so much.
BEYOND: Final = {"mm": (0.5, 1.0, 2.0), "in": (0.508, 0.762, 1.27)}
INTO_BED: Final = 0.15

#: How often a measure is anything else.
TAIL: Final = 0.08


def holes(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Weigh bites, depth and distance of holes against the bit's diameter."""
    h = m.holes
    if h is None or m.modes.get("plunge", 0.0) < DRILLED:
        return None
    d = bit.diameter
    text = f"{h.count} holes {h.depth / d:.1f} times as deep as it is wide"
    if h.bite:
        text += f", in bites of {format_length(h.bite, m.unit)}, {h.bite / d:.0%} of its diameter"
    log = _drilled(h, d, m) if bit.shape == "drill" else _plunged(h)
    if h.apart < WEB * d:
        log += NO_WEB
    return Evidence("holes", log + _through(h.depth, bit, m), text)


def _drilled(h: Holes, d: float, m: Measures) -> float:
    """Log likelihood of holes for a drill of a diameter."""
    log = log_normal(h.depth / d, *(IN_BITES if h.bite else AT_ONCE), TAIL)
    if h.bite:
        log += log_normal(h.bite / d, *BITE, TAIL) + chosen_part(h.bite, d, m.drawn)
    return log + (log_normal(h.apart / d, *APART, TAIL) if math.isfinite(h.apart) else 0.0)


def _plunged(h: Holes) -> float:
    """Log likelihood of holes for any bit that is no drill."""
    log = log_normal(h.depth, *ANY_DEPTH, TAIL)
    log += log_normal(h.bite, *ANY_BITE, TAIL) if h.bite else 0.0
    return log + (log_normal(h.apart, *ANY_APART, TAIL) if math.isfinite(h.apart) else 0.0)


def _through(depth: float, bit: Bit, m: Measures) -> float:
    """Log ratio of the depth: as it is, or less the point, where a hole goes through a board."""
    ways = [(0.3, roundness(depth, m.drawn)), (0.4, 0.0)]
    if bit.shape == "drill" and bit.angle:
        point = bit.radius / math.tan(bit.angle / 2)
        less = abs(depth - point)
        ways.append((0.3 - INTO_BED, roundness(less, m.drawn)))
        beyond = (roundness(abs(less - far), m.drawn) for far in BEYOND[m.drawn])
        ways += [(INTO_BED / len(BEYOND[m.drawn]), log) for log in beyond]
    else:
        ways.append((0.3, 0.0))
    return mix(ways)


#: The models of holes.
HOLE_MODELS: Final[tuple[Model, ...]] = (holes,)
