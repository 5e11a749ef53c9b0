"""Writing results: to standard output or whole to a file, never in half."""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import click

from dryrun.cli.exits import ClosedPipe, FullOutput, Unusable


def write_text(text: str, target: str | None) -> None:
    """Write to a file (through a temporary one, then renamed) or to standard output."""
    if target is None or target == "-":
        try:
            click.echo(text)
            sys.stdout.flush()
        except BrokenPipeError:
            raise ClosedPipe from None
        except OSError as error:
            raise FullOutput(f"cannot write the output: {error.strerror or error}") from None
        return
    with written_whole(Path(target)) as part:
        part.write_text(text if text.endswith("\n") else text + "\n", encoding="utf-8")


@contextlib.contextmanager
def written_whole(path: Path) -> Iterator[Path]:
    """Give a temporary path beside `path`, renamed to it when all went well.

    A link is followed, so that it stays one. What is no ordinary file (/dev/null, a named pipe)
    is never replaced: the finished bytes are written into it.

    Raises
    ------
    Unusable
        When the folder is missing, not writable or full.
    """
    real = Path(os.path.realpath(path))
    try:
        if real.is_dir():
            raise Unusable(f"cannot write {path}: it is a folder")
        special = real.exists() and not real.is_file()
        handle, name = tempfile.mkstemp(
            dir=None if special else real.parent, prefix=f".{real.name}.", suffix=".part"
        )
    except (OSError, ValueError) as error:
        raise Unusable(f"cannot write {path}: {_why(error)}") from error
    os.close(handle)
    part = Path(name)
    try:
        yield part
        if special:
            with real.open("wb") as file:
                file.write(part.read_bytes())
        else:
            mask = os.umask(0)
            os.umask(mask)
            part.chmod(0o666 & ~mask)
            part.replace(real)
    except OSError as error:
        raise Unusable(f"cannot write {path}: {_why(error)}") from error
    finally:
        part.unlink(missing_ok=True)


def _why(error: Exception) -> str:
    return (error.strerror if isinstance(error, OSError) else None) or str(error)
