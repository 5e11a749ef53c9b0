"""The two passes over a long chain, in parts by several threads.

What a pass knows at a row is one speed and its cause, and at most rows a limit of the row's own
decides them, not what came before. So every part starts from the best that can be there, and the
seams are mended afterwards: the backward pass is run again over a seam until it gives what the part
had found already; a part whose forward pass started faster than the row before it arrives is run
again. The cuts lie where the chain says, so the result does not depend on the threads; it is that
of one pass over all, but for the rounding of the sums of lost time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.timing import path
from dryrun.timing.books import TALLY, Books
from dryrun.timing.corners import GATE
from dryrun.timing.limits import Limits
from dryrun.timing.path import Path

Kernels = dict[str, Callable[..., Any]]
#: Rows of a part.
PART: Final = 100_000
#: Rows among which the slowest place is looked for, to cut there.
WINDOW: Final = 256


class Plan(NamedTuple):
    """What the passes work on: a chain, and the speeds squared and their causes at its nodes."""

    kernels: Kernels
    chain: Path
    limits: Limits
    nodes: NDArray[np.float64]
    why: NDArray[np.int8]
    threads: int


def cut(rows: int) -> list[int]:
    """Return where the parts of so many rows begin, and the end of the last."""
    return [*range(0, rows, PART), rows]


def each(call: Callable[[Any], Any], things: Iterable[Any], threads: int) -> list[Any]:
    """Call a function for each thing, by several threads; return the results in order."""
    things = list(things)
    if threads < 2 or len(things) < 2:
        return [call(thing) for thing in things]
    with ThreadPoolExecutor(min(threads, len(things))) as pool:
        return list(pool.map(call, things))


def _node(plan: Plan, row: int) -> int:
    return int(plan.chain.codes[row, path.NODE])


def _with_steps(plan: Plan, rows: list[int]) -> list[int]:
    """Return for each row the first from there on that has a step of its own."""
    nodes = plan.chain.codes[:, path.NODE]
    found = []
    for row in rows:
        last = min(row + min(WINDOW, PART), len(nodes) - 1)
        own = np.flatnonzero(nodes[row + 1 : last + 1] > nodes[row:last])
        found += [row + int(own[0])] if len(own) else []
    return found


def backward(plan: Plan) -> None:
    """Run the backward pass; the machine stands at the end of the chain."""
    count = len(plan.chain.codes) - 1
    ends = cut(count)
    run = plan.kernels["backward"]
    # the last row of each part but the last is left out: its end belongs to the part that follows
    seams = _with_steps(plan, [end - 1 for end in ends[1:-1]])
    begins = [0, *(seam + 1 for seam in seams)]
    for seam in seams:
        plan.nodes[_node(plan, seam)] = min(
            plan.chain.rows[seam, GATE], plan.chain.rows[seam, path.TURN_CAP]
        )

    def part(number: int) -> None:
        span = (begins[number], [*seams, count][number])
        run(*plan.chain, plan.limits, plan.nodes, plan.why, span, False)

    each(part, range(len(begins)), plan.threads)
    for begin, seam in reversed(list(zip(begins, seams, strict=False))):
        plan.kernels["mend"](*plan.chain, plan.limits, plan.nodes, plan.why, begin, seam + 1)


def forward(plan: Plan, books: Books, origin: int) -> None:
    """Run the forward pass and keep the books; `origin` is why the machine stands at the start."""
    count = len(plan.chain.codes) - 1
    seams = _slow_places(plan, cut(count)[1:-1])
    spans = list(zip([0, *(seam + 1 for seam in seams)], [*seams, count], strict=True))
    starts = [origin, *(_expected(plan, books, seam) for seam in seams)]
    kept = [plan.nodes[_node(plan, end)] for _, end in spans]
    of_part = [_own(books) for _ in spans]

    def part(number: int) -> int:
        return _run(plan, of_part[number], *spans[number], starts[number])

    origins = each(part, range(len(spans)), plan.threads)
    origin = origins[0]
    for number, (begin, end) in enumerate(spans[1:], 1):
        node, own = _node(plan, begin), _own(books)
        before = plan.nodes[node]
        origin = _run(plan, own, begin - 1, begin, origin)
        books.lost[:] += of_part[number - 1].lost + own.lost
        if plan.nodes[node] == before and origin == starts[number]:
            origin = origins[number]
            continue
        arrived = plan.nodes[node]
        plan.nodes[_node(plan, end)] = kept[number]
        plan.kernels["backward"](
            *plan.chain, plan.limits, plan.nodes, plan.why, (begin, end), False
        )
        plan.nodes[node] = arrived
        of_part[number] = _own(books)
        origin = _run(plan, of_part[number], begin, end, origin)
    books.lost[:] += of_part[-1].lost


def _run(plan: Plan, books: Books, begin: int, end: int, origin: int) -> int:
    run = plan.kernels["forward"]
    return int(run(plan.chain, plan.limits, plan.nodes, plan.why, books, begin, end, origin))


def _expected(plan: Plan, books: Books, seam: int) -> int:
    """Return why the last slow place was slow after a row, if it is entered at the best speed."""
    own = slice(_node(plan, seam), _node(plan, seam + 1) + 1)
    before = plan.nodes[own].copy()
    origin = _run(plan, _own(books), seam, seam + 1, int(plan.why[_node(plan, seam)]))
    plan.nodes[own] = before
    return origin


def _own(books: Books) -> Books:
    """Return books that share the results, with a tally and losses of their own."""
    return books._replace(tally=np.zeros(TALLY), lost=np.zeros_like(books.lost))


def _slow_places(plan: Plan, rows: list[int]) -> list[int]:
    """Return for each row one near it at whose end the machine is slow, with a step of its own."""
    found = []
    codes = plan.chain.codes
    for row in rows:
        last = min(row + min(WINDOW, PART), len(codes) - 1)
        ends = plan.nodes[codes[row + 1 : last + 1, path.NODE]]
        own = codes[row + 1 : last + 1, path.NODE] > codes[row:last, path.NODE]
        if own.any():
            slowest = np.where(own, ends, np.inf)
            # the last of equals: the machine has had the longest way to get up to speed
            found.append(row + len(slowest) - 1 - int(np.argmin(slowest[::-1])))
    return found
