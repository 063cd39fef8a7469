"""What the office reads about the practice wagon: questions, and no blame."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from judging.rules.cards.norming import RowSpread, Severity
from judging.rules.cards.norming_words import (
    mark_words,
    of_ten,
    scale_words,
    severity_words,
    talking_points,
)
from judging.rules.cards.scale_use import ScaleUse
from judging.rules.cards.scorecard import Criterion

HUB = Criterion("hub", "Hubs", Decimal(10), Decimal(1))
TANK = Criterion("tank", "Water tank", Decimal(1), Decimal(1))


def spread(row: Criterion = HUB, /, *, absent=(), unseen=(), **given: int | str) -> RowSpread:
    pairs = sorted(((name, Decimal(m)) for name, m in given.items()), key=lambda pair: pair[1])
    return RowSpread(row, tuple(pairs), tuple(absent), tuple(unseen))


def only(found: RowSpread) -> str:
    points = talking_points([found])
    assert len(points) == 1
    return points[0].sentence


def test_lowest_and_highest_are_asked_what_they_saw():
    assert only(spread(J1=4, J2=7, J3=9)) == "J1 gave 4, J3 gave 9: what did each of you see?"
    assert only(spread(J1=4, J2=4, J3=4, J4="8.5")) == (
        "J1, J2 and J3 gave 4, J4 gave 8.5: what did each of you see?"
    )


def test_pass_or_fail_is_said_in_those_words():
    assert only(spread(TANK, J1=0, J2=1)) == "J1 failed it, J2 passed it: what did each of you see?"
    assert mark_words(HUB, Decimal("7.50")) == "gave 7.5"
    assert mark_words(HUB, Decimal(10)) == "gave 10"


def test_judges_who_could_not_mark_a_row_are_asked_about_the_row():
    assert only(spread(J1=7, J2=7, absent=["J3"])) == (
        "J3 wrote “not applicable”, J1 and J2 gave a mark: which is it here?"
    )
    assert only(spread(J1=7, unseen=["J2"])) == (
        "J2 could not inspect it, J1 could: how did you get to see it?"
    )
    assert only(spread(absent=["J1"], unseen=["J2"])) == (
        "J1 wrote “not applicable”, J2 “not inspected”: is it on this wagon?"
    )


def test_both_questions_stand_together():
    sentence = only(spread(J1=3, J2=9, unseen=["J3"]))
    assert sentence == (
        "J1 gave 3, J2 gave 9: what did each of you see? "
        "J3 could not inspect it, J1 and J2 could: how did you get to see it?"
    )


def test_rows_close_together_raise_no_question_and_the_widest_comes_first():
    other = Criterion("yoke", "Yoke", Decimal(10), Decimal(1))
    points = talking_points([spread(J1=5, J2=7), spread(J1=5, J2=6), spread(other, J1=1, J2=9)])
    assert [point.row.code for point in points] == ["yoke", "hub"]


@pytest.mark.parametrize(
    ("severity", "words"),
    [
        (Severity("J1", None, 0, None), "No row of this judge was marked by another judge too."),
        (Severity("J1", Fraction(1, 5), 1, None), "Rests on 1 row only; too few to say."),
        (Severity("J1", Fraction(1, 5), 4, 0.01), "Rests on 4 rows only; too few to say."),
        (
            Severity("J1", Fraction(1, 5), 9, 0.03),
            "Marks higher than the others: 2.0 on a row of ten, give or take 0.6.",
        ),
        (
            Severity("J1", Fraction(-1, 5), 9, 0.03),
            "Marks lower than the others: 2.0 on a row of ten, give or take 0.6.",
        ),
        (
            Severity("J1", Fraction(1, 20), 9, 0.03),
            "No clear difference: 0.5 higher on a row of ten, give or take 0.6.",
        ),
        (
            Severity("J1", Fraction(0), 9, 0.03),
            "Level with the others, give or take 0.6 on a row of ten.",
        ),
    ],
)
def test_a_severity_says_how_sure_it_is(severity: Severity, words: str):
    assert severity_words(severity) == words


def test_no_sentence_blames():
    blaming = ("wrong", "mistake", "error", "too strict", "too lenient", "harsh", "bad", "fault")
    said = [
        only(spread(J1=0, J2=10, absent=["J3"], unseen=["J4"])),
        *(severity_words(Severity("J1", Fraction(n, 10), 9, 0.03)) for n in (-9, 0, 9)),
        scale_words(ScaleUse("J1", 9, Fraction(1), Fraction(1), Fraction(1), 9)),
    ]
    assert [(word, text) for word in blaming for text in said if word in text.lower()] == []


def test_the_part_of_the_scale_is_said_and_one_mark_is_asked_about():
    assert scale_words(ScaleUse("J1", 0)) == "No mark yet."
    few = ScaleUse("J1", 4, Fraction(1, 2), Fraction(1, 2), Fraction(1, 2), 4)
    assert scale_words(few) == "Only 5.0 of ten."
    same = ScaleUse("J1", 5, Fraction(1, 2), Fraction(1, 2), Fraction(1, 2), 5)
    assert scale_words(same) == (
        "Only 5.0 of ten. 5 of 5 rows have the same mark: were they alike?"
    )


def test_shares_are_rounded_half_up():
    assert [of_ten(Fraction(n, 200)) for n in (1, 3, 199)] == ["0.1", "0.2", "10.0"]
