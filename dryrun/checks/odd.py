"""What is not like its company: a pass, a point, a hole, a ramp, a copy of a shape (`odd-pass`)."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

from dryrun.checks.context import StageContext
from dryrun.checks.copies import copies_differ
from dryrun.checks.lost_minus import minus_lost, pass_raised
from dryrun.checks.pattern import hole_lost, holes_off
from dryrun.checks.skipped import places_skipped
from dryrun.checks.sloping import ramps_left
from dryrun.checks.thrown import points_thrown
from dryrun.checks.unlike import passes_unlike
from dryrun.finding import Finding

#: In this order: of several that tell of one line the first one's words stay.
PARTS: Final[tuple[Callable[[StageContext], Iterator[Finding]], ...]] = (
    places_skipped,
    minus_lost,
    passes_unlike,
    points_thrown,
    holes_off,
    hole_lost,
    copies_differ,
    pass_raised,
    ramps_left,
)


def odd_pass(context: StageContext) -> Iterator[Finding]:
    """Report what lies elsewhere than its company, each line once."""
    told: set[tuple[str | None, int | None]] = set()
    for part in PARTS:
        for finding in part(context):
            line = (finding.file, finding.line)
            if line not in told:
                yield finding
            told.add(line)
