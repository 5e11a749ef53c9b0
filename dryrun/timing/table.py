"""TimeTable: seconds, speeds and causes of every row of a program, and the sums people ask for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.motion import ARC, LINE, PROBE, RAPID, Motion
from dryrun.timing import causes
from dryrun.timing.causes import CAUSE_NAMES

#: What each cause would need to take less time, for people.
ADVICE: Final = {
    "feed": "a higher feed",
    "axis-rate": "axes with a higher rate",
    "acceleration": "more acceleration, or fewer starts and stops",
    "exact-stop": "a path tolerance in place of exact stops",
    "corner": "a larger corner tolerance, rounder corners, or more acceleration",
    "arc": "larger radii, or more acceleration",
    "look-ahead": "longer segments, or a controller that plans further ahead",
    "lines-per-second": "longer segments, or a controller that takes more lines in a second",
    "jerk": "a higher limit of jerk",
    "line-overhead": "fewer lines",
    "dwell": "shorter dwells",
    "spindle-start": "fewer spindle starts",
    "tool-change": "fewer tool changes",
    "pause": "fewer programmed stops",
    "probe": "fewer probing moves",
}


@dataclass(frozen=True, slots=True)
class FeedClass:
    """Rows that ask for one feed: mm/min (NaN rapids), rows, mm, s, and distance over feed in s."""

    feed: float
    rows: int
    path_mm: float
    seconds: float
    naive_seconds: float


@dataclass(frozen=True, slots=True)
class Saving:
    """Seconds that a cause takes beyond the plain estimate, and what would lower them."""

    cause: str
    seconds: float
    advice: str


@dataclass(frozen=True, slots=True)
class TimeTable:
    """The predicted time of one program, row by row.

    Attributes
    ----------
    motion : the rows it belongs to, (n,)
    moving_seconds, standing_seconds : (n,) s; the standing comes before the row's own motion
    entry_speed, cruise_speed, exit_speed : (n,) mm/s; cruise is the highest speed on the row
    cause : (n,) int8, index into CAUSE_NAMES: what takes most of the row's time
    at_feed, ramping, waiting : (n,) s of moving_seconds at the speed asked for; accelerating and
        braking; lost because the controller cannot take blocks fast enough (the rest: `slowed`)
    naive_row_seconds : (n,) s, distance over feed, rapids at full rate
    lost : seconds beyond the plain estimate, by cause (index into CAUSE_NAMES)
    standing : seconds standing still, by cause
    unknown_rows : rows whose place, speed or length of dwell is not known; they take no time here
    """

    motion: Motion
    moving_seconds: NDArray[np.float64]
    standing_seconds: NDArray[np.float64]
    entry_speed: NDArray[np.float64]
    cruise_speed: NDArray[np.float64]
    exit_speed: NDArray[np.float64]
    cause: NDArray[np.int8]
    at_feed: NDArray[np.float64]
    ramping: NDArray[np.float64]
    waiting: NDArray[np.float64]
    naive_row_seconds: NDArray[np.float64]
    lost: tuple[float, ...]
    standing: dict[int, float]
    unknown_rows: int

    def __len__(self) -> int:
        return len(self.moving_seconds)

    @property
    def row_seconds(self) -> NDArray[np.float64]:
        """Seconds of each row, moving and standing, (n,)."""
        return self.moving_seconds + self.standing_seconds

    @property
    def slowed(self) -> NDArray[np.float64]:
        """Seconds of each row moving steadily below the speed asked for, (n,)."""
        rest = self.moving_seconds - self.at_feed - self.ramping - self.waiting
        return np.maximum(rest, 0.0)

    @property
    def seconds(self) -> float:
        """Seconds of the whole program."""
        return float(self.moving_seconds.sum() + self.standing_seconds.sum())

    @property
    def cutting_seconds(self) -> float:
        """Seconds moving at a feed (lines and arcs)."""
        return float(self.moving_seconds[self.motion.cutting].sum())

    @property
    def rapid_seconds(self) -> float:
        """Seconds moving at rapid."""
        return float(self.moving_seconds[self.motion.kind == RAPID].sum())

    @property
    def other_seconds(self) -> float:
        """Seconds of all else: standing, and probing moves."""
        probing = self.moving_seconds[self.motion.kind == PROBE].sum()
        return float(self.standing_seconds.sum() + probing)

    @property
    def naive_seconds(self) -> float:
        """Distance over feed, with rapids at full rate: the plain estimate."""
        return float(self.naive_row_seconds.sum())

    def where(self) -> dict[str, float]:
        """Say where the time goes, in seconds; the parts add up to `seconds`."""
        cutting = self.motion.cutting
        rapid = self.motion.kind == RAPID
        parts = {
            "cutting at feed": float(self.at_feed[cutting].sum()),
            "cutting slowed": float(self.slowed[cutting].sum()),
            "accelerating": float(self.ramping[cutting].sum()),
            "rapids": float((self.moving_seconds - self.waiting)[rapid].sum()),
            "waiting for the controller": float(self.waiting[cutting | rapid].sum())
            + self.standing.get(causes.LINE_OVERHEAD, 0.0),
            "probing": float(self.moving_seconds[self.motion.kind == PROBE].sum())
            + self.standing.get(causes.PROBE, 0.0),
            "dwell": self.standing.get(causes.DWELL, 0.0),
            "spindle start": self.standing.get(causes.SPINDLE_START, 0.0),
            "tool changes": self.standing.get(causes.TOOL_CHANGE, 0.0),
            "pauses": self.standing.get(causes.PAUSE, 0.0),
        }
        return parts

    def by_feed(self) -> tuple[FeedClass, ...]:
        """Return the moving rows by the feed they ask for, rapids (feed NaN) last."""
        kind = self.motion.kind
        moving = (kind == LINE) | (kind == ARC) | (kind == PROBE)
        feeds, group = np.unique(self.motion.feed[moving], return_inverse=True)
        lengths = np.nan_to_num(self.motion.lengths())
        classes = []
        columns = [lengths, self.moving_seconds, self.naive_row_seconds]
        sums = [np.bincount(group, c[moving], minlength=len(feeds)) for c in columns]
        counts = np.bincount(group, minlength=len(feeds))
        for i, feed in enumerate(feeds.tolist()):
            values = [float(column[i]) for column in sums]
            classes.append(FeedClass(feed, int(counts[i]), *values))
        rapid = kind == RAPID
        if rapid.any():
            values = [float(column[rapid].sum()) for column in columns]
            classes.append(FeedClass(float("nan"), int(rapid.sum()), *values))
        return tuple(classes)

    def rows_never_reaching_feed(self) -> NDArray[np.bool_]:
        """Say which lines and arcs never reach the speed that they ask for, (n,) bool."""
        asked = self.motion.feed / 60.0
        slow: NDArray[np.bool_] = self.motion.cutting & (self.moving_seconds > 0.0)
        slow &= self.cruise_speed < asked * (1.0 - 1e-9)
        return slow

    def lines_never_reaching_feed(self) -> NDArray[np.int32]:
        """Return (line, source) of program lines none of whose cuts reaches its feed, (k, 2)."""
        slow = self.rows_never_reaching_feed()
        cutting = self.motion.cutting & (self.moving_seconds > 0.0)
        pairs = np.column_stack([self.motion.line, self.motion.source])
        if not slow.any():
            return np.zeros((0, 2), np.int32)
        key = pairs[:, 1].astype(np.int64) << 32 | pairs[:, 0].astype(np.int64)
        wanted = np.setdiff1d(key[slow], key[cutting & ~slow])
        found = np.column_stack([wanted & 0xFFFFFFFF, wanted >> 32])
        return found.astype(np.int32)

    def what_would_shorten(self) -> tuple[Saving, ...]:
        """Rank the causes of time beyond the plain estimate, the largest first.

        Together with the plain estimate they add up to `seconds`, but for what rounded corners
        save.
        """
        seconds = {CAUSE_NAMES[code]: value for code, value in enumerate(self.lost)}
        for code, value in self.standing.items():
            name = CAUSE_NAMES[code]
            seconds[name] = seconds.get(name, 0.0) + value
        found = [
            Saving(name, value, ADVICE[name])
            for name, value in seconds.items()
            if value > 1e-9 and name in ADVICE
        ]
        return tuple(sorted(found, key=lambda saving: (-saving.seconds, saving.cause)))

    def speed_against_time(self, samples: int = 2000) -> tuple[NDArray[np.float64], ...]:
        """Return times (s) and speeds (mm/s), (samples,) each, for a picture.

        Within a row the speed is drawn as one rise, one steady part and one fall.
        """
        knots, speeds = self._knots()
        times = np.linspace(0.0, knots[-1] if len(knots) else 0.0, samples)
        if not len(knots):
            return times, np.zeros(samples)
        return times, np.interp(times, knots, speeds)

    def _knots(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the corners of the speed over time: five for each row."""
        up = np.maximum(self.cruise_speed - self.entry_speed, 0.0)
        down = np.maximum(self.cruise_speed - self.exit_speed, 0.0)
        ramps = np.minimum(self.moving_seconds, self.ramping + self.waiting)
        share = np.divide(up, up + down, out=np.zeros_like(up), where=up + down > 0.0)
        begin = np.cumsum(self.row_seconds) - self.row_seconds
        moved = begin + self.standing_seconds
        times = np.column_stack(
            [
                begin,
                moved,
                moved + ramps * share,
                moved + self.moving_seconds - ramps * (1.0 - share),
                moved + self.moving_seconds,
            ]
        )
        still = np.where(self.standing_seconds > 0.0, 0.0, self.entry_speed)
        speeds = np.column_stack(
            [still, self.entry_speed, self.cruise_speed, self.cruise_speed, self.exit_speed]
        )
        return np.maximum.accumulate(times.ravel()), speeds.ravel()
