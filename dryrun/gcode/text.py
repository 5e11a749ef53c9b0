"""Bytes to lines, and a line to bare code: what is not code is taken out, places are kept.

Columns are counted in code points of the line as written, a tab is one. A line's code is what is
left when comments are cut out, blanks dropped and letters raised (NISTIR 6556 3.3, D.3.1): blanks
mean nothing anywhere outside comments, even inside a number.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Final

from dryrun.gcode.controller import Controller

#: a-z to A-Z; blank and tab dropped.
_PLAIN: Final = {ord(" "): None, ord("\t"): None} | {c: c - 32 for c in range(97, 123)}
#: The same, and control characters, byte order mark and no-break space dropped too.
_LOOSE: Final = _PLAIN | dict.fromkeys((*range(32), 127, *range(128, 161), 0xFEFF))

_SPECIAL: Final = re.compile(r"[();/]")
_DIGITS: Final = "0123456789."
_MESSAGE: Final = re.compile(r"[ \t]*M[ \t]*S[ \t]*G[ \t]*,", re.IGNORECASE)


def decode(data: bytes) -> tuple[str, str]:
    """Return the text and the name of its encoding: UTF-8 where it fits, otherwise Latin-1."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            return data.decode("utf-16"), "utf-16"
        except UnicodeDecodeError:
            pass
    if data.startswith(b"\xef\xbb\xbf"):
        data = data[3:]
    try:
        return data.decode("utf-8"), "utf-8"
    except UnicodeDecodeError:
        return data.decode("latin-1"), "latin-1"


def split_lines(text: str) -> list[str]:
    """Split at CR, LF or CR LF, and at nothing else; a last empty line is not a line."""
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    lines = text.split("\n")
    if not lines[-1]:
        lines.pop()
    return lines


#: One line tells no more faults than this.
MOST_FAULTS: Final = 50


class Fault(Exception):  # noqa: N818 - what people call it
    """One thing wrong with a line: what, where in its bare code, and how to put it right."""

    def __init__(
        self,
        code: str,
        message: str,
        start: int = 0,
        end: int | None = None,
        help: str | None = None,
        *,
        raw: bool = False,
        level: str = "error",
    ) -> None:
        super().__init__(message)
        self.code = code
        self.message = message
        self.start = start
        self.end = start + 1 if end is None else end
        self.help = help
        #: Whether start and end count in the line as written rather than in its bare code.
        self.raw = raw
        self.level = level


@dataclass(slots=True)
class Bare:
    """A line without what is not code.

    Attributes
    ----------
    code : str
        Letters raised, blanks and comments gone.
    comments : list of str
        Texts of the comments, in order, parentheses off.
    faults : list of Fault
        What was wrong with the comments; places in the line as written.
    """

    code: str
    comments: list[str] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)


def message_of(comment: str) -> str | None:
    """Return the operator message of a comment, or None (NISTIR 6556 3.3.4)."""
    found = _MESSAGE.match(comment)
    return comment[found.end() :].strip() if found else None


def bare(raw: str, controller: Controller) -> Bare:
    """Strip a line to its code."""
    table = _LOOSE if controller.takes("control-characters") else _PLAIN
    if not _SPECIAL.search(raw):
        return Bare(raw.translate(table))
    result = Bare("")
    pieces = _cut(raw, result, controller)
    result.code = "".join(raw[start:stop].translate(table) for start, stop in pieces)
    return result


def columns(raw: str, controller: Controller) -> list[int]:
    """Return, for each character of the bare code, its index in the line; the end comes last."""
    table = _LOOSE if controller.takes("control-characters") else _PLAIN
    places = [
        index
        for start, stop in _cut(raw, Bare(""), controller)
        for index in range(start, stop)
        if raw[index].translate(table)
    ]
    places.append(places[-1] + 1 if places else 0)
    return places


def _cut(raw: str, result: Bare, controller: Controller) -> list[tuple[int, int]]:
    """Return the pieces of a line outside comments; comments and faults go into `result`."""
    pieces: list[tuple[int, int]] = []
    begin = at = 0
    while found := _SPECIAL.search(raw, at):
        place = found.start()
        sign = raw[place]
        at = place + 1
        if sign == "(":
            pieces.append((begin, place))
            begin = at = _comment(raw, place, result, controller)
            near = raw[max(0, place - 40) : place].rstrip(), raw[at : at + 40].lstrip()
            if _splits_number(near[0][-1:], near[1][:1]):
                pieces.append((place, place + 1))
        elif _to_the_end(raw, place, controller):
            pieces.append((begin, place))
            result.comments.append(raw[place:].lstrip(";/").strip())
            return pieces
        elif sign == ")" and controller.takes("loose-comments"):
            pieces.append((begin, place))
            begin = at
            if len(result.faults) < MOST_FAULTS:
                result.faults.append(_lone(place))
    pieces.append((begin, len(raw)))
    return pieces


def _lone(place: int) -> Fault:
    return Fault(
        "unreadable-line",
        "a closing parenthesis without an opening one",
        place,
        help="delete it, or open the comment with ( on the same line",
        raw=True,
        level="warning",
    )


def _splits_number(before: str, after: str) -> bool:
    """Whether a comment stands inside a number; comments stand between items (3.3)."""
    return before != "" and after != "" and before in _DIGITS and after in _DIGITS


def _to_the_end(raw: str, at: int, controller: Controller) -> bool:
    if raw[at] == ";":
        return controller.takes("semicolon-comments")
    return raw.startswith("//", at) and controller.takes("slash-comments")


def _comment(raw: str, at: int, result: Bare, controller: Controller) -> int:
    """Take one comment in parentheses and return the index after it."""
    close = raw.find(")", at)
    nested = raw.find("(", at + 1, close if close >= 0 else len(raw)) >= 0
    loose = controller.takes("loose-comments")
    level = "warning" if loose else "error"
    if close < 0:
        result.faults.append(
            Fault(
                "unreadable-line",
                "the comment is not closed on its line",
                at,
                len(raw),
                help="close the comment with ) on the same line",
                raw=True,
                level=level,
            )
        )
        result.comments.append(raw[at + 1 :].strip())
        return len(raw)
    if nested and len(result.faults) < MOST_FAULTS:
        result.faults.append(
            Fault(
                "unreadable-line",
                "a parenthesis opens inside a comment; comments do not nest",
                at,
                close + 1,
                help="use other marks inside the comment; the first ) ends it",
                raw=True,
                level=level,
            )
        )
        if loose:
            close = _balanced(raw, at, close)
    result.comments.append(raw[at + 1 : close])
    return close + 1


def _balanced(raw: str, at: int, otherwise: int) -> int:
    """Return where the parenthesis opened at `at` is closed in balance, or `otherwise`."""
    depth = 0
    for index in range(at, len(raw)):
        if raw[index] == "(":
            depth += 1
        elif raw[index] == ")":
            depth -= 1
            if depth == 0:
                return index
    return otherwise
