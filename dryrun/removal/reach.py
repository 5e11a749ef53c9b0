"""How low the cutter comes over the blank, and what it meets of the clamps: from geometry alone.

Nothing here is sampled on the field, so nothing between two cells is missed, and it holds for
bits that no map of heights can show (`UndercutBit`) too.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, cast

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dryrun.job.model import Clamp, Machine
from dryrun.motion import ARC, Motion
from dryrun.removal.facts import Contact
from dryrun.removal.paths import Path, arc_places, chords_about_z, known
from dryrun.removal.profile import FORM, Profile
from dryrun.removal.rows import lowest_ends

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_GOLDEN: Final = (math.sqrt(5.0) - 1.0) / 2.0
_NARROWINGS: Final = 48


@dataclass(frozen=True, slots=True)
class Disc:
    """A disc around the axis: who it belongs to, radius, and height of its face above the tip."""

    part: str
    radius: float
    offset: float


def discs_above(profile: Profile, machine: Machine | None) -> list[Disc]:
    """Return the lower faces of shank, holder and dust shoe, as far as they are declared."""
    found = []
    if profile.flute_length is not None and profile.shank_radius is not None:
        found.append(Disc("shank", profile.shank_radius, profile.flute_length))
    if profile.stickout is None or machine is None:
        return found
    offset = profile.stickout
    for disc in machine.holder:
        found.append(Disc("holder", disc.diameter / 2, offset))
        offset += disc.height
    if machine.dust_shoe is not None:
        shoe = machine.dust_shoe
        found.append(Disc("body", shoe.diameter / 2, profile.stickout - shoe.drop))
    return found


def time_over(
    start: Floats, end: Floats, low: ArrayLike, high: ArrayLike, radius: float
) -> tuple[Floats, Floats]:
    """Return the shares (0..1) of straight parts between which a disc lies over a rectangle.

    NaN where it never does. The middle of the disc is then in the rectangle widened by its
    radius with rounded corners: two crossed rectangles and four discs. That set is convex, so
    the parts of a line in it make one interval.
    """
    low, high = np.asarray(low, np.float64)[:2], np.asarray(high, np.float64)[:2]
    p, step = start[:, :2], end[:, :2] - start[:, :2]
    wide = np.array([radius, 0.0])
    spans = [_in_box(p, step, low - wide, high + wide)]
    spans.append(_in_box(p, step, low - wide[::-1], high + wide[::-1]))
    for x in (low[0], high[0]):
        for y in (low[1], high[1]):
            spans.append(_in_disc(p - (x, y), step, radius))
    first = np.fmin.reduce([span[0] for span in spans])
    last = np.fmax.reduce([span[1] for span in spans])
    return first, last


def _in_box(p: Floats, step: Floats, low: Floats, high: Floats) -> tuple[Floats, Floats]:
    with np.errstate(divide="ignore", invalid="ignore"):
        a, b = (low - p) / step, (high - p) / step
    still = step == 0.0
    inside = (p >= low) & (p <= high)
    first = np.where(still, np.where(inside, -np.inf, np.inf), np.minimum(a, b)).max(axis=1)
    last = np.where(still, np.where(inside, np.inf, -np.inf), np.maximum(a, b)).min(axis=1)
    return _clip(first, last)


def _in_disc(p: Floats, step: Floats, radius: float) -> tuple[Floats, Floats]:
    a = (step * step).sum(axis=1)
    b = (p * step).sum(axis=1)
    c = (p * p).sum(axis=1) - radius**2
    root = b * b - a * c
    still = a == 0.0
    with np.errstate(divide="ignore", invalid="ignore"):
        half = np.sqrt(root)
        first, last = (-b - half) / a, (-b + half) / a
    first = np.where(still, np.where(c <= 0.0, 0.0, np.nan), first)
    last = np.where(still, np.where(c <= 0.0, 1.0, np.nan), last)
    return _clip(first, last)


def _clip(first: Floats, last: Floats) -> tuple[Floats, Floats]:
    first, last = np.maximum(first, 0.0), np.minimum(last, 1.0)
    with np.errstate(invalid="ignore"):
        never = ~(first <= last)
    return np.where(never, np.nan, first), np.where(never, np.nan, last)


def lowest_over(
    motion: Motion, path: Path, low: ArrayLike, high: ArrayLike, radius: float
) -> tuple[Floats, Floats]:
    """Lowest tip of each row while a disc of `radius` around it is over a rectangle.

    Returns heights (n,) and places of the axis (n, 2); NaN for rows that never come over it.
    """
    low, high = np.asarray(low, np.float64)[:2], np.asarray(high, np.float64)[:2]
    height = np.full(len(motion), np.nan)
    place = np.full((len(motion), 2), np.nan)
    # a disc up to 0.7 of its radius beside a rectangle in X and in Y still lies over it
    rows, start, end = _straight_parts(path, low, high, radius, 0.7 * radius)
    beyond = np.empty(len(rows), np.bool_)
    box = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    if lowest_ends(rows, start, end, box, height, place, beyond):
        part = np.flatnonzero(beyond)
        first, last = time_over(start[part], end[part], low, high, radius)
        over = np.isfinite(first)
        part, first, last = part[over], first[over], last[over]
        share = np.where(start[part, 2] <= end[part, 2], first, last)
        at = start[part] + (end[part] - start[part]) * share[:, None]
        _keep_lower(rows[part], at, height, place)
    _keep_lower(*_arc_bottoms(motion, low, high, radius), height, place)
    return height, place


def _keep_lower(rows: Ints, at: Floats, height: Floats, place: Floats) -> None:
    """Put places into their rows where they are lower than what is known; the first of equal ones."""
    if len(rows) == 0:
        return
    order = np.lexsort((at[:, 2], rows))
    rows, index = np.unique(rows[order], return_index=True)
    at = at[order[index]]
    lower = ~(at[:, 2] >= height[rows])  # also where nothing is known
    height[rows[lower]] = at[lower, 2]
    place[rows[lower]] = at[lower, :2]


def _straight_parts(
    path: Path, low: ArrayLike, high: ArrayLike, radius: float, beside: float
) -> tuple[Ints, Floats, Floats]:
    """All parts of a path as straight ones; an arc wholly over the rectangle as its lower end.

    So is one that leaves the rectangle by no more than `beside` in X and in Y.
    """
    if len(path.arc) == 0:
        return path.line_row, path.start, path.end
    low, high = np.asarray(low, np.float64)[:2], np.asarray(high, np.float64)[:2]
    reach = path.arc[:, 3]
    centre = path.arc[:, :2]
    whole = (
        (centre - reach[:, None] >= low - beside) & (centre + reach[:, None] <= high + beside)
    ).all(axis=1)
    near = (
        (centre + reach[:, None] >= low - radius) & (centre - reach[:, None] <= high + radius)
    ).all(axis=1)
    chords = chords_about_z(path.arc_row[near & ~whole], path.arc[near & ~whole])
    ends = _arc_ends(path.arc[whole])
    return (
        np.concatenate([path.line_row, chords[0], path.arc_row[whole]]),
        np.concatenate([path.start, chords[1], ends]),
        np.concatenate([path.end, chords[2], ends]),
    )


def _arc_ends(arc: Floats) -> Floats:
    """Return the lower end of each arc about Z."""
    x, y, z, radius, first, sweep, rise = arc.T
    angle = first + np.where(rise * sweep < 0.0, sweep, 0.0)
    height = z + np.minimum(rise * sweep, 0.0)
    return np.column_stack([x + radius * np.cos(angle), y + radius * np.sin(angle), height])


def _arc_bottoms(
    motion: Motion, low: ArrayLike, high: ArrayLike, radius: float
) -> tuple[Ints, Floats]:
    """Where arcs about X or Y pass their lowest point while over a rectangle."""
    rows = np.flatnonzero((motion.kind == ARC) & (motion.axis != 2))
    rows = rows[known(motion.rows(rows))] if len(rows) else rows
    sweep = motion.sweep[rows]
    rows, sweep = rows[sweep != 0.0], sweep[sweep != 0.0]
    if len(rows) == 0:
        return rows, np.zeros((0, 3))
    axis = motion.axis[rows].astype(np.int64)
    first, second = (axis + 1) % 3, (axis + 2) % 3
    offset = motion.start[rows] - motion.centre[rows]
    n = np.arange(len(rows))
    begin = np.arctan2(offset[n, second], offset[n, first])
    bottom = np.where(second == 2, -math.pi / 2, math.pi)  # seen from the axis, Z is up or right
    turn = np.where(sweep > 0.0, bottom - begin, begin - bottom) % (2.0 * math.pi)
    found_rows, found = [rows[:0]], [np.zeros((0, 3))]
    for _ in range(max(1, math.ceil(np.abs(sweep).max() / (2.0 * math.pi)))):
        passes = turn <= np.abs(sweep)
        at = arc_places(motion, rows, np.where(passes, turn / np.abs(sweep), 0.0))
        over = np.isfinite(time_over(at, at, low, high, radius)[0]) & passes
        found_rows.append(rows[over])
        found.append(at[over])
        turn = turn + 2.0 * math.pi
    return np.concatenate(found_rows), np.concatenate(found)


def clamp_contacts(
    motion: Motion,
    path: Path,
    profile: Profile,
    discs: Sequence[Disc],
    clamps: Sequence[Clamp],
    top: float,
) -> dict[str, Contact]:
    """Return what cutter, shank, holder and body meet of the clamps, per row."""
    found = {"cutter-clamp": _none(len(motion))}
    for part in {disc.part for disc in discs}:
        found[f"{part}-clamp"] = _none(len(motion))
    for clamp in clamps:
        limit = top + clamp.height
        rows, at, z = _cutter_over(path, profile, clamp, limit)
        _deepen(found["cutter-clamp"], rows, limit - z, _on_clamp(at, clamp, z))
        for disc in discs:
            height, place = lowest_over(motion, path, clamp.low, clamp.high, disc.radius)
            rows = np.flatnonzero(height + disc.offset < limit)
            z = height[rows] + disc.offset
            _deepen(found[f"{disc.part}-clamp"], rows, limit - z, _on_clamp(place[rows], clamp, z))
    return found


def _none(rows: int) -> Contact:
    return Contact(np.zeros(rows), np.full((rows, 3), np.nan))


def _on_clamp(at: Floats, clamp: Clamp, z: Floats) -> Floats:
    return np.column_stack(
        [np.clip(at[:, 0], clamp.low[0], clamp.high[0]),
         np.clip(at[:, 1], clamp.low[1], clamp.high[1]), z]
    )  # fmt: skip


def _deepen(contact: Contact, rows: Ints, depth: Floats, place: Floats) -> None:
    for row, deep, at in zip(rows, depth, place, strict=True):
        if deep > contact.depth[row]:
            contact.depth[row] = deep
            contact.place[row] = at


def _cutter_over(
    path: Path, profile: Profile, clamp: Clamp, limit: float
) -> tuple[Ints, Floats, Floats]:
    """Rows whose cutter reaches into a clamp: where the axis is, and the height it comes to."""
    # a shaped bit is lowest over the clamp where its axis is, so no arc is taken by its end alone
    # unless all of it is
    rows, start, end = _straight_parts(path, clamp.low, clamp.high, profile.radius, 0.0)
    low = np.minimum(start[:, 2], end[:, 2]) < limit
    rows, start, end = rows[low], start[low], end[low]
    first, last = time_over(start, end, clamp.low, clamp.high, profile.radius)
    over = np.isfinite(first)
    rows, start, step = rows[over], start[over], (end - start)[over]
    first, last = first[over], last[over]

    def seen(share: Floats) -> Floats:
        at = start + step * share[:, None]
        off = np.maximum(np.maximum(clamp.low - at[:, :2], at[:, :2] - clamp.high), 0.0)
        away = np.minimum(np.hypot(off[:, 0], off[:, 1]), profile.radius)
        return cast(Floats, at[:, 2] + profile.height(away))

    share = _lowest_share(seen, first, last, profile.family == FORM)
    z = seen(share)
    hit = z < limit
    at = (start + step * share[:, None])[hit, :2]
    return rows[hit], at, z[hit]


def _lowest_share(seen, first: Floats, last: Floats, wavy: bool) -> Floats:  # type: ignore[no-untyped-def]
    """Share between first and last at which `seen` is least; it has one valley unless wavy."""
    if wavy and len(first):
        grid = np.linspace(0.0, 1.0, 129)
        heights = np.array([seen(first + (last - first) * g) for g in grid])
        best = grid[heights.argmin(axis=0)]
        width = last - first
        first, last = (
            first + width * np.clip(best - 1 / 128, 0, 1), first + width * np.clip(best + 1 / 128, 0, 1),
        )  # fmt: skip
    low, high = first.copy(), last.copy()
    for _ in range(_NARROWINGS):
        a, b = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
        left = seen(a) <= seen(b)
        low, high = np.where(left, low, a), np.where(left, b, high)
    tries = np.array([first, (low + high) / 2, last])
    heights = np.array([seen(t) for t in tries])
    return cast(Floats, tries[heights.argmin(axis=0), np.arange(len(first))])
