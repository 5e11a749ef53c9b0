"""What may have gone wrong, as data: parameters, and the hypotheses made of them.

A hypothesis is a short list of parameters (or another bit of the rack) with a prior weight. The
weights and sizes below are judgements about a router in a small shop (common practice, no
source); they decide only where the readings cannot.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.gauge.cutter import Array, Cutter
from dryrun.gauge.predict import Change, Predictor

CAUSES: Final = (
    "z-zero", "tilt", "bow", "z-scale", "bit-diameter", "vee-angle", "thickness", "step-loss",
    "wrong-bit", "none",
)  # fmt: skip

#: How often each is to blame before anything is measured.
PRIOR: Final[dict[str, float]] = {
    "none": 0.25,
    "z-zero": 0.30,
    "tilt": 0.10,
    "bow": 0.06,
    "z-scale": 0.06,
    "bit-diameter": 0.07,
    "vee-angle": 0.06,
    "thickness": 0.06,
    "step-loss": 0.04,
    "wrong-bit": 0.04,
}
#: Share of the prior of a cause kept for it together with one more cause.
_TOGETHER: Final = 0.08

#: How often an offset comes with a cause. Where on a tilted or bowed blank Z was zeroed is never
#: known, so there it always may; leaving it out would make the other values look surer than they
#: are.
_OFFSET_BESIDE: Final[dict[str, float]] = {"tilt": 1.0, "bow": 1.0, "z-scale": 0.25}

#: Usual size of each setting error, one standard deviation.
SIZE: Final[dict[str, float]] = {
    "z_zero_mm": 0.3,
    "tilt": 0.3,  # mm from the middle of the blank to its edge
    "bow": 0.3,  # mm between middle and edge
    "z_scale": 0.015,
    "diameter_mm": 0.15,
    "angle_deg": 2.0,
    "thickness_mm": 0.3,
    "shift_z_mm": 0.4,
    "shift_xy_mm": 0.6,
}

#: Readings move by at most so many mm per unit of a parameter; more is the edge of a wall.
_STEEPEST: Final = 20.0
_MOST_BREAKS: Final = 24


@dataclass(frozen=True, slots=True)
class Parameter:
    """One number that may differ from what was declared.

    Attributes
    ----------
    name : str
        As in the JSON: z_zero_mm, tilt_x_mm_per_m, ... The value fitted is the difference from
        the job as declared; `declared` is added for people.
    cause : str
    size : float
        Prior standard deviation of the difference, in `unit`.
    unit : str
    declared : float
    cutter : str
        The bit it belongs to, "" none.
    stage : int
        Stage index it is limited to, -1 all.
    row : int
        First row of motion it acts on, -1 all.
    """

    name: str
    cause: str
    size: float
    unit: str
    declared: float = 0.0
    cutter: str = ""
    stage: int = -1
    row: int = -1


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """A cause, alone or with others.

    Attributes
    ----------
    causes : tuple of str
        The leading cause is settled after the fit when there are several.
    parameters : tuple of int
        Indices into the list of parameters.
    log_prior : float
    swap : (stage index, Cutter) or None
        The bit that may have been in the spindle instead.
    """

    causes: tuple[str, ...]
    parameters: tuple[int, ...]
    log_prior: float
    swap: tuple[int, Cutter] | None = None


@dataclass(slots=True)
class Causes:
    """All parameters and hypotheses for one set of readings."""

    parameters: list[Parameter] = field(default_factory=list)
    hypotheses: list[Hypothesis] = field(default_factory=list)


class Slopes:
    """How readings move with each parameter, by differences of exact predictions."""

    def __init__(self, predictor: Predictor) -> None:
        self.predictor = predictor
        r = predictor.readings
        stock = predictor.stock
        low, high = stock.low, stock.high
        self.x, self.y = r.x, r.y
        self.half = (0.5 * (high[0] - low[0]), 0.5 * (high[1] - low[1]))
        self.centre = (0.5 * (high[0] + low[0]), 0.5 * (high[1] + low[1]))
        self.u, self.v = self.relative(r.x, r.y)

    def relative(self, x: Array, y: Array) -> tuple[Array, Array]:
        """Place on the blank, -1 to 1 from edge to edge both ways."""
        return (x - self.centre[0]) / self.half[0], (y - self.centre[1]) / self.half[1]

    def lift_shape(self, p: Parameter) -> Array | None:
        """How much higher the cutter runs at each reading per unit; None if not of that sort."""
        shape: Array | None = {
            "z_zero_mm": np.ones_like(self.x),
            "tilt_x_mm_per_m": -self.x / 1000,
            "tilt_y_mm_per_m": -self.y / 1000,
            "bow_x_mm": self.u**2,
            "bow_y_mm": self.v**2,
            "shift_z_mm": np.ones_like(self.x),
        }.get(p.name)
        if shape is None:
            return None
        if p.stage >= 0:
            shape = shape * (self.predictor.stage == p.stage)
        if p.row >= 0:
            shape = shape * (self.predictor.row >= p.row)
        return shape

    def change(
        self,
        parameters: Sequence[Parameter],
        values: Iterable[float],
        swap: tuple[int, Cutter] | None = None,
    ) -> Change:
        """Make the change in which each parameter has its value."""
        lift: Array = np.zeros_like(self.x)
        scale, thickness = 1.0, 0.0
        diameter: dict[str, float] = {}
        angle: dict[str, float] = {}
        after: list[float] = [-1, 0.0, 0.0, 0.0]
        for p, value in zip(parameters, values, strict=True):
            shape = self.lift_shape(p)
            if shape is not None:
                lift = lift + value * shape
            elif p.name == "z_scale":
                scale = max(1 + value, 0.01)
            elif p.name == "diameter_mm":
                diameter[p.cutter] = value
            elif p.name == "angle_deg":
                angle[p.cutter] = math.radians(value)
            elif p.name == "thickness_mm":
                thickness = value
            else:
                after[0] = p.row
                after[1 if p.name == "shift_x_mm" else 2] = value
        shift = (int(after[0]), after[1], after[2], after[3]) if after[0] >= 0 else None
        swaps = {} if swap is None else {swap[0]: swap[1]}
        return Change(lift, scale, diameter, angle, swaps, shift, thickness)

    def columns(
        self,
        parameters: Sequence[Parameter],
        values: Sequence[float],
        swap: tuple[int, Cutter] | None = None,
    ) -> tuple[Array, Array]:
        """Return the prediction there, and the slope along each parameter, (n,) and (n, k)."""
        predict = self.predictor.predict
        here = predict(self.change(parameters, values, swap))
        lift: Array | None = None
        moved: dict[tuple[str, str], Array] = {}
        out = np.zeros((len(here), len(parameters)))
        for k, p in enumerate(parameters):
            shape = self.lift_shape(p)
            if shape is not None:
                if lift is None:
                    lift = self._slope(here, parameters, values, swap, "z_zero_mm", "", 1e-3)
                out[:, k] = lift * shape
                continue
            key = (p.name, p.cutter)
            if key not in moved:
                step = 1e-2 if p.name == "angle_deg" else 1e-3
                step = 1e-4 if p.name == "z_scale" else step
                moved[key] = self._slope(here, parameters, values, swap, p.name, p.cutter, step)
            out[:, k] = moved[key] * ((self.predictor.row >= p.row) if p.row >= 0 else 1.0)
        return here, out

    def _slope(
        self,
        here: Array,
        parameters: Sequence[Parameter],
        values: Sequence[float],
        swap: tuple[int, Cutter] | None,
        name: str,
        cutter: str,
        step: float,
    ) -> Array:
        same = [p.name == name and p.cutter == cutter for p in parameters]
        if sum(same) == 1 and name != "z_zero_mm":
            moved = [v + step * s for v, s in zip(values, same, strict=True)]
            there = self.predictor.predict(self.change(parameters, moved, swap))
        else:  # not among them, or there once for each row a step may have been lost at
            row = 0 if name.startswith("shift") else -1
            extra = Parameter(name, "", 1.0, "", cutter=cutter, row=row)
            there = self.predictor.predict(self.change([*parameters, extra], [*values, step], swap))
        slope = (there - here) / step
        limit = _STEEPEST * (1000.0 if name == "z_scale" else 1.0)
        return np.where(np.abs(slope) < limit, slope, 0.0)


def list_causes(predictor: Predictor, slopes: Slopes, rack: Sequence[Cutter]) -> Causes:
    """List the parameters that the readings can feel and the hypotheses to weigh."""
    builder = _Builder(predictor, slopes)
    builder.simple()
    builder.breaks()
    builder.swaps(rack)
    builder.together()
    return builder.causes


class _Builder:
    """Builds the list; one method for each family of hypotheses."""

    def __init__(self, predictor: Predictor, slopes: Slopes) -> None:
        self.predictor = predictor
        self.slopes = slopes
        self.causes = Causes()
        self.blocks: dict[str, list[tuple[int, ...]]] = {}

    def add(self, parameter: Parameter) -> int:
        self.causes.parameters.append(parameter)
        return len(self.causes.parameters) - 1

    def offer(
        self,
        causes: tuple[str, ...],
        parameters: tuple[int, ...],
        weight: float,
        swap: tuple[int, Cutter] | None = None,
    ) -> None:
        self.causes.hypotheses.append(Hypothesis(causes, parameters, math.log(weight), swap))

    def simple(self) -> None:
        """Offer every cause by itself, an offset beside the ones that come with one."""
        half = self.slopes.half
        self.zero = self.add(Parameter("z_zero_mm", "z-zero", SIZE["z_zero_mm"], "mm"))
        tilt = tuple(
            self.add(Parameter(f"tilt_{a}_mm_per_m", "tilt", SIZE["tilt"] / h * 1000, "mm/m"))
            for a, h in zip("xy", half, strict=True)
        )
        bow = [self.add(Parameter(f"bow_{a}_mm", "bow", SIZE["bow"], "mm")) for a in "xy"]
        scale = self.add(Parameter("z_scale", "z-scale", SIZE["z_scale"], "1", 1.0))
        thick = self.add(
            Parameter(
                "thickness_mm", "thickness", SIZE["thickness_mm"], "mm", self.predictor.thickness
            )
        )
        used = {k for k in self.predictor.stage.tolist() if k >= 0}
        cutters = {c.name: c for k, c in enumerate(self.predictor.path.cutters) if c and k in used}
        self.blocks = {
            "z-zero": [(self.zero,)],
            "tilt": [tilt],
            "bow": [(bow[0], bow[1])],
            "z-scale": [(scale,)],
            "bit-diameter": [
                (self.add(Parameter("diameter_mm", "bit-diameter", SIZE["diameter_mm"], "mm",
                                    2 * c.radius, name)),)
                for name, c in cutters.items()
                if c.shape not in ("vee", "drill", "taper-flat")
            ],
            "vee-angle": [
                (self.add(Parameter("angle_deg", "vee-angle", SIZE["angle_deg"], "deg",
                                    _declared_angle(c), name)),)
                for name, c in cutters.items()
                if c.conical
            ],
            "thickness": [(thick,)],
        }  # fmt: skip
        self.offer(("none",), (), PRIOR["none"])
        for cause, blocks in self.blocks.items():
            for block in blocks:
                weight = PRIOR[cause] / len(blocks)
                beside = _OFFSET_BESIDE.get(cause, 0.0)
                if beside > 0:
                    self.offer((cause,), (*block, self.zero), weight * beside)
                if beside < 1:
                    self.offer((cause,), block, weight * (1 - beside))
        if len(used) > 1:
            for k in sorted(used):
                one = Parameter("z_zero_mm", "z-zero", SIZE["z_zero_mm"], "mm", stage=k)
                self.offer(("z-zero",), (self.add(one),), 0.3 * PRIOR["z-zero"] / len(used))

    def breaks(self) -> None:
        """Offer steps lost between any two readings, in the order they were cut."""
        rows = np.unique(self.predictor.row[self.predictor.row >= 0])
        if len(rows) < 2:
            return
        places = rows[1:]
        if len(places) > _MOST_BREAKS:
            places = places[np.linspace(0, len(places) - 1, _MOST_BREAKS).astype(int)]
        sideways = self._feels_sideways()
        weight = PRIOR["step-loss"] / len(places)
        for row in places.tolist():
            up = self.add(Parameter("shift_z_mm", "step-loss", SIZE["shift_z_mm"], "mm", row=row))
            self.offer(("step-loss",), (up,), 0.6 * weight)
            self.offer(("step-loss", "z-zero"), (up, self.zero), 0.6 * _TOGETHER * weight)
            if sideways:
                pair = tuple(
                    self.add(
                        Parameter(f"shift_{a}_mm", "step-loss", SIZE["shift_xy_mm"], "mm", row=row)
                    )
                    for a in "xy"
                )
                self.offer(("step-loss",), pair, 0.4 * weight)

    def _feels_sideways(self) -> bool:
        """Whether any reading stands where the surface slopes, so that a shift shows."""
        predict = self.predictor.predict
        base = self.predictor.base
        moved = predict(Change(after=(0, 0.02, 0.013, 0.0)))  # askew to most walls
        return bool((np.abs(moved - base) > 0.002).any())

    def swaps(self, rack: Sequence[Cutter]) -> None:
        """Offer every other bit of the rack in place of each stage's own."""
        used = sorted({k for k in self.predictor.stage.tolist() if k >= 0})
        pairs = []
        for k in used:
            own = self.predictor.path.cutters[k]
            seen = [own]
            for other in rack:
                if not any(_same(other, s) for s in seen):
                    seen.append(other)
                    pairs.append((k, other))
        for k, other in pairs:
            weight = PRIOR["wrong-bit"] / len(pairs)
            self.offer(("wrong-bit",), (), 0.7 * weight, (k, other))
            self.offer(("wrong-bit",), (self.zero,), 0.3 * weight, (k, other))

    def together(self) -> None:
        """Offer pairs of causes; tilt and bow bring their offset along."""
        names = list(self.blocks)
        for i, first in enumerate(names):
            for second in names[i + 1 :]:
                if first == "z-zero" and second in _OFFSET_BESIDE:
                    continue  # the offset is already beside them
                pairs = [(a, b) for a in self.blocks[first] for b in self.blocks[second]]
                for a, b in pairs:
                    weight = _TOGETHER * (PRIOR[first] + PRIOR[second]) / len(names) / len(pairs)
                    both = tuple(sorted({*a, *b}))
                    if {first, second} & {"tilt", "bow"}:
                        both = tuple(sorted({*both, self.zero}))
                    self.offer((first, second), both, weight)


def _declared_angle(cutter: Cutter) -> float:
    twice = 2 if cutter.shape in ("vee", "drill") else 1
    return math.degrees(cutter.half) * twice


def _same(a: Cutter, b: Cutter | None) -> bool:
    """Whether two cutters leave the same shape."""
    if b is None:
        return False
    same = (a.shape, a.outline) == (b.shape, b.outline)
    return same and bool(
        np.allclose([a.radius, a.half, a.tip], [b.radius, b.half, b.tip], rtol=0, atol=1e-6)
    )


def felt(columns: Array, uncertainty: Array) -> NDArray[np.bool_]:
    """Whether the readings move with each parameter at all, (k,)."""
    moved: NDArray[np.bool_] = (
        np.abs(columns / uncertainty[:, None]).max(axis=0, initial=0.0) > 1e-6
    )
    return moved
