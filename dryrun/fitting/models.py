"""Evidence: what each measure of a program says for and against a bit.

Each function takes the measures and one bit and returns `Evidence` (a log likelihood and a
sentence), or None when the measure does not concern the bits of the rack. Figures for what is
usual (stepovers, pass depths, chip loads) are common practice without a source unless one is
named; the widths of the distributions were set on generated programs (tests/fitting).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from dryrun.fitting.chances import (
    chosen_part,
    log_normal,
    mix,
)
from dryrun.fitting.measures import Measures
from dryrun.job.bits import cone_height, cutting_length
from dryrun.job.materials import Material
from dryrun.job.model import Bit
from dryrun.units import format_length


@dataclass(frozen=True, slots=True)
class Evidence:
    """What one measure says about one bit.

    Attributes
    ----------
    kind : which measure
    log : natural logarithm of its likelihood, comparable between bits only
    text : the sentence for people
    """

    kind: str
    log: float
    text: str


Model = Callable[[Measures, Bit, Material | None], Evidence | None]


def tangent(bit: Bit) -> float | None:
    """Tangent of the cone's half angle of a vee, else None."""
    return math.tan(bit.angle / 2) if bit.shape == "vee" and bit.angle else None


def fine_diameter(bit: Bit) -> float:
    """Diameter of the round or flat end that follows a relief, mm."""
    if bit.shape == "taper-ball" and bit.tip_radius:
        return 2 * bit.tip_radius
    if bit.shape == "bull" and bit.corner_radius:
        return 2 * bit.corner_radius
    if bit.shape == "taper-flat" and bit.tip_diameter:
        return bit.tip_diameter
    return bit.diameter


def width_at(bit: Bit, depth: float) -> float:
    """Width that a bit cuts at its top when its tip is `depth` mm down, mm."""
    if depth <= 0:
        return 0.0
    if bit.shape == "ball":
        d = min(depth, bit.radius)
        return 2 * math.sqrt(d * (bit.diameter - d))
    if bit.shape in ("vee", "drill") and bit.angle:
        return min(bit.diameter, bit.tip + 2 * depth * math.tan(bit.angle / 2))
    if bit.shape == "taper-ball" and bit.tip_radius and bit.angle:
        return min(bit.diameter, 2 * bit.tip_radius + 2 * depth * math.tan(bit.angle))
    if bit.shape == "taper-flat" and bit.tip_diameter and bit.angle:
        return min(bit.diameter, bit.tip_diameter + 2 * depth * math.tan(bit.angle))
    return bit.diameter


# ------------------------------------------------------------------ unit

#: How often programs for bits of inch and of metric sizes are written in inches (common practice,
#: no source): people who think in one unit buy and draw in it.
INCH_PROGRAMS: Final = {True: 0.45, False: 0.18}


def inch_size(bit: Bit) -> bool:
    """Tell whether a diameter is a part of an inch as bits have, and no half of a millimetre.

    Drills go by 64ths of an inch, other bits by 16ths and 32nds.
    """
    parts, halves = bit.diameter / 25.4 * (64 if bit.shape == "drill" else 32), bit.diameter * 2
    return abs(parts - round(parts)) < 0.01 and abs(halves - round(halves)) > 0.01


def unit(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Weigh the unit that the program is written in against the size of the bit."""
    often = INCH_PROGRAMS[inch_size(bit)]
    log = math.log(often if m.unit == "in" else 1 - often)
    name = "an inch" if inch_size(bit) else "a metric"
    said = "inches" if m.unit == "in" else "millimetres"
    return Evidence("unit", log, f"the program is written in {said}, and it is {name} size")


# ------------------------------------------------------------------ kind of work

#: How readily a bit of each shape is taken for each kind of work (common practice, no source).
WORK: Final[dict[str, dict[str, float]]] = {
    "area": {"flat": 1, "bull": 0.6, "taper-flat": 0.05, "ball": 0.03, "taper-ball": 0.01,
             "vee": 0.012, "form": 0.01, "drill": 1e-4},
    "line": {"flat": 1, "bull": 0.4, "taper-flat": 0.15, "ball": 0.33, "taper-ball": 0.15,
             "vee": 0.6, "form": 0.1, "drill": 1e-4},
    "relief": {"ball": 1, "taper-ball": 0.7, "bull": 0.15, "flat": 0.012, "taper-flat": 0.03,
               "vee": 0.02, "form": 0.01, "drill": 1e-4},
    "rough": {"flat": 1, "bull": 0.7, "ball": 0.15, "taper-ball": 0.03, "taper-flat": 0.03,
              "vee": 0.01, "form": 0.01, "drill": 1e-4},
    "rings": {"ball": 1, "taper-ball": 0.6, "bull": 0.5, "flat": 0.25, "taper-flat": 0.1,
              "vee": 0.01, "form": 0.01, "drill": 1e-4},
    "slopes": {"ball": 1, "taper-ball": 0.6, "bull": 0.5, "flat": 0.1, "taper-flat": 0.05,
               "vee": 0.01, "form": 0.01, "drill": 1e-4},
    "carve": {"vee": 1, "taper-ball": 0.06, "taper-flat": 0.06, "ball": 0.04, "flat": 0.02,
              "bull": 0.02, "form": 0.02, "drill": 1e-4},
    "helix": {"flat": 1, "bull": 0.5, "ball": 0.05, "taper-flat": 0.03, "taper-ball": 0.02,
              "vee": 0.01, "form": 0.02, "drill": 1e-4},
}  # fmt: skip
#: Lines of varying depth that begin and end below the top, and meet at no fork, need not be the
#: middle of a shape with corners: a ball may trace a hollow.
TRACED: Final = {"ball": 0.5, "taper-ball": 0.4, "flat": 0.05, "bull": 0.1}
ENDS_AT_TOP: Final = 0.3

#: Level areas at several heights, none right above another, may be a relief that is roughed out,
#: with the bit that finishes it.
STEPPED: Final = {"ball": 0.12, "taper-ball": 0.02}

SAID: Final = {
    "area": "it clears level areas",
    "line": "it runs along level lines",
    "relief": "it follows a relief in close passes",
    "rough": "it roughs a relief in layers",
    "rings": "it runs around a relief at even heights",
    "slopes": "it goes down slopes in close level lines",
    "carve": "its depth varies along single lines",
    "helix": "it goes down helices",
}


#: Passes of which less than this part is linked within the blank, and which lie this many widths
#: of a bit apart, are cuts of their own for it.
LINKED: Final = 0.2
SEPARATE: Final = 1.05


def separate(m: Measures, bit: Bit) -> bool:
    """Tell whether neighbouring passes are too far apart to be one area for a bit."""
    s = m.spacing
    if s is None or s.linked >= LINKED:
        return False
    return s.distance > SEPARATE * width_at(bit, max(m.deepest, 0.1))


def _stepped(m: Measures) -> bool:
    """Tell whether areas are cleared at several heights, none right above another."""
    return m.passes == 1 and len(m.levels) > 1 and m.modes.get("area", 0.0) > 0.3


def work(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Weigh the kind of work against the shape of the bit."""
    shares = {name: m.modes.get(name, 0.0) for name in WORK}
    if separate(m, bit):
        shares["line"] += shares["area"]
        shares["area"] = 0.0
    if m.loops is not None:
        shares["area"] += shares["line"]
        shares["line"] = 0.0
    total = sum(shares.values())
    if total < 1e-9:
        drills = {"drill": 0.0, "flat": -1.2, "bull": -2.0}
        log = drills.get(bit.shape, -3.0)
        return Evidence("work", log, "it only goes straight down, as a drill does")
    # A share of the path is worth as much as the whole once it is a good part of it.
    readily = WORK
    if _stepped(m):
        readily = {**WORK, "area": {**WORK["area"], **STEPPED}}
    if m.groove is not None and not m.groove.forks and m.groove.share_up < ENDS_AT_TOP:
        readily = {**readily, "carve": {**WORK["carve"], **TRACED}}
    log = sum(
        min(1.0, 1.6 * share / total) * math.log(readily[name][bit.shape])
        for name, share in shares.items()
    )
    main = max(shares, key=shares.__getitem__)
    best = WORK[main][bit.shape]
    fits = (
        "what this shape is for"
        if best >= 0.5
        else ("which this shape can do" if best >= 0.1 else "which is not for this shape")
    )
    return Evidence("work", log, f"{SAID[main]}, {fits}")


# ------------------------------------------------------------------ spacing of passes


#: How sure even cuts that are not linked are passes of one area, where a bit leaves ridges.
SURE_OF_AREA: Final = 0.8

#: Fewer places than this part have passes on both sides: they lie beside each other in pairs.
PAIRED: Final = 0.05

#: Two passes beside each other that are not linked are mostly cuts of their own: this part of what
#: linked ones say.
UNLINKED: Final = 0.15


def spacing(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Weigh how far apart level passes run against the width of the bit."""
    s = m.spacing
    share = sum(m.modes.get(k, 0.0) for k in ("area", "line", "slopes", "rough"))
    if s is None or s.distance <= 0 or s.share < 0.12 or share < 0.15 or m.loops is not None:
        return None
    wide = bit.diameter if bit.shape in ("flat", "bull", "ball") else width_at(bit, m.deepest)
    part = s.distance / max(wide, 0.05)
    # Passes on one side only may be the other side of a slot, a ring or a narrow part.
    rounds = (*m.curves, *m.helices)
    across = any(abs(s.distance - 2 * c.radius) < 0.02 * c.radius + 0.02 for c in rounds)
    one_sided = 0.0 if across else 0.6 * (s.share - 0.12) * (UNLINKED + (1 - UNLINKED) * s.linked)
    sure = float(np.clip(3.5 * s.both, one_sided, 0.98))
    if separate(m, bit):
        sure *= SURE_OF_AREA
    clearing = _stepover(part)
    if bit.shape == "bull" and bit.corner_radius:
        clearing = mix([(0.5, clearing), (0.5, _bull_step(s.distance, bit))])
    if s.both < PAIRED:
        # Two passes beside each other make a slot a little wider than the bit.
        clearing = mix([(0.7, clearing), (0.3, math.log(part) if part <= 1.0 else -math.inf)])
    if bit.shape in ("ball", "taper-ball"):
        # A ball goes over level ground as closely as over the rest of a relief.
        clearing = mix(
            [
                (0.5, clearing),
                (0.5, _ball_step(s.distance, bit)),
            ]
        )
    if part > 1.0:
        clearing -= 2.0
    trust = 0.3 if not 0.15 < part < 0.82 else 0.6 if s.both < PAIRED else 1.0
    clearing += chosen_part(s.distance, wide, m.drawn, trust)
    log = mix([(sure, clearing), (1 - sure, math.log(0.3))])
    text = f"neighbouring passes run {format_length(s.distance, m.unit)} apart, {part:.0%} of its "
    text += "width"
    if part > 1.0:
        text += ": ridges would stay between them"
    elif part < 0.15:
        text += ": closer than it needs"
    return Evidence("spacing", log, text)


def _stepover(part: float) -> float:
    """Stepovers for clearing: 30 to 60 % are usual, 10 to 90 % happen."""
    if part > 1.0:
        return math.log(0.02)
    usual = math.log(part / 0.36) if 0.27 <= part <= 0.63 else -math.inf
    wide = math.log(part / 0.25) if 0.6 <= part <= 0.85 else -math.inf
    spread = log_normal(part, 0.42, 0.45, 0.0)
    thin = math.log(part / 0.19) if 0.06 <= part <= 0.25 else -math.inf
    return mix([(0.57, usual), (0.08, wide), (0.03, thin), (0.3, spread), (0.02, math.log(0.3))])


#: Rows of a bull nose as a part of the flat of its end: wider ones leave ridges on the floor.
FLAT_END: Final = (0.4, 1.0)


def _bull_step(distance: float, bit: Bit) -> float:
    """Stepovers of a bull nose that leave a flat floor go by the flat of its end."""
    part = distance / max(bit.diameter - 2 * (bit.corner_radius or 0.0), 0.05)
    low, high = FLAT_END
    return math.log(part / (high - low)) if low <= part <= high else -math.inf


#: Ridges left between passes of a ball, mm: middle and spread of the logarithm.
RIDGE: Final = (0.012, 0.7)


def _ball_step(distance: float, bit: Bit) -> float:
    """Stepovers of a ball over a relief: 5 to 15 % are usual, or what leaves low ridges.

    The height of the ridges grows with the square of the step: its logarithm is as dense twice.
    """
    diameter = fine_diameter(bit)
    part = distance / diameter
    usual = math.log(part / 0.115) if 0.045 <= part <= 0.16 else -math.inf
    radius, half = diameter / 2, min(part, 0.99) * diameter / 2
    ridge = radius - math.sqrt(radius * radius - half * half)
    by_ridge = math.log(2.0) + log_normal(ridge, *RIDGE, 0.03)
    return mix([(0.45, usual), (0.25, log_normal(part, 0.1, 0.55, 0.06)), (0.3, by_ridge)])


#: Steps down a slope, as a part of the bit's end: middle and spread of the logarithm; and passes
#: that rough beside slopes, as a part of the diameter: thin, so that they leave low stairs.
SLOPE_STEP: Final = (0.18, 0.5)
SLOPE_PASS: Final = (0.26, 0.45)


def fine_spacing(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Weigh how close the passes over a relief are against the end of the bit."""
    distance = m.fine_spacing.distance if m.fine_spacing is not None else None
    if m.descent is not None:
        distance = m.descent.step
    if distance is None:
        return None
    part = distance / fine_diameter(bit)
    if m.descent is not None:
        # Scallops of a round end and stairs of a flat one both grow with the step.
        log = mix(
            [
                (0.4, _ball_step(distance, bit)),
                (0.6, log_normal(part, *SLOPE_STEP, 0.05)),
            ]
        )
    elif bit.shape in ("ball", "taper-ball"):
        log = _ball_step(distance, bit)
    else:
        log = log_normal(part, 0.2, 0.7, 0.05)
    log += chosen_part(distance, fine_diameter(bit), m.drawn)
    if part > 0.6:
        log -= 2.0
    text = f"passes over the relief are {format_length(distance, m.unit)} apart, {part:.0%} of "
    return Evidence("fine spacing", log, text + "the width of its end")


# ------------------------------------------------------------------ depths


def sideways(m: Measures) -> float:
    """Part of the path that goes sideways; short strokes are entered straight down many times."""
    return max(1.0 - m.modes.get("plunge", 0.0), 0.1)


#: Passes of machines whose weakness sets them, not the bit: middle in mm, spread of its logarithm.
ANY_PASS: Final = (1.7, 0.55)


#: Passes of a bull nose, as a part of its diameter: wide ones of trays and bowls go down by no more
#: than the round of their corner (common practice, no source).
BULL_PASS: Final = (0.18, 0.6)


def pass_depth(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Weigh the depth of each pass, and how many there are, against the bit."""
    share = sum(
        m.modes.get(k, 0.0) for k in ("area", "line", "rings", "slopes", "rough")
    ) / sideways(m)
    d, single = m.pass_depth, m.passes == 1
    if d is None or d <= 0 or share < 0.3 or (single and share < 0.7):
        return None
    if m.modes.get("rings", 0.0) > 0.5:
        # The step in height leaves scallops as a stepover does.
        round_end = bit.shape in ("ball", "taper-ball")
        part = d / fine_diameter(bit)
        log = _ball_step(d, bit) if round_end else log_normal(part, 0.12, 0.8, 0.05)
    elif m.loops is not None:
        # Thin bites from the side may be deep.
        log = log_normal(d / bit.diameter, 0.9, 0.6, 0.1)
    elif m.descent is not None:
        log = log_normal(d / bit.diameter, *SLOPE_PASS, 0.08)
        log += math.log(0.65) + chosen_part(d, bit.diameter, m.drawn, 0.15 if _split(m) else 1.0)
    elif bit.shape in ("flat", "bull"):
        usual = log_normal(d / bit.diameter, 0.42, 0.47, 0.08)
        if bit.shape == "bull":
            usual = mix([(0.5, usual), (0.5, log_normal(d / bit.diameter, *BULL_PASS, 0.08))])
        # Faces and thin material are cut in thin passes.
        thin = log_normal(d / bit.diameter, 0.12, 0.7, 0.06)
        # Thin bites from the side may be deep.
        deep = log_normal(d / bit.diameter, 1.3, 0.4, 0.06)
        # Small machines take what they can, whatever the bit.
        own = log_normal(d, *ANY_PASS, 0.1)
        log = mix([(0.76, usual), (0.12, thin), (0.04, deep), (0.08, own)])
        log += math.log(0.35 if single else 0.65)
        if not single:
            log += chosen_part(d, bit.diameter, m.drawn, 0.15 if _split(m) else 1.0)
    elif bit.shape == "ball":
        # A round groove is at most as deep as the ball's radius.
        usual = log_normal(d / bit.diameter, 0.35 if _stepped(m) else 0.22, 0.7, 0.05)
        log = mix([(0.85, usual), (0.15, log_normal(d, *ANY_PASS, 0.1))])
        log += math.log(0.6 if single else 0.4)
        if not single:
            log += chosen_part(d, bit.diameter, m.drawn, 0.15 if _split(m) else 1.0)
        log -= 1.5 if m.deepest > 1.02 * bit.radius and not _stepped(m) else 0.0
    elif bit.shape in ("vee", "taper-ball", "taper-flat"):
        log = log_normal(d, 0.9, 0.7, 0.04) + math.log(0.85 if single else 0.15)
        if not single:
            log += chosen_part(d, bit.diameter, m.drawn, 0.0)
    else:
        log = log_normal(d / bit.diameter, 0.2, 0.7, 0.05) + math.log(0.7 if single else 0.3)
    if not m.top_known and single:
        log *= 0.8
    said = "one pass" if single else f"{m.passes} passes"
    part = d / bit.diameter
    text = f"{said} of {format_length(d, m.unit)}, {part:.0%} of its diameter"
    return Evidence("pass depth", log, text)


def _split(m: Measures) -> bool:
    """Whether the whole depth was split into even passes, so that they need not be round parts."""
    if not m.pass_depth:
        return False
    steps = np.array([m.deepest, *m.levels]) / m.pass_depth
    return bool((np.abs(steps - np.round(steps)) < 0.01)[[0, -1]].any())


#: A carving that is deeper than the cone of its bit.
BEYOND_CONE: Final = -4.0


def reach(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Weigh the deepest point against the length of the cutting edge."""
    if m.deepest <= 0:
        return None
    edge = cone_height(bit) if bit.shape in ("vee", "taper-ball") else None
    if edge is None:
        edge = cutting_length(bit)
    if edge is None or bit.shape == "drill":
        edge = 5.0 * bit.diameter
    over = m.deepest / edge
    if over <= 1.02:
        text = f"its edge reaches the deepest point, {format_length(m.deepest, m.unit)}"
        return Evidence("reach", 0.0, text)
    log = max(-3.0, -1.0 - 2.0 * math.log(over))
    if bit.shape == "vee":  # the width of what it carves ends where its cone does
        log = BEYOND_CONE
    text = f"the deepest point, {format_length(m.deepest, m.unit)}, lies beyond its edge of "
    return Evidence("reach", log, text + format_length(edge, m.unit))


# ------------------------------------------------------------------ chip load and speed

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
    if bit.shape == "taper-ball":  # some go by its end, some by what stands behind it
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


#: The models of level work and of what all work shares.
LEVEL_MODELS: Final[tuple[Model, ...]] = (
    unit, work, spacing, fine_spacing, pass_depth, reach, chip,
)  # fmt: skip
