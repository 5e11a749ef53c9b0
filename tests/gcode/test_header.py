"""Hints in comments: what is found, in which unit, how sure. All wordings are invented."""

from __future__ import annotations

import math
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryrun.gcode.header import BIT_RANGE, BitHint, find_comments, read_header


def one_bit(text: str, unit=None) -> BitHint:
    (hint,) = read_header(text, unit).bits
    return hint


# fmt: off
BITS = [
    # text, program unit, tool, shape, diameter mm, corner radius mm, angle deg, certain
    ("(T1 D=6.35 CR=0 - ZMIN=-3.1 - flat end mill)", "mm", 1, "flat", 6.35, 0.0, None, True),
    ("(T2 D=10. CR=1. - ZMIN=-2.)", "mm", 2, None, 10.0, 1.0, None, True),
    ("(T2 D=.5 CR=.0625 flat)", "in", 2, "bull", 12.7, 1.5875, None, True),
    ("(TOOL/MILL,0.25,0,1.0,0.0)", "in", None, None, 6.35, 0.0, None, True),
    ("(TOOL/DRILL,3.2)", "mm", None, "drill", 3.2, None, None, True),
    ("(CUTTER/12,1.5)", "mm", None, None, 12.0, 1.5, None, True),
    ('(T01 = 1/2" END MILL)', "mm", 1, "flat", 12.7, None, None, True),
    ('(1/2" END MILL)', None, None, "flat", 12.7, None, None, True),
    ('(1-1/4" face mill)', None, None, "flat", 31.75, None, None, True),
    ("(2 flute 1/4 end mill)", "in", None, "flat", 6.35, None, None, True),
    ("(1/8 ball nose)", None, None, "ball", 3.175, None, None, False),
    ("(T01 0.032000)", "in", 1, None, 0.8128, None, None, False),
    ("(T0 : 0.125)", "in", 0, None, 3.175, None, None, False),
    ("(Change tool bit to drill size 1.016mm)", "in", None, "drill", 1.016, None, None, True),
    ("T3 M6 (ball nose 6 mm)", "in", 3, "ball", 6.0, None, None, True),
    ("(TOOL 2: BALL 12 MM)", "mm", 2, "ball", 12.0, None, None, True),
    ("(TOOL 7: BULL NOSE 12MM R3)", "mm", 7, "bull", 12.0, 3.0, None, True),
    ("(tool: 8 mm flat bit)", "mm", None, "flat", 8.0, None, None, True),
    ("(flat bit 6 mm)", "mm", None, "flat", 6.0, None, None, True),
    ("(bull nose 8 mm r2)", "mm", None, "bull", 8.0, 2.0, None, True),
    ("(ball 6 mm)", "mm", None, "ball", 6.0, None, None, True),
    ("(8 mm flat)", "mm", None, "flat", 8.0, None, None, True),
    ("(TOOL FLAT 6 MM)", "mm", None, "flat", 6.0, None, None, True),
    ("(down-cut end mill 6 mm)", "mm", None, "flat", 6.0, None, None, True),
    ("(2-flute flat, 1/4 in)", "mm", None, "flat", 6.35, None, None, True),
    ("(finishing bit 3 mm)", "mm", None, None, 3.0, None, None, True),
    ("(V BIT 12 MM 90 DEG)", "mm", None, "vee", 12.0, None, 90.0, True),
    ("(TOOL 2: SINGLE FLUTE 6 MM)", "mm", 2, None, 6.0, None, None, False),
    ("N20 T3 M6 (6mm ball nose)", None, 3, "ball", 6.0, None, None, True),
    ("(3,175 mm end mill)", None, None, "flat", 3.175, None, None, True),
    ("(6mm 2 flute carbide up-cut bit)", None, None, None, 6.0, None, None, True),
    ("(cut free, 4 mm single flute)", None, None, None, 4.0, None, None, True),
    ("(slots - 1/4 in 2-flute)", None, None, None, 6.35, None, None, True),
    ("(90 deg V-bit, 12mm dia)", None, None, "vee", 12.0, None, 90.0, True),
    ("(60-degree v bit)", None, None, "vee", None, None, 60.0, True),
    ("(drill 3.3mm, 118°)", None, None, "drill", 3.3, None, 118.0, False),
    ("(Ø6 bit)", "mm", None, None, 6.0, None, None, True),
    ("(bit diameter: 3.0)", "mm", None, None, 3.0, None, None, True),
    ("(bit diameter: 3.0)", None, None, None, None, None, None, None),
    ("; tool 4: 6 mm bull nose, corner radius 0.5 mm", None, 4, "bull", 6.0, 0.5, None, True),
    ("(corners, flat 3 mm)", None, None, "flat", 3.0, None, None, True),
    ("(drill jig - ball 1,5 mm)", None, None, "ball", 1.5, None, None, True),
    ("(outline: end mill 1/8 in)", None, None, "flat", 3.175, None, None, True),
    ("(use tapered ball nose 1/4\" dia)", None, None, "taper-ball", 6.35, None, None, True),
    ("(tapered ball, tip radius 0.75 mm)", None, None, "taper-ball", None, 0.75, None, True),
    ("(ball, tip radius: 3 mm)", None, None, "ball", None, 3.0, None, True),
    ("(end mill D8, 2 flutes)", "mm", None, "flat", 8.0, None, None, True),
    ("(end mill D8, 2 flutes)", None, None, None, None, None, None, None),
    ("(T2 end mill D8)", "mm", 2, "flat", 8.0, None, None, True),
    ("(T8 end mill D8)", "mm", 8, "flat", None, None, None, False),
    ("(round-over bit, 1/8 radius)", "in", None, "form", None, None, None, True),
    ("#101=0.125 (tool diameter)", "in", None, None, 3.175, None, None, False),
    ("#<r> = 3. (tool radius)", "mm", None, None, 6.0, None, None, False),
]
# fmt: on


@pytest.mark.parametrize(("text", "unit", *"abcdef"), BITS)
def test_bits_are_found_in_usual_wordings(text, unit, a, b, c, d, e, f) -> None:
    """Tool number, shape, sizes in mm and angle come out of the comment; doubt is admitted."""
    if f is None:
        assert read_header(text, unit).bits == ()
        return
    hint = one_bit(text, unit)

    assert (hint.tool, hint.shape, hint.certain) == (a, b, f)
    for found, wanted in ((hint.diameter, c), (hint.corner_radius, d)):
        assert (found is None) == (wanted is None)
        assert found is None or found == pytest.approx(wanted, rel=1e-12)
    assert (hint.angle is None) == (e is None)
    assert e is None or hint.angle == pytest.approx(math.radians(e))


@pytest.mark.parametrize(
    "text",
    [
        "(drill 4 holes)", "(Tool 5)", "(pocket 0.5 deep)", "(D=1 is the radius offset)",
        "(ball 3 of 8)", "(flute length 22 mm)", "(22 mm two flute length)", "(6 mm bamboo flute)",
        "(feed 600 with the tool up)", "(step 2 of 5)", "(D=0 end mill)", "(1/0 end mill)",
        "(depth of cut 0.5 mm)", "(rev 1.2, 2024-05-01)", "G1 X1 (to the corner)", "(x" * 50,
        "(12000 mm end mill)",
        "(flat pocket 6 mm)", "(8 mm flat bottom)", "(flat stock 6 mm)", "(6 mm tool offset)",
        "(tool length 40 mm)", "(ball 6 mm deep)", "(flat 6 mm below the top)",
        "(finish flat 0.5 mm)",
        "(flat 80 x 20 mm)", "(8 mm ball pocket)", "(floor flat to 0.1 mm)", "(bit offset 3 mm)",
        "(tool up 5 mm)", "(bit down 3 mm)", "(flat square 20 mm)", "(flat end 6 mm)",
        "(tapered ball, tip radius)", "(end mill H8 D8)", "(end mill, offset D8)",
        "(cutter comp D8)", "(round over the edge, 1/8 radius)", "(bit, 1/8 radius)",
        "(bit 6.5 mm deep)", "(pocket, flat 3 mm deep)", "(floor flat 3 mm, walls)",
        "(wells, corners 3 mm)",
    ],
)  # fmt: skip
def test_other_numbers_are_no_bits(text: str) -> None:
    """A number that is no size of a bit gives no hint."""
    assert read_header(text, "mm").bits == ()


def test_an_angle_from_the_axis_is_not_taken_for_an_included_angle() -> None:
    """Where the words may mean the half angle, no angle is given."""
    assert one_bit("(6mm v bit, 30 deg per side)").angle is None


def test_each_bit_is_told_once_with_its_first_line() -> None:
    """The same remark on every line is one hint."""
    header = read_header("G21\n" + "T1 (6mm end mill)\nG1 X1\n" * 3 + "T2 (3mm end mill)\n", "mm")

    assert [(bit.tool, bit.diameter, bit.line) for bit in header.bits] == [(1, 6.0, 2), (2, 3.0, 8)]


@pytest.mark.parametrize(
    ("text", "unit", "size", "thickness", "certain"),
    [
        ("(STOCK: 100 x 50 x 12.7 mm)", None, (100, 50, 12.7), 12.7, True),
        ("(blank 4 by 3 by 3/4)", "in", (101.6, 76.2, 19.05), 19.05, True),
        ("(Stock X=4 Y=3 Z=.75)", "in", (101.6, 76.2, 19.05), 19.05, True),
        ('(board 6" x 4" x 1/2")', "mm", (152.4, 101.6, 12.7), 12.7, True),
        ("(material thickness 18 mm)", "in", None, 18, True),
        ("(18 mm thick material)", None, None, 18, True),
    ],
)
def test_a_blank_is_found(text, unit, size, thickness, certain) -> None:
    """Size or thickness of the blank, in mm."""
    stock = read_header(text, unit).stock

    assert stock is not None
    assert stock.thickness == pytest.approx(thickness)
    assert stock.size == (None if size is None else pytest.approx(size))
    assert stock.certain is certain


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("(Units: mm)", "mm"), ("(units = inches)", "in"), ("(METRIC)", "mm"),
        ("(all dimensions in mm)", "mm"), ("(inches of rain)", None), ("G21", None),
    ],
)  # fmt: skip
def test_a_unit_named_in_a_comment_is_found(text, unit) -> None:
    """The unit said in words; bare sizes are then read in it, without certainty."""
    assert read_header(text).unit == unit


def test_bare_sizes_follow_the_unit_in_a_comment_without_certainty() -> None:
    """A comment's unit is a hint about hints."""
    hint = one_bit("(Units: inches)\n(0.25 end mill)")

    assert (hint.diameter, hint.certain) == (6.35, False)


@pytest.mark.parametrize(
    ("text", "name", "line"),
    [
        ("%\nO1234 (BRACKET)\n", "BRACKET", 2),
        ("(6mm end mill)\n(program name - gable)\n", "gable", 2),
        ("; file: vine.nc\n", "vine.nc", 1),
        ("(lid, top side)\nG21\n", "lid, top side", 1),
        ("(Units: mm)\nG21\n", None, None),
        ("%\n:77\nG21\n", ":77", 2),
        ("G21\n", None, None),
    ],
)
def test_a_program_name_is_found(text, name, line) -> None:
    """Said outright, beside the program number, or as the first remark."""
    header = read_header(text)

    assert (header.name, header.name_line) == (name, line)


@given(st.text(alphabet="ab(); \r\n", max_size=60))
def test_comments_and_lines_agree_with_a_slow_reading(text: str) -> None:
    """Comments line by line, the obvious way."""
    expected = []
    for number, line in enumerate(text.replace("\r\n", "\n").replace("\r", "\n").split("\n"), 1):
        at = 0
        while at < len(line):
            if line[at] == ";":
                expected.append((number, line[at + 1 :].strip(), line[:at]))
                break
            if line[at] == "(":
                stop = line.find(")", at)
                stop = len(line) if stop < 0 else stop
                expected.append((number, line[at + 1 : stop].strip(), line[:at]))
                at = stop
            at += 1

    assert [tuple(comment) for comment in find_comments(text)] == expected


@given(st.text(max_size=200))
def test_any_text_is_read(text: str) -> None:
    """No comment makes the reader fail, and a diameter is always one a bit can have."""
    header = read_header(f"({text})\n;{text}", "mm")

    for bit in header.bits:
        assert bit.diameter is None or BIT_RANGE[0] <= bit.diameter <= BIT_RANGE[1]


@pytest.mark.parametrize(
    "piece",
    ["1/", "1 1/2 ", "flat ", "D=", "0.5 mm ", "2 flute ", "stock 1x", "()", "'", "T1 ", "("],
)
def test_no_text_makes_the_search_slow(piece: str) -> None:
    """A megabyte of any repeated piece, in one comment or many, takes no time out of proportion."""
    text = "(" + piece * (1_000_000 // len(piece)) + ")\n"
    text += "".join(f"({i} {piece * 60})\n" for i in range(600))
    begin = time.process_time()
    read_header(text, "mm")

    # a fraction of a second; a search that backtracks would take minutes
    assert time.process_time() - begin < 30.0
