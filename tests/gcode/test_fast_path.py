"""The compiled path against the interpreter alone: the same to the last bit."""

from __future__ import annotations

import os
import random
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import fields

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from dryrun.gcode import bulk, program
from dryrun.gcode.controller import Controller, from_accepts
from dryrun.gcode.program import Program, read_program

from .mutator import PROGRAMS, mutated_program, random_program

LONG = os.environ.get("DRYRUN_LONG") == "1"
SEEDS = 20_000 if LONG else 150


@pytest.fixture(autouse=True, scope="module")
def _small_windows() -> Iterator[None]:
    """Windows of a few lines, a second thread, and no rest after short runs."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(bulk, "_WINDOW", (7, 100))
        patch.setattr(bulk, "_SMALL_WINDOWS", (2, 9))
        patch.setattr(bulk, "_THREADED", 100)
        patch.setattr(bulk, "_LONGEST_REST", 3)
        yield


def read(data: bytes, long: int, **options) -> Program:
    """Read with the compiled path for programs of so many bytes."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(program, "LONG", long)
        return read_program(data, **options)


def told(one: Program) -> dict[str, object]:
    """Everything a program says, in a form that tells NaN from NaN and -0 from 0 byte by byte."""
    columns = {f.name: getattr(one.motion, f.name) for f in fields(one.motion)}
    return {
        **{name: (column.shape, column.tobytes()) for name, column in columns.items()},
        "findings": repr(one.findings),
        "state": repr(one.state),
        "header": one.header,
        "words": dict(one.words),
        "assumptions": one.assumptions,
        "lines": one.lines,
        "encoding": one.encoding,
        "text": one.text,
    }


def assert_same(data: bytes, **options) -> Program:
    """Both ways give the same; return the program."""
    alone = read(data, sys.maxsize, **options)
    compiled = read(data, 0, **options)
    slow, quick = told(alone), told(compiled)
    for name, value in slow.items():
        assert quick[name] == value, name
    return compiled


# ---- programs put together from words


def number(draw: random.Random) -> str:
    """A coordinate, in every usual way of writing."""
    value = draw.choice((draw.uniform(-60, 60), draw.randrange(-9, 10), 0.0))
    text = draw.choice(
        (f"{value:.3f}", f"{value:.0f}.", f"{value:+.4f}", f"{value:g}", f"{value:.1f}")
    )
    if "e" in text:
        text = "0"
    return text.replace("0.", ".", 1) if draw.random() < 0.1 and text.startswith("0.") else text


def axes(draw: random.Random, letters: str = "XYZ") -> str:
    """Some axis words."""
    chosen = [letter for letter in letters if draw.random() < 0.6]
    return draw.choice((" ", "")).join(f"{letter}{number(draw)}" for letter in chosen)


def arc_line(draw: random.Random) -> str:
    """An arc that mostly fits: from where an absolute move went to a place on a circle."""
    radius, begin, sweep = draw.choice((5.0, 12.5)), draw.uniform(0, 6.28), draw.uniform(0.1, 6.2)
    places = draw.choice((3, 4, 2))
    a, b = radius * np.cos(begin), radius * np.sin(begin)
    c, d = radius * np.cos(begin + sweep), radius * np.sin(begin + sweep)
    (u, v, normal), (i, j), plane = draw.choice(
        ((("X", "Y", "Z"), ("I", "J"), 17), (("Z", "X", "Y"), ("K", "I"), 18),
         (("Y", "Z", "X"), ("J", "K"), 19))
    )  # fmt: skip
    way = draw.choice((2, 3))
    first, second = f"{i}{-a:.{places}f}", f"{j}{-b:.{places}f}"
    by_radius = f"R{draw.choice((1, -1)) * radius:g}"
    centre = draw.choice((f"{first} {second}", f"{first} {second}", by_radius, first, ""))
    helix = f" {normal}{number(draw)}" if draw.random() < 0.3 else ""
    lines = [
        f"G{plane} G90 G1 {u}{a:.{places}f} {v}{b:.{places}f} F{draw.randrange(100, 900)}",
        f"G{way} {u}{c:.{places}f} {v}{d:.{places}f}{helix} {centre}",
    ]
    if draw.random() < 0.5:
        lines.append(f"G1 {axes(draw)}")
    return "\n".join(lines)


MOTION = ("", "", "", "", "G0 ", "G1 ", "G01", "G00 ", "G2 ", "G3 ", "G90 G1 ", "G91 G0 ")
OTHERS = (
    "G20", "G21", "G17", "G18", "G19", "G90", "G91", "G94", "G93 F2", "G95", "G40", "G54", "G55",
    "G80", "G90.1", "G91.1", "G61", "G64 P.02", "G4 P1", "G28", "G53 G0 Z0", "G92 X0 Y0", "G92.1",
    "G52 X1", "G81 X1 Y1 Z-1 R1", "G98", "M3 S900", "M4", "M5", "S500", "S0", "F0", "F250.5",
    "F-1", "T2 M6", "M0", "G43 H1 Z5", "G41 D1", "X1 X2", "X1,5", "X1 2", "X--1", "Q1", "A0", "A5",
    "E1", "#1=5", "X#1", "X[1+2]", "(a remark)", "(MSG, now)", "; rest", "X1 (in) Y2 (out)",
    "(open", "x1 ;y2", "%", "/X5", "N10 X1", "N1 G1 Y2", "N123456 X1", "X1 N5", "G1", "G0", "G2",
    "G1 F100", "G2 I5", "G3 J-2 K1", "R5", "I1", "X1e3", "X9999999999999", "X1234567.1234567",
    "O5", "M98 P5", "M99", "\x0cX1", "", " ", "\t", "G1 G0 X1", "G90 G91 X1", "G1.0 X2", "G1.5 X1",
    "G05 X1", "X5 F100 S300", "M30", "G38.2 Z-1 F50", "g1x1y1z1f1", "X 3 Y - 4", "F 300",
    "N 7 X 2", "IF [#1 GT 2] GOTO 10", "(dryrun: allow no-feed (why))", "G1 X5 Y", "*7",
    "N3 X1*99", "G97 S100", "M8", "M9", "M7", "G49",
)  # fmt: skip


def put_together(seed: int) -> bytes:
    """A program of mostly plain lines, with everything else in between."""
    draw = random.Random(seed)
    kind = draw.random()
    lines = [] if kind < 0.3 else ["G21 G90 G17", "F500", "S1000 M3"][: draw.randrange(1, 4)]
    for _ in range(draw.randrange(60)):
        choice = draw.random()
        if choice < 0.6:
            feed = f"F{draw.randrange(10, 900)}" if draw.random() < 0.1 else ""
            lines.append(f"{draw.choice(MOTION)}{axes(draw)}{feed}")
        elif choice < 0.75:
            lines.append(arc_line(draw))
        else:
            lines.append(draw.choice(OTHERS))
    ends = draw.choice(("\n", "\n", "\r\n", "\r"))
    text = ends.join("\n".join(lines).split("\n"))
    if draw.random() < 0.1:
        text = text.replace("a remark", "m\xfchle")
    return text.encode(draw.choice(("utf-8", "latin-1"))) + draw.choice((b"", b"\n", b"\r\n"))


@pytest.mark.parametrize("make", [put_together, random_program, mutated_program])
def test_both_ways_read_seeded_programs_alike(make) -> None:
    """Motion, findings, state and header of programs put together, of noise and of accidents."""
    for seed in range(SEEDS):
        try:
            assert_same(make(seed))
        except AssertionError as error:
            raise AssertionError(f"{make.__name__}({seed}): {error}") from error


LINES = st.one_of(
    st.sampled_from(OTHERS),
    st.integers(0, 10**6).map(lambda seed: arc_line(random.Random(seed))),
    st.integers(0, 10**6).map(
        lambda seed: random.Random(seed).choice(MOTION) + axes(random.Random(seed))
    ),
)


@given(st.lists(LINES, max_size=25), st.sampled_from(["\n", "\r\n"]))
@example(["G1 X1", "F100", "X2", "X-0", "X0"], "\n")
@example(["G21 F9", "G1 X5 Y5", "G91 X1", "Z1", "G90 Z3", "Z3"], "\n")
@settings(deadline=None, max_examples=2000 if LONG else 80)
def test_both_ways_read_any_lines_alike(lines: list[str], ends: str) -> None:
    """Hypothesis looks for a program on which the two differ."""
    assert_same(ends.join(lines).encode())


@pytest.mark.parametrize(
    "options",
    [
        {"unit": "in"},
        {"controller": "rs274"},
        {"controller": from_accepts(["absolute-centres"])},
        {"controller": from_accepts(["numbers-without-point-in-increments"])},
        {"controller": from_accepts(["starts-in-feed", "arcs"])},
        {"controller": Controller(accepts=frozenset())},
        {"start": (1.0, 2.0, 3.0)},
        {"work_zero": (-100.0, -200.0, -50.0), "offsets": {"G55": (10.0, 0.0, 5.0)}},
        {"tools": {1: (20.0, 6.0), 2: (35.5, 3.0)}},
        {"block_delete": True, "optional_stop": True, "bit_radius": 3.0},
    ],
    ids=lambda options: ",".join(options),
)
def test_both_ways_follow_what_is_declared(options) -> None:
    """The options of reading, controllers included."""
    for seed in range(12):
        assert_same(put_together(seed), **options)
    for data in PROGRAMS:
        assert_same(data, **options)


def test_plain_lines_really_run_compiled(monkeypatch: pytest.MonkeyPatch) -> None:
    """The comparison would prove nothing if the interpreter did it all."""
    taken = []
    run_lines = bulk.fast.run_lines

    def watched(*arguments):
        result = run_lines(*arguments)
        taken.append(result[0] - arguments[2])
        return result

    monkeypatch.setattr(bulk.fast, "run_lines", watched)
    lines = [b"G21 G90 G17", b"G0 X0 Y0 Z5", b"S900 M3", b"F500", b"G1 Z-1 (down)", b""]
    lines += [b"N%d X%d.25 Y-%d" % (i, i, i) for i in range(40)]
    lines += [b"G2 X45 I2.5", b"G3 X39 R20 Z-2", b"G18 G2 Z0 X41 I1 K1", b"G17 G91 X1", b"M30"]
    motion = assert_same(b"\n".join(lines)).motion

    assert len(motion) == 47
    assert sum(taken) >= 44


def test_jumps_in_a_long_program_find_their_lines() -> None:
    """Calls, returns and loops move back and forth between windows."""
    filler = b"".join(b"X%d Y%d\n" % (i, i % 7) for i in range(30))
    text = (
        b"G21 G90\nF100\nS9 M3\nG0 X0 Y0 Z0\nG1 X1\n" + filler + b"#1=0\nN100 G1 X0\n" + filler
        + b"#1=[#1+1]\nM98 P7 L2\nIF [#1 LT 4] GOTO 100\n" + filler + b"M30\nO7\n" + filler
        + b"G91 Z1\nG90\nM99\n"
    )  # fmt: skip
    motion = assert_same(text).motion

    assert motion.end[-1, 2] == 8.0


def test_remarks_of_plain_lines_are_kept() -> None:
    """Comments reach the state, messages and header whichever way a line went."""
    one = assert_same(
        b"G21 G90\nF100\n(6 mm end mill)\nG1 X1 (first) (second)\nX2 ; third\nX3 (MSG, look)\nM30\n"
    )

    assert one.state.comments == ["6 mm end mill", "second", "third"]
    assert one.state.messages == ["look"]
    assert one.header.bits[0].diameter == 6.0


def test_bytes_of_both_encodings_and_marks_are_read_alike() -> None:
    """Byte order marks, UTF-8, Latin-1 and UTF-16."""
    text = "G21 G90\nF100\n(mühle)\nG1 X1\nX2\n(µ)\nX3\nM30\n"
    for data in (
        text.encode(), text.encode("latin-1"), text.encode("utf-8-sig"), text.encode("utf-16"),
        b"\xef\xbb\xbf\xff\xfeG1 X1\n", b"\xef\xbb\xbf", b"\xef\xbb\xbfG1 X1 \xff", b"",
    ):  # fmt: skip
        assert_same(data)


def test_a_short_program_never_waits_for_the_compiler() -> None:
    """Reading a short program imports neither numba nor the compiled path."""
    code = (
        "import sys; from dryrun.gcode.program import read_program; "
        "read_program(b'G21 G90 F1\\nG1 X1\\nM30\\n' * 99); "
        "print([m for m in ('numba', 'dryrun.gcode.bulk') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert done.stdout.strip() == "[]"
