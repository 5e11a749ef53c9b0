"""Plan the time of a program: `plan_time`, the room's front door."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.cores import usable_cores
from dryrun.job.model import Machine
from dryrun.motion import DWELL, PROBE, STOP, TOOL, Motion
from dryrun.timing import backward, causes, forward, parts, path, scurve  # noqa: F401 - kernels
from dryrun.timing import books as table_of
from dryrun.timing.books import Books
from dryrun.timing.limits import Limits, limits_of
from dryrun.timing.path import Path, Rules
from dryrun.timing.survey import survey_rows
from dryrun.timing.table import TimeTable
from dryrun.timing.twice import compiled, plain

Progress = Callable[[int, int], None]
Kernels = dict[str, Callable[..., Any]]

#: Programs of up to this many steps are planned in plain Python: loading the compiler takes longer.
PLAIN_STEPS: Final = 4000

#: Rows between two chances to interrupt while the look-ahead is worked out.
CHUNK: Final = 250_000


class Standing(NamedTuple):
    """Seconds that each row stands still before or instead of moving, by cause."""

    seconds: dict[int, NDArray[Any]]
    stops: NDArray[np.bool_]
    unknown: NDArray[np.bool_]


def plan_time(
    motion: Motion,
    machine: Machine,
    *,
    progress: Progress | None = None,
    threads: int | None = None,
) -> TimeTable:
    """Predict how long a machine takes for a program, and why.

    Parameters
    ----------
    motion : Motion
        The program as rows; rows whose place or speed is not known take no time and are counted.
    machine : Machine
        Its limits; the defaults of `Machine` are those of a small router.
    progress : callable, optional
        Called with (rows done, rows in all).
    threads : int, optional
        How many threads survey a long program; None one for each core. The result does not depend
        on it.

    Returns
    -------
    TimeTable
        Seconds, speeds and limiting cause of each row, and sums of them.

    Raises
    ------
    ValueError
        When a limit of the machine is not above 0.

    Notes
    -----
    The path is that of the program with its corners rounded within the allowed deviation. On it the
    speed is the highest at which every axis keeps its rate and acceleration, and the controller its
    look-ahead. Servo lag, feed override and waiting for a person are not in it.

    Examples
    --------
    >>> plan_time(Motion.empty(), Machine()).seconds
    0.0
    """
    small = len(motion) <= PLAIN_STEPS
    kernels = plain() if small else compiled()
    workers = threads if threads is not None else usable_cores()
    return plan_with(kernels, motion, machine, progress, small, PLAIN_STEPS, workers)


def plan_with(
    kernels: Kernels,
    motion: Motion,
    machine: Machine,
    progress: Progress | None,
    small: bool,
    most: int | None = None,
    threads: int = 1,
) -> TimeTable:
    """Plan with the given kernels; `small` says that they are plain Python.

    When the chain turns out to have more than `most` steps, compiled ones take over.
    """
    report = progress or _silent
    limits = limits_of(machine)
    rows = len(motion)
    standing = standing_time(motion, machine)
    rules = Rules(
        limits=limits,
        tolerance=float(machine.corner_tolerance),
        lines_per_second=float(machine.lines_per_second or 0.0),
        independent=machine.rapids == "independent",
        blind=machine.look_ahead == 0,
    )
    chain, state = survey_rows(kernels, motion, standing.stops, rules, small, threads)
    if small and most is not None and int(chain.codes[-1, path.NODE]) > most:
        kernels, small = compiled(), False
    books = run_passes(kernels, chain, limits, machine, rows, report, small, threads)
    separate = state == path.SEPARATE
    if separate.any():
        enter_separate(kernels, motion, limits, separate, books)
    report(rows, rows)
    return TimeTable(
        motion=motion,
        moving_seconds=_frozen(books.result[table_of.SECONDS]),
        standing_seconds=_frozen(sum(standing.seconds.values(), np.zeros(rows))),
        entry_speed=_frozen(books.result[table_of.ENTRY]),
        cruise_speed=_frozen(books.result[table_of.PEAK]),
        exit_speed=_frozen(books.result[table_of.EXIT]),
        cause=_frozen(cause_of_rows(books, standing, state)),
        at_feed=_frozen(books.result[table_of.AT_FEED]),
        ramping=_frozen(books.result[table_of.RAMP]),
        waiting=_frozen(books.result[table_of.WAIT]),
        naive_row_seconds=_frozen(books.result[table_of.PLAIN]),
        lost=tuple(float(value) for value in books.lost.sum(axis=0)),
        standing={code: float(part.sum()) for code, part in standing.seconds.items()},
        unknown_rows=int((state == path.UNKNOWN).sum() + standing.unknown.sum()),
    )


def _silent(done: int, total: int) -> None:
    """Report nothing."""


def _frozen(array: NDArray[Any]) -> NDArray[Any]:
    array = np.ascontiguousarray(array)
    array.flags.writeable = False
    return array


def standing_time(motion: Motion, machine: Machine) -> Standing:
    """Find where the machine stands, and for how long by declaration."""
    kind = motion.kind
    dwelling = kind == DWELL
    unknown = dwelling & ~((motion.seconds >= 0.0) & (motion.seconds < np.inf))
    starts = spindle_starts(motion)
    seconds: dict[int, NDArray[Any]] = {}
    if dwelling.any():
        seconds[causes.DWELL] = np.where(dwelling & ~unknown, motion.seconds, 0.0)
    for code, where, each in (
        (causes.SPINDLE_START, starts, machine.spindle.start_seconds),
        (causes.TOOL_CHANGE, kind == TOOL, machine.tool_change_seconds),
        (causes.PAUSE, kind == STOP, machine.pause_seconds),
        (causes.PROBE, kind == PROBE, machine.probe_seconds),
    ):
        if each > 0.0 and where.any():
            seconds[code] = where * float(each)
    if machine.line_seconds > 0.0 and len(motion):
        new = np.ones(len(motion), np.bool_)
        new[1:] = (motion.line[1:] != motion.line[:-1]) | (motion.source[1:] != motion.source[:-1])
        seconds[causes.LINE_OVERHEAD] = new * float(machine.line_seconds)
    return Standing(seconds, starts, unknown)


def spindle_starts(motion: Motion) -> NDArray[np.bool_]:
    """Say before which rows the spindle has to come up to speed.

    It does when it stood or turned the other way, and after a tool change, which stops it (NISTIR
    6556 3.6.3). A spindle turning at a speed that the program never said turns clockwise here.
    """
    spindle, changing = motion.spindle, motion.kind == TOOL
    starts = np.zeros(len(motion), np.bool_)
    if not len(motion):
        return starts
    # only where something changed, which is at few rows (NaN differs from itself, and is looked at)
    rows = np.flatnonzero((spindle[1:] != spindle[:-1]) | changing[:-1]) + 1
    rows = np.concatenate([[0], rows])
    way = _way(spindle[rows])
    before = np.where(changing[rows - 1], 0.0, _way(spindle[rows - 1]))
    before[0] = 0.0
    starts[rows] = (way != 0.0) & (way != before) & ~changing[rows]
    return starts


def _way(spindle: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return 1 where the spindle turns clockwise, -1 where the other way, 0 where it stands."""
    return np.sign(np.where(np.isnan(spindle), 1.0, spindle))


def run_passes(
    kernels: Kernels,
    chain: Path,
    limits: Limits,
    machine: Machine,
    rows: int,
    report: Progress,
    small: bool,
    threads: int = 1,
) -> Books:
    """Run the passes over a chain; `rows` is the number of motion rows."""
    count = len(chain.codes) - 1
    last = int(chain.codes[-1, path.NODE])
    nodes = np.zeros(last + 1)
    why = np.full(last + 1, causes.ACCELERATION, np.int8)
    jerk = machine.jerk is not None
    books = Books(
        tally=np.zeros(table_of.TALLY),
        result=np.zeros((table_of.RESULT_WIDTH, rows)),
        cause=np.zeros(rows, np.int8),
        lost=np.zeros((2, causes.COUNT)),
        steps=np.zeros((last if jerk else 0, table_of.STEP_WIDTH)),
    )
    way, notes = (path.views(chain), path.views(books)) if small else (chain, books)
    speeds, reasons = (path.view(nodes), path.view(why)) if small else (nodes, why)
    chunks = [(begin, min(begin + CHUNK, count)) for begin in range(0, count, CHUNK)]
    if machine.look_ahead:
        power = np.zeros(count)
        force = path.view(power) if small else power
        for begin, end in chunks:
            kernels["stopping"](way, limits, speeds, reasons, force, begin, end)
        kernels["buffer_gates"](way.rows, way.codes, force, int(machine.look_ahead), count)
        why[last], nodes[last] = causes.ACCELERATION, 0.0
    if small:
        kernels["backward"](*way, limits, speeds, reasons, (0, count), False)
        kernels["forward"](way, limits, speeds, reasons, notes, 0, count, causes.ACCELERATION)
    else:
        plan = parts.Plan(kernels, chain, limits, nodes, why, threads)
        parts.backward(plan)
        report(count // 2, rows)
        parts.forward(plan, books, causes.ACCELERATION)
    if jerk and count:
        smooth_chain(kernels, chain, limits, nodes, books, small)
    return books


def smooth_chain(
    kernels: Kernels,
    chain: Path,
    limits: Limits,
    nodes: NDArray[np.float64],
    books: Books,
    small: bool,
) -> None:
    """Replace the plan by one with limited jerk."""
    count = len(chain.codes) - 1
    steps = len(nodes) - 1
    arrays = (
        nodes,
        books.steps,
        np.zeros((steps, scurve.SPAN_WIDTH)),
        np.zeros(steps, np.int64),
        np.zeros((steps, 2)),
        np.zeros(steps + 1),
        np.zeros((count, 4)),
    )
    if small:
        arrays = tuple(path.view(array) for array in arrays)
    speed_squares, steps_table, spans, ends, forces, speeds, smoothed = arrays
    way, notes = (path.views(chain), path.views(books)) if small else (chain, books)
    found = kernels["find_spans"](
        way.rows, way.codes, limits.jerk, speed_squares, steps_table, spans, ends, count
    )
    kernels["slow_down"](spans, forces, speeds, found, min(limits.acceleration))
    kernels["smooth"](way.codes, count, steps_table, spans, forces, speeds, ends, found, smoothed)
    kernels["enter_smoothed"](way.rows, way.codes, smoothed, count, notes)


def enter_separate(
    kernels: Kernels, motion: Motion, limits: Limits, chosen: NDArray[np.bool_], books: Books
) -> None:
    """Enter rapids with independent axes: from rest to rest, the slowest axis counts."""
    distance = np.abs(motion.end[chosen] - motion.start[chosen])
    seconds = np.zeros(distance.shape)
    steady = np.zeros(distance.shape)
    for axis in range(3):
        rate, force, jerk = limits.rate[axis], limits.acceleration[axis], limits.jerk[axis]
        for i, length in enumerate(distance[:, axis].tolist()):
            if length > 0.0:
                seconds[i, axis], steady[i, axis] = rest_to_rest(length, rate, force, jerk)
    slowest = np.argmax(seconds, axis=1)
    order = np.arange(len(distance))
    whole = seconds[order, slowest]
    flat = steady[order, slowest]
    result = books.result
    result[table_of.SECONDS, chosen] = whole
    result[table_of.AT_FEED, chosen] = flat
    result[table_of.RAMP, chosen] = whole - flat
    plain_time = (distance / np.asarray(limits.rate)).max(axis=1)
    result[table_of.PLAIN, chosen] = plain_time
    result[table_of.PEAK, chosen] = np.sqrt((distance**2).sum(axis=1)) / np.maximum(whole, 1e-300)
    books.cause[chosen] = np.where(2 * flat > whole, causes.AXIS_RATE, causes.ACCELERATION)
    books.lost[0, causes.ACCELERATION] += float((whole - plain_time).sum())


def rest_to_rest(
    length: float, rate: float, acceleration: float, jerk: float
) -> tuple[float, float]:
    """Return the time of one axis from rest to rest, and its part at full rate, s.

    `jerk` 0 means no limit. Lengths in mm, rates in mm/s.
    """
    if jerk > 0.0:
        peak = scurve.peak_speed(0.0, 0.0, length, rate, acceleration, acceleration, jerk)
        ramps = 2.0 * scurve.ramp_seconds(peak, acceleration, jerk)
        flat = max(length - 2.0 * scurve.ramp_length(0.0, peak, acceleration, jerk), 0.0) / peak
        return float(ramps + flat), float(flat)
    peak = min(rate, float(np.sqrt(acceleration * length)))
    flat = max(length - peak * peak / acceleration, 0.0) / peak
    return 2.0 * peak / acceleration + flat, flat


def cause_of_rows(books: Books, standing: Standing, state: NDArray[np.int8]) -> NDArray[np.int8]:
    """Return what takes most of each row's time."""
    cause = books.cause
    most = books.result[table_of.SECONDS]
    for code, seconds in standing.seconds.items():
        ahead = seconds > most
        cause[ahead] = code
        most = np.maximum(most, seconds)
    cause[(state == path.UNKNOWN) | standing.unknown] = causes.UNKNOWN
    return cause
