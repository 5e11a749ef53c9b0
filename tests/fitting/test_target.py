"""A target surface decides where the path alone does not."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import dryrun
from dryrun.fitting.heights import lay_triangles
from dryrun.fitting.ranking import fit_bits
from dryrun.fitting.target import TargetError, compare_target, read_target
from dryrun.job.model import Bit, Stock

BALLS = [Bit("ball-3", "ball", 3.0), Bit("ball-6", "ball", 6.0), Bit("flat-6", "flat", 6.0)]
STOCK = Stock((20.0, 12.0, 10.0), (0.0, 0.0, 0.0), "front-left-top")


def trough(radius: float, step: float = 0.3) -> bytes:
    """Passes along X in a round trough of 5 mm radius, with a ball's tip on its offset.

    The ball's centre runs on a radius of 5 mm less its own; the passes end below the rim.
    """
    inner = 5.0 - radius
    wide = 0.85 * inner
    lines, x = ["G21 G90", "S18000 M3", "G0 Z5", f"G0 X0 Y{6 - wide:.3f}"], 0.0
    for y in np.arange(6 - wide, 6 + wide, step):
        z = 2.0 - math.sqrt(inner**2 - (y - 6) ** 2) - radius
        x = 20.0 - x
        lines += [f"G1 Y{y:.3f} Z{z:.4f} F900", f"G1 X{x}"]
    return "\n".join([*lines, "G0 Z5", "M30"]).encode()


def mesh_of_trough() -> np.ndarray:
    y = np.linspace(0, 12, 121)
    z = 2.0 - np.sqrt(np.maximum(25 - np.minimum(np.abs(y - 6), 5.0) ** 2, 0.0))
    z = np.minimum(z, 0.0)
    quads = []
    for a, b, c, d in zip(y[:-1], y[1:], z[:-1], z[1:], strict=True):
        p, q, r, s = (0, a, c), (20, a, c), (20, b, d), (0, b, d)
        quads += [(p, q, r), (p, r, s)]
    return np.array(quads, float)


def write_stl(path: Path, triangles: np.ndarray) -> None:
    """Write ASCII STL: facets with three vertices each."""
    lines = ["solid trough"]
    for t in triangles:
        lines += ["facet normal 0 0 1", "outer loop"]
        lines += [f"vertex {x:.6f} {y:.6f} {z:.6f}" for x, y, z in t]
        lines += ["endloop", "endfacet"]
    path.write_text("\n".join([*lines, "endsolid trough"]))


@pytest.mark.jit_only
@pytest.mark.parametrize("name", ["ball-3", "ball-6"])
def test_the_right_ball_meets_the_target(name: str, tmp_path: Path) -> None:
    """Of two balls and a flat bit the one whose offset the path follows comes first."""
    write_stl(tmp_path / "trough.stl", mesh_of_trough())
    bit = next(b for b in BALLS if b.name == name)
    motion = dryrun.read_program(trough(bit.radius)).motion
    target = read_target(tmp_path / "trough.stl", STOCK)
    extra = compare_target(motion, BALLS, target)
    ranking = fit_bits(motion, BALLS, top=0.0, extra=extra)

    assert ranking.candidates[0].bit.name == name
    assert ranking.candidates[0].probability > 0.9
    assert any("against the target" in s for s in ranking.candidates[0].sentences)


@pytest.mark.jit_only
def test_a_picture_of_heights_serves_as_well(tmp_path: Path) -> None:
    """Sixteen-bit grey over the blank, white at its top: the same bit wins."""
    from PIL import Image

    y = (np.arange(240)[::-1] + 0.5) / 20
    z = np.minimum(2.0 - np.sqrt(np.maximum(25 - np.minimum(np.abs(y - 6), 5.0) ** 2, 0)), 0)
    grey = np.repeat(((1 + z / 4) * 65535).astype(np.uint16)[:, None], 400, axis=1)
    Image.fromarray(grey).save(tmp_path / "trough.png")
    motion = dryrun.read_program(trough(3.0)).motion
    target = read_target(tmp_path / "trough.png", STOCK, 4.0)
    extra = compare_target(motion, BALLS, target)

    assert np.nanmin(target.height) == pytest.approx(-3.0, abs=0.05)
    assert extra[1][0].log > max(extra[0][0].log, extra[2][0].log)


@settings(max_examples=15, deadline=None)
@given(st.lists(st.floats(0, 8), min_size=9, max_size=27))
def test_triangles_are_laid_where_they_are(numbers: list[float]) -> None:
    """Each cell has the highest of the planes over its centre (cell by cell, by linear algebra)."""
    corners = np.array(numbers[: len(numbers) // 9 * 9]).reshape(-1, 3, 3)
    height = np.full((8, 8), -np.inf)
    lay_triangles(corners, 0.0, 0.0, 1.0, height)

    for j in range(8):
        for i in range(8):
            best = -np.inf
            near_edge = False
            for t in corners:
                system = np.vstack([t[:, :2].T, np.ones(3)])
                if abs(np.linalg.det(system)) < 1e-6:
                    near_edge = True
                    continue
                part = np.linalg.solve(system, [i + 0.5, j + 0.5, 1.0])
                near_edge |= bool((np.abs(part) < 1e-6).any())
                if (part >= 0).all():
                    best = max(best, float(part @ t[:, 2]))
            if not near_edge:
                assert height[j, i] == pytest.approx(best, abs=1e-5)


def test_targets_that_are_none(tmp_path: Path) -> None:
    """Missing, empty and misplaced targets are refused with what is wrong."""
    with pytest.raises(TargetError, match="no such file"):
        read_target(tmp_path / "none.stl")
    (tmp_path / "bad.stl").write_text("nothing of the kind")
    with pytest.raises(TargetError, match=r"no mesh|no triangles"):
        read_target(tmp_path / "bad.stl")
    (tmp_path / "bad.png").write_bytes(b"no picture")
    with pytest.raises(TargetError, match="needs the blank"):
        read_target(tmp_path / "bad.png")
    with pytest.raises(TargetError, match="no picture"):
        read_target(tmp_path / "bad.png", STOCK, 3.0)


@pytest.mark.jit_only
def test_a_target_elsewhere_is_refused(tmp_path: Path) -> None:
    """A mesh that lies beside all cuts cannot be compared."""
    write_stl(tmp_path / "far.stl", mesh_of_trough() + np.array([500.0, 0.0, 0.0]))
    motion = dryrun.read_program(trough(3.0)).motion
    with pytest.raises(TargetError, match="cuts nothing"):
        compare_target(motion, BALLS, read_target(tmp_path / "far.stl"))
