"""Reading a file whole: no more than is allowed, and not while it changes."""

from __future__ import annotations

import os
import stat
from pathlib import Path


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
