"""Programs that never end: proof where there is one, limits where there is none.

The same state at the same jump comes back for ever: that is a proof. Otherwise a program is
called endless when it runs beyond the limits of its controller, or runs away. Common practice, no
source; NISTIR 6556 has no loops.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from dryrun.gcode.text import Fault

if TYPE_CHECKING:
    from dryrun.gcode.interpreter import Interpreter

#: A program that repeats itself and is farther away than this (mm) runs away: no router is 30 m
#: long.
RUNAWAY: Final = 3e4
#: More passes than this that all do the same are as good as endless.
MOST_PASSES: Final = 100_000
#: As many passes that were run and did the same, whatever parameters count meanwhile; fewer where
#: each moves.
MOST_ALIKE: Final = 10_000
MOST_ALIKE_MOVES: Final = 2_000
#: Rows that a line may make while repeating, beyond what the controller allows any program: a
#: subprogram of many lines that is called for every depth is no endless program.
ROWS_A_LINE: Final = 30
#: More errors than this while repeating: nothing that comes after means anything.
MOST_ERRORS: Final = 1_000


class Repetition:
    """Watches one run once it has gone back for the first time."""

    def __init__(self) -> None:
        self.going = False
        self._states: dict[tuple[int, int], tuple[tuple[object, ...], list[int], int]] = {}
        self._alike: dict[tuple[int, int], int] = {}
        self._rows = self._blocks_at_rows = 0
        self._rows_before = self._errors_before = -1

    def back(self, run: Interpreter, here: tuple[int, int]) -> None:
        """Note a jump back or a call from a line, and see whether it is one too many."""
        self.going = True
        state = run.state
        now = (
            run.parameters.changes,
            *(v if v == v else None for v in (state.x, state.y, state.z, state.feed)),
            state.motion, state.absolute, state.factor, state.turning,
            state.tool, state.system, state.plane, run.source, run.index,
        )  # fmt: skip
        passes = [n for f in run.frames for n in (f.left, *f.counts.values())]
        before = self._states.get(here)
        if before is not None and before[0] == now and not run.ended:
            if before[1] == passes:
                self._end(run, "nothing changes from one pass to the next")
            elif max(passes) > MOST_PASSES:
                self._end(run, f"{max(passes)} passes that all do the same are left")
        if before is not None and before[0][1:] == now[1:]:
            self._alike[here] = self._alike.get(here, 0) + 1
            most = MOST_ALIKE_MOVES if len(run.rows) > before[2] else MOST_ALIKE
            if self._alike[here] > most and not run.ended:
                self._end(run, f"{most} passes did all the same")
        if before is not None and not run.ended:
            self._foresee(run, before, passes)
        self._states[here] = (now, passes, len(run.rows))
        self.check(run)

    def _foresee(
        self, run: Interpreter, before: tuple[object, list[int], int], passes: list[int]
    ) -> None:
        """End a program whose counted passes, at the moves of this one, would be too many."""
        made = len(run.rows) - before[2]
        if len(passes) != len(before[1]) or passes[:-1] != before[1][:-1]:
            return
        left = passes[-1]
        if before[1][-1] - left == 1 and left * made > self._most_rows(run):
            self._end(run, f"{left} passes of {made} moves are left")

    @staticmethod
    def _most_rows(run: Interpreter) -> int:
        lines = sum(len(source.lines) for source in run.sources)
        return run.controller.max_repeated_rows + ROWS_A_LINE * lines

    def check(self, run: Interpreter) -> None:
        """End a program that repeats itself beyond all measure."""
        if run.ended:
            return
        limits = run.controller
        rows = len(run.rows)
        if rows != self._rows:
            self._rows, self._blocks_at_rows = rows, run.blocks_run
        if self._rows_before < 0:
            self._rows_before, self._errors_before = rows, run.notes.errors
        state = run.state
        if run.blocks_run > limits.max_blocks:
            self._end(run, f"more than {limits.max_blocks} blocks were run")
        elif run.blocks_run - self._blocks_at_rows > limits.max_idle_blocks:
            self._end(run, f"{limits.max_idle_blocks} blocks were run without a move")
        elif rows - self._rows_before > limits.max_repeated_rows and rows - self._rows_before > (
            most := self._most_rows(run)
        ):
            self._end(run, f"it made more than {most} moves while repeating")
        elif run.notes.errors - self._errors_before > MOST_ERRORS:
            self._end(run, f"it made more than {MOST_ERRORS} errors while repeating")
        elif max(abs(state.x), abs(state.y), abs(state.z)) > RUNAWAY:
            self._end(run, f"it moved more than {RUNAWAY / 1e3:g} m away while repeating")

    def _end(self, run: Interpreter, why: str) -> None:
        run.tell(
            Fault(
                "endless-program",
                f"the program repeats itself without end: {why}; reading stops here",
                0,
                len(run.block.code),
                "check the condition of the loop, and what changes it",
            )
        )
        run.ended = True
