"""Moments: the blank part-way through the job, cut anew up to chosen rows.

The outcome keeps the blank after each stage. For a slider over the program that is too coarse, so
the job is cut once more on a field of fewer cells, and kept at marked moments: ends of stages,
and in between the retracts nearest to even steps of time. At a marked moment the heights are true.
Between two of them a cell whose last cut before the later one has already happened is true as
well; any other cell is drawn as it was at the earlier one, and may be deeper.
"""

from __future__ import annotations

import bisect
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.motion import RAPID
from dryrun.outcome import Outcome, StageOutcome
from dryrun.removal.surface import Surface

#: Longer side of the field kept at each moment, cells.
KEPT: Final = 384
#: Longer side of the field that is cut, cells; each kept cell is the lowest of several.
CUT: Final = 768
#: Moments in all, about.
WANTED: Final = 14

#: Called with stages done and in all.
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Moment:
    """One marked moment.

    Attributes
    ----------
    row : rows of the whole job that are done (the blank as it is before row `row`)
    seconds : when, from the start of the job
    heights : (ny, nx) float32, mm
    cut_by : (ny, nx) int32, the job's row that last lowered each cell, -1 none
    """

    row: int
    seconds: float
    heights: NDArray[np.float32]
    cut_by: NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class Moments:
    """All marked moments, in order; the first is the uncut blank.

    Attributes
    ----------
    cell : side of a kept cell, mm
    step : cells of the cut field along the side of a kept one
    """

    cell: float
    step: int
    moments: tuple[Moment, ...]

    def at(self, row: int) -> tuple[NDArray[np.float32], bool]:
        """Return the heights when `row` rows of the job are done, and whether all are true.

        Between two moments a cell whose last cut before the later one is done is true; any other
        is drawn as it was at the earlier one.
        """
        rows = [moment.row for moment in self.moments]
        k = max(0, bisect.bisect_right(rows, row) - 1)
        before = self.moments[k]
        if before.row == row or k + 1 == len(self.moments):
            return before.heights, True
        after = self.moments[k + 1]
        return np.where(after.cut_by < row, after.heights, before.heights), False


def job_rows(outcome: Outcome) -> list[int]:
    """Return the number of the first row of each stage when all rows are counted through."""
    counts = [0, *np.cumsum([len(stage.motion) for stage in outcome.stages]).tolist()]
    return counts[:-1]


def make_moments(
    outcome: Outcome, threads: int | None = None, progress: Progress | None = None
) -> Moments:
    """Cut the job anew and keep it at marked moments; needs a blank and a bit."""
    assert outcome.surface is not None
    assert outcome.job.stock is not None
    fine = outcome.surface.cell
    longer = max(outcome.surface.shape)
    cell = fine * max(1.0, longer / CUT)
    surface = Surface.blank(outcome.job.stock, cell)
    step = max(1, -(-max(surface.shape) // KEPT))
    kept = [_keep(surface, step, 0, 0.0)]
    seconds = 0.0
    for number, (stage, first) in enumerate(zip(outcome.stages, job_rows(outcome), strict=True)):
        if progress is not None:
            progress(number, len(outcome.stages))
        ends = np.cumsum(stage.time.row_seconds)
        start = 0
        for stop in _stops(stage, ends, outcome.seconds):
            _cut(surface, outcome, stage, (start, stop), first, threads)
            at = seconds + (float(ends[stop - 1]) if stop else 0.0)
            kept.append(_keep(surface, step, first + stop, at))
            start = stop
        seconds += stage.seconds
    return Moments(surface.cell * step, step, tuple(kept))


def _stops(stage: StageOutcome, ends: NDArray[np.float64], total: float) -> list[int]:
    """Return row counts at which a stage is kept: near even times, at retracts, and at its end."""
    rows = len(stage.motion)
    if stage.facts is None or rows == 0:
        return [rows]
    wanted = max(1, round(WANTED * stage.seconds / max(total, 1e-9)))
    retracts = np.flatnonzero((stage.motion.kind == RAPID) & (np.diff(ends, prepend=0.0) > 0))
    stops = set()
    for k in range(1, wanted):
        time = stage.seconds * k / wanted
        stop = int(np.searchsorted(ends, time))
        if len(retracts):
            near = int(retracts[np.argmin(np.abs(ends[retracts] - time))])
            if abs(float(ends[near]) - time) < 0.3 * stage.seconds / wanted:
                stop = near
        stops.add(min(max(stop, 1), rows))
    return sorted(stops | {rows})


def _cut(
    surface: Surface,
    outcome: Outcome,
    stage: StageOutcome,
    rows: tuple[int, int],
    first: int,
    threads: int | None,
) -> None:
    from dryrun.removal.simulate import remove

    bit, machine = stage.stage.bit, outcome.job.machine
    if bit is None or stage.facts is None or rows[0] == rows[1] or stage.note:
        return
    if machine is not None:
        # What the holder touches is known already; here only the cut is wanted.
        machine = replace(machine, holder=(), dust_shoe=None)
    remove(
        surface,
        stage.motion.rows(slice(*rows)),
        replace(bit, shank=None),
        threads,
        machine=machine,
        first_row=first + rows[0],
    )


def _keep(surface: Surface, step: int, row: int, seconds: float) -> Moment:
    heights, cut_by = lowest_of(surface, step)
    return Moment(row, seconds, heights, cut_by)


def lowest_of(surface: Surface, step: int) -> tuple[NDArray[np.float32], NDArray[np.int32]]:
    """Return heights and rows of a surface with step x step cells made one, the lowest of them.

    Shapes [ceil(ny / step), ceil(nx / step)].
    """
    if step == 1:
        return surface.height, surface.cut_by
    ny, nx = surface.shape
    rows, columns = -(-ny // step), -(-nx // step)
    heights = surface.reduced(step)
    cut_by = np.full((rows, columns), -1, np.int32)
    for patch in surface.patches():
        iy = (patch.iy + np.arange(patch.height.shape[0])) // step
        ix = (patch.ix + np.arange(patch.height.shape[1])) // step
        lowest = patch.height == heights[np.ix_(iy, ix)]
        found = np.where(lowest, patch.cut_by, np.int32(-1))
        np.maximum.at(cut_by, np.ix_(iy, ix), found)
    return heights, cut_by
