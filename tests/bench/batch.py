"""How a batch scales: two processes against one, a Dask cluster on loopback against two processes.

    python tests/bench/batch.py [PROGRAMS=1000] [ROUNDS=3] [--no-dask]

Small programs with a declared bit and blank are checked by `dryrun batch` itself, start of the
processes included, kernels compiled before. The figures wanted: two processes at least 1.8 times
one, Dask at least 0.8 times the local pool. The best of the rounds counts, taken in turns, because
other work on the machine only ever makes one slower.
"""

from __future__ import annotations

import contextlib
import os
import random
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
DECLARED = ("--bit", "flat:6mm", "--stock", "200x150x18mm", "--zero", "front-left-top",
            "--depth", "4mm")  # fmt: skip


def program(chance: random.Random) -> str:
    """Return a small program: a pocket in passes, with ramps and an arc at each corner."""
    x, y = chance.uniform(20, 60), chance.uniform(20, 50)
    wide, high = chance.uniform(40, 110), chance.uniform(30, 70)
    lines = ["G21 G90 G17 G94", "S18000 M3", "G4 P2", f"G0 X{x:.3f} Y{y:.3f} Z5", "G0 Z1"]
    for z in (-1.0, -2.0, -3.0):
        lines.append(f"G1 X{x + 20:.3f} Z{z:g} F400")
        inset = 0.0
        while inset < min(wide, high) / 2 - 3:
            low, left = y + inset, x + inset
            far, right = y + high - inset, x + wide - inset
            lines += [f"G1 X{left:.3f} Y{low:.3f} F1500", f"G1 X{right:.3f}",
                      f"G1 Y{far:.3f}", f"G1 X{left:.3f}", f"G1 Y{low + 1:.3f}",
                      f"G3 X{left + 1:.3f} Y{low:.3f} I1 J0"]  # fmt: skip
            inset += 3.0
        lines += ["G0 Z5", f"G0 X{x:.3f} Y{y:.3f}", "G0 Z1"]
    return "\n".join([*lines, "G0 Z20", "M5", "M30"]) + "\n"


@contextlib.contextmanager
def cluster(folder: Path, workers: int) -> Iterator[str]:
    """Run a Dask scheduler and workers of one thread each on loopback."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port = one.getsockname()[1]
    address = f"tcp://127.0.0.1:{port}"
    dask = [sys.executable, "-m", "dask"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "env": environment}
    commands = [[*dask, "scheduler", "--host", "127.0.0.1", "--port", str(port), "--no-dashboard"]]
    commands += [
        [*dask, "worker", address, "--nthreads", "1", "--no-nanny", "--no-dashboard",
         "--local-directory", str(folder / f"w{n}")]
        for n in range(workers)
    ]  # fmt: skip
    running = [subprocess.Popen(command, **quiet) for command in commands]
    time.sleep(5)
    try:
        yield address
    finally:
        for each in running:
            each.kill()
            each.wait()


def batch(folder: Path, *how: str) -> float:
    """Check all programs and return the seconds it took, of the wall."""
    begun = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "dryrun", "batch", str(folder), *DECLARED, "-q", *how],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    seconds = time.perf_counter() - begun
    if done.returncode not in (0, 1):
        sys.exit(done.stderr + done.stdout)
    return seconds


def main() -> None:
    """Measure and print."""
    numbers = [int(a) for a in sys.argv[1:] if a.isdigit()]
    count, rounds = (*numbers, *(1000, 3)[len(numbers) :])
    with tempfile.TemporaryDirectory() as name, contextlib.ExitStack() as stack:
        folder = Path(name, "programs")
        folder.mkdir()
        chance = random.Random(1)
        for n in range(count):
            (folder / f"part{n:05d}.nc").write_text(program(chance))
        ways = {"one process": ("--jobs", "1"), "two processes": ("--jobs", "2")}
        if "--no-dask" not in sys.argv:
            address = stack.enter_context(cluster(Path(name), 2))
            ways["Dask, two workers"] = ("--scheduler", address)
        for how in ways.values():
            batch(folder.parent / "programs", *how)  # everything compiled, children started
        best = dict.fromkeys(ways, float("inf"))
        for _ in range(rounds):
            for way, how in ways.items():
                best[way] = min(best[way], batch(folder, *how))
    for way, seconds in best.items():
        print(f"{way:20} {seconds:8.2f} s  {count / seconds:7.1f} programs/s")
    print(f"two processes / one: {best['one process'] / best['two processes']:.2f} (wanted 1.8)")
    if "Dask, two workers" in best:
        ratio = best["two processes"] / best["Dask, two workers"]
        print(f"Dask / two processes: {ratio:.2f} (wanted 0.8)")


if __name__ == "__main__":
    main()
