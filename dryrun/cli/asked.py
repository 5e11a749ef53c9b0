"""What a check is asked for, beyond its files: declaration, cells, memory, choice of codes.

One record, so that `check`, `batch` and `--replay` check the same way, and can say how.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dryrun.cli.exits import Unusable
from dryrun.cli.jobs import Declared, check_declared, load_job, run_job

if TYPE_CHECKING:
    from dryrun.outcome import Outcome

Codes = frozenset[str] | None


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked for on the command line and changes the result."""

    declared: Declared
    cell: str | None = None
    memory: str | None = None
    select: str | None = None
    ignore: str | None = None

    def settings(self) -> dict[str, Any]:
        """Return it as a record for the report; of a machine file only its name."""
        said = asdict(self.declared)
        if said["machine"] is not None:
            said["machine"] = Path(said["machine"]).name
        if said["stdin_filename"] == Declared().stdin_filename:
            del said["stdin_filename"]
        said |= {"cell": self.cell, "memory": self.memory}
        said |= {"select": _written(self.select), "ignore": _written(self.ignore)}
        return {name: value for name, value in said.items() if value is not None}

    @classmethod
    def of(cls, settings: Mapping[str, Any], machine: str | None = None) -> Asked:
        """Return what a record says; `machine` is where its machine file is."""
        values = dict(settings)
        own = {name: values.pop(name, None) for name in ("cell", "memory", "select", "ignore")}
        for name in ("select", "ignore"):
            if own[name] is not None:
                own[name] = ",".join(own[name])
        return cls(Declared(**{**values, "machine": machine}), **own)

    def chosen(self) -> tuple[Codes, Codes]:
        """Return the codes to select and to ignore; raise Unusable for one that is not there."""
        return _codes(self.select, "--select"), _codes(self.ignore, "--ignore")

    def refuse_wrong(self) -> None:
        """Raise Unusable for whatever is wrong with it, before any file is looked at."""
        self.chosen()
        check_declared(self.declared, self.cell, self.memory)

    def check(
        self, files: Sequence[str], threads: int | None = None, quiet: bool = True
    ) -> Outcome:
        """Check a job file or programs; raise Unusable."""
        select, ignore = self.chosen()
        job = load_job(files, self.declared)
        outcome = run_job(
            job,
            cell=self.cell,
            threads=threads,
            memory=self.memory,
            quiet=quiet,
            keep_stages=False,
        )
        return _chosen(outcome, select, ignore)


def _parts(text: str) -> frozenset[str]:
    return frozenset(part.strip().lower() for part in text.split(",") if part.strip())


def _written(text: str | None) -> list[str] | None:
    return None if text is None else sorted(_parts(text))


def _codes(text: str | None, option: str) -> Codes:
    if text is None:
        return None
    from dryrun.checks.catalogue import catalogue, nearest_code

    codes = _parts(text)
    for code in sorted(codes):
        if code not in catalogue():
            near = nearest_code(code)
            hint = f"; did you mean {near}?" if near else ""
            raise Unusable(f"{option}: there is no code {code!r}{hint}")
    return codes


def _chosen(outcome: Outcome, select: Codes, ignore: Codes) -> Outcome:
    if select is None and ignore is None:
        return outcome
    from dryrun.checks.run import BROKEN_OFF

    def wanted(code: str) -> bool:
        chosen = (select is None or code in select) and code not in (ignore or ())
        return chosen or code == BROKEN_OFF

    keep = [f for f in outcome.findings if wanted(f.code)]
    out = tuple(f for f in outcome.findings if not wanted(f.code))
    return replace(outcome, findings=keep, left_out=out)
