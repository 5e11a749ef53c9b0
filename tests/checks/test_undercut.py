"""Bits that cut under material: refused for the map in one sentence, checked for what can be."""

from __future__ import annotations

from pathlib import Path

import pytest

import dryrun

JOB = """
title = "slot under the top"
units = "mm"
[stock]
size = ["100 mm", "60 mm", "18 mm"]
zero = "centre-top"
[machine]
travel = ["300 mm", "300 mm", "80 mm"]
work_zero = ["50 mm", "150 mm", "60 mm"]
max_rate = ["3000 mm/min", "3000 mm/min", "1000 mm/min"]
acceleration = ["300 mm/s2", "300 mm/s2", "200 mm/s2"]
[bits.head]
shape = "form"
profile = PROFILE
flutes = 2
[bits.flat]
shape = "flat"
diameter = "4 mm"
[[stages]]
name = "opening"
program = "flat.nc"
bit = "flat"
depth = "8 mm"
[[stages]]
name = "under"
program = "under.nc"
bit = "head"
depth = "8 mm"
"""
HEADS = {
    "dovetail": "[[0, 0], [6, 0], [4, 8]]",
    "T": "[[0, 0], [8, 0], [8, 4], [3, 4], [3, 10]]",
    "rounded": "[[0, 0], [5, 0], [5, 4, 2.5], [2, 6]]",
}
START, END = "G21 G90\nM3 S18000\n", "M30\n"


def run(folder: Path, head: str, under: str) -> dryrun.Outcome:
    """Dry-run a slot that is opened with a flat bit and widened below by a headed one."""
    (folder / "flat.nc").write_text(
        START + "G0 X-45 Y0 Z5\nG1 Z-2 F300\nG1 X-40 F800\nG0 Z5\n" + END
    )
    (folder / "under.nc").write_text(START + under + END)
    (folder / "job.toml").write_text(JOB.replace("PROFILE", HEADS[head]))
    return dryrun.dry_run(dryrun.read_job(folder / "job.toml"), cell=0.5)


@pytest.mark.parametrize("head", HEADS)
def test_depth_rapids_and_travel_are_checked_and_the_rest_said_not_to_be(
    tmp_path: Path, head: str
) -> None:
    """9 deep where 8 is meant, a rapid at -2 through the blank, and X -60 beyond the machine."""
    under = "G0 X60 Y0 Z5\nG0 Z-9\nG1 X40 F800\nG1 X60\nG0 Z-2\nG0 X-60\nG0 Z5\n"
    outcome = run(tmp_path, head, under)
    found = {f.code for f in outcome.findings if f.stage == 2}
    not_run = {n.code: n.needs for n in outcome.not_run if 2 in n.stages}

    assert {"too-deep", "rapid-in-stock", "beyond-travel"} <= found
    assert "cut under material" in not_run["deep-pass"]
    assert "which a map of heights cannot show" in outcome.stages[1].note
    assert ". " not in outcome.stages[1].note  # one sentence
    assert outcome.stages[1].facts is None
    assert outcome.stages[1].lowest == pytest.approx(-9.0)
    assert outcome.stages[0].facts is not None


@pytest.mark.parametrize("head", HEADS)
def test_a_tame_program_with_such_a_bit_has_no_error(tmp_path: Path, head: str) -> None:
    """In from the side at the depth meant, out again the same way."""
    under = "G0 X62 Y0 Z5\nG0 Z-8\nG1 X40 F800\nG1 X62\nG0 Z5\n"
    outcome = run(tmp_path, head, under)

    assert [f.code for f in outcome.findings if f.stage == 2 and f.level == "error"] == []


def test_cells_are_chosen_for_bits_that_show_in_them(tmp_path: Path) -> None:
    """A small head under material asks for no finer cells, and alone it is not named for them."""
    (tmp_path / "flat.nc").write_text(START + END)
    (tmp_path / "under.nc").write_text(START + END)
    both = JOB.replace("PROFILE", "[[0, 0], [1, 0], [1, 1], [0.6, 1], [0.6, 4]]")
    flat = both.index('[[stages]]\nname = "opening"')
    alone = both[:flat] + both[both.index('[[stages]]\nname = "under"') :]
    said = []
    for text in (both, alone):
        (tmp_path / "job.toml").write_text(text)
        said.append(dryrun.dry_run(dryrun.read_job(tmp_path / "job.toml")).cell_why)
    assert said == ["fine enough for flat", "no bit of the job shows in them"]


@pytest.mark.parametrize(("hole", "told"), [("18 mm", False), ("14 mm", True)])
def test_down_into_a_round_hole_is_free_where_its_disc_fits(
    tmp_path: Path, hole: str, told: bool
) -> None:
    """A head of 16 mm, fast straight down into a hole: a square about the head meets its wall."""
    text = JOB.replace("PROFILE", HEADS["T"]).replace('"4 mm"', f'"{hole}"')
    text = text.replace("flutes = 2\n", "flutes = 2\ncentre_cutting = false\n", 1)
    (tmp_path / "flat.nc").write_text(START + "G0 X0 Y0 Z5\nG1 Z-8 F300\nG0 Z5\n" + END)
    under = "G0 X0 Y0 Z5\nG1 Z-6 F300\nG1 X3 F400\nG1 X0\nG0 Z5\n"
    (tmp_path / "under.nc").write_text(START + under + END)
    (tmp_path / "job.toml").write_text(text)
    outcome = dryrun.dry_run(dryrun.read_job(tmp_path / "job.toml"), cell=0.25)
    down = {f.code for f in outcome.findings if f.stage == 2 and f.line == 4}

    assert ({"fast-plunge", "steep-entry"} <= down) is told
    assert told or not down & {"fast-plunge", "steep-entry"}
