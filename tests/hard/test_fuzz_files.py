"""Whatever stands in a file, its reader answers, or refuses it with its own error."""

from __future__ import annotations

import os
import shutil
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from dryrun.fitting.target import TargetError, read_target
from dryrun.gauge.history import read_history
from dryrun.gauge.measurements import MeasurementError, read_measurements
from dryrun.gauge.pieces import GaugeError
from dryrun.gauge.surfaces import compare_surfaces
from dryrun.job.faults import JobError
from dryrun.job.model import Stock
from dryrun.job.reading import read_bits, read_job, read_machine
from dryrun.removal.surface import Surface
from tests.gcode.test_fuzz import MEMORY, peak

from .accidents import spoiled

LONG = os.environ.get("DRYRUN_LONG") == "1"
#: Seconds a file may take: a promise in the long run, a guard against hanging otherwise.
SECONDS = 1.0 if LONG else 60.0
FIXTURES = Path(__file__).parents[2] / "fixtures"
STOCK = Stock((60.0, 40.0, 10.0), (30.0, 20.0, 0.0), "centre-top")

MEASURED = (
    b"x,y,kind,value\n0,0,depth,3.02\n10,-4,depth,2.98\n5,5,width,6.1\n0,0,thickness,17.8\n",
    b"point,x,y,kind,value,unit,uncertainty,foot,direction,stage,note\n"
    b"a,1.5,2,depth,0.118,in,0.001,0.08,,1,\nb,3,4,width,0.25,in,,,90,2,\"two, words\"\n",
    b"0.0 0.0 -1.25\n5.0 0.0 -1.27\n10.0 0.0 -1.31\n10.0 5.0 -1.30\n",
    b"[probe: X1.000 Y2.000 Z-3.000]\n[probe: X4.000 Y2.000 Z-3.100]\n",
    b"x;y;kind;value\r\n1,5;2,5;depth;3,0\r\n",
)  # fmt: skip
LOG = (
    b"date,job,digest,cause,probability,parameter,value,low,high,unit\n"
    b"2026-05-01,sign,ab12,z-zero,0.97,z_zero_mm,0.18,0.16,0.20,mm\n"
    b"2026-05-02,sign,ab12,none,0.90,,,,,\n",
)


def _texts(*patterns: str) -> tuple[bytes, ...]:
    return tuple(
        path.read_bytes() for pattern in patterns for path in sorted(FIXTURES.glob(pattern))
    )


def _pictures() -> tuple[bytes, ...]:
    import io

    ramp = np.linspace(0, 65535, 60 * 40).reshape(40, 60)
    found = []
    for form in ("PNG", "TIFF", "BMP", "PPM"):
        for pixels in ((ramp / 257).astype(np.uint8), ramp.astype(np.uint16)):
            if pixels.dtype == np.uint16 and form in ("BMP", "PPM"):
                continue
            out = io.BytesIO()
            Image.fromarray(pixels).save(out, form)
            found.append(out.getvalue())
    return tuple(found)


def _meshes(form: str) -> tuple[bytes, ...]:
    trimesh = pytest.importorskip("trimesh")
    box = trimesh.creation.box((40, 20, 4))
    exports = [box.export(file_type=form)]
    if form == "stl":
        exports.append(box.export(file_type="stl_ascii"))
    if form == "ply":
        exports.append(box.export(file_type="ply", encoding="ascii"))
    return tuple(e.encode() if isinstance(e, str) else bytes(e) for e in exports)


def _job(path: Path) -> None:
    read_job(path)


def _page(path: Path) -> None:
    (read_machine if path.stem == "machine" else read_bits)(path)


def _target(path: Path) -> None:
    read_target(path, STOCK, 5.0)


def _surface(path: Path) -> None:
    predicted = Surface.blank(STOCK, 0.5)
    compare_surfaces(predicted, path, register="tilt", picture_heights=(-5.0, 0.0))


#: Name of the file, what it is made of, who reads it, with what it may refuse, and how often.
KINDS: dict[str, tuple[str, Callable[[], tuple[bytes, ...]], Callable[[Path], object],
                       tuple[type[Exception], ...], int, int]] = {
    "job": ("job.toml", lambda: _texts("*/job.toml"), _job, (JobError,), 60, 100_000),
    "machine": ("machine.toml", lambda: _texts("*/machine.toml"), _page, (JobError,), 60,
                60_000),
    "bits": ("bits.toml", lambda: _texts("*/bits.toml"), _page, (JobError,), 300, 60_000),
    "measured": ("measured.csv", lambda: MEASURED, read_measurements, (MeasurementError,), 150,
                 200_000),
    "history": ("gauge.csv", lambda: LOG, read_history, (GaugeError,), 60, 60_000),
    "picture wanted": ("target.png", _pictures, _target, (TargetError,), 40, 40_000),
    "picture scanned": ("scan.png", _pictures, _surface, (GaugeError,), 20, 20_000),
    "stl wanted": ("target.stl", lambda: _meshes("stl"), _target, (TargetError,), 15, 20_000),
    "ply scanned": ("scan.ply", lambda: _meshes("ply"), _surface, (GaugeError,), 40, 20_000),
}  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.filterwarnings("ignore")  # of the libraries that read pictures and meshes
def test_no_file_makes_its_reader_fail_or_dawdle(kind: str, tmp_path: Path) -> None:
    """Read, or refused with the documented error; nothing else, and no hang."""
    name, originals, read, documented, few, many = KINDS[kind]
    texts = originals()
    assert texts
    for beside in (*FIXTURES.glob("trivet/*"), *FIXTURES.glob("coaster-inch/*")):
        shutil.copy(beside, tmp_path)
    path = tmp_path / name
    slowest, refused, before = (0.0, -1), 0, peak()
    for seed in range(many if LONG else few):
        path.write_bytes(spoiled(seed, texts))
        begin = time.process_time()
        try:
            read(path)
        except documented as error:
            refused += len(str(error)) > 0
        except Exception as error:
            raise AssertionError(f"{kind} {seed}: {error!r}") from error
        slowest = max(slowest, (time.process_time() - begin, seed))
    if LONG:
        print(f"{kind}: {refused} refused, slowest {slowest}", file=sys.stderr)

    assert peak() - before < MEMORY
    assert slowest[0] < SECONDS, f"{kind} {slowest[1]} took {slowest[0]:.2f} s"
    assert 0 < refused < (many if LONG else few)
