"""What the tests of the fifth to eighth held-out sets share."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from pathlib import Path

import dryrun
from dryrun.checks.catalogue import catalogue

from .heldout5.core import Mistake, Shop
from .heldout5.score import Said, dryrun_run, judge, said_of
from .sample import some


class HeldOut:
    """A set: its jobs, its mistakes, and job and name of those that are not told."""

    def __init__(
        self,
        jobs: Iterable[Callable[[], Shop]],
        mistakes: Sequence[Mistake],
        not_told: Collection[tuple[str, str]],
    ) -> None:
        self.shops = {shop.key: shop for shop in (make() for make in jobs)}
        self.mistakes = mistakes
        self.not_told = not_told
        self._said: dict[str, list[Said]] = {}

    def said(self, key: str) -> list[Said]:
        """Return what is said of a clean job."""
        if key not in self._said:
            self._said[key] = said_of(self.shops[key], dryrun_run)
        return self._said[key]

    def check_clean(self, key: str) -> None:
        """A clean job has neither errors nor warnings; notes are allowed."""
        assert [x for x in self.said(key) if x[0] != "note"] == []

    def check_told(self, mistake: Mistake) -> None:
        """A mistake is told by its code, on its line; one that is known not to be, is not."""
        verdict = judge(mistake, self.shops[mistake.job], self.said(mistake.job), dryrun_run)
        known = (mistake.job, mistake.name) in self.not_told
        assert (verdict.word == "right line") == (not known), verdict

    def check_not_told_are_there(self) -> None:
        assert {(m.job, m.name) for m in self.mistakes} >= set(self.not_told)


def named(mistake: Mistake) -> str:
    """Return the name of a mistake's test."""
    return f"{mistake.job}:_{mistake.name}".replace(" ", "_")


def check_read_without_a_fault(shop: Shop, folder: Path) -> None:
    """The reader has nothing above a note to say of a clean job's programs."""
    job = dryrun.read_job(shop.write(folder))
    for stage in job.stages:
        assert stage.program is not None
        program = dryrun.read_program(stage.program, unit=job.units)
        told = [f.message for f in program.findings if f.level != "note"]
        if not stage.offsets:  # without the job the reader cannot know where G55 lies
            assert told == []


def check_mistakes_are_made(
    shops: Mapping[str, Shop], mistakes: Sequence[Mistake], folder: Path
) -> None:
    """Mistakes change their job, name lines that are there, and can be read as a job."""
    assert len({(m.job, m.name) for m in mistakes}) == len(mistakes)
    for n, mistake in enumerate(some(mistakes, every=3)):
        clean = shops[mistake.job]
        made = mistake.made(clean)
        folders = [folder / f"{n}-{x}" for x in "ab"]
        for one, shop in zip(folders, (clean, made), strict=True):
            one.mkdir()
            shop.write(one)
        texts = [{p.name: p.read_text() for p in f.iterdir()} for f in folders]
        assert texts[0] != texts[1], mistake.name
        assert mistake.codes
        assert set(mistake.codes) <= set(catalogue())
        for stage, line in mistake.places(made):
            assert 1 <= line <= len(made.programs[stage - 1])
        dryrun.read_job(folders[1] / "job.toml")


def check_shops_unchanged(makers: Iterable[Callable[[], Shop]], shops: Mapping[str, Shop]) -> None:
    """Making mistakes has left the clean jobs as they are."""
    for shop in (make() for make in makers):
        assert shop.table == shops[shop.key].table
        assert [[x.text for x in p] for p in shop.programs] == [
            [x.text for x in p] for p in shops[shop.key].programs
        ]
