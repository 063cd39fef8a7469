"""Lengths in and out of words."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.handbook.lengths import (
    in_feet,
    in_inches,
    read_length,
    read_number,
    to_eighth,
    to_mm,
)


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("48", 48),
        ("48 in", 48),
        ("48in", 48),
        ('48"', 48),
        ("48 1/2 in", Fraction(97, 2)),
        ("48.5", Fraction(97, 2)),
        ("4 ft", 48),
        ("4'", 48),
        ("4 ft 0 in", 48),
        ("4ft6in", 54),
        ("4 ft 6 1/2 in", Fraction(109, 2)),
        ("4’ 6 1/2”", Fraction(109, 2)),
        ("3 feet 6 inches", 42),
        ("1 foot 1 inch", 13),
        ("  4  FT  6  ", 54),
        ("127 cm", 50),
        ("127cm", 50),
        ("1270 mm", 50),
        ("1.27 m", 50),
        ("127 centimetres", 50),
        ("3/4 in", Fraction(3, 4)),
    ],
)
def test_read(text: str, inches: Fraction):
    assert read_length(text) == inches


def test_a_bare_number_takes_the_unit_of_the_form():
    assert read_length("127", metric=True) == 50
    assert read_length("50 in", metric=True) == 50


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "A length, please"),
        ("0", "A length is more than zero."),
        ("0 ft 0 in", "A length is more than zero."),
        ("-4 ft", "A length is more than zero."),
        ("four feet", "Write the length as"),
        ("4 in 2 ft", "Write the length as"),
        ("121,9 cm", "Write the length as"),
        ("1e9", "Write the length as"),
        ("9" * 50, "Write the length as"),
        ("1/0 in", "Nothing is divided by zero."),
        ("48 1/0 in", "Nothing is divided by zero."),
        ("<script>", "Write the length as"),
        ("٤٨", "Write the length as"),
    ],
)
def test_refused(text: str, sentence: str):
    with pytest.raises(ValueError, match=sentence):
        read_length(text)


@pytest.mark.parametrize("text", ["", "-1", "x", "1 1", "1/0", "9" * 50])
def test_a_number_that_is_none(text: str):
    with pytest.raises(ValueError, match=r"\.$"):
        read_number(text)


eighths = st.integers(min_value=1, max_value=2000).map(lambda n: Fraction(n, 8))


@given(eighths)
def test_what_is_written_is_read_as_the_same(inches: Fraction):
    assert read_length(in_inches(inches)) == inches
    assert read_length(in_feet(inches)) == inches


@given(st.fractions(min_value=0, max_value=200))
def test_the_nearest_eighth_is_near(inches: Fraction):
    assert abs(to_eighth(inches) - inches) <= Fraction(1, 16)


def test_millimetres():
    assert to_mm(Fraction(48)) == 1219  # 1219.2
