"""`dryrun time`: where the seconds go, and a machine file that fits measured times."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from dryrun.cli.exits import Exit, Unusable
from dryrun.cli.jobs import Declared, declared_options, load_job, run_job
from dryrun.cli.output import write_text, written_whole

if TYPE_CHECKING:
    from dryrun.outcome import Outcome, StageOutcome
    from dryrun.timing.calibration import Calibration

_CLOCK = re.compile(r"^(?:(\d+):)?(\d+):(\d+(?:\.\d+)?)$")


@click.command(name="time")
@click.argument("files", nargs=-1, metavar="JOB.toml | PROGRAM…")
@declared_options
@click.option(
    "--measured",
    "measured",
    multiple=True,
    metavar="STAGE=11:20",
    help="a time by the clock; give several",
)
@click.option("--fit-to", metavar="FILE", help="write the fitted machine to this file")
@click.option("--picture", metavar="FILE.png", help="draw speed against time")
@click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True
)
@click.option("-o", "--output", metavar="FILE", help="write there instead of standard output")
@click.pass_context
def command(
    ctx: click.Context,
    /,
    files: tuple[str, ...],
    measured: tuple[str, ...],
    fit_to: str | None,
    picture: str | None,
    form: str,
    output: str | None,
    **declared: Any,
) -> int:
    """Say where the time of a job goes, and what would shorten it.

    \b
      dryrun time job.toml
      dryrun time job.toml --measured 1=11:20 --measured 2=8:05 --fit-to my-machine.toml

    STAGE is the number or the name of a stage; the time is minutes:seconds or
    hours:minutes:seconds, or seconds with an s. The same stage may be given several times.
    """
    if not files:
        click.echo(ctx.get_help())
        return Exit.UNUSABLE
    if fit_to and not measured:
        raise Unusable("--fit-to needs at least one --measured time")
    job = load_job(files, Declared(**declared))
    outcome = run_job(job, times_only=True)
    runs = [_measured(text, outcome) for text in measured]
    if picture is not None:
        _draw(outcome, picture)
    if runs:
        _calibrate(outcome, runs, fit_to, form, output)
    else:
        _report(outcome, Declared(**declared), form, output)
    return Exit.OK


def _report(outcome: Outcome, declared: Declared, form: str, output: str | None) -> None:
    from dryrun.cli.console import print_blocks
    from dryrun.report.json_text import dumps
    from dryrun.report.timing_text import time_blocks, time_json

    if form == "json":
        from dryrun.cli.asked import Asked
        from dryrun.report.replay import with_record

        settings = Asked(declared).settings()
        write_text(dumps(with_record(time_json(outcome), "time", [outcome], settings)), output)
    else:
        print_blocks(time_blocks(outcome), output)


def _draw(outcome: Outcome, target: str) -> None:
    from dryrun.report.speed_picture import speed_picture

    with written_whole(Path(target)) as part:
        speed_picture(outcome).save(part, format="PNG")


def _measured(text: str, outcome: Outcome) -> tuple[StageOutcome, float]:
    name, sign, clock = text.rpartition("=")
    if not sign:
        raise Unusable(f"--measured {text}: write it like 1=11:20 or 'clear the ground'=11:20")
    return _stage(name.strip(), outcome), clock_seconds(clock.strip())


def _stage(name: str, outcome: Outcome) -> StageOutcome:
    for stage in outcome.stages:
        if name in (str(stage.number), stage.stage.name):
            return stage
    known = ", ".join(f"{s.number} ({s.stage.name})" for s in outcome.stages)
    raise Unusable(f"--measured: there is no stage {name!r}; the job has {known}")


def clock_seconds(text: str) -> float:
    """Read 11:20, 1:02:30 or 680s.

    Raises
    ------
    Unusable
    """
    match = _CLOCK.match(text)
    if match:
        hours, minutes, seconds = match.groups()
        value = int(hours or 0) * 3600 + int(minutes) * 60 + float(seconds)
    else:
        try:
            value = float(text.removesuffix("s"))
        except ValueError:
            raise Unusable(f"--measured: {text!r} is not a time such as 11:20 or 680s") from None
    if not 0 < value < 1e7:
        raise Unusable(f"--measured: {text!r} must be above 0 s and below 100 days")
    return value


def _calibrate(
    outcome: Outcome,
    runs: Sequence[tuple[StageOutcome, float]],
    fit_to: str | None,
    form: str,
    output: str | None,
) -> None:
    from dryrun.job.model import Machine
    from dryrun.report.json_text import dumps
    from dryrun.timing.calibration import calibrate

    machine = outcome.job.machine or Machine()
    try:
        fitted = calibrate([(stage.motion, seconds) for stage, seconds in runs], machine)
        if fit_to:
            fitted.write(fit_to)
    except ImportError as error:
        raise Unusable("fitting needs scipy: pip install 'dryrun[fit]'") from error
    except (ValueError, OSError) as error:
        raise Unusable(str(error)) from error
    names = [stage.stage.name for stage, _ in runs]
    if form == "json":
        write_text(dumps(calibration_json(fitted, names)), output)
    else:
        write_text(calibration_text(fitted, names), output)
    if fit_to:
        click.echo(f"the fitted machine is in {fit_to}", err=True)


def calibration_json(fitted: Calibration, names: Sequence[str]) -> dict[str, Any]:
    """Return a calibration as plain data; what the runs give no uncertainty for is null."""
    from dryrun.report.machine_readable import number

    return {
        "schema": 1,
        "parameters": {
            p.name: {
                "value": number(p.value),
                "uncertainty": number(p.uncertainty),
                "unit": p.unit,
            }
            for p in fitted.parameters
        },
        "tell_apart": fitted.tell_apart,
        "runs": [
            {"stage": name, "measured": number(m), "predicted": number(p), "residual": number(r)}
            for name, m, p, r in zip(
                names, fitted.measured, fitted.predicted, fitted.residuals, strict=True
            )
        ],
    }


def calibration_text(fitted: Calibration, names: Sequence[str]) -> str:
    """Write a calibration for people."""
    from dryrun.report.words import visible
    from dryrun.units import format_time

    lines = ["fitted to the measured times"]
    for p in fitted.parameters:
        spread = f" ± {p.uncertainty:.3g}" if p.uncertainty == p.uncertainty else ""
        lines.append(f"   {p.name:20} {p.value:.6g}{spread} {p.unit}")
    lines += [f"   {fitted.tell_apart}", "", "run by run: measured, predicted with the fit"]
    rows = zip(names, fitted.measured, fitted.predicted, fitted.residuals, strict=True)
    for name, measured, predicted, residual in rows:
        lines.append(
            f"   {visible(name):24} {format_time(measured):>14} {format_time(predicted):>14}"
            f"   ({residual:+.1f} s)"
        )
    return "\n".join(lines)
