"""Bits: what each shape needs, what is possible, and how one is spelled."""

import math

import pytest

from dryrun.job.bits import (
    COMPACT,
    SHAPE_KEYS,
    BitError,
    bit_problems,
    cone_height,
    cutting_length,
    describe_bit,
    make_bit,
    parse_bit,
)

DEG = math.radians(1)
GOOD = {
    "flat": {"diameter": 6.0},
    "ball": {"diameter": 6.0},
    "bull": {"diameter": 6.0, "corner_radius": 1.0},
    "vee": {"diameter": 12.0, "angle": 90 * DEG},
    "taper-ball": {"diameter": 6.0, "angle": 5 * DEG, "tip_radius": 0.5},
    "taper-flat": {"diameter": 6.0, "angle": 5 * DEG, "tip_diameter": 1.0},
    "drill": {"diameter": 3.0, "angle": 118 * DEG},
    "form": {"profile": ((0.0, 0.0), (3.0, 2.0), (6.0, 5.0))},
}


@pytest.mark.parametrize("shape", GOOD)
def test_each_shape_can_be_made(shape):
    """Make a bit of each shape from what it needs, and nothing more."""
    bit = make_bit("b", {"shape": shape, **GOOD[shape]})

    assert shape == bit.shape
    assert set(GOOD) == set(SHAPE_KEYS)


@pytest.mark.parametrize(
    ("shape", "key"), [(shape, key) for shape, (needed, _) in SHAPE_KEYS.items() for key in needed]
)
def test_each_needed_key_is_missed(shape, key):
    """Say which key a shape needs when it is not there."""
    values = {"shape": shape, **GOOD[shape]}
    del values[key]

    (problem,) = bit_problems(values)

    assert f'a {shape} bit needs "{key}"' == problem.message


@pytest.mark.parametrize(
    ("shape", "key"),
    [
        ("flat", "angle"),
        ("ball", "tip_radius"),
        ("vee", "corner_radius"),
        ("drill", "tip"),
        ("taper-ball", "tip"),
        ("bull", "profile"),
    ],
)
def test_foreign_keys_are_refused(shape, key):
    """Refuse a key that says nothing about the shape, rather than ignore it."""
    problems = bit_problems({"shape": shape, **GOOD[shape], key: 1.0})

    assert [key] == [problem.key for problem in problems]


@pytest.mark.parametrize(
    ("shape", "changes", "key"),
    [
        ("bull", {"corner_radius": 3.5}, "corner_radius"),
        ("vee", {"tip": 12.0}, "tip"),
        ("vee", {"angle": 180 * DEG}, "angle"),
        ("vee", {"angle": 1 * DEG}, "angle"),
        ("drill", {"angle": 180 * DEG}, "angle"),
        ("taper-ball", {"tip_radius": 3.5}, "tip_radius"),
        ("taper-ball", {"angle": 75 * DEG}, "angle"),
        ("taper-flat", {"tip_diameter": 6.0}, "tip_diameter"),
        ("form", {"profile": ((-1.0, 0.0), (3.0, 2.0))}, "profile"),
        ("form", {"profile": ((0.0, 0.0), (-3.0, 2.0))}, "profile"),
        ("form", {"profile": ((0.0, 0.0), (0.0, 0.0), (4.0, 1.0))}, "profile"),
        ("form", {"profile": ((0.0, 0.0), (0.0, 4.0))}, "profile"),
        ("form", {"profile": ((0.0, 0.0), (3.0, 3.0, 1.0))}, "profile"),
        ("form", {"diameter": 10.0}, "diameter"),
    ],
)
def test_impossible_geometry_is_refused(shape, changes, key):
    """Refuse a bit that cannot be ground, and blame the key."""
    problems = bit_problems({"shape": shape, **GOOD[shape], **changes})

    assert [key] == [problem.key for problem in problems]


@pytest.mark.parametrize(
    "profile",
    [
        ((2.0, 0.0), (5.0, 3.0, 3.0)),  # a quarter round, convex
        ((2.0, 0.0), (5.0, 3.0, -3.0)),  # and hollow
        ((0.0, 1.0), (2.0, 0.0), (5.0, 3.0)),  # the lowest place away from the axis
        ((0.0, 0.0), (6.0, 0.0), (4.0, 3.0), (6.0, 6.0)),  # cuts under material
        ((0.0, 0.0), (3.0, 0.0), (3.0, 4.0)),  # upright
    ],
)
def test_possible_forms(profile):
    """Accept any chain of points that a bit can be ground to, and take its width from it."""
    bit = make_bit("form", {"shape": "form", "profile": profile, "diameter": profile[-1][0] * 2})

    assert bit.diameter == 2 * profile[-1][0]
    assert all(len(point) == 3 for point in bit.profile)


@pytest.mark.parametrize("shape", GOOD)
def test_what_is_accepted_can_be_simulated(shape):
    """Make the cutter's profile of every bit that reading accepts."""
    profile_room = pytest.importorskip("dryrun.removal.profile")

    profile = profile_room.Profile.from_bit(make_bit("b", {"shape": shape, **GOOD[shape]}))

    assert profile.radius == pytest.approx(make_bit("b", {"shape": shape, **GOOD[shape]}).radius)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("flat:6mm", {"shape": "flat", "diameter": 6.0}),
        ("ball:1/4in", {"shape": "ball", "diameter": 6.35}),
        ("vee:90deg:12mm", {"shape": "vee", "diameter": 12.0, "angle": 90 * DEG, "tip": 0.0}),
        ("vee:60°:1/2in:tip0.2mm", {"diameter": 12.7, "angle": 60 * DEG, "tip": 0.2}),
        ("bull:6mm:r1mm", {"shape": "bull", "diameter": 6.0, "corner_radius": 1.0}),
        ("taper-ball:5deg:r0.5mm:6mm", {"diameter": 6.0, "angle": 5 * DEG, "tip_radius": 0.5}),
        ("taper-flat:5deg:tip1mm:6mm", {"diameter": 6.0, "angle": 5 * DEG, "tip_diameter": 1.0}),
        ("drill:118deg:3mm", {"shape": "drill", "diameter": 3.0, "angle": 118 * DEG}),
        ("drill:3mm:118deg", {"shape": "drill", "diameter": 3.0, "angle": 118 * DEG}),
        (" flat : 6 mm ", {"shape": "flat", "diameter": 6.0}),
    ],
)
def test_compact_spelling(text, expected):
    """Read a compact bit; the order of its sizes does not matter, for each says what it is."""
    bit = parse_bit(text)

    assert expected == {key: pytest.approx(getattr(bit, key)) for key in expected}


@pytest.mark.parametrize("spelling", [s for text in COMPACT.values() for s in text.split(", or ")])
def test_the_spellings_in_the_help_are_read(spelling):
    """Read every spelling that the help shows."""
    assert spelling.partition(":")[0] == parse_bit(spelling).shape


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", 'no shape ""'),
        ("6mm", 'no shape "6mm"'),
        ("flta:6mm", 'did you mean "flat"'),
        ("flat", 'needs "diameter"'),
        ("flat:6", "a number without a unit"),
        ("flat:0mm", "not above 0"),
        ("flat:-6mm", "not above 0"),
        ("flat:9m", "at most 500 mm"),
        ("flat:6mm:3mm", "twice"),
        ("flat:6mm:r1mm", "does not belong to a flat bit"),
        ("flat:6mm:90deg", "does not belong to a flat bit"),
        ("vee:12mm", 'needs "angle"'),
        ("bull:6mm:r4mm", "does not fit"),
        ("form:6mm", "needs its profile"),
        ("flat:nanmm", "expected a length"),
        ("flat:6mm:", "expected a length"),
        ("fl\x1b[31mat:6mm", "no shape"),
    ],
)
def test_compact_faults_say_what_is_wrong(text, says):
    """Refuse other spellings with the reason, printable on any terminal."""
    with pytest.raises(BitError) as caught:
        parse_bit(text)

    assert says in str(caught.value)
    assert str(caught.value).isprintable()


def test_bare_numbers_take_declared_units():
    """Read "flat:6" in the units that were declared, when they were."""
    assert parse_bit("flat:6", "mm").diameter == 6.0
    assert parse_bit("flat:1/4", "in").diameter == 6.35


def test_cone_heights():
    """Compute where a cone reaches its diameter.

    A 90 degree vee of 12 mm is 6 mm high; a 118 degree point of 10 mm is 3.004 mm high (point
    length 0.3 D, drill handbooks; common practice, no source).
    """
    assert cone_height(parse_bit("vee:90deg:12mm")) == pytest.approx(6.0)
    assert cone_height(parse_bit("vee:90deg:12mm:tip2mm")) == pytest.approx(5.0)
    assert cone_height(parse_bit("drill:118deg:10mm")) == pytest.approx(3.004, abs=1e-3)
    assert cone_height(parse_bit("flat:6mm")) is None
    # The ball of a taper is left where its tangent leans as the cone does.
    ball = parse_bit("taper-ball:30deg:r1mm:6mm")
    expected = (1 - math.sin(30 * DEG)) + (3 - math.cos(30 * DEG)) / math.tan(30 * DEG)
    assert cone_height(ball) == pytest.approx(expected)


def test_cutting_length_prefers_what_was_declared():
    """Take the declared flute length; else the cone of a vee; else say it is not known."""
    declared = make_bit("v", {"shape": "vee", **GOOD["vee"], "flute_length": 4.0})

    assert cutting_length(declared) == 4.0
    assert cutting_length(parse_bit("vee:90deg:12mm")) == pytest.approx(6.0)
    assert cutting_length(parse_bit("flat:6mm")) is None
    assert cutting_length(make_bit("f", {"shape": "form", **GOOD["form"]})) == 5.0


@pytest.mark.parametrize(
    ("shape", "more", "said"),
    [
        ("flat", {"flutes": 2}, "6 mm flat bit, 2 flutes"),
        ("ball", {"flutes": 1}, "6 mm ball bit, 1 flute"),
        ("bull", {}, "6 mm bull-nose bit, corner radius 1 mm"),
        ("vee", {"tip": 0.2}, "90° vee bit, 12 mm, flat tip 0.2 mm"),
        ("taper-ball", {}, "tapered ball bit, 5° a side, tip radius 0.5 mm, up to 6 mm"),
        ("taper-flat", {}, "tapered flat bit, 5° a side, tip 1 mm, up to 6 mm"),
        ("drill", {}, "3 mm drill, point 118°"),
        ("form", {}, "12 mm form bit"),
    ],
)
def test_bits_are_described_in_one_line(shape, more, said):
    """Describe a bit as people would."""
    assert said == describe_bit(make_bit("b", {"shape": shape, **GOOD[shape], **more}))


def test_bits_are_described_in_inches():
    """Describe a bit in the units of the job."""
    assert describe_bit(parse_bit("flat:1/4in"), "in") == "0.25 in flat bit"


@pytest.mark.parametrize(("out", "wrong"), [(24.0, True), (25.0, False), (36.0, False)])
def test_flutes_fit_on_what_sticks_out(out: float, wrong: bool) -> None:
    """A cutting part that is longer than the stick-out is refused, at the stick-out."""
    values = {"shape": "flat", "diameter": 6.0, "flute_length": 25.0, "stickout": out}

    assert [p.key for p in bit_problems(values)] == (["stickout"] if wrong else [])
