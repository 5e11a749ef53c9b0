"""Where each key of a TOML text stands.

`tomllib` reads the values but gives no positions, so this walks over text that `tomllib` has
already accepted and notes line and column of every key. Being allowed to assume valid TOML keeps
it small: it has to know where things begin and end, not what they mean.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from typing import Final

#: The way to a value: names of tables and keys, and numbers in arrays.
Path = tuple[str | int, ...]
Place = tuple[int, int]

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]}#\r\n]*")
_STRINGS: Final = (
    re.compile(r'"""(?:[^"\\]|\\.|"(?!""))*"""(?:""(?!")|"(?!"))?', re.DOTALL),
    re.compile(r"'''(?:[^']|'(?!''))*'''(?:''(?!')|'(?!'))?", re.DOTALL),
    re.compile(r'"(?:[^"\\\n]|\\.)*"'),
    re.compile(r"'[^'\n]*'"),
)


def key_places(text: str) -> dict[Path, Place]:
    """Return line and column (1-based) of every key and array item of valid TOML text.

    A table made by several headers or dotted keys is where its name first stands.
    """
    walker = _Walker(text)
    walker.document()
    return walker.places


class _Walker:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.places: dict[Path, Place] = {}
        self.counts: dict[Path, int] = {}
        self.line_starts = [0] + [m.end() for m in re.finditer("\n", text)]

    def document(self) -> None:
        table: Path = ()
        self.skip(_BLANK)
        while self.at < len(self.text):
            if self.text.startswith("[[", self.at):
                table = self.header(2)
            elif self.text[self.at] == "[":
                table = self.header(1)
            else:
                self.key_and_value(table)
            self.skip(_BLANK)

    def header(self, brackets: int) -> Path:
        start = self.at
        self.at += brackets
        names = self.dotted_key()
        self.at += brackets
        path: Path = ()
        for number, name in enumerate(names):
            path = (*path, name)
            last = number == len(names) - 1
            self.places.setdefault(path, self.place(start))
            if last and brackets == 2:
                self.counts[path] = self.counts.get(path, -1) + 1
                path = (*path, self.counts[path])
                self.places[path] = self.place(start)
            elif path in self.counts:
                path = (*path, self.counts[path])
        return path

    def key_and_value(self, table: Path) -> None:
        start = self.at
        path = table
        for name in self.dotted_key():
            path = (*path, name)
            self.places.setdefault(path, self.place(start))
        self.skip(_SPACE)
        self.at += 1  # the equals sign
        self.skip(_SPACE)
        self.value(path)

    def dotted_key(self) -> list[str]:
        names: list[str] = []
        while True:
            self.skip(_SPACE)
            names.append(self.simple_key())
            self.skip(_SPACE)
            if not self.text.startswith(".", self.at):
                return names
            self.at += 1

    def simple_key(self) -> str:
        start = self.at
        if self.text[self.at] in "\"'":
            self.string()
            written = self.text[start : self.at]
            return str(tomllib.loads(f"key = {written}")["key"])
        self.skip(_BARE_KEY)
        return self.text[start : self.at]

    def value(self, path: Path) -> None:
        first = self.text[self.at]
        if first in "\"'":
            self.string()
        elif first == "[":
            self.array(path)
        elif first == "{":
            self.inline_table(path)
        else:
            self.skip(_SCALAR)

    def array(self, path: Path) -> None:
        self.at += 1
        self.skip(_BLANK)
        number = 0
        while self.text[self.at] != "]":
            item = (*path, number)
            self.places[item] = self.place(self.at)
            self.value(item)
            number += 1
            self.next_item()
        self.at += 1

    def inline_table(self, path: Path) -> None:
        self.at += 1
        self.skip(_BLANK)
        while self.text[self.at] != "}":
            self.key_and_value(path)
            self.next_item()
        self.at += 1

    def next_item(self) -> None:
        self.skip(_BLANK)
        if self.text[self.at] == ",":
            self.at += 1
            self.skip(_BLANK)

    def string(self) -> None:
        for pattern in _STRINGS:
            match = pattern.match(self.text, self.at)
            if match:
                self.at = match.end()
                return
        raise ValueError("not valid TOML")

    def skip(self, pattern: re.Pattern[str]) -> None:
        match = pattern.match(self.text, self.at)
        if match:
            self.at = match.end()

    def place(self, at: int) -> Place:
        line = bisect_right(self.line_starts, at)
        return line, at - self.line_starts[line - 1] + 1
