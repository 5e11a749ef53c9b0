"""Jobs of a small workshop: clean ones, and the same with one mistake planted.

Written for these tests alone. Programs differ in unit, zero, way of writing arcs and comments,
line numbers and entries; each mistake is planted while the program is written, so the line at which
it shows is known. Sizes are ours; nothing here is from outside.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

Point = tuple[float, float]


@dataclass
class Hand:
    """How somebody writes programs."""

    unit: str = "mm"
    comments: str = "()"
    numbers: int = 0  # step of N words, 0 none
    arcs: str = "ij"  # or "r"
    spaces: bool = True
    letter_case: str = "upper"


HANDS = (
    Hand(),
    Hand("in", ";", 0, "ij"),
    Hand("mm", ";", 10, "r"),
    Hand("in", "()", 5, "r", spaces=False),
    Hand("mm", "()", 0, "ij", letter_case="lower"),
)


@dataclass
class Tape:
    """A program being written; all arguments are mm from the blank's front left top corner.

    `origin` is where the zero lies from there. `marks` are the lines of planted mistakes.
    """

    hand: Hand
    origin: tuple[float, float, float]
    rpm: int = 18000
    rows: list[str] = field(default_factory=list)
    marks: list[int] = field(default_factory=list)
    at: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    safe: float = 5.0
    feed_said: float = 0.0
    shows: dict[str, int] = field(default_factory=dict)

    def note(self, what: str) -> None:
        """Remember under a name the first line at which something begins."""
        self.shows.setdefault(what, len(self.rows) + 1)

    def say(self, text: str) -> None:
        self.rows.append(f"({text})" if self.hand.comments == "()" else f"; {text}")

    def mark(self) -> None:
        """The next line is the one at which the mistake shows."""
        self.marks.append(len(self.rows) + 1)

    def raw(self, text: str) -> None:
        number = f"N{(len(self.rows) + 1) * self.hand.numbers} " if self.hand.numbers else ""
        if not self.hand.spaces:
            text = text.replace(" ", "")
        if self.hand.letter_case == "lower":
            text = text.lower()
        self.rows.append(number + text)

    def n(self, mm: float) -> str:
        value = f"{mm / 25.4:.5f}" if self.hand.unit == "in" else f"{mm:.4f}"
        return value.rstrip("0") if value.rstrip("0")[-1] != "." else value.rstrip("0") + "0"

    def words(self, x: float | None, y: float | None, z: float | None) -> str:
        out = ""
        for k, (letter, value) in enumerate(zip("XYZ", (x, y, z), strict=True)):
            if value is not None:
                self.at[k] = value
                out += f" {letter}{self.n(value - self.origin[k])}"
        return out

    def start(self, title: str, bit: str = "", spin: bool = True, units: bool = True) -> None:
        self.say(title)
        if bit:
            self.say(bit)
        if units:
            self.raw("G20" if self.hand.unit == "in" else "G21")
        self.raw("G90 G17 G94")
        if spin:
            self.note("speed")
            self.raw(f"S{self.rpm} M3")
            self.raw("G4 P5")

    def rapid(self, x: float | None = None, y: float | None = None, z: float | None = None) -> None:
        self.raw("G0" + self.words(x, y, z))

    def cut(self, x=None, y=None, z=None, feed: float = 0.0) -> None:
        said = f" F{self.n(feed)}" if feed else ""
        self.raw("G1" + self.words(x, y, z) + said)

    def arc(self, to: Point, centre: Point, left: bool, z: float | None = None) -> None:
        sx, sy = self.at[:2]
        words = self.words(to[0], to[1], z)
        i, j = centre[0] - sx, centre[1] - sy
        full = math.dist(to, (sx, sy)) < 1e-9
        if self.hand.arcs == "r" and not full:
            a = math.atan2(sy - centre[1], sx - centre[0])
            b = math.atan2(to[1] - centre[1], to[0] - centre[0])
            turn = (b - a) % (2 * math.pi) if left else (a - b) % (2 * math.pi)
            radius = math.hypot(i, j) * (-1 if turn > math.pi else 1)
            words += f" R{self.n(radius)}"
        else:
            words += f" I{self.n(i)} J{self.n(j)}"
        self.raw(("G3" if left else "G2") + words)

    def over(self, x: float, y: float) -> None:
        if self.at[2] < self.safe:
            self.rapid(z=self.safe)
        self.rapid(x, y)

    def end(self) -> str:
        self.rapid(z=20.0)
        self.raw("M5")
        self.raw("M30")
        return "\n".join(self.rows) + "\n"


@dataclass
class Case:
    """A job: its text, its programs, and what was planted."""

    name: str
    job: str
    programs: dict[str, str]
    planted: tuple[str, int, int] | None = None  # code, stage, line (0 any)

    def write(self, folder: Path) -> Path:
        for name, text in self.programs.items():
            (folder / name).write_text(text, "utf-8")
        (folder / "job.toml").write_text(self.job, "utf-8")
        return folder / "job.toml"


# ---------------------------------------------------------------- strokes


def ramp_down(t: Tape, a: Point, b: Point, z0: float, z: float, feed: float) -> None:
    """Down along a line and back, at about five degrees, from a hair above the last floor."""
    run = max(math.dist(a, b), 1e-6)
    while z0 > z + 1e-9:
        z0 = max(z, z0 - run * math.tan(math.radians(5)))
        t.cut(*b, z0, feed)
        t.cut(*a, feed=feed)


def clear_box(
    t: Tape, low: Point, high: Point, d: float, depth: float, step: float, feed: float,
    allowance: float = 0.0, change: Callable[[Tape, int], None] | None = None,
) -> None:  # fmt: skip
    """Clear a box by rings from the inside out, level by level."""
    levels = math.ceil(depth / step)
    inset = d / 2 + allowance
    x0, y0, x1, y1 = low[0] + inset, low[1] + inset, high[0] - inset, high[1] - inset
    across = min(x1 - x0, y1 - y0) / 2
    rings = max(1, math.ceil(across / (0.45 * d)))
    last = 0.0
    for level in range(levels):
        z = -depth * (level + 1) / levels
        for k in range(rings, -1, -1):
            s = across * k / rings
            box = [(x0 + s, y0 + s), (x1 - s, y0 + s), (x1 - s, y1 - s), (x0 + s, y1 - s)]
            if k == rings:
                t.over(*box[0])
                t.rapid(z=last + 0.6)
                if change:
                    change(t, level)
                far = box[1] if box[1][0] - box[0][0] > box[3][1] - box[0][1] else box[3]
                t.cut(z=last + 0.05, feed=feed / 3)
                t.note("ramp")
                ramp_down(t, box[0], far, last + 0.05, z, feed)
            else:
                t.note("ring")
                t.cut(*box[0], feed=feed)
            for corner in (*box[1:], box[0]):
                t.cut(*corner)
        last = z
        t.rapid(z=t.safe)


def follow_box(
    t: Tape, low: Point, high: Point, d: float, depth: float, step: float, feed: float
) -> None:
    """Run along the inside of a box, level by level, coming in from its middle."""
    r = d / 2
    x0, y0, x1, y1 = low[0] + r, low[1] + r, high[0] - r, high[1] - r
    box = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    t.over((low[0] + high[0]) / 2, (low[1] + high[1]) / 2)
    for level in range(math.ceil(depth / step)):
        z = -min(depth, step * (level + 1))
        t.note("down" if z >= -5 else "down below 5")
        t.cut(z=z, feed=feed / 3)
        t.note("to the wall")
        t.cut(*box[0], feed=feed)
        t.note("along the wall")
        for corner in (*box[1:], box[0]):
            t.cut(*corner)
        t.cut((low[0] + high[0]) / 2, (low[1] + high[1]) / 2)
    t.rapid(z=t.safe)


def bore(t: Tape, c: Point, r: float, d: float, depth: float, feed: float) -> None:
    """Go down a helix and round once at the bottom."""
    path = r - d / 2
    t.over(c[0] + path, c[1])
    t.rapid(z=0.6)
    t.cut(z=0.0, feed=feed / 3)
    turns = math.ceil(depth / (0.2 * d))
    t.cut(c[0] + path, c[1], feed=feed / 2)
    for k in range(turns):
        z = -depth * (k + 1) / turns
        middle = (0.0 if k == 0 else -depth * k / turns) / 2 + z / 2
        t.arc((c[0] - path, c[1]), c, True, middle)
        t.arc((c[0] + path, c[1]), c, True, z)
    t.arc((c[0] - path, c[1]), c, True)
    t.arc((c[0] + path, c[1]), c, True)
    t.rapid(z=t.safe)


def around(
    t: Tape, low: Point, high: Point, d: float, thick: float, step: float, feed: float,
    tabs: tuple[float, float] | None = (6.0, 2.0), below: float = 0.2,
    slip: Callable[[Tape], float] | None = None,
) -> None:  # fmt: skip
    """Cut a box out, with one tab in the middle of each long side in the passes below it."""
    r = d / 2
    x0, y0, x1, y1 = low[0] - r, low[1] - r, high[0] + r, high[1] + r
    depth = thick + below
    count = math.ceil(depth / step)
    t.over(x0, y0)
    t.rapid(z=0.6)
    for level in range(count):
        z = -depth * (level + 1) / count
        start = 0.05 if level == 0 else -depth * level / count
        if level == 0:
            t.cut(z=start, feed=feed / 3)
        t.cut(x0, y1, (start + z) / 2, feed=feed)
        if level == count - 1:
            t.note("last ramp ends")
        t.cut(x0, y0, z)
        for (ax, ay), (bx, by) in (
            ((x0, y0), (x1, y0)), ((x1, y0), (x1, y1)), ((x1, y1), (x0, y1)), ((x0, y1), (x0, y0)),
        ):  # fmt: skip
            if tabs and ay == by and z < -thick + tabs[1]:
                sign = 1 if bx > ax else -1
                half = (tabs[0] + d) / 2
                middle = (ax + bx) / 2
                t.cut(middle - sign * half, ay)
                lift = -thick + tabs[1]
                if slip is not None and level == count - 1 and ay == y1:
                    lift -= slip(t)
                t.cut(z=lift)
                t.cut(middle + sign * half, ay)
                t.note("tab ends")
                t.cut(z=z, feed=feed / 3)
                t.cut(bx, by, feed=feed)
            else:
                t.cut(bx, by)
    t.shows["last side"] = len(t.rows)
    t.rapid(z=t.safe)


def peck(t: Tape, holes: list[Point], depth: float, feed: float) -> None:
    """Drill by a canned cycle."""
    t.rapid(z=t.safe)
    x, y = holes[0]
    r, z = t.n(1.0 - t.origin[2]), t.n(-depth - t.origin[2])
    t.raw(f"G98 G83{t.words(x, y, None)} Z{z} R{r} Q{t.n(2.0)} F{t.n(feed)}")
    for x, y in holes[1:]:
        t.raw(t.words(x, y, None).strip())
    t.raw("G80")
    t.at[2] = t.safe


def groove(t: Tape, points: list[Point], depth: float, feed: float) -> None:
    """One line of a vee bit."""
    t.over(*points[0])
    t.cut(z=-depth, feed=feed / 3)
    for p in points[1:]:
        t.cut(*p, feed=feed)
    t.rapid(z=t.safe)


# ---------------------------------------------------------------- declarations

ZEROS = {
    "front-left-top": (0.0, 0.0, 0.0),
    "centre-top": (0.5, 0.5, 0.0),
    "back-right-top": (1.0, 1.0, 0.0),
    "front-left-bed": (0.0, 0.0, -1.0),
    "centre-bed": (0.5, 0.5, -1.0),
}
SIZE = (140.0, 110.0, 12.0)
RACK = """
[bits.flat-8]
shape = "flat"
diameter = "8 mm"
flutes = 2
flute_length = "25 mm"
shank = "8 mm"
stickout = "36 mm"
[bits.flat-6]
shape = "flat"
diameter = "6 mm"
flutes = 2
flute_length = "22 mm"
shank = "6 mm"
stickout = "32 mm"
[bits.flat-3]
shape = "flat"
diameter = "3 mm"
flutes = 2
flute_length = "14 mm"
shank = "3 mm"
stickout = "24 mm"
[bits.vee-90]
shape = "vee"
diameter = "12 mm"
angle = "90 deg"
flutes = 2
[bits.drill-5]
shape = "drill"
diameter = "5 mm"
angle = "118 deg"
flute_length = "40 mm"
"""


def origin_of(zero: str) -> tuple[float, float, float]:
    x, y, z = ZEROS[zero]
    return (x * SIZE[0], y * SIZE[1], z * SIZE[2])


def job_text(zero: str, stages: list[dict[str, str]], more: str = "", unit: str = "mm") -> str:
    """Write a job file; values of stages are written as they are."""
    size = ", ".join(f'"{s:g} mm"' for s in SIZE)
    text = (
        f'title = "workshop"\nunits = "{unit}"\nclamps = []\n[stock]\nsize = [{size}]\n'
        f'zero = "{zero}"\nmaterial = "beech"\nspoilboard = "15 mm"\n'
        'allow_into_spoilboard = "0.3 mm"\n[machine]\nsafe_height = "3 mm"\n'
        'max_rate = ["6000 mm/min", "6000 mm/min", "2500 mm/min"]\n'
        'spindle = { min = "8000 rpm", max = "24000 rpm", power = "800 W", '
        'start_seconds = "4 s" }\n'
        f"{more}{RACK}"
    )
    for stage in stages:
        text += "[[stages]]\n" + "".join(f"{k} = {v}\n" for k, v in stage.items())
    return text


def stage(name: str, program: str, bit: str, depth: str, **more: str) -> dict[str, str]:
    made = {"name": name, "program": program, "bit": bit, "depth": depth}
    return {k: f'"{v}"' for k, v in (made | more).items()}
