"""A part of many planted mistakes and clean jobs, for all but the long run."""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import TypeVar

LONG = os.environ.get("DRYRUN_LONG") == "1"

Thing = TypeVar("Thing")


def some(things: Sequence[Thing], first: int = 0, every: int = 6) -> list[Thing]:
    """Return every sixth mistake, from the one with this number; all with DRYRUN_LONG=1.

    The sets are no longer held out: what they show now is that nothing has broken, and they take
    many minutes. Of the clean jobs it is every second; of the oldest sets half as many of both.
    """
    return list(things) if LONG else list(things[first::every])
