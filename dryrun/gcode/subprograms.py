"""Subprograms: finding them, calling them, coming back.

M98 and M99 in one text or beside it, M97 by line number, L words ended by M17, O-word subs, and
G65 with arguments. Files are looked for in the program's own folder only, never through a
symbolic link. Common practice, no source; modal state is neither saved nor restored by a call.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Final

from dryrun.gcode.expressions import as_integer
from dryrun.gcode.flow import value_of
from dryrun.gcode.keywords import Keyword
from dryrun.gcode.line import Line
from dryrun.gcode.text import Fault, decode, split_lines

if TYPE_CHECKING:
    from dryrun.gcode.interpreter import Interpreter

#: Largest subprogram file that is read, bytes; and most files looked at in a folder.
LARGEST_FILE: Final = 64_000_000
MOST_FILES: Final = 20_000
#: Locals of an O-word sub.
_LABELLED_LOCALS: Final = 30

#: Argument letters of G65 and the local parameters they set (common practice, no source).
ARGUMENTS: Final[dict[str, int]] = {
    "A": 1, "B": 2, "C": 3, "I": 4, "J": 5, "K": 6, "D": 7, "E": 8, "F": 9, "H": 11, "M": 13,
    "Q": 17, "R": 18, "S": 19, "T": 20, "U": 21, "V": 22, "W": 23, "X": 24, "Y": 25, "Z": 26,
}  # fmt: skip

_LABEL: Final = re.compile(
    r"[ \t]*/?[ \t]*(?:N[0-9 ]+)?[ \t]*[O:][ \t]*(?:([0-9][0-9 \t]*)|<([^<>]*)>)(.*)", re.IGNORECASE
)
_NUMBER: Final = re.compile(r"[ \t]*/?[ \t]*N[ \t]*([0-9]{1,9})(?![0-9.])", re.IGNORECASE)
_LETTER: Final = re.compile(
    r"[ \t]*/?[ \t]*(?:N[0-9]+)?[ \t]*L[ \t]*([0-9]{1,6})[ \t]*(?:[;(].*)?$", re.IGNORECASE
)
_ENDS: Final = re.compile(r"(?<![A-Z0-9.])M0*(?:2|30|17|99)(?![0-9.])", re.IGNORECASE)
_REMARK: Final = re.compile(r"[ \t]*(?:\([^)]*\)[ \t]*|;.*)*$")
_SUB: Final = re.compile(r"S[ \t]*U[ \t]*B", re.IGNORECASE)


@dataclass(slots=True)
class Frame:
    """One level of call: where it came from and how often it still runs.

    Attributes
    ----------
    kind : "main", "M98", "M97", "G65", "O" or "L"
    source, index : where to go on afterwards
    start : where the subprogram begins (source, index)
    left : passes still to make
    counts : passes left of the repeat loops at this level
    local : whether the level has its own parameters
    """

    kind: str = "main"
    source: int = 0
    index: int = 0
    start: tuple[int, int] = (0, 0)
    left: int = 0
    counts: dict[int, int] = field(default_factory=dict)
    local: bool = False


class Index:
    """Labels and line numbers of one text."""

    def __init__(self, lines: Sequence[str]) -> None:
        self.labels: dict[str, int] = {}
        self.subs: dict[str, int] = {}
        self.numbers: dict[int, list[int]] = {}
        self.letters: dict[int, int] = {}
        open_for_letter = False
        for at, raw in enumerate(lines):
            if len(raw) > 4096:
                continue
            found = _LABEL.match(raw)
            if found is not None:
                digits, name, rest = found.groups()
                key = str(int(re.sub(r"[ \t]", "", digits)[-15:])) if digits else name.lower()
                key = key.replace(" ", "")
                (self.subs if _SUB.match(rest.strip()) else self.labels).setdefault(key, at)
            numbered = _NUMBER.match(raw)
            if numbered is not None:
                self.numbers.setdefault(int(numbered.group(1)), []).append(at)
            letter = _LETTER.match(raw) if open_for_letter else None
            if letter is not None:
                self.letters.setdefault(int(letter.group(1)), at)
                open_for_letter = False
            elif _ENDS.search(raw):
                open_for_letter = True
            elif not _REMARK.match(raw) and raw.strip() != "%":
                open_for_letter = False


class Subprograms:
    """Calls and returns of one run."""

    def __init__(self, run: Interpreter, folder: Path | None) -> None:
        self.run = run
        self.folder = folder
        self._indexes: dict[int, Index] = {}
        self._files: dict[str, int | None] = {}
        self._listing: dict[str, Path] | None = None

    def index_of(self, source: int) -> Index:
        """Return the labels of a text."""
        if source not in self._indexes:
            self._indexes[source] = Index(self.run.sources[source].lines)
        return self._indexes[source]

    def find_number(self, number: int) -> int | None:
        """Return the line with an N number: forward from here, then from the top."""
        places = self.index_of(self.run.source).numbers.get(number, [])
        for at in places:
            if at >= self.run.index:
                return at
        return places[0] if places else None

    # ---- calls

    def call(self, line: Line) -> bool:
        """M97, M98, M99 or M17 on a line, after everything else on it; True when one stood there.

        Common practice carries out the motion of the line first.
        """
        done = False
        for code, word in line.others:
            if code.group != "call":
                continue
            done = True
            if code.key == 990 or code.key == 170:
                self.come_back(line.values.get("P") if code.key == 990 else None)
                return True
            count = self._count(line, "L")
            value = line.values.get("P")
            if value is None:
                raise line.fault("missing-word", f"{code.name} does not say what to call: P is "
                                 "missing", word, "write P and the number")  # fmt: skip
            if code.key == 970:
                self._call_number(line, value, count)
            else:
                self._call_program(line, value, count, "M98", None)
        return done

    def macro(self, line: Line) -> None:
        """G65: a call whose words become local parameters."""
        value = line.take("P")
        count = self._count(line, "L")
        line.used.update(line.values)
        if value is None:
            raise line.fault("missing-word", "G65 does not say what to call: P is missing",
                             line.word_of("once"))  # fmt: skip
        arguments = {
            ARGUMENTS[letter]: number
            for letter, number in line.values.items()
            if letter in ARGUMENTS
        }
        self._call_program(line, value, count, "G65", arguments)

    def letter(self, line: Line) -> bool:
        """`L10` alone on a line, perhaps with P for repeats: a call of subprogram L10."""
        words = {w.letter for w in line.block.words}
        if "L" not in words or words - {"L", "P"} or line.block.settings:
            return False
        number = as_integer(line.values["L"])
        if number is None or not self.run.controller.takes("letter-subprograms"):
            return False
        line.used.update("LP")
        here = self.index_of(self.run.source).letters
        if here.get(number) == self.run.index - 1:
            return True
        target = self._in_texts(lambda index: index.letters.get(number))
        if target is None:
            target = self._in_file((f"L{number}", f"L{number:02d}", f"L{number:03d}",
                                    f"L{number:04d}"))  # fmt: skip
        if target is None:
            raise line.fault("missing-word", f"subprogram L{number} is neither in the program nor "
                             "beside it", line.words["L"])  # fmt: skip
        self._enter("L", target, self._count(line, "P"), line)
        return True

    def labelled(self, keyword: Keyword, here: int) -> None:
        """O-word sub, endsub, call and return."""
        run = self.run
        name = keyword.label[1:]
        if keyword.kind == "sub":
            end = run.structure().partner.get(here)
            if end is None:
                raise run.structure().faults[here]
            run.go(end + 1)
        elif keyword.kind in ("endsub", "return"):
            if keyword.test is not None:
                run.parameters.write_named("_value", value_of(run, keyword.test))
            if run.frame.kind == "O":
                self.come_back(None)
            else:
                raise Fault("missing-word", f"O{name} {keyword.kind} outside a call",
                            keyword.start, keyword.end)  # fmt: skip
        else:
            values = [value_of(run, node) for node in keyword.arguments[:_LABELLED_LOCALS]]
            target = self._in_texts(lambda index: index.subs.get(name))
            if target is None:
                target = self._in_file((name,) if not name.isdigit() else (name, f"O{name}"))
                if target is not None:
                    source, _ = target
                    inside = self.index_of(source).subs.get(name)
                    target = (source, inside) if inside is not None else target
            if target is None:
                raise Fault("missing-word", f"sub O{name} is neither in the program nor beside it",
                            keyword.start, keyword.end)  # fmt: skip
            self._open_labelled(target, values, keyword)

    def _open_labelled(
        self, target: tuple[int, int], values: list[float], keyword: Keyword
    ) -> None:
        if self._deepest():
            self.run.ended = True
            raise Fault("endless-program", self._too_deep(), keyword.start, keyword.end)
        self._push("O", target, 1)
        arguments = {at + 1: value for at, value in enumerate(values)}
        self.run.parameters.open_level(arguments, _LABELLED_LOCALS)
        self.run.frame.local = True
        self.run.go(target[1] + 1, target[0], call=True)

    def _call_number(self, line: Line, value: float, count: int) -> None:
        number = as_integer(value)
        index = None if number is None else self.find_number(number)
        if index is None:
            raise line.fault("missing-word", f"there is no line N{value:g} to call",
                             line.words["P"])  # fmt: skip
        self._enter("M97", (self.run.source, index), count, line)

    def _call_program(
        self,
        line: Line,
        value: float,
        count: int,
        kind: str,
        arguments: dict[int, float] | None,
    ) -> None:
        number = as_integer(value)
        target = None if number is None else self._find_program(number)
        if target is None and number is not None and number > 9999 and "L" not in line.values:
            # some controllers pack the repeats in front of the four digits of the number
            packed = self._find_program(number % 10000)
            if packed is not None:
                target, count = packed, number // 10000
        if target is None:
            raise line.fault(
                "missing-word",
                f"program O{value:g} is neither in this file nor beside it, so what it moves is "
                "not known",
                line.words.get("P"),
                "put the subprogram's file into the program's own folder",
            )
        self._enter(kind, target, count, line, arguments)

    def _find_program(self, number: int) -> tuple[int, int] | None:
        key = str(number)
        found = self._in_texts(lambda index: index.labels.get(key))
        if found is not None:
            return found
        names = {f"{letter}{number:0{width}d}" for letter in ("O", "P", "") for width in (1, 4, 5)}
        return self._in_file(tuple(sorted(names)))

    def _in_texts(self, look: Callable[[Index], int | None]) -> tuple[int, int] | None:
        run = self.run
        for source in (run.source, *range(len(run.sources))):
            at = look(self.index_of(source))
            if at is not None:
                return source, at
        return None

    def _count(self, line: Line, letter: str) -> int:
        value = line.take(letter)
        if value is None:
            return 1
        count = as_integer(value)
        if count is None or count < 0:
            raise line.fault("unreadable-line", f"{letter}{value:g} is no number of passes",
                             line.words[letter])  # fmt: skip
        return count

    def _enter(
        self,
        kind: str,
        target: tuple[int, int],
        count: int,
        line: Line,
        arguments: dict[int, float] | None = None,
    ) -> None:
        if count == 0:
            return
        if self._deepest():
            self.run.ended = True
            raise line.fault("endless-program", self._too_deep())
        self._push(kind, target, count)
        if arguments is not None:
            self.run.parameters.open_level(arguments)
            self.run.frame.local = True
        self.run.go(target[1], target[0], call=True)

    def _too_deep(self) -> str:
        limit = self.run.controller.nesting_limit
        what = "a subprogram seems to call itself; reading stops here"
        return f"calls nested deeper than {limit}; {what}"

    def _deepest(self) -> bool:
        return len(self.run.frames) > self.run.controller.nesting_limit

    def _push(self, kind: str, target: tuple[int, int], count: int) -> None:
        run = self.run
        run.frames.append(Frame(kind, run.source, run.index, target, count))

    # ---- returns

    def come_back(self, number: float | None) -> None:
        """M99, M17, return, or the end of a subprogram's text."""
        run = self.run
        frame = run.frame
        if frame.kind == "main":
            run.restart()
            return
        frame.left -= 1
        if frame.left > 0 and number is None:
            source, index = frame.start
            run.go(index + (frame.kind == "O"), source)
            return
        if frame.local:
            run.parameters.close_level()
        run.frames.pop()
        run.go(frame.index, frame.source, call=True)
        if number is not None:
            index_found = self.find_number(as_integer(number) or 0)
            if index_found is None:
                raise Fault("missing-word", f"there is no line N{number:g} to return to")
            run.go(index_found)

    # ---- files

    def _in_file(self, names: tuple[str, ...]) -> tuple[int, int] | None:
        """Return (source, 0) of the file whose name without suffix is one of the names."""
        for name in names:
            key = name.upper()
            if key not in self._files:
                self._files[key] = self._load(key)
            source = self._files[key]
            if source is not None:
                return source, 0
        return None

    def _load(self, key: str) -> int | None:
        path = self._files_beside().get(key)
        if path is None:
            return None
        try:
            data = path.read_bytes()
        except OSError:
            return None
        text, _ = decode(data)
        return self.run.add_source(path.name, split_lines(text))

    def _files_beside(self) -> dict[str, Path]:
        """Plain files of the program's own folder, by upper-case name without suffix."""
        if self._listing is None:
            self._listing = {}
            if self.folder is not None:
                self._list(self.folder, self._listing)
        return self._listing

    def _list(self, folder: Path, listing: dict[str, Path]) -> None:
        own = self.run.sources[0].name
        try:
            entries = sorted(folder.iterdir())[:MOST_FILES]
        except OSError:
            return
        for path in entries:
            try:
                usable = not path.is_symlink() and path.is_file() and path.name != own
                if usable and path.stat().st_size <= LARGEST_FILE:
                    listing.setdefault(path.stem.upper(), path)
            except OSError:
                continue
