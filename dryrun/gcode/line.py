"""One line ready to be carried out: its words worked out, its codes sorted into modal groups.

Here are the rules that can be told from the line alone (NISTIR 6556 3.3.5, 3.4, 3.5, 3.6): no two
codes of one modal group, at most four M words, no code that is not in the table. What depends on
the state of the controller is checked where it is carried out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

from dryrun.gcode.blocks import Block, Word
from dryrun.gcode.controller import Controller
from dryrun.gcode.expressions import LARGEST, Memory, as_integer
from dryrun.gcode.state import G80
from dryrun.gcode.text import MOST_FAULTS, Fault
from dryrun.gcode.words import CYCLES, G_CODES, GROUP_TITLES, LETTERS, M_CODES, Code

#: Groups of which one line may hold several codes.
_OPEN_GROUPS: Final = ("other", "call")


@dataclass(slots=True)
class Line:
    """A line worked out.

    Attributes
    ----------
    block : Block
    values : dict
        Letter -> number, for all letters but G, M and N.
    words : dict
        Letter -> its word, for the place of a fault.
    codes : dict
        Modal group -> (code, word); for G and M alike ("once" is the group of one-line codes).
    others : list
        Codes of open groups, in order.
    ends : list of (code, word)
        M codes of the stop group, in order.
    used : set of str
        Letters something on the line has used; the rest are stray.
    faults : list of Fault
        Rules broken; none of them stops the line from being carried out.
    """

    block: Block
    values: dict[str, float] = field(default_factory=dict)
    words: dict[str, Word] = field(default_factory=dict)
    codes: dict[str, tuple[Code, Word]] = field(default_factory=dict)
    others: list[tuple[Code, Word]] = field(default_factory=list)
    used: set[str] = field(default_factory=set)
    faults: list[Fault] = field(default_factory=list)

    def key(self, group: str) -> int:
        """Ten times the code of a group on this line, or -1."""
        found = self.codes.get(group)
        return found[0].key if found else -1

    def word_of(self, group: str) -> Word | None:
        """Return the word of a group's code on this line."""
        found = self.codes.get(group)
        return found[1] if found else None

    def take(self, letter: str) -> float | None:
        """Use the number behind a letter, if it is there."""
        if letter in self.values:
            self.used.add(letter)
            return self.values[letter]
        return None

    def written(self, letter: str) -> str:
        """Return the word behind a letter as it stands in the bare code."""
        word = self.words[letter]
        return self.block.code[word.start : word.end]

    def axes(self, letters: str = "XYZ") -> list[str]:
        """Letters of axes that stand on the line and that nothing has used yet."""
        values, used = self.values, self.used
        return [a for a in letters if a in values and a not in used]

    def complain(
        self,
        code: str,
        message: str,
        word: Word | None = None,
        help: str | None = None,
        level: str = "error",
    ) -> None:
        """Note a broken rule that does not stop the line."""
        if len(self.faults) >= MOST_FAULTS:
            return
        self.faults.append(self.fault(code, message, word, help, level))

    def fault(
        self,
        code: str,
        message: str,
        word: Word | None = None,
        help: str | None = None,
        level: str = "error",
    ) -> Fault:
        """Make a fault at a word, or at the first word of the line."""
        if word is None and self.block.words:
            word = self.block.words[0]
        start, end = (word.start, word.end) if word else (0, len(self.block.code))
        return Fault(code, message, start, end, help, level=level)


@dataclass(frozen=True, slots=True)
class _Sorted:
    """The codes of a block whose G and M words are fixed, sorted once."""

    codes: dict[str, tuple[Code, Word]]
    others: list[tuple[Code, Word]]
    used: frozenset[str]
    faults: tuple[Fault, ...]
    rest: tuple[Word, ...]


def work_out(block: Block, memory: Memory, controller: Controller) -> Line:
    """Work out the words of a block and sort its codes.

    Raises
    ------
    Fault
        When a value cannot be worked out, or a code is not known and something on the line may
        belong to it.
    """
    kept = block.sorted
    if not isinstance(kept, _Sorted):
        kept = _sort(block, memory, controller)
    line = Line(block, {}, {}, kept.codes, kept.others, set(kept.used), list(kept.faults))
    values, words = line.values, line.words
    for word in kept.rest:
        value = word.value if isinstance(word.value, float) else word.value(memory)
        if not -LARGEST <= value <= LARGEST and value == value:
            raise _too_large(word)
        values[word.letter] = value
        words[word.letter] = word
    return line


def _too_large(word: Word) -> Fault:
    return Fault(
        "bad-expression",
        f"the value of {word.letter} is too large to mean anything",
        word.start,
        word.end,
    )


def _sort(block: Block, memory: Memory, controller: Controller) -> _Sorted:
    line = Line(block)
    rest: list[Word] = []
    fixed = True
    machine_words = 0
    for word in block.words:
        if word.letter not in "GM":
            rest.append(word)
            continue
        if isinstance(word.value, float):
            value = word.value
        else:
            fixed, value = False, word.value(memory)
        if word.letter == "G":
            _add_g(line, word, value, controller)
        else:
            machine_words += 1
            _add_m(line, word, value, controller)
    if controller.m_words is not None and machine_words > controller.m_words:
        line.complain(
            "conflicting-words",
            f"{machine_words} M words on one line, at most {controller.m_words} may stand there",
            [w for w in block.words if w.letter == "M"][controller.m_words],
            "put some of them on a line of their own",
        )
    kept = _Sorted(line.codes, line.others, frozenset(line.used), tuple(line.faults), tuple(rest))
    if fixed:
        block.sorted = kept
    return kept


def _code_key(word: Word, value: float, scale: int) -> int:
    key = as_integer(value * scale)
    if key is None:
        shown = "not known" if math.isnan(value) else f"{word.letter}{value:g}"
        raise Fault(
            "unknown-word",
            f"{shown} is no code: it is not a whole number"
            if scale == 1
            else f"{shown} is no code: codes have one decimal at most",
            word.start,
            word.end,
        )
    return key


def _add_g(line: Line, word: Word, value: float, controller: Controller) -> None:
    key = _code_key(word, value, 10)
    code = G_CODES.get(key)
    if code is None:
        _unknown_g(line, word, value, controller)
        return
    if not controller.takes(code.capability):
        _not_accepted(line, code, word, controller)
        return
    code = _older_units(line, code)
    _add(line, code, word, controller)


def _older_units(line: Line, code: Code) -> Code:
    """G70 beside hole words is no units code but a pattern of holes (common practice)."""
    if code.key in (700, 710) and {w.letter for w in line.block.words} & {"I", "J", "L"}:
        return G_CODES[720]
    return code


def _unknown_g(line: Line, word: Word, value: float, controller: Controller) -> None:
    letters = {w.letter for w in line.block.words}
    alone = not letters & set("XYZABCIJKR")
    fault = line.fault(
        "unknown-word",
        f"G{value:g} is no code known here"
        + ("" if alone else ", so what the line moves is not known"),
        word,
        "check the number; if the controller has it, say what it does to the path by hand",
    )
    if alone and not controller.to_the_letter:
        # It may change the mode of all that follows, but the words beside it are still carried out.
        line.faults.append(fault)
        for letter in "PQLSTFDHE":
            if letter in letters - {"F", "S", "T"}:
                line.used.add(letter)
        return
    raise fault


def _not_accepted(line: Line, code: Code, word: Word, controller: Controller) -> None:
    if controller.to_the_letter:
        raise line.fault("unknown-word", f"{code.name} ({code.title}) is not in RS274/NGC", word)
    fault = line.fault(
        "not-accepted",
        f"the controller does not take {code.name} ({code.title})",
        word,
        f"write it another way, or declare {code.capability!r} in accepts",
    )
    if code.effect == "does":
        line.faults.append(fault)
        _add(line, code, word, controller)
    else:
        raise fault


def _add_m(line: Line, word: Word, value: float, controller: Controller) -> None:
    key = _code_key(word, value, 1) * 10
    code = M_CODES.get(key)
    if code is None or not controller.takes(code.capability):
        level = "note" if controller.takes("unknown-m-codes") and code is None else "error"
        if key < 0:
            level = "error"
        what = f"M{value:g} ({code.title})" if code else f"M{value:g}"
        line.complain(
            "unknown-word" if code is None else "not-accepted",
            f"{what} is not known here and is passed over"
            if level == "note"
            else f"the controller does not take {what}",
            word,
            "check that it moves nothing on this machine" if level == "note" else None,
            level,
        )
        if level == "note":
            line.used.update("PQRLEDH")
        if code is None or controller.to_the_letter:
            return
    _add(line, code, word, controller)


def _add(line: Line, code: Code, word: Word, controller: Controller) -> None:
    line.used.update(set(code.takes) - set("XYZFSTABC"))
    if code.group in _OPEN_GROUPS:
        line.others.append((code, word))
        return
    before = line.codes.get(code.group)
    if before is not None and not _together(before[0], code, controller):
        same = before[0] is code
        harmless = same and not controller.to_the_letter
        line.complain(
            "conflicting-words",
            f"{code.name} stands twice on the line"
            if same
            else f"{before[0].name} and {code.name} stand on one line, "
            f"both for {GROUP_TITLES[code.group]}",
            word,
            "keep one of them" if same else "put them on two lines, in the order meant",
            "note" if harmless else "error",
        )
    if before is not None and code.group == "coolant":
        line.others.append(before)
    if before is not None and code.key == G80 and code.group == "motion":
        return
    line.codes[code.group] = (code, word)


def _together(first: Code, second: Code, controller: Controller) -> bool:
    """Whether common practice takes both on one line: M7 M8, or G80 beside another motion."""
    if controller.to_the_letter:
        return False
    pair = {first.key, second.key}
    return pair == {70, 80} or (first.group == "motion" and G80 in pair and len(pair) == 2)


def letter_title(letter: str) -> str:
    """Return what a letter stands for."""
    return LETTERS.get(letter, "no word")


def is_cycle(key: int) -> bool:
    """Whether ten times a code is a drilling or boring cycle."""
    return key in CYCLES
