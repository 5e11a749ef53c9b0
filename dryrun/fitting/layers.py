"""Roughing along a relief: layers one below the other that stop short of the surface.

In each layer the path runs level at its floor and rises where the surface comes up through it, so
that the same run of path is level for a good part and goes up and down for the rest. Who finishes
a relief goes over it once; who carves a groove knows no floors.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.fitting.spacing import Neighbours, Spacing, main_spacing
from dryrun.fitting.strokes import LEVEL_SLOPE, Floats, Strokes

#: A chain of a layer is level at its floor for at least this part of its way, and goes up and down
#: for at least this part; such chains are at least this part of the path.
AT_FLOOR: Final = 0.15
RISING: Final = 0.01
MOST: Final = 0.5

#: Each of two floors at least holds this part of the path.
FLOOR: Final = 0.08

#: Of the path, this part has passes on both sides, linked this often, or it clears nothing.
BOTH: Final = 0.3
LINKED: Final = 0.1


@dataclass(frozen=True, slots=True)
class Layers:
    """Layers that rough a relief.

    Attributes
    ----------
    floors : depths below the top, falling
    spacing : of the passes
    """

    floors: tuple[float, ...]
    spacing: Spacing


def layers_of(uneven: Strokes, near: Neighbours | None) -> Layers | None:
    """Return the layers that a path of varying height goes down by; None without.

    Parameters
    ----------
    uneven : Strokes
        The path that goes up and down.
    near : Neighbours
        Of the same path.
    """
    run, rise = uneven.run, uneven.step[:, 2]
    floors = _floors(uneven, np.abs(rise) <= LEVEL_SLOPE * run)
    spacing = main_spacing(uneven, near)
    if len(floors) < 2 or spacing is None or spacing.both < BOTH or spacing.linked < LINKED:
        return None
    return Layers(floors, spacing)


def _floors(uneven: Strokes, level: NDArray[np.bool_]) -> tuple[float, ...]:
    """Return the depths of floors that chains rise from and come back to."""
    names, index = np.unique(uneven.chain, return_inverse=True)
    run, low = uneven.run, np.minimum(uneven.start[:, 2], uneven.end[:, 2])
    whole = np.bincount(index, run)
    floor: Floats = np.full(len(names), np.inf)
    np.minimum.at(floor, index, low)
    at_floor = level & (low < floor[index] + 0.02)
    rising = ~level & (run > 1e-6)
    mixed = np.bincount(index, run * at_floor) >= AT_FLOOR * whole
    mixed &= np.bincount(index, run * rising) >= RISING * whole
    if whole[mixed].sum() < MOST * whole.sum():
        return ()
    depth = np.round(uneven.top - floor[mixed], 2)
    values, which = np.unique(depth, return_inverse=True)
    held = np.bincount(which, np.bincount(index, run * at_floor)[mixed]) / whole.sum()
    return tuple(float(v) for v in values[held >= FLOOR])
