"""Values: numbers, parameters, operators and functions (NISTIR 6556 3.3.2, 3.3.3, E.2).

A value is read once into a node: a float when it is fixed, otherwise a function of the memory
(the parameters at that moment). Reading never looks at parameters, so a line in a loop is read
once and worked out each time it runs.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final, Protocol

from dryrun.gcode.controller import Controller
from dryrun.gcode.text import Fault

#: A number this near to an integer counts as it where an integer is wanted (3.3.2.1).
INTEGER_TOLERANCE: Final = 0.0001
#: Largest number taken for a word: far beyond any machine, far below overflow.
LARGEST: Final = 1e12
#: Brackets nest to any depth in the report (3.3.2.3); here to this one.
DEEPEST: Final = 120


class Memory(Protocol):
    """What a value may look up while it is worked out."""

    def read(self, index: int, start: int, end: int) -> float:
        """Return a numbered parameter."""

    def read_named(self, name: str, start: int, end: int) -> float:
        """Return a named parameter."""

    def is_set(self, index: int) -> bool:
        """Whether a numbered parameter was ever set."""

    def is_named_set(self, name: str) -> bool:
        """Whether a named parameter was ever set."""

    def lowest_index(self) -> int:
        """Return the lowest index a parameter may have."""

    def highest_index(self) -> int:
        """Return the highest index a parameter may have."""


Node = float | Callable[[Memory], float]

NUMBER: Final = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)")
_NAME: Final = re.compile(r"<([^<>]{1,80})>")
_OPERATOR: Final = re.compile(r"\*\*|\*|/|\+|-|MOD|AND|XOR|OR|EQ|NE|GT|GE|LT|LE")
_FUNCTION: Final = re.compile(r"[A-Z]{2,8}(?=\[|$|[^A-Z])")
_WORD: Final = re.compile(r"[A-Z]+")
_LETTER: Final = re.compile(r"[A-Z]")

_COMPARISONS: Final = ("EQ", "NE", "GT", "GE", "LT", "LE")
#: Levels of the report, first first, all left-associative (3.3.2.3).
_LEVELS: Final = (("**",), ("*", "/", "MOD"), ("+", "-", "OR", "XOR", "AND"))
#: Levels where comparisons stand in the bracket (common practice, no source).
_LEVELS_WITH_COMPARISONS: Final = (
    ("**",), ("*", "/", "MOD"), ("+", "-"), _COMPARISONS, ("AND", "OR", "XOR"),
)  # fmt: skip


def as_integer(value: float) -> int | None:
    """Return the integer a value stands for, or None when it is not near one (3.3.2.1)."""
    if not math.isfinite(value):
        return None
    nearest = round(value)
    return nearest if abs(value - nearest) <= INTEGER_TOLERANCE else None


@dataclass(slots=True)
class Reader:
    """Reads values from one line's bare code.

    Attributes
    ----------
    code : str
    controller : Controller
    notes : list of Fault
        What was accepted beyond the report's grammar.
    """

    code: str
    controller: Controller
    notes: list[Fault] = field(default_factory=list)
    depth: int = 0

    def value(self, at: int, what: str = "a value") -> tuple[Node, int]:
        """Read one real value: a number, a bracket, a parameter or a function."""
        code = self.code
        found = NUMBER.match(code, at)
        if found:
            return number(found.group(), at), found.end()
        self.depth += 1
        if self.depth > DEEPEST:
            raise Fault("bad-expression", f"values nested deeper than {DEEPEST}", at)
        result = self._other_value(at, what)
        self.depth -= 1
        return result

    def _other_value(self, at: int, what: str) -> tuple[Node, int]:
        sign = self.code[at : at + 1]
        if sign == "[":
            if not self.controller.takes("expressions"):
                raise Fault("not-accepted", "the controller takes no expressions", at)
            return self.bracket(at)
        if sign == "#":
            return self.parameter(at)
        if sign and sign in "+-":
            return self._signed(at, what)
        if sign.isascii() and sign.isalpha():
            return self.function(at)
        raise Fault(
            "bad-expression" if self.depth > 1 else "unreadable-line",
            f"{what} is missing" + (f" before {sign!r}" if sign else ""),
            at,
            help="write a number, a bracketed expression such as [1+2], or a parameter such as #1",
        )

    def _signed(self, at: int, what: str) -> tuple[Node, int]:
        following = self.code[at + 1 : at + 2]
        if following and following in "+-.":
            raise Fault(
                "bad-expression",
                "a sign or point without digits",
                at,
                at + 2,
                help="a number needs at least one digit, such as -0.5",
            )
        if not (following == "[" or following == "#" or _LETTER.match(following)):
            raise Fault(
                "bad-expression",
                f"{what} is missing after the sign",
                at,
                help="a sign belongs to the digits after it",
            )
        if not self.controller.takes("signed-values"):
            raise Fault(
                "bad-expression",
                "a sign may only stand before digits, not before a bracket, # or function",
                at,
                help=f"write [0{self.code[at]}...] instead",
            )
        node, end = self.value(at + 1)
        self.notes.append(
            Fault(
                "bad-expression",
                "a sign before a bracket, # or function is read as minus (not in RS274/NGC)"
                if self.code[at] == "-"
                else "a sign before a bracket, # or function is passed over (not in RS274/NGC)",
                at,
                level="note",
            )
        )
        if self.code[at] == "+":
            return node, end
        if isinstance(node, float):
            return -node, end
        inner = node
        return (lambda memory: -inner(memory)), end

    def bracket(self, at: int) -> tuple[Node, int]:
        """Read a bracketed expression; `at` is its opening bracket."""
        code = self.code
        if code[at : at + 1] != "[":
            raise Fault(
                "bad-expression",
                "an opening bracket [ is missing",
                at,
                help="the argument of a function stands in brackets, such as SIN[30]",
            )
        node, position = self.sum(at + 1)
        if code[position : position + 1] != "]":
            self._no_operator(at, position)
        return node, position + 1

    def sum(self, at: int) -> tuple[Node, int]:
        """Read values joined by operators, as far as they go."""
        operands: list[Node] = []
        operators: list[tuple[str, int]] = []
        while True:
            node, at = self.value(at)
            operands.append(node)
            found = _OPERATOR.match(self.code, at)
            if found is None:
                return combine(operands, operators), at
            self._check_operator(found.group(), at)
            operators.append((found.group(), at))
            at = found.end()

    def _check_operator(self, sign: str, at: int) -> None:
        if sign in _COMPARISONS and not self.controller.takes("comparisons"):
            raise Fault(
                "bad-expression",
                f"{sign} compares, which the controller does not do",
                at,
                at + len(sign),
                help="RS274/NGC has + - * / ** MOD AND OR XOR only",
            )

    def _no_operator(self, opened: int, at: int) -> None:
        if at >= len(self.code):
            raise Fault(
                "bad-expression",
                "a bracket is opened but not closed",
                opened,
                help="close it with ]",
            )
        shown = _WORD.match(self.code, at)
        text = shown.group() if shown else self.code[at]
        raise Fault(
            "bad-expression",
            f"{text!r} is no operator",
            at,
            at + len(text),
            help="values are joined by + - * / ** MOD AND OR XOR, and a bracket ends with ]",
        )

    def parameter(self, at: int) -> tuple[Node, int]:
        """Read # and what follows as the value of a parameter (3.3.2.2)."""
        named = _NAME.match(self.code, at + 1)
        if named:
            return self._named(at, named.group(1), named.end())
        index, end = self.index(at)
        if isinstance(index, float):
            return Parameter(int(index), at, end), end
        work_out = index

        def look_up(memory: Memory) -> float:
            return memory.read(checked_index(work_out(memory), memory, at, end), at, end)

        return look_up, end

    def _named(self, at: int, name: str, end: int) -> tuple[Node, int]:
        if not self.controller.takes("named-parameters"):
            raise Fault(
                "bad-expression",
                f"the parameter #<{name.lower()}> has a name; the controller takes numbers only",
                at,
                end,
                help="use a numbered parameter such as #1",
            )
        key = name.lower()
        return (lambda memory: memory.read_named(key, at, end)), end

    def index(self, at: int) -> tuple[Node, int]:
        """Read the index after a #; a fixed one is checked to be an integer."""
        if not self.controller.takes("parameters"):
            raise Fault(
                "not-accepted",
                "the controller takes no parameters",
                at,
                help="write the number itself",
            )
        node, end = self.value(at + 1, "the number of a parameter")
        if isinstance(node, float):
            whole = as_integer(node)
            if whole is None:
                raise Fault(
                    "bad-expression",
                    f"parameter number {node:g} is not a whole number",
                    at,
                    end,
                    help="parameters are numbered with whole numbers",
                )
            return float(whole), end
        return node, end

    def function(self, at: int) -> tuple[Node, int]:
        """Read a function and its argument (3.3.2.4)."""
        code = self.code
        found = _WORD.match(code, at)
        assert found is not None
        name = found.group()
        end = found.end()
        if name == "EXISTS" and self.controller.takes("named-parameters"):
            return self._exists(at, end)
        work = _FUNCTIONS.get(name)
        if work is None and name != "ATAN":
            near = _nearest_function(name)
            raise Fault(
                "bad-expression" if self.depth > 1 or len(name) > 1 else "unreadable-line",
                f"{name!r} is no function" if len(name) > 1 else f"a number is missing at {name!r}",
                at,
                end,
                help=f"did you mean {near}?" if near else "functions: " + ", ".join(FUNCTION_NAMES),
            )
        if not self.controller.takes("expressions"):
            raise Fault("not-accepted", "the controller takes no functions", at, end)
        if code[end : end + 1] != "[":
            raise Fault(
                "bad-expression",
                f"the argument of {name} does not stand in brackets",
                at,
                end,
                help=f"write {name}[30]",
            )
        argument, end = self.bracket(end)
        if work is None:
            return self._arctangent(at, argument, end)
        return _apply_function(name, work, argument, at, end), end

    def _exists(self, at: int, end: int) -> tuple[Node, int]:
        named = re.compile(r"\[#<([^<>]{1,80})>\]").match(self.code, end)
        if named is None:
            raise Fault("bad-expression", "EXISTS asks for one #<name>", at, end)
        key = named.group(1).lower()
        return (lambda memory: float(memory.is_named_set(key))), named.end()

    def _arctangent(self, at: int, first: Node, end: int) -> tuple[Node, int]:
        """ATAN[y]/[x], quadrant-correct, degrees; one argument alone is beyond the report."""
        if self.code[end : end + 2] != "/[":
            if self.controller.to_the_letter:
                raise Fault(
                    "bad-expression",
                    "ATAN needs two arguments",
                    at,
                    end,
                    help="write ATAN[y]/[x]",
                )
            return _apply_function("ATAN", _arctangent_one, first, at, end), end
        second, end = self.bracket(end + 1)
        return (
            _apply_operator(lambda y, x: math.degrees(math.atan2(y, x)), first, second),
            end,
        )


class Parameter:
    """The value of one numbered parameter, as a node that knows its number."""

    __slots__ = ("checked", "end", "index", "start")

    def __init__(self, index: int, start: int, end: int) -> None:
        self.index = index
        self.start = start
        self.end = end
        self.checked = False

    def __call__(self, memory: Memory) -> float:
        """Look the parameter up."""
        if not self.checked:
            checked_index(self.index, memory, self.start, self.end)
            self.checked = True
        return memory.read(self.index, self.start, self.end)


def number(text: str, at: int = 0) -> float:
    """Return the value of digits.

    Raises
    ------
    Fault
        When the number is too large to mean anything.
    """
    value = float(text)
    if not -LARGEST <= value <= LARGEST:
        raise Fault(
            "unreadable-line", f"the number {text[:12]}... is too large", at, at + len(text)
        )
    return value


def checked_index(value: float, memory: Memory, start: int, end: int) -> int:
    """Return a parameter's number as an integer within its limits (3.3.3)."""
    if math.isnan(value):
        raise Fault("bad-expression", "the number of the parameter is not known", start, end)
    index = as_integer(value)
    if index is None:
        raise Fault(
            "bad-expression",
            f"parameter number {value:g} is not a whole number",
            start,
            end,
            help="parameters are numbered with whole numbers",
        )
    low, high = memory.lowest_index(), memory.highest_index()
    if not low <= index <= high:
        raise Fault(
            "bad-expression",
            f"there is no parameter {index}; they run from {low} to {high}",
            start,
            end,
        )
    return index


def combine(operands: Sequence[Node], operators: Sequence[tuple[str, int]]) -> Node:
    """Combine the values of one bracket by precedence, left to right within a level."""
    signs = [sign for sign, _ in operators]
    levels = _LEVELS_WITH_COMPARISONS if any(s in _COMPARISONS for s in signs) else _LEVELS
    values = list(operands)
    rest = list(operators)
    for level in levels:
        if not rest:
            break
        merged: list[Node] = []
        kept: list[tuple[str, int]] = []
        run: list[tuple[str, int, Node]] = []
        first = values[0]
        for (sign, place), operand in zip(rest, values[1:], strict=True):
            if sign in level:
                run.append((sign, place, operand))
                continue
            merged.append(_chain(first, run))
            kept.append((sign, place))
            first, run = operand, []
        merged.append(_chain(first, run))
        values, rest = merged, kept
    return values[0]


def _chain(first: Node, run: Sequence[tuple[str, int, Node]]) -> Node:
    """Return one node for first op value op value ...; fixed ones are worked out at once."""
    folded = 0
    for sign, place, operand in run:
        if not (isinstance(first, float) and isinstance(operand, float)):
            break
        first = _operate(sign, first, operand, place)
        folded += 1
    run = run[folded:]
    if not run:
        return first
    if len(run) == 1 and run[0][0] in ("EQ", "NE"):
        vacant = _vacancy(first, run[0][2], run[0][0] == "EQ")
        if vacant is not None:
            return vacant
    start = first
    steps = tuple(run)

    def work_out(memory: Memory) -> float:
        value = start if isinstance(start, float) else start(memory)
        for sign, place, operand in steps:
            other = operand if isinstance(operand, float) else operand(memory)
            value = _operate(sign, value, other, place)
        return value

    return work_out


def _vacancy(left: Node, right: Node, equal: bool) -> Node | None:
    """`#1 EQ #0` asks whether #1 was ever set (common practice, no source)."""
    for one, other in ((left, right), (right, left)):
        if isinstance(one, Parameter) and one.index == 0 and isinstance(other, Parameter):
            index = other.index
            return lambda memory: float(memory.is_set(index) != equal)
    return None


def _operate(sign: str, a: float, b: float, place: int) -> float:
    try:
        return _OPERATORS[sign](a, b)
    except ZeroDivisionError:
        what = "division by zero" if sign in ("/", "MOD") else "zero to a negative power"
        raise Fault("bad-expression", what, place, place + len(sign)) from None
    except (OverflowError, ValueError):
        raise Fault(
            "bad-expression",
            f"{a:g} {sign} {b:g} has no value",
            place,
            place + len(sign),
            help="a negative number takes whole powers only" if sign == "**" else None,
        ) from None


def _apply_operator(work: Callable[[float, float], float], first: Node, second: Node) -> Node:
    if isinstance(first, float) and isinstance(second, float):
        return work(first, second)

    def work_out(memory: Memory) -> float:
        a = first if isinstance(first, float) else first(memory)
        b = second if isinstance(second, float) else second(memory)
        return work(a, b)

    return work_out


def _apply_function(
    name: str, work: Callable[[float], float], argument: Node, start: int, end: int
) -> Node:
    def guarded(value: float) -> float:
        if math.isnan(value):
            return value
        try:
            return work(value)
        except (ValueError, OverflowError):
            raise Fault(
                "bad-expression",
                f"{name}[{value:g}] has no value",
                start,
                end,
                help=_DOMAINS.get(name),
            ) from None

    if isinstance(argument, float):
        return guarded(argument)
    inner = argument
    return lambda memory: guarded(inner(memory))


def _power(a: float, b: float) -> float:
    result = a**b
    if isinstance(result, complex):
        raise ValueError
    return float(result)


def _modulo(a: float, b: float) -> float:
    """Remainder, never negative: from memory of the report's interpreter."""
    if b == 0.0:
        raise ZeroDivisionError
    rest = math.fmod(a, b)
    return rest + abs(b) if rest < 0.0 else rest


def _round(value: float) -> float:
    """To the nearest integer, halves away from zero (from memory)."""
    return math.copysign(math.floor(abs(value) + 0.5), value)


def _arctangent_one(value: float) -> float:
    return math.degrees(math.atan(value))


_OPERATORS: Final[dict[str, Callable[[float, float], float]]] = {
    "**": _power,
    "*": lambda a, b: a * b,
    "/": lambda a, b: a / b,
    "MOD": _modulo,
    "+": lambda a, b: a + b,
    "-": lambda a, b: a - b,
    "AND": lambda a, b: float(a != 0.0 and b != 0.0),
    "OR": lambda a, b: float(a != 0.0 or b != 0.0),
    "XOR": lambda a, b: float((a != 0.0) != (b != 0.0)),
    # equal within the tolerance of whole numbers would hide real differences: exact here
    "EQ": lambda a, b: float(a == b),
    "NE": lambda a, b: float(a != b),
    "GT": lambda a, b: float(a > b),
    "GE": lambda a, b: float(a >= b),
    "LT": lambda a, b: float(a < b),
    "LE": lambda a, b: float(a <= b),
}

#: Angles in degrees in and out; FIX toward minus, FUP toward plus infinity (3.3.2.4).
_FUNCTIONS: Final[dict[str, Callable[[float], float]]] = {
    "ABS": abs,
    "ACOS": lambda v: math.degrees(math.acos(v)),
    "ASIN": lambda v: math.degrees(math.asin(v)),
    "COS": lambda v: math.cos(math.radians(v)),
    "EXP": math.exp,
    "FIX": lambda v: float(math.floor(v)),
    "FUP": lambda v: float(math.ceil(v)),
    "LN": math.log,
    "ROUND": _round,
    "SIN": lambda v: math.sin(math.radians(v)),
    "SQRT": math.sqrt,
    "TAN": lambda v: math.tan(math.radians(v)),
}
FUNCTION_NAMES: Final = tuple(sorted([*_FUNCTIONS, "ATAN"]))

_DOMAINS: Final = {
    "ACOS": "ACOS takes -1 to 1",
    "ASIN": "ASIN takes -1 to 1",
    "SQRT": "SQRT takes zero and positive numbers",
    "LN": "LN takes positive numbers",
}


def _nearest_function(name: str) -> str | None:
    import difflib

    near = difflib.get_close_matches(name[:12], FUNCTION_NAMES, 1, 0.6)
    return near[0] if near and len(name) > 1 else None
