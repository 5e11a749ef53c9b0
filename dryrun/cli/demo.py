"""`dryrun demo`: a job to try, written into a new folder."""

from __future__ import annotations

import shutil
from importlib import resources
from pathlib import Path
from typing import Final

import click

from dryrun.cli.exits import Exit, Unusable

_FILES: Final = ("job.toml", "machine.toml", "bits.toml", "ground.nc", "points.nc")


@click.command(name="demo")
@click.argument("folder", default="dryrun-demo", metavar="[FOLDER]")
@click.option("--mistakes", is_flag=True, help="the same job with six mistakes in its programs")
def command(folder: str, mistakes: bool) -> int:
    """Write a job to try: a trivet of beech, two programs, two bits, a machine.

    \b
      dryrun demo
      dryrun check dryrun-demo/job.toml

    The folder is made new; nothing that is there is ever written over.
    """
    target = Path(folder)
    source = resources.files("dryrun.cli") / "demo_files"
    source = source / ("trivet-mistakes" if mistakes else "trivet")
    try:
        target.mkdir(parents=True)
    except FileExistsError:
        raise Unusable(f"demo: {folder} is there already; name a new folder") from None
    except OSError as error:
        raise Unusable(f"demo: cannot make {folder}: {error.strerror or error}") from error
    try:
        for name in _FILES:
            (target / name).write_bytes((source / name).read_bytes())
    except OSError as error:
        shutil.rmtree(target, ignore_errors=True)
        raise Unusable(f"demo: cannot write to {folder}: {error.strerror or error}") from error
    click.echo(f"wrote {', '.join(_FILES)} to {folder}")
    click.echo("try:")
    for words in ("check {}", "report {} -o report.html", "sheet {} -o sheet.html"):
        click.echo("  dryrun " + words.format(target / "job.toml"))
    return Exit.OK
