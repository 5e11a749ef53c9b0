"""A batch in figures: what became of its inputs, and the table for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from dryrun.finding import LEVELS, Level
from dryrun.report.words import CAUTIONS, SIGNS, plural, visible
from dryrun.units import format_time

if TYPE_CHECKING:
    from rich.console import RenderableType

Record = Mapping[str, Any]

#: Inputs that are written out on a terminal unless all are asked for.
MOST_LINES: Final = 40

#: So few inputs are all written out.
FEW: Final = 12

#: What became of an input, most urgent first: sign, and in words.
FATES: Final[dict[str, tuple[str, str]]] = {
    "fault": ("‼", "a fault of dryrun, or its process ended"),
    "unread": ("✕", "not checked: cannot be used, or beyond a limit"),
    "error": (SIGNS["error"], "with errors"),
    "warning": (SIGNS["warning"], "with warnings"),
    "note": (SIGNS["note"], "with notes only"),
    "none": ("○", "with nothing found"),
}

_CODES_SHOWN: Final = 4


@dataclass(frozen=True, slots=True)
class CodeCount:
    """How often a code was found at a level, and in how many inputs."""

    level: Level
    code: str
    findings: int
    inputs: int


def fate(record: Record) -> str:
    """Return what became of an input: a key of `FATES`."""
    if record["exit"] == 3:
        return "fault"
    if record["exit"] == 2:
        return "unread"
    return str(record["worst"])


def fates(records: Iterable[Record]) -> dict[str, int]:
    """Return how many inputs met each fate, most urgent first."""
    count = dict.fromkeys(FATES, 0)
    for record in records:
        count[fate(record)] += 1
    return count


def by_urgency(records: Iterable[Record]) -> list[Record]:
    """Return the records with the most urgent first, then as they were."""
    order = list(FATES)

    def key(record: Record) -> tuple[int, ...]:
        levels = record.get("levels") or {}
        return (order.index(fate(record)), *(-levels.get(level, 0) for level in LEVELS))

    return sorted(records, key=key)


def code_counts(records: Iterable[Record]) -> list[CodeCount]:
    """Return all codes that were found: by level, then those in the most inputs."""
    findings: dict[tuple[Level, str], list[int]] = {}
    for record in records:
        for level in LEVELS:
            for code, number in (record.get("findings") or {}).get(level, {}).items():
                findings.setdefault((level, code), []).append(number)
    found = [CodeCount(*key, sum(each), len(each)) for key, each in findings.items()]
    return sorted(found, key=lambda c: (LEVELS.index(c.level), -c.inputs, -c.findings, c.code))


def what_of(record: Record) -> str:
    """Say what was found in an input, or why it was not checked, in a few words."""
    if record.get("error"):
        words = " ".join(str(record["error"]).split())
        return words.removeprefix(f"{record['path']}: ")
    parts = []
    for level in LEVELS:
        parts += [
            f"{code} × {number}" if number > 1 else code
            for code, number in record["findings"][level].items()
        ]
    more = len(parts) - _CODES_SHOWN
    return ", ".join(parts[:_CODES_SHOWN]) + (f" and {more} more" if more > 0 else "")


def head_line(records: Sequence[Record]) -> str:
    """Say in one line what became of all inputs."""
    count = fates(records)
    parts = [f"{number} {FATES[name][1]}" for name, number in count.items() if number]
    return f"{plural(len(records), 'input')}: " + "; ".join(parts)


def batch_blocks(
    records: Sequence[Record], everything: bool = False, kept: str | None = None
) -> Iterator[RenderableType]:
    """Yield the blocks of the summary; `kept` is where all of it was written."""
    from rich.text import Text

    yield Text(head_line(records), style="bold")
    counts = code_counts(records)
    if counts:
        yield Text("")
        yield _codes_table(counts)
    shown = by_urgency(records)
    if not everything and len(shown) > FEW:
        shown = [r for r in shown if fate(r) not in ("note", "none")][:MOST_LINES]
    if shown:
        yield Text("")
        yield _inputs_table(shown)
    left = len(records) - len(shown)
    if left and not everything:
        where = f"all are in {visible(kept)}" if kept else "--all shows every input"
        yield Text(f"… and {left} more, less urgent; {where}", style="dim")
    yield Text("")
    yield Text(CAUTIONS[0])


def _codes_table(counts: Sequence[CodeCount]) -> RenderableType:
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, padding=(0, 3, 0, 0), header_style="dim")
    for title in ("code", "level", "inputs", "findings"):
        table.add_column(title, justify="right" if title in ("inputs", "findings") else "left")
    for c in counts:
        level = f"{SIGNS[c.level]} {c.level}"
        table.add_row(Text(visible(c.code)), level, str(c.inputs), str(c.findings))
    return table


def _inputs_table(records: Sequence[Record]) -> RenderableType:
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    table.add_column("input", overflow="fold", ratio=2)
    table.add_column("time", justify="right", no_wrap=True)
    table.add_column("what", overflow="fold", ratio=3)
    for r in records:
        seconds = r.get("machine_seconds")
        table.add_row(
            Text(f"{FATES[fate(r)][0]} {visible(r['path'])}"),
            "" if seconds is None else format_time(seconds),
            Text(visible(what_of(r))),
        )
    return table
