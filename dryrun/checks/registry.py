"""The checks, written out by hand: which function makes which codes, and what it needs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from dryrun.checks import (
    around,
    between,
    collisions,
    depth,
    feeds,
    fit,
    flipped,
    odd,
    program,
    rapids,
    shift,
    stages,
    tabs,
    travel,
    turned,
    ways,
)
from dryrun.checks.context import StageContext
from dryrun.finding import Finding
from dryrun.job.materials import find_material

CheckFunction = Callable[[StageContext], Iterator[Finding]]


def _known(context: StageContext, figure: str) -> bool:
    """Tell whether the table has a figure of the declared material; True where none is declared."""
    said = context.job.stock.material if context.job.stock is not None else None
    material = find_material(said) if said is not None else None
    return said is None or (material is not None and getattr(material, figure) is not None)


#: What would enable the checks of the first moves, which begin where the bit stands before.
_WAY_IN: Final = "machine.park and machine.work_zero, for the way to the first cut"
#: And those that compare every move with every other.
_FEW: Final = f"a program of at most {ways.MOST_MOVES:,} moves"

#: What a check may need, as the key a person would write, and whether a stage has it.
NEEDS: Final[dict[str, Callable[[StageContext], bool]]] = {
    "stock": lambda c: c.job.stock is not None,
    "bit": lambda c: c.stage.bit is not None,
    "a bit that does not cut under material": lambda c: c.reach is None,
    "depth": lambda c: c.stage.depth is not None,
    "spoilboard": lambda c: c.job.stock is not None and c.job.stock.spoilboard is not None,
    "nominal_thickness": lambda c: (
        c.job.stock is not None and c.job.stock.nominal_thickness is not None
    ),
    "clamps": lambda c: c.job.clamps is not None,
    "flute_length": lambda c: c.stage.bit is not None and c.stage.bit.flute_length is not None,
    "shank": lambda c: c.stage.bit is not None and c.stage.bit.shank is not None,
    "stickout": lambda c: c.stage.bit is not None and c.stage.bit.stickout is not None,
    "centre_cutting or max_ramp_angle": lambda c: (
        c.stage.max_ramp_angle is not None
        or (
            c.stage.bit is not None
            and (c.stage.bit.centre_cutting is not None or depth.may_plunge(c))
        )
    ),
    "material": lambda c: c.job.stock is not None and c.job.stock.material is not None,
    "a material whose usual chip load is known": lambda c: _known(c, "chip_load"),
    "a material whose cutting energy is known": lambda c: _known(c, "cutting_energy"),
    "a material whose surface speed is known": lambda c: _known(c, "surface_speed"),
    "flutes": lambda c: c.stage.bit is not None and bool(c.stage.bit.flutes),
    "machine.spindle.power": lambda c: c.machine.spindle.power is not None,
    "machine.max_rate": lambda c: "max_rate" in c.machine.declared,
    "machine.travel": lambda c: c.machine.travel is not None,
    "machine.work_zero": lambda c: c.machine.work_zero is not None,
    _FEW: lambda c: len(c.motion) <= ways.MOST_MOVES,
    _WAY_IN: lambda c: not rapids.way_in_unknown(c),
    "machine.holder": lambda c: bool(c.machine.holder),
    "machine.dust_shoe": lambda c: c.machine.dust_shoe is not None,
    "machine.spindle.start_seconds": lambda c: c.machine.spindle.start_seconds > 0,
    "machine.spindle or max_rpm": lambda c: (
        c.machine.spindle.max is not None
        or c.machine.spindle.min is not None
        or (c.stage.bit is not None and c.stage.bit.max_rpm is not None)
    ),
}


@dataclass(frozen=True, slots=True)
class Check:
    """One check: the codes it can give, the function, and what must be declared for it.

    Without what `needs` names it does not run, without what `wants` names only in part.
    """

    codes: tuple[str, ...]
    function: CheckFunction
    needs: tuple[str, ...] = ()
    wants: tuple[str, ...] = ()

    def missing(self, context: StageContext) -> list[str]:
        """Return the needs this stage does not meet, in the order written."""
        return [need for need in self.needs if not NEEDS[need](context)]

    def wanting(self, context: StageContext) -> list[str]:
        """Return what a part of the check would need, in the order written."""
        return [want for want in self.wants if not NEEDS[want](context)]


#: Needs of checks on where the bit comes ...
_CUT: Final = ("stock", "bit")
#: ... and of those on what it does to the blank there.
_MAP: Final = (*_CUT, "a bit that does not cut under material")
#: Figures that the table does not have of every material.
_CHIP: Final = "a material whose usual chip load is known"
_ENERGY: Final = "a material whose cutting energy is known"
_SPEED: Final = "a material whose surface speed is known"

CHECKS: Final[tuple[Check, ...]] = (
    Check(("spindle-off",), program.spindle_off),
    Check(("spindle-backwards",), program.spindle_backwards),
    Check(("no-spin-up",), program.no_spin_up, ("machine.spindle.start_seconds",)),
    Check(("truncated",), program.ends_in_work, _CUT),
    Check(("units-suspect",), program.units_suspect),
    Check(("too-deep",), depth.too_deep, (*_CUT, "depth")),
    Check(("through-cut",), depth.through_cut, _CUT),
    Check(("spoilboard-deep",), depth.spoilboard_deep, _CUT),
    Check(("shallow",), depth.shallow, (*_MAP, "depth")),
    Check(("thin-floor",), depth.thin_floor, _MAP),
    Check(("deep-pass",), depth.deep_pass, _MAP),
    Check(("steep-entry",), depth.steep_entry, (*_CUT, "centre_cutting or max_ramp_angle")),
    Check(("fast-plunge",), depth.fast_plunge, _CUT),
    Check(("beyond-flute",), depth.beyond_flute, (*_MAP, "flute_length")),
    Check(("rapid-in-stock",), rapids.rapid_in_stock, _CUT),
    Check(("rapid-plunge",), rapids.rapid_plunge, _CUT),
    Check(("rapid-low",), rapids.rapid_low, _CUT, (_WAY_IN,)),
    Check(("retract-lost",), rapids.retract_lost, _MAP),
    Check(("clamp-hit",), collisions.clamp_hit, (*_CUT, "clamps")),
    Check(("shank-rub",), collisions.shank_rub, (*_MAP, "flute_length", "shank")),
    Check(("holder-hit",), collisions.holder_hit, (*_MAP, "stickout", "machine.holder")),
    Check(("body-low",), collisions.body_low, (*_MAP, "stickout", "machine.dust_shoe")),
    Check(("bed-hit",), collisions.bed_hit, (*_CUT, "spoilboard")),
    Check(("beyond-travel",), travel.beyond_travel, ("machine.travel", "machine.work_zero")),
    Check(("off-stock",), travel.off_stock, _CUT),
    Check(("zero-suspect",), travel.zero_suspect, _CUT),
    Check(("bit-mismatch",), stages.bit_mismatch, ("bit",)),
    Check(("bit-suspect",), fit.bit_suspect, ("bit",)),
    Check(("uncut-ridge",), fit.uncut_ridge, ("bit",)),
    Check(("circle-flipped",), flipped.circle_flipped),
    Check(("bad-arc",), turned.arcs_across),
    Check(("odd-pass",), odd.odd_pass, (_FEW,)),
    Check(("idle-stage",), stages.idle_stage, _MAP),
    Check(("stage-order",), stages.stage_order, _MAP),
    Check(("missing-stage",), between.missing_stage, _MAP),
    Check(("not-cleared",), between.not_cleared, _MAP),
    Check(("stage-shifted",), shift.stage_shifted, _MAP),
    Check(("off-centre",), around.off_centre, _MAP),
    Check(("loose-part",), stages.loose_part, _MAP),
    Check(("thin-tab",), tabs.weak_tabs, _MAP),
    Check(("thickness-differs",), stages.thickness_differs, ("stock", "nominal_thickness")),
    Check(("rate-over-machine",), feeds.rate_over_machine, ("machine.max_rate",)),
    Check(("spindle-out-of-range",), feeds.spindle_out_of_range, ("machine.spindle or max_rpm",)),
    Check(("surface-speed",), feeds.surface_speed, (*_MAP, "material", _SPEED)),
    Check(("chip-thick",), feeds.chip_thick, (*_MAP, "flutes", "material", _CHIP)),
    Check(("chip-thin",), feeds.chip_thin, (*_MAP, "flutes", "material")),
    Check(("power-over",), feeds.power_over, (*_MAP, "material", _ENERGY, "machine.spindle.power")),
    Check(("bit-bends",), feeds.bit_bends, (*_MAP, "material", _ENERGY, "stickout")),
)

#: Codes the reader makes (of `bad-arc` and `truncated` not all); they need nothing declared.
READER_CODES: Final = (
    "unreadable-line",
    "unknown-word",
    "not-accepted",
    "conflicting-words",
    "missing-word",
    "bad-arc",
    "bad-expression",
    "endless-program",
    "units-not-set",
    "no-feed",
    "ignored-word",
    "no-end",
    "truncated",
)
