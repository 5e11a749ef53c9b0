"""Arc geometry against rotation by complex numbers, and the report's examples."""

from __future__ import annotations

import cmath
import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from dryrun.gcode.arcs import TURN, centre_arc, helix_length, point_on_arc, radius_arc

lengths = st.floats(-500, 500, allow_nan=False).map(lambda v: round(v, 4))
radii = st.floats(0.05, 500).map(lambda v: round(v, 4))
angles = st.floats(-math.pi, math.pi)


@settings(max_examples=200, deadline=None)
@given(lengths, lengths, radii, angles, st.floats(0.001, TURN - 0.001), st.booleans())
def test_a_centre_arc_turns_by_the_angle_between_its_ends(
    u: float, v: float, radius: float, first: float, turn: float, clockwise: bool
) -> None:
    """Start and end made by rotation about the centre give back that rotation."""
    centre = complex(u, v)
    start = centre + cmath.rect(radius, first)
    signed = -turn if clockwise else turn
    end = centre + (start - centre) * cmath.exp(1j * signed)

    found = centre_arc(start.real, start.imag, end.real, end.imag, u, v, clockwise)

    assert found.sweep == pytest.approx(signed, abs=1e-7)
    assert found.start_radius == pytest.approx(radius) == found.end_radius


@given(lengths, lengths, radii, st.booleans())
def test_an_arc_that_ends_where_it_starts_is_one_full_turn(
    u: float, v: float, radius: float, clockwise: bool
) -> None:
    """End equal to start is one turn (NISTIR 6556 3.5.3.2)."""
    found = centre_arc(u + radius, v, u + radius, v, u, v, clockwise)

    assert found.sweep == (-TURN if clockwise else TURN)


@settings(max_examples=200, deadline=None)
@given(lengths, lengths, lengths, lengths, st.floats(1.0005, 20), st.booleans(), st.booleans())
def test_a_radius_arc_reaches_its_end_the_short_or_the_long_way(
    u: float, v: float, end_u: float, end_v: float, ratio: float, clockwise: bool, long: bool
) -> None:
    """Turning the start about the centre by the sweep gives the end; R says which way round."""
    chord = math.hypot(end_u - u, end_v - v)
    assume(chord > 0.01)
    radius = 0.5 * chord * ratio * (-1 if long else 1)

    found = radius_arc(u, v, end_u, end_v, radius, clockwise)

    reached = point_on_arc(u, v, found.centre_u, found.centre_v, found.sweep)
    assert reached == pytest.approx((end_u, end_v), abs=1e-6)
    assert math.hypot(u - found.centre_u, v - found.centre_v) == pytest.approx(abs(radius))
    assert (found.sweep < 0) == clockwise
    assert (abs(found.sweep) > math.pi) == long


def test_helix_length_is_that_of_the_unrolled_triangle() -> None:
    """Radius 3, a quarter turn, rise 4 (elementary geometry)."""
    assert helix_length(3.0, -math.pi / 2, 4.0) == pytest.approx(math.hypot(1.5 * math.pi, 4.0))
