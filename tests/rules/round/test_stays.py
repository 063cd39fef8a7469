"""When a judge came to a wagon and went, from opened cards, touches and hand-ins."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from judging.rules.round.stays import Touches, stays

OPENS = datetime(2027, 5, 15, 14, 0, tzinfo=UTC)


def at(minute: float) -> datetime:
    return OPENS + timedelta(minutes=minute)


def told(touches):
    """Minutes of coming and going by wagon."""

    def minute(moment):
        return None if moment is None else (moment - OPENS).total_seconds() / 60

    found = stays(touches, opens_at=OPENS)
    return {key: (minute(stay.began_at), minute(stay.ended_at)) for key, stay in found.items()}


def test_a_visit_begins_with_the_card_opened_and_ends_with_the_card_handed_in():
    one = Touches(opened=(at(3),), first=at(5), last=at(11), handed_in=at(12))
    assert told({1: one}) == {1: (3, 12)}


def test_without_an_opening_it_begins_with_the_first_touch():
    assert told({1: Touches(first=at(5), last=at(6))}) == {1: (5, None)}


def test_a_card_only_looked_at_is_no_visit_until_it_is_the_last_thing_done():
    seen, worked = Touches(opened=(at(1),)), Touches(opened=(at(2),), first=at(3), last=at(4))
    assert told({1: seen, 2: worked}) == {2: (2, None)}
    assert told({1: Touches(opened=(at(1), at(9))), 2: worked}) == {1: (9, None), 2: (2, 4)}


def test_of_several_openings_the_last_before_the_first_touch_counts():
    one = Touches(opened=(at(30), at(1), at(20)), first=at(21), last=at(29))
    assert told({1: one}) == {1: (20, None)}


def test_nobody_is_at_a_wagon_before_the_window_opens():
    assert told({1: Touches(opened=(at(-20),))}) == {}
    early = Touches(opened=(at(-20),), first=at(4), last=at(5))
    assert told({1: early}) == {1: (0, None)}


def test_a_card_handed_in_later_ends_where_the_next_wagon_begins_or_at_its_last_touch():
    late = Touches(opened=(at(2),), first=at(3), last=at(10), handed_in=at(60))
    nxt = Touches(opened=(at(14),), first=at(15), last=at(20), handed_in=at(21))
    assert told({1: late, 2: nxt}) == {1: (2, 10), 2: (14, 21)}
    again = Touches(opened=(at(2),), first=at(3), last=at(50))
    assert told({1: again, 2: nxt})[1] == (2, 14)


MINUTES = st.integers(-30, 200)
TOUCHES = st.builds(
    lambda opened, spans, handed: Touches(
        opened=tuple(at(m) for m in opened),
        first=at(min(spans)) if spans else None,
        last=at(max(spans)) if spans else None,
        handed_in=at(handed) if handed is not None else None,
    ),
    st.lists(MINUTES, max_size=3),
    st.lists(MINUTES, max_size=2),
    st.none() | MINUTES,
)


@given(st.dictionaries(st.integers(1, 5), TOUCHES, max_size=5))
def test_whatever_phones_tell_one_visit_at_most_is_under_way(touches):
    found = stays(touches, opens_at=OPENS)
    under_way = [stay for stay in found.values() if stay.ended_at is None]
    assert len(under_way) <= 1
    for stay in found.values():
        assert stay.began_at >= OPENS
        assert stay.ended_at is None or stay.ended_at >= stay.began_at
    for key, one in touches.items():
        if one.first or one.handed_in:
            assert key in found, "a wagon that was touched was visited"
