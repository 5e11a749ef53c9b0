"""Removing material: one stage of motion cut into a surface, with the facts of every row.

`remove` is the whole of it: rows become pieces with closed forms (`paths`), pieces are sorted
into tiles (`tiles`), threads take the tiles (`share`) and cut them (`drive`), and what each row took
is read from the same pass. Ctrl-C between two groups of tiles leaves the surface partly cut.
"""

from __future__ import annotations

import math
import pathlib
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Final, Literal, NamedTuple, cast

import numpy as np
from numpy.typing import NDArray

from dryrun.cores import usable_cores
from dryrun.jit import cache_folder
from dryrun.job.model import Bit, Clamp, Machine, Stock
from dryrun.motion import PROBE, Motion
from dryrun.removal.cells import EDGELESS, fine_between
from dryrun.removal.commit import (
    LEFT,
    NOWHERE,
    RIGHT,
    TALLEST,
    TALLEST_AT,
    TALLY,
)
from dryrun.removal.drive import (
    cut_tiles,
    gather,
)
from dryrun.removal.exact import TURN
from dryrun.removal.facts import Contact, CutFacts
from dryrun.removal.ground import (
    Bins,
    Pieces,
    Tools,
)
from dryrun.removal.lines import UPRIGHT
from dryrun.removal.parts import Parts
from dryrun.removal.paths import Path, join, path_of, pieces_of
from dryrun.removal.profile import Profile, UndercutBit
from dryrun.removal.reach import Disc, clamp_contacts, discs_above, lowest_over
from dryrun.removal.rows import add_up_plunges, measure_rows, steepest_descents
from dryrun.removal.share import Later, Progress, cut_all
from dryrun.removal.surface import STEPS, Surface

Rapids = Literal["straight", "independent"]

TILES: Final = (32, 64, 128, 256)

#: Cells whose centres are no farther outside a disc count as under it, mm.
_HAIR: Final = 1e-5

Floats = NDArray[np.float64]


def remove(
    surface: Surface,
    motion: Motion,
    bit: Bit,
    threads: int | None = None,
    *,
    progress: Progress | None = None,
    machine: Machine | None = None,
    clamps: Sequence[Clamp] = (),
    stock: Stock | None = None,
    rapids: Rapids | None = None,
    first_row: int = 0,
    tile: int | None = None,
    compiling: Callable[[], None] | None = None,
) -> CutFacts:
    """Cut a stage's motion into a surface, in place.

    Parameters
    ----------
    surface : Surface
        The blank as it is before the stage.
    motion : Motion
        In the blank's frame (a stage's shift is applied by the caller). Rows with unknown places
        and probing rows cut nothing.
    bit : Bit
        What cuts; its shank and stick-out are looked at too.
    threads : int, optional
        Default: one per usable core. The result does not depend on it.
    progress : callable, optional
        Called now and then with (pieces done, pieces in all).
    machine : Machine, optional
        Its holder and dust shoe are looked for in the material; its rates bend rapids.
    clamps : sequence of Clamp
        Boxes that nothing may touch.
    stock : Stock, optional
        Not needed: the surface knows its blank.
    rapids : "straight" or "independent", optional
        Default: the machine's, else straight.
    first_row : int
        Number of the first row in `surface.cut_by`.
    tile : 32, 64, 128 or 256, optional
        Cells along the side of what a thread works on; by default as large as still gives each
        thread some. The result does not depend on it.
    compiling : callable, optional
        Called once before kernels are compiled (some seconds), if they have to be.

    Returns
    -------
    CutFacts

    Raises
    ------
    UndercutBit
        The bit cuts under material; `reach_facts` still says how low it comes.
    ProfileError, ValueError
    """
    workers = max(1, threads if threads is not None else usable_cores())
    if tile is not None and tile not in TILES:
        raise ValueError(f"a tile has 32, 64, 128 or 256 cells along its side, not {tile}")
    profile = Profile.from_bit(bit)
    rates = _rates(machine, rapids)
    path = path_of(_without_probing(motion), rates)
    discs = discs_above(profile, machine)
    with ThreadPoolExecutor(max_workers=workers) as pool:
        parts = Parts(pool, workers)
        pieces, tools, probes = _all_pieces(motion, path, profile, discs, surface, parts)
        _tell_compiling(compiling, len(pieces.kind))
        tile = _tile_for(surface, pieces, workers) if tile is None else tile
        if first_row:
            pieces = pieces._replace(row=(pieces.row + np.int32(first_row)).astype(np.int32))
        # before the lists of tiles, whose short ones at the end even out what the threads do
        rest = Later(pool, _rest, motion, path, profile, surface, len(probes))
        job = (surface, pieces, tools, tile, workers, progress)
        for bins, batch, tallies in cut_all(pool, parts, rest, *job):
            rows, *touched = rest.result().totals
            gather(batch, bins, tallies, first_row, rows)
            for number, total in enumerate(touched, start=1):
                _gather_probe(batch, bins, tallies, number, first_row, total)
        done = rest.result()
        facts = _facts(surface, motion, profile, done, parts)
    touched = done.totals[1:]
    facts.contacts.update(_material_contacts(surface, motion, profile, rates, discs, probes, touched))
    if clamps:
        facts.contacts.update(clamp_contacts(motion, path, profile, discs, clamps, surface.top))
    return facts


def reach_facts(
    motion: Motion,
    bit: Bit,
    stock: Stock,
    *,
    machine: Machine | None = None,
    clamps: Sequence[Clamp] = (),
    rapids: Rapids | None = None,
) -> CutFacts:
    """Return what is known of a stage without a field: lowest points and contact with clamps.

    For bits that cut under material. What only the field could tell is NaN.
    """
    try:
        profile = Profile.from_bit(bit)
    except UndercutBit:
        profile = _outline(bit)
    path = path_of(_without_probing(motion), _rates(machine, rapids))
    lowest, lowest_at = lowest_over(motion, path, stock.low, stock.high, profile.radius)
    n = len(motion)
    contacts: dict[str, Contact] = {}
    if clamps:
        discs = discs_above(profile, machine)
        contacts = clamp_contacts(motion, path, profile, discs, clamps, stock.top)
    nothing = np.full(n, np.nan)
    return CutFacts(
        removed_mm3=nothing, axial=nothing, axial_at=np.full((n, 2), np.nan), lowest=lowest,
        lowest_at=lowest_at, width=nothing, engagement=nothing, entry=nothing, contacts=contacts,
    )  # fmt: skip


# --------------------------------------------------------------------------------------------
# Before the cut
# --------------------------------------------------------------------------------------------


def _without_probing(motion: Motion) -> Motion:
    """Rows that cut; a probe stops where it touches, which nobody knows beforehand."""
    probing = motion.kind == PROBE
    if not probing.any():
        return motion
    start = np.where(probing[:, None], np.nan, motion.start)
    columns = {name: getattr(motion, name) for name in Motion.__dataclass_fields__}
    return Motion(**{**columns, "start": start})


def _rates(machine: Machine | None, rapids: Rapids | None) -> tuple[float, float, float] | None:
    mode = rapids or (machine.rapids if machine is not None else "straight")
    if mode == "straight":
        return None
    if mode != "independent":
        raise ValueError(f'rapids are "straight" or "independent", not {mode!r}')
    if machine is None:
        raise ValueError("rapids of independent axes need the machine's max_rate")
    return machine.max_rate


def _outline(bit: Bit) -> Profile:
    """Return the simplest cutter that hides an undercut one: its largest disc at tip height."""
    disc = Profile.disc(bit.radius, bit.name)
    return Profile(
        disc.name, disc.family, disc.radius, disc.ring, disc.corner, disc.blend, disc.slope,
        flute_length=bit.flute_length,
        shank_radius=None if bit.shank is None else bit.shank / 2,
        stickout=bit.stickout,
    )  # fmt: skip


def _all_pieces(
    motion: Motion, path: Path, profile: Profile, discs: Sequence[Disc], surface: Surface, run: Parts
) -> tuple[Pieces, Tools, list[int]]:
    """Pieces of the cutter and of those discs that come below the top; which discs those are."""
    top, probes = surface.top, list[int]()
    parts = [pieces_of(path, profile, top, parts=run)]
    numbers = [profile.numbers(fine_between(profile, surface.cell))]
    for index, disc in enumerate(discs):
        raised = _raised(_into_material(motion, path, profile, disc), disc.offset)
        flat = Profile.disc(disc.radius)
        probe = pieces_of(raised, flat, top, len(numbers), run)
        if len(probe.kind):
            parts.insert(0, probe)
            numbers.append(flat.numbers(EDGELESS))
            probes.append(index)
    return join(parts), Tools(np.array(numbers), profile.pieces), probes


def _into_material(motion: Motion, path: Path, profile: Profile, disc: Disc) -> Path:
    """Return the path less what a disc goes of it in the hole that the cutter made in the same row.

    No wider than the cutter, it follows it straight down, and from the second turn of a helix on.
    The pieces of a disc run before the cutter's of the same row, and would not know.
    """
    if not profile.rises or disc.radius > profile.radius:
        return path
    room = disc.offset - float(profile.height(disc.radius))
    if room < 0.0:
        return path
    aside = np.abs(path.end[:, :2] - path.start[:, :2]).max(axis=1, initial=0.0)
    end = np.where(aside[:, None] <= UPRIGHT, path.start, path.end)
    arc = path.arc.copy()
    z, first, sweep, rise = path.arc[:, [2, 4, 5, 6]].T
    more = np.where(np.abs(rise) * TURN <= room, np.maximum(sweep - TURN, 0.0), 0.0)
    back = motion.sweep[path.arc_row] < 0.0  # such arcs begin with the end of their row
    arc[:, 2] = np.where(back, z + rise * more, z)
    arc[:, 4] = np.where(back, first + more, first)
    arc[:, 5] = sweep - more
    return Path(path.line_row, path.start, end, path.arc_row, arc)


def _raised(path: Path, by: float) -> Path:
    up = np.array([0.0, 0.0, by])
    arc = path.arc.copy()
    arc[:, 2] += by
    return Path(path.line_row, path.start + up, path.end + up, path.arc_row, arc)


def _tile_for(surface: Surface, pieces: Pieces, threads: int) -> int:
    """Return the side of a tile: in large ones fewer pieces are looked at twice.

    Not so where rows have several pieces, for which the whole tile is compared (`drive`).
    """
    ny, nx = surface.shape
    enough = threads == 1 or (ny // 256) * (nx // 256) >= 12 * threads
    single = bool((pieces.row[1:] != pieces.row[:-1]).all())
    return 256 if enough and single else 128


def _tell_compiling(compiling: Callable[[], None] | None, work: int) -> None:
    """Call back when the kernels have neither been compiled here nor kept on disk."""
    if compiling is None or not work or getattr(cut_tiles, "signatures", None) != []:
        return
    folder = cache_folder(pathlib.Path(__file__).with_name("drive.py"))
    if folder is None or next(folder.rglob("drive.cut_tiles-*.nbi"), None) is None:
        compiling()


def _no_tallies(rows: int) -> NDArray[np.int64]:
    tallies = np.zeros((rows, TALLY), np.int64)
    tallies[:, TALLEST_AT], tallies[:, LEFT], tallies[:, RIGHT] = -1, NOWHERE, -NOWHERE
    return tallies


def _gather_probe(
    pieces: Pieces, bins: Bins, tallies: NDArray[np.int64], tool: int, first: int,
    total: NDArray[np.int64],
) -> None:  # fmt: skip
    """Deepest contact of one disc per row; of equal ones the cell with the lowest number."""
    entry = np.flatnonzero((pieces.tool[bins.piece] == tool) & (tallies[:, TALLEST] > 0))
    if len(entry) == 0:
        return
    row = pieces.row[bins.piece[entry]] - first
    found = tallies[entry]
    order = np.lexsort((found[:, TALLEST_AT], -found[:, TALLEST], row))
    row, index = np.unique(row[order], return_index=True)
    best = found[order[index]]
    better = best[:, TALLEST] > total[row, TALLEST]
    better |= (best[:, TALLEST] == total[row, TALLEST]) & (
        best[:, TALLEST_AT] < total[row, TALLEST_AT]
    )
    total[row[better]] = best[better]


# --------------------------------------------------------------------------------------------
# After the cut
# --------------------------------------------------------------------------------------------


class _Rest(NamedTuple):
    """What takes no field: lowest points and angles of descent; and totals, still of nothing."""

    lowest: Floats
    lowest_at: Floats
    descent: Floats
    totals: list[NDArray[np.int64]]  # of the cutter, and of each disc above it


def _rest(motion: Motion, path: Path, profile: Profile, surface: Surface, discs: int) -> _Rest:
    lowest = lowest_over(motion, path, surface.low, surface.high, profile.radius)
    totals = [_no_tallies(len(motion)) for _ in range(1 + discs)]
    return _Rest(*lowest, _descent(motion, path), totals)


def _facts(
    surface: Surface,
    motion: Motion,
    profile: Profile,
    rest: _Rest,
    parts: Parts,
) -> CutFacts:
    totals, n = rest.totals[0], len(motion)
    columns = np.empty((7, n))  # in one piece, for which the system has larger pages
    removed, axial, width, engagement, entry = columns[:5]
    axial_at = columns[5:].reshape(n, 2)
    frame = (surface.cell, *surface.origin, profile.radius, surface.shape[1])

    def measure(first: int, after: int) -> None:
        part = slice(first, after)
        edges = profile.radii_at(totals[part, TALLEST] / STEPS)
        low, high, turns = np.empty((3, after - first))
        measure_rows(
            (motion.kind[part], motion.axis[part], motion.start[part], motion.end[part]),
            totals[part], edges, frame,
            (removed[part], axial[part], axial_at[part], width[part], low, high, turns),
        )  # fmt: skip
        engagement[part] = (np.arcsin(high) - np.arcsin(low)) * turns
        entry[part] = np.where(axial[part] > 0.0, rest.descent[part], np.nan)

    parts.run(n, measure)
    add_up_plunges(motion.kind, motion.start, motion.end, axial)
    return CutFacts(
        removed_mm3=removed, axial=axial, axial_at=axial_at, lowest=rest.lowest,
        lowest_at=rest.lowest_at, width=width, engagement=engagement, entry=entry, contacts={},
    )  # fmt: skip


def _cell_places(surface: Surface, number: NDArray[np.int64]) -> Floats:
    """Centres of cells by number, (n, 2); NaN for -1."""
    iy, ix = np.divmod(number, surface.shape[1])
    at = np.column_stack([ix, iy]) * surface.cell + np.array(surface.origin)
    return np.where(number[:, None] >= 0, at, np.nan)


def _descent(motion: Motion, path: Path) -> Floats:
    """Steepest angle below the horizontal at which each row goes down, rad; NaN where it never does."""
    fall, run = np.full((2, len(motion)), np.nan)
    steepest_descents(path.line_row, path.start, path.end, fall, run)
    angle = np.arctan2(fall, run)
    if len(path.arc):
        fall = motion.start[path.arc_row, 2] - motion.end[path.arc_row, 2]
        along = path.arc[:, 3] * path.arc[:, 5]
        angle[path.arc_row] = np.where(fall > 0.0, np.arctan2(fall, along), np.nan)
    return cast(Floats, angle)


def _material_contacts(
    surface: Surface,
    motion: Motion,
    profile: Profile,
    rates: tuple[float, float, float] | None,
    discs: Sequence[Disc],
    probes: Sequence[int],
    touched: Sequence[NDArray[np.int64]],
) -> dict[str, Contact]:
    """Deepest contact of each part over all its discs: the cell, and the height of its face."""
    rows = len(motion)
    found: dict[str, Contact] = {}
    for disc in discs:
        found.setdefault(
            f"{disc.part}-material", Contact(np.zeros(rows), np.full((rows, 3), np.nan))
        )
    for index, total in zip(probes, touched, strict=True):
        contact = found[f"{discs[index].part}-material"]
        depth = total[:, TALLEST] / STEPS
        deeper = np.flatnonzero(depth > contact.depth)
        at = _cell_places(surface, total[deeper, TALLEST_AT])
        contact.depth[deeper] = depth[deeper]
        contact.place[deeper, :2] = at
        these = motion.rows(deeper)
        contact.place[deeper, 2] = _lowest_face(these, profile, rates, discs[index], at)
    return found


def _lowest_face(
    motion: Motion,
    profile: Profile,
    rates: tuple[float, float, float] | None,
    disc: Disc,
    at: Floats,
) -> Floats:
    """Return how low a disc comes over one place for each row, mm; where it never does, its lowest end."""
    to = np.column_stack([at, np.zeros(len(at))])
    columns = {name: getattr(motion, name) for name in Motion.__dataclass_fields__}
    for name in ("start", "end", "centre"):  # as seen from the place
        columns[name] = columns[name] - to
    seen = Motion(**columns)
    path = _into_material(seen, path_of(seen, rates), profile, disc)
    low, _ = lowest_over(seen, path, (0.0, 0.0), (0.0, 0.0), disc.radius + _HAIR)
    ends = np.fmin(motion.start[:, 2], motion.end[:, 2])
    return cast(Floats, np.where(np.isnan(low), ends, low) + disc.offset)


def between_cells(profile: Profile, cell: float) -> float:
    """How much deeper than the field the cutter may have cut between four cell centres, mm."""
    half = cell / math.sqrt(2.0)
    most = half * profile.steepest
    if not profile.rises:  # lowest on a circle, which may run between the centres anywhere
        return most
    return float(min(profile.height(min(half, profile.radius)), most))
