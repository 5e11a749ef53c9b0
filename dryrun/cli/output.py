"""Writing results: to standard output or whole to a file, never in half."""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import click

from dryrun.cli.exits import ClosedPipe, Unusable


def write_text(text: str, target: str | None) -> None:
    """Write to a file (through a temporary one, then renamed) or to standard output."""
    if target is None or target == "-":
        try:
            click.echo(text)
            sys.stdout.flush()
        except BrokenPipeError:
            raise ClosedPipe from None
        return
    with written_whole(Path(target)) as part:
        part.write_text(text if text.endswith("\n") else text + "\n", encoding="utf-8")


@contextlib.contextmanager
def written_whole(path: Path) -> Iterator[Path]:
    """Give a temporary path beside `path`, renamed to it when all went well.

    Raises
    ------
    Unusable
        When the folder is missing, not writable or full.
    """
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    except OSError as error:
        raise Unusable(f"cannot write {path}: {error.strerror or error}") from error
    os.close(handle)
    part = Path(name)
    try:
        yield part
        mask = os.umask(0)
        os.umask(mask)
        part.chmod(0o666 & ~mask)
        part.replace(path)
    except OSError as error:
        raise Unusable(f"cannot write {path}: {error.strerror or error}") from error
    finally:
        part.unlink(missing_ok=True)
