"""Mean, trimmed mean and placings as ways to make totals."""

from decimal import Decimal
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.results.placing import competition_ranks
from judging.rules.results.section_points import SectionPoints
from judging.rules.results.totals import plain
from judging.rules.results.totals_more import by_placings, mean, trimmed, trimmed_mean

METHODS = {"mean": mean, "trimmed": trimmed, "by_placings": by_placings}
HUNDREDTHS = st.integers(0, 5000).map(lambda cents: Decimal(cents) / 100)


def cards(table: list[list[Decimal]], section: str = "trail") -> list[SectionPoints[str]]:
    return [
        SectionPoints(f"E{row}", f"J{column}", section, points)
        for row, line in enumerate(table)
        for column, points in enumerate(line)
    ]


def table(judges: int) -> Any:
    return st.lists(st.lists(HUNDREDTHS, min_size=judges, max_size=judges), min_size=1, max_size=6)


@given(table(5))
def test_means_are_within_half_a_hundredth_of_the_exact_ones(drawn: list[list[Decimal]]) -> None:
    entries = [f"E{row}" for row in range(len(drawn))]
    whole = mean(cards(drawn), entries, ["trail"], {"trail": 5})
    cut = trimmed(cards(drawn), entries, ["trail"], {"trail": 5})
    for entry, line in zip(entries, drawn, strict=True):
        for total, exact in (
            (whole.total[entry], Fraction(sum(line)) / 5),
            (cut.total[entry], Fraction(sum(sorted(line)[1:-1])) / 3),
        ):
            assert total is not None and total == total.quantize(Decimal("0.01"))
            assert -Fraction(1, 200) < Fraction(total) - exact <= Fraction(1, 200)


def test_a_half_is_rounded_up() -> None:
    half = cards([[Decimal("0.01"), Decimal("0.02")]])
    assert mean(half, ["E0"], ["trail"], {"trail": 2}).total == {"E0": Decimal("0.02")}


@given(table(4))
def test_one_judges_favour_moves_a_trimmed_total_no_farther_than_the_next_judge(
    drawn: list[list[Decimal]],
) -> None:
    entries = [f"E{row}" for row in range(len(drawn))]
    favoured = [[Decimal(1000), *drawn[0][1:]], *drawn[1:]]
    total = trimmed(cards(favoured), entries, ["trail"], {"trail": 4}).total["E0"]
    rest = sorted(drawn[0][1:])
    assert total is not None
    assert abs(Fraction(total) - Fraction(sum(rest[1:])) / 2) <= Fraction(1, 200)


@given(table(3), st.lists(HUNDREDTHS, min_size=3, max_size=3))
def test_severity_changes_no_placings(drawn: list[list[Decimal]], severity: list[Decimal]) -> None:
    entries = [f"E{row}" for row in range(len(drawn))]
    moved = [[a + b for a, b in zip(line, severity, strict=True)] for line in drawn]
    before, after = (
        by_placings(cards(points), entries, ["trail"], {"trail": 3}).total
        for points in (drawn, moved)
    )
    assert before == after


def test_placings_total_the_places_of_each_section() -> None:
    trail = [[Decimal(30), Decimal(20)], [Decimal(20), Decimal(20)], [Decimal(10), Decimal(5)]]
    food = [[Decimal(1)] * 2, [Decimal(2)] * 2, [Decimal(3)] * 2]
    points = cards(trail) + cards(food, "food")
    found = by_placings(points, ["E0", "E1", "E2"], ["trail", "food"], {"trail": 2, "food": 2})
    half = Decimal("3.5")
    assert found.by_section["E0"] == {"trail": half, "food": Decimal(0)}
    assert found.total == {"E0": half, "E1": Decimal("4.5"), "E2": Decimal(4)}
    assert competition_ranks(list(found.complete.values())) == [3, 1, 2]


def test_too_few_judges_are_refused_in_words() -> None:
    three = cards([[Decimal(1), Decimal(2), Decimal(3)]])
    found = trimmed(three, ["E0"], ["trail"], {"trail": 3})
    assert found.refused is not None and "4 judges or more" in found.refused
    assert "section trail" in found.refused
    assert found.total == {"E0": None}
    one = by_placings(cards([[Decimal(1)]]), ["E0"], ["trail"], {"trail": 1})
    assert one.refused is not None and "there is one in section trail" in one.refused


def test_judges_who_did_not_see_every_entry_cannot_place_them() -> None:
    points = [
        SectionPoints(entry, judge, "trail", Decimal(5))
        for entry, judge in (("A", "J1"), ("A", "J2"), ("B", "J2"), ("B", "J3"))
    ]
    found = by_placings(points, ["A", "B"], ["trail"], {"trail": 2})
    assert found.refused is not None and "some did not in section trail" in found.refused
    assert found.total == {"A": None, "B": None}


@pytest.mark.parametrize("name", METHODS)
def test_an_incomplete_entry_has_no_total(name: str) -> None:
    points = [
        SectionPoints(entry, judge, "trail", Decimal(mark))
        for entry, judge, mark in (("A", 1, 5), ("A", 2, 6), ("A", 3, 7), ("A", 4, 8), ("B", 1, 9))
    ]
    found = METHODS[name](points, ["A", "B"], ["trail"], {"trail": 4})
    assert found.total["B"] is None and found.total["A"] is not None
    assert [(gap.entry, gap.have, gap.need) for gap in found.missing] == [("B", 1, 4)]
    assert found.missing == plain(points, ["A", "B"], ["trail"], {"trail": 4}).missing


@pytest.mark.parametrize("name", METHODS)
def test_what_does_not_belong_is_refused_as_by_the_plain_sum(name: str) -> None:
    with pytest.raises(ValueError, match="not in this class"):
        METHODS[name](cards([[Decimal(1)]]), ["X"], ["trail"], {"trail": 1})
    with pytest.raises(ValueError, match="must be rounded"):
        METHODS[name](cards([[Decimal("0.001")]]), ["E0"], ["trail"], {"trail": 1})


@pytest.mark.parametrize(("values", "drop"), [([], 0), ([1, 2], 1), ([1, 2, 3], -1)])
def test_nothing_left_is_refused(values: list[Any], drop: int) -> None:
    with pytest.raises(ValueError, match="cannot be dropped"):
        trimmed_mean(values, drop)


@pytest.mark.parametrize(("judges", "drop", "thrown_away"), [(3, 1, 26), (4, 1, 16), (5, 1, 12)])
def test_what_dropping_the_highest_and_the_lowest_costs(
    judges: int, drop: int, thrown_away: int
) -> None:
    """Variance of the mean over that of the trimmed mean, of 40,000 panels of normal marks."""
    marks = np.sort(np.random.default_rng(judges).normal(size=(40_000, judges)), axis=1)
    trimmed_marks = marks[:, drop : judges - drop].mean(axis=1)
    one = [Fraction(float(mark)) for mark in marks[0]]
    assert float(trimmed_mean(one, drop)) == pytest.approx(trimmed_marks[0])  # type: ignore[arg-type]
    kept = marks.mean(axis=1).var() / trimmed_marks.var()
    assert 100 * (1 - kept) == pytest.approx(thrown_away, abs=2.5)
