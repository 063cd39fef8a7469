"""Walking tables: which are refused, how soon each spot can be reached, the shortest way."""

from __future__ import annotations

from itertools import pairwise, permutations
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.windows.walk import check_walk, from_gate, shortest, shortest_walk

Table = tuple[tuple[int, ...], ...]


@st.composite
def tables(draw: Any) -> Table:
    """A symmetric table of minutes in which a detour may be quicker."""
    size = draw(st.integers(2, 6))
    minutes = {(a, b): draw(st.integers(0, 30)) for a in range(size) for b in range(size) if a < b}
    return tuple(
        tuple(0 if a == b else minutes[min(a, b), max(a, b)] for b in range(size))
        for a in range(size)
    )


def minutes_along(walk: Table, way: tuple[int, ...]) -> int:
    """The time of a way, place after place."""
    return sum(walk[a][b] for a, b in pairwise(way))


@given(tables())
def test_no_way_past_other_spots_is_sooner(walk: Table) -> None:
    for spot, soonest in list(enumerate(from_gate(walk)))[1:]:
        others = [other for other in range(1, len(walk)) if other != spot]
        ways = [
            (0, *past, spot)
            for count in range(len(others) + 1)
            for past in permutations(others, count)
        ]
        assert soonest == min(minutes_along(walk, way) for way in ways)


@given(tables(), st.booleans())
def test_a_short_walk_is_the_shortest_of_all(walk: Table, back: bool) -> None:
    stops = tuple(range(1, len(walk)))
    found = shortest_walk(walk, stops, back_to_gate=back)
    home = (0,) if back else ()
    assert found.minutes == min(
        minutes_along(walk, (0, *order, *home)) for order in permutations(stops)
    )
    assert sorted(found.order) == list(stops)
    assert found.minutes == minutes_along(walk, (0, *found.order, *home))
    assert found.lower_bound <= found.minutes


@pytest.mark.parametrize(
    "walk",
    [
        ((0, 1), (1, 0, 2)),
        ((0, 3), (2, 0)),
        ((1, 2), (2, 0)),
        ((0, -1), (-1, 0)),
    ],
)
def test_a_table_that_cannot_be_walked_is_refused(walk: Table) -> None:
    with pytest.raises(ValueError, match="walking"):
        check_walk(walk)


@given(tables(), st.booleans())
def test_the_shortest_way_through_a_plain_table(walk: Table, closed: bool) -> None:
    found = shortest(walk, closed)
    rows = range(len(walk))
    ways = [(*order, order[0]) if closed else order for order in permutations(rows)]
    assert found.minutes == min(minutes_along(walk, way) for way in ways)
    assert sorted(found.order) == list(rows)
    home = found.order[:1] if closed else ()
    assert minutes_along(walk, (*found.order, *home)) == found.minutes
    assert found.lower_bound <= found.minutes


@pytest.mark.parametrize("closed", [False, True])
def test_a_plain_table_of_none_one_and_two(closed: bool) -> None:
    assert shortest([], closed).order == ()
    assert (shortest([[0]], closed).order, shortest([[0]], closed).minutes) == ((0,), 0)
    assert shortest([[0, 3], [3, 0]], closed).minutes == (6 if closed else 3)
    for wrong in ([[0, 3], [2, 0]], [[0, -1], [-1, 0]], [[0, 1], [1]]):
        with pytest.raises(ValueError, match="walking"):
            shortest(wrong, closed)
