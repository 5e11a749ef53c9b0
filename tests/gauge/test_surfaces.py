"""Predicted against scanned surfaces."""

from types import SimpleNamespace

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from dryrun.gauge import compare_surfaces
from dryrun.gauge.pieces import GaugeError


def dish(nx=60, ny=40, cell=0.5):
    """A shallow dish with a pocket, not symmetric."""
    x = -15 + cell * (np.arange(nx) + 0.5)
    y = -10 + cell * (np.arange(ny) + 0.5)
    h = 0.004 * x[None, :] ** 2 + 0.003 * y[:, None] ** 2 - 2
    h[10:20, 30:45] = -4
    return SimpleNamespace(
        height=h.astype(np.float32), cell=cell, origin=(float(x[0]), float(y[0]))
    )


def as_mesh(surface, lift=0.0, tilt=(0.0, 0.0)):
    """Two triangles between every four cell centres."""
    ny, nx = surface.height.shape
    x = surface.origin[0] + surface.cell * np.arange(nx)
    y = surface.origin[1] + surface.cell * np.arange(ny)
    gx, gy = np.meshgrid(x, y)
    z = surface.height + lift + tilt[0] * gx + tilt[1] * gy
    k = np.arange(nx * ny).reshape(ny, nx)
    a, b, c, d = (q.ravel() for q in (k[:-1, :-1], k[:-1, 1:], k[1:, 1:], k[1:, :-1]))
    faces = np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    vertices = np.column_stack([gx.ravel(), gy.ravel(), z.ravel()])
    return trimesh.Trimesh(vertices, faces, process=False)


@pytest.mark.parametrize("suffix", ["stl", "ply"])
def test_mesh_files(tmp_path, suffix):
    """A surface written as STL or PLY comes back without deviation (float32 of the file)."""
    surface = dish()
    path = tmp_path / f"scan.{suffix}"
    as_mesh(surface, lift=0.25).export(path)
    found = compare_surfaces(surface, path)

    assert found.statistics["covered"] == 1.0
    assert np.abs(found.deviation - 0.25).max() < 1e-5


def test_mesh_in_inches_and_elsewhere():
    """Unit and place of the mesh are taken into account."""
    surface = dish()
    mesh = as_mesh(surface)
    mesh.apply_translation((10, 0, 2))
    mesh.apply_scale(1 / 25.4)
    found = compare_surfaces(surface, mesh, unit="in", at=(-10, 0, -2))

    assert np.abs(found.deviation).max() < 1e-4


@given(seed=st.integers(0, 10**6))
@settings(max_examples=15, deadline=None)
def test_drawing_of_triangles_agrees_with_trimesh(seed):
    """Heights over cell centres are those of trimesh's barycentric coordinates, highest first."""
    rng = np.random.default_rng(seed)
    vertices = rng.uniform(-4, 4, (12, 3))
    faces = np.array([rng.choice(12, 3, replace=False) for _ in range(6)])
    mesh = trimesh.Trimesh(vertices, faces, process=False)
    flat = SimpleNamespace(height=np.zeros((9, 9), np.float32), cell=1.0, origin=(-4.03, -3.97))
    gx, gy = np.meshgrid(-4.03 + np.arange(9), -3.97 + np.arange(9))
    places = np.column_stack([gx.ravel(), gy.ravel(), np.zeros(81)])
    highest = np.full(81, np.nan)
    for corners in mesh.triangles:
        level = corners * [1, 1, 0]
        share = trimesh.triangles.points_to_barycentric(np.tile(level, (81, 1, 1)), places)
        inside = (share >= 0).all(axis=1)
        highest[inside] = np.fmax(highest[inside], share[inside] @ corners[:, 2])
    if np.isnan(highest).all():
        with pytest.raises(GaugeError):
            compare_surfaces(flat, mesh)
        return
    found = compare_surfaces(flat, mesh).deviation.ravel()

    assert np.isnan(found).tolist() == np.isnan(highest).tolist()
    assert found == pytest.approx(highest, abs=1e-5, nan_ok=True)


def test_registration_takes_out_offset_and_tilt():
    """A scan lying 0.4 mm high and tilted 3 mm/m is laid level; a gouge in it stays."""
    surface = dish()
    mesh = as_mesh(surface, lift=0.4, tilt=(0.003, -0.001))
    other = compare_surfaces(surface, mesh).deviation + surface.height
    other[30:34, 5:9] -= 0.7
    found = compare_surfaces(surface, other, register="tilt")

    assert found.offset_mm == pytest.approx(0.4, abs=1e-3)
    assert found.tilt_x_mm_per_m == pytest.approx(3.0, abs=0.02)
    assert found.tilt_y_mm_per_m == pytest.approx(-1.0, abs=0.02)
    assert found.deviation[31, 6] == pytest.approx(-0.7, abs=2e-3)
    assert found.statistics["median"] == pytest.approx(0.0, abs=1e-3)
    only_offset = compare_surfaces(surface, surface.height + 0.3, register="offset")
    assert only_offset.offset_mm == pytest.approx(0.3, abs=1e-6)


def test_statistics_leave_the_walls_out():
    """A pocket shifted by one cell shows in the map, not in the statistics of the floors."""
    surface = dish()
    other = surface.height.copy()
    other[10:20, 45] = -4
    found = compare_surfaces(surface, other)

    assert np.abs(found.deviation).max() > 1
    assert found.statistics["greatest"] == 0
    assert found.statistics["beyond"] == 0


def test_height_picture(tmp_path):
    """A grey picture, far edge first, is read as heights between its black and white."""
    surface = dish()
    low, high = float(surface.height.min()), float(surface.height.max())
    grey = np.round((surface.height[::-1] - low) / (high - low) * 65535).astype(np.uint16)
    Image.fromarray(grey).save(tmp_path / "heights.png")
    found = compare_surfaces(surface, tmp_path / "heights.png", picture_heights=(low, high))

    assert np.abs(found.deviation).max() < 1e-4


def test_point_cloud_and_other_surface():
    """Points are averaged cell by cell; another field is read at its nearest cells."""
    surface = dish()
    cloud = trimesh.PointCloud(as_mesh(surface, lift=0.1).vertices)
    part = SimpleNamespace(
        height=surface.height[:20] + 0.2, cell=surface.cell, origin=surface.origin
    )

    assert np.abs(compare_surfaces(surface, cloud).deviation - 0.1).max() < 1e-5
    assert compare_surfaces(surface, part).statistics["covered"] == 0.5


def test_picture_of_deviations(tmp_path):
    """The map keeps the band pale and colours both signs."""
    surface = dish()
    other = surface.height.copy()
    other[:, :30] += 0.5
    other[:, 50:] -= 0.5
    compare_surfaces(surface, other).picture(tmp_path / "map.png")
    with Image.open(tmp_path / "map.png") as image:
        picture = np.asarray(image).reshape(-1, 3)

    colours = {tuple(c) for c in np.unique(picture, axis=0).tolist()}
    assert {(178, 84, 10), (31, 95, 168), (242, 242, 240)} <= colours


def test_faults_are_named(tmp_path):
    """Missing, unreadable and empty files, and wrong shapes, are clear errors."""
    surface = dish()
    (tmp_path / "bad.stl").write_bytes(b"not a mesh")
    (tmp_path / "bad.png").write_bytes(b"not a picture")
    far = as_mesh(surface)
    far.apply_translation((500, 0, 0))
    with pytest.raises(GaugeError, match="no such file"):
        compare_surfaces(surface, tmp_path / "none.stl")
    with pytest.raises(GaugeError, match=r"bad\.stl"):
        compare_surfaces(surface, tmp_path / "bad.stl")
    with pytest.raises(GaugeError, match="black and white"):
        compare_surfaces(surface, tmp_path / "bad.png")
    with pytest.raises(GaugeError, match="cannot be read as a picture"):
        compare_surfaces(surface, tmp_path / "bad.png", picture_heights=(0, 1))
    with pytest.raises(GaugeError, match="nothing of the other surface"):
        compare_surfaces(surface, far)
    with pytest.raises(GaugeError, match="must have the shape"):
        compare_surfaces(surface, np.zeros((3, 3)))
    with pytest.raises(GaugeError, match="register"):
        compare_surfaces(surface, surface.height, register="all")
