"""Minutes of a window against the clock on the wall, over midnight and clock changes."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.windows.clock import break_span, minutes_away, said_at

DENVER = ZoneInfo("America/Denver")
EIGHT = datetime(2027, 5, 15, 14, tzinfo=UTC)


@given(first=st.integers(-500, 500), length=st.integers(1, 500))
def test_a_pause_is_cut_off_at_the_opening(first: int, length: int) -> None:
    start, end = (EIGHT + timedelta(minutes=m) for m in (first, first + length))
    expected = (max(0, first), first + length) if first + length > 0 else None
    assert minutes_away(EIGHT, start, end) == expected


def test_parts_of_a_minute_count_whole() -> None:
    start, end = EIGHT + timedelta(seconds=119), EIGHT + timedelta(seconds=121)
    assert minutes_away(EIGHT, start, end) == (1, 3)


@pytest.mark.parametrize(
    ("begins", "ends", "span"),
    [
        (None, None, (0, 300)),
        (time(10), None, (120, 300)),
        (None, time(10), (0, 120)),
        (time(7), time(9), (0, 60)),
        (time(12), time(14), (240, 360)),
        (time(14), time(15), None),
        (time(6), time(7), None),
        (time(11), time(2), (180, 18 * 60)),
    ],
)
def test_the_hours_of_a_break_fall_into_a_window_of_the_day(
    begins: time | None, ends: time | None, span: tuple[int, int] | None
) -> None:
    assert break_span(EIGHT, 300, begins, ends, DENVER) == span


@pytest.mark.parametrize(
    ("begins", "ends", "span"),
    [
        (time(23), time(23, 30), (60, 90)),
        (time(23), time(1), (60, 180)),
        (time(1), time(2), (180, 240)),
        (None, time(1), (0, 180)),
        (time(1), None, (180, 300)),
        (time(4), time(5), None),
    ],
)
def test_the_hours_of_a_break_fall_into_a_window_over_midnight(
    begins: time | None, ends: time | None, span: tuple[int, int] | None
) -> None:
    ten = datetime(2027, 5, 15, 22, tzinfo=DENVER)
    assert break_span(ten, 300, begins, ends, DENVER) == span


def test_a_break_after_a_clock_change_is_where_the_wall_says() -> None:
    opens = datetime(2027, 3, 14, 0, 30, tzinfo=DENVER)
    assert break_span(opens, 300, time(4), time(5), DENVER) == (150, 210)
    opens = datetime(2027, 11, 7, 0, 30, tzinfo=DENVER)
    assert break_span(opens, 300, time(4), time(5), DENVER) == (270, 330)


@pytest.mark.parametrize(
    ("minute", "words"),
    [
        (0, "08:00"),
        (-16, "07:44"),
        (5 * 60, "13:00"),
        (16 * 60, "00:00 on Sun 16 May"),
        (-481, "23:59 on Fri 14 May"),
    ],
)
def test_a_minute_is_said_as_the_wall_has_it(minute: int, words: str) -> None:
    assert said_at(EIGHT, minute, DENVER) == words
