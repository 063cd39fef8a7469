"""What judges are asked: short, about the right thing, without blame, the same once."""

import math
import re

import pytest
from django.utils import translation

from judging.models import Question
from judging.rules.results.panel_checks import MEANINGS
from judging.rules.results.question_sentences import said
from judging.rules.results.question_words import (
    LONGEST,
    asked_about,
    card_question,
    clean_show_words,
    day_question,
    habit_words,
    mark_question,
    same_question,
    swap_question,
)

HABITS = ("severity", "spread", "consistency", "drift", "tiring")
SENTENCES = [
    mark_question(12, "Order and reach", "0", "7.5"),
    card_question(12, 2.0),
    card_question(12, -0.3),
    swap_question(3, 12),
    swap_question(3, 12, pair=True),
    same_question(12, 7.5, 0.85),
    same_question(12, 7.0, 1.0),
    *(day_question(check, size) for check in (*HABITS, "order") for size in (0.4, 1.7, -0.02)),
]


@pytest.mark.parametrize("sentence", SENTENCES)
def test_a_question_blames_nobody_and_says_that_nothing_is_changed_by_itself(sentence: str) -> None:
    lowered = sentence.lower()
    assert not [word for word in ("wrong mark", "mistake", "error", "biased", "unfair")
                if word in lowered]  # fmt: skip
    assert "nothing is changed unless you do" in lowered or "no mark is changed" in lowered
    assert len(sentence) <= LONGEST


def test_a_question_fits_into_its_row_whatever_a_row_is_called() -> None:
    field = Question._meta.get_field("sentence")
    assert field.max_length == LONGEST
    assert len(mark_question(999, "long name " * 60, "10", "10.0")) == LONGEST


def test_the_way_of_a_difference_is_told() -> None:
    assert "1.5 points a row higher" in card_question(4, 1.5)
    assert "1.5 points a row lower" in card_question(4, -1.5)
    assert "lower than" in day_question("severity", -1.0)
    assert "stricter" in habit_words("drift", -0.2)
    assert "milder" in habit_words("drift", 0.2)
    assert "30 % less far apart" in habit_words("spread", 0.7)
    assert "more steadily" in habit_words("consistency", 0.5)
    assert "less steadily late" in habit_words("tiring", 2.0)
    assert "0.02 points" in habit_words("drift", 0.02), "a small size is not written as zero"


def test_every_habit_and_the_order_can_be_put_into_words() -> None:
    by_themselves = {"marks", "cards", "swaps", "same"}
    for check in set(MEANINGS) - by_themselves:
        assert day_question(check, 1.2)
    for check in HABITS:
        assert habit_words(check, 1.2)


@pytest.mark.parametrize("n_checks", [1, 4, 10])
def test_alarms_of_clean_shows_are_those_of_checks_that_know_nothing_of_each_other(
    n_checks: int,
) -> None:
    together = math.ceil(100 * (1 - 0.95**n_checks) - 0.5)
    assert f"in up to {together} of 100 shows." in clean_show_words(0.05, n_checks)
    assert "by itself raises something in up to 5 of 100" in clean_show_words(0.05, n_checks)


def test_marks_have_one_fingerprint_and_other_marks_another() -> None:
    marks = [(1, "hub", "7"), (1, "tire", "8"), (2, "hub", "7")]
    assert asked_about(marks) == asked_about(reversed(marks))
    others = {
        asked_about([(1, "hub", "8"), *marks[1:]]),
        asked_about(marks[1:]),
        asked_about([(3, "hub", "7"), *marks[1:]]),
        asked_about([(1, "hubs", "7"), *marks[1:]]),
    }
    assert len(others | {asked_about(marks)}) == 5


@pytest.mark.parametrize("sentence", SENTENCES)
def test_a_question_as_it_was_kept_is_said_in_the_readers_language(sentence: str) -> None:
    assert said(sentence) == sentence
    with translation.override("es"):
        words = said(sentence)
    assert re.findall(r"[0-9.]*[0-9]", words) == re.findall(r"[0-9.]*[0-9]", sentence)
    assert words.startswith(("Revise por favor", "Vea por favor", "A lo largo del día"))
    assert "{" not in words


def test_a_question_that_was_cut_short_is_said_as_it_was_kept() -> None:
    short = mark_question(999, "long name " * 60, "10", "10.0")
    with translation.override("es"):
        assert said(short) == short


def test_a_swap_asks_the_other_judge_only_where_two_could_have_made_it() -> None:
    asked = (
        "Please look at your cards of wagons 3 and 12: each fits the other wagon better. Could "
        "one have been filled in for the other?{} If both are right, say so. If not, say so and "
        "both come back to you; nothing is changed unless you do."
    )
    assert swap_question(3, 12) == asked.format("")
    assert swap_question(3, 12, pair=True) == asked.format(" The other judge is asked too.")
