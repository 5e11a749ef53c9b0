"""Text for people through one console, so that colour and width are decided in one place."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from io import StringIO
from typing import TYPE_CHECKING, Any

from dryrun.cli.output import write_text

if TYPE_CHECKING:
    from rich.console import Console


def print_blocks(blocks: Iterable[Any], output: str | None = None) -> None:
    """Print renderables to standard output, or plain to a file."""
    console, buffer = text_console(output)
    for block in blocks:
        console.print(block)
    lines = "\n".join(line.rstrip() for line in buffer.getvalue().splitlines())
    write_text(lines, output)


def text_console(output: str | None) -> tuple[Console, StringIO]:
    """Make a console that writes to a buffer the way the target wants it."""
    from rich.console import Console

    from dryrun.cli.main import wants_colour

    buffer = StringIO()
    colour = output is None and wants_colour(sys.stdout)
    console = Console(
        file=buffer,
        force_terminal=colour,
        no_color=not colour,
        color_system="standard" if colour else None,
        width=None if output is None and sys.stdout.isatty() else 100,
        highlight=False,
        markup=False,
        emoji=False,
    )
    return console, buffer
