"""Which cells of a block need their mean depths, and which way finds them (modules `strips`)."""

# mypy: ignore-errors
# kernels: numba types them when they run

from __future__ import annotations

from typing import Final

import numpy as np

from dryrun.jit import inlined_kernel, inner_kernel
from dryrun.removal import blocks, exact_strips, strips
from dryrun.removal.blocks import CELLS, DX, DY
from dryrun.removal.ground import (
    ABOVE,
    BASE,
    BELOW,
    CELL,
    EDGE_ALONE,
    EDGE_FROM,
    EDGE_TO,
    FRAME,
    HELIX,
    KIND,
    LENGTH,
    LEVEL_FLAT,
    OVERHANG,
    PAGES_X,
    PIECE,
    PLUNGES,
    RISE,
    SPREAD,
    THICK,
    TOOL_INDEX,
    UX,
    UY,
    WHOLE_SHARE,
    WHOLLY,
    X,
    Y,
    Z,
)
from dryrun.removal.lend import float32_rows, float64s, int32_rows, int32s, int64s
from dryrun.removal.profile import BALL, BLEND, BULL, FAMILY, FORM, RADIUS, RIM, RING, SLOPE
from dryrun.removal.view import nearest, piece_of, rings_of, see_whole_cells, steps_below, tool_of

_F32: Final = np.float32
#: So much longer lines are taken to be where their path goes on, in cells: the nearest one of a path in
#: short parts then covers most of a cell.
ONWARD_CELLS: Final = 0.65


@inner_kernel
def bends(lent, block, middle):
    """Whether the cut's surface may bend sharply within a cell of a block, where it lowers it.

    So it does at an upright wall, at the tip of a cone, at the edge of the cut in a top that stands,
    and anywhere under a form.
    """
    real, grid, level = float64s(lent.real), int64s(lent.whole), int32s(lent.levels)[block]
    if grid[TOOL_INDEX] > 0:
        return False
    radius, near = real[RADIUS], (SPREAD + 1.0) * real[FRAME + CELL]
    away, low = nearest(grid[KIND], piece_of(real), middle[0], middle[1], radius + near)
    if real[FAMILY] == FORM:
        return away <= radius + near
    if grid[PLUNGES]:
        return away <= radius + near and steps_below(middle[2], low) > level
    lowers_rim = grid[WHOLLY] or steps_below(middle[2], low + real[RIM]) > level
    at_wall = lowers_rim and abs(away - radius) <= near
    at_top = level == 0 and away - near <= real[EDGE_TO] and away + near >= real[EDGE_FROM]
    at_tip = real[SLOPE] > 0.0 and real[RING] - near <= away <= real[BLEND] + near
    return at_wall or at_top or (at_tip and steps_below(middle[2], low) > level)


@inner_kernel
def means_along_line(lent, at, edge, ball):
    """Find the mean depths of a block's cells along a line, but those at the wall of a ball."""
    real, grid = float64s(lent.real), int64s(lent.whole)
    work, out = float32_rows(lent.work), int32_rows(lent.out)
    limits = np.int32(grid[BASE]), np.int32(grid[THICK])
    plunges = grid[PLUNGES] != 0
    if edge:
        see_parts(lent, at)
        blocks.see_line(work)
    low, high = work[blocks.PLACE, blocks.FROM], work[blocks.PLACE, blocks.TO]
    below, above = _onward(real)
    work[blocks.PLACE, blocks.FROM], work[blocks.PLACE, blocks.TO] = low - below, high + above
    if grid[LEVEL_FLAT]:
        strips.mean_of_disc(work, limits)
    elif real[FAMILY] == BALL:
        if ball is not None and not _wall_alone(grid, edge):
            strips.mean_under_ball(work, limits, (plunges, grid[EDGE_ALONE] != 0))
    else:
        nosed = real[FAMILY] == BULL and real[PIECE + RISE] > 0.0
        strips.mean_along_line(work, limits, out, (nosed, plunges))
    work[blocks.PLACE, blocks.FROM], work[blocks.PLACE, blocks.TO] = low, high
    if edge:
        see_whole_cells(work, real[FRAME + CELL])
    blocks.see_line(work)


@inlined_kernel
def _wall_alone(grid, edge):
    """Whether of a ball's cut nothing but its upright wall bends in a block."""
    return grid[OVERHANG] == 0 and grid[WHOLLY] == 0 and not edge


@inner_kernel
def settle_line(lent, edge, ball):
    """Put the mean depths of a block's cells along a line in out[UNDER]."""
    grid, family = int64s(lent.whole), float64s(lent.real)[FAMILY]
    work, out, thick = float32_rows(lent.work), int32_rows(lent.out), np.int32(grid[THICK])
    if family == BALL and ball is not None and _wall_alone(grid, edge):
        strips.mean_at_wall(work, out, thick)
    strips.settle(work, out, thick, edge or grid[WHOLLY] != 0)


@inner_kernel
def _onward(real):
    """How much longer a line is taken to be beyond its lower and its higher end, mm.

    Not so under a pointed cutter that goes down no steeper than its flank: it cuts right beside its
    axis, and where the path curves a longer line would only be too deep.
    """
    cell = real[FRAME + CELL]
    if real[RING] < cell and (real[SLOPE] == 0.0 or real[PIECE + RISE] < real[SLOPE]):
        return _F32(0.0), _F32(0.0)
    most = ONWARD_CELLS * cell
    return _F32(min(real[PIECE + BELOW], most)), _F32(min(real[PIECE + ABOVE], most))


@inner_kernel
def means_exact(lent, at, middle, edge):
    """Put the mean depths of a block's cells along a helix, a steep line or under a form in out[UNDER]."""
    real, grid = float64s(lent.real), int64s(lent.whole)
    work, out, thick = float32_rows(lent.work), int32_rows(lent.out), np.int32(grid[THICK])
    cell, data = real[FRAME + CELL], piece_of(real)
    if edge:
        see_parts(lent, at)
    if grid[KIND] != HELIX:
        below, above = _onward(real)
        data = (
            data[X] - below * data[UX], data[Y] - below * data[UY], data[Z] - below * data[RISE],
            data[UX], data[UY], data[LENGTH] + below + above, data[RISE],
        )  # fmt: skip
    shape = grid[KIND], tool_of(real), rings_of(lent)
    exact_strips.mean_depths(work, out, shape, data, (middle, thick))
    if edge:
        see_whole_cells(work, cell)


@inner_kernel
def see_parts(lent, at):
    """Let the cells of a block at the blank's edge be what of them lies over it, for their mean depths."""
    real, grid, shares = float64s(lent.real), int64s(lent.whole), int32s(lent.shares)
    work, cell = float32_rows(lent.work), real[FRAME + CELL]
    _, _, iy, ix = at
    for k in range(CELLS):
        x = shares[ix + (k & 7)] / WHOLE_SHARE
        y = shares[grid[PAGES_X] * 32 + iy + (k >> 3)] / WHOLE_SHARE
        work[blocks.SIZE_X, k], work[blocks.SIZE_Y, k] = x * cell, y * cell
        work[DX, k] = ((k & 7) - 4.0 + 0.5 * x) * cell
        work[DY, k] = ((k >> 3) - 4.0 + 0.5 * y) * cell
