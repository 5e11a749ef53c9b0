"""Findings a person accepts: comments in the program and a list in the job file, with reasons.

A comment reads `dryrun: allow CODE (reason)`; it stands on the line or the line before. Codes that
can hurt are lowered only by the job file: a comment inside a program somebody else wrote must not
be able to switch them off.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from dryrun.checks.catalogue import ONLY_IN_JOB_FILE, catalogue, nearest_code
from dryrun.checks.context import StageContext
from dryrun.finding import Finding
from dryrun.job.model import Allow

_COMMENT = re.compile(r"dryrun:\s*allow\s+([\w-]+)\s*[\[(:]?\s*([^)\]]*)", re.IGNORECASE)


@dataclass(slots=True)
class Suppression:
    """One accepted finding; `used` turns true when it meets one."""

    code: str
    reason: str
    where: str
    stage: int | None = None
    lines: tuple[int, int] | None = None
    from_program: bool = False
    used: bool = False

    def covers(self, finding: Finding) -> bool:
        """Tell whether this suppression speaks of a finding."""
        if finding.code != self.code or self.stage not in (None, finding.stage):
            return False
        if self.lines is None:
            return True
        return finding.line is not None and self.lines[0] <= finding.line <= self.lines[1]


def from_job(allow: Sequence[Allow]) -> list[Suppression]:
    """Return the suppressions of the job file."""
    return [Suppression(a.code, a.reason, "the job file", a.stage, a.lines) for a in allow]


def from_program(context: StageContext) -> list[Suppression]:
    """Return the suppressions written in the program's comments."""
    found = []
    if "dryrun:" not in context.program.text.lower():
        return []
    for number, text in enumerate(context.texts.lines(), start=1):
        match = _COMMENT.search(text)
        if match:
            code, reason = match.group(1).lower(), match.group(2).strip()
            name = f"{context.program.name}:{number}"
            lines = (number, number + 1)
            found.append(Suppression(code, reason, name, context.number, lines, True))
    return found


def apply(
    findings: Sequence[Finding], suppressions: Sequence[Suppression]
) -> tuple[list[Finding], list[tuple[Finding, Suppression]]]:
    """Split findings into those that stand and those a person accepted (with the reason)."""
    standing: list[Finding] = []
    accepted: list[tuple[Finding, Suppression]] = []
    for finding in findings:
        hit = next((s for s in suppressions if _may(s, finding) and s.covers(finding)), None)
        if hit is None:
            standing.append(finding)
        else:
            hit.used = True
            accepted.append((finding, hit))
    return standing, accepted


def _may(suppression: Suppression, finding: Finding) -> bool:
    return bool(suppression.reason) and not (
        suppression.from_program and finding.code in ONLY_IN_JOB_FILE
    )


def complaints(suppressions: Sequence[Suppression], example: Finding) -> list[Finding]:
    """Report suppressions that are unused, unknown, without reason or not permitted."""
    made = []
    for s in suppressions:
        text = _complaint(s)
        if text:
            line = s.lines[0] if s.lines and s.from_program else None
            made.append(replace(example, message=text, line=line, stage=s.stage))
    return made


def _complaint(s: Suppression) -> str | None:
    if s.code not in catalogue():
        near = nearest_code(s.code)
        hint = f"; did you mean {near}?" if near else ""
        return f"{s.where} allows {s.code}, which is not a code{hint}"
    if not s.reason:
        return f"{s.where} allows {s.code} without a reason, so it is not applied"
    if s.from_program and s.code in ONLY_IN_JOB_FILE:
        return f"{s.where} allows {s.code}, which only the job file may do"
    if not s.used:
        return f"{s.where} allows {s.code}, but nothing of the kind was found there"
    return None
