"""Jobs for restarts, and the slow obvious way to say what a restart must come to."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

import dryrun
from dryrun.job.model import Job, Stage
from dryrun.job.quick import quick_job
from dryrun.motion import Motion
from dryrun.restart.plan import Restart

ROOT = Path(__file__).parents[2]
#: Equality is exact whatever the cells; plain Python takes coarse ones.
CELL = 4.0 if os.environ.get("NUMBA_DISABLE_JIT") == "1" else 0.8


def job_of(text: str, bit: str = "flat:6mm", **stage: object) -> Job:
    """One program on a blank of 180 x 180 x 18 mm, zero in the middle of its top."""
    job = quick_job([text.encode()], bit=bit, stock="180x180x18mm", zero="centre-top")
    offsets = (("G55", (20.0, -30.5, 0.0)),)
    first = replace(job.stages[0], name="part", offsets=offsets, **stage)  # type: ignore[arg-type]
    return replace(job, stages=(first,))


def read(job: Job, stage: Stage, data: bytes) -> dryrun.Program:
    """Read a program as the job would, through the public way in."""
    machine = job.machine or dryrun.Machine()
    zero = machine.work_zero
    parked = None
    if machine.park is not None and zero is not None:
        parked = tuple(p - z for p, z in zip(machine.park, zero, strict=True))
    return dryrun.read_program(
        data,
        unit=machine.unit or job.units,
        folder=None if stage.program is None else stage.program.parent,
        work_zero=zero,
        offsets=dict(stage.offsets),
        bit_radius=stage.bit.radius if stage.bit else None,
        start=parked,  # type: ignore[arg-type]
    )


def heights(job: Job, cuts: list[tuple[Stage, Motion]], cell: float) -> NDArray[np.float32]:
    """Cut motions from the blank, one after another."""
    assert job.stock is not None
    surface = dryrun.Surface.blank(job.stock, cell)
    for stage, motion in cuts:
        assert stage.bit is not None
        shift = np.array(stage.zero_shift)
        moved = replace(
            motion,
            start=motion.start + shift,
            end=motion.end + shift,
            centre=motion.centre + shift,
        )
        dryrun.remove(surface, moved, stage.bit, threads=1)
    return surface.height


def check_surface(job: Job, number: int, restart: Restart, cell: float) -> None:
    """Stage up to the line, then the restart program: the whole stage's surface in every cell."""
    assert restart.program is not None
    stages = job.stages[:number]
    motions = [
        read(job, s, s.text if s.text is not None else s.program.read_bytes()).motion  # type: ignore[union-attr]
        for s in stages
    ]
    whole = list(zip(stages, motions, strict=True))
    stage, motion = whole[-1]
    stop = restart.stop
    before = motion.rows(slice(0, stop.row))
    if stop.passes == 1:  # all that is cut before the line, found without the restart's help
        own = np.flatnonzero((motion.line == stop.run_line) & (motion.source == stop.source))
        if len(own):
            assert stop.row == own[0]
    again = read(job, stage, restart.program).motion
    np.testing.assert_array_equal(
        heights(job, [*whole[:-1], (stage, before), (stage, again)], cell),
        heights(job, whole, cell),
    )
    np.testing.assert_array_equal(
        restart.surface.height, heights(job, [*whole[:-1], (stage, before)], cell)
    )
