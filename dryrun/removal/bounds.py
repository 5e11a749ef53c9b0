"""How deep a piece could come over each block of a page, so that most blocks are never computed.

Most of a cutter's footprint lies over what was cut before. A block is only computed when the
lowest the cutter could come over it is below the highest of its cells.
"""

# mypy: ignore-errors
# kernels: numba types them when they run

from __future__ import annotations

from typing import Final

import numpy as np

from dryrun.jit import inner_kernel
from dryrun.removal import blocks
from dryrun.removal.blocks import (
    HALF_BLOCK,
    NEVER,
)
from dryrun.removal.commit import SLACK
from dryrun.removal.exact import (
    lowest_between,
)
from dryrun.removal.ground import (
    ARC,
    BASE,
    JOINED,
    KIND,
    LEVEL_FLAT,
    LINE,
    MIDDLE_X,
    MIDDLE_Y,
    MOST_MM,
    OFFSET,
    OVERHANG,
    PAGE_BLOCKS,
    SPREAD,
    STEPS_PER_MM,
)
from dryrun.removal.lend import (
    float32_rows,
    float64s,
    int32s,
    int64s,
)
from dryrun.removal.profile import (
    RADIUS,
    RING,
)
from dryrun.removal.view import (
    nearest,
    open_part,
    piece_of,
    place_line,
    rings_of,
    steps_below,
    tool_of,
)

_F32: Final = np.float32
_ZERO: Final = np.float32(0.0)


@inner_kernel
def bound_page(lent, middle, arcs, exact):
    """Greatest depth to which the piece could lower any cell of each block of a page.

    With OVERHANG: where the top stands, so far above the centre of a cell may its border be cut.
    """
    real, grid = float64s(lent.real), int64s(lent.whole)
    work, notes = float32_rows(lent.work), int32s(lent.notes)
    kind, data = grid[KIND], piece_of(real)
    if kind == LINE:
        grid[BASE] = place_line(work, data, middle)
        low, high = open_part(work, grid[JOINED], np.float32(real[OFFSET]))
        # a level disc gives its own depth and nothing else: no allowance for rounding
        slack = np.int32(grid[OVERHANG] + (0 if grid[LEVEL_FLAT] else SLACK))
        _bound_line(work, (np.int32(grid[BASE]), slack), notes, (low, high))
    elif arcs is not None or exact is not None:
        _bound_other(lent, middle)


@inner_kernel
def _bound_other(lent, middle):
    """Greatest depths under an arc, a helix or a steep line."""
    real, grid = float64s(lent.real), int64s(lent.whole)
    work, notes = float32_rows(lent.work), int32s(lent.notes)
    kind, data = grid[KIND], piece_of(real)
    rings = rings_of(lent)
    tool = tool_of(real)
    slack = grid[OVERHANG] + (0 if kind == ARC and tool[RING] >= tool[RADIUS] else SLACK)
    x, y, top = middle
    spread = SPREAD * work[blocks.TOOL, blocks.CELL]
    for b in range(PAGE_BLOCKS):
        bx, by = x + work[MIDDLE_X, b], y + work[MIDDLE_Y, b]
        away, low = nearest(kind, data, bx, by, tool[RADIUS] + spread)
        away = max(away - spread, 0.0)
        if away > tool[RADIUS] + work[blocks.TOOL, blocks.CELL]:
            notes[b] = NEVER
        else:
            low += lowest_between(tool, rings, away, np.inf)
            notes[b] = steps_below(top, low) + slack


@inner_kernel
def _bound_line(work, depths, notes, open_between):
    """Greatest depth to which a line could lower any cell of each block of a page.

    Two bounds hold: the deepest tip within reach with the profile at the least distance; and the
    surface swept by the line without ends. Both taken as seen from the nearest corner of the block.
    Blocks that lie wholly beyond `open_between` along the line are left to the piece before.
    """
    base, slack = depths
    open_from, open_to = open_between
    radius, ring = work[blocks.TOOL, blocks.RADIUS], work[blocks.TOOL, blocks.RING]
    corner, blend = work[blocks.TOOL, blocks.CORNER], work[blocks.TOOL, blocks.BLEND]
    steep, cell = work[blocks.TOOL, blocks.STEEP], work[blocks.TOOL, blocks.CELL]
    u0, w0 = work[blocks.PLACE, blocks.U], work[blocks.PLACE, blocks.W]
    low, high = work[blocks.PLACE, blocks.FROM], work[blocks.PLACE, blocks.TO]
    ux, uy = work[blocks.PLACE, blocks.UX], work[blocks.PLACE, blocks.UY]
    m = work[blocks.PLACE, blocks.SLOPE_M]
    spread = _F32(SPREAD) * cell
    half = HALF_BLOCK * cell * (abs(ux) + abs(uy))
    outer = radius + cell
    square, most = corner * corner, blend - ring
    rise = np.sqrt(_F32(1.0) + m * m)
    conical = steep > m
    cone_rise = np.sqrt(max(steep * steep - m * m, _ZERO))
    intercept = corner - np.sqrt(max(square - most * most, _ZERO)) - steep * blend
    open_line = (m > _ZERO) & ((steep <= _ZERO) | conical)
    for b in range(PAGE_BLOCKS):
        u = u0 + ux * work[MIDDLE_X, b] + uy * work[MIDDLE_Y, b]
        w = w0 + ux * work[MIDDLE_Y, b] - uy * work[MIDDLE_X, b]
        over = max(u - high, _ZERO) + min(u - low, _ZERO)
        beside, past = max(abs(w) - half, _ZERO), max(abs(over) - half, _ZERO)
        away = max(np.sqrt(w * w + over * over) - spread, np.sqrt(beside * beside + past * past))
        r = min(away, radius)
        t = min(max(r - ring, _ZERO), most)
        first = min(max(u - radius - half, low), high)
        z = m * first + corner - np.sqrt(max(square - t * t, _ZERO)) + steep * max(r - blend, _ZERO)
        bent = min(max(beside - ring, _ZERO), corner)
        bowl = m * (u - half - ring) + corner - rise * np.sqrt(max(square - bent * bent, _ZERO))
        cone = m * (u - half) + cone_rise * beside + intercept
        endless = cone if conical else bowl
        z = max(z, endless) if open_line else z
        deep = np.int32(base - np.int32(min(z, _F32(MOST_MM)) * _F32(STEPS_PER_MM)))
        near = (away <= outer) & (u + half >= open_from) & (u - half <= open_to)
        notes[b] = np.int32(deep + slack) if near else NEVER


@inner_kernel
def any_below(notes, levels, first):
    """Whether the piece could come below the highest cell of any block of a page."""
    found = False
    for b in range(PAGE_BLOCKS):
        found |= notes[b] > levels[first + np.uint64(b)]
    return found
