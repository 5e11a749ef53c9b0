"""Solids, maps of heights and pictures of the blank, against general libraries and the surface."""

from __future__ import annotations

import io
import math
import os
import pickle
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from PIL import Image

from dryrun.outcome import Outcome
from dryrun.removal.surface import Surface
from dryrun.report import scene
from dryrun.report.heights import write_heights
from dryrun.report.mesh import MESH_KINDS, SKIN, solid, solid_of, write_solid
from dryrun.report.moments import make_moments
from dryrun.report.oblique import fitted, nice_length, oblique_view
from tests.report.jobs import SMALL, outcome_of, small_job

trimesh = pytest.importorskip("trimesh")

BLANK = Surface((0.0, 0.0, -8.0), (5.0, 4.0, 0.0), 1.0)


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    return outcome_of(small_job(tmp_path_factory.mktemp("small")), cell=0.25)


@pytest.fixture(scope="module")
def holed(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    program = SMALL.replace("Z-5", "Z-8.2")
    return outcome_of(small_job(tmp_path_factory.mktemp("holed"), program), cell=0.25)


@settings(max_examples=40, deadline=None)
@given(arrays(np.float64, (4, 5), elements=st.sampled_from([0.0, -1.0, -3.5, -8.0, -9.0])))
def test_solids_are_closed_whatever_the_map(heights: np.ndarray) -> None:
    """Every map gives a closed, evenly wound solid, holes that touch at a corner included."""
    made = solid_of(heights, BLANK, 1)
    if not len(made.faces):
        return
    mesh = trimesh.Trimesh(made.vertices, made.faces, process=False)

    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume > 0


def test_solid_has_the_volume_and_box_of_the_blank(small: Outcome) -> None:
    """The solid's volume is the blank's less what was removed, its box is the blank's."""
    surface, stock = small.surface, small.job.stock
    assert surface is not None
    assert stock is not None
    made = solid(surface)
    mesh = trimesh.Trimesh(made.vertices, made.faces, process=False)
    whole = float(np.prod(stock.size))

    assert made.step == 1
    assert np.allclose(mesh.bounds, [stock.low, stock.high])
    assert whole - mesh.volume == pytest.approx(small.removed_mm3, rel=0.02)


def test_hole_goes_through_the_solid(holed: Outcome) -> None:
    """A groove cut through is a hole: a ray down its middle meets nothing (trimesh's own test)."""
    assert holed.surface is not None
    made = solid(holed.surface)
    mesh = trimesh.Trimesh(made.vertices, made.faces, process=False)
    inside = mesh.vertices[:, 2]

    assert mesh.is_watertight
    near = np.hypot(mesh.vertices[:, 0] - 20.0, mesh.vertices[:, 1] - 20.0) < 1.2
    assert not near.any()
    assert inside.min() == pytest.approx(-8.0)
    assert mesh.euler_number <= 0  # a solid with a hole, not a ball


@pytest.mark.parametrize("most", [200, 2000, 20000])
def test_solid_keeps_to_its_number_of_triangles(small: Outcome, most: int) -> None:
    """A solid has no more triangles than asked for, and is no lower than the surface's lowest."""
    assert small.surface is not None
    made = solid(small.surface, most)

    assert len(made.faces) <= most
    assert made.vertices[made.vertices[:, 2] > -8.0, 2].min() == pytest.approx(
        small.surface.lowest, abs=1e-4
    )


@pytest.mark.parametrize("kind", MESH_KINDS)
def test_written_solids_are_read_back_by_another_library(
    small: Outcome, kind: str, tmp_path: Path
) -> None:
    """A file read by trimesh is closed and has the blank's size; glTF in metres with Y up."""
    assert small.surface is not None
    path = tmp_path / f"blank.{kind}"
    words = write_solid(solid(small.surface, 20000), path, kind)
    mesh = trimesh.load(path, force="mesh")
    size = mesh.extents * (1000.0 if kind == "glb" else 1.0)

    assert mesh.is_watertight
    assert mesh.volume > 0
    assert size == pytest.approx(
        (40.0, 8.0, 30.0) if kind == "glb" else (40.0, 30.0, 8.0), rel=1e-5
    )
    assert "triangles" in words


# ---------------------------------------------------------------- maps


def test_arrays_hold_the_surface(small: Outcome, tmp_path: Path) -> None:
    """The .npz has the heights, the rows and the places of the cells."""
    surface = small.surface
    assert surface is not None
    write_heights(surface, tmp_path / "h.npz", "npz")
    with np.load(tmp_path / "h.npz") as data:
        assert (data["height"] == surface.height).all()
        assert (data["cut_by"] == surface.cut_by).all()
        at = surface.at(data["x"][10], data["y"][20])
        assert data["height"][20, 10] == at


def test_picture_says_its_scale(small: Outcome, tmp_path: Path) -> None:
    """The 16-bit picture gives back the heights by the scale in its own text, back row first."""
    surface = small.surface
    assert surface is not None
    words = write_heights(surface, tmp_path / "h.png", "png")
    with Image.open(tmp_path / "h.png") as image:
        said = image.text["Description"]
        grey = np.array(image).astype(float)
    low, step = (float(v) for v in said.removeprefix("Z in mm = ").split(" * ")[0].split(" + "))

    assert said == words
    assert np.abs(low + step * grey[::-1] - surface.height).max() <= step / 2 * 1.001
    assert grey.max() == 65535


def test_table_has_places_and_heights(small: Outcome, tmp_path: Path) -> None:
    """The table's first row is X, its first column Y, the rest heights in mm."""
    surface = small.surface
    assert surface is not None
    write_heights(surface, tmp_path / "h.csv", "csv")
    lines = (tmp_path / "h.csv").read_text().splitlines()
    x = [float(v) for v in lines[0].split(",")[1:]]
    table = np.array([[float(v) for v in line.split(",")] for line in lines[1:]])

    assert table.shape == (surface.shape[0], surface.shape[1] + 1)
    assert np.allclose(table[:, 1:], surface.height, atol=6e-5)
    assert x[0] == pytest.approx(surface.origin[0])
    assert table[0, 0] == pytest.approx(surface.origin[1])


def test_table_too_long_is_refused(tmp_path: Path) -> None:
    """A table of tens of millions of heights is refused with what to do instead."""
    with pytest.raises(ValueError, match="larger --cell"):
        write_heights(Surface((0, 0, -1), (800, 800, 0), 0.1), tmp_path / "h.csv", "csv")


# ---------------------------------------------------------------- pictures


def test_oblique_picture_shows_the_groove(small: Outcome) -> None:
    """Where the groove's floor comes to lie in the picture there is its colour, not the top's."""
    picture = np.array(oblique_view(small, (400, 300)))
    camera = fitted(small, (400, 300))
    u, v = camera.spot(20.0, 11.5, -2.0)
    top_u, top_v = camera.spot(37.0, 27.0, 0.0)
    floor, top = picture[round(v), round(u)].astype(int), picture[round(top_v), round(top_u)]

    assert np.ptp(top.astype(int)) < 25  # the neutral grey of untouched wood
    assert floor[0] > floor[2] + 25  # the scale of depths, yellowish at two fifths


@given(st.floats(0.001, 1e6))
def test_nice_lengths_are_one_two_or_five(most: float) -> None:
    """A scale bar is 1, 2 or 5 times a power of ten, at most what is asked, not less than 0.4."""
    length = nice_length(most)
    digit = length / 10.0 ** math.floor(math.log10(length) + 1e-9)

    assert min(abs(digit - d) for d in (1, 2, 5, 10)) < 1e-6
    assert 0.39 * most < length <= most * (1 + 1e-9)


def test_moments_between_are_drawn_from_neighbours(small: Outcome) -> None:
    """Between two moments each height is that of the one before or after, never lower than true."""
    found = make_moments(small)
    rows = [m.row for m in found.moments]
    k = int(np.argmax(np.diff(rows) > 1))
    heights, true = found.at(rows[k] + 1)
    at_mark, exact = found.at(rows[k])

    assert exact
    assert not true
    assert (at_mark == found.moments[k].heights).all()
    assert ((heights <= found.moments[k].heights) & (heights >= found.moments[k + 1].heights)).all()


READ = """
import pickle, sys
from dryrun.report.scene import Scene
scene = Scene(pickle.load(sys.stdin.buffer), off_screen=True)
print(scene.read(15.0, 20.0))
print(scene.read(37.0, 27.0))
print(scene.read(-3.0, 5.0))
for seconds in (0.0, 1e9):
    words = scene.set_seconds(seconds)
    top = scene.mesh.points[: len(scene.mesh.points) // 2, 2]
    print(words, round(abs(float(top.min())), 3))
"""


def test_scene_reads_and_slides(small: Outcome) -> None:
    """A click tells depth, floor and line; the slider shows the blank whole and finished."""
    pytest.importorskip("pyvista")
    data = scene.scene_data(small, live=True)
    environment = {**os.environ, "VTK_DEFAULT_OPENGL_WINDOW": "vtkEGLRenderWindow"}
    done = subprocess.run(
        [sys.executable, "-c", READ], input=pickle.dumps(data), capture_output=True, timeout=300,
        env=environment, check=False,
    )  # fmt: skip
    if done.returncode < 0:
        pytest.skip("there is no OpenGL here")
    lines = done.stdout.decode().splitlines()

    assert lines[0] == "X 15 mm, Y 20 mm: 5 mm deep, floor left 3 mm, stage 1, line 8"
    assert lines[1].endswith("not cut")
    assert lines[2].endswith("off the blank")
    assert "true heights" in lines[3]
    assert lines[3].endswith(" 0.0")
    assert lines[4].endswith(" 5.0")


def test_shot_is_a_picture_or_says_why_not(small: Outcome, tmp_path: Path) -> None:
    """The picture rendered in a process of its own has the blank in it."""
    pytest.importorskip("pyvista")
    target = tmp_path / "shot.png"
    why = scene.shot(scene.scene_data(small, live=False), target)
    if why:
        pytest.skip(f"there is no OpenGL here: {why}")
    with Image.open(io.BytesIO(target.read_bytes())) as image:
        assert image.size == scene.SHOT
        assert len(np.unique(np.array(image.convert("RGB")).reshape(-1, 3), axis=0)) > 50


def test_shot_that_dies_says_how(
    small: Outcome, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A child that ends with a signal or an error gives a reason, and no file."""
    monkeypatch.setattr(sys, "executable", "/bin/false")
    why = scene.shot(scene.scene_data(small, live=False), tmp_path / "shot.png")

    assert "code 1" in why
    assert not (tmp_path / "shot.png").exists()


def test_skin_is_thinner_than_any_floor_told() -> None:
    """What counts as a hole is far thinner than what is told as a thin floor."""
    from dryrun.checks.depth import THIN_FLOOR

    assert SKIN < THIN_FLOOR / 100
