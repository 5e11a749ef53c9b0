"""Tabs: are the bridges that hold a part as wide and as tall as declared."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import TOUCH, StageContext
from dryrun.checks.maps import along
from dryrun.finding import Finding
from dryrun.removal.pieces import SKIN

if TYPE_CHECKING:
    from dryrun.removal.surface import Surface

#: A tab may be so much narrower or lower than declared, mm (the field adds two cells to the width).
SLACK: Final = 0.05

#: Longer bridges than this many bit diameters and declared widths (a diameter, where that is less
#: or none is declared) are no tabs.
_LONGEST: Final = 4.0

#: A tab has its height over this part of its declared width.
KEPT: Final = 0.5

#: A bridge is crossed where its ends lie this part of the way over it apart, or more: a path that
#: turns back on a tab's slope, or begins there for each pass, sees only its flank.
_ACROSS: Final = 0.5


#: A pass that stays up at the height of at least so many tabs, for so many times their width, ...
_TABS: Final = 2
_STAYED_UP: Final = 4.0
#: ... a height being that of a tab when it differs by less than this, mm.
_SAME_HEIGHT: Final = 0.3


@dataclass(frozen=True, slots=True)
class Tab:
    """One bridge across a cut: where, how wide along the cut and how tall, mm, and who cut it.

    `top_row` lowered its top last, `end_row` its nearer end, as rows of the stage (-1 another).
    """

    at: tuple[float, float]
    width: float
    height: float
    top_row: int
    end_row: int


def weak_tabs(context: StageContext) -> Iterator[Finding]:
    """Report tabs that are thinner than declared, and one that a later pass has cut."""
    yield from thin_tab(context)
    yield from tab_lost(context)


def thin_tab(context: StageContext) -> Iterator[Finding]:
    """Compare the tabs that a cut-out leaves with those the stage declares."""
    stage, surface = context.stage, context.final
    declared = stage.tab_width is not None or stage.tab_height is not None
    if surface is None or not stage.through or not declared:
        return
    tabs = tabs_of(context, surface)
    if not tabs:
        yield context.finding(
            "thin-tab",
            "the stage declares tabs, and the cut leaves none",
            row=_deepest(context),
            value=0.0,
            limit=stage.tab_height or stage.tab_width,
            unit="mm",
        )
        return
    for tab in tabs:
        for what, got, wanted, row in (
            ("high", tab.height, stage.tab_height, tab.top_row),
            ("wide", tab.width, stage.tab_width, tab.end_row),
        ):
            slack = SLACK + (2 * surface.cell if what == "wide" else 0.0)
            if wanted is None or got >= wanted - slack:
                continue
            yield context.finding(
                "thin-tab",
                f"a tab is {context.mm(round(got, 2))} {what}; {context.mm(wanted)} is declared",
                row=set_by(context, row) if row >= 0 else _deepest(context),
                letters="ZXY" if what == "high" else "XYZ",
                at=(*tab.at, context.stock.bed + tab.height),
                value=got,
                limit=wanted,
                unit="mm",
            )


def set_by(context: StageContext, row: int) -> int:
    """Return the row that brought the bit to the height at which a row cuts."""
    rise = context.motion.end[: row + 1, 2] - context.motion.start[: row + 1, 2]
    moved = np.flatnonzero(~(np.abs(rise) < 1e-9) & context.motion.moving[: row + 1])
    return int(moved[-1]) if len(moved) else row


def _deepest(context: StageContext) -> int | None:
    lowest = context.cut.lowest
    return int(np.nanargmin(lowest)) if np.isfinite(lowest).any() else None


def tabs_of(context: StageContext, surface: Surface) -> list[Tab]:
    """Return the bridges that stand across the cut after the job, in the order of the path.

    They are seen along the path: what is left between two places where the cut is through.
    """
    points, left, _, step = path_of(context, surface)
    through = left <= SKIN
    change = np.flatnonzero(np.diff(through.astype(np.int8)))
    stage = context.stage
    diameter = context.bit.diameter
    longest = _LONGEST * (diameter + max(stage.tab_width or 0.0, diameter))
    found: list[Tab] = []
    for begin, end in itertools.pairwise(change):
        if through[begin + 1]:
            continue
        run = slice(int(begin) + 1, int(end) + 1)
        width = _length(points[int(begin) : int(end) + 2])
        if width <= longest and _across(points[int(begin) : int(end) + 2], width, 2 * step):
            _add(found, _tab(context, surface, points, left, run, width), context.bit.radius)
    return found


def path_of(
    context: StageContext, surface: Surface, highest: float | None = None
) -> tuple[NDArray[np.float64], NDArray[np.float32], NDArray[np.intp], float]:
    """Return points along the cut, what is left under them after the job, their rows and step.

    The cut runs at feeds below the top of the blank, or below `highest`.
    """
    motion = context.motion
    low = np.minimum(motion.start[:, 2], motion.end[:, 2])
    top = context.stock.top if highest is None else highest
    rows = np.flatnonzero(motion.cutting & (low < top))
    step = max(surface.cell / 2, 0.05)
    points, row = along(motion, rows, step)
    left = surface.at(points[:, 0], points[:, 1]) - np.float32(context.stock.bed)
    on = np.isfinite(left)
    return points[on], left[on], row[on], step


def tab_lost(context: StageContext) -> Iterator[Finding]:
    """Report a place where one pass rises over a tab and a later one goes through.

    It rises to the height of the tabs that the cut leaves, and comes down again.
    """
    surface = context.final
    if surface is None or not context.stage.through:
        return
    motion, bed = context.motion, context.stock.bed
    tabs = tabs_of(context, surface)
    if len(tabs) < _TABS:
        return
    height = bed + float(np.median([tab.height for tab in tabs]))
    longest = float(np.median([tab.width for tab in tabs])) + 2 * context.bit.diameter
    for row in _raised(context, height, longest):
        middle, _ = along(motion, np.array([row]), motion.lengths()[row] / 2)
        x, y = middle[len(middle) // 2, :2]
        left = surface.at(np.array([x]), np.array([y]))[0] - bed
        by = int(surface.row_at(np.array([x]), np.array([y]))[0]) - context.first_row
        if not left <= SKIN or not row < by < len(motion):
            continue
        yield context.finding(
            "thin-tab",
            f"line {int(motion.line[row])} rises over a tab here, and this pass goes through it; "
            f"{len(tabs)} tabs of the cut are left",
            row=by,
            letters="ZXY",
            at=(float(x), float(y), bed),
            value=0.0,
            limit=height - bed,
            unit="mm",
        )
        return


def _raised(context: StageContext, height: float, longest: float) -> list[int]:
    """Return the level rows at a height to which the path rises in the work and then goes down.

    A longer one is the way back from which a ramp goes on.
    """
    motion = context.motion
    start, end = motion.start[:, 2], motion.end[:, 2]
    level = motion.cutting & (np.abs(end - start) < TOUCH) & (np.abs(end - height) < _SAME_HEIGHT)
    level &= (motion.lengths() > context.bit.diameter) & (motion.lengths() < longest)
    found = []
    for row in np.flatnonzero(level[1:-1]) + 1:
        rises = motion.cutting[row - 1] and start[row - 1] < end[row] - TOUCH
        falls = motion.cutting[row + 1] and end[row + 1] < end[row] - TOUCH
        if rises and falls:
            found.append(int(row))
    return found


def web_left(context: StageContext) -> Iterator[Finding]:
    """Report webs that a cut-out leaves: behind a tab, or under a part of the path that is high."""
    surface = context.final
    if surface is None or not context.stage.through:
        return
    tabs = tabs_of(context, surface)
    behind = list(_behind_tab(context, surface, tabs))
    yield from behind or _under_path(context, surface, tabs)


def _under_path(context: StageContext, surface: Surface, tabs: list[Tab]) -> Iterator[Finding]:
    """Report a web over which the bit runs in the air, between two places where the cut is through.

    It is longer than a tab, and lies within the blank's thickness: a digit of Z, or its sign.
    """
    points, left, row, step = path_of(context, surface)
    if len(points) == 0:  # all of it is beside the blank
        return
    width = max((tab.width for tab in tabs), default=context.bit.diameter)
    apart = np.hypot(*np.diff(points[:, :2], axis=0).T)
    stands = left > SKIN
    air = stands & (points[:, 2] - context.stock.bed - left > _SAME_HEIGHT)
    air &= ~(context.cut.axial[row] > TOUCH)
    jump = np.append(apart > 2 * step, True)
    for run in np.split(np.arange(len(points)), np.flatnonzero(np.diff(stands)) + 1):
        first, last = int(run[0]), int(run[-1])
        if not stands[first] or first == 0 or last == len(points) - 1:
            continue
        high = run[air[run]]
        if len(high) < 2 or jump[first - 1 : last + 1].any():
            continue
        length = float(apart[high[:-1]].sum())
        if length <= _STAYED_UP * (width + context.bit.diameter):
            continue
        tall = float(np.median(left[high]))
        yield context.finding(
            "shallow",
            f"for {context.mm(round(length, 1))} from here the bit runs in the air over a web "
            f"{context.mm(round(tall, 2))} tall, which stays standing; before and after it the cut "
            "is through",
            row=set_by(context, int(row[high[0]])),
            letters="ZXY",
            at=points[high[0]],
            value=tall,
            limit=0.0,
            unit="mm",
        )
        return


def _behind_tab(context: StageContext, surface: Surface, tabs: list[Tab]) -> Iterator[Finding]:
    """Report a cut-out that stays up behind a tab: a web as tall as the tabs, and far longer."""
    if len(tabs) < _TABS:
        return
    height, width = (
        float(np.median(v)) for v in zip(*((t.height, t.width) for t in tabs), strict=True)
    )
    points, left, row, step = path_of(context, surface)
    apart = np.hypot(*np.diff(points[:, :2], axis=0).T)
    before = math.ceil((context.bit.diameter + 2 * height) / step)
    same = (left > SKIN) & (points[:, 2] - context.stock.bed > SKIN)
    same &= np.abs(points[:, 2] - context.stock.bed - height) < _SAME_HEIGHT
    breaks = np.flatnonzero((np.diff(same.astype(np.int8)) != 0) | (apart > 2 * step)) + 1
    for run in np.split(np.arange(len(points)), breaks):
        if not same[run[0]] or run[0] == 0:
            continue
        far = np.concatenate([[0.0], np.cumsum(apart[run[:-1]])])
        stands = np.median(left[run]) > height - _SAME_HEIGHT
        risen = points[max(0, run[0] - before) : run[0], 2].min()  # at the tab's end, a radius off
        fell = risen < context.stock.bed + TOUCH
        if not (fell and stands and far[-1] > _STAYED_UP * (width + context.bit.diameter)):
            continue
        first = run[int(np.searchsorted(far, width + 2 * context.bit.diameter))]
        yield context.finding(
            "shallow",
            f"behind a tab the bit stays up for {context.mm(round(float(far[-1]), 1))}: a web "
            f"{context.mm(round(float(np.median(left[run])), 2))} tall stays standing there",
            row=int(row[first]),
            letters="ZXY",
            at=points[first],
            value=float(far[-1]),
            limit=width,
            unit="mm",
        )
        return


def _across(points: NDArray[np.float64], width: float, jump: float) -> bool:
    """Tell whether a run of the path goes over a bridge from one end to the other, in one piece."""
    step = np.diff(points[:, :2], axis=0)
    if np.hypot(step[:, 0], step[:, 1]).max() > jump:
        return False
    return float(np.hypot(*(points[-1, :2] - points[0, :2]))) >= _ACROSS * width


def _length(points: NDArray[np.float64]) -> float:
    step = np.diff(points[:, :2], axis=0)
    return float(np.hypot(step[:, 0], step[:, 1]).sum())


def _tab(
    context: StageContext,
    surface: Surface,
    points: NDArray[np.float64],
    left: NDArray[np.float32],
    run: slice,
    width: float,
) -> Tab:
    height = _height(context, left[run], width)
    tall = run.start + np.flatnonzero(left[run] >= height - SLACK)
    middle = int(tall[len(tall) // 2])
    ends = [run.start - 1, run.stop]
    by = surface.row_at(points[[middle, *ends], 0], points[[middle, *ends], 1])
    who = by.astype(np.int64) - context.first_row
    who = np.where((who >= 0) & (who < len(context.motion)), who, -1)
    x, y = (float(v) for v in points[middle, :2])
    return Tab((x, y), width, height, int(who[0]), int(who[1:].max()))


def _height(context: StageContext, left: NDArray[np.float32], width: float) -> float:
    """Return the height of a bridge over a quarter of it, or over half the declared width.

    The latter for a tab behind which the path goes down by a long ramp: that is no part of it.
    """
    part = 0.25
    if context.stage.tab_width is not None:
        part = min(part, KEPT * context.stage.tab_width / width)
    return float(np.percentile(left, 100 * (1 - part)))


def _add(found: list[Tab], tab: Tab, radius: float) -> None:
    """Keep one of the passes over a tab: the one that sees it narrowest, which is on its axis."""
    for k, other in enumerate(found):
        if np.hypot(tab.at[0] - other.at[0], tab.at[1] - other.at[1]) < radius:
            if tab.width < other.width:
                found[k] = tab
            return
    found.append(tab)
