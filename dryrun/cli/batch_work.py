"""Checking one input of a batch: what a worker process runs."""

from __future__ import annotations

import hashlib
import os
from collections import Counter
from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Any, Final

from dryrun.cli.asked import Asked
from dryrun.cli.batch_inputs import Hashes
from dryrun.cli.exits import Exit, Unusable
from dryrun.cli.jobs import Declared
from dryrun.finding import LEVELS

if TYPE_CHECKING:
    from dryrun.outcome import Outcome

TASK: Final = "dryrun.cli.batch_work:check"

#: Longest text of an error that is kept.
_MOST_WORDS: Final = 2000


def request(path: str, asked: Asked) -> dict[str, Any]:
    """Return the argument of `check` for an input; a worker may stand in another folder."""
    said = asdict(asked_for(path, asked))
    if said["declared"]["machine"] is not None:
        said["declared"]["machine"] = os.path.abspath(said["declared"]["machine"])
    return {"path": path, "file": os.path.abspath(path), "asked": said}


def asked_for(path: str, asked: Asked) -> Asked:
    """Return what is asked for about one input: a job file declares all but the machine itself."""
    if not is_job(path):
        return asked
    return replace(asked, declared=Declared(machine=asked.declared.machine))


def is_job(path: str) -> bool:
    """Tell a job file from a program."""
    return path.lower().endswith(".toml")


def check(given: Mapping[str, Any]) -> dict[str, Any]:
    """Check one input and return its record, but for what only the batch knows."""
    file, said = given["file"], dict(given["asked"])
    asked = Asked(Declared(**said.pop("declared")), **said)
    hashes = Hashes()
    record: dict[str, Any] = {"input": hashes.of_input(file)}
    try:
        outcome = asked.check([file], threads=1)
        _refuse_changed(outcome, file, hashes)
    except Unusable as error:
        words = _as_named(error.message, file, given["path"])[:_MOST_WORDS]
        return {**record, "exit": int(Exit.UNUSABLE), "error": words}
    return {**record, **_summary(outcome), "error": None}


def _as_named(words: str, file: str, path: str) -> str:
    """Return a message with the paths as the person wrote them."""
    words = words.replace(file, path)
    folder, named = os.path.dirname(file), os.path.dirname(path)
    return words.replace(folder + os.sep, named + os.sep if named else "")


def _refuse_changed(outcome: Outcome, file: str, hashes: Hashes) -> None:
    """Raise Unusable when what was checked is not what was hashed before."""
    for stage in outcome.stages:
        program = stage.stage.program
        assert program is not None
        if hashes.of_file(str(program)) != hashlib.sha256(stage.program.data).hexdigest():
            raise Unusable(f"{file}: it changed while it was read; try again once it is written")


def _summary(outcome: Outcome) -> dict[str, Any]:
    from dryrun.report.machine_readable import number
    from dryrun.report.text import one_line

    found = {
        level: dict(sorted(Counter(f.code for f in outcome.findings if f.level == level).items()))
        for level in LEVELS
    }
    return {
        "exit": int(Exit.OK),
        "worst": outcome.worst,
        "levels": {level: sum(codes.values()) for level, codes in found.items()},
        "findings": found,
        "first": one_line(outcome.findings[0]) if outcome.findings else None,
        "not_run": len(outcome.not_run),
        "stages": len(outcome.stages),
        "machine_seconds": number(outcome.seconds, 3),
    }
