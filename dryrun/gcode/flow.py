"""Loops, branches and jumps: pairing keywords, and going where they say.

`Structure` pairs up the keywords of one text once; `carry_out` takes the jump of one keyword. Both
families of spelling are the same here. Common practice, no source; NISTIR 6556 has no flow
control.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from dryrun.gcode.blocks import Block, read_block
from dryrun.gcode.controller import Controller
from dryrun.gcode.expressions import Node, as_integer
from dryrun.gcode.keywords import Keyword
from dryrun.gcode.text import Fault, bare

if TYPE_CHECKING:
    from dryrun.gcode.interpreter import Interpreter

#: Cheap test for lines worth reading when the structure is built.
_MAYBE: Final = re.compile(r"W\s*H\s*I|D\s*O|E\s*N\s*D|I\s*F|E\s*L\s*S|O\s*[0-9<]", re.IGNORECASE)
#: What may stand inside a keyword and mean nothing: comments, characters that are dropped.
_HIDING: Final = re.compile(r"[(\x00-\x08\x0a-\x1f\x7f-\xa0\ufeff]")
#: Most passes of a repeat loop.
_MOST_REPEATS: Final = 10_000_000

_LOOPS: Final = ("while", "do", "repeat")


@dataclass(slots=True)
class Open:
    """A loop, branch or sub not yet closed while pairing."""

    kind: str
    label: str
    index: int
    branches: list[int] = field(default_factory=list)


@dataclass(slots=True)
class Structure:
    """The keywords of one text, paired.

    Attributes
    ----------
    keywords : dict of int to Keyword
        Index of a line -> its keyword.
    partner : dict of int to int
        Loop head -> its end, and back; sub -> endsub; break and continue -> the head of the loop;
        if and elseif -> the next branch; else -> endif.
    last : dict of int to int
        Branch -> its endif.
    faults : dict of int to Fault
        Keywords without a partner.
    """

    keywords: dict[int, Keyword] = field(default_factory=dict)
    partner: dict[int, int] = field(default_factory=dict)
    last: dict[int, int] = field(default_factory=dict)
    faults: dict[int, Fault] = field(default_factory=dict)

    @classmethod
    def of(cls, lines: Sequence[str], controller: Controller) -> Structure:
        """Pair up the keywords of a text."""
        structure = cls()
        stack: list[Open] = []
        for index, raw in enumerate(lines):
            if not _MAYBE.search(bare(raw, controller).code if _HIDING.search(raw) else raw):
                continue
            keyword = read_block(raw, controller).keyword
            if keyword is not None:
                structure.keywords[index] = keyword
                structure._pair(stack, keyword, index)
        for left in stack:
            for index in {left.index, *left.branches}:
                keyword = structure.keywords[index]
                structure._unpaired(index, keyword, f"{_shown(keyword)} has no end")
        return structure

    def _pair(self, stack: list[Open], keyword: Keyword, index: int) -> None:
        kind, label = keyword.kind, keyword.label
        above = stack[-1] if stack and label.startswith("O") else None
        if kind == "while" and above and above.kind == "do" and above.label == label:
            self._close(stack.pop(), index)
            return
        if kind in ("while", "do", "repeat", "sub", "if"):
            stack.append(Open(kind, label, index, [index]))
        elif kind in ("elseif", "else"):
            self._branch(stack, keyword, index)
        elif kind in _CLOSERS:
            self._closer(stack, keyword, index)
        elif kind in ("break", "continue"):
            for opened in reversed(stack):
                if opened.kind in _LOOPS and opened.label == label:
                    self.partner[index] = opened.index
                    return
            self._unpaired(index, keyword, f"{_shown(keyword)} stands in no loop of that label")

    def _branch(self, stack: list[Open], keyword: Keyword, index: int) -> None:
        if stack and stack[-1].kind == "if" and stack[-1].label == keyword.label:
            self.partner[stack[-1].branches[-1]] = index
            stack[-1].branches.append(index)
        else:
            self._unpaired(index, keyword, f"{_shown(keyword)} belongs to no IF")

    def _closer(self, stack: list[Open], keyword: Keyword, index: int) -> None:
        wanted = _CLOSERS[keyword.kind]
        if not stack or stack[-1].kind not in wanted or stack[-1].label != keyword.label:
            self._unpaired(index, keyword, f"{_shown(keyword)} closes nothing that is open here")
            return
        opened = stack.pop()
        if opened.kind == "if":
            self.partner[opened.branches[-1]] = index
            for branch in opened.branches:
                self.last[branch] = index
        else:
            self._close(opened, index)

    def _close(self, opened: Open, index: int) -> None:
        self.partner[opened.index] = index
        self.partner[index] = opened.index

    def _unpaired(self, index: int, keyword: Keyword, message: str) -> None:
        self.faults[index] = Fault(
            "missing-word",
            message,
            keyword.start,
            keyword.end,
            help="loops, branches and subs nest, and each is closed under its own label",
        )


_CLOSERS: Final[dict[str, tuple[str, ...]]] = {
    "end": ("while", "do"),
    "endwhile": ("while",),
    "endrepeat": ("repeat",),
    "endif": ("if",),
    "endsub": ("sub",),
}


def _shown(keyword: Keyword) -> str:
    name = keyword.kind.upper().replace("-", " ")
    if keyword.label.startswith("O"):
        return f"{keyword.label} {name.lower()}"
    return f"{name}{keyword.label}" if keyword.kind in ("do", "end") else name


def carry_out(run: Interpreter, block: Block) -> bool:
    """Take one keyword; True when the rest of the line is to be carried out too."""
    keyword = block.keyword
    assert keyword is not None
    here = run.index - 1
    structure = run.structure()
    fault = structure.faults.get(here)
    if fault is not None:
        raise fault
    kind = keyword.kind
    if kind in ("goto", "if-goto"):
        if kind == "goto" or _true(run, keyword):
            _jump(run, keyword)
    elif kind == "if-then":
        return _true(run, keyword)
    elif kind in ("if", "elseif", "else", "endif"):
        _branch(run, structure, keyword, here)
    elif kind in ("while", "do", "end", "endwhile", "repeat", "endrepeat"):
        _loop(run, structure, keyword, here)
    elif kind in ("break", "continue"):
        _leave(run, structure, keyword, here)
    else:
        run.subprograms.labelled(keyword, here)
    return False


def value_of(run: Interpreter, node: Node) -> float:
    """Work out a value of a keyword."""
    return node if isinstance(node, float) else node(run.parameters)


def _true(run: Interpreter, keyword: Keyword) -> bool:
    assert keyword.test is not None
    value = value_of(run, keyword.test)
    if math.isnan(value):
        raise Fault(
            "bad-expression",
            "whether this holds is not known in a dry run; it is taken as not holding",
            keyword.start,
            keyword.end,
        )
    return value != 0.0


def _jump(run: Interpreter, keyword: Keyword) -> None:
    """Forward from here, then from the top."""
    assert keyword.target is not None
    value = value_of(run, keyword.target)
    number = as_integer(value)
    index = None if number is None else run.subprograms.find_number(number)
    if index is None:
        raise Fault(
            "missing-word",
            f"there is no line N{value:g} to jump to",
            keyword.start,
            keyword.end,
            help="give the line meant its N number",
        )
    run.go(index)


def _branch(run: Interpreter, structure: Structure, keyword: Keyword, here: int) -> None:
    """If and its branches: one that is run into from above has been taken before it."""
    if keyword.kind == "endif":
        return
    if keyword.kind != "if":
        run.go(structure.last[here] + 1)
        return
    at = here
    while True:
        branch = structure.keywords[at]
        if branch.kind in ("else", "endif") or _true(run, branch):
            run.go(at + 1)
            return
        at = structure.partner[at]


def _loop(run: Interpreter, structure: Structure, keyword: Keyword, here: int) -> None:
    partner = structure.partner[here]
    counts = run.frame.counts
    kind = keyword.kind
    if kind == "while" and partner < here:  # the end of do ... while
        if _true(run, keyword):
            run.go(partner + 1)
    elif kind == "while":
        if not _true(run, keyword):
            run.go(partner + 1)
    elif kind == "repeat":
        assert keyword.test is not None
        value = value_of(run, keyword.test)
        count = 0 if math.isnan(value) else round(min(max(value, 0.0), _MOST_REPEATS))
        if count <= 0:
            run.go(partner + 1)
        else:
            counts[here] = count
    elif kind == "endrepeat":
        counts[partner] = counts.get(partner, 1) - 1
        if counts[partner] > 0:
            run.go(partner + 1)
    elif kind in ("end", "endwhile"):
        run.go(partner)


def _leave(run: Interpreter, structure: Structure, keyword: Keyword, here: int) -> None:
    head = structure.partner[here]
    end = structure.partner.get(head)
    if end is None:
        raise structure.faults[head]
    run.go(end + 1 if keyword.kind == "break" else end)
