"""Formulas of the feeds family against published figures."""

from __future__ import annotations

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
