"""`dryrun check`: the main job."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from dryrun.cli.asked import Asked
from dryrun.cli.exits import Exit, Unusable
from dryrun.cli.jobs import Declared, declared_options
from dryrun.cli.output import write_text, written_whole
from dryrun.report.json_text import dumps

if TYPE_CHECKING:
    from dryrun.outcome import Outcome

_RANK = {"error": 3, "warning": 2, "note": 1, "none": 0}


@click.command(name="check")
@click.argument("files", nargs=-1, metavar="JOB.toml | PROGRAM…")
@declared_options
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "concise", "json", "sarif"]),
    default="text",
    show_default=True,
    help="what to write",
)
@click.option("-o", "--output", metavar="FILE", help="write there instead of standard output")
@click.option("--picture", metavar="FILE.png", help="draw the predicted depths from above")
@click.option(
    "--fail-on",
    type=click.Choice(["error", "warning", "note", "never"]),
    default="error",
    show_default=True,
    help="from which level on the exit code is 1",
)
@click.option("--select", metavar="CODE,…", help="report only these codes")
@click.option("--ignore", metavar="CODE,…", help="do not report these codes")
@click.option("--cell", metavar="LENGTH", help="size of the field's cells")
@click.option("--threads", type=click.IntRange(1, 256), help="how many threads cut")
@click.option("--memory", metavar="SIZE", help="most memory the field may take, such as 2G")
@click.option("--replay", metavar="RECORD", help="check again as a JSON or HTML report says")
@click.option("--all", "everything", is_flag=True, help="print every place of a finding")
@click.option("-q", "--quiet", is_flag=True, help="print only findings and verdict")
@click.option("--watch", "watching", is_flag=True, help="check again whenever a file changes")
@click.pass_context
def command(
    ctx: click.Context,
    /,
    files: tuple[str, ...],
    form: str,
    output: str | None,
    picture: str | None,
    fail_on: str,
    select: str | None,
    ignore: str | None,
    cell: str | None,
    threads: int | None,
    memory: str | None,
    replay: str | None,
    everything: bool,
    quiet: bool,
    watching: bool,
    **declared: Any,
) -> int:
    """Tell what a job or program will do, and what speaks against starting it.

    \b
      dryrun check job.toml
      dryrun check part.nc --bit flat:6mm --stock 200x200x18mm --zero centre-top
      dryrun check part.nc                (says what it can, and what it could)
      dryrun check --replay report.json   (checks again, and says what is different)
    """
    if replay is not None:
        from dryrun.cli.replay import REPLAYABLE, refuse_given, replay_check

        refuse_given(ctx, REPLAYABLE)
        return replay_check(replay, files, declared["machine"], threads, form, output, quiet)
    if not files:
        click.echo(ctx.get_help())
        return Exit.UNUSABLE
    asked = Asked(Declared(**declared), cell, memory, select, ignore)
    asked.chosen()

    def once() -> int:
        from dryrun.checks.run import BROKEN_OFF

        outcome = asked.check(files, threads, quiet)
        if picture is not None:
            draw_picture(outcome, picture)
        _write(outcome, asked, form, output, quiet, everything)
        if any(finding.code == BROKEN_OFF for finding in outcome.findings):
            return Exit.FAULT
        bar = _RANK.get(fail_on, 99)
        return Exit.FINDINGS if _RANK[outcome.worst] >= bar else Exit.OK

    if not watching:
        return once()
    if "-" in files:
        raise Unusable("--watch: standard input cannot be watched")
    from dryrun.cli.watch import watch

    machine = declared.get("machine")
    watch([*files, *([machine] if machine else [])], once)
    return Exit.OK


def _write(
    outcome: Outcome, asked: Asked, form: str, output: str | None, quiet: bool, everything: bool
) -> None:
    from dryrun.report import machine_readable, text

    if form == "json":
        write_text(dumps(machine_readable.as_json(outcome, asked.settings())), output)
    elif form == "sarif":
        write_text(dumps(machine_readable.as_sarif(outcome, asked.settings())), output)
    elif form == "concise":
        write_text("\n".join(text.one_line(f) for f in outcome.findings), output)
    else:
        _print_text(outcome, output, quiet, everything)


def _print_text(outcome: Outcome, output: str | None, quiet: bool, everything: bool) -> None:
    from dryrun.cli.console import print_blocks
    from dryrun.report.text import report_blocks

    print_blocks(report_blocks(outcome, quiet=quiet, everything=everything), output)


def draw_picture(outcome: Outcome, target: str) -> None:
    """Write the top view as a PNG."""
    from dryrun.report.pictures import top_view

    if not target.lower().endswith(".png"):
        raise Unusable(f"--picture: {target} must end in .png")
    if outcome.surface is None:
        raise Unusable("--picture: needs a declared blank (--stock, --zero) and a bit (--bit)")
    with written_whole(Path(target)) as part:
        top_view(outcome).save(part, format="PNG")
