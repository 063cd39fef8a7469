"""What a feedback sheet says of an entry beside its class."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from statistics import median

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.cards.scorecard import Criterion, Mark, MarkState, Section
from reports.rules import chart, sheet
from reports.rules.letters import judge_letters

points = st.decimals(0, 75, places=2)


def line(own: str, *others: str, possible: str = "75") -> sheet.SectionLine:
    field = [Decimal(own), *map(Decimal, others)]
    return sheet.section_line(
        code="s", name="Harness", possible=Decimal(possible), own=Decimal(own), field=field
    )


def row(code: str) -> Criterion:
    return Criterion(code, code.upper(), Decimal(10), Decimal(1))


def standing(code: str, own: int, middle: int) -> sheet.RowStanding:
    shares = Fraction(own, 10), Fraction(middle, 10)
    return sheet.RowStanding(code, code.upper(), Decimal(10), *shares)


@given(st.lists(points, min_size=1, max_size=40))
def test_middle_and_range_agree_with_another_reckoning(field: list[Decimal]) -> None:
    got = sheet.section_line(code="s", name="S", possible=Decimal(75), own=field[0], field=field)
    assert got.lowest == min(field)
    assert got.highest == max(field)
    assert abs(got.middle - median(field)) <= Decimal("0.005")
    assert got.lowest <= got.middle <= got.highest


def test_the_own_points_belong_to_the_class() -> None:
    with pytest.raises(ValueError, match="not among"):
        sheet.section_line(
            code="s", name="S", possible=Decimal(75), own=Decimal(3), field=[Decimal(4)]
        )
    with pytest.raises(ValueError, match="worth nothing"):
        line("0", possible="0")


def test_one_wagon_far_behind_does_not_move_the_middle() -> None:
    assert line("60", "61", "62").middle == line("60", "61", "0").middle + 1
    assert line("60", "61", "62", "63").middle == Decimal("61.50")


@given(st.lists(points, min_size=1, max_size=20))
def test_every_point_of_the_chart_lies_on_its_scale(field: list[Decimal]) -> None:
    lines = [
        sheet.section_line(code="s", name="S", possible=Decimal(75), own=own, field=field)
        for own in field
    ]
    axis = sheet.axis(lines)
    assert 0 <= axis.low < axis.high == 100
    assert 2 <= len(axis.ticks) <= 6
    for one in lines:
        bar = chart.bar(one, axis)
        assert chart.MARGIN <= bar.lowest_x <= bar.middle_x <= bar.highest_x
        assert bar.lowest_x <= bar.own_x <= bar.highest_x <= chart.WIDTH - chart.MARGIN
        assert bar.width >= 1


def test_adjusted_points_over_the_maximum_widen_the_scale() -> None:
    assert sheet.axis([line("78", "60")]) == sheet.Axis(80, 110)


def test_rows_are_set_beside_those_of_entries_that_have_a_mark_there() -> None:
    shares = {
        "own": {"a": Fraction(9, 10), "b": Fraction(5, 10), "c": Fraction(1)},
        "two": {"a": Fraction(7, 10), "b": Fraction(6, 10)},
        "three": {"a": Fraction(3, 10)},
    }
    got = sheet.standings([row("a"), row("b"), row("c"), row("d")], "own", shares)
    assert [one.code for one in got] == ["a", "b"]  # nobody else has c, the own entry no d
    assert got[0].middle_share == Fraction(7, 10)
    assert got[1].words == "0.5 below the middle of the class"


def test_words_say_what_the_printed_figures_say() -> None:
    shares = Fraction(704, 1000), Fraction(699, 1000)
    level = sheet.RowStanding("a", "A", Decimal(10), *shares)
    assert (level.own_mark, level.middle_mark) == (Decimal("7.0"), Decimal("7.0"))
    assert level.words == "level with the middle of the class"


@given(st.lists(st.tuples(st.integers(0, 10), st.integers(0, 10)), max_size=60))
def test_no_row_is_on_both_lists_and_the_lists_are_in_order(marks: list[tuple[int, int]]) -> None:
    rows = [standing(f"r{n}", own, middle) for n, (own, middle) in enumerate(marks)]
    named = sheet.pick(rows)
    strong = [one.code for one in named.strongest]
    weak = [one.code for one in named.worth_work]
    assert not set(strong) & set(weak)
    assert len(strong) == min(3, len(rows) - len(weak))
    ahead = [one.ahead_share for one in (*named.strongest, *reversed(named.worth_work))]
    assert ahead == sorted(ahead, reverse=True)


def test_a_single_row_is_called_what_it_is() -> None:
    assert sheet.pick([standing("a", 7, 6)]).strongest[0].code == "a"
    assert sheet.pick([standing("a", 5, 6)]).worth_work[0].code == "a"
    assert sheet.pick([]) == sheet.Picked((), ())


@pytest.mark.parametrize(
    ("place", "sharing", "of", "words"),
    [
        (1, 2, 15, "first of 15 entries, shared"),
        (5, 1, 15, "in the upper third of 15 entries"),
        (6, 1, 15, "in the middle third of 15 entries"),
        (11, 1, 15, "in the lower third of 15 entries"),
        (15, 1, 15, "in the lower third of 15 entries"),
        (2, 14, 15, "in the middle third of 15 entries"),
        (5, 1, 5, "fifth of 5 entries"),
    ],
)
def test_bands(place: int, sharing: int, of: int, words: str) -> None:
    assert sheet.band_words(place, sharing, of) == words


def test_rows_left_out_are_counted_by_judge_and_rig() -> None:
    card = Section(
        "s",
        "S",
        Decimal(10),
        4,
        (
            row("a"),
            row("b"),
            Criterion("c", "C", Decimal(10), Decimal(1), applies={"hitch": ["x"]}),
        ),
    )
    unseen, absent = Mark(MarkState.NOT_INSPECTED), Mark(MarkState.NOT_APPLICABLE)
    one = {"a": unseen, "b": Mark(MarkState.MARKED, Decimal("0.00")), "c": absent}
    two = {"a": unseen, "b": absent}
    got = sheet.count_rows(card, {"hitch": "team"}, [one, two])
    assert (got.on_rig, got.off_rig) == (2, 1)
    assert got.zero == (("B", 1, 2),)
    assert got.not_inspected == (("A", 2, 2),)
    assert got.not_applicable == (("B", 1, 2),)
    assert not got.all_counted


def test_a_missing_mark_is_no_zero_and_rows_above_zero_all_count() -> None:
    card = Section("s", "S", Decimal(10), 4, (row("a"), row("b")))
    marked = Mark(MarkState.MARKED, Decimal(1))
    got = sheet.count_rows(card, {}, [{"a": marked}, {"a": marked, "b": marked}])
    assert (got.zero, got.not_applicable, got.not_inspected) == ((), (), ())
    assert got.all_counted


def test_letters_stay_on_a_sheet_and_change_between_sheets() -> None:
    judges = [f"J{n}" for n in range(30)]
    again = judge_letters(reversed(judges), "one")
    assert judge_letters(judges, "one") == again
    assert len(set(again.values())) == 30
    assert again != judge_letters(judges, "two")
    assert "Judge A2" in again.values()
