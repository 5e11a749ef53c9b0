"""What holds for every path and bit: properties of removal, and its slow twin.

The twin is the reference beside this file: the tool stepped along its path, the lowest underside
kept, in plain numpy.
"""

from __future__ import annotations

import math
import os
import random
from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryrun.job.model import Bit, Disc, Machine
from dryrun.motion import Motion
from dryrun.removal.facts import CutFacts
from dryrun.removal.simulate import remove
from dryrun.removal.surface import Surface
from tests.removal.reference import (
    BITS,
    arc,
    blank,
    line,
    motion_table,
    surface_after,
    surface_near,
)

JIT_OFF = os.environ.get("NUMBA_DISABLE_JIT") == "1"
LONG = os.environ.get("DRYRUN_LONG") == "1"
CELL = 2.1 if JIT_OFF else 0.5
#: Single precision on steep flanks, mm; a quarter of what a height may be off.
ROUNDING = 5e-4
#: What a volume may be off, for any order of the rows.
VOLUME = 0.002
SIZE = (26.3, 22.1, 12.0)

few = settings(max_examples=(400 if LONG else 25) if not JIT_OFF else 3, deadline=None)

#: Places a hair off the grid's own lines, where nothing is decided by the last digit.
across = st.integers(-130, 130).map(lambda n: n / 10 + 0.0137)
down = st.sampled_from([1.0, 0.0, -0.5, -1.0, -2.0, -2.5, -3.7, -14.0])
angle = st.integers(-60, 60).map(lambda n: n / 10 + 0.05)
radius = st.sampled_from([0.31, 1.2, 3.3, 7.7, 40.1])
axis = st.sampled_from([2, 2, 2, 0, 1])
rise = st.sampled_from([0.0, 0.0, -1.5, 2.5])
bits = st.sampled_from(sorted(BITS)).map(BITS.__getitem__)


@st.composite
def programs(draw: st.DrawFn, longest: int = 5) -> Motion:
    """Connected lines and loose arcs, some of them plunges, rapids and single points."""
    rows: list[dict] = []
    at = (draw(across), draw(across), draw(down))
    for _ in range(draw(st.integers(1, longest))):
        if draw(st.integers(0, 3)) == 0:
            centre = (draw(across), draw(across), draw(down))
            turn = draw(angle) or 1.0
            rows.append(arc(centre, draw(radius), draw(angle), turn, draw(axis), draw(rise)))
            at = rows[-1]["end"]
        else:
            to = (draw(across), draw(across), draw(down))
            if draw(st.integers(0, 4)) == 0:
                to = (at[0], at[1], to[2])
            rows.append({**line(at, to), "rapid": draw(st.booleans())})
            at = to
    return motion_table(rows)


def uncut() -> Surface:
    return Surface.blank(blank(*SIZE), cell=CELL)


def after(motion: Motion, bit: Bit, **options: object) -> tuple[Surface, CutFacts]:
    surface = uncut()
    return surface, remove(surface, motion, bit, **{"threads": 1, **options})  # type: ignore[arg-type]


def back(motion: Motion) -> Motion:
    """The same path, from its end to its start."""
    rows = []
    for i in reversed(range(len(motion))):
        row = {"start": tuple(motion.end[i]), "end": tuple(motion.start[i])}
        if motion.kind[i] == 2:
            n = int(motion.axis[i])
            centre = motion.centre[i].copy()
            centre[n] = motion.end[i, n]
            row |= {"centre": tuple(centre), "axis": n, "sweep": -motion.sweep[i]}
        rows.append(row)
    return motion_table(rows)


def round_ends(motion: Motion, bit: Bit) -> float:
    """How much a volume may depend on whether rows that go on from each other are cut in one call.

    Where they do, the round end between them is left to one of the two; an inclined row counts
    each cell there by its centre, a level one by its share. Where both count, the larger value
    stays: at most 1/8 of a cell's area too much in the mean, for each of the cells (4/pi of them in
    a cell's length) along half a circle at each end, as deep as that end is.
    """
    ends = np.concatenate([motion.start[:, 2], motion.end[:, 2]])
    depth = float(np.clip(-ends, 0.0, SIZE[2]).sum())
    return CELL / 8 * (4 / math.pi) * (math.pi * bit.radius) * depth


def all_bytes(surface: Surface, facts: CutFacts) -> list[bytes]:
    found = [surface.height.tobytes(), surface.cut_by.tobytes()]
    found += [getattr(facts, f.name).tobytes() for f in fields(facts) if f.name != "contacts"]
    for name, contact in sorted(facts.contacts.items()):
        found += [name.encode(), contact.depth.tobytes(), contact.place.tobytes()]
    return [*found, np.float64(surface.removed_mm3).tobytes()]


@few
@given(programs(), bits)
def test_the_surface_is_the_twins(motion: Motion, bit: Bit) -> None:
    """Every cell is within 2 µm of the slow twin, but for a hair around upright walls."""
    surface, _ = after(motion, bit)
    ny, nx = surface.shape
    x, y = np.meshgrid(
        surface.origin[0] + surface.cell * np.arange(nx),
        surface.origin[1] + surface.cell * np.arange(ny),
    )
    expected = surface_after(motion, bit, x, y, 0.0)
    off = np.abs(surface.height - expected) > 0.002
    if off.any():
        low, high = surface_near(motion, bit, x[off], y[off], 0.0, 5e-4)
        found = surface.height[off]
        off[off] = (found < low - 0.002) | (found > high + 0.002)

    assert not off.any()


@pytest.mark.no_cover  # the kernels are counted in the test before
@few
@given(programs(), programs(), bits)
def test_no_cell_ever_rises(first: Motion, second: Motion, bit: Bit) -> None:
    """A second program lowers cells or leaves them, and signs those it lowers."""
    surface, _ = after(first, bit)
    before, signed = surface.height.copy(), surface.cut_by.copy()
    remove(surface, second, bit, threads=1, first_row=1000)
    lowered = surface.height < before

    assert (surface.height <= before).all()
    assert (surface.cut_by[before - surface.height > 1e-3] >= 1000).all()
    assert np.array_equal(surface.cut_by[~lowered], signed[~lowered])
    assert ((surface.cut_by >= 0) == (surface.height < surface.top)).all()


@few
@given(programs(), bits)
def test_cutting_the_same_path_twice_changes_nothing(motion: Motion, bit: Bit) -> None:
    """The second time no byte of the surface changes, and nothing is said to be taken."""
    surface, facts = after(motion, bit)
    height, signed, volume = surface.height.copy(), surface.cut_by.copy(), surface.removed_mm3
    again = remove(surface, motion, bit, threads=1, first_row=50)

    assert np.array_equal(surface.height, height)
    assert np.array_equal(surface.cut_by, signed)
    assert (again.axial == 0).all()
    assert np.isnan(again.axial_at).all()
    # where walls are: shares of cells are added up in the order of the rows
    assert surface.removed_mm3 - volume <= 1e-3 * max(volume, 1.0)
    assert np.array_equal(again.lowest, facts.lowest, equal_nan=True)


@pytest.mark.jit_only
@few
@given(programs(), bits)
def test_the_way_back_gives_the_same_surface(motion: Motion, bit: Bit) -> None:
    """From end to start the surface is the same within rounding, the volume but for round ends."""
    surface, facts = after(motion, bit)
    other, facts_back = after(back(motion), bit)

    assert np.abs(surface.height - other.height).max() < ROUNDING
    assert facts_back.removed_mm3.sum() == pytest.approx(
        facts.removed_mm3.sum(), rel=VOLUME, abs=round_ends(motion, bit)
    )


@few
@given(programs(), bits, st.randoms(use_true_random=False))
def test_the_order_of_rows_does_not_show_in_the_volume(
    motion: Motion, bit: Bit, shuffler: random.Random
) -> None:
    """Rows that are cut one by one take together the same volume in whatever order they come."""
    order = list(range(len(motion)))
    shuffler.shuffle(order)

    def total(rows: list[int]) -> float:
        surface = uncut()
        one_by_one = (remove(surface, motion.rows(slice(i, i + 1)), bit, threads=1) for i in rows)
        return sum(float(facts.removed_mm3[0]) for facts in one_by_one)

    assert total(order) == pytest.approx(total(sorted(order)), rel=VOLUME, abs=1e-3)


@pytest.mark.jit_only
@few
@given(programs(), bits, st.sampled_from([32, 64, 128, 256]), st.sampled_from([1, 2, 7]))
def test_tiles_and_threads_do_not_show(motion: Motion, bit: Bit, tile: int, threads: int) -> None:
    """Heights, rows, facts and contacts have the same bytes for any tile and thread count."""
    held = Bit(**{**{f.name: getattr(bit, f.name) for f in fields(bit)},
                  "flute_length": 1.5, "shank": 8.0, "stickout": 3.0})  # fmt: skip
    machine = Machine(holder=(Disc(14.0, 1.0), Disc(20.0, 5.0)))
    one = after(motion, held, tile=32, threads=1, machine=machine)
    other = after(motion, held, tile=tile, threads=threads, machine=machine)

    assert all_bytes(*one) == all_bytes(*other)


@few
@given(programs(3), programs(3), bits)
def test_the_order_of_rows_does_not_show_in_the_heights(a: Motion, b: Motion, bit: Bit) -> None:
    """The surface after two programs is the same in either order, within rounding."""
    surface, _ = after(Motion.concatenate([a, b]), bit)
    other, _ = after(Motion.concatenate([b, a]), bit)

    assert np.abs(surface.height - other.height).max() < ROUNDING


@few
@given(programs(), bits)
def test_the_facts_add_up(motion: Motion, bit: Bit) -> None:
    """Volumes sum to the surface's, the tallest column is one, its place is over the blank."""
    surface, facts = after(motion, bit)
    fall = surface.top - np.maximum(surface.height.astype(float), surface.bed)

    # cells at the blank's edge are weighed, and rounded, move by move
    assert facts.removed_mm3.sum() == pytest.approx(surface.removed_mm3, rel=1e-5, abs=1e-4)
    assert (facts.removed_mm3 >= 0).all()
    deepest = np.nanmin([motion.start[:, 2].min(), motion.end[:, 2].min(), *facts.lowest])
    assert facts.axial.max() <= min(max(0.0, -deepest), SIZE[2]) + 1e-6
    assert facts.axial.sum() >= fall.max() - 1e-3
    taken = facts.axial > 0
    assert np.isfinite(facts.axial_at[taken]).all()
    assert (np.isnan(facts.axial_at) == ~taken[:, None]).all()
    assert ((facts.width > 0) <= taken).all()
    assert (facts.width <= bit.diameter + 1e-9).all()
    assert ((facts.engagement >= 0) & (facts.engagement <= 2 * math.pi + 1e-9)).all()
    reached = ~np.isnan(facts.lowest)
    assert (facts.lowest[reached & taken] <= surface.top).all()
    if reached.all():  # a tip beside the blank has no lowest place over it, and its flank may cut
        assert surface.lowest >= min(*facts.lowest, 0.0) - 1e-4


@few
@given(programs(), bits)
def test_stages_add_up(motion: Motion, bit: Bit) -> None:
    """Cut row by row in calls of their own, the surface and the facts are those of one call."""
    surface, facts = after(motion, bit)
    other = uncut()
    rows = [
        remove(other, motion.rows(slice(i, i + 1)), bit, threads=1, first_row=i)
        for i in range(len(motion))
    ]

    assert np.abs(surface.height - other.height).max() < ROUNDING
    assert [f.axial[0] for f in rows] == pytest.approx(facts.axial, abs=2e-3)
    total = sum(f.removed_mm3[0] for f in rows)
    assert total == pytest.approx(facts.removed_mm3.sum(), rel=VOLUME, abs=round_ends(motion, bit))
