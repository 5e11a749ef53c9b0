"""What a program's path shows, measured once, before any bit is thought of."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from dryrun.fitting.circles import Widening, widenings_of
from dryrun.fitting.contact import Contact, contact_of
from dryrun.fitting.curves import Curve, curves_of
from dryrun.fitting.descent import Descent, descent_of
from dryrun.fitting.entries import arched_chains, entering_chains
from dryrun.fitting.facing import Face, face_of
from dryrun.fitting.flanks import Flank, flank_of
from dryrun.fitting.groove import Groove, corner_forks, groove_of
from dryrun.fitting.holes import Holes, holes_of
from dryrun.fitting.imprint import Imprint, imprint_of
from dryrun.fitting.layers import layers_of
from dryrun.fitting.levels import (
    even_rings,
    floors_of,
    level_spacing,
    levels_of,
    passes_of,
    rings_of,
    step_of,
)
from dryrun.fitting.loops import Loops, loops_of
from dryrun.fitting.nested import nested_of
from dryrun.fitting.outlines import (
    Edge,
    coarseness,
    drawn_in,
    edges_of,
    gaps_of,
    leads_of,
    overruns_of,
    spurs_of,
)  # fmt: skip
from dryrun.fitting.relief import Rolling, rolling_of
from dryrun.fitting.rises import rises_of, rising_lines
from dryrun.fitting.spacing import (
    CLOSE,
    FINE,
    MOST_LEVEL,
    SWAY,
    Spacing,
    crossing,
    find_neighbours,
    main_spacing,
)
from dryrun.fitting.standing import standing_of
from dryrun.fitting.straight import straightened
from dryrun.fitting.strokes import LEVEL_SLOPE, Floats, Ints, Strokes, strokes_of, usual
from dryrun.fitting.summits import summits_of
from dryrun.fitting.tabs import tabbed_chains
from dryrun.motion import Motion

#: Up and down for at least this part of a chain's path: it follows a relief or a groove.
FOLLOWS: Final = 0.08

#: A relief that is mostly floor goes up and down less, but to many heights; links between passes
#: that lift the bit a little know only one.
FOLLOWS_FLOOR: Final = 0.015
HEIGHTS: Final = 8

#: Steeper than this (7 degrees) for most of a chain, it is no entry.
STEEP: Final = 0.12

#: Steeper than this (20 degrees) for a small part of a chain, that part is no entry.
NO_ENTRY: Final = 0.36

#: Going down while turning through more than this is a helix, rad.
HELIX_TURN: Final = 5.0

#: Heights, to a hundredth of a millimetre, of a spiral over a relief, at least; how many are few.
MANY_HEIGHTS: Final = 40
FEW_HEIGHTS: Final = 12

#: Helices wider than this are outlines, radius in mm.
WIDEST_HELIX: Final = 16.0

#: Rounds none of which goes down through more than this are rounded corners or the ends of slots,
#: rad.
LEAST_HELIX: Final = 4.5

#: Of neighbours of which less than a part is linked within the blank, more than another part must
#: be as far apart as the others, or they are no passes of one area.
LINKED: Final = 0.2
MOST_APART: Final = 0.6

#: From this part on of neighbours that are not linked, each was cut to its depth before the next.
IN_TURN: Final = 0.5

#: Lines on slopes are at least this part of the level path; from this part on they are all of it.
LEAST_SLOPE: Final = 0.03
MOST_SLOPE: Final = 0.7

#: Layers that rough a relief are most of the path.
MOST_UNEVEN: Final = 0.5

#: So many lines that rise from corners of a level outline are no accident.
FEWEST_CORNERS: Final = 3

Modes = dict[str, float]


@dataclass(frozen=True, slots=True)
class Measures:
    """Everything geometry says about a program, mm, mm/min, rpm.

    Attributes
    ----------
    length : of the path in the blank
    modes : part of it that clears levels ("area"), runs on levels in single lines ("line"),
        runs around a relief at even heights ("rings"), goes down slopes in close level lines,
        with what is cleared between them ("slopes"), follows one in close passes ("relief"),
        roughs one in layers ("rough"),
        follows grooves of varying depth ("carve"),
        goes down a helix ("helix"), straight down ("plunge")
    spacing : of level passes; fine_spacing : of passes over a relief
    levels : depths below the top at which level passes run, falling
    floors : depths at which level cuts end, where no pass goes deeper, by their length
    passes : how many of them lie above each other; 0 without levels
    pass_depth : how much deeper each goes than the one before, the usual one
    edges : outer edges of the level path; sizes : widths between opposite edges of one chain;
        gaps : between the paths of parallel cuts of their own;
        leads : lengths of the straight pieces that level chains begin and end with;
        overruns : how far level lines run past the zero;
        spurs : lengths of short pieces that are gone to and fro, as into corners
    curves : rounds of the level path; helices : rounds that go down, by `pitch` each turn
    nested : radius of the outermost of level rounds around one middle
    rises : chains that come up to the top by a slope; loops : that creep along a slot
    deepest : lowest point below the top
    feed, speed : usual feed and speed while cutting; 0 where not said
    groove : what grooves of varying depth show; widenings : the circles that widen along them
    rolling : how the path rolls over a relief;
        standing : radii of the largest balls that leave standing what it bends over
    contact : the ball that touches a relief evenly
    summits : how long the path runs level over what stands up, mm
    imprint : where the path over a relief bends down sharply, and all places that cut
    descent : level lines and rings that go down a slope, section : radius of the circle they lie
        on, mm, below zero on a dome; flank : the slope of those that go down in a few steps
    face : even rows over a whole rectangle; holes : what is gone straight down into
    unit : that the program is written in; drawn : that its places are round in;
        slack : how much more than usual they are rounded, mm
    """

    length: float
    modes: Modes
    spacing: Spacing | None = None
    fine_spacing: Spacing | None = None
    levels: tuple[float, ...] = ()
    floors: tuple[float, ...] = ()
    passes: int = 0
    pass_depth: float | None = None
    edges: tuple[Edge, ...] = ()
    sizes: tuple[float, ...] = ()
    gaps: tuple[float, ...] = ()
    leads: tuple[float, ...] = ()
    overruns: tuple[float, ...] = ()
    spurs: tuple[float, ...] = ()
    curves: tuple[Curve, ...] = ()
    helices: tuple[Curve, ...] = ()
    pitch: float | None = None
    nested: float | None = None
    rises: int = 0
    loops: Loops | None = None
    deepest: float = 0.0
    feed: float = 0.0
    speed: float = 0.0
    groove: Groove | None = None
    widenings: tuple[Widening, ...] = ()
    rolling: Rolling | None = None
    standing: Floats | None = None
    contact: Contact | None = None
    summits: float | None = None
    imprint: Imprint | None = None
    descent: Descent | None = None
    section: float | None = None
    flank: Flank | None = None
    face: Face | None = None
    holes: Holes | None = None
    unit: Literal["mm", "in"] = "mm"
    drawn: Literal["mm", "in"] = "mm"
    slack: float = 0.0
    top_known: bool = False
    whole: bool = True


def measure(motion: Motion, top: float | None = None, unit: Literal["mm", "in"] = "mm") -> Measures:
    """Measure a program's path.

    Parameters
    ----------
    motion : Motion
        The program.
    top : float, optional
        Height of the blank's top, mm.
    unit : "mm" or "in"
        The unit the program is written in; places that are round in it count as round.
    """
    strokes = strokes_of(motion, top)
    length = strokes.length
    total = float(length.sum())
    if total <= 0:
        return Measures(0.0, {}, unit=unit)
    lines = rising_lines(strokes)
    chains = int(strokes.chain[-1]) + 1
    entering = entering_chains(strokes, chains) | arched_chains(strokes, chains)
    follows = _follows(strokes, lines, entering) | _spirals(strokes, entering)
    run, rise = strokes.run, np.abs(strokes.step[:, 2])
    plunge = run < 1e-6
    flat = ~follows & ~plunge & (rise <= LEVEL_SLOPE * run + 1e-6)
    sloped = ~follows & ~plunge & ~flat
    share = {
        name: float(length[mask].sum()) / total
        for name, mask in (("level", flat), ("down", sloped), ("uneven", follows & ~plunge))
    }
    level, more = _level_measures(strokes, flat, sloped, share["down"])
    if lines[flat].sum() > 0.5 * flat.sum():
        # Lines that come up at their ends are no passes of an area, however even they are.
        level, more["spacing"] = 0.0, None
    rings, even = more.pop("rings"), more.pop("even")
    slopes = more["descent"] is not None
    uneven, other = _uneven_measures(strokes.chosen(follows & ~plunge), share["uneven"])
    layers = other.pop("layers", None)
    if layers is not None:
        other = {}
        more |= {"spacing": layers.spacing, "levels": layers.floors, "floors": layers.floors,
                 "passes": len(layers.floors), "pass_depth": layers.floors[0]}  # fmt: skip
    if even is not None and other.get("fine_spacing") is None:
        other["fine_spacing"] = even
    sideways = strokes.chosen(~plunge) if (~plunge).any() else strokes
    if other.get("groove") is None:
        corners = corner_forks(sideways)
        other["groove"] = Groove(corners) if len(corners) >= FEWEST_CORNERS else None
    feed, speed = _rates(motion, sideways)
    return Measures(
        length=total,
        modes={
            "area": share["level"] * level * (not slopes),
            "line": share["level"] * (1 - level) * (not rings and even is None and not slopes)
            + share["down"] * (not more["helices"]),
            "rings": share["level"] * (1 - level) * rings,
            "slopes": share["level"] * slopes,
            "rough": share["uneven"] * (layers is not None),
            "relief": share["uneven"] * uneven * (layers is None)
            + share["level"] * (1 - level) * (even is not None),
            "carve": share["uneven"] * (1 - uneven) * (layers is None),
            "helix": share["down"] * bool(more["helices"]),
            "plunge": float(length[plunge].sum()) / total,
        },
        deepest=strokes.top - float(np.minimum(strokes.start[:, 2], strokes.end[:, 2]).min()),
        feed=feed,
        speed=speed,
        rises=rises_of(strokes),
        holes=holes_of(strokes),
        unit=unit,
        drawn=drawn_in(straightened(strokes), unit),
        slack=coarseness(strokes),
        top_known=strokes.top_known,
        whole=strokes.whole,
        **more,
        **other,
    )


def _level_measures(
    strokes: Strokes, flat: NDArray[np.bool_], sloped: NDArray[np.bool_], share_down: float
) -> tuple[float, dict[str, Any]]:
    """Return which part of the level path clears areas, and the fields of its measures."""
    level, down = straightened(strokes.chosen(flat)), strokes.chosen(sloped)
    depths, length = levels_of(level)
    spacing = None if crossing(level) else level_spacing(level, depths, length)
    if spacing is not None and spacing.linked < LINKED:
        # Cuts of their own at even distances, such as letters, rather than passes.
        passes_of_one = float(np.clip((spacing.share - MOST_APART) / (1 - MOST_APART), 0.0, 1.0))
        # Who clears an area goes over all of it before going deeper.
        passes_of_one *= spacing.in_turn < IN_TURN
        spacing = replace(spacing, both=spacing.both * passes_of_one)
    cleared = 0.0 if spacing is None else float(np.clip(3.0 * spacing.both - 0.2, 0.0, 1.0))
    one_area = cleared > 0.25 and spacing is not None and spacing.linked >= LINKED
    passes, pass_depth = passes_of(level, depths)
    rings = rings_of(level) if cleared < 0.3 else None
    if rings is not None:
        passes, pass_depth = rings
    helices = tuple(c for c in curves_of(down) if c.radius < WIDEST_HELIX and c.most > LEAST_HELIX)
    pitch = _pitch(down) if len(down) else None
    if passes == 1 and not helices and pitch is not None and share_down > 0.2:
        # An outline that sinks all the way round.
        pass_depth, passes = pitch, max(1, round(depths[-1] / pitch))
    even = even_rings(level) if rings is None else None
    slope = descent_of(level) if rings is None else None
    section = slope.section if slope is not None else None
    descent = _descent(slope, even is not None)
    flank = flank_of(level, depths) if cleared < 0.3 or descent is not None else None
    if (rings, even, descent, flank) == (None, None, None, None) and cleared < 0.3:
        rings = rings_of(level, few=True)
        passes, pass_depth = rings if rings is not None else (passes, pass_depth)
    if descent is not None:
        # On slopes no pass lies right above another, so steps of roughing are those of levels.
        even, all_of_it = None, descent.share > MOST_SLOPE
        passes, pass_depth = len(depths), None if all_of_it else step_of(depths)
        spacing = None if all_of_it else spacing
    if even is not None:
        cleared, spacing = 0.0, None
    beside = spacing.distance if spacing is not None and cleared > 0.3 else None
    linked = spacing is not None and spacing.linked >= LINKED
    edges, sizes = edges_of(level, beside if linked else None)
    return cleared, {
        "even": even,
        "descent": descent,
        "section": section if descent is not None or even is not None else None,
        "rings": rings is not None,
        "spacing": spacing,
        "levels": depths,
        "floors": floors_of(level),
        "passes": passes,
        "pass_depth": pass_depth,
        "edges": edges,
        "sizes": sizes,
        "leads": leads_of(level),
        "overruns": overruns_of(level),
        "spurs": spurs_of(level),
        "gaps": () if one_area else gaps_of(edges),
        "curves": _without(curves_of(strokes.chosen(flat | sloped), beside), helices),
        "helices": helices,
        "pitch": pitch,
        "loops": loops_of(level),
        "nested": nested_of(level),
        "face": face_of(level, depths),
        "flank": flank,
    }


def _uneven_measures(uneven: Strokes, share: float) -> tuple[float, dict[str, Any]]:
    """Return which part of the uneven path follows a relief, and the fields of its measures."""
    if not len(uneven):
        return 0.0, {}
    near = find_neighbours(uneven)
    fine = main_spacing(uneven, near, FINE)
    relief = 0.0
    if near is not None and fine is not None:
        # Passes of a ball may sway to and fro with the relief, so they are not quite even.
        beside = np.abs(np.log(near.distance / fine.distance)) < SWAY
        relief = float(np.clip(2.2 * beside.all(axis=1).mean() - 0.25, 0.0, 1.0))
    return relief, {
        "layers": layers_of(uneven, near) if share > MOST_UNEVEN else None,
        "fine_spacing": fine if share * relief > 0.05 else None,
        "groove": groove_of(uneven) if share * (1 - relief) > 0.1 else None,
        "widenings": widenings_of(uneven) if share * (1 - relief) > 0.1 else (),
        "rolling": rolling_of(uneven, near) if near is not None and relief > 0.2 else None,
        "standing": standing_of(uneven) if relief > 0.2 else None,
        "contact": contact_of(uneven) if share * relief > 0.2 else None,
        "summits": summits_of(uneven) if share * relief > 0.2 else None,
        "imprint": imprint_of(uneven, fine.distance) if fine and share * relief > 0.2 else None,
    }


def _without(curves: tuple[Curve, ...], helices: tuple[Curve, ...]) -> tuple[Curve, ...]:
    """Leave out the last, level round of a helix: it says the same again."""
    return tuple(
        c for c in curves if all(abs(c.radius - h.radius) > h.spread + c.spread for h in helices)
    )


def _follows(
    strokes: Strokes, lines: NDArray[np.bool_], entering: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Return the pieces of chains that follow a surface or groove, rather than go down to a level.

    They go up as well as down, or fall steeply for most of their way without going round: an
    entry is gentle, or a helix, or a small part of its chain. Of `lines` it is known that they are
    level lines, which come up at their ends; of `entering` chains, that they only go down to one.
    """
    run, rise, count = strokes.run, strokes.step[:, 2], int(strokes.chain[-1]) + 1
    slanted = run > 1e-6

    def length_of(mask: NDArray[np.bool_]) -> Floats:
        weight = np.where(slanted & mask, strokes.length, 0.0)
        return np.bincount(strokes.chain, weight, count).astype(np.float64)

    length = np.maximum(length_of(slanted), 1e-9)
    up, down = length_of(rise > LEVEL_SLOPE * run), length_of(rise < -LEVEL_SLOPE * run)
    steep = length_of(np.abs(rise) > STEEP * run)
    # From above the top such a piece may pass over ground that is cleared already.
    within = np.maximum(strokes.start[:, 2], strokes.end[:, 2]) < strokes.top + 0.02
    far_steeper = length_of(within & (np.abs(rise) > NO_ENTRY * run))
    chosen = ((steep > 0.4 * length) | (far_steeper > 0.04 * length)) & (
        _turning(strokes, count) < HELIX_TURN
    )
    chosen &= ~_ramps(strokes, up < LEVEL_SLOPE * length, count)
    both = 2 * np.minimum(up, down) / length
    level_line = np.bincount(strokes.chain, lines, count) > 0
    chosen |= (both > FOLLOWS) | ((both > FOLLOWS_FLOOR) & (_heights(strokes, count) >= HEIGHTS))
    level_work = tabbed_chains(strokes, count) | entering
    chosen &= ~level_line & ~level_work
    if length[chosen].sum() > 0.3 * length.sum() or (count > 3 and chosen.mean() > 0.4):
        # A program of such strokes: those that only run level belong to it.
        chosen[:] = ~level_work
    found: NDArray[np.bool_] = chosen[strokes.chain]
    return found


def _spirals(strokes: Strokes, entering: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Tell pieces of a path that goes over a relief in close passes without going up and down.

    A spiral from the top of a dome only falls; its passes lie close beside each other, at very
    many heights.
    """
    slanted = (strokes.run > 1e-6) & ~entering[strokes.chain]
    none = np.zeros(len(strokes), bool)
    path = strokes.chosen(slanted)
    heights, index = np.unique(np.round(path.end[:, 2], 2), return_inverse=True)
    length = np.bincount(index.ravel(), path.run)
    levels = np.sort(length)[::-1][:FEW_HEIGHTS]
    if len(heights) < MANY_HEIGHTS or levels.sum() > MOST_LEVEL * length.sum():
        return none
    near = find_neighbours(path)
    fine = main_spacing(path, near, FINE)
    if near is None or fine is None:
        return none
    beside = np.abs(np.log(near.distance / fine.distance)) < SWAY
    return slanted if beside.all(axis=1).mean() > CLOSE else none


def _ramps(strokes: Strokes, never_up: NDArray[np.bool_], count: int) -> NDArray[np.bool_]:
    """Tell which chains go down to a level to and fro over the same ground, never up."""
    step, run = strokes.step, strokes.run
    back = (step[1:, :2] * step[:-1, :2]).sum(axis=1) < -0.999 * run[1:] * run[:-1]
    back &= (np.diff(strokes.chain) == 0) & (run[1:] > 1e-6) & (run[:-1] > 1e-6)
    turned: NDArray[np.bool_] = np.bincount(strokes.chain[1:], back, count) > 0
    return turned & never_up


def _heights(strokes: Strokes, count: int) -> Ints:
    """How many different heights each chain rises to on its way."""
    rising = (strokes.run > 1e-6) & (strokes.step[:, 2] > LEVEL_SLOPE * strokes.run)
    level = np.round(strokes.end[rising, 2] * 50).astype(np.int64)
    pairs = np.unique(np.column_stack([strokes.chain[rising], level]), axis=0)
    return np.bincount(pairs[:, 0], minlength=count).astype(np.int64)


def _turning(strokes: Strokes, count: int) -> Floats:
    """Angle that each chain turns through, one way less the other, while it goes down."""
    step = strokes.step
    down = (step[:, 2] < -1e-6) & (strokes.run > 1e-6)
    heading = np.arctan2(step[:, 1], step[:, 0])
    turn = (np.diff(heading) + np.pi) % (2 * np.pi) - np.pi
    counted = down[1:] & down[:-1] & (np.diff(strokes.chain) == 0) & (np.abs(turn) < 1.6)
    turned: Floats = np.abs(np.bincount(strokes.chain[1:], turn * counted, count))
    return turned


def _descent(found: Descent | None, even: bool) -> Descent | None:
    """Return the slope that level lines go down; None without.

    Lines that are even beside each other are passes over a relief, unless they are just as even
    below each other: then they go down a straight wall.
    """
    if found is None or found.share < LEAST_SLOPE or (even and not found.straight):
        return None
    return found


def _pitch(sloped: Strokes) -> float | None:
    """Return how far a helix goes down in a turn, mm."""
    count = int(sloped.chain[-1]) + 1
    turns = _turning(sloped, count) / (2 * np.pi)
    fall = np.bincount(sloped.chain, -sloped.step[:, 2], count)
    round_ = turns > HELIX_TURN / (2 * np.pi)
    round_ &= fall > 0
    return float(np.median(fall[round_] / turns[round_])) if round_.any() else None


def _rates(motion: Motion, strokes: Strokes) -> tuple[float, float]:
    weight = strokes.length
    feed = usual(np.nan_to_num(motion.feed[strokes.row]), weight)
    speed = usual(np.nan_to_num(np.abs(motion.spindle[strokes.row])), weight)
    return feed, speed
