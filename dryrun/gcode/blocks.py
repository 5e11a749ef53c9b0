"""One line of text to one block: words, parameter settings, and a keyword if there is one.

NISTIR 6556 3.3 and appendix E give the shape: an optional slash, an optional line number, then
words, settings and comments in any order. What common practice adds is asked of the controller,
capability by capability. Reading looks at nothing but the line.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Final

from dryrun.gcode.controller import Controller
from dryrun.gcode.expressions import NUMBER, Node, Reader, as_integer, number
from dryrun.gcode.keywords import Keyword, read_keyword
from dryrun.gcode.text import Bare, Fault, bare, columns
from dryrun.gcode.words import LETTERS, REPORT_LETTERS


@dataclass(frozen=True, slots=True)
class Word:
    """A letter and its value; start and end are places in the bare code."""

    letter: str
    value: Node
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Setting:
    """A parameter setting: target (a number, or a name) and the value it gets."""

    index: Node | str
    value: Node
    start: int
    end: int


@dataclass(slots=True)
class Block:
    """One line, read.

    Attributes
    ----------
    raw, code : str
        The line as written, and bare.
    slash : bool
        Whether it starts with a slash (block delete).
    number, label : int, str or None
        Line number, and program name after O or a colon.
    words, settings
        In the order written.
    keyword : Keyword or None
        Flow control.
    comments : list of str
    notes : list of Fault
        What is worth saying although the line can be read.
    fault : Fault or None
        Why the line cannot be read; nothing of it is then carried out.
    sorted : object
        Room for `line` to keep the codes of a line that is run again.
    """

    raw: str
    code: str = ""
    slash: bool = False
    number: int | None = None
    label: str | None = None
    words: list[Word] = field(default_factory=list)
    settings: list[Setting] = field(default_factory=list)
    keyword: Keyword | None = None
    comments: list[str] = field(default_factory=list)
    notes: list[Fault] = field(default_factory=list)
    fault: Fault | None = None
    sorted: object = None


#: A line with more words than this is no program.
MOST_WORDS: Final = 1000

_WORD: Final = re.compile(r"([A-Z])([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))")
_LINE_NUMBER: Final = re.compile(r"N([0-9]+)(\.[0-9]*)?")
_LABEL: Final = re.compile(r"(?:O|:)([0-9]+|<[^<>]*>)")
_CHECKSUM: Final = re.compile(r"\*([0-9]+)$")
_EXPONENT: Final = re.compile(r"E[+-][0-9]+")
#: A blank between two figures, and a number with the letter and sign before it; names in angle
#: brackets are no numbers.
_SPLIT: Final = re.compile(r"[0-9.][ \t]+[0-9.]")
_NUMBERS: Final = re.compile(r"<[^<>]*>|[A-Z#]?[+-]?([0-9.]{2,})")


def read_block(raw: str, controller: Controller) -> Block:
    """Read one line; a fault in it is kept in the block, not raised."""
    stripped = bare(raw, controller)
    block = Block(raw, stripped.code, comments=stripped.comments)
    try:
        _take_comment_faults(block, stripped)
        _check_length(block, controller)
        _Items(block, controller).read()
        if _SPLIT.search(raw):
            _note_blanks(block, controller)
    except Fault as fault:
        block.fault = fault
    return block


def _note_blanks(block: Block, controller: Controller) -> None:
    """Note numbers with a blank inside: legal (3.3), and nearly always a lost letter."""
    place = columns(block.raw, controller)
    for found in _NUMBERS.finditer(block.code):
        first, last = found.start(1), found.end(1) - 1
        if first < 0 or place[last] - place[first] == last - first:
            continue
        begin, end = place[found.start()], place[last] + 1
        block.notes.append(
            Fault(
                "unreadable-line",
                f"a blank stands inside a number: {block.raw[begin:end]!r} is read as "
                f"{found.group()!r}",
                begin,
                end,
                help="put the letter back that seems to be lost, or take the blank out",
                raw=True,
                level="warning",
            )
        )


def _take_comment_faults(block: Block, stripped: Bare) -> None:
    for fault in stripped.faults:
        if fault.level == "error":
            raise fault
        block.notes.append(fault)


def _check_length(block: Block, controller: Controller) -> None:
    """At most 256 characters (3.3), counted on the line as written."""
    limit = controller.line_length
    if limit is not None and len(block.raw) > limit:
        raise Fault(
            "unreadable-line",
            f"the line has {len(block.raw)} characters, the limit is {limit}",
            limit,
            len(block.raw),
            help="shorten the comment or split the line",
            raw=True,
        )


class _Items:
    """Reads the items of one line in order."""

    def __init__(self, block: Block, controller: Controller) -> None:
        self.block = block
        self.controller = controller
        self.reader = Reader(block.code, controller, block.notes)
        self.seen: dict[str, Word] = {}

    def read(self) -> None:
        at = self._checksum(self._head())
        code = self.block.code
        keyword, end = read_keyword(self.reader, at, self.block.label)
        if keyword is not None:
            self.block.keyword = keyword
            at = end
        size = len(code)
        while at < size:
            at = self._item(at)

    # ---- the head of the line: slash, label, line number

    def _head(self) -> int:
        code, block = self.block.code, self.block
        at = 0
        if code.startswith("/"):
            block.slash = True
            at = 1
            if not self.controller.to_the_letter and code[1:2].isdigit():
                at = 2
        at = self._line_number(at)
        at = self._label(at)
        return self._line_number(at) if block.number is None else at

    def _line_number(self, at: int) -> int:
        """N and one to five digits (3.3.1)."""
        code = self.block.code
        if code[at : at + 1] != "N":
            return at
        found = _LINE_NUMBER.match(code, at)
        if found is None:
            raise Fault(
                "unreadable-line",
                "a line number without digits",
                at,
                help="write N and one to five digits",
            )
        limit = self.controller.line_number_digits
        digits = found.group(1)
        if limit is not None and len(digits) > limit:
            raise Fault(
                "unreadable-line",
                f"the line number has {len(digits)} digits, the limit is {limit}",
                at,
                found.end(),
                help="renumber the lines",
            )
        if limit is not None and found.group(2):
            raise Fault("unreadable-line", "a line number has no point", at, found.end())
        self.block.number = int(digits[-15:])
        return found.end()

    def _label(self, at: int) -> int:
        code = self.block.code
        if code[at : at + 1] not in ("O", ":") or not code[at : at + 1]:
            return at
        found = _LABEL.match(code, at)
        if found is None or not self.controller.takes("program-names"):
            if code[at] == ":":
                raise Fault("unreadable-line", "':' starts no word", at)
            return at
        text = found.group(1)
        self.block.label = str(int(text[-15:])) if text[0] != "<" else text[1:-1].lower()
        return found.end()

    def _checksum(self, at: int) -> int:
        """`*` and digits at the end: exclusive or of all bytes before it (common practice)."""
        block = self.block
        found = _CHECKSUM.search(block.code, at)
        if found is None or not self.controller.takes("checksums"):
            return at
        if block.code.count("[", 0, found.start()) != block.code.count("]", 0, found.start()):
            return at
        if block.number is None and block.code[found.start() - 1 : found.start()] == "*":
            return at
        place = _last_star(block.raw)
        total = 0
        for byte in block.raw[:place].encode("utf-8", "replace"):
            total ^= byte
        wanted = int(found.group(1)[-6:])
        if total != wanted:
            raise Fault(
                "unreadable-line",
                f"the checksum is {wanted}, but the line adds up to {total}",
                found.start(),
                found.end(),
                help="the line was damaged or edited; write it again without the checksum",
            )
        block.code = self.reader.code = block.code[: found.start()]
        return at

    # ---- words and settings

    def _item(self, at: int) -> int:
        code = self.block.code
        found = _WORD.match(code, at)
        if found is not None:
            letter = found.group(1)
            end = found.end()
            value: Node = number(found.group(2), at + 1)
            if code[end : end + 1] == "E" and not self.controller.to_the_letter:
                value, end = self._exponent(at, end, value)
            self._add(letter, value, at, end)
            return end
        sign = code[at]
        if sign == "#":
            return self._setting(at)
        if sign in LETTERS:
            self._check_letter(sign, at, at + 1)
            value, end = self.reader.value(at + 1, f"the number after {sign}")
            self._add(sign, value, at, end)
            return end
        return self._stray(sign, at)

    def _exponent(self, at: int, end: int, value: Node) -> tuple[Node, int]:
        found = _EXPONENT.match(self.block.code, end)
        if found is None:
            return value, end
        text = self.block.code[at + 1 : found.end()]
        self.block.notes.append(
            Fault(
                "unreadable-line",
                f"{text} is written with an exponent, which many controllers refuse",
                at,
                found.end(),
                help="write the number out",
                level="warning",
            )
        )
        return number(text, at), found.end()

    def _add(self, letter: str, value: Node, at: int, end: int) -> None:
        self._check_letter(letter, at, end)
        if len(self.block.words) >= MOST_WORDS:
            raise Fault("unreadable-line", f"more than {MOST_WORDS} words on one line", at, end)
        word = Word(letter, value, at, end)
        if letter == "N":
            self._late_number(word)
            return
        if letter not in "GM":
            if letter in self.seen:
                raise Fault(
                    "conflicting-words",
                    f"{letter} stands twice on the line",
                    at,
                    end,
                    help=f"keep one {letter} word; only G and M may repeat",
                )
            self.seen[letter] = word
        self.block.words.append(word)

    def _check_letter(self, letter: str, at: int, end: int) -> None:
        if self.controller.to_the_letter and letter not in REPORT_LETTERS:
            hint = "a line number stands first on its line" if letter == "N" else None
            raise Fault(
                "unknown-word",
                f"{letter} starts no word" + (" here" if letter == "N" else ""),
                at,
                end,
                help=hint or "letters are A B C D F G H I J K L M P Q R S T X Y Z",
            )
        if letter == "O" and any(word.letter not in "GM" for word in self.block.words):
            raise Fault(
                "unknown-word",
                "O names a program and stands first on its line; it means nothing here",
                at,
                end,
                help="a zero was perhaps meant, and the letter O written",
            )

    def _late_number(self, word: Word) -> None:
        if isinstance(word.value, float) and self.block.number is None:
            whole = as_integer(word.value)
            self.block.number = whole
        self.block.notes.append(
            Fault(
                "ignored-word",
                "a line number that is not first on its line",
                word.start,
                word.end,
                level="note",
            )
        )

    def _setting(self, at: int) -> int:
        """`#` index `=` one real value (3.3.3); common practice also takes a bare expression."""
        code = self.block.code
        target: Node | str
        named = re.compile(r"#<([^<>]{1,80})>").match(code, at)
        if named is not None and self.controller.takes("named-parameters"):
            target, end = named.group(1).lower(), named.end()
        else:
            target, end = self.reader.index(at)
        if code[end : end + 1] != "=":
            raise Fault(
                "unreadable-line",
                "a parameter stands alone",
                at,
                end,
                help=f"to set it write {code[at:end]}=1; to use it put a letter before it",
            )
        value, end = self._right_side(end + 1)
        self.block.settings.append(Setting(target, value, at, end))
        return end

    def _right_side(self, at: int) -> tuple[Node, int]:
        if self.controller.to_the_letter:
            return self.reader.value(at, "the new value")
        return self.reader.sum(at)

    def _corner(self, letter: str, at: int) -> int:
        """`,R` and `,C` round or break the corner at the end of a line (common practice)."""
        _, end = self.reader.value(at + 2, f"the number after ,{letter}")
        kind = "rounding" if letter == "R" else "chamfer"
        self.block.notes.append(
            Fault(
                "not-accepted",
                f"corner {kind} (,{letter}) is not worked out here: the corner is followed sharp",
                at,
                end,
                help="write the corner as its own line or arc",
            )
        )
        return end

    def _stray(self, sign: str, at: int) -> int:
        code = self.block.code
        following = code[at + 1 : at + 2]
        help = None
        what = f"{sign!r} starts no word"
        if sign == ",":
            if following.isdigit():
                what, help = "a comma inside a number", "write a point: 1.5, not 1,5"
            elif following in ("R", "C") and following:
                return self._corner(following, at)
        elif sign == ";":
            help = "the controller takes comments in parentheses only"
        elif sign in "+-." and NUMBER.match(code, at):
            help = "put a sum in brackets: X[#1+2]"
        elif sign == "(":
            what, help = "a comment inside a number", "put the comment between two words"
        elif sign == "/":
            help = "a slash for block delete stands first on its line"
        raise Fault("unreadable-line", what, at, help=help)


def _last_star(raw: str) -> int:
    """Index of the `*` of the checksum: the last one outside comments."""
    depth = 0
    last = -1
    for index, sign in enumerate(raw):
        if sign == "(":
            depth = 1
        elif sign == ")":
            depth = 0
        elif sign == ";" and not depth:
            break
        elif sign == "*" and not depth:
            last = index
    return last
