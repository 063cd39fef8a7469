"""When a touch was made: the phone's claim, set right by its clock, never after the server's."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from judging.rules.round.clock import happened_at, read_moment

RECEIVED = datetime(2027, 5, 15, 15, 10, tzinfo=UTC)


@pytest.mark.parametrize("off_minutes", [-90, -1, 0, 1, 90, 60 * 24 * 365])
def test_a_clock_that_is_off_by_any_amount_gives_the_same_moment(off_minutes):
    off = timedelta(minutes=off_minutes)
    made = RECEIVED - timedelta(minutes=7)
    told = happened_at((made + off).isoformat(), sent_at=RECEIVED + off, received_at=RECEIVED)
    assert told == made


def test_without_the_clock_the_claim_stands_up_to_the_moment_it_was_received():
    early, late = RECEIVED - timedelta(minutes=3), RECEIVED + timedelta(minutes=3)
    assert happened_at(early.isoformat(), sent_at=None, received_at=RECEIVED) == early
    assert happened_at(late.isoformat(), sent_at=None, received_at=RECEIVED) == RECEIVED


def test_a_touch_after_its_own_sending_is_no_later_than_received():
    claimed = (RECEIVED + timedelta(minutes=5)).isoformat()
    assert happened_at(claimed, sent_at=RECEIVED, received_at=RECEIVED) == RECEIVED


@pytest.mark.parametrize("claim", ["", "nine", "2027-05-15T09:00:00", "0001-01-01T00:00:00+23:00"])
def test_a_claim_that_cannot_be_read_is_the_moment_it_was_received(claim):
    assert read_moment(claim) is None
    assert happened_at(claim, sent_at=RECEIVED, received_at=RECEIVED) == RECEIVED


def test_a_clock_beyond_all_calendars_is_the_moment_it_was_received():
    first = datetime(1, 1, 1, tzinfo=UTC)
    last = datetime(9999, 12, 31, tzinfo=UTC)
    assert happened_at(first.isoformat(), sent_at=last, received_at=RECEIVED) == RECEIVED
