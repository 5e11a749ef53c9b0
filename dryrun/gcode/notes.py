"""Findings of the reader: where a fault is, and not the same one a thousand times."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

from dryrun.finding import Finding, Level

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

    records: dict[tuple[str, ...], _Record] = field(default_factory=dict)
    shown: dict[tuple[str, str], int] = field(default_factory=dict)

    def add(self, finding: Finding, *, once: bool = False) -> None:
        """Add one; with `once`, all places with this message are one finding with a count."""
        shape = _DIGITS.sub("0", finding.message)
        key: tuple[str, ...] = (finding.code, finding.level, shape)
        if not once:
            key = (*key, str(finding.file), str(finding.line), str(finding.column))
        record = self.records.get(key)
        if record is not None:
            record.count += 1
            return
        kind = (finding.code, finding.level)
        number = self.shown.get(kind, 0) + 1
        if number > SHOWN + 1:
            rest = self.records[(*kind, "rest")]
            rest.count += 1
            return
        self.shown[kind] = number
        if number == SHOWN + 1:
            key = (*kind, "rest")
        self.records[key] = _Record(finding)

    def findings(self) -> list[Finding]:
        """Return them all, in the order they were made."""
        return [replace(r.finding, count=r.count) for r in self.records.values()]

    def has_error(self) -> bool:
        """Whether any is an error."""
        return any(r.finding.level == "error" for r in self.records.values())


def level_of(text: str) -> Level:
    """Return the text as a level."""
    if text == "error" or text == "warning" or text == "note":
        return text  # type: ignore[return-value,unused-ignore]
    raise ValueError(text)
