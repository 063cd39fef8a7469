"""Who gets a place, who waits, and who may be confirmed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from entries.rules.places import (
    HOLDS_A_PLACE,
    Status,
    reason_against_confirming,
    status_on_entering,
)


@pytest.mark.parametrize(
    ("taken", "waiting", "status"),
    [
        (0, 0, Status.ENTERED),
        (14, 0, Status.ENTERED),
        (15, 0, Status.WAITING),
        (15, 3, Status.WAITING),
        (14, 1, Status.WAITING),  # the free place is theirs who wait
    ],
)
def test_a_new_entry_at_a_show_of_fifteen(taken: int, waiting: int, status: Status) -> None:
    assert status_on_entering(places_taken=taken, waiting=waiting, cap=15) is status


@given(st.integers(1, 40), st.integers(0, 60))
def test_a_show_never_fills_beyond_its_cap(cap: int, arrivals: int) -> None:
    statuses: list[Status] = []
    for _ in range(arrivals):
        statuses.append(
            status_on_entering(
                places_taken=sum(one in HOLDS_A_PLACE for one in statuses),
                waiting=statuses.count(Status.WAITING),
                cap=cap,
            )
        )
    assert statuses == [Status.ENTERED] * min(cap, arrivals) + [Status.WAITING] * max(
        0, arrivals - cap
    )


def test_whoever_entered_in_time_can_be_confirmed_in_a_full_show() -> None:
    assert (
        reason_against_confirming(status=Status.ENTERED, places_taken=15, cap=15, ahead_in_line=0)
        is None
    )


@pytest.mark.parametrize(
    ("status", "taken", "ahead", "words"),
    [
        (Status.CONFIRMED, 15, 0, "confirmed already"),
        (Status.SCRATCHED, 3, 0, "enter again"),
        (Status.WAITING, 15, 0, "All 15 places"),
        (Status.WAITING, 14, 2, "2 entered before"),
        (Status.WAITING, 14, 0, None),
        (Status.OFFERED, 15, 0, None),  # it holds its place already
    ],
)
def test_why_not(status: Status, taken: int, ahead: int, words: str | None) -> None:
    reason = reason_against_confirming(
        status=status, places_taken=taken, cap=15, ahead_in_line=ahead
    )
    assert reason is None if words is None else words in str(reason)


def test_an_offer_that_ran_out_is_not_confirmed_any_more() -> None:
    reason = reason_against_confirming(
        status=Status.OFFERED, places_taken=15, cap=15, ahead_in_line=0, offer_ran_out=True
    )
    assert "run out" in str(reason)
