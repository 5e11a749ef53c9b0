"""Cutter outlines against drawing-board geometry."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryrun.gauge.cutter import Cutter
from dryrun.job.model import Bit
from tests.gauge.shop import BALL6, FLAT6, VEE60, VEE90, outline

SHAPES = [
    FLAT6,
    BALL6,
    VEE90,
    VEE60,
    Bit("bull", "bull", 8.0, corner_radius=1.5),
    Bit("taper-ball", "taper-ball", 6.0, angle=math.radians(8), tip_radius=0.75),
    Bit("taper-flat", "taper-flat", 6.0, angle=math.radians(10), tip_diameter=1.0),
    Bit("drill", "drill", 5.0, angle=math.radians(118)),
]


@pytest.mark.parametrize("bit", [FLAT6, BALL6, VEE90, VEE60], ids=lambda b: b.name)
def test_outline_as_drawn(bit):
    """Heights agree with the outline written out in the tests' workshop."""
    r = np.linspace(0, 7, 141)

    assert Cutter.from_bit(bit).height(r) == pytest.approx(outline(bit, r), abs=1e-12)


@pytest.mark.parametrize("bit", SHAPES, ids=lambda b: b.name)
@given(share=st.floats(0.0, 1.0))
@settings(max_examples=25, deadline=None)
def test_reach_undoes_height(bit, share):
    """At the height of a radius on the flank, the reach is that radius."""
    cutter = Cutter.from_bit(bit)
    r = np.array([share * cutter.radius])
    h = cutter.height(r)
    again = cutter.reach(h)

    assert again[0] >= r[0] - 1e-6
    assert cutter.height(again)[0] == pytest.approx(h[0], abs=1e-9)


@pytest.mark.parametrize(
    ("degrees", "depth", "width"),
    [(60, 3.0, 3.4641016151), (90, 3.0, 6.0), (30, 2.0, 1.0717967697)],
)
def test_width_of_a_vee_groove(degrees, depth, width):
    """w = 2 d tan(angle / 2) (plane geometry)."""
    cutter = Cutter.from_bit(Bit("v", "vee", 12.0, angle=math.radians(degrees)))

    assert 2 * cutter.reach(np.array([depth]))[0] == pytest.approx(width, abs=1e-9)


def test_depth_for_a_width_with_flat_tip():
    """A 60 degree vee with a 0.2 mm tip is 4 mm wide at 3.2909 mm (plane geometry)."""
    cutter = Cutter.from_bit(VEE60)

    assert 2 * cutter.reach(np.array([3.2908965343808667]))[0] == pytest.approx(4.0, abs=1e-12)


def test_width_of_a_ball_groove():
    """2 sqrt(d (D - d)): 4.47 mm at 1 mm with a 6 mm ball (plane geometry)."""
    reach = Cutter.from_bit(BALL6).reach(np.array([1.0]))

    assert 2 * reach[0] == pytest.approx(2 * math.sqrt(5), abs=1e-12)


def test_form_with_a_bulge_is_a_ball():
    """A quarter circle given as one bulging piece has the ball's outline within half a micron."""
    form = Cutter.from_bit(Bit("round", "form", 6.0, profile=((0.0, 0.0, 0.0), (3.0, 3.0, 3.0))))
    r = np.linspace(0, 2.9, 60)

    assert form.height(r) == pytest.approx(Cutter.from_bit(BALL6).height(r), abs=4e-3)
    assert form.height(np.array([1.0]))[0] == pytest.approx(3 - math.sqrt(8), abs=5e-4)


def test_form_with_a_flat_tip():
    """A form whose first point is off the axis has a flat tip."""
    form = Cutter.from_bit(Bit("flat", "form", 6.0, profile=((1.0, 0.0, 0.0), (3.0, 2.0, 0.0))))

    assert form.height(np.array([0.5, 2.0])).tolist() == [0.0, 1.0]
    assert form.reach(np.array([1.0]))[0] == pytest.approx(2.0)


def test_beyond_the_cutter():
    """Nothing is cut beyond the radius, nor below the tip."""
    cutter = Cutter.from_bit(FLAT6)

    assert cutter.height(np.array([3.001]))[0] == math.inf
    assert cutter.reach(np.array([-0.001]))[0] == -math.inf


def test_varied_angle_and_diameter():
    """A vee's angle is the whole one, a taper's the half; both change as declared."""
    vee = Cutter.from_bit(VEE90).varied(angle=math.radians(4))
    taper = Cutter.from_bit(SHAPES[6]).varied(angle=math.radians(2), diameter=0.5)

    assert math.degrees(vee.half) == pytest.approx(47)
    assert math.degrees(taper.half) == pytest.approx(12)
    assert taper.radius == pytest.approx(3.25)
