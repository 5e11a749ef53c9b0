"""Cutting the stages of a job from its blank, one after another."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from dryrun.job.model import Bit, Job

if TYPE_CHECKING:
    from dryrun.outcome import StageOutcome
    from dryrun.removal.facts import CutFacts
    from dryrun.removal.pieces import Piece
    from dryrun.removal.surface import Surface

#: What `progress` is told before kernels are compiled; its total is 0, for nothing is counted.
COMPILING: Final = "compiling for this processor, once (about half a minute)"

#: Called with what is being done, how much of it is done, and of how much.
Progress = Callable[[str, int, int], None]


def blank_of(job: Job, cell: float | None, memory: float | None) -> tuple[Surface, str]:
    """Return the uncut blank of a job, and why its cells have the size they have."""
    from dryrun.removal.cells import check_cell, choose_cell
    from dryrun.removal.surface import Surface

    assert job.stock is not None
    why = "as asked"
    if cell is None:
        cell, why = choose_cell(job, memory)
    else:
        check_cell(job, cell, memory)
    return Surface.blank(job.stock, cell), why


@dataclass(frozen=True, slots=True)
class Cutter:
    """How stages are cut: the job, and what `dry_run` was asked for."""

    job: Job
    threads: int | None
    progress: Progress | None

    def cut(self, surface: Surface, stage: StageOutcome, first_row: int) -> CutFacts:
        """Cut one stage from a surface, in place."""
        from dryrun.removal.simulate import remove

        bit = stage.stage.bit
        assert bit is not None
        title = f"cutting stage {stage.number}: {stage.stage.name}"
        return remove(
            surface,
            stage.motion,
            bit,
            self.threads,
            progress=_titled(self.progress, title),
            machine=self.job.machine,
            clamps=self.job.clamps or (),
            stock=self.job.stock,
            first_row=first_row,
            compiling=None if self.progress is None else self._compiling,
        )

    def reach(self, stage: StageOutcome) -> CutFacts:
        """Return what is known of a stage whose bit cuts under material, without a field.

        Its axial depth is what it would take of an uncut blank: no less than what it takes.
        """
        from dryrun.removal.simulate import reach_facts

        bit, stock = stage.stage.bit, self.job.stock
        assert bit is not None
        assert stock is not None
        facts = reach_facts(
            stage.motion, bit, stock, machine=self.job.machine, clamps=self.job.clamps or ()
        )
        under = np.fmax(stock.top - np.nan_to_num(facts.lowest, nan=np.inf), 0.0)
        return replace(facts, axial=under, axial_at=facts.lowest_at)

    def _compiling(self) -> None:
        assert self.progress is not None
        self.progress(COMPILING, 0, 0)

    def swapped(self, surface: Surface, finer: StageOutcome, larger: StageOutcome) -> float:
        """Return what the finer bit would take off if the larger one went first, mm3."""
        other = surface.copy()
        self.cut(other, larger, 0)
        return math.fsum(self.cut(other, finer, len(larger.motion)).removed_mm3)


def cut_stages(
    cutter: Cutter, stages: list[StageOutcome], surface: Surface, keep: bool, first_row: int = 0
) -> Iterator[StageOutcome]:
    """Cut the stages one after another from the same blank."""
    from dryrun.checks.maps import height_map
    from dryrun.removal.pieces import loose_pieces
    from dryrun.removal.profile import Profile, UndercutBit
    from dryrun.removal.simulate import between_cells

    for stage, after in zip(stages, [*stages[1:], None], strict=True):
        bit = stage.stage.bit
        if bit is None:
            yield replace(stage, first_row=first_row, note="no bit is declared, so it cuts nothing")
            continue
        try:
            profile = Profile.from_bit(bit)
        except UndercutBit as error:
            reach = cutter.reach(stage)
            yield replace(stage, first_row=first_row, note=str(error), reach=reach)
            continue
        swapped = None
        if after is not None and _finer(stage, after):
            swapped = cutter.swapped(surface, stage, after)
        facts = cutter.cut(surface, stage, first_row)
        pieces: tuple[Piece, ...] = ()
        if surface.lowest <= surface.bed:
            loose = loose_pieces(surface, surface.bed, cutter.job.clamps or ())
            pieces = tuple(p for p in loose if p.freed_by >= first_row)
        yield replace(
            stage,
            facts=facts,
            removed_mm3=math.fsum(facts.removed_mm3),
            surface_after=surface.copy() if keep else None,
            first_row=first_row,
            between_cells=between_cells(profile, surface.cell),
            pieces=pieces,
            swapped_mm3=swapped,
            map_after=height_map(surface),
        )
        first_row += len(stage.motion)


def _finer(stage: StageOutcome, after: StageOutcome) -> bool:
    from dryrun.checks.entry import detail_width

    a, b = stage.stage.bit, after.stage.bit
    # A form bit makes a profile; it does not clear, however wide it is.
    if a is None or b is None or b.shape == "form" or _cuts_under(b):
        return False
    # Holes are drilled before they are counterbored or bored out: a drill is spared nothing.
    if a.shape == "drill":
        return False
    # Edges are bevelled and letters carved while the part is still held all round.
    if a.shape == "vee" and after.stage.through:
        return False
    # Nor does a ball after a flat bit: it finishes what that one has roughed. The flat bit goes
    # first even where it is no wider, or narrower (then more must be spared, see `stage_order`).
    if b.shape in ("ball", "taper-ball") and a.shape in ("flat", "bull"):
        return False
    if a.shape in ("ball", "taper-ball") and b.shape in ("flat", "bull"):
        return True
    return detail_width(a) < 0.8 * detail_width(b)


def _cuts_under(bit: Bit) -> bool:
    from dryrun.removal.profile import Profile, UndercutBit

    try:
        Profile.from_bit(bit)
    except UndercutBit:
        return True
    return False


def _titled(progress: Progress | None, title: str) -> Callable[[int, int], None] | None:
    if progress is None:
        return None
    return lambda done, total: progress(title, done, total)
