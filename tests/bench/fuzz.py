"""A million bad inputs: what each reader does with them, the slowest, and the most memory.

    python tests/bench/fuzz.py [--only KIND ...] [--share 0.01] [--memory MIB]

Every kind runs in a process of its own. An input fails when its reader raises anything but its
documented error, or when it makes the process larger than it was after the first hundred inputs
by more than --memory. Seconds are of the processor, and fail nothing: others use the machine too.
Nothing here is collected by pytest; the same makers and readers, with fewer inputs, are in
`tests/gcode/test_fuzz.py` and `tests/hard/test_fuzz_files.py`.
"""

from __future__ import annotations

import argparse
import multiprocessing
import shutil
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.gcode.mutator import mutated_program, random_program
from tests.gcode.test_fuzz import MEMORY, check, peak
from tests.hard.accidents import spoiled
from tests.hard.test_fuzz_files import FIXTURES, KINDS

PROGRAMS = {
    "programs of tokens": (random_program, 320_000),
    "spoiled programs": (mutated_program, 100_000),
}
WARM = 100


@dataclass
class Seen:
    """What came of one kind."""

    kind: str
    inputs: int = 0
    refused: int = 0
    slowest: tuple[float, int] = (0.0, -1)
    largest: tuple[float, int] = (0.0, -1)
    failed: str = ""


def feed(seen: Seen, one: Callable[[int], bool], count: int, most: float) -> None:
    """Give a reader its inputs; `one` says whether it refused."""
    before = 0.0
    for seed in range(count):
        begin = time.process_time()
        try:
            seen.refused += one(seed)
        except Exception as error:
            seen.failed = f"{seed}: {error!r}"
            return
        seen.inputs += 1
        if seed >= WARM:
            seen.slowest = max(seen.slowest, (time.process_time() - begin, seed))
        if seed < WARM:
            before = peak()
        elif peak() - before > seen.largest[0]:
            seen.largest = (peak() - before, seed)
            if seen.largest[0] > most:
                seen.failed = f"{seed}: {seen.largest[0]:.0f} MiB"
                return


def program(make: Callable[[int], bytes]) -> Callable[[int], bool]:
    """Return what reads one program."""

    def one(seed: int) -> bool:
        check(make, seed)
        return False

    return one


def file_reader(kind: str, folder: Path) -> Callable[[int], bool]:
    """Return what reads one file of a kind."""
    name, originals, read, documented, _, _ = KINDS[kind]
    texts = originals()
    for beside in (*FIXTURES.glob("trivet/*"), *FIXTURES.glob("coaster-inch/*")):
        shutil.copy(beside, folder)
    path = folder / name

    def one(seed: int) -> bool:
        path.write_bytes(spoiled(seed, texts))
        try:
            read(path)
        except documented:
            return True
        return False

    return one


def run(kind: str, share: float, most: float) -> Seen:
    """Run one kind."""
    warnings.simplefilter("ignore")
    seen = Seen(kind)
    with tempfile.TemporaryDirectory() as folder:
        if kind in PROGRAMS:
            make, count = PROGRAMS[kind]
            feed(seen, program(make), round(count * share), most)
        else:
            feed(seen, file_reader(kind, Path(folder)), round(KINDS[kind][5] * share), most)
    return seen


def main() -> None:
    """Print the table; exit 1 when an input failed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", nargs="*", choices=[*PROGRAMS, *KINDS])
    parser.add_argument("--share", type=float, default=1.0)
    parser.add_argument("--memory", type=float, default=MEMORY)
    chosen = parser.parse_args()
    total, failed = 0, False
    print(f"{'kind':20}{'inputs':>9}{'refused':>9}{'slowest s':>11}{'more MiB':>10}", flush=True)
    for kind in chosen.only or [*PROGRAMS, *KINDS]:
        with multiprocessing.get_context("spawn").Pool(1) as pool:
            seen = pool.apply(run, (kind, chosen.share, chosen.memory))
        total += seen.inputs
        failed = failed or bool(seen.failed)
        print(
            f"{kind:20}{seen.inputs:9d}{seen.refused:9d}{seen.slowest[0]:11.3f}"
            f"{seen.largest[0]:10.1f}  {seen.failed}",
            flush=True,
        )
    print(f"{total} inputs in all")
    sys.exit(failed)


if __name__ == "__main__":
    main()
