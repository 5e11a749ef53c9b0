"""Seeded accidents that happen to files: bytes flipped, lines lost, numbers made absurd."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence

#: What stands in a file where a number or a word was.
ABSURD = (
    b"nan", b"inf", b"-inf", b"1e300", b"-1e300", b"1e-300", b"-0", b"0", b"-1", b"1e9", b"1e5",
    b"0." + b"3" * 40, b"1" * 40, b"9" * 400, b"true", b"[]", b"{}", b'""', b'"', b"'", b"'''",
    b'"1e300 mm"', b'"nan mm"', b'"-0 mm"', b'"0 mm"', b'"5 parsecs"', b'"1/0 in"', b'"1 1/2 in"',
    b"[1, 2, 3]", b'["1 mm", "2 mm"]', b"\\u0000", b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"\xe9",
    b"#", b"=", b"[[", b"]]", b"..", b"../../../etc/passwd", b'"../machine.toml"', b"/dev/zero",
    b"=1+1", b"2026-05-31", b"07:30:00", b"0x10", b"1_000", b"\r", b"\n\n", b"\t", b",", b";",
)  # fmt: skip


def accident(draw: random.Random, data: bytes, others: Sequence[bytes]) -> bytes:
    """Let one thing happen to the bytes of a file."""
    return draw.choice(_ACCIDENTS)(draw, data, others)


def spoiled(seed: int, originals: Sequence[bytes], most: int = 6) -> bytes:
    """One of the files after one to `most` accidents."""
    draw = random.Random(seed)
    data = draw.choice(originals)
    for _ in range(1 + seed % most):
        data = accident(draw, data, originals)
    return data


def _span(draw: random.Random, data: bytes, most: int = 40) -> tuple[int, int]:
    begin = draw.randrange(len(data) + 1)
    return begin, min(len(data), begin + draw.randrange(1, most))


def _flip(draw: random.Random, data: bytes, _: Sequence[bytes]) -> bytes:
    if not data:
        return data
    at = draw.randrange(len(data))
    return data[:at] + bytes([data[at] ^ 1 << draw.randrange(8)]) + data[at + 1 :]


def _delete(draw: random.Random, data: bytes, _: Sequence[bytes]) -> bytes:
    begin, end = _span(draw, data)
    return data[:begin] + data[end:]


def _insert(draw: random.Random, data: bytes, _: Sequence[bytes]) -> bytes:
    at = draw.randrange(len(data) + 1)
    return data[:at] + draw.choice(ABSURD) + data[at:]


def _cut_off(draw: random.Random, data: bytes, _: Sequence[bytes]) -> bytes:
    return data[: draw.randrange(len(data) + 1)]


def _lines(draw: random.Random, data: bytes, _: Sequence[bytes]) -> bytes:
    lines = data.split(b"\n")
    a, b = draw.randrange(len(lines)), draw.randrange(len(lines))
    if draw.random() < 0.5:
        lines[a], lines[b] = lines[b], lines[a]
    else:
        lines[a:a] = [lines[b]] * draw.choice((1, 2, 30))
    return b"\n".join(lines)


def _splice(draw: random.Random, data: bytes, others: Sequence[bytes]) -> bytes:
    other = draw.choice(others)
    return data[: draw.randrange(len(data) + 1)] + other[draw.randrange(len(other) + 1) :]


def _value(draw: random.Random, data: bytes, _: Sequence[bytes]) -> bytes:
    """Put something absurd in the place of a value: what stands between = or , and the next."""
    starts = [at + 1 for at, byte in enumerate(data) if byte in b"=,"]
    if not starts:
        return data
    begin = draw.choice(starts)
    ends = [at for at in (data.find(mark, begin) for mark in (b"\n", b",", b"}")) if at >= 0]
    return data[:begin] + b" " + draw.choice(ABSURD) + data[min(ends, default=len(data)) :]


Accident = Callable[[random.Random, bytes, Sequence[bytes]], bytes]
_ACCIDENTS: tuple[Accident, ...] = (
    _flip, _delete, _insert, _cut_off, _lines, _splice, _value, _value,
)  # fmt: skip
