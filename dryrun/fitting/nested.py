"""Level rounds within rounds: the inner ones clear what the outer one leaves standing."""

from __future__ import annotations

from collections import defaultdict
from typing import Final

import numpy as np

from dryrun.fitting.curves import WHOLE, rounds_of
from dryrun.fitting.strokes import Strokes

#: Middles and heights that differ by less are the same, radii by less as well, mm.
SAME: Final = 0.02


def nested_of(level: Strokes) -> float | None:
    """Return the usual radius of the outermost of rounds around one middle, mm; None without."""
    found: defaultdict[tuple[int, ...], list[float]] = defaultdict(list)
    for one in rounds_of(level):
        if one.sweep > WHOLE:
            where = (*one.centre, one.z)
            found[tuple(round(v / SAME) for v in where)].append(one.radius)
    outer = [max(radii) for radii in found.values() if np.ptp(radii) > SAME]
    return float(np.median(outer)) if outer else None
