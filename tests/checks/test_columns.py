"""Columns of material that are measured again: what is really deep stays told."""

from __future__ import annotations

from pathlib import Path

import pytest

import dryrun

from .heldout3 import JOBS
from .heldout3.edits import Edit, everywhere, line
from .heldout3.score import findings

HEAD = "G21 G90\nS18000 M3\nG4 P4\nG0 Z5\n"
TAIL = "G0 Z5\nM5\nM30\n"
JOB = """
[stock]
size = ["100 mm", "60 mm", "30 mm"]
zero = "front-left-top"
[bits.b]
shape = "{shape}"
diameter = "6 mm"
[[stages]]
program = "a.nc"
bit = "b"
depth = "20 mm"
max_pass = "3 mm"
"""


def deep(folder: Path, program: str, shape: str = "flat") -> list[tuple[int | None, float | None]]:
    """Dry-run a program; return lines and columns of its deep passes."""
    (folder / "job.toml").write_text(JOB.format(shape=shape), "utf-8")
    (folder / "a.nc").write_text(HEAD + program + TAIL, "utf-8")
    outcome = dryrun.dry_run(dryrun.read_job(folder / "job.toml"))
    return [(f.line, f.value) for f in outcome.findings if f.code == "deep-pass"]


@pytest.mark.jit_only
@pytest.mark.parametrize("shape", ["flat", "ball"])
def test_a_plunge_in_parts_is_one_go(shape: str, tmp_path: Path) -> None:
    """Three plunges of 2 mm one after another take 6 mm at once."""
    program = "G0 X30 Y30\nG1 Z-2 F300\nZ-4\nZ-6\n"

    assert [value for _, value in deep(tmp_path, program, shape)] == [pytest.approx(6.0, abs=0.1)]


@pytest.mark.jit_only
@pytest.mark.parametrize("step", [0.5, 2.0, 40.0])
@pytest.mark.parametrize("shape", ["flat", "ball"])
def test_short_moves_are_as_deep_as_long_ones(shape: str, step: float, tmp_path: Path) -> None:
    """A slot 4 mm deep, entered down a ramp of four passes, in moves of any length."""
    xs = [30 + step * k for k in range(1, round(40 / step) + 1)]
    program = "G0 X20 Y30\nG1 Z-2 F300\nX30\nX20 Z-4\nX30\n" + "".join(f"X{x:g}\n" for x in xs)

    told = deep(tmp_path, program, shape)

    assert told
    assert max(value or 0.0 for _, value in told) == pytest.approx(4.0, abs=0.1)


@pytest.mark.jit_only
def test_a_ramp_is_as_deep_as_its_end(tmp_path: Path) -> None:
    """A ramp to 5 mm takes 2.5 mm on average and 5 at its end."""
    program = "G0 X20 Y30\nG1 Z0 F300\nX80 Z-5 F1200\n"

    assert deep(tmp_path, program) == [(7, pytest.approx(5.0, abs=0.1))]


@pytest.mark.jit_only
@pytest.mark.parametrize(
    ("job", "edits", "told"),
    [
        ("flutes", (), set()),
        # The first pass of the second flute is left out: its second takes 5 mm.
        ("flutes", (everywhere("flutes.nc", r"^X30\.639 Y20$", "X25 Y20"),
                    line("flutes.nc", 26, "G2 X45 Z-2.5 I14.361 K40 F3000",
                         "G2 X45 Z-5 I20 K37.5 F3000"),
                    line("flutes.nc", 28, "G2 X209.361", "G2 X215")), {26}),
        ("baffle", (), set()),
        # One level is left out: the next takes 6.6 mm.
        ("baffle", (everywhere("opening.nc", r"^X242 Y190 Z-11\.6 I-57$", "X242 Y190 I-57"),),
         {15}),
    ],
)  # fmt: skip
def test_arcs_and_slivers(job: str, edits: tuple[Edit, ...], told: set[int]) -> None:
    """A rising arc and a sliver of rounding are not told, a pass left out is."""
    files = dict(JOBS[job].files)
    for edit in edits:
        edit(files)

    assert {f.line for f in findings(files) or () if f.code == "deep-pass"} == told
