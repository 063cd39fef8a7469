"""Who gets an award sheet, and how places are called."""

from __future__ import annotations

import pytest

from reports.rules.award import awards, number, ordinal, place_words


def test_places_are_awarded_not_a_number_of_sheets() -> None:
    tie_at_the_end = awards({"a": 1, "b": 2, "c": 3, "d": 3, "e": 5}, 3)
    assert [(one.entry, one.sharing) for one in tie_at_the_end] == [
        ("a", 1),
        ("b", 1),
        ("c", 2),
        ("d", 2),
    ]
    tie_ahead = awards({"a": 1, "b": 1, "c": 3, "d": 4}, 2)
    assert [one.entry for one in tie_ahead] == ["a", "b"]


def test_sheets_come_by_place_whatever_the_order_given() -> None:
    assert [one.place for one in awards({"c": 3, "a": 1, "b": 2}, 9)] == [1, 2, 3]


def test_a_class_without_awards_gets_none_and_a_negative_number_is_refused() -> None:
    assert awards({"a": 1}, 0) == ()
    with pytest.raises(ValueError, match="no places"):
        awards({"a": 1}, -1)


@pytest.mark.parametrize(
    ("place", "words"),
    [(1, "first"), (8, "eighth"), (12, "twelfth"), (13, "13th"), (21, "21st"), (22, "22nd")]
    + [(23, "23rd"), (101, "101st"), (111, "111th"), (112, "112th"), (113, "113th")],
)
def test_ordinals(place: int, words: str) -> None:
    assert ordinal(place) == words


def test_there_is_no_place_below_the_first() -> None:
    with pytest.raises(ValueError, match="no place 0"):
        ordinal(0)


def test_shared_places_say_so() -> None:
    assert place_words(2, 1) == "Second place"
    assert place_words(2, 3) == "Second place, shared"
    assert (number(12), number(13)) == ("twelve", "13")
