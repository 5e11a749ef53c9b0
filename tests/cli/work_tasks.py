"""Pieces of work for the tests of `dryrun.work`; a child process imports this module."""

import os
import signal
import time
from typing import Any


def square(number: int) -> int:
    """Return a square; print, which must not disturb the answers."""
    print("noise")
    return number * number


def moody(what: Any) -> Any:
    """Do what is said, good or bad."""
    if what == "crash":
        os.kill(os.getpid(), signal.SIGSEGV)
    if what == "exit":
        os._exit(7)
    if what == "hang":
        time.sleep(600)
    if what == "eat":
        return len(bytearray(3 * 10**9))
    if what == "raise":
        raise ValueError("not this one")
    if what == "huge":
        return "x" * 3_000_000
    if what == "where":
        import numpy

        return [os.environ["OMP_NUM_THREADS"], numpy.__file__]
    return what


def slow(number: int) -> list[int]:
    """Take a moment, and say which process did it."""
    time.sleep(0.05)
    return [number, os.getpid()]
