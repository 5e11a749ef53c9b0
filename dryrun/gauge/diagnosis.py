"""Compare what was measured with what was predicted, and name the likeliest cause."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dryrun.gauge import words
from dryrun.gauge.cutter import Array, Cutter
from dryrun.gauge.inference import Inference, Solver, WeighedCause
from dryrun.gauge.measurements import MeasurementError, Measurements
from dryrun.gauge.pieces import GaugeError
from dryrun.gauge.predict import Predictor

#: Coverage factor for "beyond": two standard uncertainties, about 95 % (JCGM 100:2008 6.3.3).
COVERAGE: Final = 2.0
#: Large sets of probed points are thinned to about so many for the fit; all are compared.
MOST_FITTED: Final = 1200


@dataclass(frozen=True, slots=True)
class Point:
    """One place: what was measured there, what was predicted; lengths in mm.

    Attributes
    ----------
    point : str
        Its name, or its number in the file.
    x, y : float
    kind : "depth", "width" or "thickness"
    measured : float
        Mean of the repeated readings, misread ones left out when others remain.
    predicted, difference : float
    uncertainty : float
        Standard uncertainty of `measured`.
    beyond : bool
        Whether the difference is more than twice the uncertainty.
    readings : int
    misread : float
        Probability of a gross misreading.
    residual : float
        What the likeliest cause leaves unexplained.
    """

    point: str
    x: float
    y: float
    kind: str
    measured: float
    predicted: float
    difference: float
    uncertainty: float
    beyond: bool
    readings: int
    misread: float
    residual: float


@dataclass(frozen=True, slots=True)
class Cause:
    """One possible cause; see `CAUSES` for the names.

    `parameters` holds, by name, value, low, high (95 %) and unit. `beside` are causes that are
    needed besides, `bit`, `stage` (1-based) and `line` say what it concerns.
    """

    cause: str
    probability: float
    parameters: dict[str, dict[str, float | str]]
    beside: tuple[str, ...] = ()
    bit: str | None = None
    stage: int | None = None
    line: int | None = None
    advice: str = ""


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """Result of `compare_depths`.

    Attributes
    ----------
    points : tuple of Point
    causes : tuple of Cause
        Likeliest first; probabilities sum to one.
    verdict : str
    advice : str
    scatter : float
        Root mean square of the residuals over the stated uncertainties; about one is as stated.
    """

    points: tuple[Point, ...]
    causes: tuple[Cause, ...]
    verdict: str
    advice: str
    scatter: float

    def to_dict(self) -> dict[str, Any]:
        """Return what the JSON carries (schema 1)."""
        points = [
            {
                "point": p.point, "x": p.x, "y": p.y, "kind": p.kind, "measured": p.measured,
                "predicted": p.predicted, "difference": p.difference, "beyond": p.beyond,
                "uncertainty": p.uncertainty, "readings": p.readings, "misread": p.misread,
                "residual": p.residual,
            }
            for p in self.points
        ]  # fmt: skip
        causes = [
            {
                "cause": c.cause, "probability": c.probability, "parameters": c.parameters,
                "beside": list(c.beside), "bit": c.bit, "stage": c.stage, "line": c.line,
                "advice": c.advice,
            }
            for c in self.causes
        ]  # fmt: skip
        scatter = None if math.isnan(self.scatter) else self.scatter
        return {
            "schema": 1, "points": points, "causes": causes, "verdict": self.verdict,
            "advice": self.advice, "scatter": scatter,
        }  # fmt: skip

    def to_json(self) -> str:
        """Return the JSON text."""
        return json.dumps(self.to_dict(), indent=1, ensure_ascii=False, allow_nan=False)

    def picture(self, path: str | Path) -> None:
        """Draw the residuals over the blank, before and after the likeliest cause is taken out."""
        from dryrun.gauge.pictures import draw_residuals

        draw_residuals(self, path)


def compare_depths(outcome: Any, measurements: Measurements) -> Diagnosis:
    """Compare measurements with a dry run.

    Repeated readings count as independent, so their mean has a smaller uncertainty. What an
    instrument reads wrong every time (its own zero) is common to all and not in any interval.

    Parameters
    ----------
    outcome : Outcome
        Of the job that was cut; needs a declared blank.
    measurements : Measurements
        What `read_measurements` gave.

    Returns
    -------
    Diagnosis

    Raises
    ------
    GaugeError
        When the job declares no blank or a place lies off it.
    MeasurementError
        When there is nothing to compare.
    """
    if len(measurements) == 0:
        raise MeasurementError("no readings to compare")
    stock = getattr(outcome.job, "stock", None)
    if stock is None:
        raise GaugeError("the job declares no blank, so nothing can be predicted; needs stock")
    readings = as_depths(measurements, float(stock.top))
    rack = tuple(Cutter.from_bit(b) for b in getattr(outcome.job, "bits", ()) or ())
    predictor = Predictor(outcome, readings, rack)
    chosen = _thinned(len(readings))
    part = predictor if chosen is None else Predictor(outcome, _rows(readings, chosen), rack)
    fitted = readings if chosen is None else _rows(readings, chosen)
    solver = Solver(part, fitted.value, fitted.uncertainty, fitted.declared, rack)
    inference = solver.solve()
    return _report(outcome, predictor, readings, solver, inference, chosen)


def as_depths(m: Measurements, top: float) -> Measurements:
    """Turn probed heights into depths below the blank's top."""
    probed = np.array([k == "height" for k in m.kind], dtype=bool)
    if not probed.any():
        return m
    kinds = tuple("depth" if k == "height" else k for k in m.kind)
    return replace(m, kind=kinds, value=np.where(probed, top - m.value, m.value))


def _thinned(count: int) -> NDArray[np.int64] | None:
    if count <= MOST_FITTED:
        return None
    return np.unique(np.linspace(0, count - 1, MOST_FITTED).astype(np.int64))


def _rows(m: Measurements, chosen: NDArray[np.int64]) -> Measurements:
    names = ("x", "y", "value", "uncertainty", "declared", "foot", "direction", "stage", "line")
    columns = {n: getattr(m, n)[chosen] for n in names}
    picked = chosen.tolist()
    return replace(
        m,
        point=tuple(m.point[i] for i in picked),
        kind=tuple(m.kind[i] for i in picked),
        **columns,
    )


def _report(
    outcome: Any,
    predictor: Predictor,
    readings: Measurements,
    solver: Solver,
    inference: Inference,
    chosen: NDArray[np.int64] | None,
) -> Diagnosis:
    best = inference.causes[0]
    misread = np.zeros(len(readings))
    at = slice(None) if chosen is None else chosen
    misread[at] = inference.misread
    residual = _residuals(predictor, readings, solver, best)
    if chosen is not None:  # readings that were not fitted are judged by the fit
        others = np.ones(len(readings), bool)
        others[chosen] = False
        misread[others & (np.abs(residual) > 6 * readings.uncertainty)] = 1.0
    points = _points(readings, predictor.base, misread, residual)
    left_out = [p.point for p in points if p.misread > 0.5]
    lines = [predictor.path.line(c.row) if c.row >= 0 else None for c in inference.causes]
    stages = [str(getattr(s.stage, "name", k + 1)) for k, s in enumerate(outcome.stages)]
    text = words.verdict(
        inference.causes,
        stages,
        lines,
        left_out,
        len(readings),
        _hint(outcome, predictor, solver, inference),
        _trust_words(best.estimate.birge, len(readings)),
    )
    causes = tuple(_cause(c, line) for c, line in zip(inference.causes, lines, strict=True))
    return Diagnosis(points, causes, text, words.advice(best), best.estimate.birge)


def _residuals(
    predictor: Predictor, readings: Measurements, solver: Solver, best: WeighedCause
) -> Array:
    """Return what the likeliest cause leaves, for every reading, by exact prediction."""
    from dryrun.gauge.causes import Slopes

    h = solver.hypotheses[best.hypothesis]
    index = list(h.parameters)
    theta = best.estimate.value * solver.sizes[index]
    slopes = Slopes(predictor)
    change = slopes.change([solver.parameters[k] for k in index], theta.tolist(), h.swap)
    return readings.value - predictor.predict(change)


def _points(
    r: Measurements, predicted: Array, misread: Array, residual: Array
) -> tuple[Point, ...]:
    """Average repeated readings of one place."""
    places: dict[tuple[object, ...], list[int]] = {}
    for i in range(len(r)):
        turn = None if math.isnan(r.direction[i]) else float(r.direction[i])
        key = (r.point[i], r.kind[i], round(float(r.x[i]), 6), round(float(r.y[i]), 6), turn,
               int(r.stage[i]), float(r.foot[i]))  # fmt: skip
        places.setdefault(key, []).append(i)
    out = []
    for number, rows in enumerate(places.values(), start=1):
        good = [i for i in rows if misread[i] <= 0.5] or rows
        weight = 1 / r.uncertainty[good] ** 2
        measured = float((weight * r.value[good]).sum() / weight.sum())
        u = float(1 / math.sqrt(weight.sum()))
        expected = float(predicted[rows[0]])
        left = float((weight * residual[good]).sum() / weight.sum())
        out.append(
            Point(
                r.point[rows[0]] or str(number), float(r.x[rows[0]]), float(r.y[rows[0]]),
                r.kind[rows[0]], measured, expected, measured - expected, u,
                abs(measured - expected) > COVERAGE * u, len(rows),
                float(misread[good].max()), left,
            )
        )  # fmt: skip
    return tuple(out)


def _cause(c: WeighedCause, line: int | None) -> Cause:
    parameters: dict[str, dict[str, float | str]] = {
        name: {"value": i.value, "low": i.low, "high": i.high, "unit": i.unit}
        for name, i in c.parameters.items()
    }
    return Cause(
        c.cause,
        c.probability,
        parameters,
        c.beside,
        c.bit or None,
        c.stage + 1 if c.stage >= 0 else None,
        line,
        words.advice(c),
    )


def _trust_words(birge: float, count: int) -> str:
    """Say so when the readings scatter more than their uncertainties allow."""
    if math.isnan(birge) or count < 6:
        return ""
    # One-sided 0.1 % point of the root of chi-square over freedom, Wilson and Hilferty 1931.
    part = 2 / (9 * count)
    limit = (1 - part + 3.09 * math.sqrt(part)) ** 1.5
    if birge < limit:
        return ""
    return (
        f"the readings scatter {birge:.1f} times as much as their uncertainties say, so the "
        "intervals are wider than stated"
    )


def _hint(outcome: Any, predictor: Predictor, solver: Solver, inference: Inference) -> str:
    """Where a reading would tell the two likeliest causes apart."""
    rivals = inference.causes[:2]
    if len(rivals) < 2 or rivals[0].probability >= 0.9 or rivals[1].probability < 0.1:
        return ""
    names = {c.cause for c in rivals}
    if names == {"z-zero", "thickness"}:
        return "; measure the thickness of the blank where it was not cut"
    if names & {"bit-diameter", "wrong-bit", "vee-angle"}:
        bit = next((c.bit for c in rivals if c.bit), "")
        return f"; measure the width of grooves of two depths cut by bit {bit}"
    return _hint_place(predictor, solver, rivals)


def _hint_place(predictor: Predictor, solver: Solver, rivals: Sequence[WeighedCause]) -> str:
    """Find the level place where the two predict the most different depths."""
    field = predictor.surface
    ny, nx = field.shape
    i = np.unique(np.linspace(0, nx - 1, 60).astype(int))
    j = np.unique(np.linspace(0, ny - 1, 60).astype(int))
    h = field.heights(j[:, None], i[None, :])
    x = np.broadcast_to(field.origin[0] + field.cell * i, h.shape)
    y = np.broadcast_to(field.origin[1] + field.cell * j[:, None], h.shape)
    near = field.heights(np.minimum(j + 2, ny - 1)[:, None], np.minimum(i + 2, nx - 1)[None, :])
    usable = (h < predictor.top - 0.05) & (np.abs(near - h) < 0.01) & (h > predictor.stock.bed)
    if not usable.any():
        return ""
    moved = []
    for c in rivals:
        index = solver.hypotheses[c.hypothesis].parameters
        lift = np.zeros(h.shape)
        for k, value in zip(index, c.estimate.value.tolist(), strict=True):
            p = solver.parameters[k]
            size = value * p.size
            u, v = solver.slopes.relative(x, y)
            lift = lift + size * {
                "z_zero_mm": np.ones(h.shape), "tilt_x_mm_per_m": -x / 1000,
                "tilt_y_mm_per_m": -y / 1000, "bow_x_mm": u * u, "bow_y_mm": v * v,
                "z_scale": h,
            }.get(p.name, np.zeros(h.shape))  # fmt: skip
        moved.append(lift)
    apart = np.where(usable, np.abs(moved[0] - moved[1]), -1.0)
    best = np.unravel_index(int(np.argmax(apart)), apart.shape)
    if apart[best] < 0.5 * float(np.median(predictor.readings.uncertainty)):
        return "; no place on this job would tell them apart"
    return (
        f"; measure the depth near X {x[best]:.0f}, Y {y[best]:.0f}, where they differ by "
        f"{apart[best]:.2f} mm"
    )
