"""Feeds: what the cutting edge, the bit and the spindle have to bear."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import MOST_PLACES, TOUCH, StageContext, has_word, mark
from dryrun.checks.depth import usual_feed
from dryrun.finding import Finding, Level
from dryrun.job.materials import find_material
from dryrun.job.model import Bit
from dryrun.motion import ARC, Motion
from dryrun.removal.profile import Profile

#: Lines that are looked through for a word, up from where it counts and down from where it can be.
_NEARBY: Final = 2000

#: Places on an arc at which its heading is looked at; between them it turns by 6 degrees or less.
ARC_PLACES: Final = 65

#: The lost-zero test: a speed this far below the range's lower end, times ten inside it.
LOST_ZERO: Final = 10.0


def rate_over_machine(context: StageContext) -> Iterator[Finding]:
    """Compare the feed along each move with what the axes can do."""
    motion, rate = context.motion, np.array(context.machine.max_rate)
    step = np.abs(motion.end - motion.start)
    length = np.sqrt((step * step).sum(axis=1))
    straight = motion.cutting & (motion.kind != ARC) & (length > 1e-9)
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = np.min(rate * length[:, None] / step, axis=1)
    reach = np.where(straight, reach, np.inf)
    arcs = np.flatnonzero(motion.cutting & (motion.kind == ARC))
    reach[arcs] = _reach_on_arcs(motion, arcs, rate)
    for rows in context.places(motion.feed > reach * 1.001, motion.feed / reach):
        worst = rows[np.argmax(motion.feed[rows] / reach[rows])]
        yield context.finding(
            "rate-over-machine",
            f"F asks for {context.rate(float(motion.feed[worst]))}; "
            f"the machine can do {context.rate(float(reach[worst]))} in that direction",
            row=int(rows[0]),
            letters="F",
            value=float(motion.feed[worst]),
            limit=float(reach[worst]),
            unit="mm/min",
            count=len(rows),
        )


def _reach_on_arcs(
    motion: Motion, rows: NDArray[np.intp], rate: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the fastest feed at which no axis exceeds its rate anywhere on arcs, mm/min."""
    along = motion.axis[rows].astype(np.intp)
    u, v = (along + 1) % 3, (along + 2) % 3
    here = np.arange(len(rows))
    spoke = motion.start[rows] - motion.centre[rows]
    sweep = motion.sweep[rows]
    flat = np.hypot(spoke[here, u], spoke[here, v]) * np.abs(sweep)
    rise = np.abs((motion.end[rows] - motion.start[rows])[here, along])
    length = np.hypot(flat, rise)
    first = np.arctan2(spoke[here, v], spoke[here, u])
    least: NDArray[np.float64] = np.full(len(rows), np.inf)
    with np.errstate(divide="ignore", invalid="ignore"):
        for part in np.linspace(0.0, 1.0, ARC_PLACES):
            angle = first + part * sweep
            least = np.fmin(least, rate[u] * length / (flat * np.abs(np.sin(angle))))
            least = np.fmin(least, rate[v] * length / (flat * np.abs(np.cos(angle))))
        least = np.fmin(least, rate[along] * length / rise)
    return least


def spindle_out_of_range(context: StageContext) -> Iterator[Finding]:
    """Compare S with the ranges of spindle and bit."""
    motion, spindle = context.motion, context.machine.spindle
    speed = np.abs(motion.spindle)
    turning = motion.cutting & np.isfinite(speed) & (speed > 0)
    most = context.stage.bit.max_rpm if context.stage.bit else None
    cases: list[tuple[NDArray[np.bool_], float, Level, str]] = []
    if most is not None:
        cases.append((turning & (speed > most), most, "error", "the bit's maximum is"))
    if spindle.max is not None and not (most is not None and most < spindle.max):
        cases.append((turning & (speed > spindle.max), spindle.max, "warning", "its most is"))
    if spindle.min is not None:
        cases.append((turning & (speed < spindle.min), spindle.min, "warning", "its least is"))
    for mask, limit, level, said in cases:
        for rows in context.places(mask, np.where(mask, np.abs(speed - limit), 0.0)):
            value = float(speed[rows[0]])
            lost = value < limit <= value * LOST_ZERO <= _fastest(context)
            zero = f"; {value * LOST_ZERO:.0f} may have lost a zero" if lost else ""
            made = context.finding(
                "spindle-out-of-range",
                f"the spindle is told to turn at {value:.0f} rpm; {said} {limit:.0f} rpm{zero}",
                row=int(rows[0]),
                level=level,
                letters="S",
                value=value,
                limit=limit,
                unit="rpm",
                count=len(rows),
            )
            yield _where_said(context, made, int(rows[0]), "S", motion.spindle)


def _fastest(context: StageContext) -> float:
    """Return the highest speed that spindle and bit bear, rpm; infinite where neither says."""
    bit = context.stage.bit
    said = (context.machine.spindle.max, bit.max_rpm if bit else None)
    return min((speed for speed in said if speed is not None), default=np.inf)


def _where_said(
    context: StageContext,
    finding: Finding,
    row: int,
    letter: str,
    values: NDArray[np.float64],
) -> Finding:
    """Place a finding at the word that set a row's value, where its line is found.

    `values` has the value in force for each row, NaN where none is.
    """
    motion = context.motion
    other = np.flatnonzero((values[:row] != values[row]) & ~np.isnan(values[:row]))
    first = int(motion.line[other[-1]]) if len(other) else 1
    source = int(motion.source[row])
    if len(other) and int(motion.source[other[-1]]) != source:
        return finding
    here = int(motion.line[row])
    low = first + 1 if len(other) and first < here else first
    near = range(here, max(low - 1, here - _NEARBY), -1)
    far = range(low, min(low + _NEARBY, near[-1] if near else low))
    for line in (*near, *far):
        text = context.texts.line(line, source)
        if has_word(text, letter):
            column, end_column = mark(text, letter)
            return replace(finding, line=line, column=column, end_column=end_column, excerpt=text)
    return finding


def edge_speed(context: StageContext) -> NDArray[np.float64]:
    """Return the speed of the cutting edge where it is widest in material, m/s; 0 not cutting.

    v = pi d n by definition, d the diameter at the top of the material that a row takes.
    """
    motion, cut = context.motion, context.cut
    wide = 2.0 * np.minimum(Profile.from_bit(context.bit).radii_at(cut.axial), context.bit.radius)
    speed = np.pi * wide / 1000.0 * np.abs(motion.spindle) / 60.0
    return np.where(taking(context), np.nan_to_num(speed), 0.0)


def surface_speed(context: StageContext) -> Iterator[Finding]:
    """Compare the speed of the cutting edge with what is usual in the material."""
    material = find_material(context.stock.material or "")
    if material is None or material.surface_speed is None:
        return
    part = STEEL_SPEED if _of_steel(context.bit) else 1.0
    low, high = part * material.surface_speed.low, part * material.surface_speed.high
    speed = edge_speed(context)
    fast = speed > high
    slow = (speed > 0) & (speed < SLOW_EDGE * low) & (context.bit.shape in ("flat", "bull"))
    cases: tuple[tuple[NDArray[np.bool_], float, Level, str], ...] = (
        (fast, high, "warning", "up to"),
        (slow, low, "note", "from"),
    )
    for mask, limit, level, said in cases:
        if not mask.any():
            continue
        row = int(np.argmax(mask))
        worst = float(speed[mask].max() if level == "warning" else speed[mask].min())
        made = context.finding(
            "surface-speed",
            f"the cutting edge runs at {worst:.2g} m/s; {said} {limit:.2g} m/s is usual in "
            f"{material.name}" + (" for a bit of steel" if part < 1 else ""),
            row=row,
            level=level,
            letters="S",
            value=worst,
            limit=limit,
            unit="m/s",
            count=int(mask.sum()),
        )
        yield _where_said(context, made, row, "S", context.motion.spindle)


def _of_steel(bit: Bit) -> bool:
    said = (bit.material or "").lower()
    return "steel" in said or "hss" in said


def taking(context: StageContext) -> NDArray[np.bool_]:
    """Return the rows that cut material at a known feed and speed."""
    motion = context.motion
    speed = np.abs(motion.spindle)
    good: NDArray[np.bool_] = (
        motion.cutting
        & (context.cut.axial > TOUCH)
        & (motion.feed > 0)
        & np.isfinite(speed)
        & (speed > 0)
    )
    return good


# ---------------------------------------------------------------- chip, power, bending

#: A chip is told as thick from this many times the upper end of the usual range, ...
THICK: Final = 2.0

#: ... and as thin below this part of the lower end (ranges are wide, finishing is often thin).
THIN: Final = 0.25

#: A feed that has lost a zero is a tenth of the usual one, or a little more; ...
LOST_ZERO_SLACK: Final = 1.3

#: ... told of moves that go down by less than this part of their length, ...
LEVEL_PART: Final = 0.2

#: ... from this many diameters of path on: a slow lead-in is meant.
SLOW_PATH: Final = 3.0

#: Speed of a steel edge as a part of that of carbide (common practice, no source).
STEEL_SPEED: Final = 1 / 3

#: A slow edge is told below this part of the usual range's lower end.
SLOW_EDGE: Final = 0.5

#: Usual limit of bending at the tip, mm (no source; a tenth shows on a fitted part).
BEND_LIMIT: Final = 0.1

#: Fluted part of a bit as a part of its diameter (common practice, no source).
FLUTED: Final = 0.8

#: Young's modulus, N/mm2: carbide 550 to 650 GPa, steel 200 to 210 GPa (from memory).
YOUNG: Final = {"carbide": 600_000.0, "steel": 205_000.0}


def chip_load(context: StageContext) -> NDArray[np.float64]:
    """Return feed per cutting edge of each row that takes material, mm; NaN elsewhere.

    vf = n z fz (textbook definition).
    """
    flutes = context.bit.flutes
    assert flutes
    with np.errstate(divide="ignore", invalid="ignore"):
        load = context.motion.feed / (np.abs(context.motion.spindle) * flutes)
    return np.where(taking(context), load, np.nan)


def _usual_chip(context: StageContext) -> tuple[float, float, str] | None:
    """Return low and high end of the usual chip load, mm, and the material's name."""
    material = find_material(context.stock.material or "")
    if material is None or material.chip_load is None:
        return None
    usual = material.chip_load.at(context.bit.diameter)
    return usual.low, usual.high, material.name


def chip_thick(context: StageContext) -> Iterator[Finding]:
    """Report too much feed for each cutting edge."""
    usual = _usual_chip(context)
    if usual is None:
        return
    limit = THICK * usual[1]
    load = np.nan_to_num(chip_load(context), nan=0.0)
    for rows in context.places(load > limit * 1.001, load):
        worst = rows[np.argmax(load[rows])]
        lost = _lost_zero(context, int(worst))
        yield context.finding(
            "chip-thick",
            f"each cutting edge takes {context.mm(float(load[worst]))} of feed; up to "
            f"{context.mm(usual[1])} is usual in {usual[2]} for this bit{lost}",
            row=int(rows[0]),
            letters="FS",
            value=float(load[worst]),
            limit=limit,
            unit="mm",
            count=len(rows),
        )


def _lost_zero(context: StageContext, row: int) -> str:
    speed = abs(float(context.motion.spindle[row]))
    least = context.machine.spindle.min
    if speed < (least if least is not None else 5000.0):
        return f"; S {speed:.0f} may have lost a zero"
    return ""


def chip_thin(context: StageContext) -> Iterator[Finding]:
    """Report a bit that rubs instead of cutting: for most of the stage, or where a zero is lost."""
    load = chip_load(context)
    yield from _feed_lost_zero(context, load)
    usual = _usual_chip(context)
    if usual is None or context.bit.shape in ("vee", "drill"):
        return
    limit = THIN * usual[0]
    lengths = np.where(np.isfinite(load), np.nan_to_num(context.motion.lengths()), 0.0)
    # What is usual is said of cuts sideways, and a way down from above is mostly in air.
    step = context.motion.end - context.motion.start
    lengths[np.hypot(step[:, 0], step[:, 1]) < TOUCH] = 0.0
    thin = np.nan_to_num(load, nan=np.inf) < limit * 0.999
    if lengths[thin].sum() < 0.5 * lengths.sum() or lengths.sum() <= 0:
        return
    row = _first_of_most(context, thin, lengths)
    made = context.finding(
        "chip-thin",
        f"each cutting edge takes only {context.mm(float(load[row]))} of feed for most of the "
        f"stage; from {context.mm(usual[0])} on is usual in {usual[2]} for this bit",
        row=row,
        letters="FS",
        value=float(load[row]),
        limit=limit,
        unit="mm",
        count=int(thin.sum()),
    )
    yield _where_said(context, made, row, "F", _feeds(context))


def _first_of_most(
    context: StageContext, mask: NDArray[np.bool_], lengths: NDArray[np.float64]
) -> int:
    """Return the first of some rows at the feed that most of their path is cut at."""
    rows = np.flatnonzero(mask)
    feeds, inverse = np.unique(context.motion.feed[rows], return_inverse=True)
    totals = np.bincount(inverse, weights=lengths[rows], minlength=len(feeds))
    return int(rows[inverse == int(np.argmax(totals))][0])


def _feed_lost_zero(context: StageContext, load: NDArray[np.float64]) -> Iterator[Finding]:
    """Report a part of the stage that is cut sideways at a tenth of the stage's usual feed."""
    motion, usual = context.motion, usual_feed(context)
    if usual is None or context.bit.shape == "drill":
        return
    step = np.abs(motion.end - motion.start)
    level = step[:, 2] <= LEVEL_PART * np.nan_to_num(motion.lengths())
    slow = np.isfinite(load) & level & (motion.feed < usual / LOST_ZERO * LOST_ZERO_SLACK)
    path = np.where(slow, np.nan_to_num(motion.lengths()), 0.0)
    cutting = np.flatnonzero(motion.cutting)
    changes = np.flatnonzero(np.diff(motion.feed[cutting])) + 1
    runs = [rows[slow[rows]] for rows in np.split(cutting, changes)]
    long = [rows for rows in runs if path[rows].sum() >= SLOW_PATH * context.bit.diameter]
    for rows in long[:MOST_PLACES]:
        row = int(rows[0])
        made = context.finding(
            "chip-thin",
            f"each cutting edge takes only {context.mm(float(load[row]))} of feed: most of the "
            f"stage is cut at {context.rate(usual)}, this at "
            f"{context.rate(float(motion.feed[row]))}; F may have lost a zero",
            row=row,
            letters="FS",
            value=float(load[row]),
            limit=float(load[row]) * usual / float(motion.feed[row]),
            unit="mm",
            count=len(rows),
        )
        yield _where_said(context, made, row, "F", _feeds(context))


def _feeds(context: StageContext) -> NDArray[np.float64]:
    """Return the feed of each cutting row, mm/min; NaN for the others."""
    return np.where(context.motion.cutting, context.motion.feed, np.nan)


def cutting_power(context: StageContext) -> NDArray[np.float64] | None:
    """Return the cutting power of each row, W; None when the material's energy is not known.

    P = kc Q; Q is the row's removed volume over its cutting time at the programmed feed.
    """
    material = find_material(context.stock.material or "")
    if material is None or material.cutting_energy is None:
        return None
    energy = material.cutting_energy.middle
    length = context.motion.lengths()
    with np.errstate(divide="ignore", invalid="ignore"):
        seconds = length / context.motion.feed * 60.0
        power = energy * context.cut.removed_mm3 / seconds / 1000.0
    # A row shorter than the bit spreads what its first step took over too little time.
    whole = taking(context) & (length > context.bit.radius)
    return np.where(whole & np.isfinite(power), power, 0.0)


def power_over(context: StageContext) -> Iterator[Finding]:
    """Compare the cutting power with what the spindle has."""
    has = context.machine.spindle.power
    power = cutting_power(context)
    if has is None or power is None:
        return
    for rows in context.places(power > has, power):
        worst = rows[np.argmax(power[rows])]
        yield context.finding(
            "power-over",
            f"the cut takes about {power[worst]:.0f} W; the spindle has {has:.0f} W",
            row=int(rows[0]),
            letters="F",
            value=float(power[worst]),
            limit=has,
            unit="W",
            count=len(rows),
        )


def side_force(context: StageContext, power: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the mean side force, N: cutting power over the speed of the edge, P / (pi D n)."""
    speed = np.pi * context.bit.diameter / 1000.0 * np.abs(context.motion.spindle) / 60.0
    with np.errstate(divide="ignore", invalid="ignore"):
        force = power / speed
    return np.where(np.isfinite(force), force, 0.0)


def bending(context: StageContext, force: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the bending at the tip of a stepped cantilever under a side force at the tip, mm.

    F / (3 E) * (l_f^3 / I_f + (L^3 - l_f^3) / I_s) with I = pi d^4 / 64: flutes of length l_f at
    the free end, shank above, stick-out L (elementary beam theory).
    """
    bit = context.bit
    assert bit.stickout is not None
    long = bit.stickout
    fluted = min(bit.flute_length or long, long)
    shank = bit.shank or bit.diameter
    inertia_f = np.pi * (FLUTED * bit.diameter) ** 4 / 64
    inertia_s = np.pi * shank**4 / 64
    young = YOUNG["steel" if _of_steel(bit) else "carbide"]
    give = (fluted**3 / inertia_f + (long**3 - fluted**3) / inertia_s) / (3 * young)
    bend: NDArray[np.float64] = force * give
    return bend


def bit_bends(context: StageContext) -> Iterator[Finding]:
    """Compare the bending of the bit at its tip with what a fitted part can bear."""
    power = cutting_power(context)
    if power is None or context.bit.shape in ("vee", "drill", "form"):
        return
    bend = bending(context, side_force(context, power))
    for rows in context.places(bend > BEND_LIMIT, bend):
        worst = rows[np.argmax(bend[rows])]
        yield context.finding(
            "bit-bends",
            f"the bit bends about {context.mm(float(bend[worst]))} at its tip "
            f"(side force about {side_force(context, power)[worst]:.0f} N)",
            row=int(rows[0]),
            letters="F",
            value=float(bend[worst]),
            limit=BEND_LIMIT,
            unit="mm",
            count=len(rows),
        )
