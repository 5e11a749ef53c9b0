"""Programs as lines that keep their names through edits, and job files around them."""

import copy
import json
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any


@dataclass
class Line:
    """One line of a program; `name` is how a planted mistake finds it."""

    text: str
    name: str = ""


class Tape:
    """A program as one writer would put it: `style` says with what habits."""

    def __init__(self, style: str = "plain") -> None:
        self.style = style
        self.lines: list[Line] = []

    def __call__(self, *texts: str, name: str = "") -> "Tape":
        """Add lines; the last one gets the name."""
        for text in texts:
            self.lines.append(Line(text))
        if name:
            self.lines[-1].name = name
        return self

    def to(self, code: str = "G1", name: str = "", **words: float) -> "Tape":
        """Add a block of a code and its words, in the order given."""
        body = " ".join(f"{letter.upper()}{self.number(v)}" for letter, v in words.items())
        return self(f"{code} {body}".strip(), name=name)

    def number(self, value: float) -> str:
        """Write a number as this writer does."""
        if "fixed" in self.style:
            return f"{value:.4f}"
        text = f"{value:.4f}".rstrip("0").rstrip(".")
        text = "0" if text in ("-0", "") else text
        return text + "." if "dots" in self.style and "." not in text else text

    def text(self) -> str:
        """Return the program, with numbers, packed, in small letters, as its style says."""
        out = []
        number = 0
        for line in self.lines:
            text = line.text
            plain = text and text[0] not in "(%;O"
            if "packed" in self.style and plain and "(" not in text and "#" not in text:
                text = text.replace(" ", "")
            if "lower" in self.style and plain and "(" not in text:
                text = text.lower()
            if "numbered" in self.style and plain:
                number += 5
                text = f"N{number:04d} {text}"
            out.append(text)
        return ("\r\n" if "dos" in self.style else "\n").join(out) + "\n"

    def line_of(self, name: str) -> int:
        """Return the 1-based line with this name; "name+2" is two lines on, "#4" the fourth."""
        if name.startswith("#"):
            return int(name[1:])
        name, _, on = name.partition("+")
        return int(on or 0) + next(i for i, line in enumerate(self.lines, 1) if line.name == name)


@dataclass
class Made:
    """A job: what its TOML says, and the programs of its stages."""

    name: str
    head: dict[str, Any]
    tapes: list[Tape] = field(default_factory=list)

    def stage(self, tape: Tape, bit: str, depth: str, **keys: Any) -> "Made":
        """Add a stage."""
        number = len(self.tapes) + 1
        row = {"name": f"step {number}", "program": f"p{number}.nc", "bit": bit, "depth": depth}
        self.head.setdefault("stages", []).append({**row, **keys})
        self.tapes.append(tape)
        return self

    def write(self, folder: Path) -> Path:
        """Write the job into a folder and return its job file."""
        text = "".join(f"{key} = {toml(value)}\n" for key, value in self.head.items())
        (folder / "job.toml").write_text(text)
        for number, tape in enumerate(self.tapes, 1):
            (folder / f"p{number}.nc").write_bytes(tape.text().encode())
        return folder / "job.toml"


def toml(value: Any) -> str:
    """Write a value as TOML, tables inline."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f'"{k}" = {toml(v)}' for k, v in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(toml(v) for v in value) + "]"
    return json.dumps(value)


@dataclass(frozen=True)
class Slip:
    """A planted mistake: the edit, and the code and the line by which it must be told.

    `at` is (stage, name of the line); "" where the mistake is in the set-up and stands on no line.
    `codes` are the codes of which one must be told there.
    """

    job: str
    what: str
    codes: tuple[str, ...]
    at: tuple[int, str]
    edit: Callable[[Made], None]


def sub(stage: int, name: str, old: str, new: str) -> Callable[[Made], None]:
    """Replace a piece of a line."""

    def edit(made: Made) -> None:
        line = made.tapes[stage - 1].lines[made.tapes[stage - 1].line_of(name) - 1]
        text, times = re.subn(old, new, line.text, count=1)
        assert times == 1, (made.name, name, line.text)
        line.text = text

    return edit


def drop(stage: int, name: str) -> Callable[[Made], None]:
    """Delete a line."""

    def edit(made: Made) -> None:
        tape = made.tapes[stage - 1]
        del tape.lines[tape.line_of(name) - 1]

    return edit


def cut_after(stage: int, name: str) -> Callable[[Made], None]:
    """Lose everything after a line."""

    def edit(made: Made) -> None:
        tape = made.tapes[stage - 1]
        del tape.lines[tape.line_of(name) :]

    return edit


def setup(change: Callable[[dict[str, Any]], Any]) -> Callable[[Made], None]:
    """Change the job file."""

    def edit(made: Made) -> None:
        change(made.head)

    return edit


def planted(made: Made, slip: Slip) -> Made:
    """Return the job with the mistake in it."""
    wrong = copy.deepcopy(made)
    slip.edit(wrong)
    return wrong
