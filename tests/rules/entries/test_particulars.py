"""Camp, food, whom to call, and agreeing to a waiver."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from entries.rules.particulars import (
    DIETARY_MAX,
    EMERGENCY_PHONE_MAX,
    FEET_MAX,
    FEET_MIN,
    fault_of_agreement,
    faults_of_particulars,
    metres,
    read_feet,
    reason_against_changing,
)
from entries.rules.places import Status


@pytest.mark.parametrize(
    ("feet", "written"), [(0, "0.0"), (1, "0.3"), (10, "3.0"), (50, "15.2"), (300, "91.4")]
)
def test_feet_in_metres(feet: int, written: str) -> None:
    assert metres(feet) == written


@pytest.mark.parametrize(
    ("typed", "feet"),
    [("", None), ("  ", None), ("50", 50), (" 50 ft ", 50), ("50'", 50), ("50 Feet.", 50)],
)
def test_feet_as_people_type_them(typed: str, feet: int | None) -> None:
    assert read_feet(typed) == feet


@pytest.mark.parametrize("typed", ["fifty", "50.5", "-5", "15 m", "50 60", "5" * 6, "٥٠"])
def test_what_is_no_whole_number_of_feet(typed: str) -> None:
    with pytest.raises(ValueError, match="whole number of feet"):
        read_feet(typed)


def test_everything_may_be_left_out() -> None:
    assert faults_of_particulars() == {}
    assert faults_of_particulars(frontage_ft=FEET_MIN, depth_ft=FEET_MAX) == {}
    assert faults_of_particulars(emergency_name="Ada", emergency_phone="+1 (555) 010-0199") == {}


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"frontage_ft": FEET_MIN - 1}, "frontage_ft"),
        ({"depth_ft": FEET_MAX + 1}, "depth_ft"),
        ({"dietary_notes": "n" * (DIETARY_MAX + 1)}, "dietary_notes"),
        ({"dietary_notes": "no\0nuts"}, "dietary_notes"),
        ({"emergency_name": "Ada"}, "emergency_phone"),
        ({"emergency_phone": "555 0100"}, "emergency_name"),
        ({"emergency_name": "Ada", "emergency_phone": "call me"}, "emergency_phone"),
        (
            {"emergency_name": "Ada", "emergency_phone": "5" * (EMERGENCY_PHONE_MAX + 1)},
            "emergency_phone",
        ),
    ],
)
def test_each_fault_names_its_field(said: dict[str, Any], field: str) -> None:
    assert list(faults_of_particulars(**said)) == [field]


def test_a_name_agrees_to_the_words_that_stood_above_it() -> None:
    assert fault_of_agreement(agreed_by="Ada", version_read=3, version=3) == ""
    for read in (None, 2, 4):
        said = fault_of_agreement(agreed_by="Ada", version_read=read, version=3)
        assert "Read it again" in said
    assert "120" in fault_of_agreement(agreed_by="A" * 121, version_read=3, version=3)


@pytest.mark.parametrize("status", [s for s in Status if s is not Status.SCRATCHED])
def test_details_change_up_to_the_shows_last_day(status: Status) -> None:
    last = date(2027, 5, 16)
    assert reason_against_changing(status=status, ends_on=last, today=last) is None
    after = reason_against_changing(status=status, ends_on=last, today=date(2027, 5, 17))
    assert "over" in (after or "")


def test_a_scratched_entry_changes_no_more() -> None:
    day = date(2027, 5, 1)
    assert "scratched" in str(
        reason_against_changing(status=Status.SCRATCHED, ends_on=day, today=day)
    )
