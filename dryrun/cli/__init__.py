"""The command line: the only room that prints or exits."""

from __future__ import annotations


def run() -> None:
    """Start the command line (the console script)."""
    from dryrun.cli.main import run as run_group

    run_group()
