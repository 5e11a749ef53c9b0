"""Evidence of feed and speed: what each edge of a bit takes."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from dryrun.fitting.chances import log_normal, mix
from dryrun.fitting.measures import Measures
from dryrun.fitting.models import Evidence, Model, fine_diameter
from dryrun.job.materials import Material
from dryrun.job.model import Bit
from dryrun.units import format_length

#: Usual feed per edge for wood by diameter, mm: middle of the handbook-like ranges of
#: `job/data/materials.toml` (common practice, no source), lower for small machines and wide
#: bits.
CHIP: Final = ((1.0, 0.025), (3.0, 0.08), (6.0, 0.145), (12.0, 0.25), (25.0, 0.38))


#: Straight down this part of the feed is usual, and from this part of the path on it is drilling.
PLUNGE: Final = 0.35
DRILLED: Final = 0.9


#: How often a feed was chosen for the machine, whatever the bit.
ANY_FEED: Final = 0.07


def usual_chip(diameter: float, material: Material | None) -> float:
    """Middle of the usual feed per edge for a diameter, mm."""
    if material is not None and material.chip_load is not None:
        usual = material.chip_load.at(diameter)
        return 0.85 * math.sqrt(usual.low * usual.high)
    x = [math.log(d) for d, _ in CHIP]
    y = [math.log(c) for _, c in CHIP]
    return float(math.exp(np.interp(math.log(diameter), x, y)))


def chip(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Weigh feed and speed against what an edge of the bit usually takes."""
    if m.feed <= 0 or m.speed <= 0:
        return None
    flutes = bit.flutes or 2
    load = m.feed / m.speed / flutes
    size = bit.diameter
    if bit.shape in ("taper-ball", "taper-flat"):  # some go by its end, some by what is behind it
        size = math.sqrt(fine_diameter(bit) * bit.diameter)
    if bit.shape == "vee":
        size = min(size, 6.0)
    spread = 0.5 if bit.shape in ("flat", "bull", "ball") else 0.8
    if bit.flutes is None:
        spread = math.hypot(spread, 0.35)
    usual = usual_chip(size, material) * (0.8 if bit.shape == "vee" else 1.0)
    # Small machines and cautious people feed slowly; hardly anybody feeds much too fast.
    if m.modes.get("plunge", 0.0) > DRILLED:
        usual *= PLUNGE
        spread *= 1.3
    slow = load < 0.65 * usual
    log = log_normal(load, 0.65 * usual, (1.2 if slow else 1.1) * spread, 0.1)
    # Some feed far more slowly than they could: what is too slow for all bits tells little.
    log = mix([(0.83, log), (0.17, log_normal(load, 0.3 * usual, 0.7, 0.1))])
    # One feed for all bits says nothing about any.
    log = mix([(1 - ANY_FEED, log), (ANY_FEED, log_normal(m.feed, 1000.0, 0.6, 0.1))])
    text = f"feed and speed give {format_length(load)} for each edge"
    ratio = load / usual
    if 0.5 <= ratio <= 2.0:
        text += ", usual for it"
    else:
        text += f", {'more' if ratio > 1 else 'less'} than is usual for it"
    if bit.max_rpm is not None and m.speed > 1.005 * bit.max_rpm:
        log -= 2.0
        text += f"; {m.speed:.0f} rpm is beyond its {bit.max_rpm:.0f} rpm"
    return Evidence("chip", log, text)


#: The models of rates.
RATE_MODELS: Final[tuple[Model, ...]] = (chip,)
