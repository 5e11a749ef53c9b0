"""The numbers of a piece and its tool, put where the inner kernels find them.

And what follows from them for the whole piece: which way it takes, where its edge in the top needs a
closer look, whether it plunges or goes on, and where mean depths count all over.
"""

# mypy: ignore-errors
# kernels: numba types them when they run

from __future__ import annotations

import numpy as np

from dryrun.jit import inlined_kernel, inner_kernel
from dryrun.removal import blocks
from dryrun.removal.ball import HIGHEST, see_ball
from dryrun.removal.blocks import DX, DY
from dryrun.removal.commit import (
    LEFT,
    NOISE,
    NOWHERE,
    RIGHT,
    TALLEST,
    TALLEST_AT,
    VOLUME,
)
from dryrun.removal.disc import look_along, see_cells
from dryrun.removal.exact import edge_of
from dryrun.removal.ground import (
    A_RADIUS,
    A_RISE,
    A_SWEEP,
    ARC,
    BALL_WAY,
    BASE,
    CELL,
    COARSE,
    DATA,
    DISC_WAY,
    EDGE_ALONE,
    EDGE_FROM,
    EDGE_TO,
    ENTRY,
    FAR_X,
    FAR_Y,
    FRAME,
    GOES_ON,
    HELIX,
    JOINED,
    KIND,
    LENGTH,
    LEVEL_FLAT,
    LINE,
    LONG_WAY,
    LOW_X,
    LOW_Y,
    OFFSET,
    OVERHANG,
    PIECE,
    PLUNGES,
    RIM_DEPTH,
    RISE,
    ROW,
    SHALLOW,
    SHORT,
    SHORT_WAY,
    STEEP,
    STEPS_PER_MM,
    THICK,
    TIP_DEPTH,
    TOOL_INDEX,
    TOP,
    UX,
    UY,
    WHOLLY,
    X,
    Y,
    Z,
)
from dryrun.removal.lend import (
    float32_rows,
    float64s,
    int32s,
    int64s,
    number_rows,
    piece_rows,
    tally_rows,
)
from dryrun.removal.profile import (
    BALL,
    BULL,
    CORNER,
    FAMILY,
    FINE_FROM,
    FINE_TO,
    FORM,
    NUMBERS,
    RADIUS,
    RIM,
    RING,
)
from dryrun.removal.view import (
    arc_box,
    furthest_offset,
    piece_of,
    steps_below,
    tool_of,
)

#: A path along the blank's edge is over it, mm.
_HAIR = 1e-4
#: A flank steeper than this counts as a wall.
_STEEPEST = 8.0
#: From this part of its height on the round flank of a cutter bends much within a cell.
_NEAR_RIM = 0.85


@inner_kernel
def load(lent, given, entry):
    """Put the numbers of an entry's piece and its tool where the inner kernels find them."""
    real, whole, work = float64s(lent.real), int64s(lent.whole), float32_rows(lent.work)
    data, numbers = piece_rows(given.data), number_rows(given.numbers)
    index = int32s(given.entries)[entry]
    tool = int32s(given.tool)[index]
    if tool != whole[TOOL_INDEX]:
        whole[TOOL_INDEX] = tool
        for i in range(NUMBERS):
            real[i] = numbers[tool, i]
        for i in range(blocks.CELL):
            work[blocks.TOOL, i] = real[i]
    for i in range(DATA):
        real[PIECE + i] = data[index, i]
    whole[KIND], whole[ROW] = int32s(given.kind)[index], int32s(given.row)[index]
    whole[JOINED], whole[ENTRY] = int32s(given.joined)[index], entry
    _choose_way(real, whole)
    if whole[SHORT_WAY] != LONG_WAY:
        see_cells(work, np.float32(real[PIECE + UX]), np.float32(real[PIECE + UY]), DX, DY)
        look_along(real)
    _note_bends(real, whole)
    if whole[SHORT_WAY] == BALL_WAY:
        see_ball(lent)
    tallies = tally_rows(lent.tallies)
    tallies[entry, VOLUME] = 0
    tallies[entry, TALLEST] = 0
    tallies[entry, TALLEST_AT] = -1
    tallies[entry, LEFT] = NOWHERE
    tallies[entry, RIGHT] = -NOWHERE


@inner_kernel
def _choose_way(real, whole):
    """Note which way the piece takes through the blocks, and what it is chosen by."""
    kind, tool = whole[KIND], whole[TOOL_INDEX]
    disc = real[PIECE + RISE] == 0.0 and real[RING] >= real[RADIUS] and real[FAMILY] != FORM
    flat = kind == LINE and disc
    whole[LEVEL_FLAT] = flat
    whole[SHORT] = kind == LINE and real[PIECE + LENGTH] < 16.0 * real[FRAME + CELL]
    real[OFFSET] = furthest_offset(real[FAMILY], real[RADIUS], real[PIECE + RISE])
    height = real[PIECE + RISE] * real[PIECE + LENGTH] + 2.0 * real[RADIUS]
    fits = real[FRAME + CELL] <= COARSE and height < HIGHEST
    depth = steps_below(real[FRAME + TOP], real[PIECE + Z])
    whole[SHORT_WAY] = LONG_WAY
    if tool == 0 and flat and NOISE < depth <= min(whole[THICK], SHALLOW) and fits:
        whole[SHORT_WAY] = DISC_WAY
        whole[BASE] = depth
    elif tool == 0 and kind == LINE and real[FAMILY] == BALL and depth <= SHALLOW and fits:
        whole[SHORT_WAY] = BALL_WAY


@inner_kernel
def _note_bends(real, whole):
    """Note how deep the piece goes, and where its cut may bend within a cell."""
    kind, lowest = whole[KIND], real[PIECE + Z]
    if kind == ARC or kind == HELIX:
        lowest += min(0.0, real[PIECE + A_RISE] * real[PIECE + A_SWEEP])
    whole[TIP_DEPTH] = steps_below(real[FRAME + TOP], lowest)
    whole[RIM_DEPTH] = steps_below(real[FRAME + TOP], lowest + real[RIM])
    whole[GOES_ON], whole[PLUNGES] = _goes_on(kind, real), _plunges(kind, real)
    nosed = real[FAMILY] == BALL or real[FAMILY] == BULL
    beside = nosed and not _is_over_blank(kind, real)
    _note_edge(real, whole, lowest, beside)
    alone = not whole[SHORT] or whole[JOINED] == 0  # relief is finished in short moves, one on the other
    deep = not whole[SHORT] and real[FRAME + TOP] - lowest > _NEAR_RIM * real[CORNER]
    curved = nosed and (deep or (alone and whole[OVERHANG] > 0))
    whole[EDGE_ALONE] = beside
    whole[WHOLLY] = curved or beside or whole[PLUNGES] != 0


@inner_kernel
def _note_edge(real, whole, lowest, beside):
    """Note where the edge of the cut lies in a top that stands, and how steep its flank is there.

    A cell whose centre the cutter passes above may still lose a part, at most half its diagonal away.
    """
    depth = real[FRAME + TOP] - lowest
    fine_to = np.inf if whole[SHORT] else real[FINE_TO]  # relief is finished in short moves
    if real[FINE_FROM] <= depth <= fine_to and not beside:
        real[EDGE_FROM], real[EDGE_TO], whole[OVERHANG] = 0.0, -np.inf, 0
        return
    if whole[KIND] == ARC or whole[KIND] == HELIX:
        rise, climb = real[PIECE + A_RISE], abs(real[PIECE + A_RISE] * real[PIECE + A_SWEEP])
    else:
        rise, climb = real[PIECE + RISE], real[PIECE + RISE] * real[PIECE + LENGTH]
    real[EDGE_FROM], _ = edge_of(tool_of(real), depth - climb)
    real[EDGE_TO], slope = edge_of(tool_of(real), depth)
    steep = min(slope + abs(rise), _STEEPEST)
    whole[OVERHANG] = np.int64(steep * 0.71 * real[FRAME + CELL] * STEPS_PER_MM)


@inner_kernel
def _is_over_blank(kind, real):
    """Whether a piece's path lies all over the blank: of a groove beside it little but the edge counts."""
    if kind == LINE or kind == STEEP:
        x, y, length = real[PIECE + X], real[PIECE + Y], real[PIECE + LENGTH]
        end_x, end_y = x + real[PIECE + UX] * length, y + real[PIECE + UY] * length
        return _is_inside(real, x, y) and _is_inside(real, end_x, end_y)
    low_x, low_y, high_x, high_y = arc_box(piece_of(real))
    return _is_inside(real, low_x, low_y) and _is_inside(real, high_x, high_y)


@inlined_kernel
def _is_inside(real, x, y):
    """Whether a place is over the blank or on its edge."""
    over_x = real[FRAME + LOW_X] - _HAIR <= x <= real[FAR_X] + _HAIR
    return over_x and real[FRAME + LOW_Y] - _HAIR <= y <= real[FAR_Y] + _HAIR


@inner_kernel
def _plunges(kind, real):
    """Whether a piece hardly moves sideways, so that its cut is round wherever it is.

    A ball bends so evenly that it must be a plunge, and under a disc nothing bends there.
    """
    if kind == HELIX:
        return True
    disc = real[RING] >= real[RADIUS] and real[FAMILY] != FORM
    plunge = real[PIECE + LENGTH] == 0.0 and not disc
    return kind != ARC and (plunge or (real[PIECE + RISE] > 1.0 and real[FAMILY] != BALL))


@inner_kernel
def _goes_on(kind, real):
    """Whether what lies ahead of a piece may become deeper than what it takes there itself.

    Not so under a level disc. A piece steeper than 45 degrees does not go on; it goes down.
    """
    disc = real[RING] >= real[RADIUS] and real[FAMILY] != FORM
    if kind == ARC or kind == HELIX:
        rise = real[PIECE + A_RISE]
        return not (disc and rise == 0.0) and abs(rise) <= real[PIECE + A_RADIUS]
    rise = real[PIECE + RISE]
    return real[PIECE + LENGTH] > 0.0 and rise <= 1.0 and not (disc and rise == 0.0)
