"""The program text in the report, with findings in their place."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from dryrun.finding import Finding
from dryrun.gcode.text import split_lines
from dryrun.outcome import Outcome
from dryrun.report.html_markup import Html, join, tag
from dryrun.report.words import SIGNS, plural, visible

#: Programs with more lines than this together are shown in excerpts.
MOST_LINES: Final = 8_000
#: Lines before and after a finding in an excerpt, and on paper.
AROUND: Final = 20
ON_PAPER: Final = 2
#: Lines at the start and the end of an excerpted program.
START: Final = 60
#: Longer lines are cut.
LONGEST: Final = 500


def line_id(source: int, line: int) -> str:
    """Return the mark of a program line in the page."""
    return f"p{source}l{line}"


@dataclass(frozen=True, slots=True)
class Text:
    """One text of one stage: the program itself, or a subprogram it calls from another file."""

    stage: int
    name: str
    lines: tuple[str, ...]


def texts_of(outcome: Outcome) -> tuple[Text, ...]:
    """Return the texts of all stages, counted through as the page counts them."""
    found = []
    for stage in outcome.stages:
        program = stage.program
        for text, name in zip(program.sources, program.source_names, strict=True):
            known = name or program.name or stage.stage.name
            found.append(Text(stage.number, known, tuple(split_lines(text))))
    return tuple(found)


def text_of(texts: tuple[Text, ...], finding: Finding) -> int | None:
    """Return the number of the text a finding stands in."""
    for number, text in enumerate(texts):
        if text.name == finding.file and finding.stage in (None, text.stage):
            return number
    return None


def program_section(outcome: Outcome, texts: tuple[Text, ...], heading: Html) -> Html:
    """Return every program, with findings below their lines."""
    whole = sum(len(text.lines) for text in texts) <= MOST_LINES
    body = []
    for number, text in enumerate(texts):
        found = [
            (n, f) for n, f in enumerate(outcome.findings, start=1)
            if f.line and text_of(texts, f) == number
        ]  # fmt: skip
        words = f"stage {text.stage}: {text.name}, {plural(len(text.lines), 'line')}"
        box = tag(
            "div", join(_lines(text.lines, number, found, whole)), class_="program", tabindex="0",
            role="group", aria_label=words,
        )  # fmt: skip
        body.append(tag("details", tag("summary", words), box, open=True))
    return tag("section", heading, *body, class_="full", id="program", aria_label="Program")


def _lines(
    lines: tuple[str, ...], source: int, found: list[tuple[int, Finding]], whole: bool
) -> Iterator[Html]:
    at: dict[int, list[tuple[int, Finding]]] = {}
    for number, finding in found:
        at.setdefault(finding.line or 0, []).append((number, finding))
    near = {n for line in at for n in range(line - ON_PAPER, line + ON_PAPER + 1)}
    shown = range(1, len(lines) + 1) if whole else sorted(_excerpt(len(lines), at))
    last, last_near = 0, 0
    for n in shown:
        if n > last + 1:
            yield tag("span", f"lines {last + 1} to {n - 1} are left out here", class_="gap")
        last = n
        if n in near:
            if n > last_near + 1:
                yield tag("span", "…", class_="gap print")
            last_near = n
        yield _line(lines[n - 1], source, n, at.get(n, []), n in near)
    if last < len(lines):
        yield tag("span", f"lines {last + 1} to {len(lines)} are left out here", class_="gap")


def _excerpt(lines: int, at: dict[int, list[tuple[int, Finding]]]) -> set[int]:
    keep = set(range(1, START + 1)) | set(range(lines - START + 1, lines + 1))
    for line in at:
        keep |= set(range(line - AROUND, line + AROUND + 1))
    return {n for n in keep if 1 <= n <= lines}


def _line(
    text: str, source: int, number: int, found: list[tuple[int, Finding]], near: bool
) -> Html:
    cut = text[:LONGEST] + ("…" if len(text) > LONGEST else "")
    level = f" hit {found[0][1].level}" if found else ""
    row = tag(
        "span", tag("i", number), visible(cut) or " ", id=line_id(source, number),
        class_="l" + level + (" near" if near else ""),
    )  # fmt: skip
    if not found:
        return row
    return join([row, *(_say(n, finding) for n, finding in found)])


def _say(number: int, finding: Finding) -> Html:
    return tag(
        "span",
        tag("a", number, href=f"#finding-{number}", class_=f"flag {finding.level}",
            aria_label=f"finding {number}"), " ",
        tag("span", f"{SIGNS[finding.level]} {finding.level} ", class_="sign"),
        tag("code", finding.code), f": {finding.message}", class_=f"say {finding.level}",
    )  # fmt: skip
