"""Quantities as people write them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryrun import units
from dryrun.units import FACTORS, UnitError, parse, parse_length


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        # 1 in = 25.4 mm exactly: international yard and pound agreement, 1959 (NIST SP 811, B.6).
        ("3/4 in", "length", 19.05),
        ("1 1/2 in", "length", 38.1),
        ("1-1/2 in", "length", 38.1),
        ('0.25"', "length", 6.35),
        ("0.25″", "length", 6.35),
        ("1/4in", "length", 6.35),
        ("250 thou", "length", 6.35),
        ("1 ft", "length", 304.8),
        ("18 mm", "length", 18.0),
        ("18MM", "length", 18.0),
        (" -3.2 mm ", "length", -3.2),
        ("−3.2 mm", "length", -3.2),
        (".5 mm", "length", 0.5),
        ("5. mm", "length", 5.0),
        ("20 µm", "length", 0.02),
        ("100 in/min", "feed", 2540.0),
        ("100 ipm", "feed", 2540.0),
        ("40 mm/s", "feed", 2400.0),
        ("2.4 m/min", "feed", 2400.0),
        ("400 mm / s²", "acceleration", 400.0),
        ("0.4 m/s^2", "acceleration", 400.0),
        # Standard gravity 9.80665 m/s2 exactly: 3rd CGPM, 1901 (NIST SP 811, B.8).
        ("1 g", "acceleration", 9806.65),
        ("8 m/s3", "jerk", 8000.0),
        ("11 min 20 s", "time", 680.0),
        ("1 h 5 min", "time", 3900.0),
        ("1min 30s", "time", 90.0),
        ("1.5", "time", 1.5),
        ("18000 rpm", "speed", 18000.0),
        ("18000 1/min", "speed", 18000.0),
        ("1.5 kW", "power", 1500.0),
        ("2 deg", "angle", math.radians(2)),
        ("20°", "angle", math.radians(20)),
        ("0.5 rad", "angle", 0.5),
    ],
)
def test_reads_what_people_write(text, kind, expected):
    """Read each spelling into inside units, to the last digit."""
    assert expected == parse(text, kind)


def test_horsepower_is_the_mechanical_one():
    """Read hp as 550 foot-pounds a second (NIST SP 811, B.8: 7.456 999 E+02 W)."""
    assert parse("1 hp", "power") == pytest.approx(745.6999, abs=5e-5)


@pytest.mark.parametrize("units_name", ["mm", "in"])
def test_bare_numbers_take_the_declared_units(units_name):
    """Take a bare number, or bare text, in the units declared."""
    inch = 25.4 if units_name == "in" else 1.0
    assert parse(2, "length", units_name) == pytest.approx(2 * inch, rel=1e-15)
    assert parse("2", "length", units_name) == parse(2.0, "length", units_name)
    assert parse(100, "feed", units_name) == pytest.approx(100 * inch, rel=1e-15)
    assert parse(90, "angle", units_name) == math.radians(90)


def test_a_bare_length_without_units_is_refused():
    """Refuse to guess what a bare length is in."""
    with pytest.raises(UnitError, match="a number without a unit"):
        parse(6, "length")


@pytest.mark.parametrize(
    "text",
    [
        "", " ", "mm", "abc", "--3 mm", "+-3 mm", "1/0 in", "5/ in", "1 5/4 in", "3 in 4 in",
        "1.2.3 mm", "5..2 mm", "18 mm 3", "1e3 mm", "0x10 mm", "0,5 mm", "1,000 mm", "18 furlong",
        "18 mm/min", "nan", "nan mm", "inf mm", "infinity", "６ mm", "18 mm\x00",
        "__import__('os')", "2*3 mm", "9" * 100 + " mm", "9999999999 m", "1/2/3 in",
    ],
)  # fmt: skip
def test_refuses_what_is_no_length(text):
    """Refuse anything that is not one plain length, saying what was looked for."""
    with pytest.raises(UnitError, match="expected a length such as") as caught:
        parse_length(text, "mm")

    assert all(character.isprintable() for character in str(caught.value))
    assert len(str(caught.value)) < 250


@pytest.mark.parametrize("value", [True, False, math.nan, math.inf, -math.inf, 1e308, 10**400])
def test_refuses_numbers_that_are_no_measure(value):
    """Refuse booleans, infinities and absurd sizes."""
    with pytest.raises(UnitError):
        parse_length(value, "mm")


@pytest.mark.parametrize("text", ["20 s 11 min", "5 min 3", "3 s 3 s", "1 h 2 kg"])
def test_times_go_from_large_to_small(text):
    """Refuse a time whose parts are out of order or without a unit."""
    with pytest.raises(UnitError):
        parse(text, "time")


def test_a_unit_of_another_kind_is_named():
    """Say of which kind a unit is when it does not belong."""
    with pytest.raises(UnitError, match='"mm" is a unit of length'):
        parse("6 mm", "feed")


@given(
    st.sampled_from(sorted(FACTORS)).flatmap(
        lambda kind: st.tuples(st.just(kind), st.sampled_from(sorted(FACTORS[kind])))
    ),
    st.decimals(-10_000, 10_000, places=4, allow_nan=False),
)
def test_every_unit_reads_as_its_factor(kind_and_word, number):
    """Read any decimal in any unit as number times factor, rounded once."""
    kind, word = kind_and_word

    value = parse(f"{number:f} {word}", kind)

    assert value == pytest.approx(float(number) * float(FACTORS[kind][word]), rel=1e-14, abs=1e-14)


@given(st.integers(0, 50), st.integers(1, 63), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_mixed_fractions_of_an_inch(whole, top, bottom):
    """Read "1 3/64 in" as its exact value."""
    top = top % bottom or 1

    assert parse_length(f"{whole} {top}/{bottom} in") == pytest.approx(
        (whole + top / bottom) * 25.4, rel=1e-15
    )


@given(st.text(max_size=40), st.sampled_from(sorted(FACTORS)), st.sampled_from([None, "mm", "in"]))
def test_any_text_is_read_or_refused(text, kind, bare):
    """Answer any text with a finite number or a UnitError, never anything else."""
    try:
        value = parse(text, kind, bare)
    except UnitError:
        return
    assert math.isfinite(value)


@given(st.floats(-10_000, 10_000), st.sampled_from(["mm", "in"]))
def test_lengths_round_trip(mm, shown):
    """Read back a shown length within half of its last digit, or 5 % of a tiny one."""
    step = 0.005 if shown == "mm" else 0.00005 * 25.4

    back = parse_length(units.format_length(mm, shown))

    assert back == pytest.approx(mm, abs=step * (1 + 1e-9), rel=0.0) or abs(mm) < 1e-12


@given(st.floats(1e-9, 0.09))
def test_small_lengths_keep_two_digits(mm):
    """Never show a depth that is there as 0."""
    assert parse_length(units.format_length(mm)) == pytest.approx(mm, rel=0.06)


@given(st.floats(0.05, 1e6))
def test_times_round_trip(seconds):
    """Read back a shown time within what people round times to."""
    back = parse(units.format_time(seconds), "time")

    allowed = 0.0501 if seconds < 9.95 else 0.501 if seconds < 3599 else 30.6
    assert back == pytest.approx(seconds, abs=allowed)


@given(st.floats(1, 1e5), st.sampled_from(["mm", "in"]))
def test_feeds_speeds_angles_and_powers_round_trip(number, shown):
    """Read back other shown quantities within their last digit."""
    assert parse(units.format_feed(number, shown), "feed") == pytest.approx(number, abs=1.28)
    assert parse(units.format_speed(number), "speed") == pytest.approx(number, abs=0.51)
    assert parse(units.format_power(number), "power") == pytest.approx(number, abs=5.1)
    assert parse(units.format_acceleration(number, shown), "acceleration") == pytest.approx(
        number, abs=1.28
    )
    assert parse(units.format_angle(number / 1e5), "angle") == pytest.approx(
        number / 1e5, abs=math.radians(0.051)
    )


@pytest.mark.parametrize(
    ("shown", "expected"),
    [
        (units.format_length(17.8), "17.8 mm"),
        (units.format_length(19.05, "in"), "0.75 in"),
        (units.format_length(-0.0), "0 mm"),
        (units.format_length(-0.0004), "-0.0004 mm"),
        (units.format_length(math.nan), "not known"),
        (units.format_length(math.inf), "no limit"),
        (units.format_feed(2400), "2400 mm/min"),
        (units.format_feed(2540, "in"), "100 in/min"),
        (units.format_angle(math.radians(90)), "90°"),
        (units.format_power(1500), "1.5 kW"),
        (units.format_power(350), "350 W"),
        (units.format_volume(18_234.5), "18.2 cm³"),
        (units.format_volume(25.4**3, "in"), "1 in³"),
        (units.format_time(0), "0 s"),
        (units.format_time(3.54), "3.5 s"),
        (units.format_time(59.6), "1 min"),
        (units.format_time(680), "11 min 20 s"),
        (units.format_time(3599.7), "1 h"),
        (units.format_time(3899.9), "1 h 5 min"),
        (units.format_time(-680), "-11 min 20 s"),
    ],
)
def test_shows_sensible_digits(shown, expected):
    """Show lengths, feeds, angles, powers and times as people say them."""
    assert expected == shown
