"""A batch on a real Dask scheduler with two worker processes on this machine."""

from __future__ import annotations

import contextlib
import importlib.util
import json
import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

import pytest

from dryrun.cli.exits import Exit
from tests.cli.test_batch import ROOT, parts, records, started, told, wait_for_lines
from tests.cli.test_check import process, shell

HERE = importlib.util.find_spec("distributed") is not None
needs_dask = pytest.mark.skipif(not HERE, reason="needs the extra 'cluster' (distributed)")


@dataclass
class Cluster:
    """A scheduler and its workers, each a process."""

    address: str
    workers: list[subprocess.Popen[bytes]]


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def dask(log: IO[bytes], *arguments: str) -> subprocess.Popen[bytes]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-m", "dask", *arguments, "--no-dashboard"]
    return subprocess.Popen(command, stdout=log, stderr=log, env=environment)


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    address = f"tcp://127.0.0.1:{free_port()}"
    with contextlib.ExitStack() as stack:
        log = stack.enter_context((tmp_path / "dask.log").open("wb"))
        host, port = address.removeprefix("tcp://").split(":")
        scheduler = dask(log, "scheduler", "--host", host, "--port", port)
        stack.callback(_end, scheduler)
        workers = []
        for n in range(2):
            folder = tmp_path / f"worker{n}"
            workers.append(
                dask(log, "worker", address, "--nthreads", "1", "--no-nanny", "--host", host,
                     "--local-directory", str(folder))
            )  # fmt: skip
            stack.callback(_end, workers[-1])
        yield Cluster(address, workers)


def _end(process: subprocess.Popen[bytes]) -> None:
    process.kill()
    process.wait()


@needs_dask
def test_a_killed_worker_loses_and_doubles_nothing(tmp_path: Path, cluster: Cluster) -> None:
    """One of two workers is killed in the middle: every input has one result, the same as here."""
    folder = parts(tmp_path / "parts", 120)
    (folder / "empty.nc").write_text("")
    out = tmp_path / "out"
    run = started(folder, out, "--scheduler", cluster.address)
    wait_for_lines(out, 20, run)
    cluster.workers[0].kill()
    cluster.workers[0].wait()
    at_the_kill = (out / "results.jsonl").read_bytes()
    said, errors = run.communicate(timeout=300)

    assert run.returncode == Exit.UNUSABLE, errors  # the empty one
    assert at_the_kill.count(b"\n") < 121
    lines = [json.loads(line)["path"] for line in at_the_kill.splitlines(True)[:-1]]
    assert len(lines) == len(set(lines))
    assert len(records(out)) == len({r["path"] for r in records(out)}) == 121
    assert not any(r["problem"] for r in records(out))
    assert "121 inputs" in said
    here = tmp_path / "here"
    shell("batch", str(folder), "-o", str(here), "--jobs", "2")
    assert [told(r) for r in records(out)] == [told(r) for r in records(here)]


@needs_dask
def test_limits_hold_on_a_cluster_and_its_worker_lives(tmp_path: Path, cluster: Cluster) -> None:
    """A time limit ends the piece, not the Dask worker; the same batch goes on there."""
    folder = parts(tmp_path / "parts", 3)
    out = tmp_path / "out"
    command = ("batch", str(folder), "-o", str(out), "--scheduler", cluster.address)

    done = process(*command, "--timeout", "0.001", cwd=ROOT)
    assert done.returncode == Exit.UNUSABLE, done.stderr
    assert {r["problem"] for r in records(out)} == {"timeout"}
    assert process(*command, cwd=ROOT).returncode == Exit.OK
    assert all(worker.poll() is None for worker in cluster.workers)


@needs_dask
def test_a_cluster_ranks_bits_alike(tmp_path: Path, cluster: Cluster) -> None:
    """The bits of a rack weighed on a cluster: the same bytes as weighed here."""
    (tmp_path / "bits.toml").write_text(
        "".join(f'[flat-{d}]\nshape = "flat"\ndiameter = "{d} mm"\n' for d in (3, 6, 12))
    )
    part = str(parts(tmp_path / "parts", 1) / "p0000.nc")
    asked = ("bits", "fit", part, "--bits", str(tmp_path / "bits.toml"), "--format", "json")

    there = process(*asked, "--scheduler", cluster.address, cwd=ROOT)
    assert there.returncode == Exit.OK, there.stderr
    assert there.stdout == process(*asked, cwd=ROOT).stdout


@needs_dask
def test_a_scheduler_that_is_lost_keeps_what_is_done(tmp_path: Path) -> None:
    """When all workers and the scheduler are gone the batch says so, and goes on here later."""
    folder = parts(tmp_path / "parts", 150)
    out = tmp_path / "out"
    with (tmp_path / "log").open("wb") as log:
        port = str(free_port())
        scheduler = dask(log, "scheduler", "--host", "127.0.0.1", "--port", port)
        address = f"tcp://127.0.0.1:{port}"
        worker = dask(log, "worker", address, "--nthreads", "1", "--no-nanny",
                      "--local-directory", str(tmp_path / "w"))  # fmt: skip
        try:
            run = started(folder, out, "--scheduler", address)
            wait_for_lines(out, 5, run)
            _end(worker)
            _end(scheduler)
            _, errors = run.communicate(timeout=120)
        finally:
            _end(worker)
            _end(scheduler)

    assert run.returncode == Exit.UNUSABLE
    assert "--scheduler: " in errors
    assert "the same command again goes on" in errors
    assert 5 <= len(records(out)) < 150
    assert "are done already" in shell("batch", str(folder), "-o", str(out), "--jobs", "2").stderr
    assert len(records(out)) == 150


@needs_dask
def test_nobody_at_the_address(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An address where nothing listens is one message and exit code 2."""
    folder = parts(tmp_path / "parts", 1)

    monkeypatch.setattr("dryrun.cluster.CONNECT_SECONDS", 0.3)
    done = shell("batch", str(folder), "--scheduler", f"tcp://127.0.0.1:{free_port()}")

    assert done.returncode == Exit.UNUSABLE
    assert "no scheduler answers" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.skipif(HERE, reason="distributed is installed")
def test_without_dask_it_says_what_to_install(tmp_path: Path) -> None:
    """Without the package the scheduler is refused with the command that installs it."""
    folder = parts(tmp_path / "parts", 1)

    done = shell("batch", str(folder), "--scheduler", "tcp://127.0.0.1:1")

    assert done.returncode == Exit.UNUSABLE
    assert "dryrun[cluster]" in done.stderr


def test_jobs_and_scheduler_exclude_each_other(tmp_path: Path) -> None:
    """How many work is either ours to say or the cluster's."""
    done = shell("batch", str(tmp_path), "--scheduler", "tcp://127.0.0.1:1", "--jobs", "2")

    assert done.returncode == Exit.UNUSABLE
    assert "--jobs" in done.stderr
