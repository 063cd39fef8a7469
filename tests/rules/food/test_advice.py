"""What a palate limit comes to, in sentences; and the limit that would do."""

from __future__ import annotations

import pytest

from judging.rules.food.advice import each_for, say_limit, say_tables
from judging.rules.panels.tables import design


def test_drawn_tables_are_told_with_what_they_are_worth():
    assert say_tables(design(20, 12, 5)) == (
        "20 dishes, 12 judges, 5 each: every dish tasted 3 times; efficiency 0.817 of 1; "
        "all judges can be compared."
    )
    assert say_tables(["AB", "CD", "AB"]) == (
        "4 dishes, 3 judges, 2 each: every dish tasted 1 to 2 times; efficiency 0.000 of 1; "
        "the tables fall apart: not all judges can be compared."
    )
    assert say_tables(["AB"]).startswith("2 dishes, 1 judge, 2 each: every dish tasted 1 time;")


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ((20, 12, 5), "every dish tasted 3 times; efficiency at most 0.818 of 1."),
        ((5, 4, 3), "every dish tasted 2 to 3 times; efficiency at most"),
        ((5, 4, 3), "Three tastings of every dish take 4 each."),
        ((20, 6, 4), "24 places, and to compare all dishes takes 25."),
        ((5, 4, 99), "5 dishes, 4 judges, 5 each: every dish tasted 4 times"),
        ((1, 4, 1), "Tables need two dishes and a judge at least."),
        ((4, 0, 1), "Tables need two dishes and a judge at least."),
    ],
)
def test_a_limit_is_told_before_the_draw(asked, said):
    assert said in say_limit(*asked)


@pytest.mark.parametrize(("dishes", "judges"), [(20, 12), (5, 4), (14, 3), (7, 7), (30, 2), (2, 9)])
def test_the_limit_that_would_do_does_and_one_less_does_not(dishes, judges):
    each = each_for(dishes, judges)
    places = judges * each
    assert each == dishes or (places >= 3 * dishes and places >= dishes + judges - 1)
    less = judges * (each - 1)
    assert each == 2 or less < 3 * dishes or less < dishes + judges - 1
