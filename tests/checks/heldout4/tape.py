"""A list of moves in mm, and writers that put it down as different authors would.

A `Tape` knows no words; a `Style` says how one author writes. Marks name lines, so that a mistake
can be planted at "the retract after the second pocket" whoever wrote it.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from typing import Any

Op = tuple[str, dict[str, Any]]


class Tape:
    """Moves of one program, in order, mm and mm/min, in the program's own zero."""

    def __init__(self) -> None:
        self.ops: list[Op] = []
        self.at: list[float | None] = [None, None, None]

    def _go(self, x: float | None, y: float | None, z: float | None) -> None:
        for axis, value in enumerate((x, y, z)):
            if value is not None:
                self.at[axis] = value

    def note(self, text: str) -> None:
        self.ops.append(("note", {"text": text}))

    def mark(self, name: str) -> None:
        """Name the next line that is written."""
        self.ops.append(("mark", {"name": name}))

    def raw(self, text: str) -> None:
        self.ops.append(("raw", {"text": text}))

    def rapid(self, x: float | None = None, y: float | None = None, z: float | None = None) -> None:
        self.ops.append(("rapid", {"x": x, "y": y, "z": z}))
        self._go(x, y, z)

    def line(
        self,
        x: float | None = None,
        y: float | None = None,
        z: float | None = None,
        f: float | None = None,
    ) -> None:
        self.ops.append(("line", {"x": x, "y": y, "z": z, "f": f}))
        self._go(x, y, z)

    def arc(
        self,
        x: float,
        y: float,
        centre: tuple[float, float],
        cw: bool,
        z: float | None = None,
        f: float | None = None,
    ) -> None:
        start = (self.at[0], self.at[1], self.at[2])
        self.ops.append(
            ("arc", {"x": x, "y": y, "z": z, "f": f, "c": centre, "cw": cw, "s": start})
        )
        self._go(x, y, z)

    def holes(self, points: list[tuple[float, float]], **words: Any) -> None:
        """Drill: z bottom, r retract level, f feed, clear level; q peck and p dwell if any."""
        self.ops.append(("holes", {"points": points, "at": list(self.at), **words}))
        self._go(points[-1][0], points[-1][1], words["clear"])


@dataclass(frozen=True)
class Style:
    """How one author writes."""

    units: str = "mm"
    modal: bool = True  # leave out codes and words that have not changed
    pad: bool = False  # G01 rather than G1
    arcs: str = "ij"  # "ij", "r" (short arcs by radius)
    places: int = 3
    trim: bool = True  # no trailing zeros
    point: bool = False  # always a decimal point
    number: int = 0  # step of line numbers
    blank: str = " "
    comment: str = "()"
    percent: bool = False
    cycles: bool = False
    incremental: bool = False
    feed_always: bool = False
    safety: str = "G90 G94 G17"
    units_line: bool = True  # units on a line of their own
    tool: str = ""  # a line for the tool
    zero: str = "G54"
    dwell: str = "G4 P{0}"
    coolant: tuple[str, str] = ("", "")
    end: tuple[str, ...] = ("M5", "M30")
    retract: str = ""  # a line before the end, in words


@dataclass
class Text:
    """A program as lines, with named lines (0-based) that move along when lines come and go."""

    lines: list[str] = field(default_factory=list)
    marks: dict[str, int] = field(default_factory=dict)

    def copy(self) -> Text:
        return Text(list(self.lines), dict(self.marks))

    def index(self, mark: str, offset: int = 0) -> int:
        return self.marks[mark] + offset

    def sub(self, mark: str, old: str, new: str, offset: int = 0) -> None:
        """Replace the pattern on that line; it must be there exactly once."""
        at = self.index(mark, offset)
        after, count = re.subn(old, new, self.lines[at])
        assert count == 1, (mark, old, self.lines[at])
        assert after != self.lines[at], (mark, old, self.lines[at])
        self.lines[at] = after

    def drop(self, mark: str, offset: int = 0, count: int = 1) -> None:
        at = self.index(mark, offset)
        del self.lines[at : at + count]
        self.marks = {k: v - count if v >= at + count else v for k, v in self.marks.items()}

    def put(self, mark: str, text: str, offset: int = 0) -> None:
        """Insert a line before the marked one."""
        at = self.index(mark, offset)
        self.lines.insert(at, text)
        self.marks = {k: v + 1 if v >= at else v for k, v in self.marks.items()}

    def cut(self, mark: str, keep: str = "") -> None:
        """Lose the marked line (but for `keep`) and all below it."""
        at = self.index(mark)
        self.lines = self.lines[:at] + ([keep] if keep else [])

    def bytes(self, newline_at_end: bool = True) -> bytes:
        return ("\n".join(self.lines) + ("\n" if newline_at_end else "")).encode()


class _Writer:
    def __init__(self, style: Style) -> None:
        self.s = style
        self.out = Text()
        self.n = 0
        self.code = ""
        self.pos: dict[str, str] = {}
        self.feed = ""
        self.waiting: list[str] = []
        self.scale = 1 / 25.4 if style.units == "in" else 1.0
        self.relative = False

    def number(self, value: float, places: int | None = None) -> str:
        text = f"{value:.{self.s.places if places is None else places}f}"
        if float(text) == 0:
            text = text.lstrip("-")
        if self.s.trim and "." in text:
            text = text.rstrip("0").rstrip(".")
        if self.s.point and "." not in text:
            text += "."
        return text

    def length(self, value: float) -> str:
        return self.number(value * self.scale)

    def emit(self, text: str) -> None:
        if not text:
            return
        numbered = self.s.number and text[0] not in "(;%O#"
        if numbered:
            self.n += self.s.number
            text = f"N{self.n}{self.s.blank}{text}"
        for name in self.waiting:
            self.out.marks[name] = len(self.out.lines)
        self.waiting = []
        self.out.lines.append(text)

    def note(self, text: str) -> None:
        held, self.waiting = self.waiting, []
        self.emit(f"; {text}" if self.s.comment == ";" else f"({text})")
        self.waiting = held

    def g(self, number: int) -> str:
        return f"G{number:02d}" if self.s.pad else f"G{number}"

    def axes(self, op: dict[str, Any]) -> list[str]:
        words = []
        for letter in "XYZ":
            value = op.get(letter.lower())
            if value is None:
                continue
            text = self.length(value)
            if self.relative:
                before = float(self.pos.get(letter, "0"))
                step = float(text) - before
                if abs(step) > 1e-9:
                    words.append(letter + self.number(step))
            elif not self.s.modal or self.pos.get(letter) != text:
                words.append(letter + text)
            self.pos[letter] = text
        return words

    def move(self, code: int, words: list[str], f: float | None) -> None:
        if not words:
            return
        head = []
        if self.code != str(code) or not self.s.modal:
            head.append(self.g(code))
        tail = []
        if f is not None:
            text = self.number(f * self.scale, 1 if self.s.units == "in" else 0)
            if text != self.feed or self.s.feed_always:
                tail.append("F" + text)
            self.feed = text
        self.code = str(code)
        self.emit(self.s.blank.join(head + words + tail))

    def arc(self, op: dict[str, Any]) -> None:
        cx, cy = op["c"]
        sx, sy, sz = op["s"]
        code = 2 if op["cw"] else 3
        if self.s.arcs == "ij":
            words = self.axes({**op, "x": None, "y": None})
            ends = ["X" + self.length(op["x"]), "Y" + self.length(op["y"])]
            if self.relative:
                ends = []
                for letter, key in (("X", "x"), ("Y", "y")):
                    step = float(self.length(op[key])) - float(self.pos[letter])
                    ends.append(letter + self.number(step))
            self.pos["X"], self.pos["Y"] = self.length(op["x"]), self.length(op["y"])
            words = ends + words + ["I" + self.length(cx - sx), "J" + self.length(cy - sy)]
            self.move(code, words, op["f"])
            return
        radius = math.hypot(sx - cx, sy - cy)
        first = math.atan2(sy - cy, sx - cx)
        sweep = math.atan2(op["y"] - cy, op["x"] - cx) - first
        sign = -1 if op["cw"] else 1
        sweep = sweep % (sign * math.tau) or sign * math.tau
        pieces = max(1, math.ceil(abs(sweep) / 1.6))
        for k in range(1, pieces + 1):
            a = first + sweep * k / pieces
            x, y = cx + radius * math.cos(a), cy + radius * math.sin(a)
            if k == pieces:
                x, y = op["x"], op["y"]
            part: dict[str, Any] = {"x": x, "y": y}
            if op["z"] is not None:
                part["z"] = sz + (op["z"] - sz) * k / pieces
            words = self.axes(part)
            self.move(code, [*words, "R" + self.length(radius)], op["f"])

    def holes(self, op: dict[str, Any]) -> None:
        names = self.waiting
        self.waiting = []
        q, p, r, z, f, clear = (op.get(k) for k in ("q", "p", "r", "z", "f", "clear"))
        for number, (x, y) in enumerate(op["points"]):
            self.waiting = [f"{name}{number}" for name in names]
            if self.s.cycles:
                self.cycle(number, x, y, op)
                continue
            self.move(0, self.axes({"x": x, "y": y}), None)
            self.move(0, self.axes({"z": r}), None)
            deep = r
            while deep > z + 1e-9:
                if deep < r:
                    self.move(0, self.axes({"z": deep + 0.5}), None)
                deep = max(z, (deep if deep < r else op["top"]) - q) if q else z
                self.waiting = [f"{name}{number}down" for name in names] if deep == z else []
                self.move(1, self.axes({"z": deep}), f)
                if p and deep == z:
                    self.emit(self.s.dwell.format(self.number(p)))
                self.waiting = [f"{name}{number}up" for name in names] if deep == z else []
                self.move(0, self.axes({"z": r if deep > z else clear}), None)
        if self.s.cycles:
            self.emit("G80")
            self.code = ""

    def cycle(self, number: int, x: float, y: float, op: dict[str, Any]) -> None:
        words = self.axes({"x": x, "y": y})
        if number == 0:
            code = 83 if op.get("q") else 82 if op.get("p") else 81
            words = ["X" + self.length(x), "Y" + self.length(y)]
            words = ["G98", f"G{code}", *words, "Z" + self.length(op["z"])]
            words.append("R" + self.length(op["r"]))
            if op.get("q"):
                words.append("Q" + self.length(op["q"]))
            if op.get("p"):
                words.append("P" + self.number(op["p"]))
            words.append("F" + self.number(op["f"] * self.scale, 1 if self.s.units == "in" else 0))
            self.feed = ""
        self.pos["Z"] = self.length(op["clear"])
        self.emit(self.s.blank.join(words))

    def run(self, ops: list[Op]) -> None:
        for kind, op in ops:
            if kind == "mark":
                self.waiting.append(op["name"])
            elif kind == "note":
                self.note(op["text"])
            elif kind == "raw":
                self.emit(op["text"])
            elif kind == "rapid":
                self.move(0, self.axes(op), None)
            elif kind == "line":
                self.move(1, self.axes(op), op["f"])
            elif kind == "arc":
                self.arc(op)
            else:
                self.holes(op)


def write(
    tape: Tape, style: Style, title: str, bit: str, rpm: int, wait: float, clear: float
) -> Text:
    """Write a tape as a whole program: heading, spindle, moves, end."""
    w = _Writer(style)
    if style.percent:
        w.emit("%")
    w.note(title)
    if bit:
        w.note(bit)
        w.out.marks["bit"] = len(w.out.lines) - 1
    units = "G20" if style.units == "in" else "G21"
    w.waiting = ["units"]
    if style.units_line:
        w.emit(units)
        w.waiting = ["safety"]
        w.emit(style.safety)
    else:
        w.waiting.append("safety")
        w.emit(f"{units} {style.safety}")
    if style.tool:
        w.waiting = ["tool"]
        w.emit(style.tool)
    if style.zero:
        w.waiting = ["zero"]
        w.emit(style.zero)
    w.waiting = ["first"]
    w.move(0, w.axes({"z": clear}), None)
    w.waiting = ["spindle"]
    w.emit(f"S{rpm} M3" if not style.pad else f"M03 S{rpm}")
    if wait:
        w.waiting = ["wait"]
        w.emit(style.dwell.format(w.number(wait)))
    if style.coolant[0]:
        w.waiting = ["coolant"]
        w.emit(style.coolant[0])
    start = list(tape.ops)
    if style.incremental:
        moves = (i for i, (kind, op) in enumerate(start) if kind == "rapid" and op["x"] is not None)
        first = next(moves)
        w.run(start[: first + 1])
        w.waiting = ["relative"]
        w.emit("G91")
        w.relative = True
        w.run(start[first + 1 :])
        w.waiting = ["absolute"]
        w.emit("G90")
        w.relative = False
    else:
        w.run(start)
    w.waiting = ["out"]
    w.move(0, w.axes({"z": clear}), None)
    if style.coolant[1]:
        w.emit(style.coolant[1])
    for number, words in enumerate([style.retract, *style.end]):
        if words:
            w.waiting.append(f"end{number}")
            w.emit(words)
    if style.percent:
        w.waiting.append("percent")
        w.emit("%")
    return w.out
