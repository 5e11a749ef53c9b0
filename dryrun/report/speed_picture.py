"""A picture of speed against time, one strip a stage."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from dryrun.report import colours
from dryrun.report.words import visible
from dryrun.units import format_feed, format_time

if TYPE_CHECKING:
    from PIL import Image

    from dryrun.outcome import Outcome, StageOutcome

WIDTH: Final = 1200
STRIP: Final = 260
LEFT: Final = 150
RIGHT: Final = 40


def speed_picture(outcome: Outcome) -> Image.Image:
    """Draw the speed of each stage over its time."""
    from PIL import Image, ImageDraw

    picture = Image.new("RGB", (WIDTH, STRIP * len(outcome.stages) + 20), colours.PAPER)
    draw = ImageDraw.Draw(picture)
    for index, stage in enumerate(outcome.stages):
        _strip(draw, stage, outcome, STRIP * index + 20)
    return picture


def _strip(draw: Any, stage: StageOutcome, outcome: Outcome, top: int) -> None:
    from PIL import ImageFont

    wide, high = WIDTH - LEFT - RIGHT, STRIP - 90
    small = ImageFont.load_default(15)
    times, speeds = stage.time.speed_against_time(8 * wide)
    fastest = float(speeds.max()) if len(speeds) else 0.0
    draw.text(
        (LEFT, top),
        f"{stage.number}  {visible(stage.stage.name)}: {format_time(stage.seconds)}",
        font=ImageFont.load_default(19),
        fill=colours.INK,
    )
    base = top + 34 + high
    # Every pixel column shows the whole range of speeds that falls into it.
    columns = speeds.reshape(wide, 8)
    for x in range(wide):
        low, high_speed = columns[x].min(), columns[x].max()
        if fastest > 0:
            y0, y1 = base - high_speed / fastest * high, base - low / fastest * high
            draw.line((LEFT + x, y0, LEFT + x, max(y1, y0 + 1)), fill=(31, 95, 168))
    draw.line((LEFT, base, LEFT + wide, base), fill=colours.INK)
    for part in (0.0, 0.5, 1.0):
        y = base - part * high
        draw.line((LEFT - 6, y, LEFT, y), fill=colours.INK)
        text = format_feed(part * fastest * 60.0, outcome.job.units)
        draw.text((LEFT - 10, y), text, font=small, anchor="rm", fill=colours.FAINT)
    for part in np.linspace(0.0, 1.0, 5):
        x = LEFT + part * wide
        draw.line((x, base, x, base + 6), fill=colours.INK)
        text = format_time(part * float(times[-1]))
        draw.text((x, base + 10), text, font=small, anchor="ma", fill=colours.FAINT)
