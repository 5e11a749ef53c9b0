"""The set-up sheet: what a person does at the machine, one page a stage, with boxes to tick."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np

from dryrun.job.bits import describe_bit
from dryrun.job.model import Job
from dryrun.outcome import Outcome, StageOutcome
from dryrun.report.clearance import least_stickout, room_to_clamps
from dryrun.report.html_markup import Html, filled, join, page_file, policy, tag
from dryrun.report.sheet_drawing import first_place, setup_drawing
from dryrun.report.words import CAUTIONS, SIGNS, plural
from dryrun.units import format_length, format_speed, format_time

#: Findings told on a sheet; the report has them all.
MOST_FINDINGS: Final = 5


def setup_sheet(outcome: Outcome) -> str:
    """Return the set-up sheet as the text of one HTML file without any script."""
    style = Html(page_file("common.css") + page_file("sheet.css"))
    pages = [_page(outcome, stage) for stage in outcome.stages]
    return filled(
        page_file("sheet.html"),
        policy=Html(policy(style)),
        title=f"{outcome.job.title}: set-up sheet",
        style=style,
        pages=join(pages),
    )


def _page(outcome: Outcome, stage: StageOutcome) -> Html:
    body = tag(
        "div",
        setup_drawing(outcome.job, stage),
        _facts(outcome, stage),
        tag(
            "div",
            tag("div", tag("h2", "Before the start"), _ticks(before(outcome, stage))),
            tag(
                "div", tag("h2", "What to watch"), tag("ul", *(tag("li", w) for w in
                watch(outcome, stage)), class_="watch"), tag("h2", "Afterwards"),
                _ticks(after(outcome, stage)),
            ),
            class_="columns",
        ),
        tag("div", *(tag("p", line) for line in CAUTIONS), class_="cautions", role="note"),
        class_="body",
    )  # fmt: skip
    inner = tag("div", tag("header", *_plate(outcome, stage), class_="plate"), body)
    return tag("section", inner, class_="page", aria_label=f"stage {stage.number}")


def _plate(outcome: Outcome, stage: StageOutcome) -> Iterator[Html]:
    job = outcome.job
    yield tag("div", tag("b", "set-up sheet for"), tag("h1", job.title), class_="title")
    number = f"stage {stage.number} of {len(outcome.stages)}"
    name = f"{stage.stage.name}: {stage.program.name}" if stage.program.name else stage.stage.name
    yield tag("div", tag("b", number), tag("strong", name), class_="stage")
    errors = sum(f.level == "error" for f in outcome.findings)
    if errors:
        words = f"{SIGNS['error']} Do not start: {plural(errors, 'error')} to clear up first "
        yield tag("div", words + "(dryrun report shows them)", class_="alarm")


def _ticks(lines: Iterator[str]) -> Html:
    box = tag("input", type="checkbox")
    items = (tag("li", tag("label", box, tag("span", line))) for line in lines)
    return tag("ul", *items, class_="todo")


# ---------------------------------------------------------------- figures


def _facts(outcome: Outcome, stage: StageOutcome) -> Html:
    cells = []
    for name, value, more in facts(outcome, stage):
        small = [tag("small", more)] if more else []
        cells.append(tag("div", tag("dt", name), tag("dd", value, *small)))
    return tag("dl", *cells, class_="facts")


def facts(outcome: Outcome, stage: StageOutcome) -> Iterator[tuple[str, str, str]]:
    """Yield name, value and a remark of each figure a person needs for a stage."""
    job, units = outcome.job, outcome.job.units
    bit = stage.stage.bit
    yield "bit", describe_bit(bit, units) if bit else "not declared", bit.name if bit else ""
    yield _stickout(job, stage)
    yield "spindle", *spindle(stage)
    yield "Z is zeroed on", z_face(job), ""
    if job.stock is not None:
        material = job.stock.material or "material not declared"
        size = " × ".join(format_length(v, units) for v in job.stock.size)
        yield "blank", size, material
    yield "time", format_time(stage.seconds), _deepest_when(stage)
    if stage.lowest is not None and job.stock is not None:
        deep = job.stock.top - stage.lowest
        yield "deepest cut", format_length(max(deep, 0.0), units), _meant(outcome, stage)
        left = stage.lowest - job.stock.bed
        said = format_length(left, units) if left > 0 else "none: it cuts through"
        yield "floor left", said, ""
    yield "error it bears", *bears(outcome, stage)


def z_face(job: Job) -> str:
    """Say which face Z is zeroed on."""
    if job.stock is None:
        return "not declared"
    if abs(job.stock.top) < 1e-6:
        return "the blank's top"
    if abs(job.stock.bed) < 1e-6:
        return "the bed under the blank"
    return f"{format_length(job.stock.top, job.units)} below the blank's top"


def _stickout(job: Job, stage: StageOutcome) -> tuple[str, str, str]:
    needed = least_stickout(job, stage)
    if needed is None:
        return "least stick-out", "not known", ""
    units = job.units
    over = f" over {needed.clamp}" if needed.clamp else " above the blank"
    words = f"leaves the nut {format_length(needed.clearance, units)}{over}"
    declared = stage.stage.bit.stickout if stage.stage.bit else None
    if declared is not None:
        words += f"; declared {format_length(declared, units)}"
        if declared < needed.least - 1e-6:
            words += f" {SIGNS['error']} too short"
    # Rounded up: a least measure that is rounded down would be wrong.
    step = 0.5 if units == "mm" else 25.4 / 16
    return "least stick-out", format_length(math.ceil(needed.least / step) * step, units), words


def spindle(stage: StageOutcome) -> tuple[str, str]:
    """Return speed and sense of turning while the bit cuts."""
    turning = stage.motion.spindle[stage.motion.cutting]
    known = turning[np.isfinite(turning) & (turning != 0.0)]
    if not len(known):
        return "not said by the program", "set it by hand"
    speeds = np.unique(np.abs(known))
    words = format_speed(float(speeds[0]))
    if len(speeds) > 1:
        words = f"{words} to {format_speed(float(speeds[-1]))}"
    if (known > 0).all():
        sense = "clockwise"
    elif (known < 0).all():
        sense = "counter-clockwise"
    else:
        sense = "both ways"
    return words, sense


def _meant(outcome: Outcome, stage: StageOutcome) -> str:
    depth = stage.stage.depth
    if depth is None:
        return "the depth meant is not declared"
    if stage.stage.through:
        return "meant to go through"
    return f"meant {format_length(depth, outcome.job.units)}"


def deepest_row(stage: StageOutcome) -> int | None:
    """Return the row that cuts deepest into the blank; None when nothing is cut."""
    facts = stage.facts
    if facts is None or not (facts.axial > 0).any():
        return None
    lowest = np.where(facts.axial > 0, facts.lowest, np.inf)
    return int(np.nanargmin(lowest))


def _deepest_when(stage: StageOutcome) -> str:
    row = deepest_row(stage)
    if row is None:
        return ""
    when = float(np.cumsum(stage.time.row_seconds)[row])
    return f"deepest after {format_time(when)}, line {int(stage.motion.line[row])}"


def bears(outcome: Outcome, stage: StageOutcome) -> tuple[str, str]:
    """Return how much error of the set-up a stage bears in Z and in X and Y."""
    job, units = outcome.job, outcome.job.units
    if job.stock is None or stage.lowest is None or stage.facts is None:
        return "not known", ""
    words = []
    if stage.stage.through:
        spare = (job.stock.bed - stage.lowest, job.stock.spoilboard, "the board under it")
        words.append(
            f"Z {format_length(max(spare[0], 0.0), units)} too high before it leaves a skin"
        )
    else:
        floor = stage.lowest - job.stock.bed
        words.append(f"Z {format_length(max(floor, 0.0), units)} too low before it comes through")
        depth = stage.stage.depth
        if depth is not None:
            spare_depth = depth - (job.stock.top - stage.lowest)
            words.append(
                f"{format_length(max(spare_depth, 0.0), units)} before it is deeper than meant"
            )
    room = room_to_clamps(job, stage)
    if room is None:
        return words[0], "; ".join(words[1:])
    if room.distance > 0:
        words.append(f"X, Y {format_length(room.distance, units)} before it meets {room.clamp}")
    else:
        words.append(f"{SIGNS['error']} it meets {room.clamp}")
    return words[0], "; ".join(words[1:])


# ---------------------------------------------------------------- things to do


def before(outcome: Outcome, stage: StageOutcome) -> Iterator[str]:
    """Yield what is done before a stage starts."""
    job, units = outcome.job, outcome.job.units
    bit = describe_bit(stage.stage.bit, units) if stage.stage.bit else "the bit of this stage"
    if stage.number == 1:
        yield "Machine homed since it was switched on"
        if job.stock is not None:
            thick = format_length(job.stock.size[2], units)
            yield f"Blank measured: {thick} thick, flat on the bed"
        if job.clamps:
            clamps = plural(len(job.clamps), "clamp")
            yield f"{clamps} placed as drawn, tight, nothing loose"
        else:
            yield "Blank held so that it cannot lift, turn or slide"
    else:
        yield "Blank and clamps untouched since the last stage"
    yield f"Bit in the collet: {bit}, clean, tight, sticking out as above"
    if stage.number == 1:
        place = job.stock.zero if job.stock else "the place the program expects"
        yield f"X and Y zeroed: {place}"
        yield f"Z zeroed on {z_face(job)}"
    else:
        yield f"X and Y stay as they are; Z probed again on {_probe_again(job)}"
        yield "Another day or after power-off: homed first, then X and Y checked at a known place"
    shift = stage.stage.zero_shift
    if any(shift):
        moved = ", ".join(
            f"{axis} {format_length(v, units)}"
            for axis, v in zip("XYZ", shift, strict=True) if v
        )  # fmt: skip
        yield f"Zero of this stage moved: {moved}"
    yield f"Program loaded: {stage.program.name or stage.stage.name}"
    yield "Way clear, extraction on, ears and eyes protected, stop within reach"


def _probe_again(job: Job) -> str:
    if job.stock is not None and abs(job.stock.top) < 1e-6:
        return "the blank's top where it is still uncut"
    return z_face(job)


def watch(outcome: Outcome, stage: StageOutcome) -> Iterator[Html]:
    """Yield what to look at while a stage runs."""
    units = outcome.job.units
    place = first_place(stage)
    if place is not None:
        x, y = (format_length(v, units) for v in place)
        yield join([f"First move goes to X {x}, Y {y}: hand on the stop until it has cut a little"])
    row = deepest_row(stage)
    if row is not None and stage.facts is not None:
        x, y = (format_length(float(v), units) for v in stage.facts.lowest_at[row])
        yield join([f"Deepest at X {x}, Y {y}"])
        tallest = int(np.argmax(stage.facts.axial))
        deep = format_length(float(stage.facts.axial[tallest]), units)
        yield join([f"Thickest pass {deep}, line {int(stage.motion.line[tallest])}"])
    if stage.stage.through:
        yield join(["It cuts through: tabs or clamps must hold every piece to the end"])
    for piece in stage.pieces:
        x, y = (format_length(v, units) for v in piece.at)
        yield join([f"A piece comes loose at X {x}, Y {y}"])
    if stage.note:
        yield join([stage.note])
    mine = [
        (n, f) for n, f in enumerate(outcome.findings, start=1)
        if f.stage == stage.number and f.level != "note"
    ]  # fmt: skip
    for n, f in mine[:MOST_FINDINGS]:
        where = f", line {f.line}" if f.line else ""
        yield join([tag("span", f"{SIGNS[f.level]} {n} {f.code}", class_="flag"),
                    f"{where}: {f.message}"])  # fmt: skip
    if len(mine) > MOST_FINDINGS:
        yield join([f"… and {plural(len(mine) - MOST_FINDINGS, 'more finding')}"])


def after(outcome: Outcome, stage: StageOutcome) -> Iterator[str]:
    """Yield what is done after a stage."""
    yield "Spindle stopped and bit clear of the work before reaching in"
    if stage.number < len(outcome.stages):
        yield "Blank left in its clamps for the next stage"
    elif stage.lowest is not None and outcome.job.stock is not None and stage.facts is not None:
        deep = outcome.job.stock.top - stage.lowest
        if 0 < deep < outcome.job.stock.size[2]:
            yield f"Depth measured, {format_length(deep, outcome.job.units)} expected: __________"
        else:
            yield "Parts measured before the blank is unclamped"
