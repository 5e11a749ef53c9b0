"""The report on a terminal: findings, stages, what was not checked, and the verdict last."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from dryrun.checks.run import NotRun
from dryrun.finding import Finding
from dryrun.job.bits import describe_bit
from dryrun.job.model import Job
from dryrun.outcome import Outcome, StageOutcome
from dryrun.report.words import (
    CAUTIONS,
    NOT_IN_MODEL,
    SIGNS,
    counts,
    plural,
    visible,
    window,
)
from dryrun.units import format_feed, format_length, format_time, format_volume

STYLES: Final = {"error": "bold red", "warning": "bold yellow", "note": "blue"}

#: More findings of one code in one stage than this are counted, not printed.
MOST_OF_A_CODE: Final = 3


def report_blocks(
    outcome: Outcome, *, quiet: bool = False, everything: bool = False
) -> Iterator[RenderableType]:
    """Yield the blocks of the whole report; `quiet` leaves only findings and verdict."""
    if not quiet:
        yield _heading(outcome.job, outcome)
    yield from _finding_blocks(outcome, everything)
    if not quiet:
        yield _stage_table(outcome)
        for stage in outcome.stages:
            yield from _stage_details(stage, outcome)
        yield from _assumptions(outcome)
        yield _not_checked(outcome)
    yield _verdict(outcome)


# ---------------------------------------------------------------- heading


def _heading(job: Job, outcome: Outcome) -> RenderableType:
    lines = [Text(visible(job.title), style="bold")]
    if job.stock:
        size = " × ".join(format_length(v, job.units) for v in job.stock.size)
        material = f" of {visible(job.stock.material)}" if job.stock.material else ""
        lines.append(Text(f"blank {size}{material}, zero {visible(job.stock.zero)}"))
    else:
        lines.append(Text("no blank declared: cuts, rapids and clamps are not checked"))
    if outcome.surface is not None:
        cell = format_length(outcome.surface.cell, job.units)
        lines.append(Text(f"field of {cell} cells ({outcome.cell_why})", style="dim"))
        micro = f"{outcome.chord * 1000:g} µm"
        lines.append(Text(f"arcs that are cut as chords are off by {micro} at most", style="dim"))
    return Group(*lines, Text())


# ---------------------------------------------------------------- findings


def _finding_blocks(outcome: Outcome, everything: bool) -> Iterator[RenderableType]:
    shown: dict[tuple[str, int | None], int] = {}
    hidden: dict[tuple[str, int | None], int] = {}
    for number, finding in enumerate(outcome.findings, start=1):
        key = (finding.code, finding.stage)
        shown[key] = shown.get(key, 0) + 1
        if not everything and shown[key] > MOST_OF_A_CODE:
            hidden[key] = hidden.get(key, 0) + 1
            continue
        yield finding_block(finding, outcome.job, number)
    for (code, stage), number in hidden.items():
        where = f" in stage {stage}" if stage else ""
        yield Text(f"… and {plural(number, 'more place')} with {code}{where} (--all shows them)\n")


def finding_block(finding: Finding, job: Job, number: int) -> RenderableType:
    """Return one finding as a block of lines."""
    style = STYLES[finding.level]
    head = Text()
    head.append(f"{SIGNS[finding.level]} {finding.level} ", style=style)
    head.append(finding.code, style="bold")
    head.append(f"  [{number}]  " + _where(finding), style="dim")
    body = [Text(visible(finding.message))]
    body += _source(finding)
    place = _place(finding, job)
    if place:
        body.append(Text(place))
    if finding.help:
        body.append(Text(f"to do: {finding.help}", style="dim"))
    return Group(head, Padding(Group(*body), (0, 0, 1, 4)))


def _where(finding: Finding) -> str:
    parts = []
    if finding.stage:
        parts.append(f"stage {finding.stage}")
    if finding.file:
        parts.append(visible(position(finding)))
    return ", ".join(parts)


def position(finding: Finding) -> str:
    """Write file:line:column as editors understand it."""
    parts = [finding.file or "job"]
    if finding.line:
        parts.append(str(finding.line))
        if finding.column:
            parts.append(str(finding.column))
    return ":".join(parts)


def _source(finding: Finding) -> list[Text]:
    if finding.excerpt is None or finding.line is None:
        return []
    column = finding.column or 1
    end = max(column + 1, finding.end_column or column + 1)
    before = visible(finding.excerpt[: column - 1])
    marked = visible(finding.excerpt[column - 1 : end - 1])
    text = before + marked + visible(finding.excerpt[end - 1 :])
    start, stop = len(before) + 1, len(before) + 1 + max(1, len(marked))
    text, start, stop = window(text, start, stop)
    margin = f"{finding.line:>6} "
    # Tabs of the line are kept before the mark, so that it stands right at any tab width.
    lead = "".join("\t" if c == "\t" else " " for c in text[: start - 1])
    line = Text(margin, style="dim") + Text("│ ", style="dim") + Text(text)
    under = Text(" " * len(margin) + "│ ", style="dim") + Text(lead)
    under.append("▔" * (stop - start), style=STYLES[finding.level])
    return [line, under]


def _place(finding: Finding, job: Job) -> str:
    parts = []
    if finding.at is not None:
        known = [
            f"{axis} {format_length(v, job.units)}"
            for axis, v in zip("XYZ", finding.at, strict=True)
            if v == v
        ]
        if known:
            parts.append("at " + "  ".join(known))
    if finding.count > 1:
        parts.append(f"{plural(finding.count, 'move')} in all")
    return "; ".join(parts)


# ---------------------------------------------------------------- stages


def _stage_table(outcome: Outcome) -> RenderableType:
    units = outcome.job.units
    table = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 2, 0, 0))
    for title, justify in (
        ("stage", "left"),
        ("bit", "left"),
        ("time", "right"),
        ("by feed alone", "right"),
        ("lowest Z", "right"),
        ("removed", "right"),
    ):
        table.add_column(title, justify=justify)  # type: ignore[arg-type]
    for stage in outcome.stages:
        low = "—" if stage.lowest is None else format_length(stage.lowest, units)
        removed = "—" if stage.facts is None else format_volume(stage.removed_mm3, units)
        table.add_row(
            Text(f"{stage.number}  {visible(stage.stage.name)}"),
            Text(describe_bit(stage.stage.bit, units) if stage.stage.bit else "not declared"),
            format_time(stage.seconds),
            format_time(stage.time.naive_seconds),
            low,
            removed,
        )
    if len(outcome.stages) > 1:
        naive = sum(s.time.naive_seconds for s in outcome.stages)
        removed = format_volume(outcome.removed_mm3, units) if outcome.surface is not None else ""
        table.add_row(
            "   together", "", format_time(outcome.seconds), format_time(naive), "", removed
        )
    return table


def _stage_details(stage: StageOutcome, outcome: Outcome) -> list[RenderableType]:
    """Return what can be said from the program alone."""
    units = outcome.job.units
    lines: list[RenderableType] = []
    if stage.note:
        lines.append(Text(f"stage {stage.number}: {stage.note}", style="yellow"))
    if stage.bounds and outcome.surface is None:
        low, high = stage.bounds
        box = "   ".join(
            f"{axis} {format_length(a, units)} to {format_length(b, units)}"
            for axis, a, b in zip("XYZ", low, high, strict=True)
        )
        lines.append(Text(f"   feed moves: {box}"))
    if outcome.surface is None:
        feeds = sorted({float(f) for f in stage.motion.feed[stage.motion.cutting] if f == f})
        if feeds:
            lines.append(
                Text(f"   feeds {format_feed(feeds[0], units)} to {format_feed(feeds[-1], units)}")
            )
        words = ", ".join(f"{w} ({n})" for w, n in sorted(stage.program.words.items())[:24])
        lines.append(_item(f"words: {words}" if words else "no words"))
    return lines


def _assumptions(outcome: Outcome) -> Iterator[RenderableType]:
    """Yield what was assumed where the programs do not say, each once with its stages."""
    said: dict[str, list[int]] = {}
    for stage in outcome.stages:
        for assumption in stage.program.assumptions:
            said.setdefault(assumption, []).append(stage.number)
    if said:
        yield Text()
        yield Text("assumed, where the programs do not say", style="bold")
    for assumption, stages in said.items():
        where = "" if len(stages) == len(outcome.stages) else f" (stage {_list(stages)})"
        yield _item(f"{visible(assumption)}{where}")


def _list(numbers: Sequence[int]) -> str:
    return ", ".join(map(str, numbers))


def _item(text: str) -> RenderableType:
    return Padding(Text(text), (0, 0, 0, 3))


# ---------------------------------------------------------------- what was not checked


def _not_checked(outcome: Outcome) -> RenderableType:
    lines: list[RenderableType] = [Text()]
    if outcome.not_run:
        lines.append(Text("not checked, for lack of a declaration", style="bold"))
        lines += [_item(text) for text in grouped_not_run(outcome.not_run)]
    if outcome.surface is not None and outcome.between_cells > 0:
        between = format_length(outcome.between_cells, outcome.job.units)
        lines.append(
            Text(
                f"between cells a bit can be up to {between} deeper than the field shows; "
                "depth checks use the exact path",
                style="dim",
            )
        )
    lines.append(Text(f"not in the model: {NOT_IN_MODEL}", style="dim"))
    for accepted in outcome.accepted:
        finding = accepted.finding
        lines.append(
            Text(
                f"accepted by {visible(accepted.where)}: {finding.code} at "
                f"{visible(position(finding))} ({visible(accepted.reason)})",
                style="dim",
            )
        )
    return Group(*lines, Text())


def grouped_not_run(not_run: Sequence[NotRun]) -> list[str]:
    """Write one line a missing declaration, with the codes it would enable."""
    groups: dict[tuple[str, tuple[int, ...]], list[str]] = {}
    for item in not_run:
        groups.setdefault((item.needs, item.stages), []).append(item.code)
    lines = []
    for (needs, stages), codes in groups.items():
        where = f" (stage {_list(stages)})" if stages else ""
        lines.append(f"declare {needs}{where}: {', '.join(codes)}")
    return lines


# ---------------------------------------------------------------- verdict


def _verdict(outcome: Outcome) -> RenderableType:
    total = Text(f"{counts(outcome.findings)}   predicted time {format_time(outcome.seconds)}")
    errors = sum(f.level == "error" for f in outcome.findings)
    if errors:
        line = Text("do not start: ", style="bold red")
        line.append(f"{plural(errors, 'error')} to clear up first")
        line.append("   (dryrun explain CODE tells more)", style="dim")
        if outcome.left_out:
            line.append(f"\n{left_out_words(outcome)}", style="default")
        return Group(total, line)
    return Group(total, Text(clean_words(outcome)), Text(" ".join(CAUTIONS), style="dim"))


def clean_words(outcome: Outcome) -> str:
    """Write the verdict on a job without errors; it never says safe."""
    checked = "no errors in what was checked"
    if outcome.left_out:
        checked = f"{left_out_words(outcome)}; no other errors in what was checked"
    missing = len({item.code for item in outcome.not_run})
    if missing:
        checked += f"; {plural(missing, 'check')} could not run"
    return checked


def left_out_words(outcome: Outcome) -> str:
    """Say how many findings were not reported, because other codes were asked for."""
    codes = ", ".join(sorted({f.code for f in outcome.left_out}))
    return f"not reported, as asked: {counts(list(outcome.left_out))} ({codes})"


def one_line(finding: Finding) -> str:
    """Write a finding on one line, as editors read it."""
    clean = replace(finding, file=visible(finding.file or "job"))
    return f"{position(clean)}: {finding.level} {finding.code} {visible(finding.message)}"
