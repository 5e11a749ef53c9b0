"""Carrying out one line, step by step in the fixed order (NISTIR 6556 3.8, Table 8).

This module takes the steps that move nothing: feed, speed, tool, spindle, coolant, planes, units,
compensation on and off, offsets, modes, and the stop at the end of the line. Homes and offset
settings are in `setting`, motion is in `moves` and `cycles`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from dryrun.gcode import ends
from dryrun.gcode.compensation import Compensation
from dryrun.gcode.expressions import as_integer
from dryrun.gcode.line import Line, is_cycle
from dryrun.gcode.offsets import system_name
from dryrun.gcode.state import EXACT_PATH, G1, G80, INCH, NAN

if TYPE_CHECKING:
    from dryrun.gcode.interpreter import Interpreter

_LONG_DWELL: Final = 50.0
#: Letters that some code must use; others (F, S, T, axes) stand by themselves.
_SERVANTS: Final = "DHIJKLPQR"


def settings_before_motion(run: Interpreter, line: Line) -> None:
    """Take steps 2 to 18."""
    codes, values = line.codes, line.values
    if "feed" in codes:
        _feed_mode(run, line)
    if "F" in values:
        _feed(run, line)
    if "S" in values:
        _speed(run, line)
    if "T" in values:
        _select_tool(run, line)
    for group, step in _STEPS_OF_GROUPS[:4]:
        if group in codes:
            step(run, line)
    if "once" in codes:
        _dwell(run, line)
    for group, step in _STEPS_OF_GROUPS[4:]:
        if group in codes or (group == "compensation" and "D" in values):
            step(run, line)
    if line.others:
        run.carriage.exact_stop = any(
            code.key == 90 and code.letter == "G" for code, _ in line.others
        )


def _feed_mode(run: Interpreter, line: Line) -> None:
    """G93 G94 G95."""
    key = line.key("feed")
    if key < 0:
        return
    before = run.state.feed_mode
    run.state.feed_mode = key // 10
    if before != run.state.feed_mode:
        run.feed_is_old = not math.isnan(run.state.feed)


def _feed(run: Interpreter, line: Line) -> None:
    """F: kept as the number written, read in the unit active when used (2.1.2.9)."""
    feed = line.take("F")
    if feed is None:
        return
    if feed < 0.0:
        line.complain("unreadable-line", f"a feed of {feed:g} is negative", line.words["F"],
                      "write the feed as a positive number")  # fmt: skip
        return
    run.state.feed = feed
    run.feed_is_old = False


def _speed(run: Interpreter, line: Line) -> None:
    speed = line.take("S")
    if speed is None:
        return
    if speed < 0.0:
        line.complain("unreadable-line", f"a spindle speed of {speed:g} is negative",
                      line.words["S"], "the direction is said by M3 or M4")  # fmt: skip
        return
    run.state.speed = speed


def _select_tool(run: Interpreter, line: Line) -> None:
    """T selects a slot; M6 puts it into the spindle (3.6.3, 3.7.3)."""
    value = line.take("T")
    if value is None:
        return
    slot = as_integer(value)
    if slot is None or slot < 0:
        line.complain("unreadable-line", f"T{value:g} is no tool: tools are numbered 0, 1, 2 ...",
                      line.words["T"])  # fmt: skip
        return
    slots = run.controller.tool_slots
    if slots is not None and slot > slots:
        line.complain("unreadable-line", f"T{slot} is too large, there are {slots} slots",
                      line.words["T"])  # fmt: skip
        return
    run.state.selected = min(slot, 2**31 - 1)
    if not run.first_tool_word:
        run.first_tool_word = (run.carriage.line, run.block)
    if run.controller.tool_by_t and line.key("tool") < 0:
        _put_in(run)


def _change_tool(run: Interpreter, line: Line) -> None:
    found = line.codes.get("tool")
    if found is None:
        return
    run.tool_changes += 1
    if run.state.selected < 0:
        if run.strict:
            run.state.selected = 0
        else:
            line.complain("missing-word", "M6 changes the tool, but no T said to which",
                          found[1], "write T and the number before M6", "warning")  # fmt: skip
    _put_in(run)


def _put_in(run: Interpreter) -> None:
    """Put the selected tool into the spindle: it ends stopped; offsets do not change (3.6.3)."""
    state = run.state
    run.flush()
    state.tool = state.selected
    state.turning = 0
    length = run.tool_length(state.tool)
    if length is not None and run.lengths_declared:
        state.z += state.spindle_length - length
        state.spindle_length = length
        state.set_shift()
    run.carriage.change_tool()


_TURNING: Final = {30: 1, 40: -1, 50: 0, 130: 1, 140: -1, 190: 0}
_TURNING_NAMES: Final = {1: "cw", -1: "ccw", 0: "stop"}


def _spindle(run: Interpreter, line: Line) -> None:
    key = line.key("spindle")
    if key < 0:
        return
    run.state.turning = _TURNING[key]
    if key in (130, 140):
        run.state.flood = True
    name = "orient" if key == 190 else _TURNING_NAMES[run.state.turning]
    run.carriage.note({"t": "spindle", "v": name})


def _coolant(run: Interpreter, line: Line) -> None:
    keys = [code.key for code, _ in line.others if code.group == "coolant"]
    keys.append(line.key("coolant"))
    for key in keys:
        if key == 70:
            run.state.mist = True
        elif key == 80:
            run.state.flood = True
        elif key == 90:
            run.state.mist = run.state.flood = False


def _overrides(run: Interpreter, line: Line) -> None:
    key = line.key("overrides")
    if key >= 0:
        run.state.overrides = key == 480


def _dwell(run: Interpreter, line: Line) -> None:
    """G4: before the motion of its line."""
    if line.key("once") != 40:
        return
    word = line.word_of("once")
    seconds = dwell_seconds(run, line, "P")
    if seconds is None and not run.strict:
        for letter in "XUSF":
            if letter in line.values and (letter not in "XU" or line.key("motion") < 0):
                seconds = line.values[letter]
                line.used.add(letter)
                if not run.controller.takes("dwell-by-other-words"):
                    _dwell_by(line, letter)
                break
    if seconds is None:
        line.complain("missing-word", "G4 dwells, but does not say how long", word,
                      "write P and the seconds, such as G4 P2")  # fmt: skip
        return
    if math.isnan(seconds) or seconds < 0.0:
        line.complain("unreadable-line", f"a dwell of {seconds:g} s is negative or not known",
                      line.words.get("P"))  # fmt: skip
        return
    if seconds >= _LONG_DWELL and run.controller.dwell_unit == "s" and not run.strict:
        line.complain(
            "units-suspect",
            f"a dwell of {seconds:g} s; some controllers read P in milliseconds",
            line.words.get("P"),
            "if milliseconds are meant, declare 'dwell-in-milliseconds' in accepts",
            "warning",
        )
    run.flush()
    run.carriage.dwell(seconds)


def _dwell_by(line: Line, letter: str) -> None:
    """Complain of a dwell by a word that the declared controller may take for something else."""
    line.complain(
        "missing-word",
        f"G4 dwells, but P is missing; that {letter} says how long is not among what the "
        "controller accepts",
        line.words.get(letter),
        "write P and the seconds, such as G4 P2, or declare 'dwell-by-other-words' in accepts",
    )


def dwell_seconds(run: Interpreter, line: Line, letter: str) -> float | None:
    """Return a dwell word in seconds, as the controller counts it."""
    value = line.take(letter)
    if value is None:
        return None
    if run.controller.dwell_unit == "ms":
        if "." not in line.written(letter):
            return value / 1000.0
    else:
        run.assume("dwell", "P of a dwell counts seconds")
    return value


def _refuse(run: Interpreter, line: Line, group: str, what: str) -> bool:
    """Complain when compensation is on; True when the code must not be carried out (B.5)."""
    if run.state.compensation == 40:
        return False
    line.complain(
        "conflicting-words",
        f"{what} while radius compensation is on",
        line.word_of(group),
        "switch compensation off with G40 first",
    )
    return True


def _plane(run: Interpreter, line: Line) -> None:
    key = line.key("plane")
    if key < 0:
        return
    if key != 170 and _refuse(run, line, "plane", "another plane"):
        return
    run.state.plane = key // 10
    run.plane_said = True


def _units(run: Interpreter, line: Line) -> None:
    """G20 G21: the point stays, its numbers change (3.5.7, 2.1.2.10)."""
    key = line.key("units")
    if key < 0:
        return
    state = run.state
    factor = INCH if key in (200, 700) else 1.0
    if run.strict or factor != state.factor:
        _refuse(run, line, "units", "a change of units")
    if not state.unit_said:
        run.unit_said_at = len(run.rows)
    elif factor != state.factor and len(run.rows):
        line.complain(
            "units-suspect",
            "the unit changes in the middle of the program",
            line.word_of("units"),
            "check that the feed is meant in the new unit, and F is given again",
            "warning",
        )
    if key in (700, 710):
        run.tell_once(line.fault("units-suspect", f"G{key // 10} is read as the older word for "
                                 f"{'inch' if key == 700 else 'mm'}",
                                 line.word_of("units"), None, "note"))  # fmt: skip
    state.unit_said = True
    state.factor = factor


def _compensation(run: Interpreter, line: Line) -> None:
    """G40 G41 G42: before the motion of the line (3.5.10, B.2.3)."""
    found = line.codes.get("compensation")
    slot = line.values.get("D")
    if found is None:
        if slot is not None and "D" not in line.used and run.strict:
            line.complain("ignored-word", "D stands without G41 or G42", line.words["D"])
            line.used.add("D")
        return
    code, word = found
    if code.effect == "blind":
        return
    if code.key == 400:
        run.end_compensation()
        run.state.compensation = 40
        return
    if run.state.plane != 17:
        line.complain("conflicting-words", "radius compensation outside the XY plane", word,
                      "write G17 first")  # fmt: skip
        return
    if run.state.compensation != 40:
        line.complain("conflicting-words", "radius compensation is on already", word,
                      "switch it off with G40 first",
                      "error" if run.strict else "warning")  # fmt: skip
        if run.strict:
            return
        run.end_compensation()
    radius = _tool_radius(run, line, code.key in (411, 421))
    if radius is None:
        return
    side = 1 if code.key in (410, 411) else -1
    if radius < 0.0:
        side, radius = -side, -radius
    state = run.state
    state.compensation = 41 if code.key in (410, 411) else 42
    state.compensation_radius = radius
    run.compensation = Compensation(
        run.carriage,
        side,
        radius,
        run.controller.concave == "refuse",
        max(run.arc_tolerance(1.0), 1e-9),
        run.carriage.place(),
    )


def _tool_radius(run: Interpreter, line: Line, direct: bool) -> float | None:
    """Radius for compensation, mm: half the diameter of slot D, of the tool, or of the bit."""
    value = line.take("D")
    word = line.words.get("D") or line.word_of("compensation")
    if direct:
        if value is None:
            line.complain("missing-word", "the diameter D is missing", word)
            return None
        return 0.5 * value * run.state.factor
    slot = as_integer(value) if value is not None else max(run.state.tool, 0)
    slots = run.controller.tool_slots
    if slot is None or slot < 0 or (slots is not None and slot > slots):
        line.complain("unreadable-line", f"D{value:g} is no slot of the tool table", word,
                      "D is a whole number, 0 or more")  # fmt: skip
        return None
    if value is not None and slot == 0:
        return 0.0
    diameter = run.tool_diameter(slot)
    if diameter is not None:
        return 0.5 * diameter
    if run.bit_radius is not None:
        run.assume(
            "compensation",
            f"radius compensation uses the radius of the declared bit, {run.bit_radius:g} mm; if D "
            "holds wear only (the path is the centre's already), declare the tool table",
        )
        return run.bit_radius
    line.complain(
        "missing-word",
        "radius compensation is switched on, but the radius is not declared; the path is followed "
        "as written",
        word,
        "declare the bit of this stage, or the tool table",
    )
    return 0.0


def _length(run: Interpreter, line: Line) -> None:
    """G43 G43.1 G44 G49 (3.5.11)."""
    found = line.codes.get("length")
    if found is None:
        return
    code, word = found
    state = run.state
    if code.key == 490:
        offset: float | None = 0.0
    elif code.key == 431:
        number = line.take("Z")
        if number is None:
            line.complain("missing-word", "G43.1 needs the offset as a Z word", word)
        offset = None if number is None else number * state.factor
    else:
        offset = _length_of_slot(run, line, code.key == 440)
    if offset is None or math.isnan(offset):
        return
    run.flush()
    state.length_words = code.name + _slot_words(line, code.key)
    state.length_offset = offset
    if not run.lengths_declared:
        state.z += state.spindle_length - offset
        state.spindle_length = offset
    state.set_shift()


def _slot_words(line: Line, key: int) -> str:
    letter = {430: "H", 431: "Z", 440: "H"}.get(key)
    value = None if letter is None else line.values.get(letter)
    return "" if value is None else f" {letter}{value:g}"


def _length_of_slot(run: Interpreter, line: Line, negative: bool) -> float | None:
    value = line.take("H")
    word = line.words.get("H") or line.word_of("length")
    state = run.state
    if value is None:
        level = "error" if run.strict else "warning"
        line.complain("missing-word", "G43 does not say which length: H is missing", word,
                      "write H and the number of the tool", level)  # fmt: skip
        if run.strict:
            return None
        value = float(max(state.tool, 0))
    slot = as_integer(value)
    slots = run.controller.tool_slots
    if slot is None or slot < 0 or (slots is not None and slot > slots):
        line.complain("unreadable-line", f"H{value:g} is no slot of the tool table", word,
                      "H is a whole number, 0 or more")  # fmt: skip
        return None
    if state.tool > 0 and slot not in (0, state.tool) and not run.strict:
        line.complain(
            "conflicting-words",
            f"H{slot} is the length of another tool: T{state.tool} is in the spindle",
            word,
            f"write H{state.tool}, unless the lengths are kept in other slots on purpose",
            "warning",
        )
    length = run.tool_length(slot)
    if length is None:
        run.assume("lengths", "tool length offsets are taken as set so that Z is the tip")
        return 0.0
    return -length if negative else length


def _system(run: Interpreter, line: Line) -> None:
    """G54 to G59.3, and G54.1 P (3.5.13)."""
    key = line.key("system")
    if key < 0:
        return
    system = {540: 1, 541: 0, 591: 7, 592: 8, 593: 9}.get(key, key // 10 - 53)
    if key == 541 or (key == 540 and "P" in line.values and not run.strict):
        number = as_integer(line.values["P"]) if "P" in line.values else None
        line.used.add("P")
        if number is None or number < 1:
            line.complain("missing-word", "G54.1 needs P and the number of the system",
                          line.word_of("system"))  # fmt: skip
            return
        system = 9 + number
    changed = system != run.state.system
    if (changed or run.strict) and _refuse(run, line, "system", "another coordinate system"):
        return
    run.flush()
    if not run.offsets.select(system):
        name = system_name(system)
        line.complain(
            "not-accepted",
            f"where the zero of {name} lies is not declared: places after it are not known",
            line.word_of("system"),
            f'declare it for the stage, such as offsets = {{ "{name}" = ["100 mm", "0 mm", '
            '"0 mm"] }, measured from the job\'s zero',
        )


def _path_control(run: Interpreter, line: Line) -> None:
    """G61 G61.1 G64 (3.5.14); P of G64 is the tolerance (common practice, no source)."""
    key = line.key("path")
    if key == 610:
        run.state.tolerance = EXACT_PATH
    elif key == 611:
        run.state.tolerance = 0.0
    elif key == 640:
        run.state.tolerance = NAN
        if not run.strict and (tolerance := line.take("P")) is not None and tolerance >= 0.0:
            run.state.tolerance = tolerance * run.state.factor
        elif run.strict:
            line.used.discard("P")
    elif key in (620, 630):
        run.state.tolerance = EXACT_PATH if key == 620 else NAN


def _distance(run: Interpreter, line: Line) -> None:
    key = line.key("distance")
    if key >= 0:
        run.state.absolute = key == 900
        run.distance_said = True
    key = line.key("centre")
    if key >= 0:
        run.state.centre_absolute = key == 901
    key = line.key("return")
    if key >= 0:
        run.state.return_level = key // 10


def check_inverse_time(run: Interpreter, line: Line, motion: int) -> None:
    """G93: F stands on every line that moves at feed (3.5.19)."""
    if run.state.feed_mode == 93 and motion in (10, 20, 30) and "F" not in line.values:
        line.complain(
            "no-feed",
            "in inverse time (G93) every line that moves at feed has its own F",
            line.word_of("motion"),
            "write F: 1 divided by the minutes the move takes",
        )


def stop(run: Interpreter, line: Line) -> None:
    """Step 21: M0 M1 M60 stop, M2 M30 end (3.6.1)."""
    found = line.codes.get("stop")
    if found is None:
        return
    code, _ = found
    run.flush()
    if code.key in (20, 300):
        end_program(run)
    elif code.key != 10 or run.optional_stop:
        run.carriage.stop(code.name)


def end_program(run: Interpreter) -> None:
    """Put back what M2 and M30 do: offsets, plane, modes, spindle, coolant (3.6.1)."""
    state = run.state
    run.end_compensation()
    run.spindle_at_end = state.turning
    state.turning = 0
    run.carriage.finish()
    run.offsets.clear_axis_offsets(forget=False)
    run.offsets.select(1)
    state.plane = 17
    state.absolute = True
    state.feed_mode = 94
    state.overrides = True
    state.compensation = 40
    state.motion = G1
    state.mist = state.flood = False
    run.ended = True
    ends.text_after_end(run)


def complain_of_strays(run: Interpreter, line: Line) -> None:
    """Tell of words nothing uses (from memory: the report's interpreter refuses them)."""
    used = line.used
    for letter in line.values:
        if letter in used or letter not in _SERVANTS:
            continue
        arc = letter in "IJKR" and run.state.motion in (0, 10, G80)
        line.complain(
            "ignored-word",
            f"nothing on the line uses {line.written(letter)}",
            line.words[letter],
            "a G2 or G3 may be missing" if arc else "delete it, or add the code it belongs to",
            "error" if run.strict else "warning",
        )


def leave_cycle(run: Interpreter, motion: int) -> None:
    """Forget the words a cycle remembers when another motion code comes into force."""
    if not is_cycle(motion) or (run.strict and motion != run.state.motion):
        run.cycle.clear()


#: Steps that only a code of their group asks for, in the order of Table 8; the dwell stands
#: between the first four and the rest.
_STEPS_OF_GROUPS: Final[tuple[tuple[str, Callable[[Interpreter, Line], None]], ...]] = (
    ("tool", _change_tool),
    ("spindle", _spindle),
    ("coolant", _coolant),
    ("overrides", _overrides),
    ("plane", _plane),
    ("units", _units),
    ("compensation", _compensation),
    ("length", _length),
    ("system", _system),
    ("path", _path_control),
    ("distance", _distance),
    ("centre", _distance),
    ("return", _distance),
)
