"""Checks that look at more than one stage, or need a part the small cases do not have."""

from __future__ import annotations

from pathlib import Path

import dryrun

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


def test_large_bit_first_is_right(tmp_path: Path) -> None:
    """The usual order gives no such finding."""
    found = codes(run(tmp_path, ["large", "small"]))

    assert "stage-order" not in [code for code, _ in found]
    assert "idle-stage" not in [code for code, _ in found]


def test_dust_shoe_on_a_clamp(tmp_path: Path) -> None:
    """A shoe that hangs lower than a clamp is high touches it; one that is higher does not."""
    box = 'box = { min = ["0 mm", "0 mm"], max = ["10 mm", "60 mm"], height = "%s" }'
    clamp = 'clamps = [{ name = "c", ' + box + " }]\n"
    shoe = 'machine = { dust_shoe = { diameter = "60 mm", drop = "4 mm" } }\n'

    low = codes(run(tmp_path, ["large"], clamp % "14 mm" + shoe))
    high = codes(run(tmp_path, ["large"], clamp % "8 mm" + shoe))

    assert ("body-low", 1) in low
    assert "body-low" not in [code for code, _ in high]
