"""Until when a query may be put."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.results.query_window import MOST_QUERIES, against_query, query_window

RELEASED = datetime(2027, 5, 15, 18, 0, tzinfo=UTC)


@given(st.integers(1, 10080), st.integers(-(10**6), 10**6), st.integers(0, MOST_QUERIES - 1))
def test_a_query_is_taken_from_the_release_until_the_window_closes(minutes, seconds, before):
    at = RELEASED + timedelta(seconds=seconds)
    taken = not against_query(query_window(RELEASED, minutes), put_before=before, at=at)
    assert taken == (0 <= seconds < 60 * minutes)


@pytest.mark.parametrize(
    ("minutes", "seconds", "before", "said"),
    [
        (60, -1, 0, "once the result is released"),
        (60, 3599, 2, ""),
        (60, 3600, 0, "is over"),
        (60, 0, 3, "talk to the office"),
        (0, 0, 0, "takes no queries"),
    ],
)
def test_every_refusal_has_its_sentence(minutes, seconds, before, said):
    at = RELEASED + timedelta(seconds=seconds)
    sentence = against_query(query_window(RELEASED, minutes), put_before=before, at=at)
    assert said in sentence
    assert bool(said) == bool(sentence)


def test_a_clock_change_does_not_lengthen_it():
    released = datetime(2027, 11, 7, 1, 30, tzinfo=ZoneInfo("America/Denver"))
    window = query_window(released, 60)
    assert window.closes_at - released.astimezone(UTC) == timedelta(minutes=60)


def test_minutes_below_nought_are_refused():
    with pytest.raises(ValueError, match="no less than 0"):
        query_window(RELEASED, -1)
