"""One judge's day and one wagon's day, against minute by minute counting."""

from __future__ import annotations

from itertools import pairwise, permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.windows.bound_crew import Piece, crew_finish
from judging.rules.windows.problem import Break
from judging.rules.windows.search_day import Gap, fitted, merged, placed_rests, reached, rests

spans = st.lists(
    st.tuples(st.integers(-5, 40), st.integers(1, 12)).map(lambda s: (s[0], s[0] + s[1])),
    max_size=4,
)


def minutes_of(given_spans: list[tuple[int, int]]) -> set[int]:
    return {m for a, b in given_spans for m in range(max(a, 0), b)}


@given(spans)
def test_merged_spans_hold_the_same_minutes_and_lie_apart(given_spans):
    found = merged(given_spans)
    assert minutes_of(list(found)) == minutes_of(given_spans)
    assert all(one[1] < other[0] for one, other in pairwise(found))


@given(spans, st.integers(0, 40), st.integers(0, 20))
def test_free_minutes_are_counted_one_by_one(given_spans, now, wanted):
    away, at, left = minutes_of(given_spans), now, wanted
    while left:
        left -= at not in away
        at += 1
    assert reached(now, wanted, merged(given_spans)) == at


@given(spans, st.integers(0, 40), st.integers(1, 15))
def test_a_piece_begins_at_the_first_minute_it_fits(given_spans, now, length):
    away = minutes_of(given_spans)
    begin = next(m for m in range(now, 200) if not away & set(range(m, m + length)))
    assert fitted(now, length, merged(given_spans)) == begin


def test_breaks_are_ordered_so_that_all_can_be_had():
    late, early = Break(20, 0, 60), Break(10, 0, 30)
    assert [rest.minutes for rest in rests([late, early], [])] == [10, 20]
    with pytest.raises(ValueError, match="the judge has no time for a break of 20 minutes"):
        rests([Break(20, 0, 60)], [(10, 50)])
    with pytest.raises(ValueError, match=r"10 minutes between 0 and 15 and one of 10 minutes b"):
        rests([Break(10, 0, 15), Break(10, 0, 15)], [])


def test_a_break_goes_where_the_walk_still_fits():
    rest = Break(20, 0, 100)
    assert placed_rests([rest], [Gap(0, 22, 3), Gap(30, 53, 3), Gap(60, None, 0)], []) == [(1, 30)]
    assert placed_rests([rest], [Gap(0, 22, 3), Gap(90, None, 0)], []) is None
    three = [Break(minutes, 0, 60) for minutes in (10, 5, 7)]
    assert placed_rests(three, [Gap(0, None, 0)], []) == [(0, 0), (0, 10), (0, 15)]


pieces = st.lists(
    st.builds(
        Piece,
        earliest=st.integers(0, 10),
        minutes=st.integers(1, 8),
        away=spans.map(merged),
    ),
    min_size=1,
    max_size=4,
)


@given(pieces, st.integers(0, 3))
def test_a_wagon_is_done_no_sooner_than_in_its_best_order(given_pieces, reset):
    def end(order: tuple[Piece, ...]) -> int:
        now = -reset
        for piece in order:
            at = fitted(max(now + reset, piece.earliest), piece.minutes, piece.away)
            now = at + piece.minutes
        return int(now)

    assert crew_finish(given_pieces, reset) == min(map(end, permutations(given_pieces)))
