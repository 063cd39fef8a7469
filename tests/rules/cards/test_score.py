"""From marks to a section's points."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from judging.rules.cards.score import score_section, to_hundredths
from judging.rules.cards.scorecard import Criterion, Mark, MarkState, NotInspected, Section

DROP, STIFF = {"tongue": "drop"}, {"tongue": "stiff"}


def row(code: str, **more) -> Criterion:
    return Criterion(code, code.title(), Decimal(10), Decimal(1), **more)


def marked(value: int) -> Mark:
    return Mark(MarkState.MARKED, Decimal(value))


SECTION = Section(
    "gear",
    "Gear",
    Decimal(25),
    5,
    (row("hubs"), row("tires", weight=Decimal(2)), row("bolt", applies={"tongue": ["drop"]})),
)


def test_points_are_the_weighted_share_of_the_sections_worth():
    marks = {"hubs": marked(6), "tires": marked(9), "bolt": marked(3)}
    # (6 + 2x9 + 3) of 40 possible, of 25 points: 16.875, half up
    assert score_section(SECTION, DROP, marks).points == Decimal("16.88")


def test_a_row_that_is_not_on_the_rig_counts_on_neither_side():
    marks = {"hubs": marked(6), "tires": marked(9)}
    assert score_section(SECTION, STIFF, marks).points == Decimal("20.00")


def test_zero_not_applicable_and_not_inspected_are_three_things():
    base = {"hubs": marked(6), "tires": marked(9)}
    zero = score_section(SECTION, DROP, {**base, "bolt": marked(0)})
    absent = score_section(SECTION, DROP, {**base, "bolt": Mark(MarkState.NOT_APPLICABLE)})
    unseen = {**base, "bolt": Mark(MarkState.NOT_INSPECTED)}
    rescaled = score_section(SECTION, DROP, unseen, NotInspected.RESCALE)
    counted = score_section(SECTION, DROP, unseen, NotInspected.ZERO)
    assert zero.points == counted.points == Decimal("15.00")
    assert absent.points == rescaled.points == Decimal("20.00")
    assert (absent.not_applicable, absent.not_inspected) == (("bolt",), ())
    assert (rescaled.not_applicable, rescaled.not_inspected) == ((), ("bolt",))
    assert (zero.not_applicable, zero.not_inspected) == ((), ())


def test_a_missing_mark_gives_no_points_and_is_named():
    score = score_section(SECTION, DROP, {"hubs": marked(10)})
    assert score.points is None
    assert score.missing == ("tires", "bolt")


def test_nothing_inspected_gives_no_points_instead_of_zero():
    unseen = dict.fromkeys(("hubs", "tires", "bolt"), Mark(MarkState.NOT_INSPECTED))
    assert score_section(SECTION, DROP, unseen).points is None
    assert score_section(SECTION, DROP, unseen, NotInspected.ZERO).points == Decimal("0.00")


@given(st.lists(st.integers(0, 10), min_size=3, max_size=3))
def test_points_stay_within_the_sections_worth_and_grow_with_marks(values):
    marks = dict(zip(("hubs", "tires", "bolt"), map(marked, values), strict=True))
    points = score_section(SECTION, DROP, marks).points
    assert points is not None
    assert 0 <= points <= 25
    better = score_section(SECTION, DROP, {**marks, "hubs": marked(10)}).points
    assert better is not None
    assert better >= points


@given(st.fractions(min_value=0, max_value=1000, max_denominator=997))
def test_rounding_is_half_up_and_off_by_half_a_hundredth_at_most(value):
    rounded = to_hundredths(value)
    off = Fraction(rounded) - value
    assert Fraction(-1, 200) < off <= Fraction(1, 200)
