"""Checks that look at more than one stage, or need a part the small cases do not have."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

import dryrun
from dryrun.checks.fit import _rounded

#: The field's cells in mm: wider ones without the compiler.
CELL = 0.5 if os.environ.get("NUMBA_DISABLE_JIT") == "1" else 0.25

HEAD = "G21 G90 G17\nS18000 M3\n"
TAIL = "M5\nG0 Z30\nM30\n"

JOB = """
title = "order"
units = "mm"
stock = {{ size = ["60 mm", "60 mm", "18 mm"], zero = "front-left-top" }}
{extra}
[bits.large]
shape = "flat"
diameter = "8 mm"
stickout = "20 mm"
[bits.small]
shape = "flat"
diameter = "2 mm"
stickout = "20 mm"
"""


def pocket(width: float, step: float) -> str:
    """Clear a pocket of 20 x 20 mm with passes along X."""
    low, high = 20 + width / 2, 40 - width / 2
    lines = [f"G0 X{low} Y{low} Z5", "G1 Z-3 F300"]
    y = low
    while y <= high + 1e-9:
        lines += [f"G1 X{high} Y{y:.3f} F1200", f"G1 X{low}"]
        y += step
    return "\n".join([*lines, "G0 Z5\n"])


def run(folder: Path, order: list[str], extra: str = "") -> dryrun.Outcome:
    """Dry-run a job of pockets cut with bits in the given order."""
    text = JOB.format(extra=extra)
    for name in order:
        # half of the small bit would leave scallops at the ends that the large one takes off
        width, step = (8.0, 4.0) if name == "large" else (2.0, 0.5)
        (folder / f"{name}.nc").write_text(HEAD + pocket(width, step) + TAIL)
        text += (
            f'[[stages]]\nname = "{name}"\nprogram = "{name}.nc"\nbit = "{name}"\ndepth = "3 mm"\n'
        )
    (folder / "job.toml").write_text(text)
    return dryrun.dry_run(dryrun.read_job(folder / "job.toml"), cell=0.25)


def codes(outcome: dryrun.Outcome) -> list[tuple[str, int | None]]:
    return [(f.code, f.stage) for f in outcome.findings]


def test_small_bit_first_is_told(tmp_path: Path) -> None:
    """A 2 mm bit that clears what an 8 mm bit would have cleared."""
    found = codes(run(tmp_path, ["small", "large"]))

    assert ("stage-order", 1) in found
    assert ("idle-stage", 2) in found


def test_a_stage_that_stops_short_where_an_earlier_one_went_deeper(tmp_path: Path) -> None:
    """One millimetre short of its depth, with retract and all; the floor there is not its work."""
    (tmp_path / "large.nc").write_text(HEAD + pocket(8.0, 4.0) + TAIL)
    around = "G0 X21 Y21 Z6\nG1 Z-2 F300\nX39 F1200\nY39\nX21\nY21\nG0 Z6\n"
    (tmp_path / "small.nc").write_text(HEAD + around + TAIL)
    text = JOB.format(extra="")
    for name in ("large", "small"):
        text += (
            f'[[stages]]\nname = "{name}"\nprogram = "{name}.nc"\nbit = "{name}"\ndepth = "3 mm"\n'
        )
    (tmp_path / "job.toml").write_text(text)
    found = codes(dryrun.dry_run(dryrun.read_job(tmp_path / "job.toml"), cell=CELL))

    assert ("shallow", 2) in found
    assert ("stage-shifted", 2) in found
    assert ("shallow", 1) not in found


def test_odds_read_as_numbers() -> None:
    """Odds of 182 to 1 are "about 180", not 1.8e+02."""
    assert [_rounded(odds) for odds in (50.2, 182.3, 999.0, 5000.0)] == [
        "about 50", "about 180", "about 1000", "more than 1000",
    ]  # fmt: skip


def test_large_bit_first_is_right(tmp_path: Path) -> None:
    """The usual order gives no such finding."""
    found = codes(run(tmp_path, ["large", "small"]))

    assert "stage-order" not in [code for code, _ in found]
    assert "idle-stage" not in [code for code, _ in found]


def two_bits(folder: Path, first: tuple[str, str], second: tuple[str, str], more: str) -> list[str]:
    """Dry-run two stages, each a bit and its lines; return the codes of the first."""
    text = JOB.format(extra="") + more
    for bit, lines in (first, second):
        (folder / f"{bit}.nc").write_text(HEAD + lines + TAIL)
        text += f'[[stages]]\nname = "{bit}"\nprogram = "{bit}.nc"\nbit = "{bit}"\ndepth = "3 mm"\n'
    (folder / "job.toml").write_text(text)
    outcome = dryrun.dry_run(dryrun.read_job(folder / "job.toml"), cell=CELL)
    return [f.code for f in outcome.findings if f.stage == 1]


@pytest.mark.jit_only
def test_a_ball_over_the_full_blank_before_a_flat_bit_roughs(tmp_path: Path) -> None:
    """The flat bit is no wider, but it goes first; a shape beside its pocket is another thing."""
    ball = '[bits.ball]\nshape = "ball"\ndiameter = "8 mm"\nstickout = "20 mm"\n'
    fine, rough = pocket(8.0, 1.0), pocket(8.0, 4.0)
    beside = rough.replace("G0 X24.0", "G0 X44.0").replace("X36.0", "X50.0").replace("X24.0", "X44")

    assert "stage-order" in two_bits(tmp_path, ("ball", fine), ("large", rough), ball)
    assert "stage-order" not in two_bits(tmp_path, ("ball", fine), ("large", beside), ball)
    assert "stage-order" not in two_bits(tmp_path, ("large", rough), ("ball", fine), ball)


GROOVES = "".join(
    f"G0 X22 Y{y} Z5\nG1 Z-2 F300\nG1 X30 Z-2.6 F1200\nG1 X38 Z-2\nG0 Z5\n" for y in (24, 30, 36)
)


@pytest.mark.jit_only
def test_grooves_before_the_hollow_whose_floor_they_are_in(tmp_path: Path) -> None:
    """A narrower flat bit would have spared the ball nearly all; a slot of it, little."""
    ball = '[bits.ball]\nshape = "ball"\ndiameter = "4 mm"\nstickout = "20 mm"\n'
    fine = pocket(2.0, 1.5).replace("Z-3", "Z-2")
    one = "G0 X21 Y24 Z5\nG1 Z-2 F300\nG1 X39 F1200\nG0 Z5\n"

    assert "stage-order" in two_bits(tmp_path, ("ball", GROOVES), ("small", fine), ball)
    assert "stage-order" not in two_bits(tmp_path, ("ball", GROOVES), ("small", one), ball)


@pytest.mark.jit_only
def test_grooves_of_a_ball_that_begin_far_below_an_uncut_top(tmp_path: Path) -> None:
    """Six ends deeper than the ball is wide: a floor is missing; less deep they are grooves."""
    ball = '[bits.ball]\nshape = "ball"\ndiameter = "4 mm"\nstickout = "30 mm"\n'
    deep = GROOVES.replace("Z-2.6", "Z-6.6").replace("Z-2", "Z-6")
    clears = pocket(2.0, 1.5).replace("Z-3", "Z-1")

    assert "missing-stage" in two_bits(tmp_path, ("ball", deep), ("small", clears), ball)
    assert "missing-stage" not in two_bits(tmp_path, ("ball", GROOVES), ("small", clears), ball)


def with_offsets(folder: Path, places: tuple[float, float], second: str = "G55") -> list[str]:
    """Dry-run two stages that cut at an offset; return the codes of the second."""
    text = JOB.format(extra="")
    for number, (place, word) in enumerate(zip(places, ("G55", second), strict=True), 1):
        slot = f"{word}\nG0 X5 Y{10 * number} Z5\nG1 Z-3 F300\nG1 X20 F1200\nG0 Z5\n"
        (folder / f"{number}.nc").write_text(HEAD + slot + TAIL)
        text += (
            f'[[stages]]\nname = "{number}"\nprogram = "{number}.nc"\nbit = "large"\n'
            f'depth = "3 mm"\noffsets = {{ G55 = ["{place} mm", "0 mm", "0 mm"] }}\n'
        )
    (folder / "job.toml").write_text(text)
    outcome = dryrun.dry_run(dryrun.read_job(folder / "job.toml"), cell=0.5)
    return [f.code for f in outcome.findings if f.stage == 2]


def test_an_offset_that_two_stages_declare_at_different_places(tmp_path: Path) -> None:
    """The same word for two places is told; not where they agree, nor where nothing calls it."""
    assert "stage-shifted" in with_offsets(tmp_path, (30.0, 25.0))
    assert "stage-shifted" not in with_offsets(tmp_path, (30.0, 30.0))
    assert "stage-shifted" not in with_offsets(tmp_path, (30.0, 25.0), second="G54")


def test_an_offset_that_is_declared_and_never_called(tmp_path: Path) -> None:
    """Noted at the last offset that is called; not where all are, nor where none is."""

    def noted(*words: str) -> list[tuple[str, int | None]]:
        slots = [f"{w}\nG0 X5 Y{20 + 9 * k} Z5\nG1 Z-3 F300\nG1 X20 F1200\nG0 Z5\n"
                 for k, w in enumerate(words)]  # fmt: skip
        (tmp_path / "1.nc").write_text(HEAD + "".join(slots) + TAIL)
        (tmp_path / "job.toml").write_text(
            JOB.format(extra="") + '[[stages]]\nname = "1"\nprogram = "1.nc"\nbit = "large"\n'
            'depth = "3 mm"\noffsets = { G55 = ["0 mm", "20 mm", "0 mm"], '
            'G56 = ["0 mm", "40 mm", "0 mm"] }\n'
        )
        outcome = dryrun.dry_run(dryrun.read_job(tmp_path / "job.toml"), cell=0.5)
        return [(f.level, f.line) for f in outcome.findings if f.code == "stage-shifted"]

    first = HEAD.count("\n") + 1
    assert noted("G55", "G55") == [("note", first)]
    assert noted("G55", "G56") == []
    assert noted("G54", "G54") == []


def test_holes_are_drilled_before_they_are_bored_out(tmp_path: Path) -> None:
    """A drill takes what a wider bit takes around it afterwards: ordinary, and nothing suffers."""
    drill = (
        '[bits.drill]\nshape = "drill"\ndiameter = "3 mm"\nangle = "118 deg"\nstickout = "30 mm"\n'
    )
    hole = "G0 X30 Y30 Z5\nG1 Z-3 F300\nG0 Z5\n"

    assert "stage-order" not in two_bits(tmp_path, ("drill", hole), ("large", hole), drill)
    assert "stage-order" in two_bits(tmp_path, ("small", hole), ("large", hole), "")


def test_dust_shoe_on_a_clamp(tmp_path: Path) -> None:
    """A shoe that hangs lower than a clamp is high touches it; one that is higher does not."""
    box = 'box = { min = ["0 mm", "0 mm"], max = ["10 mm", "60 mm"], height = "%s" }'
    clamp = 'clamps = [{ name = "c", ' + box + " }]\n"
    shoe = 'machine = { dust_shoe = { diameter = "60 mm", drop = "4 mm" } }\n'

    low = codes(run(tmp_path, ["large"], clamp % "14 mm" + shoe))
    high = codes(run(tmp_path, ["large"], clamp % "8 mm" + shoe))

    assert ("body-low", 1) in low
    assert "body-low" not in [code for code, _ in high]


def two_pockets(
    folder: Path, second: tuple[float, float] = (20.0, 20.0), depth: float = 3.0, wide: float = 0.0
) -> dryrun.Outcome:
    """Clear a pocket with 8 mm and run around its walls with 2 mm, from another corner if asked."""
    x, y = second
    low, high = 1.0, 19.0 + wide
    ring = [(low, low), (high, low), (high, high), (low, high), (low, low)]
    lines = [f"G0 X{x + 10:.3f} Y{y + 10:.3f} Z5", f"G1 Z-{depth} F300"]
    lines += [f"G1 X{x + a:.3f} Y{y + b:.3f} F900" for a, b in ring]
    text = JOB.format(extra="")
    for name, program in (("large", pocket(8.0, 4.0)), ("small", "\n".join(lines) + "\nG0 Z5\n")):
        (folder / f"{name}.nc").write_text(HEAD + program + TAIL)
        text += (
            f'[[stages]]\nname = "{name}"\nprogram = "{name}.nc"\nbit = "{name}"\n'
            f'depth = "{depth if name == "small" else 3.0} mm"\n'
        )
    (folder / "job.toml").write_text(text)
    return dryrun.dry_run(dryrun.read_job(folder / "job.toml"), cell=CELL)


def test_walls_deeper_than_the_floor(tmp_path: Path) -> None:
    """A finer bit that goes 1 mm deeper along all walls than the floor; and one that does not."""
    deeper, level = two_pockets(tmp_path, depth=4.0), two_pockets(tmp_path, depth=3.0)

    assert ("not-cleared", 2) in codes(deeper)
    assert codes(level) == []
    (finding,) = (f for f in deeper.findings if f.code == "not-cleared")
    assert finding.value == pytest.approx(1.0, abs=0.01)
    assert finding.line == 4


def test_second_stage_beside_the_first(tmp_path: Path) -> None:
    """A second stage 3 mm to the right and 2 mm to the front is told with its shift."""
    outcome = two_pockets(tmp_path, second=(23.0, 18.0))

    (finding,) = (f for f in outcome.findings if f.code == "stage-shifted")
    assert finding.stage == 2
    assert finding.value == pytest.approx(13**0.5, abs=0.3)
    assert finding.line == 4
    assert "X 3" in finding.message


def test_a_larger_second_pocket_is_no_shift(tmp_path: Path) -> None:
    """Outlines that meet nowhere are not shifted."""
    assert "stage-shifted" not in [code for code, _ in codes(two_pockets(tmp_path, wide=6.0))]


def said_of_idle(folder: Path, idle: str, rack: str = "") -> str:
    """Dry-run a bit above a pocket of 5 by 20 mm that the small one cuts; return what is said."""
    slot = ["G0 X21 Y21 Z5", "G1 Z-3 F300"]
    for k in range(4):
        slot += [f"G1 X{39 if k % 2 == 0 else 21} F900", f"G1 Y{22 + k}"][: 2 if k < 3 else 1]
    text = JOB.format(extra="") + rack
    for name, program in (
        (idle, "G0 X30 Y22 Z5\nG1 Z0.5 F300\nG0 Z5\n"),
        ("small", "\n".join(slot) + "\nG0 Z5\n"),
    ):
        (folder / f"{name}.nc").write_text(HEAD + program + TAIL)
        text += f'[[stages]]\nname = "{name}"\nprogram = "{name}.nc"\nbit = "{name}"\n'
    (folder / "job.toml").write_text(text)
    outcome = dryrun.dry_run(dryrun.read_job(folder / "job.toml"), cell=0.4 * CELL)

    (finding,) = (f for f in outcome.findings if f.code == "idle-stage")
    return finding.message


def test_an_idle_stage_names_the_widest_bit(tmp_path: Path) -> None:
    """Up to 5 mm would enter, so the 2 mm one."""
    message = said_of_idle(tmp_path, "large")

    said = re.search(r"a flat bit of up to ([\d.]+) mm would enter, of the rack small", message)
    assert said, message
    assert float(said[1]) == pytest.approx(5.0, abs=0.2)


def test_an_idle_stage_is_offered_a_bit_of_its_kind(tmp_path: Path) -> None:
    """A ball for a ball, and nothing for a vee: its tip enters anywhere."""
    ball = '[bits.%s]\nshape = "ball"\ndiameter = "%d mm"\nstickout = "20 mm"\n'
    rack = ball % ("ball-8", 8) + ball % ("ball-4", 4)
    vee = '[bits.vee]\nshape = "vee"\ndiameter = "8 mm"\nangle = "60 deg"\nstickout = "20 mm"\n'

    message = said_of_idle(tmp_path, "ball-8", rack)
    assert "a ball of up to" in message
    assert "of the rack ball-4 (4 mm)" in message
    assert "would enter" not in said_of_idle(tmp_path, "vee", vee)


@pytest.mark.parametrize(
    ("declared", "fits"),
    [
        ("back-left-top", "back right"),
        ("front-right-top", "back right"),
        ("front-left-top", "back right"),
    ],
)
def test_the_zero_that_would_fit_shares_a_word_with_the_declared_one(
    declared: str, fits: str, tmp_path: Path
) -> None:
    """A path near the back right corner of the blank, made for a zero there."""
    text = JOB.format(extra="").replace("front-left-top", declared)
    (tmp_path / "p.nc").write_text(
        HEAD + "G0 X-50 Y-10 Z5\nG1 Z-2 F300\nG1 X-10 F900\nG1 Y-50\nG0 Z5\n" + TAIL
    )
    text += '[[stages]]\nname = "one"\nprogram = "p.nc"\nbit = "small"\n'
    (tmp_path / "job.toml").write_text(text)
    outcome = dryrun.dry_run(dryrun.read_job(tmp_path / "job.toml"), cell=0.5)

    (finding,) = (f for f in outcome.findings if f.code == "zero-suspect")
    assert finding.message.endswith(f"with the zero at the {fits}")


def test_a_narrow_path_may_fit_two_zeros(tmp_path: Path) -> None:
    """Along the middle of the right side: of the two that fit, that with a declared word."""
    lines = "G0 X-50 Y-12 Z5\nG1 Z-2 F300\nG1 X-10 F900\nG1 Y-4\nG0 Z5\n"
    (tmp_path / "p.nc").write_text(HEAD + lines + TAIL)
    for declared, fits in (("back-left-top", "back right"), ("centre-left-top", "centre right")):
        text = JOB.format(extra="").replace("front-left-top", declared)
        text += '[[stages]]\nname = "one"\nprogram = "p.nc"\nbit = "small"\n'
        (tmp_path / "job.toml").write_text(text)
        outcome = dryrun.dry_run(dryrun.read_job(tmp_path / "job.toml"), cell=0.5)

        (finding,) = (f for f in outcome.findings if f.code == "zero-suspect")
        assert finding.message.endswith(f"with the zero at the {fits}")


def test_a_bit_that_cannot_be_cut_from_the_field(tmp_path: Path) -> None:
    """An undercut bit's depth is checked, the rest not run; the stages around it are checked."""
    dove = '[bits.dove]\nshape = "form"\ndiameter = "12 mm"\n'
    dove += "profile = [[0, 0], [5, 0], [3, 4], [6, 8]]\n"
    text = JOB.format(extra="") + dove
    line = "G0 X20 Y20 Z5\nG1 Z-4 F300\nG1 X40 F900\nG0 Z5\n"
    (tmp_path / "p.nc").write_text(HEAD + line + TAIL)
    for name in ("dove", "small"):
        text += f'[[stages]]\nname = "{name}"\nprogram = "p.nc"\nbit = "{name}"\ndepth = "3 mm"\n'
    (tmp_path / "job.toml").write_text(text)
    outcome = dryrun.dry_run(dryrun.read_job(tmp_path / "job.toml"), cell=CELL)

    assert {("too-deep", 1), ("too-deep", 2)} <= set(codes(outcome))
    assert ("shallow", "a bit that does not cut under material", (1,)) in [
        (gap.code, gap.needs, gap.stages) for gap in outcome.not_run
    ]
