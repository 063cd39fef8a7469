"""What a class declares about ties and money, shown before anybody is judged."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.results.declared import ladder_in_words, purse_shown, read_shares

NAMES = {"trail": "Trail", "food": "Food", "camp": "Camp"}


@given(st.permutations(list(NAMES)), st.integers(0, 3))
def test_only_a_rung_that_leaves_no_section_over_can_never_decide(
    order: list[str], depth: int
) -> None:
    rungs = ladder_in_words(order[:depth], NAMES)
    assert [rung.section for rung in rungs] == order[:depth]
    assert [rung.decides for rung in rungs] == [n < 2 for n in range(depth)]
    for rung in rungs:
        assert ("can decide" if rung.decides else "can never decide") in rung.sentence


def test_a_class_of_one_section_says_what_its_ladder_is_worth() -> None:
    (rung,) = ladder_in_words(["trail"], {"trail": "Trail"})
    assert rung.sentence == (
        "Trail can never decide: level in the total, wagons are level in Trail too."
    )


@pytest.mark.parametrize(
    ("text", "shares"),
    [
        ("50, 30, 20", ["50", "30", "20"]),
        (" 50 % / 30 % / 20 % ", ["50", "30", "20"]),
        ("33.3;33.3 ; 33.3", ["33.3", "33.3", "33.3"]),
        ("100 0", ["100", "0"]),
        ("", []),
        (" , ", []),
    ],
)
def test_shares_are_read_as_people_type_them(text: str, shares: list[str]) -> None:
    assert read_shares(text) == shares


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("half, rest", "“half” is no share"),
        ("50 NaN", "“NaN” is no share"),
        ("Infinity", "“Infinity” is no share"),
        ("-5", "“-5” is no share"),
        ("1e99", "“1e99” is no share"),
        ("0 0", "more than zero"),
        ("20 50", "Place 2 would get more than place 1."),
        ("0.00001", "more than 4 decimals"),
        ("1 " * 51, "At most 50 places"),
    ],
)
def test_shares_that_cannot_be_are_refused_in_a_sentence(text: str, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        read_shares(text)


@given(st.integers(0, 10**9), st.lists(st.integers(0, 1000), min_size=1, max_size=8).filter(any))
def test_what_is_shown_adds_up(cents: int, weights: list[int]) -> None:
    shown = purse_shown(cents, [str(weight) for weight in weights])
    assert sum(shown.prizes) == cents
    assert sum(shown.level_for_first) == sum(shown.prizes[:2])


def test_a_rung_below_two_others_names_both() -> None:
    names = {"trail": "Trail", "food": "Food", "camp": "Camp"}
    assert ladder_in_words(["trail", "food", "camp"], names)[2].sentence == (
        "Camp can never decide: level in the total and in Trail and Food, "
        "wagons are level in Camp too."
    )
