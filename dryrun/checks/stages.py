"""Bits and stages: does the declared bit fit the program, and the stage its place in the job."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np

from dryrun.checks.context import TOUCH, StageContext
from dryrun.finding import Finding

#: A named bit and the declared one are the same when they differ by less than this.
SAME_DIAMETER: Final = (0.03, 0.06)  # part, mm
SAME_ANGLE: Final = math.radians(1.5)

#: A stage that removes less than this per mm of feed path below the top is idle, mm2.
IDLE_SECTION: Final = 0.002


def bit_mismatch(context: StageContext) -> Iterator[Finding]:
    """Compare bits named in the program with the declared bit."""
    bit = context.bit
    used = {int(t) for t in np.unique(context.motion.tool[context.motion.moving])}
    hints = [h for h in context.program.header.bits if h.tool is None or h.tool in used]
    if not hints or len({h.tool for h in hints if h.tool is not None}) > 1:
        return
    clashes: list[tuple[int, str]] = []
    for hint in hints:
        said = []
        if hint.diameter is not None and not _same_diameter(hint.diameter, bit.diameter):
            said.append(f"a diameter of {context.mm(hint.diameter)}")
        pointed = bit.angle if bit.shape in ("vee", "drill") else None
        if None not in (hint.angle, pointed) and abs(hint.angle - pointed) > SAME_ANGLE:
            said.append(f"an angle of {context.angle(hint.angle)}")
        if hint.shape is not None and not _same_shape(hint.shape, bit.shape):
            said.append(f"a {hint.shape} bit")
        if not said:
            return
        clashes.append((hint.line, " and ".join(said)))
    line, said_text = clashes[0]
    text = context.program.sources[0].line_text(line)
    made = context.finding(
        "bit-mismatch",
        f"the program speaks of {said_text}; {bit.name} is declared "
        f"({bit.shape}, {context.mm(bit.diameter)})",
        value=bit.diameter,
        unit="mm",
    )
    yield _at_line(made, line, text)


def _at_line(finding: Finding, line: int, text: str) -> Finding:
    from dataclasses import replace

    start = len(text) - len(text.lstrip()) + 1
    return replace(
        finding, line=line, column=start, end_column=len(text.rstrip()) + 1, excerpt=text
    )


def _same_diameter(a: float, b: float) -> bool:
    part, least = SAME_DIAMETER
    return abs(a - b) <= max(part * max(a, b), least)


def _same_shape(said: str, declared: str) -> bool:
    alike = ({"flat", "bull"}, {"taper-ball", "ball"}, {"taper-flat", "vee"})
    return said == declared or any({said, declared} <= pair for pair in alike)


def idle_stage(context: StageContext) -> Iterator[Finding]:
    """Report a stage that removes next to nothing."""
    motion = context.motion
    low = np.minimum(motion.start[:, 2], motion.end[:, 2])
    below = motion.cutting & (low < context.stock.top - TOUCH)
    path = float(np.nansum(motion.lengths()[below]))
    removed = context.removed_mm3
    if removed > max(1.0, IDLE_SECTION * path):
        return
    row = int(np.flatnonzero(motion.cutting)[0]) if motion.cutting.any() else None
    yield context.finding(
        "idle-stage",
        f"the stage removes {removed:.1f} mm3 along {context.mm(path)} of path below the top",
        row=row,
        value=removed,
        limit=max(1.0, IDLE_SECTION * path),
        unit="mm3",
    )


def stage_order(context: StageContext) -> Iterator[Finding]:
    """Report ground that a finer bit had to clear before a larger one came to it."""
    if not context.earlier:
        return
    before = context.earlier[-1]
    if before.facts is None or before.stage.bit is None or context.after is None:
        return
    finer, larger = before.bit, context.bit
    if finer.diameter >= 0.8 * larger.diameter or before.removed_mm3 <= 0:
        return
    cells, again = context.after.overlap(context.number)
    if cells == 0 or again / cells < 0.5:
        return
    yield context.finding(
        "stage-order",
        f"{larger.name} ({context.mm(larger.diameter)}) runs after "
        f"{finer.name} ({context.mm(finer.diameter)}) over the same ground: "
        f"{again / cells:.0%} of what it cuts was opened by the finer bit",
        value=again / cells,
        limit=0.5,
        unit="part",
    )


def thickness_differs(context: StageContext) -> Iterator[Finding]:
    """Compare measured with nominal thickness, once a job."""
    nominal = context.stock.nominal_thickness
    if nominal is None or context.number != 1:
        return
    limit = max(0.3, 0.03 * nominal)
    measured = context.stock.size[2]
    if abs(measured - nominal) > limit:
        yield context.finding(
            "thickness-differs",
            f"the blank is {context.mm(measured)} thick, {context.mm(nominal)} was expected",
            value=measured,
            limit=nominal,
            unit="mm",
        )
