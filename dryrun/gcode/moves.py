"""Step 20 of a line: straight moves, arcs, probing (NISTIR 6556 3.5.1-3.5.3, 3.5.9, 3.5.12)."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from dryrun.gcode.arcs import PLANE_AXES, TURN, centre_arc, radius_arc
from dryrun.gcode.carriage import Place
from dryrun.gcode.expressions import as_integer
from dryrun.gcode.line import Line
from dryrun.gcode.parameters import PROBE as PROBE_PARAMETER
from dryrun.gcode.state import G0, INCH
from dryrun.gcode.text import Fault
from dryrun.motion import LINE, PROBE, RAPID

if TYPE_CHECKING:
    from dryrun.gcode.interpreter import Interpreter

#: Shortest probing move (3.5.9.1), mm.
SHORTEST_PROBE: Final = 0.01 * INCH
#: Arcs by radius within these angles (rad) hang on the last decimal (3.5.3.1).
_TOUCHY: Final = tuple(math.radians(a) for a in (165.0, 195.0, 345.0))

_AXES: Final = "XYZ"
_OFFSETS: Final = "IJK"


def straight(run: Interpreter, line: Line, motion: int) -> None:
    """G0 or G1."""
    end = _machine_target(run, line) if line.key("once") == 530 else run.target(line)
    if motion == G0:
        run.move(RAPID, end)
        return
    check_feed(run, line)
    run.move(LINE, end)


def _machine_target(run: Interpreter, line: Line) -> Place:
    """G53: the words are machine coordinates, absolute also in G91 (3.5.12, from memory)."""
    state = run.state
    place = list(run.base())
    for letter in line.axes():
        axis = _AXES.index(letter)
        number = line.take(letter)
        assert number is not None
        place[axis] = number * state.factor - run.offsets.machine(axis)
        if axis == 2:
            place[axis] -= state.spindle_length
        if math.isnan(place[axis]):
            run.lost[axis] = True
    if any(run.lost) and run.offsets.zero is None:
        run.tell_once(
            line.fault(
                "not-accepted",
                "G53 goes to machine coordinates, but where the job's zero lies there is not "
                "declared, so these moves are not checked",
                line.word_of("once"),
                "declare work_zero, the job's zero in machine coordinates",
                "note",
            )
        )
    return place[0], place[1], place[2]


def check_feed(run: Interpreter, line: Line) -> None:
    """Check that there is a feed (from memory: the report's interpreter refuses 0)."""
    state = run.state
    if state.feed > 0.0:
        if state.feed_mode == 95 and not abs(state.spindle) > 0.0:
            fault = line.fault(
                "no-feed",
                "feed per revolution (G95), but the spindle does not turn at a known speed",
                line.word_of("motion"),
                "write S and M3 before the move, or G94",
            )
            run.tell_once(fault)
        elif run.feed_is_old:
            run.feed_is_old = False
            line.complain(
                "units-suspect",
                f"F{state.feed:g} was given in another feed mode",
                None,
                "give F again after G93, G94 or G95",
                "warning",
            )
        return
    zero = state.feed == 0.0
    fault = line.fault(
        "no-feed",
        "a move at feed, but the feed is 0" if zero else "a move at feed, but no F was given yet",
        line.word_of("motion"),
        "write F and the feed on this line or before it",
    )
    if run.strict:
        line.faults.append(fault)
    else:
        run.tell_once(fault)


def probe(run: Interpreter, line: Line) -> None:
    """G38.2 and its kin: straight at feed; in a dry run the probe trips at the target."""
    state = run.state
    word = line.word_of("motion") or line.word_of("once")
    if state.compensation != 40:
        line.complain("conflicting-words", "probing while radius compensation is on", word,
                      "switch compensation off with G40 first")  # fmt: skip
    if state.feed_mode == 93:
        line.complain("conflicting-words", "probing in inverse time (G93)", word,
                      "switch to G94 first")  # fmt: skip
    if not line.axes():
        line.complain("missing-word", "probing needs X, Y or Z", word)
        return
    if line.axes("ABC"):
        line.complain("conflicting-words", "a rotary axis on a probing line", word)
    start = run.base()
    end = run.target(line)
    if math.dist(start, end) < SHORTEST_PROBE:
        line.complain("conflicting-words", f"the probing move is {math.dist(start, end):.3f} mm "
                      f"long, shorter than {SHORTEST_PROBE:g} mm", word,
                      "start farther away")  # fmt: skip
        return
    check_feed(run, line)
    run.flush()
    run.carriage.straight(PROBE, end)
    run.probed = True
    run.tell_once(line.fault("ignored-word", "what a probe finds is not known in a dry run; it is "
                             "taken to trip at the end of its move", word, None,
                             "note"))  # fmt: skip
    for axis, value in enumerate(state.program_position()):
        run.parameters.write(PROBE_PARAMETER + axis, value)


# ---- arcs


def arc(run: Interpreter, line: Line, motion: int) -> None:
    """G2 or G3; one that cannot be worked out is followed as a straight line to its end."""
    end = run.target(line)
    check_feed(run, line)
    try:
        _arc(run, line, motion == 20, end)
    except Fault as fault:
        line.faults.append(fault)
        run.move(LINE, end)


def _arc(run: Interpreter, line: Line, clockwise: bool, end: Place) -> None:
    state = run.state
    u, v, normal = PLANE_AXES[state.plane]
    start = run.base()
    word = line.word_of("motion")
    radius = line.take("R")
    given = [letter for letter in _OFFSETS if letter in line.values]
    line.used.update(given)
    ends = [axis for axis in (u, v) if _AXES[axis] in line.values]
    _check_words(run, line, radius, given, ends)
    if math.isnan(start[u]) or math.isnan(start[v]):
        raise line.fault("bad-arc", "the arc starts at a place that is not known", word,
                         "move there with G0 or G1 first")  # fmt: skip
    if start[normal] != end[normal] and not run.controller.takes("helical-arcs"):
        line.complain("not-accepted", "an arc that also moves along its axis (helix)", word)
    if radius is not None:
        centre_u, centre_v, sweep = _by_radius(run, line, start, end, radius, clockwise)
    else:
        centre_u, centre_v, sweep = _by_centre(run, line, start, end, clockwise)
    sweep += _more_turns(run, line, sweep)
    centre = [0.0, 0.0, 0.0]
    centre[u], centre[v], centre[normal] = centre_u, centre_v, start[normal]
    run.move_round((centre[0], centre[1], centre[2]), normal, sweep, end)


def _check_words(
    run: Interpreter, line: Line, radius: float | None, given: list[str], ends: list[int]
) -> None:
    """Which words an arc needs and which it must not have (3.5.3)."""
    u, v, normal = PLANE_AXES[run.state.plane]
    word = line.word_of("motion")
    wanted = f"{_OFFSETS[u]} or {_OFFSETS[v]}"
    inside = [letter for letter in given if letter != _OFFSETS[normal]]
    if radius is not None and inside:
        line.complain("bad-arc", f"the arc has both a radius and a centre (R and {inside[0]}); the "
                      "radius is taken", line.words["R"], "keep one of them")  # fmt: skip
    if radius is None and not inside:
        wrong = given[0] if given else None
        raise line.fault(
            "bad-arc",
            f"the arc has no centre in the G{run.state.plane} plane: {wrong} belongs to another"
            if wrong
            else "the arc has neither centre nor radius",
            line.words.get(wrong or "") or word,
            f"write {wanted} (from the start to the centre), or R",
        )
    if _OFFSETS[normal] in given and (run.strict or line.values[_OFFSETS[normal]] != 0.0):
        line.complain(
            "bad-arc",
            f"{_OFFSETS[normal]} has no meaning for an arc in the G{run.state.plane} plane",
            line.words[_OFFSETS[normal]],
            f"write {wanted}, or change the plane",
            "error" if run.strict else "warning",
        )
    if not ends and (radius is not None or not run.controller.takes("bare-arcs")):
        raise line.fault(
            "bad-arc",
            f"the arc has no end: neither {_AXES[u]} nor {_AXES[v]} stands on the line",
            word,
            "a full turn is given by I J K, not by R" if radius is not None else "write the end",
        )


def _by_radius(
    run: Interpreter, line: Line, start: Place, end: Place, radius: float, clockwise: bool
) -> tuple[float, float, float]:
    u, v, _ = PLANE_AXES[run.state.plane]
    word = line.words["R"]
    if not run.controller.takes("radius-arcs"):
        line.complain("not-accepted", "an arc given by its radius", word, "give its centre: I J K")
    radius *= run.state.factor
    chord = math.hypot(end[u] - start[u], end[v] - start[v])
    if radius == 0.0 or not chord > 1e-9:
        what = "the radius is 0" if radius == 0.0 else "an arc by radius ends where it starts"
        raise line.fault("bad-arc", what, word, "a full turn is given by I J K, not by R")
    if run.compensation is not None and run.compensation.awaits_first:
        sweep = math.copysign(math.pi, -1.0 if clockwise else 1.0)
        centre = run.compensation.first_centre((end[0], end[1]), radius, clockwise)
        if centre is None:
            raise line.fault("bad-arc", "the first compensated move is an arc of a radius that "
                             "the tool cannot touch from here", word,
                             "switch compensation on with a straight move")  # fmt: skip
        return centre[0], centre[1], sweep
    found = radius_arc(start[u], start[v], end[u], end[v], radius, clockwise)
    if found.excess > run.arc_tolerance(abs(radius)):
        raise line.fault(
            "bad-arc",
            f"the radius {abs(radius):.4f} mm is too small: start and end are {chord:.4f} mm "
            f"apart, so it is {0.5 * chord:.4f} mm at least",
            word,
            "check the radius and the end",
        )
    size = abs(found.sweep)
    if _TOUCHY[0] < size < _TOUCHY[1] or size > _TOUCHY[2]:
        run.tell_once(
            line.fault(
                "bad-arc",
                f"an arc of {math.degrees(size):.0f} degrees by its radius: the last decimal of its"
                " end decides where the centre lies",
                word,
                "give the centre by I J K, or split the arc",
                "note",
            )
        )
    return found.centre_u, found.centre_v, found.sweep


def _by_centre(
    run: Interpreter, line: Line, start: Place, end: Place, clockwise: bool
) -> tuple[float, float, float]:
    state = run.state
    u, v, _ = PLANE_AXES[state.plane]
    shift = (state.shift_x, state.shift_y, state.shift_z)
    absolute, relative = [0.0, 0.0], [0.0, 0.0]
    for at, axis in enumerate((u, v)):
        number = line.values.get(_OFFSETS[axis])
        relative[at] = start[axis] + (number or 0.0) * state.factor
        absolute[at] = start[axis] if number is None else number * state.factor + shift[axis]
    centre, other = (absolute, relative) if state.centre_absolute else (relative, absolute)
    found = centre_arc(start[u], start[v], end[u], end[v], centre[0], centre[1], clockwise)
    if run.compensation is not None and run.compensation.awaits_first:
        return centre[0], centre[1], found.sweep
    off = abs(found.start_radius - found.end_radius)
    allowed = run.arc_tolerance(found.start_radius)
    if found.start_radius == 0.0 or not off <= allowed + 1e-9:
        elsewhere = centre_arc(start[u], start[v], end[u], end[v], other[0], other[1], clockwise)
        fits = abs(elsewhere.start_radius - elsewhere.end_radius) <= allowed
        raise _no_centre(run, line, found.start_radius, found.end_radius, allowed, fits)
    if off > run.report_arc_tolerance():
        run.tell_once(
            line.fault(
                "bad-arc",
                f"start and end lie {off:.4f} mm differently far from the centre; RS274/NGC allows "
                f"{run.report_arc_tolerance():.4f} mm",
                line.word_of("motion"),
                "write arcs with one more decimal",
                "note",
            )
        )
    return centre[0], centre[1], found.sweep


def _no_centre(
    run: Interpreter, line: Line, first: float, last: float, allowed: float, fits: bool
) -> Fault:
    letter = next(c for c in _OFFSETS if c in line.values)
    other = "offsets from the start" if run.state.centre_absolute else "coordinates"
    if first == 0.0:
        message = "the centre of the arc is its start"
    else:
        message = (
            f"start and end lie {first:.4f} mm and {last:.4f} mm from the centre, "
            f"{abs(first - last):.4f} mm apart; {allowed:.4f} mm is allowed"
        )
    hint = f"check {letter}: it is the way from the start of the arc to its centre"
    if run.state.centre_absolute:
        hint = f"check {letter}: with G90.1 it is a coordinate"
    if fits:
        hint = f"read as {other} the centre words fit: " + (
            "write G91.1"
            if run.state.centre_absolute
            else "write G90.1, or declare 'absolute-centres' in accepts"
        )
    return line.fault("bad-arc", message, line.words[letter], hint)


def _more_turns(run: Interpreter, line: Line, sweep: float) -> float:
    """P on an arc counts its turns (common practice, no source)."""
    if run.strict or "P" not in line.values or "P" in line.used:
        return 0.0
    turns = as_integer(line.values["P"])
    line.used.add("P")
    if turns is None or not 1 <= turns <= 1000:
        line.complain("bad-arc", f"{line.written('P')} is no number of turns", line.words["P"])
        return 0.0
    if turns > 1 and not run.controller.takes("many-turns"):
        line.complain("not-accepted", f"an arc of {turns} turns", line.words["P"])
    return math.copysign(TURN * (turns - 1), sweep)
