"""Progress on standard error, only on a terminal and only when work takes a while."""

from __future__ import annotations

import sys
import time
from typing import Any, Final

#: Work that is done sooner shows no bar, s.
PATIENCE: Final = 0.6


class ProgressBar:
    """Shows a bar for `dry_run`; a context manager that leaves nothing behind."""

    def __init__(self, quiet: bool = False) -> None:
        self._wanted = not quiet and sys.stderr.isatty()
        self._begun = time.monotonic()
        self._bar: Any = None
        self._tasks: dict[str, Any] = {}

    def __enter__(self) -> ProgressBar:
        return self

    def __exit__(self, *_: object) -> None:
        if self._bar is not None:
            self._bar.stop()

    def __call__(self, title: str, done: int, total: int) -> None:
        """Show how much of a piece of work is done; what has no total is said at once."""
        if total == 0:
            if self._wanted:
                sys.stderr.write(f"{title} …\n")
            return
        if not self._wanted or time.monotonic() - self._begun < PATIENCE:
            return
        if self._bar is None:
            self._bar = _make_bar()
            self._bar.start()
        if title not in self._tasks:
            self._tasks[title] = self._bar.add_task(title, total=total)
        self._bar.update(self._tasks[title], completed=done, total=total)


def _make_bar() -> Any:
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    return Progress(
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        TextColumn("{task.percentage:>3.0f} %"),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
    )
