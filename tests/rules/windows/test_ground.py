"""Walking times on the camp plan."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.windows.ground import walk_minutes

PLACE = st.tuples(st.integers(0, 2000), st.integers(0, 2000))


def test_whole_minutes_rounded_up() -> None:
    assert walk_minutes((0, 0), [(0, 200), (0, 201)], ft_per_minute=200)[0] == (0, 1, 2)


def test_neighbours_are_a_minute_apart_and_nobody_walks_to_where_he_stands() -> None:
    assert walk_minutes((0, 0), [(1, 0), (1, 0)], ft_per_minute=200) == (
        (0, 1, 1),
        (1, 0, 1),
        (1, 1, 0),
    )


@given(PLACE, st.lists(PLACE, min_size=2, max_size=5))
def test_there_and_back_are_alike_and_no_detour_is_shorter(
    gate: tuple[int, int], spots: list[tuple[int, int]]
) -> None:
    walk = walk_minutes(gate, spots, ft_per_minute=176)
    assert len(walk) == len(spots) + 1
    for a, b, c in permutations(range(len(walk)), 3):
        assert walk[a][b] == walk[b][a] >= 1
        assert walk[a][b] <= walk[a][c] + walk[c][b]


@pytest.mark.parametrize("pace", [0, -1])
def test_a_pace_is_above_zero(pace: float) -> None:
    with pytest.raises(ValueError, match="above zero"):
        walk_minutes((0, 0), [(1, 1)], ft_per_minute=pace)
