"""Season standings."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.results.placing import competition_ranks
from judging.rules.results.season import CountedClass, points_of_place, read_table, standings

TABLES = st.lists(st.decimals(0, 50, places=2), min_size=1, max_size=6).map(
    lambda points: sorted(points, reverse=True)
)
# Places of up to five exhibitors, ties and several wagons included.
CLASSES = st.lists(
    st.tuples(
        st.sampled_from(["spring", "june", "fall", "late"]),
        st.lists(st.tuples(st.sampled_from("ABCDE"), st.integers(0, 4)), min_size=1, max_size=8),
    ).map(
        lambda one: CountedClass(
            one[0],
            tuple(
                zip(
                    [name for name, _ in one[1]],
                    competition_ranks([Decimal(total) for _, total in one[1]]),
                    strict=True,
                )
            ),
        )
    ),
    max_size=6,
)
BEST = st.one_of(st.none(), st.integers(1, 4))


@given(TABLES, st.lists(st.integers(0, 6), min_size=1, max_size=9))
def test_a_class_hands_out_the_same_points_with_and_without_ties(table, totals):
    places = competition_ranks([Decimal(total) for total in totals])
    given_out = sum(points_of_place(table, place, places.count(place)) for place in places)
    assert given_out == sum((Fraction(points) for points in table[: len(totals)]), Fraction(0))


@given(CLASSES, TABLES, BEST, st.randoms(use_true_random=False))
def test_the_order_of_the_shows_does_not_matter(classes, table, best_of, chance):
    before = standings(classes, table, best_of)
    chance.shuffle(classes)
    after = standings(classes, table, best_of)
    assert {(line.exhibitor, line.place, line.total, line.shows) for line in before} == {
        (line.exhibitor, line.place, line.total, line.shows) for line in after
    }


@given(CLASSES, CLASSES.filter(bool), TABLES, BEST)
def test_another_show_never_lowers_a_total(classes, more, table, best_of):
    added = CountedClass("added", more[0].places)
    before = {line.exhibitor: line.total for line in standings(classes, table, best_of)}
    after = {line.exhibitor: line.total for line in standings([*classes, added], table, best_of)}
    assert all(after[exhibitor] >= total for exhibitor, total in before.items())


@given(CLASSES, TABLES, BEST)
def test_what_counts_adds_up_and_is_the_best(classes, table, best_of):
    lines = standings(classes, table, best_of)
    for line in lines:
        counted = [show.points for show in line.shows if show.counts]
        dropped = [show.points for show in line.shows if not show.counts]
        assert line.total == sum(counted, Fraction(0))
        assert len(counted) == min(len(line.shows), best_of or len(line.shows))
        assert not dropped or max(dropped) <= min(counted)
    assert [line.place for line in lines] == sorted(line.place for line in lines)
    for ahead, behind in pairwise(lines):
        assert ahead.total >= behind.total


def two(ana: list[int], ben: list[int], table: list[int], best_of: int | None = None) -> list:
    """Standings of two exhibitors who took these places in one show after the other."""
    classes = [
        CountedClass(f"show {n}", (("Ana", a), ("Ben", b)))
        for n, (a, b) in enumerate(zip(ana, ben, strict=True))
    ]
    found = standings(classes, [Decimal(points) for points in table], best_of)
    return [(line.exhibitor, line.place) for line in found]


def test_equal_points_are_parted_by_firsts_then_seconds_then_thirds():
    assert two([2, 2], [1, 4], [4, 3, 3, 2]) == [("Ben", 1), ("Ana", 2)]
    assert two([3, 5], [4, 4], [9, 5, 4, 3, 2]) == [("Ana", 1), ("Ben", 2)]
    # As many firsts, and one of them has a further place that the other lacks.
    classes = [
        CountedClass("spring", (("Ana", 1), ("Cal", 2))),
        CountedClass("fall", (("Ben", 1), ("Cal", 2))),
        CountedClass("late", (("Ben", 3), ("Cal", 1), ("Dot", 2))),
    ]
    found = standings(classes, [Decimal(5), Decimal(0), Decimal(0)])
    assert [(line.exhibitor, line.place) for line in found[:3]] == [
        ("Cal", 1),
        ("Ben", 2),
        ("Ana", 3),
    ]


def test_what_nothing_parts_shares_the_place():
    assert two([1, 2], [2, 1], [5, 3]) == [("Ana", 1), ("Ben", 1)]


def test_of_shows_with_equal_points_the_better_places_count():
    assert two([3, 1], [1, 9], [4, 4, 4], best_of=1) == [("Ana", 1), ("Ben", 1)]


def test_the_best_wagon_of_an_exhibitor_counts_in_a_class():
    (line,) = standings(
        [CountedClass("spring", (("Ana", 2), ("Ana", 1)))], [Decimal(5), Decimal(3)]
    )
    assert (line.total, line.shows[0].places) == (Fraction(5), (1,))


@pytest.mark.parametrize(
    "texts",
    [[], ["1"] * 101, ["ten"], ["-1"], ["NaN"], ["Infinity"], ["1.001"], ["3", "5"], ["10001"]],
)
def test_a_table_that_is_none_is_refused(texts):
    with pytest.raises(ValueError, match=r"\.$|please"):
        read_table(texts)


def test_places_and_shows_that_cannot_be_are_refused():
    with pytest.raises(ValueError, match="no place 0"):
        points_of_place([Decimal(1)], 0)
    with pytest.raises(ValueError, match="At least one"):
        standings([], [Decimal(1)], 0)


def test_a_place_may_be_worth_nothing_and_the_first_as_much_as_is_said():
    assert read_table(["10000", "5", "0"]) == (Decimal(10000), Decimal(5), Decimal(0))
