"""Turning arguments into a job: a job file, or programs with a compact declaration."""

from __future__ import annotations

import contextlib
import math
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from dryrun.cli.exits import Unusable

if TYPE_CHECKING:
    from dryrun.job.model import Job, Machine, Source
    from dryrun.outcome import Outcome

_SHOWN_FAULTS = 40


@dataclass(frozen=True, slots=True)
class Declared:
    """What the command line declares about the job."""

    bit: str | None = None
    stock: str | None = None
    zero: str | None = None
    depth: str | None = None
    units: str | None = None
    material: str | None = None
    machine: str | None = None
    stdin_filename: str = "standard input"

    def quick(self) -> list[str]:
        """Return the options that only make sense without a job file."""
        names = ("bit", "stock", "zero", "depth", "units", "material")
        return [f"--{name}" for name in names if getattr(self, name) is not None]


def declared_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of `Declared` to a command."""
    options: tuple[Callable[..., Any], ...] = (
        click.option("--bit", metavar="BIT", help="flat:6mm, ball:1/4in, vee:90deg:12mm, …"),
        click.option("--stock", metavar="SIZE", help="the blank: 200x200x18mm (X, Y, thickness)"),
        click.option(
            "--zero", metavar="PLACE", help="where zero is: centre-top, front-left-bed, …"
        ),
        click.option("--depth", metavar="LENGTH", help="deepest cut that is meant, or through"),
        click.option("--material", metavar="NAME", help="what the blank is made of"),
        click.option(
            "--units", type=click.Choice(["mm", "in"]), help="of bare numbers, and for display"
        ),
        click.option("--machine", metavar="FILE", help="machine file (instead of the job's)"),
        click.option(
            "--stdin-filename",
            default="standard input",
            metavar="NAME",
            help="name of the program read from standard input (-)",
        ),
    )
    for option in options[::-1]:
        function = option(function)
    return function


def load_job(files: Sequence[str], declared: Declared) -> Job:
    """Read a job file, or make a job of programs; raise Unusable with every fault."""
    from dryrun.job.faults import JobError

    try:
        if any(name.lower().endswith(".toml") for name in files):
            return _from_file(files, declared)
        return _from_programs(files, declared)
    except JobError as error:
        raise Unusable(faults_text(error)) from error


def faults_text(error: Exception) -> str:
    """Write the faults of a JobError as one message."""
    from dryrun.report.words import plural, visible

    faults = getattr(error, "faults", ())
    lines = [visible(str(fault)) for fault in faults[:_SHOWN_FAULTS]]
    if len(faults) > _SHOWN_FAULTS:
        lines.append(f"… and {len(faults) - _SHOWN_FAULTS} more")
    if len(lines) == 1:
        return lines[0]
    return f"{plural(len(faults), 'thing')} to put right:\n  " + "\n  ".join(lines)


def _from_file(files: Sequence[str], declared: Declared) -> Job:
    from dryrun.job.reading import read_job

    if len(files) > 1:
        raise Unusable("one job file at a time (the programs of a job are named in it)")
    if declared.quick():
        said = ", ".join(declared.quick())
        raise Unusable(f"{said}: with a job file these are declared in the file")
    return read_job(files[0], machine=declared.machine)


def _from_programs(files: Sequence[str], declared: Declared) -> Job:
    from dryrun.job.reading import LARGEST_PROGRAM

    programs: list[Path | bytes] = []
    for name in files:
        if name == "-":
            programs.append(sys.stdin.buffer.read(LARGEST_PROGRAM + 1))
        else:
            programs.append(Path(name))
    machine, sources = _machine(declared)
    job = _quick(programs, declared, machine)
    stages = tuple(
        replace(s, name=declared.stdin_filename) if s.program is None else s for s in job.stages
    )
    title = job.title if job.stages[0].program or len(stages) > 1 else declared.stdin_filename
    return replace(job, stages=stages, title=title, sources=sources)


def _quick(
    programs: Sequence[Path | bytes], declared: Declared, machine: Machine | None = None
) -> Job:
    from dryrun.job.quick import quick_job

    return quick_job(
        programs,
        bit=declared.bit,
        stock=declared.stock,
        zero=declared.zero,
        depth=declared.depth,
        material=declared.material,
        units=declared.units,  # type: ignore[arg-type]
        machine=machine,
    )


def check_declared(declared: Declared, cell: str | None, memory: str | None) -> None:
    """Raise Unusable for a declaration that no program could be checked under."""
    from dryrun.job.faults import JobError

    try:
        job = _quick([b""], declared, _machine(declared)[0])
    except JobError as error:
        raise Unusable(faults_text(error)) from error
    cell_size(cell, job)
    size_in_bytes("--memory", memory)


def _machine(declared: Declared) -> tuple[Machine | None, tuple[Source, ...]]:
    from dryrun.job.reading import read_machine_file

    if declared.machine is None:
        return None, ()
    machine, source = read_machine_file(declared.machine, declared.units)  # type: ignore[arg-type]
    return machine, (source,)


def run_job(
    job: Job,
    *,
    cell: str | None = None,
    threads: int | None = None,
    memory: str | None = None,
    quiet: bool = False,
    keep_stages: bool = True,
    times_only: bool = False,
) -> Outcome:
    """Dry-run a job with a progress bar; raise Unusable for what cannot be read.

    With `times_only` nothing is cut, so it takes no longer than reading.
    """
    from dryrun.cli.progress import ProgressBar
    from dryrun.outcome import dry_run

    with unusable_input(), ProgressBar(quiet) as progress:
        return dry_run(
            replace(job, stock=None) if times_only else job,
            cell=cell_size(cell, job),
            threads=threads,
            progress=progress,
            memory=size_in_bytes("--memory", memory),
            keep_stages=keep_stages,
        )


@contextlib.contextmanager
def unusable_input() -> Iterator[None]:
    """Turn what a job cannot be run for into one clear message."""
    from dryrun.outcome import ProgramError

    try:
        yield
    except ProgramError as error:
        raise Unusable(str(error)) from error
    except OSError as error:
        named = f"{error.filename}: " if error.filename else ""
        raise Unusable(f"{named}{error.strerror or error}") from error
    except ValueError as error:
        if type(error).__module__.startswith("dryrun."):
            raise Unusable(str(error)) from error
        raise


def cell_size(text: str | None, job: Job) -> float | None:
    """Read --cell, mm."""
    if text is None:
        return None
    from dryrun.units import UnitError, parse_length

    try:
        cell = parse_length(text, job.units)
    except UnitError as error:
        raise Unusable(f"--cell: {error}") from error
    if not 0.005 <= cell <= 10.0:
        raise Unusable(f"--cell: {text} is not between 0.005 mm and 10 mm")
    return cell


def size_in_bytes(option: str, text: str | None) -> int | None:
    """Read a size such as 2G or 500M.

    Raises
    ------
    Unusable
    """
    if text is None:
        return None
    factors = {"K": 2**10, "M": 2**20, "G": 2**30}
    trimmed = text.strip().upper().removesuffix("B").removesuffix("I")
    factor = factors.get(trimmed[-1:], 1)
    try:
        value = float(trimmed.rstrip("KMG")) * factor
    except ValueError:
        raise Unusable(f"{option}: {text!r} is not a size such as 2G or 500M") from None
    if not 0 < value < 2**62:
        raise Unusable(f"{option}: {text!r} is not above 0, or is too large")
    return math.ceil(value)


def stdin_is_keyboard(files: Sequence[str]) -> bool:
    """Tell whether a program would be waited for at the keyboard."""
    return "-" in files and sys.stdin.isatty()
