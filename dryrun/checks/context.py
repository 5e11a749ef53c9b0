"""What a check looks at: one stage, with everything the rooms before it found out."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.catalogue import catalogue
from dryrun.finding import Finding, Level
from dryrun.gcode.text import split_lines
from dryrun.job.model import Bit, Job, Machine, Stage, Stock
from dryrun.motion import Motion
from dryrun.units import format_angle, format_feed, format_length

if TYPE_CHECKING:
    from dryrun.checks.maps import HeightMap
    from dryrun.gcode.program import Program
    from dryrun.removal.facts import CutFacts
    from dryrun.removal.pieces import Piece
    from dryrun.removal.surface import Surface
    from dryrun.timing.table import TimeTable

#: Shallower contact than this is rounding, not a cut, mm.
TOUCH: Final = 0.005

#: Violating rows with fewer quiet rows between them than this are one place to a person.
_SAME_PLACE_ROWS: Final = 12

#: At most so many places of one code are shown for a stage; the last one carries the rest.
MOST_PLACES: Final = 20

_CODE_PART = re.compile(r"\([^)]*\)?|;.*")


class Texts:
    """The lines of a program and its subprogram files, split when first asked for."""

    def __init__(self, program: Program) -> None:
        self._sources = program.sources
        self._lines: dict[int, list[str]] = {}

    def lines(self, source: int = 0) -> list[str]:
        """Return all lines of one text."""
        if source not in self._lines:
            self._lines[source] = split_lines(self._sources[source])
        return self._lines[source]

    def line(self, number: int, source: int = 0) -> str:
        """Return a line by its 1-based number; "" beyond the end."""
        lines = self.lines(source)
        return lines[number - 1] if 0 < number <= len(lines) else ""


@dataclass(frozen=True, slots=True)
class StageContext:
    """One stage of a job, ready to be checked.

    Attributes
    ----------
    job, number, stage : the job, and which stage of it (1-based)
    program, motion : what was read; `motion` is in the job frame with the stage's shift applied
    times : per-row seconds and speeds
    texts : the lines of the program
    facts : what each row did to the blank; None when blank or bit are not declared
    reach : for a bit that cuts under material, which no map of heights shows: how low it comes,
        what it meets of the clamps, and as its axial depth what it would take of an uncut blank
    removed_mm3 : what the stage takes off the blank; 0 as above
    pieces : loose pieces the blank has fallen into once the stage is done
    first_row : what `cut_by` calls this stage's row 0
    swapped_mm3 : what the stage would take off if the next, larger bit went first; None not asked
    earlier : contexts of the stages before this one
    after : map of the blank once the stage is done; None without blank or bit
    job_mm3 : what all stages take off the blank
    final : the blank after the last stage; None without blank or bit
    allowed : per row, which allowance names its line: above 0 a comment of the program, below 0
        the job file, 0 none; None when nothing is allowed by line
    """

    job: Job
    number: int
    stage: Stage
    program: Program
    motion: Motion
    times: TimeTable
    texts: Texts
    facts: CutFacts | None = None
    reach: CutFacts | None = None
    removed_mm3: float = 0.0
    pieces: tuple[Piece, ...] = ()
    first_row: int = 0
    swapped_mm3: float | None = None
    earlier: tuple[StageContext, ...] = field(default=())
    after: HeightMap | None = None
    final: Surface | None = None
    job_mm3: float = 0.0
    allowed: NDArray[np.intp] | None = None

    @property
    def before(self) -> HeightMap | None:
        """Map of the blank before the stage; None when no stage before it cut anything."""
        return next((c.after for c in reversed(self.earlier) if c.after is not None), None)

    @property
    def stock(self) -> Stock:
        """The declared blank; a check that asks for it has "stock" among its needs."""
        assert self.job.stock is not None
        return self.job.stock

    @property
    def bit(self) -> Bit:
        """The declared bit; a check that asks for it has "bit" among its needs."""
        assert self.stage.bit is not None
        return self.stage.bit

    @property
    def machine(self) -> Machine:
        """The declared machine, or one with the documented defaults."""
        return self.job.machine or Machine()

    @property
    def cut(self) -> CutFacts:
        """The facts; a check that asks for them has "stock" and "bit" among its needs."""
        facts = self.facts if self.reach is None else self.reach
        assert facts is not None
        return facts

    # ------------------------------------------------------------ numbers as people read them

    def mm(self, value: float) -> str:
        """Write a length in the job's units."""
        return format_length(value, self.job.units)

    def volume(self, mm3: float) -> str:
        """Write a volume in the job's units; small ones in mm3."""
        if self.job.units == "mm":
            return f"{mm3:.1f} mm3" if mm3 < 1000.0 else f"{mm3 / 1000.0:.1f} cm3"
        return f"{mm3 / 25.4**3:.2g} in3"

    def area(self, mm2: float) -> str:
        """Write an area in the job's units."""
        if self.job.units == "mm":
            return f"{mm2 / 100.0:.1f} cm2"
        return f"{mm2 / 25.4**2:.2g} in2"

    def rate(self, value: float) -> str:
        """Write a feed in the job's units."""
        return format_feed(value, self.job.units)

    def angle(self, value: float) -> str:
        """Write an angle in degrees."""
        return format_angle(value)

    # ------------------------------------------------------------ findings

    def finding(
        self,
        code: str,
        message: str,
        *,
        row: int | None = None,
        level: Level | None = None,
        letters: str = "",
        at: Iterable[float] | None = None,
        value: float | None = None,
        limit: float | None = None,
        unit: str | None = None,
        count: int = 1,
        help: str | None = None,
    ) -> Finding:
        """Make a finding, placed at the source line of a motion row when one is given."""
        entry = catalogue()[code]
        line = column = end_column = None
        excerpt = None
        file: str | None = self.program.name
        if row is not None:
            line = int(self.motion.line[row])
            file = self.program.source_names[int(self.motion.source[row])] or file
            excerpt = self.line_text(row)
            column, end_column = mark(excerpt, letters)
            if at is None:
                at = self.motion.end[row]
        place = None if at is None else _triple(at)
        return Finding(
            code=code,
            level=level or entry.level,
            message=message,
            file=file,
            line=line,
            column=column,
            end_column=end_column,
            excerpt=excerpt,
            help=help or entry.do,
            stage=self.number,
            at=place,
            value=value,
            limit=limit,
            unit=unit,
            count=count,
        )

    def at_line(self, finding: Finding, line: int) -> Finding:
        """Return a finding placed at a whole line of the program, such as a comment."""
        text = self.texts.line(line)
        start = len(text) - len(text.lstrip()) + 1
        end = max(len(text.rstrip()), start) + 1
        return replace(finding, line=line, column=start, end_column=end, excerpt=text)

    def line_text(self, row: int) -> str:
        """Return the source line that made a row."""
        return self.texts.line(int(self.motion.line[row]), int(self.motion.source[row]))

    def places(
        self, rows: NDArray[np.bool_], by: NDArray[np.float64] | None = None
    ) -> Iterator[NDArray[np.intp]]:
        """Group violating rows into places a person would call one, in program order.

        What is allowed by line stands apart, so that an allowance never covers another line's
        fault, nor, by `by`, one that is worse than at its own line.
        """
        index = np.flatnonzero(rows)
        if not len(index):
            return
        apart: list[NDArray[np.intp]] = []
        if self.allowed is not None:
            index, apart = _allowed_apart(index, self.allowed[index], by)
        cuts = np.flatnonzero(np.diff(index) > _SAME_PLACE_ROWS) + 1
        groups: list[NDArray[np.intp]] = list(np.split(index, cuts)) if len(index) else []
        shown = groups[:MOST_PLACES]
        if len(groups) > MOST_PLACES:
            shown[-1] = np.concatenate(groups[MOST_PLACES - 1 :])
        yield from sorted(shown + apart, key=lambda place: int(place[0]))


def _allowed_apart(
    index: NDArray[np.intp], marks: NDArray[np.intp], by: NDArray[np.float64] | None
) -> tuple[NDArray[np.intp], list[NDArray[np.intp]]]:
    """Return the rows nothing allows, and those of each allowance.

    A comment speaks of the cut that begins at its line: of the rows that follow without a break,
    as far as they are no worse than those of the line itself.
    """
    marks = marks.copy()
    worst = np.full(int(marks.max(initial=0)) + 1, np.inf)
    for mark in np.unique(marks[marks > 0]):
        if by is not None:
            worst[mark] = by[index[marks == mark]].max()
    for k in np.flatnonzero(marks[:-1] > 0):
        j = k + 1
        while j < len(index) and marks[j] == 0 and index[j] == index[j - 1] + 1:
            if by is not None and not by[index[j]] <= worst[marks[k]] + TOUCH:
                break
            marks[j] = marks[k]
            j += 1
    return index[marks == 0], [index[marks == mark] for mark in np.unique(marks[marks != 0])]


def _triple(at: Iterable[float]) -> tuple[float, float, float]:
    x, y, z = (round(float(v), 6) for v in at)
    return (x, y, z)


def mark(text: str, letters: str) -> tuple[int, int]:
    """Return 1-based columns [start, end) of the word with one of the letters, or of the code.

    Words inside comments do not count. Letters are tried in the order given.
    """
    code = without_comments(text)
    for letter in letters:
        found = _word(code, letter)
        if found:
            return found.start() + 1, found.end() + 1
    stripped = code.strip()
    if not stripped:
        return 1, max(2, len(text) + 1)
    start = len(code) - len(code.lstrip()) + 1
    return start, start + len(stripped)


def without_comments(text: str) -> str:
    """Return a line with blanks in place of its comments."""
    return _CODE_PART.sub(lambda found: " " * len(found.group()), text)


def has_word(text: str, letter: str) -> bool:
    """Tell whether a line has a word with this letter outside its comments."""
    return _word(_CODE_PART.sub(" ", text), letter) is not None


def _word(code: str, letter: str) -> re.Match[str] | None:
    return re.search(rf"{letter}\s*[-+]?[\d.#\[][^A-Za-z\s(;]*", code, re.IGNORECASE)
