"""Many pieces of work on several processes, or on a Dask cluster; none of them can stop the rest.

A piece of work is a function named "package.module:name" and one argument that JSON can say; so is
its result. Nothing is pickled between us and our children, and a child can be ended at any time:
what it was at is answered with the reason, and a fresh child takes its place. On a cluster each
thread of a Dask worker keeps such a child, so that limits hold there too and a piece that ends its
process does not take the worker along.
"""

from __future__ import annotations

import contextlib
import importlib
import json
import os
import queue
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Generator, Iterable, Iterator
from dataclasses import dataclass
from typing import IO, Any, Final, Literal

from dryrun.child import child_command, child_environment
from dryrun.cores import usable_cores

Problem = Literal["", "memory", "timeout", "crash", "fault"]

#: A child that has not started by then never will, s.
_START_SECONDS: Final = 120.0


class ClusterError(RuntimeError):
    """A cluster that is not there, has no worker, or whose workers cannot do the work."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What one piece may take: seconds and bytes of memory of its process; None no limit."""

    seconds: float | None = None
    memory: int | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of one piece of work.

    Attributes
    ----------
    index : which input, from 0
    result : what the function returned; None when there is a problem
    problem : "" none; "memory" or "timeout" beyond the limit; "crash" its process ended;
        "fault" it raised
    words : the problem in words, or ""
    seconds : how long it took
    """

    index: int
    result: Any
    problem: Problem = ""
    words: str = ""
    seconds: float = 0.0


def run_all(
    task: str,
    inputs: Iterable[Any],
    jobs: int | None = None,
    scheduler: str | None = None,
    *,
    limits: Limits = Limits(),
    ordered: bool = True,
) -> Generator[Answer, None, None]:
    """Call a function on every input and yield one answer for each.

    Parameters
    ----------
    task : str
        The function, "package.module:name"; it takes and returns what JSON can say.
    inputs : iterable
        The arguments; taken one by one, as work gets on.
    jobs : int, optional
        How many processes; None one for each core.
    scheduler : str, optional
        Address of a Dask scheduler whose workers do it instead.
    limits : Limits
        What one input may take.
    ordered : bool
        Answers in the order of the inputs; False as they come.

    Raises
    ------
    ClusterError
        When the scheduler cannot be used.
    """
    if scheduler is not None:
        from dryrun.cluster import on_cluster

        answers = on_cluster(task, inputs, scheduler, limits)
    else:
        answers = _on_this_machine(task, inputs, jobs or usable_cores(), limits)
    with contextlib.closing(answers):
        yield from _in_order(answers) if ordered else answers


def _in_order(answers: Iterable[Answer]) -> Iterator[Answer]:
    early: dict[int, Answer] = {}
    following = 0
    for answer in answers:
        early[answer.index] = answer
        while following in early:
            yield early.pop(following)
            following += 1


# ---------------------------------------------------------------- one child


class Child:
    """A process that does one piece of work after another."""

    def __init__(self, task: str, limits: Limits) -> None:
        self.task, self.limits = task, limits
        self._process: subprocess.Popen[bytes] | None = None
        self._errors: IO[bytes] | None = None
        self._closed = False
        self._lock = threading.Lock()

    def do(self, index: int, given: Any) -> Answer:
        """Do one piece; starts a process where there is none."""
        begun = time.monotonic()
        late = threading.Event()
        try:
            process = self._running()
        except (OSError, RuntimeError) as error:
            return Answer(index, None, "crash", f"no process could be started: {error}")
        timer = None
        if self.limits.seconds is not None:
            timer = threading.Timer(self.limits.seconds, self._too_late, (process, late))
            timer.daemon = True
            timer.start()
        line = self._asked(process, given)
        if timer is not None:
            timer.cancel()
        took = time.monotonic() - begun
        if not line.endswith(b"\n"):
            return self._ended(process, index, late.is_set(), took)
        return self._answer(json.loads(line), index, took)

    def _answer(self, said: dict[str, Any], index: int, took: float) -> Answer:
        if said["problem"] == "memory":
            self.end()  # what is left of its memory may be in pieces
        return Answer(index, said["result"], said["problem"], said["words"], took)

    def _asked(self, process: subprocess.Popen[bytes], given: Any) -> bytes:
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            process.stdin.write(json.dumps(given).encode() + b"\n")
            process.stdin.flush()
            return process.stdout.readline()
        except (OSError, ValueError):
            return b""

    def _too_late(self, process: subprocess.Popen[bytes], late: threading.Event) -> None:
        late.set()
        process.kill()

    def _ended(
        self, process: subprocess.Popen[bytes], index: int, late: bool, took: float
    ) -> Answer:
        process.wait()
        last = self._last_words()
        self.end()
        if late:
            words = f"it was not done after {self.limits.seconds:g} s and was ended"
            return Answer(index, None, "timeout", words, took)
        return Answer(index, None, "crash", _how_it_ended(process.returncode, last), took)

    def _running(self) -> subprocess.Popen[bytes]:
        with self._lock:
            if self._closed:
                raise RuntimeError("the run is over")
            if self._process is None:
                self._process = self._start()
            elif self._errors is not None:
                self._errors.seek(0)
                self._errors.truncate()
            return self._process

    def _start(self) -> subprocess.Popen[bytes]:
        self._errors = tempfile.TemporaryFile()  # noqa: SIM115 - closed by `end`
        memory = str(self.limits.memory or 0)
        return subprocess.Popen(
            child_command("dryrun.work:serve", self.task, memory),
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=self._errors,
            env=child_environment(), start_new_session=True,
        )  # fmt: skip

    def _last_words(self) -> str:
        if self._errors is None:
            return ""
        self._errors.seek(0)
        lines = self._errors.read(65536).decode(errors="replace").strip().splitlines()
        return lines[0] if lines and lines[0].startswith("Fatal") else lines[-1] if lines else ""

    def end(self, for_good: bool = False) -> None:
        """End the process, whatever it is at."""
        with self._lock:
            self._closed = self._closed or for_good
            process, self._process = self._process, None
            errors, self._errors = self._errors, None
        if process is not None:
            process.kill()
            process.wait()
            for pipe in (process.stdin, process.stdout):
                with contextlib.suppress(OSError):
                    if pipe is not None:
                        pipe.close()
        if errors is not None:
            errors.close()


def _how_it_ended(code: int, last: str) -> str:
    how = f"by signal {-code}" if code < 0 else f"with code {code}"
    return f"its process ended {how}" + (f": {last}" if last else "")


# ---------------------------------------------------------------- this machine


def _on_this_machine(
    task: str, inputs: Iterable[Any], jobs: int, limits: Limits
) -> Generator[Answer, None, None]:
    """Yield answers as they come; a thread waits for each child."""
    todo = iter(enumerate(inputs))
    turn, over = threading.Lock(), threading.Event()
    done: queue.SimpleQueue[Answer | BaseException | None] = queue.SimpleQueue()
    children = [Child(task, limits) for _ in range(jobs)]

    def work(child: Child) -> None:
        try:
            while True:
                with turn:
                    piece = None if over.is_set() else next(todo, None)
                if piece is None:
                    break
                done.put(child.do(*piece))
        except BaseException as error:
            done.put(error)
        done.put(None)

    threads = [threading.Thread(target=work, args=(c,), daemon=True) for c in children]
    try:
        for thread in threads:
            thread.start()
        left = len(threads)
        while left:
            answer = done.get()
            if isinstance(answer, BaseException):
                raise answer
            if answer is None:
                left -= 1
            else:
                yield answer
    finally:
        over.set()
        for child in children:
            child.end(for_good=True)


# ---------------------------------------------------------------- in the child


def serve() -> None:
    """Answer one line with one line until standard input closes (what a child runs)."""
    import faulthandler

    faulthandler.enable()
    task, memory = sys.argv[1], int(sys.argv[2])
    # Whatever prints must not end up between the answers.
    answers = os.fdopen(os.dup(1), "wb", buffering=0)
    os.dup2(2, 1)
    _limit_memory(memory)
    lines: queue.SimpleQueue[bytes] = queue.SimpleQueue()
    threading.Thread(target=_read, args=(lines,), daemon=True).start()
    function = None
    while True:
        given = json.loads(lines.get())
        try:
            function = function or _function(task)
            said = {"problem": "", "words": "", "result": function(given)}
        except MemoryError as error:
            words = f"more memory than allowed is needed {error}".strip()
            said = {"problem": "memory", "words": words, "result": None}
        except Exception as error:
            said = {"problem": "fault", "words": _fault_words(error), "result": None}
        answers.write(json.dumps(said).encode() + b"\n")


def _read(lines: queue.SimpleQueue[bytes]) -> None:
    """Hand over what is asked; a parent that is gone ends us in the middle of the work."""
    for line in sys.stdin.buffer:
        lines.put(line)
    os._exit(0)


def _limit_memory(most: int) -> None:
    if not most:
        return
    with contextlib.suppress(ImportError, OSError, ValueError, AttributeError):
        import resource

        # Data, not addresses: compiled code and libraries are mapped, which takes no memory.
        resource.setrlimit(resource.RLIMIT_DATA, (most, most))


def _function(task: str) -> Any:
    module, _, name = task.partition(":")
    return getattr(importlib.import_module(module), name)


def _fault_words(error: Exception) -> str:
    """Say what was raised and where in our sources, without paths."""
    import traceback

    frames = traceback.extract_tb(error.__traceback__)
    where = f" ({os.path.basename(frames[-1].filename)}:{frames[-1].lineno})" if frames else ""
    return f"{type(error).__name__}: {error}{where}"
