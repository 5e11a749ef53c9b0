"""The group of commands; each is loaded only when it is called."""

from __future__ import annotations

import difflib
import importlib
import os
import sys
from typing import Any, Final

import click

import dryrun
from dryrun.cli.exits import guarded

#: Command, the module it lives in, and its line in the list of commands.
COMMANDS: Final = {
    "check": ("check", "tell what a job or program will do, and what speaks against starting it"),
    "time": ("time", "say where the time of a job goes, and what would shorten it"),
    "margin": ("margin", "say how much set-up error a job bears"),
    "compare": ("compare", "put two jobs, or two versions of one, side by side"),
    "batch": ("batch", "check hundreds of programs and jobs; one summary, resumable"),
    "view": ("view", "look at the predicted blank in a window; write it as solid or map"),
    "report": ("report", "write a report to look at: views, section, time, program, findings"),
    "sheet": ("sheet", "write a set-up sheet to print, a page a stage"),
    "restart": ("restart", "say how things stand after a stop, and write a program that goes on"),
    "init": ("init", "draft a job file from programs"),
    "demo": ("demo", "write a job to try into a new folder"),
    "schema": ("schema", "print the JSON Schema of a job, machine or bits file"),
    "gauge": ("gauge", "say where to measure after the cut, and what the readings mean"),
    "bits": ("bits", "say which bit of the rack a program was made for"),
    "explain": ("explain", "say what a finding means, why it matters and what to do"),
}

EXAMPLES: Final = """\
\b
  dryrun check job.toml
  dryrun check part.nc --bit flat:6mm --stock 200x200x18mm --zero centre-top
"""


class LazyGroup(click.Group):
    """A group that imports a command's module when the command is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in the order of a working day."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return a command."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"dryrun.cli.{COMMANDS[cmd_name][0]}")
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list without importing any command."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, help_) for name, (_, help_) in COMMANDS.items()])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find a command; suggest one when a file or a misspelt name stands in its place."""
        name = args[0]
        if name not in COMMANDS and not name.startswith("-"):
            near = difflib.get_close_matches(name, list(COMMANDS), n=1)
            hint = f" Did you mean {near[0]!r}?" if near else ""
            if os.path.exists(name):
                hint = f" To check that file: dryrun check {name}"
            ctx.fail(f"there is no command {name!r}.{hint}")
        return super().resolve_command(ctx, args)


def _epilog() -> str:
    return (
        "Exit codes: 0 checked, nothing at or above --fail-on; 1 findings, or something that could "
        "not be interpreted; 2 unusable input, job or arguments; 3 a fault of dryrun; "
        "130 interrupted; 141 the reader closed the pipe."
    )


@click.command(
    cls=LazyGroup,
    help="Tell what a G-code program will do at the router, before you press start.\n\n" + EXAMPLES,
    epilog=_epilog(),
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(dryrun.__version__, prog_name="dryrun")
@click.pass_context
def group(ctx: click.Context) -> None:
    """Set colour once, for everything click prints."""
    ctx.color = wants_colour(sys.stdout)


def wants_colour(stream: Any) -> bool:
    """Decide on colour in one place: NO_COLOR, FORCE_COLOR, then the terminal."""
    if os.environ.get("NO_COLOR"):
        return False
    if os.environ.get("FORCE_COLOR"):
        return True
    return os.environ.get("TERM") != "dumb" and bool(getattr(stream, "isatty", bool)())


def run(arguments: list[str] | None = None) -> None:
    """Run the command line and exit."""

    def call() -> int | None:
        result: int | None = group.main(arguments, prog_name="dryrun", standalone_mode=False)
        sys.stdout.flush()
        return result

    sys.exit(guarded(call))
