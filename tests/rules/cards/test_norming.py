"""The judges' marks on the practice wagon beside each other."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.cards.norming import (
    Marks,
    RowSpread,
    Severity,
    agreement,
    row_spreads,
    severities,
    to_discuss,
)
from judging.rules.cards.scorecard import Criterion, Mark, MarkState

UNSEEN = Mark(MarkState.NOT_INSPECTED)
ABSENT = Mark(MarkState.NOT_APPLICABLE)


def row(code: str, most: int | str = 10, step: int | str = 1, weight: int = 1) -> Criterion:
    return Criterion(code, code.title(), Decimal(most), Decimal(step), Decimal(weight))


def marked(value: int | str) -> Mark:
    return Mark(MarkState.MARKED, Decimal(value))


# Worked by hand:
#          hubs of 10         yoke of 5          box of 20          mean    standard error
#   J1     4-(7+9)/2 = -4     3-(3+5)/2 = -1     12-15 = -3
#          -0.40              -0.20              -0.15             -0.25   0.13229/root 3 = 0.07638
#   J2     7-(4+9)/2 = 0.5    3-(3+5)/2 = -1     15-12 = 3
#          +0.05              -0.20              +0.15              0.00   0.18028/root 3 = 0.10408
#   J3     9-(4+7)/2 = 3.5    5-(3+3)/2 = 2      not inspected
#          +0.35              +0.40                                +0.375  0.03536/root 2 = 0.025
ROWS = [row("hubs"), row("yoke", 5), row("box", 20)]
MARKS = {
    "J1": {"hubs": marked(4), "yoke": marked(3), "box": marked(12)},
    "J2": {"hubs": marked(7), "yoke": marked(3), "box": marked(15)},
    "J3": {"hubs": marked(9), "yoke": marked(5), "box": UNSEEN},
}


def test_severities_are_those_worked_by_hand():
    found = {one.judge: one for one in severities(ROWS, MARKS)}
    assert [one.share for one in found.values()] == [Fraction(-1, 4), 0, Fraction(3, 8)]
    assert [one.n_rows for one in found.values()] == [3, 3, 2]
    errors = [one.standard_error for one in found.values()]
    assert errors == pytest.approx([0.07638, 0.10408, 0.025], abs=0.00001)


def test_rows_come_widest_first_by_the_share_of_their_maximum():
    spreads = row_spreads(ROWS, MARKS)
    assert [spread.row.code for spread in spreads] == ["hubs", "yoke", "box"]
    assert [spread.share for spread in spreads] == [
        Fraction(1, 2),
        Fraction(2, 5),
        Fraction(3, 20),
    ]
    hubs, _, box = spreads
    assert hubs.given == (("J1", Decimal(4)), ("J2", Decimal(7)), ("J3", Decimal(9)))
    assert [hubs.lowest, hubs.middle, hubs.highest] == [Decimal(4), Decimal(7), Decimal(9)]
    assert hubs.steps == 5
    assert (box.n, box.middle, box.not_inspected) == (2, Decimal("13.5"), ("J3",))


def test_rows_equally_far_apart_keep_the_cards_order_and_untouched_rows_are_left_out():
    rows = [row("b"), row("idle"), row("a")]
    marks = {name: {"a": marked(m), "b": marked(m)} for name, m in (("J1", 5), ("J2", 6))}
    assert [spread.row.code for spread in row_spreads(rows, marks)] == ["b", "a"]


def test_a_step_counts_in_the_rows_own_steps():
    marks = {"J1": {"a": marked("3.5")}, "J2": {"a": marked(5)}}
    assert row_spreads([row("a", 10, "0.5")], marks)[0].steps == 3


def test_a_row_nobody_could_mark_has_no_numbers():
    spread = row_spreads([row("a")], {"J1": {"a": UNSEEN}, "J2": {"a": ABSENT}})[0]
    assert (spread.n, spread.lowest, spread.middle, spread.highest) == (0, None, None, None)
    assert not any([spread.apart, spread.steps, spread.share])
    assert spread.states_differ


@pytest.mark.parametrize(
    ("most", "step", "low", "high", "talk"),
    [
        (10, 1, 7, 7, False),
        (10, 1, 7, 8, False),  # neighbours on a fine scale
        (10, 1, 7, 9, True),
        (20, 1, 14, 15, False),  # exactly 5 %
        (20, 1, 13, 15, True),
        (50, 1, 40, 42, False),  # two steps, and 4 % only
        (50, 1, 40, 43, True),
        (5, 1, 3, 4, True),  # one step, and a fifth of the row
        (1, 1, 0, 1, True),  # pass or fail
    ],
)
def test_which_rows_are_worth_a_talk(most: int, step: int, low: int, high: int, talk: bool):
    given_marks = (("J1", Decimal(low)), ("J2", Decimal(high)))
    assert to_discuss(RowSpread(row("a", most, step), given_marks)) is talk


def test_judges_who_differ_on_whether_a_row_can_be_marked_should_talk():
    same = (("J1", Decimal(7)),)
    assert not to_discuss(RowSpread(row("a"), same))
    assert to_discuss(RowSpread(row("a"), same, not_applicable=("J2",)))
    assert to_discuss(RowSpread(row("a"), same, not_inspected=("J2",)))
    assert not to_discuss(RowSpread(row("a"), (), not_inspected=("J1", "J2")))


def test_totals_are_weighed_over_the_rows_that_all_of_them_marked():
    rows = [row("a", weight=3), row("b"), row("c")]
    marks = {
        "J1": {"a": marked(6), "b": marked(8), "c": marked(0)},
        "J2": {"a": marked(7), "b": marked(8), "c": UNSEEN},
        "J3": {"elsewhere": marked(9)},  # sits at another section
    }
    found = agreement(rows, marks)
    assert found is not None
    # (3x6 + 8) and (3x7 + 8) of 40
    assert (found.n_judges, found.n_rows) == (2, 2)
    assert (found.lowest, found.highest) == (Fraction(26, 40), Fraction(29, 40))
    assert found.share == Fraction(3, 40)
    assert found.worth_a_talk


def test_totals_five_percent_apart_are_let_be():
    marks = {"J1": {"a": marked(14)}, "J2": {"a": marked(15)}}
    found = agreement([row("a", 20)], marks)
    assert found is not None
    assert not found.worth_a_talk


def test_one_judge_or_no_common_row_has_no_agreement():
    assert agreement(ROWS, {"J1": MARKS["J1"]}) is None
    apart = {"J1": {"hubs": marked(3)}, "J2": {"yoke": marked(3)}}
    assert agreement(ROWS, apart) is None
    assert agreement([], {}) is None


def test_a_judge_alone_on_every_row_has_no_severity():
    marks = {"J1": {"hubs": marked(3)}, "J2": {"yoke": marked(3)}}
    assert severities(ROWS, marks) == (Severity("J1", None, 0, None), Severity("J2", None, 0, None))


def test_pass_or_fail_rows_tell_nothing_of_severity():
    marks = {"J1": {"tank": marked(0)}, "J2": {"tank": marked(1)}}
    assert [one.n_rows for one in severities([row("tank", 1)], marks)] == [0, 0]


def test_a_difference_is_clear_only_on_enough_rows_and_beyond_its_error():
    assert not Severity("J1", Fraction(3, 10), 4, 0.01).clear
    assert Severity("J1", Fraction(3, 10), 5, 0.01).clear
    assert Severity("J1", Fraction(-3, 10), 5, 0.01).clear
    assert not Severity("J1", Fraction(3, 10), 5, 0.15).clear
    assert not Severity("J1", Fraction(0), 5, 0.0).clear
    assert not Severity("J1", Fraction(3, 10), 1, None).clear


# --- What holds whatever is marked ------------------------------------------------------------

JUDGES = ["J1", "J2", "J3", "J4"]
SCALES = st.lists(st.sampled_from([2, 5, 10, 20]), min_size=1, max_size=6)


@st.composite
def panels(draw: st.DrawFn, *, whole: bool) -> tuple[list[Criterion], dict[str, dict[str, Mark]]]:
    """Rows with marks of some judges; with `whole` every judge marks every row."""
    rows = [row(f"r{n}", most) for n, most in enumerate(draw(SCALES))]
    judges = JUDGES[: draw(st.integers(2, 4))]
    other = [] if whole else [st.just(UNSEEN), st.just(ABSENT), st.none()]

    def one(most: Decimal) -> Mark | None:
        found: Mark | None = draw(st.one_of(st.integers(0, int(most)).map(marked), *other))
        return found

    said = {judge: {r.code: one(r.max_mark) for r in rows} for judge in judges}
    return rows, {
        judge: {code: mark for code, mark in some.items() if mark} for judge, some in said.items()
    }


@given(panels(whole=True))
def test_severities_of_a_whole_panel_sum_to_nought(panel):
    rows, marks = panel
    shares = [one.share for one in severities(rows, marks)]
    assert None not in shares
    assert sum(share or 0 for share in shares) == 0


@given(panels(whole=False))
def test_on_each_row_the_differences_sum_to_nought(panel):
    rows, marks = panel
    for one_row in rows:
        alone = [one.share for one in severities([one_row], marks) if one.share is not None]
        assert sum(alone) == 0


@given(panels(whole=False))
def test_a_severity_is_never_more_than_the_scale(panel):
    rows, marks = panel
    for one in severities(rows, marks):
        assert one.share is None or -1 <= one.share <= 1
        assert one.standard_error is None or one.standard_error >= 0


@given(panels(whole=False), st.randoms())
def test_the_order_of_judges_and_rows_changes_no_figure(panel, random):
    rows, marks = panel
    mixed_rows = random.sample(rows, len(rows))
    mixed: Marks = {judge: marks[judge] for judge in random.sample(list(marks), len(marks))}
    assert set(severities(mixed_rows, mixed)) == set(severities(rows, marks))
    assert _figures(mixed_rows, mixed) == _figures(rows, marks)
    assert agreement(mixed_rows, mixed) == agreement(rows, marks)


@given(panels(whole=False))
def test_rows_not_inspected_or_not_applicable_count_as_if_nobody_had_said_so(panel):
    rows, marks = panel
    numbers = {
        judge: {code: mark for code, mark in some.items() if mark.state is MarkState.MARKED}
        for judge, some in marks.items()
    }
    assert severities(rows, marks) == severities(rows, numbers)
    assert _figures(rows, numbers).items() <= _figures(rows, marks).items()
    assert agreement(rows, marks) == agreement(rows, numbers)


@given(panels(whole=True), st.sampled_from(JUDGES[:2]))
def test_a_judge_who_gives_more_on_a_row_is_not_called_stricter_for_it(panel, judge):
    rows, marks = panel
    top = {**marks, judge: {r.code: marked(str(r.max_mark)) for r in rows}}
    before = {one.judge: one.share for one in severities(rows, marks)}[judge]
    after = {one.judge: one.share for one in severities(rows, top)}[judge]
    assert before is not None
    assert after is not None
    assert after >= before


def _figures(rows, marks) -> dict[str, tuple[object, ...]]:
    """Return the numbers of each row that has some."""
    return {
        spread.row.code: (spread.given, spread.middle, spread.steps, spread.share)
        for spread in row_spreads(rows, marks)
        if spread.n
    }
