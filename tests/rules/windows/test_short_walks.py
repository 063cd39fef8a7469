"""Walks that take longer now than the announced times leave."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from judging.rules.windows.short_walks import ShortWalk, Stay, short_walks

OPENS = datetime(2027, 5, 15, 14, 0, tzinfo=UTC)
WALK = ((0, 1, 1, 9), (1, 0, 2, 9), (1, 2, 0, 9), (9, 9, 9, 0))


def stay(judge: str, place: int, start: float, end: float) -> Stay:
    return Stay(judge, place, OPENS + timedelta(minutes=start), OPENS + timedelta(minutes=end))


@pytest.mark.parametrize(("starts", "found"), [(12, 0), (11.99, 1), (10, 1), (60, 0)])
def test_a_walk_may_take_just_what_the_times_leave(starts: float, found: int) -> None:
    assert len(short_walks([stay("J1", 1, 0, 10), stay("J1", 2, starts, 90)], WALK)) == found


def test_each_judge_walks_alone_and_in_the_order_of_time() -> None:
    stays = [
        stay("J2", 3, 20, 30),
        stay("J1", 2, 12, 20),
        stay("J2", 1, 0, 12),
        stay("J1", 1, 0, 10),
    ]
    assert short_walks(stays, WALK) == (ShortWalk("J2", 1, 3, takes=9, has=8),)
