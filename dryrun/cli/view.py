"""`dryrun view`: look at the predicted blank, and write it out as solid, map or picture."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from dryrun.cli.exits import Exit, Unusable
from dryrun.cli.jobs import Declared, declared_options, load_job, run_job
from dryrun.cli.output import written_whole

if TYPE_CHECKING:
    from dryrun.outcome import Outcome

_EXTRA = "pip install 'dryrun[view]'"


@click.command(name="view")
@click.argument("files", nargs=-1, metavar="JOB.toml | PROGRAM…")
@declared_options
@click.option("--shot", metavar="FILE.png", help="write a picture instead of opening a window")
@click.option("--stl", metavar="FILE", help="write the blank as a solid, mm")
@click.option("--ply", metavar="FILE", help="write the blank as a solid, mm")
@click.option("--glb", metavar="FILE", help="write the blank as a solid, metres and Y up")
@click.option(
    "--triangles",
    type=click.IntRange(64, 50_000_000),
    default=1_000_000,
    show_default=True,
    help="most triangles of a solid",
)
@click.option("--heights", metavar="FILE.npz|.png|.csv", help="write the map of heights")
@click.option("--cell", metavar="LENGTH", help="size of the field's cells")
@click.option("--threads", type=click.IntRange(1, 256), help="how many threads cut")
@click.option("--memory", metavar="SIZE", help="most memory the field may take, such as 2G")
@click.option("-q", "--quiet", is_flag=True, help="print nothing but errors")
@click.pass_context
def command(
    ctx: click.Context,
    /,
    files: tuple[str, ...],
    shot: str | None,
    stl: str | None,
    ply: str | None,
    glb: str | None,
    triangles: int,
    heights: str | None,
    cell: str | None,
    threads: int | None,
    memory: str | None,
    quiet: bool,
    **declared: Any,
) -> int:
    """Look at the predicted blank in a window, or write it out.

    \b
      dryrun view job.toml
      dryrun view job.toml --shot blank.png       (needs no screen)
      dryrun view job.toml --stl blank.stl --heights blank.npz

    In the window: drag turns, wheel zooms, the slider goes through the job, a click reads depth and
    program line.
    """
    if not files:
        click.echo(ctx.get_help())
        return Exit.UNUSABLE
    solids = [(kind, name) for kind, name in (("stl", stl), ("ply", ply), ("glb", glb)) if name]
    window = not (shot or solids or heights)
    if solids:
        _need("trimesh", "to write solids")
    if window:
        _need("pyvista", "to open a window")
    kind = _height_kind(heights)
    job = load_job(files, Declared(**declared))
    outcome = run_job(job, cell=cell, threads=threads, memory=memory, quiet=quiet)
    if outcome.surface is None:
        raise Unusable("view: needs a declared blank (--stock, --zero) and a bit (--bit)")
    say: Callable[[str], None] = (lambda _: None) if quiet else (lambda w: click.echo(w, err=True))
    for which, name in solids:
        _write_solid(outcome, which, name, triangles, say)
    if heights is not None:
        _write_heights(outcome, kind, heights, say)
    if shot is not None:
        _write_shot(outcome, shot, threads)
    if window:
        _open(outcome, threads)
    return Exit.OK


def _need(package: str, what: str) -> None:
    if importlib.util.find_spec(package) is None:
        raise Unusable(f"view: {what} takes {package}, which is not installed: {_EXTRA}")


def _height_kind(name: str | None) -> str:
    from dryrun.report.heights import HEIGHT_KINDS

    if name is None:
        return ""
    kind = Path(name).suffix.lower().removeprefix(".")
    if kind not in HEIGHT_KINDS:
        raise Unusable(f"--heights: {name} must end in {', '.join('.' + k for k in HEIGHT_KINDS)}")
    return kind


def _write_solid(
    outcome: Outcome, kind: str, name: str, most: int, say: Callable[[str], None]
) -> None:
    from dryrun.report.mesh import solid, write_solid

    assert outcome.surface is not None
    made = solid(outcome.surface, most)
    with written_whole(Path(name)) as part:
        words = write_solid(made, part, kind)
    say(f"{name}: {words}")


def _write_heights(outcome: Outcome, kind: str, name: str, say: Callable[[str], None]) -> None:
    from dryrun.report.heights import write_heights

    assert outcome.surface is not None
    with written_whole(Path(name)) as part:
        try:
            words = write_heights(outcome.surface, part, kind)
        except ValueError as error:
            raise Unusable(f"--heights: {error}") from error
    say(f"{name}: {words}")


def _write_shot(outcome: Outcome, name: str, threads: int | None) -> None:
    """Render a picture; where that cannot be done, draw one and say so."""
    from dryrun.report.oblique import oblique_view
    from dryrun.report.scene import scene_data, shot

    if not name.lower().endswith(".png"):
        raise Unusable(f"--shot: {name} must end in .png")
    with written_whole(Path(name)) as part:
        if importlib.util.find_spec("pyvista") is None:
            why = f"pyvista is not installed ({_EXTRA})"
        else:
            target = part.with_name(part.name + ".png")
            try:
                why = shot(scene_data(outcome, live=False, threads=threads), target)
                if not why:
                    target.replace(part)
            finally:
                target.unlink(missing_ok=True)
        if why:
            oblique_view(outcome, path=True).save(part, format="PNG")
    if why:
        click.echo(f"{name}: drawn without OpenGL, because {why}", err=True)


def _open(outcome: Outcome, threads: int | None) -> None:
    import os
    import sys

    from dryrun.report.scene import Scene, scene_data

    if sys.platform.startswith("linux") and not (
        os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    ):
        raise Unusable("view: there is no screen here; --shot FILE.png writes a picture")
    Scene(scene_data(outcome, live=True, threads=threads), off_screen=False).open()
