"""Bits and stages: does the declared bit fit the program, and the stage its place in the job."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np

from dryrun.checks.again import empty_holes, gone_again, strokes_in_air
from dryrun.checks.context import TOUCH, StageContext
from dryrun.checks.entry import detail_width, idle_beside_finer, what_would_enter
from dryrun.checks.program import takes_material
from dryrun.finding import Finding
from dryrun.gcode.header import BitHint
from dryrun.job.model import Bit
from dryrun.motion import TOOL

#: A named bit and the declared one are the same when they differ by less than this.
SAME_DIAMETER: Final = (0.03, 0.06)  # part, mm
SAME_ANGLE: Final = math.radians(1.5)

#: A flat bit may have corners rounded by this part of its diameter.
SMALL_CORNER: Final = 0.05

#: From this part of spared work on the order of two stages is told.
SPARED: Final = 0.3

#: ... and of a ball before a narrower flat bit, which may make something finer in what it leaves.
SPARED_WIDER: Final = 0.6

#: A stage that removes less than this per mm of feed path below the top is idle, mm2.
IDLE_SECTION: Final = 0.002


def bit_mismatch(context: StageContext) -> Iterator[Finding]:
    """Compare bits named in the program with the declared bit.

    What the words leave no doubt about counts alone; where all of it is a guess (a unit nobody
    says, a number beside a noun), a clash is only a note.
    """
    yield from _second_tool(context)
    bit = context.bit
    used = {int(t) for t in np.unique(context.motion.tool[context.motion.moving]) if t >= 0}
    hints = [h for h in context.program.header.bits if h.tool is None or not used or h.tool in used]
    hints = [h for h in hints if h.certain] or hints
    if not hints or len({h.tool for h in hints if h.tool is not None}) > 1:
        return
    clashes: list[tuple[BitHint, str]] = []
    for hint in hints:
        said = " and ".join(_clash(context, hint))
        if not said:
            return
        clashes.append((hint, said))
    hint, said = clashes[0]
    made = context.finding(
        "bit-mismatch",
        f"the program {'speaks' if hint.certain else 'may speak'} of {said}; "
        f"{bit.name} is declared ({bit.shape}, {context.mm(bit.diameter)})",
        level=None if hint.certain else "note",
        value=bit.diameter,
        unit="mm",
    )
    yield context.at_line(made, hint.line)


def named_outright(context: StageContext) -> bool:
    """Tell whether the program itself names the declared bit by shape and size, and no other."""
    hints = [h for h in context.program.header.bits if h.certain]
    return bool(hints) and all(
        hint.shape == context.bit.shape and _sized(hint) and not any(_clash(context, hint))
        for hint in hints
    )


def _sized(hint: BitHint) -> bool:
    """Tell whether a hint has the size that its path depends on: of a vee bit that is its angle."""
    if hint.shape == "vee":
        return hint.angle is not None
    return hint.diameter is not None or hint.corner_radius is not None


def _second_tool(context: StageContext) -> Iterator[Finding]:
    """Tell that a program changes to another tool, and cuts with both."""
    motion = context.motion
    cuts = np.flatnonzero(takes_material(context))
    tools = motion.tool[cuts]
    changed = np.flatnonzero((tools[1:] != tools[:-1]) & (tools[1:] >= 0))
    if not len(changed):
        return
    before, after = int(cuts[changed[0]]), int(cuts[changed[0] + 1])
    changes = np.flatnonzero(motion.kind[before:after] == TOOL)
    if not len(changes):
        return
    was, now = int(motion.tool[before]), int(motion.tool[after])
    yield context.finding(
        "bit-mismatch",
        f"the program goes on with tool {now}{f' after tool {was}' if was >= 0 else ''}; "
        f"the stage has one bit, {context.bit.name}, and is cut with it throughout",
        row=before + int(changes[-1]),
        letters="TM",
        help="put each tool's part into a program of its own, and give each its stage and bit",
        count=len(changed),
    )


def _clash(context: StageContext, hint: BitHint) -> Iterator[str]:
    """Say in what a hint differs from the declared bit."""
    bit = context.bit
    if hint.diameter is not None and not _same_diameter(hint.diameter, bit.diameter):
        yield f"a diameter of {context.mm(hint.diameter)}"
    if hint.shape in ("ball", "taper-ball") and hint.corner_radius is not None:
        tip = bit.tip_radius if bit.tip_radius is not None else bit.radius
        if not _same_diameter(2 * hint.corner_radius, 2 * tip):
            yield f"a tip radius of {context.mm(hint.corner_radius)}"
    if _other_angle(hint.angle, bit):
        yield f"an angle of {context.angle(hint.angle or 0.0)}"
    if hint.shape is not None and not _same_shape(hint, bit.shape):
        yield f"a {hint.shape} bit"


def _other_angle(said: float | None, bit: Bit) -> bool:
    if said is None or bit.angle is None or bit.shape not in ("vee", "drill"):
        return False
    return abs(said - bit.angle) > SAME_ANGLE


def _same_diameter(a: float, b: float) -> bool:
    part, least = SAME_DIAMETER
    return abs(a - b) <= max(part * max(a, b), least)


def _same_shape(hint: BitHint, declared: str) -> bool:
    """Tell whether a word for a bit may mean the declared shape: the wider word the special bit.

    An end mill may have rounded corners and a ball a taper; a bull nose is no flat bit, unless its
    corners are rounded so little that people call it one.
    """
    said = hint.shape
    if said == "bull" and declared == "flat":
        wide = hint.diameter or math.inf
        return hint.corner_radius is not None and hint.corner_radius <= SMALL_CORNER * wide
    alike = {("flat", "bull"), ("ball", "taper-ball"), ("taper-flat", "vee"), ("vee", "taper-flat")}
    return said == declared or (str(said), declared) in alike


def idle_stage(context: StageContext) -> Iterator[Finding]:
    """Report a stage that removes next to nothing, and which wider bit would have entered."""
    motion = context.motion
    if not np.isfinite(motion.end[motion.cutting]).all():
        return
    path = _path_below(context)
    removed = context.removed_mm3
    limit = idle_limit(context)
    if removed > limit:
        limit = max(limit, idle_beside_finer(context))
    if removed > limit:
        yield from _gone_again(context)
        yield from _empty_holes(context)
        yield from _strokes_in_air(context)
        return
    row = int(np.flatnonzero(motion.cutting)[0]) if motion.cutting.any() else None
    said = f"the stage removes {context.volume(removed)} along {context.mm(path)} of path"
    said += " below the top"
    if row is None:
        said = "the program has no cutting move: the stage removes nothing"
    yield context.finding(
        "idle-stage",
        f"{said}{what_would_enter(context)}",
        row=row,
        value=removed,
        limit=limit,
        unit="mm3",
    )


def _gone_again(context: StageContext) -> Iterator[Finding]:
    """Report passes that come again at the same place and take nothing there."""
    found = gone_again(context)
    if found is None:
        return
    row, before = found
    yield context.finding(
        "idle-stage",
        f"from here on the way down of line {int(context.motion.line[before])} comes again, pass "
        "by pass at the same place, and takes nothing: a shift of zero, another work offset or a "
        "coordinate may be missing",
        row=row,
        value=0.0,
        unit="mm3",
        help="look at the shifts, offsets and calls before that line",
    )


def _strokes_in_air(context: StageContext) -> Iterator[Finding]:
    """Report strokes above the blank: a shift, or G91 that was left on, moves what follows."""
    strokes = strokes_in_air(context)
    if not strokes:
        return
    row, motion = strokes[0], context.motion
    above = float(motion.end[row, 2]) - context.stock.top
    rest = len(strokes) - 1
    more = f", as {'does' if rest == 1 else 'do'} {rest} more" if rest else ""
    yield context.finding(
        "idle-stage",
        f"from here the bit runs {context.mm(above)} above the top and takes nothing{more}, and "
        "nothing is cut there later",
        row=row,
        letters="Z",
        value=above,
        limit=0.0,
        unit="mm",
        help="look at the lines before: G91 left on, a shift, or a sign",
    )


def _empty_holes(context: StageContext) -> Iterator[Finding]:
    """Report holes that are drilled in air: above the blank, or where there is one already."""
    empty = empty_holes(context)
    if not empty:
        return
    motion, top = context.motion, context.stock.top
    row = empty[0]
    place = (motion.end[:, :2] == motion.end[row, :2]).all(axis=1) & motion.cutting
    above = float(motion.end[place, 2].min()) - top
    where = (
        f"it ends {context.mm(above)} above the top"
        if above > -TOUCH
        else "there is one already at its place, no less deep"
    )
    rest = len(empty) - 1
    more = f", as {'does' if rest == 1 else 'do'} {rest} more" if rest else ""
    yield context.finding(
        "idle-stage",
        f"this hole takes nothing: {where}{more}",
        row=row,
        letters="ZRXY" if above > -TOUCH else "XY",
        value=0.0,
        unit="mm3",
        count=len(empty),
        help="look at X and Y, the depth and the retract level of that line",
    )


def idle_limit(context: StageContext) -> float:
    """Return how much a stage removes that does next to nothing, by its path, mm3."""
    return max(1.0, IDLE_SECTION * _path_below(context))


def _path_below(context: StageContext) -> float:
    """Return the length of the feed moves below the top, mm."""
    motion = context.motion
    low = np.minimum(motion.start[:, 2], motion.end[:, 2])
    below = motion.cutting & (low < context.stock.top - TOUCH)
    return float(np.nansum(motion.lengths()[below]))


def stage_order(context: StageContext) -> Iterator[Finding]:
    """Report a finer bit that does work a larger one would have spared it."""
    spared = context.swapped_mm3
    if spared is None or context.removed_mm3 <= 0:
        return
    part = 1.0 - spared / context.removed_mm3
    next_bit = context.job.stages[context.number].bit
    narrower = next_bit is not None and detail_width(context.bit) > 1.01 * next_bit.diameter
    limit = SPARED_WIDER if narrower else SPARED
    if part < limit:
        return
    row = int(np.flatnonzero(context.motion.cutting)[0])
    wider = next_bit is None or detail_width(context.bit) < 0.99 * detail_width(next_bit)
    after = "larger bit" if wider else "flat bit that would rough for it"
    yield context.finding(
        "stage-order",
        f"{context.bit.name} ({context.mm(context.bit.diameter)}) goes before a {after}: "
        f"{part:.0%} of the {context.volume(context.removed_mm3)} it removes would have been gone",
        row=row,
        value=part,
        limit=limit,
        unit="part",
    )


def loose_part(context: StageContext) -> Iterator[Finding]:
    """Report pieces of the blank that nothing holds, and the line that frees each."""
    motion = context.motion
    for piece in context.pieces:
        row = piece.freed_by - context.first_row
        if not 0 <= row < len(motion):
            continue
        later = takes_material(context)
        later[: row + 1] = False
        rest = float(np.nansum(motion.lengths()[later]))
        after = f"; {context.mm(rest)} of cutting follow" if rest > 0 else ""
        yield context.finding(
            "loose-part",
            f"a piece of {context.area(piece.area_mm2)} is free from here on{after}",
            row=row,
            at=(*piece.at, context.stock.top),
            value=piece.area_mm2,
            limit=0.0,
            unit="mm2",
        )


def thickness_differs(context: StageContext) -> Iterator[Finding]:
    """Compare measured with nominal thickness, once a job."""
    nominal = context.stock.nominal_thickness
    if nominal is None or context.number != 1:
        return
    limit = max(0.3, 0.03 * nominal)
    measured = context.stock.size[2]
    if abs(measured - nominal) > limit:
        yield context.finding(
            "thickness-differs",
            f"the blank is {context.mm(measured)} thick, {context.mm(nominal)} was expected",
            value=measured,
            limit=nominal,
            unit="mm",
        )
