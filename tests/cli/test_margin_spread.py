"""Samples of `dryrun margin` drawn in other processes."""

from __future__ import annotations

from pathlib import Path

import pytest

from dryrun.cli.exits import Exit
from dryrun.cli.jobs import Declared, load_job, run_job
from dryrun.cli.margin_work import spread_over, try_errors
from dryrun.margin import Trial, chances
from tests.cli.test_check import PROGRAM, shell

LIMITS = {"z-zero": 1.5, "x-zero": 15.0}
DECLARED = Declared(bit="flat:6mm", stock="80x40x5mm", zero="front-left-top", depth="5mm")


@pytest.fixture
def trial(tmp_path: Path) -> tuple[str, Trial]:
    part = tmp_path / "part.nc"
    part.write_text(PROGRAM)
    outcome = run_job(load_job([str(part)], DECLARED), cell="1mm", quiet=True)
    return str(part), Trial(outcome, 1)


@pytest.mark.jit_only
def test_other_processes_give_the_same_chances(trial: tuple[str, Trial]) -> None:
    """One process, two processes and this one find the same in the same samples."""
    part, here = trial
    wanted = chances(here, LIMITS, 30, 3)

    assert wanted.any_finding.probability > 0
    for jobs in (1, 2):
        spread = spread_over([part], DECLARED, here, jobs, None)
        assert chances(here, LIMITS, 30, 3, spread=spread) == wanted


def test_a_job_that_changed_is_not_drawn_from(trial: tuple[str, Trial]) -> None:
    """Processes that read other files than we did say so instead of answering."""
    part, here = trial
    spread = spread_over([part], DECLARED, here, 1, None)
    Path(part).write_text(PROGRAM.replace("X60", "X61"))

    assert "changed meanwhile" in _words(spread([{"z-zero": 0.5}]))


def _words(answers: object) -> str:
    from dryrun.cli.exits import Unusable

    with pytest.raises(Unusable) as refused:
        list(answers)  # type: ignore[call-overload]
    return refused.value.message


def test_a_sample_says_code_and_stage(trial: tuple[str, Trial]) -> None:
    """What a process answers is plain data: sorted codes with their stages."""
    from dryrun.cli import margin_work
    from dryrun.report.replay import inputs_of

    part, here = trial
    margin_work._trial.cache_clear()
    job = {
        "files": [part],
        "declared": {**_as_dict(DECLARED)},
        "inputs": inputs_of(here.outcome),
        "cell": "1 mm",
    }

    assert try_errors({"job": job, "errors": {}}) == []
    found = try_errors({"job": job, "errors": {"z-zero": -2.0}})
    assert found is not None
    assert ("too-deep", 1) in found
    assert found == sorted(found)
    margin_work._trial.cache_clear()


def _as_dict(declared: Declared) -> dict[str, object]:
    from dataclasses import asdict

    return asdict(declared)


@pytest.mark.jit_only
def test_what_cannot_be_spread_is_refused(tmp_path: Path) -> None:
    """Standard input cannot be read again; processes and a cluster exclude each other."""
    part = tmp_path / "part.nc"
    part.write_text(PROGRAM)
    given = ("--bit", "flat:6mm", "--stock", "80x40x18mm", "--zero", "front-left-top", "-q")
    more = ("--tolerance", "z-zero=0.1mm", "--tolerance", "x-zero=1mm", "--samples", "10")

    done = shell("margin", "-", *given, *more, "--jobs", "1", input=PROGRAM)
    assert done.returncode == Exit.UNUSABLE
    assert "standard input" in done.stderr
    done = shell("margin", str(part), *given, *more, "--jobs", "1", "--scheduler", "x:1")
    assert done.returncode == Exit.UNUSABLE
