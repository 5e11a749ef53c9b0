"""Long programs: the text as bytes, lines made only when asked for, plain lines run compiled.

Only `program` asks for this module, and only for long programs, so that a short one never waits
for the compiler. What comes out is what the interpreter alone would have made.
"""

from __future__ import annotations

import codecs
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from functools import cached_property
from typing import Final, overload

import numpy as np
from numpy.typing import NDArray

from dryrun.gcode import fast
from dryrun.gcode.controller import Controller
from dryrun.gcode.interpreter import MOST_REMARKS, Interpreter
from dryrun.gcode.scan import (
    LINE_WORDS,
    Lines,
    Words,
    as_bytes_array,
    line_starts,
    make_tables,
    scan_lines,
    survey,
)
from dryrun.gcode.text import bare, decode

#: Bytes at the start of a program in which its number is looked for.
HEAD: Final = 4096

#: Most lines and words of a window.
_WINDOW: Final = (8192, 40960)
#: Lines looked at after a jump, which may soon be followed by the next.
_SMALL_WINDOWS: Final = (64, 512)
#: Texts of at least so many bytes are read ahead by a second thread.
_THREADED: Final = 1_000_000

#: A run of fewer lines costs more than the interpreter takes for them.
_SHORT_RUN: Final = 8
#: How often the interpreter goes on alone, at most, when runs stay short.
_LONGEST_REST: Final = 64


def open_bulk(data: bytes) -> tuple[BulkLines, str]:
    """Return the lines of a long program, and as much of its text as has comments in it."""
    body = data.removeprefix(codecs.BOM_UTF8)
    found = survey(body)
    text, encoding = ("", "utf-8") if found.ascii else decode(data)
    lines = BulkLines(body, encoding, found.lines)
    if not found.remarks:
        return lines, body[:HEAD].decode("latin-1")
    return lines, text or body.decode("ascii")


class BulkLines(Sequence[str]):
    """The lines of a long text, decoded one at a time from its bytes.

    A window of the text is held as tables of lines and words. It moves on as the program does,
    and a second thread reads the next one meanwhile; only a program that jumps costs a list of
    where every line begins.
    """

    def __init__(self, data: bytes, encoding: str, length: int) -> None:
        """Take so many lines in UTF-8 (without a byte order mark) or Latin-1."""
        self.encoding = encoding
        self._data = data
        self._array = as_bytes_array(data)
        self._length = length
        self._large = (make_tables(*_WINDOW), make_tables(*_WINDOW))
        self._small = tuple(make_tables(size, 8 * size + LINE_WORDS) for size in _SMALL_WINDOWS)
        #: Which of the large tables was taken last, and how many small ones since a jump.
        self._turn = 0
        self._grown = len(self._small)
        self.lines, self.words = self._large[0]
        #: Index of the window's first line, and how many lines it holds.
        self.first = 0
        self.held = 0
        #: First byte after the window.
        self._next = 0
        self._reader = ThreadPoolExecutor(1) if len(data) >= _THREADED else None
        #: What the second thread reads into the other large tables: first byte, and the result.
        self._ahead: tuple[int, Future[tuple[int, int]]] | None = None

    def __len__(self) -> int:
        return self._length

    @overload
    def __getitem__(self, index: int) -> str: ...
    @overload
    def __getitem__(self, index: slice) -> list[str]: ...
    def __getitem__(self, index: int | slice) -> str | list[str]:
        if isinstance(index, slice):
            return [self[at] for at in range(*index.indices(self._length))]
        at = index + self._length if index < 0 else index
        if not 0 <= at < self._length:
            raise IndexError(f"line {index} of {self._length}")
        if not self.first <= at <= self.first + self.held:
            return self._line(self._starts[at], self._starts[at + 1])
        place = self.window(at)
        return self._line(self.lines.starts[place], self.lines.ends[place])

    def __iter__(self) -> Iterator[str]:
        starts = self._starts
        return (self._line(starts[at], starts[at + 1]) for at in range(self._length))

    def window(self, line: int) -> int:
        """Move the window to a line if need be; return the line's place in it."""
        after = self.first + self.held
        if line != after and self.first <= line < after:
            return line - self.first
        if line != after:
            self._grown, self._next = 0, int(self._starts[line])
        if self._grown < len(self._small):
            tables = self._small[self._grown]
            self._grown += 1
            result = scan_lines(self._array, self._next, *tables)
        else:
            tables, result = self._large_window()
        self.first = line
        self.lines, self.words = tables
        self.held, self._next = result
        return 0

    def _large_window(self) -> tuple[tuple[Lines, Words], tuple[int, int]]:
        """Return the next large window, and have the one after it read meanwhile."""
        begin = self._next
        read, self._ahead = self._ahead, None
        result = read[1].result() if read is not None else (0, 0)
        self._turn = 1 - self._turn
        tables = self._large[self._turn]
        if read is None or read[0] != begin:
            result = scan_lines(self._array, begin, *tables)
        if self._reader is not None and result[1] < len(self._data):
            other = self._large[1 - self._turn]
            self._ahead = (
                result[1], self._reader.submit(scan_lines, self._array, result[1], *other),
            )  # fmt: skip
        return tables, result

    def close(self) -> None:
        """Send the second thread home; lines can still be asked for."""
        if self._reader is not None:
            self._reader.shutdown()
            self._reader = self._ahead = None

    @cached_property
    def _starts(self) -> NDArray[np.int64]:
        starts = np.empty(self._length + 1, np.int64)
        line_starts(self._array, starts)
        return starts

    def _line(self, begin: int, stop: int) -> str:
        return self._data[begin:stop].decode(self.encoding).rstrip("\r\n")


class FastPath:
    """Runs plain lines of one text compiled, on behalf of an interpreter."""

    def __init__(self, lines: BulkLines, controller: Controller) -> None:
        self._lines = lines
        self._loop = fast.make_loop()
        self._rest = self._resting = 0
        takes = controller.takes
        #: Where a controller reads numbers or remarks its own way, the interpreter does it all.
        self._usable = (
            controller.decimal_point == "free"
            and not controller.to_the_letter
            and takes("semicolon-comments")
        )
        self._arcs = all(takes(need) for need in ("arcs", "helical-arcs", "radius-arcs"))
        self._loop.codes[fast.PLANES] = takes("other-planes")

    def run(self, run: Interpreter, most: int | None = None) -> None:
        """Carry out plain lines, so many at most; stop at the first that is not plain."""
        if self._resting > 0:
            self._resting -= 1
            return
        state, carriage = run.state, run.carriage
        if not self._usable:
            return
        if carriage.trace is not None or run.compensation is not None:
            return
        if state.feed_mode != 94 or run.feed_is_old:
            return
        begin = run.index
        stop = len(self._lines) if most is None else min(begin + most, len(self._lines))
        self._take(run)
        while run.index < stop:
            if not self._run_window(run, stop):
                break
        done = run.index - begin
        if done:
            self._hand_back(run, done)
        if done >= _SHORT_RUN:
            self._rest = 0
        else:  # nothing to gain here: leave the interpreter alone for a while
            self._rest = min(2 * self._rest + 1, _LONGEST_REST)
        self._resting = self._rest

    def _run_window(self, run: Interpreter, end: int) -> bool:
        """Run on to the window's end, or the line `end`; False when one is not that plain."""
        text = self._lines
        first = text.window(run.index)
        held = min(text.held, end - text.first)
        x, y, z = (float(value) for value in self._loop.numbers[:3])
        columns = run.rows.reserve(len(text) - run.index, (x, y, z))
        row = len(run.rows)
        stop, after = fast.run_lines(
            text.lines, text.words, first, held, text.first + 1, self._loop, columns, row
        )
        run.rows.commit(after - row)
        self._remarks(run, first, stop)
        run.index = text.first + stop
        return bool(stop == held)

    def _take(self, run: Interpreter) -> None:
        """Set the loop to the state of the interpreter."""
        state, (numbers, codes, counts, _) = run.state, self._loop
        numbers[:] = (
            state.x, state.y, state.z, state.shift_x, state.shift_y, state.shift_z, state.factor,
            state.feed, state.speed, state.tolerance,
            min(run.arc_tolerance(0.0), run.report_arc_tolerance()),
        )  # fmt: skip
        codes[: fast.ARCS] = (
            state.motion, state.plane, state.absolute, state.turning, state.tool,
        )  # fmt: skip
        codes[fast.ARCS] = self._arcs and not state.centre_absolute
        codes[fast.PLACED] = codes[fast.Z_SAID] = 0
        counts[:] = 0

    def _hand_back(self, run: Interpreter, lines: int) -> None:
        """Set the interpreter to the state of the loop, after so many lines."""
        state, (numbers, codes, counts, _) = run.state, self._loop
        run.blocks_run += lines
        state.x, state.y, state.z = (float(value) for value in numbers[:3])
        state.feed, state.speed = float(numbers[fast.FEED]), float(numbers[fast.SPEED])
        state.motion, state.plane = int(codes[fast.MOTION]), int(codes[fast.PLANE])
        state.absolute = bool(codes[fast.ABSOLUTE])
        for code in np.flatnonzero(counts):
            run.codes[f"G{code}"] += int(counts[code])
        run.plane_said |= bool(counts[17:20].any())
        run.distance_said |= bool(counts[90:92].any())
        run.z_said |= bool(codes[fast.Z_SAID])
        for axis in range(3):
            if codes[fast.PLACED] >> axis & 1:
                run.lost[axis] = False
        if counts[:4].any() and run.cycle.key >= 0:
            run.cycle.clear()
        if run.index >= len(self._lines):
            run.stand_at_end(self._lines)

    def _remarks(self, run: Interpreter, first: int, stop: int) -> None:
        """Keep the remarks on the lines run; the last one of a line counts (NISTIR 6556 3.3.5)."""
        text = self._lines
        for place in np.flatnonzero(text.lines.commented[first:stop]):
            if len(run.comments) >= MOST_REMARKS:
                return
            found = bare(text[text.first + first + int(place)], run.controller)
            run.keep_remark(found.comments[-1])
