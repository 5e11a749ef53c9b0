"""A job from the command line."""

import math

import pytest

from dryrun.job.model import Bit, Stock
from dryrun.job.quick import parse_stock_size
from dryrun.job.reading import JobError, quick_job
from dryrun.units import UnitError


@pytest.fixture
def program(tmp_path):
    file = tmp_path / "part.nc"
    file.write_text("G0\n")
    return file


def test_everything_said(program):
    """Make one stage for each program, all with the same bit, on the blank that was said."""
    job = quick_job(
        [program, program],
        "flat:6mm",
        "200x200x18mm",
        "centre-top",
        depth="4 mm",
        material="beech",
        spoilboard="12 mm",
        allow_into_spoilboard="0.3 mm",
    )

    assert len(job.stages) == 2
    assert job.stages[0].bit.diameter == 6.0
    assert job.stages[0].depth == 4.0
    assert job.stock.low == (-100.0, -100.0, -18.0)
    assert (job.stock.spoilboard, job.stock.allow_into_spoilboard) == (12.0, 0.3)
    assert job.units == "mm"


def test_nothing_but_a_program(program):
    """Make a job of a program alone, with nothing declared."""
    job = quick_job([program])

    assert (job.title, job.stock, job.clamps) == ("part", None, None)
    assert (job.stages[0].bit, job.stages[0].depth) == (None, None)


def test_program_as_bytes():
    """Take the text itself, as from standard input."""
    job = quick_job([b"G0\n"], "flat:6mm")

    assert job.stages[0].text == b"G0\n"
    assert job.stages[0].program is None


def test_records_pass_through(program):
    """Take a bit and a blank that are made already."""
    bit = Bit("b", "flat", 6.0)
    stock = Stock((10.0, 10.0, 10.0), (0.0, 0.0, 0.0), "front-left-top")

    job = quick_job([program], bit, stock, depth=math.inf)

    assert job.stages[0].bit is bit
    assert job.stock is stock
    assert job.stages[0].through


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("200x200x18mm", (200, 200, 18)),
        ("200 x 100 x 17.8 mm", (200, 100, 17.8)),
        ("200X100×18mm", (200, 100, 18)),
        ("8x8x3/4in", (203.2, 203.2, 19.05)),
        ("8 1/2x8x3/4in", (215.9, 203.2, 19.05)),
        ('8x8x0.75"', (203.2, 203.2, 19.05)),
        ("8inx8inx18mm", (203.2, 203.2, 18)),
        ("20cmx200mmx18mm", (200, 200, 18)),
    ],
)
def test_sizes(text, size):
    """Read three sizes; one without a unit takes that of the thickness."""
    assert parse_stock_size(text) == pytest.approx(size)


@pytest.mark.parametrize(
    "text",
    ["", "200", "200x200", "200x200x18", "1x2x3x4mm", "x x xmm", "0x200x18mm", "axbxcmm",
     "-200x200x18mm", "200x200x1e9mm", "200x200x18kg", "9" * 200 + "x1x1mm"],
)  # fmt: skip
def test_sizes_that_are_none(text):
    """Refuse what is not three sizes with a unit."""
    with pytest.raises(UnitError):
        parse_stock_size(text)


@pytest.mark.parametrize(
    ("arguments", "key", "message"),
    [
        ({"bit": "flat:6"}, "bit", "a number without a unit"),
        ({"bit": "flta:6mm"}, "bit", "no shape"),
        ({"stock": "200x200x18mm"}, "zero", "where the work zero is"),
        ({"stock": "200x200x18mm", "zero": "corner"}, "zero", "no one place"),
        ({"stock": "200x200", "zero": "centre-top"}, "stock", "three sizes"),
        ({"zero": "centre-top"}, "zero", "nothing without the blank"),
        ({"material": "beech"}, "material", "nothing without the blank"),
        ({"depth": "4"}, "depth", "a number without a unit"),
        ({"depth": "0 mm"}, "depth", "not above 0"),
        ({"depth": "-4 mm"}, "depth", "below 0"),
        (
            {"stock": "9x9x9mm", "zero": "centre-top", "spoilboard": "x"},
            "spoilboard",
            "expected a length",
        ),
    ],
)
def test_faults_name_the_option(program, arguments, key, message):
    """Name the option at fault, and what was expected."""
    with pytest.raises(JobError) as caught:
        quick_job([program], **arguments)

    (fault,) = caught.value.faults
    assert fault.key == key
    assert message in fault.message


def test_all_faults_at_once(tmp_path):
    """Tell everything that is wrong, missing programs too."""
    with pytest.raises(JobError) as caught:
        quick_job([tmp_path / "none.nc", tmp_path], "x", "y", depth="z")

    keys = [fault.key for fault in caught.value.faults]
    assert sorted(keys) == ["bit", "depth", "programs", "programs", "stock"]


def test_no_program_at_all():
    """Refuse a job without a program."""
    with pytest.raises(JobError, match="no program"):
        quick_job([])


def test_shown_units_follow_the_blank(program):
    """Show inches when the blank was given in inches, unless told otherwise."""
    blank = ("8x8x3/4in", "centre-top")

    assert quick_job([program], None, *blank).units == "in"
    assert quick_job([program], None, *blank, units="mm").units == "mm"
    assert quick_job([program], "flat:1/4in").units == "in"
