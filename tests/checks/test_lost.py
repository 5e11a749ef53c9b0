"""Passes missing from an even floor: a ridge as wide as whole steps less the bit."""

from __future__ import annotations

import pytest

import dryrun
from dryrun.checks.lost import Lost, lost_passes

#: Bit and distance of its passes, mm.
WIDTH, STEP = 6.0, 2.6


def floor(ys: list[float], lifted: tuple[float, ...] = ()) -> Lost | None:
    """Look at passes along X at these places, lifted before those in `lifted`."""
    lines = ["G21 G90 S18000 M3", f"G0 X10 Y{ys[0]:.3f} Z5", "G1 Z-2 F300"]
    x = 10.0
    for y in ys:
        if y in lifted:
            lines += ["G0 Z5", f"G0 Y{y:.3f}", "G1 Z-2"]
        lines.append(f"G1 Y{y:.3f} F1200")
        x = 90.0 if x == 10.0 else 10.0
        lines.append(f"G1 X{x}")
    program = dryrun.read_program(("\n".join([*lines, "G0 Z5", "M30"])).encode())
    return lost_passes(program.motion, WIDTH, 0.0)


def without(*lost: int) -> list[float]:
    return [10 + STEP * k for k in range(16) if k not in lost]


def test_two_lost_passes_are_told_where_they_are_missing() -> None:
    lost = floor(without(7, 8))

    assert lost is not None
    assert lost.gap == pytest.approx(3 * STEP)
    assert lost.at[1] == pytest.approx(10 + 7.5 * STEP, abs=1e-3)


def test_a_whole_floor_and_one_lost_pass_leave_no_ridge() -> None:
    assert floor(without()) is None
    assert floor(without(7)) is None


def test_a_wall_that_is_no_number_of_steps_wide_is_wanted() -> None:
    left, right = without(*range(7, 16)), without(*range(7))
    assert floor(left + [y + 0.4 for y in right[2:]]) is None


def test_a_wall_between_two_pockets_is_wanted() -> None:
    ys = without(7, 8)
    assert floor(ys, lifted=(ys[7],)) is None


def test_a_pass_beside_its_place_leaves_a_ridge_on_one_side() -> None:
    """Steps of 5 mm with a bit of 6: one pass is 2 mm off, so that the next is 7 mm away."""
    ys = [10 + 5.0 * k for k in range(12)]
    assert floor(ys) is None
    ys[6] -= 2.0
    lost = floor(ys)
    assert lost is not None
    assert (lost.gap, lost.beside) == pytest.approx((7.0, 2.0))
    assert lost.at[1] == pytest.approx(41.5, abs=1e-3)
    ys[6] += 1.5
    assert floor(ys) is None  # 5.5 mm: the bit reaches
