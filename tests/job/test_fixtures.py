"""The demonstration jobs: made by their scripts, readable, small, and cut where they should."""

import difflib
import math
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from dryrun.job.reading import read_job

FIXTURES = Path(__file__).parents[2] / "fixtures"
JOBS = ["trivet", "trivet-mistakes", "coaster-inch"]
LARGEST = 300_000


@pytest.mark.parametrize("script", ["make_trivet.py", "make_coaster.py"])
def test_the_scripts_write_the_kept_files(script, tmp_path):
    """Write the kept files again, byte for byte."""
    subprocess.run(
        [sys.executable, "-B", FIXTURES / script, tmp_path], check=True, timeout=600, cwd=tmp_path
    )

    made = sorted(path for path in tmp_path.rglob("*") if path.is_file())
    assert len(made) >= 3
    for path in made:
        assert path.read_bytes() == (FIXTURES / path.relative_to(tmp_path)).read_bytes()
        assert path.stat().st_size < LARGEST
    for folder in {path.parent.name for path in made}:
        kept = {path.name for path in (FIXTURES / folder).iterdir()}
        assert kept == {path.name for path in made if path.parent.name == folder}


@pytest.mark.parametrize("name", JOBS)
def test_the_jobs_are_read(name):
    """Read each job without a fault, with everything declared that checks may ask for."""
    job = read_job(FIXTURES / name / "job.toml")

    assert job.stock is not None
    assert job.stock.spoilboard
    assert job.clamps
    assert job.machine.travel
    assert job.machine.work_zero
    assert job.machine.holder
    assert all(stage.bit and stage.depth for stage in job.stages)
    assert all(stage.bit.flute_length and stage.bit.stickout for stage in job.stages)


def moves(path):
    """Walk a program of the plain kind these scripts write: (line, code, feed, start, end) each.

    Written from the words alone, apart from the project's own reader.
    """
    place, code, feed, scale = [math.nan] * 3, None, math.nan, 1.0
    for number, text in enumerate(path.read_text().splitlines(), start=1):
        words = re.findall(r"([A-Z])([-+]?[\d.]+)", re.sub(r"\([^)]*\)", "", text))
        if ("G", "20") in words:
            scale = 25.4
        if ("G", "4") in words:
            continue
        target = list(place)
        for letter, value in words:
            if letter == "G" and value in "0123":
                code = int(value)
            elif letter in "XYZ":
                target["XYZ".index(letter)] = float(value) * scale
            elif letter == "F":
                feed = float(value) * scale
        if target != place or (code in (2, 3) and any(w[0] == "I" for w in words)):
            yield number, code, feed, tuple(place), tuple(target)
        place = target


@pytest.mark.parametrize(
    ("name", "stage", "deepest"),
    [("trivet", 0, 3.0), ("trivet", 1, 4.5), ("coaster-inch", 0, 4.064), ("coaster-inch", 1, 12.9)],
)
def test_clean_programs_stay_where_they_may(name, stage, deepest):
    """Stay over the blank and within the depth; cut at a feed; cross at the safe height."""
    job = read_job(FIXTURES / name / "job.toml")
    low, high = job.stock.low, job.stock.high
    radius = job.stages[stage].bit.radius
    safe = job.stock.top + job.machine.safe_height
    lowest = 0.0
    for line, code, feed, start, end in moves(job.stages[stage].program):
        lowest = min(lowest, end[2])
        if code == 0:
            crosses = start[:2] != end[:2]
            assert end[2] >= job.stock.top, line
            assert not crosses or math.isnan(start[0]) or min(start[2], end[2]) >= safe, line
        elif end[2] < 0:
            assert feed > 0, line
            assert low[0] + radius / 2 <= end[0] <= high[0] - radius / 2, line
            assert low[1] + radius / 2 <= end[1] <= high[1] - radius / 2, line
    assert lowest == pytest.approx(-deepest, abs=0.06)
    if not job.stages[stage].through:
        assert -lowest <= job.stages[stage].depth + 1e-9


def planted_mistakes():
    text = (FIXTURES / "trivet-mistakes" / "PLANTED.toml").read_text()
    return tomllib.loads(text)["planted"]


def test_six_lines_are_edited():
    """Differ from the clean programs in what was planted, and in nothing else."""
    edits = 0
    for name in ("ground.nc", "points.nc"):
        clean, spoiled = (
            (FIXTURES / folder / name).read_text().splitlines()
            for folder in ("trivet", "trivet-mistakes")
        )
        blocks = difflib.SequenceMatcher(None, clean, spoiled, autojunk=False).get_opcodes()
        edits += sum(tag != "equal" for tag, *_ in blocks)

    assert edits == 6
    assert len({item["code"] for item in planted_mistakes()}) == 6


@pytest.mark.jit_only
@pytest.mark.parametrize("name", ["trivet", "coaster-inch"])
def test_the_clean_jobs_give_no_finding(name):
    """Find nothing to say about the clean jobs, not even a note, with everything declared."""
    import dryrun

    outcome = dryrun.dry_run(read_job(FIXTURES / name / "job.toml"), cell=0.25)

    assert outcome.findings == []
    assert {gap.code for gap in outcome.not_run} <= {"body-low", "thickness-differs"}
    assert 3 * 60 < outcome.seconds < 40 * 60


@pytest.mark.jit_only
def test_each_planted_mistake_is_named_at_its_line():
    """Name each of the six mistakes by its code at its line, and nothing that is not there."""
    import dryrun

    outcome = dryrun.dry_run(read_job(FIXTURES / "trivet-mistakes" / "job.toml"), cell=0.25)

    found = {(f.code, f.stage, os.path.basename(f.file), f.line) for f in outcome.findings}
    planted = planted_mistakes()
    wanted = {(m["code"], m["stage"], m["program"], m["line"]) for m in planted}
    besides = {(c, m["stage"], m["program"], m["line"]) for m in planted for c in m["also"]}
    assert found == wanted | besides
