"""`dryrun report`: the whole outcome as one HTML file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from dryrun.cli.asked import Asked
from dryrun.cli.exits import Exit, Unusable
from dryrun.cli.jobs import Declared, declared_options, load_job, run_job
from dryrun.cli.output import write_text

if TYPE_CHECKING:
    from dryrun.outcome import Outcome


@click.command(name="report")
@click.argument("files", nargs=-1, metavar="JOB.toml | PROGRAM…")
@declared_options
@click.option("-o", "--output", metavar="FILE.html", help="write there (- is standard output)")
@click.option("--cell", metavar="LENGTH", help="size of the field's cells")
@click.option("--threads", type=click.IntRange(1, 256), help="how many threads cut")
@click.option("--memory", metavar="SIZE", help="most memory the field may take, such as 2G")
@click.option("-q", "--quiet", is_flag=True, help="print nothing but errors")
@click.pass_context
def command(
    ctx: click.Context,
    /,
    files: tuple[str, ...],
    output: str | None,
    cell: str | None,
    threads: int | None,
    memory: str | None,
    quiet: bool,
    **declared: Any,
) -> int:
    """Write a report that opens in any browser, offline, and prints.

    \b
      dryrun report job.toml -o report.html
      dryrun report part.nc --bit flat:6mm --stock 200x200x18mm --zero centre-top -o part.html

    The exit code is 0 whatever was found: `dryrun check` is the command that judges.
    """
    if not files:
        click.echo(ctx.get_help())
        return Exit.UNUSABLE
    if output is None:
        raise Unusable("report: say where to write it, for example -o report.html")
    asked = Asked(Declared(**declared), cell, memory)
    job = load_job(files, asked.declared)
    outcome = run_job(job, cell=cell, threads=threads, memory=memory, quiet=quiet)
    write_text(_page(outcome, threads, asked), output)
    if not quiet and output != "-":
        click.echo(f"{output}: {_words(outcome)}", err=True)
    return Exit.OK


def _page(outcome: Outcome, threads: int | None, asked: Asked) -> str:
    from dryrun.report.html import report_page

    return report_page(outcome, threads, asked.settings())


def _words(outcome: Outcome) -> str:
    from dryrun.report.words import counts

    return counts(outcome.findings)
