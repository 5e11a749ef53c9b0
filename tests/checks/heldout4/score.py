"""Run the set and compare with what was expected.

python -m tests.checks.heldout4.score [--raw FILE] [PART OF A NAME ...]
"""

from __future__ import annotations

import json
import sys
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import dryrun
from tests.checks.heldout4.jobs_other import OTHER
from tests.checks.heldout4.jobs_wood import WOOD
from tests.checks.heldout4.shop import Slip, Work

Said = tuple[str, str, int | None, int | None, str]  # level, code, stage, line, message


def clean_jobs() -> dict[str, Work]:
    works = [make() for make in (*WOOD, *OTHER)]
    return {work.name: work for work in works}


def say(work: Work) -> list[Said]:
    """What dryrun tells of a job."""
    with tempfile.TemporaryDirectory() as folder:
        job = dryrun.read_job(work.put_down(Path(folder)))
        outcome = dryrun.dry_run(job)
    return [(f.level, f.code, f.stage, f.line, f.message) for f in outcome.findings]


@dataclass(frozen=True)
class Result:
    """How one mistake was told."""

    key: str
    told: bool
    right_line: bool
    expected: str
    said: list[Said]


def place(work: Work, where: tuple) -> tuple[int, range | None]:
    """The stage and the lines (1-based) at which a mistake may rightly be told."""
    stage, mark, *more = where
    if mark is None:
        return stage, None
    text = work.text(stage)
    if more and isinstance(more[0], str):
        return stage, range(text.index(mark) + 1, text.index(more[0]) + 2)
    first = text.index(mark, more[0] if more else 0) + 1
    return stage, range(first, first + 1)


def judge(slip: Slip, clean: Work, clean_said: Iterable[Said]) -> Result:
    work = clean.copy()
    slip.edit(work)
    known = {(s[1], s[2], s[4]) for s in clean_said}
    said = [s for s in say(work) if (s[1], s[2], s[4]) not in known]
    hits = [s for s in said if s[1] in slip.codes]
    places = [place(work, w) for w in (slip.where, *slip.also) if w is not None]
    right = any(
        s[2] == stage and (lines is None or s[3] in lines) for s in hits for stage, lines in places
    )
    if slip.where is None:
        right = bool(hits)
    at = [f"{n}:{f'{r[0]}-{r[-1]}' if r else 'stage'}" for n, r in places]
    expected = f"{'/'.join(slip.codes)} at {' or '.join(at) or 'the set-up'}"
    return Result(slip.key, bool(hits), right, expected, said)


def main(arguments: list[str]) -> None:
    from tests.checks.heldout4.mistakes import SLIPS

    raw = None
    if arguments[:1] == ["--raw"]:
        raw, arguments = Path(arguments[1]), arguments[2:]
    wanted = [s for s in SLIPS if not arguments or any(a in s.key for a in arguments)]
    works = clean_jobs()
    said = {name: say(work) for name, work in works.items() if any(s.job == name for s in wanted)}
    results = [judge(s, works[s.job], said[s.job]) for s in wanted]
    false = {n: [s for s in found if s[0] != "note"] for n, found in said.items()}
    for name, found in false.items():
        for one in found:
            print("CLEAN", name, *one)
    for r in results:
        if not r.right_line:
            print("LINE" if r.told else "MISS", r.key, "| expected", r.expected)
            for one in r.said:
                print("     ", *one)
    errors = sum(s[0] == "error" for found in false.values() for s in found)
    warnings = sum(s[0] == "warning" for found in false.values() for s in found)
    print(f"clean jobs {len(said)}: {errors} errors, {warnings} warnings")
    told, right = sum(r.told for r in results), sum(r.right_line for r in results)
    print(f"mistakes {len(results)}: told {told}, right line {right}")
    if raw:
        both = {"clean": said, "mistakes": [vars(r) for r in results]}
        raw.write_text(json.dumps(both, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
