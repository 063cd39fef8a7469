"""What an entry must say before it is taken."""

from __future__ import annotations

from datetime import date, datetime
from functools import partial
from typing import Any

import pytest

from entries.rules.eligibility import (
    CREW_MAX,
    HISTORY_MAX,
    OUTFIT_MAX,
    WAGON_NAME_MAX,
    fault_of_twin,
    faults_of_entry,
    faults_of_wagon,
    reason_against_entering,
)

COOK = {"name": "Amaya Moor", "role": "head_cook"}
HELPER = {"name": "Ben Oak", "role": "helper"}
WHOLE: dict[str, Any] = {
    "wagon_name": "Tin Lantern",
    "classes": ["trail"],
    "known_classes": ["trail", "ranch"],
    "crew": [COOK, HELPER],
}


def faults(**changes: Any) -> dict[str, str]:
    """The faults of a good entry after these changes."""
    return faults_of_entry(**{**WHOLE, **changes})


def crew_of(size: int) -> list[dict[str, str]]:
    """A crew with one head cook."""
    return [COOK, *({"name": f"Helper {n}", "role": "helper"} for n in range(size - 1))]


def test_a_whole_entry_has_no_fault() -> None:
    assert faults() == {}
    assert faults(classes=["ranch", "trail"]) == {}


@pytest.mark.parametrize("name", ["", "   "])
def test_a_wagon_needs_a_name(name: str) -> None:
    assert list(faults(wagon_name=name)) == ["wagon_name"]


def test_classes_are_chosen_from_those_of_the_show() -> None:
    assert "at least one" in faults(classes=[])["classes"]
    assert "chariot" in faults(classes=["trail", "chariot"])["classes"]


@pytest.mark.parametrize(("size", "taken"), [(1, False), (2, True), (CREW_MAX, True), (7, False)])
def test_a_crew_is_two_to_six(size: int, taken: bool) -> None:
    found = faults(crew=crew_of(size))
    assert ("crew" not in found) is taken
    assert taken or str(size) in found["crew"]


def test_lines_left_empty_are_nobody() -> None:
    assert faults(crew=[COOK, HELPER, {"name": " ", "role": ""}]) == {}
    assert "you named 1" in faults(crew=[COOK, {"name": "", "role": "helper"}])["crew"]


@pytest.mark.parametrize(
    ("crew", "words"),
    [
        ([HELPER, {"name": "Cal Reed", "role": "cook"}], "exactly one head cook"),
        ([COOK, {"name": "Cal Reed", "role": "head_cook"}], "exactly one head cook"),
        ([COOK, {"name": "Cal Reed", "role": "piper"}], "head cook, cook or helper"),
        ([COOK, {"name": "amaya moor ", "role": "cook"}], "twice"),
    ],
)
def test_parts_and_names_of_a_crew(crew: list[dict[str, str]], words: str) -> None:
    assert words in faults(crew=crew)["crew"]


def test_all_faults_are_told_at_once() -> None:
    assert set(faults(wagon_name="", classes=[], crew=[])) == {"wagon_name", "classes", "crew"}


@pytest.mark.parametrize("name", ["Tin Lantern", " tin  LANTERN "])
def test_a_wagon_is_entered_once(name: str) -> None:
    assert "already" in faults(wagons_entered=[name])["wagon_name"]
    assert faults(wagons_entered=["Copper Moth"]) == {}


def test_a_twin_is_told_to_the_exhibitor_or_of_them() -> None:
    assert fault_of_twin("Tin Lantern", ["tin lantern"])["wagon_name"].startswith("You have")
    told = fault_of_twin("Tin Lantern", ["tin lantern"], own=False)["wagon_name"]
    assert told.startswith("This exhibitor has")
    assert fault_of_twin(" ", [" "]) == {}


def test_each_fault_of_a_wagon_stands_under_its_field() -> None:
    assert faults_of_wagon("Tin Lantern", "Moor family", "Built in 1880.\nStill rolling.") == {}
    long = faults_of_wagon("x" * (WAGON_NAME_MAX + 1), "x" * (OUTFIT_MAX + 1))
    assert set(long) == {"wagon_name", "outfit"}
    assert set(faults_of_wagon(" ")) == {"wagon_name"}


@pytest.mark.parametrize(
    ("field", "most"),
    [("wagon_name", WAGON_NAME_MAX), ("outfit", OUTFIT_MAX), ("history", HISTORY_MAX)],
)
def test_texts_have_a_longest(field: str, most: int) -> None:
    assert faults(**{field: "x" * most}) == {}
    assert str(most) in faults(**{field: "x" * (most + 1)})[field]


@pytest.mark.parametrize(
    ("today", "words"),
    [
        (date(2027, 5, 13), None),
        (date(2027, 5, 14), "has begun"),
        (date(2027, 5, 16), "has begun"),
        (date(2027, 5, 17), "is over"),
    ],
)
def test_entries_close_when_the_show_begins(today: date, words: str | None) -> None:
    reason = reason_against_entering(
        starts_on=date(2027, 5, 14), ends_on=date(2027, 5, 16), today=today
    )
    assert reason is None if words is None else words in str(reason)


# -- dates the office has set ----------------------------------------------------------------


STARTS, ENDS = date(2027, 5, 14), date(2027, 5, 16)
OPENS, CLOSES = datetime(2027, 2, 1, 8, 0), datetime(2027, 4, 20, 18, 0)


@pytest.mark.parametrize(
    ("now", "said"),
    [
        (datetime(2027, 2, 1, 7, 59), "Entries for this show open February 1, 2027, at 8:00 AM."),
        (datetime(2027, 2, 1, 8, 0), None),
        (datetime(2027, 4, 20, 17, 59), None),
        (datetime(2027, 4, 20, 18, 0), "Entries for this show closed April 20, 2027, at 6:00 PM."),
        (datetime(2027, 5, 14, 0, 0), "This show has begun; it takes no more entries."),
    ],
)
def test_entries_open_and_close_at_the_hours_set(now: datetime, said: str | None) -> None:
    found = reason_against_entering(
        starts_on=STARTS,
        ends_on=ENDS,
        today=now.date(),
        opens_at=OPENS,
        closes_at=CLOSES,
        now=now,
    )
    assert found == said


def test_hours_that_are_not_set_close_nothing() -> None:
    open_then = partial(
        reason_against_entering, starts_on=STARTS, ends_on=ENDS, today=date(2027, 5, 1)
    )
    assert open_then(now=CLOSES) is None
    assert open_then(closes_at=OPENS) is None


def test_two_people_under_age_may_have_the_same_initials() -> None:
    young = [{"name": "T. M.", "role": "helper", "under_age": True} for _ in range(2)]
    assert faults(crew=[COOK, *young]) == {}
    assert "twice" in faults(crew=[COOK, *({**one, "under_age": False} for one in young)])["crew"]
