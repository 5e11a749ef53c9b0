"""`dryrun sheet`: a set-up sheet to print."""

from __future__ import annotations

from typing import Any

import click

from dryrun.cli.exits import Exit, Unusable
from dryrun.cli.jobs import Declared, declared_options, load_job, run_job
from dryrun.cli.output import write_text


@click.command(name="sheet")
@click.argument("files", nargs=-1, metavar="JOB.toml | PROGRAM…")
@declared_options
@click.option("-o", "--output", metavar="FILE.html", help="write there (- is standard output)")
@click.option("--threads", type=click.IntRange(1, 256), help="how many threads cut")
@click.option("-q", "--quiet", is_flag=True, help="print nothing but errors")
@click.pass_context
def command(
    ctx: click.Context,
    /,
    files: tuple[str, ...],
    output: str | None,
    threads: int | None,
    quiet: bool,
    **declared: Any,
) -> int:
    """Write a set-up sheet: a page a stage, with a drawing and boxes to tick.

    \b
      dryrun sheet job.toml -o sheet.html

    It prints on A4 and on Letter. The exit code is 0 whatever was found: `dryrun check` judges.
    """
    if not files:
        click.echo(ctx.get_help())
        return Exit.UNUSABLE
    if output is None:
        raise Unusable("sheet: say where to write it, for example -o sheet.html")
    from dryrun.report.sheet import setup_sheet

    job = load_job(files, Declared(**declared))
    outcome = run_job(job, threads=threads, quiet=quiet, keep_stages=False)
    write_text(setup_sheet(outcome), output)
    return Exit.OK
