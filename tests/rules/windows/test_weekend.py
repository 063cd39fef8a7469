"""Classes over the days: nothing lost, nothing twice, nothing in the dark, and the words agree."""

from __future__ import annotations

import itertools
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.windows.weekend import ClassNeed, DayRoom, weekend

NAMES = ("Friday", "Saturday", "Sunday")


def days(*hours: tuple[float, float]) -> list[DayRoom]:
    """Days with light between these hours."""
    start = datetime(2027, 5, 14, tzinfo=UTC)
    return [
        DayRoom(
            NAMES[d],
            start + timedelta(days=d, hours=first),
            start + timedelta(days=d, hours=last),
        )
        for d, (first, last) in enumerate(hours)
    ]


def needs(*minutes: int) -> list[ClassNeed]:
    return [ClassNeed(f"class {k + 1}", length) for k, length in enumerate(minutes)]


@given(
    lengths=st.lists(st.integers(1, 900), max_size=6),
    hours=st.lists(
        st.tuples(st.floats(0, 11), st.floats(12, 24)).map(lambda h: (round(h[0], 2), h[1])),
        max_size=3,
    ),
    margin=st.integers(0, 90),
)
def test_every_class_is_placed_in_the_light_or_said_to_have_no_room(
    lengths: list[int], hours: list[tuple[float, float]], margin: int
) -> None:
    rooms = days(*hours)
    plan = weekend(needs(*lengths), rooms, margin_minutes=margin)
    free = timedelta(minutes=margin)
    used = [0] * len(rooms)
    busy: list[tuple[datetime, datetime]] = []
    for place in plan.places:
        if place.day is None:
            assert all(left < place.need.minutes for left in plan.left_minutes)
            continue
        assert place.starts_at and place.ends_at
        assert place.ends_at - place.starts_at == timedelta(minutes=place.need.minutes)
        room = rooms[place.day]
        assert room.first + free <= place.starts_at
        assert place.ends_at <= room.last - free
        latest = place.latest[place.day]
        assert latest and place.starts_at <= latest
        assert room.last - free - timedelta(minutes=1) < latest + timedelta(
            minutes=place.need.minutes
        )
        used[place.day] += place.need.minutes
        busy.append((place.starts_at, place.ends_at))
    busy.sort()
    assert all(one[1] <= two[0] for one, two in itertools.pairwise(busy))
    assert [a + b for a, b in zip(used, plan.left_minutes, strict=True)] == list(plan.room_minutes)
    assert plan.needed_minutes == sum(lengths)
    assert plan.fits == (sum(used) == sum(lengths))


def test_the_margins_come_off_both_ends() -> None:
    plan = weekend(needs(60), days((6, 16)), margin_minutes=45)
    assert plan.room_minutes == (510,)
    place = plan.places[0]
    assert place.starts_at == datetime(2027, 5, 14, 6, 45, tzinfo=UTC)
    assert place.latest == (datetime(2027, 5, 14, 14, 15, tzinfo=UTC),)


def test_a_day_that_is_full_says_for_whom() -> None:
    plan = weekend(needs(300, 250, 100), days((8, 16), (8, 10)), margin_minutes=0)
    assert [place.day for place in plan.places] == [0, None, 0]
    assert plan.sentences == (
        "The classes need 10 h 50 min in all; the 2 days have 10 h of daylight less 0 minutes at "
        "each end.",
        "Friday has room for class 1 and class 3; 80 minutes are left, too few for class 2.",
        "Saturday is free; 120 minutes are left.",
        "No day has room for class 2: 4 h 10 min too much.",
    )
    assert not plan.fits


def test_a_class_longer_than_a_day_has_no_latest_start_there() -> None:
    plan = weekend(needs(200), days((8, 10), (8, 16)), margin_minutes=0)
    assert plan.places[0].latest == (None, datetime(2027, 5, 15, 12, 40, tzinfo=UTC))
    assert plan.places[0].day == 1


def test_a_class_that_just_fits_fits() -> None:
    assert weekend(needs(120), days((8, 10)), margin_minutes=0).fits
    assert not weekend(needs(121), days((8, 10)), margin_minutes=0).fits


@pytest.mark.parametrize(("lengths", "hours"), [((), ((8, 10),)), ((5,), ())])
def test_nothing_to_lay_over_the_days_is_said(
    lengths: tuple[int, ...], hours: tuple[tuple[float, float], ...]
) -> None:
    plan = weekend(needs(*lengths), days(*hours))
    assert plan.sentences == ("There is nothing to lay over the days yet.",)


def test_what_makes_no_sense_is_refused() -> None:
    with pytest.raises(ValueError, match="margin"):
        weekend(needs(5), days((8, 10)), margin_minutes=-1)
    with pytest.raises(ValueError, match="at least a minute"):
        weekend(needs(0), days((8, 10)))
    with pytest.raises(ValueError, match="after it begins"):
        weekend(needs(5), days((10, 8)))
    with pytest.raises(ValueError, match=r"^a day ends after it begins$"):
        weekend(needs(5), days((8, 8)))
    with pytest.raises(ValueError, match=r"^a margin is not below zero$"):
        weekend([], [], margin_minutes=-1)
    assert weekend(needs(1), days((8, 10)), margin_minutes=0).fits


def test_half_an_hour_is_kept_where_nothing_is_said_and_no_day_has_less_than_no_room() -> None:
    plan = weekend(needs(60), days((6, 16), (8, 8.5)))
    assert plan.room_minutes == (540, 0)
    assert plan.sentences == (
        "The classes need 1 h in all; the 2 days have 9 h of daylight less 30 minutes at each end.",
        "Friday has room for class 1; 480 minutes are left.",
        "Saturday is free; 0 minutes are left.",
    )


def test_one_day_is_said_as_one() -> None:
    plan = weekend(needs(45, 15), days((6, 8)), margin_minutes=15)
    assert plan.sentences == (
        "The classes need 1 h in all; the day has 1 h 30 min of daylight less 15 minutes at each "
        "end.",
        "Friday has room for class 1 and class 2; 30 minutes are left.",
    )


def test_a_day_begins_with_the_first_whole_minute_of_light() -> None:
    light = DayRoom(
        "Friday",
        datetime(2027, 5, 14, 6, 0, 0, 20, tzinfo=UTC),
        datetime(2027, 5, 14, 8, 0, 59, tzinfo=UTC),
    )
    place = weekend(needs(60), [light], margin_minutes=0).places[0]
    assert place.starts_at == datetime(2027, 5, 14, 6, 1, tzinfo=UTC)
    assert place.latest == (datetime(2027, 5, 14, 7, 0, tzinfo=UTC),)
    shows_clock = timezone(timedelta(hours=-6))
    there = DayRoom(
        "Friday", light.first.astimezone(shows_clock), light.last.astimezone(shows_clock)
    )
    assert weekend(needs(60), [there], margin_minutes=0).places[0] == place
