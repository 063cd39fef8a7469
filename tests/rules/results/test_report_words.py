"""What a judge reads of their own marks: true to the interval, plain, and without shame."""

import math
import re

import pytest

from judging.rules.results.agreement import Coefficient
from judging.rules.results.habits import Habit
from judging.rules.results.report_words import UNTOLD, agreement_words, judge_words

RATIOS = ("spread", "consistency", "tiring")
CHECKS = ("severity", "drift", *RATIOS)
NAN = math.nan


def habit(low: float, size: float, high: float) -> Habit:
    return Habit("J1", size, low, high, 3.0, True)


def clear(check: str) -> list[Habit]:
    """Return one habit clearly above, and one clearly below, what is like the others."""
    level = 1.0 if check in RATIOS else 0.0
    return [
        habit(level + 0.1, level + 0.4, level + 0.7),
        habit(level - 0.7, level - 0.4, level - 0.1),
    ]


@pytest.mark.parametrize("check", CHECKS)
def test_no_clear_difference_is_called_none_whatever_its_size(check: str) -> None:
    level = 1.0 if check in RATIOS else 0.0
    for size in (level + 0.9, level - 0.9):
        told = judge_words(check, habit(level - 1.0, size, level + 1.0))
        assert re.search("not clearly|about as", told)
        assert "0.9" not in told


@pytest.mark.parametrize("check", CHECKS)
def test_a_clear_difference_is_told_with_its_range_and_way(check: str) -> None:
    above, below = (judge_words(check, one) for one in clear(check))
    assert above != below
    for told in (above, below):
        assert re.search(r"\(\d", told), told


@pytest.mark.parametrize("check", CHECKS)
def test_what_cannot_be_told_is_said_so(check: str) -> None:
    assert judge_words(check, None) == UNTOLD
    assert judge_words(check, habit(NAN, NAN, NAN)) == UNTOLD
    assert judge_words(check, habit(NAN, 0.5, NAN)) == UNTOLD


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (0.1, 0.4, "Agreement is low."),
        (0.6, 0.8, "Agreement lies between fair and good."),
        (-0.2, 0.95, "Agreement lies between low and very good."),
        (0.91, 1.0, "Agreement is very good."),
        (NAN, NAN, "The marks are too few, or too much alike, to tell."),
    ],
)
def test_agreement_is_named_by_both_ends(low: float, high: float, words: str) -> None:
    assert agreement_words(Coefficient(0.7, low, high)) == words


def syllables(word: str) -> int:
    groups = len(re.findall("[aeiouy]+", word))
    silent = word.endswith("e") and not word.endswith("le") and groups > 1
    return max(groups - silent, 1)


def reading_grade(text: str) -> float:
    """Flesch and Kincaid's grade (from memory), by groups of vowels."""
    words = re.findall("[a-z']+", text.lower())
    sentences = max(len(re.findall(r"[.?!](?:\s|$)", text)), 1)
    per_word = sum(map(syllables, words)) / len(words)
    return 0.39 * len(words) / sentences + 11.8 * per_word - 15.59


def every_sentence() -> list[str]:
    clear_ones = [judge_words(check, one) for check in CHECKS for one in clear(check)]
    level = [judge_words(check, habit(-9.0, 0.5, 9.0)) for check in CHECKS]
    return [*clear_ones, *level]


def test_the_report_reads_at_about_the_eighth_grade() -> None:
    assert reading_grade(" ".join(every_sentence())) < 8.5


@pytest.mark.parametrize("told", every_sentence())
def test_the_report_shames_nobody(told: str) -> None:
    harsh = "wrong|bad|fail|mistake|error|careless|poorly|unfair|bias|should have|worse|worst"
    assert not re.search(rf"\b({harsh})\b", told.lower())
    assert re.search(r"\byou(r)?\b", told.lower())
