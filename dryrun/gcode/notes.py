"""Findings of the reader: where a fault is, and not the same one a thousand times."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from dryrun.finding import LEVELS, Finding, Level
from dryrun.gcode.text import Fault

#: How many findings of one code and level are shown one by one.
SHOWN = 25

_DIGITS = re.compile(r"[0-9.]+")


@dataclass(slots=True)
class _Record:
    finding: Finding
    count: int = 1


@dataclass(slots=True)
class Notes:
    """Collects findings in the order they are made.

    One place is reported once, however often a loop runs over it. Beyond `SHOWN` of one code and
    level, the rest is one finding with a count.
    """

    records: dict[tuple[object, ...], _Record] = field(default_factory=dict)
    shown: dict[tuple[str, str], int] = field(default_factory=dict)
    #: How many errors were told, every pass over the same place counted.
    errors: int = 0

    def add(self, fault: Fault, place: tuple[int, ...], make: Callable[[], Finding]) -> None:
        """Add one at a place (source, line, start); () for one that stands for all places.

        `make` is asked for the finding only when it will be shown.
        """
        self.errors += fault.level == "error"
        key = (fault.code, fault.level, _DIGITS.sub("0", fault.message), *place)
        record = self.records.get(key)
        if record is not None:
            record.count += 1
            return
        kind = (fault.code, fault.level)
        number = self.shown.get(kind, 0) + 1
        if number > SHOWN + 1:
            self.records[kind].count += 1
            return
        self.shown[kind] = number
        self.records[kind if number == SHOWN + 1 else key] = _Record(make())

    def findings(self) -> list[Finding]:
        """Return them all, in the order they were made."""
        return [replace(r.finding, count=r.count) for r in self.records.values()]

    def has_error(self) -> bool:
        """Whether any is an error."""
        return any(r.finding.level == "error" for r in self.records.values())


def level_of(text: str) -> Level:
    """Return the text as a level."""
    level: Level
    for level in LEVELS:
        if level == text:
            return level
    raise ValueError(text)
