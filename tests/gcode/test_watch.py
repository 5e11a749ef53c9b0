"""What is in force where a line begins: the watch against the program cut off before the line."""

from __future__ import annotations

import math

import numpy as np
import pytest

from dryrun.gcode.program import _modal, read_program
from dryrun.gcode.watch import Watch
from tests.restart.programs import PROGRAMS

OFFSETS = {"G55": (20.0, -30.5, 0.0)}

#: Programs whose lines are carried out once, in order.
STRAIGHT = ["plain", "inch", "cycles", "planes", "incremental", "offsets", "changes", "compensated"]


def standing(text: str, line: int) -> Watch:
    watch = Watch(line, visit=1)
    read_program(text.encode(), offsets=OFFSETS, bit_radius=3.0, _watch=watch)
    return watch


@pytest.mark.parametrize("name", STRAIGHT)
def test_standing_is_what_the_lines_before_leave(name: str) -> None:
    """Modal codes, feed, speed, tool, coolant and place are those after the lines before."""

    class Run:
        pass

    lines = PROGRAMS[name].splitlines()
    for line in range(1, len(lines) + (lines[-1] != "%")):
        watch = standing(PROGRAMS[name], line)
        before = read_program(
            "\n".join(lines[: line - 1]).encode() or b"\n", offsets=OFFSETS, bit_radius=3.0
        )
        assert watch.standing is not None, line
        run = Run()
        run.state = watch.standing.state  # type: ignore[attr-defined]
        assert _modal(run) == before.state.modal, line  # type: ignore[arg-type]
        if watch.standing.state.compensation == 40:
            np.testing.assert_array_equal(watch.standing.programmed, before.state.job)
            assert watch.visits == [len(before.motion)]


@pytest.mark.parametrize("name", PROGRAMS)
def test_watching_changes_nothing(name: str) -> None:
    """A program reads the same whether or not somebody looks on."""
    data = PROGRAMS[name].encode()
    alone = read_program(data, offsets=OFFSETS, bit_radius=3.0)
    watch = Watch(20)
    watched = read_program(data, offsets=OFFSETS, bit_radius=3.0, _watch=watch)
    for column in alone.motion.__dataclass_fields__:
        np.testing.assert_array_equal(
            getattr(alone.motion, column), getattr(watched.motion, column)
        )
    assert watched.findings == alone.findings
    assert watched.words == alone.words
    assert watch.visits


@pytest.mark.jit_only
def test_long_programs_halt_inside_a_compiled_run() -> None:
    """The compiled path stops before the line that is looked for, and before the row."""
    body = [f"G1 X{k % 977 / 10:.1f} Y{k % 613 / 10:.1f}" for k in range(20_000)]
    lines = ["G21 G90", "G0 Z5", "S9000 M3", "G1 Z-1 F700", *body, "G0 Z5", "M8", "M30"]
    data = "\n".join(lines).encode()
    assert len(data) > 200_000
    whole = read_program(data)
    for line in (1, 5, 6, 7000, 19_999, len(lines) - 1):
        by_visit, by_row = Watch(line, visit=1), Watch(line)
        read_program(data, _watch=by_visit)
        assert by_visit.standing is not None
        assert by_visit.visits == [int((whole.motion.line < line).sum())]
        by_row = Watch(line, row=by_visit.visits[0])
        read_program(data, _watch=by_row)
        assert by_row.standing is not None
        for one in (by_visit, by_row):
            state = one.standing.state  # type: ignore[union-attr]
            row = one.visits[0]
            if row:
                np.testing.assert_array_equal(
                    (state.x, state.y, state.z), whole.motion.end[row - 1]
                )
            else:
                assert math.isnan(state.x)


def test_marks_say_what_rows_do_not() -> None:
    """Coolant, length, calls, compensation and shifts, each from the row it holds from."""
    watch = Watch(1)
    text = PROGRAMS["changes"]
    program = read_program(text.encode(), _watch=watch)
    lines = text.splitlines()

    def row_of(line: int) -> int:
        return int(np.flatnonzero(program.motion.line >= line)[0])

    on = next(m for m in watch.marks if m.flood)
    assert on.row == row_of(lines.index("M8") + 2)
    assert watch.marks[-1].length == "G43 H2"
    assert not watch.marks[0].length
    compensated = Watch(1)
    program = read_program(PROGRAMS["compensated"].encode(), bit_radius=3.0, _watch=compensated)
    begins = PROGRAMS["compensated"].splitlines().index("G41 G1 X-60 Y-60 F900") + 1
    first = next(m for m in compensated.marks if m.compensated)
    assert first.row == int(np.flatnonzero(program.motion.line >= begins)[0])
    called = Watch(1)
    read_program(PROGRAMS["subprograms"].encode(), _watch=called)
    assert {m.depth for m in called.marks} == {0, 1}
