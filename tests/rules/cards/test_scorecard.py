"""Which marks a criterion takes."""

from __future__ import annotations

from decimal import Decimal

import pytest

from judging.rules.cards.scorecard import (
    Criterion,
    Form,
    Mark,
    MarkRefused,
    MarkState,
    check_mark,
)

ROW = Criterion("hubs", "Hubs", Decimal(10), Decimal("0.5"), applies={"tongue": ["drop"]})
PASS = Criterion("pin", "Pins keyed", Decimal(1), Decimal(1))
PLACE = Criterion("place", "Best camp", Decimal(12), Decimal(1))
DROP, STIFF = {"tongue": "drop"}, {"tongue": "stiff"}


def marked(value: str) -> Mark:
    return Mark(MarkState.MARKED, Decimal(value))


@pytest.mark.parametrize("value", ["0", "0.5", "7", "10"])
def test_a_mark_on_the_scale_is_taken(value):
    check_mark(ROW, DROP, marked(value))


@pytest.mark.parametrize("state", [MarkState.NOT_APPLICABLE, MarkState.NOT_INSPECTED])
def test_the_other_two_states_take_no_number(state):
    check_mark(ROW, DROP, Mark(state))
    with pytest.raises(MarkRefused, match="no number"):
        check_mark(ROW, DROP, Mark(state, Decimal(0)))


@pytest.mark.parametrize(
    ("facts", "mark", "code"),
    [
        (DROP, marked("10.5"), "mark-over-maximum"),
        (DROP, marked("-1"), "mark-below-zero"),
        (DROP, marked("7.25"), "mark-off-step"),
        (DROP, Mark(MarkState.MARKED), "mark-missing"),
        (STIFF, marked("7"), "criterion-not-on-rig"),
        (STIFF, Mark(MarkState.NOT_INSPECTED), "criterion-not-on-rig"),
    ],
)
def test_what_the_card_cannot_take_is_refused_by_name(facts, mark, code):
    with pytest.raises(MarkRefused, match="Hubs") as refused:
        check_mark(ROW, facts, mark)
    assert refused.value.code == code


@pytest.mark.parametrize("value", ["0", "1"])
def test_pass_and_fail_are_taken(value):
    check_mark(PASS, DROP, marked(value), Form.PASS_FAIL)


@pytest.mark.parametrize("state", [MarkState.NOT_APPLICABLE, MarkState.NOT_INSPECTED])
def test_pass_or_fail_knows_the_other_two_states(state):
    check_mark(PASS, DROP, Mark(state), Form.PASS_FAIL)


@pytest.mark.parametrize("value", ["1", "7", "12"])
def test_a_place_is_taken(value):
    check_mark(PLACE, DROP, marked(value), Form.PLACINGS)


def test_a_wagon_may_stay_without_a_place_when_it_could_not_be_inspected():
    check_mark(PLACE, DROP, Mark(MarkState.NOT_INSPECTED), Form.PLACINGS)


@pytest.mark.parametrize(
    ("row", "form", "mark", "code", "words"),
    [
        (PASS, Form.PASS_FAIL, marked("2"), "mark-over-maximum", "1 for pass or 0 for fail; 2 was"),
        (PASS, Form.PASS_FAIL, marked("-1"), "mark-below-zero", "1 for pass or 0 for fail"),
        (PASS, Form.PASS_FAIL, marked("0.5"), "mark-off-step", "1 for pass or 0 for fail; 0.5 was"),
        (PASS, Form.PASS_FAIL, Mark(MarkState.MARKED), "mark-missing", "pass or fail is missing"),
        (PLACE, Form.PLACINGS, marked("13"), "mark-over-maximum", "places up to 12; 13 was"),
        (PLACE, Form.PLACINGS, marked("-1"), "mark-below-zero", "below the first"),
        (PLACE, Form.PLACINGS, marked("0"), "place-below-first", "there is no place 0"),
        (PLACE, Form.PLACINGS, marked("1.5"), "mark-off-step", "a whole number; 1.5 was"),
        (PLACE, Form.PLACINGS, Mark(MarkState.MARKED), "mark-missing", "the place is missing"),
        (
            *(PLACE, Form.PLACINGS, Mark(MarkState.NOT_APPLICABLE)),
            *("place-not-applicable", "every wagon gets a place"),
        ),
    ],
)
def test_a_refusal_speaks_of_the_form(row, form, mark, code, words):
    with pytest.raises(MarkRefused, match=words) as refused:
        check_mark(row, DROP, mark, form)
    assert refused.value.code == code
    assert str(refused.value).startswith(row.name)


def test_a_name_with_braces_is_only_a_name():
    row = Criterion("odd", "{value} {0}", Decimal(1), Decimal(1))
    with pytest.raises(MarkRefused, match=r"^\{value\} \{0\} takes at most 1"):
        check_mark(row, DROP, marked("3"))
