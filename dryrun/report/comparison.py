"""Two outcomes side by side: time, volume, what is left for the last bit, and the surfaces."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from dryrun.report import colours
from dryrun.report.words import counts, visible
from dryrun.units import format_length, format_time, format_volume

if TYPE_CHECKING:
    from PIL import Image

    from dryrun.outcome import Outcome

#: Differences below this are rounding, mm.
SAME = 0.005


@dataclass(frozen=True, slots=True)
class SurfaceDifference:
    """B minus A, mm: positive where B leaves more material.

    Attributes
    ----------
    height : (ny, nx) float32
    cell : mm
    more_mm3, less_mm3 : material that B leaves and A does not, and the other way round
    highest, deepest : largest difference either way, with its place (x, y)
    """

    height: NDArray[np.float32]
    cell: float
    more_mm3: float
    less_mm3: float
    highest: tuple[float, float, float]
    deepest: tuple[float, float, float]


def surface_difference(a: Outcome, b: Outcome) -> SurfaceDifference | None:
    """Compare the predicted surfaces; None when they are not of the same blank and cells."""
    one, two = a.surface, b.surface
    if one is None or two is None or one.shape != two.shape:
        return None
    if one.cell != two.cell or one.origin != two.origin or one.low != two.low:
        return None
    height = two.height - one.height
    ys, xs = np.unravel_index(int(height.argmax()), height.shape)
    yd, xd = np.unravel_index(int(height.argmin()), height.shape)
    area = one.cell**2

    def place(iy: Any, ix: Any) -> tuple[float, float, float]:
        x, y = one.origin[0] + ix * one.cell, one.origin[1] + iy * one.cell
        return (float(height[iy, ix]), float(x), float(y))

    return SurfaceDifference(
        height=height,
        cell=one.cell,
        more_mm3=float(height[height > SAME].sum(dtype=np.float64)) * area,
        less_mm3=-float(height[height < -SAME].sum(dtype=np.float64)) * area,
        highest=place(ys, xs),
        deepest=place(yd, xd),
    )


def comparison_blocks(a: Outcome, b: Outcome, names: tuple[str, str]) -> Iterator[RenderableType]:
    """Yield the comparison for people."""
    yield _totals(a, b, names)
    yield _stages(a, b, names)
    difference = surface_difference(a, b)
    units = a.job.units
    if difference is None:
        if a.surface is not None and b.surface is not None:
            yield Text("the blanks differ in size, zero or cells: the surfaces are not compared")
        return
    more, less = difference.highest, difference.deepest
    yield Text(
        f"surfaces: B leaves {format_volume(difference.more_mm3, units)} that A removes "
        f"(up to {format_length(max(0.0, more[0]), units)} at X {format_length(more[1], units)} "
        f"Y {format_length(more[2], units)}), and removes "
        f"{format_volume(difference.less_mm3, units)} that A leaves "
        f"(up to {format_length(max(0.0, -less[0]), units)} at X {format_length(less[1], units)} "
        f"Y {format_length(less[2], units)})"
    )


def _totals(a: Outcome, b: Outcome, names: tuple[str, str]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 3, 0, 0), header_style="bold")
    for title in ("", f"A  {visible(names[0])}", f"B  {visible(names[1])}", "B − A"):
        table.add_column(title, justify="left" if not title else "right")
    table.add_row(
        "predicted time",
        format_time(a.seconds),
        format_time(b.seconds),
        _signed(format_time, b.seconds - a.seconds),
    )
    units = a.job.units
    if a.surface is not None and b.surface is not None:

        def volume(v: float) -> str:
            return format_volume(v, units)

        table.add_row(
            "removed", volume(a.removed_mm3), volume(b.removed_mm3),
            _signed(volume, b.removed_mm3 - a.removed_mm3),
        )  # fmt: skip
        last = a.stages[-1].removed_mm3, b.stages[-1].removed_mm3
        table.add_row(
            "left to the last bit", volume(last[0]), volume(last[1]),
            _signed(volume, last[1] - last[0]),
        )  # fmt: skip
    table.add_row("findings", counts(a.findings), counts(b.findings), "")
    return table


def _stages(a: Outcome, b: Outcome, names: tuple[str, str]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 3, 0, 0), header_style="dim")
    for title in ("stage", "bit", "time", "removed"):
        table.add_column(title, justify="left" if title in ("stage", "bit") else "right")
    for letter, outcome in (("A", a), ("B", b)):
        for stage in outcome.stages:
            removed = "—" if stage.facts is None else format_volume(stage.removed_mm3, a.job.units)
            table.add_row(
                Text(f"{letter}{stage.number}  {visible(stage.stage.name)}"),
                Text(stage.stage.bit.name if stage.stage.bit else "not declared"),
                format_time(stage.seconds),
                removed,
            )
    return table


def _signed(show: Any, value: float) -> str:
    return f"{'+' if value >= 0 else '−'}{show(abs(value))}"


def comparison_json(a: Outcome, b: Outcome) -> dict[str, Any]:
    """Return the comparison as plain data; mm, mm3, s."""
    import dryrun

    difference = surface_difference(a, b)
    return {
        "schema": 1,
        "dryrun": dryrun.__version__,
        "jobs": [_side(a), _side(b)],
        "surface": None
        if difference is None
        else {
            "more_mm3": round(difference.more_mm3, 6),
            "less_mm3": round(difference.less_mm3, 6),
            "highest": [round(v, 6) for v in difference.highest],
            "deepest": [round(v, 6) for v in difference.deepest],
        },
    }


def _side(outcome: Outcome) -> dict[str, Any]:
    return {
        "job": outcome.job.title,
        "seconds": round(outcome.seconds, 6),
        "removed_mm3": None if outcome.surface is None else round(outcome.removed_mm3, 6),
        "worst": outcome.worst,
        "stages": [
            {
                "name": s.stage.name,
                "bit": s.stage.bit.name if s.stage.bit else None,
                "seconds": round(s.seconds, 6),
                "removed_mm3": None if s.facts is None else round(s.removed_mm3, 6),
            }
            for s in outcome.stages
        ],
    }


def difference_picture(difference: SurfaceDifference) -> Image.Image:
    """Draw where B is higher (brown) or deeper (blue) than A; a legend says how much."""
    from PIL import Image, ImageDraw, ImageFont

    step = max(1, max(difference.height.shape) // 1000)
    height = difference.height[::step, ::step].astype(np.float64)
    span = max(float(np.abs(difference.height).max()), SAME)
    shown = np.where(np.abs(height) < SAME, 0.0, height) / span
    image = Image.fromarray(colours.deviation_colours(shown)[::-1].astype(np.uint8))
    picture = Image.new("RGB", (image.width + 260, max(image.height, 260) + 40), colours.PAPER)
    picture.paste(image, (20, 20))
    draw = ImageDraw.Draw(picture)
    font = ImageFont.load_default(16)
    draw.rectangle((20, 20, 20 + image.width, 20 + image.height), outline=colours.INK)
    left = image.width + 50
    for i in range(200):
        colour = colours.deviation_colours(np.array(1.0 - i / 99.5))
        draw.line((left, 30 + i, left + 26, 30 + i), fill=tuple(int(c) for c in colour))
    for part, words in (
        (0, f"+{span:.3f} mm: B higher"),
        (100, "the same"),
        (199, f"-{span:.3f} mm: B deeper"),
    ):
        draw.text((left + 36, 30 + part), words, font=font, anchor="lm", fill=colours.INK)
    return picture
