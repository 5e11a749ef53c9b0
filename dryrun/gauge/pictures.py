"""Pictures of where to measure, of what is left over, and of deviations between surfaces."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

if TYPE_CHECKING:
    from dryrun.gauge.diagnosis import Diagnosis
    from dryrun.gauge.plan import Plan

Colour = tuple[int, int, int]

PAPER: Final[Colour] = (255, 255, 255)
INK: Final[Colour] = (30, 30, 30)
UNCUT: Final[Colour] = (0xBD, 0xB8, 0xB0)
#: Lightness falls steadily with depth, so that a grey print still reads; no red against green.
DEEP: Final[tuple[Colour, ...]] = ((226, 222, 208), (120, 148, 170), (38, 66, 104), (12, 20, 44))
LESS: Final[Colour] = (31, 95, 168)
MORE: Final[Colour] = (178, 84, 10)
LEVEL: Final[Colour] = (242, 242, 240)

_WIDE: Final = 900
_RIM: Final = 46


def _font(size: int) -> Any:
    return ImageFont.load_default(size)


def _ramp(share: NDArray[np.float64], stops: tuple[Colour, ...]) -> NDArray[np.uint8]:
    at = np.linspace(0, 1, len(stops))
    channels = [np.interp(share, at, [s[k] for s in stops]) for k in range(3)]
    return np.stack(channels, axis=-1).round().astype(np.uint8)


class _Frame:
    """Maps the blank to the picture, X right and Y up."""

    def __init__(self, low: tuple[float, float], high: tuple[float, float], left: int = _RIM):
        self.low = low
        wide, tall = high[0] - low[0], high[1] - low[1]
        self.scale = _WIDE / max(wide, tall)
        self.left, self.top = left, _RIM
        self.size = (max(1, round(wide * self.scale)), max(1, round(tall * self.scale)))

    def at(self, x: float, y: float) -> tuple[float, float]:
        return (
            self.left + (x - self.low[0]) * self.scale,
            self.top + self.size[1] - (y - self.low[1]) * self.scale,
        )


def _sampled(height: NDArray, frame: _Frame) -> NDArray:
    """Pick the cell under each pixel, top row farthest away."""
    ny, nx = height.shape
    i = ((np.arange(frame.size[0]) + 0.5) * nx / frame.size[0]).astype(int)
    j = ((np.arange(frame.size[1]) + 0.5) * ny / frame.size[1]).astype(int)[::-1]
    return height[np.ix_(j, i)]


_MARKS: Final = {"depth": "circle", "width": "square", "thickness": "triangle"}


def _mark(draw: ImageDraw.ImageDraw, x: float, y: float, kind: str, r: float, fill: Colour) -> None:
    shape = _MARKS.get(kind, "circle")
    if shape == "circle":
        draw.ellipse((x - r, y - r, x + r, y + r), fill=fill, outline=INK, width=2)
    elif shape == "square":
        draw.rectangle((x - r, y - r, x + r, y + r), fill=fill, outline=INK, width=2)
    else:
        corners = [(x, y - 1.2 * r), (x - 1.1 * r, y + 0.8 * r), (x + 1.1 * r, y + 0.8 * r)]
        draw.polygon(corners, fill=fill, outline=INK, width=2)


def draw_plan(plan: Plan) -> Image.Image:
    """Draw the cut blank from above with the numbered places."""
    stock, surface = plan.outcome.job.stock, plan.outcome.surface
    frame = _Frame(stock.low[:2], stock.high[:2])
    heights = _sampled(np.asarray(surface.height), frame).astype(float)
    depth = stock.top - heights
    pixels = _ramp(depth / max(float(depth.max()), 1e-6), DEEP)
    pixels[depth < 0.002] = UNCUT
    image = Image.new("RGB", (frame.size[0] + 2 * _RIM, frame.size[1] + 2 * _RIM), PAPER)
    image.paste(Image.fromarray(pixels), (frame.left, frame.top))
    draw = ImageDraw.Draw(image)
    box = (frame.left, frame.top, frame.left + frame.size[0], frame.top + frame.size[1])
    draw.rectangle(box, outline=INK, width=2)
    font = _font(18)
    for p in plan.points:
        x, y = frame.at(p.x, p.y)
        if p.kind == "width":
            turn = math.radians(p.direction)
            dx, dy = 24 * math.cos(turn), -24 * math.sin(turn)
            draw.line((x - dx, y - dy, x + dx, y + dy), fill=INK, width=3)
        _mark(draw, x, y, p.kind, 13, PAPER)
        draw.text((x, y), p.point, fill=INK, font=font, anchor="mm")
    _zero(draw, frame)
    legend = "circle: depth    square: width, along the line    triangle: thickness"
    draw.text((_RIM, image.height - _RIM / 2), legend, fill=INK, font=_font(16), anchor="lm")
    draw.text((_RIM, _RIM / 2), f"{plan.title}: where to measure", fill=INK, font=font, anchor="lm")
    return image


def _zero(draw: ImageDraw.ImageDraw, frame: _Frame) -> None:
    """Mark the work zero with a cross and its axes."""
    x, y = frame.at(0.0, 0.0)
    draw.line((x - 10, y, x + 34, y), fill=MORE, width=3)
    draw.line((x, y + 10, x, y - 34), fill=MORE, width=3)
    draw.text((x + 38, y), "X", fill=MORE, font=_font(16), anchor="lm")
    draw.text((x, y - 38), "Y", fill=MORE, font=_font(16), anchor="mb")


def draw_residuals(diagnosis: Diagnosis, path: str | Path) -> None:
    """Draw differences before and after the likeliest cause is taken out, side by side."""
    points = diagnosis.points
    low = (min(p.x for p in points) - 10, min(p.y for p in points) - 10)
    high = (max(p.x for p in points) + 10, max(p.y for p in points) + 10)
    first = _Frame(low, high)
    second = _Frame(low, high, left=2 * _RIM + first.size[0])
    image = Image.new("RGB", (2 * first.size[0] + 3 * _RIM, first.size[1] + 2 * _RIM), PAPER)
    draw = ImageDraw.Draw(image)
    cause = diagnosis.causes[0].cause
    for frame, title, values in (
        (first, "measured minus predicted", [p.difference for p in points]),
        (second, f"what {cause} leaves" if cause != "none" else "the same; no cause needed",
         [p.residual for p in points]),
    ):  # fmt: skip
        box = (frame.left, frame.top, frame.left + frame.size[0], frame.top + frame.size[1])
        draw.rectangle(box, outline=INK, width=2)
        draw.text((frame.left, _RIM / 2), title, fill=INK, font=_font(18), anchor="lm")
        for p, value in zip(points, values, strict=True):
            x, y = frame.at(p.x, p.y)
            many = abs(value) / (2 * p.uncertainty)
            colour = LEVEL if many <= 1 else (MORE if value > 0 else LESS)
            _mark(draw, x, y, p.kind, 7 + 9 * min(many, 3.0) / 3, colour)
            note = f"{value:+.2f}" + ("  misread?" if p.misread > 0.5 else "")
            draw.text((x, y + 18), note, fill=INK, font=_font(14), anchor="mt")
    legend = "orange: larger than predicted    blue: smaller    pale: within its uncertainty (mm)"
    draw.text((_RIM, image.height - _RIM / 2), legend, fill=INK, font=_font(16), anchor="lm")
    image.save(path)


def draw_deviation(
    deviation: NDArray, low: tuple[float, float], high: tuple[float, float], band: float
) -> Image.Image:
    """Draw a signed deviation map; the tolerance band stays pale, cells without value white."""
    frame = _Frame(low, high)
    d = _sampled(deviation, frame)
    known = np.isfinite(d)
    most = max(float(np.abs(d[known]).max(initial=0.0)), 2 * band, 1e-6)
    share = np.clip((np.where(known, d, 0.0) / most + 1) / 2, 0, 1)
    pixels = _ramp(share, (LESS, LEVEL, MORE))
    pixels[np.abs(np.where(known, d, 0.0)) <= band] = LEVEL
    pixels[~known] = PAPER
    image = Image.new("RGB", (frame.size[0] + 2 * _RIM, frame.size[1] + 2 * _RIM), PAPER)
    image.paste(Image.fromarray(pixels), (frame.left, frame.top))
    draw = ImageDraw.Draw(image)
    box = (frame.left, frame.top, frame.left + frame.size[0], frame.top + frame.size[1])
    draw.rectangle(box, outline=INK, width=2)
    legend = (
        f"orange: higher than predicted, to {most:.2f} mm    blue: lower, to -{most:.2f} mm    "
        f"pale: within {band:.2f} mm"
    )
    draw.text((_RIM, image.height - _RIM / 2), legend, fill=INK, font=_font(16), anchor="lm")
    return image
