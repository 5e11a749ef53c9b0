"""Speed and memory of the removal room, against a brute-force C loop compiled on the spot.

    python tests/bench/removal.py [--quick] [--only NAME ...]

Every ratio is of times measured side by side in one run (best of five, after a warm-up), with both
surfaces checked equal within 2 µm first. Both get the same float32 grid and the same number of
threads; the room also fills its table of facts and `cut_by`, which the C loop does not. The C
loop takes two square roots per cell; for level passes of a flat bit there is a second opponent,
who knows that these need none.
Needs gcc. Nothing here is collected by pytest.
"""

from __future__ import annotations

import argparse
import ctypes
import json
import math
import os
import platform
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from dryrun.job.model import Bit, Stock
from dryrun.motion import LINE, Motion
from dryrun.removal.simulate import remove
from dryrun.removal.surface import Surface

SOURCE = Path(__file__).with_name("removal_reference.c")
FLAGS = ["-O3", "-march=native", "-ffast-math", "-shared", "-fPIC"]
TOLERANCE = 0.002


@dataclass(frozen=True)
class Case:
    name: str
    stock: Stock
    cell: float
    bit: Bit
    points: np.ndarray  # places of the tip, one segment between neighbours

    @property
    def segments(self) -> int:
        return len(self.points) - 1


# --------------------------------------------------------------------------------------------
# The jobs
# --------------------------------------------------------------------------------------------


def stock(x: float, y: float, z: float) -> Stock:
    return Stock(size=(x, y, z), zero_at=(x / 2, y / 2, 0.0), zero="centre-top")


def relief(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """A wavy relief, up to 4 mm deep."""
    return -2.0 + np.sin(x / 9.0) * np.cos(y / 7.0) + 0.9 * np.sin((x + 2 * y) / 23.0)


def raster(
    name: str, x: float, y: float, step: float, over: float, diameter: float, cell: float = 0.1
) -> Case:
    """Back and forth along X over the relief."""
    along = np.linspace(-x / 2, x / 2, round(x / step) + 1)
    rows = np.linspace(-y / 2, y / 2, round(y / over) + 1)
    parts = []
    for k, at in enumerate(rows):
        there = along if k % 2 == 0 else along[::-1]
        parts.append(np.column_stack([there, np.full_like(there, at), relief(there, at)]))
    return Case(name, stock(x, y, 20.0), cell, Bit("ball", "ball", diameter), np.concatenate(parts))


def short_moves(count: int, length: float) -> Case:
    """Many short moves over a 100 mm square: a raster with as many lines as the count asks for."""
    per_line = round(96.0 / length)
    lines = math.ceil(count / (per_line + 1))
    along = (np.arange(per_line + 1) - per_line / 2) * length
    rows = np.linspace(-48.0, 48.0, lines)
    parts = []
    for k, at in enumerate(rows):
        there = along if k % 2 == 0 else along[::-1]
        parts.append(np.column_stack([there, np.full_like(there, at), relief(there, at)]))
    points = np.concatenate(parts)[: count + 1]
    name = f"{len(points) - 1} moves of {length} mm, ball 6"
    return Case(name, stock(100, 100, 20), 0.1, Bit("ball", "ball", 6.0), points)


def pocket(name: str, x: float, y: float, depths: list[float], cell: float = 0.1) -> Case:
    """Level passes at several depths, 40 % step over: rings of a rounded rectangle, inside out."""
    radius, over = 3.0, 2.4
    points: list[tuple[float, float, float]] = []
    rings = int((min(x, y) / 2 - radius) / over)
    for depth in depths:
        points.append((0.0, 0.0, depth))
        for ring in range(rings + 1):
            b = ring * over
            a = b + (x - y) / 2
            corner = min(b, 8.0)
            for cx, cy, begin in (
                (a - corner, b - corner, 0.0),
                (corner - a, b - corner, math.pi / 2),
                (corner - a, corner - b, math.pi),
                (a - corner, corner - b, 1.5 * math.pi),
            ):
                for turn in np.linspace(begin, begin + math.pi / 2, 7 if corner else 1):
                    points.append(
                        (cx + corner * math.cos(turn), cy + corner * math.sin(turn), depth)
                    )
            points.append((a, max(b - corner, 0.0), depth))
    return Case(name, stock(x, y, 20), cell, Bit("flat", "flat", 6.0), np.array(points))


def zigzag(name: str, side: float, depths: list[float], step: float) -> Case:
    """Level passes to and fro over a square, 40 % step over, in moves of at most `step` mm."""
    half = side / 2 - 3.0
    along = np.linspace(-half, half, math.ceil(2 * half / step) + 1)
    parts = []
    for depth in depths:
        for k, y in enumerate(np.arange(-half, half, 2.4)):
            there = along if k % 2 == 0 else along[::-1]
            parts.append(
                np.column_stack([there, np.full_like(there, y), np.full_like(there, depth)])
            )
    return Case(name, stock(side, side, 20), 0.1, Bit("flat", "flat", 6.0), np.concatenate(parts))


def spiral(name: str, side: float, depths: list[float], step: float) -> Case:
    """Level spirals from the inside out, 40 % step over, in chords of about `step` mm."""
    points, angle = [], 0.0
    while (away := 2.4 * angle / (2 * math.pi)) < side / 2 - 6.0:
        points.append((away * math.cos(angle), away * math.sin(angle)))
        angle += step / max(away, step)
    flat = np.array(points)
    parts = [np.column_stack([flat, np.full(len(flat), depth)]) for depth in depths]
    return Case(name, stock(side, side, 20), 0.1, Bit("flat", "flat", 6.0), np.concatenate(parts))


def motion_through(points: np.ndarray) -> Motion:
    n = len(points) - 1
    return Motion(
        kind=np.full(n, LINE),
        start=points[:-1],
        end=points[1:],
        centre=np.full((n, 3), np.nan),
        axis=np.full(n, -1),
        sweep=np.zeros(n),
        feed=np.full(n, 2000.0),
        spindle=np.full(n, 18000.0),
        tool=np.full(n, 1),
        seconds=np.zeros(n),
        tolerance=np.full(n, np.nan),
        line=np.arange(1, n + 1),
        source=np.zeros(n),
    )


# --------------------------------------------------------------------------------------------
# Both sides
# --------------------------------------------------------------------------------------------


def compile_c(folder: str) -> ctypes.CDLL:
    library = Path(folder) / "removal_reference.so"
    subprocess.run(["gcc", *FLAGS, "-o", str(library), str(SOURCE), "-lpthread", "-lm"], check=True)
    loaded = ctypes.CDLL(str(library))
    loaded.sweep.argtypes = [
        ctypes.c_int,
        ctypes.c_void_p,
        ctypes.c_int64,
        ctypes.c_int64,
        ctypes.c_double,
        ctypes.c_double,
        ctypes.c_void_p,
        ctypes.c_int64,
        ctypes.c_int,
    ]
    return loaded


def opponents(case: Case) -> dict[str, int]:
    """Names of the C loops for a case, and their numbers there."""
    return {"C": 1} if case.bit.shape == "ball" else {"C": 2, "C without roots": 0}


def c_side(case: Case, library: ctypes.CDLL, threads: int, shape: int) -> tuple[float, np.ndarray]:
    surface = Surface.blank(case.stock, cell=case.cell)
    height = np.full(surface.height.shape, case.stock.top, np.float32)
    zero = np.array([surface.origin[0], surface.origin[1], 0.0])
    segments = np.ascontiguousarray(
        np.hstack([case.points[:-1] - zero, case.points[1:] - zero]), np.float64
    )
    began = time.perf_counter()
    failed = library.sweep(
        shape,
        height.ctypes.data,
        *height.shape,
        case.cell,
        case.bit.radius,
        segments.ctypes.data,
        len(segments),
        threads,
    )
    seconds = time.perf_counter() - began
    if failed:
        raise RuntimeError("the C loop could not start its threads")
    return seconds, height


def our_side(case: Case, threads: int) -> tuple[float, np.ndarray]:
    surface = Surface.blank(case.stock, cell=case.cell)
    motion = motion_through(case.points)
    began = time.perf_counter()
    remove(surface, motion, case.bit, threads=threads)
    return time.perf_counter() - began, np.asarray(surface.height)


def best(run: Callable[[], tuple[float, np.ndarray]], rounds: int) -> float:
    return min(run()[0] for _ in range(rounds))


def same_surface(case: Case, ours: np.ndarray, theirs: np.ndarray) -> str:
    """Largest difference in µm; cells on the very rim of an upright wall are counted apart."""
    off = np.abs(ours.astype(np.float64) - theirs)
    wrong = off > TOLERANCE
    if wrong.mean() > 2e-4:
        j, i = np.unravel_index(off.argmax(), off.shape)
        raise SystemExit(
            f"{case.name}: surfaces differ in {wrong.sum()} cells, worst {off.max():.4f} mm "
            f"at cell ({j}, {i})"
        )
    return f"equal within {off[~wrong].max() * 1000:.3f} µm, {wrong.sum()} rim cells either way"


def against_c(case: Case, library: ctypes.CDLL, rounds: int) -> None:
    say(f"\n{case.name}: {case.segments} segments, {surface_size(case)} cells")
    sides: dict[str, Callable[[int], tuple[float, np.ndarray]]] = {
        "ours": lambda threads: our_side(case, threads)
    }
    for who, shape in opponents(case).items():
        sides[who] = lambda threads, shape=shape: c_side(case, library, threads, shape)
    _, ours = our_side(case, 2)
    for who in opponents(case):
        _, theirs = sides[who](2)
        say(f"  {who}: {same_surface(case, ours, theirs)}")
    times: dict[tuple[str, int], list[float]] = {}
    effort: dict[str, list[float]] = {}
    for _ in range(rounds):  # in turn, so that a noisy neighbour meets all
        for threads in (1, 2):
            for who, run in sides.items():
                began = time.process_time()
                times.setdefault((who, threads), []).append(run(threads)[0])
                if threads == 1:
                    effort.setdefault(who, []).append(time.process_time() - began)
    for threads in (1, 2):
        us = min(times["ours", threads])
        say(f"  {threads} thread{'s' if threads > 1 else ' '}: ours {us:.3f} s, "
            f"{case.segments / us:,.0f} segments/s")  # fmt: skip
        for who in opponents(case):
            them = min(times[who, threads])
            say(f"    {who} {them:.3f} s, ours/{who} {us / them:.2f}")
    for who in opponents(case):
        ratio = min(effort["ours"]) / min(effort[who])
        say(f"  processor time, with making the blank and reading it: ours/{who} {ratio:.2f}")
    for who in sides:
        gain = min(times[who, 1]) / min(times[who, 2])
        say(f"  {who}: 2 threads are {gain:.2f} times as fast as 1")


def surface_size(case: Case) -> str:
    ny, nx = Surface.blank(case.stock, cell=case.cell).height.shape
    return f"{nx} x {ny}"


# --------------------------------------------------------------------------------------------
# Growth, and memory
# --------------------------------------------------------------------------------------------


def growth(rounds: int) -> None:
    """Twice the segments, twice the area: how much longer."""
    say("\ngrowth at 2 threads, µs per segment")
    for over in (2.0, 1.0, 0.5, 0.25):
        case = raster(f"step over {over}", 100, 100, 0.5, over, 6.0)
        our_side(case, 2)
        seconds = best(lambda case=case: our_side(case, 2), rounds)
        say(f"  {case.segments:7d} segments on the same 100 mm square: "
            f"{seconds:.3f} s, {seconds / case.segments * 1e6:.2f} µs each")  # fmt: skip
    for side in (50, 100, 200, 400):
        case = raster(f"side {side}", side, side, 0.5, 1.0, 6.0)
        our_side(case, 2)
        seconds = best(lambda case=case: our_side(case, 2), rounds)
        say(f"  {case.segments:7d} segments on a {side} mm square: "
            f"{seconds:.3f} s, {seconds / case.segments * 1e6:.2f} µs each")  # fmt: skip


def many_short_moves(rounds: int) -> None:
    case = short_moves(116_000, 0.402)
    our_side(case, 2)
    for threads in (1, 2):
        seconds = best(lambda threads=threads: our_side(case, threads), rounds)
        say(f"\n{case.name}, 100 x 100 mm at 0.1 mm, {threads} thread(s): {seconds:.3f} s, "
            f"{case.segments / seconds:,.0f} moves/s")  # fmt: skip


def sheet_pockets() -> Motion:
    """200 pockets of 60 x 40 mm spread over a sheet, 6 mm flat bit, 3 mm deep."""
    parts = []
    one = pocket("", 60, 40, [-3.0]).points
    for k in range(20):
        for m in range(10):
            points = one + np.array([-1150 + 121.0 * k, -550 + 122.0 * m, 0.0])
            above = points[[0, -1]] + np.array([0, 0, 8.0])
            parts.append(motion_through(np.vstack([above[:1], points, above[1:]])))
    return Motion.concatenate(parts)


def child(what: str) -> None:
    """Run in a fresh process, so that the peak is this work's own."""
    sheet = stock(2440.0, 1220.0, 18.0)
    answer: dict[str, float] = {"start": peak_mb()}
    surface = Surface.blank(sheet, cell=0.1)
    answer["blank"] = peak_mb()
    if what == "pockets":
        small = Surface.blank(stock(10, 10, 5), cell=0.5)
        remove(small, motion_through(np.array([[0, 0, 0], [1, 0, -1.0]])), Bit("f", "flat", 6.0))
        motion = sheet_pockets()
        answer["ready"] = peak_mb()
        began = time.perf_counter()
        facts = remove(surface, motion, Bit("flat-6", "flat", 6.0), threads=2)
        answer["seconds"] = time.perf_counter() - began
        answer["removed_mm3"] = float(facts.removed_mm3.sum())
        answer["rows"] = len(motion)
    answer["peak"] = peak_mb()
    print(json.dumps(answer))


def peak_mb() -> float:
    """Peak of this process; ru_maxrss also remembers the parent it was forked from."""
    status = Path("/proc/self/status")
    if status.exists():
        line = next(x for x in status.read_text().splitlines() if x.startswith("VmHWM"))
        return int(line.split()[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def memory() -> None:
    say(
        "\nmemory of a 2440 x 1220 mm sheet at 0.1 mm (298 million cells), MB of this process alone"
    )
    for what in ("nothing", "pockets"):
        done = subprocess.run(
            [sys.executable, __file__, "--child", what], check=True, capture_output=True, text=True
        )
        a = json.loads(done.stdout.splitlines()[-1])
        say(f"  {what}: peak {a['peak']:.0f} (interpreter and imports {a['start']:.0f})")
        if what == "pockets":
            say(f"    {a['rows']:.0f} rows in {a['seconds']:.2f} s, "
                f"{a['removed_mm3'] / 1000:.0f} cm³ removed")  # fmt: skip


# --------------------------------------------------------------------------------------------


def say(text: str) -> None:
    print(text, flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="two rounds instead of five")
    parser.add_argument(
        "--only",
        nargs="*",
        choices=["raster", "pocket", "pockets", "growth", "short", "memory"],
    )
    parser.add_argument("--child", help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.child:
        child(chosen.child)
        return
    rounds = 2 if chosen.quick else 5
    wanted = chosen.only or ["raster", "pocket", "pockets", "short", "growth", "memory"]
    gcc = subprocess.run(["gcc", "--version"], capture_output=True, text=True).stdout.split("\n")[0]
    say(f"{platform.machine()}, {os.cpu_count()} cores; {gcc}; flags {' '.join(FLAGS[:3])}")
    with tempfile.TemporaryDirectory() as folder:
        library = compile_c(folder)
        if "raster" in wanted:
            against_c(raster("raster finish, ball 6", 150, 150, 0.5, 0.5, 6.0), library, rounds)
        if "pocket" in wanted:
            depths = [-1.0 * k for k in range(1, 9)]
            against_c(pocket("pocket, flat 6, 8 depths", 150, 120, depths), library, rounds)
        if "pockets" in wanted:
            # others, so that the one above is not what the kernels are made for
            big, few = [-1.0, -2.0, -3.0], [-1.0, -2.0]
            against_c(pocket("rings, 400 x 300 mm, 3 depths", 400, 300, big), library, rounds)
            against_c(zigzag("zigzag, 300 mm, long lines", 300, few, 1000.0), library, rounds)
            against_c(zigzag("zigzag, 300 mm, moves of 2 mm", 300, few, 2.0), library, rounds)
            against_c(spiral("spiral, 300 mm, chords of 1 mm", 300, few, 1.0), library, rounds)
    if "short" in wanted:
        many_short_moves(rounds)
    if "growth" in wanted:
        growth(rounds)
    if "memory" in wanted:
        memory()


if __name__ == "__main__":
    main()
