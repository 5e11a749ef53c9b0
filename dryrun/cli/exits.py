"""Exit codes, and the one place where exceptions become them."""

from __future__ import annotations

import contextlib
import errno
import io
import os
import sys
import traceback
from collections.abc import Callable
from enum import IntEnum

import click

from dryrun.report.words import visible


class Exit(IntEnum):
    """What the process tells the shell."""

    OK = 0  # read and checked, nothing at or above --fail-on
    FINDINGS = 1  # findings at or above --fail-on, or something that could not be interpreted
    UNUSABLE = 2  # input, job or arguments that cannot be used
    FAULT = 3  # a fault of ours
    INTERRUPTED = 130  # Ctrl-C
    CLOSED_PIPE = 141  # the reader closed the pipe


#: No space, no more of it allowed, a file that may not grow further.
_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)


class ClosedPipe(Exception):  # noqa: N818 - not an error, the reader had enough
    """The reader closed the pipe. click would turn a BrokenPipeError into exit code 1."""


class Unusable(click.ClickException):
    """Input that cannot be used: one clear message, exit code 2."""

    exit_code = Exit.UNUSABLE


class FullOutput(Unusable):
    """Standard output that takes no more, as on a full disk."""


def guarded(command: Callable[[], int | None]) -> int:
    """Run a command and turn whatever happens into an exit code."""
    try:
        return int(command() or Exit.OK)
    except click.exceptions.Exit as stop:
        return stop.exit_code
    except click.Abort:
        return _interrupted()
    except click.ClickException as error:
        show(error)
        if isinstance(error, FullOutput):
            _forget_output()
        return Exit.UNUSABLE
    except KeyboardInterrupt:
        return _interrupted()
    except (ClosedPipe, BrokenPipeError):
        return _closed_pipe()
    except PermissionError as error:
        return _closed_to_us(error)
    except OSError as error:
        return _full(error) if error.errno in _FULL else _fault()
    except Exception:
        return _fault()


def show(error: click.ClickException) -> None:
    """Print a message; names of files and what is cited from them must not steer the terminal."""
    text = io.StringIO()
    error.show(text)
    click.echo("\n".join(visible(line) for line in text.getvalue().split("\n")), err=True, nl=False)


def _interrupted() -> int:
    click.echo("interrupted; nothing was written in half", err=True)
    return Exit.INTERRUPTED


def _closed_pipe() -> int:
    _forget_output()
    return Exit.CLOSED_PIPE


def _forget_output() -> None:
    # Python flushes standard output once more on the way out; give it somewhere to go.
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _full(error: OSError) -> int:
    click.echo(f"Error: cannot write: {error.strerror}", err=True)
    _forget_output()
    return Exit.UNUSABLE


def _closed_to_us(error: PermissionError) -> int:
    # a folder that may not be entered does not even tell what lies in it
    show(Unusable(f"cannot come to {error.filename}: {(error.strerror or '').lower()}"))
    return Exit.UNUSABLE


def _fault() -> int:
    traceback.print_exc()
    click.echo(
        "this is a fault of dryrun, not of your files: please report the lines above "
        "together with the command",
        err=True,
    )
    return Exit.FAULT
