"""The short way for plain moves: lines with nothing but an N number, G0 to G3, axes, I J K and F.

It does what `line`, `modes` and `moves` would do, in one go. Anything it is not sure of, any rule
that might be broken, it leaves to them: it then returns without having changed a thing.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from dryrun.gcode.arcs import PLANE_AXES, centre_arc
from dryrun.gcode.state import NAN
from dryrun.motion import ARC, LINE, RAPID

if TYPE_CHECKING:
    from dryrun.gcode.interpreter import Interpreter

_NUMBER = r"([+-]?(?:[0-9]{1,9}(?:\.[0-9]{0,12})?|\.[0-9]{1,12}))[ \t]*"
_PLAIN: Final = re.compile(
    r"[ \t]*(?:[Nn][0-9]{1,5}(?![0-9.])[ \t]*)?(?:[Gg]0?([0-3])(?![0-9.])[ \t]*)?"
    + "".join(f"(?:[{letter}{letter.lower()}][ \t]*{_NUMBER})?" for letter in "XYZIJKF")
)
#: Longest line taken here (NISTIR 6556 3.3).
_LONGEST: Final = 256


def _stays(start: tuple[float, ...], end: tuple[float, ...]) -> bool:
    """Whether a move goes nowhere, as far as is known."""
    return all(a == b or (a != a and b != b) for a, b in zip(start, end, strict=True))


class Plain:
    """Runs as many plain lines as follow one another."""

    def __init__(self, run: Interpreter) -> None:
        self.interpreter = run

    def run(self, lines: Sequence[str], most: int) -> None:
        """Carry out at most so many plain lines from here on; stop at the first that is not."""
        run = self.interpreter
        carriage = run.carriage
        if carriage.trace is not None or run.compensation is not None:
            return
        state = run.state
        if state.feed_mode != 94 or run.controller.decimal_point != "free" or run.feed_is_old:
            return
        index = begin = run.index
        stop = min(len(lines), begin + most)
        match = _PLAIN.fullmatch
        codes = [0, 0, 0, 0]
        source = run.source
        step = self._step
        while index < stop:
            raw = lines[index]
            found = match(raw)
            if found is None or len(raw) > _LONGEST or found.lastindex is None:
                break
            if not step(found.groups(), index + 1, source, codes):
                break
            index += 1
        run.index = index
        run.blocks_run += index - begin
        if begin < index == len(lines):
            run.stand_at_end(lines)
        for code, count in enumerate(codes):
            if count:
                run.codes[f"G{code}"] += count

    def _step(
        self, groups: tuple[str | None, ...], line: int, source: int, codes: list[int]
    ) -> bool:
        """Carry out one plain line; False, with nothing changed, when it is not that plain."""
        run = self.interpreter
        state = run.state
        g, x_, y_, z_, i_, j_, k_, f_ = groups
        if x_ is None and y_ is None and z_ is None:
            return False
        motion = state.motion if g is None else 10 * int(g)
        if motion > 30:
            return False
        feed = state.feed if f_ is None else float(f_)
        if motion and not feed > 0.0:
            return False
        factor = state.factor
        x, y, z = state.x, state.y, state.z
        if state.absolute:
            ex = x if x_ is None else float(x_) * factor + state.shift_x
            ey = y if y_ is None else float(y_) * factor + state.shift_y
            ez = z if z_ is None else float(z_) * factor + state.shift_z
        else:
            ex = x if x_ is None else x + float(x_) * factor
            ey = y if y_ is None else y + float(y_) * factor
            ez = z if z_ is None else z + float(z_) * factor
            if ex != ex or ey != ey or ez != ez:
                return False
        round_ = i_ is not None or j_ is not None or k_ is not None
        if motion >= 20:
            if not round_ or not self._arc(
                motion, (ex, ey, ez), (x_, y_, z_), (i_, j_, k_), feed, line, source
            ):
                return False
        elif round_:
            return False
        elif not (ex == x and ey == y and ez == z):
            if (ex != ex or ey != ey or ez != ez) and _stays((x, y, z), (ex, ey, ez)):
                return False
            run.rows.values.extend((
                LINE if motion else RAPID, x, y, z, ex, ey, ez, NAN, NAN, NAN, -1, 0.0,
                feed * factor if motion else NAN, state.spindle, state.tool, 0.0, state.tolerance,
                line, source,
            ))  # fmt: skip
        if g is not None:
            if run.cycle.key >= 0:
                run.cycle.clear()
            codes[int(g)] += 1
            state.motion = motion
        state.feed = feed
        state.x, state.y, state.z = ex, ey, ez
        if z_ is not None:
            run.z_said = True
        if state.absolute:
            lost = run.lost
            if x_ is not None:
                lost[0] = False
            if y_ is not None:
                lost[1] = False
            if z_ is not None:
                lost[2] = False
        return True

    def _arc(
        self,
        motion: int,
        end: tuple[float, float, float],
        words: tuple[str | None, str | None, str | None],
        offsets: tuple[str | None, str | None, str | None],
        feed: float,
        line: int,
        source: int,
    ) -> bool:
        run = self.interpreter
        state = run.state
        u, v, normal = PLANE_AXES[state.plane]
        if state.centre_absolute or offsets[normal] is not None:
            return False
        if words[u] is None and words[v] is None:
            return False
        if not run.controller.takes("arcs") or not run.controller.takes("helical-arcs"):
            return False
        start = (state.x, state.y, state.z)
        factor = state.factor
        first, second = offsets[u], offsets[v]
        centre = [0.0, 0.0, 0.0]
        centre[u] = start[u] + (float(first) if first is not None else 0.0) * factor
        centre[v] = start[v] + (float(second) if second is not None else 0.0) * factor
        centre[normal] = start[normal]
        found = centre_arc(start[u], start[v], end[u], end[v], centre[u], centre[v], motion == 20)
        off = abs(found.start_radius - found.end_radius)
        if not off <= run.report_arc_tolerance() or found.start_radius == 0.0:
            return False
        run.rows.values.extend((
            ARC, *start, *end, *centre, normal, found.sweep, feed * factor, state.spindle,
            state.tool, 0.0, state.tolerance, line, source,
        ))  # fmt: skip
        return True
