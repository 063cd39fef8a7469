"""What comes too late to change a card by itself."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from judging.rules.round.events import EventRefused, Kind
from judging.rules.round.lateness import CHANGES_A_CARD, Limits, demand_in_time

NOON = datetime(2027, 5, 15, 12, 0)
MINUTE = timedelta(minutes=1)


def code_of(limits: Limits, *, made: datetime, came: datetime, kind: Kind = Kind.MARK) -> str:
    try:
        demand_in_time(kind, limits, happened_at=made, received_at=came)
    except EventRefused as refused:
        return refused.code
    return ""


@pytest.mark.parametrize(
    ("grace", "made", "code"),
    [
        (0, NOON, ""),
        (0, NOON + MINUTE, "after-window"),
        (60, NOON + 60 * MINUTE, ""),
        (60, NOON + 61 * MINUTE, "after-window"),
    ],
)
def test_the_window_is_about_when_a_touch_was_made(grace: int, made: datetime, code: str):
    limits = Limits(window_ends_at=NOON, grace_minutes=grace)
    for came in (made, made + timedelta(days=2)):
        assert code_of(limits, made=made, came=came) == code


@pytest.mark.parametrize(
    ("came", "code"),
    [(NOON - MINUTE, ""), (NOON, "after-signature"), (NOON + MINUTE, "after-signature")],
)
def test_a_signature_is_about_when_a_touch_arrived(came: datetime, code: str):
    assert code_of(Limits(signed_at=NOON), made=NOON - timedelta(days=1), came=came) == code


def test_what_is_late_for_both_is_held_for_the_signature():
    limits = Limits(signed_at=NOON, window_ends_at=NOON, grace_minutes=0)
    assert code_of(limits, made=NOON + MINUTE, came=NOON + MINUTE) == "after-signature"


@pytest.mark.parametrize("kind", list(Kind))
def test_only_what_changes_a_card_can_be_late(kind: Kind):
    limits = Limits(signed_at=NOON, window_ends_at=NOON)
    late = NOON + timedelta(days=1)
    assert bool(code_of(limits, made=late, came=late, kind=kind)) == (kind in CHANGES_A_CARD)
    assert code_of(Limits(), made=late, came=late, kind=kind) == ""


def test_concerns_answers_and_opened_cards_are_never_late():
    never = {Kind.CONCERN, Kind.OPEN, Kind.ANSWER, Kind.UNREADABLE}
    assert set(Kind) - CHANGES_A_CARD == never
