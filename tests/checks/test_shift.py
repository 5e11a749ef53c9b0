"""Second stages that lie beside the first, by a millimetre or three, along one axis or both."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

import dryrun
from dryrun.checks.relief import sample_of, shift_of

from .heldout.shop import (
    Lines,
    g,
    head,
    job,
    levels,
    pocket,
    round_pocket,
    scan,
    strokes,
    tail,
)

Pair = tuple[Lines, Lines, str, str]


def _box(x: float, y: float) -> list[tuple[float, float]]:
    return [(-x, -y), (x, -y), (x, y), (-x, y), (-x, -y)]


def ring() -> Pair:
    """A round pocket, and its wall by a finer bit."""
    wall: Lines = []
    for z in (-1.5, -3, -4.5, -6):
        wall += ["G0 X27.5 Y0", "Z1", f"G1 Z{g(z)} F300", "G1 X28.6 F1200", "G3 X28.6 Y0 I-28.6 J0"]
        wall += ["G1 X27.5", "G0 Z5"]
    return round_pocket(0, 0, 30, 6, 2.6, levels(6, 2), 1800, 400), wall, "end-6", "end-3"


def chamfer() -> Pair:
    """A pocket, and a vee along its edge."""
    clearing = pocket(0, 0, 80, 50, 6, 2.6, levels(5, 2.5), 1800, 400)
    return clearing, strokes([_box(40, 25)], -1, 1200, 300), "end-6", "vee-90"


def rim() -> Pair:
    """A pocket, and a vee around it whose tip runs 1 mm outside its edge: a bevel 3 mm wide."""
    clearing = pocket(0, 0, 80, 50, 6, 2.6, levels(5, 2.5), 1800, 400)
    return clearing, strokes([_box(41, 26)], -2, 1200, 300), "end-6", "vee-90"


def two_pockets() -> Pair:
    """Two pockets beside each other, and their walls by a finer bit."""
    clearing: Lines = []
    walls: Lines = []
    for x in (-35, 30):
        clearing += pocket(x, 0, 50, 40, 6, 2.6, levels(4, 2), 1800, 400)
        path = [(x, 0), *((x + a, b) for a, b in _box(23.6, 18.6)), (x, 0)]
        for z in (-1.5, -3, -4):
            walls += strokes([path], z, 900, 300)
    return clearing, walls, "end-6", "end-3"


def corners() -> Pair:
    """Three pockets, of which a finer bit takes the corners."""
    clearing: Lines = []
    rest: Lines = []
    for x, wide in ((-45, 30), (0, 36), (45, 30)):
        clearing += pocket(x, 0, wide, 60, 8, 3.4, levels(5, 2.5), 1800, 400)
        for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
            cx, cy = x + sx * (wide / 2 - 1.5), sy * 28.5
            path = [(cx - sx * 5, cy), (cx, cy), (cx, cy - sy * 5)]
            for z in (-1.5, -3, -4.5, -5):
                rest += strokes([path], z, 900, 300)
    return clearing, rest, "end-8", "end-3"


def few_corners(sides: tuple[int, ...] = (-1, 1)) -> Pair:
    """One pocket, of which a much finer bit takes the corners, all or those of the back."""
    rest: Lines = []
    for sx, sy in ((-1, sides[0]), (1, sides[0]), (1, sides[-1]), (-1, sides[-1])):
        cx, cy = sx * 38.5, sy * 28.5
        for z in (-1.5, -3, -4.5, -5):
            rest += strokes([[(cx - sx * 3, cy), (cx, cy), (cx, cy - sy * 3)]], z, 900, 300)
    return pocket(0, 0, 80, 60, 8, 3.4, levels(5, 2.5), 1800, 400), rest, "end-8", "end-3"


def back_corners() -> Pair:
    return few_corners((1,))


def hinge() -> Pair:
    """A recess, and a narrower one along its edge, half outside."""
    barrel = pocket(0, 13, 60, 7, 3, 1.2, levels(5, 1.5), 900, 300)
    return pocket(0, 0, 60, 26, 6, 2.6, levels(3, 1.5), 1800, 400), barrel, "end-6", "end-3"


def notch() -> Pair:
    """A tray, and a round notch for a finger at one of its sides."""
    ring = round_pocket(40, 0, 10, 3, 1.2, levels(6, 2), 900, 300)
    return pocket(0, 0, 80, 50, 8, 3.4, levels(6, 2), 1800, 400), ring, "end-8", "end-3"


def shifts_told(folder: Path, pair: Pair, shift: tuple[float, float]) -> list[float | None]:
    """Dry-run a pair of stages, the zero of the second moved; return the shifts that are told."""
    first, second, wide, fine = pair
    depth = "8 mm"
    stages = [
        {"name": "one", "program": "a.nc", "bit": wide, "depth": depth},
        {"name": "two", "program": "b.nc", "bit": fine, "depth": depth},
    ]
    if any(shift):
        stages[1]["zero_shift"] = [f"{v} mm" for v in (*shift, 0)]  # type: ignore[assignment]
    stock = {"size": ["150 mm", "100 mm", "18 mm"], "zero": "centre-top", "material": "lime"}
    (folder / "job.toml").write_text(job("pair", stock, stages, [wide, fine]), "utf-8")
    (folder / "a.nc").write_text("\n".join([*head("one"), *first, *tail()]) + "\n", "utf-8")
    (folder / "b.nc").write_text("\n".join([*head("two"), *second, *tail()]) + "\n", "utf-8")
    outcome = dryrun.dry_run(dryrun.read_job(folder / "job.toml"))
    return [f.value for f in outcome.findings if f.code == "stage-shifted"]


def waves(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    return -4 - 2.5 * np.cos(x / 11 + 1) * np.cos(y / 9) - 1.0 * np.sin(x / 23 + y / 17)


def relief() -> Pair:
    """A relief roughed in levels, and finished by a ball."""
    rough: Lines = []
    for z in (-3.0, -6.0, -9.0):
        rough += scan(waves, (-52, -42, 52, 42), 4, 3, 3, "flat", 2400, 800, floor=z, skin=0.4)
    fine = scan(waves, (-42, -32, 42, 32), 1.0, 2, 3, "ball", 2400, 800)
    return rough, fine, "end-6", "ball-6"


def walls_with_something_to_spare() -> Pair:
    """A pocket roughed 0.3 mm short of its walls on all sides, and the walls by a finer bit."""
    rough = pocket(0, 0, 59.4, 39.4, 6, 2.4, levels(4.5, 1.5), 1100, 300)
    walls: Lines = []
    for z in (-2.25, -4.5):
        walls += strokes(
            [[(0, -16), (0, -18.5), *_box(28.5, 18.5)[1:4], (-28.5, -18.5), (0, -18.5)]],
            z,
            500,
            300,
        )
    return rough, walls, "end-6", "end-3"


@pytest.mark.jit_only
@pytest.mark.parametrize("shift", [(1.0, 1.0), (0.5, 0.0), (0.0, -0.8)])
def test_a_small_shift_of_walls_with_something_to_spare(
    shift: tuple[float, float], tmp_path: Path
) -> None:
    """One finding, whose size is the shift's to a tenth of a millimetre."""
    (told,) = shifts_told(tmp_path, walls_with_something_to_spare(), shift)

    assert told == pytest.approx(math.hypot(*shift), abs=0.1)


@pytest.mark.jit_only
@pytest.mark.parametrize("make", [ring, chamfer, rim, two_pockets, corners, few_corners])
@pytest.mark.parametrize("shift", [(2.0, 0.0), (0.0, -1.5), (3.0, 2.0)])
def test_a_shift_is_told_with_its_size(
    make: Callable[[], Pair], shift: tuple[float, float], tmp_path: Path
) -> None:
    """One finding, whose size is the shift's to half a millimetre."""
    (told,) = shifts_told(tmp_path, make(), shift)

    assert told == pytest.approx(math.hypot(*shift), abs=0.5)


@pytest.mark.jit_only
@pytest.mark.parametrize("shift", [(2.0, 0.0), (0.0, -2.0), (2.0, 2.0), (0.5, 0.0), (-0.7, 0.8)])
def test_a_relief_finished_beside_its_roughing(shift: tuple[float, float], tmp_path: Path) -> None:
    """One finding, whose size is the shift's to a quarter of it."""
    (told,) = shifts_told(tmp_path, relief(), shift)

    assert told is not None
    assert told == pytest.approx(math.hypot(*shift), rel=0.25)


def slope_shift(rough: np.ndarray, fine: np.ndarray, cell: float) -> tuple[float, float] | None:
    """Return the shift that two fields of heights show, where all of them was gone over."""
    sample = sample_of(np.float32(rough), np.float32(fine), np.ones(rough.shape, bool), 0.0, cell)
    assert sample is not None
    return shift_of(sample)


def test_slopes_that_face_one_way_only_are_no_shift() -> None:
    """A ramp that is finished deeper downhill: what is taken goes with the slope, in one way."""
    x = np.broadcast_to(np.linspace(0, 1, 60), (60, 60))
    rough = -1 - 4 * x**2

    assert slope_shift(rough, rough - 0.3 - 2.0 * x, 1.0) is None


def test_a_saw_with_steep_fronts_and_gentle_backs_is_no_shift() -> None:
    """What is thicker on the fronts alone goes with steepness, not with the way they face."""
    x = np.broadcast_to(np.arange(0, 120, 0.5), (160, 240))
    tooth = x % 12
    fine = -4 + np.where(tooth < 3, 3 - tooth, (tooth - 3) / 3)

    assert slope_shift(fine + np.where(tooth < 3, 0.9, 0.4), fine, 0.5) is None


def test_slopes_of_a_wave_moved_by_two() -> None:
    """A wave of sines finished 2 mm beside itself, a skin of 1 mm left: the slopes give 2 mm."""
    x, y = np.meshgrid(np.arange(0, 80, 0.5), np.arange(0, 80, 0.5))

    def wave(x: np.ndarray) -> np.ndarray:
        return -5 + 2 * np.sin(x / 8) * np.sin(y / 11)

    found = slope_shift(wave(x) + 1.0, wave(x - 2.0), 0.5)

    assert found == (pytest.approx(2.0, abs=0.15), pytest.approx(0.0, abs=0.1))
    assert slope_shift(wave(x) + 1.0, wave(x), 0.5) is None


@pytest.mark.jit_only
@pytest.mark.parametrize(
    "make",
    [
        ring,
        walls_with_something_to_spare,
        chamfer,
        two_pockets,
        corners,
        few_corners,
        back_corners,
        hinge,
        notch,
        relief,
        rim,
    ],
)
def test_nothing_is_told_where_the_stages_meet(make: Callable[[], Pair], tmp_path: Path) -> None:
    """The same pairs in one frame."""
    assert shifts_told(tmp_path, make(), (0.0, 0.0)) == []


@pytest.mark.jit_only
@pytest.mark.parametrize("shift", [0.0, 2.0])
def test_drilling_between_two_stages_hides_no_shift(shift: float, tmp_path: Path) -> None:
    """Two stages of holes after the pocket; its rim is compared with the pocket all the same."""
    clearing, bevel, *_ = rim()
    holes = [[f"G0 X30 Y{y} Z5", "G1 Z-6 F200", "G0 Z5"] for y in (-15, 15)]
    programs = [clearing, holes[0], holes[1], bevel]
    bits = ["end-6", "drill-3", "drill-5", "vee-90"]
    stages = [
        {"name": f"stage {k}", "program": f"{k}.nc", "bit": bit, "depth": "8 mm"}
        for k, bit in enumerate(bits, 1)
    ]
    stages[-1]["zero_shift"] = [f"{shift} mm", "0 mm", "0 mm"]  # type: ignore[assignment]
    stock = {"size": ["150 mm", "100 mm", "18 mm"], "zero": "centre-top", "material": "lime"}
    (tmp_path / "job.toml").write_text(job("rim", stock, stages, bits), "utf-8")
    for k, lines in enumerate(programs, 1):
        text = "\n".join([*head("stage"), *lines, *tail()]) + "\n"
        (tmp_path / f"{k}.nc").write_text(text, "utf-8")

    outcome = dryrun.dry_run(dryrun.read_job(tmp_path / "job.toml"))
    told = [f.stage for f in outcome.findings if f.code == "stage-shifted"]

    assert told == ([4] if shift else [])
