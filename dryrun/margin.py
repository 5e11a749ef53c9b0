"""How much set-up error a job bears before a finding appears, and how likely each finding is.

A set-up error is a small change of what the person does at the machine: Z zero, X/Y zero, the
thickness of the blank, the bit's diameter or angle, a bed that is not level. The programs are not
read again; motion is moved, or the declaration changed, and the job is cut and checked on a coarser
field (depth checks use the exact path in any case).

Where only heights are uncertain (Z zero, thickness), the findings depend on one number a stretch
at a time: two samples with the same findings enclose samples with the same findings, so that a
few cuts answer for thousands of samples. That is taken as true for the codes here, which come and
stay as an error grows, or give way to another one; only past clamps, to the side, they may end,
and a range of those is looked at in eight steps.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.catalogue import ONLY_IN_JOB_FILE, catalogue
from dryrun.job.model import Bit, Job, Machine, Stock
from dryrun.motion import ARC, LINE, Motion
from dryrun.outcome import Outcome, dry_run_again
from dryrun.timing.planner import plan_time

if TYPE_CHECKING:
    from dryrun.finding import Finding
    from dryrun.timing.table import TimeTable


@dataclass(frozen=True, slots=True)
class SetUpError:
    """One kind of set-up error.

    Attributes
    ----------
    key : name on the command line and in the JSON
    title : for people
    unit : "mm", "deg" or "mm/m"
    most : how far it is tried
    meaning : what a positive value means
    """

    key: str
    title: str
    unit: str
    most: float
    meaning: str


ERRORS: Final = (
    SetUpError("z-zero", "Z zero", "mm", 5.0, "zero set too high: cuts too shallow"),
    SetUpError("thickness", "thickness", "mm", 3.0, "the blank is thicker"),
    SetUpError("x-zero", "X zero", "mm", 20.0, "zero too far right"),
    SetUpError("y-zero", "Y zero", "mm", 20.0, "zero too far back"),
    SetUpError("diameter", "bit diameter", "mm", 1.0, "all bits wider"),
    SetUpError("angle", "vee angle", "deg", 15.0, "all vee bits blunter"),
    SetUpError("tilt-x", "tilt along X", "mm/m", 10.0, "deeper towards +X"),
    SetUpError("tilt-y", "tilt along Y", "mm/m", 10.0, "deeper towards +Y"),
)

BY_KEY: Final = {error.key: error for error in ERRORS}

#: Families of findings that a set-up error can bring about.
FAMILIES_OF_PLACE: Final = frozenset({"depth", "rapids", "collisions", "travel"})

#: ... and, of the other families, that a stage cuts nothing any more: what is too shallow first.
ALSO_OF_PLACE: Final = frozenset({"idle-stage"})

#: Errors that move the bit past things: what they bring about may be gone again further on, so
#: that the range is looked at in so many steps.
MOVED_ASIDE: Final = frozenset({"x-zero", "y-zero"})
STEPS_ASIDE: Final = 8

#: Halvings of the range a margin is searched in; the answer is good to the range over 2**this.
HALVINGS: Final = 8

#: Cells of the coarse field, as a part of the smallest diameter, and its limits, mm.
_CELL: Final = (0.1, 0.2, 0.5)


@dataclass(frozen=True, slots=True)
class Margin:
    """How far one error may go one way.

    Attributes
    ----------
    error : which one; `sign` +1 or -1
    bears : the largest value tried that gives no new finding
    breaks : the smallest value tried that does; None when nothing appears up to `error.most`
    first : the finding that appears then
    hurts : whether only findings that can hurt were looked for (`ONLY_IN_JOB_FILE`)
    """

    error: SetUpError
    sign: int
    bears: float
    breaks: float | None
    first: Finding | None
    hurts: bool


class Trial:
    """Cuts and checks a job under set-up errors, and remembers what came out."""

    def __init__(self, outcome: Outcome, threads: int | None = None) -> None:
        if outcome.surface is None or outcome.job.stock is None:
            raise ValueError("margins need a declared blank and a bit for a stage")
        self.outcome = outcome
        self.threads = threads
        self.cell = max(outcome.surface.cell, coarse_cell(outcome.job))
        self.cuts = 0
        self._known: dict[tuple[tuple[str, float], ...], list[Finding]] = {}
        machine = outcome.job.machine or Machine()
        self._codes = {code for code in catalogue() if _of_place(code)}
        self._plain = [(stage.motion, stage.time) for stage in outcome.stages]
        chorded = [_chorded(stage.motion) for stage in outcome.stages]
        self._chorded = [(motion, plan_time(motion, machine)) for motion in chorded]
        self._usual = {(f.code, f.stage) for f in self.findings({})}

    def findings(self, errors: Mapping[str, float]) -> list[Finding]:
        """Return the errors and warnings of the job under set-up errors (values in their units)."""
        key = tuple(sorted((k, round(v, 9)) for k, v in errors.items() if v))
        if key not in self._known:
            job, motions, times = self._moved(dict(key))
            self.cuts += 1
            cell, threads = self.cell, self.threads
            again = dry_run_again(self.outcome, job, motions, times, cell, threads, self._codes)
            self._known[key] = [f for f in again.findings if _about_the_cut(f)]
        return self._known[key]

    def new(self, errors: Mapping[str, float], hurts: bool = False) -> list[Finding]:
        """Return the findings that the job as declared does not have; `hurts` only the worst."""
        found = [f for f in self.findings(errors) if (f.code, f.stage) not in self._usual]
        return [f for f in found if f.code in ONLY_IN_JOB_FILE] if hurts else found

    def _moved(self, errors: dict[str, float]) -> tuple[Job, list[Motion], list[TimeTable]]:
        job = self.outcome.job
        assert job.stock is not None
        stages = tuple(
            replace(s, bit=_other_bit(s.bit, errors)) if s.bit else s for s in job.stages
        )
        job = replace(job, stock=_other_stock(job.stock, errors), stages=stages)
        tilted = bool(errors.get("tilt-x") or errors.get("tilt-y"))
        rows = self._chorded if tilted else self._plain
        moved = [_other_motion(motion, errors) for motion, _ in rows]
        return job, moved, [times for _, times in rows]


def _about_the_cut(finding: Finding) -> bool:
    """Tell whether a finding is about where the bit goes, not about what was declared."""
    return finding.level != "note" and _of_place(finding.code)


def _of_place(code: str) -> bool:
    return code in ALSO_OF_PLACE or catalogue()[code].family in FAMILIES_OF_PLACE


def coarse_cell(job: Job) -> float:
    """Return a cell that is coarse, but still shows the smallest straight bit, mm."""
    part, low, high = _CELL
    bits = [s.bit.diameter for s in job.stages if s.bit is not None]
    return min(high, max(low, part * min(bits, default=high)))


def _other_stock(stock: Stock, errors: Mapping[str, float]) -> Stock:
    more = errors.get("thickness", 0.0)
    if not more:
        return stock
    x, y, z = stock.zero_at
    # Z zero at the bed stays at the bed: it is the top that rises.
    at_bed = abs(stock.bed) < 1e-9
    size = (stock.size[0], stock.size[1], max(0.05, stock.size[2] + more))
    return replace(stock, size=size, zero_at=(x, y, -size[2] if at_bed else z))


def _other_bit(bit: Bit, errors: Mapping[str, float]) -> Bit:
    wider = errors.get("diameter", 0.0)
    blunter = math.radians(errors.get("angle", 0.0))
    if wider and bit.shape != "form":
        bit = replace(bit, diameter=max(0.05, bit.diameter + wider))
    if blunter and bit.shape == "vee" and bit.angle is not None:
        bit = replace(bit, angle=min(math.radians(175), max(math.radians(5), bit.angle + blunter)))
    return bit


def _other_motion(motion: Motion, errors: Mapping[str, float]) -> Motion:
    shift = np.array([errors.get(k, 0.0) for k in ("x-zero", "y-zero", "z-zero")])
    slope = np.array([errors.get("tilt-x", 0.0), errors.get("tilt-y", 0.0)]) / 1000.0
    if not shift.any() and not slope.any():
        return motion

    def moved(points: NDArray[np.float64]) -> NDArray[np.float64]:
        places: NDArray[np.float64] = points + shift
        places[:, 2] -= places[:, :2] @ slope
        return places

    return replace(
        motion, start=moved(motion.start), end=moved(motion.end), centre=motion.centre + shift
    )


def _chorded(motion: Motion, angle: float = math.radians(3.0)) -> Motion:
    """Return the motion with arcs as chords, so that a tilt keeps every row a straight line.

    Chords stand for the rows of one arc and keep its line; findings by row number are not used.
    """
    arcs = motion.kind == ARC
    if not arcs.any():
        return motion
    pieces = np.where(arcs, np.ceil(np.abs(motion.sweep) / angle), 1).astype(int)
    row = np.repeat(np.arange(len(motion)), pieces)
    step = np.arange(len(row)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    begin = _along(motion, row, step / pieces[row])
    stop = _along(motion, row, (step + 1) / pieces[row])
    out = motion.rows(row)
    kind = np.where(out.kind == ARC, LINE, out.kind).astype(np.int8)
    nowhere = np.full((len(row), 3), np.nan)
    axis = np.full(len(row), -1, np.int8)
    zero = np.zeros(len(row))
    return replace(out, kind=kind, start=begin, end=stop, centre=nowhere, axis=axis, sweep=zero)


def _along(
    motion: Motion, row: NDArray[np.int64], share: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return places along rows, arcs along their circle."""
    place = motion.start[row] + share[:, None] * (motion.end[row] - motion.start[row])
    place[share == 1.0] = motion.end[row[share == 1.0]]
    for axis in range(3):
        on = (motion.axis[row] == axis) & (share > 0.0) & (share < 1.0)
        u, v = (axis + 1) % 3, (axis + 2) % 3
        spoke = motion.start[row[on]] - motion.centre[row[on]]
        turn = share[on] * motion.sweep[row[on]]
        place[on, u] = (
            motion.centre[row[on], u] + spoke[:, u] * np.cos(turn) - spoke[:, v] * np.sin(turn)
        )
        place[on, v] = (
            motion.centre[row[on], v] + spoke[:, u] * np.sin(turn) + spoke[:, v] * np.cos(turn)
        )
    return place


# ---------------------------------------------------------------- margins


def margins(trial: Trial, progress: Callable[[str, int, int], None] | None = None) -> list[Margin]:
    """Return how far each error may go either way before a new error or warning appears."""
    errors = list(applicable(trial.outcome.job))
    wanted = [(e, sign, hurts) for e in errors for hurts in (False, True) for sign in (-1, 1)]
    found = []
    for done, case in enumerate(wanted):
        if progress:
            progress("trying set-up errors", done, len(wanted))
        found.append(_margin(trial, *case))
    return found


def applicable(job: Job) -> Iterator[SetUpError]:
    """Yield the kinds of error that can matter to a job."""
    shapes = {s.bit.shape for s in job.stages if s.bit is not None}
    for error in ERRORS:
        if error.key == "angle" and "vee" not in shapes:
            continue
        yield error


def _margin(trial: Trial, error: SetUpError, sign: int, hurts: bool) -> Margin:
    steps = STEPS_ASIDE if error.key in MOVED_ASIDE else 1
    low = 0.0
    for step in range(1, steps + 1):
        high = error.most * step / steps
        first = trial.new({error.key: sign * high}, hurts)
        if first:
            break
        low = high
    else:
        return Margin(error, sign, error.most, None, None, hurts)
    while high - low > error.most / 2**HALVINGS * 1.001:
        middle = (low + high) / 2
        found = trial.new({error.key: sign * middle}, hurts)
        if found:
            high, first = middle, found
        else:
            low = middle
    return Margin(error, sign, low, high, first[0], hurts)


# ---------------------------------------------------------------- chances


#: Which findings: code and stage.
Codes = frozenset[tuple[str, "int | None"]]

#: Does many samples elsewhere, and yields what `new_codes` returns for each, in order.
Spread = Callable[[Sequence[Mapping[str, float]]], Iterable[Codes]]


@dataclass(frozen=True, slots=True)
class Chance:
    """How likely a finding is: part of the samples, and its 95 % interval (Wilson 1927)."""

    code: str
    stage: int | None
    probability: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Chances:
    """A Monte-Carlo estimate: of each finding that appeared, and of any at all."""

    samples: int
    seed: int
    any_finding: Chance
    each: tuple[Chance, ...]


def chances(
    trial: Trial,
    tolerances: Mapping[str, float],
    samples: int = 400,
    seed: int = 1,
    progress: Callable[[str, int, int], None] | None = None,
    spread: Spread | None = None,
) -> Chances:
    """Estimate the chance of each new finding when errors lie within tolerances.

    With several errors each sample is a dry run; `spread` may do those in other processes.

    Errors are drawn evenly from -tolerance to +tolerance (a rectangular distribution, as for a
    stated limit: JCGM 100:2008, 4.3.7), independently of each other.

    Raises
    ------
    ValueError
        For an unknown error, or a tolerance below 0.
    """
    for key, value in tolerances.items():
        if key not in BY_KEY:
            raise ValueError(f"there is no set-up error {key!r}; known are {', '.join(BY_KEY)}")
        if not value >= 0:
            raise ValueError(f"the tolerance of {key} must be 0 or more, not {value:g}")
    keys = [k for k, v in tolerances.items() if v > 0]
    draw = np.random.default_rng(seed).uniform(-1.0, 1.0, (samples, len(keys)))
    values = draw * np.array([tolerances[k] for k in keys])
    if len(keys) == 1:
        sets = _one_number(trial, keys[0], values[:, 0])
    else:
        errors = [dict(zip(keys, row.tolist(), strict=True)) for row in values]
        sets = []
        for found in spread(errors) if spread else (new_codes(trial, e) for e in errors):
            sets.append(found)
            if progress:
                progress("drawing set-up errors", len(sets), samples)
    return _count(sets, samples, seed)


def new_codes(trial: Trial, errors: Mapping[str, float]) -> Codes:
    """Return code and stage of each finding that the job as declared does not have."""
    return frozenset((f.code, f.stage) for f in trial.new(errors))


def _one_number(trial: Trial, key: str, values: NDArray[np.float64]) -> list[Codes]:
    """Find the sets of all samples of one error by halving the stretches that differ."""
    order = np.argsort(values, kind="stable")
    sets: list[Codes] = [frozenset()] * len(values)

    def at(k: int) -> Codes:
        return new_codes(trial, {key: float(values[order[k]])})

    if not len(values):
        return sets
    parts = STEPS_ASIDE if key in MOVED_ASIDE else 1
    ends = sorted({round(k) for k in np.linspace(0, max(0, len(values) - 1), parts + 1)})
    stack = [(i, j, at(i), at(j)) for i, j in zip(ends, ends[1:] or ends, strict=False)]
    while stack:
        i, j, a, b = stack.pop()
        if a == b or j - i <= 1:
            for k in range(i, j + 1):
                sets[order[k]] = a if k < j or a == b else b
            continue
        middle = (i + j) // 2
        found = at(middle)
        stack += [(i, middle, a, found), (middle, j, found, b)]
    return sets


def _count(sets: list[Codes], samples: int, seed: int) -> Chances:
    names = sorted(set().union(*sets), key=lambda n: (n[0], n[1] or 0)) if sets else []
    each = [_chance(*name, sum(name in s for s in sets), samples) for name in names]
    each.sort(key=lambda c: (-c.probability, c.code, c.stage or 0))
    total = _chance("any", None, sum(bool(s) for s in sets), samples)
    return Chances(samples, seed, total, tuple(each))


def _chance(code: str, stage: int | None, hits: int, samples: int) -> Chance:
    low, high = wilson(hits, samples)
    return Chance(code, stage, hits / samples if samples else 0.0, low, high)


def wilson(hits: int, samples: int, z: float = 1.959963984540054) -> tuple[float, float]:
    """Return the 95 % score interval of a part (Wilson 1927, J. Am. Stat. Assoc. 22, 209-212)."""
    if not samples:
        return 0.0, 1.0
    p = hits / samples
    scale = 1.0 + z * z / samples
    middle = (p + z * z / (2 * samples)) / scale
    half = z * math.sqrt(p * (1 - p) / samples + z * z / (4 * samples**2)) / scale
    return max(0.0, middle - half), min(1.0, middle + half)
