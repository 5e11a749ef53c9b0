"""The record that lets a check be done again: versions, settings, and hashes of what was read.

It holds nothing that differs between two runs of the same thing: no date, no folder, no count of
threads. The result's own hash is that of the JSON of `dryrun check` without the record.
"""

from __future__ import annotations

import hashlib
import os
import platform
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING, Any

import dryrun
from dryrun.report.json_text import dumps

if TYPE_CHECKING:
    from dryrun.outcome import Outcome, StageOutcome


def result_hash(result: Mapping[str, Any]) -> str:
    """Return the SHA-256 of a result as it is written, without its record."""
    plain = {key: value for key, value in result.items() if key != "replay"}
    return hashlib.sha256(dumps(plain).encode()).hexdigest()


@cache
def versions() -> dict[str, str]:
    """Return the versions that a result may depend on."""
    found = {"dryrun": dryrun.__version__, "python": platform.python_version()}
    for package in ("numpy", "numba"):
        try:
            found[package] = version(package)
        except PackageNotFoundError:
            found[package] = "unknown"
    return found


def replay_record(
    outcome: Outcome, result: Mapping[str, Any], settings: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """Return the record of a check.

    Parameters
    ----------
    outcome : Outcome
        What was found.
    result : mapping
        The JSON object of the outcome.
    settings : mapping, optional
        What was asked for beyond the files and changes the result; None when called from Python,
        where only the size of the cells can be told.
    """
    if settings is None:
        asked = outcome.surface is not None and outcome.cell_why == "as asked"
        settings = {"cell": f"{outcome.surface.cell!r} mm"} if asked and outcome.surface else {}
    return _record("check", [outcome], result, settings)


def with_record(
    result: Mapping[str, Any],
    command: str,
    outcomes: Sequence[Outcome],
    settings: Mapping[str, Any],
) -> dict[str, Any]:
    """Return the result of another command with the record of what it was made from."""
    return {**result, "replay": _record(command, outcomes, result, settings)}


def _record(
    command: str,
    outcomes: Sequence[Outcome],
    result: Mapping[str, Any],
    settings: Mapping[str, Any],
) -> dict[str, Any]:
    return {
        "command": command,
        "versions": dict(versions()),
        "compiled": os.environ.get("NUMBA_DISABLE_JIT", "0") in ("", "0"),
        "settings": {k: v for k, v in sorted(settings.items()) if v is not None},
        "inputs": [each for outcome in outcomes for each in inputs_of(outcome)],
        "result": result_hash(result),
    }


def inputs_of(outcome: Outcome) -> list[dict[str, Any]]:
    """Return role, name and SHA-256 of every file that was read, in the order of the job."""
    found: list[dict[str, Any]] = [
        {"role": s.role, "name": s.name, "sha256": s.sha256} for s in outcome.job.sources
    ]
    for stage in outcome.stages:
        found += _of_stage(stage, outcome.job.path)
    return found


def _of_stage(stage: StageOutcome, job: Path | None) -> list[dict[str, Any]]:
    path, program = stage.stage.program, stage.program
    name = stage.stage.name if path is None else _name(path, job)
    digest = hashlib.sha256(program.data).hexdigest()
    found: list[dict[str, Any]] = [{"role": "program", "name": name, "sha256": digest}]
    for other in filter(None, program.source_names[1:]):
        data = None if path is None else _bytes(path.parent / other)
        digest_of = None if data is None else hashlib.sha256(data).hexdigest()
        found.append({"role": "subprogram", "name": other, "sha256": digest_of})
    return found


def _name(path: Path, job: Path | None) -> str:
    if job is not None and path.is_relative_to(job.parent):
        return path.relative_to(job.parent).as_posix()
    return path.name


def _bytes(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except OSError:
        return None
