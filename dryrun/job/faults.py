"""Faults in a job: what is wrong, where it is written, and what to write instead."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, field

from dryrun.job.places import Path, Place


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in what was declared.

    Attributes
    ----------
    file : str
        The file as the person named it, or what stands in for it (an option of the command).
    line, column : int or None
        1-based place of the key; None when no one place is to blame.
    key : str
        Where in the file, e.g. "stages[2].depth"; arrays count from 1.
    message : str
        Lower case, no full stop: what was found and what was expected.
    help : str or None
        What to do, when there is one clear action.
    """

    file: str
    line: int | None
    column: int | None
    key: str
    message: str
    help: str | None = None

    def __str__(self) -> str:
        place = self.file
        if self.line is not None:
            place += f":{self.line}:{self.column}"
        key = f"{self.key}: " if self.key else ""
        advice = f" ({self.help})" if self.help else ""
        return f"{place}: {key}{self.message}{advice}"


class JobError(ValueError):
    """A job that cannot be used, with every fault found.

    Attributes
    ----------
    faults : tuple of Fault
        In the order of the file.
    """

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


@dataclass(slots=True)
class Page:
    """One text being read: its name, where its keys stand, its faults so far, and its SHA-256."""

    file: str
    places: dict[Path, Place] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    sha256: str = ""

    def fault(self, path: Path, message: str, help: str | None = None) -> None:
        """Note a fault at a key; a key that is not there is placed at its nearest parent."""
        line, column = self.place(path)
        self.faults.append(Fault(self.file, line, column, write_path(path), message, help))

    def place(self, path: Path) -> tuple[int | None, int | None]:
        """Line and column of a key or of its nearest parent."""
        for length in range(len(path), 0, -1):
            if path[:length] in self.places:
                return self.places[path[:length]]
        return None, None


def write_path(path: Path) -> str:
    """Write the way to a key for people: "stages[2].depth"."""
    text = ""
    for step in path:
        if isinstance(step, int):
            text += f"[{step + 1}]"
        else:
            text += f".{printable(step)}" if text else printable(step)
    return text


def printable(text: str, longest: int = 60) -> str:
    """Return text that cannot upset a terminal, shortened."""
    clean = "".join(c if c.isprintable() else "?" for c in text)
    return clean if len(clean) <= longest else clean[: longest - 3] + "..."


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word most like this one, or None when none is like it."""
    folded = {name.lower().replace("_", "-"): name for name in known}
    close = difflib.get_close_matches(
        word[:100].lower().replace("_", "-"), list(folded), n=1, cutoff=0.6
    )
    return folded[close[0]] if close else None


def suggest(word: str, known: Iterable[str]) -> str | None:
    """Return help for a word nobody knows: the nearest, or all of them when they are few."""
    names = list(known)
    close = nearest(word, names)
    if close is not None:
        return f'did you mean "{close}"?'
    if names:
        return f"known: {', '.join(names[:40])}"
    return None
