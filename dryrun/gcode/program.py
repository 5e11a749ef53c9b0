"""Reading a program: bytes in, motion and findings out."""

from __future__ import annotations

import codecs
import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from dryrun.finding import Finding
from dryrun.gcode.blocks import Block
from dryrun.gcode.controller import Controller, Tool, find_controller
from dryrun.gcode.header import Header, read_header
from dryrun.gcode.interpreter import Given, Interpreter
from dryrun.gcode.offsets import Vector, system_name
from dryrun.gcode.parameters import AXIS_OFFSETS, HOME, SECOND_HOME, SYSTEM, origin_index
from dryrun.gcode.text import Fault, decode, split_lines
from dryrun.motion import Motion

if TYPE_CHECKING:
    from dryrun.gcode.bulk import BulkLines, FastPath
    from dryrun.gcode.watch import Watch

#: Largest program that is read, bytes.
LARGEST: int = 2_000_000_000

#: Programs of at least so many bytes are worth the time it takes to load the compiled code.
LONG = 200_000


@dataclass(frozen=True, slots=True)
class FinalState:
    """How things stand at the end of the program.

    Attributes
    ----------
    position : (x, y, z)
        In program coordinates and the unit then active.
    machine : (x, y, z)
        In machine coordinates and the unit then active; NaN where not known.
    job : (x, y, z)
        Job frame, mm.
    parameters : dict
        Numbered parameters, those the controller keeps included.
    modal : dict
        Codes and values in force, by name.
    messages, comments : list of str
    trace : list of dict or None
        Every move and event in program coordinates, when it was asked for.
    """

    position: Vector
    machine: Vector
    job: Vector
    parameters: dict[int, float]
    modal: dict[str, Any]
    messages: list[str]
    comments: list[str]
    trace: list[dict[str, Any]] | None = None


@dataclass(frozen=True)
class Program:
    """A program, read.

    Attributes
    ----------
    motion : Motion
        What it does, job frame, mm.
    findings : list of Finding
        What the reader has to say, in the order it came upon it.
    header : Header
        What the comments give away.
    data : bytes
    name : str or None
    encoding : str
    lines : int
        Number of lines.
    subprograms : list of str
        Texts of the subprogram files that were read.
    source_names : list of str or None
    state : FinalState
    words : Counter
        How often each code stands in what was carried out.
    assumptions : list of str
        What was assumed where the program does not say.
    controller : Controller
    """

    motion: Motion
    findings: list[Finding]
    header: Header
    data: bytes = field(repr=False)
    name: str | None
    encoding: str
    lines: int
    subprograms: list[str] = field(repr=False)
    source_names: list[str | None]
    state: FinalState
    words: Counter[str]
    controller: Controller
    assumptions: list[str] = field(default_factory=list)

    @cached_property
    def text(self) -> str:
        """The program as text; a long one is decoded only when asked for."""
        return decode(self.data)[0]

    @property
    def sources(self) -> list[str]:
        """Texts by the number in `motion.source`: the program, then subprogram files."""
        return [self.text, *self.subprograms]


def read_program(
    path_or_bytes: str | Path | bytes | bytearray | memoryview,
    controller: Controller | str | None = None,
    unit: Literal["mm", "in"] = "mm",
    *,
    name: str | None = None,
    folder: str | Path | None = None,
    work_zero: Vector | None = None,
    offsets: Mapping[str, Vector] | None = None,
    tools: Mapping[int, Tool | tuple[float | None, float | None]] | None = None,
    block_delete: bool = False,
    optional_stop: bool = False,
    start: Vector | None = None,
    bit_radius: float | None = None,
    _parameters: Mapping[int, float] | None = None,
    _trace: bool = False,
    _watch: Watch | None = None,
) -> Program:
    """Read a program.

    Parameters
    ----------
    path_or_bytes : path or bytes
        Bytes are the program itself.
    controller : Controller, str or None
        What the controller accepts; "rs274" is NISTIR 6556 to the letter; None takes everything
        known here and says what it assumed.
    unit : "mm" or "in"
        What a program without G20 or G21 is read in.
    name : str or None
        What findings call the program; the file's name by default.
    folder : path or None
        Where subprogram files are looked for; the program's own folder by default. Bytes without
        a folder have none.
    work_zero : (x, y, z) mm or None
        The job's zero in machine coordinates. Without it places given in machine coordinates
        (G28, G30, G53, G10 L2) are NaN.
    offsets : dict or None
        Zeros of other coordinate systems relative to the job's, mm: {"G55": (100, 0, 0)}.
    tools : dict or None
        Tool table, number -> (length offset, diameter), mm; None for what is not declared. With
        lengths, Motion follows the tip of the tool in the spindle; without, offsets are taken as
        set so that Z is the tip.
    block_delete, optional_stop : bool
        Switches of the panel.
    start : (x, y, z) mm or None
        Where the tip is at the start, job frame; None: not known.
    bit_radius : float or None
        Radius for compensation when the tool table does not give it, mm.

    Raises
    ------
    OSError
        When the file cannot be read.
    ValueError
        For an unknown controller or coordinate system, or a file larger than `LARGEST`.
    """
    data, name, folder = _bytes_of(path_or_bytes, name, folder)
    script = _script(data)
    given = Given(
        controller=find_controller(controller),
        unit=unit,
        work_zero=work_zero,
        offsets=offsets,
        tools={n: tool if isinstance(tool, Tool) else Tool(*tool) for n, tool in tools.items()}
        if tools
        else None,
        block_delete=block_delete,
        optional_stop=optional_stop,
        start=start,
        bit_radius=bit_radius,
        folder=folder,
        parameters=_parameters,
        trace=_trace,
    )
    run = Interpreter(name, script.lines, given)
    run.fast = script.fast_path(run.controller)
    run.watch = _watch
    try:
        run.run()
    finally:
        script.close()
    motion = run.rows.motion()
    _last_findings(run, motion)
    return Program(
        motion=motion,
        findings=run.notes.findings(),
        header=read_header(script.remarks, _unit_said(run)),
        data=data,
        name=name,
        encoding=script.encoding,
        lines=len(script.lines),
        subprograms=["\n".join(s.lines) for s in run.sources[1:]],
        source_names=[s.name for s in run.sources],
        state=_final_state(run),
        words=run.codes,
        controller=run.controller,
        assumptions=_assumptions(run),
    )


def _bytes_of(
    given: str | Path | bytes | bytearray | memoryview,
    name: str | None,
    folder: str | Path | None,
) -> tuple[bytes, str | None, Path | None]:
    if isinstance(given, (bytes, bytearray, memoryview)):
        return bytes(given), name, Path(folder) if folder is not None else None
    path = Path(given)
    size = path.stat().st_size
    if size > LARGEST:
        raise ValueError(f"{path} has {size} bytes, more than {LARGEST}")
    own = Path(folder) if folder is not None else path.parent
    return path.read_bytes(), name if name is not None else path.name, own


@dataclass(frozen=True, slots=True)
class _Script:
    """A program made ready for the interpreter.

    `remarks` is as much of the text as has comments in it; `bulk` the lines of a long program.
    """

    lines: Sequence[str]
    remarks: str
    encoding: str
    bulk: BulkLines | None = None

    def fast_path(self, controller: Controller) -> FastPath | None:
        """Give long programs the compiled path for plain lines."""
        if self.bulk is None:
            return None
        from dryrun.gcode.bulk import FastPath

        return FastPath(self.bulk, controller)

    def close(self) -> None:
        """Let go of what a long program needs while it runs."""
        if self.bulk is not None:
            self.bulk.close()


def _script(data: bytes) -> _Script:
    if len(data) < LONG or data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        text, encoding = decode(data)
        return _Script(split_lines(text), text, encoding)
    from dryrun.gcode.bulk import open_bulk

    lines, remarks = open_bulk(data)
    return _Script(lines, remarks, lines.encoding, lines)


def _unit_said(run: Interpreter) -> Literal["mm", "in"] | None:
    if not run.state.unit_said:
        return None
    return "in" if run.state.factor != 1.0 else "mm"


def _last_findings(run: Interpreter, motion: Motion) -> None:
    """Tell what can be told only at the end."""
    if run.state.compensation != 40:
        run.tell(_comp_left_on(run))
    moving = motion.moving
    first = int(np.argmax(moving)) if moving.any() else -1
    if first >= 0 and (run.unit_said_at < 0 or run.unit_said_at > first):
        unit = run.controller.default_unit or run.given.unit
        run.assume("units", f"lengths are {'inches' if unit == 'in' else 'millimetres'}")
        _add(
            run, motion, first, "units-not-set", "warning",
            f"the program moves before G20 or G21 says the unit; lengths are read in {unit}",
            "write G21 (mm) or G20 (inch) at the start",
        )  # fmt: skip
    cutting = np.flatnonzero(motion.cutting & (not run.z_said))
    if len(cutting) and np.isnan(motion.end[cutting, 2]).all():
        _add(
            run, motion, int(cutting[0]), "missing-word", "warning",
            "no Z in the whole program: it reads like one for a beam or a pen, and how deep it "
            "would cut is not known",
            "check that it is meant for a router",
        )  # fmt: skip
    _tool_never_changed(run)


def _tool_never_changed(run: Interpreter) -> None:
    if run.first_tool_word is None or run.tool_changes or run.controller.tool_by_t or run.strict:
        return
    run.assume("tool", "a T word without M6 selects a tool but does not change it")
    run.carriage.line, run.block = run.first_tool_word
    run.carriage.source = 0
    word = next((w for w in run.block.words if w.letter == "T"), None)
    start, end = (word.start, word.end) if word else (0, 1)
    run.tell(
        Fault(
            "ignored-word",
            "T selects a tool, but no M6 in the program puts it into the spindle",
            start,
            end,
            "write M6, or declare 'tool-by-t-word' in accepts if T changes the tool itself",
            level="warning",
        )
    )


def _comp_left_on(run: Interpreter) -> Fault:
    return Fault(
        "no-end",
        f"the program ends with radius compensation on (G{run.state.compensation})",
        0,
        len(run.block.code),
        "write G40 before the end",
        level="warning",
    )


def _add(
    run: Interpreter,
    motion: Motion,
    row: int,
    code: str,
    level: Literal["error", "warning", "note"],
    message: str,
    help: str,
) -> None:
    run.carriage.source = int(motion.source[row])
    run.carriage.line = int(motion.line[row])
    raw = run.sources[run.carriage.source].lines[run.carriage.line - 1]
    run.block = Block(raw)
    run.tell(Fault(code, message, 0, len(raw), help, raw=True, level=level))


def _assumptions(run: Interpreter) -> list[str]:
    found = dict(run.assumed)
    if len(run.rows):
        if not run.distance_said:
            found.setdefault("distance", "distances are absolute (G90)")
        if not run.plane_said and (run.codes["G2"] or run.codes["G3"]):
            found.setdefault("plane", "arcs lie in the XY plane (G17)")
        if (run.codes["G2"] or run.codes["G3"]) and not run.codes["G90.1"] + run.codes["G91.1"]:
            found.setdefault(
                "centre",
                "arc centres are coordinates"
                if run.state.centre_absolute
                else "arc centres are offsets from the start of the arc",
            )
    return list(found.values())


def _final_state(run: Interpreter) -> FinalState:
    state = run.state
    job = (state.x, state.y, state.z)
    machine = [(value + run.offsets.machine(axis)) / state.factor for axis, value in enumerate(job)]
    machine[2] += state.spindle_length / state.factor
    return FinalState(
        position=state.program_position(),
        machine=(machine[0], machine[1], machine[2]),
        job=job,
        parameters=_parameters_of(run),
        modal=_modal(run),
        messages=run.messages,
        comments=run.comments,
        trace=run.carriage.trace,
    )


def _parameters_of(run: Interpreter) -> dict[int, float]:
    parameters = run.parameters.snapshot()
    kept = [SYSTEM, *(origin_index(n) + k for n in range(1, 10) for k in range(3))]
    kept += [first + k for first in (AXIS_OFFSETS, HOME, SECOND_HOME) for k in range(3)]
    for index in kept:
        if index == SYSTEM or index not in parameters:
            value = run.offsets.live(index)
            parameters[index] = 0.0 if value is None else value
    return parameters


def _modal(run: Interpreter) -> dict[str, Any]:
    state = run.state
    coolant = [name for name, on in (("flood", state.flood), ("mist", state.mist)) if on]
    motion = f"G{state.motion / 10:g}"
    path = {0.0: "G61.1", 1e-6: "G61"}.get(state.tolerance, "G64")
    return {
        "motion": motion,
        "plane": f"G{state.plane}",
        "distance": "G90" if state.absolute else "G91",
        "feed_mode": f"G{state.feed_mode}",
        "units": "G20" if state.factor != 1.0 else "G21",
        "compensation": f"G{state.compensation}",
        "system": system_name(state.system),
        "return": f"G{state.return_level}",
        "path": path,
        "tool": state.tool,
        "selected": state.selected,
        "tlo": state.length_offset / state.factor,
        "spindle": {1: "cw", -1: "ccw", 0: "stop"}[state.turning],
        "speed": 0.0 if math.isnan(state.speed) else state.speed,
        "feed": 0.0 if math.isnan(state.feed) else state.feed,
        "coolant": coolant,
        "overrides": state.overrides,
    }
