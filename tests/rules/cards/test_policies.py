"""What a class declares, in sentences."""

from __future__ import annotations

from itertools import product

import pytest
from django.utils import translation

from judging.rules.cards.policies import (
    GearCredit,
    Marking,
    ModernItems,
    Policies,
    in_words,
    policy_sentences,
)
from judging.rules.cards.scorecard import NotInspected

EVERY = [
    Policies(gear, marking, modern, not_inspected=unseen)
    for gear, marking in product(GearCredit, Marking)
    for modern, unseen in product(ModernItems, NotInspected)
]


def test_every_choice_has_its_own_sentence_and_all_its_neighbours_stay() -> None:
    said = {policies: in_words(policies) for policies in EVERY}
    assert len(set(said.values())) == len(EVERY) == 3 * 2 * 3 * 2
    for sentences in said.values():
        assert len(sentences) == 6
        assert all(text[0].isupper() and text.endswith(".") for text in sentences)


@pytest.mark.parametrize(
    ("first", "last", "sentence"),
    [
        (1866, 1895, "In period means from 1866 to 1895."),
        (1866, None, "In period means 1866 or later."),
        (None, 1940, "In period means up to 1940."),
        (1880, 1880, "In period means the year 1880."),
    ],
)
def test_the_period_is_said_when_a_year_is_set(
    first: int | None, last: int | None, sentence: str
) -> None:
    with_years = in_words(Policies(period_from=first, period_to=last))
    without = in_words(Policies())
    assert set(with_years) - set(without) == {sentence}
    assert [text for text in with_years if text != sentence] == list(without)


def test_no_year_no_sentence() -> None:
    assert not any("period" in sentence for sentence in in_words(Policies()))


@pytest.mark.parametrize(
    ("policies", "words"),
    [
        (Policies(marking=Marking.BUILD_FROM_MIDDLE), "starts in the middle"),
        (Policies(marking=Marking.DEDUCT_FROM_FULL), "starts at its full mark"),
        (Policies(gear_credit=GearCredit.ALIKE), "can earn the same marks"),
        (Policies(gear_credit=GearCredit.ORIGINAL_FIRST), "original earns more than restored"),
        (Policies(gear_credit=GearCredit.SOUNDNESS_ONLY), "soundness alone"),
        (Policies(modern_items=ModernItems.HIDDEN_IS_FINE), "out of sight costs nothing"),
        (Policies(modern_items=ModernItems.LOSES), "loses marks on its row, in sight or not"),
        (Policies(modern_items=ModernItems.ZERO_ROW), "gives its row zero"),
        (Policies(not_inspected=NotInspected.RESCALE), "inspected is left out in the same way"),
        (Policies(not_inspected=NotInspected.ZERO), "inspected counts as zero"),
        (Policies(), "does not apply is left out; its points go to the other rows"),
        (Policies(), "Zero is a mark"),
    ],
)
def test_each_policy_says_what_it_does(policies: Policies, words: str) -> None:
    assert sum(words in sentence for sentence in in_words(policies)) == 1


def test_the_note_comes_last_as_it_was_written_on_one_line() -> None:
    sentences = in_words(Policies(note="  Papers are\n welcome <b> "))
    assert sentences[-1] == "Papers are welcome <b>"
    assert in_words(Policies(note=" \n ")) == in_words(Policies())


def test_what_is_kept_is_english_and_what_is_said_follows_the_reader() -> None:
    policies = Policies(period_from=1866, period_to=1895, note="Bring your own bucket.")
    assert policy_sentences(policies) == in_words(policies)
    kept = in_words(policies)
    with translation.override("es"):
        assert in_words(policies) == kept
        told = policy_sentences(policies)
    assert len(told) == len(kept)
    assert [one for one, other in zip(told, kept, strict=True) if one == other] == [kept[-1]]
    assert "De época quiere decir de 1866 a 1895." in told
