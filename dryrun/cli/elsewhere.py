"""Work of a command in other processes: who does it, and what is said when it cannot be done."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

from dryrun.cli.exits import Unusable


def is_elsewhere(jobs: int | None, scheduler: str | None, files: Sequence[str] = ()) -> bool:
    """Say whether other processes are to do it; raise Unusable where that is not clear.

    `files` are those that the other processes have to read again.
    """
    if jobs is None and scheduler is None:
        return False
    if jobs is not None and scheduler is not None:
        raise Unusable("--jobs: with --scheduler the cluster says how many work")
    if "-" in files:
        raise Unusable("--jobs, --scheduler: other processes cannot read standard input again")
    return True


def results_of(
    task: str,
    given: Iterable[Any],
    jobs: int | None,
    scheduler: str | None,
    undone: Callable[[int], str],
    changed: str,
) -> Iterator[Any]:
    """Yield the result of each piece of work, in order; raise Unusable when one has none.

    `undone` says of which piece that is; `changed` why a process returned None for one.
    """
    from dryrun.work import ClusterError, run_all

    try:
        for answer in run_all(task, given, jobs, scheduler):
            if answer.problem:
                raise Unusable(f"{undone(answer.index)}: {answer.words}")
            if answer.result is None:
                raise Unusable(changed)
            yield answer.result
    except ClusterError as error:
        raise Unusable(f"--scheduler: {error}") from error
