"""How a program is written down: mm from the blank's front-left top corner in, lines out."""

from __future__ import annotations

from dataclasses import dataclass, field

from tests.checks.heldout5.core import Shop
from tests.checks.heldout5.tape import Line

#: A move that is left out of the text because it changes nothing.
NEAR = 1e-9


@dataclass(frozen=True)
class Habit:
    """What differs between those who write programs, and changes nothing.

    Attributes
    ----------
    inch : lengths and feeds in inches
    places : decimals of a length
    modal : words that are in force already are left out
    radius : arcs by R, full circles as two halves
    step : distance of line numbers; 0 none
    padded : G00 and G01
    tight : no blanks between words
    semicolon : comments behind ; instead of in parentheses
    """

    inch: bool = False
    places: int = 3
    modal: bool = True
    radius: bool = False
    step: int = 0
    padded: bool = False
    tight: bool = False
    semicolon: bool = False


@dataclass
class Pen:
    """Writes one program. Marks name its lines: "name" or "name.k", counted."""

    shop: Shop
    habit: Habit
    safe: float = 6.0
    lines: list[Line] = field(default_factory=list)
    zero: tuple[float, float, float] = (0.0, 0.0, 0.0)
    at: list[float | None] = field(default_factory=lambda: [None, None, None])
    code: str = ""
    feed: float = 0.0
    counts: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.zero = self.shop.zero()

    # -- text ---------------------------------------------------------------------------------

    def raw(self, text: str, mark: str = "") -> None:
        self.lines.append(Line(text, {mark} if mark else set()))

    def note(self, text: str, mark: str = "note") -> None:
        self.raw(f"; {text}" if self.habit.semicolon else f"({text})", mark)

    def number(self, value: float, places: int | None = None) -> str:
        count = self.habit.places if places is None else places
        text = f"{value:.{count}f}"
        if self.habit.modal:
            text = text.rstrip("0").rstrip(".")
        return "0" if float(text) == 0 else text

    def length(self, value: float) -> str:
        return self.number(value / 25.4 if self.habit.inch else value)

    def words(self, words: list[str], mark: str) -> None:
        if self.habit.step:
            words.insert(
                0, f"N{self.habit.step * (1 + sum(x.text[:1] == 'N' for x in self.lines))}"
            )
        self.raw(("" if self.habit.tight else " ").join(words), mark)

    def block(self, text: str, mark: str) -> None:
        """A line of codes that are no moves."""
        self.words(text.split(), mark)

    def counted(self, mark: str) -> str:
        """The mark with the number of its next use."""
        self.counts[mark] = self.counts.get(mark, 0) + 1
        return f"{mark}.{self.counts[mark]}"

    # -- moves --------------------------------------------------------------------------------

    def move(self, code: str, to: list[float | None], mark: str, feed: float = 0.0) -> None:
        """Move to X, Y, Z in the frame of the tape (None: stay)."""
        words = []
        shown = f"{code[0]}0{code[1:]}" if self.habit.padded else code
        if not (self.habit.modal and code == self.code):
            words.append(shown)
        changed = False
        for axis, letter in enumerate("XYZ"):
            value = to[axis]
            if value is None:
                continue
            old = self.at[axis]
            same = old is not None and abs(old - value) < NEAR
            changed |= not same
            if not (same and self.habit.modal):
                words.append(letter + self.length(value - self.zero[axis]))
            self.at[axis] = value
        if not changed:
            return
        self.code = code
        words += self.feed_word(feed)
        self.words(words, mark)

    def feed_word(self, feed: float) -> list[str]:
        if not feed or abs(feed - self.feed) < NEAR:
            return []
        self.feed = feed
        return ["F" + self.number(feed / 25.4 if self.habit.inch else feed, 1)]

    def over(self, x: float, y: float, mark: str) -> None:
        self.move("G0", [x, y, None], self.counted(mark + ".to"))

    def down(self, z: float, mark: str) -> None:
        """A rapid down to an approach height."""
        self.move("G0", [None, None, z], self.counted(mark + ".near"))

    def up(self, mark: str) -> None:
        self.move("G0", [None, None, self.safe], self.counted(mark + ".up"))

    def cut(
        self,
        mark: str,
        x: float | None = None,
        y: float | None = None,
        z: float | None = None,
        feed: float = 0.0,
    ) -> None:
        self.move("G1", [x, y, z], self.counted(mark), feed)

    def arc(
        self,
        mark: str,
        way: int,
        end: tuple[float, float],
        centre: tuple[float, float],
        z: float | None = None,
        feed: float = 0.0,
    ) -> None:
        """An arc to `end` about `centre`; way 1 counter-clockwise (G3), -1 clockwise (G2)."""
        start = (self.at[0], self.at[1])
        assert start[0] is not None
        assert start[1] is not None
        code = "G3" if way > 0 else "G2"
        shown = f"G0{code[1]}" if self.habit.padded else code
        words = [] if self.habit.modal and code == self.code else [shown]
        words += [c + self.length(end[k] - self.zero[k]) for k, c in enumerate("XY")]
        if z is not None:
            words.append("Z" + self.length(z - self.zero[2]))
        cross = (start[0] - centre[0]) * (end[1] - centre[1]) - (start[1] - centre[1]) * (
            end[0] - centre[0]
        )
        whole = abs(end[0] - start[0]) < NEAR and abs(end[1] - start[1]) < NEAR
        if self.habit.radius and not whole and cross * way > NEAR:
            size = ((end[0] - centre[0]) ** 2 + (end[1] - centre[1]) ** 2) ** 0.5
            words.append("R" + self.length(size))
        else:
            words.append("I" + self.length(centre[0] - start[0]))
            words.append("J" + self.length(centre[1] - start[1]))
        words += self.feed_word(feed)
        self.code = code
        self.at[0], self.at[1] = end
        if z is not None:
            self.at[2] = z
        self.words(words, self.counted(mark))

    # -- beginning and end --------------------------------------------------------------------

    def begin(self, notes: list[str], rpm: int, dwell: float = 5.0, offset: str = "G54") -> None:
        for k, text in enumerate(notes, 1):
            self.note(text, f"note{k}")
        self.block(f"{'G20' if self.habit.inch else 'G21'} G90 G17", "units")
        self.block(f"G40 G49 G80 G94 {offset}", "offset")
        self.block(f"S{rpm} M3", "spindle")
        self.block(f"G4 P{dwell:g}", "dwell")
        self.move("G0", [None, None, self.safe], "lift")

    def end(self, park: tuple[float, float] | None = None) -> None:
        self.up("end")
        if park:
            self.over(park[0], park[1], "end")
        self.block("M5", "stop")
        self.block("M30", "finish")

    def done(self, **declared: object) -> None:
        """Hand the program to the shop."""
        self.shop.add(self.lines, **declared)
