"""Classes with cards missing: what is there scaled up, and how far the missing could reach."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.rules.results.class_result import ClassCase, class_result
from judging.rules.results.incomplete import (
    EVERY_FILLING_UP_TO,
    Gap,
    at_the_mean,
    places_within_reach,
    totals_of_what_is_there,
)
from judging.rules.results.methods import METHODS
from judging.rules.results.placing import place
from judging.rules.results.section_points import SectionPoints

WORTH = {"trail": Decimal(20), "food": Decimal(10)}
LADDER = ("food",)


def points_of(section: str, judges: str, drawn: dict[int, list[int]]) -> list[SectionPoints[int]]:
    return [
        SectionPoints(entry, judge, section, Decimal(mark))
        for entry, row in drawn.items()
        for judge, mark in zip(judges, row, strict=True)
    ]


@st.composite
def classes_with_gaps(
    draw: st.DrawFn, judges: str
) -> tuple[list[SectionPoints[int]], list[Gap[int]]]:
    """Up to four entries judged in two sections, with up to four cards taken away."""
    n = draw(st.integers(2, 4))
    cards = []
    for section, worth in WORTH.items():
        row = st.lists(st.integers(0, int(worth)), min_size=len(judges), max_size=len(judges))
        cards += points_of(section, judges, {entry: draw(row) for entry in range(1, n + 1)})
    lost = draw(st.lists(st.sampled_from(range(len(cards))), min_size=1, max_size=4, unique=True))
    gaps = [Gap(cards[i].entry, cards[i].judge, cards[i].section) for i in lost]
    return [card for i, card in enumerate(cards) if i not in lost], gaps


def brute_force(
    method: str, points: list[SectionPoints[int]], gaps: list[Gap[int]], need: int
) -> dict[int, tuple[int, int]]:
    """Try nought, half and the full points on every missing card."""
    entries = sorted({card.entry for card in points} | {gap.entry for gap in gaps})
    seen: dict[int, list[int]] = {entry: [] for entry in entries}
    for shares in product((Decimal(0), Decimal("0.5"), Decimal(1)), repeat=len(gaps)):
        made = [
            SectionPoints(gap.entry, gap.judge, gap.section, WORTH[gap.section] * share)
            for gap, share in zip(gaps, shares, strict=True)
        ]
        required = dict.fromkeys(WORTH, need)
        totals = METHODS[method]([*points, *made], entries, list(WORTH), required)
        for line in place(totals.complete, totals.by_section, LADDER):
            seen[line.entry].append(line.place)
    return {entry: (min(places), max(places)) for entry, places in seen.items()}


def reach(
    method: str, points: list[SectionPoints[int]], gaps: list[Gap[int]], need: int
) -> dict[int, tuple[int, int]]:
    entries = sorted({card.entry for card in points} | {gap.entry for gap in gaps})

    def places(cards: tuple[SectionPoints[int], ...]) -> dict[int, int] | None:
        required = dict.fromkeys(WORTH, need)
        totals = METHODS[method]([*points, *cards], entries, list(WORTH), required)
        if totals.refused:
            return None
        return {
            line.entry: line.place for line in place(totals.complete, totals.by_section, LADDER)
        }

    return places_within_reach(
        gaps, entries, WORTH, places, every_up_to=EVERY_FILLING_UP_TO.get(method, 0)
    )


@pytest.mark.parametrize("method", ["plain", "mean"])
@given(drawn=classes_with_gaps("AB"))
@settings(max_examples=60, deadline=None)
def test_best_and_worst_are_those_of_brute_force(
    method: str, drawn: tuple[list[SectionPoints[int]], list[Gap[int]]]
) -> None:
    points, gaps = drawn
    assert reach(method, points, gaps, 2) == brute_force(method, points, gaps, 2)


@given(drawn=classes_with_gaps("ABCD"))
@settings(max_examples=20, deadline=None)
def test_best_and_worst_by_a_trimmed_mean_are_those_of_brute_force(
    drawn: tuple[list[SectionPoints[int]], list[Gap[int]]],
) -> None:
    points, gaps = drawn
    assert reach("trimmed", points, gaps, 4) == brute_force("trimmed", points, gaps, 4)


@given(drawn=classes_with_gaps("ABC"))
@settings(max_examples=15, deadline=None)
def test_places_of_judges_reach_as_far_as_any_extreme_filling(
    drawn: tuple[list[SectionPoints[int]], list[Gap[int]]],
) -> None:
    points, gaps = drawn
    assert len(gaps) <= EVERY_FILLING_UP_TO["placings"]
    found, tried = reach("placings", points, gaps, 3), brute_force("placings", points, gaps, 3)
    # Halves stand in the brute force too; an order can only be an extreme one or level with it.
    for entry, (best, worst) in found.items():
        assert tried[entry][0] <= best <= worst <= tried[entry][1]


@given(drawn=classes_with_gaps("ABC"))
@settings(max_examples=60, deadline=None)
def test_a_missing_card_counts_as_the_mean_of_those_there(
    drawn: tuple[list[SectionPoints[int]], list[Gap[int]]],
) -> None:
    points, gaps = drawn
    entries = sorted({card.entry for card in points} | {gap.entry for gap in gaps})
    need = dict.fromkeys(WORTH, 3)
    found = totals_of_what_is_there("plain", points, gaps, entries, list(WORTH), need)
    for entry in entries:
        for section in WORTH:
            there = [c.points for c in points if (c.entry, c.section) == (entry, section)]
            if not there:
                assert found.total[entry] is None
                assert section not in found.by_section[entry]
                continue
            exact = Fraction(sum(there, Decimal(0))) * 3 / len(there)
            off = Fraction(found.by_section[entry][section]) - exact
            assert -Fraction(1, 200) < off <= Fraction(1, 200)


def test_two_of_four_missing_add_up_to_the_mean_exactly() -> None:
    there = [SectionPoints(1, judge, "trail", Decimal(mark)) for judge, mark in
             (("A", "31.50"), ("B", "33.25"))]  # fmt: skip
    made = at_the_mean(there, [Gap(1, "C", "trail"), Gap(1, "D", "trail")])
    assert [str(card.points) for card in made] == ["32.38", "32.37"]
    (one,) = at_the_mean(there, [Gap(1, "C", "trail")])
    assert one.points == Decimal("32.38")


def test_adjusted_totals_need_nothing_made_up() -> None:
    """J3 scores four above J1: Bell, whose J3 card is missing, loses nothing by it."""
    wrote = {
        1: {"J1": 30, "J2": 32, "J3": 34},
        2: {"J1": 30, "J2": 32},
        3: {"J1": 20, "J2": 22, "J3": 24},
    }
    points = [
        SectionPoints(e, j, "trail", Decimal(p)) for e, row in wrote.items() for j, p in row.items()
    ]
    task = [1, 2, 3], ["trail"], {"trail": 3}
    gaps = [Gap(2, "J3", "trail")]
    adjusted = totals_of_what_is_there("judge_adjusted", points, gaps, *task)
    assert adjusted.total == {1: Decimal("96.00"), 2: Decimal("96.00"), 3: Decimal("66.00")}
    plain = totals_of_what_is_there("plain", points, gaps, *task)
    assert plain.total[2] == Decimal("93.00")
    refused = totals_of_what_is_there("placings", points, gaps, *task)
    assert (
        refused.refused == "Places need every judge's card of every entry; missing: J3 at entry 2."
    )


def test_a_complete_class_has_no_reach_and_an_entry_nobody_saw_no_place() -> None:
    points = points_of("trail", "AB", {1: [10, 12], 2: [8, 9]}) + points_of(
        "food", "AB", {1: [5, 5], 2: [6, 6]}
    )
    case = ClassCase("plain", points, [1, 2], WORTH, dict.fromkeys(WORTH, 2))
    assert [line.reach for line in class_result(case).lines] == [None, None]
    lost = [card for card in points if (card.entry, card.section) != (2, "food")]
    gaps = [Gap(2, judge, "food") for judge in "AB"]
    found = class_result(
        ClassCase("plain", lost, [1, 2], WORTH, dict.fromkeys(WORTH, 2), gaps=gaps)
    )
    assert (found.lines, found.unplaced) == ((), ((2, "food"),))


def test_a_class_says_how_far_its_missing_cards_reach() -> None:
    points = points_of("trail", "AB", {1: [10, 12], 2: [8, 9], 3: [0, 0]})
    points = [card for card in points if (card.entry, card.judge) != (2, "B")]
    case = ClassCase("plain", points, [1, 2, 3], {"trail": Decimal(20)}, {"trail": 2},
                     gaps=[Gap(2, "B", "trail")])  # fmt: skip
    assert {line.entry: (line.place, line.reach) for line in class_result(case).lines} == {
        1: (1, (1, 2)),
        2: (2, (1, 2)),
        3: (3, (3, 3)),
    }
