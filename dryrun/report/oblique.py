"""The blank seen from the operator's side, drawn with NumPy alone.

For pages without WebGL and machines without OpenGL. The projection is parallel, so lengths along
one direction stay comparable; the view comes from the front left, from above. For each column of
pixels the map is walked from front to back, and a point shows when it rises above all points
before it (the "floating horizon", Williamson 1972, Communications of the ACM 15(2) 100-103).
"""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from dryrun.report import colours
from dryrun.report.html_path import RAPID_POINT, route
from dryrun.report.pictures import label_font, shaded, shortened, shrunk
from dryrun.units import format_length

if TYPE_CHECKING:
    from PIL import Image, ImageDraw

    from dryrun.outcome import Outcome

SIZE: Final = (1120, 720)
MARGIN: Final = 60
TURN: Final = math.radians(-28.0)
TILT: Final = math.radians(38.0)


@dataclass(frozen=True, slots=True)
class Camera:
    """A parallel view: turned about Z, then tilted; pixels per mm, and where zero comes to lie."""

    turn: float
    tilt: float
    scale: float
    origin: tuple[float, float]

    def spot(self, x: float, y: float, z: float) -> tuple[float, float]:
        """Turn a place into pixels, y downward."""
        u, v, _ = self.project(np.array([[x, y, z]], dtype=np.float64))[0]
        return float(u), float(v)

    def project(self, places: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return (n, 3): pixels to the right, pixels downward, distance away in mm."""
        x, y, z = places.T
        across = x * math.cos(self.turn) - y * math.sin(self.turn)
        away = x * math.sin(self.turn) + y * math.cos(self.turn)
        up = away * math.sin(self.tilt) + z * math.cos(self.tilt)
        u = self.origin[0] + across * self.scale
        v = self.origin[1] - up * self.scale
        return np.column_stack([u, v, away * math.cos(self.tilt) - z * math.sin(self.tilt)])


def fitted(outcome: Outcome, size: tuple[int, int]) -> Camera:
    """Return the camera that shows blank and clamps whole; it depends on the set-up alone."""
    stock = outcome.job.stock
    assert stock is not None
    corners = [
        (x, y, z)
        for x in (stock.low[0], stock.high[0])
        for y in (stock.low[1], stock.high[1])
        for z in (stock.bed, stock.top)
    ]
    for clamp in outcome.job.clamps or ():
        corners += [
            (x, y, stock.top + clamp.height)
            for x in (clamp.low[0], clamp.high[0])
            for y in (clamp.low[1], clamp.high[1])
        ]
    seen = Camera(TURN, TILT, 1.0, (0.0, 0.0)).project(np.array(corners, dtype=np.float64))
    low, high = seen.min(axis=0), seen.max(axis=0)
    scale = min(
        (size[0] - 2 * MARGIN) / (high[0] - low[0]), (size[1] - 2 * MARGIN) / (high[1] - low[1])
    )
    middle = (low + high) / 2 * scale
    return Camera(TURN, TILT, scale, (size[0] / 2 - middle[0], size[1] / 2 - middle[1]))


def oblique_view(outcome: Outcome, size: tuple[int, int] = SIZE, path: bool = False) -> Image.Image:
    """Draw the predicted blank; needs a job with blank and bits."""
    from PIL import Image, ImageDraw

    if outcome.surface is None or outcome.job.stock is None:
        raise ValueError("a view of the blank needs a declared blank and a bit")
    camera = fitted(outcome, size)
    picture = Image.fromarray(_relief(outcome, camera, size).astype(np.uint8))
    draw = ImageDraw.Draw(picture)
    _clamps(draw, outcome, camera)
    if path:
        _path(draw, outcome, camera)
    _axes(draw, outcome, camera, size)
    _flags(draw, outcome, camera)
    return picture


def png_of(picture: Image.Image) -> bytes:
    """Return a picture as a small PNG of at most 256 colours."""
    buffer = io.BytesIO()
    from PIL import Image

    few = picture.convert("P", palette=Image.Palette.ADAPTIVE, colors=256)
    few.save(buffer, format="PNG", optimize=True)
    return buffer.getvalue()


def _relief(outcome: Outcome, camera: Camera, size: tuple[int, int]) -> NDArray[np.float64]:
    """Return the picture of the blank alone, (height, width, 3)."""
    surface, stock = outcome.surface, outcome.job.stock
    assert surface is not None
    assert stock is not None
    heights, step = shrunk(surface, 1000)
    cell = surface.cell * step
    depth = stock.top - heights
    colour = shaded(depth, cell, stock.size[2], max(float(depth.max()), 1e-9))
    heights = np.maximum(heights, stock.bed)
    walked = _walk(outcome, camera, size[0])
    inside, iy, ix = _cells(walked, stock.low, cell, heights.shape)
    z = np.where(inside, heights[iy, ix], -np.inf)
    up = walked[2] * math.sin(camera.tilt) + z * math.cos(camera.tilt)
    # The front of the blank is a wall down to the bed: its foot comes before the first cell.
    horizon = np.maximum.accumulate(up, axis=0)
    picture = np.full((size[1], size[0], 3), colours.PAPER, dtype=np.float64)
    lines = (camera.origin[1] - np.arange(size[1])) / camera.scale
    for column in range(size[0]):
        if not inside[:, column].any():
            continue
        first = int(np.argmax(inside[:, column]))
        foot = walked[2][first, column] * math.sin(camera.tilt)
        foot += stock.bed * math.cos(camera.tilt)
        shows = (lines >= foot) & (lines <= horizon[-1, column])
        at = np.searchsorted(horizon[:, column], lines[shows])
        drawn = colour[iy[at, column], ix[at, column]]
        drawn[at == first] = _SIDE
        picture[shows, column] = drawn
    return picture


_SIDE: Final = np.array((150.0, 142.0, 130.0))


def _walk(outcome: Outcome, camera: Camera, width: int) -> NDArray[np.float64]:
    """Return x, y and distance away of points from front to back for each column of pixels."""
    stock = outcome.job.stock
    assert stock is not None
    across = (np.arange(width) + 0.5 - camera.origin[0]) / camera.scale
    half = math.hypot(*stock.size[:2]) / 2
    centre = [(stock.low[i] + stock.high[i]) / 2 for i in range(2)]
    middle = centre[0] * math.sin(camera.turn) + centre[1] * math.cos(camera.turn)
    steps = math.ceil(2 * half * camera.scale * 1.2)
    away = middle + np.linspace(-half, half, max(2, steps))
    a, b = np.broadcast_arrays(across[None, :], away[:, None])
    x = a * math.cos(camera.turn) + b * math.sin(camera.turn)
    y = -a * math.sin(camera.turn) + b * math.cos(camera.turn)
    return np.stack([x, y, b])


def _cells(
    walked: NDArray[np.float64], low: tuple[float, float, float], cell: float,
    shape: tuple[int, int],
) -> tuple[NDArray[np.bool_], NDArray[np.int64], NDArray[np.int64]]:  # fmt: skip
    ix = np.floor((walked[0] - low[0]) / cell).astype(np.int64)
    iy = np.floor((walked[1] - low[1]) / cell).astype(np.int64)
    inside = (ix >= 0) & (ix < shape[1]) & (iy >= 0) & (iy < shape[0])
    return inside, np.clip(iy, 0, shape[0] - 1), np.clip(ix, 0, shape[1] - 1)


def _clamps(draw: ImageDraw.ImageDraw, outcome: Outcome, camera: Camera) -> None:
    stock = outcome.job.stock
    assert stock is not None
    for clamp in outcome.job.clamps or ():
        ring = [
            (clamp.low[0], clamp.low[1]), (clamp.high[0], clamp.low[1]),
            (clamp.high[0], clamp.high[1]), (clamp.low[0], clamp.high[1]),
        ]  # fmt: skip
        for z in (stock.top, stock.top + clamp.height):
            spots = [camera.spot(x, y, z) for x, y in ring]
            draw.line([*spots, spots[0]], fill=colours.CLAMP, width=2)
        for x, y in ring:
            ends = [camera.spot(x, y, z) for z in (stock.top, stock.top + clamp.height)]
            draw.line(ends, fill=colours.CLAMP, width=2)


def _path(draw: ImageDraw.ImageDraw, outcome: Outcome, camera: Camera) -> None:
    way = route(outcome)
    spots = camera.project(way.place)[:, :2]
    for i in range(1, len(spots)):
        if way.kind[i] == RAPID_POINT or way.kind[i] == 0:
            fill = (190, 60, 60) if way.kind[i] == RAPID_POINT else (40, 90, 160)
            draw.line([tuple(spots[i - 1]), tuple(spots[i])], fill=fill, width=1)


def _axes(
    draw: ImageDraw.ImageDraw, outcome: Outcome, camera: Camera, size: tuple[int, int]
) -> None:
    """Draw the axes at the work zero, and a scale of length along X."""
    stock = outcome.job.stock
    assert stock is not None
    long = 0.14 * max(stock.size[:2])
    zero = camera.spot(0.0, 0.0, 0.0)
    for end, name in (((long, 0, 0), "X"), ((0, long, 0), "Y"), ((0, 0, long), "Z")):
        tip = camera.spot(*end)
        draw.line([zero, tip], fill=colours.PAPER, width=6)
        draw.line([zero, tip], fill=colours.INK, width=2)
        spot = (zero[0] + (tip[0] - zero[0]) * 1.14, zero[1] + (tip[1] - zero[1]) * 1.14)
        _word(draw, spot, name, "mm")
    length = nice_length(0.3 * max(stock.size[:2]))
    left, y = MARGIN // 2, size[1] - 22
    right = left + length * camera.scale
    draw.line([(left, y), (right, y)], fill=colours.INK, width=2)
    for x in (left, right):
        draw.line([(x, y - 5), (x, y + 5)], fill=colours.INK, width=2)
    words = f"{format_length(length, outcome.job.units)} along lines parallel to the picture"
    _word(draw, (right + 12, y), words, "lm")
    _word(draw, (left, 14), shortened(outcome.job.title, 60), "la", 20)
    _word(draw, (left, 42), "seen from the front left; heights to the same scale", "la")


def _flags(draw: ImageDraw.ImageDraw, outcome: Outcome, camera: Camera) -> None:
    stock = outcome.job.stock
    assert stock is not None
    for number, finding in enumerate(outcome.findings, start=1):
        if finding.at is None or finding.level == "note":
            continue
        x, y, z = finding.at
        if x == x and y == y:
            spot = camera.spot(x, y, z if z == z else stock.top)
            ink = colours.LEVEL_INK[finding.level]
            top = (spot[0], spot[1] - 40)
            draw.line([spot, top], fill=ink, width=2)
            half = 8 + 5 * len(str(number))
            box = (top[0] - half, top[1] - 22, top[0] + half, top[1])
            if finding.level == "error":
                draw.rectangle(box, fill=ink, outline=colours.PAPER, width=2)
            else:
                draw.rounded_rectangle(box, 11, fill=ink, outline=colours.PAPER, width=2)
            _word(draw, (top[0], top[1] - 11), str(number), "mm", 16, colours.PAPER)


def _word(
    draw: ImageDraw.ImageDraw, place: tuple[float, float], words: str, anchor: str,
    size: int = 15, fill: tuple[int, int, int] = colours.INK,
) -> None:  # fmt: skip
    draw.text(place, words, font=label_font(size), anchor=anchor, fill=fill)


def nice_length(most: float) -> float:
    """Return the largest 1, 2 or 5 times a power of ten that is no more than `most`."""
    power = 10.0 ** math.floor(math.log10(most))
    return max(k * power for k in (1.0, 2.0, 5.0) if k * power <= most * (1 + 1e-9))
