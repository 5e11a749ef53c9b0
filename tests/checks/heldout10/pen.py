"""A pen that writes G-code a word at a time, in the habit of whoever holds it.

Places are given in mm from the blank's front left corner of the top, as on a drawing; the pen
counts them from the job's zero and in its own unit. Nothing here knows dryrun.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from tests.checks.heldout5.tape import Line

Point = tuple[float, float]


@dataclass(frozen=True)
class Hand:
    """A habit of writing."""

    inch: bool = False
    places: int = 3
    step: int = 0  # of line numbers
    spaced: bool = True
    padded: bool = False  # G01, and all decimals
    repeat: bool = False  # the code on every line
    bare: bool = False  # .5 and 5.
    semicolon: bool = False
    radius: bool = False  # R for I and J


@dataclass
class Pen:
    hand: Hand
    zero: tuple[float, float, float]
    lines: list[Line] = field(default_factory=list)
    code: str = ""
    at: dict[str, float] = field(default_factory=dict)
    feed_word: str = ""
    count: int = 0

    def raw(self, text: str, *marks: str) -> None:
        if self.hand.step and text[:1] not in "%O:(;":
            self.count += self.hand.step
            text = f"N{self.count}" + (" " if self.hand.spaced else "") + text
        self.lines.append(Line(text, set(marks)))

    def say(self, text: str, *marks: str) -> None:
        self.raw(f"; {text}" if self.hand.semicolon else f"({text})", *marks)

    def words(self, *words: str, m: str = "") -> None:
        self.raw((" " if self.hand.spaced else "").join(words), *([m] if m else []))

    def number(self, value: float) -> str:
        shown = f"{value:.{self.hand.places}f}"
        if float(shown) == 0:
            shown = shown.lstrip("-")
        if self.hand.padded:
            return shown
        shown = shown.rstrip("0").rstrip(".") if "." in shown else shown
        if self.hand.bare:
            shown = shown if "." in shown else shown + "."
            if shown.lstrip("-").startswith("0.") and shown != "0.":
                shown = shown.replace("0.", ".", 1)
        return shown

    def length(self, mm: float) -> float:
        return round(mm / (25.4 if self.hand.inch else 1.0), self.hand.places)

    def go(
        self,
        code: int,
        x: float | None,
        y: float | None,
        z: float | None,
        f: float | None,
        extra: tuple[str, ...] = (),
        m: str = "",
    ) -> None:
        words = []
        name = f"G{code:02d}" if self.hand.padded else f"G{code}"
        if self.hand.repeat or name != self.code:
            words.append(name)
        moved = False
        for k, (axis, value) in enumerate(zip("XYZ", (x, y, z), strict=True)):
            if value is None:
                continue
            new = self.length(value - self.zero[k])
            if self.at.get(axis) == new and not (extra and axis != "Z"):
                continue
            self.at[axis] = new
            words.append(axis + self.number(new))
            moved = True
        if not moved:
            return
        self.code = name
        words += extra
        if f is not None:
            rate = f / (25.4 if self.hand.inch else 1.0)
            feed = f"F{rate:.1f}".rstrip("0").rstrip(".")
            if feed != self.feed_word:
                words.append(feed)
                self.feed_word = feed
        self.words(*words, m=m)

    def rapid(
        self,
        x: float | None = None,
        y: float | None = None,
        z: float | None = None,
        m: str = "",
    ) -> None:
        self.go(0, x, y, z, None, m=m)

    def cut(
        self,
        x: float | None = None,
        y: float | None = None,
        z: float | None = None,
        f: float | None = None,
        m: str = "",
    ) -> None:
        self.go(1, x, y, z, f, m=m)

    def place(self) -> Point:
        grain = 25.4 if self.hand.inch else 1.0
        return self.at["X"] * grain + self.zero[0], self.at["Y"] * grain + self.zero[1]

    def arc(
        self,
        code: int,
        x: float,
        y: float,
        centre: Point,
        z: float | None = None,
        f: float | None = None,
        m: str = "",
    ) -> None:
        sx, sy = self.place()
        if self.hand.radius:
            extra: tuple[str, ...] = (
                "R" + self.number(self.length(math.hypot(sx - centre[0], sy - centre[1]))),
            )
        else:
            i, j = self.length(centre[0] - sx), self.length(centre[1] - sy)
            extra = ("I" + self.number(i), "J" + self.number(j))
        self.go(code, x, y, z, f, extra, m)

    def ring(
        self, code: int, centre: Point, z: float | None = None, f: float | None = None, m: str = ""
    ) -> None:
        """A full turn from here."""
        x, y = self.place()
        self.arc(code, x, y, centre, z, f, m)

    def head(
        self, notes: list[str], offset: str = "G54", *, rpm: int, high: float, dwell: int = 4
    ) -> None:
        for k, note in enumerate(notes):
            self.say(note, f"note{k}")
        self.words("G20" if self.hand.inch else "G21", "G17", "G90", "G94", m="unit")
        self.words(offset, m="offset")
        self.rapid(z=high, m="high")
        self.words(f"S{rpm}", "M3", m="spin")
        self.words("G4", f"P{dwell}", m="dwell")

    def tail(self, high: float, end: str = "M30") -> None:
        self.rapid(z=high, m="last up")
        self.words("M5", m="off")
        self.words(end, m="end")
