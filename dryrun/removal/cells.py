"""How large the cells of the field should be: from the bits, the blank and a memory budget."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from dryrun.job.model import Bit, Job
from dryrun.removal.profile import BALL, NEVER_FINE, TAPERED, Profile, UndercutBit
from dryrun.units import format_length

#: Sizes to choose from, mm.
SIZES: Final = (0.05, 0.075, 0.1, 0.125, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.75, 1.0, 1.5, 2.0)

#: Bytes the field may take while nothing is asked for, if every part of the blank were cut.
BUDGET: Final = 2.0 * 2**30

#: Bytes a cell takes once its page is touched (height, rest of the column, row, block summaries).
CELL_BYTES: Final = 12.5

#: No finer than this while memory is asked for by default: more cells take time, not memory only.
MOST_CELLS: Final = 60_000_000

#: Part of the section of a ball's cut that may be missed at its edges.
MISSED: Final = 0.0015
#: Depths, from and to, of a cutter with upright flanks alone.
EDGELESS: Final = (0.0, math.inf)


class FieldTooLarge(ValueError):
    """A blank whose field does not fit the memory even with the coarsest cells."""


def choose_cell(job: Job, memory: float | None = None) -> tuple[float, str]:
    """Return the size of the cells in mm, and why, in words.

    Raises
    ------
    FieldTooLarge
        When even the coarsest cells do not fit.
    """
    assert job.stock is not None
    every = [stage.bit for stage in job.stages if stage.bit is not None]
    # What a bit leaves under material shows in no field.
    shown = [bit for bit in every if not _cuts_under(bit)]
    bits = shown or every
    fine, of_what = min(((_finest(bit), bit) for bit in bits), key=lambda pair: pair[0])
    wanted = max((size for size in SIZES if size <= fine + 1e-9), default=SIZES[0])
    for size in SIZES:
        if size < wanted or not _fits(job, size, memory):
            continue
        if not shown:
            return size, "no bit of the job shows in them"
        if size == wanted:
            return size, f"fine enough for {of_what.name}"
        want = format_length(wanted, job.units)
        return size, f"{want} would be right for {of_what.name}, but takes too much memory or time"
    raise FieldTooLarge(
        "the blank is too large for the memory allowed; give more with --memory, "
        "or larger cells with --cell"
    )


def check_cell(job: Job, cell: float, memory: float | None = None) -> None:
    """Refuse a size that would not fit before any memory is taken.

    Raises
    ------
    FieldTooLarge
    """
    if not _fits(job, cell, memory if memory is not None else 8 * BUDGET, limited=False):
        raise FieldTooLarge(
            f"cells of {cell:g} mm would need {_cells(job, cell) * CELL_BYTES / 2**30:.1f} GiB; "
            "use larger ones, or allow more with --memory"
        )


def _cuts_under(bit: Bit) -> bool:
    try:
        Profile.from_bit(bit)
    except UndercutBit:
        return True
    return False


def _finest(bit: Bit) -> float:
    """Return the largest cell that still shows what a bit does, mm."""
    if bit.shape == "vee":
        return 0.1
    if bit.shape in ("taper-ball", "taper-flat"):
        tip = bit.tip_radius * 2 if bit.tip_radius else bit.tip_diameter or 0.0
        return min(0.1, max(0.05, tip / 6))
    return min(0.2, bit.diameter / 30)


def _cells(job: Job, cell: float) -> int:
    assert job.stock is not None
    return math.ceil(job.stock.size[0] / cell) * math.ceil(job.stock.size[1] / cell)


def _fits(job: Job, cell: float, memory: float | None, limited: bool = True) -> bool:
    cells = _cells(job, cell)
    if limited and memory is None and cells > MOST_CELLS:
        return False
    return cells * CELL_BYTES <= (BUDGET if memory is None else memory)


def fine_between(profile: Profile, cell: float) -> tuple[float, float]:
    """Return from and to which depth centres of cells show the edges of a cut well enough, mm.

    Relief is finished with balls in very many moves, at whose edges little is lost: along the lines
    of the field `slope` cell^2 / 8 of the section at each. Other sloping flanks are looked at
    wherever they leave the top; an upright one never needs it, as walls count by area anyway.
    """
    if profile.family == TAPERED and profile.ring >= profile.radius:
        return EDGELESS
    if profile.family != BALL:
        return NEVER_FINE
    angle = np.linspace(0.0, 0.5 * math.pi, 2049)[1:-1]
    section = profile.radius**2 * (angle - np.sin(angle) * np.cos(angle))
    fine = np.flatnonzero(0.25 * np.tan(angle) * cell**2 < MISSED * section)
    if len(fine) == 0:
        return NEVER_FINE
    depths = profile.radius * (1.0 - np.cos(angle[fine[[0, -1]]]))
    return float(depths[0]), float(depths[1])
