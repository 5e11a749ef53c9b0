"""What the page's script gets to know: maps, moments, path, findings and measures, in mm and s."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dryrun.finding import Finding
from dryrun.outcome import Outcome, StageOutcome
from dryrun.report import colours
from dryrun.report.html_pack import LEVELS_16, levels, pack
from dryrun.report.html_path import path_data
from dryrun.report.moments import Moments, job_rows, lowest_of, make_moments

#: The map is made coarser until it has at most so many cells ...
MOST_CELLS: Final = 2048 * 2048
#: ... and takes no more than this, bytes of base64.
MOST_BYTES: Final = 1_300_000


def page_data(outcome: Outcome, threads: int | None = None) -> dict[str, Any]:
    """Return everything the script works with."""
    stock = outcome.job.stock
    data: dict[str, Any] = {
        "units": outcome.job.units,
        "seconds": outcome.seconds,
        "path": path_data(outcome),
        "stages": [_stage(s, outcome) for s in outcome.stages],
        "findings": [_finding(n, f) for n, f in enumerate(outcome.findings, start=1)],
        "clamps": [
            {"name": c.name, "low": list(c.low), "high": list(c.high), "height": c.height}
            for c in outcome.job.clamps or ()
        ],
        "colours": {
            "scale": np.rint(colours.depth_colours(np.linspace(0, 1, 17))).astype(int).tolist(),
            "uncut": list(colours.UNCUT),
            "through": list(colours.THROUGH),
        },
        "map": None,
        "moments": None,
    }
    if stock is None or outcome.surface is None:
        return data
    low = min(outcome.surface.lowest, stock.bed)
    data["blank"] = {
        "low": list(stock.low), "high": list(stock.high), "bed": stock.bed, "top": stock.top,
        "deepest": stock.top - outcome.surface.lowest,
    }  # fmt: skip
    data["heights"] = {"low": low, "step": (stock.top - low) / LEVELS_16}
    data["map"] = map_data(outcome, low)
    data["moments"] = moments_data(make_moments(outcome, threads), outcome, low)
    return data


def map_step(shape: tuple[int, int]) -> int:
    """Return how many cells along a side become one, so that a map is fit for a page."""
    return max(1, math.ceil(math.sqrt(shape[0] * shape[1] / MOST_CELLS)))


def map_data(outcome: Outcome, low: float) -> dict[str, Any]:
    """Return the map after the last stage: heights, and the row that cut each cell."""
    surface = outcome.surface
    assert surface is not None
    group = _group(outcome)
    step = map_step(surface.shape)
    while True:
        heights, cut_by = lowest_of(surface, step)
        depths = pack(levels(heights, low, surface.top), 2, 2)
        rows = pack((job_row(outcome, cut_by) + group) // group, 4)
        size = len(depths["data"]) + len(rows["data"])
        if size <= MOST_BYTES:
            return {"cell": surface.cell * step, "step": step, "heights": depths, "rows": rows}
        step = math.ceil(step * math.sqrt(size / MOST_BYTES) + 0.2)


def job_row(outcome: Outcome, cut_by: NDArray[np.int32]) -> NDArray[np.int64]:
    """Turn values of a surface's `cut_by` into rows counted through all stages; -1 stays."""
    rows = cut_by.astype(np.int64)
    cut = [(s, n) for s, n in zip(outcome.stages, job_rows(outcome), strict=True) if s.facts]
    if all(stage.first_row == first for stage, first in cut):
        return rows
    starts = np.array([stage.first_row for stage, _ in cut])
    moved = np.array([first - stage.first_row for stage, first in cut])
    index = np.maximum(np.searchsorted(starts, rows, side="right") - 1, 0)
    return np.where(rows >= 0, rows + moved[index], -1)


def _group(outcome: Outcome) -> int:
    from dryrun.report.html_path import MOST_ROWS

    return max(1, math.ceil(sum(len(s.motion) for s in outcome.stages) / MOST_ROWS))


def moments_data(found: Moments, outcome: Outcome, low: float) -> dict[str, Any]:
    """Return the marked moments; each map as what changed since the one before."""
    top = outcome.job.stock.top if outcome.job.stock else 0.0
    group = _group(outcome)
    heights = np.array([levels(m.heights, low, top) for m in found.moments])
    rows = np.array([(m.cut_by.astype(np.int64) + group) // group for m in found.moments])
    return {
        "cell": found.cell,
        "step": found.step,
        "at": [{"seconds": round(m.seconds, 3), "row": -(-m.row // group)} for m in found.moments],
        "heights": pack(np.diff(heights, axis=0, prepend=heights[:1] * 0) % 65536, 2, 2),
        "rows": pack(np.diff(rows, axis=0, prepend=rows[:1] * 0) % 256**4, 4),
    }


def _stage(stage: StageOutcome, outcome: Outcome) -> dict[str, Any]:
    bit = stage.stage.bit
    return {
        "number": stage.number,
        "name": stage.stage.name,
        "seconds": stage.seconds,
        "first": job_rows(outcome)[stage.number - 1],
        "bit": None if bit is None else outline(stage),
        "depth": None
        if stage.stage.depth is None or math.isinf(stage.stage.depth)
        else stage.stage.depth,
    }


def outline(stage: StageOutcome) -> list[list[float]]:
    """Return (radius, height above the tip) of a bit from the tip upward, for drawing."""
    from dryrun.removal.profile import Profile, ProfileError

    bit = stage.stage.bit
    assert bit is not None
    length = bit.flute_length or 3.0 * bit.diameter
    try:
        profile = Profile.from_bit(bit)
        radii = np.linspace(0.0, profile.radius, 17)
        rises = np.minimum(profile.height(radii), 1e4)
    except ProfileError:
        radii, rises = np.array([0.0, bit.radius]), np.array([0.0, 0.0])
    points = [[round(float(r), 4), round(float(z), 4)] for r, z in zip(radii, rises, strict=True)]
    points.append([round(bit.radius, 4), round(max(length, points[-1][1]), 4)])
    shank = (bit.shank or bit.diameter) / 2
    reach = bit.stickout or 1.6 * length
    points += [[shank, points[-1][1]], [shank, max(reach, points[-1][1])]]
    return points


def _finding(number: int, finding: Finding) -> dict[str, Any]:
    place = None
    if finding.at is not None and all(math.isfinite(v) for v in finding.at[:2]):
        z = finding.at[2]
        place = [*finding.at[:2], z if math.isfinite(z) else None]
    return {
        "number": number,
        "level": finding.level,
        "code": finding.code,
        "at": place,
        "line": finding.line,
        "stage": finding.stage,
    }
