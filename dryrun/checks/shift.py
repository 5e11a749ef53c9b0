"""Do two stages share one frame: outlines that would meet if one stage were moved.

Each stage's footprint at one level is drawn on a grid, and the edges of the two are slid over each
other (a cross-correlation by FFT). Edges count with the side on which the cut lies, so that walls
face the same way when they meet. A single best place away from where the stages lie, in which most
of the edges of one of them meet in all directions, is a shift; pieces that merely stand beside each
other meet in one direction only. Over a relief, where there are no outlines, the slopes tell.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dryrun.checks.concentric import beside_their_holes
from dryrun.checks.context import StageContext
from dryrun.checks.entry import detail_width
from dryrun.checks.held import moved_out
from dryrun.checks.maps import Mask, along, filled, near
from dryrun.checks.offsets import offset_elsewhere, offset_not_called
from dryrun.checks.relief import over_a_relief, relief_of
from dryrun.checks.slide import LEAST, OVERLAP, even, refined
from dryrun.finding import Finding
from dryrun.job.model import Bit
from dryrun.motion import RAPID

#: Points along the longer side of the window: few see through what is not quite alike, many see
#: small shifts.
_POINTS: Final = (160, 320)

#: Outlines whose areas are alike by this part are looked at with more points.
_NEARER: Final = 640
ALIKE: Final = 0.9
#: ... and of them one may have been made with so much to spare all round, mm (common practice).
_SPARE: Final = 1.0

#: Part of the edges that must meet at the best place, ...
MEET: Final = 0.65
#: ... in each direction that the edges have, ...
MEET_EACH: Final = 0.45
#: ... and at most this part of it where the stages lie.
MEET_HERE: Final = 0.5

#: A finer bit that takes what a wider one could not reach, in corners and along walls, has only
#: some of its edges on them: this part of them must meet, in every direction, ...
REST_MEET: Final = 0.35
#: ... at most so much of it where the stages lie, ...
REST_HERE: Final = 0.55
#: ... and anywhere else; ...
REST_ELSEWHERE: Final = 0.5
#: ... when this part of what it covers lies on what the wider bit has covered.
_REST_INSIDE: Final = 0.4

#: Depth at which footprints are compared, as a part of the shallower stage's, ...
_MIDDLE: Final = 0.5
#: ... and for tapered bits, whose walls meet straight ones at the floor.
_NEAR_FLOOR: Final = 0.9

#: An axis along which less than this part of what meets lies is not looked at by itself.
_AXIS_PART: Final = 0.2

#: A part of the larger footprint's length that a shift may have; two like pockets side by side are
#: further apart.
MOST: Final = 0.4

#: Bands of depth in which a bit's width is taken as one.
_BANDS: Final = 4

#: A peak of the correlation reaches so far, points.
_PEAK: Final = 4

#: Z: a retract height and a depth that are off together by more than this are a shift, mm.
Z_LEAST: Final = 0.15
_Z_ALIKE: Final = 0.03


@dataclass(frozen=True, slots=True)
class _Grid:
    """Points `cell` mm apart from `low`."""

    low: NDArray[np.float64]
    cell: float
    shape: tuple[int, int]

    def marked(self, points: NDArray[np.float64]) -> Mask:
        """Return the mask of the points of the grid nearest to places."""
        mask = np.zeros(self.shape, np.bool_)
        place = np.rint((points[:, :2] - self.low) / self.cell).astype(np.intp)
        mask[place[:, 1], place[:, 0]] = True
        return mask


def stage_shifted(context: StageContext) -> Iterator[Finding]:
    """Report a stage that lies beside an earlier one, or higher or lower than its zero.

    A relief has no outlines of its own: where one level cuts it says nothing about where it is.
    """
    yield from offset_elsewhere(context)
    yield from offset_not_called(context)
    earlier = [c for c in context.earlier if c.stage.bit is not None and c.removed_mm3 > 1.0]
    relief = relief_of(context)
    if relief is not None:
        yield from over_a_relief(context, relief)
    else:
        outlines = (_sideways(context, other) for other in reversed(_beside(earlier)))
        found = next((f for f in outlines if f is not None), None)
        yield from _beside_holes(context) if found is None else [found]
    yield from _up_or_down(context, earlier)


def _beside(earlier: list[StageContext]) -> list[StageContext]:
    """Return the two stages before, and the two that are no drilling: holes have few outlines."""
    outlined = [c.number for c in earlier if c.bit.shape != "drill"][-2:]
    return [c for c in earlier if c.number in outlined or c in earlier[-2:]]


def _beside_holes(context: StageContext) -> list[Finding]:
    """Report holes that are all off the centre of an earlier stage's holes by the same."""
    found = beside_their_holes(context)
    if found is None:
        return []
    dx, dy, stage = found
    row = int(np.flatnonzero(context.motion.cutting)[0])
    return [
        context.finding(
            "stage-shifted",
            f"the holes of this stage all lie X {context.mm(round(dx, 2))} "
            f"Y {context.mm(round(dy, 2))} from the centres of those of stage {stage}: "
            "the two do not share one zero",
            row=row,
            letters="XY",
            value=float(np.hypot(dx, dy)),
            limit=0.0,
            unit="mm",
        )
    ]


def _sideways(context: StageContext, other: StageContext) -> Finding | None:
    top = context.stock.top
    paths = [_below_top(c) for c in (other, context)]
    if any(not len(points) for points, _ in paths):
        return None
    deepest = [top - float(points[:, 2].min()) for points, _ in paths]
    tapered = any(c.bit.shape in ("taper-ball", "taper-flat") for c in (other, context))
    upright = all(c.bit.shape in ("flat", "bull") for c in (other, context))
    finer = detail_width(context.bit) < 0.95 * detail_width(other.bit)
    both = [points for points, _ in paths]
    bits = [other.bit, context.bit]
    for part in _levels(bits, tapered):
        moved = _moved_at(both, bits, top - part * min(deepest), finer, upright)
        if moved is not None:
            break
    else:
        return None
    dx, dy = moved
    points, row = paths[1]
    return context.finding(
        "stage-shifted",
        f"this stage lies about X {context.mm(round(dx, 1))} Y {context.mm(round(dy, 1))} from "
        f"where its outlines would meet those of stage {other.number}: the two do not share one "
        "zero",
        row=int(row[0]),
        letters="XY",
        at=points[0],
        value=float(np.hypot(dx, dy)),
        limit=0.0,
        unit="mm",
    )


def _levels(bits: list[Bit], tapered: bool) -> tuple[float, ...]:
    """Return at which parts of the shallower stage's depth two footprints are compared.

    A vee bit may carve walls that meet cleared ground at its floor, or break the rim of a pocket.
    """
    if tapered:
        return (_NEAR_FLOOR,)
    carved = [bit.shape == "vee" for bit in bits]
    return (_MIDDLE, _NEAR_FLOOR) if any(carved) and not all(carved) else (_MIDDLE,)


def _moved_at(
    paths: list[NDArray[np.float64]], bits: list[Bit], level: float, finer: bool, upright: bool
) -> tuple[float, float] | None:
    """Return how far the second path is from where its edges at one level would meet, mm."""
    for number in _POINTS:
        grid, masks = _drawn(paths, bits, level, number)
        moved = _moved_on(grid, masks, finer) or (moved_out(masks, grid.cell) if upright else None)
        if moved is not None:
            return moved
    if not _beside_alike(grid, masks):
        return None
    grid, masks = _drawn(paths, bits, level, _NEARER)
    spare = _SPARE + max(_bevel(*both, level) for both in zip(paths, bits, strict=True))
    moved, wide = _moved_on(grid, masks, finer), _as_wide(grid, masks, spare)
    return _moved_on(grid, wide, False) if moved is None and wide else moved


def _drawn(
    paths: list[NDArray[np.float64]], bits: list[Bit], level: float, number: int
) -> tuple[_Grid, list[Mask]]:
    """Return a grid over both paths and the footprints of their bits on it."""
    grid = _grid_over(paths, bits, number)
    both = zip(paths, bits, strict=True)
    return grid, [_footprint(grid, points, bit, level) for points, bit in both]


def _beside_alike(grid: _Grid, masks: list[Mask]) -> bool:
    """Tell whether two outlines are alike and lie a little beside each other."""
    whole = [filled(mask) for mask in masks]
    areas = [float(mask.sum()) for mask in whole]
    if min(areas) <= ALIKE * max(areas):
        return False
    middle = [np.mean(np.nonzero(mask), axis=1) * grid.cell for mask in whole]
    return float(np.hypot(*(middle[1] - middle[0]))) >= LEAST[1]


def _bevel(points: NDArray[np.float64], bit: Bit, level: float) -> float:
    """Return how far a vee bit that breaks a rim reaches beyond its path at a level, mm."""
    if bit.shape != "vee":
        return 0.0
    return float(_radius_at(bit, np.maximum(level - points[:, 2], 0.0)).max())


def _as_wide(grid: _Grid, masks: list[Mask], most: float) -> list[Mask]:
    """Return two like outlines, filled, the smaller grown all round until it is as large.

    So walls that were roughed with some thickness to spare lie where they are finished. Nothing
    where that would be more than `most`, mm.
    """
    whole = [filled(mask) for mask in masks]
    areas = [int(mask.sum()) for mask in whole]
    small = int(np.argmin(areas))
    rim = int((whole[small] & near(~whole[small], 1.0)).sum())
    spare = (max(areas) - min(areas)) / max(rim, 1)
    if (spare - 1.0) * grid.cell > most:  # either edge may be half a point off
        return []
    whole[small] = near(whole[small], spare)
    return whole


def _moved_on(grid: _Grid, masks: list[Mask], finer: bool) -> tuple[float, float] | None:
    """Return how far the second footprint is from where its edges would meet the first's, mm."""
    if not masks[0].any() or not masks[1].any():
        return None
    shape = (even(masks[0].shape[0] * 3 // 2 + 8), even(masks[0].shape[1] * 3 // 2 + 8))
    edges = _edges(masks[0], shape)
    spectrum = np.conj(np.fft.fft2(edges))
    shift = _best_shift(masks[0], masks[1], edges, spectrum, finer)
    if shift is None:
        # A path along walls leaves its middle; only its outside can meet them.
        outside = filled(masks[1])
        if outside.sum() > masks[1].sum():
            shift = _best_shift(masks[0], outside, edges, spectrum, False)
            if shift is None:
                shift = _islands(filled(masks[0]) & ~masks[0], outside & ~masks[1], shape)
    if shift is None:
        return None
    dx, dy = shift[0] * grid.cell, shift[1] * grid.cell
    return (dx, dy) if np.hypot(dx, dy) >= max(LEAST[0] * grid.cell, LEAST[1]) else None


def _islands(first: Mask, second: Mask, shape: tuple[int, int]) -> tuple[float, float] | None:
    """Return how far what a second stage goes around is from what the first has left, points."""
    if not first.any() or not second.any():
        return None
    edges = _edges(first, shape)
    return _best_shift(first, second, edges, np.conj(np.fft.fft2(edges)), False)


def _below_top(context: StageContext) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Return points along the feed moves below the top, and their rows."""
    motion = context.motion
    low = np.minimum(motion.start[:, 2], motion.end[:, 2])
    rows = np.flatnonzero(motion.cutting & (low < context.stock.top - 0.05))
    size = max(context.stock.size[:2])
    points, row = along(motion, rows, max(0.25, size / (2 * _POINTS[-1])))
    keep = (points[:, 2] < context.stock.top - 0.05) & np.isfinite(points).all(axis=1)
    return points[keep], row[keep]


def _grid_over(paths: list[NDArray[np.float64]], bits: list[Bit], number: int) -> _Grid:
    edge = max(bit.radius for bit in bits)
    low = np.min([p[:, :2].min(axis=0) for p in paths], axis=0) - edge
    high = np.max([p[:, :2].max(axis=0) for p in paths], axis=0) + edge
    cell = max(0.1, float((high - low).max()) / number)
    nx, ny = (int(n) for n in np.ceil((high - low) / cell).astype(int) + 3)
    return _Grid(low - cell, cell, (ny, nx))


def _footprint(grid: _Grid, points: NDArray[np.float64], bit: Bit, level: float) -> Mask:
    """Return the mask of what the bit covers at one level."""
    depth = level - points[:, 2]
    points, depth = points[depth >= 0], depth[depth >= 0]
    mask = np.zeros(grid.shape, np.bool_)
    if not len(points):
        return mask
    wide = _radius_at(bit, depth)
    edges = np.linspace(wide.min(), wide.max() + 1e-9, _BANDS + 1)
    band = np.clip(np.searchsorted(edges, wide, side="right") - 1, 0, _BANDS - 1)
    for k in np.unique(band):
        here = band == k
        mask |= near(grid.marked(points[here]), float(wide[here].mean()) / grid.cell)
    return mask


def _radius_at(bit: Bit, depth: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the bit's radius at heights above its tip, mm."""
    if bit.shape in ("vee", "drill") and bit.angle:
        wide = bit.tip / 2 + depth * np.tan(bit.angle / 2)
    elif bit.shape == "ball":
        under = np.maximum(bit.radius - depth, 0.0)
        wide = np.sqrt(np.maximum(bit.radius**2 - under**2, 0.0))
    elif bit.shape in ("taper-ball", "taper-flat") and bit.angle:
        wide = detail_width(bit) / 2 + depth * np.tan(bit.angle)
    else:
        wide = np.full(len(depth), bit.radius)
    least: NDArray[np.float64] = np.minimum(wide, bit.radius)
    return least


def _edges(mask: Mask, shape: tuple[int, int]) -> NDArray[np.complex128]:
    """Return the slopes of a mask along X and Y, a little blurred, as real and imaginary part."""
    soft = np.zeros(shape)
    soft[3 : mask.shape[0] + 3, 3 : mask.shape[1] + 3] = mask
    for axis in (0, 1):
        for _ in range(2):
            soft = (np.roll(soft, 1, axis) + 2 * soft + np.roll(soft, -1, axis)) / 4
    along_x, along_y = (np.roll(soft, -1, k) - np.roll(soft, 1, k) for k in (1, 0))
    edges: NDArray[np.complex128] = along_x + 1j * along_y
    return edges


def _sides(edges: NDArray[np.complex128]) -> list[NDArray[np.float64]]:
    """Return the slopes that rise to the right, to the left, to the back and to the front."""
    return [np.maximum(part, 0.0) for p in (edges.real, edges.imag) for part in (p, -p)]


def _best_shift(
    first: Mask,
    second: Mask,
    a: NDArray[np.complex128],
    spectrum: NDArray[np.complex128],
    finer: bool,
) -> tuple[float, float] | None:
    """Return how far the second mask is moved from where its edges meet the first's; points.

    `a` are the first's edges, `spectrum` the conjugate of their transform. `finer`: the second is
    made by a finer bit, which may take only what the first has left. Shifts up to half of the
    window are looked at; beyond them hardly anything would overlap.
    """
    overlap = int((first & second).sum())
    if overlap < OVERLAP * min(int(first.sum()), int(second.sum())):
        return None
    b = _edges(second, (a.shape[0], a.shape[1]))
    least = min(float((np.abs(e) ** 2).sum()) for e in (a, b))
    if least <= 0:
        return None
    whole = np.fft.ifft2(spectrum * np.fft.fft2(b)).real
    peak = np.unravel_index(int(np.argmax(whole)), whole.shape)
    iy, ix = int(peak[0]), int(peak[1])
    here = max(float(whole[j, i]) for j in (-1, 0, 1) for i in (-1, 0, 1))
    best = float(whole[iy, ix])
    if best < REST_MEET * least:
        return None
    moved = np.roll(b, (-iy, -ix), (0, 1))
    apart = here / best if here <= MEET_HERE * best else _apart(a, b, moved, best)
    rest = best < MEET * least or apart > MEET_HERE
    each = REST_MEET if rest else MEET_EACH
    if rest and not (finer and overlap >= _REST_INSIDE * int(second.sum())):
        return None
    if rest and min(apart, here / best) > REST_HERE:
        return None
    if rest and _elsewhere(a, b, iy, ix) > REST_ELSEWHERE:
        return None
    smaller = a if (np.abs(a) ** 2).sum() <= (np.abs(b) ** 2).sum() else moved
    for own, one, other in zip(_sides(smaller), _sides(a), _sides(moved), strict=True):
        energy = float((own * own).sum())
        if energy > 0.1 * least and float((one * other).sum()) < each * energy:
            return None
    dy, dx = refined(whole, iy, ix)
    size = max(int(np.ptp(k)) + 1 for mask in (first, second) for k in np.nonzero(mask))
    return (dx, dy) if np.hypot(dx, dy) <= MOST * size else None


def _apart(
    a: NDArray[np.complex128], b: NDArray[np.complex128], moved: NDArray[np.complex128], best: float
) -> float:
    """Return which part of the edges that meet once moved meet where the stages lie.

    Along X and along Y by themselves, the smaller of the two: a shift along one axis leaves the
    edges along it where they are.
    """
    least = np.inf
    for part in (np.real, np.imag):
        one, there = part(a), float((part(a) * part(moved)).sum())
        if there < _AXIS_PART * best:
            continue
        here = max(
            float((one * part(np.roll(b, (j, i), (0, 1)))).sum())
            for j in (-1, 0, 1)
            for i in (-1, 0, 1)
        )
        least = min(least, here / there)
    return least


def _elsewhere(a: NDArray[np.complex128], b: NDArray[np.complex128], iy: int, ix: int) -> float:
    """Return how much meets at the best of the other places, as a part of what meets at this one.

    Edges along X and along Y by themselves, the smaller of the two: what slides along a wall keeps
    meeting it, and is at no place by that.
    """
    parts = []
    for part in (np.real, np.imag):
        meet = np.fft.irfft2(np.conj(np.fft.rfft2(part(a))) * np.fft.rfft2(part(b)), a.shape)
        parts.append((float(meet[iy, ix]), meet))
    total = sum(there for there, _ in parts)
    least = np.full(a.shape, np.inf)
    for there, meet in parts:
        if there >= _AXIS_PART * total:
            least = np.minimum(least, meet / there)
    rest = np.roll(least, (_PEAK - iy, _PEAK - ix), (0, 1))
    rest[: 2 * _PEAK + 1, : 2 * _PEAK + 1] = 0.0
    return float(rest.max())


# ---------------------------------------------------------------- Z


def _up_or_down(context: StageContext, earlier: list[StageContext]) -> Iterator[Finding]:
    """Report a stage whose depth and retract height are off by the same against another's."""
    own = _depth_error(context)
    if own is None or abs(own) < Z_LEAST:
        return
    for other in earlier:
        error = _depth_error(other)
        if error is None or abs(error) > 0.1:
            continue
        apart = [_retract(context), _retract(other)]
        if None in apart:
            continue
        moved = float(apart[0] or 0.0) - float(apart[1] or 0.0)
        if abs(moved - own) > _Z_ALIKE:
            continue
        row = int(np.nanargmin(context.cut.lowest))
        way = "higher" if own > 0 else "lower"
        yield context.finding(
            "stage-shifted",
            f"depth and retract height of this stage are both {context.mm(round(abs(own), 2))} "
            f"{way} than those of stage {other.number} and its own declared depth: "
            "the two do not share one Z zero",
            row=row,
            letters="Z",
            value=abs(own),
            limit=0.0,
            unit="mm",
        )
        return


def _depth_error(context: StageContext) -> float | None:
    """Return how much higher the deepest point is than the declared depth, mm; None not known."""
    depth = context.stage.depth
    if depth is None or context.facts is None or not np.isfinite(context.cut.lowest).any():
        return None
    wanted = context.stock.size[2] if np.isinf(depth) else depth
    error = float(np.nanmin(context.cut.lowest)) - (context.stock.top - wanted)
    return min(error, 0.0) if np.isinf(depth) and error > -1.0 else error


def _retract(context: StageContext) -> float | None:
    """Return the height of most sideways rapids, mm; None without any."""
    motion = context.motion
    step = motion.end - motion.start
    # A first move from a place that is not known goes sideways too.
    level = (motion.kind == RAPID) & ~(np.hypot(step[:, 0], step[:, 1]) <= 1e-6)
    level &= ~(np.abs(step[:, 2]) >= 1e-6) & np.isfinite(motion.end).all(axis=1)
    if not level.any():
        return None
    heights, count = np.unique(np.round(motion.end[level, 2], 3), return_counts=True)
    return float(heights[np.argmax(count)])
