"""Run every check on a stage, and say which could not run."""

from __future__ import annotations

import traceback
import warnings
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from dryrun.checks import suppression
from dryrun.checks.catalogue import catalogue
from dryrun.checks.context import StageContext
from dryrun.checks.registry import CHECKS, READER_CODES, Check
from dryrun.finding import Finding

#: Told of a check that broke off; no choice of codes leaves it out.
BROKEN_OFF = "broken-off"


@dataclass(frozen=True, slots=True)
class NotRun:
    """A check that could not run, and the key whose declaration would enable it."""

    code: str
    needs: str
    stages: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Accepted:
    """A finding that the person accepts, and why."""

    finding: Finding
    reason: str
    where: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """All findings of a job, sorted; what was accepted; what was not run."""

    findings: tuple[Finding, ...]
    accepted: tuple[Accepted, ...]
    not_run: tuple[NotRun, ...]


def run_checks(contexts: Sequence[StageContext], only: Collection[str] | None = None) -> Verdict:
    """Run the catalogue on every stage of a job, in order; `only` the checks of some codes."""
    found: list[Finding] = []
    skipped: dict[tuple[str, str], list[int]] = {}
    suppressions = _suppressions(contexts)
    for context in _marked(contexts, suppressions):
        found += [replace(f, stage=context.number) for f in context.program.findings]
        for check in CHECKS:
            if only is not None and not any(code in only for code in check.codes):
                continue
            missing = check.missing(context)
            if not missing:
                found.extend(_run(check, context))
                missing = check.wanting(context)
            for code in check.codes if missing else ():
                # What the reader says under the same code was said in any case.
                if code not in READER_CODES:
                    skipped.setdefault((code, ", ".join(missing)), []).append(context.number)
    broken = [f for f in found if f.code == BROKEN_OFF]  # which nobody can allow
    others = [f for f in found if f.code != BROKEN_OFF]
    standing, accepted = suppression.apply(others, suppressions)
    standing += broken
    if suppressions:
        entry = catalogue()["idle-allowance"]
        blank = Finding("idle-allowance", entry.level, "", help=entry.do)
        standing += suppression.complaints(suppressions, blank)
    everywhere = tuple(range(1, len(contexts) + 1))
    return Verdict(
        findings=tuple(sorted(standing, key=Finding.order)),
        accepted=tuple(Accepted(f, s.reason, s.where) for f, s in accepted),
        not_run=tuple(
            NotRun(code, needs, () if tuple(stages) == everywhere else tuple(stages))
            for (code, needs), stages in skipped.items()
        ),
    )


def _run(check: Check, context: StageContext) -> Iterator[Finding]:
    """Yield what a check finds; a fault of ours in it must not take the other checks with it."""
    try:
        yield from check.function(context)
    except Exception as fault:
        last = traceback.extract_tb(fault.__traceback__)[-1]
        what = f"{type(fault).__name__} at {Path(last.filename).name}:{last.lineno}"
        codes = ", ".join(check.codes)
        warnings.warn(f"a check for {codes} broke off: {what}: {fault}", stacklevel=2)
        entry = catalogue()[BROKEN_OFF]
        yield Finding(
            BROKEN_OFF,
            entry.level,
            f"the check for {codes} broke off by a fault of dryrun ({what}): nothing of that kind "
            "counts as checked in this stage",
            help=entry.do,
            stage=context.number,
        )


def _marked(
    contexts: Sequence[StageContext], suppressions: Sequence[suppression.Suppression]
) -> Iterator[StageContext]:
    """Yield the contexts, told which rows are allowed by line."""
    for context in contexts:
        allowed = suppression.allowed_rows(context, suppressions)
        yield context if allowed is None else replace(context, allowed=allowed)


def _suppressions(contexts: Sequence[StageContext]) -> list[suppression.Suppression]:
    made = suppression.from_job(contexts[0].job.allow) if contexts else []
    for context in contexts:
        made += suppression.from_program(context)
    return made
