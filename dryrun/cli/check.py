"""`dryrun check`: the main job."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from dryrun.cli.exits import Exit, Unusable
from dryrun.cli.jobs import Declared, declared_options, load_job, run_job
from dryrun.cli.output import write_text, written_whole

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
    """
    if not files:
        click.echo(ctx.get_help())
        return Exit.UNUSABLE
    chosen = _codes(select, "--select"), _codes(ignore, "--ignore")

    def once() -> int:
        job = load_job(files, Declared(**declared))
        outcome = run_job(
            job, cell=cell, threads=threads, memory=memory, quiet=quiet, keep_stages=False
        )
        outcome = _chosen(outcome, *chosen)
        if picture is not None:
            draw_picture(outcome, picture)
        _write(outcome, form, output, quiet, everything)
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


def _codes(text: str | None, option: str) -> frozenset[str] | None:
    if text is None:
        return None
    from dryrun.checks.catalogue import catalogue, nearest_code

    codes = frozenset(part.strip().lower() for part in text.split(",") if part.strip())
    for code in sorted(codes):
        if code not in catalogue():
            near = nearest_code(code)
            hint = f"; did you mean {near}?" if near else ""
            raise Unusable(f"{option}: there is no code {code!r}{hint}")
    return codes


def _chosen(
    outcome: Outcome, select: frozenset[str] | None, ignore: frozenset[str] | None
) -> Outcome:
    from dataclasses import replace

    if select is None and ignore is None:
        return outcome
    keep = [
        f
        for f in outcome.findings
        if (select is None or f.code in select) and f.code not in (ignore or ())
    ]
    return replace(outcome, findings=keep)


def _write(outcome: Outcome, form: str, output: str | None, quiet: bool, everything: bool) -> None:
    from dryrun.report import machine_readable, text

    if form == "json":
        write_text(dumps(machine_readable.as_json(outcome)), output)
    elif form == "sarif":
        write_text(dumps(machine_readable.as_sarif(outcome)), output)
    elif form == "concise":
        write_text("\n".join(text.one_line(f) for f in outcome.findings), output)
    else:
        _print_text(outcome, output, quiet, everything)


def dumps(data: Any) -> str:
    """Write JSON the same way everywhere; NaN is a fault of ours, not of the reader."""
    return json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False)


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
