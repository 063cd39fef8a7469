"""The search under the tables: its running counts are the true ones, its fill is the fairest."""

from __future__ import annotations

import random

import pytest

from judging.rules.panels.table_polish import polish
from judging.rules.panels.table_search import Search, islands, least_squares
from judging.rules.panels.tables import concurrence, efficiency


def squares(tables: list[set[int]]) -> int:
    return sum(n * n for n in concurrence(tables).values())


@pytest.mark.parametrize("seed", range(5))
def test_the_gain_of_a_swap_is_what_counting_again_gives(seed: int):
    search = Search(9, 6, 4, seed, frozenset())
    tables = search._start()
    rng, tried = random.Random(seed), 0
    for _ in range(300):
        a, c = rng.sample(range(6), 2)
        x, y = rng.choice(sorted(tables[a])), rng.choice(sorted(tables[c]))
        if x in tables[c] or y in tables[a]:
            continue
        before = squares(tables)
        meets = search._meets(tables)
        gain = search._gain(meets, sorted(tables[a]), sorted(tables[c]), x, y)
        search._exchange(tables, a, x, c, y)
        # Each pair is in the sum once, its row and column twice in the table of meetings.
        assert gain == squares(tables) - before
        tried += 1
    assert tried > 30


def test_the_least_squares_are_those_of_even_numbers():
    assert [least_squares(3, n) for n in range(5)] == [0, 1, 2, 3, 6]
    assert least_squares(0, 0) == 0


def test_islands_are_counted():
    assert islands([{0, 1}, {2, 3}], 5) == 3
    assert islands([{0, 1}, {2, 3}, {1, 2}, {4, 0}], 5) == 1


def test_the_fill_is_as_even_as_barred_pairs_let_it_be():
    # Three of four judges may not taste dish 0, so it is tasted once; the others share the rest.
    search = Search(5, 4, 4, 1, frozenset({(0, 0), (1, 0), (2, 0)}))
    count = sorted(sum(dish in table for table in search._start()) for dish in range(5))
    assert count == [1, 3, 4, 4, 4]


def test_polish_returns_the_efficiency_and_never_lowers_it():
    for seed in range(4):
        search = Search(12, 8, 3, seed, frozenset({(0, 0), (3, 5)}))
        tables = search._start()
        search._anneal(tables, 4000)
        if not search._connect(tables):
            continue
        before, even = efficiency(tables), squares(tables)
        share = polish(tables, 12, search.barred, search.rng)
        assert share == pytest.approx(efficiency(tables))
        assert share >= before - 1e-9
        assert squares(tables) <= even
        assert 0 not in tables[0]
        assert 5 not in tables[3]
        assert all(len(table) == 3 for table in tables)


def test_pairs_of_dishes_that_must_meet_everywhere_are_left_alone():
    tables = [{0, 1, 2}, {0, 1, 2}]
    assert polish(tables, 3, frozenset(), random.Random(0)) == pytest.approx(1.0)
    assert tables == [{0, 1, 2}] * 2
