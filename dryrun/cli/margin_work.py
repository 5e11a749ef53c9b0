"""Samples of `dryrun margin` in other processes: each reads the job once, then tries errors."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

from dryrun.cli.elsewhere import results_of
from dryrun.cli.jobs import Declared, load_job, run_job

if TYPE_CHECKING:
    from dryrun.margin import Codes, Spread, Trial

TASK: Final = "dryrun.cli.margin_work:try_errors"


def spread_over(
    files: Sequence[str],
    declared: Declared,
    trial: Trial,
    jobs: int | None,
    scheduler: str | None,
) -> Spread:
    """Return a function that tries sets of errors in other processes, with the same answers."""
    from dryrun.report.replay import inputs_of

    surface = trial.outcome.surface
    assert surface is not None
    machine = declared.machine and os.path.abspath(declared.machine)
    job = {
        "files": [os.path.abspath(file) for file in files],
        "declared": asdict(replace(declared, machine=machine)),
        "inputs": inputs_of(trial.outcome),
        "cell": f"{surface.cell!r} mm",
    }

    def spread(errors: Sequence[Mapping[str, float]]) -> Iterator[Codes]:
        given = ({"job": job, "errors": dict(each)} for each in errors)
        changed = "the job's files changed meanwhile, or differ on the cluster"
        undone = "a sample could not be drawn"
        for codes in results_of(TASK, given, jobs, scheduler, lambda _: undone, changed):
            yield frozenset((code, stage) for code, stage in codes)

    return spread


def try_errors(given: Mapping[str, Any]) -> list[tuple[str, int | None]] | None:
    """Return the new findings under set-up errors; None when the job is not the one meant."""
    from dryrun.margin import new_codes

    job = given["job"]
    trial, inputs = _trial(tuple(job["files"]), Declared(**job["declared"]), job["cell"])
    if inputs != job["inputs"]:
        return None
    return sorted(new_codes(trial, given["errors"]), key=lambda c: (c[0], c[1] or 0))


@lru_cache(maxsize=1)
def _trial(
    files: tuple[str, ...], declared: Declared, cell: str
) -> tuple[Trial, list[dict[str, Any]]]:
    from dryrun.margin import Trial
    from dryrun.report.replay import inputs_of

    job = load_job(files, declared)
    outcome = run_job(job, cell=cell, threads=1, quiet=True, keep_stages=False)
    return Trial(outcome, 1), inputs_of(outcome)
