"""Formulas of the feeds family against published figures."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from dryrun.checks import feeds
from dryrun.job.model import Bit


def context(bit: Bit, rpm: float) -> SimpleNamespace:
    """Return the little of a context these formulas read."""
    return SimpleNamespace(bit=bit, motion=SimpleNamespace(spindle=np.array([rpm])))


def test_side_force_from_power() -> None:
    """P = 69.12 W (kc 32.0 N/mm2: Palubicki 2021, Materials 14, 2208) on 6 mm at 18000 rpm.

    F = P / (pi D n) by definition: 12.223 N.
    """
    force = feeds.side_force(context(Bit("b", "flat", 6.0), 18000.0), np.array([69.12]))

    assert force[0] == pytest.approx(12.223099629457563, rel=1e-9)


def test_bending_of_a_fluted_rod() -> None:
    """A 3.175 mm carbide bit, 20 mm out, 20 N: 43.5 um when all of it is fluted.

    F L3 / (3 E I), I = pi D4 / 64 (beam theory), the fluted part taken as 0.8 D (common practice,
    no source), E 600 GPa (from memory).
    """
    bit = Bit("b", "flat", 3.175, flute_length=20.0, shank=3.175, stickout=20.0)

    bend = feeds.bending(context(bit, 18000.0), np.array([20.0]))

    assert bend[0] == pytest.approx(0.04350535455423945, rel=1e-9)


def test_bending_of_a_stepped_bit_by_integration() -> None:
    """The stepped formula against a numerical integral of M^2 / (E I) (unit-load method)."""
    bit = Bit("b", "flat", 3.0, flute_length=12.0, shank=6.0, stickout=30.0)
    x = np.linspace(0.0, 30.0, 300_001)
    d = np.where(x <= 12.0, 0.8 * 3.0, 6.0)
    integral = np.trapezoid(25.0 * x * x / (600_000.0 * np.pi * d**4 / 64), x)

    bend = feeds.bending(context(bit, 18000.0), np.array([25.0]))

    assert bend[0] == pytest.approx(integral, rel=1e-3)


def test_edge_speed_of_a_bit() -> None:
    """6 mm at 18000 rpm: pi d n = 5.655 m/s by definition; a ball 1 mm deep cuts 4.472 mm wide.

    Chord of a circle at height h: 2 sqrt(h (D - h)) (geometry).
    """
    for shape, wide in (("flat", 6.0), ("ball", 2 * math.sqrt(1.0 * 5.0))):
        cut = SimpleNamespace(axial=np.array([1.0]))
        motion = SimpleNamespace(
            spindle=np.array([18000.0]), cutting=np.array([True]), feed=np.array([1200.0])
        )
        made = SimpleNamespace(bit=Bit("b", shape, 6.0), motion=motion, cut=cut)

        assert feeds.edge_speed(made)[0] == pytest.approx(math.pi * wide / 1000 * 300, rel=1e-6)


@pytest.mark.parametrize(
    ("start", "sweep", "reach"),
    [
        (0.0, math.pi / 2, 1000.0),  # turns from along Y to along X: the slower axis counts
        (-0.1, 0.2, 2000.0 / math.cos(0.0)),  # stays along Y, whose rate is 2000
        (math.pi / 4 - 0.01, 0.02, 1000.0 / math.sin(math.pi / 4 + 0.01)),  # on the diagonal
    ],
)
def test_feed_on_an_arc_that_no_axis_exceeds(start: float, sweep: float, reach: float) -> None:
    """X 1000, Y 2000 mm/min on a circle: v |sin| and v |cos| of the heading (kinematics)."""
    radius = 10.0
    turn = np.array([start, start + sweep])
    place = np.column_stack([radius * np.cos(turn), radius * np.sin(turn), np.zeros(2)])
    motion = SimpleNamespace(
        axis=np.array([2], np.int8),
        start=place[:1],
        end=place[1:],
        centre=np.zeros((1, 3)),
        sweep=np.array([sweep]),
    )

    got = feeds._reach_on_arcs(motion, np.array([0]), np.array([1000.0, 2000.0, 500.0]))

    assert got[0] == pytest.approx(reach, rel=2e-3)
