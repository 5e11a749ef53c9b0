"""The work zero in words."""

import pytest

from dryrun.job.model import Stock
from dryrun.job.zero import ZeroError, parse_zero

SIZE = (200.0, 100.0, 18.0)


@pytest.mark.parametrize(
    ("text", "words", "zero_at"),
    [
        ("centre-top", "centre-top", (100, 50, 0)),
        ("center-top", "centre-top", (100, 50, 0)),
        ("Centre Top", "centre-top", (100, 50, 0)),
        ("centre-centre-top", "centre-top", (100, 50, 0)),
        ("centre-bed", "centre-bed", (100, 50, -18)),
        ("front-left-top", "front-left-top", (0, 0, 0)),
        ("left_front_top", "front-left-top", (0, 0, 0)),
        ("front-right-top", "front-right-top", (200, 0, 0)),
        ("back-left-bed", "back-left-bed", (0, 100, -18)),
        ("back-right-top", "back-right-top", (200, 100, 0)),
        ("front-centre-top", "front-centre-top", (100, 0, 0)),
        ("centre-front-top", "front-centre-top", (100, 0, 0)),
        ("centre-right-bed", "centre-right-bed", (200, 50, -18)),
    ],
)
def test_words_name_one_place(text, words, zero_at):
    """Find the place on the blank, and give it one spelling."""
    assert (words, zero_at) == parse_zero(text, SIZE)


@pytest.mark.parametrize(
    "text",
    [
        "", "top", "centre", "front-left", "front-top", "left-bed", "front-back-top",
        "front-left-top-bed", "front-front-left-top", "centre-front-left-top", "corner-top",
        "centre-centre-centre-top", "top-top",
    ],
)  # fmt: skip
def test_words_that_leave_a_choice_are_refused(text):
    """Refuse words that say no place, or more than one; nothing is guessed."""
    with pytest.raises(ZeroError):
        parse_zero(text, SIZE)


def test_the_blank_lies_around_its_zero():
    """Put the blank where the zero says it is: at the centre of the bed, all of it is above."""
    words, zero_at = parse_zero("centre-bed", SIZE)
    stock = Stock(size=SIZE, zero_at=zero_at, zero=words)

    assert stock.low == (-100, -50, 0)
    assert stock.high == (100, 50, 18)
