"""Read what a person measured: a table of readings, a grid of probed points, or a probing log.

A table has a header with `x, y, kind, value` and optionally `point, unit, uncertainty, foot,
direction, stage, note`. X, Y and foot are mm unless the cell says otherwise ("3/4 in"); `unit`
holds for value and uncertainty, so that a sheet printed in mm can be filled in with an inch
caliper. Empty values are skipped. A file without a header, or with `x, y, z`, is a grid of heights
in the job frame; so is any text with X, Y and Z words or number triples on its lines.
"""

from __future__ import annotations

import csv
import io
import math
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal, cast

import numpy as np
from numpy.typing import NDArray

from dryrun.gauge.uncertainty import from_limits
from dryrun.units import UnitError, parse_length

Instrument = Literal["calipers", "depth-rod", "touch-probe"]
KINDS: Final = ("depth", "width", "thickness")

#: Limits of error in mm, as common practice at a router has them (no source); read as "anywhere
#: within" (JCGM 100:2008 4.3.7).
LIMITS: Final[dict[str, float]] = {"calipers": 0.03, "depth-rod": 0.05, "touch-probe": 0.01}

#: What each kind is measured with when nothing is said.
USUAL: Final[dict[str, Instrument]] = {
    "depth": "depth-rod",
    "width": "calipers",
    "thickness": "calipers",
    "height": "touch-probe",
}

_REQUIRED: Final = ("x", "y", "kind", "value")
_OPTIONAL: Final = ("point", "unit", "uncertainty", "foot", "direction", "stage", "note")
_MOST_BYTES: Final = 64 * 1024 * 1024
_NUMBER = r"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)"
_WORD = re.compile(rf"([XYZ])\s*[:=]?\s*({_NUMBER})", re.IGNORECASE)
#: Numbers are tried only where one begins, and taken whole (no giving back of digits): the search
#: takes time in proportion to the line.
_WHOLE = rf"((?>{_NUMBER}))"
_BETWEEN = r"(?:\s++(?:[,;]\s*+)?+|[,;]\s*+)"
_TRIPLE = re.compile(
    rf"(?:(?=[-+])|(?<![-+0-9.])){_WHOLE}{_BETWEEN}{_WHOLE}{_BETWEEN}{_WHOLE}(?![0-9.])"
)
_COMMENT = re.compile(r"\([^)]*\)|;.*|#.*")


class MeasurementError(ValueError):
    """A measurement file that cannot be used; the message says where and why."""


@dataclass(frozen=True, slots=True)
class Measurements:
    """Readings, one row each, equal-length arrays; lengths in mm.

    Attributes
    ----------
    point : tuple of str
        Name of the place, "" when not given.
    kind : tuple of str
        "depth" (below the blank's top, positive down), "width", "thickness", or "height" (job-frame
        z of a probed point).
    x, y, value : (n,) float64
    uncertainty : (n,) float64
        Standard uncertainty; the usual instrument's where the file says nothing.
    declared : (n,) bool
        Whether the file said the uncertainty.
    foot : (n,) float64
        Diameter of the rod's end, 0 a point.
    direction : (n,) float64
        Degrees from +X along which a width was taken; NaN not said.
    stage : (n,) int32
        1-based stage after which it was taken; 0 after the last.
    line : (n,) int32
        Line in the file.
    ignored : tuple of str
        Columns that mean nothing here.
    """

    point: tuple[str, ...]
    kind: tuple[str, ...]
    x: NDArray[np.float64]
    y: NDArray[np.float64]
    value: NDArray[np.float64]
    uncertainty: NDArray[np.float64]
    declared: NDArray[np.bool_]
    foot: NDArray[np.float64]
    direction: NDArray[np.float64]
    stage: NDArray[np.int32]
    line: NDArray[np.int32]
    ignored: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.kind)

    @classmethod
    def from_rows(cls, rows: list[Reading], ignored: tuple[str, ...] = ()) -> Measurements:
        """Build the table from single readings."""

        def column(name: str, dtype: type = np.float64) -> NDArray:
            return np.array([getattr(r, name) for r in rows], dtype=dtype)

        given = column("uncertainty")
        usual = np.array([from_limits(LIMITS[r.instrument or USUAL[r.kind]]) for r in rows])
        declared = ~np.isnan(given)
        return cls(
            tuple(r.point for r in rows),
            tuple(r.kind for r in rows),
            column("x"),
            column("y"),
            column("value"),
            np.where(declared, given, usual),
            declared,
            column("foot"),
            column("direction"),
            column("stage", np.int32),
            column("line", np.int32),
            ignored,
        )


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading, mm; see `Measurements` for the fields."""

    x: float
    y: float
    kind: str
    value: float
    uncertainty: float = math.nan
    point: str = ""
    foot: float = 0.0
    direction: float = math.nan
    stage: int = 0
    line: int = 0
    instrument: Instrument | None = None


def read_measurements(
    path: str | Path | bytes, instrument: Instrument | None = None
) -> Measurements:
    """Read a measurement file.

    Parameters
    ----------
    path : str, Path or bytes
        The file, or its contents.
    instrument : "calipers", "depth-rod", "touch-probe" or None
        What every reading without an uncertainty was taken with; None takes the usual one for its
        kind (depths a depth rod ± 0.05 mm, widths and thicknesses calipers ± 0.03 mm, probed
        heights ± 0.01 mm).

    Raises
    ------
    MeasurementError
        With the line and what is wrong.
    OSError
        When the file cannot be opened.
    """
    if instrument is not None and instrument not in LIMITS:
        raise MeasurementError(f"no instrument {instrument!r}; known are {', '.join(LIMITS)}")
    raw = path if isinstance(path, bytes) else Path(path).read_bytes()
    if len(raw) > _MOST_BYTES:
        raise MeasurementError(f"{len(raw)} bytes are too many for a measurement file")
    text = raw.decode("utf-8-sig", errors="replace")
    lines = text.splitlines()
    first = next((i for i, line in enumerate(lines) if line.strip()), None)
    if first is None:
        raise MeasurementError("the file is empty")
    delimiter = _delimiter(lines[first])
    header = [
        cell.strip().lower() for cell in next(csv.reader([lines[first]], delimiter=delimiter))
    ]
    if "kind" in header or "value" in header:
        return _read_table(lines, first, header, delimiter, instrument)
    return _read_probed(lines, instrument)


def _delimiter(line: str) -> str:
    return max(",;\t", key=line.count)


def _read_table(
    lines: list[str], first: int, header: list[str], delimiter: str, instrument: Instrument | None
) -> Measurements:
    missing = [name for name in _REQUIRED if name not in header]
    if missing:
        raise MeasurementError(
            f"line {first + 1}: no column {', '.join(missing)}; "
            f"needed are {', '.join(_REQUIRED)}, possible {', '.join(_OPTIONAL)}"
        )
    doubled = {name for name in header if name and header.count(name) > 1}
    if doubled:
        raise MeasurementError(f"line {first + 1}: column {min(doubled)} stands there twice")
    rows: list[Reading] = []
    body = csv.reader(io.StringIO("\n".join(lines[first + 1 :])), delimiter=delimiter)
    for cells in body:
        line = first + 1 + body.line_num
        row = {
            n: c.strip() for n, c in zip(header, [*cells, *[""] * len(header)], strict=False) if n
        }
        if row["value"]:
            rows.append(_table_row(row, line, delimiter == ";", instrument))
        elif any(row[name] for name in ("x", "y")):
            continue  # planned but not measured
    if not rows:
        raise MeasurementError("no reading in the file: every value is empty")
    known = {*_REQUIRED, *_OPTIONAL}
    return Measurements.from_rows(rows, tuple(n for n in header if n and n not in known))


def _table_row(
    row: dict[str, str], line: int, comma: bool, instrument: Instrument | None
) -> Reading:
    def length(name: str, unit: str = "mm", empty: float | None = None) -> float:
        cell = row.get(name, "")
        if not cell and empty is not None:
            return empty
        if comma:
            cell = cell.replace(",", ".")
        try:
            bare = bool(re.fullmatch(rf"\s*{_NUMBER}(?:[eE][-+]?[0-9]+)?\s*", cell))
            if bare and re.search("[eE]", cell):
                cell = repr(float(cell)) if abs(float(cell)) >= 1e-4 else f"{float(cell):.15f}"
            return parse_length(f"{cell} {unit}" if bare else cell, "mm")
        except UnitError as error:
            raise MeasurementError(f"line {line}, column {name}: {error}") from None

    kind = row["kind"].lower()
    if kind not in KINDS:
        raise MeasurementError(
            f"line {line}, column kind: found {row['kind']!r}, expected one of {', '.join(KINDS)}"
        )
    unit = row.get("unit", "") or "mm"
    uncertainty = length("uncertainty", unit, math.nan)
    if uncertainty <= 0:
        raise MeasurementError(f"line {line}, column uncertainty: must be above zero")
    foot = length("foot", empty=0.0)
    if foot < 0:
        raise MeasurementError(f"line {line}, column foot: a diameter cannot be negative")
    value = length("value", unit)
    if kind != "depth" and value < 0:
        raise MeasurementError(f"line {line}, column value: a {kind} cannot be negative")
    return Reading(
        length("x"),
        length("y"),
        kind,
        value,
        uncertainty,
        row.get("point", ""),
        foot,
        _angle(row.get("direction", ""), line, comma),
        _stage(row.get("stage", ""), line),
        line,
        instrument,
    )


def _angle(cell: str, line: int, comma: bool) -> float:
    text = re.sub(r"\s*(deg|degrees|°)$", "", cell)
    if not text:
        return math.nan
    try:
        value = float(text.replace(",", ".") if comma else text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise MeasurementError(f"line {line}, column direction: found {cell!r}, expected degrees")
    return value


def _stage(cell: str, line: int) -> int:
    if not cell:
        return 0
    if not re.fullmatch(r"[0-9]{1,4}", cell) or int(cell) < 1:
        raise MeasurementError(
            f"line {line}, column stage: found {cell!r}, expected the number of a stage, from 1"
        )
    return int(cell)


def _read_probed(lines: list[str], instrument: Instrument | None) -> Measurements:
    """Take every line with X, Y and Z words, or with a triple of numbers, as a probed point."""
    rows: list[Reading] = []
    for number, line in enumerate(lines, start=1):
        words = {k.upper(): float(v) for k, v in _WORD.findall(_COMMENT.sub("", line))}
        if words.keys() >= {"X", "Y", "Z"}:
            place = (words["X"], words["Y"], words["Z"])
        else:
            found = _TRIPLE.search(line) if not words else None
            if found is None:
                continue
            place = cast("tuple[float, float, float]", tuple(float(v) for v in found.groups()))
        if max(abs(v) for v in place) > 1e5:
            raise MeasurementError(f"line {number}: {place} is too far away to be a probed point")
        rows.append(Reading(place[0], place[1], "height", place[2], line=number,
                            instrument=instrument))  # fmt: skip
    if not rows:
        raise MeasurementError(
            f"neither a table with the columns {', '.join(_REQUIRED)} nor lines with X, Y and Z"
        )
    return Measurements.from_rows(rows)
