"""The chain of a program's moving rows, made in parts by several threads.

A row of the chain depends on the moving row before it and on nothing else. So the rows are cut
into parts of a fixed number; each part is surveyed as if the machine stood still before it, and
afterwards only its first moving row is joined to the part before. The result does not depend on
the threads.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dryrun.motion import Motion
from dryrun.timing import causes, path
from dryrun.timing.corners import TRIM
from dryrun.timing.parts import cut, each
from dryrun.timing.path import Columns, Path, Rules

Kernels = dict[str, Callable[..., Any]]


def survey_rows(
    kernels: Kernels,
    motion: Motion,
    stops: NDArray[np.bool_],
    rules: Rules,
    small: bool,
    threads: int = 1,
) -> tuple[Path, NDArray[np.int8]]:
    """Chain the moving rows; return the chain and what became of each row."""
    rows = len(motion)
    arc, arcs = path.arc_table(motion)
    chain = path.empty_path(rows, arcs)
    state = np.zeros(rows, np.int8)
    columns = Columns(
        motion.kind, motion.start, motion.end, motion.feed, motion.tolerance, arc, stops
    )
    if small:
        seen, own, marks = path.views(columns), path.views(chain), path.view(state)
        found, _ = kernels["survey"](seen, rules, own, marks, 0, rows, 0, 0, causes.ACCELERATION)
    else:
        found = _survey_parts(kernels, columns, rules, chain, state, threads)
    kernels["close"](*(path.views(chain) if small else chain), found)
    chain = chain._replace(rows=chain.rows[: found + 1], codes=chain.codes[: found + 1])
    return chain, state


def _survey_parts(
    kernels: Kernels,
    columns: Columns,
    rules: Rules,
    chain: Path,
    state: NDArray[np.int8],
    threads: int,
) -> int:
    """Survey part by part, each into its own place of the chain; return the rows in the chain."""
    survey = kernels["survey"]
    spans = list(pairwise(cut(len(state))))

    def alone(part: tuple[int, int]) -> tuple[int, int]:
        begin, end = part
        found, stopped = survey(
            columns, rules, chain, state, begin, end, begin, begin, causes.ACCELERATION
        )
        return int(found), int(stopped)

    ends = each(alone, spans, threads)
    found, stopped = 0, causes.ACCELERATION
    for (begin, end), (last, standing) in zip(spans, ends, strict=True):
        rest = last - begin - 1
        if rest >= 0:
            end = int(chain.codes[begin, path.ROW]) + 1
            _close_up(chain, found + 1, begin + 1, rest)
        # once more with what goes before: up to the first moving row, or all when nothing moves
        found, stopped = survey(columns, rules, chain, state, begin, end, 0, found, stopped)
        if rest > 0:
            own = int(chain.codes[found, path.NODE])
            kernels["number"](*chain, found - 1)
            nodes = chain.codes[found : found + rest, path.NODE]
            nodes[1:] += nodes[0] - own
        if rest >= 0:
            found, stopped = found + rest, standing
    return found


def _close_up(chain: Path, to: int, begin: int, count: int) -> None:
    """Move rows of the chain down to where the part before ended; clear the row before them."""
    if to < begin:
        chain.rows[to : to + count] = chain.rows[begin : begin + count]
        chain.codes[to : to + count] = chain.codes[begin : begin + count]
    chain.rows[to - 1, TRIM:] = 0.0
    chain.codes[to - 1, path.PIECES] = 0
