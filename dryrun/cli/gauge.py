"""`dryrun gauge`: where to measure after the cut, and what the readings mean."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from dryrun.cli.exits import Exit, Unusable
from dryrun.cli.gauge_surface import command as surface
from dryrun.cli.gauge_surface import length_of
from dryrun.cli.jobs import Declared, declared_options, load_job, run_job
from dryrun.cli.output import write_text, written_whole
from dryrun.report.json_text import dumps

if TYPE_CHECKING:
    from dryrun.gauge.diagnosis import Diagnosis
    from dryrun.gauge.history import Drift
    from dryrun.outcome import Outcome

_INSTRUMENTS = click.Choice(["calipers", "depth-rod", "touch-probe"])


@click.group(name="gauge")
def command() -> None:
    """Compare what was cut with what was predicted.

    \b
      dryrun gauge plan job.toml --sheet measured.csv --page measure.html
      dryrun gauge compare job.toml measured.csv
      dryrun gauge surface job.toml scan.stl --take-out tilt
    """


command.add_command(surface)


@command.command(name="plan")
@click.argument("job_file", metavar="JOB.toml")
@declared_options
@click.option("--points", type=click.IntRange(1, 200), help="how many places (default: fewest)")
@click.option("--foot", default="2 mm", show_default=True, help="diameter of the rod's end")
@click.option("--base", default="100 mm", show_default=True, help="length of the gauge's base")
@click.option("--instrument", type=_INSTRUMENTS, help="what all is measured with")
@click.option("--cell", metavar="LENGTH", help="size of the field's cells")
@click.option("--sheet", metavar="FILE.csv", help="write the sheet to fill in")
@click.option("--page", metavar="FILE.html", help="write a page to print")
@click.option("--picture", metavar="FILE.png", help="draw the places")
def plan(
    job_file: str,
    points: int | None,
    foot: str,
    base: str,
    instrument: Any,
    cell: str | None,
    sheet: str | None,
    page: str | None,
    picture: str | None,
    **declared: Any,
) -> int:
    """Say where to measure so that the causes of a wrong depth can be told apart."""
    from dryrun.gauge.pieces import GaugeError
    from dryrun.gauge.plan import plan_measurements

    outcome = _outcome(job_file, declared, cell)
    units = outcome.job.units
    try:
        found = plan_measurements(
            outcome,
            count=points,
            foot=length_of("--foot", foot, units),
            base=length_of("--base", base, units),
            instrument=instrument,
        )
    except GaugeError as error:
        raise Unusable(str(error)) from None
    if sheet:
        write_text(found.to_csv().rstrip("\n"), sheet)
    if page:
        write_text(found.to_html(), page)
    if picture:
        with written_whole(Path(picture)) as part, part.open("wb") as file:
            from dryrun.gauge.pictures import draw_plan

            draw_plan(found).save(file, format="PNG")
    if not sheet:
        click.echo(found.to_csv().rstrip("\n"))
    for text in found.untold:
        click.echo(f"cannot be told: {text}", err=True)
    return Exit.OK


@command.command(name="compare")
@click.argument("job_file", metavar="JOB.toml")
@click.argument("measured", metavar="MEASURED.csv")
@declared_options
@click.option("--instrument", type=_INSTRUMENTS, help="where the file says no uncertainty")
@click.option("--cell", metavar="LENGTH", help="size of the field's cells")
@click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True
)
@click.option("-o", "--output", metavar="FILE", help="write there instead of standard output")
@click.option("--picture", metavar="FILE.png", help="draw what is left unexplained")
@click.option("--history", metavar="FOLDER", help="keep the result there and look for drift")
@click.option(
    "--date", metavar="YYYY-MM-DD", help="day of the cut, for the history (default: today)"
)
def compare(
    job_file: str,
    measured: str,
    instrument: Any,
    cell: str | None,
    form: str,
    output: str | None,
    picture: str | None,
    history: str | None,
    date: str | None,
    **declared: Any,
) -> int:
    """Compare readings with the prediction and name the likeliest cause.

    MEASURED.csv has the columns x, y, kind (depth, width or thickness) and value, and may have
    point, unit, uncertainty, foot, direction, stage and note; or it is a list of probed X Y Z.
    """
    from dryrun.gauge.diagnosis import compare_depths
    from dryrun.gauge.measurements import MeasurementError, read_measurements
    from dryrun.gauge.pieces import GaugeError

    try:
        day = datetime.date.fromisoformat(date) if date else datetime.date.today()
    except ValueError:
        raise Unusable(f"--date: {date!r} is not a day such as 2026-05-31") from None
    try:
        readings = read_measurements(measured, instrument)
    except OSError as error:
        raise Unusable(f"{measured}: {error.strerror or error}") from None
    except MeasurementError as error:
        raise Unusable(f"{measured}: {error}") from None
    outcome = _outcome(job_file, declared, cell)
    try:
        found = compare_depths(outcome, readings)
        drifts = _remember(found, outcome, history, day)
    except (GaugeError, MeasurementError) as error:
        raise Unusable(str(error)) from None
    if picture:
        with written_whole(Path(picture)) as part:
            target = part.with_suffix(".png")
            found.picture(target)
            target.replace(part)
    write_text(_json(found, drifts) if form == "json" else text(found, drifts), output)
    for name in readings.ignored:
        if not name.startswith(("predicted", "per ")):
            click.echo(f"column {name!r} means nothing here and was skipped", err=True)
    return Exit.OK


def _outcome(job_file: str, declared: dict[str, Any], cell: str | None) -> Outcome:
    return run_job(load_job([job_file], Declared(**declared)), cell=cell)


def _remember(
    found: Diagnosis, outcome: Outcome, history: str | None, day: datetime.date
) -> list[Drift]:
    if history is None:
        return []
    from dryrun.gauge.history import append, entries_of, find_drift, read_history

    append(history, entries_of(found, outcome.job.title, day))
    return find_drift(read_history(history))


def _json(found: Diagnosis, drifts: list[Drift]) -> str:
    data = found.to_dict()
    if drifts:
        data["drift"] = [
            {"parameter": d.parameter, "unit": d.unit, "jobs": d.jobs, "per_job": d.per_job,
             "uncertainty": d.uncertainty, "real": d.real, "last": d.last}
            for d in drifts
        ]  # fmt: skip
    return dumps(data)


def text(found: Diagnosis, drifts: list[Drift]) -> str:
    """Lay a diagnosis out for a person."""
    lines = ["place        X        Y  what        measured  predicted  difference (mm)"]
    for p in found.points:
        mark = " misread?" if p.misread > 0.5 else (" beyond" if p.beyond else "")
        lines.append(
            f"{p.point[:8]:8s} {p.x:8.1f} {p.y:8.1f}  {p.kind:9s} {p.measured:10.3f} "
            f"{p.predicted:10.3f} {p.difference:+11.3f} ± {2 * p.uncertainty:.3f}{mark}"
        )
    lines += ["", found.verdict, "", "likeliest causes:"]
    for c in [c for c in found.causes if c.probability >= 0.005][:5]:
        values = ", ".join(
            f"{name} {p['value']:.4g} ({p['low']:.4g} to {p['high']:.4g}) {p['unit']}"
            for name, p in c.parameters.items()
        )
        about = f" of {c.bit}" if c.bit else ""
        lines.append(f"  {100 * c.probability:5.1f} %  {c.cause}{about}  {values}".rstrip())
    lines += ["", f"what to do: {found.advice}."]
    lines += [d.text for d in drifts]
    return "\n".join(lines)
