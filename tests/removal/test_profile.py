"""Cutter shapes: their heights, and bits that cannot be."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from dryrun.job.model import Bit
from dryrun.removal.profile import Profile, ProfileError, UndercutBit
from dryrun.removal.simulate import between_cells
from tests.removal.reference import BITS, underside


@pytest.mark.parametrize("name", BITS)
def test_heights_are_those_of_the_drawing(name: str) -> None:
    """The profile's height is the underside of the reference's drawing at every radius."""
    bit = BITS[name]
    r = np.linspace(0.0, bit.radius, 997)

    # where a round piece ends upright, the last digit of its centre shows as 1e-8
    assert Profile.from_bit(bit).height(r) == pytest.approx(underside(bit)(r), abs=1e-7)


@pytest.mark.parametrize("name", BITS)
def test_beyond_its_radius_a_cutter_is_nowhere(name: str) -> None:
    """Outside the cutting radius the height is infinite."""
    bit = BITS[name]

    assert Profile.from_bit(bit).height(bit.radius * 1.001) == np.inf


@pytest.mark.parametrize("name", BITS)
def test_radius_at_a_height_is_the_inverse(name: str) -> None:
    """The radius at a height is the widest one at which the surface lies no higher."""
    profile = Profile.from_bit(BITS[name])
    heights = np.linspace(0.0, min(profile.rim_height, 3.0) + 0.1, 57)
    corners = [place[0] for place in BITS[name].profile]
    r = np.union1d(np.linspace(0.0, profile.radius, 20001), corners)
    below = profile.height(r)[None, :] <= heights[:, None] + 1e-9
    widest = r[len(r) - 1 - below[:, ::-1].argmax(axis=1)]

    assert profile.radii_at(heights) == pytest.approx(widest, abs=profile.radius / 500)


def test_tangent_circle_of_a_tapered_ball() -> None:
    """Ball and cone of a tapered ball touch at r cos a, r (1 - sin a).

    Plane geometry; the value 0.45642212862617 mm (r 0.5, 5 deg) was worked out for this test.
    """
    bit = Bit("t", "taper-ball", 4.0, angle=math.radians(5), tip_radius=0.5)
    touch = 0.5 * math.cos(math.radians(5))

    assert Profile.from_bit(bit).height(touch) == pytest.approx(0.45642212862617, abs=1e-12)


def test_a_convex_piece_bulges_outward_and_a_hollow_one_inward() -> None:
    """Above the chord lies the hollow piece, below it the convex one."""

    def middle(bulge: float) -> float:
        profile = ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (3.0, 2.0, bulge))
        return float(Profile.from_bit(Bit("f", "form", 6.0, profile=profile)).height(2.0))

    assert middle(2.0) == pytest.approx(2 - math.sqrt(3))
    assert middle(-2.0) == pytest.approx(math.sqrt(3))
    assert middle(2.0) < middle(0.0) < middle(-2.0)


IMPOSSIBLE = {
    "no size": (Bit("b", "flat", 0.0), "diameter"),
    "not a number": (Bit("b", "flat", math.nan), "diameter"),
    "no angle": (Bit("b", "vee", 6.0), "angle"),
    "flat vee": (Bit("b", "vee", 6.0, angle=math.pi), "180"),
    "wide tip": (Bit("b", "vee", 6.0, angle=1.0, tip=7.0), "tip"),
    "large corner": (Bit("b", "bull", 6.0, corner_radius=3.5), "corner"),
    "no corner": (Bit("b", "bull", 6.0), "corner_radius"),
    "large ball": (Bit("b", "taper-ball", 2.0, angle=0.1, tip_radius=1.5), "tip radius"),
    "steep taper": (Bit("b", "taper-flat", 6.0, angle=1.6, tip_diameter=1.0), "half angle"),
    "no profile": (Bit("b", "form", 6.0), "profile"),
    "short profile": (Bit("b", "form", 6.0, profile=((0, 0, 0), (2.0, 1.0, 0))), "ends at"),
    "no such arc": (Bit("b", "form", 6.0, profile=((0, 0, 0), (3.0, 3.0, 1.0))), "no arc"),
    "long flutes": (Bit("b", "flat", 6.0, flute_length=40.0, stickout=30.0), "stick-out"),
    "no flutes": (Bit("b", "flat", 6.0, flute_length=0.0), "flute_length"),
}


@pytest.mark.parametrize("case", IMPOSSIBLE)
def test_a_bit_that_cannot_be_is_refused_by_name(case: str) -> None:
    """The one sentence names the bit and what is wrong."""
    bit, word = IMPOSSIBLE[case]

    with pytest.raises(ProfileError, match=word) as caught:
        Profile.from_bit(bit)
    assert "'b'" in str(caught.value)
    assert "\n" not in str(caught.value)


UNDERCUT = {
    "dovetail": ((0.0, 0.0, 0.0), (3.0, 0.0, 0.0), (2.0, 4.0, 0.0)),
    "keyhole": ((0.0, 0.0, 0.0), (3.0, 0.0, 0.0), (3.0, 2.0, 0.0), (1.0, 2.0, 0.0)),
    "more than half a ball": ((0.0, 0.0, 0.0), (3.0, 3.0, 3.0), (2.0, 3.0 + 5**0.5, 3.0)),
}


@pytest.mark.parametrize("case", UNDERCUT)
def test_a_bit_that_cuts_under_material_is_refused(case: str) -> None:
    """A profile that narrows above its tip cannot be shown by heights."""
    bit = Bit("b", "form", 6.0, profile=UNDERCUT[case])

    with pytest.raises(UndercutBit, match="standing over its cut"):
        Profile.from_bit(bit)


ROUND_THE_CORNER = {
    "at its start": (((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (2.0, 1.5, -0.905)), 1.0),
    "at its end": (((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (2.0, 1.5, 0.905)), None),
}


@pytest.mark.parametrize("case", ROUND_THE_CORNER)
def test_an_arc_that_turns_back_is_refused_with_the_radii_it_has(case: str) -> None:
    """The sentence names a wider radius and then a narrower one, the arc's own."""
    profile, start = ROUND_THE_CORNER[case]
    bit = Bit("b", "form", 4.0, profile=profile)

    with pytest.raises(UndercutBit) as caught:
        Profile.from_bit(bit)
    wide, narrow = (
        float(n) for n in re.findall(r"radius ([\d.]+) mm to ([\d.]+) mm", str(caught.value))[0]
    )
    assert wide > narrow
    assert start is None or wide == start


def test_what_may_lie_between_cells_under_a_tooth_beside_the_axis() -> None:
    """A cutter lowest on a circle may run between the centres with it, wherever the circle is."""
    tooth = ((0.0, 0.5, 0.0), (0.07, 0.0, 0.0), (2.0, 2.0, 0.0))
    profile = Profile.from_bit(Bit("b", "form", 4.0, profile=tooth))

    # 0.0707 inside the tooth a centre may be left as high as the hollow, 0.5
    assert between_cells(profile, 0.1) >= 0.5
