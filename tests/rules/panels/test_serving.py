"""Serving orders: every judge gets their dishes, no dish is always first."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.rules.panels.serving import serve
from judging.rules.panels.tables import design
from tests.served import dealt, most_at_one_position


@st.composite
def some_tables(draw):
    dishes = draw(st.integers(2, 9))
    size = draw(st.integers(1, dishes))
    judges = draw(st.integers(1, 9))
    table = st.permutations(range(dishes)).map(lambda order: tuple(order[:size]))
    return [draw(table) for _ in range(judges)]


@given(tables=some_tables(), seed=st.integers(0, 99))
@settings(max_examples=150, deadline=None)
def test_no_dish_is_at_one_position_more_often_than_must_be(tables, seed):
    orders = serve(tables, seed=seed)
    assert [sorted(order) for order in orders] == [sorted(table) for table in tables]
    size = len(tables[0])
    count = Counter((position, dish) for order in orders for position, dish in enumerate(order))
    tasted = Counter(dish for table in tables for dish in table)
    for (_, dish), times in count.items():
        assert times <= -(-tasted[dish] // size)


@pytest.mark.parametrize(("v", "b", "k"), [(20, 12, 5), (24, 16, 6), (7, 7, 3), (15, 12, 5)])
def test_designed_tables_meet_no_dish_twice_at_one_position_and_stay_near_the_middle(v, b, k):
    tables = design(v, b, k)
    orders = serve(tables)
    assert most_at_one_position(orders) == 1
    assert most_at_one_position(tables) > 1
    where: dict[int, list[int]] = {}
    for order in orders:
        for position, dish in enumerate(order):
            where.setdefault(dish, []).append(position)
    middle = (k - 1) / 2
    assert max(abs(sum(at) / len(at) - middle) for at in where.values()) <= 0.67
    after = Counter(pair for order in orders for pair in pairwise(order))
    assert max(after.values()) == 1


def test_more_judges_than_positions_share_them_evenly():
    orders = serve([("a", "b", "c")] * 6)
    count = Counter((n, dish) for order in orders for n, dish in enumerate(order))
    assert set(count.values()) == {2}
    assert len(count) == 9


def test_the_seed_repeats_the_orders():
    tables = dealt(9, 6, 4)
    assert serve(tables, seed=3) == serve(tables, seed=3)
    assert len({serve(tables, seed=n) for n in range(8)}) > 1


def test_nothing_to_serve_and_what_cannot_be_served_in_step():
    assert serve([]) == ()
    assert serve([("a",)]) == (("a",),)
    with pytest.raises(ValueError, match="equally many"):
        serve([("a", "b"), ("a",)])
    with pytest.raises(ValueError, match="one dish twice"):
        serve([("a", "a")])
