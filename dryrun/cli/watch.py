"""Do something again whenever files change, until Ctrl-C: `dryrun check --watch`."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Final

import click

from dryrun.cli.exits import show

#: How often files are looked at, s.
PAUSE: Final = 0.4

#: Files beside a job that it may be made of.
_PARTS: Final = (".toml", ".nc", ".ngc", ".gcode", ".tap", ".cnc", ".txt")

Stamp = dict[Path, tuple[int, int]]


def watch(
    files: Iterable[str],
    again: Callable[[], object],
    *,
    pause: Callable[[], None] | None = None,
    rounds: int | None = None,
) -> None:
    """Call `again`, and once more each time a file has changed; `rounds` ends it, for tests.

    A change is answered once it has stood still for one look, so that a file that is being written
    is not read in half.
    """
    wait = pause or (lambda: time.sleep(PAUSE))
    watched = list(files)
    seen = stamps(watched)
    _call(again)
    while rounds is None or rounds > 0:
        wait()
        now = stamps(watched)
        if now != seen:
            wait()
            seen = stamps(watched)
            if seen != now:
                seen = {}
                continue
            click.echo(f"--- changed, {time.strftime('%H:%M:%S')} ---", err=True)
            _call(again)
        if rounds is not None:
            rounds -= 1


def _call(again: Callable[[], object]) -> None:
    try:
        again()
    except click.ClickException as error:
        show(error)


def stamps(files: Iterable[str]) -> Stamp:
    """Return when each file was last written and how long it is; for a job, those beside it too."""
    found: Stamp = {}
    for name in files:
        path = Path(name)
        near = path.parent.iterdir() if path.suffix.lower() == ".toml" else iter([path])
        for each in near:
            if each == path or each.suffix.lower() in _PARTS:
                try:
                    status = each.stat()
                except OSError:
                    continue
                found[each] = (status.st_mtime_ns, status.st_size)
    return found
