"""Evidence of places, lengths and rounds that come out round beside a bit of the right size."""

from __future__ import annotations

import math
from typing import Final

from dryrun.fitting.chances import (
    DIGIT,
    chosen_part,
    log_normal,
    mix,
    round_place,
    roundness,
    together,
)  # fmt: skip
from dryrun.fitting.curves import Curve
from dryrun.fitting.measures import Measures
from dryrun.fitting.models import Evidence, Model
from dryrun.fitting.outlines import Edge
from dryrun.job.materials import Material
from dryrun.job.model import Bit
from dryrun.units import format_length


def edges(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Ask whether edges and sizes come out round when the path is moved by the bit's radius.

    The path of a pocket runs a radius inside its wall, that of an outline a radius outside.
    """
    if not _different(m.edges) and not m.gaps and not m.sizes:
        return None
    pointed = bit.shape in ("vee", "taper-ball", "taper-flat", "drill", "form")
    radius = 0.0 if pointed else bit.radius
    drawn = _drawn_itself(m, POINTED_ITSELF)
    log, best = (drawn, 4) if pointed else _edges_beside(m, radius)
    if bit.shape == "ball":
        # Its edge is at its radius only below its middle; else it follows a line as a vee does.
        log = mix([(BALL_WALL, log), (1 - BALL_WALL, drawn)])
    log = _soft(log - _drawn_itself(m, ITSELF))
    if m.passes == 1 and m.deepest < SHALLOW:
        # Who engraves draws the line, not its sides.
        log *= BALL_WALL
    return Evidence("edges", log, _said_of_edges(m, radius, best, log))


#: How often the path itself runs where its designer drew: its places, its sizes, what lies
#: between its lines. Flat bits do so along the middles of slots, pointed ones mostly.
ITSELF: Final = (0.1, 0.04, 0.04)
POINTED_ITSELF: Final = (0.35, 0.2, 0.15)


def _itself(m: Measures) -> list[list[float]]:
    """Return the log ratios of places, sizes and gaps of the path as it is."""
    u, k = m.drawn, m.slack
    return [
        [round_place(e.place, u, k) for e in _different(m.edges)[:5]],
        [roundness(s, u, k) for s in m.sizes[:3]],
        [roundness(g, u, k) for g in m.gaps],
    ]


def _drawn_itself(m: Measures, weights: tuple[float, ...]) -> float:
    return together(_itself(m), weights, 1.0 - sum(weights))


def _edges_beside(m: Measures, radius: float) -> tuple[float, int]:
    """Return the log ratio of edges that lie a radius beside the path, and which way fits best."""
    places, sizes, u = _different(m.edges)[:5], m.sizes[:3], m.drawn
    k = m.slack
    ways = [
        [round_place(e.place + e.out * radius, u, k) for e in places],
        [round_place(e.place - e.out * radius, u, k) for e in places],
        [roundness(s + 2 * radius, u, k) for s in sizes],
        [roundness(abs(s - 2 * radius), u, k) for s in sizes],
        [],
        [round_place(e.place - 2 * e.out * radius, u, k) for e in places],
        [roundness(abs(g - 2 * radius), u, k) for g in m.gaps],
    ]
    weights = (0.2, 0.2, 0.14, 0.14, 0.0, 0.04, 0.05 if m.gaps else 0.0)
    rest = 1.0 - sum(weights) - sum(ITSELF)
    log = together([*ways, *_itself(m)], (*weights, *ITSELF), rest)
    return log, max(
        range(len(ways)), key=lambda i: math.log(weights[i] + 1e-9) + math.fsum(ways[i])
    )


#: Ways in which a path may be moved beside what was drawn: what is said of each.
MOVED: Final = {
    0: "moved out by its radius, the path has its edges at round places",
    1: "moved in by its radius, the path has its edges at round places",
    2: "wider by its diameter, the path has round sizes",
    3: "narrower by its diameter, the path has round sizes",
    5: "the path runs past round places by its diameter",
    6: "what it leaves between neighbouring cuts is of round width",
}


def _said_of_edges(m: Measures, radius: float, best: int, log: float) -> str:
    if radius == 0.0 and log >= SAID:
        return "the path itself runs at round places"
    if log < SAID or best == 4:
        return "edges do not come out at round places when the path is moved by its radius"
    first = next(iter(_different(m.edges)), Edge(0, 0.0, 1))
    example = {
        0: first.place + first.out * radius,
        1: first.place - first.out * radius,
        2: m.sizes[0] + 2 * radius if m.sizes else None,
        3: abs(m.sizes[0] - 2 * radius) if m.sizes else None,
        5: first.place - 2 * first.out * radius,
        6: abs(m.gaps[0] - 2 * radius) if m.gaps else None,
    }[best]
    such = "" if example is None else f", such as {format_length(example, m.unit)}"
    return MOVED[best] + such


#: From this much on round places are worth a sentence.
SAID: Final = 1.0

#: Beyond so much, what places say counts only in part: they were all drawn by one hand.
FULL: Final = 3.3
PARTLY: Final = 0.3


#: Part of what walls say that they say about a ball, or about lines not deeper than this, mm.
BALL_WALL: Final = 0.5
SHALLOW: Final = 1.2


def _different(edges: tuple[Edge, ...]) -> tuple[Edge, ...]:
    """Leave out edges that a shape centred on the zero has twice, and lines that are no edges."""
    found: dict[tuple[float, bool], Edge] = {}
    outs: dict[tuple[int, float], set[int]] = {}
    for e in edges:
        outs.setdefault((e.axis, round(e.place, 3)), set()).add(e.out)
    for e in edges:
        if len(outs[e.axis, round(e.place, 3)]) > 1:
            continue
        found.setdefault((round(abs(e.place), 3), e.place * e.out > 0), e)
    return tuple(found.values())


def _soft(log: float) -> float:
    return log if log < FULL else FULL + PARTLY * (log - FULL)


#: How often a lead or an overrun is as long as the bit is wide, or half as long, and the range
#: of lengths that it may have, mm.
OWN: Final = (
    (1.0, 0.05, "its own width"), (0.5, 0.05, "half its width"), (2.0, 0.03, "twice its width"),
)  # fmt: skip
OWN_RANGE: Final = 40.0

#: Lengths say at most so much.
MOST_OF_LENGTHS: Final = 4.0

#: So that a square corner is cleared, the middle of a round bit must get as near to it as its
#: radius: along the diagonal, or along one wall (elementary geometry).
SPUR: Final = (
    ((math.sqrt(2.0) - 1.0) / 2, 0.25, "which clears square corners"),
    (0.5, 0.1, "half its width, which clears square corners"),
)


def own_lengths(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Ask whether leads and overruns past the zero are as long as the bit is wide, or half."""
    if bit.shape in ("vee", "taper-ball", "taper-flat", "drill", "form"):
        return Evidence("own lengths", 0.0, "") if m.leads or m.overruns else None
    radii = [c.radius for c in (*m.curves, *m.helices)]
    leads = [v for v in m.leads if all(abs(v - r) > DIGIT[m.unit] for r in radii)]
    # What is the same length again says the same again.
    leads = [v for n, v in enumerate(leads) if all(abs(v - o) > DIGIT[m.unit] for o in leads[:n])]
    lengths: list[tuple[float, tuple[tuple[float, float, str], ...], str]]
    lengths = [(v, OWN, "it runs {} past or up to the work") for v in leads]
    lengths += [(v, OWN[:2], "it runs {} past the zero") for v in m.overruns]
    lengths += [(v, SPUR, "it goes {} into corners and back") for v in m.spurs]
    if not lengths:
        return None
    near = DIGIT[m.unit] + m.slack
    logs, text = [], ""
    for length, parts, said in lengths:
        base = math.exp(roundness(length, m.drawn)) / OWN_RANGE
        hits = [p for p in parts if abs(length - p[0] * bit.diameter) <= near]
        hit = math.fsum(w for _, w, _ in hits)
        logs.append(math.log(1 - sum(w for _, w, _ in parts) + hit / (2 * near) / base))
        if hits:
            text = f"{said.format(format_length(round(length, 3), m.unit))}, {hits[0][2]}"
    logs.sort()
    return Evidence("own lengths", min(MOST_OF_LENGTHS, math.fsum(logs[-2:])), text)


def _telling(m: Measures) -> tuple[Curve, ...]:
    """Return the rounds that say something about the shape: those with a wall on one side.

    Where an area is cleared by rounds one inside the other, only the outermost follows its wall.
    """
    if m.loops is not None:
        # What loops along a slot say is said by themselves.
        return tuple(c for c in m.curves if abs(c.radius - m.loops.radius) > _tolerance(c))[:4]
    if m.modes.get("area", 0.0) <= 0.3:
        return tuple(m.curves[:4])
    return tuple(c for c in m.curves if c.within or c.beyond)[:4]


#: From this sweep on a round is a circle, or half of one, whose diameter was drawn, rad.
ROUND: Final = 2.9


#: What a round may be: drawn as it is or fallen out of something else, a roll of the bit around a
#: sharp corner, the inside of a round wall, a roll around a round one. By whether material may
#: stand within it and beyond it, and whether it is a whole circle: how often.
ROUNDS: Final = {
    # within, beyond, whole: else, corner, inside, around, itself
    (True, True, False): (0.46, 0.26, 0.10, 0.10, 0.08),
    (True, True, True): (0.64, 0.04, 0.14, 0.10, 0.08),
    (True, False, False): (0.40, 0.36, 0.02, 0.16, 0.06),
    (True, False, True): (0.64, 0.06, 0.02, 0.20, 0.08),
    (False, True, False): (0.59, 0.04, 0.27, 0.02, 0.08),
    (False, True, True): (0.60, 0.01, 0.29, 0.02, 0.08),
    (False, False, False): (0.86, 0.02, 0.04, 0.02, 0.06),
    (False, False, True): (0.87, 0.01, 0.04, 0.02, 0.06),
}

#: Rounds say at most so much.
MOST_OF_ROUNDS: Final = 5.0


def curves(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Ask whether rounds of the path are the bit's own radius, or round measures beside it.

    Pointed bits follow what was drawn, so they are what all others are compared with.
    """
    rounds = _telling(m)
    if not rounds:
        return None
    if bit.shape not in ("flat", "bull", "ball"):
        return Evidence("curves", 0.0, "")
    log = math.fsum(_round(m, c, bit.radius) - _plain(m, c) for c in rounds)
    own = sum(c.count for c in rounds if abs(c.radius - bit.radius) <= _tolerance(c) and c.within)
    log = max(-MOST_OF_ROUNDS, min(log, MOST_OF_ROUNDS))
    if bit.shape == "ball":
        log = mix([(BALL_WALL, log), (1 - BALL_WALL, 0.0)])
    if m.passes == 1 and m.deepest < SHALLOW:
        log *= BALL_WALL
    if own:
        text = f"{own} rounds of the path have exactly its radius, as around sharp corners"
    elif log > 1.5:
        r = rounds[0].radius
        text = f"rounds of {format_length(r, m.unit)} in the path make round radii with its own"
    else:
        text = ""
    return Evidence("curves", log, text)


def _tolerance(curve: Curve) -> float:
    return max(0.006, 1.5 * curve.spread)


def _round(m: Measures, curve: Curve, own: float) -> float:
    """Log ratio of a round of the path for a bit of this radius."""
    r, tolerance = curve.radius, _tolerance(curve)
    slack = tolerance - DIGIT[m.drawn]
    peak = math.log(min(600.0, r / tolerance)) if abs(r - own) <= tolerance else -30.0
    # A bit rolls around a corner by less than a half turn; of circles the diameter is drawn.
    whole = curve.sweep > ROUND
    size = 2.0 if whole else 1.0
    other, corner, inside, around, itself = ROUNDS[curve.within, curve.beyond, whole]
    return min(1.0, 0.3 + 0.2 * curve.count) * mix(
        [
            (other, 0.0),
            (corner, peak),
            (inside, roundness(size * (r + own), m.drawn, slack)),
            (around, roundness(size * abs(r - own), m.drawn, slack)),
            (itself, roundness(size * r, m.drawn, slack)),
        ]
    )


def _plain(m: Measures, curve: Curve) -> float:
    """Log ratio of a round of the path that was drawn as it is."""
    size = 2.0 if curve.sweep > ROUND else 1.0
    drawn = roundness(size * curve.radius, m.drawn, _tolerance(curve) - DIGIT[m.drawn])
    return min(1.0, 0.3 + 0.2 * curve.count) * mix([(0.6, 0.0), (0.4, drawn)])


def _anywhere(part: float, low: float, high: float, middle: float, spread: float) -> float:
    """Log density of a part that may be anywhere in a usual range, or around its middle."""
    even = math.log(part / (high - low)) if low <= part <= high else -math.inf
    return mix([(0.55, even), (0.45, log_normal(part, middle, spread, 0.05))])


#: Helices say at least so much: where they are not the holes they seem, they say nothing.
LEAST_OF_HELICES: Final = -6.0

#: How often a helix goes around what falls out of a hole through the board, how many times as large
#: as the bit's radius its own is then at most, and the range of the logarithm of that.
AROUND: Final = 0.25
AROUND_WIDEST: Final = 4.0
AROUND_RANGE: Final = 3.0

#: How often the pitch of a helix was chosen whatever the bit.
ANY_PITCH: Final = 0.15


def helices(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Weigh helices against the bit: wider than it they would leave a post standing."""
    if not m.helices:
        return None
    if bit.shape not in ("flat", "bull", "ball"):
        return Evidence("helices", -4.0, "")
    log = 0.0
    widest = max((c.radius for c in m.curves if c.sweep > 2.5), default=0.0)
    for curve in m.helices[:3]:
        part = curve.radius / bit.radius
        one = _anywhere(part, 0.14, 1.0, 0.5, 0.6) - (1.2 if part > 1.03 else 0.0)
        one += chosen_part(curve.radius, bit.radius, m.drawn, 0.2)
        around = -math.log(AROUND_RANGE) if part <= AROUND_WIDEST else -math.inf
        one = mix([(1 - AROUND, one), (AROUND, around)])
        bored = max(curve.radius, widest)
        hole = roundness(2 * (bored + bit.radius), m.drawn, curve.spread)
        log += min(1.0, 0.4 + 0.2 * curve.count) * mix([(0.5, one), (0.5, one + hole)])
    if m.pitch is not None and m.pitch > 0:
        usual = _anywhere(m.pitch / bit.diameter, 0.05, 0.4, 0.18, 0.8)
        log += mix([(1 - ANY_PITCH, usual), (ANY_PITCH, log_normal(m.pitch, 0.8, 0.7, 0.1))])
    c = m.helices[0]
    hole_text = format_length(2 * (max(c.radius, widest) + bit.radius), m.unit)
    text = f"helices of radius {format_length(c.radius, m.unit)} bore holes of {hole_text} with it"
    if c.radius > 1.03 * bit.radius:
        text += " and leave a post standing"
    return Evidence("helices", min(max(log, LEAST_OF_HELICES), 6.0), text)


#: Against bits that need no rounds within the outermost, as they cut all that is inside it.
NEEDLESS: Final = -2.5


def nested(m: Measures, bit: Bit, material: Material | None) -> Evidence | None:
    """Ask whether a bit on the outermost of rounds around one middle leaves anything inside."""
    if m.nested is None:
        return None
    flat_end = bit.radius - (bit.corner_radius or 0.0)
    if bit.shape not in ("flat", "bull") or flat_end < m.nested:
        return Evidence("nested", 0.0, "")
    radius = format_length(m.nested, m.unit)
    return Evidence("nested", NEEDLESS, f"on rounds of {radius} it needs none inside, as there are")


#: The models of places, lengths and rounds.
PLACE_MODELS: Final[tuple[Model, ...]] = (edges, own_lengths, curves, helices, nested)
