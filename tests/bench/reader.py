"""How fast and how frugal the reader is: ratios to numpy.loadtxt, memory, and growth with size.

Run `python tests/bench/reader.py` on an otherwise idle machine. Both sides read the same numbers
from files in the same folder in the same run; compiled kernels are called once before the clock
starts. Memory is the growth of the peak resident size of a fresh process over the call (Linux).
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

LINES = 1_000_000
#: What the reader promises.
MOST_TIME = 1.0  # of loadtxt
MOST_MEMORY = 12.0  # of the file's size


def write_files(folder: Path, lines: int) -> tuple[Path, Path]:
    """Write the same random places as a program and as three columns of numbers."""
    places = np.random.default_rng(lines).uniform(-99.0, 99.0, (lines, 3))
    program, table = folder / f"{lines}.nc", folder / f"{lines}.txt"
    rows = [(f"{x:.3f}", f"{y:.3f}", f"{z:.3f}") for x, y, z in places]
    start = "G21 G90 G17\nS12000 M3\nG0 X0 Y0 Z10\nG1 F1200\n"
    program.write_text(start + "".join(f"X{x} Y{y} Z{z}\n" for x, y, z in rows) + "M5\nM30\n")
    table.write_text("".join(f"{x} {y} {z}\n" for x, y, z in rows))
    return program, table


def best(calls: list[Callable[[], object]], times: int = 9) -> list[float]:
    """Return the shortest of several runs of each, taken in turn, s."""
    shortest = [float("inf")] * len(calls)
    for _ in range(times):
        for at, call in enumerate(calls):
            begin = time.perf_counter()
            call()
            shortest[at] = min(shortest[at], time.perf_counter() - begin)
    return shortest


def compare_with_loadtxt(folder: Path, lines: int) -> tuple[float, float]:
    """Return seconds of the reader and of loadtxt, after checking that both read the same."""
    from dryrun.gcode.program import read_program

    program, table = write_files(folder, lines)
    places = np.loadtxt(table)
    motion = read_program(program).motion
    assert np.array_equal(motion.end[motion.kind == 1], places), "the two do not read the same"
    del motion
    ours, theirs = best([lambda: read_program(program), lambda: np.loadtxt(table)])
    return ours, theirs


_MEASURE = """
import json, re, sys
import dryrun.gcode.program as program
program.read_program(b"G21 G90\\nG1 X1 F1\\n" + b"X1 Y1 Z1\\nX2 Y2 Z2\\n" * 20000)
def peak():
    with open("/proc/self/status") as status:  # ru_maxrss would tell the parent's peak
        return int(re.search("VmHWM:\\s*(\\d+)", status.read()).group(1)) * 1024
before = peak()
found = program.read_program(sys.argv[1])
print(json.dumps([peak() - before, len(found.motion)]))
"""


def memory_share(program: Path) -> float:
    """Return how much the peak memory of a fresh process grows, in sizes of the file."""
    done = subprocess.run(
        [sys.executable, "-c", _MEASURE, str(program)], capture_output=True, text=True, check=True
    )
    grown, _ = json.loads(done.stdout)
    return float(grown) / program.stat().st_size


def main() -> None:
    """Print everything; exit 1 when a promise is not kept."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, default=LINES)
    lines = parser.parse_args().lines
    kept = True
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        print(f"{'lines':>10} {'read, s':>9} {'loadtxt, s':>11} {'ratio':>6} {'us/line':>8}")
        for count in (lines // 8, lines // 4, lines // 2, lines):
            ours, theirs = compare_with_loadtxt(folder, count)
            print(
                f"{count:>10} {ours:>9.4f} {theirs:>11.4f} {ours / theirs:>6.2f} "
                f"{ours / count * 1e6:>8.3f}"
            )
        kept &= ours / theirs <= MOST_TIME
        print(f"ratio at {lines} lines: {ours / theirs:.2f} (at most {MOST_TIME})")
        for count in (lines // 4, lines):
            share = memory_share(folder / f"{count}.nc")
            kept &= share <= MOST_MEMORY
            print(f"memory at {count} lines: {share:.2f} x the file (at most {MOST_MEMORY})")
    sys.exit(0 if kept else 1)


if __name__ == "__main__":
    main()
