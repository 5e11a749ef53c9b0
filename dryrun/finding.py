"""Finding: one thing a person should know, and where it is.

Every room may make findings (the reader about words, the checks about cuts), so the record lives
beside `motion` and `units`. What a code means, its level and what to do about it is data in
`checks.catalogue`; a finding carries only what was measured.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

Level = Literal["error", "warning", "note"]

#: Most urgent first. The names are SARIF's (OASIS SARIF 2.1.0, 3.27.10).
LEVELS: Final[tuple[Level, ...]] = ("error", "warning", "note")


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding.

    Attributes
    ----------
    code : str
        Plain words joined by hyphens; a key of the catalogue.
    level : "error", "warning" or "note"
    message : str
        Lower case, no full stop; what was found and the limit, with units. One thing only.
    file : str or None
        Name of the text it stands in, as the person named it.
    line, column : int or None
        1-based; columns count Unicode code points, a tab is one.
    end_column : int or None
        Exclusive end of the marked word.
    excerpt : str or None
        The source line as written.
    help : str or None
        What to do, when there is one clear action.
    stage : int or None
        1-based stage of the job.
    at : (x, y, z) or None
        Place in the job frame, mm; NaN where one coordinate means nothing.
    value, limit : float or None
        What was measured and what is allowed, in `unit` (mm, s, mm/min, rpm, deg ...).
    unit : str or None
    count : int
        How many places in the program this finding stands for (the first or the worst is shown).
    """

    code: str
    level: Level
    message: str
    file: str | None = None
    line: int | None = None
    column: int | None = None
    end_column: int | None = None
    excerpt: str | None = None
    help: str | None = None
    stage: int | None = None
    at: tuple[float, float, float] | None = None
    value: float | None = None
    limit: float | None = None
    unit: str | None = None
    count: int = 1

    def order(self) -> tuple[int, int, str, int, int, str]:
        """Sort key: level, stage, then place in the program."""
        return (
            LEVELS.index(self.level),
            self.stage or 0,
            self.file or "",
            self.line or 0,
            self.column or 0,
            self.code,
        )
