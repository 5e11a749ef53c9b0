"""A planted mistake: small edits on a clean job, the codes that would tell it, and where."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

Files = dict[str, str]
Edit = Callable[[Files], None]


@dataclass(frozen=True)
class Mistake:
    """What somebody did wrong.

    `codes` are those that would do; `lines` are the lines (after the edit) of `program` that are
    right; none for a mistake of the set-up or of a whole stage. `kind` marks those of kinds that
    earlier sets had shown to be hard.
    """

    name: str
    job: str
    edits: tuple[Edit, ...]
    codes: frozenset[str]
    program: str | None = None
    lines: frozenset[int] = field(default_factory=frozenset)

    def apply(self, files: Files) -> Files:
        changed = dict(files)
        for edit in self.edits:
            edit(changed)
        assert changed != files, f"{self.name} changes nothing"
        return changed


def _split(files: Files, name: str) -> list[str]:
    return files[name].split("\n")


def line(name: str, number: int, old: str, new: str) -> Edit:
    """In one line, `old` becomes `new`."""

    def edit(files: Files) -> None:
        lines = _split(files, name)
        assert lines[number - 1].count(old) == 1, (name, number, old, lines[number - 1])
        lines[number - 1] = lines[number - 1].replace(old, new)
        files[name] = "\n".join(lines)

    return edit


def lose(name: str, number: int, text: str) -> Edit:
    """A line is lost."""

    def edit(files: Files) -> None:
        lines = _split(files, name)
        assert lines[number - 1] == text, (name, number, text, lines[number - 1])
        del lines[number - 1]
        files[name] = "\n".join(lines)

    return edit


def put(name: str, number: int, text: str) -> Edit:
    """A line is put before line `number`."""

    def edit(files: Files) -> None:
        lines = _split(files, name)
        lines.insert(number - 1, text)
        files[name] = "\n".join(lines)

    return edit


def cut_off(name: str, number: int, text: str) -> Edit:
    """The file ends in line `number`, which then reads `text`."""

    def edit(files: Files) -> None:
        lines = _split(files, name)
        assert lines[number - 1].startswith(text), (name, number, lines[number - 1])
        files[name] = "\n".join([*lines[: number - 1], text])

    return edit


def everywhere(name: str, pattern: str, new: str) -> Edit:
    """Search and replace through a file."""

    def edit(files: Files) -> None:
        text, count = re.subn(pattern, new, files[name], flags=re.MULTILINE)
        assert count, (name, pattern)
        files[name] = text

    return edit


def said(old: str, new: str, after: str = "") -> Edit:
    """In the job file, the first `old` (behind `after`) becomes `new`."""

    def edit(files: Files) -> None:
        text = files["job.toml"]
        start = text.index(after)
        at = text.index(old, start)
        files["job.toml"] = text[:at] + new + text[at + len(old) :]

    return edit


def stage(number: int, key: str, value: str) -> Edit:
    """In the job file, a key of a stage is set; `value` as TOML."""

    def edit(files: Files) -> None:
        head, *stages = files["job.toml"].split("[[stages]]\n")
        lines = [row for row in stages[number - 1].split("\n") if not row.startswith(f"{key} =")]
        lines.insert(1, f"{key} = {value}")
        stages[number - 1] = "\n".join(lines)
        files["job.toml"] = "[[stages]]\n".join([head, *stages])

    return edit


def order(*numbers: int) -> Edit:
    """The stages come in another order, or some are left out."""

    def edit(files: Files) -> None:
        head, *stages = files["job.toml"].split("[[stages]]\n")
        chosen = [stages[number - 1].rstrip("\n") + "\n\n" for number in numbers]
        files["job.toml"] = "[[stages]]\n".join([head, *chosen])

    return edit
