"""Writing programs as a person or a post-processor would: moves in mm, lines with marks.

All places are mm from the blank's front-left top corner (X right, Y away, Z up); the pen knows
where the work zero lies, and what habits (`Hand`) the text is written in.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from tests.checks.heldout5.tape import Line

Point = tuple[float, float]


@dataclass(frozen=True)
class Hand:
    """Habits of whoever wrote the text.

    inch: numbers in inches; full: code and both axes on every line, else only what changes; pad:
    G01 instead of G1; number: step of line numbers, 0 for none; radius: arcs below half a turn
    by R; semi: comments after a semicolon; percent: % lines around the text; tight: no blanks.
    """

    inch: bool = False
    full: bool = False
    pad: bool = False
    number: int = 0
    radius: bool = False
    semi: bool = False
    percent: bool = False
    tight: bool = False
    places: int = 3


@dataclass
class Pen:
    """The text so far, and where the bit stands in it."""

    zero: tuple[float, float, float]
    hand: Hand
    clear: float = 15.0
    near: float = 1.0
    lines: list[Line] = field(default_factory=list)
    at: list[float | None] = field(default_factory=lambda: [None, None, None])
    code: int | None = None
    feed: float | None = None
    count: int = 0

    def raw(self, text: str, *marks: str) -> None:
        """A line as it is; what is modal is not known afterwards."""
        self.code = None
        self._put(text, marks)

    def note(self, text: str, *marks: str) -> None:
        self._put(f"; {text}" if self.hand.semi else f"({text})", marks, numbered=False)

    def _put(self, text: str, marks: tuple[str, ...], numbered: bool = True) -> None:
        if self.hand.number and numbered and text != "%" and not text.startswith("O"):
            self.count += self.hand.number
            text = f"N{self.count} {text}"
        self.lines.append(Line(text, set(marks)))

    def forget(self) -> None:
        """The place is not known any more: after a call, say."""
        self.at, self.code = [None, None, None], None

    def _unit(self) -> float:
        return 25.4 if self.hand.inch else 1.0

    def round(self, value: float) -> float:
        """A length in the program's unit, as it is written."""
        digits = 4 if self.hand.inch else self.hand.places
        return round(value / self._unit(), digits) + 0.0

    def shown(self, value: float) -> str:
        text = f"{value:.4f}".rstrip("0").rstrip(".")
        return "0" if text == "-0" else text

    def _coordinates(self, *given: float | None) -> list[float | None]:
        return [
            None if v is None else self.round(v - z) for v, z in zip(given, self.zero, strict=True)
        ]

    def _write(self, code: int, words: list[str], f: float | None, marks: tuple[str, ...]) -> None:
        name = f"G{code:02d}" if self.hand.pad else f"G{code}"
        if code != self.code or self.hand.full:
            words = [name, *words]
        if f is not None and f != self.feed:
            words.append("F" + self.shown(round(f / self._unit(), 1)))
            self.feed = f
        self.code = code
        self._put(("" if self.hand.tight else " ").join(words), marks)

    def _axes(self, new: list[float | None], always: bool = False) -> list[str]:
        words = []
        for k, value in enumerate(new):
            if value is None:
                continue
            if value != self.at[k] or always or (self.hand.full and k < 2):
                words.append("XYZ"[k] + self.shown(value))
        return words

    def rapid(
        self, mark: str, x: float | None = None, y: float | None = None, z: float | None = None
    ) -> None:
        self._straight(0, mark, self._coordinates(x, y, z), None)

    def line(
        self,
        mark: str,
        x: float | None = None,
        y: float | None = None,
        z: float | None = None,
        f: float | None = None,
    ) -> None:
        self._straight(1, mark, self._coordinates(x, y, z), f)

    def _straight(self, code: int, mark: str, new: list[float | None], f: float | None) -> None:
        words = self._axes(new)
        if not words:
            return
        self.at = [old if n is None else n for n, old in zip(new, self.at, strict=True)]
        self._write(code, words, f, (mark,))

    def arc(
        self,
        mark: str,
        clockwise: bool,
        end: Point,
        centre: Point,
        z: float | None = None,
        f: float | None = None,
    ) -> None:
        """An arc from here; a full turn when it ends where it begins."""
        new = self._coordinates(end[0], end[1], z)
        sx, sy = self.at[0], self.at[1]
        assert sx is not None
        assert sy is not None
        cx = (centre[0] - self.zero[0]) / self._unit()
        cy = (centre[1] - self.zero[1]) / self._unit()
        digits = 4 if self.hand.inch else self.hand.places
        words = self._axes(new[:2], always=True)
        if new[2] is not None and new[2] != self.at[2]:
            words.append("Z" + self.shown(new[2]))
        first, last = math.atan2(sy - cy, sx - cx), math.atan2(new[1] - cy, new[0] - cx)
        sweep = (first - last if clockwise else last - first) % (2 * math.pi)
        if self.hand.radius and 0.05 < sweep < 0.95 * math.pi:
            words.append("R" + self.shown(round(math.hypot(sx - cx, sy - cy), digits)))
        else:
            words += [
                "I" + self.shown(round(cx - sx, digits)),
                "J" + self.shown(round(cy - sy, digits)),
            ]
        self.at = [new[0], new[1], self.at[2] if new[2] is None else new[2]]
        self._write(2 if clockwise else 3, words, f, (mark,))

    def head(
        self,
        title: str,
        bit: str,
        rpm: int,
        dwell: float = 6,
        high: float | None = None,
        offset: str = "G54",
        name: int | None = None,
    ) -> None:
        """The first lines: marks percent, title, bit, setup, offset, safe, spin, dwell."""
        if self.hand.percent:
            self.raw("%", "percent")
        if name is not None:
            self.raw(f"O{name}", "name")
        self.note(title, "title")
        self.note(bit, "bit")
        unit = "G20" if self.hand.inch else "G21"
        self.raw(f"{unit} G90 G17 G94 G40", "setup")
        self.raw(offset, "offset")
        self.rapid("safe", z=self.clear if high is None else high)
        self.raw(f"S{rpm} M{'03' if self.hand.pad else '3'}", "spin")
        self.raw(f"G{'04' if self.hand.pad else '4'} P{dwell:g}", "dwell")

    def tail(self, to: Point | None = None) -> None:
        """The last lines: marks last, off, home, end."""
        self.rapid("last", z=self.clear + 5)
        self.raw("M5", "off")
        if to is not None:
            self.rapid("home", *to)
        self.raw("M30", "end")
        if self.hand.percent:
            self.raw("%", "close")
