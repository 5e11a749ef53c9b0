"""The interpreter: one line after another, changing the modal state and making rows of motion.

It is complete by itself. Lines that hold nothing but a plain G0 to G3 move take a short way
(`plain`); everything else is read into a block, worked out, checked and carried out in the fixed
order of NISTIR 6556 3.8. After a fault reading goes on: a line that cannot be read is passed over
as a whole, an arc that cannot be worked out is followed as a straight line to its end, and what
cannot be known is NaN until the program gives it again.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from dryrun.finding import Finding
from dryrun.gcode import cycles, flow, modes, moves, setting
from dryrun.gcode.arcs import TURN
from dryrun.gcode.blocks import Block, read_block
from dryrun.gcode.carriage import Carriage, Place
from dryrun.gcode.compensation import Compensation
from dryrun.gcode.controller import REPORT, Controller, Tool
from dryrun.gcode.line import Line, is_cycle, work_out
from dryrun.gcode.notes import Notes, level_of
from dryrun.gcode.offsets import Offsets
from dryrun.gcode.parameters import Parameters
from dryrun.gcode.plain import Plain
from dryrun.gcode.state import G80, INCH, ModalState, RowBuffer
from dryrun.gcode.subprograms import Frame, Subprograms
from dryrun.gcode.text import Fault, columns, message_of
from dryrun.gcode.words import AXIS_USERS_ONCE, PROBES, Code
from dryrun.motion import LINE

#: A program that repeats itself and is farther away than this (mm) runs away.
RUNAWAY: Final = 1e6
_AXES: Final = "XYZ"
#: First characters of lines that speak to the controller itself (common practice, no source).
_COMMANDS: Final = frozenset("$?!~@{")


@dataclass(slots=True)
class Source:
    """One text: the program, or a subprogram file."""

    name: str | None
    lines: list[str]
    blocks: dict[int, Block] = field(default_factory=dict)
    structure: flow.Structure | None = None


@dataclass(frozen=True, slots=True)
class Given:
    """What is known before the program starts; see `program.read_program`."""

    controller: Controller
    unit: str = "mm"
    work_zero: tuple[float, float, float] | None = None
    offsets: Mapping[str, tuple[float, float, float]] | None = None
    tools: Mapping[int, Tool] | None = None
    block_delete: bool = False
    optional_stop: bool = False
    start: tuple[float, float, float] | None = None
    bit_radius: float | None = None
    folder: Path | None = None
    parameters: Mapping[int, float] | None = None
    trace: bool = False


class Interpreter:
    """One run over one program."""

    def __init__(self, name: str | None, lines: list[str], given: Given) -> None:
        self.given = given
        self.controller = given.controller
        self.strict = given.controller.to_the_letter
        self.state = ModalState()
        self.rows = RowBuffer()
        self.carriage = Carriage(self.state, self.rows)
        self.parameters = Parameters(self.controller)
        self.offsets = Offsets(self.state, self.parameters, self.controller, given.work_zero)
        self.notes = Notes()
        self.sources = [Source(name, lines)]
        self.subprograms = Subprograms(self, given.folder)
        self.frames = [Frame()]
        self.cycle = cycles.Memory()
        self.compensation: Compensation | None = None
        self.codes: Counter[str] = Counter()
        self.assumed: dict[str, str] = {}
        self.messages: list[str] = []
        self.comments: list[str] = []
        self.rotary: dict[str, float] = {}
        #: Axes whose place was lost by going to machine coordinates that are not known.
        self.lost = [False, False, False]
        self.source = 0
        self.index = 0
        self.block = Block("")
        self.ended = False
        self.repeating = False
        self.opened = False
        self.blocks_run = 0
        self.optional_stop = given.optional_stop
        self.bit_radius = given.bit_radius
        self.tool_words = 0
        self.tool_changes = 0
        self.feed_is_old = False
        self.plane_said = self.distance_said = self.probed = self.z_said = False
        self.unit_said_at = -1
        self.spindle_at_end = 0
        self._tools = dict(given.tools or {})
        self._seen_states: dict[tuple[int, int], tuple[object, ...]] = {}
        self._rows_seen = self._blocks_at_rows = 0
        self._rows_before_repeats = -1
        self._plain = Plain(self)
        self._start()

    def _start(self) -> None:
        state, given = self.state, self.given
        unit = self.controller.default_unit or given.unit
        state.factor = INCH if unit == "in" else 1.0
        state.centre_absolute = self.controller.centre_mode == "absolute"
        if self.controller.start_motion is not None:
            state.motion = 10 * self.controller.start_motion
        if self.strict:
            state.feed, state.speed, state.tool = 0.0, 0.0, 0
        self.parameters.live = self.offsets.live
        self.parameters.on_unset = self._unset
        self.offsets.declare(given.offsets, given.parameters)
        if given.start is not None:
            state.x, state.y, state.z = given.start
        if given.trace:
            self.carriage.trace = []

    # ---- the run

    def run(self) -> None:
        """Run the program to its end."""
        self._skip_leader()
        while not self.ended:
            lines = self.sources[self.source].lines
            if self.index >= len(lines):
                self._end_of_text()
                continue
            self._plain.run(lines)
            if self.index < len(lines) and not self.ended:
                self._step(lines[self.index])
        self.end_compensation()

    def _step(self, raw: str) -> None:
        self.index += 1
        self.blocks_run += 1
        self.carriage.line, self.carriage.source = self.index, self.source
        block = self._read(raw)
        self.block = block
        try:
            if block.code[:1] == "%":
                self._percent(block)
            elif block.fault is not None:
                self._unreadable(block)
            else:
                self._run_block(block)
        except Fault as fault:
            self.tell(fault)

    def _read(self, raw: str) -> Block:
        source = self.sources[self.source]
        block = source.blocks.get(self.index)
        if block is None:
            block = read_block(raw, self.controller)
            if self.repeating or block.keyword is not None:
                source.blocks[self.index] = block
        return block

    def _unreadable(self, block: Block) -> None:
        fault = block.fault
        assert fault is not None
        if not self.strict and block.raw.lstrip()[:1] in _COMMANDS:
            self.tell_once(
                Fault(
                    "ignored-word",
                    "a line for the controller itself, not for motion, is passed over",
                    0,
                    len(block.code),
                    level="note",
                )
            )
            return
        help = (fault.help + "; " if fault.help else "") + "the line is passed over as a whole"
        self.tell(
            Fault(
                fault.code, fault.message, fault.start, fault.end, help,
                raw=fault.raw, level=fault.level,
            )
        )  # fmt: skip

    def _run_block(self, block: Block) -> None:
        for note in block.notes:
            self.tell(note)
        if block.slash and self.given.block_delete:
            return
        if block.label is not None and block.keyword is None:
            self._label(block)
        if block.keyword is not None and not flow.carry_out(self, block):
            return
        if block.words or block.settings:
            line = work_out(block, self.parameters, self.controller)
            self._settings(block)
            self._comment(block)
            self._carry_out(line)
        else:
            self._comment(block)

    def _settings(self, block: Block) -> None:
        """All values of the line are fetched before any setting acts (3.3.3)."""
        pending: list[tuple[int | str, float]] = []
        for one in block.settings:
            value = one.value if isinstance(one.value, float) else one.value(self.parameters)
            if isinstance(one.index, str):
                pending.append((one.index, value))
                continue
            index = one.index if isinstance(one.index, float) else one.index(self.parameters)
            whole = flow_index(index, self.parameters, one.start, one.end)
            pending.append((whole, value))
        for target, value in pending:
            if isinstance(target, str):
                self.parameters.write_named(target, value)
            else:
                self.parameters.write(target, value)
                if target >= 5161:
                    self.offsets.written(target, value)

    def _comment(self, block: Block) -> None:
        """Only the last comment of a line is used (3.3.5)."""
        if not block.comments:
            return
        message = message_of(block.comments[-1])
        if message is not None:
            self.messages.append(message)
        elif len(self.comments) < 100_000:
            self.comments.append(block.comments[-1])

    # ---- one line (3.8, Table 8)

    def _carry_out(self, line: Line) -> None:
        try:
            if line.key("once") == 650:
                self.subprograms.macro(line)
                return
            if not line.codes and self.subprograms.letter(line):
                return
            self._count(line)
            self._points(line)
            self._special(line)
            motion = self._motion_of(line)
            modes.check_inverse_time(self, line, motion)
            modes.settings_before_motion(self, line)
            setting.once(self, line)
            if line.key("once") == 310:
                moves.probe(self, line)
            elif motion >= 0:
                self._move(line, motion)
            self.subprograms.call(line)
            modes.complain_of_strays(self, line)
            modes.stop(self, line)
        finally:
            for fault in line.faults:
                self.tell(fault)
            self.carriage.exact_stop = False

    def _move(self, line: Line, motion: int) -> None:
        if line.key("once") == 530:
            self._check_machine_move(line, motion)
        if motion in (0, 10):
            moves.straight(self, line, motion)
        elif motion in (20, 30):
            if line.key("once") == 530:
                moves.straight(self, line, 10)
            else:
                moves.arc(self, line, motion)
        elif motion in PROBES:
            moves.probe(self, line)
        elif is_cycle(motion):
            self.flush()
            cycles.cycle(self, line, motion)
        else:
            self.move(LINE, self.target(line))
        self._other_axes(line)

    def _check_machine_move(self, line: Line, motion: int) -> None:
        """G53 goes with G0 or G1 only, and not with compensation (3.5.12)."""
        if motion not in (0, 10):
            line.complain("conflicting-words", "G53 needs G0 or G1, on its line or in force",
                          line.word_of("once"), "write G53 G0 ...")  # fmt: skip
        if self.state.compensation != 40:
            line.complain("conflicting-words", "G53 while radius compensation is on",
                          line.word_of("once"), "switch compensation off with G40 first")  # fmt: skip

    def _motion_of(self, line: Line) -> int:
        """Which motion the line makes, as ten times its code; -1 none (3.4)."""
        explicit = line.key("motion")
        once = line.key("once")
        axes = line.axes("XYZABC")
        if once == 40 and not self.strict and "P" not in line.values and explicit < 0:
            axes = [a for a in axes if a != "X"]
        taken = once in AXIS_USERS_ONCE or line.key("length") == 431
        if explicit >= 0:
            modes.leave_cycle(self, explicit)
            if taken and explicit != G80 and self.strict:
                line.complain(
                    "conflicting-words",
                    f"{line.codes['motion'][0].name} and {self._taker(line).name} both claim the "
                    "axis words of the line",
                    line.word_of("motion"),
                    "put them on two lines",
                )
            if not (taken and self.strict):
                self.state.motion = explicit
        if taken:
            return -1
        return self._free_motion(line, explicit, axes)

    def _taker(self, line: Line) -> Code:
        return line.codes["once" if "once" in line.codes else "length"][0]

    def _free_motion(self, line: Line, explicit: int, axes: list[str]) -> int:
        state = self.state
        if axes:
            if explicit == G80:
                line.complain("conflicting-words", f"{axes[0]} stands beside G80, which moves "
                              "nothing", line.words[axes[0]],
                              "delete the axis words, or G80")  # fmt: skip
                line.used.update(axes)
                return -1
            if state.motion == G80:
                self._no_motion_code(line, axes)
            return state.motion
        if line.key("once") == 530 and self.strict:
            line.complain("missing-word", "G53 moves no axis", line.word_of("once"))
        centre = {"I", "J", "K"} & set(line.values)
        if state.motion in (20, 30) and (explicit >= 0 or not self.strict) and centre:
            return state.motion
        if explicit >= 0 and explicit != G80 and (self.strict or is_cycle(explicit)):
            if is_cycle(explicit) or explicit in (20, 30):
                return explicit
            name = line.codes["motion"][0].name
            line.complain("missing-word", f"{name} moves no axis: X, Y and Z are missing",
                          line.word_of("motion"), "write the axis words on its line")  # fmt: skip
        return -1

    def _no_motion_code(self, line: Line, axes: list[str]) -> None:
        """Axis words while no motion code is in force."""
        first = "G80" not in self.codes
        help = "write G0 or G1 on the line"
        if self.strict:
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
            self.assume("motion", "axis words before any motion code move at rapid (G0)")
        self.state.motion = 0

    def _count(self, line: Line) -> None:
        for code, _ in line.codes.values():
            self.codes[code.name] += 1
        for code, _ in line.others:
            self.codes[code.name] += 1

    def _points(self, line: Line) -> None:
        """Numbers without a decimal point, where the controller reads them its own way."""
        rule = self.controller.decimal_point
        if rule == "free":
            return
        for letter in "XYZIJKRQUVW":
            word = line.words.get(letter)
            if word is None or not isinstance(word.value, float) or "." in line.written(letter):
                continue
            if rule == "increments":
                inch = self.state.factor != 1.0 or line.key("units") in (200, 700)
                line.values[letter] *= (
                    0.1 * self.controller.increment if inch else (self.controller.increment)
                )
            elif line.values[letter] != 0.0:
                line.complain("unreadable-line", f"{line.written(letter)} has no decimal point",
                              word, f"write {line.written(letter)}.0")  # fmt: skip

    def _special(self, line: Line) -> None:
        """Codes that do nothing to the path, or something that is not worked out here."""
        if line.values.get("Z") is not None:
            self.z_said = True
        found = [*line.codes.values(), *line.others]
        for code, word in found:
            if code.effect == "does":
                continue
            if code.effect == "inert":
                fault = line.fault("ignored-word", f"{code.name} ({code.title}) does nothing to "
                                   "the path and is passed over", word, None, "note")  # fmt: skip
            elif code.effect == "elsewhere":
                fault = self._elsewhere(line, code)
            else:
                fault = self._blind(line, code)
            line.used.update(set(code.takes) - set("FS"))
            self.tell_once(fault)
            if code.axes and code.group != "motion":
                line.used.update("XYZ")

    def _elsewhere(self, line: Line, code: Code) -> Fault:
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

    def _blind(self, line: Line, code: Code) -> Fault:
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

    # ---- axes that are not X, Y or Z

    def rotary_moves(self, line: Line) -> bool:
        """Whether a rotary axis really turns on the line."""
        return any(
            line.values[a] != (self.rotary.get(a, 0.0) if self.state.absolute else 0.0)
            for a in line.axes("ABC")
        )

    def _other_axes(self, line: Line) -> None:
        moving = self.rotary_moves(line)
        for letter in line.axes("ABC"):
            self._rotary(line, letter, moving)
        for letter in line.axes("UVW"):
            value = line.take(letter)
            self.tell_once(line.fault(
                "not-accepted", f"{letter} moves a second axis, which is not followed here",
                line.words[letter], "write the move with X, Y and Z",
                "error" if value else "warning"))  # fmt: skip
        if "E" in line.values and "E" not in line.used:
            self._extruder(line)

    def _rotary(self, line: Line, letter: str, moving: bool) -> None:
        value = line.take(letter)
        assert value is not None
        if not self.controller.takes("rotary-axes"):
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
        self.rotary[letter] = (
            value if self.state.absolute else (self.rotary.get(letter, 0.0) + value)
        )
        self.tell_once(fault)

    def _extruder(self, line: Line) -> None:
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
        self.tell_once(fault)

    # ---- what the steps ask for

    def base(self) -> Place:
        """Return where the programmed point is (the tip, unless compensation is on)."""
        if self.compensation is not None:
            return self.compensation.programmed
        return self.carriage.place()

    def target(self, line: Line) -> Place:
        """Return where the axis words of the line lead, job frame, mm."""
        state = self.state
        place = list(self.base())
        shift = (state.shift_x, state.shift_y, state.shift_z)
        for axis, letter in enumerate(_AXES):
            number = line.take(letter)
            if number is None:
                continue
            if state.absolute:
                place[axis] = number * state.factor + shift[axis]
                self.lost[axis] = False
            else:
                if number != 0.0 and math.isnan(place[axis]):
                    self.stand_at_start(axis)
                    place[axis] = self.base()[axis]
                place[axis] = place[axis] + number * state.factor
        return place[0], place[1], place[2]

    def move(self, kind: int, end: Place) -> None:
        """Move straight, along the compensated path if it is on."""
        compensation = self.compensation
        if compensation is None:
            self.carriage.straight(kind, end)
            return
        try:
            compensation.straight(kind, end)
        except Fault as fault:
            self._tell_at_move(fault)
            if not compensation.started:
                self.carriage.straight(kind, end)

    def move_round(self, centre: Place, normal: int, sweep: float, end: Place) -> None:
        """Move along an arc, along the compensated path if it is on."""
        compensation = self.compensation
        if compensation is None:
            self.carriage.arc(centre, normal, sweep, end)
            return
        before = compensation.programmed
        try:
            compensation.arc((centre[0], centre[1]), sweep, end)
        except Fault as fault:
            self._tell_at_move(fault)
            if compensation.held is None or compensation.held.corner != (end[0], end[1]):
                compensation.programmed = before
                self.move(LINE, end)

    def _tell_at_move(self, fault: Fault) -> None:
        """Tell a fault of the path at the first word that moves."""
        for word in self.block.words:
            if word.letter in "XYZIJR":
                fault.start, fault.end = word.start, word.end
                break
        self.tell(fault)

    def flush(self) -> None:
        """Let the compensated path catch up."""
        if self.compensation is not None:
            self.compensation.finish()

    def end_compensation(self) -> None:
        """Switch radius compensation off; there is no exit move (B.6)."""
        self.flush()
        self.compensation = None

    def stand_at(self, axis: int, reading: float) -> None:
        """G92 or G10 L20 before anything is known: the machine stands at that reading."""
        state = self.state
        if self.lost[axis] or not math.isnan(self.carriage.place()[axis]):
            return
        shift = (state.shift_x, state.shift_y, state.shift_z)[axis]
        self._put(axis, reading * state.factor + shift)
        self.assume("start", "the machine stands at the job's zero when the program starts")

    def stand_at_start(self, axis: int) -> None:
        """Take the machine to start at the job's zero: an incremental move from an unknown place."""
        if self.lost[axis] or not math.isnan(self.carriage.place()[axis]):
            return
        self._put(axis, 0.0)
        self.assume("start", "the machine stands at the job's zero when the program starts")
        self.tell_once(
            Fault(
                "missing-word",
                "an incremental move from a place that is not known; the machine is taken to "
                "start at the job's zero",
                0,
                len(self.block.code),
                "move each axis to an absolute place (G90) first, or declare where the machine "
                "parks",
                level="warning",
            )
        )

    def _put(self, axis: int, value: float) -> None:
        name = "xyz"[axis]
        setattr(self.state, name, value)
        if self.compensation is not None:
            place = list(self.compensation.programmed)
            place[axis] = value
            self.compensation.programmed = (place[0], place[1], place[2])

    @property
    def lengths_declared(self) -> bool:
        """Whether the tool table gives lengths."""
        return any(tool.length is not None for tool in self._tools.values())

    def tool_length(self, slot: int) -> float | None:
        """Return the length of a slot, mm, or None."""
        if not self.lengths_declared:
            return None
        tool = self._tools.get(slot)
        return self._table(tool.length if tool and tool.length is not None else 0.0)

    def tool_diameter(self, slot: int) -> float | None:
        """Return the diameter of a slot, mm, or None."""
        tool = self._tools.get(slot)
        if tool is None or tool.diameter is None:
            return 0.0 if self.strict else None
        return self._table(tool.diameter)

    def _table(self, value: float) -> float:
        """Tool data of the report are in the program's unit (2.3); ours in mm."""
        return value * self.state.factor if self.strict else value

    def arc_tolerance(self, radius: float) -> float:
        """Return how much the radii of an arc may differ, mm."""
        controller = self.controller
        inch = self.state.factor != 1.0
        limit = controller.arc_tolerance_inch if inch else controller.arc_tolerance
        return max(limit, controller.arc_tolerance_share * radius)

    def report_arc_tolerance(self) -> float:
        """Return the same in RS274/NGC (3.5.3.2), mm, with room for rounding."""
        inch = self.state.factor != 1.0
        return (REPORT.arc_tolerance_inch if inch else REPORT.arc_tolerance) + 1e-9

    # ---- going somewhere else

    @property
    def frame(self) -> Frame:
        """The innermost call."""
        return self.frames[-1]

    def structure(self) -> flow.Structure:
        """Return the paired keywords of the text now run."""
        source = self.sources[self.source]
        if source.structure is None:
            source.structure = flow.Structure.of(source.lines, self.controller)
        return source.structure

    def add_source(self, name: str, lines: list[str]) -> int:
        """Add the text of a subprogram file and return its number."""
        self.sources.append(Source(name, lines))
        return len(self.sources) - 1

    def go(self, index: int, source: int | None = None, *, call: bool = False) -> None:
        """Go on at a line (0-based index)."""
        here = (self.source, self.index)
        back = call or (source is not None and source != self.source) or index < self.index
        if source is not None:
            self.source = source
        self.index = index
        if back:
            self.repeating = True
            self._check_repetition(here)
            self.check_limits()

    def restart(self) -> None:
        """M99 in the main program: it would run for ever; here it runs once."""
        self.flush()
        self.assume("once", "M99 at the end of the main program starts it again; it is read once")
        self.carriage.finish()
        self.ended = True

    def _check_repetition(self, here: tuple[int, int]) -> None:
        """The same state at the same jump: it will come back for ever."""
        state = self.state
        now = (
            self.parameters.changes,
            *(v if v == v else None for v in (state.x, state.y, state.z)),
            state.motion, state.feed, state.absolute, state.factor, state.turning,
            state.tool, state.system, state.plane, self.index,
            *(frame.left for frame in self.frames),
            *(tuple(frame.counts.items()) for frame in self.frames),
        )  # fmt: skip
        if self._seen_states.get(here) == now and not self.ended:
            self._endless("nothing changes from one pass to the next")
        self._seen_states[here] = now

    def check_limits(self) -> None:
        """End a program that repeats itself beyond all measure."""
        limits = self.controller
        rows = len(self.rows)
        if rows != self._rows_seen:
            self._rows_seen, self._blocks_at_rows = rows, self.blocks_run
        if self._rows_before_repeats < 0:
            self._rows_before_repeats = rows
        if self.ended:
            return
        state = self.state
        if self.blocks_run > limits.max_blocks:
            self._endless(f"more than {limits.max_blocks} blocks were run")
        elif self.blocks_run - self._blocks_at_rows > limits.max_idle_blocks:
            self._endless(f"{limits.max_idle_blocks} blocks were run without a move")
        elif rows - self._rows_before_repeats > limits.max_repeated_rows:
            self._endless(f"it made more than {limits.max_repeated_rows} moves while repeating")
        elif max(abs(state.x), abs(state.y), abs(state.z)) > RUNAWAY:
            self._endless(f"it moved more than {RUNAWAY / 1e6:g} km away while repeating")

    def _endless(self, why: str) -> None:
        self.tell(
            Fault(
                "endless-program",
                f"the program repeats itself without end: {why}; reading stops here",
                0,
                len(self.block.code),
                "check the condition of the loop, and what changes it",
            )
        )
        self.ended = True

    # ---- the ends of the text

    def _skip_leader(self) -> None:
        """Text before the first % line is no program (common practice, no source)."""
        if self.strict:
            return
        lines = self.sources[0].lines
        for index, raw in enumerate(lines[:50]):
            text = raw.strip()
            if text.startswith("%"):
                self.index = index
                return
            if text and (text[0] in "(;/NGMTXYZOFS:#$" or text[:1].islower()):
                return

    def _percent(self, block: Block) -> None:
        """% lines (3.1): the first non-blank line opens, the next one closes."""
        lines = self.sources[self.source].lines
        before = any(lines[at].strip() for at in range(min(self.index - 1, 1000)))
        if block.code != "%" and self.strict:
            raise Fault("unreadable-line", "a % line holds nothing else", 0, len(block.code))
        if self.source != 0:
            if self.index > 1:
                self._end_of_text()
        elif not before and not self.opened:
            self.opened = True
        elif self.opened:
            self._close(lines)
        elif self.strict:
            raise Fault("unreadable-line", "a % line, but the first line of the file is none", 0, 1,
                        "open the file with % as well, or delete it")  # fmt: skip
        elif self.blocks_run == 1:
            self.opened = True
        elif not self._code_after(lines):
            self.carriage.finish()
            self.ended = True
        else:
            raise Fault("ignored-word", "a % line in the middle of the program is passed over", 0,
                        1, level="warning")  # fmt: skip

    def _close(self, lines: list[str]) -> None:
        self.flush()
        self.carriage.finish()
        self.ended = True
        if not self.strict and self._code_after(lines):
            self.tell(
                Fault(
                    "ignored-word",
                    "the program goes on after its closing % line; nothing there is read",
                    0,
                    1,
                    "delete the % line if what follows belongs to the program",
                    level="warning",
                )
            )

    def _code_after(self, lines: list[str]) -> bool:
        for raw in lines[self.index : self.index + 2000]:
            code = read_block(raw, self.controller).code
            if code and code[0] not in "%":
                return True
        return False

    def _label(self, block: Block) -> None:
        """A program name in the middle: the main program runs into a subprogram."""
        if len(self.frames) > 1 or self.source != 0 or not len(self.rows):
            return
        self.tell(
            Fault(
                "no-end",
                f"the program runs on into O{block.label}: no M2 or M30 stands before it",
                0,
                len(block.code),
                "end the main program with M30",
                level="warning",
            )
        )

    def _end_of_text(self) -> None:
        if len(self.frames) > 1:
            self.tell_once(
                Fault(
                    "no-end",
                    "a subprogram ends without M99",
                    0,
                    len(self.block.code),
                    "write M99 as its last line",
                    level="warning",
                )
            )
            self.subprograms.come_back(None)
            return
        self.ended = True
        self._missing_end()

    def _missing_end(self) -> None:
        self.flush()
        file_is_open = self.opened
        help = "end the program with M2 or M30"
        last = Block(self.sources[0].lines[-1] if self.sources[0].lines else "")
        if not self.strict and self.block.fault is not None and not last.raw[-1:].isspace():
            self.block = last
            self.tell(
                Fault(
                    "truncated",
                    "the program stops in a line that cannot be read; the file may be cut off",
                    0, len(last.raw), "get the whole file", raw=True, level="warning",
                )
            )  # fmt: skip
            return
        self.block = last
        message = (
            "the file opens with % but never closes"
            if file_is_open
            else "the program ends without M2 or M30"
        )
        level = "error" if self.strict else "warning"
        self.tell(Fault("no-end", message, 0, len(last.raw), help, raw=True, level=level))

    # ---- telling

    def assume(self, key: str, text: str) -> None:
        """Keep what was assumed, once."""
        self.assumed.setdefault(key, text)

    def _unset(self, name: str, start: int, end: int) -> None:
        self.tell(
            Fault(
                "bad-expression",
                f"{name} was never set; it is read as 0",
                start,
                end,
                f"set it before, such as {name}=1",
                level="warning",
            )
        )

    def tell(self, fault: Fault, *, once: bool = False) -> None:
        """Make a finding of a fault on the present line."""
        block = self.block
        start, end = fault.start, fault.end
        if not fault.raw:
            places = columns(block.raw, self.controller)
            start = places[min(max(start, 0), len(places) - 1)]
            end = places[min(max(fault.end - 1, 0), len(places) - 1)] + 1
        start = max(0, min(start, max(len(block.raw) - 1, 0)))
        self.notes.add(
            Finding(
                code=fault.code,
                level=level_of(fault.level),
                message=fault.message,
                file=self.sources[self.source].name,
                line=max(self.index, 1),
                column=start + 1,
                end_column=max(end, start + 1) + 1,
                excerpt=block.raw,
                help=fault.help,
            ),
            once=once,
        )

    def tell_once(self, fault: Fault) -> None:
        """Make a finding that stands for all places with the same message."""
        self.tell(fault, once=True)


def flow_index(value: float, memory: Parameters, start: int, end: int) -> int:
    """Return the number of a parameter to be set."""
    from dryrun.gcode.expressions import checked_index

    return checked_index(value, memory, start, end)


__all__ = ["TURN", "Any", "Given", "Interpreter", "Source"]
