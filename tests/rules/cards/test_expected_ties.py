"""Equal totals foretold from invented marks."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from judging.rules.cards.expected_ties import TRIALS, expect_ties
from judging.rules.cards.scorecard import Criterion, Form, Section


def section(rows: int, most: str = "10", step: str = "1", **more: Any) -> Section:
    of_row = more.pop("row", {})
    criteria = tuple(
        Criterion(f"r{n}", f"Row {n}", Decimal(most), Decimal(step), **of_row) for n in range(rows)
    )
    return Section("s", "S", Decimal(more.pop("points", 20)), 5, criteria, **more)


def sharing(*sections: Section, entries: int = 12, judges: int = 1, **more: Any) -> float:
    return expect_ties(sections, entries=entries, judges=judges, **more).sharing


def test_the_same_seed_gives_the_same_answer_and_another_seed_a_near_one() -> None:
    coarse = section(5)
    first = expect_ties([coarse], entries=12, judges=2, seed=3)
    assert first == expect_ties([coarse], entries=12, judges=2, seed=3)
    other = expect_ties([coarse], entries=12, judges=2, seed=4)
    assert other != first
    assert other.sharing == pytest.approx(first.sharing, abs=1)
    assert first.trials == TRIALS


def test_finer_steps_more_rows_and_more_judges_part_wagons() -> None:
    coarse = sharing(section(4))
    assert coarse > sharing(section(4, step="0.25")) > 0
    assert coarse > sharing(section(16))
    assert coarse > sharing(section(4), judges=4)
    assert coarse < sharing(section(4), entries=26)


def test_a_card_that_cannot_part_wagons_has_them_all_share() -> None:
    # a single row of pass or fail gives two totals for twenty-six wagons
    gate = section(1, most="1", form=Form.PASS_FAIL)
    assert sharing(gate, entries=26) > 24
    assert sharing(section(3, points=0), entries=9) == 9, "worth nothing: all totals are zero"


def test_one_wagon_shares_with_nobody() -> None:
    assert sharing(section(1), entries=1) == 0
    assert sharing(section(1, most="99", form=Form.PLACINGS), entries=1) == 0


def test_one_judges_places_never_tie_and_two_judges_places_may() -> None:
    places = section(1, most="99", form=Form.PLACINGS)
    assert sharing(places, entries=9, judges=1) == 0
    assert sharing(places, entries=9, judges=2) > 1


def test_all_or_nothing_leaves_two_totals_so_two_of_three_wagons_share() -> None:
    gate = {"most": "1", "form": Form.PASS_FAIL}
    assert sharing(section(30, **gate), entries=3) < 2
    assert sharing(section(30, **gate, all_or_nothing=True), entries=3) >= 2


def test_rows_that_are_not_on_the_wagons_part_nobody() -> None:
    drop = section(8, row={"applies": {"tongue": ["drop"]}})
    assert sharing(drop, rigs=[{"tongue": "stiff"}]) == 12, "nobody has a row"
    assert sharing(drop, rigs=[{"tongue": "drop"}]) == sharing(section(8))
    mixed = sharing(drop, rigs=[{"tongue": "stiff"}, {"tongue": "drop"}])
    assert 6 <= mixed < 12, "every other wagon has none"


def test_a_long_card_is_tried_fewer_times() -> None:
    long = expect_ties([section(2_000)], entries=26, judges=5)
    assert 1 <= long.trials < TRIALS


def test_the_first_place_is_shared_less_often_than_some_place() -> None:
    forecast = expect_ties([section(3)], entries=14, judges=1)
    assert 0 < forecast.first_shared < 1
    assert forecast.first_shared < forecast.sharing


@pytest.mark.parametrize(("entries", "judges"), [(0, 3), (3, 0)])
def test_a_class_has_somebody_in_it(entries: int, judges: int) -> None:
    with pytest.raises(ValueError, match="at least one wagon and one judge"):
        expect_ties([section(1)], entries=entries, judges=judges)


def test_an_exact_count_for_two_wagons_and_a_coin() -> None:
    """Two wagons and one row of pass or fail tie when both pass or both fail."""
    found = sharing(section(1, most="1", form=Form.PASS_FAIL), entries=2)
    # a pass is a normal of mean .7 and variance .1² + .15² from one half on: .8664
    passes = Fraction(8664, 10_000)
    alike = 2 * float(passes**2 + (1 - passes) ** 2)
    assert found == pytest.approx(alike, abs=0.25)
