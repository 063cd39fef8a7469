"""What a purse sheet says of shared prizes and odd cents, held against the rule that pays."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from entries.rules.money_words import dollars
from judging.rules.results.placing import competition_ranks
from judging.rules.results.purse import pay
from reports.rules.purse_words import paid_words, pooled_words


@given(
    st.lists(st.integers(1, 4), min_size=1, max_size=9),
    st.lists(st.integers(0, 999_999), max_size=6),
)
def test_every_shared_paid_place_has_its_sentence_and_its_sum(
    totals: list[int], prizes: list[int]
) -> None:
    places = competition_ranks(sorted(totals, reverse=True))
    paid = pay(prizes, places)
    sentences = pooled_words(places, paid)
    shared = sorted({p for p in places if places.count(p) > 1})
    sums = {p: sum(c for q, c in zip(places, paid, strict=True) if q == p) for p in shared}
    assert len(sentences) == sum(1 for p in shared if sums[p])
    for place, sentence in zip([p for p in shared if sums[p]], sentences, strict=True):
        assert f"{dollars(sums[place])} together" in sentence


def test_the_odd_cent_is_seen() -> None:
    (sentence,) = pooled_words([1, 1, 1], [334, 333, 333])
    assert sentence == (
        "The first, second and third prizes, $10.00 together, are divided by three: "
        "$3.34, $3.33, $3.33."
    )
    assert "$5.00 each" in pooled_words([1, 1], [500, 500])[0]


def test_places_and_amounts_belong_together() -> None:
    with pytest.raises(ValueError, match=r"^Every place needs what it is paid\.$"):
        pooled_words([1, 2], [5])


@pytest.mark.parametrize(
    ("paid", "purse", "words"),
    [
        (500, 500, "It is the whole purse."),
        (300, 500, "Of the purse, $2.00 is for places nobody fills."),
        (499, 500, "Of the purse, $0.01 is for places nobody fills."),
        (500, 0, ""),
    ],
)
def test_what_is_left_of_the_purse_is_said(paid: int, purse: int, words: str) -> None:
    assert paid_words(paid, purse) == words
