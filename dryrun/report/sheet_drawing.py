"""The drawing on a set-up sheet: the blank from above and from the front, as on a workshop drawing.

Line kinds follow ISO 128-2: outlines strong, dimensions fine, what lies in the material dashed,
axes through the zero dash and dot. Nothing depends on colour.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from dryrun.job.model import Job, Stock
from dryrun.outcome import StageOutcome
from dryrun.report.html_markup import Html, tag
from dryrun.report.html_path import CUT_POINT, stage_route
from dryrun.units import format_length

#: Width of the drawing in its own units; what it is scaled to is the page's business.
WIDE: Final = 720.0
MARGIN: Final = 62.0
#: Tallest the view from above may become.
TALL: Final = 300.0
#: More corners of the path than this are not drawn.
MOST_CORNERS: Final = 6000


@dataclass(frozen=True, slots=True)
class Frame:
    """Where job-frame places lie on the paper; `low` is the corner shown at (left, bottom)."""

    scale: float
    left: float
    bottom: float
    low: tuple[float, float]

    def x(self, value: float) -> float:
        """Return the place across the paper."""
        return self.left + (value - self.low[0]) * self.scale

    def y(self, value: float) -> float:
        """Return the place down the paper."""
        return self.bottom - (value - self.low[1]) * self.scale


def setup_drawing(job: Job, stage: StageOutcome) -> Html:
    """Return the SVG of a stage's set-up; empty without a declared blank."""
    stock = job.stock
    if stock is None:
        return Html()
    x0, y0, x1, y1 = _extent(job, stock)
    scale = min((WIDE - 2 * MARGIN) / (x1 - x0), TALL / (y1 - y0))
    left = (WIDE - (x1 - x0) * scale) / 2
    highest = max((c.height for c in job.clamps or ()), default=0.0)
    above = Frame(scale, left, 24 + (y1 - y0) * scale, (x0, y0))
    # Between the views stand the measure of the width, the clamps and the arrow of Z.
    front_bottom = above.bottom + 44 + max(highest * scale, 66.0) + stock.size[2] * scale
    front = Frame(scale, left, front_bottom, (x0, stock.bed))
    parts = [
        _patterns(),
        *_from_above(job, stock, stage, above),
        *_from_front(job, stock, stage, front),
    ]
    high = front_bottom + 40
    deepest = "" if stage.lowest is None else f", lowest point Z {_mm(stage.lowest, job)}"
    words = (
        f"Drawing of the set-up from above and from the front: blank {_size(job, stock)}, zero "
        f"{stock.zero}, {len(job.clamps or ())} clamps{deepest}"
    )
    return tag("svg", *parts, class_="drawing", viewBox=f"0 0 {WIDE:g} {high:.0f}", role="img",
               aria_label=words)  # fmt: skip


def _extent(job: Job, stock: Stock) -> tuple[float, float, float, float]:
    clamps = job.clamps or ()
    return (
        min([stock.low[0], *(c.low[0] for c in clamps)]),
        min([stock.low[1], *(c.low[1] for c in clamps)]),
        max([stock.high[0], *(c.high[0] for c in clamps)]),
        max([stock.high[1], *(c.high[1] for c in clamps)]),
    )


def _mm(value: float, job: Job) -> str:
    return format_length(value, job.units)


def _size(job: Job, stock: Stock) -> str:
    return " × ".join(_mm(v, job) for v in stock.size)


def _patterns() -> Html:
    return Html(
        '<defs><pattern id="clamp" width="7" height="7" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><path d="M0 0V7" class="fine"/></pattern>'
        '<marker id="arrow" viewBox="0 0 10 6" refX="9" refY="3" markerWidth="10" '
        'markerHeight="6" orient="auto-start-reverse"><path d="M0 0L10 3L0 6Z" class="head"/>'
        "</marker></defs>"
    )


def _line(points: list[tuple[float, float]], kind: str, **attributes: object) -> Html:
    d = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
    return tag("path", d=d, class_=kind, **attributes)


def _word(x: float, y: float, words: str, anchor: str = "middle", kind: str = "word") -> Html:
    return tag("text", words, x=f"{x:.1f}", y=f"{y:.1f}", text_anchor=anchor, class_=kind)


def _box(x0: float, y0: float, x1: float, y1: float, kind: str, **attributes: object) -> Html:
    return tag(
        "rect", x=f"{min(x0, x1):.1f}", y=f"{min(y0, y1):.1f}", width=f"{abs(x1 - x0):.1f}",
        height=f"{abs(y1 - y0):.1f}", class_=kind, **attributes,
    )  # fmt: skip


# ---------------------------------------------------------------- from above


def _from_above(job: Job, stock: Stock, stage: StageOutcome, f: Frame) -> list[Html]:
    left, right = f.x(stock.low[0]), f.x(stock.high[0])
    front, back = f.y(stock.low[1]), f.y(stock.high[1])
    parts = [_box(left, front, right, back, "paper")]
    parts += _path(stage, f)
    parts.append(_box(left, front, right, back, "outline"))
    for clamp in job.clamps or ():
        box = (f.x(clamp.low[0]), f.y(clamp.low[1]), f.x(clamp.high[0]), f.y(clamp.high[1]))
        parts.append(_box(*box, "clamp", fill="url(#clamp)"))
    parts += _zero(f.x(0.0), f.y(0.0), ("X", "Y"))
    parts += _first_move(job, stage, f)
    y = front + 26
    parts += [
        _line([(left, front + 4), (left, y + 5)], "fine"),
        _line([(right, front + 4), (right, y + 5)], "fine"),
        _arrows((left, y), (right, y)),
        _word((left + right) / 2, y - 4, f"{_mm(stock.size[0], job)}  (front)"),
    ]
    x = f.left - 22
    parts += [
        _line([(left - 4, front), (x - 5, front)], "fine"),
        _line([(left - 4, back), (x - 5, back)], "fine"),
        _arrows((x, front), (x, back)),
        tag("text", _mm(stock.size[1], job), class_="word", text_anchor="middle",
            transform=f"translate({x - 6:.1f} {(front + back) / 2:.1f}) rotate(-90)"),
    ]  # fmt: skip
    return parts


def _arrows(a: tuple[float, float], b: tuple[float, float]) -> Html:
    return _line([a, b], "fine", marker_start="url(#arrow)", marker_end="url(#arrow)")


def _path(stage: StageOutcome, f: Frame) -> list[Html]:
    """Return where the bit's axis goes at a feed, finely."""
    way = stage_route(stage.motion, stage.time.row_seconds)
    if not 1 < len(way.kind) <= MOST_CORNERS:
        return []
    pieces: list[str] = []
    pen_down = False
    for i in range(1, len(way.kind)):
        if way.kind[i] != CUT_POINT:
            pen_down = False
            continue
        if not pen_down:
            x, y = way.place[i - 1, :2]
            pieces.append(f"M{f.x(x):.1f} {f.y(y):.1f}")
        x, y = way.place[i, :2]
        pieces.append(f"L{f.x(x):.1f} {f.y(y):.1f}")
        pen_down = True
    return [tag("path", d="".join(pieces), class_="path")] if pieces else []


def _zero(x: float, y: float, names: tuple[str, str]) -> list[Html]:
    """Return the zero: a ring with two quarters filled, and its axes."""
    return [
        _line([(x, y), (x + 44, y)], "axis", marker_end="url(#arrow)"),
        _line([(x, y), (x, y - 44)], "axis", marker_end="url(#arrow)"),
        tag("circle", cx=f"{x:.1f}", cy=f"{y:.1f}", r="7", class_="ring"),
        tag("path", d=f"M{x:.1f} {y:.1f}h7a7 7 0 0 0 -7 -7zM{x:.1f} {y:.1f}h-7a7 7 0 0 0 7 7z",
            class_="head"),
        _word(x + 53, y + 4, names[0], kind="word strong"),
        _word(x, y - 50, names[1], kind="word strong"),
    ]  # fmt: skip


def first_place(stage: StageOutcome) -> tuple[float, float] | None:
    """Return the first place over the work that the program goes to; None when it never says."""
    ends = stage.motion.end[stage.motion.moving]
    starts = stage.motion.start[stage.motion.moving]
    known = np.isfinite(ends[:, :2]).all(axis=1)
    moved = known & ~(ends[:, :2] == starts[:, :2]).all(axis=1)
    index = np.flatnonzero(moved if moved.any() else known)
    return None if not len(index) else (float(ends[index[0], 0]), float(ends[index[0], 1]))


def _first_move(job: Job, stage: StageOutcome, f: Frame) -> list[Html]:
    place = first_place(stage)
    if place is None:
        return []
    x, y = f.x(place[0]), f.y(place[1])
    lean = -1.0 if x > WIDE / 2 else 1.0
    tip = (x + lean * 5, y - 7)
    tail = (x + lean * 46, y - 64)
    anchor = "end" if lean < 0 else "start"
    words = f"first move: X {_mm(place[0], job)}, Y {_mm(place[1], job)}"
    return [
        _line([tail, tip], "halo"),
        _line([tail, tip], "pointer", marker_end="url(#arrow)"),
        tag("circle", cx=f"{x:.1f}", cy=f"{y:.1f}", r="4", class_="ring"),
        _word(tail[0], tail[1] - 4, words, anchor, "word halo-word strong"),
    ]


# ---------------------------------------------------------------- from the front


def _from_front(job: Job, stock: Stock, stage: StageOutcome, f: Frame) -> list[Html]:
    left, right = f.x(stock.low[0]), f.x(stock.high[0])
    top, bed = f.y(stock.top), f.y(stock.bed)
    parts = [_box(left, bed, right, top, "outline")]
    for clamp in job.clamps or ():
        parts.append(_box(
            f.x(clamp.low[0]), top, f.x(clamp.high[0]), f.y(stock.top + clamp.height), "clamp",
            fill="url(#clamp)",
        ))  # fmt: skip
    parts.append(_line([(f.left - 20, bed), (WIDE - f.left + 20, bed)], "bed"))
    parts.append(_word(f.left - 20, bed + 14, "bed", "start"))
    if stage.lowest is not None and stage.lowest < stock.top:
        y = f.y(max(stage.lowest, stock.bed))
        parts.append(_line([(left, y), (right, y)], "hidden"))
        edge = WIDE - f.left + 8
        parts.append(_line([(right + 3, y), (edge, y)], "fine"))
        parts.append(_word(edge + 4, y + 4, f"Z {_mm(stage.lowest, job)}", "start"))
    parts += _zero(f.x(0.0), f.y(0.0), ("X", "Z"))
    x = left - 12
    parts += [
        _line([(left - 3, top), (x - 6, top)], "fine"),
        _arrows((x, bed), (x, top)),
        _word(x - 8, (top + bed) / 2 + 4, _mm(stock.size[2], job), "end"),
    ]
    return parts
