"""Hours the clock on the wall never shows, and what is said of them."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from showrun.shows.rules.wall_clock import is_skipped, reason_against_hour

DENVER = ZoneInfo("America/Denver")


@pytest.mark.parametrize(
    ("wall", "skipped"),
    [
        (datetime(2027, 3, 14, 1, 59), False),
        (datetime(2027, 3, 14, 2, 0), True),
        (datetime(2027, 3, 14, 2, 59), True),
        (datetime(2027, 3, 14, 3, 0), False),
        (datetime(2027, 11, 7, 1, 30), False),  # comes twice
    ],
)
def test_only_the_hour_left_out_in_spring_never_comes(wall: datetime, skipped: bool) -> None:
    assert is_skipped(wall, DENVER) is skipped


def test_an_hour_that_never_comes_is_named() -> None:
    half_past_two = datetime(2027, 3, 14, 2, 30)
    never = "There is no 02:30 on that day: the clocks jump over it."
    assert reason_against_hour(half_past_two.replace(tzinfo=DENVER)) == never
    assert reason_against_hour(half_past_two.replace(hour=3, tzinfo=DENVER)) is None
    assert reason_against_hour(half_past_two.replace(tzinfo=UTC)) is None
