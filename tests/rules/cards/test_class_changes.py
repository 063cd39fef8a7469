"""Until when a class of a show may still be changed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from judging.rules.cards.class_changes import (
    ClassChange,
    ClassStanding,
    reason_against_class_change,
)

FRESH = ClassStanding()


@pytest.mark.parametrize("change", ClassChange)
def test_a_fresh_class_may_be_changed_in_every_way(change: ClassChange) -> None:
    assert reason_against_class_change(change, FRESH) == ""


@pytest.mark.parametrize("change", [one for one in ClassChange if one is not ClassChange.NAME])
def test_once_judging_has_begun_only_a_name_may_change(change: ClassChange) -> None:
    begun = replace(FRESH, judging_begun=True)
    assert reason_against_class_change(change, begun).startswith("Judging has begun")
    assert reason_against_class_change(ClassChange.NAME, begun) == ""


def test_a_released_name_stays() -> None:
    released = replace(FRESH, judging_begun=True, released=True)
    assert "released under this name" in reason_against_class_change(ClassChange.NAME, released)


@pytest.mark.parametrize(
    ("standing", "words"),
    [
        (ClassStanding(last=True), "one class at least"),
        (ClassStanding(wagons=1), "1 wagon has entered"),
        (ClassStanding(wagons=2), "2 wagons have entered"),
        (ClassStanding(counted=True), "season or a food round"),
    ],
)
def test_what_is_entered_or_named_elsewhere_is_not_taken_away(
    standing: ClassStanding, words: str
) -> None:
    assert words in reason_against_class_change(ClassChange.REMOVE, standing)
    assert reason_against_class_change(ClassChange.AWARDS, standing) == ""
