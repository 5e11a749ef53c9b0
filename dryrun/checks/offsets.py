"""A work offset that the stages of one job declare at different places in X and Y."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

import numpy as np

from dryrun.checks.context import StageContext, without_comments
from dryrun.finding import Finding

#: Places that are one, mm.
_SAME: Final = 0.01


def offset_elsewhere(context: StageContext) -> Iterator[Finding]:
    """Report an offset that the program uses and an earlier stage's program used elsewhere."""
    for name, place in context.stage.offsets:
        line = _line_with(context, name)
        if line is None:
            continue
        for other in reversed(context.earlier):
            was = dict(other.stage.offsets).get(name)
            if was is None or _line_with(other, name) is None:
                continue
            # Z may be zeroed on the top for one bit and on the table for the next
            apart = np.subtract(place, was)[:2]
            if float(np.abs(apart).max()) > _SAME:
                yield _told(context, name, line, other.number, apart.tolist())
            break


def offset_not_called(context: StageContext) -> Iterator[Finding]:
    """Note an offset that is declared for the stage beside others and never called.

    Only where the program calls another one of them: what is to be cut there may be missing.
    """
    lines = {name: _line_with(context, name) for name, _ in context.stage.offsets}
    called = [line for line in lines.values() if line is not None]
    for name, line in lines.items():
        if line is None and called and name != "G54":  # in force without being called
            made = context.finding(
                "stage-shifted",
                f"{name} is declared for this stage and its program never calls it: what is to be "
                "cut there is missing, or cut elsewhere",
                level="note",
                help=f"put {name} where the program goes on there, or take it out of `offsets`",
            )
            yield context.at_line(made, max(called))


def _told(context: StageContext, name: str, line: int, other: int, apart: list[float]) -> Finding:
    far = " ".join(
        f"{letter} {context.mm(round(value, 3))}"
        for letter, value in zip("XY", apart, strict=True)
        if abs(value) > _SAME
    )
    made = context.finding(
        "stage-shifted",
        f"{name} is declared {far} from where stage {other} has it: the parts cut there do not "
        "share one zero",
        value=float(np.linalg.norm(apart)),
        limit=0.0,
        unit="mm",
        help="compare the `offsets` of the two stages with what is set at the machine",
    )
    return context.at_line(made, line)


def _line_with(context: StageContext, name: str) -> int | None:
    """Return the first line that calls an offset by its word; None where none does."""
    word = re.compile(rf"(?<![A-Z0-9.]){name[0]}0*{re.escape(name[1:])}(?![0-9.])", re.IGNORECASE)
    for number, text in enumerate(context.texts.lines(), 1):
        if word.search(without_comments(text)):
            return number
    return None
