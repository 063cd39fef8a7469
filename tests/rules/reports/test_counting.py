"""How each way to make totals is told on paper: what it can give, and how it adds up."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.results import method_figures
from judging.rules.results.methods import METHODS, SAID
from judging.rules.results.section_points import SectionPoints
from reports.rules import counting
from reports.rules.counting import Given
from reports.rules.gaps import missing_said

points = st.decimals(0, 20, places=2)


def test_every_method_that_may_be_declared_is_told() -> None:
    assert set(counting.TOLD) == set(METHODS) == set(SAID)
    for method in METHODS:
        assert counting.method_words(method).split(":")[0] == SAID[method].split(":")[0]
        assert "'" not in counting.method_words(method)


@given(st.lists(st.lists(points, min_size=4, max_size=4), min_size=2, max_size=5))
def test_no_section_comes_to_more_than_it_can_give(cards: list[list[Decimal]]) -> None:
    entries, judges = list(range(len(cards))), "ABCD"
    wrote = [
        SectionPoints(entry, judge, "s", value)
        for entry, row in enumerate(cards)
        for judge, value in zip(judges, row, strict=True)
    ]
    for method in ("plain", "mean", "trimmed", "placings"):
        totals = METHODS[method](wrote, entries, ["s"], {"s": 4}).by_section
        most = method_figures.can_give(method, Decimal(20), 4, len(entries))
        assert max(totals[entry]["s"] for entry in entries) <= most


@pytest.mark.parametrize("method", METHODS)
def test_a_perfect_section_comes_to_all_it_can_give(method: str) -> None:
    best, worse = Decimal("20.00"), (Decimal("11.00"), Decimal("9.00"))
    cards = [
        SectionPoints(entry, judge, "s", best if entry == 0 else worse[entry - 1] - nth)
        for entry in range(3)
        for nth, judge in enumerate("ABCD")
    ]
    totals = METHODS[method](cards, [0, 1, 2], ["s"], {"s": 4})
    most = method_figures.can_give(method, Decimal(20), 4, 3)
    assert totals.by_section[0]["s"] == pytest.approx(most, abs=Decimal("0.01"))


@given(st.lists(points, min_size=1, max_size=12))
def test_one_judges_comparisons_add_up_as_the_method_adds_them(field: list[Decimal]) -> None:
    told = [counting.with_place(one, [*field[:n], *field[n + 1 :]]) for n, one in enumerate(field)]
    cards = [
        SectionPoints(n, judge, "s", one) for n, one in enumerate(field) for judge in ("A", "B")
    ]
    totals = METHODS["placings"](cards, list(range(len(field))), ["s"], {"s": 2}).by_section
    assert [totals[n]["s"] for n in range(len(field))] == [2 * one.won for one in told]
    best = [one for one in told if one.place == 1]
    assert all(one.level == len(best) - 1 for one in best)


def test_the_highest_and_the_lowest_are_named_as_dropped_even_when_all_are_level() -> None:
    level = [Given(Decimal("8.00"))] * 4
    assert counting.reckoning("trimmed", level) == "8.00, 8.00; dropped 8.00 and 8.00"
    one_missing = [Given(Decimal(n)) for n in (7, 9, 8)] + [Given(None, Decimal("8"))]
    assert counting.reckoning("trimmed", one_missing) == (
        "8.00, 8.00 (the mean, for a missing card); dropped 7.00 and 9.00"
    )


def test_nothing_stands_for_a_missing_card_where_totals_are_estimated() -> None:
    cards = [Given(Decimal("31.5")), Given(None)]
    assert counting.reckoning("crossed", cards) == "31.50 + a card missing"
    assert counting.reckoning("mean", [Given(Decimal(4)), Given(Decimal("5.5"))]) == "4.00, 5.50"


def test_figures_of_places_are_counts_and_those_of_points_have_two_decimals() -> None:
    assert method_figures.figure("placings", Decimal("10.00")) == "10"
    assert method_figures.figure("plain", Decimal(10)) == "10.00"
    assert method_figures.out_of("mean", Decimal("100.50")) == "of 100.5 points"
    assert method_figures.out_of("placings", Decimal(12)) == "of 12 comparisons won"


def test_the_line_on_method_says_what_the_three_states_did() -> None:
    assert counting.method_line(method="plain", judges=3, unseen_is_zero=False) == (
        "Plain total: all judges’ points added. Three judges a section. Zero is a mark; rows that "
        "do not apply or could not be inspected are left out."
    )
    assert counting.method_line(method="placings", judges=1, unseen_is_zero=True).endswith(
        "level with. One judge a section. Zero is a mark; rows that do not apply are left out, "
        "rows that could not be inspected count as zero."
    )


NAMES = {"b": "Wagon box", "h": "Harness", "c": "Camp kit"}


def gap(entry: int, judge: str, section: str) -> dict[str, object]:
    return {"entry": entry, "judge": judge, "section": section, "rows": 4, "handed_in": False}


def test_a_missing_card_is_named_by_letter_to_its_own_wagon_only() -> None:
    gaps = [gap(4, "J2", "h"), gap(4, "J2", "b"), gap(7, "J2", "h"), gap(9, "J1", "h")]
    gaps += [gap(9, "J2", "h"), gap(9, "J1", "b"), gap(9, "J2", "b")]
    gaps += [gap(8, "J1", code) for code in NAMES]
    letters = {"J1": "Judge A", "J2": "Judge C"}
    told = missing_said(gaps, "mean", NAMES, own=4, letters=letters)
    assert told is not None
    assert told.own == "Judge C, Wagon box and Harness"
    assert told.others == (
        "entry 7, Harness; entry 8, all sections; entry 9, Wagon box and Harness (two judges)"
    )
    assert told.counted.startswith("No missing card was counted as zero: in its place")
    estimated = missing_said(gaps, "crossed", NAMES, own=7)
    assert estimated is not None
    assert estimated.own == "one judge, Harness"
    assert "estimated" in estimated.counted
    assert missing_said([], "plain", NAMES, own=4) is None


@pytest.mark.parametrize(
    ("n", "end"), [(8, "entry 8, Harness"), (9, "one more entry"), (10, "two more entries")]
)
def test_a_long_list_of_missing_cards_is_cut(n: int, end: str) -> None:
    told = missing_said([gap(k, "J1", "h") for k in range(1, n + 1)], "plain", NAMES)
    assert told is not None
    assert told.others.count("Harness") == 8
    assert told.others.endswith(end)
