"""One line, carried out: who owns its axis words, then step by step (NISTIR 6556 3.4, 3.8)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from dryrun.gcode import cycles, foreign, modes, moves, setting
from dryrun.gcode.line import Line, is_cycle
from dryrun.gcode.state import G80
from dryrun.gcode.words import AXIS_USERS_ONCE, PROBES, Code
from dryrun.motion import LINE

if TYPE_CHECKING:
    from dryrun.gcode.interpreter import Interpreter

_FOREIGN: Final = frozenset("ABCUVWE")
#: Those that no code has to stand with: alone on a line they move nothing that is followed.
_ALONE: Final = frozenset("UVWE")


def carry_out(run: Interpreter, line: Line) -> None:
    """Carry out a line that has been worked out; its faults become findings."""
    try:
        codes, others = line.codes, line.others
        once = line.key("once")
        if once == 650:
            run.subprograms.macro(line)
            return
        if "L" in line.values and not codes and run.subprograms.letter(line):
            return
        if run.controller.decimal_point != "free":
            _points(run, line)
        if codes or others:
            _count(run, line)
            foreign.special_codes(run, line)
        if "Z" in line.values:
            run.z_said = True
        motion = _motion_of(run, line, once)
        if run.state.feed_mode == 93 or "feed" in codes:
            modes.check_inverse_time(run, line, motion)
        modes.settings_before_motion(run, line)
        if once >= 0:
            setting.once(run, line)
        if once == 310:
            moves.probe(run, line)
        elif motion >= 0:
            _move(run, line, motion, once)
        elif once < 0 and not others and line.values.keys() & _ALONE - line.used:
            foreign.other_axes(run, line, motion)
        if others:
            run.subprograms.call(line)
        modes.complain_of_strays(run, line)
        if "stop" in codes:
            modes.stop(run, line)
    finally:
        for fault in line.faults:
            run.tell(fault)
        run.carriage.exact_stop = False


def _move(run: Interpreter, line: Line, motion: int, once: int) -> None:
    if once == 530:
        _check_machine_move(run, line, motion)
    if motion in (0, 10):
        moves.straight(run, line, motion)
    elif motion in (20, 30):
        if once == 530:
            moves.straight(run, line, 10)
        else:
            moves.arc(run, line, motion)
    elif motion in PROBES:
        moves.probe(run, line)
    elif is_cycle(motion):
        run.flush()
        cycles.cycle(run, line, motion)
    else:
        run.move(LINE, run.target(line))
    if line.values.keys() & _FOREIGN:
        foreign.other_axes(run, line, motion)


def _check_machine_move(run: Interpreter, line: Line, motion: int) -> None:
    """G53 goes with G0 or G1 only, and not with compensation (3.5.12)."""
    if motion not in (0, 10):
        line.complain("conflicting-words", "G53 needs G0 or G1, on its line or in force",
                      line.word_of("once"), "write G53 G0 ...")  # fmt: skip
    if run.state.compensation != 40:
        line.complain("conflicting-words", "G53 while radius compensation is on",
                      line.word_of("once"), "switch compensation off with G40 first")  # fmt: skip


def _motion_of(run: Interpreter, line: Line, once: int) -> int:
    """Which motion the line makes, as ten times its code; -1 none (3.4)."""
    explicit = line.key("motion")
    axes = line.axes("XYZABC")
    if once == 40 and not run.strict and "P" not in line.values and explicit < 0:
        axes = [a for a in axes if a != "X"]
    taken = once in AXIS_USERS_ONCE or line.key("length") == 431
    if explicit >= 0:
        modes.leave_cycle(run, explicit)
        if taken and explicit != G80 and run.strict:
            line.complain(
                "conflicting-words",
                f"{line.codes['motion'][0].name} and {_taker(run, line).name} both claim the "
                "axis words of the line",
                line.word_of("motion"),
                "put them on two lines",
            )
        if not (taken and run.strict):
            run.state.motion = explicit
    if taken:
        return -1
    return _free_motion(run, line, explicit, axes)


def _taker(run: Interpreter, line: Line) -> Code:
    return line.codes["once" if "once" in line.codes else "length"][0]


def _free_motion(run: Interpreter, line: Line, explicit: int, axes: list[str]) -> int:
    state = run.state
    if axes:
        if explicit == G80:
            line.complain("conflicting-words", f"{axes[0]} stands beside G80, which moves "
                          "nothing", line.words[axes[0]],
                          "delete the axis words, or G80")  # fmt: skip
            line.used.update(axes)
            return -1
        if state.motion == G80:
            _no_motion_code(run, line, axes)
        return state.motion
    if line.key("once") == 530 and run.strict:
        line.complain("missing-word", "G53 moves no axis", line.word_of("once"))
    centre = {"I", "J", "K"} & set(line.values)
    if state.motion in (20, 30) and (explicit >= 0 or not run.strict) and centre:
        return state.motion
    if explicit >= 0 and explicit != G80 and (run.strict or is_cycle(explicit)):
        if is_cycle(explicit) or explicit in (20, 30):
            return explicit
        name = line.codes["motion"][0].name
        line.complain("missing-word", f"{name} moves no axis: X, Y and Z are missing",
                      line.word_of("motion"), "write the axis words on its line")  # fmt: skip
    return -1


def _no_motion_code(run: Interpreter, line: Line, axes: list[str]) -> None:
    """Axis words while no motion code is in force."""
    first = "G80" not in run.codes
    help = "write G0 or G1 on the line"
    if run.strict:
        raise line.fault("missing-word", f"{axes[0]} moves, but no motion code is in force",
                         line.words[axes[0]], help)  # fmt: skip
    line.complain(
        "missing-word",
        f"{axes[0]} moves, but no motion code {'was given yet' if first else 'is in force'}; "
        "it is taken as a rapid (G0)",
        line.words[axes[0]],
        help,
        "warning" if first else "error",
    )
    if first:
        run.assume("motion", "axis words before any motion code move at rapid (G0)")
    run.state.motion = 0


def _count(run: Interpreter, line: Line) -> None:
    for code, _ in line.codes.values():
        run.codes[code.name] += 1
    for code, _ in line.others:
        run.codes[code.name] += 1


def _points(run: Interpreter, line: Line) -> None:
    """Numbers without a decimal point, where the controller reads them its own way."""
    rule = run.controller.decimal_point
    for letter in "XYZIJKRQUVW":
        word = line.words.get(letter)
        if word is None or not isinstance(word.value, float) or "." in line.written(letter):
            continue
        if rule == "increments":
            inch = run.state.factor != 1.0 or line.key("units") in (200, 700)
            line.values[letter] *= (
                0.1 * run.controller.increment if inch else (run.controller.increment)
            )
        elif line.values[letter] != 0.0:
            line.complain("unreadable-line", f"{line.written(letter)} has no decimal point",
                          word, f"write {line.written(letter)}.0")  # fmt: skip
