"""Ways that go through air: passes that come again, and holes of a drill that take nothing.

The last pass may be gone twice, to take what the bit has sprung away from. All of the passes are
not: where they come again a shift of zero, another work offset or a coordinate is missing, and what
should have been cut elsewhere is not.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import TOUCH, StageContext
from dryrun.checks.maps import along
from dryrun.motion import Motion

#: Levels of a way that comes again, at least; and those along which it runs in one go.
LEVELS: Final = 3
IN_ONE_GO: Final = 2
#: What such a way may still take, mm3 for each mm of path.
_NOTHING: Final = 0.002
#: Strokes that take something beside one that runs in the air, at least; a blank is the same
#: within this, mm, for this part of a stroke.
CUTTING: Final = 2
ALIKE: Final = 0.05
MOSTLY: Final = 0.8
#: Places that are one, mm.
_SAME: Final = 0.005


def gone_again(context: StageContext) -> tuple[int, int] | None:
    """Return the first row of a way that repeats an earlier one, and that one's first row."""
    # Carving and reliefs in two passes repeat what is shallower than the first one's limit.
    if context.bit.shape not in ("flat", "bull"):
        return None
    motion, top = context.motion, context.stock.top - TOUCH
    runs = [run for run in _runs(motion) if motion.end[run, 2].min() < top]
    length, removed = motion.lengths(), context.cut.removed_mm3
    idle = [bool(removed[run].sum() <= _NOTHING * length[run].sum()) for run in runs]
    if not any(idle):
        return None
    first: dict[bytes, int] = {}
    again: list[tuple[int, int]] = []
    levels: set[int] = set()
    for k, run in enumerate(runs):
        before = first.setdefault(_shape(motion, run), k)
        if before == k or not idle[k]:
            continue
        heights = motion.end[run, 2]
        own = set(np.rint(heights[heights < top] / _SAME).astype(int).tolist())
        # One pass that is gone twice in a row, at each level, takes what has sprung away.
        if _levels_along(context, run) >= IN_ONE_GO:
            return int(run[0]), int(runs[before][0])
        if len(own) >= LEVELS or k - before > 1:
            again.append((int(run[0]), int(runs[before][0])))
            levels |= own
    return again[0] if len(levels) >= LEVELS else None


def _levels_along(context: StageContext, run: NDArray[np.intp]) -> int:
    """Return along how many levels a stretch runs for more than the bit is wide: not as a ramp."""
    motion = context.motion
    low, length = motion.end[run, 2], motion.lengths()[run]
    level = (np.abs(motion.start[run, 2] - low) < _SAME) & (low < context.stock.top - TOUCH)
    _, which = np.unique(np.rint(low[level] / _SAME), return_inverse=True)
    return int((np.bincount(which.ravel(), length[level]) > context.bit.diameter).sum())


def strokes_in_air(context: StageContext) -> list[int]:
    """Return the first row of each stroke that is gone wholly above the top, where others cut.

    It comes down by feed, runs over the blank and is lifted again, and nothing of the job is ever
    cut where it runs: a first pass in the air over a bowed blank is followed by deeper ones. One
    that goes up by feed instead counts where it ends as high above the top as the others go below
    it: a minus was lost.
    """
    motion, final = context.motion, context.final
    if context.bit.shape == "drill" or final is None:
        return []
    runs = _runs(motion)
    takes = [bool((context.cut.axial[run] > TOUCH).any()) for run in runs]
    if sum(takes) < CUTTING:
        return []
    low = np.array([motion.end[run, 2].min() for run in runs])
    depths = context.stock.top - low[np.array(takes)]
    return [
        int(run[0])
        for run, taking in zip(runs, takes, strict=True)
        if not taking and _in_the_air(context, run, depths) and _never_cut(context, run)
    ]


def _in_the_air(context: StageContext, run: NDArray[np.intp], depths: NDArray[np.float64]) -> bool:
    """Tell whether a stretch of feed moves goes down first, then along, all above the top.

    Or up first, to where one of the depths would be with its sign changed.
    """
    motion = context.motion
    above = float(motion.end[run[0], 2]) - context.stock.top
    mirrored = bool((np.abs(depths - above) < _SAME).any())
    low, high = np.array(context.stock.low[:2]), np.array(context.stock.high[:2])
    step = motion.end[run] - motion.start[run]
    across = np.hypot(step[:, 0], step[:, 1])
    ends = motion.end[run]
    return bool(
        across[0] < 1e-6
        and (step[0, 2] < -TOUCH or (mirrored and step[0, 2] > TOUCH))
        and across.sum() > context.bit.diameter
        and (ends[:, 2] > context.stock.top + TOUCH).all()
        and ((ends[:, :2] > low) & (ends[:, :2] < high)).all()
    )


def _never_cut(context: StageContext, run: NDArray[np.intp]) -> bool:
    """Tell whether the blank under a stretch is after the job as it was before the stage."""
    assert context.final is not None
    points, _ = along(context.motion, run, context.final.cell)
    left = context.final.at(points[:, 0], points[:, 1])
    before = context.before
    was = context.stock.top if before is None else before.at(points[:, :2])
    return bool(np.nanmean(np.abs(left - was) < ALIKE) > MOSTLY)


def empty_holes(context: StageContext) -> list[int]:
    """Return the first row of each hole of a drill that takes nothing, where others take something.

    All that goes on at one place is one hole, pecks and dwells included, but a canned cycle is one
    of its own. A hole beside the blank is left to `off-stock`.
    """
    motion = context.motion
    if context.bit.shape != "drill":
        return []
    known = np.isfinite(motion.start).all(axis=1) & np.isfinite(motion.end).all(axis=1)
    rows = np.flatnonzero(motion.moving & known)
    step = (motion.end - motion.start)[rows]
    upright = np.hypot(step[:, 0], step[:, 1]) < 1e-6
    down = upright & motion.cutting[rows] & (step[:, 2] < 0)
    hole = np.cumsum(~upright | _begins_cycle(motion.line[rows], down))
    taking = upright & (context.cut.axial[rows] > TOUCH)
    drilled, full = np.unique(hole[down]), np.unique(hole[taking])
    empty = [rows[down & (hole == k)][0] for k in np.setdiff1d(drilled, full)]
    low, high = np.array(context.stock.low[:2]), np.array(context.stock.high[:2])
    over = [k for k in empty if ((motion.end[k, :2] > low) & (motion.end[k, :2] < high)).all()]
    return [int(k) for k in over] if len(full) else []


def _begins_cycle(line: NDArray[np.int32], down: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Tell which rows are the first of a line that makes several moves, one down by feed."""
    first = np.append(True, line[1:] != line[:-1])
    run = np.cumsum(first) - 1
    several = (np.bincount(run) > 1) & (np.bincount(run, down) > 0)
    begins: NDArray[np.bool_] = first & several[run]
    return begins


def _runs(motion: Motion) -> list[NDArray[np.intp]]:
    """Return the rows of each stretch of feed moves without a lift, where all of them are known."""
    cutting = motion.cutting & np.isfinite(motion.start).all(axis=1)
    cutting &= np.isfinite(motion.end).all(axis=1)
    rows = np.flatnonzero(cutting)
    if not len(rows):
        return []
    return np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1)


def _shape(motion: Motion, run: NDArray[np.intp]) -> bytes:
    """Return where a stretch goes, as bytes that are equal for equal ways."""
    centre = np.nan_to_num(motion.centre[run])
    table = np.column_stack([motion.start[run], motion.end[run], centre])
    places = np.rint(table / _SAME).astype(np.int64)
    turns = np.sign(motion.sweep[run]).astype(np.int64)
    return places.tobytes() + turns.tobytes()
