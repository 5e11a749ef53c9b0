"""Canned cycles: one line becomes the moves of one hole, or of several (NISTIR 6556 3.5.16).

Written for the XY plane with Z as depth; G18 drills along Y, G19 along X, everything else alike.
R, the depth, P, Q, I, J and K are remembered for later lines of the same cycle (3.5.16; P from
listing C.3, the others from memory), as the numbers written: they are read anew in the distance
mode then in force.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from dryrun.gcode.arcs import PLANE_AXES
from dryrun.gcode.expressions import as_integer
from dryrun.gcode.foreign import rotary_moves
from dryrun.gcode.line import Line
from dryrun.gcode.modes import dwell_seconds
from dryrun.gcode.moves import check_feed
from dryrun.gcode.state import EXACT_PATH
from dryrun.gcode.text import Fault
from dryrun.gcode.words import G_CODES
from dryrun.motion import LINE, RAPID

if TYPE_CHECKING:
    from dryrun.gcode.interpreter import Interpreter

_AXES: Final = "XYZ"
_DWELLING: Final = (820, 860, 880, 890)
_PECKING: Final = (830, 730)
_STOPPING: Final = (840, 860, 870, 880, 740, 760)
#: More pecks than this in one hole are a slip of the pen.
MOST_PECKS: Final = 10_000
#: More repeats than this of one hole at one place are, too.
MOST_REPEATS: Final = 1000


@dataclass(slots=True)
class Memory:
    """What a cycle remembers: code, numbers, the level before it began, where faults were told."""

    key: int = -1
    numbers: dict[str, float] = field(default_factory=dict)
    level: float = math.nan
    told: dict[str, tuple[int, int, int]] = field(default_factory=dict)

    def clear(self) -> None:
        """Forget everything."""
        self.key = -1
        self.numbers.clear()
        self.level = math.nan
        self.told.clear()


@dataclass(slots=True)
class Hole:
    """One hole: places along the plane's axes in the job frame, mm; dwell in s."""

    run: Interpreter
    axes: tuple[int, int, int]
    at: tuple[float, float]
    retract: float
    bottom: float
    clear: float
    dwell: float = 0.0
    peck: float = 0.0
    offset: tuple[float, float] = (0.0, 0.0)
    back: float = 0.0

    def along(self, depth: float, kind: int) -> None:
        """Move along the drilling axis."""
        place = list(self.run.carriage.place())
        place[self.axes[2]] = depth
        self._go(place, kind)

    def across(self, u: float, v: float) -> None:
        """Move across it, at rapid."""
        place = list(self.run.carriage.place())
        place[self.axes[0]], place[self.axes[1]] = u, v
        self._go(place, RAPID)

    def _go(self, place: list[float], kind: int) -> None:
        self.run.carriage.straight(kind, (place[0], place[1], place[2]))

    def wait(self) -> None:
        """Dwell, when there is one."""
        if self.dwell > 0.0:
            self.run.carriage.dwell(self.dwell)

    def spindle(self, turning: int, name: str) -> None:
        """Turn, reverse or stop the spindle."""
        self.run.state.turning = turning
        self.run.carriage.note({"t": "spindle", "v": name})


def cycle(run: Interpreter, line: Line, motion: int) -> None:
    """Carry out one line of a cycle."""
    try:
        _check_state(run, line, motion)
        hole, repeats, step = _read(run, line, motion)
    except Fault as fault:
        _tell_once(run, line, fault)
        line.used.update("XYZRLPQIJK")
        return
    carriage = run.carriage
    if step == (0.0, 0.0) and repeats > MOST_REPEATS:
        line.complain("endless-program", f"the same hole {repeats} times; it is made once",
                      line.words.get("L") or line.words.get("K"),
                      "repeats move on in G91 only")  # fmt: skip
        repeats = 1
    if run.strict:
        carriage.path_tolerance = EXACT_PATH
    start = carriage.place()[hole.axes[2]]
    if start < hole.retract:
        hole.along(hole.retract, RAPID)
    for _ in range(repeats):
        hole.at = (hole.at[0] + step[0], hole.at[1] + step[1])
        hole.across(*hole.at)
        hole.along(hole.retract, RAPID)
        _BODIES[motion](hole)
        run.check_limits()
        if run.ended:
            break
    carriage.path_tolerance = None


def _tell_once(run: Interpreter, line: Line, fault: Fault) -> None:
    """Tell what a cycle lacks at its first line only; the holes after it are counted there."""
    told = run.cycle.told
    # A line without a place of its own is another slip, and told for itself.
    if fault.code != "missing-word" or run.cycle.key < 0 or not line.axes():
        line.faults.append(fault)
    elif fault.message in told:
        run.tell(fault, told[fault.message])
    else:
        told[fault.message] = run.place_of(fault)
        line.faults.append(fault)


def _check_state(run: Interpreter, line: Line, motion: int) -> None:
    """Modes a cycle does not go with (3.5.16)."""
    state = run.state
    if state.feed_mode == 93:
        raise line.fault("conflicting-words", "a cycle in inverse time (G93)",
                         line.word_of("motion"), "switch to G94 first")  # fmt: skip
    if state.compensation != 40:
        raise line.fault("conflicting-words", "a cycle while radius compensation is on",
                         line.word_of("motion"), "switch it off with G40 first")  # fmt: skip
    if line.axes("ABC") and (run.strict or rotary_moves(run, line)):
        raise line.fault("conflicting-words", "a rotary axis moves on the line of a cycle",
                         line.words[line.axes("ABC")[0]])  # fmt: skip
    if not line.axes():
        raise line.fault("missing-word", "the cycle has neither X, Y nor Z: no hole is made",
                         line.word_of("motion"), "write where the hole is")  # fmt: skip
    check_feed(run, line)
    turning = state.turning
    if motion == 840 and turning != 1:
        line.complain("conflicting-words", "G84 taps, but the spindle does not turn clockwise",
                      line.word_of("motion"), "write M3 and S before it",
                      "error" if run.strict else "warning")  # fmt: skip
    elif motion in _STOPPING and motion != 740 and turning == 0:
        line.complain("conflicting-words", f"G{motion // 10} stops and restarts the spindle, but "
                      "it does not turn", line.word_of("motion"), "write M3 and S before it",
                      "error" if run.strict else "warning")  # fmt: skip


def _read(run: Interpreter, line: Line, motion: int) -> tuple[Hole, int, tuple[float, float]]:
    """From words to places (3.5.16): positions in G90, increments in G91."""
    state, memory = run.state, run.cycle
    u, v, n = PLANE_AXES[state.plane]
    first = memory.key != motion
    if first:
        _begin(run, memory, motion)
    repeats = _repeats(run, line, motion)
    numbers = _numbers(run, line, motion, _AXES[n], first)
    factor, shift = state.factor, (state.shift_x, state.shift_y, state.shift_z)
    place = run.carriage.place()
    steps = [0.0, 0.0]
    at = [place[u], place[v]]
    for index, axis in enumerate((u, v)):
        number = line.take(_AXES[axis])
        if number is None:
            continue
        if state.absolute:
            at[index] = number * factor + shift[axis]
        else:
            steps[index] = number * factor
    if state.absolute:
        retract, bottom = numbers["R"] * factor + shift[n], numbers["depth"] * factor + shift[n]
        back = numbers.get("K", 0.0) * factor + shift[n]
    else:
        run.stand_at_start(n)
        retract = run.carriage.place()[n] + numbers["R"] * factor
        bottom = retract + numbers["depth"] * factor
        back = bottom + numbers.get("K", 0.0) * factor
    _check_levels(run, line, retract, bottom)
    hole = Hole(run, (u, v, n), (at[0], at[1]), retract, bottom, 0.0)
    hole.clear = _clear_level(run, place[n], retract)
    hole.dwell = numbers.get("P", 0.0)
    hole.peck = abs(numbers.get("Q", 0.0)) * factor
    hole.offset = (numbers.get("I", 0.0) * factor, numbers.get("J", 0.0) * factor)
    if motion == 760 and hole.offset == (0.0, 0.0):
        hole.offset = (hole.peck, 0.0)
    hole.back = back
    if hole.peck and abs(retract - bottom) / hole.peck > MOST_PECKS:
        raise line.fault("conflicting-words", f"a peck of {hole.peck:g} mm would take more than "
                         f"{MOST_PECKS} strokes", line.words.get("Q"))  # fmt: skip
    return hole, repeats, (steps[0], steps[1])


def _begin(run: Interpreter, memory: Memory, motion: int) -> None:
    """Start a cycle; common practice carries numbers over from the cycle before."""
    if run.strict:
        memory.numbers.clear()
    if memory.key < 0:
        memory.level = run.carriage.place()[PLANE_AXES[run.state.plane][2]]
    memory.key = motion


def _clear_level(run: Interpreter, now: float, retract: float) -> float:
    """Old Z when it is above R and G98 is in force, else R.

    The report says "before the cycle started" (3.5.20): read as before the line (from memory).
    Common practice takes the level before the first of a series.
    """
    if run.state.return_level == 99:
        return retract
    old = now if run.strict or math.isnan(run.cycle.level) else run.cycle.level
    if math.isnan(old):
        return retract
    return max(old, retract)


def _repeats(run: Interpreter, line: Line, motion: int) -> int:
    value = line.take("L")
    letter = "L"
    if value is None and not run.strict and motion != 870 and "K" in line.values:
        value, letter = line.take("K"), "K"
    if value is None:
        return 1
    count = as_integer(value)
    if count is None or count < 0 or (count == 0 and run.strict):
        raise line.fault("unreadable-line", f"{letter}{value:g} is no number of repeats",
                         line.words[letter], "write a whole number, 1 or more")  # fmt: skip
    return count


def _numbers(
    run: Interpreter, line: Line, motion: int, depth: str, first: bool
) -> dict[str, float]:
    """Return the cycle's numbers, given now or remembered, and remember them."""
    numbers = run.cycle.numbers
    name = f"G{motion // 10}"
    word = line.word_of("motion")
    letters = G_CODES[motion].takes
    for letter in ("R", "Q", "I", "J", "K"):
        value = line.take(letter) if letter in letters else None
        if value is not None:
            numbers[letter] = value
    value = line.take(depth)
    if value is not None:
        numbers["depth"] = value
    dwell = dwell_seconds(run, line, "P") if "P" in letters else None
    if dwell is not None:
        numbers["P"] = dwell
    if "depth" not in numbers or (run.strict and first and value is None):
        raise line.fault("missing-word", f"{name} does not say how deep: {depth} is missing", word,
                         f"write {depth} and the depth on the first line of a cycle")  # fmt: skip
    if "R" not in numbers:
        _without_r(run, line, name)
    if motion in _DWELLING:
        _check_dwell(run, line, name)
    if motion in _PECKING:
        _check_peck(run, line, name)
    return dict(numbers)


def _without_r(run: Interpreter, line: Line, name: str) -> None:
    fault = line.fault("missing-word", f"{name} does not say where the feed begins: R is missing",
                       line.word_of("motion"),
                       "write R, a level just above the work; it is taken as the present "
                       "height")  # fmt: skip
    if run.strict:
        raise fault
    line.faults.append(fault)
    axis = PLANE_AXES[run.state.plane][2]
    run.cycle.numbers["R"] = run.state.program_position()[axis] if run.state.absolute else 0.0
    if math.isnan(run.cycle.numbers["R"]):
        del run.cycle.numbers["R"]
        line.faults.pop()
        raise fault


def _check_dwell(run: Interpreter, line: Line, name: str) -> None:
    numbers = run.cycle.numbers
    if "P" not in numbers:
        _tell_once(run, line, line.fault(
            "missing-word", f"{name} does not say how long to dwell: P is missing",
            line.word_of("motion"), "write P and the seconds",
            "error" if run.strict else "warning",
        ))  # fmt: skip
    elif numbers["P"] < 0.0:
        line.complain("unreadable-line", f"a dwell of {numbers['P']:g} s is negative",
                      line.words.get("P"))  # fmt: skip
        numbers["P"] = 0.0


def _check_peck(run: Interpreter, line: Line, name: str) -> None:
    """Q is the step of a peck and must be positive (3.5.16.4); practice also writes it negative."""
    peck = run.cycle.numbers.get("Q")
    if peck is None:
        _tell_once(run, line, line.fault(
            "missing-word", f"{name} does not say how deep to peck: Q is missing; the hole is made "
            "in one stroke", line.word_of("motion"), "write Q and the depth of one peck",
        ))  # fmt: skip
    elif peck == 0.0 or (peck < 0.0 and run.strict):
        line.complain("unreadable-line", f"a peck of {peck:g} is not positive",
                      line.words.get("Q"), "write Q as a positive depth")  # fmt: skip


def _check_levels(run: Interpreter, line: Line, retract: float, bottom: float) -> None:
    if retract < bottom:
        depth = _AXES[PLANE_AXES[run.state.plane][2]]
        line.complain(
            "conflicting-words",
            f"R is below the bottom of the hole, by {bottom - retract:.3f} mm",
            line.words.get("R") or line.words.get(depth) or line.word_of("motion"),
            "R is the level above the work where the feed begins"
            + ("" if run.state.absolute else "; in G91 R counts from the present height"),
        )


# ---- the bodies (3.5.16.2 to 3.5.16.10); each begins at R above the hole


def _drill(hole: Hole) -> None:
    """G81, and G82 with a dwell."""
    hole.along(hole.bottom, LINE)
    hole.wait()
    hole.along(hole.clear, RAPID)


def _peck(hole: Hole) -> None:
    """G83: out of the hole after each peck, back to a little above where it was."""
    run = hole.run
    out = hole.clear if run.controller.peck_return == "clear" else hole.retract
    depth = hole.retract
    step = hole.peck or math.inf
    while True:
        depth = max(depth - step, hole.bottom)
        hole.along(depth, LINE)
        hole.wait()
        if not depth > hole.bottom:
            break
        hole.along(out, RAPID)
        hole.along(min(depth + run.controller.peck_back_off, out), RAPID)
    hole.along(hole.clear, RAPID)


def _break_chips(hole: Hole) -> None:
    """G73: a short way back after each peck (common practice, no source)."""
    depth = hole.retract
    step = hole.peck or math.inf
    while True:
        depth = max(depth - step, hole.bottom)
        hole.along(depth, LINE)
        hole.wait()
        if not depth > hole.bottom:
            break
        hole.along(min(depth + hole.run.controller.chip_break, hole.retract), RAPID)
    hole.along(hole.clear, RAPID)


def _tap(hole: Hole) -> None:
    """G84: in turning clockwise, out turning back, at the same feed."""
    _tap_turning(hole, 1)


def _tap_left(hole: Hole) -> None:
    """G74: the mirror image of G84 (common practice, no source)."""
    if hole.run.state.turning != -1:
        hole.spindle(-1, "ccw")
    _tap_turning(hole, -1)


def _tap_turning(hole: Hole, turning: int) -> None:
    names = {1: "cw", -1: "ccw"}
    note = hole.run.carriage.note
    note({"t": "sync", "v": "start"})
    hole.along(hole.bottom, LINE)
    hole.wait()
    hole.spindle(0, "stop")
    hole.spindle(-turning, names[-turning])
    hole.along(hole.clear, LINE)
    note({"t": "sync", "v": "stop"})
    hole.spindle(0, "stop")
    hole.spindle(turning, names[turning])


def _bore(hole: Hole) -> None:
    """G85, and G89 with a dwell: feed out as well."""
    hole.along(hole.bottom, LINE)
    hole.wait()
    hole.along(hole.clear, LINE)


def _restart(hole: Hole, turning: int) -> None:
    hole.spindle(turning, {1: "cw", -1: "ccw", 0: "stop"}[turning])


def _bore_and_stop(hole: Hole) -> None:
    """G86: stop the spindle before going out at rapid."""
    turning = hole.run.state.turning
    hole.along(hole.bottom, LINE)
    hole.wait()
    hole.spindle(0, "stop")
    hole.along(hole.clear, RAPID)
    _restart(hole, turning)


def _bore_fine(hole: Hole) -> None:
    """G76: stop oriented, step aside, go out (common practice, no source)."""
    turning = hole.run.state.turning
    hole.along(hole.bottom, LINE)
    hole.wait()
    hole.spindle(0, "orient")
    hole.across(hole.at[0] + hole.offset[0], hole.at[1] + hole.offset[1])
    hole.along(hole.clear, RAPID)
    hole.across(*hole.at)
    _restart(hole, turning)


def _bore_back(hole: Hole) -> None:
    """G87: through the hole with the spindle stopped, cut upward to K (3.5.16.8)."""
    turning = hole.run.state.turning
    aside = (hole.at[0] + hole.offset[0], hole.at[1] + hole.offset[1])
    hole.across(*aside)
    hole.spindle(0, "orient")
    hole.along(hole.bottom, RAPID)
    hole.across(*hole.at)
    _restart(hole, turning)
    hole.along(hole.back, LINE)
    hole.along(hole.bottom, LINE)
    hole.spindle(0, "orient")
    hole.across(*aside)
    hole.along(hole.clear, RAPID)
    hole.across(*hole.at)
    _restart(hole, turning)


def _bore_by_hand(hole: Hole) -> None:
    """G88: stop at the bottom; the person takes the tool out, then the program goes on."""
    turning = hole.run.state.turning
    hole.along(hole.bottom, LINE)
    hole.wait()
    hole.spindle(0, "stop")
    hole.run.carriage.stop("manual-retract")
    _restart(hole, turning)


_BODIES: Final[dict[int, Callable[[Hole], None]]] = {
    730: _break_chips,
    740: _tap_left,
    760: _bore_fine,
    810: _drill,
    820: _drill,
    830: _peck,
    840: _tap,
    850: _bore,
    860: _bore_and_stop,
    870: _bore_back,
    880: _bore_by_hand,
    890: _bore,
}
