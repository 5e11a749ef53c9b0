"""The restart report: how things stand, where to go on, what that rests on, and cautions last."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Final

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from dryrun.gcode.state import EXACT_PATH, INCH, ModalState
from dryrun.gcode.text import split_lines
from dryrun.job.bits import describe_bit
from dryrun.report.machine_readable import finding_json, number
from dryrun.report.text import finding_block
from dryrun.report.words import CAUTIONS, counts, plural, visible, window
from dryrun.units import format_length, format_speed, format_time, format_volume

if TYPE_CHECKING:
    from dryrun.gcode.watch import Standing
    from dryrun.restart.plan import Restart

#: What is to be done before anything turns again (common practice, no source).
RESTART_CAUTIONS: Final = (
    "After a stop the machine may not be where it thinks it is: home it, and prove X and Y zero on "
    "the blank before the bit comes down.",
    "Touch off Z anew; after a change of bit in any case. Look whether blank, clamps and bit are "
    "as declared.",
    "Run it in the air first, Z zero raised, a hand at the stop.",
    "Where the machine's manual says how to go on after a stop, the manual comes first.",
)

_PLANES: Final = {17: "XY", 18: "ZX", 19: "YZ"}
_FEEDS: Final = {93: "inverse time", 94: "per minute", 95: "per revolution"}


def restart_blocks(
    restart: Restart, written: str | None = None, *, quiet: bool = False
) -> Iterator[RenderableType]:
    """Yield the report; `written` is the file the restart program went to."""
    if not quiet:
        yield _heading(restart)
        yield _blank(restart)
        yield _state(restart)
    yield _place(restart)
    for at, finding in enumerate(restart.findings, start=1):
        yield finding_block(finding, restart.outcome.job, at)
    if restart.notes and not quiet:
        yield Text("to know", style="bold")
        yield from (_item(note) for note in restart.notes)
        yield Text()
    yield _verdict(restart, written)


def _item(text: str) -> RenderableType:
    return Padding(Text(visible(text)), (0, 0, 0, 3))


def _pairs(rows: list[tuple[str, str]]) -> RenderableType:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
    table.add_column(style="dim", no_wrap=True)
    table.add_column()
    for title, words in rows:
        table.add_row(title, visible(words))
    return Padding(table, (0, 0, 0, 3))


# ---------------------------------------------------------------- how things stand


def _heading(restart: Restart) -> RenderableType:
    stage, stop = restart.stage, restart.stop
    name = visible(stage.program.source_names[stop.source] or stage.stage.name)
    lines: list[RenderableType] = [
        Text(visible(restart.outcome.job.title), style="bold"),
        Text(f"stage {stage.number}, {visible(stage.stage.name)}: stopped at {name}:{stop.line}"),
        _excerpt(restart, stop.line, stop.source),
    ]
    if stop.run_line != stop.line:
        lines.append(
            Text(
                f"that line moves nothing; line {stop.run_line}, the next that does, stands for it"
            )
        )
    if stop.passes > 1:
        lines.append(
            Text(
                f"the line is carried out {stop.passes} times; pass {stop.pass_} is taken"
                + (
                    ""
                    if stop.pass_ > 1
                    else ", the earliest: what was cut since is cut again in air"
                )
                + f" (--pass 1 to {stop.passes})",
                style="yellow",
            )
        )
    return Group(*lines, Text())


def _excerpt(restart: Restart, line: int, source: int) -> Text:
    program = restart.stage.program
    text = program.text if source == 0 else program.subprograms[source - 1]
    shown, _, _ = window(visible(split_lines(text)[line - 1]), 1, 2)
    return Text(f"{line:>6} │ ", style="dim") + Text(shown)


def _blank(restart: Restart) -> RenderableType:
    stage, units = restart.stage, restart.outcome.job.units
    whole = restart.outcome.surface
    assert whole is not None
    done = restart.stop.row
    moves = len(stage.motion)
    lines: list[RenderableType] = [Text("the blank as it stands there", style="bold")]
    before = "earlier stages complete; " if stage.number > 1 else ""
    lines.append(_item(f"{before}{done} of {plural(moves, 'move')} of this stage done"))
    removed = format_volume(restart.surface.removed_mm3, units)
    lowest = format_length(restart.surface.lowest, units)
    total = format_volume(whole.removed_mm3, units)
    lines.append(_item(f"removed {removed} of {total}; lowest Z {lowest}"))
    lines.append(_item("the line itself and all after it count as not done"))
    return Group(*lines, Text())


def _state(restart: Restart) -> RenderableType:
    stop = restart.stop
    title = Text(f"in force where line {stop.run_line} begins", style="bold")
    rows = state_words(restart, stop.standing)
    return Group(title, _pairs(rows), Text())


def state_words(restart: Restart, standing: Standing) -> list[tuple[str, str]]:
    """Return what is in force, as titles and words."""
    state, units = standing.state, restart.outcome.job.units
    inch = state.factor == INCH
    unit = "in" if inch else "mm"
    shift = state.shift_x, state.shift_y, state.shift_z
    place = [(v - s) / state.factor for v, s in zip(standing.programmed, shift, strict=True)]
    rows = [
        ("units", "inches (G20)" if inch else "millimetres (G21)"),
        ("work system", standing.system),
        *_offset_words(state, unit),
        ("plane", f"{_PLANES[state.plane]} (G{state.plane})"),
        ("distances", "absolute (G90)" if state.absolute else "incremental (G91)"),
        ("motion", _motion_words(state)),
        ("feed", _feed_words(state, unit)),
        ("spindle", _spindle_words(state)),
        ("coolant", _coolant_words(state)),
        ("compensation", _compensation_words(state, units)),
        ("path mode", _path_words(state, units)),
        ("bit", _bit_words(restart, state)),
        ("program at", "  ".join(
            f"{axis} {_figure(v)}" for axis, v in zip("XYZ", place, strict=True)) + f" {unit}"),
    ]  # fmt: skip
    return rows


def _figure(value: float) -> str:
    return "not known" if math.isnan(value) else f"{value + 0.0:.4f}".rstrip("0").rstrip(".")


def _offset_words(state: ModalState, unit: str) -> Iterator[tuple[str, str]]:
    named = ("work offset", state.origin), ("G92 offset", state.axis_offset)
    for title, offset in (*named, ("G52 offset", state.local_offset)):
        if any(offset):
            parts = (f"{a} {_figure(v / state.factor)}" for a, v in zip("XYZ", offset, strict=True))
            yield title, "  ".join(parts) + f" {unit}"
    if state.length_words:
        yield "length offset", state.length_words


def _motion_words(state: ModalState) -> str:
    code = f"G{state.motion / 10:g}"
    return {"G0": "rapid (G0)", "G1": "straight at feed (G1)", "G80": "none (G80)"}.get(
        code, f"arc ({code})" if code in ("G2", "G3") else f"canned cycle ({code})"
    )


def _feed_words(state: ModalState, unit: str) -> str:
    mode = f"{_FEEDS[state.feed_mode]} (G{state.feed_mode})"
    if math.isnan(state.feed):
        return f"none given yet, {mode}"
    per = {93: "1/min", 94: f"{unit}/min", 95: f"{unit}/rev"}[state.feed_mode]
    return f"{state.feed:g} {per}, {mode}"


def _spindle_words(state: ModalState) -> str:
    if not state.turning:
        said = "" if math.isnan(state.speed) else f", {format_speed(state.speed)} set"
        return f"stopped (M5){said}"
    way = "clockwise (M3)" if state.turning > 0 else "counter-clockwise (M4)"
    speed = "at a speed never said" if math.isnan(state.speed) else format_speed(state.speed)
    return f"{speed} {way}"


def _coolant_words(state: ModalState) -> str:
    on = [name for name, is_on in (("mist (M7)", state.mist), ("flood (M8)", state.flood)) if is_on]
    return " and ".join(on) or "off (M9)"


def _compensation_words(state: ModalState, units: Any) -> str:
    if state.compensation == 40:
        return "off (G40)"
    side = "left" if state.compensation == 41 else "right"
    radius = format_length(state.compensation_radius, units)
    return f"{side} of the path (G{state.compensation}), radius {radius}"


def _path_words(state: ModalState, units: Any) -> str:
    if math.isnan(state.tolerance):
        return "as the controller has it (G64, or nothing said)"
    if state.tolerance == 0.0:
        return "exact stop (G61.1)"
    if state.tolerance == EXACT_PATH:
        return "exact path (G61)"
    return f"within {format_length(state.tolerance, units)} (G64 P)"


def _bit_words(restart: Restart, state: ModalState) -> str:
    bit = restart.stage.stage.bit
    said = "not declared" if bit is None else f"{bit.name}, {describe_bit(bit, _units(restart))}"
    return said + (f"; tool T{state.tool} in the spindle" if state.tool >= 0 else "")


def _units(restart: Restart) -> Any:
    return restart.outcome.job.units


# ---------------------------------------------------------------- where to go on


def _place(restart: Restart) -> RenderableType:
    title = Text("where to go on", style="bold")
    place, units = restart.place, _units(restart)
    if place is None or restart.program is None:
        lines: list[RenderableType] = [title]
        lines.append(_item(f"from the beginning of the stage: {restart.why_not}"))
        if place is not None and restart.difference is not None and restart.difference.cells:
            lines.append(_item(_difference_words(restart)))
        again = restart.stage.time.moving_seconds[: restart.stop.row].sum()
        lines.append(_item(f"what was cut is then cut again in air, {format_time(float(again))}"))
        return Group(*lines, Text())
    state = place.standing.state
    shift = restart.heights.shift
    at = "  ".join(f"{a} {format_length(v + s, units)}" for a, v, s in zip(
        "XYZ", (state.x, state.y, state.z), shift, strict=True))  # fmt: skip
    name = visible(restart.stage.program.source_names[place.source] or restart.stage.stage.name)
    clear = format_length(restart.heights.clearance, units)
    lines = [
        title,
        Text(f"   {name}:{place.line}, the last clean place: at {at}"),
        _item(f"{clear} or more above blank and clamps; {format_time(restart.seconds_again)} "
              "are run again"),
        _excerpt(restart, place.line, place.source),
        _item(_program_words(restart)),
        _item(_difference_words(restart)),
    ]  # fmt: skip
    return Group(*lines, Text())


def _program_words(restart: Restart) -> str:
    assert restart.place is not None
    rest = (
        f"the original's text from line {restart.place.line} on"
        if restart.from_text
        else "the moves of the original, written out"
    )
    wait = (
        f"waits {format_time(restart.seconds_waited)} for the spindle, "
        if restart.seconds_waited
        else ""
    )
    return (
        f"the restart sets what is in force, goes up, over, starts, {wait}comes down; then {rest}"
    )


def _difference_words(restart: Restart) -> str:
    difference, surface = restart.difference, restart.surface
    assert difference is not None
    cells = surface.shape[0] * surface.shape[1]
    size = format_length(surface.cell, _units(restart))
    if not difference.cells:
        return (
            f"the blank after it is the one the whole stage leaves, in all {cells} cells of {size}"
        )
    most = format_length(difference.most, _units(restart))
    return f"{difference.cells} of {cells} cells would differ, by up to {most}"


def _verdict(restart: Restart, written: str | None) -> RenderableType:
    cautions = Text(" ".join((*RESTART_CAUTIONS, *CAUTIONS)), style="dim")
    if restart.program is None:
        return Group(
            Text("no restart program: start the stage from its beginning", style="bold"), cautions
        )
    assert restart.checked is not None
    lines: list[RenderableType] = []
    lines.append(Text(f"checked on the blank as it stands: {counts(restart.findings)}"))
    if any(f.level == "error" for f in restart.findings):
        lines.append(Text("do not start it: errors to clear up first", style="bold red"))
    else:
        lines.append(Text("no errors in what was checked"))
    left = "what only a whole stage can tell (too shallow, idle) is left to dryrun check"
    lines.append(Text(left, style="dim"))
    if written is not None:
        lines.append(Text(f"the restart program is in {visible(written)}"))
    else:
        lines.append(Text("-o FILE writes the restart program", style="dim"))
    return Group(*lines, cautions)


# ---------------------------------------------------------------- for programs


def restart_json(restart: Restart, written: str | None = None) -> dict[str, Any]:
    """Return a restart as plain data; lengths in mm, times in s."""
    import dryrun

    stage, stop, place = restart.stage, restart.stop, restart.place
    whole = restart.outcome.surface
    assert whole is not None
    names = stage.program.source_names
    difference = restart.difference
    return {
        "schema": 1,
        "dryrun": dryrun.__version__,
        "job": restart.outcome.job.title,
        "units": restart.outcome.job.units,
        "stage": {"number": stage.number, "name": stage.stage.name, "program": stage.program.name},
        "stop": {
            "file": names[stop.source],
            "line": stop.line,
            "run_line": stop.run_line,
            "pass": stop.pass_,
            "passes": stop.passes,
            "moves_done": stop.row,
            "moves": len(stage.motion),
            "state": state_json(stop.standing),
        },
        "blank": {
            "cell": restart.surface.cell,
            "lowest": number(restart.surface.lowest),
            "removed_mm3": number(restart.surface.removed_mm3),
            "removed_in_the_end_mm3": number(whole.removed_mm3),
        },
        "place": None
        if place is None
        else {
            "file": names[place.source],
            "line": place.line,
            "state": state_json(place.standing),
            "seconds_again": number(restart.seconds_again),
        },
        "why_not": restart.why_not or None,
        "program": None
        if restart.program is None
        else {
            "written": written,
            "bytes": len(restart.program),
            "rest": "text" if restart.from_text else "moves",
            "decimals": None if restart.from_text else restart.decimals,
            "seconds_waited": number(restart.seconds_waited),
        },
        "cells_differing": None if difference is None else difference.cells,
        "worst": restart.findings[0].level if restart.findings else "none",
        "findings": [finding_json(f) for f in restart.findings],
        "notes": list(restart.notes),
        "cautions": [*RESTART_CAUTIONS, *CAUTIONS],
    }


def state_json(standing: Standing) -> dict[str, Any]:
    """Return what is in force as plain data; lengths in mm, except the F number as written."""
    state = standing.state
    return {
        "units": "in" if state.factor == INCH else "mm",
        "system": standing.system,
        "origin": [number(v) for v in state.origin],
        "axis_offset": [number(v) for v in state.axis_offset],
        "local_offset": [number(v) for v in state.local_offset],
        "length_offset": state.length_words or None,
        "plane": f"G{state.plane}",
        "distance": "G90" if state.absolute else "G91",
        "motion": f"G{state.motion / 10:g}",
        "feed": number(state.feed),
        "feed_mode": f"G{state.feed_mode}",
        "spindle": {1: "M3", -1: "M4", 0: "M5"}[state.turning],
        "speed": number(state.speed),
        "coolant": [code for code, on in (("M7", state.mist), ("M8", state.flood)) if on],
        "compensation": f"G{state.compensation}",
        "tolerance": number(state.tolerance),
        "tool": state.tool if state.tool >= 0 else None,
        "at": [number(v) for v in (state.x, state.y, state.z)],
    }
