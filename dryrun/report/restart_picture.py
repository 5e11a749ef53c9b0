"""The blank as it stands where a stage stopped: the top view, with the stop and the way back in."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from dryrun.report import colours
from dryrun.report.pictures import MARGIN, SIZE, label_font, top_view
from dryrun.report.words import plural
from dryrun.units import format_time

if TYPE_CHECKING:
    from PIL import Image, ImageDraw

    from dryrun.gcode.watch import Standing
    from dryrun.restart.plan import Restart


def restart_picture(restart: Restart) -> Image.Image:
    """Draw the blank up to the stop, where the bit was, and where going on is clean."""
    from PIL import ImageDraw

    standing = replace(restart.outcome, surface=restart.surface, findings=restart.findings)
    picture = top_view(standing, facts=_facts(restart))
    draw = ImageDraw.Draw(picture)
    stop = _spot(restart, restart.stop.standing, picture.height)
    back = None if restart.place is None else _spot(restart, restart.place.standing, picture.height)
    if back is not None and restart.place is not None and restart.program is not None:
        _ring(draw, back, f"goes on, line {restart.place.line}")
    if stop is not None:
        _cross(draw, stop, f"stopped, line {restart.stop.line}")
    return picture


def _facts(restart: Restart) -> list[str]:
    stage, stop = restart.stage, restart.stop
    lines = [f"stage {stage.number}, up to line {stop.line}", f"{plural(stop.row, 'move')} done"]
    if restart.program is not None:
        lines.append(f"{format_time(restart.seconds_again)} run again")
    else:
        lines.append("no clean place to go on from")
    lines.append("cross: the bit at the stop")
    if restart.program is not None:
        lines.append("ring: where it goes on")
    if restart.outcome.job.clamps:
        lines.append("hatched: clamps")
    if any(f.level != "note" for f in restart.findings):
        lines.append("flags: findings on the restart")
    return lines


def _spot(restart: Restart, standing: Standing, height: int) -> tuple[float, float] | None:
    """Return pixels of where the bit stands; None not known, or off the picture."""
    stock = restart.outcome.job.stock
    assert stock is not None
    x, y = standing.state.x + restart.heights.shift[0], standing.state.y + restart.heights.shift[1]
    if math.isnan(x) or math.isnan(y):
        return None
    scale = SIZE / max(stock.size[:2])
    spot = (MARGIN + (x - stock.low[0]) * scale, height - MARGIN - (y - stock.low[1]) * scale)
    return spot if 0 <= spot[0] <= 2 * MARGIN + SIZE and 0 <= spot[1] <= height else None


def _cross(draw: ImageDraw.ImageDraw, spot: tuple[float, float], words: str) -> None:
    x, y = spot
    for ink, width in ((colours.PAPER, 9), (colours.LEVEL_INK["error"], 4)):
        draw.line((x - 13, y - 13, x + 13, y + 13), fill=ink, width=width)
        draw.line((x - 13, y + 13, x + 13, y - 13), fill=ink, width=width)
    _label(draw, (x + 20, y), words, colours.LEVEL_INK["error"])


def _ring(draw: ImageDraw.ImageDraw, spot: tuple[float, float], words: str) -> None:
    x, y = spot
    for ink, width, r in ((colours.PAPER, 9, 19), (colours.LEVEL_INK["note"], 4, 17)):
        draw.ellipse((x - r, y - r, x + r, y + r), outline=ink, width=width)
    # To the other side than the stop's words, which may be near.
    _label(draw, (x - 26, y), words, colours.LEVEL_INK["note"], "rm")


def _label(
    draw: Any,
    place: tuple[float, float],
    words: str,
    ink: tuple[int, int, int],
    anchor: str = "lm",
) -> None:
    draw.text(
        place, words, font=label_font(18), anchor=anchor, fill=ink,
        stroke_width=4, stroke_fill=colours.PAPER,
    )  # fmt: skip
