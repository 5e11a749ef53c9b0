"""The ball's own way over a tile: which blocks it may lower, and heights, cutting and counting at once.

Relief is finished with balls, in hundreds of thousands of short moves. For them the steps that
`block` takes one after another for other shapes (`blocks`, then `commit`) are a few short loops here,
over blocks without walls, away from the blank's edge and above its underside. The blocks that the ball
may lower are listed before, for all pages within reach: what one page needs does not wait for what is
done to another. The formulas are those of `blocks` and `bounds`, written so that a cell takes few
operations; all of them fill whole vectors.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from dryrun.jit import inlined_kernel, inner_kernel
from dryrun.removal.block import at_edge
from dryrun.removal.blocks import (
    AT_U,
    AT_W,
    CELLS,
    HALF_BLOCK,
    NARROWEST,
    ROOT,
    TOOL,
    UNDER,
)
from dryrun.removal.blocks import CELL as WIDE
from dryrun.removal.commit import (
    MIXED,
    NOISE,
    NOWHERE,
    SIDE_STEPS,
    SIGNS,
    SLACK,
    cover,
    still_mixed,
)
from dryrun.removal.ground import (
    ALONG,
    AT_HIGH,
    AT_LOW,
    BALL_LIMITS,
    BALL_LINE,
    BESIDE,
    BLOCKS,
    CELL,
    EDGE_FROM,
    EDGE_TO,
    FRAME,
    GOES_ON,
    JOINED,
    LEFTS,
    LENGTH,
    LISTED,
    LISTED_END,
    LOW_X,
    LOW_Y,
    MIDDLE_X,
    MIDDLE_Y,
    MOST_MM,
    NEAR_FIRST,
    NEAR_FOUND,
    NEAR_PAGES,
    NEAR_WAYS,
    NX,
    NY,
    OFFSET,
    OVERHANG,
    PAGE_BLOCKS,
    PAGES_X,
    PIECE,
    PLUNGES,
    RIGHTS,
    RIM_DEPTH,
    RISE,
    ROW,
    SHORT,
    SPREAD,
    STEPS_PER_MM,
    THICK,
    TILE_PAGES,
    TOP,
    UX,
    UY,
    VIEW_BASE,
    VIEW_FROM,
    VIEW_TO,
    VIEW_U,
    VIEW_W,
    WHOLLY,
    X,
    Y,
    Z,
)
from dryrun.removal.lend import float32_rows, float64s, int32_rows, int32s, int64s
from dryrun.removal.profile import RADIUS
from dryrun.removal.strips import SAME, WHOLE_PART
from dryrun.removal.view import steps_below

#: Height over the tip and above, mm, to which the loops below hold.
HIGHEST: Final = 1000.0
#: Numbers in the row BALL_LINE of the work space: the line's direction and slope m; the ball's radius
#: and its square; sqrt(1 + m^2), and m over that; ...
L_UX, L_UY, L_M, L_RADIUS, L_SQUARE, L_STRETCH, L_BEHIND = range(7)
#: ... how far a block reaches along the line, and that and the radius; how far its cells may lie from its
#: middle; the square of how far from the line its middle may lie; how near to its middle the rim counts,
#: and the edge of the cut in a top that stands (`means.bends`); ...
L_HALF, L_BACK, L_SPREAD, L_OUTER, L_NEAR, L_EDGE_FROM, L_EDGE_TO = range(7, 14)
#: ... how far beyond an end that joins the piece before it blocks are not left to that; slope and radius
#: in steps; and the square below the rim.
L_OPEN_FROM, L_OPEN_TO, L_RISE, L_MIDDLE, L_LEAST_UNDER = range(14, 19)
#: Whole numbers in the notes: how many steps deeper than its centre a cell may be; the blank's thickness;
#: above which depth the rim counts, and the edge of the cut in the top; whether all blocks need mean
#: depths; 1 + row; and the greatest depth that counts where the path goes straight on: the thickness, or
#: less than nothing where it does not.
OVER, LEAST_THICK, RIM, TOP_EDGE, ALL_BENT, SIGN, ONWARD_TO = range(BALL_LIMITS, BALL_LIMITS + 7)
#: What is done to a block: nothing, or it is cut at once (`cut_with_ball`) or in steps (`block`).
LEFT_ALONE, AT_ONCE, IN_STEPS = (np.int32(way) for way in range(3))

_F32: Final = np.float32
_ZERO: Final = np.float32(0.0)
_ONE: Final = np.float32(1.0)
_STEPS: Final = np.float32(STEPS_PER_MM)
_MOST: Final = np.float32(MOST_MM)
_SPREAD: Final = np.float32(SPREAD)
_ON_RIM: Final = np.float32(-2e-6)
_SIDE: Final = np.float32(SIDE_STEPS)
_SIX: Final = np.int32(6)
_LAST: Final = np.int32(63)
_STEP: Final = np.int32(1)
_NONE: Final = np.int32(0)
_NOISE: Final = np.int32(NOISE)
_NOWHERE: Final = np.int32(NOWHERE)
_FAR: Final = np.float32(1e9)
_HALF: Final = np.float32(0.5)
_TINY: Final = np.float32(1e-6)
_SAME: Final = np.int32(SAME)
_DEEPEST: Final = np.int32(2**31 - 1)


@inner_kernel
def see_ball(lent: Any) -> None:
    """Note the numbers of a ball and its line for the loops below, in single precision."""
    real, grid = float64s(lent.real), int64s(lent.whole)
    work, notes = float32_rows(lent.work), int32s(lent.notes)
    radius, cell, m = real[RADIUS], real[FRAME + CELL], real[PIECE + RISE]
    half = HALF_BLOCK * cell * (abs(real[PIECE + UX]) + abs(real[PIECE + UY]))
    near = (SPREAD + 1.01) * cell
    work[BALL_LINE, L_UX], work[BALL_LINE, L_UY] = real[PIECE + UX], real[PIECE + UY]
    work[BALL_LINE, L_M] = m
    work[BALL_LINE, L_RADIUS], work[BALL_LINE, L_SQUARE] = radius, _F32(radius) * _F32(radius)
    work[BALL_LINE, L_STRETCH] = np.sqrt(1.0 + m * m)
    work[BALL_LINE, L_BEHIND] = m / np.sqrt(1.0 + m * m)
    work[BALL_LINE, L_HALF], work[BALL_LINE, L_BACK] = half, half + radius
    work[BALL_LINE, L_SPREAD], work[BALL_LINE, L_OUTER] = SPREAD * cell, (radius + cell) ** 2
    work[BALL_LINE, L_NEAR] = near
    work[BALL_LINE, L_EDGE_FROM], work[BALL_LINE, L_EDGE_TO] = real[EDGE_FROM] - near, real[EDGE_TO] + near
    work[BALL_LINE, L_OPEN_FROM] = -half if grid[JOINED] == AT_LOW else -np.inf
    work[BALL_LINE, L_OPEN_TO] = half + real[OFFSET] if grid[JOINED] == AT_HIGH else np.inf
    work[BALL_LINE, L_RISE], work[BALL_LINE, L_MIDDLE] = m * STEPS_PER_MM, radius * STEPS_PER_MM
    work[BALL_LINE, L_LEAST_UNDER] = radius * _ON_RIM
    notes[OVER], notes[LEAST_THICK] = grid[OVERHANG], grid[THICK]
    notes[RIM], notes[TOP_EDGE] = _DEEPEST if grid[WHOLLY] else grid[RIM_DEPTH], grid[OVERHANG] > 0
    notes[ALL_BENT], notes[SIGN] = grid[PLUNGES] != 0, grid[ROW] + 1
    notes[ONWARD_TO] = grid[THICK] if grid[GOES_ON] else -1


@inner_kernel
def list_blocks(lent: Any, box: Any) -> Any:
    """List the blocks of a tile that a ball along a line may lower.

    `box` is the first and last row, and the first and last column of pages within reach. The notes
    from LISTED on become the numbers in the tile of the blocks to be cut at once, and up to
    LISTED_END, backwards, of those to be cut in steps. Returns where the two lists end. What the line
    looks like from the middle of a page is noted for each page.
    """
    grid = int64s(lent.whole)
    pages = _list_pages(lent, box)
    _sort_pages((lent.work, lent.notes, lent.levels, MIXED * grid[BLOCKS]), pages)
    if box[1] * 32 >= grid[NY] - 64 or box[3] * 32 >= grid[NX] - 64:
        _mind_edge(lent, pages)
    return _list_ways(lent.notes, pages)


@inner_kernel
def _list_pages(lent: Any, box: Any) -> Any:
    """List the pages within reach of a line, note what it looks like from each, and return their number."""
    real, grid, notes = float64s(lent.real), int64s(lent.whole), int32s(lent.notes)
    work = float32_rows(lent.work)
    y0, y1, x0, x1 = box
    size, side, across, short = 32.0 * real[FRAME + CELL], grid[TILE_PAGES], grid[PAGES_X], grid[SHORT] != 0
    from_y, from_x = real[PIECE + Y] - real[FRAME + LOW_Y], real[PIECE + X] - real[FRAME + LOW_X]
    ux, uy, length = real[PIECE + UX], real[PIECE + UY], real[PIECE + LENGTH]
    half = 0.5 * size * (abs(ux) + abs(uy))
    reach = real[RADIUS] + real[FRAME + CELL] + half
    open_from = -half if grid[JOINED] == AT_LOW else -np.inf
    open_to = length + real[OFFSET] + half if grid[JOINED] == AT_HIGH else np.inf
    base = steps_below(real[FRAME + TOP], real[PIECE + Z])
    count = np.uint64(0)
    for py in range(y0, y1 + 1):
        for px in range(x0, x1 + 1):
            x, y = (px + 0.5) * size - from_x, (py + 0.5) * size - from_y
            u, w = x * ux + y * uy, y * ux - x * uy
            page = (py & (side - 1)) * side + (px & (side - 1))  # sides are powers of two
            # single precision holds near the place that the view is from
            nearest = 0.0 if short else min(max(u, 0.0), length)
            if not short:
                base = steps_below(real[FRAME + TOP], real[PIECE + Z] + real[PIECE + RISE] * nearest)
            work[VIEW_U, page], work[VIEW_W, page] = u - nearest, w
            work[VIEW_FROM, page], work[VIEW_TO, page] = -nearest, length - nearest
            notes[VIEW_BASE + page] = base
            # noted in any case, and kept if counted: a branch could not be foretold
            notes[np.uint64(NEAR_PAGES) + count] = page
            notes[np.uint64(NEAR_FIRST) + count] = (py * across + px) * PAGE_BLOCKS
            count += np.uint64((u >= open_from) & (u <= open_to) & (abs(w) <= reach))
    return np.int64(count)


@inner_kernel
def _sort_pages(lists: Any, pages: Any) -> None:
    """Note for each block of the listed pages whether the ball may lower it, and which way it is cut.

    The two bounds of depth are those of `bounds`: the deepest tip within reach with the ball at the
    least distance, and the trough swept by the line without ends. Blocks wholly beyond an end that
    joins the piece before are left to that piece. Where the surface bends within a cell (`means.bends`:
    at the rim, and where the top stands at the edge of the cut) mean depths are needed, which
    `cut_with_ball` does not know.

    All pages in one loop without a branch: what one of them waits for does not hold up the next. The
    ways found in a page, joined as bits, are noted too.
    """
    work, notes, levels = float32_rows(lists[0]), int32s(lists[1]), int32s(lists[2])
    line = work[BALL_LINE]
    ux, uy, m, radius, square = line[L_UX], line[L_UY], line[L_M], line[L_RADIUS], line[L_SQUARE]
    half, back, spread, outer = line[L_HALF], line[L_BACK], line[L_SPREAD], line[L_OUTER]
    stretch, near, edge_from, edge_to = line[L_STRETCH], line[L_NEAR], line[L_EDGE_FROM], line[L_EDGE_TO]
    before, beyond = line[L_OPEN_FROM], line[L_OPEN_TO]
    overhang, thick, rim, edge = notes[OVER], notes[LEAST_THICK], notes[RIM], notes[TOP_EDGE]
    all_bent, below = notes[ALL_BENT], np.int32(notes[OVER] + SLACK)
    for i in range(np.uint64(pages)):
        page = np.uint64(notes[np.uint64(NEAR_PAGES) + i])
        first = np.uint64(notes[np.uint64(NEAR_FIRST) + i])
        u0, w0 = work[VIEW_U, page], work[VIEW_W, page]
        low, high = work[VIEW_FROM, page], work[VIEW_TO, page]
        base, mixed = np.int32(notes[np.uint64(VIEW_BASE) + page] + below), first + np.uint64(lists[3])
        ways, found = np.uint64(NEAR_WAYS) + i * np.uint64(PAGE_BLOCKS), _NONE
        for b in range(PAGE_BLOCKS):
            x, y = work[MIDDLE_X, b], work[MIDDLE_Y, b]
            u, w = u0 + ux * x + uy * y, w0 + ux * y - uy * x
            over = max(u - high, _ZERO) + min(u - low, _ZERO)
            away = np.sqrt(w * w + over * over)
            beside, past = max(abs(w) - half, _ZERO), max(abs(over) - half, _ZERO)
            least = max(away - spread, _ZERO)
            gap = max(least * least, beside * beside + past * past)
            tip = m * min(max(u - back, low), high) - np.sqrt(max(square - gap, _ZERO))
            trough = m * (u - half) - stretch * np.sqrt(max(square - beside * beside, _ZERO))
            depth = np.int32(base - np.int32(min(max(tip, trough) + radius, _MOST) * _STEPS))
            level = levels[first + np.uint64(b)]
            lowers = depth > (level if level == _NONE else np.int32(level + overhang))
            lowers &= (gap <= outer) & (u >= low + before) & (u <= high + beyond)
            bent = (level < rim) & (abs(away - radius) <= near)
            bent |= (level < edge) & (edge_from <= away) & (away <= edge_to)
            bent |= ((levels[mixed + np.uint64(b)] | all_bent) != _NONE) | (depth > thick)
            way = (IN_STEPS if bent else AT_ONCE) if lowers else LEFT_ALONE
            notes[ways + np.uint64(b)] = way
            found = np.int32(found | way)
        notes[np.uint64(NEAR_FOUND) + i] = found


@inner_kernel
def _mind_edge(lent: Any, pages: Any) -> None:
    """Let the blocks of the listed pages that lie partly beyond the blank be cut in steps."""
    grid, notes = int64s(lent.whole), int32s(lent.notes)
    for i in range(pages):
        number = notes[NEAR_FIRST + i] // PAGE_BLOCKS
        py, px = number // grid[PAGES_X], number % grid[PAGES_X]
        for b in range(PAGE_BLOCKS):
            way = NEAR_WAYS + i * PAGE_BLOCKS + b
            if notes[way] != LEFT_ALONE and at_edge(lent, py * 32 + (b >> 2) * 8, px * 32 + (b & 3) * 8):
                notes[way] = IN_STEPS
                notes[NEAR_FOUND + i] = AT_ONCE | IN_STEPS


@inner_kernel
def _list_ways(note_list: Any, pages: Any) -> Any:
    """Append the blocks of the listed pages to the list of their way; return where the lists end.

    Numbers are written in any case, and kept if counted: a branch could not be foretold.
    """
    notes = int32s(note_list)
    at_once, in_steps = np.uint64(LISTED), np.uint64(LISTED_END)
    for i in range(np.uint64(pages)):
        found = notes[np.uint64(NEAR_FOUND) + i]
        first = np.int32(notes[np.uint64(NEAR_PAGES) + i] * np.int32(PAGE_BLOCKS))
        ways = np.uint64(NEAR_WAYS) + i * np.uint64(PAGE_BLOCKS)
        if found & AT_ONCE:
            for b in range(PAGE_BLOCKS):
                notes[at_once] = first + np.int32(b)
                at_once += np.uint64(notes[ways + np.uint64(b)] == AT_ONCE)
        if found & IN_STEPS:
            for b in range(PAGE_BLOCKS):
                notes[in_steps] = first + np.int32(b)
                in_steps -= np.uint64(notes[ways + np.uint64(b)] == IN_STEPS)
    return np.int64(at_once), np.int64(in_steps)


@inner_kernel
def cut_with_ball(lists: Any, base: Any, view: Any, deepest: Any) -> Any:
    """Cut a block with a ball along a line, and count what that takes.

    `lists` are addresses of the cells, the work space, the depths and the notes; `base` is the block's
    first number in the cells. `view` (float32) is where the block's middle lies along the line and
    beside it, where the line begins and ends, and between which places along it what is taken counts
    for the width of cut; `deepest` is the base depth. What is the same for all blocks: `see_ball`.

    Returns the sum of the columns taken; the largest axial depth with the first cell that has it, as
    64 * depth + 63 - cell (what that depth is: `commit.axial_depths`); and the least depth. How far
    beside the line columns were taken is kept cell by cell for all blocks of a piece (`end_sides`).
    """
    _see_cells(lists, view)
    return _take(lists, base, view, deepest)


@inner_kernel
def cut_at_wall(lists: Any, places: Any, view: Any, limits: Any) -> Any:
    """Cut a block through which the ball's upright wall passes, or one of walls before.

    As `cut_with_ball`, with the means at the end of `lists`; `places` are the block's first numbers in
    the cells and in the means, and `limits` the base depth and whether the wall counts. Not for a line
    that goes through the blank, nor where more than the wall bends (`means.bends`).

    Returns what `cut_with_ball` does, but the volume by mean depths, and whether some still differ
    from those of the centres.
    """
    cells, out, thick = int32s(lists[0]), int32_rows(lists[2]), int32s(lists[3])[LEAST_THICK]
    taken, known = int32s(lists[4]), (lists[0], lists[1], lists[2], lists[3])
    _see_cells(known, view)
    _find_means(known, view, limits)
    volume = cover(cells, taken, places, out)
    _, tallest, least = _take(known, places[0], view, limits[0])
    mixed, shallowest = still_mixed(cells, places[0], taken, places[1], thick)
    return volume, tallest, (min(least, shallowest) if shallowest < thick else least), mixed


@inlined_kernel
def _see_cells(lists: Any, view: Any) -> None:
    """Note where a block's cells lie along the line and beside it, and half the trough's width there.

    A loop of its own: while a root is waited for, other cells are at work.
    """
    work, u0, w0 = float32_rows(lists[1]), view[0], view[1]
    square = work[BALL_LINE, L_SQUARE]
    for k in range(CELLS):
        u, w = u0 + work[ALONG, k], w0 + work[BESIDE, k]
        work[AT_U, k], work[AT_W, k] = u, w
        work[ROOT, k] = np.sqrt(max(square - w * w, _ZERO))


@inlined_kernel
def _touch(cell: Any, ends: Any, slant: Any) -> Any:
    """Return the place of the line at which the ball comes lowest over a cell, and what is below a root.

    `cell` is where it lies along the line and beside it, and half the trough's width there; `ends` are
    those of the line. The root is how far the ball's surface is below its middle, less than 0 outside.
    """
    u, w, root = cell
    low, high = ends
    behind, square = slant
    nearest = min(max(u - behind * root, low), high)
    off = u - nearest
    return nearest, square - w * w - off * off


@inlined_kernel
def _take(lists: Any, base: Any, view: Any, deepest: Any) -> Any:
    """Cut a block whose cells were seen, and count what that takes (see `cut_with_ball`)."""
    cells, work, notes = int32s(lists[0]), float32_rows(lists[1]), int32s(lists[3])
    low, high, span_from, span_to = view[2], view[3], view[4], view[5]
    line, row, thick = work[BALL_LINE], notes[SIGN], notes[ONWARD_TO]
    rise, middle, least_under = line[L_RISE], line[L_MIDDLE], line[L_LEAST_UNDER]
    slant = line[L_BEHIND], line[L_SQUARE]
    volume, tallest, least, cell = _NONE, _NONE, _NOWHERE, _LAST
    for k in range(CELLS):
        u, w, root = work[AT_U, k], work[AT_W, k], work[ROOT, k]
        nearest, under = _touch((u, w, root), (low, high), slant)
        z = middle + rise * nearest - _STEPS * np.sqrt(max(under, _ZERO))
        ahead_z = middle + rise * min(max(u, low), high) - _STEPS * root
        depth = np.int32(deepest - np.int32(z)) if under >= least_under else _NONE
        onward = min(np.int32(deepest - np.int32(ahead_z)), thick)
        i, j = base + np.uint64(k), base + np.uint64(SIGNS + k)
        old, by = cells[i], cells[j]
        new = max(old, depth)
        fell = np.int32(new - old)
        felt = fell > _NOISE
        axial = max(fell, np.int32(onward - old)) if felt else _NONE
        cells[i] = new
        cells[j] = row if fell > (_NONE if by == _NONE else _NOISE) else by  # `commit.sign`
        volume = np.int32(volume + fell)
        tallest = max(tallest, np.int32((axial << _SIX) | cell))
        cell = np.int32(cell - _STEP)
        least = min(least, new)
        beside = felt & (u >= span_from) & (u <= span_to)
        work[LEFTS, k] = min(work[LEFTS, k], w if beside else _FAR)
        work[RIGHTS, k] = max(work[RIGHTS, k], w if beside else -_FAR)
    return volume, tallest, least


@inlined_kernel
def _find_means(lists: Any, view: Any, limits: Any) -> None:
    """Put the mean depths of a block's cells in out[UNDER]: its depth, and at the wall what is cut of it.

    A cell counts by its area (`strips.mean_at_wall`), beyond the rim with the depth of the rim.
    """
    work, out, thick = float32_rows(lists[1]), int32_rows(lists[2]), int32s(lists[3])[LEAST_THICK]
    low, high, line, cell = view[2], view[3], work[BALL_LINE], work[TOOL, WIDE]
    ux, uy, rise, middle = line[L_UX], line[L_UY], line[L_RISE], line[L_MIDDLE]
    slant = line[L_BEHIND], line[L_SQUARE]
    deepest, radius, least_under = limits[0], (line[L_RADIUS] if limits[1] else _FAR), line[L_LEAST_UNDER]
    for k in range(CELLS):
        u, w, root = work[AT_U, k], work[AT_W, k], work[ROOT, k]
        over = max(u - high, _ZERO) + min(u - low, _ZERO)
        away = max(np.sqrt(w * w + over * over), _TINY)
        width = max((abs(over * ux - w * uy) + abs(over * uy + w * ux)) * (cell / away), NARROWEST)
        part = max(min(_HALF, (radius - away) / width) + _HALF, _ZERO)
        nearest, under = _touch((u, w, root), (low, high), slant)
        z = middle + rise * nearest - _STEPS * np.sqrt(max(under, _ZERO))
        depth = max(min(np.int32(deepest - np.int32(z)), thick), _NONE)
        centre = depth if under >= least_under else _NONE
        mean = np.int32(np.float32(depth) * part)
        bent = (part < WHOLE_PART) & (abs(np.int32(mean - centre)) > _SAME)
        out[UNDER, k] = mean if bent else centre


@inner_kernel
def begin_sides(work: Any) -> None:
    """Nothing has been taken to the left and right of a line."""
    for k in range(CELLS):
        work[LEFTS, k], work[RIGHTS, k] = _FAR, -_FAR


@inner_kernel
def end_sides(work: Any) -> Any:
    """Return how far to the right of a line columns were taken, negative left and right, in steps."""
    left, right = _NOWHERE, np.int32(-_NOWHERE)
    for k in range(CELLS):
        to_left, to_right = work[LEFTS, k], work[RIGHTS, k]
        left = min(left, np.int32(to_left * _SIDE) if to_left < _FAR else _NOWHERE)
        right = max(right, np.int32(to_right * _SIDE) if to_right > -_FAR else np.int32(-_NOWHERE))
    return np.int64(left), np.int64(right)
