"""`dryrun init`: draft a job file from programs."""

from __future__ import annotations

from pathlib import Path

import click

from dryrun.cli.exits import Exit, Unusable
from dryrun.cli.output import write_text


@click.command(name="init")
@click.argument("programs", nargs=-1, metavar="PROGRAM…")
@click.option("-o", "--output", metavar="FILE.toml", help="default job.toml beside the program")
@click.option("--title", metavar="TEXT", help="what the job is called")
@click.pass_context
def command(
    ctx: click.Context, /, programs: tuple[str, ...], output: str | None, title: str | None
) -> int:
    """Draft a job file from programs: what they say is written down, the rest is asked for.

    \b
      dryrun init ground.nc points.nc
      dryrun init part.nc -o -           (to standard output)

    Programs are put in an order that suits their bits. A file that is there is never written over.
    """
    if not programs:
        click.echo(ctx.get_help())
        return Exit.UNUSABLE
    target = Path(programs[0]).parent / "job.toml" if output is None else Path(output)
    to_screen = output == "-"
    if not to_screen and target.exists():
        raise Unusable(f"init: {target} is there already; name another with -o")
    folder = Path(programs[0]).parent if to_screen else target.parent
    text = _draft(programs, folder, title)
    write_text(text.rstrip("\n"), "-" if to_screen else str(target))
    if not to_screen:
        click.echo(f"wrote {target}: fill in what it asks for, then dryrun check {target}")
    return Exit.OK


def _draft(programs: tuple[str, ...], folder: Path, title: str | None) -> str:
    from dryrun.job.drafting import draft_job

    try:
        for name in programs:
            if not Path(name).read_bytes().strip():
                raise Unusable(f"init: {name} is empty")
        return draft_job(programs, folder, title)
    except OSError as error:
        named = f"{error.filename}: " if error.filename else ""
        raise Unusable(f"init: {named}{error.strerror or error}") from error
