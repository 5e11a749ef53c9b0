"""The time report: where the seconds of each stage go, and what would shorten them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from dryrun.report.words import plural, visible
from dryrun.units import format_feed, format_length, format_time

if TYPE_CHECKING:
    from dryrun.outcome import Outcome, StageOutcome

#: So many causes and lines are named; the rest is counted.
MOST_CAUSES = 6
MOST_LINES = 8


def time_blocks(outcome: Outcome) -> Iterator[RenderableType]:
    """Yield the blocks of the time report, stage by stage."""
    yield Text(visible(outcome.job.title), style="bold")
    for stage in outcome.stages:
        yield _stage(stage, outcome)
    if len(outcome.stages) > 1:
        naive = sum(s.time.naive_seconds for s in outcome.stages)
        yield Text(
            f"together {format_time(outcome.seconds)}; distance over feed says {format_time(naive)}"
        )
    if outcome.job.machine is None:
        yield Text(
            "no machine is declared: rates and accelerations are defaults of a benchtop router "
            "(--machine FILE); measured times make them yours (--measured)",
            style="dim",
        )


def _stage(stage: StageOutcome, outcome: Outcome) -> RenderableType:
    time = stage.time
    title = Text()
    title.append(f"\n{stage.number}  {visible(stage.stage.name)}  ", style="bold")
    title.append(f"{format_time(time.seconds)}")
    title.append(f"   (distance over feed: {format_time(time.naive_seconds)})", style="dim")
    blocks: list[RenderableType] = [title, _where(stage), _feeds(stage, outcome)]
    blocks += _savings(stage)
    blocks += _slow_lines(stage)
    if time.unknown_rows:
        blocks.append(
            Text(
                f"   {plural(time.unknown_rows, 'move')} to or from a place that is not known "
                "(before the first position is given, home) counted as 0 s",
                style="yellow",
            )
        )
    return Group(*blocks)


def _where(stage: StageOutcome) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 1), show_header=False)
    table.add_column(justify="left")
    table.add_column(justify="right")
    table.add_column()
    total = max(stage.time.seconds, 1e-9)
    for name, seconds in stage.time.where().items():
        if seconds > 0.05:
            bar = "━" * max(1, round(30 * seconds / total))
            table.add_row(name, format_time(seconds), Text(bar, style="blue"))
    return table


def _feeds(stage: StageOutcome, outcome: Outcome) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 1), header_style="dim")
    for title in ("feed", "moves", "path", "time", "distance over feed"):
        table.add_column(title, justify="right")
    for group in stage.time.by_feed():
        name = format_feed(group.feed, outcome.job.units) if group.feed == group.feed else "rapid"
        table.add_row(
            name,
            str(group.rows),
            format_length(group.path_mm, outcome.job.units),
            format_time(group.seconds),
            format_time(group.naive_seconds),
        )
    return table


def _savings(stage: StageOutcome) -> list[RenderableType]:
    savings = [s for s in stage.time.what_would_shorten() if s.seconds > 0.05][:MOST_CAUSES]
    if not savings:
        return []
    lines: list[RenderableType] = [Text("   what would shorten it", style="dim")]
    lines += [Text(f"   {format_time(s.seconds):>12}  {s.cause}: {s.advice}") for s in savings]
    return lines


def _slow_lines(stage: StageOutcome) -> list[RenderableType]:
    lines = stage.time.lines_never_reaching_feed()
    if not len(lines):
        return []
    shown = ", ".join(str(int(line)) for line, source in lines[:MOST_LINES] if source == 0)
    more = f" and {len(lines) - MOST_LINES} more" if len(lines) > MOST_LINES else ""
    return [Text(f"   the feed is never reached in {plural(len(lines), 'line')}: {shown}{more}")]


def time_json(outcome: Outcome) -> dict[str, Any]:
    """Return the time report as plain data; seconds and mm."""
    import dryrun

    return {
        "schema": 1,
        "dryrun": dryrun.__version__,
        "job": outcome.job.title,
        "seconds": round(outcome.seconds, 6),
        "stages": [
            {
                "name": s.stage.name,
                "seconds": round(s.time.seconds, 6),
                "naive_seconds": round(s.time.naive_seconds, 6),
                "where": {k: round(v, 6) for k, v in s.time.where().items()},
                "feeds": [
                    {
                        "feed": None if g.feed != g.feed else round(g.feed, 6),
                        "rows": g.rows,
                        "path_mm": round(g.path_mm, 6),
                        "seconds": round(g.seconds, 6),
                        "naive_seconds": round(g.naive_seconds, 6),
                    }
                    for g in s.time.by_feed()
                ],
                "shorten": [
                    {"cause": c.cause, "seconds": round(c.seconds, 6), "advice": c.advice}
                    for c in s.time.what_would_shorten()
                ],
                "lines_below_feed": [
                    [int(line), int(source)] for line, source in s.time.lines_never_reaching_feed()
                ],
                "unknown_rows": s.time.unknown_rows,
            }
            for s in outcome.stages
        ],
    }
