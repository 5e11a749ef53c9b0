"""How fast planning is: seconds per million rows, growth with size, and the ratio to reading.

Run `python tests/bench/timing.py` on an otherwise idle machine. Seconds are the clock's, best of
several runs; compiled kernels are called once before the clock starts.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from dryrun.job.model import Machine
from dryrun.motion import LINE, Motion
from dryrun.timing.planner import plan_time


def lines(points: np.ndarray, feed: float = 1200.0) -> Motion:
    """Return the rows along a polyline."""
    rows = len(points) - 1
    return Motion(
        kind=np.full(rows, LINE, np.int8),
        start=points[:-1],
        end=points[1:],
        centre=np.full((rows, 3), np.nan),
        axis=np.full(rows, -1, np.int8),
        sweep=np.zeros(rows),
        feed=np.full(rows, feed),
        spindle=np.zeros(rows),
        tool=np.full(rows, -1, np.int32),
        seconds=np.zeros(rows),
        tolerance=np.full(rows, np.nan),
        line=np.arange(rows, dtype=np.int32),
        source=np.zeros(rows, np.int32),
    )


def relief(rows: int) -> np.ndarray:
    """Return a raster over a smooth surface, 0.2 mm steps, gentle corners."""
    x = np.arange(rows + 1) * 0.2
    height = 3 * np.sin(x / 5) + 0.2 * np.sin(x / 1.7)
    return np.column_stack([x % 100, np.floor(x / 100) * 0.5, height])


def collinear(rows: int) -> np.ndarray:
    """Return one straight line in rows of 0.2 mm."""
    x = np.arange(rows + 1) * 0.2
    return np.column_stack([x, 0 * x, 0 * x])


def circles(rows: int) -> np.ndarray:
    """Return a spiral of chords of 0.2 mm."""
    angle = np.arange(rows + 1) * 0.01
    return np.column_stack([20 * np.cos(angle), 20 * np.sin(angle), -angle / 50])


def scattered(rows: int) -> np.ndarray:
    """Return random places in a cube of 200 mm: long rows, sharp corners."""
    return np.random.default_rng(1).uniform(-99, 99, (rows + 1, 3))


def jagged(rows: int) -> np.ndarray:
    """Return a random walk in steps of about 1.7 mm: sharp corners close together, the worst."""
    return np.cumsum(np.random.default_rng(2).normal(size=(rows + 1, 3)), axis=0)


SHAPES: dict[str, Callable[[int], np.ndarray]] = {
    "collinear": collinear,
    "spiral of chords": circles,
    "smooth relief": relief,
    "scattered places": scattered,
    "random walk": jagged,
}


def best(call: Callable[[], object], times: int) -> float:
    """Return the fewest seconds of several runs."""
    shortest = float("inf")
    for _ in range(times):
        begin = time.perf_counter()
        call()
        shortest = min(shortest, time.perf_counter() - begin)
    return shortest


def reading(points: np.ndarray, times: int) -> float:
    """Return the seconds of reading a program along a polyline."""
    from dryrun.gcode.program import read_program

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "places.nc"
        with path.open("w") as stream:
            stream.write("G21 G90 G17\nS12000 M3\nG0 X0 Y0 Z10\nG1 F1200\n")
            stream.writelines(f"X{x:.3f} Y{y:.3f} Z{z:.3f}\n" for x, y, z in points)
            stream.write("M5\nM30\n")
        read_program(path)
        return best(lambda: read_program(path), times)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--times", type=int, default=5)
    chosen = parser.parse_args()
    machine = Machine()
    plan_time(lines(relief(5000)), machine)
    print(f"{'path':20}{'s per million':>15}{'growth x10':>12}")
    for name, shape in SHAPES.items():
        small, large = lines(shape(chosen.rows // 10)), lines(shape(chosen.rows))
        few = best(lambda m=small: plan_time(m, machine), chosen.times)
        many = best(lambda m=large: plan_time(m, machine), chosen.times)
        print(f"{name:20}{many / chosen.rows * 1e6:15.3f}{many / few:12.2f}")
    for name in ("smooth relief", "scattered places"):
        points = SHAPES[name](chosen.rows)
        motion = lines(points)
        read = reading(points, chosen.times)
        plan = best(lambda m=motion: plan_time(m, machine), chosen.times)
        print(f"{name}: reading {read:.3f} s, planning {plan:.3f} s, ratio {plan / read:.2f}")


if __name__ == "__main__":
    main()
