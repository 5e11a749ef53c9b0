"""Arrays made small enough to travel inside a page, and the words the page needs to unpack them.

Whole numbers are written as differences, split into byte planes (all high bytes, then all low
bytes, so that alike bytes lie together), deflated (RFC 1950) and written in base64. Heights use 16
bits over the blank's range: at 18 mm a step is 0.3 um.
"""

from __future__ import annotations

import base64
import zlib
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

LEVELS_16: Final = 65535

Whole = NDArray[np.integer[Any]]


def pack(values: Whole, width: int, differences: int = 0) -> dict[str, Any]:
    """Return an array of non-negative whole numbers below 256**width, packed.

    Parameters
    ----------
    values : ndarray
        (n,) or (..., ny, nx) integers.
    width : int
        Bytes a number takes.
    differences : int
        0 none; 1 along the last axis; 2 along both last axes.
    """
    whole = values.astype(np.int64)
    if differences >= 1:
        whole = np.diff(whole, axis=-1, prepend=np.zeros_like(whole[..., :1]))
    if differences >= 2:
        whole = np.diff(whole, axis=-2, prepend=np.zeros_like(whole[..., :1, :]))
    unsigned = (whole % 256**width).astype(np.uint64).ravel()
    planes = [((unsigned >> (8 * k)) & 255).astype(np.uint8) for k in reversed(range(width))]
    packed = zlib.compress(np.concatenate(planes).tobytes(), 6)
    return {
        "shape": list(values.shape),
        "width": width,
        "differences": differences,
        "data": base64.b64encode(packed).decode(),
    }


def unpack(packed: dict[str, Any]) -> NDArray[np.int64]:
    """Undo `pack`; the page's script does the same."""
    width = packed["width"]
    planes = np.frombuffer(zlib.decompress(base64.b64decode(packed["data"])), np.uint8)
    planes = planes.reshape(width, -1).astype(np.int64)
    whole = np.zeros(planes.shape[1], np.int64)
    for plane in planes:
        whole = whole * 256 + plane
    whole = whole.reshape(packed["shape"])
    if packed["differences"] >= 2:
        whole = np.cumsum(whole, axis=-2)
    if packed["differences"] >= 1:
        whole = np.cumsum(whole, axis=-1)
    found: NDArray[np.int64] = whole % 256**width
    return found


def levels(heights: NDArray[np.floating[Any]], low: float, high: float) -> NDArray[np.int64]:
    """Return heights as whole steps of (high - low) / 65535 above `low`."""
    part = (np.asarray(heights, np.float64) - low) / (high - low)
    return np.rint(np.clip(part, 0.0, 1.0) * LEVELS_16).astype(np.int64)
