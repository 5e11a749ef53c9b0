"""Cutter shapes: from a declared `Bit` to the few numbers that the kernels need.

A cutter of revolution is its profile h(r): the height of the cutting surface above the tip at
distance r from the axis, out to the cutting radius R. Beyond R there is nothing: the side is
vertical.

Every shape but `form` is one convex curve of three zones, a flat disc, a circular corner and a
cone (the seven-parameter cutter of ISO 3592 and APT in short form):

    h(r) = c - sqrt(c^2 - t^2) + k max(r - r1, 0),   t = clamp(r - a, 0, r1 - a)

with a the radius of the circle on which the corner's centre runs, c the corner radius, r1 where
the cone begins and k its slope. A `form` is a chain of straight and circular pieces.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final, cast

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dryrun.job.model import Bit

#: Which kernel shows the shape. TAPERED covers flat, vee, drill and both tapers.
TAPERED: Final = 0
BALL: Final = 1
BULL: Final = 2
FORM: Final = 3

#: Columns of a row of `Profile.numbers`; the last two are known for a size of cells only (`cells`).
RADIUS, RING, CORNER, BLEND, SLOPE, FAMILY, RIM, FINE_FROM, FINE_TO = range(9)
NUMBERS: Final = 9
#: Depths, from and to, of a cutter the edges of whose cut centres of cells never show well enough.
NEVER_FINE: Final = (math.inf, math.inf)

#: Columns of a row of `Profile.pieces`: ends, then slope (straight) or centre, radius, side.
R0, Z0, R1, Z1, STRAIGHT, K_OR_A, CENTRE_Z, ARC_RADIUS, SIDE = range(9)

#: A coordinate that differs by less than this is the same place, mm.
_SAME = 1e-9


class ProfileError(ValueError):
    """A bit whose declared measures cannot belong to one cutter."""


class UndercutBit(ProfileError):
    """A bit that cuts under material, which a map of heights cannot show.

    Its depth, rapids and travel can still be checked (`removal.reach`).
    """


@dataclass(frozen=True, slots=True)
class Profile:
    """The cutting surface of one bit.

    Attributes
    ----------
    name : str
    family : TAPERED, BALL, BULL or FORM
    radius, ring, corner, blend, slope : R, a, c, r1 (mm) and k of the module's formula; for a
        form they describe a simpler shape that is nowhere above the true one
    pieces : (n, 9) float64, the rings of a form between two radii; empty otherwise
    flute_length, shank_radius, stickout : mm or None, not declared
    """

    name: str
    family: int
    radius: float
    ring: float
    corner: float
    blend: float
    slope: float
    pieces: NDArray[np.float64] = field(default_factory=lambda: np.zeros((0, 9)))
    flute_length: float | None = None
    shank_radius: float | None = None
    stickout: float | None = None

    @classmethod
    def from_bit(cls, bit: Bit) -> Profile:
        """Return the profile of a bit.

        Raises
        ------
        UndercutBit
            When the cutting surface turns back under itself.
        ProfileError
            When a needed measure is missing or the measures contradict each other.
        """
        _positive(bit, "diameter", bit.diameter)
        _check_lengths(bit)
        family, ring, corner, blend, slope, pieces = _SHAPES[bit.shape](bit)
        return cls(
            bit.name, family, bit.radius, ring, corner, blend, slope, pieces,
            flute_length=bit.flute_length,
            shank_radius=None if bit.shank is None else bit.shank / 2,
            stickout=bit.stickout,
        )  # fmt: skip

    @classmethod
    def disc(cls, radius: float, name: str = "disc") -> Profile:
        """Return a flat disc, as which shank, holder and dust shoe meet material."""
        return cls(name, TAPERED, radius, radius, 0.0, radius, 0.0)

    def numbers(self, fine: tuple[float, float] = NEVER_FINE) -> NDArray[np.float64]:
        """Return the row of numbers for the kernels, (9,) float64; `fine` is `cells.fine_between`."""
        return np.array(
            [self.radius, self.ring, self.corner, self.blend, self.slope, self.family,
             self.rim_height, *fine]
        )

    @property
    def relieved(self) -> bool:
        """Whether the shank is thinner than the cutter, so that it could cut under material."""
        return self.shank_radius is not None and self.shank_radius < self.radius - 1e-6

    @property
    def rises(self) -> bool:
        """Whether the cutting surface falls nowhere on its way outward, as it does in most bits."""
        ends = self.pieces[:, [Z0, Z1]].ravel()
        return bool((ends[1:] >= ends[:-1] - _SAME).all())

    @property
    def rim_height(self) -> float:
        """Height of the cutting surface at its largest radius, mm."""
        return float(self.height(self.radius))

    def height(self, r: ArrayLike) -> NDArray[np.float64]:
        """Height above the tip at distance `r` from the axis, mm; inf beyond the cutter."""
        r = np.abs(np.asarray(r, dtype=np.float64))
        low = self._form_height(r) if len(self.pieces) else self._convex_height(r)
        return cast(NDArray[np.float64], np.where(r <= self.radius + _SAME, low, np.inf))

    def radii_at(self, height: ArrayLike) -> NDArray[np.float64]:
        """Largest radius at which the cutting surface is at or below each height, mm."""
        height = np.asarray(height, dtype=np.float64)
        if self.family != FORM:
            return self._convex_radii(height)
        # with the ends of the pieces, where a cutter may be lowest
        r = np.union1d(np.linspace(0.0, self.radius, 1025), self.pieces[:, [R0, R1]])
        last = len(r) - 1
        lowest_from = np.minimum.accumulate(self.height(r)[::-1])[::-1]
        index = np.searchsorted(lowest_from, height, side="right")
        low, high = np.clip(index - 1, 0, last), np.clip(index, 0, last)
        rise = lowest_from[high] - lowest_from[low]
        part = np.clip((height - lowest_from[low]) / np.where(rise > 0.0, rise, np.inf), 0.0, 1.0)
        return cast(NDArray[np.float64], r[low] + part * (r[high] - r[low]))

    @property
    def steepest(self) -> float:
        """Slope of the steepest part that a path's deviation is multiplied by, at least 1."""
        if self.family == TAPERED:
            return max(1.0, self.slope)
        return 10.0

    def _convex_height(self, r: NDArray[np.float64]) -> NDArray[np.float64]:
        t = np.clip(r - self.ring, 0.0, max(self.blend - self.ring, 0.0))
        arc = self.corner - np.sqrt(np.maximum(self.corner**2 - t**2, 0.0))
        return cast(NDArray[np.float64], arc + self.slope * np.maximum(r - self.blend, 0.0))

    def _convex_radii(self, height: NDArray[np.float64]) -> NDArray[np.float64]:
        on_arc = np.clip(height, 0.0, self.corner)
        reach = self.blend - self.ring
        r = self.ring + np.minimum(np.sqrt(on_arc * (2.0 * self.corner - on_arc)), reach)
        if self.slope > 0.0:
            begin = self.corner - math.sqrt(max(self.corner**2 - reach**2, 0.0))
            r = np.where(height > begin, self.blend + (height - begin) / self.slope, r)
        return np.minimum(r, self.radius)

    def _form_height(self, r: NDArray[np.float64]) -> NDArray[np.float64]:
        low = np.full(r.shape, np.inf)
        for piece in self.pieces:
            inside = (r >= piece[R0] - _SAME) & (r <= piece[R1] + _SAME)
            low = np.where(inside, np.minimum(low, _piece_height(piece, r)), low)
        return low


Shape6 = tuple[int, float, float, float, float, NDArray[np.float64]]
_NO_PIECES: Final = np.zeros((0, 9))


def _piece_height(piece: NDArray[np.float64], r: NDArray[np.float64]) -> NDArray[np.float64]:
    r = np.clip(r, piece[R0], piece[R1])
    if piece[STRAIGHT]:
        return cast(NDArray[np.float64], piece[Z0] + piece[K_OR_A] * (r - piece[R0]))
    across = np.sqrt(np.maximum(piece[ARC_RADIUS] ** 2 - (r - piece[K_OR_A]) ** 2, 0.0))
    return cast(NDArray[np.float64], piece[CENTRE_Z] + piece[SIDE] * across)


def _flat(bit: Bit) -> Shape6:
    return TAPERED, bit.radius, 0.0, bit.radius, 0.0, _NO_PIECES


def _ball(bit: Bit) -> Shape6:
    return BALL, 0.0, bit.radius, bit.radius, 0.0, _NO_PIECES


def _bull(bit: Bit) -> Shape6:
    corner = _needed(bit, "corner_radius", bit.corner_radius)
    if corner > bit.radius + _SAME:
        raise ProfileError(
            f"bit {bit.name!r}: corner radius {corner:g} mm is more than half the diameter "
            f"{bit.diameter:g} mm"
        )
    if corner <= _SAME:
        return _flat(bit)
    if corner >= bit.radius - _SAME:
        return _ball(bit)
    return BULL, bit.radius - corner, corner, bit.radius, 0.0, _NO_PIECES


def _vee(bit: Bit) -> Shape6:
    angle = _needed(bit, "angle", bit.angle)
    if not 0.0 < angle < math.pi:
        raise ProfileError(
            f"bit {bit.name!r}: included angle {math.degrees(angle):g} deg must lie between 0 "
            "and 180 deg"
        )
    return _cone(bit, bit.tip / 2, angle / 2, "tip")


def _taper_flat(bit: Bit) -> Shape6:
    tip = bit.tip_diameter if bit.tip_diameter is not None else bit.tip
    return _cone(bit, tip / 2, _half_angle(bit), "tip_diameter")


def _cone(bit: Bit, tip_radius: float, half_angle: float, key: str) -> Shape6:
    if tip_radius < 0.0 or tip_radius > bit.radius + _SAME:
        raise ProfileError(
            f"bit {bit.name!r}: {key} {2 * tip_radius:g} mm must lie between 0 and the diameter "
            f"{bit.diameter:g} mm"
        )
    return TAPERED, tip_radius, 0.0, tip_radius, 1.0 / math.tan(half_angle), _NO_PIECES


def _taper_ball(bit: Bit) -> Shape6:
    ball = _needed(bit, "tip_radius", bit.tip_radius)
    half_angle = _half_angle(bit)
    blend = ball * math.cos(half_angle)
    if blend > bit.radius + _SAME:
        raise ProfileError(
            f"bit {bit.name!r}: a tip radius of {ball:g} mm is too large for the diameter "
            f"{bit.diameter:g} mm"
        )
    return TAPERED, 0.0, ball, blend, 1.0 / math.tan(half_angle), _NO_PIECES


def _half_angle(bit: Bit) -> float:
    angle = _needed(bit, "angle", bit.angle)
    if not 0.0 < angle < math.pi / 2:
        raise ProfileError(
            f"bit {bit.name!r}: half angle {math.degrees(angle):g} deg must lie between 0 and "
            "90 deg"
        )
    return angle


def _form(bit: Bit) -> Shape6:
    points = np.asarray(bit.profile, dtype=np.float64)
    if points.ndim != 2 or len(points) < 2:
        raise ProfileError(f"bit {bit.name!r}: a form needs at least two points of its profile")
    if not np.isfinite(points).all() or (points[:, 0] < -_SAME).any():
        raise ProfileError(f"bit {bit.name!r}: profile radii must be numbers of at least 0 mm")
    if abs(points[0, 0]) > _SAME:
        points = np.vstack([[0.0, points[0, 1], 0.0], points])
    points[:, 1] -= _lowest_of_chain(bit, points)  # refuses what narrows
    if abs(points[-1, 0] - bit.radius) > 1e-6:
        raise ProfileError(
            f"bit {bit.name!r}: the profile ends at radius {points[-1, 0]:g} mm, half the "
            f"diameter is {bit.radius:g} mm"
        )
    pieces = [
        piece
        for start, end in pairwise(points)
        for piece in _pieces_between(bit, start, end)
    ]
    rings = np.array(pieces).reshape(-1, 9)
    # the disc of the whole radius at tip height lies nowhere above the form
    return FORM, bit.radius, 0.0, bit.radius, 0.0, rings


def _lowest_of_chain(bit: Bit, points: NDArray[np.float64]) -> float:
    lowest = float(points[:, 1].min())
    for start, end in pairwise(points):
        for piece in _pieces_between(bit, start, end):
            lowest = min(lowest, piece[Z0], piece[Z1])
    return lowest


def _pieces_between(
    bit: Bit, start: NDArray[np.float64], end: NDArray[np.float64]
) -> list[list[float]]:
    """Rings of one piece of the chain, each rising or falling throughout."""
    (r0, z0, _), (r1, z1, bulge) = start, end
    if r1 < r0 - _SAME:
        raise _undercut(bit, r0, r1)
    if abs(bulge) <= _SAME:
        if r1 - r0 <= _SAME:
            return []
        return [[r0, z0, r1, z1, 1.0, (z1 - z0) / (r1 - r0), 0.0, 0.0, 0.0]]
    centre_r, centre_z, side = _arc_centre(bit, start, end)
    if r1 - r0 <= _SAME:
        raise _undercut(bit, centre_r + abs(bulge), r1)
    rim = centre_z + side * math.sqrt(max(bulge**2 - (r0 - centre_r) ** 2, 0.0))
    far = centre_z + side * math.sqrt(max(bulge**2 - (r1 - centre_r) ** 2, 0.0))
    if abs(rim - z0) > 1e-6:  # the arc passes its narrowest place
        raise _undercut(bit, r0, max(centre_r - abs(bulge), 0.0))
    if abs(far - z1) > 1e-6:  # its widest
        raise _undercut(bit, centre_r + abs(bulge), r1)
    cuts = [r0, centre_r, r1] if r0 + _SAME < centre_r < r1 - _SAME else [r0, r1]
    heights = [centre_z + side * math.sqrt(max(bulge**2 - (r - centre_r) ** 2, 0)) for r in cuts]
    return [
        [ra, za, rb, zb, 0.0, centre_r, centre_z, abs(bulge), side]
        for ra, za, rb, zb in zip(cuts[:-1], heights[:-1], cuts[1:], heights[1:], strict=True)
    ]


def _arc_centre(
    bit: Bit, start: NDArray[np.float64], end: NDArray[np.float64]
) -> tuple[float, float, float]:
    """Centre (r, z) of a piece's shorter arc, and whether its lower (-1) or upper side cuts."""
    (r0, z0, _), (r1, z1, bulge) = start, end
    chord = math.hypot(r1 - r0, z1 - z0)
    if chord > 2 * abs(bulge) + _SAME or chord <= _SAME:
        raise ProfileError(
            f"bit {bit.name!r}: no arc of radius {abs(bulge):g} mm joins ({r0:g}, {z0:g}) and "
            f"({r1:g}, {z1:g})"
        )
    side = -1.0 if bulge > 0 else 1.0
    offset = math.sqrt(max(bulge**2 - chord**2 / 4, 0.0)) * -side / chord
    # the body lies to the left of the way outward; a convex piece has its centre there
    return (r0 + r1) / 2 - offset * (z1 - z0), (z0 + z1) / 2 + offset * (r1 - r0), side


def _undercut(bit: Bit, wide: float, narrow: float) -> UndercutBit:
    return UndercutBit(
        f"bit {bit.name!r} narrows from radius {wide:g} mm to {narrow:g} mm above its tip, so it "
        "leaves material standing over its cut, which a map of heights cannot show"
    )


_SHAPES: Final = {
    "flat": _flat,
    "ball": _ball,
    "bull": _bull,
    "vee": _vee,
    "taper-ball": _taper_ball,
    "taper-flat": _taper_flat,
    "drill": _vee,
    "form": _form,
}


def _needed(bit: Bit, key: str, value: float | None) -> float:
    if value is None:
        raise ProfileError(f"bit {bit.name!r}: a {bit.shape} bit needs {key}")
    return _positive(bit, key, value)


def _positive(bit: Bit, key: str, value: float) -> float:
    if not (math.isfinite(value) and value > 0.0):
        raise ProfileError(f"bit {bit.name!r}: {key} must be more than 0, not {value:g}")
    return value


def _check_lengths(bit: Bit) -> None:
    for key in ("flute_length", "shank", "stickout"):
        value = getattr(bit, key)
        if value is not None:
            _positive(bit, key, value)
    if bit.tip < 0:
        raise ProfileError(f"bit {bit.name!r}: tip must not be less than 0, it is {bit.tip:g} mm")
    if (
        bit.flute_length is not None
        and bit.stickout is not None
        and bit.flute_length > bit.stickout + _SAME
    ):
        raise ProfileError(
            f"bit {bit.name!r}: flutes of {bit.flute_length:g} mm do not fit on a stick-out of "
            f"{bit.stickout:g} mm"
        )
