"""`dryrun batch`: many programs and jobs, one summary."""

from __future__ import annotations

import contextlib
import dataclasses
import hashlib
import json
import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final

import click

from dryrun.cli.asked import Asked
from dryrun.cli.batch_inputs import Found, Hashes, find_inputs
from dryrun.cli.batch_store import SCHEMA, Store, line_of
from dryrun.cli.batch_work import TASK, asked_for, is_job, request
from dryrun.cli.elsewhere import is_elsewhere
from dryrun.cli.exits import Exit, Unusable
from dryrun.cli.jobs import Declared, declared_options, size_in_bytes
from dryrun.cli.output import write_text
from dryrun.finding import LEVELS
from dryrun.work import Answer, ClusterError, Limits, run_all

Record = dict[str, Any]

_PROBLEM_EXIT: Final = {
    "memory": Exit.UNUSABLE,
    "timeout": Exit.UNUSABLE,
    "crash": Exit.FAULT,
    "fault": Exit.FAULT,
}


@click.command(name="batch")
@click.argument("inputs", nargs=-1, metavar="FOLDER | LIST…")
@declared_options
@click.option("-o", "--output", metavar="FOLDER", help="keep results, table and page there")
@click.option("--jobs", type=click.IntRange(1, 256), help="processes (default: one a core)")
@click.option("--scheduler", metavar="ADDRESS", help="let the workers of a Dask cluster do it")
@click.option("--again", type=click.Choice(["failed", "all"]),
              help="do again what could not be checked, or all")  # fmt: skip
@click.option("--timeout", type=click.FloatRange(0), default=600.0, show_default=True,
              metavar="SECONDS", help="most time for one input; 0 no limit")  # fmt: skip
@click.option("--process-memory", metavar="SIZE", help="most memory of one process, such as 2G")
@click.option("--suffix", "suffixes", multiple=True, metavar=".EXT",
              help="also take these files of a folder as programs")  # fmt: skip
@click.option("--cell", metavar="LENGTH", help="size of the field's cells")
@click.option("--memory", metavar="SIZE", help="most memory a field may take, such as 2G")
@click.option("--select", metavar="CODE,…", help="report only these codes")
@click.option("--ignore", metavar="CODE,…", help="do not report these codes")
@click.option("--fail-on", type=click.Choice(["error", "warning", "note", "never"]),
              default="error", show_default=True,
              help="from which level on the exit code is 1")  # fmt: skip
@click.option("--format", "form", type=click.Choice(["text", "jsonl"]), default="text",
              show_default=True, help="what to print")  # fmt: skip
@click.option("--all", "everything", is_flag=True, help="print every input")
@click.option("-q", "--quiet", is_flag=True, help="no progress bar")
@click.pass_context
def command(
    ctx: click.Context,
    /,
    inputs: tuple[str, ...],
    output: str | None,
    jobs: int | None,
    scheduler: str | None,
    again: str | None,
    timeout: float,
    process_memory: str | None,
    suffixes: tuple[str, ...],
    fail_on: str,
    form: str,
    everything: bool,
    quiet: bool,
    cell: str | None,
    memory: str | None,
    select: str | None,
    ignore: str | None,
    **declared: Any,
) -> int:
    """Check many programs and jobs, and write one summary.

    \b
      dryrun batch parts/ -o parts-checked
      dryrun batch parts/ --bit flat:6mm --stock 200x200x18mm --zero centre-top
      find . -name '*.nc' | dryrun batch -

    A folder is searched for programs and for job.toml files; a job takes its own programs, which
    are then not checked alone. A LIST names one path a line, relative to itself (- is standard
    input). What is declared here holds for programs; a job file has its own.

    With -o the results are kept (results.jsonl, index.html, summary.txt). The same command again
    goes on where it was stopped, and checks only what is new or has changed.

    Exit code: 0 nothing at or above --fail-on in any input; 1 findings; 2 an input that cannot be
    used or went beyond a limit; 3 a fault of dryrun. The highest one counts.
    """
    if not inputs:
        click.echo(ctx.get_help())
        return Exit.UNUSABLE
    is_elsewhere(jobs, scheduler)
    asked = Asked(Declared(**declared), cell, memory, select, ignore)
    asked.refuse_wrong()
    limits = Limits(timeout or None, size_in_bytes("--process-memory", process_memory))
    found = find_inputs(inputs, suffixes, output)
    _say_found(found, inputs)
    run = Run(asked, limits, fail_on, again, jobs, scheduler, quiet)
    records = run.results(found.paths, output)
    _write(records, output, form, everything)
    return max((Exit(r["exit"]) for r in records), default=Exit.OK)


def _say_found(found: Found, inputs: Sequence[str]) -> None:
    from dryrun.report.words import plural, visible

    if not found.paths:
        raise Unusable(f"no programs and no job.toml in {visible(', '.join(inputs))}")
    if found.links:
        click.echo(f"{plural(found.links, 'symbolic link')} not followed", err=True)


@dataclasses.dataclass(frozen=True, slots=True)
class Run:
    """How a batch is run."""

    asked: Asked
    limits: Limits
    fail_on: str
    again: str | None
    jobs: int | None
    scheduler: str | None
    quiet: bool
    hashes: Hashes = dataclasses.field(default_factory=Hashes)

    def results(self, paths: Sequence[str], output: str | None) -> list[Record]:
        """Check what has to be checked and return a record for every path, in their order."""
        if output is None:
            return self._run(paths, {}, None)
        folder = Path(output)
        if folder.exists() and not folder.is_dir():
            raise Unusable(f"-o {output}: this is a file; name a folder")
        with Store(folder) as store:
            if store.broken:
                click.echo(f"{store.path}: {store.broken} broken lines are skipped", err=True)
            records = self._run(paths, self._still_good(paths, store.known), store)
            store.finish(records)
        return records

    def _run(
        self, paths: Sequence[str], done: dict[str, Record], store: Store | None
    ) -> list[Record]:
        todo = [path for path in paths if path not in done]
        if done and not self.quiet:
            click.echo(f"{len(done)} of {len(paths)} are done already", err=True)
        known = {path: self._judged(record) for path, record in done.items()}
        try:
            for record in self._checked(todo):
                if store is not None:
                    store.add(record)
                known[record["path"]] = record
        except (KeyboardInterrupt, ClusterError) as error:
            if store is not None:
                words = f"{len(known)} of {len(paths)} are done and kept in {store.path}"
                click.echo(f"{words}; the same command again goes on", err=True)
            if isinstance(error, ClusterError):
                raise Unusable(f"--scheduler: {error}") from error
            raise
        return [known[path] for path in paths]

    def _checked(self, paths: Sequence[str]) -> Iterator[Record]:
        from dryrun.cli.progress import ProgressBar

        requests = (request(path, self.asked) for path in paths)
        answers = run_all(
            TASK, requests, self.jobs, self.scheduler, limits=self.limits, ordered=False
        )
        with contextlib.closing(answers), ProgressBar(self.quiet) as progress:
            for done, answer in enumerate(answers, start=1):
                yield self._record(paths[answer.index], answer)
                progress("checking", done, len(paths))

    def _record(self, path: str, answer: Answer) -> Record:
        kind = "job" if is_job(path) else "program"
        record = {"schema": SCHEMA, "path": path, "kind": kind, "problem": answer.problem or None}
        if answer.problem:
            said = {"input": Hashes().of_input(path), "exit": int(_PROBLEM_EXIT[answer.problem])}
            record |= {**said, "error": answer.words}
        else:
            record |= answer.result
        limited = answer.problem in ("memory", "timeout")
        record |= {"seconds": round(answer.seconds, 3), "settings": self._settings(path, limited)}
        return self._judged(record)

    def _judged(self, record: Record) -> Record:
        """Return a record with the exit code that --fail-on makes of its findings."""
        if record["exit"] > Exit.FINDINGS:
            return record
        level = record["worst"]
        bar = LEVELS.index(self.fail_on) if self.fail_on in LEVELS else -1
        hit = level in LEVELS and LEVELS.index(level) <= bar
        return {**record, "exit": int(Exit.FINDINGS if hit else Exit.OK)}

    # ------------------------------------------------------------ what is still good

    def _still_good(self, paths: Sequence[str], known: dict[str, Record]) -> dict[str, Record]:
        """Return the earlier results that hold: same input, same settings."""
        if self.again == "all":
            return {}
        good = {}
        for path in paths:
            record = known.get(path)
            if record is None or (self.again == "failed" and record["exit"] > Exit.FINDINGS):
                continue
            limited = record.get("problem") in ("memory", "timeout")
            if record["settings"] != self._settings(path, limited):
                continue
            if record["input"] == self.hashes.of_input(path):
                good[path] = record
        return good

    def _settings(self, path: str, limited: bool) -> str:
        """Return the hash of what changes a result; limits only where one was met."""
        from dryrun.report.replay import versions

        said: dict[str, Any] = {
            "versions": versions(),
            "asked": asked_for(path, self.asked).settings(),
        }
        if self.asked.declared.machine is not None:
            said["machine"] = self.hashes.of_file(self.asked.declared.machine)
        if limited:
            said["limits"] = [self.limits.seconds, self.limits.memory]
        return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()


def _write(records: Sequence[Record], output: str | None, form: str, everything: bool) -> None:
    from dryrun.cli.console import print_blocks
    from dryrun.report.batch_text import batch_blocks

    if output is not None:
        from dryrun.report.batch_page import batch_page

        write_text(batch_page(records), os.path.join(output, "index.html"))
        print_blocks(batch_blocks(records, True), os.path.join(output, "summary.txt"))
    if form == "jsonl":
        write_text("\n".join(line_of(r).decode().rstrip("\n") for r in records), None)
        return
    kept = None if output is None else os.path.join(output, "index.html")
    print_blocks(batch_blocks(records, everything, kept))
