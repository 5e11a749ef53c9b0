"""Level rounds within rounds: the inner ones clear what the outer one leaves standing."""

from __future__ import annotations

from collections import defaultdict
from typing import Final

import numpy as np

from dryrun.fitting.curves import WHOLE, rounds_of
from dryrun.fitting.levels import ALLOWANCE
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
    outer = [max(radii) for radii in found.values() if _clears(radii)]
    return float(np.median(outer)) if outer else None


def _clears(radii: list[float]) -> bool:
    """Tell whether rounds clear what lies inside the outermost: more than a finishing pass does."""
    apart = float(np.ptp(radii))
    several = len(np.unique(np.round(np.array(radii) / SAME))) > 2
    return apart > ALLOWANCE or (several and apart > SAME)
