"""Evidence of level passes: how far they run apart, how deep each goes, how deep all."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from dryrun.fitting.chances import chosen_part, log_normal, mix
from dryrun.fitting.facing import Face
from dryrun.fitting.measures import Measures
from dryrun.fitting.models import (
    Evidence,
    Model,
    fine_diameter,
    separate,
    sideways,
    stepped,
    width_at,
)
from dryrun.job.bits import cone_height, cutting_length
from dryrun.job.materials import Material
from dryrun.job.model import Bit
from dryrun.units import format_length

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
    if m.face is not None and bit.shape in ("flat", "bull"):
        return _face_spacing(m.face, bit, m)
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
    if part > 1.0 or _ridge(s.distance, bit) > MOST_RIDGE:
        clearing -= 2.0
    trust = 0.3 if not 0.15 < part < 0.82 else 0.6 if s.both < PAIRED else 1.0
    clearing += chosen_part(s.distance, wide, m.drawn, trust)
    log = mix([(sure, clearing), (1 - sure, math.log(0.3))])
    return Evidence("spacing", log, _said_of_spacing(s.distance, part, m))


def _said_of_spacing(distance: float, part: float, m: Measures) -> str:
    text = (
        f"neighbouring passes run {format_length(distance, m.unit)} apart, {part:.0%} of its width"
    )
    if part > 1.0:
        return text + ": ridges would stay between them"
    return text + (": closer than it needs" if part < 0.15 else "")


#: Rows of a face as a part of the diameter (common practice, no source): usual ones, and middle and
#: spread of the logarithm of the others.
FACE_STEP: Final = (0.38, 0.82)
OTHER_FACE_STEP: Final = (0.5, 0.4)

#: How sure even rows over a rectangle are a face: with links between them, and each on its own.
SURE_OF_FACE: Final = {True: 0.97, False: 0.9}

#: How much likelier a bit is taken for a face than one of a third of its width (common practice, no
#: source): the wider, the sooner it is done.
WIDER: Final = 0.4


def _face_spacing(face: Face, bit: Bit, m: Measures) -> Evidence:
    """Weigh the rows of a face: wider than half the bit as a rule, and ridges never stay."""
    part, (low, high) = face.distance / bit.diameter, FACE_STEP
    usual = -math.log(math.log(high / low)) if low <= part <= high else -math.inf
    rows = mix([(0.75, usual), (0.25, log_normal(part, *OTHER_FACE_STEP, 0.02))])
    if bit.shape == "bull" and bit.corner_radius:
        rows = mix([(0.5, rows), (0.5, _bull_step(face.distance, bit))])
    rows += chosen_part(face.distance, bit.diameter, m.drawn, 1.0)
    if part > 1.0 or _ridge(face.distance, bit) > MOST_RIDGE:
        rows = math.log(0.003)
    sure = SURE_OF_FACE[face.linked]
    log = mix([(sure, rows), (1 - sure, math.log(0.3))]) + WIDER * math.log(bit.diameter / 10.0)
    return Evidence("spacing", log, _said_of_spacing(face.distance, part, m))


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


#: Ridges on a floor that a bull nose has cleared are at most so high, mm.
MOST_RIDGE: Final = 0.2


def _ridge(distance: float, bit: Bit) -> float:
    """Height of the ridges that the corners of a bull nose leave between passes, mm."""
    corner = bit.corner_radius or 0.0
    half = (distance - bit.diameter) / 2 + corner
    if bit.shape != "bull" or half <= 0 or corner <= 0:
        return 0.0
    return corner - math.sqrt(max(corner * corner - half * half, 0.0))


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
#: The same for a bull nose that goes by its diameter: its flat lies in the hollow.
BULL_SLOPE: Final = (0.12, 0.5)


#: Rows of a bull nose over a relief, as a part of its diameter: middle and spread of the logarithm.
BULL_ROWS: Final = (0.2, 0.4)

#: Rows of a vee that are as far apart as they are wide where they are deepest shade a picture: how
#: near, as a logarithm, and how often; its rows over anything else would leave sharp ridges.
MEETING_ROWS: Final = (0.02, 0.5)
VEE_ROWS: Final = (0.8, 0.35)


def _vee_rows(distance: float, wide: float) -> float:
    """Rows of a vee that shade a picture: where it is darkest they just meet."""
    spread, often = MEETING_ROWS
    off = math.log(distance / wide) / spread
    meet = -0.5 * off * off - math.log(spread * 2.5066)
    return mix([(often, meet), (1 - often, log_normal(distance / wide, *VEE_ROWS, 0.03))])


def _touched(section: float | None, bit: Bit) -> float:
    """How much farther apart a round end touches a hollow than its tip steps (similar circles).

    In a hollow the tip goes on a circle that is smaller by the end's radius, over a dome on a
    larger one.
    """
    if section is None or bit.shape not in ("ball", "taper-ball"):
        return 1.0
    touched = section + fine_diameter(bit) / 2  # a dome's section lies below zero
    return touched / section if touched * section > 0 else 1.0


#: Of what goes up and down, up to the first part passes over a relief are carved lines that happen
#: to lie beside each other, from the second on they are all a relief.
RELIEF_SHARE: Final = (0.25, 0.6)


def _mostly_relief(m: Measures) -> float:
    """Return how far what goes up and down is a relief rather than carved lines, 0 to 1."""
    relief, carved = m.modes.get("relief", 0.0), m.modes.get("carve", 0.0)
    low, high = RELIEF_SHARE
    return float(np.clip((relief / max(relief + carved, 1e-9) - low) / (high - low), 0.0, 1.0))


def fine_spacing(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Weigh how close the passes over a relief are against the end of the bit."""
    distance = m.fine_spacing.distance if m.fine_spacing is not None else None
    if m.descent is not None:
        distance = m.descent.step
    if distance is None:
        return None
    distance *= _touched(m.section, bit)
    part = distance / fine_diameter(bit)
    if m.descent is not None and bit.shape == "bull":
        log = mix(
            [
                (0.5, log_normal(part, *SLOPE_STEP, 0.05)),
                (0.5, log_normal(distance / bit.diameter, *BULL_SLOPE, 0.05)),
            ]
        )
        part = distance / bit.diameter
    elif m.descent is not None:
        # Scallops of a round end and stairs of a flat one both grow with the step.
        log = mix(
            [
                (0.4, _ball_step(distance, bit)),
                (0.6, log_normal(part, *SLOPE_STEP, 0.05)),
            ]
        )
    elif bit.shape in ("ball", "taper-ball"):
        log = _ball_step(distance, bit)
    elif bit.shape == "vee":
        log = _vee_rows(distance, width_at(bit, m.deepest))
        part = distance / width_at(bit, m.deepest)
    elif bit.shape == "bull":
        # The flat of its end leaves no ridges where the relief hardly leans.
        whole = log_normal(distance / bit.diameter, *BULL_ROWS, 0.03)
        log = mix([(0.5, log_normal(part, 0.2, 0.7, 0.05)), (0.5, whole)])
        part = distance / bit.diameter
    else:
        log = log_normal(part, 0.2, 0.7, 0.05)
    log += chosen_part(distance, fine_diameter(bit), m.drawn)
    if part > 0.6 and bit.shape != "vee":
        log -= 2.0
    if m.descent is None:
        log *= _mostly_relief(m)
    text = f"passes over the relief are {format_length(distance, m.unit)} apart, {part:.0%} of "
    return Evidence("fine spacing", log, text + "the width of its end")


# ------------------------------------------------------------------ depths


#: Passes of machines whose weakness sets them, not the bit: middle in mm, spread of its logarithm.
ANY_PASS: Final = (1.7, 0.55)


#: Passes of a bull nose, as a part of its diameter: wide ones of trays and bowls go down by no more
#: than the round of their corner (common practice, no source).
BULL_PASS: Final = (0.18, 0.6)


#: Passes of faces, mm: middle and spread of the logarithm (common practice, no source).
FACE_PASS: Final = (0.7, 0.8)


#: Depths of engraving with fine points, mm: middle and spread of the logarithm.
ENGRAVING: Final = (0.25, 0.5)


#: How often a pointed bit goes over its line again, and a vee around edges that it bevels, no
#: deeper than this, mm; middle and spread of the logarithm of its passes, mm (common practice, no
#: source).
AGAIN_POINTED: Final = 0.15
AGAIN_BEVEL: Final = 0.25
DEEPEST_BEVEL: Final = 7.0
BEVEL: Final = (1.2, 0.8)


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
    elif m.face is not None and bit.shape in ("flat", "bull"):
        # A skim is as thin as the board is uneven, whatever the bit.
        log = log_normal(d, *FACE_PASS, 0.1) - (3.0 if d > 1.5 * bit.diameter else 0.0)
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
        usual = log_normal(d / bit.diameter, 0.35 if stepped(m) else 0.22, 0.7, 0.05)
        log = mix([(0.85, usual), (0.15, log_normal(d, *ANY_PASS, 0.1))])
        log += math.log(0.6 if single else 0.4)
        if not single:
            log += chosen_part(d, bit.diameter, m.drawn, 0.15 if _split(m) else 1.0)
        log -= 1.5 if m.deepest > 1.02 * bit.radius and not stepped(m) else 0.0
    elif bit.shape in ("vee", "taper-ball", "taper-flat"):
        log = mix([(0.6, log_normal(d, 0.9, 0.7, 0.04)), (0.4, log_normal(d, *ENGRAVING, 0.04))])
        again = AGAIN_POINTED
        closed = bool(m.sizes or m.curves)
        if bit.shape == "vee" and not single and closed and m.deepest < DEEPEST_BEVEL:
            # Bevels are cut deeper and deeper on one line; what each pass takes grows thinner.
            log = mix([(0.4, log), (0.6, log_normal(d, *BEVEL, 0.04))])
            again = AGAIN_BEVEL
        log += math.log(1 - again if single else again)
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
CARVED: Final = 0.1


#: Diameters of drills and lengths of their flutes, mm (DIN 338, from memory).
DRILL_FLUTES: Final = (
    (1.0, 12.0), (2.0, 24.0), (3.0, 33.0), (4.0, 43.0), (5.0, 52.0), (6.0, 57.0), (8.0, 75.0),
    (10.0, 87.0), (13.0, 101.0),
)  # fmt: skip


def drill_flutes(diameter: float) -> float:
    """Length of the flutes of a usual drill, mm."""
    sizes, lengths = [d for d, _ in DRILL_FLUTES], [length for _, length in DRILL_FLUTES]
    return float(np.interp(diameter, sizes, lengths))


def reach(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Weigh the deepest point against the length of the cutting edge."""
    if m.deepest <= 0:
        return None
    edge = cone_height(bit) if bit.shape in ("vee", "taper-ball") else None
    if edge is None:
        edge = cutting_length(bit)
    if edge is None:
        edge = drill_flutes(bit.diameter) if bit.shape == "drill" else 5.0 * bit.diameter
    over = m.deepest / edge
    if over <= 1.02:
        text = f"its edge reaches the deepest point, {format_length(m.deepest, m.unit)}"
        return Evidence("reach", 0.0, text)
    log = max(-3.0, -1.0 - 2.0 * math.log(over))
    if bit.shape == "vee" and m.modes.get("carve", 0.0) > CARVED:
        # The width of what it carves ends where its cone does; beside a chamfer nothing stands.
        log = BEYOND_CONE
    text = f"the deepest point, {format_length(m.deepest, m.unit)}, lies beyond its edge of "
    return Evidence("reach", log, text + format_length(edge, m.unit))


#: The models of level passes.
PASS_MODELS: Final[tuple[Model, ...]] = (spacing, fine_spacing, pass_depth, reach)
