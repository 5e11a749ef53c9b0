"""Many pieces of work on processes of our own: order, limits, and what cannot stop the rest."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

import pytest

from dryrun.child import child_command
from dryrun.work import Limits, run_all


@pytest.fixture(autouse=True)
def _tasks_can_be_imported(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(Path(__file__).parent))


@pytest.mark.parametrize("jobs", [1, 3])
def test_every_input_has_one_answer_in_order(jobs: int) -> None:
    """Answers come in the order of the inputs, for any number of processes."""
    found = list(run_all("work_tasks:square", range(40), jobs))

    assert [a.index for a in found] == list(range(40))
    assert [a.result for a in found] == [n * n for n in range(40)]
    assert not any(a.problem for a in found)


def test_nothing_stops_the_rest() -> None:
    """A crash, an exit, a hang, too much memory and an exception are answered as such."""
    wanted = ["a", "crash", "b", "exit", "hang", "c", "raise", "huge", {"d": [1, None]}]
    found = list(run_all("work_tasks:moody", wanted, 2, limits=Limits(1.5, None)))

    problems = [a.problem for a in found]
    assert problems == ["", "crash", "", "crash", "timeout", "", "fault", "", ""]
    assert [a.result for a in found if not a.problem] == [
        "a", "b", "c", "x" * 3_000_000, {"d": [1, None]},
    ]  # fmt: skip
    assert "signal 11" in found[1].words
    assert "code 7" in found[3].words
    assert "not this one" in found[6].words


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="RLIMIT_DATA counts on Linux only")
def test_memory_is_limited_and_the_next_piece_is_done() -> None:
    """A piece that needs more memory than allowed is answered so; the next one is done."""
    found = list(run_all("work_tasks:moody", ["eat", "a"], 1, limits=Limits(None, 10**9)))

    assert [a.problem for a in found] == ["memory", ""]


def test_children_are_ended_when_no_more_is_wanted() -> None:
    """Closing the answers in the middle ends all children."""
    answers = run_all("work_tasks:slow", range(1000), 2)
    pids = {next(answers).result[1] for _ in range(4)}
    answers.close()

    for pid in pids:
        for _ in range(100):
            try:
                os.kill(pid, 0)
            except ProcessLookupError:
                break
            time.sleep(0.05)
        else:
            pytest.fail("a child is still there")


def test_a_child_takes_no_module_from_the_current_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file numpy.py beside the programs is not run by a child (code from a stranger's folder)."""
    for name in ("numpy", "json", "importlib", "dryrun"):
        (tmp_path / f"{name}.py").write_text("raise SystemExit('this must never run')\n")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "path", [p or str(Path(__file__).parents[2]) for p in sys.path])
    (answer,) = run_all("work_tasks:moody", ["where"], 1)

    assert answer.problem == ""
    threads, place = answer.result
    assert threads == "1"
    assert not place.startswith(str(tmp_path))


def test_child_command_refuses_the_current_folder() -> None:
    """The command has the switch that leaves the current folder out of the module path."""
    assert "-P" in child_command("dryrun.work:serve")


def test_without_inputs_there_is_no_answer() -> None:
    """No input, no answer, and no process that stays."""
    assert list(run_all("work_tasks:square", [], 2)) == []
