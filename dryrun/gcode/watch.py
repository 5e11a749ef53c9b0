"""Looking over the interpreter's shoulder: how things stand at a place in a program.

A restart needs to know what is in force where a line begins, where radius compensation is on, how
deep in calls the program is, and what the rows of motion do not carry (coolant, the length
offset's words). A watch sees every line that may change any of that; plain moves run unseen, by
the same short ways as ever, up to the line that is looked for.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

from dryrun.gcode.offsets import system_name
from dryrun.gcode.state import ModalState

if TYPE_CHECKING:
    from dryrun.gcode.interpreter import Interpreter


class Mark(NamedTuple):
    """What is in force beside the rows, and from which row on.

    Attributes
    ----------
    row : rows made when it was in force for certain (at the end of its line)
    early : rows made when its line began; what comes before the line's motion counts from there
    depth : calls the program is in; 0 the program itself
    compensated : radius compensation is on
    moved : the origin of the active system is not the one declared before the program
    shifted : an axis offset (G92) or a local offset (G52) is in force
    rotary : a rotary axis has been given a place
    flood, mist, overrides : as in `ModalState`
    length : words that put the length offset in force
    """

    row: int
    early: int
    depth: int
    compensated: bool
    moved: bool
    shifted: bool
    rotary: bool
    flood: bool
    mist: bool
    overrides: bool
    length: str


@dataclass(frozen=True, slots=True)
class Standing:
    """How things stand where a line begins.

    Attributes
    ----------
    state : ModalState
        A copy of the modal state.
    programmed : (x, y, z)
        Where the programmed point is, job frame, mm (beside the tip while compensation is on).
    system : str
        Code of the active work system.
    """

    state: ModalState
    programmed: tuple[float, float, float]
    system: str


class Watch:
    """Counts how often a line begins, keeps marks, and halts where it is told.

    Parameters
    ----------
    line, source : int
        The line looked for (1-based), and in which text.
    visit : int or None
        Halt when the line begins for the so-manieth time.
    row : int or None
        Halt when the line begins with so many rows made.

    Attributes
    ----------
    visits : list of int
        Rows made each time the line began.
    marks : list of Mark
    standing : Standing or None
        How things stood where reading halted; None it never came there.
    """

    def __init__(
        self, line: int, source: int = 0, *, visit: int | None = None, row: int | None = None
    ) -> None:
        self.line = line
        self.source = source
        self.visit = visit
        self.row = row
        self.visits: list[int] = []
        self.marks: list[Mark] = []
        self.standing: Standing | None = None
        self._origins: dict[int, list[float]] | None = None
        self._looked = 0

    def halts(self, run: Interpreter) -> bool:
        """Look at the interpreter before a line; tell whether to stop there."""
        if self._origins is None:
            self._origins = {system: list(v) for system, v in run.offsets.origins.items()}
        self._mark(run)
        if run.index + 1 != self.line or run.source != self.source:
            return False
        self.visits.append(len(run.rows))
        if self.visit == len(self.visits) or self.row == len(run.rows):
            self.standing = Standing(
                replace(
                    run.state,
                    origin=list(run.state.origin),
                    axis_offset=list(run.state.axis_offset),
                    local_offset=list(run.state.local_offset),
                ),
                run.base(),
                system_name(run.state.system),
            )
            return True
        return False

    def unseen(self, run: Interpreter) -> int:
        """Return how many plain lines may run from here without being looked at."""
        most = len(run.sources[run.source].lines)
        if run.source == self.source:
            before = self.line - 1 - run.index
            if before >= 0:
                most = min(most, before)
        if self.row is not None:
            # A plain line makes one row at most.
            most = min(most, max(0, self.row - len(run.rows)))
        return most

    def _mark(self, run: Interpreter) -> None:
        state = run.state
        assert self._origins is not None
        found = (
            len(run.frames) - 1,
            state.compensation != 40,
            state.origin != self._origins.get(state.system),
            any(state.axis_offset) or any(state.local_offset),
            bool(run.rotary),
            state.flood,
            state.mist,
            state.overrides,
            state.length_words,
        )
        rows = len(run.rows)
        if not self.marks or self.marks[-1][2:] != found:
            self.marks.append(Mark(rows, self._looked, *found))
        self._looked = rows
