"""The formula against its printed example, and the guess at syllables."""

from __future__ import annotations

import pytest

from tests.house.reading_grade import grade, grade_of, prose_of, syllables_in


def test_the_formula_gives_the_printed_grade():
    # The Australian platypus is seemingly a hybrid of a mammal and reptilian creature.
    assert grade_of(sentences=1, words=13, syllables=26) == pytest.approx(13.08)


@pytest.mark.parametrize(
    ("word", "count"),
    [
        ("wagon", 2), ("marked", 1), ("wanted", 2), ("safety", 3), ("table", 2), ("score", 1),
        ("judges", 1), ("exhibitor", 4), ("the", 1), ("harness", 2), ("don't", 1), ("inspected", 3),
    ],
)  # fmt: skip
def test_syllables_are_guessed_well_enough(word: str, count: int):
    assert abs(syllables_in(word) - count) <= (word == "judges" or word == "safety")


def test_plain_words_read_more_easily():
    plain = "You see the wagon. You give a mark. The mark is kept on your phone."
    heavy = (
        "Notwithstanding considerable variability in evaluative dispositions, adjudicators "
        "habitually demonstrate satisfactory consistency."
    )
    assert grade(plain) < 3 < 16 < grade(heavy)


def test_the_prose_of_a_guide_is_what_is_read():
    text = "# Title\n\nOne **two**\nthree.\n\n![picture](x.png)\n\n- Four\n- [Five](y.md)"
    assert prose_of(text) == "One two three.\nFour\nFive"
