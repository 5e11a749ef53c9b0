"""`dryrun gauge surface`: a scanned or wanted surface against the predicted one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from dryrun.cli.exits import Exit, Unusable
from dryrun.cli.jobs import Declared, declared_options, load_job, run_job
from dryrun.cli.output import write_text, written_whole
from dryrun.report.json_text import dumps

if TYPE_CHECKING:
    from dryrun.gauge.surfaces import SurfaceDeviation
    from dryrun.units import Units

_WHAT = {
    "mean": "mean",
    "median": "median",
    "rms": "root mean square",
    "least": "least",
    "p2.5": "2.5 % are below",
    "p97.5": "2.5 % are above",
    "greatest": "greatest",
}


@click.command(name="surface")
@click.argument("job_file", metavar="JOB.toml")
@click.argument("other", metavar="SURFACE")
@declared_options
@click.option(
    "--take-out", type=click.Choice(["none", "offset", "tilt"]), default="none", show_default=True,
    help="what may be fitted and taken out before comparing; tilt takes out an offset too",
)  # fmt: skip
@click.option("--tolerance", default="0.1 mm", show_default=True, help="deviation that matters")
@click.option(
    "--unit", type=click.Choice(["mm", "in"]), default="mm", show_default=True, help="of a mesh"
)
@click.option(
    "--at", nargs=3, metavar="X Y Z", default=("0 mm", "0 mm", "0 mm"),
    help="where the mesh's own zero lies, from the job's zero",
)  # fmt: skip
@click.option("--black", metavar="LENGTH", help="height that black means in a picture, as Z")
@click.option("--white", metavar="LENGTH", help="height that white means in a picture, as Z")
@click.option("--cell", metavar="LENGTH", help="size of the field's cells")
@click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True
)
@click.option("-o", "--output", metavar="FILE", help="write there instead of standard output")
@click.option("--picture", metavar="FILE.png", help="draw the map of deviations")
def command(
    job_file: str,
    other: str,
    take_out: Any,
    tolerance: str,
    unit: Any,
    at: tuple[str, str, str],
    black: str | None,
    white: str | None,
    cell: str | None,
    form: str,
    output: str | None,
    picture: str | None,
    **declared: Any,
) -> int:
    """Compare a whole surface, scanned or wanted, with the predicted one.

    SURFACE is a mesh or a cloud of points (STL, PLY and the like), or a grey picture of heights
    that covers the blank. What is positive was left too high.
    """
    from dryrun.gauge.pieces import GaugeError
    from dryrun.gauge.surfaces import PICTURES, compare_surfaces

    outcome = run_job(load_job([job_file], Declared(**declared)), cell=cell)
    units = outcome.job.units
    if outcome.surface is None:
        raise Unusable(f"{job_file}: no surface is predicted; declare the blank and the bits")
    if not Path(other).is_file():
        raise Unusable(f"{other}: no such file; expected a mesh, or a picture of heights")
    grey = None
    if Path(other).suffix.lower() in PICTURES:
        if black is None or white is None:
            raise Unusable(f"{other}: say with --black and --white which heights its greys mean")
        grey = (length_of("--black", black, units), length_of("--white", white, units))
    zero = tuple(length_of("--at", part, units) for part in at)
    limit = length_of("--tolerance", tolerance, units)
    try:
        found = compare_surfaces(
            outcome.surface, other, register=take_out, tolerance=limit, unit=unit,
            at=(zero[0], zero[1], zero[2]), picture_heights=grey,
        )  # fmt: skip
    except GaugeError as error:
        raise Unusable(str(error)) from None
    if picture:
        with written_whole(Path(picture)) as part:
            target = part.with_suffix(".png")
            found.picture(target)
            target.replace(part)
    write_text(_json(found) if form == "json" else text(found, units), output)
    return Exit.OK


def length_of(option: str, value: str, units: Units) -> float:
    """Read the length an option gives, mm, or say which option is wrong."""
    from dryrun.units import UnitError, parse_length

    try:
        return parse_length(value, units)
    except UnitError as error:
        raise Unusable(f"{option}: {error}") from None


def _json(found: SurfaceDeviation) -> str:
    data = {
        "schema": 1,
        "statistics_mm": found.statistics,
        "tolerance_mm": found.tolerance,
        "taken_out": {
            "offset_mm": found.offset_mm,
            "tilt_x_mm_per_m": found.tilt_x_mm_per_m,
            "tilt_y_mm_per_m": found.tilt_y_mm_per_m,
        },
    }
    return dumps(data)


def text(found: SurfaceDeviation, units: Units) -> str:
    """Lay a comparison of surfaces out for a person."""
    from dryrun.units import format_length

    numbers = found.statistics
    lines = ["surface against prediction; positive was left too high"]
    lines += [f"  {what:17s} {format_length(numbers[key], units)}" for key, what in _WHAT.items()]
    lines += [
        f"  {100 * numbers['beyond']:.1f} % of it is off by more than "
        f"{format_length(found.tolerance, units)}; "
        f"it covers {100 * numbers['covered']:.1f} % of the blank",
        "  cells beside walls are left out: a small sideways shift shows there as depth",
    ]
    if found.offset_mm or found.tilt_x_mm_per_m or found.tilt_y_mm_per_m:
        lines.append(
            f"  taken out before: {format_length(found.offset_mm, units)} at the job's zero, tilt "
            f"{found.tilt_x_mm_per_m:+.2f} mm a metre along X, "
            f"{found.tilt_y_mm_per_m:+.2f} along Y"
        )
    return "\n".join(lines)
