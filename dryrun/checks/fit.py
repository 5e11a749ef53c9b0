"""Does the path itself fit the declared bit: likelier bits of the rack, walls left standing."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np

from dryrun.checks.context import TOUCH, StageContext
from dryrun.checks.maps import along
from dryrun.checks.stages import idle_limit, named_outright
from dryrun.finding import Finding
from dryrun.units import Units

#: Another bit must be so many times likelier than the declared one by all evidence, ...
ODDS: Final = 12.0

#: ... and so many times by what does not hang on habits of feeding and of drawing, ...
HARD_ODDS: Final = 15.0

#: ... and be this likely among all of the rack.
SURE: Final = 0.9

#: A tapered bit makes walls when this part of its path was cleared before.
CLEARED: Final = 0.8

#: Evidence that is a matter of habit.
HABITS: Final = frozenset({"unit", "chip", "edges", "own lengths", "pass depth", "lines"})

#: Bits whose groove or edge is wanted for its profile: to run along level lines is their work too.
PROFILED: Final = frozenset({"ball", "form"})

#: What the way of a bit that cuts under material shows of its shape: threads are cut by helices.
UNDER: Final = frozenset({"work", "helices"})

#: A bit is finer than another below this part of its diameter.
FINER: Final = 0.8

#: Sentences of evidence that a finding repeats.
_SENTENCES: Final = 2


def bit_suspect(context: StageContext) -> Iterator[Finding]:
    """Report a declared bit when another of the rack fits the path far better."""
    job, bit = context.job, context.bit
    # What wrote the path and the comment knew which bit it was for.
    if len(job.bits) < 2 or named_outright(context):
        return
    from dryrun.fitting.earlier import earlier_evidence
    from dryrun.fitting.ranking import TEMPERATURE, fit_bits

    stock = job.stock
    top = None if stock is None else stock.top
    before = [(c.motion, c.stage.bit) for c in context.earlier if c.stage.bit is not None]
    ranking = fit_bits(
        context.motion,
        job.bits,
        top=top,
        unit=_unit(context),
        material=None if stock is None else stock.material,
        extra=earlier_evidence(context.motion, job.bits, before, top) if before else (),
    )
    best, declared = ranking.candidates[0], ranking.of(bit.name)
    if declared is None or best.bit.name == bit.name or best.probability < SURE:
        return
    odds = math.exp(min(50.0, (best.log - declared.log) / TEMPERATURE))
    # A habit may speak against the other bit; it must not be what speaks for it.
    against = {e.kind: e.log for e in declared.evidence}
    shaped = bit.shape in PROFILED or _follows_walls(context)
    soft = HABITS | {"work"} if shaped else HABITS
    soft = soft | UNDER if context.reach is not None else soft
    soft = soft | {"earlier"} if _takes_rests(context) else soft
    hard = math.fsum(e.log - against.get(e.kind, 0.0) for e in best.evidence if e.kind not in soft)
    if odds < ODDS or hard / TEMPERATURE < math.log(HARD_ODDS):
        return
    reasons = "; ".join(best.sentences[:_SENTENCES])
    others = "; ".join(declared.sentences[:1])
    yield context.finding(
        "bit-suspect",
        f"the path looks made for {best.bit.name} rather than {bit.name}, "
        f"{_rounded(odds)} to 1: with {best.bit.name}, {reasons}; with {bit.name}, {others}",
        value=declared.probability,
        limit=1.0 / ODDS,
        unit="part",
    )


def _follows_walls(context: StageContext) -> bool:
    """Tell whether a tapered bit runs where earlier stages have cleared: it makes the walls there.

    Then level passes say nothing against its shape.
    """
    if context.bit.shape not in ("taper-ball", "taper-flat") or context.before is None:
        return False
    motion = context.motion
    level = motion.cutting & (np.abs(motion.end[:, 2] - motion.start[:, 2]) < 1e-6)
    points, _ = along(motion, np.flatnonzero(level), context.before.cell)
    if not len(points):
        return False
    cleared = context.before.at(points) <= points[:, 2] + TOUCH
    return float(cleared.mean()) >= CLEARED


def _takes_rests(context: StageContext) -> bool:
    """Tell whether a finer bit takes out of corners what an earlier, wider one has left there.

    It runs through cleared ground most of the way, and that says nothing against it.
    """
    flat = ("flat", "bull")
    return (
        context.bit.shape in flat
        and any(
            c.stage.bit is not None
            and c.stage.bit.shape in flat
            and context.bit.diameter < FINER * c.stage.bit.diameter
            for c in context.earlier
        )
        and context.removed_mm3 > idle_limit(context)
    )


def _unit(context: StageContext) -> Units:
    return "in" if context.program.state.modal.get("units") == "G20" else "mm"


def _rounded(odds: float) -> str:
    """Write odds with two digits, as people say them."""
    if odds >= 1000:
        return "more than 1000"
    return f"about {float(f'{odds:.2g}'):.0f}"


def uncut_ridge(context: StageContext) -> Iterator[Finding]:
    """Report level passes of a flat bit that leave walls standing between them."""
    from dryrun.fitting.ridges import ridges_of

    bit, stock = context.bit, context.job.stock
    if bit.shape not in ("flat", "bull"):
        return
    top = None if stock is None else stock.top
    found = ridges_of(context.motion, bit.diameter, top)
    if found is None:
        yield from _passes_lost(context, top)
        return
    wall = found.spacing - bit.diameter
    yield context.finding(
        "uncut-ridge",
        f"neighbouring passes {context.mm(found.depth)} deep run {context.mm(found.spacing)} "
        f"apart and {bit.name} cuts {context.mm(bit.diameter)}: walls {context.mm(wall)} thick "
        "stay standing between them",
        # Between two passes alone the wall comes with the second one.
        row=int(found.rows[-1 if len(found.rows) == 2 else 0]),
        at=found.at,
        value=found.spacing,
        limit=bit.diameter,
        unit="mm",
        count=len(found.rows),
    )


def _passes_lost(context: StageContext, top: float | None) -> Iterator[Finding]:
    """Report passes that are missing from an even floor."""
    from dryrun.checks.lost import lost_passes

    bit = context.bit
    lost = lost_passes(context.motion, bit.diameter, top)
    if lost is None:
        return
    why = "those between seem to be lost"
    if lost.beside:
        why = f"this one lies {context.mm(round(lost.beside, 3))} beside its place"
    yield context.finding(
        "uncut-ridge",
        f"passes run {context.mm(round(lost.step, 3))} apart, but from here to the next one it is "
        f"{context.mm(round(lost.gap, 3))}: {why}, and a wall "
        f"{context.mm(round(lost.gap - bit.diameter, 3))} thick stays standing",
        row=lost.row,
        at=lost.at,
        value=lost.gap,
        limit=bit.diameter,
        unit="mm",
        help="compare its place with those of the others" if lost.beside else "put the passes back",
    )
