"""Jobs for the tests of the reports: small, with findings, and one that means harm to the page."""

from __future__ import annotations

from pathlib import Path

import dryrun
from dryrun.outcome import Outcome

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"

SMALL = """\
G21 G90 G17
S18000 M3
G0 X8 Y10 Z5
G1 Z-2 F300
G1 X30 F1200
G1 Y20
G1 Z-5 F300
G1 X10 F1200
G0 Z5
M5
M30
"""

JOB = """\
title = "{title}"
units = "mm"
[stock]
size = ["40 mm", "30 mm", "8 mm"]
zero = "front-left-top"
material = "oak"
[machine]
max_rate = ["5000 mm/min", "5000 mm/min", "2000 mm/min"]
acceleration = ["400 mm/s2", "400 mm/s2", "200 mm/s2"]
[[clamps]]
name = "{clamp}"
box = {{ min = ["-6 mm", "10 mm"], max = ["2 mm", "20 mm"], height = "6 mm" }}
[bits.cutter]
shape = "flat"
diameter = "4 mm"
flutes = 2
[[stages]]
name = "{stage}"
program = "part.nc"
bit = "cutter"
depth = "4 mm"
"""

#: Every way out of a text that a page knows: elements, attributes, scripts, comments.
HOSTILE = "</script><script>window.broken=1</script><img src=x onerror=window.broken=2>'\"<!--&lt;"


def small_job(
    folder: Path,
    program: str = SMALL,
    title: str = "small",
    clamp: str = "left",
    stage: str = "one",
) -> Path:
    """Write a small job with one error (deeper than its depth) and return its file."""
    (folder / "part.nc").write_text(program, encoding="utf-8")
    path = folder / "job.toml"
    quoted = {k: v.replace("\\", "\\\\").replace('"', '\\"')
              for k, v in {"title": title, "clamp": clamp, "stage": stage}.items()}  # fmt: skip
    path.write_text(JOB.format(**quoted), encoding="utf-8")
    return path


def hostile_job(folder: Path) -> Path:
    """Write a job whose texts try to leave the page's text."""
    program = SMALL.replace("G1 X30", f"({HOSTILE})\nG1 X30").replace(
        "G1 Y20", f"Q<b>{HOSTILE}\nG1 Y20"
    )
    return small_job(folder, program, title=HOSTILE, clamp=HOSTILE, stage=HOSTILE)


def outcome_of(path: Path, cell: float | None = None) -> Outcome:
    return dryrun.dry_run(dryrun.read_job(path), cell=cell)
