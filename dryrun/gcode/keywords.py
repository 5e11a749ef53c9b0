"""Flow control: two families of spelling, one internal form.

None of this is in NISTIR 6556. Family (a) writes a bracketed condition with a jump to a line
number, and loops as DO and END paired by a small number; family (b) puts a label word (O and a
number or name) in front of each keyword and pairs by label. Both become a `Keyword`; `flow` pairs
them up. Common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Final, Literal

from dryrun.gcode.expressions import Node, Reader
from dryrun.gcode.text import Fault

Kind = Literal[
    "goto", "if-goto", "if-then", "if", "elseif", "else", "endif", "while", "do", "end",
    "endwhile", "repeat", "endrepeat", "break", "continue", "sub", "endsub", "call", "return",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Keyword:
    """One keyword of flow control.

    Attributes
    ----------
    kind : str
    label : str
        What pairs it up: the number of a DO, the label of a family (b) word, "" none.
    test : Node or None
        Condition, or the count of a repeat, or the value of a return.
    target : Node or None
        Line number to jump to.
    arguments : tuple of Node
        Of a call.
    start, end : int
        Place in the bare code.
    """

    kind: Kind
    label: str
    test: Node | None
    target: Node | None
    start: int
    end: int
    arguments: tuple[Node, ...] = field(default=())


_JUMP: Final = re.compile(r"(IF|WHILE|ELSEIF)(?=\[)|GOTO|DO[0-9]+|END[0-9]+|ENDIF|ELSE")
_LABELLED: Final = re.compile(
    r"(IF|ELSEIF|WHILE|REPEAT)(?=\[)|SUB|ENDSUB|CALL|RETURN|ELSE|ENDIF|ENDWHILE|DO|ENDREPEAT"
    r"|BREAK|CONTINUE"
)
_FIRST: Final = frozenset("IWEGD")


def read_keyword(reader: Reader, at: int, label: str | None) -> tuple[Keyword | None, int]:
    """Read a keyword at `at`; None when there is none. Items may follow an if-then."""
    if label is not None:
        found = _LABELLED.match(reader.code, at)
        if found is None:
            return None, at
        _ask(reader, "labelled-flow", found)
        return _labelled(reader, found.group(), label, at, found.end())
    if reader.code[at : at + 1] not in _FIRST or at >= len(reader.code):
        return None, at
    found = _JUMP.match(reader.code, at)
    if found is None:
        return None, at
    word = found.group()
    jumps = word.startswith(("IF", "GOTO", "EL")) or word == "ENDIF"
    _ask(reader, "jumps" if jumps else "loops", found)
    return _plain(reader, word, at, found.end())


def _ask(reader: Reader, capability: str, found: re.Match[str]) -> None:
    if not reader.controller.takes(capability):
        raise Fault(
            "not-accepted",
            f"the controller does not take {found.group()} (flow control)",
            found.start(),
            found.end(),
            help=f"write the steps out, or declare {capability!r} in accepts",
        )


def _plain(reader: Reader, word: str, at: int, end: int) -> tuple[Keyword, int]:
    """Family (a)."""
    code = reader.code
    if word == "GOTO":
        target, end = reader.value(end, "the line number to jump to")
        return Keyword("goto", "", None, target, at, end), end
    if word in ("ELSE", "ENDIF"):
        kind: Kind = "else" if word == "ELSE" else "endif"
        return Keyword(kind, "", None, None, at, end), end
    if word.startswith("DO"):
        return Keyword("do", word[2:].lstrip("0"), None, None, at, end), end
    if word.startswith("END"):
        return Keyword("end", word[3:].lstrip("0"), None, None, at, end), end
    test, end = reader.bracket(end)
    if word == "WHILE":
        found = re.compile(r"DO([0-9]+)").match(code, end)
        if found is None:
            raise Fault(
                "unreadable-line",
                "WHILE without its DO number",
                at,
                end,
                help="write WHILE [#1 LT 5] DO1 ... END1",
            )
        return Keyword("while", found.group(1).lstrip("0"), test, None, at, end), found.end()
    if word == "ELSEIF":
        end += 4 if code.startswith("THEN", end) else 0
        return Keyword("elseif", "", test, None, at, end), end
    if code.startswith("GOTO", end):
        target, stop = reader.value(end + 4, "the line number to jump to")
        return Keyword("if-goto", "", test, target, at, stop), stop
    if code.startswith("THEN", end):
        end += 4
        if end == len(code):
            return Keyword("if", "", test, None, at, end), end
    elif end == len(code):
        raise Fault(
            "unreadable-line",
            "IF says what to test, but not what to do",
            at,
            end,
            help="follow it with GOTO and a line number, or THEN and a setting",
        )
    return Keyword("if-then", "", test, None, at, end), end


def _labelled(reader: Reader, word: str, label: str, at: int, end: int) -> tuple[Keyword, int]:
    """Family (b); labels get an O in front, so that they never meet those of family (a)."""
    label = f"O{label}"
    kind: Kind = word.lower()  # type: ignore[assignment]
    test: Node | None = None
    arguments: list[Node] = []
    opened = reader.code[end : end + 1] == "["
    if word in ("IF", "ELSEIF", "WHILE", "REPEAT") or (opened and word in ("RETURN", "ENDSUB")):
        test, end = reader.bracket(end)
    elif word == "CALL":
        while reader.code[end : end + 1] == "[":
            argument, end = reader.bracket(end)
            arguments.append(argument)
    return Keyword(kind, label, test, None, at, end, tuple(arguments)), end
