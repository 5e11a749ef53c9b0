"""Reading a file whole: no more than is allowed, and not while it changes."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import Final

#: Most pixels of a picture of heights that is read: 7000 x 7000 and a bit.
MOST_PIXELS: Final = 50_000_000


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


def check_pixels(size: tuple[int, int]) -> None:
    """Refuse a picture of heights that would take seconds and gigabytes.

    Raises
    ------
    ValueError
    """
    if size[0] * size[1] > MOST_PIXELS:
        raise ValueError(f"{size[0]} x {size[1]} pixels; at most {MOST_PIXELS:,} are read")
