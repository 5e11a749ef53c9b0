"""`dryrun margin`: how much set-up error a job bears."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from dryrun.cli.elsewhere import is_elsewhere
from dryrun.cli.exits import Exit, Unusable
from dryrun.cli.jobs import Declared, declared_options, load_job, run_job
from dryrun.cli.output import write_text, written_whole

if TYPE_CHECKING:
    from dryrun.margin import SetUpError, Spread, Trial


@click.command(name="margin")
@click.argument("files", nargs=-1, metavar="JOB.toml | PROGRAM…")
@declared_options
@click.option(
    "--tolerance",
    "tolerances",
    multiple=True,
    metavar="ERROR=LIMIT",
    help="z-zero=0.1mm, angle=1deg, tilt-x=0.5 (mm/m): estimate the chance of each finding",
)
@click.option("--samples", type=click.IntRange(10, 1_000_000), default=400, show_default=True)
@click.option("--seed", type=int, default=1, show_default=True)
@click.option("--jobs", type=click.IntRange(1, 256),
              help="draw samples of several errors in this many processes")  # fmt: skip
@click.option("--scheduler", metavar="ADDRESS", help="let a Dask cluster draw them")
@click.option("--picture", metavar="FILE.png", help="draw what the job bears as bars")
@click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True
)
@click.option("-o", "--output", metavar="FILE", help="write there instead of standard output")
@click.option("--threads", type=click.IntRange(1, 256), help="how many threads cut")
@click.option("-q", "--quiet", is_flag=True, help="no progress bar")
@click.pass_context
def command(
    ctx: click.Context,
    /,
    files: tuple[str, ...],
    tolerances: tuple[str, ...],
    samples: int,
    seed: int,
    jobs: int | None,
    scheduler: str | None,
    picture: str | None,
    form: str,
    output: str | None,
    threads: int | None,
    quiet: bool,
    **declared: Any,
) -> int:
    """Say how far zero, thickness, bit and bed may be off before something goes wrong.

    \b
      dryrun margin job.toml
      dryrun margin job.toml --tolerance z-zero=0.1mm --tolerance thickness=0.2mm
    """
    from dryrun.cli.progress import ProgressBar
    from dryrun.margin import Trial, chances, margins

    if not files:
        click.echo(ctx.get_help())
        return Exit.UNUSABLE
    job = load_job(files, Declared(**declared))
    limits = dict(_tolerance(text, job.units) for text in tolerances)
    outcome = run_job(job, threads=threads, quiet=quiet, keep_stages=False)
    if outcome.surface is None:
        raise Unusable("margins need a declared blank (--stock, --zero) and a bit (--bit)")
    with ProgressBar(quiet) as progress:
        trial = Trial(outcome, threads)
        found = margins(trial, progress)
        spread = _spread(files, declared, trial, jobs, scheduler)
        drawn = chances(trial, limits, samples, seed, progress, spread) if limits else None
    if picture is not None:
        from dryrun.report.margin_text import margin_picture

        with written_whole(Path(picture)) as part:
            margin_picture(found).save(part, format="PNG")
    if form == "json":
        from dryrun.cli.asked import Asked
        from dryrun.report.json_text import dumps
        from dryrun.report.margin_text import margin_json
        from dryrun.report.replay import with_record

        settings = Asked(Declared(**declared)).settings()
        if limits:
            settings |= {"tolerance": sorted(tolerances), "samples": samples, "seed": seed}
        result = with_record(margin_json(found, drawn), "margin", [outcome], settings)
        write_text(dumps(result), output)
        return Exit.OK
    from dryrun.cli.console import print_blocks
    from dryrun.report.margin_text import chance_blocks, margin_blocks

    blocks = [*margin_blocks(outcome, found, trial.cell)]
    if drawn is not None:
        blocks += chance_blocks(drawn, limits)
    print_blocks(blocks, output)
    return Exit.OK


def _spread(
    files: tuple[str, ...],
    declared: dict[str, Any],
    trial: Trial,
    jobs: int | None,
    scheduler: str | None,
) -> Spread | None:
    """Return what draws samples in other processes, or None to draw them here."""
    if not is_elsewhere(jobs, scheduler, files):
        return None
    from dryrun.cli.margin_work import spread_over

    return spread_over(files, Declared(**declared), trial, jobs, scheduler)


def _tolerance(text: str, units: Any) -> tuple[str, float]:
    from dryrun.margin import BY_KEY

    key, sign, value = (part.strip() for part in text.partition("="))
    if not sign or key not in BY_KEY:
        raise Unusable(f"--tolerance {text}: write ERROR=LIMIT; errors are {', '.join(BY_KEY)}")
    number = _limit(BY_KEY[key], value, units)
    if not 0 <= number <= 10 * BY_KEY[key].most:
        raise Unusable(
            f"--tolerance {text}: the limit is not between 0 and {10 * BY_KEY[key].most:g} "
            f"{BY_KEY[key].unit}"
        )
    return key, number


def _slope(value: str) -> float:
    """Read a tilt, mm per m."""
    try:
        return float(value.removesuffix("mm/m"))
    except ValueError:
        raise ValueError(f'found "{value}", expected mm for each m, such as "0.5 mm/m"') from None


def _limit(error: SetUpError, value: str, units: Any) -> float:
    import math

    from dryrun.units import UnitError, parse

    try:
        if error.unit == "deg":
            return math.degrees(
                parse(value if not value.replace(".", "").isdigit() else f"{value} deg", "angle")
            )
        if error.unit == "mm/m":
            return _slope(value)
        return parse(value, "length", units)
    except (UnitError, ValueError) as problem:
        raise Unusable(f"--tolerance {error.key}={value}: {problem}") from None
