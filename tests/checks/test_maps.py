"""Distances on masks against a second opinion, and points along arcs."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from dryrun.checks.maps import along, distance, filled, near, opened
from dryrun.gcode.program import read_program


@pytest.mark.parametrize("shape", [(1, 5), (40, 70), (90, 31)])
def test_distance_is_the_euclidean_one(shape: tuple[int, int]) -> None:
    """The distances are those of scipy's exact Euclidean transform, up to the limit asked for."""
    random = np.random.default_rng(3)
    mask = ndimage.gaussian_filter(random.random(shape), 2) > 0.48

    exact = ndimage.distance_transform_edt(np.pad(mask, 1))[1:-1, 1:-1]
    assert np.allclose(distance(mask, 200), exact, atol=1e-5)
    assert np.allclose(distance(mask, 3), np.minimum(exact, 3), atol=1e-5)
    if not mask.all() and mask.any():
        outside = ndimage.distance_transform_edt(~mask)
        assert (near(mask, 4.3) == (outside <= 4.3)).all()


def test_a_disc_sweeps_what_opening_leaves() -> None:
    """A disc of radius 5 gets through a channel 11 points wide, not through one of 7."""
    mask = np.zeros((60, 60), np.bool_)
    mask[5:16, 5:55] = True
    mask[30:37, 5:55] = True

    swept = opened(distance(mask, 60), 5.5)
    assert swept[10, 30]
    assert not swept[33].any()


def test_points_along_an_arc_lie_on_it() -> None:
    """Points along a half circle keep its radius and are as dense as asked."""
    motion = read_program(b"G21 G90\nG0 X10 Y0 Z0\nG3 X-10 Y0 I-10 J0 F100\nM30\n").motion
    points, _ = along(motion, np.flatnonzero(motion.cutting), 0.5)

    assert np.allclose(np.hypot(points[:, 0], points[:, 1]), 10.0)
    assert np.hypot(*np.diff(points[:, :2], axis=0).T).max() <= 0.5 + 1e-9
    assert (points[:, 1] >= -1e-9).all()


@pytest.mark.parametrize("shape", [(1, 5), (40, 70), (90, 31)])
def test_filled_holes(shape: tuple[int, int]) -> None:
    """The holes of a mask are those that scipy fills."""
    random = np.random.default_rng(4)
    for level in (0.45, 0.5, 0.52):
        mask = ndimage.gaussian_filter(random.random(shape), 2) > level

        assert (filled(mask) == ndimage.binary_fill_holes(mask)).all()
