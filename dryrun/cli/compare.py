"""`dryrun compare`: two jobs, or two versions of one."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from dryrun.cli.exits import Exit, Unusable
from dryrun.cli.jobs import Declared, declared_options, load_job, run_job
from dryrun.cli.output import write_text, written_whole


@click.command(name="compare")
@click.argument("a", metavar="A")
@click.argument("b", metavar="B")
@declared_options
@click.option("--cell", metavar="LENGTH", help="size of the field's cells")
@click.option("--picture", metavar="FILE.png", help="draw the difference of the surfaces")
@click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True
)
@click.option("-o", "--output", metavar="FILE", help="write there instead of standard output")
def command(
    a: str,
    b: str,
    cell: str | None,
    picture: str | None,
    form: str,
    output: str | None,
    **declared: Any,
) -> int:
    """Put two jobs side by side: time, volume, leftovers, surfaces.

    A and B are job files, or programs under the same declaration.
    """
    from dryrun.report import comparison

    said = Declared(**declared)
    jobs = [load_job([name], said) for name in (a, b)]
    first = run_job(jobs[0], cell=cell, keep_stages=False)
    same = cell if cell or first.surface is None else f"{first.surface.cell!r} mm"
    second = run_job(jobs[1], cell=same, keep_stages=False)
    if picture is not None:
        difference = comparison.surface_difference(first, second)
        if difference is None:
            raise Unusable("--picture: needs the same declared blank and bits in both")
        with written_whole(Path(picture)) as part:
            comparison.difference_picture(difference).save(part, format="PNG")
    if form == "json":
        from dryrun.cli.asked import Asked
        from dryrun.report.json_text import dumps
        from dryrun.report.replay import with_record

        result = comparison.comparison_json(first, second)
        settings = Asked(said, cell).settings()
        write_text(dumps(with_record(result, "compare", [first, second], settings)), output)
    else:
        from dryrun.cli.console import print_blocks

        print_blocks(comparison.comparison_blocks(first, second, (a, b)), output)
    return Exit.OK
