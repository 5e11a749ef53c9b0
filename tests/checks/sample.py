"""Every third of many planted mistakes, for all but the long run."""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import TypeVar

LONG = os.environ.get("DRYRUN_LONG") == "1"

Mistake = TypeVar("Mistake")


def some(mistakes: Sequence[Mistake], first: int = 0) -> list[Mistake]:
    """Return every third mistake, from the one with this number; all with DRYRUN_LONG=1.

    The sets are no longer held out: what they show now is that nothing has broken, and they take
    several minutes.
    """
    return list(mistakes) if LONG else list(mistakes[first::3])
