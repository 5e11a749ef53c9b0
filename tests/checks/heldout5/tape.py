"""A tape of moves, in mm from the blank's front-left top corner, and those who write it as G-code.

Nothing here knows dryrun. A `Style` is a habit of writing; the same tape comes out differently.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

Point = tuple[float, float]


@dataclass
class Line:
    """A line of a program, and the names by which a mistake finds it."""

    text: str
    marks: set[str] = field(default_factory=set)


@dataclass(frozen=True)
class Op:
    """One move. x, y, z None: stays. `centre` makes it an arc; `cycle` a drilling cycle."""

    kind: str  # rapid, feed, arc, drill, note
    x: float | None = None
    y: float | None = None
    z: float | None = None
    feed: float | None = None
    centre: Point | None = None
    ccw: bool = True
    words: dict[str, float] = field(default_factory=dict)
    points: tuple[Point, ...] = ()
    text: str = ""
    marks: tuple[str, ...] = ()


class Tape:
    """Records moves. `safe` is the height between cuts, `near` where feeding down begins."""

    def __init__(self, safe: float, feed: float, plunge: float, near: float = 1.0) -> None:
        self.ops: list[Op] = []
        self.safe, self.feed, self.plunge, self.near = safe, feed, plunge, near
        self.x = self.y = math.nan
        self.z = math.nan
        self._marks: tuple[str, ...] = ()

    def mark(self, *names: str) -> Tape:
        self._marks += names
        return self

    def _add(self, op: Op) -> None:
        self.ops.append(replace(op, marks=self._marks))
        self._marks = ()
        self.x = self.x if op.x is None else op.x
        self.y = self.y if op.y is None else op.y
        self.z = self.z if op.z is None else op.z

    def note(self, text: str) -> None:
        self._add(Op("note", text=text))

    def rapid(self, x: float | None = None, y: float | None = None, z: float | None = None) -> None:
        self._add(Op("rapid", x, y, z))

    def up(self) -> None:
        self.rapid(z=self.safe)

    def to(self, x: float, y: float, name: str = "") -> None:
        """From the safe height over a place, then down to just above the top."""
        if name:
            self.mark(name + "/over")
        self.rapid(x, y)
        if name:
            self.mark(name + "/near")
        self.rapid(z=self.near)

    def cut(
        self,
        x: float | None = None,
        y: float | None = None,
        z: float | None = None,
        f: float | None = None,
    ) -> None:
        self._add(Op("feed", x, y, z, f or self.feed))

    def down(self, z: float) -> None:
        self.cut(z=z, f=self.plunge)

    def arc(
        self,
        x: float,
        y: float,
        centre: Point,
        ccw: bool = True,
        z: float | None = None,
        f: float | None = None,
    ) -> None:
        self._add(Op("arc", x, y, z, f or self.feed, centre, ccw))

    def turn(self, centre: Point, z: float | None = None, ccw: bool = True) -> None:
        """A full turn from here about a centre."""
        self.arc(self.x, self.y, centre, ccw, z)

    def drill(
        self, code: float, points: list[Point], z: float, f: float, name: str, **words: float
    ) -> None:
        """A drilling cycle. The bit is at the safe height before and after."""
        for k, point in enumerate(points):
            self.mark(f"{name}/{k}")
            op = Op("drill", *point, z, f, words={"G": code, **words}, points=(point,))
            self._add(op)
            self.z = self.safe
        self.mark(f"{name}/off")
        self._add(Op("drill-end"))


@dataclass(frozen=True)
class Style:
    """How somebody, or their post-processor, writes a program."""

    unit: str = "mm"
    decimals: int = 3
    numbers: int = 0
    every_code: bool = False  # G1 on every line, not only when it changes
    every_axis: bool = False
    every_feed: bool = False
    padded: bool = False  # G01
    fixed: bool = False  # all decimals, always
    dot: bool = False  # X5. and X.5
    blanks: bool = True
    arcs: str = "ij"
    semicolon: bool = False
    percent: str = ""
    tool: int = 0
    incremental: bool = False
    cycles: bool = True
    last: str = "M30"
    lower: bool = False


PLAIN = Style()
HAND = Style(decimals=2, last="M2")
POST = Style(
    numbers=10, padded=True, every_code=True, fixed=True, arcs="r", percent="O1001", tool=1
)
DENSE = Style(blanks=False, dot=True, decimals=3, percent="%", numbers=1, every_feed=True)
STEPS = Style(incremental=True, semicolon=True)
INCH = Style(unit="in", decimals=4, semicolon=True, fixed=True)
INCH_R = Style(unit="in", decimals=4, arcs="r", dot=True, every_code=True, numbers=5, last="M2")
LONG = Style(every_code=True, every_axis=True, every_feed=True, decimals=4, cycles=False)
SMALL = Style(lower=True, decimals=3, semicolon=True, cycles=False)


class _Writer:
    def __init__(self, style: Style, shift: tuple[float, float, float]) -> None:
        self.s, self.shift = style, shift
        self.lines: list[Line] = []
        self.grain = 25.4 if style.unit == "in" else 1.0
        self.at: dict[str, float] = {}
        self.code = ""
        self.feed = ""
        self.mode = "G90"
        self.cycle: tuple[tuple[str, float], ...] = ()
        self.words: tuple[tuple[str, float], ...] = ()

    def put(self, words: list[str], marks: tuple[str, ...] = ()) -> None:
        text = (" " if self.s.blanks else "").join(words)
        self.text(text, marks)

    def text(self, text: str, marks: tuple[str, ...] = ()) -> None:
        if self.s.lower and not text.startswith(("(", ";")):
            text = text.lower()
        if self.s.numbers and not text.startswith(("%", "O", ";")):
            number = self.s.numbers * (1 + sum(1 for x in self.lines if x.text.startswith("N")))
            text = f"N{number}{' ' if self.s.blanks else ''}{text}"
        self.lines.append(Line(text, set(marks)))

    def note(self, text: str, marks: tuple[str, ...] = ()) -> None:
        self.text(f"; {text}" if self.s.semicolon else f"({text})", marks)

    def number(self, value: float, decimals: int | None = None) -> str:
        places = self.s.decimals if decimals is None else decimals
        text = f"{value:.{places}f}"
        if float(text) == 0:
            text = text.lstrip("-")
        if self.s.fixed and decimals is None:
            return text
        text = text.rstrip("0").rstrip(".") if "." in text else text
        if self.s.dot and decimals is None:
            text = text if "." in text else text + "."
            text = text.replace("0.", ".", 1) if text.lstrip("-").startswith("0.") else text
            text = "0." if text == "." else text
        return text

    def program(self, axis: str, value: float) -> float:
        """A design coordinate as the program's number, rounded as it will be written."""
        shifted = (value - self.shift["XYZ".index(axis)]) / self.grain
        return round(shifted, self.s.decimals)

    def g(self, number: float) -> str:
        return f"G{number:02.0f}" if self.s.padded else f"G{number:g}"

    def axes(self, op: Op, relative: bool, both: bool = False) -> list[str]:
        words = []
        for axis, value in zip("XYZ", (op.x, op.y, op.z), strict=True):
            if value is None and not (self.s.every_axis and axis in self.at):
                continue
            new = self.at[axis] if value is None else self.program(axis, value)
            same = self.at.get(axis) == new
            if same and not (self.s.every_axis or (both and axis != "Z")):
                continue
            shown = new - self.at[axis] if relative else new
            words.append(axis + self.number(shown))
            self.at[axis] = new
        return words

    def move(self, op: Op) -> None:
        relative = self.s.incremental and op.kind != "rapid"
        mode = "G91" if relative else "G90"
        code = {"rapid": 0, "feed": 1, "arc": 3 if op.ccw else 2}[op.kind]
        words: list[str] = []
        if mode != self.mode and self.s.incremental:
            words.append(mode)
            self.mode = mode
        if self.s.every_code or self.g(code) != self.code:
            words.append(self.g(code))
            self.code = self.g(code)
        start = dict(self.at)
        axes = self.axes(op, relative, both=op.kind == "arc")
        if not axes:
            return
        words += axes
        if op.kind == "arc":
            assert op.centre is not None
            cx = (op.centre[0] - self.shift[0]) / self.grain
            cy = (op.centre[1] - self.shift[1]) / self.grain
            if self.s.arcs == "r":
                words.append("R" + self.number(math.hypot(cx - start["X"], cy - start["Y"])))
            else:
                words.append("I" + self.number(cx - start["X"]))
                words.append("J" + self.number(cy - start["Y"]))
        if op.kind != "rapid":
            assert op.feed is not None
            feed = "F" + self.number(op.feed / self.grain, 1)
            if self.s.every_feed or feed != self.feed:
                words.append(feed)
                self.feed = feed
        self.put(words, op.marks)

    def quarters(self, op: Op) -> list[Op]:
        """An arc as pieces of at most a quarter turn, for those who write R."""
        assert op.centre is not None
        assert op.x is not None
        assert op.y is not None
        cx, cy = op.centre
        sx = self.at["X"] * self.grain + self.shift[0] - cx
        sy = self.at["Y"] * self.grain + self.shift[1] - cy
        first, last = math.atan2(sy, sx), math.atan2(op.y - cy, op.x - cx)
        sweep = (last - first if op.ccw else first - last) % math.tau
        if sweep < 1e-3 or math.tau - sweep < 1e-3:
            sweep = math.tau
        count = math.ceil(sweep / (math.pi / 2) - 1e-6)
        z0 = self.at["Z"] * self.grain + self.shift[2]
        pieces = []
        for k in range(1, count + 1):
            angle = first + (sweep if op.ccw else -sweep) * k / count
            radius = math.hypot(op.x - cx, op.y - cy)
            x, y = cx + radius * math.cos(angle), cy + radius * math.sin(angle)
            if k == count:
                x, y = op.x, op.y
            z = None if op.z is None else z0 + (op.z - z0) * k / count
            pieces.append(replace(op, x=x, y=y, z=z, marks=op.marks if k == 1 else ()))
        return pieces

    def drill(self, op: Op) -> None:
        assert op.feed is not None
        if not self.s.cycles:
            self.plain_hole(op)
            return
        words = []
        named = tuple(op.words.items())
        axes = self.axes(replace(op, z=None), False, both=self.s.every_axis)
        if named != self.cycle:
            if self.s.incremental and self.mode != "G90":
                words.append("G90")
                self.mode = "G90"
            words += [self.g(98), self.g(op.words["G"])]
            axes = ["X" + self.number(self.at["X"]), "Y" + self.number(self.at["Y"])]
            assert op.z is not None
            axes.append("Z" + self.number(self.program("Z", op.z)))
            axes.append("R" + self.number(self.program("Z", op.words["R"])))
            for letter in "QP":
                if letter in op.words:
                    value = op.words[letter] / (self.grain if letter == "Q" else 1)
                    axes.append(letter + self.number(value))
            axes.append("F" + self.number(op.feed / self.grain, 1))
            self.feed = axes[-1]
            self.cycle, self.code = named, "cycle"
        self.put(words + axes, op.marks)

    def plain_hole(self, op: Op) -> None:
        z, r = op.z, op.words["R"]
        assert z is not None
        self.move(Op("rapid", op.x, op.y, marks=(op.marks[0] + "/over",)))
        self.move(Op("rapid", z=r, marks=(op.marks[0] + "/near",)))
        peck = op.words.get("Q", 1e9)
        depth = 0.0
        while depth > z + 1e-9:
            depth = max(z, depth - peck)
            self.move(Op("feed", z=depth, feed=op.feed, marks=op.marks if depth == z else ()))
            if depth > z:
                self.move(Op("rapid", z=r))
                self.move(Op("feed", z=depth + 0.5, feed=op.feed))
        self.move(Op("rapid", z=op.words["S"], marks=(op.marks[0] + "/up",)))

    def run(self, tape: Tape) -> None:
        for op in tape.ops:
            if op.kind == "note":
                self.note(op.text, op.marks)
            elif op.kind == "drill":
                self.drill(op)
            elif op.kind == "drill-end":
                if self.s.cycles:
                    self.put([self.g(80)], op.marks)
                self.cycle, self.code = (), ""
            elif op.kind == "arc" and self.s.arcs == "r":
                for piece in self.quarters(op):
                    self.move(piece)
            else:
                self.move(op)


def write(
    tape: Tape,
    style: Style,
    notes: list[str],
    rpm: int,
    shift: tuple[float, float, float],
    high: float = 20.0,
    dwell: float = 5.0,
    offset: str = "G54",
) -> list[Line]:
    """A whole program: head, the tape, tail. `high` is the height over everything."""
    w = _Writer(style, shift)
    if style.percent:
        w.text("%", ("percent",))
        if style.percent.startswith("O"):
            w.text(style.percent)
    for k, note in enumerate(notes):
        w.note(note, (f"note{k}",))
    unit = "G20" if style.unit == "in" else "G21"
    w.put([unit, "G17", "G90", "G94", "G40"], ("unit",))
    w.put([offset], ("offset",))
    if style.tool:
        w.put([f"T{style.tool}", "M6"], ("tool",))
    w.move(Op("rapid", z=high, marks=("high",)))
    w.put([f"S{rpm}", "M3"], ("spin",))
    w.put(["G4", f"P{dwell:g}"], ("dwell",))
    w.run(tape)
    w.move(Op("rapid", z=high, marks=("last-up",)))
    w.put(["M5"], ("off",))
    w.put([style.last], ("end",))
    if style.percent:
        w.text("%", ("percent-end",))
    return w.lines
