"""Writes one program: places in mm from the blank's front-left top corner in, lines of text out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from tests.checks.heldout5.core import Shop
from tests.checks.heldout5.tape import Line

Place = tuple[float, float]


@dataclass(frozen=True)
class Hand:
    """How somebody writes.

    Attributes
    ----------
    inch : lengths and feeds in inches
    places : decimals; trim : no zeros behind them
    sticky : G1 only where it changes; every_axis : X and Y on every move across
    radius : arcs by R, whole turns as two halves
    relative : feed moves in G91, rapids in G90
    step : distance of line numbers; padded : G01; tight : no blanks; lower : small letters
    semicolon : comments behind ; and not in parentheses
    """

    inch: bool = False
    places: int = 3
    trim: bool = True
    sticky: bool = True
    every_axis: bool = False
    radius: bool = False
    relative: bool = False
    step: int = 0
    padded: bool = False
    tight: bool = False
    lower: bool = False
    semicolon: bool = False


@dataclass
class Scribe:
    """The page of one program. A line called "name" is marked "name.1", the next one "name.2"."""

    shop: Shop
    hand: Hand
    clear: float
    feed: float
    plunge: float
    near: float = 1.5
    lines: list[Line] = field(default_factory=list)
    origin: tuple[float, float, float] = (0.0, 0.0, 0.0)
    at: dict[str, float] = field(default_factory=dict)
    said: dict[str, str] = field(default_factory=lambda: {"mode": "G90"})
    counts: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.origin = self.shop.zero()

    # -- text ----------------------------------------------------------------------------------

    def text(self, text: str, mark: str) -> None:
        """A line as it stands; "units" and its like are marked by their name alone, too."""
        self.counts[mark] = self.counts.get(mark, 0) + 1
        marks = {f"{mark}.{self.counts[mark]}"}
        self.lines.append(Line(text, marks))

    def note(self, text: str) -> None:
        self.text(f"; {text}" if self.hand.semicolon else f"({text})", "note")

    def put(self, words: Sequence[str], mark: str) -> None:
        text = ("" if self.hand.tight else " ").join(words)
        if self.hand.step:
            numbers = 1 + sum(x.text[:1] in "Nn" for x in self.lines)
            text = f"N{self.hand.step * numbers}" + ("" if self.hand.tight else " ") + text
        self.text(text.lower() if self.hand.lower else text, mark)

    def shown(self, value: float, places: int | None = None) -> str:
        text = f"{value:.{self.hand.places if places is None else places}f}"
        if self.hand.trim and "." in text:
            text = text.rstrip("0").rstrip(".")
        return text.lstrip("-") if float(text) == 0 else text

    def length(self, value: float) -> str:
        return self.shown(value / self.grain)

    @property
    def grain(self) -> float:
        return 25.4 if self.hand.inch else 1.0

    def code(self, number: int) -> list[str]:
        shown = f"G{number:02d}" if self.hand.padded else f"G{number}"
        if self.hand.sticky and self.said.get("code") == shown:
            return []
        self.said["code"] = shown
        return [shown]

    def rate(self, feed: float) -> list[str]:
        shown = "F" + self.shown(feed / self.grain, 1)
        if self.said.get("feed") == shown:
            return []
        self.said["feed"] = shown
        return [shown]

    def way(self, mode: str) -> list[str]:
        if self.said["mode"] == mode:
            return []
        self.said["mode"] = mode
        return [mode]

    def written(self, axis: str, value: float) -> float:
        """A place as the program's number, rounded as it is written."""
        shifted = (value - self.origin["XYZ".index(axis)]) / self.grain
        return round(shifted, self.hand.places)

    def axes(self, x: float | None, y: float | None, z: float | None, keep: bool) -> list[str]:
        words = []
        for axis, value in zip("XYZ", (x, y, z), strict=True):
            if value is None:
                continue
            new = self.written(axis, value)
            same = self.at.get(axis) == new
            if same and not (keep and axis != "Z"):
                continue
            relative = self.said["mode"] == "G91"
            words.append(axis + self.shown(new - self.at[axis] if relative else new))
            self.at[axis] = new
        return words

    # -- moves ---------------------------------------------------------------------------------

    def go(
        self, mark: str, x: float | None = None, y: float | None = None, z: float | None = None
    ) -> None:
        way = self.way("G90")
        axes = self.axes(x, y, z, self.hand.every_axis)
        if axes:
            self.put([*way, *self.code(0), *axes], mark)

    def cut(
        self,
        mark: str,
        x: float | None = None,
        y: float | None = None,
        z: float | None = None,
        feed: float | None = None,
    ) -> None:
        way = self.way("G91" if self.hand.relative else "G90")
        axes = self.axes(x, y, z, self.hand.every_axis)
        if axes:
            self.put([*way, *self.code(1), *axes, *self.rate(feed or self.feed)], mark)

    def arc(
        self,
        mark: str,
        end: Place,
        centre: Place,
        ccw: bool,
        z: float | None = None,
        feed: float | None = None,
    ) -> None:
        start = (self.place("X"), self.place("Y"))
        whole = math.dist(start, end) < 0.01
        if self.hand.radius and whole:
            level = self.place("Z")
            half = (2 * centre[0] - start[0], 2 * centre[1] - start[1])
            middle = None if z is None else (level + z) / 2
            self.arc(mark, half, centre, ccw, middle, feed)
            self.arc(mark, start, centre, ccw, z, feed)
            return
        way = self.way("G91" if self.hand.relative else "G90")
        words = way + self.code(3 if ccw else 2)
        from_x, from_y = self.at["X"], self.at["Y"]
        words += self.axes(end[0], end[1], z, True)
        if self.hand.radius:
            words.append("R" + self.length(math.dist(start, centre)))
        else:
            words.append("I" + self.shown(self.exactly("X", centre[0]) - from_x))
            words.append("J" + self.shown(self.exactly("Y", centre[1]) - from_y))
        self.put(words + self.rate(feed or self.feed), mark)

    def place(self, axis: str) -> float:
        """Where the bit is, in mm from the blank's corner."""
        return self.at[axis] * self.grain + self.origin["XYZ".index(axis)]

    def exactly(self, axis: str, value: float) -> float:
        return (value - self.origin["XYZ".index(axis)]) / self.grain

    def over(self, mark: str, x: float, y: float) -> None:
        """At the clear height over a place, then down to where feeding begins."""
        self.go(mark + ".over", x, y)
        self.go(mark + ".near", z=self.near)

    def up(self, mark: str) -> None:
        self.go(mark + ".up", z=self.clear)

    # -- a canned cycle ------------------------------------------------------------------------

    def cycle(
        self, mark: str, code: int, holes: Sequence[Place], z: float, level: float, feed: float,
        back: int = 98, **words: float,
    ) -> None:  # fmt: skip
        for k, (x, y) in enumerate(holes):
            at = self.axes(x, y, None, True)
            if k == 0:
                head = [f"G{back}", f"G{code}"]
                more = ["Z" + self.shown(self.written("Z", z))]
                more.append("R" + self.shown(self.written("Z", level)))
                more += [w + (self.shown(v) if w == "P" else self.length(v)) for w, v in
                         words.items()]  # fmt: skip
                at = head + at + more + ["F" + self.shown(feed / self.grain, 1)]
            self.put(at, mark)
        self.put(["G80"], mark + ".off")
        self.said.pop("code", None)
        self.said.pop("feed", None)
        self.at["Z"] = self.written("Z", self.clear if back == 98 else level)

    # -- beginning and end ---------------------------------------------------------------------

    def head(self, notes: Sequence[str], rpm: int, dwell: float = 4.0, kind: str = "plain") -> None:
        """The lines before the first cut, in one of four manners."""
        unit = "G20" if self.hand.inch else "G21"
        if kind == "percent":
            self.text("%", "percent")
            self.text(f"O{len(self.shop.programs) + 1:04d}", "name")
        for text in notes:
            self.note(text)
        if kind == "split":
            for word in ("G90", "G17", "G40", "G80"):
                self.put([word], "modes")
            self.put([unit], "units")
        else:
            self.put(["G17", unit, "G90", "G94"], "units")
        self.put(["G54"], "offset")
        if kind == "tool":
            self.put([f"T{len(self.shop.programs) + 1}", "M6"], "tool")
        if kind == "late":
            self.go("lift", z=self.clear)
            self.put(["M3", f"S{rpm}"], "spindle")
            self.put(["G4", f"P{dwell:g}"], "dwell")
            return
        self.put([f"S{rpm}", "M3"], "spindle")
        self.put(["G4", f"P{dwell:g}"], "dwell")
        self.go("lift", z=self.clear)

    def tail(self, park: Place | None = None, last: str = "M30", kind: str = "plain") -> None:
        self.go("last", z=self.clear)
        if park:
            self.go("park", *park)
        self.put(["M5"], "stop")
        self.put([last], "end")
        if kind == "percent":
            self.text("%", "percent")

    def done(self, **declared: object) -> None:
        self.shop.add(self.lines, **declared)
