"""The public reader: frames, controllers, encodings, files, and what it says it assumed."""

from __future__ import annotations

import math
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryrun.gcode.controller import CAPABILITIES, REPORT, Tool, from_accepts, known_names
from dryrun.gcode.program import Program, read_program
from dryrun.gcode.words import G_CODES, M_CODES
from dryrun.motion import DWELL, END, LINE, RAPID, STOP, TOOL


def read(text: str, **options) -> Program:  # type: ignore[no-untyped-def]
    return read_program(text.encode(), **options)


def told(program: Program, level: str | None = None) -> set[str]:
    return {f.code for f in program.findings if level in (None, f.level)}


def test_reading_does_not_load_the_compiler() -> None:
    """A short program is read without numba, scipy or anything to draw with."""
    code = (
        "import sys; from dryrun.gcode.program import read_program;"
        "read_program(b'G21 G0 X1\\nM2');"
        "print([m for m in ('numba', 'scipy', 'pyvista', 'trimesh') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert done.stdout.strip() == "[]"


# ---- frames


def test_a_place_is_not_known_before_the_program_gives_it() -> None:
    """Axes are NaN until the program names them in work coordinates."""
    motion = read("G21 G0 Z5\nX1 Y2\nM2").motion

    assert np.isnan(motion.start[0]).all()
    assert np.isnan(motion.end[0, :2]).all()
    assert motion.end[1].tolist() == [1.0, 2.0, 5.0]


def test_home_is_not_known_unless_the_zero_is_declared() -> None:
    """G28, G30 and G53 give NaN without work_zero, and the next absolute place is known again."""
    text = "G21 G0 X1 Y2 Z3\nG91 G28 Z0\nG90 G0 Z7\nG53 G0 X-5\nX1\nM2"
    motion = read(text).motion
    known = read(text, work_zero=(100.0, 50.0, -20.0)).motion

    assert np.isnan(motion.end[1, 2])
    assert motion.end[2].tolist() == [1.0, 2.0, 7.0]
    assert np.isnan(motion.end[3, 0])
    assert known.end[1].tolist() == [1.0, 2.0, 20.0]
    assert known.end[3].tolist() == [-105.0, 2.0, 7.0]


def test_another_system_must_be_declared() -> None:
    """G55 undeclared gives NaN and an error; declared it is a shift from the job's zero."""
    text = "G21 G55 G0 X1 Y1 Z1\nM2"
    bare, declared = read(text), read(text, offsets={"G55": (100.0, 0.0, 0.0)})

    assert np.isnan(bare.motion.end[0]).all()
    assert "not-accepted" in told(bare, "error")
    assert declared.motion.end[0].tolist() == [101.0, 1.0, 1.0]
    assert not told(declared, "error")
    with pytest.raises(ValueError, match="G53"):
        read(text, offsets={"G53": (0.0, 0.0, 0.0)})


def test_g92_at_the_start_means_the_machine_stands_at_zero() -> None:
    """A program that begins with G92 X0 Y0 Z0 is read from the job's zero, and says so."""
    program = read("G21 G92 X0 Y0 Z0\nG91 G0 X5\nM2")

    assert program.motion.end[0].tolist() == [5.0, 0.0, 0.0]
    assert any("stands at the job's zero" in text for text in program.assumptions)


def test_tool_lengths_keep_the_tip_where_the_program_wants_it() -> None:
    """With declared lengths, G43 H of the right tool gives the programmed height of the tip."""
    tools = {1: (50.0, 6.0), 2: Tool(70.0, 3.0)}
    text = "G21 T{t} M6\nG43 H{h} G0 Z10\nX0 Y0\nM2"
    right = read(text.format(t=2, h=2), tools=tools).motion
    wrong = read(text.format(t=2, h=1), tools=tools)

    assert right.end[-1, 2] == 10.0
    assert wrong.motion.end[-1, 2] == -10.0  # the longer tool stands 20 mm too low
    assert "conflicting-words" in told(wrong, "warning")


def test_inch_programs_come_out_in_mm() -> None:
    """Lengths and feeds are mm whatever the program speaks; the unit may be given from outside."""
    said = read("G20 G1 X1 F10\nM2").motion
    given_ = read("G1 X1 F10\nM2", unit="in")

    assert said.end[0, 0] == given_.motion.end[0, 0] == 25.4
    assert said.feed[0] == 254.0
    assert "units-not-set" in told(given_, "warning")


def test_events_have_rows() -> None:
    """Dwell, stop, tool change and end are rows at a standstill."""
    motion = read("G21 T3 M6\nM3 S900 G0 X1\nG4 P1.5\nM0\nM4\nG1 X2 F60\nM30").motion

    assert motion.kind.tolist() == [TOOL, RAPID, DWELL, STOP, LINE, END]
    assert motion.tool.tolist() == [3] * 6
    assert motion.seconds[2] == 1.5
    assert motion.spindle[1] == 900.0
    assert motion.spindle[4] == -900.0
    assert motion.line.tolist() == [1, 2, 3, 4, 6, 7]


def test_a_spindle_without_speed_is_not_known() -> None:
    """M3 without any S turns at a speed nobody said: NaN."""
    assert math.isnan(read("G21 M3 G0 X1\nM2").motion.spindle[0])


def test_path_control_gives_the_tolerance() -> None:
    """G61.1 stops, G64 P says the tolerance, G9 stops once, G64 alone says nothing."""
    text = "G21 F100 G61.1 G1 X1\nG64 P0.05 X2\nG9 X3\nX4\nG64 X5\nM2"
    tolerance = read(text).motion.tolerance[:5].tolist()

    assert tolerance[:4] == [0.0, 0.05, 0.0, 0.05]
    assert math.isnan(tolerance[4])


# ---- controllers


def test_accepts_knows_its_names() -> None:
    """Unknown names are refused with the list of known ones and the nearest."""
    with pytest.raises(ValueError, match=r"did you mean 'drill-cycles'.*subprograms"):
        from_accepts(["drill-cycle"])
    with pytest.raises(ValueError, match="rs274"):
        read("M2", controller="nonesuch")
    assert from_accepts(["rs274"]) is REPORT
    assert {code.capability for code in (*G_CODES.values(), *M_CODES.values())} - {""} <= set(
        CAPABILITIES
    )
    assert set(CAPABILITIES) < set(known_names())


def test_what_is_not_accepted_is_told() -> None:
    """A controller with arcs only does not take cycles, parameters or other systems."""
    controller = from_accepts(["arcs", "radius-arcs"])
    fine = read("G21 G90 M3 S1 G0 X0 Y0 Z5\nG2 X2 R1 F100\nM30", controller=controller)
    program = read("G21 G0 X0 Y0 Z5\nG81 X1 Z-1 R1 F9\nG80\nX#1\nG55\nM2", controller=controller)

    assert not told(fine, "error")
    lines = {f.line for f in program.findings if f.code == "not-accepted" and f.level == "error"}
    assert {2, 4, 5} <= lines


@pytest.mark.parametrize(
    ("names", "text", "column", "wanted"),
    [
        (["dwell-in-milliseconds"], "G4 P500", "seconds", 0.5),
        (["dwell-in-milliseconds"], "G4 P0.5", "seconds", 0.5),
        (["numbers-without-point-in-increments"], "G0 X1500", "end", 1.5),
        (["numbers-without-point-in-increments"], "G0 X1500.", "end", 1500.0),
        (["starts-in-feed"], "F100 X3", "end", 3.0),
    ],
)
def test_settings_choose_between_readings(
    names: list[str], text: str, column: str, wanted: float
) -> None:
    """What more than one way is in use for is a property of the controller."""
    program = read(f"G21\n{text}\nM2", controller=from_accepts(names))

    assert np.ravel(getattr(program.motion, column)[0])[0] == wanted


def test_absolute_centres_are_suggested_when_they_fit() -> None:
    """An arc that fits only with absolute centres says so, and reads so when declared."""
    text = "G21 G90 G0 X10 Y10 Z0\nG2 X20 Y10 I15 J10 F100\nM2"
    program = read(text)
    declared = read(text, controller=from_accepts(["absolute-centres"]))

    help = next(f.help for f in program.findings if f.code == "bad-arc")
    assert "absolute-centres" in (help or "")
    assert declared.motion.centre[1].tolist() == [15.0, 10.0, 0.0]
    assert not told(declared, "error")


# ---- bytes


@pytest.mark.parametrize(
    "data",
    [
        b"G21\r\nG0 X1\r\nM30\r\n",
        b"G21\rG0 X1\rM30",
        b"G21\n\rG0 X1\r\n\nM30",
        b"\xef\xbb\xbfG21\nG0 X1\nM30",
        "G21\nG0 X1\nM30".encode("utf-16"),
        b"G21 (\xfcber)\nG0 X1\nM30",
        b"\x00G21\x0c\nG0\x07 X1\nM30\x04",
        b"g21\nn5g0x1.m3\nm30",
        b"%\nO1234 (NAME)\nG21\nG00X1.\nM30\n%\n",
        b"leader\n%\nG21\nG0 X1\nM30\n%",
        b"/G21\nG0 X1 ;comment (open\n//remark\nM30",
        b"G71 G00 X+001.000\nM02",
    ],
)
def test_files_of_every_make_are_read(data: bytes) -> None:
    """Line ends, marks, encodings, cases, blanks and wrappers change nothing."""
    program = read_program(data)

    assert not told(program, "error")
    assert program.motion.end[0, 0] == 1.0


def test_a_vertical_tab_is_no_line_end() -> None:
    """Only CR and LF end a line; other separators of Unicode do not."""
    assert read("G21 G0 X1 (a\u2028b\x0bc)\nM2").lines == 2


# ---- other machines


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("M104 S200\nG1 X1 F100", "lays material down"),
        ("G1 X1 E0.5 F100", "lays material down"),
        ("G21 G1 X5 Y5 F100", "beam or a pen"),
        ("G21 G0 X0 Y0 Z0\nG1 A90 F100", "rotary axis"),
        ("G21 G0 X0 Z0 W5", "second axis"),
        ("G21 G0 X0 Z0\nG1 U5 F100", "second axis"),
        ("G21 G0 X0 Z0\nW5", "second axis"),
        ("G21 G0 X0 Y0 Z0\nG1 E0.5 F100", "lays material down"),
        ("G21 G0 X0 Y0 Z0\nE4", "is not used"),
        ("G21 G0 X0 Y0 Z0\nG13 I5 F100", "what it cuts is not known"),
        ("G21 G0 X0 Y0 Z0\nG68 X0 Y0 R30", "every place after it"),
    ],
)
def test_programs_for_other_machines_are_recognised(text: str, words: str) -> None:
    """Nothing is dropped in silence; the sentence says what cannot be known."""
    assert any(words in f.message for f in read(text + "\nM2").findings)


def test_a_rotary_word_that_stays_is_a_note() -> None:
    """A0 in every plunge turns nothing."""
    program = read("G21 G0 X0 Y0 Z0 A0\nG1 Z-1 A0.000 F100\nM2")

    assert not told(program, "error")
    assert "ignored-word" in told(program, "note")


# ---- subprogram files


def test_subprograms_are_found_beside_the_program(tmp_path: Path) -> None:
    """M98 P5 finds O0005 in the program's own folder, and rows say which text they stand in."""
    (tmp_path / "O0005.nc").write_text("O0005\nG91 G0 X2\nG90\nM99\n")
    main = tmp_path / "main.nc"
    main.write_text("G21 G90 G0 X0 Y0 Z0\nM98 P5 L3\nM30\n")

    program = read_program(main)

    assert program.motion.end[-1, 0] == 6.0
    assert program.source_names == ["main.nc", "O0005.nc"]
    assert program.motion.source.tolist() == [0, 1, 1, 1, 0]


def test_subprograms_are_not_looked_for_elsewhere(tmp_path: Path) -> None:
    """Neither another folder nor a symbolic link into one is followed."""
    inside, outside = tmp_path / "in", tmp_path / "out"
    inside.mkdir()
    outside.mkdir()
    (outside / "O5.nc").write_text("G91 G0 X2\nM99\n")
    (inside / "O5.nc").symlink_to(outside / "O5.nc")
    main = inside / "main.nc"
    main.write_text("G21 G90 G0 X0 Y0 Z0\nM98 P5\no<../out/O5> call\nM30\n")

    program = read_program(main)

    assert program.source_names == ["main.nc"]
    assert {f.line for f in program.findings if f.level == "error"} == {2, 3}


def test_bytes_have_no_folder(tmp_path: Path) -> None:
    """Bytes find no file unless a folder is named."""
    (tmp_path / "7.nc").write_text("G0 X9\nM99\n")
    text = "G21 G0 X0\nM98 P7\nM30"

    assert "missing-word" in told(read(text), "error")
    assert read(text, folder=tmp_path).motion.end[-1, 0] == 9.0


# ---- the short way and the long way

_WORDS = st.lists(
    st.sampled_from(
        ["X1", "X-2.5", "Y3", "Y.5", "Z-1", "Z4.", "F200", "G0", "G1", "G01", "G2", "G3",
         "I2", "J-1", "K1", "I1 J1", "N7"]
    ), min_size=1, max_size=6,
).map(" ".join)  # fmt: skip


@settings(max_examples=200, deadline=None)
@given(st.lists(_WORDS, max_size=12), st.booleans(), st.sampled_from(["G17", "G18", "G19"]),
       st.booleans())  # fmt: skip
def test_the_short_way_does_what_the_long_way_does(
    lines: list[str], inch: bool, plane: str, incremental: bool
) -> None:
    """Plain lines taken in one go give the rows, findings and state of the full interpreter."""
    head = f"{'G20' if inch else 'G21'} {plane} {'G91' if incremental else 'G90'} F100"
    text = "\n".join([head, "G0 X0 Y0 Z0", *lines, "M2"])
    short = read(text, start=(1.0, 2.0, 3.0))
    long = read(text, start=(1.0, 2.0, 3.0), _trace=True)

    for name in ("kind", "start", "end", "centre", "axis", "sweep", "feed", "tolerance", "line"):
        np.testing.assert_array_equal(getattr(short.motion, name), getattr(long.motion, name))
    assert short.findings == long.findings
    assert short.words == long.words
    assert short.state.modal == long.state.modal
