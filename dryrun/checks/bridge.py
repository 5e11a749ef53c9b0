"""A bridge longer than the tabs: the bit comes down late behind a tab, or goes up early before one.

Tabs of a cut-out are alike. Where all but one are equally long, and that one is far longer, a line
that brings the bit down was lost, or goes to another place: the part hangs on a wall there.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import StageContext
from dryrun.checks.tabs import path_of, set_by
from dryrun.finding import Finding
from dryrun.removal.pieces import SKIN

#: They differ by less than this factor, ...
ALIKE: Final = 1.15
#: ... and the long bridge is longer than the longest of them by more than this one, or where there
#: is only one to compare it with, by more than that.
LONGER: Final = 1.5
THAN_ONE: Final = 3.0


class Bridge(NamedTuple):
    """What stands between two places where the cut is through: the points of the path, how long.

    And where it begins, is half over and ends.
    """

    run: slice
    length: float
    marks: NDArray[np.float64]


def bridge_left(context: StageContext) -> Iterator[Finding]:
    """Report the one bridge of a cut-out that is far longer than its tabs."""
    surface = context.final
    if surface is None or not context.stage.through:
        return
    points, left, row, step = path_of(context, surface, math.inf)
    bridges = sorted(_bridges(points, left, step, context.bit.radius), key=lambda b: b.length)
    if len(bridges) < 2:
        return
    *tabs, long = bridges
    longer = LONGER if len(tabs) > 1 else THAN_ONE
    if tabs[-1].length > ALIKE * tabs[0].length or long.length < longer * tabs[-1].length:
        return
    others = f"{len(tabs)} tabs of the cut are" if len(tabs) > 1 else "tab of the cut is"
    far = np.cumsum(_steps(points[long.run]))
    # behind the others the bit comes down when its edge is there: a radius on
    down = tabs[-1].length + context.bit.radius + step
    at = long.run.start + min(int(np.searchsorted(far, down)), len(far) - 1)
    yield context.finding(
        "shallow",
        f"a bridge {context.mm(round(long.length, 1))} long stays standing here; the other "
        f"{others} {context.mm(round(tabs[-1].length, 1))} long",
        row=set_by(context, int(row[at])),
        letters="ZXY",
        at=points[at],
        value=long.length,
        limit=tabs[-1].length,
        unit="mm",
        help="a line that brings the bit down again may be lost, or one that goes up is too early",
    )


def _bridges(
    points: NDArray[np.float64], left: NDArray[np.float32], step: float, radius: float
) -> list[Bridge]:
    """Return the bridges along a path, once for each place, as the last pass there sees them.

    A pass that runs beside the others sees them longer.
    """
    through = left <= SKIN
    lifts = np.flatnonzero(_steps(points) > 2 * step)
    found: list[Bridge] = []
    for begin, end in itertools.pairwise(np.flatnonzero(np.diff(through.astype(np.int8)))):
        if through[begin + 1]:
            continue
        run = slice(int(begin), int(end) + 2)
        steps = _steps(points[run])
        after = int(np.searchsorted(lifts, run.start))
        if after < len(lifts) and lifts[after] < run.stop - 1:
            # in the air to the end of the stretch, where the outline began
            run = slice(run.start, int(lifts[after]) + 1)
            steps = steps[: run.stop - 1 - run.start]
            stretch = slice(int(lifts[after - 1]) + 1 if after else 0, run.start)
            cut = points[stretch, :2][through[stretch]]
            off = np.hypot(*(cut - points[run.stop - 1, :2]).T)
            if not len(steps) or not len(off) or off.min() > radius + 2 * step:
                continue
        marks = points[[run.start, (run.start + run.stop) // 2, run.stop - 1], :2]
        bridge = Bridge(run, float(steps.sum()), marks)
        for k, other in enumerate(found):
            if (np.hypot(*(bridge.marks - other.marks).T) < radius).any():
                found[k] = bridge._replace(length=min(bridge.length, other.length))
                break
        else:
            found.append(bridge)
    return found


def _steps(points: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.hypot(*np.diff(points[:, :2], axis=0).T), np.float64)
