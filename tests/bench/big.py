"""How time and memory of a whole `dryrun check` grow with the program: a relief of many lines.

Run `python tests/bench/big.py [LINES ...]` (default 250,000 to 5,000,000; the largest takes minutes
and about 2 GB of disk for nothing but the program). Prints a table in the form of the docs. Seconds
are the clock's of the whole process, memory its peak.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

LINES = (250_000, 500_000, 1_000_000, 2_000_000, 5_000_000)
SIDE = 300.0  # mm, of the relief


def write_relief(path: Path, lines: int) -> None:
    """Write a raster over a smooth surface with as many lines; the finer the more."""
    passes = int(np.sqrt(lines / 6))
    steps = lines // passes
    x = np.linspace(0.0, SIDE, steps)
    with path.open("w") as stream:
        stream.write("G21 G90 G17\nS18000 M3\nG0 Z5\nG0 X0 Y0\nG1 Z-3 F400\nF2500\n")
        for i in range(passes):
            y = SIDE * i / passes
            along = x if i % 2 == 0 else x[::-1]
            z = -4 + 2 * np.sin(along / 11) * np.cos(y / 17)
            stream.writelines(f"X{a:.3f}Y{y:.3f}Z{b:.3f}\n" for a, b in zip(along, z, strict=True))
        stream.write("G0 Z5\nM5\nM30\n")


def check(path: Path) -> tuple[float, float]:
    """Check a program on its blank; return seconds and the peak of memory, MB."""
    command = [
        sys.executable, "-m", "dryrun", "check", str(path), "--stock", f"{SIDE:g}x{SIDE:g}x20mm",
        "--zero", "front-left-top", "--bit", "ball:6mm", "-q",
    ]  # fmt: skip
    begin = time.perf_counter()
    done = subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, check=False)
    seconds = time.perf_counter() - begin
    if done.returncode not in (0, 1):
        raise SystemExit(done.stderr.decode())
    return seconds, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024


def main() -> None:
    """Print the table."""
    chosen = [int(text) for text in sys.argv[1:]] or list(LINES)
    print("| lines | file | seconds | seconds per million | peak memory |")
    print("|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as folder:
        small = Path(folder) / "small.nc"
        write_relief(small, 10_000)
        check(small)  # compiles
        for lines in sorted(chosen):  # the peak is the highest so far
            path = Path(folder) / "relief.nc"
            write_relief(path, lines)
            megabytes = path.stat().st_size / 1e6
            seconds, peak = check(path)
            each = seconds / lines * 1e6
            print(
                f"| {lines:,} | {megabytes:.0f} MB | {seconds:.1f} | {each:.2f} | {peak:.0f} MB |"
            )
            sys.stdout.flush()


if __name__ == "__main__":
    main()
