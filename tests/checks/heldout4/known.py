"""What dryrun misses or says wrongly in this set; tests are strict, so a mended one must leave."""

from __future__ import annotations

#: The mistake could be known from what is declared, and is not told, or not at its line.
MISSED: dict[str, str] = {}
#: Nothing that is declared speaks against the job as it then stands.
CANNOT_KNOW = {
    "beech-hexagon: clearing left out": "a carved outline round an uncleared hexagon is a common "
    "wish; its strokes run out at the very top",
    "lime-flower: ball of 3 mm for 6 mm, no comment": "the relief is gentle enough for both",
}
#: Findings on clean jobs that are not right: (code, stage, line).
FALSE: dict[str, set[tuple[str, int, int]]] = {}
