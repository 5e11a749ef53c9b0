"""Seeded makers of bad programs: random bytes, and good programs with things done to them."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

PROGRAMS = tuple(
    path.read_bytes() for path in sorted((Path(__file__).parent / "programs").glob("*.nc"))
)

#: Pieces of the language, some whole, some broken off.
TOKENS = (
    b"G0", b"G1 ", b"G2", b"G3 X1 Y1 R5", b"G17", b"G18", b"G19", b"G20", b"G21", b"G28",
    b"G30 Z0", b"G38.2 Z-1", b"G40", b"G41 D1", b"G42", b"G43 H1", b"G49", b"G52 X1", b"G53",
    b"G54", b"G59.3", b"G61", b"G64 P.1", b"G73 Q1", b"G80", b"G81 R1 Z-1", b"G83", b"G87",
    b"G90", b"G91", b"G92 X0", b"G92.1", b"G93", b"G94", b"G95", b"G98", b"G99", b"G10 L2 P1",
    b"G4 P1", b"G65 P1", b"G999", b"M0", b"M1", b"M2", b"M3", b"M4", b"M5", b"M6", b"M30", b"M48",
    b"M97 P10", b"M98 P1 L9", b"M99", b"M99 P1", b"M17", b"T1", b"S1000", b"F100", b"F0", b"X1.5",
    b"Y-2", b"Z.5", b"I1", b"J-1", b"K0", b"R2", b"R-2", b"P1", b"Q.1", b"L3", b"L0", b"D1",
    b"H0", b"A1", b"E1", b"N10", b"O1", b"O<name>", b":7", b"%", b"/", b"//", b"/2", b"(", b")",
    b"(MSG, hi)", b";", b"[", b"]", b"#", b"#1", b"#1=", b"#[1]", b"##1", b"#<a>=", b"#5061",
    b"#5221=3", b"=", b"+", b"-", b"*", b"**", b" MOD ", b" AND ", b" OR ", b" XOR ", b" EQ ",
    b" LT ", b"SIN[", b"ATAN[1]/[2]", b"SQRT[-1]", b"LN[0]", b"EXP[999]", b"ROUND[",
    b"IF [1 EQ 1] GOTO 10", b"GOTO 1", b"WHILE [1] DO1", b"DO1", b"END1", b"o1 sub", b"o1 endsub",
    b"o1 call [1]", b"o1 while [1]", b"o1 endwhile", b"o1 if [1]", b"o1 else", b"o1 endif",
    b"o1 repeat [9]", b"o1 endrepeat", b"THEN #1=1", b"\n", b"\r\n", b"\r", b"\n\n", b"\x00",
    b"\x0c", b"\x1a", b"\xef\xbb\xbf", b"\xff\xfe", b"\xe9", b"\xc3\xa9", b"\t", b" ", b"1e5",
    b"1E-3", b"999999999999999999999", b"0.00000000000000000001", b".", b"-.", b"1.2.3", b",",
    b"'", b'"', b"*71", b"$H", b"NaN", b"X[1/0]", b"X[2**9999]", b"dryrun: allow no-feed (why)",
)  # fmt: skip


def random_program(seed: int) -> bytes:
    """Bytes that mean nothing, or tokens of the language thrown together."""
    draw = random.Random(seed)
    kind = draw.randrange(4)
    if kind == 0:
        return draw.randbytes(draw.randrange(400))
    if kind == 1:
        alphabet = b"GMXYZFSTIJKRPQLNODH0123456789.-+[]#()=*/;% \n"
        return bytes(draw.choice(alphabet) for _ in range(draw.randrange(400)))
    joint = b"" if kind == 2 else b" "
    return joint.join(draw.choice(TOKENS) for _ in range(draw.randrange(80)))


def mutated_program(seed: int) -> bytes:
    """One of our programs after one to eight accidents."""
    draw = random.Random(seed)
    data = draw.choice(PROGRAMS)
    for _ in range(draw.randrange(1, 9)):
        data = draw.choice(_ACCIDENTS)(draw, data)[:20_000]
    return data


def _place(draw: random.Random, data: bytes) -> int:
    return draw.randrange(len(data) + 1)


def _span(draw: random.Random, data: bytes) -> tuple[int, int]:
    begin = _place(draw, data)
    return begin, min(len(data), begin + draw.randrange(1, 30))


def _flip(draw: random.Random, data: bytes) -> bytes:
    if not data:
        return data
    at = draw.randrange(len(data))
    return data[:at] + bytes([data[at] ^ 1 << draw.randrange(8)]) + data[at + 1 :]


def _insert(draw: random.Random, data: bytes) -> bytes:
    at = _place(draw, data)
    return data[:at] + draw.choice(TOKENS) + data[at:]


def _new_line(draw: random.Random, data: bytes) -> bytes:
    lines = data.split(b"\n")
    at = draw.randrange(len(lines) + 1)
    words = b" ".join(draw.choice(TOKENS) for _ in range(draw.randrange(1, 5)))
    return b"\n".join([*lines[:at], words, *lines[at:]])


def _delete(draw: random.Random, data: bytes) -> bytes:
    begin, stop = _span(draw, data)
    return data[:begin] + data[stop:]


def _repeat(draw: random.Random, data: bytes) -> bytes:
    begin, stop = _span(draw, data)
    return data[:begin] + data[begin:stop] * draw.choice((2, 3, 50)) + data[stop:]


def _cut_off(draw: random.Random, data: bytes) -> bytes:
    return data[: _place(draw, data)]


def _swap_lines(draw: random.Random, data: bytes) -> bytes:
    lines = data.split(b"\n")
    a, b = draw.randrange(len(lines)), draw.randrange(len(lines))
    lines[a], lines[b] = lines[b], lines[a]
    return b"\n".join(lines)


def _drop_line(draw: random.Random, data: bytes) -> bytes:
    lines = data.split(b"\n")
    del lines[draw.randrange(len(lines))]
    return b"\n".join(lines)


def _splice(draw: random.Random, data: bytes) -> bytes:
    other = draw.choice(PROGRAMS)
    return data[: _place(draw, data)] + other[_place(draw, other) :]


def _new_number(draw: random.Random, data: bytes) -> bytes:
    digits = [at for at, byte in enumerate(data) if 48 <= byte <= 57]
    if not digits:
        return data
    at = draw.choice(digits)
    number = draw.choice(
        (
            b"0",
            b"-0",
            b"1e9",
            b"99999",
            b"0.0001",
            b"-1",
            b"4294967296",
            b"1." + b"3" * 30,
            b"7",
            b"",
        )
    )
    return data[:at] + number + data[at + 1 :]


def _other_ends(draw: random.Random, data: bytes) -> bytes:
    return data.replace(b"\r\n", b"\n").replace(b"\n", draw.choice((b"\r\n", b"\r", b"\n\r")))


_ACCIDENTS: tuple[Callable[[random.Random, bytes], bytes], ...] = (
    _flip, _insert, _insert, _new_line, _new_line, _delete, _repeat, _cut_off, _swap_lines,
    _drop_line, _splice, _new_number, _new_number, _other_ends,
)  # fmt: skip
