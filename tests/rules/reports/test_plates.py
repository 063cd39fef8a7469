"""The number on a number plate."""

from __future__ import annotations

import pytest

from reports.rules.plates import DIGIT_WIDTH, FIELD_PT, plate_number


@pytest.mark.parametrize(("number", "feet"), [(1, 54), (10, 54), (99, 54), (100, 36), (4711, 27)])
def test_one_and_two_digits_are_read_from_fifty_feet(number: int, feet: int) -> None:
    assert plate_number(number, width_pt=720).reads_at_ft == feet


@pytest.mark.parametrize("number", [1, 12, 123, 12345, 99999999])
def test_a_number_is_never_wider_than_its_sheet_and_stands_in_its_middle(number: int) -> None:
    found = plate_number(number, width_pt=700)
    assert found.size_pt * DIGIT_WIDTH * len(str(number)) <= 700
    assert FIELD_PT / 2 < found.baseline_pt < FIELD_PT


def test_no_wagon_has_number_nought() -> None:
    with pytest.raises(ValueError, match="from 1"):
        plate_number(0, width_pt=720)
