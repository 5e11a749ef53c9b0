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
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Final

from dryrun.finding import Finding
from dryrun.gcode import cycles, ends, flow, steps
from dryrun.gcode.blocks import Block, read_block
from dryrun.gcode.carriage import Carriage, Place
from dryrun.gcode.compensation import Compensation
from dryrun.gcode.controller import REPORT, Controller, Tool
from dryrun.gcode.expressions import checked_index
from dryrun.gcode.line import Line, work_out
from dryrun.gcode.notes import Notes, level_of
from dryrun.gcode.offsets import Offsets
from dryrun.gcode.parameters import Parameters
from dryrun.gcode.plain import Plain
from dryrun.gcode.repetition import Repetition
from dryrun.gcode.state import INCH, ModalState, RowBuffer
from dryrun.gcode.subprograms import Frame, Subprograms
from dryrun.gcode.text import Fault, columns, message_of
from dryrun.motion import LINE

if TYPE_CHECKING:
    from dryrun.gcode.bulk import FastPath
    from dryrun.gcode.watch import Watch

#: Most plain lines run here before the compiled path of a long program is asked again.
COMPILED_EVERY: Final = 64
#: Most comments kept.
MOST_REMARKS: Final = 100_000
_AXES: Final = "XYZ"
#: First characters of lines that speak to the controller itself (common practice, no source).
_COMMANDS: Final = frozenset("$?!~@{")


@dataclass(slots=True)
class Source:
    """One text: the program, or a subprogram file."""

    name: str | None
    lines: Sequence[str]
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

    def __init__(self, name: str | None, lines: Sequence[str], given: Given) -> None:
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
        self.repetition = Repetition()
        self.opened = False
        self.blocks_run = 0
        self.optional_stop = given.optional_stop
        self.bit_radius = given.bit_radius
        self.first_tool_word: tuple[int, Block] | None = None
        self.tool_changes = 0
        self.feed_is_old = False
        self.plane_said = self.distance_said = self.probed = self.z_said = False
        self.unit_said_at = -1
        self.spindle_at_end = 0
        self._tools = dict(given.tools or {})
        self._plain = Plain(self)
        #: Runs plain lines of the program itself compiled; only in long programs.
        self.fast: FastPath | None = None
        #: Looks at what is in force before every line that may change it; None nobody looks.
        self.watch: Watch | None = None
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
        ends.skip_leader(self)
        while not self.ended:
            source = self.sources[self.source]
            lines = source.lines
            if self.index >= len(lines):
                ends.end_of_text(self)
                continue
            if self.watch is not None:
                if self.watch.halts(self):
                    break
                self._run_watched(self.watch, lines)
                continue
            if self.index + 1 in source.blocks:  # known from an earlier pass as not that plain
                self._step(lines[self.index])
                continue
            most = len(lines)
            if self.fast is not None and self.source == 0:
                self.fast.run(self)
                most = COMPILED_EVERY
            self._plain.run(lines, most)
            if self.index < len(lines) and not self.ended:
                self._step(lines[self.index])
        self.end_compensation()

    def _run_watched(self, watch: Watch, lines: Sequence[str]) -> None:
        """Carry out plain lines as far as nobody needs to look, else one line."""
        begin, most = self.index, watch.unseen(self)
        if most and begin + 1 not in self.sources[self.source].blocks:
            if self.fast is not None and self.source == 0:
                self.fast.run(self, most)
                most = min(most - (self.index - begin), COMPILED_EVERY)
            self._plain.run(lines, most)
        if self.index == begin:
            self._step(lines[begin])

    def stand_at_end(self, lines: Sequence[str]) -> None:
        """Plain lines ran to the end of the text: what is told there is told at its last line."""
        self.block = read_block(lines[-1], self.controller)
        self.carriage.line, self.carriage.source = len(lines), self.source

    def _step(self, raw: str) -> None:
        self.index += 1
        self.blocks_run += 1
        self.carriage.line, self.carriage.source = self.index, self.source
        block = self._read(raw)
        self.block = block
        try:
            if block.code[:1] == "%":
                ends.percent_line(self, block)
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
            if self.repetition.going or block.keyword is not None:
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
            if note.level == "note":
                self.tell_once(note)
            else:
                self.tell(note)
        if block.slash and self.given.block_delete:
            return
        if block.label is not None and block.keyword is None:
            ends.label_line(self, block)
        if block.keyword is not None and not flow.carry_out(self, block):
            return
        if block.words or block.settings:
            line = work_out(block, self.parameters, self.controller)
            self._settings(block)
            self._comment(block)
            steps.carry_out(self, line)
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
            whole = checked_index(index, self.parameters, one.start, one.end)
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
        else:
            self.keep_remark(block.comments[-1])

    def keep_remark(self, text: str) -> None:
        """Keep a comment that is no message."""
        if len(self.comments) < MOST_REMARKS:
            self.comments.append(text)

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
        """Take the machine to start at the job's zero, for an incremental move from nowhere."""
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

    def add_source(self, name: str, lines: Sequence[str]) -> int:
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
            self.repetition.back(self, here)

    def restart(self) -> None:
        """M99 in the main program: it would run for ever; here it runs once."""
        self.flush()
        self.tell(
            Fault(
                "endless-program",
                "M99 in the main program starts it again without end; it is read once",
                0,
                len(self.block.code),
                "end the program with M30, unless it is meant to run until it is stopped",
                level="warning",
            )
        )
        self.carriage.finish()
        self.ended = True

    def check_limits(self) -> None:
        """End a program that repeats itself beyond all measure."""
        self.repetition.check(self)

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

    def place_of(self, fault: Fault) -> tuple[int, int, int]:
        """Return where a fault on the present line stands, as `tell` counts places."""
        return self.carriage.source, self.carriage.line, fault.start

    def tell(self, fault: Fault, place: tuple[int, int, int] | None = None) -> None:
        """Make a finding of a fault on the present line, or count it at a place told before."""
        self.notes.add(fault, place or self.place_of(fault), lambda: self._finding(fault))

    def tell_once(self, fault: Fault) -> None:
        """Make a finding that stands for all places with the same message."""
        self.notes.add(fault, (), lambda: self._finding(fault))

    def _finding(self, fault: Fault) -> Finding:
        raw = self.block.raw
        start, end = fault.start, fault.end
        if not fault.raw:
            places = columns(raw, self.controller)
            start = places[min(max(start, 0), len(places) - 1)]
            end = places[min(max(fault.end - 1, 0), len(places) - 1)] + 1
        start = max(0, min(start, max(len(raw) - 1, 0)))
        return Finding(
            code=fault.code,
            level=level_of(fault.level),
            message=fault.message,
            file=self.sources[self.carriage.source].name,
            line=max(self.carriage.line, 1),
            column=start + 1,
            end_column=max(end, start + 1) + 1,
            excerpt=raw,
            help=fault.help,
        )
