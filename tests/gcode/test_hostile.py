"""Programs made to hurt the reader: it answers with findings, quickly and within bounds."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from dryrun.gcode import program
from dryrun.gcode.program import Program, read_program

JIT_OFF = os.environ.get("NUMBA_DISABLE_JIT") == "1"
#: The interpreter alone, its lines counted, needs no whole megabyte to show what grows with the
#: square of a length; the long run gives it one.
MEGABYTE = 250_000 if JIT_OFF and os.environ.get("DRYRUN_LONG") != "1" else 1_000_000
#: Seconds of processor time any of these may take: finds hangs, measures nothing.
SECONDS = 60.0 if MEGABYTE == 1_000_000 else 30.0
START = b"G21 G90 G17\nF100 S1000 M3\nG0 X0 Y0 Z5\n"


@pytest.fixture(autouse=True, scope="module")
def _interpreter_alone_without_compiler() -> Iterator[None]:
    """The scanner as plain Python takes seconds for a megabyte: it has its own tests."""
    with pytest.MonkeyPatch.context() as patch:
        if JIT_OFF:
            patch.setattr(program, "LONG", sys.maxsize)
        yield


def read(data: bytes | Path) -> Program:
    """Read within the time allowed."""
    begin = time.process_time()
    found = read_program(data)

    assert time.process_time() - begin < SECONDS
    assert not np.isinf(found.motion.end).any()
    return found


def errors(found: Program) -> set[str]:
    return {finding.code for finding in found.findings if finding.level == "error"}


# fmt: off
LONG_LINES = {
    "digits": b"X" + b"1" * MEGABYTE,
    "decimals": b"X0." + b"3" * MEGABYTE,
    "words": b"G1" + b"X1Y2" * (MEGABYTE // 4),
    "g words": b"G1" * (MEGABYTE // 2),
    "blanks": b"G1 X" + b" " * MEGABYTE + b"5",
    "comment": b"(" + b"a" * MEGABYTE + b")",
    "open comment": b"(" + b"a" * MEGABYTE,
    "many comments": b"(a)" * (MEGABYTE // 3),
    "nested comments": b"(" * MEGABYTE,
    "closing": b")" * MEGABYTE,
    "semicolons": b";" * MEGABYTE,
    "slashes": b"/" * MEGABYTE,
    "stars": b"N1*" * (MEGABYTE // 3),
    "parameters": b"#" * MEGABYTE + b"1=1",
    "settings": b"#1=1 " * (MEGABYTE // 5),
    "signs": b"X" + b"-" * MEGABYTE + b"1",
    "sum": b"X[1" + b"+1" * (MEGABYTE // 2) + b"]",
    "powers": b"X[2" + b"**2" * (MEGABYTE // 3) + b"]",
    "brackets": b"X" + b"[" * MEGABYTE,
    "functions": b"X" + b"SIN[" * (MEGABYTE // 4),
    "letters": b"A" * MEGABYTE,
    "percent": b"%" * MEGABYTE,
    "nul": b"\x00" * MEGABYTE,
    "high bytes": b"\xff" * MEGABYTE,
    "if": b"IF" * (MEGABYTE // 2),
    "if [": b"IF [" * (MEGABYTE // 4),
    "o words": b"o1 call " + b"[1]" * (MEGABYTE // 3),
    "named": b"#<" + b"a" * MEGABYTE + b">=1",
    "open name": b"#<" * (MEGABYTE // 2),
    "label": b"O<" + b"a" * MEGABYTE + b">",
    "message": b"(MSG," + b" MSG," * (MEGABYTE // 5) + b")",
    "suppression": b"(dryrun: allow " + b"a-" * (MEGABYTE // 2) + b")",
    "suppressions": b"(dryrun: allow x)" * (MEGABYTE // 17),
}
# fmt: on


@pytest.mark.parametrize("name", LONG_LINES)
def test_a_line_of_a_megabyte_is_answered(name: str) -> None:
    """One line of a million bytes, alone and between good lines."""
    found = read(START + LONG_LINES[name] + b"\nG1 X7 Y7\nM30\n")

    assert found.motion.end[-1, 0] == 7.0 or errors(found)


@pytest.mark.parametrize("line", [b"G1X1", b"()", b"%", b"#1=1", b"N1", b"O1", b"x", b"[", b"\x00"])
def test_a_megabyte_of_one_short_line_is_answered(line: bytes) -> None:
    """The same line again and again."""
    read((line + b"\n") * (MEGABYTE // (5 * (len(line) + 1))))


@pytest.mark.parametrize("depth", [100, 10_000, 100_000])
def test_nested_brackets_do_not_exhaust_the_stack(depth: int) -> None:
    """Deep nesting is worked out or refused, and the next line is read."""
    text = b"G1 X" + b"[" * depth + b"2" + b"]" * depth + b"\nG1 Y3\nM30\n"
    found = read(START + text)

    assert found.motion.end[found.motion.kind == 1][-1, 1] == 3.0
    assert errors(found) or found.motion.end[-1, 0] == 2.0


@pytest.mark.parametrize(
    "number",
    [
        b"1" * 40,
        b"9" * 400,
        b"1" + b"0" * 308,
        b"[10**300]",
        b"[10**300*10**300]",
        b"-" + b"8" * 60,
    ],
)
def test_numbers_beyond_any_machine_are_refused(number: bytes) -> None:
    """A coordinate that no machine has is a finding, not a coordinate."""
    found = read(START + b"G1 X" + number + b"\nM30\n")

    assert errors(found)
    assert not (np.abs(found.motion.end) > 1e12).any()


def test_a_number_of_forty_decimals_is_read() -> None:
    """Digits beyond what a float64 holds are rounded, not refused."""
    found = read(START + b"G1 X1.5" + b"0" * 40 + b"1\nM30\n")

    assert found.motion.end[-1, 0] == 1.5


ENDLESS = {
    "while": b"WHILE [1 EQ 1] DO1\nEND1\n",
    "while with moves": b"WHILE [1 EQ 1] DO1\nG1 X1\nX0\nEND1\n",
    "while with incremental moves": b"G91\nWHILE [1 EQ 1] DO1\nG1 X1\nEND1\n",
    "goto": b"N10 #1=[#1+1]\nGOTO 10\n",
    "goto itself": b"N10 GOTO 10\n",
    "goto with moves": b"N10 G1 X[#1]\n#1=[#1+1]\nGOTO 10\n",
    "o while": b"o1 while [1]\no1 endwhile\n",
    "o do": b"o1 do\nG1 X1\nX2\no1 while [1]\n",
    "o repeat": b"o1 repeat [1000000000]\n#1=1\no1 endrepeat\n",
    "repeats in repeats": b"".join(b"o%d repeat [1000]\n" % i for i in range(1, 9))
    + b"G1 X1\nX2\n"
    + b"".join(b"o%d endrepeat\n" % i for i in range(8, 0, -1)),
    "main M99": b"G1 X1\nX0\nM99\n",
    "M98 repeats": b"M98 P5 L1000000000\nM30\nO5\nG1 X1\nX0\nM99\n",
    "M98 idle repeats": b"M98 P5 L1000000000\nM30\nO5\nM99\n",
    "recursion": b"M98 P5\nM30\nO5\nM98 P5\nM99\n",
    "recursion in pairs": b"M98 P5\nM30\nO5\nM98 P5\nM98 P5\nM99\n",
    "o recursion": b"o5 sub\n#1=[#1+1]\no5 call [#1]\no5 endsub\no5 call [1000000]\n",
    "doubling": b"M98 P1 L9\nM30\n"
    + b"".join(b"O%d\nM98 P%d L9\nM99\n" % (i, i + 1) for i in range(1, 15))
    + b"O15\nG1X1\nX0\nM99\n",
    "cycle repeats": b"G81 X1 Y1 Z-1 R1 L10000000\nG80\n",
    "cycle pecks": b"G83 X1 Y1 Z-100000 R1 Q0.000001\nG80\n",
    "incremental cycle repeats": b"G91 G83 X1 Z-3 R1 Q1 L10000000\nG80\n",
}


@pytest.mark.parametrize("name", ENDLESS)
def test_endless_programs_come_to_an_end(name: str) -> None:
    """What never ends, or not within reason, is cut short and told."""
    found = read(START + ENDLESS[name] + b"M30\n")

    assert errors(found) or "endless-program" in {finding.code for finding in found.findings}
    assert len(found.motion) < 2_000_000


def test_a_long_loop_that_ends_is_run_to_its_end() -> None:
    """Thousands of passes along a growing path, and of passes that only count, are no fault."""
    found = read(
        START
        + b"#1=0\nWHILE [#1 LT 4000] DO1\n#1=[#1+1]\nG1 X[#1/100] Y1\nY0\nEND1\n"
        + b"#2=0\nWHILE [#2 LT 9000] DO2\n#2=[#2+1]\nEND2\nM30\n"
    )

    assert not errors(found)
    assert found.motion.end[-1].tolist() == [40.0, 0.0, 5.0]


@pytest.mark.parametrize("inside", [b"(a)", b"\x00", b" \t", b"\xa0"])
def test_a_keyword_with_something_inside_is_still_paired(inside: bytes) -> None:
    """Comments and dropped characters mean nothing, also in the middle of a keyword."""
    loop = b"#1=0\nWHILE [#1 LT 3] DO1\n#1=[#1+1]\nG91 G1 X1\nE%bND1\nM30\n" % inside
    found = read(START + loop)

    assert found.motion.end[-1, 0] == 3.0


def test_deep_but_finite_nesting_of_calls_is_answered() -> None:
    """A chain of a thousand subprograms runs or is refused, without a crash."""
    chain = b"".join(b"O%d\nM98 P%d\nM99\n" % (i, i + 1) for i in range(100, 1100))
    read(START + b"M98 P100\nM30\n" + chain + b"O1100\nG1 X1\nM99\n")


BYTES = {
    "nul inside": b"G1 X\x001\nM30\n",
    "nul file": b"\x00" * 1000,
    "UTF-8 mark": b"\xef\xbb\xbfG1 X1\nM30\n",
    "UTF-8 mark alone": b"\xef\xbb\xbf",
    "UTF-16": "G1 X1\nM30\n".encode("utf-16"),
    "UTF-16 big end first": b"\xfe\xff" + "G1 X1\n".encode("utf-16-be"),
    "UTF-16 cut off": b"\xff\xfeG\x001",
    "UTF-16 halves": b"\xff\xfe\x00\xd8\x00\xd8",
    "Latin-1": b"(m\xfchle)\nG1 X1\nM30\n",
    "Latin-1 in code": b"G1 X1\xb2\nM30\n",
    "other digits": "G1 X١٢\nM30\n".encode(),
    "superscript": "G1 X1²\nM30\n".encode(),
    "wide letters": "Ｇ１　Ｘ１\nM30\n".encode(),
    "dotless i": "G1 X1 ı1 ſ5\nM30\n".encode(),
    "line separator": "G1 X1\u2028G1 X2\nM30\n".encode(),
    "next line": "G1 X1\x85G1 X2\nM30\n".encode("latin-1"),
    "escape": b"\x1b[2JG1 X1\nM30\n",
    "bell": b"(\x07\x07)\nG1 X1\nM30\n",
    "empty": b"",
    "blank": b" \t \n",
    "percent": b"%",
    "end mark": b"G1 X1\nM30\n\x1a",
}


@pytest.mark.parametrize("name", BYTES)
def test_bytes_of_any_kind_are_answered(name: str) -> None:
    """Control characters, marks and other encodings."""
    read(
        START + BYTES[name]
        if not BYTES[name].startswith((b"\xef", b"\xff", b"\xfe"))
        else BYTES[name]
    )
    read(BYTES[name])


def test_a_line_separator_of_unicode_ends_no_line() -> None:
    """Lines end with CR and LF only, or every line number after it would be wrong."""
    found = read(START + "(a\u2028b\x85c)\nG1 X1\nM30\n".encode())

    assert found.motion.line[found.motion.kind == 1].tolist() == [5]


def test_a_subprogram_outside_the_folder_is_not_read(tmp_path: Path) -> None:
    """A link that leads out of the program's folder is not followed."""
    outside = tmp_path / "outside"
    inside = tmp_path / "inside"
    outside.mkdir()
    inside.mkdir()
    for name in ("777.nc", "O777.nc", "o777.nc", "777", "O777", "777.ngc"):
        (outside / name).write_bytes(b"G1 X99\nM99\n")
        (inside / name).symlink_to(outside / name)
    main = inside / "main.nc"
    main.write_bytes(START + b"M98 P777\nM30\n")
    found = read(main)

    assert errors(found)
    assert not (found.motion.end[:, 0] == 99.0).any()


@pytest.mark.parametrize(
    "name", [b"../777", b"/etc/passwd", b"..\\777", b"a/../../777", b"\x00", b"."]
)
def test_a_subprogram_name_cannot_be_a_path(tmp_path: Path, name: bytes) -> None:
    """Names of subprograms stay names."""
    inside = tmp_path / "inside"
    inside.mkdir()
    (tmp_path / "777.nc").write_bytes(b"o<x> sub\nG1 X99\no<x> endsub\n")
    main = inside / "main.nc"
    main.write_bytes(START + b"o<" + name + b"> call\nM98 (" + name + b")\nM30\n")
    found = read(main)

    assert errors(found)
    assert not (found.motion.end[:, 0] == 99.0).any()


def test_a_file_that_calls_itself_is_cut_short(tmp_path: Path) -> None:
    """Recursion through files ends too."""
    (tmp_path / "5.nc").write_bytes(b"O5\nM98 P6\nM99\n")
    (tmp_path / "6.nc").write_bytes(b"O6\nM98 P5\nM99\n")
    main = tmp_path / "main.nc"
    main.write_bytes(START + b"M98 P5\nM30\n")

    assert errors(read(main))


@pytest.mark.parametrize("kind", ["missing", "folder", "unreadable"])
def test_a_file_that_cannot_be_read_is_an_os_error(tmp_path: Path, kind: str) -> None:
    """The one exception the reader has."""
    path = tmp_path / "program.nc"
    if kind == "folder":
        path.mkdir()
    elif kind == "unreadable":
        path = Path("/proc/self/mem")
        if not path.exists():
            pytest.skip("no such file here")
    with pytest.raises(OSError, match=r".+"):
        read_program(path)


def test_findings_of_a_bad_program_are_kept_few() -> None:
    """A program that is wrong on every line gives a bounded list."""
    found = read(START + b"G1 X1,5 Q\nX--1\nG999 X1\n" * 30_000)

    assert errors(found)
    assert len(found.findings) < 1000
