"""`dryrun restart`: a way back into a stage that stopped in the middle."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from dryrun.cli.asked import Asked
from dryrun.cli.exits import Exit, Unusable
from dryrun.cli.jobs import Declared, cell_size, declared_options, load_job, size_in_bytes
from dryrun.cli.output import write_text, written_whole

if TYPE_CHECKING:
    from dryrun.job.model import Job
    from dryrun.restart.plan import Restart


@click.command(name="restart")
@click.argument("files", nargs=-1, metavar="JOB.toml | PROGRAM…")
@declared_options
@click.option("--stage", metavar="STAGE", help="number or name of the stage that stopped")
@click.option("--line", "line", metavar="LINE", help="where it stopped: 340, or SUBPROGRAM.nc:12")
@click.option(
    "--pass",
    "pass_",
    type=click.IntRange(min=1),
    metavar="K",
    help="which time the line was carried out, in a loop or subprogram  [default: the first]",
)
@click.option("-o", "--output", metavar="FILE", help="write the restart program to this new file")
@click.option("--picture", metavar="FILE.png", help="draw the blank as it stands there")
@click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True
)
@click.option("--cell", metavar="LENGTH", help="size of the field's cells")
@click.option("--threads", type=click.IntRange(1, 256), help="how many threads cut")
@click.option("--memory", metavar="SIZE", help="most memory the field may take, such as 2G")
@click.option("-q", "--quiet", is_flag=True, help="print only where to go on, findings and verdict")
@click.pass_context
def command(
    ctx: click.Context,
    /,
    files: tuple[str, ...],
    stage: str | None,
    line: str | None,
    pass_: int | None,
    output: str | None,
    picture: str | None,
    form: str,
    cell: str | None,
    threads: int | None,
    memory: str | None,
    quiet: bool,
    **declared: Any,
) -> int:
    """Say how things stand after a stop in the middle, and write a program that goes on.

    \b
      dryrun restart job.toml --stage 2 --line 340
      dryrun restart job.toml --stage 2 --line 340 -o points-restart.nc --picture stands.png

    LINE is the line the program stopped at; it and all after it count as not done. The program
    goes on from the last clean place at or before it. It is read back, checked on the blank as it
    stands, and written only if the blank is then the same in every cell as after the whole stage.
    A file that is there is never written over. Without a clean place the stage has to be started
    from its beginning; the exit code is then 1.
    """
    if not files:
        click.echo(ctx.get_help())
        return Exit.UNUSABLE
    if line is None:
        raise Unusable("--line: say the line it stopped at, such as --line 340")
    source, at = _line(line)
    _check_targets(output, picture)
    job = load_job(files, Declared(**declared))
    found = _plan(
        job,
        _stage(stage, job),
        at,
        source,
        pass_,
        name=None if output is None else Path(output).name,
        options=(cell, threads, memory, quiet),
    )
    if picture is not None:
        from dryrun.report.restart_picture import restart_picture

        with written_whole(Path(picture)) as part:
            restart_picture(found).save(part, format="PNG")
    written = _write_program(found, output)
    settings = Asked(Declared(**declared), cell, memory).settings()
    settings |= {"stage": found.stage.number, "line": line, "pass": pass_}
    _report(found, form, written, quiet, settings)
    errors = any(f.level == "error" for f in found.findings)
    return Exit.FINDINGS if errors or found.program is None else Exit.OK


def _line(text: str) -> tuple[str | None, int]:
    name, _, number = text.rpartition(":")
    digits = number.strip()
    if not (digits.isascii() and digits.isdigit() and len(digits) <= 10):
        raise Unusable(f"--line: {text!r} is no line such as 340 or SUBPROGRAM.nc:12")
    return name or None, int(digits)


def _check_targets(output: str | None, picture: str | None) -> None:
    if output == "-":
        raise Unusable("-o: the restart program needs a file; the report goes to standard output")
    if output is not None and (Path(output).exists() or Path(output).is_symlink()):
        raise Unusable(f"-o: {output} is there already; name another file")
    if picture is not None and not picture.lower().endswith(".png"):
        raise Unusable(f"--picture: {picture} must end in .png")


def _stage(text: str | None, job: Job) -> int:
    """Return the number of the stage meant, by number or by name."""
    stages = list(enumerate(job.stages, start=1))
    if text is None:
        if len(stages) == 1:
            return 1
    else:
        wanted = text.strip()
        for number, stage in stages:
            if wanted in (str(number), stage.name):
                return number
    known = ", ".join(f"{number} ({stage.name})" for number, stage in stages)
    said = "say which stage stopped" if text is None else f"there is no stage {text.strip()!r}"
    raise Unusable(f"--stage: {said}; the job has {known}")


def _plan(
    job: Job,
    stage: int,
    line: int,
    source: str | None,
    pass_: int | None,
    *,
    name: str | None,
    options: tuple[str | None, int | None, str | None, bool],
) -> Restart:
    from dryrun.cli.jobs import unusable_input
    from dryrun.cli.progress import ProgressBar
    from dryrun.restart.plan import plan_restart

    cell, threads, memory, quiet = options
    with unusable_input(), ProgressBar(quiet) as progress:
        return plan_restart(
            job,
            stage,
            line,
            source=source,
            pass_=pass_,
            name=name,
            cell=cell_size(cell, job),
            threads=threads,
            progress=progress,
            memory=size_in_bytes("--memory", memory),
        )


def _write_program(found: Restart, output: str | None) -> str | None:
    if output is None or found.program is None:
        return None
    with written_whole(Path(output)) as part:
        part.write_bytes(found.program)
    return output


def _report(
    found: Restart, form: str, written: str | None, quiet: bool, settings: dict[str, Any]
) -> None:
    from dryrun.report import restart_text

    if form == "json":
        from dryrun.report.json_text import dumps
        from dryrun.report.replay import with_record

        result = restart_text.restart_json(found, written)
        write_text(dumps(with_record(result, "restart", [found.outcome], settings)), None)
        return
    from dryrun.cli.console import print_blocks

    print_blocks(restart_text.restart_blocks(found, written, quiet=quiet))
