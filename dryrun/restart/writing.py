"""The restart program: what brings the machine back, then the rest of the original.

The rest is the original's own text where that can be, else it is written anew from the rows of
motion: plain G0 to G3 in absolute distances, in the program's unit and work system, without
cycles, calls, compensation, and axis offsets. Whether what was written does what the original does
is not judged here (see `reading_back`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final

from dryrun.gcode.arcs import PLANE_AXES, TURN
from dryrun.gcode.controller import Controller
from dryrun.gcode.program import Program
from dryrun.gcode.state import EXACT_PATH, INCH, ModalState
from dryrun.gcode.watch import Mark, Standing
from dryrun.motion import ARC, DWELL, END, LINE, RAPID, STOP, TOOL, Motion
from dryrun.restart.numbers import number_for, written
from dryrun.restart.places import mark_at, marks_from

_AXES: Final = "XYZ"
_OFFSETS: Final = "IJK"
_PLANES: Final = {normal: (plane, u, v) for plane, (u, v, normal) in PLANE_AXES.items()}

#: Longest comment written.
_REMARK: Final = 76

#: Codes that rows and marks carry, or that mean nothing once rows are written out.
CARRIED: Final = frozenset({
    "G0", "G1", "G2", "G3", "G4", "G9", "G17", "G18", "G19", "G20", "G21", "G40", "G41", "G42",
    "G41.1", "G42.1", "G43", "G43.1", "G44", "G49", "G52", "G53", "G54", "G55", "G56", "G57",
    "G58", "G59", "G59.1", "G59.2", "G59.3", "G54.1", "G61", "G61.1", "G64", "G65", "G70", "G71",
    "G73", "G74", "G76", "G80", "G81", "G82", "G83", "G84", "G85", "G86", "G87", "G88", "G89",
    "G90", "G91", "G90.1", "G91.1", "G92", "G92.1", "G92.2", "G92.3", "G93", "G94", "G95", "G98",
    "G99", "G10", "G28", "G30", "G28.1", "G30.1", "M0", "M1", "M2", "M3", "M4", "M5", "M6", "M7",
    "M8", "M9", "M17", "M30", "M48", "M49", "M97", "M98", "M99",
})  # fmt: skip


@dataclass(frozen=True, slots=True)
class Start:
    """What the beginning of a restart program needs to know.

    Attributes
    ----------
    program : the original
    standing : how things stood where it goes on
    remarks : lines of plain words for its head
    high : height to cross at, job frame of the motion as read, mm
    seconds : to wait for the spindle; 0 not at all
    changed : whether the original changed the tool before
    """

    program: Program
    standing: Standing
    remarks: Sequence[str]
    high: float
    seconds: float
    changed: bool


def remark(text: str) -> str:
    """Make a comment that nothing in `text` can break out of."""
    # A dryrun: comment would be read as one that accepts findings.
    plain = "".join(c if c.isascii() and c.isprintable() and c not in "()[]{};%:" else " "
                    for c in text)  # fmt: skip
    return f"({' '.join(plain.split())[:_REMARK]})"


class Writer:
    """Writes lines and keeps where a reader of them would be.

    Attributes
    ----------
    lines : list of str
    place : [x, y, z]
        Where a reader is after the lines so far, job frame, mm; NaN not known yet.
    """

    def __init__(self, controller: Controller, state: ModalState, decimals: int) -> None:
        """Write in the state's unit and work system, without its G92 and G52 offsets."""
        self.lines: list[str] = []
        self.controller = controller
        self.factor = state.factor
        self.decimals = decimals
        self.origin = list(state.origin)
        self.origin[2] += state.length_offset - state.spindle_length
        self.place = [math.nan] * 3
        self.point = controller.decimal_point != "free"

    def say(self, *words: str) -> None:
        """Write one line of words; empty ones are left out."""
        line = " ".join(word for word in words if word)
        if line:
            self.lines.append(line)

    def to(self, axis: int, wanted: float) -> str:
        """Return the word that leads an axis to a place, and take it to be there."""
        number = number_for(wanted, self.factor, self.origin[axis], self.decimals)
        self.place[axis] = number * self.factor + self.origin[axis]
        return _AXES[axis] + written(number, point=self.point)

    def moved(self, axis: int, wanted: float) -> str:
        """Return the word that leads an axis to a place, "" when it is there already."""
        before = self.place[axis]
        word = self.to(axis, wanted)
        return "" if self.place[axis] == before else word

    def offset(self, axis: int, centre: float) -> str:
        """Return the word for an arc's centre, counted from where the reader is."""
        number = number_for(centre, self.factor, self.place[axis], self.decimals)
        return _OFFSETS[axis] + written(number, point=self.point)

    def dwell(self, seconds: float) -> str:
        """Return a dwell in the controller's unit."""
        if self.controller.dwell_unit == "ms":
            return f"G4 P{max(1, round(1000 * seconds))}" if seconds > 0 else "G4 P0"
        return f"G4 P{written(round(seconds, 4))}"

    def feed(self, mm_min: float) -> str:
        """Return an F word for a feed per minute."""
        return "F" + written(number_for(mm_min, self.factor, 0.0, 9))


def path_words(tolerance: float, factor: float) -> str:
    """Return the words of a path mode."""
    if math.isnan(tolerance):
        return "G64"
    if tolerance == 0.0:
        return "G61.1"
    if tolerance == EXACT_PATH:
        return "G61"
    return f"G64 P{written(number_for(tolerance, factor, 0.0, 9))}"


def spindle_words(turning: int, speed: float) -> str:
    """Return the words that turn the spindle, or stop it."""
    if not turning:
        return "M5"
    start = "M3" if turning > 0 else "M4"
    return start if math.isnan(speed) else f"S{written(speed)} {start}"


# ---------------------------------------------------------------- the beginning


def beginning(start: Start, mark: Mark, decimals: int) -> Writer:
    """Write the head, the modal state, and the way to where the original goes on."""
    state, program = start.standing.state, start.program
    writer = Writer(program.controller, state, decimals)
    say, used = writer.say, program.words
    if program.text.lstrip().startswith("%"):
        say("%")
    for text in start.remarks:
        say(remark(text))
    unit = "G20" if state.factor == INCH else "G21"
    say(unit, f"G{state.plane}", "G90", "G94", "G40", "G80" if _cycles(program) else "")
    say("G91.1" if used["G90.1"] + used["G91.1"] else "")
    say(_path(state, program))
    say(start.standing.system)
    say("G92.1" if _shifts(program) else "")
    say("G52 X0 Y0 Z0" if used["G52"] else "")
    if start.changed:
        say(f"T{state.tool}" if state.tool >= 0 else "", "M6")
    length = mark.length
    if length.startswith("G43.1"):
        say(length)
        length = ""
    say("G0", length, writer.to(2, start.high))
    x, y, z = state.x, state.y, state.z
    say("G0", writer.to(0, x), writer.to(1, y))
    _spin(writer, state, start.seconds)
    say("M7" if state.mist else "")
    say("M8" if state.flood else "")
    say("" if state.overrides else "M49")
    if writer.place[2] != z:
        say("G0", writer.to(2, z))
    return writer


def _spin(writer: Writer, state: ModalState, seconds: float) -> None:
    if state.turning:
        writer.say(spindle_words(state.turning, state.speed))
        if seconds > 0.0:
            writer.say(writer.dwell(seconds))
    elif not math.isnan(state.speed) and state.speed > 0.0:
        writer.say(f"S{written(state.speed)}")


def _path(state: ModalState, program: Program) -> str:
    used = program.words
    if used["G61"] + used["G61.1"] + used["G64"] == 0 and math.isnan(state.tolerance):
        return ""
    return path_words(state.tolerance, state.factor)


def _cycles(program: Program) -> bool:
    return any(program.words[f"G{code}"] for code in (73, 74, 76, *range(80, 90)))


def _shifts(program: Program) -> bool:
    return any(program.words[code] for code in ("G92", "G92.1", "G92.2", "G92.3"))


def rest_of_state(writer: Writer, start: Start) -> None:
    """Write the modes that only the original's own text needs, last of all."""
    state, used = start.standing.state, start.program.words
    writer.say("G90.1" if state.centre_absolute else "")
    writer.say(f"G{state.return_level}" if used["G98"] + used["G99"] else "")
    writer.say(f"G{state.feed_mode}" if state.feed_mode != 94 else "")
    if state.feed > 0.0 and state.feed_mode != 93:
        writer.say(f"F{written(state.feed)}")
    if state.selected >= 0 and state.selected != state.tool:
        writer.say(f"T{state.selected}")
    writer.say("" if state.absolute else "G91")


# ---------------------------------------------------------------- the rest, from rows


@dataclass(slots=True)
class _Now:
    """What the lines written so far have put in force."""

    plane: int
    feed: float = math.nan
    turning: int = 0
    speed: float = math.nan
    tolerance: float = math.nan
    code: str = ""
    mark: Mark | None = None
    waiting: list[Mark] = field(default_factory=list)


def one_turn_at_most(motion: Motion) -> Motion:
    """Return the rows with arcs of several turns as one row for each turn or part of one."""
    import numpy as np

    turns = np.where(motion.kind == ARC, np.ceil(np.abs(motion.sweep) / TURN - 1e-9), 1)
    pieces = np.maximum(turns, 1).astype(int)
    if (pieces == 1).all():
        return motion
    parts = []
    for row, count in enumerate(pieces.tolist()):
        part = motion.rows(np.full(count, row))
        parts.append(part if count == 1 else _turns(part, count))
    return Motion.concatenate(parts)


def _turns(part: Motion, count: int) -> Motion:
    """Whole turns first, the rest last; the height goes with the angle."""
    from dataclasses import replace

    sweep = part.sweep.copy()
    whole = math.copysign(TURN, float(sweep[0]))
    total = float(sweep[0])
    sweep[:-1] = whole
    sweep[-1] = total - whole * (count - 1)
    start, end, centre = part.start.copy(), part.end.copy(), part.centre.copy()
    normal = int(part.axis[0])
    low, high = float(start[0, normal]), float(end[0, normal])
    for turn in range(count - 1):
        end[turn] = start[turn]
        end[turn, normal] = low + (high - low) * (whole * (turn + 1) / total)
        start[turn + 1] = end[turn]
        centre[turn + 1, normal] = start[turn + 1, normal]
    return replace(part, start=start, end=end, centre=centre, sweep=sweep)


def rows_as_text(
    writer: Writer, motion: Motion, marks: Sequence[Mark], row: int, start: Start
) -> None:
    """Write the rows from one on as plain lines.

    `motion` is the whole program's, as read; marks count its rows.
    """
    state = start.standing.state
    now = _Now(state.plane, turning=state.turning, speed=state.speed, tolerance=state.tolerance)
    now.mark = mark_at(marks, row)
    now.waiting = list(marks_from(marks, row))[::-1]
    now.code = "G0"
    writer.say(remark("the lines named below are those of the original"))
    table = _columns(motion, row)
    for number, one in enumerate(table, start=row):
        _settings(writer, now, number, one)
        _row(writer, now, one, start.program)


@dataclass(slots=True)
class _Row:
    kind: int
    end: list[float]
    centre: list[float]
    axis: int
    sweep: float
    feed: float
    spindle: float
    tool: int
    seconds: float
    tolerance: float
    line: int


def _columns(motion: Motion, first: int) -> Iterator[_Row]:
    """Yield rows one by one, a piece of the table at a time."""
    for begin in range(first, len(motion), 65_536):
        part = motion.rows(slice(begin, begin + 65_536))
        columns = (
            part.kind, part.end, part.centre, part.axis, part.sweep, part.feed, part.spindle,
            part.tool, part.seconds, part.tolerance, part.line,
        )  # fmt: skip
        for values in zip(*(column.tolist() for column in columns), strict=True):
            yield _Row(*values)


def _settings(writer: Writer, now: _Now, number: int, row: _Row) -> None:
    """Write what changes before a row: coolant, length, path mode, spindle."""
    while now.waiting and now.waiting[-1].early <= number:
        new = now.waiting.pop()
        old = now.mark
        assert old is not None
        if (new.flood, new.mist) != (old.flood, old.mist) and row.kind != END:
            if (old.flood and not new.flood) or (old.mist and not new.mist):
                writer.say("M9")
                old = old._replace(flood=False, mist=False)
            writer.say("M7" if new.mist and not old.mist else "")
            writer.say("M8" if new.flood and not old.flood else "")
        if new.overrides != old.overrides and row.kind != END:
            writer.say("M48" if new.overrides else "M49")
        if new.length != old.length:
            writer.say(new.length)
            writer.place[2] = math.nan  # the tip is elsewhere with another length
        now.mark = new
    if row.kind == END:
        return
    if row.kind != TOOL and _differs(row.tolerance, now.tolerance):
        writer.say(path_words(row.tolerance, writer.factor))
        now.tolerance = row.tolerance
    turning = (row.spindle > 0) - (row.spindle < 0)
    if row.kind != TOOL and (turning, abs(row.spindle)) != (
        now.turning, now.speed if now.turning else 0.0,
    ):  # fmt: skip
        writer.say(spindle_words(turning, abs(row.spindle)))
        now.turning = turning
        now.speed = abs(row.spindle) if turning else now.speed


def _differs(one: float, other: float) -> bool:
    return one != other and not (math.isnan(one) and math.isnan(other))


def _row(writer: Writer, now: _Now, row: _Row, program: Program) -> None:
    if row.kind in (RAPID, LINE):
        _straight(writer, now, row)
    elif row.kind == ARC:
        _arc(writer, now, row)
    elif row.kind == DWELL:
        writer.say(writer.dwell(row.seconds))
    elif row.kind == STOP:
        writer.say("M0")
    elif row.kind == TOOL:
        writer.say(f"T{row.tool}" if row.tool >= 0 else "", "M6")
        now.turning = 0
    elif row.kind == END:
        writer.say("M5" if now.turning else "")
        writer.say("M9" if now.mark is not None and (now.mark.flood or now.mark.mist) else "")
        writer.say("M2" if program.words["M2"] and not program.words["M30"] else "M30")
        if program.text.lstrip().startswith("%"):
            writer.say("%")


def _straight(writer: Writer, now: _Now, row: _Row) -> None:
    code = "G0" if row.kind == RAPID else "G1"
    if code == "G0" and now.code != "G0":
        writer.say(remark(f"line {row.line}"))
    words = [writer.moved(axis, row.end[axis]) for axis in range(3)]
    if not any(words):  # too short for so few decimals
        words = [writer.to(2, row.end[2])]
    writer.say(code if code != now.code else "", *words, _feed(writer, now, row))
    now.code = code


def _arc(writer: Writer, now: _Now, row: _Row) -> None:
    plane, u, v = _PLANES[row.axis]
    if plane != now.plane:
        writer.say(f"G{plane}")
        now.plane = plane
    code = "G3" if row.sweep > 0 else "G2"
    centre = [writer.offset(axis, row.centre[axis]) for axis in sorted((u, v))]
    words = [
        writer.to(axis, row.end[axis]) if axis in (u, v) else writer.moved(axis, row.end[axis])
        for axis in range(3)
    ]
    writer.say(code if code != now.code else "", *words, *centre, _feed(writer, now, row))
    now.code = code


def _feed(writer: Writer, now: _Now, row: _Row) -> str:
    if row.kind == RAPID or math.isnan(row.feed) or row.feed == now.feed:
        return ""
    now.feed = row.feed
    return writer.feed(row.feed)
