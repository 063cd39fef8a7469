"""Codes: three digits, hard to mix up, saying nothing of the wagons' order."""

from __future__ import annotations

from collections import Counter
from itertools import combinations

import pytest

from judging.rules.panels.blind import alike, blind_codes


@pytest.mark.parametrize("n", [0, 1, 2, 3, 12, 40, 60])
@pytest.mark.parametrize("seed", range(5))
def test_codes_of_a_show_are_never_alike(n: int, seed: int):
    codes = blind_codes(n, seed=seed)
    assert len(codes) == len(set(codes)) == n
    assert all(len(code) == 3 and code.isdecimal() and code[0] != "0" for code in codes)
    assert not any(alike(a, b) for a, b in combinations(codes, 2))


def test_more_dishes_give_up_the_order_of_digits_first_then_one_digit():
    codes = blind_codes(85, seed=2)
    assert len(set(codes)) == 85
    differ = [sum(a != b for a, b in zip(x, y, strict=True)) for x, y in combinations(codes, 2)]
    assert differ.count(1) < 85
    assert len(set(blind_codes(900, seed=1))) == 900
    with pytest.raises(ValueError, match="900 three-digit codes left for 901"):
        blind_codes(901, seed=1)


def test_codes_taken_by_other_dishes_are_kept_away_from():
    first = blind_codes(20, seed=1)
    second = blind_codes(20, seed=1, taken=first)
    assert not any(alike(a, b) for a in first for b in second)


def test_codes_neither_rise_nor_fall_with_the_wagons():
    for seed in range(400):
        codes = list(blind_codes(3, seed=seed))
        assert codes not in (sorted(codes), sorted(codes, reverse=True))


def test_two_codes_are_not_given_away_by_a_rule():
    rising = Counter(a < b for a, b in (blind_codes(2, seed=n) for n in range(200)))
    assert 60 < rising[True] < 140


def test_a_seed_repeats_the_codes_and_another_gives_others():
    assert blind_codes(10, seed=7) == blind_codes(10, seed=7)
    assert blind_codes(10, seed=7) != blind_codes(10, seed=8)


@pytest.mark.parametrize(
    ("one", "other", "said"),
    [("123", "123", True), ("123", "124", True), ("123", "213", True), ("123", "321", True),
     ("123", "312", True), ("123", "145", False), ("123", "456", False)],
)  # fmt: skip
def test_what_is_alike(one: str, other: str, said: bool):
    assert alike(one, other) is said
