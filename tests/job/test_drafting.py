"""Drafting a job file from programs."""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from dryrun.gcode.program import read_program
from dryrun.job.drafting import cutting_bounds, draft_job, quote, said_units
from dryrun.job.reading import read_job

FIXTURES = Path(__file__).parents[2] / "fixtures"


def uncommented(draft):
    """Take the guesses for granted, as a careless person would."""
    lines = draft.splitlines()
    return "\n".join(
        line[1:] if line.startswith("#") and not line.startswith(("# ", "#\n")) else line
        for line in lines
        if line != "#" and '"?"' not in line
    )


def draft(tmp_path, **programs):
    files = []
    for name, text in programs.items():
        file = tmp_path / f"{name}.nc"
        file.write_text(text)
        files.append(file)
    return draft_job(files)


def test_the_draft_of_the_trivet_is_a_job(tmp_path):
    """Draft what `read_job` reads: units, stages with the larger bit first, bits from comments."""
    for name in ("points.nc", "ground.nc"):
        (tmp_path / name).write_bytes((FIXTURES / "trivet" / name).read_bytes())
    text = draft_job([tmp_path / "points.nc", tmp_path / "ground.nc"])
    (tmp_path / "job.toml").write_text(text)

    job = read_job(tmp_path / "job.toml")

    assert (job.title, job.units) == ("Compass-rose trivet", "mm")
    assert [stage.name for stage in job.stages] == ["ground", "points"]
    assert [stage.bit.diameter for stage in job.stages] == [6.0, 12.0]
    assert (job.stock, job.machine, job.clamps) == (None, None, None)
    assert [stage.depth for stage in job.stages] == [None, None]


@pytest.mark.parametrize("name", ["trivet", "coaster-inch"])
def test_the_guesses_are_those_the_job_declares(name, tmp_path):
    """Guess blank, zero and depth of a demonstration job as a person declared them."""
    declared = read_job(FIXTURES / name / "job.toml")
    programs = []
    for stage in declared.stages:
        (tmp_path / stage.program.name).write_bytes(stage.program.read_bytes())
        programs.append(tmp_path / stage.program.name)

    guessed = tomllib.loads(uncommented(draft_job(programs)))
    (tmp_path / "machine.toml").write_text("")

    assert guessed["stock"]["zero"] == declared.stock.zero
    assert guessed["units"] == declared.units
    (tmp_path / "job.toml").write_text(
        uncommented(draft_job(programs)).replace('file = "machine.toml"', "")
    )
    job = read_job(tmp_path / "job.toml")
    assert job.stock.size == pytest.approx(declared.stock.size, abs=0.01)
    for made, wanted in zip(job.stages, declared.stages, strict=True):
        assert made.bit.shape == wanted.bit.shape
        assert made.bit.diameter == pytest.approx(wanted.bit.diameter)
        assert made.through == wanted.through
        assert made.through or made.depth == pytest.approx(wanted.depth, abs=0.05)


def test_a_silent_program_gives_only_questions(tmp_path):
    """Declare nothing for a program without comments or units, and say what is missing."""
    text = draft(tmp_path, bare="G0 X0 Y0 Z5\nG1 Z-2 F100\nX30 Y40\nG0 Z5\nM2\n")
    (tmp_path / "job.toml").write_text(text)

    job = read_job(tmp_path / "job.toml")

    assert (job.title, job.units, job.bits) == ("bare", "mm", ())
    assert "# CHECK: bare.nc: no G21" in text
    assert '#zero = "front-left-top"' in text
    assert '#size = ["40 mm", "50 mm", "?"]' in text
    assert '#depth = "2 mm"' in text
    assert '#bit = "?"' in text


def test_an_inch_program_beside_a_silent_one(tmp_path):
    """Read a silent program in the unit the others say, and ask to check it."""
    text = draft(
        tmp_path,
        one="G20 G1 X4 Y4 Z-0.5 F20\nM2\n",
        two="G1 X4 Y4 Z-0.25 F20\nM2\n",
    )

    assert 'units = "in"' in text
    assert "# CHECK: two.nc: no G20" in text
    assert '#depth = "0.25 in"' in text


def test_programs_elsewhere_are_told(tmp_path):
    """Say that a program outside the job's folder has to be copied there."""
    (tmp_path / "job").mkdir()
    (tmp_path / "far.nc").write_text("G21 G1 X1 Z-1 F100\nM2\n")

    text = draft_job([tmp_path / "far.nc"], folder=tmp_path / "job")

    assert 'program = "../far.nc"' in text
    assert "copy this program into the job's folder" in text


@pytest.mark.parametrize(
    "name",
    ['quo"te\\', "a\nb = 1", "\x1b[31m", "  ", "ü€", "x" * 500, "[[stages]]", "''' \"\"\""],
)
def test_titles_cannot_break_out(tmp_path, name):
    """Keep any title one TOML string, whatever is in it."""
    (tmp_path / "a.nc").write_text("G21 G1 X1 Z-1 F100\nM2\n")

    raw = tomllib.loads(draft_job([tmp_path / "a.nc"], title=name))

    assert set(raw) == {"title", "units", "stages"}
    assert raw["title"].isprintable()
    assert tomllib.loads(f"x = {quote(name)}")["x"] == raw["title"]


def test_hostile_comments_stay_comments(tmp_path):
    """Keep what a program's comments say inside comments and strings of the draft."""
    text = draft(
        tmp_path,
        odd='(name: "]\n[bits.x]) \x1b[2J)\n(tool: 6 mm flat\x07 end mill"""\n)\n'
        "G21 G1 X1 Z-1 F9\nM2\n",
    )

    assert all(c.isprintable() or c == "\n" for c in text)
    assert set(tomllib.loads(text)) <= {"title", "units", "stages", "bits"}


def test_nothing_is_cut(tmp_path):
    """Draft for a program that cuts nothing, too."""
    text = draft(tmp_path, empty="(nothing)\nG21\nG0 X1\nM2\n")

    assert "nothing is cut" in text
    assert tomllib.loads(text)["stages"][0]["program"] == "empty.nc"


def test_no_program_is_refused():
    """Refuse to draft a job of nothing."""
    with pytest.raises(ValueError, match="at least one"):
        draft_job([])


@pytest.mark.parametrize(
    ("text", "units"),
    [
        ("G21", "mm"),
        ("g20", "in"),
        ("N10 G90G20G17", "in"),
        ("G020", "in"),
        ("(G20) G21", "mm"),
        ("; G20\nG21", "mm"),
        ("(open G20\nG21", "mm"),
        ("G2 0", "in"),  # blanks mean nothing: NISTIR 6556, 3.3
        ("G2 X0", None),
        ("G201", None),
        ("G20.1", None),
        ("", None),
    ],
)
def test_the_units_code_is_found(text, units):
    """Find G20 and G21 outside comments (NISTIR 6556, 3.5.7)."""
    assert said_units(text) == units


def test_bounds_reach_around_arcs():
    """Take the outermost points of arcs, not their ends."""
    program = read_program(b"G21 G17 G90\nG0 X10 Y0 Z5\nG1 Z-1 F100\nG3 X10 Y0 I-10 J0\nM2\n")

    low, high = cutting_bounds(program.motion)

    np.testing.assert_allclose(low, (-10, -10, -1), atol=1e-9)
    np.testing.assert_allclose(high, (10, 10, 5), atol=1e-9)
