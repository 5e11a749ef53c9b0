"""Run dryrun on the jobs and count: `python -m tests.checks.heldout5.score [JOB ...]`."""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from tests.checks.heldout5.core import Mistake, Shop
from tests.checks.heldout5.sets import JOBS, MISTAKES

#: What a run says: level, code, stage, line.
Said = tuple[str, str, int | None, int | None]
Run = Callable[[Path], list[Said]]


def dryrun_run(path: Path) -> list[Said]:
    import dryrun

    try:
        job = dryrun.read_job(path)
    except dryrun.JobError as fault:
        return [("error", f"JobError: {fault}", None, None)]
    try:
        outcome = dryrun.dry_run(job)
    except Exception as fault:  # one crash must not hide how the other jobs fare
        return [("error", f"crash: {fault!r}", None, None)]
    return [(f.level, f.code, f.stage, f.line) for f in outcome.findings]


def said_of(shop: Shop, run: Run) -> list[Said]:
    with tempfile.TemporaryDirectory() as folder:
        return run(shop.write(Path(folder)))


@dataclass(frozen=True)
class Verdict:
    """How one mistake was told: "right line", "told" (another line), "not told"."""

    word: str
    new: list[Said]


def judge(mistake: Mistake, clean: Shop, before: Iterable[Said], run: Run) -> Verdict:
    """Findings that the clean job has not (level, code and line) against what is expected."""
    made = mistake.made(clean)
    old = {(level, code, line) for level, code, _, line in before}
    new = [x for x in said_of(made, run) if (x[0], x[1], x[3]) not in old]
    fitting = [x for x in new if x[1] in mistake.codes]
    places = mistake.places(made)
    if not fitting:
        return Verdict("not told", new)
    lines = {line for _, line in places}
    at_place = any(
        line in lines if stage is None else (stage, line) in places for _, _, stage, line in fitting
    )
    if not places or at_place:
        return Verdict("right line", new)
    return Verdict("told", new)


def shown(said: Iterable[Said]) -> str:
    return ", ".join(
        f"{level} {code}" + (f" {stage}:{line}" if line else f" (stage {stage})" if stage else "")
        for level, code, stage, line in said
    )


def main(
    chosen: list[str],
    run: Run = dryrun_run,
    makers: Iterable[Callable[[], Shop]] = JOBS,
    mistakes: Iterable[Mistake] = MISTAKES,
) -> dict[str, int]:
    """Print everything; return the totals."""
    jobs = {shop.key: shop for shop in (make() for make in makers)}
    assert set(chosen) <= set(jobs), f"no such job; there are {', '.join(jobs)}"
    totals = {"clean jobs": 0, "with errors": 0, "with warnings": 0}
    totals |= {"mistakes": 0, "right line": 0, "told": 0, "not told": 0}
    for key, shop in jobs.items():
        if chosen and key not in chosen:
            continue
        before = said_of(shop, run)
        heavy = [x for x in before if x[0] != "note"]
        totals["clean jobs"] += 1
        totals["with errors"] += any(x[0] == "error" for x in heavy)
        totals["with warnings"] += any(x[0] == "warning" for x in heavy)
        print(f"{key}: clean job: {shown(heavy) or 'nothing above a note'}")
        for mistake in mistakes:
            if mistake.job != key:
                continue
            verdict = judge(mistake, shop, before, run)
            totals["mistakes"] += 1
            totals[verdict.word] += 1
            lines = sorted(mistake.places(mistake.made(shop)))
            print(f"  {verdict.word:10}  {mistake.name}")
            if verdict.word != "right line":
                at = f" at {_brief(lines)}" if lines else ""
                print(f"{'':14}expected {' or '.join(mistake.codes)}{at}")
            print(f"{'':14}new: {shown(verdict.new) or 'nothing'}")
        sys.stdout.flush()
    print("; ".join(f"{name} {count}" for name, count in totals.items()))
    return totals


def _brief(places: list[tuple[int, int]]) -> str:
    if len(places) > 4:
        (stage, first), (_, last) = places[0], places[-1]
        return f"{stage}:{first} to {last} ({len(places)} lines)"
    return ", ".join(f"{stage}:{line}" for stage, line in places)


if __name__ == "__main__":
    main(sys.argv[1:])
