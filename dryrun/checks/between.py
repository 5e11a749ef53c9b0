"""Between stages: what should have been cleared before, and stages that were left out."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import TOUCH, StageContext
from dryrun.checks.depth import PASS_DIAMETERS
from dryrun.checks.entry import detail_width
from dryrun.checks.ground import bare_outline, hanging_tapers
from dryrun.checks.maps import HeightMap, Mask, along, distance, near, opened
from dryrun.checks.ridge import ridge_beside_floor
from dryrun.finding import Finding
from dryrun.removal.profile import Profile

#: Steps in a cleared floor smaller than this come from rounding, mm.
STEP: Final = 0.05

#: A finer bit follows the walls when it runs along this part of them, ...
FOLLOWS: Final = 0.5

#: ... and finishes them, rather than going on with the whole floor, below this part of it.
BESIDE: Final = 0.6

#: Thickness that clearing may leave for finishing, mm (common practice, no source).
ALLOWANCE: Final = 1.0

#: Parts of one pocket that must have been cleared, and not, for the rest to be called left out.
CLEARED: Final = 0.2
LEFT: Final = 0.1

#: A block left standing is one that was not cleared when this part of its sides is a fresh slot.
FRESH: Final = 0.5

#: ... and when what was cleared beside it is at least this part of it.
MUCH: Final = 0.3

#: A clearing stage is missed when this part of the volume comes off deeper than the limit.
DEEP_PART: Final = 0.5
#: Path in diameters that must be so deep.
DEEP_PATH: Final = 10.0


#: Passes of a finishing scan lie closer than this part of the bit's width where it cuts; ...
SCAN_STEP: Final = 0.35
#: ... one that meets the full blank takes this part of its volume in columns taller than the ball
#: is wide, ...
SCAN_PART: Final = 0.2
#: ... some of them by this factor, ...
SCAN_TALL: Final = 1.25
#: ... and this part of those where nothing was cut before.
SCAN_UNCUT: Final = 0.8
#: What is called finishing takes no more of the full blank than this part of the ball's width.
CALLED_FINISH: Final = 0.5
_FINISH: Final = re.compile(r"\bfinish(?:ing)?\b", re.IGNORECASE)


def not_cleared(context: StageContext) -> Iterator[Finding]:
    """Report a finer bit that meets what an earlier stage should have cleared."""
    before, after = context.before, context.after
    clearing = _clearing_stages(context)
    if before is None or after is None or not clearing or context.stage.through:
        return
    cleared = before.height < context.stock.top - TOUCH
    if not cleared.any():
        return
    last = clearing[-1]
    side = last.bit.diameter / before.cell
    for floor in _regions(cleared, side * side):
        yield from _deeper_along_walls(context, last, floor)
        yield from _left_standing(context, last, floor)
        yield from _slot_around_the_rest(context, last, floor)
        yield from _bare_outline(context, last, floor)
    yield from _ridge_left(context, last)


def _clearing_stages(context: StageContext) -> list[StageContext]:
    """Return the earlier stages whose flat bit is wider than what this stage makes."""
    width = detail_width(context.bit)
    return [
        c
        for c in context.earlier
        if c.stage.bit is not None
        and c.bit.shape in ("flat", "bull")
        and detail_width(c.bit) > 1.05 * width
        and c.removed_mm3 > 1.0
    ]


def _regions(mask: Mask, least: float) -> Iterator[Mask]:
    """Yield the connected regions of a mask with at least so many points, largest first."""
    from dryrun.removal.pieces import label

    labels, number = label(mask)
    size = np.bincount(labels.ravel(), minlength=number + 1)
    size[0] = 0
    for k in np.argsort(-size, kind="stable")[:20]:
        if size[k] >= max(least, 1.0):
            yield labels == k


def _taken(context: StageContext) -> NDArray[np.float32]:
    """Return how much each point of the map was lowered by the stage, mm."""
    assert context.before is not None
    assert context.after is not None
    bed = np.float32(context.stock.bed)
    taken: NDArray[np.float32] = np.maximum(context.before.height, bed) - np.maximum(
        context.after.height, bed
    )
    taken[np.isnan(taken)] = 0.0
    return taken


def _deeper_along_walls(
    context: StageContext, clearing: StageContext, floor: Mask
) -> Iterator[Finding]:
    """Compare what the stage takes along the walls of a cleared floor with the floor."""
    taken = _taken(context)
    deeper = floor & (taken > STEP)
    if not deeper.any() or deeper.sum() > BESIDE * floor.sum():
        return
    assert context.before is not None
    wall = floor & near(~floor & np.isfinite(context.before.height), 1.01)
    if not wall.any() or (near(deeper, 1.5) & wall).sum() < FOLLOWS * wall.sum():
        return
    step = float(np.median(taken[deeper]))
    yield _at_first(
        context,
        deeper,
        f"{context.bit.name} cuts {context.mm(round(step, 2))} deeper along the walls than stage "
        f"{clearing.number} has cleared with {clearing.bit.name}: either that stage stops short, "
        "or this one goes too deep, and nothing takes the rest of the floor",
        step,
        STEP,
    )


def _left_standing(context: StageContext, clearing: StageContext, floor: Mask) -> Iterator[Finding]:
    """Look for parts of a pocket that the wider bit could have cleared, and left to this one."""
    before, after = context.before, context.after
    assert before is not None
    assert after is not None
    level = float(np.percentile(before.height[floor], 5))
    pocket = (after.height <= level + 0.1) | np.isnan(after.height)
    radius = clearing.bit.radius / before.cell + 0.5
    room = distance(pocket, math.ceil(radius) + 1)
    fits = opened(room, radius) & (np.abs(after.height - level) < 0.15)
    taken = _taken(context)
    clear = ~near(floor, (ALLOWANCE + before.cell) / before.cell)
    for whole in _regions(fits, 4 * radius * radius):
        left = whole & clear & (taken > ALLOWANCE)
        if (whole & floor).sum() < CLEARED * whole.sum() or left.sum() < LEFT * whole.sum():
            continue
        tall = float(np.median(taken[left]))
        area = float(left.sum()) * before.cell**2
        yield _at_first(
            context,
            left,
            f"{context.bit.name} meets {context.mm(round(tall, 2))} of material over "
            f"{context.area(area)} of a pocket that stage {clearing.number} cleared elsewhere; "
            f"{clearing.bit.name} would have entered there",
            tall,
            ALLOWANCE,
        )


def _slot_around_the_rest(
    context: StageContext, clearing: StageContext, floor: Mask
) -> Iterator[Finding]:
    """Look for a block of full height between a cleared floor and a slot of the finer bit.

    A vee bit makes such slots as the walls of what is to stand: see `_bare_outline` for it.
    """
    before = context.before
    assert before is not None
    if context.bit.shape == "vee":
        return
    taken = _taken(context)
    slot = ~near(floor, (ALLOWANCE + before.cell) / before.cell) & (taken > ALLOWANCE)
    if not slot.any():
        return
    cut = floor | (taken > TOUCH)
    radius = clearing.bit.radius / before.cell + 0.5
    beside_slot = near(slot, 1.5)
    for block in _regions(~cut, radius * radius):
        if not (block & beside_slot).any():
            continue
        iy, ix = np.nonzero(block)
        edge = min(int(iy.min()), int(ix.min())), (int(iy.max()), int(ix.max()))
        if edge[0] == 0 or edge[1][0] == block.shape[0] - 1 or edge[1][1] == block.shape[1] - 1:
            continue
        if floor.sum() < MUCH * block.sum():
            continue
        around = near(block, 1.5) & ~block
        if (around & floor).any() and (around & slot).sum() >= FRESH * around.sum():
            fits = opened(distance(cut | block, math.ceil(radius) + 1), radius)
            if (fits & block).sum() < FRESH * block.sum():
                continue
            assert context.after is not None
            bottom = float(np.median(context.after.height[around & slot]))
            if abs(bottom - float(np.median(before.height[floor]))) > ALLOWANCE / 2:
                continue
            tall = float(np.median(taken[around & slot]))
            yield _at_first(
                context,
                slot,
                f"{context.bit.name} cuts a slot {context.mm(round(tall, 2))} deep around "
                f"{context.area(float(block.sum()) * before.cell**2)} that stand beside the floor "
                f"stage {clearing.number} has cleared: {clearing.bit.name} seems to have left them",
                tall,
                ALLOWANCE,
            )


def _bare_outline(context: StageContext, clearing: StageContext, floor: Mask) -> Iterator[Finding]:
    """Look for outlines of a vee bit that have the floor beside a part of them only."""
    found = bare_outline(context, clearing, floor)
    if found is None:
        return
    row, at, length = found
    yield context.finding(
        "not-cleared",
        f"from here on {context.mm(round(length))} of an outline that {context.bit.name} cuts have "
        f"no floor beside them: stage {clearing.number} has cleared it along the rest, and "
        f"{clearing.bit.name} would have entered here",
        row=row,
        letters="XY",
        at=at,
        value=length,
        limit=0.0,
        unit="mm",
    )


def _ridge_left(context: StageContext, clearing: StageContext) -> Iterator[Finding]:
    """Look for a ridge between the floor and a vee bit that follows it."""
    found = ridge_beside_floor(context, clearing)
    if found is None:
        return
    yield context.finding(
        "not-cleared",
        f"between the floor of stage {clearing.number} and the path of {context.bit.name} a ridge "
        f"{context.mm(round(found.height, 2))} tall is left, along "
        f"{context.mm(round(found.length))} of it",
        row=found.row,
        letters="XY",
        at=found.at,
        value=found.height,
        limit=0.0,
        unit="mm",
        help="see whether the clearing program's last ring is there, and which bit it is made for",
    )


def _at_first(
    context: StageContext, where: Mask, message: str, value: float, limit: float
) -> Finding:
    """Make a finding at the first row that cuts in a part of the map."""
    assert context.before is not None
    row, at = first_in(context, context.before, where)
    return context.finding(
        "not-cleared", message, row=row, letters="ZXY", at=at, value=value, limit=limit, unit="mm"
    )


def first_in(
    context: StageContext, before: HeightMap, where: Mask
) -> tuple[int | None, tuple[float, float, float] | None]:
    """Return the first row that takes material at points of a map, and the place; None nowhere."""
    cutting = context.motion.cutting & (context.cut.axial > TOUCH)
    points, row = along(context.motion, np.flatnonzero(cutting), before.cell)
    iy, ix, inside = before.index(points)
    found = inside & where[iy, ix] & (points[:, 2] < before.height[iy, ix] - TOUCH)
    if not found.any():
        return (int(np.flatnonzero(cutting)[0]), None) if cutting.any() else (None, None)
    k = int(np.flatnonzero(found)[0])
    x, y, z = (float(v) for v in points[k])
    return int(row[k]), (x, y, z)


# ---------------------------------------------------------------- stages that were left out

_LEAVES: Final = re.compile(
    r"\b(?:leav(?:e|es|ing)|allowance|stock[ ]to[ ]leave|offset[ ]left|remain(?:s|ing)?)\b"
    r"[ :=]{0,3}(?:of[ ])?(?P<number>\d?\.\d{1,4})[ ]?(?P<unit>mm|in(?:ch)?|\")?",
    re.IGNORECASE,
)
_LEFT_FIRST: Final = re.compile(
    r"(?P<number>\d?\.\d{1,4})[ ]?(?P<unit>mm|in(?:ch)?|\")?[ ](?:allowance|(?:stock[ ])?left)\b",
    re.IGNORECASE,
)
#: Larger allowances are none, mm.
_MOST_LEFT: Final = 3.0


def missing_stage(context: StageContext) -> Iterator[Finding]:
    """Report signs of a stage that the job leaves out."""
    yield from _meets_full_blank(context)
    yield from _scans_full_blank(context)
    yield from _hanging_tapers(context)
    yield from _leaves_for_nobody(context)
    yield from _speaks_of_another_tool(context)


def _meets_full_blank(context: StageContext) -> Iterator[Finding]:
    """Report a finishing path that takes the uncut blank at a depth beyond the limit."""
    bit, cut = context.bit, context.cut
    declared = context.stage.max_pass
    if declared is None and bit.shape in ("vee", "drill", "form"):
        return
    limit = PASS_DIAMETERS * bit.diameter if declared is None else declared
    motion = context.motion
    full = np.abs(context.stock.top - cut.lowest - cut.axial) < 0.1
    deep = motion.cutting & (cut.axial > limit + 2 * TOUCH) & full
    path = float(np.nansum(motion.lengths()[deep]))
    part = float(cut.removed_mm3[deep].sum()) / max(context.removed_mm3, 1e-9)
    if not deep.any() or part < DEEP_PART or path < DEEP_PATH * bit.diameter:
        return
    row = int(np.flatnonzero(deep)[0])
    tallest = float(cut.axial[deep].max())
    yield context.finding(
        "missing-stage",
        f"{part:.0%} of what {bit.name} removes is taken in one pass from the uncut top, up to "
        f"{context.mm(tallest)} where {context.mm(limit)} is the limit: as if a stage that clears "
        "before it were left out",
        row=row,
        value=tallest,
        limit=limit,
        unit="mm",
    )


def _scans_full_blank(context: StageContext) -> Iterator[Finding]:
    """Report narrow passes of a ball over an uncut blank that take more than the ball's width.

    Narrow passes finish a shape; one that is cleared first leaves them a skin. Of a stage that is
    called finishing half of the ball's width is enough.
    """
    bit, cut, motion = context.bit, context.cut, context.motion
    if bit.shape not in ("ball", "taper-ball") or context.stage.max_pass is not None:
        return
    taking = motion.cutting & (cut.axial > TOUCH)
    volume = np.where(taking, cut.removed_mm3, 0.0)
    length = np.where(taking, np.nan_to_num(motion.lengths()), 0.0)
    if volume.sum() <= 0 or length.sum() <= 0:
        return
    axial = float((cut.axial * volume).sum() / volume.sum())
    wide = 2 * float(Profile.from_bit(bit).radii_at(axial))
    limit = detail_width(bit) * (CALLED_FINISH if _called_finish(context) else 1.0)
    deep = taking & (cut.axial > limit)
    part = float(volume[deep].sum() / volume.sum())
    narrow = float(volume.sum() / (length.sum() * axial)) < SCAN_STEP * wide
    if not narrow or part < SCAN_PART or float(length[deep].sum()) < DEEP_PATH * detail_width(bit):
        return
    if context.before is not None:
        uncut = context.before.at(cut.axial_at[deep]) > context.stock.top - STEP
        if float(volume[deep][uncut].sum()) < SCAN_UNCUT * float(volume[deep].sum()):
            return
    tallest = float(cut.axial[deep].max())
    if tallest < SCAN_TALL * limit:
        return
    yield context.finding(
        "missing-stage",
        f"narrow passes of {bit.name} take up to {context.mm(round(tallest, 2))} at once from the "
        f"uncut blank, {part:.0%} of it deeper than {context.mm(limit)}: as if a stage that clears "
        "before it were left out",
        row=int(np.flatnonzero(deep)[0]),
        value=tallest,
        limit=limit,
        unit="mm",
    )


def _called_finish(context: StageContext) -> bool:
    """Tell whether the stage's name, or a comment before the first cut, speaks of finishing."""
    from dryrun.gcode.header import find_comments

    if _FINISH.search(context.stage.name):
        return True
    cutting = np.flatnonzero(context.motion.cutting)
    first = int(context.motion.line[cutting[0]]) if len(cutting) else 0
    comments = find_comments(context.program.text)
    early = itertools.takewhile(lambda comment: comment.line < first, comments)
    return any(_FINISH.search(comment.text) for comment in early)


def _hanging_tapers(context: StageContext) -> Iterator[Finding]:
    """Report strokes of a vee bit that taper out to a floor that nobody has cleared."""
    found = hanging_tapers(context)
    if found is None:
        return
    row, number, depth = found
    yield context.finding(
        "missing-stage",
        f"strokes of {context.bit.name} taper out at {number} places {context.mm(round(depth, 2))} "
        "below the top, and the blank is uncut there: as if a stage that clears a floor of that "
        "depth were left out",
        row=row,
        letters="Z",
        value=depth,
        limit=0.0,
        unit="mm",
    )


def _leaves_for_nobody(context: StageContext) -> Iterator[Finding]:
    """Report an allowance that comments speak of and no later stage takes off."""
    found = _allowance(context)
    if found is None or context.final is None or context.after is None:
        return
    line, left = found
    after = context.after
    later = after.height - after.of(context.final).height > TOUCH
    start = context.before
    top = np.float32(context.stock.top) if start is None else start.height
    cut = top - after.height > TOUCH
    if not cut.any() or (later & near(cut, (left + 2 * after.cell) / after.cell)).any():
        return
    made = context.finding(
        "missing-stage",
        f"the program speaks of {context.mm(left)} left to take off later, "
        "and no later stage cuts there",
        value=left,
        limit=0.0,
        unit="mm",
    )
    yield context.at_line(made, line)


def _allowance(context: StageContext) -> tuple[int, float] | None:
    """Return the line and the allowance (mm) that the first comment about one speaks of."""
    from dryrun.gcode.header import find_comments

    inches = context.program.state.modal.get("units") == "G20"
    for number, comment in enumerate(find_comments(context.program.text)):
        if number > 200:
            return None
        said = _LEAVES.search(comment.text) or _LEFT_FIRST.search(comment.text)
        if said is None:
            continue
        unit = said["unit"]
        scale = 25.4 if (unit != "mm" if unit else inches) else 1.0
        left = float(said["number"]) * scale
        if 0 < left <= _MOST_LEFT:
            return comment.line, left
    return None


def _speaks_of_another_tool(context: StageContext) -> Iterator[Finding]:
    """Report a lower-numbered tool of the program's own list that no stage of the job has."""
    motion = context.motion
    used = {int(t) for t in np.unique(motion.tool[motion.moving]) if t >= 0}
    hints = [h for h in context.program.header.bits if h.tool is not None and h.certain]
    if not used or not used & {h.tool for h in hints}:
        return
    bits = [s.bit for s in context.job.stages if s.bit is not None]
    for hint in hints:
        if hint.tool in used or hint.tool is None or hint.tool > min(used):
            continue
        if hint.diameter is None or any(_alike(hint.diameter, b.diameter) for b in bits):
            continue
        made = context.finding(
            "missing-stage",
            f"the program's list of tools has T{hint.tool} ({context.mm(hint.diameter)}), which "
            "comes before this stage's and which no stage of the job has",
            level="note",
        )
        yield context.at_line(made, hint.line)
        return


def _alike(a: float, b: float) -> bool:
    return math.isclose(a, b, rel_tol=0.03, abs_tol=0.06)
