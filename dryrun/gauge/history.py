"""Results of one job after another, and whether something drifts.

A plain CSV log, one line per result, in the folder of the jobs: people open it in a spreadsheet,
correct a wrong date, keep it beside their files and merge two with a text editor. A database
would give none of that and is not needed for a few thousand lines. Lines are only ever appended;
measuring the same sheet twice changes nothing, because each result carries the digest of its
readings.
"""

from __future__ import annotations

import contextlib
import csv
import datetime
import hashlib
import io
import math
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from dryrun.gauge.diagnosis import Diagnosis
from dryrun.gauge.leastsquares import least_squares
from dryrun.gauge.pieces import GaugeError
from dryrun.gauge.uncertainty import student_quantile
from dryrun.gauge.words import number

NAME: Final = "gauge_history.csv"
_HEADER: Final = (
    "date", "job", "digest", "cause", "probability", "parameter", "value", "low", "high", "unit",
)  # fmt: skip
_DEPTH: Final = "depth_error_mm"
_COVERAGE: Final = 1.96


@dataclass(frozen=True, slots=True)
class Entry:
    """One parameter of one result. `parameter` "depth_error_mm" is how much shallower it was."""

    date: datetime.date
    job: str
    digest: str
    cause: str
    probability: float
    parameter: str
    value: float
    low: float
    high: float
    unit: str


@dataclass(frozen=True, slots=True)
class Drift:
    """A straight line through one parameter over the jobs.

    `per_job` is its slope, `uncertainty` half of its 95 % interval; `real` says whether the
    interval leaves out zero.
    """

    parameter: str
    unit: str
    jobs: int
    per_job: float
    uncertainty: float
    real: bool
    last: float

    @property
    def text(self) -> str:
        """The drift in words."""
        what = f"{self.parameter} {number(self.per_job, self.uncertainty)} {self.unit} per job"
        verdict = "drifts" if self.real else "shows no drift beyond its uncertainty"
        return f"over {self.jobs} jobs {what}: {verdict}, last {self.last:.3f} {self.unit}"


def log_path(place: str | Path) -> Path:
    """Return the log of a folder, or the file itself when a file is named."""
    path = Path(place)
    return path / NAME if path.is_dir() else path


def entries_of(diagnosis: Diagnosis, job: str, date: datetime.date) -> list[Entry]:
    """Turn a diagnosis into lines of the log: the mean depth error, and the first cause."""
    points = ";".join(f"{p.x:.3f},{p.y:.3f},{p.kind},{p.measured:.4f}" for p in diagnosis.points)
    digest = hashlib.sha256(f"{job};{points}".encode()).hexdigest()[:12]
    first = diagnosis.causes[0]
    head = (date, job, digest, first.cause, first.probability)
    out = []
    depths = [p for p in diagnosis.points if p.kind == "depth" and p.misread <= 0.5]
    if depths:
        weight = np.array([1 / p.uncertainty**2 for p in depths])
        error = -float((weight * [p.difference for p in depths]).sum() / weight.sum())
        half = _COVERAGE / math.sqrt(float(weight.sum()))
        out.append(Entry(*head, _DEPTH, error, error - half, error + half, "mm"))
    for name, p in first.parameters.items():
        label = f"{name} {first.bit}".strip() if first.bit else name
        out.append(
            Entry(*head, label, float(p["value"]), float(p["low"]), float(p["high"]),
                  str(p["unit"]))
        )  # fmt: skip
    if not out:
        out.append(Entry(*head, "", math.nan, math.nan, math.nan, ""))
    return out


#: A spreadsheet takes a cell that begins like this for a formula (CWE-1236), or swallows it.
_FORMULA: Final = tuple("=+-@|%'")


def as_cell(text: str) -> str:
    """Make foreign text a cell that no spreadsheet runs: an apostrophe before what could begin one.

    `from_cell` takes it away again. Control characters, which could begin one too or end the line,
    become spaces.
    """
    text = "".join(c if c.isprintable() else " " for c in text).strip()
    return f"'{text}" if text.startswith(_FORMULA) else text


def from_cell(cell: str) -> str:
    """Return the text that `as_cell` made a cell of."""
    return cell[1:] if cell.startswith("'") and cell[1:].startswith(_FORMULA) else cell


def append(place: str | Path, entries: Sequence[Entry]) -> bool:
    """Append a result to a log; False when it stands there already."""
    path = log_path(place)
    old = read_history(path) if path.exists() else []
    if entries and any(e.digest == entries[0].digest for e in old):
        return False
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    if not path.exists():
        writer.writerow(_HEADER)
    for e in entries:
        writer.writerow(
            [e.date.isoformat(), as_cell(e.job), e.digest, as_cell(e.cause),
             f"{e.probability:.4f}", as_cell(e.parameter),
             *("" if math.isnan(v) else f"{v:.6g}" for v in (e.value, e.low, e.high)), e.unit]
        )  # fmt: skip
    size = path.stat().st_size if path.exists() else 0
    try:
        with path.open("a", encoding="utf-8", newline="") as file:
            file.write(out.getvalue())
    except OSError as error:
        # A full disk may have taken a part of it; half an entry would be none of a log.
        with contextlib.suppress(OSError):
            os.truncate(path, size)
        raise GaugeError(f"{path}: cannot be written ({error.strerror})") from None
    return True


def read_history(path: str | Path) -> list[Entry]:
    """Read a log.

    Raises
    ------
    GaugeError
        With the line that is not one of a log.
    """
    path = log_path(path)
    try:
        text = path.read_text(encoding="utf-8", errors="replace")
    except OSError as error:
        raise GaugeError(f"{path}: cannot be read ({error.strerror})") from None
    except UnicodeDecodeError:
        raise GaugeError(f"{path}: not a gauge log (it is no UTF-8 text)") from None
    out = []
    for line, row in enumerate(csv.reader(io.StringIO(text)), start=1):
        if not row or tuple(row) == _HEADER:
            continue
        try:
            date, job, digest, cause, probability, parameter, *values, unit = row
            job, cause, parameter = (from_cell(cell) for cell in (job, cause, parameter))
            value, low, high = (float(v) if v else math.nan for v in values)
            out.append(
                Entry(datetime.date.fromisoformat(date), job, digest, cause, float(probability),
                      parameter, value, low, high, unit)
            )  # fmt: skip
        except ValueError:
            raise GaugeError(f"{path}, line {line}: not a line of a gauge log") from None
    return out


def find_drift(entries: Sequence[Entry]) -> list[Drift]:
    """Fit a line through each parameter that at least three jobs tell, in order of their dates."""
    names: dict[str, list[Entry]] = {}
    for e in sorted(entries, key=lambda e: e.date):
        if e.parameter and math.isfinite(e.value):
            names.setdefault(e.parameter, []).append(e)
    out = []
    for name, rows in names.items():
        if len(rows) < 3:
            continue
        step = np.arange(len(rows), dtype=float)
        value = np.array([e.value for e in rows])
        u = np.array([max(e.high - e.low, 1e-6) / (2 * _COVERAGE) for e in rows])
        fit = least_squares(np.column_stack([np.ones(len(rows)), step - step.mean()]), value, u)
        # More scatter from job to job than within one widens the interval (Birge ratio).
        spread = max(1.0, fit.scatter)
        half = float(fit.uncertainty[1]) * spread * student_quantile(0.975, fit.freedom)
        slope = float(fit.value[1])
        out.append(
            Drift(name, rows[0].unit, len(rows), slope, half, abs(slope) > half, float(value[-1]))
        )
    return out
