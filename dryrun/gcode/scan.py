"""Compiled scanner: bytes to a table of lines and words, without an object per word.

The scanner knows what a plain line looks like and nothing of what its words mean. A line is PLAIN
when it holds only words of a letter and a number (NISTIR 6556 3.3.2), an optional N number in
front, and comments that ask nothing of the reader; the values of its words are then exactly the
float64 nearest to the decimal written. Everything else is OTHER and goes to the interpreter as
text: parameters, expressions, exponents, `%`, `/`, O words, checksums, control characters, blanks
inside a number, numbers too long for an exact quotient, lines over the 256 characters of 3.3.

Line ends are LF, CR LF and CR, mixed as they come.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.jit import exact_kernel

EMPTY: Final = 0
PLAIN: Final = 1
OTHER: Final = 2

#: Most words on a plain line, and most bytes on one (NISTIR 6556 3.3).
LINE_WORDS: Final = 64
LINE_BYTES: Final = 256

#: Most digits in a plain N number (NISTIR 6556 3.3.1).
NUMBER_DIGITS: Final = 5

#: A whole number up to 2**53 and a power of ten up to 10**22 are float64 without error, so their
#: quotient is rounded only once (IEEE 754, correctly rounded division).
_MANTISSA_LIMIT: Final = 2**53
_NUMBER_BYTES: Final = 18
#: Most digits before the point: no machine is larger than that many mm.
_WHOLE_DIGITS: Final = 12
_POWERS: Final = np.array([10.0**k for k in range(23)])

#: Bytes looked at at once by `survey`.
_PIECE: Final = 1 << 16

_LF, _CR, _BLANK, _TAB = 10, 13, 32, 9
_OPEN, _CLOSE, _SEMICOLON = 40, 41, 59
_PLUS, _MINUS, _POINT = 43, 45, 46
_LETTER_A, _LETTER_E, _LETTER_G, _LETTER_M, _LETTER_N, _LETTER_O = 65, 69, 71, 77, 78, 79
_END_OF_LINE, _SPACE, _WORD, _COMMENT, _STRANGE = 0, 1, 2, 3, 4


def _byte_kinds() -> NDArray[np.uint8]:
    kinds = np.full(256, _STRANGE, dtype=np.uint8)
    kinds[[_LF, _CR]] = _END_OF_LINE
    kinds[[_BLANK, _TAB]] = _SPACE
    kinds[[_OPEN, _SEMICOLON]] = _COMMENT
    for letter in range(_LETTER_A, _LETTER_A + 26):
        if letter not in (_LETTER_E, _LETTER_O):
            kinds[[letter, letter + 32]] = _WORD
    return kinds


_KINDS: Final = _byte_kinds()


class Words(NamedTuple):
    """Words of the plain lines of a chunk, in order.

    `letters` (n,) uint8, upper case; `values` (n,) float64.
    """

    letters: NDArray[np.uint8]
    values: NDArray[np.float64]


class Lines(NamedTuple):
    """Lines of a chunk.

    `starts`, `ends` (n,) int64: byte offsets of the line, its line end left out; `first_words`,
    `word_counts` (n,) int64: its words; `kinds` (n,) uint8: EMPTY, PLAIN or OTHER; `commented` (n,)
    bool: whether a comment stands on it (not said for OTHER).
    """

    starts: NDArray[np.int64]
    ends: NDArray[np.int64]
    first_words: NDArray[np.int64]
    word_counts: NDArray[np.int64]
    kinds: NDArray[np.uint8]
    commented: NDArray[np.bool_]


def make_tables(lines: int = 8192, words: int = 40960) -> tuple[Lines, Words]:
    """Make empty tables for chunks of at most so many lines and words.

    `words` must be larger than LINE_WORDS, or no line would ever fit.
    """
    if words <= LINE_WORDS or lines < 1:
        raise ValueError(f"tables of {lines} lines and {words} words hold no line")
    offsets = [np.empty(lines, dtype=np.int64) for _ in range(4)]
    kinds, commented = np.empty(lines, dtype=np.uint8), np.empty(lines, dtype=np.bool_)
    table = Lines(offsets[0], offsets[1], offsets[2], offsets[3], kinds, commented)
    return table, Words(np.empty(words, dtype=np.uint8), np.empty(words, dtype=np.float64))


def as_bytes_array(data: bytes | bytearray | memoryview) -> NDArray[np.uint8]:
    """View the bytes of a program as a read-only array, (n,) uint8, without a copy."""
    array = np.frombuffer(data, dtype=np.uint8)
    array.flags.writeable = False
    return array


class Survey(NamedTuple):
    """What a first look at the bytes tells.

    `lines`: their number (a last line without an end counts, nothing after an end does);
    `remarks`: whether there are comments; `ascii`: whether all bytes are below 128.
    """

    lines: int
    remarks: bool
    ascii: bool


def survey(data: bytes) -> Survey:
    """Look through the bytes once, piece by piece, so that each piece is read while it is near."""
    array = as_bytes_array(data)
    ends = returns = pairs = 0
    remarks, ascii = False, True
    for at in range(0, len(data), _PIECE):
        stop = at + _PIECE
        ends += int(np.count_nonzero(array[at:stop] == _LF))
        if data.find(b"\r", at, stop) >= 0:
            returns += data.count(b"\r", at, stop)
            pairs += data.count(b"\r\n", at, stop + 1)
        remarks = remarks or data.find(b"(", at, stop) >= 0 or data.find(b";", at, stop) >= 0
        ascii = ascii and data[at:stop].isascii()
    unfinished = data[-1:] not in (b"", b"\n", b"\r")
    return Survey(ends + returns - pairs + unfinished, remarks, ascii)


@exact_kernel
def scan_lines(data: NDArray[np.uint8], begin: int, lines: Lines, words: Words) -> tuple[int, int]:
    """Fill the tables with the lines from a byte on, until a table or the data is full.

    One long loop on purpose: a call per word would cost as much as the word (numba counts
    references to every array it hands over). What is rare is in functions of its own.

    Parameters
    ----------
    data : (n,) uint8
        The whole program.
    begin : int
        First byte of a line, 0 <= begin <= n.
    lines : Lines
        Overwritten from its beginning.
    words : Words
        Overwritten from its beginning.

    Returns
    -------
    line_count, next : int
        Lines written, and the first byte of the line after them (n at the end of the data).
    """
    starts, ends, first_words, word_counts, kinds, commented = lines
    letters, values = words
    size, at = len(data), begin
    line_count, word = 0, 0
    while at < size and line_count < len(starts) and word + LINE_WORDS <= len(letters):
        start, first, seen, sound = at, word, np.int64(0), True
        commented[line_count] = False
        while sound and at < size:
            kind = _KINDS[data[at]]
            if kind == _SPACE:
                at += 1
            elif kind == _WORD:
                letter = np.int64(data[at] & 0xDF)
                at += 1
                while at < size and data[at] == _BLANK:
                    at += 1
                negative = at < size and data[at] == _MINUS
                if negative or (at < size and data[at] == _PLUS):
                    at += 1
                # so few bytes that their digits fit in an int64
                number, limit, mantissa = at, min(size, at + _NUMBER_BYTES), np.int64(0)
                while at < limit and 48 <= data[at] <= 57:
                    mantissa = mantissa * 10 + (np.int64(data[at]) - 48)
                    at += 1
                digits, decimals = at - number, 0
                if at < limit and data[at] == _POINT:
                    at += 1
                    while at < limit and 48 <= data[at] <= 57:
                        mantissa = mantissa * 10 + (np.int64(data[at]) - 48)
                        at += 1
                    decimals = at - number - digits - 1
                value = mantissa / _POWERS[decimals]
                once = np.int64(1) << (letter - _LETTER_A)
                repeated = bool(seen & once) and letter != _LETTER_G and letter != _LETTER_M
                seen |= once
                sound = digits + decimals > 0 and digits <= _WHOLE_DIGITS and not repeated
                sound = sound and bool(mantissa <= _MANTISSA_LIMIT) and word - first < LINE_WORDS
                if sound and letter == _LETTER_N:
                    sound = word == first and _is_line_number(data, start, number, at)
                if sound:
                    letters[word] = letter
                    values[word] = -value if negative else value
                    word += 1
            elif kind == _COMMENT:
                commented[line_count] = True
                at = _skip_comment(data, at)
                sound = at >= 0
            elif kind == _END_OF_LINE:
                break
            else:
                sound = False
        if not sound:
            at = _line_end(data, max(at, start))
        if not sound or at - start > LINE_BYTES:
            sound, word = False, first
        starts[line_count], ends[line_count] = start, at
        first_words[line_count], word_counts[line_count] = first, word - first
        kinds[line_count] = OTHER if not sound else PLAIN if word > first else EMPTY
        line_count += 1
        at += 2 if at + 1 < size and data[at] == _CR and data[at + 1] == _LF else 1
    return line_count, min(at, size)


@exact_kernel
def line_starts(data: NDArray[np.uint8], starts: NDArray[np.int64]) -> None:
    """Write the first byte of every line, and after the last line the size of the data.

    Parameters
    ----------
    data : (n,) uint8
        The whole program.
    starts : (m + 1,) int64
        Written; m lines as `count_lines` counts them.
    """
    size = len(data)
    line = 1
    starts[0] = 0
    for at in range(size - 1):
        if data[at] == _LF or (data[at] == _CR and data[at + 1] != _LF):
            starts[line] = at + 1
            line += 1
    starts[len(starts) - 1] = size


@exact_kernel
def _line_end(data: NDArray[np.uint8], at: int) -> int:
    while at < len(data) and data[at] != _LF and data[at] != _CR:
        at += 1
    return at


@exact_kernel
def _is_line_number(data: NDArray[np.uint8], start: int, number: int, stop: int) -> bool:
    """Whether an N word stands first on its line and has one to five digits, nothing else."""
    if stop - number > NUMBER_DIGITS:
        return False
    for at in range(start, stop):
        if at < number:
            if data[at] not in (_BLANK, _TAB, _LETTER_N, _LETTER_N + 32):
                return False
        elif data[at] < 48 or data[at] > 57:
            return False
    return True


@exact_kernel
def _skip_comment(data: NDArray[np.uint8], at: int) -> int:
    """Return the byte after a comment, or -1 when it is not well formed or the reader wants it.

    Wanted are messages (`MSG,`) and anything that may be a `dryrun:` note; control characters,
    nested and unclosed parentheses have something to be said about them.
    """
    size = len(data)
    bracketed = data[at] == _OPEN
    at += 1
    first = _skip_blanks(data, at)
    while at < size:
        byte = data[at]
        if byte in (_LF, _CR):
            return -1 if bracketed else at
        if bracketed and byte == _CLOSE:
            return at + 1
        if (byte < _BLANK and byte != _TAB) or (bracketed and byte == _OPEN):
            return -1
        if _is_letter(byte, 77) and at == first and _next_printable(data, at + 1, 83):
            return -1
        if _is_letter(byte, 68) and _follows(data, at):
            return -1
        at += 1
    return -1 if bracketed else at


@exact_kernel
def _skip_blanks(data: NDArray[np.uint8], at: int) -> int:
    while at < len(data) and data[at] in (_BLANK, _TAB):
        at += 1
    return at


@exact_kernel
def _is_letter(byte: int, letter: int) -> bool:
    return byte == letter or byte == letter + 32


@exact_kernel
def _next_printable(data: NDArray[np.uint8], at: int, letter: int) -> bool:
    """Whether the next byte that is not a blank is this letter, in either case."""
    at = _skip_blanks(data, at)
    return at < len(data) and _is_letter(data[at], letter)


@exact_kernel
def _follows(data: NDArray[np.uint8], at: int) -> bool:
    """Whether the two bytes after `at` are R and Y: the beginning of `dryrun`."""
    return at + 2 < len(data) and _is_letter(data[at + 1], 82) and _is_letter(data[at + 2], 89)
