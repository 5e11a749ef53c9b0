"""Find a machine's limits from measured runs: `calibrate`.

The planner predicts the time of each run; least squares (scipy) moves the parameters until the
predictions meet the clock. Residuals count as parts of the time, or in the clock's uncertainty when
that is given. What the runs cannot tell is left at the machine's value, and said.
"""

from __future__ import annotations

import math
import os
import re
import tempfile
import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dryrun.job.model import Machine
from dryrun.motion import Motion
from dryrun.timing.planner import plan_time

#: What can be fitted. `acceleration` scales the axes together and is told as that of X.
FITTABLE: Final = (
    "acceleration",
    "acceleration-x",
    "acceleration-y",
    "acceleration-z",
    "corner_tolerance",
    "line_seconds",
    "run_seconds",
)

UNITS: Final = {"corner_tolerance": "mm", "line_seconds": "s", "run_seconds": "s"}

#: A parameter is not seen when doubling it changes no run by more than this part.
UNSEEN: Final = 1e-4

#: Two parameters are one when their effects on the runs are parallel to within this angle, rad.
PARALLEL: Final = 0.02

#: Two parameters with a correlation beyond this are hardly told apart.
LINKED: Final = 0.9


@dataclass(frozen=True, slots=True)
class Parameter:
    """A fitted value and its standard uncertainty; NaN when the runs give none."""

    name: str
    value: float
    uncertainty: float
    unit: str


@dataclass(frozen=True, slots=True)
class Calibration:
    """The result of fitting a machine to measured runs.

    Attributes
    ----------
    parameters : what the runs determine
    tell_apart : in words, what they determine, what not, and why
    machine : the machine with the fitted values
    measured, predicted : (n,) s
    residuals : (n,) predicted - measured, s
    run_seconds : time that every run takes besides its motion, s
    """

    parameters: tuple[Parameter, ...]
    tell_apart: str
    machine: Machine
    measured: NDArray[np.float64]
    predicted: NDArray[np.float64]
    residuals: NDArray[np.float64]
    run_seconds: float

    def write(self, path: str | Path) -> None:
        """Write the fitted values into a machine's TOML file, and keep all else in it.

        The text is written beside the file and renamed over it. A missing file is begun.

        Raises
        ------
        ValueError
            When the file is no TOML, or the values cannot be changed without changing more.
        """
        path = Path(path)
        old = path.read_text(encoding="utf-8") if path.exists() else ""
        text = old
        for key, value in self._keys().items():
            text = _with_key(text, key, value)
        _check_kept(old, text, set(self._keys()))
        _replace_file(path, text)

    def _keys(self) -> dict[str, str]:
        names = {parameter.name.split("-")[0] for parameter in self.parameters}
        keys = {}
        if "acceleration" in names:
            axes = ", ".join(f'"{value:.6g} mm/s2"' for value in self.machine.acceleration)
            keys["acceleration"] = f"[{axes}]"
        if "corner_tolerance" in names:
            keys["corner_tolerance"] = f'"{self.machine.corner_tolerance:.6g} mm"'
        if "line_seconds" in names:
            keys["line_seconds"] = f'"{self.machine.line_seconds:.6g} s"'
        return keys


def calibrate(
    runs: Sequence[tuple[Motion, float]],
    machine: Machine,
    *,
    fit: Sequence[str] = ("acceleration", "corner_tolerance", "line_seconds"),
    uncertainty: float | None = None,
    progress: Callable[[int], None] | None = None,
) -> Calibration:
    """Fit a machine's limits to measured times.

    Parameters
    ----------
    runs : sequence of (Motion, float)
        What was run, and the seconds that the clock showed.
    machine : Machine
        Where the fit starts; what is not fitted keeps its value.
    fit : sequence of str
        Names from FITTABLE, the most wanted first: what the runs cannot tell apart is dropped from
        the end.
    uncertainty : float, optional
        Standard uncertainty of a measured time, s. Without it the scatter of the residuals is
        taken, which needs more runs than parameters.
    progress : callable, optional
        Called with the number of predictions made so far.

    Returns
    -------
    Calibration

    Raises
    ------
    ValueError
        On a name that cannot be fitted, no runs, or a time that is not above 0.
    """
    measured = np.array([seconds for _, seconds in runs], float)
    _check(fit, measured)
    model = _Model(tuple(motion for motion, _ in runs), machine, progress)
    chosen, notes = _choose(model, list(fit), measured)
    values, spread = _solve(model, chosen, measured, uncertainty)
    while (loose := _loose(chosen, spread)) is not None:
        notes.append(f"{chosen.pop(loose)}: these runs do not determine it beside the others; kept")
        values, spread = _solve(model, chosen, measured, uncertainty)
    fitted, extra = model.machine_with(chosen, values)
    predicted = model.seconds(chosen, values)
    parameters = tuple(
        _parameter(name, value, math.sqrt(spread[i, i]), fitted)
        for i, (name, value) in enumerate(zip(chosen, values.tolist(), strict=True))
    )
    return Calibration(
        parameters=parameters,
        tell_apart=_tell(parameters, spread, notes, len(measured)),
        machine=fitted,
        measured=measured,
        predicted=predicted,
        residuals=predicted - measured,
        run_seconds=extra,
    )


def _check(fit: Sequence[str], measured: NDArray[np.float64]) -> None:
    for name in fit:
        if name not in FITTABLE:
            raise ValueError(f"{name!r} cannot be fitted; choose from {', '.join(FITTABLE)}")
    if len(set(fit)) < len(fit):
        raise ValueError("a parameter is named twice")
    if "acceleration" in fit and any(name.startswith("acceleration-") for name in fit):
        raise ValueError("fit the axes' accelerations together or one by one, not both")
    if not len(measured):
        raise ValueError("no runs to fit to")
    if not (measured > 0.0).all():
        raise ValueError(f"measured times {measured.tolist()}: each must be above 0 s")


class _Model:
    """Predicted times as a function of parameters: logarithms of limits, seconds as they are."""

    def __init__(
        self,
        motions: tuple[Motion, ...],
        machine: Machine,
        progress: Callable[[int], None] | None,
    ) -> None:
        self.motions = motions
        self.machine = machine
        self.progress = progress
        self.made = 0

    def start(self, name: str) -> float:
        """Return where the fit of a parameter starts."""
        if name.startswith("acceleration"):
            return 0.0
        if name == "corner_tolerance":
            return math.log(max(self.machine.corner_tolerance, 1e-3))
        return self.machine.line_seconds if name == "line_seconds" else 0.0

    def machine_with(
        self, names: Sequence[str], values: NDArray[np.float64]
    ) -> tuple[Machine, float]:
        """Return the machine with parameters applied, and the seconds per run."""
        machine, extra = self.machine, 0.0
        for name, value in zip(names, values.tolist(), strict=True):
            if name.startswith("acceleration"):
                axes = ("x", "y", "z") if name == "acceleration" else (name[-1],)
                scale = [math.exp(value) if axis in axes else 1.0 for axis in "xyz"]
                force = machine.acceleration
                scaled = (force[0] * scale[0], force[1] * scale[1], force[2] * scale[2])
                machine = replace(machine, acceleration=scaled)
            elif name == "corner_tolerance":
                machine = replace(machine, corner_tolerance=math.exp(value))
            elif name == "line_seconds":
                machine = replace(machine, line_seconds=max(value, 0.0))
            else:
                extra = max(value, 0.0)
        return machine, extra

    def seconds(self, names: Sequence[str], values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the predicted seconds of every run."""
        machine, extra = self.machine_with(names, values)
        predicted = []
        for motion in self.motions:
            predicted.append(plan_time(motion, machine).seconds + extra)
            self.made += 1
            if self.progress is not None:
                self.progress(self.made)
        return np.array(predicted)


def _step(name: str) -> float:
    """Return the change by which a parameter's effect is looked at."""
    return 0.01 if name in UNITS and UNITS[name] == "s" else 0.05


def _effects(
    model: _Model, names: Sequence[str], values: NDArray[np.float64], measured: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the change of every run, as part of its time, per unit of each parameter."""
    columns = []
    base = model.seconds(names, values)
    for i, name in enumerate(names):
        moved = values.copy()
        moved[i] += _step(name)
        columns.append((model.seconds(names, moved) - base) / _step(name) / measured)
    return np.column_stack(columns)


def _choose(
    model: _Model, names: list[str], measured: NDArray[np.float64]
) -> tuple[list[str], list[str]]:
    """Return the parameters that the runs can tell apart, and notes on the others."""
    start = np.array([model.start(name) for name in names])
    effects = _effects(model, names, start, measured)
    chosen: list[str] = []
    notes: list[str] = []
    kept = np.zeros((len(measured), 0))
    for i, name in enumerate(names):
        column = effects[:, i]
        size = float(np.linalg.norm(column))
        if float(np.abs(column).max()) < UNSEEN:
            notes.append(f"{name}: no run depends on it; kept")
        elif len(chosen) == len(measured):
            notes.append(f"{name}: {len(measured)} runs cannot tell more parameters; kept")
        elif float(np.linalg.norm(column - _projected(kept, column))) < PARALLEL * size:
            others = ", ".join(chosen)
            notes.append(f"{name}: acts on these runs like {others}, not told apart; kept")
        else:
            chosen.append(name)
            kept = np.column_stack([kept, column])
    return chosen, notes


def _projected(basis: NDArray[np.float64], column: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the part of a column that a combination of others can make up."""
    if not basis.shape[1]:
        return np.zeros_like(column)
    scaled = basis / np.linalg.norm(basis, axis=0)
    factors = np.linalg.lstsq(scaled, column, rcond=None)[0]
    projected: NDArray[np.float64] = scaled @ factors
    return projected


def _solve(
    model: _Model, names: Sequence[str], measured: NDArray[np.float64], uncertainty: float | None
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the fitted values and their covariance."""
    from scipy.optimize import least_squares

    if not names:
        return np.zeros(0), np.zeros((0, 0))
    start = np.array([model.start(name) for name in names])
    seconds = np.array([UNITS.get(name) == "s" for name in names])
    low = np.where(seconds, 0.0, start - math.log(1000.0))
    high = np.where(seconds, np.inf, start + math.log(1000.0))
    weights = np.ones(len(measured)) if uncertainty is None else measured / uncertainty
    fit = least_squares(
        lambda values: (model.seconds(names, values) / measured - 1.0) * weights,
        np.where(seconds, np.maximum(start, 1e-6), start),
        bounds=(low, high),
        x_scale=np.where(seconds, 0.1, 1.0),
        diff_step=1e-4,
        xtol=1e-10,
        ftol=1e-12,
        gtol=1e-12,
    )
    values: NDArray[np.float64] = fit.x
    effects = _effects(model, names, values, measured)
    spread = 1.0
    if uncertainty is None:
        freedom = len(measured) - len(names)
        spread = float((fit.fun**2).sum()) / freedom if freedom > 0 else math.nan
    weighted = effects * weights[:, None]
    covariance: NDArray[Any] = np.linalg.pinv(weighted.T @ weighted) * spread
    return values, covariance


def _loose(names: Sequence[str], spread: NDArray[np.float64]) -> int | None:
    """Return which parameter to keep as it was, when a limit is not known to a factor e.

    It is the least wanted of those that can stand in for that limit.
    """
    size = np.sqrt(np.diag(spread))
    for i, name in enumerate(names):
        if UNITS.get(name) == "s" or not size[i] > 1.0:
            continue
        links = np.abs(spread[i]) > LINKED * size[i] * size
        return int(np.flatnonzero(links)[-1])
    return None


def _parameter(name: str, value: float, spread: float, machine: Machine) -> Parameter:
    """Return a parameter in its own unit; spreads of logarithms are relative."""
    if name.startswith("acceleration"):
        axis = "xyz".index(name[-1]) if "-" in name else 0
        real = machine.acceleration[axis]
        return Parameter(name, real, real * spread, "mm/s2")
    if name == "corner_tolerance":
        return Parameter(name, machine.corner_tolerance, machine.corner_tolerance * spread, "mm")
    return Parameter(name, max(value, 0.0), spread, "s")


def _tell(
    parameters: tuple[Parameter, ...], spread: NDArray[np.float64], notes: list[str], runs: int
) -> str:
    """Say in words what the runs determine."""
    lines = []
    for parameter in parameters:
        if math.isnan(parameter.uncertainty):
            lines.append(f"{parameter.name}: determined, {runs} runs leave no scatter to judge by")
        elif parameter.uncertainty > 0.5 * abs(parameter.value):
            lines.append(f"{parameter.name}: poorly determined by these runs")
        else:
            lines.append(f"{parameter.name}: determined")
    for i in range(len(parameters)):
        for j in range(i):
            size = math.sqrt(spread[i, i] * spread[j, j])
            link = spread[i, j] / size if size > 0.0 else 0.0
            if abs(link) > LINKED:
                names = f"{parameters[j].name} and {parameters[i].name}"
                lines.append(f"{names}: hardly told apart (correlation {link:+.2f})")
    return "\n".join([*lines, *notes])


def _with_key(text: str, key: str, value: str) -> str:
    """Return TOML text with one key set, where it stands or before the first table."""
    pattern = re.compile(
        rf"^(?P<head>[ \t]*{key}[ \t]*=[ \t]*)(?P<value>\[[^\]]*\]|\"[^\"]*\"|[^\s#]+)",
        re.MULTILINE,
    )
    table = re.search(r"^[ \t]*\[", text, re.MULTILINE)
    machine = re.search(r"^[ \t]*\[machine\][^\n]*\n", text, re.MULTILINE)
    begin = machine.end() if machine else 0
    after = re.search(r"^[ \t]*\[", text[begin:], re.MULTILINE) if machine else table
    end = begin + after.start() if after else len(text)
    body = text[begin:end]
    found = pattern.search(body)
    if found:
        body = body[: found.start("value")] + value + body[found.end("value") :]
    elif machine or not body.strip():
        body = f"{key} = {value}\n" + body
    else:
        body = body.rstrip("\n") + f"\n{key} = {value}\n" + ("\n" if after else "")
    return text[:begin] + body + text[end:]


def _check_kept(old: str, new: str, changed: set[str]) -> None:
    """Raise when a change of text changed more than the named keys."""
    try:
        before, after = tomllib.loads(old), tomllib.loads(new)
    except tomllib.TOMLDecodeError as error:
        raise ValueError(f"machine file: {error}") from error
    for table in (before, after):
        for place in (table, table.get("machine", {})):
            for key in changed:
                place.pop(key, None)
    if before != after:
        raise ValueError("machine file: the values cannot be set without changing others")


def _replace_file(path: Path, text: str) -> None:
    """Write a file beside the old one and rename it over that."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=path.name, suffix=".new")
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        if path.exists():
            os.chmod(name, path.stat().st_mode & 0o777)
        else:
            os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
