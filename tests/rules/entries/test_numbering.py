"""Entry numbers are never given twice."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from entries.rules.numbering import next_number


def test_the_first_is_one() -> None:
    assert next_number([]) == 1


def test_a_gap_is_not_filled() -> None:
    assert next_number([1, 3, 7]) == 8


@given(st.lists(st.integers(min_value=1, max_value=500)))
def test_the_next_is_new_and_above_all(given_numbers: list[int]) -> None:
    number = next_number(given_numbers)
    assert all(number > old for old in given_numbers)
    assert number - 1 in {0, *given_numbers}
