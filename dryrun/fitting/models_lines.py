"""Evidence of single lines: engraving, chamfers and flutes, their ends, loops and sections."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from dryrun.fitting.chances import (
    DIGIT,
    chosen_part,
    log_normal,
    mix,
    roundness,
    together,
)
from dryrun.fitting.measures import Measures
from dryrun.fitting.models import (
    NEAR_FLANK,
    Evidence,
    Model,
    fine_diameter,
    off_flank,
    sideways,
    width_at,
)
from dryrun.job.materials import Material
from dryrun.job.model import Bit
from dryrun.units import format_length

# ------------------------------------------------------------------ single lines


#: Against flat bits of some width for very shallow single lines.
ENGRAVED: Final = -3.0

#: Single lines down to here may be chamfers, mm, in one pass or in two that are halves.
DEEPEST_LINE: Final = 7.0
HALVES: Final = 0.02

#: Ways in which the depths of single lines come about: the width at the top, half of it, or the
#: depth itself was chosen. A flat bit is as wide at any depth, so that only the depth is chosen.
WIDTH_CHOSEN: Final = {
    "vee": (0.2, 0.2, 0.45), "ball": (0.3, 0.0, 0.55), "taper-ball": (0.3, 0.0, 0.45),
    "taper-flat": (0.3, 0.0, 0.45),
}  # fmt: skip
DEPTH_CHOSEN: Final = (0.0, 0.0, 0.75)

#: A groove that grows in width by less than this part of the depth has no width of its own.
LEAST_GROWTH: Final = 0.2
NOT_CHOSEN: Final = -1.6

#: The depths of single lines say at most so much.
MOST_OF_DEPTHS: Final = 6.0


def chosen_depths(m: Measures, bit: Bit) -> float:
    """Log ratio of the depths at which single lines run, by the widths that a bit cuts there."""
    weights = WIDTH_CHOSEN.get(bit.shape, DEPTH_CHOSEN)
    ways: list[list[float]] = [[], [], []]
    digit = _depth_digit(m)
    for depth in m.floors[:4]:
        wide = width_at(bit, depth)
        grows = (width_at(bit, depth + 0.001) - wide) / 0.001
        # Deeper than its middle a ball is no wider, nor a vee above its cone.
        grown = [grows * digit, grows * FINE_DIGIT[m.unit]] if grows > LEAST_GROWTH else []
        for way, part in ((ways[0], 1.0), (ways[1], 0.5)):
            chosen = [_chosen(part * wide, part * g, m) for g in grown]
            way.append(max(chosen, default=NOT_CHOSEN))
        ways[2].append(_chosen(depth, FINE_DIGIT[m.unit], m))
    return min(MOST_OF_DEPTHS, together(ways, weights, 1.0 - sum(weights)))


#: How far depths are rounded at least, mm: half of the usual last digit.
FINE_DIGIT: Final = {"mm": 0.0005, "in": 0.0013}


def _chosen(value: float, tolerance: float, m: Measures) -> float:
    return roundness(value, m.drawn, tolerance + 0.0002 - DIGIT[m.drawn])


def _depth_digit(m: Measures) -> float:
    """How far depths are rounded, mm: half of the last digit that any of them has."""
    step = 1.0 if m.unit == "mm" else 25.4
    parts = np.array(m.floors) / (0.01 * step)
    coarse = (np.abs(parts - np.round(parts)) < 0.06 / step).all()
    return 0.005 * step if coarse else FINE_DIGIT[m.unit]


def lines(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Weigh shallow single lines: engraving and chamfers are for pointed bits."""
    share = m.modes.get("line", 0.0) / sideways(m)
    halves = m.passes == 2 and abs(2 * (m.pass_depth or 0.0) - m.deepest) < HALVES
    if share < 0.5 or not (m.passes == 1 or halves) or m.deepest > DEEPEST_LINE:
        return None
    large = bool(m.sizes) and max(m.sizes) > 25.0
    if bit.shape == "vee" and bit.angle:
        degrees = math.degrees(bit.angle)
        # Chamfers are cut at 45 degrees; lettering with slimmer points as well.
        log = (0.0 if abs(degrees - 90) < 3 else -0.8) if large else (-0.3 if degrees > 75 else 0.0)
    elif bit.shape in ("flat", "bull"):
        log = -0.02 * bit.diameter**2 if m.deepest < 1.2 else -1.0
        log = min(-1.5, max(log, -2.5)) if m.deepest < 3.1 else -0.7
        log = min(log, ENGRAVED) if m.deepest < 0.7 and bit.diameter > 2.5 else log
    else:
        log = -0.5 if large else max(-0.8, -0.2 - 0.015 * fine_diameter(bit) ** 2)
    said = "long outlines, as for chamfers" if large else "short lines, as for engraving"
    text = f"shallow {said}"
    chosen = chosen_depths(m, bit)
    if m.passes > 1:
        log = 0.0
    if chosen > 1.5 and bit.shape in WIDTH_CHOSEN and m.floors:
        wide = format_length(round(width_at(bit, m.floors[0]), 3), m.unit)
        text += f"; it cuts them {wide} wide"
    return Evidence("lines", log + chosen, text)


# ------------------------------------------------------------------ ends and loops

#: Lines that come up at their ends: so many are no accident, and how much they say against a shape.
FEWEST_RISES: Final = 3
RISES: Final = {"flat": -2.2, "bull": -2.0, "drill": -3.0, "taper-flat": -0.3}


#: How often hollows side by side meet in a ridge, and the range their distance may have, mm.
MEETING: Final = 0.15
MEETING_RANGE: Final = 20.0

#: How near widths come to distances, mm: depths and widths are rounded too.
MEET: Final = 0.02


def meeting(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Ask whether grooves side by side just meet in a ridge, by the width a bit cuts there."""
    if not m.gaps or not m.floors:
        return None
    wide = width_at(bit, m.floors[0])
    grows = (width_at(bit, m.floors[0] + 0.001) - wide) / 0.001
    if grows < LEAST_GROWTH:  # where straight sides meet, nothing stands
        return Evidence("meeting", 0.0, "")
    near = MEET + grows * _depth_digit(m)
    meets = any(abs(gap - wide) < near for gap in m.gaps)
    log = mix([(1 - MEETING, 0.0), (MEETING * meets, math.log(MEETING_RANGE / (2 * near)))])
    said = f"its grooves of {format_length(round(wide, 3), m.unit)} meet in a ridge"
    return Evidence("meeting", log, said if meets else "")


def rises(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Weigh lines that come up to the top at their ends: they are for pointed and round bits."""
    level = m.modes.get("area", 0.0) + m.modes.get("line", 0.0)
    if m.rises < FEWEST_RISES or level < 0.3:
        return None
    # Flutes are for balls, strokes of letters for vees.
    log = RISES.get(bit.shape, 1.2 if bit.shape == "ball" else 0.0)
    if m.modes.get("area", 0.0) > 0.3:
        # Walls of letters that run up into the corners: only a point follows them.
        log = min(log, 0.0 if bit.shape == "vee" else -1.2)
    said = "a ramp as wide as itself would stay" if log < -1 else "as it can"
    return Evidence("rises", log, f"{m.rises} lines come up to the top at their ends, {said}")


def loops(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Weigh the size of loops along a slot, and how far each goes on, against the bit."""
    found = m.loops
    if found is None:
        return None
    if bit.shape not in ("flat", "bull"):
        return Evidence("loops", -3.0, "loops along a slot are for flat bits")
    bite, part = found.bite / bit.diameter, found.radius / bit.radius
    log = log_normal(bite, 0.12, 0.55, 0.15)
    log += mix([(0.7, log_normal(part, 0.55, 0.55, 0.05)), (0.3, log_normal(part, 1.1, 0.6, 0.1))])
    log += chosen_part(found.bite, bit.diameter, m.drawn, 0.7)
    log += mix([(0.6, 0.0), (0.4, roundness(2 * (found.radius + bit.radius), m.drawn))])
    wide = format_length(2 * (found.radius + bit.radius), m.unit)
    text = f"loops go on by {bite:.0%} of its width and cut a slot {wide} wide with it"
    return Evidence("loops", log, text)


def section(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Ask whether a hollow or dome that level lines finish has a round radius beside the bit's."""
    found = m.section
    if found is None:
        return None
    # A sharp edge draws the section itself, a round one a section parallel to it.
    own = fine_diameter(bit) / 2 if bit.shape in ("ball", "taper-ball", "bull") else 0.0
    radius = found + own if found > 0 else -found - own
    if radius <= 0:
        return Evidence("section", -3.0, "the dome it goes over would have no radius")
    log = min(2.5, mix([(0.6, roundness(radius, m.drawn, 0.002)), (0.4, 0.0)]))
    what = "hollow" if found > 0 else "dome"
    text = f"with it the {what} has a radius of {format_length(round(radius, 3), m.unit)}"
    return Evidence("section", log, text)


#: How often passes that go down along a slope in a few steps follow the bit's own flank, and the
#: range that the logarithm of a slope's tangent has.
ALONG_FLANK: Final = 0.7
FLANK_RANGE: Final = 2.0


def flank(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Ask whether passes that go down along a slope in steps keep to the bit's own flank."""
    found = m.flank
    if found is None:
        return None
    off = off_flank(m, bit)
    if not math.isfinite(off):
        text = "it has no flank along the slope of its passes"
        return Evidence("flank", math.log(1 - ALONG_FLANK), text)
    hit = FLANK_RANGE * math.exp(-0.5 * off * off) / (found.spread * 2.5066)
    log = math.log(ALONG_FLANK * hit + 1 - ALONG_FLANK)
    said = "as its flank does" if abs(off) < NEAR_FLANK else "its flank another way"
    angle = math.degrees(math.atan(found.tangent))
    text = f"each pass lies beside the last at {angle:.0f} degrees from the axis, {said}"
    return Evidence("flank", log, text)


#: The models of single lines.
LINE_MODELS: Final[tuple[Model, ...]] = (lines, meeting, rises, loops, section, flank)
