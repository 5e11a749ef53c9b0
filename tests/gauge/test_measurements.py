"""Files people write: tables, grids of probed points, logs, and what is wrong with them."""

import contextlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryrun.gauge.measurements import MeasurementError, read_measurements

HEAD = "x,y,kind,value"


def table(*rows, head=HEAD):
    return read_measurements("\n".join([head, *rows]).encode())


def test_smallest_table():
    """Four columns do; uncertainties are the usual instruments' (common practice, no source)."""
    m = table("1,2,depth,3.05", "4,5,width,6", "7,8,thickness,18")

    assert m.kind == ("depth", "width", "thickness")
    assert m.value.tolist() == [3.05, 6.0, 18.0]
    assert m.uncertainty == pytest.approx(np.array([0.05, 0.03, 0.03]) / np.sqrt(3))
    assert not m.declared.any()


def test_all_columns():
    """Optional columns in any order, with a column of no meaning named."""
    m = table(
        "A,0.02,4,0.1,2,deepest,-1,2,depth,3,ok",
        head="point,uncertainty,foot,value,stage,note,x,y,kind,direction,colour",
    )

    assert (m.point, m.stage.tolist(), m.foot.tolist()) == (("A",), [2], [4.0])
    assert m.direction.tolist() == [3.0]
    assert m.declared.all()
    assert m.ignored == ("colour",)


def test_units_as_written():
    """`unit` holds for value and uncertainty; a cell may name its own; x and y are mm."""
    m = table(
        "10,20,depth,0.1,in,0.001",
        "10,20,depth,1/8 in,mm,0.05",
        "1 in,20,width,250 um,,",
        head=HEAD + ",unit,uncertainty",
    )

    assert m.value == pytest.approx([2.54, 3.175, 0.25])
    assert m.uncertainty[:2] == pytest.approx([0.0254, 0.05])
    assert m.x.tolist() == [10.0, 10.0, 25.4]


def test_missing_cells_are_skipped():
    """A planned place without a value is no reading."""
    m = table("1,2,depth,", "1,2,depth,3", ",,,", "", "4,5,width,")

    assert len(m) == 1
    assert m.line.tolist() == [3]


def test_semicolons_and_decimal_commas():
    """A spreadsheet's other dialect: semicolons between cells, commas in numbers, a mark first."""
    m = read_measurements("\ufeffx;y;kind;value;direction\n1,5;-2;width;3,25;45,5\n".encode())

    assert (m.x[0], m.value[0], m.direction[0]) == (1.5, 3.25, 45.5)


def test_a_named_instrument():
    """An instrument named for the file replaces the usual ones."""
    m = read_measurements(b"x,y,kind,value\n1,2,depth,3\n", "touch-probe")

    assert m.uncertainty[0] == pytest.approx(0.01 / np.sqrt(3))


@pytest.mark.parametrize(
    "text",
    ["1 2 -3.5\n4 5 -3.6\n", "x,y,z\n1,2,-3.5\n4,5,-3.6\n", "G0 X1 Y2 Z-3.5\n(note) X4Y5Z-3.6\n",
     "probe at [1.000,2.000,-3.500:ok]\n[4.0, 5.0, -3.6]\n"],
    ids=["numbers", "header", "words", "log"],
)  # fmt: skip
def test_probed_points(text):
    """Grids and logs of probing moves give heights."""
    m = read_measurements(text.encode())

    assert m.kind == ("height", "height")
    assert np.column_stack([m.x, m.y, m.value]).tolist() == [[1, 2, -3.5], [4, 5, -3.6]]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "the file is empty"),
        ("hello\n", "neither a table"),
        ("x,y,kind\n1,2,depth\n", "line 1: no column value"),
        ("x,x,y,kind,value\n1,1,2,depth,3\n", "column x stands there twice"),
        (HEAD + "\n1,2,depht,3\n", "line 2, column kind: found 'depht'"),
        (HEAD + "\n1,2,depth,deep\n", "line 2, column value"),
        (HEAD + "\n1,2,depth,3 kg\n", "line 2, column value"),
        (HEAD + "\n,2,depth,3\n", "line 2, column x"),
        (HEAD + "\n1,2,width,-3\n", "a width cannot be negative"),
        (HEAD + ",uncertainty\n1,2,depth,3,0\n", "uncertainty: must be above zero"),
        (HEAD + ",stage\n1,2,depth,3,0\n", "number of a stage"),
        (HEAD + ",direction\n1,2,width,3,north\n", "expected degrees"),
        (HEAD + ",foot\n1,2,depth,3,-1\n", "diameter cannot be negative"),
        (HEAD + "\n1,2,depth,\n", "every value is empty"),
        ("1 2 999999\n", "too far away"),
    ],
)
def test_faults_are_named(text, words):
    """Every fault says which line and column, and what was expected."""
    with pytest.raises(MeasurementError, match=words):
        read_measurements(text.encode())


def test_unknown_instrument():
    """An instrument that is not known is refused with the known ones."""
    with pytest.raises(MeasurementError, match="calipers"):
        read_measurements(b"1 2 3", "ruler")


@given(st.binary(max_size=300))
@settings(max_examples=150, deadline=None)
def test_any_bytes_end_in_a_table_or_a_message(data):
    """Arbitrary bytes never do anything but parse or raise MeasurementError."""
    try:
        m = read_measurements(data)
    except MeasurementError:
        return
    assert len(m) > 0
    assert np.isfinite(m.value).all()


@given(st.lists(st.text(alphabet='0123456789.,;-eE \t"xyzdepthinm\n', max_size=20), max_size=8))
@settings(max_examples=150, deadline=None)
def test_any_table_body_ends_in_a_table_or_a_message(cells):
    """A right header with arbitrary rows parses or raises MeasurementError."""
    with contextlib.suppress(MeasurementError):
        table(*cells)


def test_numbers_with_exponents():
    """A spreadsheet may write 1.5E+01."""
    assert table("1.5E+01,2e0,depth,3.0e-1").x[0] == 15.0
