"""Colours for pictures: one scale for depth, one for deviation, and the signs' own.

Depth uses the cividis scale (Nuñez, Anderton, Renslow 2018, PLoS ONE 13(7) e0199239), whose
lightness rises steadily, so it reads the same to colour-blind eyes and in grey print (Crameri,
Shephard, Heron 2020, Nature Communications 11:5444, on why that matters). The blank that nothing
touched is a neutral grey and takes no part in the scale.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

#: Seventeen even steps of cividis, sRGB.
_CIVIDIS: Final = np.array(
    [
        (0, 34, 78), (0, 46, 106), (26, 56, 111), (50, 67, 109), (67, 78, 108), (83, 90, 109),
        (97, 101, 111), (111, 112, 115), (125, 124, 120), (140, 136, 120), (155, 148, 118),
        (171, 160, 114), (188, 174, 108), (205, 187, 99), (222, 201, 88), (240, 216, 70),
        (254, 232, 56),
    ],
    dtype=np.float64,
)  # fmt: skip

UNCUT: Final = (201, 196, 188)
THROUGH: Final = (255, 255, 255)
PAPER: Final = (255, 255, 255)
INK: Final = (28, 28, 30)
FAINT: Final = (110, 110, 116)
CLAMP: Final = (120, 96, 140)

#: Searched for contrast on white and for distance under colour-vision deficiency.
LEVEL_INK: Final = {"error": (110, 11, 20), "warning": (154, 107, 0), "note": (31, 95, 168)}


def depth_colours(part: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return sRGB colours (…, 3) for 0 (shallowest, light) to 1 (deepest, dark)."""
    steps = np.linspace(0.0, 1.0, len(_CIVIDIS))
    level = 1.0 - np.clip(part, 0.0, 1.0)
    return np.stack([np.interp(level, steps, _CIVIDIS[:, c]) for c in range(3)], axis=-1)


def deviation_colours(part: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return sRGB colours (…, 3) for -1 (too deep) over 0 (neutral) to +1 (too high)."""
    ends = np.array([(33, 60, 120), (240, 238, 232), (140, 70, 10)], dtype=np.float64)
    return np.stack(
        [np.interp(np.clip(part, -1, 1), [-1.0, 0.0, 1.0], ends[:, c]) for c in range(3)], axis=-1
    )
