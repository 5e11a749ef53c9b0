"""What is not motion of X, Y and Z: other axes, other machines, and codes not worked out here.

Nothing of it is dropped in silence. Most is told once with a count, because a program that has one
such word has a thousand.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from dryrun.gcode.line import Line
from dryrun.gcode.text import Fault
from dryrun.gcode.words import Code

if TYPE_CHECKING:
    from dryrun.gcode.interpreter import Interpreter


def special_codes(run: Interpreter, line: Line) -> None:
    """Codes that do nothing to the path, or something that is not worked out here."""
    found = [*line.codes.values(), *line.others]
    for code, word in found:
        if code.effect == "does":
            continue
        if code.effect == "inert":
            fault = line.fault("ignored-word", f"{code.name} ({code.title}) does nothing to "
                               "the path and is passed over", word, None, "note")  # fmt: skip
        elif code.effect == "elsewhere":
            fault = _elsewhere(run, line, code)
        else:
            fault = _blind(run, line, code)
        line.used.update(set(code.takes) - set("FS"))
        run.tell_once(fault)
        if code.axes and code.group != "motion":
            line.used.update("XYZ")


def _elsewhere(run: Interpreter, line: Line, code: Code) -> Fault:
    word = next(w for c, w in [*line.codes.values(), *line.others] if c is code)
    if code.capability == "heaters":
        return line.fault(
            "not-accepted",
            f"{code.name} ({code.title}) belongs to a machine that lays material down; this "
            "program is not for a router",
            word,
            "check that the right file was chosen",
        )
    return line.fault(
        "not-accepted",
        f"{code.name} switches a beam or a fan; this program may be for another machine",
        word,
        "check that the right file was chosen",
        "warning",
    )


def _blind(run: Interpreter, line: Line, code: Code) -> Fault:
    word = next(w for c, w in [*line.codes.values(), *line.others] if c is code)
    if code.group == "motion":
        unknown = "the path between its ends is not known, and is followed as a straight line"
    elif code.group == "once":
        unknown = "what it cuts is not known"
    elif code.group == "speed":
        unknown = "the spindle speed is not known"
    else:
        unknown = "every place after it may be wrong"
    return line.fault(
        "not-accepted",
        f"{code.name} ({code.title}) is not worked out here: {unknown}",
        word,
        "write it out as lines and arcs",
    )


def rotary_moves(run: Interpreter, line: Line) -> bool:
    """Whether a rotary axis really turns on the line."""
    return any(
        line.values[a] != (run.rotary.get(a, 0.0) if run.state.absolute else 0.0)
        for a in line.axes("ABC")
    )


def other_axes(run: Interpreter, line: Line, motion: int) -> None:
    """Tell of words that move something else than X, Y and Z."""
    moving = rotary_moves(run, line)
    if moving and motion == 10 and not {"X", "Y", "Z"} & set(line.values):
        _rotary_feed(run, line)
    for letter in line.axes("ABC"):
        _rotary(run, line, letter, moving)
    for letter in line.axes("UVW"):
        value = line.take(letter)
        run.tell_once(line.fault(
            "not-accepted", f"{letter} moves a second axis, which is not followed here",
            line.words[letter], "write the move with X, Y and Z",
            "error" if value else "warning"))  # fmt: skip
    if "E" in line.values and "E" not in line.used:
        _extruder(run, line)


def _rotary_feed(run: Interpreter, line: Line) -> None:
    """Only rotary axes move: the feed counts degrees per minute (2.1.2.5)."""
    turned = 0.0
    for letter in line.axes("ABC"):
        before = run.rotary.get(letter, 0.0) if run.state.absolute else 0.0
        turned += (line.values[letter] - before) ** 2
    feed = run.state.feed
    if run.state.feed_mode == 93:
        feed *= math.sqrt(turned)
    if feed > 0.0:
        run.flush()
        run.carriage.turn_in_place(math.sqrt(turned) / feed)


def _rotary(run: Interpreter, line: Line, letter: str, moving: bool) -> None:
    value = line.take(letter)
    assert value is not None
    if not run.controller.takes("rotary-axes"):
        line.complain("not-accepted", f"the controller has no {letter} axis",
                      line.words[letter])  # fmt: skip
    if moving:
        fault = line.fault(
            "not-accepted",
            f"{letter} turns a rotary axis: a check of three axes cannot say where the cut "
            "goes from here on",
            line.words[letter],
            "check this program on a machine model with that axis",
        )
    else:
        fault = line.fault("ignored-word", f"{letter} keeps its rotary axis where it is",
                           line.words[letter], None, "note")  # fmt: skip
    run.rotary[letter] = value if run.state.absolute else (run.rotary.get(letter, 0.0) + value)
    run.tell_once(fault)


def _extruder(run: Interpreter, line: Line) -> None:
    line.used.add("E")
    if "." in line.written("E") or line.key("once") == 920:
        fault = line.fault(
            "not-accepted",
            "an E word with a length: this program lays material down, it is not for a router",
            line.words["E"],
            "check that the right file was chosen",
        )
    else:
        fault = line.fault(
            "ignored-word",
            f"{line.written('E')} is not used; older controls name a work offset so",
            line.words["E"],
            "write the work offset as G54 to G59",
            "warning",
        )
    run.tell_once(fault)
