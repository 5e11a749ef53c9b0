"""The parts of the report page that need no script: plate, findings, stages, time, limits."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import dryrun
from dryrun.finding import LEVELS, Finding
from dryrun.job.bits import describe_bit
from dryrun.job.model import Job
from dryrun.outcome import Outcome, StageOutcome
from dryrun.report.html_markup import Html, join, table, tag
from dryrun.report.html_program import Text, line_id, text_of
from dryrun.report.text import clean_words, grouped_not_run, position
from dryrun.report.words import CAUTIONS, NOT_IN_MODEL, SIGNS, counts, plural
from dryrun.units import format_length, format_time, format_volume

#: More findings than this are counted, not written out.
MOST_FINDINGS: Final = 300

#: Parts of the time, and how each is filled in the bars: never by colour alone.
FILLS: Final = {
    "cutting at feed": "full",
    "cutting slowed": "dense",
    "accelerating": "cross",
    "rapids": "lines",
    "waiting for the controller": "dots",
    "probing": "dots",
    "dwell": "empty",
    "spindle start": "empty",
    "tool changes": "empty",
    "pauses": "empty",
}


def heading(letter: str, words: str) -> Html:
    """Return a section's heading with its letter in a ring."""
    ring = tag("span", letter, class_="ring", aria_hidden="true")
    return tag("h2", ring, words)


def verdict(outcome: Outcome) -> tuple[str, str, str]:
    """Return level, what to do in a few words, and the counts; never that it is safe."""
    errors = sum(f.level == "error" for f in outcome.findings)
    total = counts(outcome.findings)
    if errors:
        return "error", f"Do not start: {plural(errors, 'error')} to clear up first", total
    words = clean_words(outcome)
    level = "warning" if outcome.worst == "warning" else ""
    return level, words[0].upper() + words[1:], total


def title(outcome: Outcome) -> str:
    """Return the page's title: job, then verdict."""
    return f"{outcome.job.title}: {verdict(outcome)[1]}"


def plate(outcome: Outcome) -> Html:
    """Return the title block: job, verdict, blank, zero, stages, time."""
    job, units = outcome.job, outcome.job.units
    level, words, total = verdict(outcome)
    sign = f"{SIGNS[level]} " if level in ("error", "warning") else ""  # type: ignore[index]
    cells = [
        tag("div", tag("b", "dry run of"), tag("h1", job.title), class_="title"),
        tag(
            "div", tag("b", "verdict"), tag("strong", sign + words), tag("div", total),
            class_=f"verdict {level}",
        ),
    ]  # fmt: skip
    facts = [("blank", _blank(job)), ("zero", job.stock.zero if job.stock else "not declared")]
    facts.append(("predicted time", format_time(outcome.seconds)))
    facts.append(("stages", str(len(outcome.stages))))
    if outcome.surface is not None and job.stock is not None:
        deepest = job.stock.top - outcome.surface.lowest
        facts.append(("deepest", format_length(deepest, units)))
        facts.append(("cells of the map", format_length(outcome.surface.cell, units)))
    cells += [tag("div", tag("b", name), value, class_="cell") for name, value in facts]
    return join(cells)


def _blank(job: Job) -> str:
    if job.stock is None:
        return "not declared"
    x, y, z = job.stock.size
    size = f"{format_length(x, job.units)} × {format_length(y, job.units)} × "
    size += format_length(z, job.units)
    return size + (f", {job.stock.material}" if job.stock.material else "")


# ---------------------------------------------------------------- findings


def findings_section(outcome: Outcome, texts: tuple[Text, ...]) -> Html:
    """Return all findings, each with links to its place and its program line."""
    shown = outcome.findings[:MOST_FINDINGS]
    items = [_finding(n, f, outcome, texts) for n, f in enumerate(shown, start=1)]
    body: list[Html] = [tag("p", counts(outcome.findings), class_="small")]
    if items:
        body.append(tag("ol", *items, class_="findings"))
    else:
        body.append(tag("p", "Nothing was found in what was checked."))
    hidden = len(outcome.findings) - len(shown)
    if hidden:
        body.append(tag("p", f"… and {plural(hidden, 'more finding')}, in dryrun check --all"))
    return tag(
        "section", heading("B", "Findings"), tag("div", *body, class_="scroller", tabindex="0"),
        id="findings", aria_label="Findings",
    )  # fmt: skip


def _finding(number: int, finding: Finding, outcome: Outcome, texts: tuple[Text, ...]) -> Html:
    units = outcome.job.units
    where = [f"stage {finding.stage}"] if finding.stage else []
    where.append(position(finding))
    if finding.count > 1:
        where.append(f"{plural(finding.count, 'move')} in all")
    head = tag(
        "h3",
        tag("span", number, class_=f"flag {finding.level}"), " ",
        tag("span", f"{SIGNS[finding.level]} {finding.level}", class_="sign"), " ",
        tag("code", finding.code),
    )  # fmt: skip
    parts = [head, tag("p", ", ".join(where), class_="small"), tag("p", finding.message)]
    if finding.excerpt is not None and finding.line is not None:
        parts.append(excerpt(finding))
    if finding.help:
        parts.append(tag("p", tag("b", "To do: "), finding.help))
    links = list(_links(number, finding, outcome, texts))
    place = _place(finding, units)
    if place:
        links.append(tag("span", place, class_="small"))
    parts.append(tag("p", *links, class_="links"))
    return tag("li", *parts, id=f"finding-{number}", class_=finding.level)


def _links(
    number: int, finding: Finding, outcome: Outcome, texts: tuple[Text, ...]
) -> Iterator[Html]:
    placed = finding.at is not None and all(v == v for v in finding.at[:2])
    if placed and outcome.surface is not None:
        yield tag(
            "a", "show its place", href="#view-top", data_finding=str(number), class_="screen"
        )
    source = text_of(texts, finding)
    if source is not None and finding.line:
        yield tag("a", f"program line {finding.line}", href=f"#{line_id(source, finding.line)}")


def _place(finding: Finding, units: str) -> str:
    if finding.at is None:
        return ""
    return ", ".join(
        f"{axis} {format_length(v, units)}"  # type: ignore[arg-type]
        for axis, v in zip("XYZ", finding.at, strict=True)
        if v == v
    )


def excerpt(finding: Finding) -> Html:
    """Return the source line with the word in question marked."""
    text = finding.excerpt or ""
    start = max(0, (finding.column or 1) - 1)
    stop = max(start + 1, (finding.end_column or start + 2) - 1)
    if len(text) > 400:
        text, stop = text[:400] + "…", min(stop, 400)
    return tag(
        "pre", text[:start], tag("mark", text[start:stop]), text[stop:], class_="excerpt"
    )  # fmt: skip


# ---------------------------------------------------------------- stages and time


def stages_section(outcome: Outcome) -> Html:
    """Return the stages as a table, then where the time goes."""
    body = [heading("E", "Stages and time"), _stage_table(outcome)]
    notes = [tag("p", tag("b", f"stage {s.number}: "), s.note) for s in outcome.stages if s.note]
    body += [*notes, _time_bars(outcome), _time_table(outcome), _shorten(outcome)]
    return tag("section", *body, class_="full", id="stages", aria_label="Stages and time")


def _stage_table(outcome: Outcome) -> Html:
    units, stock = outcome.job.units, outcome.job.stock
    rows = []
    for s in outcome.stages:
        lowest = "—" if s.lowest is None else format_length(s.lowest, units)
        floor = "—"
        if stock is not None and s.lowest is not None and s.facts is not None:
            left = s.lowest - stock.bed
            floor = format_length(left, units) if left > 0 else "none"
        rows.append([
            f"{s.number} {s.stage.name}",
            describe_bit(s.stage.bit, units) if s.stage.bit else "not declared",
            s.program.name or "", _meant(s, units), lowest, floor,
            "—" if s.facts is None else format_volume(s.removed_mm3, units),
            format_time(s.seconds), format_time(s.time.naive_seconds),
        ])  # fmt: skip
    heads = ("stage", "bit", "program", "depth meant", "lowest Z", "floor left", "removed",
             "time", "by feed alone")  # fmt: skip
    return table(heads, rows, "What each stage does", words=(1, 2))


def _meant(stage: StageOutcome, units: str) -> str:
    depth = stage.stage.depth
    if depth is None:
        return "not declared"
    return "through" if stage.stage.through else format_length(depth, units)  # type: ignore[arg-type]


def _parts(outcome: Outcome) -> list[str]:
    """Return the parts of the time that any stage has, in order."""
    where = [s.time.where() for s in outcome.stages]
    return [name for name in FILLS if any(w.get(name, 0.0) > 0.005 for w in where)]


def _time_table(outcome: Outcome) -> Html:
    parts = _parts(outcome)
    where = [s.time.where() for s in outcome.stages]
    rows = [[name, *(format_time(w.get(name, 0.0)) for w in where)] for name in parts]
    rows.append(["together", *(format_time(s.seconds) for s in outcome.stages)])
    heads = ["where the time goes", *(f"{s.number} {s.stage.name}" for s in outcome.stages)]
    unknown = sum(s.time.unknown_rows for s in outcome.stages)
    said = "Predicted from the declared machine; see the table of stages for the plain estimate"
    if unknown:
        said += f". {plural(unknown, 'row')} with an unknown place or speed count as no time"
    return table(heads, rows, said)


def _time_bars(outcome: Outcome) -> Html:
    """Return a bar a stage, to one scale; parts differ by how they are filled."""
    longest = max((s.seconds for s in outcome.stages), default=0.0)
    if longest <= 0:
        return Html()
    bars: list[Html] = [tag("svg", _patterns(), width="0", height="0", class_="fills")]
    for stage in outcome.stages:
        where, x = stage.time.where(), 0.0
        shapes = []
        for name in _parts(outcome):
            wide = 99.8 * where.get(name, 0.0) / longest
            shapes.append(tag(
                "rect", x=f"{x + 0.1:.3f}%", y="1", width=f"{wide:.3f}%", height="18",
                class_="bar", fill=f"url(#fill-{FILLS[name]})",
            ))  # fmt: skip
            x += wide
        words = f"{stage.number} {stage.stage.name}, {format_time(stage.seconds)}"
        bars.append(tag("p", words, class_="over"))
        bars.append(tag("svg", *shapes, class_="bars", aria_hidden="true"))
    keys = [_key(name) for name in _parts(outcome)]
    return tag("div", *bars, tag("p", *keys))


def _key(name: str) -> Html:
    box = tag(
        "rect", x="1", y="1", width="26", height="14", class_="bar",
        fill=f"url(#fill-{FILLS[name]})",
    )  # fmt: skip
    return tag("span", tag("svg", box, viewBox="0 0 28 16", aria_hidden="true"), name, class_="key")


def _patterns() -> Html:
    """Return the fills of the bars: solid, hatched, crossed, ruled, dotted and empty."""
    drawn = {
        "full": '<rect width="8" height="8" fill="currentColor"/>',
        "dense": '<path d="M0 2H8M0 6H8" stroke="currentColor" stroke-width="2.4"/>',
        "cross": '<path d="M0 0L8 8M8 0L0 8" stroke="currentColor" stroke-width="1.1"/>',
        "lines": '<path d="M-2 2L2 -2M0 8L8 0M6 10L10 6" stroke="currentColor"/>',
        "dots": '<circle cx="4" cy="4" r="1.3" fill="currentColor"/>',
        "empty": "",
    }
    made = (
        f'<pattern id="fill-{name}" width="8" height="8" patternUnits="userSpaceOnUse">'
        f"{shape}</pattern>"
        for name, shape in drawn.items()
    )
    return Html(f"<defs>{''.join(made)}</defs>")


def _shorten(outcome: Outcome) -> Html:
    """Return what would make each stage shorter, the largest first."""
    items = []
    for stage in outcome.stages:
        for saving in stage.time.what_would_shorten()[:3]:
            if saving.seconds >= max(1.0, 0.01 * stage.seconds):
                items.append(tag(
                    "li", f"stage {stage.number}: {format_time(saving.seconds)} ({saving.cause}); "
                    f"{saving.advice} would lower it",
                ))  # fmt: skip
    if not items:
        return Html()
    return tag("div", tag("h3", "What costs time beyond distance over feed"),
               tag("ul", *items, class_="plain"))  # fmt: skip


# ---------------------------------------------------------------- what was not checked


def limits_section(outcome: Outcome) -> Html:
    """Return what was not checked, what is not in the model, what was assumed, and the cautions."""
    body = [heading("G", "What was not checked")]
    if outcome.not_run:
        lines = grouped_not_run(outcome.not_run)
        body.append(tag("p", "For lack of a declaration in the job file:"))
        body.append(tag("ul", *(tag("li", line) for line in lines), class_="plain"))
    body.append(tag("p", f"Not in the model: {NOT_IN_MODEL}."))
    if outcome.surface is not None and outcome.between_cells > 0:
        between = format_length(outcome.between_cells, outcome.job.units)
        body.append(tag(
            "p", f"Between cells a bit can be up to {between} deeper than the map shows; the "
            "checks of depth use the exact path.",
        ))  # fmt: skip
    taken = [
        tag("li", f"stage {s.number}: {words}") for s in outcome.stages
        for words in s.program.assumptions
    ]  # fmt: skip
    if taken:
        body.append(tag("p", "Taken as, where a program does not say:"))
        body.append(tag("ul", *taken, class_="plain"))
    if outcome.accepted:
        body.append(tag("p", "Findings that were accepted:"))
        body.append(tag("ul", *(_accepted(a) for a in outcome.accepted), class_="plain"))
    body.append(cautions())
    return tag("section", *body, class_="full", id="limits", aria_label="What was not checked")


def _accepted(accepted: object) -> Html:
    from dryrun.checks.run import Accepted

    assert isinstance(accepted, Accepted)
    finding = accepted.finding
    return tag(
        "li", tag("code", finding.code), f" at {position(finding)}: {finding.message}; accepted "
        f"by {accepted.where} ({accepted.reason})",
    )  # fmt: skip


def cautions() -> Html:
    """Return the usual cautions in a box."""
    lines = [tag("p", line) for line in CAUTIONS]
    return tag("div", tag("h3", "Before you start"), *lines, class_="cautions", role="note")


def footer(outcome: Outcome) -> Html:
    """Return what made the page."""
    why = f"; cells {outcome.cell_why}" if outcome.cell_why else ""
    levels = ", ".join(f"{SIGNS[level]} {level}" for level in LEVELS)
    words = f"dryrun {dryrun.__version__}{why}. Signs: {levels}. This file needs no network."
    return tag("p", words, class_="small")
