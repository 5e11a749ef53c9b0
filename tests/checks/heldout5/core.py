"""Jobs as plain tables with the text of their programs, and small edits of them."""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.checks.heldout5.tape import Line, Style, Tape, write

Table = dict[str, Any]


@dataclass
class Shop:
    """A job: what is declared (`table`) and the programs' lines, stage by stage."""

    key: str
    table: Table
    programs: list[list[Line]] = field(default_factory=list)

    def stage(
        self,
        tape: Tape,
        style: Style,
        notes: list[str],
        rpm: int,
        *,
        high: float = 20.0,
        offset: str = "G54",
        dwell: float = 5.0,
        zero: tuple[float, float, float] | None = None,
        **declared: Any,
    ) -> None:
        """Add a stage; `declared` holds its keys (name, bit, depth ...)."""
        shift = zero or self.zero()
        lines = write(tape, style, notes, rpm, shift, high, dwell, offset)
        self.add(lines, **declared)

    def add(self, lines: list[Line], **declared: Any) -> None:
        number = len(self.programs) + 1
        self.programs.append(lines)
        table = {"program": f"p{number}.nc", **declared}
        self.table.setdefault("stages", []).append(table)

    def zero(self) -> tuple[float, float, float]:
        """The work zero in the tape's frame, mm."""
        x, y, z = (millimetres(v) for v in self.table["stock"]["size"])
        words = self.table["stock"]["zero"].split("-")
        across = {"left": 0.0, "centre": x / 2, "right": x}
        away = {"front": 0.0, "centre": y / 2, "back": y}
        if words[0] == "centre" and len(words) == 2:
            words = ["centre", "centre", words[1]]
        return (across[words[1]], away[words[0]], 0.0 if words[2] == "top" else -z)

    def write(self, folder: Path) -> Path:
        """Write the job into a folder; return the job file's path."""
        for stage, lines in zip(self.table["stages"], self.programs, strict=True):
            text = "\n".join(line.text for line in lines) + "\n"
            (folder / stage["program"]).write_text(text, encoding="utf-8")
        path = folder / "job.toml"
        path.write_text(toml(self.table), encoding="utf-8")
        return path


def millimetres(text: str) -> float:
    number, unit = text.split()
    return float(number) * (25.4 if unit == "in" else 1.0)


def toml(table: Table) -> str:
    """A table as TOML: one key a line, all below it inline."""
    return "".join(f"{key} = {inline(value)}\n" for key, value in table.items())


def inline(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f'"{k}" = {inline(v)}' for k, v in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(inline(v) for v in value) + "]"
    return json.dumps(value)


Edit = Callable[[Shop], None]


@dataclass(frozen=True)
class Mistake:
    """One small edit of a clean job.

    `stage` is the 1-based stage whose program is at fault (None: the job or its set-up), `codes`
    those that would rightly tell it, `lines` marks of lines in the edited program that are all
    equally right (see `places`); none: any line, or no line, will do.
    """

    job: str
    name: str
    stage: int | None
    edit: Edit
    codes: tuple[str, ...]
    lines: tuple[str, ...] = ()

    def made(self, clean: Shop) -> Shop:
        shop = copy.deepcopy(clean)
        self.edit(shop)
        return shop

    def places(self, shop: Shop) -> frozenset[tuple[int, int]]:
        """(stage, line) of all right places; "2:mark", "mark+1" and "mark..mark" are read."""
        found = set()
        for spec in self.lines:
            before, _, rest = spec.rpartition(":")
            stage = int(before) if before else self.stage
            assert stage is not None
            first, _, last = rest.partition("..")
            low = number(shop.programs[stage - 1], first)
            high = number(shop.programs[stage - 1], last) if last else low
            found |= {(stage, k) for k in range(low, high + 1)}
        return frozenset(found)


def number(program: Sequence[Line], mark: str) -> int:
    """1-based line of a mark, or so many lines after it."""
    name, _, more = mark.partition("+")
    found = [k for k, line in enumerate(program) if name in line.marks]
    assert len(found) == 1, (name, found, sorted({m for x in program for m in x.marks})[:400])
    return found[0] + 1 + int(more or 0)


def line(shop: Shop, stage: int, mark: str) -> Line:
    return shop.programs[stage - 1][number(shop.programs[stage - 1], mark) - 1]


def text(stage: int, mark: str, old: str, new: str) -> Edit:
    """Replace a piece of a line's text."""

    def edit(shop: Shop) -> None:
        at = line(shop, stage, mark)
        assert at.text.count(old) == 1, at.text
        at.text = at.text.replace(old, new)

    return edit


def word(stage: int, mark: str, letter: str, change: Callable[[float], float] | float) -> Edit:
    """Change the number of a word, or take the word away (NaN)."""

    def edit(shop: Shop) -> None:
        at = line(shop, stage, mark)
        found = re.findall(rf"{letter}(-?[0-9.]+)", at.text)
        assert len(found) == 1, (at.text, letter)
        old = float(found[0])
        new = change(old) if callable(change) else float(change)
        if new != new:
            at.text = re.sub(rf"\s?{letter}-?[0-9.]+", "", at.text)
            return
        assert new != old, at.text
        shown = f"{new:.4f}".rstrip("0").rstrip(".")
        at.text = re.sub(rf"{letter}-?[0-9.]+", letter + shown, at.text)

    return edit


GONE = float("nan")


def drop(stage: int, *marks: str) -> Edit:
    """Leave lines out."""

    def edit(shop: Shop) -> None:
        for mark in marks:
            del shop.programs[stage - 1][number(shop.programs[stage - 1], mark) - 1]

    return edit


def span(stage: int, first: str, last: str) -> Edit:
    """Leave out all lines from one to another, both included."""

    def edit(shop: Shop) -> None:
        program = shop.programs[stage - 1]
        del program[number(program, first) - 1 : number(program, last)]

    return edit


def chop(stage: int, mark: str) -> Edit:
    """End the file before a line."""

    def edit(shop: Shop) -> None:
        program = shop.programs[stage - 1]
        del program[number(program, mark) - 1 :]

    return edit


def declare(path: str, value: Any) -> Edit:
    """Change (or with None take away) a declaration: keys and numbers joined by slashes."""

    def edit(shop: Shop) -> None:
        table: Any = shop.table
        *way, last = [int(k) if k.isdigit() else k for k in path.split("/")]
        for key in way:
            table = table[key]
        assert table[last] != value
        if value is None:
            del table[last]
        else:
            table[last] = value

    return edit


def swap(first: int, second: int) -> Edit:
    """Run two stages the other way round."""

    def edit(shop: Shop) -> None:
        a, b = first - 1, second - 1
        for rows in (shop.table["stages"], shop.programs):
            rows[a], rows[b] = rows[b], rows[a]

    return edit


def leave_out(stage: int) -> Edit:
    def edit(shop: Shop) -> None:
        del shop.table["stages"][stage - 1], shop.programs[stage - 1]

    return edit


def times(factor: float) -> Callable[[float], float]:
    return lambda value: value * factor


def plus(more: float) -> Callable[[float], float]:
    return lambda value: value + more


def every(stage: int, pattern: str, letter: str, change: Callable[[float], float] | float) -> Edit:
    """Change a word on all lines with a mark like `pattern`: a setting of the one who wrote it."""

    def edit(shop: Shop) -> None:
        marks = [m for x in shop.programs[stage - 1] for m in x.marks if re.fullmatch(pattern, m)]
        assert marks
        for mark in sorted(marks):
            word(stage, mark, letter, change)(shop)

    return edit


def insert(stage: int, mark: str, new: str, named: str = "new") -> Edit:
    """Put a line before another one."""

    def edit(shop: Shop) -> None:
        program = shop.programs[stage - 1]
        program.insert(number(program, mark) - 1, Line(new, {named}))

    return edit


def append(stage: int, mark: str, more: str) -> Edit:
    """Put something at the end of a line."""

    def edit(shop: Shop) -> None:
        line(shop, stage, mark).text += more

    return edit
