"""The compiled scanner against a slow, obvious twin."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from dryrun.gcode import scan

_LINE_ENDS = re.compile(rb"\r\n|\r|\n")
_WORD = re.compile(rb"[ \t]*([A-DF-NP-Za-df-np-z])( *)([+-]?(?:\d+\.?\d*|\.\d+))(?!\d)")
_COMMENT = re.compile(
    rb"\(([\x20-\x27\x2a-\xff\t]*|[^\x00-\x08\x0a-\x1f()]*)\)|;([^\x00-\x08\x0a-\x1f]*)$"
)
_WANTED = re.compile(rb"^[ \t]*m[ \t]*s|dry", re.IGNORECASE)


def split_lines(data: bytes) -> list[tuple[int, int]]:
    """Byte offsets of every line, without its end; nothing after a last line end."""
    spans = []
    at = 0
    for match in _LINE_ENDS.finditer(data):
        spans.append((at, match.start()))
        at = match.end()
    if at < len(data):
        spans.append((at, len(data)))
    return spans


def read_line(text: bytes) -> tuple[int, list[tuple[str, float]]]:
    """Kind and words of one line, with regular expressions and Python's own float."""
    at = 0
    words: list[tuple[str, float]] = []
    commented = False
    other = (scan.OTHER, [])
    while text[at:].strip(b" \t"):
        at += len(text[at:]) - len(text[at:].lstrip(b" \t"))
        if text[at : at + 1] in b"(;":
            match = _COMMENT.match(text, at)
            if not match or _WANTED.search(match[1] if match[1] is not None else match[2]):
                return other
            commented = True
        else:
            match = _WORD.match(text, at)
            if not match:
                return other
            letter = match[1].decode().upper()
            number = match[3].decode()
            digits = number.strip("+-").replace(".", "")
            whole = number.strip("+-").partition(".")[0]
            if len(number.strip("+-")) > 18 or int(digits) > 2**53 or len(whole) > 12:
                return other
            if letter == "N" and (words or commented or not re.fullmatch(r"\d{1,5}", number)):
                return other
            if letter not in "GM" and letter in [name for name, _ in words]:
                return other
            words.append((letter, float(number)))
        at = match.end()
    if len(text) > 256 or len(words) > scan.LINE_WORDS:
        return other
    return (scan.PLAIN if words else scan.EMPTY), words


def scanned(data: bytes, lines: int = 64, words: int = 128) -> list[tuple]:
    """Everything the compiled scanner says, chunk after chunk."""
    table, word_table = scan.make_tables(lines, words)
    array = scan.as_bytes_array(data)
    found = []
    at = 0
    while at < len(array):
        count, at = scan.scan_lines(array, at, table, word_table)
        assert count > 0
        for i in range(count):
            first = table.first_words[i]
            chosen = slice(first, first + table.word_counts[i])
            pairs = zip(word_table.letters[chosen], word_table.values[chosen], strict=True)
            found.append(
                (
                    (int(table.starts[i]), int(table.ends[i])),
                    int(table.kinds[i]),
                    [(chr(letter), float(value)) for letter, value in pairs],
                )
            )
    return found


def expected(data: bytes) -> list[tuple]:
    """What the twin says."""
    return [((a, b), *read_line(data[a:b])) for a, b in split_lines(data)]


PIECES = st.sampled_from(
    [
        "X1", "x-2.5", "Y.5", "Z5.", "G1", "g01", "M3", "N10", "n 7", "N000009", "N1.5", "F 600",
        "X 1 2", "(a note)", "(MSG, hello)", "( m s g,x)", "(dryrun: allow x)", "; rest", ";dRy",
        "(open", "close)", "(a(b)", "%", "/", "#1=2", "X[1+2]", "O100", "*12", "\x00", "\x0c",
        "X1e3", "R0.0000000000000000001", "X9007199254740993", "X123456789012345678",
        "X123456789012", "X1234567890123", "E1", "G2",
        "X+1", "X-", "X.", " ", "\t", "\xe9", "X-0", "Y" + "0" * 17 + "1", "Z1234567890.1234567",
    ]
)  # fmt: skip
TEXTS = st.lists(
    st.one_of(
        PIECES, st.sampled_from(["\n", "\r\n", "\r", "\n\n"]), st.characters(max_codepoint=255)
    ),
    max_size=40,
).map(lambda pieces: "".join(pieces).encode("latin-1"))


@given(TEXTS)
@settings(deadline=None)
@example(b"X" + b"1" * 300)
@example(b"G0" * 64)
@example(b"G0" * 65)
@example(b"X1 (" + b"a" * 260 + b")")
@example(b"X1\r")
@example(b"X1\r\n\rY2")
def test_scanner_agrees_with_its_twin(data: bytes) -> None:
    """Lines, kinds, letters and values are those of the slow reader, to the last bit."""
    assert scanned(data) == expected(data)


@given(st.decimals(min_value=-(10**9), max_value=10**9, places=6, allow_nan=False))
@settings(max_examples=300)
def test_numbers_are_rounded_like_python_rounds_them(number) -> None:
    """A plain decimal becomes the float64 nearest to it (IEEE 754), sign of zero included."""
    written = f"{number:f}"
    (((_, _), kind, words),) = scanned(f"X{written}".encode())

    assert kind == scan.PLAIN
    assert np.float64(words[0][1]).tobytes() == np.float64(float(written)).tobytes()


def test_offsets_go_on_from_chunk_to_chunk() -> None:
    """Small tables give the same lines as large ones."""
    data = b"".join(b"N%d G1 X%d.5 Y-%d (n)\r\n" % (i, i, i) for i in range(200))

    assert scanned(data, 3, 65) == scanned(data, 500, 5000)


def test_tables_that_hold_no_line_are_refused() -> None:
    """A table with less room than one line needs would never move on."""
    with pytest.raises(ValueError, match="hold no line"):
        scan.make_tables(10, scan.LINE_WORDS)


@given(st.text(alphabet="X1 \r\n(;\xe9", max_size=40), st.sampled_from([1, 2, 7, 65536]))
def test_a_survey_tells_what_a_slow_look_tells(text: str, piece: int) -> None:
    """Lines, comments and plain bytes, however the text is cut into pieces."""
    data = text.encode("latin-1")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(scan, "_PIECE", piece)
        found = scan.survey(data)

    assert found == (len(split_lines(data)), b"(" in data or b";" in data, data.isascii())


@given(st.text(alphabet="X \r\n", max_size=40))
@settings(deadline=None)
def test_line_starts_are_where_lines_start(text: str) -> None:
    """And the size of the data after the last."""
    data = text.encode()
    spans = split_lines(data)
    starts = np.empty(len(spans) + 1, np.int64)
    scan.line_starts(scan.as_bytes_array(data), starts)

    assert starts.tolist() == [*(begin for begin, _ in spans), len(data)]


def test_a_comment_on_a_line_is_marked() -> None:
    """The reader keeps remarks, so it must know where they are."""
    table, words = scan.make_tables()
    data = scan.as_bytes_array(b"X1\nX1 (a)\n;b\n\nX2\n")

    assert scan.scan_lines(data, 0, table, words) == (5, 17)
    assert table.commented[:5].tolist() == [False, True, True, False, False]


def test_an_empty_program_has_no_lines() -> None:
    """Nothing in, nothing out."""
    assert scanned(b"") == []
