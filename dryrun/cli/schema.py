"""`dryrun schema`: the JSON Schema of the files that people write."""

from __future__ import annotations

import json

import click

from dryrun.cli.exits import Exit
from dryrun.cli.output import write_text


@click.command(name="schema")
@click.argument("which", type=click.Choice(["job", "machine", "bits"]), default="job")
@click.option("-o", "--output", metavar="FILE", help="write there instead of standard output")
def command(which: str, output: str | None) -> int:
    """Print the JSON Schema of a job, machine or bits file, for an editor to complete keys with.

    \b
      dryrun schema job -o job.schema.json
    """
    from dryrun.job.schema import json_schema

    write_text(json.dumps(json_schema(which), indent=1, ensure_ascii=False), output)
    return Exit.OK
