"""What a bit touches at bends of a relief, few rings, bevels in passes, and made programs."""

from __future__ import annotations

import math
import os
from dataclasses import replace

import numpy as np
import pytest

import dryrun
from dryrun.fitting.imprint import Imprint, outline, rises, touching
from dryrun.fitting.levels import rings_of
from dryrun.fitting.measures import measure
from dryrun.fitting.models_passes import fine_spacing, pass_depth
from dryrun.fitting.models_places import helices
from dryrun.fitting.models_uneven import imprint
from dryrun.fitting.ranking import fit_bits
from dryrun.fitting.strokes import strokes_of
from dryrun.job.model import Bit

from . import seventeenth_generator

BALL = Bit("ball", "ball", 6.0)
SLIM = Bit("slim", "ball", 3.0)
BLUNT = Bit("blunt", "ball", 10.0)
BULL = Bit("bull", "bull", 6.0, corner_radius=1.0)
TAPER = Bit("taper", "taper-ball", 6.0, angle=math.radians(5), tip_radius=1.0)


def over_an_edge(bit: Bit) -> list[str]:
    """Rows of a bit over a plate with an upright wall, 2.5 mm high."""
    flat, corner, half, radius = outline(bit)
    turned = flat + corner * np.sin(np.linspace(0.0, math.pi / 2 - half, 24))
    off = np.append(turned, radius)
    down = rises(off, (flat, corner, half, radius))
    kept = down < 2.5
    foot = radius if half == 0 and corner < 2.5 else float(np.interp(2.5, down, off))
    x = np.concatenate([[-6.0, -foot], -off[kept][::-1], [6.0]])
    z = np.concatenate([[-2.5, -2.5], -down[kept][::-1], [0.0]])
    lines = []
    for n, y in enumerate(np.arange(0.0, 12.0, 0.6)):
        order = slice(None) if n % 2 == 0 else slice(None, None, -1)
        lines += [f"G1 X{u:.3f} Y{y:.3f} Z{v - 0.01:.4f} F900"
                  for u, v in zip(x[order], z[order], strict=True)]  # fmt: skip
    return ["G0 X-6 Y0", *lines]


def motion(lines: list[str]) -> dryrun.Motion:
    text = "\n".join(["G21 G90 G17", "S18000 M3", "G0 Z5", *lines, "G0 Z5", "M30", ""])
    return dryrun.read_program(text.encode()).motion


@pytest.mark.parametrize("bit", [BALL, BULL, TAPER], ids=lambda b: b.name)
@pytest.mark.jit_only
def test_over_an_edge_a_bit_touches_with_its_own_end(bit: Bit) -> None:
    """It leaves the edge standing, and so does a slimmer one, but no blunter one."""
    found = measure(motion(over_an_edge(bit))).imprint
    assert found is not None
    assert touching(found, outline(bit, 0.9)).mean() > 0.85
    assert touching(found, outline(bit, 0.5)).all()
    assert touching(found, outline(bit, 1.3)).mean() < 0.4


@pytest.mark.jit_only
def test_imprint_speaks_for_the_bit_that_rolls_over_the_edge() -> None:
    found = measure(motion(over_an_edge(BALL)))
    own, slim, blunt = (imprint(found, bit, None) for bit in (BALL, SLIM, BLUNT))
    assert own is not None
    assert slim is not None
    assert blunt is not None
    assert own.log > slim.log + 1
    assert own.log > blunt.log + 2


def test_over_a_wide_dome_both_touch() -> None:
    """Where all is round, any ball may have made the path, but no flat end."""
    across = np.arange(-8.0, 8.1, 0.8)
    places = np.array([[x, y, -(x * x + y * y) / 80.0] for x in across for y in across])
    tips = np.array([[x, 0.0, -x * x / 80.0] for x in (-1.6, -0.8, 0.8, 1.6)])
    ways = np.array([[1.0, 0.0, -x / 40.0] for x in tips[:, 0]])
    found = Imprint(tips, ways, places[np.argsort(places[:, 0], kind="stable")])
    for bit in (BALL, SLIM):
        assert touching(found, outline(bit)).all()
    assert not touching(found, outline(Bit("flat", "flat", 12.0))).any()


def test_level_work_has_no_imprint() -> None:
    assert measure(motion(["G0 X0 Y0", "G1 Z-2 F200", "G1 X40 F900", "G1 Y9"])).imprint is None


def squares(shift: float, steps: list[float]) -> list[str]:
    """Squares at heights, each beside the last by a shift on two of its sides."""
    lines = []
    for k, z in enumerate(np.cumsum(steps)):
        a, b = -k * shift, 40 + k * shift
        lines += [f"G0 X{a} Y0", f"G1 Z{-z:.3f} F200", f"G1 X{b} F900", "G1 Y40", f"G1 X{a}"]
        lines += ["G1 Y0", "G0 Z5"]
    return lines


def test_few_even_lines_beside_each_other_are_rings() -> None:
    def found(shift: float, steps: list[float]) -> bool:
        level = strokes_of(motion(squares(shift, steps)))
        level = level.chosen(np.abs(level.step[:, 2]) < 1e-9)
        assert rings_of(level) is None
        return rings_of(level, few=True) is not None

    assert found(0.9, [0.4] * 6)
    assert not found(0.9, [0.4, 0.4, 0.5, 0.3, 0.4, 0.4])  # uneven
    assert not found(0.0, [0.4] * 6)  # a wall
    assert not found(0.9, [0.4] * 4)  # too few


def test_a_bevel_may_go_down_in_passes_but_not_an_outline() -> None:
    vee, flat = Bit("vee", "vee", 12.0, angle=math.radians(90)), Bit("flat", "flat", 3.0)

    def lead(steps: list[float]) -> float:
        found = measure(motion(squares(0.0, steps)))
        one, other = pass_depth(found, vee, None), pass_depth(found, flat, None)
        assert one is not None
        assert other is not None
        return one.log - other.log

    assert lead([0.6, 0.6]) > lead([0.6] * 14) + 0.4


def test_carved_lines_beside_each_other_are_no_rows() -> None:
    """What is mostly carved says less about a bit by the distance of its lines."""
    plain = measure(motion(over_an_edge(BALL)))
    assert plain.fine_spacing is not None
    modes = {**plain.modes, "relief": 0.2, "carve": 0.8}
    carved = fine_spacing(replace(plain, modes=modes), BLUNT, None)
    rows = fine_spacing(plain, BLUNT, None)
    assert carved is not None
    assert rows is not None
    assert abs(carved.log) < 1e-9 < abs(rows.log)


def test_a_helix_may_go_around_what_falls_out() -> None:
    """A helix of twice the bit's radius speaks against it, but no more than little."""
    lines = ["G0 X6 Y0", "G1 Z0 F200"]
    lines += [f"G3 X6 Y0 I-6 J0 Z{-0.8 * k:.2f}" for k in range(1, 8)]
    found = measure(motion([*lines, "G3 X6 Y0 I-6 J0"]))

    def log(diameter: float) -> float:
        evidence = helices(found, Bit("flat", "flat", diameter), None)
        assert evidence is not None
        return evidence.log

    assert log(16.0) > log(6.0) > log(1.5)


#: Of so many programs the right bit comes first, and among the first two, at least this often.
FROM, COUNT = (9000, 120) if os.environ.get("DRYRUN_LONG") else (9000, 12)


@pytest.mark.jit_only
def test_right_bit_on_plain_programs() -> None:
    places = []
    for seed in range(FROM, FROM + COUNT):
        made = seventeenth_generator.make(seed)
        program = dryrun.read_program(made.text)
        unit = "in" if program.state.modal["units"] == "G20" else "mm"
        ranking = fit_bits(program.motion, made.rack, unit=unit)
        places.append([c.bit.name for c in ranking.candidates].index(made.bit.name))
    assert np.mean(np.array(places) == 0) >= 0.62
    assert np.mean(np.array(places) < 2) >= 0.78
