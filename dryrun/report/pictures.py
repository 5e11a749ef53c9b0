"""The top view: predicted depths from above, with clamps, zero, findings and a scale."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from dryrun.finding import LEVELS, Finding
from dryrun.report import colours
from dryrun.report.words import counts, plural
from dryrun.units import format_length, format_time

if TYPE_CHECKING:
    from PIL import Image, ImageDraw

    from dryrun.outcome import Outcome
    from dryrun.removal.surface import Surface

#: Longer side of the drawn blank, pixels.
SIZE: Final = 1000
MARGIN: Final = 90
LEGEND: Final = 330

#: Depths shallower than this are drawn as untouched, mm.
_UNTOUCHED: Final = 0.002

#: Direction of the light: from the upper left, so that pockets read as pockets.
_LIGHT: Final = np.array([-0.5, 0.5, 0.7071])


def top_view(outcome: Outcome, facts: Sequence[str] | None = None) -> Image.Image:
    """Draw the predicted depths from above; needs a job with blank and bits.

    `facts` are lines below the scale, in place of time and findings.
    """
    from PIL import Image, ImageDraw

    surface, stock = outcome.surface, outcome.job.stock
    if surface is None or stock is None:
        raise ValueError("a top view needs a declared blank and a bit")
    heights, step = shrunk(surface, SIZE)
    scale = SIZE / max(stock.size[:2])
    wide, high = round(stock.size[0] * scale), round(stock.size[1] * scale)
    depth = stock.top - heights
    deepest = float(depth.max())
    relief = shaded(depth, surface.cell * step, stock.size[2], deepest)
    picture = Image.new("RGB", (MARGIN * 2 + wide + LEGEND, MARGIN * 2 + high), colours.PAPER)
    image = Image.fromarray(relief[::-1].astype(np.uint8)).resize(
        (wide, high), Image.Resampling.LANCZOS
    )
    picture.paste(image, (MARGIN, MARGIN))
    draw = ImageDraw.Draw(picture)
    sheet = _Sheet(draw, outcome, scale, (MARGIN, MARGIN + high))
    sheet.outline(wide, high)
    sheet.clamps()
    sheet.zero()
    sheet.findings()
    sheet.legend(MARGIN + wide + 70, high, deepest, facts)
    return picture


def shrunk(surface: Surface, most: int) -> tuple[NDArray[np.float64], int]:
    """Return the heights (rows from front to back) at a size fit for a picture, and the step."""
    rows, columns = surface.shape
    step = max(1, round(max(rows, columns) / most))
    return surface.reduced(step).astype(np.float64), step


def shaded(
    depth: NDArray[np.float64], cell: float, thickness: float, deepest: float
) -> NDArray[np.float64]:
    """Return sRGB values (ny, nx, 3) in 0..255 of depths lit from the upper left."""
    rows, columns = depth.shape
    base = colours.depth_colours(depth / max(deepest, 1e-9))
    base[depth < _UNTOUCHED] = colours.UNCUT
    slope_y, slope_x = (
        np.gradient(-depth, cell) if min(rows, columns) > 1 else (np.zeros_like(depth),) * 2
    )
    length = np.sqrt(slope_x**2 + slope_y**2 + 1.0)
    light = (-_LIGHT[0] * slope_x - _LIGHT[1] * slope_y + _LIGHT[2]) / length
    shade = 0.55 + 0.45 * np.clip(light / _LIGHT[2], 0.0, 1.35)
    lit: NDArray[np.float64] = np.clip(base * shade[..., None], 0.0, 255.0)
    lit[depth > thickness - 1e-6] = colours.THROUGH
    return lit


class _Sheet:
    """Draws on a picture whose blank's front-left corner lies at `corner` (pixels)."""

    def __init__(
        self, draw: ImageDraw.ImageDraw, outcome: Outcome, scale: float, corner: tuple[int, int]
    ) -> None:
        assert outcome.job.stock is not None
        self.draw = draw
        self.outcome = outcome
        self.stock = outcome.job.stock
        self.units = outcome.job.units
        self.scale = scale
        self.corner = corner
        self.flags: list[tuple[float, float]] = []

    def spot(self, x: float, y: float) -> tuple[float, float]:
        """Turn a place in the job frame into pixels."""
        left, bottom = self.corner
        return (
            left + (x - self.stock.low[0]) * self.scale,
            bottom - (y - self.stock.low[1]) * self.scale,
        )

    def text(
        self, place: tuple[float, float], words: str, size: int = 18, anchor: str = "la",
        fill: tuple[int, int, int] = colours.INK,
    ) -> None:  # fmt: skip
        self.draw.text(place, words, font=label_font(size), anchor=anchor, fill=fill)

    def outline(self, wide: int, high: int) -> None:
        """Draw the blank's edge and its size along two sides."""
        left, bottom = self.corner
        self.draw.rectangle(
            (left, bottom - high, left + wide, bottom), outline=colours.INK, width=2
        )
        size = self.stock.size
        self.text(
            (left + wide / 2, bottom + 14), format_length(size[0], self.units), 18, "ma",
            colours.FAINT,
        )  # fmt: skip
        self.text(
            (left - 12, bottom - high + 12), format_length(size[1], self.units), 18, "rm",
            colours.FAINT,
        )  # fmt: skip
        self.text((left, bottom + 36), "front (operator's side)", 15, "la", colours.FAINT)

    def clamps(self) -> None:
        """Draw clamps as hatched boxes."""
        left, bottom = self.corner
        size = self.stock.size[0] * self.scale, self.stock.size[1] * self.scale
        reach = MARGIN // 2  # what lies farther out is cut off, so that it covers no figure
        for clamp in self.outcome.job.clamps or ():
            x0, y1 = self.spot(*clamp.low)
            x1, y0 = self.spot(*clamp.high)
            x0, x1 = max(x0, left - reach), min(x1, left + size[0] + reach)
            y0, y1 = max(y0, bottom - size[1] - reach), min(y1, bottom + reach)
            if x0 >= x1 or y0 >= y1:
                continue
            self.draw.rectangle((x0, y0, x1, y1), outline=colours.CLAMP, width=3)
            for offset in range(0, int(x1 - x0 + y1 - y0), 14):
                a = (x0 + min(offset, x1 - x0), y0 + max(0.0, offset - (x1 - x0)))
                b = (x0 + max(0.0, offset - (y1 - y0)), y0 + min(offset, y1 - y0))
                self.draw.line((*a, *b), fill=colours.CLAMP, width=1)

    def zero(self) -> None:
        """Draw the work zero with its axes."""
        x, y = self.spot(0.0, 0.0)
        for dx, dy, name in ((46, 0, "X"), (0, -46, "Y")):
            self.draw.line((x, y, x + dx, y + dy), fill=colours.PAPER, width=6)
            self.draw.line((x, y, x + dx, y + dy), fill=colours.INK, width=2)
            self.text((x + dx * 1.25, y + dy * 1.25), name, 16, "mm")
        self.draw.ellipse(
            (x - 6, y - 6, x + 6, y + 6), fill=colours.PAPER, outline=colours.INK, width=2
        )

    def findings(self) -> None:
        """Draw a numbered flag at each finding that has a place; notes are left out."""
        for number, finding in enumerate(self.outcome.findings, start=1):
            if finding.at is None or finding.level == "note":
                continue
            x, y, _ = finding.at
            if x == x and y == y:
                self._flag(self.spot(x, y), number, finding)

    def _flag(self, place: tuple[float, float], number: int, finding: Finding) -> None:
        x, y = place
        ink = colours.LEVEL_INK[finding.level]
        # Flags of findings at one place stand above each other.
        while any(abs(x - fx) < 30 and abs(y - fy) < 26 for fx, fy in self.flags):
            y -= 27
        self.flags.append((x, y))
        self.draw.line((*place, x + 18, y - 26), fill=colours.PAPER, width=5)
        self.draw.line((*place, x + 18, y - 26), fill=ink, width=2)
        dot_x, dot_y = place
        dot = (dot_x - 4, dot_y - 4, dot_x + 4, dot_y + 4)
        self.draw.ellipse(dot, fill=ink, outline=colours.PAPER)
        words = str(number)
        half = 9 + 5 * len(words)
        box = (x + 18 - half, y - 48, x + 18 + half, y - 24)
        if finding.level == "error":
            self.draw.rectangle(box, fill=ink, outline=colours.PAPER, width=2)
        else:
            self.draw.rounded_rectangle(box, 12, fill=ink, outline=colours.PAPER, width=2)
        self.text((x + 18, y - 36), words, 17, "mm", colours.PAPER)

    def legend(
        self, x: float, high: int, deepest: float, facts: Sequence[str] | None = None
    ) -> None:
        """Draw the scale of depths, the signs and the figures."""
        y = float(MARGIN)
        self.text((x, y), shortened(self.outcome.job.title, 26), 22)
        y += 44
        self.text((x, y), "depth below the top", 17, fill=colours.FAINT)
        y += 30
        tall = min(420, high // 2)
        bar = colours.depth_colours(np.linspace(0, 1, tall)).astype(np.uint8)
        for i, colour in enumerate(bar):
            self.draw.line((x, y + i, x + 30, y + i), fill=tuple(int(c) for c in colour))
        self.draw.rectangle((x, y, x + 30, y + tall), outline=colours.INK)
        for part in _ticks(deepest, self.units):
            self.draw.line((x + 30, y + part * tall, x + 38, y + part * tall), fill=colours.INK)
            self.text(
                (x + 46, y + part * tall), format_length(part * deepest, self.units), 17, "lm"
            )
        y += tall + 24
        for colour, words in ((colours.UNCUT, "not cut"), (colours.THROUGH, "cut through")):
            self.draw.rectangle((x, y, x + 30, y + 18), fill=colour, outline=colours.INK)
            self.text((x + 46, y + 9), words, 17, "lm")
            y += 30
        y += 14
        for line in self._facts() if facts is None else facts:
            self.text((x, y), line, 17)
            y += 26

    def _facts(self) -> list[str]:
        outcome = self.outcome
        lines = [f"predicted time {format_time(outcome.seconds)}"]
        lines += [
            f"{plural(sum(f.level == level for f in outcome.findings), level)}" for level in LEVELS
        ]
        if outcome.job.clamps:
            lines.append("hatched: clamps")
        if any(f.level != "note" for f in outcome.findings):
            lines.append("flags: findings, as numbered")
        return lines


def describe(outcome: Outcome) -> str:
    """Say in words what the top view shows, for people who do not see it."""
    surface, stock = outcome.surface, outcome.job.stock
    assert surface is not None
    assert stock is not None
    units = outcome.job.units
    size = " by ".join(format_length(v, units) for v in stock.size[:2])
    deepest = format_length(stock.top - surface.lowest, units)
    return f"top view, {size}, deepest cut {deepest}; {counts(outcome.findings)}"


def shortened(words: str, most: int) -> str:
    """Cut words to a length, with a mark where they were cut."""
    return words if len(words) <= most else words[: most - 1] + "…"


def label_font(size: int) -> Any:
    """Return the font that comes with Pillow, so that every computer draws the same."""
    from PIL import ImageFont

    return ImageFont.load_default(size)


def _ticks(deepest: float, units: str) -> list[float]:
    """Return where round depths lie on the scale, 0 to 1, and the deepest one."""
    unit = 25.4 if units == "in" else 1.0
    rough = deepest / unit / 4
    if rough <= 0:
        return [0.0]
    power = 10.0 ** np.floor(np.log10(rough))
    step = min((m * power for m in (1, 2, 5, 10) if m * power >= rough), default=rough) * unit
    parts = [k * step / deepest for k in range(int(deepest / step) + 1)]
    if parts[-1] > 0.93:
        parts.pop()
    return [*parts, 1.0]
