"""Reading job, machine and bits files: what is read, and every fault with its line."""

import math
import os

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dryrun.job.model import Disc, DustShoe, Spindle
from dryrun.job.reading import (
    LARGEST_DECLARATION,
    JobError,
    read_bits,
    read_job,
    read_machine,
)

JOB = """\
title = "Tray"
units = "mm"

[stock]
size = ["8 in", 200, "17.8 mm"]
nominal_thickness = 18
zero = "center-top"
material = "beech"
spoilboard = 12
allow_into_spoilboard = "0.3 mm"

[machine]
file = "machine.toml"
max_rate = [6000, 6000, "2 m/min"]
spindle = { max = 20000 }

[[clamps]]
box = { min = [-110, -20], max = [-92, 20], height = 14 }

[bits]
file = "bits.toml"

[bits.mine]
shape = "vee"
diameter = 12
angle = 90

[[stages]]
name = "ground"
program = "sub/ground.nc"
bit = "flat-6"
depth = 4
max_ramp_angle = "3 deg"
zero_shift = [0, 0, -0.1]
offsets = { G55 = [100, 0, 0] }
allow = [{ code = "deep-pass", reason = "soft wood", lines = 7 }]

[[stages]]
program = "cut.nc"
bit = "ball:1/4in"
depth = "through"

[[allow]]
code = "rapid-low"
reason = "no clamps there"
stage = "ground"
lines = [10, 20]
"""
MACHINE = """\
units = "mm"
travel = [600, "400 mm", [-80, 0]]
work_zero = [100, 100, -50]
spindle = { min = 8000, max = 24000, power = "800 W", start_seconds = 4 }
holder = [{ diameter = 20, height = 18 }]
dust_shoe = { diameter = 80, drop = 5 }
line_seconds = "2 ms"
path_acceleration = "500 mm/s2"
"""
BITS = """\
units = "in"
[flat-6]
shape = "flat"
diameter = "6 mm"
shank = 0.25
flutes = 2
"""


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "sub").mkdir()
    (tmp_path / "sub" / "ground.nc").write_text("G0\n")
    (tmp_path / "cut.nc").write_text("G0\n")
    (tmp_path / "machine.toml").write_text(MACHINE)
    (tmp_path / "bits.toml").write_text(BITS)
    (tmp_path / "job.toml").write_text(JOB)
    return tmp_path


def faults_of(folder, text, name="job.toml"):
    (folder / name).write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(JobError) as caught:
        read_job(folder / name)
    assert all(fault.message.isprintable() for fault in caught.value.faults)
    return caught.value.faults


def only_fault(folder, text):
    (fault,) = faults_of(folder, text)
    return fault


def test_reads_the_whole_job(folder):
    """Read every part of a job, in mm, rad, rpm and s."""
    job = read_job(folder / "job.toml")

    assert job.title == "Tray"
    assert job.stock.size == pytest.approx((203.2, 200.0, 17.8))
    assert job.stock.zero == "centre-top"
    assert job.stock.low == pytest.approx((-101.6, -100.0, -17.8))
    assert (job.stock.spoilboard, job.stock.allow_into_spoilboard) == (12.0, 0.3)
    assert job.clamps[0].name == "clamp 1"
    assert [bit.name for bit in job.bits] == ["flat-6", "mine"]
    first, second = job.stages
    assert first.program == folder / "sub" / "ground.nc"
    assert first.bit is job.bits[0]
    assert first.max_ramp_angle == pytest.approx(math.radians(3))
    assert first.zero_shift == (0.0, 0.0, -0.1)
    assert first.offsets == (("G55", (100.0, 0.0, 0.0)),)
    assert (second.name, second.bit.shape, second.bit.diameter) == ("cut", "ball", 6.35)
    assert second.through
    assert not first.through
    assert [(a.code, a.stage, a.lines) for a in job.allow] == [
        ("rapid-low", 1, (10, 20)),
        ("deep-pass", 1, (7, 7)),
    ]


def test_keys_in_the_job_override_the_machine_file(folder):
    """Take the machine file, with what the job says inline on top, key by key in the spindle."""
    machine = read_job(folder / "job.toml").machine

    assert machine.name == "machine"
    assert machine.max_rate == (6000.0, 6000.0, 2000.0)
    assert machine.spindle == Spindle(8000.0, 20000.0, 800.0, 4.0)
    assert machine.travel == ((0.0, 600.0), (0.0, 400.0), (-80.0, 0.0))
    assert machine.holder == (Disc(20.0, 18.0),)
    assert machine.dust_shoe == DustShoe(80.0, 5.0)
    assert (machine.line_seconds, machine.path_acceleration) == (0.002, 500.0)
    assert {"travel", "max_rate", "spindle.start_seconds"} <= machine.declared
    assert not {"acceleration", "file", "units", "name"} & machine.declared


def test_each_file_says_its_own_units(folder):
    """Read bare numbers of the bits file in its own units, not in the job's."""
    (bit,) = read_bits(folder / "bits.toml")

    assert bit.shank == 6.35
    assert read_job(folder / "job.toml").bits[0].shank == 6.35


def test_files_named_by_the_person_may_lie_anywhere(folder, tmp_path_factory):
    """Read a machine and bits named beside the job from any folder."""
    elsewhere = tmp_path_factory.mktemp("elsewhere")
    (elsewhere / "m.toml").write_text('max_rate = ["1 m/min", "1 m/min", "1 m/min"]\n')
    (elsewhere / "b.toml").write_text('[flat-6]\nshape = "ball"\ndiameter = "3 mm"\n')

    job = read_job(folder / "job.toml", machine=elsewhere / "m.toml", bits=elsewhere / "b.toml")

    assert job.machine.name == "m"
    assert job.machine.travel is None
    assert job.stages[0].bit.shape == "ball"


def test_a_small_job_needs_little(folder):
    """Ask for no more than a program; what is not declared stays None."""
    (folder / "small.toml").write_text('[[stages]]\nprogram = "cut.nc"\n')

    job = read_job(folder / "small.toml")

    assert (job.title, job.units) == ("small", "mm")
    assert (job.stock, job.machine, job.clamps) == (None, None, None)
    assert (job.stages[0].bit, job.stages[0].depth) == (None, None)


def test_no_clamps_is_not_the_same_as_not_said(folder):
    """Keep an empty list of clamps apart from none declared."""
    (folder / "a.toml").write_text('clamps = []\n[[stages]]\nprogram = "cut.nc"\n')

    assert read_job(folder / "a.toml").clamps == ()


def test_zero_in_numbers(folder):
    """Read the zero from the front left corner of the top, Z up."""
    text = JOB.replace('zero = "center-top"', 'zero_at = [10, 20, "-17.8 mm"]')
    (folder / "job.toml").write_text(text)

    stock = read_job(folder / "job.toml").stock

    assert stock.low == pytest.approx((-10, -20, 0))
    assert "10 mm" in stock.zero


FAULTS = [
    # what is replaced, by what, line, key, part of the message, part of the help
    ('units = "mm"', 'units = "cm"', 2, "units", '"mm" or "in"', None),
    ('title = "Tray"', "title = 3", 1, "title", "found 3, expected a text", None),
    ('title = "Tray"', 'title = "a\\u001b[31m"', 1, "title", "cannot be printed", None),
    ('title = "Tray"', f'title = "{"x" * 300}"', 1, "title", "300 characters", None),
    ("[stock]", "bogus = 1\n[stock]", 4, "bogus", 'unknown key "bogus"', "known: title"),
    ("material =", "materiel =", 8, "stock.materiel", "unknown key", 'did you mean "material"?'),
    ('size = ["8 in", 200, "17.8 mm"]', "", 4, "stock", 'needs "size"', "measured thickness"),
    ('"17.8 mm"]', '"0 mm"]', 5, "stock.size[3]", "0 mm is not above 0 mm", None),
    ('"17.8 mm"]', "-18]", 5, "stock.size[3]", "-18 mm is not above 0 mm", None),
    ('"17.8 mm"]', "nan]", 5, "stock.size[3]", "must be finite", None),
    ('"17.8 mm"]', "inf]", 5, "stock.size[3]", "must be finite", None),
    ('"17.8 mm"]', "1e300]", 5, "stock.size[3]", "too large", None),
    ('"17.8 mm"]', "1e6]", 5, "stock.size[3]", "is above 20000 mm", None),
    ('"17.8 mm"]', "true]", 5, "stock.size[3]", "found true, expected a length", None),
    ('"17.8 mm"]', "1979-05-27]", 5, "stock.size[3]", "found a date or time", None),
    ('"17.8 mm"]', '"17.8 min"]', 5, "stock.size[3]", "is a unit of time", None),
    (', "17.8 mm"]', "]", 5, "stock.size", "expected a list of 3", None),
    ('zero = "center-top"', 'zero = "corner"', 7, "stock.zero", "no one place", "front-left-top"),
    ('zero = "center-top"', "", 4, "stock", 'needs "zero"', "front-left-top"),
    ('zero = "center-top"', 'zero = "centre-top"\nzero_at = [0, 0, 0]', 8, "stock.zero_at",
     "given twice", None),
    ('"0.3 mm"', '"30 mm"', 10, "stock.allow_into_spoilboard", "more than the spoilboard", None),
    ('file = "machine.toml"', 'file = "../machine.toml"', 13, "machine.file", "outside the job's",
     "name it on the command line"),
    ('file = "machine.toml"', 'file = "/etc/hostname"', 13, "machine.file", "outside the job's",
     None),
    ('file = "machine.toml"', 'file = "machin.toml"', 13, "machine.file", "there is no file",
     'did you mean "machine.toml"?'),
    ('file = "machine.toml"', 'file = "sub"', 13, "machine.file", "is a folder", None),
    ("max = 20000", "max = 5000", 15, "machine.spindle.min", "above max, 5000 rpm", None),
    ("[6000, 6000,", "[6000, 0,", 14, "machine.max_rate[2]", "0 mm/min is not above 0", None),
    ("max = [-92, 20]", "max = [-120, 20]", 18, "clamps[1].box.max",
     "max X -120 mm is not above min X -110 mm", None),
    ("height = 14", "height = -1", 18, "clamps[1].box.height", "-1 mm is below 0 mm", None),
    ("[[clamps]]", "[clamps]", 17, "clamps", "expected a list of tables",
     "write [[clamps]] above its keys"),
    ("angle = 90", "", 23, "bits.mine", 'a vee bit needs "angle"', None),
    ("angle = 90", "angle = 90\ntip_radius = 1", 27, "bits.mine.tip_radius",
     "does not belong to a vee bit", None),
    ('shape = "vee"', 'shape = "v"', 24, "bits.mine.shape", "expected \"flat\"", None),
    ("diameter = 12", "diameter = 0", 25, "bits.mine.diameter", "0 mm is not above 0 mm", None),
    ("[bits.mine]", '[bits."-mine"]', 23, "bits.-mine", "is no name here", None),
    ('bit = "flat-6"', 'bit = "flat6"', 31, "stages[1].bit", 'no bit is named "flat6"',
     'did you mean "flat-6"?'),
    ('bit = "ball:1/4in"', 'bit = "ball:1/4kg"', 40, "stages[2].bit", "known units", None),
    ('bit = "ball:1/4in"', 'bit = "round"', 40, "stages[2].bit", "no bit is named",
     "known: flat-6, mine"),
    ('program = "cut.nc"', 'program = "cutt.nc"', 39, "stages[2].program", "there is no file",
     'did you mean "cut.nc"?'),
    ('program = "cut.nc"', 'program = "../cut.nc"', 39, "stages[2].program", "outside", None),
    ('program = "cut.nc"', 'program = "sub"', 39, "stages[2].program", "is a folder", None),
    ('program = "cut.nc"', 'program = "a\\u0000b"', 39, "stages[2].program", "cannot be printed",
     None),
    ('program = "cut.nc"', "", 38, "stages[2]", 'needs "program"', None),
    ("depth = 4", "depth = 40", 32, "stages[1].depth", "more than the blank's thickness",
     "through"),
    ("depth = 4", 'depth = "4"\nmax_pass = 0', 33, "stages[1].max_pass", "not above 0", None),
    ('"through"', '"throu"', 41, "stages[2].depth", 'or "through"', None),
    ('"3 deg"', '"120 deg"', 33, "stages[1].max_ramp_angle", "120° is above 90°", None),
    ("G55 =", "G53 =", 35, "stages[1].offsets.G53", "G54 to G59", None),
    ('code = "rapid-low"', 'code = "Rapid low"', 44, "allow[1].code", "joined by hyphens", None),
    ('reason = "no clamps there"', "", 43, "allow[1]", 'needs "reason"', None),
    ('stage = "ground"', 'stage = "grund"', 46, "allow[1].stage", 'no stage is named "grund"',
     'did you mean "ground"?'),
    ('stage = "ground"', "stage = 3", 46, "allow[1].stage", "there is no stage 3", None),
    ("lines = [10, 20]", "lines = [20, 10]", 47, "allow[1].lines", "comes after", None),
]  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "line", "key", "message", "help"),
    FAULTS,
)
def test_each_fault_is_named_once_with_its_line(folder, old, new, line, key, message, help):
    """Name a single fault once, at the line of its key, with what was found and what helps."""
    assert JOB.count(old) == 1

    fault = only_fault(folder, JOB.replace(old, new))

    assert (fault.line, fault.key) == (line, key)
    assert message in fault.message
    assert help is None or help in fault.help


def test_all_faults_are_found_in_one_reading(folder):
    """Find the faults of job, machine and bits files together, in the order of the files."""
    (folder / "machine.toml").write_text('units = "mm"\nrapids = "curved"\nspeed = 3\n')
    (folder / "bits.toml").write_text('[flat-6]\nshape = "flat"\ndiameter = 6\nangle = 3\n')
    text = JOB.replace('units = "mm"', 'unit = "mm"').replace("depth = 4", "depth = true")

    faults = faults_of(folder, text)

    found = [(os.path.basename(fault.file), fault.line) for fault in faults]
    assert ("job.toml", 2) in found
    assert ("job.toml", 32) in found
    assert ("bits.toml", 3) in found
    assert ("bits.toml", 4) in found
    assert ("machine.toml", 2) in found
    assert ("machine.toml", 3) in found
    names = [name for name, _ in found]
    assert names == sorted(names, key=["job.toml", "bits.toml", "machine.toml"].index)


def test_bare_lengths_need_units(folder):
    """Refuse a bare length where nobody said what it is in, and say where to say it."""
    text = '[[stages]]\nprogram = "cut.nc"\ndepth = 4\n'

    fault = only_fault(folder, text)

    assert fault.line == 3
    assert "a number without a unit" in fault.message
    assert "units =" in fault.help


def test_two_stages_of_one_name_are_refused(folder):
    """Refuse names that cannot tell stages apart."""
    text = 'units = "mm"\n' + '[[stages]]\nname = "a"\nprogram = "cut.nc"\n' * 2

    assert only_fault(folder, text).message == 'stages 1 and 2 are both named "a"'


def test_a_bit_that_is_faulty_is_not_unknown_too(folder):
    """Blame a faulty bit once, not again at every stage that uses it."""
    (folder / "bits.toml").write_text('[flat-6]\nshape = "flat"\n')

    (fault,) = faults_of(folder, JOB)

    assert fault.message == 'a flat bit needs "diameter"'


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (b"", "is empty"),
        (b" \n\t\n", "is empty"),
        (b"title = \n", "is not TOML: invalid value"),
        (b"a = 1\na = 2\n", "is not TOML: cannot overwrite"),
        (b"title = 'x", "is not TOML"),
        (b"title = '\xff'", "is not UTF-8 text"),
        (b"\x7fELF\x02\x01\x01\x00\x00\xff", "is not UTF-8 text"),
        (b"title = '\x00'", "is a binary file"),
        (b"a = " + b"[" * 100_000, "is nested too deeply"),
        (b"a = " + b"9" * 5000, "thousands of digits"),
        (b"#" * (LARGEST_DECLARATION + 1), "at most 1000000 are read"),
        (b"title = 'x'\n", 'needs "stages"'),
    ],
)
def test_texts_that_are_no_job(folder, text, message):
    """Refuse what is no TOML with one plain fault."""
    fault = only_fault(folder, text)

    assert message in fault.message


def test_syntax_faults_have_a_place(folder):
    """Point at the line and column where TOML breaks, at the end of the text too."""
    fault = only_fault(folder, 'units = "mm"\n[stock]\nsize = [1, 2\nzero = 3\n')
    assert (fault.line, fault.column) == (4, 1)

    fault = only_fault(folder, 'units = "mm"\ntitle =')
    assert fault.line == 2


def test_windows_files_are_read(folder):
    """Read CRLF line ends and a byte-order mark; lines keep their numbers."""
    text = ("\ufeff" + JOB.replace("depth = 4", "depth = 40")).replace("\n", "\r\n")

    assert only_fault(folder, text.encode()).line == 32


def test_missing_file_folder_and_device(folder):
    """Refuse what is no ordinary file, and suggest the one that was meant."""
    for path, message in (
        (folder / "jobb.toml", "there is no such file"),
        (folder, "is a folder"),
        ("/dev/zero", "is no ordinary file"),
        (folder / "job.toml" / "x", "there is no such file"),
        ("a\0b", "there is no such file"),
    ):
        with pytest.raises(JobError) as caught:
            read_job(path)
        assert message in caught.value.faults[0].message

    with pytest.raises(JobError, match=r'did you mean "job\.toml"'):
        read_job(folder / "jobb.toml")


def test_links_do_not_lead_outside(folder, tmp_path_factory):
    """Follow a link inside the job's folder, and no link that leaves it."""
    outside = tmp_path_factory.mktemp("outside") / "secret.nc"
    outside.write_text("G0\n")
    (folder / "link.nc").symlink_to(outside)
    (folder / "inner.nc").symlink_to(folder / "sub" / "ground.nc")

    fault = only_fault(folder, JOB.replace('"cut.nc"', '"link.nc"'))
    assert "outside the job's folder" in fault.message

    (folder / "job.toml").write_text(JOB.replace('"cut.nc"', '"inner.nc"'))
    assert read_job(folder / "job.toml").stages[1].program == folder / "inner.nc"


def test_a_link_in_a_circle_is_a_fault(folder):
    """Refuse a link that leads to itself."""
    (folder / "loop.nc").symlink_to(folder / "loop.nc")

    fault = only_fault(folder, JOB.replace('"cut.nc"', '"loop.nc"'))

    assert "loop.nc" in fault.message


def test_the_job_folder_may_be_the_present_one(folder, monkeypatch):
    """Read a job by its bare name."""
    monkeypatch.chdir(folder)

    assert str(read_job("job.toml").stages[1].program) == "cut.nc"


def test_machine_files_alone(folder):
    """Read a machine file by itself; its name is the file's."""
    (folder / "router.toml").write_text('unit = "in"\naccepts = ["subprograms"]\n')

    machine = read_machine(folder / "router.toml")

    assert (machine.name, machine.unit, machine.accepts) == ("router", "in", ("subprograms",))
    (folder / "router.toml").write_text('travel = ["0 mm", "1 mm", "1 mm"]\n')
    with pytest.raises(JobError, match="a travel from 0 mm to 0 mm"):
        read_machine(folder / "router.toml")


def test_the_error_reads_as_a_list(folder):
    """Write one line for each fault: place, key, what is wrong, what helps."""
    (folder / "job.toml").write_text(JOB.replace("depth = 4", "depht = 4"))
    with pytest.raises(JobError) as caught:
        read_job(folder / "job.toml")

    expected = 'job.toml:32:1: stages[1].depht: unknown key "depht" (did you mean "depth"?)'
    assert str(caught.value).endswith(expected)


TOKENS = st.sampled_from(
    ["[", "]", "{", "}", '"', "=", ",", ".", "\n", "mm", "3", "nan", "stages", "stock", "true", "#"]
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(st.integers(0, len(JOB)), st.integers(0, 12), st.lists(TOKENS, max_size=4))
def test_a_damaged_job_is_read_or_refused(folder, at, drop, put):
    """Answer any damage to a job file with a job or a JobError, never anything else."""
    text = JOB[:at] + "".join(put) + JOB[at + drop :]
    (folder / "job.toml").write_text(text)
    faults = None
    try:
        read_job(folder / "job.toml")
    except JobError as error:
        faults = error.faults
    assert faults is None or all(f.line is None or f.line >= 1 for f in faults)
    assert faults != ()
