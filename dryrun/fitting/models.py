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

from dryrun.fitting.measures import Measures
from dryrun.job.materials import Material
from dryrun.job.model import Bit


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
    "area": {"flat": 1, "bull": 0.8, "taper-flat": 0.05, "ball": 0.03, "taper-ball": 0.01,
             "vee": 0.012, "form": 0.01, "drill": 1e-4},
    "line": {"flat": 1, "bull": 0.4, "taper-flat": 0.15, "ball": 0.33, "taper-ball": 0.15,
             "vee": 0.6, "form": 0.1, "drill": 1e-4},
    "relief": {"ball": 1, "taper-ball": 0.7, "bull": 0.3, "flat": 0.012, "taper-flat": 0.03,
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

#: Rows no farther apart than this, cut no deeper than this, mm, shade what is engraved: with a
#: fine point, where it is not a narrow flat bit that clears a shallow ground.
HATCHED: Final = (0.45, 0.6)
HATCHING: Final = {"taper-flat": 0.5, "vee": 0.06, "taper-ball": 0.06}

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


def stepped(m: Measures) -> bool:
    """Tell whether areas are cleared at several heights, none right above another."""
    return m.passes == 1 and len(m.levels) > 1 and m.modes.get("area", 0.0) > 0.3


def hatched(m: Measures) -> bool:
    """Tell whether level rows are as close and shallow as those that shade an engraving."""
    close, shallow = HATCHED
    return m.spacing is not None and m.spacing.distance < close and 0 < m.deepest < shallow


#: A slope within so many spreads of a bit's own flank is cut along it, and then how readily a
#: pointed bit is taken for it.
NEAR_FLANK: Final = 3.0
FLANKED: Final = 0.7


def off_flank(m: Measures, bit: Bit) -> float:
    """How far the slope of a few passes is off a bit's flank, in spreads; inf without a flank."""
    if m.flank is None or not bit.angle or bit.shape not in ("vee", "taper-ball", "taper-flat"):
        return math.inf
    own = math.tan(bit.angle / 2 if bit.shape == "vee" else bit.angle)
    return math.log(m.flank.tangent / own) / m.flank.spread


#: How readily a vee is taken for rows that are as far apart as it cuts them wide, and how near.
SHADED: Final = 0.5
AS_WIDE: Final = 0.03


def shaded(m: Measures, bit: Bit) -> bool:
    """Tell whether rows of varying depth just meet for a vee where they are deepest.

    So pictures are shaded: the wider a line, the darker.
    """
    if bit.shape != "vee" or m.fine_spacing is None or m.deepest <= 0:
        return False
    return abs(m.fine_spacing.distance / width_at(bit, m.deepest) - 1.0) < AS_WIDE


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
    if stepped(m):
        readily = {**WORK, "area": {**WORK["area"], **STEPPED}}
    if hatched(m):
        readily = {**WORK, "area": {**WORK["area"], **HATCHING}}
    if m.groove is not None and not m.groove.forks and m.groove.share_up < ENDS_AT_TOP:
        readily = {**readily, "carve": {**WORK["carve"], **TRACED}}
    if abs(off_flank(m, bit)) < NEAR_FLANK:
        readily = {**readily, "slopes": {**WORK["slopes"], bit.shape: FLANKED}}
    if shaded(m, bit):
        readily = {**readily, "relief": {**WORK["relief"], "vee": SHADED}}
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


def sideways(m: Measures) -> float:
    """Part of the path that goes sideways; short strokes are entered straight down many times."""
    return max(1.0 - m.modes.get("plunge", 0.0), 0.1)


#: The models of what all work shares.
WORK_MODELS: Final[tuple[Model, ...]] = (unit, work)
