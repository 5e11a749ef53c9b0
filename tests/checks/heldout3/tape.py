"""Writes programs the way different people and programs write them.

`Tape` keeps the place of the bit and turns moves into lines; `Style` is the handwriting. What a
workshop repeats (rounds of a pocket, a bore, a cut-out with tabs, a carved corner) stands in
`shapes.py`.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Style:
    """A handwriting of programs."""

    decimals: int = 3
    keep_zeros: bool = False  # 10.000 rather than 10
    point: bool = False  # "10." rather than "10"
    bare_point: bool = False  # ".5" rather than "0.5"
    gap: str = " "
    two_digits: bool = False  # G01 rather than G1
    numbers: int = 0  # step of line numbers, 0 none
    modal: bool = True  # leave out what is still in force
    lower: bool = False
    semicolons: bool = False
    end: str = "\n"


class Tape:
    """A program being written; lengths in the program's own unit, feeds in units a minute."""

    def __init__(self, style: Style, safe: float) -> None:
        self.style = style
        self.safe = safe
        self.lines: list[str] = []
        self.at: dict[str, float | None] = {"X": None, "Y": None, "Z": None}
        self.code = ""
        self.feed: float | None = None
        self.relative = False

    # -- lines -----------------------------------------------------------------------------

    def say(self, *lines: str) -> None:
        """Lines as they are, with a number where the style has them."""
        for line in lines:
            text = line.lower() if self.style.lower and not line.startswith("(") else line
            if self.style.numbers and line not in ("%", "") and not line.startswith(("O", "(")):
                count = sum(1 for seen in self.lines if seen.startswith("N")) + 1
                text = f"N{count * self.style.numbers}{self.style.gap}{text}"
            self.lines.append(text)

    def note(self, text: str) -> None:
        """A comment."""
        self.lines.append(f"; {text}" if self.style.semicolons else f"({text})")

    def number(self, value: float) -> str:
        text = f"{value:.{self.style.decimals}f}"
        if float(text) == 0:
            text = f"{0:.{self.style.decimals}f}"
        if not self.style.keep_zeros:
            text = text.rstrip("0")
            text = text if self.style.point else text.rstrip(".")
        if self.style.bare_point and "." in text and text.rstrip(".") not in ("0", "-0"):
            text = text.replace("-0.", "-.", 1) if text.startswith("-0.") else text
            text = text[1:] if text.startswith("0.") else text
        return text

    def rounded(self, value: float) -> float:
        return float(f"{value:.{self.style.decimals}f}")

    def forget(self) -> None:
        """Write everything in full on the next line (after a tool change or a call)."""
        self.code, self.feed = "", None
        self.at = {"X": None, "Y": None, "Z": None}

    # -- moves -----------------------------------------------------------------------------

    def move(self, code: str, feed: float | None = None, **words: float | None) -> None:
        """One move to absolute X, Y, Z; I, J, K, R as they are."""
        arc = code in ("G2", "G3")
        items = []
        for letter in "XYZ":
            value = words.get(letter)
            if value is None:
                continue
            value = self.rounded(value)
            here = self.at[letter]
            still = here is not None and abs(value - here) < 1e-9
            if still and ((self.style.modal and not arc) or letter == "Z" or self.relative):
                continue
            out = value - here if self.relative and here is not None else value
            items.append(letter + self.number(out))
            self.at[letter] = value
        if not items:
            return
        for letter in "IJKR":
            value = words.get(letter)
            if value is not None and (self.rounded(value) != 0 or not self.style.modal):
                items.append(letter + self.number(value))
        if feed is not None and (feed != self.feed or not self.style.modal):
            items.append("F" + self.number(feed))
            self.feed = feed
        if not (self.style.modal and code == self.code):
            items.insert(0, f"G0{code[1]}" if self.style.two_digits else code)
        self.code = code
        self.say(self.style.gap.join(items))

    def rapid(self, x: float | None = None, y: float | None = None, z: float | None = None) -> None:
        self.move("G0", X=x, Y=y, Z=z)

    def cut(
        self,
        x: float | None = None,
        y: float | None = None,
        z: float | None = None,
        f: float | None = None,
    ) -> None:
        self.move("G1", f, X=x, Y=y, Z=z)

    def arc(
        self,
        way: str,
        x: float,
        y: float,
        centre: tuple[float, float],
        z: float | None = None,
        f: float | None = None,
    ) -> None:
        """An arc in the XY plane to x, y about `centre`."""
        i = self.rounded(centre[0]) - (self.at["X"] or 0.0)
        j = self.rounded(centre[1]) - (self.at["Y"] or 0.0)
        self.move(way, f, X=x, Y=y, Z=z, I=i, J=j)

    def arc_r(self, way: str, x: float, y: float, radius: float, f: float | None = None) -> None:
        self.move(way, f, X=x, Y=y, R=radius)

    def up(self) -> None:
        self.rapid(z=self.safe)

    def over(self, x: float, y: float, z: float | None = None) -> None:
        """Up, across, and down by rapid to `z` above the work."""
        self.up()
        self.rapid(x, y)
        if z is not None:
            self.rapid(z=z)

    def text(self) -> str:
        return self.style.end.join(self.lines) + self.style.end
