"""Step 19 of a line: going home and setting offsets (NISTIR 6556 3.5.5, 3.5.8, 3.5.18)."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from dryrun.gcode.expressions import as_integer
from dryrun.gcode.line import Line
from dryrun.gcode.state import NAN
from dryrun.motion import RAPID

if TYPE_CHECKING:
    from dryrun.gcode.interpreter import Interpreter

_TOOL_TABLES: Final = (1, 10, 11, 12, 13)


def once(run: Interpreter, line: Line) -> None:
    """Carry out G28, G30, G10, G52, G92 and their kin."""
    found = line.codes.get("once")
    if found is None:
        return
    key = found[0].key
    if key in (280, 300):
        _go_home(run, line, key // 10)
    elif key in (281, 301):
        line.used.update("XYZ")
        run.offsets.store_home(key // 10)
    elif key == 100:
        _set_offsets(run, line)
    elif key == 520:
        _local_offset(run, line)
    elif key in (920, 921, 922, 923):
        _axis_offsets(run, line, key)


def _refused(run: Interpreter, line: Line, what: str) -> bool:
    if run.state.compensation == 40:
        return False
    line.complain(
        "conflicting-words",
        f"{what} while radius compensation is on",
        line.word_of("once"),
        "switch compensation off with G40 first",
    )
    return True


def _go_home(run: Interpreter, line: Line, code: int) -> None:
    """By way of the point given, then home: the named axes, or all (3.5.8)."""
    if _refused(run, line, f"G{code}"):
        line.used.update("XYZ")
        return
    run.flush()
    line.used.add("P")
    named = line.axes()
    start = run.carriage.place()
    via = run.target(line)
    if named and not any(
        math.isnan(v) and not math.isnan(s) for v, s in zip(via, start, strict=True)
    ):
        run.carriage.straight(RAPID, via)
    home = run.offsets.home(code)
    every = run.controller.home_axes == "all" or not named
    if named and not run.strict:
        run.assume(
            "home",
            "G28 and G30 send home "
            + ("all axes" if every else "only the axes named on their line"),
        )
    here = run.carriage.place()
    end = [home[k] if every or "XYZ"[k] in named else here[k] for k in range(3)]
    if any(math.isnan(end[k]) and (every or "XYZ"[k] in named) for k in range(3)):
        run.tell_once(
            line.fault(
                "not-accepted",
                f"where home (G{code}) lies from the job's zero is not declared, so these moves "
                "are not checked",
                line.word_of("once"),
                "declare work_zero, the job's zero in machine coordinates",
                "note",
            )
        )
    run.lost = [a or math.isnan(e) for a, e in zip(run.lost, end, strict=True)]
    run.carriage.straight(RAPID, (end[0], end[1], end[2]))


def _set_offsets(run: Interpreter, line: Line) -> None:
    """G10 L2, and L20 of common practice."""
    word = line.word_of("once")
    kind = line.take("L")
    number = as_integer(kind) if kind is not None else None
    named = line.axes()
    line.used.update("XYZ")
    if number in _TOOL_TABLES and run.controller.takes("set-tools"):
        line.complain("ignored-word", f"G10 L{number} writes the tool table; it is passed over",
                      word, None, "note")  # fmt: skip
        return
    if number != 2 and not (number == 20 and run.controller.takes("set-offsets-here")):
        shown = "without L" if kind is None else f"L{kind:g}"
        line.complain("missing-word" if kind is None else "not-accepted",
                      f"G10 {shown}: what it sets is not known here", line.words.get("L") or word,
                      "G10 L2 sets an origin, G10 L20 sets it from the present point")  # fmt: skip
        return
    system = _system_number(run, line)
    if system is None:
        return
    if "R" in line.values and line.values["R"] != 0.0:
        line.complain("not-accepted", "G10 with R turns the coordinate system, which is not "
                      "worked out here", line.words["R"])  # fmt: skip
    run.flush()
    for letter in named:
        axis = "XYZ".index(letter)
        value = line.values[letter]
        if number == 2:
            run.offsets.set_machine_origin(system, axis, value)
        else:
            run.stand_at(axis, value)
            run.offsets.set_origin_here(system, axis, value, run.carriage.place()[axis])
    if number == 2 and named and run.offsets.zero is None:
        run.tell_once(line.fault(
            "not-accepted",
            "G10 L2 gives an origin in machine coordinates, but where the job's zero lies there "
            "is not declared: places in that system are not known",
            word, "declare work_zero, the job's zero in machine coordinates"))  # fmt: skip


def _system_number(run: Interpreter, line: Line) -> int | None:
    value = line.values.get("P")
    line.used.add("P")
    word = line.words.get("P") or line.word_of("once")
    if value is None:
        line.complain("missing-word", "G10 does not say which system: P is missing", word,
                      "P1 is G54, P2 is G55 ... P9 is G59.3")  # fmt: skip
        return None
    system = as_integer(value)
    if system == 0 and not run.strict:
        return run.state.system
    if system is None or not 1 <= system <= 9:
        line.complain("unreadable-line", f"P{value:g} is no coordinate system; they are 1 to 9",
                      word)  # fmt: skip
        return None
    return system


def _local_offset(run: Interpreter, line: Line) -> None:
    """G52: a shift inside the system, given anew each time (common practice, no source)."""
    if _refused(run, line, "a local offset"):
        line.used.update("XYZ")
        return
    for letter in line.axes():
        value = line.take(letter) or 0.0
        run.state.local_offset["XYZ".index(letter)] = value * run.state.factor
    run.state.set_shift()


def _axis_offsets(run: Interpreter, line: Line, key: int) -> None:
    """G92 G92.1 G92.2 G92.3 (3.5.18); not with compensation on (B.5)."""
    if _refused(run, line, "an axis offset"):
        line.used.update("XYZ")
        return
    if key == 920:
        named = line.axes()
        if not named and not line.axes("ABCE"):
            line.complain("missing-word", "G92 says no axis", line.word_of("once"),
                          "write the reading wanted, such as G92 X0")  # fmt: skip
        for letter in named:
            axis = "XYZ".index(letter)
            wanted = line.take(letter) or 0.0
            run.stand_at(axis, wanted)
            reading = run.state.program_position()[axis]
            if not math.isnan(reading):
                run.offsets.shift_reading(axis, reading, wanted)
        if named:
            run.offsets.store_axis_offsets()
    elif key in (921, 922):
        run.offsets.clear_axis_offsets(forget=key == 921)
    else:
        run.offsets.restore_axis_offsets()


UNKNOWN: Final = (NAN, NAN, NAN)
