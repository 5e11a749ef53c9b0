"""Reading a file whole: no more than is allowed, and not while it changes."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from numpy.typing import NDArray

#: Most pixels of a picture of heights that is read. One takes up to 6 bytes while it is read.
MOST_PIXELS: Final = 36_000_000


class FileChangedError(OSError):
    """A file that changed while it was read."""

    def __init__(self, path: Path) -> None:
        super().__init__(0, "it changed while it was read; try again once it is written", str(path))


def read_steady(path: Path, most: int) -> bytes:
    """Return a file's bytes, at most `most` + 1 of them.

    One more than allowed tells that there are more, also where a file has no size of its own.

    Raises
    ------
    FileChangedError
        When size or time of writing are other ones afterwards.
    OSError
    """
    with path.open("rb") as file:
        before = os.fstat(file.fileno())
        data = file.read(most + 1)
        after = os.fstat(file.fileno())
    steady = (before.st_size, before.st_mtime_ns) == (after.st_size, after.st_mtime_ns)
    if stat.S_ISREG(before.st_mode) and not steady:
        raise FileChangedError(path)
    return data


def read_grey(path: str | os.PathLike[str]) -> NDArray[Any]:
    """Read a picture of heights, as whole or real numbers of the picture's own depth.

    Returns
    -------
    (rows, columns) array, the top row first; colours as their brightness, 0 to 255.

    Raises
    ------
    ValueError
        For a picture that would take seconds and gigabytes. The reader of pictures raises what it
        likes besides.
    """
    import numpy as np
    from PIL import Image

    with Image.open(path) as image:
        width, height = image.size
        if width * height > MOST_PIXELS:
            raise ValueError(f"{width} x {height} pixels; at most {MOST_PIXELS:,} are read")
        plain = image.mode in ("L", "I", "F") or image.mode.startswith("I;16")
        return np.asarray(image if plain else image.convert("L"))
