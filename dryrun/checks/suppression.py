"""Findings a person accepts: comments in the program and a list in the job file, with reasons.

A comment reads `dryrun: allow CODE (reason)`, or `dryrun: allow CODE: reason` where a comment is
itself in parentheses, which do not nest. It speaks of its own line, or, where the line has nothing
else, of the next one that has. Codes that can hurt are lowered only by the job file: a comment
inside a program somebody else wrote must not be able to switch them off.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.catalogue import ONLY_IN_JOB_FILE, catalogue, nearest_code
from dryrun.checks.context import StageContext, without_comments
from dryrun.finding import Finding
from dryrun.job.model import Allow

_COMMENT = re.compile(
    r"dryrun:\s*allow\s+([\w-]+)\s*[\[(:]?\s*((?:(?!dryrun:)[^)\]])*)", re.IGNORECASE
)

#: What a line may have besides its comments and still be nothing but a comment: its number.
_NO_WORDS = re.compile(r"[\s)]*(?:N\s*\d+)?[\s)]*", re.IGNORECASE)

#: Where an allowance of the job file is said to stand.
IN_JOB_FILE: Final = "the job file"

#: So many comments of one line are read.
_MOST_ON_LINE: Final = 8

#: So many lines of comments may stand between a comment and the line it speaks of.
_MOST_BETWEEN: Final = 20


@dataclass(slots=True)
class Suppression:
    """One accepted finding; `used` turns true when it meets one.

    `lines` are those it speaks of; a comment also says in which text (`source`, `file`), and at
    which `line`, it stands.
    """

    code: str
    reason: str
    where: str
    stage: int | None = None
    lines: tuple[int, int] | None = None
    from_program: bool = False
    file: str | None = None
    line: int | None = None
    source: int | None = None
    used: bool = False

    def covers(self, finding: Finding) -> bool:
        """Tell whether this suppression speaks of a finding."""
        if finding.code != self.code or self.stage not in (None, finding.stage):
            return False
        if self.lines is None:
            return True
        if self.file is not None and finding.file != self.file:
            return False
        return finding.line is not None and self.lines[0] <= finding.line <= self.lines[1]


def from_job(allow: Sequence[Allow]) -> list[Suppression]:
    """Return the suppressions of the job file."""
    return [Suppression(a.code, a.reason, IN_JOB_FILE, a.stage, a.lines) for a in allow]


def from_program(context: StageContext) -> list[Suppression]:
    """Return the suppressions written in comments of the program and its subprogram files."""
    found = []
    for source, own in enumerate(context.program.source_names):
        if "dryrun:" not in context.program.sources[source].lower():
            continue
        file = own or context.program.name
        texts = context.texts.lines(source)
        for number, text in enumerate(texts, start=1):
            for match in islice(_COMMENT.finditer(text), _MOST_ON_LINE):
                code, reason = match.group(1).lower(), match.group(2).strip()
                said = _line_of_words(texts, number)
                made = Suppression(code, reason, f"{file}:{number}", context.number, (said, said))
                found.append(
                    replace(made, from_program=True, file=file, line=number, source=source)
                )
    return found


def _line_of_words(texts: list[str], number: int) -> int:
    """Return the line a comment speaks of: its own, or the next one with words on it."""
    for line in range(number, min(number + _MOST_BETWEEN, len(texts)) + 1):
        if not _NO_WORDS.fullmatch(without_comments(texts[line - 1])):
            return line
    return number


def allowed_rows(
    context: StageContext, suppressions: Sequence[Suppression]
) -> NDArray[np.intp] | None:
    """Return for each row which suppression names its line, as `StageContext.allowed`."""
    by_line = [s for s in suppressions if s.lines and s.stage in (None, context.number)]
    if not by_line:
        return None
    line, source = context.motion.line, context.motion.source
    marks = np.zeros(len(line), np.intp)
    comments: dict[tuple[int, int], int] = {}
    for k, s in enumerate(by_line, start=1):
        assert s.lines is not None
        if s.source is None:
            marks[(line >= s.lines[0]) & (line <= s.lines[1])] = -k
        else:
            comments.setdefault((s.source, s.lines[0]), k)
    rows = np.flatnonzero(np.isin(line, [number for _, number in comments]))
    for row in rows:
        marks[row] = comments.get((int(source[row]), int(line[row])), marks[row])
    return marks


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
            made.append(replace(example, message=text, file=s.file, line=s.line, stage=s.stage))
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
