"""Parameters: what #1 and #<name> hold (NISTIR 6556 3.2.1, 3.3.2.2, 3.3.3).

The report's numbers 5161 to 5386 are live values of the controller (home, offsets, the active
system); the interpreter supplies them through `Parameters.live`. A value that cannot be known in
a dry run (a machine coordinate without a declared job zero) is NaN.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

from dryrun.gcode.controller import Controller
from dryrun.gcode.text import Fault

PROBE: Final = 5061
HOME: Final = 5161
SECOND_HOME: Final = 5181
AXIS_OFFSETS: Final = 5211
SYSTEM: Final = 5220
#: Locals of a call with arguments (common practice, no source).
LOCAL_LAST: Final = 33


def origin_index(system: int) -> int:
    """Return the parameter that holds the X origin of a coordinate system 1..9 (3.2.1)."""
    return 5201 + 20 * system


class Parameters:
    """The memory that values look into.

    Attributes
    ----------
    numbered : dict of int to float
        What was set, by the program or before it.
    live : function
        (index) -> value of a parameter the controller keeps, or None.
    on_unset : function
        (name, start, end) called when a parameter is read that was never set.
    """

    def __init__(self, controller: Controller) -> None:
        self._report = controller.to_the_letter
        self.numbered: dict[int, float] = {}
        self.named: dict[str, float] = {}
        self._locals: list[dict[int, float]] = []
        self._local_names: list[dict[str, float]] = [{}]
        self._local_last = LOCAL_LAST
        self.live: Callable[[int], float | None] = lambda index: None
        self.on_unset: Callable[[str, int, int], None] = lambda name, start, end: None
        #: Counts changes, so that a loop which changes nothing can be told.
        self.changes = 0

    def lowest_index(self) -> int:
        """1 in the report; 0 (never set) in common practice."""
        return 1 if self._report else 0

    def highest_index(self) -> int:
        """5399 in the report (3.3.3); larger in common practice."""
        return 5399 if self._report else 999_999

    def open_level(self, arguments: dict[int, float], last: int = LOCAL_LAST) -> None:
        """Start a call with its own local parameters."""
        self._locals.append(dict(arguments))
        self._local_names.append({})
        self._local_last = last

    def close_level(self) -> None:
        """Forget the local parameters of the innermost call."""
        if self._locals:
            self._locals.pop()
            self._local_names.pop()

    def _store(self, index: int) -> dict[int, float]:
        if self._locals and 1 <= index <= self._local_last:
            return self._locals[-1]
        return self.numbered

    def read(self, index: int, start: int = 0, end: int = 0) -> float:
        """Return parameter `index`; 0 when it was never set (from memory)."""
        value = self._store(index).get(index)
        if value is not None:
            return value
        kept = self.live(index)
        if kept is not None:
            return kept
        if index:
            self.on_unset(f"#{index}", start, end)
        return 0.0

    def is_set(self, index: int) -> bool:
        """Whether the parameter was ever set."""
        return index in self._store(index)

    def write(self, index: int, value: float, start: int = 0, end: int = 0) -> None:
        """Set parameter `index`."""
        if index == 0:
            raise Fault("bad-expression", "#0 cannot be set", start, end)
        store = self._store(index)
        if store.get(index) != value:
            self.changes += 1
        store[index] = value

    def read_named(self, name: str, start: int = 0, end: int = 0) -> float:
        """Return a named parameter; names that begin with _ are the same in every call."""
        names = self._names(name)
        if name in names:
            return names[name]
        self.on_unset(f"#<{name}>", start, end)
        return 0.0

    def is_named_set(self, name: str) -> bool:
        """Whether the named parameter was ever set."""
        return name in self._names(name)

    def write_named(self, name: str, value: float) -> None:
        """Set a named parameter."""
        names = self._names(name)
        if names.get(name) != value:
            self.changes += 1
        names[name] = value

    def _names(self, name: str) -> dict[str, float]:
        return self.named if name.startswith("_") else self._local_names[-1]

    def snapshot(self) -> dict[int, float]:
        """Return the numbered parameters outside calls."""
        return dict(self.numbered)


def known(value: float) -> bool:
    """Whether a value is known."""
    return not math.isnan(value)
