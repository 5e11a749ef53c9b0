"""The path of the bit and the rows of the job, as the page's script needs them.

Rows of all stages are counted through. A job of very many rows is thinned: several rows become one
group, which is known by its first row's line and ends with its last row.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dryrun.motion import ARC, RAPID, Motion
from dryrun.outcome import Outcome
from dryrun.report.html_pack import pack
from dryrun.report.html_program import texts_of
from dryrun.report.moments import job_rows

#: More rows than this are grouped.
MOST_ROWS: Final = 60_000
#: Chords of an arc deviate by no more than this in a drawing, mm.
SAGITTA: Final = 0.03
MOST_CHORDS: Final = 90

#: Places are written in steps of this, mm, from `LOWEST`.
STEP: Final = 0.005
LOWEST: Final = -20_000.0

RAPID_POINT, CUT_POINT, GAP_POINT = 1, 0, 2


@dataclass(frozen=True, slots=True)
class Route:
    """Corners of the drawn path, arcs as chords.

    Attributes
    ----------
    place : (n, 3) mm; row : (n,) row of the job that ends here; seconds : (n,) since the job began
    kind : (n,) CUT_POINT, RAPID_POINT, or GAP_POINT where the way from the corner before is not
        known
    """

    place: NDArray[np.float64]
    row: NDArray[np.int64]
    seconds: NDArray[np.float64]
    kind: NDArray[np.int8]


def route(outcome: Outcome) -> Route:
    """Return the path of all stages."""
    parts = []
    begun = 0.0
    for stage, first in zip(outcome.stages, job_rows(outcome), strict=True):
        parts.append(stage_route(stage.motion, stage.time.row_seconds, first, begun))
        begun += stage.seconds
    return Route(
        np.concatenate([p.place for p in parts]) if parts else np.zeros((0, 3)),
        np.concatenate([p.row for p in parts]) if parts else np.zeros(0, np.int64),
        np.concatenate([p.seconds for p in parts]) if parts else np.zeros(0),
        np.concatenate([p.kind for p in parts]) if parts else np.zeros(0, np.int8),
    )


def stage_route(
    motion: Motion, row_seconds: NDArray[np.float64], first: int = 0, begun: float = 0.0
) -> Route:
    """Return the path of one stage."""
    moving = np.flatnonzero(motion.moving)
    ends = begun + np.cumsum(row_seconds)
    chords = np.ones(len(motion), np.int64)
    arcs = motion.kind == ARC
    radius = np.maximum(motion.radii()[arcs], SAGITTA)
    angle = 2.0 * np.arccos(np.clip(1.0 - SAGITTA / radius, -1.0, 1.0))
    sweep = np.abs(motion.sweep[arcs])
    with np.errstate(invalid="ignore"):
        wanted = np.nan_to_num(np.ceil(sweep / np.maximum(angle, 1e-3)), nan=1.0)
    chords[arcs] = np.clip(wanted, 1, MOST_CHORDS).astype(np.int64)
    row = np.repeat(moving, chords[moving])
    starts = np.cumsum(chords[moving]) - chords[moving]
    number = np.arange(len(row)) - np.repeat(starts, chords[moving])
    part = (number + 1) / chords[row]
    place = motion.start[row] + part[:, None] * (motion.end[row] - motion.start[row])
    bent = motion.kind[row] == ARC
    place[bent] = _on_arc(motion, row[bent], part[bent])
    place[part == 1.0] = motion.end[row[part == 1.0]]
    seconds = ends[row] - (1.0 - part) * row_seconds[row]
    kind = np.where(motion.kind[row] == RAPID, RAPID_POINT, CUT_POINT).astype(np.int8)
    lost = ~np.isfinite(motion.start[row]).all(axis=1)
    kind[lost] = GAP_POINT
    kind[:1] = GAP_POINT
    known = np.isfinite(place).all(axis=1)
    return Route(place[known], row[known] + first, seconds[known], kind[known])


def _on_arc(
    motion: Motion, row: NDArray[np.int64], part: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the places at a part of the way along arcs, (n, 3)."""
    axis = motion.axis[row].astype(np.int64)
    u, v = (axis + 1) % 3, (axis + 2) % 3
    index = np.arange(len(row))
    offset = motion.start[row] - motion.centre[row]
    a, b = offset[index, u], offset[index, v]
    turn = part * motion.sweep[row]
    cos, sin = np.cos(turn), np.sin(turn)
    place = motion.start[row] + part[:, None] * (motion.end[row] - motion.start[row])
    place[index, u] = motion.centre[row][index, u] + a * cos - b * sin
    place[index, v] = motion.centre[row][index, v] + a * sin + b * cos
    return place


@dataclass(frozen=True, slots=True)
class Rows:
    """All rows of the job, `group` of them made one.

    Attributes
    ----------
    group : rows in a group
    line, source, stage : (n,) of each group; source counts through all texts of all stages
    seconds : (n,) when the group ends
    sources : (stage number, name) of each text
    """

    group: int
    line: NDArray[np.int64]
    source: NDArray[np.int64]
    stage: NDArray[np.int64]
    seconds: NDArray[np.float64]
    sources: tuple[tuple[int, str], ...]


def rows_of(outcome: Outcome) -> Rows:
    """Return the rows of the job, thinned when there are many."""
    texts = 0
    line, source, stage, seconds = [], [], [], []
    begun = 0.0
    for each in outcome.stages:
        motion = each.motion
        line.append(motion.line.astype(np.int64))
        source.append(motion.source.astype(np.int64) + texts)
        stage.append(np.full(len(motion), each.number, np.int64))
        seconds.append(begun + np.cumsum(each.time.row_seconds))
        texts += len(each.program.sources)
        begun += each.seconds
    total = sum(map(len, line))
    group = max(1, math.ceil(total / MOST_ROWS))
    heads = np.arange(0, total, group)
    tails = np.minimum(heads + group, total) - 1

    def of(parts: list[NDArray[Any]], index: NDArray[np.int64]) -> NDArray[Any]:
        return np.concatenate(parts)[index] if total else np.zeros(0, np.int64)

    names = tuple((text.stage, text.name) for text in texts_of(outcome))
    return Rows(
        group, of(line, heads), of(source, heads), of(stage, heads),
        of(seconds, tails).astype(np.float64), names,
    )  # fmt: skip


def path_data(outcome: Outcome) -> dict[str, Any]:
    """Return rows and route for the page's script."""
    rows, way = rows_of(outcome), route(outcome)
    step = max(1, math.ceil(len(way.row) / (3 * MOST_ROWS)))
    keep = np.zeros(len(way.row), bool)
    keep[::step] = True
    keep |= way.kind == GAP_POINT
    places = np.rint((np.clip(way.place[keep], LOWEST, -LOWEST) - LOWEST) / STEP).astype(np.int64)
    return {
        "group": rows.group,
        "thinned": step,
        "sources": [list(s) for s in rows.sources],
        "line": pack(rows.line, 4, 1),
        "source": pack(rows.source, 2, 1),
        "stage": pack(rows.stage, 2, 1),
        "ends": pack(_thousandths(rows.seconds), 5, 1),
        "low": LOWEST,
        "step": STEP,
        "places": pack(places.T, 4, 1),
        "row": pack(way.row[keep] // rows.group, 4, 1),
        "at": pack(_thousandths(way.seconds[keep]), 5, 1),
        "kind": pack(way.kind[keep].astype(np.int64), 1),
    }


def _thousandths(seconds: NDArray[np.float64]) -> NDArray[np.int64]:
    return np.rint(seconds * 1000.0).astype(np.int64)
