"""Which part of the scale a judge used."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from judging.rules.cards.scale_use import ScaleUse, scale_uses
from judging.rules.cards.scorecard import Criterion, Mark, MarkState


def uses(*marks: tuple[int, int]) -> ScaleUse:
    """Return one judge's use of rows given as (mark, maximum)."""
    rows = [Criterion(f"r{n}", "Row", Decimal(m), Decimal(1)) for n, (_, m) in enumerate(marks)]
    given = {f"r{n}": Mark(MarkState.MARKED, Decimal(v)) for n, (v, _) in enumerate(marks)}
    return scale_uses(rows, {"J1": given})[0]


def test_marks_are_compared_as_shares_of_their_rows():
    use = uses((4, 5), (8, 10), (3, 10))
    assert (use.lowest, use.highest) == (Fraction(3, 10), Fraction(4, 5))
    assert (use.commonest, use.n_commonest, use.n_rows) == (Fraction(4, 5), 2, 3)


@pytest.mark.parametrize(
    ("same", "others", "said"),
    [(5, 0, True), (4, 0, False), (6, 2, True), (5, 2, False), (3, 1, False)],
)
def test_one_mark_is_said_from_three_quarters_of_five_rows_on(same: int, others: int, said: bool):
    marks = [(8, 10)] * same + [(n, 10) for n in range(others)]
    assert uses(*marks).one_mark is said


def test_of_marks_given_equally_often_the_higher_one_is_named():
    assert uses((3, 10), (7, 10), (3, 10), (7, 10)).commonest == Fraction(7, 10)


def test_pass_or_fail_and_rows_without_a_number_are_left_out():
    rows = [Criterion(code, code, Decimal(m), Decimal(1)) for code, m in (("tank", 1), ("hub", 10))]
    marks = {
        "J1": {"tank": Mark(MarkState.MARKED, Decimal(1)), "hub": Mark(MarkState.NOT_INSPECTED)},
        "J2": {},
    }
    assert scale_uses(rows, marks) == (ScaleUse("J1", 0), ScaleUse("J2", 0))
    assert not ScaleUse("J1", 0).one_mark
