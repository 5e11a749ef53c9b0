"""From readings to weighed causes: linearise, weigh, set misreadings aside, linearise again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.gauge import evidence
from dryrun.gauge.causes import Causes, Hypothesis, Parameter, Slopes, felt, list_causes
from dryrun.gauge.cutter import Array, Cutter
from dryrun.gauge.evidence import Estimate, Problem
from dryrun.gauge.predict import Predictor
from dryrun.gauge.uncertainty import mixture_quantile, student_quantile

#: A reading set aside with this probability stays aside for every hypothesis.
_SURE: Final = 0.95
#: Hypotheses this far (natural log) below the best are not linearised again.
_FAR: Final = 14.0
_MOST_REFINED: Final = 6
#: Linearise again when the exact prediction differs by more than this many uncertainties.
_BENT: Final = 0.1
#: Weights below this share of their cause do not enter its interval.
_SMALL: Final = 0.004
_LARGE_SET: Final = 1500


@dataclass(frozen=True, slots=True)
class Interval:
    """A parameter's value and its 95 % interval, in `unit`."""

    value: float
    low: float
    high: float
    uncertainty: float
    unit: str


@dataclass(frozen=True, slots=True)
class WeighedCause:
    """One cause with all hypotheses it leads.

    Attributes
    ----------
    cause : str
    probability : float
    parameters : dict of Interval by JSON name
    beside : tuple of str
        Other causes the best hypothesis needs.
    bit : str
        Name of the bit it concerns, "" none.
    stage : int
        Stage index it concerns, -1 all.
    row : int
        First row of motion after a lost step, -1 none.
    estimate : Estimate
        Of the best hypothesis.
    loose : tuple of str
        Parameters that the readings hardly pin down.
    hypothesis : int
    """

    cause: str
    probability: float
    parameters: dict[str, Interval]
    beside: tuple[str, ...]
    bit: str
    stage: int
    row: int
    estimate: Estimate
    loose: tuple[str, ...]
    hypothesis: int


@dataclass(frozen=True, slots=True)
class Inference:
    """Weighed causes, likeliest first, and the probability of each reading being misread."""

    causes: tuple[WeighedCause, ...]
    misread: Array
    trust: int


class Solver:
    """Weighs the causes for one set of readings.

    Parameters
    ----------
    predictor : Predictor
    value, uncertainty : (n,) float64
        Readings, mm.
    declared : (n,) bool
    rack : sequence of Cutter
    """

    def __init__(
        self,
        predictor: Predictor,
        value: Array,
        uncertainty: Array,
        declared: NDArray[np.bool_],
        rack: Sequence[Cutter],
    ) -> None:
        self.value, self.uncertainty = value, uncertainty
        self.slopes = Slopes(predictor)
        listed = list_causes(predictor, self.slopes, rack)
        self.parameters = listed.parameters
        self.sizes = np.array([p.size for p in self.parameters])
        base, slopes = self.slopes.columns(self.parameters, [0.0] * len(self.parameters))
        alive = felt(slopes, uncertainty)
        self.hypotheses = _prune(listed, alive)
        trusted = evidence.TRUST_DECLARED if bool(declared.all()) else evidence.TRUST_USUAL
        self.trust = trusted
        self._y = [(value - base) / uncertainty]
        self._columns = [slopes * self.sizes / uncertainty[:, None]]
        self._variant = np.zeros(len(self.hypotheses), np.int64)
        self._add_swaps()
        width = max((len(h.parameters) for h in self.hypotheses), default=0)
        self._index = np.full((len(self.hypotheses), max(width, 1)), -1, np.int64)
        for m, h in enumerate(self.hypotheses):
            self._index[m, : len(h.parameters)] = h.parameters
        self._log_prior = np.array([h.log_prior for h in self.hypotheses])
        used = {k for k in predictor.stage.tolist() if k >= 0}
        shapes = {c.shape for k, c in enumerate(predictor.path.cutters) if c and k in used}
        self._curved = not shapes <= {"flat", "vee", "drill", "taper-flat"}
        self.aside = np.zeros(len(value), dtype=bool)

    def _add_swaps(self) -> None:
        """Give each other bit of the rack its own prediction.

        The slope along Z zero is borrowed from the declared bit until `_refine` takes the true one.
        """
        lift = self._columns[0][:, :1] * self.uncertainty[:, None] / self.sizes[0]
        known: dict[tuple[int, str], int] = {}
        for m, h in enumerate(self.hypotheses):
            if h.swap is None:
                continue
            key = (h.swap[0], h.swap[1].name)
            if key not in known:
                here = self.slopes.predictor.predict(self.slopes.change([], [], h.swap))
                known[key] = self._add_variant(here, lift, [0])
            self._variant[m] = known[key]

    def _add_variant(self, predicted: Array, slopes: Array, chosen: Sequence[int]) -> int:
        columns = np.zeros_like(self._columns[0])
        columns[:, chosen] = slopes * self.sizes[list(chosen)] / self.uncertainty[:, None]
        self._y.append((self.value - predicted) / self.uncertainty)
        self._columns.append(columns)
        return len(self._y) - 1

    def _problem(self, keep: NDArray[np.bool_]) -> Problem:
        return Problem(
            np.stack(self._y)[:, keep],
            np.stack(self._columns)[:, keep],
            np.log(self.uncertainty[keep]),
            self.trust,
        )

    # ------------------------------------------------------------ the steps

    def solve(self) -> Inference:
        """Weigh, set sure misreadings aside, linearise about the best, weigh again."""
        log_weight = self._set_aside()
        changed = self._refine(log_weight, self._worth_refining(log_weight))
        for _ in range(2):
            if not changed:
                break
            log_weight[changed] = self._score(np.array(changed))
            changed = self._refine(log_weight, changed)
        return self._conclude(log_weight)

    def _score(self, which: NDArray[np.int64]) -> Array:
        """Log weights (m, n + 1) over all readings; ones set aside cannot be misread again."""
        keep = ~self.aside
        used = np.unique(self._variant[which])
        problem = self._problem(keep)
        problem = replace(problem, y=problem.y[used], columns=problem.columns[used])
        scores = evidence.score(
            problem,
            self._index[which],
            np.searchsorted(used, self._variant[which]),
            self._log_prior[which],
        ).log_weight
        out = np.full((len(which), len(self.value) + 1), -np.inf)
        out[:, 0] = scores[:, 0]
        if scores.shape[1] > 1:
            out[:, 1 + np.flatnonzero(keep)] = scores[:, 1:]
        return out

    def _set_aside(self) -> Array:
        """Set readings aside one by one while one of the rest is surely misread."""
        every = np.arange(len(self.hypotheses))
        most = max(1, len(self.value) // 5)
        while True:
            log_weight = self._score(every)
            misread = evidence.Scores(log_weight).misread()
            worst = int(np.argmax(misread))
            kept = int((~self.aside).sum())
            if misread[worst] < _SURE or self.aside.sum() >= most or kept <= 4:
                return log_weight
            self.aside[worst] = True
            if kept - 1 < 5:  # too few left to doubt another one
                return self._score(every)

    def _best_set(self, log_weight: Array, m: int) -> NDArray[np.bool_]:
        keep = ~self.aside
        column = int(np.argmax(log_weight[m]))
        if column:
            keep[column - 1] = False
        return keep

    def _estimate(self, m: int, keep: NDArray[np.bool_]) -> Estimate:
        v = int(self._variant[m])
        problem = Problem(
            self._y[v][None], self._columns[v][None], np.log(self.uncertainty), self.trust
        )
        return evidence.estimate(problem, self.hypotheses[m].parameters, 0, keep)

    def _worth_refining(self, log_weight: Array) -> list[int]:
        """Pick the best hypotheses, and the best of each cause that is not far behind."""
        weight = evidence.log_sum(log_weight, axis=1)
        order = np.argsort(-weight, kind="stable")
        seen: set[tuple[str, ...]] = set()
        chosen: list[int] = []
        for m in order.tolist():
            h = self.hypotheses[m]
            if weight[m] < weight[order[0]] - _FAR or len(chosen) >= _MOST_REFINED:
                break
            near = weight[m] > weight[order[0]] - 3.5
            if h.parameters and (near or h.causes not in seen):
                chosen.append(m)
            seen.add(h.causes)
        return chosen

    def _refine(self, log_weight: Array, chosen: Sequence[int]) -> list[int]:
        """Linearise again about the estimates; return the hypotheses for which that mattered."""
        return [
            m
            for k, m in enumerate(chosen)
            if (k == 0 or self._bends(m)) and self._relinearise(m, log_weight)
        ]

    def _bends(self, m: int) -> bool:
        """Whether readings may move otherwise than in proportion under a hypothesis.

        Flat floors and straight flanks move in proportion to everything but a cone's angle.
        """
        h = self.hypotheses[m]
        names = {self.parameters[k].name for k in h.parameters}
        return h.swap is not None or "angle_deg" in names or self._curved

    def _relinearise(self, m: int, log_weight: Array) -> bool:
        h = self.hypotheses[m]
        found = self._estimate(m, self._best_set(log_weight, m))
        index = list(h.parameters)
        parameters = [self.parameters[k] for k in index]
        theta = found.value * self.sizes[index]
        exact = self.slopes.predictor.predict(self.slopes.change(parameters, theta, h.swap))
        residual = (self.value - exact) / self.uncertainty
        if float(np.abs(residual - found.residual).max()) < _BENT:
            return False
        here, slopes = self.slopes.columns(parameters, theta.tolist(), h.swap)
        self._variant[m] = self._add_variant(here - slopes @ theta, slopes, index)
        return True

    # ------------------------------------------------------------ the conclusion

    def _conclude(self, log_weight: Array) -> Inference:
        total = evidence.log_sum(log_weight.ravel()[None], axis=1)[0]
        share = np.exp(log_weight - total)
        misread = np.where(self.aside, 1.0, share[:, 1:].sum(axis=0))
        weight = share.sum(axis=1)
        groups: dict[str, list[int]] = {}
        for m in np.argsort(-weight, kind="stable").tolist():
            groups.setdefault(self._leading(m, log_weight, weight[m]), []).append(m)
        causes = [self._weigh(c, members, log_weight, share) for c, members in groups.items()]
        causes.sort(key=lambda c: -c.probability)
        return Inference(tuple(causes), misread, self.trust)

    def _leading(self, m: int, log_weight: Array, weight: float) -> str:
        """Name the cause that explains most of what a hypothesis with two causes explains."""
        h = self.hypotheses[m]
        if len(h.causes) == 1 or weight < 1e-6 or h.causes == ("step-loss", "z-zero"):
            return h.causes[0]
        found = self._estimate(m, self._best_set(log_weight, m))
        columns = self._columns[int(self._variant[m])]
        explained = {c: np.zeros(len(self.value)) for c in h.causes}
        for k, value in zip(h.parameters, found.value.tolist(), strict=True):
            cause = self.parameters[k].cause
            if cause in explained:
                explained[cause] = explained[cause] + columns[:, k] * value
        return max(h.causes, key=lambda c: float((explained[c] ** 2).sum()))

    def _weigh(
        self, cause: str, members: list[int], log_weight: Array, share: Array
    ) -> WeighedCause:
        best = members[0]
        h = self.hypotheses[best]
        found = self._estimate(best, self._best_set(log_weight, best))
        probability = float(share[members].sum())
        parts = self._parts(members, log_weight, found, best, probability)
        intervals, loose = {}, []
        for k, value, u in zip(
            h.parameters, found.value.tolist(), found.uncertainty.tolist(), strict=True
        ):
            p = self.parameters[k]
            intervals[p.name] = _interval(p, value, u, parts[self._meaning(p)])
            # A difference known no better than to its usual size was not measured.
            if u > 1.0:
                loose.append(p.name)
        own = [self.parameters[k] for k in h.parameters if self.parameters[k].cause == cause]
        swap = h.swap
        return WeighedCause(
            cause,
            probability,
            intervals,
            tuple(dict.fromkeys(self.parameters[k].cause for k in h.parameters
                                if self.parameters[k].cause != cause)),
            swap[1].name if swap else next((p.cutter for p in own if p.cutter), ""),
            swap[0] if swap else next((p.stage for p in own if p.stage >= 0), -1),
            next((p.row for p in own if p.row >= 0), -1),
            found,
            tuple(loose),
            best,
        )  # fmt: skip

    @staticmethod
    def _meaning(p: Parameter) -> tuple[str, str, int]:
        """Two parameters of one meaning may share an interval; a lost step has one for any row."""
        return (p.name, p.cutter, p.stage)

    def _parts(
        self,
        members: list[int],
        log_weight: Array,
        found: Estimate,
        best: int,
        probability: float,
    ) -> dict[tuple[str, str, int], list[tuple[float, float, float, int]]]:
        """Collect the estimates of every hypothesis and misreading that carries weight."""
        total = evidence.log_sum(log_weight[members].ravel()[None], axis=1)[0]
        share = np.exp(log_weight[members] - total)
        out: dict[tuple[str, str, int], list[tuple[float, float, float, int]]] = {}
        rows, columns = np.nonzero(share > (_SMALL if probability > 5e-3 else 0.999))
        order = np.argsort(-share[rows, columns], kind="stable")[:12]
        for i in order.tolist():
            m, column = members[int(rows[i])], int(columns[i])
            keep = ~self.aside
            if column:
                keep[column - 1] = False
            e = self._estimate(m, keep)
            self._add_parts(out, m, e, float(share[rows[i], columns[i]]))
        if not out:
            self._add_parts(out, best, found, 1.0)
        for k in self.hypotheses[best].parameters:
            if self._meaning(self.parameters[k]) not in out:
                self._add_parts(out, best, found, 1.0)
        return out

    def _add_parts(
        self,
        out: dict[tuple[str, str, int], list[tuple[float, float, float, int]]],
        m: int,
        e: Estimate,
        weight: float,
    ) -> None:
        for k, value, u in zip(
            self.hypotheses[m].parameters, e.value.tolist(), e.uncertainty.tolist(), strict=True
        ):
            out.setdefault(self._meaning(self.parameters[k]), []).append(
                (weight, value, u, e.freedom)
            )


def _interval(
    p: Parameter, value: float, u: float, parts: list[tuple[float, float, float, int]]
) -> Interval:
    if len(parts) == 1:
        _, centre, scale, freedom = parts[0]
        half = scale * student_quantile(0.975, freedom)
        low, high = centre - half, centre + half
    else:
        low, high = mixture_quantile(0.025, parts), mixture_quantile(0.975, parts)
    at, size = p.declared, p.size
    low, high = at + size * min(low, value), at + size * max(high, value)
    return Interval(at + size * value, low, high, u * size, p.unit)


def _prune(listed: Causes, alive: NDArray[np.bool_]) -> list[Hypothesis]:
    """Leave out what the readings cannot feel, and what then says the same twice."""
    seen: dict[tuple[tuple[str, ...], tuple[int, ...], object], int] = {}
    out: list[Hypothesis] = []
    for h in listed.hypotheses:
        kept = tuple(k for k in h.parameters if alive[k] or (h.swap and k == 0))
        felt_causes = {listed.parameters[k].cause for k in kept}
        if h.swap is None and not set(h.causes) - {"none"} <= felt_causes:
            continue
        swap = None if h.swap is None else (h.swap[0], h.swap[1].name)
        key = (h.causes, kept, swap)
        if key in seen:
            old = out[seen[key]]
            both = float(np.logaddexp(old.log_prior, h.log_prior))
            out[seen[key]] = replace(old, log_prior=both)
            continue
        seen[key] = len(out)
        out.append(replace(h, parameters=kept))
    return out
