"""How many places are offered, until when, and who may still answer."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from entries.rules.offers import (
    GRACE,
    deadline_words,
    lapses,
    places_to_offer,
    ran_out,
    reason_against_answering,
    take_up_by,
)
from entries.rules.places import Status

NOW = datetime(2127, 5, 1, 15, 0, tzinfo=UTC)
START = datetime(2127, 5, 14, 6, 0, tzinfo=UTC)


@given(st.integers(1, 60), st.integers(0, 80), st.integers(0, 60))
def test_no_more_than_free_and_no_more_than_wait(cap: int, held: int, waiting: int) -> None:
    count = places_to_offer(cap=cap, held=held, waiting=waiting)
    assert 0 <= count <= waiting
    assert count == 0 or held + count <= cap
    # and not one fewer: either nobody waits any more, or nothing is free
    assert count == waiting or held + count >= cap


@pytest.mark.parametrize(
    ("closes_in", "hours", "expected"),
    [
        (None, 48, timedelta(hours=48)),
        (timedelta(days=5), 48, timedelta(hours=48)),
        (timedelta(hours=3), 48, timedelta(hours=3)),  # not beyond the close of entries
        (timedelta(hours=-1), 48, timedelta(hours=48)),  # closed: the list still moves
        (timedelta(0), 48, timedelta(hours=48)),
        (None, 24 * 30, START - NOW),  # not beyond the start of the show
        (timedelta(hours=-1), 24 * 30, START - NOW),
        (timedelta(days=60), 24 * 30, START - NOW),  # a close after the start says nothing
    ],
)
def test_the_deadline(closes_in: timedelta | None, hours: int, expected: timedelta) -> None:
    closes_at = None if closes_in is None else NOW + closes_in
    assert take_up_by(now=NOW, hours=hours, closes_at=closes_at, starts_at=START) == NOW + expected


@pytest.mark.parametrize("late", [timedelta(0), timedelta(days=2)])
def test_nothing_is_offered_once_the_show_has_begun(late: timedelta) -> None:
    assert take_up_by(now=START + late, hours=48, closes_at=None, starts_at=START) is None


@given(st.integers(-200, 200))
def test_between_answering_and_lapsing_nobody_is_both(seconds: int) -> None:
    now = NOW + timedelta(seconds=seconds)
    assert not (lapses(NOW, now) and not ran_out(NOW, now))
    assert lapses(NOW, now) == (seconds >= GRACE.total_seconds())
    assert ran_out(NOW, now) == (seconds > 0)


@pytest.mark.parametrize(
    ("status", "late", "words"),
    [
        (Status.OFFERED, 0, None),
        (Status.OFFERED, 1, "run out"),
        (Status.WAITING, 0, "No place is offered"),
        (Status.ENTERED, 0, "its place already"),
        (Status.CONFIRMED, 0, "its place already"),
        (Status.SCRATCHED, 0, "left the list"),
    ],
)
def test_who_may_answer(status: Status, late: int, words: str | None) -> None:
    deadline = NOW if status is Status.OFFERED else None
    now = NOW + timedelta(seconds=late)
    reason = reason_against_answering(status=status, deadline=deadline, now=now)
    assert reason is None if words is None else words in str(reason)


def test_a_deadline_is_said_by_the_shows_clock() -> None:
    assert deadline_words(NOW, ZoneInfo("America/Denver")) == "Thursday, May 1, 2127, 9:00 AM MDT"
    assert deadline_words(datetime(2127, 1, 1, 7, tzinfo=UTC), ZoneInfo("America/Denver")).endswith(
        "12:00 AM MST"
    )
