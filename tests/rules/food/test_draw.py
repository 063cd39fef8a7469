"""The whole draw from one number: it repeats, keeps pairs apart, and hides the wagons."""

from __future__ import annotations

from collections import Counter

import pytest

from judging.rules.food.draw import SEED_BITS, draw_round
from judging.rules.panels.tables import connected
from tests.served import most_at_one_position


def test_one_number_is_one_draw():
    assert draw_round(12, 8, 4, seed=2**62 + 5) == draw_round(12, 8, 4, seed=2**62 + 5)
    assert draw_round(12, 8, 4, seed=1) != draw_round(12, 8, 4, seed=2)
    assert SEED_BITS >= 60


@pytest.mark.parametrize("seed", range(4))
def test_barred_pairs_are_of_wagons_as_they_are_listed(seed):
    barred = [(0, 3), (0, 4), (5, 0), (7, 11)]
    drawn = draw_round(12, 8, 4, seed=seed, barred=barred)
    assert not any(wagon in drawn.orders[judge] for judge, wagon in barred)
    assert connected(drawn.orders)
    assert most_at_one_position(drawn.orders) == 1
    assert len(set(drawn.codes)) == 12


def test_the_first_judge_meets_any_wagon_first_now_and_then():
    """The design alone would favour some: wagons are shuffled before it."""
    first = Counter(draw_round(6, 4, 3, seed=seed).orders[0][0] for seed in range(90))
    assert set(first) == set(range(6))


def test_a_judge_alone_is_not_served_in_the_order_of_wagons():
    """Nothing but the shuffle stands between the list of wagons and a single judge's order."""
    orders = {draw_round(4, 1, 4, seed=seed).orders[0] for seed in range(40)}
    assert len(orders) > 12


def test_the_lowest_code_is_any_wagons():
    lowest = Counter(
        min(range(5), key=draw_round(5, 5, 4, seed=seed).codes.__getitem__) for seed in range(90)
    )
    assert set(lowest) == set(range(5))
    assert max(lowest.values()) < 45


def test_codes_taken_are_not_drawn():
    first = draw_round(6, 4, 3, seed=1)
    assert not set(first.codes) & set(draw_round(6, 4, 3, seed=1, taken=first.codes).codes)
