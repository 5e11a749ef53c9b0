"""Evidence of paths that are not level: grooves of a vee, reliefs under a ball."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from dryrun.fitting.chances import log_normal, mix, roundness, together
from dryrun.fitting.groove import fork_error
from dryrun.fitting.imprint import outline, touching
from dryrun.fitting.measures import Measures
from dryrun.fitting.models import Evidence, fine_diameter, tangent
from dryrun.job.materials import Material
from dryrun.job.model import Bit
from dryrun.units import format_length

#: Corners that people draw, degrees, and how often.
CORNERS: Final = ((90.0, 0.30), (60.0, 0.10), (120.0, 0.04), (45.0, 0.06), (36.0, 0.05),
                  (108.0, 0.03), (30.0, 0.04), (72.0, 0.02), (135.0, 0.02))  # fmt: skip


#: How often forks are places where plain lines meet.
ORNAMENT: Final = 0.25


def groove(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Weigh forks, corners and slopes of grooves of varying depth against a vee's angle."""
    g, t = m.groove, tangent(bit)
    if g is None:
        return None
    if t is None:
        return Evidence("groove", 0.0, "")
    log, said = 0.0, []
    if g.forks:
        errors = np.array([fork_error(f, t) for f in g.forks])
        logs = [mix([(0.8, -0.5 * (e / 0.035) ** 2 + math.log(1 / 0.035)), (0.2, 0.0)])
                for e in errors]  # fmt: skip
        closing = float(np.mean(logs)) * min(5.0, len(logs)) - math.log(3.0)
        # Lines that only meet, as those of ornaments do, are no grooves around a shape.
        log += mix([(1 - ORNAMENT, closing), (ORNAMENT, 0.0)])
        good = int((errors < 0.07).sum())
        said.append(
            f"the edges it would leave meet at {good} of {len(errors)} places where grooves fork"
        )
    if g.steepest * t > 1.03:
        log -= 4.0
        said.append("the path falls more steeply than its cone")
    if len(g.ends):
        log += _corners(g.ends, t, said)
    log += _widths(m, t, said)
    return Evidence("groove", log, "; ".join(said))


def _corners(ends: np.ndarray, t: float, said: list[str]) -> float:
    """Corners the grooves run up into: their angles follow from the slope there."""
    values, count = np.unique(np.round(ends, 3), return_counts=True)
    order = np.argsort(count)[::-1][:6]
    ratios, steep, named = [], 0.0, 0
    for slope in values[order]:
        sine = slope * t
        if sine > 1.01:
            steep += 1.5
            continue
        angle = 2 * math.degrees(math.asin(min(sine, 1.0)))
        slack = max(0.25, 0.004 / max(slope, 0.05) * angle)
        density = 0.34
        for corner, weight in CORNERS:
            if abs(angle - corner) < slack:
                density += weight * 180.0 / (2 * slack) * 0.5
                named += 1
        ratios.append(math.log(density))
    if named:
        said.append(f"{named} corners come out at angles people draw")
    drawn = together([[v * min(1.0, 3.0 / len(order)) for v in ratios]], (0.5,), 0.5)
    return min(drawn, 5.0) - min(steep, 4.0)


def _widths(m: Measures, t: float, said: list[str]) -> float:
    """Greatest widths of grooves: round ones speak for the angle that gives them."""
    assert m.groove is not None
    depths, count = np.unique(np.round(m.groove.crests, 3), return_counts=True)
    if not len(depths):
        return 0.0
    order = np.argsort(count)[::-1][:4]
    slack = 0.002 * t
    wide = [roundness(2 * float(d) * t, m.drawn, slack) for d in depths[order]]
    deep = [roundness(float(d), m.drawn) for d in depths[order]]
    log = min(together([wide, deep], (0.3, 0.3), 0.4), 4.0)
    if math.fsum(wide) > 3.0 and math.fsum(wide) > math.fsum(deep):
        width = format_length(2 * float(depths[order[0]]) * t, m.unit)
        said.append(f"grooves come out {width} wide")
    return log


#: Density of bends wider and sharper than the bit's own radius, per unit of ln radius, and how
#: many of the bends count as independent.
ROLL_WIDER: Final = 0.14
ROLL_SHARPER: Final = 0.03
ROLL_READINGS: Final = 2.5


def rolling(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Weigh how sharply the path bends over what stands up against the round end of the bit."""
    r = m.rolling
    if r is None:
        return None
    if bit.shape not in ("ball", "taper-ball", "bull"):
        return Evidence("rolling", 0.0, "")
    radius = fine_diameter(bit) / 2
    off = np.log(r.radii / radius)
    # Relative to a bend anywhere above: on its own radius, or sharper than it could.
    own = 0.35 * np.exp(-0.5 * (off / 0.1) ** 2) / (0.1 * 2.5066)
    other = np.where(off > 0, ROLL_WIDER, ROLL_SHARPER)
    log = ROLL_READINGS * float(np.log((own + other) / ROLL_WIDER).mean())
    near, below = float((np.abs(off) < 0.15).mean()), float((off < -0.15).mean())
    if below > 0.25:
        text = f"{below:.0%} of the bends over ridges are sharper than its radius"
    elif near > 0.15:
        text = f"{near:.0%} of the bends over ridges have its own radius"
    else:
        text = "hardly a bend over a ridge is sharper than its radius"
    return Evidence("rolling", log, text)


#: Of the bound that the sharpest bends set over the radius of the ball: which part of the bends is
#: taken, the spread of its logarithm, how often it lies elsewhere above and below, and the range it
#: may lie in. It lies below only where the path was rounded, above wherever all is round.
STANDING: Final = (0.25, 0.22)
STANDING_WIDER: Final = 0.5
STANDING_SHARPER: Final = 0.02
STANDING_RANGE: Final = 4.0

#: The imprint of a bit says half of it again.
STANDING_AGAIN: Final = 0.5


def standing(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Weigh the largest ball that leaves something standing at sharp bends against the bit."""
    if m.standing is None:
        return None
    if bit.shape not in ("ball", "taper-ball", "bull"):
        return Evidence("standing", 0.0, "")
    part, spread = STANDING
    largest = float(np.quantile(m.standing, part))
    off = math.log(2 * largest / fine_diameter(bit))
    own = math.exp(-0.5 * (off / spread) ** 2) / (spread * 2.5066) * STANDING_RANGE
    other = STANDING_WIDER if off > 0 else STANDING_SHARPER
    said = "about its own" if abs(off) < 2 * spread else "not its own"
    text = f"a round end of up to {format_length(round(largest, 2), m.unit)} leaves standing what "
    text += f"the path bends over, {said}"
    log = math.log((1 - STANDING_WIDER) * own + other)
    return Evidence("standing", STANDING_AGAIN * log, text)


#: How well the radius of even contact is met, at best (part); and how often it is met by chance.
CONTACT_SPREAD: Final = 0.04
CONTACT_CHANCE: Final = 0.01


def contact(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Weigh the radius that makes points of contact with a relief even against the bit's own."""
    c = m.contact
    if c is None:
        return None
    log, text = math.log(CONTACT_CHANCE), ""
    if bit.shape in ("ball", "taper-ball", "bull"):
        radius = fine_diameter(bit) / 2
        spread = math.hypot(CONTACT_SPREAD, c.spread / radius)
        off = math.log(c.radius / radius)
        log = mix([(1.0, -0.5 * (off / spread) ** 2), (CONTACT_CHANCE, 0.0)])
        fits = "its own" if abs(off) < 3 * spread else "not its own"
        text = "the path steps evenly over the relief for a round end of radius "
        text += f"{format_length(round(c.radius, 2), m.unit)}, {fits}"
    return Evidence("contact", log, text)


#: Level path over summits, as a part of the flat of the bit's end and, where that is round, of the
#: distance of the rows: middle and spread of the logarithm, and how often it is anything else, as
#: where the relief is flat on top.
ON_FLAT: Final = (0.75, 0.5, 0.1)
ON_ROUND: Final = (1.3, 0.5, 0.15)


def summits(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Ask whether the path runs level over summits for as long as the bit's end is flat."""
    if m.summits is None or m.fine_spacing is None:
        return None
    level, rows = max(m.summits, 0.3 * m.fine_spacing.distance), m.fine_spacing.distance
    if bit.shape not in ("flat", "bull", "ball", "taper-ball"):
        return Evidence("summits", log_normal(level / rows, *ON_ROUND), "")
    round_end = bit.shape in ("ball", "taper-ball")
    flat = 0.0 if round_end else bit.diameter - 2 * (bit.corner_radius or 0.0)
    if flat <= rows:
        log, said = log_normal(level / rows, *ON_ROUND), "its end is no wider flat"
    else:
        log, said = log_normal(level / flat, *ON_FLAT), f"{level / flat:.0%} of its flat end"
    text = f"the path runs level for {format_length(round(level, 2), m.unit)} over summits, {said}"
    return Evidence("summits", log, text)


#: How often circles that widen along a groove touch one arc or point, and not what only looks so;
#: how many of them count as independent, their least spread and the range of the logarithm of t2.
WIDENS: Final = 0.9
WIDENINGS: Final = 3.0
WIDENING_SPREAD: Final = 0.04
WIDENING_RANGE: Final = 4.0


def widening(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Weigh the circles that widen along a groove against the angle of a vee.

    Stretches that fit this vee speak for it. Those that do not may lie between other curves than
    arcs and points, whatever the bit: a bit of another shape fares as a vee that none of them fits.
    """
    if not m.widenings:
        return None
    t, counted = tangent(bit), min(WIDENINGS, len(m.widenings))
    if t is None:
        return Evidence("widening", counted * math.log(1 - WIDENS), "")
    off = np.array([math.log(w.square / (t * t)) for w in m.widenings])
    spread = np.array([math.hypot(WIDENING_SPREAD, 1.5 * w.part) for w in m.widenings])
    own = WIDENS * np.exp(-0.5 * (off / spread) ** 2) / (spread * 2.5066) * WIDENING_RANGE
    log = float(np.log(own + 1 - WIDENS).mean()) * counted
    near = int((np.abs(off) < 3 * spread).sum())
    text = f"{near} of {len(off)} stretches of its grooves would lie evenly between arcs or points"
    return Evidence("widening", log, text)


#: A bit is asked so much sharper and blunter than it is: what a sharper one cuts away was not made
#: with it, what a blunter one cuts away shows its own end.
SHARPER: Final = 0.8
BLUNTER: Final = 1.1

#: Fewer bends than this say nothing.
FEWEST_BENDS: Final = 10


def _decay(part: float, scale: float) -> float:
    return math.exp(-part / scale) / scale


def _imprinted(cut_away: float, wide: float) -> float:
    """Log ratio for the bit a program was made for, against any other.

    It makes all bends, and where edges are sharp no blunter one could; one that is too blunt cuts
    most of them away, one that is too slim leaves room for blunter ones.
    """
    edges = _decay(cut_away, 0.2) * _decay(wide, 0.06)
    smooth = _decay(cut_away, 0.06)
    blunt = 6 * cut_away**5 * _decay(wide, 0.1)
    slim = _decay(cut_away, 0.1) * 2 * wide
    made, other = 0.42 * edges + 0.58 * smooth + 0.2, 0.4 * blunt + 0.5 * slim + 0.4
    return math.log(made / other)


def imprint(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Ask what a bit touches at places of a path over a surface that its other places leave."""
    if m.imprint is None or len(m.imprint.tips) < FEWEST_BENDS:
        return None
    sharper = touching(m.imprint, outline(bit, SHARPER))
    blunter = touching(m.imprint, outline(bit, BLUNTER))
    cut_away, wide = 1.0 - float(sharper.mean()), float((sharper & blunter).mean())
    own = 1.0 - cut_away - wide
    log = _imprinted(cut_away, wide)
    if cut_away > own:
        text = f"at {cut_away:.0%} of the bends it would cut away what it made there"
    else:
        text = f"at {own:.0%} of the bends no blunter bit would leave what stands there"
    return Evidence("imprint", log, text)


UNEVEN_MODELS: Final = (groove, widening, rolling, standing, contact, summits, imprint)
