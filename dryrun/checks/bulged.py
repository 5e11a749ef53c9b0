"""Arcs by radius that bulge to the wrong side, or too little or too much.

An arc given by R closes whatever its radius and its turn are, so the reader cannot tell G2 for G3,
R20 for R12 nor R-12 for R12. What tells is the path beside it and the company: the arc makes the
same corner at both its ends, and the one arc between these ends that runs on smoothly at both has
the radius that several other arcs of the stage have, which do run on smoothly. It must be the only
one: corners that are hollow on purpose come in pairs, and in every pass.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.context import MOST_PLACES, StageContext
from dryrun.checks.rounds import SAME, arcs, full_circles
from dryrun.finding import Finding
from dryrun.motion import Motion

#: A path that runs on smoothly turns by less than this, and one with a corner by more, rad; one
#: that turns back at both ends is told by `turned`.
SMOOTH: Final = np.radians(3.0)
CORNER: Final = np.radians(15.0)
BACK: Final = np.radians(168.0)
#: Radii that are one differ by less than this part of them.
ALIKE: Final = 0.005
#: Other arcs of the radius that would fit, at least.
COMPANY: Final = 2
#: Arcs of one kind that are looked at, at most.
MOST_ALIKE: Final = 50
#: An arc that turns by less is too flat to have a radius.
FLAT: Final = np.radians(10.0)

Numbers = NDArray[np.float64]


class Bulged(NamedTuple):
    """A row, the radius that would run on smoothly there, its turn, and how many arcs have it."""

    row: int
    radius: float
    turn: float
    company: int


def arcs_bulged(context: StageContext) -> Iterator[Finding]:
    """Report the one arc that would run on smoothly if it were like the others of the stage."""
    motion = context.motion
    for found in itertools.islice(bulged(motion), MOST_PLACES):
        row, own = found.row, float(motion.radii()[found.row])
        letter, meant = _meant(context, found, own)
        yield context.finding(
            "circle-flipped",
            "this arc makes a corner with the path before it and with the path after it; "
            f"{meant} it would run on smoothly at both ends, as {found.company} other arcs of the "
            "stage do",
            row=row,
            letters=letter,
            at=motion.end[row],
            value=own,
            limit=found.radius,
            unit="mm",
        )


def _meant(context: StageContext, found: Bulged, own: float) -> tuple[str, str]:
    """Return the letter that is wrong, and how the arc would be right."""
    sweep = float(context.motion.sweep[found.row])
    if found.turn * sweep < 0:
        written, right = ("G3", "G2") if sweep > 0 else ("G2", "G3")
        return "G", f"turned the other way round, as {right} in place of {written},"
    if abs(found.radius - own) < ALIKE * own:
        return "R", "as the shorter part of its circle (R without its minus)"
    return "R", f"with a radius of {context.mm(found.radius)} in place of {context.mm(own)}"


def bulged(motion: Motion) -> Iterator[Bulged]:
    """Yield the arcs that are the only ones of their kind, in program order."""
    rows, begins, ends = _headings(motion)
    is_arc = (arcs(motion) & ~full_circles(motion))[rows]
    if is_arc.sum() <= COMPANY:
        return
    before, after = _neighbours(motion, rows)
    chord = (motion.end - motion.start)[rows, :2]
    long = np.hypot(chord[:, 0], chord[:, 1])
    along = np.arctan2(chord[:, 1], chord[:, 0])
    half = motion.sweep[rows] / 2
    half_in = _angle(along - np.where(before >= 0, ends[before], np.nan))
    half_out = _angle(np.where(after >= 0, begins[after], np.nan) - along)
    off_in, off_out = np.abs(_angle(half_in - half)), np.abs(_angle(half_out - half))
    smooth = is_arc & ((off_in < SMOOTH) | (off_out < SMOOTH))
    suspect = is_arc & (off_in > CORNER) & (off_out > CORNER)
    suspect &= (off_in < BACK) | (off_out < BACK)
    suspect &= (np.abs(_angle(half_in - half_out)) < SMOOTH) & (np.abs(half_in) > FLAT / 2)
    radius = np.where(is_arc, motion.radii()[rows], np.nan)
    meant = long / np.maximum(2 * np.abs(np.sin((half_in + half_out) / 2)), 1e-9)
    place = motion.source[rows].astype(np.int64) << 32 | motion.line[rows]
    suspects = np.flatnonzero(suspect)
    kin = _Alike(meant[suspects])
    company = _Alike(radius[smooth])
    for k in suspects:
        others = company.count(meant[k])
        like = suspects[kin.which(meant[k])]
        one_line = (place[like] == place[k]).all()
        if others >= COMPANY and one_line and k == like.min():
            turn = float(half_in[k] + half_out[k])
            yield Bulged(int(rows[k]), float(meant[k]), turn, others)


class _Alike:
    """Radii in order, to find those that are one with another."""

    def __init__(self, radii: Numbers) -> None:
        self._order = np.argsort(radii)
        self._radii = radii[self._order]

    def _range(self, wanted: float) -> slice:
        spare = ALIKE * wanted + SAME / 4
        first, last = np.searchsorted(self._radii, [wanted - spare, wanted + spare])
        return slice(int(first), int(last))

    def count(self, wanted: float) -> int:
        found = self._range(wanted)
        return int(found.stop) - int(found.start)

    def which(self, wanted: float) -> NDArray[np.intp]:
        """Return the numbers of some that are one with a radius: two tell as much as all."""
        found = self._range(wanted)
        return self._order[found][:MOST_ALIKE]


def _headings(motion: Motion) -> tuple[NDArray[np.intp], Numbers, Numbers]:
    """Return the rows that go sideways at a feed, and where each heads first and last, rad."""
    known = np.isfinite(motion.start).all(axis=1) & np.isfinite(motion.end).all(axis=1)
    step = (motion.end - motion.start)[:, :2]
    round_ = arcs(motion)
    rows = np.flatnonzero(motion.cutting & known & ((np.hypot(*step.T) > 1e-6) | round_))
    line = np.arctan2(step[rows, 1], step[rows, 0])
    headings = []
    for ends in (motion.start, motion.end):
        spoke = (ends - motion.centre)[rows, :2]
        turned = np.arctan2(spoke[:, 1], spoke[:, 0]) + np.sign(motion.sweep[rows]) * np.pi / 2
        headings.append(np.where(round_[rows], turned, line))
    return rows, headings[0], headings[1]


def _neighbours(
    motion: Motion, rows: NDArray[np.intp]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return which of the rows comes before and after each without a lift; -1 for none.

    A stretch that ends where it began has its ends beside each other.
    """
    run = np.cumsum(~motion.cutting)[rows]
    number = np.arange(len(rows))
    first = np.append(True, run[1:] != run[:-1])[: len(rows)]
    last = np.append(first[1:], True)[: len(rows)]
    before = np.where(first, -1, number - 1)
    after = np.where(last, -1, number + 1)
    starts, ends = np.flatnonzero(first), np.flatnonzero(last)
    gap = (motion.start[rows[starts]] - motion.end[rows[ends]])[:, :2]
    closed = np.hypot(gap[:, 0], gap[:, 1]) < SAME
    before[starts[closed]], after[ends[closed]] = ends[closed], starts[closed]
    return before, after


def _angle(value: Numbers) -> Numbers:
    """Return angles between -pi and pi."""
    return (value + np.pi) % (2 * np.pi) - np.pi
