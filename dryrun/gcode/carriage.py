"""The carriage: turns moves into rows of motion, one after another.

Everything that moves or waits goes through here, whether it comes from a plain line, a cycle or
the compensated path. Places are job frame, mm.
"""

from __future__ import annotations

import math
from typing import Any, Final, NamedTuple

from dryrun.gcode.arcs import PLANE_AXES, helix_length, point_on_arc
from dryrun.gcode.state import NAN, ModalState, RowBuffer
from dryrun.motion import ARC, DWELL, END, LINE, PROBE, RAPID, STOP, TOOL

Place = tuple[float, float, float]


class Stamp(NamedTuple):
    """What a row carries beside its geometry, as in force when the line was read."""

    feed_mode: int
    feed: float
    spindle: float
    tool: int
    tolerance: float
    line: int
    source: int


class Carriage:
    """Appends rows and keeps the position.

    Attributes
    ----------
    state : ModalState
    rows : RowBuffer
    line, source : int
        Where the rows come from.
    exact_stop : bool
        G9 on this line.
    path_tolerance : float or None
        Corner tolerance instead of the modal one (cycles).
    trace : list or None
        When a list, every move and event is noted in it in program coordinates.
    """

    def __init__(self, state: ModalState, rows: RowBuffer) -> None:
        self.state = state
        self.rows = rows
        self.line = 0
        self.source = 0
        self.exact_stop = False
        self.path_tolerance: float | None = None
        self.trace: list[dict[str, Any]] | None = None

    def stamp(self) -> Stamp:
        """Return what rows made now carry."""
        state = self.state
        feed = state.feed
        if state.feed_mode == 94:
            feed = feed * state.factor
        elif state.feed_mode == 95:
            feed = feed * state.factor * abs(state.spindle)
        tolerance = state.tolerance
        if self.exact_stop:
            tolerance = 0.0
        elif self.path_tolerance is not None:
            tolerance = self.path_tolerance
        return Stamp(
            state.feed_mode, feed, state.spindle, state.tool, tolerance, self.line, self.source
        )

    def place(self) -> Place:
        """Return where the tip is."""
        return self.state.x, self.state.y, self.state.z

    def straight(self, kind: int, end: Place, stamp: Stamp | None = None) -> None:
        """Move straight to `end`; a move that goes nowhere makes no row."""
        state = self.state
        start = (state.x, state.y, state.z)
        if start == end or all(
            a == b or (math.isnan(a) and math.isnan(b)) for a, b in zip(start, end, strict=True)
        ):
            self.note({"t": "still", "to": self._program(end)} if self.trace is not None else {})
            return
        stamp = stamp or self.stamp()
        feed = NAN
        if kind != RAPID:
            feed = stamp.feed
            if stamp.feed_mode == 93:
                feed *= _distance(start, end)
        self._append(kind, start, end, stamp, feed)
        state.x, state.y, state.z = end
        if self.trace is not None:
            self._trace_straight(kind, start, end, feed)

    def arc(
        self, centre: Place, axis: int, sweep: float, end: Place, stamp: Stamp | None = None
    ) -> None:
        """Move along an arc or helix to `end`."""
        state = self.state
        stamp = stamp or self.stamp()
        start = (state.x, state.y, state.z)
        u, v = _IN_PLANE[axis]
        a, b = start[u] - centre[u], start[v] - centre[v]
        radius = math.sqrt(a * a + b * b)
        length = helix_length(radius, sweep, end[axis] - start[axis])
        feed = stamp.feed * length if stamp.feed_mode == 93 else stamp.feed
        self._append(ARC, start, end, stamp, feed, centre, axis, sweep)
        state.x, state.y, state.z = end
        if self.trace is not None:
            self._trace_arc(start, end, centre, axis, sweep, radius, length, feed)

    def dwell(self, seconds: float) -> None:
        """Stand still."""
        self._event(DWELL, seconds)
        self.note({"t": "dwell", "s": seconds})

    def turn_in_place(self, minutes: float) -> None:
        """Stand still while a rotary axis turns at feed."""
        self._event(DWELL, 60.0 * minutes)
        self.note({"t": "rotary", "minutes": minutes})

    def stop(self, name: str) -> None:
        """Wait for the person."""
        self._event(STOP)
        self.note({"t": "stop", "v": name})

    def change_tool(self) -> None:
        """Change the tool; `state.tool` is the new one already."""
        self._event(TOOL)
        self.note({"t": "toolchange", "v": self.state.tool})

    def finish(self) -> None:
        """End the program."""
        self._event(END)

    def note(self, entry: dict[str, Any]) -> None:
        """Add an event to the trace, if there is one."""
        if self.trace is not None:
            self.trace.append({**entry, "line": self.line})

    def _event(self, kind: int, seconds: float = 0.0) -> None:
        here = self.place()
        self._append(kind, here, here, self.stamp(), NAN, seconds=seconds)

    def _append(
        self,
        kind: int,
        start: Place,
        end: Place,
        stamp: Stamp,
        feed: float,
        centre: Place = (NAN, NAN, NAN),
        axis: int = -1,
        sweep: float = 0.0,
        seconds: float = 0.0,
    ) -> None:
        self.rows.values.extend(
            (
                kind, *start, *end, *centre, axis, sweep, feed, stamp.spindle, stamp.tool,
                seconds, stamp.tolerance, stamp.line, stamp.source,
            )
        )  # fmt: skip

    # ---- the trace, in program coordinates and the active unit

    def _trace_straight(self, kind: int, start: Place, end: Place, feed: float) -> None:
        names = {RAPID: "rapid", LINE: "feed", PROBE: "feed"}
        entry: dict[str, Any] = {"t": names[kind], "to": self._program(end)}
        if kind != RAPID:
            entry["minutes"] = _distance(start, end) / feed if feed else NAN
        self.note(entry)

    def _trace_arc(
        self,
        start: Place,
        end: Place,
        centre: Place,
        axis: int,
        sweep: float,
        radius: float,
        length: float,
        feed: float,
    ) -> None:
        u, v = _IN_PLANE[axis]
        mid = [0.0, 0.0, 0.0]
        mid[u], mid[v] = point_on_arc(start[u], start[v], centre[u], centre[v], 0.5 * sweep)
        mid[axis] = 0.5 * (start[axis] + end[axis])
        seen = self._program(centre)
        factor = self.state.factor
        self.note(
            {
                "t": "arc",
                "to": self._program(end),
                "centre": {"xyz"[u]: seen[u], "xyz"[v]: seen[v]},
                "radius": radius / factor,
                "sweep": math.degrees(sweep),
                "length": length / factor,
                "mid": self._program((mid[0], mid[1], mid[2])),
                "minutes": length / feed if feed else NAN,
            }
        )

    def _program(self, place: Place) -> list[float]:
        state = self.state
        shift = (state.shift_x, state.shift_y, state.shift_z)
        return [(p - s) / state.factor for p, s in zip(place, shift, strict=True)]


#: normal axis -> (u, v)
_IN_PLANE: Final = {normal: (u, v) for u, v, normal in PLANE_AXES.values()}


def _distance(start: Place, end: Place) -> float:
    """Length of a straight move, mm; axes whose place is not known do not count."""
    total = 0.0
    for a, b in zip(start, end, strict=True):
        step = b - a
        if step == step:
            total += step * step
    return math.sqrt(total)
