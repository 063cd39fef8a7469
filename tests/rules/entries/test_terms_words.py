"""A show's terms in words."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from entries.rules.refunds import Step
from entries.rules.terms_words import (
    Asked,
    asked_words,
    entering_words,
    places_words,
    refund_words,
    said_at,
    said_on,
)

FIRST_DAY = date(2027, 5, 14)
DENVER = ZoneInfo("America/Denver")


@pytest.mark.parametrize(
    ("hour", "said"), [(0, "12:07 AM"), (9, "9:07 AM"), (12, "12:07 PM"), (23, "11:07 PM")]
)
def test_an_hour_is_said_by_a_twelve_hour_clock(hour: int, said: str) -> None:
    assert said_at(datetime(2027, 5, 3, hour, 7)) == f"Monday, May 3, 2027, {said}"


def test_a_day_is_said_without_a_nought_in_front() -> None:
    assert said_on(date(2027, 5, 3)) == "Monday, May 3, 2027"


def test_entering_is_said_by_the_clock_of_the_show() -> None:
    opens, closes = datetime(2027, 3, 1, 16, tzinfo=UTC), datetime(2027, 5, 1, 5, tzinfo=UTC)
    said = entering_words(opens, closes, starts_on=FIRST_DAY, zone=DENVER)
    assert said == ("From Monday, March 1, 2027, 9:00 AM until Friday, April 30, 2027, 11:00 PM.")
    assert entering_words(None, closes, starts_on=FIRST_DAY, zone=DENVER).startswith(
        "Until Friday, April 30"
    )
    assert entering_words(None, None, starts_on=FIRST_DAY, zone=DENVER).endswith(
        "the show begins on Friday, May 14, 2027."
    )


def test_refunds_name_the_last_day_of_each_share_and_what_comes_after() -> None:
    steps = [Step(date(2027, 4, 14), 100), Step(date(2027, 4, 30), 50), Step(FIRST_DAY, 0)]
    assert refund_words(steps) == (
        "Withdrawn up to Wednesday, April 14, 2027: the whole fee comes back.",
        "Withdrawn up to Friday, April 30, 2027: 50 percent of the fee comes back.",
        "Withdrawn up to Friday, May 14, 2027: none of the fee comes back.",
        "Withdrawn later: none of the fee comes back.",
    )
    assert refund_words([]) == ()


def test_places_tell_how_many_wait_only_when_none_is_left() -> None:
    assert places_words(cap=15, left=4, waiting=0) == "4 of 15 left."
    assert "Nobody waits yet." in places_words(cap=15, left=0, waiting=0)
    assert places_words(cap=15, left=0, waiting=1).endswith("1 wagon waits.")
    assert places_words(cap=15, left=0, waiting=3).endswith("3 wagons wait.")


def test_only_what_is_asked_is_said() -> None:
    (crew,) = asked_words(Asked())
    assert crew == "A crew of 2 to 6 people, each by name, with one head cook."
    every = asked_words(
        Asked(
            waiver=True,
            animals=True,
            emergency=True,
            camp=True,
            eia_max_age=365,
            certificate_max_age=1,
            animal_note=" Hay is\nyours to bring. ",
            crew_frozen="Saturday, May 15, 2027, 8:00 AM",
        )
    )
    assert every[0].endswith("The list closes on Saturday, May 15, 2027, 8:00 AM.")
    assert every[2].endswith("EIA test, at most 365 days before the show's first day.")
    assert every[3].endswith("inspection, at most 1 day before the show's first day.")
    assert every[4] == "Hay is yours to bring."
    assert len(every) == 8


def test_a_paper_is_asked_for_by_its_age_whatever_else_is() -> None:
    assert len(asked_words(Asked(certificate_max_age=30))) == 2
    assert not any("EIA" in line for line in asked_words(Asked(animals=True)))
