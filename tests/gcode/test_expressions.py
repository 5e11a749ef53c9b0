"""Values against a slow, obvious twin: the report's grammar by Python's own arithmetic."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryrun.gcode.controller import PERMISSIVE, REPORT
from dryrun.gcode.expressions import Reader
from dryrun.gcode.parameters import Parameters
from dryrun.gcode.text import Fault

#: NISTIR 6556 3.3.2.3: three levels, left to right within each.
LEVELS = [["**"], ["*", "/", "MOD"], ["+", "-", "AND", "OR", "XOR"]]


def value_of(code: str, controller=REPORT) -> float:  # type: ignore[no-untyped-def]
    node, end = Reader(code, controller).value(0)
    assert end == len(code)
    return node if isinstance(node, float) else node(Parameters(controller))


def twin_operate(sign: str, a: float, b: float) -> float:
    if sign == "**":
        result = a**b
        if isinstance(result, complex):
            raise ValueError
        return result
    if sign == "MOD":
        rest = math.fmod(a, b)
        return rest + abs(b) if rest < 0 else rest
    if sign == "AND":
        return 1.0 if a and b else 0.0
    if sign == "OR":
        return 1.0 if a or b else 0.0
    if sign == "XOR":
        return 1.0 if bool(a) != bool(b) else 0.0
    return {"*": a * b, "/": a / b if b else math.inf, "+": a + b, "-": a - b}[sign]


def twin(values: list[float], signs: list[str]) -> float:
    """Reduce level by level, always the leftmost operator of the level."""
    values, signs = list(values), list(signs)
    for level in LEVELS:
        at = 0
        while at < len(signs):
            if signs[at] in level:
                values[at : at + 2] = [twin_operate(signs.pop(at), values[at], values[at + 1])]
            else:
                at += 1
    return values[0]


numbers = st.integers(-99, 99).map(lambda n: n / 4)
operators = st.sampled_from([sign for level in LEVELS for sign in level])


@settings(max_examples=300, deadline=None)
@given(st.lists(numbers, min_size=2, max_size=7).flatmap(
    lambda v: st.tuples(st.just(v), st.lists(operators, min_size=len(v) - 1, max_size=len(v) - 1))
))  # fmt: skip
def test_a_flat_expression_goes_by_levels_and_left_to_right(case: tuple) -> None:
    """Numbers and operators in a row give what reducing them level by level gives."""
    values, signs = case
    code = "[" + str(values[0])
    for sign, value in zip(signs, values[1:], strict=True):
        code += sign + str(value)
    try:
        expected = twin(values, signs)
        has_value = math.isfinite(expected) and not any(
            s in ("/", "MOD") for s in signs
        )  # divisions by zero are looked at below
    except (ValueError, ZeroDivisionError, OverflowError):
        return
    if not has_value:
        return

    assert value_of(code + "]") == pytest.approx(expected, rel=1e-12, abs=1e-12)


@settings(max_examples=100, deadline=None)
@given(st.floats(-720, 720))
def test_angles_are_degrees(angle: float) -> None:
    """SIN, COS, TAN take degrees; ATAN gives back the quadrant (3.3.2.4)."""
    text = f"{angle:.6f}"
    sine, cosine = value_of(f"SIN[{text}]"), value_of(f"COS[{text}]")

    assert sine == pytest.approx(math.sin(math.radians(float(text))), abs=1e-12)
    assert sine * sine + cosine * cosine == pytest.approx(1.0)
    back = value_of(f"ATAN[{sine:.15f}]/[{cosine:.15f}]")
    assert math.remainder(back - float(text), 360.0) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    ("code", "wanted"),
    [("FIX[-2.8]", -3), ("FUP[-2.8]", -2), ("ROUND[2.5]", 3), ("ROUND[-2.5]", -3), ("ABS[-3]", 3),
     ("SQRT[16]", 4), ("EXP[0]", 1), ("LN[1]", 0), ("ACOS[-1]", 180), ("ATAN[0]/[-1]", 180)],
)  # fmt: skip
def test_functions_give_the_values_of_the_report(code: str, wanted: float) -> None:
    """FIX goes down, FUP up, ROUND to the nearest with halves away from zero."""
    assert value_of(code) == pytest.approx(wanted)


@pytest.mark.parametrize("code", ["[1/0]", "[5MOD0]", "[0**-1]", "[-8**0.5]", "SQRT[-1]", "LN[0]",
                                  "ASIN[1.1]", "ACOS[-2]", "EXP[9999]", "[9**9999]"])  # fmt: skip
def test_what_has_no_value_is_a_fault_that_points_at_it(code: str) -> None:
    """Out-of-range arithmetic is told, with the place of the operator or function."""
    with pytest.raises(Fault) as caught:
        value_of(code)

    assert caught.value.code == "bad-expression"
    assert 0 <= caught.value.start < caught.value.end <= len(code)


def test_comparisons_come_after_sums_and_before_and() -> None:
    """With a comparison in the bracket AND and OR come last (common practice, no source)."""
    assert value_of("[1+1EQ2AND3LT2+2]", PERMISSIVE) == 1.0
    assert value_of("[1AND0+3]", PERMISSIVE) == 3.0
    assert value_of("[1EQ1AND0+3]", PERMISSIVE) == 1.0


def test_a_hundred_brackets_nest() -> None:
    """Brackets nest deep enough for anything a person writes."""
    assert value_of("[" * 100 + "7" + "]" * 100) == 7.0
