"""What can hold a row back: the codes of `TimeTable.cause`, and their names."""

from __future__ import annotations

from typing import Final

NONE: Final = 0
FEED: Final = 1
AXIS_RATE: Final = 2
ACCELERATION: Final = 3
EXACT_STOP: Final = 4
CORNER: Final = 5
ARC: Final = 6
LOOK_AHEAD: Final = 7
LINES_PER_SECOND: Final = 8
JERK: Final = 9
LINE_OVERHEAD: Final = 10
DWELL: Final = 11
SPINDLE_START: Final = 12
TOOL_CHANGE: Final = 13
PAUSE: Final = 14
PROBE: Final = 15
UNKNOWN: Final = 16

#: Size of arrays indexed by a cause.
COUNT: Final = 17

CAUSE_NAMES: Final = (
    "none",
    "feed",
    "axis-rate",
    "acceleration",
    "exact-stop",
    "corner",
    "arc",
    "look-ahead",
    "lines-per-second",
    "jerk",
    "line-overhead",
    "dwell",
    "spindle-start",
    "tool-change",
    "pause",
    "probe",
    "unknown",
)
