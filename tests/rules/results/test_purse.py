"""Prize money to the cent."""

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.results.placing import competition_ranks
from judging.rules.results.purse import pay, split

CENTS = st.integers(0, 10**15)
WEIGHTS = st.lists(
    st.one_of(
        st.integers(0, 10**9),
        st.decimals(0, 1000, places=3),
        st.fractions(0, 100, max_denominator=997),
    ),
    min_size=1,
    max_size=30,
).filter(lambda weights: any(weight > 0 for weight in weights))


@given(CENTS, WEIGHTS)
def test_a_split_is_exact_fair_and_pays_nothing_for_weight_nought(
    cents: int, weights: list[Any]
) -> None:
    parts = split(cents, weights)
    whole = sum(Fraction(weight) for weight in weights)
    assert sum(parts) == cents
    for part, weight in zip(parts, weights, strict=True):
        assert abs(part - cents * Fraction(weight) / whole) < 1
        assert weight > 0 or part == 0
    for one, first in enumerate(weights):
        for other, second in enumerate(weights):
            if first > second:
                assert parts[one] >= parts[other]
            if first == second and one < other:
                assert 0 <= parts[one] - parts[other] <= 1


@given(CENTS, WEIGHTS, st.integers(1, 10**6))
def test_only_the_proportions_count(cents: int, weights: list[Any], times: int) -> None:
    assert split(cents, [Fraction(weight) * times for weight in weights]) == split(cents, weights)


@given(
    st.lists(CENTS, max_size=12).map(lambda prizes: sorted(prizes, reverse=True)),
    st.lists(st.integers(0, 6).map(Decimal), max_size=15),
)
def test_paying_is_exact_and_keeps_the_order(prizes: list[int], totals: list[Decimal]) -> None:
    ranks = competition_ranks(totals)
    paid = pay(prizes, ranks)
    assert sum(paid) == sum(prizes[: len(totals)])
    by_rank: dict[int, list[int]] = {}
    for rank, money in zip(ranks, paid, strict=True):
        by_rank.setdefault(rank, []).append(money)
    for rank, group in by_rank.items():
        assert sum(group) == sum(prizes[rank - 1 : rank - 1 + len(group)])
        assert max(group) - min(group) <= 1
        assert group == sorted(group, reverse=True)
    for one, better in enumerate(ranks):
        for other, worse in enumerate(ranks):
            if better < worse:
                assert paid[one] >= paid[other] - 1


def test_prizes_without_an_entry_are_not_paid() -> None:
    assert pay([100, 50, 25], [1, 2]) == [100, 50]
    assert pay([100], [1, 2, 3]) == [100, 0, 0]
    assert pay([100], []) == []
    assert pay([], [1, 1]) == [0, 0]


def test_odd_cents_go_to_the_first_of_the_list() -> None:
    assert pay([101, 0], [2, 1, 2][1:2] + [2]) == [101, 0]
    assert pay([50, 51], [1, 1]) == [51, 50]


@pytest.mark.parametrize(
    ("cents", "weights", "sentence"),
    [
        (100, [0, 0], "more than nought"),
        (100, [], "more than nought"),
        (100, [1, -1], "no exact weight"),
        (100, [0.5, 0.5], "no exact weight"),
        (100, [Decimal("NaN")], "no exact weight"),
        (100, [Decimal("Infinity")], "no exact weight"),
        (100, [True], "no exact weight"),
        (-1, [1], "no whole number of cents"),
        (10.0, [1], "no whole number of cents"),
        (True, [1], "no whole number of cents"),
    ],
)
def test_an_impossible_split_is_refused(cents: Any, weights: Any, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        split(cents, weights)


@pytest.mark.parametrize(
    ("prizes", "ranks", "sentence"),
    [
        ([100], [2], "Place 2 cannot be paid: the next place to fill is 1"),
        ([100], [1, 1, 2], "Place 2 cannot be paid: the next place to fill is 3"),
        ([100], [0, 1], "Place 0"),
        ([-5], [1], "no whole number of cents"),
        ([1.5], [1], "no whole number of cents"),
    ],
)
def test_impossible_places_are_refused(prizes: Any, ranks: Any, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        pay(prizes, ranks)
