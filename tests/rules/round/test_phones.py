"""When a phone calls for the office, and what it is told to do."""

from __future__ import annotations

from datetime import timedelta

import pytest

from judging.rules.round.phones import LOW_PERCENT, QUIET_AFTER, Told, call_for_office, long_words

NOW, SILENT = timedelta(0), QUIET_AFTER + timedelta(minutes=1)


@pytest.mark.parametrize(
    ("told", "said"),
    [
        (Told(NOW, LOW_PERCENT - 1, 1), "Battery at 19 %, and 1 touch is only on this phone"),
        (Told(SILENT, None, 2), "Silent for 21 minutes, and 2 touches are only on this phone"),
        (Told(SILENT, 5, 2), "with the battery at 5 %, and 2 touches"),
        (Told(SILENT, 5, 2, at_work=False), "look for the judge"),
        (Told(SILENT, None, 0), "Silent for 21 minutes with cards still out"),
    ],
)
def test_a_phone_that_may_lose_marks_calls(told: Told, said: str) -> None:
    assert said in call_for_office(told)


@pytest.mark.parametrize(
    "told",
    [
        Told(NOW, LOW_PERCENT, 9),
        Told(NOW, None, 9),
        Told(NOW, 1, 0),
        Told(QUIET_AFTER, 80, 9),
        Told(SILENT, 1, 0, at_work=False),
        Told(None, None, 0),
    ],
)
def test_a_phone_that_is_well_or_idle_does_not(told: Told) -> None:
    assert call_for_office(told) == ""


def test_long_words_are_the_coarsest_that_help() -> None:
    assert long_words(timedelta(hours=49)) == "2 days"
    assert long_words(timedelta(seconds=30)) == "0 minutes"
