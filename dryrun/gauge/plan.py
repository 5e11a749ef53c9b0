"""Where to measure: the fewest places from which the causes can be told apart.

Candidates are level floors that the foot of a rod fits on and a gauge's base can bridge, straight
grooves whose width calipers can take, and uncut rim where they reach the thickness. From these a
D-optimal set is grown: each step adds the place that shrinks the joint uncertainty of all causes
most, then places are exchanged while that helps (Fedorov 1972, Theory of Optimal Experiments).
It ends when every cause would show at a size that matters and no single reading decides alone.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dryrun.gauge.causes import Parameter, Slopes, list_causes
from dryrun.gauge.cutter import Array, Cutter
from dryrun.gauge.diagnosis import as_depths
from dryrun.gauge.measurements import LIMITS, USUAL, Instrument, Measurements, Reading
from dryrun.gauge.pieces import GaugeError
from dryrun.gauge.places import find_places
from dryrun.gauge.predict import Predictor
from dryrun.gauge.uncertainty import from_limits

#: Standard uncertainty below which a cause is told well enough to act on (common practice).
WANTED: Final[dict[str, float]] = {
    "z_zero_mm": 0.04,
    "tilt": 0.08,  # mm over half the blank
    "bow": 0.08,
    "z_scale": 0.008,
    "diameter_mm": 0.04,
    "angle_deg": 1.0,
    "thickness_mm": 0.03,
}
#: A target out of reach with every candidate is met when this close to the best there is.
_NEAR_BEST: Final = 1.6
_FEWEST: Final = 6
_LEVERAGE: Final = 0.8


@dataclass(frozen=True, slots=True)
class PlannedPoint:
    """One place to measure; lengths in mm, `direction` in degrees from +X.

    `sensitivity` says by how much the reading moves per unit of each parameter.
    """

    point: str
    x: float
    y: float
    kind: str
    direction: float
    foot: float
    predicted: float
    uncertainty: float
    bit: str
    sensitivity: dict[str, float]


@dataclass(frozen=True, slots=True)
class Plan:
    """Places to measure, and how well each cause will then be known.

    Attributes
    ----------
    title : str
    points : tuple of PlannedPoint
    expected : dict
        Standard uncertainty of each parameter with all of them measured, by a name for people.
    untold : tuple of str
        What no place on this job can tell, and why.
    candidates : int
        How many places were to choose from.
    """

    title: str
    points: tuple[PlannedPoint, ...]
    expected: dict[str, float]
    untold: tuple[str, ...]
    candidates: int
    outcome: Any

    def to_csv(self, path: str | Path | None = None) -> str:
        """Write the sheet to fill in; returns its text.

        Only the column `value` (and `unit`, if not mm) has to be filled; empty ones are skipped
        when it is read back.
        """
        names = list(dict.fromkeys(n for p in self.points for n in p.sensitivity))
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(
            ["point", "x", "y", "kind", "value", "unit", "uncertainty", "foot", "direction", "note",
             "predicted", *(f"per {n}" for n in names)]
        )  # fmt: skip
        for p in self.points:
            turn = "" if math.isnan(p.direction) else f"{p.direction:.1f}"
            foot = f"{p.foot:g}" if p.foot else ""
            writer.writerow(
                [p.point, f"{p.x:.2f}", f"{p.y:.2f}", p.kind, "", "mm", "", foot, turn, "",
                 f"{p.predicted:.3f}", *(f"{p.sensitivity.get(n, 0.0):.5g}" for n in names)]
            )  # fmt: skip
        text = out.getvalue()
        if path is not None:
            Path(path).write_text(text, encoding="utf-8")
        return text

    def to_html(self) -> str:
        """Return a page to print and fill in, with the picture in it."""
        from dryrun.gauge.sheet import page

        return page(self)

    def picture(self, path: str | Path) -> None:
        """Draw the blank from above with the numbered places."""
        from dryrun.gauge.pictures import draw_plan

        draw_plan(self).save(path)


def plan_measurements(
    outcome: Any,
    *,
    count: int | None = None,
    most: int = 20,
    foot: float = 2.0,
    base: float = 100.0,
    instrument: Instrument | None = None,
) -> Plan:
    """Choose where to measure.

    Parameters
    ----------
    outcome : Outcome
        A dry run of the job; needs a declared blank.
    count : int or None
        How many places; None takes the fewest that do.
    most : int
        Upper limit when `count` is None.
    foot : float
        Diameter of the rod's end, mm.
    base : float
        Length of the depth gauge's base, mm; it must rest on uncut wood on both sides.
    instrument : str or None
        What all is measured with; None takes a depth rod for depths, calipers for the rest.

    Raises
    ------
    GaugeError
        When the job declares no blank or offers no place to measure.
    """
    if getattr(outcome.job, "stock", None) is None:
        raise GaugeError("the job declares no blank, so nothing can be predicted; needs stock")
    if not 0 < foot <= 50 or not 0 < base <= 1000:
        raise GaugeError("foot and base must be above zero, and no larger than 50 and 1000 mm")
    if (count is not None and count < 1) or most < 1:
        raise GaugeError("the number of places must be at least one")
    places = find_places(outcome, foot, base)
    if not places:
        raise GaugeError("no place on this job is level, wide and high enough to measure")
    readings = _as_readings(places, outcome, instrument)
    predictor = Predictor(outcome, readings)
    slopes = Slopes(predictor)
    rack: tuple[Cutter, ...] = ()
    parameters = _single(list_causes(predictor, slopes, rack).parameters)
    _, columns = slopes.columns(parameters, [0.0] * len(parameters))
    sizes = np.array([p.size for p in parameters])
    design = columns * sizes / readings.uncertainty[:, None]
    alive = np.abs(design).max(axis=0) > 1e-6
    told = np.flatnonzero(alive)
    chosen = _choose(design[:, told], [parameters[k] for k in told], readings, count, most)
    return _plan(outcome, predictor, parameters, columns, design, told, chosen, slopes)


def _as_readings(
    places: Sequence[Reading], outcome: Any, instrument: Instrument | None
) -> Measurements:
    table = Measurements.from_rows([replace(p, instrument=instrument) for p in places])
    return as_depths(table, float(outcome.job.stock.top))


def _single(parameters: Sequence[Parameter]) -> list[Parameter]:
    """Parameters that concern the whole job; lost steps and single stages are not planned for."""
    return [p for p in parameters if p.row < 0 and p.stage < 0]


def _target(p: Parameter) -> float:
    """Wanted uncertainty in units of the usual size."""
    if p.name.startswith("tilt"):
        return WANTED["tilt"] / 0.3  # the usual size of a tilt is 0.3 mm over half the blank
    if p.name.startswith("bow"):
        return WANTED["bow"] / p.size
    return WANTED[p.name] / p.size


def _choose(
    design: Array,
    parameters: Sequence[Parameter],
    readings: Measurements,
    count: int | None,
    most: int,
) -> list[int]:
    """Grow a D-optimal set, exchanging after every step."""
    targets = np.array([_target(p) for p in parameters])
    best = _deviations(design)
    targets = np.maximum(targets, _NEAR_BEST * best)
    limit = min(count if count is not None else most, len(design))
    chosen: list[int] = []
    blocked = np.zeros(len(design), dtype=bool)
    while len(chosen) < limit:
        gain = _gains(design, chosen)
        gain[blocked] = -1.0
        if gain.max() <= 0:
            break
        chosen.append(int(np.argmax(gain)))
        chosen = _exchange(design, chosen, readings)
        blocked = _crowded(chosen, readings)
        if count is None and len(chosen) >= _FEWEST and _enough(design, chosen, targets):
            break
    if count is None and _enough(design, chosen, targets):
        chosen = _pruned(design, chosen, targets)
    return chosen


def _pruned(design: Array, chosen: list[int], targets: Array) -> list[int]:
    """Leave out places that are not needed once the others are there, the least useful first."""
    while len(chosen) > _FEWEST:
        inverse = np.linalg.inv(_information(design, chosen))
        rows = design[chosen]
        for k in np.argsort(((rows @ inverse) * rows).sum(axis=1), kind="stable").tolist():
            rest = chosen[:k] + chosen[k + 1 :]
            if _enough(design, rest, targets):
                chosen = rest
                break
        else:
            break
    return chosen


def _information(design: Array, chosen: Sequence[int]) -> Array:
    rows = design[list(chosen)]
    out: Array = rows.T @ rows + np.eye(design.shape[1])
    return out


def _deviations(design: Array) -> Array:
    out: Array = np.sqrt(np.diag(np.linalg.inv(design.T @ design + np.eye(design.shape[1]))))
    return out


def _gains(design: Array, chosen: Sequence[int]) -> Array:
    """By what factor each candidate raises the determinant, minus one."""
    inverse = np.linalg.inv(_information(design, chosen))
    out: Array = ((design @ inverse) * design).sum(axis=1)
    return out


def _exchange(design: Array, chosen: list[int], readings: Measurements) -> list[int]:
    """Swap single places while the determinant rises by more than a thousandth."""
    for _ in range(20):
        improved = False
        for k in range(len(chosen)):
            rest = chosen[:k] + chosen[k + 1 :]
            gain = _gains(design, rest)
            gain[_crowded(rest, readings)] = -1.0
            best = int(np.argmax(gain))
            if (1 + gain[best]) > 1.001 * (1 + max(float(gain[chosen[k]]), 0.0)):
                chosen[k] = best
                improved = True
        if not improved:
            break
    return chosen


def _crowded(chosen: Sequence[int], readings: Measurements) -> NDArray[np.bool_]:
    """Places already taken, or a hand's breadth of nothing new from one of the same kind."""
    out = np.zeros(len(readings), dtype=bool)
    kinds = np.array(readings.kind)
    for k in chosen:
        near = np.hypot(readings.x - readings.x[k], readings.y - readings.y[k]) < 4.0
        out |= near & (kinds == kinds[k])
        out[k] = True
    return out


def _enough(design: Array, chosen: Sequence[int], targets: Array) -> bool:
    inverse = np.linalg.inv(_information(design, chosen))
    if not bool((np.sqrt(np.diag(inverse)) <= targets).all()):
        return False
    rows = design[list(chosen)]
    leverage = ((rows @ inverse) * rows).sum(axis=1)
    return bool(leverage.max() < _LEVERAGE)


def _plan(
    outcome: Any,
    predictor: Predictor,
    parameters: Sequence[Parameter],
    columns: Array,
    design: Array,
    told: NDArray[np.int64],
    chosen: Sequence[int],
    slopes: Slopes,
) -> Plan:
    r = predictor.readings
    cutters = predictor.path.cutters
    order = sorted(chosen, key=lambda i: (_ORDER[r.kind[i]], round(float(r.y[i])), float(r.x[i])))
    points = []
    for number, i in enumerate(order, start=1):
        stage = int(predictor.stage[i])
        cutter = cutters[stage] if stage >= 0 else None
        moved = {
            _label(p): float(columns[i, k])
            for k, p in enumerate(parameters)
            if k in told and abs(columns[i, k]) > 1e-9
        }
        points.append(
            PlannedPoint(
                str(number), float(r.x[i]), float(r.y[i]), r.kind[i],
                round(float(np.degrees(predictor.direction[i])), 3), float(r.foot[i]),
                float(predictor.base[i]), float(r.uncertainty[i]),
                cutter.name if cutter else "", moved,
            )
        )  # fmt: skip
    part = design[list(chosen)][:, told]
    deviation = _deviations(part)
    expected = {
        _label(parameters[k]): float(d * parameters[k].size)
        for k, d in zip(told.tolist(), deviation, strict=True)
        if d < 0.6
    }
    conical = {c.name for c in cutters if c is not None and c.conical}
    untold = _untold(parameters, told, deviation, design[:, told], conical)
    title = str(getattr(outcome.job, "title", "") or "job")
    return Plan(title, tuple(points), expected, untold, len(r), outcome)


#: Why a parameter is hard to tell, where there is one usual reason.
_REASONS: Final = {
    "z_scale": "; all depths are nearly alike",
    "angle_deg": "; its grooves are nearly of one depth, like a wrong Z zero",
}
_ORDER: Final = {"depth": 0, "width": 1, "thickness": 2}


def _label(p: Parameter) -> str:
    """Name a parameter for the sheet: its JSON name, and the bit it belongs to."""
    return f"{p.name} {p.cutter}".strip()


def _untold(
    parameters: Sequence[Parameter],
    told: NDArray[np.int64],
    deviation: Array,
    design: Array,
    conical: set[str],
) -> tuple[str, ...]:
    """Say what cannot be told, with all places measured and with the chosen ones."""
    out = []
    known = set(told.tolist())
    for k, p in enumerate(parameters):
        if k not in known:
            if p.name == "diameter_mm" and p.cutter in conical:
                continue  # a cone's largest diameter shapes no groove narrower than it
            if p.name == "angle_deg" or p.name == "diameter_mm":
                out.append(f"{_label(p)}: no groove of this bit has a width to measure")
            elif p.name == "thickness_mm":
                out.append("thickness_mm: no uncut rim within reach of calipers")
            else:
                out.append(f"{_label(p)}: no place moves with it")
    best = _deviations(design)
    for k, d, b in zip(told.tolist(), deviation, best, strict=True):
        if d >= 0.6:
            why = "no place on this job tells it" if b >= 0.6 else "more places would tell it"
            reason = _REASONS.get(parameters[k].name, "")
            out.append(f"{_label(parameters[k])}: {why}{reason}")
    return tuple(out)


def instrument_uncertainty(kind: str) -> float:
    """Return the standard uncertainty of the usual instrument for a kind of reading, mm."""
    return from_limits(LIMITS[USUAL[kind]])
