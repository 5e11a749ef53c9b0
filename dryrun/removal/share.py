"""Sharing the tiles of a field out among threads.

Each thread takes the next list of tiles, cuts it without the GIL, and comes back for more. Lists
get shorter towards the end, so that all threads are done at about the same time.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_EXCEPTION, Future, ThreadPoolExecutor, wait
from functools import partial
from queue import Empty, SimpleQueue
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dryrun.removal import tiles
from dryrun.removal.commit import TALLY
from dryrun.removal.drive import cut_tiles
from dryrun.removal.ground import (
    ARC,
    HELIX,
    STEEP,
    TOOL_INDEX,
    Bins,
    Ground,
    Pieces,
    Tools,
    work_space,
)
from dryrun.removal.parts import Parts
from dryrun.removal.paths import keep
from dryrun.removal.profile import BALL, FAMILY, FORM, RADIUS, RING
from dryrun.removal.surface import PAGE, Surface

#: Called with pieces of path done and in all.
Progress = Callable[[int, int], None]
#: Lists of tiles that nobody has taken so far.
Lists = SimpleQueue[NDArray[np.int64]]
#: Which ways of `cut_tiles` there are, True or None.
Ways = tuple[bool | None, ...]

BATCH: Final = 200_000  # pieces sorted into tiles at a time
_LONGEST: Final = 20_000  # entries in a list, so that Ctrl-C is heard
_MOST_LISTS: Final = 24  # about, for each thread
_TELL: Final = 0.1  # seconds between two calls of progress
#: Ways of `cut_tiles` that this process has loaded.
loaded: Final[list[Ways]] = []


class Later:
    """Work for a pool, begun when it is told to, or when its result is asked for."""

    def __init__(self, pool: ThreadPoolExecutor, work: Callable[..., Any], *given: Any) -> None:
        self._begin = partial(pool.submit, work, *given)
        self._running: Future[Any] | None = None

    def begin(self) -> Future[Any]:
        """Begin, unless it has begun."""
        if self._running is None:
            self._running = self._begin()
        return self._running

    def result(self) -> Any:
        """Return what the work returns."""
        return self.begin().result()


def cut_all(
    pool: ThreadPoolExecutor,
    parts: Parts,
    beside: Later,
    surface: Surface,
    pieces: Pieces,
    tools: Tools,
    tile: int,
    threads: int,
    progress: Progress | None,
) -> Iterator[tuple[Bins, Pieces, NDArray[np.int64]]]:
    """Cut batch after batch; yield what each piece did in each tile.

    `beside` begins when the first lists are there to be taken: then one thread does it while the
    others cut, and comes to the lists later than they.
    """
    ground = ground_of(surface, tile)
    ways = ways_of(pieces, tools)
    total = len(pieces.kind)
    first = 0
    while first < total:
        after = _batch_end(pieces, first)
        batch = keep(pieces, slice(first, after))
        bins = tiles.sort_into_tiles(ground, batch, tools, parts)
        tallies = np.empty((len(bins.piece), TALLY), np.int64)
        lists = tiles.busy_tiles(bins, shares(len(bins.piece), threads))
        waiting = Lists()
        for part in lists:
            waiting.put(part)
        given = (waiting, ground, batch, tools, bins, tallies, ways)
        beside.begin()
        jobs = [pool.submit(_cut_lists, *given) for _ in range(min(threads, len(lists)))]
        _wait(jobs, waiting, partial(_tell, progress, first, len(batch.kind), total, len(lists)))
        yield bins, batch, tallies
        first = after
    if progress is not None:
        progress(total, total)


def _cut_lists(
    waiting: Lists, ground: Ground, pieces: Pieces, tools: Tools, bins: Bins,
    tallies: NDArray[np.int64], ways: Ways,
) -> None:  # fmt: skip
    """Cut one list of tiles after another until none is left: what one thread does."""
    space = work_space(ground, len(tools.rings))
    while True:
        try:
            part = waiting.get_nowait()
        except Empty:
            return
        # numbers of tools and pieces left from other tiles do not count, but marks would
        space.whole[TOOL_INDEX] = -1
        cut_tiles(ground, pieces, tools, bins, part, tallies, space, *ways)


def _wait(jobs: list[Future[None]], waiting: Lists, tell: Callable[[int], bool]) -> None:
    """Wait for all threads; on an error or Ctrl-C give out no more lists."""
    unfinished = set(jobs)
    try:
        while unfinished:
            every = _TELL if tell(waiting.qsize()) else None
            done, unfinished = wait(unfinished, every, FIRST_EXCEPTION)
            for job in done:
                job.result()
    except BaseException:
        with contextlib.suppress(Empty):  # threads may still be taking lists
            while True:
                waiting.get_nowait()
        raise


def _tell(
    progress: Progress | None, first: int, pieces: int, total: int, lists: int, waiting: int
) -> bool:
    """Tell how many pieces are done, as far as lists of tiles show it; whether anybody listens."""
    if progress is None:
        return False
    progress(first + pieces * (lists - waiting) // max(lists, 1), total)
    return True


def shares(entries: int, threads: int) -> NDArray[np.int64]:
    """Return where, among all entries, lists of tiles end: long ones first, short ones last."""
    least = max(entries // (_MOST_LISTS * threads), 1)
    ends, done = [], 0
    while done < entries:
        part = entries - done
        if threads > 1:
            part = max(part // (2 * threads), least)
        done = min(done + min(part, _LONGEST), entries)
        ends.append(done)
    return np.array(ends, np.int64)


def ways_of(pieces: Pieces, tools: Tools) -> Ways:
    """Return which kernels pieces need: True or None for `cut_tiles`' ball, disc, arcs and exact."""
    numbers = tools.numbers[0]
    ball = numbers[FAMILY] == BALL
    disc = numbers[FAMILY] != FORM and numbers[RING] >= numbers[RADIUS]
    arcs = (pieces.kind == ARC).any()
    exact = ((pieces.kind == STEEP) | (pieces.kind == HELIX)).any()
    wanted = tuple(True if needed else None for needed in (ball, disc, arcs, exact))
    for ways in loaded:  # what does more will do
        if all(way or not want for way, want in zip(ways, wanted, strict=True)):
            return ways
    loaded.append(wanted)
    return wanted


def _batch_end(pieces: Pieces, first: int) -> int:
    """End of a batch; all pieces of a row are in one."""
    after = min(first + BATCH, len(pieces.row))
    while 0 < after < len(pieces.row) and pieces.row[after] == pieces.row[after - 1]:
        after += 1
    return after


def ground_of(surface: Surface, tile: int) -> Ground:
    """Return a surface as the kernels take it, divided into tiles of tile x tile cells."""
    field = surface.field()
    ny, nx = surface.shape
    pages_y, pages_x = field.levels.shape[1:3]
    side = tile // PAGE
    grid = (pages_y, pages_x, ny, nx, surface.thickness, -(-pages_x // side), side)
    frame = (surface.low[0], surface.low[1], surface.cell, surface.top)
    return Ground(
        field.cells.reshape(-1), field.taken.reshape(-1), field.levels.reshape(-1), field.shares,
        tuple(float(v) for v in frame), tuple(int(v) for v in grid),
    )  # fmt: skip
