"""`dryrun explain CODE`: the catalogue, for people."""

from __future__ import annotations

import textwrap

import click

from dryrun.checks.catalogue import FAMILIES, Entry, catalogue, nearest_code
from dryrun.cli.exits import Unusable

_HEADINGS = (
    ("what is checked", "checks"),
    ("why it matters at the machine", "why"),
    ("what to do", "do"),
    ("what it rests on", "rests"),
    ("what it cannot see", "limits"),
)


@click.command(name="explain")
@click.argument("code", required=False)
def command(code: str | None) -> None:
    """Say what a finding means, why it matters and what to do.

    Without CODE, list all codes.
    """
    if code is None:
        _list()
        return
    entry = catalogue().get(code.strip().lower())
    if entry is None:
        near = nearest_code(code)
        hint = f"; did you mean {near}?" if near else ""
        raise Unusable(f"there is no code {code!r}{hint} (dryrun explain lists all codes)")
    _explain(entry)


def _explain(entry: Entry) -> None:
    click.secho(entry.code, bold=True, nl=False)
    click.echo(f"  ({entry.level}, {entry.family}): {entry.title}")
    for title, field in _HEADINGS:
        click.echo()
        click.secho(title, bold=True)
        for paragraph in str(getattr(entry, field)).splitlines():
            click.echo(_wrapped(paragraph))


def _wrapped(paragraph: str) -> str:
    """Wrap one paragraph; what follows a dash is indented as a point of a list."""
    further = "    " if paragraph.startswith("- ") else "  "
    return textwrap.fill(paragraph, 78, initial_indent="  ", subsequent_indent=further)


def _list() -> None:
    for family in FAMILIES:
        click.secho(family, bold=True)
        for entry in catalogue().values():
            if entry.family == family:
                click.echo(f"  {entry.code:<22}{entry.level:<9}{entry.title}")
        click.echo()
