"""The work zero in words: "centre-top", "front-left-bed"."""

from __future__ import annotations

import re
from typing import Final

from dryrun.job.faults import printable
from dryrun.job.model import Vector

_ACROSS: Final = {"left": 0.0, "right": 1.0}
_AWAY: Final = {"front": 0.0, "back": 1.0}
_UP: Final = {"top": 0.0, "bed": -1.0}
_CENTRE: Final = "centre"

#: How it is said, for messages.
ZERO_HELP: Final = (
    "say front, centre or back, then left, centre or right, then top or bed, "
    'like "front-left-top"; "centre-top" is the centre both ways'
)


class ZeroError(ValueError):
    """Words that say no one place of the blank."""


def parse_zero(text: str, size: Vector) -> tuple[str, Vector]:
    """Read the words for the work zero.

    Parameters
    ----------
    text : str
        front, centre or back; left, centre or right; and top or bed, joined by hyphens.
        "centre-top" is the centre both ways. The order does not matter.
    size : (x, y, z) mm
        Of the blank.

    Returns
    -------
    words : str
        The same in one spelling.
    zero_at : (x, y, z) mm
        From the front-left corner of the top face, Z up.

    Raises
    ------
    ZeroError
    """
    words = [w for w in re.split(r"[-_\s]+", text.strip().lower()) if w]
    words = [_CENTRE if w in ("center", "middle") else w for w in words]
    across = [w for w in words if w in _ACROSS]
    away = [w for w in words if w in _AWAY]
    up = [w for w in words if w in _UP]
    centres = words.count(_CENTRE)
    unknown = [w for w in words if w not in {*_ACROSS, *_AWAY, *_UP, _CENTRE}]
    # Each direction is said once; the centre stands for what is not said, at most both.
    named = len(across) + len(away)
    fits = len(up) == 1 and len(across) <= 1 and len(away) <= 1 and not unknown
    fits = fits and (centres in (1, 2) if named == 0 else named + centres == 2)
    if not fits:
        raise ZeroError(f'"{printable(text)}" says no one place of the blank')
    share_x = _ACROSS[across[0]] if across else 0.5
    share_y = _AWAY[away[0]] if away else 0.5
    canonical = "-".join([*((away or [_CENTRE]) if named else []), *(across or [_CENTRE]), up[0]])
    zero = (share_x * size[0], share_y * size[1], _UP[up[0]] * size[2])
    return canonical, (zero[0], zero[1], zero[2] + 0.0)
