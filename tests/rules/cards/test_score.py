"""From marks to a section's points."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.cards.score import points_of_place, score_section, to_hundredths
from judging.rules.cards.scorecard import Criterion, Form, Mark, MarkState, NotInspected, Section

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


# -- the three states, in each form ----------------------------------------------------------

ZERO, ABSENT, UNSEEN = marked(0), Mark(MarkState.NOT_APPLICABLE), Mark(MarkState.NOT_INSPECTED)
RESCALE, COUNTED = NotInspected.RESCALE, NotInspected.ZERO


@pytest.mark.parametrize(
    ("second", "third", "policy", "points"),
    [
        # hubs has 6 of 10 everywhere; the section is worth 25
        (ZERO, ZERO, RESCALE, "3.75"),  # 6 of 40
        (ZERO, ABSENT, RESCALE, "5.00"),  # 6 of 30
        (ABSENT, ZERO, RESCALE, "7.50"),  # 6 of 20
        (ABSENT, ABSENT, RESCALE, "15.00"),  # 6 of 10
        (ABSENT, ABSENT, COUNTED, "15.00"),  # the policy is not about rows that do not apply
        (UNSEEN, UNSEEN, RESCALE, "15.00"),
        (UNSEEN, UNSEEN, COUNTED, "3.75"),
        (UNSEEN, ABSENT, COUNTED, "5.00"),
        (UNSEEN, ABSENT, RESCALE, "15.00"),
        (ABSENT, UNSEEN, COUNTED, "7.50"),
        (ZERO, UNSEEN, RESCALE, "5.00"),
        (ZERO, UNSEEN, COUNTED, "3.75"),
    ],
)
def test_states_against_each_other(second, third, policy, points):
    marks = {"hubs": marked(6), "tires": second, "bolt": third}
    score = score_section(SECTION, DROP, marks, policy)
    assert score.points == Decimal(points)
    given = {"tires": second, "bolt": third}
    assert score.not_applicable == tuple(code for code, mark in given.items() if mark is ABSENT)
    assert score.not_inspected == tuple(code for code, mark in given.items() if mark is UNSEEN)


@pytest.mark.parametrize("policy", [RESCALE, COUNTED])
def test_a_section_where_nothing_applies_has_no_points(policy):
    marks = dict.fromkeys(("hubs", "tires", "bolt"), ABSENT)
    assert score_section(SECTION, DROP, marks, policy).points is None


def passing(code: str, **more) -> Criterion:
    return Criterion(code, code.title(), Decimal(1), Decimal(1), **more)


def gate(*, all_or_nothing: bool, points: int = 12) -> Section:
    rows = (passing("pins"), passing("brake", weight=Decimal(2)), passing("fire"))
    return Section(
        *("gate", "Gate", Decimal(points), 3, rows),
        form=Form.PASS_FAIL,
        all_or_nothing=all_or_nothing,
    )


PASSED = marked(1)


@pytest.mark.parametrize(
    ("pins", "brake", "fire", "policy", "shared", "all_of_it"),
    [
        (PASSED, PASSED, PASSED, RESCALE, "12.00", "12.00"),
        (PASSED, PASSED, ZERO, RESCALE, "9.00", "0.00"),
        (PASSED, ZERO, PASSED, RESCALE, "6.00", "0.00"),
        (ZERO, ZERO, ZERO, RESCALE, "0.00", "0.00"),
        (PASSED, PASSED, ABSENT, RESCALE, "12.00", "12.00"),
        (PASSED, ABSENT, ZERO, RESCALE, "6.00", "0.00"),
        (PASSED, PASSED, UNSEEN, RESCALE, "12.00", "12.00"),
        (PASSED, PASSED, UNSEEN, COUNTED, "9.00", "0.00"),
        (PASSED, PASSED, ABSENT, COUNTED, "12.00", "12.00"),
        (UNSEEN, UNSEEN, UNSEEN, COUNTED, "0.00", "0.00"),
    ],
)
def test_pass_or_fail_shares_the_points_or_gives_all_or_nothing(
    pins, brake, fire, policy, shared, all_of_it
):
    marks = {"pins": pins, "brake": brake, "fire": fire}
    for section, points in (
        (gate(all_or_nothing=False), shared),
        (gate(all_or_nothing=True), all_of_it),
    ):
        assert score_section(section, DROP, marks, policy).points == Decimal(points)


@pytest.mark.parametrize("all_or_nothing", [False, True])
def test_pass_or_fail_that_nobody_could_look_at_has_no_points(all_or_nothing):
    marks = dict.fromkeys(("pins", "brake", "fire"), UNSEEN)
    assert score_section(gate(all_or_nothing=all_or_nothing), DROP, marks).points is None
    missing = {"pins": PASSED, "brake": PASSED}
    assert score_section(gate(all_or_nothing=all_or_nothing), DROP, missing).points is None


def test_a_gate_may_be_worth_nothing():
    marks = dict.fromkeys(("pins", "brake", "fire"), PASSED)
    section = gate(all_or_nothing=True, points=0)
    assert score_section(section, DROP, marks).points == Decimal("0.00")


def test_all_or_nothing_is_for_pass_or_fail_alone():
    rows = (row("hubs"), row("tires"))
    section = Section("gear", "Gear", Decimal(20), 5, rows, all_or_nothing=True)
    assert score_section(section, DROP, {"hubs": ZERO, "tires": marked(10)}).points == 10


# -- places ----------------------------------------------------------------------------------

BEST = Section(
    *("best", "Best camp", Decimal(10), 2),
    (Criterion("place", "Place", Decimal(99), Decimal(1)),),
    form=Form.PLACINGS,
)


def decimals(*values: int) -> list[Decimal]:
    return [Decimal(value) for value in values]


@pytest.mark.parametrize(
    ("place", "places", "points"),
    [
        (1, (1, 2, 3, 4), "10.00"),
        (2, (1, 2, 3, 4), "6.67"),
        (3, (4, 3, 2, 1), "3.33"),
        (4, (1, 2, 3, 4), "0.00"),
        (5, (1, 5, 2), "0.00"),  # only the order counts, a gap does not
        (1, (1,), "10.00"),
        (7, (7,), "10.00"),
    ],
)
def test_points_of_a_place(place, places, points):
    given = decimals(*places)
    assert points_of_place(Decimal(10), Decimal(place), given) == Decimal(points)
    score = score_section(BEST, DROP, {"place": marked(place)}, places=given)
    assert score.points == Decimal(points)


@given(st.lists(st.integers(1, 99), min_size=1, max_size=30, unique=True))
def test_places_share_out_half_the_worth_of_all_and_keep_the_order(places):
    given = decimals(*places)
    points = {place: points_of_place(Decimal(10), place, given) for place in given}
    assert [points[place] for place in sorted(given)] == sorted(points.values(), reverse=True)
    assert max(points.values()) == 10
    if len(given) > 1:
        assert min(points.values()) == 0
        # n wagons share n/2 x worth, but for the rounding of each
        off = sum(points.values(), Decimal(0)) - 5 * len(given)
        assert abs(off) <= Decimal("0.005") * len(given)


@pytest.mark.parametrize(
    ("place", "places", "words"),
    [(1, (1, 1, 2), "same place"), (3, (1, 2), "Place 3 is not among"), (1, (), "not among")],
)
def test_places_that_give_no_order_are_refused(place, places, words):
    with pytest.raises(ValueError, match=words):
        points_of_place(Decimal(10), Decimal(place), decimals(*places))


@pytest.mark.parametrize(
    ("mark", "places"),
    [
        (marked(2), None),  # the rest of the class is not known
        (marked(2), decimals(1, 2, 2)),  # two wagons share a place
        (marked(2), decimals(1, 3)),  # this wagon is not among them
        (UNSEEN, decimals(1, 2)),  # no place was given
    ],
)
@pytest.mark.parametrize("policy", [RESCALE, COUNTED])
def test_a_place_that_cannot_be_ranked_gives_no_points_and_never_zero(mark, places, policy):
    score = score_section(BEST, DROP, {"place": mark}, policy, places=places)
    assert score.points is None
    assert score.missing == ()


def test_a_place_not_given_is_missing():
    score = score_section(BEST, DROP, {}, places=decimals(1, 2))
    assert (score.points, score.missing) == (None, ("place",))
