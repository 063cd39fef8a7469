"""Which of two touches stands, whatever order they arrive in."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.cards.scorecard import Mark, MarkState
from judging.rules.round.events import EventRefused
from judging.rules.round.merge import RigTouch, Standing, rigs_had, takes_effect


def mark(value: int) -> Mark:
    return Mark(MarkState.MARKED, Decimal(value))


@given(st.permutations(list(range(1, 8))))
def test_the_latest_touch_of_a_phone_stands_in_any_order_of_arrival(order):
    standing = None
    for seq in order:
        if takes_effect(standing, device=1, seq=seq, given=mark(seq)):
            standing = Standing(1, seq, mark(seq))
    assert standing == Standing(1, 7, mark(7))


def test_another_phone_with_something_else_is_put_to_a_person():
    with pytest.raises(EventRefused) as refused:
        takes_effect(Standing(1, 3, mark(7)), device=2, seq=9, given=mark(8))
    assert refused.value.code == "other-device"


def test_another_phone_with_the_same_mark_changes_nothing():
    assert not takes_effect(Standing(1, 3, mark(7)), device=2, seq=9, given=mark(7))


def test_a_phone_that_was_shut_out_yields_to_its_successor():
    lost = Standing(1, 3, mark(7), shut_out=True)
    assert takes_effect(lost, device=2, seq=1, given=mark(8))


def test_what_the_office_wrote_is_not_overwritten_by_a_late_phone():
    with pytest.raises(EventRefused):
        takes_effect(Standing(None, 0, mark(8)), device=1, seq=9, given=mark(1))


DROP, STIFF, FOUR = {"tongue": "drop"}, {"tongue": "stiff"}, {"hitch": "four_up"}


def test_a_touch_goes_by_what_was_entered_and_what_its_phone_reported_before_it():
    told = [RigTouch(1, 4, STIFF), RigTouch(1, 8, FOUR)]
    assert rigs_had([DROP], told, device=1, seq=3) == [DROP]
    assert rigs_had([DROP], told, device=1, seq=5) == [DROP, STIFF]
    assert rigs_had([DROP], told, device=1, seq=9) == [DROP, STIFF, FOUR]
    # The report's own count: nothing was marked by it yet.
    assert rigs_had([DROP], told, device=1, seq=4) == [DROP]


def test_a_touch_goes_by_what_the_judges_other_phones_reported_whatever_their_count():
    assert rigs_had([DROP], [RigTouch(2, 90, STIFF)], device=1, seq=1) == [DROP, STIFF]


@given(st.permutations(range(1, 7)), st.integers(1, 8))
def test_a_report_more_never_takes_a_rig_away(order, seq):
    """So a mark that was taken stays taken, whatever arrives later."""
    known: list[RigTouch] = []
    before = rigs_had([DROP], known, device=1, seq=seq)
    for arriving in order:
        known.append(RigTouch(1, arriving, {"tongue": str(arriving)}))
        after = rigs_had([DROP], known, device=1, seq=seq)
        assert [rig for rig in after if rig in before] == before
        before = after
    assert len(before) == min(seq, 7)
