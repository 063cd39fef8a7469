"""A round told again: in whatever order and however often its touches are told."""

from __future__ import annotations

from decimal import Decimal
from random import Random

from hypothesis import given
from hypothesis import strategies as st

from judging.rules.cards.scorecard import Mark, MarkState
from judging.rules.round.replay import Row, Touch, replayed

HUB = Row(1, 3, "hub")
ROWS = [Row(1, 3, code) for code in ("hub", "spoke", "reach")]


def marked(value: int) -> Mark:
    return Mark(MarkState.MARKED, Decimal(value))


@given(
    st.lists(
        st.tuples(st.sampled_from(ROWS), st.one_of(st.none(), st.integers(0, 10).map(marked))),
        max_size=12,
    ),
    st.randoms(use_true_random=False),
    st.integers(0, 50),
)
def test_of_one_phone_the_later_counts_in_any_order_and_however_often(
    given_marks: list[tuple[Row, Mark | None]], order: Random, again: int
) -> None:
    touches = [Touch(row, 7, seq, mark) for seq, (row, mark) in enumerate(given_marks)]
    told = dict(given_marks)
    repeated = touches + [order.choice(touches) for _ in range(again) if touches]
    order.shuffle(repeated)
    assert replayed(repeated) == told


def test_ten_thousand_of_the_same_change_nothing() -> None:
    touches = [Touch(HUB, 7, 1, marked(4)), Touch(HUB, 7, 2, marked(6))]
    assert replayed(touches * 5_000) == {HUB: marked(6)}


def test_another_phone_that_says_the_same_leaves_the_row_to_the_first() -> None:
    first, same = Touch(HUB, 7, 5, marked(4)), Touch(HUB, 8, 1, marked(4))
    assert replayed([first, same, Touch(HUB, 7, 6, marked(9))]) == {HUB: marked(9)}
    assert replayed([first, same, Touch(HUB, 7, 4, marked(9))]) == {HUB: marked(4)}


def test_another_phone_that_was_let_in_replaces() -> None:
    first, other = Touch(HUB, 7, 5, marked(4)), Touch(HUB, 8, 1, marked(6))
    assert replayed([first, other]) == {HUB: marked(6)}


def test_an_answer_and_the_office_replace_whatever_stands() -> None:
    first = Touch(HUB, 7, 5, marked(4))
    answer = Touch(HUB, 7, 3, marked(6), settles=True)
    office = Touch(HUB, None, 0, marked(8), settles=True)
    assert replayed([first, answer]) == {HUB: marked(6)}
    assert replayed([first, answer, office]) == {HUB: marked(8)}


def test_a_mark_taken_back_is_told_as_none() -> None:
    assert replayed([Touch(HUB, 7, 1, marked(4)), Touch(HUB, 7, 2, None)]) == {HUB: None}
