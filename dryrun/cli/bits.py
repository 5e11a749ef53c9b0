"""`dryrun bits fit`: which bit of the rack a program was made for."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import click

from dryrun.cli.exits import Exit, Unusable
from dryrun.cli.jobs import Declared, load_job
from dryrun.cli.output import write_text
from dryrun.report.json_text import dumps

if TYPE_CHECKING:
    from dryrun.fitting.models import Evidence
    from dryrun.fitting.ranking import Ranking
    from dryrun.gcode.program import Program
    from dryrun.job.model import Bit, Job
    from dryrun.motion import Motion
    from dryrun.units import Units

_SHOWN_SENTENCES = 3
_SHOWN_HINTS = 4


@click.group(name="bits")
def command() -> None:
    """Ask about the bits of a rack.

    \b
      dryrun bits fit part.nc --bits bits.toml
      dryrun bits fit relief.nc --bits bits.toml --target relief.stl
    """


@command.command(name="fit")
@click.argument("program", metavar="PROGRAM")
@click.option("--bits", "rack", metavar="BITS.toml", required=True, help="the rack")
@click.option("--stock", metavar="SIZE", help="the blank: 200x200x18mm (X, Y, thickness)")
@click.option("--zero", metavar="PLACE", help="where zero is: centre-top, front-left-bed, …")
@click.option("--material", metavar="NAME", help="what the blank is made of")
@click.option("--target", metavar="FILE", help="the surface that is wanted: a mesh or a picture")
@click.option("--target-depth", metavar="LENGTH", help="how deep black is in a picture of heights")
@click.option("--earlier", metavar="PROGRAM", help="the program that ran before, with a flat bit")
@click.option("--earlier-bit", metavar="BIT", help="the bit of that: flat:6mm, …")
@click.option("--units", type=click.Choice(["mm", "in"]), help="of bare numbers, and of a mesh")
@click.option("--machine", metavar="FILE", help="machine file")
@click.option("--stdin-filename", default="standard input", metavar="NAME",
              help="name of the program read from standard input (-)")  # fmt: skip
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text",
              show_default=True, help="what to write")  # fmt: skip
@click.option("-o", "--output", metavar="FILE", help="write there instead of standard output")
@click.option("--all", "everything", is_flag=True, help="print all evidence on every bit")
def fit(
    program: str,
    rack: str,
    target: str | None,
    target_depth: str | None,
    earlier: str | None,
    earlier_bit: str | None,
    form: str,
    output: str | None,
    everything: bool,
    **declared: Any,
) -> int:
    """Say which bit of the rack a program was made for, and why.

    The path, feed and speed decide; what comments in the program say about bits is shown beside
    the ranking and not used for it. Probabilities hold if one of the rack is the right one.
    """
    from dryrun.fitting.ranking import fit_bits

    if program.lower().endswith(".toml"):
        raise Unusable(f"{program}: one program is ranked at a time, not a job file")
    bits = _rack(rack, declared["units"])
    job = load_job([program], Declared(**declared))
    read = _read(job)
    unit: Units = "in" if read.state.modal.get("units") == "G20" else "mm"
    extra = _target(target, target_depth, job, read.motion, bits, declared["units"] or unit)
    top = job.stock.top if job.stock else None
    before = _earlier(earlier, earlier_bit, declared, read.motion, bits, top)
    ranking = fit_bits(
        read.motion,
        bits,
        top=top,
        unit=unit,
        material=job.stock.material if job.stock else None,
        extra=_joined(extra, before),
    )
    if form == "json":
        write_text(dumps(ranking.to_dict()), output)
    else:
        from dryrun.cli.console import print_blocks

        print_blocks(_blocks(ranking, read, job.stages[0].name, everything), output)
    unread = any(f.level == "error" for f in read.findings)
    if unread:
        click.echo("parts of the program could not be interpreted; see dryrun check", err=True)
    return Exit.FINDINGS if unread else Exit.OK


def _rack(path: str, units: Units | None) -> tuple[Bit, ...]:
    from dryrun.cli.jobs import faults_text
    from dryrun.job.faults import JobError
    from dryrun.job.reading import read_bits

    try:
        bits = read_bits(path, units)
    except JobError as error:
        raise Unusable(faults_text(error)) from error
    if not bits:
        raise Unusable(f"{path}: there is no bit in it")
    return bits


def _read(job: Job) -> Program:
    """Read the job's only program; nothing is timed or cut."""
    from dryrun.files import read_steady
    from dryrun.gcode.controller import from_accepts
    from dryrun.gcode.program import read_program
    from dryrun.job.model import Machine
    from dryrun.job.reading import LARGEST_PROGRAM

    stage, machine = job.stages[0], job.machine or Machine()
    data = stage.text
    if data is None:
        assert stage.program is not None
        try:
            data = read_steady(stage.program, LARGEST_PROGRAM)
        except OSError as error:
            raise Unusable(f"{stage.program}: {error.strerror or error}") from error
    name = stage.name if stage.program is None else stage.program.name
    if not data.strip():
        raise Unusable(f"{name}: the program is empty")
    if b"\0" in data[:65536]:
        raise Unusable(f"{name}: this is not a text file, so it cannot be a G-code program")
    return read_program(
        data,
        controller=from_accepts(machine.accepts) if machine.accepts else None,
        unit=machine.unit or job.units,
        name=name,
        folder=None if stage.program is None else stage.program.parent,
        work_zero=machine.work_zero,
    )


def _target(
    path: str | None,
    depth: str | None,
    job: Job,
    motion: Motion,
    bits: tuple[Bit, ...],
    unit: Units,
) -> list[list[Evidence]]:
    if path is None:
        if depth is not None:
            raise Unusable("--target-depth goes with --target")
        return []
    from dryrun.fitting.target import TargetError, compare_target, read_target
    from dryrun.units import UnitError, parse_length

    try:
        deep = None if depth is None else parse_length(depth, unit)
        return compare_target(motion, bits, read_target(path, job.stock, deep, unit), unit)
    except UnitError as error:
        raise Unusable(f"--target-depth: {error}") from error
    except TargetError as error:
        raise Unusable(f"--target: {error}") from error
    except ImportError as error:
        raise Unusable(f"--target: a mesh needs the package {error.name}") from error
    except OSError as error:
        raise Unusable(f"{path}: {error.strerror or error}") from error


def _earlier(
    path: str | None,
    bit: str | None,
    declared: dict[str, Any],
    motion: Motion,
    bits: tuple[Bit, ...],
    top: float | None,
) -> list[list[Evidence]]:
    if path is None and bit is None:
        return []
    if path is None or bit is None:
        raise Unusable("--earlier and --earlier-bit go together")
    from dryrun.fitting.earlier import earlier_evidence

    job = load_job([path], Declared(**declared, bit=bit))
    assert job.stages[0].bit is not None
    return earlier_evidence(motion, bits, [(_read(job).motion, job.stages[0].bit)], top)


def _joined(*parts: list[list[Evidence]]) -> list[list[Evidence]]:
    """Join the lists of evidence on each bit; an empty part says nothing."""
    full = [part for part in parts if part]
    return [[e for part in own for e in part] for own in zip(*full, strict=True)]


# ------------------------------------------------------------------ text


def _blocks(ranking: Ranking, read: Program, name: str, everything: bool) -> Iterator[Any]:
    from rich.padding import Padding
    from rich.text import Text

    from dryrun.job.bits import describe_bit
    from dryrun.report.words import CAUTIONS, visible

    unit = ranking.measures.unit
    yield Text(f"{visible(name)}: {visible(ranking.verdict)}", style="bold")
    yield Text("")
    for place, c in enumerate(ranking.candidates, start=1):
        head = f"{place:3d}  {c.probability:6.1%}  {visible(c.bit.name)}"
        yield Text(f"{head}: {describe_bit(c.bit, unit)}")
        shown = c.sentences if everything else c.sentences[: _sentences(place, c.probability)]
        for sentence in shown:
            yield Padding(Text(sentence), (0, 0, 0, 15))
    yield Text("")
    yield Text(
        "Path, feed and speed decided; if the right bit is not in the rack, none of this holds."
    )
    if not ranking.measures.whole:
        yield Text("The program is long: windows of it were looked at, not every line.")
    yield from (Text(line) for line in _hints(read))
    yield Text(CAUTIONS[0])


def _sentences(place: int, probability: float) -> int:
    return _SHOWN_SENTENCES if place == 1 or probability >= 0.1 else 1


def _hints(read: Program) -> Iterator[str]:
    from dryrun.report.words import visible

    for hint in read.header.bits[:_SHOWN_HINTS]:
        yield f"Line {hint.line} speaks of a bit (not used here): {visible(hint.text.strip())}"
