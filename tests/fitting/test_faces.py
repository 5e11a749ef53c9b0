"""Faces, flanks in steps, loops in quarters, what stands under bends, rows that shade, drills."""

from __future__ import annotations

import importlib.util
import math
import sys
from pathlib import Path

import numpy as np
import pytest

import dryrun
from dryrun.fitting.loops import loops_of
from dryrun.fitting.measures import Measures, measure
from dryrun.fitting.models_passes import reach, spacing
from dryrun.fitting.models_places import helices
from dryrun.fitting.ranking import fit_bits
from dryrun.fitting.standing import standing_of
from dryrun.fitting.strokes import strokes_of
from dryrun.job.model import Bit

FLATS = tuple(Bit(f"flat-{d:g}", "flat", d, flutes=2) for d in (3.0, 6.0, 10.0, 16.0, 32.0))
VEES = tuple(
    Bit(f"vee-{a}", "vee", 12.0, angle=math.radians(a), flutes=2) for a in (30, 60, 90, 120)
)
BALLS = tuple(Bit(f"ball-{d:g}", "ball", d, flutes=2) for d in (2.0, 3.0, 4.0, 6.0, 8.0))


def motion_of(lines: list[str]) -> dryrun.Motion:
    text = "\n".join(["G21 G90 G17", "S18000 M3", "G0 Z5", *lines, "G0 Z5", "M30", ""])
    return dryrun.read_program(text.encode()).motion


def measured(lines: list[str]) -> Measures:
    return measure(motion_of(lines))


def first(lines: list[str], *rack: Bit) -> str:
    return fit_bits(motion_of(lines), rack).candidates[0].bit.name


def face(apart: float, linked: bool = True, ring: bool = False) -> list[str]:
    """Rows of 300 mm, half a millimetre deep."""
    lines = ["G0 X0 Y0", "G1 Z-0.5 F500"]
    for k in range(16):
        ends = (0, 300) if k % 2 == 0 or not linked else (300, 0)
        lines += [] if linked else ["G0 Z5", f"G0 X0 Y{k * apart:.3f}", "G1 Z-0.5 F500"]
        lines += [f"G1 X{ends[0]} Y{k * apart:.3f} F3000", f"X{ends[1]}"]
    high = 15 * apart
    around = ["X0 Y0", "X300", f"Y{high:.3f}", "X0", "Y0"]
    return [*lines, *around] if ring else lines


def test_rows_over_a_rectangle_without_a_ring_are_a_face() -> None:
    found = measured(face(9.37)).face
    assert found is not None
    assert (found.rows, found.linked) == (16, True)
    assert found.distance == pytest.approx(9.37, abs=0.01)
    alone = measured(face(9.37, linked=False)).face
    assert alone is not None
    assert not alone.linked
    assert measured(face(9.37, ring=True)).face is None


@pytest.mark.parametrize("linked", [True, False])
def test_a_face_is_for_a_bit_wider_than_its_rows(linked: bool) -> None:
    assert first(face(19.46, linked), *FLATS, *VEES) == "flat-32"


def test_a_bull_nose_leaves_ridges_between_rows_wider_than_the_flat_of_its_end() -> None:
    found = measured(face(8.1))
    logs = []
    for corner in (0.5, 4.0):
        told = spacing(found, Bit("bull", "bull", 10.0, corner_radius=corner), None)
        assert told is not None
        logs.append(told.log)
    assert logs[0] > logs[1] + 2


def chamfer(degrees: float, steps: int = 3) -> list[str]:
    """A square gone round in steps of 1.1 mm, each farther out along a flank."""
    out = 1.1 * math.tan(math.radians(degrees / 2))
    lines = []
    for k in range(1, steps + 1):
        low, high = -k * out, 50.37 + k * out
        lines += [f"G0 Z5 X{low:.3f} Y{low:.3f}", f"G1 Z{-1.1 * k:.3f} F400"]
        lines += [f"G1 X{high:.3f} F1500", f"Y{high:.3f}", f"X{low:.3f}", f"Y{low:.3f}", "G0 Z5"]
    return lines


@pytest.mark.parametrize("degrees", [60, 90, 120])
@pytest.mark.parametrize("steps", [2, 6])
def test_steps_along_a_flank_tell_the_vee(degrees: int, steps: int) -> None:
    """However deep: beside a chamfer nothing stands above the cone."""
    found = measured(chamfer(degrees, steps)).flank
    assert found is not None
    assert found.tangent == pytest.approx(math.tan(math.radians(degrees / 2)), rel=0.01)
    assert first(chamfer(degrees, steps), *FLATS, *VEES, *BALLS) == f"vee-{degrees}"


def test_passes_right_above_each_other_have_no_flank() -> None:
    assert measured(chamfer(0)).flank is None


def test_loops_in_quarters_are_loops() -> None:
    lines = ["G0 X2 Y0", "G1 Z-3 F400"]
    for k in range(20):
        x = 0.6 * k
        lines += [f"G1 X{x + 2:.3f} Y0 F1500"]
        for a, b in ((0, 2), (-2, 0), (0, -2), (2, 0)):
            lines.append(f"G3 X{x + a:.3f} Y{b} R2")
    found = loops_of(strokes_of(motion_of(lines)))
    assert found is not None
    assert found.count == 20
    assert (found.radius, found.bite) == (pytest.approx(2.0), pytest.approx(0.6, abs=0.01))


def over_an_edge(radius: float) -> list[str]:
    """A ball climbs a step and rolls over its edge: an arc of its radius, in chords of any size."""
    lines = ["G0 X-10 Y0", "G1 Z-3 F300"]
    for row in range(8):
        y = 0.3 * row
        angles = np.linspace(0.0, math.pi / 2, 14)
        over = [(-radius * math.cos(a), radius * math.sin(a) - radius - 0.5) for a in angles]
        lines += [f"G1 X-10 Y{y:g} Z-3", f"G1 X{-radius - 0.4:g} Z-3"]
        lines += [f"G1 X{x:.4f} Z{z:.4f}" for x, z in over] + ["G1 X4 Z-0.5", "G1 Z2", "G0 X-10"]
    return lines


@pytest.mark.parametrize("radius", [1.5, 3.0])
def test_what_stands_under_an_edge_bounds_the_ball(radius: float) -> None:
    found = standing_of(strokes_of(motion_of(over_an_edge(radius))))
    assert found is not None
    assert float(np.quantile(found, 0.25)) == pytest.approx(radius, rel=0.1)


@pytest.mark.parametrize("degrees", [60, 90])
def test_rows_that_just_meet_where_they_are_deepest_shade_a_picture(degrees: int) -> None:
    deep = 0.75 / math.tan(math.radians(degrees / 2))
    lines = []
    for row in range(24):
        lines += [f"G0 Z2 X0 Y{1.5 * row:g}", "G1 Z0 F400"]
        for x in range(1, 60):
            shade = 0.5 + 0.5 * math.sin(0.31 * x + 0.2 * row)
            lines.append(f"G1 X{x} Z{-deep * shade:.3f} F1500")
    assert first(lines, *VEES, *BALLS, *FLATS) == f"vee-{degrees}"


def test_flutes_of_drills_are_longer_than_five_diameters() -> None:
    lines = [s for k in range(6) for s in (f"G0 X{20 * k} Y0", "G1 Z-20 F300", "G0 Z2")]
    told = reach(measured(lines), Bit("drill", "drill", 3.0, angle=math.radians(118)), None)
    assert told is not None
    assert told.log == 0.0


def test_helices_that_leave_a_post_do_not_decide_alone() -> None:
    lines = []
    for k, r in enumerate((4, 5, 6)):
        x = 40 * k
        lines += [f"G0 X{x + r} Y0", "G1 Z0 F400"]
        lines += [f"G2 X{x + r} Y0 Z{-2.5 * (n + 1)} I-{r} J0" for n in range(3)]
        lines += [f"G2 X{x + r} Y0 I-{r} J0", "G0 Z5"]
    told = helices(measured(lines), Bit("flat", "flat", 1.0), None)
    assert told is not None
    assert told.log == -6.0


def test_a_shape_that_rounding_eats_is_left_out() -> None:
    path = Path(__file__).with_name("eleventh_generator.py")
    spec = importlib.util.spec_from_file_location("eleventh_for_faces", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    assert module.make(40231).text
