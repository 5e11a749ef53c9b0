"""The map of heights: its cells, what it says, and its file."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from dryrun.job.model import Bit, Stock
from dryrun.removal.simulate import remove
from dryrun.removal.surface import Surface, SurfaceError
from tests.removal.reference import BITS, blank, polyline


def cut(size: tuple[float, float, float] = (30.0, 22.0, 9.0), cell: float = 0.7) -> Surface:
    surface = Surface.blank(blank(*size), cell=cell)
    remove(surface, polyline([(-11, -6, -2), (12, 5, -3), (12, 9, -3)]), BITS["flat"], threads=1)
    return surface


def test_an_uncut_blank_is_its_top_everywhere() -> None:
    """Nothing cut: heights at the top, no rows, no volume."""
    surface = Surface.blank(Stock((10.0, 7.0, 5.0), (1.0, 2.0, -3.0), "somewhere"), cell=0.5)

    assert surface.height.shape == surface.cut_by.shape == (14, 20)
    assert (surface.height == 3.0).all()
    assert (surface.cut_by == -1).all()
    assert surface.height.dtype == np.float32
    assert surface.cut_by.dtype == np.int32
    assert surface.origin == (-0.75, -1.75)
    assert (surface.lowest, surface.bed, surface.removed_mm3) == (3.0, -2.0, 0.0)


def test_blocks_lowered_as_a_whole_are_read_like_any_other(tmp_path: Path) -> None:
    """Most of a pocket's floor is only noted, not written; nobody who reads it can tell."""
    surface = Surface.blank(blank(14.0, 12.0, 9.0), cell=0.1)
    remove(surface, polyline([(-1, 0, -2), (1, 0, -2)]), Bit("wide", "flat", 8.0), threads=1)
    remove(surface, polyline([(2, 1, -2.5), (2, 2, -2.5)]), BITS["ball"], threads=1, first_row=1)
    assert surface.field().levels[3].any()  # there are such blocks

    ny, nx = surface.shape
    iy, ix = np.mgrid[:ny, :nx]
    x, y = surface.origin[0] + 0.1 * ix, surface.origin[1] + 0.1 * iy
    # a capsule 8 wide and 2 longer, away from its rim
    away = np.hypot(np.maximum(np.abs(x) - 1, 0), y)
    ball = np.hypot(x - 2, y - np.clip(y, 1, 2)) < BITS["ball"].radius + 0.1
    inside, beyond = (away < 3.9) & ~ball, (away > 4.1) & ~ball
    assert (surface.height[inside] == np.float32(surface.top - 2)).all()
    assert (surface.cut_by[inside] == 0).all()
    assert (surface.height[beyond] == np.float32(surface.top)).all()
    assert np.array_equal(surface.at(x, y), surface.height)
    assert np.array_equal(surface.row_at(x, y), surface.cut_by)
    assert np.array_equal(np.vstack([strip for _, strip in surface.strips()]), surface.height)
    for patch in surface.patches():
        rows, columns = patch.height.shape
        here = slice(patch.iy, patch.iy + rows), slice(patch.ix, patch.ix + columns)
        assert np.array_equal(patch.height, surface.height[here])
        assert np.array_equal(patch.cut_by, surface.cut_by[here])

    surface.save(tmp_path / "pocket.npz")
    for other in (surface.copy(), Surface.load(tmp_path / "pocket.npz")):
        assert np.array_equal(other.height, surface.height)
        assert np.array_equal(other.cut_by, surface.cut_by)
        assert other.removed_mm3 == surface.removed_mm3


@pytest.mark.parametrize("size", [(10.0, 7.0), (10.3, 7.9), (10.05, 7.0001), (0.3, 0.4)])
def test_the_volume_of_a_blank_cut_away_is_its_own(size: tuple[float, float]) -> None:
    """Whatever the size, cells beyond the edge count by their part over the blank."""
    surface = Surface.blank(blank(*size, 5.0), cell=1.0)
    facts = remove(surface, polyline([(0, 0, 1), (0, 0, -2)]), Bit("f", "flat", 60.0), threads=1)

    assert facts.removed_mm3.sum() == pytest.approx(size[0] * size[1] * 2, rel=1e-4)
    assert surface.removed_mm3 == pytest.approx(facts.removed_mm3.sum(), rel=1e-12)
    assert surface.height.shape == (math.ceil(size[1] - 1e-6), math.ceil(size[0] - 1e-6))


def test_a_cut_through_is_as_deep_as_the_cutter_but_takes_only_the_blank() -> None:
    """Below the bed heights go on; volume and column end with the blank."""
    surface = Surface.blank(blank(20.0, 20.0, 3.0), cell=0.5)
    facts = remove(surface, polyline([(0, 0, 1), (0, 0, -5)]), Bit("f", "flat", 60.0), threads=1)

    assert surface.lowest == surface.height.min() == -5.0
    assert facts.axial[0] == 3.0
    assert facts.removed_mm3[0] == pytest.approx(20 * 20 * 3)


def test_at_reads_the_cell_in_which_a_place_lies() -> None:
    """Heights and rows at places agree with the dense views; off the blank there is none."""
    surface = cut()
    ny, nx = surface.shape
    x = surface.origin[0] + surface.cell * (np.arange(nx) + 0.3)
    y = surface.origin[1] + surface.cell * (np.arange(ny) - 0.3)
    grid_x, grid_y = np.meshgrid(x[:-1], y)

    assert np.array_equal(surface.at(grid_x, grid_y), surface.height[:, :-1])
    assert np.array_equal(surface.row_at(grid_x, grid_y), surface.cut_by[:, :-1])
    assert np.isnan(surface.at([-15.01, 0.0, 16.0, math.nan], [0.0, 11.5, 0.0, 0.0])).all()


@pytest.mark.parametrize("step", [1, 2, 3, 7, 32, 40, 1000])
@pytest.mark.parametrize("keep", ["lowest", "highest"])
def test_a_reduced_map_keeps_the_extreme_of_each_square(step: int, keep: str) -> None:
    """Every square has the lowest (highest) of its cells."""
    surface = cut()
    height = surface.height
    rows, columns = (range(0, n, step) for n in height.shape)
    pick = np.min if keep == "lowest" else np.max
    expected = [[pick(height[j : j + step, i : i + step]) for i in columns] for j in rows]

    assert np.array_equal(surface.reduced(step, keep), np.array(expected, np.float32))


def test_patches_and_strips_are_the_dense_map_in_parts() -> None:
    """Strips tile the map; patches hold all that was cut."""
    surface = cut((40.0, 60.0, 9.0), 0.5)
    strips = np.concatenate([heights for _, heights in surface.strips()])
    rebuilt = np.full_like(surface.height, surface.top)
    rows = np.full_like(surface.cut_by, -1)
    for patch in surface.patches():
        ny, nx = patch.height.shape
        rebuilt[patch.iy : patch.iy + ny, patch.ix : patch.ix + nx] = patch.height
        rows[patch.iy : patch.iy + ny, patch.ix : patch.ix + nx] = patch.cut_by

    assert np.array_equal(strips, surface.height)
    assert np.array_equal(rebuilt, surface.height)
    assert np.array_equal(rows, surface.cut_by)


def test_a_copy_goes_its_own_way() -> None:
    """Cutting a copy leaves the original alone, and both agree before."""
    surface = cut()
    before = surface.height.copy()
    other = surface.copy()
    same = np.array_equal(other.height, before) and np.array_equal(other.cut_by, surface.cut_by)
    remove(other, polyline([(-9, 9, -4), (9, -9, -4)]), BITS["ball"], threads=1)

    assert same
    assert other.removed_mm3 > surface.removed_mm3
    assert np.array_equal(surface.height, before)


def test_a_saved_surface_comes_back_and_is_cut_on_alike(tmp_path: Path) -> None:
    """What load returns has the same bytes, and the next stage does the same to it."""
    surface = cut()
    path = tmp_path / "after.npz"
    surface.save(path)
    loaded = Surface.load(path)
    more = polyline([(-9, 9, -4), (9, -9, -4)])

    assert np.array_equal(loaded.height, surface.height)
    assert np.array_equal(loaded.cut_by, surface.cut_by)
    assert loaded.removed_mm3 == surface.removed_mm3
    facts = [remove(s, more, BITS["flat"], threads=1) for s in (surface, loaded)]
    assert facts[0].removed_mm3[0] == facts[1].removed_mm3[0]
    assert np.array_equal(loaded.height, surface.height)
    assert [p.name for p in tmp_path.iterdir()] == ["after.npz"]


def test_a_file_that_is_no_surface_is_refused(tmp_path: Path) -> None:
    """A foreign or broken file gives one clear error; a missing one the system's."""
    foreign = tmp_path / "foreign.npz"
    np.savez(foreign, something=np.zeros(3))
    broken = tmp_path / "broken.npz"
    broken.write_bytes(b"PK\x03\x04 not really")

    for path in (foreign, broken):
        with pytest.raises(SurfaceError, match=path.name):
            Surface.load(path)
    with pytest.raises(FileNotFoundError):
        Surface.load(tmp_path / "missing.npz")


@pytest.mark.parametrize(
    ("size", "cell"),
    [((0.0, 5.0, 5.0), 0.1), ((5.0, math.nan, 5.0), 0.1), ((5.0, 5.0, 5.0), 0.0),
     ((5.0, 5.0, 5.0), -0.1), ((5.0, 5.0, 2000.0), 0.1)],
)  # fmt: skip
def test_a_blank_that_cannot_be_is_refused(size: tuple[float, float, float], cell: float) -> None:
    """No size, no cell, or thicker than the map holds."""
    with pytest.raises(SurfaceError):
        Surface.blank(blank(*size), cell=cell)
