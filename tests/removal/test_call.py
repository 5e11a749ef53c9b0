"""How a stage is cut: in batches, parts and lists, by threads, with progress and an end."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from dryrun.motion import Motion
from dryrun.removal import parts, share, simulate
from dryrun.removal.simulate import remove
from dryrun.removal.surface import Surface
from tests.removal.reference import BITS, arc, blank, motion_table, polyline
from tests.removal.test_facts import cut

LONG = os.environ.get("DRYRUN_LONG") == "1"

ZIGZAG = polyline([(-25 + 50 * (k % 2), -15 + 0.5 * k, -1 - 0.02 * k) for k in range(24)])
HELIX = motion_table([arc((0, 0, 0), 6.0, 0.3, 9.0, 2, rise=-5.0)])
RING_ROUND = motion_table([arc((0, 0, -2), 6.0, 0.3, 9.0, 2)])

#: Bits and paths for which different kernels are compiled. The first are those of the README's
#: first command; each of the others takes a quarter of a minute, which the long run has.
WAYS = [("flat", ZIGZAG)]
if LONG:
    WAYS += [("flat", RING_ROUND), ("flat", HELIX), ("ball", ZIGZAG), ("ball", HELIX)]
    WAYS += [("vee", ZIGZAG), ("form-round", HELIX)]


@pytest.mark.no_cover  # slow without the compiler, and its kernels are counted elsewhere
def test_batches_do_not_show(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sorted into tiles a few pieces at a time, surface and facts have the same bytes."""
    motion = Motion.concatenate([ZIGZAG, motion_table([arc((0, 0, 1.5), 4, 3.6, 2.2, 0)])])

    def bytes_of() -> list[bytes]:
        surface = Surface.blank(blank(60.0, 40.0, 20.0), cell=1.0)
        facts = remove(surface, motion, BITS["ball"], threads=1)
        return [surface.height.tobytes(), surface.cut_by.tobytes(), facts.axial.tobytes(),
                facts.removed_mm3.tobytes(), facts.width.tobytes()]  # fmt: skip

    whole = bytes_of()
    monkeypatch.setattr(share, "BATCH", 5)

    assert bytes_of() == whole


@pytest.mark.parametrize("threads", [1, 3])
def test_parts_of_rows_do_not_show(threads: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is worked out for rows a few at a time, on several threads, has the same bytes."""
    plunges = polyline([(3, 3, z) for z in (1.0, -0.5, -1.0, -1.5)])
    motion = Motion.concatenate([ZIGZAG, plunges])

    def bytes_of(threads: int) -> list[bytes]:
        surface = Surface.blank(blank(60.0, 40.0, 20.0), cell=1.0)
        facts = remove(surface, motion, BITS["ball"], threads=threads)
        columns = (getattr(facts, name) for name in facts.__slots__ if name != "contacts")
        return [surface.height.tobytes(), *(column.tobytes() for column in columns)]

    whole = bytes_of(1)
    monkeypatch.setattr(parts, "PART", 2)

    assert bytes_of(threads) == whole


@pytest.mark.jit_only
@pytest.mark.parametrize(("name", "motion"), WAYS)
def test_kernels_that_are_left_out_do_not_show(
    name: str, motion: Motion, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Compiled for what one stage needs or for everything, the kernels give the same bytes."""
    made = []
    for loaded in ([], [(True, True, True, True)]):
        monkeypatch.setattr(share, "loaded", loaded)
        surface = Surface.blank(blank(60.0, 40.0, 20.0), cell=1.0)
        facts = remove(surface, motion, BITS[name], threads=1)
        columns = (getattr(facts, name) for name in facts.__slots__ if name != "contacts")
        made.append([surface.height.tobytes(), *(column.tobytes() for column in columns)])

    assert made[0] == made[1]


@pytest.mark.parametrize("threads", [1, 2, 7])
@pytest.mark.parametrize("entries", [0, 1, 5, 1000, 123_457])
def test_lists_of_tiles_share_all_work(entries: int, threads: int) -> None:
    """All to the last entry; none is more than half of a thread's share, or deaf to Ctrl-C."""
    sizes = np.diff(share.shares(entries, threads), prepend=0)

    assert sizes.sum() == entries
    assert (sizes > 0).all()
    assert (sizes <= 20_000).all()
    assert (np.diff(sizes) <= 0).all()
    assert threads == 1 or (sizes <= max(entries / (2 * threads), 1)).all()


def test_a_fault_in_one_thread_ends_the_others(monkeypatch: pytest.MonkeyPatch) -> None:
    """It comes out, lists that nobody has taken are dropped, and no thread stays behind."""
    before, taken = threading.active_count(), []

    def fail_at_once_then_dawdle(*given: object) -> None:
        taken.append(given)
        if len(taken) == 1:
            raise ArithmeticError
        time.sleep(0.05)

    monkeypatch.setattr(share, "cut_tiles", fail_at_once_then_dawdle)
    far = polyline([(float(x), 0.0, -1.0) for x in range(-300, 300, 5)])
    surface = Surface.blank(blank(620.0, 40.0, 20.0), cell=1.0)
    with pytest.raises(ArithmeticError):
        remove(surface, far, BITS["flat"], threads=2, tile=32)
    assert len(taken) < 8  # of 20 lists or more
    assert threading.active_count() == before


@pytest.mark.no_cover
def test_progress_goes_from_nothing_to_all(monkeypatch: pytest.MonkeyPatch) -> None:
    """It never goes back, and ends with all pieces done."""
    monkeypatch.setattr(share, "BATCH", 5)
    seen: list[tuple[int, int]] = []
    cut(ZIGZAG, progress=lambda done, total: seen.append((done, total)))

    assert seen == sorted(seen)
    assert seen[-1] == (23, 23)
    assert {total for _, total in seen} == {23}


def test_an_interruption_stops_the_work(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a progress callback raises comes out, and no thread stays behind."""
    monkeypatch.setattr(share, "BATCH", 5)
    before = threading.active_count()

    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        cut(ZIGZAG, progress=stop)
    assert threading.active_count() == before


def test_tiles_of_other_sizes_are_refused() -> None:
    """The pages of the field divide tiles of 32, 64, 128 and 256 cells."""
    with pytest.raises(ValueError, match="48"):
        cut(ZIGZAG, tile=48)


@pytest.mark.jit_only
def test_the_caller_is_told_before_kernels_are_compiled(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where neither this process nor the disk has them, before anything is cut."""

    class Told(Exception):  # noqa: N818 - it is no error
        pass

    def tell() -> None:
        raise Told

    cut(ZIGZAG)
    with monkeypatch.context() as patch:
        patch.setattr(simulate, "cache_folder", lambda path: tmp_path)
        cut(ZIGZAG, compiling=tell)  # this process has them
        patch.setattr(simulate, "cut_tiles", SimpleNamespace(signatures=[]))
        with pytest.raises(Told):
            cut(ZIGZAG, compiling=tell)
    monkeypatch.setattr(simulate, "cut_tiles", SimpleNamespace(signatures=[]))
    cut(ZIGZAG, compiling=tell)  # the disk has them


@pytest.mark.jit_only
@pytest.mark.skipif(not LONG, reason="compiles everything once more")
def test_the_caller_is_told_before_kernels_are_compiled_for_all(tmp_path: Path) -> None:
    """Once, where no process has compiled them before, and not again."""
    program = (
        "from tests.removal.test_call import *\n"
        "told = []\n"
        "for _ in range(2): cut(ZIGZAG, compiling=lambda: told.append(1))\n"
        "print(len(told))\n"
    )
    root = Path(__file__).resolve().parents[2]
    environment = {**os.environ, "DRYRUN_CACHE_DIR": str(tmp_path)}
    told = [
        subprocess.run(
            [sys.executable, "-c", program], cwd=root, env=environment,
            stdout=subprocess.PIPE, text=True, check=True,
        ).stdout.strip()
        for _ in range(2)
    ]  # fmt: skip

    assert told == ["1", "0"]


MEMORY = """
from pathlib import Path
from tests.removal.reference import *
from dryrun.removal.simulate import remove
from dryrun.removal.surface import Surface
surface = Surface.blank(blank(2440.0, 1220.0, 18.0), cell=0.1)
{work}
print(surface.lowest)
# ru_maxrss would count what the process that started this one had
status = Path("/proc/self/status").read_text().split("VmHWM:")[1]
print(int(status.split()[0]) / 1024)
"""


@pytest.mark.jit_only
@pytest.mark.skipif(sys.platform != "linux", reason="peak memory is read the Linux way")
def test_a_whole_sheet_costs_only_what_is_cut() -> None:
    """An uncut sheet of 298 million cells stays below 300 MiB, one long slot adds little."""

    def peak(work: str) -> float:
        done = subprocess.run(
            [sys.executable, "-c", MEMORY.format(work=work)],
            cwd=Path(__file__).resolve().parents[2],
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        return float(done.stdout.split()[-1])

    slot = "remove(surface, polyline([(-1200, 0, -3), (1200, 3, -3)]), BITS['flat'], threads=2)"

    assert peak("") < 300
    assert peak(slot) < 500
