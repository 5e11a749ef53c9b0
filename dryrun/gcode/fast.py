"""The compiled path through runs of plain lines.

Most lines of a large program are plain motion: axis words, now and then a G0, an F or an arc. They
run through the loop in this file, which takes the words of `scan` and writes rows straight into
the columns of `rows`. Everything it does not know, and every line that would give cause for a
finding, it leaves alone: it stops in front of that line, the interpreter reads it, and the loop
goes on behind it. What it does know gives the same digits as the interpreter, operation by
operation; the tests hold the two against each other.
"""

from __future__ import annotations

import math
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.gcode import arcs
from dryrun.gcode.rows import Columns
from dryrun.gcode.scan import EMPTY, OTHER, Lines, Words
from dryrun.jit import exact_kernel
from dryrun.motion import ARC, LINE, RAPID

#: Places in `Loop.numbers`; position and shift stand in the order of the axes.
X, Y, Z, SHIFT_X, SHIFT_Y, SHIFT_Z, FACTOR, FEED, SPEED, TOLERANCE, ARC_TOLERANCE = range(11)

#: Places in `Loop.codes`.
MOTION, PLANE, ABSOLUTE, TURNING, TOOL, ARCS, PLANES = range(7)
#: What the lines run so far said: bits of axes sent to absolute places, and whether Z stood there.
PLACED, Z_SAID = 7, 8
NUMBERS, CODES = 11, 9

_LETTER_A, _LETTER_G, _LETTER_N, _LETTER_X, _LETTER_Y, _LETTER_Z = (ord(c) for c in "AGNXYZ")
_F, _G, _I, _N, _R, _S, _X, _Z = (ord(letter) - _LETTER_A for letter in "FGINRSXZ")
_AXES: Final = 0b111 << _X
_CENTRE_OR_RADIUS: Final = 0b111 << _I | 1 << _R
_KNOWN: Final = _AXES | _CENTRE_OR_RADIUS | 1 << _F | 1 << _S | 1 << _N
_NAN: Final = math.nan

#: Square of the shortest chord of an arc by radius taken here, mm2.
_SHORTEST_CHORD: Final = 1e-12
#: Arcs by radius with something to be said about them (NISTIR 6556 3.5.3.1), a little wider, rad.
_TOUCHY: Final = tuple(math.radians(angle) for angle in (164.9, 195.1, 344.9))

_centre_arc = exact_kernel(arcs.centre_arc)
_radius_arc = exact_kernel(arcs.radius_arc)


class Loop(NamedTuple):
    """What the loop starts from and changes.

    `numbers` (11,) float64 and `codes` (9,) int64 in the order of the constants above; `counts`
    (100,) int64: how often each G code was carried out; `values` (26,) float64 is room to work
    in: the word of each letter on a line.
    """

    numbers: NDArray[np.float64]
    codes: NDArray[np.int64]
    counts: NDArray[np.int64]
    values: NDArray[np.float64]


def make_loop() -> Loop:
    """Make an empty state."""
    return Loop(np.zeros(NUMBERS), np.zeros(CODES, np.int64), np.zeros(100, np.int64), np.zeros(26))


@exact_kernel
def run_lines(
    lines: Lines, words: Words, first: int, count: int, line: int, loop: Loop, columns: Columns,
    row: int,
) -> tuple[int, int]:  # fmt: skip
    """Run the plain lines from one on, up to the first that needs the interpreter.

    Lines of nothing but axis words in a straight mode are run here, word for word; all others in
    functions of their own (numba counts references to every array it hands over, which costs more
    than such a line).

    Parameters
    ----------
    lines : Lines
        The table of a chunk.
    words : Words
        The words of the chunk.
    first : int
        Line of the table to begin with.
    count : int
        Lines in the table.
    line : int
        1-based number in the text of the table's first line.
    loop : Loop
        State; changed to what it is after the last line run.
    columns : Columns
        Written from `row` on, 0 in columns that stay 0; has room for a row for each line.
    row : int
        First free row.

    Returns
    -------
    next, row : int
        The first line not run, and the first free row after those written.
    """
    _, _, first_words, word_counts, kinds, _ = lines
    letters, values = words
    numbers, codes, _, _ = loop
    kind, start, end, centre, axis, _, feed, spindle, tool, _, tolerance, at, _ = columns
    straight = _is_straight(loop)
    for i in range(first, count):
        if kinds[i] == EMPTY:
            continue
        if kinds[i] == OTHER:
            return i, row
        x, y, z = numbers[X], numbers[Y], numbers[Z]
        simple, with_z = straight, False
        for word in range(first_words[i], first_words[i] + word_counts[i]):
            letter = letters[word]
            if letter == _LETTER_X:
                x = values[word] * numbers[FACTOR] + numbers[SHIFT_X]
            elif letter == _LETTER_Y:
                y = values[word] * numbers[FACTOR] + numbers[SHIFT_Y]
            elif letter == _LETTER_Z:
                z = values[word] * numbers[FACTOR] + numbers[SHIFT_Z]
                with_z = True
            elif letter != _LETTER_N:
                simple = False
        if not simple:
            after = _run_line(
                words, first_words[i], first_words[i] + word_counts[i], line + i, loop, columns, row
            )
            if after < 0:
                return i, row
            row = after
            straight = _is_straight(loop)
            continue
        if with_z:
            codes[Z_SAID] = 1
        if x != numbers[X] or y != numbers[Y] or z != numbers[Z]:
            rapid = codes[MOTION] == 0
            kind[row] = RAPID if rapid else LINE
            start[row, 0], start[row, 1], start[row, 2] = numbers[X], numbers[Y], numbers[Z]
            end[row, 0], end[row, 1], end[row, 2] = x, y, z
            centre[row, 0], centre[row, 1], centre[row, 2] = _NAN, _NAN, _NAN
            axis[row] = -1
            feed[row] = _NAN if rapid else numbers[FEED] * numbers[FACTOR]
            spindle[row] = codes[TURNING] * numbers[SPEED] if codes[TURNING] != 0 else 0.0
            tool[row], tolerance[row] = codes[TOOL], numbers[TOLERANCE]
            at[row] = line + i
            numbers[X], numbers[Y], numbers[Z] = x, y, z
            row += 1
    return count, row


@exact_kernel
def _is_straight(loop: Loop) -> bool:
    """Whether a line of axis words alone is a straight move from a known place."""
    numbers, codes, _, _ = loop
    if codes[ABSOLUTE] == 0 or codes[MOTION] not in (0, 10):
        return False
    if codes[MOTION] == 10 and not numbers[FEED] > 0.0:
        return False
    for axis in range(6):  # noqa: SIM110 - places and shifts; numba has no generators in all()
        if numbers[axis] != numbers[axis]:
            return False
    return True


@exact_kernel
def _run_line(
    words: Words, begin: int, stop: int, line: int, loop: Loop, columns: Columns, row: int
) -> int:
    """Run one line; return the first free row after it, or -1 when it is left untouched."""
    numbers, codes, counts, values = loop
    found, motion, plane, absolute = _read_words(words, begin, stop, codes, values)
    feed = values[_F] if found & 1 << _F else numbers[FEED]
    speed = values[_S] if found & 1 << _S else numbers[SPEED]
    if found < 0 or feed <= 0.0 or speed <= 0.0:
        return -1
    target = _target(loop, found, absolute)
    sweep, axis, centre = 0.0, -1, (_NAN, _NAN, _NAN)
    moves = found & _AXES != 0
    if moves:
        if motion > 30 or (motion != 0 and not feed > 0.0) or not _sent(found, absolute, target):
            return -1
        if motion >= 20:
            sweep, axis, centre = _arc(loop, found, motion == 20, plane, target)
            if axis < 0:
                return -1
    if found & _CENTRE_OR_RADIUS and axis < 0:
        return -1
    for word in range(begin, stop):
        if words.letters[word] == _LETTER_G:
            counts[int(words.values[word])] += 1
    codes[MOTION], codes[PLANE], codes[ABSOLUTE] = motion, plane, absolute
    numbers[FEED], numbers[SPEED] = feed, speed
    codes[PLACED] |= (found & _AXES) >> _X if absolute != 0 else 0
    codes[Z_SAID] |= found >> _Z & 1
    if moves and (axis >= 0 or _differs(loop, target)):
        _write_row(columns, row, line, loop, target, centre, axis, sweep)
        numbers[X], numbers[Y], numbers[Z] = target
        row += 1
    return row


@exact_kernel
def _read_words(
    words: Words, begin: int, stop: int, codes: NDArray[np.int64], values: NDArray[np.float64]
) -> tuple[int, int, int, int]:
    """Put the words into `values`; return the letters found as bits, and the modes after the line.

    The letters are -1 when the line needs the interpreter.
    """
    found, groups = 0, 0
    motion, plane, absolute = codes[MOTION], codes[PLANE], codes[ABSOLUTE]
    for word in range(begin, stop):
        letter: Any = np.int64(words.letters[word]) - _LETTER_A
        value = words.values[word]
        if letter != _G:
            if not _KNOWN >> letter & 1:
                return -1, motion, plane, absolute
            found |= 1 << letter
            values[letter] = value
            continue
        code: Any = np.int64(value) if -1.0 < value < 100.0 else -1
        if code != value:
            return -1, motion, plane, absolute
        if 0 <= code <= 3:
            group, motion = 1, code * 10
        elif code == 17 or (18 <= code <= 19 and codes[PLANES] != 0):
            group, plane = 2, code
        elif 90 <= code <= 91:
            group, absolute = 4, 91 - code
        elif code == 94:
            group = 8
        else:
            return -1, motion, plane, absolute
        if groups & group:
            return -1, motion, plane, absolute
        groups |= group
    return found, motion, plane, absolute


@exact_kernel
def _target(loop: Loop, found: int, absolute: int) -> tuple[float, float, float]:
    """Where the axis words lead, mm; the place itself for axes without a word."""
    return (
        _axis(loop, found, absolute, 0),
        _axis(loop, found, absolute, 1),
        _axis(loop, found, absolute, 2),
    )


@exact_kernel
def _axis(loop: Loop, found: int, absolute: int, axis: int) -> float:
    numbers, _, _, values = loop
    here = float(numbers[X + axis])
    if not found >> (_X + axis) & 1:
        return here
    step = float(values[_X + axis] * numbers[FACTOR])
    return step + float(numbers[SHIFT_X + axis]) if absolute != 0 else here + step


@exact_kernel
def _sent(found: int, absolute: int, target: tuple[float, float, float]) -> bool:
    """Whether no axis is to go a step from a place that is not known."""
    for axis in range(3):
        if absolute == 0 and found >> (_X + axis) & 1 and target[axis] != target[axis]:
            return False
    return True


@exact_kernel
def _differs(loop: Loop, target: tuple[float, float, float]) -> bool:
    """Whether the target is another place; what is not known stays where it is."""
    numbers = loop.numbers
    for axis in range(3):
        unknown = target[axis] != target[axis] and numbers[X + axis] != numbers[X + axis]
        if target[axis] != numbers[X + axis] and not unknown:
            return True
    return False


@exact_kernel
def _arc(
    loop: Loop, found: int, clockwise: bool, plane: int, target: tuple[float, float, float]
) -> tuple[float, int, tuple[float, float, float]]:
    """Return sweep, axis and centre of an arc; axis -1 when it needs the interpreter.

    Only arcs within the tightest tolerance in use and without anything to be said about them.
    """
    numbers, codes, _, values = loop
    nothing = (0.0, -1, (_NAN, _NAN, _NAN))
    u, v, normal = (0, 1, 2) if plane == 17 else (2, 0, 1) if plane == 18 else (1, 2, 0)
    by_radius = found >> _R & 1 != 0
    offset_u, offset_v = found >> (_I + u) & 1 != 0, found >> (_I + v) & 1 != 0
    if codes[ARCS] == 0 or found >> (_I + normal) & 1 or by_radius == (offset_u or offset_v):
        return nothing
    if not (found >> (_X + u) & 1 or found >> (_X + v) & 1):
        return nothing
    start_u, start_v, end_u, end_v = numbers[X + u], numbers[X + v], target[u], target[v]
    if start_u != start_u or start_v != start_v or end_u != end_u or end_v != end_v:
        return nothing
    if by_radius:
        chord_u, chord_v = end_u - start_u, end_v - start_v
        if values[_R] == 0.0 or not chord_u * chord_u + chord_v * chord_v > _SHORTEST_CHORD:
            return nothing
        arc = _radius_arc(start_u, start_v, end_u, end_v, values[_R] * numbers[FACTOR], clockwise)
        size = abs(arc.sweep)
        if (
            arc.excess > numbers[ARC_TOLERANCE]
            or size > _TOUCHY[2]
            or _TOUCHY[0] < size < _TOUCHY[1]
        ):
            return nothing
        centre_u, centre_v, sweep = arc.centre_u, arc.centre_v, arc.sweep
    else:
        centre_u = start_u + (values[_I + u] if offset_u else 0.0) * numbers[FACTOR]
        centre_v = start_v + (values[_I + v] if offset_v else 0.0) * numbers[FACTOR]
        turn = _centre_arc(start_u, start_v, end_u, end_v, centre_u, centre_v, clockwise)
        off = abs(turn.start_radius - turn.end_radius)
        if turn.start_radius == 0.0 or not off <= numbers[ARC_TOLERANCE]:
            return nothing
        sweep = turn.sweep
    height = numbers[X + normal]
    if plane == 17:
        return sweep, 2, (centre_u, centre_v, height)
    if plane == 18:
        return sweep, 1, (centre_v, height, centre_u)
    return sweep, 0, (height, centre_u, centre_v)


@exact_kernel
def _write_row(
    columns: Columns, row: int, line: int, loop: Loop, target: tuple[float, float, float],
    centre: tuple[float, float, float], axis: int, sweep: float,
) -> None:  # fmt: skip
    numbers, codes, _, _ = loop
    rapid = codes[MOTION] == 0
    columns.kind[row] = RAPID if rapid else ARC if axis >= 0 else LINE
    for i in range(3):
        columns.start[row, i] = numbers[X + i]
        columns.end[row, i] = target[i]
        columns.centre[row, i] = centre[i]
    columns.axis[row] = axis
    columns.sweep[row] = sweep
    columns.feed[row] = _NAN if rapid else numbers[FEED] * numbers[FACTOR]
    columns.spindle[row] = codes[TURNING] * numbers[SPEED] if codes[TURNING] != 0 else 0.0
    columns.tool[row] = codes[TOOL]
    columns.tolerance[row] = numbers[TOLERANCE]
    columns.line[row] = line
