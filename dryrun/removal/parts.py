"""Work on many rows in parts, on the threads of a pool.

Only for work whose rows do not depend on each other, done by kernels and by numpy without the GIL.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Final

#: Rows of a part: few enough that what is known of them stays in the processor's own memory.
PART: Final = 8192

#: Called with the first row of a part and the one after its last.
Work = Callable[[int, int], None]


class Parts:
    """Runs work on rows part by part: in the caller's thread, or shared out where it pays."""

    def __init__(self, pool: ThreadPoolExecutor | None = None, threads: int = 1) -> None:
        self._pool = pool
        self._threads = threads

    def run(self, rows: int, work: Work) -> None:
        """Do the work on all rows."""
        parts = -(-rows // PART)
        threads = min(self._threads, parts // 2)  # waking another takes as long as a part
        if self._pool is None or threads < 2:
            _one_by_one(work, 0, rows)
            return
        edges = [parts * i // threads * PART for i in range(threads)] + [rows]
        jobs = [
            self._pool.submit(_one_by_one, work, edges[i], edges[i + 1]) for i in range(threads)
        ]
        for job in jobs:
            job.result()


#: In the caller's thread.
IN_ORDER: Final = Parts()


def _one_by_one(work: Work, first: int, after: int) -> None:
    for begin in range(first, after, PART):
        work(begin, min(begin + PART, after))
