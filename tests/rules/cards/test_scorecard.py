"""Which marks a criterion takes."""

from __future__ import annotations

from decimal import Decimal

import pytest

from judging.rules.cards.scorecard import Criterion, Mark, MarkRefused, MarkState, check_mark

ROW = Criterion("hubs", "Hubs", Decimal(10), Decimal("0.5"), applies={"tongue": ["drop"]})
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
