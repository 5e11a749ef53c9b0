"""`dryrun bits fit`: which bit of the rack a program was made for."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import click

from dryrun.cli.elsewhere import is_elsewhere
from dryrun.cli.exits import Exit, Unusable
from dryrun.cli.jobs import Declared, load_job
from dryrun.cli.output import write_text
from dryrun.report.json_text import dumps

if TYPE_CHECKING:
    from dryrun.cli.fit_work import Prepared, Question
    from dryrun.fitting.models import Evidence
    from dryrun.fitting.ranking import Ranking
    from dryrun.gcode.program import Program
    from dryrun.job.model import Bit
    from dryrun.motion import Motion

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
@click.option("--jobs", type=click.IntRange(1, 256),
              help="weigh the bits in this many processes")  # fmt: skip
@click.option("--scheduler", metavar="ADDRESS", help="let a Dask cluster weigh them")
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
    jobs: int | None,
    scheduler: str | None,
    **declared: Any,
) -> int:
    """Say which bit of the rack a program was made for, and why.

    The path, feed and speed decide; what comments in the program say about bits is shown beside
    the ranking and not used for it. Probabilities hold if one of the rack is the right one.
    """
    from dryrun.cli.fit_work import Question, prepare
    from dryrun.fitting.ranking import rank_weighed

    if program.lower().endswith(".toml"):
        raise Unusable(f"{program}: one program is ranked at a time, not a job file")
    is_elsewhere(jobs, scheduler, [program])
    question = Question(program, rack, target, target_depth, Declared(**declared))
    prepared = prepare(question)
    job, read, bits = prepared.job, prepared.read, prepared.bits
    weighed, extra = _weighed(question, prepared, jobs, scheduler)
    top = job.stock.top if job.stock else None
    before = _earlier(earlier, earlier_bit, declared, read.motion, bits, top)
    ranking = rank_weighed(prepared.measures, bits, weighed, _joined(extra, before))
    if form == "json":
        write_text(dumps(ranking.to_dict()), output)
    else:
        from dryrun.cli.console import print_blocks

        print_blocks(_blocks(ranking, read, job.stages[0].name, everything), output)
    unread = any(f.level == "error" for f in read.findings)
    if unread:
        click.echo("parts of the program could not be interpreted; see dryrun check", err=True)
    return Exit.FINDINGS if unread else Exit.OK


def _weighed(
    question: Question, prepared: Prepared, jobs: int | None, scheduler: str | None
) -> tuple[list[list[Evidence]], list[list[Evidence]]]:
    """Return for each bit the evidence of the path, and that of the target if there is one."""
    from dryrun.cli.fit_work import units_of, weigh_bit, weigh_over
    from dryrun.fitting.target import TargetError, compare_cuts

    if not is_elsewhere(jobs, scheduler):
        answers = [weigh_bit(prepared, bit) for bit in prepared.bits]
    else:
        answers = weigh_over(question, prepared, jobs, scheduler)
    weighed = [own for own, _ in answers]
    if prepared.target is None:
        return weighed, []
    unit = units_of(question.declared) or prepared.unit
    try:
        return weighed, compare_cuts([cut for _, cut in answers], prepared.target, unit)
    except TargetError as error:
        raise Unusable(f"--target: {error}") from error


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
    from dryrun.cli.fit_work import read_only
    from dryrun.fitting.earlier import earlier_evidence

    job = load_job([path], Declared(**declared, bit=bit))
    assert job.stages[0].bit is not None
    return earlier_evidence(motion, bits, [(read_only(job).motion, job.stages[0].bit)], top)


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
