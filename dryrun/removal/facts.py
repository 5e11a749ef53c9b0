"""CutFacts: what each motion row did to the blank, one table beside Motion."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

#: Pairs that may touch. The cutting part in material is a cut, and has columns of its own.
CONTACTS: Final = (
    "shank-material",
    "holder-material",
    "body-material",
    "cutter-clamp",
    "shank-clamp",
    "holder-clamp",
    "body-clamp",
)


#: Largest deviation of a chord from its arc, mm, for arcs whose cut has no closed form.
CHORD_SAGITTA: Final = 5e-5


@dataclass(frozen=True, slots=True)
class Contact:
    """Where two things that must not touch do: how deep (mm, 0 none) and where (mm)."""

    depth: NDArray[np.float64]
    place: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class CutFacts:
    """Facts per motion row, (n,) unless said; lengths in mm, job frame.

    Attributes
    ----------
    removed_mm3 : volume taken, from the field. A cell counts by its centre, and where a wall, the tip
        of a cone, a step of a form or the edge of the cut passes through it, by its area (module
        `strips`). The cut of a ball counts by the centres where its edges are less than 0.15 % of it
        (`cells.fine_between`). What rows that cross leave standing counts by the one that took more.
        With 0.1 mm cells nearly all moves measured (171, of 11 kinds and 14 shapes) are within 0.2 %,
        upright arcs of 1 to 2 mm radius within 0.3 %, grooves under three cells wide within 0.5 %
    axial : axial depth of cut: the tallest column of material that the cutting part takes in one
        go, 0 none. What lies ahead of a row counts as it will become if the path goes straight on,
        so that a program in short moves has the depth of one in long moves. A plunge that goes on
        from another counts from where the first began. A slanting move steeper than 45 degrees
        counts what it takes itself: cut into n moves, the depths of these add up to that of the
        whole or more, and the largest of them is its n-th part or more
    axial_at : (n, 2) place of that column, NaN none
    lowest : lowest point the cutter reaches while over the blank, exact, not sampled; NaN never
        over the blank
    lowest_at : (n, 2) place of the cutter's axis then
    width : radial width of cut, measured across the direction of feed; 0 none
    engagement : angle of the cutting edge in material, rad; 0 none
    entry : angle below the horizontal at which the bit goes down into material, rad; NaN when it
        does not go down into any
    contacts : one `Contact` for each name in CONTACTS that was looked for. Shank, holder and body
        meet the material as it was before the row; what the cutter takes in the row itself counts
        as gone only for a disc no wider than it, straight down and from the second turn of a helix
        on. On a steep slope a row may so be said to touch more than it does, never less
    """

    removed_mm3: NDArray[np.float64]
    axial: NDArray[np.float64]
    axial_at: NDArray[np.float64]
    lowest: NDArray[np.float64]
    lowest_at: NDArray[np.float64]
    width: NDArray[np.float64]
    engagement: NDArray[np.float64]
    entry: NDArray[np.float64]
    contacts: dict[str, Contact]

    def __len__(self) -> int:
        return len(self.removed_mm3)
