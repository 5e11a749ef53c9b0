"""The pieces of `dryrun.work` on a Dask cluster: each thread of a worker keeps a child for them."""

from __future__ import annotations

import asyncio
import contextlib
import importlib
import logging
import queue
import threading
import time
from collections.abc import Generator, Iterable
from typing import Any, Final

from dryrun.work import Answer, Child, ClusterError, Limits

#: Pieces under way on a cluster, for each thread there: enough that none waits for the next.
_AHEAD: Final = 3

#: How long a scheduler may take to answer, s.
CONNECT_SECONDS: Final = 6.0

#: How long a cluster may be without any worker before the run is given up, s.
WITHOUT_WORKERS: Final = 60.0

_own = threading.local()


def do_here(task: str, index: int, given: Any, limits: tuple[float | None, int | None]) -> Any:
    """Do one piece in this thread's child (what a Dask worker runs); returns a plain answer."""
    child: Child | None = getattr(_own, "child", None)
    if child is None or (child.task, child.limits) != (task, Limits(*limits)):
        if child is not None:
            child.end(for_good=True)
        child = _own.child = Child(task, Limits(*limits))
    answer = child.do(index, given)
    return answer.result, answer.problem, answer.words, answer.seconds


def version_here() -> str:
    """Return the version of dryrun on this machine."""
    import dryrun

    return dryrun.__version__


def on_cluster(
    task: str, inputs: Iterable[Any], scheduler: str, limits: Limits
) -> Generator[Answer, None, None]:
    """Yield answers as they come from the workers of a Dask scheduler."""
    client = _client(scheduler)
    try:
        threads = _check_workers(client, scheduler)
        yield from _submitted(client, task, inputs, limits, _AHEAD * threads)
    finally:
        with contextlib.suppress(Exception):
            client.close(timeout=5)


def _client(scheduler: str) -> Any:
    try:
        library: Any = importlib.import_module("distributed")
    except ImportError as error:
        raise ClusterError("a cluster takes Dask: pip install 'dryrun[cluster]'") from error
    # What it says about workers that come and go is not for our user.
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    try:
        asyncio.run(_knock(scheduler))
        return library.Client(scheduler, timeout=CONNECT_SECONDS, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        raise ClusterError(f"no scheduler answers at {scheduler}") from error


async def _knock(scheduler: str) -> None:
    """Connect once: a client that gets no answer leaves a mess behind, so it is only made then."""
    library: Any = importlib.import_module("distributed")
    how = library.Security().get_connection_args("client")
    comm = await library.core.connect(scheduler, timeout=CONNECT_SECONDS, **how)
    await comm.close()


def _check_workers(client: Any, scheduler: str) -> int:
    """Return how many threads the workers have, which all must have the same dryrun."""
    try:
        client.wait_for_workers(1, timeout=20)
    except TimeoutError as error:
        raise ClusterError(f"the scheduler at {scheduler} has no worker") from error
    try:
        versions = set(client.run(version_here).values())
    except Exception as error:
        raise ClusterError(
            f"the workers cannot run dryrun: {type(error).__name__}: {error}"
        ) from error
    if versions != {version_here()}:
        found = ", ".join(sorted(versions))
        raise ClusterError(f"the workers have dryrun {found}, here it is {version_here()}")
    return max(1, int(sum(client.nthreads().values())))


def _submitted(
    client: Any, task: str, inputs: Iterable[Any], limits: Limits, window: int
) -> Generator[Answer, None, None]:
    from uuid import uuid4

    run, todo, waiting = uuid4().hex, enumerate(inputs), {}
    plain = (limits.seconds, limits.memory)
    done: queue.SimpleQueue[Any] = queue.SimpleQueue()

    def submit() -> None:
        piece = next(todo, None)
        if piece is not None:
            future = client.submit(do_here, task, *piece, plain, key=f"dryrun-{run}-{piece[0]}")
            waiting[future.key] = piece[0]
            future.add_done_callback(done.put)

    for _ in range(window):
        submit()
    guard = _Guard(client)
    while waiting:
        ready = [_next(done, guard)]
        while not done.empty():
            ready.append(done.get())
        for _ in ready:
            submit()
        answers = _gathered(client, ready)
        for future, answer in zip(ready, answers, strict=True):
            yield _answer_of(answer, waiting.pop(future.key))


def _said(error: BaseException) -> str:
    return f"{type(error).__name__}: {error}"[:500]


class _Guard:
    """Notices that a cluster has been without workers for too long."""

    def __init__(self, client: Any) -> None:
        self.client = client
        self.seen = time.monotonic()

    def look(self) -> None:
        """Look once; raise ClusterError when it is hopeless."""
        now = time.monotonic()
        if self.client.status != "running":
            raise ClusterError("the scheduler is gone")
        if self.client.nthreads():
            self.seen = now
        elif now - self.seen > WITHOUT_WORKERS:
            raise ClusterError(f"there has been no worker for {WITHOUT_WORKERS:g} s")


def _next(done: queue.SimpleQueue[Any], guard: _Guard) -> Any:
    """Return the next future that is done; looks after the cluster meanwhile."""
    while True:
        try:
            return done.get(timeout=2.0)
        except queue.Empty:
            guard.look()


def _gathered(client: Any, futures: list[Any]) -> list[Any]:
    """Fetch results, or what was raised instead; a worker that is gone has them done again."""
    if any(future.cancelled() for future in futures):
        raise ClusterError("the scheduler gave the work up")
    good = [future for future in futures if future.status != "error"]
    try:
        results = iter(client.gather(good))
    except Exception as error:
        raise ClusterError(f"results cannot be fetched: {_said(error)}") from error
    return [f.exception() if f.status == "error" else next(results) for f in futures]


def _answer_of(got: Any, index: int) -> Answer:
    if isinstance(got, BaseException):
        # A worker that ended again and again while this piece was on it, most likely.
        return Answer(index, None, "crash", _said(got))
    result, problem, words, seconds = got
    return Answer(index, result, problem, words, seconds)
