"""Facts of a row that the field alone does not give: contact, rapids, unknown places, calls."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from dryrun.job.model import Bit, Clamp, Disc, DustShoe, Machine
from dryrun.motion import PROBE, Motion
from dryrun.removal.facts import CutFacts
from dryrun.removal.profile import UndercutBit
from dryrun.removal.simulate import reach_facts, remove
from dryrun.removal.surface import Surface
from tests.removal.reference import (
    BITS,
    arc,
    blank,
    line,
    motion_table,
    polyline,
    underside,
)

CELL = 0.5
FLAT = Bit("flat-6", "flat", 6.0, flute_length=4.0, shank=6.0, stickout=10.0)


def cut(motion: Motion, bit: Bit = FLAT, **options: object) -> CutFacts:
    surface = Surface.blank(blank(60.0, 40.0, 20.0), cell=CELL)
    return remove(surface, motion, bit, **{"threads": 1, **options})  # type: ignore[arg-type]


# --------------------------------------------------------------------------------------------
# What must not touch the material
# --------------------------------------------------------------------------------------------


def test_a_shank_rubs_where_the_cut_is_deeper_than_the_flutes() -> None:
    """A slot 3 deep is within flutes of 4; 5 deep in whole material rubs 1 deep, on the path."""
    facts = cut(polyline([(-20, 0, -3), (20, 0, -3), (20, 12, -5), (-20, 12, -5)]))
    shank = facts.contacts["shank-material"]

    assert shank.depth == pytest.approx([0.0, 1.0, 1.0], abs=1e-6)
    assert np.isnan(shank.place[0]).all()
    x, y, z = shank.place[2]
    assert -23 <= x <= 23
    assert abs(y - 12) <= 3
    assert z == pytest.approx(-1.0)


def test_a_thin_shank_goes_down_in_the_slot_that_was_cut_before() -> None:
    """Pass by pass a slot of 8 is cut with flutes of 4; a thicker shank rubs its walls."""
    passes = polyline([(-20, 0, -4), (20, 0, -4), (20, 0, -8), (-20, 0, -8)])
    thin = cut(passes, replace(FLAT, shank=5.0)).contacts["shank-material"].depth
    thick = cut(passes, replace(FLAT, shank=8.0)).contacts["shank-material"].depth

    assert thin[[0, 2]].tolist() == [0.0, 0.0]
    assert thick[0] == 0.0
    assert thick[2] == pytest.approx(4.0, abs=1e-6)


@pytest.mark.parametrize(
    "sweep", [10 * math.pi, pytest.param(-10 * math.pi, marks=pytest.mark.jit_only)]
)
@pytest.mark.parametrize("shank", [5.0, 6.0, 8.0])
def test_a_shank_follows_the_cutter_down_its_own_hole(shank: float, sweep: float) -> None:
    """A bore of 10 with flutes of 4 is the same in one row as in rows of 1 mm or of one turn.

    Only a shank thicker than the cutter meets what the flutes left beside them.
    """
    bit = replace(FLAT, shank=shank)
    wall = 6.0 if shank > 6.0 else 0.0
    down = np.linspace(0.0, -10.0, 11)
    in_one = cut(polyline([(0, 0, 0), (0, 0, -10)]), bit)
    in_many = cut(polyline([(0, 0, z) for z in down]), bit)
    turns = [arc((0, 0, -2.0 * i), 2.0, 0.3, sweep / 5, 2, rise=-2.0) for i in range(5)]
    screw = cut(motion_table([arc((0, 0, 0), 2.0, 0.3, sweep, 2, rise=-10.0)]), bit)
    screw_in_turns = cut(motion_table(turns), bit)
    up = cut(motion_table([arc((0, 0, -10), 2.0, 0.3, sweep, 2, rise=10.0)]), bit)

    for facts in (in_one, in_many, screw, screw_in_turns):
        depth = facts.contacts["shank-material"].depth
        assert depth.max() == pytest.approx(wall, abs=1e-6)
    # a plunge that begins in whole material touches there, and no deeper
    begun = cut(polyline([(0, 0, -5), (0, 0, -10)]), bit).contacts["shank-material"]
    assert begun.depth == pytest.approx([wall or 1.0], abs=1e-6)
    assert begun.place[0, 2] == pytest.approx(-begun.depth[0], abs=1e-6)
    # from below it stands in whole material at once, whatever its size
    assert up.contacts["shank-material"].depth == pytest.approx([6.0], abs=1e-6)


def test_a_shank_stands_in_material_where_a_steep_helix_outruns_the_flutes() -> None:
    """Turns 5 apart with flutes of 4: between them the shank is 1 deep in what is left."""
    motion = motion_table([arc((0, 0, 0), 6.0, 0.3, 4 * math.pi, 2, rise=-10.0)])
    depth = cut(motion).contacts["shank-material"].depth

    assert depth[0] > 1.0


@pytest.mark.jit_only
def test_a_contact_stands_at_the_height_where_it_is() -> None:
    """The lower end of a row may be off the blank, and the bottom of an arc between its ends."""
    motion = motion_table(
        [
            line((0, 0, 0), (60, 0, -20)),
            arc((-15.0, -10.0, 2.0), 7.0, math.pi + 0.9, -1.8, 1),
            {**line((-20, 14, 5), (-20, 9, -6)), "rapid": True},
        ]
    )
    for rapids in ("straight", "independent"):
        facts = cut(motion, replace(FLAT, shank=8.0), machine=Machine(), rapids=rapids)
        shank = facts.contacts["shank-material"]
        # whole blank, its top at 0: the face is as low as it is deep
        assert (shank.depth[:2] > 0.9).all()
        assert shank.place[:, 2] == pytest.approx(-shank.depth, abs=1e-4)


def test_holder_and_dust_shoe_meet_the_blank_beside_the_cut() -> None:
    """A holder disc of 20 hangs 10 over the tip, a shoe of 30 hangs 2 lower.

    Along a cut 11 deep, which an earlier wide pass of 12 around it opened, nothing but the parts
    beyond the opening touch: the holder reaches 10 to each side, the shoe 15.
    """
    machine = Machine(holder=(Disc(20.0, 5.0), Disc(40.0, 5.0)), dust_shoe=DustShoe(30.0, 2.0))
    facts = cut(polyline([(0, 0, -9), (0, 0, -11), (5, 0, -11)]), machine=machine)
    holder, body = facts.contacts["holder-material"], facts.contacts["body-material"]

    assert holder.depth == pytest.approx([1.0, 1.0], abs=1e-6)
    assert body.depth == pytest.approx([3.0, 3.0], abs=1e-6)
    assert np.hypot(*holder.place[1, :2]) <= 15 + CELL


def test_what_is_not_declared_is_not_looked_for() -> None:
    """Without lengths or a machine there is no such contact in the table."""
    bare = Bit("bare", "flat", 6.0)

    assert cut(polyline([(0, 0, 0), (5, 0, -9)]), bare).contacts == {}
    assert set(cut(polyline([(0, 0, 0), (5, 0, -9)])).contacts) == {"shank-material"}
    with_clamp = cut(polyline([(0, 0, 0), (5, 0, -9)]), bare, clamps=[CLAMP])
    assert set(with_clamp.contacts) == {"cutter-clamp"}


# --------------------------------------------------------------------------------------------
# Clamps
# --------------------------------------------------------------------------------------------

CLAMP = Clamp("left", low=(-30.0, -5.0), high=(-20.0, 5.0), height=6.0)


def test_a_flat_bit_hits_a_clamp_as_deep_as_it_is_below_its_top() -> None:
    """Straight over it at 2, beside it by a hair, against it, and along an arc that bulges in."""
    motion = motion_table(
        [
            {**line((0, 0, 2), (-40, 0, 2)), "rapid": True},
            line((-16.99, -20, 2), (-16.99, 20, 2)),
            line((-10, 0, 5.5), (-17.5, 0, 3.5)),
            arc((-10.0, 0.0, 1.0), 9.0, 0.0, 2 * math.pi, 2),
            line((-25, 0, 9), (-25, 0, 6.5)),
        ]
    )
    hit = cut(motion, clamps=[CLAMP]).contacts["cutter-clamp"]

    assert hit.depth == pytest.approx([4.0, 0.0, 2.5, 5.0, 0.0], abs=1e-9)
    assert hit.place[2] == pytest.approx([-20.0, 0.0, 3.5], abs=1e-6)
    assert np.isnan(hit.place[[1, 4]]).all()


@pytest.mark.parametrize("name", ["ball", "vee", "bull", "taper-ball", "form-hollow"])
def test_a_shaped_bit_beside_a_clamp_touches_only_where_it_is_low_enough(name: str) -> None:
    """Passing at distance d from a clamp it is the profile's height at d that counts."""
    bit = BITS[name]
    for beside in (0.3, 0.9, bit.radius * 0.95):
        low = 6.0 - 3.0
        motion = polyline([(-20 + beside, -9, low), (-20 + beside, 9, low)])
        from dryrun.removal.profile import Profile

        height = float(Profile.from_bit(bit).height(beside))
        hit = cut(motion, bit, clamps=[CLAMP]).contacts["cutter-clamp"]

        assert hit.depth[0] == pytest.approx(max(0.0, 3.0 - height), abs=1e-6)


@pytest.mark.parametrize("name", ["flat", "ball", "vee", "bull", "form-hollow", "form-crowned"])
@pytest.mark.parametrize("rise", [0.0, 0.3])
def test_an_arc_is_lowest_over_a_clamp_anywhere_on_its_way(name: str, rise: float) -> None:
    """A circle begins and ends beside a narrow clamp, within its reach, and crosses over it."""
    bit = BITS[name]
    narrow = Clamp("narrow", low=(-15.0, -5.0), high=(15.0, 5.0), height=6.0)
    motion = motion_table([arc((0.0, 0.0, 1.0), 7.0, math.pi / 2, 2 * math.pi, 2, rise=rise)])
    hit = cut(motion, bit, clamps=[narrow]).contacts["cutter-clamp"]

    angle = np.linspace(0.0, 2 * math.pi, 100001)
    beside = np.maximum(np.abs(7.0 * np.cos(angle)) - 5.0, 0.0)
    low = 1.0 + rise * angle / (2 * math.pi) + underside(bit)(beside)
    assert hit.depth == pytest.approx([6.0 - low.min()], abs=1e-3)
    assert hit.place[0, 2] == pytest.approx(6.0 - hit.depth[0])


def test_shank_holder_and_shoe_hit_clamps_too() -> None:
    """Each by its own radius and height above the tip."""
    machine = Machine(holder=(Disc(20.0, 5.0),), dust_shoe=DustShoe(30.0, 2.0))
    bit = replace(FLAT, shank=8.0)
    motion = polyline([(-16.5, -20, -1), (-16.5, 20, -1), (-11, 20, -5), (-11, -20, -5)])
    found = cut(motion, bit, clamps=[CLAMP], machine=machine).contacts

    assert found["cutter-clamp"].depth[[0, 2]].tolist() == [0.0, 0.0]
    assert found["shank-clamp"].depth[[0, 2]] == pytest.approx([3.0, 0.0])
    assert found["holder-clamp"].depth[[0, 2]] == pytest.approx([0.0, 1.0])
    assert found["body-clamp"].depth[[0, 2]] == pytest.approx([0.0, 3.0])


# --------------------------------------------------------------------------------------------
# The lowest point
# --------------------------------------------------------------------------------------------


def test_the_lowest_point_is_exact_and_only_counts_over_the_blank() -> None:
    """A bit that dips off the blank is as low as where its rim leaves the blank's border."""
    motion = motion_table(
        [
            line((0, 0, -1), (43, 0, -44)),  # 45 degrees down, over the border at x = 30
            line((50, 0, -9), (50, 9, -9)),
            line((33, 23, -7), (29, 23, -7)),  # past the corner, which it just misses and meets
            line((33, 23, -7), (32.2, 22.2, -7.8)),
            arc((0.0, 0.0, 4.0), 6.0, -0.5, 2.0, 1),  # about Y: Z is the first, X the second
            arc((0.0, 0.0, -2.0), 26.0, 0.3, 1.0, 2, rise=-1.0),
        ]
    )
    facts = cut(motion)

    assert facts.lowest[0] == pytest.approx(-34.0)
    assert facts.lowest_at[0] == pytest.approx([33.0, 0.0])
    assert np.isnan(facts.lowest[1])
    assert np.isnan(facts.lowest_at[1]).all()
    assert facts.lowest[2] == -7.0
    assert np.isnan(facts.lowest[3])  # 2.2 from the corner in x and y is more than 3 away
    assert facts.lowest[4] == pytest.approx(motion.end[4, 2], abs=1e-9)
    # the helix climbs out over the back edge: its rim is over it until y = 20 + 3
    assert facts.lowest[5] == pytest.approx(-2.0 - (math.asin(23 / 26) - 0.3), abs=2e-4)


@pytest.mark.jit_only
def test_the_bottom_of_an_upright_arc_is_found_between_its_ends() -> None:
    """Arcs about X and Y pass their lowest point within the row; a whole turn passes it too."""
    motion = motion_table(
        [
            arc((1.0, 0.0, 2.0), 5.0, math.pi + 0.4, 2.0, 0),
            arc((1.0, 0.0, 2.0), 5.0, math.pi - 0.5, 1.0, 1),
            arc((1.0, 0.0, 2.0), 5.0, math.pi + 0.5, -1.0, 1),
            arc((1.0, 0.0, 2.0), 5.0, 0.1, 2 * math.pi, 1),
        ]
    )
    facts = cut(motion)

    assert facts.lowest == pytest.approx([-3.0] * 4, abs=1e-9)
    assert facts.lowest_at == pytest.approx(np.array([[1.0, 0.0]] * 4), abs=1e-9)


# --------------------------------------------------------------------------------------------
# Rapids, probing, unknown places
# --------------------------------------------------------------------------------------------


def rapid(start: tuple[float, float, float], end: tuple[float, float, float]) -> Motion:
    return motion_table([{**line(start, end), "rapid": True}])


def test_a_rapid_through_material_says_so() -> None:
    """It takes what is in its way like any cut."""
    facts = cut(rapid((-20, 0, 5), (20, 0, -3)))

    assert facts.axial[0] == pytest.approx(3.0, abs=0.2)


def test_axes_that_run_on_their_own_take_the_bent_way() -> None:
    """From low left to high right: Z is there first when it is fast, last when it is slow."""
    up = rapid((-20, 0, -2), (20, 0, 2))
    fast = Machine(max_rate=(1000.0, 1000.0, 1000.0), rapids="independent")
    slow = Machine(max_rate=(1000.0, 1000.0, 50.0), rapids="independent")

    straight = cut(up).removed_mm3[0]
    early = cut(up, machine=fast).removed_mm3[0]
    late = cut(up, machine=slow).removed_mm3[0]
    # 4 up takes as long as 4 along: a ramp of 2 up to the top, d (R L + pi R^2)
    assert early == pytest.approx(2 * (3 * 2 + math.pi * 9), rel=0.01)
    # 4 up at 50 takes as long as 80 along: still 0 up by half when X is there
    assert early < straight < late
    assert cut(up, machine=slow, rapids="straight").removed_mm3[0] == straight
    assert cut(up, rapids="independent", machine=fast).removed_mm3[0] == early


def test_a_machine_is_needed_for_axes_that_run_on_their_own() -> None:
    """Their rates are the machine's."""
    with pytest.raises(ValueError, match="max_rate"):
        cut(rapid((0, 0, 1), (1, 1, 2)), rapids="independent")
    with pytest.raises(ValueError, match="straight"):
        cut(rapid((0, 0, 1), (1, 1, 2)), rapids="crooked")


def test_unknown_places_cut_nothing_and_hide_nothing() -> None:
    """A row with a NaN in it has no facts; its neighbours have theirs."""
    good = polyline([(-9, 0, -2), (9, 0, -2)])
    bad = motion_table([line((9, 0, -2), (9, math.nan, -2)), line((math.nan, 0, -2), (9, 0, -2))])
    facts = cut(Motion.concatenate([good, bad, good]))

    assert (facts.removed_mm3 > 0).tolist() == [True, False, False, False]
    assert np.isnan(facts.lowest).tolist() == [False, True, True, False]
    assert np.isnan(facts.entry[1:3]).all()


def test_a_probe_cuts_nothing() -> None:
    """It stops where it touches, wherever the program sends it."""
    motion = polyline([(0, 0, 5), (0, 0, -5)])
    probing = replace(motion, kind=np.full(1, PROBE, np.int8))
    facts = cut(probing)

    assert facts.removed_mm3[0] == facts.axial[0] == 0.0
    assert np.isnan(facts.lowest[0])


def test_no_rows_are_no_work() -> None:
    """An empty program gives an empty table."""
    facts = cut(Motion.empty())

    assert len(facts) == 0


# --------------------------------------------------------------------------------------------
# Bits that a map of heights cannot show
# --------------------------------------------------------------------------------------------


def test_an_undercut_bit_is_refused_but_its_reach_is_known() -> None:
    """The field is left alone; depth and clamps can still be checked."""
    dovetail = Bit(
        "dovetail", "form", 12.0, profile=((0.0, 0.0, 0.0), (6.0, 0.0, 0.0), (4.0, 8.0, 0.0))
    )
    motion = polyline([(-20, 0, 1), (0, 0, -7)])
    with pytest.raises(UndercutBit):
        cut(motion, dovetail)
    facts = reach_facts(motion, dovetail, blank(60.0, 40.0, 20.0), clamps=[CLAMP])

    assert facts.lowest[0] == -7.0
    assert facts.contacts["cutter-clamp"].depth[0] == pytest.approx(5.0 + 0.4 * 6.0)
    assert np.isnan(facts.removed_mm3).all()
